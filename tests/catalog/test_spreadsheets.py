"""products.csv and products.xlsx as people really make them."""

from __future__ import annotations

import datetime
import io
import zipfile
from decimal import Decimal
from typing import Any

import openpyxl
import pytest

from labeler.catalog.model import Product
from labeler.findings import Finding, Grade
from labeler.units import Weight

Bench = Any


def product(bench: Bench, sku: str) -> Product:
    products: tuple[Product, ...] = bench.read().products
    return next(one for one in products if one.sku == sku)


def stops(bench: Bench) -> list[Finding]:
    return [f for f in bench.findings() if f.grade is Grade.STOP]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
@pytest.mark.parametrize("between", [",", ";", "\t", "|"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_any_encoding_separator_and_line_end(
    bench: Bench, encoding: str, between: str, newline: str
) -> None:
    rows = [["Price", "SKU", "note"], ["5.25", "rv-38-40-mln", "Été, net"], ["", "", ""]]
    if between == ",":
        rows[1][2] = '"Été, net"'
    text = newline.join(between.join(row) for row in rows)
    bench.write("products.csv", text.encode(encoding))
    one = product(bench, "RV-38-40-MLN")
    assert (one.price, one.note) == (Decimal("5.25"), "Été, net")


def test_semicolons_and_decimal_commas(bench: Bench) -> None:
    bench.write(
        "products.csv",
        "sku;pattern;weight;hook;colour;price\nRV-7G-40-MLN;rv;7,0 g;4/0;Melon;5,25\n",
    )
    one = product(bench, "RV-7G-40-MLN")
    assert (one.weight, one.price) == (Weight.parse("7 g"), Decimal("5.25"))


def test_a_line_that_only_names_the_separator_is_no_row(bench: Bench) -> None:
    bench.write("products.csv", "sep=;\nsku;price\nRV-38-40-MLN;5\nRV-12;6\n")
    finding = bench.finding("sku-unknown")
    assert finding.place.line == 4


def test_blank_rows_titles_and_quoted_line_breaks_keep_the_line_numbers(bench: Bench) -> None:
    bench.write(
        "products.csv",
        'Our jigs 2026,,\n,,\nSKU,Note,Price\n,,\nRV-38-40-MLN,"two\nlines",5\n\nRV-38-40-DSK,,x\n',
    )
    finding = bench.finding("cell-misread")
    assert (finding.place.file, finding.place.line, finding.place.key) == (
        "products.csv", 8, "price",
    )  # fmt: skip
    bench.write("products.csv", 'sku,note\nRV-38-40-MLN,"two\nlines"\n')
    assert product(bench, "RV-38-40-MLN").note == "two lines"


def test_a_row_adds_a_product_beside_its_patterns_others(bench: Bench) -> None:
    bench.append(
        "\n[patterns.last]\n" + bench.text.split("[patterns.river-vesper]\n")[1].replace("V", "L")
    )
    bench.write(
        "products.csv",
        "SKU,Pattern,Weight,Hook,Colour\nRV-58-50-MLN,River Vesper,.625,5/0,mln\n",
    )
    skus = [p.sku for p in bench.read().products]
    assert skus.index("RV-58-50-MLN") == 4
    added = product(bench, "RV-58-50-MLN")
    assert (added.weight, added.hook_size, added.price) == (
        Weight.parse("5/8 oz"), "5/0", Decimal("4.75"),
    )  # fmt: skip
    assert added.colour.name == "Melon"


def test_an_added_row_without_a_sku_gets_the_one_that_it_would_have(bench: Bench) -> None:
    bench.write("products.csv", "sku,pattern,weight,hook,colour\n,rv,5/8,4/0,dusk\n")
    assert product(bench, "RV-58-40-DSK")


def test_a_row_overrides_what_it_says_and_leaves_the_rest(bench: Bench) -> None:
    bench.write("photos/m.jpg", b"x")
    bench.write(
        "products.csv",
        "sku,price,gtin,photo,note,markets,pack\n"
        "RV-38-40-MLN,6,9521234543213,m.jpg,dear,US-CA,2\nRV-12-40-MLN,,,,,,\n",
    )
    one, other = product(bench, "RV-38-40-MLN"), product(bench, "RV-12-40-MLN")
    assert (one.price, one.gtin, one.photo, one.note, one.markets, one.pattern.pack) == (
        Decimal(6), "9521234543213", "m.jpg", "dear", ("US-CA",), 2,
    )  # fmt: skip
    assert (other.price, other.gtin, other.photo, other.note, other.markets) == (
        Decimal("4.75"), None, None, None, ("US", "US-CA"),
    )  # fmt: skip
    assert other.pattern.pack == 1


@pytest.mark.parametrize("field", ["price", "prices", "photo", "pack"])
def test_what_two_places_say_differently_is_told_once_with_both(bench: Bench, field: str) -> None:
    in_toml = {"price": 'price = "5.10"', "prices": 'prices = { "3/8 oz" = "5.10" }',
               "photo": 'photo = "a.png"', "pack": "pack = 3"}[field]  # fmt: skip
    name = field.removesuffix("s")
    cell = {"price": "4.85", "photo": "b.png", "pack": "2"}[name]
    for photo in ("a.png", "b.png"):
        bench.write(f"photos/{photo}", b"")
    bench.change('price = "4.75"', in_toml if field == "price" else f'price = "4.75"\n{in_toml}')
    bench.write("products.csv", f"sku,{name}\nRV-38-40-MLN,{cell}\n")
    (told,) = [each for each in bench.findings() if each.rule == "spreadsheet-holds"]
    assert told.grade is Grade.NOTE
    assert str(told.place).startswith("products.csv:2")
    stated = in_toml.split('"')[-2] if '"' in in_toml else "3"
    where = f"catalog.toml:{bench.line_of(in_toml)}, patterns.river-vesper.{field}"
    assert told.found == f"RV-38-40-MLN: {cell}, not the {stated} of {where}"
    bench.write("products.csv", f"sku,{name}\nRV-38-40-MLN,\n")
    assert "spreadsheet-holds" not in {each.rule for each in bench.findings()}


def test_the_same_jig_under_two_skus_is_told_but_not_in_other_packs(bench: Bench) -> None:
    head = "sku,pattern,weight,hook,colour,pack\n"
    bench.write("products.csv", f"{head}HP-1,RV,3/8,4/0,MLN,\nHP-2,RV,10.6 g,4/0,MLN,2\n")
    told = [each for each in bench.findings() if each.rule == "product-twice"]
    assert [(each.found, each.grade, str(each.place)) for each in told] == [
        ("HP-1", Grade.FIX, "products.csv:2, sku")
    ]
    assert "RV-38-40-MLN" in told[0].message
    bench.write("products.csv", f"{head}HP-1,RV,3/8,4/0,MLN,\nRV-38-40-MLN,,,,,,\n")
    for retired in ("RV-38-40-MLN", "HP-1"):
        rows = f"{head.strip()},retired\nHP-1,RV,3/8,4/0,MLN,,\n"
        rows = rows.replace("MLN,,\n", "MLN,,x\n") if retired == "HP-1" else rows
        bench.write("products.csv", rows + ("RV-38-40-MLN,,,,,,x\n" if retired[0] == "R" else ""))
        assert "product-twice" not in {each.rule for each in bench.findings()}


def test_every_price_that_the_spreadsheet_overrules_is_told_with_its_own(bench: Bench) -> None:
    bench.write("products.csv", "sku,price\nRV-38-40-MLN,4.85\nRV-12-40-MLN,6\nRV-38-40-DSK,6\n")
    (told,) = [each for each in bench.findings() if each.rule == "spreadsheet-holds"]
    line = bench.line_of('price = "4.75"')
    place = f"catalog.toml:{line}, patterns.river-vesper.price"
    assert "of river-vesper" in told.message, "or a report draws it together with another's"
    assert told.found == (
        f"RV-38-40-MLN: 4.85, not the 4.75 of {place}; "
        f"RV-12-40-MLN, RV-38-40-DSK: 6, not the 4.75 of {place}"
    )


def test_a_row_may_repeat_what_the_catalog_says_but_not_contradict_it(bench: Bench) -> None:
    bench.write(
        "products.csv",
        "sku,pattern,weight,hook,colour\nRV-38-40-MLN,RV,10.6 g,#4/0,MELON\n",
    )
    assert len(bench.read().products) == 4
    bench.write("products.csv", "pattern,weight,hook,colour,sku\nRV,10.6 g,4/0,MELON,\n")
    assert len(bench.read().products) == 4, "10.6 g is the 3/8 oz that there is"
    bench.write("products.csv", "sku,weight,hook\nRV-38-40-MLN,1/2,3/0\n")
    contradictions = [f for f in stops(bench) if f.rule == "row-contradicts"]
    assert [(f.found, f.expected) for f in contradictions] == [
        ("1/2 oz", "3/8 oz"),
        ("3/0", "4/0"),
    ]


def test_a_retired_sku_is_sold_no_more_and_not_forgotten(bench: Bench) -> None:
    bench.write("products.csv", "sku,retired\nRV-38-40-MLN,x\nOLD-38-40-XX,yes\n")
    catalog = bench.read()
    assert catalog.retired == ("RV-38-40-MLN", "OLD-38-40-XX")
    assert len(catalog.products) == 3


def test_a_slip_in_a_retired_sku_is_pointed_out(bench: Bench) -> None:
    bench.write("products.csv", "sku,retired\nRV-38-40-MLM,yes\n")
    finding = bench.finding("retired-unknown")
    assert finding.grade is Grade.FIX
    assert "RV-38-40-MLN" in finding.hint


@pytest.mark.parametrize(
    ("row", "rule", "words"),
    [
        ("RV-38-40-MLX,,,,", "sku-unknown", "Did you mean 'RV-38-40-MLN'?"),
        ("RV-58-40-MLN,rv,5/8,,", "sku-unknown", "needs its hook, colour"),
        (",,5/8,,", "sku-missing", "which product"),
        ("RV-58-40-MLN,river,5/8,4/0,melon", "unknown-name", "'river-vesper'"),
        ("RV-58-40-MLN,rv,5/8,4/0,mellon", "unknown-name", "'melon'"),
        ("RV/58,rv,5/8,4/0,melon", "cell-misread", "hyphens"),
    ],
)
def test_a_row_that_fits_nothing_says_what_would_fit(
    bench: Bench, row: str, rule: str, words: str
) -> None:
    bench.write("products.csv", f"sku,pattern,weight,hook,colour\n{row}\n")
    finding = bench.finding(rule)
    assert words in str(finding)
    assert finding.place.line == 2


def test_a_sku_that_stands_twice_names_both_lines(bench: Bench) -> None:
    bench.write("products.csv", "sku,price\nRV-38-40-MLN,5\nx,\nrv-38-40-mln ,6\n")
    finding = bench.finding("duplicate-sku")
    assert finding.place.line == 4
    assert "products.csv:2" in finding.found


def test_two_files_may_agree_and_may_complete_each_other(bench: Bench) -> None:
    bench.write("products.csv", "sku,price,note\nRV-38-40-MLN,5.50,\n")
    bench.workbook(["SKU", "Price", "Note"], ["rv-38-40-mln", 5.5, "from the workbook"])
    one = product(bench, "RV-38-40-MLN")
    assert (one.price, one.note) == (Decimal("5.5"), "from the workbook")


def test_two_files_that_disagree_are_named_with_both_cells(bench: Bench) -> None:
    bench.write("products.csv", "sku,price\nRV-38-40-MLN,5.50\n")
    bench.workbook(["SKU", "Price"], ["RV-38-40-MLN", 5.75])
    finding = bench.finding("files-disagree")
    assert str(finding.place) == "products.xlsx cell B2, price"
    assert (finding.found, "5.50" in finding.expected) == ("5.75", True)
    assert "products.csv:2" in finding.expected


def test_a_price_in_other_money_is_refused(bench: Bench) -> None:
    bench.write("products.csv", "sku,price\nRV-38-40-MLN,4.75 €\n")
    assert "EUR" in bench.finding("other-currency").found


def test_a_misspelt_heading_stops_and_a_foreign_one_is_only_noted(bench: Bench) -> None:
    bench.write("products.csv", "sku,Prise,cost\nRV-38-40-MLN,5,2\n")
    slip, foreign = [f for f in bench.findings() if f.rule == "unknown-column"]
    assert (slip.grade, foreign.grade) == (Grade.STOP, Grade.NOTE)
    assert "'price'" in slip.hint
    assert "sku, pattern" in foreign.expected


def test_a_heading_that_stands_twice_stops(bench: Bench) -> None:
    bench.write("products.csv", "sku,colour,Color\nRV-38-40-MLN,,\n")
    assert bench.finding("heading-twice").found == '"Color"'


def test_a_list_without_a_sku_heading_says_what_it_needs(bench: Bench) -> None:
    bench.write("products.csv", "skew,price\nRV-38-40-MLN,5\n")
    finding = bench.finding("headings-missing")
    assert finding.place.line == 1
    assert "sku, pattern" in finding.expected


def test_a_text_that_fell_apart_at_its_comma_is_told(bench: Bench) -> None:
    bench.write("products.csv", "sku,note\nRV-38-40-MLN,green, with blue\n")
    finding = bench.finding("row-too-long")
    assert finding.found == '" with blue"'
    assert "quotes" in finding.hint


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('sku,note\nRV-38-40-MLN,"never closed\nRV-12-40-MLN,x\n', 2),
        ('sku,note\nRV-38-40-MLN,"a 4" bag"\n', 2),
        ('sku,note\nRV-38-40-MLN,"' + "x" * 200_000 + '"\n', 2),
    ],
)
def test_quotes_that_do_not_close_are_found_where_they_open(
    bench: Bench, text: str, line: int
) -> None:
    bench.write("products.csv", text)
    assert bench.finding("csv-broken").place.line == line


@pytest.mark.parametrize(
    ("content", "rule"),
    [
        (b"PK\x03\x04" + b"x" * 50, "csv-not-text"),
        (b"\xd0\xcf\x11\xe0" + b"x" * 50, "csv-not-text"),
        (b"%PDF-1.7", "csv-not-text"),
        (b"sku,no\x00te\n", "csv-not-text"),
        (b"sku,note\nRV-38-40-MLN,\x81\xff\n", "csv-not-text"),
    ],
)
def test_what_is_no_csv_is_told(bench: Bench, content: bytes, rule: str) -> None:
    bench.write("products.csv", content)
    assert bench.finding(rule).place.file == "products.csv"


def test_old_letters_are_read_and_pointed_out(bench: Bench) -> None:
    bench.write("products.csv", "sku,note\nRV-38-40-MLN,Café\n".encode("cp1252"))
    finding = bench.finding("csv-encoding")
    assert (finding.grade, finding.place.line) == (Grade.NOTE, 2)
    assert "Café" in finding.found


def test_an_empty_list_is_only_noted(bench: Bench) -> None:
    bench.write("products.csv", "\n,,\n")
    assert bench.finding("sheet-empty").grade is Grade.NOTE
    assert len(bench.read().products) == 4


def test_too_many_rows_are_no_list_of_products(bench: Bench) -> None:
    bench.write("products.csv", "sku\n" + "RV-38-40-MLN\n" * 20_001)
    assert bench.finding("file-too-large").place.line == 20_001


def test_a_list_in_capitals_is_found_and_another_format_is_pointed_out(bench: Bench) -> None:
    bench.write("Products.CSV", "sku,price\nRV-38-40-MLN,9\n")
    bench.write("products.ods", b"PK")
    assert product(bench, "RV-38-40-MLN").price == 9
    assert bench.finding("file-unread").found == "products.ods"


def test_a_workbook_reads_numbers_texts_and_dates_for_what_they_are(bench: Bench) -> None:
    bench.workbook(
        ["Tarn & Tiller, spring"],
        [],
        ["SKU", "Pattern", "Weight", "Hook", "Colour", "Price", "GTIN", "Retired"],
        ["RV-58-40-MLN", "rv", 0.625, "4/0", "melon", 5.25, 9521234543213, None],
        ["RV-1OZ-40-MLN", "rv", "1 oz", "4/0", "melon", "5,25", "9520123456788", False],
        ["RV-12-40-DSK", None, None, None, None, None, None, True],
    )
    catalog = bench.read()
    assert catalog.retired == ("RV-12-40-DSK",)
    one, two = product(bench, "RV-58-40-MLN"), product(bench, "RV-1OZ-40-MLN")
    assert (one.weight, one.price, one.gtin) == (
        Weight.parse("5/8 oz"), Decimal("5.25"), "9521234543213",
    )  # fmt: skip
    assert (two.weight, two.gtin) == (Weight.parse("1 oz"), "9520123456788")


def test_a_date_cell_in_the_weights_is_named_by_its_cell(bench: Bench) -> None:
    bench.workbook(
        ["sku", "pattern", "weight", "hook", "colour"],
        ["RV-38-40-XX", "rv", datetime.date(2026, 3, 8), "4/0", "melon"],
    )
    finding = bench.finding("cell-misread")
    assert str(finding.place) == "products.xlsx cell C2, weight"
    assert "2026-03-08" in finding.found
    assert "probably 3/8" in finding.hint


def sheet(book: openpyxl.Workbook) -> Any:
    return book.active


def test_formulas_without_results_and_cells_with_errors(bench: Bench) -> None:
    book = openpyxl.Workbook()
    sheet(book).append(["sku", "price", "note"])
    sheet(book).append(["RV-38-40-MLN", "=4+1", "fine"])
    sheet(book).append(["RV-12-40-MLN", 5, "x"])
    sheet(book)["C3"] = "#REF!"
    sheet(book)["C3"].data_type = "e"
    bench.save(book)
    found = {f.place.cell: f.message for f in bench.findings() if f.rule == "cell-misread"}
    assert set(found) == {"B2", "C3"}
    assert "formula" in found["B2"]
    assert "error" in found["C3"]


def test_hidden_and_foreign_sheets_are_left_aside_and_said_so(bench: Bench) -> None:
    book = openpyxl.Workbook()
    sheet(book).title = "Jigs"
    sheet(book).append(["sku", "price"])
    sheet(book).append(["RV-38-40-MLN", "dear"])
    book.create_sheet("Costs").append(["thread", 3])
    hidden = book.create_sheet("Old")
    hidden.append(["sku", "price"])
    hidden.append(["RV-38-40-MLN", 99])
    hidden.sheet_state = "hidden"
    bench.save(book)
    unread = {f.place.cell for f in bench.findings() if f.rule == "sheet-unread"}
    assert unread == {"Costs!A1", "Old!A1"}
    assert bench.finding("cell-misread").place.cell == "Jigs!B2"


def test_two_sheets_of_products_are_both_read(bench: Bench) -> None:
    book = openpyxl.Workbook()
    sheet(book).append(["sku", "price"])
    sheet(book).append(["RV-38-40-MLN", 6])
    more = book.create_sheet("More")
    more.append(["sku", "price"])
    more.append(["RV-12-40-MLN", 7])
    bench.save(book)
    assert product(bench, "RV-38-40-MLN").price == 6
    assert product(bench, "RV-12-40-MLN").price == 7


def test_a_merged_heading_leaves_a_column_that_is_not_read(bench: Bench) -> None:
    book = openpyxl.Workbook()
    sheet(book).append(["sku", "price", None])
    sheet(book).merge_cells("B1:C1")
    sheet(book).append(["RV-38-40-MLN", 6, 7])
    bench.save(book)
    assert product(bench, "RV-38-40-MLN").price == 6
    assert bench.finding("heading-missing").place.cell == "C2"


def test_a_cell_at_the_far_end_of_a_sheet_costs_no_memory(bench: Bench) -> None:
    book = openpyxl.Workbook()
    sheet(book).append(["sku", "price"])
    sheet(book).append(["RV-38-40-MLN", 6])
    sheet(book).cell(200_000, 16_384).value = "x"
    bench.save(book)
    assert product(bench, "RV-38-40-MLN").price == 6


def _rewritten(raw: bytes, part: str, old: bytes, new: bytes) -> bytes:
    """Return the workbook with a part of it changed."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as source, zipfile.ZipFile(out, "w") as target:
        for name in source.namelist():
            content = source.read(name)
            if name == part:
                assert old in content
                content = content.replace(old, new)
            target.writestr(name, content)
    return out.getvalue()


def test_a_sheet_that_lies_about_its_size_is_read_by_its_cells(bench: Bench) -> None:
    bench.workbook(["sku", "price"], ["RV-38-40-MLN", 6])
    raw = (bench.folder / "products.xlsx").read_bytes()
    part = "xl/worksheets/sheet1.xml"
    for declared in (b"A1", b"A1:XFD1048576"):
        bench.write("products.xlsx", _rewritten(raw, part, b'ref="A1:B2"', b'ref="%s"' % declared))
        assert product(bench, "RV-38-40-MLN").price == 6


def test_an_entity_bomb_in_a_workbook_does_not_go_off(bench: Bench) -> None:
    bench.workbook(["sku", "price"], ["RV-38-40-MLN", 6])
    raw = (bench.folder / "products.xlsx").read_bytes()
    levels = b"".join(
        b'<!ENTITY e%d "%s">' % (n, b"&e%d;" % (n - 1) * 10 if n else b"ha") for n in range(12)
    )
    bomb = b"<!DOCTYPE x [" + levels + b"]><worksheet>&e11;</worksheet><!--"
    bench.write("products.xlsx", _rewritten(raw, "xl/worksheets/sheet1.xml", b"<worksheet", bomb))
    assert bench.finding("xlsx-broken").place.file == "products.xlsx"


_ROWS = {
    "a row far away": b'<row r="99999999999999"><c r="A99999999999999"><v>1</v></c></row>',
    "cells only": b'<row r="3">' + b"<c/>" * 600_000 + b"</row>",
    "cells by another prefix": b'<x:row xmlns:x="u">' + b"<x:c/>" * 600_000 + b"</x:row>",
    "rows only": b"<row/>" * 1_100_000,
    "a cell far away": b'<row><c r="A99999999999"><v>1</v></c></row>',
}


@pytest.mark.daily("a row far away", "cells only", "a cell far away")
@pytest.mark.parametrize("rows", _ROWS.values(), ids=_ROWS)
def test_a_sheet_small_packed_and_endless_to_read_is_refused_as_it_streams_in(
    bench: Bench, rows: bytes
) -> None:
    bench.workbook(["sku", "price"], ["RV-38-40-MLN", 6])
    raw = (bench.folder / "products.xlsx").read_bytes()
    end = b"</sheetData>"
    bench.write("products.xlsx", _rewritten(raw, "xl/worksheets/sheet1.xml", end, rows + end))
    assert bench.finding("file-too-large").place.file == "products.xlsx"


def test_texts_without_end_and_a_sheet_in_other_letters_are_refused(bench: Bench) -> None:
    bench.workbook(["sku", "price"], ["RV-38-40-MLN", 6])
    raw = (bench.folder / "products.xlsx").read_bytes()
    part = "xl/sharedStrings.xml"
    for texts, says in ((b"<si/>" * 300_000, "<si>"), (b"<si>" + b"x" * 21_000_000, part)):
        swollen = io.BytesIO(raw)
        with zipfile.ZipFile(swollen, "a", zipfile.ZIP_DEFLATED) as book:
            book.writestr(part, b"<sst>" + texts + b"</sst>")
        bench.write("products.xlsx", swollen.getvalue())
        assert says in bench.finding("file-too-large").found
    sheet = "xl/worksheets/sheet1.xml"
    with zipfile.ZipFile(io.BytesIO(raw)) as book:
        text = book.read(sheet)
    wide = text.decode().encode("utf-16")
    bench.write("products.xlsx", _rewritten(raw, sheet, text, wide))
    assert sheet in bench.finding("xlsx-broken").found


def test_an_archive_that_unpacks_to_too_much_is_refused_unopened(bench: Bench) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/sharedStrings.xml", b"0" * 101_000_000)
    bench.write("products.xlsx", out.getvalue())
    assert "101,000,000" in bench.finding("file-too-large").found


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"not a workbook", "damaged"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", ".xls"),
        (b"PK\x03\x04 cut short", "damaged"),
    ],
)
def test_what_is_no_workbook_is_told(bench: Bench, content: bytes, words: str) -> None:
    bench.write("products.xlsx", content)
    assert words in bench.finding("xlsx-broken").message


@pytest.mark.parametrize("damage", ["a bit", "a lock"])
def test_a_workbook_that_does_not_unpack_is_told(bench: Bench, damage: str) -> None:
    out = io.BytesIO()
    book = openpyxl.Workbook()
    sheet(book).append(["sku", "price"])
    book.save(out)
    raw = bytearray(out.getvalue())
    with zipfile.ZipFile(out) as archive:
        part = archive.getinfo("xl/worksheets/sheet1.xml")
    if damage == "a bit":
        raw[part.header_offset + 30 + len(part.filename) + 5] ^= 0x40
    else:
        at = raw.rindex(part.filename.encode()) - 46  # its entry in the directory
        raw[at + 8] |= 1
    bench.write("products.xlsx", bytes(raw))
    assert bench.finding("xlsx-broken").message == "is damaged, or no workbook"


def test_an_archive_of_something_else_is_told(bench: Bench) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("readme.txt", "hello")
    bench.write("products.xlsx", out.getvalue())
    assert bench.finding("xlsx-broken")


def test_a_photo_in_a_row_must_be_there(bench: Bench) -> None:
    bench.write("photos/melon.jpg", b"x")
    bench.write("products.csv", "sku,photo\nRV-38-40-MLN,mellon.jpg\n")
    finding = bench.finding("photo-missing")
    assert "'melon.jpg'" in finding.hint
    assert (finding.place.line, finding.place.key) == (2, "photo")


def test_a_title_that_says_sku_is_not_taken_for_the_headings(bench: Bench) -> None:
    bench.write("products.csv", "SKU,,\n,,\nsku,price,note\nRV-38-40-MLN,9,x\n")
    assert product(bench, "RV-38-40-MLN").price == 9


def test_two_colours_of_one_code_are_told_apart_by_the_pattern(bench: Bench) -> None:
    bench.append(
        """
[colours.melon-hair]
code = "MLN"
name = "Melon"
layers = [{ material = "silicone", shade = "melon", ink = "#5b5a2b", strands = 22 }]

[patterns.hair]
code = "HJ"
name = "Hair"
kind = "hair jig"
head = "vesper"
hook = "stout"
weights = ["1/4 oz"]
hook_sizes = ["2/0"]
colours = ["melon-hair"]
"""
    )
    bench.write("products.csv", "sku,pattern,weight,hook,colour\n,HJ,3/8,3/0,mln\n")
    catalog = bench.read()
    added = next(one for one in catalog.products if one.sku == "HJ-38-30-MLN")
    assert added.colour is catalog.file.colours["melon-hair"]
    bench.write("products.csv", "sku,pattern,weight,hook,colour\nX-1,,3/8,3/0,mln\n")
    finding = bench.finding("unclear-name")
    assert finding.expected == "melon, melon-hair"


def test_a_row_without_a_sku_that_is_there_already_is_told(bench: Bench) -> None:
    row = ",rv,5/8,4/0,dusk\n"
    bench.write("products.csv", f"sku,pattern,weight,hook,colour\n{row}{row}")
    finding = bench.finding("duplicate-sku")
    assert finding.place.line == 3
    assert "products.csv:2" in finding.found
