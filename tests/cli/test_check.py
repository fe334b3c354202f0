"""What check says of a line, and the status it leaves with."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

pytestmark = pytest.mark.daily

Retold = Callable[[str, str], Path]
Cli = Callable[..., tuple[int, str, str]]


def test_a_sound_line_is_done(run_cli: Cli, line: Path) -> None:
    status, out, err = run_cli("--catalog", line, "check")
    assert (status, err) == (0, "")
    assert out.startswith("4 products; 0 to put right, 0 to look at, ")


@pytest.mark.parametrize(
    ("markets", "says"),
    [
        ('["US", "MN"]', "For Minnesota write 'US-MN'."),
        ('["US", "WI"]', "For Wisconsin write 'US-WI'."),
        ('["US-CAL"]', "Did you mean 'US-CA'?"),
        ('["US", "XX"]', "there is no such place"),
    ],
)
def test_a_place_that_is_none_is_not_passed_over(
    run_cli: Cli, retold: Retold, markets: str, says: str
) -> None:
    """MN alone is Mongolia (ISO 3166-1), and a maker in Minnesota means something else."""
    line = retold('markets = ["US", "US-WI"]', f"markets = {markets}")
    assert says in run_cli("--catalog", line, "check")[1]


@pytest.mark.parametrize("markets", ['["US", "US-WI"]', '["CA"]', '["DE"]', '["EU", "GB"]'])
def test_a_place_that_is_one_is_not_questioned(run_cli: Cli, retold: Retold, markets: str) -> None:
    line = retold('markets = ["US", "US-WI"]', f"markets = {markets}")
    assert "[market-unknown]" not in run_cli("--catalog", line, "check")[1]


def test_what_stops_the_press_is_status_1_and_told_first(run_cli: Cli, retold: Retold) -> None:
    line = retold('head = "ball"', 'head = "bal"')
    status, out, _ = run_cli("--catalog", line, "check")
    assert status == 1
    assert out.splitlines()[2].startswith("  1  STOP  ")
    assert "legal advice" in out


def test_the_commands_that_new_tells_can_be_copied(run_cli: Cli, tmp_path: Path) -> None:
    folder = tmp_path / "My Line"
    _, out, _ = run_cli("new", folder)
    assert f'labeler --catalog "{folder}" check' in out


def test_a_pdf_that_is_not_there_is_wrong_input_and_the_nearest_one_is_named(
    run_cli: Cli, retold: Retold
) -> None:
    line = retold('head = "ball"', 'head = "ball"')
    (line / "bags.pdf").write_bytes(b"%PDF-1.7")
    status, _, err = run_cli("--catalog", line, "check", line / "bgas.pdf")
    assert status == 2
    assert "there is no such file" in err
    assert "Did you mean 'bags.pdf'?" in err


def test_a_folder_is_no_pdf_and_how_to_check_its_catalog_is_told(run_cli: Cli, line: Path) -> None:
    status, _, err = run_cli("--catalog", line, "check", line)
    assert status == 2
    assert "this is a folder, not a PDF" in err
    assert f"labeler --catalog {line} check" in err
