"""The page Tonight: what is counted there becomes lots, cards and labels, as by the command."""

from __future__ import annotations

import re
from pathlib import Path

import pypdf
import pytest

from labeler.app.lots import lots_of
from labeler.app.open_lots import BatchRequest, open_lot
from labeler.app.workstation import ledger_location
from labeler.desk.work import Records, Work
from labeler.desk.worker import carry_out
from labeler.ledger.runs import RunPaper, open_sheet, set_sheet
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


def test_what_will_be_made_is_said_before_anything_is(browser: Browser, line: Path) -> None:
    with ledger_location(line).opened(begin=True) as ledger:
        set_sheet(
            ledger, RunPaper("a4-3x7", 21, start=7, workstation=ledger_location(line).workstation)
        )
    page = browser.get("/tonight")
    assert '<option value="a4-3x7" selected>a4-3x7, begun, free from cell 7' in page
    sent = page[page.index('action="/5eed5eed/tonight/tie"') :]
    first = re.search(r"<button[^>]*>", sent)  # what Enter does (HTML Standard, 4.10.22.2)
    assert first
    assert "/tonight/look" in first[0]
    asked = {f"n-{ONE}": "2 doz", f"n-{OTHER}": "4", "m-hook": "HK-2291 + HK-2300",
             "sheet": "a4-3x7", "start": "next", "spoiled": "9,12", "made": "2026-11-01",
             "spare": "1"}  # fmt: skip
    for only in ({}, {"only": "1"}):
        told = words_of("<main" + browser.post("/tonight/look", 200, **asked, **only))
        assert f"{ONE} 24 25 2026-11-01" in told
        assert "2 lots, 30 labels on 2 sheets a4-3x7, the first of them begun: from cell 7" in told
        assert "next free cell is then 18." in told  # 13 of the first, 17 of the second
        assert "Into all of it: hook HK-2291, hook HK-2300." in told
    assert lots_of(line)[0] == ()
    hidden = typed(browser.post("/tonight/look", 200, **asked))
    assert hidden.items() >= asked.items()
    shop = browser.get(f"/tonight?n-{ONE}=12&n-{OTHER}=3&m-hook=HK-1&note=wet")
    assert typed(shop).items() >= {f"n-{ONE}": "12", f"n-{OTHER}": "3", "note": "wet"}.items()
    assert "2 lots, 15 labels on 1 sheet a4-3x7, the first of them begun" in words_of(shop)


def test_a_form_has_a_field_for_each_of_a_large_lines_products(browser: Browser) -> None:
    many = {f"n-OF-5000-{number}": "" for number in range(5_000)}
    assert f"{ONE} 6 6" in words_of(browser.post("/tonight/look", 200, **many, **{f"n-{ONE}": "6"}))


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("start", "sevn", "this is no cell"),
        ("start", "99", "no such cell to start at"),
        ("spoiled", "x", "this names no cell"),
        ("made", "Friday", "this is no day"),
        ("made", "2999-01-01", "lies in the future"),
        ("printer", "nowhere", "there is no printer called"),
        ("sheet", "nowhere", "there is no sheet"),
        (f"n-{ONE}", "0.5", "this does not say how many"),
        (f"n-{ONE}", f"12, {OTHER} = 6", "this does not say how many"),
        (f"n-{ONE}", "9999999", "a lot cannot have this many jigs"),
    ],
)
def test_each_refusal_stands_beside_its_field(
    browser: Browser, line: Path, field: str, value: str, said: str
) -> None:
    page = browser.post("/tonight/tie", 422, **({f"n-{ONE}": "6"} | {field: value}))
    at = page.index(f'id="{field}-said"')
    assert said in words_of("<main" + page[at : page.index("</div>", at)])
    assert f'href="#{field}"' in page
    assert browser.desk.works.all() == []
    assert not (line / "ledger.sqlite").exists()


def test_another_batch_just_like_one_that_is_there_is_asked_about(
    browser: Browser, line: Path
) -> None:
    open_lot(BatchRequest(line, ONE, 12))
    page = browser.post("/tonight/tie", 422, **{f"n-{ONE}": "12"})
    assert "just like this one" in words_of(page)
    assert 'id="another"><input' in page
    sure = browser.post("/tonight/look", 200, **{f"n-{ONE}": "12", "sure": "1"})
    assert "1 lot, 12 labels" in words_of(sure)
    gone = browser.post("/tonight/tie", 422, **{f"n-{ONE}": "12", "n-NONE-SUCH": "6", "sure": "1"})
    assert "NONE-SUCH" in words_of(gone)


@pytest.mark.usefixtures("unhurried")
def test_the_form_sent_twice_is_one_piece_of_work(browser: Browser) -> None:
    fields = {"once": "ab" * 8, f"n-{ONE}": "6"}
    assert browser.post("/tonight/tie", **fields) == browser.post("/tonight/tie", **fields)
    assert len(browser.desk.works.all()) == 1


@pytest.mark.siege
@pytest.mark.usefixtures("unhurried")
def test_three_counts_become_lots_cards_and_labels(browser: Browser, line: Path) -> None:
    counted = {
        f"n-{ONE}": "6", f"n-{OTHER}": "4", "m-hook": "HK-2291 + HK-2300", "start": "7",
        "spoiled": "9,12", "note": "by lamp",
    }  # fmt: skip
    told = words_of(browser.post("/tonight/look", 200, **counted))
    assert "2 lots, 10 labels on 1 sheet letter-3x10: from cell 7 on." in told
    assert "next free cell is then 19" in told
    place = browser.post("/tonight/tie", once="cd" * 8, **counted)
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
    with ledger_location(line).opened() as ledger:
        bench = ledger_location(line).workstation
        assert open_sheet(ledger, "letter-3x10", workstation=bench).next_free == 19
    texts = [
        "".join(each.extract_text() for each in pypdf.PdfReader(line / "out" / name).pages)
        for _, name in done.files
    ]
    for text in texts:
        assert all(lot.code in text.replace(" ", "") for lot in made.values())

    assert "nothing is opened and printed twice" in browser.post("/tonight/look", 200, **counted)
    again = browser.post("/tonight/tie", once="ef" * 8, **counted)
    carry_out(line, "ef" * 8)
    assert "nothing is opened twice" in words_of(browser.get(again))
    assert len(lots_of(line)[0]) == 2
    back = browser.get(f"/tonight?again={'ef' * 8}")
    assert typed(back).items() >= {f"n-{ONE}": "6", "m-hook": "HK-2291 + HK-2300"}.items()
    assert 'name="sure"' in back
    assert Records(line).read("ef" * 8)
