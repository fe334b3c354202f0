"""What is found on one side of a piece, and on the piece once all its sides were seen."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import count
from typing import NamedTuple

from labeler.checker.line import ProductLine
from labeler.checker.places import PlaceClaim
from labeler.checker.rules import (
    codes,
    hooks,
    names,
    numbers,
    placing,
    presence,
    quantity,
    selling,
    weights,
)
from labeler.checker.rules.presence import SideText, Standing
from labeler.checker.sides import SeenSide
from labeler.checker.subject import KnownLot, Subject
from labeler.disclosures.statements import folded
from labeler.findings import Finding, Place

SIDE_CHECKS: tuple[Callable[[SeenSide, Subject], Iterator[Finding]], ...] = (
    placing.empty,
    placing.edges,
    placing.holes,
    placing.letters,
    weights.weights,
    hooks.sizes,
    quantity.other_counts,
    numbers.lots,
    numbers.article_numbers,
    numbers.prices,
    selling.claimed,
)
"""Every check that looks at one side by itself."""


@dataclass
class SideResult:
    """What one side of a piece says and what is wrong with it, without the page itself."""

    claim: PlaceClaim
    place: Place
    findings: list[Finding]
    standings: list[Standing]
    text: SideText
    says_lot: bool
    says_names: tuple[bool, ...]
    has_code: bool
    look: tuple[int, int]
    """The same for sides of which one was read for all: the process, and a count in it."""

    @cached_property
    def faultless(self) -> bool:
        """Whether there is nothing to say of it."""
        return not self.findings and not any(
            each.unseen or each.expired or any(wrong for _, wrong in each.found)
            for each in self.standings
        )

    def on_page(self, page: int) -> SideResult:
        """Return the same result for a page that draws the same."""
        return self.at(replace(self.claim, page=page))

    def at(self, claim: PlaceClaim) -> SideResult:
        """Return the same result for another side that is drawn alike."""
        by = claim.to_page[4] - self.claim.to_page[4], claim.to_page[5] - self.claim.to_page[5]

        def moved(findings: list[Finding]) -> list[Finding]:
            return [replace(each, place=_moved(each.place, claim, by)) for each in findings]

        findings, standings = self.findings, self.standings
        if not self.faultless:
            findings = moved(findings)
            standings = [
                Standing(
                    [(panel, moved(wrong)) for panel, wrong in each.found],
                    moved(each.unseen),
                    moved(each.expired),
                )
                for each in standings
            ]
        return SideResult(
            claim, _moved(self.place, claim, by), findings, standings, self.text, self.says_lot,
            self.says_names, self.has_code, self.look,
        )  # fmt: skip


def _moved(place: Place, claim: PlaceClaim, by: tuple[float, float]) -> Place:
    box = place.box
    if box is not None and by != (0, 0):
        x, y = by
        box = box[0] + x, box[1] + y, box[2] + x, box[3] + y
    return replace(place, page=claim.page, cell=str(claim.cell), box=box)


class PageSeen(NamedTuple):
    """What stands on one page: its sides, what is odd about it, and the fonts from elsewhere."""

    sides: list[SideResult]
    odd: list[Finding]
    strange_fonts: list[str]

    def on_page(self, page: int) -> PageSeen:
        """Return the same for a page that draws the same."""
        odd = [replace(each, place=replace(each.place, page=page)) for each in self.odd]
        return PageSeen([side.on_page(page) for side in self.sides], odd, self.strange_fonts)


def look_at_side(
    side: SeenSide, subject: Subject, sold: ProductLine, dpi: float | None
) -> SideResult:
    """Return what is found on one side of a piece.

    Args:
        side: the side, measured.
        subject: what the piece has to be.
        sold: the products of the line, and what they are called.
        dpi: the printer's resolution, None where it is not known.
    """
    found = [each for check in SIDE_CHECKS for each in check(side, subject)]
    found += names.others(side, subject, sold)
    found += codes.codes(side, subject, dpi)
    standings = []
    for said in subject.required:
        standing = Standing()
        presence.look_for(said, side, subject, standing)
        standings.append(standing)
    said_codes = tuple(code.text for code in side.all_codes if code.text)
    return SideResult(
        claim=side.claim,
        place=side.place(),
        findings=_once(found),
        standings=standings,
        text=SideText(tuple(passage.text for passage in side.passages), said_codes),
        says_lot=bool(subject.claim.lot) and numbers.says_lot(side, subject.claim.lot),
        says_names=names.says_names(side, subject),
        has_code=bool(side.all_codes),
        look=(os.getpid(), next(_LOOKS)),
    )


_LOOKS = count()


def _once(findings: Sequence[Finding]) -> list[Finding]:
    """Return the findings, each rule once for the same thing in the same place."""
    return list({(each.rule, each.found, each.place.box): each for each in findings}.values())


@dataclass
class PieceResult:
    """A whole piece, as far as its sides were seen."""

    subject: Subject
    sides: list[SideResult] = field(default_factory=list)

    @property
    def looks(self) -> tuple[object, ...]:
        """The same for pieces of which nothing else can be said, but where they are."""
        return id(self.subject), *(side.look for side in self.sides)

    def findings(self, known_lot: Callable[[str], KnownLot | None] | None) -> Iterator[Finding]:
        """Yield all that is wrong with the piece, once no more sides are to come."""
        place = self.sides[0].place
        texts = [side.text for side in self.sides]
        for side in self.sides:
            yield from side.findings
        missing: list[str] = []
        for number, said in enumerate(self.subject.required):
            together = Standing()
            for side in self.sides:
                standing = side.standings[number]
                together.found += standing.found
                together.unseen += standing.unseen
                together.expired += standing.expired
            yield from presence.judged(said, together, texts, place)
            if not together.found:
                missing += [folded(form.plain) for form in said.satisfying]
        yield from selling.only_in_code(missing, texts, place)
        printed = any(side.says_lot for side in self.sides)
        yield from numbers.lot_of(self.subject, printed, known_lot, place)
        said_names = [any(each) for each in zip(*(s.says_names for s in self.sides), strict=True)]
        yield from names.nameless(said_names, self.subject, place)
        has_code = any(side.has_code for side in self.sides)
        yield from codes.none(has_code, self.subject, place)
