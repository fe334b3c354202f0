"""Skirt strands: flat ribbons of silicone and round cords of living rubber."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import chain

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
from labeler.drawing.skirt import TIP, Body, Strand, draw_body, end_of, parted, wash_of
from labeler.drawing.subject import LayerLook
from labeler.geometry import Point
from labeler.marks import Step, VectorPath

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
    yield VectorPath(tuple(steps), fill=_ink(layer, layer.flake.ink, hand))


def _speck(x: float, y: float, size: float) -> tuple[Step, ...]:
    return (
        move((x - size, y)),
        line((x, y - size * 0.8)),
        line((x + size, y)),
        line((x, y + size * 0.8)),
        ("Z",),
    )


def _ink(layer: LayerLook, flake: str, hand: Hand) -> str:
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
    return draw_body(body, ink, strand, hand, edge=0.6)


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


def draw_plume(strand: Strand, layer: LayerLook, hand: Hand) -> Iterator[VectorPath]:
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
    fill, edge, thread = _inks(wash_of(ink, strand), ink)
    yield VectorPath(tuple(steps), fill=fill, stroke=edge, width=pen.hair, round_ends=True)
    if pen.fine:
        threads = tuple(step for lock in locks[::5] for step in stroke([lock]))
        yield VectorPath(threads, stroke=thread, width=pen.hair, round_ends=True)


def _inks(wash: str, ink: str) -> tuple[str, str, str]:
    """Return the inks of a lock's body, its edge, and the threads over it."""
    if engraving.lightness(ink) < engraving.DARK:
        return wash, engraving.tint(wash, 0.15), engraving.tint(wash, 0.26)
    return wash, engraving.shade(wash, 0.33), engraving.tint(wash, 0.24)


def _engraved_plume(
    steps: tuple[Step, ...], locks: list[Cubic], way: Treatment, pen: Pen
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
