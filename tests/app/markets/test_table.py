"""The table of products by market, as it stands on the screen and as JSON."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

import pytest

from labeler.app.markets import verdicts
from labeler.catalog.read import read_catalog
from labeler.disclosures import market_rules
from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.disclosures.sale import SHORT, Status
from labeler.disclosures.sale import verdicts as judged
from labeler.units import Length, Weight

DEMO = Path(__file__).resolve().parents[3] / "demo_catalog"
AUTUMN = "2026-11-25"
MANY = ("US", "US-ME", "US-NH", "US-CA", "CA", "GB", "DE", "DK", "EU", "JP", "US-WI", "US-WA")


def asking(*codes: str) -> list[str]:
    return [word for code in codes for word in ("--market", code)]


def flat(text: str) -> str:
    return " ".join(text.split())


def test_without_a_market_the_line_is_held_against_where_it_is_sold(run_cli: Any) -> None:
    report = run_cli(DEMO, "markets")
    assert [m["code"] for m in report["markets"]] == ["US", "US-CA", "US-MN", "US-WI", "CA"]
    assert all(m["sold_there"] for m in report["markets"])


def test_a_place_where_nothing_is_sold_may_be_asked_about(run_cli: Any) -> None:
    report = run_cli(DEMO, "markets", *asking("us-me"))
    assert [(m["code"], m["name"], m["sold_there"]) for m in report["markets"]] == [
        ("US-ME", "Maine", False)
    ]


@pytest.mark.daily("2026-11-25")
@pytest.mark.parametrize("day", [AUTUMN, "2024-08-31"])
def test_every_product_in_every_market_is_told_as_the_rules_judge_it(
    run_cli: Any, day: str
) -> None:
    """Products that are alike are judged once: the long way round comes to the same."""
    products = read_catalog(DEMO).products
    report = run_cli(DEMO, "markets", *asking(*MANY), "--on", day)
    today = dt.date.fromisoformat(day)
    straight = tuple(judged(product, MANY, today) for product in products)
    assert len(report["products"]) == 88
    for product, row in zip(report["products"], straight, strict=True):
        for cell, verdict in zip(product["markets"], row, strict=True):
            assert (product["sku"], cell["market"]) == (verdict.sku, verdict.market)
            assert cell["status"] == verdict.status.value
            assert cell["certain"] == verdict.certain
            assert [(r["rule"], r["because"]) for r in cell["caught_by"]] == [
                (r.rule, r.because) for r in verdict.reasons
            ]


@pytest.mark.parametrize(
    ("change", "day"),
    [
        ("painted", "2024-08-31"),  # 12 MRSA 12663-B: a bare jig only, before September 2024
        ("length", AUTUMN),  # and by its length, whatever it weighs
    ],
)
def test_two_products_of_the_same_parts_are_not_taken_for_each_other(change: str, day: str) -> None:
    one = next(p for p in read_catalog(DEMO).products if p.sku == "GB-1OZ-50-XBL")
    one = one.model_copy(update={"weight": Weight.parse("1 1/8 oz")})
    other: dict[str, object]
    if change == "painted":
        one = one.model_copy(update={"weight": Weight.parse("1 oz")})
        other = {"colour": one.colour.model_copy(update={"head_paint": None})}
    else:
        long, short = (
            one.pattern.model_copy(update={"length": Length.parse(text)})
            for text in ("3 in", "2 in")
        )
        one, other = one.model_copy(update={"pattern": long}), {"pattern": short}
    pair = [one, one.model_copy(update=other)]
    rows = verdicts(pair, ("US-ME",), dt.date.fromisoformat(day), market_rules.shipped())
    assert rows[0][0].status is not Status.BARRED
    assert rows[1][0].status is Status.BARRED


def test_behind_every_verdict_stand_rules_with_their_source(run_cli: Any) -> None:
    report = run_cli(DEMO, "markets", *asking(*MANY), "--on", AUTUMN)
    rules = {rule["rule"]: rule for rule in report["rules"]}
    for rule in rules.values():
        assert rule["source"]
        assert rule["confidence"] in ("read", "secondary", "from memory")
        assert bool(rule["read"]) == (rule["confidence"] != "from memory")
    for product in report["products"]:
        for cell in product["markets"]:
            behind = [one["rule"] for one in (*cell["caught_by"], *cell["notes"])]
            assert set(behind) <= set(rules)
            if cell["status"] == Status.NOTED.value:
                assert cell["notes"]
            elif cell["status"] not in (Status.FREE.value, Status.NOT_HELD.value):
                assert cell["caught_by"]


def test_a_rule_tells_whom_it_catches_and_whom_not(run_cli: Any) -> None:
    report = run_cli(DEMO, "markets", *asking("US-NH"), "--on", AUTUMN)
    rule = next(one for one in report["rules"] if one["rule"] == "us-nh-lead-jig-sale")
    free = {p["sku"] for p in report["products"] if p["pattern"] in ("Loonlight",)}
    assert free <= set(rule["does_not_catch"])
    assert len(rule["catches"]) + len(rule["does_not_catch"]) == 88
    assert not set(rule["catches"]) & set(rule["does_not_catch"])


def test_on_the_screen_every_number_in_a_cell_stands_below_with_its_source(
    shown: Any, run_cli: Any
) -> None:
    words = ("markets", *asking(*MANY), "--on", AUTUMN)
    out = shown(DEMO, *words)
    cells, _, below = out.partition("\nThe rules behind the cells")
    said = "|".join(map(re.escape, SHORT.values()))
    used = {
        mark
        for found in re.findall(rf"(?:{said})\?? ([0-9a-z]+(?:,[0-9a-z]+)*)(?:  |$)", cells, re.M)
        for mark in found.split(",")
    }
    listed = set(re.findall(r"^ {0,2}([0-9]{1,3}|[a-z]{1,2})  \S", below, re.M))
    rules = run_cli(DEMO, *words)["rules"]
    assert used == listed == {rule["mark"] for rule in rules}
    for rule in rules:
        assert flat(rule["about"]) in flat(below)
        assert flat(rule["source"]) in flat(below)
        assert rule["read"] in below


def test_eighty_eight_products_are_eight_rows(shown: Any) -> None:
    table = shown(DEMO, "markets", *asking("US")).partition("\nmay be sold")[0]
    assert len([line for line in table.splitlines()[3:] if line and line[0] != " "]) == 8


def test_a_narrow_terminal_gets_one_part_below_the_other(
    shown: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown(DEMO, "markets")
    monkeypatch.setenv("COLUMNS", "70")
    out = shown(DEMO, "markets", *asking(*MANY))
    assert max(map(len, out.splitlines())) <= 70
    heads = [line.split() for line in out.splitlines() if re.match(r" {30}.*\b[A-Z]{2}\b", line)]
    assert [code for line in heads for code in line] == list(MANY)


def test_it_ends_with_what_was_not_checked_and_that_it_is_no_legal_advice(
    shown: Any, run_cli: Any
) -> None:
    words = ("markets", *asking("US", "JP", "EU"))
    out = shown(DEMO, *words)
    below = flat(out.partition("\nNot checked")[2])
    assert below.endswith(NO_LEGAL_ADVICE)
    assert "US-ME (Maine)" in below
    assert "DK (Denmark)" in below
    assert "JP (Japan)" in below
    report = run_cli(DEMO, *words)
    assert report["no_legal_advice"] == NO_LEGAL_ADVICE
    assert all(flat(line) in below for line in report["not_checked"])


def test_a_part_that_is_asked_is_not_called_left_out(run_cli: Any) -> None:
    report = run_cli(DEMO, "markets", *asking("US", "US-ME"))
    parts = report["not_checked"][0]
    assert "US-NH" in parts
    assert "US-ME" not in parts


def test_what_the_catalog_does_not_tell_counts_against_it_with_a_question_mark(
    edited: Any, shown: Any
) -> None:
    folder = edited(('composition = { bismuth = "58 %", tin = "42 %" }\n', ""))
    out = shown(folder, "markets", *asking("US-NH"), "--on", AUTUMN)
    row = next(line for line in out.splitlines() if line.startswith("Loonlight"))
    assert "not sold?" in row
    assert "Not told, so counted against" in out
    assert "the composition of Bismuth-tin is not stated" in flat(out)


def test_words_that_are_no_places_are_told_of_all_at_once(
    run_cli: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    words = asking("Maine", "US-XX", "US", "*", "ZZ", "U", "US-", "CA-TOOLONG")
    report = run_cli(DEMO, "markets", *words, status=2)
    found = {one["found"]: one.get("hint", "") for one in report["findings"]}
    assert set(found) == {"Maine", "US-XX", "*", "ZZ", "U", "US-", "CA-TOOLONG"}
    assert found["Maine"] == "Did you mean 'US-ME'?"
    assert {one["rule"] for one in report["findings"]} == {"market-unknown"}


def test_a_sku_that_is_not_sold_is_told_with_the_nearest(run_cli: Any) -> None:
    report = run_cli(DEMO, "markets", "--sku", "RM-14-30-SBX", status=2)
    assert report["findings"][0]["rule"] == "sku-unknown"
    assert "RM-14-30-SBR" in report["findings"][0]["hint"]


def test_a_day_that_no_calendar_has_is_refused(run_cli: Any) -> None:
    report = run_cli(DEMO, "markets", "--on", "2027-02-30", status=2)
    assert "2027-02-30" in report["findings"][0]["message"]


def test_a_name_that_would_steer_the_terminal_is_spelled_out(edited: Any, shown: Any) -> None:
    """ECMA-48: U+009B begins a control sequence as ESC [ does."""
    folder = edited(('name = "GRAVEL BELL"', 'name = "GRAVEL \\u009b31m"'))
    out = shown(folder, "markets")
    assert "\u009b" not in out
    assert "GRAVEL \\x9b31m" in out


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("UK", "GB"),
        ("Germany", "DE"),
        ("U.S.", "US"),
        ("New Hampshire", "US-NH"),
        ("Québec", "CA-QC"),
    ],
)
def test_a_place_by_its_everyday_name_is_told_by_its_code(said: str, meant: str) -> None:
    """Source: ISO 3166-1 and 3166-2: the United Kingdom is GB; UK is reserved, not assigned."""
    from labeler.app.markets import markets_asked
    from labeler.disclosures import market_rules
    from labeler.findings import LabelerError

    with pytest.raises(LabelerError) as caught:
        markets_asked([said], market_rules.shipped())
    assert caught.value.findings[0].hint == f"Did you mean {meant!r}?"
