"""The job ticket that goes to the press with a plan: how to print it, and what to call it."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from labeler.press.printer import Printer


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file that travels inside the PDF."""

    name: str
    data: bytes
    media_type: str = "application/json"
    says: str = ""
    day: str = ""
    """Of what day it is, ISO 8601; empty where that does not matter."""


@dataclass(frozen=True, slots=True)
class Ticket:
    """What the press needs to know beside the plan.

    Attributes:
        title: of the document, shown in the viewer's window.
        language: of its words, as a BCP 47 tag.
        author: who made it; empty for nobody.
        subject: what it is about; empty for nothing.
        printer: the correction for the printer it will come from.
        outline: whether the cells are outlined, for a test print to hold against the sheet.
        own: the catalog folder, whose own fonts go before ours.
        attached: files that travel inside the PDF.
        in_spite_of: the rules that stopped it and that the maker overruled.
    """

    title: str
    language: str = "en"
    author: str = ""
    subject: str = ""
    printer: Printer = field(default_factory=Printer)
    outline: bool = False
    own: Path | None = None
    attached: tuple[Attachment, ...] = ()
    in_spite_of: tuple[str, ...] = ()

    @property
    def keywords(self) -> str:
        """What the document says of how it came about; empty where nothing was overruled."""
        return f"Made in spite of {', '.join(self.in_spite_of)}" if self.in_spite_of else ""
