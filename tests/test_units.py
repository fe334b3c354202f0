"""Weights exact, lengths true."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.units import FRACTION_SLASH, GRAMS_PER_OUNCE, Length, Weight, truncate

fractions = st.builds(Fraction, st.integers(1, 400), st.sampled_from([1, 2, 4, 8, 16, 32, 64]))


@given(fractions, st.sampled_from(["oz", "g"]))
def test_a_printed_weight_reads_back_as_itself(value: Fraction, unit: str) -> None:
    weight = Weight(value, unit)  # type: ignore[arg-type]
    back = Weight.parse(str(weight))
    assert (back.value, back.unit) == (weight.value, weight.unit)


@given(fractions)
def test_what_the_label_shows_reads_back_too(value: Fraction) -> None:
    assert Weight.parse(Weight(value, "oz").oz_text) == Weight(value, "oz")


@pytest.mark.parametrize(
    ("typed", "ounces"),
    [
        ("3/8 oz", "3/8"), (".375 oz", "3/8"), ("0.375oz", "3/8"), ("1 1/2 oz", "3/2"),
        ("1-1/2 OZ", "3/2"), ("1½ oz", "3/2"), ("⅜ oz", "3/8"), (" 3 / 8  ounce ", "3/8"),
        ("3⁄8 oz", "3/8"), ("1/32 oz.", "1/32"),
    ],
)  # fmt: skip
def test_a_weight_is_read_however_a_hand_writes_it(typed: str, ounces: str) -> None:
    assert Weight.parse(typed).ounces == Fraction(ounces)


@pytest.mark.parametrize(
    "typed",
    ["", "oz", "0 oz", "-1 oz", "nan oz", "inf g", "1/0 oz", "3/8", "3,5 g", "1e3 g", "3/8 kg"],
)
def test_what_is_no_weight_is_refused(typed: str) -> None:
    with pytest.raises(ValueError, match=r"weight|divided by 0"):
        Weight.parse(typed)


def test_an_ounce_is_exact() -> None:
    """Source: NIST SP 811 (2008), B.8: 2.834 952 E-02 kg; exact by the pound of 0.45359237 kg."""
    pound = Fraction("0.45359237") * 1000
    assert pound / 16 == GRAMS_PER_OUNCE
    assert float(GRAMS_PER_OUNCE) / 1000 == pytest.approx(2.834952e-2, abs=5e-9)
    assert Weight.parse("1 oz").grams == Fraction("28.349523125")


@pytest.mark.parametrize(
    ("ounces", "grams"),
    [
        ("1/64", "0.442"), ("1/32", "0.885"), ("1/16", "1.77"), ("3/32", "2.65"), ("1/8", "3.54"),
        ("3/16", "5.31"), ("1/4", "7.08"), ("3/8", "10.6"), ("1/2", "14.1"), ("3/4", "21.2"),
        ("1", "28.3"),
    ],
)  # fmt: skip
def test_grams_are_cut_and_never_rounded_up(ounces: str, grams: str) -> None:
    """Source: 16 CFR 500.19(b), whose examples cut: 2 oz, 56.699 g, is 56.6 g; computed by it."""
    weight = Weight.parse(f"{ounces} oz")
    assert weight.g_text == f"{grams}\u00a0g"
    assert Fraction(grams) <= weight.grams


def test_the_rules_own_examples_come_out() -> None:
    """Source: 16 CFR 500.19(b): 1 lb is 453 g; 2 oz is 56.6 g."""
    assert truncate(16 * GRAMS_PER_OUNCE, 3) == "453"
    assert truncate(2 * GRAMS_PER_OUNCE, 3) == "56.6"


def test_a_fraction_for_print_carries_the_fraction_slash() -> None:
    assert Weight.parse("1 1/2 oz").oz_text == f"1\u20091{FRACTION_SLASH}2\u00a0oz"
    assert Weight.parse("10.6 g").oz_text == "0.373\u00a0oz"


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("0.37 oz", "0.37"), (".35 oz", "0.35"), ("1.1 oz", "1.1"), ("10.375 oz", "10 3/8"),
        ("1/80 oz", "1/80"), ("1/100 oz", "1/100"), ("5/24 oz", "5/24"), ("2/3 oz", "2/3"),
        ("12.345 oz", "12.345"), ("7/96 oz", "0.072"),
    ],
)  # fmt: skip
def test_a_weight_in_decimals_is_no_fraction_that_nobody_says(typed: str, shown: str) -> None:
    """Common practice, no published source."""
    text = Weight.parse(typed).oz_text
    assert text.replace(FRACTION_SLASH, "/").replace("\u2009", " ") == f"{shown}\u00a0oz"


@given(st.floats(0.01, 5_000))
def test_lengths_go_there_and_back(mm: float) -> None:
    assert Length.from_mm(mm).mm == pytest.approx(mm)
    assert Length.parse(str(Length.from_mm(mm))).mm == pytest.approx(mm, rel=1e-4)


def test_lengths_know_their_units() -> None:
    """Source: 16 CFR 500.19: 1 in is 2.54 cm, exactly; ISO 32000-1, 8.3.2.3: 72 units an inch."""
    assert Length.parse("2 5/8 in").pt == 189
    assert Length.parse("25.4 mm").pt == pytest.approx(72)
    assert Length.parse("2.54 cm").pt == pytest.approx(72)
    assert Length.parse('1 1/2"').pt == 108
    with pytest.raises(ValueError, match="unit"):
        Length.parse("12")
