"""A small catalog of our own invention, and a bench to spoil it on."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from labeler.catalog.model import Catalog
from labeler.catalog.read import examine, read_catalog
from labeler.findings import Finding

SMALL = """
[maker]
name = "Tarn & Tiller"
street = "3 Mill Race"
city = "Low Ferry"
state = "WI"
postcode = "54000"
gs1_prefix = "9521234"

[sale]
markets = ["US", "US-CA"]

[materials.lead]
name = "Hard lead"
kind = "alloy"
composition = { lead = "97 %", antimony = "3 %" }

[materials.silicone]
name = "Silicone"
kind = "silicone"

[materials.steel]
name = "Hook steel"
kind = "steel"

[heads.vesper]
name = "Vesper head"
style = "swim"
alloy = "lead"

[hooks.stout]
name = "Stout hook"
material = "steel"

[colours.melon]
code = "MLN"
name = "Melon"
layers = [{ material = "silicone", shade = "melon", ink = "#5b5a2b", strands = 22 }]

[colours.dusk]
code = "DSK"
name = "Dusk"
layers = [{ material = "silicone", shade = "dusk", ink = "#3b3a5b", strands = 22 }]

[patterns.river-vesper]
code = "RV"
name = "River Vesper"
kind = "swim jig"
head = "vesper"
hook = "stout"
weights = ["3/8 oz", "1/2 oz"]
hook_sizes = ["4/0"]
colours = ["melon", "dusk"]
price = "4.75"
"""


class Bench:
    """A catalog folder to write into and to read from."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.text = SMALL
        self.write("catalog.toml", SMALL)

    def write(self, name: str, content: str | bytes) -> None:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())

    def change(self, old: str, new: str) -> None:
        """Change the catalog file; what is changed must be there."""
        assert old in self.text
        self.text = self.text.replace(old, new)
        self.write("catalog.toml", self.text)

    def append(self, more: str) -> None:
        self.text += more
        self.write("catalog.toml", self.text)

    def line_of(self, words: str) -> int:
        """The line, from one, on which ``words`` stand first."""
        return self.text[: self.text.index(words)].count("\n") + 1

    def workbook(self, *rows: list[Any], name: str = "products.xlsx") -> None:
        book = openpyxl.Workbook()
        sheet: Any = book.active
        for row in rows:
            sheet.append(row)
        self.save(book, name)

    def save(self, book: openpyxl.Workbook, name: str = "products.xlsx") -> None:
        file = BytesIO()
        book.save(file)
        self.write(name, file.getvalue())

    def read(self) -> Catalog:
        return read_catalog(self.folder)

    def findings(self) -> tuple[Finding, ...]:
        return examine(self.folder)[1]

    def finding(self, rule: str) -> Finding:
        """The only finding of this rule."""
        found = [one for one in self.findings() if one.rule == rule]
        assert len(found) == 1, [str(one) for one in self.findings()]
        return found[0]


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


@pytest.fixture
def new_bench(tmp_path_factory: pytest.TempPathFactory) -> Callable[[], Bench]:
    """Return a maker of benches, each in a folder of its own."""
    return lambda: Bench(tmp_path_factory.mktemp("catalog"))
