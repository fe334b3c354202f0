"""Lots opened at the bench, for one batch or for all of a spreadsheet; and what goes into them."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.model import Catalog
from labeler.catalog.read import one_product, readable
from labeler.catalog.spreadsheet.cells import (
    CellError,
    ColumnSpec,
    Value,
    is_blank,
    plain_text,
    read_line,
    read_weight,
)
from labeler.catalog.spreadsheet.grid import (
    LARGEST_BYTES,
    CellGrid,
    SheetRow,
    has_headings,
    read_csv,
    read_sheets,
    read_table,
    read_xlsx,
)
from labeler.codes.lot_code import LotForm
from labeler.files import read_file
from labeler.findings import Finding, Grade, LabelerError, Place, note, refusal, stop
from labeler.ledger.assign import (
    MOST_PIECES,
    Batch,
    add_materials,
    assign_many,
    carried_out,
)
from labeler.ledger.lots import (
    Lot,
    SupplierLot,
    apart,
    find,
    known_kinds,
    list_lots,
    odd_kinds,
    said_back,
    snapshot_of,
    supplier_lots,
)
from labeler.ledger.promises import Promises
from labeler.ledger.store import Ledger, entries, utc_now
from labeler.units import DayOrder, WeightUnit, day_readings

_OLD = dt.timedelta(days=366)


Agree = Callable[[Sequence[Finding]], None] | None
"""Is told how things will be kept before they are, and may raise."""


@dataclass(frozen=True, slots=True)
class BatchRequest:
    """One batch that wants a lot. ``made`` is today, at the bench, if None.

    ``sure`` opens it though one just like it is there, the day is long past, or jigs that are
    promised to an order go into packs.
    """

    folder: Path
    sku: str
    count: int
    made: dt.date | None = None
    materials: tuple[str, ...] = ()
    key: str | None = None
    note: str = ""
    sure: bool = False


@dataclass(frozen=True, slots=True)
class Assigned:
    """Lots that were opened, or that the same request had opened before (``again``).

    ``agreed`` are those of the findings that were told before.
    """

    lots: tuple[Lot, ...]
    again: frozenset[str]
    findings: tuple[Finding, ...]
    location: LedgerLocation
    agreed: tuple[Finding, ...] = ()


def open_lot(request: BatchRequest, agree: Agree = None) -> Assigned:
    """Open a lot for one batch.

    Raises:
        LabelerError: with everything that stands in the way, and every doubt.
    """
    materials = supplier_lots(request.materials)
    place = Place(key="material")
    said = [each for text in request.materials for each in said_back(text, place)]
    location = ledger_location(request.folder)
    today = location.today()
    catalog, _ = readable(request.folder, today)
    made = request.made or today
    product = one_product(catalog, request.sku, said)
    batch = Batch(product, request.count, made, materials, request.key, request.note)
    row = ListedBatch(Place(key=f"lot of {product.sku}"), product.sku, batch.count, request.made,
                      materials, request.key or "", request.note)  # fmt: skip
    return _open(location, catalog, [(batch, row)], request.sure, said, agree)


def open_lots(
    folder: Path, file: Path, key: str | None = None, sure: bool = False, agree: Agree = None
) -> Assigned:
    """Open a lot for every batch in a CSV or XLSX file: all of them, or none.

    The same file read again on the same day opens no second lot.

    Args:
        folder: the catalog.
        file: the list.
        key: names this request in the place of the file's content and the day.
        sure: open them though some are just like others that are there, or of long ago.
        agree: is told how things will be kept.

    Raises:
        LabelerError: with everything that stands in the way, and every doubt.
    """
    location = ledger_location(folder)
    today = location.today()
    catalog, _ = readable(folder, today)
    raw = read_file(file, LARGEST_BYTES)
    listed, read = read_batches(file.name, raw, today)
    findings = list(read)
    request_key = key or f"{hashlib.sha256(raw).hexdigest()[:32]} {today}"
    batches: list[Batch] = []
    faults = list(findings)
    for at, row in enumerate(listed, 1):
        try:
            product = one_product(catalog, row.sku, findings, row.place)
        except LabelerError as error:
            faults += error.findings
            continue
        row_key = row.key or f"{request_key} {at}"
        batch = Batch(
            product, row.count, row.made or today, row.materials, row_key, row.note, row.codes,
            left=row.left,
        )  # fmt: skip
        faults += _batch_faults(batch, row.place)
        batches.append(batch)
    if stops_among(faults):
        raise LabelerError(faults)
    rows = list(zip(batches, listed, strict=True))
    return _open(location, catalog, rows, sure, findings, agree)


def _open(
    location: LedgerLocation, catalog: Catalog, rows: Sequence[tuple[Batch, ListedBatch]],
    sure: bool, said: Sequence[Finding], agree: Agree,
) -> Assigned:  # fmt: skip
    """Open the lots, once everything that speaks against it is out of the way.

    No code is used up for what would have to be made void at once.
    """
    refuse_odd(location, rows, sure)
    back = tuple(each for each in said if each.rule in _SAID_BACK)
    if agree:
        agree(back)
    form = LotForm(location.prefix)
    with location.opened(begin=True) as ledger:
        began = utc_now()
        refuse_a_clock_behind(ledger, began, location, rows)
        batches = [batch for batch, _ in rows]
        promises = Promises(ledger, "these packs take")
        short: list[Finding] = []

        def judge(broken: list[Finding]) -> None:
            hint = "--sure fills the packs all the same."
            if broken and not sure:
                raise LabelerError(replace(each, hint=hint) for each in broken)
            short[:] = [replace(each, grade=Grade.FIX) for each in broken]

        lots = assign_many(
            ledger, batches, form=form, catalog_digest=catalog.fingerprint,
            along=lambda connection: judge(promises.broken(connection)),
        )  # fmt: skip
        again = frozenset(lot.code for lot in lots if lot.opened_at < began)
    return Assigned(tuple(lots), again, (*said, *short), location, back)


def refuse_odd(
    location: LedgerLocation, rows: Sequence[tuple[Batch, ListedBatch]], sure: bool,
    another: str = "If it is another batch, say --sure, or give each a --key (in a list, the "
    "column key).",
) -> None:  # fmt: skip
    """Refuse batches that can't be, and unless it is sure those that hardly can.

    Args:
        location: where the ledger is kept.
        rows: the batches, and what was read of each.
        sure: whether they are to be opened though one just like them is there, or of long ago.
        another: how one says that it is another batch.

    Raises:
        LabelerError: with everything that speaks against them.
    """
    today = location.today()
    faults = [fault for batch, row in rows for fault in _batch_faults(batch, row.place)]
    faults += [
        fault for batch, row in rows for fault in _odd_day(batch.made, row.place, today, sure)
    ]
    if location.begun and not sure:
        with location.opened() as ledger:
            faults += _alike(ledger, rows, another)
    if faults:
        raise LabelerError(faults)


_SAID_BACK = ("material-apart", "material-whole", "days-read")
"""How something is kept that could be meant otherwise."""


_CLOCK_SLACK = dt.timedelta(days=1)


def refuse_a_clock_behind(
    ledger: Ledger, now: dt.datetime, location: LedgerLocation,
    rows: Iterable[tuple[Batch, ListedBatch]],
) -> None:  # fmt: skip
    """Refuse to date a lot by a clock that stands before the ledger's last change.

    Two benches' clocks differ by minutes; an empty battery sets one back by years.

    Raises:
        LabelerError: if it does, and a batch has no day of its own.
    """
    last = entries(ledger, last=1)
    by_clock = any(row.made is None for _, row in rows)
    if by_clock and last and now < last[0].at - _CLOCK_SLACK:
        raise refusal(
            "clock-behind",
            Place(key="made"),
            "this computer's clock is behind, so no lot is dated by it",
            found=location.clock(now),
            expected=f"after {location.clock(last[0].at)}, when the ledger was last changed",
            hint="Set the clock, or say the day: --made, or the column made.",
        )


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
    if batch.left is not None and batch.left > batch.count:
        yield stop(
            "left-too-many", place, "more are left than were made", found=str(batch.left),
            expected=f"at most {batch.count}",
        )  # fmt: skip
    yield from odd_kinds(batch.product, batch.materials, place)


def _odd_day(made: dt.date, place: Place, today: dt.date, sure: bool) -> Iterator[Finding]:
    if made > today:
        yield stop(
            "lot-day",
            place,
            "the day it was made lies in the future",
            found=made.isoformat(),
            expected=f"a day up to {today.isoformat()}",
        )
    elif today - made > _OLD and not sure:
        yield stop(
            "lot-day",
            place,
            "the day it was made is more than a year ago",
            found=made.isoformat(),
            hint="If it is so, say --sure.",
        )


def _alike(
    ledger: Ledger, rows: Sequence[tuple[Batch, ListedBatch]], another: str
) -> Iterator[Finding]:
    """Question a batch just like one that has a lot: it may be the same, asked for twice.

    A key says that it is another request, or else the very same one.
    """
    days = [batch.made for batch, _ in rows]
    before = {
        (lot.sku, lot.count, lot.made, lot.materials, lot.note): lot
        for lot in list_lots(ledger, since=min(days), until=max(days))
        if not lot.void
    }
    done = carried_out(ledger, [batch for batch, _ in rows])
    for batch, row in rows:
        went_in = tuple(sorted(set(batch.materials)))
        content = batch.product.sku, batch.count, batch.made, went_in, " ".join(batch.note.split())
        twin = before.get(content)
        if twin and not row.key and batch.key not in done:
            yield stop(
                "lot-alike",
                row.place,
                f"lot {twin.code} is just like this one: perhaps it is the same batch",
                found=f"{twin.count} of {twin.sku}, made {twin.made}",
                hint=another,
            )


def add_to_lot(
    folder: Path, code: str, texts: Sequence[str], instead: str | None = None, agree: Agree = None
) -> Lot:
    """Note suppliers' lots that went into a lot, once it is open.

    Args:
        folder: the catalog.
        code: the lot's.
        texts: what went in, each as ``KIND=SUPPLIER-LOT``.
        instead: what was noted by mistake, and is struck out.
        agree: is told how things will be kept.

    Raises:
        LabelerError: if there is no such lot, a text does not say what went in, or what is to be
            struck out is not noted.
    """
    went_in = supplier_lots(texts)
    wrong = None if instead is None else SupplierLot.parse(instead)
    with ledger_location(folder).opened() as ledger:
        lot = find(ledger, code)
        product = snapshot_of(ledger, lot)
        place = Place(key=f"lot {lot.code}")
        if faults := list(odd_kinds(product, went_in, place)):
            raise LabelerError(faults)
        if agree:
            agree([each for text in texts for each in said_back(text, place)])
        return add_materials(ledger, lot.code, went_in, wrong)


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
    said: tuple[Finding, ...] = ()
    codes: tuple[str, ...] = ()
    """What the batch was called before, such as a code that hangs in the shops."""
    left: int | None = None
    """How many of it are still here; None where that is not said."""


def read_count(value: Value) -> int:
    """Return how many jigs were made."""
    from labeler.catalog.spreadsheet.own_cells import exact_count  # only for a list of batches

    try:
        return exact_count(value)
    except CellError as error:
        raise CellError("this is no number of jigs", error.expected) from None


def read_day(value: Value) -> dt.date | str:
    """Return a day, or the text of one that the other rows may have to settle."""
    if isinstance(value, dt.datetime):
        return value.date()
    if isinstance(value, dt.date):
        return value
    text = plain_text(value)
    try:
        day_readings(text, dt.date.max)
    except ValueError:
        raise CellError("this is no day", _A_DAY) from None
    return text


def _settle_days(rows: Sequence[SheetRow], today: dt.date) -> Iterator[Finding]:
    """Put days in the place of their texts, read in the one order that the other rows show."""
    written = [row for row in rows if isinstance(row.values.get("made"), str)]
    read = [(row, day_readings(row.values["made"], today)) for row in written]
    orders: set[DayOrder] = {order for _, days in read if len(days) == 1 for order in days if order}
    clear = next((row for row, days in read if orders & days.keys() and len(days) == 1), None)
    settled: list[str] = []
    for row, days in read:
        text = row.values["made"]
        if len(days) > 1 and len(orders) == 1:
            row.values["made"] = days[next(iter(orders))]
            settled.append(f"{text} as {row.values['made']}")
        elif len(days) == 1:
            (row.values["made"],) = days.values()
        else:
            yield stop(
                "day-unclear",
                row.cells["made"],
                "day and month can't be told apart here"
                + (", and the other rows are written in both orders" if orders else ""),
                found=text,
                expected=" or ".join(each.isoformat() for each in days.values()),
                hint="Write the month in letters, or the day as 2026-11-25.",
            )
    if settled and clear is not None:
        yield note(
            "days-read",
            clear.cells["made"],
            f"this day shows how the others are written: {next(iter(orders))}",
            found="; ".join(settled),
        )


def read_materials(value: Value) -> tuple[str, ...]:
    """Return suppliers' lots, ``hook=HK-2291; thread=T-7``, each as it is written."""
    parts = [part for part in re.split(r"[;\n]+", plain_text(value)) if part.strip()]
    try:
        supplier_lots(parts)
    except LabelerError as error:
        first = error.findings[0]
        raise CellError(first.message, first.expected) from error
    return tuple(parts)


_ALSO: dict[str, tuple[str, ...]] = {
    "alloy": ("headpour", "pour", "pourno", "heads", "headlot", "metal", "lead", "ingot", "melt"),
    "silicone": ("skirt", "skirts", "skirtlot", "skirtbag"),
}
"""What else makers call a column of a kind of material. Common practice, no published source."""


_OF_A_LOT = ("", "lot", "bag", "box", "from", "used", "usedfrom", "lotno", "batch", "source")


def _kind_column(kind: str) -> ColumnSpec:
    name = kind.replace(" ", "")
    called = (name, f"{name}s", *_ALSO.get(kind, ()))
    also = tuple(word + end for word in called for end in _OF_A_LOT)[1:]
    return ColumnSpec(name, read_line, "HK-2291", f"The supplier's lot of {kind}.", also)


BATCH_COLUMNS = (
    ColumnSpec("sku", read_line, "RV-38-40-MLN", "Which product was made, by its SKU or words.",
               ("skus", "itemno", "product", "jig", "pattern", "item", "name", "what",
                "description")),
    ColumnSpec("count", read_count, "60", "How many jigs.",
               ("jigs", "pieces", "pcs", "qty", "quantity", "tied", "howmany", "number")),
    ColumnSpec("made", read_day, "2026-11-25", "The day it was made.",
               ("date", "day", "madeon", "when", "tiedon", "datemade")),
    ColumnSpec("materials", read_materials, "hook=HK-2291; thread=T-7",
               "The suppliers' lots that went in.", ("material", "supplierlots")),
    ColumnSpec("key", read_line, "order 118", "Names the request, so that it is carried out once."),
    ColumnSpec("note", read_line, "second pour", "A line of your own.",
               ("notes", "remark", "remarks", "comment", "comments")),
    ColumnSpec("code", read_line, "A7", "What the batch was called before; labels may bear it.",
               ("oldcode", "batch", "batchno", "batchnumber", "batchcode", "lot", "lotno",
                "lotnumber", "lotcode", "oldlot", "tag", "tags", "tagno", "tagnumber", "tagcode",
                "batchtag", "bagtag", "batchid", "lotid", "stamp")),
    ColumnSpec("left", read_count, "18", "How many of an old batch are still here.",
               ("onhand", "remaining", "stock", "instock", "have")),
    ColumnSpec("weight", lambda value: str(read_weight(value)), "3/8 oz",
               "The weight, where it is not among the product's words.", ("size", "wt", "oz")),
    ColumnSpec("colour", read_line, "melon",
               "The colour, where it is not among the product's words.", ("color",)),
    *map(_kind_column, _KINDS),
)  # fmt: skip


def read_batches(
    name: str, raw: bytes, today: dt.date, from_above: bool = False
) -> tuple[tuple[ListedBatch, ...], tuple[Finding, ...]]:
    """Return the batches of a CSV or XLSX file that can be read, and the findings on it.

    Where a cell cannot be read that is among the findings, so that all faults are told at once.

    Args:
        name: what messages call the file.
        raw: what it holds.
        today: a day without its year is the last such day up to this one.
        from_above: whether a row without a day is of the day of the row above it, and a row of sums
            is left out, as in a log kept by hand.

    Raises:
        LabelerError: if it is no such file.
    """
    grids, findings = _grids(name, raw, BATCH_COLUMNS)
    unread = dict[Place, int]()
    rows, findings = _rows(grids, findings, BATCH_COLUMNS, unread)
    if from_above:
        findings = [_ask_what(each) if each.place in unread else each for each in findings]
        rows = [row for row in rows if not _SUM.fullmatch(row.values.get("sku", ""))]
        findings += _days_from_above(rows)
    findings += _settle_days(rows, today)
    batches = tuple(
        _batch_of(row)
        for row in rows
        if not _lacks(row) and not isinstance(row.values.get("made"), str)
    )
    findings += [each for batch in batches for each in batch.said]
    findings += [
        stop("batch-incomplete", row.place, "this row lacks what a batch needs",
             expected=" and ".join(_lacks(row)))
        for row in rows
        if _lacks(row) and not row.spoiled
    ]  # fmt: skip
    if not batches and not stops_among(findings):
        findings.append(stop("batches-empty", Place(file=name), "holds no batch"))
    return batches, tuple(findings)


_SUM = re.compile(r"(grand |sub-?)?(totals?|sum)\W*", re.IGNORECASE)


ASKED_COLUMN = "batch-column"
"""The rule of a column of a log that may say what a batch was called, or what went in."""


def _ask_what(unread: Finding) -> Finding:
    """Return what stops at a column that is not read, unless it is clear what else it is for."""
    from labeler.catalog.spreadsheet.own_cells import field_of, other_use  # only for a log

    heading = unread.found.strip('"') if unread.rule == "unknown-column" else ""
    if other_use(heading) or field_of(heading)[0] in _NO_TRACE:
        return unread
    return stop(
        ASKED_COLUMN, unread.place, "what does this column hold? It may be what the batches are "
        "called, or what went into them, and it is not read", found=unread.found,
        expected="over it: code, hook, alloy or another material, note, or left",
        hint=unread.hint or "If it is none of these: labeler lot opening --from FILE --leave-out.",
    )  # fmt: skip


_NO_TRACE = frozenset({"price", "wholesale", "gtin", "photo", "status", "retired", "pack"})


def _days_from_above(rows: Sequence[SheetRow]) -> Iterator[Finding]:
    """Put the day of the row above where a row has none."""
    day, given = None, 0
    for row in rows:
        if "made" in row.values:
            day = row.values["made"], row.cells["made"]
        elif day is not None and not row.spoiled:
            row.values["made"], row.cells["made"] = day
            given += 1
    if given:
        yield note(
            "days-from-above", rows[0].place, "rows without a day are of the day above them",
            found=f"{given} rows",
        )  # fmt: skip


def _lacks(row: SheetRow) -> list[str]:
    return [name for name in ("sku", "count") if name not in row.values]


def _batch_of(row: SheetRow) -> ListedBatch:
    values = row.values
    columns = {kind: kind.replace(" ", "") for kind in _KINDS}
    own = [f"{kind}={values[name]}" for kind, name in columns.items() if name in values]
    texts = (*values.get("materials", ()), *own)
    return ListedBatch(
        row.place,
        " ".join(values[name] for name in ("sku", "weight", "colour") if name in values),
        values["count"],
        values.get("made"),
        supplier_lots(texts),
        values.get("key", ""),
        values.get("note", ""),
        tuple(each for text in texts for each in said_back(text, row.place)),
        tuple(apart(values["code"])) if "code" in values else (),
        values.get("left"),
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
    texts, findings = list[WeightText](), list[Finding]()
    raw = read_file(path, LARGEST_BYTES)
    for heading in sorted(_WEIGHT_HEADINGS, key=lambda each: each != unit):
        also = _WEIGHT_HEADINGS[heading]
        columns = (ColumnSpec("weight", plain_text, "10.4", "What one jig weighs.", also),)
        grids, found = _grids(path.name, raw, columns)
        if any(has_headings(grid, columns) for grid in grids):
            rows, findings = _rows(grids, found, columns)
            texts += [
                (row.values["weight"], row.cells["weight"])
                for row in rows
                if "weight" in row.values
            ]
            unit = heading
            break
    else:
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
    if not texts:
        findings.append(stop("weights-empty", Place(file=str(path)), "holds no weight"))
    if stops_among(findings):
        raise LabelerError(findings)
    return tuple(texts), unit


_XLS = b"\xd0\xcf\x11\xe0"
_FIRST_NAME = slice(30, 38)
"""Where an archive's first file has its name: in an ODS it is ``mimetype``.
Source: OASIS OpenDocument 1.3, part 2, 3.3."""


def _grids(
    name: str, raw: bytes, columns: tuple[ColumnSpec, ...]
) -> tuple[list[CellGrid], list[Finding]]:
    open_document = raw[_FIRST_NAME] == b"mimetype"
    if open_document or raw.startswith(_XLS):
        every, findings = read_sheets(name, raw)
        return [each for each in every if has_headings(each, columns)] or every[:1], list(findings)
    if raw.startswith(b"PK\x03\x04"):
        grids, findings = read_xlsx(name, raw, columns)
        return grids, list(findings)
    grid, findings = read_csv(name, raw, columns)
    return [grid], list(findings)


def _rows(
    grids: Iterable[CellGrid], findings: list[Finding], columns: tuple[ColumnSpec, ...],
    unread: dict[Place, int] | None = None,
) -> tuple[list[SheetRow], list[Finding]]:  # fmt: skip
    rows: list[SheetRow] = []
    for grid in grids:
        table = read_table(grid, columns)
        rows += table.rows
        findings += table.findings
        if unread is not None:
            unread |= table.unread
    return rows, findings


def stops_among(findings: Iterable[Finding]) -> bool:
    """Tell whether any of the findings stops."""
    return any(finding.grade is Grade.STOP for finding in findings)
