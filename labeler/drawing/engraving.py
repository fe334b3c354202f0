"""How an engraver works: pens, tones of ink, inks told apart by line alone, and a steady hand.

Where only black may be used, an ink becomes a treatment of the engraver's ladder, from solid black
to bare outline. The small differences of things made by hand come from a fixed seed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from random import Random
from typing import Literal

from labeler.marks import InkMode

Detail = Literal["fine", "plain"]


@dataclass(frozen=True, slots=True)
class Pen:
    """Line widths in points.

    A fine drawing is made for a card, at 0.35 to 1.2 of the size that it is drawn at: its hairline
    is still 0.15 pt at 0.35. A plain drawing is made for a label an inch high, at about a fifth.
    """

    ink: InkMode
    detail: Detail
    scale: float = 1.0
    """A small jig is shown as wide on paper as a large one, and so is drawn with a finer pen."""

    @property
    def black(self) -> bool:
        """Whether only black may be used, on white."""
        return self.ink != "colour"

    @property
    def fine(self) -> bool:
        """Whether the drawing is for a card, with every stroke of the graver."""
        return self.detail == "fine"

    @property
    def hair(self) -> float:
        """The thinnest line."""
        return round((0.43 if self.fine else 0.95) * self.scale, 3)

    @property
    def contour(self) -> float:
        """The line around a solid thing."""
        return round((0.75 if self.fine else 1.5) * self.scale, 3)


BLACK = "#000000"
WHITE = "#ffffff"

SEPIA = "#1f1812"
"""The engraver's ink that shades lean to: a warm black, as old plates were printed in."""


@lru_cache(maxsize=4096)
def mix(ink: str, other: str, share: float) -> str:
    """Return ``ink`` with ``share`` of ``other`` mixed in, channel by channel."""
    pairs = ((int(ink[i : i + 2], 16), int(other[i : i + 2], 16)) for i in (1, 3, 5))
    return "#" + "".join(f"{round(a + (b - a) * share):02x}" for a, b in pairs)


def shade(ink: str, share: float) -> str:
    """Return a darker tone of an ink, leaning to sepia."""
    return mix(ink, SEPIA, share)


def tint(ink: str, share: float) -> str:
    """Return a lighter tone of an ink, leaning to white paper."""
    return mix(ink, WHITE, share)


@lru_cache(maxsize=4096)
def lightness(ink: str) -> float:
    """Return how light an ink looks, 0 black to 1 white.

    CIE 1976 lightness L* over 100, from the relative luminance of sRGB.
    Source: IEC 61966-2-1 (sRGB); CIE 15:2004, 8.2.1 (L*).
    """
    red, green, blue = (_linear(int(ink[i : i + 2], 16) / 255) for i in (1, 3, 5))
    luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    if luminance <= (6 / 29) ** 3:
        return luminance * (29 / 3) ** 3 / 100
    return float(1.16 * luminance ** (1 / 3) - 0.16)


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4


DARK = 0.2
"""An ink darker than this is about as dark as sepia: only black is darker."""


def edge(ink: str, strength: float = 1.0) -> str:
    """Return the ink of the line around a strand: darker than the strand, and dark enough on paper.

    A light strand needs the stronger line, since white paper is all that parts it from its
    neighbour. Never is it lighter: on a small figure lines are much of what one sees, and black
    would turn to grey. A lower ``strength`` draws them nearer to the ink.
    """
    light = lightness(ink)
    if light < DARK:
        return mix(ink, BLACK, 0.7 * strength)
    return shade(ink, (0.42 + 0.16 * light) * strength)


@dataclass(frozen=True, slots=True)
class Treatment:
    """One way of drawing a strand: black parted by white, or white outlined in black."""

    solid: bool
    """Filled black and parted by white; else white and outlined in black."""
    strips: tuple[tuple[float, float], ...] = ()
    """Up to three lines along it in the other ink, each between two edges from -1 (the under side)
    to 1. An engraver follows the strand: rungs across it would make a ladder of it."""

    @property
    def inks(self) -> tuple[str, str]:
        """The ink that it is filled with, and the other."""
        return (BLACK, WHITE) if self.solid else (WHITE, BLACK)

    @property
    def light(self) -> float:
        """How high on the ladder it stands, 0 solid black to 1 bare outline."""
        return LADDER.index(self) / (len(LADDER) - 1)


LADDER: tuple[Treatment, ...] = (
    Treatment(solid=True),
    Treatment(solid=True, strips=((0.1, 0.52),)),
    Treatment(solid=True, strips=((-0.56, -0.2), (0.2, 0.56))),
    Treatment(solid=False, strips=((-1.0, 0.15),)),
    Treatment(solid=False, strips=((-0.68, -0.46), (-0.1, 0.1), (0.46, 0.68))),
    Treatment(solid=False, strips=((-0.42, -0.24), (0.24, 0.42))),
    Treatment(solid=False, strips=((-0.11, 0.11),)),
    Treatment(solid=False),
)
"""From the darkest to the lightest."""

PLAIN_LADDER = tuple(LADDER[rung] for rung in (0, 1, 3, 6, 7))
"""The same where a strand is a millimetre or less on paper, and finer lines run together."""

Treatments = dict[str, Treatment]
"""The treatment of each ink; empty where colours are used."""


def treatments(inks: Iterable[str], ladder: Sequence[Treatment] = LADDER) -> Treatments:
    """Return a treatment for each ink, dark to light, no two alike while the ladder has rungs.

    An ink takes the rung of its own lightness. Two inks that differ to the eye stand three rungs
    apart where the ladder has room, others one: the lighter steps up, or, at the ladder's end, the
    darker steps down.
    """
    order = sorted(set(inks), key=lambda ink: (lightness(ink), ink))
    last = len(ladder) - 1
    if len(order) > len(ladder):
        return {ink: ladder[n * last // (len(order) - 1)] for n, ink in enumerate(order)}
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
    return {ink: ladder[rung] for ink, rung in zip(order, rungs, strict=True)}


_APART = 3
"""Rungs between inks that differ to the eye."""

_ALIKE = 0.05
"""Inks no further apart than this in lightness look alike in tone."""


def _height(light: float) -> float:
    """Return the height on the ladder, 0 to 1: up to a quarter all is black, above 0.9 white."""
    return min(1.0, max(0.0, (light - 0.25) / 0.65))


class Chance:
    """A row of numbers that looks like chance and is the same for the same seed.

    Only ``Random.random`` is used, whose sequence Python promises to keep for a seed
    (the Python Library Reference, random, "Notes on Reproducibility").
    """

    def __init__(self, seed: str) -> None:
        self._next = Random(seed).random

    def within(self, low: float, high: float) -> float:
        """Return a number from ``low`` to ``high``, each as likely."""
        return low + (high - low) * self._next()

    def about(self, middle: float, spread: float) -> float:
        """Return a number near ``middle``, at most ``spread`` off, the middle likelier."""
        return middle + spread * (self._next() + self._next() - 1)

    def swell(self, spread: float) -> Swell:
        """Return a slow coming and going around 0, at most ``spread`` off."""
        return Swell(spread, self._next() * math.tau, self._next() * math.tau)


class Swell:
    """Two slow waves over the circle: neighbours go together, as strands in a lock do."""

    def __init__(self, spread: float, first: float, second: float) -> None:
        self._spread, self._first, self._second = spread, first, second

    def at(self, angle: float) -> float:
        """Return the swell at an angle in radians."""
        slow, quick = math.sin(3 * angle + self._first), math.sin(7 * angle + self._second)
        return self._spread * (0.6 * slow + 0.4 * quick)
