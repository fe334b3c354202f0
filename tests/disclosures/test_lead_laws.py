"""May a lead jig be sold or used there: both sides of every boundary, against the laws cited."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labeler.disclosures.sale import Status, Verdict, may_be_sold
from labeler.units import Length, Weight

NOVEMBER = dt.date(2026, 11, 25)
FREE, RESTRICTED, BARRED = Status.FREE, Status.RESTRICTED, Status.BARRED
NOTED = Status.NOTED
STATE_ONLY = ("us-refuge-lead", "us-park-lead")
"""Rules on federal waters, left aside where a state's own law is looked at."""


def own(verdict: Verdict) -> list[str]:
    """Return the market's own rules that catch it."""
    return [reason.rule for reason in verdict.reasons if reason.rule not in STATE_ONLY]


@pytest.mark.parametrize(
    ("market", "weight", "status"),
    [
        # RSA 339:77: one ounce or less.
        ("US-NH", "1 oz", BARRED),
        ("US-NH", "1.001 oz", FREE),
        # 321 CMR 4.01: less than one ounce, so that exactly an ounce is legal.
        ("US-MA", "0.999 oz", RESTRICTED),
        # C.R.C., c. 1120, s. 17(h): less than 50 grams.
        ("CA", "49.9 g", RESTRICTED),
        ("CA", "50 g", NOTED),
        # SI 1986/1992: 0.06 to 28.35 grams.
        ("GB", "0.05 g", NOTED),
        ("GB", "0.06 g", BARRED),
        ("GB", "1 oz", BARRED),
        ("GB", "28.35 g", BARRED),
        ("GB", "28.36 g", NOTED),
    ],
)
def test_the_boundary_lies_where_the_law_has_it(
    jig: Any, market: str, weight: str, status: Status
) -> None:
    assert may_be_sold(jig(weight=weight), market, NOVEMBER).status is status


def test_exactly_an_ounce_is_legal_in_massachusetts_and_not_in_new_hampshire(jig: Any) -> None:
    ounce = jig(weight="1 oz")
    assert own(may_be_sold(ounce, "US-MA", NOVEMBER)) == []
    assert own(may_be_sold(ounce, "US-NH", NOVEMBER)) == [
        "us-nh-lead-jig-sale",
        "us-nh-lead-jig-use",
    ]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.fractions(min_value=Fraction(1, 64), max_value=3, max_denominator=64))
def test_new_hampshire_and_massachusetts_differ_at_one_ounce_only(
    jig: Any, ounces: Fraction
) -> None:
    heavy = jig(weight=str(Weight(ounces, "oz")))
    new_hampshire = may_be_sold(heavy, "US-NH", NOVEMBER).status is BARRED
    massachusetts = bool(own(may_be_sold(heavy, "US-MA", NOVEMBER)))
    assert new_hampshire == (ounces <= 1)
    assert massachusetts == (ounces < 1)


def test_new_hampshire_weighs_the_whole_jig_where_it_is_stated(jig: Any) -> None:
    """RSA 339:77 asks for the total weight; an ounce head on its hook is heavier than an ounce."""
    whole = jig(weight="1 oz", pattern={"whole": {"1 oz": "1 1/8 oz"}})
    assert own(may_be_sold(whole, "US-NH", NOVEMBER)) == []
    reason = may_be_sold(jig(weight="1 oz"), "US-NH", NOVEMBER).reasons[0]
    assert "whole jig's weight is not stated" in reason.because
    assert reason.certain


def test_britain_weighs_the_lead_alone(jig: Any) -> None:
    whole = jig(weight="1 oz", pattern={"whole": {"1 oz": "1 1/8 oz"}})
    verdict = may_be_sold(whole, "GB", NOVEMBER)
    assert verdict.status is BARRED
    assert "whole" not in verdict.reasons[0].because


@pytest.mark.parametrize(
    ("weight", "length", "caught"),
    [
        ("1 oz", "2 1/2 in", True),
        ("1 oz", "4 in", True),
        ("1 1/4 oz", "2 1/2 in", True),
        ("1 1/4 oz", "63.5 mm", True),
        ("1 1/4 oz", "2 9/16 in", False),
        ("1 1/4 oz", "4 in", False),
    ],
)
def test_maine_asks_for_weight_or_length_and_either_will_do(
    jig: Any, weight: str, length: str, caught: bool
) -> None:
    """12 MRSA 12663-B: one ounce or less, or two and a half inches or less."""
    small = jig(weight=weight, pattern={"length": length})
    assert (may_be_sold(small, "US-ME", NOVEMBER).status is BARRED) is caught


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.fractions(min_value=Fraction(1, 16), max_value=3, max_denominator=32),
    st.integers(min_value=8, max_value=80),
)
def test_maine_lets_go_only_what_is_heavy_and_long(
    jig: Any, ounces: Fraction, sixteenths: int
) -> None:
    length = str(Length.from_inches(sixteenths / 16))
    one = jig(weight=str(Weight(ounces, "oz")), pattern={"length": length})
    free = may_be_sold(one, "US-ME", NOVEMBER).status is not BARRED
    assert free == (ounces > 1 and sixteenths > 40)


@pytest.mark.parametrize(("length", "caught"), [("1 1/2 in", True), ("1 9/16 in", False)])
def test_washington_asks_for_length_whatever_the_weight(
    jig: Any, length: str, caught: bool
) -> None:
    """WAC 220-312-010: one and a half inches or less along the longest axis."""
    heavy = jig(weight="3 oz", pattern={"length": length})
    assert (own(may_be_sold(heavy, "US-WA", NOVEMBER)) == ["us-wa-lead-jig-use"]) is caught


@pytest.mark.parametrize("market", ["US-VT", "US-NY"])
def test_vermont_and_new_york_bar_sinkers_and_let_jigs_pass(jig: Any, market: str) -> None:
    """10 VSA 4615 and ECL 11-0308: sinkers of half an ounce or less; jig heads are no sinkers."""
    assert own(may_be_sold(jig(weight="1/4 oz"), market, NOVEMBER)) == []
    sinker = {"kind": "casting sinker"}
    assert may_be_sold(jig(weight="1/2 oz", pattern=sinker), market, NOVEMBER).status is BARRED
    heavy = may_be_sold(jig(weight="9/16 oz", pattern=sinker), market, NOVEMBER)
    assert own(heavy) == []


@pytest.mark.parametrize(
    "words", ["hair jig", "marabou jig", "spinnerbait jig", "fly jig", "jig fly", "hair lure"]
)
def test_a_jig_tied_with_hair_or_feathers_is_a_jig_and_never_a_fly(jig: Any, words: str) -> None:
    """12 MRSA 12663-B: a hook with a lead weight moulded to it, whatever covers it."""
    tied = jig(pattern={"kind": words})
    assert may_be_sold(tied, "US-ME", NOVEMBER).status is BARRED


@pytest.mark.parametrize("market", ["US-NH", "US-ME"])
def test_spinnerbaits_are_left_out_by_name(jig: Any, market: str) -> None:
    """RSA 339:77 and 12 MRSA 12663-B name them, with buzzbaits, spoons, poppers and plugs."""
    assert own(may_be_sold(jig(pattern={"kind": "spinnerbait"}), market, NOVEMBER)) == []


@pytest.mark.parametrize(
    ("share", "status"), [("0.01 %", NOTED), ("0.011 %", BARRED), ("0.02 %", BARRED)]
)
def test_denmark_bars_more_than_a_hundredth_of_a_per_cent(
    jig: Any, share: str, status: Status
) -> None:
    """BEK no. 856 of 2009: more than 0.01 % of lead."""
    assert may_be_sold(jig(lead=share), "DK", NOVEMBER).status is status


def test_denmark_asks_for_every_part_and_not_only_the_head(jig: Any) -> None:
    beaded = jig(alloy="bismuth-tin", bead={"copper": "57 %", "zinc": "40 %", "lead": "3 %"})
    assert may_be_sold(beaded, "DK", NOVEMBER).status is BARRED
    assert own(may_be_sold(beaded, "US-NH", NOVEMBER)) == []


def test_the_unions_rule_is_pending_and_so_a_note(jig: Any) -> None:
    verdict = may_be_sold(jig(), "DE", NOVEMBER)
    assert verdict.status is NOTED
    pending = next(note for note in verdict.notes if note.rule == "eu-lead-lure-pending")
    assert pending.grade.value == "note"
    assert "pending" in pending.about


@pytest.mark.parametrize(
    ("market", "before", "on", "status"),
    [
        ("US-NH", dt.date(2016, 5, 31), dt.date(2016, 6, 1), BARRED),
        ("US-ME", dt.date(2024, 8, 31), dt.date(2024, 9, 1), BARRED),
        ("US-MA", dt.date(2011, 12, 31), dt.date(2012, 1, 1), RESTRICTED),
        ("US-MD", dt.date(2026, 8, 31), dt.date(2026, 9, 1), RESTRICTED),
        ("DK", dt.date(2002, 11, 30), dt.date(2002, 12, 1), BARRED),
        ("GB", dt.date(1986, 12, 31), dt.date(1987, 1, 1), BARRED),
    ],
)
def test_a_law_begins_on_its_day(
    jig: Any, market: str, before: dt.date, on: dt.date, status: Status
) -> None:
    assert may_be_sold(jig(), market, before).status is FREE
    assert may_be_sold(jig(), market, on).status is status


def test_maine_bars_the_use_of_painted_jigs_from_september_2026(jig: Any) -> None:
    """12 MRSA 12664: use of painted lead jigs, from 2026-09-01."""
    august = may_be_sold(jig(), "US-ME", dt.date(2026, 8, 31))
    september = may_be_sold(jig(), "US-ME", dt.date(2026, 9, 1))
    assert "us-me-lead-jig-use" not in own(august)
    assert "us-me-lead-jig-use" in own(september)


@pytest.mark.parametrize("market", ["US-NH", "US-ME", "US-MA", "US-WA", "GB", "DK", "CA", "DE"])
def test_nothing_bars_bismuth_tin_anywhere(jig: Any, market: str) -> None:
    verdict = may_be_sold(jig(alloy="bismuth-tin"), market, NOVEMBER)
    assert (verdict.reasons, verdict.certain) == ((), True)
    assert verdict.status is (FREE if market.startswith("US") else NOTED)


@pytest.mark.parametrize("name", ["Pb", "lead (soft)", "LEAD", "tin-lead solder"])
def test_lead_is_found_however_it_is_written(jig: Any, name: str) -> None:
    beaded = jig(alloy="bismuth-tin", bead={name: "5 %"})
    assert may_be_sold(beaded, "DK", NOVEMBER).status is BARRED


def test_a_lead_free_bead_is_not_taken_for_lead(jig: Any) -> None:
    beaded = jig(alloy="bismuth-tin", bead={"lead-free brass": "100 %"})
    verdict = may_be_sold(beaded, "DK", NOVEMBER)
    assert (verdict.status, verdict.reasons) == (NOTED, ())


def test_lead_stated_as_nought_is_told_even_if_the_rest_is_not(jig: Any) -> None:
    """Denmark asks for lead alone, so a composition that denies it answers."""
    told = jig(alloy="told in part")
    metal = told.alloy.model_copy(update={"composition": {"lead": Fraction(0)}})
    told = told.model_copy(update={"materials": {"head metal": metal}})
    verdict = may_be_sold(told, "DK", NOVEMBER)
    assert (verdict.status, verdict.reasons, verdict.certain) == (NOTED, (), True)


@pytest.mark.parametrize(
    ("rule", "day", "painted"),
    [
        ("us-me-lead-jig-sale", NOVEMBER, True),
        ("us-me-lead-jig-use", NOVEMBER, True),
        ("us-me-bare-lead-jig-sale", dt.date(2024, 8, 31), False),
    ],
)
@pytest.mark.parametrize(
    ("weight", "length", "caught"),
    [("1 oz", "4 in", True), ("2 oz", "2 1/2 in", True), ("1 1/32 oz", "2 33/64 in", False)],
)
def test_each_of_maines_rules_has_the_same_boundary(
    jig: Any, rule: str, day: dt.date, painted: bool, weight: str, length: str, caught: bool
) -> None:
    one = jig(weight=weight, painted=painted, pattern={"length": length})
    assert (rule in own(may_be_sold(one, "US-ME", day))) is caught


def test_new_hampshire_bars_sale_and_use_at_the_same_weight(jig: Any) -> None:
    """RSA 339:77 and 211:13-b."""
    assert own(may_be_sold(jig(weight="1 1/64 oz"), "US-NH", NOVEMBER)) == []


@pytest.mark.parametrize(
    ("share", "weight", "noted"),
    [("1 %", "1000 g", True), ("1 %", "1001 g", False), ("0.99 %", "10 g", False)],
)
def test_the_unions_draft_is_for_lures_of_one_per_cent_up_to_a_kilogram(
    jig: Any, share: str, weight: str, noted: bool
) -> None:
    notes = [one.rule for one in may_be_sold(jig(lead=share, weight=weight), "FR", NOVEMBER).notes]
    assert ("eu-lead-lure-pending" in notes) is noted


@pytest.mark.parametrize(("share", "noted"), [("0.1 %", False), ("0.101 %", True)])
def test_the_union_has_dealers_told_of_more_than_a_thousandth(
    jig: Any, share: str, noted: bool
) -> None:
    """Regulation (EC) No 1907/2006, Article 33: above 0.1 % by mass."""
    notes = [one.rule for one in may_be_sold(jig(lead=share), "DE", NOVEMBER).notes]
    assert ("eu-svhc-lead" in notes) is noted


@pytest.mark.parametrize(
    ("weight", "length", "noted"),
    [("1 oz", "4 in", True), ("2 oz", "2 1/2 in", True), ("2 oz", "4 in", False)],
)
def test_minnesotas_bills_are_noted_at_their_own_boundary(
    jig: Any, weight: str, length: str, noted: bool
) -> None:
    """House Files 157 (2021) and 944 (2023): an ounce or less, or 2 1/2 inches or less."""
    verdict = may_be_sold(jig(weight=weight, pattern={"length": length}), "US-MN", NOVEMBER)
    assert verdict.status is FREE
    assert ("us-mn-lead-jig-bills" in [one.rule for one in verdict.notes]) is noted


def test_a_leaded_bead_decides_though_the_head_is_not_told(jig: Any) -> None:
    verdict = may_be_sold(jig(alloy="untold", bead={"lead": "3 %"}), "DK", NOVEMBER)
    assert (verdict.status, verdict.certain) == (BARRED, True)
