"""``labeler tied`` and ``labeler stock``: what was tied tonight, and what is here."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import options, words
from labeler.cli.lot import as_record, line_of
from labeler.cli.printing import as_record as as_printed
from labeler.cli.printing import bags, echo_end
from labeler.findings import Finding, LabelerError, plural

if TYPE_CHECKING:
    from labeler.app.tied import Tied, Understood

_OF_BAGS = ("sheet", "spoiled", "printer", "layout", "spare", "ink", "even_so")
"""Options that say the same here as of ``labeler bags``."""


@click.command()
@click.argument("texts", metavar='"NAME = N, ..."', nargs=-1)
@click.option("--file", metavar="FILE", type=click.Path(path_type=Path, allow_dash=True),
              help="Take it from a file, or - for what is piped in: lines such as NAME = N, or a "
              "spreadsheet as lot assign --from reads it.")  # fmt: skip
@click.option("--material", "materials", multiple=True, metavar="KIND=SUPPLIER-LOT",
              help="A supplier's lot that went into all of it, such as hook=HK-2291.")  # fmt: skip
@click.option("--made", metavar="DATE", type=options.past_day,
              help="The day it was made; left out, today at the bench.")  # fmt: skip
@options.note
@click.option("--start", default="next", show_default=True, metavar="CELL", type=options.first_cell,
              help="The first cell of the labels' sheet; next, the first free one of the begun "
              "sheet.")  # fmt: skip
@options.path("--out", "labels",
              help="The labels' PDF; left out, labels-LOT.pdf, LOT being the first lot's code.",
)  # fmt: skip
@options.path("--cards", help="The batch cards' PDF; left out, cards-LOT.pdf.")
@options.paper("The batch cards'; left out, what is usual in the maker's country.")
@click.option("--key", metavar="TEXT",
              help="Names this request; left out, what was tied and the day do.")  # fmt: skip
@options.flag("--sure", help="Another batch, though one just like it is there, or of long ago.")
@options.as_json("the result")
@click.pass_obj
def tied(
    folder: Path, /, texts: tuple[str, ...], file: Path | None, materials: tuple[str, ...],
    paper: str | None, as_json: bool, **asked: Any,
) -> None:  # fmt: skip
    """Say what was tied: lots, batch cards and bag labels in one go.

    Opens a lot for each batch, writes their batch cards, and prints their labels, as many as each
    fills packs, on the sheet that was begun: all of it or nothing. Said again, nothing is opened or
    printed twice. Without anything to go by it asks, line by line.

    \b
    Examples:
      labeler tied "river vesper dusk 1/2 = 24, RV-38-40-MLN = 12" --material hook=HK-2291
      labeler tied --file tonight.txt --made "Nov 27" --sheet letter-2x7
    """  # noqa: D301
    from labeler.app.tied import TiedRequest, tie

    if not texts and file is None:
        if as_json or not words.at_a_terminal():
            raise click.UsageError('what was tied? Say "NAME = N, NAME = N", or give --file')
        texts, more = _ask(folder)
        materials += more
    given = None
    if file is not None:
        from labeler.catalog.spreadsheet.grid import LARGEST_BYTES
        from labeler.files import read_file

        piped = str(file) == "-"
        raw = sys.stdin.buffer.read() if piped else read_file(file, LARGEST_BYTES)
        given = (raw, "what is piped in" if piped else file.name)
    request = TiedRequest(folder, texts, given, materials=materials, paper=paper or "", **asked)
    told: list[Finding] = []

    def tell(batches: list[Understood], findings: list[Finding]) -> None:
        told.extend(findings)
        words.echo_findings(findings)
        for each in batches:
            words.say(_understood(each), err=True)
        words.confirm()

    with words.Bar("Printing") as bar:
        done = tie(request, bar, None if as_json else tell)  # type: ignore[arg-type]
    if as_json:
        words.echo_json(_record(done))
        return
    _echo(done, told)


tied.params += [each for each in bags.params if each.name in _OF_BAGS]


def _ask(folder: Path) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Ask what was tied, a line at a time, each looked up at once; then what went into it."""
    from labeler.app.tied import named_by
    from labeler.ledger.lots import supplier_lots

    named = named_by(folder)

    def product(line: str) -> None:
        for each, count in named(line):
            words.say(f"  {count:,} of {each.sku}, {each.name}", err=True)

    tied = _lines("Tied, as NAME = N (Enter when that is all)", product)
    if not tied:
        raise click.UsageError('nothing was tied, then; otherwise say "NAME = N"')
    went_in = _lines("What went into all of it, as KIND=LOT (Enter when that is all)",
                     lambda line: supplier_lots([line]))  # fmt: skip
    return tied, went_in


def _lines(question: str, look: Any) -> tuple[str, ...]:
    """Return the lines typed up to an empty one; what can't be read is said, and asked again."""
    lines: list[str] = []
    while line := click.prompt(question, default="", show_default=False, err=True).strip():
        try:
            look(line)
        except LabelerError as error:
            words.echo_findings(error.findings)
        else:
            lines.append(line)
    return tuple(lines)


def _understood(each: Understood) -> str:
    batch = each.batch
    went_in = f", with {', '.join(map(str, batch.materials))}" if batch.materials else ""
    labels = plural(each.labels, "label")
    return (
        f"{batch.count:,} of {batch.product.sku}, {batch.product.name}, made {batch.made}{went_in}"
        f"; {labels}"
    )


def _echo(done: Tied, told: list[Finding]) -> None:
    printed = done.labels
    if printed is not None:
        words.echo_findings(one for one in printed.findings if one not in told)
    for lot in done.lots:
        words.say(line_of(lot, again=False))
    if done.again:
        click.echo(
            "All this was said before and nothing is opened twice. If it is another batch, say "
            "--sure."
        )
    if done.void:
        click.echo(f"Void since then: {', '.join(done.void)}.")
    click.echo(f"{done.cards}: {plural(len(done.lots), 'batch card')}.")
    if printed is None:
        click.echo(f"The labels were printed before, as run {done.run}. If their file is gone or a "
                   "label spoiled, N of them again:")  # fmt: skip
        for lot in done.lots:
            click.echo(f"  labeler reprint {lot.code}=N --out labels-{lot.code}.pdf")
        return
    click.echo(
        f"{printed.out}: {plural(printed.pieces, 'label')} on "
        f"{plural(printed.sheets, 'sheet')} {printed.sheet}, layout {printed.layout}, "
        f"from cell {printed.start} on."
    )
    echo_end(printed)


def _record(done: Tied) -> dict[str, Any]:
    return {
        "done": True,
        "again": done.again,
        "lots": [as_record(lot) for lot in done.lots],
        "void": done.void,
        "cards": done.cards,
        "run": done.run,
        "labels": as_printed(done.labels) if done.labels else None,
    }


@click.command()
@click.argument("names", metavar="[SKU ...]", nargs=-1)
@click.option("--sku", "skus", multiple=True, metavar="SKU",
              help="The same as SKU beside the options; may be given again.",
)  # fmt: skip
@options.flag("--lots", "by_lot", help="A row for each lot that is here, not for each product.")
@options.path("--csv", help="Write the table to this file, for a spreadsheet.")
@options.as_json("products and lots")
@click.pass_obj
def stock(
    folder: Path, /, names: tuple[str, ...], skus: tuple[str, ...], by_lot: bool,
    csv: Path | None, as_json: bool,
) -> None:  # fmt: skip
    """Show what is on hand, held, promised and free of every product, in jigs.

    SKU is a product, by its SKU or its words, or a pattern of SKUs. Promised is what open orders
    still ask for; free is what is left beside them without what is held. Below zero, so many are
    lacking.

    \b
    Examples:
      labeler stock
      labeler stock "RV-*" "reedmace delft 1/4" --lots
      labeler stock --csv stock.csv
    """  # noqa: D301
    from labeler.app.lots import StockAsked, stock_on_hand, stock_table

    said: list[Finding] = []
    lines = stock_on_hand(StockAsked(folder, (*names, *skus), by_lot, csv), said)
    sums = {name: sum(getattr(line, name) for line in lines) for name in _SUMS}
    if as_json:
        words.echo_json({
            "products": [
                {"sku": line.sku, "name": line.name} | {each: getattr(line, each) for each in _SUMS}
                | {"lots": [as_record(each.lot) | {"on_hand": each.here} for each in line.lots]}
                for line in lines
            ],
            "total": sums,
            "findings": said,
        })  # fmt: skip
        return
    words.echo_findings(said)
    heads, rows = stock_table(lines, by_lot)
    total = ("", "", sums["on_hand"], "") if by_lot else tuple(sums.values())
    words.echo_table(heads, [*rows, ("total", "", *total)])
    if csv is not None:
        click.echo(f"{csv}: the table.")


_SUMS = ("on_hand", "held", "promised", "free")
