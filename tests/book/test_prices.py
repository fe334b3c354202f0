"""Money held against worked examples worked by hand, and against the standard library."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.book.edition import (
    RETAIL_BASE,
    dealer_price,
    excise_on_top,
    excise_within,
    keystone,
    margin,
    percent,
)
from labeler.catalog.model import Tier

pytestmark = pytest.mark.daily

PRICES = st.integers(1, 99_999).map(lambda cents: Decimal(cents) / 100)


def tier(off: str, round_to: str = "0.01") -> Tier:
    return Tier(name="T", off=off, round_to=round_to)


@pytest.mark.parametrize(
    ("retail", "off", "step", "dealer"),
    [
        # 4.95 x 0.65 = 3.2175
        ("4.95", "35 %", "0.05", "3.20"),
        ("4.95", "35 %", "0.01", "3.22"),
        ("4.95", "35 %", "0.25", "3.25"),
        # 5.25 x 0.50 = 2.625: half a cent and half a step go up
        ("5.25", "50 %", "0.01", "2.63"),
        ("5.25", "50 %", "0.05", "2.65"),
        # 6.75 x 0.52 = 3.51
        ("6.75", "48 %", "0.05", "3.50"),
        ("4.50", "0 %", "0.01", "4.50"),
        ("4.50", "100 %", "0.01", "0.00"),
        ("4.50", "40 %", "1", "3.00"),
    ],
)
def test_a_dealer_pays_what_one_works_out_by_hand(
    retail: str, off: str, step: str, dealer: str
) -> None:
    assert str(dealer_price(Decimal(retail), tier(off, step))) == dealer


@given(PRICES, st.integers(0, 100))
def test_a_price_to_the_cent_is_what_decimal_rounds_it_to(retail: Decimal, off: int) -> None:
    exact = retail * (100 - off) / 100
    expected = exact.quantize(Decimal("0.01"), ROUND_HALF_UP)
    assert dealer_price(retail, tier(f"{off} %")) == expected


@given(PRICES, st.integers(0, 100), st.sampled_from(["0.05", "0.10", "0.25", "0.5", "1"]))
def test_a_price_is_a_multiple_of_its_step_and_no_further_off_than_half(
    retail: Decimal, off: int, step: str
) -> None:
    price = dealer_price(retail, tier(f"{off} %", step))
    assert price % Decimal(step) == 0
    assert abs(price - retail * (100 - off) / 100) <= Decimal(step) / 2


def test_steps_of_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match="nothing"):
        dealer_price(Decimal("4.95"), tier("35 %", "0"))


def test_margin_is_the_share_that_the_shop_keeps() -> None:
    # (4.95 - 3.20) / 4.95 = 0.35353...
    assert percent(margin(Decimal("3.20"), Decimal("4.95"))) == "35\N{NO-BREAK SPACE}%"
    assert margin(Decimal("2.00"), Decimal("4.00")) == Fraction(1, 2)
    assert margin(Decimal("2.00"), Decimal("0.00")) == 0
    assert percent(Fraction(125, 1000)) == "13\N{NO-BREAK SPACE}%"


def test_keystone_is_twice_the_dealer_price() -> None:
    assert keystone(Decimal("3.20")) == Decimal("6.40")


@pytest.mark.parametrize(
    ("price", "tax"),
    # 26 USC 4161(a)(1) and 4216(a): ten per cent of the price without the tax, so 10/110 of one
    # that holds it. 110 holds 10; 3.20 holds 0.2909; 0.05 holds 0.0045; 0.06 holds 0.0054.
    [("110.00", "10.00"), ("3.20", "0.29"), ("0.05", "0.00"), ("0.06", "0.01"), ("90.30", "8.21")],
)
def test_the_tax_within_a_price_is_ten_parts_of_a_hundred_and_ten(price: str, tax: str) -> None:
    assert str(excise_within(Decimal(price))) == tax


@pytest.mark.parametrize(
    ("price", "tax"), [("100.00", "10.00"), ("3.25", "0.33"), ("0.04", "0.00")]
)
def test_the_tax_on_top_of_a_price_is_ten_per_cent(price: str, tax: str) -> None:
    assert str(excise_on_top(Decimal(price))) == tax


@pytest.mark.parametrize(
    ("price", "within", "on_top"),
    # Rev. Rul. 80-273 as modified by Rev. Rul. 81-226: who sells fishing articles at retail, and no
    # like ones to wholesale distributors, is taxed on 60 % of the actual price, adjusted by 26 USC
    # 4216(a), which leaves the tax out. Ten per cent of 60 % are six of a hundred, and of a price
    # that holds them six of a hundred and six. Worked by hand: the rulings work no example that
    # could be read.
    [
        ("106.00", "6.00", "6.36"),
        ("100.00", "5.66", "6.00"),
        # 4.95 x 6/106 = 0.28018...; 4.95 x 0.06 = 0.297
        ("4.95", "0.28", "0.30"),
        ("0.00", "0.00", "0.00"),
    ],
)
def test_who_sells_at_retail_only_is_taxed_on_sixty_per_cent(
    price: str, within: str, on_top: str
) -> None:
    assert str(excise_within(Decimal(price), RETAIL_BASE)) == within
    assert str(excise_on_top(Decimal(price), RETAIL_BASE)) == on_top


@given(PRICES)
def test_the_tax_at_retail_is_ten_per_cent_of_sixty_of_what_is_left(price: Decimal) -> None:
    tax = excise_within(price, RETAIL_BASE)
    assert abs((price - tax) * Decimal("0.60") * Decimal("0.10") - tax) <= Decimal("0.01")


@given(PRICES)
def test_a_price_with_its_tax_holds_the_tax_that_was_added(price: Decimal) -> None:
    tax = excise_on_top(price)
    assert abs(excise_within(price + tax) - tax) <= Decimal("0.01")
