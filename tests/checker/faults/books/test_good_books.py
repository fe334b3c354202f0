"""Nothing is to be said against a good book: dealers' and buyers', on both papers, folded too."""

from __future__ import annotations

import datetime as dt
import gc
import io
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labeler.app.book import BookJob, BookRequest, edition_of, make_catalog_book
from labeler.catalog.model import Catalog
from labeler.catalog.read import read_catalog
from labeler.checker.book import BookCheck
from labeler.checker.claims import ProductLine
from labeler.checker.judge import CheckRequest, check_bytes, check_pdf
from labeler.checker.page.book_page import SeenPlace
from labeler.checker.report import Report
from labeler.findings import Finding, LabelerError
from tests.checker.faults.books.lines import ANY_LINE, LINES, changed, line

DAY = dt.date(2026, 11, 25)
DEMO = Path(__file__).parents[4] / "demo_catalog"
Grave = Callable[[Report], list[Finding]]

WISHES: dict[str, dict[str, Any]] = {
    "dealer, Letter": {"dealer": "ferry-landing"},
    "dealer, A4, all tiers": {"paper": "a4"},
    "retail, Letter": {"audience": "retail"},
    "retail, folded, with bleed": {"audience": "retail", "booklet": True, "bleed": True},
}


@pytest.mark.usefixtures("unread")
@pytest.mark.siege
@pytest.mark.parametrize("name", list(WISHES))
def test_the_demo_s_books_have_no_fault(name: str, tmp_path: Path, grave: Grave) -> None:
    out = tmp_path / "book.pdf"
    made = make_catalog_book(BookRequest(DEMO, out, day=DAY, **WISHES[name]))
    report = check_pdf(out, DEMO, day=DAY)
    assert not grave(report), "\n".join(map(str, grave(report)))
    assert report.pieces == report.products == made.products


@pytest.mark.usefixtures("unread")
@pytest.mark.daily("{}")
@pytest.mark.parametrize("wish", [
    {}, {"booklet": True, "tier": "dealer"}, {"bleed": True, "archive": True}, {"only": ("vole",)},
    {"audience": "retail", "booklet": True}, {"dealer": "landing"},
], ids=str)  # fmt: skip
def test_a_line_that_must_warn_has_no_fault(
    wish: dict[str, Any], short_line: Path, tmp_path: Path, grave: Grave
) -> None:
    out = tmp_path / "book.pdf"
    made = make_catalog_book(BookRequest(short_line, out, day=DAY, **wish))
    report = check_pdf(out, short_line, day=DAY)
    assert not grave(report), "\n".join(map(str, grave(report)))
    assert report.pieces == report.products == made.products


KINDS: list[dict[str, Any]] = [
    {}, {"dealer": "landing", "paper": "a4"}, {"booklet": True, "bleed": True, "tier": "dealer"},
    {"audience": "retail", "archive": True}, {"audience": "retail", "booklet": True, "paper": "a4"},
]  # fmt: skip


@pytest.mark.siege
@pytest.mark.parametrize("name", LINES)
@pytest.mark.parametrize("ink", ["colour", "black"])
def test_a_line_with_words_of_its_own_has_no_fault(
    name: str, ink: Any, tmp_path: Path, grave: Grave
) -> None:
    """Euros and yen, accents, long names, names with figures, own terms, no dealers."""
    folder = line(name, tmp_path)
    catalog = read_catalog(folder)
    kinds = KINDS if catalog.file.tiers else [each for each in KINDS if "audience" in each]
    for wish in kinds[ink == "black" :: 2]:
        report = read_at_once(folder, catalog, wish, ink)
        assert not grave(report), (wish, "\n".join(map(str, grave(report))))
        assert report.pieces == report.products == len(catalog.products)


@pytest.mark.siege
@settings(max_examples=settings().max_examples // 6, suppress_health_check=list(HealthCheck))
@given(words=ANY_LINE, wish=st.sampled_from(KINDS), ink=st.sampled_from(["colour", "black"]))
def test_any_honest_book_has_no_fault(
    words: dict[str, str], wish: dict[str, Any], ink: Any, grave: Grave
) -> None:
    """Whatever a maker calls things: with figures, amounts, weights, a book's own words."""
    with tempfile.TemporaryDirectory() as root, suppress(LabelerError):  # too wide for its page
        folder = changed(words, Path(root))
        report = read_at_once(folder, read_catalog(folder), wish, ink)
        assert not grave(report), (words, wish, "\n".join(map(str, grave(report))))


def read_at_once(folder: Path, catalog: Catalog, wish: dict[str, Any], ink: Any) -> Report:
    """Make a book and read it, in memory and in this process."""
    request = BookRequest(folder, folder / "book.pdf", day=DAY, **wish)
    with io.BytesIO() as file:
        BookJob(request, replace(edition_of(request, catalog), ink=ink)).write(file, ())
        data = file.getvalue()
    asked = CheckRequest(request.out, folder, DAY, line=ProductLine.of(catalog))
    return check_bytes(data, asked, None, None, trusted=True)


def test_what_was_seen_of_a_page_is_let_go_with_it(
    short_line: Path, good_books: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pictures and letters of pages that are done once took half of a long book's memory."""
    look = BookCheck._page
    kept: list[SeenPlace] = []
    pages: list[object] = []

    def counting(check: BookCheck, *asked: Any) -> list[Finding]:
        found = look(check, *asked)
        gc.collect()
        kept.extend(each for each in gc.get_objects() if isinstance(each, SeenPlace))
        pages.append(asked[0])
        return found

    monkeypatch.setattr(BookCheck, "_page", counting)
    asked = CheckRequest(good_books["dealer"], short_line, DAY)
    check_bytes(good_books["dealer"].read_bytes(), asked, None, None, trusted=True)
    assert len(pages) > 5
    assert not {each.about.kind for each in kept}


def test_a_list_that_is_over_is_told(short_line: Path, good_books: dict[str, Path]) -> None:
    report = check_pdf(good_books["retail"], short_line, day=dt.date(2027, 11, 1))
    assert "price-list-over" in {each.rule for each in report.findings}


def test_a_book_for_a_place_where_lead_is_not_sold_is_stopped(
    short_line: Path, good_books: dict[str, Path]
) -> None:
    """New Hampshire RSA 339:77: no lead jig of an ounce or less is sold."""
    report = check_pdf(good_books["retail"], short_line, day=DAY, markets=["US-NH"])
    barred = {f.place.piece for f in report.findings if f.rule == "us-nh-lead-jig-sale"}
    assert barred == {"RV-14-40-REE", "RV-14-40-MUD", "RV-38-40-REE", "RV-38-40-MUD"}
    assert report.stops
