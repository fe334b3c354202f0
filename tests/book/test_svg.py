"""SVG held against the drawing it comes from."""

from __future__ import annotations

from typing import Any

import pytest
from lxml import etree

from labeler.marks import Glyphs, Group, VectorPath, rectangle
from labeler.press.svg import outline, svg

pytestmark = pytest.mark.daily

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


def test_a_group_is_drawn_in_place_and_says_what_it_is() -> None:
    group = Group((2, 0, 0, 2, 5, 6), (rectangle((0, 0, 2, 1), fill="#000000"),), (0, 0, 9, 9))
    tree = parsed(svg([group], (0, 0, 9, 9), says="a <jig>"))
    assert tree.find(f"{SVG}title").text == "a <jig>"
    assert tree.find(f"{SVG}g").get("transform") == "matrix(2 0 0 2 5 6)"
    assert tree.find(f"{SVG}g/{SVG}path").get("d") == "M0 0L2 0L2 1L0 1Z"


def test_letters_are_no_part_of_a_drawing() -> None:
    with pytest.raises(TypeError, match="no Glyphs"):
        svg([Glyphs(0, 0, "sans", 8, "#000000", "A", 5)], (0, 0, 9, 9))


def test_numbers_are_short() -> None:
    assert outline(VectorPath((("M", -0.001, 2.50), ("L", 1 / 3, 100)))) == "M0 2.5L0.33 100"
