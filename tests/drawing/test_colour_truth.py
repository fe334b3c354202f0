"""The strands have the recipe's color at every size at which a figure is printed."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pypdfium2
import pytest

from labeler.catalog.model import Product
from labeler.drawing import figure
from labeler.drawing.curves import box_of
from labeler.drawing.engraving import Chance, Detail
from labeler.drawing.figure import JigDrawing
from labeler.drawing.skirt import Strand, StrandDrawing
from labeler.drawing.subject import LayerLook, look_of
from labeler.layout.drawn_blocks import detail_at
from labeler.marks import Group, Piece, PieceSide, VectorPath
from labeler.press.impose import PieceOrder, Ticket, impose
from labeler.press.pdf.run import write_pdf
from labeler.press.sheets import whole_page
from tests.drawing.colour_difference import SHARMA, Lab, ciede2000, lab_of_ink, lab_of_mean

ALIKE = 6.0
"""CIEDE2000: beside its strands a swatch of the ink is taken for the same color."""

WIDTHS_MM = (16, 22, 30, 38, 55)
"""From a strip's figure to a plate: 110 mm at 300 to the inch has as many pixels as the last."""

DPI = 600

INKS = {
    "black": "#1f2024", "black plum": "#33263f", "white": "#f2f0e8", "pearl": "#dedcd0",
    "green pumpkin": "#57542e", "delft blue": "#2f5488", "breast orange": "#c96a24",
    "chartreuse": "#c3cb45", "bramble red": "#6d2541",
}  # fmt: skip

KINDS = {
    "silicone": ("skirt", 44), "rubber": ("skirt", 44), "bucktail": ("hair", 60),
    "marabou": ("feather", 5), "tinsel": ("hair", 30),
}  # fmt: skip


@pytest.mark.parametrize(("one", "other", "apart"), SHARMA)
def test_differences_are_those_of_the_formula_s_own_test_data(
    one: Any, other: Any, apart: float
) -> None:
    """Source: Sharma, Wu and Dalal 2005, table 1."""
    assert ciede2000(one, other) == pytest.approx(apart, abs=5.1e-5)
    assert ciede2000(other, one) == pytest.approx(apart, abs=5.1e-5)


def drawn(product: Product, detail: Detail) -> tuple[list[VectorPath], dict[int, int]]:
    """Return a figure's paths, and the layer of those that are strands, by their place."""
    layers: dict[int, int] = {}
    paths: list[VectorPath] = []

    class Watched(StrandDrawing):
        def draw(self, strand: Strand, layer: LayerLook) -> Iterator[VectorPath]:
            for path in super().draw(strand, layer):
                layers[len(paths)] = strand.layer
                yield path

    class Figure(JigDrawing):
        STRANDS = Watched

    with pytest.MonkeyPatch.context() as patch:
        # Whatever its inks, a figure's strands lie as they fell for the first.
        patch.setattr(figure, "Chance", lambda _: Chance("strands"))
        for path in Figure(look_of(product), "colour", detail).marks():
            paths.append(path)
    return paths, layers


def rendered(paths: list[VectorPath], width_mm: float) -> npt.NDArray[np.uint8]:
    """Return paths, so many millimetres wide, as PDFium draws the press's PDF of them."""
    wide = width_mm * 72 / 25.4
    left, top, right, bottom = box = box_of(paths)
    scale = wide / (right - left)
    matrix = (scale, 0.0, 0.0, scale, -left * scale, -top * scale)
    face = PieceSide("front", (Group(matrix, tuple(paths), box),))
    piece = Piece("A-1", "", "figure", wide, (bottom - top) * scale, (face,))
    made = io.BytesIO()
    sheet = whole_page("piece", piece.width, piece.height)
    write_pdf(impose([PieceOrder(piece, 1)], sheet), made, Ticket("figure"))
    with pypdfium2.PdfDocument(made.getvalue()) as document:
        return np.asarray(document[0].render(scale=DPI / 72).to_pil().convert("RGB"))


def strands_of(
    paths: list[VectorPath], layers: dict[int, int], width_mm: float
) -> dict[int, npt.NDArray[np.bool_]]:
    """Return where each layer's strands are seen, with nothing else over them."""
    found = {}
    for layer in set(layers.values()):
        mask = [
            replace(path, fill=path.fill and ink, stroke=path.stroke and ink)
            for path, ink in (
                (path, "#000000" if layers.get(at) == layer else "#ffffff")
                for at, path in enumerate(paths)
            )
        ]
        found[layer] = rendered(mask, width_mm)[:, :, 0] < 8
        assert found[layer].sum() > 200
    return found


def seen(
    product: Product, width_mm: float, kept: dict[object, dict[int, npt.NDArray[np.bool_]]]
) -> dict[int, Lab]:
    """Return the mean color of each layer's strands, where nothing else lies over them.

    Figures that differ in inks alone have their strands at the same places, which are kept.
    """
    paths, layers = drawn(product, detail_at(width_mm * 72 / 25.4))
    shape = tuple((path.steps, path.width, bool(path.fill), bool(path.stroke)) for path in paths)
    if shape not in kept:
        kept[shape] = strands_of(paths, layers, width_mm)
    picture = rendered(paths, width_mm)
    return {layer: lab_of_mean(picture[strands]) for layer, strands in kept[shape].items()}


_DAILY = {("silicone", 22), ("rubber", 55), ("bucktail", 38), ("marabou", 16)}

CASES = [
    pytest.param(kind, wide, marks=() if (kind, wide) in _DAILY else pytest.mark.siege)
    for kind in KINDS
    for wide in WIDTHS_MM
]


@pytest.mark.parametrize(("kind", "width_mm"), CASES)
def test_strands_have_the_recipe_s_color_at_every_size(
    jig: Callable[..., Product], kind: str, width_mm: float
) -> None:
    dressing, strands = KINDS[kind]
    apart, kept = {}, dict[object, dict[int, npt.NDArray[np.bool_]]]()
    for name, ink in INKS.items():
        layer = {"material": kind, "ink": ink, "strands": strands}
        (mean,) = seen(jig([layer], dressing=dressing), width_mm, kept).values()
        apart[name] = ciede2000(mean, lab_of_ink(ink))
    assert max(apart.values()) < ALIKE, apart
