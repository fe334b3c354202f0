"""A jig drawn from its pattern and recipe: a specimen in side view, its head to the left."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from functools import lru_cache

from labeler.catalog.model import Layer, Product
from labeler.drawing.curves import box_of
from labeler.drawing.engraving import Detail
from labeler.drawing.figure import JigDrawing
from labeler.drawing.subject import JigLook, look_of
from labeler.geometry import IDENTITY
from labeler.marks import Group, InkMode


def describe(product: Product) -> str:
    """Return the recipe: ``swim jig: brown over blue, orange belly, fibre guard, 4/0 hook``."""
    layers = product.colour.layers
    around = " over ".join(_shade(layer) for layer in layers if layer.seat == "around")
    parts = [around] if around else []
    parts += [_seated(layer) for layer in layers if layer.seat != "around"]
    if product.guard:
        parts.append(f"{product.guard.style} guard")
    if product.hook_size:
        parts.append(f"{product.hook_size} hook")
    return f"{product.pattern.kind}: {', '.join(parts)}" if parts else product.pattern.kind


def _shade(layer: Layer) -> str:
    """Return a shade without commas, which here part one layer from the next."""
    return layer.shade.replace(", ", " with ", 1).replace(", ", " and ")


def _seated(layer: Layer) -> str:
    shade = _shade(layer)
    return f"{shade} {layer.seat}" if shade == layer.shade else f"{layer.seat} in {shade}"


EDITION = 2
"""The edition of the drawing that is printed today. It stands in every key, so that figures of two
editions never share one; what an earlier one printed is printed again by it."""


def draw_jig(
    product: Product, *, ink: InkMode = "colour", detail: Detail = "fine", edition: int = EDITION
) -> Group:
    """Draw a jig lying on its side, at about natural size.

    A skirt shows every strand of its recipe, each in its layer's colour, up to 160; of a fuller
    one 160 strands are drawn, shared among the layers in proportion, and no layer is ever left
    out. A plain drawing shows 44 at most in the same way, thicker, and no flake.

    Args:
        product: the pattern in one weight, hook size and colour.
        ink: "colour" draws in the recipe's inks; "black" in #000000 and #ffffff alone, with
            line, hatching and stipple for the inks, so that layers can still be told apart.
        detail: "fine" for a card, at 0.35 of natural size or more; "plain" for a label an inch
            high, where the figure is about 20 mm wide.
        edition: 1 for a figure of what was printed before there was a second.

    Returns:
        Paths in points, y down; the head's rear lies at the origin. Its ``key`` is the same for
        all products that look alike, in the same inks and detail; ``says`` is the recipe in words.
    """
    group = _drawn(look_of(product), ink, detail, edition)
    return replace(group, says=describe(product))


@lru_cache(maxsize=256)
def _drawn(subject: JigLook, ink: InkMode, detail: Detail, edition: int) -> Group:
    drawing = JigDrawing
    if edition == 1:
        from labeler.drawing.first_edition import FirstDrawing  # only for what is printed again

        drawing = FirstDrawing
    marks = tuple(drawing(subject, ink, detail).marks())
    trim = f"{subject.trim} " if edition > 1 else ""
    name = f"jig {edition} {ink} {detail} {trim}{subject.seed}".encode()
    key = f"jig-{hashlib.sha256(name).hexdigest()[:24]}"
    return Group(IDENTITY, marks, box_of(marks), key)
