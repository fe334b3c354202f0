"""Bucktail and tinsel: fine straight fibres, swept back."""

from __future__ import annotations

from collections.abc import Iterator

from labeler.layout.figure import tones
from labeler.layout.figure.bodies import Body, draw_body, end_of, parted, wash_of
from labeler.layout.figure.curves import beside, ribbon, stroke, swelling
from labeler.layout.figure.flakes import sprinkle
from labeler.layout.figure.hand import Hand
from labeler.layout.figure.pens import Pen
from labeler.layout.figure.skirt import Strand
from labeler.layout.figure.subject import Tied
from labeler.layout.figure.treatments import Treatment
from labeler.layout.marks import Path

_HAIR = 0.72
"""Half a hair's width in points where it is thickest: drawn coarser than it grows, as an engraver
does."""

_TINSEL = 0.5


def draw_hair(strand: Strand, layer: Tied, hand: Hand) -> Iterator[Path]:
    """Yield one hair, thick from the skin and drawn out to nothing at its tip."""
    half = _HAIR * hand.pen.scale * hand.chance.within(0.8, 1.25) * (1.0 if hand.pen.fine else 2.2)
    body = Body((strand.curve,), ((half * 0.8, half, half * 0.9, 0.0),))
    yield from _dyed(body, layer.ink, strand, hand)
    if layer.tip:
        yield from _dyed(end_of(body), layer.tip, strand, hand)
    yield from sprinkle(body, layer, hand)


def _dyed(body: Body, ink: str, strand: Strand, hand: Hand) -> Iterator[Path]:
    if hand.ways:
        return _engraved(body, hand.ways[ink], hand.pen)
    return draw_body(body, ink, strand, hand, edge=0.6)


def _engraved(body: Body, way: Treatment, pen: Pen) -> Iterator[Path]:
    """Yield a dark hair as black parted by white, a light one as white with a single line in it."""
    outer = parted(body, pen) if way.solid else body
    fill = tones.BLACK if way.solid else tones.WHITE
    steps = ribbon(outer.curves, outer.widths)
    gap = pen.hair * (0.6 if way.solid else 1.0)
    yield Path(steps, fill=fill, stroke=tones.WHITE, width=gap, round_ends=True)
    if not way.solid:
        under = beside(body.curves[0], (-pen.hair * 0.6,) * 4)
        yield Path(swelling(under, pen.hair * (1.75 - 1.3 * way.light), 0.35), fill=tones.BLACK)


def draw_tinsel(strand: Strand, layer: Tied, hand: Hand) -> Iterator[Path]:
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


def _flashing(body: Body, ink: str, strand: Strand, hand: Hand) -> Iterator[Path]:
    wash = wash_of(ink, strand)
    fill, edge, flash = wash, tones.shade(wash, 0.55), tones.tint(wash, 0.75)
    if hand.ways:
        solid = hand.ways[ink].solid
        fill, edge = (tones.BLACK, tones.WHITE) if solid else (tones.WHITE, tones.BLACK)
        flash = edge
    steps = ribbon(body.curves, body.widths)
    yield Path(steps, fill=fill, stroke=edge, width=hand.pen.hair, round_ends=True)
    long, half = hand.chance.within(2.5, 5.0), body.widths[0][0]
    yield Path(
        stroke(body.curves),
        stroke=flash,
        width=half * 1.1,
        dash=(round(long, 2), round(long * 1.9, 2)),
    )
