"""Colours as a screen shows them: eight bits of red, green and blue.

Device colours are turned as ISO 32000-1:2008, 10.3 says; what needs a profile or a function to
know is left to the rendered page.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from labeler.checker.objects import look
from labeler.checker.seen import Rgb

WHITE: Rgb = (255, 255, 255)
BLACK: Rgb = (0, 0, 0)

_DEVICE = {"DeviceGray": 1, "G": 1, "CalGray": 1, "DeviceRGB": 3, "RGB": 3, "CalRGB": 3,
           "DeviceCMYK": 4, "CMYK": 4}  # fmt: skip


def grey(level: float) -> Rgb:
    """Return a grey of ``level`` from 0, black, to 1."""
    value = _byte(level)
    return value, value, value


def rgb(red: float, green: float, blue: float) -> Rgb:
    """Return a colour of three parts from 0 to 1."""
    return _byte(red), _byte(green), _byte(blue)


def cmyk(cyan: float, magenta: float, yellow: float, black: float) -> Rgb:
    """Return four process inks as a screen shows them (ISO 32000-1:2008, 10.3.5)."""
    return (
        _byte(1 - min(1, cyan + black)),
        _byte(1 - min(1, magenta + black)),
        _byte(1 - min(1, yellow + black)),
    )


def _byte(level: float) -> int:
    return round(min(1.0, max(0.0, level)) * 255)


_BY_COUNT = {1: grey, 3: rgb, 4: cmyk}


def of_parts(parts: Sequence[float], count: int | None) -> Rgb | None:
    """Return the colour of so many parts; None where the space has another number of them."""
    if count is None or len(parts) != count:
        return None
    made: Any = _BY_COUNT[count]
    return made(*parts)  # type: ignore[no-any-return]


def parts_of(space: Any) -> int | None:
    """Return how many parts a device-like colour space has; None for any other space."""
    if isinstance(space, str):
        return _DEVICE.get(space.removeprefix("/"))
    if isinstance(space, Sequence) and space:
        kind = str(look(space, 0)).removeprefix("/")
        if kind == "ICCBased":
            count = look(look(space, 1), "/N")
            return int(count) if count in (1, 3, 4) else None
        return _DEVICE.get(kind)
    return None


def over(ink: Rgb, alpha: float, ground: Rgb) -> Rgb:
    """Return the colour of an ink that lets ``1 - alpha`` of the ground through."""
    return tuple(round(i * alpha + g * (1 - alpha)) for i, g in zip(ink, ground, strict=True))  # type: ignore[return-value]


def luminance(colour: Rgb) -> float:
    """Return the relative luminance of a colour, 0 to 1. Source: WCAG 2.2, relative luminance."""
    red, green, blue = (_linear(part / 255) for part in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(level: float) -> float:
    return level / 12.92 if level <= 0.04045 else float(((level + 0.055) / 1.055) ** 2.4)


def contrast(one: Rgb, other: Rgb) -> float:
    """Return the contrast ratio of two colours, 1 to 21. Source: WCAG 2.2, contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def as_hex(colour: Rgb) -> str:
    """Return a colour as ``#rrggbb``."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def seen_as_grey(colour: Rgb) -> float:
    """Return the grey, 0 to 255, into which PDFium turns a colour.

    Source: PDFium, core/fxge/dib/fx_dib.h, FXRGB2GRAY.
    """
    red, green, blue = colour
    return (blue * 11 + green * 59 + red * 30) / 100
