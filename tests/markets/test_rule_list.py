"""check --rules: every rule there is, with its source and how far that was read."""

from __future__ import annotations

import datetime as dt
import tomllib
from pathlib import Path
from typing import Any

import pytest

from labeler.disclosures.rules import NO_LEGAL_ADVICE

ROOMS = Path(__file__).resolve().parents[2] / "labeler"
FILES = [*sorted(ROOMS.glob("disclosures/*.toml")), *sorted(ROOMS.glob("checker/rules*.toml"))]


def written() -> dict[str, dict[str, Any]]:
    """Return the rules as they stand in the files, by their ids."""
    found = {}
    for file in FILES:
        for rule in tomllib.loads(file.read_text("utf-8")).get("rule", []):
            found[rule["id"]] = rule
    return found


def test_every_rule_in_every_file_is_listed_once(tmp_path: Path, told: Any) -> None:
    """No catalog is needed to read the rules."""
    listed = [one["rule"] for one in told(tmp_path, "check", "--rules")["rules"]]
    assert len(listed) == len(set(listed))
    assert set(written()) == set(listed)


def test_each_says_what_stands_in_its_file(tmp_path: Path, told: Any) -> None:
    listed = {one["rule"]: one for one in told(tmp_path, "check", "--rules")["rules"]}
    for rule_id, rule in written().items():
        told_of = listed[rule_id]
        for key in ("about", "source", "grade"):
            assert told_of[key] == rule[key]
        assert told_of["confidence"] == (rule.get("confidence") or rule["standing"])
        for key, name in (("read", "read"), ("begins", "from"), ("ends", "until")):
            day: dt.date | None = rule.get(name)
            assert told_of[key] == (day.isoformat() if day else "")
        assert told_of["doubt"] == rule.get("doubt", "")


def test_none_is_without_a_source_and_memory_alone_stops_nothing(tmp_path: Path, told: Any) -> None:
    for one in told(tmp_path, "check", "--rules")["rules"]:
        assert one["source"]
        assert one["about"]
        assert one["kind"]
        if one["confidence"] == "from memory":
            assert one["grade"] != "stop"
            assert not one["read"]


def test_the_list_for_people_has_the_same_and_ends_with_the_advice(
    tmp_path: Path, shown: Any, told: Any
) -> None:
    out = shown(tmp_path, "check", "--rules")
    for one in told(tmp_path, "check", "--rules")["rules"]:
        block = out.partition(f"\n  {one['rule']}  (")[2].partition("\n\n")[0]
        assert block.startswith(one["grade"])
        for key in ("about", "source", "confidence", "read", "seen", "doubt", "begins", "ends"):
            assert one[key] in block, (one["rule"], key)
    assert out.rstrip().endswith(NO_LEGAL_ADVICE)


@pytest.mark.parametrize(
    "heading", ["Maine (US-ME)", "The house", "Form of declarations", "The finished page"]
)
def test_rules_stand_under_the_place_they_belong_to(
    tmp_path: Path, shown: Any, heading: str
) -> None:
    assert f"\n{heading}\n" in shown(tmp_path, "check", "--rules")
