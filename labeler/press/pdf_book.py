"""A book becomes a PDF: live, tagged pages for reading, or sheets to print, fold and staple."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, BinaryIO

from labeler.geometry import Box
from labeler.marks import Glyphs, VectorPath
from labeler.memory import gc_paused
from labeler.press.booklet import THICKNESS, folded
from labeler.press.impose import Ticket
from labeler.press.leaf import BookPage, Heading, Passage
from labeler.press.pdf_archive import archive_entries
from labeler.press.pdf_catalog import attached, info_entries
from labeler.press.pdf_content import Content, Inkwell
from labeler.press.pdf_file import PdfFile, text_string
from labeler.press.pdf_form import Form
from labeler.press.pdf_ink import moved
from labeler.press.pdf_links import Anchors, link, outline, rectangle
from labeler.press.pdf_picture import Pictures
from labeler.press.pdf_tags import TaggedPage, Tags
from labeler.press.pdf_type import TypeCase
from labeler.press.runsheet import BookSheet
from labeler.units import Length

Draw = Callable[[], BookPage]
"""Draws one page when it is its turn, so that no more than a page is kept."""

_MM = Length.from_mm(1).pt
_MARK_AT, _MARK_LONG, _MARK_WIDTH = 3 * _MM, 5 * _MM, 0.25
"""Crop marks as printers know them: 0.25 pt lines of 5 mm, 3 mm off the trim or past the bleed.
Common practice of prepress, no published source."""


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
    booklet are for the printer and have none.

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
    file = PdfFile(target)
    press = _BookPress(file, ticket, binding)
    if binding.booklet:
        press.print_sheets(pages, progress)
    else:
        press.print_pages(pages, progress)
    entries = press.finish(headings)
    file.finish(entries, info_entries(ticket))


class _BookPress:
    """The pages of one book's PDF."""

    def __init__(self, file: PdfFile, ticket: Ticket, binding: Binding) -> None:
        self.file, self.ticket, self.binding = file, ticket, binding
        self.well = Inkwell(file, TypeCase(file, ticket.own), Pictures(file))
        self.tags = None if binding.booklet else Tags(file, ticket.title)
        self.anchors, self.form = Anchors(file), Form(file, ticket.own)
        self.labels: list[str] = []
        self.sheet = BookSheet(binding.facts or {}, "booklet" if binding.booklet else "pages")

    def print_pages(self, pages: Sequence[Draw], progress: Callable[[int], None] | None) -> None:
        """Write each page by itself, live and tagged."""
        for count, draw in enumerate(pages, 1):
            self._print_page(draw())
            if progress:
                progress(count)

    def _print_page(self, leaf: BookPage) -> None:
        frame = _Frame(leaf.width, leaf.height, self.binding.bleed)
        number = self.file.reserve()
        assert self.tags is not None  # a booklet does not come here
        tagged = self.tags.open_page(number)
        content = Content(self.well)
        content.emit(moved((1, 0, 0, -1, frame.left, frame.height - frame.top)))
        touched: list[int] = []
        for passage in leaf.passages:
            self._passage(content, passage, tagged)
            if passage.link and passage.box:
                touched.append(self._link(passage, tagged, frame))
        content.draw_artifacts(frame.crop_marks((leaf.width,)))
        touched += self._fields(leaf, tagged, frame)
        self.sheet.lay(leaf, self.file.page_count + 1, frame.left, frame.top)
        for name, y in leaf.anchors:
            self.anchors.add(name, number, frame.height - frame.top - y + 6)
        self.tags.close_page(tagged)
        self.labels.append(leaf.label)
        stream = self.file.add_stream(content.data())
        annotations = f"/Annots[{' '.join(f'{n} 0 R' for n in touched)}]" if touched else ""
        self.file.add_page(
            f"{frame.boxes}/Contents {stream} 0 R/Resources{content.resources()}"
            f"/StructParents {tagged.key}/Tabs/S{annotations}",
            number,
        )

    def _passage(self, content: Content, passage: Passage, tagged: TaggedPage) -> None:
        if not passage.marks:
            return
        content.emit(tagged.begin(passage.path) if passage.path else "/Artifact BMC")
        content.draw(passage.marks)
        content.emit("EMC")

    def _link(self, passage: Passage, tagged: TaggedPage, frame: _Frame) -> int:
        number = self.file.reserve()
        assert passage.box is not None  # links have a box to touch
        where = rectangle(passage.box, (frame.left, frame.top), frame.height)
        tree = f"/StructParent {tagged.own(passage.path, number)}" if passage.path else ""
        entries = link(where, passage.link, _words(passage) or passage.link, tree)
        return self.file.write(number, f"<<{entries}>>".encode("ascii"))

    def _fields(self, leaf: BookPage, tagged: TaggedPage, frame: _Frame) -> list[int]:
        """Write the page's fields in their order, which is the order of the tab key."""
        numbers = []
        for field in leaf.fields:
            number = self.file.reserve()
            where = f"/P {tagged.page} 0 R/StructParent {tagged.own(field.path, number)}"
            box = rectangle(field.box, (frame.left, frame.top), frame.height)
            self.form.add(field, number, box, where)
            numbers.append(number)
        return numbers

    def print_sheets(self, pages: Sequence[Draw], progress: Callable[[int], None] | None) -> None:
        """Write the sides of sheets with two pages on each."""
        done = 0
        for side in folded(len(pages), self.binding.thickness):
            left = pages[side.left - 1]() if side.left else None
            right = pages[side.right - 1]() if side.right else None
            self._print_side(left, right, side.creep)
            done += (left is not None) + (right is not None)
            if progress:
                progress(done)

    def _print_side(self, left: BookPage | None, right: BookPage | None, creep: float) -> None:
        one = left or right
        assert one is not None  # only the last sheet has blanks, and one page on each side
        frame = _Frame(one.width * 2, one.height, self.binding.bleed)
        content = Content(self.well)
        content.emit(moved((1, 0, 0, -1, frame.left, frame.height - frame.top)))
        bleed, middle = self.binding.bleed, one.width
        for leaf, x, way in ((left, 0.0, 1), (right, middle, -1)):
            if leaf is None:
                continue
            outer, tall = (-bleed if way > 0 else middle), one.height + 2 * bleed
            clip = f"{outer:.3f} {-bleed:.3f} {middle + bleed:.3f} {tall:.3f} re W n "
            self.sheet.lay(leaf, self.file.page_count + 1, frame.left + x + way * creep, frame.top)
            marks = [mark for passage in leaf.passages for mark in passage.marks]
            content.place(clip + moved((1, 0, 0, 1, x + way * creep, 0)), marks, ())
        content.draw_artifacts([*frame.crop_marks((2 * middle,)), *frame.fold_marks(middle)])
        stream = self.file.add_stream(content.data())
        self.file.add_page(f"{frame.boxes}/Contents {stream} 0 R/Resources{content.resources()}")

    def finish(self, headings: Sequence[Heading]) -> str:
        """Write what belongs to the whole book, and return the catalog's entries."""
        entries = f"/Lang{text_string(self.ticket.language)}"
        if self.tags is None:
            turned = "/Duplex/DuplexFlipShortEdge"
            entries += f"/ViewerPreferences<</DisplayDocTitle true/PrintScaling/None{turned}>>"
        else:
            entries += "/ViewerPreferences<</DisplayDocTitle true>>"
            entries += f"/PageLabels<</Nums[{_labels(self.labels)}]>>"
            entries += outline(self.file, headings)
            entries += self.form.finish() + self.tags.finish()
        files = (self.sheet.attachment(),) if self.binding.facts else ()
        entries += attached(self.file, files, self.anchors.finish() if self.tags else "")
        if self.binding.archive:
            entries += archive_entries(self.file, self.ticket)
        return entries


@dataclass(frozen=True, slots=True)
class _Frame:
    """A page with what lies around its trim: bleed and crop marks, where there is a bleed."""

    trim_width: float
    trim_height: float
    bleed: float

    @property
    def left(self) -> float:
        """How far the trim lies from the paper's edge, on every side."""
        return max(_MARK_AT, self.bleed) + _MARK_LONG + _MM if self.bleed else 0.0

    @property
    def top(self) -> float:
        """As on the left."""
        return self.left

    @property
    def height(self) -> float:
        """Of the whole page."""
        return self.trim_height + 2 * self.top

    @property
    def boxes(self) -> str:
        """MediaBox, BleedBox and TrimBox, each inside the one before."""
        width, edge = self.trim_width + 2 * self.left, self.left
        around = {"MediaBox": edge, "BleedBox": self.bleed, "TrimBox": 0.0}
        return "".join(
            f"/{name}[{edge - out:.4f} {edge - out:.4f} {width - edge + out:.4f} "
            f"{self.height - edge + out:.4f}]"
            for name, out in around.items()
        )

    def crop_marks(self, across: tuple[float, ...]) -> list[VectorPath]:
        """Return the marks at the corners, in the trim's own coordinates."""
        if not self.bleed:
            return []
        near = max(_MARK_AT, self.bleed)
        far = near + _MARK_LONG
        lines = []
        for x in (0.0, *across):
            lines += [((x, -near), (x, -far)), ((x, self.trim_height + near),
                      (x, self.trim_height + far))]  # fmt: skip
        for y in (0.0, self.trim_height):
            lines += [((-near, y), (-far, y)), ((self.trim_width + near, y),
                      (self.trim_width + far, y))]  # fmt: skip
        return [_line(begin, end) for begin, end in lines]

    def fold_marks(self, x: float) -> list[VectorPath]:
        """Return the dashed marks of the fold, outside the trim."""
        if not self.bleed:
            return []
        near, far = max(_MARK_AT, self.bleed), max(_MARK_AT, self.bleed) + _MARK_LONG
        foot = self.trim_height
        ends = (((x, -near), (x, -far)), ((x, foot + near), (x, foot + far)))
        return [_line(begin, end, dash=(2.0, 2.0)) for begin, end in ends]


def _line(
    begin: tuple[float, float], end: tuple[float, float], dash: tuple[float, ...] = ()
) -> VectorPath:
    return VectorPath((("M", *begin), ("L", *end)), stroke="#000000", width=_MARK_WIDTH, dash=dash)


def _words(passage: Passage) -> str:
    return " ".join(mark.text for mark in passage.marks if isinstance(mark, Glyphs)).strip()


def _labels(labels: Sequence[str]) -> str:
    """Return page labels: a page's own, or its number (ISO 32000-1:2008, 12.4.2)."""
    parts, counting = [], False
    for place, label in enumerate(labels):
        if label:
            parts.append(f"{place}<</P{text_string(label)}>>")
        elif not counting:
            parts.append(f"{place}<</S/D/St {place + 1}>>")
        counting = not label
    return "\n".join(parts)


__all__ = ["Binding", "Box", "Draw", "write_book"]
