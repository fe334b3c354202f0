"""What a layout may ask about a product, a batch, a parcel, a recall: plain words and numbers.

A field that the catalog leaves open is an empty text, so that ``{% if product.price %}`` asks
for it; a field that does not exist is an error. No object of ours reaches a template.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Any, Literal

from labeler.catalog.casting import LayerNeed, cautions_for, layer_needs, metal_for, packs_of
from labeler.catalog.gtin import as_14
from labeler.catalog.model import Maker, Part, Product
from labeler.disclosures.rules import KINDS
from labeler.disclosures.statements import LABEL_WORDS, Statement, part_name
from labeler.type.finish import spelled
from labeler.units import NO_BREAK_SPACE, Weight, truncate

_WITHOUT_CENTS = frozenset({"CLP", "ISK", "JPY", "KRW", "PYG", "UGX", "VND", "XAF", "XOF", "XPF"})
"""Currencies without a minor unit. Source: ISO 4217, list one (from memory)."""

_SIGNS = {"USD": "$", "CAD": "$", "AUD": "$", "NZD": "$", "GBP": "£", "EUR": "€"}


def facts_of(
    product: Product, *, lot: str, link: str, width: float, height: float, black: bool
) -> Mapping[str, Any]:
    """Return the facts for one piece. ``width`` and ``height`` in points; layouts get inches."""
    return {
        "product": _product_facts(product),
        "maker": maker_facts(product.maker),
        "word": {name: product.in_two(word) for name, word in LABEL_WORDS.items()},
        "lot": lot,
        "old_code": "",
        "link": link,
        "piece": {"width": width / 72, "height": height / 72, "black": black},
    }


def statement_facts(statements: Sequence[Statement]) -> Mapping[str, str]:
    """Return what a piece has to say, kind by kind; of what nobody asks for, nothing."""
    asked = [one for one in statements if one.duty != "optional"]
    return {
        kind.replace(" ", "_"): " ".join(one.full.plain for one in asked if one.kind == kind)
        for kind in KINDS
    }


def _product_facts(product: Product) -> Mapping[str, Any]:
    known = _KEPT.get(id(product))
    if known is None or known[0] is not product:
        if len(_KEPT) > _MOST_KEPT:
            _KEPT.clear()
        known = _KEPT[id(product)] = (product, _computed_facts(product))
    return known[1]


_KEPT: dict[int, tuple[Product, Mapping[str, Any]]] = {}
_MOST_KEPT = 256
"""A run asks again and again for the product it is at; a whole catalog need not stay."""


def _computed_facts(product: Product) -> Mapping[str, Any]:
    pattern, hook, colour = product.pattern, product.hook, product.colour
    ounces, grams = _weight_texts(product.weight.value, product.weight.unit)
    stated = ounces if product.weight.unit == "oz" else grams
    if len({unit.weight for unit in product.units}) > 1:  # each has its own
        ounces, grams, stated = "", "", NO_BREAK_SPACE
    weight_number, weight_unit = stated.split(NO_BREAK_SPACE)
    return {
        **_fields(product, "sku", "name", "hook_size", "has_lead", "gtin", "photo"),
        **_fields(pattern, "pack", "story", "care", "made_in"),
        "pattern": product.in_two(pattern.name),
        "colour": product.in_two(colour.name),
        "kind": product.in_two(pattern.kind),
        "weight_oz": ounces,
        "weight_number": weight_number,
        "weight_unit": weight_unit,
        "weight_g": grams,
        "hook": hook.name,
        "hook_finish": hook.finish or "",
        "head": product.head.name,
        "alloy": product.alloy.name,
        "guard": product.guard.name if product.guard else "",
        "price": "" if product.price is None else amount_text(product.price, product.currency),
        "gtin14": as_14(product.gtin) if product.gtin else "",
        "note": product.note or colour.note or "",
        "length": str(pattern.length).replace(" ", NO_BREAK_SPACE) if pattern.length else "",
        "strands": colour.strands,
        "opaque": product.bag is not None and not product.bag.clear,
        "parts": [_part_facts(product, part) for part in product.parts],
        "layers": [
            _fields(layer, "shade", "strands", "seat", "amount")
            | {"material": product.materials[layer.material].name}
            for layer in colour.layers
        ],
    }


def _part_facts(pack: Product, part: Part) -> Mapping[str, Any]:
    """Return what a layout may ask of one kind in an assorted pack."""
    names = "sku", "pattern", "colour", "weight_oz", "weight_g", "hook_size", "kind"
    known = _product_facts(part.product)
    return {"count": part.count, "name": part_name(pack, part)} | {n: known[n] for n in names}


def _fields(record: object, *names: str) -> dict[str, Any]:
    """Return fields of a record as they are, an empty text for what is left open."""
    values = ((name, getattr(record, name)) for name in names)
    return {name: "" if value is None else value for name, value in values}


@lru_cache(maxsize=256)
def _weight_texts(value: Fraction, unit: Literal["oz", "g"]) -> tuple[str, str]:
    """Return a weight in ounces and in grams, of which a line has few and a run prints many."""
    weight = Weight(value, unit)
    return weight.oz_text, weight.g_text


def amount_text(amount: Decimal, currency: str) -> str:
    """Return an amount with its currency's sign, or its ISO 4217 code where there is none."""
    sign, text = _SIGNS.get(currency), bare_amount(amount, currency)
    return f"{sign}{text}" if sign else f"{currency}{NO_BREAK_SPACE}{text}"


def bare_amount(amount: Decimal, currency: str) -> str:
    """Return an amount as a column of amounts holds it, without its currency."""
    exponent = amount.normalize().as_tuple().exponent
    usual = 0 if currency in _WITHOUT_CENTS else 2
    places = max(usual, -exponent) if isinstance(exponent, int) else usual
    return f"{amount:,.{places}f}"


@lru_cache(maxsize=32)
def maker_facts(maker: Maker) -> Mapping[str, Any]:
    """Return what a layout may ask about the maker."""
    town = " ".join(part for part in (maker.state or "", maker.postcode) if part)
    address = ", ".join(part for part in (maker.street or "", maker.city, town) if part)
    names = (
        "name", "street", "city", "state", "postcode", "country", "site", "email", "phone", "logo",
    )  # fmt: skip
    return {**_fields(maker, *names), "address": address}


_OUNCES_A_POUND = 16


@dataclass(frozen=True, slots=True)
class BatchFacts:
    """A batch as its card states it.

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


def batch_facts(batch: BatchFacts) -> Mapping[str, Any]:
    """Return the facts for a batch card."""
    product = batch.product
    known = facts_of(product, lot=batch.lot, link=batch.link, width=0, height=0, black=False)
    tie, country = product.pattern.tie, product.maker.country
    needs = layer_needs(product, batch.jigs)
    return {
        **known,
        "batch": {
            **_fields(batch, "jigs", "made", "opened", "note", "sample"),
            **_fields(tie, "wraps", "trim", "glue", "cure", "notes"),
            "packs": packs_of(product, batch.jigs) if product.pattern.pack > 1 else 0,
            "boxes": _boxes(batch.sample),
            "waste": f"{float(tie.waste * 100):g}{NO_BREAK_SPACE}%" if tie.waste else "",
            "layers": [_layer(at, need) for at, need in enumerate(needs, 1)],
            "counted": any(need.strands for need in needs),
            "metal": in_all(metal_for(product, batch.jigs)),
            "cavity": product.cavity.oz_text if product.cavity != product.weight else "",
            "guard": spelled(_guard_words(product), country),
            "guard_strands": product.guard.strands if product.guard else 0,
            "guard_style": product.guard.style if product.guard else "",
            "thread": product.materials[tie.thread].name if tie.thread else "",
            "paint": product.colour.head_paint or "",
            "materials": list(_materials(batch, needs)),
            "steps": [spelled(step, country) for step in _steps(product)],
            "cautions": [
                {"title": spelled(one.title, country), "text": spelled(one.text, country)}
                for one in cautions_for(product)
            ],
        },
    }


def _guard_words(product: Product) -> str:
    """Return how many fibers or strands the guard has."""
    guard = product.guard
    if guard is None:
        return ""
    return f"{guard.strands} {'fibers' if guard.style == 'fibre' else 'strands'}"


def _layer(number: int, need: LayerNeed) -> Mapping[str, Any]:
    layer = need.layer
    return {
        **_fields(layer, "ink", "tip", "shade", "amount"),
        "number": number,
        "material": need.material.name,
        "seat": layer.seat if layer.seat != "around" else "all around",
        "a_jig": layer.strands if need.strands is not None else "",
        "batch": f"{need.strands:,}" if need.strands is not None else "",
        "pull": f"{need.with_waste:,}" if need.with_waste is not None else "",
        "tabs": f"{need.tabs:,}" if need.tabs is not None else "",
        "per_tab": need.material.strands_per_tab or "",
    }


def _materials(batch: BatchFacts, needs: Sequence[LayerNeed]) -> Iterator[Mapping[str, Any]]:
    """Yield what goes in, each with the suppliers' lots known to be of it, strangers last."""
    left = list(batch.materials)
    placed: set[tuple[str, str]] = set()
    for what, name, words, used in _bill(batch, needs):
        folded = {word.casefold() for word in words}
        mine = [(kind, lot) for kind, lot in left if kind.casefold() in folded]
        placed.update(mine)
        lots = ", ".join(lot for _, lot in mine)
        yield {"what": what, "name": name, "in_all": used, "lots": lots}
    for kind, lot in left:
        if (kind, lot) not in placed:
            yield {"what": kind, "name": "", "in_all": "", "lots": lot}


def _bill(
    batch: BatchFacts, needs: Sequence[LayerNeed]
) -> Iterator[tuple[str, str, set[str], str]]:
    """Yield what goes in: what it is, its name, words that it is known by, and how much.

    A layer is known by its shade, all else by its kind.
    """
    product, jigs = batch.product, batch.jigs
    alloy = product.head.alloy
    metal = in_all(metal_for(product, jigs))
    yield "Metal", product.alloy.name, {"alloy", "head", alloy}, metal
    hook = f"{product.hook_size or ''} {product.hook.name}".strip()
    yield "Hook", hook, {"hook", "steel"}, f"{jigs:,}"
    if product.guard:
        of = product.guard.material
        kind = product.materials[of].kind if of else "guard"
        yield "Guard", product.guard.name, {"guard", kind, of or "guard"}, f"{jigs:,}"
    for need in needs:
        layer = need.layer
        words = {layer.material, need.material.kind, need.material.name, layer.shade}
        yield "Skirt", f"{layer.shade} {need.material.name}", words, _of_layer(need)
    placed = {alloy, product.hook.material, product.guard.material if product.guard else None}
    placed |= {need.layer.material for need in needs}
    for name, material in product.materials.items():
        if name not in placed:
            words = {name, material.kind, material.name}
            yield material.kind.capitalize(), material.name, words, ""


def _boxes(sample: int) -> list[list[int]]:
    """Return the numbers of the boxes to write weights in, in lines; 0 where there is none."""
    return [
        [at if at <= sample else 0 for at in range(first, first + _BOXES_A_LINE)]
        for first in range(1, sample + 1, _BOXES_A_LINE)
    ]


_BOXES_A_LINE = 12


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
    customary = f"{pounds} lb " if pounds else ""
    return f"{metric} ({customary}{float(ounces):.1f} oz)"


@dataclass(frozen=True, slots=True)
class SlipLine:
    """One line of a packing slip: jigs of a lot."""

    lot: str
    product: Product
    count: int
    made: str


@dataclass(frozen=True, slots=True)
class Slip:
    """A packing slip; a returned parcel's too.

    Attributes:
        maker: who sends.
        number: of the slip.
        day: when it went or came, as printed.
        dealer: to whom or from whom.
        address: the dealer's, line by line.
        back: whether it came back.
        parcels: the lines.
        note: the maker's own.
        order: the order that it is of, as it is named on the paper.
        sender_country: the maker's, where the parcel crosses a border.
    """

    maker: Maker
    number: str
    day: str
    dealer: str
    address: Sequence[str]
    back: bool
    parcels: Sequence[SlipLine]
    note: str = ""
    order: str = ""
    sender_country: str = ""


def slip_facts(slip: Slip, parcels: Sequence[SlipLine], page: tuple[int, int]) -> Mapping[str, Any]:
    """Return the facts for one page of a slip.

    Args:
        slip: the whole.
        parcels: those of its lines that stand on this page.
        page: the page's number, and how many there are.
    """
    return {
        "maker": maker_facts(slip.maker),
        "slip": {
            **_fields(slip, "number", "day", "dealer", "back", "note", "order"),
            "address": list(slip.address),
            "sender_country": slip.sender_country,
            "jigs": f"{sum(each.count for each in slip.parcels):,}",
            "packs": f"{sum(packs_of(each.product, each.count) for each in slip.parcels):,}",
            "lots": len({each.lot for each in slip.parcels}),
            "page": page[0],
            "pages": page[1],
        },
        "rows": [_parcel(each) for each in parcels],
    }


def _parcel(each: SlipLine) -> Mapping[str, Any]:
    pack = each.product.pattern.pack
    return {
        "lot": each.lot,
        "made": each.made,
        "count": f"{each.count:,}",
        "packs": f"{packs_of(each.product, each.count):,} bags of {pack}" if pack > 1 else "",
        **named_facts(each.product),
    }


def named_facts(product: Product) -> Mapping[str, Any]:
    """Return what a line tells of its product; the weight in the unit that its label states."""
    known = _product_facts(product)
    weight = f"{known['weight_number']}{NO_BREAK_SPACE}{known['weight_unit']}"
    names = "sku", "name", "pattern", "colour", "weight_oz", "weight_g", "hook_size", "kind"
    return {"weight": weight, **{name: known[name] for name in names}}


@dataclass(frozen=True, slots=True)
class RecallHolder:
    """Who has some of what is called back: how many, and how to reach them."""

    name: str
    count: int
    phone: str = ""
    email: str = ""


@dataclass(frozen=True, slots=True)
class Recalled:
    """One lot of a recall sheet, and who has it."""

    lot: str
    product: Product
    made: str
    count: int
    labels: int
    on_hand: int
    void: bool
    dealers: Sequence[RecallHolder]
    materials: Sequence[str]
    held: bool = False
    other_names: Sequence[str] = ()
    gone: int = 0


@dataclass(frozen=True, slots=True)
class Recall:
    """A recall sheet.

    Attributes:
        maker: whose goods they are; None where the question led to no lot.
        asked: the question as it was typed.
        meanings: what it was taken for.
        told: when the ledger was last changed, on the bench's clock.
        lots: the lots, in order.
        dealers: who has how many of them in all.
        tight: whether the lots are to stand close together.
        perhaps: how many lots, and jigs of them, may belong to it though nobody knows.
        why: the reason; empty where the ledger has none.
        shown: the lots whose labels are shown as large as they were printed.
    """

    maker: Maker | None
    asked: str
    meanings: Sequence[str]
    told: str
    lots: Sequence[Recalled]
    dealers: Sequence[RecallHolder]
    tight: bool = False
    perhaps: tuple[int, int] = (0, 0)
    why: str = ""
    shown: Sequence[str] = ()


def recall_facts(
    recall: Recall,
    dealers: Iterable[RecallHolder],
    lots: Iterable[Recalled],
    page: tuple[int, int],
) -> Mapping[str, Any]:
    """Return the facts for one page of a recall sheet, on which these dealers and lots stand."""
    return {
        "maker": (
            maker_facts(recall.maker)
            if recall.maker
            else dict.fromkeys(("name", "phone", "email"), "")
        ),
        "recall": {
            **_fields(recall, "asked", "told", "tight", "why"),
            "shown": [_recalled(each) for each in recall.lots if each.lot in recall.shown],
            "reached": any(each.phone or each.email for each in recall.dealers),
            "meanings": list(recall.meanings),
            "lots": f"{len(recall.lots):,}",
            "made": f"{sum(each.count for each in recall.lots):,}",
            "labels": f"{sum(each.labels for each in recall.lots):,}",
            "out": f"{sum(each.count for each in recall.dealers):,}",
            "on_hand": f"{sum(each.on_hand for each in recall.lots):,}",
            "dealers": _dealers(dealers),
            "gone": f"{gone:,}" if (gone := sum(each.gone for each in recall.lots)) else "",
            "perhaps": _of_lots(*recall.perhaps) if recall.perhaps[0] else "",
            "page": page[0],
            "pages": page[1],
        },
        "rows": [_recalled(each) for each in lots],
    }


def _of_lots(lots: int, jigs: int) -> str:
    return f"{jigs:,} jigs of {'1 lot' if lots == 1 else f'{lots:,} lots'}"


def _recalled(each: Recalled) -> Mapping[str, Any]:
    return {
        **_fields(each, "lot", "made", "void", "held"),
        "count": f"{each.count:,}",
        "labels": f"{each.labels:,}",
        "on_hand": f"{each.on_hand:,}",
        "out": _dealers(each.dealers),
        "materials": list(each.materials),
        "other_names": list(each.other_names),
        **named_facts(each.product),
    }


def _dealers(dealers: Iterable[RecallHolder]) -> list[Mapping[str, str]]:
    return [
        {**_fields(each, "name", "phone", "email"), "count": f"{each.count:,}"} for each in dealers
    ]
