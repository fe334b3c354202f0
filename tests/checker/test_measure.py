"""What is measured on a page, held against libraries that share no code with it."""

from __future__ import annotations

import io
import math
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2 as pdfium
import pypdfium2.raw as pdfium_c
import pytest
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from labeler.checker.page import elements
from labeler.checker.page.elements import Drawn
from labeler.checker.page.sides import _to_page
from labeler.checker.pdf import tokens as words_cut
from labeler.checker.pdf.file import CheckedPdf, content_of, untouched
from labeler.checker.pdf.fonts import weight_of
from labeler.checker.pdf.interpreter import ContentInterpreter, Library, words_of
from labeler.checker.pdf.outlines import Outlines, font_codes, to_unicode
from labeler.geometry import IDENTITY, apply, inverse, multiply

FONTS = sorted((Path(__file__).parents[2] / "fonts").glob("*.ttf"))


def drawn_on(file: Path, folder: Path, page: int = 0) -> Drawn:
    document = CheckedPdf(file.read_bytes(), file.name)
    entry = document.pages()[page]
    drawn = Drawn(*entry.size)
    follower = ContentInterpreter(Library(folder), drawn, _to_page(entry), (0.0, 0.0, *entry.size))
    follower.run(words_of(content_of(entry)), entry.resources)
    return drawn


# ------------------------------------------------------------------------------------ outlines


@pytest.mark.parametrize("path", FONTS, ids=lambda path: path.stem)
def test_ink_is_measured_as_fonttools_measures_it(path: Path) -> None:
    """Extent and area of every letter, digit and sign. Source: fontTools BoundsPen and AreaPen."""
    theirs = TTFont(path)
    glyphs, names = theirs.getGlyphSet(), theirs.getBestCmap()
    em = theirs["head"].unitsPerEm
    ours = Outlines(path.read_bytes())
    for letter in "HoxNIJQgj&0123456789/⁄().,:·éÉ":
        bounds, area = BoundsPen(glyphs), AreaPen(glyphs)
        glyphs[names[ord(letter)]].draw(bounds)
        glyphs[names[ord(letter)]].draw(area)
        ink = ours.ink(ours.gid_of(letter))
        measured = [n * em for n in (ink.left, ink.low, ink.right, ink.high)]
        assert measured == pytest.approx(bounds.bounds, abs=0.01), letter
        assert ink.area * em * em == pytest.approx(abs(area.value), rel=1e-6), letter
        advance = glyphs[names[ord(letter)]].width / em
        assert ours.advance(ours.gid_of(letter)) == pytest.approx(advance)


@pytest.mark.parametrize("path", FONTS, ids=lambda path: path.stem)
def test_a_fonts_codes_are_those_that_fonttools_reads(path: Path) -> None:
    theirs = TTFont(path)
    ours = Outlines(path.read_bytes())
    order = theirs.getReverseGlyphMap()
    for table in theirs["cmap"].tables:
        if table.format in (0, 4, 6):
            expected = {code: order[name] for code, name in table.cmap.items() if order[name]}
            assert ours.codes[table.platformID, table.platEncID] == expected


def test_a_damaged_table_of_codes_reads_as_none() -> None:
    assert font_codes(b"") == {}
    assert font_codes(b"\0\0\0\x09\0\x03\0\x01\xff\xff\xff\xff") == {}


# ----------------------------------------------------------------------------- glyphs on the page


@pytest.mark.parametrize("base", ["strip", "header", "dots"])
def test_every_glyph_stands_where_pdfium_says(base: str, bases: dict[str, Any]) -> None:
    """PDFium's own text extraction boxes each character; ours agree to a fiftieth of a mm."""
    file = bases[base].pdf
    drawn = drawn_on(file, bases[base].folder)
    ours: dict[str, list[tuple[float, ...]]] = {}
    for glyph in drawn.glyphs:
        if glyph.text.strip():
            ours.setdefault(glyph.text, []).append(glyph.box)
    with pdfium.PdfDocument(file) as document:
        text = document[0].get_textpage()
        count = 0
        for number in range(text.count_chars()):
            letter = chr(pdfium_c.FPDFText_GetUnicode(text.raw, number))
            if letter.strip():
                left, bottom, right, top = text.get_charbox(number)
                box = left, drawn.height - top, right, drawn.height - bottom
                off = min(max(map(abs, map(float.__sub__, box, one))) for one in ours[letter])
                assert off < 0.07, (letter, off)
                count += 1
    assert count == sum(map(len, ours.values())) > 300


def test_heights_on_the_page_are_true_to_one_per_cent(bases: dict[str, Any]) -> None:
    """The quantity's capitals, counted in dots at 2400 dpi."""
    witness = bases["witness"]
    drawn = drawn_on(witness.pdf, witness.folder)
    glyph = next(each for each in drawn.glyphs if each.text == "J" and each.size > 12)
    scale = 2400 / 72
    with pdfium.PdfDocument(witness.pdf) as document:
        page = document[0]
        left, top, right, bottom = glyph.box
        wide, high = page.get_size()
        crop = (left - 1, high - bottom - 1, wide - right - 1, top - 1)
        dots = page.render(scale=scale, grayscale=True, crop=crop).to_numpy().squeeze()
    rows = (dots < 128).any(axis=1).nonzero()[0]
    measured = (rows[-1] - rows[0] + 1) / scale
    assert measured == pytest.approx(glyph.rise - glyph.drop, rel=0.01)


def test_every_letter_of_good_output_is_what_the_text_layer_says(bases: dict[str, Any]) -> None:
    for base in ("strip", "header", "witness"):
        glyphs = drawn_on(bases[base].pdf, bases[base].folder).glyphs
        assert len(glyphs) > 300
        assert all(glyph.shape == glyph.text for glyph in glyphs)


@pytest.mark.parametrize(
    ("name", "weight"),
    [
        ("BarlowCondensed-SemiBold", 600),
        ("NotoSerif-SemiBoldCondensed", 600),
        ("BarlowCondensed-ExtraBold", 800),
        ("Arial,Bold", 700),
        ("Helvetica", 400),
        ("", None),
    ],
)
def test_a_weight_is_told_by_the_fonts_name(name: str, weight: int | None) -> None:
    assert weight_of(name) == weight


# ---------------------------------------------------------------------------------- colours


@pytest.mark.parametrize(
    ("ink", "ground", "ratio"),
    [
        ("000000", "ffffff", 21.0),
        ("777777", "ffffff", 4.478),
        ("767676", "ffffff", 4.542),
        ("595959", "ffffff", 7.005),
        ("949494", "ffffff", 3.033),
        ("ff0000", "ffffff", 3.998),
        ("0000ff", "ffffff", 8.592),
        ("ffff00", "000000", 19.556),
        ("000000", "f9a800", 10.629),
    ],
)
def test_contrast_is_that_of_the_web_guidelines(ink: str, ground: str, ratio: float) -> None:
    """Source: WCAG 2.2, contrast ratio and relative luminance; values worked out by hand."""
    pair = [tuple(bytes.fromhex(each)) for each in (ink, ground)]
    assert elements.contrast(*pair) == pytest.approx(ratio, abs=0.0006)  # type: ignore[arg-type]


def test_process_inks_turn_into_light_as_the_standard_says() -> None:
    """Source: ISO 32000-1:2008, 10.3.5: red is 1 - min(1, cyan + black)."""
    assert elements.cmyk(0, 0, 0, 1) == (0, 0, 0)
    assert elements.cmyk(1, 0, 0, 0) == (0, 255, 255)
    assert elements.cmyk(0.5, 0, 0, 0.75) == (0, 64, 64)


@pytest.mark.parametrize(
    ("short", "whole"),
    [
        (b"1 1 m 2 3 4 1 v 5 2 6 6 y 1 6 l f",
         b"1 1 m 1 1 2 3 4 1 c 5 2 6 6 6 6 c 1 6 l f"),
        (b"1 1 m 5 1 l 5 5 l h 2 3 4 1 v f", b"1 1 m 5 1 l 5 5 l h 1 1 2 3 4 1 c f"),
        (b"1 1 4 5 re 2 3 4 8 v 9 9 l f", b"1 1 4 5 re 1 1 2 3 4 8 c 9 9 l f"),
        (b"1 2 3 4 5 6 c 1 1 4 5 re f", b"1 1 4 5 re f"),
        (b"1 1 4 5 re 9 9 l h 2 3 4 8 v f",
         b"1 1 m 5 1 l 5 6 l 1 6 l h 9 9 l h 1 1 2 3 4 8 c f"),
        (b"1 1 4 5 re 9 9 l 3 3 m 4 4 l f",
         b"1 1 m 5 1 l 5 6 l 1 6 l h 9 9 l 3 3 m 4 4 l f"),
    ],
)  # fmt: skip
def test_a_path_is_the_same_however_little_of_it_is_written(short: bytes, whole: bytes) -> None:
    """Source: ISO 32000-1:2008, table 59: v leaves a curve's first handle out, y the second.

    What follows a closed figure, as a rectangle is one, goes on from where that began.
    """
    drawn = Drawn(100.0, 100.0)
    library = Library(None)
    follower = ContentInterpreter(library, drawn, IDENTITY, (0.0, 0.0, 100.0, 100.0))
    follower.run(words_of(short), {})
    follower.run(words_of(whole), {})
    first, second = (list(shape.outlines()) for shape in drawn.shapes)
    assert first == second


# ----------------------------------------------------------------------------------- the file


def test_the_presss_sum_tells_any_change(bases: dict[str, Any]) -> None:
    data = bases["strip"].pdf.read_bytes()
    assert untouched(data)
    for spot in (20, len(data) // 2):
        changed = bytearray(data)
        changed[spot] ^= 1
        assert not untouched(bytes(changed))
    assert not untouched(data + b"\n% more\nstartxref\n0\n%%EOF\n")


@given(st.binary(max_size=60))
def test_a_string_reads_back_whatever_bytes_it_holds(data: bytes) -> None:
    """As pikepdf (qpdf) writes it."""
    written = pikepdf.String(data).unparse()
    (word,) = words_cut.tokens(written)
    assert words_cut.string(word) == data


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"1 0 0 RG% red\n2 w", [b"1", b"0", b"0", b"RG", b"2", b"w"]),
        (b"[(a(b)c)-20<41 42>]TJ", [b"[", b"(a(b)c)", b"-20", b"<41 42>", b"]", b"TJ"]),
        (b"/F1 12 Tf/X<</A/B>>BDC",
         [b"/F1", b"12", b"Tf", b"/X", b"<<", b"/A", b"/B", b">>", b"BDC"]),
        (b"q BI /W 1 /H 1 ID \x00(q) EI Q", [b"q", b"BI", b"Q"]),
    ],
)  # fmt: skip
def test_operators_are_cut_as_the_standard_cuts_them(text: bytes, words: list[bytes]) -> None:
    """Source: ISO 32000-1:2008, 7.2 and 8.9.7."""
    assert list(words_cut.tokens(text)) == words


@pytest.mark.parametrize("page", ["strip", "header"])
def test_the_text_layer_is_read_as_pdfminer_reads_it(page: str, bases: dict[str, Any]) -> None:
    from pdfminer.high_level import extract_pages
    from pdfminer.layout import LTChar, LTContainer

    def letters(thing: Any) -> list[str]:
        if isinstance(thing, LTChar):
            return [thing.get_text()]
        return (
            [c for each in thing for c in letters(each)] if isinstance(thing, LTContainer) else []
        )

    theirs = [c for each in extract_pages(bases[page].pdf) for c in letters(each) if c.strip()]
    ours = [g.text for g in drawn_on(bases[page].pdf, bases[page].folder).glyphs if g.text.strip()]
    assert sorted(ours) == sorted(theirs)


def test_ranges_in_a_map_to_letters_count_on(bases: dict[str, Any]) -> None:
    """Source: ISO 32000-1:2008, 9.10.3, example 2."""
    text = b"""1 begincodespacerange <00> <FF> endcodespacerange
    2 beginbfrange <00> <02> <0041> <05> <06> [<0066 0066> <D83DDE00>] endbfrange
    1 beginbfchar <09> <00660069> endbfchar"""
    assert to_unicode(text) == {0: "A", 1: "B", 2: "C", 5: "ff", 6: "😀", 9: "fi"}


angle = st.floats(-3, 3)
length = st.floats(-500, 500)


@given(angle, st.floats(0.2, 4), length, length, length, length)
def test_a_matrix_and_its_inverse_lead_back(
    turn: float, by: float, e: float, f: float, x: float, y: float
) -> None:
    cos, sin = by * math.cos(turn), by * math.sin(turn)
    matrix = (cos, sin, -sin, cos, e, f)
    there = apply(matrix, x, y)
    assert apply(inverse(matrix), *there) == pytest.approx((x, y), abs=1e-6)
    assert apply(multiply(matrix, inverse(matrix)), x, y) == pytest.approx((x, y), abs=1e-6)


def test_a_page_that_is_turned_is_read_as_it_is_looked_at(
    bases: dict[str, Any], tmp_path: Path
) -> None:
    """PDFium turns the page too (ISO 32000-1:2008, table 30, Rotate)."""
    for turn in (90, 180, 270):
        with pikepdf.open(bases["strip"].pdf) as pdf:
            pdf.pages[0].Rotate = turn
            pdf.save(tmp_path / "turned.pdf")
        drawn = drawn_on(tmp_path / "turned.pdf", bases["strip"].folder)
        with pdfium.PdfDocument(tmp_path / "turned.pdf") as document:
            dots = document[0].render(scale=2, grayscale=True).to_numpy().squeeze()
        assert dots.shape == (drawn.height * 2, drawn.width * 2)
        for glyph in drawn.glyphs:
            if glyph.area > 4:
                left, top, right, bottom = (round(2 * n) for n in glyph.box)
                assert dots[top : bottom + 1, left : right + 1].min() < 160, (turn, glyph)


def test_a_page_cut_to_a_crop_box_is_read_from_its_corner(
    bases: dict[str, Any], tmp_path: Path
) -> None:
    with pikepdf.open(bases["strip"].pdf) as pdf:
        pdf.pages[0].CropBox = [10, 20, 600, 780]
        pdf.save(tmp_path / "cut.pdf")
    whole = drawn_on(bases["strip"].pdf, bases["strip"].folder).glyphs[0]
    cut = drawn_on(tmp_path / "cut.pdf", bases["strip"].folder).glyphs[0]
    assert (cut.x, cut.y) == pytest.approx((whole.x - 10, whole.y - 12))


def test_a_font_of_two_byte_codes_is_read(tmp_path: Path) -> None:
    """A composite font with Identity-H, as most other programs embed TrueType."""
    face = Outlines(FONTS[0].read_bytes())
    gids = {letter: face.gid_of(letter) for letter in "Contai led."}
    text = "Contained."
    with pikepdf.new() as pdf:
        page = pdf.add_blank_page(page_size=(200, 100))
        file = pdf.make_stream(FONTS[0].read_bytes())
        told = "".join(f"<{gid:04X}> <{ord(letter):04X}>\n" for letter, gid in gids.items())
        descriptor = pikepdf.Dictionary(
            Type=pikepdf.Name.FontDescriptor, FontFile2=file, FontName=pikepdf.Name("/X"), Flags=4
        )
        widths = [x for gid in gids.values() for x in (gid, [round(face.advance(gid) * 1000)])]
        below = pikepdf.Dictionary(
            Type=pikepdf.Name.Font, Subtype=pikepdf.Name.CIDFontType2, FontDescriptor=descriptor,
            BaseFont=pikepdf.Name("/X"), W=pikepdf.Array(widths), CIDToGIDMap=pikepdf.Name.Identity,
            CIDSystemInfo=pikepdf.Dictionary(Registry="Adobe", Ordering="Identity", Supplement=0),
        )  # fmt: skip
        font = pikepdf.Dictionary(
            Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type0, BaseFont=pikepdf.Name("/X"),
            Encoding=pikepdf.Name("/Identity-H"), DescendantFonts=[pdf.make_indirect(below)],
            ToUnicode=pdf.make_stream(f"{len(gids)} beginbfchar\n{told}endbfchar".encode()),
        )  # fmt: skip
        page.Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F=pdf.make_indirect(font)))
        codes = "".join(f"{gids[letter]:04X}" for letter in text)
        page.Contents = pdf.make_stream(f"BT /F 20 Tf 10 40 Td <{codes}> Tj ET".encode())
        pdf.save(tmp_path / "wide.pdf")
    drawn = drawn_on(tmp_path / "wide.pdf", tmp_path)
    assert "".join(glyph.text for glyph in drawn.glyphs) == text
    with pdfium.PdfDocument(tmp_path / "wide.pdf") as document:
        page_text = document[0].get_textpage()
        for number, glyph in enumerate(drawn.glyphs):
            left, bottom, right, top = page_text.get_charbox(number)
            box = left, 100 - top, right, 100 - bottom
            # PDFium's boxes of composite fonts are a hundredth of an em off, its own outlines not.
            assert glyph.box == pytest.approx(box, abs=0.25)


def test_the_sheet_reads_from_memory_as_from_disk(bases: dict[str, Any]) -> None:
    data = bases["strip"].pdf.read_bytes()
    assert len(CheckedPdf(data, "x").pages()) == len(pikepdf.open(io.BytesIO(data)).pages)
