"""What we measure is what the font draws: held against fontTools, an independent reader."""

from __future__ import annotations

import re
import shutil
import tomllib
from pathlib import Path
from typing import Any

import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont

from labeler.findings import LabelerError
from labeler.type.faces import typeface
from labeler.type.packed import FACES as PACKED
from labeler.type.packed import LATIN, LATIN_SUFFIX, face_rules
from labeler.type.styles import read_styles

FONTS = Path(__file__).resolve().parents[2] / "fonts"
FACES = tomllib.loads((FONTS / "faces.toml").read_text("utf-8"))

WHOLE = sorted(f"{face.file}.woff2" for face in PACKED)
CUT = sorted(f"{face.file}{LATIN_SUFFIX}" for face in PACKED)


def _bounds(glyphs: Any, glyph: str) -> object:
    """Return the bounds of a glyph among those of a font."""
    pen = BoundsPen(glyphs)
    glyphs[glyph].draw(pen)
    return pen.bounds


def test_faces_are_packed_for_browsers_whole_and_cut() -> None:
    assert sorted(path.name for path in FONTS.glob("*.woff2")) == sorted(WHOLE + CUT)


@pytest.mark.daily("BarlowCondensed-Regular.woff2")
@pytest.mark.parametrize("name", WHOLE)
def test_a_face_that_is_packed_whole_has_the_same_glyphs(name: str) -> None:
    packed, face = TTFont(FONTS / name), TTFont((FONTS / name).with_suffix(".ttf"))
    assert packed.getGlyphOrder() == face.getGlyphOrder()
    assert packed.getBestCmap() == face.getBestCmap()
    assert packed["hmtx"].metrics == face["hmtx"].metrics
    for glyph in face.getGlyphOrder():
        ours, theirs = (
            font["glyf"][glyph].getCoordinates(font["glyf"])[:2] for font in (packed, face)
        )
        assert ours == theirs, glyph


@pytest.mark.parametrize("name", CUT)
def test_a_face_that_is_cut_has_each_of_its_letters_as_the_whole_one(name: str) -> None:
    packed = TTFont(FONTS / name)
    face = TTFont(FONTS / name.replace(LATIN_SUFFIX, ".ttf"))
    cut, whole = packed.getBestCmap(), face.getBestCmap()
    ours, theirs = packed.getGlyphSet(), face.getGlyphSet()
    assert {chr(code) for code in cut} == LATIN
    for letter in sorted(LATIN):
        code = ord(letter)
        assert packed["hmtx"][cut[code]] == face["hmtx"][whole[code]], letter
        assert _bounds(ours, cut[code]) == _bounds(theirs, whole[code]), letter
    assert "kern" in {each.FeatureTag for each in packed["GPOS"].table.FeatureList.FeatureRecord}


def test_the_desk_is_set_in_the_whole_faces() -> None:
    look = (FONTS.parent / "labeler" / "desk" / "static" / "desk.css").read_text("utf-8")
    assert sorted(re.findall(r"fonts/([^\"]+)", look)) == WHOLE


def test_a_page_holds_the_cut_faces_until_it_has_another_letter() -> None:
    plain = face_rules("Crème Brûlée, 3⁄8 oz: “Miller’s”, ÿ")
    assert plain.count("@font-face") == len(PACKED)
    for other in ("Θ", "ł", "Щука", "≈"):
        assert len(face_rules(f"Melon {other}")) > 3 * len(plain), other


@pytest.mark.parametrize("name", FACES)
def test_heights_and_widths_are_those_of_the_outlines(name: str) -> None:
    font = TTFont(FONTS / FACES[name]["file"])
    glyphs, cmap, em = font.getGlyphSet(), font.getBestCmap(), font["head"].unitsPerEm
    face = typeface(name)

    def bounds(letter: str) -> tuple[float, float]:
        pen = BoundsPen(glyphs)
        glyphs[cmap[ord(letter)]].draw(pen)
        return pen.bounds[3] * 1000 / em, pen.bounds[1] * 1000 / em

    assert face.cap_height == pytest.approx(bounds("H")[0], abs=1)
    assert face.o_height == pytest.approx(bounds("o")[0] - bounds("o")[1], abs=1)
    for letter in "AgÉ8⁄":
        width = font["hmtx"][cmap[ord(letter)]][0] * 1000 / em
        assert face.advance_of(letter) == pytest.approx(width)


@pytest.mark.parametrize("name", FACES)
def test_every_face_has_its_licence_beside_it_and_may_be_embedded(name: str) -> None:
    licence = (FONTS / FACES[name]["licence"]).read_text("utf-8")
    assert "SIL Open Font License, Version 1.1" in " ".join(licence.split())
    assert "Reserved Font Name" not in licence.split("-----")[0]
    assert TTFont(FONTS / FACES[name]["file"])["OS/2"].fsType in (0, 8)


@pytest.mark.parametrize("name", FACES)
def test_every_face_has_the_letters_a_label_needs(name: str) -> None:
    assert (
        typeface(name).lacks("ABC abc ÄÖÜ éèç ñ ß ø å ł 0123456789 ⁄½¼¾ × ″ ° – — ™ ® & @ · …")
        == ""
    )
    assert typeface(name).lacks("海a鯉") == "海鯉"


def test_kerning_draws_letters_together() -> None:
    face = typeface("serif-semibold")
    apart = face.advance_of("A") + face.advance_of("V")
    assert face.shape("AV").width < apart
    assert face.shape("AV").shifts[0] < 0


def test_accents_typed_as_two_letters_are_drawn_as_one() -> None:
    assert typeface("serif").shape("e\u0301").text == "é"


def test_an_unknown_face_names_the_nearest() -> None:
    with pytest.raises(LabelerError) as caught:
        typeface("sans-bald")
    assert caught.value.findings[0].hint == "Did you mean 'sans-bold'?"


@pytest.mark.parametrize("content", [b"", b"not a font", b"OTTO\x00\x01"])
def test_a_file_that_is_no_truetype_font_is_told(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "fonts").mkdir()
    (tmp_path / "fonts" / "faces.toml").write_text('[mine]\nfile = "mine.ttf"\n')
    (tmp_path / "fonts" / "mine.ttf").write_bytes(content)
    with pytest.raises(LabelerError) as caught:
        typeface("mine", tmp_path)
    assert caught.value.findings[0].rule == "face-unusable"


def test_a_font_outside_the_folder_is_not_reached(tmp_path: Path) -> None:
    (tmp_path / "fonts").mkdir()
    (tmp_path / "fonts" / "faces.toml").write_text('[mine]\nfile = "../secret.ttf"\n')
    (tmp_path / "secret.ttf").write_bytes((FONTS / "BarlowCondensed-Bold.ttf").read_bytes())
    with pytest.raises(LabelerError):
        typeface("mine", tmp_path)


def a_face_of_ones_own(folder: Path, file: str) -> Path:
    """Put a maker's own face called "sans" into a folder: another file of ours."""
    (folder / "fonts").mkdir(parents=True, exist_ok=True)
    shutil.copy(FONTS / file, folder / "fonts" / "mine.ttf")
    (folder / "fonts" / "faces.toml").write_text('[sans]\nfile = "mine.ttf"\n')
    return folder


def test_two_catalogs_and_a_folder_by_a_relative_path_have_their_own_faces(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = a_face_of_ones_own(tmp_path / "one", "BarlowCondensed-Bold.ttf")
    other = a_face_of_ones_own(tmp_path / "other", "NotoSerifCondensed-Regular.ttf")
    widths = [typeface("sans", folder).advance_of("m") for folder in (None, one, other)]
    assert len(set(widths)) == 3
    for folder, width in zip((one, other), widths[1:], strict=True):
        monkeypatch.chdir(folder)
        assert typeface("sans", Path()).advance_of("m") == width
        assert read_styles(Path())["note"].face.advance_of("m") == width


def test_a_face_and_a_style_that_a_maker_changes_are_read_anew(tmp_path: Path) -> None:
    folder = a_face_of_ones_own(tmp_path, "BarlowCondensed-Bold.ttf")
    (folder / "layouts").mkdir()
    sheet = folder / "layouts" / "styles.toml"
    sheet.write_text('[note]\nface = "sans"\nmost = "7pt"\nleast = "5pt"\n')
    before = read_styles(folder)["note"]
    sheet.write_text('[note]\nface = "sans"\nmost = "17pt"\nleast = "5pt"\n')
    assert (before.most, read_styles(folder)["note"].most) == (7, 17)
    assert read_styles(folder)["note"] is read_styles(folder)["note"]
    shutil.copy(FONTS / "NotoSerifCondensed-Regular.ttf", folder / "fonts" / "mine.ttf")
    now = read_styles(folder)["note"].face
    assert now.advance_of("m") != before.face.advance_of("m")
    assert typeface("sans", folder) is now
