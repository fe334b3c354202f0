"""Looks through the whole ledger for damage, and for anything that our own rules forbid."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import Connection, func, select, text

from labeler.codes.lotcode import is_valid
from labeler.findings import Finding, Place, stop
from labeler.ledger.faults import BACKUP_HINT
from labeler.ledger.schema import days, journal, lots, moves
from labeler.ledger.store import Ledger


def examine(ledger: Ledger) -> tuple[Finding, ...]:
    """Return what is wrong with the ledger; nothing, if all is well. Reads every row.

    1. the file's structure (SQLite), 2. every reference leads somewhere (SQLite; a server sees to
    it itself), 3. every code fits its check character, 4. the numbers of a day have no gap but for
    codes noted as lost, 5. no lot has less than nothing on hand.
    """
    checks = (_structure, _codes, _numbers, _on_hand)
    return ledger.read(
        lambda connection: tuple(
            stop(rule, Place(file=ledger.where), message, found=found, hint=BACKUP_HINT)
            for check in checks
            for rule, message, found in check(connection)
        )
    )


def _structure(connection: Connection) -> Iterator[tuple[str, str, str]]:
    if connection.dialect.name != "sqlite":
        return
    for row in connection.execute(text("PRAGMA integrity_check(20)")):
        if row[0] != "ok":
            yield "ledger-damaged", "the ledger's file is damaged", str(row[0])
    for row in connection.execute(text("PRAGMA foreign_key_check")):
        yield "ledger-torn-row", f"a row of {row[0]} refers to nothing", f"row {row[1]}"


def _codes(connection: Connection) -> Iterator[tuple[str, str, str]]:
    for code in connection.scalars(select(lots.c.code)):
        if not is_valid(code):
            yield "ledger-code", "a lot code does not fit its check character", code


def _numbers(connection: Connection) -> Iterator[tuple[str, str, str]]:
    query = (
        select(days.c.made, days.c.last_number, func.count(lots.c.id), func.max(lots.c.number))
        .join_from(days, lots, lots.c.made == days.c.made, isouter=True)
        .group_by(days.c.made, days.c.last_number)
    )
    noted = select(journal.c.detail).where(journal.c.what == "lost")
    lost = {detail["made"] for detail in connection.scalars(noted)}
    for made, last, many, highest in connection.execute(query):
        if made.isoformat() in lost and many <= (highest or 0) <= last:
            continue
        if not last == many == highest:
            said = f"{many} lots, the highest {highest}, the last given out {last}"
            yield "ledger-gap", f"the numbers of {made} have a gap", said


def _on_hand(connection: Connection) -> Iterator[tuple[str, str, str]]:
    left = lots.c.count + func.sum(moves.c.change)
    query = (
        select(lots.c.code, left)
        .join_from(lots, moves)
        .group_by(lots.c.id, lots.c.code, lots.c.count)
        .having(left < 0)
    )
    for code, count in connection.execute(query):
        yield "ledger-below-nought", f"lot {code} has less than nothing on hand", str(count)
