"""Orders through the command line: kept once, shipped in parts, billed so that it adds up."""

from __future__ import annotations

import datetime as dt
import re
import shutil
from collections.abc import Callable, Mapping
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTTextContainer
from pypdf import PdfReader
from stdnum.iso7064 import mod_11_10

from labeler.app import invoices
from labeler.app.invoices import OrderParcel, ship_order
from labeler.app.order_papers import lay_invoice
from labeler.app.papers import deliver_papers
from labeler.book.order import HEADS, PACKS_HEAD, SKU_HEAD
from labeler.catalog.model import Maker
from labeler.ledger.open import open_ledger
from labeler.ledger.orders import Charge, Invoice, InvoiceLine
from labeler.ledger.ship import on_hand

Labeler = Callable[..., Any]
Lot = Callable[..., str]

STARTER = Path(__file__).resolve().parents[3] / "layouts" / "starter"

SBR, DLF, INK = "FST-38-40-MAR", "FST-38-40-INK", "PR-14-20-MAR"
"""At 4.50 and 3.00 retail, 2.95 and 1.95 for dealers: 35 % off, to the nearest 0.05 half up. Of the
last two are in a bag."""

CENT = Decimal("0.01")
FIRST_NUMBERS = tuple(f"{dt.datetime.now(dt.UTC):%y}{number:05d}" for number in (1, 2))
"""Of this year's bills, before their check digit."""
PAIRS = """
[patterns.pair]
code = "PR"
name = "Pair"
kind = "hair jig"
head = "ball"
hook = "jig"
weights = ["1/4 oz"]
hook_sizes = ["2/0"]
colours = ["marsh"]
bag = "small"
pack = 2
price = "3.00"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The starter's small line, with jigs in pairs and two shops that have addresses."""
    folder = Path(shutil.copytree(STARTER, tmp_path / "line"))
    file = folder / "catalog.toml"
    text = file.read_text("utf-8") + PAIRS
    text = text.replace("[terms]", '[terms]\ninvoice = "Tax number 00-0000000"')
    for key, name in (("pail", "The Odd Pail"), ("quay", "Quay Tackle")):
        text += f"""
[dealers.{key}]
name = "{name}"
tier = "dealer"
street = "381 County Road Q"
city = "Little Tamarack"
state = "MN"
postcode = "56799"
"""
    file.write_text(text, "utf-8")
    return folder


def form(file: Path, packs: Mapping[str, int], **heads: str) -> Path:
    """Write a filled order sheet, as a dealer saves it."""
    book = openpyxl.Workbook()
    sheet: Any = book.active
    for name, text in heads.items():
        sheet.append([HEADS[name], text])
    sheet.append([SKU_HEAD, "Product", PACKS_HEAD])
    for sku, count in packs.items():
        sheet.append([sku, "", count])
    book.save(file)
    return file


def story(labeler: Labeler, number: str) -> Any:
    return labeler("orders", number, "--json").json["orders"][0]


@pytest.mark.daily
def test_a_form_is_kept_once_and_only_looked_at_where_that_is_asked(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    file = form(tmp_path / "o.xlsx", {SBR: 30, INK: 24}, dealer="The Odd Pail", order="PO 7")
    looked = labeler("order", file, "--look")
    assert looked.status == 0
    assert looked.out.endswith("Only looked at: nothing was put on record.\n")
    assert not list(folder.glob("ledger*"))
    first = lot(SBR, "--count", 12)
    lot(SBR, "--count", 12)
    taken = labeler("order", file, "--json").json
    assert (taken["state"], taken["goods"]) == ("new", "135.30")  # 30 x 2.95 + 24 x 1.95
    assert [line["short"] for line in taken["lines"]] == [6, 24]
    again = labeler("order", file)
    number = taken["order"]["order"]
    assert f"This is order {number}, on record since" in again.out
    assert labeler("orders", "--json").json["orders"] == [taken["order"]]
    whole = story(labeler, number)
    assert whole["pull"][0] == {"lot": first, "sku": SBR, "packs": 12, "jigs": 12}
    assert whole["tie"] == [
        {"sku": SBR, "packs": 6, "jigs": 6},
        {"sku": INK, "packs": 24, "jigs": 48},
    ]
    assert [each["labels"] for each in whole["label"]] == [12, 12]


def test_an_order_by_telephone_is_typed_and_the_next_waits_its_turn(
    labeler: Labeler, lot: Lot
) -> None:
    lot(SBR, "--count", 12)
    one = labeler("order", "first pattern marsh 3/8=10", "--customer", "Ada", "--json").json
    assert (one["order"]["tier"], one["total"], one["excise"]) == ("Retail", "45.00", "0.00")
    two = labeler("order", f"{SBR}=10", "--dealer", "pail")
    assert "10 ordered, 2 ready, 8 short; 10 more promised to orders that came first" in two.out
    wrong = labeler("order", f"{SBR}=10", "--dealer", "The Odd Pale")
    assert (wrong.status, "looks like a slip" in wrong.err) == (2, True)
    assert len(labeler("orders", "--json").json["orders"]) == 2
    number = one["order"]["order"]
    assert labeler("order", "--cancel", number, "--why", "moved away").status == 0
    assert story(labeler, number)["state"] == "cancelled"
    assert "2 orders" not in labeler("orders").out
    assert "order cancelled" in labeler("lot", "journal").out


@pytest.mark.daily
def test_a_known_order_says_what_it_does_not_take_in(labeler: Labeler, tmp_path: Path) -> None:
    file = form(tmp_path / "o.xlsx", {SBR: 3}, dealer="The Odd Pail", order="PO 7")
    number = taken(labeler, file)
    again = labeler("order", file, "--note", "ring first", "--ship-to", "12 Elm Street")
    assert again.status == 0
    assert "corrected since" not in again.err
    assert "'ring first' instead of none" in again.err
    assert f"--instead {number}" in again.err
    assert labeler("order", file, "--note", "ring first", "--instead", number).status == 0
    assert "corrected since" in labeler("order", file).err


@pytest.mark.daily
def test_nobody_unknown_is_given_a_dealers_prices_unless_they_are_stated(
    labeler: Labeler, folder: Path, tmp_path: Path
) -> None:
    assert "order FILE puts one on record" in labeler("orders", "2600018").err
    gone = labeler("order", "--cancel", "2600018", "--why", "x")
    assert (gone.status, "order FILE puts one on record" in gone.err) == (2, True)
    for slip in ("Odd Pial", "odd pail", "piAL"):
        said = labeler("order", f"{SBR}=3", "--dealer", slip)
        assert (said.status, "dealer-slip" in said.err) == (2, True), slip
    far = labeler("order", f"{SBR}=3", "--dealer", "Quayside Bait")
    assert (far.status, "Nearest: Quay Tackle" in far.err) == (2, True)
    file = form(tmp_path / "o.xlsx", {SBR: 3}, dealer="Alder Bait", tier="Dealer")
    assert "dealer-unlisted" in labeler("order", file).err
    assert not list(folder.glob("ledger*"))
    assert labeler("order", file, "--tier", "dealer").status == 0


@pytest.mark.daily
def test_words_that_mean_no_product_get_the_nearest(labeler: Labeler) -> None:
    said = labeler("order", "first pattern marhs 3/8=3", "--customer", "Ada")
    assert (said.status, "Known:" in said.err, SBR in said.err) == (2, False, True), said.err


@pytest.mark.daily
def test_what_is_held_may_spare_the_tying(labeler: Labeler, lot: Lot) -> None:
    held = lot(SBR, "--count", 4)
    assert labeler("lot", "hold", held, "--why", "hooks snap").status == 0
    number = taken(labeler, f"{SBR}=19", "--customer", "Ada")
    assert "19 jigs, or fewer by the 4 that are held" in labeler("orders", number).out


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ((), "what is ordered"),
        ((f"{SBR}=6", DLF), "how many packs of"),
        (("--cancel", "2600018"), "say why"),
        (("--why", "x", f"{SBR}=6"), "--cancel ORDER"),
        (("--cancel", "2600018", "--why", "x", "--again"), "nothing beside it"),
        ((f"{SBR}=6", "--look", "--again"), "leave --again out"),
        ((f"{SBR}=6", "--dealer", "x", "--customer", "y"), "one of the two"),
        ((f"{SBR}=6",), "nothing says who orders"),
        ((f"{SBR}=0", "--customer", "Ada"), "nothing is ordered"),
        ((f"{SBR}=6", "FST-14=6", "--customer", "Ada"), "no product has this SKU"),
        ((f"{SBR}=6", "first pattern marsh 3/8=6", "--customer", "Ada"), "ordered twice"),
    ],
)
def test_an_order_that_is_typed_wrongly_is_told_in_words(
    labeler: Labeler, folder: Path, given: tuple[str, ...], says: str
) -> None:
    said = labeler("order", *given)
    assert (said.status, says in said.err) == (2, True), said.err
    assert not list(folder.glob("ledger*"))


def lines_of(file: Path) -> list[str]:
    """Return the lines of a file from top to bottom as pdfminer sees them, cells apart by tabs."""
    found = []
    for page in extract_pages(file):
        lines = [line for box in page if isinstance(box, LTTextContainer) for line in box]
        middle: float | None = None
        for line in sorted(lines, key=lambda each: -(each.y0 + each.y1)):
            here = (line.y0 + line.y1) / 2
            if middle is None or middle - here > _ONE_LINE:
                found.append(list[tuple[float, str]]())
                middle = here
            found[-1].append((line.x0, line.get_text().strip()))
    return ["\t".join(text for _, text in sorted(cells)) for cells in found]


_ONE_LINE = 4.0
"""Points that the middles of a line's cells are apart at most."""


def amount(text: str) -> Decimal:
    return Decimal(text.replace(",", "").lstrip("$"))


def read_invoice(file: Path) -> tuple[dict[str, tuple[int, Decimal, Decimal]], dict[str, Decimal]]:
    """Return what an invoice bills by SKU (packs, price, amount), and the sums below."""
    goods, sums = {}, {}
    for line in lines_of(file):
        sku = re.search(r"\b[A-Z]{2,3}-\d+-\d+-[A-Z]{3}\b", line)
        row = re.search(r"([\d,]+)\t([\d,.]+)\t([\d,.]+)$", line)
        if sku and row:
            goods[sku[0]] = (int(row[1].replace(",", "")), amount(row[2]), amount(row[3]))
        elif below := re.search(r"(Goods|Total|[^\t]* tax[^\t]*)\t(\$?[\d,]+\.\d\d)$", line):
            sums[below[1]] = amount(below[2])
    return goods, sums


def half_up(value: Decimal) -> Decimal:
    return value.quantize(CENT, ROUND_HALF_UP)


def ship(labeler: Labeler, number: str, tmp_path: Path, *words: object) -> Any:
    """Ship an order; its papers are slip.pdf, invoice.pdf and label.pdf."""
    files = [
        word
        for name in ("slip", "invoice", "address")
        for word in (f"--{name}", tmp_path / f"{name}.pdf")
    ]
    said = labeler("ship", "--order", number, *files, *words, "--json")
    assert said.status == 0, said.out
    return said.json


def taken(labeler: Labeler, *words: object) -> str:
    said = labeler("order", *words, "--json")
    assert said.status == 0, said.out
    return str(said.json["order"]["order"])


@pytest.mark.daily
def test_an_order_ships_in_parts_each_with_its_slip_and_invoice(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    old, new, pairs = lot(SBR, "--count", 8), lot(SBR, "--count", 10), lot(INK, "--count", 7)
    number = taken(labeler, f"{SBR}=12", f"{DLF}=6", f"{INK}=5", "--dealer", "pail",
                   "--reference", "PO 77", "--ship-to",
                   "381 County Road Q, Little Tamarack, MN 56799")  # fmt: skip
    first = ship(labeler, number, tmp_path)
    assert [(each["lot"], each["count"]) for each in first["moves"]] == [
        (old, 8), (new, 4), (pairs, 6),
    ]  # fmt: skip
    assert mod_11_10.is_valid(first["invoice"])
    goods, sums = read_invoice(tmp_path / "invoice.pdf")
    assert goods == {
        SBR: (12, Decimal("2.95"), Decimal("35.40")), INK: (3, Decimal("1.95"), Decimal("5.85")),
    }  # fmt: skip
    assert sums == {"Total": Decimal("41.25")}
    text = "\n".join(lines_of(tmp_path / "invoice.pdf"))
    # 41.25 x 10 / 110 is 3.75: 26 USC 4161(a)(1), 4216(a)
    for each in ("Your Business Name", "The Odd Pail", "381 County Road Q", "PO 77", number,
                 first["invoice"], "Federal excise tax included: $3.75 of the $41.25",
                 "Half with the order", "pack of 2", "Tax number 00-0000000"):  # fmt: skip
        assert each in text, each
    assert "SHIPPED TO" not in text, "the form's address is the dealer's own"
    slip = "\n".join(lines_of(tmp_path / "slip.pdf"))
    assert first["invoice"] in slip
    assert all(code in slip for code in (old, new, pairs))
    words = "".join(
        "".join(each.extract_text().split()) for each in PdfReader(tmp_path / "slip.pdf").pages
    )
    assert f"Stilltocome:6of{DLF},2of{INK}." in words
    label = lines_of(tmp_path / "address.pdf")
    assert label[1:4] == ["The Odd Pail", "381 County Road Q", "Little Tamarack, MN 56799"]

    nothing = labeler("ship", "--order", number)
    assert (nothing.status, "nothing of this order lies ready" in nothing.err) == (2, True)
    lot(DLF, "--count", 6)
    lot(INK, "--count", 4)
    second = ship(labeler, number, tmp_path)
    assert (second["total"], second["open"]) == ("21.60", 0)
    assert labeler("orders", "--json").json["orders"] == []
    assert "all of this order went out" in labeler("ship", "--order", number).err


def test_a_parcel_taken_back_reopens_what_was_open(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code = lot(SBR, "--count", 12)
    number = taken(labeler, f"{SBR}=10", "--dealer", "pail")
    wrong = ship(labeler, number, tmp_path)["invoice"]
    again = tmp_path / "again.pdf"
    assert labeler("orders", wrong, "--invoice", again).status == 0
    assert again.read_bytes() == (tmp_path / "invoice.pdf").read_bytes()
    assert labeler("orders", wrong, "--slip", again.with_name("s.pdf")).status == 0
    assert again.with_name("s.pdf").read_bytes() == (tmp_path / "slip.pdf").read_bytes()
    assert f"Order {number}, The Odd Pail" in labeler("orders", wrong).out
    assert labeler("ship", "--mistake", wrong).status == 0
    (order,) = labeler("orders", "--json").json["orders"]
    assert (order["open"], order["shipped"], order["state"]) == (10, 0, "open")
    assert order["invoices"][0]["taken_back"]
    assert "taken back" in labeler("orders", wrong, "--invoice", again).err
    right = ship(labeler, number, tmp_path)["invoice"]
    assert (wrong[:-1], right[:-1]) == FIRST_NUMBERS
    assert labeler("lot", "list", code, "--json").json["on_hand"] == 2


def test_taxes_are_billed_as_the_catalog_states_them(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    file = folder / "catalog.toml"
    text = file.read_text("utf-8").replace('excise = "included"', 'excise = "not included"')
    text = text.replace("[sale]\n", '[sale]\nsales_tax = "5.5 %"\nsales_tax_says = "County tax"\n')
    text = text.replace('name = "The Odd Pail"\n', 'name = "The Odd Pail"\nsales_tax = "6.875 %"\n')
    file.write_text(text, "utf-8")
    lot(SBR, "--count", 60)
    dealer = taken(labeler, f"{SBR}=7", "--dealer", "pail")
    told = ship(labeler, dealer, tmp_path)
    goods, sums = read_invoice(tmp_path / "invoice.pdf")
    packs, price, billed = goods[SBR]
    assert (packs, billed, sums["Goods"]) == (7, 7 * price, 7 * price)
    taxes = [sums[name] for name in sums if "tax" in name]
    # 26 USC 4161(a)(1): ten per cent of the price; the other as the dealer's table has it
    assert taxes == [half_up(billed * Decimal("0.10")), half_up(billed * Decimal("0.06875"))]
    assert sums["Total"] == billed + sum(taxes) == Decimal(told["total"])

    customer = taken(labeler, f"{SBR}=3", "--customer", "Ada", "--ship-to", "12 Elm Street, Tarn")
    ship(labeler, customer, tmp_path)
    goods, sums = read_invoice(tmp_path / "invoice.pdf")
    assert goods[SBR] == (3, Decimal("4.50"), Decimal("13.50"))
    assert [name.split(",")[0] for name in sums if "tax" in name] == ["County tax"]
    assert sums["Total"] == Decimal("13.50") + half_up(Decimal("13.50") * Decimal("0.055"))

    other = taken(labeler, f"{SBR}=2", "--dealer", "quay")
    told = labeler("ship", "--order", other, "--json").json
    assert [charge["words"].split(",")[0] for charge in told["charges"]] == ["Federal excise tax"]


def test_no_tax_is_guessed_and_no_parcel_goes_nowhere(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code = lot(SBR, "--count", 12)
    number = taken(labeler, f"{SBR}=4", "--customer", "Ada")
    label = tmp_path / "label.pdf"
    said = labeler("ship", "--order", number, "--address", label)
    assert (said.status, "nothing says where this parcel goes" in said.err) == (2, True)
    assert not label.exists()
    assert labeler("lot", "list", code, "--json").json["on_hand"] == 12
    said = labeler("ship", "--order", number, "--json").json
    assert (said["total"], said["charges"]) == ("18.00", [])
    assert [each["rule"] for each in said["findings"]] == ["no-sales-tax"]


def test_who_came_first_is_served_first_unless_it_is_wanted_otherwise(
    labeler: Labeler, lot: Lot
) -> None:
    lot(SBR, "--count", 12)
    one = taken(labeler, f"{SBR}=9", "--dealer", "pail")
    two = taken(labeler, f"{SBR}=9", "--customer", "Ada")
    said = labeler("ship", "--order", two, "--json").json
    assert [each["count"] for each in said["moves"]] == [3]
    refused = labeler("ship", "--order", two)
    assert "--even-so ships what is promised" in refused.err
    said = labeler("ship", "--order", two, "--even-so", "--json").json
    assert [each["count"] for each in said["moves"]] == [6]
    assert "order-ahead" in [each["rule"] for each in said["findings"]]
    assert labeler("orders", one, "--json").json["orders"][0]["pull"][0]["packs"] == 3


def test_a_parcel_beside_an_open_order_says_whose_it_is_and_what_it_takes(
    labeler: Labeler, lot: Lot
) -> None:
    code = lot(SBR, "--count", 12)
    mine = taken(labeler, f"{SBR}=8", "--customer", "Odd Body")
    shop = taken(labeler, f"{SBR}=2", "--dealer", "pail")
    said = labeler("ship", f"{code}=3", "--customer", "odd body")
    assert said.status == 0, said.err
    slip = said.out.split("--mistake ")[1].split()[0]
    assert f"note  order {mine}: this order of theirs is open" in said.err
    assert f"--mistake {slip}, then labeler ship --order {mine} {code}=3\n" in said.err
    assert f"order {shop}: this takes what is promised to this order" in said.err
    assert "found short afterwards: 1 of " in said.err
    assert labeler("ship", "--mistake", slip).status == 0
    assert labeler("ship", "--order", mine, f"{code}=3").status == 0
    assert "theirs is open" not in labeler("ship", f"{code}=1", "--fair", "Odd Body").err


def test_the_lots_that_really_went_may_be_named(labeler: Labeler, lot: Lot) -> None:
    lot(INK, "--count", 12)
    newer, held, other = lot(INK, "--count", 12), lot(INK, "--count", 4), lot(SBR)
    labeler("lot", "hold", held, "--why", "rust")
    number = taken(labeler, f"{INK}=5", "--dealer", "pail")
    for lots, says in (
        ((f"{newer}=3",), "a bag is not broken"), ((f"{newer}=12",), "less of it is open"),
        ((f"{other}=2",), "holds none of this product"), ((f"{held}=2",), "this lot is held"),
    ):  # fmt: skip
        said = labeler("ship", "--order", number, *lots)
        assert (said.status, says in said.err) == (2, True), said.err
    assert labeler("ship", "--order", number, f"{newer}=6", "--json").json["open"] == 2


def test_two_benches_never_bill_under_one_number(
    labeler: Labeler, lot: Lot, folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The other bench ships after this one has laid its papers out."""
    codes = [lot(SBR, "--count", 8), lot(DLF, "--count", 8)]
    mine, theirs = (taken(labeler, f"{sku}=8", "--dealer", "pail", "--again") for sku in (SBR, DLF))
    deliver = deliver_papers
    others: list[str] = []

    def late(papers: Any, before: Any) -> None:
        if not others:
            others.append(theirs)
            others.append(ship_order(OrderParcel(folder, theirs)).invoice.number)
        deliver(papers, before)

    monkeypatch.setattr(invoices, "deliver_papers", late)
    told = ship(labeler, mine, tmp_path)
    assert (others[1][:-1], told["invoice"][:-1]) == FIRST_NUMBERS
    assert told["invoice"] in "".join(
        p.extract_text() for p in PdfReader(tmp_path / "invoice.pdf").pages
    )
    with open_ledger(folder) as ledger:
        assert [on_hand(ledger, code) for code in codes] == [0, 0]


def test_the_bench_gets_a_pull_list_and_the_cards_of_what_is_short(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    code = lot(SBR, "--count", 8)
    one = taken(labeler, f"{SBR}=6", f"{INK}=5", "--dealer", "pail")
    two = taken(labeler, f"{SBR}=6", "--customer", "Ada")
    pull, cards = tmp_path / "pull.pdf", tmp_path / "cards.pdf"
    told = labeler("orders", "--pull", pull, "--cards", cards, "--json").json
    assert told["tie"] == [{"sku": INK, "jigs": 10}, {"sku": SBR, "jigs": 4}]
    pages = ["\n".join(page.extract_text() for page in [each]) for each in PdfReader(pull).pages]
    assert len(pages) == 2
    for page, number, bags in zip(pages, (one, two), (6, 2), strict=True):
        assert number in page
        assert code in page
        assert re.search(rf"\b{bags}\b", page)
    assert len(PdfReader(cards).pages) == 2
    none = labeler("orders", "--cards", cards, "2600099")
    assert none.status == 2


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (("ship", "--order", "2600018", "--to", "pail"), "give one of"),
        (("ship", "--order", "2600018", "--key", "x"), "--key counts for nothing"),
        (("ship", "--order", "2600018", "--count", "3"), "--count counts for nothing"),
        (("ship", "--order", "2600018", "--on-sheet", "letter-3x10"), "--address FILE"),
        (("ship", f"{SBR}=1", "--to", "pail", "--invoice", "i.pdf"), "goes with --order"),
        (("orders", "--invoice", "i.pdf"), "the number of its invoice"),
        (("orders", "--paper", "a4"), "--paper is that of a paper"),
        (("orders", "--all", "--pull", "p.pdf"), "--all counts for nothing"),
        (("orders", "--pull", "p.pdf"), "no order is open"),
        (("ship", "--order", "2600019"), "there is a slip in this number"),
    ],
)
def test_nothing_that_is_given_is_dropped(
    labeler: Labeler, lot: Lot, given: tuple[str, ...], says: str
) -> None:
    lot(SBR)
    said = labeler(*given)
    assert (said.status, says in said.err.replace("\n", " ")) == (2, True), said.err


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_long_invoice_goes_on_over_pages_and_states_its_total_once(
    tmp_path: Path, paper: str
) -> None:
    words = "The Slow Fall of a Leaf on a Morning Without Any Wind, Fallen Linden"
    lines = tuple(
        InvoiceLine(f"SL-{n}-20-FLN", words, "finesse jig with a hand-tied collar · 7 g · hook 2/0",
                    n, Decimal("1234.50"), ())
        for n in range(1, 34)
    )  # fmt: skip
    shop = "The Anchor & Auger Hardware Cooperative of Upper Sandrock"
    address = ("10 Millrace Road, second door past the old ferry landing", "Tarn, WI 54899")
    charges = (Charge("Federal excise tax, 10 % of $692,554.50", Decimal("69255.45")),
               Charge("Sales tax of the county and of the town of Tarn, 5.5 % of $692,554.50",
                      Decimal("38090.50")))  # fmt: skip
    bill = Invoice(
        "26000017", "2600018", "PO 77 of the second of November", "2026-11-25",
        ("Your Business Name", "1 Main Street"), shop, address, (shop, *address), lines, charges,
        "", "USD", "Half with the order, half when it leaves the bench. " * 3, "Tax number. " * 9,
    )  # fmt: skip
    maker = Maker(name="Your Business Name", city="Tarn", postcode="54899")
    laid = lay_invoice(tmp_path, bill, tmp_path / "long.pdf", maker, paper)
    deliver_papers([laid], lambda: None)
    rows = [re.search(r"\t([\d,]+)\t1,234\.50\t([\d,.]+)$", each)
            for each in lines_of(laid.out)]  # fmt: skip
    amounts = [amount(row[2]) for row in rows if row]
    assert amounts == [line.amount for line in lines]
    totals = [line for line in lines_of(laid.out) if line.startswith("Total")]
    assert [amount(each.split("\t")[1]) for each in totals] == [
        sum(amounts) + sum(each.amount for each in charges)
    ]
    assert len(PdfReader(laid.out).pages) == 3  # 12, 12 and 9
