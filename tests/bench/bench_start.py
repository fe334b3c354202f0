"""How long the program takes to say a word, beside an empty Python on the same machine.

    python tests/bench/bench_start.py [RUNS]

The aim is help in under 150 ms on a warm disk. Each command is started RUNS times, one after the
other, in turn with the others, so that a busy moment of the machine meets all of them; the least
and the median are told. The first run of each warms the disk and is not counted.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DEMO = str(ROOT / "demo_catalog")
AIM_MS = 150

LABELER = [sys.executable, "-m", "labeler"]
COMMANDS = {
    "Python alone": [sys.executable, "-c", "pass"],
    "import click": [sys.executable, "-c", "import click"],
    "labeler --help": [*LABELER, "--help"],
    "labeler --version": [*LABELER, "--version"],
    "labeler bags --help": [*LABELER, "bags", "--help"],
    "labeler check": [*LABELER, "--catalog", DEMO, "check"],
    "labeler bags, 1 label": [
        *LABELER, "--catalog", DEMO, "bags", "--sku", "RM-38-40-SBR", "--out", "/dev/null",
    ],
}  # fmt: skip


def milliseconds(command: list[str]) -> float:
    """Return how long ``command`` takes from its start to its end."""
    begin = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return (time.perf_counter() - begin) * 1_000


def heaviest(count: int) -> list[str]:
    """Return what ``labeler --help`` spends most of its imports on."""
    told = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "labeler", "--help"],
        capture_output=True, text=True, check=True,
    ).stderr  # fmt: skip
    rows = [line.removeprefix("import time:").split("|") for line in told.splitlines()]
    own = [
        (int(row[0]), row[2].strip()) for row in rows if len(row) == 3 and row[0].strip().isdigit()
    ]
    return [f"{name} {spent / 1_000:.1f} ms" for spent, name in sorted(own, reverse=True)[:count]]


def main() -> None:
    """Time every command and tell."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    taken: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for round_ in range(runs + 1):
        for name, command in COMMANDS.items():
            lasted = milliseconds(command)
            if round_:
                taken[name].append(lasted)
    print(f"{'':<24}{'least':>9}{'median':>9}   of {runs} runs, in ms")
    for name, times in taken.items():
        print(f"{name:<24}{min(times):>9.0f}{statistics.median(times):>9.0f}")
    median = statistics.median(taken["labeler --help"])
    print(
        f"\nlabeler --help: {median:.0f} ms, {'within' if median < AIM_MS else 'OVER'} {AIM_MS} ms"
    )
    print("its own imports that take longest:", "; ".join(heaviest(5)))


if __name__ == "__main__":
    main()
