"""Is a rule set off by a product, in a market, on a day? Yes, no, or the catalog does not tell.

Which weight is weighed: the catalog states the head's weight. A rule on the whole jig asks for
the finished weight where the pattern states it (``whole``), and for the head's where it does not.
No jig is lighter than its head, so a limit of the form "not more than" catches too much rather
than too little. A rule on the lead alone weighs the head as stated.

A part other than the head that states no composition counts as free of a substance, since nobody
states the lead in a feather. A head that does not state its alloy in full is not told.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Container, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from functools import lru_cache
from typing import Any

from labeler.catalog.model import LEAD, Material, MaterialKind, Product, means
from labeler.disclosures import rules
from labeler.disclosures.load import RuleBook
from labeler.disclosures.rules import (
    Effect,
    Limit,
    OriginTest,
    Rule,
    SubstanceTest,
    WeightTest,
    When,
    describe,
    within,
)
from labeler.disclosures.statements import noun, plural

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


class _Same:
    """A part that is the same as itself only, so that what is found of it can be looked up fast."""

    __slots__ = ("part",)

    def __init__(self, part: Material) -> None:
        self.part = part

    def __hash__(self) -> int:
        return id(self.part)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.part is self.part


def share(part: Material, names: tuple[str, ...]) -> Fraction | None:
    """Return the share of a substance in a part by mass, or None where it is not told."""
    return _share(_Same(part), names)


@lru_cache(maxsize=1024)
def _share(same: _Same, names: tuple[str, ...]) -> Fraction | None:
    part = same.part
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
    percent = f"{float(most * 100):.4g} %"
    return Answer.of(held, f"{test.names[0]} in {where} is {percent}, {describe(test.share, most)}")


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


def _material(kind: MaterialKind, product: Product) -> Answer:
    held = any(part.kind == kind for part in product.materials.values())
    return Answer.of(held, f"it has {kind}" if held else f"it has no {kind}")


def _origin(test: OriginTest, product: Product) -> Answer:
    places = {product.pattern.name: product.pattern.made_in}
    if test.of == "any part":
        places |= {part.name: part.origin for part in product.materials.values()}
        places[product.hook.name] = product.hook.origin
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
