"""Amounts and discounts in a book's running text are the catalog's, too."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from fractions import Fraction

from labeler.catalog.model import Product, Terms, Tier
from labeler.checker import money
from labeler.checker.book_pages import SeenPage, SeenPlace
from labeler.checker.rulebook import asks, finding
from labeler.findings import Finding

_EXCISE = Fraction(10, 100)
"""Of the price without the tax. Source: 26 USC 4161(a)(1), 4216(a)."""

_AT_RETAIL_ONLY = Fraction(6, 100)
"""Ten per cent of 60 % of the price. Source: Rev. Rul. 80-273 as modified by Rev. Rul. 81-226."""

_OFF = re.compile(r"\b(\d+)\s?% off the suggested retail price on orders of ([\d,]+) packs?\b")
_HALF = Fraction(1, 2)


class Amounts:
    """Every amount of money that a book may name beside its tables."""

    def __init__(
        self, products: Sequence[Product], tiers: Sequence[Tier], terms: Terms, own_words: str
    ) -> None:
        self.tiers = tiers
        self.currency = products[0].currency if products else ""
        prices = {product.price for product in products if product.price is not None}
        paid = {p for each in products for t in tiers if (p := money.at_tier(each, t)) is not None}
        self._known = prices | paid | {price * 2 for price in paid}
        self._known |= {tier.round_to for tier in tiers}
        self._own = {each.value for each in money.amounts(own_words, self.currency)}
        if terms.minimum is not None:
            self._known.add(terms.minimum)
        for price in (*prices, *paid):
            for rate in (_EXCISE, _AT_RETAIL_ONLY):
                self._known |= set(_taxes(price, rate, terms))

    def holds(self, amount: money.Amount) -> bool:
        """Tell whether an amount is the catalog's, or stands in the maker's own words."""
        return amount.value in self._known or amount.value in self._own


def _taxes(price: Decimal, rate: Fraction, terms: Terms) -> Iterator[Decimal]:
    """Yield the tax in a price; or the tax on top of it, and what both come to."""
    if terms.excise == "included":
        yield _to_the_cent(Fraction(price) * rate / (1 + rate))
    else:
        on_top = _to_the_cent(Fraction(price) * rate)
        yield from (on_top, price + on_top)


def _to_the_cent(value: Fraction) -> Decimal:
    return Decimal(math.floor(value * 100 + _HALF)) / 100


@asks("price-stray", "tier-wrong")
def strayed(leaf: SeenPlace, page: SeenPage, known: Amounts) -> Iterator[Finding]:
    """Yield the amounts and discounts of a leaf, beside its tables, that are not the catalog's."""
    for passage in leaf.passages:
        for amount in money.amounts(passage.text, known.currency):
            box = passage.box_of(amount.first, amount.end)
            in_table = box is not None and page.within(box, "entry", "order")
            if not in_table and not known.holds(amount):
                yield finding("price-stray", leaf.place(box), found=amount.said)
        for hit in _OFF.finditer(passage.text):
            off, least = int(hit[1]), int(hit[2].replace(",", ""))
            if (off, least) not in _discounts(known.tiers):
                yield finding(
                    "tier-wrong", leaf.place(passage.box_of(hit.start(), hit.end())), found=hit[0],
                    expected=" or ".join(
                        f"{off} % from {least:,} on" for off, least in _discounts(known.tiers)
                    ),
                )  # fmt: skip


def _discounts(tiers: Iterable[Tier]) -> list[tuple[int, int]]:
    """Return what comes off at each tier, in whole per cent, and from how many packs on."""
    return [(math.floor(tier.off * 100 + _HALF), tier.at_least) for tier in tiers]
