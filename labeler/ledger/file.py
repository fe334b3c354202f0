"""The ledger's file in a catalog folder: its name, whether it is there, whether it is sound.

Asked before anything is printed, so nothing here loads what opens a database.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
import time
from pathlib import Path

from labeler.findings import Place, masked, refusal

FILE_NAME = "ledger.sqlite"
"""In the catalog folder."""

BACKUP_HINT = (
    "Keep this file, and the one beside it that ends in -wal, under other names, and put your "
    "newest backup in its place. "
    "Lot codes and numbers of orders and invoices given out since that backup must not be used "
    'again: tell them to "lot lost".'
)

_FIRST_BYTES = b"SQLite format 3\x00"
"""Source: sqlite.org/fileformat.html, 1.3.1."""

_TURNS, _PAUSE = 20, 0.25


def is_address(where: str) -> bool:
    """Tell whether this is a server's address and no folder, mistyped ones among them.

    A single letter before a colon is a drive's.
    """
    return bool(re.match(r"[A-Za-z+]{2,}:|.*://", where)) or masked(where) != where


def log_of(file: Path) -> Path:
    """Return the name of SQLite's write-ahead log, a part of the ledger beside its file."""
    return file.with_name(file.name + "-wal")


def is_begun(folder: Path) -> bool:
    """Tell whether a folder has a ledger, or what is left of one."""
    file = folder / FILE_NAME
    return file.exists() or file.is_symlink() or log_of(file).exists()


def refuse_no_folder(folder: Path) -> None:
    """Raise a `LabelerError` unless there is such a folder."""
    if folder.is_dir():
        return
    raise refusal(
        "ledger-folder",
        Place(file=str(folder)),
        "the folder of the ledger is a file" if folder.exists() else "there is no such folder",
        expected="the catalog folder",
        hint="If it is on a stick or a share, connect that. Else name the folder that holds "
        "catalog.toml, or make it first.",
    )


def refuse_unsound(file: Path) -> None:
    """Refuse what a look at a file's first bytes tells is no ledger.

    Raises:
        LabelerError: if there is none, it is empty, or something else.
        OSError: if it cannot be read.
    """
    if not file.exists():
        rule, message, hint = (
            "ledger-missing",
            "no lot has been opened in this catalog, so there is no ledger yet",
            "The first lot begins it. If there was one, put the file or its backup back.",
        )
    elif not file.is_file():
        rule, message, hint = (
            "ledger-in-the-way",
            "something that is not a file bears the ledger's name",
            "Move it out of the way.",
        )
    else:
        with file.open("rb") as content:
            head = content.read(len(_FIRST_BYTES))
        if head == _FIRST_BYTES:
            return
        rule, message, hint = (
            ("ledger-damaged", "this file is not a ledger, or its beginning was overwritten",
             BACKUP_HINT)
            if head
            else ("ledger-empty", "the ledger's file is empty: its content was lost", BACKUP_HINT)
        )  # fmt: skip
    raise refusal(rule, Place(file=str(file)), message, hint=hint)


def may_write(file: Path) -> bool:
    """Tell whether the ledger's file, and what lies beside it, may be written."""
    by_effect = os.access in os.supports_effective_ids
    return all(os.access(each, os.W_OK, effective_ids=by_effect) for each in (file, file.parent))


def copy_to_read(file: Path) -> tempfile.TemporaryDirectory[str]:
    """Return a folder that holds the ledger as it was at one instant, under its name.

    Asked where the ledger may be read and not written, as on a locked stick or a full disk: SQLite
    cannot open one with a write-ahead log where it cannot write beside it. The copy is made in
    memory where the system has such a place, since the one disk may be the full one.
    Source: sqlite.org/wal.html, 4 (read-only databases).

    Raises:
        LabelerError: if somebody else writes it all the time.
        OSError: if it cannot be read or copied.
    """
    parts = [file, log_of(file)]
    need = sum(size for size, _ in filter(None, map(_state, parts)))
    room = next((each for each in _MEMORY if _has_room(each, need)), None)
    for _ in range(_TURNS):
        kept = tempfile.TemporaryDirectory(prefix="labeler-", dir=room)
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
    raise refusal(
        "ledger-busy",
        Place(file=str(file)),
        "the ledger may not be written here, and others write it all the time",
        hint="Ask again when they are done.",
    )


_MEMORY = ("/dev/shm",)
"""Source: Linux, Documentation/filesystems/tmpfs.rst."""


def _has_room(folder: str, need: int) -> bool:
    try:
        return os.access(folder, os.W_OK) and shutil.disk_usage(folder).free > 2 * need
    except OSError:
        return False


def _state(part: Path) -> tuple[int, int] | None:
    try:
        found = part.stat()
    except FileNotFoundError:
        return None
    return found.st_size, found.st_mtime_ns
