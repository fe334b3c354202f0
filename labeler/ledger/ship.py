"""What came and went: shipments, returns, scrap; and what is on hand, never below zero."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from sqlalchemy import Connection, func, select

from labeler.findings import Finding, LabelerError, Place, read_each, stop
from labeler.ledger.assign import Request, once
from labeler.ledger.lots import a_line, fold, is_void, lot_id, remember_names
from labeler.ledger.schema import lots, moves
from labeler.ledger.store import Ledger, enter

MoveKind = Literal["ship", "return", "scrap", "extra"]

_CHANGE: dict[MoveKind, int] = {"ship": -1, "return": 1, "scrap": -1, "extra": 1}
_TO_A_DEALER = ("ship", "return")


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
    """

    kind: MoveKind
    lot: str
    count: int
    moved: date
    dealer: str = ""
    note: str = ""


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


def move(ledger: Ledger, moves_asked: Sequence[Move], *, key: str | None = None) -> list[Moved]:
    """Record moves that belong together, such as the lots of one parcel: all or none.

    Args:
        ledger: an open ledger.
        moves_asked: in the order of the packing slip.
        key: names this request and its slip, so that making it twice ships once.

    Raises:
        LabelerError: with everything that stands in the way: unknown or void lots, more than is
            on hand, more returned than the dealer has.
    """
    wanted = [_tidy(each) for each in moves_asked]
    request = Request.of(
        "move", key, moves=[[m.kind, fold(m.lot), m.count, fold(m.dealer)] for m in wanted]
    )

    def carry_out(connection: Connection) -> str:
        numbers = _hold(connection, wanted)
        if faults := _faults(connection, wanted, numbers):
            raise LabelerError(faults)
        remember_names(connection, (each.dealer for each in wanted if each.dealer))
        for each, number in zip(wanted, numbers, strict=True):
            _record(connection, ledger, each, number, request.key)
        return request.key

    return slip(ledger, once(ledger, request, carry_out))


def slip(ledger: Ledger, key: str) -> list[Moved]:
    """Return the moves of one slip, in order; an unknown key has none."""
    query = (
        select(lots.c.code.label("lot"), lots.c.sku, *(moves.c[name] for name in _KEPT))
        .join_from(moves, lots)
        .where(moves.c.slip == key)
        .order_by(moves.c.id)
    )
    return ledger.read(
        lambda connection: [Moved(**row) for row in connection.execute(query).mappings()]
    )


_KEPT = ("kind", "count", "moved", "dealer", "note", "slip", "at", "who")


def on_hand(ledger: Ledger, code: str) -> int:
    """Return how many pieces of a lot are here; none of a void lot.

    Raises:
        LabelerError: if there is no such lot.
    """
    return ledger.read(lambda connection: _on_hand(connection, lot_id(connection, code)))


def _tidy(asked: Move) -> Move:
    to_a_dealer = asked.kind in _TO_A_DEALER
    return Move(
        asked.kind,
        asked.lot,
        asked.count,
        asked.moved,
        a_line(asked.dealer, "dealer", may_lack=not to_a_dealer),
        a_line(asked.note, "note", may_lack=True, longest=2000),
    )


def _hold(connection: Connection, wanted: Sequence[Move]) -> list[int]:
    """Find the lots and keep others from moving them, in an order that cannot lock up."""
    numbers = read_each(lambda each: lot_id(connection, each.lot), wanted)
    held = select(lots.c.id).where(lots.c.id.in_(set(numbers))).order_by(lots.c.id)
    connection.execute(held.with_for_update()).all()
    return numbers


def _faults(
    connection: Connection, wanted: Sequence[Move], numbers: Sequence[int]
) -> list[Finding]:
    """Return what stands in the way, each move counted after those before it."""
    here = {number: _on_hand(connection, number) for number in set(numbers)}
    there: Counter[tuple[int, str]] = Counter()
    for number in set(numbers):
        there.update(_with_dealers(connection, number))
    found = []
    for each, number in zip(wanted, numbers, strict=True):
        dealer = (number, fold(each.dealer))
        found += _fault(connection, each, number, here[number], there[dealer])
        here[number] += _CHANGE[each.kind] * each.count
        if each.kind in _TO_A_DEALER:
            there[dealer] -= _CHANGE[each.kind] * each.count
    return found


def _fault(
    connection: Connection, asked: Move, number: int, here: int, there: int
) -> list[Finding]:
    place = Place(key=f"lot {asked.lot}")
    if asked.count < 1:
        return [
            stop(
                "move-count",
                place,
                "nothing is moved",
                found=str(asked.count),
                expected="1 or more",
            )
        ]
    if asked.kind != "return" and is_void(connection, number):
        return [stop("move-void", place, "this lot is void, so none of it may go out")]
    if _CHANGE[asked.kind] < 0 and asked.count > here:
        return [
            stop(
                "not-on-hand",
                place,
                f"fewer are on hand than you want to {asked.kind}",
                found=f"{asked.count} wanted",
                expected=f"at most {here}",
                hint="If more were made than the lot was opened for, record those first: --extra.",
            )
        ]
    if asked.kind == "return" and asked.count > there:
        return [
            stop(
                "not-with-dealer",
                place,
                f"{asked.dealer} does not have that many of this lot",
                found=f"{asked.count} returned",
                expected=f"at most {there}",
            )
        ]
    return []


def _on_hand(connection: Connection, number: int) -> int:
    if is_void(connection, number):
        return 0
    moved = select(func.coalesce(func.sum(moves.c.change), 0)).where(moves.c.lot_id == number)
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
    connection.execute(
        moves.insert().values(
            lot_id=number,
            kind=each.kind,
            dealer=each.dealer,
            dealer_folded=fold(each.dealer),
            count=each.count,
            change=_CHANGE[each.kind] * each.count,
            moved=each.moved,
            slip=key,
            note=each.note,
            **ledger.stamp(),
        )
    )
    enter(
        connection, ledger, each.kind, number, count=each.count, dealer=each.dealer,
        moved=each.moved.isoformat(),
    )  # fmt: skip
