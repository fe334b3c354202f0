"""The outlines of a font file: how far their ink reaches, how much there is, and their shape.

Measured from the curves themselves, through HarfBuzz: a font's tables of widths and heights say
what somebody wrote there.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

import uharfbuzz as hb

from labeler.checker.cmaps import font_codes

Step = tuple[str, tuple[float, ...]]

Drawing = tuple[Step, ...]
"""Every step of an outline with its points, in the font's own units."""


class Ink(NamedTuple):
    """The ink of a glyph, in ems: its extent from the origin, y up, and its area."""

    left: float
    low: float
    right: float
    high: float
    area: float


NO_INK = Ink(0.0, 0.0, 0.0, 0.0, 0.0)


class _Pen:
    """Takes down an outline."""

    def __init__(self) -> None:
        self.steps: list[Step] = []

    def moveTo(self, point: tuple[float, float]) -> None:  # noqa: N802  (HarfBuzz calls it so)
        self.steps.append(("M", point))

    def lineTo(self, point: tuple[float, float]) -> None:  # noqa: N802
        self.steps.append(("L", point))

    def qCurveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        self.steps.append(("Q", tuple(number for point in points for number in point)))

    def curveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        self.steps.append(("C", tuple(number for point in points for number in point)))

    def closePath(self) -> None:  # noqa: N802
        self.steps.append(("Z", ()))


class Outlines:
    """One font file's outlines.

    Raises:
        ValueError: if HarfBuzz finds no outlines in it.
    """

    def __init__(self, data: bytes) -> None:
        try:
            self._face = hb.Face(data)
        except hb.HarfBuzzError as error:
            raise ValueError("this is no font") from error
        if not {"glyf", "CFF ", "CFF2"} & set(self._face.table_tags):
            raise ValueError("this font has no outlines that can be read")
        self._font = hb.Font(self._face)
        self.per_unit = 1.0 / float(self._face.upem)
        self.count = self._face.glyph_count
        self.codes = font_codes(self._table("cmap"))
        self._drawings: dict[int, Drawing] = {}
        self._inks: dict[int, Ink] = {}

    def _table(self, tag: str) -> bytes:
        blob = self._face.reference_table(tag)
        return bytes(blob.data) if blob is not None else b""

    @property
    def postscript_name(self) -> str:
        """The name by which a PDF calls the font."""
        return self._face.get_name(hb.OTNameIdPredefined.POSTSCRIPT_NAME) or ""

    def gid_of(self, letter: str) -> int:
        """Return the glyph of a Unicode letter, 0 if there is none."""
        return self._font.get_nominal_glyph(ord(letter)) or 0

    @property
    def letters(self) -> dict[int, str]:
        """The first letter that each glyph serves."""
        found: dict[int, str] = {}
        for code in sorted(self._face.unicodes):
            found.setdefault(self._font.get_nominal_glyph(code) or 0, chr(code))
        return found

    def advance(self, gid: int) -> float:
        """Return a glyph's advance, in ems."""
        return float(self._font.get_glyph_h_advance(gid) * self.per_unit)

    def drawing(self, gid: int) -> Drawing:
        """Return a glyph's outline; empty where it draws nothing."""
        if not 0 <= gid < self.count:
            return ()
        if gid not in self._drawings:
            pen = _Pen()
            self._font.draw_glyph_with_pen(gid, pen)
            self._drawings[gid] = tuple(pen.steps)
        return self._drawings[gid]

    def ink(self, gid: int) -> Ink:
        """Return how far a glyph's ink reaches, and its area.

        By the curves themselves: a TrueType glyph's own box is around its control points too.
        """
        if gid not in self._inks:
            self._inks[gid] = _ink(self.drawing(gid), self.per_unit)
        return self._inks[gid]


def _ink(drawing: Drawing, unit: float) -> Ink:
    points = list(_reached(drawing))
    if not points:
        return NO_INK
    xs, ys = zip(*points, strict=True)
    area = abs(_area(drawing)) * unit * unit
    return Ink(min(xs) * unit, min(ys) * unit, max(xs) * unit, max(ys) * unit, area)


def _reached(drawing: Drawing) -> Iterator[tuple[float, float]]:
    """Yield the points of an outline between which all of it lies: its ends and its turns."""
    x0 = y0 = 0.0
    for kind, points in drawing:
        if kind == "Z":
            continue
        xs, ys = (x0, *points[::2]), (y0, *points[1::2])
        x0, y0 = points[-2:]
        if kind != "M":
            yield xs[0], ys[0]
            yield x0, y0
        if kind in ("Q", "C"):
            for t in {*_turns(xs), *_turns(ys)}:
                yield _on_curve(xs, t), _on_curve(ys, t)


def _turns(ends: tuple[float, ...]) -> Iterator[float]:
    """Yield where a curve of second or third degree turns in one direction, from 0 to 1.

    A curve whose handles lie between its ends stays between them, wherever it turns.
    """
    low, high = min(ends[0], ends[-1]), max(ends[0], ends[-1])
    if all(low <= handle <= high for handle in ends[1:-1]):
        return
    first = [b - a for a, b in pairwise(ends)]
    second = [b - a for a, b in pairwise(first)]
    if len(first) == 2:
        roots = [-first[0] / second[0]] if second[0] else []
    else:
        a, b, c = second[1] - second[0], 2 * second[0], first[0]
        roots = _roots(a, b, c)
    yield from (t for t in roots if 0 < t < 1)


def _roots(a: float, b: float, c: float) -> list[float]:
    """Return the real roots of a quadratic, or of what is left of it."""
    if abs(a) < 1e-12:
        return [-c / b] if abs(b) > 1e-12 else []
    under = b * b - 4 * a * c
    if under < 0:
        return []
    return [(-b + sign * under**0.5) / (2 * a) for sign in (1, -1)]


def _on_curve(ends: tuple[float, ...], t: float) -> float:
    """Return a point of a Bézier curve, by de Casteljau's construction."""
    row = list(ends)
    while len(row) > 1:
        row = [a + (b - a) * t for a, b in pairwise(row)]
    return row[0]


def _area(drawing: Drawing) -> float:
    """Return the signed area of an outline, in square units.

    A quadratic curve encloses two thirds of the triangle of its points with its chord; a cubic
    one, 3/20 of a sum of cross products (both follow from Green's theorem).
    """
    total = 0.0
    x0 = y0 = first_x = first_y = 0.0
    for kind, points in drawing:
        if kind == "Z":
            total += (x0 * first_y - first_x * y0) / 2
            x0, y0 = first_x, first_y
            continue
        x, y = points[-2:]
        if kind == "M":
            x0, y0, first_x, first_y = x, y, x, y
            continue
        total += (x0 * y - x * y0) / 2
        if kind == "Q":
            cx, cy = points[0] - x0, points[1] - y0
            total += (cx * (y - y0) - (x - x0) * cy) / 3
        elif kind == "C":
            (ax, ay), (bx, by) = (points[0] - x0, points[1] - y0), (points[2] - x0, points[3] - y0)
            ex, ey = x - x0, y - y0
            total += 3 / 20 * ((ax * by - bx * ay) + (ax * ey - ex * ay) + (bx * ey - ex * by))
        x0, y0 = x, y
    return total
