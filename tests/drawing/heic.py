"""HEIC photographs to read, written without the library that reads them.

``quadrants.hevc`` is a picture of 64 x 48 pixels, red and green above blue and yellow, encoded once
by Debian's x265 3.5 from planar 4:2:0 samples::

    x265 --input q.yuv --input-res 64x48 --fps 1 --frames 1 --keyint 1 --crf 10 --ctu 32 --no-info \
         --range full --colormatrix smpte170m --profile mainstillpicture -o quadrants.hevc

`heic` puts it into a file as telephones do. Source of the boxes: ISO/IEC 14496-12 and 23008-12;
of the decoder's configuration, ISO/IEC 14496-15, 8.3.3.1: from memory; libheif's heif-info 1.15 and
exiftool 12.57 read what comes of it.
"""

from __future__ import annotations

import struct
from pathlib import Path

from PIL import Image

QUADRANTS = ((199, 39, 39), (38, 180, 58), (38, 60, 198), (219, 209, 58))
"""Red, green, blue, yellow: top left, top right, bottom left, bottom right, before any turn."""

_WIDE, _HIGH = 64, 48
_STREAM = Path(__file__).with_name("quadrants.hevc")
_HEADS = (32, 33, 34)
"""Video, sequence and picture parameter set. Source: ITU-T H.265, table 7-1."""


def heic(turns: int = 0, exif: bytes = b"") -> bytes:
    """Return the photograph, to be turned by quarters counterclockwise, with an Exif block."""
    units = {unit[0] >> 1 & 63: unit for unit in _units(_STREAM.read_bytes())}
    slices = units[max(kind for kind in units if kind < _HEADS[0])]
    data = [struct.pack(">I", len(slices)) + slices]
    items = [_full("infe", 2, struct.pack(">HH4sx", 1, 0, b"hvc1"))]
    describes = b""
    if exif:
        data.append(struct.pack(">I", 0) + exif)
        items.append(_full("infe", 2, struct.pack(">HH4sx", 2, 0, b"Exif")))
        describes = _full("iref", 0, _box("cdsc", struct.pack(">HHH", 2, 1, 1)))
    properties = (
        _box("hvcC", _configuration(units)),
        _full("ispe", 0, struct.pack(">II", _WIDE, _HIGH)),
        _box("irot", bytes([turns])),
    )

    def meta(start: int) -> bytes:
        spots = b""
        for number, part in enumerate(data, 1):
            spots += struct.pack(">HHHII", number, 0, 1, start, len(part))
            start += len(part)
        return _full(
            "meta", 0,
            _full("hdlr", 0, struct.pack(">I4s12xx", 0, b"pict")),
            _full("pitm", 0, struct.pack(">H", 1)),
            _full("iinf", 0, struct.pack(">H", len(items)), *items),
            describes,
            _box(
                "iprp", _box("ipco", *properties),
                _full("ipma", 0, struct.pack(">IHBBBB", 1, 1, 3, 0x81, 2, 0x83)),
            ),
            _full("iloc", 0, struct.pack(">BBH", 0x44, 0, len(data)), spots),
        )  # fmt: skip

    brand = _box("ftyp", b"heic", struct.pack(">I", 0), b"mif1heic")
    return brand + meta(len(brand) + len(meta(0)) + 8) + _box("mdat", *data)


def with_place() -> bytes:
    """Return an Exif block that tells the camera, the place, and a turn that is done already."""
    note = Image.Exif()
    note[0x010F], note[0x0112] = "Sample Camera", 6
    note.get_ifd(0x8825).update({1: "N", 2: (44.0, 30.0, 15.5), 3: "W", 4: (91.0, 2.0, 3.0)})
    return note.tobytes()


def _configuration(units: dict[int, bytes]) -> bytes:
    """Return the decoder's configuration: profile and level from the sequence, 8 bits in 4:2:0."""
    level = units[33].replace(b"\0\0\3", b"\0\0")[3:15]
    record = (
        b"\1"
        + level
        + struct.pack(">HBBBBHBB", 0xF000, 0xFC, 0xFD, 0xF8, 0xF8, 0, 0x0F, len(_HEADS))
    )
    for kind in _HEADS:
        record += struct.pack(">BHH", kind, 1, len(units[kind])) + units[kind]
    return record


def _units(stream: bytes) -> list[bytes]:
    parts = stream.replace(b"\0\0\0\1", b"\0\0\1").split(b"\0\0\1")
    return [part.rstrip(b"\0") for part in parts if part]


def _box(kind: str, *parts: bytes) -> bytes:
    body = b"".join(parts)
    return struct.pack(">I4s", len(body) + 8, kind.encode()) + body


def _full(kind: str, version: int, *parts: bytes) -> bytes:
    return _box(kind, struct.pack(">B3x", version), *parts)
