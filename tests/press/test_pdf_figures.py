"""Figures that stand in even columns read as one number, whoever reads the file.

Readers take a gap of about a tenth of an em for a space: pdfminer.six by ``word_margin``, poppler
by ``minWordBreakSpace``, pypdf and PDFium by rules of their own. A narrow 1 in the cell of a wide
8 leaves such gaps.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import pikepdf
import pypdf
import pypdfium2
import pytest
from fontTools.ttLib import TTFont
from pdfminer.high_level import extract_text

from labeler.checker.pdf.fonts import FileFont
from labeler.checker.pdf.outlines import Faces
from labeler.codes.retail_bars import retail_symbol
from labeler.marks import Glyphs, Piece
from labeler.press.impose import PieceOrder, impose
from labeler.press.sheets import Sheet
from labeler.type.faces import TABULAR, typeface
from labeler.type.styles import read_styles

FONTS = Path(__file__).resolve().parents[2] / "fonts"
PieceMaker = Callable[..., Piece]
Press = Callable[..., bytes]
Printed = Callable[..., bytes]

NUMBERS = ("263290013", "9521234001010", "$11.17", "10.6", "41171")


def by_pdfminer(pdf: bytes) -> str:
    return extract_text(BytesIO(pdf))


def by_pypdf(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf)).pages)


def by_pdfium(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return "\n".join(page.get_textpage().get_text_range() for page in document)
    finally:
        document.close()


def by_poppler(pdf: bytes) -> str:
    program = shutil.which("pdftotext")
    if not program:
        pytest.skip("poppler's pdftotext is not installed")
    done = subprocess.run([program, "-", "-"], input=pdf, capture_output=True, check=True)
    return done.stdout.decode("utf-8")


READERS = (by_pdfminer, by_pypdf, by_pdfium, by_poppler)
TABULAR_STYLES = sorted(name for name, style in read_styles().items() if style.tabular)


@pytest.fixture(scope="module")
def printed(sheets: dict[str, Sheet], label: PieceMaker, press: Press) -> Printed:
    """Return a function that prints some runs on one label."""

    def made(runs: list[Glyphs], **ticket: Any) -> bytes:
        piece = label(front=tuple(runs), size=(280.0, 140.0))
        return press(impose([PieceOrder(piece, 1)], sheets["letter-2x5"]), **ticket)

    return made


def in_style(
    name: str, text: str, y: float, maker_folder: Path | None = None, wider: float = 0.0
) -> Glyphs:
    style = read_styles(maker_folder)[name]
    shaped = style.face.shape(text, style.tracking + wider, style.tabular)
    return Glyphs(
        10, y, style.face.name, style.least, "#000000", shaped.text,
        shaped.width * style.least / 1000, shaped.shifts,
    )  # fmt: skip


def fonts_in(pdf: bytes) -> list[Any]:
    with pikepdf.open(BytesIO(pdf)) as file:
        return [
            (str(one.BaseFont), [float(w) for w in one.Widths], int(one.FirstChar),
             one.FontDescriptor.FontFile2.read_bytes())
            for one in file.objects
            if isinstance(one, pikepdf.Dictionary) and one.get("/Type") == "/Font"
        ]  # fmt: skip


@pytest.mark.parametrize("style", TABULAR_STYLES)
def test_every_reader_finds_a_number_in_one(style: str, printed: Printed) -> None:
    pdf = printed([in_style(style, text, 25.0 * n) for n, text in enumerate(NUMBERS, 1)])
    for read in READERS:
        lines = [line.strip() for line in read(pdf).splitlines()]
        assert set(NUMBERS) <= set(lines), read.__name__


def under_bars(gtin: str) -> list[Glyphs]:
    """Set a code's digits wide apart, as they stand under its bars."""
    return [
        replace(in_style("digits", group.text, 20, wider=149.0), x=20.0 + group.x)
        for group in retail_symbol(gtin).digits
    ]


@pytest.mark.parametrize("gtin", ["9521234001010", "95200002"])
def test_every_reader_finds_each_group_under_the_bars(gtin: str, printed: Printed) -> None:
    runs = under_bars(gtin)
    assert min(runs[-1].shifts) > 140
    pdf = printed(runs)
    for read in READERS:
        assert [run.text for run in runs] == read(pdf).split(), read.__name__


def test_figures_are_as_wide_in_the_list_of_widths_as_in_the_font(printed: Printed) -> None:
    """ISO 19005-2, 6.2.11.5: else a viewer may set them as it likes."""
    runs = [in_style(style, "0123456789", 12.0 * n) for n, style in enumerate(TABULAR_STYLES, 1)]
    runs += under_bars("9521234001010")
    fonts = fonts_in(printed(runs))
    names = [name for name, *_ in fonts]
    assert len(set(names)) == len(names) >= 4
    for name, widths, first, data in fonts:
        font = TTFont(BytesIO(data))
        (codes,) = (table.cmap for table in font["cmap"].tables)
        for code, width in enumerate(widths, first):
            glyph = codes.get(code)
            if glyph and code:
                assert font["hmtx"][glyph][0] == pytest.approx(width, abs=1), (name, code)


def test_the_face_s_own_figures_for_tables_are_drawn_and_known(printed: Printed) -> None:
    """Held against fontTools: the glyphs that the feature tnum gives, as wide as each other."""
    font = TTFont(FONTS / "BarlowCondensed-SemiBold.ttf")
    face = typeface("sans-semibold" + TABULAR)
    usual = font.getBestCmap()
    for digit, glyph in face.figures.items():
        assert font.getGlyphName(glyph) == f"{usual[ord(digit)]}.tf"
    assert set(face.figures) == set("0123456789")
    assert len({face.advance_of(digit) for digit in "0123456789"}) == 1
    assert not face.shape("1171", tabular=True).shifts
    pdf = printed([in_style("lot", "263290013", 20)])
    shelf = Faces(None)
    reader = pypdf.PdfReader(BytesIO(pdf))
    resources: Any = reader.pages[0]["/Resources"]
    (known,) = (FileFont(one.get_object(), shelf) for one in resources["/Font"].values())
    shown = [known.sort(code) for code in range(256)]
    assert {sort.shape for sort in shown if sort.text.isdigit()} == set("263290013")
    assert known.font.weight == 600


def test_a_face_without_such_figures_says_what_its_cells_read_as(
    printed: Printed, tmp_path: Path
) -> None:
    font = TTFont(FONTS / "BarlowCondensed-SemiBold.ttf")
    del font["GSUB"]
    (tmp_path / "fonts").mkdir()
    font.save(tmp_path / "fonts" / "mine.ttf")
    (tmp_path / "fonts" / "faces.toml").write_text('[sans-semibold]\nfile = "mine.ttf"\n')
    run = in_style("lot", "263290011", 20, tmp_path)
    assert run.face == "sans-semibold"
    assert max(run.shifts) > 95
    pdf = printed([run], maker_folder=tmp_path)
    assert b"263290011" in by_poppler(pdf).encode()
    assert "263290011" in by_pdfium(pdf)
    assert replace(run, shifts=()).width == run.width
