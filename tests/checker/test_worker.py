"""Files and pages read by other processes: the same report, whatever becomes of a process."""

from __future__ import annotations

import datetime as dt
import io
import os
import pickle
import signal
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from labeler.app.again import make_again
from labeler.checker import answering, judge, pieces, process, worker
from labeler.checker.judge import check_own, check_pdf
from labeler.checker.pdf import file as pdf_file
from labeler.checker.pdf.file import limit
from labeler.checker.process import Bounds, GoneError, Worker, receive, send
from labeler.checker.report import Report
from labeler.checker.rules import codes, identity, required, words
from labeler.checker.subject import CheckRequest, KnownLot
from labeler.findings import Finding, Grade, Place

DAY = dt.date(2026, 11, 25)


@pytest.fixture(scope="module")
def run(workshop: Any, shelf: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Five pages that all differ, of one lot that is another product's."""
    out = tmp_path_factory.mktemp("run") / "run.pdf"
    wish = {"sheet": "letter-3x10", "skus": ("RM-*",), "count": 5, "layout": "bag-strip"}
    return workshop.printed(shelf["demo"], out, **wish)


def checked(run: Any, workers: int, monkeypatch: pytest.MonkeyPatch) -> Report:
    monkeypatch.setattr(pieces, "workers_for", lambda sides, pages: workers)
    monkeypatch.setattr(worker, "_PAGES_IN_A_ROW", 1)
    asked = CheckRequest(run.pdf, run.folder, DAY)
    return check_own(asked, lambda code: KnownLot("RM-14-30-SBR"))


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


def test_a_catalog_that_changed_is_read_again_by_the_process_that_read_it(
    workshop: Any, tmp_path: Path
) -> None:
    folder = workshop.copied(tmp_path / "line")
    good = workshop.printed(folder, tmp_path / "good.pdf", use="cards", layout="header-card")

    def rules() -> set[str]:
        return {each.rule for each in check_pdf(good.pdf, folder, day=DAY).findings}

    for _ in range(2):  # the second time it is at hand
        assert "catalog-changed" not in rules()
    (reader,) = process._spare
    written = folder / "catalog.toml"
    written.write_text(written.read_text("utf-8").replace("Reedmace", "Bulrush"), "utf-8")
    assert "catalog-changed" in rules()
    assert process._spare == [reader]


@pytest.mark.parametrize(
    ("sides", "pages", "cores", "workers"),
    [(88, 88, 8, 1), (440, 15, 8, 4), (440, 15, 1, 1), (440, 15, 2, 2), (430, 15, 2, 1)],
)
def test_a_run_of_many_different_pieces_is_shared_out_and_one_of_few_is_not(
    sides: int, pages: int, cores: int, workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: range(cores))
    assert worker.workers_for(sides, pages) == workers


# ------------------------------------------------------------------- limits, and whose file it is


@pytest.mark.siege
def test_a_print_of_hundreds_of_pages_is_far_within_its_limits(
    workshop: Any, shelf: dict[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With an eighth of the house's limits, which is what eight busy processes could leave of it.

    They leave all of it, since only a process's own time counts; see the next test.
    """
    wish = {"sheet": "roll-300-3x1in", "skus": ("RM-14-30-SBR",), "count": 300}
    run = workshop.printed(shelf["demo"], tmp_path / "long.pdf", **wish)
    process.dismiss()
    monkeypatch.setattr(
        pdf_file, "limit", lambda name: limit(name) / (8 if "seconds" in name else 1)
    )
    report = check_pdf(run.pdf, run.folder, day=workshop.day)
    assert (report.pages, report.stops) == (300, False), report.as_text()


@pytest.mark.siege
def test_time_that_a_reader_waits_is_not_counted(
    bases: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A reader that stands still for longer than it may work is a reader on a busy machine."""
    process.dismiss()
    monkeypatch.setattr(pdf_file, "limit", lambda name: 2.0 if name == "worker-seconds" else 0.0
                        if name == "worker-seconds-a-page" else limit(name))  # fmt: skip
    begin = Worker.begin

    def slowed(one: Worker, *asked: Any) -> None:
        one._process.send_signal(signal.SIGSTOP)
        begin(one, *asked)
        threading.Timer(3.1, one._process.send_signal, [signal.SIGCONT]).start()

    monkeypatch.setattr(Worker, "begin", slowed)
    report = check_pdf(bases["strip"].pdf, bases["strip"].folder, day=DAY)
    assert (report.pieces, report.stops) == (3, False), report.as_text()
    process.dismiss()


def test_what_a_reader_may_use_up_grows_with_the_pages_that_it_has_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Its processor time, on top of what it has used up for other files, and its memory."""
    bounds: dict[int, int] = {}
    monkeypatch.setattr(answering, "_bound", bounds.__setitem__)
    monkeypatch.setattr("time.process_time", lambda: 7.0)
    purse = answering._Purse()
    purse.fill(Bounds(30.0, 4.0, 1000.0, 50.0))
    cpu, memory = answering.resource.RLIMIT_CPU, answering.resource.RLIMIT_AS
    assert bounds == {cpu: 37, memory: 1000}
    purse.page(300)
    assert bounds == {cpu: 37 + 1200, memory: 1000 + 15_000}


def test_no_sum_inside_a_file_has_it_read_without_limits(
    bases: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Anybody can write the sum; so whatever is checked is read by a process with limits."""

    def refused(*given: Any, **more: Any) -> Report:
        raise AssertionError("read in this process")

    monkeypatch.setattr(judge, "check_bytes", refused)
    assert check_pdf(bases["strip"].pdf, bases["strip"].folder, day=DAY).pieces == 3


def test_of_an_undamaged_file_nothing_is_said_that_is_said_of_strangers(
    bases: dict[str, Any],
) -> None:
    own = worker.gone_at(bases["strip"].pdf, "it takes too long to read")
    assert (own.rule, own.grade) == ("checker-failed", Grade.STOP)
    assert "who made it" not in str(own.hint)
    data = bytearray(bases["strip"].pdf.read_bytes())
    data[len(data) // 2] ^= 1
    assert worker.gone("b.pdf", bytes(data), "it takes too long to read").rule == "file-hostile"


# ------------------------------------------------------------------------- faults of our own


def breaking(*given: Any) -> Iterator[Finding]:
    """Break as a rule of ours might."""
    raise KeyError("a fault of ours")


def in_sides(number: int) -> Callable[[pytest.MonkeyPatch], None]:
    """Break one of the checks of a side."""
    checks = list(pieces.SIDE_CHECKS)
    checks[number] = breaking
    return lambda patch: patch.setattr(pieces, "SIDE_CHECKS", tuple(checks))


BREAKS: dict[str, Callable[[pytest.MonkeyPatch], Any]] = {
    **{check.__name__: in_sides(at) for at, check in enumerate(pieces.SIDE_CHECKS)},
    "others": lambda patch: patch.setattr(identity, "others", breaking),
    "codes": lambda patch: patch.setattr(codes, "codes", breaking),
    "words": lambda patch: patch.setattr(words, "words", breaking),
    "statements": lambda patch: patch.setattr(required, "look_for", breaking),
    "judged": lambda patch: patch.setattr(required, "judge_statements", breaking),
    "lot": lambda patch: patch.setattr(identity, "lot_of", breaking),
    "sold": lambda patch: patch.setattr(required, "judge_sale", breaking),
    "samples": lambda patch: patch.setattr(identity, "samples", breaking),
    "the run": lambda patch: patch.setattr(judge, "other_pages", breaking),
    "the names": lambda patch: patch.setattr(identity, "says_names", breaking),
}


@pytest.mark.daily("weights", "statements", "lot", "the run", "the names")
@pytest.mark.parametrize("name", list(BREAKS))
def test_a_rule_that_breaks_is_told_and_stops_and_hides_no_other(
    name: str, bases: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    BREAKS[name](monkeypatch)
    asked = CheckRequest(bases["strip"].pdf, bases["strip"].folder, DAY)
    report = check_own(asked, lambda code: KnownLot("RM-14-30-TSP"))
    broken = [each for each in report.findings if each.rule == "checker-failed"]
    assert broken
    assert report.stops
    assert all(each.found.startswith("KeyError, ") for each in broken), broken
    assert "whoever looks after the program" in broken[0].hint
    if name in ("lot", "the names"):  # the very rule that would tell, and the whole file's end
        return
    assert any(each.rule == "lot-of-another" for each in report.findings), report.as_text()
    if name not in ("the run", "sold", "samples"):
        assert {each.place.piece for each in broken} == {"RM-14-30-SBR", "RM-14-30-TSP",
                                                         "RM-38-40-SBR"}  # fmt: skip


def test_a_rule_that_breaks_is_named() -> None:
    def check(*given: Any) -> None:
        raise ZeroDivisionError

    check.asked = ("weight-wrong", "weight-missing")  # type: ignore[attr-defined]
    (said,) = pieces.tried(Place(piece="A-1"), check)
    assert (said.expected, said.place.piece) == ("weight-wrong, weight-missing", "A-1")


class Overheard(io.BytesIO):
    """What a reader sends, to be read again."""

    def messages(self) -> Iterator[Any]:
        self.seek(0)
        while self.tell() < len(self.getvalue()):
            yield receive(self, lambda raw: pickle.load(raw))


def test_a_comparison_that_breaks_is_told_and_stops(
    bases: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the process that reads, and by what makes the run again."""
    monkeypatch.setattr(answering, "_ANSWERS", {"compare": breaking})
    monkeypatch.setattr(answering._Purse, "fill", lambda purse, bounds: None)
    asked, sent = io.BytesIO(), Overheard()
    send(asked, ("compare", Bounds.usual(), (bases["strip"].pdf, bases["strip"].pdf)))
    asked.seek(0)
    answering._Server(asked, sent).serve()
    ((kind, _, said),) = sent.messages()
    assert (kind, said.rule, said.grade) == ("broken", "checker-failed", Grade.STOP)

    for gone, rule in ((GoneError("it broke", said), "checker-failed"),
                       (GoneError("it takes too long to read"), "checker-failed")):  # fmt: skip

        def gone_now(*given: Any, gone: GoneError = gone) -> Any:
            raise gone

        monkeypatch.setattr(worker, "origin", gone_now)
        again = make_again(bases["strip"].folder, bases["strip"].pdf, None)
        assert [each.rule for each in again.findings] == [rule]
        assert str(gone) in again.open_point
