"""A limit as a rule writes it, ``<= 1 oz`` or ``> 0.01 %``, and which side a value falls on."""

from __future__ import annotations

import operator
import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Any

from pydantic import BeforeValidator

from labeler.units import SLACK_PT, Length, Weight

_SIDES: dict[str, Callable[[Fraction, Fraction], bool]] = {
    "<=": operator.le,
    "<": operator.lt,
    ">=": operator.ge,
    ">": operator.gt,
    "==": operator.eq,
}
_WORDS = {"<=": "not more than", "<": "less than", ">=": "at least", ">": "more than", "==": "just"}
_OTHER_SIDE = {"<=": "over", "<": "not under", ">=": "under", ">": "not over", "==": "other than"}


@dataclass(frozen=True, slots=True)
class Limit:
    """One side of a boundary, exact.

    ``bound`` is in grams, points, shares of one, or a count. Two values within ``slack`` of each
    other count as the same, so that a length typed in millimetres can lie on a limit in inches.
    """

    sign: str
    bound: Fraction
    text: str
    slack: Fraction = Fraction(0)

    def holds(self, value: Fraction) -> bool:
        """Tell whether ``value`` lies on this side of the bound."""
        near = value
        if self.slack and abs(value - self.bound) <= self.slack:
            near = self.bound
        return _SIDES[self.sign](near, self.bound)

    def told(self, value: Fraction) -> str:
        """Return on which side ``value`` lies: ``not more than 1 oz``, or ``over 1 oz``."""
        side = _WORDS if self.holds(value) else _OTHER_SIDE
        return f"{side[self.sign]} {self.text}"


def within(limits: tuple[Limit, ...], value: Fraction) -> bool:
    """Tell whether ``value`` lies on the right side of every limit."""
    return all(limit.holds(value) for limit in limits)


def told(limits: tuple[Limit, ...], value: Fraction) -> str:
    """Return where ``value`` lies: ``at least 0.06 g and not more than 28.35 g``.

    Where it breaks a limit, only the limits that it breaks are told.
    """
    broken = [limit.told(value) for limit in limits if not limit.holds(value)]
    return " and ".join(broken or [limit.told(value) for limit in limits])


def _grams(text: str) -> Limit:
    return Limit("", Weight.parse(text).grams, text)


def _points(text: str) -> Limit:
    return Limit("", Fraction(Length.parse(text).pt), text, Fraction(SLACK_PT))


def _share(text: str) -> Limit:
    found = re.fullmatch(r"(\d+(?:\.\d+)?)\s*%", text)
    if not found:
        raise ValueError('a share with its sign, such as "> 0.1 %"')
    return Limit("", Fraction(found[1]) / 100, text)


def _count(text: str) -> Limit:
    if not text.isdecimal():
        raise ValueError('a whole number, such as ">= 10"')
    return Limit("", Fraction(int(text)), text)


def _reader(bound: Callable[[str], Limit]) -> Callable[[Any], tuple[Limit, ...]]:
    """Return what reads one limit or a list of them, each ``sign value``."""

    def read(value: Any) -> tuple[Limit, ...]:
        given = [value] if isinstance(value, str) else value
        if not isinstance(given, list | tuple) or not given:
            raise ValueError('a limit in quotes, such as "<= 1 oz", or a list of them')
        return tuple(one(text) for text in given)

    def one(text: Any) -> Limit:
        if isinstance(text, Limit):
            return text
        found = re.fullmatch(r"(<=|>=|==|<|>)\s*(.+)", str(text).strip())
        if not found:
            raise ValueError("a limit that begins with <=, <, >=, > or ==")
        read = bound(found[2])
        return Limit(found[1], read.bound, read.text, read.slack)

    return read


WeightLimits = Annotated[tuple[Limit, ...], BeforeValidator(_reader(_grams))]
LengthLimits = Annotated[tuple[Limit, ...], BeforeValidator(_reader(_points))]
ShareLimits = Annotated[tuple[Limit, ...], BeforeValidator(_reader(_share))]
CountLimits = Annotated[tuple[Limit, ...], BeforeValidator(_reader(_count))]
