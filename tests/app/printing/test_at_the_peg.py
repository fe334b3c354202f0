"""What a buyer reads at the peg, measured in the finished file by PDFium.

How high letters must stand to be read from five feet is common practice, no published source: the
color 7.5 pt in capitals on a strip, 9 pt on wide labels and panels, 12 pt on cards and large
labels, the price 8 pt on cards. PDFium gives the box of each letter's ink.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from labeler.app.print_request import PrintRequest
from labeler.catalog.model import Bag, Product
from labeler.catalog.read import read_catalog
from labeler.disclosures.needed import label_panel, needed
from labeler.layout.compose import Composer, Job
from labeler.layout.index import read_index
from labeler.marks import Group, Mark
from labeler.press.sheets import all_sheets
from labeler.units import Length
from tests.one_lot import print_one_lot
from tests.other_makers import write_line

DEMO = Path(__file__).resolve().parents[3] / "demo_catalog"
LOT = "263290013"
FEW = ("RM-38-40-SBR", "GB-1OZ-50-PEA", "LL-12-40-LNB")
"""A swim jig with a GTIN, one whose rubber asks for more words, one without lead."""

ROUNDING = 0.06
"""Points: type sizes are steps of a twentieth, and PDFium keeps four places."""


def capitals(file: Path, words: str) -> list[float]:
    """Return how high the flat capitals or figures of some words stand, wherever they are set."""
    heights: list[float] = []
    document = pypdfium2.PdfDocument(file)
    for page in document:
        text = page.get_textpage()
        search = text.search(words, match_case=True)
        while found := search.get_next():
            first, count = found
            boxes = [
                text.get_charbox(at)
                for at in range(first, first + count)
                if (letter := text.get_text_range(at, 1)).isupper() or letter.isdecimal()
            ]
            heights.append(min(top - foot for _, foot, _, top in boxes))
    document.close()
    return heights


AIMS = [
    ("bags", "bag-strip", "letter-3x10", 7.5),
    ("bags", "bag-strip", "letter-2x10", 7.5),
    ("bags", "bag-strip", "roll-203-3x1in", 7.5),
    ("bags", "bag-compact", "a4-3x7", 7.5),
    ("bags", "bag-compact", "roll-203-2.25x1.25in", 7.5),
    ("bags", "bag-wide", "letter-2x7", 9.0),
    ("bags", "bag-panel", "letter-2x5", 9.0),
    ("bags", "bag-panel", "letter-tags-2x4", 9.0),
    ("bags", "bag-large", "letter-2x2", 12.0),
    ("cards", "header-card", "letter-card", 12.0),
    ("cards", "insert-card", "letter-card", 12.0),
]


@pytest.mark.daily(
    "bags-bag-strip-letter-3x10-7.5", "bags-bag-wide-letter-2x7-9.0",
    "cards-header-card-letter-card-12.0",
)  # fmt: skip
@pytest.mark.parametrize(("use", "layout", "sheet", "aim"), AIMS)
def test_name_and_color_are_read_from_the_peg(
    run: Any, use: str, layout: str, sheet: str, aim: float
) -> None:
    chosen = {"layout": layout} if use == "cards" else {}  # a label's is its cell's
    done = run(use, sheet=sheet, skus=FEW, **chosen)
    assert done.printed.layout == layout
    assert not any(each.rule == "text-below-aim" for each in done.printed.findings)
    for product in done.products:
        colours = capitals(done.file, product.colour.name)
        names = capitals(done.file, product.pattern.name)
        assert colours, product.sku
        assert max(colours) >= aim - ROUNDING, (product.sku, colours)
        assert max(colours) <= max(names) + ROUNDING, (product.sku, names)
        if use == "cards":
            price = capitals(done.file, f"${product.price}")
            assert price, product.sku
            assert min(price) >= 8.0 - ROUNDING, (product.sku, price)


LONG = (
    ("bag-strip", "letter-3x10"), ("bag-compact", "a4-3x8"), ("bag-wide", "letter-2x7"),
    ("bag-panel", "letter-2x5"), ("bag-large", "letter-2x2"), ("header-card", "letter-card"),
    ("insert-card", "letter-card"),
)  # fmt: skip


@pytest.mark.daily("bag-strip-letter-3x10")
@pytest.mark.parametrize(("layout", "sheet"), LONG)
def test_a_long_name_keeps_over_its_color_and_a_small_one_is_told(
    tmp_path: Path, layout: str, sheet: str
) -> None:
    """Thirty-four letters and short colors: before, the color's one word stood over the name."""
    write_line("long", tmp_path)
    out, use = tmp_path / "long.pdf", "cards" if layout.endswith("card") else "bags"
    wish: Any = {"use": use, "sheet": sheet, "layout": layout, "skus": ("LNG-12-*",)}
    request = PrintRequest(tmp_path, out, **wish)
    printed = print_one_lot(request, LOT)
    name, colour = max(capitals(out, "Thirty")), max(capitals(out, "Marsh"))
    assert colour <= name + ROUNDING
    told = [each for each in printed.findings if each.rule == "text-below-aim"]
    assert len(told) <= 2, "once for all labels, not label by label"
    if colour < 7.5 - ROUNDING:
        assert any(each.message.startswith("the color") for each in told)


def marks_in(marks: tuple[Mark, ...]) -> Iterator[Mark]:
    for mark in marks:
        yield mark
        if isinstance(mark, Group):
            yield from marks_in(mark.marks)


def opaque(product: Product) -> Product:
    bag = Bag(
        name="Black bag", width=Length.parse("3 in"), height=Length.parse("4 in"), clear=False
    )
    return product.model_copy(update={"bag": bag})


SMALLEST_WITH_A_FIGURE = {
    "bag-strip": (2.625, 1.0), "bag-compact": (2.25, 1.25), "bag-wide": (3.5, 1.25),
    "bag-panel": (3.25, 1.9375), "bag-large": (3.75, 4.5),
}  # fmt: skip


@pytest.mark.daily
@pytest.mark.parametrize("layout", SMALLEST_WITH_A_FIGURE)
def test_a_label_on_an_opaque_bag_shows_the_jig(layout: str) -> None:
    products = {each.sku: each for each in read_catalog(DEMO).products}
    width, height = (Length.from_inches(side) for side in SMALLEST_WITH_A_FIGURE[layout])
    for sku in ("RM-38-40-SBR", "TD-132-8-CHK"):
        product = opaque(products[sku])
        panel = label_panel(width, height, product.bag)
        said = needed(product, product.markets, dt.date(2026, 11, 25), panel=panel)
        link = "https://go.example.com/01/09521234001058/10/263290013"
        piece = Composer().compose(Job(product, layout, (width.pt, height.pt), said, LOT, link))
        drawn = [m for m in marks_in(piece.faces[0].marks) if isinstance(m, Group) and m.key]
        assert len(drawn) == 1, layout


ON_CELLS = {
    (sheet.grid.cell_width, sheet.grid.cell_height): sheet.name
    for sheet in reversed(all_sheets(DEMO).values()) if sheet.grid is not None
}  # fmt: skip
"""The first sheet with each size of cell, by which its layout is chosen."""


@pytest.mark.daily("letter-rounds-4x5", "roll-203-2x1in", "letter-1x2")
@pytest.mark.parametrize("sheet", ON_CELLS.values())
def test_every_cell_has_a_layout_that_prints_the_demo_on_it(run: Any, sheet: str) -> None:
    printed = run("bags", sheet=sheet, skus=FEW).printed
    assert printed.pieces == len(FEW)
    assert not [each for each in printed.findings if each.grade.value != "note"]


def test_a_round_label_keeps_its_print_inside_the_circle() -> None:
    """Every corner of every block against the die's own radius, from the sheet's row."""
    sheet = all_sheets(DEMO)["letter-rounds-4x5"]
    grid = sheet.grid
    assert grid is not None
    width, height = grid.cell_width, grid.cell_height
    product = next(p for p in read_catalog(DEMO).products if p.sku == "GB-1OZ-50-PEA")
    panel = label_panel(Length(width), Length(height), product.bag)
    said = needed(product, product.markets, dt.date(2026, 11, 25), panel=panel)
    piece = Composer().compose(Job(product, "bag-mini", (width, height), said, LOT))
    runs: list[Any] = [m for m in piece.faces[0].marks if hasattr(m, "text") and m.text.strip()]
    assert len(runs) > 6
    for run in runs:
        for x in (run.x, run.x + run.width):
            for y in (run.y, run.y - 0.7 * run.size):
                out = ((x - width / 2) ** 2 + (y - height / 2) ** 2) ** 0.5
                assert out <= sheet.radius - Length.from_mm(1).pt, (run.text, out)


def test_every_layout_of_labels_is_the_usual_one_for_some_sheet() -> None:
    index, cells = read_index(DEMO), [s.grid for s in all_sheets(DEMO).values() if s.grid]
    for name, spec in index.items():
        if spec.use == "bags":
            assert any(spec.suits((grid.cell_width, grid.cell_height)) for grid in cells), name


@pytest.mark.daily
def test_the_measure_sees_letters_of_a_known_height(tmp_path: Path) -> None:
    """A capital H of Helvetica is 718 thousandths of its size (Adobe's metrics of the face)."""
    from reportlab.pdfgen.canvas import Canvas

    canvas = Canvas(str(tmp_path / "known.pdf"))
    canvas.setFont("Helvetica", 20)
    canvas.drawString(72, 72, "HH")
    canvas.save()
    assert capitals(tmp_path / "known.pdf", "HH") == pytest.approx([14.36], abs=0.3)
