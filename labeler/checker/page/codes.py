"""The codes on a page: found among its shapes, read from the page as it is rendered.

Where a code should be is told by its shape: one filled path of many rectangles. Size and module
are measured on that path; what the code says, and whether it can be read at all, on the dots.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import zxingcpp

from labeler.checker.page.elements import WHITE, Drawn, PaintedPath, Rgb
from labeler.checker.page.rendering import Raster
from labeler.checker.rulebook import number
from labeler.codes import print_quality
from labeler.geometry import NOWHERE, Box, area, contains_point, grown, intersection, union

_FORMATS = zxingcpp.BarcodeFormat
_RETAIL = {
    _FORMATS.EAN13: "ean-13", _FORMATS.UPCA: "upc-a", _FORMATS.EAN8: "ean-8",
    _FORMATS.UPCE: "upc-e",
}  # fmt: skip
_WANTED: Any = [_FORMATS.QRCode, *_RETAIL]
_FOREIGN: Any = [
    _FORMATS.DataMatrix, _FORMATS.Aztec, _FORMATS.PDF417, _FORMATS.MicroPDF417, _FORMATS.MaxiCode,
    _FORMATS.MicroQRCode, _FORMATS.RMQRCode, _FORMATS.Code128, _FORMATS.Code39, _FORMATS.Code93,
    _FORMATS.ITF, _FORMATS.DataBar, _FORMATS.DataBarExp,
]  # fmt: skip
"""Kinds that no layout can draw. Codabar has no check character, and reads hatching as a code."""

_FEWEST = 18
"""Rectangles in a path that may be a code: an EAN-8 has 22 bars, and some may be lost."""

_MODULES = {"upc-a": 95, "ean-13": 95, "ean-8": 67, "upc-e": 51}
"""Bars and spaces from guard to guard. Source: GS1 General Specifications, 5.2.1."""

Edge = Literal["left", "right", "above", "below"]
"""A side of a code as the page is looked at."""

_ACROSS: dict[Edge, tuple[Edge, Edge]] = {
    "left": ("right", "below"),
    "right": ("left", "above"),
    "above": ("below", "left"),
    "below": ("above", "right"),
}
"""Where a code that begins on a side ends, and where its digits stand."""

Kind = Literal["qr", "upc-a", "ean-13", "ean-8", "upc-e", "unread", "foreign"]


@dataclass(slots=True)
class SeenCode:
    """One code on a page."""

    kind: Kind
    text: str
    """What it says; nothing where it can't be read."""
    box: Box
    """Around its dark modules, in points."""
    module: float = 0.0
    """In points; zero where it can't be known."""
    start: Edge = "left"
    """The side from which it is read; bars have their digits at the right hand of that."""
    inverted: bool = False
    correction_left: float = 1.0
    """The share of its error correction that is not used up."""
    crowded: tuple[str, ...] = ()
    """The sides on which something stands in its quiet zone."""
    ink: Rgb | None = None
    ground: Rgb = WHITE
    height: float = 0.0
    """Of the bars, in modules."""
    drawn: bool = True
    """Whether it is one path, whose edges are known exactly."""
    symbology: str = ""
    """What a foreign code is called."""
    mirrored: bool = False
    reach: Box = NOWHERE
    """Around all that was looked at of the page to read it."""


def codes_on(drawn: Drawn, raster: Raster, trims: Sequence[Box] = ()) -> list[SeenCode]:
    """Return every code that is drawn as one path on a page, read or not.

    Args:
        drawn: what the page draws.
        raster: the page rendered.
        trims: where pieces are cut. A code on one is read from what stays with it, if it can be.
    """
    return [_seen(shape, raster, trims) for shape in drawn.shapes if _may_be_code(shape)]


def _may_be_code(shape: PaintedPath) -> bool:
    if not shape.filled or len(shape.kinds) < _FEWEST or shape.kinds.strip("r"):
        return False
    wide, high = shape.box[2] - shape.box[0], shape.box[3] - shape.box[1]
    return wide > _SMALLEST and high > _SMALLEST


_SMALLEST = 12.0
"""Points: a code of a sixth of an inch is none that anybody reads."""


def codes_in(places: Iterable[Box], raster: Raster) -> list[SeenCode]:
    """Return the codes that can be read in parts of a page, whatever they are drawn as."""
    found: list[SeenCode] = []
    for place in places:
        left, _, top, _ = raster.dots(place)
        for read in _read(raster.grey(place), every_way=True, foreign=True):
            box = _box_of(read, (left, top), raster)
            if read.format in _FOREIGN:
                name = str(read.format).rpartition(".")[2]
                found.append(
                    SeenCode("foreign", read.text, box, drawn=False, symbology=name, reach=box)
                )
                continue
            found.append(_described(read, box, _module(read, box), raster, drawn=False))
    return found


def _read(picture: npt.NDArray[np.uint8], every_way: bool, foreign: bool = False) -> list[Any]:
    if min(picture.shape, default=0) < 8:
        return []
    formats: Any = [*_WANTED, *_FOREIGN] if foreign else _WANTED
    read: Any = zxingcpp.read_barcodes(
        np.ascontiguousarray(picture),
        formats=formats,
        try_rotate=every_way,
        try_downscale=every_way,
        try_invert=every_way,
    )
    return sorted(read, key=_spread, reverse=True)


def _spread(read: Any) -> int:
    """Return how much of the picture a code covers, in square dots.

    A line of small letters above the bars can read as a number of its own, two dots high.
    """
    spot = read.position
    wide = abs(spot.top_right.x - spot.top_left.x) + abs(spot.top_right.y - spot.top_left.y)
    high = abs(spot.bottom_left.x - spot.top_left.x) + abs(spot.bottom_left.y - spot.top_left.y)
    return int(wide * high)


def _box_of(read: Any, corner: tuple[int, int], raster: Raster) -> Box:
    spot = read.position
    points = [spot.top_left, spot.top_right, spot.bottom_right, spot.bottom_left]
    places = [raster.point(corner[0] + p.x, corner[1] + p.y) for p in points]
    xs, ys = [x for x, _ in places], [y for _, y in places]
    return min(xs), min(ys), max(xs), max(ys)


def _module(read: Any, box: Box) -> float:
    """Return how wide a module of a code is, in points; zero where it can't be known."""
    modules = _modules(read)
    return _along(box, _start(read)) / modules if modules else 0.0


def _modules(read: Any) -> int:
    """Return how many modules a code is wide."""
    if read.format == _FORMATS.QRCode:
        version = str(read.extra.get("Version", "")) if isinstance(read.extra, dict) else ""
        return 17 + 4 * int(version) if version.isdigit() else 0
    return _MODULES.get(_RETAIL.get(read.format, ""), 0)


def _seen(shape: PaintedPath, raster: Raster, trims: Sequence[Box]) -> SeenCode:
    """Return the code that a path draws, read from the rendered page."""
    wide = max(shape.box[2] - shape.box[0], shape.box[3] - shape.box[1])
    around_it = grown(shape.box, wide * _ROOM)
    looked_at = _kept(around_it, shape.box, trims)
    read = _read(raster.grey(looked_at), every_way=False)
    if not read:
        looked_at, picture = around_it, raster.grey(around_it)
        read = _read(picture, every_way=True) or _read(255 - picture, every_way=True)
    if not read:
        return SeenCode(
            "unread", "", shape.box, _smallest_side(shape), correction_left=0.0, ink=shape.fill,
            ground=_ground(shape.box, raster), reach=looked_at,
        )  # fmt: skip
    module = _module(read[0], shape.box) or _smallest_side(shape)
    seen = _described(read[0], shape.box, module, raster)
    seen.ink = shape.fill
    seen.reach = union([seen.reach, looked_at])
    return seen


def _kept(room: Box, code: Box, trims: Sequence[Box]) -> Box:
    """Return what of the room around a code stays with it when the piece is cut out."""
    x, y = (code[0] + code[2]) / 2, (code[1] + code[3]) / 2
    trim = next((each for each in trims if contains_point(each, x, y)), None)
    return room if trim is None else intersection(room, union([trim, code])) or room


def _start(read: Any) -> Edge:
    """Return the side of the page from which a code is read."""
    begin, end = read.position.top_left, read.position.top_right
    x, y = end.x - begin.x, end.y - begin.y
    if abs(x) >= abs(y):
        return "left" if x >= 0 else "right"
    return "above" if y >= 0 else "below"


def _along(box: Box, start: Edge) -> float:
    """Return how long a code is in the direction in which it is read."""
    return box[2] - box[0] if start in ("left", "right") else box[3] - box[1]


_ROOM = 0.16
"""How much of a code's width is looked at beside it: four modules of the smallest QR code are
4/21 of its width, and a decoder needs less."""


def _smallest_side(shape: PaintedPath) -> float:
    """Return the least side of the path's rectangles, on the page."""
    a, b, c, d, _, _ = shape.matrix
    across, down = (a * a + b * b) ** 0.5, (c * c + d * d) ** 0.5
    sides = np.abs(np.array(shape.numbers).reshape(-1, 4))
    wide = np.abs(sides[:, 2] - sides[:, 0]) * across
    high = np.abs(sides[:, 3] - sides[:, 1]) * down
    return float(min(wide.min(), high.min()))


def _described(read: Any, box: Box, module: float, raster: Raster, drawn: bool = True) -> SeenCode:
    kind: Any = _RETAIL.get(read.format, "qr")
    extra = read.extra if isinstance(read.extra, dict) else {}
    left = float(extra.get("UEC", 1.0))
    ground = _ground(grown(box, module * 2), raster)
    seen = SeenCode(
        kind, read.text, box, module, _start(read), _inverted(box, raster), left, ground=ground,
        drawn=drawn,
    )  # fmt: skip
    seen.reach = union([grown(box, module * 2), grown(box, (box[2] - box[0]) * _RING)])
    if kind == "ean-13" and read.text.startswith("0"):
        seen.kind = "upc-a"
    if kind == "qr":
        seen.mirrored = _mirrored(box, _modules(read), raster)
        seen.crowded = tuple(_crowded_qr(seen, raster))
    else:
        seen.crowded = tuple(_crowded_bars(seen, raster))
        tall = area(box) / max(1e-6, _along(box, seen.start))
        seen.height = tall / module if module else 0.0
    return seen


def _inverted(box: Box, raster: Raster) -> bool:
    """Tell whether a code is lighter than the ground around it.

    A third to two thirds of a code's own dots are dark, so that its middle grey lies between its
    ink and its ground, on the ground's far side.
    """
    inside = raster.grey(box)
    around = _bands(box, (box[2] - box[0]) * _RING).values()
    ring = np.concatenate([raster.grey(side).ravel() for side in around])
    return bool(inside.size and ring.size and np.mean(inside) > np.median(ring) + 20)


_RING = 0.04
"""How much of a code's width is looked at around it for its ground."""


def _ground(box: Box, raster: Raster) -> Rgb:
    """Return the lightest colour in a box: the paper between the modules."""
    part = raster.grey(box)
    if not part.size or int(part.max()) >= 254:
        return WHITE
    colours = raster.colours_at(box).reshape(-1, 3)
    lightest = colours[np.argmax(colours.astype(np.int32).sum(axis=1))]
    blue, green, red = (int(level) for level in lightest)
    return red, green, blue


def _bands(box: Box, wide: float) -> dict[Edge, Box]:
    """Return the four bands around a box, corners among those above and below."""
    left, top, right, bottom = box
    return {
        "left": (left - wide, top, left, bottom),
        "right": (right, top, right + wide, bottom),
        "above": (left - wide, top - wide, right + wide, top),
        "below": (left - wide, bottom, right + wide, bottom + wide),
    }


def _crowded_qr(seen: SeenCode, raster: Raster) -> Iterator[str]:
    """Yield the sides on which a QR code's four quiet modules are not plain."""
    bands = _bands(seen.box, _quiet(print_quality.size_of("qr-phone").quiet[0], seen))
    yield from _not_plain(bands, seen, raster)


def _quiet(modules: int, seen: SeenCode) -> float:
    """Return how wide a quiet zone is looked at, in points: half a module less where it must."""
    return (modules - (0.0 if seen.drawn else 0.5)) * seen.module


def _crowded_bars(seen: SeenCode, raster: Raster) -> Iterator[str]:
    """Yield the sides on which the quiet zone before or after the bars is not plain."""
    name: Any = {"upc-e": "upc-a"}.get(seen.kind, seen.kind)
    before, after = (_quiet(each, seen) for each in print_quality.size_of(name).quiet)
    end, foot = _ACROSS[seen.start]
    bars = _without(seen.box, foot)
    bands = {seen.start: _bands(bars, before)[seen.start], end: _bands(bars, after)[end]}
    if seen.start in ("above", "below"):  # no longer than the bars themselves
        bands = {side: (bars[0], box[1], bars[2], box[3]) for side, box in bands.items()}
    yield from _not_plain(bands, seen, raster)


_AT_DIGITS = 0.15
"""Guard bars run on beside the digits, the first of which stands in the quiet zone: that share of
the bars' height is left out."""


def _without(box: Box, foot: Edge) -> Box:
    """Return a code's box without the end at which its digits stand."""
    left, top, right, bottom = box
    wide, tall = (right - left) * _AT_DIGITS, (bottom - top) * _AT_DIGITS
    return {
        "below": (left, top, right, bottom - tall),
        "above": (left, top + tall, right, bottom),
        "left": (left + wide, top, right, bottom),
        "right": (left, top, right - wide, bottom),
    }[foot]


def _not_plain(bands: dict[Edge, Box], seen: SeenCode, raster: Raster) -> Iterator[str]:
    """Yield the bands that hold anything, a dot off the code itself.

    Where a code was only found among the dots, its edge is known to half a module.
    """
    seen.reach = union([seen.reach, *bands.values()])
    most = number("code-crowded")
    dot = max(1.01 / raster.scale, 0.0 if seen.drawn else seen.module / 2)
    left, top, right, bottom = seen.box
    for side, (x0, y0, x1, y1) in bands.items():
        x0 = max(x0, right + dot) if side == "right" else x0
        x1 = min(x1, left - dot) if side == "left" else x1
        y0 = max(y0, bottom + dot) if side == "below" else y0
        y1 = min(y1, top - dot) if side == "above" else y1
        part = raster.grey((x0, y0, x1, y1))
        if part.size and int(part.max()) - int(part.min()) > most:
            yield side


def rooms_for_codes(
    shapes: Sequence[PaintedPath], pictures: Sequence[Box], codes: Sequence[SeenCode], place: Box
) -> Iterator[Box]:
    """Yield the part of ``place`` in which a code may stand that is not drawn as one path.

    A code may be a picture, a path of many steps, or many small paths: squares, strokes, dots.
    """
    known = {code.box for code in codes}
    others = [shape for shape in shapes if shape.box not in known]
    long = [shape.box for shape in others if len(shape.kinds) >= _FEWEST]
    short = [shape.box for shape in others if len(shape.kinds) < _FEWEST and _small(shape.box)]
    boxes = [*pictures, *long, *(short if len(short) >= _FEWEST else ())]
    inside = [each for box in boxes if (each := intersection(box, place))]
    if inside:
        room = union(inside)
        if min(room[2] - room[0], room[3] - room[1]) > _THIN:
            yield intersection(grown(room, _SMALLEST), place) or room


_THIN = 6.0
"""Points: bars so low are no code that anybody reads."""

_LARGE = 144.0
"""Points: a bar or a module so large is part of no code on a label."""


def _small(box: Box) -> bool:
    return box[2] - box[0] < _LARGE and box[3] - box[1] < _LARGE


# ----------------------------------------------------------------------------
# Whether a QR code is a mirror image of itself, which decoders read without a word.
#
# Beside the finder patterns stand 15 bits of format information with a code of their own; in a
# mirror image they stand in each other's places, and read as none of the 32 that there are.
# Source: ISO/IEC 18004:2015, 7.9.


def _mirrored(box: Box, count: int, raster: Raster) -> bool:
    if not count:
        return False
    dark = _sampled(box, count, raster)
    for quarters in range(4):
        turned = np.rot90(dark, quarters)
        corners = [_is_finder(turned[y : y + 7, x : x + 7]) for y, x in
                   ((0, 0), (0, count - 7), (count - 7, 0), (count - 7, count - 7))]  # fmt: skip
        if corners == [True, True, True, False]:
            straight, across = _format_bits(turned), _format_bits(turned.T)
            return _strayed(across) + _MUCH_NEARER <= _strayed(straight)
    return False


_MUCH_NEARER = 3
"""Bits: of format information three may be wrong and still be told."""


def _sampled(box: Box, count: int, raster: Raster) -> npt.NDArray[np.bool_]:
    """Return which modules of a code are dark, row by row."""
    picture = raster.grey(box)
    rows = ((np.arange(count) + 0.5) * picture.shape[0] / count).astype(int)
    columns = ((np.arange(count) + 0.5) * picture.shape[1] / count).astype(int)
    dots = picture[np.ix_(rows, columns)]
    return np.asarray(dots < (int(dots.min()) + int(dots.max())) / 2)


def _is_finder(part: npt.NDArray[np.bool_]) -> bool:
    away = np.maximum(*np.abs(np.indices((7, 7)) - 3))
    return bool(np.mean(part == (away != 2)) > _LIKE)


_LIKE = 0.9


def _format_bits(dark: npt.NDArray[np.bool_]) -> int:
    along = [dark[8, x] for x in (0, 1, 2, 3, 4, 5, 7, 8)] + [
        dark[y, 8] for y in (7, 5, 4, 3, 2, 1, 0)
    ]
    return int("".join("01"[int(bit)] for bit in along), 2)


def _strayed(bits: int) -> int:
    """Return how many bits are to be changed to make format information of them."""
    return min((bits ^ each).bit_count() for each in _FORMATS_OF_QR)


def _format_of(data: int) -> int:
    rest = data << 10
    for at in range(14, 9, -1):
        if rest >> at & 1:
            rest ^= 0x537 << (at - 10)
    return (data << 10 | rest) ^ 0x5412


_FORMATS_OF_QR = tuple(_format_of(data) for data in range(32))
