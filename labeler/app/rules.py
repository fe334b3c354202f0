"""Every rule that anything here is held against, with its source and how far it was read.

A room with rules of its own adds a register: a function that yields them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass

from labeler.checker import rulebook
from labeler.disclosures import market_rules, rules
from labeler.disclosures.rules import Sourced


@dataclass(frozen=True, slots=True)
class ListedRule:
    """One rule as it stands in the list. Empty is what is not so or not known."""

    kind: str
    """What it is about: a market by its name, the house, the form of a declaration."""
    market: str
    """The market's ISO 3166 code, or nothing for what holds everywhere."""
    rule: str
    about: str
    grade: str
    source: str
    confidence: str
    seen: str = ""
    read: str = ""
    doubt: str = ""
    begins: str = ""
    """The first day on which it holds."""
    ends: str = ""
    """The first day on which it no longer does."""

    def holds_on(self, day: dt.date) -> bool:
        """Tell whether the rule is in force on ``day``."""
        said = day.isoformat()
        return (not self.begins or self.begins <= said) and (not self.ends or said < self.ends)

    def as_json(self) -> dict[str, str]:
        """Return plain JSON values."""
        return asdict(self)


Register = Callable[[], Iterator[ListedRule]]


def every_rule(day: dt.date | None = None) -> tuple[ListedRule, ...]:
    """Return all rules, or those in force on a day, register by register."""
    rules = (rule for register in REGISTERS for rule in register())
    return tuple(rule for rule in rules if day is None or rule.holds_on(day))


def _of_markets() -> Iterator[ListedRule]:
    """Yield what the markets ask, and what the house does anyway."""
    for file, rule in market_rules.shipped().rules():
        market = "" if file.market == market_rules.HOUSE else file.market
        days = {
            "begins": rule.starts.isoformat() if rule.starts else "",
            "ends": rule.ends.isoformat() if rule.ends else "",
        }
        yield _listed(rule, file.name, market, days)


def _of_form() -> Iterator[ListedRule]:
    """Yield how a declaration must stand."""
    for rule in rules.rules().values():
        yield _listed(rule, "Form of declarations", "", {})


def _of_pages() -> Iterator[ListedRule]:
    """Yield what the checker looks for on a finished page."""
    for rule in rulebook.rules().values():
        yield ListedRule(
            kind="The finished page",
            market="",
            rule=rule.id,
            about=rule.about,
            grade=rule.grade.value,
            source=rule.source,
            confidence=rule.standing,
            seen=rule.seen or "",
            read=rule.read.isoformat() if rule.read else "",
        )


def _listed(rule: Sourced, kind: str, market: str, days: dict[str, str]) -> ListedRule:
    return ListedRule(kind, market, **rule.as_json(), **days)


REGISTERS: tuple[Register, ...] = (_of_markets, _of_form, _of_pages)
"""Where rules come from, in the order of the list."""
