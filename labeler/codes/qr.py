"""QR symbols: a text in, dark rectangles out.

The text's segments, the version, and the mask are the best that ISO/IEC 18004 allows; the
level is the caller's choice.
"""

from __future__ import annotations

from bisect import bisect_left
from functools import lru_cache
from itertools import repeat
from typing import get_args

import numpy as np

from labeler.codes import codewords, segments
from labeler.codes.masks import best_mask
from labeler.codes.symbol import Symbol
from labeler.codes.template import GAP, Grid, Level, Template, capacity, template

QUIET = 4
"""Light modules to keep on every side. Source: ISO/IEC 18004:2015, 6.3.8 (quiet zone)."""

_KEPT = 256
"""Symbols kept for repeats, some 20 kB each: a run of labels seldom mixes more."""


@lru_cache(maxsize=_KEPT)
def qr(payload: str, level: Level = "M") -> Symbol:
    """Return the smallest QR symbol that says ``payload``, its quiet zone included.

    A text beyond ASCII is marked as UTF-8, so that no reader has to guess.

    Raises:
        ValueError: with a sentence, if the text is empty, is no Unicode text, or is too long
            for any symbol at that level; or if there is no such level.
    """
    ribbon, drawn = _finished(payload, level, None)
    side = drawn.size + 2 * QUIET
    return Symbol("qr", payload, side, side, _bars(ribbon, drawn))


def side_of(payload: str, level: Level = "M") -> int:
    """Return how many modules wide the symbol is, its quiet zone included, without drawing it.

    Raises:
        ValueError: as `qr`.
    """
    data = _as_bytes(payload, level)
    version, _, _ = _smallest(data, level, _before(payload))
    return template(version, level).size + 2 * QUIET


def modules(payload: str, level: Level = "M", mask: int | None = None) -> Grid:
    """Return the symbol's modules without quiet zone, with a data mask pattern of your own.

    Raises:
        ValueError: as `qr`; or if ``mask`` is not one of 0 to 7.
    """
    if mask is not None and mask not in range(8):
        raise ValueError(f"a data mask pattern is a number from 0 to 7, not {mask}")
    ribbon, drawn = _finished(payload, level, mask)
    return _line(ribbon, drawn).reshape(drawn.size, drawn.stride)[:, 1 : drawn.size + 1]


def _finished(payload: str, level: Level, mask: int | None) -> tuple[int, Template]:
    """Return the finished symbol as a ribbon, and the template that it is drawn on."""
    data = _as_bytes(payload, level)
    version, count_bits, cut = _smallest(data, level, _before(payload))
    blank = template(version, level)
    message = codewords.data_codewords(cut, count_bits, sum(blank.blocks), not payload.isascii())
    ribbon = _placed(codewords.with_correction(message, blank), blank)
    pattern = best_mask(ribbon, blank) if mask is None else mask
    return ribbon ^ blank.masked[pattern], blank


def _before(payload: str) -> int:
    """Return the bits that come before the text: those that mark it as UTF-8."""
    return 0 if payload.isascii() else codewords.ECI_BITS


def _as_bytes(payload: str, level: Level) -> bytes:
    if level not in get_args(Level):
        raise ValueError(f"a QR code's level is L, M, Q or H, not {level!r}")
    if not payload:
        raise ValueError("a QR code has to say something, and the text is empty")
    try:
        return payload.encode()
    except UnicodeEncodeError as error:
        raise ValueError(
            f"{payload[error.start]!r} (character {error.start + 1}) is half a letter,"
            " which no text can hold"
        ) from None


def _smallest(
    data: bytes, level: Level, before: int
) -> tuple[int, segments.CountBits, list[segments.Segment]]:
    """Return the smallest version that holds ``data`` after ``before`` bits, and its segments."""
    first = 1
    for last, count_bits in segments.COUNT_BITS.items():
        cut = segments.cut(data, count_bits)
        needed = before + segments.bits(cut, count_bits)
        versions = range(first, last + 1)
        found = bisect_left(versions, needed, key=lambda version: capacity(version, level))
        if found < len(versions):
            return versions[found], count_bits, cut
        first = last + 1
    most = (capacity(40, level) - before - 4 - segments.COUNT_BITS[40][2]) // 8
    raise ValueError(
        f"a text of {len(data)} bytes does not fit in a QR code: at level {level} the largest"
        f" holds {most} bytes"
    )


def _placed(stream: bytes, blank: Template) -> int:
    """Return the ribbon of the data and correction codewords alone."""
    bits = np.zeros(8 * blank.span, np.uint8)
    bits[blank.places] = np.unpackbits(np.frombuffer(stream, np.uint8))
    return int.from_bytes(np.packbits(bits, bitorder="little").tobytes(), "little")


def _line(ribbon: int, drawn: Template) -> Grid:
    """Return all rows in one line, one light module before each and the rest of a gap after."""
    packed = np.frombuffer(ribbon.to_bytes(drawn.span, "little"), np.uint8)
    bits = np.unpackbits(packed, bitorder="little")
    return bits[GAP - 1 : GAP - 1 + drawn.size * drawn.stride]


def _bars(ribbon: int, drawn: Template) -> tuple[tuple[int, int, int, int], ...]:
    """Return every run of dark modules in a row as one rectangle."""
    line = _line(ribbon, drawn)
    edges = np.flatnonzero(line[1:] != line[:-1])
    starts, ends = edges[::2], edges[1::2]
    rows, columns = np.divmod(starts, drawn.stride)
    lefts, tops, widths = columns + QUIET, rows + QUIET, ends - starts
    return tuple(zip(lefts.tolist(), tops.tolist(), widths.tolist(), repeat(1)))
