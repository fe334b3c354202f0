"""Lots opened at the bench, for one batch or for all of a spreadsheet."""

from __future__ import annotations

import datetime as dt
import difflib
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from labeler.bench.batches import KINDS, read_batches, stops_among
from labeler.bench.ledgers import Books, books_of
from labeler.bench.printing import readable
from labeler.catalog.choose import choose
from labeler.catalog.model import Catalog, Product
from labeler.codes.lotcode import LotForm
from labeler.findings import Finding, LabelerError, Place, fix, note, stop
from labeler.ledger.assign import MOST_PIECES, Batch, assign_many
from labeler.ledger.lots import Lot, SupplierLot, list_lots
from labeler.ledger.store import Ledger, utc_now

_NEAR_KIND = 0.8
"""How alike a kind of material must be to a known one to pass for a slip."""

_OLD = dt.timedelta(days=366)


@dataclass(frozen=True, slots=True)
class BatchWish:
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
    books: Books


def open_lot(wish: BatchWish) -> Assigned:
    """Open a lot for one batch.

    Raises:
        LabelerError: with everything that stands in the way.
    """
    materials = supplier_lots(wish.materials)
    catalog, _ = readable(wish.folder)
    books = books_of(wish.folder)
    made = wish.made or books.today()
    batch = Batch(_one_product(catalog, wish.sku), wish.count, made, materials, wish.key, wish.note)
    return _open(books, catalog, [batch], [Place(key=f"lot of {batch.product.sku}")])


def supplier_lots(texts: Sequence[str]) -> tuple[SupplierLot, ...]:
    """Read what went into a lot, each as ``KIND=SUPPLIER-LOT``.

    Raises:
        LabelerError: with everything that does not say so.
    """
    found: list[SupplierLot] = []
    faults: list[Finding] = []
    for text in texts:
        try:
            found.append(SupplierLot.parse(text))
        except LabelerError as error:
            faults += error.findings
    if faults:
        raise LabelerError(faults)
    return tuple(found)


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
    books = books_of(folder)
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
    books: Books, catalog: Catalog, batches: Sequence[Batch], places: Sequence[Place]
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
    form = LotForm(books.prefix)
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


def odd_kinds(product: Product, went_in: Iterable[SupplierLot], place: Place) -> Iterable[Finding]:
    """Refuse a kind of material that is nearly a known one; others are the maker's own."""
    known = {*KINDS, *(name.casefold() for name in product.materials)}
    known |= {layer.shade.casefold() for layer in product.colour.layers}
    for each in went_in:
        near = difflib.get_close_matches(each.kind, known, n=1, cutoff=_NEAR_KIND)
        near += [kind for kind in known if sorted(kind) == sorted(each.kind)]
        if each.kind not in known and near:
            yield stop(
                "material-kind",
                place,
                "this kind of material looks like a slip",
                found=str(each),
                hint=f"Did you mean {near[0]}={each.lot}?",
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
