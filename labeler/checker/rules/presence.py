"""Whether every required statement stands on the piece, in full, and is really seen."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from labeler.checker.geometry import around, overlap, within
from labeler.checker.ink import INVISIBLE_MODES
from labeler.checker.rulebook import asks, finding, rule
from labeler.checker.rules import legibility, quantity, warning
from labeler.checker.rules.legibility import named
from labeler.checker.rules.occurrences import Occurrence, find_all
from labeler.checker.seen import Glyph
from labeler.checker.sides import SEEN, SeenSide
from labeler.checker.subject import Subject, law_of, softened, told
from labeler.disclosures.rules import Duty
from labeler.disclosures.statements import Statement
from labeler.findings import Finding, Grade, Place

_GRAVITY = {Grade.STOP: 100, Grade.FIX: 10, Grade.NOTE: 1}


@dataclass(slots=True)
class Standing:
    """How one statement stands on the sides of a piece that were looked at so far.

    Only the best occurrence counts: what is said well once is said.
    """

    found: list[tuple[bool, list[Finding]]] = field(default_factory=list)
    """For each occurrence, whether it stands on the display panel, and what is wrong with it."""
    unseen: list[Finding] = field(default_factory=list)
    expired: list[Finding] = field(default_factory=list)


def look_for(said: Statement, side: SeenSide, subject: Subject, standing: Standing) -> None:
    """Look for a statement on one side, and note in ``standing`` how it stands there."""
    forms = said.satisfying
    for one in find_all(said, forms, side, side.passages):
        wrong = [
            *legibility.judged(one, subject),
            *quantity.judged(one, subject),
            *warning.judged(one, subject),
        ]
        standing.found.append((_bound(said) and _on_panel(one), wrong))
    if not standing.found:
        hidden = find_all(said, forms, side, side.written)
        standing.unseen += [_unseen(one) for one in hidden[:1]]
    for one in find_all(said, said.expired, side, side.passages):
        standing.expired.append(_expired(one, subject))


def _bound(said: Statement) -> bool:
    """Tell whether a statement must stand on the side that faces the buyer."""
    return said.kind in rule("statement-off-the-panel").words and said.duty == "law"


def _on_panel(found: Occurrence) -> bool:
    side = found.side
    return side.claim.side == "front" and all(side.upright(line) for line in found.lines)


@asks("statement-missing", "statement-expired", "statement-unseen", "statement-off-the-panel")
def judged(
    said: Statement, standing: Standing, sides: Sequence[SideText], place: Place
) -> Iterator[Finding]:
    """Yield what is wrong with one statement on the whole piece."""
    if standing.found:
        yield from _best(said, standing, place)
    elif standing.unseen:
        yield standing.unseen[0]
    elif standing.expired:
        yield standing.expired[0]
    else:
        yield _missing(said, sides, place)


def _best(said: Statement, standing: Standing, place: Place) -> Iterator[Finding]:
    """Yield what is wrong with the statement where it stands best."""
    where = rule("statement-off-the-panel")
    bound = _bound(said)
    on_panel = [wrong for panel, wrong in standing.found if panel]
    candidates = on_panel if bound and on_panel else [wrong for _, wrong in standing.found]
    yield from min(candidates, key=lambda wrong: sum(_GRAVITY[each.grade] for each in wrong))
    if bound and not on_panel:
        yield finding(
            where.id,
            place,
            f"{named(said.full.plain)} stands only where the buyer does not look first",
            grade=softened(where.grade, said),
        )


# -------------------------------------------------------------------------------- missing


@dataclass(frozen=True, slots=True)
class SideText:
    """What is kept of a side's text until its piece is whole."""

    texts: tuple[str, ...]
    codes: tuple[str, ...]


_DUTY_WORDS: dict[Duty, str] = {
    "law": "asked for",
    "customary": "customary",
    "optional": "optional",
}


def _missing(said: Statement, sides: Sequence[SideText], place: Place) -> Finding:
    near = _nearest(said, [text for side in sides for text in side.texts])
    law = law_of(said)
    markets = ", ".join(said.markets)
    grade = softened(Grade.STOP, said)
    message = f"{named(said.full.plain)} is missing ({_DUTY_WORDS[said.duty]} in {markets})"
    return finding(
        "statement-missing",
        place,
        message,
        grade=grade,
        found=f"“{near}”" if near else "nothing like it",
        expected=_in_words(said),
        hint=" ".join(part for part in (law.about, law.doubt or "") if part),
        source=told(said),
    )


def _in_words(said: Statement) -> str:
    ways = [f"“{form.plain}”" for form in said.satisfying]
    return " or ".join(ways[:2])


def _nearest(said: Statement, texts: Sequence[str]) -> str:
    """Return the stretch of text that comes nearest to a statement, if one is near at all."""
    best, score = "", _NEAR
    for form in said.satisfying[:2]:
        wanted = form.plain
        for text in texts:
            stretch, alike = _stretch(wanted, text)
            if alike > score:
                best, score = stretch, alike
    return best


_NEAR = 0.62


def _stretch(wanted: str, text: str) -> tuple[str, float]:
    """Return the words of ``text`` that come nearest to ``wanted``, and how near they are."""
    words, count = text.split(), len(wanted.split())
    if not words:
        return "", 0.0
    matcher = difflib.SequenceMatcher(autojunk=False)
    matcher.set_seq2(wanted)
    best = ("", 0.0)
    for at in range(max(1, len(words) - count + 1)):
        stretch = " ".join(words[at : at + count])
        matcher.set_seq1(stretch)
        if matcher.real_quick_ratio() > best[1] and matcher.quick_ratio() > best[1]:
            best = max(best, (stretch, matcher.ratio()), key=lambda pair: pair[1])
    return best


def _expired(found: Occurrence, subject: Subject) -> Finding:
    said = found.statement
    return finding(
        "statement-expired",
        found.side.place(found.box),
        f"the wording {named(found.form.plain)} no longer serves since {found.form.until}",
        grade=softened(Grade.STOP, said),
        found=f"a run of {subject.day.isoformat()}",
        expected=f"“{(said.short or said.full).plain}”",
        source=told(said),
    )


# --------------------------------------------------------------------------------- unseen


def _unseen(found: Occurrence) -> Finding:
    said = found.statement
    hidden = [glyph for glyph in found.inked if glyph.shown < SEEN]
    letters = "".join(glyph.text for glyph in hidden)
    return finding(
        "statement-unseen",
        found.side.place(around([glyph.box for glyph in hidden or found.inked])),
        f"{named(found.form.plain)} stands in the file, but is not seen in full: "
        f"{_why(hidden, found.side)}",
        grade=softened(Grade.STOP, said),
        found=f"{len(hidden)} of {len(found.inked)} letters unseen: {letters[:40]!r}",
        source=told(said),
    )


def _why(hidden: Sequence[Glyph], side: SeenSide) -> str:
    """Return why letters are not seen, as far as the operators tell."""
    reasons = [_reason(glyph, side) for glyph in hidden]
    return max(reasons, key=reasons.count) if reasons else "its lines are torn apart"


def _reason(glyph: Glyph, side: SeenSide) -> str:
    raster = side.raster
    page = (0.0, 0.0, raster.columns / raster.scale, raster.rows / raster.scale)
    if glyph.mode in INVISIBLE_MODES:
        return "it is drawn without ink"
    if glyph.alpha < _CLEAR:
        return "its ink is transparent"
    if not overlap(glyph.box, page):
        return "it stands outside the page"
    if not within(glyph.box, glyph.clip, 0.3):
        return "it is clipped away"
    if glyph.ink == glyph.ground:
        return "its ink is that of its ground"
    things = [(shape.order, shape.box) for shape in side.shapes]
    things += [(each.order, each.box) for each in side.pictures]
    if any(order > glyph.order and overlap(box, glyph.box) for order, box in things):
        return "something is laid over it"
    return "the rendered page does not show it"


_CLEAR = 0.05
