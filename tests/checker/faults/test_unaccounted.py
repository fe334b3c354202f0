"""Words that neither the catalog nor a layout accounts for, each on a piece of its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import numpy as np
import pikepdf
import pytest
import zxingcpp

from labeler.catalog.read import read_catalog
from labeler.checker.judge import check_pdf
from labeler.checker.report import Report
from labeler.findings import Grade

STOP, FIX = "stop", "fix"

PLANTED: list[tuple[str, str, str]] = [
    # What the words say that are printed beside a good label; the grade; how they are found.
    ("half ounce", STOP, "weight-wrong"),
    ("three eighths", FIX, "words-unaccounted"),
    ("three eighths of an ounce", STOP, "weight-wrong"),
    ("7/16-oz", STOP, "weight-wrong"),
    ("1-3/8 oz", STOP, "weight-wrong"),
    ("seven sixteenths oz.", STOP, "weight-wrong"),
    ("one and a half ounces", STOP, "weight-wrong"),
    ("a quarter pound", STOP, "weight-wrong"),
    ("ten grams", FIX, "words-unaccounted"),
    ("twelve grams", STOP, "weight-wrong"),
    ("150 grain", STOP, "fact-unaccounted"),
    ("Net 12.4", STOP, "fact-unaccounted"),
    ("395¢", STOP, "price-wrong"),
    ("3.95 USD", STOP, "price-wrong"),
    ("USD 3.95", STOP, "price-wrong"),
    ("CA$6.49", STOP, "price-wrong"),
    ("four dollars", STOP, "price-wrong"),
    ("95 cents", STOP, "price-wrong"),
    ("€4", STOP, "price-wrong"),
    ("20% off", STOP, "fact-unaccounted"),
    ("Sale! Buy two", STOP, "fact-unaccounted"),
    ("Batch 263290021", STOP, "lot-wrong"),
    ("Lot 263290021", STOP, "lot-wrong"),
    ("Serial A-1001", STOP, "lot-wrong"),
    ("Best before 2027-05-01", STOP, "fact-unaccounted"),
    ("Made on 11/02/26", STOP, "fact-unaccounted"),
    ("Pack of six", STOP, "quantity-wrong"),
    ("3-pack", STOP, "quantity-wrong"),
    ("two dozen", STOP, "quantity-wrong"),
    ("Contents: 5", STOP, "quantity-wrong"),
    ("4 pcs", STOP, "quantity-wrong"),
    ("Qty 25", STOP, "quantity-wrong"),
    ("a pair", STOP, "fact-unaccounted"),
    ("Made in China", STOP, "fact-unaccounted"),
    ("Product of Norway", STOP, "fact-unaccounted"),
    ("Tied in Vermont", STOP, "fact-unaccounted"),
    ("Made in Minnesota", STOP, "fact-unaccounted"),
    ("Fabriqué au Canada", STOP, "fact-unaccounted"),
    ("All American", STOP, "fact-unaccounted"),
    ("Pb-free", STOP, "fact-unaccounted"),
    ("leadless", STOP, "fact-unaccounted"),
    ("Safe for ducks", STOP, "fact-unaccounted"),
    ("eco-minded", STOP, "fact-unaccounted"),
    ("tungsten head", STOP, "fact-unaccounted"),
    ("Ages 3 and up", STOP, "fact-unaccounted"),
    ("Guaranteed for life", STOP, "fact-unaccounted"),
    ("Patent pending", STOP, "fact-unaccounted"),
    ("CHOKING HAZARD", STOP, "fact-unaccounted"),
    ("Not a toy", STOP, "fact-unaccounted"),
    ("Harmful if inhaled", STOP, "fact-unaccounted"),
    ("715-555-0199", STOP, "fact-unaccounted"),
    ("Call 555 0123", STOP, "fact-unaccounted"),
    ("jigs.example.org", STOP, "fact-unaccounted"),
    ("www.hobbins.example.com", STOP, "fact-unaccounted"),
    ("sales@hobbin.example.com", STOP, "fact-unaccounted"),
    ("16 Cooper's Row", STOP, "fact-unaccounted"),
    ("Alder Ferry, WI 54898", STOP, "fact-unaccounted"),
    ("9 Mill Lane, Otter Falls", STOP, "fact-unaccounted"),
    ("Hobbin & Sons LLC", STOP, "fact-unaccounted"),
    ("RM-38-40-ZZZ", STOP, "fact-unaccounted"),
    ("Item 4471", STOP, "fact-unaccounted"),
    ("Hook 5/0", STOP, "hook-wrong"),
    ("Hook #2", STOP, "fact-unaccounted"),
    ("in the Swim jig family", STOP, "fact-unaccounted"),
    ("in Delft Craw", STOP, "fact-unaccounted"),
    ("Model 12", STOP, "fact-unaccounted"),
    ("9521234000999", STOP, "gtin-wrong"),
    ("Hobbin and Daughter", FIX, "words-unaccounted"),
    ("DRAFT", FIX, "words-unaccounted"),
    ("Lorem ipsum", FIX, "words-unaccounted"),
    ("12", FIX, "words-unaccounted"),
    ("xx", FIX, "words-unaccounted"),
    ("Ask for Wren", FIX, "words-unaccounted"),
    ("Ooops", FIX, "words-unaccounted"),
    ("See over", FIX, "words-unaccounted"),
]  # fmt: skip

LAYOUT = """<piece name="planted" safe="1/16 in">
  <front pad="9pt, 10pt, 8pt, 10pt" gap="3pt">
    <row gap="8pt">
      <column share="1">
        <text style="name" most="14pt" least="7pt" lines="2">{{ product.pattern }}</text>
        <text style="colour" most="10pt" least="7pt" lines="2">{{ product.colour }}</text>
      </column>
      <text style="weight" most="24pt" lines="1">{{ product.weight_number }}
        {{ product.weight_unit }}</text>
    </row>
    <text name="planted" style="note" most="9pt" lines="1">WORDS</text>
    <spacer share="1"/>
    <row gap="10pt" valign="bottom">
      <column share="1" gap="2pt">
        <text name="hook" style="note" most="7pt" lines="1">Hook {{ product.hook_size }}</text>
        <text name="lot" style="note" most="7pt" lines="1">Lot {{ lot }}</text>
      </column>
      {% if link %}<code name="link" align="right"/>{% endif %}
    </row>
    <disclosure name="disclosures" most="7pt"/>
  </front>
</piece>
"""


@dataclass(frozen=True)
class Planted:
    """One file in which every piece bears other words, and what is said of each."""

    report: Report
    sku_of: dict[str, str]


def with_words(folder: Path, words: str) -> Path:
    """Put the layout with some words into a catalog's folder."""
    (folder / "layouts").mkdir(exist_ok=True)
    (folder / "layouts" / "planted.xml.jinja").write_text(LAYOUT.replace("WORDS", words), "utf-8")
    (folder / "layouts" / "layouts.toml").write_text(
        '[planted]\nabout = "To be damaged."\nuse = "bags"\n'
        'least = ["3 in", "1 3/4 in"]\nmost = ["6 in", "6 in"]\n'
    )
    return folder


@pytest.fixture(scope="module")
def planted(workshop: Any, tmp_path_factory: pytest.TempPathFactory) -> Planted:
    """Print a piece for each row of the table, and check it against the catalog without them."""
    root = tmp_path_factory.mktemp("planted")
    true = with_words(workshop.copied(root / "true"), "")
    skus = [p.sku for p in read_catalog(true).products if p.weight.oz_text != "3/8 oz"]
    assert len(skus) >= len(PLANTED)
    sku_of = {words: sku for (words, _, _), sku in zip(PLANTED, skus, strict=False)}
    cases = "".join(
        f'{{% if product.sku == "{sku}" %}}{escape(words)}{{% endif %}}'
        for words, sku in sku_of.items()
    )
    false = with_words(workshop.copied(root / "false"), cases)
    run = workshop.printed(
        false, root / "planted.pdf", skus=tuple(sku_of.values()), sheet="letter-2x3",
        layout="planted",
    )  # fmt: skip
    return Planted(check_pdf(run.pdf, true, day=workshop.day), sku_of)


@pytest.mark.parametrize("row", PLANTED, ids=lambda row: row[0])
def test_words_that_nothing_accounts_for_are_told(
    row: tuple[str, str, str], planted: Planted, expect_fault: Callable[..., None]
) -> None:
    words, grade, rule = row
    sku = planted.sku_of[words]
    expect_fault(f"printed beside: {words}", rule, planted.report, sku)
    mine = [each for each in planted.report.findings if each.place.piece == sku]
    grades = {each.grade.value for each in mine} & {STOP, FIX}
    assert (STOP in grades) == (grade == STOP), grades


def test_nothing_else_is_said_of_pieces_that_bear_no_such_words(
    workshop: Any, tmp_path: Path, grave: Any
) -> None:
    """A maker's own layout with its own words, in its own folder, is accounted for."""
    folder = with_words(
        workshop.copied(tmp_path / "own"), "Since the flood. Fish it slow, near the bottom!"
    )
    run = workshop.printed(
        folder, tmp_path / "own.pdf", skus=("RM-*", "EP-*"), sheet="letter-2x3", layout="planted"
    )
    report = check_pdf(run.pdf, folder, day=workshop.day)
    assert report.pieces > 10
    assert not grave(report), report.as_text()


@pytest.mark.parametrize(
    ("words", "rule"),
    [("3/8-oz.", "weight-wrong"), ("3.95 USD", "price-wrong"), ("Batch 263290021", "lot-wrong"),
     ("Pack of six", "quantity-wrong"), ("half an ounce", "weight-wrong")],
)  # fmt: skip
def test_a_layouts_own_words_may_not_state_what_the_catalog_states_otherwise(
    words: str, rule: str, workshop: Any, tmp_path: Path, expect_fault: Callable[..., None]
) -> None:
    folder = with_words(workshop.copied(tmp_path / "own"), words)
    run = workshop.printed(
        folder, tmp_path / "own.pdf", skus=(SKU,), sheet="letter-2x3", layout="planted"
    )
    report = check_pdf(run.pdf, folder, day=workshop.day)
    expect_fault(f"in the layout itself: {words}", rule, report, SKU)


def test_a_run_sheet_excuses_no_words(workshop: Any, tmp_path: Path) -> None:
    """The sheet names a layout; one that the maker's folder does not hold accounts for nothing."""
    true = workshop.copied(tmp_path / "true")
    false = with_words(workshop.copied(tmp_path / "false"), "Ask for Wren")
    run = workshop.printed(
        false, tmp_path / "own.pdf", skus=(SKU,), sheet="letter-2x3", layout="planted"
    )
    with pikepdf.open(run.pdf) as pdf:
        sheet = pdf.attachments["run-sheet.json"].get_file().read_bytes()
    assert b'"layout":"planted"' in sheet.replace(b" ", b"")
    report = check_pdf(run.pdf, true, day=workshop.day)
    assert [f.found for f in report.findings if f.rule == "words-unaccounted"] == ["“Ask for Wren”"]


# ----------------------------------------------------------------------------
# Codes that no layout draws, and what can't be read though it is there.

SKU = "RM-14-30-TSP"
LEAD = "Contains lead."
Draw = Callable[[Any, float, float, float], str]


def modules(text: str, symbology: str) -> Any:
    """Return a code's modules, dark ones true, as a general-purpose library makes them."""
    made = zxingcpp.create_barcode(text, getattr(zxingcpp.BarcodeFormat, symbology))
    picture = np.array(made.to_image(scale=1, add_quiet_zones=False))
    picture = picture.reshape(picture.shape[0], picture.shape[1])
    return picture < 128


def squares(dark: Any, x: float, y: float, size: float) -> str:
    """Draw each dark module as a square of its own."""
    return " ".join(
        f"{x + c * size:.3f} {y + r * size:.3f} {size} {size} re f" for r, c in np.argwhere(dark)
    )


def polygons(dark: Any, x: float, y: float, size: float) -> str:
    """Draw all dark modules as one path of four-cornered polygons."""
    parts = []
    for r, c in np.argwhere(dark):
        left, top = x + c * size, y + r * size
        right, low = left + size, top + size
        parts.append(
            f"{left:.3f} {top:.3f} m {right:.3f} {top:.3f} l {right:.3f} {low:.3f} l"
            f" {left:.3f} {low:.3f} l h"
        )
    return " ".join(parts) + " f"


def strokes(dark: Any, x: float, y: float, size: float) -> str:
    """Draw each row of dark modules as strokes."""
    return f"{size} w 0 G " + " ".join(
        f"{x + c * size:.3f} {y + (r + 0.5) * size:.3f} m"
        f" {x + (c + 1) * size:.3f} {y + (r + 0.5) * size:.3f} l S"
        for r, c in np.argwhere(dark)
    )


def one_path(dark: Any, x: float, y: float, size: float) -> str:
    """Draw all dark modules as rectangles of one path, as our press does."""
    return (
        " ".join(
            f"{x + c * size:.3f} {y + r * size:.3f} {size} {size} re" for r, c in np.argwhere(dark)
        )
        + " f"
    )


def planted_code(text: str, symbology: str, draw: Draw, turn: Any = None) -> Callable[[Any], None]:
    """Lay a code with its quiet zone over the middle of a card."""

    def damage(sheet: Any) -> None:
        dark = modules(text, symbology)
        dark = dark if turn is None else turn(dark)
        high, wide = dark.shape
        high = max(high, 1)
        size = min(1.4, 150 / wide)
        if high < 8:  # bars come as one row
            dark = np.repeat(dark, 30, axis=0)
            high = 30
        x, y = 30.0, 170.0
        quiet = 8 * size
        ground = (
            f"1 g {x - quiet} {y - quiet} {wide * size + 2 * quiet} {high * size + 2 * quiet} re f"
        )
        sheet.over(SKU, f"{ground} 0 g {draw(dark, x, y, size)}")

    return damage


OWN = "https://go.example.com/01/09521234000011"
ELSEWHERE = "https://other.example.org/x"


def mirrored(words: str) -> Callable[[Any], None]:
    def damage(sheet: Any) -> None:
        run = sheet.run(SKU, words)
        sheet.matrix(SKU, run, lambda a, b, c, d, e, f: (-a, b, c, d, e + 60, f))

    return damage


def own_code_mirrored(sheet: Any) -> None:
    left, _, right, _ = sheet.code_box(SKU)
    sheet.code_matrix(SKU, lambda a, b, c, d, e, f: (-a, b, c, d, left + right - e, f))


def masked(sheet: Any) -> None:
    """The words stand behind a soft mask that lets nothing through."""
    page = sheet.pdf.pages[sheet.page_number(SKU)]
    group = sheet.pdf.make_stream(b"0 g 0 0 2000 2000 re f")
    group.Type, group.Subtype, group.BBox = (
        pikepdf.Name.XObject,
        pikepdf.Name.Form,
        [0, 0, 2000, 2000],
    )
    group.Group = pikepdf.Dictionary(S=pikepdf.Name.Transparency, CS=pikepdf.Name.DeviceGray)
    states = page.Resources.get("/ExtGState", pikepdf.Dictionary())
    states["/Veil"] = pikepdf.Dictionary(
        SMask=pikepdf.Dictionary(S=pikepdf.Name.Luminosity, G=group)
    )
    page.Resources["/ExtGState"] = states
    run = sheet.run(SKU, LEAD)
    again = f"{run.font} {run.size} Tf"
    sheet.wrap(SKU, run, f"q /Veil gs {again}", f"Q {again}")


def in_no_ink(sheet: Any) -> None:
    """The words are printed in the separation None, which leaves no ink."""
    page = sheet.pdf.pages[sheet.page_number(SKU)]
    turn = pikepdf.Dictionary(FunctionType=2, Domain=[0, 1], C0=[1], C1=[0], N=1)
    page.Resources["/ColorSpace"] = pikepdf.Dictionary(
        NoInk=pikepdf.Array(
            [pikepdf.Name.Separation, pikepdf.Name("/None"), pikepdf.Name.DeviceGray, turn]
        )
    )
    sheet.wrap(SKU, sheet.run(SKU, LEAD), "/NoInk cs 1 scn", "0 g")


def blotted(words: str, share: float) -> Callable[[Any], None]:
    def damage(sheet: Any) -> None:
        x, y, size, wide = sheet.spot(SKU, words)
        sheet.over(
            SKU, f"0 G {size * share} w {x} {y - size * 0.25} m {x + wide} {y - size * 0.25} l S"
        )

    return damage


def half_clipped(sheet: Any) -> None:
    x, y, size, _ = sheet.spot(SKU, LEAD)
    sheet.clipped(SKU, LEAD, f"{x} {y - size * 0.3} 300 {size}")


UNREADABLE: list[tuple[str, str, str, Callable[[Any], None]]] = [
    ("a second code that leads elsewhere", "code-other-address", "header",
     planted_code(ELSEWHERE, "QRCode", one_path)),
    ("a second code of another product", "code-other-address", "header",
     planted_code("https://go.example.com/01/09521234000998", "QRCode", one_path)),
    ("a code drawn as squares one by one", "code-other-address", "header",
     planted_code(ELSEWHERE, "QRCode", squares)),
    ("a code drawn as polygons", "code-other-address", "header",
     planted_code(ELSEWHERE, "QRCode", polygons)),
    ("a code drawn as strokes", "code-other-address", "header",
     planted_code(ELSEWHERE, "QRCode", strokes)),
    ("a DataMatrix", "code-foreign", "header", planted_code(ELSEWHERE, "DataMatrix", squares)),
    ("an Aztec code", "code-foreign", "header", planted_code(ELSEWHERE, "Aztec", polygons)),
    ("a PDF417", "code-foreign", "header", planted_code("LOT 9", "PDF417", squares)),
    ("Code 128 bars", "code-foreign", "header", planted_code("LOT9-12", "Code128", polygons)),
    ("Code 39 bars", "code-foreign", "header", planted_code("LOT9", "Code39", strokes)),
    ("bars of another article", "bars-other-number", "header",
     planted_code("9521234999997", "EAN13", polygons)),
    ("a foreign code drawn as one path", "code-foreign", "header",
     planted_code(ELSEWHERE, "DataMatrix", one_path)),
    ("its own code as a mirror image", "code-mirrored", "strip", own_code_mirrored),
    ("a second code as a mirror image", "code-mirrored", "header",
     planted_code(OWN, "QRCode", squares, np.fliplr)),
    ("a code as a mirror image, upside down", "code-mirrored", "header",
     planted_code(OWN, "QRCode", polygons, np.flipud)),
    ("the lead statement is a mirror image", "statement-unseen", "strip", mirrored(LEAD)),
    ("type is a mirror image", "text-mirrored", "strip", mirrored("Swim jig")),
    ("the lead statement behind a soft mask", "statement-unseen", "strip", masked),
    ("the lead statement in the separation None", "statement-unseen", "strip", in_no_ink),
    ("the lead statement under a broad stroke", "statement-unseen", "strip", blotted(LEAD, 0.6)),
    ("the lead statement is half clipped away", "statement-unseen", "strip", half_clipped),
    ("the lead statement is dropped", "statement-missing", "strip",
     lambda sheet: sheet.drop(SKU, LEAD)),
]  # fmt: skip


@pytest.mark.parametrize("row", UNREADABLE, ids=lambda row: row[0])
def test_codes_and_statements_that_mislead_stop_the_press(row: Any, hunt: Any) -> None:
    name, rule, base, damage = row
    report = hunt(name, rule, base, SKU, damage)
    (grade, *_) = [each.grade for each in report.findings if each.rule == rule]
    assert grade is Grade.STOP


@pytest.mark.parametrize("quarters", range(4))
def test_a_code_that_is_only_turned_is_no_mirror_image(quarters: int, hunt: Any) -> None:
    turn = planted_code(OWN, "QRCode", squares, lambda dark: np.rot90(dark, quarters))
    report = hunt(
        f"a code turned by {quarters} quarters", "code-other-address", "header", SKU, turn
    )
    assert not [each for each in report.findings if each.rule == "code-mirrored"]
