"""GTINs drawn from the maker's company prefix, and the record that keeps them for good.

``gtins.csv`` in the catalog folder holds every number that was ever given, by its SKU. A number
is never given twice, not even once its SKU is retired; a SKU never changes its number.
Source: GS1 GTIN Management Standard and GS1 General Specifications, 4.3 (from memory).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from pathlib import Path

from labeler.catalog.gtin import as_14, close, company_prefix_kind
from labeler.catalog.model import Catalog
from labeler.catalog.spreadsheet.cells import GTIN_COLUMNS
from labeler.catalog.spreadsheet.grid import LARGEST_BYTES, SheetRow, read_csv, read_table
from labeler.files import delivered, locked, read_file
from labeler.findings import Finding, Grade, LabelerError, Place, refusal, stop

RECORD = "gtins.csv"


def read_record(raw: bytes) -> tuple[dict[str, SheetRow], list[Finding]]:
    """Return the rows of the record by SKU, and what is wrong with it."""
    try:
        grid, findings = read_csv(RECORD, raw, GTIN_COLUMNS)
    except LabelerError as error:
        return {}, list(error.findings)
    table = read_table(grid, GTIN_COLUMNS)
    findings += table.findings
    record: dict[str, SheetRow] = {}
    for row in table.rows:
        sku, gtin = row.values.get("sku"), row.values.get("gtin")
        if sku is None or gtin is None:
            if not row.spoiled:
                findings.append(
                    stop("record-incomplete", row.place, "a row needs both SKU and GTIN")
                )
        elif sku in record:
            findings.append(
                stop("duplicate-sku", row.place, f"the SKU {sku} has a row already", found=sku,
                     expected=f"one row, as at {record[sku].place}")
            )  # fmt: skip
        else:
            record[sku] = row
    return record, findings


def check_unique(given: Iterable[tuple[str, str, Place]]) -> list[Finding]:
    """Return a finding for every GTIN that two SKUs have, and every SKU that has two.

    Args:
        given: SKU, GTIN and where it stands, the record's first.
    """
    owner: dict[str, tuple[str, Place]] = {}
    number: dict[str, tuple[str, Place]] = {}
    findings = []
    for sku, gtin, place in given:
        whole = as_14(gtin)
        other, where = owner.setdefault(whole, (sku, place))
        known, since = number.setdefault(sku, (whole, place))
        if other != sku:
            findings.append(
                stop("gtin-twice", place, f"{other} has this GTIN already",
                     found=f"{gtin} for {sku}", expected="a number of its own",
                     hint=f"It stands at {where}.")
            )  # fmt: skip
        elif known != whole:
            findings.append(
                stop("gtin-changed", place, f"{sku} has another GTIN, and a GTIN never changes",
                     found=gtin, expected=f"{known.lstrip('0')}, as at {since}",
                     source="GS1 GTIN Management Standard (from memory)")
            )  # fmt: skip
    return findings


def draw_gtins(catalog: Catalog, folder: Path) -> dict[str, str]:
    """Give every product that lacks a GTIN the next free one, and record it.

    The record is read again under a lock, so two benches never give the same number; it is
    replaced whole or not at all. Run again, it does nothing. Read the catalog again afterwards.

    Returns:
        The numbers given now, by SKU, in the catalog's order.

    Raises:
        LabelerError: if the catalog has no prefix, the prefix has not enough numbers left, or
            the record cannot be read or written. Nothing is recorded then.
    """
    prefix = _prefix(catalog)
    try:
        with locked(folder):
            return _draw(catalog, folder / RECORD, prefix)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise refusal(
            "record-unwritable", Place(file=RECORD), f"cannot be written: {reason}"
        ) from None


def _prefix(catalog: Catalog) -> str:
    prefix = catalog.file.maker.gs1_prefix
    place = Place(file="catalog.toml", key="maker.gs1_prefix")
    if prefix is None:
        raise refusal("prefix-missing", place, "without a company prefix no GTIN can be drawn",
                 hint="GS1 licenses prefixes and single numbers: www.gs1.org. One that you have "
                 "goes into the spreadsheet's gtin column.")  # fmt: skip
    if company_prefix_kind(prefix) in ("restricted", "reserved"):
        raise refusal("prefix-not-licensed", place, "numbers that begin so are licensed to nobody")
    return prefix


def _draw(catalog: Catalog, path: Path, prefix: str) -> dict[str, str]:
    record, findings = _record_at(path) if path.exists() else ({}, [])
    if faults := [finding for finding in findings if finding.grade is Grade.STOP]:
        raise LabelerError(faults)
    known = {sku: row.values["gtin"] for sku, row in record.items()}
    all_known = catalog.gtins | known
    wanting = [product.sku for product in catalog.products if product.sku not in all_known]
    drawn = dict(zip(wanting, _free(prefix, all_known.values(), len(wanting)), strict=True))
    everything = known | catalog.gtins | drawn
    if everything != known:
        _replace(path, everything)
    return drawn


def _record_at(path: Path) -> tuple[dict[str, SheetRow], list[Finding]]:
    raw = read_file(path, LARGEST_BYTES)
    if raw.strip():
        return read_record(raw)
    emptied = stop(
        "record-empty",
        Place(file=RECORD),
        "is empty; numbers that were given before may have stood in it",
        hint="Put back the copy that you keep, or delete the file if no number was ever given.",
    )
    return {}, [emptied]


def capacity(prefix: str) -> int:
    """Return how many GTINs a prefix has: one for each item reference that it leaves room for."""
    return int(10 ** (12 - len(prefix)))


def _free(prefix: str, used: Iterable[str], count: int) -> list[str]:
    """Return ``count`` free numbers: after the highest that is used, then from the gaps.

    A number that begins with 0 is written with twelve digits, as it is printed in a U.P.C.
    Source: GS1 General Specifications, 2.1 (GTIN-12 and GTIN-13), the leading 0 of a GTIN-12.
    """
    if not count:
        return []
    room = 12 - len(prefix)
    # packs of packs share their item's number, behind another first digit
    ours = (n[1:] for n in map(as_14, used) if n[1:].startswith(prefix))
    taken = {int(n[len(prefix) : 12] or 0) for n in ours}
    after = range(max(taken, default=-1) + 1, capacity(prefix))
    gaps = range(max(taken, default=0))
    free: list[str] = []
    for item in (item for part in (after, gaps) for item in part if item not in taken):
        body = prefix + (f"{item:0{room}d}" if room else "")
        free.append(close(body).removeprefix("0"))
        if len(free) == count:
            return free
    raise refusal(
        "prefix-exhausted",
        Place(file="catalog.toml", key="maker.gs1_prefix"),
        f"the prefix {prefix} has not enough numbers left",
        found=f"{len(free)} of {capacity(prefix)} free",
        expected=f"{count}",
        hint="GS1 licenses further prefixes. Numbers of retired SKUs are never given again.",
    )


def _replace(path: Path, record: Mapping[str, str]) -> None:
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("sku", "gtin"))
    writer.writerows(record.items())
    with delivered(path) as file:
        file.write(text.getvalue().encode())
