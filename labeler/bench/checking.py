"""Checking a catalog folder."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from labeler.bench.lawful import law_findings
from labeler.bench.left_over import left_over
from labeler.catalog.gtins import draw_gtins
from labeler.catalog.model import Catalog
from labeler.catalog.photos import PHOTOS
from labeler.catalog.read import examine
from labeler.catalog.source import read_source
from labeler.checker.report import listed
from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.findings import Finding, Grade, LabelerError
from labeler.layout.pictures import prepare


@dataclass(frozen=True, slots=True)
class CatalogReport:
    """What there is to say of a catalog."""

    products: int
    findings: tuple[Finding, ...]

    def as_text(self, width: int) -> str:
        """Return the report for people in lines of at most ``width``: the summary, the gravest."""
        products = "1 product" if self.products == 1 else f"{self.products:,} products"
        summary = (
            f"{products}; {self.stops} to put right, {self.fixes} to look at, {self.notes} noted."
        )
        told = listed(self.findings, width)
        return "\n".join([summary, "", *told, textwrap.fill(NO_LEGAL_ADVICE, width)])

    def count(self, grade: Grade) -> int:
        """Return how many findings have ``grade``."""
        return sum(finding.grade is grade for finding in self.findings)

    @property
    def stops(self) -> int:
        """How many findings stop the press."""
        return self.count(Grade.STOP)

    @property
    def fixes(self) -> int:
        """How many findings are the maker's to judge."""
        return self.count(Grade.FIX)

    @property
    def notes(self) -> int:
        """How many findings are only good to know."""
        return self.count(Grade.NOTE)


def check_catalog(folder: Path, day: dt.date | None = None) -> CatalogReport:
    """Return everything there is to say of the catalog in ``folder``.

    A catalog that can be read is also held against the rules of the places where it is sold, on
    ``day``, or today.

    Raises:
        LabelerError: if there is no catalog, or what is there is no TOML.
    """
    read_source(folder)
    catalog, findings = examine(folder)
    if catalog is None:
        return CatalogReport(0, findings)
    photos = tuple(_photo_faults(catalog, folder))
    law = law_findings(catalog, day or dt.date.today())  # noqa: DTZ011  (the maker's own day)
    return CatalogReport(len(catalog.products), (*findings, *photos, *law, *left_over(catalog)))


def number_products(folder: Path) -> Mapping[str, str]:
    """Give every product that has none a GTIN of the maker's own prefix; return those by SKU.

    A number once given is kept in ``gtins.csv`` and never changes.

    Raises:
        LabelerError: if the catalog has an error, there is no prefix, or it is used up.
    """
    catalog, findings = examine(folder)
    if catalog is None:
        raise LabelerError(f for f in findings if f.grade is Grade.STOP)
    return draw_gtins(catalog, folder)


_THUMB = 72.0
"""Points; small, so that a photo is read fast. How fine it prints is known once it has a size."""


def _photo_faults(catalog: Catalog, folder: Path) -> Iterator[Finding]:
    """Yield what would keep a photo from being printed, each photo read once to its end."""
    for name in dict.fromkeys(product.photo for product in catalog.products):
        try:
            if name:
                prepare(folder / PHOTOS / name, _THUMB, _THUMB)
        except LabelerError as error:
            yield from error.findings
