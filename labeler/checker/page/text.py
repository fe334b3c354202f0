"""From glyphs to text in the order in which an eye reads it.

The order of painting counts for nothing: glyphs become lines by where they stand, and lines
become passages by what stands under what. A fraction built of two small figures and a slash
reads as one.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

from labeler.checker.page.elements import Glyph
from labeler.disclosures.statements import folded_letters
from labeler.geometry import Box, union
from labeler.units import FRACTION_SLASH

_SAME_LINE = 0.15
"""Baselines closer than this share of the type size are one."""

_WORD_GAP = 0.16
"""A gap wider than this share of the type size is a space, though none is drawn."""

_COLUMN_GAP = 1.2
"""A gap wider than this many type sizes parts what stands side by side."""

_LEADING = 1.95
"""Lines further apart than this many type sizes do not belong to one passage."""

_SMALL_FIGURE = 0.85
"""The figures of a built fraction are smaller than this share of its slash."""


@dataclass(slots=True)
class _ReadRun:
    """Glyphs that follow one another along a line, in the line's own coordinates."""

    glyphs: list[Glyph]
    start: float
    end: float
    base: float
    """How far down the baseline lies."""
    size: float

    @property
    def text(self) -> str:
        return "".join(glyph.reads for glyph in self.glyphs)


@dataclass(slots=True, eq=False)
class TextLine:
    """A stretch of text on one baseline."""

    text: str
    glyphs: list[Glyph | None]
    """The glyph of each letter of ``text``; None for a space that is not drawn."""
    start: float
    end: float
    base: float
    size: float
    angle: int
    """Degrees by which the line is turned, as it is looked at."""
    after: TextLine | None = None
    """The line that an eye goes on to."""
    leads_on: bool = False
    """Whether an eye comes to it from another line."""
    _box: Box | None = field(default=None, init=False, repr=False)
    _saying: frozenset[int] | None = field(default=None, init=False, repr=False)

    @property
    def saying(self) -> frozenset[int]:
        """The identities of its glyphs that say something: letters, figures, signs of money."""
        if self._saying is None:
            self._saying = frozenset(
                id(glyph)
                for letter, glyph in zip(self.text, self.glyphs, strict=True)
                if glyph is not None
                and (letter.isalnum() or unicodedata.category(letter) in ("Sc", "So"))
            )
        return self._saying

    @property
    def box(self) -> Box:
        """Around its ink, on the page."""
        if self._box is None:
            self._box = union([glyph.box for glyph in self.glyphs if glyph is not None])
        return self._box


@dataclass(eq=False)
class TextPassage:
    """Lines that are read one after another, with plain spaces and fractions."""

    text: str
    glyphs: list[Glyph | None]
    lines: list[TextLine] = field(default_factory=list)
    ends: frozenset[int] = frozenset()
    """Where its text has a space for the end of a line."""

    @property
    def in_lines(self) -> str:
        """Its text with a break after each line."""
        return "\n".join(line.text for line in self.lines)

    @cached_property
    def members(self) -> frozenset[int]:
        """The identities of its glyphs."""
        return frozenset(id(glyph) for glyph in self.glyphs if glyph is not None)

    @cached_property
    def parted(self) -> str:
        """Its text with a line feed for the space between two lines in other type.

        What stands in other type is said of something else, though it is read next.
        """
        letters = list(self.text)
        for at in range(1, len(letters) - 1):
            if letters[at] == " " and self.glyphs[at] is None:
                one, other = self.glyphs[at - 1], self.glyphs[at + 1]
                if one is not None and other is not None and _other_type(one, other):
                    letters[at] = "\n"
        return "".join(letters)

    def inked(self, first: int, end: int) -> list[Glyph]:
        """Return those of some letters that have ink."""
        return [glyph for glyph in self.glyphs[first:end] if glyph is not None and glyph.area]

    def box_of(self, first: int, end: int) -> Box | None:
        """Return the box around the ink of some letters; None where they have none."""
        boxes = [glyph.box for glyph in self.inked(first, end)]
        return union(boxes) if boxes else None

    def find(self, wanted: str, any_case: bool = False) -> Iterator[tuple[int, int]]:
        """Yield where ``wanted`` stands as whole words: its first letter and its end.

        A line may end after a slash or a hyphen, where no figure is parted by it.
        """
        text = self.text.casefold() if any_case else self.text
        want = wanted.casefold() if any_case else wanted
        if any_case and (len(text) != len(self.text) or len(want) != len(wanted)):
            text, want = self.text, wanted
        for at, end in self.spots(want, text) if want else ():
            if _apart(text, at - 1, want[0], -1) and _apart(text, end, want[-1], 1):
                yield at, end

    def spots(self, want: str, text: str = "") -> Iterator[tuple[int, int]]:
        """Yield where ``want`` stands in the text as it is, or folded; a part of a word too."""
        broken, text = _may_break(want), text or self.text
        at = text.find(want)
        while at >= 0:
            yield at, at + len(want)
            at = text.find(want, at + 1)
        if broken is None or not self.ends:
            return
        for found in broken.finditer(text):
            added = [spot for spot in map(found.start, range(1, broken.groups + 1)) if spot >= 0]
            if added and self.ends.issuperset(added):
                yield found.span()


@lru_cache(maxsize=1024)
def _may_break(want: str) -> re.Pattern[str] | None:
    """Return what finds a text with a space after its slashes and hyphens; None if it has none."""
    parts = _BREAKS.split(want)
    return re.compile("( )?".join(map(re.escape, parts))) if len(parts) > 1 else None


_BREAKS = re.compile(r"(?<=[^\W\d][/-])(?=[^\W\d])")
"""Where a line of words may end without a space: between two letters, after a slash or hyphen."""


def _other_type(one: Glyph, other: Glyph) -> bool:
    """Tell whether two glyphs stand on two lines, in other faces or sizes."""
    alike = one.font == other.font and abs(one.size - other.size) < 0.01 * one.size
    return not alike and abs(one.y - other.y) > _SAME_LINE * min(one.size, other.size)


def _apart(text: str, at: int, edge: str, step: int) -> bool:
    """Tell whether the letter ``at`` does not belong to the word that ends with ``edge``."""
    if not 0 <= at < len(text):
        return True
    letter = text[at]
    if letter.isalnum() and edge.isalnum():
        return False
    beyond = at + step
    figures = edge.isdigit() and letter in "./," and 0 <= beyond < len(text)
    return not (figures and text[beyond].isdigit())


def lines_in(passages: Iterable[TextPassage]) -> list[TextLine]:
    """Return the lines of passages, each once."""
    return list({id(line): line for passage in passages for line in passage.lines}.values())


def passages(lines: Sequence[TextLine]) -> list[TextPassage]:
    """Return every way to read the lines from a first one on."""
    found = []
    for line in lines:
        if not line.leads_on:
            way, at = [line], line
            while at.after is not None and len(way) < _LONGEST:
                at = at.after
                way.append(at)
            found.append(_passage(way))
    return found


_LONGEST = 400


def _passage(way: list[TextLine]) -> TextPassage:
    letters: list[str] = []
    glyphs: list[Glyph | None] = []
    ends: list[int] = []
    for line in way:
        if _PLAIN.fullmatch(line.text):
            letters += line.text
            glyphs += line.glyphs
            letters.append(" ")
            glyphs.append(None)
            ends.append(len(letters) - 1)
            continue
        for letter, glyph in zip(line.text + " ", [*line.glyphs, None], strict=True):
            for plain in _folded(letter):
                if plain == " " and (not letters or letters[-1] == " "):
                    continue
                letters.append(plain)
                glyphs.append(glyph)
        ends.append(len(letters) - 1)
    if letters and letters[-1] == " ":
        letters.pop()
        glyphs.pop()
    return TextPassage("".join(letters), glyphs, way, frozenset(ends))


_PLAIN = re.compile(r"[!-~]+(?: [!-~]+)*")
"""Words that stand for themselves, one space between them."""


def _folded(letter: str) -> str:
    """Return a letter as `labeler.disclosures.statements.folded` would leave it."""
    if letter.isascii():
        return " " if letter.isspace() else letter
    if letter.isspace():
        return " "
    return folded_letters(letter)


# ------------------------------------------------------------------------------------- lines


def lines_of(glyphs: Iterable[Glyph]) -> list[TextLine]:
    """Return the lines of text that glyphs make, each with the one that is read after it."""
    turned: defaultdict[int, list[Glyph]] = defaultdict(list)
    angle = 0
    for glyph in glyphs:
        if glyph.across != (0.0, 0.0):
            angle = _angle(*glyph.across)
        turned[angle].append(glyph)
    lines: list[TextLine] = []
    for angle, group in turned.items():
        made = _lines_at(angle, group)
        _lead_on(made)
        lines += made
    return lines


def _angle(x: float, y: float) -> int:
    if y == 0:
        return 0 if x > 0 else 180
    return round(math.degrees(math.atan2(y, x))) % 360


def _lines_at(angle: int, glyphs: list[Glyph]) -> list[TextLine]:
    runs = _joined_fractions(list(_runs(angle, glyphs)))
    runs.sort(key=lambda run: run.base)
    lines: list[TextLine] = []
    level: list[_ReadRun] = []
    for run in runs:
        near = level and run.base - level[0].base <= _SAME_LINE * min(run.size, level[0].size)
        if level and not near:
            lines += _parted(level, angle)
            level = []
        level.append(run)
    lines += _parted(level, angle) if level else []
    return [line for line in lines if line.glyphs]  # a broken font's letters may read as nothing


def _runs(angle: int, glyphs: list[Glyph]) -> Iterator[_ReadRun]:
    """Yield stretches of glyphs that stand one after another, in painting order."""
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    run: _ReadRun | None = None
    for glyph in glyphs:
        if angle == 0:
            start, base, wide = glyph.x, glyph.y, glyph.across[0]
        else:
            start, base = glyph.x * cos + glyph.y * sin, glyph.y * cos - glyph.x * sin
            wide = glyph.across[0] * cos + glyph.across[1] * sin
        size = glyph.size
        if run is not None:
            gap = start - run.end
            follows = (
                abs(base - run.base) < 0.02 * size
                and abs(size - run.size) < 0.01 * size
                and -0.4 * size < gap < size
            )
            if follows:
                run.glyphs.append(glyph)
                run.end = start + wide
                continue
            yield run
        run = _ReadRun([glyph], start, start + wide, base, size)
    if run is not None:
        yield run


def _joined_fractions(runs: list[_ReadRun]) -> list[_ReadRun]:
    """Return the runs with each built fraction made one run on its slash's baseline."""
    taken: set[int] = set()
    made: list[_ReadRun] = []
    figures = [run for run in runs if run.text.isdecimal()]
    for run in runs:
        if run.text not in (FRACTION_SLASH, "/"):
            continue
        upper = next((one for one in figures if _is_upper(one, run)), None)
        lower = next((one for one in figures if _is_lower(one, run)), None)
        if upper is None or lower is None:
            continue
        taken |= {id(upper), id(run), id(lower)}
        glyphs = upper.glyphs + run.glyphs + lower.glyphs
        made.append(_ReadRun(glyphs, upper.start, lower.end, run.base, run.size))
    return [run for run in runs if id(run) not in taken] + made if made else runs


def _is_upper(figure: _ReadRun, slash: _ReadRun) -> bool:
    return (
        figure.size < _SMALL_FIGURE * slash.size
        and 0.08 * slash.size < slash.base - figure.base < 0.8 * slash.size
        and -0.35 * slash.size < slash.start - figure.end < 0.35 * slash.size
    )


def _is_lower(figure: _ReadRun, slash: _ReadRun) -> bool:
    return (
        figure.size < _SMALL_FIGURE * slash.size
        and abs(figure.base - slash.base) < 0.12 * slash.size
        and -0.35 * slash.size < figure.start - slash.end < 0.35 * slash.size
    )


def _parted(level: list[_ReadRun], angle: int) -> Iterator[TextLine]:
    """Yield the lines on one baseline: what stands far apart is read apart."""
    level.sort(key=lambda run: run.start)
    part: list[_ReadRun] = []
    for run in level:
        if part and run.start - part[-1].end > _COLUMN_GAP * min(run.size, part[-1].size):
            yield _line(part, angle)
            part = []
        part.append(run)
    yield _line(part, angle)


def _line(runs: list[_ReadRun], angle: int) -> TextLine:
    text: list[str] = []
    glyphs: list[Glyph | None] = []
    end: float | None = None
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    for run in runs:
        for glyph in run.glyphs:
            start = glyph.x if angle == 0 else glyph.x * cos + glyph.y * sin
            least = glyph.size if glyph.size < run.size else run.size
            apart = end is not None and start - end > _WORD_GAP * least
            if apart and text and not text[-1].isspace():
                text.append(" ")
                glyphs.append(None)
            reads = glyph.text if glyph.shape is None else glyph.shape
            if len(reads) == 1:
                text.append(reads)
                glyphs.append(glyph)
            else:
                text += reads
                glyphs += [glyph] * len(reads)
            across = glyph.across
            end = start + (across[0] if angle == 0 else across[0] * cos + across[1] * sin)
    size = max(run.size for run in runs)
    return TextLine("".join(text), glyphs, runs[0].start, runs[-1].end, runs[0].base, size, angle)


def _lead_on(lines: list[TextLine]) -> None:
    """Find for each line the one that is read after it."""
    ordered = sorted(lines, key=lambda line: line.base)
    for at, line in enumerate(ordered):
        nearest: TextLine | None = None
        for other in ordered[at + 1 :]:
            down = other.base - line.base
            if down > _LEADING * max(line.size, other.size) and down > 3 * line.size:
                break
            if down < 0.4 * min(line.size, other.size) or _shared(line, other) <= 0:
                continue
            if down > 0.95 * line.size + (_LEADING - 0.95) * other.size:
                continue
            if nearest is None:
                nearest = other
            elif other.base - nearest.base > 0.3 * other.size:
                break
            elif _shared(line, other) > _shared(line, nearest):
                nearest = other
        if nearest is not None:
            line.after = nearest
            nearest.leads_on = True


def _shared(one: TextLine, other: TextLine) -> float:
    return min(one.end, other.end) - max(one.start, other.start)
