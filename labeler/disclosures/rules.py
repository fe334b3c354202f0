"""What a rule is: what sets it off, what it asks, in which words, and on whose authority.

A rule that nobody can look up is no rule: without a source and a word on how far it is to be
trusted it does not load, and what stands on memory alone never stops the press.
"""

from __future__ import annotations

import datetime as dt
from enum import Enum
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

from labeler.catalog.kinds import Country, Line, Market, PaperLength
from labeler.catalog.model import MaterialKind
from labeler.disclosures.limits import CountLimits, LengthLimits, ShareLimits, WeightLimits
from labeler.findings import Grade

NO_LEGAL_ADVICE = (
    "This is not legal advice. The rules held here are a maker's aid, may be out of date, and do "
    "not cover every place; the local law decides, and qualified counsel can tell you what it says."
)
"""The sentence that everything built on these rules ends with."""

Sentence = Annotated[str, StringConstraints(min_length=1, max_length=500, strip_whitespace=True)]


class Confidence(Enum):
    """How far a rule's statement of the law is to be trusted."""

    READ = "read"
    """The text itself, or the authority's own page, was read."""
    SECONDARY = "secondary"
    """What others write of the text was read, not the text."""
    MEMORY = "from memory"
    """Nothing was read: look it up before you rely on it."""

    @property
    def rank(self) -> int:
        """Nought for the least trusted."""
        return list(reversed(Confidence)).index(self)


class Effect(Enum):
    """What a rule does once it is set off."""

    DECLARED = "declared"
    """Something that every such pack says, and that marks nothing out."""
    DISCLOSURE = "disclosure needed"
    RESTRICTED = "use restricted"
    BARRED = "may not be sold"
    CLAIM = "claim barred"
    """Certain words may not stand on the piece."""
    WAIVES = "waives"
    """Other rules' statements may be left out."""
    NOTE = "note"


Kind = Literal[
    "identity", "maker", "quantity", "head weight", "material", "warning", "origin",
    "caution", "care", "excise",
]  # fmt: skip
KINDS: tuple[Kind, ...] = (
    "identity", "maker", "quantity", "head weight", "material", "warning", "origin",
    "caution", "care", "excise",
)  # fmt: skip
"""The kinds of statement, in the order in which they print."""

Duty = Literal["law", "customary", "optional"]
"""Who asks for a statement: the law; the trade's custom; nobody, but it may be said."""

Measure = Literal["cap height", "x-height", "font size"]
"""What is measured of a statement's letters: capitals, the lower-case o, or the nominal size."""


class Record(BaseModel):
    """A frozen record; a key it does not know is an error."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", use_attribute_docstrings=True, populate_by_name=True
    )


class SubstanceTest(Record):
    """How much of a substance there is, by mass, in a part."""

    names: Annotated[tuple[Line, ...], Field(min_length=1)]
    """Names of one substance or of several that count alike; each counts with its compounds."""
    part: Literal["head", "any part"]
    """The head's alloy, or whichever part holds the largest share."""
    share: ShareLimits


class WeightTest(Record):
    """What weighs how much."""

    of: Literal["whole jig", "head"]
    """The head's stated weight; or the finished jig's, for which the head's stands in where the
    catalog does not state it: no jig is lighter than its head."""
    limit: WeightLimits


class OriginTest(Record):
    """Where something comes from."""

    of: Literal["product", "any part"]
    """Where it is tied; or that, the hook and every material."""
    is_: Country | None = Field(None, alias="is")
    is_not: Country | None = Field(None, alias="is-not")

    @model_validator(mode="after")
    def _one_of_two(self) -> OriginTest:
        if (self.is_ is None) == (self.is_not is None):
            raise ValueError("either is or is-not, with a country's code")
        return self


class When(Record):
    """What sets a rule off. Every test that is given must hold."""

    substance: SubstanceTest | None = None
    weight: WeightTest | None = None
    length: LengthLimits | None = None
    """The finished jig along its longest axis."""
    count: CountLimits | None = None
    """Units in one pack."""
    employees: CountLimits | None = None
    origin: OriginTest | None = None
    goods: tuple[Line, ...] | None = None
    """Only goods whose kind has one of these words."""
    spared: tuple[Line, ...] | None = None
    """Not goods whose kind has one of these words, unless it also has the word jig."""
    material: MaterialKind | None = None
    """Some part is of this kind."""
    painted: bool | None = None
    visible: bool | None = None
    """Whether the bag shows every unit."""
    own_make: bool | None = None
    for_children: bool | None = None
    lead_free: bool | None = None
    """Whether the compositions back the words lead-free head."""
    plural: bool | None = None
    """Whether the identity is a plural."""
    care: bool | None = None
    """Whether the pattern says how to care for it."""
    any_of: tuple[When, ...] | None = None

    @model_validator(mode="after")
    def _not_empty(self) -> When:
        if not self.model_fields_set:
            raise ValueError("at least one test")
        return self

    @cached_property
    def given(self) -> tuple[tuple[str, Any], ...]:
        """The tests that are given, each with what it wants."""
        return tuple(
            (name, getattr(self, name))
            for name in type(self).model_fields
            if getattr(self, name) is not None
        )


class Least(Record):
    """The least size of a statement's letters."""

    by: Literal["panel", "font size", "x-height", "cap height"]
    """``panel``: by the table of type heights, whose size follows the display panel's area."""
    size: PaperLength | None = None

    @model_validator(mode="after")
    def _size_where_fixed(self) -> Least:
        if (self.by == "panel") != (self.size is None):
            raise ValueError("a size, unless it goes by the panel")
        return self


class Wording(Record):
    """One way to say it; ``{name}`` is filled from the product, ``**bold**`` is set bold."""

    form: Literal["full", "short", "accepted"]
    """``accepted`` is never printed, but satisfies the rule where it stands."""
    text: Annotated[str, StringConstraints(min_length=1, max_length=600)]
    triangle: bool = False
    """Whether the warning sign stands before it, no lower than its signal word."""
    signals: tuple[Line, ...] = ()
    """Signal words that may take the place of the first bold one."""
    as_large_as_other: bool = False
    """Whether no other consumer information may stand in larger type."""
    least: Least | None = None
    """Where it differs from the rule's own."""
    starts: dt.date | None = Field(None, alias="from")
    ends: dt.date | None = Field(None, alias="until")
    """The first day on which it no longer serves."""

    def serves_on(self, day: dt.date) -> bool:
        """Tell whether the wording may be used on ``day``."""
        return _on(day, self.starts, self.ends)


class Sourced(Record):
    """Whatever stands on somebody's word: what it is, how it is graded, and who says so."""

    id: Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
    """Never renamed: findings, ledgers and other people's notes cite it."""
    about: Sentence
    """What it asks, in one sentence."""
    grade: Grade
    """How a breach is graded."""
    source: Sentence
    """Where the law, the standard or the custom stands."""
    confidence: Confidence
    seen: Sentence | None = None
    """The address at which it was read."""
    read: dt.date | None = None
    """The day it was read."""
    doubt: Sentence | None = None
    """What is not clear about it."""

    @model_validator(mode="after")
    def _trusted_as_far_as_read(self) -> Sourced:
        memory = self.confidence is Confidence.MEMORY
        if memory and self.grade is Grade.STOP:
            raise ValueError("a rule from memory may be fix or note, never stop")
        if self.doubt and self.grade is Grade.STOP:
            raise ValueError("a rule in doubt may be fix or note, never stop")
        if memory == bool(self.read and self.seen):
            raise ValueError("where and when it was read, and neither for what is from memory")
        return self

    def as_json(self) -> dict[str, str]:
        """Return what the rule asks and on whose word, for a list of all rules."""
        return {
            "rule": self.id,
            "about": self.about,
            "grade": self.grade.value,
            "source": self.source,
            "confidence": self.confidence.value,
            "seen": self.seen or "",
            "read": self.read.isoformat() if self.read else "",
            "doubt": self.doubt or "",
        }


class Rule(Sourced):
    """One rule of one market."""

    effect: Effect
    when: When | None = None
    always: bool = False
    """Whether it needs nothing to set it off."""
    starts: dt.date | None = Field(None, alias="from")
    ends: dt.date | None = Field(None, alias="until")
    """The first day on which it no longer holds."""
    parts: tuple[Market, ...] = ()
    """The market's parts that it reaches; none given, all of them."""
    kind: Kind | None = None
    duty: Duty = "law"
    where: Literal["piece", "price list", "both"] = "piece"
    wording: tuple[Wording, ...] = ()
    least: Least | None = None
    emphasis: Literal["plain", "bold", "conspicuous"] = "plain"
    placement: Sentence | None = None
    waives: tuple[Line, ...] = ()
    """The rules whose statements it makes optional."""
    words: tuple[Line, ...] = ()
    """Words that may not stand; ``*`` is up to four words of any kind."""
    unless: tuple[Line, ...] = ()
    """Words in the same text that make them good."""
    near: Literal["quantity", "anywhere"] = "anywhere"

    @model_validator(mode="after")
    def _whole(self) -> Rule:
        if self.always == (self.when is not None):
            raise ValueError("either always = true or what sets it off")
        for wanted, given, what in _wanted(self):
            if wanted != bool(given):
                raise ValueError(f"{what}, and only there")
        if self.starts and self.ends and self.starts >= self.ends:
            raise ValueError("a day it starts that lies before the day it ends")
        return self

    @property
    def states(self) -> bool:
        """Whether it asks for a statement."""
        return self.effect in (Effect.DECLARED, Effect.DISCLOSURE)

    def holds_on(self, day: dt.date) -> bool:
        """Tell whether the rule is in force on ``day``."""
        return _on(day, self.starts, self.ends)


def _wanted(rule: Rule) -> list[tuple[bool, Any, str]]:
    """Return what each effect needs: whether it is wanted, what is given, and how to say so."""
    printed = {wording.form for wording in rule.wording} & {"full"}
    return [
        (rule.states, rule.kind, "a kind where it asks for a statement"),
        (rule.states, printed, "a full wording where it asks for a statement"),
        (rule.effect is Effect.WAIVES, rule.waives, "ids of rules where it waives"),
        (rule.effect is Effect.CLAIM, rule.words, "words where it bars a claim"),
    ]


def _on(day: dt.date, starts: dt.date | None, ends: dt.date | None) -> bool:
    return (starts is None or starts <= day) and (ends is None or day < ends)


class MarketFile(Record):
    """One file of rules."""

    market: Market | Literal["*"]
    """ISO 3166 code; ``*`` for what holds everywhere."""
    name: Line
    inherits: tuple[Market, ...] = ()
    """Markets whose rules hold here too."""
    covers: tuple[Country, ...] = ()
    """Countries that these rules reach, where the market is made of several."""
    rule: tuple[Rule, ...]
