"""``labeler trace``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import words
from labeler.cli.tables import tell_table

if TYPE_CHECKING:
    from labeler.ledger.trace import Story, Trace


@click.command()
@click.argument("text", nargs=-1, required=True)
@click.option("--csv", metavar="FILE", type=click.Path(path_type=Path),
              help="Write a row for every lot and dealer to this file, safe to open in a "
              "spreadsheet.")  # fmt: skip
@click.option(
    "--sheet",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the recall sheet to this PDF: whom to call, what it looks like.",
)
@click.option("--paper", type=click.Choice(["letter", "a4"]),
              help="Of the sheet; left out, what is usual in the maker's country.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Tell the answer as JSON.")
@click.pass_obj
def trace(
    folder: Path, /, text: tuple[str, ...], as_json: bool, **asked: Any
) -> None:  # fmt: skip
    """Find the lots that anything in hand leads to, and who has them.

    TEXT is a supplier's lot (alone, or as KIND=LOT), a lot code, a SKU (with * for any letters), a
    dealer, the address in a scanned code, a day, a month, a year, or days such as
    2026-11-01..2026-11-30. What it was taken for is said in the first line.

    \b
    Examples:
      labeler trace HK-2291 --sheet recall.pdf
      labeler trace "The Odd Pail" --csv odd-pail.csv
      labeler trace 2026-11
    """  # noqa: D301
    from labeler.bench.tracing import TraceWish, ask

    found, _ = ask(
        TraceWish(folder, " ".join(text), asked["csv"], asked["sheet"], asked["paper"] or "")
    )  # fmt: skip
    if as_json:
        words.tell_json(found.as_json())
        return
    _tell(found)
    for file, what in ((asked["csv"], "the table"), (asked["sheet"], "the recall sheet")):
        if file:
            click.echo(f"{file}: {what}.")


def _tell(found: Trace) -> None:
    click.echo(words.harmless("; ".join(found.meanings)))
    tell_table(
        ("lot", "made", "SKU", "jigs", "labels", "on hand", "with dealers", ""),
        [_row(story) for story in found.stories],
    )
    made = sum(story.count for story in found.stories)
    here = sum(story.on_hand for story in found.stories)
    out = sum(each.count for each in found.dealers)
    lots = words.plural(len(found.stories), "lot")
    click.echo(f"{lots}: {made:,} made, {out:,} with dealers, {here:,} on hand.")
    for each in found.dealers:
        click.echo(words.harmless(f"  {each.count:,} with {each.dealer}"))


def _row(story: Story) -> tuple[object, ...]:
    out = ", ".join(f"{each.count} {each.dealer}" for each in story.dealers)
    return (
        story.lot, story.made.isoformat(), story.sku, story.count, story.labels, story.on_hand, out,
        "void" if story.void else "",
    )  # fmt: skip
