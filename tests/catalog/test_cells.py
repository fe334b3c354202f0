"""Cells as people type them and as spreadsheets leave them."""

from __future__ import annotations

import datetime
import re
import unicodedata
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import product
from math import gcd
from typing import Any

import pytest

from labeler.catalog.spreadsheet.cells import (
    PRODUCT_COLUMNS,
    CellError,
    Uncalculated,
    date_parts,
    likely_fraction,
    named,
    nearest_column,
    read_gtin,
    read_hook,
    read_line,
    read_markets,
    read_note,
    read_pack,
    read_price,
    read_sku,
    read_weight,
    read_yes,
    serial_date,
)
from labeler.catalog.spreadsheet.own_cells import weight_within
from labeler.units import Weight


@pytest.mark.parametrize(
    "typed",
    [
        "3/8", "3/8 oz", " 3/8oz ", "3/8\u00a0oz", ".375", "0.375", "0,375", "0.375 oz", "0,375 OZ",
        "⅜", "⅜ oz", "3 / 8", "3/8 ounce", 0.375, "0.375\u200b",
    ],
)  # fmt: skip
def test_three_eighths_however_it_is_typed(typed: Any) -> None:
    assert read_weight(typed) == Weight.parse("3/8 oz")


@pytest.mark.parametrize(
    ("typed", "weight"),
    [
        ("10.6 g", "10.6 g"),
        ("10,6 g", "10.6 g"),
        ("10.6 grams", "10.6 g"),
        ("1 1/2", "1 1/2 oz"),
        ("1-1/2 oz", "1 1/2 oz"),
        (1, "1 oz"),
        (1.5, "1 1/2 oz"),
        ("8 oz", "8 oz"),
    ],
)
def test_other_weights(typed: Any, weight: str) -> None:
    assert read_weight(typed) == Weight.parse(weight)


def moment(year: int, month: int, day: int) -> datetime.datetime:
    """A date cell as openpyxl returns it: a moment without a time zone."""
    return datetime.datetime.combine(datetime.date(year, month, day), datetime.time())


DATES: list[tuple[Any, str]] = [
    # What spreadsheets show, and export, once they have taken a fraction for a date.
    (moment(2026, 3, 8), "3/8"),
    (datetime.date(2026, 8, 3), "3/8"),
    (moment(2026, 1, 16), "1/16"),
    (moment(1932, 1, 1), "1/32"),
    ("3-Aug", "3/8"),
    ("8-Mar", "3/8"),
    ("08-Mar", "3/8"),
    ("Mar-08", "3/8"),
    ("8. Mrz", "3/8"),
    ("8. März", "3/8"),
    ("3-août", "3/8"),
    ("3-Aug-26", "3/8"),
    ("Jan-32", "1/32"),
    ("5/16/2026", "5/16"),
    ("08.03.2026", "3/8"),
    ("2026-03-08", "3/8"),
    ("2026-03-08 00:00:00", "3/8"),
    ("2-Jan", "1/2"),
    ("Aug 5, 2026", "5/8"),
]


@pytest.mark.parametrize(("cell", "typed"), DATES)
def test_a_weight_that_has_become_a_date_is_refused_and_the_fraction_guessed(
    cell: Any, typed: str
) -> None:
    with pytest.raises(CellError) as caught:
        read_weight(cell)
    assert "date" in caught.value.message
    assert f"probably {typed}." in caught.value.hint
    assert "Text" in caught.value.hint


def test_a_date_that_has_become_a_number_is_told_as_such() -> None:
    # ECMA-376-1, 18.17.4.1: 1 January 1900 is day 1, and day 60 is a day that never was.
    assert serial_date(43831) == datetime.date(2020, 1, 1)
    assert serial_date(0.375) is None
    for cell in (46089, "46089", 46089.0):
        with pytest.raises(CellError) as caught:
            read_weight(cell)
        assert "2026-03-08" in caught.value.hint
        assert "probably 3/8" in caught.value.hint


def test_a_guess_is_only_made_where_a_fraction_of_the_trade_could_have_stood() -> None:
    assert likely_fraction((8, 3)) == "3/8"
    assert likely_fraction((7, 5)) == ""
    assert likely_fraction((2, 4)) == ""
    assert date_parts("3/8 oz") is None


PARTS = [Fraction(n, d) for d in (2, 3, 4, 6, 8, 16, 32, 64) for n in (1, 3, 5, d - 1)
         if n < d and gcd(n, d) == 1]  # fmt: skip
SIGNS = {Fraction(unicodedata.numeric(chr(each))).limit_denominator(10): chr(each)
         for each in (*range(0xBC, 0xBF), *range(0x2150, 0x215F))}  # fmt: skip
UNITS = {
    "oz": ("", "oz", " oz", "-oz", " oz.", "OZ", " ounce", " ounces", " ozs", "\u00a0Oz"),
    "g": ("g", " g", "-g", " g.", " grams", " gram", " gm", "\u202fG"),
}
"""How units are written; the first few once more behind whole numbers with fractions."""


def ways_to_write(value: Fraction) -> Iterator[str]:
    """Yield every way in which people and their programs write a number."""
    whole, part = divmod(value, 1)
    if part:
        for slash in ("/", " / ", "\u2044", "\u2215", "\uff0f"):
            small = f"{part.numerator}{slash}{part.denominator}"
            gaps = (" ", "-", " - ", "\u00a0", "\u2013", "\u2011")
            yield from (f"{whole}{gap}{small}" for gap in gaps) if whole else (small,)
        if sign := SIGNS.get(part):
            yield from (f"{whole or ''}{sign}", f"{whole or ''} {sign}")
    if 10**6 % part.denominator == 0:
        exact = format(Decimal(value.numerator) / value.denominator, "f")
        yield from (exact, f"{exact.partition('.')[0]}.{exact.partition('.')[2]:0<7}")
        yield from (exact.removeprefix("0"), exact.replace(".", ",").removeprefix("0"))


def test_a_weight_is_the_same_fraction_in_whatever_way_it_is_written() -> None:
    """Held against the standard library's fractions; only a comma before three figures is asked."""
    read = 0
    for value in (whole + part for whole in (0, 2) for part in (Fraction(0), *PARTS)):
        for number, unit in product(ways_to_write(value) if value else (), UNITS):
            for written in UNITS[unit] if value < 1 else UNITS[unit][:4]:
                if re.fullmatch(r"[1-9],\d{3}", number) and unit == "g":
                    continue
                found = read_weight(f" {number}{written} ")
                assert (found.value, found.unit) == (value, unit), (number, written)
                read += 1
    assert read > 5_000


def test_no_fraction_that_a_spreadsheet_made_a_date_of_is_taken_for_a_weight() -> None:
    """3/8 becomes 3 August or 8 March; what cannot be a day of a month stays as it is typed."""
    for part in PARTS:
        for month, day in {part.as_integer_ratio(), part.as_integer_ratio()[::-1]}:
            if month > 12 or day > 31:
                continue
            date = datetime.date(2026, month, day)
            forms = (
                date, datetime.datetime.combine(date, datetime.time()), f"{date:%d-%b}",
                f"{date:%b-%d}",
                date.isoformat(), f"{date:%m/%d/%Y}", f"{month}/{day}/26", f"{day}.{month}.2026",
                f"{date} 00:00:00", (date - datetime.date(1899, 12, 30)).days,
            )  # fmt: skip
            for form in forms:
                with pytest.raises(CellError, match="date"):
                    read_weight(form)


@pytest.mark.parametrize(
    "typed", ["11/8 oz", "1 11/4 oz", "8/8 oz", "1,000 g", "4,999g", "3/8 / 2 oz"]
)
def test_a_weight_that_may_be_two_is_asked_about(typed: str) -> None:
    with pytest.raises(CellError):
        read_weight(typed)


@pytest.mark.parametrize("cell", [datetime.time(9, 0), datetime.timedelta(hours=3), True, "heavy"])
def test_what_is_no_weight_at_all(cell: Any) -> None:
    with pytest.raises(CellError):
        read_weight(cell)


@pytest.mark.parametrize("cell", ["10.6", 10.6, "14", 28])
def test_a_heavy_number_without_a_unit_is_asked_for_it(cell: Any) -> None:
    with pytest.raises(CellError, match="without a unit") as caught:
        read_weight(cell)
    assert f"{cell} g or {cell} oz" in caught.value.expected


@pytest.mark.parametrize("cell", [0, -0.375, "-3/8", "0", "3/0", float("inf"), float("nan"), 1e300])
def test_no_weight_is_nought_or_less_or_endless(cell: Any) -> None:
    with pytest.raises(CellError):
        read_weight(cell)


@pytest.mark.parametrize(
    ("typed", "size"),
    [("4/0", "4/0"), ("#4/0", "4/0"), ("4 / 0", "4/0"), ("No. 4", "4"), (4, "4"), (4.0, "4"),
     ("size 1/0", "1/0"), (" 10 ", "10")],
)  # fmt: skip
def test_hooks_however_they_are_typed(typed: Any, size: str) -> None:
    assert read_hook(typed) == size


@pytest.mark.parametrize("typed", ["0/4", "33", "4-0", datetime.date(2026, 4, 1), "x" * 99])
def test_what_is_no_hook_size(typed: Any) -> None:
    with pytest.raises(CellError):
        read_hook(typed)


@pytest.mark.parametrize(
    ("typed", "amount", "currency"),
    [
        ("4.75", "4.75", ""),
        ("4,75", "4.75", ""),
        ("$4.75", "4.75", ""),
        ("4.75 USD", "4.75", "USD"),
        ("4,75 €", "4.75", "EUR"),
        ("£ 4", "4", "GBP"),
        (4.75, "4.75", ""),
        (1.1 * 3, "3.3", ""),
        (5, "5", ""),
        ("1,234.50", "1234.50", ""),
    ],
)
def test_prices_however_they_are_typed(typed: Any, amount: str, currency: str) -> None:
    assert read_price(typed) == (Decimal(amount), currency)


@pytest.mark.parametrize(
    "typed", ["1,200", "-4", -4, "free", "4.75.1", float("nan"), 1e300, True, "1e3", "4,7,5"]
)
def test_what_is_no_price_or_could_be_two(typed: Any) -> None:
    with pytest.raises(CellError):
        read_price(typed)


@pytest.mark.parametrize(
    "typed", ["9521234543213", " 952 1234 54321-3", 9521234543213, 9521234543213.0]
)
def test_gtins_however_they_are_typed(typed: Any) -> None:
    # github.com/gs1/gs1-syntax-engine, src/c-lib/dl.c: 952123454321 closes with 3.
    assert read_gtin(typed) == "9521234543213"


@pytest.mark.parametrize("typed", ["9.52E+12", "9,52123E+12", "9.52e12", 9521234543213.5, 1e300])
def test_a_gtin_that_a_spreadsheet_has_rounded_is_lost(typed: Any) -> None:
    with pytest.raises(CellError, match="rounded"):
        read_gtin(typed)


def test_a_gtin_that_has_become_a_quantity_is_refused() -> None:
    with pytest.raises(CellError, match="quantity"):
        read_gtin("9521234543213.0")


def test_a_gtin_that_has_lost_its_nought_says_so() -> None:
    # 012345678905 is valid: 85 is five short of 90 (GS1 General Specifications, 7.9).
    with pytest.raises(CellError) as caught:
        read_gtin(12345678905)
    assert "lost a zero in front: 012345678905" in caught.value.hint


def test_a_gtin_whose_end_is_noughts_may_have_been_rounded() -> None:
    with pytest.raises(CellError) as caught:
        read_gtin(9521234540000)
    assert "rounded" in caught.value.hint


def test_a_coupon_is_no_gtin_for_goods() -> None:
    with pytest.raises(CellError, match="coupons"):
        read_gtin("9780306406157")  # ISBN-13 of ISO 2108's users' manual


@pytest.mark.parametrize(
    ("typed", "yes"),
    [("yes", True), ("Y", True), (" x ", True), (True, True), (1, True), ("✓", True),
     ("no", False), (False, False), (0, False), ("-", False)],
)  # fmt: skip
def test_yes_and_no(typed: Any, yes: bool) -> None:
    assert read_yes(typed) is yes


def test_perhaps_is_neither() -> None:
    with pytest.raises(CellError, match="neither"):
        read_yes("perhaps")


def test_skus_are_lifted_to_capitals_and_nothing_else() -> None:
    assert read_sku(" rv-38-40-mln\u00a0") == "RV-38-40-MLN"
    assert read_sku(1204.0) == "1204"
    for typed in ("RV/38", "RV 38", "RV\n38", "ÉP-1", "-RV", "x" * 41, datetime.date(2026, 3, 8)):
        with pytest.raises(CellError):
            read_sku(typed)


def test_packs_and_markets_and_notes() -> None:
    assert read_pack("3") == read_pack(3.0) == 3
    for typed in ("0", 0, "1001", "two", 2.5):
        with pytest.raises(CellError):
            read_pack(typed)
    assert read_markets("us, US-CA;ca us") == ("US", "US-CA", "CA")
    with pytest.raises(CellError):
        read_markets("usa")
    assert read_note("two\nlines ") == "two lines"
    assert read_note(datetime.date(2026, 3, 8)) == "2026-03-08"
    with pytest.raises(CellError, match="date"):
        read_line(datetime.date(2026, 3, 8))


@pytest.mark.parametrize("code", ["#REF!", "#N/A", "#DIV/0!", "#VALUE!", "#NAME?"])
def test_a_spreadsheets_errors_are_no_text(code: str) -> None:
    # ECMA-376-1, 18.17.2.3.
    for column in PRODUCT_COLUMNS:
        with pytest.raises(CellError, match="error here"):
            column.read(code)
        with pytest.raises(CellError, match="formula"):
            column.read(Uncalculated("=1+1"))


@pytest.mark.parametrize("column", PRODUCT_COLUMNS, ids=lambda column: column.name)
def test_every_columns_own_example_can_be_read(column: Any) -> None:
    assert column.read(column.example)
    assert column.about


@pytest.mark.parametrize(
    ("heading", "name"),
    [("SKU", "sku"), (" Head_Weight ", "weight"), ("hook size", "hook"), ("Color", "colour"),
     ("Retail-Price", "price"), ("UPC", "gtin"), ("Notes", "note"), ("DISCONTINUED", "retired")],
)  # fmt: skip
def test_headings_are_forgiven_case_spaces_and_underscores(heading: str, name: str) -> None:
    column = named(PRODUCT_COLUMNS, heading)
    assert column is not None
    assert column.name == name


def test_a_slip_in_a_heading_is_told_from_another_column() -> None:
    slip = nearest_column(PRODUCT_COLUMNS, "Prise")
    assert slip is not None
    assert slip.name == "price"
    assert nearest_column(PRODUCT_COLUMNS, "cost") is None
    assert nearest_column(PRODUCT_COLUMNS, "on hand") is None


@pytest.mark.parametrize(
    ("cell", "bare", "weight"),
    [
        ("Slough Hopper 3/8 oz", "Slough Hopper", "3/8 oz"),
        ("Slough Hopper (1 1/2 oz.) white", "Slough Hopper white", "1 1/2 oz"),
        ("Hopper, 1 ½ oz", "Hopper", "1 1/2 oz"),
        ("Hopper 2/0 ⅜ oz", "Hopper 2/0", "3/8 oz"),
        ("10.5g Hopper", "Hopper", "10.5 g"),
        ("Hopper 4 in", "Hopper 4 in", None),
        ("1 " * 20_000 + "Hopper", None, None),
        (" " * 20_000 + "Hopper 3/8 oz", "Hopper", "3/8 oz"),
        ("1-" * 20_000 + "x 3/8 oz", None, "3/8 oz"),
    ],
    ids=lambda value: value[:20] if isinstance(value, str) else "",
)
def test_a_weight_within_a_name_is_found_however_long_the_cell(
    cell: str, bare: str | None, weight: str | None
) -> None:
    """Each number is gone over once: a cell of thousands of letters once took minutes."""
    name, found = weight_within(cell)
    assert found == (Weight.parse(weight) if weight else None)
    if bare is not None:
        assert name == bare
