"""The mask that ISO/IEC 18004 chooses, against its own example and two independent readings."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest
import segno.encoder
import zxingcpp

from labeler.codes.qr import GAP, Level, as_lines, penalties, template
from tests.codes.qr_reference import LEVELS, Grid, grid_of

FINDER = [1, 0, 1, 1, 1, 0, 1]


def _penalties(grid: Grid) -> tuple[int, int, int, int]:
    rows = "".join("0" * GAP + "".join(map(str, row)) for row in grid.tolist())
    return penalties(as_lines(rows, len(grid)), template((len(grid) - 17) // 4, "M"))


def _scores_of_segno(grid: Grid) -> tuple[int, int, int, int]:
    rows = [bytearray(row.tolist()) for row in grid]
    first, second, third, fourth = segno.encoder.mask_scores(rows, len(rows), len(rows))
    return first, second, third, fourth


def _lines(grid: Grid) -> list[list[int]]:
    return [list(map(int, line)) for line in (*grid, *grid.T)]


def _by_the_letter(grid: Grid) -> tuple[int, int, int, int]:
    """Table 11 of ISO/IEC 18004:2015 as one reads it out, one module at a time."""
    size = len(grid)
    runs = finders = 0
    for line in _lines(grid):
        length = 1
        for before, after in zip(line, [*line[1:], 2], strict=True):
            if before == after:
                length += 1
                continue
            runs += 3 + length - 5 if length >= 5 else 0
            length = 1
        quiet = [0, 0, 0, 0, *line, 0, 0, 0, 0]
        for place in range(4, len(quiet) - 10):
            if quiet[place : place + 7] == FINDER:
                light = not any(quiet[place - 4 : place]) or not any(quiet[place + 7 : place + 11])
                finders += 40 if light else 0
    blocks = sum(
        3
        for row in range(size - 1)
        for column in range(size - 1)
        if len(set(grid[row : row + 2, column : column + 2].ravel().tolist())) == 1
    )
    share = 100 * int(grid.sum()) / size**2
    return runs, blocks, finders, 10 * int(abs(share - 50) / 5)


def _texts(count: int) -> Iterator[tuple[str, Level]]:
    pick = random.Random(18004)
    for nth in range(count):
        alphabet = pick.choice(["0123456789", "ABCDEF $%*+-./:", "abcdefghijklmnop/:.0123456789"])
        yield "".join(pick.choices(alphabet, k=pick.randrange(1, 120))), LEVELS[nth % 4]


def test_the_standards_example_is_scored_and_masked_as_the_standard_has_it() -> None:
    """01234567 as 1-M takes data mask pattern 010. Source: ISO/IEC 18004:2015, annex I.2.

    The totals are those of segno 1.6.6's mask_scores on the eight finished symbols.
    """
    scores = [_penalties(grid_of("01234567", "M", mask)) for mask in range(8)]
    assert [sum(score) for score in scores] == [1057, 1093, 1037, 1052, 1130, 1197, 1099, 1046]
    assert scores[2] == (206, 111, 720, 0)
    assert np.array_equal(grid_of("01234567", "M"), grid_of("01234567", "M", 2))


def test_only_this_reading_of_table_11_gives_the_standards_example_its_mask() -> None:
    """A quiet zone that isn't light, or light on both sides that counts twice, gives mask 000.

    The doubt is described at github.com/fukuchi/libqrencode/issues/220.
    """

    def score(grid: Grid, quiet: int, twice: bool) -> int:
        first, second, _, fourth = _penalties(grid)
        finders = 0
        for line in _lines(grid):
            padded = [0] * quiet + line + [0] * quiet
            for place in range(len(padded) - 6):
                if padded[place : place + 7] == FINDER:
                    before, after = padded[max(0, place - 4) : place], padded[place + 7 :][:4]
                    sides = [side == [0, 0, 0, 0] for side in (before, after)]
                    finders += 40 * (sum(sides) if twice else any(sides))
        return first + second + finders + fourth

    grids = [grid_of("01234567", "M", mask) for mask in range(8)]
    chosen = {
        (quiet, twice): min(range(8), key=lambda mask: score(grids[mask], quiet, twice))
        for quiet in (0, 4)
        for twice in (False, True)
    }
    assert chosen == {(4, False): 2, (4, True): 0, (0, False): 0, (0, True): 0}


def test_another_encoder_that_scores_finished_symbols_takes_the_same_masks() -> None:
    """zxing-cpp 3.1.1, whose encoder is written in C and shares nothing with ours.

    In texts of one segment only, since mixed texts may be cut otherwise and be as short.
    """
    pick = random.Random(2015)
    for nth in range(400):
        letters = pick.choice(["0123456789", "ABCDEF", "abcdefghijklmnop"])
        text = "".join(pick.choices(letters, k=pick.randrange(1, 150)))
        level = LEVELS[nth % 4]
        code = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode, ec_level=level)
        theirs = np.array(code.to_image(add_quiet_zones=False)) == 0
        assert np.array_equal(grid_of(text, level), theirs), (text, level)


@pytest.mark.siege
def test_every_penalty_is_what_the_table_says_one_module_at_a_time() -> None:
    for text, level in _texts(24):
        for mask in range(8):
            grid = grid_of(text, level, mask)
            assert _penalties(grid) == _by_the_letter(grid), (text, level, mask)


@pytest.mark.siege
def test_every_penalty_is_segnos_but_for_finder_patterns_that_overlap() -> None:
    """Segno 1.6.6 goes on behind a pattern it has counted and misses one that shares its end.

    Table 11 counts "the existence of the pattern", and 7.8.3.1 asks for points "for each
    occurrence" of a feature.
    """
    apart = 0
    for text, level in _texts(150):
        for mask in range(8):
            grid = grid_of(text, level, mask)
            ours, theirs = _penalties(grid), _scores_of_segno(grid)
            assert (ours[0], ours[1], ours[3]) == (theirs[0], theirs[1], theirs[3])
            if ours[2] != theirs[2]:
                apart += 1
                assert ours[2] > theirs[2]
                assert any(_overlaps(line) for line in _lines(grid))
    assert 0 < apart < 0.1 * 150 * 8


def _overlaps(line: list[int]) -> bool:
    places = [place for place in range(len(line) - 6) if line[place : place + 7] == FINDER]
    return any(after - before < 7 for before, after in pairwise(places))


def test_the_mask_of_least_penalty_is_taken_and_the_first_of_equals() -> None:
    ties = 0
    for text, level in _texts(120):
        grids = [grid_of(text, level, mask) for mask in range(8)]
        totals = [sum(_penalties(grid)) for grid in grids]
        least = totals.index(min(totals))
        ties += totals.count(min(totals)) > 1
        assert np.array_equal(grid_of(text, level), grids[least])
    assert ties, "no tie among the samples, so the rule for ties was not tried"


@pytest.mark.parametrize(
    ("version", "dark", "penalty"),
    [(1, 220, 0), (1, 199, 0), (1, 198, 10), (1, 242, 0), (1, 243, 10), (1, 154, 30), (40, 0, 100)],
)
def test_the_share_of_dark_modules_costs_ten_a_step_of_five_percent(
    version: int, dark: int, penalty: int
) -> None:
    """Of 441 modules 198 are 44.9 %, 199 are 45.1 %, 154 are 34.9 %.

    Source: ISO/IEC 18004:2015, table 11. A side is odd, so that 45 % is never met exactly.
    """
    size = 17 + 4 * version
    grid = (np.arange(size * size).reshape(size, size) < dark).astype(np.uint8)
    assert _penalties(grid)[3] == penalty


def test_a_run_of_seven_costs_five_and_a_block_of_three_by_three_twelve() -> None:
    """Five modules and i more cost N1 + i, m by n modules N2 × (m - 1) × (n - 1).

    Source: ISO/IEC 18004:2015, table 11.
    """
    checks = (np.indices((21, 21)).sum(axis=0) % 2).astype(np.uint8)
    assert _penalties(checks)[:3] == (0, 0, 0)
    run = checks.copy()
    run[10, 3:10] = 1
    assert _penalties(run)[0] == 5
    block = checks.copy()
    block[3:6, 3:6] = 1
    assert _penalties(block)[1] == 12
