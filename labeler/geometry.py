"""Boxes and matrices, once for the whole program: in points, y down, as a page is looked at.

Plain tuples and functions, since a page holds tens of thousands of them.
"""

from __future__ import annotations

from collections.abc import Iterable

Point = tuple[float, float]

Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""

Matrix = tuple[float, float, float, float, float, float]
"""a b c d e f: a point (x, y) goes to (a·x + c·y + e, b·x + d·y + f)."""

IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)

EVERYWHERE: Box = (-1e9, -1e9, 1e9, 1e9)

NOWHERE: Box = (1e9, 1e9, -1e9, -1e9)
"""A box around nothing yet: united with any other it is the other."""


def multiply(first: Matrix, then: Matrix) -> Matrix:
    """Return the matrix that does ``first`` and after it ``then``."""
    a, b, c, d, e, f = first
    A, B, C, D, E, F = then  # noqa: N806  (as ISO 32000-1:2008, 8.3.4 writes them)
    return (
        a * A + b * C,
        a * B + b * D,
        c * A + d * C,
        c * B + d * D,
        e * A + f * C + E,
        e * B + f * D + F,
    )


def inverse(matrix: Matrix) -> Matrix:
    """Return the matrix that undoes ``matrix``.

    Raises:
        ZeroDivisionError: if it flattens the page to a line.
    """
    a, b, c, d, e, f = matrix
    determinant = a * d - b * c
    return (
        d / determinant,
        -b / determinant,
        -c / determinant,
        a / determinant,
        (c * f - d * e) / determinant,
        (b * e - a * f) / determinant,
    )


def apply(matrix: Matrix, x: float, y: float) -> Point:
    """Return where ``matrix`` takes the point."""
    a, b, c, d, e, f = matrix
    return a * x + c * y + e, b * x + d * y + f


def apply_to_box(matrix: Matrix, box: Box) -> Box:
    """Return the box around ``box`` once ``matrix`` has moved it."""
    a, b, c, d, e, f = matrix
    left, top, right, bottom = box
    if b == 0 == c:
        x0, x1, y0, y1 = a * left + e, a * right + e, d * top + f, d * bottom + f
        return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)
    return bounding_box(apply(matrix, x, y) for x in (left, right) for y in (top, bottom))


def bounding_box(points: Iterable[Point]) -> Box:
    """Return the box around points.

    Raises:
        ValueError: if there are none.
    """
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def union(boxes: Iterable[Box]) -> Box:
    """Return the box around all of ``boxes``.

    Raises:
        ValueError: if there are none.
    """
    lefts, tops, rights, bottoms = zip(*boxes, strict=True)
    return min(lefts), min(tops), max(rights), max(bottoms)


def intersection(one: Box, other: Box) -> Box | None:
    """Return what two boxes share, or None; a mere edge in common is nothing."""
    left, top = max(one[0], other[0]), max(one[1], other[1])
    right, bottom = min(one[2], other[2]), min(one[3], other[3])
    return (left, top, right, bottom) if left < right and top < bottom else None


def overlaps(one: Box, other: Box, slack: float = 0.0) -> bool:
    """Tell whether two boxes share more than ``slack`` both across and down."""
    return (
        one[0] < other[2] - slack
        and other[0] < one[2] - slack
        and one[1] < other[3] - slack
        and other[1] < one[3] - slack
    )


def contains(outer: Box, inner: Box, slack: float = 0.0) -> bool:
    """Tell whether ``inner`` lies in ``outer``, give or take ``slack``."""
    return (
        inner[0] >= outer[0] - slack
        and inner[1] >= outer[1] - slack
        and inner[2] <= outer[2] + slack
        and inner[3] <= outer[3] + slack
    )


def contains_point(box: Box, x: float, y: float) -> bool:
    """Tell whether a point lies in ``box``."""
    return box[0] <= x <= box[2] and box[1] <= y <= box[3]


def grown(box: Box, across: float, down: float | None = None) -> Box:
    """Return ``box`` larger by ``across`` on every side, by ``down`` above and below if given."""
    down = across if down is None else down
    return box[0] - across, box[1] - down, box[2] + across, box[3] + down


def area(box: Box) -> float:
    """Return the area of ``box``, none where its sides have changed places."""
    return max(0.0, box[2] - box[0]) * max(0.0, box[3] - box[1])
