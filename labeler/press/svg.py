"""Drawings as SVG, for a screen: shapes only, no letters, no outside resource, no script.

Source: SVG 1.1 (Second Edition), W3C Recommendation, 16 August 2011.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from labeler.geometry import Box
from labeler.marks import Group, Mark, VectorPath


def svg(marks: Iterable[Mark], box: Box, says: str = "") -> str:
    """Return an ``svg`` element that shows ``box`` of the marks.

    Args:
        marks: what to draw, in points: paths and groups of them.
        box: left, top, right, bottom of what is seen.
        says: the alternative text; without it the picture is decoration.

    Raises:
        TypeError: if a mark is neither.
    """
    left, top, right, bottom = box
    view = " ".join(map(_number, (left, top, right - left, bottom - top)))
    role = 'role="img"' if says else 'aria-hidden="true"'
    title = f"<title>{escape(says, quote=False)}</title>" if says else ""
    body = "".join(map(_mark, marks))
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" {role}>{title}{body}</svg>'


def _mark(mark: Mark) -> str:
    if isinstance(mark, VectorPath):
        return _path(mark)
    if isinstance(mark, Group):
        matrix = " ".join(f"{value:.6g}" for value in mark.matrix)
        return f'<g transform="matrix({matrix})">{"".join(map(_mark, mark.marks))}</g>'
    raise TypeError(f"a drawing is of paths and groups, and holds no {type(mark).__name__}")


def _path(path: VectorPath) -> str:
    look = f' fill="{path.fill or "none"}"'
    if path.even_odd:
        look += ' fill-rule="evenodd"'
    if path.stroke:
        look += f' stroke="{path.stroke}" stroke-width="{_number(path.width)}"'
        if path.round_ends:
            look += ' stroke-linecap="round" stroke-linejoin="round"'
        if path.dash:
            look += f' stroke-dasharray="{" ".join(map(_number, path.dash))}"'
    return f'<path d="{outline(path)}"{look}/>'


def outline(path: VectorPath) -> str:
    """Return a path's data (SVG 1.1, 8.3), to a hundredth of a point."""
    return "".join(step[0] + " ".join(map(_number, step[1:])) for step in path.steps)


def _number(value: float) -> str:
    """Return a number with two decimals at the most."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
