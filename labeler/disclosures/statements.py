"""What a piece must say, ready to be set: runs of text, the least size, and who asks for it."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, TypeVar

from labeler.disclosures.rules import KINDS, Confidence, Duty, Kind, Measure
from labeler.units import FRACTION_SLASH

Item = TypeVar("Item")

Emphasis = Literal["plain", "bold", "conspicuous"]
"""``conspicuous``: not hidden among other print, as the law on warnings says."""

_DUTIES: tuple[Duty, ...] = ("optional", "customary", "law")
_EMPHASES: tuple[Emphasis, ...] = ("plain", "bold", "conspicuous")


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of text in one weight."""

    text: str
    bold: bool = False


@dataclass(frozen=True, slots=True)
class LeastSize:
    """The least size of a statement's letters.

    ``points`` satisfies every version of the rule; below ``firm`` the text that was read is
    broken. For a cap height or an x-height each is a height of ink; for a font size, nominal.
    """

    measure: Measure
    points: float
    firm: float


@dataclass(frozen=True, slots=True)
class Form:
    """One way to say a statement. Every one of ``least`` must be met."""

    runs: tuple[Run, ...]
    least: tuple[LeastSize, ...] = ()
    triangle: bool = False
    """Whether the warning sign stands left of it, no lower than the signal word."""
    as_large_as_other: bool = False
    """Whether no other consumer information may stand in larger type."""
    rule: str = ""
    """The rule that gives the wording."""
    until: str = ""
    """The first day, ISO 8601, on which the wording no longer serves; empty where none is set."""

    @property
    def text(self) -> str:
        """The whole text, without its weights."""
        return "".join(run.text for run in self.runs)

    @property
    def plain(self) -> str:
        """The text as it reads, whatever spaces and fraction signs it is set with."""
        return folded(self.text)


@lru_cache(maxsize=4096)
def folded(text: str) -> str:
    """Return ``text`` with plain single spaces and ``3/8`` for any way to set three eighths.

    What was read off a page can so be held against what should stand there.
    """
    plain = unicodedata.normalize("NFKC", text).replace(FRACTION_SLASH, "/")
    return " ".join(plain.split())


@dataclass(frozen=True, slots=True)
class Statement:
    """One thing that a piece says for the places where it is sold."""

    id: str
    """The first rule that asks for it."""
    kind: Kind
    full: Form
    short: Form | None
    """For a piece without room for the full form."""
    accepted: tuple[Form, ...]
    """Never printed; but where one of these stands, the rule is satisfied."""
    expired: tuple[Form, ...]
    """Wordings that served once and no longer do."""
    emphasis: Emphasis
    duty: Duty
    markets: tuple[str, ...]
    """The places of sale that ask for it."""
    rules: tuple[str, ...]
    confidence: Confidence
    """How far the best of its rules is to be trusted."""
    placement: tuple[str, ...] = ()

    @property
    def runs(self) -> tuple[Run, ...]:
        """The full form's runs."""
        return self.full.runs

    @property
    def text(self) -> str:
        """The full form's text."""
        return self.full.text

    @property
    def satisfying(self) -> tuple[Form, ...]:
        """Every form that satisfies it, the full one first."""
        return (self.full, *((self.short,) if self.short else ()), *self.accepted)


def parse_runs(text: str) -> tuple[Run, ...]:
    """Return ``**WARNING:** words`` as runs, every second one bold."""
    pieces = text.split("**")
    return tuple(Run(piece, bool(i % 2)) for i, piece in enumerate(pieces) if piece)


def merge(statements: Iterable[Statement]) -> tuple[Statement, ...]:
    """Return the statements in print order, those that say the same made one."""
    merged: dict[tuple[Kind, str], Statement] = {}
    for one in statements:
        key = (one.kind, one.text)
        merged[key] = _join(merged[key], one) if key in merged else one
    return tuple(sorted(merged.values(), key=lambda one: KINDS.index(one.kind)))


def _join(one: Statement, other: Statement) -> Statement:
    """Return two statements as one; a rule that is waived asks for nothing that another does."""
    asking = [each for each in (one, other) if each.duty != "optional"] or [one, other]
    return replace(
        one,
        full=_join_forms(one.full, other.full),
        short=_join_forms(one.short, other.short)
        if one.short and other.short
        else one.short or other.short,
        accepted=_once(one.accepted + other.accepted),
        expired=_once(one.expired + other.expired),
        emphasis=max(one.emphasis, other.emphasis, key=_EMPHASES.index),
        duty=max(one.duty, other.duty, key=_DUTIES.index),
        markets=_once(tuple(market for each in asking for market in each.markets)),
        rules=_once(tuple(rule for each in asking for rule in each.rules)),
        confidence=max(one.confidence, other.confidence, key=lambda each: each.rank),
        placement=_once(one.placement + other.placement),
    )


def _join_forms(one: Form, other: Form) -> Form:
    if one.text != other.text:
        return one
    return replace(
        one,
        least=largest(one.least + other.least),
        triangle=one.triangle or other.triangle,
        as_large_as_other=one.as_large_as_other or other.as_large_as_other,
    )


def largest(sizes: Iterable[LeastSize]) -> tuple[LeastSize, ...]:
    """Return the largest of the least sizes by each measure."""
    most: dict[Measure, LeastSize] = {}
    for size in sizes:
        held = most.get(size.measure, size)
        most[size.measure] = LeastSize(
            size.measure, max(held.points, size.points), max(held.firm, size.firm)
        )
    return tuple(most.values())


def _once(items: tuple[Item, ...]) -> tuple[Item, ...]:
    return tuple(dict.fromkeys(items))
