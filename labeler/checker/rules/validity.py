"""From when to when a price list holds stands in it, and the day is still within."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence

from labeler.catalog.model import Terms
from labeler.checker.book_pages import SeenPlace
from labeler.checker.geometry import around
from labeler.checker.rulebook import asks, finding
from labeler.findings import Finding, Place

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
_SAID = re.compile(rf"\b(from|until) (\d{{1,2}} (?:{'|'.join(_MONTHS)}) \d{{4}})\b")


def written(day: dt.date) -> str:
    """Return a day in words, as a price list gives it: 1 November 2026."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


@asks("price-date-wrong")
def dated(leaves: Sequence[SeenPlace], start: dt.date, terms: Terms) -> Iterator[Finding]:
    """Yield the dates on these pages that are not the terms', and those that are on none.

    Args:
        leaves: the pages on no pattern: cover and terms among them.
        start: from when the prices hold.
        terms: until when.
    """
    due = {"from": written(start)}
    if terms.valid_until:
        due["until"] = written(terms.valid_until)
    missing = set(due)
    for leaf in leaves:
        for passage in leaf.passages:
            for hit in _SAID.finditer(passage.text):
                if "rices from" not in passage.text:
                    continue
                missing.discard(hit[1])
                if hit[2] != due.get(hit[1]):
                    boxes = [g.box for g in passage.glyphs[hit.start() : hit.end()] if g and g.area]
                    yield finding(
                        "price-date-wrong", leaf.place(around(boxes)), found=hit[0],
                        expected=due.get(hit[1], "no such date"),
                    )  # fmt: skip
    for which in sorted(missing) if leaves else ():
        place = Place(file=leaves[0].file)
        yield finding("price-date-wrong", place, found="none", expected=f"{which} {due[which]}")


@asks("price-list-over")
def over(terms: Terms, day: dt.date, place: Place) -> Iterator[Finding]:
    """Yield that the prices no longer hold."""
    if terms.valid_until and terms.valid_until < day:
        yield finding(
            "price-list-over", place, found=terms.valid_until.isoformat(),
            expected=f"a day from {day.isoformat()} on",
        )  # fmt: skip
