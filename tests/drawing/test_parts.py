"""Head, hook and the words: each recognisably itself."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from importlib.resources import files
from itertools import pairwise
from typing import get_args

import pytest

from labeler.catalog.model import HeadStyle, HookBend, Product
from labeler.drawing.curves import at
from labeler.drawing.heads import HeadShape, Scan, head_shape
from labeler.drawing.hooks import bend_hook, gauge
from labeler.drawing.jig import draw_jig
from labeler.drawing.subject import HookLook, look_of
from labeler.units import Length

SIZES = ("6", "5", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0", "5/0", "6/0")


def hook(size: str = "4/0", bend: HookBend = "round", eye: int = 60) -> HookLook:
    return HookLook(size, bend, "medium", "#3a3a3c", eye)


def inside(shape: HeadShape, x: float, y: float) -> bool:
    """Whether a point lies in a contour, by counting how often a ray crosses it."""
    ring = [at(c, n / 40) for c in shape.contour for n in range(40)]
    crossings = 0
    for (x0, y0), (x1, y1) in zip(ring, [*ring[1:], ring[0]], strict=True):
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0):
            crossings += 1
    return crossings % 2 == 1


def test_hooks_grow_with_their_size() -> None:
    gauges = [gauge(hook(size)) for size in ("32", "12", "8", *SIZES, "8/0", "10/0")]
    for smaller, larger in pairwise(gauges[1:]):
        assert smaller.gape < larger.gape
        assert smaller.shank < larger.shank
        assert smaller.wire < larger.wire
    assert gauge(hook("20/0")) == gauge(hook("10/0"))


def test_a_hook_is_about_as_large_as_life() -> None:
    """Common practice, no published source: a 4/0 jig hook gapes some 13 to 15 mm."""
    assert 12 < Length(gauge(hook("4/0")).gape).mm < 16


@pytest.mark.parametrize("bend", get_args(HookBend))
def test_the_point_rides_above_the_shank_by_the_gape(bend: HookBend) -> None:
    wire = bend_hook(hook(bend=bend), (-30.0, -8.0))
    assert -wire.point[1] == pytest.approx(wire.gape, rel=0.16)
    assert wire.point[0] < wire.rear - 0.5 * wire.gape
    joints = [wire.shank, *wire.bend]
    for before, after in pairwise(joints):
        assert before[3] == pytest.approx(after[0])


def test_bends_differ_and_have_their_proportions() -> None:
    assert len({bend_hook(hook(bend=b), (0, 0)).bend for b in get_args(HookBend)}) == len(
        get_args(HookBend)
    )
    assert gauge(hook(bend="aberdeen")).shank > gauge(hook()).shank


def test_the_table_holds_every_bend_and_says_where_it_comes_from() -> None:
    text = files("labeler.drawing").joinpath("hooks.toml").read_text("utf-8")
    table = tomllib.loads(text)
    assert set(table["bends"]) == set(get_args(HookBend))
    assert list(table["sizes"]) == list(SIZES)
    assert "no published source" in text


@pytest.mark.parametrize("style", get_args(HeadStyle))
def test_a_head_is_closed_and_holds_its_eye_its_hook_and_its_guard(style: HeadStyle) -> None:
    shape = head_shape(style, 0.375)
    assert shape.contour[-1][3] == pytest.approx(shape.contour[0][0])
    x, y, radius = shape.eye
    for turn in range(8):
        angle = turn * math.tau / 8
        assert inside(shape, x + radius * math.cos(angle), y + radius * math.sin(angle))
    assert inside(shape, *shape.tie)
    assert inside(shape, shape.guard[0], shape.guard[1] + shape.length * 0.05)


@pytest.mark.parametrize("style", get_args(HeadStyle))
def test_engraved_lines_stay_within_the_head(style: HeadStyle) -> None:
    shape = head_shape(style, 0.375)
    scan = Scan(shape)
    for down in (0.2, 0.5, 0.8, 0.93):
        line = scan.run(down, 0.15, 0.9)
        for n in range(21):
            x, y = at(line, n / 20)
            nearest = min(
                math.hypot(x - px, y - py)
                for c in shape.contour
                for px, py in (at(c, i / 40) for i in range(40))
            )
            assert inside(shape, x, y) or nearest < 0.035 * shape.length


def test_heads_differ_in_outline() -> None:
    contours = {head_shape(style, 0.375).contour for style in get_args(HeadStyle)}
    assert len(contours) == len(get_args(HeadStyle))


def test_a_head_of_eight_times_the_weight_is_twice_as_long() -> None:
    """Bodies of one shape and density: mass goes as the cube of length."""
    assert head_shape("round", 0.8).length / head_shape("round", 0.1).length == pytest.approx(2)
    assert head_shape("round", 0.375).length == pytest.approx(Length.from_mm(12.5).pt)


def test_a_bare_head_looks_like_its_metal_and_a_painted_one_like_its_paint(
    jig: Callable[..., Product],
) -> None:
    lead = look_of(jig([{}])).head.ink
    bismuth = look_of(jig([{}], head={"alloy": "bismuth-tin"})).head.ink
    painted = look_of(jig([{}], colour={"head_ink": "#aa3322", "head_paint": "red"})).head
    stated = look_of(jig([{}], colour={"head_ink": "#556677"})).head
    assert lead != bismuth
    assert (painted.ink, painted.painted) == ("#aa3322", True)
    assert (stated.ink, stated.painted) == ("#556677", False)


def test_a_layer_of_a_material_that_is_no_dressing_is_drawn_as_the_pattern_is_dressed(
    jig: Callable[..., Product],
) -> None:
    assert look_of(jig([{"material": "lead"}])).layers[0].kind == "silicone"
    assert look_of(jig([{"material": "unknown"}], dressing="feather")).layers[0].kind == "feather"


def test_the_figure_says_its_recipe(brown_over_blue: Product) -> None:
    assert draw_jig(brown_over_blue).says == (
        "swim jig: brown over blue, orange belly, fibre guard, 4/0 hook"
    )


def test_a_shade_with_a_comma_does_not_fall_apart_in_the_words(jig: Callable[..., Product]) -> None:
    product = jig(
        [
            {"shade": "olive, black pepper", "seat": "back"},
            {"shade": "peat, copper flake, blue tip"},
        ],
        guard=None,
    )
    assert draw_jig(product).says == (
        "swim jig: peat with copper flake and blue tip, back in olive with black pepper, 4/0 hook"
    )
