"""Many pieces laid out in several processes are those that one process makes, in its order."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from labeler.catalog.read import read_catalog
from labeler.findings import LabelerError
from labeler.layout import compose
from labeler.layout.compose import Composed, Composer, Job, compose_each
from labeler.units import Length

SIZE = (Length.from_inches(2.625).pt, Length.from_inches(1).pt)
TINY = (20.0, 20.0)


DEMO = Path(__file__).resolve().parents[2] / "demo_catalog"


@pytest.fixture(scope="module")
def jobs() -> list[Job]:
    """Labels of some of the demo's products; each seventh is too small for what it must say."""
    return [
        Job(product, "bag-strip", TINY if number % 7 == 3 else SIZE, lot="263290013")
        for number, product in enumerate(read_catalog(DEMO).products[:24])
    ]


@pytest.fixture
def in_two(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Use two processes, for a few pieces already; lists the processes that were started."""
    started: list[int] = []
    pool = ProcessPoolExecutor

    def counted(*args: Any) -> Any:
        started.append(os.getpid())
        return pool(*args)

    monkeypatch.setattr(compose, "ProcessPoolExecutor", counted)
    monkeypatch.setattr(compose, "_FEWEST", 4)
    monkeypatch.setattr(compose, "_AT_ONCE", 3)
    monkeypatch.setattr(compose, "_cores", lambda: 2)
    monkeypatch.setattr(threading, "active_count", lambda: 1)  # the test runner has its own
    return started


def _by_one(jobs: list[Job]) -> tuple[list[object], list[object]]:
    composer = Composer(DEMO)
    made: list[Composed | LabelerError] = []
    for job in jobs:
        try:
            made.append(composer.compose_with_pictures(job))
        except LabelerError as error:
            made.append(error)
    return [_plain(each) for each in made], list(composer.findings)


def _plain(made: Composed | LabelerError) -> object:
    return made.findings if isinstance(made, LabelerError) else made


def test_two_processes_make_what_one_makes_in_its_order(jobs: list[Job], in_two: list[int]) -> None:
    composer = Composer(DEMO)
    made = [_plain(each) for each in compose_each(composer, jobs)]
    pieces, findings = _by_one(jobs)
    assert in_two
    assert made == pieces
    assert composer.findings == findings
    assert [isinstance(each, Composed) for each in made] == [n % 7 != 3 for n in range(len(made))]


def test_other_processes_finish_texts_and_draw_as_this_one_does(
    jobs: list[Job], in_two: list[int]
) -> None:
    few = [job for job in jobs if job.size == SIZE][:6]
    first = Composer(DEMO, finish=False, edition=1)
    assert list(compose_each(first, few)) == [first.compose_with_pictures(job) for job in few]
    assert in_two


@pytest.mark.siege
@pytest.mark.parametrize("reason", ["few pieces", "one core", "another thread"])
def test_this_process_does_it_alone_where_others_do_not_pay(
    jobs: list[Job], in_two: list[int], monkeypatch: pytest.MonkeyPatch, reason: str
) -> None:
    if reason == "few pieces":
        monkeypatch.setattr(compose, "_FEWEST", 1_000)
    elif reason == "one core":
        monkeypatch.setattr(compose, "_cores", lambda: 1)
    else:
        monkeypatch.setattr(threading, "active_count", lambda: 2)
    made = [_plain(each) for each in compose_each(Composer(DEMO), jobs)]
    assert made == _by_one(jobs)[0]
    assert not in_two


def test_a_process_that_is_ended_from_outside_costs_no_piece(
    jobs: list[Job], in_two: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The one that lays out the ninth piece is killed, as the system does for want of memory."""
    here, compose = os.getpid(), Composer.compose_with_pictures

    def killed(self: Composer, job: Job) -> Composed:
        if os.getpid() != here and job is jobs[8]:
            os.kill(os.getpid(), signal.SIGKILL)
        return compose(self, job)

    monkeypatch.setattr(Composer, "compose_with_pictures", killed)
    made = [_plain(each) for each in compose_each(Composer(DEMO), jobs)]
    assert made == _by_one(jobs)[0]
    assert in_two


def test_whoever_stops_asking_leaves_no_process_behind(jobs: list[Job], in_two: list[int]) -> None:
    made = compose_each(Composer(DEMO), jobs)
    next(made)
    made.close()
    assert in_two
    assert not multiprocessing.active_children()
