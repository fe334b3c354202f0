"""QR symbols against the standard's example, two other encoders, and two decoders."""

from __future__ import annotations

import io
import math
import random
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pypdfium2
import pytest
import segno.encoder
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from PIL import Image
from qrcode import QRCode, util
from reportlab.pdfgen import canvas

from labeler.codes.print_quality import Symbol
from labeler.codes.qr import COUNT_BITS, QUIET, Level, capacity, qr_side, qr_symbol, segments
from tests.codes.qr_reference import ANNEX_I, LEVELS, QRCODE_LEVELS, Grid, grid_of

Raster = Callable[[Symbol, int], Image.Image]
Reader = Callable[[Image.Image], list[tuple[str, bytes]]]

CAPACITIES = """
    1  41/25/17    34/20/14    27/16/11    17/10/7
    2  77/47/32    63/38/26    48/29/20    34/20/14
    3  127/77/53   101/61/42   77/47/32    58/35/24
    4  187/114/78  149/90/62   111/67/46   82/50/34
    5  255/154/106 202/122/84  144/87/60   106/64/44
    6  322/195/134 255/154/106 178/108/74  139/84/58
    7  370/224/154 293/178/122 207/125/86  154/93/64
    8  461/279/192 365/221/152 259/157/108 202/122/84
    9  552/335/230 432/262/180 312/189/130 235/143/98
    10 652/395/271 513/311/213 364/221/151 288/174/119
"""
"""Version, then for L, M, Q and H the digits, alphanumerics and bytes that fill it.

Source: ISO/IEC 18004:2015, table 7.
"""


def _boundaries() -> Iterator[tuple[int, Level, str, int]]:
    for row in CAPACITIES.split("\n")[1:-1]:
        version, *cells = row.split()
        for level, cell in zip(LEVELS, cells, strict=True):
            for letters, most in zip(("7", "Q", "q"), cell.split("/"), strict=True):
                yield int(version), level, letters, int(most)


def _version(symbol: Symbol) -> int:
    return (symbol.columns - 2 * QUIET - 17) // 4


def _by_qrcode(payload: str, level: Level, mask: int) -> Grid:
    """Return the matrix that the qrcode package makes of the same segments."""
    data = payload.encode()
    for versions, count_bits in COUNT_BITS.items():
        cut = segments(data, count_bits)
        code: Any = QRCode(error_correction=QRCODE_LEVELS[level], mask_pattern=mask)
        for mode, piece in cut:
            code.add_data(util.QRData(piece, mode, check_data=False))
        code.make()
        if code.version in versions:
            break
    return np.array(code.modules, np.uint8)


def _by_segno(payload: str, level: Level, mask: int, monkeypatch: pytest.MonkeyPatch) -> Grid:
    """Return the matrix that segno makes, once its padding keeps to the standard.

    Segno 1.6.6 adds eight zeros to a stream that already ends with a codeword (encoder.py,
    write_padding_bits), where ISO/IEC 18004:2015, 7.4.10, adds none.
    """

    def pad(buff: Any, version: Any, length: int) -> None:
        buff.extend([0] * (-length % 8))

    monkeypatch.setattr(segno.encoder, "write_padding_bits", pad)
    code = segno.make_qr(
        payload, error=level, mask=mask, boost_error=False, encoding="utf-8", eci=False
    )
    return np.array([list(row) for row in code.matrix], np.uint8)


DRAWN = (1, 7, 27, 40)
"""Versions of which whole symbols are drawn, with what each brings: the largest, and the first that
states its version, and that counts a text's letters in more bits."""


def test_the_standards_own_example_comes_out_module_for_module() -> None:
    assert np.array_equal(grid_of("01234567"), [list(map(int, row)) for row in ANNEX_I.split()])


@pytest.mark.parametrize("version", range(1, 41))
def test_a_symbol_has_four_more_modules_a_side_for_each_version(version: int) -> None:
    """Source: ISO/IEC 18004:2015, 6.3.1: version 1 has 21 a side, version 40 has 177."""
    most = capacity(version, "L") // 8 - (2 if version < 10 else 3)
    assert qr_side("q" * most, "L") == 17 + 4 * version + 2 * 4
    if version in DRAWN:
        symbol = qr_symbol("q" * most, "L")
        assert symbol.columns == symbol.rows == qr_side("q" * most, "L")
        accented = "é" * (most // 4)
        assert qr_side(accented) == qr_symbol(accented).columns


@pytest.mark.parametrize(("version", "level", "letter", "most"), list(_boundaries()))
def test_a_symbol_holds_what_the_standard_says_and_not_one_letter_more(
    version: int, level: Level, letter: str, most: int
) -> None:
    assert _version(qr_symbol(letter * most, level)) == version
    assert _version(qr_symbol(letter * (most + 1), level)) == version + 1


def test_the_largest_symbol_holds_its_fill_and_the_next_byte_is_refused_in_words() -> None:
    """Source: ISO/IEC 18004:2015, table 7: 40-L takes 7089 digits or 2953 bytes."""
    assert _version(qr_symbol("8" * 7089, "L")) == 40
    assert _version(qr_symbol("q" * 2953, "L")) == 40
    with pytest.raises(ValueError, match=r"2954 bytes does not fit .* at level L .* 2953 bytes"):
        qr_symbol("q" * 2954, "L")


@pytest.mark.parametrize(("version", "level", "letter", "most"), list(_boundaries()))
def test_a_full_symbol_equals_the_qrcode_packages_and_segnos(
    version: int, level: Level, letter: str, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    mask = (version + most) % 8
    ours = grid_of(letter * most, level, mask)
    assert np.array_equal(ours, _by_qrcode(letter * most, level, mask))
    assert np.array_equal(ours, _by_segno(letter * most, level, mask, monkeypatch))


@pytest.mark.daily("L-0", "H-7")
@pytest.mark.parametrize("mask", range(8))
@pytest.mark.parametrize("level", LEVELS)
def test_half_filled_symbols_equal_the_qrcode_packages_and_segnos(
    level: Level, mask: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    pick = random.Random(8 * LEVELS.index(level) + mask)
    for alphabet in ("0123456789", "ABC $%*+-./:", "abcdefghijklmnopqrstuvwxyz?&=#"):
        for length in pick.sample(range(1, 160), 4):
            text = "".join(pick.choices(alphabet, k=length))
            ours = grid_of(text, level, mask)
            assert np.array_equal(ours, _by_qrcode(text, level, mask)), text
            assert np.array_equal(ours, _by_segno(text, level, mask, monkeypatch)), text


@pytest.mark.parametrize("version", [11, 14, 20, 27, 33, 40])
def test_large_symbols_equal_the_qrcode_packages_and_segnos(
    version: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    level = LEVELS[version % 4]
    text = "q" * ((capacity(version, level) - 20) // 8 - 5)
    ours = grid_of(text, level, version % 8)
    assert ours.shape == (17 + 4 * version,) * 2
    assert np.array_equal(ours, _by_qrcode(text, level, version % 8))
    assert np.array_equal(ours, _by_segno(text, level, version % 8, monkeypatch))


def test_links_in_mixed_segments_equal_the_qrcode_packages() -> None:
    pick = random.Random(952)
    for nth in range(200):
        host = pick.choice(["https://go.example.com", "HTTPS://EXAMPLE.COM", "https://example.com"])
        text = f"{host}/01/{pick.randrange(10**14):014}/10/{pick.randrange(10**8)}"
        text += pick.choice(["", f"/21/{pick.randrange(10**5)}", "?11=250712", "-Q.x"])
        level = LEVELS[nth % 4]
        assert np.array_equal(grid_of(text, level, nth % 8), _by_qrcode(text, level, nth % 8))


def test_a_text_beyond_ascii_equals_segnos_utf_8_symbol_with_its_mark(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def pad(buff: Any, version: Any, length: int) -> None:
        buff.extend([0] * (-length % 8))

    monkeypatch.setattr(segno.encoder, "write_padding_bits", pad)
    for text in ("Ærø", "ünder the döck", "日本の毛鉤", "🎣"):
        code = segno.make_qr(
            text, error="M", mask=5, boost_error=False, encoding="utf-8", mode="byte", eci=True
        )
        expected = np.array([list(row) for row in code.matrix], np.uint8)
        assert np.array_equal(grid_of(text, "M", 5), expected)


def test_capitals_shrink_a_link_and_mixed_segments_keep_that_behind_a_question_mark() -> None:
    """Versions of a single segment computed with segno 1.6.6.

    Source of the modes: ISO/IEC 18004:2015, 7.4; neither ? nor = is alphanumeric (table 5).
    """

    def by_segno(text: str) -> list[int]:
        codes = [segno.make_qr(text, error=level, boost_error=False) for level in LEVELS]
        return [int(code.version) for code in codes]

    def ours(text: str) -> list[int]:
        return [_version(qr_symbol(text, level)) for level in LEVELS]

    link = "https://example.com/01/09521234543213/10/L2507A"
    assert by_segno(link) == [3, 4, 5, 6]
    assert by_segno(link.upper()) == ours(link.upper()) == [2, 3, 3, 4]
    asked = link + "?11=250712"
    assert by_segno(asked) == by_segno(asked.upper()) == [4, 4, 5, 6]
    assert ours(link) == [3, 3, 4, 5]
    assert ours(asked) == [3, 4, 5, 6]
    assert ours(asked.upper()) == [3, 3, 4, 5]


@pytest.mark.parametrize("dots", [1, 2, 3, 5, 8])
def test_two_decoders_read_back_every_level_and_size(
    raster: Raster, zxing: Reader, zbar: Reader, dots: int
) -> None:
    pick = random.Random(dots)
    for level in LEVELS:
        for length in (1, 18, 40, 75, 160):
            text = "".join(pick.choices("abcdefgh/:.0123456789ABC", k=length))
            picture = raster(qr_symbol(text, level), dots)
            assert zxing(picture) == [("qr", text.encode())]
            if dots > 1:  # zbar samples every other line and asks for two dots a module
                assert zbar(picture) == [("qr", text.encode())]


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(text=st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=60))
@example("ﾄｰﾂｵ")
@example("°à±âµ°")
@example("국")
@example("0" * 20 + "Å" + "A" * 20)
def test_any_text_is_read_back_letter_for_letter(
    raster: Raster, zxing: Reader, zbar: Reader, text: str
) -> None:
    picture = raster(qr_symbol(text, "M"), 4)
    assert zxing(picture) == [("qr", text.encode())]
    assert zbar(picture) == [("qr", text.encode())]


@pytest.mark.parametrize("dpi", [203, 300, 331, 600])
def test_a_symbol_filled_as_one_path_shows_no_seam(dpi: int) -> None:
    """A finder pattern's dark core and ring are black right through, on and off whole dots."""
    symbol = qr_symbol("https://go.example.com/p/RV-38-BLK/lot/25193017")
    module, paper = 1.2, io.BytesIO()
    page = canvas.Canvas(paper, pagesize=(symbol.columns * module, symbol.rows * module))
    path = page.beginPath()
    for x, y, width, height in symbol.bars:
        upside = symbol.rows - y - height
        path.rect(x * module, upside * module, width * module, height * module)
    page.drawPath(path, stroke=0, fill=1)
    page.save()
    document = pypdfium2.PdfDocument(paper.getvalue())
    grey = document[0].render(scale=dpi / 72, grayscale=True).to_numpy().squeeze()
    document.close()

    def dots(first: float, last: float) -> slice:
        each = module * dpi / 72
        return slice(math.ceil(first * each + 1), math.floor(last * each - 1))

    assert grey[dots(6, 9), dots(6, 9)].size > 8
    assert grey[dots(6, 9), dots(6, 9)].max() == 0
    if dpi >= 300:
        assert grey[dots(4, 5), dots(4, 11)].size > 8
        assert grey[dots(4, 5), dots(4, 11)].max() == 0
        assert grey[dots(4, 11), dots(10, 11)].max() == 0


def test_the_quiet_zone_is_four_modules_of_nothing() -> None:
    symbol = qr_symbol("HELLO WORLD")
    assert min(x for x, _, _, _ in symbol.bars) == min(y for _, y, _, _ in symbol.bars) == 4
    assert max(x + w for x, _, w, _ in symbol.bars) == symbol.columns - 4
    assert max(y + h for _, y, _, h in symbol.bars) == symbol.rows - 4


def test_the_bars_are_the_modules() -> None:
    grid = np.zeros((33, 33), np.uint8)
    for x, y, width, height in qr_symbol("https://go.example.com").bars:
        grid[int(y) : int(y + height), int(x) : int(x + width)] += 1
    assert np.array_equal(grid, np.pad(grid_of("https://go.example.com"), QUIET))


@pytest.mark.parametrize(
    ("payload", "level", "sentence"),
    [
        ("", "M", "has to say something"),
        ("half \ud83c", "M", r"character 6\) is half a letter"),
        ("fine", "X", "level is L, M, Q or H, not 'X'"),
    ],
)
def test_what_no_symbol_can_say_is_refused_in_words(
    payload: str, level: Level, sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        qr_symbol(payload, level)
