"""Units flow down columns and over pages: what belongs together stays together.

A unit is never broken. A heading keeps the unit after it; the first two and the last two rows of
a table keep each other, so that no row stands alone; a table's head stands again on each page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from labeler.book.edition import Edition
from labeler.book.typesetting import HAIR, Canvas, Typesetter, Words
from labeler.findings import LabelerError, Place, stop
from labeler.geometry import Box
from labeler.press.leaf import Element
from labeler.type.setting import Align
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

    @property
    def room(self) -> float:
        """From top to bottom."""
        return self.bottom - self.top


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
    pages: list[FilledPage] = []
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
    pages: list[FilledPage], first: Sequence[ColumnBox], later: Sequence[ColumnBox]
) -> Iterator[ColumnBox]:
    """Yield columns page after page, and begin a page when its first is asked for."""
    while True:
        columns = later if pages else first
        pages.append(FilledPage())
        yield from columns


def _next_that_holds(
    cluster: list[Unit],
    slots: Iterator[ColumnBox],
    column: ColumnBox,
    where: str,
    measure: _Measure,
) -> tuple[ColumnBox, float]:
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


def _lay(
    cluster: Sequence[Unit], page: FilledPage, column: ColumnBox, y: float, measure: _Measure
) -> float:
    for unit in cluster:
        if y > column.top + SLACK_PT:
            y += unit.gap
        height = measure(unit, column.width)
        page.units.append((unit, (column.left, y, column.right, y + height)))
        y += height
    return y


# ----------------------------------------------------------------------------
# A page's frame: margins, running head and folio.

_SMALL = 450.0
"""Points: pages narrower than this are a booklet's."""


@dataclass(frozen=True, slots=True)
class PageFrame:
    """Where the text stands on a page.

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

    @property
    def columns(self) -> tuple[ColumnBox, ...]:
        """The whole page as one column."""
        return (ColumnBox(self.side, self.top, self.width - self.side, self.height - self.foot),)

    def split(self, count: int, gutter: float = 22.0, top: float = 0.0) -> tuple[ColumnBox, ...]:
        """Return ``count`` columns side by side, beginning at ``top`` if that is given."""
        wide = (self.measure - gutter * (count - 1)) / count
        return tuple(
            ColumnBox(
                self.side + place * (wide + gutter), top or self.top,
                self.side + place * (wide + gutter) + wide, self.height - self.foot,
            )
            for place in range(count)
        )  # fmt: skip


def frame_of_pages(edition: Edition) -> PageFrame:
    """Return the frame for an edition's pages."""
    if edition.width < _SMALL:
        return PageFrame(edition.width, edition.height, 34.0, 52.0, 44.0)
    return PageFrame(edition.width, edition.height, 52.0, 70.0, 56.0)


def is_small(edition: Edition) -> bool:
    """Tell whether the pages are a booklet's."""
    return edition.width < _SMALL


def draw_furniture(
    canvas: Canvas, setter: Typesetter, frame: PageFrame, maker: str, running: str, folio: int
) -> None:
    """Draw running head and folio: decoration, which is not read aloud on every page."""
    outer_left = folio % 2 == 0
    place = Place(block="running head")
    line = frame.top - 22
    half = frame.measure / 2 - 8
    left_text, right_text = (running, maker) if outer_left else (maker, running)
    left = setter.words("book-running", left_text, place=place, lines=1, least=3.0)
    right = setter.words("book-running", right_text, place=place, lines=1, least=3.0)
    top = line - 13
    for words, box, align in (
        (left, (frame.side, top, frame.side + half, line), "left"),
        (right, (frame.width - frame.side - half, top, frame.width - frame.side, line), "right"),
    ):
        marks, ink = words.glyphs(box, align)  # type: ignore[arg-type]
        canvas.decorate(*marks)
        if marks:
            canvas.take(ink, "running head")
    canvas.rule(frame.side, frame.width - frame.side, line)
    number = setter.words("book-folio", str(folio), place=Place(block="folio"), lines=1)
    foot = frame.height - frame.foot + 20
    marks, ink = number.glyphs(
        (frame.side, foot, frame.width - frame.side, foot + 14), "left" if outer_left else "right"
    )
    canvas.decorate(*marks)
    canvas.take(ink, "folio")


# ----------------------------------------------------------------------------
# Looks a page over before it goes to the press: nothing outside it, nothing on something else.

_SAFE = 12.0
"""Points: what trimming may be off by, and more. Common practice, no published source."""

_TOUCH = 0.6
"""Points: boxes hold air above and below their ink, so a hair's breadth is no collision."""


def validate_page(canvas: Canvas, what: str, page: int) -> None:
    """Refuse a page on which something is clipped or lies on something else.

    Raises:
        LabelerError: with a finding for each.
    """
    place = Place(page=page or None, piece=what)
    faults = [
        stop("book-clipped", place, f"{name} reaches past the page's safe zone")
        for box, name in canvas.taken
        if not _inside(box, canvas)
    ]
    ordered = sorted(canvas.taken, key=lambda one: one[0][1])
    for number, (box, name) in enumerate(ordered):
        for other, other_name in ordered[number + 1 :]:
            if other[1] >= box[3] - _TOUCH:
                break
            if _meet(box, other):
                faults.append(stop("book-collision", place, f"{name} lies on {other_name}"))
    if faults:
        raise LabelerError(faults)


def _inside(box: Box, canvas: Canvas) -> bool:
    return (
        box[0] >= _SAFE - SLACK_PT
        and box[1] >= _SAFE - SLACK_PT
        and box[2] <= canvas.width - _SAFE + SLACK_PT
        and box[3] <= canvas.height - _SAFE + SLACK_PT
    )


def _meet(one: Box, other: Box) -> bool:
    return (
        one[0] < other[2] - _TOUCH
        and other[0] < one[2] - _TOUCH
        and one[1] < other[3] - _TOUCH
        and other[1] < one[3] - _TOUCH
    )


# ----------------------------------------------------------------------------
# The plain units of the book: headings, paragraphs, a field with its words, rules.


@dataclass(slots=True)
class Paragraph:
    """Words of one tag; a heading keeps what follows."""

    words: Words
    path: tuple[Element, ...]
    gap: float = 6.0
    keep: bool = False
    head: Unit | None = None
    align: Align = "left"
    anchor: str = ""
    link: str = ""
    rule_below: float = 0.0
    """How far below it a hairline stands; 0 for none."""

    def height(self, width: float) -> float:
        """Return the height of its lines, and of the rule."""
        return self.words.height(width) + self.rule_below

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the lines, and the rule below them."""
        inner = (box[0], box[1], box[2], box[3] - self.rule_below)
        marks, ink = self.words.glyphs(inner, self.align)
        canvas.put(marks, self.path, self.link, ink if self.link else None)
        canvas.take(ink, self.words.place.block)
        if self.anchor:
            canvas.anchors.append((self.anchor, box[1]))
        if self.rule_below:
            canvas.rule(box[0], box[2], box[3] - HAIR)


@dataclass(slots=True)
class Labelled:
    """A field's name on the left, its words beside it."""

    name: Words
    words: Words
    path: tuple[Element, ...]
    indent: float
    gap: float = 7.0
    keep: bool = False
    head: Unit | None = None
    link: str = ""

    def height(self, width: float) -> float:
        """Return the height of the higher of the two."""
        return max(self.name.height(self.indent - 8), self.words.height(width - self.indent))

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw both on one first baseline."""
        key = self.path[-1].key
        words = self.words.fit(box[2] - box[0] - self.indent)
        name = self.name.fit(self.indent - 8)
        down = max(0.0, words.first_baseline - name.first_baseline)
        label, ink = self.name.glyphs((box[0], box[1] + down, box[0] + self.indent - 8, box[3] + 9))
        canvas.put(label, (*self.path, Element("Lbl", f"{key}.name")))
        canvas.take(ink, self.name.place.block)
        marks, ink = self.words.glyphs((box[0] + self.indent, box[1], box[2], box[3]))
        body = (*self.path, Element("LBody", f"{key}.words"))
        if self.link:
            body = (*body, Element("Link", f"{key}.link"))
        canvas.put(marks, body, self.link, ink if self.link else None)
        canvas.take(ink, self.words.place.block)


@dataclass(slots=True)
class Space:
    """Nothing, so high."""

    high: float
    gap: float = 0.0
    keep: bool = False
    head: Unit | None = None

    def height(self, width: float) -> float:
        """Return its height."""
        return self.high

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw nothing."""


@dataclass(slots=True)
class Stack:
    """Units one below the other, drawn as one."""

    units: list[Unit]
    gap: float = 0.0
    keep: bool = False
    head: Unit | None = None

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
