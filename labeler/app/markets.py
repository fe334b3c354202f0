"""Where the line may be sold: products held against places, as a table and as JSON.

Products of a pattern that share a verdict are one row, rules are numbered: numbers stand for rules
on sale and use, letters for what is only good to know. Behind a cell stand the rules that catch the
product; behind a free one, those that were asked and do not.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from labeler.catalog.model import Product
from labeler.catalog.read import choose, read_catalog
from labeler.disclosures import market_rules, rules, sale
from labeler.disclosures.market_rules import HOUSE, RuleBook
from labeler.disclosures.needed import label_panel, needed
from labeler.disclosures.rules import NO_LEGAL_ADVICE, Confidence, Effect, Rule, is_state
from labeler.disclosures.sale import SHORT, Reason, Status, Verdict, parts_not_asked
from labeler.findings import (
    Finding,
    LabelerError,
    Place,
    a_few,
    did_you_mean,
    listed,
    refusal,
    shown,
    stop,
)
from labeler.units import NO_BREAK_SPACE, Length


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
class Tally:
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
class RuleEffect:
    """A rule that stands behind some cell, with what it makes of the products."""

    mark: str
    rule: Rule
    catches: Tally = field(default_factory=Tally)
    unknown: Tally = field(default_factory=Tally)
    """The products it is counted against because the catalog does not tell."""
    spares: Tally = field(default_factory=Tally)

    def lines(self) -> Iterator[str]:
        """Yield what the rule catches, what it is counted against, and what it leaves free."""
        verb = "Concerns" if self.rule.effect is Effect.NOTE else "Catches"
        for words, tally in ((verb, self.catches), ("Not told, so counted against", self.unknown),
                             ("Does not catch", self.spares)):  # fmt: skip
            if tally.skus:
                yield f"{words} {tally}."

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
            "not_told": list(self.unknown.skus),
            "does_not_catch": list(self.spares.skus),
        }


Table = tuple[tuple[Verdict, ...], ...]
RuleEffects = dict[str, RuleEffect]


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
        product.colour.head_paint is None, product.dressing_told,
        tuple(map(id, product.materials.values())),
    )  # fmt: skip


def rule_effects(table: Table, markets: Sequence[str], book: RuleBook) -> RuleEffects:
    """Return the rules behind the cells by their ids, numbered, the widest first; notes last."""
    found = {rule.id: RuleEffect("", rule) for rule, _ in book.rules_reaching(markets)}
    for verdict in (cell for row in table for cell in row):
        for one in (*verdict.reasons, *verdict.notes):
            tally = found[one.rule].catches if one.certain else found[one.rule].unknown
            tally.add(verdict.sku, one.because)
        for one in _asked(verdict, found):
            found[one.rule].spares.add(verdict.sku, one.because)
    involved = [each for each in found.values() if any(each.lines())]
    laws = [each for each in involved if each.rule.effect is not Effect.NOTE]
    notes = [each for each in involved if each.rule.effect is Effect.NOTE]
    for number, law in enumerate(laws):
        law.mark = str(number + 1)
    for number, note in enumerate(notes):
        note.mark = _letter(number)
    return {each.rule.id: each for each in (*laws, *notes)}


def _asked(verdict: Verdict, effects: RuleEffects) -> Iterator[Reason]:
    """Yield the rules that reach the market, now or later, and do not catch the product."""
    for one in (each for each in verdict.cleared if each.rule in effects):
        rule = effects[one.rule].rule
        over = rule.ends is not None and rule.ends <= verdict.day
        elsewhere = rule.parts and "-" in verdict.market and verdict.market not in rule.parts
        if not over and not elsewhere:
            yield one


def _letter(number: int) -> str:
    """Return a, b, ... z, aa, ab, ..."""
    first, last = divmod(number, 26)
    return (_letter(first - 1) if first else "") + chr(ord("a") + last)


def rows(products: Sequence[Product], table: Table, effects: RuleEffects) -> tuple[MarketRow, ...]:
    """Return a row a pattern, or several where its weights or colours fare differently."""
    patterns: dict[str, dict[tuple[MarketCell, ...], list[Product]]] = {}
    for product, row in zip(products, table, strict=True):
        cells = tuple(_cell(verdict, effects) for verdict in row)
        same = patterns.setdefault(product.pattern.name, {})
        same.setdefault(cells, []).append(product)
    return tuple(
        MarketRow(name, _which(of, groups), len(groups) > 1, tuple(p.sku for p in of), cells)
        for name, groups in patterns.items()
        for cells, of in groups.items()
    )


def _cell(verdict: Verdict, effects: RuleEffects) -> MarketCell:
    reasons = verdict.reasons or tuple(_asked(verdict, effects))
    behind = {one.rule for one in (*reasons, *verdict.notes)}
    marks = tuple(one.mark for rule, one in effects.items() if rule in behind)
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
        name = book.file(code).name
    elif country == "US" and part:
        name = rules.state(part)
    else:
        name = code if part else rules.country(code)
    return Market(code, name, book.knows(code), sold)


@dataclass(frozen=True, slots=True)
class MarketReport:
    """What every market makes of every product, and the rules behind it."""

    maker: str
    day: dt.date
    markets: tuple[Market, ...]
    products: tuple[Product, ...]
    table: Table
    rows: tuple[MarketRow, ...]
    rules: tuple[RuleEffect, ...]
    not_checked: tuple[str, ...]
    findings: tuple[Finding, ...] = ()
    """Which products were found by their words."""

    def as_json(self) -> dict[str, Any]:
        """Return every product in every market; what a rule says stands once, under ``rules``."""
        return {
            "day": self.day.isoformat(),
            "markets": [
                {"code": m.code, "name": m.name, "rules_held": m.held, "sold_there": m.sold}
                for m in self.markets
            ],
            "products": [
                _product_json(product, row)
                for product, row in zip(self.products, self.table, strict=True)
            ],
            "rules": [one.as_json() for one in self.rules],
            "not_checked": list(self.not_checked),
            "no_legal_advice": NO_LEGAL_ADVICE,
        }


def _product_json(product: Product, row: Sequence[Verdict]) -> dict[str, Any]:
    return {
        "sku": product.sku,
        "pattern": product.pattern.name,
        "weight": str(product.weight),
        "color": product.colour.name,
        "markets": [
            {
                "market": verdict.market,
                "sold_there": verdict.market in product.markets,
                "status": verdict.status.value,
                "certain": verdict.certain,
                "caught_by": [_reason_json(one) for one in verdict.reasons],
                "not_caught_by": [_reason_json(one) for one in verdict.cleared],
                "notes": [_reason_json(one) for one in verdict.notes],
            }
            for verdict in row
        ],
    }


def _reason_json(reason: Reason) -> dict[str, Any]:
    return {
        "rule": reason.rule,
        "effect": reason.effect.value,
        "because": reason.because,
        "certain": reason.certain,
    }


def market_report(
    folder: Path, skus: Sequence[str] = (), places: Sequence[str] = (), day: dt.date | None = None
) -> MarketReport:
    """Hold products against the rules of places where they may be sold.

    Args:
        folder: the catalog.
        skus: SKUs or patterns of them; none means the whole line.
        places: codes of ISO 3166; none means where the products are sold.
        day: the day of the sale; None for today.

    Raises:
        LabelerError: if the catalog can't be read, or a SKU or a market is not known.
    """
    day = day or dt.date.today()  # noqa: DTZ011  (the maker's own day)
    catalog = read_catalog(folder, day)
    book = market_rules.shipped()
    said: list[Finding] = []
    products = choose(catalog, skus, said)
    if not products:
        place = Place(file="catalog.toml")
        raise refusal("nothing-on-sale", place, "there is no product to hold against a market")
    sold = tuple(dict.fromkeys(code for p in products for code in p.markets))
    codes = markets_asked(places, book) or sold
    table = verdicts(products, codes, day, book)
    effects = rule_effects(table, codes, book)
    markets = tuple(market_named(code, book, code in sold) for code in codes)
    return MarketReport(
        catalog.file.maker.name, day, markets, products, table,
        rows(products, table, effects), tuple(effects.values()),
        not_checked(markets, tuple(effects.values()), book), tuple(said),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class MarketGroup:
    """Products of which a place makes the same; where it is no good, by the same laws.

    Attributes:
        status: what it makes of them.
        certain: whether the catalog tells all that this rests on.
        rows: of the table, pattern by pattern.
        rules: those behind it, the ones that decide first.
        notices: what the labels must say for it, as the first of them says it.
    """

    status: Status
    certain: bool
    rows: tuple[MarketRow, ...]
    rules: tuple[RuleEffect, ...]
    notices: tuple[str, ...]

    @property
    def skus(self) -> list[str]:
        """All its products."""
        return [sku for row in self.rows for sku in row.skus]


def by_place(report: MarketReport) -> list[tuple[Market, list[MarketGroup]]]:
    """Return the table place by place: products that fare alike together, the worst first."""
    products = {product.sku: product for product in report.products}
    found = []
    for at, market in enumerate(report.markets):
        alike: dict[tuple[Status, bool, tuple[str, ...]], list[MarketRow]] = {}
        for row in report.rows:
            cell = row.cells[at]
            good = cell.status in (Status.FREE, Status.NOTED, Status.NOT_HELD)
            laws = () if good else tuple(mark for mark in cell.marks if mark.isdecimal())
            alike.setdefault((cell.status, cell.certain, laws), []).append(row)
        groups = [
            MarketGroup(
                status, certain, tuple(of),
                tuple(sorted(
                    (one for one in report.rules
                     if any(one.mark in row.cells[at].marks for row in of)),
                    key=lambda one: one.rule.effect.value != status.value,
                )),
                _notices(products[of[0].skus[0]], market.code, report.day, of[0].cells[at]),
            )
            for (status, certain, _), of in alike.items()
        ]  # fmt: skip
        groups.sort(key=lambda group: (-group.status.rank, -len(group.skus)))
        found.append((market, groups))
    return found


def _notices(product: Product, market: str, day: dt.date, cell: MarketCell) -> tuple[str, ...]:
    """Return the notices that a place asks of a product, in words."""
    if cell.status is not Status.DISCLOSURE:
        return ()
    asked = {one.rule for one in sale.may_be_sold(product, market, day).reasons}
    panel = label_panel(_LABEL, _LABEL, product.bag)
    says = needed(product, (market,), day, panel=panel)
    return tuple(each.text for each in says if asked & set(each.rules))


_LABEL = Length.from_inches(2)
"""A usual bag label's sides: what a notice says does not hang on them."""


def markets_asked(words: Sequence[str], book: RuleBook) -> tuple[str, ...]:
    """Return the codes that were asked for, each once.

    Raises:
        LabelerError: with a finding for each word that is no place's code.
    """
    codes = tuple(dict.fromkeys(word.strip().upper() for word in words))
    faults = [
        _unknown(word, book)
        for word in dict.fromkeys(words)
        if not _is_place(word.strip().upper(), book)
    ]
    if faults:
        raise LabelerError(faults)
    return codes


def _is_place(code: str, book: RuleBook) -> bool:
    if code in book.files:
        return code != HOUSE
    country, dash, part = code.partition("-")
    if rules.country(country) == country:
        return False
    return not dash or (is_state(part) if country == "US" else bool(_PART.fullmatch(part)))


_PART = re.compile("[A-Z0-9]{1,3}")
"""A subdivision's part of its code. Source: ISO 3166-2."""


def _unknown(word: str, book: RuleBook) -> Finding:
    named = {book.file(code).name.casefold(): code for code in book.files if code != HOUSE}
    code = named.get(word.strip().casefold()) or rules.code_meant(word)
    codes = list(named.values())
    hint = f"Did you mean {code!r}?" if code else did_you_mean(word.strip().upper(), codes)
    return stop(
        "market-unknown",
        Place(key="market"),
        "no place has this code",
        found=shown(word),
        expected="an ISO 3166 code, such as US, US-ME or CA",
        hint=hint,
    )


def left_out(codes: Sequence[str], book: RuleBook) -> tuple[str, ...]:
    """Return the parts of the markets that have rules of their own and were not asked.

    Parts of a country by their codes, countries of a union by its list.
    """
    members = [
        member
        for code in codes
        if code in book.files
        for member in book.file(code).covers
        if member in book.files and member not in codes
    ]
    return tuple(dict.fromkeys([*parts_not_asked(codes, book), *members]))


def state_meant(code: str) -> str:
    """Say which state two letters alone may stand for: MN is Mongolia to everybody else."""
    abroad = rules.country(code)
    other = f"{code} alone is {abroad}. " if abroad != code else ""
    return f"{other}For {rules.state(code)} write 'US-{code}'."


def not_checked(
    markets: Sequence[Market], rules: Sequence[RuleEffect], book: RuleBook
) -> tuple[str, ...]:
    """Return what the table leaves open, in sentences."""
    sentences = []
    if parts := left_out([market.code for market in markets], book):
        named = ", ".join(f"{code} ({book.file(code).name})" for code in parts)
        sentences.append(f"Places within these markets that have rules of their own: {named}.")
    if bare := [f"{market.code} ({market.name})" for market in markets if not market.held]:
        meant = [state_meant(market.code) for market in markets
                 if not market.held and is_state(market.code)]  # fmt: skip
        sentences.append(" ".join([f"Any rule of {', '.join(bare)}: none is held here.", *meant]))
    weak = [one.mark for one in rules if one.rule.confidence is not Confidence.READ]
    if weak:
        sentences.append(
            f"The law's own words behind the {'rules' if len(weak) > 1 else 'rule'} marked "
            f"{listed(weak)}: taken from what others write of them, or from memory."
        )
    return (*sentences, *_NEVER)


_NEVER = (
    "Rules of cities, counties, tribes, parks and single waters, of web shops and of carriers,"
    " unless they are named here.",
    "Whether the catalog is true: compositions, weights, lengths and origins are taken as given.",
    "The labels themselves.",
)
