"""Long jobs as the maker gives them, by the command line alone: alike labels, a dealer's book.

    python -m tests.bench.bench_command [--tree TREE] [--rounds N] [alike] [book]

TREE is any checkout of the project; left out, the one that this file stands in.

``alike``: one label of each of the demo's 88 products, then thirty of each, which is as many
sheets; each run is printed, which checks it too, and its file checked once more. The ratio is to
the run of single labels: work that grows with what is different stays near 1.

``book``: the dealer's book of a line of 2,040 products, as in ``bench_book``, and the check of its
file. ``catalog`` makes and checks, so that the making is told by the difference: what ``catalog``
spends less what ``check`` does, whose own start and reading of the catalog make the check look
dearer by a little. The ratio is of the check to the making.

Work is of processors, user and system together, child processes included; the least of N rounds.
The peak is that of the largest process; ``all`` is the sum over the processes at one instant,
looked at every 20 ms, memory that they share counted for each. Nothing here is a test.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from tests.house.watching import PACKAGE, surroundings

ROOT = Path(__file__).resolve().parents[2]
ALIKE = 30
PATTERNS, COLOURS = 17, 20
"""Six weights each: 2,040 products."""
_PAGE = os.sysconf("SC_PAGE_SIZE")


@dataclass(frozen=True)
class Taken:
    """What a command took: seconds of processors, seconds by the clock, MB."""

    work: float
    clock: float
    peak: float
    whole: float

    def __str__(self) -> str:
        """Return the columns of a row."""
        return f"{self.work:>9.2f}{self.clock:>9.2f}{self.peak:>9.0f}{self.whole:>9.0f}"


HEAD = f"{'':<44}{'work s':>9}{'clock s':>9}{'peak MB':>9}{'all MB':>9}{'ratio':>9}"


def take(tree: Path, folder: Path, words: Iterable[str]) -> Taken:
    """Run a command of a checkout in ``folder`` and return what it took.

    Raises:
        RuntimeError: if it fails, or if something stops the press.
    """
    begin = time.perf_counter()
    with (folder / "words.txt").open("wb") as out:
        process = subprocess.Popen(
            [sys.executable, "-m", PACKAGE, *words],
            cwd=folder, env=surroundings(tree), stdout=out, stderr=out,
        )  # fmt: skip
    heights = [0]
    ended = threading.Event()
    watcher = threading.Thread(target=_look, args=(process.pid, heights, ended))
    watcher.start()
    _, status, used = os.wait4(process.pid, 0)
    clock = time.perf_counter() - begin
    ended.set()
    watcher.join()
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise RuntimeError(f"{' '.join(words)}: {(folder / 'words.txt').read_text('utf-8')[-800:]}")
    work = used.ru_utime + used.ru_stime
    return Taken(work, clock, used.ru_maxrss / 1024, max(heights) / 2**20)


def _look(pid: int, heights: list[int], ended: threading.Event) -> None:
    """Keep how much memory a process and all below it hold together, until it has ended."""
    while not ended.wait(0.02):
        heights.append(sum(map(_held, _family(pid))))


def _family(pid: int) -> list[int]:
    found, at = [pid], 0
    while at < len(found):
        for tasks in Path(f"/proc/{found[at]}/task").glob("*/children"):
            try:
                found += map(int, tasks.read_text().split())
            except OSError:  # it has just ended
                continue
        at += 1
    return found


def _held(pid: int) -> int:
    try:
        return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * _PAGE
    except (OSError, IndexError):
        return 0


def least(taken: list[Taken]) -> Taken:
    """Return the round that took the least work."""
    return min(taken, key=lambda one: one.work)


# ------------------------------------------------------------------------------------ the jobs


def alike(tree: Path, folder: Path, rounds: int) -> None:
    """Print what a run of alike labels takes, beside one of single labels."""
    shutil.copytree(tree / "demo_catalog", folder / "line")
    line = ["--catalog", "line"]
    jobs = {
        "bags, one of each": [*line, "bags", "--count", "1", "--out", "single.pdf"],
        f"bags, {ALIKE} of each": [*line, "bags", "--count", str(ALIKE), "--out", "alike.pdf"],
        "check, one of each": [*line, "check", "single.pdf"],
        f"check, {ALIKE} of each": [*line, "check", "alike.pdf"],
    }
    taken: dict[str, list[Taken]] = {title: [] for title in jobs}
    seen: dict[str, str] = {}
    for _ in range(rounds):
        for title, words in jobs.items():
            taken[title].append(take(tree, folder, words))
            seen[title] = _first_words(folder)
    print(HEAD)
    for title, rounds_ in taken.items():
        base = least(taken[f"{title.split(',')[0]}, one of each"])
        best = least(rounds_)
        print(f"{title:<44}{best}{best.work / base.work:>9.2f}   {seen[title]}")


def book(tree: Path, folder: Path, rounds: int) -> None:
    """Print what the check of a long book takes, beside its making."""
    write = [sys.executable, "-m", "tests.bench.book_line", str(folder / "line")]
    subprocess.run([*write, str(PATTERNS), str(COLOURS)], cwd=ROOT, check=True)
    line = ["--catalog", "line"]
    both, check = [], []
    for _ in range(rounds):
        both.append(take(tree, folder, [*line, "catalog", "--for", "dealer", "--out", "book.pdf"]))
        said = _first_words(folder)
        check.append(take(tree, folder, [*line, "check", "book.pdf"]))
    whole, checked = least(both), least(check)
    made = whole.work - checked.work
    print(HEAD)
    print(f"{'catalog, makes and checks':<44}{whole}{'':>9}   {said}")
    print(f"{'check of the book':<44}{checked}{checked.work / made:>9.2f}   {_first_words(folder)}")
    print(f"{'the making, by the difference':<44}{made:>9.2f}")


def _first_words(folder: Path) -> str:
    told = (folder / "words.txt").read_text("utf-8")
    return re.sub(r"\s+", " ", told.splitlines()[0] if told else "")


JOBS = {"alike": alike, "book": book}


def main(arguments: list[str]) -> None:
    """Print the tables asked for, or all."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.bench_command")
    parser.add_argument("--tree", type=Path, default=ROOT)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("jobs", nargs="*", choices=[*JOBS, []], default=[])
    asked = parser.parse_args(arguments)
    for name in asked.jobs or JOBS:
        with tempfile.TemporaryDirectory() as folder:
            JOBS[name](asked.tree.resolve(), Path(folder), asked.rounds)
        print(flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
