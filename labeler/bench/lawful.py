"""The line held against the rules of the places where it is sold: each cause once, not each SKU."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from labeler.bench.market_table import alike, verdicts
from labeler.bench.markets import left_out, state_meant
from labeler.catalog.model import Catalog, Product
from labeler.catalog.wording import a_few
from labeler.disclosures import load, places
from labeler.disclosures.gaps import gaps
from labeler.disclosures.load import RuleBook
from labeler.disclosures.rules import Effect
from labeler.disclosures.sale import Reason
from labeler.findings import Finding, Place, fix, nearest, note

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
            hint=" ".join(state_meant(code) for code in bare if places.is_state(code)),
        )


def _is_no_place(code: str, book: RuleBook) -> bool:
    """Tell whether a code is of no country, or of a state that the United States don't have."""
    country, _, part = code.partition("-")
    is_country = places.country(country) != country or book.knows(country)
    return not is_country or (country == "US" and bool(part) and not places.is_state(part))


def _misnamed(code: str, book: RuleBook) -> Finding:
    near = places.code_meant(code) or nearest(code, book.files)
    guess = f"Did you mean {near!r}?" if near else ""
    return fix(
        "market-unknown",
        Place(_FILE, key="sale.markets"),
        "there is no such place, so none of its rules is asked",
        found=code,
        expected='a code of ISO 3166, such as "US" or "US-CA"',
        hint=state_meant(code) if places.is_state(code) else guess,
    )
