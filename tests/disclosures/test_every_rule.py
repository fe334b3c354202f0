"""Every rule that is held has a jig that sets it off, and one that does not.

A rule that cannot be set off is no rule; one that always is, is no test. What the house says of
every pack stands apart, by name.
"""

from __future__ import annotations

import datetime as dt
from typing import Any, NamedTuple

import pytest

from labeler.disclosures import form, load
from labeler.disclosures.rulings import rulings


class Case(NamedTuple):
    """A jig, a market and a day."""

    market: str
    jig: dict[str, Any]
    day: dt.date = dt.date(2026, 11, 25)


def kind(words: str, **rest: Any) -> dict[str, Any]:
    return {"pattern": {"kind": words, **rest}}


LEAD: dict[str, Any] = {}
FREE = {"alloy": "bismuth-tin"}
CHILD = {"for_children": True}
OF_EVERY_PACK = {
    "house-identity", "house-maker", "house-head-weight", "house-claim-net-weight",
    "house-hook-caution", "house-claim-harmless",
}  # fmt: skip

TABLE: dict[str, tuple[Case, Case | None]] = {
    **{rule: (Case("US", LEAD), None) for rule in OF_EVERY_PACK},
    "house-contains-lead": (Case("US", LEAD), Case("US", FREE)),
    "house-lead-free": (Case("US", FREE), Case("US", LEAD)),
    "house-head-metal": (Case("US", {"lead": "0.05 %"}), Case("US", FREE)),
    "house-latex": (Case("US", {"rubber": True}), Case("US", LEAD)),
    "house-lead-caution": (Case("US", LEAD), Case("US", FREE)),
    "house-care": (Case("US", {"pattern": {"care": "Dry it."}}), Case("US", LEAD)),
    "house-claim-lead-free": (Case("US", {"lead": "0.01 %"}), Case("US", FREE)),
    "house-claim-non-toxic": (Case("US", {**FREE, "bead": {"nickel": "9 %"}}), Case("US", FREE)),
    "us-identity": (Case("US-TX", LEAD), Case("GB", LEAD)),
    "us-identity-visible": (
        Case("US", LEAD),
        Case("US", {"bag": ("3 in", "5 in", False)}),
    ),
    "us-responsible": (Case("US", LEAD), Case("DE", LEAD)),
    "us-linking-phrase": (Case("US", {"pattern": {"made_by": "made for"}}), Case("US", LEAD)),
    "us-count": (Case("US", {"pattern": {"pack": 2}}), Case("US", LEAD)),
    "us-count-plural": (Case("US", kind("swim jigs")), Case("US", kind("swim jigs", pack=2))),
    "us-count-visible": (
        Case("US", {"pattern": {"pack": 6}}),
        Case("US", {"pattern": {"pack": 7}}),
    ),
    "us-price-count": (Case("US", LEAD), Case("CA", LEAD)),
    "us-claim-quantity-puffed": (Case("US", LEAD), Case("GB", LEAD)),
    "us-origin-imported": (Case("US", {"pattern": {"made_in": "MX"}}), Case("US", LEAD)),
    "us-origin-qualified": (Case("US", LEAD), Case("US", {"pattern": {"made_in": "MX"}})),
    "us-claim-made-in-usa": (Case("US", LEAD), Case("US", {"hook_origin": "US"})),
    "us-excise": (Case("US", LEAD), Case("CA", LEAD)),
    "us-children-lead": (
        Case("US", {"lead": "0.02 %", "pattern": CHILD}),
        Case("US", {"lead": "0.01 %", "pattern": CHILD}),
    ),
    "us-children-hook": (Case("US", {"pattern": CHILD}), Case("US", LEAD)),
    "us-claim-children": (Case("US", LEAD), Case("GB", LEAD)),
    "us-refuge-lead": (Case("US-MD", LEAD), Case("US-TX", LEAD)),
    "us-park-lead": (Case("US-WY", LEAD), Case("US-WY", FREE)),
    "us-ca-prop-65": (
        Case("US-CA", {"maker": {"employees": 10}}),
        Case("US-CA", {"maker": {"employees": 9}}),
    ),
    "us-ca-prop-65-small-maker": (
        Case("US-CA", {"maker": {"employees": 9}}),
        Case("US-CA", {"maker": {"employees": 10}}),
    ),
    "us-ca-prop-65-others": (
        Case("US-CA", {"bead": {"antimony trioxide": "2 %"}}),
        Case("US-CA", LEAD),
    ),
    "us-nh-lead-jig-sale": (Case("US-NH", LEAD), Case("US-NH", kind("spinnerbait"))),
    "us-nh-lead-jig-use": (Case("US-NH", LEAD), Case("US-NH", FREE)),
    "us-me-lead-jig-sale": (
        Case("US-ME", LEAD, dt.date(2024, 9, 1)),
        Case("US-ME", LEAD, dt.date(2024, 8, 31)),
    ),
    "us-me-bare-lead-jig-sale": (
        Case("US-ME", {"painted": False}, dt.date(2024, 8, 31)),
        Case("US-ME", {"painted": True}, dt.date(2024, 8, 31)),
    ),
    "us-me-lead-jig-use": (
        Case("US-ME", LEAD, dt.date(2026, 9, 1)),
        Case("US-ME", LEAD, dt.date(2026, 8, 31)),
    ),
    "us-ma-lead-jig-use": (Case("US-MA", LEAD), Case("US-MA", {"weight": "1 oz"})),
    "us-vt-lead-sinker": (Case("US-VT", kind("drop sinker")), Case("US-VT", LEAD)),
    "us-ny-lead-sinker": (Case("US-NY", kind("drop sinker")), Case("US-NY", LEAD)),
    "us-wa-lead-jig-use": (
        Case("US-WA", {"pattern": {"length": "1 1/2 in"}}),
        Case("US-WA", {"pattern": {"length": "1 9/16 in"}}),
    ),
    "us-wa-lead-fly-use": (Case("US-WA", kind("weighted fly")), Case("US-WA", LEAD)),
    "us-mn-lead-jig-bills": (Case("US-MN", LEAD), Case("US-MN", FREE)),
    "us-mi-lead": (Case("US-MI", LEAD), Case("US-MI", FREE)),
    "us-va-lead": (Case("US-VA", LEAD), Case("US-VA", FREE)),
    "ca-park-lead-jig-use": (Case("CA", LEAD), Case("CA", {"weight": "50 g"})),
    "ca-two-languages": (Case("CA-QC", LEAD), Case("US", LEAD)),
    "gb-lead-weight": (Case("GB", LEAD), Case("GB", {"weight": "28.36 g"})),
    "dk-lead-tackle": (Case("DK", {"lead": "0.011 %"}), Case("DK", {"lead": "0.01 %"})),
    "eu-lead-lure-pending": (Case("FR", {"lead": "1 %"}), Case("FR", {"lead": "0.99 %"})),
    "eu-svhc-lead": (Case("DE", {"lead": "0.11 %"}), Case("DE", {"lead": "0.1 %"})),
    "eu-product-safety": (
        Case("SE", LEAD, dt.date(2024, 12, 13)),
        Case("SE", LEAD, dt.date(2024, 12, 12)),
    ),
}

HELD = [rule for _, rule in load.shipped().rules()]


def set_off(jig: Any, rule: str, case: Case) -> bool:
    held = rulings(jig(**case.jig), (case.market,), case.day, load.shipped())
    return any(one.rule.id == rule and one.set_off for one in held)


@pytest.mark.parametrize("rule", [rule.id for rule in HELD])
def test_the_rule_is_set_off_by_one_jig_and_not_by_another(jig: Any, rule: str) -> None:
    assert rule in TABLE, (
        "a rule without cases: give it a jig that sets it off and one that does not"
    )
    positive, negative = TABLE[rule]
    assert set_off(jig, rule, positive)
    if negative is not None:
        assert not set_off(jig, rule, negative)


def test_only_what_the_house_says_of_every_pack_has_no_other_case() -> None:
    assert {rule for rule, cases in TABLE.items() if cases[1] is None} == OF_EVERY_PACK


def test_no_case_stands_for_a_rule_that_is_gone() -> None:
    assert set(TABLE) == {rule.id for rule in HELD}, "ids are never renamed: others cite them"


@pytest.mark.parametrize("rule", [*HELD, *form.rules().values()], ids=lambda rule: rule.id)
def test_the_rule_names_a_source_and_is_no_surer_than_it_may_be(rule: Any) -> None:
    assert rule.source
    assert rule.about.endswith(".")
    assert (rule.confidence.value == "from memory") == (rule.read is None)
    if rule.confidence.value == "from memory" or rule.doubt:
        assert rule.grade.value != "stop"


def test_what_was_read_was_read_on_the_day_that_is_stated() -> None:
    days = {rule.read for rule in HELD if rule.read is not None}
    assert days == {dt.date(2026, 11, 25)}
