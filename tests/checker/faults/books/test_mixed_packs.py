"""One color of a pattern is sold in packs of two: each cell of the order form says so, truly."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pytest

from labeler.app.book import BookRequest, make_catalog_book
from labeler.checker.judge import check_pdf
from labeler.checker.report import Report
from labeler.findings import Finding

DAY = dt.date(2026, 11, 25)
REED, MUD, HEAVY, OTTER = "RV-14-40-REE", "RV-14-40-MUD", "RV-38-40-REE", "TO-12-50-MUD"


@pytest.fixture(scope="module")
def mixed(short_line: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A line in which one color is packed by twos, and its book."""
    folder = shutil.copytree(short_line, tmp_path_factory.mktemp("mixed") / "line")
    rows = f"sku,gtin,pack\n{REED},9521234001010,\n{MUD},9521234001027,2\n"
    (folder / "products.csv").write_text(rows, "utf-8")
    make_catalog_book(BookRequest(folder, folder / "book.pdf", day=DAY))
    return folder, folder / "book.pdf"


def rows_of_form(file: Path) -> dict[str, str]:
    """Return the line of the order form on which each SKU stands, as another reader has it."""
    document = pypdfium2.PdfDocument(file)
    texts = [page.get_textpage().get_text_bounded() for page in document]
    document.close()
    form = "\n".join(texts).split("How many packs of each?")[1].splitlines()
    return {line.split()[0]: line for line in form if line.startswith(("RV-", "TO-"))}


@pytest.mark.siege
def test_each_cell_says_its_pack_where_the_heading_can_t(
    mixed: tuple[Path, Path], grave: Callable[[Report], list[Finding]]
) -> None:
    folder, book = mixed
    rows = rows_of_form(book)
    assert {sku: rows[sku].split()[1:] for sku in (REED, HEAVY, MUD)} == {
        REED: ["pack", "of", "1"], HEAVY: ["pack", "of", "1"], MUD: ["pack", "of", "2"]
    }  # fmt: skip
    assert "pack of" not in rows[OTTER]
    assert not grave(check_pdf(book, folder, day=DAY))


def test_another_pack_in_a_cell_of_the_form_is_found(
    mixed: tuple[Path, Path], tmp_path: Path
) -> None:
    """The table's row and the form's cell are held against the catalog, which now says three."""
    folder, book = mixed
    changed = shutil.copytree(folder, tmp_path / "line")
    rows = (changed / "products.csv").read_text("utf-8").replace(",2\n", ",3\n")
    (changed / "products.csv").write_text(rows, "utf-8")
    report = check_pdf(book, changed, day=DAY)
    found = [each for each in report.findings if each.rule == "quantity-wrong"]
    assert {each.place.piece for each in found} == {MUD}
    assert len({each.place.page for each in found}) == 2


@pytest.mark.parametrize("says", ["pack of 1", ""])
def test_a_cell_of_the_form_that_says_another_pack_or_none_is_found(
    says: str,
    mixed: tuple[Path, Path],
    tmp_path: Path,
    bound_of: Callable[[pikepdf.Pdf], Any],
) -> None:
    folder, book = mixed
    with pikepdf.open(book) as pdf:
        bound = bound_of(pdf)
        bound.rewrite(bound.find(MUD, "pack of 2", "order"), "pack of 2", says)
        file = bound.save(tmp_path / "damaged.pdf")
    found = [e for e in check_pdf(file, folder, day=DAY).findings if e.rule == "quantity-wrong"]
    assert [each.place.piece for each in found] == [MUD]
