"""The finished files, read by independent readers: codes, words, cells, register."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pypdfium2
import pytest
import zxingcpp
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTChar, LTComponent, LTContainer, LTCurve, LTImage
from PIL import Image

from labeler.catalog.gtin import as_14
from labeler.catalog.model import Product
from labeler.codes.links import product_link


def batched(items: Sequence[Any], size: int) -> list[Sequence[Any]]:
    """Return the items in groups of ``size``, the last perhaps shorter."""
    return [items[i : i + size] for i in range(0, len(items), size)]


Render = Callable[[Path, int], list[Image.Image]]
Box = tuple[float, float, float, float]

LETTER_3X10 = (13.5, 36.0, 198.0, 72.0, 189.0, 72.0, 3, 10)
"""Left, top, pitches, cell and counts in points: 3/16, 1/2, 2 3/4, 1, 2 5/8 and 1 in.
From memory; 3/16 + 2 x 2 3/4 + 2 5/8 + 3/16 = 8 1/2 and 1/2 + 10 x 1 + 1/2 = 11."""


@cache
def cells() -> list[Box]:
    """Return the cells of a Letter sheet of 3 x 10 by arithmetic, top left origin."""
    left, top, across, down, width, height, columns, rows = LETTER_3X10
    return [
        (left + c * across, top + r * down, left + c * across + width, top + r * down + height)
        for r in range(int(rows))
        for c in range(int(columns))
    ]


def crop(page: Image.Image, box: Box, dpi: int) -> Image.Image:
    """Return a cell of a rendered page, a little larger so that nothing is cut."""
    scale = dpi / 72
    left, top, right, bottom = (n * scale for n in box)
    return page.crop((int(left), int(top), int(right) + 1, int(bottom) + 1))


def link_of(product: Product, lot: str) -> str:
    """Return the address that a product's code must carry."""
    assert product.maker.links
    return product_link(product.maker.links, product.gtin, product.sku, lot)


def by_zbar(image: Image.Image) -> set[str]:
    """Return what zbar reads, or skip where the library is missing."""
    try:
        from pyzbar import pyzbar
    except ImportError:
        pytest.skip("LIBZBAR IS MISSING: the second decoder was not asked (Debian: libzbar0)")
    symbols = [pyzbar.ZBarSymbol.QRCODE, pyzbar.ZBarSymbol.EAN13, pyzbar.ZBarSymbol.UPCA]
    return {found.data.decode() for found in pyzbar.decode(image, symbols=symbols)}


_KINDS = zxingcpp.BarcodeFormat
_PRINTED = zxingcpp.BarcodeFormats([_KINDS.QRCode, _KINDS.EAN13, _KINDS.UPCA])


def by_zxing(image: Image.Image) -> set[str]:
    """Return what zxing-cpp reads."""
    return {found.text for found in zxingcpp.read_barcodes(image, formats=_PRINTED)}


@pytest.mark.parametrize("decode", [by_zxing, by_zbar])
@pytest.mark.parametrize("ink", ["colour", "black"])
def test_every_code_on_the_bag_labels_decodes_to_its_own_link(
    run: Any, pages: Render, decode: Callable[[Image.Image], set[str]], ink: str
) -> None:
    done = run("bags", ink=ink)
    rendered = pages(done.file, 300)
    assert len(rendered) == -(-len(done.products) // 30)
    for page, products in zip(rendered, batched(done.products, 30), strict=True):
        for box, product in zip(cells(), products, strict=False):
            assert decode(crop(page, box, 300)) == {link_of(product, "263290013")}, product.sku


@pytest.mark.daily("header-card-by_zbar")
@pytest.mark.parametrize("decode", [by_zxing, by_zbar])
@pytest.mark.parametrize("layout", ["insert-card", "header-card"])
def test_card_codes_decode_retail_bars_among_them(
    run: Any, pages: Render, layout: str, decode: Callable[[Image.Image], set[str]]
) -> None:
    done = run("cards", layout=layout, skus=("RM-14-*", "ND-18-*"))
    found = {text for page in pages(done.file, 300) for text in decode(page)}
    links = {link_of(p, "263290013") for p in done.products}
    bars = {as_14(p.gtin)[1:] for p in done.products if p.gtin}
    assert len(bars) >= 3
    assert {t if t.startswith("http") else t.zfill(13) for t in found} == links | bars


@cache
def pages_of(file: Path) -> list[list[tuple[LTComponent, Box]]]:
    """Return what is drawn on each page with its box, top left origin, as pdfminer.six reads it."""
    return [list(things(page)) for page in extract_pages(file, laparams=None)]


def things(page: Any) -> Iterator[tuple[LTComponent, Box]]:
    def inside(container: LTContainer[Any]) -> Iterator[LTComponent]:
        for child in container:
            if isinstance(child, LTChar | LTCurve | LTImage):
                yield child
            elif isinstance(child, LTContainer):
                yield from inside(child)

    for thing in inside(page):
        x0, y0, x1, y1 = thing.bbox
        yield thing, (x0, page.height - y1, x1, page.height - y0)


def texts(file: Path) -> list[str]:
    """Return each cell's text as pdfminer.six reads it, letters in their order in the file."""
    told = []
    for page in pages_of(file):
        letters: dict[int, list[str]] = {}
        for thing, box in page:
            if isinstance(thing, LTChar):
                middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
                where = next(
                    i for i, c in enumerate(cells())
                    if c[0] <= middle[0] <= c[2] and c[1] <= middle[1] <= c[3]
                )  # fmt: skip
                letters.setdefault(where, []).append(thing.get_text())
        told += ["".join(letters[i]) for i in sorted(letters)]
    return told


def squeezed(text: str) -> str:
    """Return a text without any space, for words that a line break may have parted."""
    return re.sub(r"\s", "", text)


@pytest.mark.siege
def test_name_colour_weight_and_hook_stand_on_every_label(run: Any) -> None:
    done = run("bags", ink="colour")
    found = texts(done.file)
    assert len(found) == len(done.products)
    for text, product in zip(found, done.products, strict=True):
        weight = product.weight
        for said in (
            product.pattern.name,
            product.colour.name,
            weight.oz_text if weight.unit == "oz" else weight.g_text,
            weight.g_text,
            f"HOOK {product.hook_size}",
            "263290013",
            product.maker.postcode,
        ):
            assert squeezed(said).replace("'", "’") in squeezed(text), (product.sku, said)
        if product.has_lead:
            assert "Containslead" in squeezed(text)


@pytest.mark.siege
@pytest.mark.parametrize("ink", ["colour", "black"])
def test_all_ink_lies_inside_its_cell(run: Any, pages: Render, ink: str) -> None:
    done = run("bags", ink=ink)
    for page in pages(done.file, 300):
        beside = np.array(page)
        for box in cells():
            left, top, right, bottom = (n * 300 / 72 for n in box)
            beside[int(top) : int(bottom) + 1, int(left) : int(right) + 1] = 255
        assert (beside == 255).all()


@pytest.mark.siege
def test_nothing_is_set_beyond_its_cell_even_without_ink(run: Any) -> None:
    done = run("bags", ink="colour")
    for page in pages_of(done.file):
        for _, box in page:
            assert any(
                box[0] >= c[0] - 0.1
                and box[1] >= c[1] - 0.1
                and box[2] <= c[2] + 0.1
                and box[3] <= c[3] + 0.1
                for c in cells()
            ), box


def holes(file: Path, page: int) -> list[tuple[float, float]]:
    """Return the middles of the hang holes on a page: curves of a quarter inch."""
    (read,) = extract_pages(file, page_numbers=[page], laparams=None)
    return sorted(
        ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
        for thing, box in things(read)
        if isinstance(thing, LTCurve)
        and abs(box[2] - box[0] - 18) < 0.02
        and abs(box[3] - box[1] - 18) < 0.02
    )


@pytest.mark.siege
def test_fronts_and_backs_register_to_a_tenth_of_a_point(run: Any) -> None:
    done = run("cards", layout="insert-card", skus=("RM-14-*",))
    front, back = (holes(done.file, side) for side in (0, 1))
    assert len(front) == len(back) >= 4
    mirrored = sorted((612 - x, y) for x, y in back)
    for (x, y), (other_x, other_y) in zip(front, mirrored, strict=True):
        assert x == pytest.approx(other_x, abs=0.1)
        assert y == pytest.approx(other_y, abs=0.1)


@pytest.mark.siege
def test_both_panels_of_a_header_card_are_pierced_at_the_same_distance_from_the_fold(
    run: Any,
) -> None:
    done = run("cards", skus=("RM-14-*",))
    columns: dict[float, list[float]] = {}
    for x, y in holes(done.file, 0):
        columns.setdefault(round(x, 1), []).append(y)
    for ys in columns.values():
        assert len(ys) % 2 == 0
        for upper, lower in batched(sorted(ys), 2):
            assert lower - upper == pytest.approx(2 * (13.5 + 9), abs=0.1)


def test_the_same_wish_gives_the_same_bytes(run: Any, tmp_path: Path) -> None:
    from labeler.app.print_request import PrintRequest
    from tests.one_lot import print_one_lot

    done = run("cards", skus=("RM-14-*",))
    again = tmp_path / "again.pdf"
    folder = Path(__file__).resolve().parents[3] / "demo_catalog"
    print_one_lot(PrintRequest(folder, again, "cards", skus=("RM-14-*",)), "263290013")
    assert again.read_bytes() == done.file.read_bytes()


@pytest.mark.daily
@pytest.mark.parametrize(("ink", "said"), [(None, "black"), ("colour", "colour")])
def test_a_roll_is_printed_in_black_unless_color_is_asked_for(
    run: Any, ink: str | None, said: str
) -> None:
    """Printers of rolls have one ink: common practice, no published source."""
    done = run("bags", sheet="roll-203-4x2in", layout="bag-panel", ink=ink, skus=("RM-38-40-DLF",))
    with pikepdf.open(done.file) as pdf:
        sheet = json.loads(pdf.attachments["run-sheet.json"].get_file().read_bytes())
    assert sheet["run"]["ink"] == said
    with pypdfium2.PdfDocument(done.file) as document:
        page = np.asarray(document[0].render(scale=2).to_pil().convert("RGB"), np.int16)
    assert (np.ptp(page, axis=2).max() > 40) == (said == "colour")
