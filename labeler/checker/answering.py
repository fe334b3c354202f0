"""The other process of the checker: it answers what a worker is asked, within its bounds."""

from __future__ import annotations

import contextlib
import importlib
import math
import os
import pickle
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from typing import IO, Any

from pypdf.errors import LimitReachedError

from labeler import files
from labeler.checker.compare import differences_of, drawing_differences_of, origin_of
from labeler.checker.judge import check_bytes
from labeler.checker.page.sides import StrangePageError
from labeler.checker.pdf.file import (
    TooMuchError,
    UnreadableError,
    in_words,
    read_bytes,
    untouched,
)
from labeler.checker.pieces import failed, look_at_pages, while_reading
from labeler.checker.process import TOO_LONG, Bounds, GoneError, receive, send
from labeler.checker.report import Report
from labeler.checker.rulebook import asks, finding
from labeler.checker.subject import CheckRequest, KnownLot
from labeler.checker.worker import gone
from labeler.findings import Finding, Place

resource: Any = None
with contextlib.suppress(ImportError):  # where a system has no limits, a worker watches itself
    resource = importlib.import_module("resource")


class _Purse:
    """What this process may use up before the system, or it itself, ends it."""

    def __init__(self) -> None:
        self._most = math.inf
        if resource is None:
            threading.Thread(target=self._watch, daemon=True).start()

    def fill(self, bounds: Bounds) -> None:
        """Begin a file."""
        self._bounds, self._begun = bounds, time.process_time()
        self.page(0)

    def page(self, count: int) -> None:
        """Allow for what comes after so many pages."""
        bounds = self._bounds
        self._most = self._begun + bounds.seconds + bounds.seconds_a_page * count
        if resource is not None:
            _bound(resource.RLIMIT_CPU, math.ceil(self._most))
            _bound(resource.RLIMIT_AS, int(bounds.memory + bounds.memory_a_page * count))

    def _watch(self) -> None:
        while time.process_time() < self._most:
            time.sleep(0.5)
        os.kill(os.getpid(), TOO_LONG)


_ANSWERS: Mapping[str, Callable[..., Any]] = {
    "origin": origin_of, "compare": differences_of, "twice": drawing_differences_of,
}  # fmt: skip


def _bound(what: int, most: int) -> None:
    """Let this process use no more of something, where the system can be told so."""
    with contextlib.suppress(ValueError, OSError):
        _, hard = resource.getrlimit(what)
        resource.setrlimit(what, (most, hard))


class _Server:
    """Answers the process that started this one."""

    def __init__(self, questions: IO[bytes], answers: IO[bytes]) -> None:
        self._questions = questions
        self._answers = answers
        self._purse = _Purse()

    def serve(self) -> None:
        """Answer questions until no more come.

        The catalog is kept for the next file, which most often is of the same; more than one would
        be taken off what a file may use.
        """
        readings = files.Readings(most=1)
        while True:
            try:
                kind, bounds, asked = receive(self._questions, pickle.load)
            except EOFError:
                return
            self._purse.fill(bounds)
            with readings.using():
                if kind == "pages":
                    self._tell_pages(*asked)
                elif kind in _ANSWERS:
                    self._tell_answer(kind, asked)
                else:
                    self._tell("report", self._report(*asked))

    def _tell(self, *message: Any) -> None:
        send(self._answers, message)

    def _tell_answer(self, kind: str, asked: Sequence[Any]) -> None:
        try:
            self._tell("answer", _ANSWERS[kind](self._purse.page, *asked))
        except UnreadableError as error:
            self._tell("broken", error.finding.message, error.finding)
        except (TooMuchError, LimitReachedError) as error:
            self._tell("broken", f"it holds too much: {in_words(error)}")
        except MemoryError:
            self._tell("broken", "it takes too much memory to read")
        except Exception as error:  # a fault of ours, or what a broken file does to a reader
            said = failed(error, Place(file=asked[0].name))
            self._tell("broken", said.message, said)

    def _tell_pages(
        self,
        request: CheckRequest,
        lots: Mapping[str, KnownLot | None] | None,
        numbers: Sequence[int],
    ) -> None:
        """Tell what stands on some pages of a file of our press, or why that can't be told."""
        try:
            pages = look_at_pages(request, None if lots is None else lots.get, numbers)
            for count, seen in enumerate(pages, 1):
                self._tell("seen", seen)
                self._purse.page(count)
        except Exception as error:  # whoever asked has the file read in another way then
            self._tell("broken", f"{type(error).__name__}: {error}"[:160])

    @asks("file-damaged")
    def _report(self, request: CheckRequest, asks_lots: bool) -> Report:
        def known_lot(code: str) -> KnownLot | None:
            self._tell("lot", code)
            known: KnownLot | None = receive(self._questions, pickle.load)
            return known

        def progress(page: int, pages: int) -> None:
            self._purse.page(page)
            self._tell("page", page, pages)

        lots = known_lot if asks_lots else None
        data, name = b"", request.name
        try:
            data = read_bytes(request.path)
            try:
                return check_bytes(data, request, lots, progress, trusted=untouched(data))
            except (StrangePageError, GoneError):
                return check_bytes(data, request, lots, progress, trusted=False)
        except UnreadableError as error:
            said: Finding = error.finding
        except MemoryError:
            said = gone(name, data, "it takes too much memory to read")
        except Exception as error:  # a fault of ours, or what a broken file does to a reader
            if while_reading(error) and not untouched(data):
                said = finding("file-damaged", Place(file=name), found=in_words(error))
            else:
                said = failed(error, Place(file=name))
        return Report(name, (said,), day=request.day)


def main() -> None:
    """Serve the process that started this one."""
    if resource is not None:
        _bound(resource.RLIMIT_CORE, 0)
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    _Server(sys.stdin.buffer, answers).serve()


if __name__ == "__main__":
    main()
