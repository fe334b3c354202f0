"""Papers of the bench and the post, laid out as labels are, one piece a page."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO, cast

from labeler.findings import LabelerError, Place, did_you_mean, stop
from labeler.layout.compose import Composer, Paper
from labeler.layout.menu import Size
from labeler.layout.setup import InkMode
from labeler.press.deliver import delivered
from labeler.press.impose import Plan, impose
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


def on_pages(folder: Path, papers: Sequence[Paper], sheet: Sheet, ink: InkMode = "colour") -> Plan:
    """Return papers laid out, one a page.

    Raises:
        LabelerError: if a layout is at fault or something does not fit.
    """
    composer = Composer(folder, ink=ink)
    return impose([Order(composer.compose_paper(paper), 1) for paper in papers], sheet)


def deliver(
    out: Path,
    plan: Plan,
    ticket: Ticket,
    before: Callable[[str], None] | None = None,
    progress: Callable[[int], None] | None = None,
) -> None:
    """Write pages as a PDF that appears whole or not at all.

    Args:
        out: the file.
        plan: the pages on their paper.
        ticket: what the document is called.
        before: called with the file's SHA-256 once all of it is on the disk, before it takes its
            name; if it raises, there is no file.
        progress: called after each page with the number of pages so far.

    Raises:
        LabelerError: if the file can't be written.
    """
    with delivered(out) as file:
        hashed = Hashed(file)
        write_pdf(plan, cast("BinaryIO", hashed), ticket, progress)
        settle(file)
        if before:
            before(hashed.hexdigest)


class Hashed:
    """A file being written that knows the SHA-256 of what went into it."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._digest = hashlib.sha256()

    def write(self, data: bytes) -> int:
        """Write on."""
        self._digest.update(data)
        return self._file.write(data)

    @property
    def hexdigest(self) -> str:
        """The SHA-256 of all so far, in hexadecimal."""
        return self._digest.hexdigest()


def settle(file: BinaryIO) -> None:
    """Bring all that was written to the disk. A pipe or a device has none."""
    file.flush()
    with suppress(OSError):
        os.fsync(file.fileno())


def titled(title: str, author: str, own: Path, printer: Printer | None = None) -> Ticket:
    """Return the ticket of a paper."""
    return Ticket(title=title, author=author, own=own, printer=printer or Printer())
