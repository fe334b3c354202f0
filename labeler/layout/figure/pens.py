"""The pen in hand: how fine its lines are, and whether colours may be used."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

InkMode = Literal["colour", "black"]
Detail = Literal["fine", "plain"]


@dataclass(frozen=True, slots=True)
class Pen:
    """Line widths in points.

    A fine drawing is made for a card, at 0.35 to 1.2 of the size that it is drawn at: its hairline
    is still 0.15 pt at 0.35. A plain drawing is made for a label an inch high, at about a fifth.
    """

    ink: InkMode
    detail: Detail
    scale: float = 1.0
    """A small jig is shown as wide on paper as a large one, and so is drawn with a finer pen."""

    @property
    def black(self) -> bool:
        """Whether only black may be used, on white."""
        return self.ink == "black"

    @property
    def fine(self) -> bool:
        """Whether the drawing is for a card, with every stroke of the graver."""
        return self.detail == "fine"

    @property
    def hair(self) -> float:
        """The thinnest line."""
        return round((0.43 if self.fine else 0.95) * self.scale, 3)

    @property
    def contour(self) -> float:
        """The line around a solid thing."""
        return round((0.75 if self.fine else 1.5) * self.scale, 3)
