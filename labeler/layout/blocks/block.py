"""The ground that blocks draw on, what a block is, and how one says that it does not fit.

Points, y down, the face's top left corner as origin.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal, Protocol

from labeler.findings import LabelerError, Place, stop
from labeler.geometry import Box
from labeler.layout.markup import Node
from labeler.marks import Mark, VectorPath
from labeler.units import SLACK_PT, Length

Edges = tuple[float, float, float, float]
"""Lengths at the four sides of a box: top, right, bottom, left."""

NO_EDGES: Edges = (0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class ClearSpace:
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
    holes: list[VectorPath] = field(default_factory=list)
    clear: list[Box] = field(default_factory=list)
    kept: list[ClearSpace] = field(default_factory=list)

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
) -> VectorPath:
    """Return a rectangle as a path."""
    left, top, right, bottom = box
    return VectorPath(
        (("M", left, top), ("L", right, top), ("L", right, bottom), ("L", left, bottom), ("Z",)),
        fill=fill,
        stroke=stroke,
        width=width,
    )


# ----------------------------------------------------------------------------
# The room that neighbours share: gaps, margins, and what each leaves blank itself.
#
# A margin is what other print must keep from a block. It may lie in the gap, in a neighbour's own
# blank edge, in the pad of the container and in the room beyond; past the trim nothing is printed.

Ends = tuple[int, int]
"""The edges at which a container's run begins and ends, of top, right, bottom and left."""

DOWNWARDS: Ends = (0, 2)
SIDEWAYS: Ends = (3, 1)


def between(children: Sequence[Block], gap: float, ends: Ends) -> list[float]:
    """Return what stays free between each two neighbours: the gap, or the margin of either."""
    first, last = ends
    sides = [(child.margin(own_side(child, "width")), child.blank()) for child in children]
    return [
        max(gap, margin[last] - other_blank[first], other_margin[first] - blank[last])
        for (margin, blank), (other_margin, other_blank) in pairwise(sides)
    ]


def asked(children: Sequence[Block], ends: Ends, width: float | None) -> Edges:
    """Return what the children ask to be free around all of them, each given ``width``."""
    if not children:
        return NO_EDGES
    margins = {
        id(child): child.margin(width if (own := own_side(child, "width")) is None else own)
        for child in children
    }
    at = _at_edges(children, ends)
    top, right, bottom, left = (max(margins[id(one)][edge] for one in at[edge]) for edge in at)
    return top, right, bottom, left


def left_blank(children: Sequence[Block], ends: Ends, pad: Edges) -> Edges:
    """Return what the children and the pad around them leave blank at the edges."""
    if not children:
        return NO_EDGES
    blanks = {id(child): child.blank() for child in children}
    at = _at_edges(children, ends)
    top, right, bottom, left = (
        pad[edge] + min(blanks[id(one)][edge] for one in at[edge]) for edge in at
    )
    return top, right, bottom, left


def beyond(edges: Edges, pad: Edges) -> Edges:
    """Return what of ``edges`` the pad does not cover."""
    top, right, bottom, left = (max(0.0, e - p) for e, p in zip(edges, pad, strict=True))
    return top, right, bottom, left


def upside_down(edges: Edges) -> Edges:
    """Return the edges of a block that stands on its head."""
    top, right, bottom, left = edges
    return bottom, left, top, right


def _at_edges(children: Sequence[Block], ends: Ends) -> Mapping[int, Sequence[Block]]:
    """Return the children at each edge, in the order of `Edges`: one at an end, else all."""
    ending = {ends[0]: children[:1], ends[1]: children[-1:]}
    return {edge: ending.get(edge, children) for edge in range(4)}


# ----------------------------------------------------------------------------
# Room shared out in proportion, none less than its least; and the largest squeeze that fits.

_STEPS = 7
"""Halvings when the squeeze is looked for: 1/128 of the range of sizes is finer than an eye."""


def shared_out(room: float, shares: Sequence[float], least: Sequence[float]) -> list[float]:
    """Share out ``room`` by ``shares``; who would get less than their least get that instead.

    >>> shared_out(100, [1, 3], [0, 0])
    [25.0, 75.0]
    >>> shared_out(100, [1, 3], [40, 0])
    [40, 60.0]
    """
    lengths = list(least)
    open_ones = [i for i, share in enumerate(shares) if share]
    while open_ones:
        parts = sum(shares[i] for i in open_ones)
        tight = [i for i in open_ones if room * shares[i] / parts < least[i]]
        if not tight:
            for i in open_ones:
                lengths[i] = room * shares[i] / parts
            break
        for i in tight:
            room -= least[i]
            open_ones.remove(i)
    return lengths


def largest_squeeze(fits: Callable[[float], bool]) -> float:
    """Return the largest squeeze under 1 that fits, or 0 if none is found to."""
    low, high = 0.0, 1.0
    for _ in range(_STEPS):
        middle = (low + high) / 2
        if fits(middle):
            low = middle
        else:
            high = middle
    return low
