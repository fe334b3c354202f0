"""Words that may not stand: the rules on claims, asked only where a word of theirs stands."""

from __future__ import annotations

from functools import cache, lru_cache

from labeler.checker.subject import CheckedProduct
from labeler.disclosures import market_rules, wording
from labeler.disclosures.rules import Effect
from labeler.findings import Finding, Place


def contradicted(text: str, subject: CheckedProduct, place: Place) -> tuple[Finding, ...]:
    """Return a finding for each claim in a passage that the goods contradict."""
    if not _speaks(text, "anywhere", subject.markets):
        return ()
    return wording.contradicted(text, subject.product, subject.markets, subject.day, place=place)


def puffed(text: str, subject: CheckedProduct, place: Place) -> tuple[Finding, ...]:
    """Return a finding for each word in or by a quantity that exaggerates it.

    The product's own names are no puffery: a colour may be called Full Moon.
    """
    for name in subject.names:
        text = text.replace(name, " ")
    if not _speaks(text, "quantity", subject.markets):
        return ()
    return wording.puffed(text, subject.product, subject.markets, subject.day, place=place)


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
