"""What a cavity casts, against handbook densities and the trade's rule of thumb."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from labeler.catalog.casting import (
    better_cavity,
    cast_weight,
    density_of,
    expected_weight,
    metal_density,
    nearest_trade_weight,
    tolerance,
    trade_weights,
)
from labeler.catalog.model import Material
from labeler.findings import Grade
from labeler.units import Weight

Bench = Any

BISMUTH_TIN = {"bismuth": "58 %", "tin": "42 %"}


def alloy(composition: dict[str, str], density: str | None = None) -> Material:
    return Material.model_validate(
        {"name": "Alloy", "kind": "alloy", "composition": composition, "density": density}
    )


@pytest.mark.parametrize(
    ("name", "density"),
    [
        # CRC Handbook of Chemistry and Physics, physical constants of the elements (from memory).
        ("lead", 11.34),
        ("Pb", 11.34),
        ("tin", 7.29),
        ("bismuth", 9.78),
        ("tungsten", 19.3),
        ("zinc", 7.14),
        ("antimony", 6.69),
    ],
)
def test_metals_are_as_heavy_as_the_handbooks_say(name: str, density: float) -> None:
    found = metal_density(name)
    assert found is not None
    assert float(found) == pytest.approx(density, rel=0.005)


@pytest.mark.parametrize(
    ("composition", "density"),
    [
        # Volume additivity worked by hand: 1 / (0.58/9.78 + 0.42/7.29). The eutectic is
        # commonly stated at 8.56 g/cm3 (from memory).
        (BISMUTH_TIN, 8.553),
        # 1 / (0.96/11.34 + 0.04/6.69) and 1 / (0.98/11.34 + 0.02/6.69).
        ({"lead": "96 %", "antimony": "4 %"}, 11.03),
        ({"lead": "98 %", "antimony": "2 %"}, 11.18),
    ],
)
def test_an_alloys_density_follows_from_its_shares(
    composition: dict[str, str], density: float
) -> None:
    found = density_of(alloy(composition))
    assert found is not None
    assert float(found) == pytest.approx(density, abs=0.005)


def test_a_stated_density_goes_before_a_reckoned_one() -> None:
    assert density_of(alloy(BISMUTH_TIN, "8.6 g/cm3")) == Fraction("8.6")


def test_an_alloy_of_unknown_metals_has_no_density() -> None:
    assert density_of(alloy({"unobtainium": "58 %", "tin": "42 %"})) is None
    assert density_of(alloy({"tin": "60 %"})) is None


@pytest.mark.parametrize(
    ("composition", "ratio"),
    [
        # Ratios of the handbook densities above.
        ({"tin": "100 %"}, 0.643),
        ({"bismuth": "100 %"}, 0.862),
        ({"zinc": "100 %"}, 0.630),
        ({"tungsten": "100 %"}, 1.70),
        (BISMUTH_TIN, 0.755),
    ],
)
def test_the_same_mould_in_another_metal(composition: dict[str, str], ratio: float) -> None:
    lead, other = metal_density("lead"), density_of(alloy(composition))
    assert lead is not None
    assert other is not None
    half = Weight.parse("1/2 oz")
    assert float(cast_weight(half, lead, other).value * 2) == pytest.approx(ratio, abs=0.003)


def test_a_half_ounce_cavity_in_bismuth_tin_is_nearer_three_eighths() -> None:
    # Common practice, no published source.
    lead, other = metal_density("lead"), density_of(alloy(BISMUTH_TIN))
    assert lead is not None
    assert other is not None
    cast = cast_weight(Weight.parse("1/2 oz"), lead, other)
    assert nearest_trade_weight(cast) == Weight.parse("3/8 oz")


def test_the_tolerance_is_the_handbooks_row_for_light_packages() -> None:
    # NIST Handbook 133, table 2-5, less than 36 g: 10 % (from memory).
    assert tolerance() == Fraction(1, 10)


def test_trade_weights_stand_in_order_and_hold_the_common_ones() -> None:
    weights = trade_weights()
    assert list(weights) == sorted(set(weights))
    for text in ("1/32", "1/16", "3/32", "1/8", "3/16", "1/4", "5/16", "3/8", "1/2", "3/4", "1"):
        assert Weight.parse(f"{text} oz") in weights


def bismuth_bench(bench: Bench) -> None:
    bench.change(
        'composition = { lead = "97 %", antimony = "3 %" }',
        'composition = { bismuth = "58 %", tin = "42 %" }',
    )


def test_bismuth_in_a_mould_marked_for_lead_is_found_with_both_figures(bench: Bench) -> None:
    bismuth_bench(bench)
    findings = [f for f in bench.findings() if f.rule == "weight-off-cast"]
    assert [f.grade for f in findings] == [Grade.FIX, Grade.FIX]
    heavier = findings[1]
    # 1/2 oz = 14.17 g of lead; 14.17 * 8.553 / 11.34 = 10.69 g, a scant 3/8 oz.
    assert "10.69 g (0.377 oz)" in heavier.found
    assert "nearest weight of the trade 3/8 oz" in heavier.found
    assert "1/2 oz (14.17 g)" in heavier.expected
    assert "5/8 oz" in heavier.hint


def test_the_next_cavity_up_sets_it_right(bench: Bench) -> None:
    bismuth_bench(bench)
    bench.change(
        'alloy = "lead"',
        'alloy = "lead"\ncavities = { "3/8 oz" = "1/2 oz", "1/2 oz" = "5/8 oz" }',
    )
    assert not [f for f in bench.findings() if f.rule == "weight-off-cast"]
    product = bench.read().products[0]
    assert product.cavity == Weight.parse("1/2 oz")
    cast = expected_weight(product.head, product.weight, product.materials)
    assert cast is not None
    assert float(cast.grams) == pytest.approx(10.69, abs=0.01)


def test_a_mould_marked_for_its_own_alloy_casts_what_is_marked(bench: Bench) -> None:
    bismuth_bench(bench)
    bench.change('alloy = "lead"', 'alloy = "lead"\nmarked_for = "bismuth"')
    file = bench.read().file
    found = expected_weight(file.heads["vesper"], Weight.parse("1 oz"), file.materials)
    assert found is not None
    assert float(found.value) == pytest.approx(8.553 / 9.78, abs=0.001)


def test_a_mould_marked_for_nothing_known_stops(bench: Bench) -> None:
    bench.change('alloy = "lead"', 'alloy = "lead"\nmarked_for = "leed"')
    assert "'lead'" in bench.finding("unknown-name").hint


def test_no_cavity_of_the_trade_may_be_right(bench: Bench) -> None:
    bismuth_bench(bench)
    file = bench.read().file
    assert better_cavity(file, "vesper", Weight.parse("3/8 oz")) == Weight.parse("1/2 oz")
    assert better_cavity(file, "vesper", Weight.parse("0.001 oz")) is None


def test_lead_in_a_mould_for_lead_is_quiet(bench: Bench) -> None:
    assert not [f for f in bench.findings() if f.rule == "weight-off-cast"]


def test_a_trace_that_nobody_names_does_not_make_the_alloy_lighter() -> None:
    # 97 % lead and 3 % of what is not told: as heavy as the lead that is.
    assert density_of(alloy({"lead": "97 %"})) == metal_density("lead")
