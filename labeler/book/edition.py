"""Which book it is: for whom, at which prices, of which products, on what paper, and saying what.

The line is kept as a reader looks it up: by pattern, then by weight and hook, then by colour.
Money is decimal from end to end, shares are exact fractions: no price is ever a float.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Any, Literal, TypeVar

from labeler.catalog.model import Catalog, Dealer, Maker, Pattern, Product, Tier
from labeler.catalog.read import choose
from labeler.catalog.values import web_address
from labeler.disclosures.needed import needed_in_price_list
from labeler.disclosures.rules import country
from labeler.disclosures.statements import Statement
from labeler.findings import (
    Finding,
    LabelerError,
    Place,
    did_you_mean,
    listed,
    note,
    plural,
    refusal,
    stop,
)
from labeler.marks import InkMode
from labeler.units import Length, Weight

EXCISE = Fraction(10, 100)
"""The federal excise tax on sport fishing equipment. Source: 26 USC 4161(a)(1)."""

RETAIL_BASE = Fraction(60, 100)
"""The share of its retail price on which a maker is taxed who sells to no wholesale trade.

The tax on what is sold at retail goes by what wholesale distributors would pay, 26 USC
4216(b)(1). Where there are none that price is taken as a share of the actual price, once what
section 4216(a) leaves out of it is left out: three quarters by Rev. Rul. 80-273, 60 % for sport
fishing equipment by Rev. Rul. 81-226, as quoted at tackleunderground.com.
"""

_CENT = Decimal("0.01")


def dealer_price(retail: Decimal, tier: Tier) -> Decimal:
    """Return what one pack costs at ``tier``, rounded half up to the tier's step.

    Raises:
        ValueError: if the tier rounds to steps of nothing.
    """
    if tier.round_to <= 0:
        raise ValueError("a step of nothing to round to")
    return _rounded(Fraction(retail) * (1 - tier.off), tier.round_to)


def margin(dealer: Decimal, retail: Decimal) -> Fraction:
    """Return the share of the retail price that the shop keeps; zero where there is no price."""
    return Fraction(retail - dealer) / Fraction(retail) if retail else Fraction(0)


def percent(share: Fraction) -> str:
    """Return a share to the nearest whole per cent, half up."""
    return f"{math.floor(share * 100 + Fraction(1, 2))}\N{NO-BREAK SPACE}%"


def keystone(dealer: Decimal) -> Decimal:
    """Return twice the dealer price, the retail price that shops call keystone.

    Common practice, no published source.
    """
    return dealer * 2


def excise_within(price: Decimal, base: Fraction = Fraction(1)) -> Decimal:
    """Return the excise tax that a price holds, to the cent: price x 10/110.

    The tax is a share of the price without the tax. Source: 26 USC 4216(a), 4161(a). With a
    ``base`` of `RETAIL_BASE` it is 6/106 of the price.
    """
    rate = EXCISE * base
    return _rounded(Fraction(price) * rate / (1 + rate), _CENT)


def excise_on_top(price: Decimal, base: Fraction = Fraction(1)) -> Decimal:
    """Return the excise tax that is added to a price without it, to the cent: price x 10 %.

    Source: 26 USC 4161(a)(1). With a ``base`` of `RETAIL_BASE` it is 6 %.
    """
    return _rounded(Fraction(price) * EXCISE * base, _CENT)


def _rounded(value: Fraction, step: Decimal) -> Decimal:
    """Return ``value`` to the nearest multiple of ``step``, half up, with cents at the least."""
    exact = math.floor(value / Fraction(step) + Fraction(1, 2)) * step
    return exact.quantize(_CENT) if exact == exact.quantize(_CENT) else exact


Audience = Literal["dealer", "retail"]
Paper = Literal["letter", "a4"]
Named = TypeVar("Named", Tier, Dealer)

_PAPERS = {
    "letter": (Length.from_inches(8.5).pt, Length.from_inches(11).pt),
    "a4": (Length.from_mm(210).pt, Length.from_mm(297).pt),
}
"""Source: ANSI/ASME Y14.1 size A; ISO 216."""

_BOOKLET_WIDEST = 450.0
"""Points: pages narrower than this are a booklet's."""

_MOST_TIERS = 3
"""More columns of prices than these do not stand side by side in a table that can be read."""


@dataclass(frozen=True)
class Edition:
    """One book. A retail edition has neither tiers nor a dealer, so that it can't print either.

    ``width`` and ``height`` are a page's, trimmed, in points.
    """

    catalog: Catalog
    products: tuple[Product, ...]
    audience: Audience
    day: dt.date
    width: float
    height: float
    bleed: float = 0.0
    tiers: tuple[Tier, ...] = ()
    dealer: Dealer | None = None
    live: bool = True
    """Whether it is for reading, with links and fields, or a booklet to be printed."""
    keystone: bool = False
    """Whether twice the dealer price stands beside it."""
    prices: bool = False
    """Whether it is a price list by itself."""
    ready: frozenset[str] | None = None
    """The SKUs of which packs lie ready on the day; None where no ledger tells, or nobody asks."""
    ink: InkMode = "colour"

    def facts(self) -> dict[str, Any]:
        """Return which book it is, for whoever checks it: nothing that the catalog can tell.

        A book for buyers so names neither tier nor dealer.
        """
        terms = self.catalog.file.terms
        facts: dict[str, Any] = {
            "edition": self.audience,
            "day": self.day.isoformat(),
            "listed": (terms.listed or self.day).isoformat(),
            "catalog": self.catalog.fingerprint,
            "markets": list(dict.fromkeys(m for p in self.products for m in p.markets)),
        }
        if len(self.products) < len(self.catalog.products):
            facts["skus"] = [product.sku for product in self.products]
        if self.tiers:
            facts["tiers"] = [tier.name for tier in self.tiers]
        if self.dealer:
            facts["dealer"] = self.dealer.name
        if self.keystone:
            facts["keystone"] = True
        if self.prices:
            facts["prices"] = True
        if self.ready is not None:
            facts["ready"] = sorted(self.ready)
        return facts

    @property
    def for_dealers(self) -> bool:
        """Whether it holds what shops pay."""
        return self.audience == "dealer"

    @cached_property
    def slim(self) -> bool:
        """Whether it is of one pattern alone, which needs no contents and no index."""
        return len({product.pattern.code for product in self.products}) == 1

    @property
    def backed(self) -> bool:
        """Whether it ends in a back cover: a shop's leaves on one pattern end in the form."""
        return not (self.slim and self.for_dealers and self.live)

    @property
    def small(self) -> bool:
        """Whether the pages are a booklet's."""
        return self.width < _BOOKLET_WIDEST

    @property
    def currency(self) -> str:
        """The ISO 4217 code of all prices."""
        return self.catalog.file.sale.currency

    def price(self, product: Product, tier: Tier) -> Decimal | None:
        """Return what a pack of ``product`` costs at ``tier``; None where it has no price."""
        return None if product.price is None else dealer_price(product.price, tier)


def title_of(edition: Edition) -> str:
    """Return what the book is called."""
    if edition.prices:
        return "Dealer price list" if edition.for_dealers else "Price list"
    return "Dealer catalog" if edition.for_dealers else "Catalog"


def dates_of(edition: Edition) -> str:
    """Return from when to when the prices hold, in words."""
    terms = edition.catalog.file.terms
    start, end = terms.listed or edition.day, terms.valid_until
    since = f"Prices from {long_date(start)}"
    return f"{since}, valid until {long_date(end)}" if end else since


def long_date(day: dt.date) -> str:
    """Return the day with its month in words."""
    return f"{day.day} {day:%B %Y}"


def page_size(paper: Paper, booklet: bool) -> tuple[float, float]:
    """Return a page's width and height in points; a booklet's is half a sheet that lies."""
    width, height = _PAPERS[paper]
    return (height / 2, width) if booklet else (width, height)


def tiers_for(catalog: Catalog, tier: str, dealer: Dealer | None) -> tuple[Tier, ...]:
    """Return the tiers whose prices stand in a dealer's book.

    The tier asked for, or the dealer's own, or else all of them, cheapest to reach first.

    Raises:
        LabelerError: if there is no such tier, none at all, or more than fit side by side.
    """
    known = catalog.file.tiers
    name = tier or (dealer.tier if dealer else "")
    if name:
        return (_named(known, name, "tier", "tiers"),)
    if not known:
        raise refusal(
            "no-tiers", Place(file="catalog.toml", key="tiers"),
            "the catalog has no price tier, so nothing says what a dealer pays",
            hint='Add one, such as [tiers.dealer] with name = "Dealer" and off = "40 %".',
        )  # fmt: skip
    if len(known) > _MOST_TIERS:
        raise refusal(
            "too-many-tiers", Place(key="tier"), "these tiers do not stand side by side",
            found=", ".join(known), expected=f"at most {_MOST_TIERS}",
            hint="Choose one with --tier.",
        )  # fmt: skip
    return tuple(sorted(known.values(), key=lambda one: one.at_least))


def tier_faults(tiers: Sequence[Tier]) -> list[Finding]:
    """Return a finding for each tier whose prices can't be computed."""
    return [
        stop("tier-round-to", Place(file="catalog.toml", key=f"tiers {tier.name}"),
             "prices can't be rounded to steps of nothing", found=f"round_to = {tier.round_to}",
             expected='a step such as "0.05"')
        for tier in tiers
        if tier.round_to <= 0
    ]  # fmt: skip


def dealer_called(catalog: Catalog, name: str) -> Dealer:
    """Return the dealer by key or name.

    Raises:
        LabelerError: if there is none, with the nearest name.
    """
    return _named(catalog.file.dealers, name, "dealer", "dealers")


def find_named(known: dict[str, Named], name: str) -> Named | None:
    """Return the tier or dealer by key or name, in whatever letters; None if there is none."""
    plain = name.strip().casefold()
    matches = (one for key, one in known.items() if plain in (key.casefold(), one.name.casefold()))
    return next(matches, None)


def _named(known: dict[str, Named], name: str, what: str, key: str) -> Named:
    if found := find_named(known, name):
        return found
    place, hint = Place(file="catalog.toml", key=key), did_you_mean(name, sorted(known))
    raise refusal(f"unknown-{what}", place, f"there is no {what} called {name!r}", hint=hint)


def picked(
    catalog: Catalog, only: Sequence[str], said: list[Finding] | None = None
) -> tuple[Product, ...]:
    """Return the products of the patterns, SKUs or SKU patterns in ``only``; all if it is empty.

    ``said`` gets a note of every product that was found by its words.

    Raises:
        LabelerError: with a finding for each word that fits nothing on sale, or if nothing is.
    """
    products = catalog.products
    if only:
        by_word = {word: _skus_of_pattern(catalog, word) for word in only}
        skus = {sku for found in by_word.values() for sku in found}
        loose = [word for word, found in by_word.items() if not found]
        skus |= {product.sku for product in choose(catalog, loose, said)} if loose else set()
        products = tuple(product for product in catalog.products if product.sku in skus)
    packs = [product.sku for product in products if product.parts]
    told = note(
        "packs-not-in-book", Place(file="catalog.toml", key="packs"),
        "assorted packs have no page in the book and no line in its order form",
        found=listed(packs),
        hint="Take orders for them by name: labeler order SKU=6 --dealer NAME.",
    )  # fmt: skip
    products = tuple(product for product in products if not product.parts)
    if not products:
        nothing = stop("nothing-on-sale", Place(file="catalog.toml"), "there is no product to show")
        raise LabelerError([nothing, told] if packs else [nothing])
    if packs and said is not None:
        said.append(told)
    return products


def _skus_of_pattern(catalog: Catalog, word: str) -> list[str]:
    """Return the SKUs of the pattern called ``word``, by its key, name or code."""
    plain = word.strip().casefold()
    codes = {
        pattern.code
        for key, pattern in catalog.file.patterns.items()
        if plain in (key.casefold(), pattern.name.casefold(), pattern.code.casefold())
    }
    return [product.sku for product in catalog.products if product.pattern.code in codes]


@dataclass(frozen=True)
class SizeGroup:
    """A pattern in one weight on one hook, in its colours."""

    weight: Weight
    hook_size: str | None
    products: tuple[Product, ...]


@dataclass(frozen=True)
class PatternEntry:
    """One pattern, with all its products that are in the book."""

    number: int
    pattern: Pattern
    products: tuple[Product, ...]

    @property
    def anchor(self) -> str:
        """The name of its place in the book."""
        return f"pattern-{self.pattern.code}"

    @cached_property
    def groups(self) -> tuple[SizeGroup, ...]:
        """Its products by weight and hook, the lightest first."""
        groups: dict[tuple[Weight, str | None], list[Product]] = {}
        for product in self.products:
            groups.setdefault((product.weight, product.hook_size), []).append(product)
        ordered = sorted(groups.items(), key=lambda one: one[0][0])
        return tuple(SizeGroup(*key, tuple(products)) for key, products in ordered)

    @cached_property
    def colourways(self) -> tuple[Product, ...]:
        """The first product of each colour, in the order in which they are shown."""
        first: dict[str, Product] = {}
        for product in self.products:
            first.setdefault(product.colour.code, product)
        return tuple(first.values())

    @cached_property
    def shown(self) -> tuple[Product, ...]:
        """A product of each colour, in the weight of the face where the colour comes in it."""
        face = self.face
        like = {
            product.colour.code: product
            for product in reversed(self.products)
            if (product.weight, product.hook_size) == (face.weight, face.hook_size)
        }
        return tuple(like.get(each.colour.code, each) for each in self.colourways)

    @property
    def face(self) -> Product:
        """The product that stands for the pattern: its first colour in a middling weight.

        A colour that has a recipe goes before one that has none.
        """
        drawn = (product for product in self.products if product.colour.layers)
        colour = next(drawn, self.products[0]).colour.code
        sizes = [product for product in self.products if product.colour.code == colour]
        return sorted(sizes, key=lambda one: one.weight)[(len(sizes) - 1) // 2]

    @cached_property
    def photo(self) -> Product | None:
        """The first product of which there is a photo."""
        return next((product for product in self.products if product.photo), None)


def entries_of(products: Iterable[Product]) -> tuple[PatternEntry, ...]:
    """Return the products by pattern, in the catalog's order."""
    patterns: dict[str, list[Product]] = {}
    for product in products:
        patterns.setdefault(product.pattern.code, []).append(product)
    return tuple(
        PatternEntry(number, found[0].pattern, tuple(found))
        for number, found in enumerate(patterns.values(), 1)
    )


def by_colour(entries: Iterable[PatternEntry]) -> list[tuple[Product, list[PatternEntry]]]:
    """Return a product of every colour, by the colour's name, with the entries that come in it."""
    found: dict[tuple[str, str], tuple[Product, list[PatternEntry]]] = {}
    for entry in entries:
        for product in entry.colourways:
            key = product.colour.name.casefold(), product.colour.code + product.colour.name
            found.setdefault(key, (product, []))[1].append(entry)
    return [found[key] for key in sorted(found)]


def weight_text(weight: Weight) -> str:
    """Return the weight in the unit in which the catalog states it."""
    return weight.oz_text if weight.unit == "oz" else weight.g_text


def weight_and_hook(weight: Weight, hook_size: str | None) -> str:
    """Return what tells a pattern's sizes apart; of a hook whose size is not stated, nothing."""
    return f"{weight_text(weight)}, hook {hook_size}" if hook_size else weight_text(weight)


def photo_says(product: Product) -> str:
    """Return what stands below a product's photo."""
    return f"Photograph: {product.colour.name}, {weight_text(product.weight)}."


def extent_of(products: Sequence[Product]) -> str:
    """Return how much there is of a line, from what weight to what."""
    patterns = plural(len({product.pattern.code for product in products}), "pattern")
    weights = sorted({product.weight for product in products})
    first, last = weight_text(weights[0]), weight_text(weights[-1])
    span = first if len(weights) == 1 else f"{first} to {last}"
    return f"{patterns}, {plural(len(products), 'item')}, {span}"


def contact_ways(maker: Maker) -> list[tuple[str, str]]:
    """Return the ways to reach the maker, each with its live link or none.

    A telephone link holds digits, and a plus where one leads. Source: RFC 3966, 3.
    """
    town = ", ".join(part for part in (maker.city, maker.state) if part)
    place = f"{town} {maker.postcode}, {country(maker.country)}"
    ways = [(", ".join(part for part in (maker.street, place) if part), "")]
    if maker.phone:
        plus = "+" if maker.phone.strip().startswith("+") else ""
        ways.append((maker.phone, f"tel:{plus}{''.join(filter(str.isdigit, maker.phone))}"))
    if maker.email:
        ways.append((maker.email, f"mailto:{maker.email}"))
    if maker.site:
        ways.append((maker.site, web_address(maker.site)))
    return ways


class PriceListStatements:
    """What the book must say beside each product, looked up once for all that are alike."""

    def __init__(self, edition: Edition) -> None:
        self._edition = edition
        self._known: dict[object, tuple[Statement, ...]] = {}

    def of(self, product: Product) -> tuple[Statement, ...]:
        """Return all that must be said of ``product``, in print order."""
        key = alike(product)
        if key not in self._known:
            excise = self._edition.catalog.file.terms.excise
            markets = product.markets
            dealer = self._edition.dealer
            if dealer and dealer.market and dealer.market not in markets:
                markets = (*markets, dealer.market)
            self._known[key] = needed_in_price_list(
                product, markets, self._edition.day, excise=excise
            )
        return self._known[key]

    def quantity(self, product: Product) -> str:
        """Return the quantity that stands beside a price."""
        texts = (one.text for one in self.of(product) if one.kind == "quantity")
        return next(texts, f"Pack of {product.pattern.pack}")

    def excise(self, product: Product) -> str:
        """Return whether prices hold the federal excise tax, empty where it is nobody's matter."""
        return next((one.text for one in self.of(product) if one.kind == "excise"), "")

    def needing(self, products: Iterable[Product]) -> list[tuple[Statement, list[str]]]:
        """Return each statement that stands beside these products, with the SKUs that need it."""
        found: dict[str, tuple[Statement, list[str]]] = {}
        for product in products:
            for statement in self.beside(product):
                found.setdefault(statement.text, (statement, []))[1].append(product.sku)
        return list(found.values())

    def beside(self, product: Product) -> tuple[Statement, ...]:
        """Return what stands with the product itself: warnings, and all else."""
        return tuple(one for one in self.of(product) if one.kind not in ("quantity", "excise"))


def alike(product: Product) -> object:
    """Return a key that is the same for products that no rule tells apart."""
    pattern = product.pattern
    return (pattern.code, pattern.pack, product.weight, product.hook_size, product.markets,
            product.dressing_told, tuple(product.materials))  # fmt: skip
