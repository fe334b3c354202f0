"""Marabou: soft plumes whose barbs breathe around a fine quill."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import chain

from labeler.layout.figure import tones
from labeler.layout.figure.bodies import TIP, Body, wash_of
from labeler.layout.figure.chance import Chance
from labeler.layout.figure.curves import Cubic, Point, across, at, part, ribbon, stroke, swelling
from labeler.layout.figure.flakes import sprinkle
from labeler.layout.figure.hand import Hand
from labeler.layout.figure.pens import Pen
from labeler.layout.figure.skirt import Strand
from labeler.layout.figure.subject import Tied
from labeler.layout.figure.treatments import Treatment
from labeler.layout.marks import Path, Step

_LOCKS = 48
"""Locks of barbs on one plume, as long as there are few plumes."""

_MOST_LOCKS = 480
"""Locks in one dressing."""


def draw_plume(strand: Strand, layer: Tied, hand: Hand) -> Iterator[Path]:
    """Yield one plume: its soft body, locks of barbs from tip to root, threads over them."""
    quill = strand.curve
    if not hand.ways:
        yield _down(quill, tones.shade(wash_of(layer.ink, strand), 0.16))
    locks = list(_locks(quill, hand.chance, hand.share(_LOCKS, _MOST_LOCKS)))
    if layer.tip:
        dyed = max(1, round(len(locks) * TIP))
        yield from _barbs(locks[dyed:], layer.ink, strand, hand)
        yield from _barbs(locks[:dyed], layer.tip, strand, hand)
    else:
        yield from _barbs(locks, layer.ink, strand, hand)
    yield from sprinkle(Body((quill,), ((2.0,) * 4,)), layer, hand)


def _barbs(locks: list[Cubic], ink: str, strand: Strand, hand: Hand) -> Iterator[Path]:
    """Yield locks as one path, and lines over them."""
    pen = hand.pen
    steps: list[Step] = []
    for lock in locks:
        half = pen.scale * ((0.3 if pen.fine else 1.0) + hand.chance.within(0.2, 0.7))
        steps += ribbon([lock], [(half * 0.6, half, half * 0.8, 0.0)])
    if hand.ways:
        yield from _engraved(tuple(steps), locks, hand.ways[ink], pen)
        return
    fill, edge, thread = _inks(wash_of(ink, strand), ink)
    yield Path(tuple(steps), fill=fill, stroke=edge, width=pen.hair, round_ends=True)
    if pen.fine:
        threads = tuple(step for lock in locks[::5] for step in stroke([lock]))
        yield Path(threads, stroke=thread, width=pen.hair, round_ends=True)


def _inks(wash: str, ink: str) -> tuple[str, str, str]:
    """Return the inks of a lock's body, its edge, and the threads over it."""
    if tones.lightness(ink) < tones.DARK:
        return wash, tones.tint(wash, 0.15), tones.tint(wash, 0.26)
    return wash, tones.shade(wash, 0.33), tones.tint(wash, 0.24)


def _engraved(
    steps: tuple[Step, ...], locks: list[Cubic], way: Treatment, pen: Pen
) -> Iterator[Path]:
    """Yield dark locks as black with white threads, light ones as white with swelling lines."""
    if way.solid:
        yield Path(steps, fill=tones.BLACK, stroke=tones.BLACK, width=pen.hair, round_ends=True)
        threads = (swelling(lock, pen.hair * 0.9) for lock in locks[:: 2 if pen.fine else 4])
        yield Path(tuple(chain.from_iterable(threads)), fill=tones.WHITE)
        return
    yield Path(steps, fill=tones.WHITE, stroke=tones.WHITE, width=pen.hair, round_ends=True)
    half = pen.hair * (1.7 - 1.1 * way.light)
    lines = (swelling(lock, half, 0.6) for lock in locks)
    yield Path(tuple(chain.from_iterable(lines)), fill=tones.BLACK)


def _down(quill: Cubic, wash: str) -> Path:
    """Return the soft body beneath the locks: a leaf, so that no gap in a plume is paper."""
    long = math.hypot(quill[3][0] - quill[0][0], quill[3][1] - quill[0][1])
    leaf = ribbon([part(quill, 0.0, 0.88)], [(1.0, long * 0.07, long * 0.055, 0.0)])
    return Path(leaf, fill=wash)


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
