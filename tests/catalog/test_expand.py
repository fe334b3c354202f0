"""From patterns to products: what is made, in which order, of what, at which price."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labeler.catalog.model import Product
from labeler.findings import Grade
from labeler.units import Weight

Bench = Any


def test_every_weight_on_its_hooks_in_every_colour_in_the_files_order(bench: Bench) -> None:
    bench.change(
        'hook_sizes = ["4/0"]',
        'hook_sizes = ["4/0", "5/0"]\nhook_for = { "3/8 oz" = "3/0" }',
    )
    assert [product.sku for product in bench.read().products] == [
        "RV-38-30-MLN",
        "RV-38-30-DSK",
        "RV-12-40-MLN",
        "RV-12-40-DSK",
        "RV-12-50-MLN",
        "RV-12-50-DSK",
    ]


def test_a_price_by_weight_goes_before_the_patterns(bench: Bench) -> None:
    bench.append('prices = { ".5 oz" = "5.25" }')
    prices = {str(p.weight): p.price for p in bench.read().products}
    assert prices == {"3/8 oz": Decimal("4.75"), "1/2 oz": Decimal("5.25")}


def test_a_product_carries_all_that_it_is_made_of(bench: Bench) -> None:
    bench.append(
        """
guard = "brush"
tie = { thread = "waxed", glue = "one drop of thin glue" }

[guards.brush]
name = "Brush"
material = "nylon"

[materials.nylon]
name = "Nylon"
kind = "guard fibre"

[materials.waxed]
name = "Waxed thread"
kind = "thread"

[materials.glue]
name = "Thin glue"
kind = "glue"

[materials.epoxy]
name = "Epoxy"
kind = "glue"

[materials.eyes]
name = "Eyes"
kind = "eyes"
"""
    )
    bench.change('style = "swim"', 'style = "swim"\neyes = true')
    product = bench.read().products[0]
    assert list(product.materials) == [
        "lead", "steel", "nylon", "silicone", "waxed", "glue", "eyes",
    ]  # fmt: skip
    assert product.alloy.name == "Hard lead"
    assert product.has_lead
    unused = {f.place.key for f in bench.findings() if f.rule == "unused"}
    assert unused == {"materials.epoxy"}


def test_glue_that_names_none_of_several_is_asked_for(bench: Bench) -> None:
    bench.append(
        'tie = { glue = "two drops" }\n'
        '[materials.a]\nname = "Thin"\nkind = "glue"\n'
        '[materials.b]\nname = "Thick"\nkind = "glue"\n'
    )
    finding = bench.finding("material-not-told")
    assert finding.grade is Grade.FIX
    assert finding.place.key == "patterns.river-vesper.tie.glue"


def test_two_patterns_with_one_code_are_one_finding_that_names_both(bench: Bench) -> None:
    again = bench.text[bench.text.index("[patterns.river-vesper]") :]
    bench.append("\n" + again.replace("river-vesper", "lake-vesper"))
    finding = bench.finding("duplicate-sku")
    assert "RV-38-40-MLN, and 3 more" in finding.message
    assert "lake-vesper" in finding.found
    assert "river-vesper" in finding.found
    assert finding.place.line == bench.line_of("[patterns.lake-vesper]")


def test_two_colours_with_one_code_are_told_apart_by_nobody(bench: Bench) -> None:
    bench.change('code = "DSK"', 'code = "MLN"')
    finding = bench.finding("duplicate-sku")
    assert "melon" in finding.found
    assert "dusk" in finding.found


def test_products_share_the_records_that_they_have_in_common(bench: Bench) -> None:
    one, two, *_ = bench.read().products
    assert one.pattern is two.pattern
    assert one.head is two.head
    assert one.maker is two.maker
    assert one.alloy is two.alloy


def test_a_product_kept_as_json_is_the_same_product_years_later(bench: Bench) -> None:
    bench.append('length = "66.7 mm"\nmade_in = "US"\nstory = "Drag it.\\nWait."')
    bench.write("products.csv", "sku,gtin,note,pack\nRV-38-40-MLN,9521234543213,Été,3\n")
    for product in bench.read().products:
        assert Product.model_validate_json(product.model_dump_json()) == product


def test_products_are_values_that_can_be_changed_in_a_copy(bench: Bench) -> None:
    one, two, *_ = bench.read().products
    changed = one.model_copy(update={"note": "x"})
    assert (changed.note, one.note) == ("x", None)
    assert one != two
    with pytest.raises(ValueError, match="frozen"):
        one.note = "y"


def test_what_is_left_lying_about_is_noted(bench: Bench) -> None:
    bench.change('colours = ["melon", "dusk"]', 'colours = ["melon"]')
    bench.change('price = "4.75"\n', 'prices = { "1/2 oz" = "4.75" }\n')
    bench.append('\n[hooks.spare]\nname = "Spare"\n[tiers.shop]\nname = "Shop"\noff = "30 %"\n')
    catalog_findings = bench.findings()
    unused = [f for f in catalog_findings if f.rule == "unused"]
    assert {f.place.key for f in unused} == {"hooks.spare", "tiers.shop", "colours.dusk"}
    assert {f.grade for f in unused} == {Grade.NOTE}
    price = bench.finding("price-missing")
    assert price.grade is Grade.FIX
    assert "RV-38-40-MLN" in price.found


def test_an_alloy_of_which_nothing_is_said_is_asked_about(bench: Bench) -> None:
    bench.change('composition = { lead = "97 %", antimony = "3 %" }\n', "")
    assert bench.finding("composition-missing").place.key == "materials.lead"


def test_a_dealer_where_nothing_is_sold_is_found(bench: Bench) -> None:
    bench.append('\n[dealers.pier]\nname = "Pier"\nmarket = "CA"\n')
    assert bench.finding("dealer-elsewhere").found == '"CA"'


def test_a_dealer_in_a_part_of_a_market_is_at_home(bench: Bench) -> None:
    bench.append('\n[dealers.pier]\nname = "Pier"\nmarket = "US-WI"\n')
    assert "dealer-elsewhere" not in {f.rule for f in bench.findings()}


@pytest.mark.parametrize(
    ("photo", "rule", "hint"),
    [
        ("vesper.jpg", "", ""),
        ("old/dusk.png", "", ""),
        ("Vesper.JPG", "photo-missing", "vesper.jpg"),
        ("photos/vesper.jpg", "photo-missing", "vesper.jpg"),
        ("vespre.jpg", "photo-missing", "vesper.jpg"),
        ("../catalog.toml", "photo-outside", "alone"),
        ("old/../../catalog.toml", "photo-outside", "alone"),
        ("/etc/hostname", "photo-outside", "alone"),
        ("C:\\\\photos\\\\vesper.jpg", "photo-outside", "alone"),
        ("leak.jpg", "photo-outside", "alone"),
    ],
)
def test_photos_lie_in_photos(bench: Bench, photo: str, rule: str, hint: str) -> None:
    bench.write("photos/vesper.jpg", b"x")
    bench.write("photos/old/dusk.png", b"x")
    (bench.folder / "photos" / "leak.jpg").symlink_to(bench.folder / "catalog.toml")
    bench.append(f'photo = "{photo}"')
    if not rule:
        assert bench.read().products[0].photo == photo
        return
    finding = bench.finding(rule)
    assert finding.place.key == "patterns.river-vesper.photo"
    assert hint in finding.hint


def test_a_weight_keeps_its_fraction_through_the_whole_reading(bench: Bench) -> None:
    bench.change('"3/8 oz", "1/2 oz"', '"1 1/32 oz", "⅜ oz"')
    assert [p.weight for p in bench.read().products][::2] == [
        Weight.parse("1 1/32 oz"),
        Weight.parse("3/8 oz"),
    ]


def test_a_sku_too_long_to_be_scanned_is_found(bench: Bench) -> None:
    bench.change('code = "RV"', 'code = "RIVERVESPER1"')
    bench.change('code = "MLN"', 'code = "MELONMELON12"')
    bench.change('"3/8 oz", "1/2 oz"', '"1.23456789 oz"')
    finding = next(f for f in bench.findings() if f.rule == "sku-too-long")
    assert "at most 40" in finding.expected


def test_a_catalog_without_patterns_has_nothing_to_sell(bench: Bench) -> None:
    bench.write("catalog.toml", bench.text[: bench.text.index("[patterns")])
    assert bench.read().products == ()
    assert bench.finding("nothing-to-sell").grade is Grade.FIX
