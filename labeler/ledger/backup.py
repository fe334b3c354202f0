"""A copy of the ledger that is whole, made while others write."""

from __future__ import annotations

import datetime as dt
import json
import os
import re
import secrets
import shlex
import sqlite3
import stat
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Column, Connection, Date, func, inspect, select, text
from sqlalchemy.exc import DBAPIError

from labeler.codes import lot_code
from labeler.files import sweep
from labeler.findings import Finding, Place, refusal, shown, stop
from labeler.ledger.file import BACKUP_HINT
from labeler.ledger.schema import Json, Moment, days, journal, lots, metadata, moves, steps
from labeler.ledger.store import Ledger, enter, explain, no_letters


def backup(ledger: Ledger, file: Path) -> Path:
    """Copy the ledger as it is at one instant into ``file``, which appears whole or not at all.

    An older backup of the same name is replaced; any other file is not.

    Raises:
        LabelerError: if the copy cannot be made or is not sound, if something else bears the
            name, or if the ledger is on a server, with the command that copies it there.
    """
    if ledger.file is None:
        url = ledger.engine.url
        secret = [name for name in url.query if "pass" in name.lower()]
        address = url.set(drivername="postgresql", password=None).difference_update_query(secret)
        raise refusal(
            "backup-server",
            Place(file=ledger.where),
            "a ledger on a server is copied by the server's own program",
            hint="pg_restore --clean --if-exists brings a copy back. "
            f"Run: pg_dump --format=custom --file={shlex.quote(str(file))} "
            f"{shlex.quote(address.render_as_string())}",
        )
    try:
        _refuse_to_replace(ledger.file, file)
    except OSError as error:
        raise (explain(error, str(file)) or error) from error
    sweep(file.parent)
    half = file.with_name(f".{file.name}.{os.getpid()}-{secrets.token_hex(4)}")
    try:
        _copy(ledger, half)
        half.replace(file)
        if not ledger.only_read:  # so that a damaged ledger can say where its backup is
            where = str(file.absolute())
            ledger.write(lambda connection: enter(connection, ledger, "backup", None, file=where))
    except OSError as error:
        raise (explain(error, str(file)) or error) from error
    except UnicodeEncodeError as error:
        raise no_letters(error) from error
    finally:
        for leftover in (half, half.with_name(half.name + "-journal")):
            with suppress(OSError):
                leftover.unlink(missing_ok=True)
    return file


def _copy(ledger: Ledger, half: Path) -> None:
    """Copy page by page, in one read that holds up no writer, and look whether it is sound.

    Source: sqlite.org/backup.html.
    """
    assert ledger.file is not None
    mode = stat.S_IMODE(ledger.file.stat().st_mode)  # nobody reads the copy who may not the ledger
    os.close(os.open(half, os.O_CREAT | os.O_EXCL | os.O_WRONLY, mode))
    source = ledger.engine.raw_connection()
    try:
        with closing(sqlite3.connect(half)) as copy:
            held = source.driver_connection
            assert isinstance(held, sqlite3.Connection)
            held.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
            if (answer := copy.execute("PRAGMA integrity_check").fetchone()[0]) != "ok":
                raise refusal(
                    "ledger-damaged",
                    Place(file=ledger.where),
                    "the ledger is damaged, so no backup was made of it; older backups were left "
                    "alone",
                    found=answer.splitlines()[0],
                    hint=BACKUP_HINT,
                )
    except sqlite3.Error as error:
        raise (explain(error, str(half.parent)) or error) from error
    finally:
        source.close()
    with half.open("rb+") as written:
        os.fsync(written.fileno())


def _refuse_to_replace(ledger: Path, file: Path) -> None:
    if not file.parent.is_dir():
        raise refusal(
            "backup-folder",
            Place(file=str(file.parent)),
            "there is no such folder for the backup",
            hint="Make the folder first, or name another.",
        )
    if file.exists() and (file.samefile(ledger) or not _is_backup(file)):
        raise refusal(
            "backup-in-the-way",
            Place(file=str(file)),
            "a backup would replace something that is not a backup",
            hint="Name a file that does not exist yet, or an older backup.",
        )


def _is_backup(file: Path) -> bool:
    """Tell whether the file is a ledger, without changing anything beside it."""
    if not file.is_file():
        return False
    try:
        address = f"{file.resolve().as_uri()}?immutable=1"
        with closing(sqlite3.connect(address, uri=True)) as found:
            found.execute(f"SELECT name FROM {steps.name}").fetchone()
    except sqlite3.Error:
        return False
    return True


def examine(ledger: Ledger) -> tuple[Finding, ...]:
    """Return what is wrong with the ledger; nothing, if all is well. Reads every row.

    0. every table and column is there, and every value of its kind,
    1. the file's structure (SQLite), 2. every reference leads somewhere (SQLite; a server sees to
    it itself), 3. every code fits its check character, 4. the numbers of a day have no gap but for
    codes noted as lost, 5. no lot has less than nothing on hand.
    """

    def look(connection: Connection, *checks: _Check) -> tuple[Finding, ...]:
        return tuple(
            stop(rule, Place(file=ledger.where), message, found=found, hint=_hint(connection))
            for check in checks
            for rule, message, found in check(connection)
        )

    return ledger.read(lambda connection: look(connection, _values)) or ledger.read(
        lambda connection: look(connection, _structure, _codes, _numbers, _on_hand)
    )


_Check = Callable[[Connection], Iterator[tuple[str, str, str]]]


def _hint(connection: Connection) -> str:
    """Return what to do, and where the newest backup was written, if that can still be read."""
    query = "SELECT detail FROM journal WHERE what = 'backup' ORDER BY id DESC LIMIT 1"
    try:
        with connection.begin_nested():
            kept = json.loads(connection.exec_driver_sql(query).scalar() or "{}")
        newest = f" The newest backup: {kept['file']}." if "file" in kept else ""
    except (DBAPIError, ValueError, TypeError):
        newest = ""
    return f"{BACKUP_HINT}{newest} How to go back: labeler lot backup --help"


def _values(connection: Connection) -> Iterator[tuple[str, str, str]]:
    """Read every row as it is stored. Only the first thing wrong in a table is told."""
    there = set(inspect(connection).get_table_names())
    for table in metadata.sorted_tables:
        if table.name not in there:
            yield "ledger-damaged", "the ledger is damaged: a table of it is lost", table.name
            continue
        names = ", ".join(f'"{column.name}"' for column in table.columns)
        try:
            with connection.begin_nested():
                rows = connection.exec_driver_sql(f'SELECT {names} FROM "{table.name}"').all()
        except DBAPIError as error:
            yield "ledger-damaged", "the ledger is damaged", f"{table.name}: {error.orig}"
            continue
        faults = (
            f"{table.name}, row {at}, {column.name}: {shown(repr(value))}"
            for at, row in enumerate(rows, 1)
            for column, value in zip(table.columns, row, strict=True)
            if not _is_kept(column, value)
        )
        if fault := next(faults, ""):
            yield "ledger-damaged", "the ledger is damaged: a value of it is none", fault


def _is_kept(column: Column[Any], value: Any) -> bool:
    """Tell whether a value as the database has it is one of its column's."""
    if value is None:
        return bool(column.nullable)
    kind, words = column.type, column.info.get("words")
    if words is not None and not (isinstance(value, str) and re.fullmatch(words, value)):
        return False
    try:
        if isinstance(kind, Json):
            return isinstance(json.loads(value), column.info["kinds"])
        if isinstance(kind, Date | Moment):  # SQLite keeps them as text
            read = dt.date if isinstance(kind, Date) else dt.datetime
            return isinstance(value, dt.date) or bool(read.fromisoformat(value))
    except (ValueError, TypeError):
        return False
    return isinstance(value, kind.python_type | memoryview)


def _structure(connection: Connection) -> Iterator[tuple[str, str, str]]:
    if connection.dialect.name != "sqlite":
        return
    for row in connection.execute(text("PRAGMA integrity_check(20)")):
        if row[0] != "ok":
            yield "ledger-damaged", "the ledger's file is damaged", str(row[0])
    for row in connection.execute(text("PRAGMA foreign_key_check")):
        yield "ledger-torn-row", f"a row of {row[0]} refers to nothing", f"row {row[1]}"


def _codes(connection: Connection) -> Iterator[tuple[str, str, str]]:
    for code in connection.scalars(select(lots.c.code)):
        if not lot_code.is_valid(code):
            yield "ledger-code", "a lot code does not fit its check character", code


def _numbers(connection: Connection) -> Iterator[tuple[str, str, str]]:
    query = (
        select(days.c.made, days.c.last_number, func.count(lots.c.id), func.max(lots.c.number))
        .join_from(days, lots, lots.c.made == days.c.made, isouter=True)
        .group_by(days.c.made, days.c.last_number)
    )
    noted = select(journal.c.detail).where(journal.c.what == "lost")
    lost = {detail["made"] for detail in connection.scalars(noted)}
    for made, last, many, highest in connection.execute(query):
        if made.isoformat() in lost and many <= (highest or 0) <= last:
            continue
        if not last == many == highest:
            said = f"{many} lots, the highest {highest}, the last given out {last}"
            yield "ledger-gap", f"the numbers of {made} have a gap", said


def _on_hand(connection: Connection) -> Iterator[tuple[str, str, str]]:
    left = lots.c.count + func.sum(moves.c.change)
    query = (
        select(lots.c.code, left)
        .join_from(lots, moves)
        .group_by(lots.c.id, lots.c.code, lots.c.count)
        .having(left < 0)
    )
    for code, count in connection.execute(query):
        yield "ledger-below-nought", f"lot {code} has less than nothing on hand", str(count)
