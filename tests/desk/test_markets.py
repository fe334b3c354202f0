"""The page Markets: every verdict of the job, in words first, each with its rule and source."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from html import unescape
from pathlib import Path

import pytest

from labeler.app.markets import market_report
from labeler.desk.pages.markets import linked
from labeler.desk.worker import carry_out
from labeler.disclosures.market_rules import shipped
from labeler.disclosures.sale import Status
from tests.desk.conftest import HOME, Browser, demo_in, starter_in, words_of
from tests.desk.test_lots import SCRIPT, form

PLACES = ("US-ME", "US-CA", "US-WA", "GB", "FR", "US-MN")


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr("labeler.files._COARSE", 0)
    return starter_in(tmp_path / "line")


def sections(page: str) -> dict[str, str]:
    """Return what is said of each place, by its code."""
    found = re.split(r'<section aria-labelledby="m-', page.partition('aria-labelledby="wall"')[0])
    return {part.partition('"')[0]: part for part in found[1:]}


@pytest.mark.siege
def test_every_product_of_the_demo_has_its_verdict_in_every_place(tmp_path: Path) -> None:
    folder = demo_in(tmp_path / "line")
    browser = Browser(folder)
    page = browser.get("/markets?place=" + "&place=".join(PLACES) + "&on=2026-12-01")
    browser.desk.close()
    report = market_report(folder, (), PLACES, dt.date(2026, 12, 1))
    said = {
        "May not be sold": Status.BARRED, "May be sold, but not": Status.RESTRICTED,
        "May be sold with": Status.DISCLOSURE, "No rules": Status.NOT_HELD,
        "May be sold; binding": Status.NOTED, "May be sold": Status.FREE,
    }  # fmt: skip
    shown = sections(page)
    assert list(shown) == list(PLACES)
    for at, code in enumerate(PLACES):
        due = Counter(row[at].status for row in report.table)
        found: Counter[Status] = Counter()
        for words, count in re.findall(r"<h3[^>]*>([^<]+)</h3>\s*<p>\D*(\d+) product", shown[code]):
            found[next(status for start, status in said.items() if words.startswith(start))] += int(
                count
            )
        assert found == due, code
    maine = words_of("<main" + shown["US-ME"])
    assert maine.index("May not be sold") < maine.index("May be sold")
    assert "12 MRSA 12663-B" in maine
    hrefs = re.findall(r'<a href="(https?:[^"]+)" rel="noreferrer noopener"', page)
    assert "https://mainelegislature.org/legis/statutes/12/title12sec12663-B.html" in hrefs
    assert all(href.startswith("https://") for href in hrefs)


def test_a_notice_is_shown_as_the_label_must_say_it(browser: Browser, line: Path) -> None:
    text = (line / "catalog.toml").read_text("utf-8")
    assert re.search(r"^employees = \d+", text, re.MULTILINE)
    text = re.sub(r"^employees = \d+", "employees = 40", text, flags=re.MULTILINE)
    (line / "catalog.toml").write_text(text, "utf-8")
    page = browser.get("/markets?place=US-CA")
    words = words_of(page)
    assert "May be sold with a notice on the label" in words
    assert "WARNING" in unescape(re.findall(r'class="notice-text">([^<]+)', page)[0])


def test_a_place_is_named_as_people_name_it_and_a_slip_stands_beside_its_field(
    browser: Browser,
) -> None:
    assert set(sections(browser.get("/markets?other=Maine, Wash.;gb"))) == {"US-ME", "US-WA", "GB"}
    for field, words in (("other", "Mainee"), ("skus", "NOTHING-1"), ("on", "the day after")):
        page = browser.get(f"/markets?{field}={words}&place=US-WI", 422)
        assert re.search(rf'id="{field}"[^>]*aria-invalid="true"', page), field
        assert f'value="{words}"' in page
    page = browser.get(f"/markets?other={SCRIPT}&skus={SCRIPT}&place={SCRIPT}&on={SCRIPT}", 422)
    assert "<script>alert" not in page


def test_where_a_rule_was_read_is_followed_only_if_it_is_an_address() -> None:
    every = [rule.seen for _, rule in shipped().rules() if rule.seen]
    links = [href for seen in every for href, _, _ in linked(seen) if href]
    assert len(links) > 40
    for href in links:
        assert re.fullmatch(r"https://[a-z0-9.-]+\.[a-z]{2,}(/[^\s<>\"']*)?", href, re.IGNORECASE)
    for odd in ("javascript:alert(1)", "18F/allregs, html/x.html", "a mirror of it", "file:///etc"):
        assert [href for href, _, _ in linked(odd) if href] == []


@pytest.mark.siege
def test_the_sheet_for_the_wall_shows_what_the_page_shows(
    browser: Browser, line: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labeler.desk.work.Works._see_to", lambda works, number: None)
    hidden = form(browser.get("/markets?place=US-WI&other=Maine"), "/markets/sheet")
    place = browser.post("/markets/sheet", **hidden, paper="a4")
    carry_out(line, hidden["once"])
    assert "2 places as of" in words_of(browser.get(place))
    assert browser.web.get(f"{HOME}{place}/file/0").content.startswith(b"%PDF-")
