"""A maker's photograph made ready to print: turned upright, in sRGB, no finer than paper shows.

Telephones turn pictures by a note in the file, studios save them in CMYK or with a profile of
their own, logos come as SVG or PDF, and some files are not pictures at all. Whatever comes in, what
goes out is a small JPEG or PNG file in sRGB or grey, the same bytes each time; or one finding says
what is wrong.
"""

from __future__ import annotations

import hashlib
import io
import math
import mmap
import re
import struct
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import BinaryIO, Literal

from PIL import ExifTags, ImageChops, ImageCms, ImageFile, UnidentifiedImageError
from PIL import Image as Pillow

from labeler import vector
from labeler.findings import Finding, LabelerError, Place, fix, note, stop
from labeler.marks import Image, InkMode
from labeler.units import POINTS_PER_INCH

Crop = Literal["contain", "cover"]
"""Whether the whole picture stands in the box, or fills it and loses what reaches over."""

COARSEST_DPI = 150
"""Below this a picture looks soft in the hand. Common practice, no published source."""


def prepare(
    path: Path,
    width_pt: float,
    height_pt: float,
    crop: Crop = "contain",
    ink: InkMode = "colour",
    dpi: int | None = None,
) -> tuple[Image, tuple[Finding, ...]]:
    """Return the picture in ``path`` as it is to be printed in a box, and what to say about it.

    Args:
        path: a JPEG, PNG, WebP, TIFF, HEIC, SVG or PDF file; of several frames or pages the first
            is taken.
        width_pt: the box's width in points.
        height_pt: the box's height in points.
        crop: ``contain`` keeps the whole picture and its proportions, so that the image may
            be narrower or lower than the box; ``cover`` cuts it, from the middle, to the box's.
        ink: ``black`` makes its tones of dots in pure black, as a logo is for a printer of one ink;
            ``grey`` leaves its tones and takes the colour from them.
        dpi: the printer's resolution, than which no dots are finer; None where it is not known.

    Raises:
        LabelerError: with one finding, if there is no picture in the file, or one that is
            damaged, too large, or made of measurements instead of colours.
        ValueError: if the box has no size.
    """
    if not (0 < width_pt < math.inf and 0 < height_pt < math.inf):
        raise ValueError("a box with a width and a height in points")
    box = width_pt, height_pt
    return _prepare(str(path), content_hash(path), box, crop, ink, finest_dots(ink, dpi))


def finest_dots(ink: InkMode, dpi: int | None) -> float:
    """Return how many pixels to the inch a picture may have on a printer."""
    return dpi if ink == "black" and dpi else math.inf


def proportion(path: Path) -> float:
    """Return width over height of the picture in ``path`` once it stands upright.

    Raises:
        LabelerError: with one finding, if there is no picture in the file.
    """
    return _proportion(str(path), content_hash(path))


@lru_cache(maxsize=1024)
def _proportion(path: str, content: str) -> float:
    with opened(Path(path)) as picture:
        width, height = upright_size(picture)
    return width / height


@lru_cache(maxsize=256)
def _prepare(
    path: str, content: str, box_pt: tuple[float, float], crop: Crop, ink: InkMode, finest: float
) -> tuple[Image, tuple[Finding, ...]]:
    """Return what `prepare` does, from memory for the same box and the same content."""
    with opened(Path(path)) as picture:
        sharp = DRAWN_DPI if "drawn" in picture.info else FINEST_DPI
        plan, small = scaled(picture, box_pt, crop, min(sharp, finest))
        profile = picture.info.get("icc_profile")
    flat, doubt = to_srgb(small, profile)
    data = encode(in_ink(flat, ink))
    place = Place(file=path)
    findings = [coarse(place, plan)] if plan.dpi < COARSEST_DPI else []
    findings += [note("picture-colour", place, doubt)] if doubt else []
    return Image(hashlib.sha256(data).hexdigest(), data, *flat.size), tuple(findings)


def coarse(place: Place, plan: ScalePlan) -> Finding:
    """Return what is said of a picture with too few pixels for its size in print."""
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


FORMATS = ("JPEG", "PNG", "WEBP", "TIFF")

MOST_PIXELS = 100_000_000
"""More than a camera of the trade takes; decoded it fits in the memory of a small machine."""

MOST_BYTES = 500_000_000
"""MOST_PIXELS in four channels without compression, and room for what cameras write beside."""

MOST_SCANS = 100
"""A progressive JPEG has about ten scans; each costs a pass over the whole picture."""


def content_hash(path: Path) -> str:
    """Return the SHA-256 of a file, read again only once its size or time have changed.

    Raises:
        LabelerError: if there is no file, or an empty one, or one too large to be a picture.
    """
    try:
        state = path.stat()
        if not path.is_file():
            raise LabelerError(_stop("missing", path, "this is a folder or a device, no picture"))
        if state.st_size == 0:
            raise LabelerError(_stop("broken", path, "this picture's file is empty"))
        if state.st_size > MOST_BYTES:
            raise LabelerError(_enormous(path, f"a file of {state.st_size / 1e6:.0f} MB"))
        return _hash(str(path), state.st_ino, state.st_size, state.st_mtime_ns)
    except FileNotFoundError:
        raise LabelerError(_stop("missing", path, "there is no such picture")) from None
    except (OSError, ValueError) as error:
        raise LabelerError(_unreadable(path, error)) from None


@lru_cache(maxsize=1024)
def _hash(path: str, *_state: int) -> str:
    with Path(path).open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@contextmanager
def opened(path: Path) -> Iterator[ImageFile.ImageFile]:
    """Give the picture in ``path``, its pixels still unread.

    A fault met while the pixels are read is the file's, and becomes a finding as well.

    Raises:
        LabelerError: if it is no picture, damaged, too large, or of measurements.
    """
    try:
        file = path.open("rb")
    except OSError as error:
        raise LabelerError(_unreadable(path, error)) from None
    with file, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what matters of Pillow's becomes a finding
        if kind := vector.kind_of(file):
            picture = _head(io.BytesIO(vector.rendered(path, kind)), path)
            picture.info["drawn"] = kind
        else:
            picture = _head(file, path)
        try:
            yield picture
        except LabelerError:
            raise
        except Exception as error:  # decoders fail in many ways, and all mean the same
            raise LabelerError(_damaged(path, picture, error)) from None


def _head(file: BinaryIO, path: Path) -> ImageFile.ImageFile:
    """Return the picture, its head read and its size known to be bearable."""
    try:
        picture = Pillow.open(file, formats=_formats(file))
    except UnidentifiedImageError:
        raise LabelerError(_no_picture(file, path)) from None
    except Pillow.DecompressionBombError:
        raise LabelerError(_enormous(path, f"more than {MOST_PIXELS:,} pixels")) from None
    except Exception as error:  # as above
        raise LabelerError(
            _stop("broken", path, "this picture is damaged at its beginning", found=str(error))
        ) from None
    width, height = picture.size
    if width * height > MOST_PIXELS:
        raise LabelerError(_enormous(path, f"{width} × {height} pixels"))
    if picture.format in ("JPEG", "MPO") and _scans(file) > MOST_SCANS:
        raise LabelerError(_enormous(path, f"more than {MOST_SCANS} scans"))
    if picture.mode in ("I", "F"):
        raise LabelerError(
            _stop(
                "kind",
                path,
                "this picture's pixels are measurements, not colours",
                expected="8 or 16 bits a channel, in grey or in colours",
                hint="Save it as JPEG or as an 8-bit TIFF.",
            )
        )
    return picture


_HEIC = re.compile(rb".{4}ftyp(?:hei[cmsx]|hev[cmsx]|mif1|msf1)", re.DOTALL)
"""How a telephone's photograph begins. Source: ISO/IEC 23008-12:2017, 10.2, from memory."""


def _formats(file: BinaryIO) -> tuple[str, ...]:
    """Return what Pillow may take ``file`` for.

    HEIC is taught to it only where there is such a photograph, since its decoder is large to load.
    It turns the picture itself, as the container says, and makes the note on it say so.
    """
    head = file.read(12)
    file.seek(0)
    if not _HEIC.match(head):
        return FORMATS
    import pillow_heif

    pillow_heif.register_heif_opener(thumbnails=False)
    return ("HEIF",)


_MARKER = re.compile(rb"\xff[^\x00\x01\xd0-\xd8\xff]")
"""One that begins a segment with a length: 00 is a stuffed byte, the others stand alone.

Source: ITU-T T.81 (1992), B.1.1.2 to B.1.1.5 and table B.1.
"""

_START_OF_SCAN, _END_OF_IMAGE = 0xDA, 0xD9


def _scans(file: BinaryIO) -> int:
    """Return how many scans the first picture of a JPEG file has."""
    scans, spot = 0, 2
    with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        while (found := _MARKER.search(data, spot)) and found[0][1] != _END_OF_IMAGE:
            scans += found[0][1] == _START_OF_SCAN
            spot = found.end() + int.from_bytes(data[found.end() : found.end() + 2], "big")
    return scans


_HEADS = (
    (4, b"ftyphei", "a damaged HEIC photograph"),
    (4, b"ftyphev", "a damaged HEIC photograph"),
    (4, b"ftypmif", "a damaged HEIC photograph"),
    (4, b"ftypmsf", "a damaged HEIC photograph"),
    (4, b"ftypavi", "an AVIF picture"),
    (4, b"ftyp", "a film"),
    (0, b"GIF8", "a GIF picture"),
    (0, b"BM", "a BMP picture"),
    (0, b"8BPS", "a Photoshop document"),
    (0, b"%!PS", "a PostScript file"),
    (0, b"PK\x03\x04", "a ZIP archive or an office document"),
)
"""How other files begin. Source for the ftyp brands: ISO/IEC 23008-12:2017, 10.2, from memory;
for the rest: each format's own specification, from memory."""


def _no_picture(file: BinaryIO, path: Path) -> Finding:
    file.seek(0)
    head = file.read(64)
    known = (name for place, letters, name in _HEADS if head.startswith(letters, place))
    return _stop(
        "kind",
        path,
        "this file holds no picture that can be printed",
        found=next(known, None) or _as_text(head),
        expected="a JPEG, PNG, WebP, TIFF or HEIC picture, or a drawing in SVG or PDF",
        hint="Open it in the program that made it and save it as JPEG.",
    )


def _as_text(head: bytes) -> str:
    """Return what a file is that begins like no picture: its first words, if it has any."""
    words = " ".join(head.decode("utf-8", "replace").split())
    if words and all(letter.isprintable() for letter in words) and "\ufffd" not in words[:-3]:
        return f"text that begins with {words[:30]!r}"
    return f"bytes that begin with {head[:8].hex(' ')}"


def _damaged(path: Path, picture: ImageFile.ImageFile, error: Exception) -> Finding:
    reason = str(error) or type(error).__name__
    return _stop(
        "broken",
        path,
        "this picture breaks off or is damaged",
        found=f"{picture.format}, {picture.width} × {picture.height} pixels: {reason}",
        expected="a picture that is whole",
        hint="Copy it from the camera again, or open it elsewhere and save it again.",
    )


def _enormous(path: Path, found: str) -> Finding:
    return _stop(
        "enormous",
        path,
        "this picture is too large to be a photograph of a jig",
        found=found,
        expected=f"at most {MOST_PIXELS // 1_000_000} megapixels and {MOST_BYTES // 1_000_000} MB",
        hint="Scale it down; 2,000 pixels on the longer side print well.",
    )


def _unreadable(path: Path, error: Exception) -> Finding:
    reason = getattr(error, "strerror", None) or str(error)
    return _stop("missing", path, f"this picture cannot be read: {reason.lower()}")


def _stop(rule: str, path: Path, message: str, **rest: str) -> Finding:
    return stop(f"picture-{rule}", Place(file=str(path)), message, **rest)


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


def in_ink(picture: Pillow.Image, ink: InkMode) -> Pillow.Image:
    """Return the picture as `prepare` prints it in an ink."""
    if ink == "colour":
        return picture
    if ink == "black":
        return in_dots(picture)
    return picture.convert("LA" if picture.mode in ("LA", "RGBA") else "L")


def in_dots(picture: Pillow.Image) -> Pillow.Image:
    """Return the picture in black dots on nothing: its greys by error diffusion."""
    whole = picture.convert("RGBA")
    ground = Pillow.new("RGBA", whole.size, "white")
    ground.alpha_composite(whole)
    dots = ground.convert("1").convert("L")
    black = Pillow.new("LA", dots.size, (0, 0))
    black.putalpha(ImageChops.invert(dots))
    return black


def encode(picture: Pillow.Image) -> bytes:
    """Return a JPEG file, or a PNG file where that is no larger or something shows through."""
    png, jpeg = io.BytesIO(), io.BytesIO()
    see_through = picture.mode in ("LA", "RGBA")
    if see_through or picture.getcolors(_FEW_COLOURS) is not None:
        picture.save(png, "PNG", compress_level=6)
    if not see_through:
        picture.save(jpeg, "JPEG", quality=JPEG_QUALITY, subsampling="4:4:4", optimize=True)
    return min(filter(None, (png.getvalue(), jpeg.getvalue())), key=len)


def for_web(image: Image) -> bytes:
    """Return a picture as a WebP file: what shows through still does, in a third of the bytes.

    A coarser alpha shows a soft shadow in steps.
    """
    webp = io.BytesIO()
    with Pillow.open(io.BytesIO(image.data)) as picture:
        picture.save(webp, "WEBP", quality=78, alpha_quality=85, method=4)
    return webp.getvalue()


FINEST_DPI = 300
"""Pixels to the inch beyond which paper shows no more. Common practice, no published source."""

DRAWN_DPI = 600
"""The same for a drawing's hard edges. Common practice, no published source."""


@dataclass(frozen=True, slots=True)
class ScalePlan:
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
    picture: ImageFile.ImageFile,
    box_pt: tuple[float, float],
    crop: Crop,
    finest: float = FINEST_DPI,
) -> tuple[ScalePlan, Pillow.Image]:
    """Return the part of ``picture`` that is used, upright, at its size in print.

    Its colours are as they came; a palette is resolved. Reads the picture's pixels, and raises
    whatever the decoder does.
    """
    natural = picture.size
    if picture.format in ("JPEG", "MPO"):
        rough = plan(_upright(natural, _turn(picture)), box_pt, crop, finest)
        side = 2 * max(rough.size)
        picture.draft(None, (side, side))
    picture.load()
    turn = _turn(picture)  # only now: PNG may note it behind the pixels, TIFF is turned by loading
    final = plan(_upright(natural, turn), box_pt, crop, finest)
    small = _shrink(picture, _lying(final, turn), _upright(final.size, turn))
    return final, small if turn is None else small.transpose(turn)


def plan(
    natural: tuple[int, int], box_pt: tuple[float, float], crop: Crop, finest: float = FINEST_DPI
) -> ScalePlan:
    """Return how a picture of ``natural`` pixels fills a box; it is never enlarged."""
    room = tuple(side / POINTS_PER_INCH for side in box_pt)
    fits = [pixels / inches for pixels, inches in zip(natural, room, strict=True)]
    dpi = max(fits) if crop == "contain" else min(fits)
    used = [min(pixels, inches * dpi) for pixels, inches in zip(natural, room, strict=True)]
    shares = [part / whole for part, whole in zip(used, natural, strict=True)]
    left, top = ((1 - share) / 2 for share in shares)
    less = min(1.0, finest / dpi)
    wide, high = (max(1, round(part * less)) for part in used)
    return ScalePlan(natural, (left, top, left + shares[0], top + shares[1]), (wide, high), dpi)


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

_BROKEN_NOTE = (
    ArithmeticError, AttributeError, EOFError, LookupError, OSError, struct.error, SyntaxError,
    TypeError, ValueError,
)  # fmt: skip
"""What Pillow raises while it reads an Exif block that is damaged."""

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
    except _BROKEN_NOTE:
        return None


def _upright(size: tuple[int, int], turn: Pillow.Transpose | None) -> tuple[int, int]:
    """Return a size once turned, or turned back."""
    return size[::-1] if turn in _SIDEWAYS else size


def _lying(final: ScalePlan, turn: Pillow.Transpose | None) -> tuple[float, float, float, float]:
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
    import numpy as np  # a tenth of a second that only pictures of 16 bits need

    deep = np.asarray(band).astype(np.uint32)
    grey = Pillow.fromarray(((deep * 255 + 32767) // 65535).astype(np.uint8))
    if "transparency" in band.info:
        shows = deep != band.info["transparency"]
        grey.putalpha(Pillow.fromarray(shows.astype(np.uint8) * 255))
    return grey
