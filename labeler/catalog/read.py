"""From a catalog folder to a catalog, or to all that is wrong with it at once."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from labeler.catalog.casting import mark_density
from labeler.catalog.expand import can_expand, check_patterns, expand, make_catalog
from labeler.catalog.gtin import company_prefix_kind
from labeler.catalog.gtins import RECORD, check_unique, read_record
from labeler.catalog.model import Catalog, CatalogFile
from labeler.catalog.review import check_upkeep
from labeler.catalog.rows import Photos, ProductDrafts
from labeler.catalog.spreadsheet import grid as spreadsheet
from labeler.catalog.spreadsheet.columns import PRODUCT_COLUMNS
from labeler.catalog.spreadsheet.grid import CellGrid, SheetRow, read_table
from labeler.catalog.structure import read_source, read_structure
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
from labeler.tomlfile import KeyPath, TomlFile

# ----------------------------------------------------------------------------
# Whether maker and materials state what can be: shares, prefix, address of the links, metals.


def check_entries(source: TomlFile, file: CatalogFile) -> list[Finding]:
    """Return what is wrong with single entries, taken by themselves."""
    return [
        *_compositions(source, file),
        *_prefix(source, file),
        *_links(source, file),
        *_marks(source, file),
    ]


def _compositions(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    for name, material in file.materials.items():
        whole = sum(material.composition.values(), start=Fraction(0))
        if whole > 1:
            yield stop(
                "composition-over",
                source.place(("materials", name, "composition")),
                "the shares add up to more than the whole",
                found=f"{float(whole * 100):g} %",
                expected="at most 100 %",
            )


def _prefix(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    prefix = file.maker.gs1_prefix
    if prefix is None:
        return
    place = source.place(("maker", "gs1_prefix"))
    kind = company_prefix_kind(prefix)
    if kind in ("restricted", "reserved"):
        yield stop(
            "prefix-not-licensed",
            place,
            "numbers that begin so are licensed to nobody",
            found=as_written(prefix),
            expected="the GS1 Company Prefix from your certificate",
            source="GS1 General Specifications, 1.4",
        )
    elif kind == "demo":
        yield note(
            "prefix-for-samples",
            place,
            "numbers that begin with 952 are for samples: no shop can sell by them",
            source="GS1 General Specifications, 1.4",
        )
    elif file.maker.country == "US" and not _from_gs1_us(prefix):
        yield fix(
            "prefix-without-nought",
            place,
            "GS1 US gives out no prefix that begins so",
            found=as_written(prefix),
            expected="a prefix that begins with 0 or with 10 to 13",
            hint="A U.P.C. company prefix lacks the 0 that the GS1 Company Prefix begins with.",
            source="GS1 General Specifications, 1.4 (from memory)",
        )


def _from_gs1_us(prefix: str) -> bool:
    return int(prefix[:3]) <= _LAST_OF_GS1_US


_LAST_OF_GS1_US = 139
"""Source: GS1 General Specifications, 1.4: 000 to 139 are GS1 US's, less what is kept back."""


def _links(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    if file.maker.links is not None and not _good_link(file.maker.links):
        yield stop(
            "wrong-value",
            source.place(("maker", "links")),
            "QR links cannot begin with this",
            found=as_written(file.maker.links),
            expected="https:// and a domain, such as https://go.example.com",
        )


def _good_link(links: str) -> bool:
    try:
        parts = urlsplit(links)
        port = parts.port
    except ValueError:
        return False
    plain = links.isascii() and links.isprintable() and " " not in links
    whole = parts.scheme in ("http", "https") and bool(parts.hostname)
    simple = not (parts.query or parts.fragment or parts.username) and port != 0
    return plain and whole and simple


def _marks(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    for name, head in file.heads.items():
        if head.marked_for not in file.materials and mark_density(head, file.materials) is None:
            metals = ["lead", "tin", "bismuth", "zinc", *file.materials]
            yield stop(
                "unknown-name",
                source.place(("heads", name, "marked_for")),
                "this is no metal whose density is known, nor a material of the catalog",
                found=as_written(head.marked_for),
                hint=did_you_mean(head.marked_for, metals),
            )


# ----------------------------------------------------------------------------
# The spreadsheets that lie in a catalog folder, found and read: products and GTINs.

PRODUCTS = "products"


@dataclass(slots=True)
class Lists:
    """What the spreadsheets of a folder hold."""

    rows: list[SheetRow] = field(default_factory=list)
    record: dict[str, SheetRow] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    files: list[tuple[str, bytes]] = field(default_factory=list)
    """Name and bytes of every file read."""


def read_lists(folder: Path) -> Lists:
    """Return all rows of the folder's spreadsheets, and every fault in them."""
    lists = Lists()
    try:
        found = (path.name for path in folder.iterdir() if path.is_file())
        names = sorted(name for name in found if name.isprintable())
    except OSError:
        names = []
    _read_products(folder, names, lists)
    if RECORD in names and (raw := _bytes(folder / RECORD, lists)) is not None:
        lists.record, findings = read_record(raw)
        lists.findings += findings
    return lists


def _read_products(folder: Path, names: list[str], lists: Lists) -> None:
    for suffix, reader in ((".csv", _from_csv), (".xlsx", _from_xlsx)):
        found = [name for name in names if name.casefold() == PRODUCTS + suffix]
        if len(found) > 1:
            lists.findings.append(
                stop("file-twice", Place(file=found[1]), f"lies beside {found[0]}: which holds?",
                     found=", ".join(found), expected="one of them")
            )  # fmt: skip
        elif found and (raw := _bytes(folder / found[0], lists)) is not None:
            _read(reader, found[0], raw, lists)
    others = [
        name for name in names
        if name.casefold().startswith(f"{PRODUCTS}.") and not name.casefold().endswith(_READ)
    ]  # fmt: skip
    if others:
        lists.findings.append(
            note("file-unread", Place(file=others[0]), "is not read", found=a_few(others),
                 expected="products.csv or products.xlsx",
                 hint="Save it as one of these from the spreadsheet.")
        )  # fmt: skip


_READ = (".csv", ".xlsx")

Reader = Callable[[str, bytes], tuple[list[CellGrid], list[Finding]]]


def _read(reader: Reader, name: str, raw: bytes, lists: Lists) -> None:
    try:
        grids, findings = reader(name, raw)
    except LabelerError as error:
        lists.findings += error.findings
        return
    lists.findings += findings
    for grid in grids:
        table = read_table(grid, PRODUCT_COLUMNS)
        lists.findings += table.findings
        lists.rows += table.rows


def _from_csv(name: str, raw: bytes) -> tuple[list[CellGrid], list[Finding]]:
    grid, findings = spreadsheet.read_csv(name, raw, PRODUCT_COLUMNS)
    return [grid], findings


def _from_xlsx(name: str, raw: bytes) -> tuple[list[CellGrid], list[Finding]]:

    return spreadsheet.read_xlsx(name, raw, PRODUCT_COLUMNS)


def _bytes(path: Path, lists: Lists) -> bytes | None:
    try:
        raw = read_file(path, spreadsheet.LARGEST_BYTES)
    except LabelerError as error:
        lists.findings += error.findings
        return None
    lists.files.append((path.name, raw))
    return raw


# ----------------------------------------------------------------------------
# Whether every name that the catalog file mentions is one that it also describes.
#
# The plain values are looked through, not the checked records, so that a wrong name is told in the
# same breath as a wrong weight beside it.


@dataclass(frozen=True, slots=True)
class Reference:
    """One key that holds names: where it stands, ``*`` for any name or place in a list."""

    path: str
    table: str
    """The table that describes what is named."""
    kinds: tuple[str, ...] = ()
    """Kinds of material that may be named; empty for any."""


REFERENCES = (
    Reference("heads.*.alloy", "materials", ("alloy",)),
    Reference("hooks.*.material", "materials", ("steel",)),
    Reference("guards.*.material", "materials"),
    Reference("colours.*.layers.*.material", "materials"),
    Reference("patterns.*.head", "heads"),
    Reference("patterns.*.hook", "hooks"),
    Reference("patterns.*.guard", "guards"),
    Reference("patterns.*.bag", "bags"),
    Reference("patterns.*.colours.*", "colours"),
    Reference("patterns.*.tie.thread", "materials", ("thread", "wire")),
    Reference("dealers.*.tier", "tiers"),
)


def check_references(source: TomlFile) -> list[Finding]:
    """Return a finding for every name that names nothing, or the wrong kind of thing."""
    findings = []
    for reference in REFERENCES:
        entries = _entries(source.data, reference.table)
        for path, name in _spots(source.data, reference.path.split("."), ()):
            if isinstance(name, str) and (fault := _fault(source, path, name, reference, entries)):
                findings.append(fault)
    return findings


def _fault(
    source: TomlFile, path: KeyPath, name: str, reference: Reference, entries: dict[str, Any]
) -> Finding | None:
    if name not in entries:
        return stop(
            "unknown-name",
            source.place(path),
            f"[{reference.table}] describes nothing of this name",
            found=as_written(name),
            hint=meant(name, entries) or f"Describe it under [{reference.table}].",
        )
    kind = entries[name].get("kind") if isinstance(entries[name], dict) else None
    if reference.kinds and isinstance(kind, str) and kind not in reference.kinds:
        return stop(
            "wrong-kind",
            source.place(path),
            f"this names a material of kind {as_written(kind)}",
            found=as_written(name),
            expected=" or ".join(reference.kinds),
            hint=meant(name, _of_kinds(entries, reference.kinds)),
        )
    return None


def _of_kinds(entries: dict[str, Any], kinds: tuple[str, ...]) -> dict[str, Any]:
    return {
        key: entry
        for key, entry in entries.items()
        if isinstance(entry, dict) and entry.get("kind") in kinds
    }


def meant(name: str, entries: dict[str, Any]) -> str:
    """Return a hint at the entry that ``name`` may mean: by its full name, or the nearest key."""
    for key, entry in entries.items():
        full = entry.get("name") if isinstance(entry, dict) else None
        if isinstance(full, str) and full.casefold() == name.casefold():
            return f"Did you mean {key!r}? Things go by the name in their heading."
    return did_you_mean(name, [key for key in entries if key.isprintable()])


def _entries(data: dict[str, Any], table: str) -> dict[str, Any]:
    entries = data.get(table)
    return entries if isinstance(entries, dict) else {}


def _spots(node: Any, parts: list[str], path: KeyPath) -> Iterator[tuple[KeyPath, Any]]:
    """Yield every value that the parts of a path lead to, with the path that did."""
    if not parts:
        yield path, node
    elif parts[0] == "*" and isinstance(node, dict):
        for key, value in node.items():
            yield from _spots(value, parts[1:], (*path, key))
    elif parts[0] == "*" and isinstance(node, list):
        for place, value in enumerate(node):
            yield from _spots(value, parts[1:], (*path, place))
    elif isinstance(node, dict) and parts[0] in node:
        yield from _spots(node[parts[0]], parts[1:], (*path, parts[0]))


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


def _examine(source: TomlFile, folder: Path) -> tuple[Catalog | None, list[Finding]]:
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
    line = ProductDrafts(file, photos, drafts)
    line.lay(lists.rows)
    numbers = _give_gtins(line, lists)
    findings += clashes + line.findings
    if _stops(findings):
        return None, findings
    rest = {
        "retired": tuple(line.retired),
        "gtins": numbers,
        "folder": str(folder),
        "fingerprint": fingerprint([(source.name, source.raw), *lists.files]),
    }
    catalog = make_catalog(file, line.drafts.values(), rest)
    return catalog, findings + check_upkeep(source, catalog)


def _give_gtins(line: ProductDrafts, lists: Lists) -> dict[str, str]:
    """Give every draft its number; return all numbers, those of retired SKUs too."""
    kept = [(sku, row.values["gtin"], row.cell("gtin")) for sku, row in lists.record.items()]
    line.findings += check_unique([*kept, *line.given])
    numbers = {sku: gtin for sku, gtin, _ in (*line.given, *kept)}
    for sku, draft in line.drafts.items():
        if sku in numbers:
            draft.says["gtin"] = numbers[sku]
    return numbers


def _check_photos(source: TomlFile, file: CatalogFile, photos: Photos) -> Iterable[Finding]:
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
