"""Lines of strangers, as makers keep them: what is understood of a file that nobody described.

``python -m tests.catalog.test_strangers`` prints what each comes to.
"""

from __future__ import annotations

import csv
import io
import random
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.catalog.spreadsheet.own_cells import field_of, words
from labeler.catalog.spreadsheet.propose import Proposal, propose
from labeler.findings import LabelerError
from tests.catalog.conftest import SMALL, Bench
from tests.catalog.strangers.make import TYPED

STRANGERS = Path(__file__).parent / "strangers"

KNOWN = {
    "price-list.xls": """
        SLOUGH HOPPER|Muskrat|1/4 oz|2/0|4.25
        SLOUGH HOPPER|Muskrat|3/8 oz|2/0|4.5
        SLOUGH HOPPER|Muskrat|1/2 oz|2/0|
        SLOUGH HOPPER|Olive Drab|1/4 oz|2/0|4.25
        SLOUGH HOPPER|Olive Drab|3/8 oz|2/0|4.5
        SLOUGH HOPPER|Olive Drab|1/2 oz|2/0|4.75
        SLOUGH HOPPER|Peacock|3/8 oz|2/0|4.5
        BANK CREEPER|Muskrat|1/4 oz|4|3.95
        BANK CREEPER|Muskrat|3/8 oz|4|3.95
        BANK CREEPER|Black/Blue|1/4 oz|4|3.95|retired
        BANK CREEPER|Black/Blue|3/8 oz|4|3.95|retired""",
    "stock.ods": """
        Night Heron|Black|1/4 oz|2/0|5.25|gtin=012345678905|on_hand=14
        Night Heron|Black|3/8 oz|3/0|5.25|gtin=9521234000013|on_hand=24
        Night Heron|Black|1/2 oz|4/0|5.5|on_hand=6
        Night Heron|White|3/8 oz|3/0|5.25|on_hand=12
        Reed Runner|Melon|5/16 oz|1/0||on_hand=0|retired
        Reed Runner|Dusk|5/16 oz|1/0|4|on_hand=5""",
    "shop-export.csv": """
        Willow Drifter|Ash|1/8 oz||3.50|on_hand=10|photo=drifter-ash.jpg|sku=WD-18-ASH
        Willow Drifter|Ash|1/4 oz||3.75|on_hand=4|sku=WD-14-ASH
        Willow Drifter|Rust|1/8 oz||3.50|on_hand=0|photo=drifter-rust.jpg|sku=WD-18-RST
        Willow Drifter|Rust|1/4 oz||3.75|on_hand=12|sku=WD-14-RST
        Moor Midge|Ink|1/16 oz||3.00|on_hand=3|photo=midge.jpg|retired|sku=MM-116-INK
        Pike Lantern|Amber|1 oz||6.50|on_hand=8|photo=lantern.jpg|sku=PL-1-AMB
        Pike Lantern|Amber, dark|1 1/2 oz||6.95|on_hand=2|photo=lantern-dark.jpg|sku=PL-112-AMD""",
    "prix.csv": """
        Sauterelle|Vert forêt|10.6 g|3/0|4.50|on_hand=24|wholesale=2.70
        Sauterelle|Vert forêt|7 g|2/0|4.50|on_hand=14|wholesale=2.70
        Sauterelle|Écrevisse|10.6 g|3/0|4.50|wholesale=2.70
        Libellule|Bleu nuit|3.5 g|1|3.95|on_hand=6|wholesale=2.37
        Libellule|Bleu nuit|7 g|1/0|""",
    "names.xlsx": "",
}
"""What a reader of the file takes each to hold: pattern, colour, weight, hook, price, and more."""

ASKED = {
    "price-list.xls": [],
    "stock.ods": ["cell-misread G8", "cell-misread B9"],
    "shop-export.csv": ["column-asked G1"],
    "prix.csv": [],
    "names.xlsx": ["weight-missing A1"],
}
"""What only the maker knows, each with its first cell; lines of a CSV have no letter."""


def lines(proposal: Proposal) -> list[str]:
    """Return the products of a proposal, one line each."""
    found = []
    for row in proposal.rows:
        said = dict(row.values)
        price = said.get("price", ("",))[0]
        first = [said["pattern"], said["colour"], said["weight"], said.get("hook", ""), price]
        more = [f"{name}={said[name]}" for name in ("gtin", "on_hand", "photo") if name in said]
        more += ["retired"] if said.get("retired") else []
        more += [f"sku={said['sku']}"] if "sku" in said else []
        more += [f"wholesale={said['wholesale'][0]}"] if "wholesale" in said else []
        found.append("|".join(map(str, [*first, *more])))
    return found


@pytest.mark.parametrize("name", sorted(KNOWN))
def test_a_strangers_line_is_read_without_a_wrong_product(name: str) -> None:
    proposal = propose(STRANGERS / name)
    assert lines(proposal) == [line.strip() for line in KNOWN[name].split("\n") if line.strip()]
    asked = [f"{one.rule} {one.place.cell or f'G{one.place.line}'}" for one in proposal.asked]
    assert asked == ASKED[name]


def test_shops_and_a_dealers_share_are_taken_and_proposed() -> None:
    dealers = propose(STRANGERS / "price-list.xls").tables["dealers"]
    assert dealers["corner-tackle"] == {
        "name": "Corner Tackle", "street": "12 Main St", "city": "Millrace", "state": "MN",
        "postcode": "55999", "phone": "218-555-0112",
    }  # fmt: skip
    assert propose(STRANGERS / "prix.csv").tables["tiers"]["wholesale"]["off"] == "40 %"


def test_discounts_of_shops_are_proposed_as_tiers_and_no_column_is_dropped(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.worksheets[0].append(["Jig", "Size", "Color", "Price"])
    for colour in ["Melon", "Dusk", "Olive", "White", "Pearl", "Coal", "Rust", "Sand"]:
        book.worksheets[0].append(["Moss Drifter", "3/8 oz", colour, 4.5])
    sheet = book.create_sheet("Stores")
    sheet.append(["Store", "Contact", "Town", "St", "Discount", "Terms"])
    said = [("Pike Landing", "40%"), ("Odd Pail", None), ("Reed", ".35"), ("Alder", 0.4),
            ("Dock", "ask Bo"), ("Heron", 1)]  # fmt: skip
    for name, discount in said:
        sheet.append([name, "Ann", "Alder Ferry", "WI", discount, "net 30"])
    book.save(tmp_path / "own.xlsx")
    proposal = propose(tmp_path / "own.xlsx")
    tiers = {key: one.get("tier") for key, one in proposal.tables["dealers"].items()}
    assert tiers == {
        "pike-landing": "off-40", "odd-pail": None, "reed": "off-35", "alder": "off-40",
        "dock": None, "heron": None,
    }  # fmt: skip
    assert {key: one["off"] for key, one in proposal.tables["tiers"].items()} == {
        "off-40": "40 %", "off-35": "35 %",
    }  # fmt: skip
    asked = [(one.rule, one.place.cell) for one in proposal.asked]
    unread = [(rule, cell[-2:]) for rule, cell in asked if cell and rule == "discount-unread"]
    assert unread == [("discount-unread", cell) for cell in ("E3", "E6", "E7")]
    found = [one.found for one in proposal.asked if one.rule == "unknown-column"]
    assert [text.split(" over ")[0] for text in found] == ['"Contact"', '"Terms"']
    assert "net 30" in found[1]


@pytest.mark.siege
def test_what_an_office_program_made_of_what_was_typed_is_read_as_typed(tmp_path: Path) -> None:
    """LibreOffice took 3/8 for 8 March in one language and for 3 August in the other."""
    typed = tmp_path / "typed.csv"
    typed.write_text(TYPED, encoding="utf-8")
    for name in ("typed-us.ods", "typed-gb.xlsx"):
        proposal = propose(STRANGERS / name)
        assert not proposal.asked
        assert {"weight-was-date", "gtin-zeros"} <= {one.rule for one in proposal.taken}
        for row, same in zip(proposal.rows, propose(typed).rows, strict=True):
            assert row.values == same.values


@pytest.mark.siege
def test_every_table_that_is_proposed_reads_as_it_was_understood(bench: Bench) -> None:
    """What the proposal says is what every later run does."""
    for name in sorted(KNOWN.keys() - {"names.xlsx"}):
        proposal = propose(STRANGERS / name)
        table = {**proposal.spreadsheet, "pattern": DEFAULTS}
        bench.write("catalog.toml", LINELESS + toml(table))
        catalog = bench.read()
        assert len(catalog.products) + len(catalog.gone) == len(lines(proposal))
        assert all(len(one.sku) <= 20 for one in catalog.products)
    proposal = propose(STRANGERS / "names.xlsx")
    settled = {**proposal.spreadsheet, "pattern": DEFAULTS, "weights": ["3/8 oz"]}
    bench.write("catalog.toml", LINELESS + toml(settled))
    assert [one.sku for one in bench.read().products][:2] == ["SH-38-MSK", "SH-38-OLV"]


DEFAULTS = {"kind": "jig", "head": "vesper", "hook": "stout"}
LINELESS = SMALL[: SMALL.index("[colours.melon]")]


def toml(table: dict[str, Any]) -> str:
    import tomlkit

    return "\n" + tomlkit.dumps({"spreadsheet": table})


def test_taking_in_again_keeps_what_was_said_before() -> None:
    first = propose(STRANGERS / "stock.ods").spreadsheet
    first["codes"]["patterns"]["Night Heron"] = "HERON"
    first["headings"]["Notes"] = "ignored"
    again = propose(STRANGERS / "stock.ods", first).spreadsheet
    assert again["codes"]["patterns"]["Night Heron"] == "HERON"
    assert again["headings"]["Notes"] == "ignored"


def test_no_heading_means_two_fields() -> None:
    seen: dict[str, str] = {}
    for name, texts in words()["headings"].items():
        for text in texts:
            assert seen.setdefault(text, name) == name
    assert field_of("Weight (oz)")[0] == "weight"
    assert field_of("Prix ($)")[0] == "price"
    assert field_of("Collor", near=True)[0] == "colour"
    assert field_of("U.P.C. #")[0] == "gtin"


def write(path: Path, *rows: list[Any]) -> Path:
    book = openpyxl.Workbook()
    for row in rows:
        book.worksheets[0].append(row)
    book.save(path)
    return path


def test_a_column_that_weighs_something_else_is_asked_about_and_not_taken(tmp_path: Path) -> None:
    path = write(
        tmp_path / "jigs.xlsx", ["Name", "Color", "Size", "Weight (g)"],
        ["Hopper", "Ink", "3/8", 43], ["Hopper", "Ink", "1/2", 57.5], ["Creeper", "Ink", "1", 81],
    )  # fmt: skip
    proposal = propose(path)
    assert [str(row.values["weight"]) for row in proposal.rows] == ["3/8 oz", "1/2 oz", "1 oz"]
    assert [one.place.cell for one in proposal.asked if one.rule == "column-asked"] == ["D1"]
    path = write(
        tmp_path / "parcels.xlsx", ["Name", "Color", "Grams"],
        ["Hopper", "Ink", 243], ["Hopper", "Olive", 257.5], ["Creeper", "Ink", 281],
    )  # fmt: skip
    proposal = propose(path)
    assert (proposal.rows, proposal.spreadsheet["headings"]["Grams"]) == ([], "ignored")
    assert {one.rule for one in proposal.asked} == {"column-asked", "weight-missing"}


def test_colours_may_stand_across_the_top_with_marks(tmp_path: Path) -> None:
    path = write(
        tmp_path / "jigs.xlsx", ["Jig", "Size", "Price", "Muskrat", "Olive"],
        ["Hopper", "3/8", 4.5, "x", None], ["Hopper", "1/2", 4.75, "x", "x"],
    )  # fmt: skip
    proposal = propose(path)
    assert lines(proposal) == [
        "Hopper|Muskrat|3/8 oz||4.5", "Hopper|Muskrat|1/2 oz||4.75", "Hopper|Olive|1/2 oz||4.75",
    ]  # fmt: skip
    assert "across-read" in {one.rule for one in proposal.proposed}


def test_one_cell_may_hold_pattern_colour_and_weight(tmp_path: Path) -> None:
    path = write(
        tmp_path / "jigs.xlsx", ["Jig", "Price"], ["Slough Hopper 3/8oz - Muskrat", 4.5],
        ["Slough Hopper 1/2 oz - Black/Blue", 4.75], ["Bank Creeper (7 g) - Rust", 4],
    )  # fmt: skip
    proposal = propose(path)
    assert lines(proposal) == [
        "Slough Hopper|Muskrat|3/8 oz||4.5", "Slough Hopper|Black/Blue|1/2 oz||4.75",
        "Bank Creeper|Rust|7 g||4",
    ]  # fmt: skip
    path = write(
        tmp_path / "both.xlsx", ["Jig", "Size", "Color"], ["Slough Hopper 3/8 oz", "3/8", "Rust"],
        ["Hopper 250 g box", "3/8", "Muskrat"],
    )  # fmt: skip
    assert [line.split("|")[0] for line in lines(propose(path))] == [
        "Slough Hopper", "Hopper 250 g box",
    ]  # fmt: skip
    assert "parted-proposed" in {one.rule for one in proposal.proposed}


def test_a_title_may_say_the_weight_too_and_colours_may_stand_over_weights(tmp_path: Path) -> None:
    path = write(
        tmp_path / "titles.xlsx", ["Color", "Price"], ["SLOUGH HOPPER 3/8 oz"], ["Muskrat", 4.5],
        ["Olive", 4.5], ["SLOUGH HOPPER 1/2 oz"], ["Muskrat", 4.75],
    )  # fmt: skip
    assert lines(propose(path)) == [
        "SLOUGH HOPPER|Muskrat|3/8 oz||4.5", "SLOUGH HOPPER|Olive|3/8 oz||4.5",
        "SLOUGH HOPPER|Muskrat|1/2 oz||4.75",
    ]  # fmt: skip
    path = write(
        tmp_path / "over.xlsx", ["Color", "Size", "Price"], ["SLOUGH HOPPER"],
        ["Muskrat", "3/8", 4.5], [None, "1/2", 4.75], ["Olive", "1/4", 4.25],
    )  # fmt: skip
    assert lines(propose(path)) == [
        "SLOUGH HOPPER|Muskrat|3/8 oz||4.5", "SLOUGH HOPPER|Muskrat|1/2 oz||4.75",
        "SLOUGH HOPPER|Olive|1/4 oz||4.25",
    ]  # fmt: skip


def test_a_blank_hook_is_that_of_a_pattern_which_has_but_one(tmp_path: Path, bench: Bench) -> None:
    path = write(
        tmp_path / "hooks.xlsx", ["Jig", "Size", "Color", "Hook"],
        ["Hopper", "3/8", "Ink", "4/0"], ["Hopper", "1/2", "Ink", None],
        ["Creeper", "1/4", "Ink", "2/0"], ["Creeper", "3/8", "Ink", "3/0"],
        ["Creeper", "1/2", "Ink", None],
    )  # fmt: skip
    proposal = propose(path)
    assert proposal.tables["patterns"] == {"Hopper": {"hook_sizes": ["4/0"]}}
    table = toml({**proposal.spreadsheet, "pattern": DEFAULTS})
    bench.write("catalog.toml", f"{LINELESS}{table}\n[patterns.Hopper]\nhook_sizes = ['4/0']\n")
    assert [one.hook_size for one in bench.read().products] == ["4/0", "4/0", "2/0", "3/0", None]


def test_a_heading_that_stands_twice_is_told_apart_by_its_letter(tmp_path: Path) -> None:
    path = write(
        tmp_path / "jigs.xlsx", ["Jig", "Size", "Color", "Price", "Price", "UPC"],
        ["Hopper", "3/8", "Ink", 4.5, 2.7],
    )  # fmt: skip
    proposal = propose(path)
    heads = proposal.spreadsheet["headings"]
    assert (heads["Price"], heads["column E"], heads["UPC"]) == ("price", "ignored", "gtin")
    assert [one.place.cell for one in proposal.asked] == ["E1"]
    assert lines(proposal) == ["Hopper|Ink|3/8 oz||4.5"]


def test_what_is_not_known_is_asked_with_samples_and_the_line_that_settles_it(
    tmp_path: Path,
) -> None:
    path = write(
        tmp_path / "jigs.xlsx", ["Jig", "Size", "Color", "Zib"], ["Hopper", "3/8", "Ink", "q7"],
    )  # fmt: skip
    (asked,) = propose(path).asked
    assert asked.found == '"Zib" over "q7"'
    assert asked.hint.startswith('"Zib" = "ignored" under [spreadsheet.headings]')


def test_one_column_may_hold_weight_and_hook(tmp_path: Path) -> None:
    path = write(
        tmp_path / "jigs.xlsx", ["Product", "Wt/Hook", "Color"], ["Mud Minnow", "3/8-4/0", "Brown"],
        ["Mud Minnow", "1/2 oz w/ 5/0 hook", "Brown"], ["Silt Dancer", "1/4 #2", "White"],
        ["Silt Dancer", "1 1/2 oz, 6/0", "White"], ["Silt Dancer", "3/16", "White"],
    )  # fmt: skip
    proposal = propose(path)
    assert lines(proposal) == [
        "Mud Minnow|Brown|3/8 oz|4/0|", "Mud Minnow|Brown|1/2 oz|5/0|",
        "Silt Dancer|White|1/4 oz|2|", "Silt Dancer|White|1 1/2 oz|6/0|",
        "Silt Dancer|White|3/16 oz||",
    ]  # fmt: skip
    (said,) = [one for one in proposal.taken if one.rule == "weight-with-hook"]
    assert '"3/8" and 4/0' in said.found
    assert not proposal.asked


def test_a_title_may_say_the_price_too(tmp_path: Path) -> None:
    path = write(
        tmp_path / "titles.xlsx", ["Color", "Qty"], ["3/8 oz Slough Hopper $4.50"], ["Muskrat", 4],
        ["Olive", 5], ["1/2 oz Slough Hopper ($4.75)"], ["Muskrat", 6],
    )  # fmt: skip
    proposal = propose(path)
    assert lines(proposal) == [
        "Slough Hopper|Muskrat|3/8 oz||4.50|on_hand=4",
        "Slough Hopper|Olive|3/8 oz||4.50|on_hand=5",
        "Slough Hopper|Muskrat|1/2 oz||4.75|on_hand=6",
    ]
    assert "price-in-title" in {one.rule for one in proposal.taken}


def test_titles_with_weights_above_bare_colours_are_understood(tmp_path: Path) -> None:
    path = write(
        tmp_path / "bare.xlsx", ["3/8 oz Slough Hopper $4.50"], ["Muskrat"], ["Bluegill"],
        ["1/2 oz Slough Hopper $4.75"], ["Muskrat"], ["Black & Blue"],
    )  # fmt: skip
    proposal = propose(path)
    assert lines(proposal) == [
        "Slough Hopper|Muskrat|3/8 oz||4.50", "Slough Hopper|Bluegill|3/8 oz||4.50",
        "Slough Hopper|Muskrat|1/2 oz||4.75", "Slough Hopper|Black & Blue|1/2 oz||4.75",
    ]  # fmt: skip
    assert "titles-read" in {one.rule for one in proposal.proposed}


def test_a_sheet_without_colours_is_settled_by_one_line(tmp_path: Path) -> None:
    path = write(
        tmp_path / "jigs.xlsx", ["Name", "Size", "Price"], ["Ghost Perch", "3/8", 4.5],
        ["Doe Tail", "1/8", 3.5],
    )  # fmt: skip
    proposal = propose(path)
    (asked,) = proposal.asked
    assert (proposal.rows, asked.place.cell) == ([], "A2")
    assert asked.hint.startswith('colour = "Natural" under [spreadsheet]')
    settled = propose(path, proposal.spreadsheet | {"colour": "Bone"})
    assert lines(settled) == ["Ghost Perch|Bone|3/8 oz||4.5", "Doe Tail|Bone|1/8 oz||3.5"]


def test_a_column_new_since_the_take_in_is_asked_about_with_its_line(tmp_path: Path) -> None:
    rows = [["Jig", "Size", "Color"], ["Hopper", "3/8", "Ink"]]
    first = propose(write(tmp_path / "jigs.xlsx", *rows)).spreadsheet
    more: list[list[Any]] = [[*rows[0], "Hook", "Price"], [*rows[1], "4/0", 4.5]]
    again = propose(write(tmp_path / "jigs.xlsx", *more), first)
    assert again.spreadsheet["headings"] == first["headings"]
    assert [one.hint for one in again.asked] == [
        '"Hook" = "hook" under [spreadsheet.headings], if it is the hook size.',
        '"Price" = "price" under [spreadsheet.headings], if it is the price.',
    ]
    assert not any("Hook" in one.found for one in again.taken)
    assert lines(again) == ["Hopper|Ink|3/8 oz||"]


def test_two_names_that_differ_by_a_slip_are_shown(tmp_path: Path) -> None:
    path = write(
        tmp_path / "jigs.xlsx", ["Jig", "Size", "Color"], ["Hopper", "3/8", "Muskrat"],
        ["Hopper", "1/2", "Muskrrat"],
    )  # fmt: skip
    (alike,) = [one for one in propose(path).proposed if one.rule == "names-alike"]
    assert alike.hint.startswith('"Muskrrat" = "Muskrat" under [spreadsheet.means]')


def test_a_file_that_is_no_list_of_jigs_is_refused_with_what_was_expected(tmp_path: Path) -> None:
    path = write(tmp_path / "letter.xlsx", ["Dear Ann,"], ["thank you for the hooks."])
    with pytest.raises(LabelerError, match="no table of jigs"):
        propose(path)


FIELDS = ("pattern", "weight", "colour", "hook", "price", "on_hand")
PLAIN = [
    ("Slough Hopper", "3/8", "Muskrat", "4/0", "4.50", "24"),
    ("Slough Hopper", "1/2", "Muskrat", "5/0", "4.75", "3"),
    ("Slough Hopper", "3/8", "Olive", "4/0", "4.50", ""),
    ("Bank Creeper", "1/16", "Black/Blue", "2", "", "12"),
    ("Bank Creeper", "1/4", "Olive", "2/0", "3.95", "0"),
]
WEIGHTS = {
    "3/8": ["3/8", "3/8oz", "3/8 oz", "0.375", "⅜", ".375 oz", "8-Mar", "3-Aug"],
    "1/2": ["1/2", "½ oz", "0.5", "0,5", "2-Jan", "1/2 ounce"],
    "1/16": ["1/16", "1/16oz", "0.0625", "16-Jan"],
    "1/4": ["1/4", "¼", "0.25 oz", "4-Jan", "1-Apr"],
}


def respelled(name: str, text: str, rng: random.Random) -> str:
    """The same cell as another maker types it."""
    if name == "weight":
        return rng.choice(WEIGHTS[text])
    if name == "price":
        return rng.choice([text, f"${text}", f"$ {text}", f"{text} ea"]) if text else "call"
    if name == "on_hand" and text in ("24", "12"):
        return rng.choice([text, f"{text} pcs", f"{int(text) // 12} doz"])
    if name == "hook":
        return rng.choice([text, f"#{text}", f" {text} "])
    if name in ("pattern", "colour"):
        return rng.choice([text, text.upper(), f" {text}"])
    return text


@given(st.randoms(use_true_random=False), st.sampled_from(",;\t"), st.booleans())
def test_scrambled_order_headings_blanks_and_formats_give_the_same_products(
    tmp_path_factory: pytest.TempPathFactory, rng: random.Random, between: str, grouped: bool
) -> None:
    rows = [dict(zip(FIELDS, row, strict=True)) for row in PLAIN]
    rng.shuffle(rows)
    rows.sort(key=lambda row: row["pattern"] if grouped else "")
    order = list(FIELDS)
    rng.shuffle(order)
    heads = {name: rng.choice(sorted(words()["headings"][name] - UNSURE)) for name in FIELDS}
    text = io.StringIO()
    out = csv.writer(text, delimiter=between, lineterminator=rng.choice(["\n", "\r\n"]))
    for title in range(rng.randrange(3)):
        out.writerow([f"My jigs, page {title}"])
    out.writerow([heads[name] for name in order])
    above = ""
    for row in rows:
        cells = {name: respelled(name, row[name], rng) for name in FIELDS}
        if grouped and above == row["pattern"]:
            cells["pattern"] = ""
        above = row["pattern"]
        out.writerow([cells[name] for name in order])
        if rng.random() < 0.2:
            out.writerow([""] * len(order))
    out.writerow(["TOTAL" if at == 0 else "99" for at, _ in enumerate(order)])
    path = tmp_path_factory.getbasetemp() / "scrambled.csv"
    path.write_text(text.getvalue(), encoding="utf-8")
    proposal = propose(path)
    found = {
        tuple(
            "" if name not in row.values
            else f"{row.values[name][0]:.2f}" if name == "price"
            else str(row.values[name]).removesuffix(" oz").casefold()
            for name in FIELDS
        )
        for row in proposal.rows
    }  # fmt: skip
    assert found == {tuple(cell.casefold() for cell in row) for row in PLAIN}
    assert not proposal.asked


UNSURE = frozenset({"g", "gr", "grams", "gramos", "weightg", "weightgrams"})
"""Headings that say another unit."""


CELLS = [
    "Jig", "Size", "Weight", "Color", "Colors", "Hook", "Price", "UPC", "Qty", "Notes", "Status",
    "1/4", "3/8", "1/2 oz", "Muskrat", "x", "TOTAL", "SKU", "Parcel grams", "Hopper", "Black, Blue",
    "4/0", "$4.50", "call", "-", "7g", "0.375", "2 doz", "discontinued", "?", "", "", "", "12345",
    "#REF!", "\u200b", "漢字", "a" * 300, "12/31/2026", "8-Mar", "10,6 g", "-5", "46089",
    "Hopper 3/8",
]  # fmt: skip


@pytest.mark.siege
@given(st.lists(st.lists(st.sampled_from(CELLS), max_size=7), max_size=12))
def test_any_cells_are_understood_or_refused_and_then_read_alike(rows: list[list[str]]) -> None:
    with TemporaryDirectory() as folder:
        bench = Bench(Path(folder))
        text = io.StringIO()
        csv.writer(text).writerows(rows)
        bench.write("jigs.csv", text.getvalue())
        try:
            proposal = propose(bench.folder / "jigs.csv")
        except LabelerError:
            return
        bench.write("catalog.toml", LINELESS + toml({**proposal.spreadsheet, "pattern": DEFAULTS}))
        catalog = bench.read()
        assert len(catalog.products) + len(catalog.gone) == len(proposal.rows)


def test_the_table_of_strangers_prints(capsys: pytest.CaptureFixture[str]) -> None:
    table()
    assert capsys.readouterr().out.count(" 0\n") == len(KNOWN)


def table() -> None:
    """Print what each stranger's file gives: rows taken, proposed, asked, left out, wrong."""
    print(f"{'file':<18}{'taken':>7}{'proposed':>10}{'asked':>7}{'left out':>10}{'wrong':>7}")
    for name, known in KNOWN.items():
        proposal = propose(STRANGERS / name)
        right = {line.strip() for line in known.split("\n")}
        wrong = sum(line not in right for line in lines(proposal))
        counts = len(proposal.rows), len(proposal.proposed), len(proposal.asked)
        print(f"{name:<18}{counts[0]:>7}{counts[1]:>10}{counts[2]:>7}"
              f"{len(proposal.left_out):>10}{wrong:>7}")  # fmt: skip


if __name__ == "__main__":
    table()
