"""Reprinting: the label that hangs there, mark for mark; or today's, and what differs."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from labeler.bench.differences import Difference, differences
from labeler.bench.known_lots import lots_known
from labeler.bench.laying import Laid, Setter, panel_of
from labeler.bench.ledgers import Books, books_of
from labeler.bench.originals import Original, find_original, lay_out_again
from labeler.bench.passing import Passing, on_record, worth_saying
from labeler.bench.pressing import Pressing, press
from labeler.bench.printing import MOST_PIECES, readable
from labeler.bench.recording import Keeper, Stamp, record
from labeler.bench.starting_cell import where_to_begin
from labeler.bench.wishes import DEFAULT_SHEETS, Printed, Progress, Wish
from labeler.catalog.choose import choose
from labeler.catalog.model import Product
from labeler.checker.line import Line
from labeler.checker.report import Report
from labeler.disclosures.needed import needed
from labeler.findings import Finding, LabelerError, Place, fix, note, stop
from labeler.layout.menu import Use
from labeler.ledger.kept_layouts import KeptLayout
from labeler.ledger.runs import Kind
from labeler.ledger.store import Ledger
from labeler.press.deliver import refuse_to_bury
from labeler.press.impose import impose
from labeler.press.placing import Order
from labeler.press.printer import Printer
from labeler.press.printers import find_printer
from labeler.press.sheets import find_sheet

_KINDS: dict[Use, Kind] = {"bags": "bag", "cards": "card"}


@dataclass(frozen=True, slots=True)
class ReprintWish:
    """What to print again. ``target`` is a lot code, or a SKU for its newest lot.

    ``today`` prints it by today's catalog and layouts. ``use`` empty means what was printed;
    ``sheet`` and ``printer`` empty those it was printed on; ``run`` one run only.
    """

    folder: Path
    target: str
    out: Path
    count: int = 1
    today: bool = False
    use: Use | Literal[""] = ""
    sheet: str = ""
    start: int | Literal["next"] = 1
    spoiled: str = ""
    printer: str = ""
    run: int | None = None
    outline: bool = False
    even_so: bool = False


@dataclass(frozen=True, slots=True)
class Reprinted:
    """What was printed again.

    ``same`` tells whether it is the piece of run ``of_run`` mark for mark; ``changed`` what
    today's catalog says otherwise.
    """

    printed: Printed
    of_run: int | None
    same: bool
    changed: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class _Again:
    """A piece ready for the press."""

    laid: Laid
    layout: KeptLayout
    use: Use
    day: str
    catalog: str
    same: bool
    said: tuple[Finding, ...]


def reprint(wish: ReprintWish, progress: Progress | None = None) -> Reprinted:
    """Print a label again as it was, from the ledger alone; or as it is today.

    The same wish gives the same bytes, and as many on the same cells as then give the first file.

    Raises:
        LabelerError: if the ledger knows nothing of it, or it can't be printed as it was.
    """
    refuse_to_bury(wish.out)
    if not 1 <= wish.count <= MOST_PIECES:
        raise LabelerError(
            stop("count-out-of-range", Place(key="count"), "this many can't be printed in one run",
                 found=str(wish.count), expected=f"1 to {MOST_PIECES:,}")
        )  # fmt: skip
    books = books_of(wish.folder)
    with books.opened() as ledger:
        kind = _KINDS[wish.use] if wish.use else None
        original = find_original(ledger, wish.target, kind, wish.run)
        if original.lot is not None and original.lot.void is not None:
            raise LabelerError(
                stop("lot-void", Place(key="lot"),
                     "this lot was withdrawn, so nothing is labeled with its code",
                     found=original.lot.code, hint=f"Why: {original.lot.void.why}")
            )  # fmt: skip
        return _Run(wish, books, ledger, original).print(progress)


class _Run:
    """One reprint, from the original to the record."""

    def __init__(self, wish: ReprintWish, books: Books, ledger: Ledger, original: Original) -> None:
        self.wish, self.books, self.ledger, self.original = wish, books, ledger, original
        past = original.past
        self.use: Use = wish.use or ("cards" if past and past.kind == "card" else "bags")
        name = wish.printer or (past.printer if past else "")
        self.printer = self._printer(name)
        stock = wish.sheet or (past.stock if past else DEFAULT_SHEETS[self.use])
        self.sheet = find_sheet(stock, wish.folder)
        self.print_wish = Wish(
            wish.folder, wish.out, self.use, sheet=stock, start=wish.start, spoiled=wish.spoiled,
            lot=original.lot.code if original.lot else "",
        )  # fmt: skip

    def _printer(self, name: str) -> Printer:
        """A printer that is gone since is no reason not to print; one that is asked for is."""
        try:
            return find_printer(name, self.wish.folder) if name else Printer()
        except LabelerError:
            if self.wish.printer:
                raise
            return Printer()

    def print(self, progress: Progress | None) -> Reprinted:
        """Print it."""
        again = self._as_today() if self.wish.today else self._as_it_was()
        piece = again.laid.composed.piece
        begin = where_to_begin(
            self.print_wish, self.sheet, [again.laid], self.ledger, self.books.drawer
        )
        plan = impose(
            [Order(piece, self.wish.count)], self.sheet, start=begin.start, spoiled=begin.spoiled,
            flip=self.printer.duplex,
        )  # fmt: skip
        product = again.laid.job.product
        pressing = Pressing(
            self.use, plan, self.wish.folder, product.maker.name, again.day, again.catalog,
            self.printer, {product.sku: product.markets}, self.wish.outline,
            self.wish.today,
        )  # fmt: skip
        said = (*again.said, *plan.notes, *begin.findings)
        numbers: list[int] = []

        def keep(pdf: str, report: Report) -> None:
            stamp = Stamp(
                _KINDS[self.use], pdf, self.printer.name, again.catalog, self.books.drawer,
                (*said, *on_record(report)),
            )  # fmt: skip
            numbers.append(record(self.ledger, plan, [again.layout], stamp))

        report = press(pressing, self.wish.out, self._passing(again), keep, progress)
        printed = Printed(
            self.wish.out, plan.piece_count, 1, plan.sheet_count, plan.page_count, plan.sheet.name,
            piece.layout, plan.next_free, (*said, *worth_saying(report)), report, piece.lot,
            numbers[0], plan.start,
        )  # fmt: skip
        past = self.original.past
        return Reprinted(printed, past.run if past else None, again.same, self._changed())

    def _passing(self, again: _Again) -> Passing:
        """A label as it was is held against its product as it was and the rules of its day."""
        return Passing(
            self.wish.folder,
            dt.date.fromisoformat(again.day),
            Line.alone(again.laid.job.product, again.catalog),
            lots_known(self.ledger),
            self.wish.even_so,
        )

    def _as_it_was(self) -> _Again:
        past, original = self.original.past, self.original
        if past is None:
            assert original.product is not None
            assert original.lot is not None
            said = note(
                "reprint-first", Place(piece=original.sku),
                "this lot was never printed, so its product as it was is laid out as today",
            )  # fmt: skip
            return self._set(original.product, original.lot.catalog, said)
        laid, making, said_of_it = lay_out_again(original, self.wish.folder)
        assert original.layout is not None
        catalog = past.catalog
        said_all = (*said_of_it, *self._other_rules(laid))
        return _Again(
            laid, original.layout, self.use, making.day, catalog, not said_of_it, said_all
        )

    def _as_today(self) -> _Again:
        catalog, findings = readable(self.wish.folder)
        product = choose(catalog, [self.original.sku])[0]
        return self._set(product, catalog.fingerprint, *findings)

    def _set(self, product: Product, catalog: str, *said: Finding) -> _Again:
        setter = Setter(self.print_wish, self.sheet, self.printer)
        laid = setter.pieces([product], None)[0]
        day = self.print_wish.day.isoformat()
        kept = Keeper(setter.composer, self.use, day).keep(laid)
        return _Again(laid, kept, self.use, day, catalog, False, (*said, *setter.findings))

    def _other_rules(self, laid: Laid) -> list[Finding]:
        """Say if the rules of today ask for other words than those that were printed."""
        job = laid.job
        panel = panel_of(self.use, job.product, job.size)
        today = needed(job.product, job.product.markets, self.print_wish.day, panel=panel)
        new = [said.text for said in today if said.text not in {each.text for each in job.said}]
        if not new:
            return []
        return [
            fix(
                "reprint-other-rules",
                Place(piece=job.product.sku),
                "today's rules ask for words that the label did not have then",
                found="; ".join(f"“{text}”" for text in new),
                hint="Print it with --today if it is to be sold under today's rules.",
            )
        ]

    def _changed(self) -> tuple[Difference, ...]:
        """Return what today's catalog says otherwise; nothing where it can't be read."""
        if self.original.product is None:
            return ()
        try:
            catalog, _ = readable(self.wish.folder)
            today = choose(catalog, [self.original.sku])[0]
        except LabelerError:
            return ()
        return differences(self.original.product, today)
