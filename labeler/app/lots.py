"""Lots at the bench: listed, weighed, withdrawn, copied."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import choose, readable
from labeler.catalog.spreadsheet.cells import (
    CellError,
    Value,
    is_blank,
    plain_text,
    read_line,
    read_sku,
)
from labeler.catalog.spreadsheet.columns import ColumnSpec
from labeler.catalog.spreadsheet.grid import (
    LARGEST_BYTES,
    CellGrid,
    SheetRow,
    has_headings,
    read_csv,
    read_table,
    read_xlsx,
)
from labeler.codes import lot_code
from labeler.files import read_file
from labeler.findings import Finding, Grade, LabelerError, Place, fix, note, stop
from labeler.ledger.assign import MOST_PIECES, Batch, add_materials, assign_many, note_lost, void
from labeler.ledger.backup import backup
from labeler.ledger.handbook133 import sample_size
from labeler.ledger.lots import Lot, find, list_lots, snapshot_of
from labeler.ledger.materials import SupplierLot, known_kinds, odd_kinds, supplier_lots
from labeler.ledger.runs import PastRun, past_runs
from labeler.ledger.store import JournalEntry, Ledger, entries, utc_now
from labeler.ledger.trace import Story, trace
from labeler.ledger.weigh import WeighIn, read_weights, weigh, weigh_ins
from labeler.units import Weight, WeightUnit

# ----------------------------------------------------------------------------
# Lists from a spreadsheet: batches that want a lot, and weights from the scale.


@dataclass(frozen=True, slots=True)
class Listed:
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


_A_DAY = "year, month and day, such as 2026-11-25"


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
             (f"{kind.replace(' ', '')}lot",)) for kind in known_kinds()),
)  # fmt: skip


def read_batches(path: Path) -> tuple[tuple[Listed, ...], tuple[Finding, ...]]:
    """Return the batches of a CSV or XLSX file that can be read, and what is to be said of it.

    Where a cell cannot be read that is among the findings, so that all faults are told at once.

    Raises:
        LabelerError: if it is no such file.
    """
    rows, findings = _rows(path, BATCH_COLUMNS)
    batches = tuple(_batch(row) for row in rows if not _lacks(row))
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


def _batch(row: SheetRow) -> Listed:
    says = row.values
    columns = {kind: kind.replace(" ", "") for kind in known_kinds()}
    own = [SupplierLot(kind, says[name]) for kind, name in columns.items() if name in says]
    return Listed(
        row.place,
        says["sku"],
        says["count"],
        says.get("made"),
        (*says.get("materials", ()), *own),
        says.get("key", ""),
        says.get("note", ""),
    )


def _weight_text(value: Value) -> str:
    """A scale's weight as text; what it says is judged later, all weights at once."""
    return plain_text(value)


def weight_columns(unit: WeightUnit) -> tuple[ColumnSpec, ...]:
    """Return the one column of a list of weights, and the headings it goes by."""
    also = {"g": ("g", "grams", "weightg", "weightgrams"), "oz": ("oz", "ounces", "weightoz")}
    return (
        ColumnSpec(
            "weight", _weight_text, "10.4", "What one jig weighs.", ("weights", *also[unit])
        ),
    )


Found = tuple[str, Place]
"""A text, and the cell in which it stands."""


def read_weight_list(path: Path, unit: WeightUnit) -> tuple[tuple[Found, ...], WeightUnit]:
    """Return the weights of a CSV or XLSX file as texts, and the unit its heading names.

    The weights stand under a heading such as ``weight``, ``g`` or ``oz``; without any heading,
    every cell of the file is one.

    Raises:
        LabelerError: with every cell that cannot be read, or if there is none.
    """
    both: tuple[WeightUnit, WeightUnit] = ("g", "oz") if unit == "g" else ("oz", "g")
    for asked in both:
        grids, _ = _grids(path, weight_columns(asked))
        if any(has_headings(grid, weight_columns(asked)) for grid in grids):
            rows, findings = _rows(path, weight_columns(asked))
            texts = [
                (row.values["weight"], row.cells["weight"])
                for row in rows
                if "weight" in row.values
            ]
            return _some(path, texts, findings), asked
    return _bare(path, grids), unit


def _bare(path: Path, grids: Iterable[CellGrid]) -> tuple[Found, ...]:
    texts: list[Found] = []
    findings: list[Finding] = []
    cells = (
        (grid.place(row, at), cell)
        for grid in grids
        for row, cells in grid.rows
        for at, cell in enumerate(cells)
        if not is_blank(cell)
    )
    for place, cell in cells:
        try:
            texts.append((plain_text(cell), place))
        except CellError as error:
            findings.append(stop("cell-misread", place, error.message, expected=error.expected))
    return _some(path, texts, findings)


def _some(path: Path, texts: list[Found], findings: list[Finding]) -> tuple[Found, ...]:
    if not texts:
        findings.append(stop("weights-empty", Place(file=str(path)), "holds no weight"))
    if stops_among(findings):
        raise LabelerError(findings)
    return tuple(texts)


def _rows(path: Path, columns: tuple[ColumnSpec, ...]) -> tuple[list[SheetRow], list[Finding]]:
    grids, findings = _grids(path, columns)
    rows: list[SheetRow] = []
    for grid in grids:
        table = read_table(grid, columns)
        rows += table.rows
        findings += table.findings
    return rows, findings


def _grids(path: Path, columns: tuple[ColumnSpec, ...]) -> tuple[list[CellGrid], list[Finding]]:
    raw = read_file(path, LARGEST_BYTES)
    if raw.startswith(b"PK\x03\x04"):
        grids, findings = read_xlsx(path.name, raw, columns)
        return grids, list(findings)
    grid, findings = read_csv(path.name, raw, columns)
    return [grid], list(findings)


def stops_among(findings: Iterable[Finding]) -> bool:
    """Tell whether any of the findings stops."""
    return any(finding.grade is Grade.STOP for finding in findings)


# ----------------------------------------------------------------------------
# Lots opened at the bench, for one batch or for all of a spreadsheet.

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
    books: LedgerLocation


def open_lot(wish: BatchRequest) -> Assigned:
    """Open a lot for one batch.

    Raises:
        LabelerError: with everything that stands in the way.
    """
    materials = supplier_lots(wish.materials)
    catalog, _ = readable(wish.folder)
    books = ledger_location(wish.folder)
    made = wish.made or books.today()
    batch = Batch(_one_product(catalog, wish.sku), wish.count, made, materials, wish.key, wish.note)
    return _open(books, catalog, [batch], [Place(key=f"lot of {batch.product.sku}")])


def open_lots(folder: Path, file: Path, key: str | None = None) -> Assigned:
    """Open a lot for every batch in a CSV or XLSX file: all of them, or none.

    The same file read again on the same day opens nothing anew.

    Args:
        folder: the catalog.
        file: the list.
        key: names this request in the place of the file's content and the day.

    Raises:
        LabelerError: with everything that stands in the way.
    """
    catalog, _ = readable(folder)
    listed, findings = read_batches(file)
    books = ledger_location(folder)
    today = books.today()
    named = key or f"{hashlib.sha256(file.read_bytes()).hexdigest()[:32]} {today}"
    batches: list[Batch] = []
    faults = list(findings)
    for at, row in enumerate(listed, 1):
        try:
            product = _one_product(catalog, row.sku, row.place)
        except LabelerError as error:
            faults += error.findings
            continue
        request = row.key or f"{named} {at}"
        batch = Batch(product, row.count, row.made or today, row.materials, request, row.note)
        faults += _faults(batch, row.place)
        batches.append(batch)
    if stops_among(faults):
        raise LabelerError(faults)
    done = _open(books, catalog, batches, [row.place for row in listed])
    return Assigned(done.lots, done.again, (*findings, *done.findings), books)


def _open(
    books: LedgerLocation, catalog: Catalog, batches: Sequence[Batch], places: Sequence[Place]
) -> Assigned:
    faults = [
        fault
        for batch, place in zip(batches, places, strict=True)
        for fault in _faults(batch, place)
    ]
    if faults:
        raise LabelerError(faults)
    said = [
        finding
        for batch, place in zip(batches, places, strict=True)
        for finding in _odd_day(batch, place, books.today())
    ]
    form = lot_code.LotForm(books.prefix)
    with books.opened(begin=True) as ledger:
        began = utc_now()
        lots = assign_many(ledger, batches, form=form, catalog=catalog.fingerprint)
        again = frozenset(lot.code for lot in lots if lot.opened_at < began)
        said += _alike(ledger, lots, again, places)
    return Assigned(tuple(lots), again, tuple(said), books)


def _one_product(catalog: Catalog, sku: str, place: Place | None = None) -> Product:
    """Return the one product that ``sku`` names; a pattern of SKUs is no batch."""
    try:
        found = choose(catalog, [sku])
    except LabelerError as error:
        if place is None:
            raise
        raise LabelerError(replace(finding, place=place) for finding in error.findings) from error
    if len(found) > 1:
        raise LabelerError(
            stop(
                "lot-of-several",
                place or Place(key="sku"),
                "a lot is of one product",
                found=f"{sku}, which means {len(found)}",
                expected="one SKU",
            )
        )
    return found[0]


def _faults(batch: Batch, place: Place) -> list[Finding]:
    return [*_odd_count(batch, place), *odd_kinds(batch.product, batch.materials, place)]


def _odd_count(batch: Batch, place: Place) -> Iterable[Finding]:
    """Refuse before a ledger is begun what it would refuse."""
    if not 1 <= batch.count <= MOST_PIECES:
        yield stop(
            "lot-count",
            place,
            "a lot cannot have this many jigs",
            found=str(batch.count),
            expected=f"1 to {MOST_PIECES:,}",
        )


def _odd_day(batch: Batch, place: Place, today: dt.date) -> Iterable[Finding]:
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
) -> Iterable[Finding]:
    """Point out a lot just like one from before: it may be the same batch, asked for twice."""
    new = {lot.code for lot in opened} - again
    days = [lot.made for lot in opened if lot.code in new]
    if not days:
        return
    before: dict[object, Lot] = {
        _of(lot): lot
        for lot in list_lots(ledger, since=min(days), until=max(days))
        if lot.code not in new and not lot.void
    }
    for lot, place in zip(opened, places, strict=True):
        twin = before.get(_of(lot))
        if twin and lot.code in new:
            yield note(
                "lot-alike",
                place,
                f"lot {lot.code} is just like one that was opened before",
                found=f"lot {twin.code}",
                hint="If it is the same batch, void one of them. A --key, or the column key, names "
                "a request, so that it is carried out once.",
            )


def _of(lot: Lot) -> object:
    return lot.sku, lot.count, lot.made, lot.materials, lot.note


@dataclass(frozen=True, slots=True)
class LotLine:
    """One lot and what became of it."""

    lot: Lot
    story: Story


def lots_of(
    folder: Path, *, sku: str = "", since: dt.date | None = None, until: dt.date | None = None
) -> tuple[tuple[LotLine, ...], LedgerLocation]:
    """Return the lots in the order of their days, void ones among them.

    Args:
        folder: the catalog.
        sku: one product's lots only.
        since: the first day on which one was made.
        until: the last.

    Raises:
        LabelerError: if the ledger cannot be read. Where there is none yet there is no lot.
    """
    books = ledger_location(folder)
    if not books.begun:
        return (), books
    with books.opened() as ledger:
        found = list_lots(ledger, sku=sku.strip().upper(), since=since, until=until)
        if not found:
            return (), books
        days = f"{since or ''}..{until or found[-1].made}"
        stories = {story.lot: story for story in trace(ledger, days).stories}
    return tuple(LotLine(lot, stories[lot.code]) for lot in found), books


@dataclass(frozen=True, slots=True)
class LotStory:
    """Everything that the ledger knows of one lot."""

    lot: Lot
    product: Product
    story: Story
    weigh_ins: tuple[WeighIn, ...]
    runs: tuple[PastRun, ...]
    journal: tuple[JournalEntry, ...]
    books: LedgerLocation


def story_of(folder: Path, code: str) -> LotStory:
    """Return everything that the ledger knows of one lot.

    Raises:
        LabelerError: if there is no such lot; the hint names the nearest codes that exist.
    """
    books = ledger_location(folder)
    with books.opened() as ledger:
        lot = find(ledger, code)
        return LotStory(
            lot,
            snapshot_of(ledger, lot),
            next(story for story in trace(ledger, lot.code).stories if story.lot == lot.code),
            tuple(weigh_ins(ledger, lot.code)),
            tuple(past_runs(ledger, lot=lot.code)),
            tuple(entries(ledger, lot=lot.code)),
            books,
        )


def journal_of(
    folder: Path, code: str = "", since: dt.date | None = None, last: int | None = None
) -> tuple[tuple[JournalEntry, ...], LedgerLocation]:
    """Return the changes to the ledger, oldest first.

    Args:
        folder: the catalog.
        code: one lot's changes only.
        since: the first day, at the bench.
        last: only so many of the newest.

    Raises:
        LabelerError: if there is no such lot, or no ledger.
    """
    books = ledger_location(folder)
    with books.opened() as ledger:
        lot = find(ledger, code).code if code else ""
        found = entries(ledger, lot=lot, since=books.begin_of(since) if since else None, last=last)
        return tuple(found), books


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


def lose_lots(folder: Path, codes: Sequence[str]) -> list[str]:
    """Have codes that are on bags and not in the ledger never be given out again.

    Raises:
        LabelerError: with every text that is no lot code or not lost.
    """
    with ledger_location(folder).opened(begin=True) as ledger:
        return note_lost(ledger, codes)


def void_lot(folder: Path, code: str, why: str) -> tuple[Lot, LedgerLocation]:
    """Withdraw a lot code for good; nothing is deleted.

    Raises:
        LabelerError: if there is no such lot, or pieces of it are with dealers.
    """
    books = ledger_location(folder)
    with books.opened() as ledger:
        return void(ledger, code, why), books


@dataclass(frozen=True, slots=True)
class SampleAsked:
    """How many jigs of a lot to weigh."""

    lot: Lot
    label: Weight
    sample: int


def sample_of(folder: Path, code: str) -> SampleAsked:
    """Return how many jigs of a lot to weigh, and what each should weigh.

    Raises:
        LabelerError: if there is no such lot.
    """
    with ledger_location(folder).opened() as ledger:
        lot = find(ledger, code)
        return SampleAsked(lot, snapshot_of(ledger, lot).weight, sample_size(lot.count))


@dataclass(frozen=True, slots=True)
class WeighRequest:
    """Weights of a lot's sample: typed, in a file, or both.

    ``unit`` is that of a bare number; ``sure`` takes weights that look like a slip as they are.
    """

    folder: Path
    code: str
    texts: tuple[str, ...] = ()
    file: Path | None = None
    unit: WeightUnit = "g"
    sure: bool = False
    key: str | None = None


def weigh_lot(wish: WeighRequest) -> tuple[WeighIn, Lot]:
    """Judge a lot by the weights of a sample, and keep the weigh-in with the lot.

    Raises:
        LabelerError: if there is no such lot, a weight cannot be read or is questioned.
    """
    weights = list(read_weights(wish.texts, wish.unit))
    if wish.file is not None:
        found, unit = read_weight_list(wish.file, wish.unit)
        weights += read_weights([text for text, _ in found], unit, [place for _, place in found])
    with ledger_location(wish.folder).opened() as ledger:
        kept = weigh(ledger, wish.code, weights, sure=wish.sure, key=wish.key)
        return kept, find(ledger, kept.lot)


def back_up(folder: Path, file: Path) -> Path:
    """Copy the ledger, whole, while others may write to it.

    Raises:
        LabelerError: if there is none, or the copy cannot be made.
    """
    with ledger_location(folder).opened() as ledger:
        return backup(ledger, file)
