"""The table of what may be sold where, with a reason and a source behind each cell."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from labeler.disclosures.rules import NO_LEGAL_ADVICE, Confidence, Effect
from labeler.disclosures.sale import Status, may_be_sold, parts_not_asked, verdicts
from labeler.findings import Grade, Place


def test_a_place_of_which_nothing_is_known_is_not_called_free(jig: Any, today: dt.date) -> None:
    assert may_be_sold(jig(), "JP", today).status is Status.NOT_HELD


def test_every_cell_names_its_rules_free_ones_too(jig: Any, today: dt.date) -> None:
    markets = ["US-NH", "US-VT", "DK"]
    table = [verdicts(made, markets, today) for made in (jig(), jig(alloy="bismuth-tin"))]
    assert [len(row) for row in table] == [3, 3]
    for verdict in (cell for row in table for cell in row):
        behind = (*verdict.reasons, *verdict.cleared)
        assert behind, verdict
        assert all(reason.source and reason.because for reason in behind)


def test_the_gravest_reason_comes_first(jig: Any, today: dt.date) -> None:
    verdict = may_be_sold(jig(), "US-NH", today)
    assert verdict.reasons[0].effect is Effect.BARRED
    assert {reason.effect for reason in verdict.reasons[1:]} == {Effect.RESTRICTED}


def test_a_head_that_does_not_tell_its_alloy_counts_as_caught_but_is_not_certain(
    jig: Any, today: dt.date
) -> None:
    verdict = may_be_sold(jig(alloy="untold"), "US-NH", today)
    assert (verdict.status, verdict.certain) == (Status.BARRED, False)
    assert verdict.reasons[0].grade is Grade.FIX
    assert "composition of Untold is not stated" in verdict.reasons[0].because


def test_an_alloy_told_in_part_is_not_taken_for_lead_free(jig: Any, today: dt.date) -> None:
    verdict = may_be_sold(jig(alloy="told in part"), "DK", today)
    assert (verdict.status, verdict.certain) == (Status.BARRED, False)


def test_an_alloy_called_lead_is_lead_even_if_it_tells_nothing(jig: Any, today: dt.date) -> None:
    silent = jig()
    metal = silent.alloy.model_copy(update={"composition": {}})
    silent = silent.model_copy(update={"materials": {"head metal": metal}})
    verdict = may_be_sold(silent, "US-NH", today)
    assert (verdict.status, verdict.certain) == (Status.BARRED, True)


def test_a_length_that_is_not_stated_leaves_washington_open(jig: Any, today: dt.date) -> None:
    verdict = may_be_sold(jig(pattern={"length": None}), "US-WA", today)
    assert (verdict.status, verdict.certain) == (Status.RESTRICTED, False)


def test_a_heavy_jig_of_unknown_length_is_not_certain_in_maine(jig: Any, today: dt.date) -> None:
    heavy = may_be_sold(jig(weight="2 oz", pattern={"length": None}), "US-ME", today)
    light = may_be_sold(jig(weight="1 oz", pattern={"length": None}), "US-ME", today)
    assert (heavy.status, heavy.certain) == (Status.BARRED, False)
    assert (light.status, light.certain) == (Status.BARRED, True)


def test_britain_is_in_doubt_and_so_never_stops_the_press(jig: Any, today: dt.date) -> None:
    reason = may_be_sold(jig(), "GB", today).reasons[0]
    assert reason.grade is Grade.FIX
    assert "ask before you sell" in reason.doubt


def test_a_jig_for_children_may_not_hold_lead(jig: Any, today: dt.date) -> None:
    """15 USC 1278a: 100 parts per million."""
    child = {"for_children": True}
    barred = may_be_sold(jig(lead="0.011 %", pattern=child), "US", today)
    free = may_be_sold(jig(lead="0.01 %", pattern=child), "US-TX", today)
    assert barred.status is Status.BARRED
    assert free.status is Status.NOTED
    assert [note.rule for note in free.notes] == ["us-origin-hook", "us-children-hook"]


def test_goods_made_abroad_need_a_disclosure_in_the_us(jig: Any, today: dt.date) -> None:
    """19 USC 1304."""
    foreign = jig(alloy="bismuth-tin", pattern={"made_in": "MX"})
    assert may_be_sold(foreign, "US", today).status is Status.DISCLOSURE


def test_proposition_65_is_a_disclosure_from_ten_people_on(jig: Any, today: dt.date) -> None:
    """California Health and Safety Code 25249.11(b)."""
    nine = may_be_sold(jig(maker={"employees": 9}), "US-CA", today)
    ten = may_be_sold(jig(maker={"employees": 10}), "US-CA", today)
    assert (nine.status, ten.status) == (Status.FREE, Status.DISCLOSURE)
    assert "us-ca-prop-65-small-maker" in [note.rule for note in nine.notes]


def test_federal_refuges_reach_their_states_and_the_us_as_a_whole(jig: Any, today: dt.date) -> None:
    assert may_be_sold(jig(), "US", today).status is Status.RESTRICTED
    assert may_be_sold(jig(), "US-MD", today).status is Status.RESTRICTED
    assert may_be_sold(jig(), "US-TX", today).status is Status.FREE


@pytest.mark.parametrize("market", ["GB", "DE", "SE", "CA", "CA-QC", "CA-ON"])
def test_no_place_is_free_for_certain_whose_binding_rules_are_only_noted(
    jig: Any, today: dt.date, market: str
) -> None:
    """SI 2005/1803, reg. 7(4)(a); (EU) 2023/988 and 2025/40; C.R.C., c. 417; CQLR c. C-11, s. 51.

    Nothing bars a lead-free jig there, but its label was not held against them.
    """
    verdict = may_be_sold(jig(alloy="bismuth-tin"), market, today)
    assert verdict.status is Status.NOTED
    assert may_be_sold(jig(alloy="bismuth-tin"), "US-TX", today).status is Status.FREE


@pytest.mark.parametrize("market", ["US-CT", "US-MA", "US-NH", "US-NY", "US-RI"])
def test_what_was_not_read_of_the_refuges_limits_no_use(
    jig: Any, today: dt.date, market: str
) -> None:
    """88 FR 74050 amends 50 CFR 32.38, .39, .57 and .65; 87 FR 57108 amends 50 CFR 32.33."""
    verdict = may_be_sold(jig(weight="2 oz"), market, today)
    assert "us-refuge-lead" not in [one.rule for one in verdict.reasons]
    assert "us-refuge-thicket" in [one.rule for one in verdict.notes]


def test_a_figure_never_stands_beside_another_substances_name(jig: Any, today: dt.date) -> None:
    """27 CCR 27001 lists each for itself; shares of kin are told one by one, never added up."""
    brass = jig(alloy="bismuth-tin", bead={"nickel": "3.5 %", "copper": "90 %"})
    both = jig(alloy="bismuth-tin", bead={"nickel": "2 %", "cobalt": "1.5 %"})
    oxide = jig(alloy="bismuth-tin", bead={"antimony trioxide": "3.5 %"})
    told = [
        next(one.because for one in may_be_sold(each, "US-CA", today).notes
             if one.rule == "us-ca-prop-65-others")
        for each in (brass, both, oxide)
    ]  # fmt: skip
    assert told == [
        "nickel in its parts is 3.5 %, more than 0 %",
        "nickel in its parts is 2 % and cobalt in its parts is 1.5 %, more than 0 %",
        "antimony trioxide in its parts is 3.5 %, more than 0 %",
    ]


def test_a_reason_becomes_a_finding(jig: Any, today: dt.date) -> None:
    first = may_be_sold(jig(), "DK", today).reasons[0].finding(Place(piece="RV-38-MLN"))
    assert (first.rule, first.grade) == ("dk-lead-tackle", Grade.STOP)
    assert first.source.endswith(f"({Confidence.SECONDARY.value})")
    assert first.found == "lead in its parts is 97 %, more than 0.01 %"


def test_an_uncertain_finding_says_so(jig: Any, today: dt.date) -> None:
    first = may_be_sold(jig(alloy="untold"), "DK", today).reasons[0].finding(Place())
    assert "does not tell" in first.hint


def test_states_with_rules_that_nobody_named_are_told_of() -> None:
    assert "US-ME" in parts_not_asked(["US"])
    assert "US-ME" not in parts_not_asked(["US", "US-ME"])
    assert parts_not_asked(["GB", "US-ME"]) == ()


def test_the_sentence_on_legal_advice_says_that_this_is_none() -> None:
    assert NO_LEGAL_ADVICE.startswith("This is not legal advice.")
    assert "counsel" in NO_LEGAL_ADVICE


def test_notes_bar_nothing_and_are_only_those_set_off(jig: Any, today: dt.date) -> None:
    verdict = may_be_sold(jig(), "DK", today)
    assert {note.effect for note in verdict.notes} == {Effect.NOTE}
    free = may_be_sold(jig(alloy="bismuth-tin"), "DK", today)
    assert [note.rule for note in free.notes] == ["eu-product-safety", "eu-packaging"]


def test_what_was_asked_and_did_not_catch_is_told(jig: Any, today: dt.date) -> None:
    verdict = may_be_sold(jig(weight="2 oz"), "US-NH", today)
    cleared = {one.rule: one.because for one in verdict.cleared}
    assert "not not more than 1 oz" not in cleared["us-nh-lead-jig-sale"]
    assert cleared["us-nh-lead-jig-sale"].startswith("the head weighs 2 oz, over")
    assert not set(cleared) & {one.rule for one in verdict.reasons}


def test_of_two_reasons_as_grave_the_certain_one_comes_first(jig: Any, today: dt.date) -> None:
    unsure = jig(pattern={"length": None}, alloy="untold", bead={"lead": "3 %"})
    reasons = may_be_sold(unsure, "US-ME", today).reasons
    restricted = [one.certain for one in reasons if one.effect is Effect.RESTRICTED]
    assert restricted == [True, False]
