"""What a piece has to be: its product, computed afresh from the catalog, and what it must say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from labeler.catalog.model import LEAD, Product
from labeler.checker.claims import PieceClaim, ProductLine, RunClaim, no_such_product
from labeler.checker.rulebook import asks, finding
from labeler.disclosures import market_rules
from labeler.disclosures.market_rules import Ruling, rulings
from labeler.disclosures.needed import Panel, gaps, needed, panel_of
from labeler.disclosures.rules import Rule
from labeler.disclosures.sale import Verdict, verdicts
from labeler.disclosures.statements import Statement, counted, folded
from labeler.findings import Finding, Grade, Place

_GRAVITY = (Grade.NOTE, Grade.FIX, Grade.STOP)


@dataclass(frozen=True, slots=True)
class KnownLot:
    """What the ledger knows of a lot: its SKU, whether it was withdrawn, its product as it was.

    ``product`` is None where this version can no longer read what was kept of it. ``held`` is why
    nothing is to be labelled with it; empty if that is not so. ``old_code`` is what it was called
    before, which may stand beside its code. ``pictures`` are the files of those that its pieces
    bore, where its maker has a logo, which may be another by now.
    """

    sku: str
    void: bool = False
    product: Product | None = None
    held: str = ""
    old_code: str = ""
    pictures: tuple[bytes, ...] = ()


Answer = TypeVar("Answer")


class LawAsked:
    """What the markets' rules have answered already, for products alike but for their colour."""

    def __init__(self) -> None:
        self._answers: dict[object, Any] = {}

    def once(self, question: object, ask: Callable[[], Answer]) -> Answer:
        """Return the answer to a question, which is asked the first time alone."""
        if question not in self._answers:
            self._answers[question] = ask()
        answer: Answer = self._answers[question]
        return answer


@dataclass(eq=False)
class Shelf:
    """The layouts that may account for words, looked up once a check."""

    maker_folder: Path | None = None
    """The catalog's folder, whose layouts may print more than those that ship."""
    found: object = None
    """What was found there, once that was asked."""


def alike(product: Product) -> tuple[object, ...]:
    """Return what a rule can ask of a product: all of it but its name, number, price and picture.

    Of the colour a rule asks only whether the head is painted; the dressing is in the materials.
    """
    parts = tuple((name, id(part)) for name, part in product.materials.items())
    records = (product.pattern, product.head, product.hook, product.guard, product.bag)
    return (
        *(id(record) for record in (*records, product.maker)),
        *(id(part) for part in product.parts),
        product.weight,
        product.hook_size,
        product.colour.head_paint is None,
        product.dressing_told,
        product.second_language,
        tuple(product.second_words.get(word) for word in (product.pattern.kind, counted(product))),
        parts,
    )


@dataclass(eq=False)
class CheckedProduct:
    """A product that a piece claims to be, where and when it is sold."""

    product: Product
    claim: PieceClaim
    markets: tuple[str, ...]
    day: dt.date
    use: str
    law: LawAsked = field(default_factory=LawAsked)
    shelf: Shelf = field(default_factory=Shelf)
    old_code: str = ""
    """What its lot was called before."""
    pictures: tuple[bytes, ...] = ()
    """Those that pieces of its lot bore."""
    accounts: object = None
    """What accounts for the words on it, once that was asked."""
    ink: str = ""
    """In which the run says that it is printed: ``colour``, ``black`` or ``grey``."""
    first_edition: bool = False
    """Whether the run says that it is drawn as before there was a second edition."""

    @cached_property
    def panel(self) -> Panel:
        """The display panel, whose area decides how high the quantity stands."""
        return panel_of(self.use, self.product, (self.claim.width, self.claim.height))

    @cached_property
    def lawful_kind(self) -> tuple[object, ...]:
        """The same for products that no rule tells apart."""
        return alike(self.product), self.markets, self.day

    @property
    def rulings(self) -> tuple[Ruling, ...]:
        """Every rule of its markets with its answer."""
        sold = self.product, self.markets, self.day
        return self.law.once(
            ("rulings", self.lawful_kind), lambda: tuple(rulings(*sold, market_rules.shipped()))
        )

    @property
    def gaps(self) -> tuple[Finding, ...]:
        """What its markets ask and its catalog does not tell."""
        sold = self.product, self.markets, self.day
        return self.law.once(("gaps", self.lawful_kind), lambda: gaps(*sold, asked=self.rulings))

    @cached_property
    def statements(self) -> tuple[Statement, ...]:
        """All that its markets have to say about it, the optional too."""
        sold = self.product, self.markets, self.day
        return self.law.once(
            ("statements", self.lawful_kind, self.panel),
            lambda: needed(*sold, panel=self.panel, asked=self.rulings),
        )

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """Whether it may be sold in each of its markets."""
        sold = self.product, self.markets, self.day
        return self.law.once(
            ("verdicts", self.lawful_kind), lambda: verdicts(*sold, asked=self.rulings)
        )

    @cached_property
    def required(self) -> tuple[Statement, ...]:
        """What must stand on the piece."""
        return tuple(said for said in self.statements if said.duty != "optional")

    @cached_property
    def own_words(self) -> str:
        """All that the maker wrote in their own words about it, folded."""
        who = self.product.maker
        words = [
            who.name, who.street, who.city, who.state, who.postcode, who.site, who.email, who.phone
        ]  # fmt: skip
        for product in (self.product, *(part.product for part in self.product.parts)):
            pattern, colour = product.pattern, product.colour
            layers = [
                text for layer in colour.layers
                for text in (layer.shade, layer.amount, layer.material)
            ]  # fmt: skip
            words += [
                pattern.name, pattern.kind, pattern.story, pattern.care, product.note,
                colour.name, colour.note, product.hook.name, product.hook.finish, *layers,
                *product.second_words.values(),
            ]  # fmt: skip
        return folded(" \n ".join(text for text in words if text))

    def says(self, words: str) -> bool:
        """Tell whether words stand in the maker's own, as whole words, in any case."""
        own, plain = self._own_words, " ".join(words.casefold().split())
        at = own.find(plain)
        while at >= 0:
            end = at + len(plain)
            beside = (own[:at][-2:], plain[0]), (own[end : end + 2][::-1], plain[-1])
            if not any(_runs_on(*each) for each in beside):
                return True
            at = own.find(plain, at + 1)
        return False

    @cached_property
    def _own_words(self) -> str:
        return self.own_words.casefold()

    @cached_property
    def names(self) -> tuple[str, str]:
        """What the pattern and the colour are called, folded."""
        return folded(self.product.pattern.name), folded(self.product.colour.name)


def _runs_on(beside: str, edge: str) -> bool:
    """Tell whether two letters beside words, the nearest last, make a longer word or figure."""
    if not beside or beside[-1].isspace():
        return False
    joined = beside[-1] in "./,-" and beside[0].isalnum() and len(beside) == 2
    return edge.isalnum() and (beside[-1].isalnum() or (joined and edge.isdigit()))


def law_of(said: Statement) -> Rule:
    """Return the gravest of the rules that ask for a statement."""
    rules = [market_rules.shipped().rule(rule_id) for rule_id in said.rules]
    return max(rules, key=lambda rule: _GRAVITY.index(rule.grade))


def softened(grade: Grade, said: Statement) -> Grade:
    """Return ``grade``, or a milder one where nothing graver asks for the statement."""
    return min(grade, law_of(said).grade, key=_GRAVITY.index)


def when_missing(said: Statement) -> Grade:
    """Return the grade of a statement that is missing, or can't be read in full.

    That goods hold lead is never a mere matter of judgement, whoever asks for it to be said.
    """
    laws = [market_rules.shipped().rule(rule_id) for rule_id in said.rules]
    tests = [law.when.substance for law in laws if law.when is not None]
    lead = any(test is not None and set(test.names) & set(LEAD) for test in tests)
    if lead and said.kind in ("material", "warning") and said.duty != "optional":
        return Grade.STOP
    return softened(Grade.STOP, said)


def told(said: Statement) -> str:
    """Return the source of a statement and how far it is to be trusted."""
    law = law_of(said)
    return f"{law.id}: {law.source} ({law.confidence.value})"


LotLookup = Callable[[str], KnownLot | None]
"""What the ledger knows of a lot code; None for one that it does not have."""

Progress = Callable[[int, int], None]
"""Called with how many pages are checked, and how many there are."""


@dataclass(frozen=True, slots=True)
class CheckRequest:
    """What is to be checked: a file, against which catalog, for when and where."""

    path: Path
    folder: Path
    day: dt.date
    markets: tuple[str, ...] = ()
    """Places of sale to check for, in place of those that the pieces were made for."""
    line: ProductLine | None = None
    """What it is held against; read from the folder, if it is not given."""

    @property
    def name(self) -> str:
        """What the file is called in the report."""
        return self.path.name


# ----------------------------------------------------------------------------
# What the pieces of one run have to be, each found once.


class Subjects:
    """What the pieces of one run have to be.

    Args:
        request: what is checked.
        line: what it is held against.
        run: what the run sheet says.
        known_lot: tells what the ledger knows of a lot; None where there is no ledger.
    """

    def __init__(
        self, request: CheckRequest, line: ProductLine, run: RunClaim, known_lot: LotLookup | None
    ) -> None:
        self.line = line
        self.run = run
        self.found: list[Finding] = []
        """Pieces that the catalog does not know, or that were made for other places of sale."""
        self._request = request
        self._known_lot = known_lot
        self._products = {product.sku: product for product in line.products}
        self._law = LawAsked()
        self._shelf = Shelf(request.folder)
        self._subjects: dict[int, CheckedProduct | None] = {}

    @property
    def known(self) -> list[CheckedProduct]:
        """Those that were asked for, and that the catalog knows."""
        return [subject for subject in self._subjects.values() if subject]

    def of(self, claim: PieceClaim) -> CheckedProduct | None:
        """Return what a piece has to be, or None if the catalog does not know it."""
        if claim.number not in self._subjects:
            product = self._product(claim)
            self._subjects[claim.number] = None
            if product is None:
                place = self._first_place(claim)
                self.found.append(no_such_product(claim.sku, self._products, self.line, place))
            else:
                markets = self._request.markets or claim.markets or product.markets
                known = self._known_lot(claim.lot) if claim.lot and self._known_lot else None
                self.found += self._other_markets(claim, product)
                self._subjects[claim.number] = CheckedProduct(
                    product, claim, markets, self._request.day, self.run.use, self._law,
                    self._shelf,
                    known.old_code if known else "",
                    known.pictures if known else (),
                    ink=self.run.ink,
                    first_edition=self.run.first_edition,
                )  # fmt: skip
        return self._subjects[claim.number]

    def _product(self, claim: PieceClaim) -> Product | None:
        """Return the product as the ledger kept it with its lot, or else today's."""
        asked = self._known_lot if claim.lot and not self.run.today else None
        known = asked(claim.lot) if asked else None
        if known and known.product and known.product.sku == claim.sku:
            return known.product
        return self._products.get(claim.sku)

    @asks("markets-changed")
    def _other_markets(self, claim: PieceClaim, product: Product) -> Iterator[Finding]:
        added = [market for market in product.markets if market not in claim.markets]
        if added and claim.markets and not self._request.markets:
            yield finding(
                "markets-changed", self._first_place(claim),
                found=", ".join(claim.markets), expected=", ".join(product.markets),
            )  # fmt: skip

    def _first_place(self, claim: PieceClaim) -> Place:
        file = self._request.name
        for number in sorted(self.run.pages):
            for place in self.run.pages[number]:
                if place.piece is claim:
                    return Place(
                        file=file, cell=str(place.cell), page=number, piece=claim.sku,
                        box=place.box,
                    )  # fmt: skip
        return Place(file=file, piece=claim.sku)
