"""``labeler new``."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
def new(folder: Path) -> None:
    """Make a starter folder: a small catalog with a word beside every table, ready to print.

    \b
    Example:
      labeler new my_line
    """  # noqa: D301
    from labeler.bench.starting import start_catalog

    made = start_catalog(folder)
    for file in made:
        click.echo(f"  {file}")
    typed = f'"{folder}"' if " " in str(folder) else str(folder)
    click.echo(f"Open {folder / 'catalog.toml'} and put your own line in, then try:")
    click.echo(f"  labeler --catalog {typed} check")
    click.echo(f"  labeler --catalog {typed} bags --out bags.pdf")
