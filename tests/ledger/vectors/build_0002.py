"""Builds ``ledger-0002.sqlite`` by the commands of two weeks. Run once, never again.

Made by the program as it was before anything stored had a number. Later versions must open the
file as it is; building it anew with a later version would prove nothing.
"""

from __future__ import annotations

import json
import shutil
import sys
import tempfile
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path
from typing import Any

from labeler.cli.group import run

HERE = Path(__file__).parent
LINE = HERE / "line-0002"
HERON, WIDE, VOLE, METRIC, SEED = (
    "SW-38-40-DHN", "SW-12-50-DHN", "CV-38-30-LMP", "CV-10.5G-30-LMP", "SE-116-6-ASH"
)  # fmt: skip


class Maker:
    """Gives commands on one folder."""

    def __init__(self, folder: Path, prints: Path) -> None:
        self.folder, self.prints = folder, prints
        self.printed = 0

    def told(self, *words: object, status: int = 0) -> Any:
        said = StringIO()
        with redirect_stdout(said):
            ended = run(["--catalog", str(self.folder), *map(str, words), "--json"])
        assert ended == status, (words, ended, said.getvalue())
        return json.loads(said.getvalue()) if said.getvalue() else None

    def lot(self, sku: str, count: int, *words: object) -> str:
        return str(self.told("lot", "assign", sku, "--count", count, *words)["lots"][0]["lot"])

    def print(self, verb: str, *words: object) -> None:
        self.printed += 1
        self.told(verb, *words, "--out", self.prints / f"run-{self.printed}.pdf")


def work(at: Maker) -> None:
    """Give the commands of two weeks."""
    heron = at.lot(HERON, 60, "--made", "2026-11-20", "--key", "monday", "--note", "first of all",
                   "--material", "hook=HK-2291", "--material", "alloy=PB 9")  # fmt: skip
    vole = at.lot(VOLE, 24, "--made", "2026-11-20", "--material", "hook=HK-2291")
    metric = at.lot(METRIC, 12, "--made", "2026-11-23")
    wide = at.lot(WIDE, 300, "--made", "2026-11-24", "--material", "glue=G-7")
    seed = at.lot(SEED, 40, "--made", "2026-11-24", "--material", "feather=ASH 3")
    spoiled = at.lot(SEED, 40, "--made", "2026-11-24")
    at.told("lot", "void", spoiled, "--why", "counted wrong")
    at.told("lot", "add", heron, "thread=T-7")

    at.print("bags", "--lot", heron, "--count", 12, "--sheet", "letter-2x5", "--printer", "laser",
             "--layout", "bag-panel")  # fmt: skip
    at.print("cards", "--lot", heron, "--count", 4, "--layout", "insert-card")
    at.print("bags", "--lot", vole, "--count", 8, "--ink", "black", "--printer", "old-inkjet",
             "--start", 5, "--spoiled", "7-8")  # fmt: skip
    at.print("cards", "--lot", vole, "--count", 2, "--ink", "black", "--printer", "laser",
             "--layout", "header-card")  # fmt: skip
    at.print("bags", "--lot", wide, "--count", 3, "--sheet", "letter-2x5", "--layout", "shelf-tag")
    at.print("lot", "card", heron)
    at.print("reprint", heron, "--count", 2, "--kind", "bags", "--start", "next")
    at.print("bags", "--sku", "SW-*", "--sheet", "letter-2x5", "--layout", "bag-panel")
    at.print("bags", "--lot", metric, "--count", 3, "--sheet", "roll-203-2.25x1.25in")
    at.print("bags", "--lot", seed, "--count", 2, "--sheet", "letter-2x7", "--even-so")
    at.print("reprint", vole, "--count", 1, "--kind", "cards", "--today", "--printer", "laser")

    good = ("10.4", "10.7", "10.6", "10.5", "10.8", "10.6", "10.7", "10.5", "10.6", "10.4", "10.6")
    at.told("lot", "weigh", heron, *good, "0.376 oz", "--key", "scale")
    at.told("lot", "weigh", vole, *["9.9"] * 12, status=1)
    at.told("lot", "weigh", wide, "14.1", "14.2", "14.3")
    at.told("ship", f"{heron}=24", f"{vole}=6", "--to", "ferry", "--on", "2026-11-26",
            "--key", "parcel 1", "--note", "by hand")  # fmt: skip
    at.told("ship", heron, "--to", "Dry Dock Tackle Room", "--count", 6, "--on", "2026-11-27")
    at.told("ship", heron, "--back", "ferry", "--count", 2, "--on", "2026-11-28",
            "--note", "hook broke")  # fmt: skip
    at.told("ship", heron, "--scrap", "--count", 2, "--on", "2026-11-28")
    at.told("ship", metric, "--extra", "--count", 1, "--on", "2026-11-28")


def build() -> None:
    with tempfile.TemporaryDirectory() as room:
        folder = Path(room) / "line"
        shutil.copytree(LINE, folder)
        prints = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(room)
        at = Maker(folder, prints)
        work(at)
        copy = HERE / "ledger-0002.sqlite"
        copy.unlink(missing_ok=True)
        at.told("lot", "backup", copy)


if __name__ == "__main__":
    build()
