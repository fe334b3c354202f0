"""The graphics state of a content stream (ISO 32000-1:2008, 8.4 and 9.3)."""

from __future__ import annotations

from dataclasses import dataclass

from labeler.checker.colour import BLACK
from labeler.checker.fonts import FileFont
from labeler.checker.geometry import EVERYWHERE, IDENTITY, Box, Matrix
from labeler.checker.seen import Rgb


@dataclass(slots=True)
class State:
    """All that one operator leaves for the next."""

    matrix: Matrix
    clip: Box = EVERYWHERE
    fill: Rgb | None = BLACK
    stroke: Rgb | None = BLACK
    fill_parts: int | None = 1
    """How many numbers the fill's colour space takes; None where they say nothing by themselves."""
    stroke_parts: int | None = 1
    fill_alpha: float = 1.0
    stroke_alpha: float = 1.0
    width: float = 1.0
    font: FileFont | None = None
    size: float = 0.0
    letter_space: float = 0.0
    word_space: float = 0.0
    stretch: float = 1.0
    leading: float = 0.0
    rise: float = 0.0
    mode: int = 0
    style: tuple[object, ...] = ()
    """What was set that is not followed: dashes, caps, joins, dictionaries of parameters."""
    cuts: tuple[tuple[str, Matrix, tuple[float, ...]], ...] = ()
    """The clipping paths in force that are no upright rectangles: steps, matrix and points."""

    def copy(self) -> State:
        """Return the state as it is now, to come back to."""
        return State(
            self.matrix, self.clip, self.fill, self.stroke, self.fill_parts, self.stroke_parts,
            self.fill_alpha, self.stroke_alpha, self.width, self.font, self.size,
            self.letter_space, self.word_space, self.stretch, self.leading, self.rise, self.mode,
            self.style, self.cuts,
        )  # fmt: skip

    @property
    def ink(self) -> tuple[object, ...]:
        """All that a form drawn now inherits, but where it stands and what is clipped."""
        return (
            self.fill, self.stroke, self.fill_parts, self.stroke_parts, self.fill_alpha,
            self.stroke_alpha, self.width, id(self.font), self.size, self.letter_space,
            self.word_space, self.stretch, self.leading, self.rise, self.mode, self.style,
        )  # fmt: skip


@dataclass(slots=True)
class TextPlace:
    """Where the next glyph and the next line begin."""

    now: Matrix = IDENTITY
    line: Matrix = IDENTITY
