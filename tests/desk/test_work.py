"""Long work: done elsewhere, found again, stopped without a trace, and no way to other files."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from labeler.app.lots import story_of
from labeler.app.open_lots import BatchRequest, open_lot
from labeler.desk.jobs import JOBS
from labeler.desk.outcome import plain
from labeler.desk.work import Records, Work, Works
from labeler.desk.worker import carry_out
from labeler.files import held_alone
from labeler.findings import Place, fix, stop
from tests.desk.conftest import HOME, Browser, starter_in, words_of

SKU = "FST-38-40-MAR"


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small line."""
    monkeypatch.setattr("labeler.files._COARSE", 0)
    return starter_in(tmp_path / "line")


@pytest.fixture
def lot(line: Path) -> str:
    """The code of a lot of the line's."""
    return open_lot(BatchRequest(line, SKU, 24, materials=("hook=HK-2291",))).lots[0].code


def until(true: Callable[[], object], seconds: float = 60.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


def over(browser: Browser, number: str) -> Work:
    """Wait until work is over."""
    until(lambda: (one := browser.desk.works.find(number)) is None or one.over)
    found = browser.desk.works.find(number)
    assert found is not None
    return found


def a_work(**rest: object) -> Work:
    made = Work("0123456789abcdef", "batch-cards", "Batch card", {"lots": []}, "/lots", 1.0)
    return replace(made, **rest)  # type: ignore[arg-type]


@pytest.mark.siege
def test_a_paper_is_made_once_offered_and_found_again(
    browser: Browser, line: Path, lot: str
) -> None:
    works = browser.desk.works
    for _ in range(2):
        begun = works.begin("batch-cards", f"Card of {lot}", {"lots": [lot]}, "/", "ab" * 8)
    assert begun.id == "ab" * 8
    at_work = browser.get(f"/work/{begun.id}")
    assert '<noscript><meta http-equiv="refresh"' in at_work
    events = browser.get(f"/work/{begun.id}/events")  # to its end
    assert json.loads(events.strip().rpartition("data: ")[2])["over"] is True
    done = over(browser, begun.id)
    assert (done.state, done.files) == ("done", (("Batch card", f"cards-{lot}.pdf"),))
    assert len(story_of(line, lot).runs) == 1
    file = browser.web.get(f"{HOME}/work/{begun.id}/file/0")
    assert file.content == (line / "out" / f"cards-{lot}.pdf").read_bytes()
    assert file.headers["content-type"] == "application/pdf"
    saved = browser.web.get(f"{HOME}/work/{begun.id}/file/0?save=1")
    assert saved.headers["content-disposition"].startswith("attachment")

    refused = works.begin("batch-cards", "Card", {"lots": ["263999999"]}, "/", "cd" * 8)
    page = words_of((over(browser, refused.id), browser.get(f"/work/{refused.id}"))[1])
    assert "Not done." in page
    assert "263999999" in page

    again = Browser(line)  # as after a restart
    listed = words_of(again.get("/work"))
    assert f"Card of {lot}" in listed
    assert "Done." in again.get(f"/work/{begun.id}")
    again.desk.close()


@pytest.mark.siege
@pytest.mark.parametrize("how", ["stopped", "killed", "desk ended"])
def test_work_that_is_ended_leaves_nothing_half_made(
    browser: Browser, line: Path, lot: str, how: str
) -> None:
    works = browser.desk.works
    number = works.begin("batch-cards", "Cards", {"lots": [lot]}, "/", "").id
    until(lambda: (one := works.find(number)) and one.process and one.state == "at work")
    process = getattr(works.find(number), "process", 0)
    if how == "stopped":
        browser.post(f"/work/{number}/stop")
    elif how == "killed":
        os.kill(process, signal.SIGKILL)
    else:
        browser.desk.close()
    assert over(browser, number).state == "stopped"
    assert list((line / "out").glob("*")) == []
    assert story_of(line, lot).runs == ()
    page = browser.get(f"/work/{number}")
    assert "nothing half-made is left" in page
    assert ("may be on record" in page) == (how == "killed")


class Slow:
    """A process that is lent, and takes its time until it looks at what it is given."""

    fit = True

    def __init__(self) -> None:
        self.lent, self.go_on = threading.Event(), threading.Event()

    def carry_out(self, folder: Path, number: str) -> None:
        self.lent.set()
        assert self.go_on.wait(60)
        carry_out(folder, number)  # which leaves what is over: elsewhere it would not get on

    def dismiss(self) -> None:
        pass


@pytest.mark.parametrize("how", ["stopped", "desk ended"])
def test_work_is_stopped_that_a_process_has_not_looked_at_yet(
    line: Path, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    slow = Slow()
    monkeypatch.setattr("labeler.desk.work.DeskWorker", lambda: slow)
    works = Works(line)
    number = works.begin("batch-cards", "Cards", {"lots": []}, "/", "").id
    assert slow.lent.wait(60)
    closing = threading.Thread(target=works.close if how == "desk ended" else works.stop,
                               args=() if how == "desk ended" else (number,))  # fmt: skip
    closing.start()
    until(lambda: getattr(works.records.read(number), "state", "") == "stopped")
    slow.go_on.set()
    closing.join()
    works.close()
    found = works.find(number)
    assert found is not None
    assert (found.state, found.findings) == ("stopped", ())


@pytest.mark.usefixtures("unhurried")
def test_an_order_to_stop_waits_for_the_process_that_has_begun(line: Path) -> None:
    works, records = Works(line), Records(line)
    work = works.begin("batch-cards", "Cards", {"lots": []}, "/", "")
    hears = "import signal, time; signal.signal(2, signal.SIG_DFL); print(flush=1); time.sleep(60)"
    process = subprocess.Popen([sys.executable, "-c", hears], stdout=subprocess.PIPE)
    assert process.stdout
    process.stdout.readline()
    with held_alone(records.lock_of(work.id)) or pytest.fail("held by nobody"):
        stopping = threading.Thread(target=works.stop, args=(work.id,))
        stopping.start()
        records.write(replace(work, state="at work", process=process.pid))
        stopping.join()
    assert process.wait(60) == -signal.SIGINT
    process.stdout.close()


@pytest.mark.usefixtures("unhurried")
def test_a_form_is_one_piece_of_work_as_long_as_it_says_the_same(line: Path) -> None:
    works = Works(line)

    def begun(once: str, **asked: object) -> str:
        return works.begin("pull-list", "Pull list", asked, "/", once).id

    for once in ("ab" * 8, "ab" * 8 + "p"):
        first = begun(once, orders=("7", "8"))
        assert begun(once, orders=("7", "8")) == first
        corrected = begun(once, orders=("7", "9"))
        assert corrected != first
        assert begun(once, orders=("7", "9")) == corrected
    assert len({begun("", orders=()), begun("", orders=())}) == 2
    assert len(works.all()) == 6


def test_work_of_a_killed_desk_is_told_from_work_that_goes_on(line: Path) -> None:
    records = Records(line)
    records.write(a_work(state="at work"))
    works = Works(line)
    with held_alone(records.lock_of(a_work().id)) or pytest.fail("held by nobody"):
        assert getattr(works.find(a_work().id), "state", "") == "at work"
    stopped = works.find(a_work().id) or pytest.fail("not found")
    assert stopped.state == "stopped"
    assert "may be on record" in stopped.findings[0].message
    assert works.find(a_work().id) == stopped
    records.write(a_work(state="waiting"))
    assert getattr(works.find(a_work().id), "findings", None) == ()
    works.close()


def test_a_record_reads_back(line: Path) -> None:
    findings = (stop("x", Place("f", 3, box=(1.0, 2.0, 3.0, 4.0)), "no"), fix("y", Place(), "m"))
    work = a_work(state="refused", findings=findings, files=(("A", "b.pdf"),), said=("s",))
    Records(line).write(work)
    assert Records(line).read(work.id) == work
    for damage in ("", "{}", '{"said": 1}', "[]", '"x"'):
        (line / ".desk" / "work" / f"{work.id}.json").write_text(damage)
        assert Records(line).read(work.id) is None


def test_only_papers_that_were_made_are_handed_out(browser: Browser, line: Path) -> None:
    (line / "out").mkdir()
    (line / "out" / "link.pdf").symlink_to(line / "catalog.toml")
    (line / "out" / "mine.pdf").write_bytes(b"%PDF-")
    names = ("../catalog.toml", "/etc/passwd", "link.pdf", "gone.pdf")
    Records(line).write(a_work(state="done", files=tuple((name, name) for name in names)))
    for place in (
        *range(len(names) + 2),
        "-1",
        "mine.pdf",
        "..%2f..%2fcatalog.toml",
        "x",
        "²",
        "9" * 5000,
    ):
        text = browser.web.get(f"{HOME}/work/{a_work().id}/file/{place}").text
        assert "[maker]" not in text
        assert "root:" not in text
        assert "%PDF" not in text
    for number in ("..", "%2e%2e%2faddress", "0" * 16, "address", "a" * 400, "%00"):
        assert browser.web.get(f"{HOME}/work/{number}").status_code in (400, 403, 404)
    assert str(line.parent) not in browser.get(f"/work/{a_work().id}/file/3", 404)


def test_a_paper_that_was_made_again_since_is_told(browser: Browser, line: Path) -> None:
    (line / "out").mkdir()
    paper = line / "out" / "book.pdf"
    paper.write_bytes(b"%PDF-")
    Records(line).write(a_work(state="done", files=(("Book", paper.name), ("Form", "gone.xlsx"))))
    os.utime(paper, (1.0, 1.0))
    assert "made again since" not in browser.get(f"/work/{a_work().id}")
    os.utime(paper, (time.time() + 9,) * 2)
    assert browser.get(f"/work/{a_work().id}").count("made again since") == 1


def test_old_records_are_forgotten_and_papers_stay(
    line: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labeler.desk.work._KEPT", 2)
    records = Records(line)
    for at in range(4):
        records.write(a_work(id=f"{at:016x}", begun=float(at), state="done"))
    records.forget_old()
    assert [work.begun for work in records.all()] == [3.0, 2.0]


def test_the_names_of_papers_are_plain(line: Path) -> None:
    assert plain("MYW-2026-7") == "MYW-2026-7"
    changed = {"../../etc/passwd": "etc-passwd-", "The Odd Pail: \x00": "The-Odd-Pail-",
               "…": "paper-", "x" * 60: "x" * 40 + "-"}  # fmt: skip
    for text, begins in changed.items():
        assert re.fullmatch(re.escape(begins) + "[0-9a-f]{6}", plain(text)), text
    shops = ("Ловля", "釣具", "", "A-1 Bait & Tackle", "A 1 Bait, Tackle", "A-1-Bait-Tackle")
    assert len({plain(shop) for shop in shops}) == len(shops)
    assert {"batch-cards", "recall-sheet", "tied"} <= set(JOBS)
