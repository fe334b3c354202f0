"""What countries and states are called in English, read from ``places.toml``."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path


@cache
def _names() -> dict[str, dict[str, str]]:
    path = Path(__file__).with_name("places.toml")
    return tomllib.loads(path.read_text(encoding="utf-8"))


def country(code: str) -> str:
    """Return the English name of the country ``code``; the code itself where it has none."""
    return _names()["countries"].get(code, code)


def state(text: str) -> str:
    """Return the name of the US state that ``text`` abbreviates; ``text`` where it does not."""
    return _names()["states"].get(text.upper(), text)


def is_state(text: str) -> bool:
    """Tell whether ``text`` is a US state, by its two letters or its name."""
    states = _names()["states"]
    return text.upper() in states or text in states.values()


def code_meant(text: str) -> str:
    """Return the ISO 3166 code of a place called ``text`` in everyday English; nothing if none."""
    plain = " ".join(text.replace(".", "").replace("é", "e").upper().split())
    everyday = _names()["everyday"].get(plain)
    if everyday:
        return everyday
    for table, prefix in (("states", "US-"), ("countries", "")):
        for code, name in _names()[table].items():
            if name.upper() == plain:
                return prefix + code
    country, dash, part = plain.partition("-")
    whole = _names()["everyday"].get(country, "")
    return f"{whole}-{part}" if dash and len(whole) == 2 else ""
