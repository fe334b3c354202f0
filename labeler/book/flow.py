"""Units flow down columns and over pages: what belongs together stays together.

A unit is never broken. A heading keeps the unit after it; the first two and the last two rows of
a table keep each other, so that no row stands alone; a table's head stands again on each page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from labeler.book.canvas import Canvas
from labeler.findings import LabelerError, Place, stop
from labeler.layout.marks import Box
from labeler.units import SLACK_PT, Length


class Unit(Protocol):
    """Something that stands in the flow.

    Attributes:
        gap: the space above it, dropped at the top of a column.
        keep: whether the next unit must stand in the same column.
        head: what is drawn above it when it comes first in a later column.
    """

    gap: float
    keep: bool
    head: Unit | None

    def height(self, width: float) -> float:
        """Return how high it stands in a column so wide."""

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw it in its box."""


_Measure = Callable[[Unit, float], float]


@dataclass(frozen=True, slots=True)
class Column:
    """A place for units: its box on the page."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """From left to right."""
        return self.right - self.left

    @property
    def room(self) -> float:
        """From top to bottom."""
        return self.bottom - self.top


@dataclass(slots=True)
class Laid:
    """A page's units, each in its box."""

    units: list[tuple[Unit, Box]] = field(default_factory=list)

    def draw(self, canvas: Canvas) -> None:
        """Draw them in their order."""
        for unit, box in self.units:
            unit.draw(canvas, box)


def flow(
    units: Sequence[Unit], columns: Sequence[Column], later: Sequence[Column] = (), where: str = ""
) -> list[Laid]:
    """Return the pages that the units come to.

    Args:
        units: in reading order.
        columns: of the first page.
        later: of the pages after it, if they are others.
        where: what to name when something is higher than a page.

    Raises:
        LabelerError: if units that belong together are higher than any column.
    """
    pages: list[Laid] = []
    measure = _measuring_once()
    slots = _columns(pages, columns, later or columns)
    column = next(slots)
    y = column.top
    for cluster in _clusters(units):
        need = _height(cluster, column.width, measure, at_top=y <= column.top + SLACK_PT)
        if y + need > column.bottom + SLACK_PT and y > column.top + SLACK_PT:
            column = next(slots)
            y = column.top
            cluster = [*_head(cluster[0]), *cluster]
            need = _height(cluster, column.width, measure, at_top=True)
        if y + need > column.bottom + SLACK_PT:
            column, y = _next_that_holds(cluster, slots, column, where, measure)
        y = _lay(cluster, pages[-1], column, y, measure)
    return pages


def _columns(
    pages: list[Laid], first: Sequence[Column], later: Sequence[Column]
) -> Iterator[Column]:
    """Yield columns page after page, and begin a page when its first is asked for."""
    while True:
        columns = later if pages else first
        pages.append(Laid())
        yield from columns


def _next_that_holds(
    cluster: list[Unit], slots: Iterator[Column], column: Column, where: str, measure: _Measure
) -> tuple[Column, float]:
    """Return the next column that holds the cluster; the first page's may be short."""
    for _ in range(3):
        column = next(slots)
        need = _height(cluster, column.width, measure, at_top=True)
        if need <= column.room + SLACK_PT:
            return column, column.top
    raise LabelerError(
        stop(
            "book-overflow",
            Place(piece=where),
            "something is higher than a page",
            found=f"it needs {Length(need).mm:.0f} mm",
            expected=f"at most {Length(column.room).mm:.0f} mm",
            hint="Shorten its text, or choose larger paper.",
        )
    )


def _clusters(units: Sequence[Unit]) -> Iterator[list[Unit]]:
    cluster: list[Unit] = []
    for unit in units:
        cluster.append(unit)
        if not unit.keep:
            yield cluster
            cluster = []
    if cluster:
        yield cluster


def _head(unit: Unit) -> list[Unit]:
    return [unit.head] if unit.head is not None else []


def _measuring_once() -> _Measure:
    """Return what measures each unit once for each width, however often it is asked."""
    known: dict[tuple[int, float], float] = {}

    def measure(unit: Unit, width: float) -> float:
        key = id(unit), width
        height = known.get(key)
        if height is None:
            height = known[key] = unit.height(width)
        return height

    return measure


def _height(cluster: Sequence[Unit], width: float, measure: _Measure, *, at_top: bool) -> float:
    gaps = sum(unit.gap for unit in cluster) - (cluster[0].gap if at_top else 0.0)
    return gaps + sum(measure(unit, width) for unit in cluster)


def _lay(cluster: Sequence[Unit], page: Laid, column: Column, y: float, measure: _Measure) -> float:
    for unit in cluster:
        if y > column.top + SLACK_PT:
            y += unit.gap
        height = measure(unit, column.width)
        page.units.append((unit, (column.left, y, column.right, y + height)))
        y += height
    return y
