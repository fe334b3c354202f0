"""Withdraws a lot code that was given out by mistake. Nothing is deleted, no code is freed."""

from __future__ import annotations

from sqlalchemy import Connection, func, select

from labeler.codes.lotcode import tidy
from labeler.findings import LabelerError, Place, stop
from labeler.ledger.journal import enter
from labeler.ledger.lots import Lot, is_void, load, lot_id
from labeler.ledger.requests import Request, once
from labeler.ledger.schema import moves, voids
from labeler.ledger.store import Ledger
from labeler.ledger.texts import a_line


def void(ledger: Ledger, code: str, why: str) -> Lot:
    """Withdraw a lot code. The lot stays in the ledger and its code is never given out again.

    Voiding a void lot changes nothing.

    Raises:
        LabelerError: if there is no such lot, or pieces of it are with dealers.
    """
    reason = a_line(why, "reason")

    def withdraw(connection: Connection) -> int:
        number = lot_id(connection, code, hold=True)
        if not is_void(connection, number):
            _refuse_if_out(connection, number, code)
            connection.execute(voids.insert().values(lot_id=number, why=reason, **ledger.stamp()))
            enter(connection, ledger, "void", number, why=reason)
        return number

    number = once(ledger, Request.of("void", None), withdraw)
    return ledger.read(lambda connection: load(connection, [number])[0])


def _refuse_if_out(connection: Connection, number: int, code: str) -> None:
    out = connection.scalar(
        select(func.coalesce(-func.sum(moves.c.change), 0)).where(
            moves.c.lot_id == number, moves.c.kind.in_(("ship", "return"))
        )
    )
    if out:
        raise LabelerError(
            stop(
                "void-shipped",
                Place(key=tidy(code)),
                "pieces with this lot code are with dealers, so it cannot be withdrawn",
                found=f"{out} shipped and not returned",
                hint="Record their return first; to find them, trace the lot.",
            )
        )
