"""The bars that a till reads: UPC-A, EAN-13 and EAN-8, drawn from their own tables.

Source: GS1 General Specifications, 5.2 (EAN/UPC symbology), and ISO/IEC 15420. Every number
that follows is in modules.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Literal

from labeler.catalog.gtin import as_14
from labeler.codes.print_quality import Bar, Digits, Symbol, size_of

RetailKind = Literal["upc-a", "ean-13", "ean-8"]

_ODD = (
    "0001101", "0011001", "0010011", "0111101", "0100011",
    "0110001", "0101111", "0111011", "0110111", "0001011",
)  # fmt: skip
"""Number set A: each digit's seven modules, 1 for dark."""

_RIGHT = tuple(code.translate(str.maketrans("01", "10")) for code in _ODD)
"""Number set C, the right half: A with dark and light exchanged."""

_EVEN = tuple(code[::-1] for code in _RIGHT)
"""Number set B: C read backwards."""

_LEADING = (
    "AAAAAA", "AABABB", "AABBAB", "AABBBA", "ABAABB",
    "ABBAAB", "ABBBAA", "ABABAB", "ABABBA", "ABBABA",
)  # fmt: skip
"""The number sets of the next six digits, by which the first digit of an EAN-13 is said."""

_GUARD, _CENTRE, _DIGIT = 3, 5, 7
_LONGER = 5.0
"""How far guard bars run below the others, 1.65 mm at nominal size."""

_GAP, _DIGIT_HEIGHT = 1.0, 2.75 / 0.330
"""Bars to digits, at least half a module, and the digits' height, 2.75 mm at nominal size.

Source: barcodes.cz/ean-13-specifications for the height; the gap and the digits' places are
from memory of GS1 General Specifications, 5.2. With them a nominal EAN-13 is 25.93 mm tall.
"""

_OUTER_WIDTH = 4.0
"""The first and last digit of a UPC-A are narrower, and stand five modules off the guard bars.
From memory of GS1 General Specifications, 5.2."""


def retail_symbol(gtin: str) -> Symbol:
    """Return the bars for a GTIN, with quiet zones and the digits to read by eye.

    Twelve digits become a UPC-A, thirteen an EAN-13, eight an EAN-8; zeros that only fill a
    number up to thirteen or fourteen digits don't count. The bars have the standard's height.

    Raises:
        ValueError: with a sentence, if it is no GTIN, or names a case of goods rather than what
            is sold.
    """
    kind, digits = _retail_form(gtin)
    size = size_of(kind)
    left_half, right_half = _halves(digits)
    cells = "101" + left_half + "01010" + right_half + "101"
    left, right = size.quiet
    return Symbol(
        kind=kind,
        payload=digits,
        columns=left + len(cells) + right,
        rows=size.tall + _GAP + _DIGIT_HEIGHT,
        bars=tuple(_bars(cells, left, size.tall, _GUARD + (_DIGIT if kind == "upc-a" else 0))),
        digits=tuple(_digits(kind, digits, left, size.tall + _GAP)),
    )


def _retail_form(gtin: str) -> tuple[RetailKind, str]:
    """Return the symbol for a GTIN, and the digits that it shows."""
    whole = as_14(gtin)
    if len(gtin) == 8 or (len(gtin) > 12 and whole.startswith("000000")):
        return "ean-8", whole[6:]
    if whole.startswith("00"):
        return "upc-a", whole[2:]
    if whole.startswith("0"):
        return "ean-13", whole[1:]
    raise ValueError(
        f"{gtin} names a case or another pack of goods, since its first digit of fourteen is"
        f" {gtin[0]}; a till reads only the number of what is sold singly"
    )


def _halves(digits: str) -> tuple[str, str]:
    """Return both halves. A UPC-A is an EAN-13 that begins with 0; an EAN-8 takes sets A and C."""
    sets = "AAAA"
    if len(digits) > 8:
        digits = digits.zfill(13)
        sets, digits = _LEADING[int(digits[0])], digits[1:]
    half = len(sets)
    left = zip(digits[:half], sets, strict=True)
    return (
        "".join((_ODD if number_set == "A" else _EVEN)[int(digit)] for digit, number_set in left),
        "".join(_RIGHT[int(digit)] for digit in digits[half:]),
    )


def _bars(cells: str, left: int, tall: float, outer: int) -> Iterator[Bar]:
    """Yield every run of dark cells; those in the guards and in the outer cells are longer."""
    inner = range(outer, len(cells) - outer)
    middle = range((len(cells) - _CENTRE) // 2, (len(cells) + _CENTRE) // 2)
    for dark, run in groupby(enumerate(cells), key=lambda cell: cell[1]):
        places = [place for place, _ in run]
        guard = places[0] not in inner or places[0] in middle
        if dark == "1":
            yield left + places[0], 0, len(places), tall + (_LONGER if guard else 0)


def _digits(kind: RetailKind, digits: str, left: int, top: float) -> Iterator[Digits]:
    """Yield the digits in groups, each under the bars that say it."""
    lone = {"upc-a": 1, "ean-13": 1, "ean-8": 0}[kind]
    closing = 1 if kind == "upc-a" else 0
    inner = digits[lone : len(digits) - closing]
    half = len(inner) // 2
    first = left + _GUARD + _DIGIT * closing
    second = first + half * _DIGIT + _CENTRE
    end = second + half * _DIGIT + _DIGIT * closing + _GUARD
    if lone:
        width = _OUTER_WIDTH if closing else float(_DIGIT)
        yield Digits(digits[0], 0, top, width, _DIGIT_HEIGHT)
    yield Digits(inner[:half], first, top, half * _DIGIT, _DIGIT_HEIGHT)
    yield Digits(inner[half:], second, top, half * _DIGIT, _DIGIT_HEIGHT)
    if closing:
        yield Digits(digits[-1], end + _LONGER, top, _OUTER_WIDTH, _DIGIT_HEIGHT)
