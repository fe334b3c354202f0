"""The arithmetic of GTINs: check digits, the fourteen-digit form, and what a prefix is kept for.

Digits are never stripped or repaired here: what a person typed is tidied where it is read.
"""

from __future__ import annotations

from typing import Literal

LENGTHS = (8, 12, 13, 14)
"""How many digits a GTIN has. Source: GS1 General Specifications, 3.3 (element strings)."""

PrefixKind = Literal["ordinary", "demo", "restricted", "reserved"]

_DIGITS = frozenset("0123456789")

_KEPT: tuple[tuple[int, int, PrefixKind], ...] = (
    (20, 29, "restricted"),
    (40, 49, "restricted"),
    (50, 59, "reserved"),
    (200, 299, "restricted"),
    (952, 952, "demo"),
    (977, 984, "reserved"),
    (990, 999, "reserved"),
)
"""First and last three-digit GS1 Prefix of a range, and what it is kept for.

Source: GS1 General Specifications, 1.4 (GS1 Prefixes): 02, 04 and 2 restricted circulation
within a region, 05 and 98 to 99 coupons and refund receipts, 977 serials, 978 and 979 books, 952
demonstrations and examples. The wording for 952 is from memory.
"""

_KEPT_OF_EIGHT: tuple[tuple[int, int, PrefixKind], ...] = (
    (0, 99, "restricted"),
    *(row for row in _KEPT if row[0] >= 200),
)
"""The same for the GS1-8 Prefix: an EAN-8 that begins with 0 or 2 is of the shop's own making.

Source: GS1 General Specifications, 1.4 (GS1-8 Prefixes), from memory.
"""


def check_digit(body: str) -> str:
    """Return the digit that closes ``body``, whatever its length.

    From the right the digits weigh 3, 1, 3, 1 ...; the check digit brings the sum to a
    multiple of ten.
    Source: GS1 General Specifications, 7.9.1; www.gs1.org/how-calculate-check-digit-manually.

    Raises:
        ValueError: if ``body`` is empty or holds anything but the digits 0 to 9.
    """
    if not body or not _DIGITS.issuperset(body):
        raise ValueError("digits 0 to 9 and nothing else")
    total = sum(int(digit) * (1 if place % 2 else 3) for place, digit in enumerate(reversed(body)))
    return str(-total % 10)


def close(body: str) -> str:
    """Return ``body`` with its check digit."""
    return body + check_digit(body)


def explain(gtin: str) -> str | None:
    """Return why ``gtin`` is no GTIN, as a sentence without its full stop; None if it is one."""
    if not gtin or not _DIGITS.issuperset(gtin):
        return "a GTIN is written in the digits 0 to 9 and nothing else"
    if len(gtin) not in LENGTHS:
        return f"a GTIN has 8, 12, 13 or 14 digits, and this has {len(gtin)}"
    if not gtin.strip("0"):
        return "a GTIN of zeros only names nothing"
    right = check_digit(gtin[:-1])
    if gtin[-1] != right:
        return f"its last digit, the check digit, would have to be {right}, not {gtin[-1]}"
    return None


def as_14(gtin: str) -> str:
    """Return a valid GTIN in the fourteen digits in which GTINs are stored and compared.

    Source: GS1 General Specifications, 3.3.2 (GTINs are right-justified and zero-filled).

    Raises:
        ValueError: with `explain`'s sentence, if ``gtin`` is no GTIN.
    """
    if fault := explain(gtin):
        raise ValueError(fault)
    return gtin.zfill(14)


def prefix_kind(gtin: str) -> PrefixKind:
    """Tell what the prefix of a valid GTIN is kept for.

    ``restricted`` numbers hold within one shop or region and never between companies;
    ``reserved`` ones are no trade items; ``demo`` ones are for samples only.

    Raises:
        ValueError: with `explain`'s sentence, if ``gtin`` is no GTIN.
    """
    whole = as_14(gtin)
    if len(gtin) == 8:
        return _kind(int(gtin[:3]), _KEPT_OF_EIGHT)
    thirteen = whole[1:]
    if thirteen.startswith("0000000"):
        return "restricted"
    return _kind(int(thirteen[:3]), _KEPT)


def company_prefix_kind(prefix: str) -> PrefixKind:
    """Tell the same of a GS1 Company Prefix as GS1 licenses it, at least three digits.

    Raises:
        ValueError: if ``prefix`` is shorter, or holds anything but the digits 0 to 9.
    """
    if len(prefix) < 3 or not _DIGITS.issuperset(prefix):
        raise ValueError("at least three digits, 0 to 9")
    if prefix.startswith("0000000"):
        return "restricted"
    return _kind(int(prefix[:3]), _KEPT)


def _kind(first_three: int, kept: tuple[tuple[int, int, PrefixKind], ...]) -> PrefixKind:
    for low, high, kind in kept:
        if low <= first_three <= high:
            return kind
    return "ordinary"
