"""Ink in a PDF: colours, paths and the bars of codes as content operators.

Numbers are written with three decimals, a third of a thousandth of a millimetre.
Operators: ISO 32000-1:2008, tables 59, 60, 57 and 74.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from labeler.geometry import Matrix
from labeler.marks import Code, VectorPath

_STEPS = {
    "M": "%.3f %.3f m",
    "L": "%.3f %.3f l",
    "C": "%.3f %.3f %.3f %.3f %.3f %.3f c",
    "Z": "h",
}
_MATRIX = "%.7f %.7f %.7f %.7f %.5f %.5f cm"
_BARS_KEPT = 200_000


@lru_cache(maxsize=4096)
def ink(colour: str) -> tuple[str, str]:
    """Return the operators that fill and stroke with ``#rrggbb``.

    Black and greys are grey in the file too, so that a printer uses its black alone.
    """
    red, green, blue = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    if red == green == blue:
        return f"{red:.4g} g", f"{red:.4g} G"
    numbers = f"{red:.4g} {green:.4g} {blue:.4g}"
    return f"{numbers} rg", f"{numbers} RG"


def outline(path: VectorPath) -> str:
    """Return the operators that build the path, without painting it."""
    kinds, numbers = "", list[float]()
    for step in path.steps:
        kinds += step[0]
        numbers += step[1:]
    return _form_of(kinds) % tuple(numbers)


@lru_cache(maxsize=4096)
def _form_of(kinds: str) -> str:
    """Return the operators of such steps with their numbers left open; many paths are alike."""
    return "\n".join(map(_STEPS.__getitem__, kinds))


@lru_cache(maxsize=4096)
def stroke_style(colour: str, width: float, dash: tuple[float, ...], round_ends: bool) -> str:
    """Return the operators for a stroke's ink, width, dashes and ends."""
    lengths = [f"{length:.3f}" for length in dash]
    if not any(map(float, lengths)):  # a dash of nothing hangs viewers, and would be solid
        lengths = []
    ends = "1 J 1 j" if round_ends else "0 J 0 j"
    return f"{ink(colour)[1]} {width:.3f} w {ends} [{' '.join(lengths)}] 0 d"


def painting(path: VectorPath) -> str:
    """Return the operator that paints the path."""
    star = "*" if path.even_odd else ""
    if path.fill:
        return ("B" if path.stroke else "f") + star
    return "S" if path.stroke else "n"


def moved(matrix: Matrix) -> str:
    """Return the operator that moves what follows by ``matrix``."""
    return _MATRIX % matrix


def code(mark: Code) -> str:
    """Return a code as one filled path.

    One path and not one a bar: two paths that share an edge show a grey seam between them
    wherever the edge falls inside a pixel. Counting in modules keeps the numbers whole.
    """
    return (
        f"{mark.module:.7f} 0 0 {mark.module:.7f} {mark.left:.5f} {mark.top:.5f} cm\n"
        f"{bars(mark.bars)}f"
    )


def bars(rectangles: Iterable[tuple[float, float, float, float]]) -> str:
    """Return the operators for rectangles."""
    return "".join(map(_BARS.__getitem__, rectangles))


class _Bars(dict[tuple[float, float, float, float], str]):
    """Bars as operators. Codes share most of theirs, so each is written out once."""

    def __missing__(self, bar: tuple[float, float, float, float]) -> str:
        if len(self) >= _BARS_KEPT:
            self.clear()
        text = self[bar] = f"{' '.join(map(_number, bar))} re\n"
        return text


def _number(value: float) -> str:
    whole = int(value)
    return str(whole) if whole == value else f"{value:.4f}"


_BARS = _Bars()
