"""Codes that are on bags but not in the ledger: what is left to do once a backup was put back."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, case, select
from sqlalchemy.dialects import postgresql, sqlite

from labeler.codes.lotcode import LotCode, LotForm, read
from labeler.findings import Finding, LabelerError, Place, stop
from labeler.ledger.journal import enter
from labeler.ledger.requests import Request, once
from labeler.ledger.schema import days, lots
from labeler.ledger.store import Ledger

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
    taken: list[tuple[LotCode, int]] = []
    faults: list[Finding] = []
    for text in codes:
        try:
            code = read(text)
            taken.append((code, _number(code)))
        except LabelerError as error:
            faults += error.findings
    if faults:
        raise LabelerError(faults)

    def bar(connection: Connection) -> list[str]:
        known = select(lots.c.code).where(lots.c.code.in_([code.text for code, _ in taken]))
        if there := list(connection.scalars(known)):
            raise LabelerError([_not_lost(code) for code in there])
        for code, number in taken:
            if _raise_to(connection, code, number):
                enter(connection, ledger, "lost", None, code=code.text, number=number,
                      made=code.made.isoformat())  # fmt: skip
        return [code.text for code, _ in taken]

    return list(once(ledger, Request.of("lost", None), bar))


def _number(code: LotCode) -> int:
    """Return the number within the day that a code was made of."""
    form = LotForm(code.prefix)
    for number in range(1, _MOST_A_DAY + 1):
        if form.write(code.made, number) == code.text:
            return number
    raise LabelerError(
        stop(
            "lost-number",
            Place(key=f"lot {code.text}"),
            "nobody opens so many lots in a day",
            found=code.serial,
            expected=f"at most {_MOST_A_DAY}",
        )
    )


def _raise_to(connection: Connection, code: LotCode, number: int) -> bool:
    """Have the day's next lot come after ``number``; tell whether that is new."""
    last = connection.scalar(
        select(days.c.last_number).where(days.c.made == code.made).with_for_update()
    )
    if last is not None and last >= number:
        return False
    insert = sqlite.insert if connection.dialect.name == "sqlite" else postgresql.insert
    higher = case((days.c.last_number < number, number), else_=days.c.last_number)
    connection.execute(
        insert(days)
        .values(made=code.made, last_number=number)
        .on_conflict_do_update(index_elements=["made"], set_={"last_number": higher})
    )
    return True


def _not_lost(code: str) -> Finding:
    return stop(
        "lost-known",
        Place(key=f"lot {code}"),
        "the ledger has this lot, so it is not lost",
        hint="To withdraw it, void it.",
    )
