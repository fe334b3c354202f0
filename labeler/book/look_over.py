"""Looks a page over before it goes to the press: nothing outside it, nothing on something else."""

from __future__ import annotations

from labeler.book.canvas import Canvas
from labeler.findings import LabelerError, Place, stop
from labeler.layout.marks import Box
from labeler.units import SLACK_PT

_SAFE = 12.0
"""Points: what trimming may be off by, and more. Common practice, no published source."""

_TOUCH = 0.6
"""Points: boxes hold air above and below their ink, so a hair's breadth is no collision."""


def look_over(canvas: Canvas, what: str, page: int) -> None:
    """Refuse a page on which something is clipped or lies on something else.

    Raises:
        LabelerError: with a finding for each.
    """
    place = Place(page=page or None, piece=what)
    faults = [
        stop("book-clipped", place, f"{name} reaches past the page's safe zone")
        for box, name in canvas.taken
        if not _inside(box, canvas)
    ]
    ordered = sorted(canvas.taken, key=lambda one: one[0][1])
    for number, (box, name) in enumerate(ordered):
        for other, other_name in ordered[number + 1 :]:
            if other[1] >= box[3] - _TOUCH:
                break
            if _meet(box, other):
                faults.append(stop("book-collision", place, f"{name} lies on {other_name}"))
    if faults:
        raise LabelerError(faults)


def _inside(box: Box, canvas: Canvas) -> bool:
    return (
        box[0] >= _SAFE - SLACK_PT
        and box[1] >= _SAFE - SLACK_PT
        and box[2] <= canvas.width - _SAFE + SLACK_PT
        and box[3] <= canvas.height - _SAFE + SLACK_PT
    )


def _meet(one: Box, other: Box) -> bool:
    return (
        one[0] < other[2] - _TOUCH
        and other[0] < one[2] - _TOUCH
        and one[1] < other[3] - _TOUCH
        and other[1] < one[3] - _TOUCH
    )
