"""Patterns, and all else that the catalog file describes, as forms."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import Any

from starlette.responses import Response

from labeler.app.line import LineEdit, digest, save_line, stated
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import examine, readable
from labeler.catalog.structure import read_source
from labeler.desk.entry import (
    EntryField,
    faults_of,
    fields_of,
    filled,
    heading,
    is_named,
    texts_of,
    values,
)
from labeler.desk.page import Ask, Faults, PageRoute
from labeler.desk.pages.figures import pictured
from labeler.findings import LabelerError, Place, refusal
from labeler.tomlfile import KeyPath, TomlFile, key_text
from labeler.units import Weight

TABLES = {
    "maker": "Who you are", "sale": "Where and how you sell", "materials": "Materials",
    "heads": "Heads", "hooks": "Hooks", "guards": "Weed guards", "bags": "Bags",
    "packs": "Assorted packs", "tiers": "Price tiers", "dealers": "Shops",
    "terms": "Terms for shops", "labels": "A second language",
}  # fmt: skip
"""Tables that have a form, by what a maker calls them."""

ONE = {"materials": "material", "heads": "head", "hooks": "hook", "guards": "weed guard",
        "bags": "bag", "packs": "assorted pack", "tiers": "price tier", "dealers": "shop",
        "patterns": "pattern"}  # fmt: skip
"""What an entry of a table is called."""


@dataclass(frozen=True, slots=True)
class EntryForm:
    """An entry as a form has it.

    Attributes:
        table: of the catalog file.
        key: its heading; empty for a new one, and where the table is one entry.
        source: the catalog file.
        fields: of the form.
        texts: what stands in them.
        weights: of a pattern: weight, hook sizes and price of each; None where a spreadsheet says.
        also: a color that the pattern is to be made in, too.
    """

    table: str
    key: str
    source: TomlFile
    fields: tuple[EntryField, ...]
    texts: Mapping[str, str]
    weights: tuple[tuple[str, str, str], ...] | None = None
    also: str = ""

    @property
    def new(self) -> bool:
        """Whether it is not there yet."""
        return is_named(self.table) and not self.key

    @property
    def path(self) -> KeyPath:
        """Where it stands in the file."""
        if not is_named(self.table):
            return (self.table,)
        taken = self.source.data.get(self.table, {})
        return self.table, self.key or heading(self.texts.get("name", ""), taken)

    @property
    def entry(self) -> dict[str, Any]:
        """What the file says of it now."""
        return {} if self.new else stated(self.source, self.path) or {}

    @property
    def before(self) -> dict[str, str]:
        """The texts of its fields as they are."""
        return filled(self.fields, _usual(self.source, self.table) | self.entry)

    def keys(self) -> dict[KeyPath, Any]:
        """Return what keys of the file are to say, from the entry down."""
        said = values(self.fields, self.texts, self.before)
        if self.weights is not None:
            said |= _weights_said(self.weights, self.entry)
        if self.also:
            said["colours",] = [*self.entry.get("colours", ()), self.also]
        return said


def _usual(source: TomlFile, table: str) -> dict[str, Any]:
    """Return what holds of a pattern that the maker's own spreadsheet names."""
    how = source.data.get("spreadsheet") if table == "patterns" else None
    usual = how.get("pattern") if isinstance(how, dict) else None
    return dict(usual) if isinstance(usual, dict) else {}


def _weights_said(rows: Sequence[tuple[str, str, str]], entry: Mapping[str, Any]) -> Any:
    """Yield keys that a pattern's table of weights changes."""
    rows = [row for row in rows if any(row)]
    old: dict[str, Any] = {name: entry.get(name) or {} for name in ("hook_for", "prices")}
    made: dict[str, dict[str, Any]] = {"hook_for": {}, "prices": {}}
    for weight, hooks, price in rows:
        for name, text in (("hook_for", hooks), ("prices", price)):
            key = _same_weight(weight, old[name]) or weight
            there = old[name].get(key)
            listed = [one.strip() for one in text.split(",") if one.strip()]
            value: Any = listed if name == "hook_for" and len(listed) > 1 else text
            if text:
                made[name][key] = there if _said(there) == text else value
    said: dict[KeyPath, Any] = {}
    weights = [row[0] for row in rows]
    if weights != entry.get("weights"):
        said["weights",] = weights or None
    for name, table in made.items():
        if table != old[name]:
            said[name,] = table or None
    return said


def _same_weight(text: str, table: Mapping[str, Any]) -> str:
    """Return the key of a table that means a weight, however it is written there."""
    try:
        return next((key for key in table if Weight.parse(key) == Weight.parse(text)), "")
    except ValueError:
        return text if text in table else ""


def _said(value: Any) -> str:
    return ", ".join(value) if isinstance(value, list) else str(value or "")


def _form(ask: Ask, table: str, key: str, typed: bool = False) -> EntryForm:
    """Return an entry as the file has it, or as it was typed.

    Raises:
        LabelerError: if there is none.
    """
    source = read_source(ask.folder)
    if table not in (*TABLES, "patterns"):
        raise refusal("entry-unknown", Place(), "the catalog has no such table")
    known = source.data.get(table, {})
    by_sheet = table == "patterns" and key and key not in known
    if by_sheet:
        catalog, _ = examine(ask.folder)
        known = catalog.file.patterns if catalog else {}
    if key and (not is_named(table) or key not in known):
        raise refusal("entry-unknown", Place(), f"the catalog has no such {ONE.get(table, table)}")
    fields = [each for each in fields_of(table, source.data) if not by_sheet or each.name != "name"]
    if table == "patterns" and not key:
        hint = "Begins its SKUs: capitals and digits, such as RV."
        fields.insert(0, EntryField(("code",), "line", hint, needed=True))
    form = EntryForm(table, key, source, tuple(fields), {})
    form = replace(form, texts=form.before, weights=_weights_of(form))
    if not typed:
        return form
    count = ask.text("weights")
    rows = tuple(
        (ask.text(f"w.{at}.weight"), ask.text(f"w.{at}.hook"), ask.text(f"w.{at}.price"))
        for at in range(min(int(count), _MOST_WEIGHTS) if count.isdecimal() else 0)
    )
    texts = texts_of(fields, ask, source.data)
    weights = rows if form.weights is not None else None
    return replace(form, texts=texts, weights=weights, also=ask.text("also"))


_MOST_WEIGHTS = 60


def _weights_of(form: EntryForm) -> tuple[tuple[str, str, str], ...] | None:
    entry = form.entry
    if form.table != "patterns" or (form.key and "weights" not in entry):
        return None
    found: list[tuple[str, str, str]] = []
    for weight in map(str, entry.get("weights", ())):
        texts = []
        for name in ("hook_for", "prices"):
            table = entry.get(name) or {}
            texts.append(_said(table.get(_same_weight(weight, table))))
        found.append((weight, *texts))  # type: ignore[arg-type]
    return tuple(found)


def page(ask: Ask) -> Response:
    """Show an entry to be changed, or a new one to be filled in."""
    return _shown(ask, _form(ask, ask.query("table"), ask.query("of")), Faults())


def pattern(ask: Ask) -> Response:
    """Show a pattern to be changed, or a new one to be filled in."""
    return _shown(ask, _form(ask, "patterns", ask.query("of")), Faults())


def save(ask: Ask) -> Response:
    """Write an entry; shown again where it can't be written as it is."""
    form = _form(ask, ask.text("table"), ask.text("of"), typed=True)
    path = form.path
    keys: dict[KeyPath, Any] = {(*path, *key): value for key, value in form.keys().items()}
    if form.new:
        keys = {path: _whole(form.keys())}
    shown = {} if form.new else {path: ask.text("was")}
    try:
        saved = save_line(LineEdit(ask.folder, keys, shown=shown, sure=bool(ask.text("sure"))))
    except LabelerError as error:
        if error.findings[0].rule == "line-changed":
            return _shown(ask, form, Faults(), both=True)
        names = [field.name for field in form.fields]
        return _shown(ask, form, faults_of(error.findings, path, names, _beside(form)))
    to = "/line/pattern" if form.table == "patterns" else "/line/entry"
    table = "" if form.table == "patterns" else form.table
    return ask.went_to(to, table=table, of=str(path[-1]) if is_named(form.table) else "",
                       saved=saved or "same")  # fmt: skip


def _whole(said: Mapping[KeyPath, Any]) -> dict[str, Any]:
    """Return a new entry in the order in which others are written."""
    entry: dict[str, Any] = {}
    for path, value in said.items():
        if value not in (None, False):
            inner = entry
            for key in path[:-1]:
                inner = inner.setdefault(str(key), {})
            inner[str(path[-1])] = value
    return entry


def _beside(form: EntryForm) -> dict[str, str]:
    """Return the fields of a pattern's table of weights, by the keys that they say."""
    found: dict[str, str] = {}
    for at, (weight, _, _) in enumerate(row for row in form.weights or () if any(row)):
        found[f"weights[{at}]"] = f"w.{at}.weight"
        found[key_text(("hook_for", weight))] = f"w.{at}.hook"
        found[key_text(("prices", weight))] = f"w.{at}.price"
    last = len(form.entry.get("colours", ()))
    return found | {"weights": "w.0.weight", "colours": "also", f"colours[{last}]": "also"}


def _shown(ask: Ask, form: EntryForm, faults: Faults, both: bool = False) -> Response:
    now = form.before
    rows = [(each.label, now[each.name], form.texts[each.name]) for each in form.fields
            if now[each.name].split() != form.texts[each.name].split()] if both else []  # fmt: skip
    if both and form.weights is not None:
        weights = zip_longest(_weights_of(form) or (), form.weights, fillvalue=("", "", ""))
        rows += [("Weight, hooks, price", " ".join(one), " ".join(two))
                 for one, two in weights if one != two]  # fmt: skip
    facts: dict[str, Any] = {
        "form": form, "was": digest(stated(form.source, form.path)), "both": rows,
        "saved": ask.query("saved"), "sure": any(
            one.rule == "products-vanish" for one in faults.other),
    }  # fmt: skip
    if form.table != "patterns":
        facts |= {"heading": TABLES[form.table], "one": ONE.get(form.table, "")}
        return ask.shown("entry.html.jinja", faults, **facts)
    catalog, _ = examine(ask.folder)
    known = catalog.file.patterns if catalog else {}
    facts |= {"catalog": catalog, "pattern": known.get(form.key),
              "grid": ({}, []), "others": _other_colours(form), "in_line": (),
              "drawn": pictured(catalog) if catalog else ()}  # fmt: skip
    if catalog and form.key:
        sold = {one.sku for one in catalog.products}
        facts |= {"grid": _grid(catalog, form.key),
                  "in_line": {one.sku for one in _jigs(catalog, form.key)} & sold}  # fmt: skip
    return ask.shown("pattern.html.jinja", faults, **facts)


def _other_colours(form: EntryForm) -> list[tuple[str, str]]:
    own = form.entry.get("colours", ())
    return [
        (key, str(each.get("name") or key))
        for key, each in form.source.data.get("colours", {}).items()
        if key not in own and isinstance(each, dict)
    ]


# ----------------------------------------------------------------------- in the line, or out of it


def _jigs(catalog: Catalog, key: str) -> list[Product]:
    """Return the products of a pattern, those too that were taken out of the line."""
    of = catalog.file.patterns[key]
    every = (one for one in (*catalog.products, *catalog.gone) if not one.parts)
    return [one for one in every if (one.pattern.code, one.pattern.name) == (of.code, of.name)]


def _grid(catalog: Catalog, key: str) -> tuple[dict[str, dict[str, list[Product]]], list[str]]:
    """Return the products of a pattern by color and weight, and the weights."""
    jigs = _jigs(catalog, key)
    weights = [str(one) for one in dict.fromkeys(one.weight for one in jigs)]
    weights.sort(key=lambda one: Weight.parse(one).grams)
    grid: dict[str, dict[str, list[Product]]] = {}
    names = {colour.code: name for name, colour in catalog.file.colours.items()}
    for one in jigs:
        by_weight = grid.setdefault(names.get(one.colour.code, ""), {})
        by_weight.setdefault(str(one.weight), []).append(one)
    return grid, weights


def products(ask: Ask) -> Response:
    """Take products out of the line, or back into it, as their boxes are ticked."""
    key, had = ask.text("of"), set(ask.text("had").split())
    catalog, _ = readable(ask.folder)
    if key not in catalog.file.patterns:
        raise refusal("entry-unknown", Place(), "the catalog has no such pattern")
    rows = {
        one.sku: {"retired": "" if ask.text(f"in.{one.sku}") else "yes"}
        for one in _jigs(catalog, key)
        if bool(ask.text(f"in.{one.sku}")) != (one.sku in had)
    }
    try:
        saved = save_line(LineEdit(ask.folder, rows=rows))
    except LabelerError as error:
        return _shown(ask, _form(ask, "patterns", key), Faults(error.findings))
    return ask.went_to("/line/pattern", of=key, saved=saved or "same")


# --------------------------------------------------------------------------------------- the rest


def parts(ask: Ask) -> Response:
    """Show all that the catalog file describes beside patterns and colors."""
    data = read_source(ask.folder).data
    tables = {
        table: {key: each for key, each in data.get(table, {}).items() if isinstance(each, dict)}
        if is_named(table) else {}
        for table in TABLES
    }  # fmt: skip
    how = data.get("spreadsheet")
    return ask.shown("made-of.html.jinja", tables=tables, names=TABLES, one=ONE, data=data,
                     sheet=how.get("file", "") if isinstance(how, dict) else "")  # fmt: skip


PLACES = (
    PageRoute("/line/pattern", pattern),
    PageRoute("/line/entry", page),
    PageRoute("/line/entry", save, post=True),
    PageRoute("/line/products", products, post=True),
    PageRoute("/line/parts", parts),
)
