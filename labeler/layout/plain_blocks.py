"""The plain blocks: spacer, rule and hole."""

from __future__ import annotations

import math

from typing_extensions import override

from labeler.geometry import Box, grown
from labeler.layout.block import Block, Edges, Surface, overflow
from labeler.layout.context import LayoutContext
from labeler.layout.markup import Node
from labeler.marks import KAPPA, Step, VectorPath, circle
from labeler.units import SLACK_PT, Length

_HAIRLINE = 0.35
"""Points. Printers hold a line of 0.25 pt and more; common practice, no published source."""

_ROUND = Length.from_inches(0.25).pt
"""A round peg hole, 1/4 in. Common practice, no published source."""

EURO_SLOT = (Length.from_mm(32).pt, Length.from_mm(6.5).pt, Length.from_mm(9).pt)
"""Width, height of the slot's arms, height with the dome. Source: EN 13010, as restated in
encyclopaedias; the standard itself was not read."""

_CLEAR = Length.from_inches(0.125).pt
"""What stays free around a hole. Common practice, no published source."""


class Spacer(Block):
    """Nothing, taking room."""

    def __init__(self, node: Node, context: LayoutContext) -> None:
        self.node = node
        if not {"share", "width", "height"} & node.attrs.keys():
            node.attrs["share"] = 1.0

    @override
    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        return float(self.node.attrs.get("width", 0.0)), float(self.node.attrs.get("height", 0.0))

    @override
    def blank(self) -> Edges:
        wide, high = self.natural(None, None, 0.0)
        return high, wide, high, wide

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        pass


class RuleBlock(Block):
    """A line along the longer side of its box."""

    def __init__(self, node: Node, context: LayoutContext) -> None:
        self.node, self.context = node, context
        self.weight: float = node.attrs.get("weight", _HAIRLINE)
        self.ink = context.line_ink(node.attrs.get("ink", "#000000"))

    @override
    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        return (width if width is not None else self.weight), (
            height if height is not None and math.isfinite(height) else self.weight
        )

    @override
    def least_width(self) -> float:
        return self.weight

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        left, top, right, bottom = box
        room = min(right - left, bottom - top)
        if room < self.weight - SLACK_PT:
            raise overflow(self.context.place(self.node), "the rule's weight", self.weight, room)
        if right - left >= bottom - top:
            middle = (top + bottom) / 2
            ends: tuple[Step, ...] = (("M", left, middle), ("L", right, middle))
            spot = (left, middle - self.weight / 2, right, middle + self.weight / 2)
        else:
            middle = (left + right) / 2
            ends = (("M", middle, top), ("L", middle, bottom))
            spot = (middle - self.weight / 2, top, middle + self.weight / 2, bottom)
        dash = self.node.attrs.get("dash")
        surface.marks.append(
            VectorPath(ends, stroke=self.ink, width=self.weight, dash=(dash, dash) if dash else ())
        )
        surface.occupied.append((spot, self))


class Hole:
    """A hang hole: a die line in the middle of its container's width, its surroundings free."""

    def __init__(self, node: Node) -> None:
        self.node = node
        self.shape = node.attrs.get("shape", "round")
        self.top = node.attrs.get("top", Length.from_inches(0.1875).pt)
        self.clear = node.attrs.get("clear", _CLEAR)

    def draw(self, box: Box, surface: Surface) -> None:
        """Put the hole's die line on ``surface`` and keep its surroundings clear."""
        middle, top = (box[0] + box[2]) / 2, box[1] + self.top
        if self.shape == "round":
            across = self.node.attrs.get("across", _ROUND)
            spot = (middle - across / 2, top, middle + across / 2, top + across)
            steps = circle(middle, top + across / 2, across / 2)
        else:
            wide, arm, tall = EURO_SLOT
            spot = (middle - wide / 2, top, middle + wide / 2, top + tall)
            steps = _euro_slot(middle, top, wide, arm, tall)
        surface.holes.append(VectorPath(steps, stroke="#000000", width=_HAIRLINE))
        surface.hole_zones.append(grown(spot, self.clear))


def _euro_slot(middle: float, top: float, wide: float, arm: float, tall: float) -> tuple[Step, ...]:
    """Return the slot: two arms with round ends, and a round dome over their middle."""
    foot, crown = top + tall, top
    shoulder = foot - arm
    r, k = arm / 2, arm / 2 * KAPPA
    dome = Length.from_mm(5).pt
    left, right = middle - wide / 2, middle + wide / 2
    curve = tall - arm
    return (
        ("M", left + r, shoulder),
        ("L", middle - dome, shoulder),
        ("C", middle - dome * 0.62, shoulder, middle - dome * 0.62, crown, middle, crown),
        ("C", middle + dome * 0.62, crown, middle + dome * 0.62, crown + curve, middle + dome,
         shoulder),
        ("L", right - r, shoulder),
        ("C", right - r + k, shoulder, right, foot - r - k, right, foot - r),
        ("C", right, foot - r + k, right - r + k, foot, right - r, foot),
        ("L", left + r, foot),
        ("C", left + r - k, foot, left, foot - r + k, left, foot - r),
        ("C", left, foot - r - k, left + r - k, shoulder, left + r, shoulder),
        ("Z",),
    )  # fmt: skip
