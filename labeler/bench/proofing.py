"""Checking a finished PDF against the catalog, the markets' rules and the ledger."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from labeler.bench.ledgers import books_of
from labeler.checker.judge import check_pdf
from labeler.checker.proof import write_proof
from labeler.checker.report import Report
from labeler.checker.subject import KnownLot
from labeler.findings import LabelerError
from labeler.ledger.lots import find
from labeler.ledger.store import Ledger


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
    books = books_of(asked.folder)
    if not books.begun:
        report = check_pdf(asked.file, asked.folder, day=asked.day, progress=progress)
    else:
        with books.opened() as ledger:
            report = check_pdf(
                asked.file,
                asked.folder,
                day=asked.day,
                known_lot=lambda code: _known(ledger, code),
                progress=progress,
            )
    if asked.proof is not None:
        write_proof(asked.file, report, asked.proof)
    return report


def _known(ledger: Ledger, code: str) -> KnownLot | None:
    try:
        return find(ledger, code)
    except LabelerError:
        return None
