"""What a rule is: what sets it off, what it asks, in which words, and on whose authority.

A rule that nobody can look up is no rule: without a source and a word on how far it is to be
trusted it does not load, and what stands on memory alone never stops the press.
"""

from __future__ import annotations

import datetime as dt
import operator
import re
import tomllib
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from functools import cache, cached_property
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    model_validator,
)

from labeler.catalog.model import MaterialKind
from labeler.catalog.values import Country, Line, Market, PaperLength
from labeler.findings import Grade, LabelerError
from labeler.tomlfile import RuleIds, read_toml, validate
from labeler.units import SLACK_PT, Length, Weight

_SIDES: dict[str, Callable[[Fraction, Fraction], bool]] = {
    "<=": operator.le,
    "<": operator.lt,
    ">=": operator.ge,
    ">": operator.gt,
    "==": operator.eq,
}
_WORDS = {"<=": "not more than", "<": "less than", ">=": "at least", ">": "more than", "==": "just"}
_OTHER_SIDE = {"<=": "over", "<": "not under", ">=": "under", ">": "not over", "==": "other than"}


@dataclass(frozen=True, slots=True)
class Limit:
    """One side of a boundary as a rule writes it, ``<= 1 oz`` or ``> 0.01 %``, exact.

    ``bound`` is in grams, points, shares of one, or a count. Two values within ``slack`` of each
    other count as the same, so that a length typed in millimetres can lie on a limit in inches.
    """

    sign: str
    bound: Fraction
    text: str
    slack: Fraction = Fraction(0)

    def holds(self, value: Fraction) -> bool:
        """Tell whether ``value`` lies on this side of the bound."""
        near = value
        if self.slack and abs(value - self.bound) <= self.slack:
            near = self.bound
        return _SIDES[self.sign](near, self.bound)

    def describe(self, value: Fraction) -> str:
        """Return on which side ``value`` lies: ``not more than 1 oz``, or ``over 1 oz``."""
        side = _WORDS if self.holds(value) else _OTHER_SIDE
        return f"{side[self.sign]} {self.text}"


def within(limits: tuple[Limit, ...], value: Fraction) -> bool:
    """Tell whether ``value`` lies on the right side of every limit."""
    return all(limit.holds(value) for limit in limits)


def describe(limits: tuple[Limit, ...], value: Fraction) -> str:
    """Return where ``value`` lies: ``at least 0.06 g and not more than 28.35 g``.

    Where it breaks a limit, only the limits that it breaks are named.
    """
    broken = [limit.describe(value) for limit in limits if not limit.holds(value)]
    return " and ".join(broken or [limit.describe(value) for limit in limits])


def _grams(text: str) -> Limit:
    return Limit("", Weight.parse(text).grams, text)


def _points(text: str) -> Limit:
    return Limit("", Fraction(Length.parse(text).pt), text, Fraction(SLACK_PT))


def _share(text: str) -> Limit:
    found = re.fullmatch(r"(\d+(?:\.\d+)?)\s*%", text)
    if not found:
        raise ValueError('a share with its sign, such as "> 0.1 %"')
    return Limit("", Fraction(found[1]) / 100, text)


def _count(text: str) -> Limit:
    if not text.isdecimal():
        raise ValueError('a whole number, such as ">= 10"')
    return Limit("", Fraction(int(text)), text)


def _reader(bound: Callable[[str], Limit]) -> Callable[[Any], tuple[Limit, ...]]:
    """Return what reads one limit or a list of them, each ``sign value``."""

    def read(value: Any) -> tuple[Limit, ...]:
        given = [value] if isinstance(value, str) else value
        if not isinstance(given, list | tuple) or not given:
            raise ValueError('a limit in quotes, such as "<= 1 oz", or a list of them')
        return tuple(one(text) for text in given)

    def one(text: Any) -> Limit:
        if isinstance(text, Limit):
            return text
        found = re.fullmatch(r"(<=|>=|==|<|>)\s*(.+)", str(text).strip())
        if not found:
            raise ValueError("a limit that begins with <=, <, >=, > or ==")
        read = bound(found[2])
        return Limit(found[1], read.bound, read.text, read.slack)

    return read


WeightLimits = Annotated[tuple[Limit, ...], BeforeValidator(_reader(_grams))]
LengthLimits = Annotated[tuple[Limit, ...], BeforeValidator(_reader(_points))]
ShareLimits = Annotated[tuple[Limit, ...], BeforeValidator(_reader(_share))]
CountLimits = Annotated[tuple[Limit, ...], BeforeValidator(_reader(_count))]


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
        """0 for the least trusted."""
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
KINDS: tuple[Kind, ...] = get_args(Kind)
"""The kinds of statement, in the order in which they print."""

Duty = Literal["law", "customary", "optional"]
"""Who asks for a statement: the law; the trade's custom; nobody, but it may be said."""

Measure = Literal["cap height", "x-height", "font size"]
"""What is measured of a statement's letters: capitals, the lower-case o, or the nominal size."""


class RuleRecord(BaseModel):
    """A frozen record; a key it does not know is an error."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", populate_by_name=True, defer_build=True
    )  # built when a file is first read: most commands ask for none


class DatedRecord(RuleRecord):
    """A record that serves from one day on, or up to another."""

    starts: dt.date | None = Field(None, alias="from")
    ends: dt.date | None = Field(None, alias="until")
    """The first day on which it no longer serves."""

    def holds_on(self, day: dt.date) -> bool:
        """Tell whether it serves on ``day``."""
        return (self.starts is None or self.starts <= day) and (
            self.ends is None or day < self.ends
        )


class SubstanceTest(RuleRecord):
    """How much of a substance there is, by mass, in a part."""

    names: Annotated[tuple[Line, ...], Field(min_length=1)]
    """Names of one substance or of several that count alike; each counts with its compounds."""
    part: Literal["head", "any part"]
    """The head's alloy, or whichever part holds the largest share."""
    share: ShareLimits


class WeightTest(RuleRecord):
    """What weighs how much."""

    of: Literal["whole jig", "head"]
    """The head's stated weight; or the finished jig's, for which the head's stands in where the
    catalog does not state it: no jig is lighter than its head."""
    limit: WeightLimits


class OriginTest(RuleRecord):
    """Where something comes from."""

    of: Literal["product", "hook", "any part"]
    """Where it is tied; the hook; or both and every material."""
    is_: Country | None = Field(None, alias="is")
    is_not: Country | None = Field(None, alias="is-not")

    @model_validator(mode="after")
    def _one_of_two(self) -> OriginTest:
        if (self.is_ is None) == (self.is_not is None):
            raise ValueError("either is or is-not, with a country's code")
        return self


class When(RuleRecord):
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
    assorted: bool | None = None
    """Whether several kinds lie in one bag."""
    french: bool | None = None
    """Whether its labels speak French beside English."""
    two_languages: bool | None = None
    """Whether its labels speak any language beside English."""
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


class Least(RuleRecord):
    """The least size of a statement's letters."""

    by: Literal["panel", "font size", "x-height", "cap height"]
    """``panel``: by the table of type heights, whose size follows the display panel's area."""
    size: PaperLength | None = None

    @model_validator(mode="after")
    def _size_where_fixed(self) -> Least:
        if (self.by == "panel") != (self.size is None):
            raise ValueError("a size, unless it goes by the panel")
        return self


class Wording(DatedRecord):
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


class Sourced(RuleRecord):
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


class Rule(DatedRecord, Sourced):
    """One rule of one market."""

    effect: Effect
    when: When | None = None
    always: bool = False
    """Whether it needs nothing to set it off."""
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
    """Words that may not stand, in the signs of ``claims.toml``."""
    unless: tuple[Line, ...] = ()
    """Words in the same text that make them good, where nothing denies these."""
    not_after: tuple[Line, ...] = ()
    """Words right before them that make them good, beside a denial."""
    not_before: tuple[Line, ...] = ()
    """Words right after them that make them good."""
    not_beside: tuple[Line, ...] = ()
    """Words right after them on the same line that make good; a label's next line is another's."""
    not_between: tuple[Line, ...] = ()
    """Words of which none is meant where ``*`` or ``~`` stands for any."""
    of_origin: bool = False
    """Whether they are barred only where the catalog gives no such origin."""
    binds: bool = False
    """Whether a note tells of a law that binds and that no label is held against here."""
    near: Literal["quantity", "anywhere"] = "anywhere"

    @model_validator(mode="after")
    def _whole(self) -> Rule:
        if self.always == (self.when is not None):
            raise ValueError("either always = true or what sets it off")
        full = any(wording.form == "full" for wording in self.wording)
        for needed, given, what in (
            (self.states, self.kind, "a kind where it asks for a statement"),
            (self.states, full, "a full wording where it asks for a statement"),
            (self.effect is Effect.WAIVES, self.waives, "ids of rules where it waives"),
            (self.effect is Effect.CLAIM, self.words, "words where it bars a claim"),
        ):
            if needed != bool(given):
                raise ValueError(f"{what}, and only there")
        if self.starts and self.ends and self.starts >= self.ends:
            raise ValueError("a day it starts that lies before the day it ends")
        return self

    @property
    def states(self) -> bool:
        """Whether it asks for a statement."""
        return self.effect in (Effect.DECLARED, Effect.DISCLOSURE)


class MarketFile(RuleRecord):
    """One file of rules."""

    market: Market | Literal["*"]
    """ISO 3166 code; ``*`` for what holds everywhere."""
    name: Line
    inherits: tuple[Market, ...] = ()
    """Markets whose rules hold here too."""
    covers: tuple[Country, ...] = ()
    """Countries that these rules reach, where the market is made of several."""
    rule: tuple[Rule, ...]


@cache
def _names() -> dict[str, dict[str, Any]]:
    path = Path(__file__).with_name("places.toml")
    return tomllib.loads(path.read_text(encoding="utf-8"))


def country(code: str) -> str:
    """Return the English name of the country ``code``; the code itself where it has none."""
    return str(_names()["countries"].get(code, code))


def is_country(text: str) -> bool:
    """Tell whether ``text`` is the English name of a country, as `country` gives it."""
    return text in _names()["countries"].values()


def state(text: str) -> str:
    """Return the name of the US state that ``text`` abbreviates; ``text`` where it does not."""
    return str(_names()["states"].get(text.upper(), text))


def is_state(text: str) -> bool:
    """Tell whether ``text`` is a US state, by its two letters or its name."""
    states = _names()["states"]
    return text.upper() in states or text in states.values()


def code_meant(text: str) -> str:
    """Return the ISO 3166 code of a place called ``text`` in everyday English; nothing if none.

    Case, accents, full stops and spaces may be as they like: N. Dak., n.dak and NDAK are one. Two
    letters that are a country's code mean a state only with a full stop: Ga., not GA.
    """
    meant = _meanings().get(_letters(text), "")
    code = text.strip().upper()
    if meant and not ("-" in meant and len(code) == 2 and country(code) != code):
        return meant
    home, dash, part = code.partition("-")
    whole = _meanings().get(_letters(home), "")
    if not dash or len(whole) != 2:
        return ""
    if (near := _meanings().get(_letters(part), "")).startswith(f"{whole}-"):
        return near
    code = f"{whole}-{part}"
    return code if is_part(code) or not parts_of(whole) else ""


def is_part(code: str) -> bool:
    """Tell whether ``code`` is of a US state or a Canadian province, such as CA-QC."""
    country, _, part = code.partition("-")
    return part in _names().get({"US": "states", "CA": "provinces"}.get(country, ""), {})


def parts_of(country: str) -> tuple[str, ...]:
    """Return the codes of a country's states or provinces; Washington, D.C. is no state."""
    parts = _names().get({"US": "states", "CA": "provinces"}.get(country, ""), {})
    return tuple(f"{country}-{part}" for part in parts if part != "DC")


def part_name(code: str) -> str:
    """Return the name of a US state or Canadian province by its code; the code if it is none."""
    if not is_part(code):
        return code
    country, _, part = code.partition("-")
    names = _names()
    return str(names["states"][part] if country == "US" else names["provinces"][part][0])


def _letters(text: str) -> str:
    """Return a name's letters and digits alone, without accents and the word and."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(letter for letter in apart if not unicodedata.combining(letter))
    return "".join(re.findall(r"[^\W_]", re.sub(r"\band\b", "", plain)))


@cache
def _meanings() -> dict[str, str]:
    """Return what each way to write a place means; the surest table first."""
    names = _names()
    tables = (
        names["everyday"].items(),
        ((name, f"US-{code}") for code, name in names["states"].items()),
        ((name, f"CA-{code}") for code, row in names["provinces"].items() for name in row),
        ((name, code) for code, row in names["abbreviated"].items() for name in row),
        ((name, code) for code, name in names["countries"].items()),
    )
    meanings: dict[str, str] = {}
    for table in tables:
        for name, code in table:
            meanings.setdefault(_letters(name), code)
    return meanings


@cache
def word_lists() -> dict[str, tuple[str, ...]]:
    """Return the lists that claims' words name in braces, from ``claims.toml`` and of places."""
    path = Path(__file__).with_name("claims.toml")
    lists: dict[str, list[str]] = tomllib.loads(path.read_text(encoding="utf-8"))["lists"]
    states = list(_names()["states"].values())
    home = {"US", *_TERRITORIES}
    abroad = [name for name, code in places_named().items() if code not in home]
    kept = [name for name in abroad if name not in states and name not in _MISTAKEN]
    places = {"state": states, "country": kept, "anywhere": [*kept, *lists["us"]]}
    return {name: tuple(words) for name, words in {**lists, **places}.items()}


_TERRITORIES = frozenset({"AS", "GU", "MP", "PR", "UM", "VI"})
"""Of the United States. Source: ISO 3166-2:US."""

_MISTAKEN = frozenset({"Jersey", "Chad", "Guinea"})
"""Countries whose names are other words of the trade or of a state: New Jersey, guinea feathers."""


@cache
def places_named() -> dict[str, str]:
    """Return the code of every country by each name that it goes by in everyday English."""
    everyday = {name.title(): code for name, code in _names()["everyday"].items() if len(code) == 2}
    names = {name: code for code, name in _names()["countries"].items()}
    return {name: code for name, code in {**everyday, **names}.items() if code != "EU"}


class HeightRow(RuleRecord):
    """One row of the table of type heights."""

    up_to: float | None = Field(None, alias="up-to")
    """The panel's area in square inches; none for the last row."""
    inches: PaperLength
    mm: PaperLength
    uniform_mm: PaperLength = Field(alias="uniform-mm")

    @property
    def firm(self) -> float:
        """The height in points that the text as read asks for."""
        return max(self.inches.pt, self.mm.pt)

    @property
    def points(self) -> float:
        """The height in points that satisfies every version of the table."""
        return max(self.firm, self.uniform_mm.pt)


class FormRule(Sourced):
    """One rule on the form of a declaration, with the figures that it names."""

    number: float | None = None
    numbers: tuple[int, ...] = ()
    size: PaperLength | None = None
    words: tuple[str, ...] = ()
    row: tuple[HeightRow, ...] = ()
    placement: Sentence | None = None
    """What else is to be known of the figures."""


RULES_AT_FAULT = RuleIds(missing="rule-value", unknown="rule-key", value="rule-value")
"""The identifiers of the findings on a file of rules."""


class _FormFile(RuleRecord):
    rule: tuple[FormRule, ...]


@cache
def rules() -> dict[str, FormRule]:
    """Return every rule on form by its id.

    Raises:
        LabelerError: with every fault in the file.
    """
    source = read_toml(Path(__file__).with_name("form.toml"), "rules-unread")
    file, faults = validate(_FormFile, source, rules=RULES_AT_FAULT)
    if file is None:
        raise LabelerError(faults)
    return {rule.id: rule for rule in file.rule}


def number(rule_id: str) -> float:
    """Return the number of the rule on form called ``rule_id``."""
    found = rules()[rule_id].number
    if found is None:
        raise KeyError(f"{rule_id} has no number")
    return found


def size_pt(rule_id: str) -> float:
    """Return the size, in points, of the rule on form called ``rule_id``."""
    found = rules()[rule_id].size
    if found is None:
        raise KeyError(f"{rule_id} has no size")
    return found.pt
