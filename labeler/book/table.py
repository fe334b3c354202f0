"""Tables: columns as wide as what stands in them, rows ruled with hairlines, heads that repeat."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from labeler.book.flow import Unit
from labeler.book.typesetting import GREY, HAIR, Canvas, Words
from labeler.findings import LabelerError, Place
from labeler.geometry import Box
from labeler.layout.block import overflow
from labeler.marks import VectorPath
from labeler.press.leaf import Element
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
class Table:
    """A table's columns, measured over all its rows."""

    columns: list[TableColumn]
    path: tuple[Element, ...]
    """The table's own path in the book's structure."""
    rows: list[list[Cell]] = field(default_factory=list)
    widths_for: float = -1.0

    def row(self, cells: Sequence[Cell]) -> None:
        """Add a row, so that its cells are measured."""
        self.rows.append(list(cells))

    def measure(self, width: float) -> None:
        """Share ``width`` out: firm columns take what their words take, others what is left.

        Raises:
            LabelerError: if the firm columns alone are wider.
        """
        if self.widths_for == width:
            return
        gutters = _GUTTER * (len(self.columns) - 1)
        firm = 0.0
        for place, column in enumerate(self.columns):
            if not column.spare:
                wide = max([column.least, _word_width(column.head), *(
                    row[place].words.width() + row[place].strip for row in self.rows)])  # fmt: skip
                column.width = wide + 0.02
                firm += wide
        spare = width - gutters - firm
        shares = sum(column.spare for column in self.columns)
        needs = sum(column.least for column in self.columns if column.spare)
        if spare < needs:
            raise _too_wide(self.columns, needs + firm + gutters, width)
        left = 0.0
        for column in self.columns:
            if column.spare:
                column.width = spare * column.spare / shares
            column.left = left
            left += column.width + _GUTTER
        self.widths_for = width


def _too_wide(columns: Sequence[TableColumn], needs: float, has: float) -> LabelerError:
    """Return the error for a table whose columns do not stand side by side."""
    heads = ", ".join(_said(column.head) for column in columns)
    return overflow(Place(block=f"table of {heads}"), "the table's width", needs, has)


def _said(words: Words) -> str:
    return "".join(span.text for span in words.text.spans)


def _word_width(words: Words) -> float:
    """Return the width of the widest word: a head may break over lines."""
    return max((word.width for word in words.text.words), default=0.0) * words.text.most / 1000


@dataclass(slots=True)
class HeadRow:
    """A table's head."""

    table: Table
    gap: float = 0.0
    keep: bool = True
    head: Unit | None = None
    times: list[int] = field(default_factory=lambda: [0])
    about: About | None = None

    def height(self, width: float) -> float:
        """Return the height of the highest head, with its rule."""
        self.table.measure(width)
        return max(c.head.height(c.width) for c in self.table.columns) + 2 * _PAD

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the heads above a rule; only the first time are they read."""
        first = self.times[0] == 0
        self.times[0] += 1
        key = f"{self.table.path[-1].key}.head"
        for place, column in enumerate(self.table.columns):
            left = box[0] + column.left
            inner = (left, box[1], left + column.width, box[3] - _PAD)
            marks, ink = column.head.glyphs(inner, column.align, "bottom")
            if not marks:
                continue
            canvas.take(ink, "table head")
            if first:
                cell = Element("TH", f"{key}.{place}", scope="Column")
                canvas.put(marks, (*self.table.path, Element("TR", key), cell))
            else:
                canvas.decorate(*marks)
        if self.about:
            self.about(canvas, box)
        canvas.rule(box[0], box[2], box[3] - HAIR / 2)


@dataclass(slots=True)
class BodyRow:
    """One row of cells over a pale hairline."""

    table: Table
    cells: list[Cell]
    key: str
    gap: float = 0.0
    keep: bool = False
    head: Unit | None = None
    ruled: bool = True
    about: About | None = None

    def height(self, width: float) -> float:
        """Return the height of the highest cell, with air."""
        self.table.measure(width)
        below = 0.0
        for cell, column in self._filled():
            setting = cell.words.fit(column.width - cell.strip)
            below = max(below, setting.height - setting.first_baseline)
        return self._baseline() + below + 2 * _PAD

    def _filled(self) -> list[tuple[Cell, TableColumn]]:
        pairs = zip(self.cells, self.table.columns, strict=True)
        return [(cell, column) for cell, column in pairs if cell.words.text.words]

    def _baseline(self) -> float:
        """Return how far down the first baseline of all cells lies: an accent moves them all."""
        baselines = (c.words.fit(col.width - c.strip).first_baseline for c, col in self._filled())
        return max(baselines, default=0.0)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the cells on one first baseline."""
        row = Element("TR", f"{self.table.path[-1].key}.{self.key}")
        baseline = self._baseline()
        for place, (cell, column) in enumerate(zip(self.cells, self.table.columns, strict=True)):
            left = box[0] + column.left
            if cell.paint:
                cell.paint(canvas, (left, box[1], left + cell.strip, box[3]))
            top = box[1] + _PAD
            if cell.words.text.words:
                top += baseline - cell.words.fit(column.width - cell.strip).first_baseline
            inner = (left + cell.strip, top, left + column.width, box[3] + _PAD)
            marks, ink = cell.words.glyphs(inner, column.align)
            path: tuple[Element, ...] = (*self.table.path, row, Element("TD", f"{row.key}.{place}"))
            if not marks:
                continue
            if cell.link:
                path = (*path, Element("Link", f"{row.key}.{place}.link"))
            canvas.take(ink, cell.words.place.block)
            canvas.put(marks, path, cell.link, ink if cell.link else None)
        if self.about:
            self.about(canvas, box)
        if self.ruled:
            line = VectorPath(
                (("M", box[0], box[3]), ("L", box[2], box[3])), stroke=GREY, width=0.2
            )
            canvas.decorate(line)


@dataclass(slots=True)
class SpanRow:
    """Words across the whole table: a group's heading, or what its rows must say."""

    table: Table
    words: Words
    key: str
    gap: float = 0.0
    keep: bool = True
    head: Unit | None = None
    ruled: bool = False
    heading: bool = True
    indent: float = 0.0
    paint: Callable[[Canvas, Box, float], None] | None = None
    """Draws a sign at the left; it is given the first baseline."""
    about: About | None = None

    def height(self, width: float) -> float:
        """Return the height of its lines, with air."""
        return self.words.height(width - self.indent) + 2 * _PAD

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the words, and a rule below a heading."""
        inner = (box[0] + self.indent, box[1] + _PAD, box[2], box[3])
        marks, ink = self.words.glyphs(inner)
        row = Element("TR", f"{self.table.path[-1].key}.{self.key}")
        span, key = len(self.table.columns), f"{row.key}.0"
        cell = Element("TD", key, span=span)
        if self.heading:
            cell = Element("TH", key, scope="Column", span=span)
        canvas.put(marks, (*self.table.path, row, cell))
        canvas.take(ink, self.words.place.block)
        if self.about:
            self.about(canvas, box)
        if self.paint:
            baseline = self.words.fit(box[2] - box[0] - self.indent).first_baseline
            self.paint(canvas, box, box[1] + _PAD + baseline)
        if self.ruled:
            canvas.rule(box[0], box[2], box[3] - HAIR / 2)


def rows_kept(rows: Sequence[BodyRow | SpanRow]) -> None:
    """Make the first two rows, and the last two, keep each other: none ever stands alone."""
    if len(rows) > 1:
        rows[0].keep = True
        rows[-2].keep = True
