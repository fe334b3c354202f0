"""Texts cut into segments and packed into codewords, and the arithmetic that the library lends."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from qrcode import LUT, QRCode, base, util

from labeler.codes.qr import (
    ALPHANUMERIC,
    ALPHANUMERICS,
    BYTE,
    COUNT_BITS,
    MODES,
    NUMERIC,
    Level,
    Segment,
    fitted,
    packed,
    segments,
    template,
    with_correction,
)
from tests.codes.qr_reference import ANNEX_I, LEVELS, QRCODE_LEVELS

SMALL = COUNT_BITS[range(1, 10)]

MIXED = st.lists(
    st.text("0123456789", max_size=12)
    | st.text("ABC:/.-", max_size=12)
    | st.text("abc?=", max_size=4),
    max_size=8,
).map(lambda parts: "".join(parts).encode())


def _least_bits(data: bytes, count_bits: Sequence[int]) -> int:
    """Try every way to cut ``data``."""

    def alone(mode: int, piece: bytes) -> int | None:
        if mode == NUMERIC:
            whole, rest = divmod(len(piece), 3)
            return 10 * whole + (0, 4, 7)[rest] if piece.isdigit() else None
        if mode == ALPHANUMERIC:
            whole, rest = divmod(len(piece), 2)
            fits = all(letter in ALPHANUMERICS for letter in piece)
            return 11 * whole + 6 * rest if fits else None
        return 8 * len(piece)

    @cache
    def after(start: int) -> int:
        if start == len(data):
            return 0
        ways = []
        for end in range(start + 1, len(data) + 1):
            for mode, count in zip(MODES, count_bits, strict=True):
                needed = alone(mode, data[start:end])
                if needed is not None:
                    ways.append(4 + count + needed + after(end))
        return min(ways)

    return after(0)


@given(data=MIXED, count_bits=st.sampled_from(list(COUNT_BITS.values())))
def test_no_other_way_of_cutting_a_text_takes_fewer_bits(
    data: bytes, count_bits: tuple[int, int, int]
) -> None:
    cut = segments(data, count_bits)
    assert b"".join(piece for _, piece in cut) == data
    assert packed(cut, count_bits, utf_8=False)[1] == _least_bits(data, count_bits)


@given(data=MIXED | st.binary(max_size=40), least=st.sampled_from([1, 4, 20]))
def test_the_qrcode_package_never_cuts_a_text_better(data: bytes, least: int) -> None:
    theirs = [(one.mode, one.data) for one in util.optimal_data_chunks(data, least)]
    ours = segments(data, SMALL)
    assert packed(ours, SMALL, utf_8=False)[1] <= packed(theirs, SMALL, utf_8=False)[1]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (b"", []),
        (b"0952123454321", [(NUMERIC, b"0952123454321")]),
        (b"LOT 25193-7", [(ALPHANUMERIC, b"LOT 25193-7")]),
        (b"https://go.example.com", [(BYTE, b"https://go.example.com")]),
        (
            b"https://go.example.com/01/09521234543213",
            [(BYTE, b"https://go.example.com/01/"), (NUMERIC, b"09521234543213")],
        ),
        ("Ærø 3".encode(), [(BYTE, "Ærø 3".encode())]),
    ],
)
def test_a_makers_texts_are_cut_where_one_would_expect(
    text: bytes, expected: list[Segment]
) -> None:
    assert segments(text, SMALL) == expected


def test_the_standards_own_example_has_its_codewords() -> None:
    """Source: ISO/IEC 18004:2015, annex I.2."""
    version, data = fitted("01234567", "M")
    whole = with_correction(data, template(version, "M"))
    assert whole[:16].hex(" ") == "10 20 0c 56 61 80 ec 11 ec 11 ec 11 ec 11 ec 11"
    assert whole[16:].hex(" ") == "a5 24 d4 c1 ed 36 c7 87 2c 55"


@pytest.mark.parametrize(
    ("text", "level", "expected"),
    [
        ("HELLO WORLD", "Q", "32 91 11 120 209 114 220 77 67 64 236 17 236 168 72 22 82 217 54"
         " 156 0 46 15 180 122 16"),
        ("AC-42", "H", "32 41 206 231 33 0 236 17 236 242 57 230 240 24 251 32 137 18 168 247 3"
         " 116 220 164 144 85"),
    ],
)  # fmt: skip
def test_alphanumeric_codewords_are_those_of_the_textbooks(
    text: str, level: Level, expected: str
) -> None:
    """AC-42 is the example of ISO/IEC 18004:2015, 7.4.4; the codewords are qrcode 8.2's."""
    version, data = fitted(text, level)
    whole = with_correction(data, template(version, level))
    assert list(whole) == [int(word) for word in expected.split()]


@pytest.mark.parametrize("level", LEVELS)
def test_the_library_counts_blocks_as_the_standard_does(level: Level) -> None:
    """`qrcode.base.rs_blocks`, which its documentation does not name.

    Source: ISO/IEC 18004:2015, table 9: of 5-Q two blocks of (33, 15) and two of (34, 16), and
    the total codewords of every version.
    """
    total = {1: 26, 2: 44, 7: 196, 20: 1085, 40: 3706}
    for version, codewords in total.items():
        blocks = base.rs_blocks(version, QRCODE_LEVELS[level])
        assert sum(block.total_count for block in blocks) == codewords
    assert base.rs_blocks(5, QRCODE_LEVELS["Q"]) == [(33, 15), (33, 15), (34, 16), (34, 16)]


def test_the_library_multiplies_in_the_standards_field() -> None:
    """`qrcode.base.Polynomial` and `gexp`, which its documentation does not name.

    The generator polynomial of seven codewords is x7 + a87 x6 + a229 x5 + a146 x4 + a149 x3 +
    a238 x2 + a102 x + a21. Source: ISO/IEC 18004:2015, annex A, table A.1.
    """
    generator = base.Polynomial([1], 0)
    for power in range(7):
        generator *= base.Polynomial([1, base.gexp(power)], 0)
    assert list(generator) == [base.gexp(power) for power in (0, 87, 229, 146, 149, 238, 102, 21)]
    assert list(generator) == LUT.rsPoly_LUT[7]
    assert list(base.Polynomial([1], 7) % generator) == list(generator)[1:]


def test_the_library_draws_the_codewords_that_it_is_handed() -> None:
    """`qrcode.QRCode.data_cache`, which its documentation does not name: ANNEX_I's codewords."""
    code: Any = QRCode(1, QRCODE_LEVELS["M"], border=0, mask_pattern=2)
    code.data_cache = list(bytes.fromhex("10200c566180ec11ec11ec11ec11ec11a524d4c1ed36c7872c55"))
    code.make(fit=False)
    assert ["".join("01"[dark] for dark in row) for row in code.get_matrix()] == ANNEX_I.split()
