"""A text cut into the segments that a QR symbol holds in the fewest bits.

Source: ISO/IEC 18004:2015, 7.4 (data encoding): the numeric mode packs three digits into ten
bits, the alphanumeric mode two of its 45 characters into eleven, the byte mode one byte into
eight.
"""

from __future__ import annotations

import re
from typing import NamedTuple

NUMERIC, ALPHANUMERIC, BYTE = MODES = (0b0001, 0b0010, 0b0100)
"""Mode indicators. Source: ISO/IEC 18004:2015, table 2."""

ALPHANUMERICS = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
"""In the order of their values. Source: ISO/IEC 18004:2015, table 5."""

CountBits = tuple[int, int, int]
"""The bits of the character count in each of `MODES`."""

COUNT_BITS: dict[int, CountBits] = {9: (10, 9, 8), 26: (12, 11, 16), 40: (14, 13, 16)}
"""Last version of a range to its character counts.

Source: ISO/IEC 18004:2015, table 3.
"""

_DIGIT, _LETTER, _OTHER = 20, 33, 48
"""What a character costs in the leanest mode that holds it, in sixths of a bit."""

_LEANEST = bytes(
    _DIGIT if byte in b"0123456789" else _LETTER if byte in ALPHANUMERICS else _OTHER
    for byte in range(256)
)
_PLAIN_BYTES = re.compile(rb"[^0-9A-Z $%*+\-./:]+(?:[0-9A-Z $%*+\-./:]{1,5}[^0-9A-Z $%*+\-./:]+)*")
"""Bytes that only the byte mode holds, across gaps so short that leaving it and coming back
costs more (two headers, 26 bits at least) than it saves (14/3 bits a digit)."""

_SIXTHS = {NUMERIC: _DIGIT, ALPHANUMERIC: _LETTER, BYTE: _OTHER}
_NEVER = 1 << 40


class Segment(NamedTuple):
    """Some bytes in one mode."""

    mode: int
    data: bytes


_Chain = tuple[int, int, "_Chain"] | None
"""A segment's mode and where it starts, and the chain of those before it."""


def cut(data: bytes, count_bits: CountBits) -> list[Segment]:
    """Return ``data`` in the segments that need the fewest bits of all.

    Walks along the bytes and keeps, for each mode, the least cost of being in that mode there,
    and how it came about; ``best`` is the least with the last segment ended, which rounds it
    up to whole bits. A whole symbol takes 0.1 ms, so this loop is written out, mode by mode.
    """
    to_numeric, to_letters, to_bytes = (6 * (4 + bits) for bits in count_bits)
    numeric, letters, plain = _NEVER, _NEVER, _NEVER
    numerics: _Chain = None
    lettered: _Chain = None
    plainly: _Chain = None
    best, chain, place = 0, plainly, 0
    while place < len(data):
        leanest = _LEANEST[data[place]]
        if best + to_bytes < plain:
            plain, plainly = best + to_bytes, (BYTE, place, chain)
        if leanest == _OTHER:
            end = _end_of_plain_bytes(data, place)
            plain += _OTHER * (end - place)
            numeric, letters = _NEVER, _NEVER
            best, chain, place = plain, plainly, end
            continue
        if best + to_letters < letters:
            letters, lettered = best + to_letters, (ALPHANUMERIC, place, chain)
        if leanest == _LETTER:
            numeric = _NEVER
        elif best + to_numeric < numeric:
            numeric, numerics = best + to_numeric, (NUMERIC, place, chain)
        plain, letters, numeric = plain + _OTHER, letters + _LETTER, numeric + _DIGIT
        best, chain = plain, plainly
        if (ended := -(-letters // 6) * 6) < best:
            best, chain = ended, lettered
        if (ended := -(-numeric // 6) * 6) < best:
            best, chain = ended, numerics
        place += 1
    return _unroll(chain, data)


def bits(segments: list[Segment], count_bits: CountBits) -> int:
    """Return how many bits the segments need, mode indicators and counts included."""
    return sum(
        4 + count_bits[MODES.index(mode)] - (-len(data) * _SIXTHS[mode] // 6)
        for mode, data in segments
    )


def _end_of_plain_bytes(data: bytes, place: int) -> int:
    found = _PLAIN_BYTES.match(data, place)
    return found.end() if found else place + 1


def _unroll(chain: _Chain, data: bytes) -> list[Segment]:
    segments = []
    end = len(data)
    while chain:
        mode, start, chain = chain
        segments.append(Segment(mode, data[start:end]))
        end = start
    return segments[::-1]
