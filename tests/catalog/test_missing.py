"""What a maker may leave open: hook sizes, recipes, prices; each is said once and stops nothing."""

from __future__ import annotations

import re

from labeler.catalog.model import Product
from labeler.catalog.read import in_words, sku_by_name
from labeler.findings import Grade
from tests.catalog.conftest import Bench


def skus(bench: Bench) -> list[str]:
    return [product.sku for product in bench.read().products]


def open_up(bench: Bench) -> None:
    """Leave out all that may be left out."""
    bench.text = re.sub(r"(?m)^(layers|hook_sizes|price) = .*\n", "", bench.text)
    bench.write("catalog.toml", bench.text)


def test_a_line_without_hook_sizes_recipes_and_prices_is_read(bench: Bench) -> None:
    open_up(bench)
    assert skus(bench) == ["RV-38-MLN", "RV-38-DSK", "RV-12-MLN", "RV-12-DSK"]
    told = {one.rule: one.grade for one in bench.findings()}
    assert told.keys() >= {"hook-missing", "recipe-missing", "price-missing"}
    assert set(told.values()) == {Grade.NOTE}
    for rule in ("hook-missing", "recipe-missing", "price-missing"):
        assert bench.finding(rule), "once for all"
    first: Product = bench.read().products[0]
    assert (first.hook_size, first.colour.layers, first.colour.strands) == (None, (), 0)
    assert in_words(first) == "River Vesper, Melon, 3/8 oz"
    assert sku_by_name("vesper melon 3/8", bench.read().products, []) == "RV-38-MLN"
    assert set(first.materials) == {"lead", "steel"}


def test_what_is_only_proposed_of_a_color_goes_into_no_product(bench: Bench) -> None:
    bench.change('name = "Melon"\n', 'name = "Melon"\nproposed = true\n')
    melon, dusk = bench.read().products[:2]
    assert (melon.colour.layers, len(dusk.colour.layers)) == ((), 1)
    assert "silicone" not in melon.materials
    finding = bench.finding("recipe-proposed")
    assert (finding.grade, finding.found) == (Grade.NOTE, "Melon")
    assert finding.place.line == bench.line_of("proposed = true")
    assert "unused" not in {one.rule for one in bench.findings()}


def test_taking_one_line_out_confirms_it(bench: Bench) -> None:
    bench.change('name = "Melon"\n', 'name = "Melon"\nproposed = true\n')
    bench.change("proposed = true\n", "")
    assert all(product.colour.layers for product in bench.read().products)
    assert "recipe-proposed" not in {one.rule for one in bench.findings()}


def test_a_row_needs_no_hook_where_there_is_one_or_none(bench: Bench) -> None:
    bench.write("products.csv", "sku,pattern,weight,hook,colour,note\n,RV,3/8 oz,,MLN,one\n")
    assert bench.read().products[0].note == "one"
    open_up(bench)
    assert bench.read().products[0].note == "one"
    assert len(skus(bench)) == 4


def test_a_row_tells_the_size_that_a_pattern_leaves_open(bench: Bench) -> None:
    open_up(bench)
    bench.write(
        "products.csv",
        "sku,pattern,weight,hook,colour\nRV-38-MLN,,,4/0,\n,RV,1/2 oz,5/0,MLN\n"
        ",RV,1/2 oz,4/0,MLN\n",
    )
    assert {one.sku: one.hook_size for one in bench.read().products} == {
        "RV-38-MLN": "4/0", "RV-38-DSK": None, "RV-12-DSK": None, "RV-12-50-MLN": "5/0",
        "RV-12-40-MLN": "4/0",
    }  # fmt: skip


def test_a_price_left_out_among_others_is_to_be_fixed(bench: Bench) -> None:
    bench.change('price = "4.75"', 'prices = { "3/8 oz" = "4.75" }')
    finding = bench.finding("price-missing")
    assert (finding.grade, finding.place.key) == (Grade.FIX, "patterns.river-vesper")
