"""The graphics state of a content stream (ISO 32000-1:2008, 8.4 and 9.3)."""

from __future__ import annotations

from dataclasses import dataclass, replace

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

    def copy(self) -> State:
        """Return the state as it is now, to come back to."""
        return replace(self)


@dataclass(slots=True)
class TextPlace:
    """Where the next glyph and the next line begin."""

    now: Matrix = IDENTITY
    line: Matrix = IDENTITY
