"""Lots at the bench: opened, listed, weighed, withdrawn, copied."""

from __future__ import annotations

import datetime as dt
import difflib
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from labeler.bench.batches import KINDS, read_batches, read_weight_list
from labeler.bench.ledgers import Books, books_of
from labeler.bench.printing import readable
from labeler.catalog.choose import choose
from labeler.catalog.model import Catalog, Product
from labeler.codes.lotcode import LotForm
from labeler.findings import Finding, LabelerError, Place, fix, stop
from labeler.ledger.assign import MOST_PIECES, Batch, assign_many
from labeler.ledger.backup import backup
from labeler.ledger.handbook133 import sample_size
from labeler.ledger.journal import Entry, entries
from labeler.ledger.lost import note_lost
from labeler.ledger.lots import Lot, SupplierLot, find, list_lots, snapshot_of
from labeler.ledger.runs import PastRun, past_runs
from labeler.ledger.store import utc_now
from labeler.ledger.trace import Story, trace
from labeler.ledger.weigh import WeighIn, read_weights, weigh, weigh_ins
from labeler.ledger.withdraw import void
from labeler.units import Weight, WeightUnit

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
    materials: list[SupplierLot] = []
    faults: list[Finding] = []
    for text in wish.materials:
        try:
            materials.append(SupplierLot.parse(text))
        except LabelerError as error:
            faults += error.findings
    if faults:
        raise LabelerError(faults)
    catalog, _ = readable(wish.folder)
    books = books_of(wish.folder)
    made = wish.made or books.today()
    batch = Batch(
        _one_product(catalog, wish.sku), wish.count, made, tuple(materials), wish.key, wish.note
    )
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
    books = books_of(folder)
    today = books.today()
    named = key or f"{hashlib.sha256(file.read_bytes()).hexdigest()[:32]} {today}"
    batches: list[Batch] = []
    faults: list[Finding] = []
    for at, row in enumerate(listed, 1):
        try:
            product = _one_product(catalog, row.sku, row.place)
        except LabelerError as error:
            faults += error.findings
            continue
        request = row.key or f"{named} {at}"
        batches.append(
            Batch(product, row.count, row.made or today, row.materials, request, row.note)
        )
    if faults:
        raise LabelerError(faults)
    done = _open(books, catalog, batches, [row.place for row in listed])
    return Assigned(done.lots, done.again, (*findings, *done.findings), books)


def _open(
    books: Books, catalog: Catalog, batches: Sequence[Batch], places: Sequence[Place]
) -> Assigned:
    faults = [
        fault
        for batch, place in zip(batches, places, strict=True)
        for fault in (*_odd_count(batch, place), *_odd_kinds(batch, place))
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
    return Assigned(tuple(lots), again, tuple(said), books)


def _one_product(catalog: Catalog, sku: str, place: Place | None = None) -> Product:
    """Return the one product that ``sku`` names; a pattern of SKUs is no batch."""
    found = choose(catalog, [sku])
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


def _odd_kinds(batch: Batch, place: Place) -> Iterable[Finding]:
    """Refuse a kind of material that is nearly a known one; others are the maker's own."""
    product = batch.product
    known = {*KINDS, *(name.casefold() for name in product.materials)}
    known |= {layer.shade.casefold() for layer in product.colour.layers}
    for each in batch.materials:
        near = difflib.get_close_matches(each.kind, known, n=1, cutoff=_NEAR_KIND)
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


@dataclass(frozen=True, slots=True)
class LotLine:
    """One lot and what became of it."""

    lot: Lot
    story: Story


def lots_of(
    folder: Path, *, sku: str = "", since: dt.date | None = None, until: dt.date | None = None
) -> tuple[tuple[LotLine, ...], Books]:
    """Return the lots in the order of their days, void ones among them.

    Args:
        folder: the catalog.
        sku: one product's lots only.
        since: the first day on which one was made.
        until: the last.

    Raises:
        LabelerError: if the ledger cannot be read. Where there is none yet there is no lot.
    """
    books = books_of(folder)
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
    journal: tuple[Entry, ...]
    books: Books


def story_of(folder: Path, code: str) -> LotStory:
    """Return everything that the ledger knows of one lot.

    Raises:
        LabelerError: if there is no such lot; the hint names the nearest codes that exist.
    """
    books = books_of(folder)
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
) -> tuple[tuple[Entry, ...], Books]:
    """Return the changes to the ledger, oldest first.

    Args:
        folder: the catalog.
        code: one lot's changes only.
        since: the first day, at the bench.
        last: only so many of the newest.

    Raises:
        LabelerError: if there is no such lot, or no ledger.
    """
    books = books_of(folder)
    with books.opened() as ledger:
        lot = find(ledger, code).code if code else ""
        found = entries(ledger, lot=lot, since=books.begin_of(since) if since else None, last=last)
        return tuple(found), books


def lose_lots(folder: Path, codes: Sequence[str]) -> list[str]:
    """Have codes that are on bags and not in the ledger never be given out again.

    Raises:
        LabelerError: with every text that is no lot code or not lost.
    """
    with books_of(folder).opened(begin=True) as ledger:
        return note_lost(ledger, codes)


def void_lot(folder: Path, code: str, why: str) -> tuple[Lot, Books]:
    """Withdraw a lot code for good; nothing is deleted.

    Raises:
        LabelerError: if there is no such lot, or pieces of it are with dealers.
    """
    books = books_of(folder)
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
    with books_of(folder).opened() as ledger:
        lot = find(ledger, code)
        return SampleAsked(lot, snapshot_of(ledger, lot).weight, sample_size(lot.count))


@dataclass(frozen=True, slots=True)
class WeighWish:
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


def weigh_lot(wish: WeighWish) -> tuple[WeighIn, Lot]:
    """Judge a lot by the weights of a sample, and keep the weigh-in with the lot.

    Raises:
        LabelerError: if there is no such lot, a weight cannot be read or is questioned.
    """
    weights = list(read_weights(wish.texts, wish.unit))
    if wish.file is not None:
        texts, unit = read_weight_list(wish.file, wish.unit)
        weights += read_weights(texts, unit)
    with books_of(wish.folder).opened() as ledger:
        kept = weigh(ledger, wish.code, weights, sure=wish.sure, key=wish.key)
        return kept, find(ledger, kept.lot)


def back_up(folder: Path, file: Path) -> Path:
    """Copy the ledger, whole, while others may write to it.

    Raises:
        LabelerError: if there is none, or the copy cannot be made.
    """
    with books_of(folder).opened() as ledger:
        return backup(ledger, file)
