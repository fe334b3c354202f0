"""The checker's own rules, from ``rules.toml``, ``rules-book.toml`` and ``rules-again.toml``.

Each row tells what a rule asks, what is said where it is broken, and on whose word.

A rule that nobody can look up is no rule: a row without a source does not load, a function that
names a rule without a row can't be imported, and what stands on memory alone never stops the
press.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, StringConstraints
from pydantic import model_validator as after

from labeler.catalog.values import PaperLength
from labeler.findings import Finding, Grade, LabelerError, Place, stop
from labeler.tomlfile import RuleIds, read_toml, validate

Sentence = Annotated[str, StringConstraints(min_length=1, max_length=500, strip_whitespace=True)]

Standing = Literal["read", "secondary", "from memory", "own data"]
"""How far a rule is to be trusted. ``own data``: the page is held against the maker's own catalog
or against itself, and needs nobody's word."""


class CheckRule(BaseModel):
    """One thing that the checker looks for on a finished page."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
    """Never renamed: findings, ledgers and other people's notes cite it."""
    about: Sentence
    """What it asks of the page."""
    says: Sentence
    """What is said where it is broken."""
    grade: Grade
    source: Sentence
    standing: Standing
    seen: Sentence | None = None
    """The address at which the source was read."""
    read: dt.date | None = None
    hint: Sentence | None = None
    number: float | None = None
    size: PaperLength | None = None
    words: tuple[Annotated[str, StringConstraints(min_length=1)], ...] = ()

    @after(mode="after")
    def _trusted_as_far_as_read(self) -> CheckRule:
        if self.standing == "from memory" and self.grade is Grade.STOP:
            raise ValueError("a rule from memory may be fix or note, never stop")
        if (self.standing in ("read", "secondary")) != bool(self.read and self.seen):
            raise ValueError("where and when it was read, where it was; else neither")
        return self


class _RuleFile(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    rule: Annotated[tuple[CheckRule, ...], Field(min_length=1)]


_RULES = RuleIds("rule-value", "rule-value", "rule-value")


def load(path: Path, *more: Path) -> dict[str, CheckRule]:
    """Return the rules in the files at these paths by their ids.

    Raises:
        LabelerError: with every fault in a file.
    """
    found: dict[str, CheckRule] = {}
    for file in (path, *more):
        source = read_toml(file, "rules-unread")
        whole, faults = validate(_RuleFile, source, rules=_RULES)
        if whole is None:
            raise LabelerError(faults)
        for number, each in enumerate(whole.rule):
            if each.id in found:
                place = source.place(("rule", number, "id"))
                raise LabelerError(stop("rule-id", place, "the id is taken", found=each.id))
            found[each.id] = each
    return found


@cache
def rules() -> dict[str, CheckRule]:
    """Return every rule of the checker's own by its id.

    The rules on what must be said, and where goods may be sold, are `labeler.disclosures`' own.
    """
    here = Path(__file__)
    names = ("rules.toml", "rules-book.toml", "rules-again.toml")
    return load(*map(here.with_name, names))


def rule(rule_id: str) -> CheckRule:
    """Return the rule called ``rule_id``.

    Raises:
        KeyError: if there is none.
    """
    return rules()[rule_id]


def number(rule_id: str) -> float:
    """Return the number that a rule names.

    Raises:
        KeyError: if it names none.
    """
    found = rule(rule_id).number
    if found is None:
        raise KeyError(f"{rule_id} has no number")
    return found


def size_pt(rule_id: str) -> float:
    """Return the length that a rule names, in points.

    Raises:
        KeyError: if it names none.
    """
    found = rule(rule_id).size
    if found is None:
        raise KeyError(f"{rule_id} has no size")
    return found.pt


def finding(rule_id: str, place: Place, message: str = "", **rest: Any) -> Finding:
    """Return a finding of a rule, with the rule's own grade, source and hint if none is given."""
    broken = rule(rule_id)
    rest.setdefault("hint", broken.hint or "")
    rest.setdefault("source", told(broken))
    grade = rest.pop("grade", broken.grade)
    return Finding(rule_id, grade, place, message or broken.says, **rest)


def told(broken: CheckRule) -> str:
    """Return a rule's source and how far it is to be trusted."""
    if broken.standing == "own data":
        return broken.source
    return f"{broken.source} ({broken.standing})"


Check = TypeVar("Check", bound=Callable[..., Any])


def asks(*rule_ids: str) -> Callable[[Check], Check]:
    """Mark a function as the one that looks for these rules.

    Raises:
        KeyError: at import, if ``rules.toml`` has no such rule.
    """

    def mark(check: Check) -> Check:
        for rule_id in rule_ids:
            rule(rule_id)
        vars(check)["asked"] = rule_ids  # told where it fails
        return check

    return mark
