"""What is to be checked, and what it is held against."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from labeler.checker.line import ProductLine
from labeler.checker.subject import KnownLot

LotBook = Callable[[str], KnownLot | None]
"""What the ledger knows of a lot code; None for one that it does not have."""

Progress = Callable[[int, int], None]
"""Called with how many pages are checked, and how many there are."""


@dataclass(frozen=True, slots=True)
class CheckRequest:
    """What is to be checked: a file, against which catalog, for when and where."""

    path: Path
    folder: Path
    day: dt.date
    markets: tuple[str, ...] = ()
    """Places of sale to check for, in place of those that the pieces were made for."""
    line: ProductLine | None = None
    """What it is held against; read from the folder, if it is not given."""

    @property
    def name(self) -> str:
        """What the file is called in the report."""
        return self.path.name
