"""Layouts as they were: every file that a piece was made of, kept once for each content."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import Connection, select

from labeler.ledger.schema import as_text, files, keep_once, layouts
from labeler.ledger.store import Ledger


@dataclass(frozen=True, slots=True)
class KeptLayout:
    """A layout by its name, and its files by their paths: template, styles, pictures."""

    name: str
    files: Mapping[str, bytes]

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the name and of every file's path and content, in hexadecimal."""
        return hashlib.sha256(as_text([self.name, self._prints()]).encode()).hexdigest()

    def _prints(self) -> dict[str, str]:
        return {path: hashlib.sha256(data).hexdigest() for path, data in self.files.items()}


def keep_layout(connection: Connection, layout: KeptLayout) -> str:
    """Keep a layout with all its files, in the caller's transaction; return its fingerprint."""
    fingerprint = layout.fingerprint
    if connection.scalar(select(layouts.c.name).where(layouts.c.fingerprint == fingerprint)):
        return fingerprint
    prints = layout._prints()
    for path, data in sorted(layout.files.items()):
        keep_once(connection, files, fingerprint=prints[path], data=data)
    keep_once(connection, layouts, fingerprint=fingerprint, name=layout.name, files=prints)
    return fingerprint


def layout_of(ledger: Ledger, fingerprint: str) -> KeptLayout | None:
    """Return the layout with this fingerprint as it was, or None if it was never kept."""

    def look(connection: Connection) -> KeptLayout | None:
        row = connection.execute(
            select(layouts.c.name, layouts.c.files).where(layouts.c.fingerprint == fingerprint)
        ).first()
        if row is None:
            return None
        query = select(files).where(files.c.fingerprint.in_(set(row.files.values())))
        kept = {each.fingerprint: each.data for each in connection.execute(query)}
        return KeptLayout(row.name, {path: kept[each] for path, each in row.files.items()})

    return ledger.read(look)
