"""A book becomes a PDF: live, tagged pages for reading, or sheets to print, fold and staple."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from labeler.geometry import Box, grown
from labeler.marks import BookPage, Field, Glyphs, Heading, Mark, Passage, VectorPath, line
from labeler.memory import gc_paused
from labeler.press.impose import FRAME, Ticket
from labeler.press.pdf.content import Content, clipped, moved
from labeler.press.pdf.document import (
    Form,
    PdfDocument,
    Tags,
    link,
    named_places,
    outline,
    page_boxes,
    page_labels,
    preview_frame,
)
from labeler.press.pdf.objects import Entries, Name, Ref, entries
from labeler.press.runsheet import BookSheet
from labeler.units import Length

THICKNESS = Length.from_mm(0.1).pt
"""A sheet of 80 to 90 g/m2 paper. Common practice, no published source."""


@dataclass(frozen=True, slots=True)
class SheetSide:
    """One side of one sheet. Pages are counted from 1; None is a blank one.

    Attributes:
        left: the page that stands on the left half.
        right: the page that stands on the right half.
        creep: how far both are moved to the fold, in points.
    """

    left: int | None
    right: int | None
    creep: float


def saddle_order(pages: int) -> list[tuple[int, int]]:
    """Return which pages stand side by side, side after side, the outermost sheet first.

    Odd sides are the outsides: on the first, the last page lies to the left of the first. Every
    pair adds up to the number of pages and one.
    Source: common practice of saddle stitching, as printers' guides on imposition tell it.

    Raises:
        ValueError: if ``pages`` is not a multiple of four above zero.
    """
    if pages < 4 or pages % 4:
        raise ValueError("a folded booklet has a multiple of four pages")
    sides = []
    for number in range(1, pages // 2 + 1):
        other = pages + 1 - number
        sides.append((other, number) if number % 2 else (number, other))
    return sides


def folded(pages: int, thickness: float = THICKNESS) -> list[SheetSide]:
    """Return the sides of the sheets for a book of ``pages``, blank ones before the last page.

    Every sheet lies around those within it, which so stand out at the fore-edge by their
    thickness; there the pages are moved to the fold by as much, and margins come out even.

    Args:
        pages: how many pages the book has.
        thickness: of one sheet, in points.
    """
    whole = -(-pages // 4) * 4
    sheets = whole // 4
    blank = whole - pages

    def page(place: int) -> int | None:
        if place == whole:
            return pages
        return place if place < pages or blank == 0 else None

    return [
        SheetSide(page(left), page(right), min(side // 2, sheets - 1) * thickness)
        for side, (left, right) in enumerate(saddle_order(whole))
    ]


Draw = Callable[[], BookPage]
"""Draws one page when it is its turn, so that no more than a page is kept."""

_MM = Length.from_mm(1).pt
_MARK_AT, _MARK_LONG, _MARK_WIDTH = 3 * _MM, 5 * _MM, 0.25
"""Crop marks as printers know them: 0.25 pt lines of 5 mm, 3 mm off the trim or past the bleed.
Common practice of prepress, no published source."""

_ABOVE = 6
"""How far above a named place the viewer's window begins, in points."""


@dataclass(frozen=True, slots=True)
class Binding:
    """How the pages leave the press.

    Attributes:
        bleed: how far ink runs past the trim, in points; with any, there are crop marks.
        booklet: whether two pages lie on each side of a sheet, to be folded and stapled.
        thickness: of a sheet, in points, for the booklet's creep.
        archive: whether the file is built after PDF/A-3b.
        facts: the edition's own; with any, a sheet for whoever checks the file travels inside.
    """

    bleed: float = 0.0
    booklet: bool = False
    thickness: float = THICKNESS
    archive: bool = False
    facts: Mapping[str, Any] | None = None


@gc_paused()
def write_book(
    pages: Sequence[Draw],
    headings: Sequence[Heading],
    target: BinaryIO,
    ticket: Ticket,
    binding: Binding,
    progress: Callable[[int], None] | None = None,
) -> None:
    """Write a book. The same pages and ticket give the same bytes.

    Pages for reading are tagged and have links, outline, page labels and fields; the sheets of a
    booklet are for the printer and have none. Those of a preview have no fields: nobody orders by
    prices that are only looked at.

    Args:
        pages: each drawn when it is its turn; all of one size.
        headings: the outline.
        target: a file open for writing; needs no seeking.
        ticket: title, language and the like.
        binding: single pages or a booklet, bleed, archive.
        progress: called after each page with the number of pages so far.

    Raises:
        LabelerError: if a face lacks letters, or a font or picture can't be embedded.
    """
    document = PdfDocument(target, ticket)
    sheet = BookSheet(binding.facts or {}, "booklet" if binding.booklet else "pages")
    places: Entries = {}
    if binding.booklet:
        about = _Booklet(document, ticket, binding, sheet).print(pages, progress)
    else:
        live = _LivePages(document, ticket, binding, sheet, len(pages))
        for count, draw in enumerate(pages, 1):
            live.print(draw())
            if progress:
                progress(count)
        about, places = live.finish(headings), named_places(live.places)
    files = (sheet.attachment(),) if binding.facts else ()
    document.finish(about, files, places, binding.archive)


class _LivePages:
    """Pages for reading, each by itself."""

    def __init__(
        self, document: PdfDocument, ticket: Ticket, binding: Binding, sheet: BookSheet, last: int
    ) -> None:
        self.document, self.file, self.ticket = document, document.file, ticket
        self.bleed, self.sheet, self.last = binding.bleed, sheet, last
        self.tags = Tags(self.file, ticket.title)
        self.form = Form(self.file, ticket.maker_folder)
        self.places: Entries = {}
        self.labels: list[str] = []

    def print(self, page: BookPage) -> None:
        """Write one page, live and tagged."""
        frame = _Frame(page.width, page.height, self.bleed, self.ticket.preview)
        ref = self.file.reserve()
        key = self.tags.open_page(ref)
        content = Content(self.document.shared)
        content.emit(frame.turned_over)
        annotations: list[Ref] = []
        at = f"page {self.document.page_count + 1} of {self.last}"
        content.draw_artifacts(frame.around(at, self.ticket.maker_folder))
        for passage in page.passages:
            self._draw(content, passage)
            if passage.link and passage.box:
                annotations.append(self._link(passage, frame.rectangle(passage.box)))
        content.draw_artifacts(frame.marks())
        fields = () if self.ticket.preview else page.fields
        annotations += [self._field(one, ref, frame.rectangle(one.box)) for one in fields]
        self.sheet.lay(page, self.document.page_count + 1, frame.edge, frame.edge)
        for name, y in page.anchors:
            top = round(frame.height - frame.edge - y + _ABOVE, 2)
            self.places.setdefault(name, [ref, Name("XYZ"), None, top, None])
        self.labels.append(page.label)
        about = self.document.page_entries(frame.boxes, content)
        about |= entries(StructParents=key, Tabs=Name("S"))
        if annotations:
            about["Annots"] = annotations
        self.document.add_page(about, ref)

    def _draw(self, content: Content, passage: Passage) -> None:
        if passage.marks or passage.path:  # a cell with nothing in it is a cell too
            if passage.path:
                content.begin(passage.path[-1].tag, {"MCID": self.tags.mark(passage.path)})
            else:
                content.begin("Artifact")
            content.draw(passage.marks)
            content.end()

    def _link(self, passage: Passage, rectangle: list[float]) -> Ref:
        words = (mark.text for mark in passage.marks if isinstance(mark, Glyphs))
        about = link(rectangle, passage.link, " ".join(words).strip() or passage.link)
        ref = self.file.reserve()
        if passage.path:
            about["StructParent"] = self.tags.own(passage.path, ref)
        return self.file.write(ref, about)

    def _field(self, field: Field, page: Ref, rectangle: list[float]) -> Ref:
        """Write a field; the tab key goes through them in the order in which they are written."""
        ref = self.file.reserve()
        where = entries(P=page, StructParent=self.tags.own(field.path, ref))
        return self.form.add(field, ref, rectangle, where)

    def finish(self, headings: Sequence[Heading]) -> Entries:
        """Write what belongs to the whole book, and return the catalog's entries."""
        about = entries(ViewerPreferences={"DisplayDocTitle": True})
        about |= page_labels(_labels(self.labels)) | outline(self.file, headings)
        return about | self.form.finish() | self.tags.finish()


class _Booklet:
    """The sides of sheets with two pages on each, to be folded and stapled."""

    def __init__(
        self, document: PdfDocument, ticket: Ticket, binding: Binding, sheet: BookSheet
    ) -> None:
        self.document, self.ticket, self.binding, self.sheet = document, ticket, binding, sheet

    def print(self, pages: Sequence[Draw], progress: Callable[[int], None] | None) -> Entries:
        """Write all sides, and return the catalog's entries."""
        done, sides = 0, folded(len(pages), self.binding.thickness)
        for at, side in enumerate(sides, 1):
            left = pages[side.left - 1]() if side.left else None
            right = pages[side.right - 1]() if side.right else None
            self._print_side(left, right, side.creep, f"side {at} of {len(sides)}")
            done += (left is not None) + (right is not None)
            if progress:
                progress(done)
        duplex, none = Name("DuplexFlipShortEdge"), Name("None")
        asked = entries(DisplayDocTitle=True, PrintScaling=none, Duplex=duplex)
        return entries(ViewerPreferences=asked)

    def _print_side(
        self, left: BookPage | None, right: BookPage | None, creep: float, says: str
    ) -> None:
        one = left or right
        assert one is not None  # only the last sheet has blanks, and one page on each side
        bleed, middle = self.binding.bleed, one.width
        frame = _Frame(2 * middle, one.height, bleed, self.ticket.preview)
        content = Content(self.document.shared)
        content.emit(frame.turned_over)
        content.draw_artifacts(frame.around(says, self.ticket.maker_folder))
        for page, x, outer in ((left, creep, -bleed), (right, middle - creep, middle)):
            if page is None:
                continue
            self.sheet.lay(page, self.document.page_count + 1, frame.edge + x, frame.edge)
            clip = clipped(outer, -bleed, middle + bleed, one.height + 2 * bleed)
            marks = [mark for passage in page.passages for mark in passage.marks]
            content.place(clip + moved((1, 0, 0, 1, x, 0)), marks)
        content.draw_artifacts(frame.marks(fold=middle))
        self.document.add_page(self.document.page_entries(frame.boxes, content))


@dataclass(frozen=True, slots=True)
class _Frame:
    """A page with what lies around its trim: bleed and crop marks, and the mat of a preview."""

    trim_width: float
    trim_height: float
    bleed: float
    preview: bool

    @property
    def edge(self) -> float:
        """How far the trim lies from the paper's edge, on every side."""
        marked = max(_MARK_AT, self.bleed) + _MARK_LONG + _MM if self.bleed else 0.0
        return marked + FRAME * self.preview

    @property
    def height(self) -> float:
        """Of the whole page."""
        return self.trim_height + 2 * self.edge

    @property
    def turned_over(self) -> str:
        """The operator that takes the trim's own coordinates to the page's."""
        return moved((1, 0, 0, -1, self.edge, self.height - self.edge))

    @property
    def boxes(self) -> Entries:
        """MediaBox, BleedBox and TrimBox, each inside the one before."""
        width = self.trim_width + 2 * self.edge
        media, bleed, trim = (
            (inset, inset, width - inset, self.height - inset)
            for inset in (0.0, self.edge - self.bleed, self.edge)
        )
        return page_boxes(media, bleed, trim)

    def rectangle(self, box: Box) -> list[float]:
        """Return a box of the trim as four numbers of the page, y up."""
        left, top, right, bottom = box
        base = self.height - self.edge
        edges = left + self.edge, base - bottom, right + self.edge, base - top
        return [round(edge, 2) for edge in edges]

    def around(self, says: str, maker_folder: Path | None) -> Iterator[Mark]:
        """Yield what lies around the paper of a preview, in the trim's own coordinates."""
        if self.preview:
            sheet = grown((0.0, 0.0, self.trim_width, self.trim_height), self.edge)
            yield from preview_frame(sheet, says, maker_folder)

    def marks(self, fold: float | None = None) -> list[VectorPath]:
        """Return the crop marks, and dashed ones for a fold, in the trim's own coordinates."""
        if not self.bleed:
            return []
        width, height = self.trim_width, self.trim_height
        near = max(_MARK_AT, self.bleed)
        far = near + _MARK_LONG
        down, across = (
            ((-near, -far), (length + near, length + far)) for length in (height, width)
        )
        solid: tuple[float, ...] = ()
        lines = [((x, begin), (x, end), solid) for x in (0.0, width) for begin, end in down]
        lines += [((begin, y), (end, y), solid) for y in (0.0, height) for begin, end in across]
        if fold is not None:
            lines += [((fold, begin), (fold, end), (2.0, 2.0)) for begin, end in down]
        return [line(begin, end, width=_MARK_WIDTH, dash=dash) for begin, end, dash in lines]


def _labels(labels: Sequence[str]) -> dict[int, Entries]:
    """Return how pages are labelled: with a label of their own, or with their number."""
    ways: dict[int, Entries] = {}
    counting = False
    for place, label in enumerate(labels):
        if label:
            ways[place] = entries(P=label)
        elif not counting:
            ways[place] = entries(S=Name("D"), St=place + 1)
        counting = not label
    return ways
