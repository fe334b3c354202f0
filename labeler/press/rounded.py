"""A box with round corners, as a path."""

from __future__ import annotations

from labeler.layout.marks import Box, Path, Step

_BOW = 0.5522847498
"""How far a cubic's handles reach for a quarter of a circle: 4/3 (√2 - 1)."""


def rounded_box(box: Box, radius: float, stroke: str, width: float) -> Path:
    """Return the outline of ``box`` with corners of ``radius``, stroked."""
    left, top, right, bottom = box
    r = min(radius, (right - left) / 2, (bottom - top) / 2)
    if r <= 0:
        square: tuple[Step, ...] = (
            ("M", left, top), ("L", right, top), ("L", right, bottom), ("L", left, bottom), ("Z",),
        )  # fmt: skip
        return Path(square, stroke=stroke, width=width)
    k = r * (1 - _BOW)
    steps: tuple[Step, ...] = (
        ("M", left + r, top),
        ("L", right - r, top),
        ("C", right - k, top, right, top + k, right, top + r),
        ("L", right, bottom - r),
        ("C", right, bottom - k, right - k, bottom, right - r, bottom),
        ("L", left + r, bottom),
        ("C", left + k, bottom, left, bottom - k, left, bottom - r),
        ("L", left, top + r),
        ("C", left, top + k, left + k, top, left + r, top),
        ("Z",),
    )
    return Path(steps, stroke=stroke, width=width)
