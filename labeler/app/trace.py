"""Tracing: from anything in hand to the lots it touches, as a table, a CSV or a sheet of paper."""

from __future__ import annotations

from pathlib import Path

from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.files import delivered, refuse_one_name, refuse_to_bury
from labeler.findings import LabelerError
from labeler.ledger.lots import fold
from labeler.ledger.store import Ledger, last_change
from labeler.ledger.trace import Trace, trace


def ask(
    folder: Path, text: str, csv: Path | None = None, sheet: Path | None = None, paper: str = ""
) -> tuple[Trace, LedgerLocation]:
    """Answer a question, and write the files that are asked for: they appear whole or not at all.

    Args:
        folder: the catalog.
        text: what is in hand: a supplier's lot, a lot code, a SKU, a dealer, a day.
        csv: a file for the table of the answer.
        sheet: a PDF for the recall sheet.
        paper: the sheet's; empty takes the maker's country's.

    Raises:
        LabelerError: if nothing in the ledger bears that name, or a file can't be written.
    """
    if sheet is not None:
        refuse_to_bury(sheet)
    refuse_one_name(*filter(None, (sheet, csv)))
    location = ledger_location(folder)
    with location.opened() as ledger:
        found = _traced(ledger, folder, text)
        if csv is not None:
            table = found.as_csv().encode("utf-8-sig")
            refuse_to_bury(csv, alike=table.partition(b"\r\n")[0])
            with delivered(csv) as file:
                file.write(table)
        if sheet is not None:
            from labeler.app.papers import print_recall_sheet  # loads the layouts

            changed = last_change(ledger)
            as_of = location.clock(changed) if changed else ""
            print_recall_sheet(folder, sheet, ledger, found, as_of, paper)
    return found, location


def _traced(ledger: Ledger, folder: Path, text: str) -> Trace:
    """Look for the text, and if nobody bears that name, for the dealer of that heading."""
    try:
        return trace(ledger, text)
    except LabelerError:
        from labeler.catalog.read import examine  # only where the ledger does not know the name

        catalog, _ = examine(folder)
        known = catalog.file.dealers.items() if catalog else ()
        meant = [dealer.name for heading, dealer in known if fold(heading) == fold(text)]
        if not meant:
            raise
        return trace(ledger, meant[0])
