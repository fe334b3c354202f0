"""Opens the ledger: the file in the catalog folder, or a database that two benches share."""

from __future__ import annotations

import getpass
import os
import re
import secrets
import sqlite3
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from sqlalchemy import URL, Engine, make_url
from sqlalchemy.exc import ArgumentError

from labeler.findings import LabelerError, Place, stop
from labeler.ledger.faults import explain
from labeler.ledger.file import (
    FILE_NAME,
    copy_to_read,
    log_of,
    may_write,
    refuse_no_folder,
    refuse_unsound,
)
from labeler.ledger.migrations import is_current, migrate_one
from labeler.ledger.store import PATIENCE, Ledger, postgres_engine, sqlite_engine, utc_now


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
    if "://" in str(where):
        engine, copy, file = _server_engine(str(where), patience), None, Path()
    else:
        file = _file_in(Path(where), begin=begin)
        try:
            copy = None if may_write(file) else copy_to_read(file)
        except OSError as error:
            raise (explain(error, str(file)) or error) from error
        engine = sqlite_engine(Path(copy.name) / file.name if copy else file, patience)
    ledger = Ledger(engine, who=who, clock=clock, patience=patience)
    try:
        bring_up_to_date(ledger)
    except BaseException:
        ledger.close()
        if copy:
            copy.cleanup()
        raise
    if copy:
        ledger.read_from(copy, str(file))
    return ledger


def bring_up_to_date(ledger: Ledger) -> None:
    """Apply the steps the ledger lacks, each in one transaction; most often there is none."""
    if ledger.read(lambda connection: is_current(connection, ledger.where)):
        return
    while ledger.write(lambda connection: migrate_one(connection, ledger.where)):
        pass


def _server_engine(address: str, patience: float) -> Engine:
    try:
        url = make_url(address)
    except (ArgumentError, ValueError):
        url = URL.create("unreadable")
    if url.drivername.partition("+")[0] not in ("postgresql", "postgres"):
        raise LabelerError(
            stop(
                "ledger-address",
                Place(key="ledger"),
                "this is no address of a ledger",
                found=re.sub(r":[^/@]*@", ":***@", address),
                expected="a folder, or an address that begins with postgresql://",
            )
        )
    try:
        return postgres_engine(url, patience)
    except ImportError as error:
        raise LabelerError(
            stop(
                "ledger-driver",
                Place(file=url.render_as_string(hide_password=True)),
                "what speaks to a PostgreSQL server is not installed",
                found=str(error),
                hint='Install it: pip install "labeler[postgres]"',
            )
        ) from error


def _file_in(folder: Path, *, begin: bool) -> Path:
    """Return the ledger's file in ``folder``, sound as far as a look at it tells."""
    file = folder / FILE_NAME
    try:
        refuse_no_folder(folder)
        if begin and not file.exists():
            _begin(file)
        refuse_unsound(file)
    except OSError as error:
        raise (explain(error, str(file)) or error) from error
    return file


def _begin(file: Path) -> None:
    """Make a whole new ledger beside its place, then put it there unless another was faster.

    So a file without content under the ledger's name is never a new ledger: it is a lost one.
    """
    log = log_of(file)
    if log.exists():
        raise LabelerError(
            stop(
                "ledger-torn",
                Place(file=str(file)),
                f"the ledger's file is gone, but {log.name}, a part of it, is still here",
                hint=f"Put {FILE_NAME} back beside it. Only if there never was one, move the part "
                "away.",
            )
        )
    made = file.with_name(f".{FILE_NAME}.{os.getpid()}-{secrets.token_hex(4)}")
    try:
        with Ledger(sqlite_engine(made)) as ledger:
            ledger.where = str(file)
            bring_up_to_date(ledger)
            _bring_home(ledger)
        if log_of(made).exists():
            raise LabelerError(
                stop(
                    "ledger-disk-full",
                    Place(file=str(file)),
                    "there is no room on the disk to begin a ledger",
                    hint="Make room and run the same command again.",
                )
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
