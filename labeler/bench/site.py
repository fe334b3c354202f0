"""Writing the pages that the labels' codes lead to."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path

from labeler.bench.ledgers import books_of
from labeler.bench.printing import Progress, readable
from labeler.book.site import LotPage, site_pages
from labeler.findings import Finding
from labeler.ledger.lots import list_lots, snapshot_of
from labeler.press.deliver_folder import new_folder


@dataclass(frozen=True, slots=True)
class SiteWish:
    """Which pages to write, and as of what day the rules are held."""

    folder: Path
    out: Path
    day: dt.date = field(default_factory=dt.date.today)


@dataclass(frozen=True, slots=True)
class SiteMade:
    """What was made of the pages that codes lead to."""

    out: Path
    pages: int
    lots: int
    findings: tuple[Finding, ...]


def make_pages(wish: SiteWish, progress: Progress | None = None) -> SiteMade:
    """Write the pages that codes lead to. None appears unless all could be made.

    Pages that lie there already and lead from labels no longer sold are left alone.

    Raises:
        LabelerError: if the catalog is at fault, has no links, or the folder can't be written.
    """
    catalog, findings = readable(wish.folder)
    lots = _lots_of(wish.folder)
    pages = list(site_pages(catalog, lots, wish.day))
    with new_folder(wish.out) as draft:
        for count, page in enumerate(pages, 1):
            file = draft / page.path
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(page.html(), encoding="utf-8")
            if progress:
                progress(count, len(pages))
    return SiteMade(wish.out, len(pages), len(lots), findings)


def _lots_of(folder: Path) -> list[LotPage]:
    """Return the folder's lots; none where there is no ledger."""
    books = books_of(folder)
    if not books.begun:
        return []
    with books.opened() as ledger:
        return [
            LotPage(lot.code, snapshot_of(ledger, lot), lot.made, lot.void.why if lot.void else "")
            for lot in list_lots(ledger)
        ]
