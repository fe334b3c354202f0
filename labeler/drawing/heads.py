"""The jig's head and collar: the head's shape by style, engraved and washed with its ink."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from labeler.drawing import engraving
from labeler.drawing.curves import (
    Cubic,
    at,
    between,
    curve,
    line,
    move,
    sized,
    straight,
    stroke,
    swelling,
)
from labeler.drawing.engraving import Pen
from labeler.drawing.subject import HeadLook, figures_of
from labeler.geometry import Point
from labeler.marks import Step, VectorPath
from labeler.units import MM_PER_INCH, POINTS_PER_INCH

PT_PER_MM = POINTS_PER_INCH / MM_PER_INCH

KAPPA = 0.5523
"""A quarter circle's handles, as a share of its radius, when one cubic draws it."""


@dataclass(frozen=True, slots=True)
class HeadShape:
    """A head's shape in points, the middle of its rear at the origin."""

    contour: tuple[Cubic, ...]
    tie: Point
    guard: Point
    eye: tuple[float, float, float]
    creases: tuple[Cubic, ...]
    turn: float
    length: float
    far: tuple[Cubic, ...] = ()
    """The contour of a lobe that lies behind the line tie."""


@lru_cache(maxsize=64)
def head_shape(style: str, ounces: float, *, first: bool = False) -> HeadShape:
    """Return the shape of a head by its style and the weight of the mould's cavity.

    ``first`` asks for it as the first edition of the drawing had it.

    Solid bodies of one shape grow with the cube root of their weight; the drawing keeps within
    0.45 and 1.4 of the 3/8 oz head, so that it stays a drawing of a jig.
    """
    scale = min(1.4, max(0.45, (ounces / 0.375) ** (1 / 3)))
    row = (first and figures_of("first_edition").get(style)) or figures_of("heads")[style]
    size = row["length"] * PT_PER_MM * scale
    x, y, radius = row["eye"]
    return HeadShape(
        contour=tuple(sized(c, size) for c in _outline(row["contour"])),
        tie=(row["tie"][0] * size, row["tie"][1] * size),
        guard=(row["guard"][0] * size, row["guard"][1] * size),
        eye=(x * size, y * size, radius * size),
        creases=tuple(sized(c, size) for c in row["creases"]),
        turn=math.radians(row.get("turn", 0)),
        length=size,
        far=tuple(sized(c, size) for c in _outline(row.get("far", ""))),
    )


@lru_cache(maxsize=16)
def _outline(text: str) -> tuple[Cubic, ...]:
    """Read a contour's M, L, C and Z into curves."""
    words = text.split()
    here: Point = (0.0, 0.0)
    found: list[Cubic] = []
    while words:
        letter = words.pop(0)
        if letter == "Z":
            break
        count = {"M": 2, "L": 2, "C": 6}[letter]
        numbers = [float(words.pop(0)) for _ in range(count)]
        spots = list(zip(numbers[::2], numbers[1::2], strict=True))
        if letter == "L":
            found.append(straight(here, spots[0]))
        elif letter == "C":
            found.append((here, spots[0], spots[1], spots[2]))
        here = spots[-1]
    return tuple(found)


class Scan:
    """Reads a contour crosswise: where along its axis, and how far from top to bottom."""

    def __init__(self, shape: HeadShape) -> None:
        cos, sin = math.cos(shape.turn), math.sin(shape.turn)
        self._cos, self._sin = cos, sin
        ring = [at(c, t / 12) for c in shape.contour for t in range(12)]
        turned = [(x * cos + y * sin, y * cos - x * sin) for x, y in ring]
        self._legs = list(zip(turned, [*turned[1:], turned[0]], strict=True))
        xs = [x for x, _ in turned]
        self._left, self._right = min(xs), max(xs)

    def spot(self, along: float, down: float) -> Point:
        """Return the point at a share of the way from nose to rear and from top to bottom."""
        x = self._left + (self._right - self._left) * min(0.998, max(0.002, along))
        heights = []
        for (x0, y0), (x1, y1) in self._legs:
            if (x0 <= x) != (x1 <= x):
                heights.append(y0 + (y1 - y0) * (x - x0) / (x1 - x0))
        top, bottom = min(heights), max(heights)
        y = top + (bottom - top) * down
        return x * self._cos - y * self._sin, x * self._sin + y * self._cos

    def run(self, down: float, start: float, end: float) -> Cubic:
        """Return the line at one share of the height, from ``start`` to ``end`` along the axis."""
        a, b = self.spot(start, down), self.spot(end, down)
        early = self.spot(start + (end - start) / 3, down)
        late = self.spot(start + (end - start) * 2 / 3, down)
        # The curve through four points at thirds, turned into its control points.
        first = tuple((-5 * a[i] + 18 * early[i] - 9 * late[i] + 2 * b[i]) / 6 for i in (0, 1))
        second = tuple((2 * a[i] - 9 * early[i] + 18 * late[i] - 5 * b[i]) / 6 for i in (0, 1))
        return a, (first[0], first[1]), (second[0], second[1]), b


def closed(curves: tuple[Cubic, ...]) -> tuple[Step, ...]:
    """Return the steps of a closed contour."""
    return (*stroke(curves), ("Z",))


def circle(x: float, y: float, radius: float) -> tuple[Step, ...]:
    """Return the steps of a circle."""
    k = radius * KAPPA
    return (
        move((x - radius, y)),
        curve((x - radius, y - k), (x - k, y - radius), (x, y - radius)),
        curve((x + k, y - radius), (x + radius, y - k), (x + radius, y)),
        curve((x + radius, y + k), (x + k, y + radius), (x, y + radius)),
        curve((x - k, y + radius), (x - radius, y + k), (x - radius, y)),
        ("Z",),
    )


@lru_cache(maxsize=64)
def draw_head(shape: HeadShape, coat: HeadLook, pen: Pen) -> tuple[VectorPath, ...]:
    """Return the head: wash, core shadow, engraved lines, highlight, contour, eye."""
    scan = Scan(shape)
    drawn = _engraved if pen.black else _washed
    eye = _eye(shape, coat.eye, coat.ink, pen) if coat.eye else ()
    return (*drawn(shape, scan, coat, pen), *eye)


def draw_far_lobe(shape: HeadShape, coat: HeadLook, pen: Pen) -> tuple[VectorPath, ...]:
    """Return the lobe behind the line tie, drawn like the head, in the near lobe's shadow."""
    if not shape.far:
        return ()
    lobe = replace(shape, contour=shape.far, far=(), creases=())
    ink = coat.ink if pen.black else engraving.shade(coat.ink, 0.16)
    return draw_head(lobe, replace(coat, eye=None, ink=ink), pen)


def _washed(shape: HeadShape, scan: Scan, coat: HeadLook, pen: Pen) -> Iterator[VectorPath]:
    ink = coat.ink
    dark = engraving.lightness(ink) < engraving.DARK
    line_ink = engraving.tint(ink, 0.2) if dark else engraving.shade(ink, 0.62)
    yield VectorPath(closed(shape.contour), fill=ink)
    yield VectorPath(_crescent(scan, 0.34, 0.04, 0.98), fill=engraving.shade(ink, 0.13))
    yield VectorPath(_crescent(scan, 0.6, 0.1, 0.96), fill=engraving.shade(ink, 0.28))
    if pen.fine:
        yield VectorPath(_hatching(scan, (0.44, 0.92), 11, pen.hair * 0.8), fill=line_ink)
        yield VectorPath(_cross_hatching(scan, 13, pen.hair * 0.62), fill=line_ink)
    yield VectorPath(_lens(scan, 0.12, 0.42, 0.14, 0.74), fill=engraving.tint(ink, 0.2))
    glint = engraving.tint(ink, 0.82 if coat.painted else 0.6)
    yield VectorPath(_lens(scan, 0.19, 0.3, 0.24, 0.54), fill=glint)
    if pen.fine or len(shape.creases) < 2:
        yield from _creases(shape, line_ink, pen)
    yield from _contour(shape, scan, engraving.shade(ink, 0.82), pen)


def _contour(shape: HeadShape, scan: Scan, ink: str, pen: Pen) -> Iterator[VectorPath]:
    """Yield the outline, heavier on the side that turns from the light."""
    yield VectorPath(closed(shape.contour), stroke=ink, width=pen.contour, round_ends=True)
    yield VectorPath(swelling(scan.run(0.985, 0.1, 0.95), pen.contour * 1.1, 0.55), fill=ink)


def _crescent(scan: Scan, down: float, start: float, end: float) -> tuple[Step, ...]:
    """Return the part of the head below a line, a sickle along its under side."""
    upper, lower = scan.run(down, start, end), scan.run(0.975, start, end)
    return (
        move(lower[0]),
        curve(upper[1], upper[2], lower[3]),
        curve(lower[2], lower[1], lower[0]),
        ("Z",),
    )


def _lens(scan: Scan, top: float, bottom: float, start: float, end: float) -> tuple[Step, ...]:
    """Return a highlight: a leaf that lies along the form."""
    middle = (top + bottom) / 2
    upper, lower = scan.run(top, start, end), scan.run(bottom, start, end)
    a, b = scan.spot(start, middle), scan.spot(end, middle)
    return (
        move(a),
        curve(upper[1], upper[2], b),
        curve(lower[2], lower[1], a),
        ("Z",),
    )


def _hatching(
    scan: Scan, between_: tuple[float, float], lines: int, half: float
) -> tuple[Step, ...]:
    """Return engraved lines along the form that close up and lengthen toward its under side."""
    top, bottom = between_
    steps: list[Step] = []
    for number in range(lines):
        share = number / max(1, lines - 1)
        down = top + (bottom - top) * share**0.85
        start = 0.46 - 0.34 * share
        steps += swelling(
            scan.run(down, start, 0.9 + 0.06 * share), half * (0.6 + 0.4 * share), 0.6
        )
    return tuple(steps)


def _cross_hatching(scan: Scan, lines: int, half: float) -> tuple[Step, ...]:
    """Return short lines around the form, across the others, where the shadow is deepest."""
    steps: list[Step] = []
    for number in range(lines):
        share = number / (lines - 1)
        along = 0.26 + 0.62 * share
        top = 0.86 - 0.26 * math.sin(math.pi * (0.25 + 0.6 * share))
        a, b = scan.spot(along + 0.05, top), scan.spot(along, 0.95)
        bulge = (b[1] - a[1]) * 0.16
        steps += swelling(
            (a, (a[0] + bulge, between(a, b, 0.3)[1]), (b[0] + bulge, between(a, b, 0.7)[1]), b),
            half, 0.6,
        )  # fmt: skip
    return tuple(steps)


def _creases(shape: HeadShape, ink: str, pen: Pen) -> Iterator[VectorPath]:
    for crease in shape.creases:
        yield VectorPath(swelling(crease, pen.contour * 0.6), fill=ink)


def _engraved(shape: HeadShape, scan: Scan, coat: HeadLook, pen: Pen) -> Iterator[VectorPath]:
    """Yield the head in black: hatched where it is light, cut out of black where it is dark."""
    light = engraving.lightness(coat.ink)
    if shape.far:  # else two black lobes are one blot
        around = closed(shape.contour)
        yield VectorPath(around, stroke=engraving.WHITE, width=pen.contour * 3.4, round_ends=True)
    if light < 0.36:
        yield from _cut_out(shape, scan, pen)
    else:
        yield VectorPath(closed(shape.contour), fill=engraving.WHITE)
        depth = min(1.0, (0.9 - light) / 0.54) if light < 0.9 else 0.0
        lines = 9 + round(9 * depth) if pen.fine else 4 + round(2 * depth)
        bold = pen.hair * (0.8 + 0.5 * depth)
        yield VectorPath(
            _hatching(scan, (0.52 - 0.36 * depth, 0.93), lines, bold), fill=engraving.BLACK
        )
        if pen.fine:
            across_ = 11 + round(8 * depth)
            yield VectorPath(_cross_hatching(scan, across_, bold * 0.75), fill=engraving.BLACK)
        yield from _creases(shape, engraving.BLACK, pen)
    yield from _contour(shape, scan, engraving.BLACK, pen)


def _cut_out(shape: HeadShape, scan: Scan, pen: Pen) -> Iterator[VectorPath]:
    """Yield a black head with its highlight, the lines that fade from it, and reflected light."""
    yield VectorPath(closed(shape.contour), fill=engraving.BLACK)
    yield VectorPath(_lens(scan, 0.14, 0.36, 0.16, 0.62), fill=engraving.WHITE)
    if pen.fine:
        yield VectorPath(_hatching(scan, (0.34, 0.52), 4, pen.hair * 0.8), fill=engraving.WHITE)
        yield VectorPath(_hatching(scan, (0.86, 0.94), 2, pen.hair * 0.7), fill=engraving.WHITE)
    yield from _creases(shape, engraving.WHITE, pen)


def _eye(shape: HeadShape, eye_ink: str, head_ink: str, pen: Pen) -> Iterator[VectorPath]:
    x, y, radius = shape.eye
    iris = engraving.WHITE if pen.black else eye_ink
    ring = engraving.BLACK if pen.black else engraving.shade(head_ink, 0.85)
    pupil = engraving.BLACK if pen.black else engraving.SEPIA
    yield VectorPath(
        circle(x, y, radius), fill=iris, stroke=ring, width=pen.hair * 1.2, round_ends=True
    )
    yield VectorPath(circle(x + radius * 0.06, y, radius * 0.52), fill=pupil)
    if pen.fine:
        yield VectorPath(
            circle(x - radius * 0.2, y - radius * 0.24, radius * 0.16), fill=engraving.WHITE
        )


@dataclass(frozen=True, slots=True)
class Collar:
    """A barrel of thread, from the head's rear to where the skirt springs free; in points."""

    length: float
    half: float
    """Half its height."""


def draw_collar(collar: Collar, ink: str, pen: Pen) -> Iterator[VectorPath]:
    """Yield the barrel, its shadow, and the turns of thread around it."""
    dark = engraving.lightness(ink) < 0.4
    base = ink
    turn = engraving.tint(ink, 0.42) if dark else engraving.shade(ink, 0.45)
    rim = engraving.shade(ink, 0.75)
    if pen.black:
        base = engraving.BLACK if dark else engraving.WHITE
        turn = engraving.WHITE if dark else engraving.BLACK
        rim = engraving.BLACK
    yield VectorPath(_barrel(collar), fill=base)
    if not pen.black:
        yield VectorPath(_under_side(collar), fill=engraving.shade(ink, 0.35))
    yield VectorPath(_turns(collar, 7 if pen.fine else 3, pen), fill=turn)
    yield VectorPath(_barrel(collar), stroke=rim, width=pen.hair * 1.2, round_ends=True)


def _barrel(collar: Collar) -> tuple[Step, ...]:
    x, h = collar.length, collar.half
    return (
        move((-1.5, -h * 0.92)),
        curve((x * 0.3, -h * 1.1), (x * 0.7, -h * 1.1), (x, -h * 0.92)),
        curve((x + h * 0.3, -h * 0.5), (x + h * 0.3, h * 0.5), (x, h * 0.92)),
        curve((x * 0.7, h * 1.1), (x * 0.3, h * 1.1), (-1.5, h * 0.92)),
        curve((h * 0.3 - 1.5, h * 0.5), (h * 0.3 - 1.5, -h * 0.5), (-1.5, -h * 0.92)),
        ("Z",),
    )


def _under_side(collar: Collar) -> tuple[Step, ...]:
    x, h = collar.length, collar.half
    return (
        move((0, h * 0.35)),
        curve((x * 0.3, h * 0.5), (x * 0.7, h * 0.5), (x + h * 0.17, h * 0.35)),
        line((x, h * 0.92)),
        curve((x * 0.7, h * 1.1), (x * 0.3, h * 1.1), (-1.0, h * 0.92)),
        ("Z",),
    )


def _turns(collar: Collar, turns: int, pen: Pen) -> tuple[Step, ...]:
    """Return one swelling stroke for each turn of thread, slanting a little as wraps do."""
    steps: list[Step] = []
    h = collar.half
    for number in range(turns):
        x = collar.length * (number + 0.5) / turns - 0.4
        bulge = h * 0.34
        steps += swelling(
            ((x - 0.3, -h), (x + bulge, -h * 0.5), (x + bulge + 0.3, h * 0.5), (x + 0.3, h)),
            pen.hair * 0.75,
            0.55,
        )
    return tuple(steps)
