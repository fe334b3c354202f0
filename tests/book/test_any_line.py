"""Any line makes a book, or an error that says where: nothing clipped, nothing on anything else."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labeler.app.book import BookMade
from labeler.catalog.read import read_catalog
from labeler.findings import Finding, LabelerError
from tests.unread import unread

NAMES = st.text(
    st.sampled_from("abcdefghilmnoprstuvwyWM ABCDEFG'&-éüÅß,."), min_size=1, max_size=80
).filter(str.strip)
LINES = st.tuples(
    st.lists(st.tuples(NAMES, st.integers(1, 6), st.integers(1, 10)), min_size=1, max_size=3),
    st.lists(NAMES, min_size=10, max_size=10),
    st.fixed_dictionaries(
        {
            "audience": st.sampled_from(["dealer", "retail"]),
            "paper": st.sampled_from(["letter", "a4"]),
            "booklet": st.booleans(),
            "bleed": st.booleans(),
        }
    ),
    st.sampled_from([2, 12]),
)
Drawn = tuple[list[tuple[str, int, int]], list[str], dict[str, object], int]


def hold(drawn: Drawn, line: Callable[..., Path], make: Callable[..., BookMade]) -> None:
    patterns, colours, asked, employees = drawn
    with tempfile.TemporaryDirectory() as name:
        folder = line(Path(name) / "line", patterns, colours, employees=employees)
        out = Path(name) / "book.pdf"
        made, findings = made_or_told(make, folder, out, asked)
        if made is None:
            assert not out.exists()
            assert all(str(finding.place) for finding in findings)
            # these would be the book's own fault, not the catalog's
            own = {"book-collision", "book-clipped", "not-passed"}
            assert not own & {one.rule for one in findings}, findings
            return
        assert made.products == sum(weights * shown for _, weights, shown in patterns)
        if asked["booklet"]:
            return
        skus = {product.sku for product in read_catalog(folder).products}
        look_at(out, skus)


def made_or_told(
    make: Callable[..., BookMade], folder: Path, out: Path, asked: dict[str, object]
) -> tuple[BookMade | None, tuple[Finding, ...]]:
    try:
        return make(folder, out, **asked), ()
    except LabelerError as error:
        return None, error.findings


def look_at(out: Path, skus: set[str]) -> None:
    """Hold every page against its paper, and every SKU against the pages."""
    document = pypdfium2.PdfDocument(out)
    seen: set[str] = set()
    for page in document:
        trim = page.get_trimbox()
        text = page.get_textpage()
        count = text.count_chars()
        assert count > 0, "an empty page"
        seen |= skus & set(text.get_text_bounded().split())
        for number in range(0, count, 7):
            left, bottom, right, top = text.get_charbox(number)
            assert left >= trim[0] - 1
            assert right <= trim[2] + 1
            assert bottom >= trim[1] - 1
            assert top <= trim[3] + 1
    document.close()
    assert seen == skus
    with pikepdf.open(out) as checked:
        assert not checked.check_pdf_syntax()


@pytest.mark.siege
@settings(max_examples=settings().max_examples // 5, suppress_health_check=list(HealthCheck))
@given(drawn=LINES)
def test_a_line_makes_a_book_or_a_located_error(
    drawn: Drawn, line: Callable[..., Path], make: Callable[..., BookMade]
) -> None:
    hold(drawn, line, make)


@pytest.mark.siege
def test_ordinary_names_of_eighty_letters_make_a_book(
    tmp_path: Path, line: Callable[..., Path], make: Callable[..., BookMade]
) -> None:
    """An error would satisfy the tests above: names of real words must not need one."""
    name = "The Slow and Considered Descent of an Old Alder Leaf through Still October Water"
    assert len(name) == 80
    colours = [f"{name[:74]} {number}" for number in range(10)]
    folder = line(tmp_path / "line", [(name, 2, 10), (name[::-1], 2, 10)], colours)
    for booklet in (False, True):
        made = make(folder, tmp_path / f"{booklet}.pdf", booklet=booklet)
        assert made.products == 40


@pytest.mark.siege
def test_three_hundred_products_make_a_book(
    tmp_path: Path, line: Callable[..., Path], make: Callable[..., BookMade]
) -> None:
    colours = [f"Color {number}" for number in range(10)]
    patterns = [(f"Pattern {number}", 5, 10) for number in range(6)]
    with unread():  # shorter lines are read above
        made = make(line(tmp_path / "line", patterns, colours), tmp_path / "book.pdf")
    assert made.products == 300
    look_at(tmp_path / "book.pdf", {p.sku for p in read_catalog(tmp_path / "line").products})
