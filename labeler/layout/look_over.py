"""A finished face is looked over: nothing over a hole, outside the safe zone, or on another."""

from __future__ import annotations

from collections.abc import Iterator

from labeler.findings import Finding, LabelerError, stop
from labeler.layout.ground import Block, Ground
from labeler.layout.marks import Box, spots
from labeler.layout.markup import Node
from labeler.layout.setup import Setup
from labeler.units import SLACK_PT, Length


def look_over(face: Node, ground: Ground, setup: Setup, safe: float) -> None:
    """Refuse what stands where it must not.

    Args:
        face: the front or back.
        ground: what was drawn.
        setup: for the places that findings name.
        safe: what stays free inside the trim, in points.

    Raises:
        LabelerError: with every block that stands over a hole, outside the safe zone, on
            another block or too near a quantity, and every hole that is cut off.
    """
    faults = [
        *_holes_cut_off(face, ground, setup),
        *_over_holes(ground, setup),
        *_outside(ground, setup, safe),
        *_collisions(ground, setup),
        *_crowding(ground, setup),
    ]
    if faults:
        raise LabelerError(faults)


def _holes_cut_off(face: Node, ground: Ground, setup: Setup) -> Iterator[Finding]:
    for hole in ground.holes:
        xs, ys = zip(*spots(hole), strict=True)
        if not _inside((min(xs), min(ys), max(xs), max(ys)), ground.trim):
            yield stop("layout-hole-outside", setup.at(face), "a hole reaches over the edge")


def _over_holes(ground: Ground, setup: Setup) -> Iterator[Finding]:
    for box, block in ground.taken:
        if any(_meet(box, hole) for hole in ground.clear):
            yield stop(
                "layout-hole-covered", setup.at(block.node), "this stands over the hang hole",
                hint="Shorten the text, or choose a larger card or another layout.",
            )  # fmt: skip


def _outside(ground: Ground, setup: Setup, safe: float) -> Iterator[Finding]:
    left, top, right, bottom = ground.trim
    zone = (left + safe, top + safe, right - safe, bottom - safe)
    for box, block in ground.taken:
        if not _inside(box, zone):
            yield stop(
                "layout-unsafe",
                setup.at(block.node),
                "this stands outside the safe zone",
                found=_edges(box, ground.trim),
                expected=f"at least {Length(safe).mm:.2f} mm from every edge",
            )


def _collisions(ground: Ground, setup: Setup) -> Iterator[Finding]:
    """Sweep from top to bottom, so that only blocks side by side are held against each other."""
    beside: list[tuple[Box, Block]] = []
    for box, block in sorted(ground.taken, key=lambda one: one[0][1]):
        beside = [one for one in beside if one[0][3] > box[1] + SLACK_PT]
        for other_box, other in beside:
            if other is not block and _meet(box, other_box):
                yield stop(
                    "layout-collision", setup.at(block.node), f"this stands on {other.node.name}"
                )
        beside.append((box, block))


def _crowding(ground: Ground, setup: Setup) -> Iterator[Finding]:
    """Yield what is printed in the clear space around a quantity. Source: 16 CFR 500.6(b)."""
    for kept in ground.kept:
        for box, other in ground.taken:
            if other is not kept.block and _meet(other.printed(box), _within(kept.room)):
                yield stop(
                    "layout-crowded",
                    setup.at(kept.block.node),
                    f"{other.node.name} stands in the clear space around the quantity",
                    expected=f"{Length(kept.above).mm:.1f} mm clear above and below, "
                    f"{Length(kept.beside).mm:.1f} mm beside",
                )


def _within(room: Box) -> Box:
    return room[0] + _HAIR, room[1] + _HAIR, room[2] - _HAIR, room[3] - _HAIR


_HAIR = 0.06
"""Points: two hundredths of a millimetre, by which blocks that just fit may stand over."""


def _meet(one: Box, other: Box) -> bool:
    return (
        one[0] < other[2] - SLACK_PT
        and other[0] < one[2] - SLACK_PT
        and one[1] < other[3] - SLACK_PT
        and other[1] < one[3] - SLACK_PT
    )


def _inside(box: Box, zone: Box) -> bool:
    return (
        box[0] >= zone[0] - SLACK_PT
        and box[1] >= zone[1] - SLACK_PT
        and box[2] <= zone[2] + SLACK_PT
        and box[3] <= zone[3] + SLACK_PT
    )


def _edges(box: Box, trim: Box) -> str:
    near = min(box[0] - trim[0], box[1] - trim[1], trim[2] - box[2], trim[3] - box[3])
    if near < 0:
        return f"{-Length(near).mm:.2f} mm over an edge"
    return f"{Length(near).mm:.2f} mm from an edge"
