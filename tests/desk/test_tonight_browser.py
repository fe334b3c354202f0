"""Tonight by keyboard alone: three products tied, and their labels on the rest of a begun sheet."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pdfminer.high_level import extract_text

from labeler.app.lots import lots_of
from labeler.app.print_request import PrintRequest
from labeler.app.print_run import print_pieces
from tests.desk.conftest import served, starter_in
from tests.desk.keyboard import press, tab_to, write
from tests.desk.test_in_browser import cells, opened

pytestmark = pytest.mark.siege

TYPED = {"FST-38-40-MAR": "6", "FST-38-40-INK": "4", "FST-12-50-MAR": "2"}
SAID = {"FST-38-40-MAR": ("Marsh", "3/8oz"), "FST-38-40-INK": ("Ink", "3/8oz"),
        "FST-12-50-MAR": ("Marsh", "1/2oz")}  # fmt: skip


@pytest.fixture
def begun(tmp_path: Path) -> Iterator[tuple[str, Path]]:
    """A desk as the command opens it, on a small line with a sheet of which six cells are used."""
    line = starter_in(tmp_path / "line")
    first = PrintRequest(line, line / "six.pdf", "bags", ("FST-12-50-MAR=6",), start="next")
    print_pieces(first)
    with served(line) as address:
        yield address, line


def test_three_products_are_tied_and_printed_on_the_rest_of_the_sheet_by_keyboard_alone(
    chromium: Any, begun: tuple[str, Path]
) -> None:
    """Read from the PDFs that arrive by PDFium and by pdfminer.six, which had no part in them."""
    address, line = begun
    said: list[str] = []
    page = opened(chromium, address, said)

    for sku, count in TYPED.items():
        write(page, f"n-{sku}", count)
    write(page, "m-hook", "HK-2291")
    assert page.input_value("#sheet") == "letter-3x10"
    assert page.input_value("#start") == "next"
    write(page, "Spoiled cells", "9")
    page.wait_for_selector("#understood:has-text('then 20')")
    told = " ".join(page.text_content("#understood").split())
    assert "3 lots, 12 labels on 1 sheet letter-3x10, the first of them begun: from cell 7" in told
    assert "next free cell is then 20." in told
    assert lots_of(line)[0] == ()
    page.keyboard.press("Enter")  # in a field it only shows what would be made
    page.wait_for_url("**/tonight/look")
    assert lots_of(line)[0] == ()
    press(page, "Open the lots and make cards and labels")
    page.wait_for_url("**/work/*")
    page.wait_for_selector("a.paper", timeout=60_000)
    assert page.text_content(".verdict") == "Done."
    assert said == []
    host = f"http://{address.split('/')[2]}"
    papers = {
        each.text_content(): each.get_attribute("href")
        for each in page.query_selector_all("a.paper")
    }
    labels, cards = (page.context.request.get(host + papers[name]).body()
                     for name in ("Bag labels", "Batch cards"))  # fmt: skip
    tab_to(page, "Bag labels")  # one press of Enter opens them
    page.context.close()

    lots = {each.lot.sku: each.lot for each in lots_of(line)[0]}
    assert {sku: str(lot.count) for sku, lot in lots.items()} == TYPED
    assert {str(each) for lot in lots.values() for each in lot.materials} == {"hook=HK-2291"}
    found = {cell: "".join(words) for cell, words in cells(labels).items() if words}
    assert list(found) == [7, 8, *range(10, 20)]
    ours = [lot for lot in lots.values() for _ in range(lot.count)]
    for lot, words in zip(ours, found.values(), strict=True):
        assert f"LOT{lot.code}" in words
        assert all(said in words for said in SAID[lot.sku])
    (line / "cards.pdf").write_bytes(cards)
    on_cards = extract_text(line / "cards.pdf").replace(" ", "")
    assert all(lot.code in on_cards for lot in lots.values())
