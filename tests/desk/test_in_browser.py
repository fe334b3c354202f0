"""The desk in a real browser: nobody is shut out, nothing is blocked, the keyboard does it all."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, BinaryIO

import pytest
from starlette.routing import compile_path

from labeler.app.line import LineEdit, save_line
from labeler.app.lots import WeighRequest, hold_lot, weigh_lot
from labeler.app.open_lots import BatchRequest, open_lot
from labeler.app.orders import OrderRequest, keep_order_of
from labeler.app.papers import print_batch_cards
from labeler.app.print_request import PrintRequest
from labeler.app.print_run import print_pieces
from labeler.app.shipping import ShipRequest, parcels_of, ship
from labeler.desk.work import Records, State, Work
from labeler.files import held_alone
from labeler.findings import Place, note, stop
from tests.browser import assert_open_to_everybody
from tests.desk.conftest import served, starter_in
from tests.desk.every import SHOWN
from tests.desk.keyboard import press, tab_to, write

pytestmark = pytest.mark.siege

SKU = "FST-38-40-MAR"


DONE, REFUSED, STOPPED, BUSY = (sign * 16 for sign in "abcd")
"""Work at each state, by its number."""


@dataclass(frozen=True)
class Shown:
    """A desk with something to show on every page: its address, and what stands in paths."""

    address: str
    lot: str
    known: dict[str, str]

    def at(self, path: str) -> str:
        """Return the address of a page."""
        return self.address.partition("?")[0] + path.format(lot=self.lot, **self.known)


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shown]:
    """A desk as the command opens it, on a small line with two lots, an order and work."""
    line = starter_in(tmp_path_factory.mktemp("shown") / "line")
    lot = open_lot(BatchRequest(line, SKU, 24, materials=("hook=HK-2291",))).lots[0].code
    other = open_lot(BatchRequest(line, SKU, 12, materials=("hook=HK-2300",))).lots[0].code
    weigh_lot(WeighRequest(line, lot, ("10.6", "10.7")))
    print_pieces(PrintRequest(line, line / "cards.pdf", "cards", (), lots=(f"{lot}=6",)))
    ship(ShipRequest(line, "ship", ((lot, 2),), "A Shop Near You"))
    slip = parcels_of(line)[0].first.slip
    hold_lot(line, other, "hooks snap")
    taken = keep_order_of(OrderRequest(line, lines=((SKU, 30),), dealer="A Shop Near You"))
    save_line(LineEdit(line, {("maker", "city"): "Low Ferry"}))
    at_work = _work(line, lot)
    assert taken.kept
    with served(line) as address, at_work:
        yield Shown(address, lot, {"other": other, "slip": slip, "order": taken.kept.number})


def _work(line: Path, lot: str) -> BinaryIO:
    """Put work at every state on record; return what is held as by a process that is at it."""
    records = Records(line)
    (line / "out").mkdir(exist_ok=True)
    print_batch_cards(line, [lot], line / "out" / "card.pdf")
    refused = (stop("x", Place("catalog.toml", 3), "no", hint="do"), note("y", Place(), "so"))
    states: tuple[tuple[str, State, dict[str, Any]], ...] = (
        (DONE, "done", {"files": (("Batch card", "card.pdf"),), "said": ("One card.",)}),
        (REFUSED, "refused", {"findings": refused}),
        (STOPPED, "stopped", {}),
        (BUSY, "at work", {"done": 2, "of": 9}),
    )
    for number, state, more in states:
        work = Work(number, "card", "Batch card", {"lots": [lot]}, f"/lots/{lot}", 1.0)
        records.write(replace(work, state=state, **more))
    held = held_alone(records.lock_of(BUSY))
    assert held
    return held


def opened(chromium: Any, address: str, said: list[str] | None = None, **how: Any) -> Any:
    """Return a page of a browser that was let in; what its console says is gathered."""
    page = chromium.new_context(**how).new_page()
    if said is not None:
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(address)
    page.wait_for_url("**/tonight")
    return page


PAGES = (
    "tonight?n-FST-38-40-MAR=12",
    "lots/count",
    "print",
    "print/sheet?use=cards&sku=FST-38-40-MAR%3D3",
    "print/again",
    "print/again/1?what={lot}",
    "lots",
    "lots/{lot}",
    "lots/{other}",
    "lots/trace?text=HK-2291",
    "shops",
    "shops/orders",
    "shops/orders/{order}",
    "shops/orders/{order}/correct?to=1",
    "shops/parcels",
    "shops/parcel?slip={slip}",
    "shops/send",
    "shops/shop?name=A+Shop+Near+You",
    "markets?other=Maine",
    "line",
    "line/color?of=marsh",
    "line/pattern?of=first",
    "line/parts",
    "line/entry?table=heads&of=ball",
    "line/prices?change=%2B5+%25",
    "line/photos",
    "line/versions",
    "take-in",
    "work",
    f"work/{DONE}",
    f"work/{REFUSED}",
    f"work/{STOPPED}",
    f"work/{BUSY}",
    "lots/none",
)

SENT: dict[str, dict[str, str]] = {
    "tonight/tie": {f"n-{SKU}": "0.5", "start": "x", "spoiled": "y", "made": "Friday"},
    "shops/orders/read": {"lines": f"first pattern = 3\n{SKU} = 6\nno such thing = 1"},
    "line/color": {"of": "marsh", "was": "another", "layers": "1", "layers.0.shade": "rust"},
    "print/look": {
        "use": "bags",
        "sheet": "letter-3x10",
        "layout": "bag-strip",
        "lot": "{other}=3",
    },
}
"""Forms whose answers are pages: faults, an order as read, both versions of a recipe, findings."""

NO_PAGES = {
    "/print/piece", "/print/seen/{number}/page/{page}", "/line/color/figure", "/line/prices/cells",
    "/line/photos/shown/{number}", "/shops/orders/keep", "/shops/orders/{number}/ship",
    "/take-in/photo/{number}", "/work/{number}/events", "/work/{number}/file/{place}",
    "/figure/lot/{code}", "/figure/{sku}",
}  # fmt: skip
"""Places that show no page: they answer pictures and files, or lead on."""

SEND = """([action, fields]) => {
  const form = document.createElement("form");
  form.method = "post";
  form.action = action;
  for (const [name, value] of Object.entries(fields)) {
    const field = form.appendChild(document.createElement("textarea"));
    field.name = name;
    field.value = value;
  }
  document.body.append(form);
  form.submit();
}"""


def test_every_page_is_open_to_everybody_and_nothing_of_it_is_blocked(
    chromium: Any, desk: Shown
) -> None:
    """Nothing comes from elsewhere; and no place is left out, one yet to come neither."""
    said: list[str] = []
    asked: list[str] = []
    page = opened(chromium, desk.address, said)
    page.on("request", lambda request: asked.append(request.url))
    looked_at = []
    for path in PAGES:
        assert page.goto(desk.at(path)).status == (404 if path == "lots/none" else 200), path
        assert_open_to_everybody(page, path)
        looked_at.append(page.url)
    for path, fields in SENT.items():
        page.goto(desk.at("work"))
        typed = {name: text.format(**desk.known) for name, text in fields.items()}
        page.evaluate(SEND, [desk.at(path), typed])
        page.wait_for_url("**/print/seen/*" if path == "print/look" else f"**/{path}")
        assert_open_to_everybody(page, path)
        looked_at.append(page.url)
    statuses = [re.search(r"status of (\d+)", text) for text in said]
    assert [found and found[1] for found in statuses] == ["404", "422", "422"], said
    assert {url.split("/")[2] for url in asked} == {desk.address.split("/")[2]}
    assert page.evaluate("document.fonts.check('600 16px Facts')")
    assert page.evaluate("document.cookie") == ""
    page.context.close()

    paths = ["/" + url.partition("?")[0].split("/", 4)[4] for url in looked_at]
    shown = {place.path for place in SHOWN}
    missing = {one for one in shown if not any(compile_path(one)[0].match(path) for path in paths)}
    assert missing == NO_PAGES


def test_what_is_ringed_lies_on_the_picture_at_every_width(chromium: Any, desk: Shown) -> None:
    page = opened(chromium, desk.address)
    page.goto(desk.at("print/sheet?use=bags&lot={other}%3D3"))
    for cell in ("4", "6"):  # by mouse, first free and spoiled
        page.click(f"[data-cell='{cell}']")
    assert (page.input_value("#start"), page.input_value("#spoiled")) == ("4", "6")
    page.click("text=See the finished pages")
    page.wait_for_url("**/print/seen/*")
    for path in (page.url, f"{page.url}?large=1"):
        page.goto(path)
        for width in (1440, 1024, 390):
            page.set_viewport_size({"width": width, "height": 900})
            picture, marks = (page.locator(f".page {of}").bounding_box() for of in _LAID)
            assert picture == pytest.approx(marks, abs=0.1), (path, width)
    page.context.close()


_LAID = ("img", "svg")
"""What the page of a finished file is, and what is laid on it."""


def test_a_lot_is_weighed_held_and_its_card_printed_by_keyboard_alone(
    chromium: Any, desk: Shown
) -> None:
    address, lot = desk.address, desk.lot
    said: list[str] = []
    page = opened(chromium, address, said)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the page"
    press(page, "Lots")
    page.wait_for_url("**/lots")
    press(page, lot)
    page.wait_for_url(f"**/lots/{lot}")
    tab_to(page, "What the scale shows")
    for weight in ("10.5", "10.6"):  # the field has the focus again after each
        page.keyboard.type(weight)
        with page.expect_navigation(url=f"**/lots/{lot}?unit=g"):
            page.keyboard.press("Enter")
        page.wait_for_selector(f"body:has-text('last first: {float(weight):g} g')")
        page.wait_for_selector("#weight:focus")
    write(page, "Why it is held", "hooks snap")
    page.keyboard.press("Enter")
    page.wait_for_url("**done=held")
    assert "until you release it" in page.text_content("main")
    press(page, "Make the batch card")
    page.wait_for_url("**/work/*")
    page.wait_for_selector("a.paper")
    assert page.text_content(".verdict") == "Done."
    assert said == []
    page.context.close()


def test_three_products_are_printed_on_the_cells_that_were_chosen(
    chromium: Any, desk: Shown, tmp_path: Path
) -> None:
    """Read from the PDF that arrives by PDFium, cell by cell: nothing of the program's is asked."""
    said: list[str] = []
    page = opened(chromium, desk.address, said)
    counts = {"FST-38-40-MAR": 4, "FST-38-40-INK": 3, "FST-12-50-MAR": 2}
    pdf = print_on_cells(page, counts, assert_open_to_everybody)
    assert said == []
    page.context.close()

    found = {cell: words for cell, words in cells(pdf).items() if words}
    marsh, ink = "First Pattern Marsh 3/8", "First Pattern Ink 3/8"
    half = "First Pattern Marsh 1/2"
    assert list(found) == [7, 8, 10, 11, 13, 14, 15, 16, 17]
    ours = [
        next((name for name in (marsh, ink, half) if set(name.split()) <= set(words)), words)
        for words in found.values()
    ]
    assert ours == [marsh] * 4 + [ink] * 3 + [half] * 2


def print_on_cells(
    page: Any, counts: dict[str, int], look: Callable[[Any, str], None] = lambda page, what: None
) -> bytes:
    """Print bag labels from cell 7 on, 9 and 12 spoiled, by keyboard; return what arrives.

    Args:
        page: any page of a desk.
        counts: labels by SKU, of three products.
        look: called with the page, at the sheet and at the finished pages.
    """
    press(page, "Print")
    page.wait_for_url("**/print")
    for sku, count in counts.items():
        write(page, f"n-{sku}", str(count))
    assert page.text_content("#sum") == f"{sum(counts.values())} labels in 3 lines."
    press(page, "Go on to layout and sheet")
    page.wait_for_url("**/print/sheet*")
    tab_to(page, "Cell 1, printed on, the first")
    for key in ("ArrowDown", "ArrowDown", "Space"):  # the first free cell is 7
        page.keyboard.press(key)
    for key in ("ArrowRight", "ArrowRight", "Space", "ArrowDown", "Space"):  # 9 and 12 are spoiled
        page.keyboard.press(key)
    assert (page.input_value("#start"), page.input_value("#spoiled")) == ("7", "9, 12")
    assert page.get_attribute("[data-cell='12']", "aria-label") == "Cell 12, spoiled"
    look(page, "the sheet")
    press(page, "See the finished pages")
    page.wait_for_url("**/print/seen/*")
    picture = page.locator(".page img")
    wide = picture.evaluate("async (image) => { await image.decode(); return image.naturalWidth; }")
    assert wide == 1000
    look(page, "the finished pages")
    press(page, "Print it")
    page.wait_for_selector("a.paper")
    address = page.get_attribute("a.paper", "href")
    body: bytes = page.context.request.get(f"http://{page.url.split('/')[2]}{address}").body()
    return body


def cells(pdf: bytes) -> dict[int, list[str]]:
    """Return the words in each cell of 3 x 10 labels, 2 5/8 in x 1 in, half an inch from the top.

    The sheet is measured, not asked for: columns begin 3/16 in from the left, 2 3/4 in apart.
    """
    import pypdfium2

    page = pypdfium2.PdfDocument(pdf)[0].get_textpage()
    found = {}
    for row in range(10):
        for column in range(3):
            left, top = 72 * (3 / 16 + 2.75 * column), 792 - 72 * (0.5 + row)
            text = page.get_text_bounded(left, top - 72, left + 72 * 2.625, top)
            found[row * 3 + column + 1] = text.replace("\u2044", "/").split()
    return found


def test_every_form_does_its_work_without_scripts(chromium: Any, desk: Shown) -> None:
    page = opened(chromium, desk.address, java_script_enabled=False)
    page.goto(desk.at("lots/trace?text=HK-2291"))
    page.click("text=Make the recall sheet")
    page.wait_for_selector("a.paper", timeout=60_000)  # the page loads itself again
    assert "Recall sheet" in page.text_content("main")
    page.context.close()


def test_the_browser_is_the_one_that_ci_installs() -> None:
    ci = (Path(__file__).resolve().parents[2] / ".ci" / "run").read_text("utf-8")
    assert "chromium" in ci
