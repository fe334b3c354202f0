"""An entry of the catalog file as a form: its fields come from the schema, texts in, values out."""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from labeler.catalog.structure import REFERENCES, catalog_schema
from labeler.desk.page import Ask, Faults
from labeler.findings import Finding, Place
from labeler.tomlfile import KeyPath, choices, key_text, resolve

KINDS = {"integer": "number", "boolean": "yes", "array": "list", "object": "lines"}
INK = "^#[0-9a-fA-F]{6}$"
LONG = ("story",)

SKIPPED = {
    "patterns": ("code", "weights", "colours", "hook_for", "prices", "photo"),
    "colours": ("code", "layers", "proposed"),
}
"""Keys that a form has another way for."""

_LABELS = {
    "head_ink": "Head, as it looks", "head_paint": "Head's paint", "thread_ink": "Thread",
    "eye_ink": "Eyes", "hook_sizes": "Hook sizes of every weight", "pack": "Jigs in one pack",
    "case": "Packs in one case", "price": "Price of one pack", "made_in": "Tied in",
    "gs1_prefix": "GS1 company prefix", "off": "Off the retail price", "at_least": "Packs at least",
    "skirt": "Dressing", "length": "Length of the finished jig", "ink": "As it looks",
    "whole": "Weight of the finished jig", "marked_for": "Mould is marked for",
    "for_children": "Made mainly for children", "listed": "Listed in a directory",
}  # fmt: skip

_HINTS = {
    "hook_sizes": "Of every weight that has none of its own; several are parted by commas.",
    "composition": "A line for each: substance = share by mass, such as lead = 97 %.",
    "cavities": "A line for each, where they differ: stated weight = the mould's mark.",
    "whole": "A line for each: stated weight = what the finished jig weighs.",
    "of": "A line for each: SKU, or words of one product = how many.",
    "head": "", "hook": "", "bag": "", "material": "", "alloy": "",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class EntryField:
    """One field of an entry.

    Attributes:
        path: its key, from the entry down.
        kind: line, long, ink, choice, number, yes, list (parted by commas), lines
            (``key = value``) or counts (``key = number``).
        hint: what the key is for.
        needed: whether it may not be left out.
        offers: what may be chosen, each with its words.
        usual: the text of what holds where nothing is said.
    """

    path: KeyPath
    kind: str
    hint: str
    needed: bool
    offers: tuple[tuple[str, str], ...] = ()
    usual: str = ""

    @property
    def name(self) -> str:
        """Its name in the form."""
        return ".".join(map(str, self.path))

    @property
    def label(self) -> str:
        """What a maker calls it."""
        key = str(self.path[-1])
        words = key.replace("_", " ").replace("colour", "color")
        return _LABELS.get(key, words[:1].upper() + words[1:])


def fields_of(table: str, data: Mapping[str, Any]) -> list[EntryField]:
    """Return the fields of an entry of a table of the catalog file.

    Args:
        table: such as ``heads``.
        data: the file's values: what of them may be named is offered.
    """
    whole = catalog_schema()
    node = resolve(whole, whole["properties"][table])
    if isinstance(node.get("additionalProperties"), dict):
        node = resolve(whole, node["additionalProperties"])
    named = table in _NAMED
    return [*_fields(table + (".*" if named else ""), node, (), data)]


_NAMED = frozenset({"materials", "heads", "hooks", "guards", "colours", "bags", "patterns", "packs",
                    "tiers", "dealers"})  # fmt: skip
"""Tables that hold entries by name."""


def is_named(table: str) -> bool:
    """Tell whether a table holds entries by name, or is one entry itself."""
    return table in _NAMED


def heading(name: str, taken: Container[str]) -> str:
    """Return a heading for a new entry, made of its name, that no other has."""
    plain = re.sub(r"[\W_]+", "-", name.casefold()).strip("-")[:50] or "new"
    made, number = plain, 2
    while made in taken:
        made, number = f"{plain}-{number}", number + 1
    return made


def _fields(
    where: str, node: Mapping[str, Any], path: KeyPath, data: Mapping[str, Any]
) -> Iterator[EntryField]:
    whole = catalog_schema()
    skipped = SKIPPED.get(where.partition(".")[0], ()) if not path else ()
    for key, about in node["properties"].items():
        if key in skipped or key in ("color", "colors"):
            continue
        inner = about | resolve(whole, about)
        if inner.get("type") == "object" and "properties" in inner:
            yield from _fields(f"{where}.{key}", inner, (*path, key), data)
            continue
        if inner.get("type") == "array" and "$ref" in inner.get("items", {}):
            continue
        words = [word for word in choices(inner) if word not in _TWINS]
        offers = tuple((word, word) for word in words) or tuple(_named(f"{where}.{key}", data))
        kind = KINDS.get(str(inner.get("type")), "line")
        kind = "choice" if offers and kind == "line" else kind
        counts = inner.get("additionalProperties")
        kind = "counts" if isinstance(counts, dict) and counts.get("type") == "integer" else kind
        kind = "ink" if inner.get("pattern") == INK else "long" if key in LONG else kind
        usual = about.get("default")
        hint = _HINTS.get(key, str(about.get("description", "")).replace("colour", "color"))
        hint = "" if kind == "ink" else hint
        yield EntryField(
            (*path, key), kind, hint, key in node.get("required", ()), offers, _text(kind, usual),
        )  # fmt: skip


_TWINS = ("colour", "fiber", "guard fiber", "color")


def _named(where: str, data: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield what of the file may be named at a key, by its heading, with its name."""
    for keys, table, kinds in REFERENCES:
        if keys == where:
            for key, entry in data.get(table, {}).items():
                if isinstance(entry, dict) and (not kinds or entry.get("kind") in kinds):
                    yield key, str(entry.get("name") or key)


def _text(kind: str, value: Any) -> str:
    if value is None:
        return ""
    if kind == "yes":
        return "1" if value is True else ""
    if kind == "list":
        return ", ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)
    if kind in ("lines", "counts"):
        return "\n".join(f"{key} = {one}" for key, one in dict(value).items())
    return str(value)


def filled(fields: Iterable[EntryField], entry: Any) -> dict[str, str]:
    """Return the texts of an entry's fields, by their names."""
    texts: dict[str, str] = {}
    for field in fields:
        value = entry
        for key in field.path:
            value = value.get(key) if isinstance(value, dict) else None
        texts[field.name] = field.usual if value is None else _text(field.kind, value)
    return texts


def texts_of(fields: Iterable[EntryField], ask: Ask, data: Mapping[str, Any]) -> dict[str, str]:
    """Return what was typed into an entry's fields, a color that was named as the file has it."""
    texts = {field.name: ask.text(field.name) for field in fields}
    return texts | {field.name: ink_of(texts[field.name], data.get("colours", {}))
                    for field in fields if field.kind == "ink"}  # fmt: skip


def values(
    fields: Iterable[EntryField], typed: Mapping[str, str], before: Mapping[str, str]
) -> dict[KeyPath, Any]:
    """Return what keys are to say, of those fields whose texts are others than before."""
    said: dict[KeyPath, Any] = {}
    for field in fields:
        text = typed.get(field.name, "")
        if text.split() != before.get(field.name, "").split():
            said[field.path] = value_of(field.kind, text)
    return said


def value_of(kind: str, text: str) -> Any:
    """Return what a field's text says; what can't be read is left to the catalog to refuse."""
    if kind == "yes":
        return bool(text)
    if not text:
        return None
    if kind == "number":
        return int(text) if re.fullmatch("[0-9]{1,9}", text) else text
    if kind == "list":
        return [one.strip() for one in text.split(",") if one.strip()]
    if kind in ("lines", "counts"):
        pairs = (line.rpartition("=") for line in text.splitlines() if line.strip())
        each = "number" if kind == "counts" else "line"
        return {key.strip(): value_of(each, value.strip()) or "" for key, _, value in pairs}
    return text


def ink_of(text: str, colours: Mapping[str, Any]) -> str:
    """Return a color as the file has it, of what was typed: its digits or its name.

    What is neither is left as it is, for the catalog to refuse.

    Args:
        text: ``#5b5a2b``, ``5b5a2b``, ``#abc``, what a layer of the line is called, or what the
            trade calls a color.
        colours: the line's, as the file has them.
    """
    if digits := re.fullmatch(r"#?([0-9a-fA-F]{6}|[0-9a-fA-F]{3})", text):
        code = digits[1] if len(digits[1]) > _SHORT else "".join(2 * one for one in digits[1])
        return text if text[1:] == digits[1] and len(text) > _SHORT + 1 else f"#{code.lower()}"
    if not text:
        return text
    named = text.casefold().split()
    layers = [layer for one in colours.values() if isinstance(one, dict)
              for layer in one.get("layers") or () if isinstance(layer, dict)]  # fmt: skip
    inks = {str(layer.get("ink")).lower() for layer in layers
            if str(layer.get("shade", "")).casefold().split() == named}  # fmt: skip
    whole = [
        one["layers"] for key, one in colours.items()
        if isinstance(one, dict) and one.get("layers")
        and named in (str(one.get("name", key)).casefold().split(), key.casefold().split())
    ]  # fmt: skip
    inks = inks or {str(rows[0].get("ink")).lower() for rows in whole if len(rows) == 1}
    if len(inks) == 1:
        return inks.pop()
    from labeler.drawing.recipes import ink_called  # only for a name

    return ink_called(text) or text


_SHORT = 3
"""Digits of a color that is written with one for each of red, green and blue."""


def faults_of(
    findings: Iterable[Finding], path: KeyPath, names: Iterable[str], also: Mapping[str, str] = {}
) -> Faults:
    """Return findings beside the fields of an entry's form.

    Args:
        findings: on the catalog file as it would be.
        path: the entry's.
        names: of the form's fields.
        also: other keys, from the entry down, with the fields that they belong to.
    """
    known = sorted(names, key=len, reverse=True)
    above, placed, fields = f"{key_text(path)}.", list[Finding](), dict[str, str]()
    for finding in findings:
        key = finding.place.key
        if key.startswith(above):
            rest = re.sub(r"\[(\d+)\]", r".\1", key[len(above) :])
            within = next((n for n in known if rest == n or rest.startswith(f"{n}.")), "")
            said = key[len(above) :]
            other = next((also[n] for n in also if said == n or said.startswith(f"{n}[")), "")
            if name := other or within:
                finding = replace(finding, place=Place(key=_called(name)))
                fields[finding.place.key] = name
        placed.append(finding)
    return Faults(placed, fields)


def _called(name: str) -> str:
    """Return what a field is called in a sentence: ``layer 1, strands``."""
    counted = re.sub(
        r"^(layers|w)\.(\d+)",
        lambda at: f"{'layer' if at[1] == 'layers' else 'weight'} {int(at[2]) + 1}", name,
    )  # fmt: skip
    return counted.replace(".", ", ").replace("_", " ")
