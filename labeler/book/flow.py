"""Units flow down columns and over pages: what belongs together stays together.

A unit is never broken. A heading keeps the unit after it; the first two and the last two rows of
a table keep each other, so that no row stands alone; a table's head stands again on each page.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from labeler.book.typesetting import HAIR, Canvas, StructurePath, Words
from labeler.findings import LabelerError, Place, stop
from labeler.geometry import Box
from labeler.marks import Element
from labeler.type.setting import Align
from labeler.units import SLACK_PT, Length


@dataclass(kw_only=True, match_args=False)
class Unit(Protocol):
    """Something that stands in the flow.

    Attributes:
        gap: the space above it, dropped at the top of a column.
        keep: whether the next unit must stand in the same column.
        head: what is drawn above it when it comes first in a later column.
    """

    gap: float = 0.0
    keep: bool = False
    head: Unit | None = None

    def height(self, width: float) -> float:
        """Return how high it stands in a column so wide."""

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw it in its box."""


@dataclass(frozen=True, slots=True)
class ColumnBox:
    """A place for units: its box on the page."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """From left to right."""
        return self.right - self.left


@dataclass(slots=True)
class FilledPage:
    """A page's units, each in its box."""

    units: list[tuple[Unit, Box]] = field(default_factory=list)

    def draw(self, canvas: Canvas) -> None:
        """Draw them in their order."""
        for unit, box in self.units:
            unit.draw(canvas, box)


def flow(
    units: Sequence[Unit],
    columns: Sequence[ColumnBox],
    later: Sequence[ColumnBox] = (),
    where: str = "",
) -> list[FilledPage]:
    """Return the pages that the units come to.

    Args:
        units: in reading order.
        columns: of the first page.
        later: of the pages after it, if they are others.
        where: what to name when something is higher than a page.

    Raises:
        LabelerError: if units that belong together are higher than any column.
    """
    return _Flow(columns, later or columns, where).lay(units)


class _Flow:
    """The pages as they fill up: ``column`` is the one being filled, down to ``y``."""

    def __init__(self, first: Sequence[ColumnBox], later: Sequence[ColumnBox], where: str) -> None:
        self.where = where
        self.pages: list[FilledPage] = []
        self._columns = self._page_by_page(first, later)
        self._heights: dict[tuple[int, float], float] = {}
        self._begin_column()

    def _page_by_page(
        self, first: Sequence[ColumnBox], later: Sequence[ColumnBox]
    ) -> Iterator[ColumnBox]:
        """Yield columns page after page, and begin a page when its first is asked for."""
        while True:
            columns = later if self.pages else first
            self.pages.append(FilledPage())
            yield from columns

    def _begin_column(self) -> None:
        self.column = next(self._columns)
        self.y = self.column.top

    def _at_top(self) -> bool:
        return self.y <= self.column.top + SLACK_PT

    def _measure(self, unit: Unit) -> float:
        """Measure each unit once for each width, however often it is asked."""
        key = id(unit), self.column.width
        if key not in self._heights:
            self._heights[key] = unit.height(self.column.width)
        return self._heights[key]

    def _fits(self, cluster: Sequence[Unit]) -> bool:
        return self.y + self._need(cluster) <= self.column.bottom + SLACK_PT

    def _need(self, cluster: Sequence[Unit]) -> float:
        gaps = sum(unit.gap for unit in cluster) - (cluster[0].gap if self._at_top() else 0.0)
        return gaps + sum(map(self._measure, cluster))

    def lay(self, units: Sequence[Unit]) -> list[FilledPage]:
        """Lay the units, cluster after cluster of those that keep each other."""
        cluster: list[Unit] = []
        for number, unit in enumerate(units, 1):
            cluster.append(unit)
            if not unit.keep or number == len(units):
                self._lay_together(cluster)
                cluster = []
        return self.pages

    def _lay_together(self, cluster: list[Unit]) -> None:
        if not self._at_top() and not self._fits(cluster):
            self._begin_column()
            if cluster[0].head is not None:
                cluster = [cluster[0].head, *cluster]
        # The first page's columns may be shorter than those after it.
        for _ in range(3):
            if self._fits(cluster):
                break
            self._begin_column()
        else:
            if not self._fits(cluster):
                raise self._too_high(cluster)
        for unit in cluster:
            if not self._at_top():
                self.y += unit.gap
            height = self._measure(unit)
            box = (self.column.left, self.y, self.column.right, self.y + height)
            self.pages[-1].units.append((unit, box))
            self.y += height

    def _too_high(self, cluster: Sequence[Unit]) -> LabelerError:
        room = self.column.bottom - self.column.top
        return LabelerError(
            stop(
                "book-overflow",
                Place(piece=self.where),
                "something is higher than a page",
                found=f"it needs {Length(self._need(cluster)).mm:.0f} mm",
                expected=f"at most {Length(room).mm:.0f} mm",
                hint="Shorten its text, or choose larger paper.",
            )
        )


@dataclass(slots=True)
class Paragraph(Unit):
    """Words of one tag; a heading keeps what follows."""

    words: Words
    path: StructurePath
    gap: float = field(default=6.0, kw_only=True)
    align: Align = "left"
    anchor: str = ""
    rule_below: float = 0.0
    """How far below it a hairline stands; 0 for none."""

    def height(self, width: float) -> float:
        """Return the height of its lines, and of the rule."""
        return self.words.height(width) + self.rule_below

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the lines, and the rule below them."""
        inner = (box[0], box[1], box[2], box[3] - self.rule_below)
        canvas.write(self.words, inner, self.path, align=self.align)
        if self.anchor:
            canvas.anchors.append((self.anchor, box[1]))
        if self.rule_below:
            canvas.rule(box[0], box[2], box[3] - HAIR)


@dataclass(slots=True)
class Labelled(Unit):
    """A field's name on the left, its words beside it, both on one first baseline."""

    name: Words
    words: Words
    path: StructurePath
    indent: float
    gap: float = field(default=7.0, kw_only=True)
    apart: float = 8.0
    """Between the name and the words, at the least."""
    pad: float = 0.0
    """Above and below the words; a hairline stands at the foot if it is not 0."""
    link: str = ""

    def height(self, width: float) -> float:
        """Return the height of the higher of the two."""
        name = self.name.height(self.indent - self.apart)
        return max(name, self.words.height(width - self.indent)) + 2 * self.pad

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the name, then the words."""
        left, right = box[0] + self.indent - self.apart, box[0] + self.indent
        top = box[1] + self.pad
        words = self.words.fit(box[2] - right)
        name = self.name.fit(self.indent - self.apart)
        down = max(0.0, words.first_baseline - name.first_baseline)
        key = self.path[-1].key
        label = (*self.path, Element("Lbl", f"{key}.name"))
        canvas.write(self.name, (box[0], top + down, left, box[3] + 9), label)
        body = (*self.path, Element("LBody", f"{key}.words"))
        canvas.write(self.words, (right, top, box[2], box[3]), body, link=self.link)
        if self.pad:
            canvas.rule(box[0], box[2], box[3], 0.2)


@dataclass(slots=True)
class Stack(Unit):
    """Units one below the other, drawn as one."""

    units: Sequence[Unit]

    def height(self, width: float) -> float:
        """Return their heights and the gaps between them."""
        gaps = sum(unit.gap for unit in self.units[1:])
        return gaps + sum(unit.height(width) for unit in self.units)

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw them in their order."""
        y = box[1]
        for place, unit in enumerate(self.units):
            y += unit.gap if place else 0.0
            high = unit.height(box[2] - box[0])
            unit.draw(canvas, (box[0], y, box[2], y + high))
            y += high
