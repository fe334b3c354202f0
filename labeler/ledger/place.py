"""Where a ledger lies, asked without loading what opens it."""

from __future__ import annotations

from pathlib import Path

FILE_NAME = "ledger.sqlite"
"""In the catalog folder."""


def is_begun(folder: Path) -> bool:
    """Tell whether a folder holds a ledger, or what is left of one."""
    file = folder / FILE_NAME
    return file.exists() or file.is_symlink() or file.with_name(f"{FILE_NAME}-wal").exists()
