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
from typing import Literal

from labeler.catalog.model import Seat
from labeler.drawing import engraving
from labeler.drawing.curves import Cubic, Widths, band, part, ribbon, stroke
from labeler.drawing.engraving import Chance, Hand, Pen, Treatment
from labeler.drawing.subject import Dressing, LayerLook
from labeler.marks import VectorPath

Depth = Literal["far", "parted", "near"]
"""Behind the hook; at the top of the near side, where the skirt is parted to free the hook's
point, and so behind it too; in front."""

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
        flare=0.38,
        leave=74,
        arrive=(3, 24),
        fall=0.085,
        ragged=0.1,
        seat=1.0,
        parting=52,
        sway=0.045,
    ),
    "hair": Flow(
        flare=0.17,
        leave=34,
        arrive=(-5, 5),
        fall=0.035,
        ragged=0.3,
        seat=1.85,
        parting=84,
        sway=0.012,
    ),
    "feather": Flow(
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
class Room:
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
        return Strand(
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
class Body:
    """A fibre's middle, and half its width along it."""

    curves: tuple[Cubic, ...]
    widths: tuple[Widths, ...]
    round_tip: bool = False


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
    return engraving.shade(ink, FAR) if strand.depth == "far" else ink


def draw_body(
    body: Body, ink: str, strand: Strand, hand: Hand, edge: float = 1.0
) -> Iterator[VectorPath]:
    """Yield a fibre's body, the one path of it with both fill and stroke, and its grain.

    ``edge`` is how strong the line around it is, as a share of a skirt strand's.
    """
    if hand.treatments:
        yield from _engraved(body, hand.treatments[ink], hand.pen)
        return
    wash = wash_of(ink, strand)
    yield VectorPath(
        ribbon(body.curves, body.widths, body.round_tip),
        fill=wash, stroke=engraving.edge(ink, edge), width=hand.pen.hair, round_ends=True,
    )  # fmt: skip


def _engraved(body: Body, way: Treatment, pen: Pen) -> Iterator[VectorPath]:
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


def parted(body: Body, pen: Pen) -> Body:
    """Return a black body so much wider that the white line around it doesn't thin it."""
    by = pen.hair / 2
    wider = tuple((w[0] + by, w[1] + by, w[2] + by, w[3] + by) for w in body.widths)
    return replace(body, widths=wider)


def _grain(body: Body, way: Treatment, ink: str, pen: Pen) -> Iterator[VectorPath]:
    """Yield what a treatment draws within the outline."""
    if way.strip:
        yield VectorPath(band(body.curves, body.widths, way.strip), fill=ink)
    if way.width:
        full = 2 * max(body.widths[0])
        yield VectorPath(
            stroke(body.curves), stroke=ink, width=max(pen.hair, full * way.width),
            dash=way.dash, round_ends=way.dots,
        )  # fmt: skip
