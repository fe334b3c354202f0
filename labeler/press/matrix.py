"""Matrices one after another, and undone. A matrix moves (x, y) as ``marks.apply`` has it."""

from __future__ import annotations

from labeler.layout.marks import Matrix


def after(second: Matrix, first: Matrix) -> Matrix:
    """Return the matrix that does ``first`` and then ``second``."""
    a, b, c, d, e, f = second
    g, h, i, j, k, m = first
    return (
        a * g + c * h, b * g + d * h,
        a * i + c * j, b * i + d * j,
        a * k + c * m + e, b * k + d * m + f,
    )  # fmt: skip


def undone(matrix: Matrix) -> Matrix:
    """Return the matrix that takes back what ``matrix`` does; it must not flatten the page."""
    a, b, c, d, e, f = matrix
    area = a * d - b * c
    return (
        d / area, -b / area, -c / area, a / area,
        (c * f - d * e) / area, (b * e - a * f) / area,
    )  # fmt: skip
