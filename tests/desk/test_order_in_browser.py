"""An order by keyboard alone in a real browser, from the book that asks for it to a bad hook.

The form is made by the program and filled in by pikepdf, which knows nothing of it; what is on hand
afterwards is asked of the command line.
"""

from __future__ import annotations

import contextlib
import io
import json
from pathlib import Path
from typing import Any

import pikepdf
import pypdf
import pytest

from labeler.app.open_lots import BatchRequest, open_lot
from labeler.cli.group import run
from tests.browser import assert_open_to_everybody
from tests.desk.conftest import served, starter_in
from tests.desk.keyboard import choose_files, press, write
from tests.desk.test_in_browser import opened

pytestmark = pytest.mark.siege

SKU, OTHER = "FST-38-40-MAR", "FST-12-50-MAR"


def labeler(line: Path, *words: str) -> Any:
    """Return what a command says as JSON."""
    with contextlib.redirect_stdout(io.StringIO()) as said:
        assert run(["--catalog", str(line), *words, "--json"]) == 0
    return json.loads(said.getvalue())


def here(line: Path) -> dict[str, tuple[int, int]]:
    """Return what the command says is on hand of each product, and held."""
    said = labeler(line, "stock")["products"]
    return {each["sku"]: (each["on_hand"], each["held"]) for each in said}


def papers(page: Any) -> list[str]:
    """Return the addresses of the papers that a page offers."""
    found: list[str] = page.eval_on_selector_all("a.paper", "all => all.map((one) => one.href)")
    return found


def test_an_order_is_shipped_and_a_bad_hook_is_traced_by_keyboard_alone(
    chromium: Any, tmp_path: Path
) -> None:
    line = starter_in(tmp_path / "line")
    old = open_lot(BatchRequest(line, SKU, 12, materials=("hook=HK-2291",))).lots[0].code
    new = open_lot(BatchRequest(line, SKU, 24, materials=("hook=HK-2300",))).lots[0].code
    with served(line) as address:
        _week(chromium, address, line, (old, new))


def _filled_form(page: Any, line: Path) -> Path:
    """Have the book made, and return its order form as the shop fills it in."""
    press(page, "Shops")
    page.wait_for_url("**/shops")
    press(page, "A Shop Near You")
    page.wait_for_url("**/shops/shop?*")
    press(page, "Make the book")
    page.wait_for_selector("a.paper", timeout=120_000)
    book = page.context.request.get(papers(page)[0])
    form = line / "our order.pdf"
    with pikepdf.open(io.BytesIO(book.body())) as document:
        for field in document.Root.AcroForm.Fields:
            wanted = {f"qty {SKU}": "20", f"qty {OTHER}": "6", "order": "PO 118"}
            if str(field.T) in wanted:
                field.V = pikepdf.String(wanted[str(field.T)])
        document.save(form)
    return form


def _week(chromium: Any, address: str, line: Path, lots: tuple[str, str]) -> None:
    old, new = lots
    said: list[str] = []
    page = opened(chromium, address, said)
    form = _filled_form(page, line)
    press(page, "Shops")
    page.wait_for_url("**/shops")
    choose_files(page, "The filled form: drop it here, or choose it", [form])
    press(page, "Read the order")
    page.wait_for_url("**/shops/orders/read")
    assert page.input_value("#dealer") == "A Shop Near You"
    assert (page.input_value("#sku-1"), page.input_value("#packs-1")) == (SKU, "20")
    assert_open_to_everybody(page, "the order as read")
    write(page, "Packs of line 1", "18")
    page.keyboard.press("Enter")  # in a field it only shows how it reads now
    page.wait_for_selector(".lead:has-text('24 packs')")
    press(page, "Put it on record")
    page.wait_for_url("**done=new")
    assert "18 of 24 packs can go today" in page.text_content(".verdict")
    assert (page.input_value(f"#lot-{old}"), page.input_value(f"#lot-{new}")) == ("12", "6")
    order = page.url.partition("?")[0]
    press(page, "Once they are tied: count them in Tonight")
    page.wait_for_url("**/tonight?*")
    assert page.input_value(f"[name='n-{OTHER}']") == "6"
    page.goto(order)
    press(page, f"Jigs of lot {old}")  # Enter in a field only shows the page again
    page.wait_for_url("**/ship")
    assert page.input_value(f"#lot-{new}") == "6"
    assert here(line)[SKU] == (36, 0)
    press(page, "Ship it")
    page.wait_for_selector("a.paper", timeout=120_000)
    texts = [
        pypdf.PdfReader(io.BytesIO(page.context.request.get(href).body())).pages[0].extract_text()
        for href in papers(page)
    ]
    assert len(texts) == 3
    assert old in texts[0].replace(" ", "")
    assert "PO 118" in texts[1]
    assert here(line)[SKU] == (18, 0)
    press(page, f"Order {order.rpartition('/')[2]}: what went, and taking it back")
    page.wait_for_url("**/shops/orders/*")
    assert "6 jigs are still to be tied" in page.text_content(".verdict")
    assert_open_to_everybody(page, "the order when it is shipped")

    _bad_hook(page, line, old)
    assert said == []
    page.context.close()


def _bad_hook(page: Any, line: Path, lot: str) -> None:
    press(page, "Lots")
    page.wait_for_url("**/lots")
    write(page, "Trace what is in hand: a hook box, a code, a shop, a day", "HK-2291")
    page.keyboard.press("Enter")
    page.wait_for_url("**/lots/trace**")
    assert "12 with shops" in page.text_content(".verdict")
    assert "A Shop Near You" in page.text_content(".whom")
    press(page, lot)
    page.wait_for_url(f"**/lots/{lot}")
    write(page, "Why it is held", "hooks snap")
    page.keyboard.press("Enter")
    page.wait_for_url("**done=held")
    (held,) = (each for each in labeler(line, "lot", "list")["lots"] if each["lot"] == lot)
    assert held["held"]
