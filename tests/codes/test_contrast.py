"""Which inks a retail scanner, which looks with red light, can tell apart."""

from __future__ import annotations

import pytest

from labeler.codes.contrast import red_reflectance, scanner_contrast, scanner_verdict

WHITE, BLACK, BLUE, GREEN = "#ffffff", "#000000", "#0000ff", "#006600"
RED, YELLOW, ORANGE, BROWN = "#ff0000", "#ffff00", "#ffa500", "#3d2212"
BLUE_GREEN, PALE_BROWN = "#008080", "#d2b48c"


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
