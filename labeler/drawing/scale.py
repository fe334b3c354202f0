"""How large figures stand beside each other: one scale for all, and how it is said."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from labeler.drawing.heads import PT_PER_MM
from labeler.marks import Group, Step, VectorPath


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


_LIFE_SIZE = 0.03
"""Nearer to natural size than this, nobody sees the difference."""


def said_scale(scale: float) -> str:
    """Return a scale as a caption says it.

    >>> said_scale(1.6), said_scale(0.5), said_scale(1.01)
    ('× 1.6', '× 0.5', 'actual size')
    """
    if abs(scale - 1) <= _LIFE_SIZE:
        return "actual size"
    return f"× {scale:.2g}" if scale < 1 else f"× {scale:.1f}"


def scale_bar(scale: float, at: tuple[float, float], ink: str = "#000000") -> Iterator[VectorPath]:
    """Yield a bar that stands for ten millimetres of the jig, with a stroke at each end.

    Args:
        scale: at which the figures stand.
        at: the bar's left end, in points.
        ink: of the bar.
    """
    x, y = at
    long = 10 * PT_PER_MM * scale
    ends: tuple[Step, ...] = tuple(
        step for end in (x, x + long) for step in (("M", end, y - _TICK), ("L", end, y + _TICK))
    )
    yield VectorPath((("M", x, y), ("L", x + long, y)), stroke=ink, width=0.5)
    yield VectorPath(ends, stroke=ink, width=0.5)


_TICK = 2.0
