"""What there was before the ledger: old batches that keep their codes, and stock that was counted.

A log of old batches becomes lots of the days on which they were made, each called as its maker
called it then. A count of what is on hand becomes one lot of each product of which nobody knows
what went in: it is not traceable to materials, and says so wherever it is traced.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from labeler.app.open_lots import (
    ASKED_COLUMN,
    Agree,
    Assigned,
    ListedBatch,
    read_batches,
    refuse_odd,
    stops_among,
)
from labeler.app.workstation import LedgerLocation, ledger_location
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import readable, sku_by_name
from labeler.catalog.spreadsheet.grid import LARGEST_BYTES
from labeler.codes.lot_code import LotForm
from labeler.files import read_file
from labeler.findings import Finding, Grade, LabelerError, Place, fix, listed, note, stop
from labeler.ledger.assign import (
    Batch,
    Request,
    add_materials,
    add_names,
    assign_many,
    correct_left,
    left_then,
    lots_by_key,
)
from labeler.ledger.lots import Lot, fold, list_lots
from labeler.ledger.ship import on_hand, stock
from labeler.ledger.store import Ledger, utc_now


@dataclass(frozen=True, slots=True)
class Before:
    """What there was before the ledger.

    Attributes:
        folder: the catalog.
        log: a list of old batches: CSV, XLSX, XLS or ODS.
        counts: SKUs or words of products, each with its jigs on hand.
        on_hand: whether to take the packs that the maker's own spreadsheet counts, too.
        counted: the day of the counting; None for today, at the bench.
        leave_out: open the others though some rows can't be read; each is told.
        sure: count what is on hand beside lots that are.
    """

    folder: Path
    log: Path | None = None
    counts: tuple[tuple[str, int], ...] = ()
    on_hand: bool = False
    counted: dt.date | None = None
    leave_out: bool = False
    sure: bool = False
    ask_columns: bool = False
    """Stop at a column of the log that is not understood, though rows may be left out."""


_Rows = list[tuple[Batch, ListedBatch]]


def open_before(asked: Before, agree: Agree = None) -> Assigned:
    """Open lots of what there was before the ledger: all or none. Again, nothing is opened twice.

    A row of the log is known again by its product, day and count, so a log that grew opens what is
    new in it, and one that was mended adds codes and materials to the lots that are there and
    corrects what was left of them; a corrected count is told, and opens no second lot. A product's
    stock is counted once. Of a product whose stock is counted, what the log does not say
    to be left counts as gone.

    Args:
        asked: what there was.
        agree: is told how it will be kept, before it is.

    Raises:
        LabelerError: with everything that stands in the way.
    """
    catalog, findings = readable(asked.folder)
    location = ledger_location(asked.folder)
    said, faults = list(findings), list[Finding]()
    counted = _counted(asked, catalog, location.today(), said, faults)
    rows = _logged(asked, catalog, location.today(), said, faults)
    asks = [each for each in faults if each.rule == ASKED_COLUMN] if asked.ask_columns else []
    if asks or (stops_among(faults) and not asked.leave_out):
        raise LabelerError(faults)
    known: dict[str, Lot] = {}
    if location.begun:
        with location.opened() as ledger:
            before = lots_by_key(ledger, _KEY, [row.key for _, row in rows if row.key])
            rows, known = _known_again(rows, before, faults, said)
            if stops_among(faults) and not asked.leave_out:
                raise LabelerError(faults)
            counted = list(_not_yet(ledger, counted, rows, known, asked, said))
            days = {lot.sku: lot.made for lot in list_lots(ledger) if lot.untraced and not lot.void}
            rows = [_left_now(ledger, batch, row, known, days, said) for batch, row in rows]
    else:
        counted = list(_not_yet(None, counted, rows, known, asked, said))
        days = {}
    said += [replace(each, grade=Grade.FIX) if each.grade is Grade.STOP else each
             for each in faults]  # fmt: skip
    days |= {batch.product.sku: batch.made for batch, _ in counted}
    old = [pair for pair in rows if pair[0].key in known]
    said += _amended(old, known)
    new = [pair for pair in rows if pair[0].key not in known]
    rows = old + list(_with_left(new, days, said))
    rows += [pair for pair in counted if pair[0].count]
    refuse_odd(location, rows, sure=True)
    if agree:
        agree(said)
    return _open_lots(location, catalog, rows, known, said)


_STOCK = "opening stock of "
"""What the keys of counted stock begin with; then the SKU, the count and the day."""
_KEY = "before "
"""What the keys of a log's batches begin with."""


def _known_again(
    rows: _Rows, before: Mapping[str, Lot], faults: list[Finding], said: list[Finding]
) -> tuple[_Rows, dict[str, Lot]]:
    """Return the rows, each with its key, and the lots of those that were opened before.

    A row is known by product, day and count; among several such, by what the batch was called.
    """
    waiting: defaultdict[tuple[str, int, dt.date], dict[str, Lot]] = defaultdict(dict)
    for key, lot in before.items():
        if key.startswith(_KEY):
            waiting[lot.sku, lot.count, lot.made][key] = lot
    known = {row.key: before[row.key] for _, row in rows if row.key in before}
    keys = _keys_again(rows, before, waiting, known, said)
    found: _Rows = []
    for at, (batch, row) in enumerate(rows):
        there = waiting[batch.product.sku, batch.count, batch.made]
        fresh = batch.key or ""
        while at not in keys and not row.key and fresh in before:
            fresh += "+"
        if at not in keys and not row.key and there:
            faults.append(stop(
                "lot-alike", row.place, "a lot of this product, day and count is on record under "
                "another code, and no row says that code: perhaps it is the same batch",
                found=listed(batch.other_names),
                expected=listed([f"{', '.join(lot.other_names)} (lot {lot.code})"
                                 for lot in there.values()]),
                hint="If it is another batch, give it a key of your own in a column key.",
            ))  # fmt: skip
            continue
        found.append((replace(batch, key=row.key or keys.get(at) or fresh), row))
    return found, known


_Waiting = Mapping[tuple[str, int, dt.date], dict[str, Lot]]


def _keys_again(
    rows: _Rows, before: Mapping[str, Lot], waiting: _Waiting, known: dict[str, Lot],
    said: list[Finding],
) -> dict[int, str]:  # fmt: skip
    """Return the keys of the rows whose lots wait; each lot is taken out, and known."""
    keys = dict[int, str]()
    for exact in (True, False):
        for at, (batch, row) in enumerate(rows):
            there = waiting[batch.product.sku, batch.count, batch.made]
            called = set(map(fold, batch.other_names))
            for key, lot in there.items() if at not in keys and not row.key else ():
                names = set(map(fold, lot.other_names))
                if called & names or (not exact and not (called and names)) or called == names:
                    keys[at], known[key] = key, lot
                    del there[key]
                    break
    for at, (batch, row) in enumerate(rows):
        if at not in keys and not row.key and (other := _take_recounted(batch, waiting)):
            keys[at] = next(key for key, one in before.items() if one == other)
            known[keys[at]] = other
            said.append(_told_recounted(batch, row, other))
    return keys


def _take_recounted(batch: Batch, waiting: _Waiting) -> Lot | None:
    """Take and return the lot that was opened of a batch whose count was corrected since."""
    called = set(map(fold, batch.other_names))
    for of, there in waiting.items():
        if of[0] == batch.product.sku and of[2] == batch.made and of[1] != batch.count:
            for key, lot in there.items():
                names = set(map(fold, lot.other_names))
                if called & names or not (called or names):
                    return there.pop(key)
    return None


def _told_recounted(batch: Batch, row: ListedBatch, lot: Lot) -> Finding:
    more = batch.count - lot.count
    way = f"{'--extra' if more > 0 else '--scrap'} --count {abs(more)}"
    return fix(
        "batch-recounted", row.place, f"lot {lot.code} was opened of this row with another count, "
        "which it keeps; no second lot is opened", found=str(batch.count), expected=str(lot.count),
        hint=f"If this one is right: labeler ship {lot.code} {way}. If it is another batch, give "
        "it a key of your own in a column key.",
    )  # fmt: skip


def _left_now(
    ledger: Ledger, batch: Batch, row: ListedBatch, known: Mapping[str, Lot],
    counted: Mapping[str, dt.date], said: list[Finding],
) -> tuple[Batch, ListedBatch]:  # fmt: skip
    """Say what a known row says otherwise now of what is left; return what of it is taken."""
    lot = known.get(batch.key or "")
    if lot is None or batch.left is None:
        return batch, row
    then = left_then(ledger, lot)
    if lot.count != batch.count or batch.left == then:
        return replace(batch, left=None), row
    gone = on_hand(ledger, lot.code) + batch.left - then < 0
    if lot.sku in counted or gone:
        why = "more went out since" if gone else "the stock of its product was counted"
        said.append(fix(
            "batch-left-changed", row.place, f"another number is left of lot {lot.code} now, and "
            f"is not taken, since {why}",
            found=str(batch.left), expected=str(then),
        ))  # fmt: skip
        return replace(batch, left=None), row
    said.append(note(
        "batch-left-changed", row.place, f"what was left of lot {lot.code} is corrected",
        found=str(batch.left), expected=f"{then}, as it was",
    ))  # fmt: skip
    return batch, row


def _amended(rows: _Rows, known: Mapping[str, Lot]) -> Iterator[Finding]:
    """Yield what is added to lots that a log opened before."""
    for batch, row in rows:
        lot = known[batch.key or ""]
        here = set(map(fold, lot.other_names))
        more = [name for name in batch.other_names if fold(name) not in here]
        more += [str(each) for each in sorted(set(batch.materials) - set(lot.materials))]
        if more:
            yield note("batch-amended", row.place, f"added to lot {lot.code}, which was opened of "
                       "this row before", found=listed(more))  # fmt: skip


def _open_lots(
    location: LedgerLocation, catalog: Catalog, rows: _Rows, known: Mapping[str, Lot],
    said: Sequence[Finding],
) -> Assigned:  # fmt: skip
    if not rows:
        return Assigned((), frozenset(), tuple(said), location, tuple(said))
    with location.opened(begin=True) as ledger:
        began = utc_now()
        new = [batch for batch, _ in rows if batch.key not in known]
        form = LotForm(location.prefix)
        made = iter(assign_many(ledger, new, form=form, catalog_digest=catalog.fingerprint))
        lots = [
            _add(ledger, known[batch.key], batch)
            if batch.key and batch.key in known
            else next(made)
            for batch, _ in rows
        ]
    again = frozenset(lot.code for lot in lots if lot.opened_at < began)
    return Assigned(tuple(lots), again, tuple(said), location, tuple(said))


def _add(ledger: Ledger, lot: Lot, batch: Batch) -> Lot:
    """Add to a lot what a better reading of its row says, and correct what was left of it."""
    if set(batch.materials) - set(lot.materials):
        lot = add_materials(ledger, lot.code, batch.materials)
    if set(map(fold, batch.other_names)) - set(map(fold, lot.other_names)):
        lot = add_names(ledger, lot.code, batch.other_names)
    if batch.left is not None:
        correct_left(ledger, lot, batch.left)
    return lot


def _meant(catalog: Catalog, name: str, said: list[Finding], place: Place) -> Product:
    """Return the one product that is meant; what is sold no more was made once, too."""
    known = {product.sku: product for product in (*catalog.gone, *catalog.products)}
    try:
        return known[sku_by_name(name, known.values(), said, strict=True)]
    except LabelerError as error:
        raise LabelerError(replace(each, place=place) for each in error.findings) from None


def _counted(
    asked: Before, catalog: Catalog, today: dt.date, said: list[Finding], faults: list[Finding]
) -> _Rows:
    """Return a batch for each product whose stock was counted."""
    packs = {each.sku: each.pattern.pack for each in catalog.products}
    own = [(sku, count * packs[sku]) for sku, count in catalog.on_hand.items() if sku in packs]
    gone = {each.sku: each.pattern.pack for each in catalog.gone}
    said += [
        note("stock-retired", Place(key=sku), "this is sold no more, and no lot is opened of what "
             "your spreadsheet counts of it", found=f"{count} on hand",
             hint=f"If they are here: labeler lot opening {sku}={count * gone[sku]}.")
        for sku, count in catalog.on_hand.items() if count and asked.on_hand and sku in gone
    ]  # fmt: skip
    jigs: Counter[str] = Counter()
    products = {}
    for name, count in (*asked.counts, *(own if asked.on_hand else ())):
        try:
            product = _meant(catalog, name, said, Place(key=name))
        except LabelerError as error:
            faults += error.findings
            continue
        if product.sku in jigs:
            faults.append(stop(
                "count-twice", Place(key=product.sku), "the stock of this is counted twice",
                found=f"{jigs[product.sku]} and {count}", expected="one of them",
            ))  # fmt: skip
        products[product.sku], jigs[product.sku] = product, count
    made = asked.counted or today
    return [
        (
            Batch(products[sku], count, made, key=f"{_STOCK}{sku}: {count} {made}", untraced=True),
            ListedBatch(Place(key=f"stock of {sku}"), sku, count, made, (), "", ""),
        )
        for sku, count in jigs.items()
        if count
    ]


def counts_waiting(folder: Path) -> dict[str, int]:
    """Return the jigs that the maker's own spreadsheet counts and no lot was opened of, by SKU.

    Raises:
        LabelerError: if the catalog or the ledger can't be read.
    """
    catalog, _ = readable(folder)
    packs = {each.sku: each.pattern.pack for each in catalog.products}
    counted = {sku: count * packs[sku] for sku, count in catalog.on_hand.items()
               if count and sku in packs}  # fmt: skip
    location = ledger_location(folder)
    if not counted or not location.begun:
        return counted
    with location.opened() as ledger:
        taken = {lot.sku for lot in lots_by_key(ledger, _STOCK).values()}
    return {sku: count for sku, count in counted.items() if sku not in taken}


def _logged(
    asked: Before, catalog: Catalog, today: dt.date, said: list[Finding], faults: list[Finding]
) -> _Rows:
    """Return the batches of the log, each named by what it says."""
    if asked.log is None:
        return []
    listed_rows, read = read_batches(
        asked.log.name, read_file(asked.log, LARGEST_BYTES), today, from_above=True
    )
    faults += [each for each in read if each.grade is Grade.STOP]
    said += [each for each in read if each.grade is not Grade.STOP]
    rows: _Rows = []
    alike: Counter[str] = Counter()
    for row in listed_rows:
        try:
            product = _meant(catalog, row.sku, said, row.place)
        except LabelerError as error:
            faults += error.findings
            continue
        if row.made is None:
            faults.append(stop(
                "batch-undated", row.place, "this row does not say when it was made",
                expected="the day, as in the other rows",
            ))  # fmt: skip
            continue
        print_of_it = Request.of(
            "before", None, sku=product.sku, count=row.count, made=row.made.isoformat()
        ).ask[:32]  # fmt: skip
        alike[print_of_it] += 1
        key = row.key or f"{_KEY}{print_of_it} {alike[print_of_it]}"
        batch = Batch(
            product, row.count, row.made, row.materials, key, row.note, row.codes, left=row.left
        )
        rows.append((batch, row))
    return rows


def _not_yet(
    ledger: Ledger | None, counted: _Rows, logged: _Rows, known: Mapping[str, Lot],
    asked: Before, said: list[Finding],
) -> Iterator[tuple[Batch, ListedBatch]]:  # fmt: skip
    """Yield the stock that was not counted before, less what the log's lots have left of it.

    Raises:
        LabelerError: with those of which lots are on hand, and might be counted twice, or of which
            the log has more than was counted.
    """
    before = lots_by_key(ledger, _STOCK) if ledger else {}
    here = ledger.read(stock) if ledger else {}
    faults = []
    for batch, row in counted:
        sku, key = batch.product.sku, batch.key or ""
        same = {f"{_STOCK}{sku}: {batch.count} "} if not asked.sure else set()
        done = [one for one, lot in before.items() if lot.sku == sku and (
            one == key or any(map(one.startswith, same))
            or (one == f"{_STOCK}{sku}" and lot.count == batch.count and not asked.sure)
        )]  # fmt: skip
        if done:
            continue
        lots = {code: pieces for code, pieces, _ in here.get(sku, ()) if pieces}
        of_log = [one for one, _ in logged if one.product.sku == sku]
        theirs = sum(lots.pop(known[one.key or ""].code, 0) for one in of_log if one.key in known)
        theirs += sum(one.left or 0 for one in of_log if one.key not in known)
        if lots and not asked.sure:
            faults.append(stop(
                "stock-twice", row.place,
                "lots of this are on hand already, and would be counted twice",
                found=f"{batch.count} counted; on record "
                + listed([f"{pieces} of lot {code}" for code, pieces in lots.items()]),
                hint="If these are other jigs than those of the lots, count them alone and say "
                "--sure. What is left of a batch may stand in its log, under left.",
            ))  # fmt: skip
            continue
        if theirs > batch.count:
            faults.append(stop(
                "stock-less", row.place, "fewer were counted than the log says are left",
                found=str(batch.count), expected=f"at least {theirs}, which the log has left",
                hint="Put it right in the log, under left, or in the count.",
            ))  # fmt: skip
        elif theirs:
            said.append(note(
                "stock-of-log", row.place, "what the log has left of this is among what was "
                "counted, and is not counted again",
                found=f"{batch.count} counted, {theirs} of the log, so {batch.count - theirs} more",
            ))  # fmt: skip
        yield replace(batch, count=max(batch.count - theirs, 0)), row
    said += [replace(each, grade=Grade.FIX) for each in faults if asked.leave_out]
    if faults and not asked.leave_out:
        raise LabelerError(faults)


def _with_left(
    rows: _Rows, counted: Mapping[str, dt.date], said: list[Finding]
) -> Iterator[tuple[Batch, ListedBatch]]:
    """Yield old batches, gone where the stock of their product was counted; say what is taken so.

    Which batches the counted jigs are of, nobody knows: none is guessed at.
    """
    unsaid = [batch for batch, _ in rows if batch.left is None]
    gone = [each for each in unsaid if each.made <= counted.get(each.product.sku, dt.date.min)]
    here = [each for each in unsaid if each not in gone]
    for some, what, hint in (
        (gone, "do not say what is left of them, and the stock of these products was counted: they "
         "count as gone, and what was counted as not traceable to materials", ""),
        (here, "do not say what is left of them: they count as on hand, all of them",
         "A column left says it, or count what is here: labeler lot opening SKU=N."),
    ):  # fmt: skip
        if some:
            place = Place(key="left")
            rows_of = "1 row" if len(some) == 1 else f"{len(some)} rows"
            jigs = f"{sum(batch.count for batch in some):,} jigs in {rows_of}"
            said.append(note("batches-left", place, f"rows {what}", found=jigs, hint=hint))
    for batch, row in rows:
        yield (replace(batch, left=0) if batch in gone else batch), row
