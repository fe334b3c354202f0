"""Tables whose keys are weights: ``prices = { "1/2 oz" = "5.25" }``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TypeVar

from labeler.catalog.source import Source
from labeler.catalog.whereabouts import KeyPath
from labeler.catalog.wording import as_written
from labeler.findings import Finding, did_you_mean, stop
from labeler.units import Weight

Value = TypeVar("Value")


def by_weight(table: Mapping[str, Value]) -> dict[Weight, Value]:
    """Return ``table`` by the weights that its keys write.

    Raises:
        ValueError: if a key is no weight; `check_keys` says so beforehand.
    """
    return {Weight.parse(text): value for text, value in table.items()}


def check_keys(
    source: Source, path: KeyPath, table: Mapping[str, object], weights: tuple[Weight, ...] | None
) -> Iterator[Finding]:
    """Yield a finding for every key that is no weight, none of ``weights``, or there twice.

    With None for ``weights`` any weight will do.
    """
    seen: dict[Weight, str] = {}
    for text in table:
        try:
            weight = Weight.parse(text)
        except ValueError as fault:
            yield stop(
                "wrong-value",
                source.place((*path, text)),
                "this key is no weight",
                found=as_written(text),
                expected=str(fault),
            )
            continue
        if weight in seen:
            yield stop(
                "duplicate-weight",
                source.place((*path, text)),
                f"the weight is here already, as {as_written(seen[weight])}",
                found=as_written(text),
            )
        elif weights is not None and weight not in weights:
            yield stop(
                "weight-not-listed",
                source.place((*path, text)),
                "the pattern is not made in this weight",
                found=as_written(text),
                expected="one of " + ", ".join(str(one) for one in weights),
                hint=did_you_mean(text, [str(one) for one in weights]),
            )
        seen.setdefault(weight, text)
