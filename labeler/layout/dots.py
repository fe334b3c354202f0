"""Lines for a printer that has dots and no greys: whole dots wide, and on the dots.

A line of one and a half dots prints one dot wide here and two there, and a thinner one breaks.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

from labeler.geometry import grown
from labeler.marks import Group, Mark, Picture, Step, VectorPath
from labeler.units import POINTS_PER_INCH

COARSE = 300
"""Dots to the inch up to which a dot is seen. Printers of rolls have 203 or 300 (common practice,
no published source)."""


def on_whole_dots(marks: Iterable[Mark], dpi: int) -> Iterator[Mark]:
    """Yield marks with their strokes whole dots wide, and upright and level ones on the dots.

    Pictures lie on the dots too: one that is of dots itself is printed dot for dot.

    Args:
        marks: of a side, whose corner lies on a dot.
        dpi: dots to the inch.
    """
    dot = POINTS_PER_INCH / dpi
    for mark in marks:
        if isinstance(mark, VectorPath):
            yield _on_dots(_whole(mark, dot), dot)
        elif isinstance(mark, Group):
            yield _group(mark, dot)
        elif isinstance(mark, Picture):
            yield _picture(mark, dot)
        else:
            yield mark


def _group(group: Group, dot: float) -> Group:
    """Return a group whose strokes are whole dots wide where it stands."""
    a, b, c, d, _, _ = group.matrix
    scale = math.sqrt(abs(a * d - b * c))
    if not scale:
        return group
    own = dot / scale
    marks = tuple(
        _whole(each, own) if isinstance(each, VectorPath) else each for each in group.marks
    )
    key = f"{group.key}-{own:.5f}" if group.key else ""
    return replace(group, marks=marks, box=grown(group.box, own / 2), key=key)


def _picture(picture: Picture, dot: float) -> Picture:
    x, y = round(picture.x / dot) * dot, round(picture.y / dot) * dot
    width, height = _dots(picture.width, dot) * dot, _dots(picture.height, dot) * dot
    return replace(picture, x=x, y=y, width=width, height=height)


def _whole(path: VectorPath, dot: float) -> VectorPath:
    return replace(path, width=_dots(path.width, dot) * dot) if path.stroke else path


def _dots(width: float, dot: float) -> int:
    return max(1, round(width / dot))


def _on_dots(path: VectorPath, dot: float) -> VectorPath:
    """Return a path of level and upright lines with its edges between dots; others as they are."""
    if any(step[0] == "C" for step in path.steps) or not _square(path.steps):
        return path
    # The middle of a stroke of an odd number of dots lies in the middle of a dot.
    off = dot / 2 if path.stroke and _dots(path.width, dot) % 2 else 0.0

    def to_dot(at: float) -> float:
        return round((at - off) / dot) * dot + off

    steps: list[Step] = []
    for step in path.steps:
        if step[0] in "ML":
            steps.append((step[0], to_dot(step[1]), to_dot(step[2])))  # type: ignore[arg-type, misc]
        else:
            steps.append(step)
    return replace(path, steps=tuple(steps))


def _square(steps: Iterable[Step]) -> bool:
    """Tell whether all lines are level or upright."""
    here: tuple[float, float] | None = None
    for step in steps:
        if step[0] == "C" or step[0] == "Z":
            continue
        spot = step[1], step[2]
        if step[0] == "L" and here is not None and here[0] != spot[0] and here[1] != spot[1]:
            return False
        here = spot
    return True
