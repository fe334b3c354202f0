"""Checking a catalog folder: what is wrong with it, and where the line may not be sold."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

from labeler.app.markets import alike, left_out, state_meant, verdicts
from labeler.catalog.gtin_record import draw_gtins
from labeler.catalog.model import Catalog, Colour, Pattern, Product
from labeler.catalog.read import examine, starter_placeholders
from labeler.catalog.structure import PHOTOS, read_source
from labeler.checker.report import listed
from labeler.disclosures import market_rules, rules
from labeler.disclosures.market_rules import RuleBook
from labeler.disclosures.needed import gaps
from labeler.disclosures.rules import NO_LEGAL_ADVICE, Effect
from labeler.disclosures.sale import Reason
from labeler.disclosures.wording import all_words, contradicted, stands
from labeler.findings import (
    Finding,
    Grade,
    LabelerError,
    Place,
    a_few,
    fix,
    nearest,
    note,
    plural,
)
from labeler.tomlfile import TomlFile

_FILE = "catalog.toml"
_SKUS_NAMED = 3

_THUMB = 72.0
"""Points; small, so that a photo is read fast. How fine it prints is known once it has a size."""


@dataclass(frozen=True, slots=True)
class CatalogReport:
    """What there is to say of a catalog."""

    products: int
    findings: tuple[Finding, ...]

    def as_text(self, width: int) -> str:
        """Return the report for people in lines of at most ``width``: the summary, the gravest."""
        stops, fixes, notes = map(self.count, Grade)
        products = plural(self.products, "product")
        summary = f"{products}; {stops} to put right, {fixes} to look at, {notes} noted."
        paragraphs = listed(self.findings, width)
        return "\n".join([summary, "", *paragraphs, textwrap.fill(NO_LEGAL_ADVICE, width)])

    def count(self, grade: Grade) -> int:
        """Return how many findings have ``grade``."""
        return sum(finding.grade is grade for finding in self.findings)

    @property
    def stops(self) -> int:
        """How many findings stop the press."""
        return self.count(Grade.STOP)


def check_catalog(folder: Path, day: dt.date | None = None) -> CatalogReport:
    """Return everything there is to say of the catalog in ``folder``.

    A catalog that can be read is also held against the rules of the places where it is sold, on
    ``day``, or today.

    Raises:
        LabelerError: if there is no catalog, or what is there is no TOML.
    """
    source = read_source(folder)
    day = day or dt.date.today()  # noqa: DTZ011  (the maker's own day)
    catalog, findings = examine(folder, day)
    if catalog is None:
        return CatalogReport(0, findings)
    photos = tuple(_photo_faults(catalog, folder))
    law = (*law_findings(catalog, day), *_claims(folder, catalog, source, day))
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


def _photo_faults(catalog: Catalog, folder: Path) -> Iterator[Finding]:
    """Yield what keeps a photo from being printed or cut out, each photo read once to its end."""
    # loads what reads pictures
    from labeler.drawing.jig_photos import jig_photo, prepare_jig
    from labeler.drawing.photos import prepare

    logo = catalog.file.maker.logo
    for name in dict.fromkeys((logo, *(product.photo for product in catalog.products))):
        try:
            if name and name == logo:
                prepare(folder / PHOTOS / name, _THUMB, _THUMB)
            elif name:
                _, found = prepare_jig(jig_photo(folder, name), _THUMB, _THUMB)
                yield from (each for each in found if each.rule in _OF_GROUNDS)
        except LabelerError as error:
            yield from error.findings


_OF_GROUNDS = ("photo-ground", "photo-jig")


def law_findings(catalog: Catalog, day: dt.date) -> tuple[Finding, ...]:
    """Return where the line may not be sold or used, what rules ask and the catalog does not tell.

    What a label must say is printed by itself, and is no finding.

    Args:
        catalog: the line.
        day: the day on which it is sold.
    """
    book = market_rules.shipped()
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
        finding = reason.finding(_of(list(self.skus)))
        message = reason.told_of(", ".join(self.markets))
        read = book.rule(reason.rule).read
        how = reason.confidence.value + (f", looked up {read.isoformat()}" if read else "")
        return replace(finding, message=message, source=f"{reason.source} ({how})")


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


def _claims(
    folder: Path, catalog: Catalog, source: TomlFile, day: dt.date
) -> Iterator[Finding]:  # fmt: skip
    """Yield what in the maker's own words would stop a print, or be said about it, later.

    Of the words of the catalog these are claims, of those of layouts weights and prices too. Each
    stands once, with its line and the products that it is not true of.
    """
    found: dict[Finding, tuple[Finding, list[str]]] = {}
    barred = all_words(rule for _, rule in market_rules.shipped().rules())
    claims = cache(lambda text: stands(barred, text))
    for product in catalog.products:
        for path, text in _own_words(catalog, product):
            if not claims(text):
                continue
            row = path[0] == "products"
            place = Place("products", key=path[-1]) if row else source.place(path)
            for claim in contradicted(text, product, product.markets, day, place=place):
                found.setdefault(replace(claim, found=""), (claim, []))[1].append(product.sku)
    if any((folder / "layouts").glob("*.xml.jinja")):
        from labeler.checker.judge import foretell  # loads what reads pages

        for sku, told in foretell(folder, catalog.products, day):
            same = replace(told, found=told.found if told.expected else "", expected="")
            found.setdefault(same, (told, []))[1].append(sku)
    for claim, skus in found.values():
        of = list(dict.fromkeys(skus))
        told = replace(claim, place=replace(claim.place, piece=_of(of).piece))
        if claim.place.file.startswith("layouts/"):
            told = _of_a_layout(told, of, len(catalog.products))
        yield told


def _of_a_layout(told: Finding, skus: list[str], products: int) -> Finding:
    """Return what is said about a layout's words; they may be meant for the others alone."""
    expected = f"the catalog's, {told.expected} of {skus[0]}" if told.expected else ""
    if len(skus) == products:
        return replace(told, expected=expected)
    hint = f"Of {products - len(skus)} others it is true: print this layout for those alone."
    softer = Grade.FIX if told.grade is Grade.STOP else told.grade
    return replace(told, grade=softer, expected=expected, hint=hint)


_NAMED = {
    "patterns": ("name", "kind", "story", "care"),
    "colours": ("name", "note", "head_paint"),
    "heads": ("name",),
    "hooks": ("name", "finish"),
    "guards": ("name",),
    "materials": ("name",),
}
"""The maker's own words that are printed with a product, by the tables that they stand in."""

_FOR_ALL = {
    "maker": ("name", "street", "city", "site", "email"),
    "terms": ("lead_time", "freight", "payment", "returns", "notes", "invoice"),
}


def _own_words(catalog: Catalog, product: Product) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield each text of the maker's that is printed with a product, and its key."""
    file, pattern, colour = catalog.file, product.pattern, product.colour
    used = (pattern, colour, product.head, product.hook, product.guard, *product.materials.values())
    for table, parts in _NAMED.items():
        names = {one.name for one in used if one is not None}
        for key, one in getattr(file, table).items():
            if one.name in names:
                yield from (((table, key, part), getattr(one, part) or "") for part in parts)
                yield from _inside(one, (table, key))
    yield ("products", "note"), product.note or ""
    for table, parts in _FOR_ALL.items():
        yield from (((table, part), getattr(getattr(file, table), part) or "") for part in parts)
    for table in ("tiers", "dealers"):
        yield from (((table, key, "name"), one.name) for key, one in getattr(file, table).items())


def _inside(one: object, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield the words within an entry: a colour's layers, and how a pattern is trimmed."""
    if isinstance(one, Colour):
        for layer in one.layers:
            yield (*path, "layers"), f"{layer.shade} {layer.amount or ''}"
    elif isinstance(one, Pattern):
        yield (*path, "tie"), one.tie.trim or ""


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
            "no rules of these places are held here, so nothing says that it may be sold",
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
