"""Preflight: a finished file is read back and checked before it gets its name."""

from __future__ import annotations

import datetime as dt
import hashlib
import shlex
from collections.abc import Callable, Iterable, Mapping, Set
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, BinaryIO, TypeVar, cast

from labeler.app.workstation import ledger_location
from labeler.checker.claims import ProductLine
from labeler.checker.process import GoneError
from labeler.checker.report import ONE_PROGRAM, Report, elsewhere, grouped
from labeler.checker.subject import CheckRequest, KnownLot, LotLookup, Progress
from labeler.checker.worker import check_pdf, drawing_differences
from labeler.files import Hashed, delivered, refuse_to_bury, settle
from labeler.findings import Finding, Grade, LabelerError, Place, did_you_mean, note, refusal

if TYPE_CHECKING:
    from labeler.ledger.runs import PastRun
    from labeler.ledger.store import Ledger

Write = Callable[[BinaryIO, tuple[str, ...]], None]
"""Writes a whole file, which says in spite of which rules it was made."""

Record = Callable[[str, Report], None]
"""Puts a file on record by its SHA-256 and the report on it."""

Seen = Callable[[Path, Report], None]
"""Looks at a finished file, under the name that it has while it is made, and the report on it."""

_NOT_READ = frozenset({"stored-newer", "stored-unreadable"})
"""Why what the ledger kept of a lot's product can't be read by this version."""

STOPPED = 1
"""The exit status where findings stop the press."""


@dataclass(frozen=True, slots=True)
class Preflight:
    """What a finished file is checked against before it gets its name.

    Attributes:
        folder: the catalog's.
        day: the day whose rules hold.
        line: what the file is held against.
        known_lot: answers what the ledger knows of a lot; None where there is no ledger.
        even_so: whether the file is wanted in spite of what stops it.
        preview: writes what takes the place of the file once that was checked, whatever was found.
        seen: looks at the file and the report, whatever becomes of them.
    """

    folder: Path
    day: dt.date
    line: ProductLine
    known_lot: LotLookup | None = None
    even_so: bool = False
    preview: Callable[[BinaryIO], None] | None = None
    seen: Seen | None = None


def write_checked(
    out: Path,
    write: Write,
    preflight: Preflight,
    record: Record | None = None,
    progress: Progress | None = None,
    begin: Callable[[Path], None] | None = None,
) -> Report:
    """Write a file, check it as it lies on the disk, and give it its name if nothing stops it.

    Args:
        out: the file, which appears whole or not at all.
        write: writes it.
        preflight: by what it is checked.
        record: called once all of it is on the disk and before it takes its name; if it raises,
            there is no file.
        progress: called for every page that is checked.
        begin: called before anything is written, with the hidden file that is being made.

    Raises:
        LabelerError: if anything stops the press and the file is not wanted even so, or if it
            can't be written.
    """
    from labeler.checker.judge import check_own  # loads what reads a page

    with delivered(out) as file:
        if begin:
            begin(Path(file.name))
        digest = _write(file, write, ())
        request = CheckRequest(
            Path(file.name), preflight.folder, preflight.day, line=preflight.line
        )
        report = check_own(request, preflight.known_lot, progress).called(out.name)
        if report.stops and preflight.even_so and preflight.preview is None:
            file.seek(0)
            file.truncate()
            digest = _write(file, write, report.stopped_by)
        if preflight.seen is not None:
            preflight.seen(Path(file.name), report)
        if preflight.preview is not None:
            file.seek(0)
            file.truncate()
            preflight.preview(file)
            file.flush()
        elif report.stops and not preflight.even_so:
            way = note(
                "not-passed", Place(file=report.file),
                "the finished file was read back, and this is why it is not handed out",
                hint="--even-so hands it out all the same; the file and the ledger remember that.",
            )  # fmt: skip
            raise LabelerError((*worth_saying(report), way), STOPPED)
        settle(file)
        if record:
            record(digest, report)
    return report


def _write(file: BinaryIO, write: Write, overridden: tuple[str, ...]) -> str:
    hashed = Hashed(file)
    write(cast("BinaryIO", hashed), overridden)
    file.flush()
    return hashed.hexdigest


def worth_saying(report: Report) -> tuple[Finding, ...]:
    """Return what stops the press and what is the maker's to judge, once for all it is true of."""
    return each_once([*report.of(Grade.STOP), *report.of(Grade.FIX)])


def each_once(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return each thing once, however many pieces it is true of; the hint names the others."""
    return tuple(
        replace(one, hint=" ".join(filter(None, (one.hint, f"Also: {elsewhere(others)}."))))
        if others
        else one
        for one, others in grouped(findings)
    )


@dataclass(frozen=True, slots=True)
class Again:
    """How a file stands beside the same run made again.

    Attributes:
        said: with what it was compared, and how; empty where it was not.
        findings: in what it differs, and what does not fit the ledger or the printer's profile.
        open_point: why it was not compared, for the list of what was not checked; or empty.
    """

    said: str = ""
    findings: tuple[Finding, ...] = ()
    open_point: str = ""


MakeAgain = Callable[[Path, Path, "Ledger | None"], Again]
"""Makes the run of a file again: from the catalog's folder, the file, and the ledger if any."""


def check_file(
    folder: Path,
    file: Path,
    make_again: MakeAgain,
    day: dt.date | None = None,
    proof: Path | None = None,
    progress: Progress | None = None,
) -> Report:
    """Return what is wrong with a finished PDF; lots are asked of the ledger where there is one.

    Args:
        folder: the catalog's.
        file: the PDF.
        make_again: makes its run again and compares the two.
        day: the day of the sale; None for today.
        proof: a PDF to write, the pages with every finding ringed.
        progress: called for every page that is checked.

    Raises:
        LabelerError: if the file or the catalog can't be read, or the proof can't be written.
    """
    _refuse_what_is_no_file(file)
    if proof is not None:
        _refuse_proof_over(proof, file)
    with ledger_location(folder).opened_if_begun() as ledger:
        known = None if ledger is None else lots_known(ledger)
        report = check_pdf(file, folder, day=day, known_lot=known, progress=progress)
        report = _beside(report, folder, file, ledger, make_again)
    report = _drawn_twice(report, file)
    if proof is not None:
        from labeler.checker.proof import write_proof  # draws with a library of its own

        write_proof(file, report, proof)
    return report


def _beside(
    report: Report, folder: Path, file: Path, ledger: Ledger | None, make_again: MakeAgain
) -> Report:
    """Return a report with what comes of making the run again; neither way excuses the other."""
    if report.unread:
        again = Again(open_point="anything else: not one page could be looked at")
    elif ledger is not None and (kept := runs_of(ledger, file)):
        again = Again(f"byte for byte the file of run {kept[0].run} in the ledger")
    else:
        again = make_again(folder, file, ledger)
    open_points = [again.open_point] if again.open_point else []
    found = (*report.findings, *again.findings)
    if again.said and all(each.grade is Grade.NOTE for each in again.findings):
        found = tuple(_saved_again(each) for each in found)
    return replace(
        report, findings=found, made_again=again.said,
        not_checked=(*open_points, *report.not_checked),
    )  # fmt: skip


def _drawn_twice(report: Report, file: Path) -> Report:
    """Return a report with what a second program draws otherwise, and what stays open of that."""
    if report.unread:
        return report
    try:
        found, still_open = drawing_differences(file)
    except GoneError as error:
        found = (error.said,) if error.said else ()
        still_open = f"{ONE_PROGRAM}: {error}"
    points = (still_open if each == ONE_PROGRAM else each for each in report.not_checked)
    return replace(report, findings=(*report.findings, *found), not_checked=tuple(points))


def _saved_again(one: Finding) -> Finding:
    """Return that a file was edited as a note, where nothing differs in what it shows and does."""
    if one.rule != "file-edited":
        return one
    message = "another program has saved this PDF since, and nothing that it shows or does differs"
    return replace(one, grade=Grade.NOTE, message=message, hint="")


def runs_of(ledger: Ledger, file: Path) -> list[PastRun]:
    """Return the pieces of the run that a file is of, bit by bit; none where it is of none."""
    from labeler.ledger.runs import past_runs  # only where there is a ledger

    with file.open("rb") as opened:
        return past_runs(ledger, pdf=hashlib.file_digest(opened, "sha256").hexdigest())


def _refuse_what_is_no_file(file: Path) -> None:
    """Refuse what can't be opened; a file that is no whole PDF gets a report."""
    place = Place(file=str(file))
    if file.is_dir():
        way = f"labeler --catalog {shlex.quote(str(file))} check"
        hint = f"To check a catalog: {way}. To check a PDF, name the file itself."
        raise refusal("file-folder", place, "this is a folder, not a PDF", hint=hint)
    if file.exists() and not file.is_file():  # a pipe that nobody writes into is waited for
        hint = "Write it to a file first, and check that."
        raise refusal("file-unread", place, "this is a pipe or a device, not a PDF", hint=hint)
    try:
        file.open("rb").close()
    except FileNotFoundError as error:
        beside = sorted(each.name for each in file.parent.glob("*.[pP][dD][fF]"))
        near = did_you_mean(file.name, beside)
        hint = near or "Give the path of the PDF, such as bags.pdf."
        raise refusal("file-missing", place, "there is no such file", hint=hint) from error
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise refusal("file-unread", place, "this file can't be opened", found=why) from error


def _refuse_proof_over(proof: Path, file: Path) -> None:
    """Refuse a proof under the name of the file that it is the proof of, or of another kind."""
    refuse_to_bury(proof)
    if proof.exists() and file.exists() and proof.samefile(file):
        raise refusal(
            "proof-over-file",
            Place(file=str(proof)),
            "the proof would take the place of the file that is checked",
            hint="Give the proof a name of its own.",
        )


def lots_known(
    ledger: Ledger, coming: Mapping[str, KnownLot] = MappingProxyType({})
) -> Callable[[str], KnownLot | None]:
    """Return what answers for a lot code: the lot as it was made, or None where there is none.

    A ledger that can't be read just then is no ledger without the lot: that is raised.

    Args:
        ledger: an open ledger.
        coming: lots that are opened with what is printed, by their codes.
    """
    from labeler.app.record import pictures_of  # only where there is a ledger
    from labeler.ledger import lots

    pictures = cache(partial(pictures_of, ledger))

    def known(code: str) -> KnownLot | None:
        if code in coming:
            return coming[code]
        lot = _unless({"unknown-lot"}, lambda: lots.find(ledger, code))
        if lot is None:
            return None
        product = _unless(_NOT_READ, lambda: lots.snapshot_of(ledger, lot))
        held = lot.held.why if lot.held else ""
        bore = pictures(lot.code) if product and product.maker.logo else ()
        return KnownLot(lot.sku, lot.void is not None, product, held, lot.old_code, bore)

    return known


Answer = TypeVar("Answer")


def _unless(rules: Set[str], ask: Callable[[], Answer]) -> Answer | None:
    """Return the answer; None where there is none for these reasons alone."""
    try:
        return ask()
    except LabelerError as error:
        if any(finding.rule not in rules for finding in error.findings):
            raise
        return None
