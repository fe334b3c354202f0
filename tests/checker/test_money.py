"""Money as the checker reads and reckons it: by hand, and beside what the book reckons."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.book import edition
from labeler.catalog.model import Terms, Tier
from labeler.checker.rules import listing
from labeler.checker.rules.listing import Amounts

PRICES = st.integers(1, 99_999).map(lambda cents: Decimal(cents) / 100)
STEPS = st.sampled_from(["0.01", "0.05", "0.25", "0.5", "1"])


class Priced:
    """What the reckoning asks of a product."""

    def __init__(self, price: Decimal | None) -> None:
        self.price = price


def at_tier(price: Decimal | None, tier: Tier) -> Decimal | None:
    product: Any = Priced(price)
    return listing.at_tier(product, tier)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("$4.95", [("$", "4.95")]),
        ("$3.20 / $2.55", [("$", "3.20"), ("$", "2.55")]),
        ("Orders over $1,250.00 travel free", [("$", "1250.00")]),
        ("CHF 12.50", [("CHF", "12.50")]),
        ("€7 or £6.5", [("€", "7"), ("£", "6.5")]),
        ("4.95 € or 4,95 €, and $4,95", [("€", "4.95"), ("€", "4.95"), ("$", "4.95")]),
        ("$.99, a pack of 2 $5.20", [("$", ".99"), ("$", "5.20")]),
        # no money: a SKU before a number, a number of an article, a weight, a share
        ("RM-14-30-SBR 9521234001010 12 7.08 g 35 %", []),
        ("$4.955.1", []),
        ("Alder Ferry, WI 54899, USA 715-555-0114, JPY 500", []),
    ],
)
def test_amounts_are_read_with_their_sign(text: str, said: list[tuple[str, str]]) -> None:
    found = [(one.sign, one.value) for one in listing.amounts(text)]
    assert found == [(sign, Decimal(value)) for sign, value in said]
    assert all(text[one.first : one.end] == one.said for one in listing.amounts(text))


def test_a_number_before_a_code_is_money_only_in_the_currency_of_the_catalog() -> None:
    found = [
        one.value for one in listing.amounts("4.60 USD, 10.70 MUD, 7.08 g, 12 CHF 8.00", "USD")
    ]
    assert found == [Decimal("4.60"), Decimal("8.00")]


def test_a_whole_number_after_a_code_is_money_only_in_the_currency_of_the_catalog() -> None:
    found = [one.value for one in listing.amounts("JPY 500 and CHF 600", "JPY")]
    assert found == [Decimal(500)]


@pytest.mark.parametrize(
    ("sign", "currency", "fits"),
    # ISO 4217; a dollar sign alone is any dollar's
    [("$", "USD", True), ("$", "CAD", True), ("$", "EUR", False), ("EUR", "EUR", True)],
)
def test_a_sign_is_of_a_currency_or_not(sign: str, currency: str, fits: bool) -> None:
    assert listing.Amount("", sign, Decimal(1), 0, 0).is_in(currency) is fits


@pytest.mark.parametrize(
    ("retail", "off", "step", "dealer"),
    # 4.95 x 0.65 = 3.2175; 5.25 x 0.50 = 2.625, half a step goes up; 1.50 x 1/3 = 0.50
    [("4.95", "35 %", "0.05", "3.20"), ("5.25", "50 %", "0.05", "2.65"),
     ("1.50", "50 %", "1", "1.00")],
)  # fmt: skip
def test_a_tier_s_price_is_reckoned_by_hand(retail: str, off: str, step: str, dealer: str) -> None:
    tier = Tier(name="T", off=off, round_to=step)
    assert at_tier(Decimal(retail), tier) == Decimal(dealer)
    assert at_tier(None, tier) is None


@given(PRICES, st.fractions(0, 1, max_denominator=400), STEPS)
def test_checker_and_book_reckon_alike_though_they_share_no_code(
    retail: Decimal, off: Fraction, step: str
) -> None:
    tier = Tier(name="T", off="0 %", round_to=step).model_copy(update={"off": off})
    due = at_tier(retail, tier)
    assert due is not None
    assert due == edition.dealer_price(retail, tier)
    shown = edition.percent(edition.margin(due, retail))
    assert shown == f"{listing.margin(due, retail)}\N{NO-BREAK SPACE}%"


def test_an_amount_of_the_makers_own_words_is_known_whole_and_not_by_its_beginning() -> None:
    known = Amounts([], [], Terms(), "Freight is $50.00 below that.")
    stray, said = listing.amounts("$5 or $50", "USD")
    assert (known.holds(stray), known.holds(said)) == (False, True)
