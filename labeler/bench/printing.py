"""Printing bag labels and cards: from a catalog folder and a wish to a finished PDF on record."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from labeler.bench.differences import differences, in_a_line
from labeler.bench.known_lots import lots_known
from labeler.bench.laying import Laid, Setter
from labeler.bench.ledgers import Books, books_of
from labeler.bench.left_over import left_over
from labeler.bench.passing import Passing, on_record, worth_saying
from labeler.bench.pressing import Pressing, press
from labeler.bench.recording import Keeper, Stamp, record
from labeler.bench.starting_cell import Begin, where_to_begin
from labeler.bench.wishes import DEFAULT_SHEETS, Printed, Progress, Wish
from labeler.catalog.batch import packs_of
from labeler.catalog.choose import choose
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import examine
from labeler.checker.line import Line
from labeler.checker.report import Report
from labeler.codes.identifiers import identifier
from labeler.findings import Finding, Grade, LabelerError, Place, note, stop
from labeler.ledger.lots import Lot, find, snapshot_of
from labeler.ledger.store import Ledger
from labeler.press.deliver import refuse_to_bury
from labeler.press.impose import Plan, impose
from labeler.press.placing import Order
from labeler.press.printer import Printer
from labeler.press.printers import find_printer
from labeler.press.sheets import find_sheet

__all__ = ["Printed", "Progress", "Wish", "print_pieces", "readable"]

MOST_PIECES = 200_000
"""More than a desk printer prints in a week: a slip of the finger, not an order."""


@dataclass(frozen=True, slots=True)
class Goods:
    """What a run prints labels for.

    Attributes:
        products: in the catalog's order; of a lot, the one product as it was when it was opened.
        count: how many of each.
        maker: whose goods they are.
        catalog: the fingerprint of the catalog they stand in.
        lot: the lot, where the ledger knows it.
        findings: what is worth saying of them.
    """

    products: tuple[Product, ...]
    count: int
    maker: str
    catalog: str
    lot: Lot | None = None
    findings: tuple[Finding, ...] = ()


def print_pieces(wish: Wish, progress: Progress | None = None) -> Printed:
    """Lay out, impose and write what is wished for; the file appears whole or not at all.

    Where the folder has a ledger the run is put on record, and a lot's labels show its product as
    it was when the lot was opened.

    Raises:
        LabelerError: with everything that stands in the way, before anything is written.
    """
    refuse_to_bury(wish.out)
    _refuse_odd_lot(wish.lot)
    catalog, findings = readable(wish.folder)
    books = books_of(wish.folder)
    resuming = wish.start == "next"
    if not (books.begun or resuming):
        return _Run(wish, catalog, findings, books, None).print(progress)
    with books.opened(begin=resuming) as ledger:
        return _Run(wish, catalog, findings, books, ledger).print(progress)


def readable(folder: Path) -> tuple[Catalog, tuple[Finding, ...]]:
    """Return the catalog and what is worth saying of it; raise if anything in it stops.

    Only what the maker should fix before printing comes along, not every note.
    """
    catalog, findings = examine(folder)
    if catalog is None:
        raise LabelerError(f for f in findings if f.grade is Grade.STOP)
    said = (*findings, *left_over(catalog))
    return catalog, tuple(f for f in said if f.grade is Grade.FIX)


class _Run:
    """One run, from what is wished for to what is told of it."""

    def __init__(
        self,
        wish: Wish,
        catalog: Catalog,
        findings: tuple[Finding, ...],
        books: Books,
        ledger: Ledger | None,
    ) -> None:
        self.books, self.ledger = books, ledger
        self.line = Line.of(catalog)
        self.goods = _goods(wish, catalog, ledger)
        lot = self.goods.lot.code if self.goods.lot else wish.lot
        self.wish = replace(wish, lot=lot)
        self.printer = find_printer(wish.printer, wish.folder) if wish.printer else Printer()
        self.sheet = find_sheet(wish.sheet or DEFAULT_SHEETS[wish.use], wish.folder)
        self.said = (*findings, *self.goods.findings)
        self.number: int | None = None

    def print(self, progress: Progress | None) -> Printed:
        """Print it."""
        _refuse_too_many(self.goods.count, len(self.goods.products))
        setter = Setter(self.wish, self.sheet, self.printer)
        laid = setter.pieces(self.goods.products, progress)
        begin = where_to_begin(self.wish, self.sheet, laid, self.ledger, self.books.drawer)
        plan = self._plan(laid, begin)
        self.said = (*self.said, *setter.findings, *plan.notes, *begin.findings)
        keeper = Keeper(setter.composer, self.wish.use, self.wish.day.isoformat())
        report = press(
            self._pressing(plan),
            self.wish.out,
            self._passing(),
            lambda pdf, report: self._record(plan, keeper, laid, pdf, report),
            progress,
        )
        return self._told(plan, report)

    def _plan(self, laid: Sequence[Laid], begin: Begin) -> Plan:
        return impose(
            [Order(each.composed.piece, self.goods.count) for each in laid],
            self.sheet,
            start=begin.start,
            spoiled=begin.spoiled,
            fill=self.wish.fill,
            flip=self.printer.duplex,
        )

    def _pressing(self, plan: Plan) -> Pressing:
        return Pressing(
            self.wish.use,
            plan,
            self.wish.folder,
            self.goods.maker,
            self.wish.day.isoformat(),
            self.goods.catalog,
            self.printer,
            {product.sku: product.markets for product in self.goods.products},
            self.wish.outline,
        )

    def _passing(self) -> Passing:
        known_lot = lots_known(self.ledger) if self.ledger is not None else None
        wish = self.wish
        return Passing(wish.folder, wish.day, self.line, known_lot, wish.even_so)

    def _record(
        self, plan: Plan, keeper: Keeper, laid: Sequence[Laid], pdf: str, report: Report
    ) -> None:
        if self.ledger is None:
            return
        stamp = Stamp(
            "bag" if self.wish.use == "bags" else "card",
            pdf,
            self.printer.name,
            self.goods.catalog,
            self.books.drawer,
            (*self.said, *on_record(report)),
        )
        kept = [keeper.keep(each) for each in laid]
        self.number = record(self.ledger, plan, kept, stamp)

    def _told(self, plan: Plan, report: Report) -> Printed:
        pieces = [order.piece for order in plan.orders]
        return Printed(
            self.wish.out,
            plan.piece_count,
            len(self.goods.products),
            plan.sheet_count,
            plan.page_count,
            plan.sheet.name,
            ", ".join(dict.fromkeys(piece.layout for piece in pieces)),
            plan.next_free,
            (*self.said, *worth_saying(report)),
            report,
            self.wish.lot,
            self.number,
            plan.start,
        )


def _goods(wish: Wish, catalog: Catalog, ledger: Ledger | None) -> Goods:
    if wish.lot and ledger is not None:
        return _goods_of_lot(wish, catalog, ledger)
    said = (_no_ledger(wish),) if wish.lot else ()
    count = (1 if wish.count is None else wish.count) + wish.spare
    products = choose(catalog, wish.wanted)
    return Goods(products, count, catalog.file.maker.name, catalog.fingerprint, findings=said)


def _goods_of_lot(wish: Wish, catalog: Catalog, ledger: Ledger) -> Goods:
    lot = find(ledger, wish.lot)
    if lot.void is not None:
        raise LabelerError(
            stop(
                "lot-void",
                Place(key="lot"),
                "this lot was withdrawn, so nothing is labeled with its code",
                found=lot.code,
                hint=f"Why: {lot.void.why}",
            )
        )
    if wish.wanted and lot.sku not in {p.sku for p in choose(catalog, wish.wanted)}:
        raise LabelerError(
            stop(
                "lot-of-another",
                Place(key="lot"),
                "this lot is of another product",
                found=f"{lot.code} of {lot.sku}",
                expected=", ".join(wish.wanted),
                hint="Leave the SKU out: a lot's labels are of its own product.",
            )
        )
    product = snapshot_of(ledger, lot)
    packs = packs_of(product, lot.count)
    count = packs if wish.count is None else wish.count
    return Goods(
        (product,), count + wish.spare, product.maker.name, lot.catalog, lot,
        (*_changed(lot, product, catalog), *_too_many(lot, packs, count)),
    )  # fmt: skip


def _too_many(lot: Lot, packs: int, count: int) -> Iterator[Finding]:
    if count > packs:
        yield note(
            "lot-more-labels",
            Place(key=f"lot {lot.code}"),
            "more labels are wished for than the lot fills packs",
            found=str(count),
            expected=f"at most {packs}",
            hint="--spare adds some for those that go wrong.",
        )


def _changed(lot: Lot, product: Product, catalog: Catalog) -> Sequence[Finding]:
    """Say how the catalog has changed since the lot was opened; the label does not follow."""
    today = next((each for each in catalog.products if each.sku == lot.sku), None)
    place = Place(key=f"lot {lot.code}")
    if today is None:
        return [note("lot-retired", place, f"{lot.sku} is no longer in the catalog")]
    changed = differences(product, today)
    if not changed:
        return []
    return [
        note(
            "lot-as-it-was",
            place,
            "the label shows the product as it was when the lot was opened; today's differs",
            found="; ".join(in_a_line(each) for each in changed),
            hint="labeler reprint --today prints it as it is today.",
        )
    ]


def _no_ledger(wish: Wish) -> Finding:
    return note(
        "lot-unchecked",
        Place(key="lot"),
        "there is no ledger in this folder, so the lot code is printed as it was typed",
        found=wish.lot,
        hint="labeler lot assign opens a lot, gives it a code and remembers it.",
    )


def _refuse_odd_lot(lot: str) -> None:
    """Refuse a lot that a code could not carry as it is printed.

    Source: GS1 General Specifications, 7.11, for the characters; RFC 3986, 5.2.4, for dots alone.
    """
    kind = identifier("10")
    fault = kind.fault(lot) if kind and lot else None
    if fault or lot in (".", ".."):
        raise LabelerError(
            stop(
                "lot-code",
                Place(key="lot"),
                fault.sentence if fault else "a lot of dots alone drops out of a link",
                found=repr(lot[:_LOT_SHOWN]),
                expected="at most 20 letters, digits and signs, without a space",
            )
        )


_LOT_SHOWN = 40


def _refuse_too_many(count: int, products: int) -> None:
    if count < 1 or count * products > MOST_PIECES:
        raise LabelerError(
            stop(
                "count-out-of-range",
                Place(key="count"),
                "this many can't be printed in one run",
                found=f"{count} each of {products}",
                expected=f"at least 1 each and at most {MOST_PIECES:,} in all",
            )
        )
