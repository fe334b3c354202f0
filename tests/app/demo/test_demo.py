"""The demo has everything in it that a real line would put to the test."""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path

import pytest
from PIL import Image

from labeler.catalog.casting import packs_of
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import examine
from labeler.drawing.figure import places_of
from labeler.drawing.subject import look_of
from labeler.findings import Grade
from labeler.units import Weight


def kinds(demo: Catalog) -> set[str]:
    return {product.pattern.kind for product in demo.products}


def test_the_line_is_as_long_as_a_small_makers(demo: Catalog) -> None:
    assert len(demo.file.patterns) >= 6
    assert 60 <= len(demo.products) <= 90
    assert len({product.sku for product in demo.products}) == len(demo.products)
    assert {product.pattern.name for product in demo.products} == {
        pattern.name for pattern in demo.file.patterns.values()
    }


@pytest.mark.parametrize(
    "kind",
    ["swim jig", "football jig", "flipping jig", "finesse jig", "bucktail jig", "marabou jig"],
)
def test_every_kind_of_jig_that_is_tied_by_hand_is_there(demo: Catalog, kind: str) -> None:
    assert kind in kinds(demo)


def test_hair_and_feather_behave_as_such(demo: Catalog) -> None:
    for product in demo.products:
        used = {product.materials[layer.material].kind for layer in product.colour.layers}
        main = {"skirt": {"silicone", "living rubber"}, "hair": {"hair"}, "feather": {"feather"}}
        assert used & main[product.pattern.skirt]
        assert used <= main[product.pattern.skirt] | {"tinsel"}


def test_living_rubber_is_tied_in_one_pattern_at_least(demo: Catalog) -> None:
    rubber = [p for p in demo.products if "rubber" in {x.material for x in p.colour.layers}]
    assert {p.pattern.code for p in rubber} >= {"GB", "SF"}


# Grams per cubic centimetre: CRC Handbook of Chemistry and Physics, 97th ed., section 4 (from
# memory). An alloy's volume is taken as the sum of its metals'.
DENSITY = {"lead": 11.34, "bismuth": 9.79, "tin": 7.287, "antimony": 6.68}


def density(composition: dict[str, Fraction]) -> float:
    return 1 / sum(float(share) / DENSITY[metal] for metal, share in composition.items())


def test_every_alloys_density_follows_from_its_metals(demo: Catalog) -> None:
    alloys = [m for m in demo.file.materials.values() if m.kind == "alloy"]
    assert len(alloys) == 2
    for alloy in alloys:
        assert sum(alloy.composition.values()) == 1
        assert alloy.density is not None
        assert float(alloy.density) == pytest.approx(density(alloy.composition), rel=0.01)


def test_every_stated_weight_is_what_its_cavity_casts(demo: Catalog) -> None:
    # A mould's cavity is a volume; it is marked with the weight that lead has in it.
    for product in demo.products:
        volume = float(product.cavity.grams) / DENSITY["lead"]
        cast = volume * density(product.alloy.composition)
        assert cast == pytest.approx(float(product.weight.grams), rel=0.10), product.sku


def test_three_eighths_of_bismuth_tin_come_out_of_a_half_ounce_cavity(demo: Catalog) -> None:
    light = [p for p in demo.products if not p.has_lead]
    assert {p.pattern.code for p in light} == {"LL", "SF"}
    cavities = {str(p.weight): str(p.cavity) for p in light}
    assert cavities["3/8 oz"] == "1/2 oz"
    assert all(p.cavity > p.weight for p in light)


def test_the_rest_is_lead_and_says_so(demo: Catalog) -> None:
    heavy = [p for p in demo.products if p.has_lead]
    assert len(heavy) > len(demo.products) / 2
    assert all(p.alloy.lead_share == Fraction(97, 100) for p in heavy)


def test_one_skirt_has_three_colours_and_a_two_tone_strand(demo: Catalog) -> None:
    craw = next(p.colour for p in demo.products if p.colour.code == "DLF")
    assert len({layer.ink for layer in craw.layers}) == 3
    assert [layer.tip is not None for layer in craw.layers] == [False, False, True]
    assert craw.layers[0].flake is not None


def test_weights_reach_from_a_thirty_second_to_an_ounce(demo: Catalog) -> None:
    stated = {str(product.weight) for product in demo.products}
    trade = "1/32 1/16 1/8 3/16 1/4 5/16 3/8 1/2 3/4 1"
    assert {f"{weight} oz" for weight in trade.split()} <= stated
    assert {"7 g", "10.5 g"} <= stated
    assert min(p.weight for p in demo.products) == Weight.parse("1/32 oz")
    assert max(p.weight for p in demo.products) == Weight.parse("1 oz")


def test_hooks_are_counted_up_and_down(demo: Catalog) -> None:
    sizes = {product.hook_size for product in demo.products}
    assert {"8", "6", "4", "1", "1/0", "5/0"} <= sizes
    two = {
        p.hook_size for p in demo.products if p.pattern.code == "ND" and str(p.weight) == "1/4 oz"
    }
    assert two == {"1/0", "2/0"}


def test_names_are_as_awkward_as_in_life(demo: Catalog) -> None:
    names = {pattern.name for pattern in demo.file.patterns.values()}
    assert max(map(len, names)) >= 50
    assert any(not name.isascii() for name in names)
    assert any(name.isupper() for name in names)
    assert any("&" in name and "'" in name for name in names)
    assert not all(colour.name.isascii() for colour in demo.file.colours.values())


def test_every_pattern_tells_a_story_and_how_it_is_tied(demo: Catalog) -> None:
    for pattern in demo.file.patterns.values():
        assert pattern.story is not None
        sentences = [part for part in pattern.story.replace("?", ".").split(". ") if part.strip()]
        assert 2 <= len(sentences) <= 4, pattern.name
        assert 100 < len(pattern.story) < 320
        assert pattern.care
        assert pattern.tie.thread
        assert pattern.tie.wraps
        assert pattern.tie.trim
        assert pattern.tie.glue
        assert pattern.tie.cure


def test_every_material_says_what_it_is_and_where_it_is_from(demo: Catalog) -> None:
    for material in demo.file.materials.values():
        assert material.composition, material.name
        assert material.density, material.name
        assert material.origin, material.name
        assert Fraction(9, 10) <= sum(material.composition.values()) <= 1
    assert {hook.origin for hook in demo.file.hooks.values()} == {"JP"}
    assert demo.file.maker.country == "US"


def test_nothing_is_described_that_no_jig_is_made_of(demo: Catalog) -> None:
    used = {name for product in demo.products for name in product.materials}
    assert used == set(demo.file.materials)
    assert {product.colour.code for product in demo.products} == {
        colour.code for colour in demo.file.colours.values()
    }


def test_strands_in_a_skirt_are_as_many_as_a_collar_holds(demo: Catalog) -> None:
    # Two tabs of about 22 strands to a full skirt, fewer on finesse: common practice, no
    # published source.
    skirts = {p.colour.code: p.colour.strands for p in demo.products if p.pattern.skirt == "skirt"}
    assert all(24 <= strands <= 50 for strands in skirts.values())
    full = [p for p in demo.products if p.pattern.code in ("RM", "MW", "GB", "LL")]
    fine = [p for p in demo.products if p.pattern.code == "EP"]
    assert min(p.colour.strands for p in full) > max(p.colour.strands for p in fine)


def test_everything_has_a_price_and_heavier_costs_no_less(demo: Catalog) -> None:
    assert all(product.price is not None for product in demo.products)
    plain = [p for p in demo.products if p.note is None]
    for code in {p.pattern.code for p in plain}:
        ladder = sorted((p.weight, p.price or 0) for p in plain if p.pattern.code == code)
        prices = [price for _, price in ladder]
        assert prices == sorted(prices), code


def test_shops_of_two_tiers_and_two_countries_sell_it(demo: Catalog) -> None:
    assert len(demo.file.dealers) == 4
    assert {dealer.tier for dealer in demo.file.dealers.values()} == {"dealer", "distributor"}
    assert {dealer.country for dealer in demo.file.dealers.values()} == {"US", "CA"}
    assert {dealer.market for dealer in demo.file.dealers.values()} <= set(demo.file.sale.markets)


def photographed(demo: Catalog) -> list[Product]:
    return [product for product in demo.products if product.photo]


def test_one_colour_has_a_photo_and_the_rest_are_drawn(demo: Catalog, demo_folder: Path) -> None:
    with_photo = photographed(demo)
    assert 1 <= len(with_photo) < len(demo.products)
    assert {product.colour.code for product in with_photo} == {"DLF"}
    for product in with_photo:
        assert (demo_folder / "photos" / str(product.photo)).is_file()


def test_the_photo_lies_on_its_side_as_telephones_leave_it(demo_folder: Path) -> None:
    path = demo_folder / "photos" / "reedmace-delft-craw.jpg"
    assert path.stat().st_size < 200_000
    with Image.open(path) as photo:
        assert photo.format == "JPEG"
        assert photo.size == (800, 1200)
        # CIPA DC-008-2012 (Exif 2.3), 4.6.4 A: 6 is row 0 on the right, column 0 at the top. And
        # nothing else about whoever took it.
        assert dict(photo.getexif()) == {0x0112: 6}


def test_the_spreadsheet_adds_retires_and_overrides(demo: Catalog) -> None:
    products = {product.sku: product for product in demo.products}
    added = products["RM-58-50-DLF"]
    assert added.weight not in added.pattern.weights
    assert added.note
    assert demo.retired == ("RM-14-30-DKW",)
    assert "RM-14-30-DKW" not in products
    assert "RM-14-30-DKW" in demo.gtins
    ounce = products["GB-1OZ-50-XBL"]
    assert ounce.price is not None
    assert ounce.price > ounce.pattern.prices["1 oz"]
    assert products["TD-132-8-DAN"].pattern.pack > products["TD-132-8-INK"].pattern.pack
    assert set(products["SF-10.5G-20-MPL"].markets) < set(demo.file.sale.markets)


def test_it_is_told_that_its_prefix_is_for_samples_and_which_prices_hold(demo_folder: Path) -> None:
    _, findings = examine(demo_folder)
    overruled = ["spreadsheet-holds"] * 3  # a price; a price and a pack of another pattern
    assert sorted(finding.rule for finding in findings) == ["prefix-for-samples", *overruled]
    assert {finding.grade for finding in findings} == {Grade.NOTE}


def test_every_product_has_a_batch_of_its_own_that_is_opened_once(
    demo: Catalog, demo_folder: Path
) -> None:
    with (demo_folder / "batches.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["SKU"] for row in rows] == [product.sku for product in demo.products]
    assert len({row["Key"] for row in rows}) == len(rows)
    for row, product in zip(rows, demo.products, strict=True):
        a_pack = 12 // packs_of(product, 12)
        assert packs_of(product, int(row["Count"])) * a_pack == int(row["Count"]), row


def test_the_length_that_is_typed_is_that_of_the_drawing(demo: Catalog) -> None:
    """The book draws a jig with its trim beside its length: within a quarter inch they agree."""
    for product in demo.products:
        frame, length = places_of(look_of(product)), product.pattern.length
        drawn = frame.head.length + frame.room.start + frame.room.length
        assert length
        assert length.pt == pytest.approx(drawn, abs=18), product.sku
