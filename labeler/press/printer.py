"""A printer's profile: what to do to a page so that the ink lands where it should."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from labeler.layout.marks import Matrix
from labeler.press.duplex import Flip

Feed = Literal["auto", "hand"]


@dataclass(frozen=True, slots=True)
class Printer:
    """The correction for one printer; a fresh profile corrects nothing.

    Attributes:
        name: what the maker calls it.
        dpi: its dots an inch, if known.
        shift: how far to move the print right and down, in points.
        scale: by how much to stretch it across and down.
        skew: how far x moves for each point down the page, and y for each point across.
        back: how much farther to move a back right and down, in points.
        duplex: the edge over which it turns a sheet.
        feed: whether it turns sheets by itself or the maker does, the whole stack at once.
    """

    name: str = ""
    dpi: int | None = None
    shift: tuple[float, float] = (0.0, 0.0)
    scale: tuple[float, float] = (1.0, 1.0)
    skew: tuple[float, float] = (0.0, 0.0)
    back: tuple[float, float] = (0.0, 0.0)
    duplex: Flip = "long-edge"
    feed: Feed = "auto"

    def matrix(self, side: Literal["front", "back"] = "front") -> Matrix:
        """Return the correction as a matrix over a page's points, top left origin, y down."""
        (across, down), (x, y) = self.scale, self.shift
        lean, tilt = self.skew
        if side == "back":
            x, y = x + self.back[0], y + self.back[1]
        return across, tilt, lean, down, x, y
