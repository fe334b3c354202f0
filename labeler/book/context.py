"""What every section of the book works with: the edition, its type, and the frame of its pages."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from labeler.book.edition import Edition, PriceListStatements, entries_of, title_of
from labeler.book.flow import ColumnBox, Paragraph
from labeler.book.typesetting import Canvas, StructurePath, Typesetter, across
from labeler.findings import Finding, Place
from labeler.marks import Element
from labeler.type.setting import Align


@dataclass(frozen=True, slots=True)
class PageFrame:
    """Where the text stands on a page, in points.

    Inner and outer margins are alike, so that single pages and bound ones come out the same.
    """

    width: float
    height: float
    side: float
    top: float
    foot: float

    @property
    def measure(self) -> float:
        """The width of the text."""
        return self.width - 2 * self.side

    def columns(self, count: int = 1, top: float = 0.0) -> list[ColumnBox]:
        """Return ``count`` columns side by side, beginning at ``top`` if that is given."""
        text = (self.side, top or self.top, self.width - self.side, self.height - self.foot)
        return [ColumnBox(*box) for box in across(text, count, 22.0)]


class BookContext:
    """A book in the making: what its sections ask for, and what they find."""

    def __init__(self, edition: Edition) -> None:
        self.edition = edition
        self.folder = Path(edition.catalog.folder)
        self.setter = Typesetter(self.folder)
        self.entries = entries_of(edition.products)
        self.statements = PriceListStatements(edition)
        margins = (34.0, 52.0, 44.0) if edition.small else (52.0, 70.0, 56.0)
        self.frame = PageFrame(edition.width, edition.height, *margins)
        self.findings: list[Finding] = []
        self.headings: list[tuple[str, str]] = []
        """Titles and anchors of the sections after the patterns."""
        self.starts: dict[str, int] = {}
        """On which page, counted from 1, each anchor lies; filled in once all is laid out."""

    def title(self, text: str, anchor: str, path: StructurePath) -> Paragraph:
        """Return a section's title, which keeps what follows."""
        scale = 0.58 if self.edition.small else 0.72
        words = self.setter.words("book-pattern", text, scale=scale)
        path = (*path, Element("H1", f"{anchor}.title"))
        return Paragraph(words, path, gap=0, keep=True, anchor=anchor, rule_below=9)

    def canvas(self) -> Canvas:
        """Return an empty page."""
        edition = self.edition
        return Canvas(edition.width, edition.height, edition.bleed, edition.ink == "black")

    def draw_furniture(self, canvas: Canvas, running: str, folio: int) -> None:
        """Draw running head and folio: decoration, which is not read aloud on every page."""
        frame, setter = self.frame, self.setter
        right = frame.width - frame.side
        whose = f"{self.edition.catalog.file.maker.name} · {title_of(self.edition)}"
        left_page = folio % 2 == 0
        line = frame.top - 22
        heads = across((frame.side, line - 13, right, line), 2, 16.0)
        texts = (running, whose) if left_page else (whose, running)
        aligns: tuple[Align, Align] = ("left", "right")
        for text, box, align in zip(texts, heads, aligns, strict=True):
            place = Place(block="running head")
            words = setter.words("book-running", text, place=place, lines=1, least=3.0)
            canvas.write(words, box, (), align=align)
        canvas.rule(frame.side, right, line)
        number = setter.words("book-folio", str(folio), place=Place(block="folio"), lines=1)
        foot = frame.height - frame.foot + 20
        box = (frame.side, foot, right, foot + 14)
        canvas.write(number, box, (), align="left" if left_page else "right")
