"""Spoiled cells as a maker types them."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.findings import LabelerError
from labeler.press.impose import Spot, read_spoiled


@pytest.mark.parametrize(
    ("text", "cells"),
    [
        ("", []),
        ("3", [(1, 3)]),
        ("3, 5 9", [(1, 3), (1, 5), (1, 9)]),
        ("7-9", [(1, 7), (1, 8), (1, 9)]),
        ("7 - 9;12", [(1, 7), (1, 8), (1, 9), (1, 12)]),
        ("2:5, 3 : 1-2", [(2, 5), (3, 1), (3, 2)]),
        (",, 4 ,", [(1, 4)]),
    ],
)
def test_cells_are_read_as_typed(text: str, cells: list[tuple[int, int]]) -> None:
    assert read_spoiled(text) == {Spot(*cell) for cell in cells}


@pytest.mark.parametrize("text", ["x", "9-7", "-3", "2:", ":4", "1:2:3", "3.5", "1-99999", "0x3"])
def test_what_names_no_cell_is_refused(text: str) -> None:
    with pytest.raises(LabelerError) as caught:
        read_spoiled(f"4, {text}")
    assert [finding.rule for finding in caught.value.findings] == ["spoiled-cells"]


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text: str) -> None:
    with contextlib.suppress(LabelerError):
        assert all(spot.sheet >= 0 and spot.cell >= 0 for spot in read_spoiled(text))


@given(st.frozensets(st.builds(Spot, st.integers(1, 99), st.integers(1, 999))))
def test_spots_written_down_read_back(spots: frozenset[Spot]) -> None:
    assert read_spoiled(", ".join(map(str, spots))) == spots
