"""SVG held against the drawing it comes from, and letters against another reader of fonts."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.ttLib import TTFont
from lxml import etree

from labeler.marks import Code, Glyphs, Group, Image, Picture, VectorPath
from labeler.press.svg import outline, svg
from labeler.type.faces import typeface

pytestmark = pytest.mark.daily

NUMBER = re.compile(r"-?\d*\.?\d+")
SVG = "{http://www.w3.org/2000/svg}"


def parsed(text: str) -> Any:
    return etree.fromstring(text)


def test_a_path_keeps_its_steps_ink_and_stroke() -> None:
    path = VectorPath(
        (("M", 1, 2), ("L", 3, 4), ("C", 1, 1, 2, 2, 3, 3.125), ("Z",)),
        fill="#112233", stroke="#445566", width=0.5, dash=(1, 2), round_ends=True, even_odd=True,
    )  # fmt: skip
    drawn = parsed(svg([path], (0, 0, 10, 10)))[0]
    assert drawn.get("d") == "M1 2L3 4C1 1 2 2 3 3.12Z"
    assert drawn.get("fill") == "#112233"
    assert drawn.get("stroke-width") == "0.5"
    assert drawn.get("stroke-dasharray") == "1 2"
    assert drawn.get("fill-rule") == "evenodd"
    assert drawn.get("stroke-linecap") == "round"


@pytest.mark.parametrize("letter", ["R", "g", "é", "8", "&"])
def test_a_letter_is_the_outline_that_another_reader_finds(letter: str) -> None:
    face = typeface("serif-semibold")
    run = Glyphs(0, 0, face.name, 1000, "#000000", letter, face.advance_of(letter))
    drawn = parsed(svg([run], (0, 0, 1, 1)))
    data = drawn.find(f".//{SVG}path").get("d")
    font = TTFont(face.path)
    glyphs = font.getGlyphSet()
    pen = SVGPathPen(glyphs)
    glyphs[font.getBestCmap()[ord(letter)]].draw(pen)
    per_unit = 1000 / font["head"].unitsPerEm
    numbers = [float(number) for number in NUMBER.findall(data)]
    xs = numbers[::2]
    reference = TTFont(face.path)["glyf"][font.getBestCmap()[ord(letter)]]
    assert min(xs) == pytest.approx(reference.xMin * per_unit, abs=0.6)
    assert max(xs) == pytest.approx(reference.xMax * per_unit, abs=0.6)
    assert data.count("M") == pen.getCommands().count("M")


def test_letters_stand_where_their_advances_put_them() -> None:
    face = typeface("sans")
    run = Glyphs(10, 20, face.name, 8, "#000000", "AV", 0, shifts=(-50.0, 0.0))
    places = re.findall(r"matrix\([^)]*? ([\d.]+) 20\)", svg([run], (0, 0, 1, 1)))
    assert float(places[0]) == 10
    assert float(places[1]) == pytest.approx(10 + (face.advance_of("A") - 50) * 8 / 1000, abs=0.01)


def test_a_group_a_code_and_a_picture_are_drawn_in_place() -> None:
    code = Code("qr", "X", 0, 0, 9, 9, 1, 1, 0.5, ((0, 0, 2, 1),))
    picture = Picture(1, 2, 3, 4, Image("k", b"\x89PNG", 1, 1))
    group = Group((2, 0, 0, 2, 5, 6), (code, picture), (0, 0, 9, 9))
    tree = parsed(svg([group], (0, 0, 9, 9), says="a <code>"))
    assert tree.find(f"{SVG}title").text == "a <code>"
    assert tree.find(f"{SVG}g").get("transform") == "matrix(2 0 0 2 5 6)"
    assert tree.find(f".//{SVG}path").get("d") == "M0 0h2v1h-2z"
    assert tree.find(f".//{SVG}image").get("href").startswith("data:image/png;base64,")


def test_numbers_are_short() -> None:
    assert outline(VectorPath((("M", -0.001, 2.50), ("L", 1 / 3, 100)))) == "M0 2.5L0.33 100"
