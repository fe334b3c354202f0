"""Modules that are a whole number of printer dots.

A printer lays down whole dots. A module of 3.4 dots comes out now 3, now 4 dots wide, and a
scanner measures widths.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from labeler.units import MM_PER_INCH, POINTS_PER_INCH

_NEARLY = 1e-6
"""How far a count of dots may be off a whole number by mere rounding."""


class Module(NamedTuple):
    """The side of a module: in printer dots, 0 where the printer is unknown, and in points."""

    dots: int
    pt: float

    @property
    def mm(self) -> float:
        """The side in millimetres."""
        return self.pt * MM_PER_INCH / POINTS_PER_INCH


def module_for(dpi: float | None, least_mm: float, most_mm: float) -> Module:
    """Return the smallest module of whole dots that is at least ``least_mm``.

    Args:
        dpi: the printer's resolution in dots an inch; None if it is unknown, and then any
            width is as good as another.
        least_mm: the least side in millimetres.
        most_mm: the largest side in millimetres.

    Raises:
        ValueError: with a sentence, if no whole number of dots lies within the range.
    """
    if dpi is None:
        return _module(0, least_mm)
    dot = MM_PER_INCH / dpi
    dots = math.ceil(least_mm / dot - _NEARLY)
    if dots * dot > most_mm * (1 + _NEARLY):
        raise ValueError(
            f"at {dpi:g} dpi no whole number of dots lies between {least_mm:g} and {most_mm:g} mm:"
            f" {dots - 1} are {(dots - 1) * dot:.3f} mm and {dots} are {dots * dot:.3f} mm"
        )
    return _module(dots, dots * dot)


def largest_module(
    dpi: float | None, least_mm: float, most_mm: float, columns: float, room_mm: float
) -> Module:
    """Return the largest module of whole dots with which ``columns`` fit in ``room_mm``.

    Raises:
        ValueError: with a sentence, if the code does not fit even at the least module.
    """
    least = module_for(dpi, least_mm, most_mm)
    room = min(most_mm, room_mm / columns)
    if room < least.mm * (1 - _NEARLY):
        raise ValueError(
            f"the code needs {least.mm * columns:.2f} mm ({columns:g} modules of"
            f" {least.mm:.3f} mm, quiet zone included) and has {room_mm:.2f} mm"
        )
    if dpi is None:
        return _module(0, room)
    dots = math.floor(room * dpi / MM_PER_INCH + _NEARLY)
    return _module(dots, dots * MM_PER_INCH / dpi)


def _module(dots: int, mm: float) -> Module:
    return Module(dots, mm * POINTS_PER_INCH / MM_PER_INCH)
