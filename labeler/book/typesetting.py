"""The book's pages: words set as on labels and cards, in units that flow down columns.

A page is a canvas: passages in reading order, and where what lies, so that it can be looked over
before it goes to the press. A unit of the flow is never broken. A heading keeps the unit after it;
the first two and the last two rows of a table keep each other, so that no row stands alone; a
table's head stands again on each page.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Protocol

from labeler.book.edition import (
    Edition,
    PatternEntry,
    PriceListStatements,
    entries_of,
    title_of,
)
from labeler.findings import Finding, LabelerError, Place, refusal, stop
from labeler.geometry import Box
from labeler.layout.block import VALIGNED, overflow
from labeler.layout.text_blocks import ink_box, refuse_missing_letters
from labeler.marks import (
    BookPage,
    Claim,
    Element,
    Field,
    Glyphs,
    Mark,
    Passage,
    line,
    rectangle,
)
from labeler.type.finish import finished
from labeler.type.setting import Align, Span, Text, TextSetting, glyphs_of, in_face, text_of
from labeler.type.styles import Style, Styles, read_styles, style_named
from labeler.units import SLACK_PT, Length

HAIR = 0.35
"""Points: the thinnest rule that desk printers draw without gaps."""

INK, GREY, PALE = "#000000", "#6d6a64", "#f4f1ea"

_TAB, _TAB_GROUND = (40.0, 34.0), "#2b2a27"
"""A thumb tab's width and height in points, and its ground."""

_TEXTS_KEPT = 8_000
"""Texts that a book remembers: it asks for each when it is laid out, and again when it is drawn."""

_SAFE = 12.0
"""Points: what trimming may be off by, and more. Common practice, no published source."""

_TOUCH = 0.6
"""Points: boxes hold air above and below their ink, so a hair's breadth is no collision."""

StructurePath = tuple[Element, ...]
"""Where a passage lies in the book's structure, from the outermost element."""


def across(box: Box, count: int, gutter: float) -> list[Box]:
    """Return ``count`` equal boxes side by side in ``box``, ``gutter`` points apart."""
    width = (box[2] - box[0] - gutter * (count - 1)) / max(count, 1)
    lefts = [box[0] + place * (width + gutter) for place in range(count)]
    return [(left, box[1], left + width, box[3]) for left in lefts]


@dataclass(frozen=True, slots=True)
class Words:
    """A text ready to be set, and what to name when it does not fit."""

    text: Text
    place: Place

    def fit(self, width: float, height: float = math.inf) -> TextSetting:
        """Return the largest setting that fits.

        Raises:
            LabelerError: that names the text, if its least size does not fit.
        """
        setting = self.text.largest(width, height, self.text.most)
        if setting is None:
            shown = self.plain if len(self.plain) <= 60 else self.plain[:59] + "…"
            least = self.text.height(self.text.least, width)
            needs = (least, height) if least < math.inf else (self.text.narrowest, width)
            raise overflow(self.place, f"the text “{shown}”", *needs)
        return setting

    @property
    def plain(self) -> str:
        """The letters alone."""
        return "".join(span.text for span in self.text.spans)

    def height(self, width: float) -> float:
        """Return how high it stands in ``width``, at its largest."""
        return self.fit(width).height if self.text.words else 0.0

    def width(self) -> float:
        """Return how wide it is on one line at its largest."""
        return self.text.natural_width(self.text.most)

    def glyphs(
        self, box: Box, align: Align = "left", valign: str = "top"
    ) -> tuple[list[Glyphs], Box]:
        """Return the set text in ``box``, and the box that its ink takes."""
        if not self.text.words:
            return [], (box[0], box[1], box[0], box[1])
        width, height = box[2] - box[0], box[3] - box[1]
        setting = self.fit(width, height)
        spare = height - setting.height if math.isfinite(height) else 0.0
        top = box[1] + spare * VALIGNED[valign]
        marks = list(glyphs_of(self.text, setting, box[0], top, width, align))
        return marks, ink_box(box, top, setting, align)


class Typesetter:
    """Makes words of texts, by the name of their style."""

    def __init__(self, maker_folder: Path | None) -> None:
        self.styles: Styles = read_styles(maker_folder)
        self._texts: dict[tuple[object, ...], Text] = {}

    def words(
        self, style: str, *parts: str | tuple[str, str], place: Place | None = None,
        lines: int = 1_000, scale: float = 1.0, least: float = 0.0,
    ) -> Words:  # fmt: skip
        """Return words in ``style``; a part may be a pair of another style and its words.

        Args:
            style: the style of the whole.
            parts: what is said.
            place: what to name when it does not fit.
            lines: the most lines.
            scale: what to multiply the style's largest size with.
            least: the least size in points, if not the style's.

        Raises:
            LabelerError: if a face lacks letters.
        """
        where = place or Place(block=style)
        key = (style, parts, lines, scale, least)
        text = self._texts.get(key)
        if text is None:
            text = self._text(style, parts, lines, scale, least, where)
            if len(self._texts) >= _TEXTS_KEPT:
                self._texts.clear()
            self._texts[key] = text
        return Words(text, where)

    def _text(
        self, style: str, parts: tuple[str | tuple[str, str], ...], lines: int, scale: float,
        least: float, place: Place,
    ) -> Text:  # fmt: skip
        base = self._style(style)
        spans = []
        for part in parts:
            name, words = (style, part) if isinstance(part, str) else part
            own = self._style(name)
            spans.append(Span(own, finished(words), own.most / base.most))
        most = base.most * scale
        text = text_of(in_face(spans), base, most, min(most, least or base.least), lines)
        refuse_missing_letters(text, place, "name a face that has them.")
        return text

    def _style(self, name: str) -> Style:
        return style_named(self.styles, name, Place(file="styles.toml"))


@dataclass(slots=True)
class Canvas:
    """One page, trimmed; what reaches past the trim runs into the bleed.

    ``taken`` are the boxes of what may not lie on one another.
    """

    width: float
    height: float
    bleed: float = 0.0
    passages: list[Passage] = field(default_factory=list)
    fields: list[Field] = field(default_factory=list)
    anchors: list[tuple[str, float]] = field(default_factory=list)
    taken: list[tuple[Box, str]] = field(default_factory=list)
    label: str = ""
    claimed: dict[object, Claim] = field(default_factory=dict)

    def write(
        self, words: Words, box: Box, path: StructurePath, *, align: Align = "left",
        valign: str = "top", link: str = "",
    ) -> Box:  # fmt: skip
        """Set words that are read, and return the box that their ink takes: nothing else may.

        Args:
            words: what is written; nothing is drawn of empty ones.
            box: where.
            path: the element that they are; without one they are decoration. A link is an
                element within it.
            align: how the lines stand in the box.
            valign: where the lines stand in the box: top, middle or bottom.
            link: where a touch on the words leads.
        """
        marks, ink = words.glyphs(box, align, valign)
        if marks:
            if link and path[-1].tag != "Link":
                path = (*path, Element("Link", f"{path[-1].key}.link"))
            self.put(marks, path, link, ink if link else None)
            self.take(ink, words.place.block)
        return ink

    def put(
        self, marks: Iterable[Mark], path: StructurePath, link: str = "", box: Box | None = None
    ) -> None:
        """Add a passage that is read."""
        self.passages.append(Passage(tuple(marks), path, link, box))

    def decorate(self, *marks: Mark) -> None:
        """Add marks that are not read."""
        self.passages.append(Passage(marks))

    def take(self, box: Box, what: str) -> None:
        """Say that ``what`` lies in ``box``, and nothing else may."""
        self.taken.append((box, what))

    def claim(self, claim: Claim, key: object) -> None:
        """Say what a place is about; what is said under one key is one place."""
        known = self.claimed.get(key)
        if known is not None:
            left, top, right, bottom = known.box
            x0, y0, x1, y1 = claim.box
            box = (min(left, x0), min(top, y0), max(right, x1), max(bottom, y1))
            claim = replace(claim, skus=(*known.skus, *claim.skus), box=box)
        self.claimed[key] = claim

    def rule(
        self, left: float, right: float, y: float, width: float = HAIR, ink: str = INK,
        dash: tuple[float, ...] = (),
    ) -> None:  # fmt: skip
        """Draw a level rule."""
        self.decorate(line((left, y), (right, y), stroke=ink, width=width, dash=dash))

    def page(self) -> BookPage:
        """Return the finished page."""
        return BookPage(
            self.width, self.height, tuple(self.passages), tuple(self.fields),
            tuple(self.anchors), self.label, tuple(self.claimed.values()),
        )  # fmt: skip


def validate_page(canvas: Canvas, what: str, page: int) -> None:
    """Refuse a page on which something is clipped or lies on something else.

    Raises:
        LabelerError: with a finding for each.
    """
    place = Place(page=page or None, piece=what)
    edge = _SAFE - SLACK_PT
    faults = [
        stop("book-clipped", place, f"{name} reaches past the page's safe zone")
        for box, name in canvas.taken
        if min(box[0], box[1], canvas.width - box[2], canvas.height - box[3]) < edge
    ]
    ordered = sorted(canvas.taken, key=lambda one: one[0][1])
    for number, (box, name) in enumerate(ordered):
        for other, other_name in ordered[number + 1 :]:
            if other[1] >= box[3] - _TOUCH:
                break
            if (
                box[0] < other[2] - _TOUCH
                and other[0] < box[2] - _TOUCH
                and box[1] < other[3] - _TOUCH
            ):
                faults.append(stop("book-collision", place, f"{name} lies on {other_name}"))
    if faults:
        raise LabelerError(faults)


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
    """A page's units, each in its box, and which stretch of it is which section's."""

    units: list[tuple[Unit, Box]] = field(default_factory=list)
    sections: list[tuple[str, float, float]] = field(default_factory=list)
    """Each section's anchor, and from where to where it reaches, in points from the top."""

    @property
    def bottom(self) -> float:
        """Where its lowest unit ends; 0 on an empty page."""
        return max((box[3] for _, box in self.units), default=0.0)

    def draw(self, canvas: Canvas) -> None:
        """Draw them in their order."""
        for unit, box in self.units:
            unit.draw(canvas, box)
        for anchor, top, bottom in self.sections:
            box = (0.0, top, canvas.width, bottom)
            canvas.claim(Claim("section", anchor, (), box), ("section", anchor))


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
        return refusal(
            "book-overflow",
            Place(piece=self.where),
            "something is higher than a page",
            found=f"it needs {Length(self._need(cluster)).mm:.0f} mm",
            expected=f"at most {Length(room).mm:.0f} mm",
            hint="Shorten its text, or choose larger paper.",
        )


def balanced(
    units: Sequence[Unit], frame: PageFrame, count: int, top: float, where: str
) -> list[FilledPage]:
    """Return the pages of units in ``count`` columns that end level on the last of them.

    Args:
        units: in reading order, down one column and then down the next.
        frame: the pages.
        count: how many columns stand side by side.
        top: where the first page's columns begin, in points.
        where: what to name when something is higher than a page.

    Raises:
        LabelerError: if units that belong together are higher than any column.
    """
    pages = flow(units, frame.columns(count, top=top), frame.columns(count), where)
    last = [unit for unit, _ in pages[-1].units]
    begin = top if len(pages) == 1 else frame.top
    columns = frame.columns(count, top=begin)
    heights = [unit.height(columns[0].width) for unit in last]
    low = begin + max(sum(heights) / count, max(heights, default=0.0))
    while low < columns[0].bottom:
        short = [replace(each, bottom=low) for each in columns]
        try:
            level = flow(last, short, where=where)
        except LabelerError:
            level = []
        if len(level) == 1:
            pages[-1] = level[0]
            break
        low += 4.0
    return pages


class SharedPages:
    """Pages that sections share, each below the one before it, ``gap`` points apart."""

    def __init__(
        self, frame: PageFrame, pages: Sequence[FilledPage] = (), gap: float = 26.0
    ) -> None:
        self.frame, self.pages, self.gap = frame, list(pages), gap

    def add(
        self, anchor: str, head: Sequence[Unit], rows: Sequence[Unit] = (), *, count: int = 1,
        fresh: bool = False, where: str = "",
    ) -> int:  # fmt: skip
        """Add a section and return on which page, from 0, it begins.

        Args:
            anchor: the section's.
            head: its title and what stands below it across the page.
            rows: what stands below that in ``count`` columns.
            count: how many columns the rows stand in.
            fresh: whether it begins on a page of its own.
            where: what to name when something is higher than a page.

        Raises:
            LabelerError: if units that belong together are higher than a page.
        """
        frame = self.frame
        top, column = self._below(), frame.columns()[0]
        first = list(head[: _kept(head)]) if not rows else [*head, *rows[:2]]
        needs, whole = (
            sum(unit.gap + unit.height(column.width) for unit in units)
            for units in (first, [*head, *rows])
        )
        left = column.bottom - top
        # A few lines at a page's foot that go on overleaf would be looked for in vain.
        few = left < (column.bottom - frame.top) * _FEW and whole / count > left
        if fresh or not self.pages or needs > left or (few and len(self.pages) > 1):
            self.pages.append(FilledPage())
            top = frame.top
        begun = len(self.pages) - 1
        self._lay(anchor, flow(head, frame.columns(top=top), frame.columns(), where))
        if rows:
            top = self.pages[-1].bottom + _BELOW_HEAD
            self._lay(anchor, balanced(rows, frame, count, top, where))
        return begun

    def _below(self) -> float:
        return self.pages[-1].bottom + self.gap if self.pages else self.frame.top

    def _lay(self, anchor: str, laid: Sequence[FilledPage]) -> None:
        for number, page in enumerate(laid):
            if number:
                self.pages.append(FilledPage())
            here = self.pages[-1]
            if not page.units:
                continue
            top, bottom = min(box[1] for _, box in page.units) - 2, page.bottom + 2
            here.units += page.units
            if here.sections and here.sections[-1][0] == anchor:
                top = here.sections.pop()[1]
            here.sections.append((anchor, top, bottom))


_BELOW_HEAD = 12.0
"""Points: between a section's title and its columns."""
_FEW = 0.24
"""The share of a page below which no section begins that does not end there."""


def _kept(units: Sequence[Unit]) -> int:
    """Return how many of the first units keep each other, with the one after them."""
    loose = (number for number, unit in enumerate(units, 1) if not unit.keep)
    return next(loose, len(units))


@dataclass(slots=True)
class Paragraph(Unit):
    """Words of one tag; a heading keeps what follows."""

    words: Words
    path: StructurePath
    gap: float = field(default=6.0, kw_only=True)
    anchor: str = ""
    rule_below: float = 0.0
    """How far below it a hairline stands; 0 for none."""

    def height(self, width: float) -> float:
        """Return the height of its lines, and of the rule."""
        return self.words.height(width) + self.rule_below

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw the lines, and the rule below them."""
        inner = (box[0], box[1], box[2], box[3] - self.rule_below)
        canvas.write(self.words, inner, self.path)
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
        scale = 0.46 if self.edition.slim else 0.58 if self.edition.small else 0.72
        words = self.setter.words("book-pattern", text, scale=scale)
        path = (*path, Element("H1", f"{anchor}.title"))
        return Paragraph(words, path, gap=0, keep=True, anchor=anchor, rule_below=9)

    def canvas(self) -> Canvas:
        """Return an empty page."""
        return Canvas(self.edition.width, self.edition.height, self.edition.bleed)

    def draw_tab(self, canvas: Canvas, entry: PatternEntry, folio: int) -> None:
        """Draw a pattern's thumb tab: its code on a dark ground at the outer edge.

        Each pattern's stands a step lower than the one before it, as in an address book.
        """
        frame, scale = self.frame, 0.72 if self.edition.small else 1.0
        wide, tall = _TAB[0] * scale, _TAB[1] * scale
        room = frame.height - frame.top - frame.foot
        places = max(1, int(room / (tall + 5)))
        top = frame.top + (entry.number - 1) % places * (room / places)
        edge = canvas.bleed
        if folio % 2 == 0:
            ground = (-edge, top, wide, top + tall)
            inner = (_SAFE + 0.5, top, wide - 2.5, top + tall)
        else:
            ground = (frame.width - wide, top, frame.width + edge, top + tall)
            inner = (frame.width - wide + 2.5, top, frame.width - _SAFE - 0.5, top + tall)
        canvas.decorate(rectangle(ground, fill=_TAB_GROUND))
        place = Place(piece=entry.pattern.name, block="thumb tab")
        words = self.setter.words(
            "book-tab", entry.pattern.code, place=place, lines=1, scale=scale, least=2.5
        )
        canvas.write(words, inner, (), align="centre", valign="middle")

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
