"""Opens lots: gives out codes, each once and for ever, and keeps the product as it is now."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import Connection
from sqlalchemy.dialects import postgresql, sqlite

from labeler.catalog.model import Product
from labeler.codes.lotcode import LotForm
from labeler.findings import Finding, LabelerError, Place, stop
from labeler.ledger.journal import enter
from labeler.ledger.lots import Lot, SupplierLot, load, lot_id
from labeler.ledger.names import remember_names
from labeler.ledger.requests import Request, answer_to, once, remember
from labeler.ledger.schema import as_text, days, keep_once, lots, materials, snapshots
from labeler.ledger.store import Ledger
from labeler.ledger.texts import a_line, fold

MOST_PIECES = 1_000_000
"""In one lot; more is a slip of the key."""


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch that wants a lot code.

    Attributes:
        product: what was made, as the catalog describes it now.
        count: how many pieces.
        made: the day, in the maker's own zone.
        materials: the suppliers' lots that went in.
        key: names this request, so that making it twice gives the same lot; None makes it new.
        note: what the maker wants to remember.
    """

    product: Product
    count: int
    made: date
    materials: tuple[SupplierLot, ...] = ()
    key: str | None = None
    note: str = ""


@dataclass(slots=True)
class _Opening:
    """What one call needs while it opens lots."""

    ledger: Ledger
    form: LotForm
    catalog: str
    kept: dict[int, str] = field(default_factory=dict)
    """The fingerprint of each product's snapshot, by the product's identity."""
    next_number: dict[date, int] = field(default_factory=dict)


def assign(ledger: Ledger, batch: Batch, *, form: LotForm | None = None, catalog: str = "") -> Lot:
    """Open a lot for one batch. See `assign_many`."""
    return assign_many(ledger, [batch], form=form, catalog=catalog)[0]


def assign_many(
    ledger: Ledger,
    batches: Sequence[Batch],
    *,
    form: LotForm | None = None,
    catalog: str = "",
) -> list[Lot]:
    """Open a lot for every batch, all of them or none.

    Args:
        ledger: an open ledger.
        batches: in the order in which they get their numbers.
        form: how the maker's lot codes are written; None takes digits without a prefix.
        catalog: the fingerprint of the catalog.

    Returns:
        The lots, in the order of the batches; for a key used before, the lot it got then.

    Raises:
        LabelerError: if a batch is unsound (all faults at once), a key was used for something
            else, or the ledger cannot be written.
    """
    if faults := [fault for at, batch in enumerate(batches, 1) for fault in _faults(batch, at)]:
        raise LabelerError(faults)
    asked = [(_request(batch), batch) for batch in batches]
    first: dict[str, tuple[Request, Batch]] = {}
    for request, batch in asked:
        first.setdefault(request.key, (request, batch))
    chosen = form or LotForm()

    def attempt(connection: Connection) -> list[int]:
        opening = _Opening(ledger, chosen, catalog)
        answers = {key: answer_to(connection, request) for key, (request, _) in first.items()}
        new = [pair for key, pair in first.items() if answers[key] is None]
        for _, batch in new:
            opening.kept[id(batch.product)] = _keep(connection, batch.product)
        remember_names(connection, (name for _, batch in new for name in _names(batch)))
        _take_numbers(connection, opening, (batch.made for _, batch in new))
        for request, batch in new:
            answers[request.key] = _open(connection, opening, batch)
            remember(connection, request, answers[request.key])
        again = [request for request, _ in asked if request is not first[request.key][0]]
        answers |= {request.key: answer_to(connection, request) for request in again}
        return [answers[request.key] for request, _ in asked]

    numbers = ledger.write(attempt)
    return ledger.read(lambda connection: load(connection, numbers))


def add_materials(ledger: Ledger, code: str, went_in: Sequence[SupplierLot]) -> Lot:
    """Note suppliers' lots that went into a lot after it was opened; known ones stay as they are.

    Raises:
        LabelerError: if there is no such lot.
    """

    def note(connection: Connection) -> int:
        number = lot_id(connection, code, hold=True)
        known = load(connection, [number])[0].materials
        if new := sorted(set(went_in) - set(known)):
            remember_names(connection, (each.lot for each in new))
            connection.execute(materials.insert(), _material_rows(number, new))
            enter(connection, ledger, "materials", number, added=[str(each) for each in new])
        return number

    number = once(ledger, Request.of("materials", None), note)
    return ledger.read(lambda connection: load(connection, [number])[0])


def _names(batch: Batch) -> list[str]:
    return [batch.product.sku, *(went_in.lot for went_in in batch.materials)]


def _request(batch: Batch) -> Request:
    """The day is left out: a request repeated after midnight is still the same request."""
    return Request.of(
        "assign",
        batch.key,
        sku=batch.product.sku,
        count=batch.count,
        materials=sorted(str(lot) for lot in batch.materials),
    )


def _faults(batch: Batch, at: int) -> list[Finding]:
    found = []
    if not 1 <= batch.count <= MOST_PIECES:
        found.append(
            stop(
                "lot-count",
                Place(key=f"batch {at}, {batch.product.sku}"),
                "a lot cannot have this many pieces",
                found=str(batch.count),
                expected=f"1 to {MOST_PIECES:,}",
            )
        )
    try:
        LotForm().write(batch.made, 1)
        a_line(batch.note, "note", may_lack=True, longest=2000)
    except LabelerError as error:
        found += error.findings
    return found


def _take_numbers(connection: Connection, opening: _Opening, made: Iterable[date]) -> None:
    """Take as many numbers of each day as are needed, in one step nobody can come between.

    From here to the end of the transaction other benches wait for these days, so it comes late.
    The days are taken in order, so that two commands cannot wait for each other.
    """
    insert = sqlite.insert if connection.dialect.name == "sqlite" else postgresql.insert
    for day, many in sorted(Counter(made).items()):
        last = connection.scalar(
            insert(days)
            .values(made=day, last_number=many)
            .on_conflict_do_update(
                index_elements=["made"], set_={"last_number": days.c.last_number + many}
            )
            .returning(days.c.last_number)
        )
        opening.next_number[day] = int(last or 0) - many + 1


def _open(connection: Connection, opening: _Opening, batch: Batch) -> int:
    number = opening.next_number[batch.made]
    opening.next_number[batch.made] += 1
    code = opening.form.write(batch.made, number)
    stamp = opening.ledger.stamp()
    row = {
        "code": code,
        "made": batch.made,
        "number": number,
        "sku": batch.product.sku,
        "count": batch.count,
        "snapshot": opening.kept[id(batch.product)],
        "catalog": opening.catalog,
        "note": a_line(batch.note, "note", may_lack=True, longest=2000),
        "opened_at": stamp["at"],
        "opened_by": stamp["who"],
    }
    result = connection.execute(lots.insert(), row)
    lot = int(result.inserted_primary_key[0])  # type: ignore[index]
    if batch.materials:
        connection.execute(materials.insert(), _material_rows(lot, batch.materials))
    enter(connection, opening.ledger, "assign", lot, code=code, count=batch.count)
    return lot


def _material_rows(lot: int, went_in: Iterable[SupplierLot]) -> list[dict[str, Any]]:
    return [
        {
            "lot_id": lot,
            "kind": went_in.kind,
            "supplier_lot": went_in.lot,
            "folded": fold(went_in.lot),
        }
        for went_in in sorted(set(went_in))
    ]


def _keep(connection: Connection, product: Product) -> str:
    """Keep the product as it is; the same product is kept once."""
    record = product.model_dump(mode="json")
    fingerprint = hashlib.sha256(as_text(record).encode()).hexdigest()
    keep_once(
        connection,
        snapshots,
        fingerprint=fingerprint,
        sku=product.sku,
        name=product.name,
        gtin=product.gtin.zfill(14) if product.gtin else None,
        product=record,
    )
    return fingerprint
