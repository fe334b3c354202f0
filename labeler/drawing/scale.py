"""How large figures stand beside each other: one scale for all."""

from __future__ import annotations

from collections.abc import Iterable

from labeler.marks import Group


def fitted(group: Group, room: tuple[float, float]) -> float:
    """Return how large a figure may stand in a room, beside its natural size.

    Args:
        group: the figure, drawn at natural size.
        room: the width and height that there is, in points.
    """
    left, top, right, bottom = group.box
    return min(room[0] / (right - left), room[1] / (bottom - top))


def shared_scale(figures: Iterable[tuple[Group, tuple[float, float]]]) -> float:
    """Return the largest scale at which every figure fits its room, so that sizes can be compared.

    Args:
        figures: each figure with the width and height that it has, in points.

    Raises:
        ValueError: if there is none.
    """
    return min(fitted(group, room) for group, room in figures)
