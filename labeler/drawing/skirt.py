"""Where each strand of a skirt goes: around the shank, near or far, over or under, flared or lean.

A skirt is a solid thing. Every strand springs from the collar at an angle around the shank, flares
to a radius of its own and falls back toward the tail; what the picture shows is that solid seen
from the side. So the layer tied first, which folds back to the outside, is the widest, lies in
front of all others on the near side, behind all others on the far side, and makes the outline.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import ClassVar, Literal

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
from labeler.drawing.engraving import Chance, Pen, Treatment, Treatments
from labeler.drawing.subject import Dressing, Kind, LayerLook
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


class Fan:
    """Lays strands around one collar."""

    FLOWS: ClassVar[Mapping[Dressing, Flow]] = FLOWS
    LOW_ABOVE = 0.34
    """How much less than below a skirt stands out above the shank: its own weight lays it on the
    hook, and strands that arch high over the point would look combed across."""
    LEAST_FLARE, LEAST_LEAVE = 0.66, 0.7
    """Of a strand's flare, and of the angle at which it leaves, what chance leaves at the least."""

    def __init__(self, dressing: Dressing, room: Room, chance: Chance) -> None:
        self._flow, self._room, self._chance = self.FLOWS[dressing], room, chance
        self._lean = chance.swell(1.0)
        self._stretch = chance.swell(1.0)

    def arrange(self, layers: Sequence[LayerLook], counts: Sequence[int]) -> list[Strand]:
        """Return every strand in drawing order: what lies behind first.

        A layer's strands lie evenly around its seat, give or take a hand's uncertainty.
        """
        found: list[Strand] = []
        for number, (layer, count) in enumerate(zip(layers, counts, strict=True)):
            outward = 1.0 - _INNERMOST * number / max(1, len(layers) - 1)
            found += [
                self._strand(number, layer.seat, angle, outward)
                for angle in self._angles(layer.seat, count)
            ]
        return sorted(found, key=_order)

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
        over = 1 - self.LOW_ABOVE * max(0.0, -up)
        radius = outward * flow.flare * long * chance.within(self.LEAST_FLARE, 1.0) * over
        leave = flow.leave * (0.2 + 0.8 * outward) * chance.within(self.LEAST_LEAVE, 1.08) * over
        reach = math.sqrt(max(long * long - (1.5 * radius) ** 2, (0.5 * long) ** 2))
        leave = math.radians(leave)
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
    def end(self) -> Body:
        """The free end of a fibre that is dyed in two colours."""
        count = len(self.curves)
        if count > 1:
            whole = max(1, round(count * TIP))
            return replace(self, curves=self.curves[-whole:], widths=self.widths[-whole:])
        wide = self.widths[-1]
        widths: Widths = (wide[2], wide[2], wide[2], wide[3])
        return replace(self, curves=(part(self.curves[0], 1 - TIP, 1.0),), widths=(widths,))

    def parted(self, pen: Pen) -> Body:
        """Return a black body so much wider that the white line around it doesn't thin it."""
        by = pen.hair / 2
        wider = tuple((w[0] + by, w[1] + by, w[2] + by, w[3] + by) for w in self.widths)
        return replace(self, widths=wider)


_SPECKS = {"sparse": 5, "medium": 10, "dense": 18}
"""Specks that show on one strand."""

_MOST_SPECKS = 900
"""Specks in one skirt; a fuller skirt has fewer on each strand."""

_SILICONE = 1.5
"""Half a silicone strand's width in points: strands are about 1 mm wide (common practice, no
published source)."""

_RUBBER = 1.0
"""Half a living-rubber strand's thickness, the same way."""

_MOST_LEGS = 480
"""Curves spent on the waves of one skirt's cords; in a fuller skirt each has fewer."""

_HAIR = 0.72
"""Half a hair's width in points where it is thickest: drawn coarser than it grows, as an engraver
does."""

_TINSEL = 0.5

_LOCKS = 48
"""Locks of barbs on one plume, as long as there are few plumes."""

_MOST_LOCKS = 480
"""Locks in one dressing."""


def in_shadow(ink: str, share: float) -> str:
    """Return an ink as it looks in shadow, the less the paler it is."""
    darker = engraving.shade(ink, share * (1.12 - engraving.lightness(ink)))
    return min(ink, darker, key=engraving.lightness)


class StrandDrawing:
    """Draws the strands of one dressing, each as its material looks, with one pen.

    Args:
        pen: what it is drawn with.
        treatments: of its inks; empty where it is drawn in colours.
        chance: what makes no two strands alike.
        strands: in the whole dressing: the more there are, the less is spent on each.
    """

    FAR, SHADOW, GLEAM = 0.2, 0.2, 0.24
    """How much darker the far side of a dressing lies, and the under side of a fibre; how much
    lighter the gleam on it is. Of a pale ink's shadows less is left: white stays white."""
    EDGE, HAIR_EDGE = 0.85, 0.45
    """How strong the line around a strand of a skirt is, and around a hair."""
    TINSEL_EDGE, TINSEL_FLASH, TINSEL_WIDTH = 0.3, 0.3, 0.9
    """How much darker tinsel's edge is and how much lighter its flashes, and how wide they are."""
    THREAD, THREADS = 0.8, (1, 3)
    """The lines in a black plume: half their width in hairlines; every how manieth lock has one, in
    a fine drawing and in a plain one."""

    def __init__(self, pen: Pen, treatments: Treatments, chance: Chance, strands: int) -> None:
        self.pen, self.treatments, self.chance, self.strands = pen, treatments, chance, strands
        self._by_kind: dict[Kind, Callable[[Strand, LayerLook], Iterator[VectorPath]]] = {
            "silicone": self.silicone,
            "living rubber": self.rubber,
            "hair": self.hair,
            "feather": self.plume,
            "tinsel": self.tinsel,
        }

    def draw(self, strand: Strand, layer: LayerLook) -> Iterator[VectorPath]:
        """Yield one strand of a layer."""
        return self._by_kind[layer.kind](strand, layer)

    def share(self, wish: int, whole: int) -> int:
        """Return how many small strokes a strand gets: ``wish``, or its share of ``whole``."""
        return max(2, min(wish, whole // max(self.strands, 1)))

    # ------------------------------------------------------------- inks and outlines

    def shadow(self, ink: str, share: float) -> str:
        """Return an ink as it looks in shadow."""
        return in_shadow(ink, share)

    def wash(self, ink: str, strand: Strand) -> str:
        """Return a fibre's wash: the recipe's ink, darker on the far side."""
        return self.shadow(ink, self.FAR) if strand.depth == "far" else ink

    def edge(self, ink: str, strength: float) -> str:
        """Return the ink of the line around a fibre."""
        return engraving.edge(ink, strength * (1.0 if self.pen.fine else 0.75))

    def line(self, body: Body) -> float:
        """Return how wide the line around a fibre is, in points."""
        return round(LINE * 2 * max(chain.from_iterable(body.widths)), 3)

    def body(self, body: Body, ink: str, strand: Strand, edge: float) -> Iterator[VectorPath]:
        """Yield a fibre's body, the one path of it with both fill and stroke, and its grain.

        ``edge`` is how strong the line around it is.
        """
        if self.treatments:
            yield from self._engraved_body(body, self.treatments[ink])
            return
        yield VectorPath(
            ribbon(body.curves, body.widths, body.round_tip),
            fill=self.wash(ink, strand), stroke=self.edge(ink, edge), width=self.line(body),
            round_ends=True,
        )  # fmt: skip

    def _engraved_body(self, body: Body, way: Treatment) -> Iterator[VectorPath]:
        """Yield a fibre in black and white, by its ink's treatment."""
        fill, other = way.inks
        outer = body.parted(self.pen) if way.solid else body
        yield VectorPath(
            ribbon(outer.curves, outer.widths, outer.round_tip),
            fill=fill, stroke=other, width=self.pen.hair, round_ends=True,
        )  # fmt: skip
        yield from self.grain(body, way)

    def grain(self, body: Body, way: Treatment) -> Iterator[VectorPath]:
        """Yield what a treatment draws within the outline."""
        for strip in way.strips:
            yield VectorPath(band(body.curves, body.widths, strip), fill=way.inks[1])

    def _sprinkle(self, body: Body, layer: LayerLook) -> Iterator[VectorPath]:
        """Yield a strand's flake as one path; a plain drawing is too small for any."""
        if layer.flake is None or not self.pen.fine:
            return
        chance, half = self.chance, max(body.widths[0])
        count = self.share(_SPECKS[layer.flake.density], _MOST_SPECKS)
        steps: list[Step] = []
        for i in range(count):
            place = ((i + chance.within(0.1, 0.9)) / count * 0.9 + 0.08) * len(body.curves)
            leg = min(int(place), len(body.curves) - 1)
            x, y = at(body.curves[leg], place - leg)
            y, size = y + chance.about(0, half * 0.55), chance.within(0.4, 0.7)
            steps += [
                move((x - size, y)),
                line((x, y - size * 0.8)),
                line((x + size, y)),
                line((x, y + size * 0.8)),
                ("Z",),
            ]
        ink = self.treatments[layer.ink].inks[1] if self.treatments else layer.flake.ink
        yield VectorPath(tuple(steps), fill=ink)

    # ------------------------------------------------------------- silicone and rubber

    def silicone(self, strand: Strand, layer: LayerLook) -> Iterator[VectorPath]:
        """Yield a flat ribbon, cut across at its tip and narrow where it turns its edge to us."""
        full = _SILICONE * (1.0 if self.pen.fine else 1.5)
        wide = full * strand.facing
        widths = (
            full * 0.45,
            wide * self.chance.within(0.75, 1.0),
            wide * self.chance.within(0.85, 1.2),
            wide * 0.95,
        )
        yield from self._dyed(Body((strand.curve,), (widths,)), strand, layer)

    def rubber(self, strand: Strand, layer: LayerLook) -> Iterator[VectorPath]:
        """Yield a round cord that keeps the waves of the sheet it was cut from."""
        half = _RUBBER * (1.0 if self.pen.fine else 1.9)
        curves = self._wavy(strand.curve, 0.024 if self.pen.fine else 0.014)
        body = Body(curves, ((half,) * 4,) * len(curves), round_tip=True)
        yield from self._dyed(body, strand, layer)

    def _wavy(self, base: Cubic, height: float) -> tuple[Cubic, ...]:
        """Return a strand's way with waves that grow toward the tip, to a share of its length."""
        long = math.dist(base[0], base[3])
        phase, waves = self.chance.within(0, math.tau), self.chance.within(1.1, 1.7)
        legs = self.share(5, _MOST_LEGS)
        spots: list[Point] = []
        for i in range(legs + 1):
            t = i / legs
            x, y = at(base, t)
            leg = min(int(t * 3), 2)
            side = across(base[leg], base[leg + 1])
            off = height * long * t * math.sin(phase + waves * math.tau * t)
            spots.append((x + side[0] * off, y + side[1] * off))
        return tuple(through(spots))

    def _dyed(self, body: Body, strand: Strand, layer: LayerLook) -> Iterator[VectorPath]:
        """Yield a strand in its colour, its second colour at the tip, and its flake."""
        yield from self.body(body, layer.ink, strand, self.EDGE)
        yield from self._modelled(body, layer.ink, strand)
        if layer.tip:
            yield from self.body(body.end, layer.tip, strand, self.EDGE)
            yield from self._modelled(body.end, layer.tip, strand)
        yield from self._sprinkle(body, layer)

    def _modelled(self, body: Body, ink: str, strand: Strand) -> Iterator[VectorPath]:
        """Yield the shadow side and the gleam of a strand on the near side, in a fine drawing."""
        if self.treatments or not self.pen.fine or strand.depth == "far":
            return
        shadow = self.shadow(ink, self.SHADOW)
        yield VectorPath(band(body.curves, body.widths, (-0.85, -0.25)), fill=shadow)
        if len(body.curves) == 1:
            gleam = part(body.curves[0], 0.22, 0.72)
            wide = body.widths[0]
            over: Widths = (0.0, wide[1] * 1.3, wide[2] * 1.3, 0.0)
            light = engraving.tint(ink, self.GLEAM)
            yield VectorPath(band([gleam], [over], (0.2, 0.62)), fill=light)

    # ------------------------------------------------------------- hair and tinsel

    def hair(self, strand: Strand, layer: LayerLook) -> Iterator[VectorPath]:
        """Yield one hair, thick from the skin and drawn out to nothing at its tip."""
        pen = self.pen
        half = _HAIR * pen.scale * self.chance.within(0.8, 1.25) * (1.0 if pen.fine else 2.2)
        body = Body((strand.curve,), ((half * 0.8, half, half * 0.9, 0.0),))
        for ink, dyed in ((layer.ink, body), (layer.tip, body.end)):
            if ink and self.treatments:
                yield from self._engraved_hair(dyed, self.treatments[ink])
            elif ink:
                yield from self.body(dyed, ink, strand, self.HAIR_EDGE)
        yield from self._sprinkle(body, layer)

    def _engraved_hair(self, body: Body, way: Treatment) -> Iterator[VectorPath]:
        """Yield a dark hair as black parted by white, a light one as white with a line in it."""
        hair = self.pen.hair
        outer = body.parted(self.pen) if way.solid else body
        gap = hair * (0.6 if way.solid else 1.0)
        yield VectorPath(
            ribbon(outer.curves, outer.widths), fill=way.inks[0], stroke=engraving.WHITE,
            width=gap, round_ends=True,
        )  # fmt: skip
        if not way.solid:
            under = beside(body.curves[0], (-hair * 0.6,) * 4)
            steps = swelling(under, hair * (1.75 - 1.3 * way.light), 0.35)
            yield VectorPath(steps, fill=engraving.BLACK)

    def tinsel(self, strand: Strand, layer: LayerLook) -> Iterator[VectorPath]:
        """Yield one strip of tinsel: straight, with flashes where it catches the light."""
        half = _TINSEL * self.pen.scale * (1.0 if self.pen.fine else 2.0)
        start, first, second, end = strand.curve
        calm = (
            start,
            (first[0], (first[1] * 2 + start[1]) / 3),
            (second[0], (second[1] * 2 + end[1]) / 3),
            end,
        )
        body = Body((calm,), ((half,) * 4,))
        yield from self._flashing(body, layer.ink, strand)
        if layer.tip:
            yield from self._flashing(body.end, layer.tip, strand)
        yield from self._sprinkle(body, layer)

    def _flashing(self, body: Body, ink: str, strand: Strand) -> Iterator[VectorPath]:
        if self.treatments:
            fill, edge = self.treatments[ink].inks
            flash, width = edge, self.pen.hair
        else:
            fill, width = self.wash(ink, strand), self.line(body)
            edge = engraving.shade(fill, self.TINSEL_EDGE)
            flash = engraving.tint(fill, self.TINSEL_FLASH)
        steps = ribbon(body.curves, body.widths)
        yield VectorPath(steps, fill=fill, stroke=edge, width=width, round_ends=True)
        long, half = self.chance.within(2.5, 5.0), body.widths[0][0]
        yield VectorPath(
            stroke(body.curves), stroke=flash, width=half * self.TINSEL_WIDTH,
            dash=(round(long, 2), round(long * 1.9, 2)),
        )  # fmt: skip

    # ------------------------------------------------------------- plumes

    def plume(self, strand: Strand, layer: LayerLook) -> Iterator[VectorPath]:
        """Yield one plume: its soft body, locks of barbs from tip to root, threads over them."""
        quill = strand.curve
        yield from self.down(strand, layer)
        locks = list(_locks(quill, self.chance, self.share(_LOCKS, _MOST_LOCKS)))
        dyed = max(1, round(len(locks) * TIP)) if layer.tip else 0
        yield from self._barbs(locks[dyed:], layer.ink, strand)
        if layer.tip:
            yield from self._barbs(locks[:dyed], layer.tip, strand)
        yield from self._sprinkle(Body((quill,), ((2.0,) * 4,)), layer)

    def down(self, strand: Strand, layer: LayerLook) -> Iterator[VectorPath]:
        """Yield the soft body beneath the locks: a leaf, so that no gap in a plume is paper."""
        quill = strand.curve
        long = math.dist(quill[0], quill[3])
        leaf = ribbon([part(quill, 0.0, 0.88)], [(long * 0.055, long * 0.1, long * 0.075, 0.0)])
        if self.treatments:
            yield VectorPath(leaf, fill=self.treatments[layer.ink].inks[0])
        else:
            yield VectorPath(leaf, fill=self.shadow(self.wash(layer.ink, strand), self.SHADOW))

    def _barbs(self, locks: list[Cubic], ink: str, strand: Strand) -> Iterator[VectorPath]:
        """Yield locks as one path, and lines over them."""
        pen = self.pen
        steps: list[Step] = []
        for lock in locks:
            half = pen.scale * ((0.3 if pen.fine else 1.0) + self.chance.within(0.2, 0.7))
            steps += ribbon([lock], [(half * 0.6, half, half * 0.8, 0.0)])
        if self.treatments:
            yield from self._engraved_plume(tuple(steps), locks, self.treatments[ink])
        else:
            yield from self.washed_plume(tuple(steps), locks, ink, strand)

    def washed_plume(
        self, steps: tuple[Step, ...], locks: list[Cubic], ink: str, strand: Strand
    ) -> Iterator[VectorPath]:
        """Yield locks in their wash, with a gleam along some of them in a fine drawing."""
        pen, wash = self.pen, self.wash(ink, strand)
        yield VectorPath(
            steps, fill=wash, stroke=engraving.edge(wash, 0.42 if pen.fine else 0.26),
            width=round(LINE * 1.6 * pen.scale * (0.75 if pen.fine else 1.45), 3), round_ends=True,
        )  # fmt: skip
        if pen.fine:
            threads = (swelling(lock, pen.hair * 0.45, 0.4) for lock in locks[::4])
            gleam = engraving.tint(wash, self.GLEAM)
            yield VectorPath(tuple(chain.from_iterable(threads)), fill=gleam)

    def _engraved_plume(
        self, steps: tuple[Step, ...], locks: list[Cubic], way: Treatment
    ) -> Iterator[VectorPath]:
        """Yield dark locks as black with white threads, light ones as white, swelling lines."""
        pen, (fill, other) = self.pen, way.inks
        yield VectorPath(steps, fill=fill, stroke=fill, width=pen.hair, round_ends=True)
        if way.solid:
            each = self.THREADS[0 if pen.fine else 1]
            lines = (swelling(lock, pen.hair * self.THREAD) for lock in locks[::each])
        else:
            half = pen.hair * (1.7 - 1.1 * way.light)
            lines = (swelling(lock, half, 0.6) for lock in locks)
        yield VectorPath(tuple(chain.from_iterable(lines)), fill=other)


def _locks(quill: Cubic, chance: Chance, count: int) -> Iterator[Cubic]:
    """Yield the middle of each lock, those near the tip first, so that the root's lie over them."""
    long = math.dist(quill[0], quill[3])
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
