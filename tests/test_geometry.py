"""Boxes and matrices: what is undone comes back, and boxes share what they share."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from labeler.geometry import (
    IDENTITY,
    Box,
    Matrix,
    apply,
    apply_to_box,
    area,
    bounding_box,
    contains,
    contains_point,
    grown,
    intersection,
    inverse,
    multiply,
    overlaps,
    union,
)

numbers = st.floats(-50, 50, allow_nan=False)
matrices = st.tuples(*[numbers] * 6)
boxes = st.tuples(numbers, numbers, st.floats(0.1, 50), st.floats(0.1, 50)).map(
    lambda b: (b[0], b[1], b[0] + b[2], b[1] + b[3])
)


@given(matrices, matrices, numbers, numbers)
def test_a_product_does_one_and_then_the_other(
    first: Matrix, then: Matrix, x: float, y: float
) -> None:
    assert apply(multiply(first, then), x, y) == pytest.approx(
        apply(then, *apply(first, x, y)), abs=1e-6
    )


@given(matrices, numbers, numbers)
def test_an_inverse_takes_every_point_back(matrix: Matrix, x: float, y: float) -> None:
    a, b, c, d, _, _ = matrix
    assume(abs(a * d - b * c) > 1)
    assert apply(inverse(matrix), *apply(matrix, x, y)) == pytest.approx((x, y), abs=1e-6)


def test_a_matrix_that_flattens_the_page_has_no_inverse() -> None:
    with pytest.raises(ZeroDivisionError):
        inverse((1.0, 2.0, 2.0, 4.0, 0.0, 0.0))


def test_a_quarter_turn_as_iso_32000_writes_it() -> None:
    """ISO 32000-1:2008, 8.3.3: a rotation by q is [cos q, sin q, -sin q, cos q, 0, 0]."""
    q = math.pi / 2
    turn = (math.cos(q), math.sin(q), -math.sin(q), math.cos(q), 0.0, 0.0)
    assert apply(turn, 1, 0) == pytest.approx((0, 1), abs=1e-12)
    assert apply_to_box(turn, (0, 0, 2, 1)) == pytest.approx((-1, 0, 0, 2), abs=1e-12)


@given(matrices, boxes)
def test_a_moved_box_holds_its_moved_corners(matrix: Matrix, box: Box) -> None:
    left, top, right, bottom = box
    corners = [apply(matrix, x, y) for x in (left, right) for y in (top, bottom)]
    assert apply_to_box(matrix, box) == pytest.approx(bounding_box(corners))
    assert apply_to_box(IDENTITY, box) == pytest.approx(box)


@given(boxes, boxes)
def test_what_two_boxes_share_lies_in_both_and_both_in_their_union(one: Box, other: Box) -> None:
    shared = intersection(one, other)
    assert (shared is not None) == overlaps(one, other)
    if shared is not None:
        assert contains(one, shared)
        assert contains(other, shared)
        assert 0 < area(shared) <= min(area(one), area(other))
    assert contains(union([one, other]), one)
    assert contains(union([one, other]), other)


def test_boxes_that_touch_share_nothing() -> None:
    assert intersection((0, 0, 1, 1), (1, 0, 2, 1)) is None
    assert not overlaps((0, 0, 2, 2), (1.5, 1.5, 3, 3), slack=0.5)
    assert contains((0, 0, 1, 1), (-0.1, 0, 1, 1), slack=0.1)
    for side, beyond in enumerate((-0.1, -0.1, 1.1, 1.1)):
        left, top, right, bottom = (
            beyond if at == side else own for at, own in enumerate((0.0, 0.0, 1.0, 1.0))
        )
        assert not contains((0, 0, 1, 1), (left, top, right, bottom), slack=0.09)
    assert contains_point((0, 0, 1, 1), 1, 0)
    assert not contains_point((0, 0, 1, 1), 1.1, 0)


def test_a_box_grows_and_one_turned_inside_out_has_no_area() -> None:
    assert grown((0, 0, 10, 10), 1) == (-1, -1, 11, 11)
    assert grown((0, 0, 10, 10), 1, 2) == (-1, -2, 11, 12)
    assert area(grown((0, 0, 1, 1), -1)) == 0
