"""Writing the web pages that the labels' codes lead to."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from labeler.app.workstation import ledger_location
from labeler.book.site import LotPage, site_pages
from labeler.catalog.read import readable
from labeler.files import new_folder
from labeler.findings import Finding

if TYPE_CHECKING:
    from labeler.app.preflight import Progress


@dataclass(frozen=True, slots=True)
class SiteMade:
    """What was made of the pages that codes lead to."""

    out: Path
    pages: int
    lots: int
    findings: tuple[Finding, ...]


def make_pages(
    folder: Path, out: Path, day: dt.date | None = None, progress: Progress | None = None
) -> SiteMade:
    """Write the pages that codes lead to. None appears unless all could be made.

    Pages that lie there already and lead from labels no longer sold are left alone.

    Args:
        folder: the catalog.
        out: the folder to write.
        day: as of which the rules are held; None for today.
        progress: called for every page.

    Raises:
        LabelerError: if the catalog is at fault, has no links, or the folder can't be written.
    """
    day = day or dt.date.today()  # noqa: DTZ011  (the maker's own day)
    catalog, findings = readable(folder)
    lots = _lots_of(folder)
    pages = list(site_pages(catalog, lots, day))
    with new_folder(out) as draft:
        for count, page in enumerate(pages, 1):
            file = draft / page.path
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(page.html(), encoding="utf-8")
            if progress:
                progress(count, len(pages))
    return SiteMade(out, len(pages), len(lots), findings)


def _lots_of(folder: Path) -> list[LotPage]:
    """Return the folder's lots; none where there is no ledger."""
    location = ledger_location(folder)
    if not location.begun:
        return []
    from labeler.ledger.lots import list_lots, snapshot_of  # only where there is a ledger

    with location.opened() as ledger:
        return [
            LotPage(lot.code, snapshot_of(ledger, lot), lot.made, lot.void.why if lot.void else "")
            for lot in list_lots(ledger)
        ]
