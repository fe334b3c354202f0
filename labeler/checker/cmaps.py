"""From codes to glyphs and to letters: a font's own table, and a PDF's ToUnicode map."""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator

_HEX = rb"<([0-9A-Fa-f\s]*)>"
_CHAR_BLOCK = re.compile(rb"beginbfchar(.*?)endbfchar", re.DOTALL)
_RANGE_BLOCK = re.compile(rb"beginbfrange(.*?)endbfrange", re.DOTALL)
_CHAR = re.compile(_HEX + rb"\s*" + _HEX)
_RANGE = re.compile(_HEX + rb"\s*" + _HEX + rb"\s*(?:" + _HEX + rb"|\[(.*?)\])", re.DOTALL)

_MOST = 70_000
"""Codes in one map: two bytes give 65,536."""


def to_unicode(data: bytes) -> dict[int, str]:
    """Return the letters that a ToUnicode map gives each code.

    Source: ISO 32000-1:2008, 9.10.3.
    """
    found: dict[int, str] = {}
    for block in _CHAR_BLOCK.findall(data):
        for code, letters in _CHAR.findall(block):
            found[_number(code)] = _letters(letters)
    for block in _RANGE_BLOCK.findall(data):
        for first, last, letters, listed in _RANGE.findall(block):
            found |= _range(_number(first), _number(last), letters, listed)
            if len(found) > _MOST:
                return found
    return found


def _range(first: int, last: int, letters: bytes, listed: bytes) -> dict[int, str]:
    last = min(last, first + _MOST)
    if listed:
        each = [_letters(one) for one in re.findall(_HEX, listed)]
        return dict(zip(range(first, last + 1), each, strict=False))
    start = _letters(letters)
    if not start:
        return {}
    made = {}
    for step in range(last - first + 1):
        point = ord(start[-1]) + step
        if point > 0x10FFFF:
            break
        made[first + step] = start[:-1] + chr(point)
    return made


def _number(digits: bytes) -> int:
    plain = b"".join(digits.split())
    return int(plain, 16) if plain else 0


def _letters(digits: bytes) -> str:
    plain = b"".join(digits.split())
    raw = bytes.fromhex((plain + b"0" * (len(plain) % 2)).decode("ascii"))
    if len(raw) == 1:
        return chr(raw[0])
    return raw.decode("utf-16-be", "replace")


def font_codes(table: bytes) -> dict[tuple[int, int], dict[int, int]]:
    """Return the maps of a font's ``cmap`` table, by platform and encoding, codes to glyphs.

    Source: ISO/IEC 14496-22, 5.2.1 (cmap), formats 0, 4 and 6.
    """
    found: dict[tuple[int, int], dict[int, int]] = {}
    try:
        count = struct.unpack_from(">H", table, 2)[0]
        for index in range(min(count, 16)):
            platform, encoding, offset = struct.unpack_from(">HHI", table, 4 + 8 * index)
            found[platform, encoding] = dict(_map(table[offset:]))
    except struct.error:
        pass
    return found


def _map(table: bytes) -> Iterator[tuple[int, int]]:
    form = struct.unpack_from(">H", table)[0]
    if form == 0:
        yield from ((code, gid) for code, gid in enumerate(table[6:262]) if gid)
    elif form == 6:
        first, count = struct.unpack_from(">HH", table, 6)
        gids = struct.unpack_from(f">{count}H", table, 10)
        yield from ((first + step, gid) for step, gid in enumerate(gids) if gid)
    elif form == 4:
        yield from _segments(table)


def _segments(table: bytes) -> Iterator[tuple[int, int]]:
    count = struct.unpack_from(">H", table, 6)[0] // 2
    ends = struct.unpack_from(f">{count}H", table, 14)
    starts = struct.unpack_from(f">{count}H", table, 16 + 2 * count)
    deltas = struct.unpack_from(f">{count}H", table, 16 + 4 * count)
    at = 16 + 6 * count
    offsets = struct.unpack_from(f">{count}H", table, at)
    for number, (start, end, delta, offset) in enumerate(
        zip(starts, ends, deltas, offsets, strict=True)
    ):
        for code in range(start, min(end, 0xFFFE) + 1):
            gid = code
            if offset:
                where = at + 2 * number + offset + 2 * (code - start)
                if where + 2 > len(table):
                    break
                gid = struct.unpack_from(">H", table, where)[0]
                if not gid:
                    continue
            if gid := (gid + delta) & 0xFFFF:
                yield code, gid
