"""Python's search for cycles is made seldom for a while, and never left so."""

from __future__ import annotations

import gc
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest

from labeler.memory import gc_paused


def test_the_search_is_seldom_inside_and_as_it_was_afterwards() -> None:
    usual = gc.get_threshold()
    with gc_paused():
        assert gc.get_threshold()[0] > usual[0]
        with gc_paused():
            assert gc.get_threshold()[0] > usual[0]
        assert gc.get_threshold()[0] > usual[0]
    assert gc.get_threshold() == usual


def test_what_fails_inside_leaves_it_as_it_was() -> None:
    usual = gc.get_threshold()
    with pytest.raises(ZeroDivisionError), gc_paused():
        _ = 1 / 0
    assert gc.get_threshold() == usual


def test_runs_that_overlap_in_several_threads_leave_it_as_it_was() -> None:
    usual = gc.get_threshold()
    begun, left = Barrier(3), Barrier(3)

    def run(first: bool) -> None:
        with gc_paused():
            begun.wait(10)
            if not first:
                left.wait(10)
        if first:
            assert gc.get_threshold()[0] > usual[0]
            left.wait(10)

    with ThreadPoolExecutor(3) as threads:
        for done in [threads.submit(run, number == 0) for number in range(3)]:
            done.result(20)
    assert gc.get_threshold() == usual


def test_a_search_that_somebody_has_switched_off_or_made_rare_stays_so() -> None:
    usual = gc.get_threshold()
    try:
        for theirs in ((0, 10, 10), (1_000_000, 10, 10)):
            gc.set_threshold(*theirs)
            with gc_paused():
                assert gc.get_threshold() == theirs
            assert gc.get_threshold() == theirs
    finally:
        gc.set_threshold(*usual)
