"""Whether every table holds the keys that it should, each of its kind.

Pydantic judges; its errors are told over in the maker's terms: the line, the key, what stands
there, what was expected and the nearest name that would do.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from labeler.catalog.model import CatalogFile, Maker, Sale
from labeler.findings import Finding, as_written, did_you_mean, nearest, stop
from labeler.tomlfile import KeyPath, Source, key_text

Node = dict[str, Any]
"""A part of a JSON Schema."""

_NOBODY = Maker(name="-", city="-", postcode="-")
_NOWHERE = Sale(markets=("US",))


def read_structure(source: Source) -> tuple[CatalogFile, list[Finding]]:
    """Return the catalog file, less every entry that is at fault, and the faults.

    What is returned is good for looking at what remains; with faults it is never printed from.
    """
    try:
        return CatalogFile.model_validate(source.data), []
    except ValidationError as error:
        faults = _causes(error.errors(include_url=False))
    findings = [_finding(source, fault) for fault in faults]
    return _what_remains(source.data, faults), findings


def _causes(faults: list[ErrorDetails]) -> list[ErrorDetails]:
    """Leave out that a list holds too little where what it holds is at fault already."""
    places = [fault["loc"] for fault in faults]
    return [
        fault
        for fault in faults
        if fault["type"] != "too_short"
        or not any(
            other[: len(fault["loc"])] == fault["loc"] for other in places if other != fault["loc"]
        )
    ]


def _what_remains(data: dict[str, Any], faults: list[ErrorDetails]) -> CatalogFile:
    """Return the sound entries: an entry with one fault is left out whole."""
    spoiled = {fault["loc"][:2] for fault in faults}
    rest: dict[str, Any] = {}
    for table in CatalogFile.model_fields:
        entries = data.get(table)
        if table in ("maker", "sale") or not isinstance(entries, dict):
            continue
        rest[table] = {
            name: entry for name, entry in entries.items() if (table, name) not in spoiled
        }
    for table, model, stand_in in (("maker", Maker, _NOBODY), ("sale", Sale, _NOWHERE)):
        try:
            rest[table] = model.model_validate(data.get(table))
        except ValidationError:
            rest[table] = stand_in
    return CatalogFile.model_validate(rest)


def _finding(source: Source, fault: ErrorDetails) -> Finding:
    path: KeyPath = tuple(key for key in fault["loc"] if key != "[key]")
    of_key = fault["loc"][-1:] == ("[key]",)
    teller = _TELLERS.get(fault["type"], _wrong_value)
    return teller(source, path, fault, of_key)


Teller = Callable[[Source, KeyPath, ErrorDetails, bool], Finding]


def _missing(source: Source, path: KeyPath, fault: ErrorDetails, of_key: bool) -> Finding:
    wanted = f"[{path[0]}]" if len(path) == 1 else str(path[-1])
    return stop(
        "missing-key",
        source.place(path),
        f"{wanted} is missing",
        expected=expected(_node(path)).replace("[name]", f"[{path[0]}]"),
    )


def _unknown(source: Source, path: KeyPath, fault: ErrorDetails, of_key: bool) -> Finding:
    known = list(_node(path[:-1]).get("properties", {}))
    return stop(
        "unknown-key",
        source.place(path),
        "there is no such key here",
        found=f"{key_text(path[-1:])} = {as_written(fault['input'])}",
        hint=_meant(str(path[-1]), known),
    )


_OTHERWISE_CALLED = {
    "zip": "postcode", "zipcode": "postcode", "zip_code": "postcode", "postal_code": "postcode",
    "address": "street", "tel": "phone", "telephone": "phone", "mail": "email", "town": "city",
    "website": "site", "web": "site", "homepage": "site", "url": "site", "link": "links",
    "workers": "employees", "staff": "employees", "upc": "gtin", "ean": "gtin", "barcode": "gtin",
    "color": "colour", "colors": "colours", "gray": "grey", "quantity": "pack", "count": "pack",
}  # fmt: skip
"""What makers call a key that has another name here."""


def _meant(said: str, known: Sequence[str]) -> str:
    """Return the hint for a key that is none: the one it is called here, or the nearest."""
    name = _OTHERWISE_CALLED.get(said.casefold().replace("-", "_"), "")
    return f"Did you mean {name!r}?" if name in known else did_you_mean(said, known)


def _not_listed(source: Source, path: KeyPath, fault: ErrorDetails, of_key: bool) -> Finding:
    names = _choices(_node(path))
    return stop(
        "wrong-value",
        source.place(path),
        "this is none of the values that may stand here",
        found=as_written(fault["input"]),
        expected="one of " + ", ".join(names),
        hint=f"Did you mean {near!r}?" if (near := nearest(str(fault["input"]), names)) else "",
    )


def _wrong_value(source: Source, path: KeyPath, fault: ErrorDetails, of_key: bool) -> Finding:
    said = fault.get("ctx", {}).get("error")
    return stop(
        "wrong-value",
        source.place(path),
        "this name may not stand here" if of_key else "this value may not stand here",
        found=as_written(path[-1] if of_key else fault["input"]),
        expected=str(said) if said is not None else _bounds(fault) or expected(_node(path)),
    )


_TELLERS: dict[str, Teller] = {
    "missing": _missing,
    "extra_forbidden": _unknown,
    "literal_error": _not_listed,
}


def _bounds(fault: ErrorDetails) -> str:
    """Return what a text's or list's length should have been, where that is the fault."""
    if fault["type"] == "string_too_long":
        return f"at most {fault.get('ctx', {}).get('max_length')} letters"
    if fault["type"] == "too_short":
        return "a list with something in it"
    return ""


@cache
def schema() -> Node:
    """Return the JSON Schema of the catalog file as pydantic derives it."""
    whole: Node = CatalogFile.model_json_schema(mode="validation")
    return whole


def _node(path: KeyPath) -> Node:
    """Return the schema of what stands at ``path``; an empty one where it knows nothing."""
    node = schema()
    for key in path:
        if isinstance(key, int):
            node = _items(node)
            continue
        node = _plain(node)
        if key in node.get("properties", {}):
            node = node["properties"][key]
        else:
            more = node.get("additionalProperties", {})
            node = more if isinstance(more, dict) else {}
    return _plain(node)


def _items(node: Node) -> Node:
    """Return the schema of a list's items, also where one thing may stand without a list."""
    for choice in (node, *node.get("anyOf", ())):
        if isinstance(choice.get("items"), dict):
            items: Node = choice["items"]
            return {"examples": node.get("examples", [])} | items
    return {}


def _plain(node: Node) -> Node:
    """Return ``node`` with its reference followed and the choice of nothing taken away."""
    while True:
        if "$ref" in node:
            node = schema()["$defs"][node["$ref"].rpartition("/")[2]]
        elif "type" not in node and (some := [n for n in node.get("anyOf", ()) if not _is_null(n)]):
            node = some[0]
        else:
            return node


def _is_null(node: Node) -> bool:
    return node.get("type") == "null"


def _choices(node: Node) -> list[str]:
    return [str(name) for name in node.get("enum", [node["const"]] if "const" in node else [])]


def expected(node: Node) -> str:
    """Say in words what a schema asks for."""
    if names := _choices(node):
        return "one of " + ", ".join(names)
    kind = node.get("type")
    if kind == "integer":
        return "a whole number" + _range(node)
    if isinstance(kind, list) or kind == "string":
        example = f', such as "{node["examples"][0]}"' if node.get("examples") else ""
        return "text in quotes" + example
    return {"boolean": "true or false", "array": "a list in square brackets"}.get(
        str(kind), "a table of its own, written [name]" if kind == "object" else ""
    )


def _range(node: Node) -> str:
    low, high = node.get("minimum"), node.get("maximum")
    if low is None:
        return ""
    return f" from {low}" + (f" to {high}" if high is not None else " up")


# ----------------------------------------------------------------------------
# The JSON Schema of ``catalog.toml``, by which editors complete and check it.
#
# It is derived from the records and shipped as ``catalog.schema.json``; after a change to the
# records ``python -m labeler.catalog.structure`` writes it anew, and a test says when that was
# forgotten. A catalog's first line names it for editors: ``#:schema catalog.schema.json``.

SHIPPED = Path(__file__).parent / "catalog.schema.json"


def catalog_schema() -> dict[str, Any]:
    """Return the schema: draft 2020-12, less the nulls that TOML cannot write."""
    described: dict[str, Any] = _without_null(schema())
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A tackle maker's catalog",
        "description": "The whole of catalog.toml.",
    }
    return head | {key: value for key, value in described.items() if key not in head}


def _without_null(node: Any) -> Any:
    """Return ``node`` with "or nothing" taken away: in TOML a key is left out instead."""
    if isinstance(node, list):
        return [_without_null(one) for one in node]
    if not isinstance(node, dict):
        return node
    plain = {key: _without_null(value) for key, value in node.items() if value is not None}
    choices = [one for one in plain.get("anyOf", ()) if one != {"type": "null"}]
    if len(choices) == 1 and isinstance(choices[0], dict):
        del plain["anyOf"]
        return choices[0] | plain
    return plain


def schema_text() -> str:
    """Return the schema as it is shipped."""
    return json.dumps(catalog_schema(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    SHIPPED.write_text(schema_text(), encoding="utf-8")
