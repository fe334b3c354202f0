"""Fractions that a spreadsheet took for dates: 3/8 becomes 8 March, or "3-Aug" in a CSV.

The date is not turned back: day, month and year do not say what was typed. The likeliest fraction
is named, for the maker to type again.
"""

from __future__ import annotations

import datetime
import math
import re

from labeler.catalog.spreadsheet.cells import Value

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
_MONTH = "(" + "|".join(_NUMBER_OF) + r")[^\W\d_]*\.?"

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
            return int(found["day"]) % 100, _NUMBER_OF[found[_month_group(form)].casefold()]
    for form in _NUMBERS:
        if found := form.fullmatch(value.strip()):
            return int(found["month"]), int(found["day"])
    return None


def _month_group(form: re.Pattern[str]) -> int:
    return 2 if form is _FORMS[0] else 1


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
