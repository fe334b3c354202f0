"""What a shop pays and what it keeps: tiers, rounding, margin, keystone, excise tax.

Money is decimal from end to end; shares are exact fractions. Nothing here is a float.
"""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

from labeler.catalog.model import Tier

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


def excise_within(price: Decimal) -> Decimal:
    """Return the excise tax that a price holds: price x 10/110, to the cent.

    The tax is a share of the price without the tax. Source: 26 USC 4216(a), 4161(a).
    """
    return _rounded(Fraction(price) * EXCISE / (1 + EXCISE), _CENT)


def excise_on_top(price: Decimal) -> Decimal:
    """Return the excise tax that is added to a price without it: price x 10 %, to the cent.

    Source: 26 USC 4161(a)(1).
    """
    return _rounded(Fraction(price) * EXCISE, _CENT)


def excise_within_retail(price: Decimal) -> Decimal:
    """Return the excise tax in a retail price of a maker who only sells at retail, to the cent.

    It is 10 % of 60 % of the price without the tax, so 6/106 of the price that holds it.
    """
    rate = EXCISE * RETAIL_BASE
    return _rounded(Fraction(price) * rate / (1 + rate), _CENT)


def excise_on_top_of_retail(price: Decimal) -> Decimal:
    """Return the excise tax that such a maker adds to a price without it, to the cent: 6 %."""
    return _rounded(Fraction(price) * EXCISE * RETAIL_BASE, _CENT)


def _rounded(value: Fraction, step: Decimal) -> Decimal:
    """Return ``value`` to the nearest multiple of ``step``, half up, with cents at the least."""
    exact = math.floor(value / Fraction(step) + Fraction(1, 2)) * step
    return exact.quantize(_CENT) if exact == exact.quantize(_CENT) else exact
