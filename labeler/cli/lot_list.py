"""``labeler lot list``."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import words
from labeler.cli.lot_assign import as_record
from labeler.cli.lot_journal import as_record as entry_record
from labeler.cli.lot_journal import detail
from labeler.cli.tables import tell_table

if TYPE_CHECKING:
    from labeler.bench.ledgers import Books
    from labeler.bench.lots import LotLine, LotStory
    from labeler.ledger.runs import PastRun


@click.command("list")
@click.argument("code", metavar="[LOT]", required=False)
@click.option("--sku", default="", metavar="SKU", help="One product's lots only.")
@click.option("--since", metavar="DATE", type=words.DayType(), help="Made on this day or later.")
@click.option("--until", metavar="DATE", type=words.DayType(), help="Made on this day or before.")
@click.option("--json", "as_json", is_flag=True, help="Tell the lots as JSON.")
@click.pass_obj
def list_(
    folder: Path, /, code: str | None, sku: str, since: dt.date | None, until: dt.date | None,
    as_json: bool,
) -> None:  # fmt: skip
    """List the lots and what is on hand; or tell everything about one.

    \b
    Examples:
      labeler lot list --since 2026-11-01
      labeler lot list 263290013
    """  # noqa: D301
    from labeler.bench.lots import lots_of, story_of

    if code is not None:
        if sku or since or until:
            raise click.UsageError("one lot is one lot: leave --sku, --since and --until out")
        story = story_of(folder, code)
        if as_json:
            words.tell_json(_story_record(story))
        else:
            _tell_story(story)
        return
    lines, books = lots_of(folder, sku=sku, since=since, until=until)
    if as_json:
        words.tell_json({"lots": [_line_record(line) for line in lines]})
    elif lines:
        _tell_lines(lines, books)
    else:
        _tell_none(books.begun)


def _tell_lines(lines: tuple[LotLine, ...], books: Books) -> None:
    tell_table(
        ("lot", "made", "SKU", "product", "jigs", "on hand", "shipped", "opened", ""),
        [
            (
                line.lot.code, line.lot.made.isoformat(), line.lot.sku, line.lot.name,
                line.lot.count, line.story.on_hand, line.story.shipped,
                books.told(line.lot.opened_at), "void" if line.lot.void else "",
            )
            for line in lines
        ],
    )  # fmt: skip
    click.echo(words.plural(len(lines), "lot"))


def _tell_none(begun: bool) -> None:
    if begun:
        click.echo("No lot answers to this.")
    else:
        click.echo(
            "No lot has been opened yet. Open the first with: labeler lot assign SKU --count N"
        )


def _line_record(line: LotLine) -> dict[str, Any]:
    story = line.story
    told = {"on_hand": story.on_hand, "shipped": story.shipped, "labels": story.labels}
    return as_record(line.lot) | told | {"cards": story.cards}


def _tell_story(told: LotStory) -> None:
    lot, story, books = told.lot, told.story, told.books
    click.echo(words.harmless(f"Lot {lot.code} of {lot.sku}, {lot.name}"))
    click.echo(f"  made {lot.made}, {words.plural(lot.count, 'jig')}; {story.on_hand} on hand")
    if lot.void:
        click.echo(words.harmless(f"  void since {books.told(lot.void.at)}: {lot.void.why}"))
    for each in lot.materials:
        click.echo(words.harmless(f"  {each.kind}: {each.lot}"))
    for dealer in story.dealers:
        click.echo(words.harmless(f"  {dealer.count} with {dealer.dealer}"))
    for weighed in told.weigh_ins:
        click.echo(f"  weighed {books.told(weighed.at)}: {weighed.judgement.verdict}")
    for run in told.runs:
        click.echo(words.harmless(f"  {_run(run, books)}"))
    if lot.note:
        click.echo(words.harmless(f"  note: {lot.note}"))
    tell_table(
        ("when", "who", "what", ""),
        [(books.told(each.at), each.who, each.what, detail(each)) for each in told.journal],
    )


def _run(run: PastRun, books: Books) -> str:
    printer = f" on {run.printer}" if run.printer else ""
    pieces = words.plural(run.count, _PIECES[run.kind])
    when = books.told(run.at)
    return f"run {run.run}, {when}: {pieces}, layout {run.layout}, {run.stock}{printer}"


_PIECES = {"bag": "bag label", "card": "card-back", "batch card": "batch card"}


def _story_record(told: LotStory) -> dict[str, Any]:
    return as_record(told.lot) | {
        "on_hand": told.story.on_hand,
        "dealers": [{"dealer": d.dealer, "count": d.count} for d in told.story.dealers],
        "labels": told.story.labels,
        "cards": told.story.cards,
        "weigh_ins": [
            {"at": each.at.isoformat(), "weights": [str(w) for w in each.weights],
             "verdict": each.judgement.verdict}
            for each in told.weigh_ins
        ],
        "runs": [
            {"run": run.run, "at": run.at.isoformat(), "kind": run.kind, "count": run.count,
             "layout": run.layout, "stock": run.stock, "printer": run.printer,
             "catalog": run.catalog, "pdf": run.pdf, "cells": [list(spot) for spot in run.spots],
             "overrides": list(run.overrides)}
            for run in told.runs
        ],
        "journal": [entry_record(each) for each in told.journal],
    }  # fmt: skip
