"""What may stand in a cell, and what is said when something else does."""

from __future__ import annotations

import datetime
import difflib
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, TypeVar

from labeler.catalog import values
from labeler.catalog.gtin import LENGTHS, explain, prefix_kind
from labeler.findings import shown
from labeler.units import Weight


@dataclass(frozen=True, slots=True)
class Uncalculated:
    """A formula whose result the file does not hold."""

    formula: str


Moment = datetime.date | datetime.time | datetime.timedelta

Value = str | int | float | bool | Moment | Uncalculated | None
"""A CSV holds text only; None and blank text are the same."""


class CellError(Exception):
    """A cell does not hold what its column asks for."""

    def __init__(self, message: str, expected: str = "", hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.expected = expected
        self.hint = hint


def folded(text: str) -> str:
    """Return ``text`` with its white space folded, no-break spaces and line breaks included.

    What has no width at all, such as a byte order mark in the middle of a file, goes.
    """
    for nothing in _NO_WIDTH:
        text = text.replace(nothing, "")
    return " ".join(text.split())


_NO_WIDTH = ("\N{ZERO WIDTH SPACE}", "\N{ZERO WIDTH NO-BREAK SPACE}", "\N{WORD JOINER}", "\0")


def is_blank(value: Value) -> bool:
    """Tell whether a cell holds nothing."""
    return value is None or (isinstance(value, str) and not folded(value))


def display(value: Any) -> str:
    """Return a cell's value for a message."""
    if isinstance(value, str):
        return f'"{shown(value)}"'
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, Uncalculated):
        return f'"{shown(value.formula)}"'
    if isinstance(value, datetime.datetime):
        return f"the date {value:%Y-%m-%d}"
    if isinstance(value, datetime.date):
        return f"the date {value.isoformat()}"
    if isinstance(value, datetime.time | datetime.timedelta):
        return f"the time {value}"
    return shown(str(value))


# Fractions that a spreadsheet took for dates: 3/8 becomes 8 March, or "3-Aug" in a CSV
#
# The date is not turned back: day, month and year do not say what was typed. The likeliest fraction
# is named, for the maker to type again.

_MONTHS = (
    ("jan", "ene", "gen"),
    ("feb", "fév", "fev"),
    ("mar", "mär", "mrz", "mrt"),
    ("apr", "avr", "abr"),
    ("may", "mai", "mei", "maj", "mag"),
    ("jun", "jui", "giu"),
    ("jul", "lug"),
    ("aug", "aoû", "ago"),
    ("sep", "set"),
    ("oct", "okt", "ott", "out"),
    ("nov",),
    ("dec", "dez", "déc", "dic"),
)
"""How months begin in the languages whose spreadsheets are about. Common knowledge."""

_NUMBER_OF = {begin: place + 1 for place, begins in enumerate(_MONTHS) for begin in begins}
_MONTH = "(?P<month>" + "|".join(_NUMBER_OF) + r")[^\W\d_]*\.?"

_FORMS = (
    re.compile(
        rf"(?P<day>\d{{1,2}})[-./ ]{{1,2}}{_MONTH}(?:[-./, ]{{1,2}}\d{{2,4}})?", re.IGNORECASE
    ),
    re.compile(
        rf"{_MONTH}[-./ ]{{1,2}}(?P<day>\d{{1,4}})(?:[-./, ]{{1,2}}\d{{2,4}})?", re.IGNORECASE
    ),
)
_NUMBERS = (
    re.compile(r"\d{4}-(?P<month>\d{1,2})-(?P<day>\d{1,2})(?:[T ][\d:.]+)?"),
    re.compile(r"(?P<month>\d{1,2})([-./])(?P<day>\d{1,2})\2\d{2,4}(?:[T ][\d:.]+)?"),
)

EARLIEST_SERIAL, LATEST_SERIAL = 20_000, 70_000
"""Days since the end of 1899 from 1954 to 2091: what a date cell holds once it is no longer
shown as a date. Source: ECMA-376-1, 18.17.4.1 (the 1900 date system)."""


def date_parts(value: Value) -> tuple[int, int] | None:
    """Return the two numbers of a date that were typed, in no order; None if it is no date.

    Where only a month is named and the number is no day, it is the year: Jan-32 was 1/32.
    """
    if isinstance(value, datetime.date):
        return _typed(value)
    if isinstance(value, datetime.time | datetime.timedelta):
        return (0, 0)
    if not isinstance(value, str):
        return None
    for form in _FORMS:
        if found := form.fullmatch(value.strip()):
            return int(found["day"]) % 100, _NUMBER_OF[found["month"].casefold()]
    for form in _NUMBERS:
        if found := form.fullmatch(value.strip()):
            return int(found["month"]), int(found["day"])
    return None


def _typed(date: datetime.date) -> tuple[int, int]:
    """A first of the month in another century's years was typed as month and year."""
    if date.day == 1 and date.year % 100 in (32, 64):
        return date.month, date.year % 100
    return date.month, date.day


def serial_date(number: float) -> datetime.date | None:
    """Return the date that a bare number is to a spreadsheet, if it is one of our time."""
    if (
        math.isfinite(number)
        and number == int(number)
        and EARLIEST_SERIAL <= number <= LATEST_SERIAL
    ):
        return datetime.date(1899, 12, 30) + datetime.timedelta(days=int(number))
    return None


def likely_fraction(parts: tuple[int, int]) -> str:
    """Return the fraction of an ounce that was probably typed, or nothing."""
    small, large = sorted(parts)
    if small % 2 and large in (2, 4, 8, 16, 32, 64):
        return f"{small}/{large}"
    return ""


# How each kind of cell is read: forgiving of how people type, not of what nobody knows
#
# A reader gets a cell that is not blank and returns its value, or raises `CellError`.

Reader = Callable[[Value], Any]

HEAVIEST_BARE = 4
"""Ounces above which a number without a unit is as likely to be grams. Common sense."""

AS_TEXT = 'Make the whole column "Text" in the spreadsheet, then type it again.'


def plain_text(value: Value) -> str:
    """Return a cell's text, white space folded; a whole number in its digits.

    Raises:
        CellError: for an error, a formula without its result, or a date.
    """
    _refuse_broken(value)
    if isinstance(value, str):
        return folded(value)
    if isinstance(value, Moment):
        raise CellError("a spreadsheet has turned this into a date", "text", AS_TEXT)
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


Typed = TypeVar("Typed")


def _checked(read: Callable[[str], Typed], text: str) -> Typed:
    """Return what the catalog file's own reader makes of ``text``."""
    try:
        return read(text)
    except ValueError as error:
        raise CellError("this value may not stand here", str(error)) from None


def read_line(value: Value) -> str:
    """Return one line of text."""
    text = plain_text(value)
    if len(text) > values.LONGEST_LINE:
        raise CellError("this is too long for its column", f"at most {values.LONGEST_LINE} letters")
    return _checked(values.read_line, text)


def read_note(value: Value) -> str:
    """Return one line of text, in which a date may stand."""
    if isinstance(value, Moment):
        return value.isoformat() if hasattr(value, "isoformat") else str(value)
    return read_line(value)


def read_sku(value: Value) -> str:
    """Return a SKU in capitals."""
    return _checked(values.read_sku, plain_text(value).upper())


def read_weight(value: Value) -> Weight:
    """Return a weight; a number without a unit is ounces."""
    _refuse_broken(value)
    _refuse_date(value)
    if isinstance(value, bool):
        raise CellError("this is no weight", "a weight such as 3/8 oz or 10.6 g")
    if isinstance(value, int | float):
        return _bare_weight(repr(value), float(value))
    text = _short(value)
    if re.match(r"[1-5],\d{3}[\s-]*g", text, re.IGNORECASE):
        raise CellError("this comma may part thousands or decimals", "a weight such as 1.5 g")
    text = re.sub(r",(?=\d)", ".", text)
    if re.fullmatch(r"[0-9]+(?:\.[0-9]*)?", text):
        return _bare_weight(text, float(text))
    if not re.search("[a-z]", text, re.IGNORECASE):
        text += " oz"
    return _checked(values.read_weight, text)


def _bare_weight(text: str, number: float) -> Weight:
    if date := serial_date(number):
        raise CellError(
            "a spreadsheet has turned this weight into a date and the date into a number",
            "a weight such as 3/8 oz",
            f"{text} is its count for {date.isoformat()}."
            f"{_likely(likely_fraction((date.month, date.day)))} {AS_TEXT}",
        )
    if number > HEAVIEST_BARE:
        raise CellError(
            "a number without a unit would be ounces, and this would be many",
            f"the unit behind it, such as {text} g or {text} oz",
        )
    return _checked(values.read_weight, f"{text} oz")


def _refuse_date(value: Value) -> None:
    if (parts := date_parts(value)) is None:
        return
    fraction = likely_fraction(parts)
    raise CellError(
        "a spreadsheet has taken this weight for a date",
        "a weight such as 3/8 oz",
        f"{_likely(fraction)} {AS_TEXT} With oz behind it a fraction stays one.".strip(),
    )


def _likely(fraction: str) -> str:
    return f" It was probably {fraction}." if fraction else ""


def read_hook(value: Value) -> str:
    """Return a hook size; ``#4``, ``No. 4`` and ``4 / 0`` are forgiven."""
    _refuse_broken(value)
    if date_parts(value):
        raise CellError("a spreadsheet has taken this hook size for a date", "4/0 or 4", AS_TEXT)
    text = re.sub(r"^(?:size|no\.?|nr\.?|#)\s*", "", _short(value), flags=re.IGNORECASE)
    return _checked(values.read_hook_size, text.replace(" ", ""))


_SIGNS = {"$": "", "€": "EUR", "£": "GBP", "¥": "JPY"}
"""A dollar sign may be any dollar."""


def read_price(value: Value) -> tuple[Decimal, str]:
    """Return an amount, and the currency where a sign or a code names it, else "".

    A comma before one or two digits is a decimal comma. A comma before three could be either.
    """
    _refuse_broken(value)
    if isinstance(value, bool | Moment):
        raise CellError("this is no price", "an amount such as 4.75", AS_TEXT)
    if isinstance(value, int | float):
        return _checked(values.read_money, f"{value:.4f}".rstrip("0").rstrip(".")), ""
    text, currency = _without_currency(_short(value))
    if re.fullmatch(r"\d{1,3}(?:,\d{3})+", text):
        raise CellError("this comma may part thousands or cents", "an amount such as 4.75")
    if re.fullmatch(r"\d{1,3}(?:\.\d{3})+,\d{1,2}", text):
        text = text.replace(".", "")
    text = re.sub(r"^(\d+),(\d{1,2})$", r"\1.\2", text)
    text = re.sub(r"^(\d{1,3}(?:,\d{3})+)(\.\d+)$", lambda m: m[1].replace(",", "") + m[2], text)
    try:
        return values.read_money(text), currency
    except ValueError:
        raise CellError("this is no price", "an amount such as 4.75") from None


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
    return tuple(dict.fromkeys(_checked(values.read_market, word) for word in words))


# Reading a GTIN from a cell: the number that spreadsheets spoil most
#
# A spreadsheet takes it for a quantity: zeros in front vanish, and a long one is shown, and
# exported, as 9.52E+12, its last digits gone for good.

_GTIN_AS_TEXT = 'Make the whole column "Text" in the spreadsheet, then type the digits again.'
_DIGITS = "8, 12, 13 or 14 digits"


def read_gtin(value: Value) -> str:
    """Return a valid GTIN; spaces and hyphens between its digits are forgiven.

    Raises:
        CellError: saying what the spreadsheet did to it, where that can be seen.
    """
    if isinstance(value, bool | Moment):
        raise CellError("this is no GTIN", _DIGITS, _GTIN_AS_TEXT)
    if isinstance(value, float) and not (value.is_integer() and abs(value) < 2**53):
        raise _spoiled()
    text = re.sub(r"[ -]", "", plain_text(value))
    if re.fullmatch(r"[0-9]+(?:[.,][0-9]*)?E\+?[0-9]+", text, re.IGNORECASE):
        raise _spoiled()
    if re.fullmatch(r"[0-9]+[.,]0*", text):
        raise CellError(
            "a spreadsheet has turned this GTIN into a quantity", _DIGITS, _GTIN_AS_TEXT
        )
    if fault := explain(text):
        raise CellError(f"this is no GTIN: {fault}", hint=_lost_zeros(text) or _rounded(text))
    if prefix_kind(text) == "reserved":
        raise CellError(
            "numbers that begin so name coupons, books or refunds, never goods", _DIGITS
        )
    return text


def _spoiled() -> CellError:
    return CellError(
        "a spreadsheet has rounded this GTIN, and its last digits are lost",
        _DIGITS,
        f"{_GTIN_AS_TEXT} They are on your certificate.",
    )


def with_zeros(text: str) -> str:
    """Return a GTIN with the zeros in front that a spreadsheet took, or nothing if that is none."""
    if not re.fullmatch("[0-9]{1,13}", text) or len(text) in LENGTHS:
        return ""
    length = next((one for one in (8, 12) if one > len(text)), 0)
    whole = text.zfill(length)
    near = length and length - len(text) <= _MOST_LOST
    return whole if near and explain(whole) is None else ""


def _lost_zeros(text: str) -> str:
    """Return the hint that zeros in front are gone, where putting them back makes a GTIN."""
    if not (whole := with_zeros(text)):
        return ""
    lost = "a zero" if len(whole) - len(text) == 1 else "zeros"
    return f"It has lost {lost} in front: {whole} would be one. {_GTIN_AS_TEXT}"


def _rounded(text: str) -> str:
    """Return the hint that zeros at the end are what is left of lost digits."""
    if len(text) in LENGTHS and text.endswith("000"):
        return f"A spreadsheet may have rounded it. {_GTIN_AS_TEXT} They are on your certificate."
    return ""


_MOST_LOST = 3
"""More zeros in front than this belong to no company's numbers."""


# The columns of the products' spreadsheet: one row here for each.
#
# To add a column, add a row, a reader if its cells are of a new kind, and in ``expand.py`` what it
# changes in a product.


@dataclass(frozen=True, slots=True)
class ColumnSpec:
    """A column: what it is called, how its cells are read, and what it is for."""

    name: str
    read: Reader
    example: str
    about: str
    also: tuple[str, ...] = ()
    """Other headings that mean the same."""


PRODUCT_COLUMNS = (
    ColumnSpec(
        "sku", read_sku, "RV-38-40-MLN",
        "Which product the row is about; left blank, it is put together from the four below.",
        ("skus", "itemnumber", "itemno", "stocknumber", "partnumber"),
    ),
    ColumnSpec(
        "pattern", read_line, "river-vesper",
        "For an added product: a pattern of the catalog, by heading, code or name.",
        ("patterns", "jig"),
    ),
    ColumnSpec(
        "weight", read_weight, "3/8 oz",
        "For an added product: the weight. A number without a unit is ounces.",
        ("weights", "headweight", "wt"),
    ),
    ColumnSpec(
        "hook", read_hook, "4/0",
        "For an added product: the hook size.",
        ("hooks", "hooksize", "hooksizes"),
    ),
    ColumnSpec(
        "colour", read_line, "melon",
        "For an added product: a colour of the catalog, by heading, code or name.",
        ("color", "colours", "colors", "colourway", "colorway"),
    ),
    ColumnSpec(
        "price", read_price, "4.75",
        "Suggested retail price of one pack.",
        ("prices", "retail", "retailprice", "srp", "msrp"),
    ),
    ColumnSpec(
        "gtin", read_gtin, "9521234543213",
        "The product's GTIN, with its check digit. Once given it never changes.",
        ("upc", "ean", "barcode", "upccode", "eancode", "gtinupc"),
    ),
    ColumnSpec(
        "photo", read_line, "vesper-melon.jpg",
        "A file in photos/.",
        ("picture", "image", "photos"),
    ),
    ColumnSpec(
        "note", read_note, "limited to this spring",
        "A line of your own.",
        ("notes", "remark", "remarks", "comment", "comments"),
    ),
    ColumnSpec(
        "retired", read_yes, "yes",
        "Whether the product is sold no more.",
        ("discontinued", "retire"),
    ),
    ColumnSpec(
        "pack", read_pack, "2",
        "Jigs in one pack.",
        ("packs", "packsize", "perpack", "packof"),
    ),
    ColumnSpec(
        "markets", read_markets, "US, US-CA",
        "Where this product is sold, if not everywhere the catalog says.",
        ("market",),
    ),
)  # fmt: skip

GTIN_COLUMNS = tuple(column for column in PRODUCT_COLUMNS if column.name in ("sku", "gtin"))


def heading(text: str) -> str:
    """Return a heading without what may differ: case, spaces, underscores, signs."""
    return re.sub(r"[\W_]+", "", text.casefold())


def named(columns: tuple[ColumnSpec, ...], text: str) -> ColumnSpec | None:
    """Return the column that a heading means; ``Hook #`` is the hook, ``Item #`` the SKU."""
    for plain in dict.fromkeys((heading(text), heading(text.replace("#", "number")))):
        for column in columns:
            if plain == column.name or plain in column.also:
                return column
    return None


def nearest_column(columns: tuple[ColumnSpec, ...], text: str) -> ColumnSpec | None:
    """Return the column that a misspelt heading is probably meant for, or None."""
    names = {name: column for column in columns for name in (column.name, *column.also)}
    close = difflib.get_close_matches(heading(text), list(names), n=1, cutoff=_NEAR)
    return names[close[0]] if close else None


_NEAR = 0.7
"""How alike a heading must be to pass for a slip: ``prise`` is, ``cost`` is not."""
