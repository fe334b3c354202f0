"""``labeler order``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from labeler.cli import words

if TYPE_CHECKING:
    from labeler.book.order import Line, Order

_LONGEST_HEAD = 400
"""Letters told of one field; a longer note is read on the form."""


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--tier",
    default="",
    metavar="NAME",
    help="The price tier to reckon at, if not the dealer's own.",
)
@click.option(
    "--dealer",
    default="",
    metavar="NAME",
    help="Who orders, if not the one who stands on the form.",
)
@click.option("--json", "as_json", is_flag=True, help="Tell the order as JSON.")
@click.pass_obj
def order(folder: Path, /, file: Path, tier: str, dealer: str, as_json: bool) -> None:
    """Read a filled order form: what to pull, what it comes to, what is short.

    FILE is the PDF form of the dealer catalog, filled in any viewer, or its spreadsheet.

    \b
    Example:
      labeler --catalog my_line order from-the-landing.pdf
    """  # noqa: D301
    from labeler.bench.orders import take_order
    from labeler.book.order import as_record

    taken, currency = take_order(folder, file, tier=tier, dealer=dealer)
    if as_json:
        words.tell_json({"done": True, **as_record(taken, currency)})
        return
    _tell(taken, currency)


def _tell(taken: Order, currency: str) -> None:
    from labeler.layout.facts import amount_text

    click.echo(f"{taken.dealer or 'No dealer is named'}, at {taken.tier.name} prices")
    for label, text in taken.heads.items():
        click.echo(words.harmless(f"  {label}: {' '.join(text.split())[:_LONGEST_HEAD]}"))
    width = max(len(line.product.sku) for line in taken.lines)
    click.echo(f"{'SKU':<{width}}  packs      price        sum  ready  short")
    for line in taken.lines:
        click.echo(_row(line, width))
    click.echo(f"{words.plural(taken.packs, 'pack')}, {amount_text(taken.goods, currency)}")
    if taken.tax_on_top:
        click.echo(
            f"Federal excise tax {amount_text(taken.tax, currency)} on top: "
            f"{amount_text(taken.total, currency)}"
        )
    elif taken.tax:
        click.echo(f"Federal excise tax in it: {amount_text(taken.tax, currency)}")
    words.tell_findings(taken.findings, err=False)


def _row(line: Line, width: int) -> str:
    price = "on request" if line.price is None else f"{line.price:,}"
    total = "" if line.sum is None else f"{line.sum:,}"
    ready = "" if line.ready is None else f"{line.ready:,}"
    short = f"{line.short:,}" if line.short else ""
    start = f"{line.product.sku:<{width}}  {line.packs:>5,}  {price:>9}  {total:>9}"
    return f"{start}  {ready:>5}  {short:>5}  {line.product.name}".rstrip()
