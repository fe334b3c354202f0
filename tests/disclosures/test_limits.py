"""Both sides of a boundary, and the boundary itself."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from labeler.disclosures.rules import (
    CountLimits,
    LengthLimits,
    Limit,
    ShareLimits,
    WeightLimits,
    describe,
    within,
)
from labeler.units import Length, Weight


def weight_limits(*texts: str) -> tuple[Limit, ...]:
    return TypeAdapter(WeightLimits).validate_python(list(texts))


def test_an_ounce_is_not_more_than_an_ounce_but_is_not_less_than_one() -> None:
    ounce = Weight.parse("1 oz").grams
    assert within(weight_limits("<= 1 oz"), ounce)
    assert not within(weight_limits("< 1 oz"), ounce)
    assert within(weight_limits(">= 1 oz"), ounce)
    assert not within(weight_limits("> 1 oz"), ounce)


def test_twenty_eight_point_three_five_grams_is_a_little_more_than_an_ounce() -> None:
    """An ounce is 28.349 523 125 g exactly (NIST SP 811, appendix B.8)."""
    assert not within(weight_limits("<= 1 oz"), Fraction("28.35"))


def test_a_span_holds_both_its_ends() -> None:
    span = weight_limits(">= 0.06 g", "<= 28.35 g")
    assert within(span, Fraction("0.06"))
    assert within(span, Fraction("28.35"))
    assert not within(span, Fraction("0.0599"))
    assert not within(span, Fraction("28.3501"))
    assert describe(span, Fraction(1)) == "at least 0.06 g and not more than 28.35 g"
    assert describe(span, Fraction(30)) == "over 28.35 g"
    assert describe(span, Fraction("0.01")) == "under 0.06 g"


def test_a_length_typed_in_millimetres_lies_on_a_limit_in_inches() -> None:
    limits = TypeAdapter(LengthLimits).validate_python("<= 2 1/2 in")
    assert within(limits, Fraction(Length.parse("63.5 mm").pt))
    assert within(limits, Fraction(Length.parse("2.5 in").pt))
    assert not within(limits, Fraction(Length.parse("63.6 mm").pt))


@given(
    st.fractions(min_value=0, max_value=10, max_denominator=10_000),
    st.fractions(min_value=0, max_value=10, max_denominator=10_000),
)
def test_every_value_falls_on_one_side_and_only_one(value: Fraction, bound: Fraction) -> None:
    sides = {sign: Limit(sign, bound, "").holds(value) for sign in ("<", "<=", "==", ">", ">=")}
    assert [sides["<"], sides["=="], sides[">"]].count(True) == 1
    assert sides["<="] == (sides["<"] or sides["=="])
    assert sides[">="] == (sides[">"] or sides["=="])


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (WeightLimits, "1 oz"),
        (WeightLimits, "<= 1"),
        (WeightLimits, "=< 1 oz"),
        (WeightLimits, []),
        (WeightLimits, 3),
        (LengthLimits, "<= 2 1/2"),
        (ShareLimits, "> 0.1"),
        (CountLimits, ">= ten"),
    ],
)
def test_a_limit_without_its_sign_or_unit_is_refused(kind: Any, text: object) -> None:
    with pytest.raises(ValidationError):
        TypeAdapter(kind).validate_python(text)
