"""The demo's line, changed in a folder of its own, and the command as a maker types it."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from labeler.cli.group import run

DEMO = Path(__file__).resolve().parents[3] / "demo_catalog"
AUTUMN = "2026-11-25"
"""The day on which the rules were read."""

BELL = 'weights = ["3/8 oz", "1/2 oz", "3/4 oz", "{}"]'
BELL_HOOK = '"{}" = "5/0" }}'
BELL_PRICE = '"{}" = "6.50" }}'
BELL_LENGTH = 'prices = {{ "3/4 oz" = "5.95", "{}" = "6.50" }}\nlength = "{}"'

Edited = Callable[..., Path]
CliResult = Callable[..., dict[str, Any]]


@pytest.fixture
def edited(tmp_path: Path) -> Edited:
    """Return a function that writes the demo's catalog with texts replaced, and gives its folder.

    Without its spreadsheets: what they say of single SKUs would outlive the change.
    """

    def edit(*changes: tuple[str, str], folder: str = "line") -> Path:
        text = (DEMO / "catalog.toml").read_text("utf-8")
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new)
        where = tmp_path / folder
        where.mkdir()
        (where / "catalog.toml").write_text(text, "utf-8")
        return where

    return edit


@pytest.fixture
def bell(edited: Edited) -> Edited:
    """Return a function that writes the demo with its heaviest football jig at another weight."""

    def heavy(weight: str, length: str = "3 1/2 in", *changes: tuple[str, str]) -> Path:
        return edited(
            (BELL.format("1 oz"), BELL.format(weight)),
            (BELL_LENGTH.format("1 oz", "2 1/8 in"), BELL_LENGTH.format("1 oz", length)),
            (BELL_HOOK.format("1 oz"), BELL_HOOK.format(weight)),
            (BELL_PRICE.format("1 oz"), BELL_PRICE.format(weight)),
            *changes,
        )

    return heavy


@pytest.fixture(scope="session")
def said() -> dict[object, tuple[int, str]]:
    """What commands have said of the demo, which no test changes; a file they write is a new one.

    By their words and the width of the screen: status and text.
    """
    return {}


@pytest.fixture
def typed(
    capsys: pytest.CaptureFixture[str], said: dict[object, tuple[int, str]]
) -> Callable[..., str]:
    """Return a function that runs a command on a folder; one on the demo, only the first time."""

    def tell(folder: Path, *words: str, status: int = 0) -> str:
        asked = (words, os.environ.get("COLUMNS"))
        if folder == DEMO and asked in said:
            done, out = said[asked]
        else:
            capsys.readouterr()
            done = run(["--catalog", str(folder), *words])
            out = capsys.readouterr().out
            if folder == DEMO:
                said[asked] = done, out
        assert done == status
        return out

    return tell


@pytest.fixture
def run_cli(typed: Callable[..., str]) -> CliResult:
    """Return a function that runs a command with --json on a folder and gives what it says."""

    def tell(folder: Path, *words: str, status: int = 0) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(typed(folder, *words, "--json", status=status))
        return found

    return tell


@pytest.fixture
def shown(typed: Callable[..., str], monkeypatch: pytest.MonkeyPatch) -> Callable[..., str]:
    """Return a function that runs a command on a folder and gives what stands on the screen."""
    monkeypatch.setenv("COLUMNS", "110")
    return typed
