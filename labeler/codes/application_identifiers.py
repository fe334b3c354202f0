"""GS1 Application Identifiers: the two to four digits that say what a value is.

10 is a lot, 01 a GTIN. What each may hold stands in ``application_identifiers.toml``. A date's
century, a country's code and the like are not looked into.
"""

from __future__ import annotations

import re
import string
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple

from labeler.catalog.gtin import check_digit

_DIGITS = frozenset(string.digits)

SET_82 = frozenset("!\"%&'()*+,-./0123456789:;<=>?_" + string.ascii_letters)
"""The characters of lots, serial numbers and the like.

Source: GS1 General Specifications, 7.11 (figure 7.11-1); GS1 Barcode Syntax Dictionary,
lint_cset82.
"""

_SETS = {
    "N": (_DIGITS, "digits"),
    "X": (SET_82, "the 82 characters of GS1"),
    "Y": (frozenset("#-/" + string.digits + string.ascii_uppercase), "digits, capitals, # - /"),
    "Z": (frozenset("-_=" + string.digits + string.ascii_letters), "letters, digits, - _ ="),
}
_PART = re.compile(r"(\[)?([NXYZ])(\.\.)?(\d+)(?:,(csum|date))?\]?")
_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


class Fault(NamedTuple):
    """What is wrong with a value, as a sentence without its full stop, and at which character."""

    sentence: str
    place: int


class _Part(NamedTuple):
    letters: str
    least: int
    most: int
    optional: bool
    check: str


@dataclass(frozen=True, slots=True)
class Identifier:
    """An Application Identifier.

    Attributes:
        ai: its digits.
        title: what it is called, with its digits in brackets.
        attribute: whether it may stand behind the question mark of a link.
        paths: if links may name it, what may stand within it: one order or another; else none.
    """

    ai: str
    title: str
    attribute: bool
    paths: tuple[tuple[str, ...], ...]
    parts: tuple[_Part, ...]

    def fault(self, value: str) -> Fault | None:
        """Return what is wrong with ``value``, or None if it may stand here."""
        place = 0
        for part in self.parts:
            piece = value[place : place + part.most]
            if not piece and part.optional:
                break
            if fault := self._fault_of(part, piece, place):
                return fault
            place += len(piece)
        if place < len(value):
            return Fault(f"{self.title} is longer than {place} characters", place)
        return None

    def _fault_of(self, part: _Part, piece: str, place: int) -> Fault | None:
        allowed, words = _SETS[part.letters]
        for nth, letter in enumerate(piece):
            if letter not in allowed:
                return Fault(f"{self.title} takes {words} and not {letter!r}", place + nth)
        if len(piece) < part.least:
            count = "at least 1 character" if part.least < part.most else f"{part.least} of them"
            return Fault(
                f"{self.title} takes {words}, {count}, and has {len(piece)}", place + len(piece)
            )
        if part.check == "csum" and piece[-1] != (right := check_digit(piece[:-1])):
            return Fault(
                f"the check digit of {self.title} would have to be {right}, not {piece[-1]}",
                place + len(piece) - 1,
            )
        if part.check == "date" and (sentence := _fault_of_date(piece)):
            return Fault(f"{self.title}: {sentence}", place)
        return None


@cache
def identifier(ai: str) -> Identifier | None:
    """Return the Application Identifier with these digits, or None if there is none."""
    table = _table()
    form = next(
        (form for pattern, form in table["form"].items() if re.fullmatch(pattern, ai)), None
    )
    if form is None:
        return None
    name = table["titles"].get(ai, "")
    return Identifier(
        ai=ai,
        title=f"{name} ({ai})".strip(),
        attribute=ai not in table["never"]["attributes"],
        paths=tuple(tuple(path) for path in table["keys"].get(ai, ())),
        parts=tuple(_part(*found.groups("")) for found in _PART.finditer(form)),
    )


@cache
def _table() -> dict[str, Any]:
    name = "application_identifiers.toml"
    return tomllib.loads(files(__package__).joinpath(name).read_text("utf-8"))


def _part(bracket: str, letters: str, dots: str, length: str, check: str) -> _Part:
    most = int(length)
    return _Part(letters, 1 if dots else most, most, bool(bracket), check)


def _fault_of_date(digits: str) -> str:
    """Return why ``digits`` are no date, year, month and day of two digits each; "" if they are.

    A year is taken to lie in this century, where it matters: for the last of February.
    Source: GS1 Barcode Syntax Dictionary, lint_yymmd0.
    """
    year, month, day = (int(digits[place : place + 2]) for place in (0, 2, 4))
    if not 1 <= month <= 12:
        return f"there is no month {month:02}"
    last = 28 if month == 2 and year % 4 else _DAYS[month - 1]
    return f"month {month:02} has no day {day:02}" if day > last else ""
