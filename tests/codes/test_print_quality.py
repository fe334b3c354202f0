"""Whole printer dots a module, the sizes that codes may have, and the inks that a scanner sees."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.codes.print_quality import (
    largest_module,
    module_for,
    red_reflectance,
    scanner_contrast,
    scanner_verdict,
    size_of,
)
from labeler.codes.qr import qr_symbol

WHITE, BLACK, BLUE, GREEN = "#ffffff", "#000000", "#0000ff", "#006600"
RED, YELLOW, ORANGE, BROWN = "#ff0000", "#ffff00", "#ffa500", "#3d2212"
BLUE_GREEN, PALE_BROWN = "#008080", "#d2b48c"


@pytest.mark.parametrize(
    ("dpi", "dots", "mm", "magnification"),
    [
        (203, 3, 0.375, 114),
        (300, 4, 0.3387, 103),
        (600, 7, 0.2963, 90),
        (1200, 13, 0.2752, 83),
    ],
)
def test_retail_bars_take_the_first_whole_dots_at_80_percent_or_more(
    dpi: int, dots: int, mm: float, magnification: int
) -> None:
    """A dot is 25.4 mm over the resolution: 2 dots at 203 dpi are 76 %, 3 are 114 %."""
    size = size_of("upc-a")
    module = module_for(dpi, size.least, size.most)
    assert module.dots == dots
    assert module.mm == pytest.approx(mm, abs=0.0006)
    assert module.mm / size.nominal * 100 == pytest.approx(magnification, abs=0.7)
    assert module.pt == pytest.approx(dots * 72 / dpi)


@pytest.mark.parametrize(
    ("dpi", "till", "phone"),
    [(203, (4, 0.500), (3, 0.375)), (300, (5, 0.4233), (4, 0.3387)),
     (600, (10, 0.4233), (8, 0.3387)), (1200, (19, 0.4022), (16, 0.3387))],
)  # fmt: skip
def test_a_qr_code_takes_whole_dots_for_tills_and_for_telephones(
    dpi: int, till: tuple[int, float], phone: tuple[int, float]
) -> None:
    for name, (dots, mm) in (("qr-till", till), ("qr-phone", phone)):
        size = size_of("qr-till" if name == "qr-till" else "qr-phone")
        module = module_for(dpi, size.least, size.most)
        assert module.dots == dots
        assert module.mm == pytest.approx(mm, abs=0.0006)


def test_a_qr_code_of_29_modules_is_as_large_at_a_till_as_gs1_works_out() -> None:
    """Source: gs1uk.org, "How big should a QR code powered by GS1 be": 14.652 to 36.63 mm."""
    symbol, size = (
        qr_symbol("HTTPS://EXAMPLE.COM/01/09521234543213/10/L25", "M"),
        size_of("qr-till"),
    )
    assert symbol.columns == 29 + 8
    assert symbol.columns * size.least == pytest.approx(14.652, abs=0.0005)
    assert symbol.columns * size.most == pytest.approx(36.63, abs=0.0005)
    assert (size.least, size.most) == (0.396, 0.990)
    assert size.nominal == pytest.approx(1.5 * size_of("ean-13").nominal)


def test_a_size_reached_but_for_rounding_counts_as_reached() -> None:
    assert module_for(300, 4 * 25.4 / 300, 1).dots == 4
    assert module_for(203, 3 * 25.4 / 203, 3 * 25.4 / 203).dots == 3


def test_no_whole_dots_in_the_range_is_said_with_both_neighbours() -> None:
    with pytest.raises(ValueError, match=r"at 100 dpi .* 1 are 0\.254 mm and 2 are 0\.508 mm"):
        module_for(100, 0.264, 0.33)


def test_a_code_fills_its_room_with_whole_dots_and_never_beyond_its_range() -> None:
    assert largest_module(300, 0.33, 1.0, 33, 20).dots == 7
    assert largest_module(300, 0.33, 0.5, 33, 100).dots == 5
    assert largest_module(None, 0.33, 1.0, 33, 20).mm == pytest.approx(20 / 33)
    assert module_for(None, 0.33, 1.0).dots == 0


def test_a_code_too_wide_for_its_room_says_how_much_it_needs() -> None:
    with pytest.raises(ValueError, match=r"needs 11\.18 mm \(33 modules of 0\.339 mm, .* 10\.00"):
        largest_module(300, 0.33, 1.0, 33, 10)


@given(
    dpi=st.sampled_from([203, 300, 360, 600, 720, 1200, 2400]),
    least=st.floats(0.2, 0.6),
    columns=st.integers(20, 180),
    room=st.floats(3, 120),
)
def test_a_module_is_never_below_its_least_nor_the_code_wider_than_its_room(
    dpi: int, least: float, columns: int, room: float
) -> None:
    most = 1.5
    module = module_for(dpi, least, most)
    assert module.mm >= least * (1 - 1e-6)
    assert (module.dots - 1) * 25.4 / dpi < least
    if module.mm * columns <= room:
        largest = largest_module(dpi, least, most, columns, room)
        assert largest.dots >= module.dots
        assert largest.mm * columns <= room * (1 + 1e-6)
        next_up = (largest.dots + 1) * 25.4 / dpi
        assert next_up * columns > room * (1 - 1e-6) or next_up > most
    else:
        with pytest.raises(ValueError, match="needs"):
            largest_module(dpi, least, most, columns, room * (1 - 1e-5))


def test_every_size_names_where_it_comes_from() -> None:
    for name in ("upc-a", "ean-13", "ean-8", "qr-till", "qr-phone"):
        size = size_of(name)
        assert size.source
        assert size.least <= size.nominal <= size.most
    with pytest.raises(ValueError, match="only bars"):
        _ = size_of("qr-till").tall


@pytest.mark.parametrize(
    ("bars", "spaces"),
    [
        (BLACK, WHITE), (BLUE, WHITE), (GREEN, WHITE), (BROWN, WHITE),
        (BLACK, YELLOW), (BLUE, YELLOW), (GREEN, YELLOW),
        (BLACK, ORANGE), (BLUE, ORANGE), (GREEN, RED), (BLACK, RED),
    ],
)  # fmt: skip
def test_pairs_that_printers_list_as_scanning_are_seen(bars: str, spaces: str) -> None:
    """Source: tennysongraphics.com/bar1b1c.htm; black on red from barcodeinfo.org."""
    assert scanner_verdict(bars, spaces) == "clear"


@pytest.mark.parametrize(
    ("bars", "spaces"),
    [
        (YELLOW, WHITE), (ORANGE, WHITE), (RED, WHITE), (PALE_BROWN, WHITE), (RED, PALE_BROWN),
        (BLACK, GREEN), (BLACK, BLUE), (BLACK, BROWN), (BLACK, BLUE_GREEN), (BLUE_GREEN, BLACK),
    ],
)  # fmt: skip
def test_pairs_that_printers_list_as_failing_are_unseen(bars: str, spaces: str) -> None:
    """Source: tennysongraphics.com/bar1b1c.htm.

    For light brown on white it holds of a pale brown only: a middling one, #b5835a, has a
    reflectance of 0.46 in sRGB's red, where printers' ink is lighter to a scanner.
    """
    assert scanner_verdict(bars, spaces) == "unseen"


def test_light_bars_on_a_dark_ground_are_unseen() -> None:
    """Source: barcodesforbusiness.co.uk (GS1 Malaysia): no reversed linear symbols."""
    assert scanner_contrast(WHITE, BLACK) == -1
    assert scanner_verdict(WHITE, BLACK) == "unseen"


def test_red_on_white_shows_no_difference_at_all() -> None:
    assert scanner_contrast(RED, WHITE) == 0
    assert scanner_contrast(BLACK, WHITE) == 1


def test_a_middling_grey_is_weak_and_a_bar_above_half_the_ground_is_unseen() -> None:
    """At least 0.40 apart, 0.70 to be clear, and the bar at most half of the space.

    Source: ISO/IEC 15416, symbol contrast and minimum reflectance, from memory.
    """
    assert scanner_verdict("#959595", WHITE) == "weak"
    assert scanner_verdict("#9a9a9a", WHITE) == "weak"
    assert scanner_verdict("#c0c0c0", WHITE) == "unseen"
    assert scanner_contrast("#bcbcbc", WHITE) < 0.5
    assert scanner_verdict("#bcbcbc", WHITE) == "unseen"
    assert scanner_verdict(BLACK, "#a0a0a0") == "unseen"
    assert scanner_verdict(BLACK, "#b4b4b4") == "weak"


def test_reflectance_is_the_red_channel_made_linear() -> None:
    """Source: IEC 61966-2-1: 8-bit 188 is about 0.5 of the light, 10 lies on the straight part."""
    assert red_reflectance("#bc0000") == pytest.approx(0.5, abs=0.005)
    assert red_reflectance("#0affff") == pytest.approx(10 / 255 / 12.92)


@pytest.mark.parametrize("ink", ["black", "#fff", "#12345g", "#1234567", ""])
def test_an_ink_written_otherwise_is_refused(ink: str) -> None:
    with pytest.raises(ValueError, match="#rrggbb"):
        red_reflectance(ink)
