"""Good pages, printed by the press from the demo's catalog and from a copy that needs a warning."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from labeler.app.print_request import PrintRequest
from labeler.checker.report import Report
from labeler.codes import lot_code
from labeler.findings import Finding, Grade
from labeler.press.printers import Printer, save_printer
from tests.one_lot import print_one_lot
from tests.unread import unread

DEMO = Path(__file__).parents[2] / "demo_catalog"
SHELF = Path(__file__).parent / "shelf"
DAY = dt.date(2026, 11, 25)
LOT = lot_code.LotForm().write(DAY, 1)
SKUS = ("RM-14-30-SBR", "RM-14-30-TSP", "RM-38-40-SBR")

BENCH = Printer("bench", 300, (2.0, -1.5), (1.002, 0.999), (0.001, 0.0005))
"""A printer that shifts, stretches and skews, and whose pages so are corrected."""

HARMLESS = {"file-edited"}
"""Said of every damaged file, since the press's own sum no longer fits."""


def copied(into: Path, **changes: str) -> Path:
    """Return a copy of the demo's catalog, with texts in ``catalog.toml`` changed."""
    into.mkdir(parents=True)
    for name in ("catalog.toml", "products.csv", "gtins.csv"):
        shutil.copy(DEMO / name, into)
    shutil.copytree(DEMO / "photos", into / "photos")
    text = (into / "catalog.toml").read_text("utf-8")
    for old, new in changes.items():
        assert old in text, f"{old!r} is no longer in the demo's catalog"
        text = text.replace(old, new)
    (into / "catalog.toml").write_text(text, "utf-8")
    return into


def warned(into: Path, **changes: str) -> Path:
    """Return a copy that sells twelve to an opaque bag and employs fourteen people."""
    opaque = {
        "employees = 2\n": "employees = 14\n",
        'name = "Clear bag 3 x 5"\n': 'name = "Paper bag 3 x 5"\nclear = false\n',
        'length = "2 1/8 in"\nmade_in = "US"\nstory = """\nReedmace': 'length = "2 1/8 in"\n'
        'made_in = "US"\npack = 12\nstory = """\nReedmace',
    }
    folder = copied(into, **opaque, **changes)
    (folder / "layouts").mkdir()
    for file in SHELF.iterdir():
        shutil.copy(file, folder / "layouts")
    return folder


# --------------------------------------------------------------------------------- the fixtures


@dataclass(frozen=True)
class Base:
    """A good file, and the catalog that it was printed from."""

    pdf: Path
    folder: Path


def printed(folder: Path, out: Path, **wish: Any) -> Base:
    """Print a file from a catalog, not read back: whoever asks for it reads it."""
    given: dict[str, Any] = {"skus": SKUS, "day": DAY, "use": "bags"} | wish
    lot = given.pop("lot", LOT)
    with unread():
        print_one_lot(PrintRequest(folder=folder, out=out, **given), lot)
    return Base(out, folder)


WISHES: dict[str, dict[str, Any]] = {
    "strip": {"use": "bags", "sheet": "letter-3x10"},
    "header": {"use": "cards", "layout": "header-card"},
    "insert": {"use": "cards", "layout": "insert-card"},
    "black": {"use": "bags", "sheet": "letter-2x7", "ink": "black"},
    "dots": {"use": "bags", "sheet": "letter-3x10", "printer": "bench"},
    "witness": {"use": "cards", "layout": "witness", "size": (216.0, 396.0), "skus": SKUS[:2]},
}


@pytest.fixture(scope="session")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The demo's catalog, and the copy that needs a warning and a quantity."""
    root = tmp_path_factory.mktemp("catalogs")
    folders = {"demo": copied(root / "demo"), "warned": warned(root / "warned")}
    save_printer(BENCH, folders["demo"])
    return folders


class Bases(dict[str, Base]):
    """Good files by name, each printed when it is first asked for."""

    def __init__(self, shelf: dict[str, Path], root: Path) -> None:
        self.shelf, self.root = shelf, root

    def __missing__(self, name: str) -> Base:
        folder = self.shelf["warned" if name == "witness" else "demo"]
        self[name] = printed(folder, self.root / f"{name}.pdf", **WISHES[name])
        return self[name]


@pytest.fixture(scope="session")
def bases(shelf: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Base]:
    """Good files to be damaged, by name."""
    return Bases(shelf, tmp_path_factory.mktemp("good"))


@dataclass(frozen=True)
class Workshop:
    """What tests need to print from catalogs of their own."""

    copied: Callable[..., Path]
    warned: Callable[..., Path]
    printed: Callable[..., Base]
    wishes: dict[str, dict[str, Any]]
    day: dt.date
    lot: str


@pytest.fixture(scope="session")
def workshop() -> Workshop:
    """Copy the demo's catalog, with changes, and print from it."""
    return Workshop(copied, warned, printed, WISHES, DAY, LOT)


@pytest.fixture
def grave() -> Callable[[Report], list[Finding]]:
    """Tell which findings stop the press or are to be fixed."""
    return lambda report: [
        each for each in report.findings
        if each.grade is not Grade.NOTE and each.rule not in HARMLESS
    ]  # fmt: skip


@pytest.fixture(name="unread")
def _unread() -> Iterator[None]:
    """Give files their names without reading them back: the test itself reads them, as strange."""
    with unread():
        yield
