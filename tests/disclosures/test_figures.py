"""Figures on a label, against the examples of the rules themselves."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.catalog.casting import trade_weights
from labeler.disclosures.wording import grams_agree, ounces_agree, written_badly
from labeler.findings import Place
from labeler.units import GRAMS_PER_OUNCE, Weight


def test_a_pound_is_four_hundred_and_fifty_three_grams() -> None:
    """16 CFR 500.19(b): 1 lb is 453 g, cut from 453.592."""
    assert Weight.parse("16 oz").g_text == "453\N{NO-BREAK SPACE}g"


@pytest.mark.parametrize(
    ("printed", "good"), [("56", True), ("56.6", True), ("56.7", False), ("56.69", False)]
)
def test_two_ounces_are_fifty_six_or_fifty_six_point_six_grams(printed: str, good: bool) -> None:
    """16 CFR 500.19(b): 2 oz (56.699 g) is 56 g or 56.6 g, never 56.69 g."""
    assert grams_agree(Weight.parse("2 oz"), Fraction(printed)) is good


@pytest.mark.parametrize(
    ("ounces", "grams"),
    [
        ("2.5", "70.8"), ("15", "425"),  # 16 CFR 500.8(a)
        ("12", "340"), ("24", "680"),  # 16 CFR 500.9(b)
        ("3.4", "96.3"), ("20", "566"), ("4", "113"), ("2", "56.6"), ("20.4", "578"),  # 500.27
        ("3.2", "90"), ("5.0", "141"), ("11.4", "323"),  # 16 CFR 500.28(a)
    ],
)  # fmt: skip
def test_the_rules_own_pairs_agree_and_one_gram_more_does_not(ounces: str, grams: str) -> None:
    """The worked examples of 16 CFR 500.8, 500.9, 500.27 and 500.28, read in the edition of 2015.

    A pound and a quarter (566 g) stands as 20 oz, a pound and 4.4 oz (578 g) as 20.4 oz.
    """
    weight = Weight(Fraction(ounces), "oz")
    assert grams_agree(weight, Fraction(grams))
    step = Fraction(1, 10) if "." in grams else Fraction(1)
    assert not grams_agree(weight, Fraction(grams) + step)


def test_a_forty_eighth_is_a_weight_of_the_trade() -> None:
    """16 CFR 500.17(a)(1); common practice, no published source."""
    assert Fraction(1, 48) in {each.value for each in trade_weights()}
    assert [one.grade.value for one in written_badly("1/48 oz")] == ["note"]


def test_the_factors_are_those_of_the_rule() -> None:
    """1 oz = 28.3495 g; 1 lb = 453.592 g; 1 g = 0.0352740 oz.

    Source: 16 CFR 500.19(a), edition of 2015; it has since left them to NIST Handbook 133,
    appendix E (80 FR 71686, summary read).
    """
    assert round(float(GRAMS_PER_OUNCE), 4) == 28.3495
    assert round(float(16 * GRAMS_PER_OUNCE), 3) == 453.592
    assert round(float(1 / GRAMS_PER_OUNCE), 7) == 0.0352740


@pytest.mark.parametrize(
    ("ounces", "grams"),
    [
        ("1/64", "0.442"), ("1/32", "0.885"), ("1/16", "1.77"), ("3/32", "2.65"), ("1/8", "3.54"),
        ("3/16", "5.31"), ("1/4", "7.08"), ("3/8", "10.6"), ("1/2", "14.1"), ("3/4", "21.2"),
        ("1", "28.3"),
    ],
)  # fmt: skip
def test_every_weight_of_the_trade_agrees_with_its_cut_grams(ounces: str, grams: str) -> None:
    """Computed from 28.349 523 125 g, cut to three digits as 16 CFR 500.19(b) cuts."""
    weight = Weight.parse(f"{ounces} oz")
    assert weight.g_text == f"{grams}\N{NO-BREAK SPACE}g"
    assert grams_agree(weight, Fraction(grams))


@given(st.fractions(min_value=Fraction(1, 64), max_value=4, max_denominator=64))
def test_what_units_print_always_agrees_and_never_overstates(ounces: Fraction) -> None:
    weight = Weight(ounces, "oz")
    printed = Fraction(weight.g_text.removesuffix("\N{NO-BREAK SPACE}g"))
    assert grams_agree(weight, printed)
    assert printed <= weight.grams


def test_a_weight_stated_in_grams_agrees_with_itself_and_its_cut_ounces() -> None:
    weight = Weight.parse("10.6 g")
    assert grams_agree(weight, Fraction("10.6"))
    assert grams_agree(Weight.parse("10.655 g"), Fraction("10.655"))
    assert not grams_agree(Weight.parse("10.655 g"), Fraction("10.7"))
    assert not grams_agree(Weight.parse("3/8 oz"), Weight.parse("3/8 oz").grams)
    assert ounces_agree(weight, Fraction("0.373"))
    assert not ounces_agree(weight, Fraction("0.374"))


def test_a_weight_stated_in_ounces_agrees_with_itself_however_many_places_it_takes() -> None:
    weight = Weight.parse("5/32 oz")
    assert ounces_agree(weight, Fraction(5, 32))
    assert ounces_agree(weight, Fraction("0.156"))
    assert not ounces_agree(weight, Fraction("0.157"))
    assert not ounces_agree(Weight.parse("4.4 g"), Weight.parse("4.4 g").ounces)


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("2/8 oz", "form-fractions"),
        ("6/16 oz (10.6 g)", "form-fractions"),
        ("1/3 oz", "form-fractions"),
        ("1/64 oz", "form-trade-fractions"),
        ("0.3125 oz", "form-decimals"),
        ("1/2 g", "form-metric-figures"),
        ("10.6 G", "form-units"),
        ("10.6 gms", "form-units"),
        ("10.6 g.", "form-units"),
    ],
)
def test_a_figure_written_badly_is_found(text: str, rule: str) -> None:
    """16 CFR 500.17 (fractions, decimals), 500.22 and 500.23(b) (units)."""
    assert rule in [finding.rule for finding in written_badly(text)]


def test_what_was_expected_is_told_in_figures_and_with_one_full_stop() -> None:
    """16 CFR 500.17(a)(2): a decimal fraction of the quantity has no more than three places."""
    (finding,) = written_badly("Head 0.0088 oz")
    said = f"{finding.message}; found {finding.found}; expected {finding.expected}"
    assert said == ("too many decimal places; found 0.0088; "
                    "expected no more than 3 places after the point")  # fmt: skip
    for text in ("2/8 oz", "1/3 oz", "1/64 oz", "0.3125 oz", "1/2 g", "10.6 G", "10.6 gms"):
        for each in written_badly(text):
            assert each.expected[-1:].isalnum(), each  # who tells it sets the full stop
            assert not each.expected.startswith(("A ", "These ")), each


def test_a_fraction_of_the_trades_own_is_only_noted() -> None:
    """16 CFR 500.17 allows firm custom; which fractions: common practice, no published source."""
    grades = {f.rule: f.grade.value for text in ("1/64 oz", "2/8 oz") for f in written_badly(text)}
    assert grades == {"form-trade-fractions": "note", "form-fractions": "fix"}


@pytest.mark.parametrize("weight", trade_weights(), ids=str)
def test_every_weight_of_the_trade_may_be_written_as_the_trade_writes_it(weight: Weight) -> None:
    """16 CFR 500.17(a)(1): firm custom allows other fractions; no head of the trade is a fault."""
    text = str(weight).replace("\N{NO-BREAK SPACE}", " ")
    assert {f.grade.value for f in written_badly(text)} <= {"note"}


def test_no_figure_of_a_heads_weight_stops_by_what_binds_the_net_quantity_alone() -> None:
    """16 CFR 500.17 and 500.19 speak of the net quantity, 500.19(b) with a should."""
    texts = ("2/8 oz", "1/3 oz", "0.3125 oz", "1/2 g", "10.6 G")
    assert {f.grade.value for text in texts for f in written_badly(text)} == {"fix"}


def test_a_finding_on_a_figure_says_where() -> None:
    assert written_badly("2/8 oz", Place(block="weight"))[0].place.block == "weight"


@pytest.mark.parametrize(
    "text",
    ["3/8 oz (10.6 g)", "3⁄8 oz (10.6 g)", "1 1/2 oz (42.5 g)", "5/32 oz.", "0.375 oz", "4/0 hook"],
)
def test_a_figure_written_well_is_left_alone(text: str) -> None:
    assert written_badly(text) == ()
