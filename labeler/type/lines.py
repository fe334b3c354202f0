"""A text as words, and words as lines: what may break, what never does, and where it breaks best.

Widths are in thousandths of the type size, so one break serves while a size is looked for.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

from labeler.type.faces import Shaped
from labeler.type.styles import Style
from labeler.units import FRACTION_SLASH, NO_BREAK_SPACE, THIN_SPACE

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
        atoms.append(_fraction(style, found[1], found[2], scale))
        at = found.end()
    if at < len(text):
        atoms.append(_plain(style, text[at:], scale))
    return tuple(atoms)


def _plain(style: Style, text: str, scale: float) -> Atom:
    shaped = style.face.shape(text, style.tracking, style.tabular)
    return Atom(style, text, shaped.width * scale, scale, shaped=shaped)


def _fraction(style: Style, upper: str, lower: str, scale: float) -> Atom:
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


@dataclass(frozen=True, slots=True)
class Broken:
    """A text in lines, and the width of its widest."""

    lines: tuple[Line, ...]
    widest: float


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


def fewest(words: tuple[Word, ...], measure: float) -> Broken | None:
    """Break into the fewest lines of at most ``measure``, each as full as can be."""
    begins = starts(words, measure)
    if begins is None:
        return None
    lines = tuple(words[begin:end] for begin, end in pairwise([*begins, len(words)]))
    return Broken(lines, max(map(width_of, lines), default=0.0))


def break_well(words: tuple[Word, ...], measure: float, balance: bool) -> Broken | None:
    """Break into the fewest lines that fit, chosen so that they are even.

    Args:
        words: the text.
        measure: the line's width.
        balance: whether the last line should be as long as the others (a name), or may be
            shorter (a story).
    """
    greedy = fewest(words, measure)
    if greedy is None or not 2 <= len(greedy.lines) <= _MOST_EVENED:
        return greedy
    if any(w.ends_line for w in words[:-1]):
        return greedy
    lines = _even(words, measure, len(greedy.lines), balance)
    if lines is None:
        return greedy
    return Broken(lines, max(map(width_of, lines)))


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
