"""Weights, lengths and days as a maker writes them, kept exact.

A weight is a fraction of the unit it was stated in, so that 3/8 oz stays 3/8 oz and never
becomes 0.37. A length on paper is a float of points behind a type of its own.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, lru_cache, total_ordering
from typing import Literal

GRAMS_PER_OUNCE = Fraction("28.349523125")
"""Exact: 1 lb = 0.45359237 kg by definition, a sixteenth of it an ounce.

Source: NIST SP 811 (2008), appendix B.8, "ounce (avoirdupois)": 2.834 952 E-02 kg; the exact
figure follows from the pound of 0.453 592 37 kg in the same table.
"""

POINTS_PER_INCH = 72.0
"""Source: ISO 32000-1:2008, 8.3.2.3: a default user space unit is 1/72 inch."""

MM_PER_INCH = 25.4
"""Exact. Source: 16 CFR 500.19, 1 in = 2.54 cm."""

SLACK_PT = 0.01 * POINTS_PER_INCH / MM_PER_INCH
"""How far two lengths may differ and still count as the same: 0.01 mm, in points."""

FRACTION_SLASH = "\N{FRACTION SLASH}"
"""Between digits it means "show as a fraction" (The Unicode Standard, 6.2, General Punctuation)."""

THIN_SPACE = "\N{THIN SPACE}"
NO_BREAK_SPACE = "\N{NO-BREAK SPACE}"

WeightUnit = Literal["oz", "g"]

_LONGEST_TEXT = 100
"""Letters of a weight or a length; a number of hundreds of digits is no measurement, and would not
fit a float."""

_NUMBER = r"(?:(?:\d+(?: ?- ?| ))?\d+ ?/ ?\d+|\d+(?:\.\d*)?|\.\d+)"
_WEIGHT = re.compile(
    rf"^({_NUMBER})(?:[\s-]*(ozs?\.?|ounces?|gms?\.?|g\.?|grams?))?$", re.IGNORECASE
)
_LENGTH = re.compile(rf"^({_NUMBER})\s*(in|inch|inches|″|\"|mm|cm|pt)$", re.IGNORECASE)
_PT_PER = {"in": POINTS_PER_INCH, "mm": POINTS_PER_INCH / MM_PER_INCH, "pt": 1.0}
_PT_PER |= {"inch": _PT_PER["in"], "inches": _PT_PER["in"], "″": _PT_PER["in"], '"': _PT_PER["in"]}
_PT_PER["cm"] = 10 * _PT_PER["mm"]
_VULGAR = re.compile("[¼-¾⅐-⅞]")
_SIGNS = str.maketrans("\u2044\u2215\uff0f\u2010\u2011\u2012\u2013\u2014\u2212", "///------")
"""Slashes and dashes that a word processor or a font puts in the place of the plain ones."""


def _plain(text: str) -> str:
    """Return ``text`` with its fractions in digits and plain signs, white space folded."""
    digits = _VULGAR.sub(lambda sign: f" {unicodedata.normalize('NFKC', sign[0])} ", text)
    return " ".join(digits.translate(_SIGNS).split())


def parse_number(text: str) -> Fraction:
    """Return the exact number that ``text`` writes: ``3/8``, ``1 1/2``, ``.375``, ``⅜``.

    Raises:
        ValueError: if it is no such number, or its denominator is 0.
    """
    plain = _plain(text)
    if not re.fullmatch(_NUMBER, plain):
        raise ValueError(f"{text!r} is not a number such as 3/8, 1 1/2 or 0.375")
    parts = re.sub(r" ?/ ?", "/", plain).replace("-", " ").split()
    try:
        return sum(map(Fraction, parts), Fraction(0))
    except ZeroDivisionError:
        raise ValueError("a number that is not divided by 0") from None


def print_fraction(value: Fraction, slash: str = "/", gap: str = " ") -> str:
    """Return ``value`` as whole and vulgar fraction, ``1 1/2``, in lowest terms."""
    whole, rest = divmod(value, 1)
    if not rest:
        return str(whole)
    part = f"{rest.numerator}{slash}{rest.denominator}"
    return f"{whole}{gap}{part}" if whole else part


def print_decimal(value: Fraction, most: int = 40) -> str:
    """Return the shortest decimal that is exactly ``value``.

    Nothing where that takes more than ``most`` places, or never ends.
    """
    for places in range(most + 1):
        scaled = value * 10**places
        if scaled.denominator == 1:
            whole, part = divmod(scaled.numerator, 10**places)
            return f"{whole}.{part:0{places}d}" if places else str(whole)
    return ""


def truncate(value: Fraction, digits: int) -> str:
    """Return ``value`` cut, never rounded up, to ``digits`` significant digits.

    A trailing 0 right of the point is dropped.
    Source: 16 CFR 500.19(b), whose examples truncate: 2 oz is 56 or 56.6 g, never 56.7.
    """
    if value <= 0:
        return "0"
    size = (Decimal(value.numerator) / value.denominator).adjusted()
    places = max(0, digits - 1 - size)
    cut = math.floor(value * 10**places)
    if places == 0:
        return str(cut)
    whole, rest = divmod(cut, 10**places)
    return f"{whole}.{rest:0{places}d}".rstrip("0").rstrip(".")


@total_ordering
@dataclass(frozen=True, eq=False)
class Weight:
    """A weight, exact, in the unit in which the maker states it."""

    value: Fraction
    unit: WeightUnit

    @classmethod
    @lru_cache(1024)  # a line has a dozen weights, written hundreds of times
    def parse(cls, text: str, bare_unit: WeightUnit | None = None) -> Weight:
        """Read ``3/8 oz``, ``.375 oz``, ``1 1/2 oz`` or ``10.6 g``.

        Args:
            text: what the maker wrote.
            bare_unit: the unit of a number that stands without one; None refuses it.

        Raises:
            ValueError: with a sentence that says what was expected.
        """
        plain = _plain(text)
        found = _WEIGHT.match(plain)
        if not found or len(plain) > _LONGEST_TEXT:
            raise ValueError("a weight such as 3/8 oz or 10.6 g")
        unit = bare_unit
        if found[2]:
            unit = "oz" if found[2].lower().startswith("o") else "g"
        if unit is None:
            raise ValueError("a weight with its unit, such as 3/8 oz or 10.6 g")
        value = parse_number(found[1])
        if value <= 0:
            raise ValueError("a weight above 0")
        part = re.search(r"\d+ ?/.*", found[1])
        if part and parse_number(part[0]) >= 1:  # 11/8 oz is oftener a slip for 1 1/8 oz
            raise ValueError("a fraction below 1, with the whole before it, such as 1 1/8 oz")
        return cls(value, unit)

    @cached_property
    def grams(self) -> Fraction:
        """The weight in grams, exact."""
        return self.value * GRAMS_PER_OUNCE if self.unit == "oz" else self.value

    @property
    def ounces(self) -> Fraction:
        """The weight in ounces avoirdupois, exact."""
        return self.value if self.unit == "oz" else self.value / GRAMS_PER_OUNCE

    @property
    def oz_text(self) -> str:
        """In ounces for print: as a fraction where the trade would, else in decimals.

        Decimals stated in ounces stand as they are, to three places; computed ones are cut.
        The fraction slash tells the layout to set a fraction; the unit never leaves its number.
        """
        if self.unit == "oz" and _is_vulgar(self.value):
            number = print_fraction(self.value, FRACTION_SLASH, THIN_SPACE)
        elif self.unit == "oz" and 1000 % self.value.denominator == 0:
            number = print_decimal(self.value)
        else:
            number = truncate(self.ounces, 3 if self.ounces >= Fraction(1, 10) else 2)
        return f"{number}{NO_BREAK_SPACE}oz"

    @property
    def g_text(self) -> str:
        """In grams for print, cut to three digits."""
        return f"{truncate(self.grams, 3)}{NO_BREAK_SPACE}g"

    @cached_property
    def _text(self) -> str:
        if self.unit == "oz" and _is_vulgar(self.value):
            return f"{print_fraction(self.value)} oz"
        number = print_decimal(self.value) or print_fraction(self.value)
        return f"{number} {self.unit}"

    @cached_property
    def _hash(self) -> int:
        return hash(self.grams)

    def __str__(self) -> str:
        return self._text

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Weight) and self.grams == other.grams

    def __lt__(self, other: Weight) -> bool:
        return self.grams < other.grams

    def __hash__(self) -> int:
        return self._hash


_PARTS = frozenset({1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64})
"""Denominators in which the trade counts. Common practice, no published source."""

_SINGLE_PARTS = frozenset({10, 20, 40, 50, 80, 100})
"""And those of which it takes one: heads are sold down to 1/100 oz, but 37/100 oz is 0.37.
Common practice, no published source."""


def _is_vulgar(value: Fraction) -> bool:
    return value.denominator in _PARTS or (
        value.numerator == 1 and value.denominator in _SINGLE_PARTS
    )


@dataclass(frozen=True, slots=True, order=True)
class Length:
    """A length on paper, stored in points."""

    pt: float

    @classmethod
    @lru_cache(4096)  # the sheets that ship have thousands, and few that differ
    def parse(cls, text: str) -> Length:
        """Read ``2 5/8 in``, ``66.7 mm``, ``1.5 cm`` or ``12 pt``; a bare number is refused.

        Raises:
            ValueError: with a phrase that says what was expected.
        """
        plain = _plain(text)
        found = _LENGTH.match(plain)
        if not found or len(plain) > _LONGEST_TEXT:
            raise ValueError("a length with its unit, such as 2 5/8 in, 66.7 mm or 12 pt")
        return cls(float(parse_number(found[1])) * _PT_PER[found[2].lower()])

    @classmethod
    def from_mm(cls, mm: float) -> Length:
        """Return the length of ``mm`` millimetres."""
        return cls(mm * _PT_PER["mm"])

    @classmethod
    def from_inches(cls, inches: float) -> Length:
        """Return the length of ``inches`` inches."""
        return cls(inches * POINTS_PER_INCH)

    @property
    def mm(self) -> float:
        """The length in millimetres."""
        return self.pt * MM_PER_INCH / POINTS_PER_INCH

    @property
    def inches(self) -> float:
        """The length in inches."""
        return self.pt / POINTS_PER_INCH

    def fits_in(self, room: Length) -> bool:
        """Tell whether this length fits in ``room``, give or take 0.01 mm."""
        return self.pt <= room.pt + SLACK_PT

    def __str__(self) -> str:
        near = Fraction(self.inches).limit_denominator(64)
        if abs(float(near) * POINTS_PER_INCH - self.pt) < 1e-6:
            return f"{print_fraction(near)} in"
        return f"{self.mm:.6g} mm"


def dimensions(width: float, height: float) -> str:
    """Return a size in points as its two sides are read, ``2 5/8 in x 1 in``."""
    return f"{Length(width)} x {Length(height)}"


_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september",
    "october", "november", "december",
)  # fmt: skip
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_SHORTEST = 3
"""Letters by which a month or a weekday is known."""

DayOrder = Literal["", "month first", "day first"]
"""In which order a day is written in figures; empty where it shows none."""

_FIGURES = re.compile(r"(\d{1,2})[/.-](\d{1,2})(?:[/.-](\d{4}|\d{2}))?")
_YEAR_FIRST = re.compile(r"(\d{4})[/.](\d{1,2})[/.](\d{1,2})")


def day_readings(text: str, today: date | None = None) -> dict[DayOrder, date]:
    """Return every day that ``text`` may mean, by the order in which it is read.

    ISO 8601, ``Oct 2``, ``2nd October 2026``, ``9/14/26``, ``14.9.2026``. Of figures that may be
    read in both orders both days are returned.

    Args:
        text: as people write it, in English or in figures.
        today: what is written without a year is the last such day up to here; None takes none.

    Raises:
        ValueError: if it is no day, or a year is missing.
    """
    plain = text.strip().lower()
    with suppress(ValueError):
        return {"": date.fromisoformat(plain.upper())}
    if found := _YEAR_FIRST.fullmatch(plain):
        return {"": date(*(int(number) for number in found.groups()))}
    if found := _FIGURES.fullmatch(plain):
        first, second, year = found.groups()
        ways: dict[DayOrder, tuple[str, str]] = {
            "month first": (first, second), "day first": (second, first),
        }  # fmt: skip
        orders: dict[DayOrder, date] = {}
        for order, (month, day) in ways.items():
            with suppress(ValueError):
                orders[order] = _day(year, int(month), int(day), today)
        if not orders:
            raise ValueError(f"{text!r} is no day")
        days = list(orders.values())
        return {"": days[0]} if days == days[:1] * 2 else orders
    return {"": _named_day(plain, today)}


def _named_day(plain: str, today: date | None) -> date:
    parts = re.findall(r"[a-z]+|\d+", plain)
    if re.sub(r"[\s,.\-/]", "", plain) != "".join(parts):
        raise ValueError(f"{plain!r} is no day")
    letters = [part for part in parts if part.isalpha() and part not in _ORDINALS]
    letters = [part for part in letters if not _among(part, _WEEKDAYS)]
    months = [_among(part, _MONTHS) for part in letters]
    numbers = sorted((p for p in parts if p.isdecimal()), key=lambda part: len(part) > len("31"))
    if len(months) != 1 or not months[0] or not 1 <= len(numbers) <= len(("day", "year")):
        raise ValueError(f"{plain!r} is no day")
    return _day(numbers[1] if numbers[1:] else None, months[0], int(numbers[0]), today)


_ORDINALS = ("st", "nd", "rd", "th", "of")


def _among(part: str, names: Sequence[str]) -> int:
    """Return which of the names, from 1, begins with ``part``; 0 if none does."""
    fits = [at for at, name in enumerate(names, 1) if name.startswith(part)]
    return fits[0] if len(part) >= _SHORTEST and fits else 0


def _day(year: str | None, month: int, day: int, today: date | None) -> date:
    if year is not None:
        return date(int(year) + (2000 if len(year) == len("26") else 0), month, day)
    if today is None:
        raise ValueError("the year is missing")
    for back in range(9):  # from one 29 February to the next
        with suppress(ValueError):
            if (found := date(today.year - back, month, day)) <= today:
                return found
    raise ValueError(f"month {month} has no day {day}")
