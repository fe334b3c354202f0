"""Choosing products by SKU."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.catalog.model import Catalog
from labeler.catalog.read import choose, in_words, named_count, read_catalog, split_count
from labeler.findings import Finding, LabelerError

Bench = Any


@pytest.fixture(scope="module")
def bench_line() -> Catalog:
    return read_catalog(Path(__file__).resolve().parents[2] / "demo_catalog")


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
        skus(bench, "rv-38-40-mln", "*-MLN", "vesper melon 1/2", "vesper melon")
    assert [(f.rule, f.place.piece, f.found) for f in caught.value.findings] == [
        ("sku-retired", "RV-38-40-MLN", '"rv-38-40-mln"'),
        ("sku-retired", "", "RV-38-40-MLN, RV-12-40-MLN"),
        ("sku-retired", "RV-12-40-MLN", '"vesper melon 1/2"'),
        ("sku-retired", "", "RV-38-40-MLN, RV-12-40-MLN"),
    ]
    assert skus(bench, "vesper 1/2") == ["RV-12-40-DSK"], "what is sold comes first"


@pytest.mark.parametrize(
    ("words", "sku"),
    [
        ("river vesper melon 3/8", "RV-38-40-MLN"),
        ("River Vesper, Melon, 1/2-oz.", "RV-12-40-MLN"),
        ("vesper DUSK ½ ounce", "RV-12-40-DSK"),
        ("rv mln ⅜ oz hook 4/0", "RV-38-40-MLN"),
    ],
)
def test_a_product_is_named_by_its_words_and_that_is_said(
    bench: Bench, words: str, sku: str
) -> None:
    said: list[Finding] = []
    (product,) = choose(bench.read(), [words], said)
    assert product.sku == sku
    (note,) = said
    assert (note.rule, note.place.piece) == ("sku-by-name", sku)
    assert words[:8] in note.found


def test_words_that_fit_several_are_never_guessed_at_and_all_are_listed(bench: Bench) -> None:
    with pytest.raises(LabelerError) as caught:
        skus(bench, "river vesper melon")
    (finding,) = caught.value.findings
    assert finding.rule == "sku-several"
    assert [line.split()[0] for line in finding.hint.splitlines()] == [
        "RV-38-40-MLN", "RV-12-40-MLN",
    ]  # fmt: skip


@pytest.mark.parametrize("words", ["river vesper melon 7/8", "river vesper mellon 7/8 oz"])
def test_words_that_fit_none_lead_to_those_that_they_nearly_fit(bench: Bench, words: str) -> None:
    with pytest.raises(LabelerError) as caught:
        skus(bench, words)
    (finding,) = caught.value.findings
    assert finding.rule == "sku-unknown"
    assert "RV-38-40-MLN" in finding.hint
    assert "RV-12-40-MLN" in finding.hint
    assert "DSK" not in finding.hint


@given(st.data())
def test_no_word_of_one_product_leads_to_another(bench_line: Catalog, data: st.DataObject) -> None:
    """Whatever part of a product's words is typed, it is that product or a list with it."""
    meant = data.draw(st.sampled_from(bench_line.products))
    words = in_words(meant).split()
    typed = data.draw(st.lists(st.sampled_from(words), min_size=1, unique=True))
    try:
        (found,) = choose(bench_line, [" ".join(typed)])
    except LabelerError as error:
        (finding,) = error.findings
        if finding.rule == "sku-several":
            assert meant.sku in finding.hint or "more; add a word" in finding.hint
        return
    assert found == meant


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("RV-38=6", ("RV-38", 6)), (" B = 10 ", ("B", 10)), ("RV-38", ("RV-38", None)),
        ("reed vole 3/8=12", ("reed vole 3/8", 12)), ("A=B=3", ("A=B", 3)),
        ("reed vole 3/8 black and blue x 6", ("reed vole 3/8 black and blue", 6)),
        ("6 x reed vole 3/8", ("reed vole 3/8", 6)), ("RV-38-40-MLN x12", ("RV-38-40-MLN", 12)),
        ("2 doz of reed vole", ("reed vole", 24)), ("reed vole, 6pcs.", ("reed vole", 6)),
        ("reed vole a dozen", ("reed vole", 12)), ("reed vole 6", ("reed vole 6", None)),
        ("reed vole 3/8 oz", ("reed vole 3/8 oz", None)), ("reed vole 3x", ("reed vole 3x", None)),
        ("2 St. Croix jigs", ("2 St. Croix jigs", None)),
        ("6 pcs vole x 3", ("6 pcs vole x 3", None)),
    ],
)  # fmt: skip
def test_a_name_may_bring_its_count(typed: str, read: tuple[str, int | None]) -> None:
    assert named_count(typed) == read


@pytest.mark.parametrize(
    "typed", ["RV=", "RV=six", "RV=1.5", "RV=-2", "=6", "RV==", "RV=9999999999"]
)
def test_a_count_that_is_none_is_refused(typed: str) -> None:
    with pytest.raises(LabelerError, match="count-unread"):
        named_count(typed)


@pytest.mark.parametrize("letters", ["x", "a ", "1", "6 x, "])
def test_a_line_as_long_as_a_book_is_read_once(letters: str) -> None:
    """A search that began again at each letter would take minutes here."""
    assert split_count(letters * 50_000) is None
