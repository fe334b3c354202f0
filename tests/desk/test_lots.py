"""The page Lots, as plain forms: it shows what the commands show, and writes what they do."""

from __future__ import annotations

import io
import re
import shutil
from html import unescape
from pathlib import Path

import pypdf
import pytest

from labeler.app.lots import hold_lot, lots_of, story_of, trace_to_lots
from labeler.app.open_lots import BatchRequest, open_lot
from labeler.app.papers import print_batch_cards
from labeler.app.shipping import ShipRequest, ship
from labeler.desk.worker import carry_out
from tests.desk.conftest import HOME, Browser, demo_in, words_of

SKU = "RM-14-30-SBR"


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, str]:
    """The demo with two lots of one product, one of them shipped in part; to be copied."""
    folder = demo_in(tmp_path_factory.mktemp("kept") / "line")
    first = open_lot(BatchRequest(folder, SKU, 24, materials=("hook=HK-2291",))).lots[0].code
    second = open_lot(BatchRequest(folder, SKU, 12, materials=("hook=HK-2300",))).lots[0].code
    return folder, first, second


@pytest.fixture
def line(kept: tuple[Path, str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it."""
    monkeypatch.setattr("labeler.files._COARSE", 0)
    return Path(shutil.copytree(kept[0], tmp_path / "line"))


@pytest.fixture
def lots(kept: tuple[Path, str, str]) -> tuple[str, str]:
    """The codes of the two lots."""
    return kept[1:]


def form(page: str, action: str) -> dict[str, str]:
    """Return the hidden fields of the form on a page that is sent to an address."""
    found = re.search(rf'<form method="post" action="[^"]*{action}".*?</form>', page, re.DOTALL)
    assert found, action
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', found[0]))


def test_what_is_on_hand_stands_by_product_and_lot(browser: Browser, lots: tuple[str, str]) -> None:
    first, second = lots
    words = words_of(browser.get("/lots"))
    assert "36 jigs on hand, in 2 lots." in words
    assert "Reedmace Sunday Bream, 1/4 oz, hook 3/0, RM-14-30-SBR 36 on hand" in words
    assert f"{first} made" in words
    assert words.count("on hand") == 2  # products of which nothing is here wait behind a link
    assert words_of(browser.get("/lots?all=1")).count(" on hand") > 50
    assert SKU in words_of(browser.get(f"/lots?q={second}"))
    assert SKU in words_of(browser.get("/lots?q=sunday+reedmace"))
    assert "answers to “<script>”" in unescape(browser.get("/lots?q=%3Cscript%3E"))


def test_a_list_of_many_products_has_pages(browser: Browser) -> None:
    first = browser.get("/lots?all=1")
    assert "1 of 2" in words_of(first)
    (after,) = re.findall(r'rel="next" href="/\w+([^"]+)"', first)
    second = browser.get(unescape(after))
    assert "2 of 2" in words_of(second)
    skus = re.findall(r'class="sku">([^<]+)', first + second)
    assert len(skus) == len(set(skus)) == 88
    for odd in ("0", "-1", "99", "x", "²", "9" * 5_000):
        assert "of 2" in words_of(browser.get(f"/lots?all=1&page={odd}"))


def test_a_lot_is_weighed_one_number_at_a_time(
    browser: Browser, line: Path, lots: tuple[str, str]
) -> None:
    path = f"/lots/{lots[0]}"
    asked = browser.get(path)
    assert "Weigh 12 of the 24 jigs" in words_of(asked)
    hidden = form(asked, f"{path}/weigh")
    for _ in range(2):  # the same form twice is one weight
        assert browser.post(f"{path}/weigh", **hidden, weight="7.1", unit="g").startswith(path)
    page = words_of(browser.get(path))
    assert "Not judged yet: weigh 11 more of the lot, taken at random." in page
    assert "1 of 12 weighed" in page
    for number in range(11):
        browser.post(f"{path}/weigh", once=f"{number}", weight=f"7.{number % 3}", unit="g")
    page = words_of(browser.get(path))
    assert "All 24 may be sold as 1/4 oz." in page
    assert story_of(line, lots[0]).weigh_ins[-1].judgement.verdict == "pass"


def test_several_weights_are_taken_at_once(
    browser: Browser, line: Path, lots: tuple[str, str]
) -> None:
    path = f"/lots/{lots[0]}"
    browser.post(f"{path}/weigh", once="1", weight="7.1 7,2 7.0", unit="g")
    page = words_of(browser.get(path))
    assert "3 of 12 weighed, the last first: 7 g, 7.2 g, 7.1 g." in page
    page = words_of(browser.post(f"{path}/weigh", 422, once="2", weight="7.1 7,100", unit="g"))
    assert "Write 7.100, or 7100." in page
    assert [len(each.weights) for each in story_of(line, lots[0]).weigh_ins] == [3]


def test_a_slip_of_the_scale_is_asked_about_beside_its_field(
    browser: Browser, line: Path, lots: tuple[str, str]
) -> None:
    path = f"/lots/{lots[0]}"
    hidden = form(browser.get(path), f"{path}/weigh")
    page = browser.post(f"{path}/weigh", 422, **hidden, weight="71", unit="g")
    beside = words_of("<main" + page[page.index('id="weight"') :])
    assert "Nothing was written." in words_of(page)
    assert "about 1/4 oz (7.09 g)" in beside
    assert "tick that it is so" in beside
    assert "--sure" not in page
    assert 'value="71"' in page
    assert 'aria-invalid="true"' in page
    assert story_of(line, lots[0]).weigh_ins == ()
    browser.post(f"{path}/weigh", **form(page, f"{path}/weigh"), weight="71", unit="g", sure="1")
    assert len(story_of(line, lots[0]).weigh_ins) == 1
    page = browser.post(f"{path}/weigh", 422, once="1", weight="heavy", unit="g")
    assert "this is not a weight" in words_of(page)


def test_what_is_wrong_with_a_sample_begun_again_stands_beside_its_own_field(
    browser: Browser, line: Path, lots: tuple[str, str]
) -> None:
    path = f"/lots/{lots[0]}"
    browser.post(f"{path}/weigh", once="1", weight="7.1", unit="g")
    for closed in (False, True):  # with the field for one more weight beside it, and without
        anew = {"again": "wrong scale", "unit": "g", "once": f"a {closed}"}
        page = browser.post(f"{path}/weigh", 422, **anew, first="heavy")
        assert ('id="weight"' in page) is not closed
        assert re.search(r'id="first"[^>]*value="heavy"[^>]*aria-invalid="true"', page, re.DOTALL)
        assert "this is not a weight" in words_of("<main" + page[page.index('id="first-said"') :])
        assert 'value="wrong scale"' in page
        assert 'name="sure"' not in page
        page = browser.post(f"{path}/weigh", 422, **anew, first="71")
        (tick,) = re.finditer(r'name="sure"', page)
        assert page.index('name="again"') < tick.start()  # it belongs to the sample begun again
        for odd in ({"first": ""}, {"first": "7.2", "again": " "}):
            page = browser.post(f"{path}/weigh", 422, **anew | odd)
            assert re.search(
                rf'id="{"again" if "again" in odd else "first"}"[^>]*aria-invalid', page
            )
        assert [len(each.weights) for each in story_of(line, lots[0]).weigh_ins] == [1, 0][
            : 1 + closed
        ]
        browser.post(f"{path}/weigh", once="c", close="1")
    browser.post(f"{path}/weigh", **anew, first="71", sure="1")
    last = story_of(line, lots[0]).weigh_ins[-1]
    assert (len(last.weights), last.judgement.sample, last.closed) == (1, 1, False)


def test_a_lot_that_fails_is_held_and_says_so_first(
    browser: Browser, lots: tuple[str, str]
) -> None:
    path = f"/lots/{lots[1]}"
    for number in range(12):
        browser.post(f"{path}/weigh", once=f"{number:016x}", weight="5.1", unit="g")
    page = words_of(browser.get(path))
    assert "Held: the lot is not to be sold as 1/4 oz" in page
    assert "Held since" in page
    assert "12 held" in words_of(browser.get("/lots"))


def test_a_lot_is_held_released_and_withdrawn_each_with_its_reason(
    browser: Browser, line: Path, lots: tuple[str, str]
) -> None:
    path = f"/lots/{lots[0]}"
    page = browser.post(f"{path}/hold", 422, hold=" ")
    assert "Nothing was written." in words_of(page)
    assert re.search(r'id="hold"[^>]*aria-invalid="true"', page)
    assert browser.post(f"{path}/hold", hold="hooks <b>snap</b>") == f"{path}?done=held"
    page = browser.get(f"{path}?done=held")
    assert "until you release it" in page
    assert "hooks &lt;b&gt;snap&lt;/b&gt;" in page
    assert "hooks <b>" not in page
    held = story_of(line, lots[0]).lot.held
    assert held
    assert held.why == "hooks <b>snap</b>"
    browser.post(f"{path}/release", release="every hook pulled")
    assert story_of(line, lots[0]).lot.held is None
    assert "can’t be undone" in browser.get(path)
    browser.post(f"{path}/void", void="counted wrong")
    page = words_of(browser.get(path))
    assert "Void since" in page
    assert "Withdraw" not in page


def test_what_went_in_is_noted_later_and_corrected(
    browser: Browser, line: Path, lots: tuple[str, str]
) -> None:
    path = f"/lots/{lots[0]}"
    asked = {"kind": "glue", "lot": "G-7 + G-8"}
    assert browser.post(f"{path}/add", **asked) == f"{path}?done=added"
    wrong = {"kind": "hook", "lot": "HK-2292", "instead": "hook=HK-2291"}
    browser.post(f"{path}/add", **wrong)
    went_in = [str(each) for each in story_of(line, lots[0]).lot.materials]
    assert went_in == ["glue=G-7", "glue=G-8", "hook=HK-2292"]
    for field, asked, said in (
        ("kind", {"kind": "hok", "lot": "H"}, "looks like a slip"),
        ("lot", {"kind": "hook", "lot": ""}, "Nothing was written."),
        ("lot", {"kind": "hook", "lot": "H", "instead": "hook=NONE"}, "is not noted of the lot"),
    ):
        page = browser.post(f"{path}/add", 422, **asked)
        assert said in words_of(page)
        assert f'id="{field}-said"' in page, field
    assert "--instead" not in page
    assert went_in == [str(each) for each in story_of(line, lots[0]).lot.materials]


def test_a_run_that_was_not_printed_is_taken_back(
    browser: Browser, line: Path, lots: tuple[str, str]
) -> None:
    path = f"/lots/{lots[0]}"
    print_batch_cards(line, [lots[0]], line / "card.pdf")
    page = browser.get(path)
    assert "Take run 1 back" in page
    for run, why, said in (("1", " ", "Nothing was written."), ("7", "x", "as this run"),
                           ("1e9", "x", "as this run"), ("", "x", "as this run")):  # fmt: skip
        assert said in words_of(browser.post(f"{path}/unprint", 422, run=run, why=why))
    assert story_of(line, lots[0]).runs[0].state == "printed"
    assert browser.post(f"{path}/unprint", run="1", why="paper jam") == f"{path}?done=back"
    assert story_of(line, lots[0]).runs[0].state == "taken back"
    assert browser.post(f"{path}/unprint", run="1", why="paper jam") == f"{path}?done=before"
    assert "Take run 1 back" not in browser.get(path)


def test_what_was_here_before_is_counted_once_and_a_wrong_count_is_withdrawn(
    browser: Browser, line: Path, lots: tuple[str, str]
) -> None:
    one, other = "RM-38-40-SBR", "RM-12-40-SBR"
    listed = browser.get("/lots/count?q=reedmace+sunday")
    assert re.findall(r'name="n-([^"]+)"', listed) == [SKU, one, other]
    assert f'name="n-{SKU}"' not in browser.get("/lots/count")  # of that some is on hand
    page = browser.post("/lots/count/keep", 422, **{
        f"n-{one}": "many", f"n-{other}": "12", "counted": "Friday",
    })  # fmt: skip
    assert all(f'id="{name}-said"' in page for name in (f"n-{one}", "counted"))
    assert f'name="n-{other}" value="12"' in page
    assert "nothing is counted yet" in words_of(browser.post("/lots/count/keep", 422))
    asked = {f"n-{one}": "a dozen", f"n-{other}": "5", "counted": "2026-11-01"}
    assert browser.post("/lots/count/keep", **asked) == "/lots?done=counted"
    assert browser.post("/lots/count/keep", **asked) == "/lots?done=known"
    assert "53 jigs on hand, in 4 lots." in words_of(browser.get("/lots"))
    page = browser.post("/lots/count/keep", 422, **{f"n-{SKU}": "40"})
    assert "counted twice" in words_of(page)
    assert "--sure" not in page
    assert 'name="sure"' in page
    assert browser.post("/lots/count/keep", **{f"n-{SKU}": "40", "sure": "1"}).endswith("counted")

    (code,) = (each.lot.code for each in lots_of(line, sku=other)[0])
    assert "The count was wrong" in browser.get(f"/lots/{code}")
    browser.post(f"/lots/{code}/void", void="there are six")
    assert "Count it again" in browser.get(f"/lots/{code}")
    browser.post("/lots/count/keep", **{f"n-{other}": "6"})
    assert [each.lot.count for each in lots_of(line, sku=other)[0] if not each.lot.void] == [6]


def test_the_code_of_what_is_with_a_shop_is_not_withdrawn(
    browser: Browser, line: Path, lots: tuple[str, str]
) -> None:
    ship(ShipRequest(line, "ship", ((lots[0], 6),), "ferry-landing"))
    page = browser.post(f"/lots/{lots[0]}/void", 422, void="why not")
    assert "pieces with this lot code are with dealers" in words_of(page)


def test_a_trace_leads_to_the_lots_and_whom_to_call(
    browser: Browser, line: Path, lots: tuple[str, str]
) -> None:
    ship(ShipRequest(line, "ship", ((lots[0], 6),), "ferry-landing"))
    page = words_of(browser.get("/lots/trace?text=HK-2291"))
    found, _ = trace_to_lots(line, "HK-2291")
    assert "Supplier’s lot HK-2291: 1 lot, 6 with shops and customers, 18 on hand." in page
    assert f"6 {found.dealers[0].dealer}" in page
    assert lots[0] in page
    assert lots[1] not in page
    nothing = browser.get("/lots/trace?text=HK-9999", 422)
    assert re.search(r'id="text"[^>]*aria-invalid="true"', nothing)
    assert "What is in hand" in words_of(browser.get("/lots/trace"))


def test_a_recall_sheet_says_why(
    browser: Browser, line: Path, lots: tuple[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labeler.desk.work.Works._see_to", lambda works, number: None)
    hidden = form(browser.get(f"/lots/trace?text={lots[0]}"), "/lots/recall")
    place = browser.post("/lots/recall", **hidden, why="The hook opens under load")
    carry_out(line, hidden["once"])
    sheet = pypdf.PdfReader(io.BytesIO(browser.web.get(f"{HOME}{place}/file/0").content))
    assert "The hook opens under load" in " ".join(sheet.pages[0].extract_text().split())


def test_a_lot_that_is_none_is_told_with_the_nearest(
    browser: Browser, lots: tuple[str, str]
) -> None:
    near = lots[0][:-1] + str((int(lots[0][-1]) + 1) % 10)
    assert lots[0] in words_of(browser.get(f"/lots/{near}", 404))
    for odd in ("..%2f..%2fetc%2fpasswd", "%3Cscript%3Ealert(1)%3C%2Fscript%3E", "a" * 300):
        answer = browser.web.get(f"{HOME}/lots/{odd}")
        assert answer.status_code in (400, 404)
        assert "<script>alert" not in answer.text
        assert "passwd:" not in answer.text


def test_a_figure_is_a_drawing_and_nothing_else(browser: Browser, lots: tuple[str, str]) -> None:
    for path in (f"/figure/{SKU}", f"/figure/lot/{lots[0]}"):
        answer = browser.web.get(HOME + path)
        assert answer.headers["content-type"] == "image/svg+xml"
        assert answer.text.startswith("<svg ")
        assert "private" in answer.headers["cache-control"]
    assert browser.web.get(f"{HOME}/figure/NONE").status_code == 404


SCRIPT = "</title></textarea><script>alert(1)</script><img src=x onerror=alert(1)>\"\\'"


def test_no_name_of_the_makers_or_of_a_stranger_becomes_markup(
    browser: Browser, line: Path
) -> None:
    text = (line / "catalog.toml").read_text("utf-8")
    for name in ("Hobbin & Daughter", "Reedmace", "Sunday Bream"):
        assert f'"{name}"' in text
        text = text.replace(f'name = "{name}"', f"name = '''{SCRIPT[:-1]} {name}'''")
    (line / "catalog.toml").write_text(text, "utf-8")
    note = SCRIPT.replace("\\", "")
    lot = open_lot(BatchRequest(line, SKU, 30, note=note, materials=(f"hook={SCRIPT[:40]}",))).lots[
        0
    ]
    hold_lot(line, lot.code, note)
    for path in ("/lots", f"/lots/{lot.code}", f"/lots/trace?text={lot.code}", "/work", "/nowhere",
                 f"/figure/{SKU}", f"/figure/lot/{lot.code}",
                 "/lots/trace?text=onerror"):  # fmt: skip
        answer = browser.web.get(HOME + path)
        assert answer.status_code in (200, 404, 422), answer.text
        assert "<script>alert" not in answer.text
        assert "<img src=x" not in answer.text
    assert "&lt;script&gt;" in browser.get(f"/lots/{lot.code}")


def test_a_catalog_with_an_error_is_told_with_its_line_and_no_path(
    browser: Browser, line: Path
) -> None:
    text = (line / "catalog.toml").read_text("utf-8")
    (line / "catalog.toml").write_text(text.replace('price = "', 'prize = "', 1), "utf-8")
    page = browser.get("/lots", 422)
    assert re.search(r"catalog\.toml:\d+", words_of(page))
    assert str(line.parent) not in page


def test_too_much_at_once_is_refused(browser: Browser, lots: tuple[str, str]) -> None:
    path = f"/lots/{lots[0]}/hold"
    browser.post(path, 413, hold="x" * 300_000)
    browser.post(path, 400, files={"hold": ("a.txt", b"a")})
    browser.post(path, 400, hold="a\x00b")
    browser.post(path, 422, hold="x" * 5_000)
