"""The terms: prices and when they hold, the least order, freight, returns, tax, how to order."""

from __future__ import annotations

from collections.abc import Iterator

from labeler.book.cover import dates_of, reach
from labeler.book.edition import Edition
from labeler.book.flow import Unit
from labeler.book.prices import (
    EXCISE,
    RETAIL_BASE,
    excise_on_top,
    excise_on_top_of_retail,
    excise_within,
    excise_within_retail,
    percent,
)
from labeler.book.said import Sayings
from labeler.book.setter import Setter
from labeler.book.units import Labelled
from labeler.catalog.model import Product
from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.findings import Place
from labeler.layout.facts import amount_text
from labeler.press.leaf import Element


def terms_units(setter: Setter, edition: Edition, path: tuple[Element, ...]) -> list[Unit]:
    """Return the terms, a field and its words each."""
    lists = (*path, Element("L", "terms.list"))
    units: list[Unit] = []
    for number, (name, says, link) in enumerate(_lines(edition)):
        place = Place(block=f"terms, {name.lower()}")
        units.append(
            Labelled(
                setter.words("field", name, place=place),
                setter.words("book-text", says, place=place, scale=1.08),
                (*lists, Element("LI", f"terms.{number}")),
                indent=96.0,
                gap=9.0,
                link=link,
            )
        )
    return units


def _lines(edition: Edition) -> Iterator[tuple[str, str, str]]:
    terms = edition.catalog.file.terms
    yield "Prices", f"{dates_of(edition)}. All in {edition.currency}.", ""
    if edition.for_dealers:
        yield from _dealer_lines(edition)
    else:
        yield "Quantity", "Each price is for one pack, whose count stands beside it.", ""
    excise = _excise(edition)
    if excise:
        yield "Excise tax", excise, ""
    if terms.notes:
        yield "Good to know", terms.notes, ""
    names = ("By post", "By telephone", "By e-mail", "On the web")
    ways = reach(edition.catalog.file.maker)
    kinds = {"tel:": names[1], "mailto:": names[2], "http": names[3]}
    for text, link in ways:
        name = next((said for start, said in kinds.items() if link.startswith(start)), names[0])
        yield name, text, link
    yield "No legal advice", NO_LEGAL_ADVICE, ""


def _dealer_lines(edition: Edition) -> Iterator[tuple[str, str, str]]:
    terms = edition.catalog.file.terms
    currency = edition.currency
    for tier in edition.tiers:
        packs = "pack" if tier.at_least == 1 else "packs"
        says = (
            f"{percent(tier.off)} off the suggested retail price on orders of {tier.at_least:,} "
            f"{packs} or more, to the nearest {amount_text(tier.round_to, currency)}."
        )
        yield f"{tier.name} prices", says, ""
    yield (
        "Margin and keystone",
        (
            "Margin is what the shop keeps of the suggested retail price. Keystone is twice the "
            "dealer price; it is shown so that you can set a price of your own."
        ),
        "",
    )
    if terms.minimum is not None:
        yield "Least order", f"{amount_text(terms.minimum, currency)} at dealer prices.", ""
    carried = (("Lead time", terms.lead_time), ("Freight", terms.freight),
              ("Payment", terms.payment), ("Returns", terms.returns))  # fmt: skip
    for name, words in carried:
        if words:
            yield name, words, ""


def _at_retail(edition: Edition, product: Product) -> str:
    """Return the arithmetic for a maker who sells at retail only; else nothing.

    Whoever sells to shops too reckons the tax on retail sales by what those pay, which is nobody's
    matter here.
    """
    file = edition.catalog.file
    if file.tiers or file.dealers or product.price is None:
        return ""
    price, shown = product.price, amount_text(product.price, edition.currency)
    rate, share = percent(EXCISE), percent(RETAIL_BASE)
    base = f"We sell at retail only, so it is {rate} of {share} of the price without it"
    if file.terms.excise == "included":
        tax = amount_text(excise_within_retail(price), edition.currency)
        return f"{base}, 6/106 of the price here: of {shown} for {product.sku}, {tax} is tax."
    on_top = excise_on_top_of_retail(price)
    added, whole = (amount_text(each, edition.currency) for each in (on_top, price + on_top))
    return f"{base}: {shown} for {product.sku} and {added} of tax make {whole}."


def _excise(edition: Edition) -> str:
    """Return the statement on the federal excise tax, with the arithmetic on one price."""
    sayings = Sayings(edition)
    said = next((text for text in map(sayings.excise, edition.products) if text), "")
    product = next((p for p in edition.products if p.price is not None), None)
    if not said or product is None:
        return said
    if not edition.for_dealers:
        return f"{said} {_at_retail(edition, product)}".strip()
    price = edition.price(product, edition.tiers[0])
    assert price is not None  # a product with a retail price has a dealer price
    shown = amount_text(price, edition.currency)
    rate = percent(EXCISE)
    if edition.catalog.file.terms.excise == "included":
        within = amount_text(excise_within(price), edition.currency)
        return (
            f"{said} The tax is {rate} of the price without it, so 10/110 of the price here: of "
            f"{shown} for {product.sku}, {within} is tax."
        )
    tax, whole = excise_on_top(price), price + excise_on_top(price)
    return (
        f"{said} It comes on top, at {rate}: {shown} for {product.sku} and "
        f"{amount_text(tax, edition.currency)} of tax make {amount_text(whole, edition.currency)}. "
        "The margins shown are reckoned without it."
    )
