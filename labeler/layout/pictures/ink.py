"""Brings a picture's colours to sRGB or grey, and writes the file that goes into the page."""

from __future__ import annotations

import io

from PIL import Image as Pillow
from PIL import ImageCms

JPEG_QUALITY = 88
"""No artefact to be seen at 300 dpi. Common practice, no published source."""

_FEW_COLOURS = 4096
"""With more than these a picture is a photograph, and JPEG is sure to be smaller."""


def to_srgb(picture: Pillow.Image, profile: bytes | None) -> tuple[Pillow.Image, str]:
    """Return the picture in mode L, LA, RGB or RGBA, in sRGB, and a doubt about its colours.

    Args:
        picture: in mode L, LA, RGB, RGBA, CMYK or LAB.
        profile: the ICC profile that came with it. One that is damaged or for other colours
            is passed over, and the doubt says so.
    """
    alpha = picture.getchannel("A") if picture.mode in ("LA", "RGBA") else None
    colour = picture.convert(picture.mode.removesuffix("A")) if alpha else picture
    flat, doubt = _matched(colour, profile) if profile else _assumed(colour)
    if colour.mode == "L" and flat.mode == "RGB":
        flat = flat.convert("L")
    if alpha and alpha.getextrema() != (255, 255):
        flat.putalpha(alpha)
    flat.info.clear()
    return flat, doubt


def _matched(colour: Pillow.Image, profile: bytes) -> tuple[Pillow.Image, str]:
    """Return the colours as the profile means them.

    Relative colorimetric with black point compensation, as is usual for photographs.
    """
    try:
        return _transform(colour, ImageCms.ImageCmsProfile(io.BytesIO(profile))), ""
    except (OSError, ImageCms.PyCMSError, TypeError, ValueError):
        flat, _ = _assumed(colour)
        return flat, "this picture's colour profile cannot be used; its colours are guessed"


def _assumed(colour: Pillow.Image) -> tuple[Pillow.Image, str]:
    """Return the colours of a picture without a profile: sRGB, as CSS Color 4, 10.2, has it."""
    if colour.mode == "LAB":
        return _transform(colour, ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))), ""
    if colour.mode == "CMYK":
        return colour.convert("RGB"), (
            "this picture is in CMYK without a colour profile; its colours are guessed"
        )
    return colour, ""


def _transform(colour: Pillow.Image, source: ImageCms.ImageCmsProfile) -> Pillow.Image:
    flat = ImageCms.profileToProfile(
        colour,
        source,
        ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        outputMode="RGB",
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )
    if flat is None:
        raise ImageCms.PyCMSError("nothing came of it")
    return flat


def encode(picture: Pillow.Image) -> bytes:
    """Return a JPEG file, or a PNG file where that is no larger or something shows through."""
    if picture.mode in ("LA", "RGBA"):
        return _png(picture)
    jpeg = _jpeg(picture)
    if picture.getcolors(_FEW_COLOURS) is None:
        return jpeg
    return min(_png(picture), jpeg, key=len)


def _png(picture: Pillow.Image) -> bytes:
    file = io.BytesIO()
    picture.save(file, "PNG", compress_level=6)
    return file.getvalue()


def _jpeg(picture: Pillow.Image) -> bytes:
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=JPEG_QUALITY, subsampling="4:4:4", optimize=True)
    return file.getvalue()
