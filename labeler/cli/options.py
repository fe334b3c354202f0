"""The options and arguments that several verbs take, and how what is typed for them is read."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from labeler.units import Length, day_readings

Verb = TypeVar("Verb", bound=Callable[..., Any])


def day(text: str | dt.date, today: dt.date | None = None) -> dt.date:
    """Return a day, as ISO 8601 or as people write it; without a year the last up to ``today``.

    Raises:
        ValueError: if it is none, or may be two.
    """
    if isinstance(text, dt.date):
        return text
    try:
        found = sorted(set(day_readings(text, today).values()))
    except ValueError:
        raise ValueError(f"{text!r} is no day; expected one such as 2027-03-01") from None
    if len(found) > 1:
        either = " or ".join(each.isoformat() for each in found)
        raise ValueError(f"{text!r} may be {either}; write the one that is meant")
    return found[0]


def past_day(text: str | dt.date) -> dt.date:
    """Return a day that may be written without its year, as today's and those before it are.

    Raises:
        ValueError: if it is none, or may be two.
    """
    return day(text, dt.date.today())  # noqa: DTZ011  (the day at the maker's computer)


_LONGEST = Length.from_inches(100)
"""More than any printer takes; the walls of a booth are smaller."""


def size(text: str) -> tuple[float, float]:
    """Return width and height in points of ``3 x 4 in`` or ``75 mm x 100 mm``.

    Raises:
        ValueError: if it is no size, or one that nobody prints.
    """
    parts = re.split(r"\s*[x×]\s*", text.strip(), maxsplit=1)
    unit = re.search(r"(in|mm|cm|pt|″|\")$", parts[-1].strip())
    try:
        width, height = (
            Length.parse(p if re.search(r"[a-z″\"]$", p) else p + (unit[0] if unit else ""))
            for p in parts
        )
    except ValueError:
        expected = 'expected two lengths such as "3 x 4 in"'
        raise ValueError(f"{text!r} is no size; {expected}") from None
    if width.pt <= 0 or height.pt <= 0:
        raise ValueError(f"{text!r} has no area")
    if max(width.pt, height.pt) > _LONGEST.pt:
        raise ValueError(f"{text!r} is no card; expected at most {_LONGEST} a side")
    return width.pt, height.pt


def length(text: str) -> float:
    """Return the points of a length with its unit.

    Raises:
        ValueError: if it is none.
    """
    try:
        return Length.parse(text).pt
    except ValueError as error:
        raise ValueError(f"{text!r} is no length; expected {error}") from None


def first_cell(text: str | int) -> int | str:
    """Return the number of a cell of the sheet, or ``next``.

    Raises:
        ValueError: if it is neither.
    """
    plain = str(text).strip().lower()
    if plain == "next":
        return plain
    if not re.fullmatch(r"-?\d{1,6}", plain):
        raise ValueError(f"{text!r} is no cell; expected a number such as 7, or next")
    return int(plain)


PATH = click.Path(path_type=Path)


def path(*names: str, metavar: str = "FILE", **more: Any) -> Callable[[Verb], Verb]:
    """Return an option that names a file, or a folder."""
    return click.option(*names, metavar=metavar, type=PATH, **more)


def flag(*names: str, **more: Any) -> Callable[[Verb], Verb]:
    """Return an option that is given or left out."""
    return click.option(*names, is_flag=True, **more)


def together(*several: Callable[[Verb], Verb]) -> Callable[[Verb], Verb]:
    """Return several options as one decorator; the help tells them in this order."""

    def give(verb: Verb) -> Verb:
        for option in reversed(several):
            verb = option(verb)
        return verb

    return give


out = path("--out", required=True, help="The PDF to write. It appears whole or not at all.")
note = click.option("--note", default="", metavar="TEXT", help="A line of your own.")


def paper(about: str) -> Callable[[Verb], Verb]:
    """Return the option for the paper, which the maker's country settles where it is left out."""
    return click.option("--paper", type=click.Choice(["letter", "a4"]), help=about)


def key(once: str) -> Callable[[Verb], Verb]:
    """Return the option that names a request, so that it is carried out ``once``."""
    about = f"Names this request: given again, {once}."
    return click.option("--key", metavar="TEXT", help=about)


def as_json(what: str) -> Callable[[Verb], Verb]:
    """Return the option that tells something as JSON."""
    return click.option("--json", "as_json", is_flag=True, help=f"Tell {what} as JSON.")
