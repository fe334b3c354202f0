"""What a wording's blanks are filled with: one field a function, from one product.

A field that the catalog does not tell enough for is None, and the statement is not composed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from labeler.catalog.model import Material, Product
from labeler.disclosures import form, places
from labeler.units import NO_BREAK_SPACE

Excise = Literal["included", "not included"]
Field = Callable[[Product, Sequence[str]], str | None]


def identity(product: Product, markets: Sequence[str]) -> str:
    """Return what it is, with a noun that every buyer knows: ``Swim jig``."""
    kind = product.pattern.kind
    named = kind if noun(kind) else f"{kind}, fishing jig"
    return named[:1].upper() + named[1:]


def noun(kind: str) -> str:
    """Return the product's noun in ``kind``, in the singular, or nothing."""
    known = form.rules()["form-identity-nouns"].words
    for word in reversed(kind.casefold().replace("-", " ").split()):
        if word in known:
            return word
        if plural(word) and word.removesuffix("s") in known:
            return word.removesuffix("s")
    return ""


def plural(word: str) -> bool:
    """Tell whether ``word`` looks like a plural."""
    return word.endswith("s") and not word.endswith("ss")


def maker(product: Product, markets: Sequence[str]) -> str:
    """Return the maker's name, with how they came by goods that others made."""
    link = product.pattern.made_by
    name = product.maker.name
    return name if link == "the maker" else f"{link[:1].upper()}{link[1:]} {name}"


def address(product: Product, markets: Sequence[str]) -> str:
    """Return the postal address in one line; the country too where it is sold in another."""
    who = product.maker
    region = f"{who.state} {who.postcode}" if who.state else who.postcode
    parts = [who.street, who.city, region.replace(" ", NO_BREAK_SPACE)]
    if any(market.partition("-")[0] != who.country for market in markets):
        parts.append(places.country(who.country))
    return ", ".join(part for part in parts if part)


def count(product: Product, markets: Sequence[str]) -> str:
    """Return the number of units in a pack."""
    return str(product.pattern.pack)


def units(product: Product, markets: Sequence[str]) -> str:
    """Return what is counted, in capitals, which may stand lower than small letters."""
    word = (noun(product.pattern.kind) or "piece").upper()
    plural_word = f"{word[:-1]}IES" if word == "FLY" else f"{word}S"
    return word if product.pattern.pack == 1 else plural_word


def weight(product: Product, markets: Sequence[str]) -> str:
    """Return the head's weight in both systems, the one it was stated in first."""
    stated = product.weight
    if stated.unit == "oz":
        return f"{stated.oz_text} ({stated.g_text})"
    return f"{stated.g_text} ({stated.oz_text})"


def alloy(product: Product, markets: Sequence[str]) -> str:
    """Return the head's metal, as the maker calls it."""
    name = product.alloy.name
    return name if name[1:2].isupper() else name[:1].lower() + name[1:]


def metals(product: Product, markets: Sequence[str]) -> str | None:
    """Return what the head's alloy is made of, the most of it first."""
    shares = product.alloy.composition
    listed = sorted(shares, key=lambda name: -shares[name])
    return ", ".join(name for name in listed if shares[name] > 0) or None


def country(product: Product, markets: Sequence[str]) -> str | None:
    """Return the English name of the country where it is made."""
    made_in = product.pattern.made_in
    return places.country(made_in) if made_in else None


def place(product: Product, markets: Sequence[str]) -> str:
    """Return where in the US it is tied, as far as the maker's address tells."""
    who = product.maker
    if who.country == "US" and who.state:
        return f"{places.state(who.state)}, USA"
    return "the USA"


def short_place(product: Product, markets: Sequence[str]) -> str:
    """Return where in the US it is tied, shortly."""
    who = product.maker
    if who.country == "US" and who.state:
        return f"{who.state}, USA"
    return "USA"


def imports(product: Product, markets: Sequence[str]) -> str | None:
    """Return what is imported, or that nothing is; None where origins are not stated.

    A claim names no more than is known: where some origins are not stated and others are
    foreign, the parts are imported, and which ones is left open.
    """
    hook = product.hook.origin
    others = [part.origin for part in dressing(product)]
    foreign_others = any(code not in (None, "US") for code in others)
    if hook is None:
        return None
    if None in others:
        return "imported parts" if hook != "US" or foreign_others else None
    hooks = "hook" if product.pattern.pack == 1 else "hooks"
    if hook != "US":
        return f"imported {hooks} and materials" if foreign_others else f"imported {hooks}"
    return "imported materials" if foreign_others else f"US {hooks} and materials"


def dressing(product: Product) -> list[Material]:
    """Return every material but the hook's own steel, whose origin is the hook's."""
    steel = product.hook.material
    return [
        part for name, part in product.materials.items() if name != steel and part.kind != "steel"
    ]


def care(product: Product, markets: Sequence[str]) -> str | None:
    """Return how to care for it, as the maker says."""
    return product.pattern.care


def excise(product: Product, markets: Sequence[str]) -> None:
    """Return nothing: only whoever makes the price list knows whether tax is in its prices."""


FIELDS: dict[str, Field] = {
    "identity": identity,
    "maker": maker,
    "address": address,
    "count": count,
    "units": units,
    "weight": weight,
    "alloy": alloy,
    "metals": metals,
    "country": country,
    "place": place,
    "short_place": short_place,
    "imports": imports,
    "care": care,
    "excise": excise,
}
