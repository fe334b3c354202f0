"""check holds the line against the places where it is sold: each cause once, not each SKU."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from labeler.disclosures.rules import NO_LEGAL_ADVICE

DEMO = Path(__file__).resolve().parents[3] / "demo_catalog"
AUTUMN = "2026-11-25"
SOLD_IN = 'markets = ["US", "US-CA", "US-MN", "US-WI", "CA"]'


def sold_in(*codes: str) -> tuple[str, str]:
    return SOLD_IN, f"markets = [{', '.join(repr(code) for code in codes)}]".replace("'", '"')


def of_rule(report: dict[str, Any], rule: str) -> dict[str, Any]:
    """Return the finding of a rule, which is told once."""
    found: list[dict[str, Any]] = [one for one in report["findings"] if one["rule"] == rule]
    assert len(found) == 1, [one["rule"] for one in report["findings"]]
    return found[0]


def test_nothing_stands_against_the_demo_where_it_is_sold(run_cli: Any) -> None:
    report = run_cli(DEMO, "check", "--on", AUTUMN)
    assert report["stops"] == 0
    assert {one["grade"] for one in report["findings"]} == {"note"}


@pytest.mark.parametrize(
    ("code", "rule", "grade", "status"),
    [
        ("US-NH", "us-nh-lead-jig-sale", "stop", 1),  # RSA 339:77
        ("US-ME", "us-me-lead-jig-sale", "stop", 1),  # 12 MRSA 12663-B
        ("DK", "dk-lead-tackle", "stop", 1),  # BEK no. 856 of 2009
        ("GB", "gb-lead-weight", "fix", 0),  # SI 1986/1992, of which it is not clear what it bars
    ],
)
def test_lead_sold_where_it_may_not_be_is_told_once_for_all_products(
    edited: Any, run_cli: Any, code: str, rule: str, grade: str, status: int
) -> None:
    folder = edited(sold_in("US", code))
    report = run_cli(folder, "check", "--on", AUTUMN, status=status)
    found = of_rule(report, rule)
    assert found["grade"] == grade
    assert found["place"]["piece"] == "75 products (RM-14-30-SBR, RM-14-30-TSP, RM-14-30-FPR" \
        " and 72 more)"  # fmt: skip
    assert f"may not be sold in {code}" in found["message"]
    assert "2026-11-25" in found["source"]
    assert found["found"].startswith("lead in ")


def test_a_day_before_the_law_stops_nothing(edited: Any, run_cli: Any) -> None:
    report = run_cli(edited(sold_in("US-ME")), "check", "--on", "2024-08-31")
    assert report["stops"] == 0


def test_one_rule_in_several_markets_is_one_finding(edited: Any, run_cli: Any) -> None:
    report = run_cli(edited(sold_in("US", "US-MD", "US-VA")), "check", "--on", AUTUMN)
    found = of_rule(report, "us-refuge-lead")
    assert found["grade"] == "note"
    assert found["message"].startswith("use restricted in US, US-MD, US-VA: ")


def test_products_that_are_not_sold_there_are_left_alone(edited: Any, run_cli: Any) -> None:
    folder = edited(sold_in("US", "US-NH"))
    kept = "RM-14-30-SBR"
    skus = [p["sku"] for p in run_cli(folder, "markets")["products"]]
    rows = "".join(f'{sku},"US"\n' for sku in skus if sku != kept)
    (folder / "products.csv").write_text(f"SKU,Markets\n{rows}", "utf-8")
    report = run_cli(folder, "check", "--on", AUTUMN, status=1)
    assert of_rule(report, "us-nh-lead-jig-sale")["place"]["piece"] == kept


def test_what_is_not_told_is_judged_but_stops_nothing(edited: Any, run_cli: Any) -> None:
    untold = ('composition = { bismuth = "58 %", tin = "42 %" }\n', "")
    lead = ('alloy = "lead"', 'alloy = "bismuth-tin"')
    report = run_cli(edited(sold_in("US-NH"), untold, lead), "check", "--on", AUTUMN)
    found = of_rule(report, "us-nh-lead-jig-sale")
    assert found["grade"] == "fix"
    assert "does not tell" in found["hint"]
    assert "us-nh-lead-jig-use" not in [f["rule"] for f in report["findings"]]
    asked = [f for f in report["findings"] if "Asked by" in f.get("hint", "")]
    assert [f["message"] for f in asked] == ["the composition of Bismuth-tin is not stated"]
    assert "us-nh-lead-jig-sale" in asked[0]["hint"]


def test_a_gap_of_the_whole_line_is_told_once(edited: Any, run_cli: Any) -> None:
    """16 CFR 500.5 asks for a ZIP code; USPS Publication 28 says what one is."""
    report = run_cli(edited(('postcode = "54899"\ncountry', 'postcode = "5489"\ncountry')), "check",
                  status=1)  # fmt: skip
    found = of_rule(report, "us-responsible")
    assert found["grade"] == "stop"
    assert found["place"]["piece"].startswith("88 products (")
    assert found["found"] == "5489"


def test_parts_with_rules_of_their_own_are_named_until_they_are_asked(
    edited: Any, run_cli: Any
) -> None:
    found = of_rule(run_cli(edited(sold_in("US")), "check"), "markets-not-named")
    assert "US-ME" in found["found"].split(", ")
    fewer = run_cli(edited(sold_in("US", "US-VT"), folder="other"), "check")
    assert "US-VT" not in of_rule(fewer, "markets-not-named")["found"]
    none = run_cli(edited(sold_in("US-WI"), folder="third"), "check")
    assert "markets-not-named" not in [one["rule"] for one in none["findings"]]


def test_a_place_of_which_nothing_is_held_is_named(edited: Any, run_cli: Any) -> None:
    assert (
        of_rule(run_cli(edited(sold_in("US", "JP")), "check"), "market-not-held")["found"] == "JP"
    )


def test_on_the_screen_sources_and_confidence_stand_by_and_the_advice_comes_last(
    edited: Any, shown: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "84")
    lines = shown(edited(sold_in("US-NH")), "check", "--on", AUTUMN, status=1).splitlines()
    assert max(map(len, lines)) <= 84
    out = " ".join(" ".join(lines).split())
    assert "New Hampshire RSA 339:77 (read, looked up 2026-11-25)" in out
    assert out.endswith(NO_LEGAL_ADVICE)


def test_programs_are_told_that_it_is_no_advice(run_cli: Any) -> None:
    assert run_cli(DEMO, "check")["no_legal_advice"] == NO_LEGAL_ADVICE


def test_a_catalog_that_can_not_be_read_is_held_against_no_law(edited: Any, run_cli: Any) -> None:
    report = run_cli(edited(("[sale]", "[sael]")), "check", status=1)
    assert report["products"] == 0
    assert not any(one["rule"].startswith("us-") for one in report["findings"])


@pytest.mark.parametrize(
    ("was", "now", "rule", "key"),
    [
        ("in the bottom of the bag.", "in the bag. US made.", "us-claim-made-in-usa", "story"),
        ("in the bottom of the bag.", "in the bag. Pb-free.", "house-claim-lead-free", "story"),
        ("Rinse, shake dry, and", "Safe for ducks. Rinse, and", "house-claim-non-toxic", "care"),
        ('name = "Reedmace"', 'name = "Reedmace, Made in China"', "house-claim-origin", "name"),
    ],
)
def test_a_claim_that_would_stop_the_print_is_told_beforehand(
    edited: Any, run_cli: Any, was: str, now: str, rule: str, key: str
) -> None:
    """16 CFR 323.2, 260.9(a), 260.10(b); 19 CFR 134.46."""
    report = run_cli(edited((was, now)), "check", "--on", AUTUMN, status=1)
    found = of_rule(report, rule)
    assert found["grade"] == "stop"
    assert found["place"]["key"] == f"patterns.reedmace.{key}"
    assert "15 products" in found["place"]["piece"]
