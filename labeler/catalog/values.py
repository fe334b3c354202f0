"""The values a catalog file may hold, each with the way it is typed, checked and described.

Every one is pydantic's `Annotated`: reading, printing and the JSON Schema stand together. What is
printed reads back as the same value, to the last digit.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from string import ascii_letters, digits
from typing import Annotated, Any
from urllib.parse import unquote, urlsplit
from zoneinfo import ZoneInfo

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    GetCoreSchemaHandler,
    PlainSerializer,
    StringConstraints,
)
from pydantic import WithJsonSchema as Described
from pydantic_core import core_schema

from labeler.catalog import gtin
from labeler.units import POINTS_PER_INCH, Length, Weight, print_decimal

SKU_LETTERS = "A-Z0-9.-"
"""The letters that a QR code's alphanumeric mode, a URI's path and GS1's set 82 have in common.

Source: ISO/IEC 18004, 7.3.4; RFC 3986, 2.3; GS1 General Specifications, 7.11 (figure 7.11-1).
"""

HEAVIEST_GRAMS = 5_000
"""No jig weighs as much; what does is a slip of the pen. Common sense, no published source."""

LONGEST_PT = 100 * POINTS_PER_INCH
"""No bag is as long; what is, is a slip of the pen. Common sense, no published source."""

_BEGINS_WITH_A_NUMBER = r"^\s*[.0-9¼-¾⅐-⅞].*[A-Za-z.\"″³3]\s*$"


def _read_count(value: Any) -> Any:
    if isinstance(value, bool):
        raise ValueError("a whole number, such as 2")
    return value


COUNTED = BeforeValidator(_read_count)
"""A whole number; yes and no are none, though Python counts them as 1 and 0."""


def read_weight(value: Any) -> Weight:
    """Read ``"3/8 oz"`` or ``"10.6 g"``; a bare number is refused."""
    if isinstance(value, Weight):
        return value
    if not isinstance(value, str):
        raise ValueError('a weight in quotes with its unit, such as "3/8 oz" or "10.6 g"')
    weight = Weight.parse(value)
    if weight.grams > HEAVIEST_GRAMS:
        raise ValueError(f"a weight under {HEAVIEST_GRAMS} g")
    return weight


def _read_length(value: Any) -> Length:
    if isinstance(value, Length):
        return value
    if not isinstance(value, str):
        raise ValueError('a length in quotes with its unit, such as "3 1/2 in" or "90 mm"')
    try:
        length = Length.parse(value)
    except OverflowError:
        length = Length(LONGEST_PT + 1)
    if not 0 < length.pt <= LONGEST_PT:
        raise ValueError("a length above 0 and up to 100 in")
    return length


def _print_length(value: Length) -> str:
    short = str(value)
    if Length.parse(short) == value:
        return short
    return f"{Decimal(repr(value.pt)):f} pt"


def read_share(value: Any) -> Fraction:
    """Read ``58 %``; a bare number is refused, since 1 could be all or a hundredth."""
    if isinstance(value, Fraction):
        return value
    if isinstance(value, str) and (found := re.fullmatch(rf"\s*({_DECIMAL})\s*%\s*", value)):
        share = Fraction(found[1]) / 100
        if share <= 1:
            return share
    raise ValueError('a share in quotes with its sign, from "0 %" to "100 %"')


def read_money(value: Any) -> Decimal:
    """Read ``"4.75"``; a TOML float is refused, since money is never a binary fraction."""
    if isinstance(value, Decimal):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)
    if isinstance(value, str) and re.fullmatch(r"\s*[0-9]{1,6}(?:\.[0-9]{1,4})?\s*", value):
        return Decimal(value.strip())
    raise ValueError('an amount in quotes without a money sign, such as "4.75"')


def _read_day(value: Any) -> dt.date:
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return value
    if isinstance(value, str):
        try:
            return dt.date.fromisoformat(value.strip())
        except ValueError:
            pass
    raise ValueError('a day as year, month and day, such as "2027-03-31"')


def read_density(value: Any) -> Fraction:
    """Return grams per cubic centimetre."""
    if isinstance(value, Fraction):
        return value
    if isinstance(value, str) and (
        found := re.fullmatch(rf"\s*({_DECIMAL})\s*g/cm(?:3|³)\s*", value)
    ):
        density = Fraction(found[1])
        if 0 < density < 25:
            return density
    raise ValueError('a density in quotes, such as "11.34 g/cm3"')


_DECIMAL = r"[0-9]{1,12}(?:\.[0-9]{1,12})?"


_CONTROLS = re.compile(r"[\x00-\x1f\x7f]")


def read_line(value: str) -> str:
    """Fold white space; refuse what cannot stand on a label's line."""
    folded = " ".join(value.split())
    if _CONTROLS.search(folded):
        raise ValueError("text without control characters")
    if not folded:
        raise ValueError("some text, not a blank")
    return folded


def _read_name(value: str) -> str:
    if not value.isprintable() or value != " ".join(value.split()) or not 0 < len(value) <= 60:
        raise ValueError("a short name such as river-vesper")
    return value


def _read_gtin(value: str) -> str:
    if fault := gtin.explain(value):
        raise ValueError(f"a GTIN with its check digit ({fault})")
    return value


def _read_url(value: str) -> str:
    if not re.fullmatch(r"postgres(?:ql)?(?:\+psycopg)?://\S+", value):
        raise ValueError("an address that begins with postgresql://")
    return value


ADDRESS_LETTERS = frozenset(ascii_letters + digits + "-._~:/?#[]@!$&'()*+,;=%")
"""The characters of an address. Source: RFC 3986, 2."""

_HOST = r"(?:[A-Za-z0-9_-]{1,63}(?:\.[A-Za-z0-9_-]{1,63})*\.?|\[[0-9A-Fa-f:.]+\])(?::\d{1,5})?"
_BEHIND = r"(?:[A-Za-z0-9._~:/@!$&'()*+,;=-]|%[0-9A-Fa-f]{2})*"
_WEB = re.compile(rf"(?:https?|HTTPS?)://{_HOST}(/{_BEHIND})?([?#]({_BEHIND}|[?#])*)?")


def web_address(text: str) -> str:
    """Return the address that a maker's site or links mean, with its scheme; empty if none.

    Only the web's: a reader of a book or a page would run or open what other schemes name.
    Letters beyond ASCII, as in a host's name, stand for themselves.
    Source: RFC 3986, 3.2 and 3.3; RFC 9110, 4.2.
    """
    address = text if "://" in text else f"https://{text}"
    plain = "".join("x" if each.isalpha() and not each.isascii() else each for each in address)
    return address if _WEB.fullmatch(plain) and _port_is_good(address) else ""


def _port_is_good(address: str) -> bool:
    try:
        return urlsplit(address).port != 0
    except ValueError:
        return False


def _read_site(value: str) -> str:
    if not web_address(read_line(value)):
        raise ValueError('a web site as buyers type it, such as "www.example.com"')
    return read_line(value)


def _read_links(value: str) -> str:
    found = _WEB.fullmatch(value) if web_address(value) else None
    if not found or found[2] is not None or _goes_up(found[1] or ""):
        raise ValueError("https:// and a domain, such as https://go.example.com")
    return value


def _goes_up(path: str) -> bool:
    """Tell whether browsers take segments out of a path. Source: RFC 3986, 5.2.4."""
    return any(unquote(part) in (".", "..") for part in path.split("/"))


def _read_email(value: str) -> str:
    """Source: RFC 6068, 2: what else may stand in an address would begin a message's fields."""
    folded = read_line(value)
    if not re.fullmatch(r"[^\s@<>()\[\]\\,;:\"/?&#%{}|^`]+@[\w.-]+", folded):
        raise ValueError('an e-mail address, such as "bench@example.com"')
    return folded


def _read_zone(value: str) -> str:
    try:
        return ZoneInfo(value).key
    except (LookupError, ValueError, OSError):
        raise ValueError('a time zone by its name, such as "America/Chicago"') from None


def _one_or_many(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


class _Written:
    """A text that is written in one way: its reader, and how the schema describes it."""

    def __init__(self, pattern: str, expected: str, example: str, about: str) -> None:
        self._pattern, self._expected = pattern, expected
        self._schema = {
            "type": "string",
            "description": about,
            "examples": [example],
            "pattern": f"^{pattern}$",
        }

    def __call__(self, value: str) -> str:
        if not re.fullmatch(self._pattern, value):
            raise ValueError(self._expected)
        return value

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_after_validator_function(self.__call__, handler(source))

    def __get_pydantic_json_schema__(self, schema: object, handler: object) -> dict[str, Any]:
        return dict(self._schema)


def _text(example: str, about: str, pattern: str = "") -> Described:
    form = {"pattern": pattern} if pattern else {}
    return Described({"type": "string", "description": about, "examples": [example]} | form)


def _printed(printer: Callable[[Any], str]) -> PlainSerializer:
    return PlainSerializer(printer, return_type=str)


ExactWeight = Annotated[
    Weight,
    BeforeValidator(read_weight),
    _printed(str),
    _text(
        "3/8 oz", "A weight with its unit, oz or g; a fraction stays exact.", _BEGINS_WITH_A_NUMBER
    ),
]
PaperLength = Annotated[
    Length,
    BeforeValidator(_read_length),
    _printed(_print_length),
    _text("3 1/2 in", "A length with its unit: in, mm, cm or pt.", _BEGINS_WITH_A_NUMBER),
]
Share = Annotated[
    Fraction,
    BeforeValidator(read_share),
    _printed(lambda share: f"{print_decimal(share * 100)} %"),
    _text("58 %", "A share from 0 % to 100 %, by mass where a material is described.", "%"),
]
Money = Annotated[
    Decimal,
    BeforeValidator(read_money),
    _printed(str),
    Described(
        {
            "type": ["string", "integer"],
            "description": "An amount of money in the catalog's currency.",
            "examples": ["4.75"],
            "pattern": r"^\s*[0-9]{1,6}(\.[0-9]{1,4})?\s*$",
        }
    ),
]
Day = Annotated[
    dt.date,
    BeforeValidator(_read_day),
    _printed(dt.date.isoformat),
    _text("2027-03-31", "A day as ISO 8601 has it: year, month, day.", r"^\d{4}-\d{2}-\d{2}$"),
]
Density = Annotated[
    Fraction,
    BeforeValidator(read_density),
    _printed(lambda density: f"{print_decimal(density)} g/cm3"),
    _text("11.34 g/cm3", "Grams per cubic centimetre.", _BEGINS_WITH_A_NUMBER),
]
Ink = Annotated[
    str,
    _Written(
        "#[0-9a-fA-F]{6}",
        'a colour in quotes as "#rrggbb", such as "#5b5a2b"',
        "#5b5a2b",
        "A colour in sRGB, #rrggbb.",
    ),
    AfterValidator(str.lower),
]
LONGEST_LINE = 200
Line = Annotated[str, StringConstraints(max_length=LONGEST_LINE), AfterValidator(read_line)]
Name = Annotated[
    str,
    AfterValidator(_read_name),
    Described({"type": "string", "minLength": 1, "maxLength": 60}),
]
"""What an entry of the catalog goes by: the last word of its heading."""
Story = Annotated[str, StringConstraints(max_length=4000)]
Country = Annotated[
    str,
    _Written(
        "[A-Z]{2}",
        'a country by its ISO 3166-1 code of two capitals, such as "US"',
        "US",
        "A country by its ISO 3166-1 code of two capitals.",
    ),
]
read_market = _Written(
    "[A-Z]{2}(-[A-Z0-9]{1,3})?",
    'a place of sale by its ISO 3166 code in capitals, such as "US" or "US-CA"',
    "US-CA",
    "A place of sale by its ISO 3166 code: a country, or a country and a part of it.",
)
Market = Annotated[str, read_market]
Currency = Annotated[
    str,
    _Written(
        "[A-Z]{3}",
        'a currency by its ISO 4217 code of three capitals, such as "USD"',
        "USD",
        "A currency by its ISO 4217 code of three capitals.",
    ),
]
CompanyPrefix = Annotated[
    str,
    _Written(
        "[0-9]{4,12}",
        "a GS1 Company Prefix in quotes, 4 to 12 digits",
        "9521234",
        "The company prefix that GS1 has licensed to the maker.",
    ),
]
Gtin = Annotated[
    str,
    AfterValidator(_read_gtin),
    _text("9521234543213", "8, 12, 13 or 14 digits with a valid check digit.", "^[0-9]{8,14}$"),
]
read_sku = _Written(
    rf"[A-Z0-9][{SKU_LETTERS}]{{0,39}}",
    "a SKU of capitals, digits, full stops and hyphens, at most 40, such as RV-38-40-MLN",
    "RV-38-40-MLN",
    "Capitals, digits, full stop and hyphen, at most 40.",
)
Sku = Annotated[str, read_sku]
CodePart = Annotated[
    str,
    _Written(
        "[A-Z0-9]{1,12}",
        'capitals and digits, at most 12, such as "RV"',
        "RV",
        "Capitals and digits, at most 12: one part of a SKU.",
    ),
]
LedgerUrl = Annotated[
    str,
    AfterValidator(_read_url),
    _text("postgresql://bench.example.com/jigs", "A PostgreSQL database.", "^postgres"),
]
Site = Annotated[
    str,
    StringConstraints(max_length=LONGEST_LINE),
    AfterValidator(_read_site),
    _text("www.example.com", "A web site as buyers type it."),
]
Links = Annotated[
    str,
    StringConstraints(max_length=LONGEST_LINE),
    AfterValidator(_read_links),
    _text("https://go.example.com", "What links begin with.", "^(https?|HTTPS?)://"),
]
Email = Annotated[
    str,
    StringConstraints(max_length=LONGEST_LINE),
    AfterValidator(_read_email),
    _text("bench@example.com", "An e-mail address.", "@"),
]
LotPrefix = Annotated[
    str,
    _Written(
        "[A-HJKMNP-TV-Z]{0,8}",
        "at most 8 capitals, none of them I, L, O or U",
        "RV",
        "At most 8 capitals, none of them I, L, O or U.",
    ),
]
TimeZone = Annotated[
    str,
    AfterValidator(_read_zone),
    _text("America/Chicago", "A time zone by its name in the IANA time zone database."),
]
_HOOK_SIZE = r"(?:[1-9]|1[0-9]|2[0-9]|3[0-2]|(?:[1-9]|1[0-9]|20)/0)"
read_hook_size = _Written(
    _HOOK_SIZE,
    'a hook size in quotes, "1" to "32" or "1/0" to "20/0"',
    "4/0",
    'A hook size as the trade counts it: "4" gets smaller as it grows, "4/0" larger.',
)
HookSize = Annotated[str, read_hook_size]
HookSizes = Annotated[
    tuple[HookSize, ...],
    BeforeValidator(_one_or_many),
    Field(min_length=1),
    Described(
        {
            "description": "One hook size, or a list of them.",
            "examples": ["4/0"],
            "anyOf": [
                {"type": "string", "pattern": f"^{_HOOK_SIZE}$"},
                {
                    "type": "array",
                    "minItems": 1,
                    "items": {"type": "string", "pattern": f"^{_HOOK_SIZE}$"},
                },
            ],
        }
    ),
]
