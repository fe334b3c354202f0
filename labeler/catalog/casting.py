"""What a mould's cavity weighs when it is filled with another metal than it is marked for.

A cavity is a volume. Marked 1/2 oz for lead, it holds a good 3/8 oz of bismuth-tin.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from labeler.catalog.model import CatalogFile, Head, Layer, Material, Product, means
from labeler.catalog.values import read_density, read_share
from labeler.units import Weight

_LEAST_KNOWN = Fraction(95, 100)
"""A composition that accounts for less of an alloy than this says nothing of its density."""


@cache
def _data(name: str) -> dict[str, Any]:
    return tomllib.loads((Path(__file__).parent / name).read_text("utf-8"))


@cache
def _metals() -> tuple[tuple[tuple[str, ...], Fraction], ...]:
    """Return names and grams per cubic centimetre, with their sources in ``densities.toml``."""
    rows = _data("densities.toml")["metal"]
    return tuple((tuple(row["names"]), read_density(row["density"])) for row in rows)


@cache
def tolerance() -> Fraction:
    """Return how far, as a share, a head may be off the weight that is stated for it.

    Source: ``casting.toml``.
    """
    return read_share(_data("casting.toml")["tolerance"]["share"])


@cache
def trade_weights() -> tuple[Weight, ...]:
    """Return the weights that heads are sold in, lightest first.

    Source: ``casting.toml``.
    """
    return tuple(sorted(Weight.parse(text) for text in _data("casting.toml")["trade"]["weights"]))


def nearest_trade_weight(weight: Weight) -> Weight:
    """Return the weight of the trade that is nearest, in proportion, to ``weight``."""
    return min(
        trade_weights(),
        key=lambda one: max(one.grams, weight.grams) / min(one.grams, weight.grams),
    )


def metal_density(name: str) -> Fraction | None:
    """Return the density of the metal that ``name`` means, in g/cm3; None if it is unknown.

    Source: ``densities.toml``.
    """
    exact = name.strip().casefold()
    for names, density in _metals():
        if any(exact == known.casefold() for known in names):
            return density
    found = [density for names, density in _metals() if means(name, names)]
    return found[0] if len(found) == 1 else None


def density_of(material: Material) -> Fraction | None:
    """Return a material's density in g/cm3: the stated one, else what its composition gives.

    Volumes are taken to add up, so the density is 1/Σ(w/ρ) over the shares by mass w. None
    where the metals named account for less than 95 % of the alloy.
    """
    if material.density is not None:
        return material.density
    if not material.composition:
        return metal_density(material.name)
    known = [(share, metal_density(name)) for name, share in material.composition.items()]
    pairs = [(share, density) for share, density in known if density is not None and share > 0]
    whole = sum((share for share, _ in pairs), start=Fraction(0))
    if whole < _LEAST_KNOWN:
        return None
    return whole / sum((share / density for share, density in pairs), start=Fraction(0))


def cast_weight(marked: Weight, marked_for: Fraction, alloy: Fraction) -> Weight:
    """Return what a cavity weighs in ``alloy``.

    Args:
        marked: The weight that the cavity is marked with.
        marked_for: The density of the metal that it is marked for, in g/cm3.
        alloy: The density of the metal that fills it, in g/cm3.
    """
    return Weight(marked.value * alloy / marked_for, marked.unit)


def mark_density(head: Head, materials: Mapping[str, Material]) -> Fraction | None:
    """Return the density, in g/cm3, of the metal that the head's mould is marked for."""
    named = materials.get(head.marked_for)
    if (density := metal_density(head.marked_for)) is not None:
        return density
    return density_of(named) if named else None


def expected_weight(head: Head, stated: Weight, materials: Mapping[str, Material]) -> Weight | None:
    """Return what a head of ``stated`` weight is cast at; None where a density is unknown."""
    mark = mark_density(head, materials)
    alloy = materials.get(head.alloy)
    density = density_of(alloy) if alloy else None
    if mark is None or density is None:
        return None
    return cast_weight(head.cavity_mark(stated), mark, density)


def miscast(file: CatalogFile, head: str, stated: Weight) -> Weight | None:
    """Return what the mould gives where a stated weight is off that; None if it is not."""
    cast = expected_weight(file.heads[head], stated, file.materials)
    if cast is None or abs(cast.grams - stated.grams) <= tolerance() * stated.grams:
        return None
    return cast


def better_cavity(file: CatalogFile, head: str, stated: Weight) -> Weight | None:
    """Return the cavity of the trade's weights that would give ``stated`` within the tolerance."""
    record = file.heads[head]
    mark, alloy = mark_density(record, file.materials), density_of(file.materials[record.alloy])
    if mark is None or alloy is None:
        return None
    wanted = nearest_trade_weight(cast_weight(stated, alloy, mark))
    given = cast_weight(wanted, mark, alloy)
    close = abs(given.grams - stated.grams) <= tolerance() * stated.grams
    return wanted if close else None


@dataclass(frozen=True, slots=True)
class LayerNeed:
    """What one layer of the skirt takes for a batch.

    Attributes:
        layer: the layer of the recipe.
        material: what it is tied from.
        strands: in all jigs together; None where the recipe tells an amount in words.
        with_waste: the same with the allowance for lost strands, rounded up.
        tabs: how many to open, rounded up; None where a tab's strands are not stated.
        weight: of the opened tabs together; None where a tab's weight is not stated.
    """

    layer: Layer
    material: Material
    strands: int | None
    with_waste: int | None
    tabs: int | None
    weight: Weight | None


def packs_of(product: Product, jigs: int) -> int:
    """Return how many packs so many jigs fill, the last one perhaps not whole."""
    return math.ceil(jigs / product.pattern.pack)


def in_jigs(product: Product, jigs: int) -> list[tuple[Product, int]]:
    """Return the kinds of jigs, and how many of each, that so many jigs of a product are.

    They are the product's own, but for an assorted pack, which is filled up to whole packs.
    """
    packs = packs_of(product, jigs)
    return [(each.product, packs * each.count) for each in product.parts] or [(product, jigs)]


def layer_needs(product: Product, jigs: int) -> tuple[LayerNeed, ...]:
    """Return what every layer takes, in tying order, for so many jigs."""
    waste = product.pattern.tie.waste or Fraction(0)
    return tuple(_need(product, layer, jigs, waste) for layer in product.colour.layers)


def _need(product: Product, layer: Layer, jigs: int, waste: Fraction) -> LayerNeed:
    material = product.materials[layer.material]
    if layer.amount is not None:
        return LayerNeed(layer, material, None, None, None, None)
    strands = layer.strands * jigs
    pulled = math.ceil(strands * (1 + waste))
    tabs = math.ceil(pulled / material.strands_per_tab) if material.strands_per_tab else None
    weight = material.tab_weight
    return LayerNeed(
        layer,
        material,
        strands,
        pulled,
        tabs,
        Weight(weight.value * tabs, weight.unit) if weight and tabs else None,
    )


def metal_for(product: Product, jigs: int) -> Weight:
    """Return what the heads weigh together, as cast, sprues not counted."""
    stated = product.weight
    cast = expected_weight(product.head, stated, product.materials) or stated
    return Weight(cast.value * jigs, cast.unit)


@dataclass(frozen=True, slots=True)
class Caution:
    """A hazard of the bench and what is usually done about it."""

    title: str
    text: str


def cautions_for(product: Product) -> tuple[Caution, ...]:
    """Return the cautions that belong to making this product, gravest first.

    Source: ``cautions.toml``.
    """
    at_hand = set(_hazards(product))
    return tuple(
        Caution(row["title"], " ".join(row["text"].split()))
        for row in _data("cautions.toml")["caution"]
        if row["when"] in at_hand
    )


def _hazards(product: Product) -> Iterator[str]:
    yield from ("always", "hook", "hot metal")
    kinds = {material.kind for material in product.materials.values()}
    if product.has_lead:
        yield "lead"
    if "glue" in kinds or product.pattern.tie.glue:
        yield "glue"
    if "paint" in kinds or product.colour.head_paint:
        yield "paint"
    if "wire" in kinds:
        yield "wire"
