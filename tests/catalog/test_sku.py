"""SKUs read like the trade speaks, and no two weights or hooks share one."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter

from labeler.catalog.casting import trade_weights
from labeler.catalog.expand import hook_part, make_sku, weight_part
from labeler.catalog.values import HookSize, Sku
from labeler.units import Weight, WeightUnit


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("3/8 oz", "38"),
        (".375 oz", "38"),
        ("1/16 oz", "116"),
        ("1/32 oz", "132"),
        ("1 oz", "1OZ"),
        ("1 1/2 oz", "1OZ12"),
        ("0.3 oz", "0.3OZ"),
        ("10.6 g", "10.6G"),
        ("7 g", "7G"),
    ],
)
def test_weights_are_written_as_the_trade_writes_them(text: str, part: str) -> None:
    assert weight_part(Weight.parse(text)) == part


def test_no_two_weights_of_the_trade_share_a_part() -> None:
    sixty_fourths = [Weight(Fraction(n, 64), "oz") for n in range(1, 64 * 8)]
    odd = [Weight(Fraction(n, d), "oz") for d in (3, 5, 48, 80, 100) for n in range(1, 2 * d)]
    grams = [Weight(Fraction(n, 10), "g") for n in range(1, 1000)]
    weights = {*trade_weights(), *sixty_fourths, *odd, *grams}
    assert len({weight_part(weight) for weight in weights}) == len(weights)


weights = st.builds(
    Weight,
    st.one_of(
        st.fractions(min_value=Fraction(1, 1000), max_value=200, max_denominator=1000),
        st.decimals(min_value="0.001", max_value=200, places=3).map(Fraction),
    ),
    st.sampled_from(get_args(WeightUnit)),
)


@given(weights, weights)
def test_two_weights_never_share_a_part(one: Weight, two: Weight) -> None:
    same = one.unit == two.unit and one.value == two.value
    assert (weight_part(one) == weight_part(two)) == same


def test_hook_sizes_are_written_as_the_trade_writes_them_and_never_alike() -> None:
    assert (hook_part("4/0"), hook_part("4"), hook_part("10")) == ("40", "4", "N10")
    sizes = [str(n) for n in range(1, 33)] + [f"{n}/0" for n in range(1, 21)]
    for size in sizes:
        TypeAdapter(HookSize).validate_python(size)
    assert len({hook_part(size) for size in sizes}) == len(sizes)


@given(weights, st.sampled_from(["4/0", "20/0", "1", "32"]))
def test_a_sku_stands_in_a_qr_code_a_path_and_a_lot(weight: Weight, hook: str) -> None:
    # ISO/IEC 18004, 7.3.4 (alphanumeric mode), RFC 3986, 2.3 and GS1's set 82.
    sku = make_sku("RV", weight, hook, "MLN")
    assert re.fullmatch("[A-Z0-9.-]+", sku)
    if len(sku) <= 40:
        TypeAdapter(Sku).validate_python(sku)
