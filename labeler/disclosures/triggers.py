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
from collections.abc import Callable, Container, Iterable, Iterator, Sequence
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
    told,
    within,
)
from labeler.disclosures.statements import noun, plural

EVERY_PACK = "holds for every pack"
"""Why a rule is set off that asks nothing of the product."""


class Truth(Enum):
    """An answer that may be lacking."""

    YES = "yes"
    NO = "no"
    UNTOLD = "untold"
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
    if not rule.holds_on(day):
        return Answer(Truth.NO, _out_of_force(rule, day))
    if rule.parts and "-" in market and market not in rule.parts:
        return Answer(Truth.NO, f"does not reach {market}")
    if rule.when is None:
        return Answer(Truth.YES, EVERY_PACK)
    return _all(_answers(rule.when, product))


def _out_of_force(rule: Rule, day: dt.date) -> str:
    if rule.starts and day < rule.starts:
        return f"not in force before {rule.starts.isoformat()}"
    return f"no longer in force since {rule.ends.isoformat()}" if rule.ends else ""


def _answers(when: When, product: Product) -> list[Answer]:
    """Return the answer to each test that is given, the goods' kind first."""
    return [_TESTS[name](wanted, product) for name, wanted in when.given]


def _all(answers: Iterable[Answer]) -> Answer:
    """Return no if one says no, untold if one is, and else yes."""
    given = list(answers)
    for truth in (Truth.NO, Truth.UNTOLD):
        decided = [answer.because for answer in given if answer.truth is truth]
        if decided:
            return Answer(truth, "; ".join(decided))
    return Answer(Truth.YES, "; ".join(answer.because for answer in given if answer.because))


def _any(answers: Iterable[Answer]) -> Answer:
    """Return yes if one says yes, untold if one is, and else no."""
    given = list(answers)
    for truth in (Truth.YES, Truth.UNTOLD):
        decided = [answer.because for answer in given if answer.truth is truth]
        if decided:
            return Answer(truth, "; ".join(decided))
    return Answer(Truth.NO, "; ".join(answer.because for answer in given))


# ---------------------------------------------------------------------------------- substances


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
    name = test.names[0]
    head = share(product.alloy, test.names)
    shares = [head] if test.part == "head" else [head, *_others(test, product)]
    stated = [amount for amount in shares if amount is not None]
    most = max(stated, default=Fraction(0))
    asked = f"{name} in {'the head' if test.part == 'head' else 'its parts'}"
    if head is None and not _decided(test.share, most):
        return Answer(Truth.UNTOLD, f"the composition of {product.alloy.name} is not stated")
    held = within(test.share, most)
    return Answer.of(held, f"{asked} is {_percent(most)}, {told(test.share, most)}")


def _others(test: SubstanceTest, product: Product) -> list[Fraction | None]:
    return [share(part, test.names) for part in product.materials.values()]


def _decided(limits: tuple[Limit, ...], most: Fraction) -> bool:
    """Tell whether no larger share could change the answer."""
    return within(limits, most) == within(limits, Fraction(1)) and most > 0


def _percent(amount: Fraction) -> str:
    return f"{float(amount * 100):.4g} %"


# --------------------------------------------------------------------------- weights and sizes


def _weight(test: WeightTest, product: Product) -> Answer:
    weighed, what = product.weight, "the head"
    if test.of == "whole jig" and product.whole_weight is not None:
        weighed, what = product.whole_weight, "the jig"
    held = within(test.limit, weighed.grams)
    text = f"{what} weighs {weighed}, {told(test.limit, weighed.grams)}"
    if test.of == "whole jig" and product.whole_weight is None:
        text += " (the whole jig's weight is not stated)"
    return Answer.of(held, text)


def _length(limits: tuple[Limit, ...], product: Product) -> Answer:
    length = product.pattern.length
    if length is None:
        return Answer(Truth.UNTOLD, f"the length of {product.pattern.name} is not stated")
    points = Fraction(length.pt)
    return Answer.of(within(limits, points), f"it measures {length}, {told(limits, points)}")


def _count(limits: tuple[Limit, ...], product: Product) -> Answer:
    held = within(limits, Fraction(product.pattern.pack))
    return Answer.of(held, f"{product.pattern.pack} in a pack")


def _employees(limits: tuple[Limit, ...], product: Product) -> Answer:
    held = within(limits, Fraction(product.maker.employees))
    return Answer.of(held, f"the maker employs {product.maker.employees}")


# ------------------------------------------------------------------------------ what it is


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
    places = _origins(test, product)
    wanted = test.is_ or test.is_not
    off = [what for what, code in places.items() if code not in (None, wanted)]
    untold = [what for what, code in places.items() if code is None]
    if off:
        return Answer.of(test.is_not is not None, f"{', '.join(off)} not from {wanted}")
    if untold:
        return Answer(Truth.UNTOLD, f"the origin of {', '.join(untold)} is not stated")
    return Answer.of(test.is_ is not None, f"all from {wanted}")


def _origins(test: OriginTest, product: Product) -> dict[str, str | None]:
    if test.of == "product":
        return {product.pattern.name: product.pattern.made_in}
    parts = {part.name: part.origin for part in product.materials.values()}
    hook = {product.hook.name: product.hook.origin}
    return {product.pattern.name: product.pattern.made_in} | parts | hook


def _flag(name: str) -> Callable[[Any, Product], Answer]:
    """Return the test of something that is so or is not."""

    def test(wanted: bool, product: Product) -> Answer:
        found, so, otherwise = _flags(name, product)
        return Answer.of(found == wanted, so if found else otherwise)

    return test


def _flags(name: str, product: Product) -> tuple[bool, str, str]:
    pattern = product.pattern
    kind = pattern.kind.split()[-1]
    facts: dict[str, tuple[bool, str, str]] = {
        "painted": (product.colour.head_paint is not None, "painted", "its head is bare"),
        "visible": (
            product.bag is not None and product.bag.clear,
            "every unit is visible",
            "no clear bag is stated",
        ),
        "own_make": (pattern.made_by == "the maker", "the maker's own", f"{pattern.made_by} them"),
        "for_children": (pattern.for_children, "made for children", "not made for children"),
        "lead_free": (
            backs_lead_free(product),
            "its head is lead-free by its composition",
            "nothing backs the words lead-free",
        ),
        "plural": (plural(kind), f"{kind} is a plural", f"{kind} is no plural"),
        "care": (pattern.care is not None, "it has words on care", "it has no words on care"),
    }
    return facts[name]


def _any_of(tests: tuple[When, ...], product: Product) -> Answer:
    return _any(_all(_answers(test, product)) for test in tests)


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
    "any_of": _any_of,
    **{
        name: _flag(name)
        for name in (
            "painted",
            "visible",
            "own_make",
            "for_children",
            "lead_free",
            "plural",
            "care",
        )
    },
}


# ----------------------------------------------------------------------------
# Every rule that reaches a product's markets, each with its answer.


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
