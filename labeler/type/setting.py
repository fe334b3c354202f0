"""A text as words, words as lines, lines in a box: what may break, and the largest size that fits.

Words and lines are measured in thousandths of the type size, so one break serves while a size is
looked for; settings and glyph runs in points, y down, the box's top left corner as origin.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import Literal

from labeler.marks import Glyphs
from labeler.type.faces import Shaped
from labeler.type.styles import Style
from labeler.units import FRACTION_SLASH, NO_BREAK_SPACE, SLACK_PT, THIN_SPACE

FIGURE_SHARE = 0.64
"""Size of a fraction's figures to the text's. Well over the half that 16 CFR 500.21(f) asks for."""

_FRACTION = re.compile(rf"(\d+){FRACTION_SLASH}(\d+)")
_UNITS = "oz|g|kg|mg|lb|in|mm|cm|pt|ct|count|pack|pieces|strands|wraps|jigs|hooks"
_NUMBER_AND_UNIT = re.compile(rf"(?<=\d) (?=(?:{_UNITS})\b|%)")
_OPENERS = re.compile(r"(?<=\d) (?=\d+[/⁄]\d)")
BETWEEN = "\N{INVISIBLE SEPARATOR}"
"""Between statements: drawn as a raised point with air, and dropped where the line ends."""

_POINT = " · "
_LETTERS = r"[^\W\d_]{2}"
_BREAKS = re.compile(rf"({BETWEEN}| +|\n|(?<=[\w,;.])[–—](?=\w)|(?<={_LETTERS})[-/](?={_LETTERS}))")
"""Where a line may end: at spaces, after dashes, after a hyphen or a slash between two words."""


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of text in one style; ``scale`` is its size to the whole text's."""

    style: Style
    text: str
    scale: float = 1.0

    @property
    def shown(self) -> str:
        """The text as it is set: in capitals if the style says so, its marks composed (NFC)."""
        text = self.text.upper() if self.style.capitals else self.text
        return text if text.isascii() else unicodedata.normalize("NFC", text)


_TYPED = str.maketrans("’‘′“”″", "'''\"\"\"")


def in_face(spans: Sequence[Span]) -> tuple[Span, ...]:
    """Return spans with quotes and primes as they were typed where their face has no finer ones."""
    return tuple(
        replace(span, text=span.text.translate(_TYPED))
        if not span.text.isascii() and set(span.style.face.lacks(span.text)) & set("’‘′“”″")
        else span
        for span in spans
    )


@dataclass(frozen=True, slots=True)
class Atom:
    """A stretch of one word in one style: plain letters, or a fraction's two numbers.

    ``width`` in thousandths of the whole text's size, of which ``scale`` is this atom's.
    ``shaped`` is how plain letters are drawn.
    """

    style: Style
    text: str
    width: float
    scale: float = 1.0
    fraction: tuple[str, str] | None = None
    shaped: Shaped | None = None


@dataclass(frozen=True, slots=True)
class Word:
    """Atoms that stay together. ``gap`` is the space after it if the line goes on.

    ``left`` and ``right`` is what the ink of its first and last letter takes beyond their places
    where the word begins or ends a line; the air after a tracked last letter counts as less.
    """

    atoms: tuple[Atom, ...]
    width: float
    gap: float
    gap_text: str
    ends_line: bool = False
    left: float = 0.0
    right: float = 0.0


def keep_units(text: str) -> str:
    """Tie a number to its unit, and a whole number to its fraction, by no-break spaces."""
    text = _OPENERS.sub(THIN_SPACE, text)
    return _NUMBER_AND_UNIT.sub(NO_BREAK_SPACE, text)


def words_of(spans: Iterable[Span]) -> tuple[Word, ...]:
    """Return the words of a text in one or more styles."""
    words: list[Word] = []
    open_atoms: list[Atom] = []
    for span in spans:
        for place, part in enumerate(_BREAKS.split(keep_units(span.shown))):
            is_break = place % 2 == 1
            if is_break and (part in ("\n", BETWEEN) or part.isspace()):
                _close(words, open_atoms, span, part)
            elif part:
                open_atoms += _atoms(span.style, part, span.scale)
                if is_break:
                    _close(words, open_atoms, span, "")
    _close(words, open_atoms, None, "")
    return tuple(words)


def _close(words: list[Word], atoms: list[Atom], span: Span | None, gap: str) -> None:
    """End the open word; where none is open, a stronger gap takes the place of the last one's."""
    ends = gap == "\n"
    shown = "" if ends or not gap else _POINT if gap == BETWEEN else " "
    space = 0.0
    if span and shown:
        space = span.style.face.shape(shown, span.style.tracking).width * span.scale
    if atoms:
        words.append(_word(tuple(atoms), space, shown, ends))
        atoms.clear()
    elif words and gap in ("\n", BETWEEN):
        last = words[-1]
        words[-1] = replace(last, gap=space, gap_text=shown, ends_line=ends or last.ends_line)


def _word(atoms: tuple[Atom, ...], gap: float, gap_text: str, ends: bool) -> Word:
    first, last = atoms[0], atoms[-1]
    left = right = 0.0
    if first.shaped:
        left = first.style.face.overhang_of(first.shaped.text[0])[0] * first.scale
    if last.shaped:
        right = last.style.face.overhang_of(last.shaped.text[-1])[1] - last.style.tracking
        right *= last.scale
    return Word(atoms, sum(atom.width for atom in atoms), gap, gap_text, ends, left, right)


@lru_cache(maxsize=20_000)
def _atoms(style: Style, text: str, scale: float) -> tuple[Atom, ...]:
    if FRACTION_SLASH not in text:
        return (_plain(style, text, scale),)
    atoms: list[Atom] = []
    at = 0
    for found in _FRACTION.finditer(text):
        if found.start() > at:
            atoms.append(_plain(style, text[at : found.start()], scale))
        atoms.append(_fraction_atom(style, found[1], found[2], scale))
        at = found.end()
    if at < len(text):
        atoms.append(_plain(style, text[at:], scale))
    return tuple(atoms)


def _plain(style: Style, text: str, scale: float) -> Atom:
    shaped = style.face.shape(text, style.tracking, style.tabular)
    return Atom(style, text, shaped.width * scale, scale, shaped=shaped)


def _fraction_atom(style: Style, upper: str, lower: str, scale: float) -> Atom:
    face = style.fractions or style.face
    width = FIGURE_SHARE * (face.shape(upper).width + face.shape(lower).width) + slash_room(style)
    return Atom(style, upper + FRACTION_SLASH + lower, width * scale, scale, (upper, lower))


def slash_room(style: Style) -> float:
    """Return how far the two numbers of a fraction stand apart, in thousandths of an em.

    The slash leans over both: it takes less room than its ink, or 1/16 would gape.
    """
    return max(90.0, 0.42 * style.face.advance_of("/"))


Line = tuple[Word, ...]

_LONELY = 1.6
"""What a last line of one short word costs, in squares of the measure: more than raggedness."""

_PARTED = 0.25
"""What a line costs that ends inside a word of two parts, after its hyphen or slash."""

_SHORT = 0.4
"""Below this share of the measure a word alone on a line looks forgotten."""


_MOST_EVENED = 80
"""Lines; evening out more than a page of them would take longer than anybody waits."""


def width_of(line: Line) -> float:
    """Return the width of a line, its last gap left off and its ink's overhang put on."""
    if not line:
        return 0.0
    return line[0].left + sum(w.width + w.gap for w in line) - line[-1].gap + line[-1].right


def starts(words: Sequence[Word], measure: float) -> list[int] | None:
    """Return where each line begins if lines are filled one by one: the fewest that there can be.

    None if one word alone is wider than ``measure``.
    """
    begins: list[int] = []
    used = 0.0
    fresh = True
    for place, word in enumerate(words):
        if fresh or used + word.width + word.right > measure:
            begins.append(place)
            used = word.left
            if used + word.width + word.right > measure:
                return None
        used += word.width + word.gap
        fresh = word.ends_line
    return begins


def fewest(words: tuple[Word, ...], measure: float) -> tuple[Line, ...] | None:
    """Break into the fewest lines of at most ``measure``, each as full as can be."""
    begins = starts(words, measure)
    if begins is None:
        return None
    return tuple(words[begin:end] for begin, end in pairwise([*begins, len(words)]))


def break_well(words: tuple[Word, ...], measure: float, balance: bool) -> tuple[Line, ...] | None:
    """Break into the fewest lines that fit, chosen so that they are even; None if a word does not.

    Args:
        words: the text.
        measure: the line's width.
        balance: whether the last line should be as long as the others (a name), or may be
            shorter (a story).
    """
    filled = fewest(words, measure)
    if filled is None or not 2 <= len(filled) <= _MOST_EVENED:
        return filled
    if any(w.ends_line for w in words[:-1]):
        return filled
    return _even(words, measure, len(filled), balance) or filled


def _even(
    words: tuple[Word, ...], measure: float, count: int, balance: bool
) -> tuple[Line, ...] | None:
    """Return ``count`` lines with the least sum of squared slack, by dynamic programming."""
    total = len(words)
    sums = [0.0]
    for word in words:
        sums.append(sums[-1] + word.width + word.gap)
    best: list[dict[int, tuple[float, int]]] = [{0: (0.0, -1)}]
    for line in range(1, count + 1):
        row: dict[int, tuple[float, int]] = {}
        for start, (cost, _) in best[-1].items():
            for end in range(start + 1, total + 1):
                last_word = words[end - 1]
                width = (
                    words[start].left + sums[end] - sums[start] - last_word.gap + last_word.right
                )
                if width > measure:
                    break
                last = line == count
                if last and end != total:
                    continue
                worth = cost + _cost(width / measure, end - start, last, balance)
                worth += _PARTED if not (last or last_word.gap) else 0.0
                if end not in row or worth < row[end][0]:
                    row[end] = (worth, start)
        best.append(row)
    return _traced(best, words) if total in best[count] else None


def _cost(filled: float, count: int, last: bool, balance: bool) -> float:
    """Return what a line costs that fills this share of its measure with so many words."""
    if last and count == 1 and filled < _SHORT:
        return _LONELY
    return 0.0 if last and not balance else (1 - filled) ** 2


def _traced(best: list[dict[int, tuple[float, int]]], words: tuple[Word, ...]) -> tuple[Line, ...]:
    """Return the lines that the cheapest way to the end went through."""
    lines: list[Line] = []
    end = len(words)
    for row in reversed(best[1:]):
        start = row[end][1]
        lines.append(words[start:end])
        end = start
    return tuple(reversed(lines))


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
                yield from _fraction_runs(atom, size, x)
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


def _fraction_runs(atom: Atom, size: float, x: float) -> Iterator[Glyphs]:
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

    def size_at(self, fullness: float) -> float:
        """Return the type size at a fullness from 1, the most, to 0, the least."""
        return self.least + fullness * (self.most - self.least)

    def natural_width(self, size: float) -> float:
        """Return the width on one line, or of the widest line the text itself ends."""
        return self._natural * size / 1000

    @cached_property
    def _natural(self) -> float:
        return max(map(width_of, fewest(self.words, math.inf) or ()), default=0.0)

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
            SetLine(width_of(line) * size / 1000, tuple(runs_of(line, size))) for line in broken
        )
        widest = max((line.width for line in lines), default=0.0)
        return TextSetting(size, lines, widest, height, self.ascent * size)

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
