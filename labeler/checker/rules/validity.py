"""From when to when a price list holds stands in it, and the day is still within."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator

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


class Dates:
    """From when to when the prices hold, and which of the two days some page has said."""

    def __init__(self, start: dt.date, until: dt.date | None) -> None:
        self._due = {"from": written(start)} | ({"until": written(until)} if until else {})
        self._missing = set(self._due)

    @asks("price-date-wrong")
    def on(self, leaf: SeenPlace) -> Iterator[Finding]:
        """Yield the days on a page of no pattern, cover or terms, that are not the terms'."""
        for passage in leaf.passages:
            hits = _SAID.finditer(passage.text) if "rices from" in passage.text else ()
            for hit in hits:
                self._missing.discard(hit[1])
                if hit[2] != self._due.get(hit[1]):
                    boxes = [g.box for g in passage.glyphs[hit.start() : hit.end()] if g and g.area]
                    yield finding(
                        "price-date-wrong", leaf.place(around(boxes)), found=hit[0],
                        expected=self._due.get(hit[1], "no such day"),
                    )  # fmt: skip

    @asks("price-date-wrong")
    def missing(self, place: Place) -> Iterator[Finding]:
        """Yield the days that no page has said."""
        for which in sorted(self._missing):
            said = f"{which} {self._due[which]}"
            yield finding("price-date-wrong", place, found="none", expected=said)


@asks("price-list-over")
def over(terms: Terms, day: dt.date, place: Place) -> Iterator[Finding]:
    """Yield that the prices no longer hold."""
    if terms.valid_until and terms.valid_until < day:
        yield finding(
            "price-list-over", place, found=terms.valid_until.isoformat(),
            expected=f"a day from {day.isoformat()} on",
        )  # fmt: skip
