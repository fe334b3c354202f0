"""The warning triangle that stands before a signal word. No face has it, so it is drawn."""

from __future__ import annotations

from collections.abc import Iterator

from labeler.layout.marks import Mark, Path

SIGN_HEIGHT = 1.25
"""The triangle's height to the signal word's capitals; the law asks for no less than 1."""

_SIGN_INK = "#f9a800"
"""Signal yellow, RAL 1003 in sRGB. Source: ISO 3864-1 as restated in encyclopaedias."""


def warning_sign(left: float, baseline: float, high: float, black: bool) -> Iterator[Mark]:
    """Draw the warning triangle: black edge and mark, yellow field (white in black mode).

    Source: 27 CCR 25603(a)(1) as restated: a black exclamation point in a yellow equilateral
    triangle with a bold black outline; black and white where the label has no yellow.
    """
    wide = high * 1.1547
    edge = high * 0.11
    apex, foot = (left + wide / 2, baseline - high + edge), baseline - edge / 2
    yield Path(
        (("M", *apex), ("L", left + wide - edge, foot), ("L", left + edge, foot), ("Z",)),
        fill="#ffffff" if black else _SIGN_INK,
        stroke="#000000",
        width=edge,
        round_ends=True,
    )
    middle, top = left + wide / 2, baseline - high * 0.66
    half, waist = high * 0.062, high * 0.035
    yield Path(
        (
            ("M", middle - half, top), ("L", middle + half, top),
            ("L", middle + waist, baseline - high * 0.30),
            ("L", middle - waist, baseline - high * 0.30), ("Z",),
        ),
        fill="#000000",
    )  # fmt: skip
    dot_top, dot_foot = baseline - high * 0.23, baseline - high * 0.12
    yield Path(
        (
            ("M", middle - half, dot_top), ("L", middle + half, dot_top),
            ("L", middle + half, dot_foot), ("L", middle - half, dot_foot), ("Z",),
        ),
        fill="#000000",
    )  # fmt: skip
