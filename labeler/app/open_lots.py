"""Lots opened at the bench, for one batch or for all of a spreadsheet; and what goes into them."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from labeler.app.lists import read_batches, stops_among
from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import choose, readable
from labeler.codes.lot_code import LotForm
from labeler.findings import Finding, LabelerError, Place, fix, note, stop
from labeler.ledger.assign import MOST_PIECES, Batch, add_materials, assign_many
from labeler.ledger.lots import Lot, find, list_lots, odd_kinds, snapshot_of, supplier_lots
from labeler.ledger.store import Ledger, utc_now

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
    return _open(location, catalog, [batch], [Place(key=f"lot of {product.sku}")])


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
        faults += _faults(batch, row.place)
        batches.append(batch)
    if stops_among(faults):
        raise LabelerError(faults)
    done = _open(location, catalog, batches, [row.place for row in listed])
    return Assigned(done.lots, done.again, (*findings, *done.findings), location)


def _open(
    location: LedgerLocation, catalog: Catalog, batches: Sequence[Batch], places: Sequence[Place]
) -> Assigned:
    faults = [
        fault
        for batch, place in zip(batches, places, strict=True)
        for fault in _faults(batch, place)
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
        lots = assign_many(ledger, batches, form=form, catalog=catalog.fingerprint)
        again = frozenset(lot.code for lot in lots if lot.opened_at < began)
        findings += _alike(ledger, lots, again, places)
    return Assigned(tuple(lots), again, tuple(findings), location)


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


def _faults(batch: Batch, place: Place) -> Iterator[Finding]:
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
