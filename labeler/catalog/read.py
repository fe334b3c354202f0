"""From a catalog folder to a catalog, or to all that is wrong with it at once.

And from a catalog to the products that are wanted of it.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any

from labeler import files
from labeler.catalog.checks import check_file, check_upkeep
from labeler.catalog.expand import Photos, ProductDrafts, can_expand, expand, make_catalog
from labeler.catalog.gtin_record import RECORD, check_unique, read_record
from labeler.catalog.model import Catalog, Product
from labeler.catalog.spreadsheet.cells import PRODUCT_COLUMNS
from labeler.catalog.spreadsheet.grid import (
    LARGEST_BYTES,
    CellGrid,
    SheetRow,
    read_csv,
    read_table,
    read_xlsx,
)
from labeler.catalog.structure import CATALOG_NAME, read_source, read_structure
from labeler.files import read_file
from labeler.findings import (
    Finding,
    Grade,
    LabelerError,
    Place,
    a_few,
    as_written,
    did_you_mean,
    fix,
    note,
    stop,
)
from labeler.tomlfile import TomlFile


def read_catalog(folder: Path) -> Catalog:
    """Return the catalog in ``folder``.

    Raises:
        LabelerError: with every finding that stops, if there is one.
    """
    catalog, findings = examine(folder)
    if catalog is None:
        raise LabelerError(finding for finding in findings if finding.grade is Grade.STOP)
    return catalog


def readable(folder: Path) -> tuple[Catalog, tuple[Finding, ...]]:
    """Return the catalog and the findings of grade FIX, for a job that prints; notes are left out.

    Raises:
        LabelerError: with every finding that stops, if there is one.
    """
    catalog, findings = examine(folder)
    if catalog is None:
        raise LabelerError(finding for finding in findings if finding.grade is Grade.STOP)
    findings += starter_placeholders(catalog)
    return catalog, tuple(finding for finding in findings if finding.grade is Grade.FIX)


def examine(folder: Path) -> tuple[Catalog | None, tuple[Finding, ...]]:
    """Return the catalog in ``folder``, or None if a finding stops it, and all findings.

    It never raises for what is in the maker's files.
    """
    try:
        source = read_source(folder)
    except LabelerError as error:
        return None, error.findings
    catalog, findings = _examine(source, folder)
    return catalog, tuple(sorted(findings, key=lambda one: (one.place.file, one.place.line or 0)))


def _examine(source: TomlFile, folder: Path) -> tuple[Catalog | None, list[Finding]]:
    file, findings = read_structure(source)
    findings += check_file(source, file)
    photos = Photos(folder)
    for name, pattern in file.patterns.items():
        if pattern.photo is not None:
            place = source.place(("patterns", name, "photo"))
            findings += [fault] if (fault := photos.fault(place, pattern.photo)) else []
    sheets = _read_spreadsheets(folder)
    findings += sheets.findings
    if not can_expand(source, file):
        return None, findings
    products, clashes = expand(source, file)
    drafts = ProductDrafts(file, photos, products)
    drafts.lay(sheets.rows)
    gtins = _give_gtins(drafts, sheets.record)
    findings += clashes + drafts.findings
    if any(finding.grade is Grade.STOP for finding in findings):
        return None, findings
    catalog = make_catalog(
        file,
        drafts.drafts.values(),
        retired=tuple(drafts.retired),
        gtins=gtins,
        folder=str(folder),
        fingerprint=fingerprint([(source.name, source.raw), *sheets.files]),
    )
    return catalog, findings + list(check_upkeep(source, catalog))


def _give_gtins(drafts: ProductDrafts, record: dict[str, SheetRow]) -> dict[str, str]:
    """Give every draft its number; return all numbers, those of retired SKUs too."""
    recorded = [(sku, row.values["gtin"], row.cell("gtin")) for sku, row in record.items()]
    drafts.findings += check_unique([*recorded, *drafts.given])
    numbers = {sku: gtin for sku, gtin, _ in (*drafts.given, *recorded)}
    for sku, draft in drafts.drafts.items():
        if sku in numbers:
            draft.overrides["gtin"] = numbers[sku]
    return numbers


def fingerprint(contents: Iterable[tuple[str, bytes]]) -> str:
    """Return the SHA-256 of names and contents, in hexadecimal."""
    digest = hashlib.sha256()
    for name, raw in contents:
        digest.update(f"{name}\n{len(raw)}\n".encode())
        digest.update(raw)
    return digest.hexdigest()


@dataclass(slots=True)
class _Spreadsheets:
    """What the spreadsheets of a folder hold."""

    rows: list[SheetRow] = field(default_factory=list)
    record: dict[str, SheetRow] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    files: list[tuple[str, bytes]] = field(default_factory=list)
    """Name and bytes of every file read."""

    def read_bytes(self, path: Path) -> bytes | None:
        try:
            raw = read_file(path, LARGEST_BYTES)
        except LabelerError as error:
            self.findings += error.findings
            return None
        self.files.append((path.name, raw))
        return raw


def _read_spreadsheets(folder: Path) -> _Spreadsheets:
    sheets = _Spreadsheets()
    try:
        found = (path.name for path in folder.iterdir() if path.is_file())
        names = sorted(name for name in found if name.isprintable())
    except OSError:
        names = []  # a folder whose catalog.toml can be read, but which may not be listed
    for suffix in (".csv", ".xlsx"):
        same = [name for name in names if name.casefold() == "products" + suffix]
        if len(same) > 1:
            sheets.findings.append(
                stop(
                    "file-twice",
                    Place(file=same[1]),
                    f"lies beside {same[0]}: which holds?",
                    found=", ".join(same),
                    expected="one of them",
                )
            )
        elif same and (raw := sheets.read_bytes(folder / same[0])) is not None:
            _read_products(same[0], raw, sheets)
    others = [
        name
        for name in names
        if name.casefold().startswith("products.")
        and not name.casefold().endswith((".csv", ".xlsx"))
    ]
    if others:
        sheets.findings.append(
            note(
                "file-unread",
                Place(file=others[0]),
                "is not read",
                found=a_few(others),
                expected="products.csv or products.xlsx",
                hint="Save it as one of these from the spreadsheet.",
            )
        )
    if RECORD in names and (raw := sheets.read_bytes(folder / RECORD)) is not None:
        sheets.record, findings = read_record(raw)
        sheets.findings += findings
    return sheets


def _read_products(name: str, raw: bytes, sheets: _Spreadsheets) -> None:
    grids: list[CellGrid]
    try:
        if name.casefold().endswith(".csv"):
            grid, findings = read_csv(name, raw, PRODUCT_COLUMNS)
            grids = [grid]
        else:
            grids, findings = read_xlsx(name, raw, PRODUCT_COLUMNS)
    except LabelerError as error:
        sheets.findings += error.findings
        return
    sheets.findings += findings
    for grid in grids:
        table = read_table(grid, PRODUCT_COLUMNS)
        sheets.rows += table.rows
        sheets.findings += table.findings


def choose(catalog: Catalog, wanted: Sequence[str]) -> tuple[Product, ...]:
    """Return the products that are wanted, in the catalog's order, each once.

    Args:
        catalog: The line.
        wanted: SKUs, or shell patterns such as ``RV-*``, in any case. Nothing wanted means all.

    Raises:
        LabelerError: with a finding for every word that fits no product on sale.
    """
    if not wanted:
        return catalog.products
    skus = [product.sku for product in catalog.products]
    picked: set[str] = set()
    findings = []
    for word in dict.fromkeys(wanted):
        if fitting := _fitting(word, skus):
            picked.update(fitting)
        elif retired := _fitting(word, catalog.retired):
            findings.append(
                stop(
                    "sku-retired",
                    Place(file="catalog"),
                    "is retired and no longer sold" if len(retired) == 1 else "are all retired",
                    found=a_few(retired),
                    hint="Take the row's `retired` away to sell it again."
                    " A lot reprints what it was.",
                )
            )
        else:
            findings.append(
                stop(
                    "sku-unknown",
                    Place(file="catalog"),
                    "no product has this SKU",
                    found=as_written(word),
                    hint=did_you_mean(word.strip().upper(), skus),
                )
            )
    if findings:
        raise LabelerError(findings)
    return tuple(product for product in catalog.products if product.sku in picked)


def _fitting(word: str, skus: Sequence[str]) -> list[str]:
    plain = word.strip().upper()
    if plain in skus:
        return [plain]
    return [sku for sku in skus if fnmatchcase(sku, plain)] if re.search(r"[*?\[]", plain) else []


_STARTER_MAKER_KEYS = ("name", "street", "city", "site", "links", "email", "phone")
_STARTER_PATTERN_KEYS = ("name", "story")


def starter_placeholders(catalog: Catalog) -> tuple[Finding, ...]:
    """Return what a label would say in the starter's words.

    As long as the business has the starter's name it is a trial, and this is only good to know.
    """
    starter = _starter()
    kept = [
        f"maker.{key}"
        for key in _STARTER_MAKER_KEYS
        if getattr(catalog.file.maker, key) == starter["maker"][key]
    ]
    for theirs in starter["patterns"].values():
        for name, pattern in catalog.file.patterns.items():
            for key in _STARTER_PATTERN_KEYS:
                if (getattr(pattern, key) or "").strip() == theirs[key].strip():
                    kept.append(f"patterns.{name}.{key}")
    if not kept:
        return ()
    grade = note if "maker.name" in kept else fix
    return (
        grade(
            "starter-left-over",
            Place(file=CATALOG_NAME),
            "this is still the starter's and will be printed so",
            found=", ".join(kept),
            hint="Put your own there, or take the line out where it may be left out.",
        ),
    )


@cache
def _starter() -> Mapping[str, Any]:
    file = files.shipped("layouts") / "starter" / "catalog.toml"
    return tomllib.loads(file.read_text("utf-8"))
