"""What a shop pays and what it keeps: tiers, rounding, margin, keystone, excise tax.

Money is decimal from end to end; shares are exact fractions. Nothing here is a float.
"""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

from labeler.catalog.model import Tier

CENT = Decimal("0.01")

EXCISE = Fraction(10, 100)
"""The federal excise tax on sport fishing equipment. Source: 26 USC 4161(a)(1)."""


def dealer_price(retail: Decimal, tier: Tier) -> Decimal:
    """Return what one pack costs at ``tier``, rounded half up to the tier's step.

    Raises:
        ValueError: if the tier rounds to steps of nothing.
    """
    if tier.round_to <= 0:
        raise ValueError("a step of nothing to round to")
    return _rounded(Fraction(retail) * (1 - tier.off), tier.round_to)


def margin(dealer: Decimal, retail: Decimal) -> Fraction:
    """Return the share of the retail price that the shop keeps; nought where there is no price."""
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

    The tax is reckoned on the price without the tax. Source: 26 USC 4216(a), 4161(a).
    """
    return _rounded(Fraction(price) * EXCISE / (1 + EXCISE), CENT)


def excise_on_top(price: Decimal) -> Decimal:
    """Return the excise tax that is added to a price without it: price x 10 %, to the cent.

    Source: 26 USC 4161(a)(1).
    """
    return _rounded(Fraction(price) * EXCISE, CENT)


def _rounded(value: Fraction, step: Decimal) -> Decimal:
    """Return ``value`` to the nearest multiple of ``step``, half up, with cents at the least."""
    steps = math.floor(value / Fraction(step) + Fraction(1, 2))
    exact = steps * step
    return exact.quantize(CENT) if exact == exact.quantize(CENT) else exact
