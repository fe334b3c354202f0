"""Faults as an outsider plants them: one fact of a whole card is another, or is written otherwise.

Every piece of one file bears one of them, so that each must be told on its own piece.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from fontTools.pens.qu2cuPen import Qu2CuPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

from labeler.catalog.read import read_catalog
from labeler.checker.judge import check_pdf
from labeler.checker.report import Report

STOP, FIX = "stop", "fix"

CHANGED: list[tuple[str, str, str, str, str]] = [
    # What is another; the field, what it says in place of what it should, or beside it where it
    # begins with a plus; the grade; the rule. {} stands for what it should say.
    ("a large hook's size of a sister", "hook", "Hook 5/0", STOP, "hook-wrong"),
    ("the kind of a sister", "kind", "football jig", STOP, "fact-unaccounted"),
    ("two digits of the telephone change places", "phone", "715-555-0141", STOP,
     "fact-unaccounted"),
    ("the area code is the neighbours'", "phone", "608-555-0114", STOP, "fact-unaccounted"),
    ("the e-mail ends in another domain", "email", "bench@hobbin.example.org", STOP,
     "fact-unaccounted"),
    ("the e-mail's name is another", "email", "sales@hobbin.example.com", STOP, "fact-unaccounted"),
    ("the site has a letter that looks alike", "site", "hobbln.example.com", STOP,
     "fact-unaccounted"),
    ("the site has a path of its own", "site", "hobbin.example.com/sale", STOP, "fact-unaccounted"),
    ("one figure of the ZIP code", "town", "Alder Ferry, WI 54898", STOP, "fact-unaccounted"),
    ("the neighbouring state", "town", "Alder Ferry, MN 54899", STOP, "fact-unaccounted"),
    ("the figures of the street number change places", "street", "41 Cooper's Row", STOP,
     "fact-unaccounted"),
    ("the lot is of the year before", "lot", "2532900110", STOP, "lot-wrong"),
    ("the lot has lost its last figure", "lot", "26329001", STOP, "lot-wrong"),
    ("a second lot stands beside the first", "lot", "{} Lot 2632900355", STOP, "lot-wrong"),
    ("the lot is in letters", "lot", "MMXXVI", STOP, "fact-unaccounted"),
    ("a hook's size of a sister", "hook", "Hook 4", STOP, "fact-unaccounted"),
    ("the hook's finish of a sister", "finish", "bronze", STOP, "fact-unaccounted"),
    ("the hook's name of a sister", "finish", "Light-wire panfish hook", STOP, "fact-unaccounted"),
    ("the colour's name of a sister", "colour", "Ferry Perch", STOP, "piece-other-product"),
    ("the colour's name of a sister, in capitals", "colour", "FERRY PERCH", STOP,
     "piece-other-product"),
    ("the colour's name with a word more", "colour", "{} Dark", FIX, "words-unaccounted"),
    ("a SKU that no product has", "sku", "XX-14-30-TSP", STOP, "fact-unaccounted"),
    ("a sister's SKU", "sku", "RM-12-40-SBR", STOP, "piece-other-product"),
    ("ounces become grams", "weight", "1/4 g", STOP, "weight-wrong"),
    ("ounces become pounds", "weight", "1/4 lb", STOP, "weight-wrong"),
    ("a sign for another fraction", "weight", "½ oz", STOP, "weight-wrong"),
    ("a sign for a fraction after a whole", "weight", "1¼ oz", STOP, "weight-wrong"),
    ("a sign for eighths", "weight", "⅞ oz", STOP, "weight-wrong"),
    ("a decimal point that wandered", "weight", "2.5 oz", STOP, "weight-wrong"),
    ("a comma for the point", "weight", "0,5 oz", STOP, "weight-wrong"),
    ("no unit", "weight", "7/16", FIX, "words-unaccounted"),
    ("the price's figures change places", "price", "$4.59", STOP, "price-wrong"),
    ("the price with a comma", "price", "$4,59", STOP, "price-wrong"),
    ("the price without its sign", "price", "4.59", STOP, "fact-unaccounted"),
    ("the price in another currency", "price", "£4.95", STOP, "price-wrong"),
    ("the price close to its code", "price", "USD4.59", STOP, "price-wrong"),
    ("a price for an ounce", "note", "$13.20/oz", STOP, "price-wrong"),
    ("a price for each", "note", "49¢ each", STOP, "price-wrong"),
    ("a price struck by hand", "note", "was 6.50, now less", STOP, "fact-unaccounted"),
    ("six in capitals", "note", "6 PCS", STOP, "quantity-wrong"),
    ("a count after a slash", "note", "6/pk", STOP, "quantity-wrong"),
    ("a count with a cross", "note", "6x", FIX, "words-unaccounted"),
    ("a count in Roman figures", "note", "Pack of XII", STOP, "fact-unaccounted"),
    ("a dozen cut short", "note", "1 doz.", STOP, "fact-unaccounted"),
    ("pairs", "note", "2 prs", FIX, "words-unaccounted"),
    ("strands of a sister", "strands", "40 strands", FIX, "words-unaccounted"),
    ("a material's name that nobody tied", "strands", "rabbit fur", FIX, "words-unaccounted"),
    ("a length of a sister", "length", "4 3/4 in", FIX, "words-unaccounted"),
    ("the story of a sister", "story", "The hair is sorted by hand on winter evenings.", FIX,
     "words-unaccounted"),
    ("the story with a word more", "story", "{} Guaranteed.", STOP, "fact-unaccounted"),
    ("the care says the opposite", "care", "Do not rinse; hang it up.", FIX, "words-unaccounted"),
    ("the story breaks off", "story", "Reedmace began with a skirt that would not lie still", STOP,
     "fact-unaccounted"),
    ("lead is denied", "note", "Contains no lead.", STOP, "fact-unaccounted"),
    ("lead is doubted", "note", "May contain traces of lead", STOP, "fact-unaccounted"),
    ("lead is figured", "note", "Pb 0 %", STOP, "fact-unaccounted"),
    ("lead is denied in another language", "note", "Bleifrei", STOP, "house-claim-lead-free"),
    ("lead is denied in French", "note", "sans plomb", STOP, "house-claim-lead-free"),
    ("lead is denied in Spanish", "note", "sin plomo", STOP, "house-claim-lead-free"),
    ("a warning is said not to hold", "note", "Exempt from Prop 65", STOP, "fact-unaccounted"),
    ("letters apart", "note", "L E A D  F R E E", STOP, "house-claim-lead-free"),
    ("points between letters", "note", "L.E.A.D. F.R.E.E.", STOP, "house-claim-lead-free"),
    ("figures for letters", "note", "Lead-fr33", STOP, "fact-unaccounted"),
    ("an accent on a letter", "note", "Máde in China", STOP, "fact-unaccounted"),
    ("made elsewhere, in short", "note", "Made in PRC", STOP, "fact-unaccounted"),
    ("made elsewhere, in German", "note", "Hergestellt in China", STOP, "fact-unaccounted"),
    ("another company's mark", "note", "Otterline® Tackle", FIX, "words-unaccounted"),
    ("another company's copyright", "note", "© 2019 Otterline", FIX, "words-unaccounted"),
    ("a mark of conformity", "note", "CE", FIX, "words-unaccounted"),
    ("a mark of an estimated quantity", "note", "℮", FIX, "words-unaccounted"),
    ("a grade of seconds", "note", "Second quality", FIX, "words-unaccounted"),
    ("a sample", "note", "Sample, not for sale", STOP, "fact-unaccounted"),
    ("a name on a social site", "note", "@hobbin_jigs", FIX, "words-unaccounted"),
    ("a day to use it by", "note", "Use before June 2029", STOP, "fact-unaccounted"),
    ("an age", "note", "For ages 12+", STOP, "fact-unaccounted"),
    ("a hook that is something else", "note", "Barbless", FIX, "words-unaccounted"),
    ("a licence", "note", "License no. 4471", STOP, "fact-unaccounted"),
    ("another place under the code", "link", "go.example.com/01/09521234999990", STOP,
     "fact-unaccounted"),
    ("an article number with two figures swapped", "gtin", "9521234001085", STOP, "gtin-wrong"),
    ("an article number cut to ten", "gtin", "2123400105", STOP, "fact-unaccounted"),
    ("a maker's name with another ending", "maker", "Hobbin & Sons", FIX, "words-unaccounted"),
    ("a maker's name with a form of law", "maker", "{} LLC", STOP, "fact-unaccounted"),
    ("a part of the maker's name", "note", "Hob", FIX, "words-unaccounted"),
    ("the beginning of a statement alone", "note", "Keep from", STOP, "fact-unaccounted"),
    ("one figure", "note", "9", FIX, "words-unaccounted"),
]  # fmt: skip

LAYOUT = """{% macro say(key, due) %}
{%- set mine = wrong[product.sku] if product.sku in wrong else ("", "") %}
{%- if mine[0] == key %}{{ mine[1]|replace("{}", due ~ "") }}
{%- else %}{{ due }}{% endif %}{% endmacro %}
{% macro line(style, most, words) %}
<text style="{{ style }}" most="{{ most }}pt" least="5pt" lines="3">{{ words }}</text>
{% endmacro %}
{% set town = maker.city ~ ", " ~ maker.state ~ " " ~ maker.postcode %}
<piece name="outsiders" safe="1/16 in">
  <front pad="9pt, 10pt, 8pt, 10pt" gap="2pt">
    <row gap="8pt">
      <column share="1">
        {{ line("name", 12, product.pattern) }}
        {{ line("colour", 10, say("colour", product.colour)) }}
        {{ line("field", 6, say("kind", product.kind)) }}
      </column>
      {{ line("value", 14, say("weight", product.weight_oz)) }}
    </row>
    {{ line("note", 7, say("note", "See our site")) }}
    {{ line("note", 7, say("hook", "Hook " ~ product.hook_size)
       ~ ", " ~ say("finish", product.hook_finish)) }}
    {{ line("note", 7, say("strands", product.strands ~ " strands")) }}
    {% if product.length %}{{ line("note", 7, say("length", product.length)) }}{% endif %}
    <row gap="6pt">
      {{ line("note", 7, "Lot " ~ say("lot", lot)) }}
      {{ line("note", 7, say("sku", product.sku)) }}
      {{ line("note", 7, say("gtin", product.gtin)) }}
      {{ line("value", 7, say("price", product.price)) }}
    </row>
    <text style="story" most="6pt" least="5pt" lines="6">{{ say("story", product.story) }}</text>
    {{ line("note", 6, say("care", product.care)) }}
    {{ line("note", 6, say("maker", maker.name)) }}
    {{ line("note", 6, say("street", maker.street)) }}
    {{ line("note", 6, say("town", town)) }}
    {{ line("note", 6, say("phone", maker.phone) ~ " · " ~ say("email", maker.email)
       ~ " · " ~ say("site", maker.site)) }}
    {{ line("note", 6, say("link", link)) }}
    <spacer share="1"/>
    <disclosure name="disclosures" most="6pt"/>
    {% if link %}<code name="link" align="right"/>{% endif %}
  </front>
</piece>
"""


@dataclass(frozen=True)
class Outsiders:
    """One file in which every piece has another fault, and which piece has which."""

    report: Report
    sku_of: dict[str, str]


def laid_out(folder: Path, wrong: dict[str, tuple[str, str]]) -> Path:
    """Put a layout of all a maker's facts into a folder, some of them wrong."""
    (folder / "layouts").mkdir(exist_ok=True)
    text = f"{{% set wrong = {json.dumps(wrong, ensure_ascii=False)} %}}\n{LAYOUT}"
    (folder / "layouts" / "outsiders.xml.jinja").write_text(text, "utf-8")
    (folder / "layouts" / "layouts.toml").write_text(
        '[outsiders]\nabout = "To be damaged."\nuse = "cards"\n'
        'least = ["3 in", "3 in"]\nmost = ["6 in", "6 in"]\n'
    )
    return folder


@pytest.fixture(scope="module")
def outsiders(workshop: Any, tmp_path_factory: pytest.TempPathFactory) -> Outsiders:
    """Print a card for each fault, and check it against the catalog that has none of them."""
    root = tmp_path_factory.mktemp("outsiders")
    true = laid_out(workshop.copied(root / "true"), {})
    skus = [p.sku for p in read_catalog(true).products if p.weight.oz_text != "3/8 oz"]
    sku_of = {row[0]: sku for row, sku in zip(CHANGED, skus, strict=False)}
    assert len(sku_of) == len(CHANGED)
    wrong = {sku_of[name]: (field, says) for name, field, says, _, _ in CHANGED}
    false = laid_out(workshop.copied(root / "false"), wrong)
    run = workshop.printed(
        false, root / "outsiders.pdf", skus=tuple(sku_of.values()), use="cards",
        layout="outsiders", size=(252.0, 252.0),
    )  # fmt: skip
    return Outsiders(check_pdf(run.pdf, true, day=workshop.day), sku_of)


@pytest.mark.parametrize("row", CHANGED, ids=lambda row: row[0])
def test_a_fact_that_is_another_is_told_on_its_piece(
    row: tuple[str, ...], outsiders: Outsiders, expect_fault: Callable[..., None]
) -> None:
    name, _, _, grade, rule = row
    sku = outsiders.sku_of[name]
    expect_fault(name, rule, outsiders.report, sku)
    mine = [each for each in outsiders.report.findings if each.place.piece == sku]
    assert (STOP in {each.grade.value for each in mine}) == (grade == STOP), mine


# ----------------------------------------------------------------------------
# Words brought onto a finished page in ways that a reader of text alone would miss.

Damage = Callable[[Any, str], None]
CHINA, FREE = "Made in China", "LEAD FREE"
LEFT, FOOT = 60, 150
HELVETICA = pikepdf.Dictionary(
    Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name.Helvetica
)


def shown(text: str, matrix: str = f"1 0 0 -1 {LEFT} {FOOT}", ink: str = "0 g") -> str:
    return f"BT {ink} /FH 7 Tf {matrix} Tm ({text}) Tj ET"


def typed(operators: str) -> Damage:
    def damage(sheet: Any, sku: str) -> None:
        sheet.helvetica(sku)
        sheet.over(sku, operators)

    return damage


def told_as(shows: str, letter: str, says: str) -> Damage:
    """Show words of which the text layer says one letter otherwise."""

    def damage(sheet: Any, sku: str) -> None:
        said = {each: each for each in shows} | {letter: says}
        lines = "".join(
            f"<{ord(each):02X}> <{text.encode('utf-16-be').hex().upper()}>\n"
            for each, text in said.items()
        )
        page = sheet.pdf.pages[sheet.page_number(sku)]
        font = pikepdf.Dictionary(HELVETICA)
        font.Encoding = pikepdf.Name.WinAnsiEncoding
        font.ToUnicode = sheet.pdf.make_stream(
            f"{len(said)} beginbfchar\n{lines}endbfchar".encode()
        )
        name = f"FL{len(page.Resources.Font)}"
        page.Resources.Font[f"/{name}"] = font
        sheet.over(sku, shown(shows).replace("/FH", f"/{name}"))

    return damage


def stream_with_words(sheet: Any, text: str, matrix: str) -> Any:
    stream = sheet.pdf.make_stream(shown(text, matrix).encode())
    stream.BBox = [0, 0, 1000, 1000]
    stream.Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(FH=HELVETICA))
    return stream


def named(sheet: Any, sku: str, kind: str, name: str, thing: Any) -> None:
    resources = sheet.pdf.pages[sheet.page_number(sku)].Resources
    things = resources.get(kind, pikepdf.Dictionary())
    things[name] = thing
    resources[kind] = things


def in_a_form(sheet: Any, sku: str) -> None:
    form = stream_with_words(sheet, FREE, f"1 0 0 -1 {LEFT} {FOOT}")
    form.Type, form.Subtype = pikepdf.Name.XObject, pikepdf.Name.Form
    named(sheet, sku, "/XObject", "/Words", form)
    sheet.over(sku, "/Words Do")


def in_a_pattern(sheet: Any, sku: str) -> None:
    tile = stream_with_words(sheet, FREE, "1 0 0 1 2 4")
    tile.PatternType, tile.PaintType, tile.TilingType = 1, 1, 1
    tile.BBox, tile.XStep, tile.YStep = [0, 0, 60, 12], 60, 12
    named(sheet, sku, "/Pattern", "/Words", tile)
    sheet.over(sku, f"/Pattern cs /Words scn {LEFT} {FOOT} 60 12 re f")


def annotated(kind: str, states: bool = False) -> Damage:
    """Lay a comment or a form field with words over a piece."""

    def damage(sheet: Any, sku: str) -> None:
        number, spot, _ = sheet.page_of(sku)
        page = sheet.pdf.pages[number]
        form = stream_with_words(sheet, FREE, "1 0 0 1 2 4")
        form.Type, form.Subtype = pikepdf.Name.XObject, pikepdf.Name.Form
        form.BBox = [0, 0, 60, 14]
        x, y = spot[1] + LEFT, float(page.MediaBox[3]) - spot[2] - FOOT
        entry = pikepdf.Dictionary(
            Type=pikepdf.Name.Annot, Subtype=pikepdf.Name(kind), Rect=[x, y, x + 60, y + 14], F=4,
            AP=pikepdf.Dictionary(N=pikepdf.Dictionary(On=form) if states else form),
        )  # fmt: skip
        if states:
            entry.AS = pikepdf.Name.On
        entry = sheet.pdf.make_indirect(entry)
        if kind == "/Widget":
            entry.FT, entry.T = pikepdf.Name.Tx, "words"
            sheet.pdf.Root.AcroForm = pikepdf.Dictionary(Fields=[entry])
        given = page.get("/Annots", pikepdf.Array())
        given.append(entry)
        page.Annots = given

    return damage


def pictured(sheet: Any, sku: str) -> None:
    picture = sheet.pdf.make_stream(bytes(range(0, 256, 4)))
    picture.Type, picture.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
    picture.Width, picture.Height, picture.BitsPerComponent = 8, 8, 8
    picture.ColorSpace = pikepdf.Name.DeviceGray
    named(sheet, sku, "/XObject", "/Stamp", picture)
    sheet.over(sku, f"30 0 0 12 {LEFT} {FOOT} cm /Stamp Do")


def outlined(whole: bool) -> Damage:
    """Draw words as the outlines of their letters: each by itself, or all as one path."""

    def damage(sheet: Any, sku: str) -> None:
        font = TTFont(sorted((Path(__file__).parents[3] / "fonts").glob("*.ttf"))[0])
        glyphs, names, em = font.getGlyphSet(), font.getBestCmap(), font["head"].unitsPerEm
        x, steps = float(LEFT), []
        for letter in FREE.replace(" ", "-"):
            glyph, size = glyphs[names[ord(letter)]], 9 / em
            pen = SVGPathPen(glyphs)
            glyph.draw(TransformPen(Qu2CuPen(pen, 1.0), (size, 0, 0, -size, x, FOOT)))
            marks = re.findall(r"[MLCHVZ][^MLCHVZ]*", pen.getCommands())
            steps += [*_operators(marks), "" if whole else "f"]
            x += glyph.width * size
        sheet.over(sku, f"0 g {' '.join(steps)} f")

    return damage


def _operators(marks: list[str]) -> Iterator[str]:
    """Yield a path's operators for what SVG writes of it (SVG 1.1, 8.3)."""
    x = y = "0"
    for mark in marks:
        numbers = re.findall(r"-?[\d.]+", mark[1:])
        if mark[0] == "Z":
            yield "h"
            continue
        x = numbers[-2] if mark[0] in "MLC" else numbers[0] if mark[0] == "H" else x
        y = numbers[-1] if mark[0] in "MLC" else numbers[0] if mark[0] == "V" else y
        yield (
            f"{' '.join(numbers)} c"
            if mark[0] == "C"
            else f"{x} {y} {'m' if mark[0] == 'M' else 'l'}"
        )


DRAWN: list[tuple[str, str, Damage]] = [
    ("words as a hole that black is seen through", "fact-unaccounted",
     typed(f"q {shown(FREE, ink='7 Tr')} 0 g {LEFT - 5} {FOOT - 10} 60 14 re f Q")),
    ("words in the tile of a pattern", "picture-unaccounted", in_a_pattern),
    ("words in a form", "fact-unaccounted", in_a_form),
    ("words in a comment", "fact-unaccounted", annotated("/FreeText")),
    ("words in a stamp", "fact-unaccounted", annotated("/Stamp")),
    ("words in a form field, which PDFium leaves out", "page-laid-over",
     annotated("/Widget", states=True)),
    ("a picture", "picture-unaccounted", pictured),
    ("a picture among the operators", "picture-unaccounted",
     typed(f"30 0 0 12 {LEFT} {FOOT} cm BI /W 2 /H 2 /BPC 8 /CS /G /F /AHx ID 00ff00ff> EI")),
    ("words as outlines, letter by letter", "letters-drawn", outlined(whole=False)),
    ("words as one outline", "letters-drawn", outlined(whole=True)),
    ("a Cyrillic letter among Latin ones", "fact-unaccounted", told_as("7/16 oz", "o", "о")),
    ("an unseen joiner in a word", "fact-unaccounted", told_as(CHINA, "a", "a\u200d")),
    ("an unseen hyphen in a word", "fact-unaccounted", told_as(CHINA, "i", "i\u00ad")),
    ("a sign that turns the order of letters", "fact-unaccounted", told_as(CHINA, "M", "\u202eM")),
    ("a ligature for two letters", "fact-unaccounted", told_as("100 % of ice", "f", "ﬀ")),
    ("figures of full width", "weight-wrong", told_as("9 oz", "9", "９")),
    ("letters of lines alone", "fact-unaccounted", typed(f"0.2 w 1 Tr 0 G {shown(CHINA)}")),
    ("up the edge", "fact-unaccounted", typed(shown(CHINA, f"0 -1 -1 0 {LEFT} {FOOT + 40}"))),
    ("upside down", "fact-unaccounted", typed(shown(CHINA, f"-1 0 0 1 {LEFT + 60} {FOOT}"))),
    ("askew", "fact-unaccounted", typed(shown(CHINA, f".94 .34 .34 -.94 {LEFT} {FOOT}"))),
    ("in letters of one point", "fact-unaccounted",
     typed(shown(CHINA, f".15 0 0 -.15 {LEFT} {FOOT}"))),
    ("in pale grey", "fact-unaccounted", typed(shown(CHINA, ink="0.9 g"))),
    ("white in a black box", "fact-unaccounted",
     typed(f"0 g {LEFT - 3} {FOOT - 9} 60 12 re f {shown(CHINA, ink='1 g')}")),
    ("letters far apart", "fact-unaccounted", typed(f"3 Tc {shown(CHINA)} 0 Tc")),
    ("letters twice as wide", "fact-unaccounted", typed(f"200 Tz {shown(CHINA)} 100 Tz")),
    ("words that are said to be others", "fact-unaccounted",
     typed(f"/Span << /ActualText (Fish it slow) >> BDC {shown(CHINA)} EMC")),
]  # fmt: skip


@pytest.fixture(scope="module")
def drawn(
    workshop: Any, sheet_of: Any, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Report, dict[str, str]]:
    """Damage each card of one good file otherwise."""
    root = tmp_path_factory.mktemp("drawn")
    true = workshop.copied(root / "true")
    skus = [p.sku for p in read_catalog(true).products if not p.photo][: len(DRAWN)]
    good = workshop.printed(
        true, root / "good.pdf", skus=tuple(skus), use="cards", layout="header-card"
    )
    with pikepdf.open(good.pdf) as pdf:
        sheet = sheet_of(pdf)
        for (_, _, damage), sku in zip(DRAWN, skus, strict=True):
            damage(sheet, sku)
        file = sheet.save(root / "damaged.pdf")
    report = check_pdf(file, true, day=workshop.day)
    return report, {row[0]: sku for row, sku in zip(DRAWN, skus, strict=True)}


@pytest.mark.parametrize("row", DRAWN, ids=lambda row: row[0])
def test_words_are_told_however_they_came_onto_the_page(
    row: tuple[str, str, Damage], drawn: Any, expect_fault: Callable[..., None]
) -> None:
    name, rule, _ = row
    report, sku_of = drawn
    expect_fault(name, rule, report, sku_of[name])
