"""The skirt: its strands are counted, and lie as a skirt that was tied and folded back lies."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.catalog.model import Product, Seat
from labeler.drawing.curves import at
from labeler.drawing.engraving import Chance
from labeler.drawing.figure import places_of
from labeler.drawing.jig import draw_jig
from labeler.drawing.skirt import (
    MOST_STRANDS,
    Fan,
    Room,
    Strand,
    StrandDrawing,
    in_shadow,
    shares,
)
from labeler.drawing.subject import LayerLook, look_of
from labeler.marks import Group, VectorPath

SEATS: tuple[Seat, ...] = ("around", "back", "sides", "belly", "tail")
FAR, SHADOW = StrandDrawing.FAR, StrandDrawing.SHADOW
ROOM = Room(start=10.0, half=5.0, length=150.0)


def bodies(group: Group) -> list[str]:
    """The fills of the strands' bodies in drawing order: they alone have both wash and edge."""
    return [m.fill for m in group.marks if isinstance(m, VectorPath) and m.fill and m.stroke]


def strands_of(group: Group, ink: str) -> int:
    return sum(fill in (ink, in_shadow(ink, FAR)) for fill in bodies(group))


def tied(strands: int, seat: Seat = "around", ink: str = "#5a3a20") -> LayerLook:
    return LayerLook("silicone", ink, None, None, strands, seat)


def laid(*layers: LayerLook) -> list[Strand]:
    return Fan("skirt", ROOM, Chance("test")).arrange(layers, [row.strands for row in layers])


@pytest.mark.parametrize("seat", SEATS)
@pytest.mark.parametrize(
    ("material", "dressing"),
    [
        ("silicone", "skirt"),
        ("rubber", "skirt"),
        ("bucktail", "hair"),
        ("tinsel", "hair"),
        ("marabou", "feather"),
    ],
)
def test_every_strand_of_the_recipe_is_drawn(
    jig: Callable[..., Product], material: str, dressing: str, seat: Seat
) -> None:
    product = jig(
        [
            {"material": material, "ink": "#5a3a20", "strands": 17},
            {"material": material, "ink": "#27508f", "strands": 11, "seat": seat},
        ],
        dressing=dressing,
    )
    group = draw_jig(product)
    assert strands_of(group, "#5a3a20") == 17
    assert strands_of(group, "#27508f") == 11
    assert len(bodies(draw_jig(product, ink="black"))) == 28


def test_a_two_tone_strand_changes_colour_at_its_tip(jig: Callable[..., Product]) -> None:
    group = draw_jig(jig([{"ink": "#8a4b23", "tip": "#e58a1f", "strands": 20}]))
    assert strands_of(group, "#8a4b23") == 20
    assert strands_of(group, "#e58a1f") == 20
    paths = [m for m in group.marks if isinstance(m, VectorPath) and m.stroke]
    whole = [m for m in paths if m.fill in ("#8a4b23", in_shadow("#8a4b23", FAR))]
    tips = [m for m in paths if m.fill in ("#e58a1f", in_shadow("#e58a1f", FAR))]
    for body, tip in zip(whole, tips, strict=True):
        ends = [max(step[-2] for step in m.steps if len(step) > 1) for m in (body, tip)]
        starts = [min(step[-2] for step in m.steps if len(step) > 1) for m in (body, tip)]
        assert ends[0] == pytest.approx(ends[1], abs=0.5)
        assert starts[1] > starts[0] + 0.5 * (ends[0] - starts[0])


def test_flake_is_on_every_strand_that_has_it_and_on_no_other(jig: Callable[..., Product]) -> None:
    product = jig(
        [
            {"strands": 20, "flake": {"ink": "#c9a227", "density": "sparse"}},
            {"ink": "#27508f", "strands": 10},
        ]
    )
    flakes = [
        m for m in draw_jig(product).marks if isinstance(m, VectorPath) and m.fill == "#c9a227"
    ]
    assert len(flakes) == 20


def test_denser_flake_has_more_specks(jig: Callable[..., Product]) -> None:
    def specks(density: str) -> int:
        product = jig([{"strands": 20, "flake": {"ink": "#c9a227", "density": density}}])
        marks = [
            m for m in draw_jig(product).marks if isinstance(m, VectorPath) and m.fill == "#c9a227"
        ]
        return sum(step[0] == "M" for mark in marks for step in mark.steps)

    assert specks("sparse") < specks("medium") < specks("dense")


def test_the_layer_tied_first_lies_over_all_others_where_it_is_seen() -> None:
    order = [s.layer for s in laid(tied(20), tied(14), tied(9)) if s.depth == "near"]
    assert order == sorted(order, reverse=True)
    assert order[-1] == 0


def test_the_layer_tied_first_lies_behind_all_others_on_the_far_side() -> None:
    order = [s.layer for s in laid(tied(20), tied(14), tied(9)) if s.depth == "far"]
    assert order == sorted(order)
    assert order[0] == 0


def test_the_layer_tied_first_makes_the_outline() -> None:
    strands = laid(tied(24), tied(24), tied(24))
    spans = []
    for layer in range(3):
        ys = [s.curve[3][1] for s in strands if s.layer == layer]
        spans.append(max(ys) - min(ys))
    assert all(outer > inner for outer, inner in pairwise(spans)), spans


def test_the_drawing_keeps_the_order_in_which_the_strands_lie(brown_over_blue: Product) -> None:
    fills = bodies(draw_jig(brown_over_blue))
    brown, blue, orange = "#5a3a20", "#27508f", "#e2711d"
    assert fills[0] == in_shadow(brown, FAR)
    assert fills[-1] == brown
    near = fills[len(fills) // 2 :]
    last = {
        ink: max(i for i, fill in enumerate(near) if fill == ink) for ink in (brown, blue, orange)
    }
    assert last[orange] < last[blue] < last[brown]


def test_the_hook_lies_between_the_far_strands_and_the_near_ones(brown_over_blue: Product) -> None:
    marks = [m for m in draw_jig(brown_over_blue).marks if isinstance(m, VectorPath)]
    hook = next(i for i, m in enumerate(marks) if m.fill == brown_over_blue.hook.ink)
    far, near = in_shadow("#5a3a20", FAR), "#5a3a20"
    assert max(i for i, m in enumerate(marks) if m.fill == far and m.stroke) < hook
    assert max(i for i, m in enumerate(marks) if m.fill == near and m.stroke) > hook


def test_a_seat_says_where_a_layer_lies() -> None:
    def tips(seat: Seat) -> list[tuple[float, float]]:
        return [s.curve[3] for s in laid(tied(20), tied(16, seat)) if s.layer == 1]

    fall = 0.085 * ROOM.length  # tips sink by their own weight; "above" is above that
    assert all(y < fall for _, y in tips("back"))
    assert all(y > fall * 0.5 for _, y in tips("belly"))
    back, belly, sides, around, tail = (
        [y for _, y in tips(seat)] for seat in ("back", "belly", "sides", "around", "tail")
    )
    assert max(back) < min(belly)
    assert max(sides) - min(sides) < max(around) - min(around)
    assert max(tail) - min(tail) < max(around) - min(around)
    assert max(x for x, _ in tips("tail")) > max(x for x, _ in tips("around"))


def test_sides_are_dressed_on_both_sides() -> None:
    sides = Counter(s.depth == "far" for s in laid(tied(16, "sides")))
    assert sides[True] == sides[False] == 8


def test_near_strands_cross_before_the_hook_and_leave_its_point_free(
    specimens: dict[str, Product],
) -> None:
    for name in ("swim", "football", "finesse", "bucktail", "marabou"):
        subject = look_of(specimens[name])
        room, hook = places_of(subject).room, places_of(subject).hook
        strands = Fan(subject.dressing, room, Chance(name)).arrange(
            subject.layers, [row.strands for row in subject.layers]
        )
        near = [s.curve for s in strands if s.depth == "near"]
        ways = [[at(curve, t / 40) for t in range(41)] for curve in near]
        assert all(math.dist(spot, hook.point) > 3 for way in ways for spot in way)
        bend = [at(curve, t / 20) for curve in (hook.shank, *hook.bend) for t in range(21)]
        crossed = [w for w in ways if min(math.dist(a, b) for a in w for b in bend) < 4]
        assert len(crossed) >= min(3, len(near)), name


def test_a_plume_closes_around_the_shank_and_lets_the_bend_out(jig: Callable[..., Product]) -> None:
    for weight, size in (("1/32 oz", "8"), ("1/16 oz", "4"), ("1/4 oz", "1/0"), ("1/2 oz", "3/0")):
        product = jig([{"material": "marabou", "strands": 3}], dressing="feather", guard=None,
                      weight=weight, size=size, head={"style": "round"})  # fmt: skip
        frame = places_of(look_of(product))
        paths = [m for m in draw_jig(product).marks if isinstance(m, VectorPath)]
        hook = next(i for i, m in enumerate(paths) if m.fill == product.hook.ink)
        over = [outline(m) for i, m in enumerate(paths) if i > hook and is_plume(m, product)]
        shank = [at(frame.hook.shank, t / 10) for t in range(3, 10)]
        assert all(any(holds(spot, each) for each in over) for spot in shank), weight
        assert not any(holds(frame.hook.point, each) for each in over), weight


def is_plume(path: VectorPath, product: Product) -> bool:
    ink = product.colour.layers[0].ink
    return path.fill in (ink, in_shadow(ink, FAR), in_shadow(ink, SHADOW))


def outline(path: VectorPath) -> list[list[tuple[float, float]]]:
    """Return each closed part of a path as points."""
    parts: list[list[tuple[float, float]]] = []
    for step in path.steps:
        if step[0] == "M":
            parts.append([(step[1], step[2])])
        elif step[0] == "L":
            parts[-1].append((step[1], step[2]))
        elif step[0] == "C":
            curve = (parts[-1][-1], (step[1], step[2]), (step[3], step[4]), (step[5], step[6]))
            parts[-1] += [at(curve, t / 8) for t in range(1, 9)]
    return parts


def holds(spot: tuple[float, float], parts: list[list[tuple[float, float]]]) -> bool:
    """Tell whether a point lies within one of a path's parts, by crossings to its right."""
    x, y = spot
    for part in parts:
        inside = False
        for (x0, y0), (x1, y1) in zip(part, [*part[1:], part[0]], strict=True):
            if (y0 <= y) != (y1 <= y) and x < x0 + (y - y0) / (y1 - y0) * (x1 - x0):
                inside = not inside
        if inside:
            return True
    return False


def test_a_skirt_ends_as_far_past_the_bend_as_the_maker_says(jig: Callable[..., Product]) -> None:
    for words, past in (
        ("3/8 in past the bend", 27.0), ("level with the bend, then cup it", 0.0),
        ("never cut the tips; 5/8 in past the bend", 45.0), ("10 mm past the bend", 28.35),
    ):  # fmt: skip
        product = jig([{"strands": 30}], length="3 3/4 in")
        tie = product.pattern.tie.model_copy(update={"trim": words})
        pattern = product.pattern.model_copy(update={"tie": tie})
        look = look_of(product.model_copy(update={"pattern": pattern}))
        assert look.trim == pytest.approx(past, abs=0.01)
        frame = places_of(look)
        assert frame.room.start + frame.room.length == pytest.approx(
            frame.hook.rear + past, abs=0.1
        )
    assert look_of(jig([{"strands": 30}])).trim is None


def test_a_slip_in_the_trim_keeps_the_head_large_enough_to_see(jig: Callable[..., Product]) -> None:
    product = jig([{"strands": 30}])
    tie = product.pattern.tie.model_copy(update={"trim": "38 in past the bend"})
    pattern = product.pattern.model_copy(update={"tie": tie})
    left, _, right, _ = draw_jig(product.model_copy(update={"pattern": pattern})).box
    assert right - left < 6 * 72


@given(st.lists(st.integers(1, 2000), min_size=1, max_size=30))
def test_no_layer_is_ever_left_out_and_the_drawing_stays_a_drawing(counts: list[int]) -> None:
    drawn = shares([tied(count) for count in counts], MOST_STRANDS)
    assert sum(drawn) == min(sum(counts), MOST_STRANDS)
    assert all(1 <= d <= count for d, count in zip(drawn, counts, strict=True))
    for (a, x), (b, y) in pairwise(zip(counts, drawn, strict=True)):
        if a > b:
            assert x >= y - 1


def test_a_very_full_skirt_is_shared_out_in_proportion() -> None:
    assert shares([tied(1600), tied(300), tied(100)], 160) == [128, 24, 8]
    assert shares([tied(2000), *[tied(1)] * 50], 160) == [110, *[1] * 50]


def test_more_layers_than_strands_still_show_each_of_them() -> None:
    assert shares([tied(3)] * 200, 160) == [1] * 200
