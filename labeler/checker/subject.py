"""What a piece has to be: its product, computed anew from the catalog, and what it must say."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from functools import cached_property
from typing import Protocol

from labeler.catalog.model import Product
from labeler.checker.places import PieceClaim
from labeler.disclosures import load
from labeler.disclosures.needed import gaps, needed
from labeler.disclosures.panel import Panel, of_card, of_label
from labeler.disclosures.rules import Rule
from labeler.disclosures.sale import Verdict, verdicts
from labeler.disclosures.statements import Statement, folded
from labeler.disclosures.triggers import Ruling, rulings
from labeler.findings import Finding, Grade
from labeler.units import Length

_GRAVITY = (Grade.NOTE, Grade.FIX, Grade.STOP)


class KnownLot(Protocol):
    """What the ledger knows of a lot."""

    @property
    def sku(self) -> str:
        """The product that it is a lot of."""

    @property
    def void(self) -> object:
        """Something true if it was withdrawn."""


@dataclass(eq=False)
class LawAsked:
    """What the markets' rules have answered already, for products alike but for their colour."""

    rulings: dict[object, tuple[Ruling, ...]] = field(default_factory=dict)
    statements: dict[object, tuple[Statement, ...]] = field(default_factory=dict)
    verdicts: dict[object, tuple[Verdict, ...]] = field(default_factory=dict)
    gaps: dict[object, tuple[Finding, ...]] = field(default_factory=dict)


def alike(product: Product) -> tuple[object, ...]:
    """Return what a rule can ask of a product: all of it but its name, number, price and picture.

    Of the colour a rule asks only whether the head is painted; the dressing is in the materials.
    """
    parts = tuple((name, id(part)) for name, part in product.materials.items())
    records = (product.pattern, product.head, product.hook, product.guard, product.bag)
    return (
        *(id(record) for record in (*records, product.maker)),
        product.weight,
        product.hook_size,
        product.colour.head_paint is None,
        parts,
    )


@dataclass(eq=False)
class Subject:
    """A product that a piece claims to be, where and when it is sold."""

    product: Product
    claim: PieceClaim
    markets: tuple[str, ...]
    day: dt.date
    use: str
    law: LawAsked = field(default_factory=LawAsked)

    @cached_property
    def panel(self) -> Panel:
        """The display panel, whose area decides how high the quantity stands."""
        width, height = Length(self.claim.width), Length(self.claim.height)
        if self.use == "cards":
            return of_card(width, height)
        return of_label(width, height, self.product.bag)

    @property
    def rulings(self) -> tuple[Ruling, ...]:
        """Every rule of its markets with its answer."""
        key = (alike(self.product), self.markets, self.day)
        if key not in self.law.rulings:
            held = rulings(self.product, self.markets, self.day, load.shipped())
            self.law.rulings[key] = tuple(held)
        return self.law.rulings[key]

    @property
    def gaps(self) -> tuple[Finding, ...]:
        """What its markets ask and its catalog does not tell."""
        key = (alike(self.product), self.markets, self.day)
        if key not in self.law.gaps:
            self.law.gaps[key] = gaps(self.product, self.markets, self.day, asked=self.rulings)
        return self.law.gaps[key]

    @cached_property
    def statements(self) -> tuple[Statement, ...]:
        """All that its markets have to say about it, the optional too."""
        key = (alike(self.product), self.markets, self.day, self.panel)
        if key not in self.law.statements:
            said = needed(
                self.product, self.markets, self.day, panel=self.panel, asked=self.rulings
            )
            self.law.statements[key] = said
        return self.law.statements[key]

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """Whether it may be sold in each of its markets."""
        key = (alike(self.product), self.markets, self.day)
        if key not in self.law.verdicts:
            self.law.verdicts[key] = verdicts(
                self.product, self.markets, self.day, asked=self.rulings
            )
        return self.law.verdicts[key]

    @cached_property
    def required(self) -> tuple[Statement, ...]:
        """What must stand on the piece."""
        return tuple(said for said in self.statements if said.duty != "optional")

    @cached_property
    def own_words(self) -> str:
        """All that the maker wrote in their own words about it, folded."""
        product, pattern, colour = self.product, self.product.pattern, self.product.colour
        layers = [
            text for layer in colour.layers for text in (layer.shade, layer.amount, layer.material)
        ]
        words = [
            pattern.name, pattern.kind, pattern.story, pattern.care, product.note,
            colour.name, colour.note, product.hook.name, product.hook.finish,
            product.maker.name, *layers,
        ]  # fmt: skip
        return folded(" \n ".join(text for text in words if text))

    @cached_property
    def names(self) -> tuple[str, str]:
        """What the pattern and the colour are called, folded."""
        return folded(self.product.pattern.name), folded(self.product.colour.name)


def law_of(said: Statement) -> Rule:
    """Return the gravest of the rules that ask for a statement."""
    rules = [load.shipped().rule(rule_id) for rule_id in said.rules]
    return max(rules, key=lambda rule: _GRAVITY.index(rule.grade))


def softened(grade: Grade, said: Statement) -> Grade:
    """Return ``grade``, or a milder one where nothing graver asks for the statement."""
    return min(grade, law_of(said).grade, key=_GRAVITY.index)


def told(said: Statement) -> str:
    """Return the source of a statement and how far it is to be trusted."""
    law = law_of(said)
    return f"{law.id}: {law.source} ({law.confidence.value})"
