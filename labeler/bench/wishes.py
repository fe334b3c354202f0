"""What a maker may wish to have printed, and what is told of it afterwards."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from labeler.checker.report import Report
from labeler.findings import Finding
from labeler.layout.menu import Size, Use
from labeler.layout.setup import InkMode
from labeler.press.placing import Spot

Progress = Callable[[int, int], None]
"""Called with how many pieces are laid out or pages drawn, and how many there are in all."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What to print. Everything but the folder and the file has a sensible default.

    ``wanted`` are SKUs or patterns like ``RV-*``; none means the whole line, or the lot's product.
    ``count`` is of each; None means one, or as many as the lot fills packs; ``spare`` come on top.
    ``start`` may be "next": the first free cell of the sheet that was begun. ``size`` is a
    card's, in points. ``layout`` empty means the one that suits. ``even_so`` hands out a file that
    the checker would stop.
    """

    folder: Path
    out: Path
    use: Use
    wanted: tuple[str, ...] = ()
    count: int | None = None
    sheet: str = ""
    start: int | Literal["next"] = 1
    spoiled: str = ""
    printer: str = ""
    layout: str = ""
    lot: str = ""
    size: Size | None = None
    ink: InkMode = "colour"
    fill: bool = False
    outline: bool = False
    spare: int = 0
    even_so: bool = False
    day: dt.date = field(default_factory=dt.date.today)


@dataclass(frozen=True, slots=True)
class Printed:
    """What was printed: for the words on the screen and for the record.

    ``run`` is its number in the ledger; None where there is no ledger. ``report`` is the checker's
    on the finished file.
    """

    out: Path
    pieces: int
    products: int
    sheets: int
    pages: int
    sheet: str
    layout: str
    next_free: Spot
    findings: tuple[Finding, ...]
    report: Report
    lot: str = ""
    run: int | None = None
    start: int = 1


DEFAULT_SHEETS: dict[Use, str] = {"bags": "letter-3x10", "cards": "letter-card"}
