"""From a catalog folder to a catalog, or to all that is wrong with it at once."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from labeler.catalog.entry_rules import check_entries
from labeler.catalog.expand import can_expand, expand, make_catalog
from labeler.catalog.gtins import check_unique
from labeler.catalog.lists import Lists, read_lists
from labeler.catalog.model import Catalog, CatalogFile
from labeler.catalog.pattern_rules import check_patterns
from labeler.catalog.photos import Photos
from labeler.catalog.references import check_references
from labeler.catalog.rows import Line
from labeler.catalog.source import Source, read_source
from labeler.catalog.structure import read_structure
from labeler.catalog.upkeep import check_upkeep
from labeler.findings import Finding, Grade, LabelerError


def read_catalog(folder: Path) -> Catalog:
    """Return the catalog in ``folder``.

    Raises:
        LabelerError: with every finding that stops, if there is one.
    """
    catalog, findings = examine(folder)
    if catalog is None:
        raise LabelerError(f for f in findings if f.grade is Grade.STOP)
    return catalog


def examine(folder: Path) -> tuple[Catalog | None, tuple[Finding, ...]]:
    """Return the catalog in ``folder``, or None if a finding stops it, and all findings.

    Nothing that stands in the maker's files makes this raise.
    """
    try:
        source = read_source(folder)
    except LabelerError as error:
        return None, error.findings
    catalog, findings = _examine(source, folder)
    return catalog, tuple(sorted(findings, key=_by_place))


def _examine(source: Source, folder: Path) -> tuple[Catalog | None, list[Finding]]:
    file, findings = read_structure(source)
    findings += check_references(source)
    findings += check_patterns(source, file)
    findings += check_entries(source, file)
    photos = Photos(folder)
    findings += _check_photos(source, file, photos)
    lists = read_lists(folder)
    findings += lists.findings
    if not can_expand(source, file):
        return None, findings
    drafts, clashes = expand(source, file)
    line = Line(file, photos, drafts)
    line.lay(lists.rows)
    numbers = _give_gtins(line, lists)
    findings += clashes + line.findings
    if _stops(findings):
        return None, findings
    rest = {
        "retired": tuple(line.retired),
        "gtins": numbers,
        "folder": str(folder),
        "fingerprint": fingerprint([(source.file, source.raw), *lists.files]),
    }
    catalog = make_catalog(file, line.drafts.values(), rest)
    return catalog, findings + check_upkeep(source, catalog)


def _give_gtins(line: Line, lists: Lists) -> dict[str, str]:
    """Give every draft its number; return all numbers, those of retired SKUs too."""
    kept = [(sku, row.values["gtin"], row.cell("gtin")) for sku, row in lists.record.items()]
    line.findings += check_unique([*kept, *line.given])
    numbers = {sku: gtin for sku, gtin, _ in (*line.given, *kept)}
    for sku, draft in line.drafts.items():
        if sku in numbers:
            draft.says["gtin"] = numbers[sku]
    return numbers


def _check_photos(source: Source, file: CatalogFile, photos: Photos) -> Iterable[Finding]:
    for name, pattern in file.patterns.items():
        if pattern.photo is not None:
            place = source.place(("patterns", name, "photo"))
            if fault := photos.fault(place, pattern.photo):
                yield fault


def fingerprint(files: Iterable[tuple[str, bytes]]) -> str:
    """Return the SHA-256 of names and contents, in hexadecimal."""
    digest = hashlib.sha256()
    for name, raw in files:
        digest.update(f"{name}\n{len(raw)}\n".encode())
        digest.update(raw)
    return digest.hexdigest()


def _stops(findings: Iterable[Finding]) -> bool:
    return any(finding.grade is Grade.STOP for finding in findings)


def _by_place(finding: Finding) -> tuple[str, int]:
    return finding.place.file, finding.place.line or 0
