"""Marks as SVG, for a screen: shapes only, no outside resource, no script.

Letters are drawn as their outlines, so that the page looks the same whatever fonts there are.
Source: SVG 1.1 (Second Edition), W3C Recommendation, 16 August 2011.
"""

from __future__ import annotations

import base64
from collections.abc import Iterable
from functools import lru_cache, partialmethod
from html import escape
from pathlib import Path as File
from typing import Any

from labeler.geometry import Box
from labeler.marks import Code, Glyphs, Group, Mark, Picture, VectorPath
from labeler.type.faces import typeface


def svg(marks: Iterable[Mark], box: Box, says: str = "", own: File | None = None) -> str:
    """Return an ``svg`` element that shows ``box`` of the marks.

    Args:
        marks: what to draw, in points.
        box: left, top, right, bottom of what is seen.
        says: the alternative text; without it the picture is decoration.
        own: the catalog folder, whose own fonts go before ours.
    """
    left, top, right, bottom = box
    view = " ".join(map(_number, (left, top, right - left, bottom - top)))
    role = 'role="img"' if says else 'aria-hidden="true"'
    title = f"<title>{escape(says, quote=False)}</title>" if says else ""
    body = "".join(_mark(mark, own) for mark in marks)
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" {role}>{title}{body}</svg>'


def _mark(mark: Mark, own: File | None) -> str:
    match mark:
        case VectorPath():
            return _path(mark)
        case Group():
            matrix = " ".join(f"{value:.6g}" for value in mark.matrix)
            inner = "".join(_mark(one, own) for one in mark.marks)
            return f'<g transform="matrix({matrix})">{inner}</g>'
        case Glyphs():
            return _glyphs(mark, own)
        case Code():
            return _code(mark)
        case Picture():
            return _picture(mark)


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


def _code(code: Code) -> str:
    bars = "".join(
        f"M{_number(x)} {_number(y)}h{_number(wide)}v{_number(tall)}h{_number(-wide)}z"
        for x, y, wide, tall in code.bars
    )
    place = f"translate({_number(code.left)} {_number(code.top)}) scale({code.module:.6g})"
    return f'<path transform="{place}" d="{bars}" fill="{code.ink}"/>'


def _picture(picture: Picture) -> str:
    kind = "jpeg" if picture.image.data.startswith(b"\xff\xd8") else "png"
    data = base64.b64encode(picture.image.data).decode("ascii")
    x, y, width, height = map(_number, (picture.x, picture.y, picture.width, picture.height))
    box = f'x="{x}" y="{y}" width="{width}" height="{height}"'
    return f'<image {box} preserveAspectRatio="none" href="data:image/{kind};base64,{data}"/>'


def _glyphs(run: Glyphs, own: File | None) -> str:
    face = typeface(run.face, own)
    scale = run.size / 1000
    x = run.x
    shapes = []
    for place, letter in enumerate(run.text):
        data = _outline_of(str(face.path), face.glyph_of(letter))
        if data:
            where = f"matrix({scale:.6g} 0 0 {-scale:.6g} {_number(x)} {_number(run.y)})"
            shapes.append(f'<path transform="{where}" d="{data}"/>')
        shift = run.shifts[place] if run.shifts else 0.0
        x += (face.advance_of(letter) + shift) * scale
    words = escape(run.says or run.text, quote=False).replace('"', "&quot;")
    return f'<g fill="{run.ink}" role="img" aria-label="{words}">{"".join(shapes)}</g>'


@lru_cache(maxsize=4096)
def _outline_of(file: str, glyph: int) -> str:
    """Return the outline of a glyph in thousandths of an em, y up."""
    font, per_unit = _font(file)
    pen = _PathDataPen(per_unit)
    if glyph:
        font.draw_glyph_with_pen(glyph, pen)
    return "".join(pen.parts)


@lru_cache(maxsize=32)
def _font(file: str) -> tuple[Any, float]:
    import uharfbuzz as hb  # only outlines of letters need it

    face = hb.Face(hb.Blob.from_file_path(file))
    return hb.Font(face), 1000 / face.upem


class _PathDataPen:
    """Takes a glyph's outline down as path data; named as font programs name such pens."""

    def __init__(self, per_unit: float) -> None:
        self.per_unit = per_unit
        self.parts: list[str] = []

    def _add(self, letter: str, *points: tuple[float, float]) -> None:
        numbers = (_number(value * self.per_unit) for point in points for value in point)
        self.parts.append(letter + " ".join(numbers))

    moveTo = partialmethod(_add, "M")  # noqa: N815
    lineTo = partialmethod(_add, "L")  # noqa: N815
    qCurveTo = partialmethod(_add, "Q")  # noqa: N815
    curveTo = partialmethod(_add, "C")  # noqa: N815
    closePath = partialmethod(_add, "Z")  # noqa: N815

    def endPath(self) -> None:  # noqa: N802
        """End an open contour; fonts have none."""


def _number(value: float) -> str:
    """Return a number with two decimals at the most."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
