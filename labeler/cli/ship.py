"""``labeler ship`` and ``labeler trace``."""

from __future__ import annotations

import datetime as dt
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import options, words
from labeler.findings import plural

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from labeler.app.shipping import Shipped
    from labeler.ledger.ship import Moved, MoveKind
    from labeler.ledger.trace import Story, Trace


_VERBS = {
    "ship": "shipped to", "return": "back from", "scrap": "scrapped", "extra": "more were made",
}  # fmt: skip


@click.command()
@click.argument("lots", metavar="LOT|SKU[=N] ...", nargs=-1)
@click.option("--to", metavar="DEALER", help="Who gets them, by name or heading in the catalog.")
@click.option("--customer", metavar="NAME", help="They go to a customer of your own.")
@click.option("--fair", metavar="NAME", help="They go to a fair or a market stall.")
@click.option("--back", metavar="NAME", help="They come back from this dealer, customer or fair.")
@options.flag("--scrap", help="They are thrown away.")
@options.flag("--extra", help="More were made than the lot was opened for.")
@click.option("--order", metavar="ORDER",
              help="They go out for this order: all of it that is ready, or the lots named.",
)  # fmt: skip
@click.option("--mistake", metavar="SLIP",
              help="Take back what was recorded under this slip's number and never happened.",
)  # fmt: skip
@click.option("--count", metavar="N", type=int, help="How many jigs of every lot without =N.")
@click.option("--on", metavar="DATE", type=options.past_day,
              help="The day; left out, today at the bench.")  # fmt: skip
@options.path("--slip", help="Write the packing slip to this PDF.")
@options.path("--invoice", help="Write the order's invoice to this PDF.")
@options.path("--address",
              help="Write the parcel's address label to this PDF, to be cut out of plain paper.",
)  # fmt: skip
@click.option("--on-sheet", metavar="SHEET", help="A sheet of labels for the address instead.")
@click.option("--cell", metavar="N", type=click.IntRange(1), help="The cell of it to use.")
@options.paper("Of the papers; left out, what is usual in the maker's country.")
@options.note
@options.key("nothing is shipped twice")
@options.flag("--again", help="Record it though just the same was recorded within a week.")
@options.flag("--even-so",
              help="Ship held lots, on an odd day, or what is promised to an earlier order.",
)  # fmt: skip
@options.as_json("the result")
@click.pass_obj
def ship(
    folder: Path, /, lots: tuple[str, ...], count: int | None, as_json: bool, **asked: Any
) -> None:
    """Record what goes out or comes back, and write the packing slip.

    Several lots make one parcel: all of it is recorded, or nothing. A SKU, or the words of a
    product, stands for its lots, the oldest first, held ones left out. What is on hand never falls
    below zero. With --order what is ready of an order goes out and the rest stays open: parcel,
    slip and invoice have one number.

    \b
    Examples:
      labeler ship 263290013 --to odd-pail --count 24 --slip slip.pdf
      labeler ship 263290013=12 263300011=6 --to "The Odd Pail" --key "order 118"
      labeler ship RV-38-40-MLN=18 --fair "Millrace Spring Fair"
      labeler ship "river vesper melon 3/8"=6 --to odd-pail
      labeler ship 263290013 --back odd-pail --count 2 --note "hook broke"
      labeler ship --order 2600018 --slip slip.pdf --invoice invoice.pdf --address label.pdf
      labeler ship --mistake 2026-0183
    """  # noqa: D301
    from labeler.app.shipping import ShipRequest, ship

    way = _way(asked)
    if way == "mistake":
        _take_back(folder, lots, asked, as_json)
        return
    if way == "order":
        _ship_order(folder, lots, count, asked, as_json)
        return
    if idle := [name for name in _OF_AN_ORDER if asked[name]]:
        raise click.UsageError(f"--{idle[0].replace('_', '-')} goes with --order ORDER")
    if not lots:
        raise click.UsageError("which lots or SKUs? Give them with their counts: 263290013=12")
    if count is not None and all("=" in text for text in lots):
        raise click.UsageError(f"--count {count} counts for nothing: every lot has its own =N")
    done = ship(
        ShipRequest(
            folder, _KINDS[way], tuple(_parcel(text, count, lots) for text in lots),
            asked[way] if way in _NAMED else "", asked["on"], asked["note"], asked["key"],
            asked["slip"], asked["paper"] or "",
            "fair" if way == "fair" else "customer" if way == "customer" else "dealer",
            asked["again"], asked["even_so"],
        )
    )  # fmt: skip
    if as_json:
        words.echo_json(_record(done))
    else:
        _echo(done)


_KINDS: dict[str, MoveKind] = {
    "to": "ship", "customer": "ship", "fair": "ship", "back": "return", "scrap": "scrap",
    "extra": "extra",
}  # fmt: skip
_NAMED = ("to", "customer", "fair", "back")
_OF_AN_ORDER = ("invoice", "address", "on_sheet", "cell")


def _way(asked: dict[str, Any]) -> str:
    chosen = [name for name in (*_KINDS, "order", "mistake") if asked[name]]
    if len(chosen) != 1:
        raise click.UsageError(
            "give one of --to, --customer, --fair and --back with a name, --order ORDER, --scrap, "
            "--extra, and --mistake SLIP"
        )
    if asked["slip"] and chosen[0] not in (*_NAMED, "order"):
        raise click.UsageError("a slip goes with what is shipped or comes back")
    return chosen[0]


def papers_asked(asked: dict[str, Any]) -> Any:
    """Return the papers of a parcel that a command line asks for."""
    if (asked["on_sheet"] or asked["cell"]) and not asked["address"]:
        raise click.UsageError("--on-sheet and --cell are for the address label: --address FILE")
    if asked["cell"] and not asked["on_sheet"]:
        raise click.UsageError("--cell is one of a sheet's: say which, --on-sheet SHEET")
    from labeler.app.invoices import ParcelPapers
    from labeler.app.order_papers import LabelPaper

    paper = asked["paper"] or ""
    label = LabelPaper(asked["on_sheet"] or "", asked["cell"] or 1, paper)
    return ParcelPapers(asked["slip"], asked["invoice"], asked["address"], paper, label)


def _ship_order(
    folder: Path, lots: tuple[str, ...], count: int | None, asked: dict[str, Any], as_json: bool
) -> None:
    from labeler.app.invoices import OrderParcel, ship_order
    from labeler.layout.facts import amount_text

    if idle := [name for name in ("key", "again") if asked[name]]:
        raise click.UsageError(f"--{idle[0]} counts for nothing: an order's parcels have numbers")
    if count is not None and not lots:
        raise click.UsageError("--count counts for nothing without lots: all that is ready goes")
    done = ship_order(
        OrderParcel(
            folder, asked["order"], tuple(_parcel(text, count, lots) for text in lots),
            asked["on"], asked["note"], papers_asked(asked), asked["even_so"], asked["even_so"],
        )
    )  # fmt: skip
    invoice = done.invoice
    if as_json:
        words.echo_json({
            "done": True, "order": done.order.number, "invoice": invoice.number,
            "slip": done.moves[0].slip, "total": invoice.total, "currency": invoice.currency,
            "open": done.order.open, "files": [str(file) for file in done.files],
            "lines": [{"sku": line.sku, "packs": line.packs, "price": line.price,
                       "amount": line.amount} for line in invoice.lines],
            "charges": [{"words": each.words, "amount": each.amount}
                        for each in invoice.charges],
            "moves": [_move(each, done.left) for each in done.moves],
            "findings": done.findings,
        })  # fmt: skip
        return
    words.echo_findings(done.findings)
    _echo_moves(done.moves, done.left)
    total = amount_text(invoice.total, invoice.currency)
    for charge in invoice.charges:
        click.echo(f"{charge.words}: {amount_text(charge.amount, invoice.currency)}")
    click.echo(f"Slip and invoice {invoice.number}: {total}.")
    for file in done.files:
        click.echo(f"  {file}")
    left = plural(done.order.open, "pack")
    click.echo(
        f"{left} of order {done.order.number} stay open." if done.order.open
        else f"Order {done.order.number} is done."
    )  # fmt: skip
    click.echo(f"If it never happened: labeler ship --mistake {invoice.number}")


def _take_back(folder: Path, lots: tuple[str, ...], asked: dict[str, Any], as_json: bool) -> None:
    from labeler.app.shipping import ship_mistake

    if lots:
        raise click.UsageError("--mistake takes a slip back with all that is on it: leave lots out")
    done = ship_mistake(folder, asked["mistake"], asked["note"])
    if as_json:
        moves = [_move(each, done.left) for each in done.moves]
        words.echo_json({"done": True, "slip": done.slip, "mistake": True, "moves": moves})
        return
    for each in done.moves:
        words.say(
            f"Taken back as a mistake: {plural(each.count, 'jig')} of lot {each.lot} "
            f"({each.sku}) {_VERBS[each.kind]}{_whom(each)}; {done.left[each.lot]:,} on hand."
        )


def _whom(each: Moved) -> str:
    if not each.dealer:
        return ""
    return f" {each.dealer}" if each.whom == "dealer" else f" {each.dealer} ({each.whom})"


def _parcel(text: str, count: int | None, beside: tuple[str, ...]) -> tuple[str, int]:
    from labeler.catalog.read import named_count  # only where something is moved

    name, own = named_count(text)
    if own is None and count is None:
        quotes = f'. The words of one product stand in quotes: "{" ".join(beside)}"'
        raise click.UsageError(
            f"how many of {name}? Give --count, or {shlex.quote(f'{name}=12')}"
            + (quotes if len(beside) > 1 else "")
        )
    return name, own if own is not None else count or 0


def _echo_moves(moves: Sequence[Moved], left: Mapping[str, int]) -> None:
    for each in moves:
        words.say(
            f"{plural(each.count, 'jig')} of lot {each.lot} ({each.sku}) "
            f"{_VERBS[each.kind]}{_whom(each)} on {each.moved}; {left[each.lot]:,} on hand."
        )


def _echo(done: Shipped) -> None:
    from labeler.ledger.ship import slip_number

    words.echo_findings(done.findings)
    _echo_moves(done.moves, done.left)
    if done.again:
        click.echo("It was recorded before; the request was only given again.")
    number = slip_number(done.moves[0].slip)
    words.say(
        f"{f'{done.slip}: the' if done.slip else 'This is'} slip {number}. If it never happened: "
        f"labeler ship --mistake {shlex.quote(number)}"
    )


def _record(done: Shipped) -> dict[str, Any]:
    return {
        "done": True,
        "slip": done.moves[0].slip if done.moves else "",
        "file": done.slip,
        "again": done.again,
        "moves": [_move(each, done.left) for each in done.moves],
        "findings": done.findings,
    }


def _move(each: Moved, left: dict[str, int]) -> dict[str, Any]:
    return {
        "kind": each.kind, "lot": each.lot, "sku": each.sku, "count": each.count,
        "dealer": each.dealer, "whom": each.whom, "moved": each.moved,
        "at": each.at.astimezone(dt.UTC), "on_hand": left[each.lot],
    }  # fmt: skip


@click.command()
@click.argument("text", nargs=-1, required=True)
@options.path("--csv",
              help="Write a row for every lot and dealer to this file, safe to open in a "
              "spreadsheet.")  # fmt: skip
@options.path("--sheet",
              help="Write the recall sheet to this PDF: whom to call, what it looks like.",
)  # fmt: skip
@click.option("--why", default="", metavar="TEXT",
              help="The reason that the sheet gives; left out, why the lots are held or void.",
)  # fmt: skip
@options.paper("Of the sheet; left out, what is usual in the maker's country.")
@options.as_json("the answer")
@click.pass_obj
def trace(
    folder: Path, /, text: tuple[str, ...], as_json: bool, **asked: Any
) -> None:  # fmt: skip
    """Find the lots that anything in hand leads to, and who has them.

    TEXT is a supplier's lot (alone, or as KIND=LOT), a lot code, a SKU (with * for any letters),
    the words of a product, a dealer, the address in a scanned code, a day, a month, a year, days
    such as 2026-11-01..2026-11-30, or words of a note. What it was taken for is said in the first
    line; other names that contain it, in the last.

    \b
    Examples:
      labeler trace HK-2291 --sheet recall.pdf --why "hooks of this box snap"
      labeler trace "The Odd Pail" --csv odd-pail.csv
      labeler trace 2026-11
    """  # noqa: D301
    from labeler.app.lots import trace_to_lots

    if asked["why"] and not asked["sheet"]:
        raise click.UsageError("--why stands on the recall sheet: --sheet FILE")

    found, said = trace_to_lots(
        folder, " ".join(text), asked["csv"], asked["sheet"], asked["paper"] or "", asked["why"]
    )
    words.echo_findings(said)
    if as_json:
        words.echo_json(found.as_json())
        return
    _echo_trace(found)
    for file, what in ((asked["csv"], "the table"), (asked["sheet"], "the recall sheet")):
        if file:
            click.echo(f"{file}: {what}.")


def _echo_trace(found: Trace) -> None:
    words.say("; ".join(found.meanings))
    words.echo_table(
        ("lot", "made", "SKU", "jigs", "labels", "on hand", "with dealers", ""),
        [_row(story) for story in found.stories],
    )
    made = sum(story.count for story in found.stories if not story.void)
    here = sum(story.on_hand for story in found.stories)
    held = sum(story.on_hand for story in found.stories if story.held)
    out = sum(each.count for each in found.dealers)
    lots = plural(len(found.stories), "lot")
    packs = sum(story.count for story in found.stories if story.made_of and not story.void)
    twice = f" ({packs:,} of them jigs that packs were filled with)" if packs else ""
    of_them = f", {held:,} of them held" if held else ""
    click.echo(f"{lots}: {made:,} made{twice}, {out:,} with dealers, {here:,} on hand{of_them}.")
    for each in found.dealers:
        words.say(f"  {each.count:,} with {each.dealer}")
    if gone := sum(story.gone for story in found.stories):
        click.echo(f"  {gone:,} went before there was a record, nobody knows to whom")
    if found.perhaps:
        jigs = plural(sum(story.count for story in found.perhaps), "jig")
        lots = ", ".join(f"{story.lot} ({story.sku})" for story in found.perhaps)
        click.echo(
            f"Beside these {jigs} were counted that are not traceable to materials: whether it "
            f"went into them, nobody knows. Lots: {lots}."
        )
    if found.also:
        words.say(
            f"Not in it, but the ledger has these names that contain it: {', '.join(found.also)}. "
            "Trace them too if one may be meant."
        )


def _row(story: Story) -> tuple[object, ...]:
    out = ", ".join(f"{each.count} {each.dealer}" for each in story.dealers)
    said = ["void"] if story.void else [f"held: {story.held}"] if story.held else []
    said += [f"called {', '.join(story.other_names)}"] if story.other_names else []
    said += list(story.went_in) if story.untraced else []
    said += [story.packed] if story.packed else []
    return (
        story.lot, story.made.isoformat(), story.sku, story.count, story.labels, story.on_hand, out,
        "; ".join(said),
    )  # fmt: skip
