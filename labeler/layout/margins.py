"""The room that neighbours share: gaps, margins, and what each leaves blank itself.

A margin is what other print must keep from a block. It may lie in the gap, in a neighbour's own
blank edge, in the pad of the container and in the room beyond; beyond the trim nothing is printed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from labeler.layout.ground import NO_EDGES, Block, Edges, own_side

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
