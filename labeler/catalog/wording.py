"""How what stands in the maker's files is shown in a message: short, and safe on a terminal."""

from __future__ import annotations

from typing import Any

LONGEST = 80
"""Letters of a text that a message shows."""


def shown(text: str) -> str:
    """Return ``text`` cut short, with what a terminal would obey or not show made visible."""
    seen = "".join(
        letter if letter.isprintable() else _escaped(letter) for letter in text[:LONGEST]
    )
    return seen + "…" if len(text) > LONGEST else seen


def _escaped(letter: str) -> str:
    return letter.encode("unicode_escape").decode()


def as_written(value: Any) -> str:
    """Return a value much as TOML writes it."""
    if isinstance(value, str):
        return f'"{shown(value)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return _list(value)
    return shown(str(value))


def _list(value: list[Any]) -> str:
    if not value:
        return "an empty list"
    if len(value) == 1 and isinstance(value[0], str):
        return f"[{as_written(value[0])}]"
    return f"a list of {len(value)}"


def a_few(names: list[str], most: int = 6) -> str:
    """Return the first ``most`` names with a count of the others."""
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")
