"""Opens lots: gives out codes, each once and for ever, and keeps the product as it is now."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import chain
from typing import TYPE_CHECKING, Any, Literal
from uuid import uuid4

from sqlalchemy import ColumnElement, Connection, case, func, select

from labeler.codes import lot_code
from labeler.findings import Finding, LabelerError, Place, read_each, refusal, stop
from labeler.ledger.lots import (
    HELD,
    Lot,
    SupplierLot,
    a_line,
    fold,
    load,
    lot_id,
    remember_names,
    why_held,
)
from labeler.ledger.schema import (
    as_text,
    contents,
    days,
    holds,
    in_parts,
    insert,
    keep_once,
    lots,
    materials,
    moves,
    other_names,
    requests,
    snapshots,
    strikes,
    voids,
)
from labeler.ledger.store import Ledger, enter, put

if TYPE_CHECKING:
    from labeler.catalog.model import Product


@dataclass(frozen=True, slots=True)
class Request:
    """One thing asked of the ledger.

    Attributes:
        kind: what is asked: assign, ship, weigh ...
        key: names this very request; asked again under the same key, it is not done again.
        ask: the fingerprint of what is asked, to catch a key used twice for different things.
    """

    kind: str
    key: str
    ask: str

    @classmethod
    def of(cls, kind: str, key: str | None, **asked: Any) -> Request:
        """Return the request for ``asked``; without a key it gets one nobody else has.

        Even such a request is carried out once, however often a broken connection makes the
        program send it.
        """
        print_of_it = hashlib.sha256(as_text(asked).encode("utf-8", "replace")).hexdigest()
        return cls(kind, a_line(key, "key") if key is not None else uuid4().hex, print_of_it)


def once(ledger: Ledger, request: Request, work: Callable[[Connection], Any]) -> Any:
    """Carry out ``work`` unless this request was, and return its answer: plain values.

    Raises:
        LabelerError: if the key was used for another request, or as `Ledger.write` does.
    """

    def attempt(connection: Connection) -> Any:
        known = answer_to(connection, request)
        if known is not None:
            return known
        answer = work(connection)
        remember(connection, request, answer)
        return answer

    return ledger.write(attempt)


def together(ledger: Ledger, request: Request, work: Callable[[Ledger], Any], at: datetime) -> Any:
    """Carry out several changes as one, all or none, unless this request was; return its answer.

    Args:
        ledger: an open ledger.
        request: what is asked for.
        work: makes the changes in the ledger that it is given, and returns plain values.
        at: the instant that all of it is stamped with.

    Raises:
        LabelerError: as `once` does, and as ``work`` does.
    """
    return once(ledger, request, lambda connection: work(ledger.joined(connection, at)))


def answer_before(ledger: Ledger, request: Request) -> Any:
    """Return the answer that this request got before, or None.

    Raises:
        LabelerError: if the key was used for another request.
    """
    return ledger.read(lambda connection: answer_to(connection, request))


def answer_to(connection: Connection, request: Request) -> Any:
    """Return the answer that this request got before, or None.

    Raises:
        LabelerError: if the key was used for another request.
    """
    row = connection.execute(
        select(requests.c.ask, requests.c.answer).where(
            requests.c.kind == request.kind, requests.c.key == request.key
        )
    ).first()
    if row is None:
        return None
    if row.ask != request.ask:
        raise refusal(
            "key-used",
            Place(key="key"),
            f"this key was used before, to {request.kind} something else",
            found=repr(request.key),
            hint="Take a new key for a new request; the old one was carried out.",
        )
    return row.answer


def remember(connection: Connection, request: Request, answer: Any) -> None:
    """Record that the request was carried out, in the transaction that does so."""
    row = {"kind": request.kind, "key": request.key, "ask": request.ask, "answer": answer}
    connection.execute(requests.insert(), row)


CHANGE = func.coalesce(func.sum(moves.c.change), 0)
"""What moves did to the pieces on hand, fewer below 0."""

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
        other_names: what else the lot is called, such as a code that hangs in the shops already.
        untraced: whether it is stock that was counted, and not traceable to materials.
        left: how many of it are here, where others went before there was a ledger; None for all.
    """

    product: Product
    count: int
    made: date
    materials: tuple[SupplierLot, ...] = ()
    key: str | None = None
    note: str = ""
    other_names: tuple[str, ...] = ()
    untraced: bool = False
    left: int | None = None


@dataclass(slots=True)
class _LotOpening:
    """What one call needs while it opens lots."""

    ledger: Ledger
    form: lot_code.LotForm
    catalog_digest: str
    kept: dict[int, str] = field(default_factory=dict)
    """The fingerprint of each product's snapshot, by the product's identity."""
    next_number: dict[date, int] = field(default_factory=dict)


def assign(
    ledger: Ledger, batch: Batch, *, form: lot_code.LotForm | None = None, catalog_digest: str = ""
) -> Lot:
    """Open a lot for one batch. See `assign_many`."""
    return assign_many(ledger, [batch], form=form, catalog_digest=catalog_digest)[0]


def assign_many(
    ledger: Ledger,
    batches: Sequence[Batch],
    *,
    form: lot_code.LotForm | None = None,
    catalog_digest: str = "",
    along: Callable[[Connection], None] | None = None,
) -> list[Lot]:
    """Open a lot for every batch, all of them or none.

    Args:
        ledger: an open ledger.
        batches: in the order in which they get their numbers.
        form: how the maker's lot codes are written; None takes digits without a prefix.
        catalog_digest: the fingerprint of the catalog.
        along: looks at what came of it in the same transaction, where any was opened; may refuse.

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
    chosen = form or lot_code.LotForm()

    def attempt(connection: Connection) -> list[int]:
        opening = _LotOpening(ledger, chosen, catalog_digest)
        answers = {key: answer_to(connection, request) for key, (request, _) in first.items()}
        new = [pair for key, pair in first.items() if answers[key] is None]
        for _, batch in new:
            opening.kept[id(batch.product)] = _keep(connection, batch.product)
        names = (
            (batch.product.sku, *(lot.lot for lot in batch.materials), *batch.other_names)
            for _, batch in new
        )
        remember_names(connection, chain.from_iterable(names))
        _take_numbers(connection, opening, (batch.made for _, batch in new))
        for request, batch in new:
            answers[request.key] = _open(connection, opening, batch)
            remember(connection, request, answers[request.key])
        if new and along:
            along(connection)
        again = [request for request, _ in asked if request is not first[request.key][0]]
        answers |= {request.key: answer_to(connection, request) for request in again}
        return [answers[request.key] for request, _ in asked]

    numbers = ledger.write(attempt)
    return ledger.read(lambda connection: load(connection, numbers))


def codes_ahead(ledger: Ledger, made: Sequence[date], form: lot_code.LotForm) -> list[str]:
    """Return the codes that new lots of these days would get now, unless another bench is faster.

    Args:
        ledger: an open ledger.
        made: the days, in the order in which the lots are to be opened.
        form: how the maker's lot codes are written.
    """
    query = select(days.c.made, days.c.last_number).where(days.c.made.in_(set(made)))
    rows = ledger.read(lambda connection: connection.execute(query).all())
    last = Counter({row.made: row.last_number for row in rows})
    codes = []
    for day in made:
        last[day] += 1
        codes.append(form.write(day, last[day]))
    return codes


def carried_out(ledger: Ledger, batches: Sequence[Batch]) -> frozenset[str]:
    """Return those of the batches' keys under which a lot was opened before."""
    keys = [batch.key for batch in batches if batch.key]

    def look(connection: Connection) -> frozenset[str]:
        query = select(requests.c.key).where(requests.c.kind == "assign")
        known = (
            connection.scalars(query.where(requests.c.key.in_(some))) for some in in_parts(keys)
        )
        return frozenset(chain.from_iterable(known))

    return ledger.read(look)


def lots_by_key(ledger: Ledger, prefix: str, keys: Sequence[str] = ()) -> dict[str, Lot]:
    """Return the lots opened under keys that begin with ``prefix`` or are ``keys``, by the key."""

    def look(connection: Connection) -> dict[str, Lot]:
        query = select(requests.c.key, requests.c.answer).where(requests.c.kind == "assign")
        begin = requests.c.key.startswith(prefix, autoescape=True)
        asked = [begin, *(requests.c.key.in_(some) for some in in_parts(keys))]
        found = {key: lot for one in asked for key, lot in connection.execute(query.where(one))}
        return dict(zip(found, load(connection, map(int, found.values())), strict=True))

    return ledger.read(look)


def add_names(ledger: Ledger, code: str, names: Sequence[str]) -> Lot:
    """Note what else a lot is called; a name that it has already stays as it is."""
    called = _called(names)

    def note(connection: Connection, lot: Lot) -> None:
        new = {key: called[key] for key in called.keys() - map(fold, lot.other_names)}
        if new:
            remember_names(connection, new.values())
            _keep_names(connection, lot.id, new)
            enter(connection, ledger, "called", lot.id, called=sorted(new.values()))

    return _changed(ledger, code, "called", note)


def _changed(
    ledger: Ledger, code: str, what: str, change: Callable[[Connection, Lot], None]
) -> Lot:
    """Change what hangs on a lot, which is kept from others meanwhile; return it afterwards."""

    def work(connection: Connection) -> int:
        number = lot_id(connection, code, hold=True)
        change(connection, load(connection, [number])[0])
        return number

    number = once(ledger, Request.of(what, None), work)
    return ledger.read(lambda connection: load(connection, [number])[0])


def _called(names: Iterable[str]) -> dict[str, str]:
    """Return other names of a lot as they are kept, by what they are compared by."""
    return {fold(name): a_line(name, "other name", longest=40) for name in names}


def _keep_names(connection: Connection, lot: int, called: Mapping[str, str]) -> None:
    rows = [{"lot_id": lot, "folded": folded, "name": name} for folded, name in called.items()]
    connection.execute(other_names.insert(), rows)


def add_materials(
    ledger: Ledger,
    code: str,
    went_in: Sequence[SupplierLot],
    instead: SupplierLot | None = None,
) -> Lot:
    """Note suppliers' lots that went into a lot after it was opened; known ones stay as they are.

    Args:
        ledger: an open ledger.
        code: the lot's.
        went_in: what went in.
        instead: what was noted by mistake. It is struck out: it stays in the ledger and its
            journal, and no longer leads to the lot.

    Raises:
        LabelerError: if there is no such lot, or what is to be struck out is not noted.
    """

    def note(connection: Connection, lot: Lot) -> None:
        new = sorted(set(went_in) - set(lot.materials))
        gone = [] if instead is None else _noted(instead, lot, bool(new), code)
        query = select(materials.c.kind, materials.c.supplier_lot)
        rows = connection.execute(query.where(materials.c.lot_id == lot.id))
        every = {SupplierLot(kind, supplied) for kind, supplied in rows}
        back = sorted(every & set(new))
        for entry, struck in (*((each, 1) for each in gone), *((each, 0) for each in back)):
            put(connection, ledger, strikes, lot_id=lot.id, kind=entry.kind,
                supplier_lot=entry.lot, struck=struck)  # fmt: skip
        if unheard := sorted(set(new) - every):
            remember_names(connection, (each.lot for each in unheard))
            connection.execute(materials.insert(), _material_rows(lot.id, unheard))
        if new or gone:
            enter(connection, ledger, "materials", lot.id, added=[str(each) for each in new],
                  struck=[str(each) for each in gone])  # fmt: skip

    return _changed(ledger, code, "materials", note)


def _noted(wrong: SupplierLot, lot: Lot, changes: bool, code: str) -> list[SupplierLot]:
    """Return the entries that ``wrong`` means; none where the same was corrected before."""
    same = (wrong.kind, fold(wrong.lot))
    meant = [each for each in lot.materials if (each.kind, fold(each.lot)) == same]
    if not meant and changes:
        raise refusal(
            "material-not-noted",
            Place(key=f"lot {lot_code.tidy(code)}"),
            "this is not noted of the lot, so nothing stands in its place",
            found=str(wrong),
            expected=", ".join(map(str, lot.materials)) or "nothing is noted",
        )
    return meant


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
        lot_code.LotForm().write(batch.made, 1)
        a_line(batch.note, "note", may_lack=True, longest=2000)
    except LabelerError as error:
        found += error.findings
    return found


def _take_numbers(connection: Connection, opening: _LotOpening, made: Iterable[date]) -> None:
    """Take as many numbers of each day as are needed, in one step nobody can come between.

    From here to the end of the transaction other benches wait for these days, so it comes late.
    The days are taken in order, so that two commands cannot wait for each other.
    """
    for day, many in sorted(Counter(made).items()):
        last = connection.scalar(
            insert(connection, days)
            .values(made=day, last_number=many)
            .on_conflict_do_update(
                index_elements=["made"], set_={"last_number": days.c.last_number + many}
            )
            .returning(days.c.last_number)
        )
        opening.next_number[day] = int(last or 0) - many + 1


def _open(connection: Connection, opening: _LotOpening, batch: Batch) -> int:
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
        "catalog": opening.catalog_digest,
        "note": a_line(batch.note, "note", may_lack=True, longest=2000),
        "opened_at": stamp["at"],
        "opened_by": stamp["who"],
        "untraced": int(batch.untraced),
    }
    result = connection.execute(lots.insert(), row)
    lot = int(result.inserted_primary_key[0])  # type: ignore[index]
    if batch.materials:
        connection.execute(materials.insert(), _material_rows(lot, batch.materials))
    more: dict[str, Any] = {"untraced": True} if batch.untraced else {}
    if called := _called(batch.other_names):
        _keep_names(connection, lot, called)
        more["called"] = list(called.values())
    if batch.left is not None:
        more["left"] = batch.left
    enter(connection, opening.ledger, "assign", lot, code=code, count=batch.count, **more)
    if batch.left is not None and batch.left < batch.count:
        _move(connection, opening.ledger, GONE, lot, batch.left - batch.count, batch.made)
    if batch.product.parts and not batch.untraced and batch.left is None:
        _make_up(connection, opening.ledger, lot, batch)
    return lot


GONE = "gone"
"""The kind of a move of pieces that went before there was a ledger, nobody knows to whom."""


PACK = "pack"
"""The kind of a move of jigs into a lot of packs, or out of one that was withdrawn."""

_NOTES = {GONE: "before the ledger was begun", PACK: ""}


def _move(
    connection: Connection, ledger: Ledger, kind: str, lot: int, change: int, day: date
) -> None:
    """Note that a lot has more or fewer pieces on hand, which went to no dealer."""
    put(
        connection, ledger, moves, lot_id=lot, kind=kind, dealer="", dealer_folded="",
        count=abs(change), change=change, moved=day, slip=uuid4().hex, note=_NOTES[kind],
        whom="dealer",
    )  # fmt: skip


def left_then(ledger: Ledger, lot: Lot) -> int:
    """Return how many pieces of a lot were here when the ledger was begun, as far as is noted."""
    return ledger.read(lambda connection: _left_of(connection, lot, moves.c.kind == GONE))


def _left_of(connection: Connection, lot: Lot, *of_these: ColumnElement[bool]) -> int:
    """Return how many pieces of a lot are left by all moves, or by some."""
    query = select(CHANGE).where(moves.c.lot_id == lot.id, *of_these)
    return lot.count + int(connection.scalar(query) or 0)


def correct_left(ledger: Ledger, lot: Lot, left: int) -> None:
    """Correct how many pieces of a lot were here when the ledger was begun; the journal keeps both.

    Raises:
        LabelerError: if less than nothing would be on hand.
    """

    def correct(connection: Connection) -> None:
        number = lot_id(connection, lot.code, hold=True)
        was, here = _left_of(connection, lot, moves.c.kind == GONE), _left_of(connection, lot)
        if here + left - was < 0:
            raise refusal(
                "left-too-few", Place(key=f"lot {lot.code}"), "more of this lot went out since",
                found=f"{left} left, {here} of {was} on hand now",
            )  # fmt: skip
        if left != was:
            _move(connection, ledger, GONE, number, left - was, lot.made)
            enter(connection, ledger, "left", number, left=left, instead_of=was)

    once(ledger, Request.of("left", None), correct)


def _make_up(connection: Connection, ledger: Ledger, lot: int, batch: Batch) -> None:
    """Take the jigs of a lot of assorted packs from the oldest lots of each kind.

    Raises:
        LabelerError: if the count fills no whole packs, or of some kind too few are on hand.
    """
    pack = batch.product.pattern.pack
    packs, over = divmod(batch.count, pack)
    place = Place(key=f"lot of {batch.product.sku}")
    if over:
        raise refusal(
            "pack-count", place, f"a pack holds {pack} jigs, and this fills no whole packs",
            found=f"{batch.count} jigs", expected=f"{packs * pack} or {(packs + 1) * pack}",
        )  # fmt: skip
    lacking, taken = [], list[tuple[int, int]]()
    for part in batch.product.parts:
        left = packs * part.count
        for number, here in _on_hand(connection, part.product.sku):
            if some := min(left, here):
                taken.append((number, some))
                left -= some
        if left:
            lacking.append(stop(
                "pack-parts-lacking", place, f"too few of {part.product.sku} are on hand",
                found=f"{packs * part.count - left:,} in lots that are not held",
                expected=f"{packs * part.count:,} for {packs:,} packs",
                hint="Open the lots of what was tied first: labeler lot assign, or labeler tied.",
            ))  # fmt: skip
    if lacking:
        raise LabelerError(lacking)
    for number, some in taken:
        row = {"lot_id": lot, "part_id": number, "count": some}
        connection.execute(contents.insert(), row)
        _move(connection, ledger, PACK, number, -some, batch.made)


def _on_hand(connection: Connection, sku: str) -> list[tuple[int, int]]:
    """Return the lots of a SKU that are neither held nor void, the oldest first, and their jigs."""
    here = lots.c.count + CHANGE
    query = (
        select(lots.c.id, here)
        .join_from(lots, moves, isouter=True)
        .where(lots.c.sku == sku, lots.c.id.not_in(select(voids.c.lot_id)),
               lots.c.id.not_in(select(HELD.c.lot_id)))
        .group_by(lots.c.id).having(here > 0).order_by(lots.c.made, lots.c.number)
    )  # fmt: skip
    return [(number, int(some)) for number, some in connection.execute(query).all()]


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
    from labeler.ledger.documents import PRODUCT  # loads the catalog's model

    record = PRODUCT.write(product)
    fingerprint = hashlib.sha256(as_text(record).encode()).hexdigest()
    row = {
        "fingerprint": fingerprint,
        "sku": product.sku,
        "name": product.name,
        "gtin": product.gtin.zfill(14) if product.gtin else None,
        "product": record,
    }
    keep_once(connection, snapshots, row)
    return fingerprint


_MOST_A_DAY = 999
"""No bench opens more lots a day; a higher number is a slip, and would bar all below it."""


def note_lost(ledger: Ledger, codes: Sequence[str]) -> list[str]:
    """Have codes that were given out and lost never be given out again: all of them, or none.

    The day goes on numbering after the highest of them. Noting a code twice changes nothing.

    Returns:
        The codes as they are stored.

    Raises:
        LabelerError: with every text that is no lot code, and every code that is not lost.
    """
    taken = read_each(_read_lost, codes)

    def bar(connection: Connection) -> list[str]:
        known = select(lots.c.code).where(lots.c.code.in_([code.text for code, _ in taken]))
        if there := list(connection.scalars(known)):
            raise LabelerError(
                stop(
                    "lost-known",
                    Place(key=f"lot {code}"),
                    "the ledger has this lot, so it is not lost",
                    hint="To withdraw it, void it.",
                )
                for code in there
            )
        for code, number in taken:
            if _raise_to(connection, code, number):
                enter(connection, ledger, "lost", None, code=code.text, number=number,
                      made=code.made.isoformat())  # fmt: skip
        return [code.text for code, _ in taken]

    return list(once(ledger, Request.of("lost", None), bar))


def _read_lost(text: str) -> tuple[lot_code.LotCode, int]:
    """Return a lot code, and the number within the day that it was made of."""
    code = lot_code.read(text)
    form = lot_code.LotForm(code.prefix)
    for number in range(1, _MOST_A_DAY + 1):
        if form.write(code.made, number) == code.text:
            return code, number
    raise refusal(
        "lost-number",
        Place(key=f"lot {code.text}"),
        "nobody opens so many lots in a day",
        found=code.serial,
        expected=f"at most {_MOST_A_DAY}",
    )


def _raise_to(connection: Connection, code: lot_code.LotCode, number: int) -> bool:
    """Have the day's next lot come after ``number``; tell whether that is new."""
    last = connection.scalar(
        select(days.c.last_number).where(days.c.made == code.made).with_for_update()
    )
    if last is not None and last >= number:
        return False
    higher = case((days.c.last_number < number, number), else_=days.c.last_number)
    connection.execute(
        insert(connection, days)
        .values(made=code.made, last_number=number)
        .on_conflict_do_update(index_elements=["made"], set_={"last_number": higher})
    )
    return True


def void(ledger: Ledger, code: str, why: str) -> Lot:
    """Withdraw a lot code. The lot stays in the ledger and its code is never given out again.

    Voiding a void lot changes nothing.

    Raises:
        LabelerError: if there is no such lot, or pieces of it are with dealers.
    """
    reason = a_line(why, "reason")

    def withdraw(connection: Connection, lot: Lot) -> None:
        if lot.void:
            return
        _refuse_if_out(connection, lot.id, code)
        put(connection, ledger, voids, lot_id=lot.id, why=reason)
        query = select(contents.c.part_id, contents.c.count).where(contents.c.lot_id == lot.id)
        for part, some in connection.execute(query).all():
            _move(connection, ledger, PACK, part, some, lot.made)
        enter(connection, ledger, "void", lot.id, why=reason)

    return _changed(ledger, code, "void", withdraw)


def hold(ledger: Ledger, code: str, why: str) -> Lot:
    """Keep a lot from being labelled, sold or shipped. What is held stays held, for this reason.

    Raises:
        LabelerError: if there is no such lot, or no reason is given.
    """
    return _hold(ledger, code, why, "hold")


def release(ledger: Ledger, code: str, why: str) -> Lot:
    """Let a held lot be labelled, sold and shipped again; one that is not held stays as it is.

    Raises:
        LabelerError: if there is no such lot, or no reason is given.
    """
    return _hold(ledger, code, why, "release")


def _hold(ledger: Ledger, code: str, why: str, what: Literal["hold", "release"]) -> Lot:
    reason = a_line(why, "reason")

    def change(connection: Connection, lot: Lot) -> None:
        was = lot.held.why if lot.held else ""
        if was != (reason if what == "hold" else ""):
            set_hold(connection, ledger, lot.id, reason, what)
        packs = select(contents.c.lot_id).where(contents.c.part_id == lot.id).distinct()
        for pack in sorted(connection.scalars(packs)):  # a bad jig is in them too
            held = why_held(connection, pack)
            if held == ("" if what == "hold" else was) and held != reason:
                set_hold(connection, ledger, pack, reason, what)

    return _changed(ledger, code, what, change)


def set_hold(
    connection: Connection, ledger: Ledger, lot: int, why: str, what: Literal["hold", "release"]
) -> None:
    """Hold or release a lot, in the caller's transaction."""
    put(connection, ledger, holds, lot_id=lot, held=int(what == "hold"), why=why)
    enter(connection, ledger, what, lot, why=why)


def _refuse_if_out(connection: Connection, number: int, code: str) -> None:
    with_dealers = moves.c.lot_id == number, moves.c.kind.in_(("ship", "return"))
    if out := connection.scalar(select(-CHANGE).where(*with_dealers)):
        raise refusal(
            "void-shipped",
            Place(key=lot_code.tidy(code)),
            "pieces with this lot code are with dealers, so it cannot be withdrawn",
            found=f"{out} shipped and not returned",
            hint="Record their return first; to find them, trace the lot.",
        )
