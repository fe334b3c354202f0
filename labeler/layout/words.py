"""A text as words: what may break, what never does, and what is set as a fraction.

Knows nothing of sizes or lines. Widths are in thousandths of an em.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

from labeler.layout.style import Style
from labeler.typefaces import Shaped
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
