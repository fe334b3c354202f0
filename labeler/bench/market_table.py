"""The line held against places of sale: rows that share a verdict are one, rules are numbered.

Numbers stand for rules on sale and use, letters for what is only good to know. Behind a cell
stand the rules that catch the product; behind a free one, those that were asked and do not.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from labeler.catalog.model import Product
from labeler.catalog.wording import a_few
from labeler.disclosures import places, sale
from labeler.disclosures.load import RuleBook
from labeler.disclosures.rules import Confidence, Effect, Rule
from labeler.disclosures.sale import Reason, Status, Verdict
from labeler.disclosures.sale_words import SHORT
from labeler.units import NO_BREAK_SPACE


@dataclass(frozen=True, slots=True)
class Market:
    """A place of sale; ``held`` tells whether any rule but the house's reaches it."""

    code: str
    name: str
    held: bool
    sold: bool
    """Whether any of the products is sold there."""


@dataclass(frozen=True, slots=True)
class MarketCell:
    """What one market makes of the products of a row."""

    status: Status
    certain: bool
    marks: tuple[str, ...]
    """The numbers and letters of the rules behind it."""

    @property
    def words(self) -> str:
        """The status in short, with a question mark where the catalog does not tell all."""
        return SHORT[self.status] + ("" if self.certain else "?")


@dataclass(frozen=True, slots=True)
class MarketRow:
    """Products of one pattern of which every market makes the same.

    ``apart`` tells whether other rows of the same pattern differ.
    """

    pattern: str
    which: str
    apart: bool
    skus: tuple[str, ...]
    cells: tuple[MarketCell, ...]


@dataclass(slots=True)
class Told:
    """How many products a rule treats alike, and one of them with what decided."""

    skus: dict[str, None] = field(default_factory=dict)
    because: str = ""

    def add(self, sku: str, because: str) -> None:
        """Count a product; the first one is the example."""
        self.because = self.because or because
        self.skus[sku] = None

    def __str__(self) -> str:
        count, first = len(self.skus), next(iter(self.skus))
        such = f"{count}, such as {first}" if count > 1 else first
        return f"{such}: {self.because}"


@dataclass(slots=True)
class Behind:
    """A rule that stands behind some cell, with what it makes of the products."""

    mark: str
    rule: Rule
    catches: Told = field(default_factory=Told)
    untold: Told = field(default_factory=Told)
    """The products it is counted against because the catalog does not tell."""
    spares: Told = field(default_factory=Told)

    def lines(self) -> Iterator[str]:
        """Yield what the rule catches, what it is counted against, and what it leaves free."""
        verb = "Concerns" if self.rule.effect is Effect.NOTE else "Catches"
        for words, told in ((verb, self.catches), ("Not told, so counted against", self.untold),
                            ("Does not catch", self.spares)):  # fmt: skip
            if told.skus:
                yield f"{words} {told}."

    @property
    def authority(self) -> str:
        """Who says so, and how far that was read."""
        rule = self.rule
        read = f", read {rule.read.isoformat()}" if rule.read else ""
        how = {
            Confidence.READ: read.removeprefix(", "),
            Confidence.SECONDARY: f"second hand{read}",
            Confidence.MEMORY: "from memory, not read",
        }[rule.confidence]
        return f"{rule.source} ({how})."

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON values."""
        return {
            "mark": self.mark,
            **self.rule.as_json(),
            "effect": self.rule.effect.value,
            "catches": list(self.catches.skus),
            "not_told": list(self.untold.skus),
            "does_not_catch": list(self.spares.skus),
        }


Table = tuple[tuple[Verdict, ...], ...]
Rules = dict[str, Behind]


def verdicts(
    products: Iterable[Product], markets: Sequence[str], day: dt.date, book: RuleBook
) -> Table:
    """Return a row of verdicts a product; products that no rule tells apart are judged once."""
    known: dict[object, tuple[Verdict, ...]] = {}
    rows = []
    for product in products:
        key = alike(product)
        if key not in known:
            known[key] = sale.verdicts(product, markets, day, book)
        rows.append(tuple(replace(verdict, sku=product.sku) for verdict in known[key]))
    return tuple(rows)


def alike(product: Product) -> object:
    """Return a key that differs wherever a rule could tell two products of a catalog apart."""
    return (
        id(product.pattern), product.weight, product.hook_size, id(product.hook), id(product.bag),
        product.colour.head_paint is None, tuple(map(id, product.materials.values())),
    )  # fmt: skip


def behind(table: Table, markets: Sequence[str], book: RuleBook) -> Rules:
    """Return the rules behind the cells by their ids, numbered, the widest first; notes last."""
    found = {rule.id: Behind("", rule) for rule, _ in book.rules_reaching(markets)}
    for verdict in (cell for row in table for cell in row):
        for one in (*verdict.reasons, *verdict.notes):
            told = found[one.rule].catches if one.certain else found[one.rule].untold
            told.add(verdict.sku, one.because)
        for one in _asked(verdict, found):
            found[one.rule].spares.add(verdict.sku, one.because)
    told_of = [each for each in found.values() if any(each.lines())]
    laws = [each for each in told_of if each.rule.effect is not Effect.NOTE]
    notes = [each for each in told_of if each.rule.effect is Effect.NOTE]
    for number, law in enumerate(laws):
        law.mark = str(number + 1)
    for number, note in enumerate(notes):
        note.mark = _letter(number)
    return {each.rule.id: each for each in (*laws, *notes)}


def _asked(verdict: Verdict, rules: Rules) -> Iterator[Reason]:
    """Yield the rules that reach the market, now or later, and do not catch the product."""
    for one in (each for each in verdict.cleared if each.rule in rules):
        rule = rules[one.rule].rule
        over = rule.ends is not None and rule.ends <= verdict.day
        elsewhere = rule.parts and "-" in verdict.market and verdict.market not in rule.parts
        if not over and not elsewhere:
            yield one


def _letter(number: int) -> str:
    """Return a, b, ... z, aa, ab, ..."""
    first, last = divmod(number, 26)
    return (_letter(first - 1) if first else "") + chr(ord("a") + last)


def rows(products: Sequence[Product], table: Table, rules: Rules) -> tuple[MarketRow, ...]:
    """Return a row a pattern, or several where its weights or colours fare differently."""
    patterns: dict[str, dict[tuple[MarketCell, ...], list[Product]]] = {}
    for product, row in zip(products, table, strict=True):
        cells = tuple(_cell(verdict, rules) for verdict in row)
        same = patterns.setdefault(product.pattern.name, {})
        same.setdefault(cells, []).append(product)
    return tuple(
        MarketRow(name, _which(of, groups), len(groups) > 1, tuple(p.sku for p in of), cells)
        for name, groups in patterns.items()
        for cells, of in groups.items()
    )


def _cell(verdict: Verdict, rules: Rules) -> MarketCell:
    held = verdict.reasons or tuple(_asked(verdict, rules))
    told = {one.rule for one in (*held, *verdict.notes)}
    marks = tuple(one.mark for rule, one in rules.items() if rule in told)
    return MarketCell(verdict.status, verdict.certain, marks)


def _which(of: Sequence[Product], groups: dict[tuple[MarketCell, ...], list[Product]]) -> str:
    """Return the weights of a row; its SKUs where other rows of the pattern have them too."""
    weights = {product.weight for product in of}
    others = {p.weight for group in groups.values() if group is not of for p in group}
    if weights & others:
        return a_few([product.sku for product in of], 4)
    return ", ".join(str(weight).replace(" ", NO_BREAK_SPACE) for weight in sorted(weights))


def market_named(code: str, book: RuleBook, sold: bool) -> Market:
    """Return the market of that code, with its name in English."""
    country, _, part = code.partition("-")
    if code in book.files:
        name = book.files[code].name
    elif country == "US" and part:
        name = places.state(part)
    else:
        name = code if part else places.country(code)
    return Market(code, name, book.knows(code), sold)
