"""A file of rules that does not hold is told of, all of it at once, with file and line."""

from __future__ import annotations

from pathlib import Path

import pytest

from labeler.disclosures import market_rules
from labeler.findings import Finding, LabelerError

HOUSE = """\
market = "*"
name = "The house"

[[rule]]
id = "house-a"
about = "A thing is said."
effect = "declared"
grade = "fix"
always = true
kind = "caution"
source = "common practice, no published source"
confidence = "from memory"
[[rule.wording]]
form = "full"
text = "Sharp hook."
"""

READ = 'seen = "example.com"\nread = 2026-11-25\nconfidence = "read"'

RULE = f"""\
market = "US-OH"
name = "Ohio"

[[rule]]
id = "us-oh-lead"
about = "A lead jig may not be sold."
effect = "may not be sold"
grade = "stop"
source = "an invented law"
{READ}
[rule.when]
weight = {{ of = "whole jig", limit = "<= 1 oz" }}
"""


def faults(folder: Path, **files: str) -> tuple[Finding, ...]:
    """Write the files beside a sound file of the house, and return what loading finds."""
    texts = {"house": HOUSE} | {name.replace("_", "-"): text for name, text in files.items()}
    for name, text in texts.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    try:
        market_rules.load(folder)
    except LabelerError as error:
        return error.findings
    return ()


def test_a_copied_file_that_still_names_its_neighbour_takes_nobody_s_place(tmp_path: Path) -> None:
    """The commonest slip when a file is copied: both said that they were Ohio, and one won."""
    found = faults(tmp_path, us_oh=RULE, us_or=RULE.replace("us-oh-lead", "us-or-lead"))
    assert [(each.rule, Path(each.place.file).name) for each in found] == [
        ("rule-file", "us-or.toml")
    ]


def only(findings: tuple[Finding, ...]) -> Finding:
    assert len(findings) == 1, findings
    return findings[0]


def test_a_sound_file_loads(tmp_path: Path) -> None:
    assert faults(tmp_path, us_oh=RULE) == ()


def test_a_rule_without_a_source_does_not_load(tmp_path: Path) -> None:
    fault = only(faults(tmp_path, us_oh=RULE.replace('source = "an invented law"\n', "")))
    assert "source" in fault.place.key
    assert fault.place.file.endswith("us-oh.toml")
    assert fault.place.line == 4


def test_a_rule_without_its_confidence_does_not_load(tmp_path: Path) -> None:
    fault = only(faults(tmp_path, us_oh=RULE.replace('confidence = "read"\n', "")))
    assert "confidence" in fault.place.key


def test_a_rule_from_memory_never_stops_the_press(tmp_path: Path) -> None:
    text = RULE.replace(READ, 'confidence = "from memory"')
    assert "never stop" in str(only(faults(tmp_path, us_oh=text)))
    assert faults(tmp_path, us_oh=text.replace('"stop"', '"fix"')) == ()


def test_a_rule_in_doubt_never_stops_the_press(tmp_path: Path) -> None:
    text = RULE.replace("source =", 'doubt = "It is not clear."\nsource =')
    assert "in doubt" in str(only(faults(tmp_path, us_oh=text)))


def test_a_rule_that_was_read_says_where_and_when(tmp_path: Path) -> None:
    text = RULE.replace("read = 2026-11-25\n", "")
    assert "where and when" in str(only(faults(tmp_path, us_oh=text)))


def test_a_mistyped_key_is_told_with_the_nearest_one(tmp_path: Path) -> None:
    fault = only(faults(tmp_path, us_oh=RULE.replace("effect =", 'efect ="x"\neffect =')))
    assert fault.place.line == 7
    assert fault.hint == "Did you mean 'effect'?"


def test_a_limit_without_its_unit_is_told_on_its_line(tmp_path: Path) -> None:
    fault = only(faults(tmp_path, us_oh=RULE.replace("<= 1 oz", "<= 1")))
    assert fault.place.line == 14
    assert "with its unit" in fault.expected


def test_nothing_may_set_off_a_rule_that_always_holds(tmp_path: Path) -> None:
    text = RULE.replace("effect =", "always = true\neffect =")
    assert "always" in str(only(faults(tmp_path, us_oh=text)))


def test_a_rule_that_says_nothing_sets_it_off_does_not_load(tmp_path: Path) -> None:
    assert "what sets it off" in str(only(faults(tmp_path, us_oh=RULE.split("[rule.when]")[0])))


@pytest.mark.parametrize(
    ("effect", "wanted"),
    [("declared", "a kind"), ("waives", "ids of rules"), ("claim barred", "words")],
)
def test_an_effect_needs_what_it_works_with(tmp_path: Path, effect: str, wanted: str) -> None:
    text = RULE.replace('may not be sold"\ngrade', f'{effect}"\ngrade')
    assert wanted in str(only(faults(tmp_path, us_oh=text)))


def test_a_wording_with_a_blank_that_nobody_fills_is_told_with_the_nearest(tmp_path: Path) -> None:
    text = HOUSE.replace("Sharp hook.", "Made by {makr}.").replace("house-", "us-oh-")
    fault = only(faults(tmp_path, us_oh=text.replace('"*"', '"US-OH"')))
    assert fault.found == "{makr}"
    assert fault.hint == "Did you mean 'maker'?"


def test_stars_that_do_not_pair_are_told(tmp_path: Path) -> None:
    text = HOUSE.replace("Sharp hook.", "**Sharp hook.").replace("house-", "us-oh-")
    assert "stars" in str(only(faults(tmp_path, us_oh=text.replace('"*"', '"US-OH"'))))


def test_an_id_is_taken_once_and_begins_with_its_market(tmp_path: Path) -> None:
    twice = RULE + RULE[RULE.index("[[rule]]") :]
    messages = [f.message for f in faults(tmp_path, us_oh=twice)]
    assert messages == ["the id is taken more than once"] * 2
    fault = only(faults(tmp_path, us_oh=RULE.replace("us-oh-lead", "oh-lead")))
    assert (fault.found, fault.expected) == ("oh-lead", "us-oh-...")


def test_a_file_is_called_by_its_market(tmp_path: Path) -> None:
    assert only(faults(tmp_path, us_oi=RULE)).expected == "us-oh"


def test_waiving_a_rule_that_nobody_holds_is_told(tmp_path: Path) -> None:
    text = RULE.replace('"may not be sold"\ngrade', '"waives"\nwaives = ["house-b"]\ngrade')
    assert only(faults(tmp_path, us_oh=text)).hint == "Did you mean 'house-a'?"


def test_dates_that_run_backwards_are_told(tmp_path: Path) -> None:
    text = RULE.replace("effect =", "from = 2026-01-01\nuntil = 2025-01-01\neffect =")
    assert "before the day it ends" in str(only(faults(tmp_path, us_oh=text)))


def test_what_is_not_toml_and_what_is_not_text_are_told_together(tmp_path: Path) -> None:
    (tmp_path / "us-pa.toml").write_bytes(b"\xff\xfe\x00")
    found = faults(tmp_path, us_oh="market = \n")
    assert sorted(Path(f.place.file).name for f in found) == ["us-oh.toml", "us-pa.toml"]
    assert next(f for f in found if f.place.file.endswith("us-oh.toml")).place.line == 1


def test_every_fault_of_every_file_is_told_at_once(tmp_path: Path) -> None:
    ohio = RULE.replace("<= 1 oz", "1").replace('"stop"', '"halt"')
    found = faults(tmp_path, us_oh=ohio, us_pa=RULE.replace("OH", "PA").replace("oh-", "pa-") + "x")
    assert len(found) == 3


def test_rules_without_a_house_are_refused(tmp_path: Path) -> None:
    (tmp_path / "us-oh.toml").write_text(RULE, encoding="utf-8")
    with pytest.raises(LabelerError, match="no file of rules holds everywhere"):
        market_rules.load(tmp_path)


def test_a_makers_own_file_takes_the_shipped_ones_place(tmp_path: Path) -> None:
    (tmp_path / "us-vt.toml").write_text(
        RULE.replace("US-OH", "US-VT").replace("us-oh", "us-vt"), encoding="utf-8"
    )
    book = market_rules.load(Path(market_rules.__file__).parent, tmp_path)
    assert [rule.id for rule in book.file("US-VT").rule] == ["us-vt-lead"]
    assert book.rule("us-nh-lead-jig-sale").id == "us-nh-lead-jig-sale"


@pytest.mark.parametrize(
    ("market", "files"),
    [
        ("US", ["*", "US"]),
        ("US-CA", ["*", "US", "US-CA"]),
        ("US-TX", ["*", "US"]),
        ("PR", ["*", "US"]),
        ("DE", ["*", "EU"]),
        ("DK", ["*", "EU", "DK"]),
        ("CA-QC", ["*", "CA", "CA-QC"]),
        ("GB", ["*", "GB"]),
        ("JP", ["*"]),
    ],
)
def test_a_market_inherits_from_the_wider_ones(market: str, files: list[str]) -> None:
    assert [file.market for file in market_rules.shipped().reaching(market)] == files
    assert market_rules.shipped().knows(market) is (len(files) > 1)


def test_the_rules_that_ship_are_sound_and_agree_with_each_other() -> None:
    assert (
        market_rules.load(Path(market_rules.__file__).parent).files.keys()
        == market_rules.shipped().files.keys()
    )


def test_a_markets_file_is_read_only_when_it_is_asked_for(tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text(HOUSE, encoding="utf-8")
    (tmp_path / "us-oh.toml").write_text(RULE, encoding="utf-8")
    (tmp_path / "us-pa.toml").write_text(RULE.replace("<= 1 oz", "1"), encoding="utf-8")
    book = market_rules.open_rules(tmp_path)
    assert book.knows("US-PA")
    assert [rule.id for rule, _ in book.rules_reaching(("US-OH",))] == ["house-a", "us-oh-lead"]
    assert book.rule("us-oh-lead").id == "us-oh-lead"
    with pytest.raises(KeyError):
        book.rule("us-oh-nothing")
    with pytest.raises(LabelerError) as error:
        book.reaching("US-PA")
    assert only(error.value.findings).place.line == 14


def test_the_union_has_its_twenty_seven_members() -> None:
    """Treaty on European Union, Article 52, less the United Kingdom since 2020-02-01."""
    assert len(market_rules.shipped().file("EU").covers) == 27
