"""``labeler pages``."""

from __future__ import annotations

from pathlib import Path

import click

from labeler.cli import words


@click.command()
@click.option("--out", required=True, metavar="DIR", type=click.Path(path_type=Path),
              help="The folder to write. Upload it to where your links lead.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Tell the result as JSON.")
@click.pass_obj
def pages(folder: Path, /, out: Path, as_json: bool) -> None:
    """Write the web pages that the labels' codes lead to, one for each product and lot.

    \b
    Example:
      labeler --catalog my_line pages --out site
    """  # noqa: D301
    from labeler.bench.site import SiteWish, make_pages

    with words.Bar("Writing pages") as bar:
        made = make_pages(SiteWish(folder, out), bar)
    if as_json:
        words.tell_json({
            "done": True, "folder": str(made.out), "pages": made.pages, "lots": made.lots,
            "findings": [finding.as_json() for finding in made.findings],
        })  # fmt: skip
        return
    words.tell_findings(made.findings)
    lots = f", {words.plural(made.lots, 'lot')} among them" if made.lots else ""
    click.echo(f"{made.out}: {words.plural(made.pages, 'page')}{lots}.")
    click.echo("Upload the folder as it is to the host that your links begin with.")
