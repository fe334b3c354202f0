"""Texts cut into QR segments: never more bits than any other way of cutting them."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from qrcode import util

from labeler.codes.segments import (
    ALPHANUMERIC,
    ALPHANUMERICS,
    BYTE,
    COUNT_BITS,
    MODES,
    NUMERIC,
    CountBits,
    Segment,
    bits,
    cut,
)

MIXED = st.lists(
    st.text("0123456789", max_size=12)
    | st.text("ABC:/.-", max_size=12)
    | st.text("abc?=", max_size=4),
    max_size=8,
).map(lambda parts: "".join(parts).encode())


def _least_bits(data: bytes, count_bits: CountBits) -> int:
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


@settings(max_examples=150, deadline=None)
@given(data=MIXED, last=st.sampled_from(list(COUNT_BITS)))
def test_no_other_way_of_cutting_a_text_takes_fewer_bits(data: bytes, last: int) -> None:
    segments = cut(data, COUNT_BITS[last])
    assert b"".join(piece for _, piece in segments) == data
    assert bits(segments, COUNT_BITS[last]) == _least_bits(data, COUNT_BITS[last])


@settings(max_examples=200, deadline=None)
@given(data=MIXED | st.binary(max_size=40), least=st.sampled_from([1, 4, 20]))
def test_the_qrcode_package_never_cuts_a_text_better(data: bytes, least: int) -> None:
    count_bits = COUNT_BITS[9]
    theirs = [Segment(one.mode, one.data) for one in util.optimal_data_chunks(data, least)]
    assert bits(cut(data, count_bits), count_bits) <= bits(theirs, count_bits)


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
    text: bytes, expected: list[tuple[int, bytes]]
) -> None:
    assert cut(text, COUNT_BITS[9]) == expected
