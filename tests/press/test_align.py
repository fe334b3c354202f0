"""The alignment sheet, and the way from a ruler to a corrected page."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from typing import Any

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.disclosures.statements import folded
from labeler.findings import LabelerError
from labeler.geometry import Matrix, apply, multiply
from labeler.marks import Piece
from labeler.press.align import alignment_plan, crosses
from labeler.press.impose import PieceOrder, impose
from labeler.press.printers import Crosses, Measurements, Printer, correction
from labeler.press.sheets import Sheet

Press = Callable[..., bytes]
MM = 72 / 25.4
LETTER, A4 = (612.0, 792.0), (210 * MM, 297 * MM)


def crossings(boxes: list[tuple[float, float, float, float]]) -> set[tuple[float, float]]:
    """Return the points where a level and an upright line cross in their middles."""
    level = {
        (round((lft + r) / 2, 2), round(t, 2))
        for lft, t, r, b in boxes
        if b - t < 0.3 and r - lft > 5
    }
    upright = {
        (round(lft, 2), round((t + b) / 2, 2))
        for lft, t, r, b in boxes
        if r - lft < 0.3 and b - t > 5
    }
    return {(x, y) for x, y in level if any(math.dist((x, y), other) < 0.2 for other in upright)}


@pytest.mark.parametrize("size", [LETTER, A4, (162.0, 90.0), (288.0, 432.0)])
@pytest.mark.parametrize("sides", [1, 2])
def test_the_crosses_stand_where_the_words_say(
    size: tuple[float, float], sides: int, press: Press, boxes: Callable[..., Any]
) -> None:
    where = crosses(*size)
    pages = boxes(press(alignment_plan(*size, both_sides=sides == 2)))
    assert len(pages) == sides
    near, right, low = where.inset, size[0] - where.inset, size[1] - where.inset
    for page in pages:
        found = crossings(page)
        for spot in ((near, near), (right, near), (near, low), (right, low)):
            assert any(math.dist(spot, other) < 0.1 for other in found)


def test_crosses_are_at_round_figures_of_the_paper_s_own_ruler() -> None:
    assert crosses(*LETTER).inset == 72 * 5 / 8
    assert crosses(*A4).inset == pytest.approx(15 * MM)
    assert crosses(162, 90).inset == 9


@pytest.mark.parametrize(
    ("size", "figures"),
    [
        (LETTER, ["5/8 in (15.9 mm)", "7 1/4 in (184.1 mm)", "9 3/4 in (247.6 mm)"]),
        (A4, ["15.0 mm (0.591 in)", "180.0 mm (7.087 in)", "267.0 mm (10.512 in)"]),
    ],
)
def test_the_sheet_says_in_plain_words_what_to_measure(
    size: tuple[float, float], figures: list[str], press: Press
) -> None:
    reader = pypdf.PdfReader(BytesIO(press(alignment_plan(*size, both_sides=True))))
    front, back = (folded(page.extract_text()) for page in reader.pages)
    for words in ("100 % (actual size)", "Left edge to cross A", "Cross A to cross C", *figures):
        assert words in front
    assert "Held against the light" in back


@pytest.mark.parametrize("size", [LETTER, A4])
def test_the_lines_of_known_length_are_as_long_as_they_say(
    size: tuple[float, float], press: Press, boxes: Callable[..., Any]
) -> None:
    """1 in is 25.4 mm exactly (16 CFR 500.19)."""
    (page,) = boxes(press(alignment_plan(*size)))
    level = [r - lft for lft, t, r, b in page if b - t < 0.3]
    upright = [b - t for lft, t, r, b in page if r - lft < 0.3]
    for wanted in (100 * MM, 4 * 72):
        assert any(abs(length - wanted) < 0.02 for length in level)
        assert any(abs(length - wanted) < 0.02 for length in upright)


def test_ruler_ticks_count_from_the_paper_s_edge(press: Press, boxes: Callable[..., Any]) -> None:
    (page,) = boxes(press(alignment_plan(*A4)))
    inset = 15 * MM
    ticks = [
        (lft / MM, (b - t) / MM) for lft, t, r, b in page if r - lft < 0.3 and abs(t - inset) < 0.1
    ]
    assert len(ticks) > 100
    for x, length in ticks:
        assert x == pytest.approx(round(x), abs=0.01)
        assert (length > 3) == (round(x) % 10 == 0)


def measure(where: Crosses, front: Matrix, back: Matrix | None = None) -> Measurements:
    """Lay a ruler on what a printer with this error made of the sheet."""
    near, far, low = where.inset, where.width - where.inset, where.height - where.inset
    a, b, c = (apply(front, *spot) for spot in ((near, near), (far, near), (near, low)))
    on_the_back = apply(back, near, near) if back else (None, None)
    return Measurements(
        left=a[0], top=a[1], left_low=c[0], top_far=b[1],
        across=math.dist(a, b), down=math.dist(a, c),
        back_left=on_the_back[0], back_top=on_the_back[1],
    )  # fmt: skip


errors = st.builds(
    lambda across, tilt, lean, down, x, y: (across, tilt, lean, down, x, y),
    st.floats(0.985, 1.015), st.floats(-0.008, 0.008), st.floats(-0.008, 0.008),
    st.floats(0.985, 1.015), st.floats(-8, 8), st.floats(-8, 8),
)  # fmt: skip
befores = st.builds(
    Printer,
    shift=st.tuples(st.floats(-5, 5), st.floats(-5, 5)),
    scale=st.tuples(st.floats(0.995, 1.005), st.floats(0.995, 1.005)),
    skew=st.tuples(st.floats(-0.003, 0.003), st.floats(-0.003, 0.003)),
    back=st.tuples(st.floats(-3, 3), st.floats(-3, 3)),
)


@given(st.sampled_from([LETTER, A4]), errors, befores, st.floats(-4, 4), st.floats(-4, 4))
def test_a_printer_that_is_off_lands_true_once_measured(
    size: tuple[float, float], error: Matrix, before: Printer, dx: float, dy: float
) -> None:
    """Every corner of the page comes out within 0.1 pt, on both sides, from ruler and profile."""
    back_error = (*error[:4], error[4] + dx, error[5] + dy)
    where = crosses(*size)
    printed = multiply(before.matrix(), error)
    printed_back = multiply(before.matrix("back"), back_error)
    now = correction(where, measure(where, printed, printed_back), before)
    for spot in ((0, 0), (size[0], 0), (0, size[1]), size, (100, 300)):
        assert apply(error, *apply(now.matrix(), *spot)) == pytest.approx(spot, abs=0.1)
        landed = apply(back_error, *apply(now.matrix("back"), *spot))
        assert landed == pytest.approx(spot, abs=0.1)


def test_the_corrected_file_lands_true_on_the_crooked_printer(
    sheets: dict[str, Sheet], label: Callable[..., Piece], press: Press, boxes: Callable[..., Any]
) -> None:
    """The same, through the finished PDF: 30 cells on a printer that is off, 0.1 pt at most."""
    error: Matrix = (1.004, 0.002, -0.003, 0.997, 3.1, -2.2)
    where = crosses(*LETTER)
    printer = correction(where, measure(where, error), Printer("desk"))
    plan = impose([PieceOrder(label(), 30)], sheets["letter-3x10"])
    (wanted,), (sent,) = boxes(press(plan)), boxes(press(plan, printer=printer))
    for (left, top, right, bottom), box in zip(wanted, sent, strict=True):
        middle = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
        landed = apply(error, *middle)
        assert landed == pytest.approx(((left + right) / 2, (top + bottom) / 2), abs=0.1)


def test_two_distances_alone_set_the_shift() -> None:
    where = crosses(*A4)
    now = correction(where, Measurements(left=16 * MM, top=14.5 * MM), Printer("desk", dpi=600))
    assert now.shift == pytest.approx((-1 * MM, 0.5 * MM))
    assert (now.scale, now.skew, now.back) == ((1.0, 1.0), (0.0, 0.0), (0.0, 0.0))
    assert (now.name, now.dpi) == ("desk", 600)


def test_a_sheet_that_came_out_right_changes_nothing() -> None:
    where = crosses(*LETTER)
    before = Printer("desk", shift=(1.5, 2.5), scale=(1.001, 0.998), back=(0.5, 0.0))
    right = Measurements(where.inset, where.inset, None, None, where.across, where.down)
    now = correction(where, right, before)
    assert now.matrix() == pytest.approx(before.matrix())
    assert now.back == before.back


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("left", 60 * MM),
        ("top", -1.0),
        ("top", math.nan),
        ("left_low", 90.0),
        ("top_far", 45 + 19.0),
        ("across", 0.94 * 522),
        ("down", 0.0),
        ("back_left", 200.0),
    ],
)
def test_a_distance_no_printer_can_be_off_by_is_refused(key: str, value: float) -> None:
    """A page fitted to the printable area comes out some 6 % small: that is no printer's error."""
    where = crosses(*LETTER)
    measured = replace(Measurements(where.inset, where.inset), **{key: value})
    with pytest.raises(LabelerError) as caught:
        correction(where, measured, Printer())
    (finding,) = caught.value.findings
    assert finding.place.key == key.replace("_", "-")
    assert "100 %" in finding.hint
