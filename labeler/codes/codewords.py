"""Segments packed into codewords, with the codewords that put damage right."""

from __future__ import annotations

from labeler.codes.segments import (
    ALPHANUMERIC,
    ALPHANUMERICS,
    BYTE,
    MODES,
    NUMERIC,
    CountBits,
    Segment,
)
from labeler.codes.template import Template

ECI_UTF_8 = (0b0111 << 8) | 26
"""Twelve bits that say "the bytes that follow are UTF-8": the ECI mode and its assignment number.

Source: ISO/IEC 18004:2015, 7.4.2 (ECI mode); AIM ITS/04-023 (ECI part 3), 000026.
"""

ECI_BITS = 12

_PADDING = b"\xec\x11"
"""Source: ISO/IEC 18004:2015, 7.4.10 (bit stream to codeword conversion)."""

_VALUE = {letter: value for value, letter in enumerate(ALPHANUMERICS)}


def data_codewords(segments: list[Segment], count_bits: CountBits, room: int, utf_8: bool) -> bytes:
    """Return the segments as codewords, closed and padded to ``room`` bytes, which must do.

    Source: ISO/IEC 18004:2015, 7.4.9 (terminator) and 7.4.10.
    """
    stream, length = (ECI_UTF_8, ECI_BITS) if utf_8 else (0, 0)
    for mode, data in segments:
        counter = count_bits[MODES.index(mode)]
        value, bits = _PACK[mode](data)
        stream = ((stream << 4 | mode) << counter | len(data)) << bits | value
        length += 4 + counter + bits
    closing = min(4, 8 * room - length)
    closing += -(length + closing) % 8
    used = (length + closing) // 8
    padding = _PADDING * ((room - used + 1) // 2)
    return (stream << closing).to_bytes(used, "big") + padding[: room - used]


def with_correction(data: bytes, template: Template) -> bytes:
    """Return ``data`` and after it the error correction codewords, block by block.

    Each block's are the remainder of its data divided by the generator polynomial.
    Source: ISO/IEC 18004:2015, 7.5 (error correction coding).
    """
    feedback, count = template.feedback, template.correction
    top = 8 * (count - 1)
    below = (1 << top) - 1
    corrections = [data]
    start = 0
    for length in template.blocks:
        remainder = 0
        for codeword in data[start : start + length]:
            leading = remainder >> top ^ codeword
            remainder = (remainder & below) << 8 ^ feedback[leading]
        corrections.append(remainder.to_bytes(count, "big"))
        start += length
    return b"".join(corrections)


def _pack_numeric(data: bytes) -> tuple[int, int]:
    """Three digits in ten bits, two left over in seven, one in four (7.4.3)."""
    whole = len(data) // 3 * 3
    value = 0
    for place in range(0, whole, 3):
        value = value << 10 | int(data[place : place + 3])
    rest = data[whole:]
    spare = (0, 4, 7)[len(rest)]
    if rest:
        value = value << spare | int(rest)
    return value, whole // 3 * 10 + spare


def _pack_alphanumeric(data: bytes) -> tuple[int, int]:
    """Two characters in eleven bits, one left over in six (7.4.4)."""
    pairs = iter(data[: len(data) & ~1])
    value = 0
    for first, second in zip(pairs, pairs, strict=True):
        value = value << 11 | _VALUE[first] * 45 + _VALUE[second]
    if len(data) % 2:
        value = value << 6 | _VALUE[data[-1]]
    return value, len(data) // 2 * 11 + len(data) % 2 * 6


def _pack_bytes(data: bytes) -> tuple[int, int]:
    """A byte in eight bits (7.4.5)."""
    return int.from_bytes(data, "big"), 8 * len(data)


_PACK = {NUMERIC: _pack_numeric, ALPHANUMERIC: _pack_alphanumeric, BYTE: _pack_bytes}
