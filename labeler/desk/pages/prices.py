"""The prices of the line: all of them, and a change of them, seen first and then written."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from starlette.responses import Response

from labeler.app.line import earlier_versions
from labeler.app.prices import PricePlan, PriceRequest, list_prices, plan_prices, write_prices
from labeler.catalog.model import Product
from labeler.catalog.prices import cell_list
from labeler.desk.page import Ask, Faults, PageRoute
from labeler.findings import LabelerError, Place, a_few, refusal, stop
from labeler.layout.facts import bare_amount

FIELDS = ("change", "of", "skus", "step", "ending", "first", "last")
"""What is asked about a change."""

_BESIDE = {
    "change": "change", "round": "step", "ending": "ending", "until": "last", "first": "first",
    "last": "last", "sku-unknown": "skus", "sku-several": "skus", "sku-retired": "skus",
}  # fmt: skip
"""Fields by the keys and the rules of findings."""


def _request(ask: Ask, asked: Mapping[str, str]) -> PriceRequest:
    """Return the change that was asked.

    Raises:
        LabelerError: if a day is none.
    """
    days: dict[str, dt.date | None] = {}
    for name in ("first", "last"):
        try:
            days[name] = dt.date.fromisoformat(asked[name]) if asked[name] else None
        except ValueError:
            raise refusal(
                "day-unread", Place(key=name), "this is no day", found=asked[name],
                expected="such as 2027-03-01",
            ) from None  # fmt: skip
    named = [one.strip() for one in asked["skus"].split(",") if one.strip()]
    skus = named or ([f"{asked['of']}-*"] if asked["of"] else [])
    return PriceRequest(
        ask.folder, asked["change"], tuple(skus), asked["step"], asked["ending"], days["first"],
        days["last"],
    )  # fmt: skip


def show(ask: Ask) -> Response:
    """Show the prices, and what a change that is asked for comes to: nothing is written."""
    asked = {name: ask.query(name) for name in FIELDS}
    if not asked["change"]:
        return _shown(ask, asked, None, Faults())
    try:
        return _shown(ask, asked, plan_prices(_request(ask, asked)), Faults())
    except LabelerError as error:
        return _shown(ask, asked, None, Faults(error.findings, _BESIDE))


def write(ask: Ask) -> Response:
    """Write a change of prices as it was shown."""
    asked = {name: ask.text(name) for name in FIELDS}
    try:
        plan = plan_prices(_request(ask, asked))
        if plan.code != ask.text("shown"):
            return _shown(ask, asked, plan, Faults([stop(
                "price-file-changed", Place(), "prices were changed since these were shown",
                hint="Look at them once more: this is what would be written now.",
            )]))  # fmt: skip
        if plan.twice and not ask.text("again"):
            return _shown(ask, asked, plan, Faults([plan.twice], {"change": "again"}))
        write_prices(plan)
    except LabelerError as error:
        return _shown(ask, asked, None, Faults(error.findings, _BESIDE))
    return ask.went_to("/line/prices", saved=earlier_versions(ask.folder, 1)[0].code)


def cells(ask: Ask) -> Response:
    """Give the cells that she changes in her own spreadsheet, as a list to keep beside it."""
    plan = plan_prices(_request(ask, {name: ask.query(name) for name in FIELDS}))
    keep = {"Content-Disposition": 'attachment; filename="prices-to-change.csv"'}
    return Response(cell_list(plan.by_hand), media_type="text/csv; charset=utf-8", headers=keep)


def _shown(
    ask: Ask, asked: Mapping[str, str], plan: PricePlan | None, faults: Faults
) -> Response:  # fmt: skip
    try:
        day: dt.date | None = dt.date.fromisoformat(ask.query("day"))
    except ValueError:
        day = None
    listed = list_prices(ask.folder, (), day)
    patterns = {
        line.products[0].pattern.code: line.products[0].pattern.name
        for line in listed.lines if not line.products[0].parts
    }  # fmt: skip

    def money(amount: Decimal | None) -> str:
        return "none" if amount is None else bare_amount(amount, listed.currency)

    return ask.shown(
        "prices.html.jinja", faults, listed=listed, plan=plan, asked=asked, patterns=patterns,
        money=money, weight=_weight, few=a_few, saved=ask.query("saved"),
        rows=list(_rows(plan)) if plan else [],
    )  # fmt: skip


def _weight(product: Product) -> str:
    weights = {str(unit.weight) for unit in product.units}
    return weights.pop() if len(weights) == 1 else "several"


def _rows(plan: PricePlan) -> Iterator[dict[str, Any]]:
    """Yield what changes alike: pattern, weight, old and new at retail and each tier, SKUs."""
    alike: dict[Any, list[str]] = {}
    for move, tiers in zip(plan.moves, plan.tier_moves, strict=True):
        both = ((move.old, move.new), *tiers)
        row = move.product.pattern.name, _weight(move.product), both
        alike.setdefault(row, []).append(move.product.sku)
    for (name, weight, both), skus in alike.items():
        yield {"name": name, "weight": weight, "both": both, "skus": a_few(skus, 3)}


PLACES = (
    PageRoute("/line/prices", show),
    PageRoute("/line/prices", write, post=True),
    PageRoute("/line/prices/cells", cells),
)
