"""Line work: curves, tones, and the engraver's ladder."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from labeler.drawing.curves import (
    Cubic,
    at,
    beside,
    box_of,
    part,
    ribbon,
    split,
    stroke,
    swelling,
    through,
)
from labeler.drawing.engraving import LADDER, Chance, edge, lightness, mix, shade, tint, treatments
from labeler.marks import VectorPath

PLACE = st.tuples(st.floats(-200, 200), st.floats(-200, 200))
CUBIC = st.tuples(PLACE, PLACE, PLACE, PLACE)
INK = st.from_regex(r"#[0-9a-f]{6}", fullmatch=True)
ARCH: Cubic = ((0, 0), (10, -20), (30, -20), (40, 0))


@given(CUBIC, st.floats(0.05, 0.95), st.floats(0, 1))
def test_a_curve_cut_in_two_is_still_the_same_curve(cubic: Cubic, t: float, u: float) -> None:
    first, second = split(cubic, t)
    assert at(first, u) == pytest.approx(at(cubic, t * u), abs=1e-6)
    assert at(second, u) == pytest.approx(at(cubic, t + (1 - t) * u), abs=1e-6)


def test_a_part_of_a_curve_runs_from_its_start_to_its_end() -> None:
    piece = part(ARCH, 0.25, 0.75)
    assert piece[0] == pytest.approx(at(ARCH, 0.25))
    assert piece[3] == pytest.approx(at(ARCH, 0.75))
    assert part(ARCH, 0, 1) == ARCH


def test_a_line_beside_another_keeps_its_distance() -> None:
    """On a quarter circle, a hook's bend: concentric to less than half a hairline of 0.43 pt."""
    k = 19 * 4 / 3 * (math.sqrt(2) - 1)
    quarter: Cubic = ((0, 0), (k, 0), (19, 19 - k), (19, 19))
    for off in (-2.0, 2.0):
        line = beside(quarter, (off,) * 4)
        for n in range(21):
            x, y = at(line, n / 20)
            assert math.hypot(x, y - 19) == pytest.approx(19 + off, abs=0.2)


@given(st.lists(PLACE, min_size=2, max_size=8, unique=True))
def test_a_smooth_line_goes_through_all_its_points(points: list[tuple[float, float]]) -> None:
    line = through(points)
    assert [c[0] for c in line] + [line[-1][3]] == points
    for before, after in pairwise(line):
        ahead = (before[3][0] - before[2][0], before[3][1] - before[2][1])
        onward = (after[1][0] - after[0][0], after[1][1] - after[0][1])
        assert ahead == pytest.approx(onward, abs=1e-6)


@given(CUBIC, st.floats(0.1, 4))
def test_a_box_holds_the_whole_stroke_and_touches_it_on_all_sides(
    cubic: Cubic, width: float
) -> None:
    path = VectorPath(stroke([cubic]), stroke="#000000", width=width)
    left, top, right, bottom = box_of([path])
    spots = [at(cubic, n / 2000) for n in range(2001)]
    xs, ys = [x for x, _ in spots], [y for _, y in spots]
    half = width / 2
    assert (left, top) == pytest.approx((min(xs) - half, min(ys) - half), abs=0.03)
    assert (right, bottom) == pytest.approx((max(xs) + half, max(ys) + half), abs=0.03)


def test_nothing_has_no_box() -> None:
    nothing: list[VectorPath] = []
    with pytest.raises(ValueError, match="no paths"):
        box_of(nothing)


def test_a_swelling_stroke_is_nothing_at_its_ends_and_full_in_between() -> None:
    straight: Cubic = ((0, 0), (10, 0), (20, 0), (30, 0))
    _, top, _, bottom = box_of([VectorPath(swelling(straight, 2.0), fill="#000000")])
    assert top == pytest.approx(-1.5, abs=0.02)
    assert bottom == pytest.approx(1.5, abs=0.02)
    assert swelling(straight, 2.0)[0] == ("M", 0, 0)


def test_a_round_tip_reaches_half_a_width_further_than_a_cut_one() -> None:
    straight: Cubic = ((0, 0), (10, 0), (20, 0), (30, 0))
    cut = box_of([VectorPath(ribbon([straight], [(2, 2, 2, 2)]), fill="#000000")])
    rounded = box_of([VectorPath(ribbon([straight], [(2, 2, 2, 2)], True), fill="#000000")])
    assert cut == pytest.approx((0.0, -2.0, 30.0, 2.0))
    assert rounded[2] == pytest.approx(32, abs=0.02)


@pytest.mark.parametrize(
    ("ink", "expected"),
    [
        ("#000000", 0.0), ("#ffffff", 1.0), ("#777777", 0.5003),
        ("#ff0000", 0.5324), ("#00ff00", 0.8774), ("#0000ff", 0.3230),
    ],
)  # fmt: skip
def test_lightness_is_cie_l_star(ink: str, expected: float) -> None:
    """L* of sRGB's primaries under D65 (from memory; they follow from IEC 61966-2-1)."""
    assert lightness(ink) == pytest.approx(expected, abs=0.001)


@given(INK, st.floats(0, 1))
def test_shades_are_no_lighter_and_tints_no_darker(ink: str, share: float) -> None:
    assume(lightness(ink) > 0.12)
    assert lightness(shade(ink, share)) <= lightness(ink) + 0.01
    assert lightness(tint(ink, share)) >= lightness(ink) - 0.01
    assert mix(ink, "#123456", 0.0) == ink


@given(INK)
def test_an_edge_parts_a_strand_from_its_neighbour_and_from_the_paper(ink: str) -> None:
    line = lightness(edge(ink))
    assert line <= lightness(ink)
    assert line < lightness(ink) - 0.03 or lightness(ink) < 0.06
    assert line < 0.72


def test_inks_of_one_recipe_are_drawn_in_different_ways_dark_to_light() -> None:
    inks = ["#5a3a20", "#27508f", "#e2711d", "#f6f5f0"]
    ways = treatments(inks)
    rungs = [LADDER.index(ways[ink]) for ink in sorted(inks, key=lightness)]
    assert rungs == sorted(rungs)
    assert len(set(rungs)) == 4
    assert rungs[0] == 0
    assert rungs[-1] == len(LADDER) - 1


def test_black_is_solid_and_white_is_bare_outline() -> None:
    assert treatments(["#17171a"]) == {"#17171a": LADDER[0]}
    assert treatments(["#ffffff"]) == {"#ffffff": LADDER[-1]}


@given(st.sets(INK, min_size=1, max_size=12))
def test_no_two_inks_are_drawn_alike_while_the_ladder_has_rungs(inks: set[str]) -> None:
    ways = treatments(inks)
    assert set(ways) == inks
    assert len({LADDER.index(way) for way in ways.values()}) == min(len(inks), len(LADDER))
    order = sorted(inks, key=lambda ink: (lightness(ink), ink))
    rungs = [LADDER.index(ways[ink]) for ink in order]
    assert rungs == sorted(rungs)


def test_chance_repeats_itself_and_keeps_its_bounds() -> None:
    one, two, other = Chance("a"), Chance("a"), Chance("b")
    row = [one.about(5, 2) for _ in range(200)]
    assert row == [two.about(5, 2) for _ in range(200)]
    assert row != [other.about(5, 2) for _ in range(200)]
    assert 3 <= min(row) < 4.2
    assert 5.8 < max(row) <= 7
    swell = one.swell(2.0)
    assert all(abs(swell.at(n / 10)) <= 2 for n in range(63))
