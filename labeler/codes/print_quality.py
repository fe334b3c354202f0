"""A finished symbol, and what it must be on paper: large enough, in whole dots, in contrast.

A symbol is dark rectangles on a grid of modules; how large a module becomes, in which ink and
where, is for whoever places it. A printer lays down whole dots. A module of 3.4 dots comes out now
3, now 4 dots wide, and a scanner measures widths. Retail scanners look with red light, so that red
ink is as good as white to them and blue as good as black: seen that way, an ink reflects its red
channel. This judges the artwork, never the ink on the paper: only an instrument can grade a print.
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, NamedTuple

from labeler.units import MM_PER_INCH, POINTS_PER_INCH

SizeName = Literal["upc-a", "ean-13", "ean-8", "qr-till", "qr-phone"]


@dataclass(frozen=True, slots=True)
class Size:
    """The range of a code's module in millimetres, and its quiet zones in modules.

    ``height`` is that of the bars in millimetres at the nominal module; a QR code has none of
    its own.
    """

    least: float
    nominal: float
    most: float
    quiet: tuple[int, int]
    source: str
    height: float | None = None

    @property
    def tall(self) -> float:
        """The height of the bars in modules, the same at every magnification.

        Raises:
            ValueError: if the code has no bars.
        """
        if self.height is None:
            raise ValueError("only bars have a height of their own")
        return self.height / self.nominal


@cache
def size_of(name: SizeName) -> Size:
    """Return the size of a code, from ``print_sizes.toml`` beside this file."""
    table = tomllib.loads(files(__package__).joinpath("print_sizes.toml").read_text("utf-8"))
    row = table[name]
    return Size(**row | {"quiet": tuple(row["quiet"])})


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


Verdict = Literal["clear", "weak", "unseen"]

_CLEAR = 0.70
"""Symbol contrast of grade A. Source: ISO/IEC 15416, graded parameters, from memory."""

LEAST_CONTRAST = 0.40
"""Symbol contrast of grade C, the least that shops accept.

Source: ISO/IEC 15416, graded parameters, from memory; axicon.es/fractional-grading.html for the
grade that shops accept, 1.5 or C.
"""

_DARKEST_SHARE = 0.5
"""The darkest bar reflects at most half as much as the lightest space.

Source: ISO/IEC 15416, minimum reflectance, from memory.
"""


def scanner_contrast(bar_ink: str, space_ink: str) -> float:
    """Return how much more of the red light the spaces reflect than the bars, from -1 to 1.

    Source: GS1 General Specifications, release 18, page 321: grades are taken at 660 nm. Taking
    sRGB's red channel for the reflectance there is our own reading.

    Args:
        bar_ink: the colour of the dark modules, ``#rrggbb``.
        space_ink: the colour of what they stand on.

    Raises:
        ValueError: if an ink is not written ``#rrggbb``.
    """
    return red_reflectance(space_ink) - red_reflectance(bar_ink)


def scanner_verdict(bar_ink: str, space_ink: str) -> Verdict:
    """Tell whether a scanner sees the bars clearly, weakly, or not at all.

    Raises:
        ValueError: if an ink is not written ``#rrggbb``.
    """
    contrast = scanner_contrast(bar_ink, space_ink)
    too_light = red_reflectance(bar_ink) > _DARKEST_SHARE * red_reflectance(space_ink)
    if contrast < LEAST_CONTRAST or too_light:
        return "unseen"
    return "clear" if contrast >= _CLEAR else "weak"


def red_reflectance(ink: str) -> float:
    """Return the share of red light that an ink reflects, 0 to 1.

    Source: IEC 61966-2-1 (sRGB), the inverse of its transfer function.

    Raises:
        ValueError: if the ink is not written ``#rrggbb``.
    """
    found = re.fullmatch(r"#([0-9a-fA-F]{2})[0-9a-fA-F]{4}", ink)
    if not found:
        raise ValueError(f"an ink is written #rrggbb, such as #1b1b1d, not {ink!r}")
    level = int(found[1], 16) / 255
    return level / 12.92 if level <= 0.04045 else float(((level + 0.055) / 1.055) ** 2.4)


Kind = Literal["qr", "upc-a", "ean-13", "ean-8"]

Bar = tuple[float, float, float, float]
"""Left, top, width and height of a dark rectangle, in modules."""


@dataclass(frozen=True, slots=True)
class Digits:
    """Digits to read by eye, and the box under the bars in which they stand, in modules.

    Every digit is centred in its equal share of ``width``; none is taller than ``height``.
    """

    text: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Symbol:
    """What a scanner reads, measured in modules from the top left corner of its quiet zone.

    ``columns`` and ``rows`` count the quiet zone and, under bars, the line of digits. ``bars``
    touch but never overlap: filled as one path they leave no seam.
    """

    kind: Kind
    payload: str
    columns: int
    rows: float
    bars: tuple[Bar, ...]
    digits: tuple[Digits, ...] = ()
