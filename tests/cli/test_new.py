"""A starter folder appears whole, and never over anything."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

Refused = Callable[..., str]
Cli = Callable[..., tuple[int, str, str]]


@pytest.mark.daily("line")
@pytest.mark.parametrize("name", ["line", "new/deeper/line", "Meine Köder", "-x", "n" * 255])
def test_the_starter_passes_check_and_prints(run_cli: Cli, tmp_path: Path, name: str) -> None:
    folder = tmp_path / name
    status, out, err = run_cli("new", folder)
    assert (status, err) == (0, "")
    assert f"{folder / 'catalog.toml'}" in out
    assert run_cli("--catalog", folder, "check")[0] == 0
    for verb in ("bags", "cards") if name == "line" else ("bags",):
        assert run_cli("--catalog", folder, verb, "--out", tmp_path / f"{verb}.pdf")[0] == 0


def test_an_empty_folder_may_be_filled(run_cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "line").mkdir()
    assert run_cli("new", tmp_path / "line")[0] == 0
    assert (tmp_path / "line" / "catalog.toml").is_file()


@pytest.mark.parametrize(
    ("name", "rule"),
    [
        ("file", "folder-taken"),
        ("full", "folder-taken"),
        ("file/line", "folder-unmade"),
        ("dangling", "folder-unmade"),
        ("n" * 300, "system-refuses"),
    ],
    ids=lambda part: part[:12],
)
def test_nothing_is_made_over_something(
    refused: Refused, tmp_path: Path, name: str, rule: str
) -> None:
    (tmp_path / "file").write_text("mine")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "notes.txt").write_text("mine")
    (tmp_path / "dangling").symlink_to(tmp_path / "none" / "there")
    refused("new", tmp_path / name, rule=rule)


def test_the_current_folder_is_named_like_any_other(
    refused: Refused, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    monkeypatch.chdir(tmp_path)
    refused("new", ".", rule="folder-taken")


def test_the_current_folder_may_be_filled_while_it_is_empty(
    run_cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run_cli("new", ".")[0] == 0
    assert Path("catalog.toml").is_file()
