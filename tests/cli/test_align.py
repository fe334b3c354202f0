"""An alignment: what is measured is kept whole, or nothing is."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from labeler.press.printers import Printer, read_printers

Refused = Callable[..., str]
Cli = Callable[..., tuple[int, str, str]]

MEASURED = ("--left", "5/8 in", "--top", "16.5 mm")


@pytest.mark.parametrize(
    ("words", "rule", "says", "stops"),
    [
        (["--left", "16 mm"], "not-measured", "'top'", 1),
        (["--across", "190 mm"], "not-measured", "'left'", 2),
        (["--left", "90 in", "--top", "16 mm"], "distance-implausible", "100 %", 1),
        (["--left", "16 mm", "--top", "16 mm", "--across", "0 mm"], "distance-implausible", "", 1),
        ([*MEASURED, "--sheet", "letter-3x1"], "unknown-sheet", "letter-3x10", 1),
    ],
)
def test_a_reading_that_can_t_be_keeps_nothing(
    refused: Refused, line: Path, words: list[str], rule: str, says: str, stops: int
) -> None:
    refused(
        "--catalog", line, "align", "--printer", "desk", *words, rule=rule, says=says, stops=stops
    )


@pytest.mark.parametrize("name", ["", " ", "two\nlines", "bell\a", "x" * 61, "half \udce9"])
def test_a_printer_is_called_by_a_name_that_can_stand_in_a_heading(
    refused: Refused, line: Path, name: str
) -> None:
    refused("--catalog", line, "align", "--printer", name, *MEASURED, rule="printer-name")


@pytest.mark.daily("desk")
@pytest.mark.parametrize("name", ["desk", "the big one", 'the "good" one', "büro.1", "a]b"])
def test_a_profile_is_kept_and_printed_with(
    run_cli: Cli, line: Path, tmp_path: Path, name: str
) -> None:
    status, out, _ = run_cli("--catalog", line, "align", "--printer", name, *MEASURED)
    assert status == 0
    assert f"{line / 'printers.toml'}" in out
    assert name in tomllib.loads((line / "printers.toml").read_text("utf-8"))["printer"]
    words = ("bags", "--printer", name, "--out", tmp_path / "x.pdf")
    assert run_cli("--catalog", line, *words)[0] == 0


def test_profiles_written_in_one_line_are_added_to(run_cli: Cli, line: Path) -> None:
    file = line / "printers.toml"
    file.write_text("# the attic\nprinter = { attic = { dpi = 300 } }\n")
    for name in ("attic", "desk"):
        assert run_cli("--catalog", line, "align", "--printer", name, *MEASURED)[0] == 0
    kept = tomllib.loads(file.read_text("utf-8"))["printer"]
    assert (kept["attic"]["dpi"], set(kept)) == (300, {"attic", "desk"})
    assert file.read_text("utf-8").startswith("# the attic\n")


def test_a_file_of_profiles_with_an_error_is_not_written_over(refused: Refused, line: Path) -> None:
    (line / "printers.toml").write_text('[printer.desk]\ndpi = "many"\n')
    refused(
        "--catalog", line, "align", "--printer", "desk", *MEASURED, rule="value-not-understood",
        says="printers.toml:2",
    )  # fmt: skip


@pytest.mark.daily
def test_a_folder_that_is_not_there_gets_no_profile(refused: Refused, tmp_path: Path) -> None:
    refused(
        "--catalog", tmp_path / "none", "align", "--printer", "desk", *MEASURED,
        rule="no-such-folder",
    )  # fmt: skip


def test_the_record_tells_what_was_kept(run_cli: Cli, line: Path) -> None:
    words = ("align", "--printer", "desk", "--dpi", "600", *MEASURED, "--json")
    status, out, _ = run_cli("--catalog", line, *words)
    record = json.loads(out)
    assert (status, record["done"], record["printer"], record["dpi"]) == (0, True, "desk", 600)
    assert record["shift_mm"] == pytest.approx([0.0, 15.875 - 16.5], abs=1e-6)


@pytest.mark.siege
def test_two_alignments_at_one_instant_keep_both_profiles(commands: Any, line: Path) -> None:
    """Each reads the file and writes it whole: unlocked, the later loses the first one."""
    rounds, benches = 6, 4
    words = ("--catalog", line, "align", *MEASURED, "--printer")
    commands.practise(*words, "bench")
    for turn in range(rounds):
        ended = commands.at_once(*((*words, f"bench {turn}.{each}") for each in range(benches)))
        assert [status for status, _ in ended] == [0] * benches, ended
    kept = tomllib.loads((line / "printers.toml").read_text("utf-8"))["printer"]
    assert len(kept) == rounds * benches + 1


def test_a_profile_is_read_changed_and_written_under_one_lock(
    run_cli: Cli, line: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from labeler.app import align

    held: list[str] = []

    @contextmanager
    def locked(path: Path) -> Iterator[None]:
        held.append(path.name)
        yield
        held.append("free")

    def read(folder: Path) -> Mapping[str, Printer]:
        assert held == ["line"]
        return read_printers(folder)

    monkeypatch.setattr(align, "locked", locked)
    monkeypatch.setattr(align, "read_printers", read)
    assert run_cli("--catalog", line, "align", "--printer", "desk", *MEASURED)[0] == 0
    assert held == ["line", "free"]
