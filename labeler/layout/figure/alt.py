"""The figure in words, for those who hear the page."""

from __future__ import annotations

from labeler.catalog.model import Layer, Product


def describe(product: Product) -> str:
    """Return the recipe: ``swim jig: brown over blue, orange belly, fibre guard, 4/0 hook``."""
    layers = product.colour.layers
    around = " over ".join(_shade(layer) for layer in layers if layer.seat == "around")
    parts = [around] if around else []
    parts += [_seated(layer) for layer in layers if layer.seat != "around"]
    if product.guard:
        parts.append(f"{product.guard.style} guard")
    parts.append(f"{product.hook_size} hook")
    return f"{product.pattern.kind}: {', '.join(parts)}"


def _shade(layer: Layer) -> str:
    """Return a shade without commas, which here part one layer from the next."""
    return layer.shade.replace(", ", " with ", 1).replace(", ", " and ")


def _seated(layer: Layer) -> str:
    shade = _shade(layer)
    return f"{shade} {layer.seat}" if shade == layer.shade else f"{layer.seat} in {shade}"
