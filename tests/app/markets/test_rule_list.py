"""check --rules: every rule there is, with its source and how far that was read."""

from __future__ import annotations

import datetime as dt
import tomllib
from pathlib import Path
from typing import Any

import pytest

from labeler.disclosures.rules import NO_LEGAL_ADVICE

ROOMS = Path(__file__).resolve().parents[3] / "labeler"
FILES = [*sorted(ROOMS.glob("disclosures/*.toml")), *sorted(ROOMS.glob("checker/rules*.toml"))]


def written() -> dict[str, dict[str, Any]]:
    """Return the rules as they stand in the files, by their ids."""
    found = {}
    for file in FILES:
        for rule in tomllib.loads(file.read_text("utf-8")).get("rule", []):
            found[rule["id"]] = rule
    return found


def test_every_rule_in_every_file_is_listed_once(tmp_path: Path, run_cli: Any) -> None:
    """No catalog is needed to read the rules."""
    listed = [one["rule"] for one in run_cli(tmp_path, "check", "--rules")["rules"]]
    assert len(listed) == len(set(listed))
    assert set(written()) == set(listed)


def test_each_says_what_stands_in_its_file(tmp_path: Path, run_cli: Any) -> None:
    listed = {one["rule"]: one for one in run_cli(tmp_path, "check", "--rules")["rules"]}
    for rule_id, rule in written().items():
        told_of = listed[rule_id]
        for key in ("about", "source", "grade"):
            assert told_of[key] == rule[key]
        assert told_of["confidence"] == (rule.get("confidence") or rule["standing"])
        for key, name in (("read", "read"), ("begins", "from"), ("ends", "until")):
            day: dt.date | None = rule.get(name)
            assert told_of[key] == (day.isoformat() if day else "")
        assert told_of["doubt"] == rule.get("doubt", "")


def test_none_is_without_a_source_and_memory_alone_stops_nothing(
    tmp_path: Path, run_cli: Any
) -> None:
    for one in run_cli(tmp_path, "check", "--rules")["rules"]:
        assert one["source"]
        assert one["about"]
        assert one["kind"]
        if one["confidence"] == "from memory":
            assert one["grade"] != "stop"
            assert not one["read"]


HOW_FAR = {
    "read": "text read", "secondary": "what others write of it was read",
    "from memory": "from memory, so it never stops",
}  # fmt: skip


def test_the_list_for_people_has_the_same_and_ends_with_the_advice(
    tmp_path: Path, shown: Any, run_cli: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    out = shown(tmp_path, "check", "--rules")
    long = [line for line in out.splitlines() if len(line) > 100]
    assert not [line for line in long if " " in line.strip()], "only an address may be longer"
    for one in run_cli(tmp_path, "check", "--rules")["rules"]:
        block = " ".join(out.partition(f"\n  {one['rule']}  (")[2].partition("\n\n")[0].split())
        assert block.startswith(one["grade"])
        assert HOW_FAR.get(one["confidence"], one["confidence"]) in block, one["rule"]
        for key in ("about", "source", "read", "seen", "doubt", "begins", "ends"):
            assert one[key] in block, (one["rule"], key)
    assert " ".join(out.split()).endswith(NO_LEGAL_ADVICE)


@pytest.mark.parametrize(
    "heading", ["Maine (US-ME)", "The house", "Form of declarations", "The finished page"]
)
def test_rules_stand_under_the_place_they_belong_to(
    tmp_path: Path, shown: Any, heading: str
) -> None:
    assert f"\n{heading}\n" in shown(tmp_path, "check", "--rules")


@pytest.mark.parametrize(
    ("day", "held"), [("2024-08-31", False), ("2024-09-01", True), ("2026-08-31", True)]
)
def test_the_rules_of_a_day_are_those_in_force_on_it(
    tmp_path: Path, run_cli: Any, day: str, held: bool
) -> None:
    """Source: Maine, 12 M.R.S. 12663-B: no sale of painted lead jigs from 1 September 2024 on."""
    listed = [one["rule"] for one in run_cli(tmp_path, "check", "--rules", "--on", day)["rules"]]
    assert ("us-me-lead-jig-sale" in listed) is held
