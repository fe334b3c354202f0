"""``labeler prices``."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import options, words
from labeler.findings import Grade, LabelerError, a_few, plural

if TYPE_CHECKING:
    from labeler.app.prices import PricePlan, ShownPrices
    from labeler.catalog.model import DatedPrices, Product


@click.command()
@click.option("--sku", "skus", multiple=True, metavar="SKU",
              help='Of which products: a SKU, a pattern such as "RV-*", or words of one product. '
              "May be given again. Left out, the whole line.")  # fmt: skip
@click.option("--change", default="", metavar="CHANGE",
              help='What becomes of them: "+5 %", "-10 %", "+0.25", "-0.25" or "= 5.49".',
)  # fmt: skip
@click.option("--round", "step", default="", metavar="AMOUNT",
              help="Round to the nearest, such as 0.05; half of it goes up. Left out, the cent.",
)  # fmt: skip
@click.option("--ending", default="", metavar="ENDS",
              help="Or round to the nearest price that ends so: .99, or .49/.99; of two as near, "
              "to the dearer.")  # fmt: skip
@click.option("--from", "first_day", metavar="DAY", type=options.day,
              help="From which day on, such as 2027-03-01. Left out, at once.")  # fmt: skip
@click.option("--until", "last_day", metavar="DAY", type=options.day,
              help="The last day; the price of before holds again after it.")  # fmt: skip
@click.option("--on", "day", metavar="DAY", type=options.day,
              help="Show the prices of that day; left out, today's.")  # fmt: skip
@options.flag("--write",
              help="Write what is shown. Without it, only shown; at a terminal you are asked.",
)  # fmt: skip
@click.option("--shown", default="", metavar="CODE",
              help="With --write: only if it is the change that was shown with this code, so that "
              "the same command twice is one rise.")  # fmt: skip
@options.flag("--again",
              help="With --write: once more, though the very same change was written of late.",
)  # fmt: skip
@options.path("--list", "listing",
              help="Write the cells that you change by hand in your own spreadsheet to this CSV.",
)  # fmt: skip
@options.as_json("the prices")
@click.pass_obj
def prices(folder: Path, /, skus: tuple[str, ...], as_json: bool, **asked: Any) -> int:
    """Show all prices, or change them: old and new side by side first, then written.

    A lot keeps the price that it was opened with; labels printed from a day on have that day's.
    Your own spreadsheet is never written to: its cells are listed for you to change.

    \b
    Examples:
      labeler prices --sku "RM-*"
      labeler prices --change "+5 %" --ending .49/.99
      labeler prices --change "+5 %" --round 0.05 --from 2027-03-01 --write
      labeler prices --sku "TD-*" --change "-10 %" --from 2026-12-01 --until 2026-12-24 --write
    """  # noqa: D301
    from labeler.app.prices import PriceRequest, list_prices, plan_prices

    if not asked["change"]:
        _refuse_idle(asked)
        shown = list_prices(folder, skus, asked["day"])
        if as_json:
            words.echo_json(_list_record(shown))
        else:
            _echo_list(shown)
        return 0
    if asked["day"]:
        raise click.UsageError("--on shows the prices of a day; a change begins --from a day")
    plan = plan_prices(PriceRequest(
        folder, asked["change"], skus, asked["step"], asked["ending"], asked["first_day"],
        asked["last_day"],
    ))  # fmt: skip
    return _settle(plan, asked, as_json)


def _refuse_idle(asked: dict[str, Any]) -> None:
    """Refuse options that change nothing without a change."""
    given = {"--round": "step", "--ending": "ending", "--from": "first_day", "--until": "last_day",
             "--write": "write", "--shown": "shown", "--again": "again",
             "--list": "listing"}  # fmt: skip
    if idle := [option for option, name in given.items() if asked[name]]:
        raise click.UsageError(f'{", ".join(idle)}: say the change too, such as --change "+5 %"')


def _wanted(plan: PricePlan, asked: dict[str, Any], as_json: bool) -> bool:
    """Tell whether a change that was shown is to be written; at a terminal it is asked.

    Raises:
        LabelerError: if the very same was written of late, and nothing says that it is meant.
        click.UsageError: if it is not the change that was shown with the code.
    """
    if asked["shown"] and asked["shown"].upper() != plan.code:
        raise click.UsageError(
            f"this is not the change that was shown with {asked['shown']}: its code is "
            f"{plan.code}. Were these prices changed already? Nothing was written"
        )
    if plan.twice and not (asked["again"] or asked["shown"]):
        if asked["write"]:
            raise LabelerError(plan.twice)
        if not as_json:
            words.echo_findings([replace(plan.twice, grade=Grade.FIX)])
    if asked["write"] or as_json or not plan.files:
        return bool(asked["write"])
    return words.at_a_terminal() and click.confirm("Write these prices?", default=False, err=True)


def _settle(plan: PricePlan, asked: dict[str, Any], as_json: bool) -> int:
    """Show what changes, write it if that is wanted, and say what was done."""
    from labeler.app.prices import write_cells, write_prices

    if not as_json:
        _echo_plan(plan)
    written = write_prices(plan) if _wanted(plan, asked, as_json) else ()
    if asked["listing"]:
        write_cells(plan, asked["listing"])
    if as_json:
        words.echo_json(_plan_record(plan, [str(path) for path in written]))
        return 0
    for path in written:
        click.echo(f"{path}: new prices written.")
    if asked["listing"]:
        click.echo(f"{asked['listing']}: {plural(len(plan.by_hand), 'cell')} to change.")
    if plan.files and not written:
        click.echo(f"Nothing is written yet. The same with --write --shown {plan.code} writes it.")
    return 0


def _weight(product: Product) -> str:
    weights = {str(unit.weight) for unit in product.units}
    return weights.pop() if len(weights) == 1 else "several"


def _money(amount: Decimal | None, currency: str) -> str:
    """Return an amount with the places that labels print it with."""
    from labeler.layout.facts import bare_amount

    return "-" if amount is None else bare_amount(amount, currency)


def _echo_list(shown: ShownPrices) -> None:
    words.echo_findings(shown.findings)
    heads = ("Pattern", "Weight", "Retail", *shown.tiers, "SKUs")
    words.echo_table(heads, [
        (line.products[0].pattern.name, _weight(line.products[0]),
         *(_money(price, shown.currency) for price in (line.retail, *line.tiers)),
         a_few([product.sku for product in line.products], 3))
        for line in shown.lines
    ])  # fmt: skip
    click.echo(f"{shown.currency} a pack, on {shown.day.isoformat()}.")
    for each in shown.dated:
        until = f" until {each.last_day.isoformat()}" if each.last_day else ""
        said = _held(each, shown.currency)
        begins = "Since" if each.first_day <= shown.day else "From"
        words.say(f"{begins} {each.first_day.isoformat()}{until}: {said}.")


def _held(entry: DatedPrices, currency: str) -> str:
    """Return an entry of dated prices in words, what costs the same together."""
    alike: dict[Decimal, list[str]] = {}
    for sku, price in entry.skus.items():
        alike.setdefault(price, []).append(sku)
    return "; ".join(f"{a_few(skus, 3)} at {_money(price, currency)}"
                     for price, skus in alike.items())  # fmt: skip


def _echo_plan(plan: PricePlan) -> None:
    if not plan.moves:
        words.echo_findings(plan.findings)
        click.echo("No price changes.")
        return
    heads = ("Pattern", "Weight", "Retail", *plan.tiers, "SKUs")
    words.echo_table(heads, list(_rows(plan)))
    by_hand = {id(move) for move in plan.by_hand.values()}
    for place, move in plan.by_hand.items():
        where = place.cell or f"line {place.line}"
        old, new = (_money(price, plan.currency) for price in (move.old, move.new))
        click.echo(f"  {place.file} {where}: {old} -> {new}  {move.product.sku}")
    kept = f"; {plan.unchanged} stay as they are" if plan.unchanged else ""
    first, last = plan.request.first_day, plan.request.last_day
    days = f"from {first or 'today'}" + (f" until {last}" if last else "")
    count = plural(len(plan.moves), "product")
    click.echo(f"{count} in {plan.currency}, {days}{kept}.")
    if by_hand and len(by_hand) < len(plan.moves):
        click.echo(f"{len(by_hand)} of them you change by hand, in the cells above.")
    words.echo_findings(plan.findings)


def _rows(plan: PricePlan) -> Iterator[tuple[str, ...]]:
    """Yield a row for each pattern, weight and change, with the SKUs that it is about."""
    alike: dict[tuple[str, ...], list[str]] = {}
    for move, tiers in zip(plan.moves, plan.tier_moves, strict=True):
        both = [(move.old, move.new), *tiers]
        row = (
            move.product.pattern.name, _weight(move.product),
            *(f"{_money(old, plan.currency)} -> {_money(new, plan.currency)}"
              for old, new in both),
        )  # fmt: skip
        alike.setdefault(row, []).append(move.product.sku)
    for row, skus in alike.items():
        yield (*row, a_few(skus, 3))


def _list_record(shown: ShownPrices) -> dict[str, Any]:
    return {
        "day": shown.day, "currency": shown.currency,
        "prices": [
            {"sku": product.sku, "name": product.name, "weight": str(product.weight),
             "retail": line.retail,
             "tiers": dict(zip(shown.tiers, line.tiers, strict=True))}
            for line in shown.lines for product in line.products
        ],
        "dated": [
            {"first_day": each.first_day, "last_day": each.last_day, "skus": each.skus}
            for each in shown.dated
        ],
        "findings": shown.findings,
    }  # fmt: skip


def _plan_record(plan: PricePlan, written: list[str]) -> dict[str, Any]:
    return {
        "done": True, "written": written, "code": plan.code, "currency": plan.currency,
        "changes": [
            {"sku": move.product.sku, "old": move.old, "new": move.new,
             "tiers": {tier: {"old": old, "new": new}
                       for tier, (old, new) in zip(plan.tiers, tiers, strict=True)}}
            for move, tiers in zip(plan.moves, plan.tier_moves, strict=True)
        ],
        "by_hand": [
            {**place.as_json(), "sku": move.product.sku, "old": move.old, "new": move.new}
            for place, move in plan.by_hand.items()
        ],
        "findings": [each for each in (*plan.findings, plan.twice) if each],
    }  # fmt: skip
