"""Making a starter folder."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from labeler import files
from labeler.findings import LabelerError, Place, stop


def start_catalog(folder: Path) -> tuple[Path, ...]:
    """Make ``folder`` with a small catalog that reads without fault; return its files.

    Raises:
        LabelerError: if something is there already, or the folder can't be made.
    """
    place = Place(file=str(folder))
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise LabelerError(
            stop(
                "folder-taken",
                place,
                "there is something here already, and nothing of it will be touched",
                hint="Name a folder that does not exist yet.",
            )
        )
    try:
        _copy(files.shipped("layouts") / "starter", folder)
    except OSError as error:
        raise LabelerError(
            stop("folder-unmade", place, f"this folder can't be made: {error.strerror or error}")
        ) from error
    return tuple(sorted(path for path in folder.rglob("*") if path.is_file()))


def _copy(source: Path, folder: Path) -> None:
    """Copy beside the target first, so that the folder appears whole or not at all."""
    folder.absolute().parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder.absolute().parent, prefix=".new-") as room:
        whole = Path(room) / "starter"
        shutil.copytree(source, whole)
        if folder.is_dir():
            folder.rmdir()
        whole.replace(folder)
