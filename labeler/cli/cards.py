"""``labeler cards``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from labeler.cli.printing import SizeType, print_and_tell, printing_options


@click.command()
@printing_options
@click.option("--size", type=SizeType(), metavar='"W x H"',
              help='The card\'s size, flat, such as "3 x 4 in"; left out, the bag\'s.')  # fmt: skip
@click.pass_obj
def cards(folder: Path, /, as_json: bool, **asked: Any) -> None:
    """Print card-backs: header cards that fold over the bag, insert cards with a back.

    \b
    Examples:
      labeler cards --sku "RV-*" --out cards.pdf
      labeler cards --layout insert-card --sheet a4-card --count 4 --out inserts.pdf
    """  # noqa: D301
    from labeler.bench.printing import Wish

    print_and_tell(Wish(folder, use="cards", **asked), as_json)
