"""All labels of a run are set alike, as pdfminer reads the finished file, which knows no layout."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from pdfminer.converter import PDFPageAggregator
from pdfminer.layout import LTChar, LTComponent, LTContainer, LTCurve, LTPage, LTRect
from pdfminer.pdfinterp import PDFPageInterpreter, PDFResourceManager
from pdfminer.pdfpage import PDFPage

from labeler.catalog.model import Product
from labeler.press.sheets import find_sheet

Box = tuple[float, float, float, float]

# With a GTIN and a photo, without either, lead-free, and such as say where they were tied; of each
# pattern all colors in one weight, and the lightest or the heaviest.
SKUS = (
    "RM-14-30-SBR", "RM-38-*", "RM-58-*", "GB-38-*", "GB-1OZ-*", "LL-14-30-LNB", "LL-38-*",
)  # fmt: skip
CASES = [
    ("letter-3x10", "bag-strip"),
    ("letter-2x7", "bag-wide"),
    ("a4-3x8", "bag-compact"),
    ("letter-2x5", "bag-panel"),
]
SAME = 0.06
"""Points: a fiftieth of a millimetre."""


class Cell(NamedTuple):
    """What stands in one cell: its letters in their order, and its filled and stroked shapes."""

    letters: list[LTChar]
    shapes: list[LTCurve]
    box: Box

    @property
    def text(self) -> str:
        return "".join(char.get_text() for char in self.letters)

    def spot(self, words: str, after: str = "") -> tuple[float, float, float]:
        """Return where words begin in the cell, left and baseline, and how large they are set.

        An italic's first letter stands in by as much as it hangs over, so the left is rounded.
        """
        begin = self.text.index(after) + len(after)
        char = self.letters[self.text.index(words, begin)]
        return round(char.matrix[4] - self.box[0]), char.matrix[5] - self.box[1], char.size

    def size_of(self, words: str) -> float:
        return self.spot(words)[2]

    def code(self) -> Box:
        """Return the box of the QR code: of the bars that are as high as most are, a module."""
        filled = [shape for shape in self.shapes if isinstance(shape, LTRect) and shape.fill]
        bars = [bar for bar in filled if bar.non_stroking_color in (0, (0,), (0, 0, 0))]
        module = Counter(round(bar.height, 2) for bar in bars).most_common(1)[0][0]
        boxes = [self.placed(bar) for bar in bars if abs(bar.height - module) < 0.02]
        left, foot, right, top = zip(*boxes, strict=True)
        return min(left), min(foot), max(right), max(top)

    def bar(self) -> Box:
        """Return the box of the recipe's bar: the widest outline that is low."""
        low = [s for s in self.shapes if s.stroke and not s.fill and 1.5 < s.height < 8]
        return self.placed(max(low, key=lambda shape: shape.width))

    def placed(self, shape: LTComponent) -> Box:
        left, foot = self.box[0], self.box[1]
        return shape.x0 - left, shape.y0 - foot, shape.x1 - left, shape.y1 - foot


def parts(component: LTComponent) -> Iterator[LTComponent]:
    """Yield what a page holds, in the order in which it was drawn."""
    if isinstance(component, LTContainer):
        for child in component:
            yield from parts(child)
    else:
        yield component


def pages_of(file: Path) -> Iterator[LTPage]:
    """Yield the pages with everything in the order in which it was drawn."""
    manager = PDFResourceManager()
    device = PDFPageAggregator(manager, laparams=None)
    interpreter = PDFPageInterpreter(manager, device)
    with file.open("rb") as opened:
        for page in PDFPage.get_pages(opened):
            interpreter.process_page(page)
            yield device.get_result()


def cells_of(file: Path, sheet: str, count: int) -> list[Cell]:
    """Return the used cells of a finished file, in order."""
    grid = find_sheet(sheet).grid
    assert grid is not None
    found: list[Cell] = []
    for page in pages_of(file):
        corners = [grid.corner(number) for number in range(1, grid.count + 1)]
        cells = [
            Cell([], [], (left, page.height - top - grid.cell_height, left + grid.cell_width,
                          page.height - top))
            for left, top in corners
        ]  # fmt: skip
        last: Cell | None = None
        for each in parts(page):
            x, y = (each.x0 + each.x1) / 2, (each.y0 + each.y1) / 2
            if last is None or not holds(last.box, x, y):  # else where the one before it is
                last = next((cell for cell in cells if holds(cell.box, x, y)), None)
            if last is not None and isinstance(each, LTChar):
                last.letters.append(each)
            elif last is not None and isinstance(each, LTCurve):
                last.shapes.append(each)
        found += [cell for cell in cells if cell.letters]
    assert len(found) == count
    return found


def holds(box: Box, x: float, y: float) -> bool:
    return box[0] <= x <= box[2] and box[1] <= y <= box[3]


def near(values: list[Any]) -> bool:
    """Tell whether numbers, or boxes, are all the same but for what no printer can place."""
    columns = zip(*values, strict=True) if isinstance((*values, 0)[0], tuple) else [values or [0]]
    return all(max(column) - min(column) <= SAME for column in map(list, columns))


@pytest.mark.daily("letter-2x7-bag-wide")
@pytest.mark.parametrize(("sheet", "layout"), CASES)
def test_all_labels_of_a_run_share_sizes_wording_bar_and_code(
    run: Any, sheet: str, layout: str
) -> None:
    done = run("bags", sheet=sheet, layout=layout, skus=SKUS)
    products: tuple[Product, ...] = done.products
    cells = cells_of(done.file, sheet, len(products))
    assert {bool(product.gtin) for product in products} == {True, False}
    told = {f.place.piece[:2] for f in done.printed.findings if f.rule == "set-apart"}
    assert told == ({"GB"} if layout == "bag-panel" else set())  # beside a figure of such height
    for apart in (False, True):
        alike = [
            (p.pattern.name.split(), p.colour.name.split(), cell)
            for p, cell in zip(products, cells, strict=True) if (p.sku[:2] in told) == apart
        ]  # fmt: skip
        assert near([cell.spot(pattern[0]) for pattern, _, cell in alike])
        assert near([cell.spot(colour[0], pattern[-1]) for pattern, colour, cell in alike])
        assert near([cell.code() for _, _, cell in alike])
    assert near([cell.size_of("Sharp hook") for cell in cells])
    assert len({"Sharp hook." in cell.text for cell in cells}) == 1
    assert len({"Hand-tied" in cell.text for cell in cells}) == 1
    if layout != "bag-compact":  # which has a figure in the bar's place
        assert near([cell.bar()[3] - cell.bar()[1] for cell in cells])


def test_the_order_of_the_pieces_makes_no_difference(run: Any) -> None:
    one = run("bags", sheet="letter-2x7", layout="bag-wide", skus=("RM-38*", "LL-38*"))
    other = run("bags", sheet="letter-2x7", layout="bag-wide", skus=("LL-38*", "RM-38*"))
    texts = [
        sorted(
            [(char.get_text(), round(char.x0 - cell.box[0], 2), round(char.y0 - cell.box[1], 2))
             for char in cell.letters]
            for cell in cells_of(done.file, "letter-2x7", len(one.products))
        )
        for done in (one, other)
    ]  # fmt: skip
    assert texts[0] == texts[1]
