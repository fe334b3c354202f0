"""A week from a maker's own spreadsheet: labels, an order, a price rise, an old lot, a recall."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pdfminer.high_level import extract_text

from tests.app.take_in.conftest import ANSWERS, Cli

pytestmark = pytest.mark.siege

SHEET = """\
Sample Slough Jigs, what we sell
Jig,Size,Color,Hk,Retail,Notes,On hand
Slough Hopper,3/8,Muskrat,4/0,$4.50,,6
,3/8,Olive,4/0,4.50,,
,3/8,Bluegill,4/0,4.50,,
Bank Creeper,1/4,Black & Blue,2/0,3.95,,
"""
LOG = """\
Day,Batch,Jig,Color,Size,Qty,Hook bag
9/14/26,A7,Slough Hopper,Muskrat,3/8,12,HK-1
"""
TIERS_AND_PACK = """
[tiers.shop]
name = "Shop"
off = "40 %"

[dealers.ferry]
name = "Low Ferry Bait"
tier = "shop"
street = "2 Landing Road"
city = "Low Ferry"
state = "WI"
postcode = "54899"

[packs.three]
code = "TRIO"
name = "Slough Trio"
of = { "slough hopper muskrat" = 1, "slough hopper olive" = 1, "slough hopper bluegill" = 1 }
assortment = "Three colors"
price = "12.50"
"""
MUSKRAT, OLIVE = "SH-38-40-MSK", "SH-38-40-OLV"


def words(file: Path) -> str:
    """Return what pdfminer reads of a file, which had no part in making it."""
    return " ".join(extract_text(file).replace("\u2044", "/").split())


def test_a_week_from_her_own_sheet(cli: Cli, tmp_path: Path) -> None:  # noqa: PLR0915
    sheet, line = tmp_path / "jigs.csv", tmp_path / "line"
    sheet.write_text(SHEET, "utf-8")
    (tmp_path / "answers.txt").write_text(ANSWERS, "utf-8")
    (tmp_path / "log.csv").write_text(LOG, "utf-8")

    def do(*typed: object, status: int = 0, says: tuple[str, ...] = ()) -> str:
        did = cli("--catalog", line, *typed)
        said = did.out + did.err
        assert did.status == status, (typed, said)
        for part in says:
            assert re.search(part, said), (part, said)
        return said

    # The evening: her sheet and her log become a folder, and the folder prints.
    took = cli("new", line, "--from", sheet, "--answers", tmp_path / "answers.txt",
               "--batches", tmp_path / "log.csv")  # fmt: skip
    assert took.status == 0, took.err
    assert "4 products of 4 rows" in took.out
    do("bags", "--sku", MUSKRAT, "--count", 4, "--trial", "--out", tmp_path / "first.pdf")
    assert "Slough Hopper" in words(tmp_path / "first.pdf")
    with (line / "catalog.toml").open("a", encoding="utf-8") as file:
        file.write(TIERS_AND_PACK)
    do("trace", "A7", says=(MUSKRAT, "A7"))
    panel = ("--sheet", "letter-2x5", "--layout", "bag-panel")
    do("bags", "--lot", "A7=2", *panel, "--out", tmp_path / "then.pdf")

    # Tonight's work, in one act; said again it is the same.
    papers = ("--out", tmp_path / "tonight.pdf", "--cards", tmp_path / "cards.pdf")
    batches = "slough hopper olive = 12, slough hopper bluegill = 6"
    tonight = ("tied", batches, "--material", "hook=HK-1", *papers)
    said = do(*tonight, says=(f"12 jigs of {OLIVE}", "18 labels on 1 sheet"))
    olive, _ = re.findall(r"^Lot (\d+):", said, re.MULTILINE)
    do(*tonight, says=("said before",))
    do("stock", says=(rf"{OLIVE} .* 12 +0 +0 +12",))

    # An order that is half in stock: what there is goes out, the rest is tied and goes after it.
    said = do("order", f"{OLIVE}=20", f"{MUSKRAT}=2", "--dealer", "ferry",
              says=(rf"{OLIVE} +20 +2\.70 +54\.00 +12 +8", r"\$59\.40"))  # fmt: skip
    (number,) = re.findall(r"On record as order (\d+)", said)
    do("orders", number, says=(f"lot {olive} +12 +{OLIVE}", rf"8 jigs +{OLIVE}"))
    do("orders", number, "--pull", tmp_path / "pull.pdf", "--cards", tmp_path / "more.pdf")
    assert OLIVE in words(tmp_path / "pull.pdf")
    do("ship", "--order", number, "--slip", tmp_path / "slip.pdf",
       "--invoice", tmp_path / "invoice.pdf", "--address", tmp_path / "address.pdf")  # fmt: skip
    billed = words(tmp_path / "invoice.pdf")
    assert "$37.80" in billed, "12 at 2.70 and 2 at 2.70"
    assert "2 Landing Road" in words(tmp_path / "address.pdf")
    do("orders", says=(rf"{number} .* 22 +14 +8",))
    do("tied", "slough hopper olive = 8", "--material", "hook=HK-2",
       "--out", tmp_path / "l2.pdf", "--cards", tmp_path / "c2.pdf")  # fmt: skip
    do("ship", "--order", number)
    do("orders", says=("No order is open",))

    # A price rise in her own sheet, where prices stand: listed, not written; then she types it.
    do("prices", "--change", "= 5.25", "--sku", MUSKRAT, says=(r"jigs\.csv", r"4\.50 -> 5\.25"))
    assert sheet.read_text("utf-8") == SHEET
    sheet.write_text(SHEET.replace("$4.50", "$5.25"), "utf-8")
    do("bags", "--sku", f"{MUSKRAT}=1", *panel, "--out", tmp_path / "new.pdf")
    assert "$5.25" in words(tmp_path / "new.pdf")
    do("reprint", "A7=1", "--out", tmp_path / "old.pdf")
    assert "$4.50" in words(tmp_path / "old.pdf")

    # A bag of three colors, and a hook that breaks: its box leads to the shop that has the bag.
    do("tied", "slough hopper olive = 2", "--material", "hook=HK-1", "--sure",
       "--out", tmp_path / "l3.pdf", "--cards", tmp_path / "c3.pdf")  # fmt: skip
    said = do("lot", "assign", "TRIO", "--count", 6)
    (pack,) = re.findall(r"Lot (\d+)", said)
    do("ship", f"{pack}=3", "--to", "ferry")
    do("trace", "HK-1", says=("A7", olive, pack, "Low Ferry Bait"))
