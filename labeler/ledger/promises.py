"""What open orders are promised: who came first is served first from what lies here."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection
from copy import deepcopy
from dataclasses import dataclass

from sqlalchemy import Connection

from labeler.findings import Finding, Place, listed, stop
from labeler.ledger.orders import OrderedLine, load
from labeler.ledger.ship import stock
from labeler.ledger.store import Ledger


def promised(connection: Connection) -> Counter[str]:
    """Return how many pieces of each SKU are still to go out for orders."""
    pieces: Counter[str] = Counter()
    for order in load(connection):
        for line in order.reading.lines:
            pieces[line.sku] += order.left(line) * line.pack
    return +pieces


class ReadyStock:
    """What lies here, lot by lot, while orders take their packs of it one after the other.

    A bag holds pieces of one lot, so only whole packs of a lot count.
    """

    def __init__(self, connection: Connection) -> None:
        self.held: Counter[str] = Counter()
        """Pieces of held lots, by SKU."""
        self._ready: dict[str, dict[str, int]] = {}
        for sku, of_sku in stock(connection).items():
            self._ready[sku] = {code: here for code, here, why in of_sku if not why}
            self.held[sku] = sum(here for _, here, why in of_sku if why)

    def packs(self, sku: str, pack: int) -> int:
        """Return how many packs of so many pieces are left."""
        return sum(here // pack for here in self._ready.get(sku, {}).values())

    def take(self, sku: str, packs: int, pack: int) -> list[tuple[str, int]]:
        """Take up to so many packs, from the oldest lot first; return lots and packs."""
        taken = []
        for code, here in self._ready.get(sku, {}).items():
            if (most := min(packs, here // pack)) > 0:
                self._ready[sku][code] -= most * pack
                taken.append((code, most))
                packs -= most
        return taken


@dataclass(frozen=True, slots=True)
class Portion:
    """What there is for one line of an order today, where those that came first are served first.

    Attributes:
        line: as it was ordered.
        left: packs that are still to go out.
        lots: packs that can go, by lot, the oldest first.
        promised: packs that lie here for orders that came first.
        held: packs of held lots.
    """

    line: OrderedLine
    left: int
    lots: tuple[tuple[str, int], ...]
    promised: int
    held: int

    @property
    def ready(self) -> int:
        """Packs that can go today."""
        return sum(packs for _, packs in self.lots)

    @property
    def short(self) -> int:
        """Packs that are still to be tied, or to be waited for."""
        return self.left - self.ready


@dataclass(frozen=True, slots=True)
class Served:
    """Open orders served one after the other, who came first first.

    Attributes:
        here: what lies here, before any was served.
        left: what is left of it once all were.
        portions: what there is for every line of the orders that were asked about, by their row.
    """

    here: ReadyStock
    left: ReadyStock
    portions: dict[int, list[Portion]]


def serve(
    connection: Connection, wanted: Collection[int] = (), *, first: bool = False,
    before: int | None = None,
) -> Served:  # fmt: skip
    """Return what there is for open orders today.

    How much an order gets follows from all that are open: who came first is served first. Which
    lots it comes from does not: whoever goes to the shelf first takes the oldest.

    Args:
        connection: in a transaction.
        wanted: rows of the orders whose lines are asked about.
        first: serve these before all others.
        before: serve only orders that came in before the one of this row.
    """
    here = ReadyStock(connection)
    left, by_hand = deepcopy(here), deepcopy(here)
    known = [order for order in load(connection) if before is None or order.id < before]
    if first:
        known.sort(key=lambda order: order.id not in wanted)
    found: dict[int, list[Portion]] = {}
    for order in known:
        shares = []
        for line in order.reading.lines:
            due = order.left(line)
            ready = left.packs(line.sku, line.pack)
            gets = sum(packs for _, packs in left.take(line.sku, due, line.pack))
            if order.id in wanted:
                shares.append(
                    Portion(
                        line, due, tuple(by_hand.take(line.sku, gets, line.pack)),
                        here.packs(line.sku, line.pack) - ready, here.held[line.sku] // line.pack,
                    )
                )  # fmt: skip
        if order.id in wanted:
            found[order.id] = shares
    return Served(here, left, found)


class Promises:
    """What is promised to open orders, held against what is taken of the stock."""

    def __init__(self, ledger: Ledger, what: str) -> None:
        """Look at what is lacking now.

        Args:
            ledger: an open ledger.
            what: what will take of the stock, as the beginning of a sentence.
        """
        self.what, self.before = what, ledger.read(_lacking)

    def broken(self, connection: Connection) -> list[Finding]:
        """Return, as what stops, each order that lacks more than it did before."""
        worse: defaultdict[str, list[str]] = defaultdict(list)
        for (number, sku), packs in sorted(_lacking(connection).items()):
            if packs > self.before[number, sku]:
                worse[number].append(f"{packs:,} of {sku}")
        return [
            stop(
                "order-left-short", Place(key=f"order {number}"),
                f"{self.what} what is promised to this order",
                found=f"short afterwards: {listed(lacking)}",
            )
            for number, lacking in worse.items()
        ]  # fmt: skip


def _lacking(connection: Connection) -> Counter[tuple[str, str]]:
    """Return how many packs are lacking for each order that is open, by its number and the SKU."""
    known = {order.id: order.number for order in load(connection) if order.open}
    lacking: Counter[tuple[str, str]] = Counter()
    for of, shares in serve(connection, known).portions.items() if known else ():
        for each in shares:
            lacking[known[of], each.line.sku] += each.short
    return lacking
