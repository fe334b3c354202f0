"""A maker's photograph made ready to print: turned upright, in sRGB, no finer than paper shows.

Telephones turn pictures by a note in the file, studios save them in CMYK or with a profile of
their own, and some files are not pictures at all. Whatever comes in, what goes out is a small
JPEG or PNG file in sRGB or grey, the same bytes each time; or one finding that says what is wrong.
"""

from __future__ import annotations

import hashlib
import math
import warnings
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from labeler.findings import Finding, Place, fix, note
from labeler.layout.marks import Image
from labeler.layout.pictures.file import content_hash, opened
from labeler.layout.pictures.ink import encode, to_srgb
from labeler.layout.pictures.scale import Crop, Plan, scaled, upright_size

__all__ = ["COARSEST_DPI", "Crop", "prepare", "proportion"]

COARSEST_DPI = 150
"""Below this a picture looks soft in the hand. Common practice, no published source."""


def prepare(
    path: Path, width_pt: float, height_pt: float, crop: Crop = "contain"
) -> tuple[Image, tuple[Finding, ...]]:
    """Return the picture in ``path`` as it is to be printed in a box, and what to say about it.

    Args:
        path: a JPEG, PNG, WebP or TIFF file; of several frames the first is taken.
        width_pt: the box's width in points.
        height_pt: the box's height in points.
        crop: ``contain`` keeps the whole picture and its proportions, so that the image may
            be narrower or lower than the box; ``cover`` cuts it, from the middle, to the box's.

    Raises:
        LabelerError: with one finding, if there is no picture in the file, or one that is
            damaged, too large, or made of measurements instead of colours.
        ValueError: if the box has no size.
    """
    if not (0 < width_pt < math.inf and 0 < height_pt < math.inf):
        raise ValueError("a box with a width and a height in points")
    return _prepare(_Order(str(path), content_hash(path), (width_pt, height_pt), crop))


def proportion(path: Path) -> float:
    """Return width over height of the picture in ``path`` once it stands upright.

    Raises:
        LabelerError: with one finding, if there is no picture in the file.
    """
    return _proportion(str(path), content_hash(path))


@lru_cache(maxsize=1024)
def _proportion(path: str, content: str) -> float:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with opened(Path(path)) as picture:
            width, height = upright_size(picture)
    return width / height


@dataclass(frozen=True, slots=True)
class _Order:
    """What is asked for; the same order for the same content is served from memory."""

    path: str
    content: str
    box_pt: tuple[float, float]
    crop: Crop


@lru_cache(maxsize=256)
def _prepare(order: _Order) -> tuple[Image, tuple[Finding, ...]]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what matters of Pillow's becomes a finding
        with opened(Path(order.path)) as picture:
            plan, small = scaled(picture, order.box_pt, order.crop)
            profile = picture.info.get("icc_profile")
    flat, doubt = to_srgb(small, profile)
    data = encode(flat)
    image = Image(hashlib.sha256(data).hexdigest(), data, *flat.size)
    place = Place(file=order.path)
    said = [_coarse(place, plan)] if plan.dpi < COARSEST_DPI else []
    said += [note("picture-colour", place, doubt)] if doubt else []
    return image, tuple(said)


def _coarse(place: Place, plan: Plan) -> Finding:
    more = COARSEST_DPI / plan.dpi
    wide, high = (math.ceil(side * more) for side in plan.natural)
    return fix(
        "picture-coarse",
        place,
        f"at its size in print this picture has {math.floor(plan.dpi)} pixels to the inch",
        found=f"{math.floor(plan.dpi)} dpi",
        expected=f"at least {COARSEST_DPI} dpi",
        hint=f"Take one of {wide} × {high} pixels or more, or print it smaller.",
    )
