"""A jig's photo as a studio would place it: head left, cut to the jig, its ground taken away.

All photos of a pattern stand in one frame, which each jig fills from side to side. The catalog may
say otherwise of any photo: where the jig is in it, where its head points, that its ground stays or
that it is shown whole. The same file and the same catalog give the same bytes each time.
"""

from __future__ import annotations

import hashlib
import math
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np
from PIL import Image as Pillow
from PIL import ImageChops

from labeler.catalog.model import PhotoView
from labeler.catalog.structure import PHOTOS
from labeler.drawing.cutout import LOOKED_AT, Found, Ground, Turn, find, matted
from labeler.drawing.photos import (
    COARSEST_DPI,
    FINEST_DPI,
    ScalePlan,
    coarse,
    content_hash,
    encode,
    finest_dots,
    in_ink,
    opened,
    prepare,
    proportion,
    scaled,
    to_srgb,
)
from labeler.files import kept
from labeler.findings import Finding, LabelerError, Place, note
from labeler.marks import Image, InkMode
from labeler.units import POINTS_PER_INCH

_MARGIN = 0.025
"""Of the jig's width: what stays around it in its frame."""
_TALLEST = 1.25
"""Width over height of the tallest frame, unless all jigs of a pattern are taller."""
_AS_PROPOSED = PhotoView()
_RASTERS = 4
"""How many sizes of raster there are between a frame and one twice as wide."""
_TWICE = 400_000
"""Pixels: a smaller picture is made in twice its size first, so that strands end smoothly."""


@dataclass(frozen=True, slots=True)
class JigPhoto:
    """A photo of a jig, and all that are of its pattern: they stand in frames alike."""

    path: Path
    view: PhotoView = _AS_PROPOSED
    sisters: tuple[tuple[Path, PhotoView], ...] = ()


def jig_photo(folder: Path, name: str) -> JigPhoto:
    """Return a photo in a catalog's ``photos/`` with how the catalog has it shown."""
    known = kept(("photos of jigs", folder), lambda: _of_patterns(folder))
    return known.get(name) or JigPhoto(folder / PHOTOS / name)


def _of_patterns(folder: Path) -> dict[str, JigPhoto]:
    from labeler.catalog.read import examine

    catalog, _ = examine(folder)
    if catalog is None:
        return {}
    views = catalog.file.photos
    by_pattern: dict[str, dict[str, None]] = {}
    for product in catalog.products:
        if product.photo:
            by_pattern.setdefault(product.pattern.name, {})[product.photo] = None
    found: dict[str, JigPhoto] = {}
    for names in by_pattern.values():
        sisters = tuple((folder / PHOTOS / each, views.get(each, _AS_PROPOSED)) for each in names)
        for path, view in sisters:
            found.setdefault(path.relative_to(folder / PHOTOS).as_posix(),
                             JigPhoto(path, view, sisters))  # fmt: skip
    for name, view in views.items():  # of a photo that nothing on sale shows, or not yet
        found.setdefault(name, JigPhoto(folder / PHOTOS / name, view))
    return found


def jig_proportion(photo: JigPhoto) -> float:
    """Return width over height of the frame that a jig's photo is shown in.

    Raises:
        LabelerError: with one finding, if there is no picture in the file.
    """
    lying = _lying_of(photo.path, photo.view)
    return _frame_of(photo) if lying else proportion(photo.path)


def prepare_jig(
    photo: JigPhoto, width_pt: float, height_pt: float, ink: InkMode = "colour",
    dpi: int | None = None,
) -> tuple[Image, tuple[Finding, ...]]:  # fmt: skip
    """Return a jig's photo as it is to be printed in a box, and what to say about it.

    Args:
        photo: the file, and how it is shown. A photo in which no jig can be made out is shown
            whole, and a note says so.
        width_pt: the box's width in points.
        height_pt: the box's height in points.
        ink: as `prepare` takes it.
        dpi: as `prepare` takes it.

    Raises:
        LabelerError: as `prepare` does.
    """
    lying = _lying_of(photo.path, photo.view)
    if lying is None:
        image, findings = prepare(photo.path, width_pt, height_pt, ink=ink, dpi=dpi)
        lost = photo.view.show == "jig"
        return image, (*findings, _not_found(photo.path)) if lost else findings
    aspect = _frame_of(photo)
    width = min(width_pt, height_pt * aspect)
    # Of frames that are nearly as large one raster serves: a label is laid out more than once.
    # Dots are made for their frame, else they fall between the printer's.
    near = 2 ** (math.ceil(math.log2(width) * _RASTERS - 1e-6) / _RASTERS)
    inches = (width if ink == "black" else near) / POINTS_PER_INCH
    finest = min(FINEST_DPI, finest_dots(ink, dpi))
    place = str(photo.path), content_hash(photo.path)
    image, plan, findings = _framed(*place, photo.view, (aspect, inches), ink, finest)
    has = plan.dpi * inches * POINTS_PER_INCH / width
    few = [coarse(Place(file=place[0]), replace(plan, dpi=has))] if has < COARSEST_DPI else []
    return image, (*few, *findings)


@dataclass(frozen=True, slots=True, eq=False)
class _Lying:
    """How the jig lies in a photo; lengths are in widths of the upright photo, from its middle."""

    natural: tuple[int, int]
    found: Found
    turn: Turn
    box: tuple[float, float, float, float]
    """Of the jig, once turned."""
    clear: bool
    """Whether its ground is taken away."""

    def frame(self, aspect: float) -> tuple[float, float, float]:
        """Return left, top and width of the frame; where a ground stays, within the photo."""
        left, top, right, bottom = self.box
        wide, high = self._with_margin
        wide = max(wide, high * aspect)
        x, y = (left + right - wide) / 2, (top + bottom - wide / aspect) / 2
        if not self.clear:
            across, down = self._whole
            x, y = _within(x, wide, across), _within(y, wide / aspect, down)
        return x, y, wide

    @property
    def aspect(self) -> float:
        """Width over height of the frame that would hold this jig alone."""
        wide, high = self._with_margin
        return wide / high

    @property
    def _with_margin(self) -> tuple[float, float]:
        left, top, right, bottom = self.box
        margin = 2 * _MARGIN * (right - left)
        return right - left + margin, bottom - top + margin

    @property
    def _whole(self) -> tuple[float, float]:
        """Return how wide and high the photo is, once turned."""
        high = self.natural[1] / self.natural[0]
        return (high, 1.0) if self.turn.degrees % 180 else (1.0, high)


def _within(start: float, length: float, whole: float) -> float:
    """Return a start from which a length lies in the whole, if it can; else about its middle."""
    if length >= whole:
        return -length / 2
    return min(max(start, -whole / 2), whole / 2 - length)


_HEADS_AT = {
    "left": (False, 0.0), "right": (True, 0.0), "up": (False, -90.0), "down": (False, 90.0)
}  # fmt: skip
"""Where a head points, and what brings it to the left: whether mirrored, degrees clockwise."""


def _frame_of(photo: JigPhoto) -> float:
    """Return width over height of the frame of a pattern: all its jigs fill it from side to side.

    A photo of it that can't be read is told where it is printed itself.
    """
    aspects = []
    for path, view in photo.sisters or ((photo.path, photo.view),):
        with suppress(LabelerError):
            if lying := _lying_of(path, view):
                aspects.append(lying.aspect)
    return max(min(aspects), min(_TALLEST, max(aspects)))


def _lying_of(path: Path, view: PhotoView) -> _Lying | None:
    """Return how the jig lies in a photo; None where the photo is shown whole."""
    return None if view.show == "whole" else _laid(str(path), content_hash(path), view)


@lru_cache(maxsize=256)
def _laid(path: str, content: str, view: PhotoView) -> _Lying | None:
    natural, found = _looked_through(path, content)
    if found.box is None and view.box is None:
        return None
    clear = view.ground == "clear" and found.ground.plain and found.empty is not None
    turn = found.turn if clear and view.box is None else found.turn.in_quarters
    if view.head:
        turn = Turn(*_HEADS_AT[view.head])
    box = view.box
    sides = tuple(map(float, (box.left, box.top, box.right, box.bottom))) if box else found.box
    assert sides is not None  # else it is shown whole
    spots = [(x, y) for x in sides[::2] for y in sides[1::2]]
    if turn.degrees % 90:  # only of a jig that was found
        spots = found.outline()
    high = natural[1] / natural[0]
    turned = [turn.turned(x - 0.5, (y - 0.5) * high) for x, y in spots]
    across, down = zip(*turned, strict=True)
    sides = min(across), min(down), max(across), max(down)
    return _Lying(natural, found, turn, sides, clear)


@lru_cache(maxsize=64)
def _looked_through(path: str, _content: str) -> tuple[tuple[int, int], Found]:
    """Return a photo's size, upright, and what is made out in it."""
    with opened(Path(path)) as picture:
        side = LOOKED_AT * POINTS_PER_INCH / FINEST_DPI
        plan, small = scaled(picture, (side, side), "contain")
        profile = picture.info.get("icc_profile")
    return plan.natural, find(to_srgb(small, profile)[0])


@lru_cache(maxsize=256)
def _framed(
    path: str, content: str, view: PhotoView, frame: tuple[float, float], ink: InkMode,
    finest: float,
) -> tuple[Image, ScalePlan, tuple[Finding, ...]]:  # fmt: skip
    """Return what is in a frame, from memory for the same content.

    The frame is its width over its height, and its width in inches.
    """
    aspect, inches = frame
    lying = _laid(path, content, view)
    assert lying is not None  # else it is shown whole
    left, top, across = lying.frame(aspect)
    pixels = lying.natural[0] * across
    dpi = pixels / inches
    wide = max(1, round(min(pixels, inches * finest)))
    high = max(1, round(wide / aspect))
    times = 2 if wide * high < _TWICE else 1
    with opened(Path(path)) as picture:
        room = wide * times / across * POINTS_PER_INCH / FINEST_DPI
        _, small = scaled(picture, (room, math.inf), "contain")
        profile = picture.info.get("icc_profile")
    flat, doubt = to_srgb(small, profile)
    cut = _Cut(lying, (left, top, across), (wide * times, high * times)).of(flat)
    if times > 1:
        cut = cut.convert("RGBa").reduce(times).convert("RGBA")
    if cut.getchannel("A").getextrema() == (255, 255):
        cut = cut.convert("RGB")
    data = encode(in_ink(cut, ink))
    place = Place(file=path)
    whole = ScalePlan(lying.natural, (0, 0, 1, 1), (wide, high), dpi)
    findings = [note("picture-colour", place, doubt)] if doubt else []
    if view.ground == "clear" and not lying.found.ground.plain:
        findings.append(_not_plain(place, lying.found.ground))
    return Image(hashlib.sha256(data).hexdigest(), data, *cut.size), whole, tuple(findings)


@dataclass(frozen=True, slots=True)
class _Cut:
    """A frame cut from a photo: where it lies in the turned photo, and its size in pixels."""

    lying: _Lying
    frame: tuple[float, float, float]
    size: tuple[int, int]

    def of(self, flat: Pillow.Image) -> Pillow.Image:
        """Return what the frame shows in mode RGBA: the jig alone, if its ground goes."""
        inside = self._through(Pillow.new("L", flat.size, 255), Pillow.Resampling.NEAREST)
        if "A" in flat.getbands():
            return self._through(flat.convert("RGBa")).convert("RGBA")
        shown = self._through(flat.convert("RGB"))
        if not self.lying.clear:
            shown.putalpha(inside)
            return shown
        found = self.lying.found
        empty, level, around = (
            np.asarray(self._through(each, Pillow.Resampling.BILINEAR)) for each in _beneath(found)
        )
        near = (around / 255).astype(np.float32)
        clear = Pillow.fromarray(
            matted(np.asarray(shown), empty, level, near, found.ground.spread), "RGBA"
        )
        clear.putalpha(ImageChops.multiply(clear.getchannel("A"), inside))
        return clear

    def _through(
        self, source: Pillow.Image, filtered: Pillow.Resampling = Pillow.Resampling.BICUBIC
    ) -> Pillow.Image:
        """Return the part of the upright photo, in whatever size, that the frame shows, turned."""
        left, top, across = self.frame
        step = across / self.size[0]
        tall = self.lying.natural[1] / self.lying.natural[0]
        start = self.lying.turn.back(left, top)
        right, down = self.lying.turn.back(step, 0.0), self.lying.turn.back(0.0, step)
        wide, high = source.width, source.height / tall
        return source.transform(
            self.size, Pillow.Transform.AFFINE,
            (right[0] * wide, down[0] * wide, (start[0] + 0.5) * wide,
             right[1] * high, down[1] * high, (start[1] + tall / 2) * high),
            filtered,
        )  # fmt: skip


@lru_cache(maxsize=8)
def _beneath(found: Found) -> tuple[Pillow.Image, Pillow.Image, Pillow.Image]:
    """Return the ground without the jig, without shadows too, and what is around the jig."""
    assert found.empty is not None  # else nothing is taken away
    parts = Pillow.fromarray(found.empty), Pillow.fromarray(found.level())
    return *parts, Pillow.fromarray(found.around())


def _named(path: Path) -> str:
    """Return what a photo is called in a catalog: where it lies in its folder of photos."""
    parts = path.parts
    return "/".join(parts[-parts[::-1].index(PHOTOS) :]) if PHOTOS in parts[:-1] else path.name


def _not_found(path: Path) -> Finding:
    return note(
        "photo-jig",
        Place(file=str(path)),
        "the jig in this photo can't be told from what it lies on, so the photo is shown whole",
        hint=f"{_PAPER} Or say where the jig is: "
        f"a box in [photos.{_named(path)!r}] of the catalog.",
    )


def _not_plain(place: Place, ground: Ground) -> Finding:
    return note(
        "photo-ground",
        place,
        "what the jig lies on in this photo is not plain enough to be taken away, so it stays",
        found=ground.fault,
        expected="one light color, in soft light",
        hint=f'{_PAPER} ground = "keep" in [photos.{_named(Path(place.file))!r}] of the catalog '
        "leaves it there without this note.",
    )


_PAPER = "Lay the jig on a plain sheet of paper by a window and take it again."
