"""A command loads what it uses and no more: the heavy libraries and rooms that each must not load.

Every command is run in a process of its own that lists what it loaded when it ends. A command that
loads what it does not use is slow before it begins.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

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
    "bags --sku " + SKU + " --out bags.pdf": LEDGER | SPREADSHEETS | BOOK,
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
"""What each command must not load. Those that name a lot run beside a ledger."""


@dataclass(frozen=True)
class Bench:
    """Two copies of the demo: one without a ledger, one with a lot."""

    folder: Path

    def run(self, words: list[str], kind: str) -> tuple[set[str], str]:
        """Run a command; return the modules that it loaded, and what it said."""
        listing = self.folder / "modules.json"
        program = (
            "import atexit, json, sys\n"
            "from labeler.cli import main\n"
            f"atexit.register(lambda: open({str(listing)!r}, 'w').write("
            "json.dumps(sorted(sys.modules))))\n"
            "main()\n"
        )
        done = subprocess.run(
            [sys.executable, "-c", program, "--catalog", "line", *words],
            cwd=self.folder / kind, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        return set(json.loads(listing.read_text("utf-8"))), done.stdout


@pytest.fixture(scope="module")
def bench() -> Iterator[tuple[Bench, str]]:
    """The copies, and the lot's code."""
    with tempfile.TemporaryDirectory(prefix="start-") as home:
        for kind in ("bare", "kept"):
            ignore = shutil.ignore_patterns("prints", "ledger.sqlite*")
            shutil.copytree(ROOT / "demo_catalog", Path(home) / kind / "line", ignore=ignore)
        made = Bench(Path(home))
        material = ["--material", "hook=HK-2291"]
        _, said = made.run(["lot", "assign", SKU, "--count", "24", *material, "--json"], "kept")
        yield made, json.loads(said)["lots"][0]["lot"]


KEPT = ("lot", "trace", "ship", "order", "orders", "stock", "tied")


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_loads_only_what_it_uses(bench: tuple[Bench, str], command: str) -> None:
    made, lot = bench
    words = command.format(lot=lot).split()
    if words == ["check", "bags.pdf"]:
        made.run(["bags", "--sku", SKU, "--out", "bags.pdf"], "bare")
    loaded, _ = made.run(words, "kept" if words[0] in KEPT else "bare")
    needless = {
        heavy
        for heavy in COMMANDS[command]
        if any(name == heavy or name.startswith(f"{heavy}.") for name in loaded)
    }
    assert needless == set()


def test_what_a_command_does_use_is_seen(bench: tuple[Bench, str]) -> None:
    """The table would prove nothing if the listing were empty."""
    made, _ = bench
    loaded, _ = made.run(["lot", "list"], "kept")
    assert {"sqlalchemy", "labeler.app.lots", "labeler.ledger.lots"} <= loaded
