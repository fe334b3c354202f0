"""The display panel and the height of letters on it, against 16 CFR 500.21."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.catalog.model import Bag
from labeler.disclosures import rules
from labeler.disclosures.needed import (
    Panel,
    card_panel,
    clear_space,
    label_panel,
    measured_by,
    too_narrow,
)
from labeler.units import Length

ROOT = Path(__file__).parents[2]


def inches(text: str) -> Length:
    return Length.parse(f"{text} in")


def bag(width: str, height: str) -> Bag:
    return Bag.model_validate({"name": "b", "width": f"{width} in", "height": f"{height} in"})


@pytest.mark.parametrize(
    ("area", "sixteenths", "mm"),
    [
        (1.0, 1, 1.6), (5.0, 1, 1.6), (5.01, 2, 3.2), (25.0, 2, 3.2), (25.01, 3, 4.8),
        (100.0, 3, 4.8), (100.01, 4, 6.4), (400.0, 4, 6.4), (400.01, 8, 12.7),
    ],
)  # fmt: skip
def test_the_table_of_type_heights_in_both_systems(area: float, sixteenths: int, mm: float) -> None:
    """16 CFR 500.21(b), inches as read; millimetres of NIST Handbook 130, table 1, from memory."""
    here = Panel("card", area)
    assert here.row.inches == Length.from_inches(sixteenths / 16)
    assert here.row.uniform_mm.mm == pytest.approx(mm)
    assert here.letter_height == pytest.approx(max(sixteenths * 4.5, mm * 72 / 25.4))
    assert here.firm_letter_height <= here.letter_height


@pytest.mark.parametrize(
    ("area", "points"), [(5, 4.54), (25, 9.07), (100, 13.61), (400, 18.14), (401, 36.0)]
)
def test_the_heights_in_points(area: float, points: float) -> None:
    """The larger of both systems: 1.6, 3.2, 4.8, 6.4 and 12.7 mm in points of 1/72 inch."""
    assert Panel("card", area).letter_height == pytest.approx(points, abs=0.005)


def test_a_card_is_its_own_panel_whatever_the_blister() -> None:
    """1 NYCRR 221.8: the type follows the dimensions of the display card."""
    card = card_panel(inches("3"), inches("5"))
    assert card.side == "card"
    assert card.area == pytest.approx(15)


def test_a_small_label_on_a_large_bag_is_not_the_panel() -> None:
    here = label_panel(inches("2.625"), inches("1"), bag("4", "6"))
    assert here.side == "bag"
    assert here.area == pytest.approx(24)
    assert here.letter_height == pytest.approx(9.07, abs=0.005)


def test_a_label_larger_than_its_bag_is_the_panel() -> None:
    here = label_panel(inches("4"), inches("3"), bag("2", "3"))
    assert here.side == "label"
    assert here.area == pytest.approx(12)


@pytest.mark.parametrize("bag", [None, Bag(name="b"), Bag(name="b", width=inches("3"))])
def test_a_bag_that_is_not_stated_is_taken_to_be_no_small_one(bag: Bag | None) -> None:
    here = label_panel(inches("2"), inches("1"), bag)
    assert here.side == "unstated bag"
    assert here.letter_height > Panel("label", 2).letter_height
    assert label_panel(inches("6"), inches("5"), bag).side == "label"


@given(
    st.floats(min_value=0.5, max_value=12),
    st.floats(min_value=0.5, max_value=12),
    st.floats(min_value=0.5, max_value=12),
    st.floats(min_value=0.5, max_value=12),
)
def test_a_bag_never_makes_the_letters_smaller(a: float, b: float, c: float, d: float) -> None:
    label = card_panel(inches(f"{a:.3f}"), inches(f"{b:.3f}"))
    on_bag = label_panel(inches(f"{a:.3f}"), inches(f"{b:.3f}"), bag(f"{c:.3f}", f"{d:.3f}"))
    assert on_bag.letter_height >= label.letter_height


def test_five_square_inches_are_free_of_the_rule_on_the_foot() -> None:
    """16 CFR 500.6(b)(1): 5 square inches or less."""
    small = card_panel(inches("2.5"), inches("2"))
    metric = card_panel(Length.parse("63.5 mm"), Length.parse("50.8 mm"))
    large = card_panel(inches("2.5"), inches("2.01"))
    assert small.free_of_bottom_rule
    assert metric.free_of_bottom_rule
    assert not large.free_of_bottom_rule
    assert small.bottom is None


def test_the_quantity_keeps_to_the_bottom_thirty_per_cent() -> None:
    """16 CFR 500.6(b)."""
    bottom = card_panel(inches("3"), inches("5")).bottom
    assert bottom is not None
    assert bottom.inches == pytest.approx(1.5)


@pytest.mark.parametrize(
    ("text", "measure"),
    [
        ("2 JIGS", "cap height"),
        ("Pack of 2", "x-height"),
        ("NET WT 3/8 OZ", "cap height"),
        ("NET WT 3/8 OZ (10.6 g)", "cap height"),
        ("3/8 oz", "x-height"),
        ("10.6 g", "cap height"),
        ("2 g of lead", "x-height"),
    ],
)
def test_any_small_letter_is_measured_by_the_small_o(text: str, measure: str) -> None:
    """16 CFR 500.21(d); metric symbols are judged by their L or d, 500.21(h)."""
    assert measured_by(text) == measure


@pytest.mark.parametrize(
    ("letter", "height", "width", "narrow"),
    [("N", 9.0, 3.0, False), ("N", 9.1, 3.0, True), ("I", 9.0, 1.0, False), (".", 2, 0.1, False)],
)
def test_no_letter_is_more_than_three_times_as_high_as_wide(
    letter: str, height: float, width: float, narrow: bool
) -> None:
    """16 CFR 500.21(e); letters narrow by nature are left out, which is the house's judgement."""
    assert too_narrow(letter, height, width) is narrow


def test_the_quantity_stands_clear_by_a_letter_above_and_two_n_beside() -> None:
    """16 CFR 500.6(b); American Samoa, A.S.A.C. 27.0643."""
    assert clear_space(9.0, 7.0) == (9.0, 14.0)


def test_every_rule_on_form_names_its_source_and_how_far_it_is_to_be_trusted() -> None:
    for rule in rules.rules().values():
        assert rule.source
        assert rule.confidence
        assert rule.about.endswith(".")


def test_every_rule_on_form_is_asked_somewhere() -> None:
    """A rule that nothing asks never fires, and is none."""
    code = "".join(path.read_text("utf-8") for path in (ROOT / "labeler").rglob("*.py"))
    assert [rule for rule in rules.rules() if f'"{rule}"' not in code] == []


def test_a_rule_without_the_figure_that_is_asked_says_so() -> None:
    with pytest.raises(KeyError, match="has no number"):
        rules.number("form-units")
    with pytest.raises(KeyError, match="has no size"):
        rules.size_pt("form-units")


def test_the_share_of_a_composition_that_is_told_in_full() -> None:
    assert Fraction(str(rules.number("form-stated-in-full"))) == Fraction(99, 100)
