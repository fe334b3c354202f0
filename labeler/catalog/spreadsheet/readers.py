"""How each kind of cell is read: forgiving of how people type, never of what cannot be known.

A reader gets a cell that is not blank and returns its value, or raises `CellError`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from pydantic import TypeAdapter, ValidationError

from labeler.catalog.kinds import ExactWeight, HookSize, Line, Market, Money, Sku
from labeler.catalog.spreadsheet.cells import (
    CellError,
    Moment,
    Uncalculated,
    Value,
    folded,
)
from labeler.catalog.spreadsheet.dates import date_parts, likely_fraction, serial_date
from labeler.units import Weight

Reader = Callable[[Value], Any]

_WEIGHT: TypeAdapter[Weight] = TypeAdapter(ExactWeight)
_MONEY: TypeAdapter[Decimal] = TypeAdapter(Money)
_SKU: TypeAdapter[str] = TypeAdapter(Sku)
_HOOK: TypeAdapter[str] = TypeAdapter(HookSize)
_LINE: TypeAdapter[str] = TypeAdapter(Line)
_MARKET: TypeAdapter[str] = TypeAdapter(Market)

HEAVIEST_BARE = 4
"""Ounces above which a number without a unit is as likely to be grams. Common sense."""

_AS_TEXT = 'Make the whole column "Text" in the spreadsheet, then type it again.'


def plain_text(value: Value) -> str:
    """Return a cell's text, white space folded; a whole number in its digits.

    Raises:
        CellError: for an error, a formula without its result, or a date.
    """
    _refuse_broken(value)
    if isinstance(value, str):
        return folded(value)
    if isinstance(value, Moment):
        raise CellError("a spreadsheet has turned this into a date", "text", _AS_TEXT)
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


def _refuse_broken(value: Value) -> None:
    if isinstance(value, Uncalculated):
        raise CellError(
            "the file does not hold what this formula comes to",
            hint="Open it in a spreadsheet and save it again, or put the value in its place.",
        )
    if isinstance(value, str) and value.strip() in _ERRORS:
        raise CellError("the spreadsheet shows an error here", hint="Mend the formula.")
    if isinstance(value, float) and not math.isfinite(value):
        raise CellError("this is no number that can be written down")


_ERRORS = {
    "#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A", "#GETTING_DATA", "#SPILL!",
    "#CALC!", "#BLOCKED!", "#FIELD!", "#BUSY!", "#CONNECT!",
}  # fmt: skip
"""Source: ECMA-376-1, 18.18.11 (ST_CellType "e") and 18.17.2.3; the later ones from memory."""


def _short(value: Value) -> str:
    """Return the text of a cell that holds one short thing."""
    text = plain_text(value)
    if len(text) > _SHORT:
        raise CellError("this is too long for its column", f"at most {_SHORT} letters")
    return text


_SHORT = 60


def _checked(kind: TypeAdapter[Any], value: object) -> Any:
    """Return ``value`` as ``kind`` reads it; its complaint becomes a `CellError`."""
    try:
        return kind.validate_python(value)
    except ValidationError as error:
        fault = error.errors(include_url=False)[0]
        said = fault.get("ctx", {}).get("error") or fault["msg"]
        raise CellError("this value may not stand here", str(said)) from None


def read_line(value: Value) -> str:
    """Return one line of text."""
    line: str = _checked(_LINE, plain_text(value))
    return line


def read_note(value: Value) -> str:
    """Return one line of text, in which a date may stand."""
    if isinstance(value, Moment):
        return value.isoformat() if hasattr(value, "isoformat") else str(value)
    return read_line(value)


def read_sku(value: Value) -> str:
    """Return a SKU in capitals."""
    sku: str = _checked(_SKU, plain_text(value).upper())
    return sku


def read_weight(value: Value) -> Weight:
    """Return a weight; a number without a unit is ounces."""
    _refuse_broken(value)
    _refuse_date(value)
    if isinstance(value, bool):
        raise CellError("this is no weight", "a weight such as 3/8 oz or 10.6 g")
    if isinstance(value, int | float):
        return _bare_weight(repr(value), float(value))
    text = re.sub(r"(?<=\d),(?=\d)", ".", _short(value))
    if re.fullmatch(r"[0-9]+(?:\.[0-9]*)?", text):
        return _bare_weight(text, float(text))
    if not re.search("[a-z]", text, re.IGNORECASE):
        text += " oz"
    weight: Weight = _checked(_WEIGHT, text)
    return weight


def _bare_weight(text: str, number: float) -> Weight:
    if date := serial_date(number):
        raise CellError(
            "a spreadsheet has turned this weight into a date and the date into a number",
            "a weight such as 3/8 oz",
            f"{text} is its count for {date.isoformat()}."
            f"{_likely(likely_fraction((date.month, date.day)))} {_AS_TEXT}",
        )
    if number > HEAVIEST_BARE:
        raise CellError(
            "a number without a unit would be ounces, and this would be many",
            f"the unit behind it, such as {text} g or {text} oz",
        )
    weight: Weight = _checked(_WEIGHT, f"{text} oz")
    return weight


def _refuse_date(value: Value) -> None:
    if (parts := date_parts(value)) is None:
        return
    fraction = likely_fraction(parts)
    raise CellError(
        "a spreadsheet has taken this weight for a date",
        "a weight such as 3/8 oz",
        f"{_likely(fraction)} {_AS_TEXT} With oz behind it a fraction stays one.".strip(),
    )


def _likely(fraction: str) -> str:
    return f" It was probably {fraction}." if fraction else ""


def read_hook(value: Value) -> str:
    """Return a hook size; ``#4``, ``No. 4`` and ``4 / 0`` are forgiven."""
    _refuse_broken(value)
    if date_parts(value):
        raise CellError("a spreadsheet has taken this hook size for a date", "4/0 or 4", _AS_TEXT)
    text = re.sub(r"^(?:size|no\.?|nr\.?|#)\s*", "", _short(value), flags=re.IGNORECASE)
    size: str = _checked(_HOOK, text.replace(" ", ""))
    return size


_SIGNS = {"$": "", "€": "EUR", "£": "GBP", "¥": "JPY"}
"""A dollar sign may be any dollar."""


def read_price(value: Value) -> tuple[Decimal, str]:
    """Return an amount, and the currency where a sign or a code names it, else "".

    A comma before one or two digits is a decimal comma. A comma before three could be either.
    """
    _refuse_broken(value)
    if isinstance(value, bool | Moment):
        raise CellError("this is no price", "an amount such as 4.75", _AS_TEXT)
    if isinstance(value, int | float):
        return _checked(_MONEY, f"{value:.4f}".rstrip("0").rstrip(".")), ""
    text, currency = _without_currency(_short(value))
    if re.fullmatch(r"\d{1,3}(?:,\d{3})+", text):
        raise CellError("this comma may part thousands or cents", "an amount such as 4.75")
    text = re.sub(r"^(\d+),(\d{1,2})$", r"\1.\2", text)
    text = re.sub(r"^(\d{1,3}(?:,\d{3})+)(\.\d+)$", lambda m: m[1].replace(",", "") + m[2], text)
    return _checked(_MONEY, text), currency


def _without_currency(text: str) -> tuple[str, str]:
    found = re.fullmatch(r"([A-Z]{3}|[$€£¥])?\s*([\d.,]+)\s*([A-Z]{3}|[$€£¥])?", text)
    if not found:
        raise CellError("this is no price", "an amount such as 4.75")
    sign = found[1] or found[3] or ""
    return found[2], _SIGNS.get(sign, sign)


def read_yes(value: Value) -> bool:
    """Return whether a cell says yes: yes, y, x, true, 1, a tick."""
    if isinstance(value, bool):
        return value
    word = plain_text(value).casefold()
    if word in ("yes", "y", "x", "true", "1", "✓", "✔", "✗"):
        return word != "✗"
    if word in ("no", "n", "false", "0", "-", "–"):
        return False
    raise CellError("this is neither yes nor no", "yes, no or nothing")


def read_pack(value: Value) -> int:
    """Return how many jigs are in a pack."""
    text = plain_text(value)
    if re.fullmatch("[0-9]{1,4}", text) and 1 <= int(text) <= 1000:
        return int(text)
    raise CellError("this is no count of jigs in a pack", "a whole number from 1 to 1000")


def read_markets(value: Value) -> tuple[str, ...]:
    """Return places of sale, parted by commas, semicolons or spaces."""
    words = re.split(r"[\s,;]+", plain_text(value).upper().strip(",; "))
    return tuple(dict.fromkeys(_checked(_MARKET, word) for word in words))
