"""Every verb of the ledger on a real PostgreSQL, as two benches share one, and on one that falls.

The same week at the bench is told to a file and to a server; both must answer alike.
"""

from __future__ import annotations

import datetime as dt
import functools
import shlex
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Protocol

import psycopg
import pytest
from sqlalchemy import Engine, event

from labeler.ledger.backup import examine
from labeler.ledger.lots import list_lots
from labeler.ledger.open import open_ledger
from labeler.ledger.store import Ledger

pytestmark = pytest.mark.siege


Labeler = Callable[..., Any]
DAY = "2026-11-25"
SKU = "RM-38-40-SBR"


class Server(Protocol):
    binaries: Path

    def database(self) -> str: ...
    def start(self) -> None: ...
    def stop(self, mode: str = "immediate") -> None: ...


@pytest.fixture
def shared(database: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """The address of an empty database that the bench is told to keep its ledger in."""
    monkeypatch.setenv("LABELER_LEDGER", database)
    return database


def without_times(answer: Any) -> Any:
    """Return an answer without what differs from one minute, or one folder, to the next."""
    if isinstance(answer, dict):
        told = {name: without_times(value) for name, value in answer.items()}
        return {k: v for k, v in told.items() if k not in ("at", "opened_at", "file", "slip")}
    return [without_times(each) for each in answer] if isinstance(answer, list) else answer


def a_week(labeler: Labeler, out: Path) -> dict[str, Any]:
    """Give every command of a lot's life; return what each said, and every file's content."""
    told: dict[str, Any] = {}
    out.mkdir()

    def give(name: str, *words: object, status: int = 0) -> Any:
        said = labeler(*words, "--json")
        assert said.status == status, (words, said)
        told[name] = without_times(said.json)
        return said.json

    asked = ("lot", "assign", SKU, "--count", 60, "--made", DAY, "--material", "hook=HK-2291")
    code = give("opened", *asked, "--key", "monday")["lots"][0]["lot"]
    assert give("opened again", *asked, "--key", "monday")["lots"][0]["lot"] == code
    batches = out / "batches.csv"
    batches.write_text(f"sku,count,made,hook\n{SKU},24,{DAY},HK-2291\nLL-38-40-LNB,12,{DAY},HK-9\n")
    second, third = (
        each["lot"] for each in give("list", "lot", "assign", "--from", batches)["lots"]
    )
    give("card", "lot", "card", code, "--out", out / "card.pdf")
    bags = ("bags", "--lot", code, "--count", 4, "--out", out / "bags.pdf")
    give("bags", *bags)
    give(
        "next", "bags", "--lot", second, "--count", 4, "--start", "next", "--out", out / "next.pdf"
    )
    give("cards", "cards", "--lot", code, "--count", 2, "--out", out / "cards.pdf")
    give("sample", "lot", "weigh", code)
    give("weighed", "lot", "weigh", code, *["10.7"] * 11, "0.37 oz", "--key", "scale")
    give("questioned", "lot", "weigh", code, *["0.37"] * 12, status=2)
    give("shipped", "ship", f"{code}=12", f"{second}=6", "--to", "odd-pail", "--on", DAY,
         "--key", "order 118", "--slip", out / "slip.pdf")  # fmt: skip
    give("back", "ship", code, "--back", "The Odd Pail", "--count", 2, "--on", DAY)
    give("too many", "ship", code, "--to", "odd-pail", "--count", 51, "--on", DAY, status=2)
    give("void", "lot", "void", third, "--why", "poured again")
    give("traced", "trace", "hook=hk 2291", "--csv", out / "t.csv", "--sheet", out / "recall.pdf")
    for asked_for in (code, SKU, "rm-38-*", "The Odd Pail", DAY, "2026", "..2026-12"):
        give(f"traced {asked_for}", "trace", asked_for)
    give("unknown", "trace", "HK-2219", status=2)
    give("mistyped", "lot", "list", code[:-1], status=2)
    give("all", "lot", "list")
    give("one", "lot", "list", code)
    give("reprinted", "reprint", code, "--count", 4, "--out", out / "again.pdf")
    assert (out / "again.pdf").read_bytes() == (out / "bags.pdf").read_bytes()
    return told | {file.name: file.read_bytes() for file in sorted(out.iterdir())}


def test_a_server_answers_every_command_as_a_file_does(
    labeler: Labeler, tmp_path: Path, database: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = dt.datetime(2026, 11, 26, 9, 30, tzinfo=dt.UTC)  # a card tells the minute
    monkeypatch.setattr(Ledger, "stamp", lambda ledger: {"at": now, "who": ledger.who})
    on_file = a_week(labeler, tmp_path / "file")
    monkeypatch.setenv("LABELER_LEDGER", database)
    on_server = a_week(labeler, tmp_path / "server")
    recall = "recall.pdf"  # it says when the ledger was last changed
    assert on_file.pop(recall)[:5] == on_server.pop(recall)[:5] == b"%PDF-"
    assert on_server.keys() == on_file.keys()
    assert {name: on_server[name] for name in on_file if on_server[name] != on_file[name]} == {}


def test_a_backup_of_a_server_is_refused_with_the_command_that_makes_one(
    labeler: Labeler, shared: str, server: Server, tmp_path: Path
) -> None:
    code = labeler("lot", "assign", SKU, "--count", 12, "--json").json["lots"][0]["lot"]
    copy = tmp_path / "ledger.dump"
    said = labeler("lot", "backup", copy)
    assert (said.status, "backup-server" in said.err, copy.exists()) == (2, True, False)
    program, *words = shlex.split(said.err.partition("Run: ")[2].splitlines()[0])
    subprocess.run([server.binaries / program, *words], check=True, timeout=600)
    other = server.database()
    restore: list[Path | str] = [
        server.binaries / "pg_restore",
        "--clean",
        "--if-exists",
        "--dbname",
        other,
        copy,
    ]
    subprocess.run(restore, check=True, timeout=600)
    with open_ledger(other) as ledger:
        assert examine(ledger) == ()
        assert [lot.code for lot in list_lots(ledger)] == [code]


@contextmanager
def falling(server: Server, statement: str) -> Iterator[list[str]]:
    """Have the server fall, and come back, as it is given such a statement for the first time."""
    fallen: list[str] = []

    def fall(_c: object, _cursor: object, said: str, *_: object) -> None:
        if said.startswith(statement) and not fallen:
            fallen.append(said)
            server.stop("immediate")
            server.start()

    event.listen(Engine, "before_cursor_execute", fall)
    try:
        yield fallen
    finally:
        event.remove(Engine, "before_cursor_execute", fall)


def test_a_server_that_falls_in_mid_command_and_comes_back_is_waited_for(
    labeler: Labeler, shared: str, server: Server, tmp_path: Path
) -> None:
    given = ("lot", "assign", SKU, "--count", 60, "--sure")
    code = labeler(*given, "--json").json["lots"][0]["lot"]
    out = tmp_path / "bags.pdf"
    for statement, words in (
        ("INSERT INTO lots", given),
        ("INSERT INTO weighings", ("lot", "weigh", code, *["10.7"] * 12)),
        ("INSERT INTO moves", ("ship", code, "--to", "odd-pail", "--count", 5)),
        ("INSERT INTO runs", ("bags", "--lot", code, "--count", 3, "--out", out)),
    ):
        with falling(server, statement) as fallen:
            said = labeler(*words)
        assert (said.status, len(fallen)) == (0, 1), said.err
    listed = labeler("lot", "list", "--json").json["lots"]
    assert len(listed) == 2
    told = labeler("lot", "list", code, "--json").json
    assert told["dealers"] == [{"dealer": "The Odd Pail", "count": 5}]
    assert (told["on_hand"], told["labels"], len(told["weigh_ins"])) == (55, 3, 1)
    assert out.exists()


def test_a_server_that_falls_as_it_acknowledges_carries_nothing_out_twice(
    labeler: Labeler, shared: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was committed stays so, but the bench never hears of it."""
    commit = psycopg.Connection.commit
    unheard: list[psycopg.Connection[Any]] = []

    def lost(connection: psycopg.Connection[Any]) -> None:
        commit(connection)
        if len(unheard) < 2:
            unheard.append(connection)
            connection.close()
            raise psycopg.OperationalError("server closed the connection unexpectedly")

    code = labeler("lot", "assign", SKU, "--count", 60, "--json").json["lots"][0]["lot"]
    monkeypatch.setattr(psycopg.Connection, "commit", lost)
    for words in (("lot", "assign", SKU, "--count", 60, "--sure"),
                  ("ship", code, "--to", "odd-pail", "--count", 5)):  # fmt: skip
        unheard.clear()
        assert labeler(*words).status == 0
        assert len(unheard) == 2
    assert [each["on_hand"] for each in labeler("lot", "list", "--json").json["lots"]] == [55, 60]


def test_a_server_that_stays_down_is_named_and_the_command_may_be_given_again(
    labeler: Labeler, shared: str, server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hasty = functools.partial(open_ledger, patience=0.3)
    monkeypatch.setattr("labeler.ledger.open.open_ledger", hasty)
    code = labeler("lot", "assign", SKU, "--count", 60, "--json").json["lots"][0]["lot"]
    slip, bags = tmp_path / "slip.pdf", tmp_path / "bags.pdf"
    ship = ("ship", code, "--to", "odd-pail", "--count", 5, "--key", "order 118", "--slip", slip)
    server.stop("immediate")
    try:
        for words in (("lot", "assign", SKU, "--count", 60, "--sure"), ship, ("trace", code),
                      ("bags", "--lot", code, "--out", bags)):  # fmt: skip
            said = labeler(*words)
            assert (said.status, "ledger-unreachable" in said.err) == (2, True), said.err
            assert "See whether the server runs" in said.err
            assert "do the same again" in said.err
    finally:
        server.start()
    assert list(tmp_path.glob("*.pdf")) == []
    assert labeler(*ship).status == labeler(*ship).status == 0
    (only,) = labeler("lot", "list", "--json").json["lots"]
    assert only["on_hand"] == 55
