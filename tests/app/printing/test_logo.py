"""The maker's logo on cards, book and web pages: there, checked, and told where it is wrong."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Literal

import pytest
from PIL import Image, ImageDraw

from labeler.app.book import BookRequest, make_catalog_book, make_pages
from labeler.app.check import check_catalog
from labeler.app.print_request import PrintRequest
from labeler.checker.subject import CheckRequest
from labeler.checker.worker import check
from labeler.findings import Finding, Grade
from tests.app.printing.test_missing import LOT, write_line
from tests.one_lot import print_one_lot


def draw_logo(file: Path, *, upside_down: bool = False) -> None:
    """Draw a fish on nothing."""
    picture = Image.new("RGBA", (600, 200))
    pen = ImageDraw.Draw(picture)
    pen.ellipse((0, 20, 400, 180), fill="#0a4a50")
    pen.polygon(((380, 100), (600, 0), (600, 200)), fill="#c05a20")
    pen.ellipse((60, 70, 100, 110), fill="white")
    (picture.rotate(180) if upside_down else picture).save(file)


FISH = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 60 20">
<g transform="rotate({turn} 30 10)">
<ellipse cx="20" cy="10" rx="20" ry="8" fill="#0a4a50"/>
<path d="M38 10L60 0V20Z" fill="#c05a20"/></g></svg>
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = write_line(tmp_path / "line")
    text = (folder / "catalog.toml").read_text("utf-8")
    text = text.replace('postcode = "54000"', 'postcode = "54000"\nlogo = "logo.png"')
    (folder / "catalog.toml").write_text(text, "utf-8")
    draw_logo(folder / "photos" / "logo.png")
    return folder


def grave(findings: tuple[Finding, ...]) -> list[str]:
    return [one.rule for one in findings if one.grade is not Grade.NOTE]


@pytest.mark.daily("png-colour")
@pytest.mark.parametrize("ink", ["colour", "black"])
@pytest.mark.parametrize("kind", ["png", "svg"])
def test_a_card_bears_the_logo_and_no_other_picture_in_its_place(
    folder: Path, tmp_path: Path, kind: str, ink: Literal["colour", "black"]
) -> None:
    out = tmp_path / "cards.pdf"
    logo = folder / "photos" / "logo.png"  # what it is stands in the file, not in its name
    if kind == "svg":
        logo.write_text(FISH.format(turn=0), "utf-8")
    request = PrintRequest(
        folder, out, "cards", layout="header-card", skus=("NO-38-DSK",), ink=ink
    )  # fmt: skip
    done = print_one_lot(request, LOT)
    assert grave((*done.findings, *done.report.findings)) == []
    if kind == "svg":
        logo.write_text(FISH.format(turn=180), "utf-8")
    else:
        draw_logo(logo, upside_down=True)
    found = check(CheckRequest(out, folder, dt.date(2026, 11, 25)), None, None).findings
    assert "picture-unaccounted" in grave(found)


@pytest.mark.daily
def test_a_logo_that_is_not_there_or_broken_is_told_as_a_photo_is(folder: Path) -> None:
    file = folder / "photos" / "logo.png"
    assert grave(check_catalog(folder).findings) == []
    file.write_bytes(file.read_bytes()[:400])
    assert grave(check_catalog(folder).findings) == ["picture-broken"]
    file.rename(file.with_name("logos.png"))
    (gone,) = (one for one in check_catalog(folder).findings if one.grade is Grade.STOP)
    assert (gone.rule, gone.place.key) == ("photo-missing", "maker.logo")
    assert "logos.png" in gone.hint


def test_cover_and_pages_bear_it(folder: Path, tmp_path: Path) -> None:
    made = make_catalog_book(BookRequest(folder, tmp_path / "book.pdf", "retail"))
    assert grave(made.report.findings) == []
    make_pages(folder, tmp_path / "site")
    for page in (tmp_path / "site").rglob("*.html"):
        assert '<img src="data:image/png;base64,' in page.read_text("utf-8")
