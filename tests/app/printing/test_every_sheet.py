"""Every layout on every sheet it is made for, for four makers, in turn in color and in black.

Each sheet and each maker is printed in both inks; of two sheets with one size of cell, and of two
makers on one sheet, one is in color and the other in black. Nothing is clipped.

The program's own check must find nothing to stop for and nothing to mend; beside it PDFium reads
the finished file, and the cells come from ``sheets.toml`` by arithmetic of the test's own. What a
layout can't hold is refused in words: that is counted, and happens only where it is said here.
"""

from __future__ import annotations

import ctypes
import json
import re
import shutil
import tomllib
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium
import pytest

from labeler.app.layouts import goes_on
from labeler.app.print_request import Goods, PrintRequest, goods_of
from labeler.app.print_run import PieceComposer, print_goods
from labeler.app.workstation import LedgerLocation
from labeler.catalog.model import Catalog
from labeler.catalog.read import readable
from labeler.findings import LabelerError
from labeler.layout.index import read_index
from labeler.marks import InkMode
from labeler.press.printers import Printer
from labeler.press.sheets import all_sheets
from tests.one_lot import print_one_lot
from tests.other_makers import OTHERS, write_line

ROOT = Path(__file__).resolve().parents[3]
DEMO = ROOT / "demo_catalog"
LOT = "263290013"
INKS: tuple[InkMode, InkMode] = ("colour", "black")
Box = tuple[float, float, float, float]

SKUS = {
    "demo": ("RM-38-40-SBR", "SF-7G-20-LIN", "RM-38-40-DLF", "TD-116-6-CHK", "GB-1OZ-50-PEA"),
    "lead-free": (
        "GAN-10.5G-40-WSL",
        "GAN-10.5G-40-DLF",
        "GAN-38-40-WSL",
        "GAN-38-40-DLF",
        "GAN-38-40-WSL",
    ),
    "long": ("LNG-12-40-MAR", "LNG-1OZ-50-CYP", "LNG-12-40-NGT"),
    "one": ("ONE-18-20-CRB",),
}
"""Taken in turn from sheet to sheet: with a GTIN and a photo, and without, long and short. They are
of odd number, so that each comes in both inks."""

PACKS = {"lead-free": ("PAIR",), "long": ("BOTH-WAYS",)}

LEAST_TYPE = 5.0
"""Points: no style of a label goes lower; ``styles.toml``."""

SMALL_CAPITALS = 0.72
"""Capitals beside small letters may be set as much smaller as those are lower than capitals: in the
sans of the labels 506 of 700 thousandths, as its file says."""


@pytest.fixture(scope="module")
def lines(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Path, Catalog]]:
    """The folder and the catalog of each maker."""
    root = tmp_path_factory.mktemp("makers")
    folders = {"demo": DEMO} | {name: write_line(name, root / name) for name in OTHERS}
    return {name: (folder, readable(folder)[0]) for name, folder in folders.items()}


# ------------------------------------------------------------------------------- what is read


class Run(NamedTuple):
    """Letters that are one object of the file: where their ink is, and how large they are set."""

    text: str
    box: Box
    size: float
    clipped: bool


def runs_of(page: Any) -> list[Run]:
    """Return the runs of a page, top left origin, as PDFium reads them; a fraction is one."""
    high, text = page.get_height(), page.get_textpage()
    found: dict[int, list[tuple[int, str, Box]]] = {}
    things: dict[int, Any] = {}
    for at in range(text.count_chars()):
        if (letter := text.get_text_range(at, 1)).strip():
            left, foot, right, top = text.get_charbox(at)
            thing = pdfium.FPDFText_GetTextObject(text, at)
            key = ctypes.cast(thing, ctypes.c_void_p).value or 0
            things[key] = thing
            found.setdefault(key, []).append((at, letter, (left, high - top, right, high - foot)))
    runs = [
        Run(
            "".join(letter for _, letter, _ in letters),
            around([box for *_, box in letters]),
            pdfium.FPDFText_GetFontSize(text, letters[0][0]) * scale(text, letters[0][0]),
            is_clipped(things[key]),
        )
        for key, letters in found.items()
    ]
    return fractions_joined(runs)


def scale(text: Any, at: int) -> float:
    matrix = pdfium.FS_MATRIX()
    pdfium.FPDFText_GetMatrix(text, at, matrix)
    return float(np.hypot(matrix.c, matrix.d))


def is_clipped(thing: Any) -> bool:
    path = pdfium.FPDFPageObj_GetClipPath(thing)
    return bool(path) and pdfium.FPDFClipPath_CountPaths(path) > 0


def fractions_joined(runs: list[Run]) -> list[Run]:
    """Put a fraction's figures, which are set small, to the stroke between them."""
    strokes = [run for run in runs if run.text == "⁄"]
    figures = {
        stroke: [
            run for run in runs if run.text.isdecimal() and common(stroke.box, run.box) != (0, 0)
        ]
        for stroke in strokes
    }
    joined = {id(run) for each in figures.values() for run in each} | {id(s) for s in strokes}
    return [run for run in runs if id(run) not in joined] + [
        stroke._replace(text="/", box=around([stroke.box, *(run.box for run in of)]))
        for stroke, of in figures.items()
    ]


def around(boxes: Sequence[Box]) -> Box:
    left, top, right, foot = zip(*boxes, strict=True)
    return min(left), min(top), max(right), max(foot)


def common(one: Box, other: Box) -> tuple[float, float]:
    """Return how wide and how high two boxes lie over each other; nothing, where they don't."""
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return (wide, high) if wide > 0 and high > 0 else (0, 0)


# ------------------------------------------------------------------------------- where cells are


def points(length: str) -> float:
    """Read a length such as 2 5/8 in or 63.5 mm."""
    *numbers, unit = length.split()
    inches = {"in": Fraction(1), "mm": Fraction(10, 254)}[unit]
    return float(sum(map(Fraction, numbers), Fraction(0)) * inches * 72)


@cache
def sheet_rows() -> dict[str, Any]:
    return tomllib.loads((ROOT / "layouts/sheets.toml").read_text("utf-8"))


def cells_of(sheet: str) -> list[Box] | None:
    """Return the cells of a sheet of labels, row by row; of card stock nothing is known."""
    row = sheet_rows()["sheet"][sheet]
    if row.get("kind") == "card":
        return None
    if row.get("kind") == "roll":
        width, height = map(points, row["label"])
        return [(0.0, 0.0, width, height)]
    (width, height), (left, top), (across, down) = (
        map(points, row[key]) for key in ("cell", "margin", "pitch")
    )
    return [
        (left + c * across, top + r * down, left + c * across + width, top + r * down + height)
        for r in range(row["rows"])
        for c in range(row["columns"])
    ]


class Place(NamedTuple):
    """A piece on a page: its box, how far its print keeps from the edge, whether it is round."""

    page: int
    box: Box
    safe: float
    round: bool


def places_in(file: Path, sheet: str) -> list[Place]:
    """Return where the run sheet in the file says that pieces lie, held against the cells."""
    with pikepdf.open(file) as pdf:
        said = json.loads(pdf.attachments["run-sheet.json"].get_file().read_bytes())
    cells, places = cells_of(sheet), []
    radius = points(sheet_rows()["sheet"][sheet].get("radius", "0 in"))
    for group in said["pages"]:
        numbers = [
            n for first, last, step in group["numbers"] for n in range(first, last + 1, step or 1)
        ]
        for number in numbers:
            for piece, x, y, _, _, cell in group["places"]:
                width, height = said["pieces"][piece]["size"]
                box = x, y, x + width, y + height
                if cells is not None:
                    assert box == pytest.approx(cells[cell - 1], abs=0.01), (file.name, cell)
                is_round = 2 * radius > 0.98 * height
                places.append(Place(number - 1, box, said["pieces"][piece]["safe"], is_round))
    return places


# ------------------------------------------------------------------------------- what is wrong

DPI = 100
SLACK = 0.15
"""Points: PDFium gives boxes to a few hundredths, and a drawing ends within a dot."""

OVER = 0.4
"""Points: so far the slant of an italic reaches over the letter beside it."""


def faults(file: Path, sheet: str) -> Iterator[str]:
    """Yield what is clipped, cramped or too small on the pieces of a file."""
    places = places_in(file, sheet)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        document = pypdfium2.PdfDocument(file)
        pages = list(document)
    for number, page in enumerate(pages):
        here = [place for place in places if place.page == number]
        for one, other in combinations(here, 2):
            if min(common(one.box, other.box)) > SLACK:
                yield f"pieces lie over each other on page {number + 1}"
        grey = np.asarray(page.render(scale=DPI / 72, grayscale=True).to_pil())
        for place in here:
            yield from (f"ink at the edge: {side}" for side in inked_edges(grey, place))
        yield from faults_of_type(runs_of(page), here)
    document.close()


def faults_of_type(runs: Sequence[Run], places: Sequence[Place]) -> Iterator[str]:
    inside: dict[Place, list[Run]] = {place: [] for place in places}
    for run in runs:
        left, top, right, foot = run.box
        for place, its in inside.items():
            safe = place.safe - SLACK
            if (
                left >= place.box[0] + safe and right <= place.box[2] - safe
                and top >= place.box[1] + safe and foot <= place.box[3] - safe
            ):  # fmt: skip
                its.append(run)
                break
        else:
            yield f"outside: {run.text}"
        if run.clipped:
            yield f"clipped: {run.text}"
        least = LEAST_TYPE * (SMALL_CAPITALS if run.text.isupper() else 1)
        if run.size < least - 0.05:
            yield f"small, {run.size:.2f} pt: {run.text}"
    for its in inside.values():
        for one, other in combinations(its, 2):
            if min(common(one.box, other.box)) > OVER:
                yield f"over each other: {one.text} and {other.text}"


def inked_edges(grey: Any, place: Place) -> Iterator[str]:
    """Yield on which side of a piece there is ink in the margin that its print keeps free of."""
    dot = DPI / 72
    left, top, right, foot = (round(edge * dot) for edge in place.box)
    piece = grey[max(0, top) : foot, max(0, left) : right]
    margin = int((place.safe - SLACK) * dot) - 1
    if place.round:
        down, across = np.ogrid[: piece.shape[0], : piece.shape[1]]
        away = np.hypot(down - piece.shape[0] / 2, across - piece.shape[1] / 2)
        rim = piece[(away > piece.shape[0] / 2 - margin) & (away < piece.shape[0] / 2 - 1)]
        if (rim < PAPER).any():
            yield "round"
        return
    strips = {
        "left": piece[1:-1, 1:margin], "right": piece[1:-1, -margin:-1],
        "top": piece[1:margin, 1:-1], "foot": piece[-margin:-1, 1:-1],
    }  # fmt: skip
    yield from (side for side, strip in strips.items() if (strip < PAPER).any())


PAPER = 250

# ------------------------------------------------------------------------------- what is printed


def request_for(
    lines: dict[str, tuple[Path, Catalog]], who: str, out: Path, **wish: Any
) -> tuple[PrintRequest, Goods]:
    """Return a request, and its goods under one lot's code."""
    folder, catalog = lines[who]
    request = PrintRequest(folder, out, **wish)
    goods = goods_of(request, catalog, None)
    return request, replace(goods, labels=tuple(replace(one, lot=LOT) for one in goods.labels))


LAYOUTS = read_index(DEMO)
BY_CELL = sorted(
    all_sheets(DEMO).values(),
    key=lambda each: (each.grid.cell_width, each.grid.cell_height) if each.grid else (0.0, 0.0),
)
SHEETS = {
    name: [sheet.name for sheet in BY_CELL if goes_on(spec, sheet)]
    for name, spec in LAYOUTS.items()
}
TOO_SMALL = {"bag-mini": {("a4-4x12", "long")}}
"""Which sheets hold a maker's labels by no means, layout by layout: what the law and the names ask
for does not fit on so small a cell."""


@pytest.mark.parametrize("layout", LAYOUTS)
def test_no_stop_no_fix_nothing_clipped(
    layout: str, lines: dict[str, tuple[Path, Catalog]], tmp_path: Path
) -> None:
    spec, out = LAYOUTS[layout], tmp_path / "out.pdf"
    wrong: list[str] = []
    refused: set[tuple[str, str]] = set()
    for turn, (who, skus) in enumerate((PACKS if spec.packs else SKUS).items()):
        folder, catalog = lines[who]
        for number, sheet in enumerate(SHEETS[layout]):
            sku = skus[number % len(skus)]
            for ink in (INKS[(turn + number) % 2], "grey"):
                request, goods = request_for(
                    lines, who, out, use=spec.use, sheet=sheet, layout=layout, ink=ink, skus=(sku,)
                )
                if ink == "grey" and not goods.labels[0].product.photo:
                    if number == 0 and (sheet, who) not in refused:  # then gray is black
                        black = replace(request, ink="black")
                        assert faces(request, goods) == faces(black, goods), sku
                    continue
                case = f"{sheet}, {sku}, {ink}"
                try:
                    done = print_goods(request, catalog, goods, LedgerLocation(folder), None, None)
                except LabelerError as error:
                    wrong += [f"{case}: {each}" for each in unworded(error)]
                    refused.add((sheet, who))
                    continue
                graves = [each for each in done.findings if each.grade.value != "note"]
                wrong += [f"{case}: {each.rule} {each.found}" for each in graves]
                wrong += [f"{case}: {each}" for each in faults(out, sheet)]
    assert not wrong, "\n".join(wrong)
    assert refused == TOO_SMALL.get(layout, set()), sorted(refused)


def unworded(error: LabelerError) -> Iterator[str]:
    """Yield what a refusal says beyond that a piece is too small, which it says in words."""
    for each in error.findings:
        if each.rule not in ("layout-overflow", "layout-crowded", "held-elsewhere"):
            yield f"refused, {each.rule} {each.message} {each.found}"
        elif not each.message:
            yield "refused without a word"


def faces(request: PrintRequest, goods: Goods) -> Any:
    sheet = all_sheets(DEMO)[request.sheet]
    (piece,) = PieceComposer(request, sheet, Printer()).pieces(goods.labels, None)
    return piece.composed.piece.faces


def test_a_round_label_is_checked_against_its_circle(tmp_path: Path) -> None:
    """A layout of the maker's own that fills the square: inside the cell, and cut by the die."""
    folder = write_line("one", tmp_path / "line")
    text = (ROOT / "layouts/bag-mini.xml.jinja").read_text("utf-8")
    square, pads = re.subn(r'pad="\{\{ piece.height.*?"', 'pad="5pt"', text)
    assert pads == 1
    square = square.replace('align="centre" valign="middle"', 'align="left" valign="bottom"')
    (folder / "layouts").mkdir()
    (folder / "layouts/bag-mini.xml.jinja").write_text(square, "utf-8")
    request = PrintRequest(
        folder, tmp_path / "out.pdf", "bags", sheet="letter-rounds-4x5", layout="bag-mini"
    )
    with pytest.raises(LabelerError) as refused:
        print_one_lot(request, LOT)
    assert "text-cut" in [each.rule for each in refused.value.findings]


def test_a_warning_has_room_on_the_usual_sheet(tmp_path: Path) -> None:
    """California's words beside all others on 2 5/8 x 1 in, for every product of the demo."""
    folder = tmp_path / "staff"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("prints"))
    text = (folder / "catalog.toml").read_text("utf-8")
    staffed = text.replace("employees = 2\n", "employees = 14\n")
    assert staffed != text
    (folder / "catalog.toml").write_text(staffed, "utf-8")
    out = tmp_path / "out.pdf"
    done = print_one_lot(PrintRequest(folder, out, "bags", sheet="letter-3x10"), LOT)
    assert done.products == 88
    assert not [each for each in done.findings if each.grade.value != "note"]
    assert not list(faults(out, "letter-3x10"))


def test_the_reader_sees_what_is_clipped_cramped_or_small(tmp_path: Path) -> None:
    """Faults drawn by another program are found, each by its name."""
    from reportlab.pdfgen.canvas import Canvas

    file, place = tmp_path / "planted.pdf", Place(0, (0, 0, 189, 72), 4.5, False)

    def read(*texts: tuple[float, float, float, str], clip: bool = False) -> list[str]:
        canvas = Canvas(str(file), pagesize=(189, 72))
        if clip:
            path = canvas.beginPath()
            path.rect(10, 0, 30, 72)
            canvas.clipPath(path, stroke=0)
        for x, y, size, text in texts:
            canvas.setFont("Helvetica", size)
            canvas.drawString(x, y, text)
        canvas.save()
        with pypdfium2.PdfDocument(file) as document:
            grey = np.asarray(document[0].render(scale=DPI / 72, grayscale=True).to_pil())
            return [*faults_of_type(runs_of(document[0]), [place]), *inked_edges(grey, place)]

    assert read((20, 40, 9, "Good"), (20, 28, 5, "Small capitals")) == []
    assert read((20, 30, 4.5, "tiny")) == ["small, 4.50 pt: tiny"]
    assert read((20, 40, 12, "Upper"), (20, 36, 12, "lower")) == [
        "over each other: Upper and lower"
    ]
    assert read((170, 40, 12, "Wide")) == ["outside: Wide", "right"]
    assert read((20, 40, 12, "Cut in the middle"), clip=True) == ["clipped: Cutinthemiddle"]
