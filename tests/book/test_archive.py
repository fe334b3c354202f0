"""Books built for an archive, held against a validator of its own and against the standard.

The validator is page-validation from PyPI, an independent program in Rust that passes the corpus
of the veraPDF consortium and the Isartor suite by its makers' word. It is no dependency of ours:
where it is not installed, the books were NOT validated, and the tests that are skipped say so.
"""

from __future__ import annotations

import datetime as dt
import importlib
import importlib.util
import re
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from labeler.app.book import BookRequest, edition_of
from labeler.book.make import make_book
from labeler.catalog.read import read_catalog
from labeler.press.impose import Ticket
from labeler.press.pdf.book import Binding, write_book
from labeler.press.pdf.fonts import to_unicode

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog"
DAY = dt.date(2026, 11, 25)
BOOKS: dict[str, dict[str, Any]] = {
    "dealer": {"tier": "Dealer", "only": ("reedmace", "ephemere", "slow-fall")},
    "retail": {"audience": "retail", "paper": "a4"},
    "booklet": {"audience": "retail", "booklet": True, "bleed": True},
}
"""The retail one is of the whole line; the dealer's has a form, with the letters of three names."""

validated = pytest.mark.skipif(
    importlib.util.find_spec("page") is None,
    reason="NOT VALIDATED: no PDF/A validator is here (pip install page-validation)",
)


@pytest.fixture(scope="module")
def book() -> Callable[[str], bytes]:
    """Return a function that makes one of the demo's books for an archive."""
    made: dict[str, bytes] = {}
    catalog = read_catalog(DEMO)

    def bytes_of(name: str) -> bytes:
        if name not in made:
            wish = BookRequest(DEMO, Path("x.pdf"), day=DAY, archive=True, **BOOKS[name])
            edition = edition_of(wish, catalog)
            laid = make_book(edition)
            file = BytesIO()
            ticket = Ticket(title=f"Our {name} book", author="Hobbin & Daughter", maker_folder=DEMO)
            binding = Binding(edition.bleed, wish.booklet, archive=True, facts=edition.facts())
            write_book(laid.pages, laid.headings, file, ticket, binding)
            made[name] = file.getvalue()
        return made[name]

    return bytes_of


@validated
@pytest.mark.parametrize("name", BOOKS)
def test_an_archive_s_book_is_valid_pdf_a_3b(name: str, book: Callable[[str], bytes]) -> None:
    report = importlib.import_module("page").validate_pdf_bytes(book(name), profile="3b")
    assert [(one.rule_id, one.message) for one in report.failures] == []
    assert report.is_compliant
    assert report.rules.total > 100


@validated
def test_the_validator_finds_what_is_planted(book: Callable[[str], bytes]) -> None:
    """A stream without an end of line, as the PDF library writes its fonts, and an odd property."""
    broken = book("retail").replace(b"\r\nendstream", b"  endstream", 3)
    broken = broken.replace(b"<pdf:Producer>", b"<pdf:Trapped >").replace(
        b"</pdf:Producer>", b"</pdf:Trapped >"
    )
    report = importlib.import_module("page").validate_pdf_bytes(broken, profile="3b")
    found = {one.rule_id.removeprefix("PDFA3B-") for one in report.failures}
    assert found >= {"STREAM-EOL-001", "XMP-PREDEFINED-PROPERTY-001"}


@validated
@pytest.mark.parametrize("name", ["dealer", "retail"])
def test_a_book_s_tags_are_those_of_pdf_ua(name: str, book: Callable[[str], bytes]) -> None:
    """All that PDF/UA-1 (ISO 14289-1:2014) asks but for saying that the file is one of its kind."""
    report = importlib.import_module("page").validate_pdf_bytes(book(name), profile="ua1")
    said = {"PDFUA1-ID-PART-001", "PDFUA1-ID-SCHEMA-001"}
    assert [one for one in report.failures if one.rule_id not in said] == []


@pytest.mark.siege
def test_every_stream_ends_on_a_line_of_its_own(book: Callable[[str], bytes]) -> None:
    """ISO 19005-3:2012, 6.1.7.1: an end of line before ``endstream``, and Length without it."""
    pdf = book("retail")
    lengths = re.compile(rb"/Length (\d+)[^>]*>>\nstream\n")
    found = list(lengths.finditer(pdf))
    assert len(found) == len(re.findall(rb"\nendstream", pdf)) > 20
    for one in found:
        assert pdf[one.end() + int(one[1]) :][:11] == b"\r\nendstream"


@pytest.mark.siege
def test_every_code_reads_as_a_letter(book: Callable[[str], bytes]) -> None:
    """ISO 19005-2:2011, 6.2.11.7.2: no code reads as U+0000, U+FEFF or U+FFFE."""
    with pikepdf.open(BytesIO(book("dealer"))) as file:
        maps = [
            one.ToUnicode.read_bytes().decode("ascii")
            for one in file.objects
            if isinstance(one, pikepdf.Dictionary) and "/ToUnicode" in one
        ]
    assert len(maps) > 5
    for cmap in maps:
        assert re.findall(r"<..> <(?:0000|FEFF|FFFE)>", cmap) == []
        for count, block in re.findall(r"(\d+) beginbfchar\n(.*?)endbfchar", cmap, re.DOTALL):
            assert block.count("\n") == int(count) <= 100


@pytest.mark.daily
def test_letters_beyond_the_first_plane_are_pairs_and_long_maps_are_parted() -> None:
    """ISO 32000-1:2008, 9.10.3: UTF-16BE. Technical Note 5014, 1.4.1: at most 100 in a block."""
    letters = [0, 0x1F41F, *(0x41 + code for code in range(2, 250))]
    said = to_unicode(letters).decode("ascii")
    assert "<01> <D83DDC1F>" in said
    assert "<00> <0" not in said
    assert re.findall(r"(\d+) beginbfchar", said) == ["100", "100", "49"]
    assert "endbfchar\nendcmap" in said
