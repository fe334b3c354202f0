"""A damaged ledger: every table lost in turn, every column damaged, and asked by who looks at it.

A command works, or says that the ledger is damaged, where its backup is and how to put it back.
"""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, event

from labeler.cli.group import run
from labeler.ledger.open import open_ledger
from labeler.ledger.orders import list_orders
from labeler.ledger.schema import metadata

STARTER = Path(__file__).resolve().parents[2] / "layouts" / "starter"
SKU = "FST-38-40-MAR"
LOT = "{lot}"
COMMANDS = [
    ("lot", "list"), ("lot", "list", LOT), ("lot", "journal"), ("trace", "HK-1"), ("trace", LOT),
    ("trace", "Blue Dory"), ("lot", "weigh", LOT), ("ship", f"{LOT}=1", "--to", "Blue Dory"),
    ("lot", "assign", SKU, "--count", "7"), ("lot", "add", LOT, "glue=7"),
    ("lot", "weigh", LOT, *["10.6"] * 12), ("lot", "void", LOT, "--why", "y"),
    ("lot", "lost", "263290013"), ("lot", "backup", "{out}"), ("pages", "--out", "{out}"),
    ("bags", "--lot", LOT, "--count", "1", "--start", "next", "--out", "{out}"),
    ("orders", "--all"), ("order", f"{SKU}=1", "--customer", "Cy"),
    ("reprint", LOT, "--count", "1", "--out", "{out}"), ("lot", "card", LOT, "--out", "{out}"),
]  # fmt: skip
ORDERS = ("orders", "order_readings", "cancels", "invoices")
WHOLE = ("lot", "backup", "{out}")
"""What copies the file page by page, and has SQLite look at all of it."""

VALUES: tuple[Any, ...] = (b"\xff\xfe", "{", "[]", "", -1)
COLUMNS = [
    column for table in metadata.tables.values() for column in table.columns if column.name != "id"
]
DAMAGE = [
    *(pytest.param(f'DROP TABLE "{table}"', None, id=f"{table}-lost") for table in metadata.tables),
    *(
        pytest.param(f'UPDATE "{column.table.name}" SET "{column.name}" = ?', value,
                     id=f"{column.table.name}-{column.name}-{value!r}")
        for at, column in enumerate(COLUMNS)
        for value in (VALUES[at % 5], VALUES[(at + 2) % 5])
        if column.table.name not in ORDERS or value == VALUES[at % 5]
    ),
]  # fmt: skip


@pytest.fixture(scope="module")
def home(memory: str | None) -> Iterator[Path]:
    """A folder for all of it, in memory."""
    with tempfile.TemporaryDirectory(prefix="damage-", dir=memory) as home:
        yield Path(home)


@pytest.fixture(scope="module")
def sound(home: Path) -> tuple[Path, str]:
    """A folder with a ledger in which every table has a row, and its lot."""
    folder = Path(shutil.copytree(STARTER, home / "sound"))
    out, said = folder / "run.pdf", folder / "said"

    def labeler(*words: str) -> int:
        return run(["--catalog", str(folder), *words])

    with said.open("w") as file, pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.stdout", file)
        assert (
            labeler("lot", "assign", SKU, "--count", "60", "--material", "hook=HK-1", "--json") == 0
        )
    lot = json.loads(said.read_text())["lots"][0]["lot"]
    assert labeler("lot", "weigh", lot, *["10.7"] * 12) == 0
    assert labeler("lot", "hold", lot, "--why", "rust") == 0
    assert labeler("lot", "release", lot, "--why", "no rust") == 0
    assert labeler("lot", "add", lot, "--instead", "hook=HK-1", "hook=HK-2") == 0
    assert labeler("bags", "--lot", lot, "--count", "2", "--start", "next", "--out", str(out)) == 0
    assert labeler("ship", f"{lot}=6", "--to", "Blue Dory") == 0
    assert labeler("lot", "assign", SKU, "--count", "5") == 0
    for name in ("Ada", "Bea"):
        assert labeler("order", f"{SKU}=3", "--customer", name) == 0
    with open_ledger(folder) as ledger:
        ada, bea = (order.number for order in list_orders(ledger))
    assert labeler("ship", "--order", ada) == 0
    assert labeler("order", "--cancel", bea, "--why", "moved away") == 0
    assert labeler("lot", "backup", str(folder / "monday.sqlite")) == 0
    for file_ in (out, said):
        file_.unlink()
    return folder, lot


def asked(command: tuple[str, ...], folder: Path, lot: str) -> int:
    """Give a command on a copy of a folder, and return its status."""
    copy = folder.with_name("copy")
    shutil.copytree(folder, copy)
    words = [word.format(lot=lot, out=copy / "out") for word in command]
    try:
        return run(["--catalog", str(copy), *words])
    finally:
        shutil.rmtree(copy)


@pytest.fixture(scope="module")
def asking(sound: tuple[Path, str]) -> dict[str, list[tuple[str, ...]]]:
    """Which commands look at each table, or at one that refers to it: no other can go wrong.

    All of them are given on the sound ledger, and what they ask it is heard.
    """
    heard: list[str] = []

    def hear(*about: Any) -> None:
        heard.append(about[2])

    found: dict[str, list[tuple[str, ...]]] = {table: [] for table in metadata.tables}
    event.listen(Engine, "before_cursor_execute", hear)
    try:
        for command in COMMANDS:
            heard.clear()
            asked(command, *sound)
            named = set(re.findall(r"\w+", " ".join(heard)))
            named |= {key.column.table.name for table in named & metadata.tables.keys()
                      for key in metadata.tables[table].foreign_keys}  # fmt: skip
            for table in found if command == WHOLE else found.keys() & named:
                found[table].append(command)
    finally:
        event.remove(Engine, "before_cursor_execute", hear)
    return found


@pytest.fixture(scope="module")
def unguarded(sound: tuple[Path, str], home: Path) -> Path:
    """The folder without what keeps hands off its ledger."""
    folder = home / "unguarded"
    shutil.copytree(sound[0], folder, ignore=shutil.ignore_patterns("*-wal", "*-shm"))
    with closing(sqlite3.connect(folder / "ledger.sqlite")) as ledger:
        guards = ledger.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        ledger.executescript(f"BEGIN; {' '.join(f'DROP TRIGGER {g};' for (g,) in guards)} COMMIT;")
    return folder


def damaged(unguarded: Path, folder: Path, statement: str, value: Any) -> bool:
    """Copy the folder and damage its ledger; tell whether SQLite let that be done."""
    shutil.copytree(unguarded, folder)
    with closing(sqlite3.connect(folder / "ledger.sqlite")) as ledger:
        ledger.execute("PRAGMA foreign_keys = OFF")
        ledger.execute("PRAGMA ignore_check_constraints = ON")
        try:
            if isinstance(value, bytes):  # as a disk would spoil a text
                statement = statement.replace("?", "CAST(? AS TEXT)")
            ledger.execute(statement, () if value is None else (value,))
            ledger.commit()
        except sqlite3.IntegrityError:
            return False
    return True


@pytest.mark.siege
@pytest.mark.parametrize(("statement", "value"), DAMAGE)
def test_a_damaged_ledger_works_or_says_so(
    sound: tuple[Path, str], asking: dict[str, list[tuple[str, ...]]], unguarded: Path, home: Path,
    capsys: pytest.CaptureFixture[str], statement: str, value: Any,
) -> None:  # fmt: skip
    broken = home / "broken"
    shutil.rmtree(broken, ignore_errors=True)
    if not damaged(unguarded, broken, statement, value):
        return
    commands = asking[statement.split('"')[1]]
    turn = sum(map(ord, f"{statement}{value}")) % 5  # the columns take turns at the commands
    turns = commands[turn % len(commands) :: 5]
    for command in turns if "UPDATE" in statement else commands:
        capsys.readouterr()
        status = asked(command, broken, sound[1])
        said = capsys.readouterr()
        assert status in (0, 1, 2), command
        if status == 2:
            assert "stop  " in said.err, command
            if "damaged" in said.err:
                assert "backup" in said.err, command


DAILY = [
    ("DROP TABLE moves", None, ("lot", "list"), "moves"),
    ("UPDATE lots SET made = ?", "{", ("lot", "list"), "lots, row 1, made"),
    ("UPDATE days SET last_number = ?", "x", ("lot", "assign", SKU, "--count", "7"), "last_number"),
    ("UPDATE journal SET detail = ?", "[]", ("lot", "journal"), "journal, row 1, detail"),
    ("UPDATE lots SET sku = ?", b"\xff\xfe", ("lot", "list"), "lots: "),
]


@pytest.mark.parametrize(("statement", "value", "words", "says"), DAILY)
def test_damage_is_told_with_the_backup_and_the_way_back(
    unguarded: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    statement: str, value: Any, words: tuple[str, ...], says: str,
) -> None:  # fmt: skip
    folder = tmp_path / "line"
    assert damaged(unguarded, folder, statement, value)
    assert run(["--catalog", str(folder), *words]) == 2
    told = capsys.readouterr().err
    assert told.count("[ledger-damaged]") == 1
    for part in (says, "the ledger is damaged", "monday.sqlite", "labeler lot backup --help"):
        lost = part == "monday.sqlite" and "journal" in statement  # which knew of the backup
        assert lost or part in told
