"""A maker's folder to work in, and the command line as the maker uses it."""

from __future__ import annotations

import json
import os
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
from labeler.ledger.file import is_begun
from labeler.ledger.open import open_ledger

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
def copy_in(memory: str | None) -> Iterator[Callable[[Path], Path]]:
    """Copies a line, without a ledger, to a folder of its own."""
    with tempfile.TemporaryDirectory(prefix="lots-", dir=memory) as home:
        kept = shutil.ignore_patterns("prints", "ledger.sqlite*")
        yield lambda line: Path(
            shutil.copytree(line, Path(home) / uuid4().hex / "line", ignore=kept)
        )


@pytest.fixture
def line() -> Path:
    """The line that is worked with; where its length only takes time, a test names another."""
    return DEMO


@pytest.fixture
def folder(copy_in: Callable[[Path], Path], line: Path) -> Path:
    """A maker's folder of the test's own: the line, and no ledger yet."""
    return copy_in(line)


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


@pytest.fixture(scope="session")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of a ledger in which nothing is yet: to begin one takes longer than to copy it."""
    home = tmp_path_factory.mktemp("begun")
    open_ledger(home).close()
    return home / "ledger.sqlite"


@pytest.fixture
def lot(labeler: Labeler, folder: Path, begun: Path) -> Callable[..., str]:
    """Opens a lot of twelve and returns its code: ``lot("RM-38-40-SBR", "--count", 60)``."""

    def opened(sku: str = "RM-38-40-SBR", *words: object) -> str:
        count = () if "--count" in words else ("--count", 12)
        if not is_begun(folder) and "LABELER_LEDGER" not in os.environ:
            shutil.copy(begun, folder)
        return str(
            labeler("lot", "assign", sku, *count, *words, "--sure", "--json").json["lots"][0]["lot"]
        )

    return opened
