"""Reprinting: the label that hangs there, mark for mark, or today's; and what was never printed."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from labeler.app.preflight import Seen
from labeler.app.print_request import (
    DEFAULT_SHEETS,
    KINDS,
    MOST_PIECES,
    Difference,
    Labels,
    PrintRequest,
    beyond_packs,
    differences,
)
from labeler.app.print_run import (
    ComposedPiece,
    PieceComposer,
    PlannedRun,
    PrintResult,
    Tell,
    print_composed,
    statements_of,
)
from labeler.app.record import (
    RunRecorder,
    face_print,
    making_of,
    pictures_on,
    product_on,
    refuse_held,
    refuse_void,
    settings_on,
    statements_on,
)
from labeler.app.workstation import LedgerLocation, ledger_location, sku_meant
from labeler.catalog.casting import packs_of
from labeler.catalog.model import Product
from labeler.catalog.read import choose, readable
from labeler.checker.claims import ProductLine
from labeler.checker.subject import Progress
from labeler.drawing.jig import EDITION
from labeler.files import refuse_to_bury
from labeler.findings import (
    Finding,
    LabelerError,
    Place,
    did_you_mean,
    fix,
    listed,
    note,
    refusal,
    stop,
)
from labeler.layout.canonical import drawn_print
from labeler.layout.compose import Composer, Job
from labeler.layout.index import Use
from labeler.ledger.documents import Making
from labeler.ledger.lots import Lot, find, list_lots, newest, snapshot_of
from labeler.ledger.runs import (
    KeptLayout,
    Kind,
    PastRun,
    layout_of,
    newest_runs,
    past_runs,
    take_back,
)
from labeler.ledger.store import Ledger
from labeler.press.printers import Printer, find_printer
from labeler.press.sheets import Sheet, find_sheet


@dataclass(frozen=True, slots=True)
class ReprintRequest:
    """What to print again. ``target`` is a lot code, or a SKU for its newest lot.

    ``today`` prints it by today's catalog and layouts. ``use`` empty means what was printed;
    ``sheet`` and ``printer`` empty those it was printed on; ``run`` one run only;
    ``why`` and ``seen`` as of a print.
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
    why: str = ""
    trial: bool = False
    preview: bool = False
    seen: Seen | None = field(default=None, compare=False)


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


def reprint(
    request: ReprintRequest, progress: Progress | None = None, tell: Tell | None = None
) -> Reprinted:
    """Print a label again as it was, from the ledger alone; or as it is today.

    The same request gives the same bytes, and as many on the same cells as then give the first
    file. ``tell`` is called before the file is made with what is worth saying by then.

    Raises:
        LabelerError: if the ledger knows nothing of it, or it can't be printed as it was.
    """
    refuse_to_bury(request.out)
    if not 1 <= request.count <= MOST_PIECES:
        raise refusal(
            "count-out-of-range", Place(key="count"), "this many can't be printed in one run",
            found=str(request.count), expected=f"1 to {MOST_PIECES:,}",
        )  # fmt: skip
    location = ledger_location(request.folder)
    with location.opened() as ledger:
        kind = KINDS[request.use] if request.use else None
        original = find_original(ledger, request.target, kind, request.run, request.folder)
        if original.lot is not None:
            refuse_void(original.lot)
            refuse_held(original.lot, request.even_so or request.preview)
        return _reprint(request, original, location, ledger, progress, tell)


def _reprint(
    request: ReprintRequest, original: Original, location: LedgerLocation, ledger: Ledger,
    progress: Progress | None, tell: Tell | None,
) -> Reprinted:  # fmt: skip
    past = original.past
    use: Use = request.use or ("cards" if past and past.kind == "card" else "bags")
    printer = _printer(request, past)
    stock = request.sheet or (past.stock if past else DEFAULT_SHEETS[use])
    sheet = find_sheet(stock, request.folder)
    as_print = PrintRequest(
        request.folder, request.out, use, sheet=stock, start=request.start,
        spoiled=request.spoiled, outline=request.outline, even_so=request.even_so,
        trial=request.trial, preview=request.preview, why=request.why, seen=request.seen,
    )  # fmt: skip
    again = _again(request, original, as_print, sheet, printer)
    told = (*original.findings, *again.findings)
    if original.lot is not None and as_print.counts:
        packs = packs_of(again.piece.job.product, original.lot.count)
        told += tuple(beyond_packs(ledger, original.lot, packs, request.count, use, more=True))
    if told and tell:
        tell(told)
    product, making = again.piece.job.product, making_of(again.layout)
    if making is not None:
        as_print = replace(as_print, ink=making.ink)
    run = PlannedRun(
        as_print, sheet, printer, product.maker.name, again.day, again.catalog_digest,
        # A label as it was is held against its product as it was and the rules of its day.
        ProductLine.alone(product, again.catalog_digest),
        location, ledger, told, request.today,
        first_edition=making is not None and making.first_edition,
    )  # fmt: skip
    printed = print_composed(run, [again.piece], [request.count], lambda: [again.layout], progress)
    changed = _changed(original, request.folder)
    return Reprinted(printed, past.run if past else None, again.same, changed)


def _printer(request: ReprintRequest, past: PastRun | None) -> Printer:
    """A printer that is gone since is no reason not to print; one that is asked for is."""
    name = request.printer or (past.printer if past else "")
    try:
        return find_printer(name, request.folder) if name else Printer()
    except LabelerError:
        if request.printer:
            raise
        return Printer()


def _changed(original: Original, folder: Path) -> tuple[Difference, ...]:
    """Return what today's catalog says otherwise; nothing where it can't be read."""
    if original.product is None:
        return ()
    try:
        catalog, _ = readable(folder)
        today = choose(catalog, [original.sku], words_too=False)[0]
    except LabelerError:
        return ()
    return differences(original.product, today)


@dataclass(frozen=True, slots=True)
class Original:
    """What was printed once.

    Attributes:
        sku: the product.
        lot: its lot; None if it was printed without one.
        product: as it was; None if only its run is known.
        past: the run that printed it; None if it never was.
        layout: what it was made of, if that was kept.
        findings: the product that was found by its words.
    """

    sku: str
    lot: Lot | None
    product: Product | None
    past: PastRun | None = None
    layout: KeptLayout | None = None
    findings: tuple[Finding, ...] = ()


def find_original(
    ledger: Ledger, target: str, kind: Kind | None, run: int | None, folder: Path | None = None
) -> Original:
    """Return what a lot code or a SKU means: of a SKU the newest lot, of a lot its last print.

    Args:
        ledger: an open ledger.
        target: a lot code or a SKU; a product's words, where there is a ``folder``.
        kind: bag labels or card-backs; None takes bag labels where there are any.
        run: one run only, by its number.
        folder: the catalog folder, to whose products the words lead.

    Raises:
        LabelerError: if the ledger knows nothing of this name, with the nearest that it knows, or
            the run did not print it.
    """
    said: list[Finding] = []
    lot = _lot_meant(ledger, target)
    if lot is None and folder is not None and not past_runs(ledger, sku=target.strip().upper()):
        try:
            target = sku_meant(folder, ledger, target, said, strict=True)
        except LabelerError as error:
            several = any(each.rule == "sku-several" for each in error.findings)
            raise error if several else LabelerError(_unknown(ledger, target)) from None
        lot = newest(ledger, target)
    sku = lot.sku if lot else target.strip().upper()
    runs = past_runs(ledger, lot=lot.code if lot else "", sku=sku)
    past = _last_print(runs, lot, kind, run)
    if run is not None and past is None:
        raise refusal(
            "reprint-run", Place(key="run"), f"run {run} printed nothing of {target.strip()}"
        )
    if lot is None and past is None:
        known = runs or folder is not None
        raise LabelerError(_not_printed(runs, sku) if known else _unknown(ledger, target))
    layout = layout_of(ledger, past.layout_fingerprint) if past else None
    if lot is not None:
        return Original(sku, lot, snapshot_of(ledger, lot), past, layout, tuple(said))
    product = product_on(layout) if layout else None
    return Original(sku, None, product, past, layout, tuple(said))


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
    if number is not None:
        found = [run for run in found if run.run == number]
    else:  # what was only tried or never printed hangs nowhere
        found = [run for run in found if run.state == "printed"]
    for each in (kind,) if kind else ("bag", "card"):
        if of_kind := [run for run in found if run.kind == each]:
            return of_kind[-1]
    return None


def _not_printed(runs: Sequence[PastRun], sku: str) -> Finding:
    """Say what there is of a product without a lot, if nothing of what is asked for."""
    each = [f"run {run.run} ({_PIECES[run.kind]}, {run.state})" for run in runs]
    return stop(
        "reprint-unprinted", Place(key=sku), "it has no lot, and no such piece of it was printed",
        found=listed(each), hint=f"labeler bags --sku {sku} and labeler cards --sku {sku} print "
        "it as it is today.",
    )  # fmt: skip


_PIECES: dict[Kind, str] = {"bag": "labels", "card": "cards", "batch card": "batch cards"}


def _unknown(ledger: Ledger, target: str) -> Finding:
    known = sorted({name for lot in list_lots(ledger) for name in (lot.sku, lot.code)})
    return stop(
        "reprint-unknown",
        Place(key="reprint"),
        "the ledger knows no lot and no print of this name",
        found=repr(target),
        hint=did_you_mean(target.strip().upper(), known),
    )


@dataclass(frozen=True, slots=True)
class _Again:
    """A piece ready for the press, and what it was made of."""

    piece: ComposedPiece
    layout: KeptLayout
    day: str
    catalog_digest: str
    same: bool
    findings: tuple[Finding, ...]


def _again(
    request: ReprintRequest, original: Original, as_print: PrintRequest, sheet: Sheet,
    printer: Printer,
) -> _Again:  # fmt: skip
    """Return the piece as it was; or composed by today's layouts, if that is asked for or new."""
    past = original.past
    if past is not None and not request.today:
        piece, making, otherwise = lay_out_again(original, request.folder)
        assert original.layout is not None
        findings = (*otherwise, *_other_rules(piece, as_print))
        return _Again(
            piece, original.layout, making.day, past.catalog_digest, not otherwise, findings
        )
    if request.today:
        catalog, findings = readable(request.folder, as_print.day)
        product, fingerprint = (
            choose(catalog, [original.sku], words_too=False)[0],
            catalog.fingerprint,
        )
    else:
        assert original.product is not None
        assert original.lot is not None
        product, fingerprint = original.product, original.lot.catalog_digest
        findings = (
            note(
                "reprint-first", Place(piece=original.sku),
                "this lot was never printed, so its product as it was is laid out as today",
            ),
        )  # fmt: skip
    composer = PieceComposer(as_print, sheet, printer)
    lot, old_code = (original.lot.code, original.lot.old_code) if original.lot else ("", "")
    piece = composer.pieces([Labels(product, request.count, lot, old_code)], None)[0]
    day = as_print.day.isoformat()
    layout = RunRecorder(composer.composer, as_print.use, day).keep(piece.job, piece.composed)
    return _Again(piece, layout, day, fingerprint, False, (*findings, *composer.findings))


def _other_rules(piece: ComposedPiece, as_print: PrintRequest) -> list[Finding]:
    """Say if the rules of today ask for other words than those that were printed."""
    job = piece.job
    today = statements_of(as_print.use, job.product, job.size, as_print.day)
    printed = {statement.text for statement in job.statements}
    new = [statement.text for statement in today if statement.text not in printed]
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
    called = original.lot.old_code if original.lot else ""
    size = making.width, making.height
    job = Job(
        product, layout.name, size, statements_on(layout), code, making.link, called,
        settings_on(layout),
    )  # fmt: skip
    with tempfile.TemporaryDirectory(prefix="labeler-") as temporary:
        _put_back(layout, Path(temporary), folder)
        composer = Composer(
            Path(temporary), dpi=making.dpi, ink=making.ink, finish=not making.first_edition,
            edition=1 if making.first_edition else EDITION,
        )  # fmt: skip
        composed = composer.compose_with_pictures(job, pictures_on(layout, making))
    found = drawn_print(composed.piece, making.marks_form)
    otherwise = fix(
        "reprint-drawn-otherwise",
        Place(piece=original.sku),
        "the same words and layout, but this program draws them otherwise than the one then",
        found=f"printed then by version {making.program}",
        hint="Hold both side by side before you hang them on one peg.",
    )
    return ComposedPiece(job, composed), making, () if found == making.marks else (otherwise,)


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


def past_prints(
    folder: Path, run: int | None = None, last: int = 1
) -> tuple[tuple[PastRun, ...], LedgerLocation]:
    """Return what was printed of labels and cards, piece by piece, the newest run first.

    Args:
        folder: the catalog's.
        run: one run only, by its number.
        last: else of so many runs, the newest.

    Raises:
        LabelerError: if the ledger can't be read. Where there is none nothing was printed.
    """
    location = ledger_location(folder)
    with location.opened_if_begun() as ledger:
        if ledger is None:
            return (), location
        numbers = [run] if run is not None else newest_runs(ledger, last)
        found = [each for number in numbers for each in past_runs(ledger, run=number)]
    return tuple(each for each in found if each.kind != "batch card"), location


@dataclass(frozen=True, slots=True)
class TakenBack:
    """A run that was taken back: what it had printed, and whether it counted until now."""

    run: int
    was: str
    pieces: tuple[PastRun, ...]


def unprint(folder: Path, run: int, why: str, key: str | None = None) -> TakenBack:
    """Take back a run that was not printed: its cells are free, its labels are not counted.

    Raises:
        LabelerError: if there is no such run, or no reason.
    """
    with ledger_location(folder).opened() as ledger:
        was = take_back(ledger, run, why, key=key)
        return TakenBack(run, was, tuple(past_runs(ledger, run=run)))
