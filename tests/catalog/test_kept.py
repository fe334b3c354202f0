"""A catalog is read once and kept, until a file changes of which it was read."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from labeler import files
from labeler.app.workstation import ledger_location
from labeler.catalog.read import examine
from labeler.files import Readings, kept, looked_at, read_file

ROOT = Path(__file__).resolve().parents[2]
LONG_AGO = 1_600_000_000


@pytest.fixture
def line(tmp_path: Path) -> Path:
    """The demo's catalog, as it has been for long: what was just written is read again anyhow."""
    leave = shutil.ignore_patterns("prints", "ledger.sqlite*")
    return Path(shutil.copytree(ROOT / "demo_catalog", tmp_path / "line", ignore=leave))


@pytest.fixture
def within(monkeypatch: pytest.MonkeyPatch) -> Iterator[Readings]:
    """Readings that are kept, on a disk whose clock is as fine as it says."""
    monkeypatch.setattr(files, "_COARSE", 0)
    readings = Readings()
    with readings.using():
        yield readings


def rewrite(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


CHANGES: dict[str, Callable[[Path], object]] = {
    "catalog.toml": lambda line: rewrite(line / "catalog.toml", "Hobbin", "Hobbyn"),
    "products.csv": lambda line: (line / "products.csv").write_text("sku,price\n"),
    "products.csv gone": lambda line: (line / "products.csv").unlink(),
    "products.xls comes": lambda line: (line / "products.xls").touch(),
    "gtins.csv gone": lambda line: (line / "gtins.csv").unlink(),
    "a photo gone": lambda line: next((line / "photos").iterdir()).unlink(),
    "a photo comes": lambda line: (line / "photos" / "new.jpg").touch(),
    "catalog.toml gone": lambda line: (line / "catalog.toml").unlink(),
    "back in time": lambda line: os.utime(line / "catalog.toml", (LONG_AGO, LONG_AGO)),
}


@pytest.mark.usefixtures("within")
@pytest.mark.parametrize("change", CHANGES)
def test_every_file_that_was_read_is_watched(line: Path, change: str) -> None:
    first = examine(line)
    assert examine(line) is first
    CHANGES[change](line)
    again = examine(line)
    assert again is not first
    assert examine(line) is again or change == "catalog.toml gone"


@pytest.mark.usefixtures("within")
def test_what_is_written_beside_the_catalog_changes_nothing(line: Path) -> None:
    first, location = examine(line), ledger_location(line)
    with location.opened(begin=True):
        assert examine(line) is first
    (line / "out").mkdir()
    (line / "labels.pdf").touch()
    assert examine(line) is first
    assert ledger_location(line) is location


@pytest.mark.usefixtures("within")
def test_another_day_has_prices_of_its_own(line: Path) -> None:
    assert examine(line, dt.date(2027, 1, 1)) is not examine(line, dt.date(2027, 1, 2))


def test_a_command_reads_each_time(line: Path) -> None:
    assert examine(line) is not examine(line)


def test_a_file_that_was_just_written_is_read_again(tmp_path: Path) -> None:
    """Written twice within one tick of the disk's clock, it bears the same time."""
    file = tmp_path / "x"
    file.write_bytes(b"1")
    with Readings().using():
        assert kept("x", lambda: read_file(file, 9)) == b"1"
        state = file.stat()
        file.write_bytes(b"2")
        os.utime(file, ns=(state.st_atime_ns, state.st_mtime_ns))
        assert kept("x", lambda: read_file(file, 9)) == b"2"


@pytest.mark.usefixtures("within")
def test_what_is_made_of_what_is_kept_changes_with_its_files(tmp_path: Path) -> None:
    file = tmp_path / "x"
    file.write_bytes(b"1")

    def outer() -> bytes:
        return kept("inner", lambda: read_file(file, 9)) + b"!"

    assert [kept("inner", lambda: read_file(file, 9)), kept("outer", outer)] == [b"1", b"1!"]
    file.write_bytes(b"22")
    assert kept("outer", outer) == b"22!"


def test_no_more_is_kept_than_asked_for(tmp_path: Path) -> None:
    made = []
    readings = Readings(most=2)

    def make(name: str) -> Callable[[], str]:
        def of() -> str:
            looked_at(tmp_path, name)
            made.append(name)
            return name

        return of

    for name in ("a", "b", "a", "c", "a", "b"):
        assert readings.made(name, make(name)) == name
    assert made == ["a", "b", "c", "b"]


def test_what_takes_long_to_read_holds_up_only_who_asks_for_it(tmp_path: Path) -> None:
    readings, begun, go_on = Readings(), threading.Event(), threading.Event()
    made: list[str] = []

    def make(name: str) -> str:
        looked_at(tmp_path, name)
        begun.set()
        assert name == "short" or go_on.wait(60)
        made.append(name)
        return name

    def ask(name: str) -> threading.Thread:
        asked = threading.Thread(target=lambda: readings.made(name, lambda: make(name)))
        asked.start()
        return asked

    longs = [ask("long"), ask("long")]
    assert begun.wait(60)
    short = ask("short")
    short.join(60)
    assert made == ["short"]
    go_on.set()
    for each in longs:
        each.join()
    assert made == ["short", "long"]
