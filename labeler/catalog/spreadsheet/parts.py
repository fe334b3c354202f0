"""What a row says of a jig that its pattern has but one of: the head's metal, the hook, the bag."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from labeler.catalog.casting import metal_density
from labeler.catalog.model import LEAD
from labeler.catalog.model import means as is_named
from labeler.catalog.spreadsheet.cells import Value
from labeler.catalog.spreadsheet.grid import SheetRow
from labeler.catalog.spreadsheet.own_cells import Remarks, Said, means, plain
from labeler.findings import Finding, Grade, as_written


def metal_said(heading: str, value: Value) -> Value:
    """Return which metal a cell names: a yes or no under a heading such as "Lead free" does too."""
    yes = value if isinstance(value, bool) else None
    if isinstance(value, str):
        yes = False if means("no", value) else True if means("yes", value) else None
    if yes is None:
        return value
    free = re.search(r"free|sans|frei|sin\b", heading, re.IGNORECASE)
    return "lead" if yes is not bool(free) else "lead-free"


def names_metal(value: Value) -> bool:
    """Tell whether a cell names a metal, or says that there is no lead."""
    if not isinstance(value, str) or re.search(r"\d", value):
        return False
    words_of = re.findall(r"[^\W\d_]+", value)
    free = re.search(r"\b(?:lead|pb)\W?free\b|\b(?:no|non)\W?lead\b", value, re.IGNORECASE)
    return len(words_of) <= _WORDS_OF_METAL and (
        bool(free) or any(map(metal_density, words_of)) or plain(value) in ("pewter", "zamak")
    )


_WORDS_OF_METAL = 4

PARTS = {"head": "heads", "hook_name": "hooks", "bag": "bags"}
"""What a column may name that a pattern has but one of, and the catalog's table of it."""
_KEYS = {"head": "head", "hook_name": "hook", "bag": "bag"}


def other_parts(rows: Iterable[SheetRow], data: Mapping[str, Any]) -> list[Finding]:
    """Return where rows name a metal, hook or bag that is not that of their pattern.

    One is never taken for all: what it is cast of decides what the label must say.

    Args:
        rows: with the keys of their patterns.
        data: the catalog file, with the patterns that stand in the spreadsheet.
    """
    remarks = Remarks()
    for row in rows:
        pattern = data.get("patterns", {}).get(row.values.get("pattern"), {})
        for name, table in PARTS.items():
            text, key = row.values.get(name), pattern.get(_KEYS[name])
            part = data[table].get(key) if isinstance(data.get(table), dict) else None
            if not text or not isinstance(part, dict):
                continue  # what is missing is told by the catalog file's own reader
            metal: Any = {}
            if name == "head" and isinstance(data.get("materials"), dict):
                metal = data["materials"].get(part.get("alloy"), {})
            if not is_called(name, text, str(key), part, metal):
                its = metal.get("name", "") if name == "head" else part.get("name", key)
                found = f"{as_written(text)}, where {pattern.get('name')} has {as_written(its)}"
                remarks.add(_OTHER_PART[name], row.cell(name), found)
    return remarks.findings()


_OTHER_PART = {
    name: Said(
        "part-differs", Grade.STOP,
        f"these rows name another {what} than their pattern has, and a pattern has one",
        hint=f'Write a table for it, such as [{PARTS[name]}."{example}"], and {_KEYS[name]} = '
        f'"{example}" under [patterns."NAME"]. A pattern that is made with both needs two names in '
        "the spreadsheet.",
    )
    for name, what, example in (
        ("head", "metal", "tin head"), ("hook_name", "hook", "my hook"), ("bag", "bag", "kraft"),
    )
}  # fmt: skip


def is_called(
    name: str, text: str, key: str, part: Mapping[str, Any], metal: Mapping[str, Any]
) -> bool:
    """Tell whether a cell means a head, hook or bag of the catalog.

    Args:
        name: which of them, as in `PARTS`.
        text: the cell.
        key: its heading in the catalog.
        part: its table.
        metal: of a head, the table of its alloy.
    """
    names = [key, str(part.get("name", ""))]
    if name == "bag" and isinstance(part.get("clear"), bool):
        names.append("clear" if part["clear"] else "opaque")
    if name != "head":
        return plain(text) in map(plain, names)
    mix = metal.get("composition")
    inside = " ".join([str(metal.get("name", "")), *(mix if isinstance(mix, dict) else ())])
    has_lead = is_named(inside, LEAD)
    if re.search(r"free|no lead|non", text, re.IGNORECASE) and not is_named(text, LEAD):
        return bool(inside.strip()) and not has_lead
    if is_named(text, LEAD) or has_lead:
        others = [
            word
            for word in re.findall(r"[^\W\d_]+", text)
            if metal_density(word) and not is_named(word, LEAD)
        ]
        return is_named(text, LEAD) and has_lead and all(is_named(inside, (w,)) for w in others)
    names += [str(part.get("alloy", "")), str(metal.get("name", ""))]
    return plain(text) in map(plain, names)


def parts_named(rows: Iterable[SheetRow], name: str) -> dict[str, list[str]]:
    """Return what the rows of each pattern name as its head's metal, hook or bag, each once."""
    named: dict[str, dict[str, str]] = {}
    for row in rows:
        if (text := row.values.get(name)) and (pattern := row.values.get("pattern")):
            named.setdefault(plain(pattern), {}).setdefault(plain(text), text)
    return {pattern: list(texts.values()) for pattern, texts in named.items()}
