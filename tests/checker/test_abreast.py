"""Pages read by several processes side by side: the same report, whatever becomes of a process."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from labeler.checker import abreast, looking
from labeler.checker.apart import Worker
from labeler.checker.judge import check_pdf
from labeler.checker.report import Report


@dataclass(frozen=True)
class _Lot:
    sku: str
    void: object = None


@pytest.fixture(scope="module")
def run(workshop: Any, shelf: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Five pages that all differ, of one lot that is another product's."""
    out = tmp_path_factory.mktemp("run") / "run.pdf"
    wish = {"sheet": "letter-3x10", "skus": ("RM-*",), "count": 5, "layout": "bag-strip"}
    return workshop.printed(shelf["demo"], out, **wish)


def checked(run: Any, processes: int, monkeypatch: pytest.MonkeyPatch) -> Report:
    monkeypatch.setattr(looking, "hands", lambda pages: processes)
    return check_pdf(run.pdf, run.folder, known_lot=lambda code: _Lot("RM-14-30-SBR"))


def test_the_report_is_the_same_however_many_processes_read_the_pages(
    run: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = checked(run, 1, monkeypatch)
    assert alone.pages > 2
    assert any(each.rule == "lot-of-another" for each in alone.findings)
    assert checked(run, 2, monkeypatch) == alone


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
    ("pages", "cores", "processes"), [(15, 8, 1), (16, 1, 1), (16, 2, 2), (9_000, 64, 4)]
)
def test_a_long_run_is_shared_out_and_a_short_one_is_not(
    pages: int, cores: int, processes: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(abreast, "_cores", lambda: cores)
    assert abreast.hands(pages) == processes
