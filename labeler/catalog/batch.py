"""What a batch asks of the bench: strands to pull, tabs to open, metal to melt."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path

from labeler.catalog.cast import product_weight
from labeler.catalog.model import Layer, Material, Product
from labeler.units import Weight


@dataclass(frozen=True, slots=True)
class LayerNeed:
    """What one layer of the skirt takes for a batch.

    Attributes:
        layer: the layer of the recipe.
        material: what it is tied from.
        strands: in all jigs together; None where the recipe tells an amount in words.
        with_waste: the same with the allowance for lost strands, rounded up.
        tabs: how many to open, rounded up; None where a tab's strands are not told.
        weight: of the opened tabs together; None where a tab's weight is not told.
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
    cast = product_weight(product) or product.weight
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
        for row in _cautions()
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


@cache
def _cautions() -> tuple[dict[str, str], ...]:
    text = (Path(__file__).parent / "cautions.toml").read_text("utf-8")
    return tuple(tomllib.loads(text)["caution"])
