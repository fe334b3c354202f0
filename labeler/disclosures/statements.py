"""What a piece must say, ready to be set: runs of text, the least size, and who asks for it."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, TypeVar, get_args

from labeler.catalog.model import TWO_LANGUAGES, Material, Part, Product
from labeler.disclosures import rules
from labeler.disclosures.rules import KINDS, Confidence, Duty, Kind, Measure
from labeler.units import FRACTION_SLASH, NO_BREAK_SPACE

Item = TypeVar("Item")

Emphasis = Literal["plain", "bold", "conspicuous"]
"""``conspicuous``: not hidden among other print, as the law on warnings says."""


@dataclass(frozen=True, slots=True)
class TextRun:
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
class StatementForm:
    """One way to say a statement. Every one of ``least`` must be met."""

    runs: tuple[TextRun, ...]
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

    Quotes, apostrophes and primes are those of a keyboard. What was read off a page can so be
    held against what should stand there.
    """
    return " ".join(folded_letters(text).split())


_TYPED = str.maketrans("‘’‚‛′“”„″" + FRACTION_SLASH, "'''''\"\"\"\"/")
"""Marks of a printer's for those of a keyboard."""


def folded_letters(text: str) -> str:
    """Return the letters of ``text`` in their plainest form, with its spaces as they are."""
    if text.isascii():
        return text
    return unicodedata.normalize("NFKC", text.translate(_TYPED)).translate(_TYPED)


@dataclass(frozen=True, slots=True)
class Statement:
    """One thing that a piece says for the places where it is sold."""

    id: str
    """The first rule that asks for it."""
    kind: Kind
    full: StatementForm
    short: StatementForm | None
    """For a piece without room for the full form."""
    accepted: tuple[StatementForm, ...]
    """Never printed; but where one of these stands, the rule is satisfied."""
    expired: tuple[StatementForm, ...]
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
    def runs(self) -> tuple[TextRun, ...]:
        """The full form's runs."""
        return self.full.runs

    @property
    def text(self) -> str:
        """The full form's text."""
        return self.full.text

    @property
    def satisfying(self) -> tuple[StatementForm, ...]:
        """Every form that satisfies it, the full one first."""
        return (self.full, *((self.short,) if self.short else ()), *self.accepted)


def parse_runs(text: str) -> tuple[TextRun, ...]:
    """Return ``**WARNING:** words`` as runs, every second one bold."""
    pieces = text.split("**")
    return tuple(TextRun(piece, bool(i % 2)) for i, piece in enumerate(pieces) if piece)


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
        emphasis=max(one.emphasis, other.emphasis, key=get_args(Emphasis).index),
        duty=min(one.duty, other.duty, key=get_args(Duty).index),
        markets=_once(tuple(market for each in asking for market in each.markets)),
        rules=_once(tuple(rule for each in asking for rule in each.rules)),
        confidence=max(one.confidence, other.confidence, key=lambda each: each.rank),
        placement=_once(one.placement + other.placement),
    )


def _join_forms(one: StatementForm, other: StatementForm) -> StatementForm:
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


Excise = Literal["included", "not included"]
Field = Callable[[Product, Sequence[str]], str | None]


def identity(product: Product, markets: Sequence[str]) -> str:
    """Return what it is, with a noun that every buyer knows: ``Swim jig``."""
    kind = product.pattern.kind
    named = kind if noun(kind) else f"{kind}, fishing jig"
    second = product.second_words.get(kind, "")
    return TWO_LANGUAGES.join(each[:1].upper() + each[1:] for each in (named, second) if each)


LABEL_WORDS = {
    "hook": "Hook", "pack": "Pack", "lot": "Lot", "item": "Item", "care": "Care",
    "skirt": "Skirt, outside first",
}  # fmt: skip
"""The plain words that layouts may print in two languages, by what a layout calls them."""


def in_two(field: Field, word: Callable[[Product], str]) -> Field:
    """Return a field that is filled only where the catalog has its word in a second language."""
    return lambda product, markets: (
        field(product, markets) if word(product) in product.second_words else None
    )


def noun(kind: str) -> str:
    """Return the product's noun in ``kind``, in the singular, or nothing."""
    known = rules.rules()["form-identity-nouns"].words
    for word in reversed(kind.casefold().replace("-", " ").split()):
        if word in known:
            return word
        if plural(word) and word.removesuffix("s") in known:
            return word.removesuffix("s")
    return ""


def plural(word: str) -> bool:
    """Tell whether ``word`` looks like a plural."""
    return word.endswith("s") and not word.endswith("ss")


def maker(product: Product, markets: Sequence[str]) -> str:
    """Return the maker's name, with how they came by goods that others made."""
    link = product.pattern.made_by
    name = product.maker.name
    return name if link == "the maker" else f"{link[:1].upper()}{link[1:]} {name}"


def address(product: Product, markets: Sequence[str]) -> str:
    """Return the postal address in one line; the country too where it is sold in another."""
    who = product.maker
    region = f"{who.state} {who.postcode}" if who.state else who.postcode
    parts = [who.street, who.city, region.replace(" ", NO_BREAK_SPACE)]
    if any(market.partition("-")[0] != who.country for market in markets):
        parts.append(rules.country(who.country))
    return ", ".join(part for part in parts if part)


def units(product: Product, markets: Sequence[str]) -> str:
    """Return what is counted, in capitals, which may stand lower than small letters."""
    return product.in_two(counted(product)).upper()


def counted(product: Product) -> str:
    """Return the word that a pack's jigs are counted by, in the singular for one."""
    word = noun(product.pattern.kind) or "piece"
    more = f"{word[:-1]}ies" if word == "fly" else f"{word}s"
    return word if product.pattern.pack == 1 else more


def contents(product: Product, markets: Sequence[str]) -> str | None:
    """Return what lies in an assorted pack, kind by kind, and how many in all; None of others.

    ``1 Magpie, 3/8 oz (10.6 g); 2 Wet Oak, 3/8 oz (10.6 g). Total: 3 JIGS``. The total is last.
    Source: 16 CFR 500.28(a).
    """
    if not product.parts:
        return None
    kinds = (
        f"{part.count}{NO_BREAK_SPACE}{part_name(product, part)}, {weight(part.product, markets)}"
        for part in product.parts
    )
    total = f"{product.pattern.pack}{NO_BREAK_SPACE}{units(product, markets)}"
    return f"{'; '.join(kinds)}. Total: {total}"


def part_name(pack: Product, part: Part) -> str:
    """Return what one kind in a pack is called there: its colour, unless patterns differ."""
    patterns = {each.product.pattern.name for each in pack.parts}
    return part.product.colour.name if len(patterns) == 1 else part.product.name


def weight(product: Product, markets: Sequence[str]) -> str:
    """Return the head's weight in both systems, the one it was stated in first."""
    stated = product.weight
    if stated.unit == "oz":
        return f"{stated.oz_text} ({stated.g_text})"
    return f"{stated.g_text} ({stated.oz_text})"


def alloy(product: Product, markets: Sequence[str]) -> str:
    """Return the head's metal, as the maker calls it."""
    name = product.alloy.name
    return name if name[1:2].isupper() else name[:1].lower() + name[1:]


def metals(product: Product, markets: Sequence[str]) -> str | None:
    """Return what the head's alloy is made of, the most of it first."""
    shares = product.alloy.composition
    listed = sorted(shares, key=lambda name: -shares[name])
    return ", ".join(name for name in listed if shares[name] > 0) or None


def country(product: Product, markets: Sequence[str]) -> str | None:
    """Return the English name of the country where it is made."""
    made_in = product.pattern.made_in
    return rules.country(made_in) if made_in else None


def place(product: Product, whole: bool = True) -> str:
    """Return where in the US it is tied, as far as the maker's address tells; short or whole."""
    who = product.maker
    if who.country == "US" and who.state:
        return f"{rules.state(who.state) if whole else who.state}, USA"
    return "the USA" if whole else "USA"


def imports(product: Product, markets: Sequence[str]) -> str | None:
    """Return what is imported, or that nothing is; None where origins are not stated.

    A claim names no more than is known: where some origins are not stated and others are
    foreign, the parts are imported, and which ones is left open. So is a dressing of which no
    recipe tells.
    """
    hook = product.hook.origin
    others = [part.origin for part in dressing(product)]
    others += [] if product.dressing_told else [None]
    foreign_others = any(code not in (None, "US") for code in others)
    if hook is None:
        return None
    if None in others:
        return "imported parts" if hook != "US" or foreign_others else None
    hooks = "hook" if product.pattern.pack == 1 else "hooks"
    if hook != "US":
        return f"imported {hooks} and materials" if foreign_others else f"imported {hooks}"
    return "imported materials" if foreign_others else f"US {hooks} and materials"


def dressing(product: Product) -> list[Material]:
    """Return every material but the hook's own steel, whose origin is the hook's."""
    steel = product.hook.material
    return [
        part for name, part in product.materials.items() if name != steel and part.kind != "steel"
    ]


FIELDS: dict[str, Field] = {
    "identity": identity,
    "maker": maker,
    "address": address,
    "its kind in French": in_two(identity, lambda product: product.pattern.kind),
    "its units in French": in_two(units, counted),
    "count": lambda product, markets: str(product.pattern.pack),
    "units": units,
    "contents": contents,
    "weight": weight,
    "alloy": alloy,
    "metals": metals,
    "country": country,
    "place": lambda product, markets: place(product),
    "short_place": lambda product, markets: place(product, whole=False),
    "imports": imports,
    "care": lambda product, markets: product.pattern.care,
    "excise": lambda product, markets: None,  # only who makes the price list knows its taxes
}
"""What a wording's blanks are filled with, from a product and the markets it is sold in.

A field that the catalog does not tell enough for is None, and the statement is not composed.
"""
