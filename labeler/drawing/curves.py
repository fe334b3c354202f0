"""Cubic curves, and the shapes that a pen makes along them: lines, ribbons, swelling strokes.

A curve is four points, a line of curves a sequence of them end to end. Points are in points of
length, y down.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from labeler.geometry import Box, Point
from labeler.marks import Step, VectorPath

Cubic = tuple[Point, Point, Point, Point]
Widths = tuple[float, float, float, float]
"""Half the width of a ribbon at each of a curve's four points."""

PLACES = 2
"""Decimals of a coordinate: 0.01 pt is 1/7200 inch, finer than any printer's dot."""


def move(at: Point) -> Step:
    """Return the step that lifts the pen to a point."""
    return ("M", round(at[0], PLACES), round(at[1], PLACES))


def line(to: Point) -> Step:
    """Return the step that draws straight to a point."""
    return ("L", round(to[0], PLACES), round(to[1], PLACES))


def curve(first: Point, second: Point, to: Point) -> Step:
    """Return the step that draws a cubic curve to a point."""
    return (
        "C",
        round(first[0], PLACES),
        round(first[1], PLACES),
        round(second[0], PLACES),
        round(second[1], PLACES),
        round(to[0], PLACES),
        round(to[1], PLACES),
    )


def between(a: Point, b: Point, t: float) -> Point:
    """Return the point that lies ``t`` of the way from ``a`` to ``b``."""
    return a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t


def at(cubic: Cubic, t: float) -> Point:
    """Return the point of the curve at ``t``, 0 to 1."""
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = cubic
    u = 1 - t
    a, b, c, d = u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t
    return a * x0 + b * x1 + c * x2 + d * x3, a * y0 + b * y1 + c * y2 + d * y3


def sized(cubic: Sequence[Sequence[float]], size: float, x: float = 0.0) -> Cubic:
    """Return a curve given in shares of a length, drawn that large and moved right by ``x``."""
    p0, p1, p2, p3 = ((x + across * size, down * size) for across, down in cubic)
    return p0, p1, p2, p3


def split(cubic: Cubic, t: float) -> tuple[Cubic, Cubic]:
    """Cut a curve in two at ``t`` (de Casteljau's construction)."""
    p0, p1, p2, p3 = cubic
    a, b, c = between(p0, p1, t), between(p1, p2, t), between(p2, p3, t)
    d, e = between(a, b, t), between(b, c, t)
    mid = between(d, e, t)
    return (p0, a, d, mid), (mid, e, c, p3)


def part(cubic: Cubic, start: float, end: float) -> Cubic:
    """Return the piece of a curve from ``start`` to ``end``."""
    rest = split(cubic, start)[1] if start > 0 else cubic
    return split(rest, (end - start) / (1 - start))[0] if end < 1 else rest


def across(a: Point, b: Point) -> Point:
    """Return the unit vector to the left hand of the way from ``a`` to ``b``, y down."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    length = math.hypot(dx, dy) or 1.0
    return dy / length, -dx / length


def beside(cubic: Cubic, by: Widths) -> Cubic:
    """Return the curve that runs beside one, off by ``by`` to its left hand.

    The curve's control polygon is set off leg by leg, and its corners where the legs then meet.
    Source: W. Tiller, E. G. Hanson, Offsets of Two-Dimensional Profiles, IEEE Computer Graphics
    and Applications 4(9), 1984.
    """
    p0, p1, p2, p3 = cubic
    start, early, late, end = _ways_off(cubic)
    return (
        (p0[0] + start[0] * by[0], p0[1] + start[1] * by[0]),
        (p1[0] + early[0] * by[1], p1[1] + early[1] * by[1]),
        (p2[0] + late[0] * by[2], p2[1] + late[1] * by[2]),
        (p3[0] + end[0] * by[3], p3[1] + end[1] * by[3]),
    )


@lru_cache(maxsize=256)
def _ways_off(cubic: Cubic) -> Cubic:
    """Return, for each of a curve's points, the way that it is set off by one.

    Kept, since a ribbon's two edges, its shade and its gleam are all set off from one curve.
    """
    p0, p1, p2, p3 = cubic
    start, middle, end = across(p0, p1), across(p1, p2), across(p2, p3)
    return start, _corner(start, middle), _corner(middle, end), end


def _corner(a: Point, b: Point) -> Point:
    """Return the way to where two lines meet, each set off by one along its own unit vector."""
    # In a hairpin they meet too far off to draw; there the corner is cut.
    spread = max(1 + a[0] * b[0] + a[1] * b[1], 0.6)
    return (a[0] + b[0]) / spread, (a[1] + b[1]) / spread


def through(points: Sequence[Point]) -> list[Cubic]:
    """Return a smooth line of curves through two or more points (Catmull and Rom's spline)."""
    ends = [points[0], *points, points[-1]]
    line_: list[Cubic] = []
    for before, a, b, after in zip(ends, ends[1:], ends[2:], ends[3:], strict=False):
        first = a[0] + (b[0] - before[0]) / 6, a[1] + (b[1] - before[1]) / 6
        second = b[0] - (after[0] - a[0]) / 6, b[1] - (after[1] - a[1]) / 6
        line_.append((a, first, second, b))
    return line_


def stroke(curves: Iterable[Cubic]) -> tuple[Step, ...]:
    """Return the steps of a line of curves."""
    steps: list[Step] = []
    for p0, p1, p2, p3 in curves:
        if not steps:
            steps.append(move(p0))
        steps.append(curve(p1, p2, p3))
    return tuple(steps)


def straight(a: Point, b: Point) -> Cubic:
    """Return a straight line as a curve."""
    return a, between(a, b, 1 / 3), between(a, b, 2 / 3), b


def ribbon(
    curves: Sequence[Cubic], widths: Sequence[Widths], round_tip: bool = False
) -> tuple[Step, ...]:
    """Return the outline of a ribbon along a line of curves.

    Args:
        curves: its middle, end to end.
        widths: half its width at each curve's four points.
        round_tip: round its far end off; else it is cut across.
    """
    return band(curves, widths, (-1.0, 1.0), round_tip)


def band(
    curves: Sequence[Cubic],
    widths: Sequence[Widths],
    sides: tuple[float, float],
    round_tip: bool = False,
) -> tuple[Step, ...]:
    """Return a lengthwise strip of a ribbon.

    Args:
        curves: the ribbon's middle, end to end.
        widths: half the ribbon's width at each curve's four points.
        sides: the strip's two edges, from -1 (the right hand) to 1 (the left hand).
        round_tip: round its far end off; else it is cut across.
    """
    low, high = sides
    pairs = list(zip(curves, widths, strict=True))
    left = [beside(c, (w[0] * high, w[1] * high, w[2] * high, w[3] * high)) for c, w in pairs]
    right = [beside(c, (w[0] * low, w[1] * low, w[2] * low, w[3] * low)) for c, w in pairs]
    steps = [*stroke(left), *_tip(left[-1], right[-1], round_tip)]
    for p0, p1, p2, _ in reversed(right):
        steps.append(curve(p2, p1, p0))
    return (*steps, ("Z",))


def _tip(left: Cubic, right: Cubic, round_tip: bool) -> tuple[Step, ...]:
    a, b = left[3], right[3]
    if a == b:
        return ()
    if not round_tip:
        return (line(b),)
    # A half circle's handles reach 4/3 of its radius when one cubic draws it.
    out = (b[1] - a[1]) * 2 / 3, (b[0] - a[0]) * -2 / 3
    return (curve((a[0] + out[0], a[1] + out[1]), (b[0] + out[0], b[1] + out[1]), b),)


def swelling(cubic: Cubic, half: float, lean: float = 0.5) -> tuple[Step, ...]:
    """Return an engraver's stroke: it grows from nothing to its full width and dies away.

    Args:
        cubic: the way of the burin.
        half: half the width that the stroke would have at its fullest control point.
        lean: 0 puts the fullest part at the beginning, 1 at the end.
    """
    early, late = half * 2 * (1 - lean), half * 2 * lean
    left = beside(cubic, (0, early, late, 0))
    right = beside(cubic, (0, -early, -late, 0))
    return move(left[0]), curve(*left[1:]), curve(right[2], right[1], right[0]), ("Z",)


def box_of(paths: Iterable[VectorPath]) -> Box:
    """Return the tightest box around paths as inked: curves' true reach and strokes' width.

    No stroke of a figure has a mitred corner: those with corners have round ends and joins.

    Raises:
        ValueError: if there is nothing to measure.
    """
    left = top = math.inf
    right = bottom = -math.inf
    for path in paths:
        over = path.width / 2 if path.stroke else 0.0
        known = left + over, top + over, right - over, bottom - over
        for x, y in _reach(path.steps, known):
            left, right = min(left, x - over), max(right, x + over)
            top, bottom = min(top, y - over), max(bottom, y + over)
    if left > right:
        raise ValueError("no paths to measure")
    return (
        math.floor(left * 100) / 100,
        math.floor(top * 100) / 100,
        math.ceil(right * 100) / 100,
        math.ceil(bottom * 100) / 100,
    )


def _reach(steps: Iterable[Step], known: Box) -> Iterator[Point]:
    """Yield the ends of every step, and where its curves turn back in x or in y.

    What lies in the box that is ``known`` already is passed over: a curve never leaves the hull
    of its four points.
    """
    left, top, right, bottom = known
    here: Point = (0.0, 0.0)
    for step in steps:
        if step[0] == "Z":
            continue
        if step[0] == "C":
            _, x1, y1, x2, y2, x, y = step
            start, here = here, (x, y)
            if (
                left <= x1 <= right and left <= x2 <= right and left <= x <= right
                and top <= y1 <= bottom and top <= y2 <= bottom and top <= y <= bottom
            ):  # fmt: skip
                continue
            cubic: Cubic = (start, (x1, y1), (x2, y2), here)
            for axis in (0, 1):
                yield from (at(cubic, t) for t in _turns([p[axis] for p in cubic]))
        else:
            here = step[1], step[2]
        yield here


def _turns(p: Sequence[float]) -> list[float]:
    """Return where a cubic's one coordinate stands still: roots of its derivative in (0, 1)."""
    if min(p[0], p[3]) <= min(p[1], p[2]) and max(p[1], p[2]) <= max(p[0], p[3]):
        return []
    a = p[3] - 3 * p[2] + 3 * p[1] - p[0]
    b = 2 * (p[2] - 2 * p[1] + p[0])
    c = p[1] - p[0]
    if abs(a) < 1e-9:
        roots = [-c / b] if abs(b) > 1e-9 else []
    else:
        under = b * b - 4 * a * c
        if under < 0:
            return []
        root = math.sqrt(under)
        roots = [(-b + root) / (2 * a), (-b - root) / (2 * a)]
    return [t for t in roots if 0 < t < 1]
