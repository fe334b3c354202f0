"""Ctrl-C and a polite kill at any moment: no half file, nothing lost, one sentence."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import click
import pytest

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals are another thing there")

Told = Callable[..., tuple[int, str, str]]


class Commands(Protocol):
    def practise(self, *words: object) -> None: ...
    def time(self, *words: object) -> float: ...
    def end(self, *words: object, after: float, number: int) -> tuple[int, str]: ...


SKU = "FST-38-40-MAR"
YESTERDAY = b"%PDF-1.7 yesterday's"
_BEGIN = (
    "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "from labeler.cli import main; print('begun', flush=True); "
    "sys.argv = ['labeler', *sys.argv[1:]]; main()"
)
"""Says when Python itself has started: what comes before is not ours to catch. Ctrl-C stops it even
where the tests were started in the background, with that signal ignored."""


class Moments:
    """Moments at which to stop a command, spread over the time that it takes.

    That time is found out as it goes: each command that ended before its signal came makes it
    shorter, each that was stopped a little longer, so that signals come before the end and after
    it, however busy the machine.
    """

    def __init__(self, seed: str, whole: float) -> None:
        self.whole, self.chance = whole, random.Random(seed)
        self.stopped = 0

    def next(self) -> float:
        return self.whole * self.chance.random()

    def ended(self, status: int) -> None:
        assert status in (0, 2)
        self.stopped += status == 2
        self.whole *= 1.05 if status else 0.75


def assert_all_or_nothing(status: int, told: str, out: Path) -> None:
    """A whole new file and success, or yesterday's file, status 2 and one sentence."""
    folder = sorted(path.name for path in out.parent.iterdir())
    assert folder == [out.name], f"left behind: {folder}"
    assert "Traceback" not in told, told
    now = out.read_bytes()
    if status == 0:
        assert now.startswith(b"%PDF-")
        assert now.rstrip().endswith(b"%%EOF")
    else:
        assert status == 2, told
        said = told.strip().rpartition("stop  ")[2]
        if now == YESTERDAY:
            assert said in ("", _SAID)
            assert said or "stop" not in told
        else:  # all was done, perhaps said too, when the order came
            assert now.rstrip().endswith(b"%%EOF")
            assert said.startswith(_DONE)
            assert str(out) in said


_SAID = "stopped before the end; no half-written file is left [stopped]"
_DONE = "stopped, but by then this was in its place, and whole"

JOBS = {
    "bags": ("bags", "--sku", SKU, "--count", "60", "--out"),
    "cards": ("cards", "--sku", SKU, "--out"),
    "catalog": ("catalog", "--for", "dealer", "--only", SKU, "--out"),
    "align": ("align", "--printer", "desk", "--out"),
}


@pytest.mark.daily
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["Ctrl-C", "kill"])
def test_stopping_leaves_what_was_there(line: Path, tmp_path: Path, number: int) -> None:
    """The program from its first line on, while it still loads what it needs."""
    out = tmp_path / "out" / "x.pdf"
    out.parent.mkdir()
    out.write_bytes(YESTERDAY)
    words = ["--catalog", str(line), *JOBS["bags"], str(out)]
    child = subprocess.Popen(
        [sys.executable, "-c", _BEGIN, *words],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert child.stdout is not None
    assert child.stdout.readline() == "begun\n"
    time.sleep(0.05)
    child.send_signal(number)
    _, told = child.communicate()
    assert_all_or_nothing(child.returncode, told, out)


@pytest.mark.siege
@pytest.mark.parametrize("job", JOBS)
def test_at_any_moment_all_of_the_file_is_there_or_nothing_of_it(
    commands: Commands, line: Path, tmp_path: Path, job: str
) -> None:
    """Eight moments for each of four jobs, Ctrl-C and a polite kill in turn."""
    out = tmp_path / "out" / "x.pdf"
    out.parent.mkdir()
    words = ("--catalog", line, *JOBS[job], out)
    commands.practise(*words)
    moments = Moments(job, commands.time(*words))
    for number in (signal.SIGINT, signal.SIGTERM) * 4:
        out.write_bytes(YESTERDAY)
        status, told = commands.end(*words, after=moments.next(), number=number)
        assert_all_or_nothing(status, told, out)
        moments.ended(status)
    assert moments.stopped > 1, "hardly a signal came before the end"


@pytest.mark.siege
def test_a_starter_folder_appears_whole_or_not_at_all(commands: Commands, tmp_path: Path) -> None:
    commands.practise("new", tmp_path / "first")
    files = sorted(path.name for path in (tmp_path / "first").iterdir())
    moments = Moments("new", commands.time("new", tmp_path / "second"))
    for at in range(12):
        folder = tmp_path / f"line{at}"
        status, told = commands.end("new", folder, after=moments.next(), number=signal.SIGINT)
        assert "Traceback" not in told
        assert not list(tmp_path.glob(".*"))
        if folder.exists():
            assert sorted(path.name for path in folder.iterdir()) == files
        moments.ended(status)


@pytest.mark.siege
def test_a_printer_s_profile_is_kept_whole_or_stays_as_it_was(
    commands: Commands, run_cli: Told, line: Path
) -> None:
    measured = ("align", "--printer", "desk", "--left", "16 mm", "--top", "16 mm")
    assert run_cli("--catalog", line, *measured)[0] == 0
    before = (line / "printers.toml").read_bytes()
    words = ("--catalog", line, *measured[:-1], "16.4 mm")
    commands.practise(*words)
    after = (line / "printers.toml").read_bytes()
    moments = Moments("align", commands.time(*words))
    for _ in range(12):
        (line / "printers.toml").write_bytes(before)
        status, said = commands.end(*words, after=moments.next(), number=signal.SIGINT)
        assert "Traceback" not in said
        assert (line / "printers.toml").read_bytes() in (before, after)
        assert not list(line.glob(".*"))
        moments.ended(status)


_ENDINGS = """
import os, random, signal, sys, time, traceback
from labeler import cli
from labeler.cli import group

def work(words, over):
    signal.pthread_sigmask(signal.SIG_UNBLOCK, [signal.SIGINT])
    end = time.perf_counter() + 0.002
    while time.perf_counter() < end:
        pass
    return 0

signal.signal(signal.SIGINT, signal.default_int_handler)
group.run, chance = work, random.Random("endings")
for _ in range(150):
    signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    process = os.fork()
    if not process:
        try:
            cli.main()
        except SystemExit as left:
            os._exit(left.code)
        except BaseException:
            traceback.print_exc()
            os._exit(1)
    time.sleep(0.0015 + 0.0015 * chance.random())
    for _ in range(3):
        os.kill(process, signal.SIGINT)
    print(os.waitstatus_to_exitcode(os.waitpid(process, 0)[1]))
"""


@pytest.mark.siege
def test_ctrl_c_again_and_again_at_the_very_end_is_no_traceback() -> None:
    ran = subprocess.run(
        [sys.executable, "-c", _ENDINGS], capture_output=True, text=True, timeout=120, check=False
    )
    assert "Traceback" not in ran.stderr
    assert set(ran.stdout.split()) <= {"0", "2"}
    assert len(ran.stdout.split()) == 150


@pytest.mark.daily
@pytest.mark.parametrize("at", ["first", "last"])
def test_an_order_that_comes_after_the_work_is_told_what_stands(
    run_cli: Told, line: Path, tmp_path: Path, at: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At the first word of the answer, and when the last has been said."""
    out, echo = tmp_path / "out" / "x.pdf", click.echo
    out.parent.mkdir()

    def stopped(message: object = None, err: bool = False) -> None:
        if at == "last":
            echo(message, err=err)
        if (at == "first" and out.exists()) or str(message).startswith("Print at 100"):
            monkeypatch.setattr(click, "echo", echo)
            raise KeyboardInterrupt

    monkeypatch.setattr(click, "echo", stopped)
    did = run_cli("--catalog", line, *JOBS["bags"], out)
    assert did[0] == 2, did
    assert_all_or_nothing(2, did[2], out)
