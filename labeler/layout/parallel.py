"""Many different pieces, laid out in as many processes as the machine has cores.

What comes back is what one process would have made, in the order of the jobs. A few pieces are
laid out in this process, since starting others would take longer; so are all of them where other
threads run here, which a forked process would have to do without.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Generator, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import connection, get_context, parent_process
from pathlib import Path

from labeler.findings import Finding, LabelerError
from labeler.layout.compose import Composed, Composer, Job
from labeler.marks import InkMode

_FEWEST = 600 if sys.platform == "linux" else 1_500
"""Pieces from which it pays. A piece from another process costs a tenth to a third more work than
one from this, the more the fewer there are; one that is not forked imports everything again."""

_AT_ONCE = 100
"""Pieces that a process lays out before it sends them: what they have in common is sent once, and
an interrupted run ends within moments."""

Outcome = tuple[Composed | LabelerError, list[Finding]]
"""A piece, or what stands in its way, and what else is worth saying of it."""


def compose_each(composer: Composer, jobs: Sequence[Job]) -> Generator[Composed | LabelerError]:
    """Yield each job's piece, or the error that it ends in, in the order of the jobs.

    What is worth saying of the pieces is added to the composer's findings in the same order.
    """
    done = 0
    if len(jobs) >= _FEWEST and _cores() > 1 and threading.active_count() == 1:
        try:
            for made, findings in _in_processes(composer, jobs):
                composer.findings += findings
                done += 1
                yield made
        except BrokenProcessPool:  # a process was ended from outside, perhaps for its memory
            pass
    for job in jobs[done:]:
        made, _ = _outcome(composer, job)
        yield made


def _outcome(composer: Composer, job: Job) -> Outcome:
    before = len(composer.findings)
    try:
        made: Composed | LabelerError = composer.composed(job)
    except LabelerError as error:
        made = error
    return made, composer.findings[before:]


def _in_processes(composer: Composer, jobs: Sequence[Job]) -> Iterator[Outcome]:
    pool = ProcessPoolExecutor(
        min(_cores(), -(-len(jobs) // _AT_ONCE)),
        get_context("fork" if sys.platform == "linux" else "spawn"),
        _begin,
        (composer.own, composer.dpi, composer.ink, jobs),
    )
    try:
        ranges = [range(at, min(at + _AT_ONCE, len(jobs))) for at in range(0, len(jobs), _AT_ONCE)]
        futures: list[Future[list[Outcome]]] = [pool.submit(_compose, each) for each in ranges]
        for place, future in enumerate(futures):
            yield from future.result()
            futures[place] = Future()  # so that a piece is not kept twice
    finally:
        pool.shutdown(cancel_futures=True)


def _cores() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # only some systems tell what a process may use
        return os.cpu_count() or 1


# ------------------------------------------------------------------------- in the other process

_mine: tuple[Composer, Sequence[Job]]


def _begin(own: Path | None, dpi: int | None, ink: InkMode, jobs: Sequence[Job]) -> None:
    """Make ready to lay out; leave Ctrl-C to the process that asked, and end when it ends."""
    global _mine
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _mine = Composer(own, dpi=dpi, ink=ink), jobs


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(1)


def _compose(numbers: range) -> list[Outcome]:
    composer, jobs = _mine
    return [_outcome(composer, jobs[number]) for number in numbers]
