"""Warnings stand at each warned product's own entry, whatever page it falls on."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pypdfium2
import pytest

from labeler.app.book import BookMade
from tests.unread import unread

# California Code of Regulations, title 27, section 25602(c) as restated: a warning given in a
# catalog is clearly associated with the item. OEHHA's answers 22 and 23 of August 2017: a sign
# beside the item that points to a warning elsewhere is not enough.
PATH = 2
"""pdfium's FPDF_PAGEOBJ_PATH."""

WARNING = "WARNING: This product can expose you to chemicals including lead"


@pytest.fixture(scope="module", params=["dealer", "retail"])
def warned(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory,
    line: Callable[..., Path], make: Callable[..., BookMade],
) -> Path:  # fmt: skip
    """A book of a maker with twelve employees, long enough for groups to break over pages."""
    folder = tmp_path_factory.mktemp("warned")
    colours = [f"Color {number}" for number in range(23)]
    line(folder / "line", [("Reed Vole", 6, 23), ("Otter", 1, 2)], colours, employees=12)
    with unread():  # the tests read it themselves
        make(folder / "line", folder / "book.pdf", audience=request.param)
    return folder / "book.pdf"


def test_on_every_page_a_warning_stands_above_the_rows_of_each_group(warned: Path) -> None:
    document = pypdfium2.PdfDocument(warned)
    seen = 0
    for page in document:
        text = page.get_textpage().get_text_bounded()
        flat = " ".join(text.split())
        if "Quantity".upper() not in flat.upper() or "Pack of 1" not in flat:
            continue
        groups = re.split(r"(?=⁄\d+ oz [\d.]+ g HOOK|\b1 oz [\d.]+ g HOOK)", flat)[1:]
        assert groups, flat[:200]
        for group in groups:
            rows = re.findall(r"P\d-[A-Z0-9]+-40-C\d+", group)
            assert rows
            assert group.index(WARNING) < group.index(rows[0])
            seen += len(rows)
    document.close()
    assert seen == 6 * 23 + 2


def test_the_sign_is_no_lower_than_the_signal_word(warned: Path) -> None:
    """The sign's height against the word's capitals: 27 CCR 25603(a)(1) as restated."""
    document = pypdfium2.PdfDocument(warned)
    page = next(
        p for p in document if WARNING in " ".join(p.get_textpage().get_text_bounded().split())
    )
    text = page.get_textpage()
    word = text.search("WARNING:")
    start, _ = word.get_next()
    left, bottom, _, top = text.get_charbox(start)
    boxes = [one.get_bounds() for one in page.get_objects() if one.type == PATH]
    signs = [
        box
        for box in boxes
        if left - 14 < box[0] < box[2] < left and box[1] < top and box[3] > bottom
    ]
    assert signs
    assert max(b[3] for b in signs) - min(b[1] for b in signs) >= top - bottom
    document.close()


def test_nobody_is_warned_by_a_maker_of_two(dealer_book: Path) -> None:
    document = pypdfium2.PdfDocument(dealer_book)
    assert not any("WARNING" in page.get_textpage().get_text_bounded() for page in document)
    document.close()
