"""How much of a file is read before it is refused, from ``limits.toml``."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files


@cache
def _limits() -> dict[str, float]:
    return tomllib.loads(files(__package__).joinpath("limits.toml").read_text("utf-8"))


def limit(name: str) -> float:
    """Return the limit called ``name``.

    Raises:
        KeyError: if there is none.
    """
    return _limits()[name]


class TooMuchError(Exception):
    """The file asks for more than a page of labels ever needs."""
