"""A text set in a box: the largest size that fits, its lines, and the glyph runs they come to.

Sizes and places in points, y down, the box's top left corner as origin.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

from labeler.marks import Glyphs
from labeler.type.faces import Shaped
from labeler.type.lines import (
    BETWEEN,
    FIGURE_SHARE,
    Atom,
    Line,
    Span,
    break_well,
    slash_room,
    starts,
    width_of,
    words_of,
)
from labeler.type.styles import Style
from labeler.units import FRACTION_SLASH, SLACK_PT


def runs_of(line: Line, size: float) -> Iterator[Glyphs]:
    """Yield the runs of a line whose ink begins at (0, 0), ``size`` in points.

    What stands in one style is joined into one run, so that a reader gets whole lines.
    """
    x = line[0].left * size / 1000
    run: _RunBuilder | None = None
    for place, word in enumerate(line):
        for atom in word.atoms:
            if run and not run.takes(atom):
                yield run.glyphs()
                run = None
            if atom.shaped is None:
                yield from _fraction(atom, size, x)
            else:
                run = run or _RunBuilder(atom, size * atom.scale, x)
                run.add(atom.shaped)
            x += atom.width * size / 1000
        if place < len(line) - 1:
            if run:
                run.add_gap(word.gap_text, word.gap)
            x += word.gap * size / 1000
    if run:
        yield run.glyphs()


class _RunBuilder:
    """A run in the making: every part is as wide as it was measured."""

    def __init__(self, first: Atom, size: float, x: float) -> None:
        self.first, self.size, self.x = first, size, x
        self.letters = ""
        self.shifts: list[float] = []
        self.width = 0.0
        if first.shaped:
            self.x += first.shaped.lead * size / 1000
            self.width -= first.shaped.lead

    def takes(self, atom: Atom) -> bool:
        """Tell whether an atom can stand in the run."""
        first = self.first
        return bool(atom.shaped) and atom.style is first.style and atom.scale == first.scale

    def add(self, part: Shaped) -> None:
        """Add letters; what comes before their first moves the last one that is there."""
        if part.lead and self.shifts:
            self.shifts[-1] = round(self.shifts[-1] + part.lead, 2)
        self.letters += part.text
        self.shifts += part.shifts or [0.0] * len(part.text)
        self.width += part.width

    def add_gap(self, text: str, width: float) -> None:
        """Add the space between two words, ``width`` in thousandths of the text's size."""
        if not text:
            return
        style = self.first.style
        part = style.face.shape(text, style.tracking)
        self.add(part)
        missing = width / self.first.scale - part.width
        if abs(missing) > _EXACT:
            self.shifts[-1] = round(self.shifts[-1] + missing, 2)
            self.width += missing

    def glyphs(self) -> Glyphs:
        """Return the run."""
        style = self.first.style
        return Glyphs(
            x=self.x,
            y=0.0,
            face=style.face.name,
            size=self.size,
            ink=style.ink,
            text=self.letters,
            width=self.width * self.size / 1000,
            shifts=tuple(self.shifts) if any(self.shifts) else (),
        )


_EXACT = 0.005
"""Thousandths of an em; shifts are kept to two decimals."""


def _fraction(atom: Atom, size: float, x: float) -> Iterator[Glyphs]:
    """Set a fraction: the upper number hangs from cap height, the lower stands on the line."""
    upper, lower = atom.fraction or ("", "")
    style, own = atom.style, size * atom.scale
    face = style.fractions or style.face
    small = own * FIGURE_SHARE
    rise = (style.face.cap_height * own - face.cap_height * small) / 1000
    top, foot = face.shape(upper), face.shape(lower)
    yield Glyphs(
        x, -rise, face.name, small, style.ink, top.text, top.width * small / 1000, top.shifts
    )
    x += top.width * small / 1000
    room = slash_room(style) * own / 1000
    line = style.face
    slash = FRACTION_SLASH if not line.lacks(FRACTION_SLASH) else "/"
    advance = line.advance_of(slash) * own / 1000
    yield Glyphs(x + (room - advance) / 2, 0.0, line.name, own, style.ink, slash, advance)
    x += room
    yield Glyphs(
        x, 0.0, face.name, small, style.ink, foot.text, foot.width * small / 1000, foot.shifts
    )


Align = Literal["left", "centre", "right"]
ALIGNED: Mapping[Align, float] = {"left": 0.0, "centre": 0.5, "right": 1.0}
"""How much of a line's spare room lies left of what is aligned so."""

_STEP = 0.05
"""Sizes are multiples of this many points, so that like labels come out alike."""


@dataclass(frozen=True, slots=True)
class SetLine:
    """A line's width, and its runs from its left end on its baseline."""

    width: float
    runs: tuple[Glyphs, ...]


@dataclass(frozen=True, slots=True)
class TextSetting:
    """A text at one size, broken into lines. ``width`` and ``height`` are what it takes."""

    size: float
    lines: tuple[SetLine, ...]
    width: float
    height: float
    first_baseline: float


def _measure(size: float, width: float) -> float:
    """Return the thousandths of the type size that a line of ``width`` points holds."""
    return (width + SLACK_PT) * 1000 / size


@lru_cache(maxsize=4_096)
def text_of(
    spans: tuple[Span, ...], base: Style, most: float, least: float, max_lines: int
) -> Text:
    """Return the text, the same object for the same text: a run says most things many times."""
    return Text(spans, base, most, least, max_lines)


class Text:
    """A text in one or more styles, ready to be measured at any size.

    ``base`` is the style whose size is looked for; other spans scale with it.
    """

    def __init__(
        self,
        spans: tuple[Span, ...],
        base: Style,
        most: float,
        least: float,
        max_lines: int = 1_000,
    ) -> None:
        self.spans = spans
        self.base = base
        self.most, self.least = most, min(least, most)
        self.max_lines = max_lines
        self.words = words_of(spans)
        self.leading = self.base.leading
        self.ascent, self.descent = self._ink()
        # A piece asks for a few dozen sizes and widths, again and again.
        self._height = lru_cache(maxsize=200)(self._measured_height)
        self._setting = lru_cache(maxsize=200)(self._set)
        self.largest = lru_cache(maxsize=200)(self._largest)

    def _ink(self) -> tuple[float, float]:
        """How far the text may rise over its first and hang below its last baseline, per em."""
        ascent = descent = 0.0
        for word in self.words:
            for atom in word.atoms:
                face = atom.style.face
                ink_top, ink_bottom = face.ink_of(atom.text.replace(FRACTION_SLASH, ""))
                upright = atom.style.capitals or atom.text.isdecimal()
                standard = face.cap_height if upright else face.ascent
                ascent = max(ascent, atom.scale * max(standard, ink_top))
                hang = -ink_bottom if atom.style.capitals or atom.style.tabular else face.descent
                descent = max(descent, atom.scale * max(hang, -ink_bottom))
        return ascent / 1000, descent / 1000

    @cached_property
    def lacking(self) -> tuple[tuple[str, str], ...]:
        """Return (face, letters) for every face that lacks letters of this text."""
        found = []
        for span in self.spans:
            letters = span.style.face.lacks(span.shown.replace("\n", "").replace(BETWEEN, "·"))
            if letters:
                found.append((span.style.face.name, letters))
        return tuple(found)

    def size_at(self, squeeze: float) -> float:
        """Return the type size at a squeeze from 1, the most, to 0, the least."""
        return self.least + squeeze * (self.most - self.least)

    def natural_width(self, size: float) -> float:
        """Return the width on one line, or of the widest line the text itself ends."""
        return self._natural * size / 1000

    @cached_property
    def _natural(self) -> float:
        lines = starts(self.words, math.inf) or []
        ends = [*lines[1:], len(self.words)]
        return max(
            (width_of(self.words[s:e]) for s, e in zip(lines, ends, strict=True)), default=0.0
        )

    @cached_property
    def narrowest(self) -> float:
        """The least width, in points, in which the text can be set at its least size."""
        widest = max((w.left + w.width + w.right for w in self.words), default=0.0)
        widest *= self.least / 1000
        line = self.natural_width(self.least)
        width = max(widest, line / self.max_lines)
        while width < line and math.isinf(self.height(self.least, width)):
            width = min(line, width * 1.02)
        return width

    def height(self, size: float, width: float) -> float:
        """Return how high the text stands at ``size`` in ``width``; infinite where it can't."""
        return self._height(size, round(width, 3))

    def _measured_height(self, size: float, width: float) -> float:
        begins = starts(self.words, _measure(size, width))
        if begins is None or len(begins) > self.max_lines:
            return math.inf
        return (self.ascent + self.descent + max(0.0, len(begins) - 1) * self.leading) * size

    def at(self, size: float, width: float) -> TextSetting | None:
        """Set the text at ``size`` in ``width``; None if a word is wider or lines are too many."""
        return self._setting(size, round(width, 3))

    def _set(self, size: float, width: float) -> TextSetting | None:
        height = self.height(size, width)
        broken = break_well(self.words, _measure(size, width), self.base.balance)
        if broken is None or math.isinf(height):
            return None
        lines = tuple(
            SetLine(width_of(line) * size / 1000, tuple(runs_of(line, size)))
            for line in broken.lines
        )
        return TextSetting(size, lines, broken.widest * size / 1000, height, self.ascent * size)

    def _largest(self, width: float, height: float, most: float) -> TextSetting | None:
        """Return the largest setting of at most ``most`` points that fits the box, or None."""
        size = self.largest_size(width, height, most)
        return None if size is None else self.at(size, width)

    def largest_size(self, width: float, height: float, most: float) -> float | None:
        """Return the size of the largest setting of at most ``most`` points, or None."""
        if self._fits(most, width, height):
            return most
        if not self._fits(self.least, width, height):
            return None
        best = self.least
        low, high = int(self.least / _STEP + 0.999), int(most / _STEP)
        while low <= high:
            middle = (low + high) // 2
            if self._fits(middle * _STEP, width, height):
                best, low = middle * _STEP, middle + 1
            else:
                high = middle - 1
        return best

    def _fits(self, size: float, width: float, height: float) -> bool:
        high = self.height(size, width)
        return high <= height + SLACK_PT and high < math.inf


def glyphs_of(
    text: Text, setting: TextSetting, left: float, top: float, width: float, align: Align
) -> Iterator[Glyphs]:
    """Yield the glyph runs of a set text whose box begins at (``left``, ``top``)."""
    baseline = top + setting.first_baseline
    share = ALIGNED[align]
    for line in setting.lines:
        start = left + (width - line.width) * share
        for run in line.runs:
            yield Glyphs(
                run.x + start, run.y + baseline, run.face, run.size, run.ink, run.text, run.width,
                run.shifts,
            )  # fmt: skip
        baseline += text.leading * setting.size
