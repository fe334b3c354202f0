"""Words dropped, changed, torn apart or false: the statement is not on the piece in full."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pikepdf
import pytest

Sheet = Any
SKU = "RM-14-30-TSP"
LEAD = "Contains lead."


def dropped(words: str) -> Callable[[Sheet], None]:
    return lambda sheet: sheet.drop(SKU, words)


def changed(old: str, new: str) -> Callable[[Sheet], None]:
    return lambda sheet: sheet.rewrite(SKU, old, new)


def scrambled(sheet: Sheet) -> None:
    """Two lines of one paragraph change places; the text layer's order stays as it was."""
    upper, lower = (sheet.holding(SKU, words) for words in ("Wash hands", "not put in mouth"))
    sheet.matrix(SKU, upper, lambda a, b, c, d, e, f: (a, b, c, d, e, f + 7.41))
    sheet.matrix(SKU, lower, lambda a, b, c, d, e, f: (a, b, c, d, e, f - 7.41))


def spread(sheet: Sheet) -> None:
    run = sheet.run(SKU, LEAD)
    sheet.wrap(SKU, run, "20 Tc", "0 Tc")


def off_the_page(sheet: Sheet) -> None:
    sheet.move(SKU, LEAD, -3000, 0)


def into_the_neighbours_cell(sheet: Sheet) -> None:
    sheet.move(SKU, LEAD, 198, 0)


def a_lying_font(sheet: Sheet, told: str, meant: str) -> None:
    """Give a font's codes other letters than its outlines have."""
    page = sheet.page_number(SKU)
    run = sheet.run(SKU, LEAD)
    entry = sheet.pdf.pages[page].Resources.Font[run.font]
    text = entry.ToUnicode.read_bytes()
    codes = {letter: code for code, letter in sheet.letters(page, run.font).items()}
    line = f"<{codes[told]:02X}> <{ord(told):04X}>".encode()
    assert line in text
    entry.ToUnicode = sheet.pdf.make_stream(
        text.replace(line, f"<{codes[told]:02X}> <{ord(meant):04X}>".encode())
    )


def says_lead_shows_load(sheet: Sheet) -> None:
    """The text layer keeps its e, and the page shows an o."""
    page = sheet.page_number(SKU)
    run = sheet.run(SKU, LEAD)
    letters = sheet.letters(page, run.font)
    codes = {letter: code for code, letter in letters.items()}
    entry = sheet.pdf.pages[page].Resources.Font[run.font]
    text = entry.ToUnicode.read_bytes()
    old = f"<{codes['o']:02X}> <006F>".encode()
    entry.ToUnicode = sheet.pdf.make_stream(
        text.replace(old, f"<{codes['o']:02X}> <0065>".encode())
    )
    data = bytes(codes["o"] if letter == "e" else codes[letter] for letter in LEAD)
    words = sheet.words(page)
    words[run.at] = pikepdf.ContentStreamInstruction([pikepdf.String(data)], pikepdf.Operator("Tj"))


def a_quarter_that_says_three_eighths(sheet: Sheet) -> None:
    """The eye sees 1/4 in the large weight, and the text layer says 3/4."""
    page = sheet.page_number(SKU)
    run = next(each for each in sheet.runs(SKU) if each.text == "1" and each.size > 10)
    entry = sheet.pdf.pages[page].Resources.Font[run.font]
    codes = {letter: code for code, letter in sheet.letters(page, run.font).items()}
    text = entry.ToUnicode.read_bytes()
    old = f"<{codes['1']:02X}> <0031>".encode()
    entry.ToUnicode = sheet.pdf.make_stream(
        text.replace(old, f"<{codes['1']:02X}> <0033>".encode())
    )


def as_a_picture(words: str) -> Callable[[Sheet], None]:
    """A statement becomes a picture of itself: it looks the same, and is text no more."""

    def damage(sheet: Sheet) -> None:
        x, y, size, wide = sheet.spot(SKU, words)
        sheet.drop(SKU, words)
        picture_at(sheet, x, y - size, wide, size * 1.2)

    return damage


def picture_at(sheet: Sheet, x: float, y: float, wide: float, high: float) -> None:
    """Lay a grey picture somewhere on the piece."""
    image = sheet.pdf.make_stream(bytes(range(0, 256, 4)))
    image.Type, image.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
    image.Width, image.Height, image.BitsPerComponent = 8, 8, 8
    image.ColorSpace = pikepdf.Name.DeviceGray
    resources = sheet.pdf.pages[sheet.page_number(SKU)].Resources
    objects = resources.get("/XObject", pikepdf.Dictionary())
    objects["/PicX"] = image
    resources["/XObject"] = objects
    sheet.over(SKU, f"{wide} 0 0 {high} {x} {y} cm /PicX Do")


def all_as_a_picture(sheet: Sheet) -> None:
    for run in list(sheet.runs(SKU)):
        sheet.write(SKU, run, "")
    picture_at(sheet, 8, 8, 100, 50)


def a_font_from_elsewhere(sheet: Sheet) -> None:
    """The statement stands there in a font that is not inside the file."""
    x, y, size, _ = sheet.spot(SKU, LEAD)
    sheet.drop(SKU, LEAD)
    sheet.helvetica(SKU)
    sheet.over(SKU, f"BT 0 g /FH {size} Tf 1 0 0 -1 {x} {y} Tm ({LEAD}) Tj ET")


def in_a_layer_that_is_off(sheet: Sheet) -> None:
    group = sheet.pdf.make_indirect(
        pikepdf.Dictionary(Type=pikepdf.Name.OCG, Name=pikepdf.String("hidden"))
    )
    sheet.pdf.Root.OCProperties = pikepdf.Dictionary(
        OCGs=[group], D=pikepdf.Dictionary(OFF=[group], BaseState=pikepdf.Name.ON)
    )
    resources = sheet.pdf.pages[sheet.page_number(SKU)].Resources
    resources["/Properties"] = pikepdf.Dictionary(HID=group)
    sheet.wrap(SKU, sheet.run(SKU, LEAD), "/OC /HID BDC", "EMC")


def in_letters_of_no_size(sheet: Sheet) -> None:
    """Only the first letter has a size; the rest is there for whoever reads the text layer."""
    page = sheet.page_number(SKU)
    run = sheet.run(SKU, LEAD)
    codes = {letter: code for code, letter in sheet.letters(page, run.font).items()}
    first, rest = bytes([codes["C"]]).hex(), bytes(codes[c] for c in LEAD[1:]).hex()
    x, y, size, _ = sheet.spot(SKU, LEAD)
    sheet.drop(SKU, LEAD)
    show = f"<{first}> Tj {run.font} 0 Tf <{rest}> Tj"
    sheet.over(SKU, f"BT 0 g {run.font} {size} Tf 1 0 0 -1 {x} {y} Tm {show} ET")


def one_glyph_that_says_it_all(sheet: Sheet) -> None:
    """A single full stop is printed, and the text layer says the whole statement for it."""
    page = sheet.page_number(SKU)
    run = sheet.run(SKU, LEAD)
    entry = sheet.pdf.pages[page].Resources.Font[run.font]
    code = next(code for code, letter in sheet.letters(page, run.font).items() if letter == ".")
    said = LEAD.encode("utf-16-be").hex().upper()
    renamed(sheet)
    entry.ToUnicode = sheet.pdf.make_stream(
        entry.ToUnicode.read_bytes().replace(
            f"<{code:02X}> <002E>".encode(), f"<{code:02X}> <{said}>".encode()
        )
    )
    data = pikepdf.String(bytes([code]))
    sheet.words(page)[run.at] = pikepdf.ContentStreamInstruction([data], pikepdf.Operator("Tj"))


def renamed(sheet: Sheet, name: str = "/AAAAAA+Unheard-Of") -> None:
    """A font gives itself another name; its outlines are still those of the face."""
    page = sheet.page_number(SKU)
    run = sheet.run(SKU, LEAD)
    entry = sheet.pdf.pages[page].Resources.Font[run.font]
    entry.BaseFont = entry.FontDescriptor.FontName = pikepdf.Name(name)


def from_another_face(sheet: Sheet) -> None:
    """The statement is set in a whole font that is none of the shelf's."""
    from fontTools.ttLib import TTFont

    page = sheet.page_number(SKU)
    run = sheet.run(SKU, LEAD)
    entry = sheet.pdf.pages[page].Resources.Font[run.font]
    file = entry.FontDescriptor.FontFile2
    from io import BytesIO

    font = TTFont(BytesIO(file.read_bytes()))
    for name in font.getGlyphOrder():
        glyph = font["glyf"][name]
        if glyph.numberOfContours > 0:
            glyph.coordinates.scale((1.0, 0.97))
    out = BytesIO()
    font.save(out)
    entry.FontDescriptor.FontFile2 = sheet.pdf.make_stream(out.getvalue())
    renamed(sheet)


def printed_twice(sheet: Sheet) -> None:
    """The same words on themselves, a hair aside, as old programs make type bold."""
    x, y, size, _ = sheet.spot(SKU, LEAD)
    sheet.typed(SKU, x + 0.05, y, LEAD, f"{LEAD}@{size}")


def in_a_pale_pattern(sheet: Sheet) -> None:
    """The ink is a pattern of pale grey, whose colour no operator of the page tells."""
    page = sheet.page_number(SKU)
    tile = sheet.pdf.make_stream(b"0.8 g 0 0 4 4 re f")
    tile.Type, tile.PatternType, tile.PaintType = pikepdf.Name.Pattern, 1, 1
    tile.TilingType, tile.BBox, tile.XStep, tile.YStep = 1, [0, 0, 4, 4], 4, 4
    tile.Resources = pikepdf.Dictionary()
    sheet.pdf.pages[page].Resources["/Pattern"] = pikepdf.Dictionary(P0=tile)
    sheet.wrap(SKU, sheet.run(SKU, LEAD), "/Pattern cs /P0 scn", "0 g")


FAULTS: list[tuple[str, str, str, Callable[[Sheet], None]]] = [
    ("the lead warning is dropped", "statement-missing", "strip", dropped(LEAD)),
    ("the hook caution is dropped", "statement-missing", "strip", dropped("Sharp hook.")),
    ("the end of a caution is dropped", "statement-missing", "strip", dropped("after handling.")),
    ("the maker's address is dropped", "statement-missing", "strip",
     dropped("14 Cooper’s Row, Alder Ferry, WI 54899, USA")),
    ("the Proposition 65 warning loses its end", "statement-missing", "witness",
     dropped("harm. For more information go to www.P65Warnings.ca.gov.")),
    ("a word of the warning is another", "statement-missing", "witness",
     changed("birth defects", "birth effects")),
    ("the signal word is not all capitals", "statement-missing", "witness",
     changed("WARNING:", "WARNInG:")),
    ("one letter: load for lead", "statement-missing", "strip", changed("lead", "load")),
    ("one figure of the ZIP code", "statement-missing", "strip", changed("54899", "54889")),
    ("a word is left out", "statement-missing", "strip", changed("children and pets", "children")),
    ("two words change places", "statement-missing", "witness",
     changed("cancer and birth", "birth and cancer")),
    ("two words run together", "statement-missing", "strip", changed(LEAD, "Containslead.")),
    ("a not slips in", "statement-missing", "strip", changed(LEAD, "Contains no lead.")),
    ("two lines change places", "statement-missing", "witness", scrambled),
    ("the letters are spread over the label", "statement-missing", "strip", spread),
    ("the warning stands outside the page", "statement-missing", "strip", off_the_page),
    ("the warning stands on the next label", "statement-missing", "strip",
     into_the_neighbours_cell),
    ("the warning is a picture of itself", "statement-missing", "strip", as_a_picture(LEAD)),
    ("the whole label is a picture", "piece-empty", "strip", all_as_a_picture),
    ("the text layer says lead, the eye sees load", "statement-missing", "strip",
     says_lead_shows_load),
    ("the eye sees lead, the text layer says load", "letters-false", "strip",
     lambda sheet: a_lying_font(sheet, "e", "o")),
    ("the eye sees 1/4, the text layer says 3/4", "letters-false", "strip",
     a_quarter_that_says_three_eighths),
    ("a letter has lost its outline in the text layer", "letters-false", "strip",
     lambda sheet: a_lying_font(sheet, "C", " ")),
    ("the warning is set in a font that is not in the file", "font-missing", "strip",
     a_font_from_elsewhere),
    ("its letters can't be measured", "statement-unmeasured", "strip", a_font_from_elsewhere),
    ("the warning is in a layer that is off", "statement-unseen", "strip",
     in_a_layer_that_is_off),
    ("letters of no size", "statement-unseen", "strip", in_letters_of_no_size),
    ("one full stop that says it all in the text layer", "statement-missing", "strip",
     one_glyph_that_says_it_all),
    ("a font that is cut from no face of the shelf", "font-strange", "strip", from_another_face),
    ("a font by another name, whose outlines are known", "", "strip", renamed),
    ("type printed twice on itself, which reads as once", "", "strip", printed_twice),
    ("ink that is a pale pattern", "statement-unreadable", "strip", in_a_pale_pattern),
    ("the quantity is dropped", "statement-missing", "witness", dropped("12 JIGS")),
    ("the identity says another thing", "statement-missing", "strip",
     changed("Swim jig", "Swim rig")),
    ("the maker's name has a slip", "statement-missing", "strip",
     changed("Hobbin & Daughter", "Hobbin & Daughters")),
]  # fmt: skip


@pytest.mark.daily("its letters can't be measured")
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault[0])
def test_what_is_not_said_in_full_is_found(fault: tuple[Any, ...], hunt: Any) -> None:
    name, rule, base, damage = fault
    hunt(name, rule, base, SKU, damage)


def test_the_nearest_words_on_the_piece_are_told(hunt: Any) -> None:
    report = hunt(
        "one letter, and what stands there is told", "statement-missing", "strip", SKU,
        changed("Keep from children", "Keep from chidlren"),
    )  # fmt: skip
    (said,) = [each for each in report.findings if each.rule == "statement-missing"]
    assert "chidlren" in said.found


@pytest.mark.daily
def test_what_the_eye_reads_counts_and_not_what_the_file_says(hunt: Any) -> None:
    """The large weight is still 1/4 to the eye, so the weight itself is not called wrong."""
    report = hunt(
        "the eye sees the right weight", "letters-false", "strip", SKU,
        a_quarter_that_says_three_eighths,
    )  # fmt: skip
    assert not [each for each in report.findings if each.rule == "weight-wrong"]
