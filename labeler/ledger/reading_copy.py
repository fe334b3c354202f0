"""A ledger that may be read and not written, as on a locked stick: a copy of it is asked.

SQLite cannot open a ledger with a write-ahead log where it may not write beside it.
Source: sqlite.org/wal.html, 4 (read-only databases).
"""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from pathlib import Path

from labeler.findings import LabelerError, Place, stop

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
