"""In which ink it is printed: colour where only black was meant, and shades that look alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import accumulate, pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from labeler.checker.page.elements import PaintedPath
from labeler.checker.page.sides import SeenSide
from labeler.checker.rulebook import asks, finding, number
from labeler.checker.subject import CheckedProduct
from labeler.findings import Finding, Grade
from labeler.geometry import Box, contains, grown

_Dots = npt.NDArray[np.uint8]

_FEW_DOTS = 3
"""Fewer dots than this are no picture and no line."""


@asks("ink-colour")
def colour_in_black(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield that something of a side is in colour, though the run is in black.

    Seen on the rendered page: type, lines and pictures alike.
    """
    if subject.ink not in ("black", "grey"):
        return
    dots = side.raster.colours_at(side.claim.box)
    one, two, three = (dots[:, :, each] for each in range(3))  # an axis of three is folded slowly
    most = np.maximum(np.maximum(one, two), three)
    spread = most.astype(np.int16) - np.minimum(np.minimum(one, two), three)
    rows, columns = np.nonzero(spread > number("ink-colour"))
    if len(rows) < _FEW_DOTS:
        return
    left, _, top, _ = side.raster.dots(side.claim.box)
    strongest = np.unravel_index(int(spread.argmax()), spread.shape)
    blue, green, red = (int(part) for part in dots[strongest])
    corner = side.raster.point(left + int(columns.min()), top + int(rows.min()))
    end = side.raster.point(left + int(columns.max()) + 1, top + int(rows.max()) + 1)
    yield finding(
        "ink-colour", side.place((*corner, *end)),
        found=f"#{red:02x}{green:02x}{blue:02x} at its strongest", expected="black or gray",
        **_as_it_was(subject, "photos in color on labels in black"),
    )  # fmt: skip


def _as_it_was(subject: CheckedProduct, what: str) -> dict[str, Any]:
    """Return what is said instead of a piece of the first edition: it is as it hangs there."""
    if not subject.first_edition:
        return {}
    message = f"this was first printed when there were {what}, and is printed as it was"
    return {"grade": Grade.NOTE, "message": message, "hint": ""}


# ----------------------------------------------------------------------------------- the bar


@asks("shades-alike")
def shades(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield the neighbours in a recipe's bar that the eye can't tell from one another."""
    for product in (subject.product, *(part.product for part in subject.product.parts)):
        layers = product.colour.layers
        if len(layers) < 2:
            continue
        for bar, bounds in _bars(side.shapes, [layer.strands for layer in layers]):
            fields = list(pairwise((bar[0], *bounds, bar[2])))
            seen = _SeenBar(side, bar)
            looks = [seen.look(left, right) for left, right in fields]
            for at, (one, other) in enumerate(pairwise(looks)):
                before, after = layers[at], layers[at + 1]
                meant = _apart(_lab_of(before.ink), _lab_of(after.ink))
                if subject.ink == "colour" and meant < number("shades-alike"):
                    continue  # two layers of one colour are drawn as what they are
                if _apart(one, other) < number("shades-alike") or (
                    _contrast(one, other) < _LEAST_CONTRAST
                    and not seen.parted(bounds[at], (one, other))
                ):
                    yield finding(
                        "shades-alike", side.place(bar),
                        found=f"{before.shade} beside {after.shade}",
                        **_as_it_was(subject, "no lines between the shades of a bar"),
                    )  # fmt: skip


_HIGHEST, _LEAST_WIDE = 16.0, 12.0
"""Points: a bar is no higher, and no narrower."""
_OFF = 0.8
"""Points: how far a field's edge may be from where its strands put it."""
_WITHIN = 0.5
"""Points at a field's edges that are the lines around it."""


def _bars(
    shapes: Sequence[PaintedPath], strands: Sequence[int]
) -> Iterator[tuple[Box, list[float]]]:
    """Yield each bar of a recipe, and where its fields meet: a frame parted by their strands."""
    whole = sum(strands)
    for frame in shapes:
        left, top, right, bottom = frame.box
        wide, high = right - left, bottom - top
        plain = frame.stroked and not frame.filled and set(frame.kinds) <= set("mlhr")
        if not plain or not (high <= _HIGHEST and wide >= max(_LEAST_WIDE, 2 * high)):
            continue
        inside = [
            each.box for each in shapes
            if each is not frame and contains(grown(frame.box, 1.0), each.box)
            and each.box[3] - each.box[1] > 0.7 * high
        ]  # fmt: skip
        edges = sorted({x for box in inside for x in (box[0], box[2])})
        bounds: list[float] = []
        for count in accumulate(strands[:-1]):
            meant = left + wide * count / whole
            near = min(edges, key=lambda x: abs(x - meant), default=None)
            if near is None or abs(near - meant) > _OFF:
                break
            bounds.append(near)
        else:
            yield frame.box, bounds


Lab = tuple[float, float, float]


class _SeenBar:
    """A bar as it is rendered, once for all its fields."""

    def __init__(self, side: SeenSide, bar: Box) -> None:
        self._bar, self._raster = bar, side.raster
        self._part = side.raster.coloured(bar)

    def _dots(self, box: Box) -> _Dots:
        return self._part.cut(self._raster.dots(box))[:, :, ::-1]

    def look(self, left: float, right: float) -> Lab:
        """Return how a field looks from afar: the mean of its dots."""
        field = left, self._bar[1], right, self._bar[3]
        dots = self._dots(grown(field, -min(_WITHIN, (right - left) / 4), -_WITHIN))
        return _lab(dots.reshape(-1, 3)) if dots.size else (100.0, 0.0, 0.0)

    def parted(self, at: float, looks: tuple[Lab, Lab]) -> bool:
        """Tell whether a line that is seen stands between two fields."""
        around = at - _WITHIN, self._bar[1] + _WITHIN, at + _WITHIN, self._bar[3] - _WITHIN
        dots = self._dots(around)
        columns = [_lab(dots[:, each]) for each in range(dots.shape[1])]
        return any(min(_contrast(column, look) for look in looks) > _SEEN for column in columns)


_LEAST_CONTRAST = 1.25
_SEEN = 1.25
"""Contrasts as W3C's Web Content Accessibility Guidelines 2.2 measure them, 1 to 21; how far is far
enough between two fields is the house's judgement."""


def _contrast(one: Lab, other: Lab) -> float:
    low, high = sorted(_luminance(each[0]) for each in (one, other))
    return (high + 0.05) / (low + 0.05)


def _luminance(lightness: float) -> float:
    """Return relative luminance from CIE lightness L* (CIE 15:2004, 8.2.1)."""
    return float(((lightness + 16) / 116) ** 3 if lightness > 8 else lightness * 27 / 24389)


def _apart(one: Lab, other: Lab) -> float:
    """Return the distance of two colours in CIELAB (CIE 15:2004, 8.2.2.1)."""
    return float(np.linalg.norm(np.subtract(one, other)))


@lru_cache(maxsize=1_024)
def _lab_of(ink: str) -> Lab:
    return _lab(np.array([[int(ink[at : at + 2], 16) for at in (1, 3, 5)]], np.uint8))


_TO_XYZ = np.array([
    [0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505],
])  # fmt: skip
_WHITE = np.array([0.9505, 1.0, 1.089])
"""sRGB's primaries and white. Source: IEC 61966-2-1."""


def _lab(dots: _Dots) -> Lab:
    """Return the mean of dots of red, green and blue, in CIELAB: light is mixed, then looked at."""
    parts = dots.astype(np.float64) / 255
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    xyz = _TO_XYZ @ linear.mean(axis=0) / _WHITE
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz * (29 / 6) ** 2 / 3 + 4 / 29)
    return float(116 * f[1] - 16), float(500 * (f[0] - f[1])), float(200 * (f[1] - f[2]))
