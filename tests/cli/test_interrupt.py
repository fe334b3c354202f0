"""Ctrl-C and a polite kill at any moment: no half file, nothing lost, one sentence."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals are another thing there")

Cli = Callable[..., tuple[int, str, str]]
Stopped = Callable[..., tuple[int, str]]

YESTERDAY = b"%PDF-1.7 yesterday's"
_BEGIN = (
    "import sys; from labeler.cli import main; print('begun', flush=True); "
    "sys.argv = ['labeler', *sys.argv[1:]]; main()"
)
"""Says when Python itself has started: what comes before is not ours to catch."""


@pytest.fixture
def stopped(demo: Path) -> Stopped:
    """Return a function that starts a command and sends it a signal some seconds after."""

    def call(number: int, after: float, *words: object) -> tuple[int, str]:
        typed = [sys.executable, "-c", _BEGIN, "--catalog", str(demo), *map(str, words)]
        child = subprocess.Popen(typed, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        assert child.stdout is not None
        assert child.stdout.readline() == "begun\n"
        time.sleep(after)
        child.send_signal(number)
        _, run_cli = child.communicate(timeout=60)
        return child.returncode, run_cli

    return call


def how_long(stopped: Stopped, *words: object) -> float:
    """Return how many seconds a command takes when it is left alone."""
    begin = time.monotonic()
    assert stopped(0, 0.0, *words)[0] == 0
    return time.monotonic() - begin


def assert_all_or_nothing(status: int, run_cli: str, out: Path) -> None:
    """A whole new file and success, or yesterday's file, status 2 and one sentence."""
    folder = sorted(path.name for path in out.parent.iterdir())
    assert folder == [out.name], f"left behind: {folder}"
    assert "Traceback" not in run_cli, run_cli
    now = out.read_bytes()
    if status == 0:
        assert now.startswith(b"%PDF-")
        assert now.rstrip().endswith(b"%%EOF")
    else:
        assert status == 2, run_cli
        assert run_cli.strip() in ("", "stop  " + _SAID)
        assert now == YESTERDAY or now.rstrip().endswith(b"%%EOF")


_SAID = "stopped before the end; no half-written file is left [stopped]"

JOBS = {
    "bags": ("bags", "--count", "8", "--out"),
    "cards": ("cards", "--out"),
    "catalog": ("catalog", "--for", "dealer", "--out"),
    "align": ("align", "--printer", "desk", "--out"),
}


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["Ctrl-C", "kill"])
def test_stopping_leaves_what_was_there(stopped: Stopped, tmp_path: Path, number: int) -> None:
    out = tmp_path / "x.pdf"
    out.write_bytes(YESTERDAY)
    status, run_cli = stopped(number, 0.4, *JOBS["bags"], out)
    assert_all_or_nothing(status, run_cli, out)


@pytest.mark.siege
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["Ctrl-C", "kill"])
@pytest.mark.parametrize("job", JOBS)
def test_at_any_moment_all_of_the_file_is_there_or_nothing_of_it(
    stopped: Stopped, tmp_path: Path, job: str, number: int
) -> None:
    """Twelve moments for each of four jobs and two signals: ninety-six in all."""
    out = tmp_path / "x.pdf"
    whole = how_long(stopped, *JOBS[job], out)
    ends = []
    for moment in random.Random(f"{job} {number}").sample(range(1, 200), 12):
        out.write_bytes(YESTERDAY)
        status, run_cli = stopped(number, whole * moment / 200, *JOBS[job], out)
        assert_all_or_nothing(status, run_cli, out)
        ends.append(status)
    assert 2 in ends, "no signal came before the end: the moments are badly chosen"


@pytest.mark.siege
def test_a_starter_folder_appears_whole_or_not_at_all(stopped: Stopped, tmp_path: Path) -> None:
    whole = how_long(stopped, "new", tmp_path / "first")
    files = sorted(path.name for path in (tmp_path / "first").iterdir())
    for moment in random.Random("new").sample(range(100), 20):
        folder = tmp_path / f"line{moment}"
        status, run_cli = stopped(signal.SIGINT, whole * moment / 100, "new", folder)
        assert status in (0, 2)
        assert "Traceback" not in run_cli
        assert not list(tmp_path.glob(".new-*"))
        if folder.exists():
            assert sorted(path.name for path in folder.iterdir()) == files


@pytest.mark.siege
def test_a_printer_s_profile_is_kept_whole_or_stays_as_it_was(
    stopped: Stopped, run_cli: Cli, line: Path
) -> None:
    measured = ("align", "--printer", "desk", "--left", "16 mm", "--top", "16 mm")
    assert run_cli("--catalog", line, *measured)[0] == 0
    before = (line / "printers.toml").read_bytes()
    words = ("--catalog", line, *measured[:-1], "16.4 mm")
    whole = how_long(stopped, *words)
    after = (line / "printers.toml").read_bytes()
    for moment in random.Random("align").sample(range(100), 20):
        (line / "printers.toml").write_bytes(before)
        status, said = stopped(signal.SIGINT, whole * moment / 100, *words)
        assert status in (0, 2)
        assert "Traceback" not in said
        assert (line / "printers.toml").read_bytes() in (before, after)
        assert not list(line.glob(".*"))
