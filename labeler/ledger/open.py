"""Opens the ledger: the file in the catalog folder, or a database that two benches share."""

from __future__ import annotations

import getpass
import os
import re
import secrets
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlalchemy import URL, Engine, make_url
from sqlalchemy.exc import ArgumentError

from labeler.findings import Finding, LabelerError, Place, stop
from labeler.ledger.faults import BACKUP_HINT, explain
from labeler.ledger.migrations import is_current, migrate_one
from labeler.ledger.place import FILE_NAME
from labeler.ledger.store import PATIENCE, Ledger, postgres_engine, sqlite_engine, utc_now

# ----------------------------------------------------------------------------
# A ledger that may be read and not written, as on a locked stick: a copy of it is asked.
#
# SQLite cannot open a ledger with a write-ahead log where it may not write beside it.
# Source: sqlite.org/wal.html, 4 (read-only databases).

_TURNS, _PAUSE = 20, 0.25


def may_write(file: Path) -> bool:
    """Tell whether the ledger's file, and what lies beside it, may be written."""
    by_effect = os.access in os.supports_effective_ids
    return all(os.access(each, os.W_OK, effective_ids=by_effect) for each in (file, file.parent))


def copy_to_read(file: Path) -> tempfile.TemporaryDirectory[str]:
    """Return a folder that holds the ledger as it was at one instant, under its name.

    Raises:
        LabelerError: if somebody else writes it all the time.
        OSError: if it cannot be read or copied.
    """
    parts = [file, file.with_name(file.name + "-wal")]
    for _ in range(_TURNS):
        kept = tempfile.TemporaryDirectory(prefix="labeler-")
        before = [_state(part) for part in parts]
        try:
            for part, state in zip(parts, before, strict=True):
                if state:
                    shutil.copyfile(part, Path(kept.name) / part.name)
            if before == [_state(part) for part in parts]:
                return kept
        except FileNotFoundError:  # the log was emptied and taken away
            pass
        except BaseException:
            kept.cleanup()
            raise
        kept.cleanup()
        time.sleep(_PAUSE)
    raise LabelerError(
        stop(
            "ledger-busy",
            Place(file=str(file)),
            "the ledger may not be written here, and others write it all the time",
            hint="Ask again when they are done.",
        )
    )


def _state(part: Path) -> tuple[int, int] | None:
    try:
        found = part.stat()
    except FileNotFoundError:
        return None
    return found.st_size, found.st_mtime_ns


_FIRST_BYTES = b"SQLite format 3\x00"
"""Source: sqlite.org/fileformat.html, 1.3.1."""


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
    name = _user() if who is None else who
    if "://" in str(where):
        engine, copy, file = _server_engine(str(where), patience), None, Path()
    else:
        file = _file_in(Path(where), begin=begin)
        copy = None if may_write(file) else _copy_of(file)
        engine = sqlite_engine(Path(copy.name) / file.name if copy else file, patience)
    ledger = Ledger(engine, who=name, clock=clock, patience=patience)
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


def _copy_of(file: Path) -> TemporaryDirectory[str]:
    try:
        return copy_to_read(file)
    except OSError as error:
        raise (explain(error, str(file)) or error) from error


def bring_up_to_date(ledger: Ledger) -> None:
    """Apply the steps the ledger lacks, each in one transaction; most often there is none."""
    if ledger.read(lambda connection: is_current(connection, ledger.where)):
        return
    while ledger.write(lambda connection: migrate_one(connection, ledger.where)):
        pass


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):  # a computer that knows no names
        return ""


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
        if not folder.is_dir():
            raise LabelerError(_no_folder(folder))
        if not file.exists():
            if begin:
                _begin(file)
            else:
                raise LabelerError(_no_ledger(file))
        if finding := _unsound(file):
            raise LabelerError(finding)
    except OSError as error:
        raise (explain(error, str(file)) or error) from error
    return file


def _begin(file: Path) -> None:
    """Make a whole new ledger beside its place, then put it there unless another was faster.

    So a file without content under the ledger's name is never a new ledger: it is a lost one.
    """
    if _log_of(file).exists():
        raise LabelerError(_torn(file))
    made = file.with_name(f".{FILE_NAME}.{os.getpid()}-{secrets.token_hex(4)}")
    try:
        with Ledger(sqlite_engine(made)) as ledger:
            ledger.where = str(file)
            bring_up_to_date(ledger)
            _bring_home(ledger)
        if _log_of(made).exists():
            raise LabelerError(_no_room(file))
        _put(made, file)
    finally:
        for leftover in (made, _log_of(made), made.with_name(made.name + "-shm")):
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


def _log_of(file: Path) -> Path:
    return file.with_name(file.name + "-wal")


def _unsound(file: Path) -> Finding | None:
    if not file.is_file():
        return _not_a_file(file)
    with file.open("rb") as content:
        head = content.read(len(_FIRST_BYTES))
    if not head:
        return stop(
            "ledger-empty",
            Place(file=str(file)),
            "the ledger's file is empty: its content was lost",
            hint=BACKUP_HINT,
        )
    if head != _FIRST_BYTES:
        return stop(
            "ledger-damaged",
            Place(file=str(file)),
            "this file is not a ledger, or its beginning was overwritten",
            hint=BACKUP_HINT,
        )
    return None


def _no_folder(folder: Path) -> Finding:
    return stop(
        "ledger-folder",
        Place(file=str(folder)),
        "the folder of the ledger is a file" if folder.exists() else "there is no such folder",
        expected="the catalog folder",
        hint="Name the folder that holds catalog.toml, or make the folder first.",
    )


def _no_ledger(file: Path) -> Finding:
    return stop(
        "ledger-missing",
        Place(file=str(file)),
        "no lot has been opened in this catalog, so there is no ledger yet",
        hint="The first lot begins it. If there was one, put the file or its backup back.",
    )


def _no_room(file: Path) -> Finding:
    return stop(
        "ledger-disk-full",
        Place(file=str(file)),
        "there is no room on the disk to begin a ledger",
        hint="Make room and run the same command again.",
    )


def _not_a_file(file: Path) -> Finding:
    return stop(
        "ledger-in-the-way",
        Place(file=str(file)),
        "something that is not a file bears the ledger's name",
        hint="Move it out of the way.",
    )


def _torn(file: Path) -> Finding:
    return stop(
        "ledger-torn",
        Place(file=str(file)),
        f"the ledger's file is gone, but {_log_of(file).name}, a part of it, is still here",
        hint=f"Put {FILE_NAME} back beside it. Only if there never was one, move the part away.",
    )
