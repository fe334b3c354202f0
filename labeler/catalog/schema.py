"""The JSON Schema of ``catalog.toml``, by which editors complete and check it.

It is derived from the records and shipped as ``catalog.schema.json``; after a change to the
records ``python -m labeler.catalog.schema`` writes it anew, and a test says when that was
forgotten. An editor is told of it in the first line of a catalog: ``#:schema catalog.schema.json``.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from labeler.catalog.structure import schema

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
