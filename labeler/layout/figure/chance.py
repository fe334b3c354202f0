"""Chance that repeats itself: the small differences of things made by hand, from a fixed seed."""

from __future__ import annotations

import math
from random import Random


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
        """Return a slow coming and going around nought, at most ``spread`` off."""
        return Swell(spread, self._next() * math.tau, self._next() * math.tau)


class Swell:
    """Two slow waves over the circle: neighbours go together, as strands in a lock do."""

    def __init__(self, spread: float, first: float, second: float) -> None:
        self._spread, self._first, self._second = spread, first, second

    def at(self, angle: float) -> float:
        """Return the swell at an angle in radians."""
        slow, quick = math.sin(3 * angle + self._first), math.sin(7 * angle + self._second)
        return self._spread * (0.6 * slow + 0.4 * quick)
