"""A piece in black: nothing else on it, shades by name, and lines of whole dots."""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from labeler.catalog.model import Product
from labeler.findings import Finding
from labeler.layout.dots import on_whole_dots
from labeler.marks import (
    Glyphs,
    Group,
    Mark,
    Picture,
    Piece,
    VectorPath,
    path_points,
    rectangle,
)

Lay = Callable[..., Piece]

BAG = """<column gap="2pt"><swatch name="recipe" height="3.6pt"/><text>Reedmace</text>
<figure share="1"/></column>"""


def words(piece: Piece) -> str:
    return " ".join(m.text for m in piece.faces[0].marks if isinstance(m, Glyphs))


def inks(marks: Sequence[Mark]) -> Iterator[str | None]:
    for mark in marks:
        if isinstance(mark, Group):
            yield from inks(mark.marks)
        elif isinstance(mark, VectorPath):
            yield from (mark.fill, mark.stroke)
        else:
            yield mark.ink  # type: ignore[union-attr]


@pytest.mark.parametrize("ink", ["black", "grey"])
def test_in_black_shades_stand_by_name_in_tying_order(lay: Lay, product: Product, ink: str) -> None:
    piece = lay(BAG, ink=ink)
    shades = [layer.shade for layer in product.colour.layers]
    said = words(piece).replace("\N{NO-BREAK SPACE}", " ")
    assert sorted(shades, key=said.index) == shades
    assert set(inks(piece.faces[0].marks)) <= {"#000000", "#ffffff", None}


def test_in_color_the_bar_stands_with_a_line_between_its_fields(lay: Lay, product: Product) -> None:
    marks = lay('<swatch height="6pt"/>').faces[0].marks
    lines = [m for m in marks if isinstance(m, VectorPath) and m.stroke and not m.fill]
    assert len(lines) == len(product.colour.layers) - 1 + 1  # and the bar's frame
    assert product.colour.layers[0].shade not in words(lay(BAG))


def test_one_layer_is_a_field_in_black_too(lay: Lay) -> None:
    piece = lay('<swatch layer="1" width="24pt" height="11pt"/>', ink="black")
    assert not words(piece)
    assert len(piece.faces[0].marks) >= 2


def test_shades_that_have_no_room_are_told(lay: Lay) -> None:
    findings: list[Finding] = []
    lay('<swatch name="recipe" width="16pt"/>', ink="black", findings=findings)
    assert [each.rule for each in findings] == ["shades-unnamed"]


PHOTOGRAPHED = """<row gap="2pt"><figure share="1"/>
<picture file="leaf.png" says="a leaf" width="60pt"/></row>"""


@pytest.fixture
def photographed(tmp_path: Path, product: Product) -> Product:
    """A jig without a recipe, with a photo of many tones that fills its frame, and a picture."""
    folder = tmp_path / "photos"
    folder.mkdir()
    down, across = np.mgrid[0:600, 0:900]
    tones = np.stack([across * 255 // 899, down * 255 // 599, 255 - across * 255 // 899], -1)
    for name in ("reed.png", "leaf.png"):
        Image.fromarray(tones.astype(np.uint8)).save(folder / name)
    colour = product.colour.model_copy(update={"layers": ()})
    return product.model_copy(update={"photo": "reed.png", "colour": colour})


@pytest.mark.parametrize("dpi", [203, 300, None])
def test_in_black_a_photo_that_nothing_takes_the_place_of_is_pure_black_dots(
    lay: Lay, photographed: Product, dpi: int | None
) -> None:
    piece = lay(PHOTOGRAPHED, ink="black", dpi=dpi, product=photographed)
    pictures = [mark for mark in piece.faces[0].marks if isinstance(mark, Picture)]
    assert len(pictures) == 2
    for picture in pictures:
        with Image.open(io.BytesIO(picture.image.data)) as opened:
            grey, alpha = np.asarray(opened.convert("LA")).transpose(2, 0, 1)
        assert set(np.unique(alpha)) == {0, 255}
        assert set(grey[alpha > 0]) == {0}
        assert 0.3 < (alpha > 0).mean() < 0.8, "its tones are still there"
        if dpi:  # dot for dot
            dots = [edge * dpi / 72 for edge in (picture.x, picture.y)]
            assert dots == pytest.approx([round(edge) for edge in dots], abs=1e-6)
            size = picture.width * dpi / 72, picture.height * dpi / 72
            assert size == pytest.approx((picture.image.width, picture.image.height))


def test_in_black_the_engraving_takes_a_photos_place_and_greys_are_asked_for(
    lay: Lay, photographed: Product, product: Product
) -> None:
    drawn = photographed.model_copy(update={"colour": product.colour})
    for jig, ink, count in ((drawn, "black", 0), (drawn, "grey", 1), (photographed, "grey", 1)):
        marks = lay('<figure share="1"/>', ink=ink, product=jig).faces[0].marks
        pictures = [mark for mark in marks if isinstance(mark, Picture)]
        assert len(pictures) == count
        for picture in pictures:
            with Image.open(io.BytesIO(picture.image.data)) as opened:
                assert opened.mode in ("L", "LA")
                assert len(np.unique(np.asarray(opened))) > 20


def strokes(marks: Sequence[Mark], scale: float = 1.0) -> Iterator[tuple[VectorPath, float]]:
    for mark in marks:
        if isinstance(mark, Group):
            yield from strokes(mark.marks, scale * mark.matrix[0])
        elif isinstance(mark, VectorPath) and mark.stroke:
            yield mark, mark.width * scale


@pytest.mark.parametrize("dpi", [203, 300])
def test_on_a_coarse_printer_every_line_is_whole_dots(lay: Lay, dpi: int) -> None:
    front = f'<column outline="0.4pt">{BAG}<rule weight="0.7pt"/></column>'
    found = list(strokes(lay(front, dpi=dpi, ink="black").faces[0].marks))
    assert len(found) > 20
    for path, width in found:
        dots = width * dpi / 72
        assert dots == pytest.approx(round(dots), abs=1e-3)
        assert dots > 0.5, path
    fine = [w * dpi / 72 for _, w in strokes(lay(front, dpi=600, ink="black").faces[0].marks)]
    assert any(abs(dots - round(dots)) > 0.05 for dots in fine)


sides = st.floats(0, 300).map(lambda x: round(x, 2))


@given(sides, sides, st.floats(0.01, 6), st.sampled_from([203, 300]))
def test_a_frame_lies_on_dots_and_moves_by_less_than_one(
    left: float, top: float, width: float, dpi: int
) -> None:
    box = left, top, left + 40, top + 9
    (moved,) = on_whole_dots([rectangle(box, stroke="#000000", width=width)], dpi)
    assert isinstance(moved, VectorPath)
    dot = 72 / dpi
    dots = moved.width / dot
    assert dots == pytest.approx(max(1, round(width / dot)))
    before = path_points(rectangle(box))
    for (x, y), (x0, y0) in zip(path_points(moved), before, strict=True):
        for at, was in ((x, x0), (y, y0)):
            edge = (at - moved.width / 2) / dot
            assert math.isclose(edge, round(edge), abs_tol=1e-6)
            assert abs(at - was) <= dot / 2 + 1e-9


def test_slanting_lines_keep_their_places() -> None:
    slant: Any = VectorPath((("M", 0.1, 0.1), ("L", 9.3, 4.7)), stroke="#000000", width=0.3)
    (moved,) = on_whole_dots([slant], 203)
    assert isinstance(moved, VectorPath)
    assert moved.steps == slant.steps
    assert moved.width == pytest.approx(72 / 203)
