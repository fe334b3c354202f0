"""Take-in in a real browser: no folder yet, a spreadsheet, twelve photos, the first labels."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from PIL import Image, ImageDraw

from labeler.catalog.read import read_catalog
from labeler.cli.group import run
from tests.browser import assert_open_to_everybody
from tests.desk.conftest import served
from tests.desk.keyboard import choose, choose_files, press, wait_at, write
from tests.desk.test_in_browser import cells, print_on_cells
from tests.desk.test_take_in import ANSWERS

pytestmark = pytest.mark.siege

SHEET = Path(__file__).resolve().parents[1] / "catalog" / "strangers" / "typed-gb.xlsx"

DROPPED = """(files) => {
  const held = new DataTransfer();
  for (const [name, text] of files) {
    const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
    held.items.add(new File([bytes], name));
  }
  document.querySelector("h1").dispatchEvent(
    new DragEvent("drop", { dataTransfer: held, bubbles: true, cancelable: true }));
}"""


@pytest.fixture
def new_desk(tmp_path: Path) -> Iterator[tuple[str, Path]]:
    """A desk as the command opens it on a folder that is not there yet; and the folder."""
    line = tmp_path / "my jigs"
    with served(line) as address:
        yield address, line


def photos(folder: Path) -> list[Path]:
    """Return twelve photographs that say which camera took them and where."""
    names = ["mire lark ink", "ash", *(f"IMG_{number}" for number in range(10))]
    for at, name in enumerate(names):
        image = Image.new("RGB", (1600, 1200), "#d8d4ca")
        drawn = ImageDraw.Draw(image)
        for strand in range(0, 500, 20):
            drawn.line((400, 600, 1200, 600 + strand), (at * 20, strand // 4, 90), 30)
        exif = Image.Exif()
        exif[0x010F] = "Telephone"
        exif.get_ifd(0x8825)[1] = "N"  # GPSLatitudeRef
        image.save(folder / f"{name}.jpg", exif=exif)
    return sorted(folder.glob("*.jpg"))


def _refused(page: Any, tmp_path: Path) -> None:
    """Drop a sheet that is refused, then a photo, by mouse: what was not sent stays chosen."""
    (tmp_path / "letter.csv").write_text("Dear shop,\nsix more please\n")
    (tmp_path / "tried").mkdir()
    tried = [tmp_path / "letter.csv", *photos(tmp_path / "tried")[:3]]
    files = [(path.name, base64.b64encode(path.read_bytes()).decode()) for path in tried]
    page.evaluate(DROPPED, files)
    assert page.text_content(".sending") == "Chosen: letter.csv and 3 photos."
    page.click("text=Take them in")
    page.wait_for_selector("text=no table of jigs")
    assert page.evaluate("document.activeElement.className") == "wrong"
    assert page.text_content(".sending") == "Chosen: 3 photos."
    asked: list[Any] = []

    def second_refused(route: Any) -> None:
        asked.append(route)
        if len(asked) == 2:
            route.fulfill(status=403, body="Not from here.")
        else:
            route.continue_()

    page.route("**/take-in/drop", second_refused)
    page.click("text=Take them in")
    page.wait_for_selector("text=The desk does not take the rest.")
    assert page.text_content(".sending").startswith("Kept before that: 1 photo.")
    assert page.evaluate("document.querySelector('[name=photos]').files.length") == 2
    wait_at(page, "Take them in")
    page.unroute("**/take-in/drop")


def _with_a_heading_of_ones_own(folder: Path) -> Path:
    """Return the spreadsheet, of which one heading is no word that anybody else has for it."""
    book = openpyxl.load_workbook(SHEET)
    book["typed-gb"]["C1"] = "Dressed as"
    book.save(folder / SHEET.name)
    return folder / SHEET.name


def _first_labels(page: Any, line: Path) -> None:
    """Print the first labels of the line; each product stands in the cells it is due."""
    products = {each.sku: each for each in read_catalog(line).products}
    counts = dict(zip(products, (4, 3, 2), strict=False))
    found = {cell: words for cell, words in cells(print_on_cells(page, counts)).items() if words}
    assert list(found) == [7, 8, 10, 11, 13, 14, 15, 16, 17]
    due = [products[sku] for sku, count in counts.items() for _ in range(count)]
    for cell, product in zip(found, due, strict=True):
        name = f"{product.pattern.name} {product.colour.name}"
        others = {other.colour.name for other in products.values()} - set(name.split())
        assert set(name.split()) <= set(found[cell]), (cell, name)
        assert not others & set(found[cell]), (cell, name)


def test_from_an_empty_folder_to_the_first_labels(
    chromium: Any, new_desk: tuple[str, Path], tmp_path: Path
) -> None:
    address, line = new_desk
    said: list[str] = []
    page = chromium.new_context().new_page()
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))

    page.goto(address)
    page.wait_for_url("**/take-in")
    assert_open_to_everybody(page, "an empty folder")
    _refused(page, tmp_path)
    (line / "photos" / "IMG_0.jpg").unlink()
    assert all(re.search("422|403|Autofocus", one) for one in said), said
    said.clear()
    choose_files(page, "Your spreadsheet", [_with_a_heading_of_ones_own(tmp_path)])
    choose_files(page, "Photos of your jigs", photos(tmp_path))
    assert page.text_content(".sending") == "Chosen: typed-gb.xlsx and 12 photos."
    press(page, "Take them in")
    page.wait_for_selector("form.taking", timeout=60_000)
    assert page.locator(".sights img").count() == 12
    assert_open_to_everybody(page, "columns and photos as read")
    assert page.text_content(".columns .open option") == "nothing says what it is"
    choose(page, "What Dressed as is", "the color")
    press(page, "Read it again with this")
    page.wait_for_url("**/take-in/read")
    page.wait_for_selector("form.taking")
    choose(page, "IMG_0.jpg", "Mire Lark, Ash")
    for name, answer in ANSWERS.items():
        write(page, name, answer)
    press(page, "Make my line")
    page.wait_for_selector("text=Your line is made.")
    assert_open_to_everybody(page, "the line that was made")
    _first_labels(page, line)
    assert said == []
    page.context.close()

    assert run(["--catalog", str(line), "check"]) == 0
    shown = {product.photo for product in read_catalog(line).products}
    assert {str(name).partition(".")[0] for name in shown} == {"mire lark ink", "Mire Lark Ash"}
    kept = list((line / "photos").iterdir())
    assert len(kept) == 12
    for path in kept:
        assert b"Telephone" not in path.read_bytes()
        with Image.open(path) as image:
            assert not image.getexif()
            assert max(image.size) <= 1600
