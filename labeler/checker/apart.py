"""Checks a strange file in a process of its own, whose memory and time are bounded.

A PDF can be made to hang a reader, to fill its memory or to crash it. What happens to the other
process does not happen to this one: it gets a report, or word that there will be none. The other
process is kept for the next file, since starting one takes longer than checking a sheet. The same
processes read the pages of a long run side by side (`labeler.checker.abreast`).

Messages are pickled values, each after its length. What comes back is read by an unpickler that
knows a report's own classes and nothing else.
"""

from __future__ import annotations

import atexit
import contextlib
import io
import os
import pickle
import queue
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from typing import IO, TYPE_CHECKING, Any, cast

from labeler.checker.limits import limit
from labeler.checker.report import Report
from labeler.checker.rulebook import asks, finding
from labeler.findings import Place

if TYPE_CHECKING:
    from labeler.checker.question import CheckRequest, LotBook, Progress

_HEAD = struct.Struct(">Q")
_LARGEST = 1 << 30
_FILES_EACH = 200
"""Files that one process checks before another takes its place."""

_MOST_WAITING = 16
"""Messages that are kept until they are asked for; a process that is ahead waits."""

_SHORT_WHILE = 0.2
"""Seconds."""


class GoneError(Exception):
    """The other process died, took too long, or could not do what was asked."""


class _Unpickler(pickle.Unpickler):
    """Reads a report, or what stands on pages, and nothing that could do anything."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) in _SAFE:
            return super().find_class(module, name)
        raise pickle.UnpicklingError(f"{module}.{name} is no part of an answer")


_SAFE = {
    ("labeler.checker.report", "Report"),
    ("labeler.checker.pieces", "SideResult"),
    ("labeler.checker.pieces", "PageSeen"),
    ("labeler.checker.places", "PlaceClaim"),
    ("labeler.checker.places", "PieceClaim"),
    ("labeler.checker.rules.presence", "Standing"),
    ("labeler.checker.rules.presence", "SideText"),
    ("labeler.findings", "Finding"),
    ("labeler.findings", "Place"),
    ("labeler.findings", "Grade"),
    ("datetime", "date"),
}


def check(question: CheckRequest, known_lot: LotBook | None, progress: Progress | None) -> Report:
    """Return the report on a file, from another process."""
    with borrowed(1) as (worker,):
        try:
            return worker.ask(question, known_lot, progress)
        except GoneError as error:
            worker.kill()
            return _no_report(question, str(error))


@asks("file-hostile")
def _no_report(question: CheckRequest, why: str) -> Report:
    place = Place(file=question.name)
    said = finding("file-hostile", place, found=why)
    return Report(question.name, (said,), day=question.day)


# ------------------------------------------------------------------------- this side of the pipe


class Worker:
    """Another process, and what it has sent."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "labeler.checker.apart"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
        )
        self._to: IO[bytes] = cast("IO[bytes]", self._process.stdin)
        self._from: IO[bytes] = cast("IO[bytes]", self._process.stdout)
        self._came: queue.Queue[Any] = queue.Queue(_MOST_WAITING)
        self._dismissed = threading.Event()
        self.files = 0
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        while True:
            try:
                message = _receive(self._from, lambda raw: _Unpickler(raw).load())
            except (OSError, EOFError, ValueError, pickle.UnpicklingError, struct.error):
                message = None
            while not self._dismissed.is_set():
                with contextlib.suppress(queue.Full):
                    self._came.put(message, timeout=_SHORT_WHILE)
                    break
            if message is None or self._dismissed.is_set():
                return

    @property
    def alive(self) -> bool:
        """Whether it can be asked."""
        return self._process.poll() is None and self.files < _FILES_EACH

    def ask(
        self, question: CheckRequest, known_lot: LotBook | None, progress: Progress | None
    ) -> Report:
        """Send a question and answer what is asked back, until the report comes.

        Raises:
            GoneError: if it dies or takes too long.
        """
        self.begin("check", question, known_lot is not None)
        begin, whole = time.monotonic(), limit("apart-seconds")
        while True:
            kind, *rest = self.next(begin + whole - time.monotonic())
            if kind == "report":
                (report,) = rest
                if isinstance(report, Report):
                    return report
                raise GoneError("it sent back no report")
            if kind == "page":
                page, pages = rest
                whole = limit("apart-seconds") + limit("apart-seconds-a-page") * page
                if progress:
                    progress(page, pages)
            elif kind == "lot" and known_lot:
                self.send(as_plain(known_lot(rest[0])))

    def begin(self, kind: str, *asked: Any) -> None:
        """Ask something new.

        Raises:
            GoneError: if it has died.
        """
        self.files += 1
        self.send((kind, asked))

    def next(self, seconds: float) -> Any:
        """Return what it sends next, if it does within so many seconds.

        Raises:
            GoneError: if it dies or takes too long.
        """
        if self._dismissed.is_set():
            raise GoneError("the reader is gone")
        try:
            message = self._came.get(timeout=max(0.0, seconds))
        except queue.Empty:
            raise GoneError("it takes too long to read") from None
        if message is None:
            raise GoneError("reading it takes too much memory, or breaks the reader")
        return message

    def send(self, message: Any) -> None:
        """Send it a message.

        Raises:
            GoneError: if it has died.
        """
        try:
            _send(self._to, message)
        except (OSError, ValueError) as error:
            raise GoneError("the reader is gone") from error

    def kill(self) -> None:
        """End the process, whatever it does."""
        self.files = _FILES_EACH
        self._dismissed.set()
        self._process.kill()
        self._process.wait()
        for pipe in (self._to, self._from):
            with contextlib.suppress(OSError):
                pipe.close()


def as_plain(known: Any) -> tuple[str, bool, Any] | None:
    """Return what the ledger knows of a lot as values that go through a pipe."""
    if known is None:
        return None
    return known.sku, bool(known.void), getattr(known, "product", None)


_spare: list[Worker] = []
_lock = threading.Lock()


@contextlib.contextmanager
def borrowed(count: int) -> Iterator[list[Worker]]:
    """Lend processes that are idle, new ones if there are none; one of them is kept."""
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
    finally:
        for worker in workers:
            with _lock:
                keep = worker.alive and not _spare
                _spare.extend([worker] if keep else [])
            if not keep:
                worker.kill()


@atexit.register
def _dismiss() -> None:
    while _spare:
        _spare.pop().kill()


# ----------------------------------------------------------------------- both sides of the pipe


def _send(pipe: IO[bytes], message: Any) -> None:
    raw = pickle.dumps(message, protocol=5)
    pipe.write(_HEAD.pack(len(raw)) + raw)
    pipe.flush()


def _receive(pipe: IO[bytes], load: Callable[[io.BytesIO], Any]) -> Any:
    head = pipe.read(_HEAD.size)
    if len(head) < _HEAD.size:
        raise EOFError
    (size,) = _HEAD.unpack(head)
    if size > _LARGEST:
        raise ValueError("a message of this size")
    return load(io.BytesIO(pipe.read(size)))


# ---------------------------------------------------------------------- the other side of the pipe


class AskedLot:
    """What the asking process knows of a lot."""

    def __init__(self, known: tuple[str, bool, Any]) -> None:
        self.sku, self.void, self.product = known


def serve(questions: IO[bytes], answers: IO[bytes]) -> None:
    """Answer questions until no more come."""
    while True:
        try:
            kind, asked = _receive(questions, pickle.load)
        except EOFError:
            return
        if kind == "pages":
            _look_at_pages(answers, *asked)
        else:
            _send(answers, ("report", _answer(questions, answers, *asked)))


def _look_at_pages(
    answers: IO[bytes], question: CheckRequest, lots: dict[str, Any] | None, numbers: list[int]
) -> None:
    """Send what stands on some pages of a file that our press wrote, or why it can't be told."""
    from labeler.checker.looking import look_at_pages

    known = None
    if lots is not None:
        plain = lots

        def known(code: str) -> AskedLot | None:
            return AskedLot(plain[code]) if plain.get(code) else None

    assert question.line is not None
    try:
        for seen in look_at_pages(question, question.line, known, numbers):
            _send(answers, ("seen", seen))
    except Exception as error:  # whoever asked reads the file in another way then
        _send(answers, ("broken", f"{type(error).__name__}: {error}"[:160]))


def _answer(
    questions: IO[bytes], answers: IO[bytes], question: CheckRequest, asks_lots: bool
) -> Report:
    from labeler.checker import judge
    from labeler.checker.file import UnreadableError, read_bytes

    def known_lot(code: str) -> AskedLot | None:
        _send(answers, ("lot", code))
        known = _receive(questions, pickle.load)
        return None if known is None else AskedLot(known)

    def progress(page: int, pages: int) -> None:
        _send(answers, ("page", page, pages))

    try:
        data = read_bytes(question.path)
        lots = known_lot if asks_lots else None
        return judge.check_bytes(data, question, lots, progress, trusted=False)
    except UnreadableError as error:
        return Report(question.name, (error.finding,), day=question.day)
    except MemoryError:
        return _no_report(question, "it takes too much memory to read")
    except Exception as error:  # whatever a broken file does to a reader ends here
        return _broken(question, error)


@asks("file-damaged")
def _broken(question: CheckRequest, error: Exception) -> Report:
    place = Place(file=question.name)
    said = finding("file-damaged", place, found=f"{type(error).__name__}: {error}"[:160])
    return Report(question.name, (said,), day=question.day)


def _bound_memory() -> None:
    """Take no more memory than any run of labels needs, where the system can be told so."""
    try:
        import resource
    except ImportError:
        return
    most = int(limit("apart-memory-bytes"))
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def main() -> None:
    """Serve the process that started this one."""
    _bound_memory()
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    serve(sys.stdin.buffer, answers)


if __name__ == "__main__":
    main()
