"""Figures beside each other: one scale for all."""

from __future__ import annotations

from collections.abc import Callable

from labeler.catalog.model import Product
from labeler.drawing.figure import shared_scale
from labeler.drawing.jig import draw_jig


def test_all_stand_at_the_scale_of_the_one_that_has_least_room(
    specimens: dict[str, Product],
) -> None:
    room = 90.0, 40.0
    figures = [draw_jig(specimens[name]) for name in ("marabou", "swim", "football")]
    scale = shared_scale(figures, room)
    assert scale == min(shared_scale([figure], room) for figure in figures)
    for figure in figures:
        left, top, right, bottom = figure.box
        assert (right - left) * scale <= room[0] + 1e-9
        assert (bottom - top) * scale <= room[1] + 1e-9


def test_a_heavier_jig_of_one_pattern_is_larger_at_the_shared_scale(
    jig: Callable[..., Product],
) -> None:
    small, large = (
        draw_jig(jig([{"strands": 30}], weight=weight, size=size)).box
        for weight, size in (("1/8 oz", "1"), ("3/4 oz", "5/0"))
    )
    assert large[2] - large[0] > 1.2 * (small[2] - small[0])
