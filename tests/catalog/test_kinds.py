"""What is printed of a value reads back as the same value, to the last digit."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from labeler.catalog.values import Density, ExactWeight, Line, Money, PaperLength, Share
from labeler.units import Length, Weight, WeightUnit

decimals = st.decimals(min_value="0.000000000001", max_value=24, allow_nan=False, places=12)


def round_trip(kind: Any, value: Any) -> Any:
    adapter: TypeAdapter[Any] = TypeAdapter(kind)
    return adapter.validate_json(adapter.dump_json(value))


@given(
    st.fractions(Fraction(1, 640), 100, max_denominator=640), st.sampled_from(get_args(WeightUnit))
)
def test_weights(value: Fraction, unit: WeightUnit) -> None:
    weight = Weight(value, unit)
    again = round_trip(ExactWeight, weight)
    assert (again.value, again.unit) == (value, unit)


@given(st.floats(0.01, 7000), st.sampled_from(["in", "mm", "cm", "pt"]))
def test_lengths(number: float, unit: str) -> None:
    try:
        length = TypeAdapter(PaperLength).validate_python(f"{Decimal(repr(number)):f} {unit}")
    except ValidationError:
        return
    assert round_trip(PaperLength, length) == length
    assert round_trip(PaperLength, Length(number)) == Length(number)


@given(decimals)
def test_densities(value: Decimal) -> None:
    assert round_trip(Density, Fraction(value)) == Fraction(value)


@given(st.integers(0, 10**10))
def test_shares(parts: int) -> None:
    assert round_trip(Share, Fraction(parts, 10**10)) == Fraction(parts, 10**10)


@given(st.decimals(min_value=0, max_value=999_999, places=4))
def test_money(value: Decimal) -> None:
    assert round_trip(Money, value) == value


@pytest.mark.parametrize("text", ["9" * 400 + " in", "0 in", "101 in", "-1 in", "3"])
def test_no_bag_is_endless_or_nothing(text: str) -> None:
    with pytest.raises(ValidationError):
        TypeAdapter(PaperLength).validate_python(text)


@given(st.text(max_size=210))
def test_a_line_is_one_line_or_refused(text: str) -> None:
    try:
        line = TypeAdapter(Line).validate_python(text)
    except ValidationError:
        return
    assert line.isprintable() or not set(line) & set(map(chr, range(32)))
    assert line == " ".join(line.split())
    assert TypeAdapter(Line).validate_python(line) == line
