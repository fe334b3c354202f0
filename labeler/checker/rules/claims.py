"""Words that may not stand: the rules on claims, asked only where a word of theirs stands."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from functools import cache, lru_cache
from itertools import islice, pairwise
from operator import attrgetter, itemgetter

from labeler.checker.page.text import TextLine, TextPassage, lines_in
from labeler.checker.subject import CheckedProduct
from labeler.disclosures import market_rules, wording
from labeler.disclosures.rules import Effect
from labeler.findings import Finding, Place


def judge_claims(text: str, subject: CheckedProduct, place: Place) -> tuple[Finding, ...]:
    """Return a finding for each claim in a passage that the goods contradict."""
    if not _speaks(text, "anywhere", subject.markets):
        return ()
    return wording.contradicted(text, subject.product, subject.markets, subject.day, place=place)


def judge_puffery(text: str, subject: CheckedProduct, place: Place) -> tuple[Finding, ...]:
    """Return a finding for each word in or by a quantity that exaggerates it.

    The product's own names are no puffery: a colour may be called Full Moon.
    """
    for name in subject.names:
        text = text.replace(name, " ")
    if not _speaks(text, "quantity", subject.markets):
        return ()
    return wording.puffed(text, subject.product, subject.markets, subject.day, place=place)


def said_in(passages: Sequence[TextPassage]) -> Iterator[tuple[str, TextLine]]:
    """Yield what a side says: each passage, and the claims that whole lines make though far apart.

    With each goes the line that it begins with. A claim torn apart (``MADE IN``, and further down
    or to the right ``THE USA``) comes with the line before and the lines after it, which may
    qualify it.
    """
    yield from ((passage.in_lines, passage.lines[0]) for passage in passages)
    every = lines_in(passages)
    before = {id(line.after): line for line in every if line.after}
    lines = [line for line in every if line.text.strip()]
    downwards = sorted(lines, key=attrgetter("base"))
    reach = _APART * max((line.size for line in lines), default=0.0)
    nearest = cache(lambda line: _nearest(line, downwards, reach))
    for first in lines:
        if not wording.begins(_every_claim(), first.text):
            continue
        near = nearest(first)
        chains: list[tuple[TextLine, ...]] = [(first, each) for each in near]
        chains += [(first, each, last) for each in near for last in nearest(each)]
        for chain in chains:
            joined = all(one.after is other for one, other in pairwise(chain))
            if not joined and _whole("\n".join(line.text for line in chain)):
                start = [before[id(first)]] if id(first) in before else []
                rest, at = [*start, *chain], chain[-1].after
                while at is not None and len(rest) < _CONTEXT:
                    rest.append(at)
                    at = at.after
                yield "\n".join(line.text for line in rest), first


_APART = 8.0
"""Type sizes between two lines that can still be read as one claim."""

_NEAREST = 3
_CONTEXT = 8


def _nearest(line: TextLine, downwards: Sequence[TextLine], reach: float) -> list[TextLine]:
    """Return the lines that an eye may go on to from one: below or right of it, none between.

    ``reach``: how far up or down any may stand, in points.
    """
    near = []
    begin = bisect_left(downwards, line.base - reach, key=attrgetter("base"))
    for other in islice(downwards, begin, None):
        if other.base > line.base + reach:
            break
        size = max(line.size, other.size)
        down, right = other.base - line.base, other.start - line.end
        below = 0.4 * size < down <= _APART * size and other.start - 2 * size < line.end
        beside = abs(down) <= 0.4 * size and -0.2 * size < right <= _APART * size
        if other.angle == line.angle and (beside or (below and other.end > line.start - 2 * size)):
            near.append((down if below else right, other.start, other))
    found: list[TextLine] = []
    for *_, other in sorted(near, key=itemgetter(0, 1)):
        if all(each.end <= other.start or other.end <= each.start for each in found):
            found.append(other)
    return found[:_NEAREST]


@lru_cache(maxsize=8_192)
def _whole(text: str) -> bool:
    """Tell whether a text is one claim and nothing else."""
    return wording.whole(_every_claim(), text)


@cache
def _every_claim() -> tuple[str, ...]:
    rules = (rule for _, rule in market_rules.shipped().rules())
    return wording.all_words(rule for rule in rules if rule.near == "anywhere")


@lru_cache(maxsize=8_192)
def _speaks(text: str, near: str, markets: tuple[str, ...]) -> bool:
    """Tell whether any rule of these markets has words that stand in ``text``."""
    return wording.stands(_words(near, markets), text)


@cache
def _words(near: str, markets: tuple[str, ...]) -> tuple[str, ...]:
    """Return all the words that may not stand ``near`` something there."""
    return wording.all_words(
        rule
        for rule, _ in market_rules.shipped().rules_reaching(markets)
        if rule.effect is Effect.CLAIM and rule.near == near
    )
