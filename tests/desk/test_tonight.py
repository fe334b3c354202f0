"""The page Tonight: what is counted there becomes lots, cards and labels, as by the command."""

from __future__ import annotations

import re
import signal
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest

from labeler.app.lots import lots_of
from labeler.app.open_lots import BatchRequest, open_lot
from labeler.desk.work import Records, Work
from labeler.desk.worker import carry_out
from tests.desk.conftest import Browser, words_of

ONE, OTHER = "RM-14-30-SBR", "GB-12-40-PEA"


def typed(page: str) -> dict[str, str]:
    """Return what the fields of a page are filled in with, empty ones left out."""
    inputs = re.findall(r"<input ([^>]*)>", page, re.DOTALL)
    fields = (dict(re.findall(r'(\w+)="([^"]*)"', each)) for each in inputs)
    return {one["name"]: one["value"] for one in fields if one.get("value")}


def asked_of(browser: Browser, place: str) -> Work:
    work = browser.desk.works.find(place.rpartition("/")[2])
    assert work is not None
    return work


@pytest.fixture
def unhurried(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Nobody takes up the work: the test does it itself, and takes Ctrl-C as before when done."""
    before = signal.getsignal(signal.SIGINT)
    monkeypatch.setattr("labeler.desk.work.Works._see_to", lambda works, number: None)
    yield
    signal.signal(signal.SIGINT, before)


def test_every_product_can_be_counted_and_the_last_lots_are_offered(
    browser: Browser, line: Path
) -> None:
    open_lot(BatchRequest(line, ONE, 12, materials=("hook=HK-1", "glue=G-9")))
    open_lot(BatchRequest(line, OTHER, 12, materials=("hook=HK-2",)))
    page = browser.get("/tonight")
    assert len(re.findall(r'name="n-', page)) == 88
    assert re.findall(r'<option value="(HK[^"]*)">', page) == ["HK-2", "HK-1"]
    assert 'name="m-glue"' in page
    assert 'name="m-thread"' in page


def test_what_can_t_be_read_is_told_beside_its_field_and_nothing_is_lost(browser: Browser) -> None:
    page = browser.post("/tonight/tie", 422, **{
        f"n-{ONE}": "twelve", f"n-{OTHER}": "6", "m-hook": "HK-2291", "spare": "-1", "note": "wet",
    })  # fmt: skip
    for name in (f"n-{ONE}", "spare"):
        assert re.search(rf'name="{name}"[^>]*aria-invalid="true"', page), name
        assert f'id="{name}-said"' in page
    kept = typed(page)
    assert kept.items() >= {
        f"n-{ONE}": "twelve", f"n-{OTHER}": "6", "m-hook": "HK-2291", "note": "wet",
    }.items()  # fmt: skip
    nothing = words_of(browser.post("/tonight/tie", 422, **{f"n-{ONE}": "0"}))
    assert "nothing is counted yet" in nothing
    assert browser.desk.works.all() == []


@pytest.mark.usefixtures("unhurried")
def test_the_form_sent_twice_is_one_piece_of_work(browser: Browser) -> None:
    fields = {"once": "ab" * 8, f"n-{ONE}": "6"}
    assert browser.post("/tonight/tie", **fields) == browser.post("/tonight/tie", **fields)
    assert len(browser.desk.works.all()) == 1


@pytest.mark.siege
@pytest.mark.usefixtures("unhurried")
def test_three_counts_become_lots_cards_and_labels(browser: Browser, line: Path) -> None:
    place = browser.post("/tonight/tie", **{
        f"n-{ONE}": "6", f"n-{OTHER}": "4", "m-hook": "HK-2291 + HK-2300", "start": "7",
        "spoiled": "9,12", "note": "by lamp", "once": "cd" * 8,
    })  # fmt: skip
    carry_out(line, "cd" * 8)
    done = asked_of(browser, place)
    assert done.state == "done", done.findings
    lines, _ = lots_of(line)
    made = {each.lot.sku: each.lot for each in lines}
    assert {sku: lot.count for sku, lot in made.items()} == {ONE: 6, OTHER: 4}
    assert {each.lot for each in made[ONE].materials} == {"HK-2291", "HK-2300"}
    page = browser.get(place)
    assert "2 lots were opened." in words_of(page)
    assert "from cell 7 on" in words_of(page)
    for lot in made.values():
        assert f"/lots/{lot.code}" in page
    texts = [
        "".join(each.extract_text() for each in pypdf.PdfReader(line / "out" / name).pages)
        for _, name in done.files
    ]
    for text in texts:
        assert all(lot.code in text.replace(" ", "") for lot in made.values())

    again = browser.post("/tonight/tie", **{
        f"n-{ONE}": "6", f"n-{OTHER}": "4", "m-hook": "HK-2291 + HK-2300", "start": "7",
        "spoiled": "9,12", "note": "by lamp", "once": "ef" * 8,
    })  # fmt: skip
    carry_out(line, "ef" * 8)
    assert "nothing is opened twice" in words_of(browser.get(again))
    assert len(lots_of(line)[0]) == 2
    back = browser.get(f"/tonight?again={'ef' * 8}")
    assert typed(back).items() >= {f"n-{ONE}": "6", "m-hook": "HK-2291 + HK-2300"}.items()
    assert 'name="sure"' in back
    assert Records(line).read("ef" * 8)
