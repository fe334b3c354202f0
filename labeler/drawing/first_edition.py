"""The first edition of the drawing: the figures of what was printed before there was a second.

A label that is printed again shows the figure that hangs on the peg. Nothing here is ever changed:
each stroke and each number drawn by chance is as the first labels have it. What both editions share
(curves, pens, chance, hooks, heads) stands beside this file and keeps to the same.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, pairwise
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
from labeler.drawing.engraving import DARK, Chance, Detail, Pen, lightness, shade, tint
from labeler.drawing.heads import PT_PER_MM, Collar, HeadShape, draw_collar, draw_head, head_shape
from labeler.drawing.hooks import Wire, bend_hook, draw_guard, draw_hook, draw_line_tie
from labeler.drawing.subject import Dressing, JigLook, Kind, LayerLook
from labeler.geometry import Point
from labeler.marks import InkMode, Step, VectorPath

_LIGHTER = 0.2
"""How much white a dark strand's line takes. More, and on a small figure lines are all one sees:
black turns to grey."""


def edge_ink(ink: str, strength: float = 1.0) -> str:
    """Return the ink of the line around a strand: darker than the strand, and dark enough on paper.

    A light strand needs the stronger line, since white paper is all that parts it from its
    neighbour; a black one can only be parted by a lighter line. Where lines stand so close that
    they would be all one sees, as in hair, a lower ``strength`` draws them nearer to the ink.
    """
    light = lightness(ink)
    if light < DARK:
        return tint(ink, _LIGHTER * strength)
    return shade(ink, (0.42 + 0.16 * light) * strength)


@dataclass(frozen=True, slots=True)
class FirstTreatment:
    """One way of drawing a strand: black parted by white, or white outlined in black."""

    solid: bool
    """Filled black and parted by white; else white and outlined in black."""
    strip: tuple[float, float] | None = None
    """A strip in the other ink, between two edges from -1 (the under side) to 1."""
    dash: tuple[float, ...] = ()
    """Marks in the other ink along the strand's middle, in points."""
    width: float = 0.0
    """Their width as a share of the strand's; 0 leaves them out."""
    dots: bool = False

    @property
    def light(self) -> float:
        """How high on the ladder it stands, 0 solid black to 1 bare outline."""
        return LADDER.index(self) / (len(LADDER) - 1)


LADDER: tuple[FirstTreatment, ...] = (
    FirstTreatment(solid=True),
    FirstTreatment(solid=True, strip=(0.1, 0.52)),
    FirstTreatment(solid=False, strip=(-1.0, 0.15)),
    FirstTreatment(solid=False, width=0.9, dash=(0.5, 1.0)),
    FirstTreatment(solid=False, strip=(-0.72, -0.28)),
    FirstTreatment(solid=False, width=0.16, dash=(4.5, 2.4)),
    FirstTreatment(solid=False, width=0.3, dash=(0.01, 3.2), dots=True),
    FirstTreatment(solid=False),
)
"""From the darkest to the lightest."""

Treatments = dict[str, FirstTreatment]
"""The treatment of each ink; empty where colours are used."""


def treatments(inks: Iterable[str]) -> Treatments:
    """Return a treatment for each ink, dark to light, no two alike while the ladder has rungs.

    An ink takes the rung of its own lightness. Two inks that differ to the eye stand three rungs
    apart where the ladder has room, others one: the lighter steps up, or, at the ladder's end, the
    darker steps down.
    """
    order = sorted(set(inks), key=lambda ink: (lightness(ink), ink))
    last = len(LADDER) - 1
    if len(order) > len(LADDER):
        return {ink: LADDER[n * last // (len(order) - 1)] for n, ink in enumerate(order)}
    lights = [lightness(ink) for ink in order]
    wide = min(_APART, last // max(1, len(order) - 1))
    gaps = [min(wide, _APART if b - a > _ALIKE else 1) for a, b in pairwise(lights)]
    rungs: list[int] = []
    for light, gap in zip(lights, [0, *gaps], strict=True):
        wanted = round(_height(light) * last)
        rungs.append(max(wanted, rungs[-1] + gap) if rungs else wanted)
    ceiling = last
    for place in range(len(rungs) - 1, -1, -1):
        rungs[place] = max(0, min(rungs[place], ceiling))
        ceiling = rungs[place] - (gaps[place - 1] if place else 0)
    return {ink: LADDER[rung] for ink, rung in zip(order, rungs, strict=True)}


_APART = 3
"""Rungs between inks that differ to the eye."""

_ALIKE = 0.05
"""Inks no further apart than this in lightness look alike in tone."""


def _height(light: float) -> float:
    """Return the height on the ladder, 0 to 1: up to a quarter all is black, above 0.9 white."""
    return min(1.0, max(0.0, (light - 0.25) / 0.65))


@dataclass(frozen=True, slots=True)
class FirstHand:
    """What every part of a dressing is drawn with: a pen, treatments for inks, and chance."""

    pen: Pen
    treatments: Treatments
    chance: Chance
    strands: int
    """Strands in the whole dressing: the more there are, the less is spent on each."""

    def share(self, wish: int, whole: int) -> int:
        """Return how many small strokes a strand gets: ``wish``, or its share of ``whole``."""
        return max(2, min(wish, whole // max(self.strands, 1)))


Depth = Literal["far", "parted", "near"]
"""Behind the hook; at the top of the near side, where the skirt is parted to free the hook's
point, and so behind it too; in front."""

MOST_STRANDS = 160
"""A skirt of more strands than this is drawn with this many, shared out in proportion, so that the
drawing stays a drawing. Mop jigs have some 100 (common practice, no published source)."""

MOST_PLAIN_STRANDS = 44
"""The same for a drawing of a label's size, where a strand must be thick enough to print."""


@dataclass(frozen=True, slots=True)
class FirstStrand:
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
class FirstFlow:
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


FLOWS: dict[Dressing, FirstFlow] = {
    "skirt": FirstFlow(
        flare=0.38,
        leave=74,
        arrive=(3, 24),
        fall=0.085,
        ragged=0.1,
        seat=1.0,
        parting=52,
        sway=0.045,
    ),
    "hair": FirstFlow(
        flare=0.17,
        leave=34,
        arrive=(-5, 5),
        fall=0.035,
        ragged=0.3,
        seat=1.85,
        parting=84,
        sway=0.012,
    ),
    "feather": FirstFlow(
        flare=0.09, leave=32, arrive=(0, 9), fall=0.07, ragged=0.12, seat=1.3, parting=80, sway=0.05
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
class FirstRoom:
    """The space that a skirt fills, in points: from the collar to the tips."""

    start: float
    half: float
    """Half the collar's height, from which strands spring."""
    length: float


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
    room: FirstRoom,
    chance: Chance,
) -> list[FirstStrand]:
    """Return every strand in drawing order: what lies behind first."""
    fan = _FirstFan(FLOWS[dressing], room, chance)
    found: list[FirstStrand] = []
    for number, (layer, count) in enumerate(zip(layers, counts, strict=True)):
        outward = 1.0 - _INNERMOST * number / max(1, len(layers) - 1)
        found += fan.layer(number, layer.seat, count, outward)
    return sorted(found, key=_order)


_INNERMOST = 0.42
"""How much less than the first the last layer flares."""


_EVEN = 0.2
"""How far strands close up at the sides: evenly set around a shank they would look thin in the
middle of the picture and crowded at its edges."""


_FEW = 6
"""Fewer fibres than this, as plumes are, are set by the eye and not by chance."""


def _order(strand: FirstStrand) -> tuple[int, int, float]:
    """Far before near; on the far side the outer layers first, on the near side last."""
    side = ("far", "parted", "near").index(strand.depth)
    return side, strand.layer if side == 0 else -strand.layer, math.sin(strand.around)


class _FirstFan:
    """Lays strands around one collar."""

    def __init__(self, flow: FirstFlow, room: FirstRoom, chance: Chance) -> None:
        self._flow, self._room, self._chance = flow, room, chance
        self._lean = chance.swell(1.0)
        self._stretch = chance.swell(1.0)

    def layer(self, number: int, seat: Seat, count: int, outward: float) -> list[FirstStrand]:
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

    def _strand(self, number: int, seat: Seat, angle: float, outward: float) -> FirstStrand:
        if seat == "tail":
            outward *= 0.42
        return FirstStrand(
            layer=number,
            depth=_depth(angle, self._flow.parting),
            curve=self._curve(angle, outward, 1.07 if seat == "tail" else 1.0),
            around=angle,
            facing=self._chance.within(0.62, 1.0),
        )

    def _curve(self, angle: float, outward: float, longer: float) -> Cubic:
        flow, room, chance = self._flow, self._room, self._chance
        long = room.length * longer * (1 - flow.ragged * chance.within(0, 1) ** 2)
        long *= 1 + 0.5 * flow.ragged * self._stretch.at(angle)
        sway = flow.sway * long
        radius = outward * flow.flare * long * chance.within(0.78, 1.0)
        leave = math.radians(flow.leave * (0.2 + 0.8 * outward) * chance.within(0.8, 1.08))
        reach = math.sqrt(max(long * long - (1.5 * radius) ** 2, (0.5 * long) ** 2))
        up = -math.cos(angle)
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


def _depth(angle: float, parting: float) -> Depth:
    if math.sin(angle) < 0:
        return "far"
    return "parted" if math.degrees(angle) < parting else "near"


TIP = 0.3
"""The share of a two-tone fibre that has the second colour."""

FAR = 0.24
"""How much darker the far side of a dressing lies, in its own shadow."""


@dataclass(frozen=True, slots=True)
class FirstBody:
    """A fibre's middle, and half its width along it."""

    curves: tuple[Cubic, ...]
    widths: tuple[Widths, ...]
    round_tip: bool = False


def end_of(body: FirstBody) -> FirstBody:
    """Return the free end of a fibre that is dyed in two colours."""
    count = len(body.curves)
    if count > 1:
        whole = max(1, round(count * TIP))
        return replace(body, curves=body.curves[-whole:], widths=body.widths[-whole:])
    wide = body.widths[-1]
    widths: Widths = (wide[2], wide[2], wide[2], wide[3])
    return replace(body, curves=(part(body.curves[0], 1 - TIP, 1.0),), widths=(widths,))


def wash_of(ink: str, strand: FirstStrand) -> str:
    """Return a fibre's wash: the recipe's ink, darker on the far side."""
    return engraving.shade(ink, FAR) if strand.depth == "far" else ink


def draw_body(
    body: FirstBody, ink: str, strand: FirstStrand, hand: FirstHand, edge: float = 1.0
) -> Iterator[VectorPath]:
    """Yield a fibre's body, the one path of it with both fill and stroke, and its grain.

    ``edge`` is how strong the line around it is, as a share of a skirt strand's.
    """
    if hand.treatments:
        yield from _engraved_body(body, hand.treatments[ink], hand.pen)
        return
    wash = wash_of(ink, strand)
    yield VectorPath(
        ribbon(body.curves, body.widths, body.round_tip),
        fill=wash, stroke=edge_ink(ink, edge), width=hand.pen.hair, round_ends=True,
    )  # fmt: skip


def _engraved_body(body: FirstBody, way: FirstTreatment, pen: Pen) -> Iterator[VectorPath]:
    """Yield a fibre in black and white, by its ink's treatment."""
    fill, other = (
        (engraving.BLACK, engraving.WHITE) if way.solid else (engraving.WHITE, engraving.BLACK)
    )
    outer = parted(body, pen) if way.solid else body
    yield VectorPath(
        ribbon(outer.curves, outer.widths, outer.round_tip),
        fill=fill, stroke=other, width=pen.hair, round_ends=True,
    )  # fmt: skip
    yield from _grain(body, way, other, pen)


def parted(body: FirstBody, pen: Pen) -> FirstBody:
    """Return a black body so much wider that the white line around it doesn't thin it."""
    by = pen.hair / 2
    wider = tuple((w[0] + by, w[1] + by, w[2] + by, w[3] + by) for w in body.widths)
    return replace(body, widths=wider)


def _grain(body: FirstBody, way: FirstTreatment, ink: str, pen: Pen) -> Iterator[VectorPath]:
    """Yield what a treatment draws within the outline."""
    if way.strip:
        yield VectorPath(band(body.curves, body.widths, way.strip), fill=ink)
    if way.width:
        full = 2 * max(body.widths[0])
        yield VectorPath(
            stroke(body.curves), stroke=ink, width=max(pen.hair, full * way.width),
            dash=way.dash, round_ends=way.dots,
        )  # fmt: skip


_SPECKS = {"sparse": 5, "medium": 10, "dense": 18}
"""Specks that show on one strand."""

_MOST_SPECKS = 900
"""Specks in one skirt; a fuller skirt has fewer on each strand."""


def sprinkle(body: FirstBody, layer: LayerLook, hand: FirstHand) -> Iterator[VectorPath]:
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


def _flake_ink(layer: LayerLook, flake: str, hand: FirstHand) -> str:
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


def draw_silicone(strand: FirstStrand, layer: LayerLook, hand: FirstHand) -> Iterator[VectorPath]:
    """Yield a flat ribbon, cut across at its tip and narrow where it turns its edge to the eye."""
    full = _SILICONE * (1.0 if hand.pen.fine else 1.5)
    wide = full * strand.facing
    widths = (
        full * 0.45,
        wide * hand.chance.within(0.75, 1.0),
        wide * hand.chance.within(0.85, 1.2),
        wide * 0.95,
    )
    yield from _dyed(FirstBody((strand.curve,), (widths,)), strand, layer, hand)


def draw_rubber(strand: FirstStrand, layer: LayerLook, hand: FirstHand) -> Iterator[VectorPath]:
    """Yield a round cord that keeps the waves of the sheet it was cut from."""
    half = _RUBBER * (1.0 if hand.pen.fine else 1.9)
    curves = _wavy(strand.curve, 0.024 if hand.pen.fine else 0.014, hand)
    body = FirstBody(curves, ((half,) * 4,) * len(curves), round_tip=True)
    yield from _dyed(body, strand, layer, hand)


def _wavy(base: Cubic, height: float, hand: FirstHand) -> tuple[Cubic, ...]:
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


def _dyed(
    body: FirstBody, strand: FirstStrand, layer: LayerLook, hand: FirstHand
) -> Iterator[VectorPath]:
    """Yield a strand in its colour, its second colour at the tip, and its flake."""
    yield from draw_body(body, layer.ink, strand, hand)
    yield from _modelled(body, layer.ink, strand, hand)
    if layer.tip:
        end = end_of(body)
        yield from draw_body(end, layer.tip, strand, hand)
        yield from _modelled(end, layer.tip, strand, hand)
    if layer.flake:
        yield from sprinkle(body, layer, hand)


def _modelled(
    body: FirstBody, ink: str, strand: FirstStrand, hand: FirstHand
) -> Iterator[VectorPath]:
    """Yield the shadow side and the gleam of a strand on the near side, in a fine drawing."""
    if hand.treatments or not hand.pen.fine or strand.depth == "far":
        return
    yield VectorPath(band(body.curves, body.widths, (-0.85, -0.25)), fill=engraving.shade(ink, 0.2))
    if len(body.curves) == 1:
        gleam = part(body.curves[0], 0.22, 0.72)
        wide = body.widths[0]
        over: Widths = (0.0, wide[1] * 1.3, wide[2] * 1.3, 0.0)
        yield VectorPath(band([gleam], [over], (0.2, 0.62)), fill=engraving.tint(ink, 0.3))


_HAIR = 0.72
"""Half a hair's width in points where it is thickest: drawn coarser than it grows, as an engraver
does."""

_TINSEL = 0.5


def draw_hair(strand: FirstStrand, layer: LayerLook, hand: FirstHand) -> Iterator[VectorPath]:
    """Yield one hair, thick from the skin and drawn out to nothing at its tip."""
    half = _HAIR * hand.pen.scale * hand.chance.within(0.8, 1.25) * (1.0 if hand.pen.fine else 2.2)
    body = FirstBody((strand.curve,), ((half * 0.8, half, half * 0.9, 0.0),))
    yield from _dyed_hair(body, layer.ink, strand, hand)
    if layer.tip:
        yield from _dyed_hair(end_of(body), layer.tip, strand, hand)
    yield from sprinkle(body, layer, hand)


def _dyed_hair(
    body: FirstBody, ink: str, strand: FirstStrand, hand: FirstHand
) -> Iterator[VectorPath]:
    if hand.treatments:
        return _engraved_hair(body, hand.treatments[ink], hand.pen)
    return draw_body(body, ink, strand, hand, edge=0.6)


def _engraved_hair(body: FirstBody, way: FirstTreatment, pen: Pen) -> Iterator[VectorPath]:
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


def draw_tinsel(strand: FirstStrand, layer: LayerLook, hand: FirstHand) -> Iterator[VectorPath]:
    """Yield one strip of tinsel: straight, with flashes where it catches the light."""
    half = _TINSEL * hand.pen.scale * (1.0 if hand.pen.fine else 2.0)
    start, first, second, end = strand.curve
    calm = (
        start,
        (first[0], (first[1] * 2 + start[1]) / 3),
        (second[0], (second[1] * 2 + end[1]) / 3),
        end,
    )
    body = FirstBody((calm,), ((half,) * 4,))
    yield from _flashing(body, layer.ink, strand, hand)
    if layer.tip:
        yield from _flashing(end_of(body), layer.tip, strand, hand)
    yield from sprinkle(body, layer, hand)


def _flashing(
    body: FirstBody, ink: str, strand: FirstStrand, hand: FirstHand
) -> Iterator[VectorPath]:
    wash = wash_of(ink, strand)
    fill, edge, flash = wash, engraving.shade(wash, 0.55), engraving.tint(wash, 0.75)
    if hand.treatments:
        solid = hand.treatments[ink].solid
        fill, edge = (
            (engraving.BLACK, engraving.WHITE) if solid else (engraving.WHITE, engraving.BLACK)
        )
        flash = edge
    steps = ribbon(body.curves, body.widths)
    yield VectorPath(steps, fill=fill, stroke=edge, width=hand.pen.hair, round_ends=True)
    long, half = hand.chance.within(2.5, 5.0), body.widths[0][0]
    yield VectorPath(
        stroke(body.curves),
        stroke=flash,
        width=half * 1.1,
        dash=(round(long, 2), round(long * 1.9, 2)),
    )


_LOCKS = 48
"""Locks of barbs on one plume, as long as there are few plumes."""

_MOST_LOCKS = 480
"""Locks in one dressing."""


def draw_plume(strand: FirstStrand, layer: LayerLook, hand: FirstHand) -> Iterator[VectorPath]:
    """Yield one plume: its soft body, locks of barbs from tip to root, threads over them."""
    quill = strand.curve
    if not hand.treatments:
        yield _down(quill, engraving.shade(wash_of(layer.ink, strand), 0.16))
    locks = list(_locks(quill, hand.chance, hand.share(_LOCKS, _MOST_LOCKS)))
    if layer.tip:
        dyed = max(1, round(len(locks) * TIP))
        yield from _barbs(locks[dyed:], layer.ink, strand, hand)
        yield from _barbs(locks[:dyed], layer.tip, strand, hand)
    else:
        yield from _barbs(locks, layer.ink, strand, hand)
    yield from sprinkle(FirstBody((quill,), ((2.0,) * 4,)), layer, hand)


def _barbs(
    locks: list[Cubic], ink: str, strand: FirstStrand, hand: FirstHand
) -> Iterator[VectorPath]:
    """Yield locks as one path, and lines over them."""
    pen = hand.pen
    steps: list[Step] = []
    for lock in locks:
        half = pen.scale * ((0.3 if pen.fine else 1.0) + hand.chance.within(0.2, 0.7))
        steps += ribbon([lock], [(half * 0.6, half, half * 0.8, 0.0)])
    if hand.treatments:
        yield from _engraved_plume(tuple(steps), locks, hand.treatments[ink], pen)
        return
    fill, edge, thread = _lock_inks(wash_of(ink, strand), ink)
    yield VectorPath(tuple(steps), fill=fill, stroke=edge, width=pen.hair, round_ends=True)
    if pen.fine:
        threads = tuple(step for lock in locks[::5] for step in stroke([lock]))
        yield VectorPath(threads, stroke=thread, width=pen.hair, round_ends=True)


def _lock_inks(wash: str, ink: str) -> tuple[str, str, str]:
    """Return the inks of a lock's body, its edge, and the threads over it."""
    if engraving.lightness(ink) < engraving.DARK:
        return wash, engraving.tint(wash, 0.15), engraving.tint(wash, 0.26)
    return wash, engraving.shade(wash, 0.33), engraving.tint(wash, 0.24)


def _engraved_plume(
    steps: tuple[Step, ...], locks: list[Cubic], way: FirstTreatment, pen: Pen
) -> Iterator[VectorPath]:
    """Yield dark locks as black with white threads, light ones as white with swelling lines."""
    if way.solid:
        yield VectorPath(
            steps, fill=engraving.BLACK, stroke=engraving.BLACK, width=pen.hair, round_ends=True
        )
        threads = (swelling(lock, pen.hair * 0.9) for lock in locks[:: 2 if pen.fine else 4])
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
    leaf = ribbon([part(quill, 0.0, 0.88)], [(1.0, long * 0.07, long * 0.055, 0.0)])
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


_PAST_THE_BEND = 28 * PT_PER_MM
"""How far tips reach past the bend where the pattern states no length. The trade trims skirts
some 25 to 30 mm past it, or shorter (common practice, no published source)."""

_LONG = 72 * PT_PER_MM
"""A jig of ordinary size, from nose to tips, for which the pens' widths are given."""

_HEAD_AT_EASE = 15 * PT_PER_MM
"""The length of head for which the collar is sized."""

_DRAWN_BY: dict[Kind, Callable[[FirstStrand, LayerLook, FirstHand], Iterator[VectorPath]]] = {
    "silicone": draw_silicone,
    "living rubber": draw_rubber,
    "hair": draw_hair,
    "feather": draw_plume,
    "tinsel": draw_tinsel,
}


@dataclass(frozen=True, slots=True)
class FirstJigPlaces:
    """The places of a jig's parts, all in points."""

    head: HeadShape
    hook: Wire
    collar: Collar
    room: FirstRoom

    @property
    def scale(self) -> float:
        """How long the jig is beside one of ordinary size."""
        return round((self.head.length + self.room.start + self.room.length) / _LONG, 3)


def frame_of(subject: JigLook) -> FirstJigPlaces:
    """Return where a jig's parts go: the head's rear at the origin, the shank along y = 0."""
    head = head_shape(subject.head.style, subject.head.ounces, first=True)
    hook = bend_hook(subject.hook, head.tie)
    size = (head.length / _HEAD_AT_EASE) ** 0.5
    collar = Collar(length=3.2 * PT_PER_MM * size, half=6.2 * size)
    tips = hook.rear + _PAST_THE_BEND
    if subject.length is not None:
        # A drawing needs tips behind the bend, and a head that is still large enough to be seen.
        tips = min(max(subject.length - head.length, hook.rear * 1.15), hook.rear * 2.6)
    room = FirstRoom(start=collar.length, half=collar.half * 0.85, length=tips - collar.length)
    return FirstJigPlaces(head, hook, collar, room)


class FirstDrawing:
    """One jig under one pen, as the first edition drew it."""

    def __init__(self, subject: JigLook, ink: InkMode, detail: Detail) -> None:
        self._subject, self._frame = subject, frame_of(subject)
        self._pen = pen = Pen(ink, detail, self._frame.scale)
        # Both inks and both details show the same specimen, lying as it fell.
        self._chance = Chance(subject.seed)
        counts = shares(subject.layers, MOST_STRANDS if pen.fine else MOST_PLAIN_STRANDS)
        ways = treatments(subject.inks) if pen.black else {}
        self._hand = FirstHand(pen, ways, self._chance, sum(counts))
        self._strands = arrange(
            subject.layers, counts, subject.dressing, self._frame.room, self._chance
        )

    def marks(self) -> Iterator[VectorPath]:
        """Yield all paths, what lies behind first."""
        subject, frame, pen = self._subject, self._frame, self._pen
        yield from self._dressing("far", "parted")
        yield from draw_hook(frame.hook, subject.hook.ink, pen)
        if subject.guard:
            yield from draw_guard(subject.guard, frame.hook, frame.head.guard, pen, self._chance)
        yield from self._dressing("near")
        yield from draw_collar(frame.collar, subject.thread, pen)
        yield from draw_line_tie(frame.hook, subject.hook.ink, pen)
        yield from draw_head(frame.head, subject.head, pen)

    def _dressing(self, *depths: Depth) -> Iterator[VectorPath]:
        for strand in self._strands:
            if strand.depth in depths:
                layer = self._subject.layers[strand.layer]
                yield from _DRAWN_BY[layer.kind](strand, layer, self._hand)
