"""How light an ink is, and what stands for it where only black is printed."""

from __future__ import annotations

_PAPER = 0.93
"""From this lightness on, an ink is meant as paper white on a dark ground."""
_MIDDLE = 0.5


def lightness(ink: str) -> float:
    """Return how light ``#rrggbb`` is, from nought to just under one, as the eye sees it."""
    red, green, blue = (int(ink[i : i + 2], 16) / 255 for i in (1, 3, 5))
    luminance = 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2
    return float(min(0.999, luminance ** (1 / 2.2)))


def in_black(ink: str) -> str:
    """Return the ink of text and lines: black, or the white of paper."""
    return "#ffffff" if lightness(ink) >= _PAPER else "#000000"


def ground_in_black(fill: str) -> str:
    """Return the fill of a ground: black where it is dark, the white of paper where it is light."""
    return "#ffffff" if lightness(fill) >= _MIDDLE else "#000000"
