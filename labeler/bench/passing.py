"""A finished file is passed for press: read back and checked before it gets its name."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO, cast

from labeler.bench.papers import Hashed, settle
from labeler.bench.wishes import Progress
from labeler.checker.judge import check
from labeler.checker.line import Line
from labeler.checker.question import LotBook, Question
from labeler.checker.report import Report, elsewhere, grouped
from labeler.findings import Finding, Grade, LabelerError, Place, note
from labeler.press.deliver import delivered

Write = Callable[[BinaryIO, tuple[str, ...]], None]
"""Writes a whole file, which says in spite of which rules it was made."""

Record = Callable[[str, Report], None]
"""Puts a file on record by its SHA-256 and the report on it."""

STOPPED = 1
"""The exit status where findings stop the press."""


@dataclass(frozen=True, slots=True)
class Passing:
    """By what a file is checked before it gets its name.

    Attributes:
        folder: the catalog's.
        day: the day whose rules hold.
        line: what the file is held against.
        known_lot: tells what the ledger knows of a lot; None where there is no ledger.
        even_so: whether it is wanted in spite of what stops it.
    """

    folder: Path
    day: dt.date
    line: Line
    known_lot: LotBook | None = None
    even_so: bool = False


def pass_for_press(
    out: Path,
    write: Write,
    passing: Passing,
    record: Record | None = None,
    progress: Progress | None = None,
) -> Report:
    """Write a file, check it as it lies on the disk, and give it its name if nothing stops it.

    Args:
        out: the file, which appears whole or not at all.
        write: writes it.
        passing: by what it is checked.
        record: called once all of it is on the disk and before it takes its name; if it raises,
            there is no file.
        progress: told of every page that is checked.

    Raises:
        LabelerError: if anything stops the press and the file is not wanted even so, or if it
            can't be written.
    """
    with delivered(out) as file:
        digest = _written(file, write, ())
        report = _read_back(file, out, passing, progress)
        if report.stops:
            if not passing.even_so:
                raise LabelerError(_refused(report), STOPPED)
            file.seek(0)
            file.truncate()
            digest = _written(file, write, report.stopped_by)
        settle(file)
        if record:
            record(digest, report)
    return report


def _written(file: BinaryIO, write: Write, in_spite_of: tuple[str, ...]) -> str:
    hashed = Hashed(file)
    write(cast("BinaryIO", hashed), in_spite_of)
    file.flush()
    return hashed.hexdigest


def _read_back(file: BinaryIO, out: Path, by: Passing, progress: Progress | None) -> Report:
    question = Question(Path(file.name), by.folder, by.day, line=by.line)
    return check(question, by.known_lot, progress).called(out.name)


def worth_saying(report: Report) -> tuple[Finding, ...]:
    """Return what stops the press and what is the maker's to judge, once for all it is true of."""
    return tuple(_told([*report.of(Grade.STOP), *report.of(Grade.FIX)]))


def on_record(report: Report) -> tuple[Finding, ...]:
    """Return all that the record keeps of a report: each thing once, however many pieces."""
    return tuple(_told(report.findings))


def _told(findings: Iterable[Finding]) -> Iterator[Finding]:
    for one, others in grouped(findings):
        also = f"Also: {elsewhere(others)}." if others else ""
        yield replace(one, hint=" ".join(filter(None, (one.hint, also))))


def _refused(report: Report) -> list[Finding]:
    return [
        *worth_saying(report),
        note(
            "not-passed",
            Place(file=report.file),
            "the finished file was read back, and this is why it is not handed out",
            hint="--even-so hands it out all the same; the file and the ledger remember that.",
        ),
    ]
