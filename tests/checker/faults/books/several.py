"""Faults that are planted several to a book, as many as tell themselves apart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

Damage = Callable[[Any], Any]
Fault = tuple[str, str, str, Damage]
"""What it is, the rule that tells it, at which product or page of the book, and the damage."""

FEW = 7
PAGES = frozenset(map(str, range(1, 13)))
SEVERAL = {f"{way}.<locals>.{name}" for way in ("field", "in_row", "rewritten", "row", "left_out")
           for name in ("damage", "<lambda>")} | {"<lambda>"}  # fmt: skip
"""Kinds of damage that a book can bear more than one of: each is done to something else."""


ALONE = frozenset({
    "another address to send the form to", "words for who hears it read", "another e-mail address",
    "another telephone", "a bookmark that leads elsewhere",
})  # fmt: skip
"""Faults whose rule others of their book set off at the same place, so that nobody would see it if
they were no longer found."""


def books_of(faults: Sequence[Fault]) -> list[list[Fault]]:
    """Return the faults by the books that they are planted in, about as many in each."""
    alone = [[fault] for fault in faults if fault[0] in ALONE]
    books: list[list[Fault]] = [[] for _ in range(0, len(faults) - len(alone), FEW)]
    for fault in (fault for fault in faults if fault[0] not in ALONE):
        fit = [book for book in books if all(_apart(fault, other) for other in book)]
        books += [] if fit else [[]]
        min(fit or books[-1:], key=len).append(fault)
    return [*alone, *books]


def _apart(one: Fault, other: Fault) -> bool:
    """Tell whether two faults can be planted in one book and each be told from the other."""
    pages = {one[2], other[2]} <= {"", *PAGES} and "" in (one[2], other[2])
    field = all(each[1].startswith("order-field") for each in (one, other))
    alike = (one[1] == other[1] or field) and (one[2] == other[2] or pages)
    ways = {getattr(each[3], "__qualname__", "") for each in (one, other)}
    return not alike and (len(ways) == 2 or ways <= SEVERAL)


def called(faults: Sequence[Fault]) -> str:
    """Return what the faults of one book are called."""
    return f"{faults[0][0]} and {len(faults) - 1} more" if faults[1:] else faults[0][0]
