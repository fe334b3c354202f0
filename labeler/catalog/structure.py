"""The file ``catalog.toml`` itself: found, read, held against the records, and described.

The records in ``model.py`` say what may stand in it. From them come the JSON Schema by which
editors complete and check a catalog, shipped as ``catalog.schema.json``, and the reference of its
keys. After a change to the records, ``python -m labeler.catalog.structure`` writes the schema
again; a test says when that was forgotten.
"""

from __future__ import annotations

import ast
import datetime as dt
import inspect
import json
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from labeler.catalog import model
from labeler.catalog.model import CatalogFile, Maker, Sale
from labeler.findings import Finding, Place, a_few, as_written, did_you_mean, refusal, stop
from labeler.tomlfile import (
    KeyPath,
    TomlFile,
    expected,
    explain_errors,
    key_text,
    parse_toml,
    read_toml,
    resolve,
)

CATALOG_NAME = "catalog.toml"

OURS = "products.csv"
"""The one spreadsheet that is ours to write; any other is the maker's own."""

PHOTOS = "photos"
"""The folder of photos beside it."""

LARGEST_BYTES = 5_000_000
"""A line of ten thousand SKUs stays well under a megabyte; beyond five it is another file."""


def find_catalog(folder: Path) -> Path:
    """Return the path of the folder's catalog file.

    Raises:
        LabelerError: if folder or file is missing, with the nearest name there is.
    """
    place = Place(file=str(folder))
    hint = (
        "`labeler --catalog FOLDER ...` names yours; `labeler new FOLDER` makes one to start from."
    )
    path = folder / CATALOG_NAME
    if path.is_file():
        return path
    if folder.is_dir():
        message = f"there is no {CATALOG_NAME} in this folder"
        try:
            others = [path.name for path in folder.glob("*.toml") if path.is_file()]
            hint = did_you_mean(CATALOG_NAME, others) or hint
        except OSError:
            pass  # a folder that may not be listed: the general hint must do
    else:
        message = "this is a file, not a folder" if folder.exists() else "there is no such folder"
    raise refusal("catalog-missing", place, message, hint=hint)


def read_source(folder: Path) -> TomlFile:
    """Return the folder's catalog file, its TOML parsed.

    Raises:
        LabelerError: if there is none, or it is no sound TOML.
    """
    return _sound(read_toml(find_catalog(folder), name=CATALOG_NAME, largest=LARGEST_BYTES))


def source_of(raw: bytes) -> TomlFile:
    """Return bytes as the catalog file that they would be.

    Raises:
        LabelerError: if they are no sound TOML.
    """
    return _sound(parse_toml(CATALOG_NAME, raw))


def _sound(source: TomlFile) -> TomlFile:
    if not source.data:
        message = "holds nothing but comments" if source.text.strip() else "is empty"
        hint = "`labeler new` makes a folder to start from."
        raise refusal("catalog-empty", Place(file=CATALOG_NAME), message, hint=hint)
    return _in_one_spelling(source)


_AMERICAN = {
    "color": "colour", "colors": "colours", "fiber": "fibre", "guard fiber": "guard fibre",
}  # fmt: skip
"""Keys and words of the records as America spells them; makers write either."""

_AMERICAN_KEYS = frozenset({"color", "colors"})
_KEYS = ((), ("patterns", "*"), ("spreadsheet",), ("spreadsheet", "codes"))
"""Tables that hold such a key, ``*`` for any name."""

_WORDS = (
    "materials.*.kind", "guards.*.style", "spreadsheet.headings.*", "spreadsheet.titles",
    "spreadsheet.across.field", "spreadsheet.fill_down.*", "spreadsheet.several.*",
)  # fmt: skip
"""Keys that hold such a word, ``*`` for any name or place in a list."""


def _in_one_spelling(source: TomlFile) -> TomlFile:
    """Return the file with its keys and words in the records' spelling; messages keep its own."""
    if not any(word in source.text for word in _AMERICAN):
        return source
    data, spelled, twice = source.data, dict[KeyPath, KeyPath](), list[KeyPath]()
    for keys in _KEYS:
        data = _respelled(data, keys, (), spelled, twice)
    for words in _WORDS:
        data = _reworded(data, words.split("."))
    faults = (
        stop("key-two-spellings", source.place(path),
             f"{path[-1]} and {_AMERICAN[str(path[-1])]} are one key, and both are given here",
             hint="Put all of it under one of the two.")
        for path in twice
    )  # fmt: skip
    return replace(source, data=data, spelled=spelled, faults=tuple(faults))


def _respelled(
    node: Any, keys: Sequence[str], path: KeyPath, spelled: dict[KeyPath, KeyPath],
    twice: list[KeyPath],
) -> Any:  # fmt: skip
    """Return a tree with the keys of the tables that ``keys`` lead to respelled.

    ``spelled`` takes down which, ``twice`` those that stand there in both ways.
    """
    if not isinstance(node, dict):
        return node
    if keys:
        return {
            key: _respelled(value, keys[1:], (*path, key), spelled, twice)
            if keys[0] in ("*", key)
            else value
            for key, value in node.items()
        }
    entries: dict[str, Any] = {}
    for key, value in node.items():
        ours = _AMERICAN[key] if key in _AMERICAN_KEYS else key
        if ours == key or ours not in node:
            entries[ours] = value
            if ours != key:
                spelled[*path, ours] = (*path, key)
        else:
            twice.append((*path, key))
    return entries


def _reworded(node: Any, keys: Sequence[str]) -> Any:
    """Return a tree with the words that ``keys`` lead to respelled."""
    if not keys:
        return _AMERICAN.get(node, node) if isinstance(node, str) else node
    if isinstance(node, dict):
        return {
            key: _reworded(value, keys[1:]) if keys[0] in ("*", key) else value
            for key, value in node.items()
        }
    if isinstance(node, list) and keys[0] == "*":
        return [_reworded(value, keys[1:]) for value in node]
    return node


REFERENCES: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("heads.*.alloy", "materials", ("alloy",)),
    ("hooks.*.material", "materials", ("steel",)),
    ("guards.*.material", "materials", ()),
    ("colours.*.layers.*.material", "materials", ()),
    ("patterns.*.head", "heads", ()),
    ("patterns.*.hook", "hooks", ()),
    ("patterns.*.guard", "guards", ()),
    ("patterns.*.bag", "bags", ()),
    ("patterns.*.colours.*", "colours", ()),
    ("patterns.*.tied_with.*", "materials", ()),
    ("packs.*.bag", "bags", ()),
    ("patterns.*.tie.thread", "materials", ("thread", "wire")),
    ("dealers.*.tier", "tiers", ()),
)
"""Keys that hold names, ``*`` for any name or place in a list; the table that describes what is
named; the kinds of material that may be named, none for any."""


OPEN = "?"
"""What stands where a question is not answered yet; nothing is printed while it does."""


@dataclass(frozen=True, slots=True)
class Question:
    """What only the maker can answer, and no label goes out without."""

    asks: str
    answer: str
    """An answer, to show how one is written."""
    written: str
    """How it then stands in the catalog."""
    keys: tuple[str, ...]
    """The keys that hold the answer, ``*`` for any name."""

    @property
    def examples(self) -> list[str]:
        """Return the answers that are shown, each by itself."""
        return self.answer.split("; or ")


@cache
def questions() -> Mapping[str, Question]:
    """Return the questions of the take-in by name, in the order in which they are asked."""
    tables = tomllib.loads((Path(__file__).with_name("questions.toml")).read_text("utf-8"))
    return {
        name: Question(**table | {"keys": tuple(table["keys"])}) for name, table in tables.items()
    }


def open_questions(source: TomlFile) -> tuple[TomlFile, frozenset[str], list[Finding]]:
    """Return the file less the keys that are not answered, those keys, and each question once."""
    open_keys = open_paths(source.data)
    asked: dict[str, list[KeyPath]] = {}
    for path in open_keys:
        asked.setdefault(question_of(path), []).append(path)
    findings = []
    for name, paths in asked.items():
        keys = [key_text(path) for path in paths]
        question = questions().get(name)
        findings.append(
            stop(
                "not-answered",
                source.place(paths[0]),
                question.asks.rstrip(".") if question else "this is not answered yet",
                found=f"{as_written(OPEN)} at {a_few(keys)}" if keys[1:] else as_written(OPEN),
                expected=question.written if question else "the answer in its place",
                hint=f'Or: labeler new FOLDER --from FILE --{name} "{question.examples[0]}"'
                if question
                else "",
            )
        )
    answered = replace(source, data=_answered(source.data)) if open_keys else source
    return answered, frozenset(map(key_text, open_keys)), findings


def open_paths(data: Mapping[str, Any]) -> list[KeyPath]:
    """Return the keys of a catalog that are not answered yet."""
    return [path for path, value in _values(data, ()) if value == OPEN]


def question_of(path: KeyPath) -> str:
    """Return the name of the question that a key answers; the key itself if none does."""
    for name, question in questions().items():
        for keys in question.keys:
            wanted = keys.split(".")
            if len(wanted) == len(path) and all(
                one in ("*", part) for one, part in zip(wanted, path, strict=True)
            ):
                return name
    return key_text(path)


def _values(node: Any, path: KeyPath) -> Iterator[tuple[KeyPath, Any]]:
    """Yield every key of a table that holds no table, and its value; of a list the whole list's."""
    for key, value in node.items():
        if isinstance(value, dict):
            if key != "means":  # whose texts are the maker's own
                yield from _values(value, (*path, key))
        else:
            yield (*path, key), OPEN if isinstance(value, list) and OPEN in value else value


def _answered(table: dict[str, Any]) -> dict[str, Any]:
    """Return a table without the keys that are not answered, at any depth."""
    return {
        key: _answered(value) if isinstance(value, dict) and key != "means" else value
        for key, value in table.items()
        if value != OPEN and not (isinstance(value, list) and OPEN in value)
    }


_OTHERWISE_CALLED = {
    "zip": "postcode", "zipcode": "postcode", "zip_code": "postcode", "postal_code": "postcode",
    "address": "street", "tel": "phone", "telephone": "phone", "mail": "email", "town": "city",
    "website": "site", "web": "site", "homepage": "site", "url": "site", "link": "links",
    "workers": "employees", "staff": "employees", "upc": "gtin", "ean": "gtin", "barcode": "gtin",
    "color": "colours", "colour": "colours", "gray": "grey", "quantity": "pack", "count": "pack",
}  # fmt: skip
"""What makers call a key that has another name here."""


def read_structure(source: TomlFile) -> tuple[CatalogFile, list[Finding]]:
    """Return the catalog file, less every entry that is at fault, and the faults.

    What is returned is good for looking at what remains; with faults it is never printed from.
    """
    try:
        return CatalogFile.model_validate(source.data), list(source.faults)
    except ValidationError as error:
        errors = error.errors(include_url=False)
    findings = explain_errors(CatalogFile, errors, source, also=_OTHERWISE_CALLED)
    return _sound_entries(source.data, errors), [*source.faults, *findings]


def _sound_entries(data: dict[str, Any], errors: list[ErrorDetails]) -> CatalogFile:
    """Return the catalog less each entry that has an error.

    Nobody and nowhere stand in for a maker and places of sale that can't be read.
    """
    spoiled = {error["loc"][:2] for error in errors}
    sound: dict[str, Any] = {
        table: {name: entry for name, entry in entries.items() if (table, name) not in spoiled}
        for table in CatalogFile.model_fields
        if table not in ("maker", "sale") and isinstance(entries := data.get(table), dict)
    }
    if any(place[0] == "spreadsheet" for place in spoiled):
        sound.pop("spreadsheet", None)
    for table, record, stand_in in (
        ("maker", Maker, Maker(name="-", city="-", postcode="-")),
        ("sale", Sale, Sale(markets=("US",))),
    ):
        try:
            sound[table] = record.model_validate(data.get(table))
        except ValidationError:
            sound[table] = stand_in
    return CatalogFile.model_validate(sound)


SHIPPED = Path(__file__).parent / "catalog.schema.json"


@cache
def catalog_schema() -> dict[str, Any]:
    """Return the schema: draft 2020-12, less the nulls that TOML cannot write.

    What each key is for is read from the records' source here, not by pydantic on every start.
    """
    schema = CatalogFile.model_json_schema(mode="validation")
    for name, about in _docstrings().items():
        record = schema if name == CatalogFile.__name__ else schema["$defs"].get(name, {})
        for key, node in record.get("properties", {}).items():
            if key in about:
                record["properties"][key] = dict(
                    sorted((node | {"description": about[key]}).items())
                )
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A tackle maker's catalog",
        "description": "The whole of catalog.toml.",
    }
    described: dict[str, Any] = _in_both_spellings(_without_null(schema))
    return head | {key: value for key, value in described.items() if key not in head}


def _docstrings() -> dict[str, dict[str, str]]:
    """Return the text under each field of each record in ``model.py``."""
    found: dict[str, dict[str, str]] = {}
    for record in ast.parse(inspect.getsource(model)).body:
        if isinstance(record, ast.ClassDef):
            fields = found.setdefault(record.name, {})
            for field, after in zip(record.body, record.body[1:], strict=False):
                match field, after:
                    case (
                        ast.AnnAssign(target=ast.Name(id=key)),
                        ast.Expr(value=ast.Constant(value=str(text))),
                    ):
                        fields[key] = inspect.cleandoc(text)
    return found


def _without_null(node: Any) -> Any:
    """Return ``node`` with "or nothing" taken away: in TOML a key is left out instead."""
    if isinstance(node, list):
        return [_without_null(one) for one in node]
    if not isinstance(node, dict):
        return node
    plain = {key: _without_null(value) for key, value in node.items() if value is not None}
    others = [one for one in plain.get("anyOf", ()) if one != {"type": "null"}]
    if len(others) == 1 and isinstance(others[0], dict):
        del plain["anyOf"]
        return others[0] | plain
    return plain


def _in_both_spellings(node: Any) -> Any:
    """Return a schema that takes the keys and words of the records as America spells them, too."""
    if isinstance(node, list):
        return [_in_both_spellings(one) for one in node]
    if not isinstance(node, dict):
        return node
    both = {key: _in_both_spellings(value) for key, value in node.items()}
    if isinstance(words := both.get("enum"), list):
        both["enum"] = words + [theirs for theirs, ours in _AMERICAN.items() if ours in words]
    keys, needed = both.get("properties", {}), both.get("required", [])
    for theirs in sorted(_AMERICAN_KEYS & {t for t, o in _AMERICAN.items() if o in keys}):
        ours = _AMERICAN[theirs]
        both["properties"] = keys | {theirs: keys[ours] | {"description": f"The same as {ours}."}}
        if ours in needed:
            both["required"] = [key for key in needed if key != ours]
            both["oneOf"] = [{"required": [key]} for key in (ours, theirs)]
    return both


def schema_text() -> str:
    """Return the schema as it is shipped."""
    return json.dumps(catalog_schema(), indent=2, ensure_ascii=False) + "\n"


def reference() -> list[str]:
    """Return what may stand in ``catalog.toml``, table by table, as lines of text.

    Every key with its kind, what it is for, and an example from ``example.toml``. Made from the
    schema each time, so that it is never older than the reader.
    """
    examples = tomllib.loads((Path(__file__).parent / "example.toml").read_text("utf-8"))
    lines = ["", "British and American spelling are one: colours or colors, fibre or fiber."]
    for table, node in catalog_schema()["properties"].items():
        if table in _AMERICAN_KEYS:
            continue
        lines += _describe_table(table, node, [examples[table]])
    return lines[1:]


def _describe_table(heading: str, node: dict[str, Any], examples: list[Any]) -> list[str]:
    """Return the lines on a table and on those within it.

    Args:
        heading: what stands in its brackets.
        node: its schema; a table of names, a list of tables, or a table.
        examples: tables that hold its keys.
    """
    whole = catalog_schema()
    brackets = "[{}]"
    if "additionalProperties" in node and "$ref" in node["additionalProperties"]:
        heading, node = f"{heading}.NAME", node["additionalProperties"]
        examples = [entry for table in examples for entry in table.values()]
    elif "$ref" in node.get("items", {}):
        brackets, node = "[[{}]]", node["items"]
        examples = [entry for table in examples for entry in table]
    record = resolve(whole, node)
    lines = ["", f"{brackets.format(heading)}  {record['description']}"]
    inner: list[str] = []
    for key, about in record["properties"].items():
        if key in _AMERICAN_KEYS:
            continue
        values = [table[key] for table in examples if key in table]
        if "$ref" in about or "$ref" in about.get("items", {}):
            inner += _describe_table(f"{heading}.{key}", about, values)
            continue
        about = about | resolve(whole, about)
        words = "needed" if key in record.get("required", ()) else "may be left out"
        if about.get("default") not in (None, [], {}):
            words += f", and is {as_written(about['default'])} then"
        lines.append(f"  {key}: {_kind(about)}; {words}.")
        lines.append(f"    {about['description']}")
        lines.append(f"    {key} = {_as_toml(values[0])}")
    return lines + inner


def _kind(node: dict[str, Any]) -> str:
    """Say what kind of value a schema asks for."""
    if "anyOf" in node and "type" not in node:
        return " or ".join(_kind(one) for one in node["anyOf"])
    if node.get("type") == "array":
        return f"a list, each {_kind(node['items'])}"
    if node.get("type") == "object":
        return f"a table in braces, each value {_kind(node['additionalProperties'])}"
    return expected({key: value for key, value in node.items() if key != "examples"})


def _as_toml(value: Any) -> str:
    if isinstance(value, dict):
        inside = (f"{key_text((key,))} = {_as_toml(one)}" for key, one in value.items())
        return "{ " + ", ".join(inside) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_as_toml, value)) + "]"
    return str(value) if isinstance(value, dt.date) else json.dumps(value, ensure_ascii=False)


if __name__ == "__main__":
    SHIPPED.write_text(schema_text(), encoding="utf-8")
