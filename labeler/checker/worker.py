"""What is asked of the processes that read files: reports, origins, comparisons, pages.

Several share the pages of a long run. `labeler.checker.answering` is the other end.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import subprocess
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import IO, Any

from labeler.checker.pdf.file import UnreadableError, limit, read_bytes, untouched
from labeler.checker.process import GoneError, Worker, borrowed
from labeler.checker.report import Report
from labeler.checker.rulebook import asks, finding
from labeler.checker.subject import CheckRequest, KnownLot, LotLookup, Progress
from labeler.findings import Finding, Place

_PAGES_IN_A_ROW = 8
"""Pages that one worker takes before it is the next one's turn: alike pieces stand together."""


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


def drawing_differences(path: Path) -> tuple[tuple[Finding, ...], str]:
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
