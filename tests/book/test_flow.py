"""Units on pages: rows never alone, headings never at the foot, heads again on each page."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.book.figures import even_rows
from labeler.book.typesetting import Canvas, ColumnBox, Unit, flow
from labeler.findings import LabelerError
from labeler.geometry import Box

pytestmark = pytest.mark.daily


@dataclass
class Brick(Unit):
    """A unit of a fixed height."""

    name: str
    high: float

    def height(self, width: float) -> float:
        return self.high

    def draw(self, canvas: Canvas, box: Box) -> None:
        pass


PAGE = (ColumnBox(0, 0, 100, 100),)


def laid(units: list[Brick]) -> list[list[str]]:
    return [[unit.name for unit, _ in page.units] for page in flow(units, PAGE)]  # type: ignore[attr-defined]


def table(count: int, high: float = 12) -> list[Brick]:
    head = Brick("head", 10, keep=True)
    rows = [Brick(f"row {number}", high, head=head) for number in range(count)]
    if count > 1:
        rows[0].keep = rows[-2].keep = True
    return [head, *rows]


def test_a_heading_goes_over_with_what_it_is_the_heading_of() -> None:
    assert laid([Brick("text", 80), Brick("heading", 10, keep=True), Brick("more", 20)]) == [
        ["text"],
        ["heading", "more"],
    ]


def test_the_space_above_is_dropped_at_the_top_of_a_page() -> None:
    pages = flow([Brick("text", 90), Brick("next", 20, gap=15)], PAGE)
    assert pages[1].units[0][1][1] == 0


@given(st.integers(1, 60), st.integers(0, 90))
def test_no_row_of_a_table_stands_alone_and_its_head_stands_on_every_page(
    rows: int, before: int
) -> None:
    pages = laid([Brick("text", before), *table(rows)])
    shown = [name for page in pages for name in page if name.startswith("row")]
    assert shown == [f"row {number}" for number in range(rows)]
    for page in pages:
        on_page = [name for name in page if name.startswith("row")]
        assert len(on_page) != 1 or rows == 1
        if on_page:
            assert page.index("head") == page.index(on_page[0]) - 1
        assert page[-1] != "head"


@given(st.lists(st.floats(1, 60), min_size=1, max_size=40))
def test_nothing_lies_on_anything_and_no_page_is_empty(heights: list[float]) -> None:
    pages = flow([Brick(str(place), high) for place, high in enumerate(heights)], PAGE)
    for page in pages:
        assert page.units
        for (_, one), (_, other) in zip(page.units, page.units[1:], strict=False):
            assert other[1] >= one[3] - 1e-9
        assert page.units[-1][1][3] <= 100 + 0.1


def test_what_is_higher_than_a_page_is_told_by_name() -> None:
    with pytest.raises(LabelerError, match="Reed Vole"):
        flow([Brick("tall", 101)], PAGE, where="Reed Vole")


@given(st.integers(1, 200), st.integers(1, 6))
def test_a_plate_s_rows_are_as_few_as_can_be_and_even(count: int, most: int) -> None:
    rows = even_rows(count, most)
    assert sum(rows) == count
    assert len(rows) == -(-count // most)
    assert max(rows) - min(rows) <= 1
    assert rows == sorted(rows, reverse=True)


def test_five_stand_three_and_two_and_four_two_and_two() -> None:
    assert even_rows(5, 3) == [3, 2]
    assert even_rows(4, 3) == [2, 2]
    assert even_rows(7, 3) == [3, 2, 2]
