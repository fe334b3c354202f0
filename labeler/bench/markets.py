"""Where the line may be sold: the table, its JSON and the sheet to hang on the wall."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from labeler.bench.market_table import (
    Behind,
    Market,
    MarketRow,
    Table,
    behind,
    market_named,
    rows,
    verdicts,
)
from labeler.book.edition import Paper
from labeler.catalog.choose import choose
from labeler.catalog.model import Product
from labeler.catalog.read import read_catalog
from labeler.catalog.wording import shown
from labeler.disclosures import load, places
from labeler.disclosures.load import HOUSE, RuleBook
from labeler.disclosures.rules import NO_LEGAL_ADVICE, Confidence
from labeler.disclosures.sale import Reason, Verdict, parts_not_asked
from labeler.findings import Finding, LabelerError, Place, did_you_mean, stop


@dataclass(frozen=True, slots=True)
class MarketWish:
    """Which products to hold against which places. ``markets`` empty means where they are sold."""

    folder: Path
    wanted: tuple[str, ...] = ()
    markets: tuple[str, ...] = ()
    day: dt.date = field(default_factory=dt.date.today)


@dataclass(frozen=True, slots=True)
class MarketReport:
    """What every market makes of every product, and the rules behind it."""

    maker: str
    day: dt.date
    markets: tuple[Market, ...]
    products: tuple[Product, ...]
    table: Table
    rows: tuple[MarketRow, ...]
    rules: tuple[Behind, ...]
    not_checked: tuple[str, ...]

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


def market_report(wish: MarketWish) -> MarketReport:
    """Hold the products that are wanted against the markets that are asked about.

    Raises:
        LabelerError: if the catalog can't be read, or a SKU or a market is not known.
    """
    catalog = read_catalog(wish.folder)
    book = load.shipped()
    products = choose(catalog, wish.wanted)
    if not products:
        raise LabelerError(
            stop("nothing-on-sale", Place(file="catalog.toml"), "there is no product to hold"
                 " against a market")
        )  # fmt: skip
    sold = tuple(dict.fromkeys(code for p in products for code in p.markets))
    codes = markets_asked(wish.markets, book) or sold
    table = verdicts(products, codes, wish.day, book)
    rules = behind(table, codes, book)
    markets = tuple(market_named(code, book, code in sold) for code in codes)
    return MarketReport(
        catalog.file.maker.name, wish.day, markets, products, table,
        rows(products, table, rules), tuple(rules.values()),
        not_checked(markets, tuple(rules.values()), book),
    )  # fmt: skip


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
    if places.country(country) == country:
        return False
    return not dash or (places.is_state(part) if country == "US" else bool(_PART.fullmatch(part)))


_PART = re.compile("[A-Z0-9]{1,3}")
"""A subdivision's part of its code. Source: ISO 3166-2."""


def _unknown(word: str, book: RuleBook) -> Finding:
    named = {file.name.casefold(): code for code, file in book.files.items() if code != HOUSE}
    code = named.get(word.strip().casefold()) or places.code_meant(word)
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
        for member in book.files[code].covers
        if member in book.files and member not in codes
    ]
    return tuple(dict.fromkeys([*parts_not_asked(codes, book), *members]))


def state_meant(code: str) -> str:
    """Say which state two letters alone may stand for: MN is Mongolia to everybody else."""
    abroad = places.country(code)
    other = f"{code} alone is {abroad}. " if abroad != code else ""
    return f"{other}For {places.state(code)} write 'US-{code}'."


def not_checked(
    markets: Sequence[Market], rules: Sequence[Behind], book: RuleBook
) -> tuple[str, ...]:
    """Return what the table leaves open, in sentences."""
    said = []
    if parts := left_out([market.code for market in markets], book):
        named = ", ".join(f"{code} ({book.files[code].name})" for code in parts)
        said.append(f"Places within these markets that have rules of their own: {named}.")
    if bare := [f"{market.code} ({market.name})" for market in markets if not market.held]:
        meant = [state_meant(market.code) for market in markets
                 if not market.held and places.is_state(market.code)]  # fmt: skip
        said.append(" ".join([f"Any rule of {', '.join(bare)}: none is held here.", *meant]))
    weak = [one.mark for one in rules if one.rule.confidence is not Confidence.READ]
    if weak:
        said.append(
            f"The texts of the rules {', '.join(weak)} themselves: they stand on what others write"
            " of them, or on memory."
        )
    return (*said, *_NEVER)


_NEVER = (
    "Rules of cities, counties, tribes, parks and single waters, of web shops and of carriers,"
    " unless they are named here.",
    "Whether the catalog is true: compositions, weights, lengths and origins are taken as told.",
    "The labels themselves.",
)


def write_wall_sheet(report: MarketReport, out: Path, paper: Paper, own: Path) -> int:
    """Write the table as a sheet to hang on the wall, and return how many pages it takes.

    Args:
        report: the table.
        out: the PDF; it appears whole or not at all.
        paper: ``letter`` or ``a4``.
        own: the catalog folder, whose own fonts and styles go before ours.
    """
    from labeler.bench.wall_sheet import wall_pages
    from labeler.press.deliver import delivered, refuse_to_bury
    from labeler.press.pdf_book import Binding, write_book
    from labeler.press.ticket import Ticket

    refuse_to_bury(out)
    pages = wall_pages(report, paper, own)
    day = report.day.isoformat()
    ticket = Ticket(
        title=f"Where it may be sold, {report.maker}",
        author=report.maker,
        subject=f"As of {day}",
        own=own,
    )
    with delivered(out) as file:
        write_book([page.leaf for page in pages], (), file, ticket, Binding())
    return len(pages)
