"""Requests that may be made again without harm: the same key is carried out once."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from sqlalchemy import Connection, select

from labeler.findings import LabelerError, Place, stop
from labeler.ledger.schema import as_text, requests
from labeler.ledger.store import Ledger
from labeler.ledger.texts import a_line


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
        raise LabelerError(
            stop(
                "key-used",
                Place(key="key"),
                f"this key was used before, to {request.kind} something else",
                found=repr(request.key),
                hint="Take a new key for a new request; the old one was carried out.",
            )
        )
    return row.answer


def remember(connection: Connection, request: Request, answer: Any) -> None:
    """Record that the request was carried out, in the transaction that does so."""
    row = {"kind": request.kind, "key": request.key, "ask": request.ask, "answer": answer}
    connection.execute(requests.insert(), row)
