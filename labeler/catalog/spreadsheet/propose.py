"""How a spreadsheet that nobody has described is probably to be read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from labeler.catalog.spreadsheet.grid import SheetRow
from labeler.findings import Finding


@dataclass(slots=True)
class Proposal:
    """How a maker's spreadsheet is to be read, and what was understood of it.

    Everything in ``spreadsheet`` and ``tables`` is plain data (text, whole numbers, lists, tables),
    ready to be written as TOML. Each remark is a finding: its place is the first cell that it is
    about, ``found`` says what stands there and in which other cells.
    """

    spreadsheet: dict[str, Any] = field(default_factory=dict)
    """The ``[spreadsheet]`` table: ``file``, ``sheet``, ``headings_row``, ``titles``,
    ``fill_down``, ``several``, ``weights``, and the tables ``headings`` (the maker's heading to a
    field, or "ignored"), ``across``, ``means``, ``pattern`` and ``codes``."""
    tables: dict[str, dict[str, Any]] = field(default_factory=dict)
    """Other tables of ``catalog.toml`` that the file holds, such as ``dealers`` and ``tiers``."""
    rows: list[SheetRow] = field(default_factory=list)
    """The products as every later run will read them: ``values`` has ``pattern``, ``colour``
    (as the maker writes them), ``weight``, and of ``hook``, ``price``, ``gtin``, ``photo``,
    ``note``, ``retired``, ``pack``, ``on_hand``, ``wholesale`` those that are not blank."""
    taken: list[Finding] = field(default_factory=list)
    """What was understood, with what was put right on the way."""
    proposed: list[Finding] = field(default_factory=list)
    """What is likely and must be looked at by the maker."""
    asked: list[Finding] = field(default_factory=list)
    """What only the maker knows; ``hint`` is the line of ``catalog.toml`` that settles it."""
    left_out: list[Finding] = field(default_factory=list)
    """Rows, columns and sheets that are not read, and why."""


def propose(path: Path, before: Mapping[str, Any] | None = None) -> Proposal:
    """Return how the spreadsheet at ``path`` is probably to be read.

    Args:
        path: an xlsx, xls, ods or csv, as the maker keeps it; it is only read.
        before: a ``[spreadsheet]`` table that holds already: what it says of headings, codes and
            meanings is kept as it stands.

    Raises:
        LabelerError: if the file cannot be read, or no table of products is found in it.
    """
    raise NotImplementedError
