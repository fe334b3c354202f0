"""Opens the ledger: the file in the catalog folder, or a database that two benches share.

What an older program made is brought up to date by steps: named, in order, and never changed once
shipped. Each is applied in one transaction together with its own record, so a crash leaves a ledger
either before a step or after it.
"""

from __future__ import annotations

import getpass
import os
import secrets
import sqlite3
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, select, text

from labeler.files import sweep
from labeler.findings import LabelerError, Place, refusal
from labeler.ledger.file import (
    BACKUP_HINT,
    FILE_NAME,
    copy_to_read,
    is_address,
    log_of,
    may_write,
    refuse_no_folder,
    refuse_unsound,
)
from labeler.ledger.lots import fold
from labeler.ledger.schema import journal, lots, metadata, snapshots, steps
from labeler.ledger.store import PATIENCE, Ledger, explain, postgres_engine, sqlite_engine, utc_now


def open_ledger(
    where: str | Path,
    *,
    who: str | None = None,
    begin: bool = True,
    clock: Callable[[], datetime] = utc_now,
    patience: float = PATIENCE,
) -> Ledger:
    """Open a ledger, beginning a new one where there is none, and bring it up to date.

    Args:
        where: the catalog folder, or an address such as ``postgresql://ann@bench.example.com/jigs``.
        who: who is at the bench; None takes the computer's user.
        begin: whether to begin a ledger in a folder that has none.
        clock: tells the time, with its zone.
        patience: seconds to wait for others.

    Raises:
        LabelerError: if it cannot be opened; the finding says what to do.
    """
    if who is None:
        try:
            who = getpass.getuser()
        except (KeyError, OSError, ImportError):  # a computer that knows no names
            who = ""

    def opened(engine: Engine) -> Ledger:
        ledger = Ledger(engine, who=who, clock=clock, patience=patience)
        try:
            bring_up_to_date(ledger)
        except BaseException:
            ledger.close()
            raise
        return ledger

    if isinstance(where, str) and is_address(where):
        return opened(postgres_engine(where, patience))
    return _open_file(Path(where) / FILE_NAME, lambda file: opened(sqlite_engine(file, patience)),
                      begin=begin)  # fmt: skip


def _open_file(file: Path, opened: Callable[[Path], Ledger], *, begin: bool) -> Ledger:
    """Open the ledger's file; where it can't be written, a copy of it to be read."""
    refused: LabelerError | None = None
    try:
        refuse_no_folder(file.parent)
        if begin and not file.exists():
            _begin(file)
        refuse_unsound(file)
        if may_write(file):
            try:
                return opened(file)
            except LabelerError as error:  # on a full disk SQLite can't even begin to read
                refused = error
                if error.findings[0].rule not in ("ledger-disk", "ledger-disk-full"):
                    raise
        copy = copy_to_read(file)
    except OSError as error:
        raise (refused or explain(error, str(file)) or error) from error
    try:
        ledger = opened(Path(copy.name) / file.name)
    except BaseException:
        copy.cleanup()
        raise
    ledger.read_from(copy, str(file), refused)
    return ledger


def _begin(file: Path) -> None:
    """Make a whole new ledger beside its place, then put it there unless another was faster.

    So a file without content under the ledger's name is never a new ledger: it is a lost one.
    """
    log = log_of(file)
    if log.exists():
        raise refusal(
            "ledger-torn",
            Place(file=str(file)),
            f"the ledger's file is gone, but {log.name}, a part of it, is still here",
            hint=f"Put {FILE_NAME} back beside it. Only if there never was one, move the part "
            "away.",
        )
    sweep(file.parent)
    made = file.with_name(f".{FILE_NAME}.{os.getpid()}-{secrets.token_hex(4)}")
    try:
        with Ledger(sqlite_engine(made)) as ledger:
            ledger.where = str(file)
            ledger.write(lambda connection: migrate(connection, ledger.where, most=len(STEPS)))
            _bring_home(ledger)
        if log_of(made).exists():
            raise refusal(
                "ledger-disk-full",
                Place(file=str(file)),
                "there is no room on the disk to begin a ledger",
                hint="Make room and do the same again.",
            )
        _put(made, file)
    finally:
        for leftover in (made, log_of(made), made.with_name(made.name + "-shm")):
            with suppress(OSError):
                leftover.unlink(missing_ok=True)


def _bring_home(ledger: Ledger) -> None:
    """Move everything from the log into the file, which is to go without its log.

    On closing, SQLite does so too, but a full disk keeps it from it without a word.
    Source: sqlite.org/wal.html, 2.3.
    """
    held = ledger.engine.raw_connection()
    with suppress(sqlite3.Error):  # the log that is left tells it
        held.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
    held.close()


def _put(made: Path, file: Path) -> None:
    try:
        os.link(made, file)
    except FileExistsError:
        return
    except OSError:  # a memory stick's file system knows no links
        if not file.exists():
            made.rename(file)
    with suppress(OSError):  # some systems cannot open a folder
        folder = os.open(file.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def bring_up_to_date(ledger: Ledger) -> None:
    """Apply the steps the ledger lacks, each in one transaction; most often there is none."""
    if ledger.read(lambda connection: is_current(connection, ledger.where)):
        return
    while ledger.write(lambda connection: migrate(connection, ledger.where)):
        pass


_FOLDER = Path(__file__).parent / "steps"
_WORDS = {
    "sqlite": {
        "identity": "INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT",
        "moment": "DATETIME",
        "bytes": "BLOB",
        "bytewise": "",
    },
    "postgresql": {
        "identity": "INTEGER GENERATED BY DEFAULT AS IDENTITY PRIMARY KEY",
        "moment": "TIMESTAMP WITH TIME ZONE",
        "bytes": "BYTEA",
        "bytewise": ' COLLATE "C"',
    },
}
_ONE_AT_A_TIME = 71_064
"""The advisory lock that two programs opening the same new PostgreSQL ledger take turns on."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step from an older ledger to a newer one."""

    name: str
    apply: Callable[[Connection], None]


def _remember_names(connection: Connection) -> None:
    used = connection.exec_driver_sql(
        "SELECT supplier_lot FROM materials UNION SELECT sku FROM lots"
        " UNION SELECT dealer FROM moves WHERE dealer <> ''"
    )
    by_folded = {fold(name): name for (name,) in sorted(used, reverse=True)}
    rows = [
        {"folded": folded, "backwards": folded[::-1], "name": name}
        for folded, name in by_folded.items()
    ]
    if rows:
        into = text("INSERT INTO names VALUES (:folded, :backwards, :name)")
        connection.execute(into, rows)


def _file_step(name: str, *kept: str, then: Callable[[Connection], None] | None = None) -> Step:
    """Return the step that runs a file of its name.

    Args:
        name: the step's.
        kept: tables of which no row is changed or deleted from then on.
        then: what else is done.
    """

    def apply(connection: Connection) -> None:
        _run_file(connection, f"{name}.sql")
        _never_change(connection, kept)
        if then:
            then(connection)

    return Step(name, apply)


def _numbered(_: Connection) -> None:
    """Change no table: from here on documents have numbers, which an older program can't read."""


STEPS: tuple[Step, ...] = (
    _file_step(
        "0001-lots", "snapshots", "lots", "materials", "voids", "weighings", "files", "layouts",
        "runs", "printed", "open_sheets", "moves", "requests", "journal",
    ),
    _file_step("0002-names", then=_remember_names),
    Step("0003-numbered", _numbered),
    _file_step("0004-plans", "plans", "run_states"),
    _file_step("0005-holds", "holds", "strikes"),
    _file_step("0006-before", "other_names"),
    _file_step("0007-orders", "orders", "order_readings", "cancels", "invoices"),
    _file_step("0008-packs", "contents"),
)  # fmt: skip


def migrate(
    connection: Connection, where: str, known: Sequence[Step] = STEPS, most: int = 1
) -> bool:
    """Apply the next step that this ledger lacks; tell whether there was one.

    Args:
        connection: in a transaction of its own.
        where: the ledger's file or address, for the findings.
        known: the steps of this program.
        most: how many steps this transaction may take: all for a file that is just begun, of which
            nobody is to find a part.

    Raises:
        LabelerError: if the ledger is newer than the program, or the database is not a ledger.
    """
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_ONE_AT_A_TIME})")
    done = applied(connection, where, known)
    lacking = [step for step in known if step.name not in done]
    if not lacking:
        return False
    if not done:
        steps.create(connection)
    for step in lacking[:most]:
        step.apply(connection)
        connection.execute(steps.insert().values(name=step.name, at=datetime.now(UTC)))
    return True


def is_current(connection: Connection, where: str, known: Sequence[Step] = STEPS) -> bool:
    """Tell whether the ledger has gone through every step of this program.

    Raises:
        LabelerError: as `migrate` does.
    """
    return len(applied(connection, where, known)) == len(known)


def applied(connection: Connection, where: str, known: Sequence[Step]) -> list[str]:
    """Return the names of the steps this ledger has gone through, refusing what is none."""
    taken = set(inspect(connection).get_table_names())
    if steps.name in taken:
        done = list(connection.scalars(select(steps.c.name).order_by(steps.c.name)))
        if strange := sorted(set(done) - {step.name for step in known}):
            raise refusal(
                "ledger-newer",
                Place(file=where),
                "this ledger was last written by a newer version of the program",
                found=f"steps unknown here: {', '.join(strange)}",
                expected=f"none after {STEPS[-1].name}",
                hint="Install the newer version on this computer too; nothing was changed.",
            )
        return done
    if {lots.name, snapshots.name, journal.name} <= taken:
        message = "the ledger is damaged: a table of it is lost"
        raise refusal("ledger-damaged", Place(file=where), message, found=steps.name,
                      hint=BACKUP_HINT)  # fmt: skip
    if connection.dialect.name == "postgresql":
        taken &= set(metadata.tables)
    if taken:
        raise refusal(
            "ledger-stranger",
            Place(file=where),
            "this database belongs to something else, so no ledger is begun in it",
            found=f"tables {', '.join(sorted(taken)[:6])}",
            expected="a ledger of this program, or an empty database",
            hint="Give the ledger a file or a database of its own.",
        )
    return []


def _run_file(connection: Connection, name: str) -> None:
    script = (_FOLDER / name).read_text(encoding="utf-8")
    lines = [line for line in script.splitlines() if not line.startswith("--")]
    for statement in "\n".join(lines).split(";"):
        if statement.strip():
            words = _WORDS[connection.dialect.name]
            connection.exec_driver_sql(statement.format_map(words).strip())


def _never_change(connection: Connection, tables: Iterable[str]) -> None:
    """Have the database itself refuse to change or delete a row of these tables."""
    for table in tables:
        if connection.dialect.name == "sqlite":
            for act in ("UPDATE", "DELETE"):
                connection.exec_driver_sql(_SQLITE_GUARD.format(table=table, act=act))
        else:
            connection.exec_driver_sql(_POSTGRES_REFUSAL)
            connection.exec_driver_sql(_POSTGRES_GUARD.format(table=table))


_SQLITE_GUARD = """
CREATE TRIGGER {table}_no_{act} BEFORE {act} ON {table}
BEGIN SELECT RAISE(ABORT, 'the ledger keeps every row as it was written'); END
"""
_POSTGRES_REFUSAL = """
CREATE OR REPLACE FUNCTION ledger_keeps_rows() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION 'the ledger keeps every row as it was written'; END $$
"""
_POSTGRES_GUARD = """
CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON {table}
FOR EACH STATEMENT EXECUTE FUNCTION ledger_keeps_rows()
"""
