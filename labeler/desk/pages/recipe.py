"""A color: its recipe layer by layer, and the jig drawn from it while it is changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import Any

from starlette.responses import Response

from labeler.app.line import LineEdit, digest, save_line, stated
from labeler.catalog.model import Catalog, Colour, Product
from labeler.catalog.read import examine
from labeler.catalog.structure import read_source
from labeler.desk.entry import (
    EntryField,
    fields_of,
    filled,
    heading,
    ink_of,
    texts_of,
    value_of,
    values,
)
from labeler.desk.entry import faults_of as beside
from labeler.desk.page import Ask, Faults, PageRoute, expected, picture
from labeler.drawing.jig import describe, draw_jig
from labeler.findings import Finding, LabelerError, Place, refusal
from labeler.press.svg import svg
from labeler.tomlfile import KeyPath, TomlFile, validate
from labeler.type.finish import finished_html

LAYER = ("material", "shade", "strands", "ink", "tip", "flake.ink", "flake.density", "seat",
         "amount")  # fmt: skip
"""What a form asks of a layer."""

_INKS = ("ink", "tip", "flake.ink")
_USUAL = {"flake.density": "medium", "seat": "around"}
_KIND = {"strands": "number"}
DRESSINGS = ("silicone", "living rubber", "hair", "feather", "tinsel")
"""Kinds of material that a skirt is tied of."""

MOST_LAYERS = 24
_OFFERED = 40
"""Jigs that a color may be looked at on."""

_NEW: dict[str, str] = {"strands": "10", "ink": "#6b6658"}


@dataclass(frozen=True, slots=True)
class Recipe:
    """A color as a form has it.

    Attributes:
        key: its heading in the catalog file; empty for a new one.
        pattern: the heading of the pattern that a new one is for.
        source: the catalog file.
        fields: beside the layers.
        texts: of these, by name.
        layers: the texts of each layer; ``from`` is its place in the file, counted from 0.
    """

    key: str
    pattern: str
    source: TomlFile
    fields: tuple[EntryField, ...]
    texts: Mapping[str, str]
    layers: tuple[Mapping[str, str], ...]

    @property
    def path(self) -> KeyPath:
        """Where it stands in the file."""
        return "colours", self.heading

    @property
    def heading(self) -> str:
        """Its heading in the file; of a new one, that which it gets."""
        taken = self.source.data.get("colours", {})
        return self.key or heading(self.texts.get("name", ""), taken)

    @property
    def entry(self) -> dict[str, Any]:
        """What the file says of it now."""
        return stated(self.source, ("colours", self.key)) or {} if self.key else {}

    def keys(self) -> dict[Any, Any]:
        """Return what keys of the file are to say, from the entry down."""
        entry = self.entry
        said: dict[Any, Any] = values(self.fields, self.texts, filled(self.fields, entry))
        old = entry.get("layers") or []
        new = [_layer_value(each, old) for each in self.layers]
        if new != old:
            said["layers",] = new or None
        return said

    def colour(self) -> tuple[Colour | None, list[Finding]]:
        """Return it as it would be, or what is wrong with it; a shade may wait for its name."""
        entry = dict(self.entry)
        for path, value in self.keys().items():
            entry[path[0]] = value
        entry["layers"] = [{"shade": "-"} | each for each in entry.get("layers") or ()]
        entry = {key: value for key, value in entry.items() if value is not None}
        path, data = self.path, self.source.data
        entry = {"code": "X", "name": self.heading, **entry}
        colours = {**data.get("colours", {}), self.heading: entry}
        return validate(Colour, replace(self.source, data={**data, "colours": colours}), path)


def _layer_texts(layer: Mapping[str, Any], at: int) -> dict[str, str]:
    texts = {"from": str(at)}
    for name in LAYER:
        first, _, second = name.partition(".")
        value = layer.get(first)
        value = value.get(second) if second and isinstance(value, dict) else value
        value = "" if second and not isinstance(layer.get(first), dict) else value
        texts[name] = _USUAL.get(name, "") if value in (None, "") else str(value)
    return texts


def _layer_value(texts: Mapping[str, str], old: Sequence[Any]) -> dict[str, Any]:
    """Return a layer as the file is to have it; what is not changed stays as it is written."""
    at = texts.get("from", "")
    stood = int(at) < len(old) if at.isdecimal() else False
    layer: dict[str, Any] = dict(old[int(at)]) if stood else {}
    before = _layer_texts(layer, 0)
    for name in LAYER:
        text, (first, _, second) = texts.get(name, ""), name.partition(".")
        if text == before[name] or second:
            continue
        value = value_of(_KIND.get(name, "line"), "" if text == _USUAL.get(name) else text)
        layer[first] = value
    ink = texts.get("flake.ink", "")
    if any(texts.get(name, "") != before[name] for name in ("flake.ink", "flake.density")):
        density = texts.get("flake.density") or "medium"
        usual = density == "medium" and "density" not in layer.get("flake", {})
        layer["flake"] = ({"ink": ink} | ({} if usual else {"density": density})) if ink else None
    return {key: value for key, value in layer.items() if value is not None}


def _recipe(ask: Ask, key: str, pattern: str, typed: bool = False) -> Recipe:
    """Return a color as the file has it, or as it was typed.

    Raises:
        LabelerError: if there is none.
    """
    source = read_source(ask.folder)
    entry = source.data.get("colours", {}).get(key) if key else None
    if key and not isinstance(entry, dict):
        catalog, _ = examine(ask.folder)
        if catalog is None or key not in catalog.file.colours:
            raise refusal("entry-unknown", Place(), "the catalog has no such color")
    fields = tuple(
        field for field in fields_of("colours", source.data)
        if field.name != "name" or not key or (entry and "name" in entry)
    )  # fmt: skip
    if not key:
        code = EntryField(
            ("code",), "line", "Ends its SKUs: capitals and digits, such as SBR.", True
        )
        fields = (*fields[:1], code, *fields[1:])
    if typed:
        texts = texts_of(fields, ask, source.data)
        layers = [
            each | {name: ink_of(each.get(name, ""), source.data.get("colours", {}))
                    for name in _INKS}
            for each in _typed_layers(ask)
        ]  # fmt: skip
        return Recipe(key, pattern, source, fields, texts, tuple(layers))
    old = (entry or {}).get("layers") or []
    layers = [_layer_texts(each, at) for at, each in enumerate(old) if isinstance(each, dict)]
    return Recipe(key, pattern, source, fields, filled(fields, entry), tuple(layers or [_NEW]))


def _typed(ask: Ask) -> Recipe:
    return _recipe(ask, ask.text("of"), ask.text("for"), typed=True)


def _typed_layers(ask: Ask) -> list[dict[str, str]]:
    """Return the layers as they were typed, and then moved as a button says."""
    count = ask.text("layers")
    number = min(int(count), MOST_LAYERS) if count.isdecimal() else 0
    layers = [
        {name: ask.text(f"layers.{at}.{name}") for name in ("from", *LAYER)} for at in range(number)
    ]
    layers = [one for one in layers if any(one[n] for n in LAYER if n not in _USUAL)] or [_NEW]
    what, _, where = ask.text("do").partition(" ")
    at = int(where) if where.isdecimal() else -1
    if what == "add":
        layers.append({**_NEW, **{name: layers[-1].get(name, "") for name in ("material", "ink")}})
    elif what == "out" and 0 <= at < len(layers):
        del layers[at]
    elif what == "earlier" and 0 < at < len(layers):
        layers.insert(at - 1, layers.pop(at))
    return layers


# ------------------------------------------------------------------------------------- drawn


def jig_of(catalog: Catalog, key: str, on: str, pattern: str = "") -> Product:
    """Return the jig that a color is shown on: of a SKU, else of middle weight, else any.

    Args:
        catalog: the line.
        key: the color's heading.
        on: the SKU, or empty.
        pattern: the heading of the pattern of a new color.
    """
    jigs = [product for product in catalog.products if not product.parts]
    colour, of = catalog.file.colours.get(key), catalog.file.patterns.get(pattern)
    fitting = [one for one in jigs if one.sku == on]
    fitting = fitting or [one for one in jigs if colour and one.colour.code == colour.code]
    fitting = fitting or [one for one in jigs if of and one.pattern.code == of.code] or jigs
    if not fitting:
        raise refusal("entry-unknown", Place(), "there is no jig to show this color on")
    return fitting[len(fitting) // 2]


def dressed(catalog: Catalog, product: Product, colour: Colour) -> Product:
    """Return a jig in another color."""
    made_of = {each.material for each in colour.layers} & catalog.file.materials.keys()
    materials = product.materials | {name: catalog.file.materials[name] for name in made_of}
    return product.model_copy(update={"colour": colour, "materials": materials})


def drawn(product: Product) -> str:
    """Return a jig as SVG."""
    group = draw_jig(product)
    return svg([group], group.box, says=_in_words_of(product))


def _in_words_of(product: Product) -> str:
    return f"{product.pattern.name}, {product.weight}: {describe(product)}"


class PageDrawing:
    """A drawing of ours within a page: what `press.svg` made, and nothing that was typed as is."""

    def __init__(self, text: str) -> None:
        self._text = text

    def __html__(self) -> str:
        """Return it as markup, as Jinja2 asks."""
        return self._text


def _drawing(ask: Ask, recipe: Recipe, on: str) -> tuple[PageDrawing | None, str]:
    """Return the jig as the form has it, and the recipe in words; None while it can't be drawn."""
    catalog, _ = examine(ask.folder)
    colour, _ = recipe.colour()
    if catalog is None or colour is None:
        return None, ""
    try:
        product = dressed(catalog, jig_of(catalog, recipe.key, on, recipe.pattern), colour)
    except LabelerError:
        return None, ""
    return PageDrawing(drawn(product)), _in_words_of(product)


def figure(ask: Ask) -> Response:
    """Show a color as the file has it, drawn though it is only proposed."""
    catalog, found = examine(ask.folder)
    colour = catalog.file.colours.get(ask.query("of")) if catalog else None
    if catalog is None or colour is None:
        raise LabelerError(found) if catalog is None else refusal(
            "entry-unknown", Place(), "the catalog has no such color")  # fmt: skip
    return picture(drawn(dressed(catalog, jig_of(catalog, ask.query("of"), ""), colour)))


def draw(ask: Ask) -> Response:
    """Draw the jig as the form has it, and say what it is as the page does: nothing is written."""
    recipe = _typed(ask)
    drawing, _ = _drawing(ask, recipe, ask.text("on"))
    if drawing is None:
        _, faults = recipe.colour()
        said = "; ".join(f"{one.place.key.rpartition('.')[2]}: {expected(one) or one.message}"
                         for one in faults)  # fmt: skip
        return Response(said or "There is no jig to show this on.", 422, media_type="text/plain")
    return Response(finished_html(drawing.__html__()), media_type="image/svg+xml")


# ------------------------------------------------------------------------------------- pages


def page(ask: Ask) -> Response:
    """Show a color to be changed, or a new one to be filled in."""
    return _shown(ask, _recipe(ask, ask.query("of"), ask.query("for")), Faults(), ask.query("on"))


def show(ask: Ask) -> Response:
    """Show the form as it was typed, with the jig as it would be: nothing is written."""
    recipe = _typed(ask)
    _, findings = recipe.colour()
    return _shown(ask, recipe, _beside(recipe, findings), ask.text("on"), changed=True)


def _beside(recipe: Recipe, findings: Sequence[Finding]) -> Faults:
    names = [field.name for field in recipe.fields]
    names += [f"layers.{at}.{name}" for at in range(len(recipe.layers)) for name in LAYER]
    names += [f"layers.{at}" for at in range(len(recipe.layers))]
    return beside(findings, recipe.path, names)


def save(ask: Ask) -> Response:
    """Write a color's recipe; shown again where it can't be written as it is."""
    recipe = _typed(ask)
    path, said = recipe.path, recipe.keys()
    keys = {(*path, *key): value for key, value in said.items()}
    shown = {path: ask.text("was")} if recipe.key else {}
    if recipe.key and recipe.entry.get("proposed"):
        keys[*path, "proposed"] = None
    if not recipe.key:
        keys = {path: _whole(said)}
        listed = stated(recipe.source, ("patterns", recipe.pattern, "colours")) or []
        keys["patterns", recipe.pattern, "colours"] = [*listed, recipe.heading]
    try:
        saved = save_line(LineEdit(ask.folder, keys, shown=shown))
    except LabelerError as error:
        if error.findings[0].rule == "line-changed":
            return _shown(ask, recipe, Faults(), ask.text("on"), changed=True, both=True)
        return _shown(ask, recipe, _beside(recipe, error.findings), ask.text("on"), changed=True)
    return ask.went_to("/line/color", of=recipe.heading, on=ask.text("on"), saved=saved or "same")


def _whole(said: Mapping[Any, Any]) -> dict[str, Any]:
    """Return a new color in the order in which the others are written."""
    entry = {path[0]: value for path, value in said.items() if value not in (None, False)}
    first = {key: entry.pop(key) for key in ("code", "name") if key in entry}
    layers = {"layers": entry.pop("layers")} if "layers" in entry else {}
    return first | entry | layers


def proofs(ask: Ask) -> dict[str, str]:
    """Return what tells each color, as the file has it, from what it may be changed to."""
    colours = read_source(ask.folder).data.get("colours", {})
    return {key: digest(entry) for key, entry in colours.items()}


def take(ask: Ask) -> Response:
    """Take a proposed recipe as it is."""
    key = ask.text("of")
    path: KeyPath = ("colours", key)
    save_line(LineEdit(ask.folder, {(*path, "proposed"): None}, shown={path: ask.text("was")}))
    return ask.went_to("/line", taken=key)


def _shown(
    ask: Ask, recipe: Recipe, faults: Faults, on: str, changed: bool = False, both: bool = False
) -> Response:  # fmt: skip
    catalog, _ = examine(ask.folder)
    figure, words = _drawing(ask, recipe, on)
    data = recipe.source.data
    used = {each.get("material", "") for each in recipe.layers}
    materials = [
        (key, str(each.get("name") or key)) for key, each in data.get("materials", {}).items()
        if isinstance(each, dict) and (each.get("kind") in DRESSINGS or key in used)
    ]  # fmt: skip
    colour = catalog.file.colours.get(recipe.key) if catalog else None
    jigs = [one for one in catalog.products if colour and one.colour.code == colour.code
            and not one.parts] if catalog else []  # fmt: skip
    if catalog and jigs:
        chosen = jig_of(catalog, recipe.key, on)
        jigs = [*jigs[:_OFFERED], *([chosen] if chosen not in jigs[:_OFFERED] else [])]
        on = chosen.sku
    return ask.shown(
        "color.html.jinja", faults, recipe=recipe, figure=figure, words=words, on=on,
        materials=materials, seats=("around", "back", "sides", "belly", "tail"), jigs=jigs,
        was=digest(stated(recipe.source, ("colours", recipe.key))), changed=changed,
        both=_both(ask, recipe) if both else (), saved=ask.query("saved"),
        name=recipe.texts.get("name") or (colour.name if colour else recipe.key),
        proposed=bool(recipe.entry.get("proposed")), nowhere=bool(recipe.key and not jigs),
    )  # fmt: skip


def _both(ask: Ask, typed: Recipe) -> list[tuple[str, str, str]]:
    """Return where the file and the form differ: of what, what it says now, what was typed."""
    now = _recipe(ask, typed.key, typed.pattern)
    rows = [(field.label, now.texts[field.name], typed.texts[field.name]) for field in typed.fields]
    none: Mapping[str, str] = {}
    layers = zip_longest(now.layers, typed.layers, fillvalue=none)
    for at, (there, here) in enumerate(layers, 1):
        rows.append((f"Layer {at}", _in_words(there), _in_words(here)))
    return [row for row in rows if row[1] != row[2]]


def _in_words(layer: Mapping[str, str]) -> str:
    flake = layer.get("flake.ink", "")
    parts = [f"{layer.get('strands', '')} {layer.get('shade', '')}", layer.get("material", ""),
             layer.get("ink", ""), layer.get("tip") and f"tip {layer['tip']}",
             flake and f"flake {flake} {layer.get('flake.density', '')}", layer.get("seat", ""),
             layer.get("amount", "")]  # fmt: skip
    return ", ".join(part for part in parts if part and part.strip())


PLACES = (
    PageRoute("/line/color", page),
    PageRoute("/line/color/figure", figure),
    PageRoute("/line/color", save, post=True),
    PageRoute("/line/color/show", show, post=True),
    PageRoute("/line/color/draw", draw, post=True),
    PageRoute("/line/color/take", take, post=True),
)
