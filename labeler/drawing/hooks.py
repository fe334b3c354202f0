"""The hook and its weed guard: real proportions by size and bend, wire with light and shadow."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from labeler.drawing import engraving
from labeler.drawing.curves import (
    Cubic,
    Widths,
    across,
    at,
    band,
    beside,
    between,
    curve,
    line,
    move,
    part,
    ribbon,
    sized,
    straight,
    stroke,
)
from labeler.drawing.engraving import Chance, Pen
from labeler.drawing.heads import KAPPA, PT_PER_MM, circle
from labeler.drawing.subject import GuardLook, HookLook, figures_of
from labeler.geometry import Point
from labeler.marks import Step, VectorPath

_STEP = 1.09
"""From one size to the next, beyond the table."""

_BEYOND = 4
"""So many sizes beyond the table still grow or shrink."""


@dataclass(frozen=True, slots=True)
class Gauge:
    """What a size measures, in points."""

    gape: float
    shank: float
    wire: float


@dataclass(frozen=True, slots=True)
class Wire:
    """A hook at its place: the middle of its wire from the head to the point, in points."""

    shank: Cubic
    bend: tuple[Cubic, ...]
    """The last of them is the spear that ends in the point."""
    half: float
    gape: float
    tie: Point
    eye: float
    """The angle of the eye to the shank, in radians."""

    @property
    def point(self) -> Point:
        """The very point of the hook."""
        return self.bend[-1][3]

    @property
    def rear(self) -> float:
        """How far back the bend reaches."""
        return max(at(c, t / 6)[0] for c in self.bend for t in range(7))


def gauge(hook: HookLook) -> Gauge:
    """Return what a hook measures by its size, bend and wire, in points.

    Sizes beyond the table go on by 9 % a step, and stop at what can be drawn on a jig.
    """
    table = figures_of("hooks")
    rows: dict[str, dict[str, float]] = table["sizes"]
    order = list(rows)
    first, last = _place(order[0]), _place(order[-1])
    place = _place(hook.size)
    within = min(max(place, first), last)
    row, form = rows[order[within - first]], table["bends"][hook.bend]
    grow = _STEP ** min(max(place - within, -_BEYOND), _BEYOND) * PT_PER_MM
    return Gauge(
        gape=row["gape"] * form["gape"] * grow,
        shank=row["shank"] * form["shank"] * grow,
        wire=row["wire"] * table["wires"][hook.wire] * grow,
    )


def _place(size: str) -> int:
    """Return a size's place in the order of growing hooks: 1 is 0, 1/0 is 1."""
    number, slash, _ = size.partition("/")
    return int(number) if slash else 1 - int(number)


@lru_cache(maxsize=64)
def bend_hook(hook: HookLook, tie: Point) -> Wire:
    """Return the wire of a hook whose eye leaves the head at ``tie``.

    The shank lies on y = 0. It ends half a gape before the back of the bend, which is the bend's
    own reach; a head too long for its hook still leaves room for a bend behind it.
    """
    measures = gauge(hook)
    g = measures.gape
    end = max(tie[0] + measures.shank - 0.5 * g, 1.1 * g)
    return Wire(
        shank=straight((0.0, 0.0), (end, 0.0)),
        bend=tuple(sized(c, g, end) for c in figures_of("hooks")["bends"][hook.bend]["curves"]),
        half=measures.wire / 2,
        gape=g,
        tie=tie,
        eye=math.radians(hook.eye),
    )


def draw_hook(wire: Wire, ink: str, pen: Pen) -> Iterator[VectorPath]:
    """Yield shank, bend, spear and barb; the head hides where the shank begins."""
    dark, body, light = _inks(ink, pen)
    half, rim = max(wire.half, pen.hair * 1.3), pen.hair * 0.8
    yield VectorPath(_outline(wire, half + rim), fill=dark)
    yield VectorPath(_barb(wire, half + rim, rim), fill=dark)
    yield VectorPath(_barb(wire, half, 0.0), fill=body)
    yield VectorPath(_outline(wire, half), fill=body)
    last = part(wire.bend[1], 0.0, 0.9)
    full: Widths = (half,) * 4
    fading: Widths = (half, half, half * 0.9, half * 0.4)
    gleam = band([wire.shank, wire.bend[0], last], [full, full, fading], (0.12, 0.58))
    yield VectorPath(gleam, fill=light)


def _inks(ink: str, pen: Pen) -> tuple[str, str, str]:
    """Return the inks of a wire's contour, its body and its light side."""
    if pen.black:
        dark = engraving.lightness(ink) < 0.8
        return engraving.BLACK, engraving.BLACK if dark else engraving.WHITE, engraving.WHITE
    return engraving.shade(ink, 0.72), ink, engraving.tint(ink, 0.55)


def _outline(wire: Wire, half: float) -> tuple[Step, ...]:
    full: Widths = (half,) * 4
    spear: Widths = (half, half * 0.96, half * 0.66, 0.0)
    extra = half - wire.half
    tip = wire.bend[-1]
    if extra > 0:  # the contour's point stands out past the body's
        way = across(tip[2], tip[3])
        end = tip[3][0] - way[1] * -extra * 1.2, tip[3][1] + way[0] * -extra * 1.2
        tip = tip[0], tip[1], tip[2], end
    return ribbon([wire.shank, *wire.bend[:2], tip], [full, full, full, spear])


def _barb(wire: Wire, half: float, rim: float) -> tuple[Step, ...]:
    """Return the barb: a sliver cut up from the spear's inner side, leaning to the bend."""
    spear = wire.bend[-1]
    tip, heel = at(spear, 0.62), at(spear, 0.36)
    inward = across(heel, tip)
    reach = wire.gape * 0.05 + half
    free = (
        heel[0] + wire.gape * 0.03 + inward[0] * reach + rim,
        heel[1] + inward[1] * reach + rim * 0.5,
    )
    foot = between(heel, tip, 0.3)
    return (
        move(between(tip, spear[3], 0.15)),
        curve(
            between(tip, (tip[0] + inward[0] * half, tip[1] + inward[1] * half), 1.2),
            between(tip, free, 0.6),
            free,
        ),
        line((foot[0] + inward[0] * half * 0.5, foot[1] + inward[1] * half * 0.5)),
        ("Z",),
    )


def draw_line_tie(wire: Wire, ink: str, pen: Pen) -> Iterator[VectorPath]:
    """Yield the eye: a ring of wire on a short neck, at its angle out of the head."""
    dark, body, light = _inks(ink, pen)
    half, rim = max(wire.half, pen.hair * 1.3), pen.hair * 0.8
    along = -math.cos(wire.eye), -math.sin(wire.eye)
    bore = wire.half * 1.9
    reach = wire.half * 4.4 + bore
    middle = wire.tie[0] + along[0] * reach, wire.tie[1] + along[1] * reach
    foot = wire.tie[0] - along[0] * 2, wire.tie[1] - along[1] * 2
    neck = straight(foot, between(foot, middle, 1 - bore / (reach + 2)))
    outer = bore + half * 1.6
    for extra, ink_ in ((rim, dark), (0.0, body)):
        yield VectorPath(ribbon([neck], [(half + extra,) * 4]), fill=ink_)
        ring = circle(*middle, outer + extra) + circle(*middle, bore - half * 0.3 - extra)
        yield VectorPath(ring, fill=ink_, even_odd=True)
    yield VectorPath(
        stroke([beside(part(neck, 0.2, 1.0), (half * 0.3,) * 4)]),
        stroke=light,
        width=half * 0.5,
        round_ends=True,
    )
    yield VectorPath(
        _arc(middle, bore + half * 0.75), stroke=light, width=half * 0.5, round_ends=True
    )


def _arc(middle: Point, radius: float) -> tuple[Step, ...]:
    """Return the upper left quarter of a circle."""
    x, y = middle
    k = radius * KAPPA
    return move((x - radius, y)), curve((x - radius, y - k), (x - k, y - radius), (x, y - radius))


MOST_FIBRES = 48
"""More fibres than these run into one another even on a card; the fan then shows so many."""

MOST_PLAIN_FIBRES = 9

_PALE = 0.65
"""Inks lighter than this need a darker line beneath them to show on paper."""


def draw_guard(
    guard: GuardLook, wire: Wire, foot: Point, pen: Pen, chance: Chance
) -> Iterator[VectorPath]:
    """Yield a guard that stands at ``foot`` on the head and ends just over the hook's point."""
    tip = wire.point[0] + wire.gape * 0.12, wire.point[1] - wire.gape * 0.2
    if guard.style == "fibre":
        return _fibres(guard, (foot, tip), pen, chance)
    if guard.style == "wire":
        return _wires(guard, (foot, tip), pen)
    return _braid(guard, (foot, tip), pen)


def _fibres(
    guard: GuardLook, way: tuple[Point, Point], pen: Pen, chance: Chance
) -> Iterator[VectorPath]:
    """Yield each fibre, those at the back first, fanned out from the plug that holds them."""
    count = min(guard.strands, MOST_FIBRES if pen.fine else MOST_PLAIN_FIBRES)
    ink = engraving.BLACK if pen.black else guard.ink
    back = ink if pen.black else engraving.tint(ink, 0.3)
    spread = math.radians(4 + 5 * min(1.0, count / 30))
    width = pen.hair * 1.16
    edge = None if pen.black or engraving.lightness(ink) < _PALE else engraving.edge(ink)
    for i in sorted(range(count), key=_behind):
        share = (i + 0.5) / count * 2 - 1
        steps = stroke([_fibre(way, share, spread, chance)])
        if edge:
            yield VectorPath(steps, stroke=edge, width=width * 1.9, round_ends=True)
        own = ink if _behind(i) else back
        yield VectorPath(steps, stroke=own, width=width, round_ends=True)


def _behind(number: int) -> int:
    """Return a fibre's place in depth: every third lies at the back."""
    return number % 3


def _fibre(way: tuple[Point, Point], share: float, spread: float, chance: Chance) -> Cubic:
    foot, tip = way
    reach = math.hypot(tip[0] - foot[0], tip[1] - foot[1]) * chance.within(0.97, 1.03)
    angle = math.atan2(tip[1] - foot[1], tip[0] - foot[0]) + share * spread
    angle += chance.about(0, spread * 0.12)
    side = across(foot, tip)
    start = foot[0] - side[0] * share * 2.0, foot[1] - side[1] * share * 2.0
    bow = reach * 0.045 + chance.about(0, reach * 0.012)
    end = start[0] + math.cos(angle) * reach, start[1] + math.sin(angle) * reach
    return (
        start,
        (start[0] + (end[0] - start[0]) / 3, start[1] + (end[1] - start[1]) / 3 - bow),
        (start[0] + (end[0] - start[0]) * 0.7, start[1] + (end[1] - start[1]) * 0.7 - bow),
        end,
    )


def _wires(guard: GuardLook, way: tuple[Point, Point], pen: Pen) -> Iterator[VectorPath]:
    """Yield two springy wires in a narrow V, each bent down over the hook's point."""
    ink = engraving.BLACK if pen.black else guard.ink
    for share in (-1.0, 1.0):
        long = _bowed(way, share * 3.2)
        yield VectorPath(stroke([long]), stroke=ink, width=pen.contour * 1.35, round_ends=True)
        if not pen.black:
            light = engraving.tint(ink, 0.5)
            yield VectorPath(stroke([long]), stroke=light, width=pen.hair, round_ends=True)


def _bowed(way: tuple[Point, Point], off: float) -> Cubic:
    (x0, y0), (x1, y1) = way
    dx, dy = x1 - x0, y1 - y0
    return (
        (x0, y0),
        (x0 + dx * 0.34, y0 + dy * 0.55 + off * 0.5 - 2),
        (x0 + dx * 0.76, y0 + dy * 1.1 + off - 3),
        (x1 + 3, y1 + off + 2),
    )


def _braid(guard: GuardLook, way: tuple[Point, Point], pen: Pen) -> Iterator[VectorPath]:
    """Yield one braided cable with a frayed end."""
    ink = engraving.BLACK if pen.black else guard.ink
    light = engraving.WHITE if pen.black else engraving.tint(ink, 0.5)
    cable = _bowed(way, 0.0)
    half = pen.contour * 1.3
    yield VectorPath(ribbon([cable], [(half,) * 4]), fill=ink)
    yield VectorPath(stroke([cable]), stroke=light, width=half * 0.9, dash=(0.8, 1.7))
    end = at(cable, 1.0)
    for lean in (-0.5, -0.1, 0.3):
        stub = end, (end[0] + 1.5, end[1] + lean), (end[0] + 3, end[1] + lean * 3), (
            end[0] + 5, end[1] + lean * 6
        )  # fmt: skip
        yield VectorPath(stroke([stub]), stroke=ink, width=pen.hair, round_ends=True)
