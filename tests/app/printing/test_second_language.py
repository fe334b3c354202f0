"""Labels in a second language: the maker's words beside the English, checked where law asks."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pypdf
import pytest

from labeler.app.check import check_catalog
from labeler.app.print_request import PrintRequest
from labeler.catalog.read import examine
from labeler.checker.subject import CheckRequest
from labeler.checker.worker import check
from labeler.findings import Finding, Grade
from tests.app.printing.test_missing import LOT, write_line
from tests.one_lot import print_one_lot

LABELS = """
[labels]
second_language = "fr"

[labels.words]
"swim jig" = "turlutte nageuse"
"Melon" = "Melon d’eau"
"""


def say(folder: Path, labels: str) -> tuple[Finding, ...]:
    """Give a catalog labels in two languages, and return what is found in it."""
    file = folder / "catalog.toml"
    file.write_text(file.read_text("utf-8").partition("\n[labels]")[0] + labels, "utf-8")
    return examine(folder)[1]


def words_of(file: Path) -> str:
    return " ".join(pypdf.PdfReader(file).pages[0].extract_text().split())


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = write_line(tmp_path / "line")
    assert not [one for one in say(folder, LABELS) if one.grade is Grade.STOP]
    return folder


@pytest.mark.daily("-letter-3x10-bag-strip")
@pytest.mark.parametrize(
    ("use", "sheet", "layout"),
    [
        ("bags", "letter-3x10", "bag-strip"),
        ("bags", "a4-3x7", "bag-compact"),
        ("cards", "letter-card", "header-card"),
        ("cards", "letter-card", "insert-card"),
    ],
    ids=lambda value: value if value not in ("bags", "cards") else "",
)
def test_both_languages_stand_on_every_layout_and_the_checker_asks_for_both(
    folder: Path, tmp_path: Path, use: str, sheet: str, layout: str
) -> None:
    out = tmp_path / "out.pdf"
    request = PrintRequest(
        folder, out, use, sheet=sheet, layout=layout, skus=("WH-38-40-MLN",)  # type: ignore[arg-type]
    )  # fmt: skip
    done = print_one_lot(request, LOT)
    found = (*done.findings, *done.report.findings)
    assert [one for one in found if one.grade is not Grade.NOTE] == []
    text = words_of(out).casefold()
    for words in ("turlutte nageuse", "melon d’eau", "hameçon"):
        assert words.casefold() in text
    say(folder, LABELS.replace("turlutte nageuse", "leurre à jupe"))
    again = check(CheckRequest(out, folder, dt.date(2026, 11, 25)), None, None).findings
    assert "statement-missing" in [one.rule for one in again if one.grade is not Grade.NOTE]


def test_words_that_no_label_prints_or_in_no_language_are_told(folder: Path) -> None:
    wrong = LABELS.replace('"Melon"', '"Mellon"')
    (odd,) = (one for one in say(folder, wrong) if one.rule == "label-word")
    assert (odd.grade, odd.found, odd.place.key) == (Grade.STOP, "Mellon", "labels.words.Mellon")
    assert "Melon" in odd.hint
    (none,) = (
        one for one in say(folder, LABELS.replace('second_language = "fr"\n', ""))
        if one.rule == "label-word"
    )  # fmt: skip
    assert none.place.key == "labels.words"


def test_french_that_is_lacking_is_told_where_it_is_asked(folder: Path) -> None:
    said = say(folder, LABELS.replace('"swim jig" = "turlutte nageuse"\n', ""))
    assert not [one for one in said if one.grade is Grade.STOP]
    lacking = [one for one in check_catalog(folder).findings if one.rule == "ca-identity-french"]
    assert (lacking[0].grade, "its kind in French" in lacking[0].message) == (Grade.FIX, True)
