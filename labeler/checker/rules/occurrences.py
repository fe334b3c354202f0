"""Where a statement stands on a side of a piece, in any wording that satisfies it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from labeler.checker.geometry import Box, around
from labeler.checker.reading import Passage, TextLine
from labeler.checker.seen import Glyph
from labeler.checker.sides import SeenSide
from labeler.disclosures.statements import Statement, StatementForm

ANY_CASE = ("identity", "maker", "quantity")
"""Kinds of statement that say the same in capitals. A warning's wording is fixed to the letter."""


@dataclass(eq=False)
class Occurrence:
    """A wording of a statement, found."""

    statement: Statement
    form: StatementForm
    side: SeenSide
    passage: Passage
    first: int
    end: int

    @cached_property
    def inked(self) -> list[Glyph]:
        """Its glyphs that have ink."""
        return self.passage.inked(self.first, self.end)

    @property
    def lettered(self) -> Iterator[tuple[str, Glyph]]:
        """Each letter that is read, with its glyph."""
        for at in range(self.first, self.end):
            glyph = self.passage.glyphs[at]
            if glyph is not None and glyph.area:
                yield self.passage.text[at], glyph

    @cached_property
    def box(self) -> Box:
        """Around its ink, on the page."""
        return around([glyph.box for glyph in self.inked])

    @cached_property
    def lines(self) -> list[TextLine]:
        """The lines on which it stands."""
        mine = {id(glyph) for glyph in self.inked}
        return [
            line
            for line in self.passage.lines
            if any(glyph is not None and id(glyph) in mine for glyph in line.glyphs)
        ]


def find_all(
    said: Statement, forms: Sequence[StatementForm], side: SeenSide, passages: Sequence[Passage]
) -> list[Occurrence]:
    """Return every place where one of ``forms`` stands among ``passages``, each glyph once."""
    found: list[Occurrence] = []
    taken: set[int] = set()
    any_case = said.kind in ANY_CASE
    for form in forms:
        for passage in passages:
            for first, end in passage.find(form.plain, any_case):
                one = Occurrence(said, form, side, passage, first, end)
                glyphs = {id(glyph) for glyph in one.inked}
                if glyphs and not glyphs <= taken:
                    found.append(one)
                    taken |= glyphs
    return found
