"""May it be sold there? One verdict a product and market, with a reason and a source for each.

What the catalog does not tell counts against the product, and the verdict says that it is not
certain. A verdict is no legal advice: outputs end with ``rules.NO_LEGAL_ADVICE``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum

from labeler.catalog.model import Product
from labeler.disclosures import market_rules
from labeler.disclosures.market_rules import EVERY_PACK, RuleBook, Ruling, rulings
from labeler.disclosures.rules import Confidence, Effect
from labeler.findings import Finding, Grade, Place


class Status(Enum):
    """What a market makes of a product, the worst last."""

    FREE = "free"
    NOTED = "binding rules noted"
    """Nothing bars it, but rules bind there that are only noted here: no label is held to them."""
    NOT_HELD = "no rules held"
    """Nothing is known here of that place, which does not mean that it may be sold."""
    DISCLOSURE = "disclosure needed"
    RESTRICTED = "use restricted"
    BARRED = "may not be sold"

    @property
    def rank(self) -> int:
        """0 for free."""
        return list(Status).index(self)


_STATUS = {
    Effect.DISCLOSURE: Status.DISCLOSURE,
    Effect.RESTRICTED: Status.RESTRICTED,
    Effect.BARRED: Status.BARRED,
}


@dataclass(frozen=True, slots=True)
class Reason:
    """One rule's part in a verdict."""

    rule: str
    market: str
    effect: Effect
    grade: Grade
    about: str
    because: str
    """What of the product decided."""
    certain: bool
    """Whether the catalog tells all that the rule asks."""
    source: str
    confidence: Confidence
    doubt: str = ""

    def finding(self, place: Place) -> Finding:
        """Return the reason as a finding at ``place``."""
        hint = "" if self.certain else "The catalog does not tell; until it does, this counts."
        return Finding(
            rule=self.rule,
            grade=self.grade,
            place=place,
            message=self.told_of(self.market),
            found="" if self.because == EVERY_PACK else self.because,
            hint=" ".join(part for part in (self.doubt, hint) if part),
            source=f"{self.source} ({self.confidence.value})",
        )

    def told_of(self, places: str) -> str:
        """Return in one sentence what the rule does in some places."""
        effect = "good to know" if self.effect is Effect.NOTE else self.effect.value
        return f"{effect} in {places}: {self.about.removesuffix('.')}"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a market makes of a product on a day."""

    sku: str
    market: str
    day: dt.date
    status: Status
    reasons: tuple[Reason, ...]
    """The rules that are set off, the gravest first."""
    cleared: tuple[Reason, ...]
    """The rules on sale and use that were asked and do not catch it."""
    notes: tuple[Reason, ...]
    """What is good to know."""

    @property
    def certain(self) -> bool:
        """Whether the catalog told all that the status rests on."""
        grave = [one for one in self.reasons if _STATUS[one.effect] is self.status]
        return not grave or any(one.certain for one in grave)


def may_be_sold(product: Product, market: str, day: dt.date) -> Verdict:
    """Return whether ``product`` may be sold in ``market`` on ``day``, and why.

    Args:
        product: what is sold.
        market: the place of sale, by ISO 3166 code.
        day: the day of the sale.
    """
    return verdicts(product, (market,), day)[0]


def verdicts(
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    rules: RuleBook | None = None,
    asked: Iterable[Ruling] | None = None,
) -> tuple[Verdict, ...]:
    """Return for each of ``markets`` whether ``product`` may be sold there; see `may_be_sold`.

    ``asked`` is every rule with its answer, where they have all been asked already.
    """
    book = rules or market_rules.shipped()
    if asked is None:
        asked = rulings(product, markets, day, book, {*_STATUS, Effect.NOTE})
    by_market: dict[str, list[Ruling]] = {market: [] for market in markets}
    for ruling in asked:
        by_market[ruling.market].append(ruling)
    return tuple(_verdict(product, market, day, by_market[market], book) for market in markets)


def _verdict(
    product: Product, market: str, day: dt.date, held: Sequence[Ruling], book: RuleBook
) -> Verdict:
    on_sale = [ruling for ruling in held if ruling.rule.effect in _STATUS]
    caught = [_reason(one) for one in on_sale if one.set_off or one.unknown]
    caught.sort(key=lambda one: (-_STATUS[one.effect].rank, not one.certain))
    notes = [one for one in held if one.rule.effect is Effect.NOTE and one.set_off]
    least = Status.NOTED if any(one.rule.binds for one in notes) else Status.FREE
    least = least if book.knows(market) else Status.NOT_HELD
    return Verdict(
        sku=product.sku,
        market=market,
        day=day,
        status=max([least, *(_STATUS[one.effect] for one in caught)], key=lambda each: each.rank),
        reasons=tuple(caught),
        cleared=tuple(_reason(one) for one in on_sale if not one.set_off and not one.unknown),
        notes=tuple(_reason(one) for one in notes),
    )


def parts_not_asked(markets: Sequence[str], rules: RuleBook | None = None) -> tuple[str, ...]:
    """Return the parts of ``markets`` that have rules of their own and are not named among them.

    Who sells in the US sells in Maine, but only the US's rules are held against ``US``.
    """
    book = rules or market_rules.shipped()
    return tuple(
        code
        for code in book.files
        if "-" in code and code.partition("-")[0] in markets and code not in markets
    )


def _reason(ruling: Ruling) -> Reason:
    rule = ruling.rule
    softer = Grade.FIX if rule.grade is Grade.STOP else rule.grade
    return Reason(
        rule=rule.id,
        market=ruling.market,
        effect=rule.effect,
        grade=softer if ruling.unknown else rule.grade,
        about=rule.about,
        because=ruling.answer.because,
        certain=not ruling.unknown,
        source=rule.source,
        confidence=rule.confidence,
        doubt=rule.doubt or "",
    )


SHORT = {
    Status.FREE: "may be sold",
    Status.NOTED: "see notes",
    Status.NOT_HELD: "not held",
    Status.DISCLOSURE: "notice",
    Status.RESTRICTED: "use limited",
    Status.BARRED: "not sold",
}
"""What stands in a cell: short, because many stand side by side."""

MEANS = {
    Status.FREE: "none of the rules held here stands against it",
    Status.NOTED: "nothing held here bars it, but read the notes: those rules bind",
    Status.DISCLOSURE: "disclosure needed: it may be sold with the notice that the rule asks for",
    Status.RESTRICTED: "use restricted: it may be sold, but not fished everywhere",
    Status.BARRED: "it may not be sold there",
    Status.NOT_HELD: "no rules of that place are held here, so nothing says that it may be sold",
}
"""What a cell's words mean, from the best to the worst."""
