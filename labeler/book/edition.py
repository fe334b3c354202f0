"""Which book it is: for whom, at which prices, of which products, on what paper."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal, TypeVar

from labeler.book.prices import dealer_price
from labeler.catalog.choose import choose
from labeler.catalog.model import Catalog, Dealer, Product, Tier
from labeler.findings import Finding, LabelerError, Place, did_you_mean, stop
from labeler.layout.setup import InkMode
from labeler.units import Length

Audience = Literal["dealer", "retail"]
Paper = Literal["letter", "a4"]
Kind = TypeVar("Kind", Tier, Dealer)

_PAPERS = {
    "letter": (Length.from_inches(8.5).pt, Length.from_inches(11).pt),
    "a4": (Length.from_mm(210).pt, Length.from_mm(297).pt),
}
"""Source: ANSI/ASME Y14.1 size A; ISO 216."""

MOST_TIERS = 3
"""More columns of prices than these do not stand side by side in a table that can be read."""


@dataclass(frozen=True, slots=True)
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
    ink: InkMode = "colour"

    def facts(self) -> dict[str, Any]:
        """Return which book it is, for whoever checks it: nothing that can be reckoned anew.

        A book for buyers so names neither tier nor dealer.
        """
        terms = self.catalog.file.terms
        said: dict[str, Any] = {
            "edition": self.audience,
            "day": self.day.isoformat(),
            "listed": (terms.listed or self.day).isoformat(),
            "catalog": self.catalog.fingerprint,
            "markets": list(dict.fromkeys(m for p in self.products for m in p.markets)),
        }
        if len(self.products) < len(self.catalog.products):
            said["skus"] = [product.sku for product in self.products]
        if self.tiers:
            said["tiers"] = [tier.name for tier in self.tiers]
        if self.dealer:
            said["dealer"] = self.dealer.name
        return said

    @property
    def for_dealers(self) -> bool:
        """Whether it holds what shops pay."""
        return self.audience == "dealer"

    @property
    def currency(self) -> str:
        """The ISO 4217 code of all prices."""
        return self.catalog.file.sale.currency

    def price(self, product: Product, tier: Tier) -> Decimal | None:
        """Return what a pack of ``product`` costs at ``tier``; None where it has no price."""
        return None if product.price is None else dealer_price(product.price, tier)


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
    wanted = tier or (dealer.tier if dealer else "") or ""
    if wanted:
        return (_named(known, wanted, "tier", "tiers"),)
    if not known:
        raise LabelerError(
            stop("no-tiers", Place(file="catalog.toml", key="tiers"),
                 "the catalog has no price tier, so nothing says what a dealer pays",
                 hint='Add one, such as [tiers.dealer] with name = "Dealer" and off = "40 %".')
        )  # fmt: skip
    tiers = sorted(known.values(), key=lambda one: one.at_least)
    if len(tiers) > MOST_TIERS:
        raise LabelerError(
            stop("too-many-tiers", Place(key="tier"), "these tiers do not stand side by side",
                 found=", ".join(known), expected=f"at most {MOST_TIERS}",
                 hint="Choose one with --tier.")
        )  # fmt: skip
    return tuple(tiers)


def dealer_called(catalog: Catalog, wanted: str) -> Dealer:
    """Return the dealer by key or name.

    Raises:
        LabelerError: if there is none, with the nearest name.
    """
    return _named(catalog.file.dealers, wanted, "dealer", "dealers")


def _named(known: dict[str, Kind], wanted: str, what: str, key: str) -> Kind:
    plain = wanted.strip().casefold()
    for name, one in known.items():
        if plain in (name.casefold(), one.name.casefold()):
            return one
    raise LabelerError(
        stop(f"unknown-{what}", Place(file="catalog.toml", key=key),
             f"there is no {what} called {wanted!r}", hint=did_you_mean(wanted, sorted(known)))
    )  # fmt: skip


def picked(catalog: Catalog, only: Sequence[str]) -> tuple[Product, ...]:
    """Return the products of the patterns, SKUs or SKU patterns in ``only``; all if it is empty.

    Raises:
        LabelerError: with a finding for each word that fits nothing on sale, or if nothing is.
    """
    if not only:
        products = catalog.products
    else:
        skus = {sku for word in only for sku in _skus(catalog, word)}
        loose = [word for word in only if not any(_skus(catalog, word))]
        skus |= {product.sku for product in choose(catalog, loose)} if loose else set()
        products = tuple(product for product in catalog.products if product.sku in skus)
    if not products:
        raise LabelerError(
            stop("nothing-on-sale", Place(file="catalog.toml"), "there is no product to show")
        )
    return products


def _skus(catalog: Catalog, word: str) -> list[str]:
    """Return the SKUs of the pattern called ``word``, by its key, name or code."""
    plain = word.strip().casefold()
    codes = {
        pattern.code
        for key, pattern in catalog.file.patterns.items()
        if plain in (key.casefold(), pattern.name.casefold(), pattern.code.casefold())
    }
    return [product.sku for product in catalog.products if product.pattern.code in codes]


def tier_faults(tiers: Sequence[Tier]) -> list[Finding]:
    """Return a finding for each tier that can't be reckoned with."""
    return [
        stop("tier-round-to", Place(file="catalog.toml", key=f"tiers {tier.name}"),
             "prices can't be rounded to steps of nothing", found=f"round_to = {tier.round_to}",
             expected='a step such as "0.05"')
        for tier in tiers
        if tier.round_to <= 0
    ]  # fmt: skip
