"""Where things land, measured from the finished file."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest

from labeler.marks import Piece, PieceSide
from labeler.press.impose import PieceOrder, impose
from labeler.press.printers import Flip, Lying, Printer
from labeler.press.sheets import Sheet

Boxes = Callable[[bytes], list[list[tuple[float, float, float, float]]]]
Press = Callable[..., bytes]
PieceMaker = Callable[..., Piece]
Block = Callable[..., object]

TIGHT = 0.1
"""What a desk printer can't show any more: 0.1 pt is 0.035 mm."""

FIXED = [
    "letter-3x10", "letter-2x10", "letter-2x7", "letter-rounds-4x5", "letter-tags-2x4-gapped",
    "a4-3x7", "a4-4x12", "a4-2x8-full", "a4-cards-2x5", "roll-300-4x2in",
]  # fmt: skip


@pytest.mark.parametrize("name", FIXED)
def test_cells_are_where_the_sheet_has_them(
    name: str, sheets: dict[str, Sheet], label: PieceMaker, press: Press, boxes: Boxes
) -> None:
    """First margin plus so many pitches, from the sheet's own figures, for every cell."""
    sheet = sheets[name]
    grid = sheet.grid
    assert grid is not None
    size = grid.cell_width, grid.cell_height
    kinds = [PieceOrder(label("A", size=size), 1), PieceOrder(label("B", size=size), grid.count)]
    pages = boxes(press(impose(kinds, sheet)))
    assert [len(page) for page in pages] == [grid.count, 1]
    for cell, found in enumerate(pages[0]):
        row, column = divmod(cell, grid.columns)
        left, top = grid.left + column * grid.pitch_x, grid.top + row * grid.pitch_y
        assert found == pytest.approx((left, top, left + size[0], top + size[1]), abs=TIGHT)


def test_the_thirty_cells_of_the_usual_sheet_in_inches(
    sheets: dict[str, Sheet], label: PieceMaker, press: Press, boxes: Boxes
) -> None:
    """The arithmetic written out (from memory): 0.1875 + 2.75 n across, 0.5 + 1 n down."""
    (page,) = boxes(press(impose([PieceOrder(label(), 30)], sheets["letter-3x10"])))
    corners = {(round(box[0] / 72, 4), round(box[1] / 72, 4)) for box in page}
    wanted = itertools.product((0.1875, 2.9375, 5.6875), (n + 0.5 for n in range(10)))
    assert corners == set(wanted)


@pytest.mark.parametrize("flip", ["long-edge", "short-edge"])
@pytest.mark.parametrize("name", ["letter-3x10", "a4-3x8", "letter-card"])
def test_fronts_and_backs_are_in_register(
    name: str,
    flip: Flip,
    sheets: dict[str, Sheet],
    label: PieceMaker,
    press: Press,
    boxes: Boxes,
    block: Block,
) -> None:
    """Fold the back page over in the mind: every back lies on a front, to 0.1 pt."""
    size = (180.0, 70.0)
    piece = label(size=size, back=(block(0, 0, *size),), bleed=0.0)
    plan = impose([PieceOrder(piece, 5)], sheets[name], start=2, flip=flip)
    pdf = press(plan, printer=Printer(duplex=flip))
    front, back = ([box for box in page if box[2] - box[0] > 100] for page in boxes(pdf))
    wide, high = plan.grid.page_width, plan.grid.page_height
    sideways = (high >= wide) == (flip == "long-edge")
    turned = [
        (wide - r, t, wide - lft, b) if sideways else (lft, high - b, r, high - t)
        for lft, t, r, b in back
    ]
    assert len(front) == 5
    for found, wanted in zip(sorted(turned), sorted(front), strict=True):
        assert found == pytest.approx(wanted, abs=TIGHT)


def test_a_back_over_the_short_edge_is_turned_by_half(
    sheets: dict[str, Sheet], label: PieceMaker, press: Press, boxes: Boxes, block: Block
) -> None:
    """A mark at the top left of the back comes to lie at the bottom right of its cell."""
    piece = label(front=(), back=(block(0, 0, 10, 20),))
    pdf = press(impose([PieceOrder(piece, 1)], sheets["letter-3x10"], flip="short-edge"))
    _, ((left, top, right, bottom),) = boxes(pdf)
    cell_right, cell_bottom = 13.5 + 189, 792 - 36
    assert (left, top, right, bottom) == pytest.approx(
        (cell_right - 10, cell_bottom - 20, cell_right, cell_bottom), abs=TIGHT
    )


def test_a_fresh_printer_moves_nothing_and_a_measured_one_moves_all_alike(
    sheets: dict[str, Sheet], label: PieceMaker, press: Press, boxes: Boxes, block: Block
) -> None:
    piece = label(back=(block(0, 0, 189, 72),))
    plan = impose([PieceOrder(piece, 30)], sheets["letter-3x10"])
    plain = boxes(press(plan))
    assert boxes(press(plan, printer=Printer("new"))) == plain
    moved = boxes(press(plan, printer=Printer(shift=(2.5, -1.25), back=(0.5, 0.75))))
    for side, (dx, dy) in enumerate(((2.5, -1.25), (3.0, -0.5))):
        for was, now in zip(plain[side], moved[side], strict=True):
            assert now == pytest.approx(
                (was[0] + dx, was[1] + dy, was[2] + dx, was[3] + dy), abs=0.002
            )


def test_scale_and_skew_move_each_cell_by_its_own_share(
    sheets: dict[str, Sheet], label: PieceMaker, press: Press, boxes: Boxes
) -> None:
    plan = impose([PieceOrder(label(), 30)], sheets["letter-3x10"])
    (plain,) = boxes(press(plan))
    (stretched,) = boxes(press(plan, printer=Printer(scale=(1.01, 0.99))))
    for was, now in zip(plain, stretched, strict=True):
        factors = (1.01, 0.99, 1.01, 0.99)
        assert now == pytest.approx([a * b for a, b in zip(was, factors, strict=True)], abs=0.01)
    (leaning,) = boxes(press(plan, printer=Printer(skew=(0.01, 0.0))))
    for was, now in zip(plain, leaning, strict=True):
        assert now[0] == pytest.approx(was[0] + 0.01 * was[1], abs=0.01)
        assert now[2] == pytest.approx(was[2] + 0.01 * was[3], abs=0.01)


@pytest.mark.parametrize(("lying", "dx", "dy"), [("left", -3.0, 2.0), ("right", 3.0, -2.0)])
def test_on_a_page_that_lies_the_correction_is_turned_with_the_page(
    lying: Lying,
    dx: float,
    dy: float,
    sheets: dict[str, Sheet],
    label: PieceMaker,
    press: Press,
    boxes: Boxes,
) -> None:
    """Two points right and three down on the paper, as seen on the page.

    Where the page's top goes left, the paper's right is the page's down and its down the
    page's left. Geometry, no published source.
    """
    plan = impose([PieceOrder(label(size=(288, 432)), 2)], sheets["letter-card"])
    assert plan.grid.page_width > plan.grid.page_height
    plain, moved = (
        [box for box in boxes(press(plan, printer=printer))[0] if box[2] - box[0] > 100]
        for printer in (Printer(), Printer(shift=(2.0, 3.0), lying=lying))
    )
    for was, now in zip(plain, moved, strict=True):
        assert (now[0] - was[0], now[1] - was[1]) == pytest.approx((dx, dy), abs=0.002)


def test_a_roll_has_one_page_a_label(
    sheets: dict[str, Sheet], label: PieceMaker, press: Press, boxes: Boxes
) -> None:
    sheet = sheets["roll-203-2.25x1.25in"]
    pages = boxes(press(impose([PieceOrder(label(size=(162, 90)), 3)], sheet)))
    assert [page[0] for page in pages] == [pytest.approx((0, 0, 162, 90), abs=TIGHT)] * 3


def test_pieces_drawn_once_lie_like_pieces_drawn_often(
    sheets: dict[str, Sheet], label: PieceMaker, press: Press, boxes: Boxes
) -> None:
    """A face used twice is a form that is placed; the same face used once is drawn in place."""
    once, twice = label("ONCE"), label("TWICE")
    kinds = [PieceOrder(once, 1), PieceOrder(twice, 2)]
    (page,) = boxes(press(impose(kinds, sheets["letter-3x10"])))
    sizes = [(round(r - lft, 2), round(b - t, 2)) for lft, t, r, b in page]
    assert sizes == [(189.0, 72.0)] * 3


def test_the_name_of_the_face_decides_its_side(
    sheets: dict[str, Sheet], press: Press, boxes: Boxes, block: Callable[..., object]
) -> None:
    mark = (block(0, 0, 10, 10),)
    piece = Piece("X", "", "t", 50, 50, (PieceSide("back", mark), PieceSide("front", mark * 2)))  # type: ignore[arg-type]
    pages = boxes(press(impose([PieceOrder(piece, 1)], sheets["letter-3x10"])))
    assert [len(page) for page in pages] == [2, 1]
