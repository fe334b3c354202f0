"""``labeler catalog``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from labeler.cli import words


@click.command()
@click.option(
    "--for",
    "audience",
    required=True,
    type=click.Choice(["dealer", "retail"]),
    help="For shops, with what they pay; or for buyers, with no dealer price in it.",
)
@click.option(
    "--tier",
    default="",
    metavar="NAME",
    help="The price tier; left out, the dealer's, or all tiers side by side.",
)
@click.option(
    "--dealer",
    default="",
    metavar="NAME",
    help="The shop that it is for; its name stands on cover and order form.",
)
@click.option(
    "--only",
    multiple=True,
    metavar="PATTERN",
    help='A pattern, a SKU, or SKUs such as "RV-*". May be given again.',
)
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"]),
    default="letter",
    show_default=True,
    help="The paper.",
)
@click.option(
    "--booklet", is_flag=True, help="Two pages on each side of a sheet, to be folded and stapled."
)
@click.option("--bleed", is_flag=True, help="With bleed and crop marks, for a print shop.")
@click.option(
    "--archive", is_flag=True, help="Built after PDF/A-3b. No validator is run over your copy."
)
@click.option(
    "--order-sheet",
    default=None,
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the order form as a spreadsheet too (XLSX).",
)
@click.option(
    "--out",
    required=True,
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="The PDF to write. It appears whole or not at all.",
)
@click.option(
    "--even-so",
    is_flag=True,
    help="Hand the book out though something stops it; the file remembers it.",
)
@click.option("--json", "as_json", is_flag=True, help="Tell the result as JSON.")
@click.pass_obj
def catalog(folder: Path, /, as_json: bool, **asked: Any) -> None:
    """Make the catalog as a book: a page for each pattern, prices, index, order form.

    \b
    Examples:
      labeler catalog --for dealer --dealer "A Shop Near You" --out dealer.pdf
      labeler catalog --for retail --booklet --bleed --out booklet.pdf
    """  # noqa: D301
    from labeler.bench.books import BookWish, make_catalog_book
    from labeler.cli.printing import tell_check

    with words.Bar("Setting pages") as bar:
        made = make_catalog_book(BookWish(folder, **asked), bar)
    if as_json:
        words.tell_json({
            "done": True, "file": str(made.out), "pages": made.pages, "products": made.products,
            "patterns": made.patterns, "tiers": list(made.tiers),
            "in_spite_of": list(made.report.stopped_by),
            "findings": [finding.as_json() for finding in made.findings],
        })  # fmt: skip
        return
    words.tell_findings(made.findings)
    click.echo(
        f"{made.out}: {words.plural(made.pages, 'page')}, {words.plural(made.products, 'product')} "
        f"in {words.plural(made.patterns, 'pattern')}."
    )
    tell_check(made)
    if asked["booklet"]:
        click.echo("Print both sides, turned over the short edge; fold, and staple in the fold.")
