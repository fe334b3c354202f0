"""The pages that codes lead to, in a real browser: from a folder, and open to everybody."""

from __future__ import annotations

import datetime as dt
import io
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pypdf
import pytest

from labeler.book.edition import entries_of
from labeler.book.site import LotPage, page_path, site_pages
from labeler.catalog.read import read_catalog
from tests.book.conftest import DAY, DEMO
from tests.browser import ROOM, assert_open_to_everybody

PACK = """
[packs.box]
code = "BOX-4"
name = "A First Box"
of = { RM-14-30-SBR = 2, LL-14-30-LNB = 1, TD-18-4-INK = 1 }
kind = "fishing jig"
bag = "tall"
"""

PAGES = {
    "the line": "",
    "a photo": "RM-38-40-DLF",
    "two to a bag": "TD-132-8-HIP",
    "grams, a long name": "SF-7G-20-LIN",
    "an accent": "EP-18-10-FID",
    "no lead": "LL-14-30-LNB",
    "a lot withdrawn": "25193025",
    "an assorted pack": "BOX-4",
}
"""What is looked at: a SKU, a lot, or the first page."""


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Addresses in a site of the demo's with a pack, a lot, and warnings, as of a larger maker.

    One pattern is there whole, of the others two colors: their parts of the first page are alike.
    """
    folder = tmp_path_factory.mktemp("browser") / "line"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("prints", "ledger*"))
    file = folder / "catalog.toml"
    text = file.read_text("utf-8").replace("employees = 2", "employees = 12")
    file.write_text(text + PACK, "utf-8")
    catalog = read_catalog(folder)
    few = {p.sku for entry in entries_of(catalog.products) for p in entry.colourways[:2]}
    few |= {each.sku for each in catalog.products if each.pattern.code == "SF"}
    some = tuple(each for each in catalog.products if each.sku in few | set(PAGES.values()))
    catalog = catalog.model_copy(update={"products": some})
    made = dt.date(2025, 7, 12)
    lots = [LotPage("25193025", catalog.products[0], made, withdrawn=True)]
    for page in site_pages(catalog, lots, DAY):
        at = folder.with_name("site") / page.path
        at.parent.mkdir(parents=True, exist_ok=True)
        at.write_text(page.html(), "utf-8")
    paths = {product.sku: page_path(product) for product in catalog.products}
    paths |= {lot.code: page_path(lot.product, lot.code) for lot in lots}
    return {
        what: (folder.with_name("site") / paths.get(name, "index.html")).as_uri()
        for what, name in PAGES.items()
    }


@pytest.fixture
def page(chromium: Any) -> Iterator[Any]:
    context = chromium.new_context()
    yield context.new_page()
    context.close()


def test_every_page_is_open_to_everybody_and_asks_nobody(
    chromium: Any, shown: dict[str, str]
) -> None:
    # The policy of a page lets in no script, axe's neither: it is the tester's to let it pass.
    context = chromium.new_context(bypass_csp=True)
    page = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    for what, address in shown.items():
        page.goto(address)
        assert_open_to_everybody(page, what)
    context.close()
    assert [url for url in asked if not url.startswith("data:")] == list(shown.values())
    assert said == []


@pytest.mark.parametrize("what", PAGES)
def test_all_that_is_seen_is_set_in_the_faces_that_the_page_holds(
    page: Any, shown: dict[str, str], what: str
) -> None:
    """As the browser tells of the faces that it drew each element's letters with."""
    page.goto(shown[what])
    page.evaluate("document.fonts.ready")
    tool = page.context.new_cdp_session(page)
    tool.send("DOM.enable")
    tool.send("CSS.enable")
    root = tool.send("DOM.getDocument")["root"]["nodeId"]
    tags = "h1, h2, h3, p, dt, dd, td, th, a, figcaption, small, strong, .over, .under, .quiet"
    nodes = tool.send("DOM.querySelectorAll", {"nodeId": root, "selector": tags})["nodeIds"]
    drawn = [
        (font["familyName"], font["isCustomFont"])
        for node in nodes
        for font in tool.send("CSS.getPlatformFontsForNode", {"nodeId": node})["fonts"]
    ]
    assert {own for _, own in drawn} == {True}, {name for name, own in drawn if not own}
    assert {name for name, _ in drawn} >= {"Barlow Condensed", "Noto Serif Condensed"}


def test_words_without_end_stay_within_the_page(
    page: Any, tmp_path: Path, line: Callable[..., Path]
) -> None:
    long = "Donaudampfschifffahrtsgesellschaftskapitän" * 2
    catalog = read_catalog(line(tmp_path / "line", [(long, 6, 2)], [long, "Melon"], maker=long))
    lot = LotPage("OLD-CODE-OF-20-SIGNS", catalog.products[0], dt.date(2025, 9, 12))
    for number, each in enumerate(site_pages(catalog, [lot], DAY)):
        file = tmp_path / f"{number}.html"
        file.write_text(each.html(), "utf-8")
        page.goto(file.as_uri())
        for width in (360, 720, 960, 1440):
            page.set_viewport_size({"width": width, "height": 900})
            assert page.evaluate(ROOM) == 0, (each.path, width)


_LIGHT = """(selector) => {
  const of = (color) => color.match(/[\\d.]+/g).slice(0, 3).map((one) => one / 255)
    .map((one) => one <= .04045 ? one / 12.92 : ((one + .055) / 1.055) ** 2.4)
    .reduce((sum, one, at) => sum + one * [.2126, .7152, .0722][at], 0);
  const element = document.querySelector(selector);
  return [of(getComputedStyle(element).backgroundColor), of(getComputedStyle(element).color)];
}"""
"""Relative luminance of ground and ink. Source: WCAG 2.2, relative luminance."""


def test_in_the_dark_the_ground_is_dark_and_the_plate_is_still_paper(
    page: Any, shown: dict[str, str]
) -> None:
    page.goto(shown["a photo"])
    fills = "[...document.querySelectorAll('.plate path')].map((one) => getComputedStyle(one).fill)"
    light, by_day = page.evaluate(_LIGHT, "body"), page.evaluate(fills)
    page.emulate_media(color_scheme="dark")
    dark = page.evaluate(_LIGHT, "body")
    for ground, ink in (light, dark):
        assert (max(ground, ink) + 0.05) / (min(ground, ink) + 0.05) > 7
    assert light[0] > 0.8 > 0.05 > dark[0]
    assert page.evaluate(fills) == by_day
    for selector in (".plate", ".plate:has(img)", ".bar"):
        assert page.evaluate(_LIGHT, selector)[0] > 0.8
    assert page.evaluate("getComputedStyle(document.querySelector('.plate img')).filter") == "none"


def test_a_page_prints_on_white_paper_within_its_edges(page: Any, shown: dict[str, str]) -> None:
    page.set_viewport_size({"width": 720, "height": 960})  # Letter within margins, CSS pixels
    page.emulate_media(media="print", color_scheme="dark")
    for what, address in shown.items():
        page.goto(address)
        ground, ink = page.evaluate(_LIGHT, "body")
        assert (ground, ink) == (pytest.approx(1, abs=0.01), pytest.approx(0, abs=0.01)), what
        assert page.evaluate(ROOM) == 0, what
        printed = page.pdf(format="Letter", margin=dict.fromkeys(("top", "left", "right"), "0.5in"))
        sheets = len(pypdf.PdfReader(io.BytesIO(printed)).pages)
        assert sheets == 1 or what == "the line", (what, sheets)
