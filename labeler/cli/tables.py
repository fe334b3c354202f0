"""Tables on a terminal: columns as wide as what stands in them, numbers to the right."""

from __future__ import annotations

from collections.abc import Sequence

import click

from labeler.cli.words import harmless

_BETWEEN = "  "


def tell_table(heads: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Write a table; a column of nothing but numbers is set to the right."""
    cells = [[harmless(f"{cell:,}" if _is_number(cell) else str(cell)) for cell in row]
             for row in rows]  # fmt: skip
    columns = range(len(heads))
    right = [bool(rows) and all(_is_number(row[at]) for row in rows) for at in columns]
    widths = [max(len(line[at]) for line in [list(heads), *cells]) for at in columns]
    for line in [list(heads), *cells]:
        set_ = (
            cell.rjust(width) if to_right else cell.ljust(width)
            for cell, width, to_right in zip(line, widths, right, strict=True)
        )  # fmt: skip
        click.echo(_BETWEEN.join(set_).rstrip())


def _is_number(cell: object) -> bool:
    return isinstance(cell, int) and not isinstance(cell, bool)
