"""What a database says when it cannot go on, in words that tell the maker what to do."""

from __future__ import annotations

import errno
import re
import sqlite3

from sqlalchemy.exc import DBAPIError, IntegrityError

from labeler.findings import Finding, LabelerError, Place, stop
from labeler.ledger.file import BACKUP_HINT

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
