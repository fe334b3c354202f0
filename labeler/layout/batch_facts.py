"""What a batch card's layout may ask: the recipe reckoned for the batch, its metal, its steps.

Plain words and numbers, as for a label: no object of ours reaches a template.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from labeler.catalog.batch import LayerNeed, cautions_for, layer_needs, metal_for, packs_of
from labeler.catalog.model import Product
from labeler.layout.facts import facts_of
from labeler.units import NO_BREAK_SPACE, Weight, truncate

_SEATS = {
    "around": "all around", "back": "back", "sides": "sides", "belly": "belly", "tail": "tail",
}  # fmt: skip
_OUNCES_A_POUND = 16


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch as its card tells it.

    Attributes:
        product: what is tied.
        lot: its code.
        link: what the QR code leads to.
        jigs: how many.
        made: the day, as printed.
        opened: when the lot was opened, on the bench's clock.
        sample: how many jigs to weigh.
        materials: kind and supplier's lot of everything known to go in.
        note: the maker's own line.
    """

    product: Product
    lot: str
    link: str
    jigs: int
    made: str
    opened: str
    sample: int
    materials: Sequence[tuple[str, str]] = ()
    note: str = ""


def batch_facts(batch: Batch) -> Mapping[str, Any]:
    """Return the facts for a batch card."""
    product = batch.product
    known = facts_of(
        product, lot=batch.lot, link=batch.link, width=0, height=0, black=False
    )  # fmt: skip
    tie = product.pattern.tie
    needs = layer_needs(product, batch.jigs)
    return {
        **known,
        "batch": {
            "jigs": batch.jigs,
            "packs": packs_of(product, batch.jigs) if product.pattern.pack > 1 else 0,
            "made": batch.made,
            "opened": batch.opened,
            "note": batch.note,
            "sample": batch.sample,
            "boxes": _boxes(batch.sample),
            "waste": f"{float(tie.waste * 100):g}{NO_BREAK_SPACE}%" if tie.waste else "",
            "layers": [_layer(at, need) for at, need in enumerate(needs, 1)],
            "counted": any(need.strands for need in needs),
            "metal": in_all(metal_for(product, batch.jigs)),
            "cavity": product.cavity.oz_text if product.cavity != product.weight else "",
            "guard_strands": product.guard.strands if product.guard else 0,
            "guard_style": product.guard.style if product.guard else "",
            "thread": product.materials[tie.thread].name if tie.thread else "",
            "wraps": tie.wraps or "",
            "trim": tie.trim or "",
            "glue": tie.glue or "",
            "cure": tie.cure or "",
            "notes": tie.notes or "",
            "paint": product.colour.head_paint or "",
            "materials": list(_materials(batch, needs)),
            "steps": list(_steps(product)),
            "cautions": [{"title": one.title, "text": one.text} for one in cautions_for(product)],
        },
    }


def _layer(number: int, need: LayerNeed) -> Mapping[str, Any]:
    layer = need.layer
    return {
        "number": number,
        "ink": layer.ink,
        "tip": layer.tip or "",
        "shade": layer.shade,
        "material": need.material.name,
        "seat": _SEATS[layer.seat],
        "amount": layer.amount or "",
        "a_jig": layer.strands if need.strands is not None else "",
        "batch": f"{need.strands:,}" if need.strands is not None else "",
        "pull": f"{need.with_waste:,}" if need.with_waste is not None else "",
        "tabs": f"{need.tabs:,}" if need.tabs is not None else "",
        "per_tab": need.material.strands_per_tab or "",
    }


def _materials(batch: Batch, needs: Sequence[LayerNeed]) -> Iterator[Mapping[str, Any]]:
    """Yield what goes in, each with the suppliers' lots known to be of it, strangers last."""
    left = list(batch.materials)
    told: set[tuple[str, str]] = set()
    for row in _bill(batch, needs):
        words = row.pop("words")
        mine = [(kind, lot) for kind, lot in left if kind.casefold() in words]
        told.update(mine)
        yield {**row, "lots": ", ".join(lot for _, lot in mine)}
    for kind, lot in left:
        if (kind, lot) not in told:
            yield {"what": kind, "name": "", "in_all": "", "lots": lot}


def _bill(batch: Batch, needs: Sequence[LayerNeed]) -> Iterator[dict[str, Any]]:
    """Yield everything that goes in; a layer is told by its shade, all else by its kind."""
    product, jigs = batch.product, batch.jigs
    alloy = product.head.alloy
    yield _row("Metal", product.alloy.name, {"alloy", "head", alloy},
               in_all(metal_for(product, jigs)))  # fmt: skip
    yield _row("Hook", f"{product.hook_size} {product.hook.name}", {"hook", "steel"}, f"{jigs:,}")
    if product.guard:
        of = product.guard.material
        kind = product.materials[of].kind if of else "guard"
        yield _row("Guard", product.guard.name, {"guard", kind, of or "guard"}, f"{jigs:,}")
    for need in needs:
        layer = need.layer
        words = {layer.material, need.material.kind, need.material.name, layer.shade}
        yield _row("Skirt", f"{layer.shade} {need.material.name}", words, _of_layer(need))
    placed = {alloy, product.hook.material, product.guard.material if product.guard else None}
    placed |= {need.layer.material for need in needs}
    for name, material in product.materials.items():
        if name not in placed:
            words = {name, material.kind, material.name}
            yield _row(material.kind.capitalize(), material.name, words, "")


def _boxes(sample: int) -> list[list[int]]:
    """Return the numbers of the boxes to write weights in, in lines; 0 where there is none."""
    lines = math.ceil(sample / _BOXES_A_LINE)
    return [
        [at if at <= sample else 0 for at in range(first, first + _BOXES_A_LINE)]
        for first in range(1, lines * _BOXES_A_LINE + 1, _BOXES_A_LINE)
    ]


_BOXES_A_LINE = 12


def _row(what: str, name: str, words: set[str], in_all: str) -> dict[str, Any]:
    folded = {word.casefold() for word in words}
    return {"what": what, "name": name, "words": folded, "in_all": in_all}


def _of_layer(need: LayerNeed) -> str:
    if need.weight:
        return in_all(need.weight)
    return f"{need.tabs:,} tab{'s' if need.tabs != 1 else ''}" if need.tabs else ""


def _steps(product: Product) -> Iterator[str]:
    """Yield what is signed for when it is done, in the order of the bench."""
    yield "Poured"
    if product.colour.head_paint:
        yield "Painted, cured"
    if product.guard:
        yield "Guards set"
    yield "Tied"
    yield "Trimmed"
    if product.pattern.tie.glue:
        yield "Glued, cured"
    yield "Weighed"
    yield "Bagged, labeled"


def in_all(weight: Weight) -> str:
    """Return what a batch weighs, in grams or kilograms and in pounds and ounces."""
    grams = weight.grams
    metric = f"{truncate(grams / 1000, 3)} kg" if grams >= 1000 else f"{truncate(grams, 3)} g"
    pounds, ounces = divmod(weight.ounces, _OUNCES_A_POUND)
    rest = f"{float(ounces):.1f} oz"
    return f"{metric} ({pounds} lb {rest})" if pounds else f"{metric} ({rest})"
