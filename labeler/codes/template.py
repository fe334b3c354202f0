"""All of a QR symbol that its version and level fix, made once and kept.

The tables, the function patterns and the data masks are the ``qrcode`` package's, and come in
by this door alone. Modules lie in one long integer, a *ribbon*, so that a whole symbol is
shifted, masked and counted in a few steps:

    four light modules, row 0, four light modules, row 1, ... then the columns likewise

The lowest bit is the first module; dark is 1. Four light modules part the lines, because that
is as far as any of the rules that judge a symbol looks past a line's end.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
from qrcode import QRCode, base, constants, util

Level = Literal["L", "M", "Q", "H"]
"""How much damage is put right: about 7, 15, 25 and 30 % of the codewords.

Source: ISO/IEC 18004:2015, 7.5.1 (error correction capacity).
"""

Grid = npt.NDArray[np.uint8]
"""Rows from the top, 1 is dark, no quiet zone."""

GAP = 4
"""Light modules between two lines of a ribbon."""

_LEVELS = {
    "L": constants.ERROR_CORRECT_L,
    "M": constants.ERROR_CORRECT_M,
    "Q": constants.ERROR_CORRECT_Q,
    "H": constants.ERROR_CORRECT_H,
}


@dataclass(frozen=True, slots=True)
class Template:
    """A symbol of one version and level, before the data.

    Attributes:
        size: modules in a row.
        stride: modules from one line of the ribbon to the next.
        span: bytes of a ribbon.
        blocks: data codewords of each block, in order.
        correction: error correction codewords of every block.
        feedback: for each value of the leading byte, what it adds to the remainder of a
            division by the generator polynomial, as an integer of ``correction`` bytes.
        places: for each bit of data and correction, block by block, its two bits of the ribbon.
        masked: for each data mask pattern, the ribbon of the symbol whose data are all 0:
            function patterns, format and version information, and the mask.
        pairs: ribbon of the modules that have a right neighbour.
        squares: ribbon of the modules, in rows only, that have a right and a lower neighbour.
    """

    size: int
    stride: int
    span: int
    blocks: tuple[int, ...]
    correction: int
    feedback: tuple[int, ...]
    places: npt.NDArray[np.intp]
    masked: tuple[int, ...]
    pairs: int
    squares: int


def capacity(version: int, level: Level) -> int:
    """Return the bits of data that a symbol holds. Source: ISO/IEC 18004:2015, table 7."""
    return int(util.BIT_LIMIT_TABLE[_LEVELS[level]][version])


@lru_cache(maxsize=64)
def template(version: int, level: Level) -> Template:
    """Return the template of ``version``, 1 to 40, at ``level``."""
    size = 17 + 4 * version
    blocks = base.rs_blocks(version, _LEVELS[level])
    data = tuple(int(block.data_count) for block in blocks)
    correction = int(blocks[0].total_count - blocks[0].data_count)
    grids = [_symbol_of(0x00, version, level, mask) for mask in range(8)]
    free = grids[0] != _symbol_of(0xFF, version, level, 0)
    rows, columns = _path(free)[_stream_order(data, correction)].T
    stride = size + GAP
    return Template(
        size=size,
        stride=stride,
        span=_span(size),
        blocks=data,
        correction=correction,
        feedback=_feedback(correction),
        places=np.stack(
            [GAP + rows * stride + columns, GAP + (size + columns) * stride + rows]
        ).astype(np.intp),
        masked=tuple(as_ribbon(grid, grid.T) for grid in grids),
        pairs=as_ribbon(*[_corner(size, size, size - 1)] * 2),
        squares=as_ribbon(_corner(size, size - 1, size - 1), _corner(size, 0, 0)),
    )


def as_ribbon(rows: Grid, columns: Grid) -> int:
    """Return the ribbon of a symbol's rows and of its columns."""
    lines = np.pad(np.concatenate([rows, columns]), ((0, 0), (0, GAP)))
    packed = np.packbits(np.pad(lines.ravel(), (GAP, 0)), bitorder="little")
    return int.from_bytes(packed.tobytes(), "little")


def _span(size: int) -> int:
    return (GAP + 2 * size * (size + GAP) + 7) // 8


def _corner(size: int, high: int, wide: int) -> Grid:
    """Return a grid that is dark in its top left rectangle."""
    grid = np.zeros((size, size), np.uint8)
    grid[:high, :wide] = 1
    return grid


def _symbol_of(byte: int, version: int, level: Level, mask: int) -> Grid:
    """Return a whole symbol whose codewords are all ``byte``."""
    code: Any = QRCode(version=version, error_correction=_LEVELS[level], mask_pattern=mask)
    code.data_cache = [byte] * sum(
        block.total_count for block in base.rs_blocks(version, _LEVELS[level])
    )
    code.makeImpl(False, mask)
    return np.array(code.modules, np.uint8)


def _path(free: npt.NDArray[np.bool_]) -> npt.NDArray[np.intp]:
    """Return row and column of every module for data, in the order in which they are filled.

    Two columns at a time from the right, up and down in turn, leaping over the timing pattern.
    Source: ISO/IEC 18004:2015, 7.7.3 (symbol character placement).
    """
    size = len(free)
    path = []
    rights = [right if right > 6 else right - 1 for right in range(size - 1, 0, -2)]
    for turn, right in enumerate(rights):
        rows = range(size) if turn % 2 else range(size - 1, -1, -1)
        path += [(row, col) for row in rows for col in (right, right - 1) if free[row, col]]
    return np.array(path, np.intp)


def _stream_order(data: tuple[int, ...], correction: int) -> npt.NDArray[np.intp]:
    """Return, for each bit of data and correction block by block, its place in the stream.

    The stream takes the first codeword of every block, then the second, and so on.
    Source: ISO/IEC 18004:2015, 7.6 (constructing the final message codeword sequence).
    """
    codewords = [(0, nth, block) for block, count in enumerate(data) for nth in range(count)]
    codewords += [(1, nth, block) for block in range(len(data)) for nth in range(correction)]
    order = np.empty(len(codewords), np.intp)
    order[sorted(range(len(codewords)), key=codewords.__getitem__)] = np.arange(len(codewords))
    return (order[:, None] * 8 + np.arange(8)).ravel()


def _feedback(correction: int) -> tuple[int, ...]:
    """Return the multiples of the generator polynomial, without its leading term.

    Source: ISO/IEC 18004:2015, annex A (error correction detection and correction generator
    polynomials).
    """
    generator = base.Polynomial([1], 0)
    for power in range(correction):
        generator *= base.Polynomial([1, base.gexp(power)], 0)
    terms = list(generator)[1:]
    return (0, *(_multiple(terms, byte) for byte in range(1, 256)))


def _multiple(terms: list[int], byte: int) -> int:
    products = (base.gexp(base.glog(term) + base.glog(byte)) if term else 0 for term in terms)
    return int.from_bytes(bytes(products), "big")
