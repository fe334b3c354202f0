"""A command loads what it uses and no more: the heavy libraries and rooms that each must not load.

Every command is run in a process of its own that lists what it has loaded when it ends. A command
that loads what it does not use is slow before it begins. So that not each of them loads all that it
does use, it may begin where another left off, which then loads nothing that it must not: what that
one loaded counts against it.
"""

from __future__ import annotations

import contextlib
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import pytest

from labeler.checker import process
from labeler.checker.process import Worker
from labeler.cli.group import VERBS, run

ROOT = Path(__file__).resolve().parents[2]

LEDGER = {"sqlalchemy"}
SPREADSHEETS = {"openpyxl"}
DRAWING = {"reportlab", "PIL", "labeler.drawing", "labeler.press.pdf", "uharfbuzz"}
LAYOUTS = {"jinja2", "lxml", "labeler.layout.compose", "qrcode"}
CHECKER = {"pypdf", "pypdfium2", "zxingcpp", "numpy", "labeler.checker.judge"}
BOOK = {"labeler.book"}
DESK = {"starlette", "uvicorn", "python_multipart", "anyio", "labeler.desk"}

NOTHING = LEDGER | SPREADSHEETS | DRAWING | LAYOUTS | CHECKER | BOOK | DESK

SKU = "RM-38-40-SBR"
BAGS = f"bags --sku {SKU} --out bags.pdf"
PHOTO = "reedmace-delft-craw.jpg"

COMMANDS: dict[str, set[str]] = {
    "--help": NOTHING | {"pydantic"},
    "bags --help": NOTHING | {"pydantic"},
    "help findings": NOTHING | {"pydantic"},
    "desk --help": NOTHING | {"pydantic"},
    "desk --icon": NOTHING - {"labeler.desk"},
    "lot list": NOTHING - LEDGER,
    "lot list {lot}": NOTHING - LEDGER,
    "lot journal": NOTHING - LEDGER,
    "lot weigh {lot}": NOTHING - LEDGER,
    "trace HK-2291": NOTHING - LEDGER,
    "ship {lot} --scrap --count 1": NOTHING - LEDGER,
    "orders": NOTHING - LEDGER,
    "order " + SKU + "=3 --customer Ada --again": NOTHING - LEDGER - BOOK,
    "lot add {lot} glue=G-7": NOTHING - LEDGER,
    "lot assign " + SKU + " --count 6": NOTHING - LEDGER,
    "markets": NOTHING,
    "sheets": NOTHING,
    "layouts": LEDGER | SPREADSHEETS | {"PIL", "reportlab"} | CHECKER | BOOK,
    "check": NOTHING - {"PIL", "labeler.drawing", "numpy"},
    BAGS: LEDGER | SPREADSHEETS | BOOK,
    "stock": NOTHING - LEDGER,
    "tied " + SKU + "=2": SPREADSHEETS | BOOK,
    "check bags.pdf": (LEDGER | SPREADSHEETS | CHECKER) - {"pypdf", "uharfbuzz"},  # a worker reads
    "prices": NOTHING - BOOK,
    "prices --change +5%": NOTHING - BOOK,
    "new started": NOTHING | {"pydantic"},
    "new taken --from line/products.csv": (LEDGER | SPREADSHEETS | CHECKER | {"reportlab"})
    - {"numpy"},
    "align --printer desk --left 16mm --top 16mm": LEDGER | SPREADSHEETS | CHECKER | BOOK,
    "pages --out site": (LEDGER | SPREADSHEETS | CHECKER) - {"numpy"},  # clears a photo
}
"""What each command must not load."""


WHERE = dict.fromkeys(("lot", "trace", "ship", "order", "orders", "stock", "tied"), "kept")
WHERE["pages"] = "small"
"""Where a command is run, by its first word; left out, where there is no ledger."""


class Commands(Protocol):
    def practise(self, *words: object) -> str: ...
    def loaded(self, *words: object) -> set[str]: ...


class Bench:
    """Two copies of the demo: one without a ledger, one with a lot; and a small line with a photo.

    What was once run is not run again, and of a command that reads a file the file is there.
    """

    def __init__(self, folder: Path, begin: Callable[[], Commands]) -> None:
        self.folder, self.seen = folder, dict[tuple[str, ...], set[str]]()
        ignore = shutil.ignore_patterns("prints", "ledger.sqlite*")
        for kind in ("bare", "kept"):
            shutil.copytree(ROOT / "demo_catalog", folder / kind / "line", ignore=ignore)
        small = Path(shutil.copytree(ROOT / "layouts" / "starter", folder / "small" / "line"))
        (small / "photos").mkdir()
        shutil.copy(ROOT / "demo_catalog" / "photos" / PHOTO, small / "photos" / "first.jpg")
        catalog = (small / "catalog.toml").read_text("utf-8")
        assert '# photo = "first.jpg"' in catalog
        (small / "catalog.toml").write_text(catalog.replace("# photo =", "photo ="), "utf-8")
        self.first, self.after_a_list, self.after_a_lot = begin(), begin(), begin()
        with contextlib.chdir(folder / "kept"):
            self.after_a_list.practise("--catalog", "line", "sheets")
            asked = ("lot", "assign", SKU, "--count", "24", "--material", "hook=HK-2291", "--json")
            said = self.after_a_lot.practise("--catalog", "line", *asked)
        self.lot = str(json.loads(said)["lots"][0]["lot"])

    def run(self, words: tuple[str, ...], needless: set[str]) -> set[str]:
        """Run a command that must not load something; return the modules that there are then."""
        if words in self.seen:
            return self.seen[words]
        begun = self.after_a_list if needless >= LEDGER else self.after_a_lot
        with contextlib.chdir(self.folder / WHERE.get(words[0], "bare")):
            commands = self.first if "pydantic" in needless else begun
            self.seen[words] = commands.loaded("--catalog", "line", *words)
        return self.seen[words]


@pytest.fixture(scope="module")
def bench(
    tmp_path_factory: pytest.TempPathFactory, fresh_commands: Callable[[], Commands]
) -> Bench:
    return Bench(tmp_path_factory.mktemp("start"), fresh_commands)


@pytest.fixture(scope="module")
def fresh(fresh_commands: Callable[[], Commands]) -> Commands:
    return fresh_commands()


@pytest.mark.parametrize("verb", sorted(VERBS))
def test_a_command_begins_by_itself(verb: str, fresh: Commands) -> None:
    """None leans on what another command has loaded before it."""
    fresh.loaded(verb, "--help")


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_loads_only_what_it_uses(bench: Bench, command: str) -> None:
    words = tuple(command.format(lot=bench.lot).split())
    if words == ("check", "bags.pdf"):
        bench.run(tuple(BAGS.split()), COMMANDS[BAGS])
    loaded = bench.run(words, COMMANDS[command])
    needless = {
        heavy
        for heavy in COMMANDS[command]
        if any(name == heavy or name.startswith(f"{heavy}.") for name in loaded)
    }
    assert needless == set()


def test_what_a_command_does_use_is_seen(bench: Bench) -> None:
    """The table would prove nothing if the listing were empty."""
    bench.seen.clear()
    loaded = bench.run(("lot", "list"), NOTHING | {"pydantic"})
    assert {"sqlalchemy", "labeler.app.lots", "labeler.ledger.lots"} <= loaded


def test_a_reader_of_files_can_be_begun_before_anything_else_is_loaded() -> None:
    """Both processes load at once what takes them long."""
    said = subprocess.run(
        [sys.executable, "-c", "import labeler.checker.process, sys; print(*sys.modules)"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert not (NOTHING | {"pydantic"}) & set(said.stdout.split())


@pytest.mark.parametrize("there", [True, False])
def test_a_reader_is_begun_for_a_file_that_is_there(
    there: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What can't be checked is refused at once; where no process can be begun, nothing changes."""
    begun: list[None] = []

    class Unstarted(Worker):
        def __init__(self) -> None:
            begun.append(None)
            raise BlockingIOError

    monkeypatch.setattr(process, "Worker", Unstarted)
    monkeypatch.setattr(process, "_spare", [])
    file = tmp_path / "x.pdf"
    if there:
        file.write_bytes(b"%PDF-1.7")
    assert run(["--catalog", str(ROOT / "demo_catalog"), "check", str(file)]) == 2
    assert len(begun) == 2 * there
