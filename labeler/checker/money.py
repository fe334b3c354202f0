"""Money as it is printed and as it is reckoned: from the catalog alone, all of it decimal."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from labeler.catalog.model import Product, Tier

_FIGURES = r"(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?|\.\d+|\d+,\d\d"
_AMOUNT = re.compile(
    rf"(?<![\w.,-])(?P<sign>[A-Z]{{1,2}}[$€£¥]|[$€£¥]|[A-Z]{{3}})\s?(?P<figures>{_FIGURES})"
    r"(?![\w-]|[.,]\d)"
    rf"|(?<![\w.,$€£¥-])(?P<ahead>{_FIGURES})\s?(?P<behind>[$€£¥]|[A-Z]{{3}})(?!\w|\s?\.?\d)"
)
_CENTS_AFTER_COMMA = re.compile(r"\d+,\d\d")
_SIGNS = {"$": ("USD", "CAD", "AUD", "NZD"), "€": ("EUR",), "£": ("GBP",), "¥": ("JPY", "CNY")}
"""Which currencies a sign alone may stand for."""

_HALF = Fraction(1, 2)


@dataclass(frozen=True, slots=True)
class Amount:
    """An amount of money that stands in a text."""

    said: str
    sign: str
    value: Decimal
    first: int
    end: int

    def is_in(self, currency: str) -> bool:
        """Tell whether its sign is one of a currency's."""
        return self.sign == currency or currency in _SIGNS.get(self.sign, ())


def amounts(text: str, currency: str = "") -> Iterator[Amount]:
    """Yield every amount of money in a text: a sign or an ISO 4217 code, and figures.

    Three capitals and a whole number may be anything, such as USA 54899, and so may any number
    before three capitals: they are an amount only of ``currency``.
    """
    for hit in _AMOUNT.finditer(text):
        sign, figures = hit["sign"] or hit["behind"], hit["figures"] or hit["ahead"]
        fraction = hit["sign"] and "." in figures
        if sign.isalpha() and sign != currency and not fraction:
            continue
        yield Amount(hit[0], sign, _value(figures), hit.start(), hit.end())


def _value(figures: str) -> Decimal:
    comma = "." if _CENTS_AFTER_COMMA.fullmatch(figures) else ""
    return Decimal(figures.replace(",", comma))


def at_tier(product: Product, tier: Tier) -> Decimal | None:
    """Return what a pack costs at a tier: half a step goes up. None where it has no price."""
    if product.price is None or tier.round_to <= 0:
        return None
    exact = Fraction(product.price) * (1 - tier.off) / Fraction(tier.round_to)
    return math.floor(exact + _HALF) * tier.round_to


def margin(dealer: Decimal, retail: Decimal) -> int:
    """Return the share of the retail price that a shop keeps, in whole per cent, half up."""
    if not retail:
        return 0
    return math.floor(Fraction(retail - dealer) * 100 / Fraction(retail) + _HALF)
