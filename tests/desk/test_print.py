"""The page Print: what was chosen comes out, on the right cells, and is looked at before."""

from __future__ import annotations

import inspect
import os
import re
from html import unescape
from pathlib import Path

import pytest

from labeler.app.lots import hold_lot
from labeler.app.open_lots import BatchRequest, open_lot
from labeler.app.print_run import begun_sheets
from labeler.app.workstation import ledger_location
from labeler.desk.pages.prints import _marked
from labeler.desk.spool import media_of, printers
from labeler.desk.work import Work
from labeler.desk.worker import carry_out
from labeler.ledger.runs import past_runs
from tests.desk.conftest import HOME, Browser, starter_in, words_of

ONE, OTHER = "FST-38-40-MAR", "FST-12-50-INK"
SHEET = f"/print/sheet?use=bags&sku={ONE}%3D3&sku={OTHER}%3D2"
PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small line."""
    monkeypatch.setattr("labeler.files._COARSE", 0)
    return starter_in(tmp_path / "line")


def addresses(page: str, word: str, kind: str = "src") -> list[str]:
    """Return the addresses on a page that hold a word, without the desk's room."""
    found = re.findall(rf'{kind}="([^"]*{word}[^"]*)"', page)
    return [unescape(each)[len(HOME) - HOME.find("/", 8) :] for each in found]


def worked(browser: Browser, line: Path, path: str, number: str, **fields: object) -> Work:
    """Send a form, do its work, and return what came of it."""
    place = browser.post(path, once=number, **fields)
    assert place == f"/work/{number}"
    carry_out(line, number)
    work = browser.desk.works.find(number)
    assert work is not None
    return work


def cells_of(line: Path, run: int) -> dict[str, list[int]]:
    """Return the cells of the first sheet, by SKU, that the ledger has of a run."""
    with ledger_location(line).opened() as ledger:
        return {each.sku: [cell for _, cell in each.spots] for each in past_runs(ledger, run=run)}


def test_what_is_chosen_goes_on_to_every_layout_as_a_picture(browser: Browser) -> None:
    place = browser.post("/print/choose", use="bags", words="first pattern ink 1/2 = 2",
                         **{f"n-{ONE}": "3", f"n-{OTHER}": "0"})  # fmt: skip
    assert place.startswith("/print/sheet?use=bags&sku=")
    page = browser.get(place)
    assert "5 labels of 2 products" in words_of(page)
    pictures = addresses(page, "/print/piece")
    assert {re.search(r"layout=([a-z-]+)", each)[1] for each in pictures} >= {  # type: ignore[index]
        "bag-strip", "bag-compact", "bag-wide", "bag-panel"
    }  # fmt: skip
    answer = browser.web.get(HOME + pictures[0])
    assert answer.content.startswith(PNG)
    assert "max-age" in answer.headers["cache-control"]
    assert page.count('data-cell="') == 30
    assert "3 x 10 labels" in words_of(page)
    cards = browser.get(place.replace("use=bags", "use=cards"))
    assert "insert-card, back" in cards
    assert "letter-card" in words_of(cards)


def test_a_roll_is_shown_in_black_unless_color_is_chosen(browser: Browser) -> None:
    def current(more: str) -> list[str]:
        page = browser.get(f"{SHEET}&sheet={more}")
        return re.findall(r'aria-current="true">(In [^<]+)<', page)

    assert current("letter-2x5") == ["In color"]
    assert current("roll-203-3x1in") == ["In black"]
    assert current("roll-203-3x1in&ink=colour") == ["In color"]
    assert current("letter-2x5&ink=grey") == ["In black, photos in gray"]


def test_what_can_t_be_read_is_told_beside_its_field(
    browser: Browser, line: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lot = open_lot(BatchRequest(line, ONE, 6)).lots[0].code
    page = browser.post("/print/choose", 422, use="cards", words="no such thing",
                        **{f"n-{ONE}": "3"})  # fmt: skip
    assert re.search(r'name="words"[^>]*aria-invalid="true"', page)
    assert re.search(rf'name="n-{ONE}" value="3"', page)
    page = browser.post("/print/choose", 422, **{f"n-{ONE}": "a few", f"l-{lot}": ""})
    assert re.search(rf'name="n-{ONE}"[^>]*aria-invalid="true"', page)
    assert re.search(rf'name="l-{lot}" value=""', page)  # still none of it
    assert "nothing is chosen yet" in words_of(browser.post("/print/choose", 422, use="bags"))
    with monkeypatch.context() as context:
        context.setattr("labeler.desk.pages.prints._ADDRESS", 40)
        page = browser.post("/print/choose", 422, **{f"n-{ONE}": "3"})
        assert "more counts than one print" in words_of(page)
    fields = {"use": "bags", "sku": f"{ONE}=3", "sheet": "letter-3x10"}
    page = browser.post("/print/look", 422, start="first", spoiled="9, x", spare="-1", **fields)
    for name in ("start", "spoiled", "spare"):
        assert re.search(rf'name="{name}"[^>]*aria-invalid="true"', page, re.DOTALL), name
    assert browser.desk.works.all() == []


@pytest.mark.siege
@pytest.mark.usefixtures("unhurried")
def test_pages_are_looked_at_first_and_the_print_is_the_same_file(
    browser: Browser, line: Path
) -> None:
    work = worked(browser, line, "/print/look", "ab" * 8, use="bags", sheet="letter-3x10",
                  layout="bag-strip", sku=[f"{ONE}=3", f"{OTHER}=2"], start="7",
                  spoiled="9, 12")  # fmt: skip
    assert work.state == "done", work.findings
    assert not ledger_location(line).begun
    assert list((line / "out").iterdir()) == []
    assert browser.get(f"/work/{work.id}", 303) == ""
    page = browser.get(f"/print/seen/{work.id}")
    assert "nothing is on record yet" in words_of(page)
    (picture,) = addresses(page, f"/print/seen/{work.id}/page")
    assert browser.web.get(HOME + picture).content.startswith(PNG)
    large = addresses(page, "large=1", "href")
    assert "as=large" in browser.get(large[0])

    made = worked(browser, line, f"/print/seen/{work.id}/make", "cd" * 8)
    assert made.facts["run"] == 1
    assert made.facts["seen"] == work.facts["seen"]
    assert cells_of(line, 1) == {ONE: [7, 8, 10], OTHER: [11, 13]}
    page = browser.get(f"/print/seen/{made.id}")
    assert "free from cell 14 on" in words_of(page)
    paper = browser.web.get(HOME + addresses(page, "/file/0", "href")[0])
    assert paper.content.startswith(b"%PDF")

    again = browser.get(SHEET)  # what lies in the printer is offered first
    assert "begun, free from cell 14" in words_of(again)
    assert re.search(r'name="start"[^>]*value="14"', again)
    other = worked(browser, line, "/print/look", "ef" * 8, use="bags", sheet="letter-3x10",
                   sku=f"{ONE}=2", begun="new", start="5", spoiled="6")  # fmt: skip
    other = worked(browser, line, f"/print/seen/{other.id}/make", "ac" * 8)
    assert cells_of(line, 2) == {ONE: [5, 7]}

    page = browser.post(f"/print/seen/{other.id}/back", 422, back="")
    assert re.search(r'name="back"[^>]*aria-invalid', page, re.DOTALL)
    assert browser.post(f"/print/seen/{other.id}/back", back="jammed").endswith("done=back")
    assert begun_sheets(line)["letter-3x10"].next_free == 14
    page = browser.get(f"/print/seen/{other.id}?done=back")
    assert "Run 2 was taken back" in words_of(page)
    for gone in ("/file/0", "/send", f"/print/seen/{other.id}/back", "verdict good"):
        assert gone not in page
    page = browser.post(f"/print/seen/{other.id}/send", 422, to="Den", once="ad" * 8)
    assert "its cells are free for others" in words_of(page)
    assert browser.desk.works.find("ad" * 8) is None
    assert browser.post(f"/print/seen/{other.id}/back", back="again").endswith("done=before")


@pytest.mark.siege
@pytest.mark.usefixtures("unhurried")
def test_what_stops_it_is_overruled_only_with_a_reason_which_is_kept(
    browser: Browser, line: Path
) -> None:
    lot = open_lot(BatchRequest(line, ONE, 6, materials=("hook=HK-2291",))).lots[0].code
    hold_lot(line, lot, "hooks snap")
    assert "held: hooks snap" in words_of(browser.get(f"/print?lot={lot}"))
    assert f'name="l-{lot}" value="6"' in browser.get(f"/print?lot={lot}")
    work = worked(browser, line, "/print/look", "ab" * 8, use="bags", sheet="letter-3x10",
                  lot=f"{lot}=4")  # fmt: skip
    page = browser.get(f"/print/seen/{work.id}")
    assert "Do not print it like this" in words_of(page)
    assert "this lot is held" in words_of(page)
    ringed = re.findall(r'<g class="stop"><rect x="([\d.]+)"', page)
    assert len(ringed) == 4  # on each of its labels
    make = f"/print/seen/{work.id}/make"
    assert re.search(r'name="why"[^>]*aria-invalid', browser.post(make, 422), re.DOTALL)
    sheet = (line / "catalog.toml").read_text("utf-8")
    (line / "catalog.toml").write_text(f"{sheet}\n# another day\n", "utf-8")
    page = browser.post(make, 422, why="for the shop's own test rod", once="bc" * 8)
    assert "your catalog was changed since you looked" in words_of(page)
    assert browser.desk.works.find("bc" * 8) is None
    (line / "catalog.toml").write_text(sheet, "utf-8")
    made = worked(browser, line, make, "cd" * 8, why="for the shop's own test rod")
    assert made.state == "done", made.findings
    with ledger_location(line).opened() as ledger:
        (run,) = past_runs(ledger, lot=lot)
    kept = [each["found"] for each in run.findings if each["rule"] == "overruled"]
    assert kept == ["for the shop's own test rod"]
    assert "lot-held" in run.overrides


@pytest.mark.siege
@pytest.mark.usefixtures("unhurried")
def test_a_reason_is_for_no_more_than_was_seen(browser: Browser, line: Path) -> None:
    one, other = (
        open_lot(BatchRequest(line, sku, 6, materials=("hook=HK-2291",))).lots[0].code
        for sku in (ONE, OTHER)
    )
    hold_lot(line, one, "hooks snap")
    work = worked(browser, line, "/print/look", "ab" * 8, use="bags", sheet="letter-3x10",
                  lot=[f"{one}=2", f"{other}=2"])  # fmt: skip
    hold_lot(line, other, "paint peels")
    make = f"/print/seen/{work.id}/make"
    made = worked(browser, line, make, "cd" * 8, why="for the shop's own test rod")
    assert made.state == "refused"
    assert [each.rule for each in made.findings] == ["lot-held", "changed-since-look"]
    assert "paint peels" in made.findings[0].found
    assert list((line / "out").iterdir()) == []
    assert cells_of(line, 1) == {}
    assert begun_sheets(line) == {}


@pytest.mark.siege
@pytest.mark.usefixtures("unhurried")
def test_one_label_of_a_run_comes_out_again_just_as_it_was(browser: Browser, line: Path) -> None:
    assert "Nothing was printed yet" in words_of(browser.get("/print/again"))
    looked = worked(browser, line, "/print/look", "ab" * 8, use="bags", sheet="letter-3x10",
                    layout="bag-strip", sku=[f"{ONE}=3", f"{OTHER}=2"])  # fmt: skip
    worked(browser, line, f"/print/seen/{looked.id}/make", "cd" * 8)
    page = browser.get("/print/again")
    assert "Run 1" in words_of(page)
    (every,) = addresses(page, "/print/sheet", "href")
    assert "5 labels of 2 products" in words_of(browser.get(every))
    (same,) = (each for each in addresses(page, "/print/again/1", "href") if OTHER in each)
    shown = browser.get(same)
    assert re.search(r'name="count"[^>]*value="2"', shown)
    assert re.search(r'name="start"[^>]*value="6"', shown)  # the sheet that was begun
    fields = {"again": OTHER, "sheet": "letter-3x10", "begun": "on"}
    page = browser.post("/print/again/1/look", 422, **fields, count="0", start="1")
    for name in ("count", "start"):
        assert re.search(rf'name="{name}"[^>]*aria-invalid', page, re.DOTALL), name
    looked = worked(browser, line, "/print/again/1/look", "ef" * 8, **fields, count="4",
                    start="6")  # fmt: skip
    assert looked.state == "done", looked.findings
    assert "Mark for mark the same as in run 1." in looked.said
    assert "Print it" in words_of(browser.get(f"/print/seen/{looked.id}"))
    made = worked(browser, line, f"/print/seen/{looked.id}/make", "ac" * 8)
    assert made.facts["run"] == 2
    assert cells_of(line, 2) == {OTHER: [6, 7, 8, 9]}
    for odd in ("/print/again/9?what=" + ONE, "/print/again/1?what=..%2f", "/print/again/x"):
        browser.get(odd, 404)


LP = """#!/bin/sh
echo "$0 $@" >> "$SPOOLED"
case "$(basename "$0") $1" in
  "lpstat -e") echo "Den"; echo "Kitchen_Laser" ;;
  "lpstat -d") echo "system default destination: Kitchen_Laser" ;;
  "lp -d") test "$2" = Den && echo "lp: Den is switched off" >&2 && exit 1
           echo "request id is $2-7 (1 file(s))" ;;
esac
"""


def test_no_number_on_a_page_lies_on_another() -> None:
    """A mark is a circle of 7 points' radius."""
    label, card = [9.0, 36.0, 198.0, 108.0], [9.5, 37.0, 100.0, 60.0]
    rings = [(1, "stop", label), (2, "fix", label), (3, "fix", card), (4, "fix", [300.0, 36, 9, 9])]
    marks = _marked(rings)
    assert [each[:3] for each in marks] == rings  # each is drawn, where it is
    assert [each[3:] for each in marks] == [(7, 34), (22, 34), (37.5, 35), (298, 34)]


@pytest.mark.skipif(os.name == "nt", reason="there is no lp")
@pytest.mark.siege
@pytest.mark.usefixtures("unhurried")
def test_it_goes_to_a_printer_of_the_system_as_large_as_it_is(
    browser: Browser, line: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spooled = tmp_path / "spooled"
    for name in ("lp", "lpstat"):
        (tmp_path / name).write_text(LP)
        (tmp_path / name).chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    monkeypatch.setenv("SPOOLED", str(spooled))
    looked = worked(browser, line, "/print/look", "ab" * 8, use="cards", sheet="letter-card",
                    layout="insert-card", sku=f"{ONE}=2", ink="black")  # fmt: skip
    made = worked(browser, line, f"/print/seen/{looked.id}/make", "cd" * 8)
    page = browser.get(f"/print/seen/{made.id}")
    assert re.findall(r"<option>(\w+)</option>", page) == ["Kitchen_Laser", "Den"]
    send = f"/print/seen/{made.id}/send"
    sent = worked(browser, line, send, "ef" * 8, to="Kitchen_Laser")
    assert sent.said == ("It went to the printer Kitchen_Laser, at 100 %.",
                         "Its queue says: request id is Kitchen_Laser-7 (1 file(s)).")  # fmt: skip
    (words,) = [each for each in spooled.read_text().splitlines() if "/lp -d" in each]
    for option in ("print-scaling=none", "media=Letter", "sides=two-sided-long-edge"):
        assert f"-o {option} " in words
    assert words.endswith(f"-- {line / 'out' / made.files[0][1]}")
    for number, to in (("ac" * 8, "Den"), ("ad" * 8, "-o raw"), ("ae" * 8, "")):
        refused = worked(browser, line, send, number, to=to)
        assert refused.state == "refused"
    assert "switched off" in words_of(browser.get(f"/work/{'ac' * 8}"))


@pytest.mark.skipif(os.name == "nt", reason="there is no lp")
def test_a_page_does_not_wait_for_printers_that_do_not_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("lp", "lpstat"):
        (tmp_path / name).write_text(f"#!/bin/sh\necho $1 >> {tmp_path}/asked\nexec sleep 60\n")
        (tmp_path / name).chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    assert printers(0.5) == ()
    assert (tmp_path / "asked").read_text().split() == ["-e"]  # and not for each of its questions
    waits = inspect.signature(printers).parameters["patience"].default
    assert waits <= 2.0


def test_what_the_paper_is_called() -> None:
    assert media_of((792.0, 612.0)) == "Letter"
    assert media_of((595.28, 841.89)) == "A4"
    assert media_of((162.0, 90.0)) == "Custom.2.25x1.25in"


def test_nothing_but_pages_of_a_print_is_shown(browser: Browser, line: Path) -> None:
    for path in ("/print/seen/..%2f..%2fcatalog.toml", "/print/seen/" + "0" * 16, "/print/seen/%00",
                 f"/print/seen/{'0' * 16}/page/1", "/print/piece?sku=..%2f&layout=bag-strip",
                 "/print/piece?sku=" + ONE + "&layout=..%2f..%2fcatalog",
                 "/print/sheet?sku=..%2f..%2fetc%2fpasswd",
                 f"/print/sheet?sku={ONE}&sheet=..%2fx&layout=%3Cscript%3Ealert(1)"):  # fmt: skip
        answer = browser.web.get(HOME + path)
        assert answer.status_code in (200, 400, 404, 422), path
        assert "[maker]" not in answer.text
        assert "<script>alert" not in answer.text
        assert str(line.parent) not in answer.text


SCRIPT = "</title></textarea><script>alert(1)</script>"


def test_no_name_becomes_markup(browser: Browser, line: Path) -> None:
    text = (line / "catalog.toml").read_text("utf-8")
    for name in ("First Pattern", "Marsh"):
        text = text.replace(f'"{name}"', f"'''{SCRIPT} {name}'''")
    (line / "catalog.toml").write_text(text, "utf-8")
    for path in ("/print", SHEET):
        page = browser.get(path)
        assert "<script>alert" not in page
    assert "&lt;script&gt;" in page
