"""Files: finding those that lie beside a catalog or ship with us, and writing them whole.

Layouts, sheets, styles and fonts are looked for in the maker's own folder first, then among the
shipped ones. In a checkout ``layouts/`` and ``fonts/`` lie beside the package; in an installed
wheel they lie inside it, under ``shipped/``. An editable install has no ``shipped/``, so the
checkout is looked for first.

A file that is written appears whole or not at all. It goes to a hidden file beside the target and
takes its name only once all of it is on the disk. An error, a full disk or Ctrl-C leaves what was
there before.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import re
import secrets
import shutil
import stat
import sys
import tempfile
import time
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from fnmatch import fnmatchcase
from pathlib import Path
from threading import Lock, RLock
from typing import Any, BinaryIO, TypeVar
from weakref import WeakValueDictionary

from labeler.findings import Finding, LabelerError, Place, did_you_mean, refusal, stop

Value = TypeVar("Value")

Stamps = tuple[tuple[str, int, int], ...]
"""Path, time of change and size of some files."""

_PACKAGE = Path(__file__).resolve().parent


def shipped(room: str) -> Path:
    """Return the folder ``room`` (``layouts``, ``fonts`` or ``starter``) that ships with us."""
    for folder in (_PACKAGE.parent / room, _PACKAGE / "shipped" / room):
        if folder.is_dir():
            return folder
    raise refusal(
        "installation-incomplete",
        Place(file=str(_PACKAGE)),
        f"the program's own folder {room!r} is missing",
        hint="Install the program again.",
    )


def shelves(room: str, maker_folder: Path | None) -> list[Path]:
    """Return the folders to look in, the maker's first."""
    mine = (
        [maker_folder / room] if maker_folder is not None and (maker_folder / room).is_dir() else []
    )
    return [*mine, shipped(room)]


def with_shelves(maker_folder: Path | None, *rooms: str) -> Path | None:
    """Return ``maker_folder`` if it has one of the rooms, or else None.

    Without them all that is found is ours, so that what was made of it serves every such folder.
    """
    return (
        maker_folder
        if maker_folder is not None and any((maker_folder / room).is_dir() for room in rooms)
        else None
    )


def stamps(room: str, names: str, maker_folder: Path | None) -> Stamps:
    """Return what tells files on the shelves from others and from their older selves.

    What was read from the shelves may be kept under these: a maker's file that changes while
    the program runs is read again, and two catalogs never see each other's.
    """
    found = []
    for folder in shelves(room, maker_folder):
        for file in sorted(folder.resolve().glob(names)):
            try:
                state = file.stat()
            except OSError:
                continue
            found.append((str(file), state.st_mtime_ns, state.st_size))
    return tuple(found)


def names(room: str, suffix: str, maker_folder: Path | None) -> list[str]:
    """Return the names, less ``suffix``, of every file of that kind on the shelves."""
    found = {
        path.name.removesuffix(suffix)
        for folder in shelves(room, maker_folder)
        for path in folder.glob(f"*{suffix}")
    }
    return sorted(found)


def find(room: str, name: str, suffix: str, maker_folder: Path | None) -> Path:
    """Return the file called ``name`` + ``suffix``, the maker's own if there is one.

    Raises:
        LabelerError: if there is none, with the nearest name; or if the name leads out of
            the folder.
    """
    known = names(room, suffix, maker_folder)
    if name in known:
        for folder in shelves(room, maker_folder):
            if (folder / (name + suffix)).is_file():
                return folder / (name + suffix)
    raise refusal(
        f"unknown-{room.removesuffix('s')}",
        Place(),
        f"there is no {room.removesuffix('s')} called {name!r}",
        hint=did_you_mean(name, known),
    )


def read_file(path: Path, largest: int, name: str = "") -> bytes:
    """Return the file's bytes; messages call it ``name``, or by its own name without the folder.

    Raises:
        LabelerError: if it cannot be read, or is larger than ``largest`` bytes.
    """
    place = Place(file=name or path.name)
    looked_at(path)
    try:
        with path.open("rb") as file:
            raw = file.read(largest + 1)
            size = path.stat().st_size
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise refusal("file-unreadable", place, f"cannot be read: {reason}") from None
    if len(raw) > largest:
        raise refusal(
            "file-too-large",
            place,
            "is too large to be what it is called",
            found=f"{size:,} bytes",
            expected=f"at most {largest:,} bytes",
        )
    return raw


# ------------------------------------------------------------------- what was read, and kept


class Readings:
    """What was made of a maker's files, kept until one of the files changes. Thread-safe.

    A program that answers many questions about one folder reads it once: within `using`, what is
    made by `kept` is made again only if a file that was read for it, or a list of names that was
    looked through, is no longer as it was.
    """

    def __init__(self, most: int = 16) -> None:
        self._most = most
        self._made: dict[Hashable, tuple[dict[_Look, _State], Any]] = {}
        self._gate = Lock()
        self._turns: WeakValueDictionary[Hashable, Any] = WeakValueDictionary()

    @contextmanager
    def using(self) -> Iterator[None]:
        """Keep what this thread reads, until the block is left."""
        token = _readings.set(self)
        try:
            yield
        finally:
            _readings.reset(token)

    def made(self, key: Hashable, make: Callable[[], Value]) -> Value:
        """Return what was made under a name, made again if a file has changed since."""
        with self._gate:
            turn = self._turns.setdefault(key, RLock())
        with turn:  # who asks for the same meanwhile would only read it too
            with self._gate:
                looks, value = self._made.pop(key, ({}, None))
            if not looks or any(_state(*look) != was for look, was in looks.items()):
                looks = {}
                token = _looks.set(looks)
                try:
                    value = make()
                finally:
                    _looks.reset(token)
            with self._gate:
                self._made[key] = looks, value
                while len(self._made) > self._most:
                    self._made.pop(next(iter(self._made)))
        if (around := _looks.get()) is not None:
            around.update({look: was for look, was in looks.items() if look not in around})
        return value  # type: ignore[no-any-return]  # as it was made under this name


def kept(key: Hashable, make: Callable[[], Value]) -> Value:
    """Return what ``make`` makes of files; within `Readings.using` only where one has changed.

    Args:
        key: names what is made, and everything that it depends on beside files.
        make: reads them, by `read_file` and `looked_at`.
    """
    readings = _readings.get()
    return readings.made(key, make) if readings is not None else make()


def looked_at(path: Path, names: str = "") -> None:
    """Note that a file is read, or that a folder is looked through for ``names``, ``**`` for all.

    It is noted before the file is read: one that is changed meanwhile is read again.
    """
    if (looks := _looks.get()) is not None and (path, names) not in looks:
        looks[path, names] = _state(path, names)


_Look = tuple[Path, str]
_State = tuple[object, ...]

_readings: ContextVar[Readings | None] = ContextVar("_readings", default=None)
_looks: ContextVar[dict[_Look, _State] | None] = ContextVar("_looks", default=None)

_COARSE = 2_000_000_000
"""Nanoseconds within which two changes may bear one time: FAT counts in steps of two seconds."""


def _state(path: Path, names: str) -> _State:
    """Return what tells a file, or the names in a folder, from what it was before."""
    try:
        if names == "**":
            return tuple(sorted(one.relative_to(path).as_posix() for one in path.rglob("*")))
        if names:
            found = [one.name for one in path.iterdir()]
            return tuple(sorted(one for one in found if fnmatchcase(one.casefold(), names)))
        state = path.stat()
    except OSError as error:
        return (error.errno,)
    latest = max(state.st_mtime_ns, state.st_ctime_ns)
    just_now = abs(time.time_ns() - latest) < _COARSE
    same = (state.st_mtime_ns, state.st_ctime_ns, state.st_size, state.st_ino)
    return (*same, object()) if just_now else same  # which is like no other: read it again


_DISK_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_REFUSED = {errno.EACCES, errno.EPERM, errno.EROFS}


in_place: list[Path] = []
"""Files and folders that this process gave their names, for what a stopped command has to say."""


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
        with tempfile.TemporaryDirectory() as folder:
            whole = Path(folder) / path.name
            with whole.open("xb") as copy:
                _lock(copy.fileno())
                yield copy
            with _explained(path):
                device = path.open("wb")
            with _disk_full_explained(path), device, whole.open("rb") as ready:
                shutil.copyfileobj(ready, device)
        return
    sweep(path.parent)
    part = path.with_name(f".{path.name[:_NAME_KEPT]}.{secrets.token_hex(6)}.part")
    file = None
    try:
        with _explained(path):
            file = part.open("xb")
            while not _kept(file, part):  # a sweeper was faster than our lock
                file.close()
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
            if in_place[-1:] == [path]:  # it was about to get its name
                in_place.pop()
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
        raise refusal(
            "another-file-there",
            Place(file=str(path)),
            "there is a file of another kind here, and it will not be touched",
            hint="Give another name, or take that file away first.",
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
                faults.append(
                    stop(
                        "one-name-for-two",
                        Place(file=str(path)),
                        "two files were to get this name, and one would take the other's place",
                        hint="Give each a name of its own.",
                    )
                )
        named.add(name)
    if faults:
        raise LabelerError(faults)


def _is_device(path: Path) -> bool:
    """Tell whether ``path`` is a device, a pipe, or a link to one, such as /dev/stdout."""
    return path.exists() and not path.is_file() and not path.is_dir()


_NAME_KEPT = 40
"""Letters of the name in the hidden file's, which must stay under the 255 bytes of most disks."""


_PART = re.compile(r"\..+\.(?:[0-9a-f]{12}\.part|[0-9]+-[0-9a-f]{8}(?:-journal|-wal|-shm)?)")
"""The names of files in the making, and of a ledger's copies."""

_LONG_DEAD = 3600.0
"""Seconds after which what nobody locks by its nature, a folder or a ledger's copy, is nobody's."""


def sweep(folder: Path) -> None:
    """Take away what killed commands left in a folder: hidden files that nobody is at work on.

    What can't be looked at or taken away stays, without a word: it is in nobody's way.
    """
    with contextlib.suppress(OSError):
        for left in folder.iterdir():
            if not _PART.fullmatch(left.name):
                continue
            with contextlib.suppress(OSError):
                locks = left.suffix == ".part" and left.is_file()
                old = left.stat().st_mtime < time.time() - _LONG_DEAD
                if left.is_dir() and old:
                    shutil.rmtree(left)
                elif left.is_file() and (old or locks) and not in_hand(left):
                    left.unlink()


def in_hand(part: Path) -> bool:
    """Tell whether somebody is at work on a file that has not got its name yet.

    Its writer holds a lock on it to the end, which the system takes away when the writer is killed.
    """
    try:
        with part.open("rb") as file:
            return not _lock(file.fileno())
    except FileNotFoundError:
        return False
    except OSError:
        return True  # nobody can tell


def _kept(file: BinaryIO, part: Path) -> bool:
    """Lock a file in the making; tell whether it is still there, as nobody swept it meanwhile."""
    _lock(file.fileno(), wait=True)
    try:
        return os.path.samestat(part.stat(), os.fstat(file.fileno()))
    except FileNotFoundError:
        return False


def held_alone(path: Path) -> BinaryIO | None:
    """Open a file for this process alone, made if it is not there; None if another has it so.

    Only its owner can read it, also where it came otherwise by an archive. It is held until it is
    closed, or the process ends, however it does.

    Raises:
        OSError: if it can't be opened.
    """
    number = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
    file = os.fdopen(number, "r+b")
    if sys.platform != "win32":
        with contextlib.suppress(OSError):  # another's, or a disk that knows no owners
            os.fchmod(number, 0o600)
    if _lock(file.fileno()):
        return file
    file.close()
    return None


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold a folder's files while one is read, changed and written; others who do so wait.

    The lock dies with its holder. Where a folder can't be locked, as on Windows or over a network,
    a hidden file in it is.

    Raises:
        OSError: if neither can be opened.
    """
    held = -1
    try:
        with contextlib.suppress(OSError):
            held = os.open(folder, os.O_RDONLY)
        if held < 0 or not _lock(held, wait=True):
            if held >= 0:
                os.close(held)
            held = os.open(folder / ".labeler.lock", os.O_RDWR | os.O_CREAT, 0o600)
            _lock(held, wait=True)
        yield
    finally:
        if held >= 0:
            os.close(held)


if sys.platform == "win32":
    import msvcrt

    def _lock(file: int, wait: bool = False) -> bool:
        """Lock an open file until it is closed; tell whether it was free.

        One byte far behind its end is locked, for Windows lets nobody else read what is.
        """
        at = os.lseek(file, 0, os.SEEK_CUR)
        os.lseek(file, 1 << 30, os.SEEK_SET)
        try:
            msvcrt.locking(file, msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        finally:
            os.lseek(file, at, os.SEEK_SET)
        return True

else:
    import fcntl

    def _lock(file: int, wait: bool = False) -> bool:
        """Lock an open file or folder until it is closed; tell whether it was free."""
        try:
            fcntl.flock(file, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:  # somebody has it, or this disk knows no locks
            return False
        return True


def _take_the_name(file: BinaryIO, part: Path, path: Path) -> None:
    """Bring all of the file to the disk, then give it its name in one step."""
    file.flush()
    os.fsync(file.fileno())
    file.close()
    if path.exists():
        part.chmod(stat.S_IMODE(path.stat().st_mode))
    in_place.append(path)  # first, so that no order to stop can come between
    part.replace(path)
    with contextlib.suppress(OSError):  # not every system lets a folder be synced
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _nothing_in_the_way(path: Path) -> None:
    if path.is_dir():
        raise refusal(
            "folder-in-the-way",
            Place(file=str(path)),
            "a folder has this name, so no file can be written there",
            hint="Give the name of a file in it.",
        )
    if not path.parent.is_dir():
        raise refusal(
            "no-such-folder",
            Place(file=str(path)),
            f"there is no folder {str(path.parent)!r} to write into",
            hint="Make the folder first, or choose another.",
        )


@contextmanager
def _explained(path: Path) -> Iterator[None]:
    """Turn what the system says about ``path`` into a finding."""
    try:
        yield
    except OSError as error:
        raise LabelerError(_cannot_write(path, error)) from error
    except ValueError as error:
        raise refusal(
            "not-writable", Place(file=repr(str(path))), "no file can have this name"
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


def system_refusal(error: OSError, file: str = "") -> Finding:
    """Return what the system refuses, as a finding.

    Args:
        error: as the system says it.
        file: what was written or read; left out, what the error names.
    """
    place = Place(file=file or str(error.filename or ""))
    if error.errno in _DISK_FULL:
        hint = "Free some space and do it again; what was there before is untouched."
        what = "to write this file" if place.file else "on the disk"
        return stop("disk-full", place, f"there is no room left {what}", hint=hint)
    reason = (error.strerror or str(error)).lower()
    return stop("system-refuses", place, f"the system refuses: {reason}")


def _cannot_write(path: Path, error: OSError) -> Finding:
    if error.errno in _DISK_FULL:
        return system_refusal(error, str(path))
    place = Place(file=str(path))
    if error.errno in _REFUSED:
        hint = "Close it elsewhere, or choose another folder."
        return stop("not-writable", place, "this file may not be written here", hint=hint)
    return stop("not-writable", place, f"this file can't be written: {error.strerror or error}")


@contextmanager
def new_folder(path: Path) -> Iterator[Path]:
    """Yield a folder to fill; its files become ``path``'s when the block ends without an error.

    Where ``path`` is there already, each file takes its place in it, one by one, and others stay.

    Raises:
        LabelerError: if a file has the name, or it can't be written.
    """
    path = Path(os.path.realpath(path))
    if path.exists() and not path.is_dir():
        raise refusal(
            "file-in-the-way",
            Place(file=str(path)),
            "a file has this name",
            hint="Give the name of a folder.",
        )
    sweep(path.parent)
    draft = path.with_name(f".{path.name[:_NAME_KEPT]}.{secrets.token_hex(6)}.part")
    try:
        try:
            draft.mkdir()
            yield draft
            if not path.exists():
                in_place.append(path)
                draft.rename(path)
                return
            for file in sorted(draft.rglob("*")):
                if file.is_file():
                    place = path / file.relative_to(draft)
                    place.parent.mkdir(parents=True, exist_ok=True)
                    file.replace(place)
                    in_place.append(place)
        except OSError as error:
            raise LabelerError(_cannot_write(Path(error.filename or path), error)) from error
    finally:
        if draft.exists() and in_place[-1:] == [path]:
            in_place.pop()
        shutil.rmtree(draft, ignore_errors=True)


class Hashed:
    """A file being written that knows the SHA-256 of what went into it."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._digest = hashlib.sha256()

    def write(self, data: bytes) -> int:
        """Write on."""
        self._digest.update(data)
        return self._file.write(data)

    @property
    def hexdigest(self) -> str:
        """The SHA-256 of all so far, in hexadecimal."""
        return self._digest.hexdigest()


def settle(file: BinaryIO) -> None:
    """Bring all that was written to the disk. A pipe or a device has none."""
    file.flush()
    with contextlib.suppress(OSError):
        os.fsync(file.fileno())
