"""The pages that codes lead to: one for each link, valid, whole, seen in a browser."""

from __future__ import annotations

import datetime as dt
import os
import re
import shutil
import subprocess
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import pytest
from lxml import etree, html

from labeler.app.book import make_pages
from labeler.book.site import LotPage, led_elsewhere, page_path, site_pages
from labeler.catalog.model import Catalog
from labeler.catalog.read import read_catalog
from labeler.codes.links import product_link
from labeler.drawing.jig import draw_jig
from labeler.findings import LabelerError
from labeler.marks import VectorPath as Drawn

DAY = dt.date(2026, 11, 25)
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
VNU = os.environ.get("VNU_JAR", "")


def parsed(text: str) -> Any:
    return html.fromstring(text)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, demo_folder: Path) -> Path:
    out = tmp_path_factory.mktemp("host") / "site"
    make_pages(demo_folder, out, DAY)
    return out


def test_every_link_on_a_label_has_its_page(site: Path, demo: Catalog) -> None:
    links = demo.file.maker.links
    assert links
    for product in demo.products:
        address = product_link(links, product.gtin, product.sku)
        page = site / unquote(urlsplit(address).path).strip("/") / "index.html"
        assert product.sku in page.read_text("utf-8")


def test_a_lot_s_link_has_a_page_with_its_code_and_a_withdrawn_one_says_so(demo: Catalog) -> None:
    product = demo.products[0]
    lots = [
        LotPage("25193017", product, dt.date(2025, 7, 12)),
        LotPage("25193025", product, dt.date(2025, 7, 12), withdrawn=True),
    ]
    pages = {str(page.path): page for page in site_pages(demo, lots, DAY)}
    assert product.maker.links
    for lot in lots:
        address = product_link(product.maker.links, product.gtin, product.sku, lot.code)
        page = pages[f"{urlsplit(address).path.strip('/')}/index.html"].html()
        assert lot.code in page
        assert "12 July 2025" in page
        assert ("lot was withdrawn. Please" in page) is lot.withdrawn
    of_product = pages[str(page_path(product))].html()
    assert "25193017" in of_product


def test_a_product_no_longer_sold_keeps_its_page_while_a_lot_is_on_record(demo: Catalog) -> None:
    gone = demo.products[0]
    rest = demo.model_copy(update={"products": demo.products[1:]})
    paths = {page.path for page in site_pages(rest, [LotPage("25193017", gone, DAY)], DAY)}
    assert page_path(gone) in paths
    assert page_path(gone, "25193017") in paths


@pytest.mark.parametrize(
    "began",
    ["https://go.example.com", "https://go.example.com/", "https://go.example.com/j",
     "http://old.example.com/a/b", "https://x.example.com/../../up", "https://x.example.com/%2e%2e",
     "javascript:1", "https://x.example.com/{", None],
)  # fmt: skip
def test_an_old_lot_s_page_lies_where_its_label_leads_whatever_links_began_with(
    demo: Catalog, began: str | None
) -> None:
    product = demo.products[0]
    maker = product.maker.model_copy(update={"links": began, "site": "javascript:1"})
    old = LotPage("25193017", product.model_copy(update={"maker": maker}), DAY)
    pages = {page.path: page for page in site_pages(demo, [old], DAY)}
    assert not any(".." in path.parts or path.is_absolute() for path in pages)
    path = page_path(old.product, old.code)
    assert 'href="javascript' not in pages[path].html()
    told = list(led_elsewhere(demo.file.maker, [old]))
    same = began is None or began.rstrip("/") == demo.file.maker.links
    assert [each.rule for each in told] == ([] if same else ["links-moved"])
    for links, words in ((maker.links, 0), (demo.file.maker.links, len(told)), (None, 0)):
        hints = "".join(each.hint for each in led_elsewhere(
            maker.model_copy(update={"links": links}), [old]))  # fmt: skip
        assert hints.count("today's address") == words
    with suppress(ValueError):
        label = product_link(began or "https://go.example.com", product.gtin, product.sku, old.code)
        assert label == f"{(began or 'https://go.example.com').rstrip('/')}/{path.parent}"


def test_no_page_runs_a_script_or_fetches_anything(site: Path) -> None:
    for page in site.rglob("*.html"):
        text = page.read_text("utf-8")
        tree = parsed(text)
        tags = {element.tag for element in tree.iter() if isinstance(element.tag, str)}
        assert not tags & {"script", "link", "img", "iframe", "object", "embed", "audio", "video"}
        assert not re.search(r"url\(|@import|javascript:|\son[a-z]+=", text)
        assert "default-src 'none'" in text


def test_every_link_between_pages_leads_to_one(site: Path) -> None:
    for page in site.rglob("*.html"):
        for href in parsed(page.read_text("utf-8")).xpath("//a/@href"):
            if urlsplit(href).scheme:
                continue
            target = page.parent / href
            assert (target / "index.html" if href.endswith("/") else target).is_file(), href


def test_every_page_says_what_its_product_must_say(site: Path, demo: Catalog) -> None:
    product = next(product for product in demo.products if product.has_lead)
    text = (site / page_path(product)).read_text("utf-8")
    words = " ".join(parsed(text).text_content().split())
    for said in ("Contains lead.", "Sharp hook", "Wash hands after handling", "local law",
                 product.colour.layers[0].shade, str(product.pattern.care)):  # fmt: skip
        assert said in words, said


def test_the_figure_is_the_card_s_drawing_with_its_words(site: Path, demo: Catalog) -> None:
    product = demo.products[0]
    tree = parsed((site / page_path(product)).read_text("utf-8"))
    (figure,) = tree.xpath("//figure//*[local-name()='svg']")
    drawn = draw_jig(product, detail="plain")
    assert len(figure.xpath(".//*[local-name()='path']")) == sum(
        isinstance(mark, Drawn) for mark in drawn.marks
    )
    assert drawn.says in figure.xpath(".//*[local-name()='title']")[0].text


@pytest.mark.daily
def test_a_stranger_s_words_stay_words(tmp_path: Path, line: Callable[..., Path]) -> None:
    folder = line(tmp_path / "line", [("<script>alert(1)</script>", 1, 1)], ['"><b>Melon & Co'])
    make_pages(folder, tmp_path / "site", DAY)
    for page in (tmp_path / "site").rglob("*.html"):
        assert "<script" not in page.read_text("utf-8")
        assert "<b>" not in page.read_text("utf-8")


def test_links_that_begin_in_a_folder_lead_from_that_folder(
    tmp_path: Path, line: Callable[..., Path]
) -> None:
    folder = line(tmp_path / "line", [("Reed Vole", 1, 1)], ["Melon"])
    product = read_catalog(folder).products[0]
    # the links begin with https://go.example.com/j, and the folder is uploaded to /j
    assert str(page_path(product)) == "p/P0-14-40-C0/index.html"


@pytest.mark.daily
def test_a_maker_without_links_is_told(tmp_path: Path, line: Callable[..., Path]) -> None:
    folder = line(tmp_path / "line", [("Reed Vole", 1, 1)], ["Melon"])
    file = folder / "catalog.toml"
    file.write_text(re.sub("(?m)^links.*$", "", file.read_text("utf-8")), "utf-8")
    with pytest.raises(LabelerError, match="links"):
        make_pages(folder, tmp_path / "site", DAY)
    assert not (tmp_path / "site").exists()


def test_writing_again_leaves_other_pages_alone(tmp_path: Path, line: Callable[..., Path]) -> None:
    folder = line(tmp_path / "line", [("Reed Vole", 1, 1)], ["Melon"])
    (tmp_path / "site" / "p" / "OLD").mkdir(parents=True)
    (tmp_path / "site" / "p" / "OLD" / "index.html").write_text("an old page", "utf-8")
    make_pages(folder, tmp_path / "site", DAY)
    assert (tmp_path / "site" / "p" / "OLD" / "index.html").read_text("utf-8") == "an old page"
    assert (tmp_path / "site" / "p" / "P0-14-40-C0" / "index.html").is_file()
    assert not list(tmp_path.glob(".*.part"))


def test_the_markup_closes_all_that_it_opens(site: Path) -> None:
    """HTML without optional tags left out is well-formed, but for the void elements."""
    page = next((site / "01").rglob("*.html")).read_text("utf-8")
    strict = re.sub(r"<(meta)([^>]*[^/])>", r"<\1\2/>", page.replace("<!DOCTYPE html>", ""))
    etree.fromstring(strict.encode())


@pytest.mark.skipif(not VNU, reason="no Nu HTML checker: set VNU_JAR to its jar file")
def test_the_nu_checker_finds_the_pages_valid(site: Path) -> None:
    some = [str(page) for page in sorted(site.rglob("*.html"))[:12]]
    done = subprocess.run(["java", "-jar", VNU, *some], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.siege
@pytest.mark.skipif(not CHROMIUM, reason="chromium is not installed: no page was seen in a browser")
def test_a_browser_shows_the_page_on_a_phone_with_nothing_wider_than_it(
    site: Path, tmp_path: Path, demo: Catalog
) -> None:
    product = next(one for one in demo.products if len(one.pattern.name) > 40)
    page = site / page_path(product)
    shot = tmp_path / "phone.png"
    assert CHROMIUM
    command = [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
               f"--user-data-dir={tmp_path / 'profile'}", "--window-size=500,900",
               f"--screenshot={shot}", page.as_uri()]  # fmt: skip
    subprocess.run(command, capture_output=True, check=True, timeout=600)
    from PIL import Image

    with Image.open(shot) as picture:
        assert picture.size == (500, 900)
        pixels = picture.convert("RGB")
        ground = pixels.getpixel((2, 890))
        # the outermost columns hold nothing but the page's ground
        assert all(pixels.getpixel((x, y)) == ground for x in (1, 498) for y in range(0, 900, 3))
        assert len(set(pixels.crop((20, 150, 480, 500)).resize((92, 70)).tobytes())) > 60
