"""``labeler check``."""

from __future__ import annotations

from typing import Any

import click

from labeler.cli import words


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Tell the findings as JSON.")
@click.pass_context
def check(ctx: click.Context, as_json: bool) -> int:
    """Check the catalog: every error at once, with its file, line or cell.

    Exit status 1 if anything stops the press.

    \b
    Example:
      labeler --catalog my_line check
    """  # noqa: D301
    from labeler.bench.checking import check_catalog

    report = check_catalog(ctx.obj)
    if as_json:
        record: dict[str, Any] = {
            "products": report.products,
            "findings": [f.as_json() for f in report.findings],
            "stops": report.stops,
        }
        words.tell_json(record)
        return 1 if report.stops else 0
    click.echo(
        f"{words.plural(report.products, 'product')}; {report.stops} to put right, "
        f"{report.fixes} to look at, {report.notes} noted."
    )
    words.tell_findings(report.findings, err=False)
    return 1 if report.stops else 0
