"""Words come back out of the file, read by programs that share no code with the press."""

from __future__ import annotations

import shutil
import subprocess
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import pikepdf
import pypdf
import pypdfium2
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from pdfminer.high_level import extract_pages, extract_text
from pdfminer.layout import LAParams, LTChar, LTContainer

from labeler.findings import LabelerError
from labeler.marks import Glyphs, Piece
from labeler.press.impose import PieceOrder, impose
from labeler.press.pdf.objects import Entries, Hex, Name, Ref
from labeler.press.pdf.objects import pdf as as_pdf
from labeler.press.sheets import Sheet
from labeler.type.faces import typeface

Press = Callable[..., bytes]
PieceMaker = Callable[..., Piece]
Words = Callable[..., Glyphs]

LINES = ("Café Grèbe 3″", "3/8 oz · 10.6 g", "Hook 4/0, 60°", "Contains lead. Wash hands.")


def by_pypdf(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf)).pages)


def by_pdfminer(pdf: bytes) -> str:
    return extract_text(BytesIO(pdf), laparams=LAParams(all_texts=True))


def by_pdfium(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return "\n".join(page.get_textpage().get_text_range() for page in document)
    finally:
        document.close()


READERS = [by_pypdf, by_pdfminer, by_pdfium]


def lettered(label: PieceMaker, words: Words, sku: str, lines: tuple[str, ...] = LINES) -> Piece:
    runs = tuple(words(line, y=14.0 + 14 * n) for n, line in enumerate(lines))
    return label(sku, front=runs)


def letters(pdf: bytes) -> list[LTChar]:
    def chars(item: Any) -> Any:
        if isinstance(item, LTChar):
            yield item
        elif isinstance(item, LTContainer):
            for part in item:
                yield from chars(part)

    return [c for page in extract_pages(BytesIO(pdf)) for c in chars(page)]


@pytest.mark.parametrize("read", READERS, ids=lambda read: read.__name__)
@pytest.mark.parametrize("count", [1, 3], ids=["drawn in place", "drawn as a form"])
def test_every_line_comes_back_in_reading_order(
    read: Callable[[bytes], str],
    count: int,
    sheets: dict[str, Sheet],
    label: PieceMaker,
    words: Words,
    press: Press,
) -> None:
    piece = lettered(label, words, "A")
    text = " ".join(read(press(impose([PieceOrder(piece, count)], sheets["letter-2x5"]))).split())
    places = [text.find(line) for line in LINES]
    assert -1 not in places
    assert places == sorted(places)
    assert all(text.count(line) == count for line in LINES)


@pytest.mark.parametrize("read", READERS, ids=lambda read: read.__name__)
def test_a_back_turned_by_half_still_reads(
    read: Callable[[bytes], str],
    sheets: dict[str, Sheet],
    label: PieceMaker,
    words: Words,
    press: Press,
) -> None:
    piece = label(front=(), back=(words("Rinse and dry"),))
    pdf = press(impose([PieceOrder(piece, 1)], sheets["letter-3x10"], flip="short-edge"))
    assert "Rinse" in read(pdf)


def test_what_a_composed_fraction_says_stands_beside_its_glyphs(
    sheets: dict[str, Sheet], label: PieceMaker, words: Words, press: Press, tmp_path: Path
) -> None:
    """A fraction set from small figures reads as the fraction (ISO 32000-1:2008, 14.9.4)."""
    runs = (
        words("1", size=5.0, y=11.0, says="1/16"),
        words("\N{FRACTION SLASH}", x=8.2, says="\N{ZERO WIDTH SPACE}"),
        words("16", x=10.0, size=5.0, says="\N{ZERO WIDTH SPACE}"),
    )
    pdf = press(impose([PieceOrder(label(front=runs), 1)], sheets["letter-3x10"]))
    with pikepdf.open(BytesIO(pdf)) as file:
        content = file.pages[0].Contents.read_bytes()
    assert b"/ActualText(1/16)" in content
    program = shutil.which("pdftotext")
    if not program:
        pytest.skip("poppler's pdftotext is not installed")
    (tmp_path / "one.pdf").write_bytes(pdf)
    done = subprocess.run(
        [program, tmp_path / "one.pdf", "-"], capture_output=True, check=True, text=True
    )
    assert "1/16" in done.stdout


@given(st.text(st.characters(exclude_categories=["Cs"])))
@example("Dock & Daughter (1) \\")
@example("Grèbe\n")
def test_any_text_string_reads_back(text: str) -> None:
    """Read by pikepdf, which takes strings as ISO 32000-1:2008, 7.9.2.2, says."""
    assert str(pikepdf.Object.parse(as_pdf(text).encode("ascii"))) == text


@given(
    st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1),
    st.binary(),
    st.booleans(),
)
@example("a b#(/)", b"(back\\slash)", True)
def test_any_name_bytes_and_numbers_read_back(name: str, data: bytes, flag: bool) -> None:
    """Read by pikepdf: ISO 32000-1:2008, 7.3.2 to 7.3.5. No name may hold a null."""
    value: Entries = {name: [Name(name), data, Hex(data), flag, 7, -0.00001, 2.5, None]}
    read = pikepdf.Object.parse(as_pdf(value).encode("ascii"))
    assert list(read.keys()) == [f"/{name}"]
    back, plain, digits, *rest = read[f"/{name}"]
    assert str(back) == f"/{name}"
    assert bytes(plain) == bytes(digits) == data
    assert [float(one) if one is not None else None for one in rest] == [flag, 7, 0, 2.5, None]
    assert as_pdf([Ref(12)]) == "[12 0 R]"


def test_letters_stand_where_the_shaper_put_them(
    sheets: dict[str, Sheet], label: PieceMaker, words: Words, press: Press
) -> None:
    """Kerned, tracked and tabular advances arrive in the file, to a hundredth of a point."""
    shaped = typeface("sans").shape("AV To 1171", tracking=20, tabular=True)
    run = replace(words("x", size=12.0), text=shaped.text, shifts=shaped.shifts)
    pdf = press(impose([PieceOrder(label(front=(run,)), 1)], sheets["letter-3x10"]))
    x = 13.5 + run.x
    face = typeface("sans")
    shifts = shaped.shifts or (0.0,) * len(shaped.text)
    for letter, shift, found in zip(shaped.text, shifts, letters(pdf), strict=True):
        assert found.get_text() == letter
        assert found.matrix[4] == pytest.approx(x, abs=0.01)
        assert found.matrix[5] == pytest.approx(792 - 36 - run.y, abs=0.01)
        x += (face.advance_of(letter) + shift) * 12 / 1000


def test_a_baseline_is_upright_and_at_its_size(
    sheets: dict[str, Sheet], label: PieceMaker, words: Words, press: Press
) -> None:
    piece = label(front=(words("Hx", size=9.5),))
    for found in letters(press(impose([PieceOrder(piece, 2)], sheets["letter-3x10"]))):
        assert found.matrix[:4] == pytest.approx((1, 0, 0, 1))
        assert found.upright
        assert found.size > 9


def test_only_embedded_subsets_are_listed(
    sheets: dict[str, Sheet], label: PieceMaker, words: Words, press: Press
) -> None:
    faces = ("sans", "sans-bold", "serif-italic")
    runs = tuple(words("Reel", face=face, y=14.0 * n) for n, face in enumerate(faces, 1))
    pdf = press(impose([PieceOrder(label(front=runs), 2)], sheets["letter-3x10"]))
    with pikepdf.open(BytesIO(pdf)) as file:
        fonts = [
            o
            for o in file.objects
            if isinstance(o, pikepdf.Dictionary) and o.get("/Type") == "/Font"
        ]
        assert len(fonts) == 3
        for font in fonts:
            assert "/FontFile2" in font.FontDescriptor
            assert str(font.BaseFont)[7] == "+"
            assert "/ToUnicode" in font
            assert len(font.FontDescriptor.FontFile2.read_bytes()) < 20_000
    assert b"Helvetica" not in pdf


def test_a_page_without_words_lists_no_font(
    sheets: dict[str, Sheet], label: PieceMaker, press: Press
) -> None:
    pdf = press(impose([PieceOrder(label(), 1)], sheets["letter-3x10"]))
    with pikepdf.open(BytesIO(pdf)) as file:
        assert not file.pages[0].Resources.Font


def test_letters_that_a_face_lacks_are_named(
    sheets: dict[str, Sheet], label: PieceMaker, press: Press
) -> None:
    """The library would draw empty boxes without a word."""
    run = Glyphs(5, 10, "sans", 8, "#000000", "Jig ⚠ 鯛", 40)
    with pytest.raises(LabelerError) as caught:
        press(impose([PieceOrder(label("KT-1", front=(run,)), 1)], sheets["letter-3x10"]))
    (finding,) = caught.value.findings
    assert finding.rule == "letters-missing"
    assert finding.place.piece == "KT-1"
    assert "⚠ (U+26A0), 鯛 (U+9BDB)" in finding.message


@pytest.mark.parametrize("read", READERS, ids=lambda read: read.__name__)
def test_more_letters_than_one_subset_holds_still_read(
    read: Callable[[bytes], str],
    sheets: dict[str, Sheet],
    label: PieceMaker,
    words: Words,
    press: Press,
) -> None:
    """A subset holds 256 codes; a run that needs two subsets is set from both."""
    face = typeface("serif")
    known = [
        letter
        for letter in map(chr, range(0x21, 0x250))
        if not face.lacks(letter)
        and unicodedata.category(letter)[0] in "LNP"
        and letter == unicodedata.normalize("NFKC", letter)
    ]
    assert len(known) > 300
    shifts = tuple(n / 2 for n in range(len(known)))
    run = replace(words("".join(known), face="serif", size=1.0), shifts=shifts)
    pdf = press(impose([PieceOrder(label(front=(run,)), 1)], sheets["letter-2x5"]))
    wide = sum(map(face.advance_of, known[:-1])) + sum(shifts[:-1])
    assert letters(pdf)[-1].matrix[4] - letters(pdf)[0].matrix[4] == pytest.approx(wide / 1000)
    with pikepdf.open(BytesIO(pdf)) as file:
        assert len(file.pages[0].Resources.Font) >= 2
    found = "".join(read(pdf).split())
    assert found == "".join(known)


def test_the_ink_of_a_run_outlives_the_run_before(
    sheets: dict[str, Sheet], label: PieceMaker, words: Words, press: Press
) -> None:
    runs = (words("a", ink="#aa0000"), words("b", y=30.0), words("c", y=45.0, ink="#777777"))
    found = letters(press(impose([PieceOrder(label(front=runs), 2)], sheets["letter-3x10"])))
    colours = [letter.graphicstate.ncolor for letter in found[:3]]
    assert colours == [
        pytest.approx((0xAA / 255, 0, 0), abs=0.001),
        pytest.approx(0),
        pytest.approx(0x77 / 255, abs=0.001),
    ]
