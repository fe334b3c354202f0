"""A book's entries say of each product what its markets ask for, where the product itself stands.

California Code of Regulations, title 27, section 25602(c) as restated: a warning given in a catalog
is clearly associated with the item. A sign beside the item that points to a warning elsewhere, or a
note at the end, does not do (OEHHA's answers 22 and 23 of August 2017).
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from labeler.catalog.model import Terms
from labeler.checker.page.book_page import SeenPlace
from labeler.checker.page.rendering import alike, cut_from
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules import required, weights
from labeler.checker.rules.claims import judge_claims
from labeler.checker.rules.legibility import Occurrence, find_all
from labeler.checker.rules.required import SideText, Standing
from labeler.checker.subject import CheckedProduct
from labeler.disclosures import market_rules
from labeler.disclosures.statements import Statement, folded
from labeler.findings import Finding, Place
from labeler.geometry import Box

ELSEWHERE = ("quantity", "excise")
"""Kinds of statement that stand in the row itself, or once for a whole table."""

_SKUS = re.compile(r"((?:[A-Za-z0-9.\-]+, )*[A-Za-z0-9.\-]+): $")


class EntryStanding:
    """One entry of the book, and how each statement stands in it, found once for all alike."""

    def __init__(self, side: SeenPlace, skus: frozenset[str]) -> None:
        self.side, self._skus = side, skus
        self._standings: dict[str, tuple[Standing, list[Occurrence]]] = {}
        self._text = SideText(tuple(passage.text for passage in side.passages), ())

    def said(self, subject: CheckedProduct) -> Iterator[Finding]:
        """Yield what is wrong with what a product's entry must say."""
        place = self.side.place_of(subject.product.sku)
        for each in subject.required:
            if each.kind not in ELSEWHERE:
                standing = self._standing(each, subject)
                for one in required.judge_statements(each, standing, [self._text], place):
                    yield replace(one, place=replace(one.place, piece=subject.product.sku))

    def _standing(self, said: Statement, subject: CheckedProduct) -> Standing:
        """Return how a statement stands here, for a product that it must be said of."""
        key = said.full.text
        if key not in self._standings:
            standing = Standing()
            required.look_for(said, self.side, subject, standing)
            forms = said.satisfying
            self._standings[key] = standing, find_all(said, forms, self.side, self.side.passages)
        standing, found = self._standings[key]
        serves = any(self._serves(one, subject.product.sku) for one in found)
        return standing if serves or not standing.found else Standing()

    def _serves(self, found: Occurrence, sku: str) -> bool:
        """Tell whether a statement is of a product: of all, or of those named before it."""
        named = _SKUS.search(found.passage.text[: found.first])
        skus = [word for word in named[1].split(", ") if word in self._skus] if named else []
        return not skus or sku in skus


@asks("weight-one-system", "hook-wrong")
def judge_heading(side: SeenPlace, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield what is wrong with the weight and the hook that an entry is headed with."""
    yield from weights.weights(side.by_line, subject)
    units = {hit[1] for passage in side.passages for hit in _WEIGHED.finditer(passage.text)}
    systems = {"grams" if unit == "g" else "ounces" for unit in units}
    if systems != {"ounces", "grams"}:
        yield finding(
            "weight-one-system", side.place(), found=" and ".join(sorted(systems)) or "no weight"
        )
    due = subject.product.hook_size
    for passage in side.passages:
        for hit in _HOOK.finditer(passage.text):
            if hit[1].casefold() != folded(due or "").casefold():
                yield finding(
                    "hook-wrong", side.place(passage.box_of(*hit.span())),
                    found=hit[0], expected=f"hook {due}" if due else weights.NO_SIZE,
                )  # fmt: skip


_HOOK = re.compile(r"\bhook (\d+(?:/0)?)(?![\w/])", re.IGNORECASE)
_WEIGHED = re.compile(r"\d\s?(oz|lb|g)(?![\w-])")


def judge_weights(side: SeenPlace, subjects: Iterable[CheckedProduct]) -> Iterator[Finding]:
    """Yield the weights on a leaf that are no product's of those that it is about."""
    wrong: dict[object, Finding] = {}
    for number, subject in enumerate(subjects):
        found = weights.weights(side.by_line, subject)
        here: dict[object, Finding] = {(one.place.box, one.found): one for one in found}
        wrong = here if number == 0 else {k: v for k, v in wrong.items() if k in here}
        if not wrong:
            return
    yield from wrong.values()


def judge_entry_claims(
    text: str, subjects: Iterable[CheckedProduct], side: SeenPlace, box: Box
) -> Iterator[Finding]:
    """Yield the claims in a text that the first product they are not true of contradicts.

    What a book's table of places says of the law is no claim.
    """
    for subject in subjects:
        place = side.place_of(subject.product.sku, box)
        found = judge_claims(text, subject, place)
        if found and (found := judge_claims(_less_the_law(text), subject, place)):
            yield from found
            return


def _less_the_law(text: str) -> str:
    """Return a text without what the rules say of themselves, word for word."""
    plain = less = " ".join(text.split())
    for _, rule in market_rules.shipped().rules():
        less = less.replace(rule.about.removesuffix("."), " ")
    return text if less == plain else less


class Taxed:
    """What the pages that hold rows of one pattern say of the federal excise tax."""

    def __init__(self, subject: CheckedProduct) -> None:
        self._subject = subject
        self._standing = Standing()
        self._said: Statement | None = None
        self._texts: list[SideText] = []
        self._place = Place()

    def look(self, leaf: SeenPlace, said: Statement | None) -> None:
        """Look at a page for what must be said; for nothing, where nothing must."""
        if said is None:
            return
        if self._said is None:
            self._place = leaf.place_of(self._subject.product.sku)
        self._said = said
        required.look_for(said, leaf, self._subject, self._standing)
        self._texts.append(SideText(tuple(passage.text for passage in leaf.passages), ()))

    @asks("statement-missing")
    def judge(self) -> Iterator[Finding]:
        """Yield what is wrong, once all pages were looked at."""
        if self._said is not None:
            yield from required.judge_statements(
                self._said, self._standing, self._texts, self._place
            )


@asks("excise-wrong")
def judge_excise(leaf: SeenPlace, due: str) -> Iterator[Finding]:
    """Yield each statement on the tax that says other than the terms; ``due`` is in small letters.

    The statement begins alike whatever it says, so that what follows must begin as it should.
    """
    begin, _, rest = due.partition(" tax ")
    for passage in leaf.passages:
        text = passage.text.casefold()
        for hit in re.finditer(re.escape(f"{begin} tax "), text):
            says = text[hit.end() :]
            if says.startswith(("included", "not included")) and not says.startswith(
                rest.rstrip(".")
            ):
                yield finding(
                    "excise-wrong", leaf.place(passage.box_of(*hit.span())),
                    found=passage.text[hit.start() : hit.end() + 14], expected=due,
                )  # fmt: skip


# ----------------------------------------------------------------------------
# From when to when a price list holds stands in it, and the day is still within.

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
            for hit in _SAID.finditer(passage.text) if "rices from" in passage.text else ():
                self._missing.discard(hit[1])
                due = self._due.get(hit[1], "no such day")
                if hit[2] != due:
                    place = leaf.place(passage.box_of(*hit.span()))
                    yield finding("price-date-wrong", place, found=hit[0], expected=due)

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


# ----------------------------------------------------------------------------
# A pattern's photo is the one that the catalog names for it; a book has no other pictures.


@asks("picture-other")
def judge_pictures(leaf: SeenPlace, photo: Path | None) -> Iterator[Finding]:
    """Yield the pictures on a leaf that are not the photo of what the leaf is about."""
    for picture in leaf.pictures:
        place = leaf.place(picture.box)
        if photo is None:
            yield finding("picture-other", place, found="a picture", expected="none")
        elif not (
            alike(leaf.raster.grey(picture.box), photo)
            or cut_from(leaf.raster.coloured(picture.box).whole, photo)
        ):
            yield finding("picture-other", place, found="another picture", expected=photo.name)
