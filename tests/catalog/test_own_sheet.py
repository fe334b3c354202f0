"""A maker's own spreadsheet, read as the catalog file says, and its SKUs."""

from __future__ import annotations

import csv
import datetime as dt
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import ean

from labeler.catalog.own_sheet import code_of
from labeler.catalog.spreadsheet.cells import CellError
from labeler.catalog.spreadsheet.own_cells import note_retires, plain, read_count, read_field
from labeler.catalog.spreadsheet.propose import propose
from labeler.findings import Grade
from tests.catalog.conftest import SMALL, Bench

OWN = """
[spreadsheet]
file = "Jigs.xlsx"
fill_down = ["pattern"]

[spreadsheet.headings]
"Jig" = "pattern"
"Size" = "weight"
"Color" = "colour"
"Hk" = "hook"
"Retail" = "price"
"UPC" = "gtin"
"On hand" = "on_hand"
"Notes" = "remark"

[spreadsheet.pattern]
kind = "hair jig"
head = "vesper"
hook = "stout"

[spreadsheet.codes.patterns]
"Slough Hopper" = "SH"
"""
HEAD: list[Any] = ["Jig", "Size", "Color", "Hk", "Retail", "UPC", "On hand", "Notes"]
LINELESS = SMALL[: SMALL.index("[colours.melon]")]
"""A maker, materials, heads and hooks; no pattern and no colour."""


@pytest.fixture
def own(bench: Bench) -> Bench:
    bench.write("catalog.toml", LINELESS + OWN)
    bench.text = LINELESS + OWN
    return bench


def rules(bench: Bench) -> set[str]:
    return {one.rule for one in bench.findings()}


def test_what_stands_in_the_sheet_alone_is_made_from_the_defaults(own: Bench) -> None:
    own.workbook(
        ["Tarn & Tiller, stock"], HEAD,
        ["Slough Hopper", "3/8", "Muskrat", "4/0", "$4.50", None, "2 doz", "ours"],
        [None, "⅜oz", "Olive", None, "call", None, 3],
        ["Bank Creeper", "7g", "Black / Blue", None, 4.75],
        ["TOTAL", None, None, None, None, None, 27],
        name="Jigs.xlsx",
    )  # fmt: skip
    catalog = own.read()
    first = catalog.products[0]
    assert [one.sku for one in catalog.products] == [
        "SH-38-40-MUSKRAT", "SH-38-OLIVE", "BANKCREEPER-7G-BLACKBLUE",
    ]  # fmt: skip
    assert (first.name, str(first.price), first.note) == ("Slough Hopper, Muskrat", "4.50", None)
    assert (first.pattern.kind, first.colour.layers) == ("hair jig", ())
    assert catalog.products[1].price is None
    assert catalog.on_hand == {"SH-38-40-MUSKRAT": 24, "SH-38-OLIVE": 3}
    assert {"cell-nothing", "row-total"} <= rules(own)


def test_labels_have_the_commonest_spelling_and_of_equals_the_first(own: Bench) -> None:
    colours = ["Black & Blue", "Green Pumpkin", "Black/Blue", "green pumpkin ", "White", "white"]
    rows = [["Slough Hopper", f"{at}g", colour] for at, colour in enumerate(colours, 3)]
    rows.append(["Slough Hopper", "9g", "white"])
    own.workbook(HEAD, *rows, name="Jigs.xlsx")
    names = [one.colour.name for one in own.read().products]
    assert list(dict.fromkeys(names)) == ["Black & Blue", "Green Pumpkin", "white"]
    told = [
        one for one in propose(own.folder / "Jigs.xlsx").proposed if one.rule == "names-spelled"
    ]
    assert [one.found for one in told] == [
        '"Black/Blue" in C4', '"green pumpkin" in C5', '"White" in C6',
    ]  # fmt: skip
    assert '"Black & Blue"' in told[0].message


def test_a_new_row_is_a_new_product_and_changes_no_other(own: Bench) -> None:
    rows = [HEAD, ["Slough Hopper", "3/8", "Muskrat"]]
    own.workbook(*rows, name="Jigs.xlsx")
    before = [one.sku for one in own.read().products]
    own.workbook(*rows, ["Night Heron", "1/4", "Muskrat"], name="Jigs.xlsx")
    assert [one.sku for one in own.read().products] == [*before, "NIGHTHERON-14-MUSKRAT"]


def test_what_the_catalog_file_says_of_a_name_holds_beside_the_sheet(own: Bench) -> None:
    own.append(
        '[patterns.hopper]\nname = "slough hopper"\nstory = "For slow water."\n'
        '[colours.Muskrat]\ncode = "MSK"\nlayers = '
        '[{ material = "silicone", shade = "brown", ink = "#5b5a2b", strands = 22 }]\n'
    )
    own.workbook(HEAD, ["Slough Hopper", "3/8", "muskrat"], name="Jigs.xlsx")
    (product,) = own.read().products
    assert (product.sku, product.pattern.name, product.pattern.story) == (
        "SH-38-MSK", "slough hopper", "For slow water.",
    )  # fmt: skip
    assert (product.colour.strands, product.pattern.kind) == (22, "hair jig")


def test_a_row_without_a_weight_is_asked_about_once_and_stops_no_other(own: Bench) -> None:
    rows: list[list[Any]] = [
        ["Slough Hopper", None, "Muskrat"],
        [None, None, "Olive"],
        [None, "1/4", "Olive"],
    ]
    own.workbook(HEAD, *rows, name="Jigs.xlsx")
    finding = own.finding("weight-missing")
    assert (finding.grade, finding.place.cell) == (Grade.FIX, "A2")
    assert 'weights = ["3/8 oz"]' in finding.hint
    assert "A3" in finding.found
    assert len(own.read().products) == 1
    own.change("fill_down", 'weights = ["3/8 oz", "1/2 oz"]\nfill_down')
    assert [str(one.weight) for one in own.read().products] == [
        "3/8 oz", "1/2 oz", "3/8 oz", "1/2 oz", "1/4 oz",
    ]  # fmt: skip


@pytest.mark.parametrize("sheet_date", [dt.date(2026, 3, 8), dt.date(2026, 8, 3), 46_089])
def test_dates_that_were_weights_are_read_and_said_once(own: Bench, sheet_date: Any) -> None:
    """3/8 typed where months stand first, and where days do; and its count without a format."""
    rows: list[list[Any]] = [["Slough Hopper", sheet_date, "Muskrat"], [None, sheet_date, "Olive"]]
    own.workbook(HEAD, *rows, [None, "1/4", "Olive"], name="Jigs.xlsx")
    assert [str(one.weight) for one in own.read().products] == ["3/8 oz", "3/8 oz", "1/4 oz"]
    finding = own.finding("weight-was-date")
    assert finding.grade is Grade.NOTE
    assert "B2" in finding.found
    assert "B3" in finding.found


def test_a_date_that_was_no_fraction_is_asked_about(own: Bench) -> None:
    rows: list[list[Any]] = [
        ["Slough Hopper", dt.date(2026, 5, 12), "Muskrat"],
        [None, "3/8", "Olive"],
    ]
    own.workbook(HEAD, *rows, name="Jigs.xlsx")
    assert own.finding("cell-misread").found == "the date 2026-05-12"
    assert len(own.read().products) == 1


def test_a_upc_that_lost_its_zero_is_taken_where_its_check_digit_proves_it(own: Bench) -> None:
    upc = "01234567890" + ean.calc_check_digit("01234567890")  # python-stdnum's own reckoning
    other = 12345678901
    assert not ean.is_valid(f"0{other}")
    own.workbook(
        HEAD,
        ["Slough Hopper", "3/8", "Muskrat", None, None, int(upc)],
        [None, "3/8", "Olive", None, None, other],
        name="Jigs.xlsx",
    )
    assert [one.gtin for one in own.read().products] == [upc, None]
    assert own.finding("gtin-zeros").found.endswith(f"so {upc}")
    assert own.finding("cell-misread").place.cell == "F3"


def test_a_jig_that_has_two_rows_is_told_and_what_they_say_differently_does_not_hold(
    own: Bench,
) -> None:
    rows: list[list[Any]] = [
        ["Slough Hopper", 0.5, "Muskrat", None, 4.5],
        [None, "1/2 oz", "muskrat", None, 5],
    ]
    own.workbook(HEAD, *rows, name="Jigs.xlsx")
    (product,) = own.read().products
    assert product.price is None
    assert {one.grade for one in own.findings() if one.rule == "row-twice"} == {
        Grade.NOTE, Grade.FIX,
    }  # fmt: skip


def test_discontinued_in_a_note_retires_and_a_doubt_is_asked(own: Bench) -> None:
    own.workbook(
        HEAD,
        ["Slough Hopper", "3/8", "Muskrat", None, None, None, None, "Discontinued 2024"],
        [None, "3/8", "Olive", None, None, None, None, "discontinued?"],
        name="Jigs.xlsx",
    )
    catalog = own.read()
    assert (catalog.retired, len(catalog.gone)) == (("SH-38-MUSKRAT",), 1)
    assert own.finding("retired-unclear").place.cell == "H3"


@pytest.mark.parametrize(
    ("note", "retires"),
    [
        ("DON'T MAKE", True), ("Don\u2019t make any more!", True), ("disc.", True),
        ("Disc. 2024", True),
        ("not making any more", True), ("customer likes it; no longer making these", True),
        ("old stock only", None), ("don't make until spring", None), ("disc blade", None),
        ("gone", None), ("not discontinued", None), ("make 12 more", False), ("new!", False),
    ],
)  # fmt: skip
def test_words_that_end_a_product_retire_it_and_doubtful_ones_are_asked(
    note: str, retires: bool | None
) -> None:
    assert note_retires(note) is retires


def test_a_status_and_a_title_that_end_a_product_never_pass_in_silence(own: Bench) -> None:
    own.change('"Notes" = "remark"', '"Notes" = "status"')
    own.workbook(
        HEAD,
        ["Slough Hopper", "3/8", "Muskrat", None, None, None, None, "not making any more"],
        [None, "3/8", "Olive"], ["DISCONTINUED COLORS"], ["Slough Hopper", "3/8", "Rust"],
        name="Jigs.xlsx",
    )  # fmt: skip
    assert own.read().retired == ("SH-38-MUSKRAT",)
    finding = own.finding("retired-unclear")
    assert (finding.place.cell, finding.grade) == ("A4", Grade.FIX)


def test_what_a_name_says_is_no_longer_made_is_retired(own: Bench) -> None:
    own.workbook(
        HEAD, ["Slough Hopper", "3/8", "Olive - DISC."], ["Disc Spinner", "3/8", "Olive"],
        ["Night Heron (discontinued)", "3/8", "Ink"], [None, "1/2", "Ink"], name="Jigs.xlsx",
    )  # fmt: skip
    catalog = own.read()
    assert [one.sku for one in catalog.products] == ["DISCSPINNER-38-OLIVE"]
    assert len(catalog.gone) == 3
    assert own.finding("row-retired").place.cell == "C2"


def test_a_note_in_doubt_is_settled_by_one_line(own: Bench) -> None:
    row = ["Slough Hopper", "3/8", "Muskrat", None, None, None, None, "old stock only"]
    own.workbook(HEAD, row, name="Jigs.xlsx")
    assert '= "discontinued" under [spreadsheet.means]' in own.finding("retired-unclear").hint
    own.append('[spreadsheet.means]\n"old stock only" = "discontinued"\n')
    assert own.read().retired == ("SH-38-MUSKRAT",)


def test_counts_in_words_and_not_exact_are_read_and_said(own: Bench) -> None:
    given = {"out": 0, "none": 0, "sold out": 0, "~20": 20, "20+": 20, "12 dz": 144, "tbd": None}
    rows = [
        ["Slough Hopper", "3/8", f"Hue {at}", *[None] * 3, text] for at, text in enumerate(given)
    ]
    own.workbook(HEAD, *rows, name="Jigs.xlsx")
    counted = own.read().on_hand
    assert [counted.get(f"SH-38-HUE{at}") for at in range(len(given))] == list(given.values())
    said = {one.place.cell: one.grade for one in own.findings() if one.rule == "count-read"}
    assert said == {"G2": Grade.NOTE, "G5": Grade.NOTE}


def test_thousands_before_a_decimal_comma_are_an_amount(own: Bench) -> None:
    own.workbook(
        HEAD, ["Slough Hopper", "3/8", "Rust", None, "1.004,50"],
        ["Slough Hopper", "3/8", "Ink", None, "1.004"], name="Jigs.xlsx",
    )  # fmt: skip
    assert str(own.read().products[0].price) == "1004.50"


def test_a_heading_that_is_gone_stops_with_the_nearest(own: Bench) -> None:
    own.workbook(
        [*HEAD[:4], "Retail 2027", *HEAD[5:]], ["Slough Hopper", "3/8", "Muskrat", None, 4.5],
        name="Jigs.xlsx",
    )  # fmt: skip
    finding = own.finding("heading-gone")
    assert finding.grade is Grade.STOP
    assert "Retail 2027" in finding.hint


def test_a_default_that_names_nothing_is_told_once_where_it_stands(own: Bench) -> None:
    own.change('head = "vesper"', 'head = "vespr"')
    rows: list[list[Any]] = [[f"Jig {number}", "3/8", "Olive"] for number in range(9)]
    own.workbook(HEAD, *rows, name="Jigs.xlsx")
    assert own.finding("unknown-name").place.key == "spreadsheet.pattern.head"


def test_a_file_that_is_not_there_is_told_where_it_is_named(own: Bench) -> None:
    found = [one for one in own.findings() if one.grade is Grade.STOP]
    assert [one.place.key for one in found] == ["spreadsheet.file"]
    own.workbook(HEAD, name="Jigs 2027.xlsx")
    assert own.finding("file-unreadable").hint == "Did you mean 'Jigs 2027.xlsx'?"


def test_a_jig_in_grams_and_in_packs_has_its_sku_whatever_row_comes_first(own: Bench) -> None:
    own.change('"Notes" = "remark"', '"Notes" = "remark"\n"Per bag" = "pack"')
    jig: list[Any] = ["Slough Hopper", None, "Muskrat", *[None] * 6]
    rows = [[*jig], [*jig], [*jig]]
    rows[0][1], rows[1][1], rows[2][1], rows[2][8] = "3/8", "10.6 g", "3/8", "3 pcs"
    for order in (rows, rows[::-1]):
        own.workbook([*HEAD, "Per bag"], *order, name="Jigs.xlsx")
        packs = {one.sku: one.pattern.pack for one in own.read().products}
        assert packs == {"SH-38-MUSKRAT": 1, "SH-10.6G-MUSKRAT": 1, "SH-38-MUSKRAT-3PK": 3}
        assert own.finding("product-twice").grade is Grade.FIX


NAMES = st.text("abcdefgh éßЖ漢 /-'", min_size=1, max_size=30).filter(
    lambda name: any(letter.isalnum() for letter in name)
)
JIGS = st.lists(
    st.tuples(NAMES, st.sampled_from(["1/4", "3/8", "1/2"]), NAMES),
    min_size=1, max_size=4, unique_by=lambda jig: tuple(part.strip().casefold() for part in jig),
)  # fmt: skip


def skus(rows: list[tuple[str, str, str]]) -> dict[tuple[str, ...], str]:
    """Every product's SKU by its pattern, weight and colour, of a CSV with these rows."""
    with TemporaryDirectory() as folder:
        bench = Bench(Path(folder))
        bench.write("catalog.toml", LINELESS + OWN.replace("xlsx", "csv"))
        text = StringIO()
        csv.writer(text).writerows([HEAD, *rows])
        bench.write("Jigs.csv", text.getvalue())
        return {
            (plain(one.pattern.name), str(one.weight), plain(one.colour.name)): one.sku
            for one in bench.read().products
        }


@pytest.mark.siege
@given(JIGS, st.data())
def test_a_sku_never_shifts_when_rows_come_go_and_move(
    jigs: list[tuple[str, str, str]], data: Any
) -> None:
    """Lots hang on it: what else stands in the sheet, and in which order, changes none."""
    whole = skus(jigs)
    fewer = data.draw(st.lists(st.sampled_from(jigs), min_size=1, unique=True))
    assert skus(fewer).items() <= whole.items()
    assert len(set(whole.values())) == len(whole)


def test_codes_are_made_of_a_name_alone_and_recorded_ones_hold() -> None:
    assert code_of("Slough Hopper", {}, {}) == "SLOUGHHOPPER"
    assert code_of("slough  hopper", {"Slough Hopper": "SH"}, {}) == "SH"
    assert code_of("SH", {"Slough Hopper": "SH"}, {}) not in ("SH", "SLOUGHHOPPER")
    assert code_of("Green Pumpkin", {}, {}) != code_of("Green Pumpkin Seed", {}, {})
    assert code_of("Café", {}, {}) == "CAFE"
    for name in ("Жук", "漢", "A very long name of a colour"):
        assert 4 <= len(code_of(name, {}, {})) <= 12


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("about 20", 20), ("approx. 20", 20), ("ca. 2 doz", 24), ("~20", 20), ("circa 7", 7),
        ("need 12", None), ("sold 12", None), ("owe Jim 12", None), ("out of 24", None),
        ("minus 5", None), ("need 20+", None), ("bags of 2", None),
    ],
)  # fmt: skip
def test_a_word_before_a_count_is_read_only_where_it_says_about(
    text: str, count: int | None
) -> None:
    if count is None:
        with pytest.raises(CellError):
            read_count(text)
    else:
        read, said = read_count(text)
        assert read == count
        assert said
        assert said.rule == "count-read"


def test_a_pack_may_say_what_it_is() -> None:
    found = [
        read_field("pack", text, None, True)[0] for text in ("bags of 2", "pack of 3", "6 pcs")
    ]
    assert found == [2, 3, 6]


@pytest.mark.parametrize(("heading", "text"), [("Active", "no"), ("Active", "N"), ("Active", 0)])
def test_what_is_not_active_is_retired(own: Bench, heading: str, text: Any) -> None:
    own.change('"Notes" = "remark"', f'"{heading}" = "status"')
    rows = [
        ["Slough Hopper", "3/8", "Muskrat", *[None] * 4, "yes"],
        ["Slough Hopper", "3/8", "Olive", *[None] * 4, text],
    ]
    own.workbook([*HEAD[:-1], heading], *rows, name="Jigs.xlsx")
    assert [one.colour.name for one in own.read().products] == ["Muskrat"]
    assert "row-retired" in rules(own)


def test_an_unknown_status_is_quoted_in_the_line_that_settles_it(own: Bench) -> None:
    own.change('"Notes" = "remark"', '"Available" = "status"')
    row = ["Slough Hopper", "3/8", "Muskrat", *[None] * 4, "no"]
    own.workbook([*HEAD[:-1], "Available"], row, name="Jigs.xlsx")
    hint = own.finding("status-unknown").hint
    assert hint.startswith('"no" = "discontinued" under [spreadsheet.means]')
    own.append('\n[spreadsheet.means]\n"no" = "discontinued"\n')
    assert not own.read().products


def test_a_row_of_products_csv_adds_to_a_jig_of_the_makers_own_sheet(own: Bench) -> None:
    row = ["Slough Hopper", "3/8", "Muskrat", "4/0", 4.5, None, 3, None]
    own.workbook(HEAD, row, name="Jigs.xlsx")
    (product,) = own.read().products
    own.write("products.csv", f"sku,gtin,note,markets\n{product.sku},9521234543213,mine,US\n")
    (more,) = own.read().products
    assert (more.gtin, more.note, more.markets) == ("9521234543213", "mine", ("US",))
    assert (more.sku, more.price) == (product.sku, product.price)
    own.write("products.csv", f"sku,price\n{product.sku},5.00\n")
    (finding,) = [one for one in own.findings() if one.grade is Grade.STOP]
    assert (finding.rule, finding.place.line) == ("files-disagree", 2)
    own.write("products.csv", f"sku,retired\n{product.sku},yes\n")
    assert own.read().retired == (product.sku,)


SIZES: list[Any] = ["1/4", "3/8", "1/2", "3/16", "1/2 oz", dt.date(2025, 3, 8), 38]


@pytest.mark.parametrize("heading", ["Size", "Weight", "Wt"])
@pytest.mark.parametrize("chosen", [False, True])
def test_a_slip_among_fractions_is_asked_alone_and_makes_no_grams(
    bench: Bench, heading: str, chosen: bool
) -> None:
    rows = [["Slough Hopper", size, f"Color {at}", 4] for at, size in enumerate(SIZES)]
    bench.workbook(["Jig", heading, "Color", "Price"], *rows, name="Jigs.xlsx")
    proposal = propose(bench.folder / "Jigs.xlsx", columns={heading: "weight"} if chosen else {})
    assert "unit" not in proposal.spreadsheet
    assert [str(row.values["weight"]) for row in proposal.rows] == [
        "1/4 oz", "3/8 oz", "1/2 oz", "3/16 oz", "1/2 oz", "3/8 oz",
    ]  # fmt: skip
    asked = [one for one in proposal.asked if one.place.cell == "B8"]
    assert [(one.rule, one.found) for one in asked] == [("cell-misread", "38")]
    assert not [one for one in proposal.asked if one not in asked]


def test_grams_are_still_told_by_most_numbers_and_a_fraction_among_them_is_asked(
    bench: Bench,
) -> None:
    sizes = [7, 10.6, "14", 3.5, "3/8", "½", dt.date(2025, 3, 8), "1/4 oz"]
    rows = [["Slough Hopper", size, f"Color {at}", 4] for at, size in enumerate(sizes)]
    rows += [["Bank Creeper", 17.5, f"Color {at}", 4] for at in "ABCD"]
    bench.workbook(["Jig", "Weight", "Color", "Price"], *rows, name="Jigs.xlsx")
    proposal = propose(bench.folder / "Jigs.xlsx")
    assert proposal.spreadsheet["unit"] == "g"
    assert [str(row.values["weight"]) for row in proposal.rows][:5] == [
        "7 g", "10.6 g", "14 g", "3.5 g", "1/4 oz",
    ]  # fmt: skip
    (asked,) = proposal.asked
    assert (asked.place.cell, all(cell in asked.found for cell in ("B6", "B7", "B8"))) == (
        "B6", True,
    )  # fmt: skip


@given(st.integers(0, 31), st.sampled_from([2, 4, 8, 16, 32, 64]), st.sampled_from(["", "1 "]))
def test_a_bare_fraction_is_never_grams(half: int, below: int, whole: str) -> None:
    text = f"{whole}{2 * half % below + 1}/{below}"
    with pytest.raises(CellError):
        read_field("weight", text, "g", True)
    assert read_field("weight", text, None, True)[0].unit == "oz"


@pytest.mark.parametrize("value", [38, "38", 316.0])
def test_a_slip_in_a_column_of_ounces_is_asked(value: Any) -> None:
    with pytest.raises(CellError):
        read_field("weight", value, "oz", True)
    assert str(read_field("weight", 8, "oz", True)[0]) == "8 oz"
