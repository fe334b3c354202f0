"""Cuts, shrinks and turns a picture for its place in print, with little memory."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from PIL import ExifTags, ImageFile
from PIL import Image as Pillow

from labeler.units import POINTS_PER_INCH

FINEST_DPI = 300
"""Pixels to the inch beyond which paper shows no more. Common practice, no published source."""

Crop = Literal["contain", "cover"]
"""Whether the whole picture stands in the box, or fills it and loses what reaches over."""


@dataclass(frozen=True, slots=True)
class Plan:
    """Which part of a picture is used, and how large; all of it as the picture stands upright."""

    natural: tuple[int, int]
    """The picture's size in pixels as it came."""
    part: tuple[float, float, float, float]
    """Left, top, right, bottom of what is used, in shares of the whole."""
    size: tuple[int, int]
    """In pixels, once scaled."""
    dpi: float
    """Of the picture as it came, at its size in print."""


def scaled(
    picture: ImageFile.ImageFile, box_pt: tuple[float, float], crop: Crop
) -> tuple[Plan, Pillow.Image]:
    """Return the part of ``picture`` that is used, upright, at its size in print.

    Its colours are as they came; a palette is resolved. Reads the picture's pixels, and raises
    whatever the decoder does.
    """
    natural = picture.size
    if picture.format in ("JPEG", "MPO"):
        rough = plan(_upright(natural, _turn(picture)), box_pt, crop)
        side = 2 * max(rough.size)
        picture.draft(None, (side, side))
    picture.load()
    turn = _turn(picture)  # only now: PNG may note it behind the pixels, TIFF is turned by loading
    final = plan(_upright(natural, turn), box_pt, crop)
    small = _shrink(picture, _lying(final, turn), _upright(final.size, turn))
    return final, small if turn is None else small.transpose(turn)


def plan(natural: tuple[int, int], box_pt: tuple[float, float], crop: Crop) -> Plan:
    """Return how a picture of ``natural`` pixels fills a box; it is never enlarged."""
    room = tuple(side / POINTS_PER_INCH for side in box_pt)
    fits = [pixels / inches for pixels, inches in zip(natural, room, strict=True)]
    dpi = max(fits) if crop == "contain" else min(fits)
    used = [min(pixels, inches * dpi) for pixels, inches in zip(natural, room, strict=True)]
    shares = [part / whole for part, whole in zip(used, natural, strict=True)]
    left, top = ((1 - share) / 2 for share in shares)
    less = min(1.0, FINEST_DPI / dpi)
    wide, high = (max(1, round(part * less)) for part in used)
    return Plan(natural, (left, top, left + shares[0], top + shares[1]), (wide, high), dpi)


_TURNS = {
    2: Pillow.Transpose.FLIP_LEFT_RIGHT,
    3: Pillow.Transpose.ROTATE_180,
    4: Pillow.Transpose.FLIP_TOP_BOTTOM,
    5: Pillow.Transpose.TRANSPOSE,
    6: Pillow.Transpose.ROTATE_270,
    7: Pillow.Transpose.TRANSVERSE,
    8: Pillow.Transpose.ROTATE_90,
}
"""Orientation to what brings the picture upright. Source: TIFF 6.0 (1992), section 8,
Orientation; CIPA DC-008-2012 (Exif 2.3), 4.6.4 A, takes it over. Pillow turns counterclockwise."""

_SIDEWAYS = frozenset(_TURNS[number] for number in (5, 6, 7, 8))


def upright_size(picture: Pillow.Image) -> tuple[int, int]:
    """Return width and height in pixels once the picture stands as its note says."""
    if picture.format == "TIFF":  # Pillow gives its size turned, and its note as if not
        return picture.size
    return _upright(picture.size, _turn(picture))


def _turn(picture: Pillow.Image) -> Pillow.Transpose | None:
    """Return what brings the picture upright; a damaged note is no note."""
    try:
        return _TURNS.get(picture.getexif().get(ExifTags.Base.Orientation, 1))
    except Exception:
        return None


def _upright(size: tuple[int, int], turn: Pillow.Transpose | None) -> tuple[int, int]:
    """Return a size once turned, or turned back."""
    return size[::-1] if turn in _SIDEWAYS else size


def _lying(final: Plan, turn: Pillow.Transpose | None) -> tuple[float, float, float, float]:
    """Return the part that is used, before the picture is turned; it is always from the middle."""
    left, top, right, bottom = final.part
    return (top, left, bottom, right) if turn in _SIDEWAYS else final.part


_BAND = 64
"""Rows of the result that are averaged at a time."""


def _shrink(
    picture: Pillow.Image, part: tuple[float, float, float, float], size: tuple[int, int]
) -> Pillow.Image:
    """Return a part of the picture in ``size`` pixels.

    A much larger picture is averaged by whole pixels first, band by band, to at least three
    times the size: nothing of the last filter's sharpness is lost, and the only full-size copy
    in memory is the decoder's.
    """
    spans = ((part[2] - part[0]) * picture.width, (part[3] - part[1]) * picture.height)
    factor = max(1, math.floor(min(spans[0] / size[0], spans[1] / size[1]) / 3))
    thin = _average(picture, factor)
    across, down = picture.width / factor, picture.height / factor
    box = (part[0] * across, part[1] * down, part[2] * across, part[3] * down)
    if thin.size != size or box != (0, 0, *size):
        thin = thin.resize(size, Pillow.Resampling.LANCZOS, box)
    return thin.convert({"La": "LA", "RGBa": "RGBA"}.get(thin.mode, thin.mode))


def _average(picture: Pillow.Image, factor: int) -> Pillow.Image:
    """Return the picture ``factor`` times smaller, alpha multiplied in, its palette resolved."""
    mode = _mode(picture)
    across, down = (math.ceil(side / factor) for side in picture.size)
    thin = Pillow.new(mode, (across, down))
    for top in range(0, down, _BAND):
        rows = (top * factor, min(picture.height, (top + _BAND) * factor))
        band = _into(picture.crop((0, rows[0], picture.width, rows[1])), mode)
        thin.paste(band.reduce(factor), (0, top))
    return thin


def _mode(picture: Pillow.Image) -> str:
    """Return the mode to work in: the picture's own colours, without palette or 16 bits."""
    clear = picture.has_transparency_data
    if picture.mode in ("CMYK", "LAB"):
        return picture.mode
    if picture.mode in ("1", "L", "LA", "La") or picture.mode.startswith("I;16"):
        return "La" if clear else "L"
    return "RGBa" if clear else "RGB"


def _into(band: Pillow.Image, mode: str) -> Pillow.Image:
    if band.mode.startswith("I;16"):
        band = _eight_bits(band)
    if mode in ("La", "RGBa") and band.mode != mode:
        band = band.convert({"La": "LA", "RGBa": "RGBA"}[mode])
    return band if band.mode == mode else band.convert(mode)


def _eight_bits(band: Pillow.Image) -> Pillow.Image:
    """Return 16-bit greys in 8 bits; Pillow's own conversion would cut them off at 255."""
    deep = np.asarray(band).astype(np.uint32)
    grey = Pillow.fromarray(((deep * 255 + 32767) // 65535).astype(np.uint8))
    if "transparency" in band.info:
        shows = deep != band.info["transparency"]
        grey.putalpha(Pillow.fromarray(shows.astype(np.uint8) * 255))
    return grey
