"""``labeler reprint``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import words
from labeler.cli.printing import StartType, as_record, tell_check

if TYPE_CHECKING:
    from labeler.bench.reprinting import Reprinted


@click.command()
@click.argument("target", metavar="SKU|LOT")
@click.option("--count", required=True, metavar="N", type=int, help="How many.")
@click.option("--today", is_flag=True,
              help="Print it by today's catalog and layouts, and show what differs.")  # fmt: skip
@click.option("--kind", "use", type=click.Choice(["bags", "cards"]), default=None,
              help="Bag labels or card-backs; left out, what was printed.")  # fmt: skip
@click.option("--run", metavar="NUMBER", type=int,
              help="As this run printed it; left out, the last one.")  # fmt: skip
@click.option("--sheet", default="", metavar="NAME",
              help="The sheet in the printer; left out, the one it was printed on.")  # fmt: skip
@click.option("--start", default=1, show_default=True, metavar="CELL", type=StartType(),
              help="The first cell, or next: the first free one of the begun sheet.")  # fmt: skip
@click.option("--spoiled", default="", metavar="CELLS", help='Cells to leave out, such as "3,7-9".')
@click.option("--printer", default="", metavar="NAME", help="The printer's profile.")
@click.option("--outline", is_flag=True, help="Outline the cells, for a test print.")
@click.option("--even-so", is_flag=True,
              help="Hand the file out though something stops it; it is remembered.")  # fmt: skip
@click.option("--out", required=True, metavar="FILE", type=click.Path(path_type=Path),
              help="The PDF to write. It appears whole or not at all.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Tell the result as JSON.")
@click.pass_obj
def reprint(
    folder: Path, /, target: str, use: str | None, as_json: bool, **asked: Any
) -> None:  # fmt: skip
    """Print a label again just as it was, whatever has changed since.

    A SKU means its newest lot. The ledger keeps the product, the layout and the styles; where a
    typeface is gone it says so, and --today prints today's.

    \b
    Examples:
      labeler reprint RV-38-40-MLN --count 6 --start next --out six.pdf
      labeler reprint 263290013 --count 6 --today --out six.pdf
    """  # noqa: D301
    from labeler.bench.reprinting import ReprintWish, reprint

    with words.Bar("Printing") as bar:
        done = reprint(ReprintWish(folder, target, use=use or "", **asked), bar)  # type: ignore[arg-type]
    if as_json:
        words.tell_json(_record(done))
        return
    _tell(done, asked["today"])


def _tell(done: Reprinted, today: bool) -> None:
    printed = done.printed
    words.tell_findings(printed.findings)
    lot = f" of lot {printed.lot}" if printed.lot else ""
    click.echo(
        f"{printed.out}: {words.plural(printed.pieces, 'piece')}{lot} on "
        f"{words.plural(printed.sheets, 'sheet')} {printed.sheet}, layout {printed.layout}."
    )
    if done.same:
        click.echo(f"Mark for mark the same as in run {done.of_run}.")
    if done.changed:
        click.echo("Today's differs:" if not today else "This is today's; it was:")
    for each in done.changed:
        was, now = each.was or "nothing", each.now or "nothing"
        click.echo(words.harmless(f"  {each.what}: {was} then, {now} now"))
    tell_check(printed)
    click.echo("Print at 100 %, not fitted to the page.")


def _record(done: Reprinted) -> dict[str, Any]:
    return as_record(done.printed) | {
        "of_run": done.of_run,
        "same": done.same,
        "changed": [each.as_json() for each in done.changed],
    }
