"""How an ink is told by line alone: the engraver's ladder from solid black to bare outline."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from labeler.layout.figure import tones


@dataclass(frozen=True, slots=True)
class Treatment:
    """One way of drawing a strand: black parted by white, or white outlined in black."""

    solid: bool
    """Filled black and parted by white; else white and outlined in black."""
    strip: tuple[float, float] | None = None
    """A strip in the other ink, between two edges from -1 (the under side) to 1."""
    dash: tuple[float, ...] = ()
    """Marks in the other ink along the strand's middle, in points."""
    width: float = 0.0
    """Their width as a share of the strand's; nought leaves them out."""
    dots: bool = False

    @property
    def light(self) -> float:
        """How high on the ladder it stands, 0 solid black to 1 bare outline."""
        return LADDER.index(self) / (len(LADDER) - 1)


LADDER: tuple[Treatment, ...] = (
    Treatment(solid=True),
    Treatment(solid=True, strip=(0.1, 0.52)),
    Treatment(solid=False, strip=(-1.0, 0.15)),
    Treatment(solid=False, width=0.9, dash=(0.5, 1.0)),
    Treatment(solid=False, strip=(-0.72, -0.28)),
    Treatment(solid=False, width=0.16, dash=(4.5, 2.4)),
    Treatment(solid=False, width=0.3, dash=(0.01, 3.2), dots=True),
    Treatment(solid=False),
)
"""From the darkest to the lightest."""

Ways = dict[str, Treatment]
"""The treatment of each ink; empty where colours are used."""


def treatments(inks: Iterable[str]) -> Ways:
    """Return a treatment for each ink, dark to light, no two alike while the ladder has rungs.

    An ink takes the rung of its own lightness. Two inks that differ to the eye stand three rungs
    apart where the ladder has room, others one: the lighter steps up, or, at the ladder's end, the
    darker steps down.
    """
    order = sorted(set(inks), key=lambda ink: (tones.lightness(ink), ink))
    last = len(LADDER) - 1
    if len(order) > len(LADDER):
        return {ink: LADDER[n * last // (len(order) - 1)] for n, ink in enumerate(order)}
    lights = [tones.lightness(ink) for ink in order]
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
