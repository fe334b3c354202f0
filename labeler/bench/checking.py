"""Checking a catalog folder."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from labeler.bench.lawful import law_findings
from labeler.catalog.read import examine, read_catalog
from labeler.findings import Finding, Grade


@dataclass(frozen=True, slots=True)
class CatalogReport:
    """What there is to say of a catalog."""

    products: int
    findings: tuple[Finding, ...]

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
        LabelerError: if there is no catalog at all.
    """
    if not (folder / "catalog.toml").is_file():
        read_catalog(folder)
    catalog, findings = examine(folder)
    if catalog is None:
        return CatalogReport(0, findings)
    law = law_findings(catalog, day or dt.date.today())  # noqa: DTZ011  (the maker's own day)
    return CatalogReport(len(catalog.products), (*findings, *law))
