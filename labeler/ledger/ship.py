"""What came and went: shipments, returns, scrap; and what is on hand, never below zero."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, Literal
from uuid import uuid4

from sqlalchemy import ColumnElement, Connection, Row, Select, func, or_, select

from labeler.codes import lot_code
from labeler.findings import Finding, LabelerError, Place, read_each, refusal, stop
from labeler.ledger.assign import CHANGE, Request, once
from labeler.ledger.lots import (
    HELD,
    a_line,
    although_held,
    fold,
    is_void,
    lot_id,
    remember_names,
    why_held,
)
from labeler.ledger.schema import journal, lots, moves, voids
from labeler.ledger.store import Ledger, enter, put

MoveKind = Literal["ship", "return", "scrap", "extra"]

_CHANGE: dict[MoveKind, int] = {"ship": -1, "return": 1, "scrap": -1, "extra": 1}
_TO_A_DEALER = ("ship", "return")

Whom = Literal["dealer", "customer", "fair"]


_UNDONE = select(moves.c.takes_back).where(moves.c.takes_back.is_not(None))
"""The moves that were a mistake."""

STANDS = moves.c.takes_back.is_(None) & moves.c.id.not_in(_UNDONE)
"""That a move was neither a mistake nor says that another was one."""


@dataclass(frozen=True, slots=True)
class Move:
    """Pieces of a lot that come or go.

    Attributes:
        kind: ship to a dealer, return from one (back on hand; scrap them next if they are not
            fit to sell), scrap, or extra: more were made than the lot was opened for.
        lot: the lot's code.
        count: how many pieces.
        moved: the day, in the maker's own zone.
        dealer: to or from whom; empty for scrap and extra.
        note: what the maker wants to remember.
        whom: whether the "dealer" is one, or a customer or a fair.
    """

    kind: MoveKind
    lot: str
    count: int
    moved: date
    dealer: str = ""
    note: str = ""
    whom: Whom = "dealer"


@dataclass(frozen=True, slots=True)
class Moved:
    """A move as the ledger keeps it; ``at`` is in UTC."""

    lot: str
    sku: str
    kind: MoveKind
    count: int
    moved: date
    dealer: str
    note: str
    slip: str
    at: datetime
    who: str
    whom: Whom


def move(
    ledger: Ledger,
    moves_asked: Sequence[Move],
    *,
    key: str | None = None,
    even_so: bool = False,
    along: Callable[[Connection], None] | None = None,
    bench: str = "",
) -> list[Moved]:
    """Record moves that belong together, such as the lots of one parcel: all or none.

    Args:
        ledger: an open ledger.
        moves_asked: in the order of the packing slip.
        key: names this request and its slip, so that making it twice ships once.
        even_so: let pieces of held lots go out; the journal remembers it.
        along: what is recorded in the same transaction, before the lots are looked at; it may
            refuse.
        bench: tells this request from one just like it under the same key.

    Raises:
        LabelerError: with everything that stands in the way: unknown, void or held lots, more
            than is on hand, more returned than the dealer has.
    """
    wanted = [_tidy(each) for each in moves_asked]
    request = Request.of(
        "move", key, moves=[[m.kind, fold(m.lot), m.count, fold(m.dealer)] for m in wanted],
        **({"bench": bench} if bench else {}),
    )  # fmt: skip

    def carry_out(connection: Connection) -> str:
        if along:
            along(connection)
        numbers = _hold(connection, wanted)
        if faults := _faults(connection, wanted, numbers, even_so):
            raise LabelerError(faults)
        remember_names(connection, (each.dealer for each in wanted if each.dealer))
        for each, number in zip(wanted, numbers, strict=True):
            _record(connection, ledger, each, number, request.key)
        return request.key

    return slip(ledger, once(ledger, request, carry_out))


def slip(ledger: Ledger, key: str) -> list[Moved]:
    """Return the moves of one slip, in order; an unknown key has none."""
    return ledger.read(lambda connection: _moved(connection, moves.c.slip == key))


def _moved(connection: Connection, wanted: ColumnElement[bool]) -> list[Moved]:
    query = (
        select(lots.c.code.label("lot"), lots.c.sku, *(moves.c[name] for name in _KEPT))
        .join_from(moves, lots)
        .where(wanted)
        .order_by(moves.c.id)
    )
    return [Moved(**row) for row in connection.execute(query).mappings()]


_KEPT = ("kind", "count", "moved", "dealer", "note", "slip", "at", "who", "whom")


@dataclass(frozen=True, slots=True)
class Parcel:
    """What came or went together, under one slip."""

    moves: tuple[Moved, ...]
    taken_back: bool

    @property
    def first(self) -> Moved:
        """Its first lot, which tells the day, and from or to whom."""
        return self.moves[0]

    @property
    def number(self) -> str:
        """The slip's, as it is printed."""
        return slip_number(self.first.slip)

    @property
    def count(self) -> int:
        """All its pieces."""
        return sum(each.count for each in self.moves)


def list_parcels(ledger: Ledger, *, dealer: str = "", key: str = "", most: int = 0) -> list[Parcel]:
    """Return what came and went, the newest first.

    Args:
        ledger: an open ledger.
        dealer: only to and from this one; empty, everybody.
        key: only the slip of this key.
        most: how many; 0, all of them.
    """
    query = select(moves.c.slip).where(moves.c.takes_back.is_(None)).group_by(moves.c.slip)
    query = query.order_by(func.max(moves.c.id).desc())
    if dealer:
        query = query.where(moves.c.dealer_folded == fold(dealer))
    if key:
        query = query.where(moves.c.slip == key)

    def found(connection: Connection) -> list[Parcel]:
        keys = list(connection.scalars(query.limit(most) if most else query))
        went: defaultdict[str, list[Moved]] = defaultdict(list)
        for each in _moved(connection, moves.c.slip.in_(keys) & moves.c.takes_back.is_(None)):
            went[each.slip].append(each)
        undone = select(moves.c.slip).where(moves.c.slip.in_(keys), moves.c.id.in_(_UNDONE))
        back = set(connection.scalars(undone))
        return [Parcel(tuple(went[each]), each in back) for each in keys]

    return ledger.read(found)


def next_slip(connection: Connection, day: date) -> str:
    """Return the next number of a year's slips, after all that were given out, such as 2026-0183.

    No row of a move is ever deleted, and numbers that a lost ledger gave out are in the journal, so
    none comes twice.
    """
    begins = f"{day:%Y}-"
    known = select(moves.c.slip).distinct().where(moves.c.slip.startswith(begins))
    lost = select(journal.c.detail).where(journal.c.what == SLIP_LOST)
    given = {*connection.scalars(known), *(one["number"] for one in connection.scalars(lost))}
    of_year = (each for each in given if each.startswith(begins) and is_slip(each))
    last = max((int(each[5:]) for each in of_year if tidy_slip(each) == each), default=0)
    return f"{begins}{last + 1:04d}"


SLIP_LOST = "slip lost"
"""What the journal calls a number that was given out and is not to be given out again."""

_SLIP = re.compile(r"(20\d\d)[ \u2010-\u2015-](0\d{3}|[1-9]\d{0,5})")
"""A number that lost its last digits, such as 2026-018, is none: it would be another parcel's."""


def is_slip(text: str) -> bool:
    """Tell whether a text has the shape of a year's slip, as it is printed or as one says it."""
    return bool(_SLIP.fullmatch(text.strip()))


def tidy_slip(text: str) -> str:
    """Return a slip's number as it is stored: ``2026 183`` is 2026-0183; other text stays."""
    found = _SLIP.fullmatch(text.strip())
    return f"{found[1]}-{int(found[2]):04d}" if found else text.strip()


def due_slip(ledger: Ledger, day: date) -> str:
    """Return the number that the next slip of this day would get."""
    return ledger.read(lambda connection: next_slip(connection, day))


_MOST_LOST = 999
"""Nobody gives out more between two backups; a higher number is a slip, and bars all below it."""


def lose_slips(ledger: Ledger, numbers: Sequence[str]) -> list[tuple[str, str, str]]:
    """Have slips' numbers that were given out and lost never be given out again: all, or none.

    Args:
        ledger: an open ledger.
        numbers: as `is_slip` knows them.

    Returns:
        "slip", the number as it is stored, and the one that comes next after all.

    Raises:
        LabelerError: with every number that is not lost, or too high.
    """

    def read(connection: Connection, text: str) -> LostNumber:
        number = tidy_slip(text)
        there = connection.scalar(select(moves.c.id).where(moves.c.slip == number).limit(1))
        year = date(int(number[:4]), 1, 1)
        return LostNumber("slip", "slips", number, slice(5, None), there is not None,
                          lambda: next_slip(connection, year))  # fmt: skip

    return lose(ledger, "slips lost", numbers, read)


@dataclass(frozen=True, slots=True)
class LostNumber:
    """A number of a year that was given out and lost.

    Attributes:
        kind: of what, such as "slip".
        kinds: several of them.
        number: as it is stored.
        running: where in it the running number of the year stands.
        there: whether it is on record, and so not lost.
        due: returns the number that comes next now.
    """

    kind: str
    kinds: str
    number: str
    running: slice
    there: bool
    due: Callable[[], str]


def lose(
    ledger: Ledger, what: str, numbers: Sequence[str],
    read: Callable[[Connection, str], LostNumber],
) -> list[tuple[str, str, str]]:  # fmt: skip
    """Have numbers never be given out again: all, or none.

    Args:
        ledger: an open ledger.
        what: the kind of the request.
        numbers: as they were typed.
        read: called in the transaction with each; may refuse it.

    Returns:
        Each one's kind, the number as it is stored, and the one that comes next after all.

    Raises:
        LabelerError: with every number that is not lost, or too high.
    """

    def bar(connection: Connection, text: str) -> LostNumber:
        lost = read(connection, text)
        place = Place(key=f"{lost.kind} {lost.number}")
        if lost.there:
            message = f"the ledger has this {lost.kind}, so it is not lost"
            raise refusal("lost-known", place, message)
        above = int(lost.number[lost.running]) - int(lost.due()[lost.running])
        if above >= _MOST_LOST:
            raise refusal(
                "lost-number", place, f"nobody gives out so many {lost.kinds} between two backups",
                found=f"{above + 1:,} after the last on record", expected=f"at most {_MOST_LOST}",
            )  # fmt: skip
        if above >= 0:
            enter(connection, ledger, f"{lost.kind} lost", None, number=lost.number)
        return lost

    def bar_all(connection: Connection) -> list[list[str]]:
        barred = read_each(lambda text: bar(connection, text), numbers)
        return [[lost.kind, lost.number, lost.due()] for lost in barred]

    answers = once(ledger, Request.of(what, None), bar_all)
    return [(kind, number, after) for kind, number, after in answers]


class SlipTakenError(Exception):
    """Another bench took the slip's number while its paper was made."""


def move_numbered(
    ledger: Ledger, moves_asked: Sequence[Move], number: str, *, even_so: bool = False
) -> list[Moved]:
    """Record moves under the number that `due_slip` gave, if nobody took it meanwhile.

    Raises:
        LabelerError: as `move` does.
        SlipTakenError: if the number went to another.
    """

    def hold_number(connection: Connection) -> None:
        if next_slip(connection, moves_asked[0].moved) != number:
            raise SlipTakenError

    try:
        return move(ledger, moves_asked, key=number, even_so=even_so, along=hold_number,
                    bench=uuid4().hex)  # fmt: skip
    except LabelerError as error:
        if {each.rule for each in error.findings} == {"key-used"}:
            raise SlipTakenError from error
        raise


def slip_number(key: str) -> str:
    """Return a slip's number as it is printed.

    It is the key; of a parcel of older days, whose key was made up at random, the beginning of it.
    """
    made_up = len(key) == _MADE_UP and not key.strip("0123456789abcdef")
    return key[:_SHOWN].upper() if made_up else key


_MADE_UP = 32
"""Figures and letters of a key that was made up."""

_SHOWN = 8
"""As many of them stand on the slip."""


def take_back(ledger: Ledger, number: str, why: str = "") -> list[Moved]:
    """Undo the moves of one slip, which were never made; asked again, it is not done again.

    Every row stays as it was written: a row against each says that it was a mistake.

    Args:
        ledger: an open ledger.
        number: the slip's, or its key.
        why: what the maker wants to remember.

    Raises:
        LabelerError: if there is no such slip, or what was recorded since stands on it.
    """
    text = a_line(number, "slip")

    def find_slip(connection: Connection) -> str:
        # A key of the maker's own may look like a slip's number said in short: 2026-18.
        keyed = connection.scalar(select(moves.c.id).where(moves.c.slip == text).limit(1))
        meant = moves.c.slip == (text if keyed else tidy_slip(text))
        if len(text) >= _SHOWN:  # less would be a slip of the finger that fits somebody's parcel
            begins = moves.c.slip.startswith(text.lower(), autoescape=True)
            meant = or_(meant, begins & (func.length(moves.c.slip) == _MADE_UP))
        found = select(moves.c.slip).where(meant, moves.c.takes_back.is_(None)).distinct()
        keys = list(connection.scalars(found))
        if len(keys) != 1:
            newest = connection.scalar(select(moves.c.slip).order_by(moves.c.id.desc()).limit(1))
            raise refusal(
                "slip-unknown",
                Place(key="slip"),
                "several slips have this number" if keys else "no slip has this number",
                found=repr(number),
                expected=", ".join(keys),
                hint="labeler lot journal shows the number of every slip."
                + (f" The last is {slip_number(newest)}." if newest else ""),
            )
        return str(keys[0])

    def undo(connection: Connection) -> str:
        query = select(moves).where(moves.c.slip == key).order_by(moves.c.id)
        rows = connection.execute(query).all()
        here = {row.lot_id for row in rows}
        held = select(lots.c.id).where(lots.c.id.in_(here)).order_by(lots.c.id)
        connection.execute(held.with_for_update()).all()
        for row in rows:
            _take_back_one(connection, ledger, row, request.key, a_line(why, "note", may_lack=True))
        if faults := [fault for row in rows for fault in _stands_on(connection, row)]:
            raise LabelerError(dict.fromkeys(faults))
        return request.key

    key = ledger.read(find_slip)
    request = Request.of("mistake", key)
    once(ledger, request, undo)
    return ledger.read(lambda connection: _moved(connection, moves.c.takes_back.in_(_made_by(key))))


def _made_by(key: str) -> Select[tuple[int]]:
    """Select the moves that the slip of this key was made for."""
    return select(moves.c.id).where(moves.c.slip == key, moves.c.takes_back.is_(None))


def _take_back_one(
    connection: Connection, ledger: Ledger, row: Row[Any], key: str, why: str
) -> None:
    against = row._asdict() | {"change": -row.change, "slip": key, "note": why}
    del against["id"]
    put(connection, ledger, moves, **against | {"takes_back": row.id})
    enter(
        connection, ledger, "mistake", row.lot_id, kind=row.kind, count=row.count,
        dealer=row.dealer, slip=slip_number(row.slip), why=why,
    )  # fmt: skip


def _stands_on(connection: Connection, row: Row[Any]) -> Iterator[Finding]:
    """Yield what was recorded since and could not be if this move was never made."""
    code = connection.scalar(select(lots.c.code).where(lots.c.id == row.lot_id))
    lacking = _on_hand(connection, row.lot_id) < 0 and "went out"
    if (
        not lacking
        and row.dealer
        and _with_dealers(connection, row.lot_id)[row.lot_id, row.dealer_folded] < 0
    ):
        lacking = f"came back from {row.dealer}"
    if lacking:
        yield stop(
            "mistake-too-late",
            Place(key=f"lot {code}"),
            f"pieces of this lot {lacking} since, so this can't have been a mistake alone",
            hint="Take back first what was recorded after it.",
        )


def is_taken_back(ledger: Ledger, key: str) -> bool:
    """Tell whether the slip of this key was taken back as a mistake."""
    query = select(moves.c.id).where(moves.c.takes_back.in_(_made_by(key))).limit(1)
    return ledger.read(lambda connection: connection.scalar(query)) is not None


def no_dealer(ledger: Ledger, name: str) -> tuple[str, Whom] | None:
    """Return how a customer's or a fair's name was first written, and which it is; else None."""
    query = select(moves.c.dealer, moves.c.whom).where(
        moves.c.dealer_folded == fold(name), moves.c.whom != "dealer"
    )
    first = query.order_by(moves.c.id).limit(1)
    found = ledger.read(lambda connection: connection.execute(first).first())
    return (found.dealer, found.whom) if found else None


def from_lots(
    ledger: Ledger, parcels: Sequence[tuple[str, int]], key: str
) -> list[tuple[str, int]]:
    """Return what each SKU among the parcels comes to in lots: oldest first, held ones left out.

    Args:
        ledger: an open ledger.
        parcels: lot codes and SKUs with their counts; lot codes stay as they are.
        key: of the request; carried out before, it comes to the lots that it did then.

    Raises:
        LabelerError: with every SKU of which fewer can go out than are wanted.
    """

    def choose(connection: Connection) -> list[tuple[str, int]]:
        before = _moved(connection, moves.c.slip == key)
        taken: Counter[str] = Counter()
        for text, count in parcels:
            taken[lot_code.tidy(text)] += count
        then: Counter[str] = Counter()
        for each in before:
            then[each.lot] += each.count
        then.subtract(taken)
        chosen: list[tuple[str, int]] = []
        faults: list[Finding] = []
        for text, count in parcels:
            sku = text.strip().upper()
            of_sku = stock(connection, sku).get(sku) if sku else None
            if of_sku is None or count < 1:
                chosen.append((text, count))
                continue
            again = dict.fromkeys(each.lot for each in before if each.sku == sku)
            drawn, left = _drawn(((code, then[code]) for code in again), count)
            if not left:
                then.subtract(dict(drawn))
                chosen += drawn
                continue
            ready = ((code, here - taken[code]) for code, here, why in of_sku if not why)
            drawn, left = _drawn(ready, count)
            taken.update(dict(drawn))
            chosen += drawn
            if left:
                faults.append(_short(sku, count, left, of_sku))
        if faults:
            raise LabelerError(faults)
        return chosen

    return ledger.read(choose)


def refuse_sku(ledger: Ledger, text: str, kind: MoveKind, dealer: str) -> None:
    """Refuse a SKU where only the lot on the bag will do; its lots are told with their counts.

    Args:
        ledger: an open ledger.
        text: a lot code, or the SKU of a lot.
        kind: of the move.
        dealer: from whom, if they come back.

    Raises:
        LabelerError: naming the lots that could be meant.
    """
    with_them = kind == "return"
    here = ledger.read(lambda connection: stock(connection, text)).get(text)
    if here is None:
        return
    counted = {code: count for code, count, _ in here}
    if with_them:
        shipped = -func.sum(moves.c.change)
        query = (
            select(lots.c.code, shipped).join_from(lots, moves).group_by(lots.c.code)
            .where(lots.c.sku == text, moves.c.kind.in_(_TO_A_DEALER),
                   moves.c.dealer_folded == fold(dealer))
        )  # fmt: skip
        counted = ledger.read(lambda connection: dict(iter(connection.execute(query))))
    where = f"with {dealer}" if with_them else "on hand"
    could_be = [f"{code} ({n} {where})" for code, n in counted.items() if n or kind == "extra"]
    raise refusal(
        "lot-which", Place(key=text), "only a lot can be moved so: its code stands on the bag",
        expected=f"one of {', '.join(could_be)}" if could_be else f"a lot, but none is {where}",
    )  # fmt: skip


def _drawn(lots_here: Iterable[tuple[str, int]], count: int) -> tuple[list[tuple[str, int]], int]:
    """Return how many of each lot make up a count, and how many are still lacking."""
    drawn = []
    for code, here in lots_here:
        if (most := min(count, here)) > 0:
            drawn.append((code, most))
            count -= most
    return drawn, count


def _short(sku: str, count: int, left: int, lots_of: Sequence[tuple[str, int, str]]) -> Finding:
    held = ", ".join(f"{many} of lot {code} ({why})" for code, many, why in lots_of if why and many)
    return stop(
        "not-on-hand",
        Place(key=sku),
        "fewer are on hand than you want to ship",
        found=f"{count} wanted",
        expected=f"at most {count - left}",
        hint=f"Held, and so left out: {held}." if held else "",
    )


def stock(connection: Connection, sku: str = "") -> dict[str, list[tuple[str, int, str]]]:
    """Return by SKU the code, pieces on hand and why it is held of every lot, the oldest first.

    Args:
        connection: in a transaction.
        sku: one product's lots only.
    """
    query = (
        select(lots.c.sku, lots.c.code, lots.c.count + CHANGE, func.max(HELD.c.why), voids.c.lot_id)
        .join_from(lots, moves, isouter=True)
        .join(voids, voids.c.lot_id == lots.c.id, isouter=True)
        .join(HELD, HELD.c.lot_id == lots.c.id, isouter=True)
        .group_by(lots.c.id, voids.c.lot_id)
        .order_by(lots.c.made, lots.c.number)
    )
    found: defaultdict[str, list[tuple[str, int, str]]] = defaultdict(list)
    for of, code, here, why, void in connection.execute(
        query.where(lots.c.sku == sku) if sku else query
    ):
        found[of].append((code, 0 if void is not None else int(here), why or ""))
    return found


def on_hand(ledger: Ledger, code: str) -> int:
    """Return how many pieces of a lot are here; none of a void lot.

    Raises:
        LabelerError: if there is no such lot.
    """
    return ledger.read(lambda connection: _on_hand(connection, lot_id(connection, code)))


def _tidy(asked: Move) -> Move:
    dealer = a_line(asked.dealer, "dealer", may_lack=asked.kind not in _TO_A_DEALER)
    note = a_line(asked.note, "note", may_lack=True, longest=2000)
    return replace(asked, dealer=dealer, note=note)


def _hold(connection: Connection, wanted: Sequence[Move]) -> list[int]:
    """Find the lots and keep others from moving them, in an order that cannot lock up."""
    numbers = read_each(lambda each: lot_id(connection, each.lot), wanted)
    held = select(lots.c.id).where(lots.c.id.in_(set(numbers))).order_by(lots.c.id)
    connection.execute(held.with_for_update()).all()
    return numbers


def _faults(
    connection: Connection, wanted: Sequence[Move], numbers: Sequence[int], even_so: bool
) -> list[Finding]:
    """Return what stands in the way, each move counted after those before it."""
    here = {number: _on_hand(connection, number) for number in set(numbers)}
    there: Counter[tuple[int, str]] = Counter()
    for number in set(numbers):
        there.update(_with_dealers(connection, number))
    found: list[Finding] = []
    for each, number in zip(wanted, numbers, strict=True):
        dealer = (number, fold(each.dealer))
        found += _fault(connection, each, number, here[number], there[dealer])
        why = why_held(connection, number) if each.kind == "ship" and not even_so else ""
        if why and not is_void(connection, number):
            found.append(
                stop(
                    "move-held",
                    Place(key=f"lot {each.lot}"),
                    "this lot is held, so none of it may go out",
                    found=why,
                    hint=f"labeler lot release {each.lot} --why TEXT releases it. --even-so ships "
                    "it as it is, and the journal remembers that.",
                )
            )
        here[number] += _CHANGE[each.kind] * each.count
        if each.kind in _TO_A_DEALER:
            there[dealer] -= _CHANGE[each.kind] * each.count
    return found


ALIKE_WITHIN = timedelta(days=7)
"""A shop seldom orders the very same twice in a week. Common practice, no published source."""


def refuse_twice(ledger: Ledger, asked: Move, parcels: Sequence[tuple[str, int]]) -> None:
    """Refuse a parcel just like one of the days before or after, unless that was a mistake.

    Of a SKU only the sum counts: the second parcel of it comes from other lots than the first.

    Args:
        ledger: an open ledger.
        asked: its kind, day and dealer; not its lot and count.
        parcels: lot codes and SKUs with their counts, as they were asked for.

    Raises:
        LabelerError: naming the slip of the other.
    """
    wanted: Counter[str] = Counter()
    for text, count in parcels:
        wanted[lot_code.tidy(text)] += count
    query = select(moves.c.slip, moves.c.moved, lots.c.code, lots.c.sku, moves.c.count).where(
        moves.c.lot_id == lots.c.id,
        moves.c.kind == asked.kind,
        moves.c.dealer_folded == fold(asked.dealer),
        moves.c.moved.between(asked.moved - ALIKE_WITHIN, asked.moved + ALIKE_WITHIN),
        STANDS,
    )
    rows = ledger.read(lambda connection: connection.execute(query).all())
    skus = {row.code: lot_code.tidy(row.sku) for row in rows if lot_code.tidy(row.sku) in wanted}
    for code in skus.keys() & wanted.keys():
        wanted[skus[code]] += wanted.pop(code)
    held: defaultdict[tuple[str, date], Counter[str]] = defaultdict(Counter)
    for key, day, code, _, count in rows:
        held[key, day][skus.get(code, code)] += count
    for (key, day), parcel in held.items():
        if parcel == wanted:
            raise refusal(
                "move-twice",
                Place(key=parcels[0][0]),
                "just the same was recorded before: perhaps it was typed twice",
                found=f"slip {slip_number(key)}, {day}",
                hint="If it is so, nothing is left to do. If it happened once more, say --again.",
            )


def _fault(
    connection: Connection, asked: Move, number: int, here: int, there: int
) -> Iterator[Finding]:
    place = Place(key=f"lot {asked.lot}")
    if asked.count < 1:
        yield stop("move-count", place, "nothing is moved", found=str(asked.count),
                   expected="1 or more")  # fmt: skip
    elif asked.kind != "return" and is_void(connection, number):
        yield stop("move-void", place, "this lot is void, so none of it may go out")
    elif _CHANGE[asked.kind] < 0 and asked.count > here:
        yield stop(
            "not-on-hand", place, f"fewer are on hand than you want to {asked.kind}",
            found=f"{asked.count} wanted", expected=f"at most {here}",
            hint="If more were made than the lot was opened for, record those first: --extra.",
        )  # fmt: skip
    elif asked.kind == "return" and asked.count > there:
        yield stop(
            "not-with-dealer", place, f"{asked.dealer} does not have that many of this lot",
            found=f"{asked.count} returned", expected=f"at most {there}",
        )  # fmt: skip


def _on_hand(connection: Connection, number: int) -> int:
    if is_void(connection, number):
        return 0
    moved = select(CHANGE).where(moves.c.lot_id == number)
    made = connection.scalar(select(lots.c.count).where(lots.c.id == number))
    return int(made or 0) + int(connection.scalar(moved) or 0)


def _with_dealers(connection: Connection, number: int) -> dict[tuple[int, str], int]:
    query = (
        select(moves.c.dealer_folded, -func.sum(moves.c.change))
        .where(moves.c.lot_id == number, moves.c.kind.in_(_TO_A_DEALER))
        .group_by(moves.c.dealer_folded)
    )
    return {(number, dealer): int(count) for dealer, count in connection.execute(query)}


def _record(connection: Connection, ledger: Ledger, each: Move, number: int, key: str) -> None:
    put(
        connection,
        ledger,
        moves,
        lot_id=number,
        kind=each.kind,
        dealer=each.dealer,
        dealer_folded=fold(each.dealer),
        count=each.count,
        change=_CHANGE[each.kind] * each.count,
        moved=each.moved,
        slip=key,
        note=each.note,
        whom=each.whom,
    )
    held = although_held(connection, number) if each.kind == "ship" else {}
    enter(
        connection, ledger, each.kind, number, count=each.count, dealer=each.dealer,
        moved=each.moved.isoformat(), slip=slip_number(key), **held,
    )  # fmt: skip
