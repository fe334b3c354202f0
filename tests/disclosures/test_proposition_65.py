"""The warning that Proposition 65 asks for: whose, in which words, since when and until when."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from labeler.catalog.model import Product
from labeler.disclosures.needed import card_panel, needed
from labeler.disclosures.statements import Statement
from labeler.units import Length

CARD = card_panel(Length.parse("3 in"), Length.parse("5 in"))
NOVEMBER = dt.date(2026, 11, 25)

LONG = (
    "WARNING: This product can expose you to chemicals including lead, which is known to the "
    "State of California to cause cancer and birth defects or other reproductive harm. For more "
    "information go to www.P65Warnings.ca.gov."
)
NEW_SHORT = (
    "WARNING: Risk of cancer and reproductive harm from exposure to lead. "
    "See www.P65Warnings.ca.gov."
)
OLD_SHORT = "WARNING: Cancer and Reproductive Harm - www.P65Warnings.ca.gov"


def said(product: Product, *markets: str, day: dt.date = NOVEMBER) -> dict[str, Statement]:
    """Return the statements by their id."""
    return {one.id: one for one in needed(product, markets, day, panel=CARD)}


def warning(jig: Any, day: dt.date = NOVEMBER, people: int = 10) -> Statement:
    held = said(jig(maker={"employees": people}), "US-CA", day=day).values()
    (one,) = (each for each in held if each.kind == "warning")
    return one


def test_the_warning_stands_word_for_word_with_its_sign(jig: Any) -> None:
    """27 CCR 25603(a) and (b)."""
    held = warning(jig)
    assert held.full.plain == LONG
    assert held.short is not None
    assert held.short.plain == NEW_SHORT
    assert held.full.triangle
    assert held.short.triangle
    assert held.runs[0].text == "WARNING:"
    assert held.runs[0].bold
    assert held.markets == ("US-CA",)


def test_the_warning_is_no_smaller_than_six_points(jig: Any) -> None:
    """27 CCR 25602: six-point type, which is a nominal size and no height of letters."""
    for form in warning(jig).satisfying:
        assert [(s.measure, s.points, s.firm) for s in form.least] == [("font size", 6.0, 6.0)]


def test_nine_people_need_not_warn(jig: Any) -> None:
    assert "us-ca-prop-65" not in said(jig(maker={"employees": 9}), "US-CA")


def test_bismuth_tin_needs_no_warning(jig: Any) -> None:
    assert "us-ca-prop-65" not in said(jig(alloy="bismuth-tin", maker={"employees": 50}), "US-CA")


def test_only_california_asks_for_it(jig: Any) -> None:
    assert "us-ca-prop-65" not in said(jig(maker={"employees": 50}), "US-NV", "CA")


def test_every_published_wording_satisfies(jig: Any) -> None:
    texts = {form.plain for form in warning(jig).satisfying}
    can = "Can expose you to lead, a carcinogen and reproductive toxicant."
    assert {
        LONG,
        NEW_SHORT,
        OLD_SHORT,
        "CALIFORNIA " + NEW_SHORT,
        "CA " + NEW_SHORT,
        f"CALIFORNIA WARNING: {can} See www.P65Warnings.ca.gov.",
    } <= texts
    assert "CA " + LONG not in texts
    assert "CA " + OLD_SHORT not in texts


def test_no_wording_is_listed_twice(jig: Any) -> None:
    texts = [form.plain for form in warning(jig).satisfying]
    assert len(texts) == len(set(texts))


@pytest.mark.parametrize(
    ("day", "good"), [(dt.date(2027, 12, 31), True), (dt.date(2028, 1, 1), False)]
)
def test_the_old_short_form_serves_until_2028(jig: Any, day: dt.date, good: bool) -> None:
    held = warning(jig, day)
    assert (OLD_SHORT in {form.plain for form in held.satisfying}) is good
    expired = {form.plain: form.until for form in held.expired}
    assert expired == ({} if good else {OLD_SHORT: "2028-01-01"})


def test_the_old_short_form_stands_no_smaller_than_other_information(jig: Any) -> None:
    """27 CCR 25602 as it was before 2025."""
    forms = {form.plain: form for form in warning(jig).satisfying}
    assert forms[OLD_SHORT].as_large_as_other
    assert not forms[NEW_SHORT].as_large_as_other


def test_before_2025_the_old_short_form_is_the_short_form(jig: Any) -> None:
    held = warning(jig, dt.date(2024, 12, 31))
    assert held.short is not None
    assert held.short.plain == OLD_SHORT
    assert NEW_SHORT not in {form.plain for form in held.satisfying}
