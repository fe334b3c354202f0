"""Tables: columns as wide as what stands in them, rows ruled with hairlines, heads that repeat."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from labeler.book.flow import Unit
from labeler.book.typesetting import GREY, HAIR, Canvas, StructurePath, Words
from labeler.findings import Place
from labeler.geometry import Box
from labeler.layout.block import overflow
from labeler.marks import Element
from labeler.type.setting import Align

About = Callable[[Canvas, Box], None]
"""Tells the page what a row is about; it is given where the row stands."""

_GUTTER = 7.0
_PAD = 2.6


@dataclass(slots=True)
class TableColumn:
    """One column: its head's words, how its cells stand, and whether it takes the spare width."""

    head: Words
    align: Align = "left"
    spare: float = 0.0
    """Its share of the width that is left over; 0 for a column as wide as its words."""
    least: float = 0.0
    width: float = 0.0
    left: float = 0.0


@dataclass(slots=True)
class Cell:
    """What stands in one cell; ``link`` is where a touch leads."""

    words: Words
    link: str = ""
    paint: Callable[[Canvas, Box], None] | None = None
    """Draws something in a strip at the cell's left, ``strip`` points wide."""
    strip: float = 0.0


@dataclass(slots=True)
class BookTable:
    """A table's columns, measured over all its rows."""

    columns: list[TableColumn]
    path: StructurePath
    """The table's own path in the book's structure."""
    rows: list[list[Cell]] = field(default_factory=list)
    widths_for: float = -1.0

    def measure(self, width: float) -> None:
        """Share ``width`` out: firm columns take what their words take, others what is left.

        Raises:
            LabelerError: if the firm columns alone are wider.
        """
        if self.widths_for == width:
            return
        firm = 0.0
        for place, column in enumerate(self.columns):
            if not column.spare:
                cells = (row[place] for row in self.rows)
                widths = (cell.words.width() + cell.strip for cell in cells)
                wide = max([column.least, _widest_word(column.head), *widths])
                column.width = wide + 0.02
                firm += wide
        gutters = _GUTTER * (len(self.columns) - 1)
        spare = width - gutters - firm
        shares = sum(column.spare for column in self.columns)
        needs = sum(column.least for column in self.columns if column.spare)
        if spare < needs:
            heads = ", ".join(column.head.plain for column in self.columns)
            place_of_table = Place(block=f"table of {heads}")
            raise overflow(place_of_table, "the table's width", needs + firm + gutters, width)
        left = 0.0
        for column in self.columns:
            if column.spare:
                column.width = spare * column.spare / shares
            column.left = left
            left += column.width + _GUTTER
        self.widths_for = width


def _widest_word(words: Words) -> float:
    """Return the width of the widest word, in points: a head may break over lines."""
    return max((word.width for word in words.text.words), default=0.0) * words.text.most / 1000


@dataclass(slots=True)
class HeadRow(Unit):
    """A table's head, read only the first time that it is drawn."""

    table: BookTable
    about: About | None = None
    keep: bool = field(default=True, kw_only=True)
    drawn: bool = False

    def height(self, width: float) -> float:
        """Return the height of the highest head, with its rule."""
        self.table.measure(width)
        return max(c.head.height(c.width) for c in self.table.columns) + 2 * _PAD

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the heads above a rule."""
        row = Element("TR", f"{self.table.path[-1].key}.head")
        for place, column in enumerate(self.table.columns):
            left = box[0] + column.left
            inner = (left, box[1], left + column.width, box[3] - _PAD)
            cell = Element("TH", f"{row.key}.{place}", scope="Column")
            path: StructurePath = () if self.drawn else (*self.table.path, row, cell)
            canvas.write(column.head, inner, path, align=column.align, valign="bottom")
        self.drawn = True
        if self.about:
            self.about(canvas, box)
        canvas.rule(box[0], box[2], box[3] - HAIR / 2)


@dataclass(slots=True)
class BodyRow(Unit):
    """One row of cells on one first baseline, over a pale hairline."""

    table: BookTable
    cells: list[Cell]
    key: str
    about: About | None = None

    def __post_init__(self) -> None:
        self.table.rows.append(self.cells)

    def _baseline_and_depth(self) -> tuple[float, float]:
        """Return how far the cells reach above and below their one first baseline.

        An accent in one cell moves them all.
        """
        above = below = 0.0
        for cell, column in zip(self.cells, self.table.columns, strict=True):
            if cell.words.text.words:
                setting = cell.words.fit(column.width - cell.strip)
                above = max(above, setting.first_baseline)
                below = max(below, setting.height - setting.first_baseline)
        return above, below

    def height(self, width: float) -> float:
        """Return the height of the highest cell, with air."""
        self.table.measure(width)
        above, below = self._baseline_and_depth()
        return above + below + 2 * _PAD

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the cells, and what is painted beside their words."""
        row = Element("TR", f"{self.table.path[-1].key}.{self.key}")
        baseline, _ = self._baseline_and_depth()
        for place, (cell, column) in enumerate(zip(self.cells, self.table.columns, strict=True)):
            left = box[0] + column.left
            right = left + column.width
            if cell.paint:
                cell.paint(canvas, (left, box[1], left + cell.strip, box[3]))
            left += cell.strip
            if cell.words.text.words:
                top = box[1] + _PAD + baseline - cell.words.fit(right - left).first_baseline
                path = (*self.table.path, row, Element("TD", f"{row.key}.{place}"))
                inner = (left, top, right, box[3] + _PAD)
                canvas.write(cell.words, inner, path, align=column.align, link=cell.link)
        if self.about:
            self.about(canvas, box)
        canvas.rule(box[0], box[2], box[3], 0.2, GREY)


@dataclass(slots=True)
class SpanRow(Unit):
    """Words across the whole table: a group's heading, or what its rows must say."""

    table: BookTable
    words: Words
    key: str
    keep: bool = field(default=True, kw_only=True)
    heading: bool = True
    """Whether it heads the rows below, and a rule stands under it."""
    indent: float = 0.0
    paint: Callable[[Canvas, Box, float], None] | None = None
    """Draws a sign at the left; it is given the first baseline."""
    about: About | None = None

    def height(self, width: float) -> float:
        """Return the height of its lines, with air."""
        return self.words.height(width - self.indent) + 2 * _PAD

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the words, and a rule below a heading."""
        row = Element("TR", f"{self.table.path[-1].key}.{self.key}")
        span, key = len(self.table.columns), f"{row.key}.0"
        if self.heading:
            cell = Element("TH", key, scope="Column", span=span)
        else:
            cell = Element("TD", key, span=span)
        inner = (box[0] + self.indent, box[1] + _PAD, box[2], box[3])
        canvas.write(self.words, inner, (*self.table.path, row, cell))
        if self.about:
            self.about(canvas, box)
        if self.paint:
            baseline = self.words.fit(box[2] - box[0] - self.indent).first_baseline
            self.paint(canvas, box, box[1] + _PAD + baseline)
        if self.heading:
            canvas.rule(box[0], box[2], box[3] - HAIR / 2)


def keep_rows_company(rows: Sequence[Unit]) -> None:
    """Make the first two rows, and the last two, keep each other: none ever stands alone."""
    if len(rows) > 1:
        rows[0].keep = rows[-2].keep = True
