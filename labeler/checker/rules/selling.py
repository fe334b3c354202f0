"""May it be sold there, and does the piece claim what the goods contradict?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from labeler.checker.rulebook import asks, finding, rule
from labeler.checker.rules.presence import SideText
from labeler.checker.rules.wording import contradicted
from labeler.checker.sides import SeenSide
from labeler.checker.subject import Subject
from labeler.disclosures.rules import Effect
from labeler.disclosures.statements import folded
from labeler.findings import Finding, Grade, Place


def claimed(side: SeenSide, subject: Subject) -> Iterator[Finding]:
    """Yield the claims on this side that composition or origin contradict."""
    for passage in side.passages:
        yield from contradicted(passage.text, subject, side.place(passage.lines[0].box))


def sold(subject: Subject, place: Place) -> Iterator[Finding]:
    """Yield where the product may not be sold, and as notes where its use is restricted."""
    for verdict in subject.verdicts:
        for reason in verdict.reasons:
            if reason.effect in (Effect.BARRED, Effect.RESTRICTED):
                yield reason.finding(place)
        yield from (reason.finding(place) for reason in verdict.notes)


def untold(subject: Subject, place: Place) -> Iterator[Finding]:
    """Yield what its places of sale ask of the piece and the catalog, so the piece, lacks."""
    for gap in subject.gaps:
        if gap.grade is not Grade.NOTE:
            yield replace(gap, place=place)


@asks("code-only-carrier")
def only_in_code(missing: list[str], texts: list[SideText], place: Place) -> Iterator[Finding]:
    """Yield that a code is to carry what is missing on the piece itself.

    Args:
        missing: the statements that are missing, folded.
        texts: what the piece's sides say, and what their codes say.
        place: where the piece is.
    """
    if not missing:
        return
    said = [folded(text) for side in texts for text in side.codes]
    inside = [each for each in missing if any(each in text for text in said)]
    plain = " ".join(text for side in texts for text in side.texts).casefold()
    pointed = [words for words in rule("code-only-carrier").words if words in plain]
    if inside or (pointed and said):
        what = f"“{inside[0][:60]}” stands in a code" if inside else f"“{pointed[0]}”"
        yield finding("code-only-carrier", place, found=what, grade=Grade.FIX)
