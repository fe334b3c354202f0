"""The hook: real proportions by size and bend, and wire with a light and a shadow side."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

from labeler.layout.figure import tones
from labeler.layout.figure.curves import (
    Cubic,
    Point,
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
    straight,
    stroke,
)
from labeler.layout.figure.heads import PT_PER_MM, circle
from labeler.layout.figure.pens import Pen
from labeler.layout.figure.subject import Hook
from labeler.layout.marks import Path, Step

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


def gauge(hook: Hook) -> Gauge:
    """Return what a hook measures by its size, bend and wire, in points.

    Sizes beyond the table go on by 9 % a step, and stop at what can be drawn on a jig.
    """
    table = _tables()
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
    """Return a size's place in the order of growing hooks: 1 is nought, 1/0 is one."""
    number, slash, _ = size.partition("/")
    return int(number) if slash else 1 - int(number)


@lru_cache(maxsize=1)
def _tables() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("hooks.toml").read_text("utf-8"))


@lru_cache(maxsize=64)
def bent(hook: Hook, tie: Point) -> Wire:
    """Return the wire of a hook whose eye leaves the head at ``tie``.

    The shank lies on y = 0. It ends half a gape before the back of the bend, which is the bend's
    own reach; a head too long for its hook still leaves room for a bend behind it.
    """
    measures = gauge(hook)
    g = measures.gape
    end = max(tie[0] + measures.shank - 0.5 * g, 1.1 * g)
    return Wire(
        shank=straight((0.0, 0.0), (end, 0.0)),
        bend=tuple(_placed(c, g, end) for c in _tables()["bends"][hook.bend]["curves"]),
        half=measures.wire / 2,
        gape=g,
        tie=tie,
        eye=math.radians(hook.eye),
    )


def _placed(cubic: Any, gape: float, end: float) -> Cubic:
    p0, p1, p2, p3 = ((end + x * gape, y * gape) for x, y in cubic)
    return p0, p1, p2, p3


def draw_hook(wire: Wire, ink: str, pen: Pen) -> Iterator[Path]:
    """Yield shank, bend, spear and barb; the head hides where the shank begins."""
    dark, body, light = _inks(ink, pen)
    half, rim = max(wire.half, pen.hair * 1.3), pen.hair * 0.8
    yield Path(_outline(wire, half + rim), fill=dark)
    yield Path(_barb(wire, half + rim, rim), fill=dark)
    yield Path(_barb(wire, half, 0.0), fill=body)
    yield Path(_outline(wire, half), fill=body)
    last = part(wire.bend[1], 0.0, 0.9)
    full: Widths = (half,) * 4
    fading: Widths = (half, half, half * 0.9, half * 0.4)
    gleam = band([wire.shank, wire.bend[0], last], [full, full, fading], (0.12, 0.58))
    yield Path(gleam, fill=light)


def _gleaming(cubic: Cubic, half: float) -> Cubic:
    return beside(cubic, (half * 0.3,) * 4)


def _inks(ink: str, pen: Pen) -> tuple[str, str, str]:
    """Return the inks of a wire's contour, its body and its light side."""
    if pen.black:
        dark = tones.lightness(ink) < 0.8
        return tones.BLACK, tones.BLACK if dark else tones.WHITE, tones.WHITE
    return tones.shade(ink, 0.72), ink, tones.tint(ink, 0.55)


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


def draw_line_tie(wire: Wire, ink: str, pen: Pen) -> Iterator[Path]:
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
        yield Path(ribbon([neck], [(half + extra,) * 4]), fill=ink_)
        ring = circle(*middle, outer + extra) + circle(*middle, bore - half * 0.3 - extra)
        yield Path(ring, fill=ink_, even_odd=True)
    yield Path(
        stroke([_gleaming(part(neck, 0.2, 1.0), half)]),
        stroke=light,
        width=half * 0.5,
        round_ends=True,
    )
    yield Path(_arc(middle, bore + half * 0.75), stroke=light, width=half * 0.5, round_ends=True)


def _arc(middle: Point, radius: float) -> tuple[Step, ...]:
    """Return the upper left quarter of a circle."""
    x, y = middle
    k = radius * 0.5523
    return move((x - radius, y)), curve((x - radius, y - k), (x - k, y - radius), (x, y - radius))
