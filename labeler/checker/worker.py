"""Reads files in processes of their own, whose processor time and memory are bounded.

A PDF can be made to hang a reader, to fill its memory or to crash it. What happens to a worker does
not happen to this process: it gets a report, or word that there will be none. A worker is kept for
the next file, since starting one takes longer than checking a sheet, and several share the pages of
a long run. How busy the machine is has no part in it: a worker counts its own processor time.

The standard library's executors unpickle whatever another process sends, which one that a hostile
file has taken over could use. What comes back here is read by an unpickler that knows a report's
own classes and nothing else.
"""

from __future__ import annotations

import atexit
import contextlib
import datetime as dt
import io
import os
import pickle
import queue
import signal
import struct
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import IO, Any, NamedTuple, cast

from labeler.checker.pdf.file import UnreadableError, limit, read_bytes, untouched
from labeler.checker.report import Report
from labeler.checker.rulebook import asks, finding
from labeler.checker.subject import CheckRequest, KnownLot, LotLookup, Progress
from labeler.findings import Finding, Place

_SIZE = struct.Struct(">Q")
_LARGEST = 1 << 30
TOO_LONG = int(getattr(signal, "SIGXCPU", signal.SIGTERM))
"""The signal that ends a worker which has used up its processor time."""

_FILES_EACH = 200
"""Files that one worker reads before another takes its place."""

_PAGES_IN_A_ROW = 8
"""Pages that one worker takes before it is the next one's turn: alike pieces stand together."""

_SAFE = {
    ("labeler.checker.report", "Report"),
    ("labeler.checker.pieces", "SideResult"),
    ("labeler.checker.pieces", "PageSeen"),
    ("labeler.checker.claims", "PlaceClaim"),
    ("labeler.checker.claims", "PieceClaim"),
    ("labeler.checker.rules.required", "Standing"),
    ("labeler.checker.rules.required", "SideText"),
    ("labeler.findings", "Finding"),
    ("labeler.findings", "Place"),
    ("labeler.findings", "Grade"),
    ("datetime", "date"),
}


class GoneError(Exception):
    """The worker died, took too much, or could not do what was asked; ``said`` tells of that."""

    def __init__(self, why: str, said: Finding | None = None) -> None:
        self.said = said
        super().__init__(why)


class _Unpickler(pickle.Unpickler):
    """Reads a report, or what stands on pages, and nothing that could do anything."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) in _SAFE:
            return super().find_class(module, name)
        raise pickle.UnpicklingError(f"{module}.{name} is no part of an answer")


def send(pipe: IO[bytes], message: Any) -> None:
    """Send a message through a pipe."""
    raw = pickle.dumps(message, protocol=5)
    pipe.write(_SIZE.pack(len(raw)) + raw)
    pipe.flush()


def receive(pipe: IO[bytes], load: Callable[[IO[bytes]], Any]) -> Any:
    """Return the next message of a pipe.

    Raises:
        EOFError: if no more comes.
        ValueError: if it is too large to be an answer.
    """
    head = pipe.read(_SIZE.size)
    if len(head) < _SIZE.size:
        raise EOFError
    (size,) = _SIZE.unpack(head)
    if size > _LARGEST:
        raise ValueError("a message of this size")
    return load(io.BytesIO(pipe.read(size)))


# ------------------------------------------------------------------------- who asks


class Bounds(NamedTuple):
    """What a worker may use up for a file: so much, and more with every page that it has read."""

    seconds: float
    seconds_a_page: float
    memory: float
    memory_a_page: float

    @classmethod
    def usual(cls) -> Bounds:
        """Return the house's limits."""
        return cls(*(limit(f"worker-{name}") for name in _LIMITS))


_LIMITS = ("seconds", "seconds-a-page", "memory-bytes", "memory-bytes-a-page")


class Worker:
    """Another process, and what it has sent."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "labeler.checker.answering"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
        )
        self._to = cast("IO[bytes]", self._process.stdin)
        self._from = cast("IO[bytes]", self._process.stdout)
        self._came: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._files = 0
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        message: Any = ()
        while message is not None:
            try:
                message = receive(self._from, lambda raw: _Unpickler(raw).load())
            except (OSError, EOFError, ValueError, pickle.UnpicklingError, struct.error):
                message = None
            self._came.put(message)

    @property
    def alive(self) -> bool:
        """Whether it can be asked."""
        return self._process.poll() is None and self._files < _FILES_EACH

    def begin(self, kind: str, *asked: Any) -> None:
        """Ask something new.

        Raises:
            GoneError: if it has died.
        """
        self._files += 1
        self.send((kind, Bounds.usual(), asked))

    def next(self) -> Any:
        """Return what it sends next.

        Raises:
            GoneError: if it died, of a limit or otherwise.
        """
        message = self._came.get()
        if message is None:
            self._came.put(None)
            code = self._process.wait()
            if abs(code) == TOO_LONG:
                raise GoneError("it takes too long to read")
            raise GoneError("reading it takes too much memory, or breaks the reader")
        return message

    def send(self, message: Any) -> None:
        """Send it a message.

        Raises:
            GoneError: if it has died.
        """
        try:
            send(self._to, message)
        except (OSError, ValueError) as error:
            raise GoneError("the reader is gone") from error

    def kill(self) -> None:
        """End the process, whatever it does."""
        self._files = _FILES_EACH
        self._process.kill()
        self._process.wait()
        for pipe in (self._to, self._from):
            with contextlib.suppress(OSError):
                pipe.close()


_spare: list[Worker] = []
_lock = threading.Lock()


@contextlib.contextmanager
def borrowed(count: int) -> Iterator[list[Worker]]:
    """Lend workers that are idle, new ones if there are none; one of them is kept."""
    workers: list[Worker] = []
    try:
        while len(workers) < count:
            with _lock:
                worker = _spare.pop() if _spare else Worker()
            if worker.alive:
                workers.append(worker)
            else:
                worker.kill()
        yield workers
    except BaseException:
        for worker in workers:
            worker.kill()
        raise
    finally:
        for worker in workers:
            with _lock:
                keep = worker.alive and not _spare
                _spare.extend([worker] if keep else [])
            if not keep:
                worker.kill()


@atexit.register
def dismiss() -> None:
    """End the worker that is kept."""
    while _spare:
        _spare.pop().kill()


def _scratch() -> IO[bytes]:
    """Return a file without a name: where there are such, one in memory, since disks are full."""
    if hasattr(os, "memfd_create"):
        return os.fdopen(os.memfd_create("page"), "w+b")
    return tempfile.TemporaryFile()


def output_of(asked: Sequence[str], seconds: float) -> bytes:
    """Return what another program writes; nothing where it fails, or takes longer by the clock.

    It may take as much memory as the process that asks.
    """
    try:
        with _scratch() as out:  # a page is 25 MB, which a pipe brings in 800 parts
            subprocess.run(
                asked, check=True, stdin=subprocess.DEVNULL, stdout=out,
                stderr=subprocess.DEVNULL, timeout=seconds,
            )  # fmt: skip
            out.seek(0)
            return out.read()
    except (OSError, subprocess.SubprocessError):
        return b""


def check_pdf(
    path: Path,
    folder: Path,
    *,
    day: dt.date | None = None,
    known_lot: LotLookup | None = None,
    markets: Sequence[str] | None = None,
    progress: Progress | None = None,
) -> Report:
    """Return what is wrong with a finished PDF of labels or cards, whoever made it.

    It is read by a process of its own, whose processor time and memory are bounded: what is inside
    a file is no proof of who wrote it.

    Args:
        path: the PDF.
        folder: the catalog's folder.
        day: the day of the run; today, if none is given.
        known_lot: tells what the ledger knows of a lot; without it lots are not looked up.
        markets: places of sale to check for; those that each piece was made for, if none are
            given.
        progress: called after each page.
    """
    today = dt.date.today()  # noqa: DTZ011  (the maker's own day)
    request = CheckRequest(path, folder, day or today, tuple(markets or ()))
    return check(request, known_lot, progress)


def check(request: CheckRequest, known_lot: LotLookup | None, progress: Progress | None) -> Report:
    """Return the report on a file, from a worker."""
    try:
        with borrowed(1) as (worker,):
            worker.begin("check", request, known_lot is not None)
            while True:
                kind, *rest = worker.next()
                if kind == "page" and progress:
                    progress(*rest)
                elif kind == "lot" and known_lot:
                    worker.send(known_lot(rest[0]))
                elif kind == "report" and isinstance(rest[0], Report):
                    return rest[0]
    except GoneError as error:
        return Report(request.name, (gone_at(request.path, str(error)),), day=request.day)


def origin(path: Path) -> Mapping[str, Any]:
    """Return what a PDF says of how it was made: ``run``, ``book``, ``keywords``.

    ``run`` and ``book`` are the sheets inside, as bytes, or None. Nothing of it is to be trusted.

    Raises:
        GoneError: if it can't be read.
    """
    said: Mapping[str, Any] = _asked("origin", path)
    return said


def differences(path: Path, again: Path) -> tuple[Finding, ...]:
    """Return in what a PDF differs from the same run made again.

    Raises:
        GoneError: if it can't be read.
    """
    found: tuple[Finding, ...] = _asked("compare", path, again)
    return found


def drawn_twice(path: Path) -> tuple[tuple[Finding, ...], str]:
    """Return where poppler draws a PDF otherwise than PDFium, and what is left open of that.

    Raises:
        GoneError: if it can't be read.
    """
    found, still_open = _asked("twice", path)
    return found, str(still_open)


def _asked(kind: str, *asked: Path) -> Any:
    with borrowed(1) as (one,):
        one.begin(kind, *asked)
        kind, answer, *said = one.next()
        if kind != "answer":
            raise GoneError(str(answer), *said)
        return answer


def gone_at(path: Path, why: str) -> Finding:
    """Return that the reader of a file did not get to its end."""
    try:
        return gone(path.name, read_bytes(path), why)
    except UnreadableError as error:
        return error.finding


@asks("file-hostile")
def gone(name: str, data: bytes, why: str) -> Finding:
    """Return that a reader did not get to the end of a file.

    Of one that still is as our press wrote it nothing is said that is said of strangers'.
    """
    ours = untouched(data)
    return finding("checker-failed" if ours else "file-hostile", Place(file=name), found=why)


def workers_for(sides: int, pages: int) -> int:
    """Return how many workers share so many different sides on so many pages; one does not pay.

    Each takes about 150 MB, and as long to start as reading three sheets of labels.
    """
    if sides + limit("parallel-sides-a-page") * pages < limit("parallel-sides"):
        return 1
    try:
        cores = len(os.sched_getaffinity(0))
    except AttributeError:  # only some systems tell what a process may use
        cores = os.cpu_count() or 1
    return min(cores, int(limit("parallel-workers")))


@contextlib.contextmanager
def side_by_side(
    request: CheckRequest,
    lots: Mapping[str, KnownLot | None] | None,
    numbers: Sequence[int],
    count: int,
) -> Iterator[Callable[[int], Any]]:
    """Lend what tells of pages that several workers read, to be asked in the pages' order.

    Args:
        request: the file, which our press wrote, and what it is held against.
        lots: what the ledger knows of every lot in the run; None without one.
        numbers: the pages.
        count: of workers.

    Raises:
        GoneError: if one of them died, took too much or met what it can't read.
    """
    with borrowed(count) as workers:
        shares: list[list[int]] = [[] for _ in workers]
        for first in range(0, len(numbers), _PAGES_IN_A_ROW):
            share = shares[first // _PAGES_IN_A_ROW % count]
            share += numbers[first : first + _PAGES_IN_A_ROW]
        reader: dict[int, Worker] = {}
        for worker, share in zip(workers, shares, strict=True):
            worker.begin("pages", request, lots, share)
            reader |= dict.fromkeys(share, worker)

        def look(number: int) -> Any:
            kind, answer = reader[number].next()
            if kind != "seen":
                raise GoneError(str(answer))
            return answer

        yield look
