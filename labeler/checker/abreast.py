"""Reads the pages of a long run side by side, in as many processes as the machine has cores.

Each process opens the file anew and reads every so-many-th page; this one takes what they found
in the pages' order, so that the report is the same as if it had read them itself.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from labeler.checker.apart import GoneError, Worker, as_plain, borrowed
from labeler.checker.limits import limit

if TYPE_CHECKING:
    from labeler.checker.pieces import PageSeen
    from labeler.checker.question import CheckRequest


def hands(pages: int) -> int:
    """Return how many processes read so many different pages: one where more don't pay."""
    if pages < limit("abreast-pages"):
        return 1
    return min(_cores(), int(limit("abreast-processes")))


def _cores() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # only some systems tell what a process may use
        return os.cpu_count() or 1


class Abreast:
    """Pages that are being read, to be asked for in their order.

    Args:
        question: the file, which our press wrote, and what it is held against.
        lots: what the ledger knows of every lot in the run; None without one.
        numbers: the pages.
        workers: the processes.
    """

    def __init__(
        self,
        question: CheckRequest,
        lots: Mapping[str, Any] | None,
        numbers: Sequence[int],
        workers: Sequence[Worker],
    ) -> None:
        plain = None if lots is None else {code: as_plain(known) for code, known in lots.items()}
        self._readers: dict[int, Worker] = {}
        for place, worker in enumerate(workers):
            mine = list(numbers[place :: len(workers)])
            worker.begin("pages", question, plain, mine)
            self._readers |= dict.fromkeys(mine, worker)

    def look(self, number: int) -> PageSeen:
        """Return what stands on the next page.

        Raises:
            GoneError: if the process that reads it died, took too long or met what it can't read.
        """
        kind, answer = self._readers[number].next(limit("apart-seconds"))
        if kind != "seen":
            raise GoneError(str(answer))
        seen: PageSeen = answer
        return seen


@contextmanager
def abreast(
    question: CheckRequest, lots: Mapping[str, Any] | None, numbers: Sequence[int], count: int
) -> Iterator[Abreast]:
    """Read pages in ``count`` processes as long as the block lasts."""
    with borrowed(count) as workers:
        try:
            yield Abreast(question, lots, numbers, workers)
        except BaseException:
            for worker in workers:
                worker.kill()
            raise
