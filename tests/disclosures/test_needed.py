"""What a piece must say, in which words, how large, and for whom."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from labeler.catalog.model import Product
from labeler.disclosures import market_rules
from labeler.disclosures.needed import card_panel, needed, needed_in_price_list
from labeler.disclosures.rules import KINDS, Confidence
from labeler.disclosures.statements import (
    LeastSize,
    Statement,
    StatementForm,
    TextRun,
    folded,
    merge,
    parse_runs,
)
from labeler.units import Length

CARD = card_panel(Length.parse("3 in"), Length.parse("5 in"))
NOVEMBER = dt.date(2026, 11, 25)


def said(product: Product, *markets: str, day: dt.date = NOVEMBER) -> dict[str, Statement]:
    """Return the statements by their id."""
    return {one.id: one for one in needed(product, markets, day, panel=CARD)}


def the(kind: str, product: Product, *markets: str, day: dt.date = NOVEMBER) -> Statement:
    found = [one for one in said(product, *markets, day=day).values() if one.kind == kind]
    assert len(found) == 1, found
    return found[0]


def test_statements_stand_in_print_order(jig: Any) -> None:
    ten = jig(maker={"employees": 10}, rubber=True, pattern={"pack": 2, "care": "Dry it."})
    kinds = [one.kind for one in needed(ten, ["US-CA", "DE"], NOVEMBER, panel=CARD)]
    assert kinds == sorted(kinds, key=KINDS.index)
    assert set(kinds) == set(KINDS) - {"excise"}


def test_the_identity_names_the_goods_and_the_maker_follows_with_zip(jig: Any) -> None:
    """16 CFR 500.4 and 500.5: common name; street, city, state, ZIP code."""
    assert the("identity", jig(), "US").text == "Swim jig"
    maker = the("maker", jig(), "US").full.plain
    assert maker == "Hobbin & Daughter, 14 Cooper's Row, Alder Ferry, WI 54899"


def test_an_identity_that_no_buyer_knows_is_explained(jig: Any) -> None:
    assert the("identity", jig(pattern={"kind": "creeper"}), "US").text == "Creeper, fishing jig"


def test_the_country_stands_in_the_address_where_it_is_sold_in_another(jig: Any) -> None:
    assert the("maker", jig(), "US", "CA").full.plain.endswith("WI 54899, USA")


def test_a_listed_maker_may_leave_out_the_street(jig: Any) -> None:
    listed = jig(maker={"street": None, "listed": True})
    assert the("maker", listed, "US").full.plain == "Hobbin & Daughter, Alder Ferry, WI 54899"


def test_who_did_not_make_it_says_how_they_came_by_it(jig: Any) -> None:
    """16 CFR 500.5(a)."""
    bought = the("maker", jig(pattern={"made_by": "distributed by"}), "US")
    assert bought.text.startswith("Distributed by Hobbin & Daughter")
    assert "us-linking-phrase" in bought.rules


def test_a_count_of_one_is_left_out_and_two_are_counted(jig: Any) -> None:
    """16 CFR 503.4(a)."""
    boxed = ("3 in", "5 in", False)
    assert "us-count" not in said(jig(bag=boxed), "US")
    two = said(jig(bag=boxed, pattern={"pack": 2}), "US")["us-count"]
    assert (two.text, two.duty, two.runs[0].bold) == ("2 JIGS", "law", True)


@pytest.mark.parametrize(
    ("pack", "clear", "duty"),
    [(6, True, "optional"), (7, True, "law"), (6, False, "law"), (2, True, "optional")],
)
def test_six_that_are_all_visible_need_no_count(
    jig: Any, pack: int, clear: bool, duty: str
) -> None:
    """American Samoa, A.S.A.C. 27.0684."""
    packed = jig(pattern={"pack": pack}, bag=("3 in", "5 in", clear))
    assert said(packed, "US")["us-count"].duty == duty


def test_a_bag_that_is_not_stated_shows_nothing(jig: Any) -> None:
    assert said(jig(pattern={"pack": 2}, bag=None), "US")["us-count"].duty == "law"


def test_one_unit_under_a_plural_name_is_counted(jig: Any) -> None:
    one = said(jig(pattern={"kind": "swim jigs"}, bag=None), "US")["us-count-plural"]
    assert (one.text, one.duty) == ("1 JIG", "law")


def test_the_quantity_is_as_high_as_the_panel_asks(jig: Any) -> None:
    """16 CFR 500.21(b): an eighth of an inch on 15 square inches; 3.2 mm in Handbook 130."""
    count = said(jig(pattern={"pack": 2}), "US")["us-count"]
    size = next(one for one in count.full.least if one.measure == "cap height")
    assert size.points == pytest.approx(9.07, abs=0.005)
    assert size.firm == pytest.approx(9.0)


def test_the_head_weight_stands_in_both_systems_and_is_called_nominal(jig: Any) -> None:
    weight = the("head weight", jig(), "US")
    assert weight.full.plain == "Head weight (nominal) 3/8 oz (10.6 g)"
    assert weight.short is not None
    assert weight.short.plain == "Head 3/8 oz (10.6 g) nom."


def test_a_weight_stated_in_grams_comes_first_in_grams(jig: Any) -> None:
    weight = the("head weight", jig(weight="10 g"), "DE")
    assert weight.full.plain == "Head weight (nominal) 10 g (0.352 oz)"


def test_lead_is_named_and_lead_free_is_said_only_where_the_alloy_backs_it(jig: Any) -> None:
    """16 CFR 260.9."""
    assert the("material", jig(), "US").text == "Head: hard lead. Contains lead."
    assert the("material", jig(alloy="bismuth-tin"), "US").text == "Lead-free head: bismuth, tin."
    assert the("material", jig(lead="0.1 %"), "US").text == "Head: tin and a trace."
    assert "Contains lead" in the("material", jig(lead="0.11 %"), "US").text


@pytest.mark.parametrize("alloy", ["told in part", "untold"])
def test_nothing_is_said_of_a_metal_that_is_not_told(jig: Any, alloy: str) -> None:
    assert not [one for one in said(jig(alloy=alloy), "US").values() if one.kind == "material"]


def test_a_leaded_bead_takes_the_words_lead_free_away(jig: Any) -> None:
    beaded = jig(alloy="bismuth-tin", bead={"lead": "2 %", "copper": "98 %"})
    assert "Contains lead" in the("material", beaded, "US").text


@pytest.mark.parametrize(("share", "cautioned"), [("0.1 %", False), ("0.101 %", True)])
def test_lead_is_cautioned_above_a_thousandth(jig: Any, share: str, cautioned: bool) -> None:
    """Common practice, no published source; the share of Regulation 1907/2006, Article 33."""
    held = said(jig(lead=share), "US")
    assert ("house-lead-caution" in held) is cautioned
    assert ("house-contains-lead" in held) is cautioned


def test_hooks_are_always_cautioned_and_lead_where_there_is_some(jig: Any) -> None:
    lead, free = said(jig(), "US"), said(jig(alloy="bismuth-tin"), "US")
    assert {"house-hook-caution", "house-lead-caution"} <= set(lead)
    assert "house-lead-caution" not in free
    assert lead["house-hook-caution"].runs[0].bold


def test_living_rubber_is_natural_rubber_latex(jig: Any) -> None:
    """Common practice, no published source."""
    assert "natural rubber latex" in said(jig(rubber=True), "US")["house-latex"].text
    assert "house-latex" not in said(jig(), "US")


# --------------------------------------------------------------------------------------- origin


@pytest.mark.parametrize(
    ("hook", "silicone", "words"),
    [
        ("JP", "US", "with imported hook."),
        ("JP", "MY", "with imported hook and materials."),
        ("JP", None, "with imported parts."),
        ("US", "MY", "with imported materials."),
        ("US", "US", "with US hook and materials."),
    ],
)
def test_work_done_at_home_is_never_claimed_without_what_is_imported(
    jig: Any, hook: str, silicone: str | None, words: str
) -> None:
    """16 CFR 323.2; FTC Enforcement Policy Statement on U.S. Origin Claims (1997)."""
    origin = the("origin", jig(hook_origin=hook, silicone_origin=silicone), "US")
    assert origin.text == f"Hand-tied in Wisconsin, USA {words}"
    assert origin.short is not None
    assert origin.short.text == f"Hand-tied in WI, USA {words}"
    assert origin.duty == "optional"


def test_the_hooks_own_steel_counts_as_the_hook(jig: Any) -> None:
    origin = the("origin", jig(hook_origin="JP", steel_origin="JP"), "US")
    assert origin.text == "Hand-tied in Wisconsin, USA with imported hook."


@pytest.mark.parametrize(("hook", "silicone"), [(None, "US"), (None, "MY"), ("US", None)])
def test_no_claim_is_made_where_origins_are_not_stated(
    jig: Any, hook: str | None, silicone: str | None
) -> None:
    one = jig(hook_origin=hook, silicone_origin=silicone)
    assert not [s for s in said(one, "US").values() if s.kind == "origin"]


def test_goods_made_abroad_name_their_country(jig: Any) -> None:
    """19 USC 1304: in English."""
    origin = the("origin", jig(pattern={"made_in": "MX"}), "US")
    assert (origin.text, origin.duty, origin.emphasis) == ("Made in Mexico.", "law", "conspicuous")


# ------------------------------------------------------------------------------ merging and lists


def test_what_several_markets_ask_alike_is_said_once(jig: Any) -> None:
    maker = the("maker", jig(), "US", "US-CA", "CA")
    assert maker.markets == ("US", "US-CA", "CA")
    assert maker.rules == ("house-maker", "us-responsible")
    assert (maker.duty, maker.confidence) == ("law", Confidence.READ)


def test_the_order_of_the_markets_changes_nothing_but_their_order(jig: Any) -> None:
    ten = jig(maker={"employees": 10}, pattern={"pack": 3})
    one, other = said(ten, "US-CA", "US", "GB"), said(ten, "GB", "US", "US-CA")
    assert [s.text for s in one.values()] == [s.text for s in other.values()]


def test_a_place_of_which_nothing_is_known_gets_what_the_house_says(jig: Any) -> None:
    rules = {rule for one in said(jig(), "JP").values() for rule in one.rules}
    assert rules
    assert all(rule.startswith("house-") for rule in rules)


def test_a_price_list_says_the_count_the_tax_and_the_whole_warning(jig: Any) -> None:
    """26 USC 4161(a); 27 CCR 25602 on catalogs: the warning stands with the item."""
    ten = jig(maker={"employees": 10}, pattern={"pack": 2})
    whole = the("warning", ten, "US-CA").full.plain
    listed = needed_in_price_list(ten, ["US-CA"], NOVEMBER, excise="included")
    assert [one.text for one in listed if one.kind != "warning"] == [
        "Pack of 2",
        "Federal excise tax included.",
    ]
    assert [one.full.plain for one in listed if one.kind == "warning"] == [whole]
    apart = needed_in_price_list(ten, ["US"], NOVEMBER, excise="not included")
    assert apart[-1].text == "Federal excise tax not included."


def test_a_label_says_nothing_of_tax(jig: Any) -> None:
    assert "excise" not in {one.kind for one in said(jig(), "US").values()}


def test_no_statement_is_smaller_than_the_house_sets_type(jig: Any) -> None:
    for one in said(jig(maker={"employees": 10}, pattern={"pack": 2}), "US-CA").values():
        for form in one.satisfying:
            assert max(s.points for s in form.least if s.measure == "font size") >= 5


def test_a_statement_in_one_market_only_is_optional_where_that_market_waives_it(jig: Any) -> None:
    both = said(jig(pattern={"pack": 2}), "US", "US-NY")["us-count"]
    assert both.duty == "optional"


def statement(**changes: Any) -> Statement:
    said = StatementForm((TextRun("Sharp hook."),), (LeastSize("font size", 5.0, 0.0),))
    plain = Statement(
        id="a", kind="caution", full=said, short=None, accepted=(), expired=(), emphasis="plain",
        duty="optional", markets=("US",), rules=("a",), confidence=Confidence.MEMORY,
    )  # fmt: skip
    return replace(plain, **changes)


def test_two_rules_that_say_the_same_ask_for_the_sterner_of_each() -> None:
    stern = StatementForm(
        (TextRun("Sharp hook."),),
        (LeastSize("font size", 6.0, 6.0), LeastSize("x-height", 3.0, 2.0)),
        triangle=True,
        as_large_as_other=True,
    )
    other = statement(
        id="b", full=stern, emphasis="bold", duty="law", markets=("US", "GB"), rules=("b",),
        confidence=Confidence.SECONDARY,
    )  # fmt: skip
    mild = statement(duty="customary")
    for pair in ([mild, other], [other, mild]):
        (one,) = merge(pair)
        assert one.full.least == stern.least
        assert (one.full.triangle, one.full.as_large_as_other) == (True, True)
        assert (one.emphasis, one.duty, one.confidence.value) == ("bold", "law", "secondary")
        assert (set(one.rules), set(one.markets)) == ({"a", "b"}, {"US", "GB"})


def test_a_rule_that_is_waived_is_not_named_beside_one_that_asks(jig: Any) -> None:
    """Source: Ohio Revised Code 1327.57: what is easily seen through the wrapper is not named."""
    said = {one.kind: one for one in needed(jig(), ["US"], NOVEMBER, panel=CARD)}
    assert (said["identity"].rules, said["identity"].duty) == (("house-identity",), "customary")
    waived = statement(id="b", duty="optional", rules=("b",), markets=("GB",))
    asked = statement(duty="law")
    for pair in ([waived, asked], [asked, waived]):
        (one,) = merge(pair)
        assert (one.rules, one.markets, one.duty) == (asked.rules, asked.markets, "law")


def test_a_short_form_is_kept_whichever_rule_offers_it() -> None:
    short = StatementForm((TextRun("Sharp."),))
    for pair in ([statement(), statement(short=short)], [statement(short=short), statement()]):
        assert merge(pair)[0].short == short


def test_two_rules_that_say_different_things_are_both_said() -> None:
    other = statement(full=StatementForm((TextRun("Blunt hook."),)))
    assert len(merge([statement(), other])) == 2


def test_runs_are_cut_at_the_stars() -> None:
    assert [(run.text, run.bold) for run in parse_runs("**A:** b **C** d")] == [
        ("A:", True), (" b ", False), ("C", True), (" d", False),
    ]  # fmt: skip


def test_text_reads_the_same_however_its_fraction_is_set() -> None:
    assert folded("Head\u00a01\u2009½ oz") == folded("Head 1 1⁄2 oz") == "Head 1 1/2 oz"


def test_rules_of_ones_own_take_the_place_of_the_shipped(jig: Any) -> None:
    book = market_rules.RuleBook({"*": Path(market_rules.__file__).with_name("house.toml")})
    statements = needed(jig(), ["US"], NOVEMBER, panel=CARD, rules=book)
    assert all(rule.startswith("house-") for one in statements for rule in one.rules)
