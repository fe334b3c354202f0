"""The files of rules, read when a market is asked for; or all at once, with every fault in them."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections import Counter
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from functools import cache, cached_property, lru_cache
from pathlib import Path
from typing import Any, Generic, TypeVar

from labeler.catalog.model import LEAD, Material, MaterialKind, Product, means
from labeler.disclosures import rules
from labeler.disclosures.rules import (
    Effect,
    Limit,
    MarketFile,
    OriginTest,
    Rule,
    SubstanceTest,
    WeightTest,
    When,
    describe,
    within,
)
from labeler.disclosures.statements import FIELDS, noun, plural
from labeler.findings import Finding, LabelerError, Place, did_you_mean, stop
from labeler.tomlfile import TomlFile, read_toml, validate

HOUSE = "*"
"""The market of the file that holds everywhere."""

NOT_MARKETS = ("claims.toml", "form.toml", "places.toml")
"""Data that lies in the same folder and is read elsewhere."""


class RuleBook:
    """The rules of every market. A market's file is read when it is first asked for."""

    def __init__(self, files: Mapping[str, Path]) -> None:
        self.files = files
        self._opened: dict[str, MarketFile] = {}
        self._reaching: dict[tuple[str, ...], tuple[tuple[Rule, tuple[str, ...]], ...]] = {}

    @cached_property
    def _heads(self) -> dict[str, dict[str, Any]]:
        """What stands above the rules of each file: which markets are wider than which."""
        return {market: _head(path) for market, path in self.files.items()}

    def file(self, market: str) -> MarketFile:
        """Return the rules that a market's own file holds.

        Raises:
            LabelerError: with every fault in the file.
        """
        if market not in self._opened:
            _, file, faults = _read(self.files[market])
            if file is None:
                raise LabelerError(faults)
            self._opened[market] = file
        return self._opened[market]

    def rules_reaching(self, markets: Sequence[str]) -> tuple[tuple[Rule, tuple[str, ...]], ...]:
        """Return every rule that may hold in any of ``markets``, with those it may hold in.

        The widest rules come first.

        Raises:
            LabelerError: with every fault of a file that is read.
        """
        key = tuple(markets)
        if key not in self._reaching:
            found: dict[str, tuple[Rule, list[str]]] = {}
            for market in key:
                for file in self.reaching(market):
                    for rule in file.rule:
                        found.setdefault(rule.id, (rule, []))[1].append(market)
            self._reaching[key] = tuple((rule, tuple(where)) for rule, where in found.values())
        return self._reaching[key]

    def reaching(self, market: str) -> tuple[MarketFile, ...]:
        """Return the files whose rules hold in ``market``, the widest first.

        ``US-CA`` has its own, those of the US and those of the house; ``DE`` has the EU's.
        """
        return tuple(map(self.file, (HOUSE, *reversed(self._reaching_codes(market)))))

    def _reaching_codes(self, market: str) -> list[str]:
        """Return the markets whose files hold in ``market``, its own first."""
        found: list[str] = []
        waiting = [market]
        while waiting:
            code = waiting.pop()
            if code in found:
                continue
            head = self._heads.get(code)
            if head is not None:
                found.append(code)
            wider = list(head.get("inherits", ())) if head else []
            wider += [code.partition("-")[0]] if "-" in code else []
            wider += [other for other, its in self._heads.items() if code in its.get("covers", ())]
            waiting += reversed(wider)
        return found

    def knows(self, market: str) -> bool:
        """Tell whether any rule but the house's reaches ``market``."""
        return bool(self._reaching_codes(market))

    def rules(self) -> Iterator[tuple[MarketFile, Rule]]:
        """Yield every rule with the file that it stands in, in the files' order."""
        for file in map(self.file, self.files):
            for rule in file.rule:
                yield file, rule

    def rule(self, rule_id: str) -> Rule:
        """Return the rule called ``rule_id``, which begins with its file's name.

        Raises:
            KeyError: if there is none.
        """
        for market in self.files:
            if rule_id.startswith(f"{_stem(market)}-"):
                for rule in self.file(market).rule:
                    if rule.id == rule_id:
                        return rule
        raise KeyError(rule_id)


def _stem(market: str) -> str:
    return "house" if market == HOUSE else market.lower()


def _paths(*folders: Path) -> dict[str, Path]:
    """Return the files of rules by market; a later folder's file takes an earlier's place."""
    names = {path.name: path for folder in folders for path in sorted(folder.glob("*.toml"))}
    return {
        HOUSE if path.stem == "house" else path.stem.upper(): path
        for name, path in names.items()
        if name not in NOT_MARKETS
    }


@cache
def shipped() -> RuleBook:
    """Return the rules that ship with the program."""
    return open_rules(Path(__file__).parent)


def open_rules(*folders: Path) -> RuleBook:
    """Return the rules in ``folders``, of which only what is asked for is read.

    That the files agree with each other is not looked at: `load` does that.
    """
    return RuleBook(_paths(*folders))


def load(*folders: Path) -> RuleBook:
    """Read every market's file in ``folders``; a later folder's file takes an earlier's place.

    Raises:
        LabelerError: with every fault in every file.
    """
    paths = _paths(*folders)
    faults: list[Finding] = []
    files: dict[str, MarketFile] = {}
    sources: dict[str, TomlFile] = {}
    for market, path in paths.items():
        try:
            source, file, found = _read(path)
        except LabelerError as error:
            faults += error.findings
            continue
        faults += found
        if file is not None and file.market != market:
            place = Place(str(path), line=source.line(("market",)), key="market")
            meant = _stem(file.market)
            faults.append(
                stop("rule-file", place, "the file's name", found=path.stem, expected=meant)
            )
        elif file is not None:
            files[market], sources[market] = file, source
    faults += [fault for market in files for fault in _among(market, files, sources[market])]
    if not faults and HOUSE not in files:
        faults.append(stop("rules-unread", Place(), "no file of rules holds everywhere"))
    if faults:
        raise LabelerError(faults)
    return RuleBook(paths)


def _head(path: Path) -> dict[str, Any]:
    """Return what stands in a file above its rules.

    Raises:
        LabelerError: if it can't be read or is no TOML.
    """
    try:
        return tomllib.loads(path.read_text(encoding="utf-8").partition("[[rule]]")[0])
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return read_toml(path, "rules-unread").data  # which says what is wrong, and where


def _read(path: Path) -> tuple[TomlFile, MarketFile | None, list[Finding]]:
    """Return a file and its rules, or what is wrong with them.

    Raises:
        LabelerError: if it can't be read or is no TOML.
    """
    source = read_toml(path, "rules-unread")
    file, faults = validate(MarketFile, source, rules=rules.RULES_AT_FAULT)
    return source, file, list(faults)


def _among(market: str, files: dict[str, MarketFile], source: TomlFile) -> Iterator[Finding]:
    """Yield what is wrong with a file that reads well by itself."""
    path = Path(source.name)
    known = Counter(rule.id for file in files.values() for rule in file.rule)
    stem = _stem(market)
    for number, rule in enumerate(files[market].rule):
        place = Place(str(path), line=source.line(("rule", number, "id")), key=rule.id)
        if known[rule.id] > 1:
            yield stop("rule-id", place, "the id is taken more than once")
        if not rule.id.startswith(f"{stem}-"):
            yield stop("rule-id", place, "the id", found=rule.id, expected=f"{stem}-...")
        for other in rule.waives:
            if other not in known:
                hint = did_you_mean(other, list(known))
                yield stop("rule-waives", place, "waives an unknown rule", found=other, hint=hint)
        for wording in rule.wording:
            yield from _wording_faults(wording.text, place)
        texts = (*rule.words, *rule.unless, *rule.not_after, *rule.not_before, *rule.not_between)
        for words in texts:
            for name in set(re.findall(r"\{(.*?)\}", words)) - set(rules.word_lists()):
                hint = did_you_mean(name, list(rules.word_lists()))
                yield stop("rule-wording", place, "no such list of words", found=name, hint=hint)


def _wording_faults(text: str, place: Place) -> Iterator[Finding]:
    if text.count("**") % 2:
        yield stop("rule-wording", place, "the stars around what is bold do not pair", found=text)
    for name in re.findall(r"\{(.*?)\}", text):
        if name not in FIELDS:
            hint = did_you_mean(name, list(FIELDS))
            yield stop(
                "rule-wording", place, "there is no such field", found=f"{{{name}}}", hint=hint
            )


# Is a rule set off by a product, in a market, on a day? Yes, no, or the catalog does not tell.
#
# Which weight is weighed: the catalog states the head's weight. A rule on the whole jig asks for
# the finished weight where the pattern states it (``whole``), and for the head's where it does not.
# No jig is lighter than its head, so a limit of the form "not more than" catches too much rather
# than too little. A rule on the lead alone weighs the head as stated.
#
# A part other than the head that states no composition counts as free of a substance, since nobody
# states the lead in a feather. A head that does not state its alloy in full is not told.

EVERY_PACK = "holds for every pack"
"""Why a rule is set off that asks nothing of the product."""


class Truth(Enum):
    """An answer that may be lacking."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"
    """The catalog does not state what the rule asks."""


@dataclass(frozen=True, slots=True)
class Answer:
    """Whether something holds, and what it was that decided."""

    truth: Truth
    because: str

    @classmethod
    def of(cls, holds: bool, because: str) -> Answer:
        """Return yes or no."""
        return cls(Truth.YES if holds else Truth.NO, because)


def judge(rule: Rule, product: Product, market: str, day: dt.date) -> Answer:
    """Return whether ``rule`` is set off by ``product`` sold in ``market`` on ``day``.

    ``market`` is the place of sale as the maker names it, which may be a part of the rule's own.
    """
    if rule.starts and day < rule.starts:
        return Answer(Truth.NO, f"not in force before {rule.starts.isoformat()}")
    if rule.ends and day >= rule.ends:
        return Answer(Truth.NO, f"no longer in force since {rule.ends.isoformat()}")
    if rule.parts and "-" in market and market not in rule.parts:
        return Answer(Truth.NO, f"does not reach {market}")
    if rule.when is None:
        return Answer(Truth.YES, EVERY_PACK)
    return _all(rule.when, product)


def _all(when: When, product: Product) -> Answer:
    """Return no if one test says no, unknown if one does, and else yes."""
    answers = [_TESTS[name](wanted, product) for name, wanted in when.given]
    return _decided(answers, (Truth.NO, Truth.UNKNOWN, Truth.YES))


def _any(tests: tuple[When, ...], product: Product) -> Answer:
    """Return yes if one alternative says yes, unknown if one does, and else no."""
    answers = [_all(test, product) for test in tests]
    return _decided(answers, (Truth.YES, Truth.UNKNOWN, Truth.NO))


def _decided(answers: Sequence[Answer], order: Sequence[Truth]) -> Answer:
    """Return the first truth in ``order`` that is among the answers, with what decided it."""
    found = {answer.truth for answer in answers}
    truth = next((each for each in order if each in found), order[-1])
    reasons = (answer.because for answer in answers if answer.truth is truth)
    return Answer(truth, "; ".join(reason for reason in reasons if reason))


Thing = TypeVar("Thing")


class Same(Generic[Thing]):
    """A thing that is the same as itself only, so that what is found of it is looked up fast."""

    __slots__ = ("thing",)

    def __init__(self, thing: Thing) -> None:
        self.thing = thing

    def __hash__(self) -> int:
        return id(self.thing)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and other.thing is self.thing


def share(part: Material, names: tuple[str, ...]) -> Fraction | None:
    """Return the share of a substance in a part by mass, or None where it is not told."""
    return _share(Same(part), names)


@lru_cache(maxsize=1024)
def _share(same: Same[Material], names: tuple[str, ...]) -> Fraction | None:
    part = same.thing
    if not part.composition and not part.lead_share:
        return None
    if part.lead_share > 0 and any(means(lead, names) for lead in LEAD):
        return part.lead_share
    if any(means(name, names) for name in part.composition):
        return part.share_of(names)
    return Fraction(0) if stated_in_full(part) else None


def stated_in_full(part: Material) -> bool:
    """Tell whether a part's composition leaves no more than traces open."""
    return part.stated_share >= rules.number("form-stated-in-full")


def backs_lead_free(product: Product) -> bool:
    """Tell whether the compositions back the words lead-free head: told in full, and no lead."""
    return stated_in_full(product.alloy) and not product.has_lead


def _substance(test: SubstanceTest, product: Product) -> Answer:
    parts = [] if test.part == "head" else list(product.materials.values())
    head = share(product.alloy, test.names)
    shares = [head, *(share(part, test.names) for part in parts)]
    most = max((amount for amount in shares if amount is not None), default=Fraction(0))
    held = within(test.share, most)
    if head is None and not (most > 0 and held == within(test.share, Fraction(1))):
        # A larger share, were it stated, could change the answer.
        return Answer(Truth.UNKNOWN, f"the composition of {product.alloy.name} is not stated")
    where = "the head" if test.part == "head" else "its parts"
    holder = next(
        (p for p, s in zip((product.alloy, *parts), shares, strict=True) if s == most), None
    )
    found = _held(holder, test.names) if most and holder else {test.names[0]: most}
    told = " and ".join(f"{name} in {where} is {_percent(each)}" for name, each in found.items())
    return Answer.of(held, f"{told}, {describe(test.share, most)}")


def _held(part: Material, names: tuple[str, ...]) -> dict[str, Fraction]:
    """Return what a part holds of a substance or its kin, each under its own name."""
    named = {name: amount for name, amount in part.composition.items() if means(name, names)}
    return named or {names[0]: part.lead_share}


def _percent(amount: Fraction) -> str:
    return f"{float(amount * 100):.4g} %"


def _weight(test: WeightTest, product: Product) -> Answer:
    weighed, what = product.weight, "the head"
    if test.of == "whole jig" and product.whole_weight is not None:
        weighed, what = product.whole_weight, "the jig"
    held = within(test.limit, weighed.grams)
    text = f"{what} weighs {weighed}, {describe(test.limit, weighed.grams)}"
    if test.of == "whole jig" and product.whole_weight is None:
        text += " (the whole jig's weight is not stated)"
    return Answer.of(held, text)


def _length(limits: tuple[Limit, ...], product: Product) -> Answer:
    length = product.pattern.length
    if length is None:
        return Answer(Truth.UNKNOWN, f"the length of {product.pattern.name} is not stated")
    points = Fraction(length.pt)
    return Answer.of(within(limits, points), f"it measures {length}, {describe(limits, points)}")


def _count(limits: tuple[Limit, ...], product: Product) -> Answer:
    held = within(limits, Fraction(product.pattern.pack))
    return Answer.of(held, f"{product.pattern.pack} in a pack")


def _employees(limits: tuple[Limit, ...], product: Product) -> Answer:
    held = within(limits, Fraction(product.maker.employees))
    return Answer.of(held, f"the maker employs {product.maker.employees}")


def _goods(kinds: tuple[str, ...], product: Product) -> Answer:
    what = noun(product.pattern.kind) or "jig"
    return Answer.of(what in kinds, f"it is a {product.pattern.kind}")


def _spared(kinds: tuple[str, ...], product: Product) -> Answer:
    """A jig tied with hair or feathers is a jig, whatever else its name says."""
    text = product.pattern.kind
    spared = noun(text) in kinds and "jig" not in text.casefold().split()
    return Answer.of(not spared, f"a {text} is left out" if spared else "")


_DRESSINGS: tuple[MaterialKind, ...] = ("silicone", "living rubber", "hair", "feather", "tinsel")
_HOW_TO_STATE = " (give the color's recipe, or the pattern's tied_with)"


def _material(kind: MaterialKind, product: Product) -> Answer:
    held = any(part.kind == kind for part in product.materials.values())
    if not held and not product.dressing_told and kind in _DRESSINGS:
        return Answer(Truth.UNKNOWN, f"what it is tied from is not stated{_HOW_TO_STATE}")
    return Answer.of(held, f"it has {kind}" if held else f"it has no {kind}")


def _origin(test: OriginTest, product: Product) -> Answer:
    tied = {product.pattern.name: product.pattern.made_in}
    hook = {product.hook.name or "the hook": product.hook.origin}
    places = hook if test.of == "hook" else tied
    if test.of == "any part":
        parts = {part.name: part.origin for part in product.materials.values()}
        places = tied | parts | hook
        if not product.dressing_told:
            places[f"its dressing{_HOW_TO_STATE}"] = None
    wanted = test.is_ or test.is_not
    elsewhere = [what for what, code in places.items() if code not in (None, wanted)]
    unstated = [what for what, code in places.items() if code is None]
    if elsewhere:
        return Answer.of(test.is_not is not None, f"{', '.join(elsewhere)} not from {wanted}")
    if unstated:
        return Answer(Truth.UNKNOWN, f"the origin of {', '.join(unstated)} is not stated")
    return Answer.of(test.is_ is not None, f"all from {wanted}")


def _flag(name: str) -> Callable[[bool, Product], Answer]:
    """Return the test of something that is so or is not."""

    def test(wanted: bool, product: Product) -> Answer:
        found, so, otherwise = _FLAGS[name](product)
        return Answer.of(found == wanted, so if found else otherwise)

    return test


def _last_word(product: Product) -> str:
    return product.pattern.kind.split()[-1]


_FLAGS: dict[str, Callable[[Product], tuple[bool, str, str]]] = {
    "painted": lambda product: (
        product.colour.head_paint is not None, "painted", "its head is bare"
    ),
    "visible": lambda product: (
        product.bag is not None and product.bag.clear,
        "every unit is visible", "no clear bag is stated",
    ),
    "own_make": lambda product: (
        product.pattern.made_by == "the maker",
        "the maker's own", f"{product.pattern.made_by} them",
    ),
    "for_children": lambda product: (
        product.pattern.for_children, "made for children", "not made for children"
    ),
    "lead_free": lambda product: (
        backs_lead_free(product),
        "its head is lead-free by its composition", "nothing backs the words lead-free",
    ),
    "plural": lambda product: (
        plural(_last_word(product)),
        f"{_last_word(product)} is a plural", f"{_last_word(product)} is no plural",
    ),
    "assorted": lambda product: (
        bool(product.parts), "several kinds in one bag", "one kind in the bag"
    ),
    "french": lambda product: (
        product.second_language == "fr", "its labels speak French too", "no label speaks French"
    ),
    "two_languages": lambda product: (
        product.second_language is not None,
        "its labels speak a second language", "its labels speak English alone",
    ),
    "care": lambda product: (
        product.pattern.care is not None, "it has words on care", "it has no words on care"
    ),
}  # fmt: skip
"""What may be so or not: whether it is, and how to say that it is and that it is not."""

_TESTS: dict[str, Callable[[Any, Product], Answer]] = {
    "substance": _substance,
    "weight": _weight,
    "length": _length,
    "count": _count,
    "employees": _employees,
    "origin": _origin,
    "goods": _goods,
    "spared": _spared,
    "material": _material,
    "any_of": _any,
    **{name: _flag(name) for name in _FLAGS},
}


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
    def unknown(self) -> bool:
        """Whether the catalog does not tell what the rule asks."""
        return self.answer.truth is Truth.UNKNOWN


def of_whole_pack(rule: Rule) -> bool:
    """Tell whether a rule is asked of an assorted pack itself, not of each kind that is in it."""
    return rule.kind in ("identity", "maker", "care") or bool(rule.when and rule.when.assorted)


def rulings(
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    book: RuleBook,
    effects: Container[Effect] = frozenset(Effect),
) -> Iterator[Ruling]:
    """Yield every rule of ``effects`` that reaches any of ``markets``, with its answer there.

    The widest rules come first, and each rule once for every market that it reaches; of an
    assorted pack once for each of its kinds, for what one of them is the pack is.
    """
    for rule, places in book.rules_reaching(markets):
        if rule.effect not in effects:
            continue
        for asked in (product,) if of_whole_pack(rule) else product.units:
            everywhere = None if rule.parts else judge(rule, asked, places[0], day)
            for market in places:
                yield Ruling(rule, market, everywhere or judge(rule, asked, market, day))
