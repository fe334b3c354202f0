"""Tables for a spreadsheet, in which no cell is taken for a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
_CONTROL = ("\t", "\r", "\n")
"""Both make a spreadsheet compute a cell. Source: OWASP, "CSV Injection"."""


def safe_cell(value: object) -> str:
    """Return ``value`` as text that a spreadsheet shows and never computes.

    An apostrophe before it tells a spreadsheet that the rest is text.
    """
    text = "" if value is None else str(value)
    computes = text.lstrip().startswith(_FORMULA) or text.startswith(_CONTROL)
    return f"'{text}" if computes else text


def write_csv(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return the table as CSV with its heads. Lines end as RFC 4180, 2 has it."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([safe_cell(head) for head in heads])
    writer.writerows([safe_cell(cell) for cell in row] for row in rows)
    return out.getvalue()
