"""A line of words becomes glyph runs, each as wide as its words were measured.

Points, the line's left end and its baseline as origin, y down.
"""

from __future__ import annotations

from collections.abc import Iterator

from labeler.layout.lines import Line
from labeler.layout.marks import Glyphs
from labeler.layout.words import FIGURE_SHARE, Atom, slash_room
from labeler.typefaces import Shaped
from labeler.units import FRACTION_SLASH


def runs_of(line: Line, size: float) -> Iterator[Glyphs]:
    """Yield the runs of a line whose ink begins at (0, 0), ``size`` in points.

    What stands in one style is joined into one run, so that a reader gets whole lines.
    """
    x = line[0].left * size / 1000
    run: _Run | None = None
    for place, word in enumerate(line):
        for atom in word.atoms:
            if run and not run.takes(atom):
                yield run.glyphs()
                run = None
            if atom.shaped is None:
                yield from _fraction(atom, size, x)
            else:
                run = run or _Run(atom, size * atom.scale, x)
                run.add(atom.shaped)
            x += atom.width * size / 1000
        if place < len(line) - 1:
            if run:
                run.add_gap(word.gap_text, word.gap)
            x += word.gap * size / 1000
    if run:
        yield run.glyphs()


class _Run:
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
