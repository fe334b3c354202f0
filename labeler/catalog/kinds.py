"""The values a catalog file may hold, each with the way it is typed, checked and described.

Every one is pydantic's `Annotated`: reading, printing and the JSON Schema stand together.
"""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, PlainSerializer, StringConstraints
from pydantic import WithJsonSchema as Described

from labeler.units import Length, Weight

SKU_LETTERS = "A-Z0-9.-"
"""The letters that a QR code's alphanumeric mode, a URI's path and GS1's set 82 have in common.

Source: ISO/IEC 18004, 7.3.4; RFC 3986, 2.3; GS1 General Specifications, 7.11 (figure 7.11-1).
"""


def _read_weight(value: Any) -> Weight:
    if isinstance(value, Weight):
        return value
    if not isinstance(value, str):
        raise ValueError("a weight in quotes with its unit, such as \"3/8 oz\" or \"10.6 g\"")
    return Weight.parse(value)


def _read_length(value: Any) -> Length:
    if isinstance(value, Length):
        return value
    if not isinstance(value, str):
        raise ValueError("a length in quotes with its unit, such as \"3 1/2 in\" or \"90 mm\"")
    return Length.parse(value)


def _read_share(value: Any) -> Fraction:
    """Read ``58 %`` or ``0.01 %``; a bare number is refused, since 1 could be all or a hundredth."""
    if isinstance(value, Fraction):
        return value
    if isinstance(value, str) and (found := re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*%\s*", value)):
        share = Fraction(found[1]) / 100
        if share <= 1:
            return share
    raise ValueError("a share in quotes with its sign, from \"0 %\" to \"100 %\"")


def _print_share(value: Fraction) -> str:
    return f"{Decimal((value * 100).numerator) / Decimal((value * 100).denominator):f} %"


def _read_money(value: Any) -> Decimal:
    """Read ``"4.75"``; a TOML float is refused, since money is never a binary fraction."""
    if isinstance(value, Decimal):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)
    if isinstance(value, str):
        try:
            amount = Decimal(value.strip())
        except InvalidOperation:
            amount = Decimal("NaN")
        if amount.is_finite() and 0 <= amount < Decimal(1_000_000):
            return amount
    raise ValueError('an amount in quotes, such as "4.75"')


def _read_ink(value: str) -> str:
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", value):
        raise ValueError('a colour in quotes as "#rrggbb", such as "#5b5a2b"')
    return value.lower()


def _read_density(value: Any) -> Fraction:
    """Return grams per cubic centimetre."""
    if isinstance(value, Fraction):
        return value
    if isinstance(value, str) and (
        found := re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*g/cm(?:3|³)\s*", value)
    ):
        density = Fraction(found[1])
        if 0 < density < 25:
            return density
    raise ValueError('a density in quotes, such as "11.34 g/cm3"')


def _one_line(value: str) -> str:
    """Fold white space; refuse what cannot stand on a label's line."""
    folded = " ".join(value.split())
    if any(ord(letter) < 32 or ord(letter) == 127 for letter in folded):
        raise ValueError("text without control characters")
    if not folded:
        raise ValueError("some text, not a blank")
    return folded


def _text(example: str, about: str) -> Described:
    return Described({"type": "string", "description": about, "examples": [example]})


ExactWeight = Annotated[
    Weight,
    BeforeValidator(_read_weight),
    PlainSerializer(str, return_type=str),
    _text("3/8 oz", "A weight with its unit, oz or g; a fraction stays exact."),
]
PaperLength = Annotated[
    Length,
    BeforeValidator(_read_length),
    PlainSerializer(str, return_type=str),
    _text("3 1/2 in", "A length with its unit: in, mm, cm or pt."),
]
Share = Annotated[
    Fraction,
    BeforeValidator(_read_share),
    PlainSerializer(_print_share, return_type=str),
    _text("58 %", "A share from 0 % to 100 %, by mass where a material is described."),
]
Money = Annotated[
    Decimal,
    BeforeValidator(_read_money),
    PlainSerializer(str, return_type=str),
    _text("4.75", "An amount of money in the catalog's currency."),
]
Density = Annotated[
    Fraction,
    BeforeValidator(_read_density),
    PlainSerializer(lambda d: f"{float(d):g} g/cm3", return_type=str),
    _text("11.34 g/cm3", "Grams per cubic centimetre."),
]
Ink = Annotated[str, AfterValidator(_read_ink), _text("#5b5a2b", "A colour in sRGB, #rrggbb.")]
Line = Annotated[str, StringConstraints(max_length=200), AfterValidator(_one_line)]
Story = Annotated[str, StringConstraints(max_length=4000)]
Country = Annotated[
    str,
    StringConstraints(pattern=r"^[A-Z]{2}$"),
    _text("US", "A country by its ISO 3166-1 code of two capitals."),
]
Market = Annotated[
    str,
    StringConstraints(pattern=r"^[A-Z]{2}(-[A-Z0-9]{1,3})?$"),
    _text("US-CA", "A place of sale by its ISO 3166 code: a country, or a country and a part of it."),
]
Sku = Annotated[
    str,
    StringConstraints(pattern=rf"^[A-Z0-9][{SKU_LETTERS}]{{0,39}}$"),
    _text("RV-38-40-MLN", "Capitals, digits, full stop and hyphen, at most 40."),
]
CodePart = Annotated[
    str,
    StringConstraints(pattern=r"^[A-Z0-9]{1,12}$"),
    _text("RV", "Capitals and digits, at most 12: one part of a SKU."),
]
HookSize = Annotated[
    str,
    StringConstraints(pattern=r"^(?:[1-9]|1\d|2\d|3[0-2]|(?:[1-9]|1\d|20)/0)$"),
    _text("4/0", 'A hook size as the trade counts it: "4" gets smaller as it grows, "4/0" larger.'),
]
