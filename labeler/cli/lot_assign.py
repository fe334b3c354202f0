"""``labeler lot assign``."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import words

if TYPE_CHECKING:
    from labeler.bench.opening import Assigned
    from labeler.ledger.lots import Lot


@click.command()
@click.argument("sku", required=False)
@click.option("--count", metavar="N", type=int, help="How many jigs are in the batch.")
@click.option("--made", metavar="DATE", type=words.DayType(),
              help="The day it was made; left out, today at the bench.")  # fmt: skip
@click.option("--material", "materials", multiple=True, metavar="KIND=SUPPLIER-LOT",
              help="A supplier's lot that went in, such as hook=HK-2291.")  # fmt: skip
@click.option("--key", metavar="TEXT",
              help="Names this request: given again, it opens no second lot.")  # fmt: skip
@click.option("--note", default="", metavar="TEXT", help="A line of your own.")
@click.option("--from", "file", metavar="FILE", type=click.Path(path_type=Path),
              help="Open a lot for every row of a spreadsheet (CSV or XLSX): sku, count, and made, "
              "materials, key, note, or a column for each kind of material.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Tell the lots as JSON.")
@click.pass_obj
def assign(
    folder: Path, /, sku: str | None, count: int | None, file: Path | None, as_json: bool,
    **asked: Any,
) -> None:  # fmt: skip
    """Open a lot for a batch and give it a code.

    The lot keeps the product as it is today: a reprint is the same label, whatever changes.
    One SKU and a count, or a spreadsheet with --from, all of it or nothing.

    \b
    Examples:
      labeler lot assign RV-38-40-MLN --count 60 --material hook=HK-2291 --material thread=T-7
      labeler lot assign --from batches.csv
    """  # noqa: D301
    from labeler.bench.opening import BatchWish, open_lot, open_lots

    if file is not None:
        if sku or count is not None or asked["made"] or asked["materials"] or asked["note"]:
            raise click.UsageError("--from takes everything from its file; leave the rest out")
        done = open_lots(folder, file, asked["key"])
    elif sku is None or count is None:
        raise click.UsageError("give a SKU and its --count, or a spreadsheet with --from")
    else:
        done = open_lot(BatchWish(folder, sku, count, **asked))
    if as_json:
        words.tell_json(_record(done))
        return
    words.tell_findings(done.findings)
    for lot in done.lots:
        click.echo(words.harmless(_line(lot, lot.code in done.again)))


def _line(lot: Lot, again: bool) -> str:
    went_in = f", with {', '.join(str(each) for each in lot.materials)}" if lot.materials else ""
    before = " It was opened before; the request was only given again." if again else ""
    return (
        f"Lot {lot.code}: {words.plural(lot.count, 'jig')} of {lot.sku}, {lot.name}, "
        f"made {lot.made}{went_in}.{before}"
    )


def _record(done: Assigned) -> dict[str, Any]:
    return {
        "done": True,
        "lots": [as_record(lot) | {"again": lot.code in done.again} for lot in done.lots],
        "findings": [finding.as_json() for finding in done.findings],
    }


def as_record(lot: Lot) -> dict[str, Any]:
    """Return a lot as plain values; times in UTC."""
    return {
        "lot": lot.code,
        "sku": lot.sku,
        "name": lot.name,
        "count": lot.count,
        "made": lot.made.isoformat(),
        "materials": [str(each) for each in lot.materials],
        "note": lot.note,
        "opened_at": lot.opened_at.astimezone(dt.UTC).isoformat(),
        "opened_by": lot.opened_by,
        "void": lot.void.why if lot.void else None,
    }
