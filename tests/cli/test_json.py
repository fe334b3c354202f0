"""With --json a program gets one JSON object and nothing else, in success and in failure."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import pytest

from labeler.checker.report import ALWAYS_OPEN
from labeler.cli.group import VERBS, labeler

Cli = Callable[..., tuple[int, str, str]]
Parsed = Callable[..., tuple[int, dict[str, Any]]]


@pytest.fixture
def parsed(run_cli: Cli) -> Parsed:
    """Return a function that runs a command with --json and gives its status and its object."""

    def call(*words: object) -> tuple[int, dict[str, Any]]:
        status, out, err = run_cli(*words, "--json")
        assert err == ""
        record = json.loads(out)
        assert isinstance(record, dict)
        return status, record

    return call


def tells(verb: str) -> bool:
    """Tell whether a verb has --json."""
    command = labeler.get_command(click.Context(labeler), verb)
    assert command is not None
    return any("--json" in param.opts for param in command.params)


ROWS = Path(__file__).parents[1] / "catalog" / "strangers" / "shop-export.csv"

WORKS: dict[str, tuple[str, ...]] = {
    "align": ("--printer", "desk", "--out", "{tmp}/x.pdf"),
    "bags": ("--sku", "FST-*", "--out", "{tmp}/x.pdf"),
    "cards": ("--sku", "FST-*", "--out", "{tmp}/x.pdf"),
    "catalog": ("--for", "dealer", "--out", "{tmp}/x.pdf"),
    "check": (),
    "desk": ("--icon",),
    "layouts": (),
    "markets": (),
    "new": ("{tmp}/new", "--from", str(ROWS)),
    "pages": ("--out", "{tmp}/site"),
    "sheets": (),
    "stock": (),
    "prices": ("--change", "+5 %"),
}
FAILS: dict[str, tuple[str, ...]] = {
    "align": ("--printer", "", "--out", "{tmp}/x.pdf"),
    "bags": ("--sku", "none", "--out", "{tmp}/x.pdf"),
    "cards": ("--layout", "none", "--out", "{tmp}/x.pdf"),
    "catalog": ("--for", "dealer", "--tier", "none", "--out", "{tmp}/x.pdf"),
    "markets": ("--sku", "none"),
    "new": ("{tmp}/new", "--from", "{tmp}/none.xlsx"),
    "order": ("{tmp}/none.pdf",),
    "orders": ("2600018",),
    "prices": ("--change", "5"),
    "reprint": ("FST-38-40-MAR", "--count", "2", "--out", "{tmp}/x.pdf"),
    "ship": ("263290014", "--to", "landing", "--count", "2"),
    "stock": ("--sku", "none"),
    "tied": ("none = 2",),
    "trace": ("HK-2291",),
    "unprint": ("1", "--why", "the sheet jammed"),
}
MISUSED: dict[str, tuple[str, ...]] = {
    "align": ("--dpi", "many"),
    "bags": (),
    "cards": ("--size", "wide", "--out", "x.pdf"),
    "catalog": (),
    "check": ("--on", "tomorrow"),
    "desk": ("line",),
    "layouts": ("--specimen", "FST-38-40-MAR"),
    "markets": ("--on", "tomorrow"),
    "new": (),
    "order": (),
    "orders": ("--all", "2600018"),
    "pages": (),
    "prices": ("--write",),
    "reprint": (),
    "sheets": ("letter",),
    "ship": ("--paper", "a5"),
    "stock": ("--lots=yes",),
    "tied": (),
    "trace": (),
    "unprint": (),
}


def filled(words: tuple[str, ...], tmp_path: Path) -> list[str]:
    """Return the words with the test's own folder in them."""
    return [word.replace("{tmp}", str(tmp_path)) for word in words]


@pytest.mark.daily
def test_every_verb_that_tells_json_is_tried_here() -> None:
    run_cli = {verb for verb in VERBS if tells(verb)}
    assert run_cli <= WORKS.keys() | FAILS.keys()
    assert run_cli <= MISUSED.keys()


@pytest.mark.parametrize("verb", WORKS)
def test_what_worked_is_told_as_json(parsed: Parsed, line: Path, tmp_path: Path, verb: str) -> None:
    status, record = parsed("--catalog", line, verb, *filled(WORKS[verb], tmp_path))
    assert status == 0
    assert record.get("done", True) is True
    assert record
    if verb in ("bags", "cards", "catalog"):
        assert set(ALWAYS_OPEN) <= set(record["not_checked"])


@pytest.mark.parametrize("verb", FAILS)
def test_what_failed_is_told_as_json(parsed: Parsed, line: Path, tmp_path: Path, verb: str) -> None:
    status, record = parsed("--catalog", line, verb, *filled(FAILS[verb], tmp_path))
    assert status == 2
    assert record["done"] is False
    (finding,) = record["findings"]
    assert finding["grade"] == "stop"
    assert finding["rule"]
    assert finding["message"]
    assert not list(tmp_path.glob("*.pdf"))


@pytest.mark.parametrize("verb", MISUSED)
def test_what_was_typed_wrongly_is_told_as_json(
    parsed: Parsed, line: Path, tmp_path: Path, verb: str
) -> None:
    status, record = parsed("--catalog", line, verb, *filled(MISUSED[verb], tmp_path))
    assert (status, record["done"]) == (2, False)
    assert record["findings"][0]["rule"] == "wrong-use"


@pytest.mark.parametrize(
    "verb", sorted(WORKS.keys() - {"align", "desk", "layouts", "new", "sheets"})
)
def test_a_folder_without_a_catalog_is_told_as_json(
    parsed: Parsed, tmp_path: Path, verb: str
) -> None:
    (tmp_path / "empty").mkdir()
    status, record = parsed("--catalog", tmp_path / "empty", verb, *filled(WORKS[verb], tmp_path))
    assert (status, record["done"]) == (2, False)
    assert record["findings"][0]["rule"] == "catalog-missing"


@pytest.mark.daily
def test_findings_of_check_are_told_as_json_with_the_status_of_findings(
    parsed: Parsed, line: Path
) -> None:
    file = line / "catalog.toml"
    file.write_text(file.read_text("utf-8").replace('head = "ball"', 'head = "bal"'), "utf-8")
    status, record = parsed("--catalog", line, "check")
    assert (status, record["stops"]) == (1, 1)
    assert record["findings"][0]["place"]["line"] > 100


def test_letters_of_every_kind_come_through(parsed: Parsed, tmp_path: Path) -> None:
    place = tmp_path / "Größe ⅜ 鯰"
    status, record = parsed("--catalog", place, "check")
    assert status == 2
    assert record["findings"][0]["place"]["file"] == str(place)


def test_every_piece_that_shares_a_fault_is_named_to_a_program(
    parsed: Parsed, line: Path, tmp_path: Path
) -> None:
    """People are told once for all of them; a program gets each."""
    words = ("--layout", "insert-card", "--out", tmp_path / "x.pdf")
    _, record = parsed("--catalog", line, "bags", *words)
    stops = [finding for finding in record["findings"] if finding["grade"] == "stop"]
    assert len({finding["place"]["piece"] for finding in stops}) == 4
