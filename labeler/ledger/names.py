"""The names that lots are asked for by, and which of them is nearest to a mistyped one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from difflib import get_close_matches

from sqlalchemy import Column, Connection, Select, select
from sqlalchemy.dialects import postgresql, sqlite

from labeler.ledger.schema import in_parts, names
from labeler.ledger.texts import fold

_ALIKE = 0.7
"""How alike two names are, by `difflib`, that one may be the other mistyped."""

_BESIDE = 150
"""How many names on each side of one are compared with it, letter by letter."""


def remember_names(connection: Connection, used: Iterable[str]) -> None:
    """Have names found again, in the transaction that uses them; known ones stay as written first.

    They are written in order, so that two commands cannot wait for each other.
    """
    by_folded: dict[str, str] = {}
    for name in used:
        by_folded.setdefault(fold(name), name)
    known: set[str] = set()
    for some in in_parts(list(by_folded)):
        known.update(connection.scalars(select(names.c.folded).where(names.c.folded.in_(some))))
    rows = [
        {"folded": folded, "backwards": folded[::-1], "name": name}
        for folded, name in sorted(by_folded.items())
        if folded not in known
    ]
    if rows:
        insert = sqlite.insert if connection.dialect.name == "sqlite" else postgresql.insert
        connection.execute(insert(names).on_conflict_do_nothing(), rows)


def nearest(connection: Connection, text: str, most: int) -> list[str]:
    """Return the names that ``text`` may have meant, nearest first.

    However many names there are, only those are compared letter by letter that stand beside
    ``text`` in their order: one slip leaves most of a name's beginning, or most of its end. What
    has two letters swapped or one too many is looked for as it would be without the slip.
    """
    wanted = fold(text)
    swapped = {wanted[:at] + wanted[at : at + 2][::-1] + wanted[at + 2 :]
               for at in range(len(wanted) - 1)}  # fmt: skip
    extra = {wanted[:at] + wanted[at + 1 :] for at in range(len(wanted))}
    near = select(names.c.folded, names.c.name).where(names.c.folded.in_(swapped | extra))
    beside = (
        *_beside(names.c.folded, wanted),
        *_beside(names.c.backwards, wanted[::-1]),
    )
    found = {
        folded: name for query in (near, *beside) for folded, name in connection.execute(query)
    }
    return [found[each] for each in get_close_matches(wanted, found, n=most, cutoff=_ALIKE)]


def _beside(column: Column[str], wanted: str) -> Iterator[Select[tuple[str, str]]]:
    """Yield what asks for the names just before and just after ``wanted`` in their order."""
    named = select(names.c.folded, names.c.name).limit(_BESIDE)
    yield named.where(column < wanted).order_by(column.desc())
    yield named.where(column >= wanted).order_by(column)
