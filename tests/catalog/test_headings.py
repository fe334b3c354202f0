"""The headings of price lists as makers write them."""

from __future__ import annotations

from typing import Any

from labeler.findings import Grade

Bench = Any


def test_a_price_list_s_item_number_is_its_sku_and_titles_are_passed_over(bench: Bench) -> None:
    rows = [
        ["Price list"],
        [],
        ["Item #", None, "Hook #", "MSRP"],
        ["RV-38-40-MLN", None, "4/0", 5],
    ]
    bench.workbook(*rows)
    assert bench.read().products[0].price == 5
    bench.workbook(rows[0], ["Reference", None, "Color", "MSRP"], rows[3])
    finding = bench.finding("headings-missing")
    assert (finding.place.cell, "Reference" in finding.found) == ("A2", True)


def test_a_heading_near_to_one_that_is_there_is_no_slip_of_it(bench: Bench) -> None:
    bench.write("products.csv", "SKU,Item,Price\nRV-38-40-MLN,River Vesper,5\n")
    assert bench.finding("unknown-column").grade is Grade.NOTE
