"""What a layout may ask about a product: plain words and numbers under stable names.

A field that the catalog leaves open is an empty text, so that ``{% if product.price %}`` asks
for it; a field that does not exist is an error. No object of ours reaches a template.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import lru_cache
from typing import Any

from labeler.catalog.gtin import as_14
from labeler.catalog.model import Maker, Product
from labeler.disclosures.rules import KINDS
from labeler.disclosures.statements import Statement
from labeler.units import NO_BREAK_SPACE

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
        "lot": lot,
        "link": link,
        "piece": {"width": width / 72, "height": height / 72, "black": black},
    }


def said_facts(said: Sequence[Statement]) -> Mapping[str, str]:
    """Return what a piece has to say, kind by kind; of what nobody asks for, nothing."""
    asked = [one for one in said if one.duty != "optional"]
    return {
        kind.replace(" ", "_"): " ".join(one.full.plain for one in asked if one.kind == kind)
        for kind in KINDS
    }


def _product_facts(product: Product) -> Mapping[str, Any]:
    key = id(product)
    known = _KEPT.get(key)
    if known is None or known[0] is not product:
        if len(_KEPT) > _MOST_KEPT:
            _KEPT.clear()
        known = _KEPT[key] = (product, _product_facts_anew(product))
    return known[1]


_KEPT: dict[int, tuple[Product, Mapping[str, Any]]] = {}
_MOST_KEPT = 256
"""A run asks again and again for the product it is at; a whole catalog need not stay."""


def _product_facts_anew(product: Product) -> Mapping[str, Any]:
    pattern, hook, colour = product.pattern, product.hook, product.colour
    weight = product.weight
    stated = weight.oz_text if weight.unit == "oz" else weight.g_text
    weight_number, weight_unit = stated.split(NO_BREAK_SPACE)
    return {
        "sku": product.sku,
        "name": product.name,
        "pattern": pattern.name,
        "kind": pattern.kind,
        "colour": colour.name,
        "weight_oz": weight.oz_text,
        "weight_number": weight_number,
        "weight_unit": weight_unit,
        "weight_g": weight.g_text,
        "hook_size": product.hook_size,
        "hook": hook.name,
        "hook_finish": hook.finish,
        "head": product.head.name,
        "alloy": product.alloy.name,
        "has_lead": product.has_lead,
        "guard": product.guard.name if product.guard else "",
        "pack": pattern.pack,
        "price": money(product),
        "gtin": product.gtin or "",
        "gtin14": as_14(product.gtin) if product.gtin else "",
        "story": pattern.story or "",
        "care": pattern.care or "",
        "note": product.note or colour.note or "",
        "photo": product.photo or "",
        "length": str(pattern.length).replace(" ", NO_BREAK_SPACE) if pattern.length else "",
        "made_in": pattern.made_in or "",
        "strands": colour.strands,
        "layers": [
            {
                "shade": layer.shade,
                "strands": layer.strands,
                "seat": layer.seat,
                "material": product.materials[layer.material].name,
                "amount": layer.amount or "",
            }
            for layer in colour.layers
        ],
    }


def money(product: Product) -> str:
    """Return the price with its sign, or the ISO code where there is no sign of it."""
    return "" if product.price is None else amount_text(product.price, product.currency)


def amount_text(amount: Decimal, currency: str) -> str:
    """Return an amount with its currency's sign, or its ISO 4217 code where there is none."""
    sign = _SIGNS.get(currency)
    exponent = amount.normalize().as_tuple().exponent
    usual = 0 if currency in _WITHOUT_CENTS else 2
    places = max(usual, -exponent) if isinstance(exponent, int) else usual
    text = f"{amount:,.{places}f}"
    return f"{sign}{text}" if sign else f"{currency}{NO_BREAK_SPACE}{text}"


@lru_cache(maxsize=32)
def maker_facts(maker: Maker) -> Mapping[str, Any]:
    """Return what a layout may ask about the maker."""
    town = " ".join(part for part in (maker.state or "", maker.postcode) if part)
    address = ", ".join(part for part in (maker.street or "", maker.city, town) if part)
    return {
        "name": maker.name,
        "street": maker.street or "",
        "city": maker.city,
        "state": maker.state or "",
        "postcode": maker.postcode,
        "country": maker.country,
        "address": address,
        "site": maker.site or "",
        "email": maker.email or "",
        "phone": maker.phone or "",
    }
