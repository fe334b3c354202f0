"""A printer's profile: what to do to a page so that the ink lands where it should."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from labeler.layout.marks import Matrix
from labeler.press.duplex import Flip
from labeler.press.matrix import after, undone

Feed = Literal["auto", "hand"]
Lying = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Printer:
    """The correction for one printer; a fresh profile corrects nothing.

    It is measured on paper that stands. A page that lies is turned by a quarter on its way to
    the paper, and the correction is turned with it.

    Attributes:
        name: what the maker calls it.
        dpi: its dots an inch, if known.
        shift: how far to move the print right and down, in points.
        scale: by how much to stretch it across and down.
        skew: how far x moves for each point down the page, and y for each point across.
        back: how much farther to move a back right and down, in points.
        duplex: the edge over which it turns a sheet.
        feed: whether it turns sheets by itself or the maker does, the whole stack at once.
        lying: where the top of a page that lies goes on paper that stands.
    """

    name: str = ""
    dpi: int | None = None
    shift: tuple[float, float] = (0.0, 0.0)
    scale: tuple[float, float] = (1.0, 1.0)
    skew: tuple[float, float] = (0.0, 0.0)
    back: tuple[float, float] = (0.0, 0.0)
    duplex: Flip = "long-edge"
    feed: Feed = "auto"
    lying: Lying = "left"

    def matrix(
        self, side: Literal["front", "back"] = "front", page: tuple[float, float] = (0.0, 0.0)
    ) -> Matrix:
        """Return the correction as a matrix over a page's points, top left origin, y down.

        Args:
            side: of the sheet.
            page: the page's width and height.
        """
        (across, down), (x, y) = self.scale, self.shift
        lean, tilt = self.skew
        if side == "back":
            x, y = x + self.back[0], y + self.back[1]
        upright = across, tilt, lean, down, x, y
        if page[0] <= page[1]:
            return upright
        onto_paper = _quarter_turn(page, self.lying)
        return after(undone(onto_paper), after(upright, onto_paper))


def _quarter_turn(page: tuple[float, float], lying: Lying) -> Matrix:
    """Return the matrix that takes a lying page's points to the paper's.

    CUPS turns a page whose top goes left, "landscape" as RFC 8011, 5.2.10 has it: by 90 degrees
    counter-clockwise; some drivers turn it the other way.
    """
    width, height = page
    return (0, -1, 1, 0, 0, width) if lying == "left" else (0, 1, -1, 0, height, 0)
