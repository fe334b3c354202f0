"""Where each strand of a skirt goes: around the shank, near or far, over or under, flared or lean.

A skirt is a solid thing. Every strand springs from the collar at an angle around the shank, flares
to a radius of its own and falls back toward the tail; what the picture shows is that solid seen
from the side. So the layer tied first, which folds back to the outside, is the widest, lies in
front of all others on the near side, behind all others on the far side, and makes the outline.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Literal

from labeler.catalog.model import Seat
from labeler.drawing import engraving
from labeler.drawing.curves import (
    Cubic,
    Widths,
    across,
    at,
    band,
    beside,
    line,
    move,
    part,
    ribbon,
    stroke,
    swelling,
    through,
)
from labeler.drawing.engraving import Chance, Hand, Pen, Treatment
from labeler.drawing.subject import Dressing, LayerLook
from labeler.geometry import Point
from labeler.marks import Step, VectorPath

Depth = Literal["far", "parted", "near"]
"""Behind the hook; at the very top of the near side, where the point comes through, and so behind
it too; in front of it."""

MOST_STRANDS = 160
"""A skirt of more strands than this is drawn with this many, shared out in proportion, so that the
drawing stays a drawing. Mop jigs have some 100 (common practice, no published source)."""

MOST_PLAIN_STRANDS = 44
"""The same for a drawing of a label's size, where a strand must be thick enough to print."""


@dataclass(frozen=True, slots=True)
class Strand:
    """One strand at its place."""

    layer: int
    """Its layer in tying order, from 0."""
    depth: Depth
    curve: Cubic
    """Its middle, from the collar to the tip, in points."""
    around: float
    """Its angle around the shank: 0 at the top, a quarter turn at the side that is seen."""
    facing: float
    """How much of a flat strand's width is turned to the eye, 0.5 to 1."""


@dataclass(frozen=True, slots=True)
class Flow:
    """How a dressing behaves, in shares of its length and in degrees."""

    flare: float
    """The outermost tips' distance from the shank."""
    leave: float
    """The angle at which the outermost strands leave the collar, in degrees."""
    arrive: tuple[float, float]
    """The angle outward at which tips point, and how far they differ, in degrees."""
    fall: float
    """How far the tips sink."""
    ragged: float
    """How much lengths differ."""
    seat: float
    """How much wider than a skirt's its seats are: hair and feather close around the shank."""
    parting: float
    """How far the near side is parted from the top to free the hook's point, in degrees."""
    sway: float
    """How far locks of strands wander together."""


FLOWS: dict[Dressing, Flow] = {
    "skirt": Flow(
        flare=0.46,
        leave=70,
        arrive=(2, 26),
        fall=0.09,
        ragged=0.12,
        seat=1.0,
        parting=20,
        sway=0.05,
    ),
    "hair": Flow(
        flare=0.17,
        leave=34,
        arrive=(-5, 5),
        fall=0.035,
        ragged=0.3,
        seat=1.85,
        parting=34,
        sway=0.012,
    ),
    "feather": Flow(
        flare=0.1, leave=30, arrive=(0, 9), fall=0.05, ragged=0.12, seat=1.3, parting=40, sway=0.04
    ),
}

_SEATS: dict[Seat, tuple[tuple[float, float], ...]] = {
    "around": ((0.0, 180.0),),
    "back": ((0.0, 48.0),),
    "sides": ((90.0, 34.0), (270.0, 34.0)),
    "belly": ((180.0, 50.0),),
    "tail": ((0.0, 180.0),),
}
"""Each seat's middles around the shank and half its reach, in degrees from the top."""


@dataclass(frozen=True, slots=True)
class Room:
    """The space that a skirt fills, in points: from the collar to the tips."""

    start: float
    half: float
    """Half the collar's height, from which strands spring."""
    length: float
    point: Point | None = None
    """The hook's: no strand crosses before it."""


def shares(layers: Sequence[LayerLook], most: int) -> list[int]:
    """Return how many strands of each layer are drawn.

    All of them while they are at most ``most``; else so many, in proportion (by largest
    remainder), and never none of a layer.
    """
    counts = [layer.strands for layer in layers]
    total = sum(counts)
    if total <= most:
        return counts
    exact = [count * most / total for count in counts]
    drawn = [max(1, math.floor(share)) for share in exact]
    for i in sorted(range(len(exact)), key=lambda i: (drawn[i] - exact[i], i)):
        if sum(drawn) < most:
            drawn[i] += 1
    while sum(drawn) > most and max(drawn) > 1:  # the layers of one strand were rounded up
        drawn[drawn.index(max(drawn))] -= 1
    return drawn


def arrange(
    layers: Sequence[LayerLook],
    counts: Sequence[int],
    dressing: Dressing,
    room: Room,
    chance: Chance,
) -> list[Strand]:
    """Return every strand in drawing order: what lies behind first."""
    fan = _Fan(FLOWS[dressing], room, chance)
    found: list[Strand] = []
    for number, (layer, count) in enumerate(zip(layers, counts, strict=True)):
        outward = 1.0 - _INNERMOST * number / max(1, len(layers) - 1)
        found += fan.layer(number, layer.seat, count, outward)
    return sorted(found, key=_order)


_INNERMOST = 0.42
"""How much less than the first the last layer flares."""


_EVEN = 0.2
"""How far strands close up at the sides: evenly set around a shank they would look thin in the
middle of the picture and crowded at its edges."""


_LOW_ABOVE = 0.34
"""How much less than below a skirt stands out above the shank: its own weight lays it on the hook,
and strands that arch high over the point would look combed across."""


_FEW = 6
"""Fewer fibres than this, as plumes are, are set by the eye and not by chance."""


def _order(strand: Strand) -> tuple[int, int, float]:
    """Far before near; on the far side the outer layers first, on the near side last."""
    side = ("far", "parted", "near").index(strand.depth)
    return side, strand.layer if side == 0 else -strand.layer, math.sin(strand.around)


class _Fan:
    """Lays strands around one collar."""

    def __init__(self, flow: Flow, room: Room, chance: Chance) -> None:
        self._flow, self._room, self._chance = flow, room, chance
        self._lean = chance.swell(1.0)
        self._stretch = chance.swell(1.0)

    def layer(self, number: int, seat: Seat, count: int, outward: float) -> list[Strand]:
        """Return one layer's strands, evenly around its seat, give or take a hand's uncertainty."""
        return [self._strand(number, seat, angle, outward) for angle in self._angles(seat, count)]

    def _angles(self, seat: Seat, count: int) -> list[float]:
        middles = _SEATS[seat]
        whole = middles[0][1] >= 180
        turn = self._chance.within(0, 1)
        if count < _FEW:  # one of them lies on the side that is seen
            turn = 0.75 * count % 1
        angles = []
        for i in range(count):
            middle, reach = middles[i % len(middles)]
            places = math.ceil(count / len(middles))
            share = (i // len(middles) + (turn if whole else 0.5)) / places
            share += self._chance.about(0, 0.42 / places)
            wide = reach if whole else reach * self._flow.seat
            angle = math.radians(middle + (share * 2 - 1) * wide)
            angles.append((angle + _EVEN * math.sin(2 * angle)) % math.tau)
        return angles

    def _strand(self, number: int, seat: Seat, angle: float, outward: float) -> Strand:
        if seat == "tail":
            outward *= 0.42
        curve = self._curve(angle, outward, 1.07 if seat == "tail" else 1.0)
        depth = _depth(angle, self._flow.parting)
        if depth == "near" and _hides(curve, self._room.point):
            depth = "parted"
        return Strand(
            layer=number,
            depth=depth,
            curve=curve,
            around=angle,
            facing=self._chance.within(0.62, 1.0),
        )

    def _curve(self, angle: float, outward: float, longer: float) -> Cubic:
        flow, room, chance = self._flow, self._room, self._chance
        long = room.length * longer * (1 - flow.ragged * chance.within(0, 1) ** 2)
        long *= 1 + 0.5 * flow.ragged * self._stretch.at(angle)
        sway = flow.sway * long
        up = -math.cos(angle)
        over = 1 - _LOW_ABOVE * max(0.0, -up)
        radius = outward * flow.flare * long * chance.within(0.66, 1.0) * over
        leave = math.radians(flow.leave * (0.2 + 0.8 * outward) * chance.within(0.7, 1.08) * over)
        reach = math.sqrt(max(long * long - (1.5 * radius) ** 2, (0.5 * long) ** 2))
        first, second = chance.within(0.22, 0.3) * long, chance.within(0.3, 0.4) * long
        arrive = math.radians(chance.about(*flow.arrive))
        root = room.start + chance.within(-1.0, 0.8), up * room.half
        lean = sway * self._lean.at(angle) + chance.about(0, sway * 0.6)
        turn = chance.about(0, sway * 0.9)
        fall = flow.fall * long * (0.7 + 0.3 * outward)
        # A weight's fall grows as the square of the way: (0, 0, 1/3, 1) on a cubic's points.
        return (
            root,
            (root[0] + math.cos(leave) * first, root[1] + up * math.sin(leave) * first),
            (
                room.start + reach - math.cos(arrive) * second,
                up * (radius - math.sin(arrive) * second) + lean * 0.7 + turn + fall / 3,
            ),
            (room.start + reach, up * radius + lean + fall),
        )


_CLEAR = 4.0
"""Points around the hook's point that stay free."""


def _hides(curve: Cubic, point: Point | None) -> bool:
    """Tell whether a strand would lie over the hook's point."""
    if point is None:
        return False
    spots = (at(curve, t / 24) for t in range(25))
    return any(math.dist(spot, point) < _CLEAR for spot in spots)


def _depth(angle: float, parting: float) -> Depth:
    if math.sin(angle) < 0:
        return "far"
    return "parted" if math.degrees(angle) < parting else "near"


TIP = 0.3
"""The share of a two-tone fibre that has the second colour."""

FAR, SHADOW, _GLEAM = 0.2, 0.2, 0.24
"""How much darker the far side of a dressing lies, and the under side of a fibre; how much lighter
the gleam on it is. Of a pale ink's shadows less is left: white stays white."""

LINE = 0.085
"""The width of the line around a fibre, as a share of the fibre's own: at every size the same
part of what one sees is the recipe's ink. The house's judgement, held by measuring."""


@dataclass(frozen=True, slots=True)
class Body:
    """A fibre's middle, and half its width along it."""

    curves: tuple[Cubic, ...]
    widths: tuple[Widths, ...]
    round_tip: bool = False

    @property
    def line(self) -> float:
        """How wide the line around it is, in points."""
        return round(LINE * 2 * max(chain.from_iterable(self.widths)), 3)


def end_of(body: Body) -> Body:
    """Return the free end of a fibre that is dyed in two colours."""
    count = len(body.curves)
    if count > 1:
        whole = max(1, round(count * TIP))
        return replace(body, curves=body.curves[-whole:], widths=body.widths[-whole:])
    wide = body.widths[-1]
    widths: Widths = (wide[2], wide[2], wide[2], wide[3])
    return replace(body, curves=(part(body.curves[0], 1 - TIP, 1.0),), widths=(widths,))


def wash_of(ink: str, strand: Strand) -> str:
    """Return a fibre's wash: the recipe's ink, darker on the far side."""
    return in_shadow(ink, FAR) if strand.depth == "far" else ink


def in_shadow(ink: str, share: float) -> str:
    """Return an ink as it looks in shadow, the less the paler it is."""
    darker = engraving.shade(ink, share * (1.12 - engraving.lightness(ink)))
    return min(ink, darker, key=engraving.lightness)


def draw_body(
    body: Body, ink: str, strand: Strand, hand: Hand, edge: float = 0.85
) -> Iterator[VectorPath]:
    """Yield a fibre's body, the one path of it with both fill and stroke, and its grain.

    ``edge`` is how strong the line around it is, as a share of a skirt strand's.
    """
    if hand.treatments:
        yield from _engraved_body(body, hand.treatments[ink], hand.pen)
        return
    yield VectorPath(
        ribbon(body.curves, body.widths, body.round_tip),
        fill=wash_of(ink, strand),
        stroke=engraving.edge(ink, edge * (1.0 if hand.pen.fine else 0.75)),
        width=body.line,
        round_ends=True,
    )


def _engraved_body(body: Body, way: Treatment, pen: Pen) -> Iterator[VectorPath]:
    """Yield a fibre in black and white, by its ink's treatment."""
    fill, other = (
        (engraving.BLACK, engraving.WHITE) if way.solid else (engraving.WHITE, engraving.BLACK)
    )
    outer = parted(body, pen) if way.solid else body
    yield VectorPath(
        ribbon(outer.curves, outer.widths, outer.round_tip),
        fill=fill, stroke=other, width=pen.hair, round_ends=True,
    )  # fmt: skip
    yield from _grain(body, way, other)


def parted(body: Body, pen: Pen) -> Body:
    """Return a black body so much wider that the white line around it doesn't thin it."""
    by = pen.hair / 2
    wider = tuple((w[0] + by, w[1] + by, w[2] + by, w[3] + by) for w in body.widths)
    return replace(body, widths=wider)


def _grain(body: Body, way: Treatment, ink: str) -> Iterator[VectorPath]:
    """Yield what a treatment draws within the outline."""
    for strip in way.strips:
        yield VectorPath(band(body.curves, body.widths, strip), fill=ink)


_SPECKS = {"sparse": 5, "medium": 10, "dense": 18}
"""Specks that show on one strand."""

_MOST_SPECKS = 900
"""Specks in one skirt; a fuller skirt has fewer on each strand."""


def sprinkle(body: Body, layer: LayerLook, hand: Hand) -> Iterator[VectorPath]:
    """Yield a strand's flake as one path; a plain drawing is too small for any."""
    if layer.flake is None or not hand.pen.fine:
        return
    chance, half = hand.chance, max(body.widths[0])
    count = hand.share(_SPECKS[layer.flake.density], _MOST_SPECKS)
    steps: list[Step] = []
    for i in range(count):
        place = ((i + chance.within(0.1, 0.9)) / count * 0.9 + 0.08) * len(body.curves)
        leg = min(int(place), len(body.curves) - 1)
        x, y = at(body.curves[leg], place - leg)
        steps += _speck(x, y + chance.about(0, half * 0.55), chance.within(0.4, 0.7))
    yield VectorPath(tuple(steps), fill=_flake_ink(layer, layer.flake.ink, hand))


def _speck(x: float, y: float, size: float) -> tuple[Step, ...]:
    return (
        move((x - size, y)),
        line((x, y - size * 0.8)),
        line((x + size, y)),
        line((x, y + size * 0.8)),
        ("Z",),
    )


def _flake_ink(layer: LayerLook, flake: str, hand: Hand) -> str:
    if not hand.treatments:
        return flake
    return engraving.WHITE if hand.treatments[layer.ink].solid else engraving.BLACK


_SILICONE = 1.5
"""Half a silicone strand's width in points: strands are about 1 mm wide (common practice, no
published source)."""

_RUBBER = 1.0
"""Half a living-rubber strand's thickness, the same way."""

_MOST_LEGS = 480
"""Curves spent on the waves of one skirt's cords; in a fuller skirt each has fewer."""


def draw_silicone(strand: Strand, layer: LayerLook, hand: Hand) -> Iterator[VectorPath]:
    """Yield a flat ribbon, cut across at its tip and narrow where it turns its edge to the eye."""
    full = _SILICONE * (1.0 if hand.pen.fine else 1.5)
    wide = full * strand.facing
    widths = (
        full * 0.45,
        wide * hand.chance.within(0.75, 1.0),
        wide * hand.chance.within(0.85, 1.2),
        wide * 0.95,
    )
    yield from _dyed(Body((strand.curve,), (widths,)), strand, layer, hand)


def draw_rubber(strand: Strand, layer: LayerLook, hand: Hand) -> Iterator[VectorPath]:
    """Yield a round cord that keeps the waves of the sheet it was cut from."""
    half = _RUBBER * (1.0 if hand.pen.fine else 1.9)
    curves = _wavy(strand.curve, 0.024 if hand.pen.fine else 0.014, hand)
    body = Body(curves, ((half,) * 4,) * len(curves), round_tip=True)
    yield from _dyed(body, strand, layer, hand)


def _wavy(base: Cubic, height: float, hand: Hand) -> tuple[Cubic, ...]:
    """Return a strand's way with waves on it that grow toward the tip, to a share of its length."""
    long = math.hypot(base[3][0] - base[0][0], base[3][1] - base[0][1])
    phase, waves = hand.chance.within(0, math.tau), hand.chance.within(1.1, 1.7)
    legs = hand.share(5, _MOST_LEGS)
    spots: list[Point] = []
    for i in range(legs + 1):
        t = i / legs
        x, y = at(base, t)
        leg = min(int(t * 3), 2)
        side = across(base[leg], base[leg + 1])
        off = height * long * t * math.sin(phase + waves * math.tau * t)
        spots.append((x + side[0] * off, y + side[1] * off))
    return tuple(through(spots))


def _dyed(body: Body, strand: Strand, layer: LayerLook, hand: Hand) -> Iterator[VectorPath]:
    """Yield a strand in its colour, its second colour at the tip, and its flake."""
    yield from draw_body(body, layer.ink, strand, hand)
    yield from _modelled(body, layer.ink, strand, hand)
    if layer.tip:
        end = end_of(body)
        yield from draw_body(end, layer.tip, strand, hand)
        yield from _modelled(end, layer.tip, strand, hand)
    if layer.flake:
        yield from sprinkle(body, layer, hand)


def _modelled(body: Body, ink: str, strand: Strand, hand: Hand) -> Iterator[VectorPath]:
    """Yield the shadow side and the gleam of a strand on the near side, in a fine drawing."""
    if hand.treatments or not hand.pen.fine or strand.depth == "far":
        return
    yield VectorPath(band(body.curves, body.widths, (-0.85, -0.25)), fill=in_shadow(ink, SHADOW))
    if len(body.curves) == 1:
        gleam = part(body.curves[0], 0.22, 0.72)
        wide = body.widths[0]
        over: Widths = (0.0, wide[1] * 1.3, wide[2] * 1.3, 0.0)
        yield VectorPath(band([gleam], [over], (0.2, 0.62)), fill=engraving.tint(ink, _GLEAM))


_HAIR = 0.72
"""Half a hair's width in points where it is thickest: drawn coarser than it grows, as an engraver
does."""

_TINSEL = 0.5


def draw_hair(strand: Strand, layer: LayerLook, hand: Hand) -> Iterator[VectorPath]:
    """Yield one hair, thick from the skin and drawn out to nothing at its tip."""
    half = _HAIR * hand.pen.scale * hand.chance.within(0.8, 1.25) * (1.0 if hand.pen.fine else 2.2)
    body = Body((strand.curve,), ((half * 0.8, half, half * 0.9, 0.0),))
    yield from _dyed_hair(body, layer.ink, strand, hand)
    if layer.tip:
        yield from _dyed_hair(end_of(body), layer.tip, strand, hand)
    yield from sprinkle(body, layer, hand)


def _dyed_hair(body: Body, ink: str, strand: Strand, hand: Hand) -> Iterator[VectorPath]:
    if hand.treatments:
        return _engraved_hair(body, hand.treatments[ink], hand.pen)
    return draw_body(body, ink, strand, hand, edge=0.45)


def _engraved_hair(body: Body, way: Treatment, pen: Pen) -> Iterator[VectorPath]:
    """Yield a dark hair as black parted by white, a light one as white with a single line in it."""
    outer = parted(body, pen) if way.solid else body
    fill = engraving.BLACK if way.solid else engraving.WHITE
    steps = ribbon(outer.curves, outer.widths)
    gap = pen.hair * (0.6 if way.solid else 1.0)
    yield VectorPath(steps, fill=fill, stroke=engraving.WHITE, width=gap, round_ends=True)
    if not way.solid:
        under = beside(body.curves[0], (-pen.hair * 0.6,) * 4)
        yield VectorPath(
            swelling(under, pen.hair * (1.75 - 1.3 * way.light), 0.35), fill=engraving.BLACK
        )


def draw_tinsel(strand: Strand, layer: LayerLook, hand: Hand) -> Iterator[VectorPath]:
    """Yield one strip of tinsel: straight, with flashes where it catches the light."""
    half = _TINSEL * hand.pen.scale * (1.0 if hand.pen.fine else 2.0)
    start, first, second, end = strand.curve
    calm = (
        start,
        (first[0], (first[1] * 2 + start[1]) / 3),
        (second[0], (second[1] * 2 + end[1]) / 3),
        end,
    )
    body = Body((calm,), ((half,) * 4,))
    yield from _flashing(body, layer.ink, strand, hand)
    if layer.tip:
        yield from _flashing(end_of(body), layer.tip, strand, hand)
    yield from sprinkle(body, layer, hand)


def _flashing(body: Body, ink: str, strand: Strand, hand: Hand) -> Iterator[VectorPath]:
    wash = wash_of(ink, strand)
    fill, edge, flash = wash, engraving.shade(wash, 0.3), engraving.tint(wash, 0.3)
    if hand.treatments:
        solid = hand.treatments[ink].solid
        fill, edge = (
            (engraving.BLACK, engraving.WHITE) if solid else (engraving.WHITE, engraving.BLACK)
        )
        flash = edge
    steps = ribbon(body.curves, body.widths)
    yield VectorPath(
        steps,
        fill=fill,
        stroke=edge,
        width=body.line if not hand.treatments else hand.pen.hair,
        round_ends=True,
    )
    long, half = hand.chance.within(2.5, 5.0), body.widths[0][0]
    yield VectorPath(
        stroke(body.curves),
        stroke=flash,
        width=half * 0.9,
        dash=(round(long, 2), round(long * 1.9, 2)),
    )


_LOCKS = 48
"""Locks of barbs on one plume, as long as there are few plumes."""

_MOST_LOCKS = 480
"""Locks in one dressing."""


def draw_plume(strand: Strand, layer: LayerLook, hand: Hand) -> Iterator[VectorPath]:
    """Yield one plume: its soft body, locks of barbs from tip to root, threads over them."""
    quill = strand.curve
    if hand.treatments:
        solid = hand.treatments[layer.ink].solid
        yield _down(quill, engraving.BLACK if solid else engraving.WHITE)
    else:
        yield _down(quill, in_shadow(wash_of(layer.ink, strand), SHADOW))
    locks = list(_locks(quill, hand.chance, hand.share(_LOCKS, _MOST_LOCKS)))
    if layer.tip:
        dyed = max(1, round(len(locks) * TIP))
        yield from _barbs(locks[dyed:], layer.ink, strand, hand)
        yield from _barbs(locks[:dyed], layer.tip, strand, hand)
    else:
        yield from _barbs(locks, layer.ink, strand, hand)
    yield from sprinkle(Body((quill,), ((2.0,) * 4,)), layer, hand)


def _barbs(locks: list[Cubic], ink: str, strand: Strand, hand: Hand) -> Iterator[VectorPath]:
    """Yield locks as one path, and lines over them."""
    pen = hand.pen
    steps: list[Step] = []
    for lock in locks:
        half = pen.scale * ((0.3 if pen.fine else 1.0) + hand.chance.within(0.2, 0.7))
        steps += ribbon([lock], [(half * 0.6, half, half * 0.8, 0.0)])
    if hand.treatments:
        yield from _engraved_plume(tuple(steps), locks, hand.treatments[ink], pen)
        return
    wash = wash_of(ink, strand)
    line = round(LINE * 1.6 * pen.scale * (0.75 if pen.fine else 1.45), 3)
    yield VectorPath(
        tuple(steps),
        fill=wash,
        stroke=engraving.edge(wash, 0.42 if pen.fine else 0.26),
        width=line,
        round_ends=True,
    )
    if pen.fine:
        threads = (swelling(lock, pen.hair * 0.45, 0.4) for lock in locks[::4])
        gleam = engraving.tint(wash, _GLEAM)
        yield VectorPath(tuple(chain.from_iterable(threads)), fill=gleam)


def _engraved_plume(
    steps: tuple[Step, ...], locks: list[Cubic], way: Treatment, pen: Pen
) -> Iterator[VectorPath]:
    """Yield dark locks as black with white threads, light ones as white with swelling lines."""
    if way.solid:
        yield VectorPath(
            steps, fill=engraving.BLACK, stroke=engraving.BLACK, width=pen.hair, round_ends=True
        )
        threads = (swelling(lock, pen.hair * 0.8) for lock in locks[:: 1 if pen.fine else 3])
        yield VectorPath(tuple(chain.from_iterable(threads)), fill=engraving.WHITE)
        return
    yield VectorPath(
        steps, fill=engraving.WHITE, stroke=engraving.WHITE, width=pen.hair, round_ends=True
    )
    half = pen.hair * (1.7 - 1.1 * way.light)
    lines = (swelling(lock, half, 0.6) for lock in locks)
    yield VectorPath(tuple(chain.from_iterable(lines)), fill=engraving.BLACK)


def _down(quill: Cubic, wash: str) -> VectorPath:
    """Return the soft body beneath the locks: a leaf, so that no gap in a plume is paper."""
    long = math.hypot(quill[3][0] - quill[0][0], quill[3][1] - quill[0][1])
    leaf = ribbon([part(quill, 0.0, 0.88)], [(long * 0.055, long * 0.1, long * 0.075, 0.0)])
    return VectorPath(leaf, fill=wash)


def _locks(quill: Cubic, chance: Chance, count: int) -> Iterator[Cubic]:
    """Yield the middle of each lock, those near the tip first, so that the root's lie over them."""
    long = math.hypot(quill[3][0] - quill[0][0], quill[3][1] - quill[0][1])
    for number in range(count):
        share = 1 - number / count
        t = max(0.0, share**1.25 * 0.8 + chance.about(0, 0.03))
        foot, ahead = at(quill, t), at(quill, min(1.0, t + 0.05))
        side = across(foot, ahead)
        lean = (1 if number % 2 else -1) * (0.42 - 0.28 * t) * chance.within(0.12, 1.0)
        reach = long * (0.46 - 0.26 * t) * chance.within(0.65, 1.15)
        yield _lock(foot, (-side[1], side[0]), (lean, chance.about(0, 0.22)), reach)


def _lock(foot: Point, ahead: Point, lean: tuple[float, float], long: float) -> Cubic:
    """Return a lock that leaves the quill at an angle, bends back, and stirs at its tip."""
    leave, stir = lean

    def toward(angle: float, reach: float) -> Point:
        cos, sin = math.cos(angle), math.sin(angle)
        return (
            foot[0] + (ahead[0] * cos + ahead[1] * sin) * reach,
            foot[1] + (ahead[1] * cos - ahead[0] * sin) * reach,
        )

    return (
        foot,
        toward(leave * 2.1, long * 0.36),
        toward(leave * 1.1 - stir * 0.6, long * 0.7),
        toward(leave * 0.8 + stir * 0.4, long),
    )
