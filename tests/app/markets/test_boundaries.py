"""Each limit of the law from both sides, asked at the command line of a line that is sold there."""

from __future__ import annotations

from typing import Any

import pytest

from labeler.disclosures.sale import SHORT, Status

AUTUMN = "2026-11-25"
SOLD_IN = 'markets = ["US", "US-CA", "US-MN", "US-WI", "CA"]'
FREE, LIMITED, BARRED, NOTICE = (
    Status.FREE.value,
    Status.RESTRICTED.value,
    Status.BARRED.value,
    Status.DISCLOSURE.value,
)
NOTED = Status.NOTED.value


def heaviest(report: dict[str, Any], weight: str) -> dict[str, str]:
    """Return what each market makes of the football jig of that weight, all colours alike."""
    found = [p for p in report["products"] if p["pattern"] == "GRAVEL BELL"]
    found = [p for p in found if p["weight"] == weight]
    assert found
    run_cli = [{m["market"]: m["status"] for m in product["markets"]} for product in found]
    assert all(one == run_cli[0] for one in run_cli)
    return run_cli[0]


@pytest.mark.parametrize(
    ("market", "weight", "length", "day", "verdict"),
    [
        # New Hampshire RSA 339:77: one ounce or less in all; its length does not matter.
        ("US-NH", "1 oz", "3 1/2 in", AUTUMN, BARRED),
        ("US-NH", "1 1/16 oz", "3 1/2 in", "2026-08-31", FREE),
        ("US-NH", "1 1/16 oz", "2 in", "2026-08-31", FREE),
        ("US-NH", "1 oz", "3 1/2 in", "2016-05-31", FREE),
        ("US-NH", "1 oz", "3 1/2 in", "2016-06-01", BARRED),
        # 12 MRSA 12663-B: one ounce or less, or two and a half inches or less; painted ones from
        # 1 September 2024.
        ("US-ME", "1 oz", "3 1/2 in", AUTUMN, BARRED),
        ("US-ME", "1 1/16 oz", "2 1/2 in", AUTUMN, BARRED),
        ("US-ME", "1 oz", "3 1/2 in", "2024-08-31", FREE),
        ("US-ME", "1 oz", "3 1/2 in", "2024-09-01", BARRED),
        # 50 CFR 32: from 1 September 2026 some refuges bar the use of lead of any size.
        ("US-MD", "1 1/16 oz", "2 in", AUTUMN, LIMITED),
        ("US-ME", "1 1/16 oz", "2 9/16 in", AUTUMN, LIMITED),
        ("US-ME", "1 1/16 oz", "2 9/16 in", "2026-08-31", FREE),
        # C.R.C., c. 1120, s. 17(h): less than 50 grams; 1 3/4 oz is 49.61 g, 50 g is not less.
        ("CA", "1 3/4 oz", "3 1/2 in", AUTUMN, LIMITED),
        ("CA", "50 g", "3 1/2 in", AUTUMN, NOTED),
        # SI 1986/1992: up to 28.35 grams; 1 oz is 28.3495 g.
        ("GB", "1 oz", "3 1/2 in", AUTUMN, BARRED),
        ("GB", "28.36 g", "3 1/2 in", AUTUMN, NOTED),
    ],
)  # fmt: skip
def test_a_limit_holds_to_the_last_grain_and_the_day(
    bell: Any, run_cli: Any, market: str, weight: str, length: str, day: str, verdict: str
) -> None:
    folder = bell(weight, length, (SOLD_IN, f'markets = ["US", "{market}"]'))
    report = run_cli(folder, "markets", "--sku", "GB-*", "--on", day)
    assert [one["code"] for one in report["markets"]] == ["US", market]
    assert report["day"] == day
    assert heaviest(report, weight)[market] == verdict


@pytest.mark.parametrize(("people", "verdict"), [(9, FREE), (10, NOTICE)])
def test_california_asks_for_a_notice_from_ten_people_on(
    edited: Any, run_cli: Any, people: int, verdict: str
) -> None:
    """California Health and Safety Code 25249.11(b)."""
    folder = edited(("employees = 2", f"employees = {people}"))
    report = run_cli(folder, "markets", "--sku", "GB-*", "--market", "US-CA")
    assert {m["status"] for p in report["products"] for m in p["markets"]} == {verdict}


@pytest.mark.parametrize(
    ("lead", "verdict"), [("0.01 %", NOTED), ("0.011 %", BARRED), ("97 %", BARRED)]
)
def test_denmark_counts_parts_in_ten_thousand(
    edited: Any, run_cli: Any, lead: str, verdict: str
) -> None:
    """BEK no. 856 of 2009: more than 0.01 % of lead in any part."""
    rest = f"{100 - float(lead.removesuffix(' %')):.3f}"
    mix = f'composition = {{ lead = "{lead}", tin = "{rest} %" }}'
    folder = edited(('composition = { lead = "97 %", antimony = "3 %" }', mix))
    report = run_cli(folder, "markets", "--sku", "RM-*", "--market", "DK")
    assert {m["status"] for p in report["products"] for m in p["markets"]} == {verdict}


def rows(out: str) -> dict[str, str]:
    """Return the table's rows by what they begin with; long names go on in the next line."""
    found: dict[str, str] = {}
    name = ""
    legend = f"\n{SHORT[Status.FREE]} "
    for line in out.replace("\N{NO-BREAK SPACE}", " ").partition(legend)[0].splitlines():
        if line.startswith("  "):
            found[f"{name} {line.strip()}"] = found.pop(name)
            continue
        name, _, cells = line.partition("  ")
        found[name] = cells
    return found


def test_a_pattern_falls_into_rows_where_its_weights_fare_differently(
    bell: Any, shown: Any
) -> None:
    table = rows(shown(bell("1 1/8 oz"), "markets", "--market", "US-NH", "--on", AUTUMN))
    assert SHORT[Status.BARRED] in table["GRAVEL BELL, 3/8 oz, 1/2 oz, 3/4 oz"]
    assert SHORT[Status.FREE] in table["GRAVEL BELL, 1 1/8 oz"]
    assert SHORT[Status.BARRED] in table["Reedmace"]
    assert SHORT[Status.FREE] in table["Loonlight"]


def test_colors_of_one_weight_that_differ_are_told_by_sku(edited: Any, shown: Any) -> None:
    """Before September 2024 a bare lead jig could not be sold in Maine, a painted one could."""
    painted = 'head_ink = "#46452a"\nhead_paint = "green pumpkin"'
    folder = edited((painted, painted.partition("\n")[0]))
    words = ("--sku", "GB-38*", "--market", "US-ME", "--on", "2024-08-31")
    table = rows(shown(folder, "markets", *words))
    bare = {name: cell for name, cell in table.items() if SHORT[Status.BARRED] in cell}
    assert list(bare) == ["GRAVEL BELL, GB-38-40-XBL"]
    others = [name for name in table if name.startswith("GRAVEL BELL") and name not in bare]
    assert len(others) == 1
    assert others[0].count("GB-38-40-") == 2
