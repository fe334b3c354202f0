"""Which piece goes to which cell, drawn as a person would see it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.findings import LabelerError
from labeler.marks import Piece
from labeler.press.impose import Imposition, PieceOrder, Spot, impose, read_spoiled
from labeler.press.sheets import Sheet, SheetGrid

PieceMaker = Callable[..., Piece]

SMALL = Sheet(
    "small", "die-cut", 300, 200, SheetGrid(300, 200, 3, 2, 80, 80, 20, 15, 90, 90), source="a test"
)


def drawing(plan: Imposition, side: str = "front") -> str:
    """Draw the sheets as rows of letters, one a cell, as they lie on the page."""
    sheets = []
    for page in plan:
        if page.side != side:
            continue
        cells = ["_"] * plan.grid.count
        for placed in page.placed:
            assert cells[placed.place - 1] == "_", "two pieces in one cell"
            cells[placed.place - 1] = placed.piece.sku
        wide = plan.grid.columns
        rows = ["".join(cells[n : n + wide]) for n in range(0, len(cells), wide)]
        sheets.append("\n".join(rows))
    return "\n\n".join(sheets)


def expected(text: str) -> str:
    return "\n".join(line.strip() for line in text.strip().splitlines())


def orders(label: PieceMaker, text: str, size: tuple[float, float] = (80, 80)) -> list[PieceOrder]:
    """Read ``A2 B1``: two of A and one of B."""
    return [PieceOrder(label(word[0], size=size), int(word[1:])) for word in text.split()]


def test_a_started_sheet_is_used_up_first(label: PieceMaker) -> None:
    plan = impose(orders(label, "A1 B1 C2"), SMALL, start=5)
    assert drawing(plan) == expected("""
        ___
        _AB

        CC_
        ___
    """)
    assert plan.next_free == Spot(2, 3)
    assert plan.sheet_count == 2


def test_spoiled_cells_stay_empty(label: PieceMaker) -> None:
    plan = impose(orders(label, "A6 B1"), SMALL, spoiled=read_spoiled("2, 5-6, 2:1"))
    assert drawing(plan) == expected("""
        A_A
        A__

        _AA
        AB_
    """)
    assert plan.next_free == Spot(2, 6)


def test_the_last_sheet_is_filled_when_asked(label: PieceMaker) -> None:
    plan = impose(orders(label, "A2 B6"), SMALL, fill=True)
    assert drawing(plan) == expected("""
        AAB
        BBB

        BBB
        BBB
    """)
    assert plan.piece_count == 12
    assert plan.next_free == Spot(3, 1)


def test_a_full_sheet_is_not_filled_further(label: PieceMaker) -> None:
    plan = impose(orders(label, "A6"), SMALL, fill=True)
    assert (plan.sheet_count, plan.piece_count) == (1, 6)
    assert plan.next_free == Spot(2, 1)


def test_a_spoiled_cell_of_the_next_sheet_moves_the_next_free_one(label: PieceMaker) -> None:
    plan = impose(orders(label, "A6"), SMALL, spoiled=read_spoiled("2:1-2"))
    assert plan.next_free == Spot(2, 3)
    (finding,) = (n for n in plan.notes if n.rule == "spoiled-unused")
    assert "2:1, 2:2" in finding.found


def test_backs_are_mirrored_over_the_long_edge(label: PieceMaker) -> None:
    sheet = replace(
        SMALL, width=200, height=300, grid=SheetGrid(200, 300, 2, 3, 80, 80, 15, 20, 90, 90)
    )
    some = [PieceOrder(label(name, size=(80, 80), back=()), 1) for name in "ABC"]
    assert drawing(impose(some, sheet), "back") == expected("""
        BA
        _C
        __
    """)
    assert drawing(impose(some, sheet, flip="short-edge"), "back") == expected("""
        __
        C_
        AB
    """)


def test_a_piece_without_a_back_leaves_its_place_empty(label: PieceMaker) -> None:
    some = [
        PieceOrder(label("A", size=(80, 80)), 2),
        PieceOrder(label("B", size=(80, 80), back=()), 1),
    ]
    plan = impose(some, SMALL, flip="short-edge")
    assert [page.side for page in plan] == ["front", "back"]
    assert drawing(plan, "back") == expected("""
        B__
        ___
    """)


def test_without_backs_there_are_no_back_pages(label: PieceMaker) -> None:
    plan = impose(orders(label, "A7"), SMALL)
    assert [(page.sheet, page.side) for page in plan] == [(1, "front"), (2, "front")]
    assert plan.page_count == 2


def test_sheets_turned_by_hand_come_as_fronts_and_then_backs(label: PieceMaker) -> None:
    plan = impose([PieceOrder(label("A", size=(80, 80), back=()), 7)], SMALL)
    turned = [(page.sheet, page.side) for page in plan.pages(by_hand=True)]
    assert turned == [(1, "front"), (2, "front"), (1, "back"), (2, "back")]


def test_a_smaller_piece_lies_in_the_middle_of_its_cell(label: PieceMaker) -> None:
    plan = impose(orders(label, "A1", size=(40, 60)), SMALL, start=2)
    (placed,) = next(iter(plan)).placed
    assert (placed.x, placed.y) == (110 + 20, 15 + 10)


def test_on_a_roll_a_piece_begins_on_a_whole_dot(
    label: PieceMaker, sheets: dict[str, Sheet]
) -> None:
    """Else a code's modules, whole dots wide, would fall between the printer's dots."""
    sheet = sheets["roll-203-2.25x1.25in"]
    plan = impose(orders(label, "A1", size=(150, 77)), sheet)
    (placed,) = next(iter(plan)).placed
    for length in (placed.x, placed.y):
        assert length * 203 / 72 == pytest.approx(round(length * 203 / 72))
    assert placed.x == pytest.approx(6, abs=72 / 203)


def test_alike_sheets_share_what_stands_on_them(label: PieceMaker) -> None:
    pages = list(impose(orders(label, "A24"), SMALL))
    assert len({id(page.placed) for page in pages}) == 1


def rules(caught: pytest.ExceptionInfo[LabelerError]) -> list[str]:
    return [finding.rule for finding in caught.value.findings]


def test_a_piece_too_large_is_told_with_both_sizes(label: PieceMaker) -> None:
    big, turned = label("BIG", size=(81, 81)), label("TURNED", size=(72, 90))
    with pytest.raises(LabelerError) as caught:
        impose([PieceOrder(big, 1), PieceOrder(turned, 2), PieceOrder(big, 3)], SMALL)
    assert rules(caught) == ["piece-too-large", "piece-too-large"]
    finding = caught.value.findings[1]
    assert (finding.place.piece, finding.found) == ("TURNED", "1 in x 1 1/4 in")
    assert finding.expected == "at most 1 1/9 in x 1 1/9 in"
    assert "larger cells" in finding.hint


def test_a_piece_that_fits_when_turned_says_so(label: PieceMaker, sheets: dict[str, Sheet]) -> None:
    with pytest.raises(LabelerError) as caught:
        impose(orders(label, "A1", size=(72, 180)), sheets["letter-3x10"])
    assert "other way round" in caught.value.findings[0].hint


@pytest.mark.parametrize("count", [0, -3, 1_000_001])
def test_a_count_that_is_none_is_refused(label: PieceMaker, count: int) -> None:
    with pytest.raises(LabelerError) as caught:
        impose([PieceOrder(label(), count), PieceOrder(label("B"), 1)], SMALL)
    assert rules(caught) == ["count-out-of-range"]


def test_nothing_to_print_is_said() -> None:
    with pytest.raises(LabelerError) as caught:
        impose([], SMALL)
    assert rules(caught) == ["nothing-to-print"]


@pytest.mark.parametrize("start", [0, 7, -1])
def test_a_start_past_the_sheet_is_refused(label: PieceMaker, start: int) -> None:
    with pytest.raises(LabelerError) as caught:
        impose(orders(label, "A1"), SMALL, start=start, spoiled=read_spoiled("9, 2:7"))
    assert rules(caught) == ["start-off-sheet", "spoiled-off-sheet"]
    assert caught.value.findings[0].expected == "a cell from 1 to 6"
    assert caught.value.findings[1].found == "9, 2:7"


def test_a_sheet_of_spoiled_cells_is_refused(label: PieceMaker) -> None:
    with pytest.raises(LabelerError) as caught:
        impose(orders(label, "A1"), SMALL, start=4, spoiled=read_spoiled("4-6, 2:1-6"))
    assert rules(caught) == ["no-free-cell", "no-free-cell"]
    assert "sheet 1 has no free cell left from cell 4 to 6" in caught.value.findings[0].message


spots = st.frozensets(st.builds(Spot, st.integers(1, 3), st.integers(1, 6)), max_size=12)


@given(
    counts=st.lists(st.integers(1, 40), min_size=1, max_size=6),
    start=st.integers(1, 6),
    spoiled=spots,
    fill=st.booleans(),
)
def test_each_piece_lies_in_exactly_one_free_cell(
    label: PieceMaker, counts: list[int], start: int, spoiled: frozenset[Spot], fill: bool
) -> None:
    """None is lost, none doubled, none on a spoiled or used cell, none out of its turn."""
    wanted = [PieceOrder(label(str(n), size=(80, 80)), count) for n, count in enumerate(counts)]
    full = any(
        all((sheet, cell) in spoiled for cell in range(start if sheet == 1 else 1, 7))
        for sheet in (1, 2, 3)
    )
    if full:
        with pytest.raises(LabelerError) as caught:
            impose(wanted, SMALL, start=start, spoiled=spoiled, fill=fill)
        assert set(rules(caught)) == {"no-free-cell"}
        return
    plan = impose(wanted, SMALL, start=start, spoiled=spoiled, fill=fill)
    used = [(Spot(page.sheet, one.cell), one.piece.sku) for page in plan for one in page.placed]
    taken = [spot for spot, _ in used]
    assert taken == sorted(set(taken))
    assert not set(taken) & spoiled
    assert all(spot.cell >= start for spot in taken if spot.sheet == 1)
    assert [sku for _, sku in used] == sorted((sku for _, sku in used), key=int)
    printed = Counter(sku for _, sku in used)
    for order in wanted[:-1]:
        assert printed[order.piece.sku] == order.count
    last = wanted[-1]
    assert printed[last.piece.sku] >= last.count if fill else printed[last.piece.sku] == last.count
    assert plan.next_free not in spoiled
    assert plan.next_free > taken[-1]
    assert plan.piece_count == len(used)
    if fill:
        assert plan.next_free.sheet == plan.sheet_count + 1


def test_every_cell_of_a_shipped_sheet_is_filled_inside_the_paper(
    label: PieceMaker, sheets: dict[str, Sheet]
) -> None:
    for sheet in sheets.values():
        if sheet.grid is None:
            continue
        size = sheet.grid.cell_width, sheet.grid.cell_height
        plan = impose([PieceOrder(label(size=size), sheet.grid.count)], sheet)
        (page,) = plan
        for placed in page.placed:
            assert placed.x > -0.01
            assert placed.y > -0.01
            assert placed.x + size[0] < sheet.width + 0.01
            assert placed.y + size[1] < sheet.height + 0.01
