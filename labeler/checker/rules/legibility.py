"""Whether a statement on a piece can be read: size, weight, contrast, and what is over it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from labeler.checker.page import elements
from labeler.checker.page.elements import Glyph
from labeler.checker.page.sides import SeenSide
from labeler.checker.page.text import TextLine, TextPassage
from labeler.checker.rulebook import asks, finding, number, size_pt
from labeler.checker.subject import CheckedProduct, softened, told, when_missing
from labeler.disclosures.rules import Measure
from labeler.disclosures.statements import LeastSize, Statement, StatementForm
from labeler.findings import Finding, Grade, Place
from labeler.geometry import Box, area, intersection, union
from labeler.units import Length

# ----------------------------------------------------------------------------
# Where a statement stands on a side of a piece, in any wording that satisfies it.

ANY_CASE = ("identity", "maker", "quantity")
"""Kinds of statement that say the same in capitals. A warning's wording is fixed to the letter."""


@dataclass(eq=False)
class Occurrence:
    """A wording of a statement, found."""

    statement: Statement
    form: StatementForm
    side: SeenSide
    passage: TextPassage
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
        return union([glyph.box for glyph in self.inked])

    def place(self, glyphs: Sequence[Glyph] = ()) -> Place:
        """Return where it stands, or some of its glyphs."""
        return self.side.place(union([each.box for each in glyphs]) if glyphs else self.box)

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
    said: Statement, forms: Sequence[StatementForm], side: SeenSide, passages: Sequence[TextPassage]
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


CLOSE = 0.995
"""Measured heights are true to half a percent: sizes stand in a PDF with so many decimals."""


def judge_legibility(found: Occurrence, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield what is wrong with a statement where it stands."""
    yield from _sizes(found, subject)
    yield from _unreadable(found) or [*_squeezed(found), *_contrast(found)]
    yield from _ground(found)
    yield from _overprint(found)
    yield from _cut(found)
    yield from _weights(found)


def shortly(found: Occurrence) -> str:
    """Return the beginning of a statement, to name it by."""
    return named(found.form.plain)


def named(text: str) -> str:
    """Return the beginning of a text in quotation marks."""
    return f"“{text}”" if len(text) <= _SHOWN else f"“{text[:_SHOWN].rstrip()} …”"


_SHOWN = 44


def _about(found: Occurrence) -> str:
    said = found.statement
    return f"the statement {shortly(found)} ({', '.join(said.rules)})"


# ----------------------------------------------------------------------------------- size


@dataclass(frozen=True, slots=True)
class MeasuredHeight:
    """The least height by one measure, and the letter that has it."""

    points: float
    letter: str


def measured(found: Occurrence, measure: Measure) -> MeasuredHeight | None:
    """Return a statement's least height by a measure, in points; None where no letter tells."""
    letters = list(_whole_letters(found))
    if measure == "font size":
        return _least([(glyph.size, letter) for letter, glyph in letters])
    if measure == "cap height":
        tall = [(g.rise, letter) for letter, g in letters if letter.isupper() or letter.isdigit()]
        return _least(tall)
    small = [(glyph.rise - glyph.drop, "o") for letter, glyph in letters if letter == "o"]
    return _least(small or _small_o_of_the_face(found))


def _whole_letters(found: Occurrence) -> Iterator[tuple[str, Glyph]]:
    """Yield the letters, without the figures of built fractions, which have their own measure."""
    text = found.passage.text
    for at in range(found.first, found.end):
        glyph = found.passage.glyphs[at]
        if glyph is None or not glyph.area:
            continue
        beside = text[max(0, at - _LONG_FIGURE) : at + _LONG_FIGURE + 1]
        if not (text[at].isdigit() and "/" in beside):
            yield text[at], glyph


_LONG_FIGURE = 3
"""How far from its slash a figure of a fraction may stand: hundredths have three figures."""


def _least(heights: list[tuple[float, str]]) -> MeasuredHeight | None:
    return MeasuredHeight(*min(heights)) if heights else None


def _small_o_of_the_face(found: Occurrence) -> list[tuple[float, str]]:
    """Return the height of the o that a statement without one would have, by its faces."""
    kinds = {(glyph.font, glyph.size) for glyph in found.inked}
    return [(font.o_height * size, "o") for font, size in kinds if font.o_height is not None]


@asks("statement-small", "statement-unmeasured")
def _sizes(found: Occurrence, subject: CheckedProduct) -> Iterator[Finding]:
    if not all(glyph.font.measured for glyph in found.inked):
        yield finding(
            "statement-unmeasured",
            found.place(),
            f"the letters of {shortly(found)} can't be measured: their outlines can't be read",
            found=", ".join(sorted({glyph.font.name for glyph in found.inked})),
        )
    for least in found.form.least:
        height = measured(found, least.measure)
        if height is not None and height.points < least.points * CLOSE:
            yield _too_small(found, least, height)


_CALLED = {
    "cap height": "capitals {} pt high",
    "x-height": "a small o {} pt high",
    "font size": "type of {} pt",
}


def _too_small(found: Occurrence, least: LeastSize, height: MeasuredHeight) -> Finding:
    broken = height.points < least.firm * CLOSE
    grade = softened(Grade.STOP, found.statement) if broken else Grade.FIX
    words = _CALLED[least.measure]
    return finding(
        "statement-small",
        found.place(),
        f"{_about(found)} stands in letters that are too small",
        grade=grade,
        found=words.format(f"{height.points:.2f}"),
        expected=words.format(f"at least {least.points:.2f}"),
        source=told(found.statement),
    )


_BROAD = frozenset("aceghmnopqsuvwxyzABCDEGHKMNOPQRSTUVWXYZ23456789")
"""Letters that no face makes narrow. The house's judgement."""

_FEW = 3
"""A face may have an odd letter; so many are type that was squeezed."""


@asks("statement-unreadable")
def _unreadable(found: Occurrence) -> list[Finding]:
    """Return that a statement is as good as missing, since nobody can read it."""
    hair = size_pt("statement-unreadable")
    lost = [
        glyph
        for letter, glyph in found.lettered
        if letter in _BROAD and min(glyph.rise - glyph.drop, math.hypot(*glyph.across)) < hair
    ]
    ratio, words = _worst_contrast(found)
    why = f"{len(lost)} letters under {Length(hair).mm:.2f} mm" if len(lost) >= _FEW else ""
    if ratio < number("statement-unreadable"):
        why = words
    if not why:
        return []
    return [
        finding(
            "statement-unreadable",
            found.place(),
            f"{_about(found)} can't be read by anybody",
            grade=when_missing(found.statement),
            found=why,
        )
    ]


@asks("statement-squeezed")
def _squeezed(found: Occurrence) -> Iterator[Finding]:
    most = number("statement-squeezed")
    narrow = [
        glyph
        for letter, glyph in found.lettered
        if letter in _BROAD and glyph.rise - glyph.drop > most * math.hypot(*glyph.across)
    ]
    if len(narrow) >= _FEW:
        yield finding(
            "statement-squeezed",
            found.place(narrow),
            f"letters of {_about(found)} are too narrow for their height",
            found=f"{len(narrow)} letters",
            expected=f"at most {most:g} times as high as wide",
        )


# ----------------------------------------------------------------------- colour and ground


@asks("statement-faint")
def _contrast(found: Occurrence) -> Iterator[Finding]:
    ratio, words = _worst_contrast(found)
    least = number("statement-faint")
    if ratio < least:
        yield finding(
            "statement-faint",
            found.place(),
            f"{_about(found)} is too faint to be read",
            grade=softened(Grade.STOP, found.statement),
            found=words,
            expected=f"at least {least:g}:1",
        )


def _worst_contrast(found: Occurrence) -> tuple[float, str]:
    """Return the least contrast of a statement's letters, and what it is of."""
    worst = math.inf, ""
    for ink, alpha, ground in {(g.ink, g.alpha, g.ground) for g in found.inked}:
        if ink is not None:
            shown = elements.over(ink, alpha, ground)
            ratio = elements.contrast(shown, ground)
            words = f"{ratio:.2f}:1, {elements.as_hex(shown)} on {elements.as_hex(ground)}"
            worst = min(worst, (ratio, words))
    return worst


@asks("statement-on-uneven-ground")
def _ground(found: Occurrence) -> Iterator[Finding]:
    most = number("statement-on-uneven-ground")
    struck = [glyph for glyph in found.inked if glyph.uneven > most]
    if len(struck) >= _A_FEW:
        over = sum(is_under(glyph, found.side) for glyph in struck)
        yield finding(
            "statement-on-uneven-ground",
            found.place(struck),
            f"a line or a picture runs {'over' if over else 'through'} {_about(found)}",
            grade=when_missing(found.statement) if over >= _A_FEW else Grade.FIX,
            found=f"{len(struck)} of {len(found.inked)} letters",
        )


_A_FEW = 2


def is_under(glyph: Glyph, side: SeenSide) -> bool:
    """Tell whether something is painted over a glyph, which then can't be read with ease."""
    return any(each.order > glyph.order and each.paints(glyph.box) for each in side.things)


@asks("statement-overprinted")
def _overprint(found: Occurrence) -> Iterator[Finding]:
    """Yield the letters over which other type lies."""
    others = found.side.type_in(found.box, beside=found.passage)
    share = number("statement-overprinted")
    hit = [
        glyph
        for glyph in found.inked
        if any(_shared(glyph.box, other.box) > share for other in others)
    ]
    # a sign may be so slight that its neighbours' ink counts for much in its box
    hit += [each for each in found.inked if each.shown > _TOO_DARK and each.reads.isalnum()]
    if len(hit) >= _A_FEW:
        yield finding(
            "statement-overprinted",
            found.place(hit),
            f"other type is printed over {_about(found)}",
            grade=when_missing(found.statement),
            found=f"{len(hit)} of {len(found.inked)} letters",
        )


_TOO_DARK = 4.0
"""A letter's place has more ink than the letter: something else of the page lies on it."""


def _shared(one: Box, other: Box) -> float:
    common = intersection(one, other)
    return area(common) / max(area(one), 1e-6) if common else 0.0


# ---------------------------------------------------------------------------------- place


@asks("statement-cut")
def _cut(found: Occurrence) -> Iterator[Finding]:
    out = [glyph for glyph in found.inked if id(glyph) in found.side.cut_off]
    if out:
        yield finding(
            "statement-cut",
            found.place(out),
            f"{_about(found)} runs over the edge, where the piece is cut",
            grade=when_missing(found.statement),
            found=f"{len(out)} of {len(found.inked)} letters outside",
        )


# --------------------------------------------------------------------------------- weight


@asks("statement-not-bold")
def _weights(found: Occurrence) -> Iterator[Finding]:
    """Yield the words that the wording sets in bold and the page does not."""
    least = number("statement-not-bold")
    at = found.first
    for run in found.form.runs:
        spots = found.passage.spots(run.text.strip()) if run.bold else ()
        begin, end = next((one for one in spots if at <= one[0] and one[1] <= found.end), (-1, -1))
        if begin < 0:
            continue
        glyphs = [g for g in found.passage.glyphs[begin:end] if g]
        light = [
            g for g in glyphs if g.area and g.font.weight is not None and g.font.weight < least
        ]
        if light:
            yield finding(
                "statement-not-bold",
                found.place(light),
                f"{run.text.strip()!r} stands in bold in its wording, but not here",
                found=f"{light[0].font.name}, weight {light[0].font.weight}",
                expected=f"a weight of {least:g} or more",
                source=told(found.statement),
            )
