"""Shipping: what goes to a dealer, what comes back, and the slip that goes with it."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

from labeler.app.papers import SIZES, deliver, on_pages, page_of, paper_for, titled
from labeler.app.workstation import ledger_location
from labeler.book.order import OnHand, Order, judge, read_order
from labeler.catalog.model import Catalog, Dealer
from labeler.catalog.read import examine, readable
from labeler.files import refuse_to_bury
from labeler.findings import Finding, LabelerError, Place, fix, note, stop
from labeler.layout.compose import BenchPaper
from labeler.layout.facts import Parcel, Slip, slip_facts
from labeler.ledger.lots import Lot, find, list_lots, snapshot_of
from labeler.ledger.ship import Move, Moved, MoveKind, move, on_hand, slip
from labeler.ledger.ship import on_hand as pieces_of
from labeler.ledger.store import Ledger
from labeler.ledger.texts import a_line, fold

_ROWS_A_PAGE = 12
_NEAR_DEALER = 0.85
_TITLES: dict[MoveKind, str] = {"ship": "Packing slip", "return": "Returned goods"}


@dataclass(frozen=True, slots=True)
class ShipRequest:
    """What comes or goes: lots with their counts, all together or not at all.

    ``dealer`` is a name or the heading of one in the catalog; ``on`` is today, at the bench, if
    None; ``slip`` the PDF to write; ``paper`` its size, the maker's country's if empty.
    """

    folder: Path
    kind: MoveKind
    parcels: tuple[tuple[str, int], ...]
    dealer: str = ""
    on: dt.date | None = None
    note: str = ""
    key: str | None = None
    slip: Path | None = None
    paper: str = ""


@dataclass(frozen=True, slots=True)
class Shipped:
    """What was recorded, and what is on hand of each lot now."""

    moves: tuple[Moved, ...]
    left: dict[str, int]
    again: bool
    slip: Path | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _To:
    """To or from whom."""

    name: str
    address: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def ship(wish: ShipRequest) -> Shipped:
    """Record what comes or goes, and write its slip.

    The slip is on the disk before the move is recorded and has its name only after: no slip names
    a move that the ledger does not know. Asked again under the same key, nothing moves again and
    the same slip is written.

    Raises:
        LabelerError: with everything that stands in the way: unknown or void lots, more than is
            on hand, a dealer's name with a slip in it.
    """
    if wish.slip is not None:
        refuse_to_bury(wish.slip)
    books = ledger_location(wish.folder)
    key = a_line(wish.key, "key") if wish.key is not None else uuid4().hex
    with books.opened() as ledger:
        to = _dealer(wish, ledger)
        before = slip(ledger, key)
        day = before[0].moved if before else wish.on or books.today()
        lots = _found(ledger, [code for code, _ in wish.parcels])
        asked = [
            Move(wish.kind, lot.code, count, day, to.name, wish.note)
            for lot, (_, count) in zip(lots, wish.parcels, strict=True)
        ]
        done: list[Moved] = []

        def carry_out(_: str = "") -> None:
            done.extend(move(ledger, asked, key=key))

        if wish.slip is None:
            carry_out()
        else:
            _write_slip(wish, ledger, to, asked, key, carry_out)
        left = {each.lot: on_hand(ledger, each.lot) for each in done}
    findings = (*to.findings, *_odd_day(day, lots, books.today()))
    return Shipped(tuple(done), left, bool(before), wish.slip, findings)


def _found(ledger: Ledger, codes: Sequence[str]) -> list[Lot]:
    found: list[Lot] = []
    faults: list[Finding] = []
    for code in codes:
        try:
            found.append(find(ledger, code))
        except LabelerError as error:
            faults += error.findings
    if faults:
        raise LabelerError(faults)
    return found


def _odd_day(day: dt.date, lots: Sequence[Lot], today: dt.date) -> Iterator[Finding]:
    """Question a day on which nothing can have been moved."""
    early = [lot.code for lot in lots if day < lot.made]
    if day <= today and not early:
        return
    yield fix(
        "move-day",
        Place(key="on"),
        f"lot {early[0]} was made after that day" if early else "the day lies in the future",
        found=day.isoformat(),
        expected=f"a day up to {today.isoformat()}",
        hint="If that is a slip, record it as come back and ship it anew.",
    )


def _dealer(wish: ShipRequest, ledger: Ledger) -> _To:
    """Return the dealer that is meant; a name nearly that of a known one is a slip."""
    if not wish.dealer:
        return _To("")
    catalog, _ = examine(wish.folder)
    known = catalog.file.dealers if catalog else {}
    name = a_line(wish.dealer, "dealer")
    for heading, dealer in known.items():
        if fold(name) in (fold(heading), fold(dealer.name)):
            return _To(dealer.name, tuple(_address(dealer)))
    names = [dealer.name for dealer in known.values()] + list(known)
    near = difflib.get_close_matches(
        name.casefold(), [each.casefold() for each in names], n=1, cutoff=_NEAR_DEALER
    )  # fmt: skip
    if near:
        meant = next(each for each in names if each.casefold() == near[0])
        raise LabelerError(
            stop(
                "dealer-slip",
                Place(key="dealer"),
                "this dealer's name looks like a slip",
                found=repr(name),
                hint=f"Did you mean {meant!r}?",
            )
        )
    if not known:
        return _To(name)
    place = Place(key="dealer")
    said = note("dealer-unlisted", place, "this dealer is not in the catalog", found=name)
    return _To(name, (), (said,))


def _address(dealer: Dealer) -> Sequence[str]:
    town = " ".join(part for part in (dealer.state, dealer.postcode) if part)
    lines = (dealer.street, ", ".join(part for part in (dealer.city, town) if part), dealer.country)
    return [line for line in lines if line]


def _write_slip(
    wish: ShipRequest, ledger: Ledger, to: _To, asked: Sequence[Move], key: str, carry_out: object
) -> None:
    assert wish.slip is not None
    assert callable(carry_out)
    parcels = []
    for each in asked:
        lot = find(ledger, each.lot)
        product = snapshot_of(ledger, lot)
        parcels.append(Parcel(lot.code, product, each.count, lot.made.isoformat()))
    maker = parcels[0].product.maker
    told = Slip(
        maker, number_of(key), asked[0].moved.isoformat(), to.name, to.address,
        wish.kind == "return", parcels, wish.note,
    )  # fmt: skip
    paper = paper_for(maker.country, wish.paper)
    pages = [parcels[at : at + _ROWS_A_PAGE] for at in range(0, len(parcels), _ROWS_A_PAGE)]
    papers = [
        BenchPaper(
            "packing-slip", SIZES[paper], slip_facts(told, page, (at, len(pages))),
            others={each.product.sku: each.product for each in page},
        )
        for at, page in enumerate(pages, 1)
    ]  # fmt: skip
    plan = on_pages(wish.folder, papers, page_of(paper))
    title = f"{_TITLES[wish.kind]} {told.number}, {to.name}"
    deliver(wish.slip, plan, titled(title, maker.name, wish.folder), carry_out)


def number_of(key: str) -> str:
    """Return a slip's number as it is printed: the key, or the beginning of one made up."""
    made_up = len(key) == 32 and not key.strip("0123456789abcdef")
    return key[:8].upper() if made_up else key


__all__ = ["ShipRequest", "Shipped", "number_of", "ship"]


# ----------------------------------------------------------------------------
# Taking an order that comes back: what it comes to, and what lies ready for it.


def take_order(
    folder: Path, file: Path, *, tier: str = "", dealer: str = "", on_hand: OnHand | None = None
) -> tuple[Order, str]:
    """Return the order that a filled form comes to, and its currency.

    Args:
        folder: the catalog.
        file: the form, a PDF or an XLSX workbook.
        tier: the tier to reckon at, if not the dealer's.
        dealer: who orders, if not the one on the form.
        on_hand: tells how many packs of a SKU lie ready; None asks the folder's ledger.

    Raises:
        LabelerError: if the catalog or the form is at fault, with everything that is.
    """
    catalog, _ = readable(folder)
    filled = read_order(file)
    stock = on_hand or stock_of(folder, catalog)
    return judge(filled, catalog, stock, tier=tier, dealer=dealer), catalog.file.sale.currency


def stock_of(folder: Path, catalog: Catalog) -> OnHand:
    """Return what tells how many whole packs of a SKU lie ready, by the folder's ledger.

    Where there is no ledger, or no lot of a SKU in it, nobody has kept count.
    """
    books = ledger_location(folder)
    pieces: dict[str, int] = {}
    if books.begun:
        with books.opened() as ledger:
            for lot in list_lots(ledger):
                if lot.void is None:
                    pieces[lot.sku] = pieces.get(lot.sku, 0) + pieces_of(ledger, lot.code)
    packs = {product.sku: product.pattern.pack for product in catalog.products}
    return lambda sku: pieces[sku] // packs.get(sku, 1) if sku in pieces else None
