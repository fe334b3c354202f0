"""The ground that blocks draw on, what a block is, and how one says that it does not fit.

Points, y down, the face's top left corner as origin.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, Protocol

from labeler.findings import LabelerError, Place, stop
from labeler.layout.marks import Box, Mark, Path
from labeler.layout.markup import Node
from labeler.units import SLACK_PT, Length

Edges = tuple[float, float, float, float]
"""Lengths at the four sides of a box: top, right, bottom, left."""

NO_EDGES: Edges = (0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Kept:
    """The box of a quantity's letters, what stays clear of print around it, and whose it is."""

    box: Box
    above: float
    beside: float
    block: Block

    @property
    def room(self) -> Box:
        """The box with its clear space."""
        left, top, right, bottom = self.box
        return left - self.beside, top - self.above, right + self.beside, bottom + self.above


@dataclass(slots=True)
class Ground:
    """What is being drawn on: the marks so far and what must keep clear of what.

    ``taken`` are the boxes of blocks with ink; ``holes`` the die lines; ``clear`` the boxes
    around them that must stay free; ``kept`` the quantities that print keeps its distance from.
    """

    trim: Box
    bleed: float
    marks: list[Mark] = field(default_factory=list)
    taken: list[tuple[Box, Block]] = field(default_factory=list)
    holes: list[Path] = field(default_factory=list)
    clear: list[Box] = field(default_factory=list)
    kept: list[Kept] = field(default_factory=list)

    def reach(self, box: Box) -> Box:
        """Return ``box`` with every edge that lies on the trim carried on into the bleed."""
        left, top, right, bottom = self.trim
        return (
            box[0] - self.bleed * (abs(box[0] - left) < SLACK_PT),
            box[1] - self.bleed * (abs(box[1] - top) < SLACK_PT),
            box[2] + self.bleed * (abs(box[2] - right) < SLACK_PT),
            box[3] + self.bleed * (abs(box[3] - bottom) < SLACK_PT),
        )


class Block(Protocol):
    """A block of a layout."""

    node: Node
    holds_quantity: bool = False
    """Whether it says how many are in the pack, from which other print keeps its distance."""

    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        """Return the size it would like, given one or both sides, infinite where it can't."""

    def narrowest(self) -> float:
        """Return the least width in which it can be drawn at all, whatever its height."""
        return own_side(self, "width") or 0.0

    def margin(self, width: float | None) -> Edges:
        """Return how far other print must keep from it, at its largest.

        ``width`` is the box's, where it is known. Margins of neighbours, their gap and what they
        keep blank themselves are one and the same room; beyond the trim none is needed.
        """
        return NO_EDGES

    def blank(self) -> Edges:
        """Return what it leaves unprinted at the sides of its own box, at the least."""
        return NO_EDGES

    def printed(self, box: Box) -> Box:
        """Return the part of a box that it has taken in which there may be ink."""
        return box

    def drop(self, width: float, height: float) -> float:
        """Return how far above its foot its last line of text stands in a box of this size."""
        return 0.0

    def draw(self, box: Box, ground: Ground) -> None:
        """Put its marks on ``ground``, inside ``box``."""


def own_side(block: Block, side: Literal["width", "height"]) -> float | None:
    """Return the width or height that the layout gives a block, or None."""
    own: float | None = block.node.attrs.get(side)
    return own


def overflow(place: Place, what: str, needs: float, has: float) -> LabelerError:
    """Return the error for a block that does not fit, with both sizes in millimetres."""
    asked, given = Length(needs).mm, Length(max(0.0, has)).mm
    places = 1 if asked - given >= 0.1 else 2
    return LabelerError(
        stop(
            "layout-overflow",
            place,
            f"{what} does not fit",
            found=f"it needs {asked:.{places}f} mm at its least",
            expected=f"at most {given:.{places}f} mm",
            hint="Shorten the text, or choose a larger label or another layout.",
        )
    )


def too_narrow(place: Place, block: Block) -> LabelerError:
    """Return the error for a block that nothing can be made of in the width it gets."""
    return LabelerError(
        stop(
            "layout-overflow",
            place,
            f"{block.node.name} does not fit in the width that the layout gives it",
            expected=f"at least {Length(block.narrowest()).mm:.1f} mm of width",
            hint="Shorten the text, or choose a larger label or another layout.",
        )
    )


class HoleBlock(Protocol):
    """A hole in a container: drawn as a die line, out of the flow."""

    def draw(self, box: Box, ground: Ground) -> None:
        """Put the hole's die line on ``ground`` and keep its surroundings clear."""


def rectangle(
    box: Box, *, fill: str | None = None, stroke: str | None = None, width: float = 0.5
) -> Path:
    """Return a rectangle as a path."""
    left, top, right, bottom = box
    return Path(
        (("M", left, top), ("L", right, top), ("L", right, bottom), ("L", left, bottom), ("Z",)),
        fill=fill,
        stroke=stroke,
        width=width,
    )
