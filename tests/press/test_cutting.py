"""Card stock: how many cards a sheet holds, and the marks to cut and fold them by."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.findings import LabelerError
from labeler.marks import Piece, VectorPath, path_points
from labeler.press.impose import Imposition, PieceOrder, Placed, cut_grid, cutting_marks, impose
from labeler.press.sheets import all_sheets

PieceMaker = Callable[..., Piece]
Box = tuple[float, float, float, float]
CARDS = all_sheets()
INCH = 72.0


def bleed_box(placed: Placed) -> Box:
    piece = placed.piece
    return (
        placed.x - piece.bleed, placed.y - piece.bleed,
        placed.x + piece.width + piece.bleed, placed.y + piece.height + piece.bleed,
    )  # fmt: skip


def around(path: VectorPath) -> Box:
    points = list(path_points(path))
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def touches(one: Box, other: Box) -> bool:
    return (
        one[0] < other[2] - 1e-6
        and other[0] < one[2] - 1e-6
        and one[1] < other[3] - 1e-6
        and other[1] < one[3] - 1e-6
    )


def marked(plan: Imposition) -> Iterator[tuple[Placed, list[VectorPath]]]:
    for placed in next(iter(plan)).placed:
        yield placed, list(cutting_marks(plan.grid, plan.sheet.margin, placed))


@pytest.mark.parametrize(
    ("sheet", "size", "bleed", "cards", "lies"),
    [
        ("letter-card", (2, 3.5), 0.125, 8, True),
        ("letter-card", (3, 4), 0.125, 4, False),
        ("letter-card", (4, 4), 0.125, 2, False),
        ("letter-card", (4, 6), 0.125, 2, True),
        ("letter-card", (5, 7), 0.125, 1, False),
        ("a4-card", (4, 6), 0.125, 2, True),
        ("letter-card", (8, 10), 0.0, 1, False),
    ],
)
def test_a_sheet_stands_or_lies_whichever_holds_more(
    sheet: str, size: tuple[float, float], bleed: float, cards: int, lies: bool
) -> None:
    """Counted by hand: printable width and height over card and gutter, both ways round."""
    grid = cut_grid(CARDS[sheet], size[0] * INCH, size[1] * INCH, bleed * INCH)
    assert grid is not None
    assert (grid.count, grid.page_width > grid.page_height) == (cards, lies)


def test_a_card_that_does_not_fit_is_told_with_both_sizes(label: PieceMaker) -> None:
    with pytest.raises(LabelerError) as caught:
        impose([PieceOrder(label("BIG", size=(8 * INCH, 11 * INCH)), 1)], CARDS["letter-card"])
    (finding,) = caught.value.findings
    assert finding.found == "8 in x 11 in"
    assert finding.expected == "at most 8 in x 10 1/2 in with its bleed, inside the margins"


sides = st.floats(20, 500)


@given(
    st.sampled_from(["letter-card", "a4-card"]),
    sides, sides, st.sampled_from([0.0, 3.0, 9.0, 14.0]),
)  # fmt: skip
def test_cards_lie_centred_inside_the_margins_and_apart(
    name: str, width: float, height: float, bleed: float
) -> None:
    sheet = CARDS[name]
    grid = cut_grid(sheet, width, height, bleed)
    if grid is None:
        return
    reach = sheet.margin + bleed - 1e-6
    assert grid.left == pytest.approx(grid.right)
    assert grid.top == pytest.approx(grid.bottom)
    assert min(grid.left, grid.top) >= reach - 0.03
    assert min(grid.gap_x, grid.gap_y) >= max(2 * bleed, sheet.gutter) - 1e-6
    turned = cut_grid(replace(sheet, width=sheet.height, height=sheet.width), width, height, bleed)
    assert turned is not None
    assert turned.count == grid.count


@given(
    sides, sides, st.sampled_from([0.0, 4.5, 9.0]),
    st.lists(st.floats(0.05, 0.95), max_size=2),
)  # fmt: skip
def test_no_mark_touches_a_piece_or_its_bleed(
    label: PieceMaker, width: float, height: float, bleed: float, folds: list[float]
) -> None:
    """Nor leaves the printable part of the sheet; mixed sizes share one sheet."""
    big = label("A", size=(width, height), bleed=bleed, folds=tuple(f * height for f in folds))
    small = label("B", size=(width * 0.7, height * 0.6), bleed=bleed / 2)
    sheet = CARDS["letter-card"]
    grid = cut_grid(sheet, width, height, bleed)
    if grid is None:
        return
    half = max(1, grid.count // 2)
    orders = [
        PieceOrder(big, half),
        *([PieceOrder(small, grid.count - half)] if grid.count > 1 else []),
    ]
    plan = impose(orders, sheet)
    inked = [bleed_box(placed) for placed in next(iter(plan)).placed]
    for _, paths in marked(plan):
        for mark in map(around, paths):
            assert not any(touches(mark, box) for box in inked)
            assert mark[0] >= sheet.margin - 1e-6
            assert mark[1] >= sheet.margin - 1e-6
            assert mark[2] <= grid.page_width - sheet.margin + 1e-6
            assert mark[3] <= grid.page_height - sheet.margin + 1e-6


def test_every_cut_has_a_mark_at_both_ends(label: PieceMaker) -> None:
    """Whoever lays a ruler across the sheet finds both ends of each line to cut along."""
    plan = impose([PieceOrder(label(size=(144, 252), bleed=9.0), 8)], CARDS["letter-card"])
    marks = [around(path) for _, paths in marked(plan) for path in paths]
    for placed in next(iter(plan)).placed:
        for x in (placed.x, placed.x + 144):
            upright = [m for m in marks if abs(m[0] - x) < 0.01 and m[0] == m[2]]
            assert any(m[3] < plan.grid.top for m in upright)
            assert any(m[1] > plan.grid.page_height - plan.grid.bottom for m in upright)
        for y in (placed.y, placed.y + 252):
            level = [m for m in marks if abs(m[1] - y) < 0.01 and m[1] == m[3]]
            assert any(m[2] < plan.grid.left for m in level)
            assert any(m[0] > plan.grid.page_width - plan.grid.right for m in level)


def test_marks_are_fine_black_and_of_use(label: PieceMaker) -> None:
    """0.25 pt, at least 1 mm and at most 5 mm long: common practice, no published source."""
    plan = impose([PieceOrder(label(size=(144, 252), bleed=9.0), 1)], CARDS["letter-card"])
    ((placed, paths),) = marked(plan)
    assert paths
    for path in paths:
        left, top, right, bottom = around(path)
        assert 2.83 <= max(right - left, bottom - top) <= 14.18
        assert (path.stroke, path.width, path.fill) == ("#000000", 0.25, None)
        clear = bleed_box(placed)
        outside = right <= clear[0] or left >= clear[2] or bottom <= clear[1] or top >= clear[3]
        assert outside


@pytest.mark.parametrize("turn", [0, 180])
def test_a_fold_is_dashed_beside_the_card_only(label: PieceMaker, turn: int) -> None:
    piece = label(size=(288, 288), folds=(120.0,))
    plan = impose([PieceOrder(piece, 1)], CARDS["letter-card"])
    (front,) = next(iter(plan)).placed
    placed = Placed(piece, front.face, front.x, front.y, turn, 1, 1)  # type: ignore[arg-type]
    dashed = [p for p in cutting_marks(plan.grid, plan.sheet.margin, placed) if p.dash]
    height = front.y + (168 if turn else 120)
    assert [around(p)[1] for p in dashed] == [pytest.approx(height)] * 2
    left, right = map(around, dashed)
    assert left[2] < front.x
    assert right[0] > front.x + 288


def test_die_cut_sheets_and_rolls_get_no_cutting_marks(
    label: PieceMaker, press: Callable[..., bytes], boxes: Callable[..., list[list[Box]]]
) -> None:
    for name in ("letter-3x10", "roll-203-3x1in"):
        piece = label(front=(), folds=(36.0,))
        assert boxes(press(impose([PieceOrder(piece, 1)], CARDS[name]))) == [[]]
    piece = label(front=(), folds=(36.0,))
    (page,) = boxes(press(impose([PieceOrder(piece, 1)], CARDS["letter-card"])))
    assert len(page) == 10
