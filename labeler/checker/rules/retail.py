"""A book for buyers holds nothing of what shops pay: not hidden, but absent."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from labeler.catalog.model import Catalog, Product
from labeler.checker.claims import BOOK_SHEET_NAME
from labeler.checker.page.book_page import SeenPlace
from labeler.checker.pdf.file import CheckedPdf, look
from labeler.checker.rulebook import asks, finding, rule
from labeler.checker.rules import listing
from labeler.findings import Finding, Place

_BARE = re.compile(r"(?<![\d.,])\d{1,3}(?:,?\d{3})*\.\d\d(?![\d.])")


class DealersMatters:
    """What must not stand in a book for buyers: dealers' prices that are no retail price too."""

    def __init__(self, catalog: Catalog, products: list[Product]) -> None:
        retail = {product.price for product in products}
        paid = {
            price
            for product in products
            for tier in catalog.file.tiers.values()
            if (price := listing.at_tier(product, tier)) is not None
        }
        self.currency = catalog.file.sale.currency
        self.prices: frozenset[Decimal] = frozenset(paid - retail)
        names = [dealer.name for dealer in catalog.file.dealers.values()]
        words = "|".join(map(re.escape, rule("retail-dealer-named").words))
        self._names = [re.compile(rf"(?<!\w){re.escape(name)}(?!\w)") for name in names]
        self._names.append(re.compile(rf"\b(?:{words})s?\b", re.IGNORECASE))

    def bare_prices_in(self, text: str) -> list[str]:
        """Return the dealers' prices in a text, with a sign or without."""
        found = (hit[0] for hit in _BARE.finditer(text))
        return [said for said in found if Decimal(said.replace(",", "")) in self.prices]

    def names_in(self, text: str) -> Iterator[re.Match[str]]:
        """Yield each dealer, or word of the trade with them, that stands in a text.

        A shop's name counts as it is written: The Landing is one, a landing net is none.
        """
        for name in self._names:
            yield from name.finditer(text)

    def named_in(self, text: str) -> str:
        """Return the first of them."""
        return next((hit[0] for hit in self.names_in(text)), "")


@asks("retail-dealer-price", "retail-dealer-named")
def judge_leaf(leaf: SeenPlace, matters: DealersMatters) -> Iterator[Finding]:
    """Yield what stands of dealers on a leaf, whether it is seen or not."""
    for passage in leaf.written:
        for amount in listing.amounts(passage.text, matters.currency):
            if amount.value in matters.prices:
                place = leaf.place(passage.box_of(amount.first, amount.end))
                yield finding("retail-dealer-price", place, found=amount.said)
        for hit in matters.names_in(passage.text):
            place = leaf.place(passage.box_of(*hit.span()))
            yield finding("retail-dealer-named", place, found=hit[0])


@asks("attachment-strange")
def judge_attachments(document: CheckedPdf, matters: DealersMatters | None) -> Iterator[Finding]:
    """Yield the files that travel inside beside the sheet, and what the sheet says of dealers."""
    for name, entry in document.attachments():
        if name != BOOK_SHEET_NAME:
            yield finding("attachment-strange", document.place, found=name or "without a name")
            continue
        if matters is not None:
            data = look(look(entry, "/EF"), "/F").get_data()
            yield from _in_sheet(json.loads(data), document.place, matters)


def _in_sheet(record: dict[str, Any], place: Place, matters: DealersMatters) -> Iterator[Finding]:
    """Yield what the sheet says of dealers, beside where everything stands."""
    told = {key: value for key, value in record.items() if key not in ("pages", "places")}
    text = json.dumps(told, ensure_ascii=False)
    if prices := matters.bare_prices_in(text):
        yield finding("retail-dealer-price", place, found=f"{prices[0]} in {BOOK_SHEET_NAME}")
    if name := matters.named_in(text):
        yield finding("retail-dealer-named", place, found=f"{name} in {BOOK_SHEET_NAME}")
