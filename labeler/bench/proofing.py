"""Checking a finished PDF against the catalog, the markets' rules and the ledger."""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from labeler.bench.ledgers import books_of
from labeler.checker.judge import check_pdf
from labeler.checker.proof import write_proof
from labeler.checker.report import Report
from labeler.findings import LabelerError, Place, did_you_mean, stop
from labeler.press.deliver import refuse_to_bury


@dataclass(frozen=True, slots=True)
class Proofing:
    """What is to be checked: a file, for the catalog in ``folder``, as of ``day``.

    ``proof`` is a PDF to write, the pages with every finding ringed, or None.
    """

    folder: Path
    file: Path
    day: dt.date | None = None
    proof: Path | None = None


def check_file(asked: Proofing, progress: Callable[[int, int], None] | None = None) -> Report:
    """Return what is wrong with a finished PDF; lots are asked of the ledger where there is one.

    Raises:
        LabelerError: if the file or the catalog can't be read, or the proof can't be written.
    """
    _refuse_what_is_no_file(asked.file)
    if asked.proof is not None:
        _refuse_to_bury_by(asked.proof, asked.file)
    books = books_of(asked.folder)
    if not books.begun:
        report = check_pdf(asked.file, asked.folder, day=asked.day, progress=progress)
    else:
        from labeler.bench.known_lots import lots_known

        with books.opened() as ledger:
            report = check_pdf(
                asked.file,
                asked.folder,
                day=asked.day,
                known_lot=lots_known(ledger),
                progress=progress,
            )
    if asked.proof is not None:
        write_proof(asked.file, report, asked.proof)
    return report


def _refuse_what_is_no_file(file: Path) -> None:
    """Refuse what can't be opened; a file that is no whole PDF gets a report."""
    place = Place(file=str(file))
    if file.is_dir():
        way = f"labeler --catalog {shlex.quote(str(file))} check"
        hint = f"To check a catalog: {way}. To check a PDF, name the file itself."
        raise LabelerError(stop("file-folder", place, "this is a folder, not a PDF", hint=hint))
    try:
        file.open("rb").close()
    except FileNotFoundError as error:
        beside = sorted(each.name for each in file.parent.glob("*.[pP][dD][fF]"))
        near = did_you_mean(file.name, beside)
        hint = near or "Give the path of the PDF, such as bags.pdf."
        raise LabelerError(
            stop("file-missing", place, "there is no such file", hint=hint)
        ) from error
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise LabelerError(
            stop("file-unread", place, "this file can't be opened", found=why)
        ) from error


def _refuse_to_bury_by(proof: Path, file: Path) -> None:
    """Refuse a proof under the name of the file that it is the proof of, or of another kind."""
    refuse_to_bury(proof)
    if proof.exists() and file.exists() and proof.samefile(file):
        raise LabelerError(
            stop(
                "proof-over-file",
                Place(file=str(proof)),
                "the proof would take the place of the file that is checked",
                hint="Give the proof a name of its own.",
            )
        )
