"""A file that appears whole or not at all.

What is written goes to a hidden file beside the target and takes its name only once all of it
is on the disk. An error, a full disk or Ctrl-C leaves what was there before.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import shutil
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from labeler.findings import Finding, LabelerError, Place, stop

_DISK_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_REFUSED = {errno.EACCES, errno.EPERM, errno.EROFS}


@contextmanager
def delivered(path: Path) -> Iterator[BinaryIO]:
    """Yield a file to write; it becomes ``path`` when the block ends without an error.

    A device or a pipe gets all of it in one go.

    Raises:
        LabelerError: if the folder is missing or can't be written, a folder has the name, or
            the disk is full.
    """
    with _explained(path):
        is_device = _is_device(path)
        path = path if is_device else Path(os.path.realpath(path))
        _nothing_in_the_way(path)
    if is_device:
        with tempfile.TemporaryDirectory() as room:
            whole = Path(room) / path.name
            with whole.open("xb") as held:
                yield held
            with _explained(path):
                device = path.open("wb")
            with _disk_full_explained(path), device, whole.open("rb") as done:
                shutil.copyfileobj(done, device)
        return
    part = path.with_name(f".{path.name[:_NAME_KEPT]}.{secrets.token_hex(6)}.part")
    file = None
    try:
        with _explained(path):
            file = part.open("xb")
        with _disk_full_explained(path):
            yield file
        with _explained(path):
            _take_the_name(file, part, path)
    except BaseException:
        with contextlib.suppress(OSError):
            if file is not None:
                file.close()
        with contextlib.suppress(OSError):
            part.unlink()
        raise


def refuse_to_bury(path: Path, alike: bytes = b"%PDF-") -> None:
    """Raise now, and not after the work, if a file should not be delivered to ``path``.

    Yesterday's file may be replaced by today's. A file of another kind is the maker's own work
    under a mistyped name.

    Args:
        path: where a file is to be delivered.
        alike: how a file begins that may be replaced.

    Raises:
        LabelerError: if the folder is missing, a folder has the name, or another kind of file.
    """
    with _explained(path):
        if _is_device(path):
            return
        path = Path(os.path.realpath(path))
        _nothing_in_the_way(path)
        if not path.is_file():
            return
        with path.open("rb") as file:
            begins = file.read(len(alike))
    if begins not in (b"", alike):
        raise LabelerError(
            stop(
                "another-file-there",
                Place(file=str(path)),
                "there is a file of another kind here, and it will not be touched",
                hint="Give another name, or take that file away first.",
            )
        )


def refuse_one_name(*paths: Path) -> None:
    """Raise if two files of one command bear one name: the later would take the other's place.

    Raises:
        LabelerError: with each that does.
    """
    named: set[str] = set()
    faults: list[Finding] = []
    for path in paths:
        with _explained(path):
            name = os.path.realpath(path)
            if name in named and not _is_device(path):
                faults.append(_one_name(path))
        named.add(name)
    if faults:
        raise LabelerError(faults)


def _one_name(path: Path) -> Finding:
    return stop(
        "one-name-for-two",
        Place(file=str(path)),
        "two files were to get this name, and one would take the other's place",
        hint="Give each a name of its own.",
    )


def _is_device(path: Path) -> bool:
    """Tell whether ``path`` is a device, a pipe, or a link to one, such as /dev/stdout."""
    return path.exists() and not path.is_file() and not path.is_dir()


_NAME_KEPT = 40
"""Letters of the name in the hidden file's, which must stay under the 255 bytes of most disks."""


def _take_the_name(file: BinaryIO, part: Path, path: Path) -> None:
    """Bring all of the file to the disk, then give it its name in one step."""
    file.flush()
    os.fsync(file.fileno())
    file.close()
    if path.exists():
        part.chmod(stat.S_IMODE(path.stat().st_mode))
    part.replace(path)
    _settle(path.parent)


def _nothing_in_the_way(path: Path) -> None:
    if path.is_dir():
        raise LabelerError(
            stop(
                "folder-in-the-way",
                Place(file=str(path)),
                "a folder has this name, so no file can be written there",
                hint="Give the name of a file in it.",
            )
        )
    if not path.parent.is_dir():
        raise LabelerError(
            stop(
                "no-such-folder",
                Place(file=str(path)),
                f"there is no folder {str(path.parent)!r} to write into",
                hint="Make the folder first, or choose another.",
            )
        )


@contextmanager
def _explained(path: Path) -> Iterator[None]:
    """Turn what the system says about ``path`` into a finding."""
    try:
        yield
    except OSError as error:
        raise LabelerError(_cannot_write(path, error)) from error
    except ValueError as error:
        raise LabelerError(
            stop("not-writable", Place(file=repr(str(path))), "no file can have this name")
        ) from error


@contextmanager
def _disk_full_explained(path: Path) -> Iterator[None]:
    """As above, but only for a full disk: other errors here need not be about ``path``."""
    try:
        yield
    except OSError as error:
        if error.errno not in _DISK_FULL:
            raise
        raise LabelerError(_cannot_write(path, error)) from error


def _cannot_write(path: Path, error: OSError) -> Finding:
    place = Place(file=str(path))
    if error.errno in _DISK_FULL:
        hint = "Free some space and run it again; what was there before is untouched."
        return stop("disk-full", place, "there is no room left to write this file", hint=hint)
    if error.errno in _REFUSED:
        hint = "Close it elsewhere, or choose another folder."
        return stop("not-writable", place, "this file may not be written here", hint=hint)
    return stop("not-writable", place, f"this file can't be written: {error.strerror or error}")


def _settle(folder: Path) -> None:
    """Have the new name itself on the disk. Not every system lets a folder be synced."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
