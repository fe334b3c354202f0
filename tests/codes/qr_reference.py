"""What the tests of QR symbols share: the standard's own example, levels, a symbol as a grid."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from qrcode import constants

from labeler.codes.qr import GAP, Level, finished

Grid = npt.NDArray[np.uint8]
"""Rows from the top, 1 is dark, no quiet zone."""

LEVELS: tuple[Level, ...] = ("L", "M", "Q", "H")

QRCODE_LEVELS = {
    "L": constants.ERROR_CORRECT_L,
    "M": constants.ERROR_CORRECT_M,
    "Q": constants.ERROR_CORRECT_Q,
    "H": constants.ERROR_CORRECT_H,
}

ANNEX_I = """
    111111100101101111111
    100000100111101000001
    101110101000001011101
    101110101100001011101
    101110101011101011101
    100000101000101000001
    111111101010101111111
    000000001001100000000
    101111100100101111100
    000101011010100101100
    001000110101010011111
    000010000100000111100
    000111111001010010000
    000000001011111001100
    111111100110101100000
    100000101011111000101
    101110101000100101100
    101110101100100100000
    101110101011010010100
    100000100000000110110
    111111101111010010100
"""
"""01234567 as a version 1-M symbol with data mask pattern 010.

Source: ISO/IEC 18004:2015, annex I.2; as kept in segno's tests/ref_matrix/iso-i2.txt.
"""


def grid_of(payload: str, level: Level = "M", mask: int | None = None) -> Grid:
    """Return the symbol's modules; ``mask`` is the best if None."""
    whole, blank = finished(payload, level, mask)
    bits = f"{whole:0{2 * blank.size * (blank.size + GAP)}b}"[::-1]
    lines = np.array(list(bits), np.uint8).reshape(2, blank.size, blank.size + GAP)
    grid: Grid = lines[0, :, GAP:]
    return grid
