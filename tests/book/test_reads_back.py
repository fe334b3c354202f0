"""Books read back by programs that share no code with the one that wrote them."""

from __future__ import annotations

import re
import shutil
import subprocess
import zlib
from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pytest
import zxingcpp
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTChar, LTContainer

from labeler.app.book import BookMade
from labeler.catalog.model import Catalog
from labeler.codes.links import product_link
from labeler.findings import LabelerError
from tests.unread import unread

Texts = Callable[[Path], list[str]]


def pattern_pages(texts: list[str]) -> str:
    """Return the text of the pages from the first pattern to the colour index."""
    last = next(n for n, text in enumerate(texts) if "Color index" in text and n > 1)
    return "\n".join(texts[2:last])


@pytest.mark.parametrize("book", ["dealer_book", "retail_book"])
def test_every_sku_stands_once_in_the_tables(
    book: str, demo: Catalog, texts: Texts, request: pytest.FixtureRequest
) -> None:
    words = pattern_pages(texts(request.getfixturevalue(book))).split()
    assert sorted(w for w in words if w in {p.sku for p in demo.products}) == sorted(
        p.sku for p in demo.products
    )


def rows_of(text: str) -> Iterator[tuple[str, str]]:
    for row in text.splitlines():
        if found := re.search(r" ([A-Z]{2}-[A-Z0-9.]+-\d+-[A-Z]{3}) ", f" {row} "):
            yield found[1], row


def test_every_row_has_its_gtin_its_quantity_and_prices_reckoned_by_hand(
    dealer_book: Path, demo: Catalog, texts: Texts
) -> None:
    rows = dict(rows_of(pattern_pages(texts(dealer_book))))
    for product in demo.products:
        assert product.price is not None
        # the dealer's tier: 35 % off, to the nearest 0.05, half up
        twentieths = Fraction(product.price) * Fraction(65, 100) * 20
        dealer = Decimal(int(twentieths + Fraction(1, 2))) / 20
        row = rows[product.sku]
        assert f"${dealer:.2f} " in row, row
        assert f"${2 * dealer:.2f}" not in row, "keystone stands where nobody asked for it"
        assert f"${product.price:.2f} Pack of {product.pattern.pack}" in row, row
        assert (product.gtin or "–") in row, row


def test_the_quantity_stands_beside_every_retail_price(
    retail_book: Path, demo: Catalog, texts: Texts
) -> None:
    text = pattern_pages(texts(retail_book))
    rows = dict(rows_of(text))
    assert len(re.findall(r"\$\d+\.\d\d", text)) == len(rows) == len(demo.products)
    for product in demo.products:
        end = f"${product.price:.2f} Pack of {product.pattern.pack}"
        assert rows[product.sku].strip().endswith(end)


def every_byte(path: Path) -> Iterator[bytes]:
    """Yield every stream of the file unpacked, and every string in it."""
    yield path.read_bytes()
    with pikepdf.open(path) as document:
        for one in document.objects:
            if isinstance(one, pikepdf.Stream):
                try:
                    yield one.read_bytes()
                except pikepdf.PdfError:
                    yield one.read_raw_bytes()
            else:
                yield one.unparse() if isinstance(one, pikepdf.Object) else b""


@pytest.mark.siege
def test_a_book_for_buyers_holds_no_dealer_price_anywhere(
    retail_book: Path, dealer_book: Path, demo: Catalog, texts: Texts
) -> None:
    dealer_prices = set(re.findall(r"\$\d+\.\d\d", pattern_pages(texts(dealer_book)))) - {
        f"${product.price:.2f}" for product in demo.products
    }
    assert dealer_prices
    shown = "\n".join(texts(retail_book))
    assert not set(re.findall(r"\$\d+\.\d\d", shown)) & dealer_prices
    for word in ("Dealer", "Keystone", "KEYSTONE", "Margin", "Distributor", "Ferry Landing"):
        assert word not in shown, word
    with pikepdf.open(retail_book) as document:
        assert "/AcroForm" not in document.Root
        assert list(document.attachments) == ["book-sheet.json"]
    for data in every_byte(retail_book):
        for dealer in demo.file.dealers.values():
            assert dealer.name.encode() not in data
            assert dealer.name.encode("utf-16-be").hex().upper().encode() not in data


def test_a_dealer_s_book_does_hold_what_the_test_above_looks_for(
    dealer_book: Path, texts: Texts
) -> None:
    shown = "\n".join(texts(dealer_book))
    assert "Margin" in shown
    assert "MARGIN" in shown
    name = "Ferry Landing Bait & Bread"
    written = (name.encode(), name.encode("utf-16-be").hex().upper().encode())
    assert any(each in data for data in every_byte(dealer_book) for each in written)


def test_a_book_for_buyers_has_no_dealer(
    tmp_path: Path, make: Callable[..., BookMade], demo_folder: Path
) -> None:
    with pytest.raises(LabelerError) as told:
        make(demo_folder, tmp_path / "x.pdf", audience="retail", dealer="odd-pail", tier="dealer")
    assert len(told.value.findings) == 2
    assert not (tmp_path / "x.pdf").exists()


def place_of(document: Any, name: Any) -> tuple[int, float]:
    """Return the page number, from 1, and the height of a named destination."""
    names = document.Root.Names.Dests.Names
    table = {str(names[i]): names[i + 1] for i in range(0, len(names), 2)}
    target = table[str(name)]
    pages = [page.obj.objgen for page in document.pages]
    return pages.index(target[0].objgen) + 1, float(target[3])


def links(document: Any) -> Iterator[tuple[int, Any]]:
    for number, page in enumerate(document.pages, 1):
        for note in page.get("/Annots", []):
            if note.Subtype == "/Link":
                yield number, note


def test_the_contents_name_the_page_on_which_each_heading_stands(
    dealer_book: Path, texts: Texts
) -> None:
    pages = texts(dealer_book)
    with pikepdf.open(dealer_book) as document:
        found = 0
        for number, note in links(document):
            if number != 2 or "/Dest" not in note:
                continue
            page, _ = place_of(document, note.Dest)
            words = str(note.Contents)
            title = re.split(r"\s{3,}", words.strip())[0]
            assert re.search(rf"(?m){re.escape(title[:20])}", pages[page - 1]), (title, page)
            line = next(row for row in pages[1].splitlines() if row.startswith(title[:20]))
            assert str(page) in re.findall(r"\d+", pages[1][pages[1].index(line) :])[0]
            found += 1
        assert found == 16


def test_every_link_within_the_book_lands_on_a_page_of_it(dealer_book: Path) -> None:
    with pikepdf.open(dealer_book) as document:
        inner = [note.Dest for _, note in links(document) if "/Dest" in note]
        assert len(inner) > 40
        for name in inner:
            page, height = place_of(document, name)
            assert 1 <= page <= len(document.pages)
            assert 0 < height <= 800


def test_every_product_s_link_is_live_and_so_are_mail_and_telephone(
    dealer_book: Path, demo: Catalog
) -> None:
    with pikepdf.open(dealer_book) as document:
        live = [str(note.A.URI) for _, note in links(document) if "/A" in note]
    for product in demo.products:
        assert product.maker.links
        assert product_link(product.maker.links, product.gtin, product.sku) in live
    assert "mailto:bench@hobbin.example.com" in live
    assert "tel:7155550114" in live


def test_every_code_decodes_to_its_product_s_link(dealer_book: Path, demo: Catalog) -> None:
    document = pypdfium2.PdfDocument(dealer_book)
    seen: set[str] = set()
    for page in document:
        if (
            "Codes to scan" in page.get_textpage().get_text_bounded()
            or page.get_textpage()
            .get_text_bounded()
            .startswith(("CODES", "HOBBIN & DAUGHTER · DEALER CATALOG CODES"))
        ):
            picture = page.render(scale=300 / 72).to_numpy()
            seen |= {code.text for code in zxingcpp.read_barcodes(picture)}
    document.close()
    assert demo.file.maker.links
    wanted = {product_link(demo.file.maker.links, p.gtin, p.sku) for p in demo.products}
    assert wanted <= seen


def test_outline_labels_language_and_title(dealer_book: Path) -> None:
    with pikepdf.open(dealer_book) as document:
        assert str(document.Root.Lang) == "en"
        assert str(document.docinfo.Title) == "Dealer catalog, Hobbin & Daughter"
        assert bool(document.Root.ViewerPreferences.DisplayDocTitle)
        assert [page.label for page in document.pages][:3] == ["Cover", "2", "3"]
        assert document.pages[-1].label == "Back"
        with document.open_outline() as outline:
            assert [item.title for item in outline.root][:4] == [
                "Cover", "Contents", "The line at one scale", "The patterns",
            ]  # fmt: skip
            shown = [item.title for item in outline.root[3].children]
        assert shown[0] == "Reedmace"
        assert len(shown) == 8


def elements(node: Any) -> Iterator[Any]:
    """Yield structure elements in reading order."""
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield kid
            yield from elements(kid)


def test_the_book_is_tagged_in_reading_order_with_words_for_every_figure(
    dealer_book: Path,
) -> None:
    with pikepdf.open(dealer_book) as document:
        assert bool(document.Root.MarkInfo.Marked)
        tags = list(elements(document.Root.StructTreeRoot))
        kinds = [str(tag.S) for tag in tags]
        assert kinds[0] == "/Document"
        for kind in ("/H1", "/H2", "/P", "/Figure", "/Table", "/TR", "/TH", "/TD", "/TOC", "/TOCI",
                     "/Link", "/L", "/LI", "/Form", "/Caption"):  # fmt: skip
            assert kind in kinds, kind
        figures = [tag for tag in tags if tag.S == "/Figure"]
        assert all(str(tag.Alt) for tag in figures)
        assert any("swim jig: green pumpkin with blue flake" in str(tag.Alt) for tag in figures)
        heads = [tag for tag in tags if tag.S == "/TH" and "/A" in tag and "/Scope" in tag.A]
        assert {str(tag.A.Scope) for tag in heads} == {"/Column", "/Row"}


def test_all_that_is_drawn_is_either_tagged_or_decoration(dealer_book: Path) -> None:
    with pikepdf.open(dealer_book) as document:
        for page in document.pages:
            depth = 0
            for operands, operator in pikepdf.parse_content_stream(page):
                name = str(operator)
                if name in ("BDC", "BMC"):
                    depth += 1
                elif name == "EMC":
                    depth -= 1
                elif name in ("Tj", "TJ", "f", "S", "B", "Do", "f*", "B*"):
                    assert depth > 0, (name, operands)
            assert depth == 0


def test_each_mark_belongs_to_the_element_that_says_so(dealer_book: Path) -> None:
    with pikepdf.open(dealer_book) as document:
        numbers = document.Root.StructTreeRoot.ParentTree.Nums
        parents = {int(numbers[i]): numbers[i + 1] for i in range(0, len(numbers), 2)}
        for page in document.pages:
            owners = parents[int(page.StructParents)]
            used = [
                int(operands[1].MCID)
                for operands, operator in pikepdf.parse_content_stream(page)
                if str(operator) == "BDC" and "/MCID" in (operands[1] if len(operands) > 1 else {})
            ]
            assert used == list(range(len(owners)))


@pytest.mark.skipif(not shutil.which("qpdf"), reason="qpdf is not installed")
def test_what_the_table_of_markets_points_to_stands_below_it_and_nothing_else(
    dealer_book: Path, texts: Texts
) -> None:
    (page,) = (text for text in texts(dealer_book) if "Where it may be sold" in text)
    table, notes = re.split(r"^may be sold:", page.partition("Where it may be sold")[2],
                            maxsplit=1, flags=re.MULTILINE)  # fmt: skip
    cells = re.findall(r"(use limited|not sold|see notes|notice|not held)\??((?: ?\d+,?)+)?", table)
    assert {status for status, _ in cells} == {"use limited", "not sold", "see notes"}
    assert all(numbers for _, numbers in cells), "a cell points to nothing"
    asked = {int(number) for _, numbers in cells for number in re.findall(r"\d+", numbers)}
    told = {int(number) for number in re.findall(r"^(\d+)\s+[A-Z]", notes, re.MULTILINE)}
    assert asked == told == set(range(1, len(told) + 1))
    assert "notice:" not in notes, "what no cell says needs no explanation"


def test_the_heads_of_a_table_stand_on_one_line_whatever_hangs_below_it(dealer_book: Path) -> None:
    (page,) = extract_pages(str(dealer_book), page_numbers=[4])

    def letters(thing: object) -> Iterator[LTChar]:
        if isinstance(thing, LTChar):
            yield thing
        for each in thing if isinstance(thing, LTContainer) else ():
            yield from letters(each)

    heads = {"COLOR", "SKU", "GTIN", "MARGIN", "QUANTITY"}
    found: dict[float, str] = {}
    for letter in sorted(letters(page), key=lambda each: each.x0):
        found[round(letter.matrix[5], 2)] = found.get(round(letter.matrix[5], 2), "") + str(
            letter.get_text()
        )
    assert any(all(head in line for head in heads) for line in found.values())


@pytest.mark.parametrize("book", ["dealer_book", "retail_book"])
def test_qpdf_finds_nothing_to_warn_of(book: str, request: pytest.FixtureRequest) -> None:
    path = request.getfixturevalue(book)
    done = subprocess.run(
        ["qpdf", "--check", str(path)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "WARNING" not in done.stdout + done.stderr


@pytest.mark.siege
def test_the_same_catalog_gives_the_same_bytes(
    tmp_path: Path, make: Callable[..., BookMade], demo_folder: Path, dealer_book: Path
) -> None:
    with unread():
        make(demo_folder, tmp_path / "again.pdf", dealer="ferry-landing")
    assert (tmp_path / "again.pdf").read_bytes() == dealer_book.read_bytes()


def test_an_archive_copy_says_so_and_holds_all_that_it_needs(
    tmp_path: Path, make: Callable[..., BookMade], demo_folder: Path
) -> None:
    """What ISO 19005-3 asks, as far as it can be seen without a validator."""
    with unread():
        make(demo_folder, tmp_path / "archive.pdf", archive=True, only=("reedmace",), tier="dealer")
    with pikepdf.open(tmp_path / "archive.pdf") as document:
        with document.open_metadata() as said:
            assert said.pdfa_status == "3B"
            assert said["dc:title"] == str(document.docinfo.Title)
        intent = document.Root.OutputIntents[0]
        assert intent.S == "/GTS_PDFA1"
        assert int(intent.DestOutputProfile.N) == 3
        assert intent.DestOutputProfile.read_bytes()[36:40] == b"acsp"
        for one in document.objects:
            if isinstance(one, pikepdf.Dictionary) and one.get("/Type") == "/FontDescriptor":
                assert "/FontFile2" in one
            if isinstance(one, pikepdf.Dictionary) and one.get("/Type") == "/Font":
                assert "/FontDescriptor" in one, one.get("/BaseFont")
            if isinstance(one, pikepdf.Dictionary) and one.get("/Type") == "/Annot":
                assert int(one.F) == 4
        assert "/JavaScript" not in document.Root.get("/Names", {})
        assert "/ID" in document.trailer


def test_no_book_runs_a_script(dealer_book: Path) -> None:
    for data in every_byte(dealer_book):
        assert b"/JavaScript" not in data
        assert b"/OpenAction" not in data


def test_streams_are_packed(dealer_book: Path) -> None:
    with pikepdf.open(dealer_book) as document:
        raw = document.pages[2].Contents.read_raw_bytes()
        assert zlib.decompress(raw) == document.pages[2].Contents.read_bytes()
