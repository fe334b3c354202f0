"""Runs a command of any checkout and tells what it and its child processes run and load."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

PACKAGE = "labeler"
WATCHED = Path(__file__).parent / "watched"


@dataclass(frozen=True)
class Seen:
    """What one command did, all of its processes together."""

    functions: frozenset[tuple[str, int, str]]
    """File, line and name of every function of the package that was called."""
    libraries: frozenset[str]
    """The modules that were loaded, other than the package's and Python's own; a process that was
    killed has no list, so that what it looked for counts."""
    processes: int
    status: int
    words: str

    @property
    def files(self) -> set[str]:
        """The files that the functions stand in."""
        return {file for file, _, _ in self.functions}


def watch(tree: Path, words: Iterable[str], folder: Path, *, calls: bool) -> Seen:
    """Run the program of a checkout in ``folder`` and return what it and its children did."""
    with tempfile.TemporaryDirectory() as notes:
        done = subprocess.run(
            [sys.executable, "-m", PACKAGE, *words],
            cwd=folder,
            env=surroundings(WATCHED, tree)
            | {"LABELER_WATCH": notes}
            | ({"LABELER_WATCH_CALLS": f"{tree.resolve() / PACKAGE}{os.sep}"} if calls else {}),
            capture_output=True,
            text=True,
            check=False,
        )
        processes = [file.read_text("utf-8") for file in sorted(Path(notes).iterdir())]
    functions = set()
    libraries: set[str] = set()
    for text in processes:
        rows = [line.split("\t") for line in text.splitlines()]
        functions |= {
            (row[1], int(row[2]), row[3])
            for row in rows
            if row[0] == "called" and not row[3].rpartition(".")[2].startswith("<")
        }
        kind = "loaded" if any(row[0] == "loaded" for row in rows) else "sought"
        libraries |= {row[1] for row in rows if row[0] == kind and is_library(row[1])}
    said = done.stdout + done.stderr
    return Seen(frozenset(functions), frozenset(libraries), len(processes), done.returncode, said)


def surroundings(*first: Path) -> dict[str, str]:
    """Return the environment in which modules are found in these folders before any other."""
    kept = {key: value for key, value in os.environ.items() if not key.startswith("LABELER")}
    return kept | {"PYTHONPATH": os.pathsep.join(str(path.resolve()) for path in first)}


def is_library(name: str) -> bool:
    """Tell whether a module is neither Python's own nor the program's nor the watcher."""
    top = name.partition(".")[0]
    return top not in sys.stdlib_module_names | {
        PACKAGE,
        "sitecustomize",
        "__main__",
        "__mp_main__",
    }
