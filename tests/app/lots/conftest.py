"""A maker's folder to work in, and the command line as the maker uses it."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from labeler.catalog.model import Catalog
from labeler.catalog.read import read_catalog
from labeler.cli.group import run

ROOT = Path(__file__).resolve().parents[3]
DEMO = ROOT / "demo_catalog"


@dataclass(frozen=True)
class Said:
    """What a command said, and its exit status."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


Labeler = Callable[..., Said]


@pytest.fixture(scope="session")
def demo_in(memory: str | None) -> Iterator[Callable[[str], Path]]:
    """Copies the demo's line, without a ledger, to a folder of this name."""
    with tempfile.TemporaryDirectory(prefix="lots-", dir=memory) as home:
        kept = shutil.ignore_patterns("prints", "ledger.sqlite*")
        yield lambda name: Path(shutil.copytree(DEMO, Path(home) / name / "line", ignore=kept))


@pytest.fixture
def folder(demo_in: Callable[[str], Path]) -> Path:
    """A maker's folder of the test's own: the demo's line, and no ledger yet."""
    return demo_in(uuid4().hex)


@pytest.fixture(scope="session")
def catalog() -> Catalog:
    """The demo's line."""
    return read_catalog(DEMO)


@pytest.fixture
def labeler(folder: Path, capfd: pytest.CaptureFixture[str]) -> Labeler:
    """Runs a command on the folder: ``labeler("lot", "list")``."""

    def run_labeler(*words: object, at: Path = folder) -> Said:
        capfd.readouterr()
        status = run(["--catalog", str(at), *map(str, words)])
        said = capfd.readouterr()
        return Said(status, said.out, said.err)

    return run_labeler


@pytest.fixture
def lot(labeler: Labeler) -> Callable[..., str]:
    """Opens a lot of twelve and returns its code: ``lot("RM-38-40-SBR", "--count", 60)``."""

    def opened(sku: str = "RM-38-40-SBR", *words: object) -> str:
        count = () if "--count" in words else ("--count", 12)
        return str(
            labeler("lot", "assign", sku, *count, *words, "--sure", "--json").json["lots"][0]["lot"]
        )

    return opened
