"""What stands on a finished page, as plain values: glyphs, shapes, pictures.

Places and sizes are in points from the page's top left corner, y down, with every matrix on the
way applied.
"""

from __future__ import annotations

import gc
import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from operator import attrgetter
from typing import Any, Literal, NamedTuple

from labeler.checker.pdf.file import look
from labeler.geometry import Box, Matrix, Point, apply, grown, overlaps

Rgb = tuple[int, int, int]


class Font(NamedTuple):
    """A font of the file, as far as a reader of the page can know it."""

    name: str
    """The PostScript name, without the tag of a subset."""
    weight: int | None
    """100 to 900 by its name, where the name tells."""
    embedded: bool
    measured: bool
    """Whether its outlines could be read, so that heights are those of ink."""
    damaged: bool = False
    """Whether what the file brings of it is no font that a printer can read."""
    familiar: bool = True
    """Whether it is cut from a face on the shelf, so that its letters are known by their shape."""
    o_height: float | None = None
    """The height of the small o, in ems, where the face is known."""
    width_of_n: float | None = None
    """The width of the capital N, in ems, where the face is known."""


@dataclass(slots=True)
class Glyph:
    """One glyph, where it stands."""

    text: str
    """What the text layer says that it is."""
    shape: str | None
    """What its outline is in the face that it names; None where there is nothing to compare."""
    font: Font
    size: float
    """The nominal size of type, in points on the page."""
    x: float
    y: float
    across: tuple[float, float]
    """From its origin to the next one's, along the line."""
    box: Box
    """Around its ink."""
    rise: float
    """How high its ink reaches above the baseline; below, a negative number."""
    drop: float
    """How low its ink reaches: negative below the baseline."""
    area: float
    """Of its ink, in square points."""
    ink: Rgb | None
    """The colour that is asked for; None where only the rendering knows."""
    alpha: float
    mode: int
    """The text rendering mode; 3 draws nothing (ISO 32000-1:2008, table 106)."""
    clip: Box
    order: int
    """Its place in the order of painting."""
    shown: float = 1.0
    """The share of its ink that is seen on the rendered page."""
    ground: Rgb = (255, 255, 255)
    """What it stands on."""
    uneven: float = 0.0
    """The share of its box in which the ground is another than around it."""
    mirrored: bool = False
    """Whether it is drawn as a mirror image of itself."""

    @property
    def reads(self) -> str:
        """What the eye reads: the outline's letter where it is known, else the text layer's."""
        return self.text if self.shape is None else self.shape


@dataclass(slots=True)
class PaintedPath:
    """A path that is painted."""

    box: Box
    fill: Rgb | None
    stroke: Rgb | None
    width: float
    alpha: float
    clip: Box
    order: int
    kinds: str
    """One letter a step: m, l, c, h, or r for a whole rectangle."""
    numbers: list[float]
    """The steps' points; a rectangle's are two opposite corners."""
    matrix: Matrix
    filled: bool
    stroked: bool
    style: tuple[object, ...] = ()
    """How it is stroked, as far as that is not followed: dashes, caps, joins."""

    @property
    def visible(self) -> Box | None:
        """What of its box is not clipped away, be it as thin as a hair; None where nothing is."""
        box, clip = self.box, self.clip
        left, top = max(box[0], clip[0]), max(box[1], clip[1])
        right, bottom = min(box[2], clip[2]), min(box[3], clip[3])
        return (left, top, right, bottom) if left <= right and top <= bottom else None

    def paints(self, room: Box) -> bool:
        """Tell whether its ink reaches into a box, not only the box around it."""
        seen = self.visible
        if seen is None or not overlaps(seen, room):
            return False
        half = self.width / 2 if self.stroked else 0.0
        near, winding = grown(room, half), 0
        x, y = (room[0] + room[2]) / 2, (room[1] + room[3]) / 2
        for points, closed in self.outlines():
            ends = [*points[1:], points[0]] if self.filled or closed else points[1:]
            for one, other in zip(points, ends, strict=False):
                if _crosses(one, other, near):
                    return True
                winding += _winds(one, other, x, y)
        return self.filled and winding != 0

    def outlines(self) -> Iterator[tuple[list[Point], bool]]:
        """Yield the points of each part of it, curves as a few straight steps, and if it closes."""
        pairs = zip(self.numbers[::2], self.numbers[1::2], strict=True)
        spots = [apply(self.matrix, x, y) for x, y in pairs]
        points: list[Point] = []
        begun: list[Point] = []  # where what follows a rectangle goes on from
        at = 0
        for kind in self.kinds:
            if kind in "mr" and points:
                yield points, False
                points = []
            elif kind in "lc" and not points:
                points = list(begun)
            if kind == "r":
                x0, y0, x1, y1 = self.numbers[2 * at : 2 * at + 4]
                corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
                whole = [apply(self.matrix, *corner) for corner in corners]
                yield whole, True
                begun = whole[:1]
                at += 2
            elif kind == "c":
                points += _steps(points[-1], *spots[at : at + 3]) if points else []
                at += 3
            elif kind == "h" and points:
                yield points, True
                points = points[:1]
            elif kind in "ml":
                points.append(spots[at])
                at += 1
        if points:
            yield points, False


def _steps(start: Point, one: Point, other: Point, end: Point) -> Iterator[Point]:
    """Yield points along a Bézier curve after its start."""
    for step in range(1, _STEPS + 1):
        t = step / _STEPS
        shares = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
        spots = (start, one, other, end)
        yield (
            sum(share * spot[0] for share, spot in zip(shares, spots, strict=True)),
            sum(share * spot[1] for share, spot in zip(shares, spots, strict=True)),
        )


_STEPS = 8


def _crosses(one: Point, other: Point, room: Box) -> bool:
    """Tell whether a straight line reaches into a box (Liang and Barsky's way to clip it)."""
    first, last = 0.0, 1.0
    for axis in (0, 1):
        step = other[axis] - one[axis]
        low, high = room[axis] - one[axis], room[axis + 2] - one[axis]
        if step == 0:
            if not low < 0 < high:
                return False
            continue
        enter, leave = sorted((low / step, high / step))
        first, last = max(first, enter), min(last, leave)
    return first < last


def _winds(one: Point, other: Point, x: float, y: float) -> int:
    """Return how a step of an outline goes round a point: 1, -1, or 0 where it passes it by."""
    (x0, y0), (x1, y1) = one, other
    if (y0 <= y) == (y1 <= y):
        return 0
    right = x < x0 + (y - y0) / (y1 - y0) * (x1 - x0)
    return (1 if y1 > y0 else -1) if right else 0


@dataclass(slots=True)
class PaintedArea:
    """An image, a shading or whatever else paints a whole area."""

    box: Box
    kind: Literal["image", "shading"]
    order: int

    def paints(self, room: Box) -> bool:
        """Tell whether it reaches into a box."""
        return overlaps(self.box, room)


@dataclass(slots=True)
class Drawn:
    """All that the operators of a page draw, in painting order."""

    width: float
    height: float
    glyphs: list[Glyph] = field(default_factory=list)
    shapes: list[PaintedPath] = field(default_factory=list)
    pictures: list[PaintedArea] = field(default_factory=list)
    untold: set[str] = field(default_factory=set)
    """What the page uses that is not followed here, in words."""
    over_from: float = math.inf
    """From where in the order of painting things lie over the page, as annotations do."""

    def in_order(self) -> None:
        """Put everything in painting order, though it was followed in another."""
        for things in (self.glyphs, self.shapes, self.pictures):
            things.sort(key=attrgetter("order"))


# ----------------------------------------------------------------------------
# Colours as a screen shows them: eight bits of red, green and blue.
#
# Device colours are turned as ISO 32000-1:2008, 10.3 says; what needs a profile or a function to
# know is left to the rendered page.

WHITE: Rgb = (255, 255, 255)
BLACK: Rgb = (0, 0, 0)

_DEVICE = {"DeviceGray": 1, "G": 1, "CalGray": 1, "DeviceRGB": 3, "RGB": 3, "CalRGB": 3,
           "DeviceCMYK": 4, "CMYK": 4}  # fmt: skip


def grey(level: float) -> Rgb:
    """Return a grey of ``level`` from 0, black, to 1."""
    value = _byte(level)
    return value, value, value


def rgb(red: float, green: float, blue: float) -> Rgb:
    """Return a colour of three parts from 0 to 1."""
    return _byte(red), _byte(green), _byte(blue)


def cmyk(cyan: float, magenta: float, yellow: float, black: float) -> Rgb:
    """Return four process inks as a screen shows them (ISO 32000-1:2008, 10.3.5)."""
    return (
        _byte(1 - min(1, cyan + black)),
        _byte(1 - min(1, magenta + black)),
        _byte(1 - min(1, yellow + black)),
    )


def _byte(level: float) -> int:
    return round(min(1.0, max(0.0, level)) * 255)


_BY_COUNT = {1: grey, 3: rgb, 4: cmyk}


def of_parts(parts: Sequence[float], count: int | None) -> Rgb | None:
    """Return the colour of so many parts; None where the space has another number of them."""
    if count is None or len(parts) != count:
        return None
    made: Any = _BY_COUNT[count]
    return made(*parts)  # type: ignore[no-any-return]


def parts_of(space: Any) -> int | None:
    """Return how many parts a device-like colour space has; None for any other space."""
    if isinstance(space, str):
        return _DEVICE.get(space.removeprefix("/"))
    if isinstance(space, Sequence) and space:
        kind = str(look(space, 0)).removeprefix("/")
        if kind == "ICCBased":
            count = look(look(space, 1), "/N")
            return int(count) if count in (1, 3, 4) else None
        return _DEVICE.get(kind)
    return None


def over(ink: Rgb, alpha: float, ground: Rgb) -> Rgb:
    """Return the colour of an ink that lets ``1 - alpha`` of the ground through."""
    return tuple(round(i * alpha + g * (1 - alpha)) for i, g in zip(ink, ground, strict=True))  # type: ignore[return-value]


def luminance(colour: Rgb) -> float:
    """Return the relative luminance of a colour, 0 to 1. Source: WCAG 2.2, relative luminance."""
    red, green, blue = (_linear(part / 255) for part in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(level: float) -> float:
    return level / 12.92 if level <= 0.04045 else float(((level + 0.055) / 1.055) ** 2.4)


def contrast(one: Rgb, other: Rgb) -> float:
    """Return the contrast ratio of two colours, 1 to 21. Source: WCAG 2.2, contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def as_hex(colour: Rgb) -> str:
    """Return a colour as ``#rrggbb``."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def seen_as_grey(colour: Rgb) -> float:
    """Return the grey, 0 to 255, into which PDFium turns a colour.

    Source: PDFium, core/fxge/dib/fx_dib.h, FXRGB2GRAY.
    """
    red, green, blue = colour
    return (blue * 11 + green * 59 + red * 30) / 100


# ----------------------------------------------------------------------------
# Python's search for unreachable cycles of objects, put off while a page is measured.
#
# A page of labels makes tens of thousands of small objects, all in use and none in a cycle; to look
# through them again and again takes a sixth of the time of a check.


@contextmanager
def unswept() -> Iterator[None]:
    """Put the search off until the block is left, if it was on."""
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()
