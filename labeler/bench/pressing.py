"""From pieces in their cells to a file with its run sheet, on record before it has its name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO

from labeler.bench.passing import Passing, Record, pass_for_press
from labeler.bench.wishes import Progress
from labeler.checker.report import Report
from labeler.layout.menu import Use
from labeler.press.impose import Plan
from labeler.press.pdf import write_pdf
from labeler.press.printer import Printer
from labeler.press.runsheet import TODAY, run_sheet
from labeler.press.ticket import Ticket

_TITLES: dict[Use, str] = {"bags": "Bag labels", "cards": "Cards"}


@dataclass(frozen=True, slots=True)
class Pressing:
    """One run on its way to the press.

    ``own`` is the catalog folder, ``maker`` whose goods they are, ``day`` the day whose rules they
    were made by, ``catalog`` its fingerprint, ``markets`` the places of sale by SKU. ``today``
    means that a lot's pieces are those of today's catalog, not those of the day it was opened.
    """

    use: Use
    plan: Plan
    own: Path
    maker: str
    day: str
    catalog: str
    printer: Printer
    markets: Mapping[str, tuple[str, ...]]
    outline: bool = False
    today: bool = False


def press(
    pressing: Pressing,
    out: Path,
    passing: Passing,
    record: Record | None = None,
    progress: Progress | None = None,
) -> Report:
    """Write a run's file and check it; the same run gives the same bytes.

    Args:
        pressing: the run.
        out: the file, which appears whole or not at all.
        passing: by what it is checked.
        record: called once all of it is on the disk and before it takes its name; if it raises,
            there is no file.
        progress: told of every page, drawn and then checked.

    Raises:
        LabelerError: if anything stops the press, or the file can't be written.
    """
    ticket, told = _ticket(pressing), _told(pressing.plan, progress)

    def write(file: BinaryIO, in_spite_of: tuple[str, ...]) -> None:
        write_pdf(pressing.plan, file, replace(ticket, in_spite_of=in_spite_of), told)

    return pass_for_press(out, write, passing, record, progress)


def _ticket(pressing: Pressing) -> Ticket:
    plan, printer = pressing.plan, pressing.printer
    ticket = Ticket(
        title=f"{_TITLES[pressing.use]}, {pressing.maker}",
        author=pressing.maker,
        subject=_subject(plan),
        printer=printer,
        outline=pressing.outline,
        own=pressing.own,
    )
    facts = {
        "use": pressing.use,
        "day": pressing.day,
        "catalog": pressing.catalog,
        "printer": printer.name,
        "dpi": plan.sheet.dpi or printer.dpi,
        "sheet": plan.sheet.name,
    } | ({"products": TODAY} if pressing.today else {})
    return replace(ticket, attached=(run_sheet(plan, ticket, facts, pressing.markets),))


def _subject(plan: Plan) -> str:
    sheets = "1 sheet" if plan.sheet_count == 1 else f"{plan.sheet_count} sheets"
    return f"{plan.piece_count} pieces on {sheets} {plan.sheet.name}"


def _told(plan: Plan, progress: Progress | None) -> Callable[[int], None] | None:
    if progress is None:
        return None
    return lambda page: progress(page, plan.page_count)
