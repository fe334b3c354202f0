"""How a jig looks: all of a product that can be seen, and nothing that can't.

Two products that look alike give equal looks, so that a figure is drawn once for both.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal

from labeler.catalog.model import Colour, Flake, HeadStyle, HookBend, Layer, Material, Product, Seat
from labeler.units import Length

Kind = Literal["silicone", "living rubber", "hair", "feather", "tinsel"]
Dressing = Literal["skirt", "hair", "feather"]

_DRESSED_IN: dict[Dressing, Kind] = {"skirt": "silicone", "hair": "hair", "feather": "feather"}
"""What a layer is taken for where its material is none of the dressings."""


@dataclass(frozen=True, slots=True)
class HeadLook:
    """A head as it looks; ``ounces`` is the weight that the mould's cavity is marked with."""

    style: HeadStyle
    ounces: float
    ink: str
    painted: bool
    eye: str | None
    """The ink of its eye, if it has one."""


@dataclass(frozen=True, slots=True)
class HookLook:
    """A hook as it looks; ``eye`` is in degrees from the shank."""

    size: str
    bend: HookBend
    wire: Literal["light", "medium", "heavy"]
    ink: str
    eye: int


@dataclass(frozen=True, slots=True)
class GuardLook:
    """A weed guard as it looks."""

    style: Literal["fibre", "wire", "braid"]
    strands: int
    ink: str


@dataclass(frozen=True, slots=True)
class LayerLook:
    """One layer as it looks, in tying order; the first tied shows outside."""

    kind: Kind
    ink: str
    tip: str | None
    flake: Flake | None
    strands: int
    seat: Seat


@dataclass(frozen=True, slots=True)
class JigLook:
    """A jig as it looks."""

    head: HeadLook
    hook: HookLook
    guard: GuardLook | None
    layers: tuple[LayerLook, ...]
    dressing: Dressing
    thread: str
    length: float | None
    """From nose to tips in points, where the pattern states it."""
    trim: float | None = None
    """How far the dressing is trimmed past the bend in points, where the maker says so. Not in the
    seed: the first edition did not heed it."""

    @property
    def inks(self) -> tuple[str, ...]:
        """The inks of the dressing, layer by layer."""
        return tuple(ink for layer in self.layers for ink in (layer.ink, layer.tip) if ink)

    @property
    def seed(self) -> str:
        """The text that the lie of every strand is drawn from, the same for ever.

        It is how Python showed these records when the first labels were printed: a class that
        takes another name must not move a strand of a label that is printed again.
        """
        return displayed(self, _SEEDS)


Records = Mapping[type, tuple[str, str]]
"""What kinds of record are called, and their fields, parted by spaces."""

_SEEDS: Records = {
    JigLook: ("Subject", "head hook guard layers dressing thread length"),
    HeadLook: ("Head", "style ounces ink painted eye"),
    HookLook: ("Hook", "size bend wire ink eye"),
    GuardLook: ("Guard", "style strands ink"),
    LayerLook: ("Tied", "kind ink tip flake strands seat"),
    Flake: ("Flake", "ink density"),
}


def displayed(value: object, records: Records) -> str:
    """Return a value as Python displays it, but records in the words of a table.

    So what was hashed once stays the same when a class takes another name, or one more field.
    """
    if type(value) in records:
        name, fields = records[type(value)]
        parts = (f"{part}={displayed(getattr(value, part), records)}" for part in fields.split())
        return f"{name}({', '.join(parts)})"
    if isinstance(value, tuple) and value and type(value[0]) in records:
        comma = "," if len(value) == 1 else ""
        return f"({', '.join(displayed(each, records) for each in value)}{comma})"
    return repr(value)


def look_of(product: Product) -> JigLook:
    """Return what can be seen of a product."""
    colour, hook, guard = product.colour, product.hook, product.guard
    dressing = product.pattern.skirt
    alloy = product.materials.get(product.head.alloy)
    length = product.pattern.length
    return JigLook(
        head=HeadLook(
            style=product.head.style,
            ounces=round(float(product.cavity.ounces), 4),
            ink=_head_ink(colour, alloy),
            painted=colour.head_paint is not None,
            eye=colour.eye_ink if product.head.eyes else None,
        ),
        hook=HookLook(
            product.hook_size or _usual_hook(product), hook.bend, hook.wire, hook.ink, hook.eye
        ),
        guard=GuardLook(guard.style, guard.strands, guard.ink) if guard else None,
        layers=tuple(_layer_look(layer, product, dressing) for layer in colour.layers),
        dressing=dressing,
        thread=colour.thread_ink,
        length=round(length.pt, 2) if length else None,
        trim=_trim(product.pattern.tie.trim or ""),
    )


def _usual_hook(product: Product) -> str:
    """Return the size that such a jig is mostly tied on. Source: ``hooks.toml``."""
    usual: dict[str, str] = figures_of("hooks")["usual"]
    fitting = (size for most, size in usual.items() if product.weight.ounces <= Fraction(most))
    return next(fitting, list(usual.values())[-1])


_TRIM = re.compile(r"(level with|([\d/ .]+ ?(?:in|mm|cm|inch|inches|\")) past) the bend\b")


def _trim(words: str) -> float | None:
    """Return how far past the bend a maker's words trim a dressing, in points, if they say it.

    >>> _trim("3/8 in past the bend, uneven on purpose")
    27.0
    """
    found = _TRIM.search(words.casefold())
    if found is None:
        return None
    try:
        return round(Length.parse(found[2].strip()).pt, 2) if found[2] else 0.0
    except ValueError:
        return None


def _layer_look(layer: Layer, product: Product, dressing: Dressing) -> LayerLook:
    material = product.materials.get(layer.material)
    kind: Kind = _DRESSED_IN[dressing]
    if material and material.kind in ("silicone", "living rubber", "hair", "feather", "tinsel"):
        kind = material.kind
    return LayerLook(kind, layer.ink, layer.tip, layer.flake, layer.strands, layer.seat)


def _head_ink(colour: Colour, alloy: Material | None) -> str:
    """Return how the head looks: its own ink, or the metal's where nobody has said."""
    stated = colour.head_paint or colour.head_ink != Colour.model_fields["head_ink"].default
    if stated or alloy is None or not alloy.composition:
        return colour.head_ink
    most = max(alloy.composition, key=lambda name: (alloy.composition[name], name))
    ink: str = figures_of("metals")["inks"].get(most.casefold(), colour.head_ink)
    return ink


@lru_cache(maxsize=8)
def figures_of(name: str) -> dict[str, Any]:
    """Return the table of figures called ``name`` that lies beside the drawing's code."""
    return tomllib.loads(files(__package__).joinpath(f"{name}.toml").read_text("utf-8"))
