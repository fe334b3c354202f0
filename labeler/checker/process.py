"""Processes that read files for this one: how they are started, asked, lent and ended.

A PDF can be made to hang a reader, to fill its memory or to crash it. What happens to a worker does
not happen to this process: it gets an answer, or word that there will be none. A worker is kept for
the next file, since starting one takes longer than checking a sheet. How busy the machine is has
no part in it: a worker counts its own processor time.

The standard library's executors unpickle whatever another process sends, which one that a hostile
file has taken over could use. What comes back here is read by an unpickler that knows a report's
own classes and nothing else.

What takes long to load is not loaded here: a command may start a worker before anything else.
"""

from __future__ import annotations

import atexit
import contextlib
import io
import os
import pickle
import queue
import signal
import struct
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from typing import IO, TYPE_CHECKING, Any, NamedTuple, cast

if TYPE_CHECKING:
    from labeler.findings import Finding

_SIZE = struct.Struct(">Q")
_LARGEST = 1 << 30
TOO_LONG = int(getattr(signal, "SIGXCPU", signal.SIGTERM))
"""The signal that ends a worker which has used up its processor time."""

_FILES_EACH = 200
"""Files that one worker reads before another takes its place."""

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
        from labeler.checker.pdf.file import limit  # at hand by now, and too long in coming before

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


def begin_one() -> None:
    """Start a worker that will be borrowed later, so that it loads what it needs meanwhile.

    Where none can be started, whoever borrows one is told.
    """
    with _lock, contextlib.suppress(OSError):
        if not _spare:
            _spare.append(Worker())


@atexit.register
def dismiss() -> None:
    """End the worker that is kept."""
    while _spare:
        _spare.pop().kill()
