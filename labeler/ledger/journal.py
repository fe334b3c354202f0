"""The journal: every change to the ledger, by whom and when, never altered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, select

from labeler.ledger.schema import journal, lots
from labeler.ledger.store import Ledger


@dataclass(frozen=True, slots=True)
class Entry:
    """One change. ``at`` is in UTC; ``lot`` is a lot code, or empty."""

    id: int
    at: datetime
    who: str
    what: str
    lot: str
    detail: dict[str, Any]


def enter(
    connection: Connection, ledger: Ledger, what: str, lot_id: int | None, **detail: Any
) -> None:
    """Write a change into the journal, in the transaction that makes it."""
    row = {"what": what, "lot_id": lot_id, "detail": detail}
    connection.execute(journal.insert(), row | ledger.stamp())


def entries(
    ledger: Ledger, *, lot: str = "", since: datetime | None = None, last: int | None = None
) -> list[Entry]:
    """Return the journal, oldest entry first.

    Args:
        ledger: an open ledger.
        lot: a lot code as it is stored, to see that lot's history only.
        since: leave out what was before this instant.
        last: leave out all but so many of the newest.
    """
    query = (
        select(
            journal.c.id,
            journal.c.at,
            journal.c.who,
            journal.c.what,
            lots.c.code.label("lot"),
            journal.c.detail,
        )
        .join_from(journal, lots, isouter=True)
        .order_by(journal.c.id.desc())
        .limit(last)
    )
    query = query.where(lots.c.code == lot) if lot else query
    query = query.where(journal.c.at >= since) if since else query
    found = ledger.read(
        lambda connection: [
            Entry(row.id, row.at, row.who, row.what, row.lot or "", row.detail)
            for row in connection.execute(query)
        ]
    )
    return found[::-1]


def last_change(ledger: Ledger) -> datetime | None:
    """Return when the ledger was last changed, in UTC; None if it never was."""
    moment: datetime | None = ledger.read(
        lambda connection: connection.scalar(select(func.max(journal.c.at)))
    )
    return moment
