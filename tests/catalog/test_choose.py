"""Choosing products by SKU."""

from __future__ import annotations

from typing import Any

import pytest

from labeler.catalog.read import choose
from labeler.findings import LabelerError

Bench = Any


def skus(bench: Bench, *wanted: str) -> list[str]:
    return [product.sku for product in choose(bench.read(), wanted)]


def test_a_sku_is_found_in_any_case(bench: Bench) -> None:
    assert skus(bench, " rv-12-40-mln") == ["RV-12-40-MLN"]


def test_patterns_and_skus_come_in_the_catalogs_order_and_once(bench: Bench) -> None:
    assert skus(bench, "RV-12-40-DSK", "rv-*-mln", "RV-38-40-MLN", "RV-?8-*") == [
        "RV-38-40-MLN",
        "RV-38-40-DSK",
        "RV-12-40-MLN",
        "RV-12-40-DSK",
    ]
    assert skus(bench, "RV-[1]*-MLN") == ["RV-12-40-MLN"]


def test_nothing_wanted_is_the_whole_line(bench: Bench) -> None:
    assert len(skus(bench)) == 4


def test_every_unknown_word_is_told_at_once_with_the_nearest(bench: Bench) -> None:
    with pytest.raises(LabelerError) as caught:
        skus(bench, "RV-38-40-MLM", "RV-12-40-MLN", "XX-*", "RV-38-40-MLM")
    assert [(f.rule, f.found) for f in caught.value.findings] == [
        ("sku-unknown", '"RV-38-40-MLM"'),
        ("sku-unknown", '"XX-*"'),
    ]
    assert "'RV-38-40-MLN'" in caught.value.findings[0].hint


def test_a_retired_sku_is_named_as_retired(bench: Bench) -> None:
    bench.write("products.csv", "sku,retired\nRV-38-40-MLN,yes\nRV-12-40-MLN,yes\n")
    with pytest.raises(LabelerError) as caught:
        skus(bench, "rv-38-40-mln", "*-MLN")
    assert [(f.rule, f.found) for f in caught.value.findings] == [
        ("sku-retired", "RV-38-40-MLN"),
        ("sku-retired", "RV-38-40-MLN, RV-12-40-MLN"),
    ]
