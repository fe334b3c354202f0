"""Papers of the bench and the post, laid out as labels are, one piece a page."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from labeler.findings import LabelerError, Place, did_you_mean, stop
from labeler.layout.compose import Composer, Paper
from labeler.layout.marks import Piece
from labeler.layout.menu import Size
from labeler.layout.setup import InkMode
from labeler.press.deliver import delivered
from labeler.press.impose import impose
from labeler.press.pdf import write_pdf
from labeler.press.placing import Order
from labeler.press.printer import Printer
from labeler.press.sheet import Sheet, whole_page
from labeler.press.ticket import Ticket
from labeler.units import Length

SIZES: dict[str, Size] = {
    "letter": (Length.from_inches(8.5).pt, Length.from_inches(11).pt),
    "a4": (Length.from_mm(210).pt, Length.from_mm(297).pt),
}
"""Sources: ANSI/ASME Y14.1 for Letter (A), ISO 216 for A4."""

_LETTER_COUNTRIES = ("US", "CA", "MX", "CL", "CO", "PH")
"""Where Letter is the usual paper. Common practice, no published source."""


def paper_for(country: str, asked: str = "") -> str:
    """Return the paper asked for, or the one usual in a country.

    Raises:
        LabelerError: if there is no paper of the name that is asked for.
    """
    if asked and asked not in SIZES:
        raise LabelerError(
            stop(
                "unknown-paper",
                Place(key="paper"),
                "papers of the bench are not made for this size",
                found=repr(asked),
                hint=did_you_mean(asked, list(SIZES)),
            )
        )
    return asked or ("letter" if country in _LETTER_COUNTRIES else "a4")


def page_of(name: str) -> Sheet:
    """Return a whole page as the sheet it is printed on."""
    return whole_page(f"{name}-page", *SIZES[name])


def lay_out(folder: Path, papers: Sequence[Paper], ink: InkMode = "colour") -> list[Piece]:
    """Return the pages, each laid out.

    Raises:
        LabelerError: if a layout is at fault or something does not fit.
    """
    composer = Composer(folder, ink=ink)
    return [composer.compose_paper(paper) for paper in papers]


def deliver(
    out: Path,
    pages: Sequence[Piece],
    ticket: Ticket,
    sheet: Sheet,
    before: Callable[[], None] | None = None,
) -> None:
    """Write pages as a PDF that appears whole or not at all.

    Args:
        out: the file.
        pages: in order.
        ticket: what the document is called.
        sheet: the paper.
        before: called once the file is whole on the disk, before it takes its name; if it
            raises, there is no file.

    Raises:
        LabelerError: if the file can't be written.
    """
    plan = impose([Order(page, 1) for page in pages], sheet)
    with delivered(out) as file:
        write_pdf(plan, file, ticket)
        settle(file)
        if before:
            before()


def settle(file: BinaryIO) -> None:
    """Bring all that was written to the disk. A pipe or a device has none."""
    file.flush()
    with suppress(OSError):
        os.fsync(file.fileno())


def titled(title: str, author: str, own: Path, printer: Printer | None = None) -> Ticket:
    """Return the ticket of a paper."""
    return Ticket(title=title, author=author, own=own, printer=printer or Printer())
