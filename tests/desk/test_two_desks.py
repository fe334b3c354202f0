"""Two desks of one folder and many clicks at once: nothing is lost, and nothing done twice."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from labeler.app.lots import lots_of, story_of
from labeler.app.open_lots import BatchRequest, open_lot
from labeler.app.workstation import ledger_location
from labeler.ledger.runs import open_sheet
from tests.desk.conftest import Browser, starter_in

SKUS = ("FST-38-40-MAR", "FST-38-40-INK", "FST-12-50-MAR")


@pytest.mark.siege
def test_clicks_of_two_desks_at_once_lose_nothing(tmp_path: Path) -> None:
    line = starter_in(tmp_path / "line")
    lot = open_lot(BatchRequest(line, SKUS[0], 240)).lots[0].code
    desks = [Browser(line), Browser(line)]

    def tie(number: int) -> str:
        asked = {f"n-{SKUS[number % 3]}": "3", "note": f"evening {number}"}
        return desks[number % 2].post("/tonight/tie", **asked, once=f"{number:016x}")

    def weigh(number: int) -> str:
        asked = {"weight": f"10.{number}", "unit": "g", "once": f"w{number}"}
        return desks[number % 2].post(f"/lots/{lot}/weigh", **asked)

    def add(number: int) -> str:
        return desks[number % 2].post(f"/lots/{lot}/add", kind="glue", lot=f"G-{number}")

    clicks = [(tie, at) for at in range(4)] + [(tie, at) for at in range(4)]  # each is sent twice
    clicks += [(weigh, at) for at in range(8)] + [(weigh, at) for at in range(8)]
    clicks += [(add, at) for at in range(8)]
    with ThreadPoolExecutor(8) as pool:
        places = list(pool.map(lambda click: click[0](click[1]), clicks))
    end = time.monotonic() + 120
    for place in set(places[:8]):
        number = place.rpartition("/")[2]
        while not (work := desks[0].desk.works.records.read(number)) or not work.over:
            assert time.monotonic() < end
            time.sleep(0.05)
        assert work.state == "done", work.findings
    for each in desks:
        each.desk.close()

    lots = [each.lot for each in lots_of(line)[0]]
    assert len(lots) == len({each.code for each in lots}) == 5
    assert sorted(each.note for each in lots) == ["", *(f"evening {at}" for at in range(4))]
    story = story_of(line, lot)
    kept = sorted(str(weight) for each in story.weigh_ins for weight in each.weights)
    assert kept == sorted({"10 g", *(f"10.{at} g" for at in range(1, 8))})
    assert sorted(each.lot for each in story.lot.materials) == [f"G-{at}" for at in range(8)]
    with ledger_location(line).opened() as ledger:
        sheet = open_sheet(ledger, "letter-3x10", workstation=ledger_location(line).workstation)
    assert sheet.used == tuple(range(1, 13))  # twelve labels, and no cell of two
