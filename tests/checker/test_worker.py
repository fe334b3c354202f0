"""Files and pages read by other processes: the same report, whatever becomes of a process."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from labeler.checker import pieces, worker
from labeler.checker.judge import check_pdf
from labeler.checker.report import Report
from labeler.checker.subject import KnownLot
from labeler.checker.worker import Worker


@pytest.fixture(scope="module")
def run(workshop: Any, shelf: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Five pages that all differ, of one lot that is another product's."""
    out = tmp_path_factory.mktemp("run") / "run.pdf"
    wish = {"sheet": "letter-3x10", "skus": ("RM-*",), "count": 5, "layout": "bag-strip"}
    return workshop.printed(shelf["demo"], out, **wish)


def checked(run: Any, workers: int, monkeypatch: pytest.MonkeyPatch) -> Report:
    monkeypatch.setattr(pieces, "workers_for", lambda sides, pages: workers)
    monkeypatch.setattr(worker, "_PAGES_IN_A_ROW", 1)
    return check_pdf(run.pdf, run.folder, known_lot=lambda code: KnownLot("RM-14-30-SBR"))


@pytest.mark.siege
def test_the_report_is_the_same_however_many_processes_read_the_pages(
    run: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = checked(run, 1, monkeypatch)
    assert alone.pages > 2
    assert any(each.rule == "lot-of-another" for each in alone.findings)
    assert checked(run, 2, monkeypatch) == alone


@pytest.mark.siege
def test_a_process_that_dies_costs_time_and_nothing_else(
    run: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = checked(run, 1, monkeypatch)
    begin = Worker.begin

    def dying(worker: Worker, kind: str, *asked: Any) -> None:
        begin(worker, kind, *asked)
        if kind == "pages":
            worker.kill()

    monkeypatch.setattr(Worker, "begin", dying)
    assert set(checked(run, 2, monkeypatch).findings) == set(alone.findings)


@pytest.mark.parametrize(
    ("sides", "pages", "cores", "workers"),
    [(88, 88, 8, 1), (440, 15, 8, 4), (440, 15, 1, 1), (440, 15, 2, 2), (430, 15, 2, 1)],
)
def test_a_run_of_many_different_pieces_is_shared_out_and_one_of_few_is_not(
    sides: int, pages: int, cores: int, workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: range(cores))
    assert worker.workers_for(sides, pages) == workers
