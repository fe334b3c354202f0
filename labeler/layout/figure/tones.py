"""Ink arithmetic: how light an ink is, and its shades and tints on a plate."""

from __future__ import annotations

from functools import lru_cache

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


_LIGHTER = 0.2
"""How much white a dark strand's line takes. More, and on a small figure lines are all one sees:
black turns to grey."""

DARK = 0.2
"""An ink darker than this takes no shade that the eye could see; lines on it must be lighter."""


def edge(ink: str, strength: float = 1.0) -> str:
    """Return the ink of the line around a strand: darker than the strand, and dark enough on paper.

    A light strand needs the stronger line, since white paper is all that parts it from its
    neighbour; a black one can only be parted by a lighter line. Where lines stand so close that
    they would be all one sees, as in hair, a lower ``strength`` draws them nearer to the ink.
    """
    light = lightness(ink)
    if light < DARK:
        return tint(ink, _LIGHTER * strength)
    return shade(ink, (0.42 + 0.16 * light) * strength)
