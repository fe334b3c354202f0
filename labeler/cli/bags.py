"""``labeler bags``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from labeler.cli.printing import print_and_tell, printing_options


@click.command()
@printing_options
@click.pass_obj
def bags(folder: Path, /, as_json: bool, **asked: Any) -> None:
    """Print bag labels on the sheet that is in the printer.

    \b
    Examples:
      labeler bags --sku "RV-*" --count 12 --out bags.pdf
      labeler bags --sheet letter-2x7 --start 5 --spoiled 7 --lot 263290013 --out bags.pdf
      labeler bags --lot 263290013 --spare 2 --start next --out bags.pdf
    """  # noqa: D301
    from labeler.bench.printing import Wish

    print_and_tell(Wish(folder, use="bags", **asked), as_json)
