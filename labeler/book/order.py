"""An order judged: what to pull, what it comes to, and what is not there."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from labeler.book.order_form import heads_of_form
from labeler.book.order_read import Filled, Typed
from labeler.book.order_sheet import MOST_PACKS
from labeler.book.prices import dealer_price, excise_on_top, excise_within
from labeler.catalog.model import Catalog, Dealer, Product, Tier
from labeler.findings import Finding, LabelerError, Place, did_you_mean, fix, note, stop
from labeler.layout.facts import amount_text

OnHand = Callable[[str], int | None]
"""Tells how many packs of a SKU lie ready; None where nobody has kept count."""

_EXPECTED = f"a whole number of packs from 1 to {MOST_PACKS:,}"


@dataclass(frozen=True, slots=True)
class Line:
    """One SKU of an order; ``price`` is one pack's, None where it is on request."""

    product: Product
    packs: int
    price: Decimal | None
    ready: int | None

    @property
    def sum(self) -> Decimal | None:
        """What all the packs cost."""
        return None if self.price is None else self.price * self.packs

    @property
    def short(self) -> int:
        """How many packs are still to be tied; nought where nobody has kept count."""
        return 0 if self.ready is None else max(0, self.packs - self.ready)


@dataclass(frozen=True, slots=True)
class Order:
    """An order without a fault. ``tax`` lies within ``total``, or has been added to it.

    ``heads`` is what else the dealer wrote, by the form's label: where to ship, a number, notes.
    """

    dealer: str
    tier: Tier
    lines: tuple[Line, ...]
    goods: Decimal
    tax: Decimal
    total: Decimal
    tax_on_top: bool
    findings: tuple[Finding, ...]
    heads: Mapping[str, str]

    @property
    def packs(self) -> int:
        """All packs together."""
        return sum(line.packs for line in self.lines)


def judge(
    filled: Filled, catalog: Catalog, on_hand: OnHand, *, tier: str = "", dealer: str = ""
) -> Order:
    """Return the order that a filled form comes to.

    Args:
        filled: the form as it came back.
        catalog: today's catalog; its prices count, whatever stands in the form.
        on_hand: what lies ready.
        tier: the tier to reckon at, if not the dealer's own or the one on the form.
        dealer: who orders, if not the one on the form.

    Raises:
        LabelerError: with a finding for every quantity that is none, every SKU that is not on
            sale, and if nothing is ordered.
    """
    wanted = _quantities(filled.typed, catalog)
    who = _dealer(catalog, dealer or filled.heads.get("dealer", ""))
    packs = sum(count for _, count in wanted)
    chosen, said = _tier(catalog, tier, who, filled.heads.get("tier", ""), packs)
    lines = tuple(
        Line(product, count, _price(product, chosen), on_hand(product.sku))
        for product, count in wanted
    )
    goods = sum((line.sum for line in lines if line.sum is not None), start=Decimal("0.00"))
    on_top = catalog.file.terms.excise == "not included"
    taxed = who is None or who.country == "US"
    tax = (excise_on_top(goods) if on_top else excise_within(goods)) if taxed else Decimal("0.00")
    total = goods + tax if on_top else goods
    said += list(_worth_saying(catalog, lines, chosen, goods))
    name = who.name if who else filled.heads.get("dealer", "")
    return Order(
        name, chosen, lines, goods, tax, total, on_top and taxed, tuple(said), _heads(filled)
    )


def _heads(filled: Filled) -> dict[str, str]:
    """Return what was written above the lines but for dealer and tier, by the form's label."""
    return {
        label: filled.heads[name]
        for name, label in heads_of_form().items()
        if name not in ("dealer", "tier") and filled.heads.get(name)
    }


def _quantities(typed: Iterable[Typed], catalog: Catalog) -> list[tuple[Product, int]]:
    """Return product and packs in the catalog's order."""
    products = {product.sku: product for product in catalog.products}
    faults: list[Finding] = []
    wanted: dict[str, int] = {}
    for one in typed:
        count = _count(one)
        if isinstance(count, Finding):
            faults.append(count)
        elif one.sku not in products:
            faults.append(_not_on_sale(one, catalog))
        elif one.sku in wanted and count:
            faults.append(stop("order-twice", one.place, f"{one.sku} is ordered twice"))
        elif count:
            wanted[one.sku] = count
    if not wanted and not faults:
        faults.append(stop("order-empty", Place(key="order"), "nothing is ordered"))
    if faults:
        raise LabelerError(faults)
    return [(products[sku], wanted[sku]) for sku in products if sku in wanted]


def _count(one: Typed) -> int | Finding:
    """Return how many packs were typed, or what is wrong with it."""
    value = one.value
    if one.formula:
        return _refused(one, "a formula is not reckoned here")
    if isinstance(value, float) and value.is_integer():
        value = int(value) if abs(value) < 1e12 else value
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)
    if not isinstance(value, str) or not re.fullmatch(r"-?[0-9]{1,15}", value.strip()):
        return _refused(one, "this is no quantity")
    count = int(value)
    if count < 0:
        return _refused(one, "a quantity below nought can't be ordered")
    if count > MOST_PACKS:
        return _refused(one, "this is more than can be ordered at once")
    return count


def _refused(one: Typed, why: str) -> Finding:
    shown = repr(one.value)
    shown = shown if len(shown) <= 40 else f"{shown[:39]}…"
    return stop(
        "order-quantity",
        one.place,
        f"{one.sku or 'a row without a SKU'}: {why}",
        found=shown,
        expected=_EXPECTED,
    )


def _not_on_sale(one: Typed, catalog: Catalog) -> Finding:
    if one.sku in catalog.retired:
        return stop("sku-retired", one.place, f"{one.sku} is retired and no longer sold")
    shown = one.sku[:40] or "nothing"
    known = [product.sku for product in catalog.products]
    return stop(
        "sku-unknown",
        one.place,
        "no product has this SKU",
        found=shown,
        hint=did_you_mean(one.sku[:40], known),
    )


def _dealer(catalog: Catalog, name: str) -> Dealer | None:
    plain = name.strip().casefold()
    for key, dealer in catalog.file.dealers.items():
        if plain in (key.casefold(), dealer.name.casefold()):
            return dealer
    return None


def _tier(
    catalog: Catalog, asked: str, dealer: Dealer | None, on_form: str, packs: int
) -> tuple[Tier, list[Finding]]:
    """Return the tier to reckon at: the one asked for, the dealer's, the form's, or by packs."""
    tiers = catalog.file.tiers
    by_name = {key.casefold(): tier for key, tier in tiers.items()}
    by_name |= {tier.name.casefold(): tier for tier in tiers.values()}
    if asked:
        if asked.casefold() not in by_name:
            raise LabelerError(
                stop(
                    "unknown-tier",
                    Place(key="tier"),
                    "there is no such tier",
                    found=repr(asked),
                    hint=did_you_mean(asked, sorted(tiers)),
                )
            )
        return by_name[asked.casefold()], []
    stated = by_name.get(on_form.strip().casefold())
    if dealer and dealer.tier:
        own = tiers[dealer.tier]
        if stated is None or stated == own:
            return own, []
        return own, [
            fix(
                "order-tier",
                Place(key="tier"),
                f"the form names another tier than the dealer's; reckoned at {own.name}",
                found=stated.name,
                expected=own.name,
            )
        ]
    if stated:
        return stated, []
    return _tier_by_packs(tiers.values(), packs), []


def _tier_by_packs(tiers: Iterable[Tier], packs: int) -> Tier:
    ordered = sorted(tiers, key=lambda tier: tier.at_least)
    if not ordered:
        raise LabelerError(
            stop(
                "no-tiers",
                Place(file="catalog.toml", key="tiers"),
                "the catalog has no price tier to reckon at",
            )
        )
    reached = [tier for tier in ordered if tier.at_least <= packs]
    return reached[-1] if reached else ordered[0]


def _price(product: Product, tier: Tier) -> Decimal | None:
    return None if product.price is None else dealer_price(product.price, tier)


def _worth_saying(
    catalog: Catalog, lines: tuple[Line, ...], tier: Tier, goods: Decimal
) -> Iterable[Finding]:
    place = Place(key="order")
    terms = catalog.file.terms
    currency = catalog.file.sale.currency
    packs = sum(line.packs for line in lines)
    if packs < tier.at_least:
        yield fix(
            "order-below-tier",
            place,
            f"too few packs for the tier {tier.name}",
            found=f"{packs:,}",
            expected=f"at least {tier.at_least:,}",
        )
    if terms.minimum is not None and goods < terms.minimum:
        yield fix(
            "order-below-minimum",
            place,
            "the order is below the least order",
            found=amount_text(goods, currency),
            expected=amount_text(terms.minimum, currency),
        )
    for line in lines:
        spot = Place(piece=line.product.sku)
        case = line.product.pattern.case
        if line.short:
            yield fix(
                "order-short",
                spot,
                "more is ordered than lies ready",
                found=f"{line.packs:,} ordered, {line.ready:,} ready, {line.short:,} to tie",
            )
        if line.price is None:
            yield fix("order-no-price", spot, "has no price and is not in the total")
        if case and line.packs % case:
            yield note(
                "order-broken-case",
                spot,
                "is not ordered by the case",
                found=f"{line.packs:,} packs",
                expected=f"a multiple of {case:,}",
            )


def as_record(order: Order, currency: str) -> dict[str, Any]:
    """Return the order as plain JSON values; money as text, to the last digit."""
    return {
        "dealer": order.dealer,
        "tier": order.tier.name,
        "form": dict(order.heads),
        "currency": currency,
        "lines": [
            {
                "sku": line.product.sku, "name": line.product.name, "packs": line.packs,
                "price": None if line.price is None else str(line.price),
                "sum": None if line.sum is None else str(line.sum),
                "on_hand": line.ready, "short": line.short,
            }
            for line in order.lines
        ],
        "packs": order.packs,
        "goods": str(order.goods),
        "excise": str(order.tax),
        "excise_on_top": order.tax_on_top,
        "total": str(order.total),
        "findings": [finding.as_json() for finding in order.findings],
    }  # fmt: skip
