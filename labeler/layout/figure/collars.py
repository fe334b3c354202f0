"""The collar: a neck of metal behind the head, and the thread that is wrapped over the skirt."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from labeler.layout.figure import tones
from labeler.layout.figure.curves import curve, line, move, swelling
from labeler.layout.figure.pens import Pen
from labeler.layout.marks import Path, Step


@dataclass(frozen=True, slots=True)
class Collar:
    """A barrel of thread, from the head's rear to where the skirt springs free; in points."""

    length: float
    half: float
    """Half its height."""


def draw_collar(collar: Collar, ink: str, pen: Pen) -> Iterator[Path]:
    """Yield the barrel, its shadow, and the turns of thread around it."""
    dark = tones.lightness(ink) < 0.4
    base = ink
    turn = tones.tint(ink, 0.42) if dark else tones.shade(ink, 0.45)
    rim = tones.shade(ink, 0.75)
    if pen.black:
        base = tones.BLACK if dark else tones.WHITE
        turn = tones.WHITE if dark else tones.BLACK
        rim = tones.BLACK
    yield Path(_barrel(collar), fill=base)
    if not pen.black:
        yield Path(_under_side(collar), fill=tones.shade(ink, 0.35))
    yield Path(_turns(collar, 7 if pen.fine else 3, pen), fill=turn)
    yield Path(_barrel(collar), stroke=rim, width=pen.hair * 1.2, round_ends=True)


def _barrel(collar: Collar) -> tuple[Step, ...]:
    x, h = collar.length, collar.half
    return (
        move((-1.5, -h * 0.92)),
        curve((x * 0.3, -h * 1.1), (x * 0.7, -h * 1.1), (x, -h * 0.92)),
        curve((x + h * 0.3, -h * 0.5), (x + h * 0.3, h * 0.5), (x, h * 0.92)),
        curve((x * 0.7, h * 1.1), (x * 0.3, h * 1.1), (-1.5, h * 0.92)),
        curve((h * 0.3 - 1.5, h * 0.5), (h * 0.3 - 1.5, -h * 0.5), (-1.5, -h * 0.92)),
        ("Z",),
    )


def _under_side(collar: Collar) -> tuple[Step, ...]:
    x, h = collar.length, collar.half
    return (
        move((0, h * 0.35)),
        curve((x * 0.3, h * 0.5), (x * 0.7, h * 0.5), (x + h * 0.17, h * 0.35)),
        line((x, h * 0.92)),
        curve((x * 0.7, h * 1.1), (x * 0.3, h * 1.1), (-1.0, h * 0.92)),
        ("Z",),
    )


def _turns(collar: Collar, turns: int, pen: Pen) -> tuple[Step, ...]:
    """Return one swelling stroke for each turn of thread, slanting a little as wraps do."""
    steps: list[Step] = []
    h = collar.half
    for number in range(turns):
        x = collar.length * (number + 0.5) / turns - 0.4
        bulge = h * 0.34
        steps += swelling(
            ((x - 0.3, -h), (x + bulge, -h * 0.5), (x + bulge + 0.3, h * 0.5), (x + 0.3, h)),
            pen.hair * 0.75,
            0.55,
        )
    return tuple(steps)
