"""Looking up things in a PDF's objects, where a reference may stand for anything."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pypdf.generic import DictionaryObject, IndirectObject, NullObject

_LONGEST_WAY = 32
"""References that lead to references: a file of ours has none."""


def resolved(thing: Any) -> Any:
    """Return what a reference leads to; None where it leads in a circle or nowhere."""
    for _ in range(_LONGEST_WAY):
        if not isinstance(thing, IndirectObject):
            return None if isinstance(thing, NullObject) else thing
        thing = thing.get_object()
    return None


def look(holder: Any, key: str | int) -> Any:
    """Return an entry of a dictionary or an array, its reference followed; None where none is."""
    plain = resolved(holder)
    if isinstance(plain, DictionaryObject) and isinstance(key, str):
        return resolved(plain.raw_get(key)) if key in plain else None
    if isinstance(plain, list) and isinstance(key, int) and key < len(plain):
        return resolved(plain[key])
    return None


def identity(holder: Any, key: str) -> int | None:
    """Return the number of the object that an entry refers to, if it is a reference."""
    plain = resolved(holder)
    if isinstance(plain, DictionaryObject) and key in plain:
        entry = plain.raw_get(key)
        return int(entry.idnum) if isinstance(entry, IndirectObject) else None
    return None


def numbers(thing: Any, count: int) -> list[float] | None:
    """Return an array of exactly ``count`` numbers, or None where it is none."""
    plain = resolved(thing)
    if not isinstance(plain, list) or len(plain) != count:
        return None
    try:
        return [float(resolved(each)) for each in plain]
    except (TypeError, ValueError):
        return None


def text_of(thing: Any) -> str:
    """Return a name or string without its solidus; nothing where it is neither."""
    plain = resolved(thing)
    return plain.removeprefix("/") if isinstance(plain, str) else ""


def mapping(thing: Any) -> Mapping[str, Any]:
    """Return a dictionary, an empty one where it is none."""
    plain = resolved(thing)
    return plain if isinstance(plain, DictionaryObject) else {}


def sequence(thing: Any) -> Sequence[Any]:
    """Return an array, an empty one where it is none."""
    plain = resolved(thing)
    return plain if isinstance(plain, list) else ()
