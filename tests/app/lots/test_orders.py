"""Orders through the command line: kept once, shipped in parts, billed to the cent."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from labeler.book.order import HEADS, PACKS_HEAD, SKU_HEAD

Labeler = Callable[..., Any]
Lot = Callable[..., str]

SBR, DLF, INK = "RM-14-30-SBR", "RM-14-30-DLF", "TD-116-6-INK"


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
    assert (taken["state"], taken["goods"]) == ("new", "162.00")  # 30 x 3.20 + 24 x 2.75
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
    one = labeler("order", "reedmace sunday bream 1/4=10", "--customer", "Ada", "--json").json
    assert (one["order"]["tier"], one["total"], one["excise"]) == ("Retail", "49.50", "0.00")
    two = labeler("order", f"{SBR}=10", "--dealer", "odd-pail")
    assert "10 ordered, 2 ready, 8 short; 10 more promised to orders that came first" in two.out
    wrong = labeler("order", f"{SBR}=10", "--dealer", "old-pail")
    assert (wrong.status, "looks like a slip" in wrong.err) == (2, True)
    assert len(labeler("orders", "--json").json["orders"]) == 2
    number = one["order"]["order"]
    assert labeler("order", "--cancel", number, "--why", "moved away").status == 0
    assert story(labeler, number)["state"] == "cancelled"
    assert "2 orders" not in labeler("orders").out
    assert "order cancelled" in labeler("lot", "journal").out


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
        ((f"{SBR}=6", "RM-14=6", "--customer", "Ada"), "no product has this SKU"),
        ((f"{SBR}=6", "reedmace sunday bream 1/4=6", "--customer", "Ada"), "ordered twice"),
    ],
)
def test_nothing_that_is_given_is_dropped(
    labeler: Labeler, folder: Path, given: tuple[str, ...], says: str
) -> None:
    said = labeler("order", *given)
    assert (said.status, says in said.err) == (2, True), said.err
    assert not list(folder.glob("ledger*"))
