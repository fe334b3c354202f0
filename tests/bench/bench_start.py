"""What every command spends, beside a bare Python that imports the same foreign libraries.

    python -m tests.bench.bench_start [--tree TREE] [RUNS [COMMAND ...]]

TREE is any checkout of the project; left out, the one that this file stands in. Each command runs
on a copy of the demo catalog: small work, so that what it spends is mostly its start.

Beside it a bare Python imports the foreign modules that the command, its threads and its child
processes had loaded when they ended, every submodule of them, all in one process. What Python's
own library costs is ours. Both run from compiled modules, as what pip installed does: the first
run compiles them, and is not counted. Times are of processors, user and system together, child
processes included, the median of RUNS; command and bare take turns, so that a busy machine slows
both, and the ratio is the median of the rounds' ratios. The clock on the wall says something only
where the machine has nothing else to do.

A command that the checkout does not have is said to be missing. Nothing here is a test: a timing is
a measurement, not a promise. The house's aim is a ratio of at most 1.5 for every command.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from tests.house.watching import PACKAGE, surroundings, watch

ROOT = Path(__file__).resolve().parents[2]
SKU = "RM-38-40-SBR"
SAMPLE = "10.4 10.7 10.6 10.5 10.8 10.6 10.7 10.5 10.6 10.4 10.6 10.7"

BARE_LINE = {
    "help": "--help",
    "help of bags": "bags --help",
    "check, the catalog": "check",
    "check of one label": "check one.pdf",
    "check of one label, changed since": "check changed.pdf",
    "bags, one label": f"bags --sku {SKU} --out out.pdf",
    "cards, one card": f"cards --sku {SKU} --out out.pdf",
    "sheets": "sheets",
    "layouts": "layouts",
    "markets": "markets",
    "catalog, one pattern": f"catalog --for dealer --only {SKU} --out out.pdf",
    "catalog, the whole book": "catalog --for dealer --out out.pdf",
    "order, a workbook": "order order.xlsx --dealer odd-pail",
    "order, a PDF form": "order order.pdf --dealer odd-pail",
    "pages": "pages --out site-{run}",
    "new": "new started-{run}",
    "align, the sheet": "align --printer desk --dpi 600 --out out.pdf",
    "align, what was measured": "align --printer desk --left 16mm --top 16.5mm",
}
"""What is run where nobody has opened a lot yet."""

WITH_LOTS = {
    "bags of a lot, one label": "bags --lot {lot} --count 1 --out out.pdf",
    "lot assign": f"lot assign {SKU} --count 24 --material hook=HK-2291 --key {{run}}",
    "lot list": "lot list",
    "lot list, one lot": "lot list {lot}",
    "lot card": "lot card {lot} --out out.pdf",
    "lot weigh": f"lot weigh {{lot}} {SAMPLE} --again --why bench",
    "trace": "trace HK-2291",
    "ship": "ship {lot} --to {dealer} --count 1 --key {run}",
    "reprint": "reprint {lot} --count 1 --out out.pdf",
}
"""What is run on a catalog with a ledger."""


class Bench:
    """A checkout, and a room with the catalogs that its commands run on."""

    def __init__(self, tree: Path, room: Path) -> None:
        self.tree, self.room = tree.resolve(), room
        self._environment = compiled(surroundings(self.tree), room)
        self.given: dict[str, str] = {}
        for name in ("bare", "kept"):
            shutil.copytree(self.tree / "demo_catalog", room / name / "line")

    def prepare(self) -> None:
        """Open a lot, print its labels, and make the files that some commands read."""
        bare, kept = self.room / "bare", self.room / "kept"
        lots = json.loads(self.run(kept, f"{WITH_LOTS['lot assign']} --json"))
        self.given["lot"] = lots["lots"][0]["lot"]
        self.given["dealer"] = _dealer(self.tree)
        self.run(kept, "bags --lot {lot} --count 2 --out out.pdf")
        self.run(bare, f"bags --sku {SKU} --out one.pdf")
        data = (bare / "one.pdf").read_bytes()
        (bare / "changed.pdf").write_bytes(data + b"\n% changed\n")
        self.run(bare, "catalog --for dealer --order-sheet order.xlsx --out order.pdf")
        fill_workbook(bare / "order.xlsx")
        fill_form(bare / "order.pdf")

    def words(self, command: str, number: object = 0) -> list[str]:
        """Return the words of one run of a command."""
        return ["--catalog", "line", *command.format(run=number, **self.given).split()]

    def run(self, folder: Path, command: str) -> str:
        """Run a command and return what it says.

        Raises:
            RuntimeError: if it fails.
        """
        done = subprocess.run(
            [sys.executable, "-m", PACKAGE, *self.words(command)],
            cwd=folder, env=self._environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
        if done.returncode:
            raise RuntimeError(f"{command}: {done.stdout}{done.stderr}")
        return done.stdout

    def copy(self, kind: str, number: int) -> Path:
        """Return a folder of its own for one command, a copy of the prepared one."""
        folder = self.room / f"{kind}-{number}"
        shutil.copytree(self.room / kind, folder)
        return folder

    def spent(self, folder: Path, command: str, number: int) -> tuple[float, float]:
        """Return the seconds that a command takes of processors and by the clock."""
        words = ["-m", PACKAGE, *self.words(command, number)]
        return spent(words, folder, self._environment)


def _dealer(tree: Path) -> str:
    """Return the first dealer of the demo catalog."""
    import tomllib

    dealers = tomllib.loads((tree / "demo_catalog" / "catalog.toml").read_text("utf-8"))["dealers"]
    return str(next(iter(dealers)))


def fill_workbook(path: Path) -> None:
    """Order two packs of the first product in an order workbook."""
    from openpyxl import load_workbook

    book = load_workbook(path)
    for number, row in enumerate(book.worksheets[0].iter_rows(), 1):
        for column, cell in enumerate(row, 1):
            if str(cell.value).startswith("Packs ordered"):
                book.worksheets[0].cell(number + 1, column).value = 2
    book.save(path)


def fill_form(path: Path) -> None:
    """Order two packs of one product in the form of a book."""
    from pypdf import PdfReader, PdfWriter

    writer = PdfWriter(clone_from=PdfReader(path))
    fields = [name for name in writer.get_fields() or {} if SKU in name]
    for page in writer.pages:
        if "/Annots" in page:
            writer.update_page_form_field_values(page, dict.fromkeys(fields, "2"))
    writer.write(path)


def compiled(environment: dict[str, str], room: Path) -> dict[str, str]:
    """Return an environment in which Python keeps what it compiled, as an installed program has.

    It is kept in ``room``, so that nothing is left in the checkout.
    """
    kept = {key: value for key, value in environment.items() if key != "PYTHONDONTWRITEBYTECODE"}
    return kept | {"PYTHONPYCACHEPREFIX": str(room / "compiled")}


def spent(words: list[str], folder: Path, environment: dict[str, str]) -> tuple[float, float]:
    """Return the seconds that a Python takes of processors, with its children, and by the clock.

    Raises:
        RuntimeError: if it fails.
    """
    begin = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, *words],
        cwd=folder, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise RuntimeError(f"{' '.join(words)}: exit status {process.returncode}")
    return used.ru_utime + used.ru_stime, time.perf_counter() - begin


class Bare:
    """A bare Python that imports modules and ends."""

    def __init__(self, libraries: Iterable[str], folder: Path, name: str) -> None:
        self._folder, self._name = folder, name
        self._environment = compiled(surroundings(folder), folder)
        names = [one for one in sorted(libraries) if all(map(str.isidentifier, one.split(".")))]
        self.modules = json.loads(
            subprocess.run(
                [sys.executable, "-c", _TRY, json.dumps(names)],
                cwd=folder, env=self._environment, check=True, capture_output=True, text=True,
            ).stdout.splitlines()[-1]
        )  # fmt: skip
        imports = "".join(f"import {one}\n" for one in self.modules)
        (folder / f"{name}.py").write_text(imports, "utf-8")

    def spent(self) -> tuple[float, float]:
        """Return the seconds that it takes of processors and by the clock."""
        return spent(["-c", f"import {self._name}"], self._folder, self._environment)

    def __str__(self) -> str:
        """Return the libraries, each with the number of its modules."""
        tops = Counter(one.partition(".")[0] for one in self.modules)
        shown = {top: many for top, many in sorted(tops.items()) if not top.startswith("_")}
        return " ".join(f"{top} {many}" for top, many in shown.items()) or "none"


_TRY = """
import importlib, json, sys
held = []
for name in json.loads(sys.argv[1]):
    try:
        importlib.import_module(name)
    except Exception:
        continue
    held.append(name)
print()
print(json.dumps(held))
"""
"""Names in `sys.modules` that can't be imported by name are parts of what can."""


@dataclass
class Case:
    """One command, the bare Python beside it, and what they took."""

    title: str
    command: str
    folder: Path
    bare: Bare
    processes: int
    ours: list[tuple[float, float]] = field(default_factory=list)
    theirs: list[float] = field(default_factory=list)

    def __str__(self) -> str:
        """Return the row of the table; the first run warms the disk and is not counted."""
        rounds = list(zip(self.ours, self.theirs, strict=True))[1:]
        work, clock = (statistics.median(one[at] for one, _ in rounds) for at in (0, 1))
        base = statistics.median(bare for _, bare in rounds)
        ratio = statistics.median(one[0] / bare for one, bare in rounds)
        return (
            f"{self.title:<36}{work * 1000:>7.0f}{base * 1000:>7.0f}{ratio:>7.2f}"
            f"{clock * 1000:>7.0f}{self.processes:>11}"
        )


def cases(bench: Bench, only: list[str]) -> tuple[list[Case], list[str]]:
    """Run every command once, watched; return what is to be measured, and what is missing."""
    told = bench.run(bench.room / "bare", "--help")
    verbs = set(re.findall(r"^  ([a-z]+)\b", told, re.MULTILINE))
    found: list[Case] = []
    missing = []
    commands = [("bare", *item) for item in BARE_LINE.items()]
    commands += [("kept", *item) for item in WITH_LOTS.items()]
    for kind, title, command in commands:
        verb = command.split()[0]
        if only and title not in only:
            continue
        if verb[0] != "-" and verb not in verbs:
            missing.append(title)
            continue
        folder = bench.copy(kind, len(found))
        seen = watch(bench.tree, bench.words(command, "seen"), folder, calls=False)
        if seen.status:
            raise RuntimeError(f"{title}: {seen.words}")
        bare = Bare(seen.libraries, bench.room, f"bare_{len(found)}")
        found.append(Case(title, command, folder, bare, seen.processes))
    return found, missing


def main(tree: Path, runs: int, only: list[str]) -> None:
    """Run every command in turn and print the table."""
    with tempfile.TemporaryDirectory() as name:
        bench = Bench(tree, Path(name))
        bench.prepare()
        found, missing = cases(bench, only)
        alone = []
        for run in range(runs + 1):
            alone.append(spent(["-c", "pass"], bench.room, dict(os.environ))[0])
            for case in found:
                case.ours.append(bench.spent(case.folder, case.command, run))
                case.theirs.append(case.bare.spent()[0])
        print(f"Python alone: {statistics.median(alone[1:]) * 1000:.0f} ms of work\n")
        head = f"in ms, median of {runs}"
        print(f"{head:<36}{'work':>7}{'bare':>7}{'ratio':>7}{'clock':>7}{'processes':>11}")
        print(*found, sep="\n")
        for title in missing:
            print(f"{title:<36}{'no such command':>15}")
        print("\nthe libraries that each had loaded at its end, and how many of their modules")
        for case in found:
            print(f"{case.title:<36}{case.bare}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m tests.bench.bench_start")
    parser.add_argument("--tree", type=Path, default=ROOT)
    parser.add_argument("runs", nargs="?", type=int, default=7)
    parser.add_argument("only", nargs="*", metavar="COMMAND")
    asked = parser.parse_args()
    main(asked.tree, asked.runs, asked.only)
