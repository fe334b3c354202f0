"""The book by spreads: plates on the left, and every SKU two look-ups away from its price."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.app.book import BookMade
from labeler.app.orders import OrderRequest, look_at_order
from labeler.book.figures import beside_each_other, round_down
from labeler.book.order import Stock
from labeler.catalog.model import Catalog

Texts = Callable[[Path], list[str]]
VECTORS = Path(__file__).parent / "vectors"


def plain(text: str) -> str:
    return " ".join(text.split())


def as_set(name: str) -> str:
    """Return a name of the catalog as a page has it: with the apostrophe that is curled."""
    return name.replace("'", "\N{RIGHT SINGLE QUOTATION MARK}")


def section(pages: list[str], title: str, after: str) -> str:
    """Return the words from a section's title to the next section's."""
    book = "\n".join(pages[4:])
    begin = re.search(rf"(?m)^{title}\s*$", book)
    assert begin, title
    end = re.search(rf"(?m)^{after}\s*$", book[begin.end() :])
    assert end, after
    return book[begin.end() : begin.end() + end.start()]


@pytest.mark.parametrize("book", ["dealer_book", "retail_book"])
def test_every_plate_is_on_a_left_page_and_its_prices_face_it(
    book: str, demo: Catalog, texts: Texts, request: pytest.FixtureRequest
) -> None:
    """Page 1 of a bound book is a right page: common practice, no published source."""
    pages = texts(request.getfixturevalue(book))
    for pattern in {product.pattern.code: product.pattern for product in demo.products}.values():
        products = [p for p in demo.products if p.pattern.code == pattern.code]
        said = rf"{re.escape(as_set(pattern.name).upper())} · {pattern.code}"
        on = [n for n, text in enumerate(pages, 1) if re.search(said, plain(text).upper())]
        assert on[0] % 2 == 0, pattern.name
        assert len(on) % 2 == 0, "the next plate would be on a right page"
        if len(on) == 2:
            facing = set(pages[on[1] - 1].split())
            assert {product.sku for product in products} <= facing


def test_a_sku_is_found_in_two_look_ups(dealer_book: Path, demo: Catalog, texts: Texts) -> None:
    """First the SKU index, then the page that it names: there stands the price."""
    pages = texts(dealer_book)
    index = section(pages, "SKU index", "Materials and markets")
    named = dict(re.findall(r"([A-Z]{2}-[\w.-]+)\s+(\d+)\b", index))
    assert set(named) == {product.sku for product in demo.products}
    for product in demo.products:
        page = pages[int(named[product.sku]) - 1]
        row = next(line for line in page.splitlines() if product.sku in line.split())
        assert f"${product.price:.2f}" in row


def test_a_color_leads_to_the_page_of_its_price(
    dealer_book: Path, demo: Catalog, texts: Texts
) -> None:
    pages = texts(dealer_book)
    index = plain(section(pages, "Color index", "Weight index"))
    for product in demo.products:
        called = re.escape(as_set(product.pattern.name))
        begin = index.index(product.colour.name)
        hit = re.search(rf"{called}\s+(\d+)", index[begin:])
        assert hit, product.sku
        assert product.sku in pages[int(hit[1]) - 1].split()


def test_a_weight_leads_to_the_page_of_its_price(dealer_book: Path, demo: Catalog) -> None:
    """By the links themselves: each line of the weight index leads to a row of that weight."""
    with pikepdf.open(dealer_book) as document:
        names = document.Root.Names.Dests.Names
        place = {str(names[n]): names[n + 1][0].objgen for n in range(0, len(names), 2)}
        pages = [page.obj.objgen for page in document.pages]
        led = [
            (str(note.Contents), pages.index(place[str(note.Dest)]) + 1)
            for page in document.pages
            for note in page.get("/Annots", [])
            if note.Subtype == "/Link" and str(note.get("/Dest", "")).startswith("sku-")
        ]
    for product in demo.products:
        assert any(
            as_set(product.pattern.name) in said and said.split()[-1] == str(page)
            for said, page in led
        )


@pytest.mark.parametrize("audience", ["dealer", "retail"])
def test_a_line_of_one_product_is_no_more_than_four_pages(
    audience: str, tmp_path: Path, make: Callable[..., BookMade], demo_folder: Path
) -> None:
    made = make(demo_folder, tmp_path / "one.pdf", audience=audience, only=("RM-14-30-SBR",))
    assert 2 <= made.pages <= 4
    assert not made.report.stops


def test_the_cover_has_its_ground_without_a_print_shop(dealer_book: Path) -> None:
    document = pypdfium2.PdfDocument(dealer_book)
    for number in (0, len(document) - 1):
        red, green, blue = document[number].render(scale=0.2).to_pil().getpixel((3, 3))
        assert (red, green, blue) == (0xF4, 0xF1, 0xEA)
    document.close()


def test_keystone_stands_where_it_is_asked_for(
    tmp_path: Path, make: Callable[..., BookMade], demo_folder: Path, texts: Texts
) -> None:
    out = tmp_path / "book.pdf"
    made = make(demo_folder, out, only=("slow-fall",), tier="dealer", keystone=True)
    assert not made.report.stops
    row = next(
        line for line in "\n".join(texts(out)).splitlines()
        if "SF-7G-20-LIN" in line and "%" in line
    )  # fmt: skip
    assert "$4.50 $9.00" in row  # 6.95 less 35 %, to the nearest 0.05; and twice that


@pytest.mark.parametrize("audience", ["dealer", "retail"])
def test_the_price_list_by_itself_is_one_page_with_every_price(
    audience: str, tmp_path: Path, make: Callable[..., BookMade], demo_folder: Path,
    demo: Catalog, texts: Texts,
) -> None:  # fmt: skip
    made = make(demo_folder, tmp_path / "prices.pdf", audience=audience, prices=True)
    assert (made.pages, made.report.stops) == (1, False)
    (page,) = texts(tmp_path / "prices.pdf")
    rows = page.splitlines()
    for product in demo.products:
        row = next(line for line in rows if product.sku in line.replace(",", " ").split())
        assert f"${product.price:.2f} Pack of {product.pattern.pack}" in row


def test_the_order_form_is_a_grid_with_room_for_totals(
    dealer_book: Path, demo: Catalog, texts: Texts
) -> None:
    with pikepdf.open(dealer_book) as document:
        boxes = {
            str(field.T): [float(x) for x in field.Rect] for field in document.Root.AcroForm.Fields
        }
    codes = {product.pattern.code for product in demo.products}
    assert {f"packs {code}" for code in codes} | {"packs", "total", "order"} <= set(boxes)
    for one in demo.products:
        for other in demo.products:
            if one.pattern.code == other.pattern.code and one.sku != other.sku:
                level = boxes[f"qty {one.sku.replace('.', '_')}"][1] == pytest.approx(
                    boxes[f"qty {other.sku.replace('.', '_')}"][1], abs=0.5
                )
                assert not level or one.colour.code == other.colour.code
    said = plain("\n".join(texts(dealer_book)))
    assert "Least order $75.00." in said
    assert "case of 12 packs" in said
    assert "SIGNATURE" in said.upper()


@pytest.mark.parametrize("form", ["order-form-2026-11.pdf", "order-form-2026-11.xlsx"])
def test_a_form_that_was_sent_out_last_month_is_still_read(form: str, demo_folder: Path) -> None:
    request = OrderRequest(demo_folder, VECTORS / form)
    order = look_at_order(request, on_hand=lambda sku: Stock(100)).order
    assert {line.product.sku: line.packs for line in order.lines} == {"SF-10.5G-20-MPL": 3}
    assert order.heads["PO number"] == "PO 77"


@given(
    st.lists(st.tuples(st.floats(-50, 650), st.floats(20, 110)), min_size=1, max_size=4),
)
def test_names_beside_a_figure_keep_apart_and_in_order(
    wanted: list[tuple[float, float]],
) -> None:
    """Straight lines from names in the order of what they name cross less than any others."""
    spots, widths = [spot for spot, _ in wanted], [width for _, width in wanted]
    middles = beside_each_other(spots, widths, 0.0, 600.0, 14.0)
    placed = sorted(zip(middles, spots, widths, strict=True))
    for (x0, spot0, wide0), (x1, spot1, wide1) in pairwise(placed):
        assert spot0 <= spot1
        assert x0 + wide0 / 2 + 14 <= x1 - wide1 / 2 + 1e-6
    assert all(x - wide / 2 >= -1e-6 and x + wide / 2 <= 600 + 1e-6 for x, _, wide in placed)


@given(st.floats(0.02, 3))
def test_a_scale_that_is_said_is_never_larger_than_there_is_room_for(scale: float) -> None:
    assert round_down(scale) <= scale + 1e-6
    assert round_down(scale) >= scale * 0.8 - 0.011


def test_what_lies_ready_is_told_to_shops_and_checked(
    tmp_path: Path, make: Callable[..., BookMade], demo_folder: Path, texts: Texts
) -> None:
    out, asked = tmp_path / "book.pdf", {"only": ("slow-fall",), "tier": "dealer"}
    made: Any = make(demo_folder, out, ready=frozenset({"SF-7G-20-LIN"}), **asked)
    assert not made.report.stops
    lines = [line for line in "\n".join(texts(out)).splitlines() if "Pack of" in line]
    assert [line.endswith("ready") for line in lines if "SF-7G-20-LIN" in line] == [True]
    assert all(line.endswith("to order") for line in lines if "SF-7G-20-LIN" not in line)
