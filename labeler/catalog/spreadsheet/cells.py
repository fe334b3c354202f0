"""What may stand in a cell, and how it is told when it may not."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any

from labeler.catalog.wording import shown


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
