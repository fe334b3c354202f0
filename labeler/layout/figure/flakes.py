"""Glitter: small lozenges along a strand, each a little off its middle."""

from __future__ import annotations

from collections.abc import Iterator

from labeler.layout.figure import tones
from labeler.layout.figure.bodies import Body
from labeler.layout.figure.curves import at, line, move
from labeler.layout.figure.hand import Hand
from labeler.layout.figure.subject import Tied
from labeler.layout.marks import Path, Step

_SPECKS = {"sparse": 5, "medium": 10, "dense": 18}
"""Specks that show on one strand."""

_MOST_SPECKS = 900
"""Specks in one skirt; a fuller skirt has fewer on each strand."""


def sprinkle(body: Body, layer: Tied, hand: Hand) -> Iterator[Path]:
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
    yield Path(tuple(steps), fill=_ink(layer, layer.flake.ink, hand))


def _speck(x: float, y: float, size: float) -> tuple[Step, ...]:
    return (
        move((x - size, y)),
        line((x, y - size * 0.8)),
        line((x + size, y)),
        line((x, y + size * 0.8)),
        ("Z",),
    )


def _ink(layer: Tied, flake: str, hand: Hand) -> str:
    if not hand.ways:
        return flake
    return tones.WHITE if hand.ways[layer.ink].solid else tones.BLACK
