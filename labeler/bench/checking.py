"""Checking a catalog folder."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

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


def check_catalog(folder: Path) -> CatalogReport:
    """Return everything there is to say of the catalog in ``folder``.

    Raises:
        LabelerError: if there is no catalog at all.
    """
    if not (folder / "catalog.toml").is_file():
        read_catalog(folder)
    catalog, findings = examine(folder)
    return CatalogReport(len(catalog.products) if catalog else 0, findings)
