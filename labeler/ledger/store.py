"""An open ledger: every look and every change is one transaction, tried again while it may pass."""

from __future__ import annotations

import errno
import re
import sqlite3
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from types import TracebackType
from typing import Any, Self, TypeVar

from sqlalchemy import URL, Connection, Engine, create_engine, event, func, make_url, select
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError

from labeler.findings import Finding, LabelerError, Place, refusal, stop
from labeler.ledger.file import BACKUP_HINT
from labeler.ledger.schema import journal, lots

# ----------------------------------------------------------------------------
# What a database says when it cannot go on, in words that tell the maker what to do.

_DAMAGED = ("ledger-damaged", "the ledger is damaged", BACKUP_HINT)
_DISK = (
    "ledger-disk",
    "the disk could not be read or written",
    "See whether the disk is full, unplugged or failing, then run the same command again. "
    "What was acknowledged before is safe.",
)
_UNREACHABLE = (
    "ledger-unreachable",
    "the ledger's database server does not answer",
    "See whether the server runs and the network is up, then run the same command again. "
    "A command repeated with the same key is carried out once.",
)
_READ_ONLY = (
    "ledger-read-only",
    "the ledger may be read but not written",
    "Give yourself the right to write the folder and the file, or copy the catalog folder to a "
    "place that is yours.",
)
_SERVER_READ_ONLY = (
    "ledger-read-only",
    "the ledger's database may be read but not written",
    "Ask whoever keeps the server to give your name the right to write, then run the same command "
    "again.",
)
_FULL = (
    "ledger-disk-full",
    "the disk is full, so nothing was written",
    "Make room on the disk and run the same command again. What was acknowledged before is safe.",
)
_LOCKED = (
    "ledger-locked",
    "another program keeps the ledger locked",
    "Close the other program (a database browser, a synchronizing folder, a command that still "
    "runs) and run the same command again.",
)
_PASSWORD = (
    "ledger-refused",
    "the ledger's database server refuses the name or the password",
    "Correct the name and password in the ledger's address.",
)

_BY_SQLITE_CODE = {
    sqlite3.SQLITE_BUSY: _LOCKED,
    sqlite3.SQLITE_LOCKED: _LOCKED,
    sqlite3.SQLITE_READONLY: _READ_ONLY,
    sqlite3.SQLITE_PERM: _READ_ONLY,
    sqlite3.SQLITE_IOERR: _DISK,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_NOTADB: _DAMAGED,
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_CANTOPEN: (
        "ledger-cannot-open",
        "the ledger cannot be opened",
        "See whether you may read and write the folder, and whether the disk has room.",
    ),
}
"""By primary result code. Source: sqlite.org/rescode.html."""

_BY_SQLSTATE = {
    "08": _UNREACHABLE,
    "57": _UNREACHABLE,
    "28": _PASSWORD,
    "25": _SERVER_READ_ONLY,
    "42501": _SERVER_READ_ONLY,
    "53100": _FULL,
    "53": _UNREACHABLE,
    "55": _LOCKED,
    "58": _DISK,
    "XX": _DAMAGED,
    "3D": (
        "ledger-database-missing",
        "the server has no database of this name",
        "Make it once with: createdb NAME, or correct the ledger's address.",
    ),
}
"""By class or whole SQLSTATE. Source: PostgreSQL documentation, appendix A."""

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
    if isinstance(error, OSError):
        return LabelerError(_say(_of_file(error), where, error.strerror or str(error)))
    if isinstance(error, DBAPIError) and not isinstance(error.orig, sqlite3.Error):
        state = _sqlstate(error)
        meaning = _BY_SQLSTATE.get(state) or _BY_SQLSTATE.get(state[:2])
    else:
        meaning = _BY_SQLITE_CODE.get(_sqlite_code(error))
    said = error.orig if isinstance(error, DBAPIError) else error
    return LabelerError(_say(meaning, where, _first_line(said))) if meaning else None


def read_only(where: str) -> LabelerError:
    """Return the refusal to write a ledger that may only be read."""
    return LabelerError(_say(_READ_ONLY, where, ""))


def is_passing(error: DBAPIError) -> bool:
    """Tell whether the same transaction may well succeed a moment later."""
    if isinstance(error, IntegrityError):
        return _is_taken(error)
    if isinstance(error.orig, sqlite3.Error):
        return _sqlite_code(error) in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
    return _sqlstate(error).startswith(_PASSING_SQLSTATES)


def _is_taken(error: IntegrityError) -> bool:
    """Tell whether another writer took the same key between our look and our write."""
    code = getattr(error.orig, "sqlite_errorcode", None)
    unique = (sqlite3.SQLITE_CONSTRAINT_UNIQUE, sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY)
    return code in unique or getattr(error.orig, "sqlstate", None) == "23505"


def _sqlite_code(error: BaseException) -> int:
    """Return SQLite's primary result code; zero if it was not SQLite that spoke."""
    said = error.orig if isinstance(error, DBAPIError) else error
    return int(getattr(said, "sqlite_errorcode", 0)) & 0xFF


def _sqlstate(error: DBAPIError) -> str:
    """Return the SQLSTATE; a connection lost or never made counts as class 08."""
    state = getattr(error.orig, "sqlstate", None)
    if state:
        return str(state)
    said = str(error.orig)
    if "FATAL" in said:
        for words, refused in _REFUSED_AT_THE_DOOR.items():
            if re.search(words, said):
                return refused
    never_made = type(error.orig).__name__ in ("OperationalError", "ConnectionTimeout")
    return "08" if error.connection_invalidated or never_made else ""


def _of_file(error: OSError) -> tuple[str, str, str]:
    if isinstance(error, PermissionError):
        return _READ_ONLY
    return _FULL if error.errno in _NO_ROOM else _DISK


_NO_ROOM = (errno.EFBIG, errno.ENOSPC, errno.EDQUOT)


def _say(meaning: tuple[str, str, str], where: str, said: str) -> Finding:
    rule, message, hint = meaning
    return stop(rule, Place(file=where), message, found=said, hint=hint)


def _first_line(error: BaseException | None) -> str:
    lines = [line.strip() for line in str(error).splitlines() if line.strip()]
    return lines[0] if lines else ""


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
    """

    def __init__(
        self,
        engine: Engine,
        *,
        who: str = "",
        clock: Callable[[], datetime] = utc_now,
        patience: float = PATIENCE,
    ) -> None:
        self.engine = engine
        self.file = Path(engine.url.database or "") if _is_sqlite(engine) else None
        self.where = str(self.file or engine.url.render_as_string(hide_password=True))
        self.who = who
        self.only_read = False
        self._clock = clock
        self._patience = patience
        self._copy: TemporaryDirectory[str] | None = None

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
            raise read_only(self.where)
        return self._attempt(work, writing=True)

    def stamp(self) -> dict[str, Any]:
        """Return the columns that say when and by whom."""
        return {"at": self._clock(), "who": self.who}

    def _attempt(self, work: Callable[[Connection], Answer], *, writing: bool) -> Answer:
        taken, until = 0, time.monotonic() + self._patience
        for pause in _pauses():
            try:
                with self._connect(writing=writing) as connection, connection.begin():
                    return work(connection)
            except DBAPIError as error:
                taken += isinstance(error, IntegrityError)
                out_of_turns = taken > _TURNS_FOR_A_TAKEN_KEY or time.monotonic() > until
                if out_of_turns or not is_passing(error):
                    raise (explain(error, self.where) or error) from error
            time.sleep(pause)
        raise AssertionError("pauses never end")

    def _connect(self, *, writing: bool) -> Connection:
        connection = self.engine.connect().execution_options(writing=writing)
        if self.file is None and not writing:  # SQLite reads as of one instant anyway
            connection.execution_options(isolation_level="REPEATABLE READ")
        return connection

    def read_from(self, copy: TemporaryDirectory[str], where: str) -> None:
        """From now on let nothing be written: this is a copy, to be deleted in the end."""
        self.only_read, self.where, self._copy = True, where, copy

    def close(self) -> None:
        """Close every connection; the ledger may not be used after."""
        self.engine.dispose()
        if self._copy is not None:
            self._copy.cleanup()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _pauses() -> Iterator[float]:
    pause = _FIRST_PAUSE
    while True:
        yield pause
        pause = min(_LONGEST_PAUSE, pause * 1.5)


def _is_sqlite(engine: Engine) -> bool:
    return engine.dialect.name == "sqlite"


def sqlite_engine(file: Path, patience: float = PATIENCE) -> Engine:
    """Return an engine on a SQLite file; nothing is opened yet.

    A writer takes its lock when it begins, not when it first writes: two that began by reading
    could never both go on. Every commit waits for the disk.
    Source: sqlite.org/lang_transaction.html; sqlite.org/pragma.html#pragma_synchronous.
    """
    engine = create_engine(
        URL.create("sqlite", database=str(file)), connect_args={"timeout": patience}
    )

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
    if url.drivername.partition("+")[0] not in ("postgresql", "postgres"):
        raise refusal(
            "ledger-address",
            Place(key="ledger"),
            "this is no address of a ledger",
            found=re.sub(r":[^/@]*@", ":***@", address),
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
            Place(file=url.render_as_string(hide_password=True)),
            "what speaks to a PostgreSQL server is not installed",
            found=str(error),
            hint='Install it: pip install "labeler[postgres]"',
        ) from error


# ----------------------------------------------------------------------------
# The journal: every change to the ledger, by whom and when, never altered.


@dataclass(frozen=True, slots=True)
class JournalEntry:
    """One change. ``at`` is in UTC; ``lot`` is a lot code, or empty."""

    id: int
    at: datetime
    who: str
    what: str
    lot: str
    detail: dict[str, Any]


def enter(
    connection: Connection, ledger: Ledger, what: str, lot_id: int | None, **detail: Any
) -> None:
    """Write a change into the journal, in the transaction that makes it."""
    row = {"what": what, "lot_id": lot_id, "detail": detail}
    connection.execute(journal.insert(), row | ledger.stamp())


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
