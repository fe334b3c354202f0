"""From anything a maker may have in hand to the lots it touches, and to whom they went."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, Select, case, func, select, union

from labeler.findings import Finding, LabelerError, Place, stop
from labeler.ledger.clues import Clue, clues
from labeler.ledger.lots import SupplierLot, materials_of, near
from labeler.ledger.names import nearest
from labeler.ledger.safe_csv import write_csv
from labeler.ledger.schema import lots, moves, printed, snapshots, voids
from labeler.ledger.store import Ledger

_HEADS = (
    "lot", "sku", "name", "made", "count", "labels", "cards", "on hand", "void", "materials",
    "dealer", "with dealer",
)  # fmt: skip

_NEAR_SHOWN = 5


@dataclass(frozen=True, slots=True)
class WithDealer:
    """Pieces of a lot that a dealer got and did not return."""

    dealer: str
    count: int


@dataclass(frozen=True, slots=True)
class Story:
    """What the ledger knows of one lot.

    Attributes:
        lot: the lot's code.
        sku: the product.
        name: the product's name as it was.
        made: the day it was made.
        count: pieces made.
        labels: bag labels printed.
        cards: card-backs printed.
        dealers: who has how many; nobody who has none any more.
        on_hand: pieces here.
        void: whether the code was withdrawn.
        materials: the suppliers' lots that went in.
    """

    lot: str
    sku: str
    name: str
    made: date
    count: int
    labels: int
    cards: int
    dealers: tuple[WithDealer, ...]
    on_hand: int
    void: bool
    materials: tuple[SupplierLot, ...]

    @property
    def shipped(self) -> int:
        """Pieces that are with dealers."""
        return sum(each.count for each in self.dealers)

    def as_json(self) -> dict[str, Any]:
        """Return plain values."""
        return asdict(self) | {
            "made": self.made.isoformat(),
            "shipped": self.shipped,
            "dealers": [asdict(each) for each in self.dealers],
            "materials": [str(each) for each in self.materials],
        }


@dataclass(frozen=True, slots=True)
class Trace:
    """The answer to one question.

    Attributes:
        asked: what was asked.
        meanings: what it was taken for, such as ``supplier's lot HK-2291``.
        stories: the lots, in the order of their days and numbers.
    """

    asked: str
    meanings: tuple[str, ...]
    stories: tuple[Story, ...]

    @property
    def dealers(self) -> tuple[WithDealer, ...]:
        """Who has how many pieces of these lots in all, by name."""
        totals: defaultdict[str, int] = defaultdict(int)
        for story in self.stories:
            for each in story.dealers:
                totals[each.dealer] += each.count
        return tuple(WithDealer(dealer, totals[dealer]) for dealer in sorted(totals))

    def as_json(self) -> dict[str, Any]:
        """Return plain values."""
        return {
            "asked": self.asked,
            "meanings": list(self.meanings),
            "lots": [story.as_json() for story in self.stories],
            "dealers": [asdict(each) for each in self.dealers],
            "made": sum(story.count for story in self.stories),
            "on_hand": sum(story.on_hand for story in self.stories),
        }

    def as_csv(self) -> str:
        """Return one row for every lot and dealer, safe to open in a spreadsheet."""
        return write_csv(_HEADS, (row for story in self.stories for row in _rows(story)))


def _rows(story: Story) -> Iterator[tuple[object, ...]]:
    head = (
        story.lot, story.sku, story.name, story.made.isoformat(), story.count, story.labels,
        story.cards, story.on_hand, "void" if story.void else "",
        "; ".join(str(each) for each in story.materials),
    )  # fmt: skip
    for each in story.dealers or (None,):
        yield (*head, each.dealer if each else "", each.count if each else 0)


def trace(ledger: Ledger, text: str) -> Trace:
    """Find every lot that ``text`` touches.

    Args:
        ledger: an open ledger.
        text: a supplier's lot (alone or as ``KIND=LOT``), a lot code, a SKU (with ``*`` for any
            letters), a dealer, a scanned address, a day, a month, a year, or days from ``..`` to.

    Raises:
        LabelerError: if nothing in the ledger bears that name, with the nearest that does.
    """

    def look(connection: Connection) -> Trace:
        found = [clue for clue in clues(text) if clue.always or _any(connection, clue)]
        if not found:
            raise LabelerError(_nothing(connection, text))
        wanted = union(*(clue.lots for clue in found)).subquery()
        return Trace(
            text.strip(),
            tuple(clue.meaning for clue in found),
            tuple(_stories(connection, select(wanted.c[0]))),
        )

    return ledger.read(look)


def _any(connection: Connection, clue: Clue) -> bool:
    return connection.execute(clue.lots.limit(1)).first() is not None


def _stories(connection: Connection, wanted: Select[Any]) -> Iterator[Story]:
    went_in = materials_of(connection, wanted)
    pieces = _printed(connection, wanted)
    dealers, changes = _moved(connection, wanted)
    query = (
        select(
            lots.c.id, lots.c.code, lots.c.sku, snapshots.c.name, lots.c.made,
            lots.c.count.label("made_count"), voids.c.lot_id.isnot(None).label("void"),
        )
        .join_from(lots, snapshots)
        .join(voids, isouter=True)
        .where(lots.c.id.in_(wanted))
        .order_by(lots.c.made, lots.c.number)
    )  # fmt: skip
    for number, code, sku, name, made, count, void in connection.execute(query).all():
        yield Story(
            lot=code,
            sku=sku,
            name=name,
            made=made,
            count=count,
            labels=pieces.get((number, "bag"), 0),
            cards=pieces.get((number, "card"), 0),
            dealers=tuple(sorted(dealers.get(number, ()), key=lambda each: each.dealer)),
            on_hand=0 if void else count + changes.get(number, 0),
            void=bool(void),
            materials=went_in.get(number, ()),
        )


def _printed(connection: Connection, wanted: Select[Any]) -> dict[tuple[int, str], int]:
    query = (
        select(printed.c.lot_id, printed.c.kind, func.sum(printed.c.count))
        .where(printed.c.lot_id.in_(wanted))
        .group_by(printed.c.lot_id, printed.c.kind)
    )
    return {(number, kind): int(count) for number, kind, count in connection.execute(query).all()}


def _moved(
    connection: Connection, wanted: Select[Any]
) -> tuple[dict[int, list[WithDealer]], dict[int, int]]:
    """Return who has how many of each lot, and what all moves did to the number on hand."""
    out = case((moves.c.kind.in_(("ship", "return")), -moves.c.change), else_=0)
    query = (
        select(moves.c.lot_id, func.max(moves.c.dealer), func.sum(out), func.sum(moves.c.change))
        .where(moves.c.lot_id.in_(wanted))
        .group_by(moves.c.lot_id, moves.c.dealer_folded)
    )
    dealers: defaultdict[int, list[WithDealer]] = defaultdict(list)
    changes: defaultdict[int, int] = defaultdict(int)
    for number, dealer, count, change in connection.execute(query).all():
        changes[number] += int(change)
        if count:
            dealers[number].append(WithDealer(dealer, int(count)))
    return dealers, changes


def _nothing(connection: Connection, text: str) -> Finding:
    """Return the finding for a name nobody knows, with the nearest one that is known."""
    close = near(connection, text)[:_NEAR_SHOWN] or nearest(connection, text, _NEAR_SHOWN)
    return stop(
        "trace-nothing",
        Place(key="trace"),
        "the ledger has no supplier's lot, lot code, SKU or dealer of this name",
        found=repr(text),
        hint=f"Nearest names in the ledger: {', '.join(close)}" if close else "",
    )
