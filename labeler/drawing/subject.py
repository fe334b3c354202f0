"""How a jig looks: all of a product that can be seen, and nothing that can't.

Two products that look alike give equal looks, so that a figure is drawn once for both.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Literal

from labeler.catalog.model import Colour, Flake, HeadStyle, HookBend, Layer, Material, Product, Seat

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

    @property
    def inks(self) -> tuple[str, ...]:
        """The inks of the dressing, layer by layer."""
        return tuple(ink for layer in self.layers for ink in (layer.ink, layer.tip) if ink)


def spelled(look: object) -> str:
    """Return a look as one text, the same for the same look in every version of the program.

    Figures are seeded and named by it, so a name in it that changed would draw every jig otherwise:
    records stand under the names that they were first printed with.
    """
    if isinstance(look, tuple):
        return f"({', '.join(map(spelled, look))}{',' * (len(look) == 1)})"
    name = _SPELLED_AS.get(type(look))
    if name is None:
        return repr(look)
    fields = (
        type(look).model_fields if isinstance(look, Flake) else vars(type(look))["__match_args__"]
    )
    return f"{name}({', '.join(f'{each}={spelled(getattr(look, each))}' for each in fields)})"


_SPELLED_AS = {
    JigLook: "Subject", HeadLook: "Head", HookLook: "Hook", GuardLook: "Guard", LayerLook: "Tied",
    Flake: "Flake",
}  # fmt: skip


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
        hook=HookLook(product.hook_size, hook.bend, hook.wire, hook.ink, hook.eye),
        guard=GuardLook(guard.style, guard.strands, guard.ink) if guard else None,
        layers=tuple(_layer_look(layer, product, dressing) for layer in colour.layers),
        dressing=dressing,
        thread=colour.thread_ink,
        length=round(length.pt, 2) if length else None,
    )


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
    return _metals().get(most.casefold(), colour.head_ink)


@lru_cache(maxsize=1)
def _metals() -> dict[str, str]:
    text = files(__package__).joinpath("metals.toml").read_text("utf-8")
    return dict(tomllib.loads(text)["inks"])
