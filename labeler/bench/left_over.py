"""What the starter folder says that still stands in a maker's own catalog, and would be printed."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

from labeler import shelf
from labeler.catalog.model import Catalog
from labeler.findings import Finding, Place, fix, note

_OF_THE_MAKER = ("name", "street", "city", "site", "links", "email", "phone")
_OF_A_PATTERN = ("name", "story")


def left_over(catalog: Catalog) -> tuple[Finding, ...]:
    """Return what a label would say in the starter's words.

    As long as the business has the starter's name it is a trial, and this is only good to know.
    """
    kept = tuple(_kept(catalog))
    trial = "maker.name" in kept
    if not kept:
        return ()
    tell = note if trial else fix
    return (
        tell(
            "starter-left-over",
            Place(file="catalog.toml"),
            "this is still the starter's and will be printed so",
            found=", ".join(kept),
            hint="Put your own there, or take the line out where it may be left out.",
        ),
    )


def _kept(catalog: Catalog) -> Iterator[str]:
    """Yield the keys that hold what the starter holds."""
    starter = _starter()
    for key in _OF_THE_MAKER:
        if getattr(catalog.file.maker, key) == starter["maker"][key]:
            yield f"maker.{key}"
    for theirs in starter["patterns"].values():
        for name, pattern in catalog.file.patterns.items():
            for key in _OF_A_PATTERN:
                if (getattr(pattern, key) or "").strip() == theirs[key].strip():
                    yield f"patterns.{name}.{key}"


@cache
def _starter() -> Mapping[str, Any]:
    file = shelf.shipped("layouts") / "starter" / "catalog.toml"
    return tomllib.loads(file.read_text("utf-8"))
