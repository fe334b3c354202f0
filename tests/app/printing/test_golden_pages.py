"""Golden pages: every layout in colour and in black, compared as pixels.

Tolerance: rendered at 100 dpi in grey, at most one pixel in 250 may differ by more than 48 of 255
levels, and the mean may differ by at most 1 level. That lets a renderer's smoothing change, and
catches a line that moved by half a point. ``pytest --golden-update`` draws them again; look at
what changed before you commit it.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

GOLDEN = Path(__file__).resolve().parent / "golden"
DPI = 100
CASES = [
    ("bags", "letter-3x10", "bag-strip"),
    ("bags", "a4-3x7", "bag-compact"),
    ("bags", "letter-2x7", "bag-wide"),
    ("bags", "letter-2x3", "bag-panel"),
    ("cards", "letter-card", "header-card"),
    ("cards", "letter-card", "insert-card"),
]


@pytest.mark.daily(
    "bags-letter-3x10-bag-strip-colour",
    "cards-letter-card-insert-card-black",
)
@pytest.mark.parametrize("ink", ["colour", "black"])
@pytest.mark.parametrize(("use", "sheet", "layout"), CASES)
def test_a_page_looks_as_it_did(
    request: pytest.FixtureRequest,
    run: Any,
    pages: Callable[[Path, int], list[Image.Image]],
    use: str,
    sheet: str,
    layout: str,
    ink: str,
) -> None:
    wanted = ("LL-38-40-*", "TD-116-*")
    done = run(use, sheet=sheet, layout=layout, ink=ink, skus=wanted)
    for number, page in enumerate(pages(done.file, DPI)[:2], 1):
        golden = GOLDEN / f"{layout}-{ink}-{number}.png"
        if request.config.getoption("--golden-update"):
            assert not os.environ.get("CI"), "golden pages are drawn by a person who looks"
            GOLDEN.mkdir(exist_ok=True)
            page.save(golden, optimize=True)
        kept = np.asarray(Image.open(golden).convert("L"), dtype=np.int16)
        drawn = np.asarray(page.convert("L"), dtype=np.int16)
        assert kept.shape == drawn.shape
        apart = np.abs(kept - drawn)
        assert (apart > 48).mean() <= 1 / 250, f"{golden.name}: {(apart > 48).sum()} pixels differ"
        assert apart.mean() <= 1.0, golden.name


@pytest.mark.daily
def test_the_comparison_sees_a_line_that_moved() -> None:
    """The tolerance itself, held against a planted fault: one label's text half a point lower."""
    golden = np.asarray(Image.open(GOLDEN / "bag-panel-colour-1.png").convert("L"), dtype=np.int16)
    moved = np.roll(golden, 1, axis=0)
    assert (np.abs(golden - moved) > 48).mean() > 1 / 250
