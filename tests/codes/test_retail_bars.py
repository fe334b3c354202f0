"""Retail bars: the bits, the sizes, the quiet zones, and two decoders."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from labeler.catalog.gtin import as_14, close, explain
from labeler.codes.print_quality import SizeName, Symbol, size_of
from labeler.codes.retail_bars import retail_symbol

Raster = Callable[[Symbol, int], Image.Image]
Reader = Callable[[Image.Image], list[tuple[str, bytes]]]

BITS = {
    "9521234543213": "1010110001001101101100110010011010000101000110101010"
    "0111010111001000010110110011001101000010101",
    "9520123456788": "1010110001001101101001110011001001101101111010101010"
    "1110010011101010000100010010010001001000101",
    "614141123452": "1010101111001100101000110011001010001100110010101011"
    "0011011011001000010101110010011101101100101",
    "95212340": "1010001011011000100100110011001010101101100100001010111001110010101",
}
"""Modules from the first guard bar to the last, computed with zxing-cpp 3.1.1's writer."""

DEMO = st.integers(0, 10**9 - 1).map(lambda body: close(f"952{body:09}"))
THIRTEEN = st.integers(10**11, 10**12 - 1).map(lambda body: close(str(body)))
TWELVE = st.integers(1, 10**11 - 1).map(lambda body: close(f"{body:011}"))
EIGHT = st.integers(10**4, 10**7 - 1).map(lambda body: close(f"{body:07}"))


def _cells(symbol: Symbol) -> str:
    left, right = size_of(symbol.kind).quiet if symbol.kind != "qr" else (0, 0)
    row = np.zeros(symbol.columns, np.uint8)
    for x, _, width, _ in symbol.bars:
        row[int(x) : int(x + width)] = 1
    return "".join(map(str, row[left : symbol.columns - right]))


def _by_zxing(kind: str, digits: str) -> str:
    form = {
        "upc-a": zxingcpp.BarcodeFormat.UPCA,
        "ean-13": zxingcpp.BarcodeFormat.EAN13,
        "ean-8": zxingcpp.BarcodeFormat.EAN8,
    }[kind]
    picture = np.array(zxingcpp.create_barcode(digits, form).to_image(add_quiet_zones=False))
    return "".join("1" if dot == 0 else "0" for dot in picture[picture.shape[0] // 2])


@pytest.mark.parametrize(("digits", "bits"), BITS.items())
def test_the_bars_are_those_of_another_encoder_bit_for_bit(digits: str, bits: str) -> None:
    symbol = retail_symbol(digits)
    assert symbol.payload == digits
    assert _cells(symbol) == bits


@given(gtin=DEMO | THIRTEEN | TWELVE | EIGHT)
def test_any_number_gives_the_bars_of_another_encoder(gtin: str) -> None:
    symbol = retail_symbol(gtin)
    assert _cells(symbol) == _by_zxing(symbol.kind, symbol.payload)


@given(gtin=DEMO | THIRTEEN | TWELVE | EIGHT, dots=st.integers(2, 6))
def test_two_decoders_read_any_number_back(
    raster: Raster, zxing: Reader, zbar: Reader, gtin: str, dots: int
) -> None:
    symbol = retail_symbol(gtin)
    picture = raster(symbol, dots)
    for reader in (zxing, zbar):
        assert [as_14(digits.decode()) for _, digits in reader(picture)] == [as_14(gtin)]


@pytest.mark.parametrize(
    ("gtin", "kind", "payload"),
    [
        ("614141123452", "upc-a", "614141123452"),
        ("0614141123452", "upc-a", "614141123452"),
        ("00614141123452", "upc-a", "614141123452"),
        ("000000123457", "upc-a", "000000123457"),
        ("9521234543213", "ean-13", "9521234543213"),
        ("09521234543213", "ean-13", "9521234543213"),
        ("95212340", "ean-8", "95212340"),
        ("00000095212340", "ean-8", "95212340"),
    ],
)
def test_zeros_that_only_fill_a_number_up_do_not_change_its_bars(
    gtin: str, kind: str, payload: str
) -> None:
    """Source: GS1 General Specifications, 3.3.2 (GTINs are right-justified, zero-filled)."""
    symbol = retail_symbol(gtin)
    assert (symbol.kind, symbol.payload) == (kind, payload)


@pytest.mark.parametrize(
    ("kind", "gtin", "columns", "widths"),
    [
        ("ean-13", "9521234543213", 113, (29.83, 37.29, 74.58)),
        ("upc-a", "614141123452", 113, (29.83, 37.29, 74.58)),
        ("ean-8", "95212340", 81, (21.38, 26.73, 53.46)),
    ],
)
def test_a_symbol_is_as_wide_as_the_table_of_sizes_says(
    kind: SizeName, gtin: str, columns: int, widths: tuple[float, ...]
) -> None:
    """At 80, 100 and 200 %.

    Source: GS1 General Specifications, symbol specification table 1;
    gs1ie.org/standards/data-carriers/barcodes/ean-13 for 29.83, 37.29 and 74.58 mm.
    """
    symbol, size = retail_symbol(gtin), size_of(kind)
    assert symbol.columns == columns
    modules = (size.least, size.nominal, size.most)
    assert modules == (0.264, 0.330, 0.660)
    assert [columns * module for module in modules] == pytest.approx(widths, abs=0.01)
    assert size.least / size.nominal == pytest.approx(0.8)
    assert size.most / size.nominal == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("gtin", "heights", "with_digits"),
    [("9521234543213", (18.28, 22.85, 45.70), 25.93), ("95212340", (14.58, 18.23, 36.46), 21.31)],
)
def test_bars_are_as_tall_as_the_table_of_sizes_says(
    gtin: str, heights: tuple[float, ...], with_digits: float
) -> None:
    """Source: gs1.se size guide for the bars; with their digits from memory of the same table."""
    symbol = retail_symbol(gtin)
    shortest = min(height for _, _, _, height in symbol.bars)
    assert [shortest * x for x in (0.264, 0.330, 0.660)] == pytest.approx(heights, abs=0.01)
    assert symbol.rows * 0.330 == pytest.approx(with_digits, abs=0.01)


@pytest.mark.parametrize(
    ("gtin", "left", "right"),
    [("9521234543213", 11, 7), ("614141123452", 9, 9), ("95212340", 7, 7)],
)
def test_the_quiet_zones_are_clear_on_the_drawn_page(
    raster: Raster, gtin: str, left: int, right: int
) -> None:
    """Measured at 1200 dpi, 16 dots a module. Source: gs1.se size guide (EAN-13: 11 and 7)."""
    page = np.array(raster(retail_symbol(gtin), 16))
    dark = np.flatnonzero((page == 0).any(axis=0))
    assert dark[0] == left * 16
    assert page.shape[1] - 1 - dark[-1] == right * 16


def _ends(page: npt.NDArray[np.uint8]) -> dict[int, set[int]]:
    """Return, by how far down they reach, the dots across of all dark columns."""
    ends: dict[int, set[int]] = {}
    for column in np.flatnonzero((page == 0).any(axis=0)):
        down = int(np.flatnonzero(page[:, column] == 0)[-1])
        ends.setdefault(down, set()).add(int(column))
    return ends


@pytest.mark.parametrize(
    ("gtin", "long"),
    [
        ("9521234543213", [(11, 14), (56, 61), (103, 106)]),
        ("614141123452", [(9, 19), (54, 59), (94, 104)]),
        ("95212340", [(7, 10), (38, 43), (71, 74)]),
    ],
)
def test_guard_bars_run_five_modules_further_down(
    raster: Raster, gtin: str, long: list[tuple[int, int]]
) -> None:
    """Also the first and last digit of a UPC-A. 1.65 mm at nominal size."""
    dots = 8
    ends = _ends(np.array(raster(retail_symbol(gtin), dots)))
    short, tall = sorted(ends)
    assert tall - short == pytest.approx(5 * dots, abs=1)
    spans = [range(first * dots, last * dots) for first, last in long]
    assert all(any(column in span for span in spans) for column in ends[tall])
    assert not any(any(column in span for span in spans) for column in ends[short])


@pytest.mark.parametrize(
    ("gtin", "groups"),
    [
        ("9521234543213", [("9", 0), ("521234", 14), ("543213", 61)]),
        ("614141123452", [("6", 0), ("14141", 19), ("12345", 59), ("2", 109)]),
        ("95212340", [("9521", 10), ("2340", 43)]),
    ],
)
def test_each_digit_stands_under_the_bars_that_say_it(
    gtin: str, groups: list[tuple[str, int]]
) -> None:
    """A digit is seven modules wide. Places outside the bars: from memory of GS1's drawings."""
    symbol = retail_symbol(gtin)
    assert [(group.text, group.x) for group in symbol.digits] == groups
    assert "".join(group.text for group in symbol.digits) == gtin
    short = min(height for _, _, _, height in symbol.bars)
    for group in symbol.digits:
        assert group.y - short >= 0.5
        assert group.height * 0.330 == pytest.approx(2.75)
        assert group.x >= 0
        assert group.x + group.width <= symbol.columns
        long = [bar for bar in symbol.bars if bar[3] > short]
        assert not any(bar[0] < group.x + group.width and group.x < bar[0] + bar[2] for bar in long)


@pytest.mark.parametrize(
    ("gtin", "sentence"),
    [
        ("9521234543214", "would have to be 3, not 4"),
        ("952123454321", "would have to be"),
        (" 9521234543213", "digits 0 to 9 and nothing else"),
        ("95212345X3213", "digits 0 to 9 and nothing else"),
        ("19521234543210", "names a case or another pack of goods"),
        ("12345", "8, 12, 13 or 14 digits, and this has 5"),
    ],
)
def test_what_no_till_could_read_is_refused_in_words(gtin: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        retail_symbol(gtin)


@given(gtin=DEMO | THIRTEEN | TWELVE | EIGHT, data=st.data())
def test_a_slip_of_one_digit_never_passes(gtin: str, data: st.DataObject) -> None:
    """The weights 1 and 3 have no factor in common with 10, so any one slip shows."""
    place = data.draw(st.integers(0, len(gtin) - 1))
    other = data.draw(st.sampled_from([digit for digit in "0123456789" if digit != gtin[place]]))
    assert explain(gtin[:place] + other + gtin[place + 1 :]) is not None
