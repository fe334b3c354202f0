"""What stays in the quick run is named rightly, and every room has some of it."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parents[1]
CASES = """
import pytest

@pytest.mark.daily({named})
@pytest.mark.parametrize("bait", ["worm", "frog"])
def test_bites(bait):
    assert bait

def test_other():
    pass
"""
WRONG = "test_bites, daily: no case of ['frog', 'worm'] is ['wrom']"


def collected(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Collect tests in a process of their own, as the quick run does."""
    return subprocess.run(
        [sys.executable, "-m", "pytest", "--collect-only", "-q", "-m", "not siege", *words],
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip


@pytest.fixture
def planted(tmp_path: Path) -> Path:
    """A folder with these rules and one room whose tests work on whole runs; one file is wrong."""
    shutil.copy(TESTS / "conftest.py", tmp_path)
    (tmp_path / "cli").mkdir()
    (tmp_path / "cli" / "test_bait.py").write_text(CASES.format(named='"frog"'), "utf-8")
    (tmp_path / "cli" / "test_lure.py").write_text(CASES.format(named='"frog", "wrom"'), "utf-8")
    return tmp_path


@pytest.mark.siege
def test_of_a_room_that_prints_whole_runs_only_what_is_named_is_daily(planted: Path) -> None:
    said = collected(planted)
    assert [line for line in said.stdout.splitlines() if "::" in line] == [
        "cli/test_bait.py::test_bites[frog]"
    ]
    assert said.returncode != 0
    assert WRONG in said.stdout


@pytest.mark.siege
def test_a_case_that_is_named_wrongly_fails_even_if_another_is_asked_for(planted: Path) -> None:
    said = collected(planted, "cli/test_lure.py::test_bites[worm]")
    assert said.returncode != 0
    assert WRONG in said.stdout


@pytest.mark.siege
def test_every_room_has_daily_tests(request: pytest.FixtureRequest) -> None:
    with_tests = {file.relative_to(TESTS).parts[0] for file in TESTS.rglob("test_*.py")}
    items = request.session.items
    if with_tests <= {item.path.relative_to(TESTS).parts[0] for item in items}:
        daily = [item.path for item in items if not item.get_closest_marker("siege")]
    else:  # not all were asked for
        said = collected(TESTS.parent)
        assert said.returncode == 0
        files = (Path(line.partition(":")[0]) for line in said.stdout.splitlines())
        daily = [TESTS.parent / path for path in files if path.suffix == ".py"]
    assert with_tests <= {path.relative_to(TESTS).parts[0] for path in daily}
