"""Skirt strands: flat ribbons of silicone and round cords of living rubber."""

from __future__ import annotations

import math
from collections.abc import Iterator

from labeler.layout.figure import tones
from labeler.layout.figure.bodies import Body, draw_body, end_of
from labeler.layout.figure.curves import Cubic, Point, Widths, across, at, band, part, through
from labeler.layout.figure.flakes import sprinkle
from labeler.layout.figure.hand import Hand
from labeler.layout.figure.skirt import Strand
from labeler.layout.figure.subject import Tied
from labeler.layout.marks import Path

_SILICONE = 1.5
"""Half a silicone strand's width in points: strands are about 1 mm wide (common practice, no
published source)."""

_RUBBER = 1.0
"""Half a living-rubber strand's thickness, the same way."""

_MOST_LEGS = 480
"""Curves spent on the waves of one skirt's cords; in a fuller skirt each has fewer."""


def draw_silicone(strand: Strand, layer: Tied, hand: Hand) -> Iterator[Path]:
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


def draw_rubber(strand: Strand, layer: Tied, hand: Hand) -> Iterator[Path]:
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


def _dyed(body: Body, strand: Strand, layer: Tied, hand: Hand) -> Iterator[Path]:
    """Yield a strand in its colour, its second colour at the tip, and its flake."""
    yield from draw_body(body, layer.ink, strand, hand)
    yield from _modelled(body, layer.ink, strand, hand)
    if layer.tip:
        end = end_of(body)
        yield from draw_body(end, layer.tip, strand, hand)
        yield from _modelled(end, layer.tip, strand, hand)
    if layer.flake:
        yield from sprinkle(body, layer, hand)


def _modelled(body: Body, ink: str, strand: Strand, hand: Hand) -> Iterator[Path]:
    """Yield the shadow side and the gleam of a strand on the near side, in a fine drawing."""
    if hand.ways or not hand.pen.fine or strand.depth == "far":
        return
    yield Path(band(body.curves, body.widths, (-0.85, -0.25)), fill=tones.shade(ink, 0.2))
    if len(body.curves) == 1:
        gleam = part(body.curves[0], 0.22, 0.72)
        wide = body.widths[0]
        over: Widths = (0.0, wide[1] * 1.3, wide[2] * 1.3, 0.0)
        yield Path(band([gleam], [over], (0.2, 0.62)), fill=tones.tint(ink, 0.3))
