"""Backs land behind their fronts."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.press.printers import Flip, back_corner, swings_sideways

LETTER, LYING = (612.0, 792.0), (792.0, 612.0)
CHECKS = [
    # page, front's lower left corner, size, flip, back's lower left corner, turn
    (LETTER, (13.5, 684.0), (189.0, 72.0), "long-edge", (409.5, 684.0), 0),
    (LETTER, (13.5, 684.0), (189.0, 72.0), "short-edge", (13.5, 36.0), 180),
    (LETTER, (211.5, 36.0), (189.0, 72.0), "long-edge", (211.5, 36.0), 0),
    (LETTER, (211.5, 36.0), (189.0, 72.0), "short-edge", (211.5, 684.0), 180),
    (LYING, (36.0, 400.0), (252.0, 144.0), "long-edge", (36.0, 68.0), 180),
    (LYING, (36.0, 400.0), (252.0, 144.0), "short-edge", (504.0, 400.0), 0),
]
"""Worked out by hand, origin bottom left: turned about the upright axis x becomes W - x - w,
about the level axis y becomes H - y - h. Geometry, no published source."""


@pytest.mark.parametrize(("page", "front", "size", "flip", "back", "turn"), CHECKS)
def test_the_back_lies_where_a_hand_would_find_it(
    page: tuple[float, float],
    front: tuple[float, float],
    size: tuple[float, float],
    flip: Flip,
    back: tuple[float, float],
    turn: int,
) -> None:
    from_top = page[1] - front[1] - size[1]
    x, y, turned = back_corner(page, (front[0], from_top), size, flip)
    assert (x, page[1] - y - size[1], turned) == (*back, turn)


lengths = st.floats(1, 2000, allow_nan=False)
pages = st.tuples(lengths, lengths)
flips = st.sampled_from(["long-edge", "short-edge"])


@given(pages, pages, pages, flips)
def test_turning_over_twice_brings_the_front_back(
    page: tuple[float, float], corner: tuple[float, float], size: tuple[float, float], flip: Flip
) -> None:
    x, y, _ = back_corner(page, corner, size, flip)
    again = back_corner(page, (x, y), size, flip)
    assert again[:2] == pytest.approx(corner, abs=1e-6)


def test_a_page_that_lies_swings_the_other_way() -> None:
    assert swings_sideways(*LETTER, "long-edge")
    assert not swings_sideways(*LETTER, "short-edge")
    assert swings_sideways(*LYING, "short-edge")
    assert not swings_sideways(*LYING, "long-edge")
