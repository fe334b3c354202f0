"""Boxes and matrices, in points, y down, as a page is looked at."""

from __future__ import annotations

from typing import NamedTuple

from labeler.units import MM_PER_INCH, POINTS_PER_INCH

Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""

Matrix = tuple[float, float, float, float, float, float]
"""a b c d e f: a point (x, y) goes to (a·x + c·y + e, b·x + d·y + f)."""

IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)

EVERYWHERE: Box = (-1e9, -1e9, 1e9, 1e9)

NOWHERE: Box = (1e9, 1e9, -1e9, -1e9)


class Point(NamedTuple):
    """A place on the page."""

    x: float
    y: float


def times(first: Matrix, then: Matrix) -> Matrix:
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
    by = a * d - b * c
    return (
        d / by,
        -b / by,
        -c / by,
        a / by,
        (c * f - d * e) / by,
        (b * e - a * f) / by,
    )


def under(matrix: Matrix, box: Box) -> Box:
    """Return the box around ``box`` once ``matrix`` has moved it."""
    a, b, c, d, e, f = matrix
    left, top, right, bottom = box
    if b == 0 == c:
        x0, x1, y0, y1 = a * left + e, a * right + e, d * top + f, d * bottom + f
        return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)
    spots = [(x, y) for x in (left, right) for y in (top, bottom)]
    xs = [a * x + c * y + e for x, y in spots]
    ys = [b * x + d * y + f for x, y in spots]
    return min(xs), min(ys), max(xs), max(ys)


def at(matrix: Matrix, x: float, y: float) -> Point:
    """Return where ``matrix`` takes a point."""
    a, b, c, d, e, f = matrix
    return Point(a * x + c * y + e, b * x + d * y + f)


def overlap(one: Box, other: Box) -> Box | None:
    """Return what two boxes share, or None."""
    left, top = max(one[0], other[0]), max(one[1], other[1])
    right, bottom = min(one[2], other[2]), min(one[3], other[3])
    return (left, top, right, bottom) if left < right and top < bottom else None


def around(boxes: list[Box]) -> Box:
    """Return the box around all of ``boxes``.

    Raises:
        ValueError: if there are none.
    """
    lefts, tops, rights, bottoms = zip(*boxes, strict=True)
    return min(lefts), min(tops), max(rights), max(bottoms)


def grown(box: Box, by: float, down: float | None = None) -> Box:
    """Return ``box`` larger by so much on every side, ``down`` above and below if it is given."""
    tall = by if down is None else down
    return box[0] - by, box[1] - tall, box[2] + by, box[3] + tall


def area(box: Box) -> float:
    """Return the area of ``box``."""
    return max(0.0, box[2] - box[0]) * max(0.0, box[3] - box[1])


def within(inner: Box, outer: Box, slack: float = 0.0) -> bool:
    """Tell whether ``inner`` lies in ``outer``, give or take ``slack``."""
    return (
        inner[0] >= outer[0] - slack
        and inner[1] >= outer[1] - slack
        and inner[2] <= outer[2] + slack
        and inner[3] <= outer[3] + slack
    )


def holds(box: Box, x: float, y: float) -> bool:
    """Tell whether a point lies in ``box``."""
    return box[0] <= x <= box[2] and box[1] <= y <= box[3]


def millimetres(points: float) -> float:
    """Return a length in points as millimetres."""
    return points * MM_PER_INCH / POINTS_PER_INCH
