"""Opens a picture's file, and refuses what is no picture or would not fit in memory."""

from __future__ import annotations

import hashlib
import mmap
import re
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import BinaryIO

from PIL import Image as Pillow
from PIL import ImageFile, UnidentifiedImageError

from labeler.findings import Finding, LabelerError, Place, stop

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
    with file:
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
        picture = Pillow.open(file, formats=FORMATS)
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
        raise LabelerError(_measurements(path))
    return picture


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
    (4, b"ftyphei", "an HEIC photograph"),
    (4, b"ftyphev", "an HEIC photograph"),
    (4, b"ftypmif", "an HEIC photograph"),
    (4, b"ftypmsf", "an HEIC photograph"),
    (4, b"ftypavi", "an AVIF picture"),
    (4, b"ftyp", "a film"),
    (0, b"GIF8", "a GIF picture"),
    (0, b"BM", "a BMP picture"),
    (0, b"8BPS", "a Photoshop document"),
    (0, b"%PDF", "a PDF"),
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
        expected="a JPEG, PNG, WebP or TIFF picture",
        hint="Open it in the program that made it and save it as JPEG.",
    )


def _as_text(head: bytes) -> str:
    """Return what a file is that begins like no picture: its first words, if it has any."""
    words = " ".join(head.decode("utf-8", "replace").split())
    if words and all(letter.isprintable() for letter in words) and "\ufffd" not in words[:-3]:
        return f"text that begins with {words[:30]!r}"
    return f"bytes that begin with {head[:8].hex(' ')}"


def _damaged(path: Path, picture: ImageFile.ImageFile, error: Exception) -> Finding:
    said = str(error) or type(error).__name__
    return _stop(
        "broken",
        path,
        "this picture breaks off or is damaged",
        found=f"{picture.format}, {picture.width} × {picture.height} pixels: {said}",
        expected="a picture that is whole",
        hint="Copy it from the camera again, or open it elsewhere and save it anew.",
    )


def _measurements(path: Path) -> Finding:
    return _stop(
        "kind",
        path,
        "this picture's pixels are measurements, not colours",
        expected="8 or 16 bits a channel, in grey or in colours",
        hint="Save it as JPEG or as an 8-bit TIFF.",
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
    said = getattr(error, "strerror", None) or str(error)
    return _stop("missing", path, f"this picture cannot be read: {said.lower()}")


def _stop(rule: str, path: Path, message: str, **rest: str) -> Finding:
    return stop(f"picture-{rule}", Place(file=str(path)), message, **rest)
