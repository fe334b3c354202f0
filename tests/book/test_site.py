"""The pages that codes lead to: one for each link, valid, whole, seen in a browser."""

from __future__ import annotations

import base64
import datetime as dt
import io
import os
import re
import shutil
import subprocess
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import html5lib
import pytest
from fontTools.ttLib import TTFont
from lxml import etree, html
from PIL import Image

from labeler.app.book import make_pages
from labeler.book.edition import entries_of, photo_says, weight_text
from labeler.book.site import LotPage, led_elsewhere, page_path, site_pages
from labeler.catalog.model import Catalog
from labeler.catalog.read import read_catalog
from labeler.codes.links import product_link
from labeler.disclosures import statements
from labeler.disclosures.needed import label_panel, needed
from labeler.drawing.jig import draw_jig
from labeler.drawing.jig_photos import jig_photo, jig_proportion
from labeler.findings import LabelerError
from labeler.marks import VectorPath as Drawn
from labeler.type.finish import finished
from labeler.units import FRACTION_SLASH, Length
from tests.book.conftest import DEMO

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
    alone = demo.model_copy(update={"products": ()})
    paths = {page.path for page in site_pages(alone, [LotPage("25193017", gone, DAY)], DAY)}
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
        assert not tags & {"script", "link", "iframe", "object", "embed", "audio", "video"}
        assert all(each.get("src").startswith("data:image/") for each in tree.iter("img"))
        assert not re.search(r"@import|javascript:|\son[a-z]+=", text)
        assert set(re.findall(r"url\(\"?([^,]*),", text)) == {"data:font/woff2;base64"}
        assert "default-src 'none'" in text


def test_every_link_between_pages_leads_to_one(site: Path) -> None:
    for page in site.rglob("*.html"):
        for href in parsed(page.read_text("utf-8")).xpath("//a/@href"):
            if urlsplit(href).scheme:
                continue
            path, _, place = href.partition("#")
            target = page.parent / path if path else page
            target = target / "index.html" if target.is_dir() else target
            assert target.is_file(), href
            assert not place or f'id="{place}"' in target.read_text("utf-8"), href


def test_every_page_says_what_its_product_must_say(site: Path, demo: Catalog) -> None:
    product = next(product for product in demo.products if product.has_lead)
    text = (site / page_path(product)).read_text("utf-8")
    words = " ".join(parsed(text).text_content().split())
    for said in ("Contains lead.", "Sharp hook", "Wash hands after handling", "local law",
                 product.colour.layers[0].shade, str(product.pattern.care)):  # fmt: skip
        assert said in words, said


def test_the_figure_is_the_plate_s_drawing_with_its_words(site: Path, demo: Catalog) -> None:
    product = demo.products[0]
    tree = parsed((site / page_path(product)).read_text("utf-8"))
    (figure,) = tree.xpath("//*[@class='plate']//*[local-name()='svg']")
    drawn = draw_jig(product)
    assert len(figure.xpath(".//*[local-name()='path']")) == sum(
        isinstance(mark, Drawn) for mark in drawn.marks
    )
    assert drawn.says in figure.xpath(".//*[local-name()='title']")[0].text


def faces_in(text: str) -> list[TTFont]:
    """Return the faces that a page holds."""
    packed = re.findall(r"url\(\"data:font/woff2;base64,([^\"]+)\"\)", text)
    return [TTFont(io.BytesIO(base64.b64decode(each))) for each in packed]


def words_of(text: str) -> str:
    """Return all that is shown of a page, words parted by one space."""
    tree = parsed(text)
    for hidden in tree.xpath("//style | //*[local-name()='title']"):
        hidden.text = ""
    for block in tree.xpath("//body//*[not(self::span[not(@class='quiet')] or self::strong)]"):
        block.text, block.tail = f" {block.text or ''}", f" {block.tail or ''}"
    return " ".join(tree.text_content().split())


def test_every_letter_of_every_page_is_in_each_of_its_faces(site: Path) -> None:
    faces: dict[str, list[set[str]]] = {}
    for page in site.rglob("*.html"):
        text = page.read_text("utf-8")
        rules = "".join(re.findall("@font-face.*", text))
        if rules not in faces:
            faces[rules] = [{chr(code) for code in face.getBestCmap()} for face in faces_in(text)]
        assert len(faces[rules]) == 5
        letters = {each for each in words_of(text) + words_of(text).upper() if not each.isspace()}
        for face in faces[rules]:
            assert letters <= face, page
        assert len(text.encode()) < 150_000 + 100_000 * len(parsed(text).xpath("//figure")), page


def test_a_name_in_other_letters_is_in_the_faces_too(
    tmp_path: Path, line: Callable[..., Path]
) -> None:
    folder = line(tmp_path / "line", [("Щука Ωmega łosoś", 1, 1)], ["Melon"])
    make_pages(folder, tmp_path / "site", DAY)
    text = (tmp_path / "site" / "index.html").read_text("utf-8")
    facts, names = faces_in(text)[:2], faces_in(text)[2:]
    assert all(set(map(ord, "łśŁŚ")) <= set(face.getBestCmap()) for face in facts)
    assert all(set(map(ord, "ЩукаΩłśŁŚ")) <= set(face.getBestCmap()) for face in names)
    assert '--facts: "Facts", "Names",' in text  # letters that the one lacks, the other has


def test_facts_come_first_then_recipe_care_and_the_law(site: Path, demo: Catalog) -> None:
    for product in demo.products:
        words = words_of((site / page_path(product)).read_text("utf-8"))
        weight = weight_text(product.weight)
        first = [statements.identity(product, ()), product.pattern.name, product.colour.name,
                 weight, f"Hook {product.hook_size}", "Details", product.head.name, "Recipe",
                 str(product.pattern.care), "Please note"]  # fmt: skip
        places = [words.find(" ".join(finished(each).split())) for each in first]
        assert -1 not in places, (product.sku, places)
        assert places == sorted(places), (product.sku, places)


def test_what_must_be_said_is_said_once_and_lead_first(site: Path, demo: Catalog) -> None:
    leaded = 0
    for product in demo.products:
        words = words_of((site / page_path(product)).read_text("utf-8"))
        panel = label_panel(Length.from_inches(2), Length.from_inches(2), product.bag)
        for said in needed(product, product.markets, DAY, panel=panel):
            text = " ".join(finished(said.text).split())
            if said.kind == "quantity":  # in capitals only where they are measured
                text = text.lower()
            assert words.count(text) == 1, (product.sku, text, words)
        assert words.count(" ".join(finished(str(product.pattern.care)).split())) == 1
        if product.has_lead:
            leaded += 1
            law = words.partition("Please note ")[2]
            assert law.startswith("Head: hard lead. Contains lead. Wash hands"), law
    assert leaded


def test_a_warning_stands_before_all_else_that_must_be_said(
    tmp_path: Path, line: Callable[..., Path]
) -> None:
    folder = line(tmp_path / "line", [("Reed Vole", 1, 1)], ["Melon"], employees=12)
    make_pages(folder, tmp_path / "site", DAY)
    (page,) = (tmp_path / "site" / "p").rglob("index.html")
    law = words_of(page.read_text("utf-8")).partition("Please note ")[2]
    assert law.startswith("WARNING:"), law
    assert law.count("WARNING:") == 1
    assert law.index("WARNING:") < law.index("Contains lead.") < law.index("Sharp hook")


def test_words_are_finished_and_no_quantity_may_be_broken(site: Path) -> None:
    for page in site.rglob("*.html"):
        tree = parsed(page.read_text("utf-8"))
        for part in tree.xpath("//body//text()[not(ancestor::style)]"):
            assert not re.search("['\"]", part), part
            assert not re.search(r"\d (?:oz|g|in|mm|jigs?)\b", part), part
            assert "\N{THIN SPACE}" not in part or part.getparent().tag == "title", part
            if FRACTION_SLASH in part:
                assert part.getparent().get("class") in ("over", "amount"), part
    assert "white-space: nowrap" in page.read_text("utf-8").partition(".amount {")[2][:40]


def test_a_photo_stands_as_the_print_places_it(site: Path, demo: Catalog) -> None:
    pictured = [product for product in demo.products if product.photo]
    assert pictured
    for product in demo.products:
        tree = parsed((site / page_path(product)).read_text("utf-8"))
        found = tree.xpath("//figure//img")
        assert len(found) == bool(product.photo), product.sku
        for image in found:
            kind, _, data = image.get("src").partition(",")
            assert kind == "data:image/webp;base64"
            with Image.open(io.BytesIO(base64.b64decode(data))) as picture:
                photo = jig_photo(Path(demo.folder), str(product.photo))
                assert picture.width / picture.height == pytest.approx(
                    jig_proportion(photo), abs=0.01
                )
                clear = picture.convert("RGBA").getchannel("A").resize((20, 20))
                assert clear.getpixel((0, 19)) == 0  # its ground is gone
                assert clear.getpixel((4, 9)) == 255  # and its head is to the left
            caption = " ".join(image.xpath("../..//figcaption")[0].text_content().split())
            assert caption == " ".join(photo_says(product).split())


def test_what_there_is_to_say_of_a_photo_is_told_with_the_pages(tmp_path: Path) -> None:
    folder = tmp_path / "line"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("prints", "ledger*"))
    kept = folder / "photos" / "reedmace-delft-craw.jpg"
    Image.new("RGB", (900, 600), "#808080").save(kept)
    made = make_pages(folder, tmp_path / "site", DAY)
    assert "photo-jig" in {each.rule for each in made.findings}


def test_an_old_lot_whose_photo_was_put_away_keeps_its_page(demo: Catalog) -> None:
    product = demo.products[0].model_copy(update={"photo": "gone.jpg"})
    pages = {page.path: page for page in site_pages(demo, [LotPage("25193017", product, DAY)], DAY)}
    text = pages[page_path(product, "25193017")].html()
    assert "25193017" in text
    assert "<img" not in text


def test_the_first_page_leads_to_every_product_by_pattern_color_and_weight(
    site: Path, demo: Catalog
) -> None:
    tree = parsed((site / "index.html").read_text("utf-8"))
    for entry in entries_of(demo.products):
        (section,) = tree.xpath(f"//section[@id='{entry.anchor}']")
        assert finished(entry.pattern.name) in section.xpath(".//h2")[0].text_content()
        drawn = section.xpath(".//*[@class='plate']//*[local-name()='svg']")
        assert len(drawn) == 1
        colours = section.xpath(".//ul[@class='colors']/li")
        assert len(colours) == len(entry.colourways)
        for product, shown in zip(entry.colourways, colours, strict=True):
            assert finished(product.colour.name) == shown.xpath(".//h3")[0].text_content()
            assert shown.xpath(".//*[@class='bar']//*[local-name()='svg']")
            sizes = {
                link.get("href"): " ".join(link.text_content().split())
                for link in shown.xpath(".//ul[@class='sizes']//a")
            }
            assert sizes == {
                f"{page_path(one).parent}/": f"{' '.join(weight_text(one.weight).split())} "
                f"hook {one.hook_size}"
                for one in entry.products
                if one.colour.code == product.colour.code
            }
            assert shown.xpath("./a/@href")[0] in sizes


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


def test_no_page_has_an_error_that_a_parser_mends(site: Path) -> None:
    for page in (site / "index.html", *sorted((site / "01").rglob("*.html"))[:3]):
        parser = html5lib.HTMLParser()
        parser.parse(page.read_text("utf-8"))
        assert parser.errors == [], page


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
