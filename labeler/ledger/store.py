"""An open ledger: every look and every change is one transaction, tried again while it may pass."""

from __future__ import annotations

import errno
import re
import sqlite3
import time
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, ClassVar, Self, TypeVar

from sqlalchemy import (
    URL,
    Connection,
    Dialect,
    Engine,
    QueuePool,
    Table,
    create_engine,
    event,
    func,
    make_url,
    select,
)
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError

from labeler.findings import Finding, LabelerError, Place, masked, refusal, shown
from labeler.ledger.file import BACKUP_HINT
from labeler.ledger.schema import journal, lots

_PASSING_SQLSTATES = ("08", "57P0", "40001", "40P01", "55P03", "53300")
_REFUSED_AT_THE_DOOR = {
    r"password authentication failed|no password supplied|no pg_hba.conf entry": "28",
    r'role ".*" (does not exist|is not permitted)': "28",
    r'database ".*" does not exist': "3D",
}
"""A connection that was never made has no SQLSTATE, only words."""


def explain(error: BaseException, where: str) -> LabelerError | None:
    """Return what ``error`` means for the maker, or None if it is a fault of ours.

    Args:
        error: what SQLAlchemy, its driver or the file system raised.
        where: the ledger's file, or its address without the password.
    """
    original = error.orig if isinstance(error, DBAPIError) else error
    lines = [line.strip() for line in str(original).splitlines() if line.strip()]
    found = lines[0] if lines else ""
    if isinstance(error, OSError):
        code = "SQLITE_PERM" if isinstance(error, PermissionError) else "SQLITE_IOERR"
        code = "SQLITE_FULL" if error.errno in _NO_ROOM else code
        return _fault(code, where, error.strerror or str(error))
    if isinstance(error, DBAPIError) and not isinstance(original, sqlite3.Error):
        state = _sqlstate(error)
        return _fault(state, where, found) or _fault(state[:2], where, found)
    return _fault(_sqlite_code(error), where, found)


def no_letters(error: UnicodeEncodeError) -> LabelerError:
    """Return what to say of bytes that are no letters: no database takes them."""
    return refusal(
        "text-no-letters",
        Place(),
        "this text holds bytes that are no letters, so it can't be kept or looked for",
        found=shown(error.object[max(0, error.start - 20) : error.end + 20]),
        hint="Type it again, or give the file another name.",
    )


_NO_ROOM = (errno.EFBIG, errno.ENOSPC, errno.EDQUOT)


@cache
def _faults() -> dict[str | int, dict[str, Any]]:
    """Return the faults of ``faults.toml`` by SQLSTATE and by SQLite's codes and their names."""
    text = Path(__file__).with_name("faults.toml").read_text(encoding="utf-8")
    by_code: dict[str | int, dict[str, Any]] = {}
    for fault in tomllib.loads(text)["fault"]:
        names = fault.get("sqlite", ())
        numbers = [getattr(sqlite3, name) for name in names]
        by_code |= dict.fromkeys((*fault.get("sqlstates", ()), *names, *numbers), fault)
    return by_code


def _fault(code: str | int, where: str, found: str) -> LabelerError | None:
    if (fault := _faults().get(code)) is None:
        return None
    hint = fault.get("hint", BACKUP_HINT)
    return refusal(
        fault["rule"], Place(file=where), fault["message"], found=masked(found), hint=hint
    )


def is_passing(error: DBAPIError) -> bool:
    """Tell whether the same transaction may well succeed a moment later."""
    if isinstance(error, IntegrityError):  # another writer took the same key since we looked
        code = getattr(error.orig, "sqlite_errorcode", None)
        unique = (sqlite3.SQLITE_CONSTRAINT_UNIQUE, sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY)
        return code in unique or getattr(error.orig, "sqlstate", None) == "23505"
    if isinstance(error.orig, sqlite3.Error):
        return _sqlite_code(error) in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
    return _sqlstate(error).startswith(_PASSING_SQLSTATES)


def _sqlite_code(error: BaseException) -> int:
    """Return SQLite's primary result code; zero if it was not SQLite that spoke."""
    original = error.orig if isinstance(error, DBAPIError) else error
    return int(getattr(original, "sqlite_errorcode", 0)) & 0xFF


def _sqlstate(error: DBAPIError) -> str:
    """Return the SQLSTATE; a connection lost or never made counts as class 08."""
    state = getattr(error.orig, "sqlstate", None)
    if state:
        return str(state)
    message = str(error.orig)
    if "FATAL" in message:
        for words, refused in _REFUSED_AT_THE_DOOR.items():
            if re.search(words, message):
                return refused
    never_made = type(error.orig).__name__ in ("OperationalError", "ConnectionTimeout")
    return "08" if error.connection_invalidated or never_made else ""


Answer = TypeVar("Answer")

_FIRST_PAUSE, _LONGEST_PAUSE = 0.02, 0.5
_TURNS_FOR_A_TAKEN_KEY = 5

PATIENCE = 20.0
"""Seconds a command waits for another bench, or for a server that is being restarted."""


def utc_now() -> datetime:
    """Return this instant in UTC."""
    return datetime.now(UTC)


class Ledger:
    """An open ledger.

    Attributes:
        engine: SQLAlchemy's engine.
        where: the file, or the address without its password, for findings.
        who: who is at the bench, for the journal.
        file: the SQLite file, or None on a server.
        only_read: whether it may not be written; then a copy of it is asked.
        entered: whether a change was written into the journal.
        recorded: how many changes the ledgers of this process took.
        latest: the ledger that was opened last, to be examined when a command fails.
        settled: what became of runs whose command was killed, to be told by the one after it.
    """

    recorded: ClassVar[int] = 0
    latest: ClassVar[Ledger | None] = None
    settled: ClassVar[list[Finding]] = []

    def __init__(
        self,
        engine: Engine,
        *,
        who: str = "",
        clock: Callable[[], datetime] = utc_now,
        patience: float = PATIENCE,
    ) -> None:
        self.engine = engine
        self.file = Path(engine.url.database or "") if engine.dialect.name == "sqlite" else None
        self.where = str(self.file or masked(engine.url.render_as_string(hide_password=True)))
        self.who = who
        self.only_read = False
        self._clock = clock
        self._patience = patience
        self._copy: TemporaryDirectory[str] | None = None
        self._refused: LabelerError | None = None
        self.entered = False
        Ledger.latest = self

    def read(self, work: Callable[[Connection], Answer]) -> Answer:
        """Return what ``work`` finds, all of it as of one instant.

        Raises:
            LabelerError: if the ledger cannot be read; the finding says what to do.
        """
        return self._attempt(work, writing=False)

    def write(self, work: Callable[[Connection], Answer]) -> Answer:
        """Carry out ``work`` whole or not at all, and return what it returns.

        ``work`` may be called several times; only the last call's changes are kept. Where a
        connection broke as the change was being acknowledged nobody knows whether it was kept,
        so ``work`` must look first whether it has been done: see `requests.once`.

        Raises:
            LabelerError: if the ledger cannot be written; the finding says what to do.
        """
        if self.only_read:
            refused = self._refused or _fault("SQLITE_READONLY", self.where, "")
            raise refused or AssertionError("a fault is missing")
        answer = self._attempt(work, writing=True)
        Ledger.recorded += self.entered
        return answer

    def joined(self, connection: Connection, at: datetime) -> Ledger:
        """Return this ledger as one change sees it: what it reads and writes is part of that.

        Args:
            connection: of the change.
            at: the instant that all of it is stamped with.
        """
        return _OneChange(self, connection, at)

    def stamp(self) -> dict[str, Any]:
        """Return the columns that say when and by whom."""
        return {"at": self._clock(), "who": self.who}

    def _attempt(self, work: Callable[[Connection], Answer], *, writing: bool) -> Answer:
        taken, until, pause = 0, time.monotonic() + self._patience, _FIRST_PAUSE
        while True:
            try:
                with self._connect(writing=writing) as connection, connection.begin():
                    return work(connection)
            except UnicodeEncodeError as error:
                raise no_letters(error) from error
            except DBAPIError as error:
                taken += isinstance(error, IntegrityError)
                out_of_turns = taken > _TURNS_FOR_A_TAKEN_KEY or time.monotonic() > until
                if out_of_turns or not is_passing(error):
                    raise (explain(error, self.where) or error) from error
            time.sleep(pause)
            pause = min(_LONGEST_PAUSE, pause * 1.5)

    def _connect(self, *, writing: bool) -> Connection:
        connection = self.engine.connect().execution_options(writing=writing)
        if self.file is None and not writing:  # SQLite reads as of one instant anyway
            connection.execution_options(isolation_level="REPEATABLE READ")
        return connection

    def read_from(
        self, copy: TemporaryDirectory[str], where: str, refused: LabelerError | None = None
    ) -> None:
        """From now on let nothing be written: this is a copy, to be deleted in the end.

        ``refused`` says why, if not because it may only be read.
        """
        self.only_read, self.where, self._copy, self._refused = True, where, copy, refused

    def close(self) -> None:
        """Close every connection; the ledger may not be used after."""
        self.engine.dispose()
        if self._copy is not None:
            self._copy.cleanup()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


class _OneChange(Ledger):
    """A ledger within one change of it: kept with it or not at all."""

    def __init__(self, whole: Ledger, connection: Connection, at: datetime) -> None:
        vars(self).update(vars(whole))
        self._whole, self._connection = whole, connection
        self._clock = lambda: at

    def read(self, work: Callable[[Connection], Answer]) -> Answer:
        return work(self._connection)

    def write(self, work: Callable[[Connection], Answer]) -> Answer:
        answer = work(self._connection)
        self._whole.entered |= self.entered
        return answer


@cache
def _sqlite() -> tuple[Dialect, dict[Any, Any]]:
    """Return SQLite's dialect, and the statements that were compiled in it.

    Every ledger that this process opens is asked the same; compiled again for each file, that took
    longer than the answers.
    """
    engine = create_engine("sqlite://")
    with engine.connect():  # which is when a dialect learns what SQLite can do
        pass
    engine.dispose()
    return engine.dialect, {}


def sqlite_engine(file: Path, patience: float = PATIENCE) -> Engine:
    """Return an engine on a SQLite file; nothing is opened yet.

    A writer takes its lock when it begins, not when it first writes: two that began by reading
    could never both go on. Every commit waits for the disk.
    Source: sqlite.org/lang_transaction.html; sqlite.org/pragma.html#pragma_synchronous.
    """
    dialect, compiled = _sqlite()
    url = URL.create("sqlite", database=str(file))
    words, more = dialect.create_connect_args(url)
    pool = QueuePool(lambda: dialect.connect(*words, **more, timeout=patience), dialect=dialect)
    engine = Engine(pool, dialect, url, execution_options={"compiled_cache": compiled})

    @event.listens_for(engine, "connect")
    def _prepare(connection: sqlite3.Connection, _: object) -> None:
        connection.isolation_level = None
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        _keep_a_write_ahead_log(connection, patience)

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writing = connection.get_execution_options().get("writing", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")

    return engine


def _keep_a_write_ahead_log(connection: sqlite3.Connection, patience: float) -> None:
    """Let readers go on while one writes.

    The switch fails at once, without waiting, while another connection makes it too.
    """
    until = time.monotonic() + patience
    while connection.execute("PRAGMA journal_mode").fetchone()[0] not in ("wal", "memory"):
        try:
            if connection.execute("PRAGMA journal_mode = WAL").fetchone()[0] != "wal":
                return  # a file system without shared memory; slower, and as safe
        except sqlite3.OperationalError as error:
            busy = error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY
            if not busy or time.monotonic() > until:
                raise
            time.sleep(_FIRST_PAUSE)


def postgres_engine(address: str, patience: float = PATIENCE) -> Engine:
    """Return an engine on a PostgreSQL database; nothing is opened yet.

    Raises:
        LabelerError: if it is no address of a database, or the driver is not installed.
    """
    try:
        url = make_url(address)
    except (ArgumentError, ValueError):
        url = URL.create("unreadable")
    named = url.drivername.partition("+")[0] in ("postgresql", "postgres")
    if not named or "@" in (url.host or ""):  # an unescaped password would be taken for the host
        raise refusal(
            "ledger-address",
            Place(key="ledger"),
            "this is no address of a ledger",
            found=masked(address),
            expected="a folder, or an address that begins with postgresql://",
        )
    try:
        return create_engine(
            url.set(drivername="postgresql+psycopg"),
            connect_args={"connect_timeout": max(2, round(patience / 4))},
        )
    except ImportError as error:
        raise refusal(
            "ledger-driver",
            Place(file=masked(url.render_as_string(hide_password=True))),
            "what speaks to a PostgreSQL server is not installed",
            found=str(error),
            hint='Install it: pip install "labeler[postgres]"',
        ) from error


@dataclass(frozen=True, slots=True)
class JournalEntry:
    """One change. ``at`` is in UTC; ``lot`` is a lot code, or empty."""

    id: int
    at: datetime
    who: str
    what: str
    lot: str
    detail: dict[str, Any]


def put(connection: Connection, ledger: Ledger, table: Table, **row: Any) -> int:
    """Write a row with its stamp, in the caller's transaction; return its primary key.

    Args:
        connection: in a transaction.
        ledger: whose clock and name the stamp has.
        table: one with the columns of `Ledger.stamp`.
        row: its other columns.
    """
    made = connection.execute(table.insert(), row | ledger.stamp())
    return int((made.inserted_primary_key or (0,))[0])


def enter(
    connection: Connection, ledger: Ledger, what: str, lot_id: int | None, **detail: Any
) -> None:
    """Write a change into the journal, in the transaction that makes it."""
    put(connection, ledger, journal, what=what, lot_id=lot_id, detail=detail)
    ledger.entered = True


def entries(
    ledger: Ledger, *, lot: str = "", since: datetime | None = None, last: int | None = None
) -> list[JournalEntry]:
    """Return the journal, oldest entry first.

    Args:
        ledger: an open ledger.
        lot: a lot code as it is stored, to see that lot's history only.
        since: leave out what was before this instant.
        last: leave out all but so many of the newest.
    """
    query = (
        select(
            journal.c.id,
            journal.c.at,
            journal.c.who,
            journal.c.what,
            lots.c.code.label("lot"),
            journal.c.detail,
        )
        .join_from(journal, lots, isouter=True)
        .order_by(journal.c.id.desc())
        .limit(last)
    )
    query = query.where(lots.c.code == lot) if lot else query
    query = query.where(journal.c.at >= since) if since else query
    found = ledger.read(
        lambda connection: [
            JournalEntry(row.id, row.at, row.who, row.what, row.lot or "", row.detail)
            for row in connection.execute(query)
        ]
    )
    return found[::-1]


def last_change(ledger: Ledger) -> datetime | None:
    """Return when the ledger was last changed, in UTC; None if it never was."""
    moment: datetime | None = ledger.read(
        lambda connection: connection.scalar(select(func.max(journal.c.at)))
    )
    return moment
