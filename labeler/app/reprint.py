"""Reprinting: the label that hangs there, mark for mark; or today's, and what differs."""

from __future__ import annotations

import datetime as dt
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from labeler.app.pieces import (
    DEFAULT_SHEETS,
    ComposedPiece,
    Difference,
    PieceComposer,
    PrintRequest,
    PrintResult,
    Progress,
    differences,
    panel_of,
)
from labeler.app.preflight import Preflight, lots_known, on_record, worth_saying
from labeler.app.print_run import (
    MOST_PIECES,
    Pressing,
    RunMetadata,
    RunRecorder,
    face_print,
    making_of,
    pictures_on,
    press,
    product_on,
    record,
    said_on,
    where_to_begin,
)
from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.model import Product
from labeler.catalog.read import choose, readable
from labeler.checker.claims import ProductLine
from labeler.checker.report import Report
from labeler.disclosures.needed import needed
from labeler.files import refuse_to_bury
from labeler.findings import Finding, LabelerError, Place, did_you_mean, fix, note, stop
from labeler.layout.compose import Composer, Job
from labeler.layout.drawn import drawn_print
from labeler.layout.index import Use
from labeler.ledger.kept_pieces import Making
from labeler.ledger.lots import Lot, find, list_lots, newest, snapshot_of
from labeler.ledger.runs import KeptLayout, Kind, PastRun, layout_of, past_runs
from labeler.ledger.store import Ledger
from labeler.press.impose import PieceOrder, impose
from labeler.press.printers import Printer, find_printer
from labeler.press.sheets import find_sheet

# ----------------------------------------------------------------------------
# A piece as it once was: found in the ledger by its lot or SKU, and laid out again.


@dataclass(frozen=True, slots=True)
class Original:
    """What was printed once.

    Attributes:
        sku: the product.
        lot: its lot; None if it was printed without one.
        product: as it was; None if only its run is known.
        past: the run that printed it; None if it never was.
        layout: what it was made of, if that was kept.
    """

    sku: str
    lot: Lot | None
    product: Product | None
    past: PastRun | None = None
    layout: KeptLayout | None = None


def find_original(ledger: Ledger, target: str, kind: Kind | None, run: int | None) -> Original:
    """Return what a lot code or a SKU means: of a SKU the newest lot, of a lot its last print.

    Args:
        ledger: an open ledger.
        target: a lot code or a SKU.
        kind: bag labels or card-backs; None takes bag labels where there are any.
        run: one run only, by its number.

    Raises:
        LabelerError: if the ledger knows nothing of this name, with the nearest that it knows, or
            the run did not print it.
    """
    lot = _lot_meant(ledger, target)
    sku = lot.sku if lot else target.strip().upper()
    past = _last_print(past_runs(ledger, lot=lot.code if lot else "", sku=sku), lot, kind, run)
    if run is not None and past is None:
        raise LabelerError(
            stop("reprint-run", Place(key="run"), f"run {run} printed nothing of {target.strip()}")
        )
    if lot is None and past is None:
        raise LabelerError(_unknown(ledger, target))
    layout = layout_of(ledger, past.layout_fingerprint) if past else None
    if lot is not None:
        return Original(sku, lot, snapshot_of(ledger, lot), past, layout)
    return Original(sku, None, product_on(layout) if layout else None, past, layout)


def _lot_meant(ledger: Ledger, target: str) -> Lot | None:
    of_sku = newest(ledger, target.strip().upper())
    if of_sku is not None:
        return of_sku
    try:
        return find(ledger, target)
    except LabelerError:
        if target.strip().isdigit():
            raise
        return None


def _last_print(
    runs: list[PastRun], lot: Lot | None, kind: Kind | None, number: int | None
) -> PastRun | None:
    found = [run for run in runs if run.kind != "batch card" and bool(run.lot) == (lot is not None)]
    found = [run for run in found if run.run == number] if number is not None else found
    for wanted in (kind,) if kind else ("bag", "card"):
        if of_kind := [run for run in found if run.kind == wanted]:
            return of_kind[-1]
    return None


def _unknown(ledger: Ledger, target: str) -> Finding:
    known = sorted({lot.sku for lot in list_lots(ledger)} | {lot.code for lot in list_lots(ledger)})
    return stop(
        "reprint-unknown",
        Place(key="reprint"),
        "the ledger knows no lot and no print of this name",
        found=repr(target),
        hint=did_you_mean(target.strip().upper(), known),
    )


def lay_out_again(
    original: Original, folder: Path
) -> tuple[ComposedPiece, Making, tuple[Finding, ...]]:
    """Return the piece as it was, how it was made, and what is worth saying of it.

    Args:
        original: a piece that was printed.
        folder: the catalog folder, whose own typefaces it was set in.

    Raises:
        LabelerError: if its layout was not kept, or a typeface is gone or another; the hint
            offers today's.
    """
    layout, product = original.layout, original.product
    making = making_of(layout) if layout else None
    if layout is None or making is None or product is None:
        raise LabelerError(_gone(original, "its layout was not kept with the run"))
    if faults := _changed_faces(original, making, folder):
        raise LabelerError(faults)
    code = original.lot.code if original.lot else ""
    size = making.width, making.height
    job = Job(product, layout.name, size, said_on(layout), code, making.link)
    with tempfile.TemporaryDirectory(prefix="labeler-") as room:
        _put_back(layout, Path(room), folder)
        composer = Composer(Path(room), dpi=making.dpi, ink=making.ink)
        composed = composer.composed(job, pictures_on(layout, making))
    found = drawn_print(composed.piece, making.marks_form)
    said = () if found == making.marks else (_drawn_otherwise(original, making),)
    return ComposedPiece(job, composed), making, said


def _put_back(layout: KeptLayout, room: Path, folder: Path) -> None:
    """Lay the kept files out as a catalog folder has them, with the maker's own typefaces."""
    for name, data in layout.files.items():
        if name.startswith("layouts/"):
            file = room / name
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(data)
    if (folder / "fonts").is_dir():
        shutil.copytree(folder / "fonts", room / "fonts")


def _changed_faces(original: Original, making: Making, folder: Path) -> list[Finding]:
    found = []
    for name, was in making.faces.items():
        try:
            same = face_print(name, folder) == was
        except LabelerError:
            found.append(_gone(original, f"its typeface {name!r} is gone"))
            continue
        if not same:
            found.append(_gone(original, f"its typeface {name!r} is another file now"))
    return found


def _gone(original: Original, why: str) -> Finding:
    return stop(
        "reprint-gone",
        Place(piece=original.sku),
        f"the label can't be printed as it was: {why}",
        hint="Put it back, or print it as it is today with --today.",
    )


def _drawn_otherwise(original: Original, making: Making) -> Finding:
    return fix(
        "reprint-drawn-otherwise",
        Place(piece=original.sku),
        "the same words and layout, but this program draws them otherwise than the one then",
        found=f"printed then by version {making.program}",
        hint="Hold both side by side before you hang them on one peg.",
    )


_KINDS: dict[Use, Kind] = {"bags": "bag", "cards": "card"}


@dataclass(frozen=True, slots=True)
class ReprintRequest:
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

    printed: PrintResult
    of_run: int | None
    same: bool
    changed: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class _Again:
    """A piece ready for the press."""

    laid: ComposedPiece
    layout: KeptLayout
    use: Use
    day: str
    catalog: str
    same: bool
    said: tuple[Finding, ...]


def reprint(wish: ReprintRequest, progress: Progress | None = None) -> Reprinted:
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
    books = ledger_location(wish.folder)
    with books.opened() as ledger:
        kind = _KINDS[wish.use] if wish.use else None
        original = find_original(ledger, wish.target, kind, wish.run)
        if original.lot is not None and original.lot.void is not None:
            raise LabelerError(
                stop("lot-void", Place(key="lot"),
                     "this lot was withdrawn, so nothing is labeled with its code",
                     found=original.lot.code, hint=f"Why: {original.lot.void.why}")
            )  # fmt: skip
        return _ReprintJob(wish, books, ledger, original).print(progress)


class _ReprintJob:
    """One reprint, from the original to the record."""

    def __init__(
        self, wish: ReprintRequest, books: LedgerLocation, ledger: Ledger, original: Original
    ) -> None:
        self.wish, self.books, self.ledger, self.original = wish, books, ledger, original
        past = original.past
        self.use: Use = wish.use or ("cards" if past and past.kind == "card" else "bags")
        name = wish.printer or (past.printer if past else "")
        self.printer = self._printer(name)
        stock = wish.sheet or (past.stock if past else DEFAULT_SHEETS[self.use])
        self.sheet = find_sheet(stock, wish.folder)
        self.print_wish = PrintRequest(
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
            self.print_wish, self.sheet, [again.laid], self.ledger, self.books.workstation
        )
        plan = impose(
            [PieceOrder(piece, self.wish.count)], self.sheet,
            start=begin.start, spoiled=begin.spoiled, flip=self.printer.duplex,
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
            stamp = RunMetadata(
                _KINDS[self.use], pdf, self.printer.name, again.catalog, self.books.workstation,
                (*said, *on_record(report)),
            )  # fmt: skip
            numbers.append(record(self.ledger, plan, [again.layout], stamp))

        report = press(pressing, self.wish.out, self._passing(again), keep, progress)
        printed = PrintResult(
            self.wish.out, plan.piece_count, 1, plan.sheet_count, plan.page_count, plan.sheet.name,
            piece.layout, plan.next_free, (*said, *worth_saying(report)), report, piece.lot,
            numbers[0], plan.start,
        )  # fmt: skip
        past = self.original.past
        return Reprinted(printed, past.run if past else None, again.same, self._changed())

    def _passing(self, again: _Again) -> Preflight:
        """A label as it was is held against its product as it was and the rules of its day."""
        return Preflight(
            self.wish.folder,
            dt.date.fromisoformat(again.day),
            ProductLine.alone(again.laid.job.product, again.catalog),
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
        setter = PieceComposer(self.print_wish, self.sheet, self.printer)
        laid = setter.pieces([product], None)[0]
        day = self.print_wish.day.isoformat()
        kept = RunRecorder(setter.composer, self.use, day).keep(laid)
        return _Again(laid, kept, self.use, day, catalog, False, (*said, *setter.findings))

    def _other_rules(self, laid: ComposedPiece) -> list[Finding]:
        """Say if the rules of today ask for other words than those that were printed."""
        job = laid.job
        panel = panel_of(self.use, job.product, job.size)
        today = needed(job.product, job.product.markets, self.print_wish.day, panel=panel)
        printed = {each.text for each in job.statements}
        new = [said.text for said in today if said.text not in printed]
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
