"""Whether a scanner sees bars of one ink on a ground of another.

Retail scanners look with red light, so that red ink is as good as white to them and blue as
good as black. Seen that way, an ink reflects its red channel. This judges the artwork, never
the ink on the paper: only an instrument can grade a print.
"""

from __future__ import annotations

import re
from typing import Literal

Verdict = Literal["clear", "weak", "unseen"]

CLEAR = 0.70
"""Symbol contrast of grade A. Source: ISO/IEC 15416, graded parameters, from memory."""

LEAST = 0.40
"""Symbol contrast of grade C, the least that shops accept.

Source: ISO/IEC 15416, graded parameters, from memory; axicon.es/fractional-grading.html for the
grade that shops accept, 1.5 or C.
"""

DARKEST_SHARE = 0.5
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
    too_light = red_reflectance(bar_ink) > DARKEST_SHARE * red_reflectance(space_ink)
    if contrast < LEAST or too_light:
        return "unseen"
    return "clear" if contrast >= CLEAR else "weak"


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
