"""A folder of files that appears only once all of them are made."""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from labeler.findings import LabelerError, Place, stop


@contextmanager
def new_folder(path: Path) -> Iterator[Path]:
    """Yield a folder to fill; its files become ``path``'s when the block ends without an error.

    Where ``path`` is there already, each file takes its place in it, one by one, and others stay.

    Raises:
        LabelerError: if a file has the name, or it can't be written.
    """
    path = Path(os.path.realpath(path))
    if path.exists() and not path.is_dir():
        raise LabelerError(
            stop("file-in-the-way", Place(file=str(path)), "a file has this name",
                 hint="Give the name of a folder.")
        )  # fmt: skip
    draft = path.with_name(f".{path.name[:40]}.{secrets.token_hex(6)}.part")
    try:
        try:
            draft.mkdir()
            yield draft
            _take_the_name(draft, path)
        except OSError as error:
            raise LabelerError(
                stop("not-writable", Place(file=error.filename or str(path)),
                     f"this can't be written: {error.strerror or error}")
            ) from error  # fmt: skip
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _take_the_name(draft: Path, path: Path) -> None:
    if not path.exists():
        draft.rename(path)
        return
    for file in sorted(draft.rglob("*")):
        if file.is_file():
            place = path / file.relative_to(draft)
            place.parent.mkdir(parents=True, exist_ok=True)
            file.replace(place)
