"""Lots opened at the bench, for one batch or for all of a spreadsheet; and what goes into them."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import choose, readable
from labeler.catalog.spreadsheet.cells import (
    CellError,
    ColumnSpec,
    Value,
    is_blank,
    plain_text,
    read_line,
    read_sku,
)
from labeler.catalog.spreadsheet.grid import (
    LARGEST_BYTES,
    CellGrid,
    SheetRow,
    has_headings,
    read_csv,
    read_table,
    read_xlsx,
)
from labeler.codes.lot_code import LotForm
from labeler.files import read_file
from labeler.findings import Finding, Grade, LabelerError, Place, fix, note, refusal, stop
from labeler.ledger.assign import MOST_PIECES, Batch, add_materials, assign_many
from labeler.ledger.lots import (
    Lot,
    SupplierLot,
    find,
    known_kinds,
    list_lots,
    odd_kinds,
    snapshot_of,
    supplier_lots,
)
from labeler.ledger.store import Ledger, entries, utc_now
from labeler.units import WeightUnit

_OLD = dt.timedelta(days=366)


@dataclass(frozen=True, slots=True)
class BatchRequest:
    """One batch that wants a lot. ``made`` is today, at the bench, if None."""

    folder: Path
    sku: str
    count: int
    made: dt.date | None = None
    materials: tuple[str, ...] = ()
    key: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Assigned:
    """Lots that were opened, or that the same request had opened before (``again``)."""

    lots: tuple[Lot, ...]
    again: frozenset[str]
    findings: tuple[Finding, ...]
    location: LedgerLocation


def open_lot(request: BatchRequest) -> Assigned:
    """Open a lot for one batch.

    Raises:
        LabelerError: with everything that stands in the way.
    """
    materials = supplier_lots(request.materials)
    catalog, _ = readable(request.folder)
    location = ledger_location(request.folder)
    made = request.made or location.today()
    product = _one_product(catalog, request.sku)
    batch = Batch(product, request.count, made, materials, request.key, request.note)
    return _open(location, catalog, [batch], [Place(key=f"lot of {product.sku}")],
                 request.made is None)  # fmt: skip


def open_lots(folder: Path, file: Path, key: str | None = None) -> Assigned:
    """Open a lot for every batch in a CSV or XLSX file: all of them, or none.

    The same file read again on the same day opens no second lot.

    Args:
        folder: the catalog.
        file: the list.
        key: names this request in the place of the file's content and the day.

    Raises:
        LabelerError: with everything that stands in the way.
    """
    catalog, _ = readable(folder)
    listed, findings = read_batches(file)
    location = ledger_location(folder)
    today = location.today()
    request_key = key or f"{hashlib.sha256(file.read_bytes()).hexdigest()[:32]} {today}"
    batches: list[Batch] = []
    faults = list(findings)
    for at, row in enumerate(listed, 1):
        try:
            product = _one_product(catalog, row.sku, row.place)
        except LabelerError as error:
            faults += error.findings
            continue
        row_key = row.key or f"{request_key} {at}"
        batch = Batch(product, row.count, row.made or today, row.materials, row_key, row.note)
        faults += _batch_faults(batch, row.place)
        batches.append(batch)
    if stops_among(faults):
        raise LabelerError(faults)
    done = _open(location, catalog, batches, [row.place for row in listed],
                 any(row.made is None for row in listed))  # fmt: skip
    return Assigned(done.lots, done.again, (*findings, *done.findings), location)


def _open(
    location: LedgerLocation, catalog: Catalog, batches: Sequence[Batch], places: Sequence[Place],
    undated: bool,
) -> Assigned:  # fmt: skip
    faults = [
        fault
        for batch, place in zip(batches, places, strict=True)
        for fault in _batch_faults(batch, place)
    ]
    if faults:
        raise LabelerError(faults)
    findings = [
        finding
        for batch, place in zip(batches, places, strict=True)
        for finding in _odd_day(batch, place, location.today())
    ]
    form = LotForm(location.prefix)
    with location.opened(begin=True) as ledger:
        began = utc_now()
        if undated:
            _refuse_a_clock_behind(ledger, began, location)
        lots = assign_many(ledger, batches, form=form, catalog=catalog.fingerprint)
        again = frozenset(lot.code for lot in lots if lot.opened_at < began)
        findings += _alike(ledger, lots, again, places)
    return Assigned(tuple(lots), again, tuple(findings), location)


_CLOCK_SLACK = dt.timedelta(days=1)


def _refuse_a_clock_behind(ledger: Ledger, now: dt.datetime, location: LedgerLocation) -> None:
    """Refuse to date a lot by a clock that stands before the ledger's last change.

    Two benches' clocks differ by minutes; an empty battery sets one back by years.
    """
    last = entries(ledger, last=1)
    if last and now < last[0].at - _CLOCK_SLACK:
        raise refusal(
            "clock-behind",
            Place(key="made"),
            "this computer's clock is behind, so no lot is dated by it",
            found=location.clock(now),
            expected=f"after {location.clock(last[0].at)}, when the ledger was last changed",
            hint="Set the clock, or say the day: --made, or the column made.",
        )


def _one_product(catalog: Catalog, sku: str, place: Place | None = None) -> Product:
    """Return the one product that ``sku`` names; a pattern of SKUs is no batch."""
    try:
        found = choose(catalog, [sku])
    except LabelerError as error:
        if place is None:
            raise
        raise LabelerError(replace(finding, place=place) for finding in error.findings) from error
    if len(found) > 1:
        raise refusal(
            "lot-of-several",
            place or Place(key="sku"),
            "a lot is of one product",
            found=f"{sku}, which means {len(found)}",
            expected="one SKU",
        )
    return found[0]


def _batch_faults(batch: Batch, place: Place) -> Iterator[Finding]:
    """Yield before a ledger is begun what it would refuse."""
    if not 1 <= batch.count <= MOST_PIECES:
        yield stop(
            "lot-count",
            place,
            "a lot cannot have this many jigs",
            found=str(batch.count),
            expected=f"1 to {MOST_PIECES:,}",
        )
    yield from odd_kinds(batch.product, batch.materials, place)


def _odd_day(batch: Batch, place: Place, today: dt.date) -> Iterator[Finding]:
    if batch.made > today or today - batch.made > _OLD:
        when = "lies in the future" if batch.made > today else "is more than a year ago"
        yield fix(
            "lot-day",
            place,
            f"the day it was made {when}",
            found=batch.made.isoformat(),
            expected=f"a day up to {today.isoformat()}",
            hint="If that is a slip, void the lot and assign another.",
        )


def _alike(
    ledger: Ledger, opened: Sequence[Lot], again: frozenset[str], places: Sequence[Place]
) -> Iterator[Finding]:
    """Point out a lot just like one from before: it may be the same batch, asked for twice."""
    new = {lot.code for lot in opened} - again
    days = [lot.made for lot in opened if lot.code in new]
    if not days:
        return
    before: dict[object, Lot] = {
        _content(lot): lot
        for lot in list_lots(ledger, since=min(days), until=max(days))
        if lot.code not in new and not lot.void
    }
    for lot, place in zip(opened, places, strict=True):
        twin = before.get(_content(lot))
        if twin and lot.code in new:
            yield note(
                "lot-alike",
                place,
                f"lot {lot.code} is just like one that was opened before",
                found=f"lot {twin.code}",
                hint="If it is the same batch, void one of them. A --key, or the column key, names "
                "a request, so that it is carried out once.",
            )


def _content(lot: Lot) -> object:
    return lot.sku, lot.count, lot.made, lot.materials, lot.note


def add_to_lot(folder: Path, code: str, texts: Sequence[str]) -> Lot:
    """Note suppliers' lots that went into a lot, once it is open.

    Raises:
        LabelerError: if there is no such lot, or a text does not say what went in.
    """
    went_in = supplier_lots(texts)
    with ledger_location(folder).opened() as ledger:
        lot = find(ledger, code)
        product = snapshot_of(ledger, lot)
        if faults := list(odd_kinds(product, went_in, Place(key=f"lot {lot.code}"))):
            raise LabelerError(faults)
        return add_materials(ledger, lot.code, went_in)


_KINDS = known_kinds()
"""What a supplier's lot may be a lot of; a maker may add to these."""


_A_DAY = "year, month and day, such as 2026-11-25"


@dataclass(frozen=True, slots=True)
class ListedBatch:
    """One row of a list of batches, and where it stands."""

    place: Place
    sku: str
    count: int
    made: dt.date | None
    materials: tuple[SupplierLot, ...]
    key: str
    note: str


def read_count(value: Value) -> int:
    """Return how many jigs were made."""
    text = plain_text(value)
    if re.fullmatch(r"\d{1,7}|\d{1,3}(,\d{3})+", text):
        return int(text.replace(",", ""))
    raise CellError("this is no number of jigs", "a whole number such as 60")


def read_day(value: Value) -> dt.date:
    """Return a day. Month and day in either order are taken where only one of them can be."""
    if isinstance(value, dt.datetime):
        return value.date()
    if isinstance(value, dt.date):
        return value
    text = plain_text(value)
    found = re.fullmatch(r"(\d{1,2})[/.](\d{1,2})[/.](\d{4})", text)
    try:
        if found is None:
            return dt.date.fromisoformat(text)
        first, second, year = (int(number) for number in found.groups())
        if first <= 12 and second <= 12 and first != second:
            raise CellError("day and month can't be told apart here", _A_DAY)
        return dt.date(year, *((first, second) if first <= 12 else (second, first)))
    except ValueError:
        raise CellError("this is no day", _A_DAY) from None


def read_materials(value: Value) -> tuple[SupplierLot, ...]:
    """Return suppliers' lots, ``hook=HK-2291; thread=T-7``."""
    parts = [part for part in re.split(r"[;\n]+", plain_text(value)) if part.strip()]
    try:
        return tuple(SupplierLot.parse(part) for part in parts)
    except LabelerError as error:
        first = error.findings[0]
        raise CellError(first.message, first.expected) from error


BATCH_COLUMNS = (
    ColumnSpec("sku", read_sku, "RV-38-40-MLN", "Which product was made.", ("skus", "itemno")),
    ColumnSpec("count", read_count, "60", "How many jigs.", ("jigs", "pieces", "qty", "quantity")),
    ColumnSpec("made", read_day, "2026-11-25", "The day it was made.", ("date", "day", "madeon")),
    ColumnSpec("materials", read_materials, "hook=HK-2291; thread=T-7",
           "The suppliers' lots that went in.", ("material", "supplierlots")),
    ColumnSpec("key", read_line, "order 118", "Names the request, so that it is carried out once."),
    ColumnSpec("note", read_line, "second pour", "A line of your own.", ("notes", "remark")),
    *(ColumnSpec(kind.replace(" ", ""), read_line, "HK-2291", f"The supplier's lot of {kind}.",
             (f"{kind.replace(' ', '')}lot",)) for kind in _KINDS),
)  # fmt: skip


def read_batches(path: Path) -> tuple[tuple[ListedBatch, ...], tuple[Finding, ...]]:
    """Return the batches of a CSV or XLSX file that can be read, and the findings on it.

    Where a cell cannot be read that is among the findings, so that all faults are told at once.

    Raises:
        LabelerError: if it is no such file.
    """
    rows, findings = _rows(*_grids(path, BATCH_COLUMNS), BATCH_COLUMNS)
    batches = tuple(_batch_of(row) for row in rows if not _lacks(row))
    findings += [
        stop("batch-incomplete", row.place, "this row lacks what a batch needs",
             expected=" and ".join(_lacks(row)))
        for row in rows
        if _lacks(row) and not row.spoiled
    ]  # fmt: skip
    if not batches and not stops_among(findings):
        findings.append(stop("batches-empty", Place(file=str(path)), "holds no batch"))
    return batches, tuple(findings)


def _lacks(row: SheetRow) -> list[str]:
    return [name for name in ("sku", "count") if name not in row.values]


def _batch_of(row: SheetRow) -> ListedBatch:
    values = row.values
    columns = {kind: kind.replace(" ", "") for kind in _KINDS}
    own = [SupplierLot(kind, values[name]) for kind, name in columns.items() if name in values]
    return ListedBatch(
        row.place,
        values["sku"],
        values["count"],
        values.get("made"),
        (*values.get("materials", ()), *own),
        values.get("key", ""),
        values.get("note", ""),
    )


_WEIGHT_HEADINGS: dict[WeightUnit, tuple[str, ...]] = {
    "g": ("weights", "g", "grams", "weightg", "weightgrams"),
    "oz": ("weights", "oz", "ounces", "weightoz"),
}

WeightText = tuple[str, Place]
"""A scale's weight as text, and its cell; what it says is judged later, all weights at once."""


def read_weight_list(path: Path, unit: WeightUnit) -> tuple[tuple[WeightText, ...], WeightUnit]:
    """Return the weights of a CSV or XLSX file as texts, and the unit its heading names.

    The weights stand under a heading such as ``weight``, ``g`` or ``oz``; without any heading,
    every cell of the file is one.

    Raises:
        LabelerError: with every cell that cannot be read, or if there is none.
    """
    texts: list[WeightText] = []
    for heading in sorted(_WEIGHT_HEADINGS, key=lambda each: each != unit):
        also = _WEIGHT_HEADINGS[heading]
        columns = (ColumnSpec("weight", plain_text, "10.4", "What one jig weighs.", also),)
        grids, findings = _grids(path, columns)
        if any(has_headings(grid, columns) for grid in grids):
            rows, findings = _rows(grids, findings, columns)
            texts += [
                (row.values["weight"], row.cells["weight"])
                for row in rows
                if "weight" in row.values
            ]
            return _weights(path, texts, findings), heading
    findings = []
    for grid in grids:
        for row_number, cells in grid.rows:
            for at, cell in enumerate(cells):
                place = grid.place(row_number, at)
                try:
                    if not is_blank(cell):
                        texts.append((plain_text(cell), place))
                except CellError as error:
                    findings.append(
                        stop("cell-misread", place, error.message, expected=error.expected)
                    )
    return _weights(path, texts, findings), unit


def _weights(
    path: Path, texts: Sequence[WeightText], findings: list[Finding]
) -> tuple[WeightText, ...]:
    if not texts:
        findings.append(stop("weights-empty", Place(file=str(path)), "holds no weight"))
    if stops_among(findings):
        raise LabelerError(findings)
    return tuple(texts)


def _grids(path: Path, columns: tuple[ColumnSpec, ...]) -> tuple[list[CellGrid], list[Finding]]:
    raw = read_file(path, LARGEST_BYTES)
    if raw.startswith(b"PK\x03\x04"):
        grids, findings = read_xlsx(path.name, raw, columns)
        return grids, list(findings)
    grid, findings = read_csv(path.name, raw, columns)
    return [grid], list(findings)


def _rows(
    grids: Iterable[CellGrid], findings: list[Finding], columns: tuple[ColumnSpec, ...]
) -> tuple[list[SheetRow], list[Finding]]:
    rows: list[SheetRow] = []
    for grid in grids:
        table = read_table(grid, columns)
        rows += table.rows
        findings += table.findings
    return rows, findings


def stops_among(findings: Iterable[Finding]) -> bool:
    """Tell whether any of the findings stops."""
    return any(finding.grade is Grade.STOP for finding in findings)
