"""``labeler help TOPIC``: made from the data, so it says all of it and nothing that is gone."""

from __future__ import annotations

import ast
import shutil
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from labeler.app.reference import TOPICS, every_rule, finding_meanings, reference
from labeler.catalog.structure import catalog_schema
from labeler.layout.index import read_index
from labeler.press.sheets import all_sheets
from tests.house.modules import last_name, nodes

pytestmark = pytest.mark.daily

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "labeler"

SAYS = {"stop", "refusal", "fix", "note", "Finding", "tell"}
"""What makes a finding of an identifier, its first argument."""

FAMILIES = {
    "picture": ("labeler/drawing/photos.py", "_stop"),
    "unknown": ("labeler/book/edition.py", "_named"),
}
"""Identifiers that are made of a family's name and the word that one function is called with."""


def calls(source: str) -> Iterator[tuple[str, ast.Call]]:
    """Yield every call with the name of what is called."""
    for node in nodes(source):
        if isinstance(node, ast.Call):
            yield last_name(node.func), node


def text_of(node: ast.AST) -> str:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


def identifiers(source: str) -> set[str]:
    """Return the identifiers that a module's findings are made with, where they stand in it."""
    return {
        rule
        for name, call in calls(source)
        if name in SAYS and call.args and (rule := text_of(call.args[0]))
    }


@pytest.fixture(scope="module")
def sources() -> dict[str, str]:
    return {
        path.relative_to(ROOT).as_posix(): path.read_text("utf-8") for path in PACKAGE.rglob("*.py")
    }


def test_every_identifier_of_a_finding_is_registered(sources: dict[str, str]) -> None:
    used = {rule for source in sources.values() for rule in identifiers(source)}
    assert len(used) > 200
    assert used - finding_meanings().keys() == set()


def test_every_registered_identifier_is_used(sources: dict[str, str]) -> None:
    """Those that go through a function of their own still stand somewhere as a text."""
    written = {
        text_of(node)
        for source in sources.values()
        for node in nodes(source)
        if isinstance(node, ast.Constant)
    }
    for family, (file, function) in FAMILIES.items():
        written |= {
            f"{family}-{text_of(argument)}"
            for name, call in calls(sources[file])
            if name == function
            for argument in call.args
        }
    faults = tomllib.loads((PACKAGE / "ledger" / "faults.toml").read_text("utf-8"))
    written |= {fault["rule"] for fault in faults["fault"]}
    written |= {f"unknown-{room.removesuffix('s')}" for room in ("layouts", "sheets")}
    assert finding_meanings().keys() - written == set()


def test_a_planted_identifier_is_found() -> None:
    assert identifiers("stop('brand-new', place, 'words')") == {"brand-new"}
    assert identifiers("raise LabelerError(Finding('other-one', Grade.FIX, place, ''))")


def test_a_meaning_is_one_plain_sentence() -> None:
    for rule, meaning in finding_meanings().items():
        assert rule == rule.lower()
        assert meaning[0].isupper(), rule
        assert meaning.endswith("."), rule
        assert "\n" not in meaning, rule
        assert len(meaning) < 110, rule


@pytest.mark.parametrize("topic", TOPICS)
def test_every_topic_is_shown(run_cli: Callable[..., tuple[int, str, str]], topic: str) -> None:
    status, out, err = run_cli("help", topic)
    assert (status, err) == (0, "")
    assert len(out.splitlines()) > 10
    assert all(len(line) <= 100 for line in out.splitlines() if "http" not in line)


def test_without_a_topic_all_are_named(run_cli: Callable[..., tuple[int, str, str]]) -> None:
    status, out, _ = run_cli("help")
    assert status == 0
    assert [line.split()[2] for line in out.splitlines()] == list(TOPICS)


def test_a_topic_that_is_none_is_refused(misused: Callable[..., str]) -> None:
    misused("help", "colours", says="findings")


def test_the_topics_say_all_that_the_data_hold(demo: Path) -> None:
    text = {topic: "\n".join(reference(topic, demo)) for topic in TOPICS}
    for name in all_sheets(demo):
        assert f"{name}\n" in text["sheets"]
    for name, spec in read_index(demo).items():
        assert f"{name}  ({spec.use})" in text["layouts"]
        assert spec.about in text["layouts"]
    for rule in every_rule():
        assert rule.rule in text["rules"]
        assert rule.source in text["rules"]
    for rule_id, meaning in finding_meanings().items():
        assert f"{rule_id}\n    {meaning}" in text["findings"]
    for table, entry in catalog_schema()["properties"].items():
        if not entry.get("description", "").startswith("The same as "):
            assert f"[{table}" in text["catalog"]


def test_the_maker_s_own_sheets_are_among_them(line: Path) -> None:
    own = line / "layouts"
    own.mkdir(exist_ok=True)
    text = (ROOT / "layouts" / "sheets.toml").read_text("utf-8")
    (own / "sheets.toml").write_text(text.replace("letter-3x10", "my-own-sheet"), "utf-8")
    assert any(each.startswith("my-own-sheet") for each in reference("sheets", line))
    shutil.rmtree(own)
