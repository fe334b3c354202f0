"""The hand that draws: its pen, its ways of telling inks apart, its small uncertainties."""

from __future__ import annotations

from dataclasses import dataclass

from labeler.layout.figure.chance import Chance
from labeler.layout.figure.pens import Pen
from labeler.layout.figure.treatments import Ways


@dataclass(frozen=True, slots=True)
class Hand:
    """What every part of a dressing is drawn with."""

    pen: Pen
    ways: Ways
    chance: Chance
    strands: int
    """Strands in the whole dressing: the more there are, the less is spent on each."""

    def share(self, wish: int, whole: int) -> int:
        """Return how many small strokes a strand gets: ``wish``, or its share of ``whole``."""
        return max(2, min(wish, whole // self.strands))
