"""Words that the goods contradict, in any text a maker prints."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from labeler.catalog.model import Product
from labeler.disclosures.needed import card_panel, needed
from labeler.disclosures.wording import contradicted, folded, puffed
from labeler.findings import Grade, Place
from labeler.units import Length

NOVEMBER = dt.date(2026, 11, 25)


def rules(text: str, product: Product, *markets: str) -> list[str]:
    return [one.rule for one in contradicted(text, product, markets or ("US",), NOVEMBER)]


@pytest.mark.parametrize(
    "text",
    [
        "Lead-free!", "LEAD FREE", "lead\u2011free", "100% unleaded", "contains no lead",
        "Free of lead", "leadfree",
    ],
)  # fmt: skip
def test_lead_is_not_called_lead_free(jig: Any, text: str) -> None:
    """16 CFR 260.9(a)."""
    found = contradicted(text, jig(), ("GB",), NOVEMBER)
    assert [(one.rule, one.grade) for one in found] == [("house-claim-lead-free", Grade.STOP)]


@pytest.mark.parametrize("text", ["Leader-friendly", "No lead time: ships today", "Lead the way"])
def test_other_words_with_lead_in_them_are_left_alone(jig: Any, text: str) -> None:
    assert rules(text, jig()) == []


def test_lead_free_stands_where_the_alloy_backs_it_and_is_doubted_where_it_is_not_told(
    jig: Any,
) -> None:
    assert rules("Lead-free", jig(alloy="bismuth-tin")) == []
    found = contradicted("Lead-free", jig(alloy="told in part"), ("US",), NOVEMBER)
    assert [(one.rule, one.grade) for one in found] == [("house-claim-lead-free", Grade.FIX)]


def test_lead_is_not_called_harmless_and_bismuth_only_with_proof(jig: Any) -> None:
    """16 CFR 260.10(b)."""
    assert rules("Non-toxic", jig()) == ["house-claim-non-toxic", "house-claim-harmless"]
    assert rules("Nontoxic", jig(alloy="bismuth-tin")) == ["house-claim-harmless"]


@pytest.mark.parametrize(
    "text",
    [
        "Made in USA", "MADE IN THE U.S.A.", "Made in America", "American-made",
        "Hand-tied in Wisconsin, USA", "Proudly made in Alder Ferry, USA",
        "Product of the United States", "Tied by us \U0001f1fa\U0001f1f8",
        "Made\u00a0in\u00a0USA",
    ],
)  # fmt: skip
def test_an_imported_hook_takes_made_in_usa_away(jig: Any, text: str) -> None:
    """16 CFR 323.2: words or symbols, all or virtually all of US origin."""
    found = contradicted(text, jig(), ("US-OH",), NOVEMBER)
    assert [(one.rule, one.grade) for one in found] == [("us-claim-made-in-usa", Grade.STOP)]


@pytest.mark.parametrize(
    "text",
    [
        "Hand-tied in Wisconsin, USA with imported hooks",
        "Made in USA from imported parts",
        "Made in USA, hooks made in Japan",
        "Hobbin & Daughter, 14 Cooper's Row, Alder Ferry, WI 54899, USA",
        "Made in batches. Ask us",
        "Assembled in USA",
    ],
)
def test_a_claim_that_names_what_is_imported_stands(jig: Any, text: str) -> None:
    """FTC Enforcement Policy Statement on U.S. Origin Claims (1997), qualified claims."""
    assert rules(text, jig()) == []


def test_made_in_usa_stands_where_all_of_it_is_and_is_doubted_where_it_is_not_told(
    jig: Any,
) -> None:
    assert rules("Made in USA", jig(hook_origin="US")) == []
    untold = contradicted("Made in USA", jig(hook_origin=None), ("US",), NOVEMBER)
    assert [one.grade for one in untold] == [Grade.FIX]


def test_made_in_usa_is_the_uss_affair(jig: Any) -> None:
    assert rules("Made in USA", jig(), "GB") == []


@pytest.mark.parametrize("text", ["JUMBO 2 JIGS", "2 giant jigs", "Full 2 count", "approx. 2 JIGS"])
def test_no_puffery_stands_by_the_quantity(jig: Any, text: str) -> None:
    """16 CFR 500.6(b); Ohio Revised Code 1327.57(B)."""
    found = puffed(text, jig(), ("US",), NOVEMBER)
    assert [(one.rule, one.grade) for one in found] == [("us-claim-quantity-puffed", Grade.STOP)]
    assert "us-claim-quantity-puffed" not in rules(text, jig())


def test_a_plain_quantity_is_left_alone(jig: Any) -> None:
    assert puffed("2 JIGS", jig(), ("US",), NOVEMBER) == ()


def test_a_nominal_weight_is_not_called_net(jig: Any) -> None:
    assert rules("Net Wt 3/8 oz (10.6 g)", jig()) == ["house-claim-net-weight"]


def test_words_for_children_call_for_a_second_look(jig: Any) -> None:
    """16 CFR 1200.2."""
    assert rules("A first jig for kids", jig()) == ["us-claim-children"]


@pytest.mark.parametrize(
    "change",
    [
        {}, {"alloy": "bismuth-tin"}, {"hook_origin": "US"}, {"silicone_origin": None},
        {"rubber": True, "pattern": {"pack": 6}, "maker": {"employees": 12}},
    ],
)  # fmt: skip
def test_what_we_print_ourselves_makes_no_such_claim(jig: Any, change: dict[str, Any]) -> None:
    one = jig(**change)
    card = card_panel(Length.parse("3 in"), Length.parse("5 in"))
    for statement in needed(one, ["US-CA", "GB", "DK"], NOVEMBER, panel=card):
        for form in statement.satisfying:
            assert contradicted(form.text, one, ("US-CA",), NOVEMBER) == ()
            if statement.kind == "quantity":
                assert puffed(form.text, one, ("US-CA",), NOVEMBER) == ()


def test_a_finding_says_where_and_on_whose_word(jig: Any) -> None:
    place = Place(piece="RV-38-MLN", block="story")
    found = contradicted("Lead-free", jig(), ("US",), NOVEMBER, place=place)[0]
    assert found.place == place
    assert "lead in its parts is 97 %" in found.found
    assert found.source == "16 CFR 260.9(a) (read)"


def test_text_is_folded_to_plain_words() -> None:
    assert folded("Made  in\u00a0the U.S.A. — KIDS’ jig") == "made in the usa kids' jig"
