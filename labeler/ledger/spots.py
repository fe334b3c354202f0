"""Cells of sheets, written short: ``1:5-30 2-1000:1-30`` is a thousand sheets."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

Spot = tuple[int, int]
"""A sheet of the run and a cell of the sheet, both counted from 1."""


def write_spots(spots: Iterable[Spot]) -> str:
    """Return the cells in order, neighbours drawn together, alike sheets drawn together."""
    by_sheet: defaultdict[int, list[int]] = defaultdict(list)
    for sheet, cell in sorted(spots):
        by_sheet[sheet].append(cell)
    written = {sheet: _ranges(cells) for sheet, cells in by_sheet.items()}
    alike = [
        f"{_ranges([sheet for sheet, _ in group])}:{cells}" for cells, group in _neighbours(written)
    ]
    return " ".join(alike)


def _neighbours(written: dict[int, str]) -> Iterator[tuple[str, list[tuple[int, str]]]]:
    """Yield runs of sheets that follow one another and hold the same cells."""
    counted = enumerate(written.items())
    for (cells, _), group in groupby(counted, lambda pair: (pair[1][1], pair[1][0] - pair[0])):
        yield cells, [sheet for _, sheet in group]


def _ranges(numbers: Sequence[int]) -> str:
    parts = []
    for _, group in groupby(enumerate(numbers), lambda pair: pair[1] - pair[0]):
        run = [number for _, number in group]
        parts.append(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}")
    return ",".join(parts)


def read_spots(text: str) -> list[Spot]:
    """Return the cells that ``write_spots`` wrote, in order."""
    return [
        (sheet, cell)
        for part in text.split()
        for sheet in _numbers(part.partition(":")[0])
        for cell in _numbers(part.partition(":")[2])
    ]


def _numbers(text: str) -> Iterator[int]:
    for part in text.split(","):
        first, _, last = part.partition("-")
        yield from range(int(first), int(last or first) + 1)
