"""Every rule that reaches a product's markets, each with its answer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass

from labeler.catalog.model import Product
from labeler.disclosures.load import RuleBook
from labeler.disclosures.rules import Effect, Rule
from labeler.disclosures.triggers import Answer, Truth, judge


@dataclass(frozen=True, slots=True)
class Ruling:
    """One rule held against one product in one market."""

    rule: Rule
    market: str
    answer: Answer

    @property
    def set_off(self) -> bool:
        """Whether the rule is set off for certain."""
        return self.answer.truth is Truth.YES

    @property
    def untold(self) -> bool:
        """Whether the catalog does not tell what the rule asks."""
        return self.answer.truth is Truth.UNTOLD


def rulings(
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    book: RuleBook,
    effects: Container[Effect] = frozenset(Effect),
) -> Iterator[Ruling]:
    """Yield every rule of ``effects`` that reaches any of ``markets``, with its answer there.

    The widest rules come first, and each rule once for every market that it reaches.
    """
    for rule, places in book.rules_reaching(markets):
        if rule.effect not in effects:
            continue
        everywhere = None if rule.parts else judge(rule, product, places[0], day)
        for market in places:
            yield Ruling(rule, market, everywhere or judge(rule, product, market, day))
