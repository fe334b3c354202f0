"""Tracing: from anything in hand to the lots it touches, as a table, a CSV or a sheet of paper."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.files import delivered, refuse_one_name, refuse_to_bury
from labeler.findings import LabelerError
from labeler.ledger.lots import fold
from labeler.ledger.store import Ledger, last_change
from labeler.ledger.trace import Trace, trace


@dataclass(frozen=True, slots=True)
class TraceRequest:
    """What to ask, and what to write beside the answer."""

    folder: Path
    text: str
    csv: Path | None = None
    sheet: Path | None = None
    paper: str = ""


def ask(request: TraceRequest) -> tuple[Trace, LedgerLocation]:
    """Answer a question, and write the files that are asked for: they appear whole or not at all.

    Raises:
        LabelerError: if nothing in the ledger bears that name, or a file can't be written.
    """
    if request.sheet is not None:
        refuse_to_bury(request.sheet)
    refuse_one_name(*filter(None, (request.sheet, request.csv)))
    location = ledger_location(request.folder)
    with location.opened() as ledger:
        found = _traced(ledger, request)
        if request.csv is not None:
            table = found.as_csv().encode("utf-8-sig")
            refuse_to_bury(request.csv, alike=table.partition(b"\r\n")[0])
            with delivered(request.csv) as file:
                file.write(table)
        if request.sheet is not None:
            from labeler.app.papers import RecallSheet, print_recall_sheet  # loads the layouts

            changed = last_change(ledger)
            as_of = location.clock(changed) if changed else ""
            sheet = RecallSheet(request.folder, request.sheet, found, as_of, request.paper)
            print_recall_sheet(sheet, ledger)
    return found, location


def _traced(ledger: Ledger, request: TraceRequest) -> Trace:
    """Look for the text, and if nobody bears that name, for the dealer of that heading."""
    try:
        return trace(ledger, request.text)
    except LabelerError:
        from labeler.catalog.read import examine  # only where the ledger does not know the name

        catalog, _ = examine(request.folder)
        known = catalog.file.dealers.items() if catalog else ()
        meant = [dealer.name for heading, dealer in known if fold(heading) == fold(request.text)]
        if not meant:
            raise
        return trace(ledger, meant[0])
