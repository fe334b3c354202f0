"""Orders that come back: filled by two libraries and a spreadsheet, honest and hostile."""

from __future__ import annotations

import itertools
import zipfile
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pikepdf
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader, PdfWriter

from labeler.app.book import BookMade
from labeler.app.orders import OrderRequest, TakenOrder, look_at_order
from labeler.book.order import OnHand, Order, Stock, field_name, sku_of_field
from labeler.catalog.model import Catalog
from labeler.findings import LabelerError
from tests.unread import unread

PLENTY = Stock(10_000)
WANTED = {"RM-14-30-SBR": 24, "SF-10.5G-20-MPL": 3, "TD-116-6-INK": 48}


def fill_with_pypdf(form: Path, out: Path, values: dict[str, str]) -> Path:
    writer = PdfWriter(clone_from=PdfReader(form))
    for page in writer.pages:
        notes: Any = page.get("/Annots", [])
        if any(note.get_object().get("/Subtype") == "/Widget" for note in notes):
            writer.update_page_form_field_values(page, dict(values), auto_regenerate=False)
    writer.write(out)
    return out


def fill_with_pikepdf(form: Path, out: Path, values: dict[str, str]) -> Path:
    with pikepdf.open(form) as document:
        for field in document.Root.AcroForm.Fields:
            if str(field.T) in values:
                field.V = pikepdf.String(values[str(field.T)])
        document.save(out)
    return out


def fill_spreadsheet(form: Path, out: Path, values: dict[str, Any]) -> Path:
    book = openpyxl.load_workbook(form)
    sheet = book["Order"]
    for row in sheet.iter_rows():
        if row[0].value in values:
            sheet.cell(row[0].row, sheet.max_column).value = values[str(row[0].value)]
    book.save(out)
    return out


@pytest.fixture(scope="module")
def form(
    tmp_path_factory: pytest.TempPathFactory, make: Callable[..., BookMade], demo_folder: Path
) -> Path:
    """A dealer's book of three patterns with its form; the order sheet lies beside it."""
    out = tmp_path_factory.mktemp("form") / "book.pdf"
    asked = {"dealer": "ferry-landing", "only": ("reedmace", "slow-fall", "thistledown")}
    with unread():
        make(demo_folder, out, order_sheet=out.with_suffix(".xlsx"), **asked)
    return out


@pytest.fixture(scope="module")
def sheet(form: Path) -> Path:
    return form.with_suffix(".xlsx")


def look(folder: Path, file: Path, on_hand: OnHand | None = lambda sku: PLENTY) -> TakenOrder:
    return look_at_order(OrderRequest(folder, file), on_hand)


def packs(order: Order) -> dict[str, int]:
    return {line.product.sku: line.packs for line in order.lines}


def test_a_locked_order_is_said_to_be_locked(demo_folder: Path, form: Path, tmp_path: Path) -> None:
    locked = tmp_path / "locked.pdf"
    with pikepdf.open(form) as pdf:
        pdf.save(locked, encryption=pikepdf.Encryption(owner="o", user="u"))
    with pytest.raises(LabelerError) as error:
        look(demo_folder, locked)
    (finding,) = error.value.findings
    assert (finding.rule, finding.found) == ("order-locked", "")


def test_an_order_that_swells_while_it_is_read_is_refused(
    demo_folder: Path, sheet: Path, tmp_path: Path
) -> None:
    """A few kilobytes once took a gigabyte."""
    swollen = tmp_path / "swollen.xlsx"
    cells = b"<row>" + b'<c t="inlineStr"><is><t>x</t></is></c>' * 40 + b"</row>"
    with zipfile.ZipFile(sheet) as source, zipfile.ZipFile(swollen, "w", 8) as target:
        for name in source.namelist():
            text = source.read(name)
            target.writestr(name, text.replace(b"</sheetData>", cells * 4_000 + b"</sheetData>"))
    with pytest.raises(LabelerError) as error:
        look(demo_folder, swollen)
    assert [finding.rule for finding in error.value.findings] == ["file-too-large"]


def test_what_the_dealer_wrote_above_the_lines_is_told(
    form: Path, demo_folder: Path, tmp_path: Path
) -> None:
    values = {field_name("RM-14-30-SBR"): "24", "order": "PO 77", "notes": "call\nfirst \x1b[2J"}
    filled = fill_with_pypdf(form, tmp_path / "filled.pdf", values)
    said = CliRunner().invoke(
        main_command(), ["--catalog", str(demo_folder), "order", "--look", str(filled)]
    )
    assert "  Their PO number: PO 77\n" in said.output
    assert "  Notes: call first " in said.output
    assert "\x1b" not in said.output


@pytest.mark.parametrize("fill", [fill_with_pypdf, fill_with_pikepdf])
def test_a_filled_form_reads_back_as_it_was_filled(
    fill: Callable[..., Path], form: Path, demo_folder: Path, tmp_path: Path
) -> None:
    values = {field_name(sku): str(count) for sku, count in WANTED.items()}
    filled = fill(form, tmp_path / "filled.pdf", values)
    taken = look(demo_folder, filled)
    order, currency = taken.order, taken.currency
    assert packs(order) == WANTED
    assert order.dealer == "Ferry Landing Bait & Bread"
    assert order.tier.name == "Dealer"
    # 24 x 3.20 + 3 x 4.50 + 48 x 2.75, each price 35 % off to the nearest 0.05
    assert (order.goods, currency) == (Decimal("222.30"), "USD")
    assert order.tax == Decimal("20.21")  # 222.30 x 10 / 110 = 20.2090...
    assert order.total == order.goods


def test_a_filled_spreadsheet_reads_back_the_same(
    sheet: Path, demo_folder: Path, tmp_path: Path
) -> None:
    filled = fill_spreadsheet(sheet, tmp_path / "filled.xlsx", WANTED)
    order = look(demo_folder, filled).order
    assert packs(order) == WANTED
    assert order.goods == Decimal("222.30")
    assert order.dealer == "Ferry Landing Bait & Bread"


def test_the_spreadsheet_holds_no_formula_and_the_same_prices(sheet: Path, demo: Catalog) -> None:
    book = openpyxl.load_workbook(sheet)
    cells = [cell for row in book["Order"].iter_rows() for cell in row]
    assert all(cell.data_type != "f" for cell in cells)
    row = next(row for row in book["Order"].iter_rows(values_only=True) if row[0] == "RM-14-30-SBR")
    assert row[7:9] == (3.2, 4.95)


def test_the_form_has_a_field_for_each_sku_row_by_row(dealer_book: Path, demo: Catalog) -> None:
    with pikepdf.open(dealer_book) as document:
        names = [str(field.T) for field in document.Root.AcroForm.Fields]
        skus = [sku_of_field(name) for name in names if sku_of_field(name)]
        assert sorted(skus) == sorted(product.sku for product in demo.products)
        for page in document.pages:
            assert page.Tabs == "/S"
            boxes = [
                [float(x) for x in note.Rect]
                for note in page.get("/Annots", [])
                if note.Subtype == "/Widget" and str(note.T).startswith("qty ")
            ]
            for one, other in itertools.pairwise(boxes):
                beside = other[0] > one[2] and other[3] == pytest.approx(one[3], abs=1)
                below = other[3] < one[1]
                assert beside or below


def test_the_dealer_stands_in_the_form_already(form: Path) -> None:
    fields = PdfReader(form).get_fields() or {}
    assert fields["dealer"]["/V"] == "Ferry Landing Bait & Bread"
    assert fields["tier"]["/V"] == "Dealer"


@pytest.mark.daily
@given(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-", min_size=1, max_size=40))
def test_a_field_s_name_gives_the_sku_back_and_holds_no_full_stop(sku: str) -> None:
    assert sku_of_field(field_name(sku)) == sku
    assert "." not in field_name(sku)


HOSTILE = [  # in several scripts, notations and lengths
    "-3",
    "1e9",
    "1000000000",
    "a dozen",
    "=6*9",
    "2.5",
    "0x10",
    "١٢",
    "9" * 400,
    "1,200",
    "NaN",
]


def test_every_silly_value_is_named_and_refused_at_once(
    form: Path, demo: Catalog, demo_folder: Path, tmp_path: Path
) -> None:
    skus = [product.sku for product in demo.products[: len(HOSTILE)]]
    values = {field_name(sku): value for sku, value in zip(skus, HOSTILE, strict=True)}
    filled = fill_with_pikepdf(form, tmp_path / "filled.pdf", values)
    with pytest.raises(LabelerError) as told:
        look(demo_folder, filled)
    findings = told.value.findings
    assert len(findings) == len(HOSTILE)
    by_sku = {sku: one for sku in skus for one in findings if f"field of {sku}" in str(one)}
    for sku, value in zip(skus, HOSTILE, strict=True):
        finding = by_sku[sku]
        assert value[:10] in finding.found
        assert finding.rule == "order-quantity"


@pytest.mark.parametrize(
    "value", ["=1+1", -1, 1e9, 2.5, True, '=HYPERLINK("http://x.example.com")', "many"]
)
def test_a_spreadsheet_s_silly_values_are_refused_by_cell(
    value: Any, sheet: Path, demo_folder: Path, tmp_path: Path
) -> None:
    filled = fill_spreadsheet(sheet, tmp_path / "filled.xlsx", {"RM-14-30-SBR": value})
    with pytest.raises(LabelerError) as told:
        look(demo_folder, filled)
    (finding,) = told.value.findings
    assert finding.rule == "order-quantity"
    assert finding.place.cell


def test_an_unknown_sku_is_told_with_the_nearest_and_a_retired_one_as_such(
    sheet: Path, demo_folder: Path, demo: Catalog, tmp_path: Path
) -> None:
    book = openpyxl.load_workbook(sheet)
    rows = [row for row in book["Order"].iter_rows() if str(row[0].value).startswith("RM-")]
    rows[0][0].value, rows[1][0].value = "RM-14-30-SBX", demo.retired[0]
    for row in rows[:2]:
        row[-1].value = 1
    book.save(tmp_path / "filled.xlsx")
    with pytest.raises(LabelerError) as told:
        look(demo_folder, tmp_path / "filled.xlsx")
    assert {finding.rule for finding in told.value.findings} == {"sku-unknown", "sku-retired"}


def test_more_than_lies_ready_is_told(form: Path, demo_folder: Path, tmp_path: Path) -> None:
    values = {field_name("RM-14-30-SBR"): "24", field_name("RM-14-30-TSP"): "6"}
    filled = fill_with_pypdf(form, tmp_path / "filled.pdf", values)
    ready = {"RM-14-30-SBR": Stock(20), "RM-14-30-TSP": Stock(6)}
    order = look(demo_folder, filled, ready.__getitem__).order
    assert [line.short for line in order.lines] == [4, 0]
    short = [finding for finding in order.findings if finding.rule == "order-short"]
    assert [finding.place.piece for finding in short] == ["RM-14-30-SBR"]
    assert "24 ordered, 20 ready, 4 short" in short[0].found


@pytest.mark.siege
def test_with_no_dealer_named_the_tier_goes_by_the_packs(
    tmp_path: Path, make: Callable[..., BookMade], demo_folder: Path
) -> None:
    with unread():
        make(demo_folder, tmp_path / "all.pdf", only=("reedmace",))
    for packs_ordered, name in ((24, "Dealer"), (288, "Distributor"), (3, "Dealer")):
        values = {field_name("RM-14-30-SBR"): str(packs_ordered)}
        filled = fill_with_pikepdf(tmp_path / "all.pdf", tmp_path / "filled.pdf", values)
        order = look(demo_folder, filled).order
        assert order.tier.name == name
    assert "order-below-tier" in {finding.rule for finding in order.findings}


def test_a_dealer_does_not_choose_another_tier_by_writing_it_in(
    form: Path, demo_folder: Path, tmp_path: Path
) -> None:
    values = {field_name("RM-14-30-SBR"): "24", "tier": "Distributor"}
    filled = fill_with_pikepdf(form, tmp_path / "filled.pdf", values)
    order = look(demo_folder, filled).order
    assert order.tier.name == "Dealer"
    assert "order-tier" in {finding.rule for finding in order.findings}


def test_tax_comes_on_top_where_the_terms_say_so(
    tmp_path: Path, line: Callable[..., Path], make: Callable[..., BookMade]
) -> None:
    folder = line(tmp_path / "line", [("Reed Vole", 1, 1)], ["Melon"], excise="not included")
    with unread():
        made = make(folder, tmp_path / "book.pdf", dealer="landing")
    values = {field_name("P0-14-40-C0"): "10"}
    filled = fill_with_pikepdf(made.out, tmp_path / "filled.pdf", values)
    order = look(folder, filled, None).order
    # 4.95 less 40 % is 2.97, to the nearest 0.05 is 2.95; ten of them, and ten per cent on top
    assert (order.goods, order.tax, order.total) == tuple(map(Decimal, ("29.50", "2.95", "32.45")))
    assert order.tax_on_top
    (why,) = (each for each in order.findings if each.rule == "order-no-ledger")
    assert (order.lines[0].stock.ready, order.lines[0].short) == (0, 10)
    assert "labeler lot assign" in why.hint


@pytest.fixture(scope="module")
def two_packs(
    tmp_path_factory: pytest.TempPathFactory, line: Callable[..., Path],
    make: Callable[..., BookMade],
) -> BookMade:  # fmt: skip
    """The book of a line with two colors, one of which is sold singly and by threes."""
    root = tmp_path_factory.mktemp("two-packs")
    folder = line(root / "line", [("Reed Vole", 2, 2)], ["Reed Brown", "Mud"])
    (folder / "products.csv").write_text(
        "sku,pattern,colour,weight,hook,pack,price\nP0-14-40-C0-3PK,p0,c0,1/4 oz,4/0,3,12.95\n",
        "utf-8",
    )
    return make(folder, root / "book.pdf", dealer="landing", order_sheet=root / "book.xlsx")


def test_each_of_two_packs_of_a_color_has_a_cell_in_a_row_that_names_it(
    two_packs: BookMade, texts: Callable[[Path], list[str]]
) -> None:
    assert not two_packs.report.stops
    fields = PdfReader(two_packs.out).get_fields() or {}
    assert sorted(filter(None, map(sku_of_field, fields))) == [
        "P0-14-40-C0", "P0-14-40-C0-3PK", "P0-14-40-C1", "P0-38-40-C0", "P0-38-40-C1"
    ]  # fmt: skip
    form = " ".join(" ".join(texts(two_packs.out)).split("How many packs of each?")[1].split())
    assert form.count("Reed Brown, pack of 1") == form.count("Reed Brown, pack of 3") == 1
    assert "Mud, pack of" not in form


@pytest.mark.parametrize("kind", ["pdf", "xlsx"])
def test_an_order_of_both_packs_of_a_color_is_read_as_two_lines(
    kind: str, two_packs: BookMade, tmp_path: Path
) -> None:
    wanted = {"P0-14-40-C0": 5, "P0-14-40-C0-3PK": 7}
    filled, form = tmp_path / f"filled.{kind}", two_packs.out.with_suffix(f".{kind}")
    if kind == "pdf":
        fill_with_pypdf(form, filled, {field_name(sku): str(n) for sku, n in wanted.items()})
    else:
        fill_spreadsheet(form, filled, wanted)
    order = look(two_packs.out.parent / "line", filled).order
    assert packs(order) == wanted
    # 4.95 less 40 % is 2.97, and 12.95 is 7.77, to the nearest 0.05: 5 x 2.95 + 7 x 7.75
    assert order.goods == Decimal("69.00")


@pytest.mark.parametrize(
    "raw", [b"", b"hello", b"%PDF-1.7\n%%EOF", b"PK\x03\x04 nonsense", b"%PDF-" + bytes(2000)]
)
def test_what_is_no_form_is_told_in_words(raw: bytes, demo_folder: Path, tmp_path: Path) -> None:
    (tmp_path / "x").write_bytes(raw)
    with pytest.raises(LabelerError) as told:
        look(demo_folder, tmp_path / "x")
    assert told.value.findings[0].rule.startswith("order-")


@pytest.mark.siege
def test_an_empty_form_and_a_book_without_one_are_told_apart(
    form: Path, retail_book: Path, demo_folder: Path
) -> None:
    for path, rule in ((form, "order-empty"), (retail_book, "order-not-a-form")):
        with pytest.raises(LabelerError) as told:
            look(demo_folder, path)
        assert told.value.findings[0].rule == rule


def test_the_command_prints_the_pick_list(form: Path, demo_folder: Path, tmp_path: Path) -> None:
    filled = fill_with_pikepdf(form, tmp_path / "filled.pdf", {field_name("RM-14-30-SBR"): "24"})
    done = CliRunner().invoke(
        main_command(), ["--catalog", str(demo_folder), "order", "--look", str(filled)]
    )
    assert done.exit_code == 0, done.output
    assert "RM-14-30-SBR" in done.output
    assert "76.80" in done.output


def main_command() -> Any:
    from labeler.cli.group import labeler

    return labeler
