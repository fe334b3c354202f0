"""Checking a catalog folder."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

from labeler.app.markets import alike, left_out, state_meant, verdicts
from labeler.catalog.gtin_record import draw_gtins
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import examine, starter_placeholders
from labeler.catalog.structure import PHOTOS, read_source
from labeler.checker import rulebook
from labeler.checker.report import listed
from labeler.disclosures import load, rules
from labeler.disclosures.load import RuleBook
from labeler.disclosures.needed import gaps
from labeler.disclosures.rules import NO_LEGAL_ADVICE, Effect, Sourced
from labeler.disclosures.sale import Reason
from labeler.drawing.photos import prepare
from labeler.findings import Finding, Grade, LabelerError, Place, a_few, fix, nearest, note

# ----------------------------------------------------------------------------
# The line held against the rules of the places where it is sold: each cause once, not each SKU.

_FILE = "catalog.toml"
_SKUS_NAMED = 3


def law_findings(catalog: Catalog, day: dt.date) -> tuple[Finding, ...]:
    """Return where the line may not be sold or used, what rules ask and the catalog does not tell.

    What a label must say is printed by itself, and is no finding.

    Args:
        catalog: the line.
        day: the day on which it is sold.
    """
    book = load.shipped()
    return (
        *_verdicts(catalog, day, book),
        *_gaps(catalog, day, book),
        *_places_left_out(catalog, book),
    )


@dataclass(slots=True)
class _Cause:
    """Why something is said, of which products, and where."""

    reason: Reason
    skus: dict[str, None] = field(default_factory=dict)
    markets: dict[str, None] = field(default_factory=dict)

    def finding(self, book: RuleBook) -> Finding:
        """Return it as a finding that says when its rule was read."""
        reason = self.reason
        said = reason.finding(_of(list(self.skus)))
        message = reason.told_of(", ".join(self.markets))
        read = book.rule(reason.rule).read
        how = reason.confidence.value + (f", looked up {read.isoformat()}" if read else "")
        return replace(said, message=message, source=f"{reason.source} ({how})")


def _verdicts(catalog: Catalog, day: dt.date, book: RuleBook) -> Iterator[Finding]:
    """Yield what stands against the line where it is sold, and what is good to know there."""
    places = tuple(dict.fromkeys(code for p in catalog.products for code in p.markets))
    causes: dict[tuple[str, bool], _Cause] = {}
    table = verdicts(catalog.products, places, day, book)
    for product, row in zip(catalog.products, table, strict=True):
        for verdict in (each for each in row if each.market in product.markets):
            for one in filter(_worth_saying, (*verdict.reasons, *verdict.notes)):
                cause = causes.setdefault((one.rule, one.certain), _Cause(one))
                cause.skus[product.sku] = cause.markets[verdict.market] = None
    for cause in causes.values():
        yield cause.finding(book)


def _worth_saying(reason: Reason) -> bool:
    """Tell whether a reason is news: notices print by themselves, and gaps are told as gaps."""
    if reason.effect is Effect.DISCLOSURE:
        return False
    return reason.certain or reason.effect is Effect.BARRED


def _gaps(catalog: Catalog, day: dt.date, book: RuleBook) -> Iterator[Finding]:
    """Yield what is not told, once for all products of which it is not told."""
    same: dict[object, list[Product]] = {}
    for product in catalog.products:
        same.setdefault((alike(product), product.markets), []).append(product)
    found: dict[Finding, list[str]] = {}
    for products in same.values():
        for gap in gaps(products[0], products[0].markets, day, book):
            cause = replace(gap, place=Place())
            found.setdefault(cause, []).extend(product.sku for product in products)
    for cause, skus in found.items():
        yield replace(cause, place=_of(skus))


def _of(skus: list[str]) -> Place:
    """Return the place of a finding about these products."""
    few = a_few(skus, _SKUS_NAMED)
    return Place(_FILE, piece=f"{len(skus)} products ({few})" if len(skus) > 1 else few)


def _places_left_out(catalog: Catalog, book: RuleBook) -> Iterator[Finding]:
    sold = tuple(dict.fromkeys(code for p in catalog.products for code in p.markets))
    place = Place(_FILE, key="sale.markets")
    if parts := left_out(sold, book):
        yield note(
            "markets-not-named",
            place,
            "places within your markets have rules of their own, which are not asked",
            found=", ".join(parts),
            hint=f"Name those you sell to, or look: labeler markets --market {parts[0]}",
        )
    nowhere = [code for code in sold if _is_no_place(code, book)]
    yield from (_misnamed(code, book) for code in nowhere)
    if bare := [code for code in sold if not book.knows(code) and code not in nowhere]:
        yield note(
            "market-not-held",
            place,
            "no rules of these places are held here, which is not the same as free",
            found=", ".join(bare),
            hint=" ".join(state_meant(code) for code in bare if rules.is_state(code)),
        )


def _is_no_place(code: str, book: RuleBook) -> bool:
    """Tell whether a code is of no country, or of a state that the United States don't have."""
    country, _, part = code.partition("-")
    is_country = rules.country(country) != country or book.knows(country)
    return not is_country or (country == "US" and bool(part) and not rules.is_state(part))


def _misnamed(code: str, book: RuleBook) -> Finding:
    near = rules.code_meant(code) or nearest(code, book.files)
    guess = f"Did you mean {near!r}?" if near else ""
    return fix(
        "market-unknown",
        Place(_FILE, key="sale.markets"),
        "there is no such place, so none of its rules is asked",
        found=code,
        expected='a code of ISO 3166, such as "US" or "US-CA"',
        hint=state_meant(code) if rules.is_state(code) else guess,
    )


@dataclass(frozen=True, slots=True)
class CatalogReport:
    """What there is to say of a catalog."""

    products: int
    findings: tuple[Finding, ...]

    def as_text(self, width: int) -> str:
        """Return the report for people in lines of at most ``width``: the summary, the gravest."""
        products = "1 product" if self.products == 1 else f"{self.products:,} products"
        summary = (
            f"{products}; {self.stops} to put right, {self.fixes} to look at, {self.notes} noted."
        )
        told = listed(self.findings, width)
        return "\n".join([summary, "", *told, textwrap.fill(NO_LEGAL_ADVICE, width)])

    def count(self, grade: Grade) -> int:
        """Return how many findings have ``grade``."""
        return sum(finding.grade is grade for finding in self.findings)

    @property
    def stops(self) -> int:
        """How many findings stop the press."""
        return self.count(Grade.STOP)

    @property
    def fixes(self) -> int:
        """How many findings are the maker's to judge."""
        return self.count(Grade.FIX)

    @property
    def notes(self) -> int:
        """How many findings are only good to know."""
        return self.count(Grade.NOTE)


def check_catalog(folder: Path, day: dt.date | None = None) -> CatalogReport:
    """Return everything there is to say of the catalog in ``folder``.

    A catalog that can be read is also held against the rules of the places where it is sold, on
    ``day``, or today.

    Raises:
        LabelerError: if there is no catalog, or what is there is no TOML.
    """
    read_source(folder)
    catalog, findings = examine(folder)
    if catalog is None:
        return CatalogReport(0, findings)
    photos = tuple(_photo_faults(catalog, folder))
    law = law_findings(catalog, day or dt.date.today())  # noqa: DTZ011  (the maker's own day)
    return CatalogReport(
        len(catalog.products), (*findings, *photos, *law, *starter_placeholders(catalog))
    )


def number_products(folder: Path) -> Mapping[str, str]:
    """Give every product that has none a GTIN of the maker's own prefix; return those by SKU.

    A number once given is kept in ``gtins.csv`` and never changes.

    Raises:
        LabelerError: if the catalog has an error, there is no prefix, or it is used up.
    """
    catalog, findings = examine(folder)
    if catalog is None:
        raise LabelerError(f for f in findings if f.grade is Grade.STOP)
    return draw_gtins(catalog, folder)


_THUMB = 72.0
"""Points; small, so that a photo is read fast. How fine it prints is known once it has a size."""


def _photo_faults(catalog: Catalog, folder: Path) -> Iterator[Finding]:
    """Yield what would keep a photo from being printed, each photo read once to its end."""
    for name in dict.fromkeys(product.photo for product in catalog.products):
        try:
            if name:
                prepare(folder / PHOTOS / name, _THUMB, _THUMB)
        except LabelerError as error:
            yield from error.findings


# ----------------------------------------------------------------------------
# Every rule that anything here is held against, with its source and how far it was read.
#
# A room with rules of its own adds a register: a function that yields them.


@dataclass(frozen=True, slots=True)
class ListedRule:
    """One rule as it stands in the list. Empty is what is not so or not known."""

    kind: str
    """What it is about: a market by its name, the house, the form of a declaration."""
    market: str
    """The market's ISO 3166 code, or nothing for what holds everywhere."""
    rule: str
    about: str
    grade: str
    source: str
    confidence: str
    seen: str = ""
    read: str = ""
    doubt: str = ""
    begins: str = ""
    """The first day on which it holds."""
    ends: str = ""
    """The first day on which it no longer does."""

    def holds_on(self, day: dt.date) -> bool:
        """Tell whether the rule is in force on ``day``."""
        said = day.isoformat()
        return (not self.begins or self.begins <= said) and (not self.ends or said < self.ends)

    def as_json(self) -> dict[str, str]:
        """Return plain JSON values."""
        return asdict(self)


Register = Callable[[], Iterator[ListedRule]]


def every_rule(day: dt.date | None = None) -> tuple[ListedRule, ...]:
    """Return all rules, or those in force on a day, register by register."""
    rules = (rule for register in REGISTERS for rule in register())
    return tuple(rule for rule in rules if day is None or rule.holds_on(day))


def _of_markets() -> Iterator[ListedRule]:
    """Yield what the markets ask, and what the house does anyway."""
    for file, rule in load.shipped().rules():
        market = "" if file.market == load.HOUSE else file.market
        days = {
            "begins": rule.starts.isoformat() if rule.starts else "",
            "ends": rule.ends.isoformat() if rule.ends else "",
        }
        yield _listed(rule, file.name, market, days)


def _of_form() -> Iterator[ListedRule]:
    """Yield how a declaration must stand."""
    for rule in rules.rules().values():
        yield _listed(rule, "Form of declarations", "", {})


def _of_pages() -> Iterator[ListedRule]:
    """Yield what the checker looks for on a finished page."""
    for rule in rulebook.rules().values():
        yield ListedRule(
            kind="The finished page",
            market="",
            rule=rule.id,
            about=rule.about,
            grade=rule.grade.value,
            source=rule.source,
            confidence=rule.standing,
            seen=rule.seen or "",
            read=rule.read.isoformat() if rule.read else "",
        )


def _listed(rule: Sourced, kind: str, market: str, days: dict[str, str]) -> ListedRule:
    return ListedRule(kind, market, **rule.as_json(), **days)


REGISTERS: tuple[Register, ...] = (_of_markets, _of_form, _of_pages)
"""Where rules come from, in the order of the list."""
