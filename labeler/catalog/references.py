"""Whether every name that the catalog file mentions is one that it also describes.

The plain values are looked through, not the checked records, so that a wrong name is told in the
same breath as a wrong weight beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from labeler.catalog.source import Source
from labeler.catalog.whereabouts import KeyPath
from labeler.catalog.wording import as_written
from labeler.findings import Finding, did_you_mean, stop


@dataclass(frozen=True, slots=True)
class Reference:
    """One key that holds names: where it stands, ``*`` for any name or place in a list."""

    path: str
    table: str
    """The table that describes what is named."""
    kinds: tuple[str, ...] = ()
    """Kinds of material that may be named; empty for any."""


REFERENCES = (
    Reference("heads.*.alloy", "materials", ("alloy",)),
    Reference("hooks.*.material", "materials", ("steel",)),
    Reference("guards.*.material", "materials"),
    Reference("colours.*.layers.*.material", "materials"),
    Reference("patterns.*.head", "heads"),
    Reference("patterns.*.hook", "hooks"),
    Reference("patterns.*.guard", "guards"),
    Reference("patterns.*.bag", "bags"),
    Reference("patterns.*.colours.*", "colours"),
    Reference("patterns.*.tie.thread", "materials", ("thread", "wire")),
    Reference("dealers.*.tier", "tiers"),
)


def check_references(source: Source) -> list[Finding]:
    """Return a finding for every name that names nothing, or the wrong kind of thing."""
    findings = []
    for reference in REFERENCES:
        entries = _entries(source.data, reference.table)
        for path, name in _spots(source.data, reference.path.split("."), ()):
            if isinstance(name, str) and (fault := _fault(source, path, name, reference, entries)):
                findings.append(fault)
    return findings


def _fault(
    source: Source, path: KeyPath, name: str, reference: Reference, entries: dict[str, Any]
) -> Finding | None:
    if name not in entries:
        return stop(
            "unknown-name",
            source.place(path),
            f"[{reference.table}] describes nothing of this name",
            found=as_written(name),
            hint=meant(name, entries) or f"Describe it under [{reference.table}].",
        )
    kind = entries[name].get("kind") if isinstance(entries[name], dict) else None
    if reference.kinds and isinstance(kind, str) and kind not in reference.kinds:
        return stop(
            "wrong-kind",
            source.place(path),
            f"this names a material of kind {as_written(kind)}",
            found=as_written(name),
            expected=" or ".join(reference.kinds),
            hint=meant(name, _of_kinds(entries, reference.kinds)),
        )
    return None


def _of_kinds(entries: dict[str, Any], kinds: tuple[str, ...]) -> dict[str, Any]:
    return {
        key: entry
        for key, entry in entries.items()
        if isinstance(entry, dict) and entry.get("kind") in kinds
    }


def meant(name: str, entries: dict[str, Any]) -> str:
    """Return a hint at the entry that ``name`` may mean: by its full name, or the nearest key."""
    for key, entry in entries.items():
        full = entry.get("name") if isinstance(entry, dict) else None
        if isinstance(full, str) and full.casefold() == name.casefold():
            return f"Did you mean {key!r}? Things go by the name in their heading."
    return did_you_mean(name, [key for key in entries if key.isprintable()])


def _entries(data: dict[str, Any], table: str) -> dict[str, Any]:
    entries = data.get(table)
    return entries if isinstance(entries, dict) else {}


def _spots(node: Any, parts: list[str], path: KeyPath) -> Iterator[tuple[KeyPath, Any]]:
    """Yield every value that the parts of a path lead to, with the path that did."""
    if not parts:
        yield path, node
    elif parts[0] == "*" and isinstance(node, dict):
        for key, value in node.items():
            yield from _spots(value, parts[1:], (*path, key))
    elif parts[0] == "*" and isinstance(node, list):
        for place, value in enumerate(node):
            yield from _spots(value, parts[1:], (*path, place))
    elif isinstance(node, dict) and parts[0] in node:
        yield from _spots(node[parts[0]], parts[1:], (*path, parts[0]))
