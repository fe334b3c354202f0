"""Whether each pattern is whole in itself: no weight twice, a hook for each, keys that fit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress

from labeler.catalog.keyed import by_weight, check_keys
from labeler.catalog.model import CatalogFile, Pattern
from labeler.catalog.source import Source
from labeler.catalog.whereabouts import KeyPath
from labeler.catalog.wording import as_written
from labeler.findings import Finding, stop
from labeler.units import Weight


def check_patterns(source: Source, file: CatalogFile) -> list[Finding]:
    """Return what is wrong within the patterns and heads."""
    findings: list[Finding] = []
    for name, head in file.heads.items():
        findings += check_keys(source, ("heads", name, "cavities"), head.cavities, None)
    for name, pattern in file.patterns.items():
        path: KeyPath = ("patterns", name)
        for key in ("hook_for", "prices", "whole"):
            table = getattr(pattern, key)
            findings += check_keys(source, (*path, key), table, pattern.weights)
        findings += _repeated(source, (*path, "weights"), pattern.weights)
        findings += _repeated(source, (*path, "hook_sizes"), pattern.hook_sizes)
        findings += _repeated(source, (*path, "colours"), pattern.colours)
        findings += _hookless(source, path, pattern)
    return findings


def _repeated(source: Source, path: KeyPath, values: Iterable[Weight | str]) -> Iterator[Finding]:
    seen: dict[Weight | str, int] = {}
    for place, value in enumerate(values):
        if value in seen:
            yield stop(
                "listed-twice",
                source.place((*path, place)),
                f"this is in the list already, at place {seen[value] + 1}",
                found=as_written(str(value)),
            )
        seen.setdefault(value, place)


def hook_sizes(pattern: Pattern, weight: Weight) -> tuple[str, ...]:
    """Return the hook sizes that a pattern is made on in a weight."""
    return by_weight(pattern.hook_for).get(weight, pattern.hook_sizes)


def _hookless(source: Source, path: KeyPath, pattern: Pattern) -> Iterator[Finding]:
    if pattern.hook_sizes:
        return
    with suppress(ValueError):
        for weight in pattern.weights:
            if not hook_sizes(pattern, weight):
                yield stop(
                    "hook-missing",
                    source.place(path),
                    f"no hook size is given for {weight}",
                    expected='hook_sizes = ["4/0"], or a row of hook_for for each weight',
                )
