"""Nothing is to be said against good output: bags in three sizes, both cards, colour and black."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from labeler.app.print_request import PrintRequest
from labeler.catalog.model import Product
from labeler.catalog.read import read_catalog
from labeler.checker import worker
from labeler.checker.judge import check_pdf
from labeler.checker.report import Report
from labeler.findings import Finding
from tests.one_lot import print_one_lot
from tests.other_makers import OTHERS, SINGLES, write_line

DAY = dt.date(2026, 11, 25)
LOT = "263290013"
Grave = Callable[[Report], list[Finding]]

SHEETS: dict[str, dict[str, Any]] = {
    "strip": {"use": "bags", "sheet": "letter-3x10"},
    "wide": {"use": "bags", "sheet": "letter-2x7"},
    "panel": {"use": "bags", "sheet": "letter-2x3"},
    "large": {"use": "bags", "sheet": "letter-2x2"},
    "header": {"use": "cards", "layout": "header-card"},
    "insert": {"use": "cards", "layout": "insert-card"},
}

MIXED = ("RM-14-30-SBR", "RM-14-30-DLF", "TD-132-8-*", "LL-14-30-*", "SF-7G-20-*", "EP-18-10-BRK")
"""A photo, several to a bag, a metal without lead, grams first, a long name, accents."""


@pytest.mark.usefixtures("unread")
@pytest.mark.daily("strip-colour")
@pytest.mark.parametrize(
    ("kind", "ink"), [("strip", "colour"), *((kind, "black") for kind in SHEETS)]
)
def test_good_labels_and_cards_have_no_fault(
    kind: str, ink: Any, shelf: dict[str, Path], tmp_path: Path, grave: Grave
) -> None:
    """A second program draws a small label and a card, and all in color where the line is printed.

    What only black has, hatching and dots, is the same on every layout.
    """
    out = tmp_path / "good.pdf"
    wish = SHEETS[kind]
    print_one_lot(
        PrintRequest(folder=shelf["demo"], out=out, skus=MIXED, ink=ink, day=DAY, **wish), LOT
    )
    report = check_pdf(out, shelf["demo"], day=DAY)
    assert report.pieces >= 10
    assert not grave(report), report.as_text()
    assert kind not in ("strip", "header") or not worker.drawing_differences(out)[0]


DOZENS: list[tuple[str, str, Any]] = [
    ("bag-strip", "letter-2x10", "colour"),
    ("bag-strip", "roll-300-3x1in", "black"),
    ("bag-compact", "a4-3x8", "colour"),
    ("bag-compact", "roll-203-57x32mm", "black"),
    ("bag-wide", "letter-2x7", "black"),
    ("bag-panel", "letter-cards-2x5", "black"),
    ("bag-panel", "roll-203-4x2in", "colour"),
    ("header-card", "letter-card", "colour"),
    ("insert-card", "a4-card", "black"),
]
"""Every layout that ships, the least of its sheets among them."""

SMALL = ("roll-300-3x1in", "roll-203-57x32mm")
"""Labels that hold a count, but no Proposition 65 warning beside it."""


@pytest.fixture(scope="module")
def dozens(workshop: Any, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Twelve of each to an opaque bag: at two people's bench, and at fourteen people's."""
    root = tmp_path_factory.mktemp("dozens")
    bags = {f'"{n}"\n': f'"{n}"\nclear = false\n' for n in ("Clear bag 3 x 4", "Clear bag 3 x 5")}
    packs = {
        f'bag = "{bag}"\nprice': f'bag = "{bag}"\npack = 12\nprice' for bag in ("tall", "small")
    } | {"pack = 2\n": "pack = 12\n"}
    few = workshop.copied(root / "few", **bags, **packs)
    staff = {"employees = 2\n": "employees = 14\n"}
    return {"few": few, "staff": workshop.copied(root / "staff", **bags, **packs, **staff)}


@pytest.mark.usefixtures("unread")
@pytest.mark.daily("bag-compact-roll-203-57x32mm-black")
@pytest.mark.parametrize(("layout", "sheet", "ink"), DOZENS)
def test_a_dozen_in_an_opaque_bag_has_no_fault(
    layout: str, sheet: str, ink: Any, dozens: dict[str, Path], tmp_path: Path, grave: Grave
) -> None:
    """The count is asked for by 16 CFR 503.4(a), the warning by 27 CCR 25601."""
    folder = dozens["few" if sheet in SMALL else "staff"]
    skus = ("RM-14-30-SBR", "GB-1OZ-50-*", "LL-12-40-*", "EP-18-10-BRK")
    out = tmp_path / "dozen.pdf"
    use: Any = "cards" if layout.endswith("card") else "bags"
    print_one_lot(
        PrintRequest(
            folder=folder, out=out, use=use, skus=skus, sheet=sheet, layout=layout, ink=ink,
            day=DAY, even_so=True,
        ),
        LOT,
    )  # fmt: skip
    report = check_pdf(out, folder, day=DAY)
    assert report.pieces >= 8
    assert not grave(report), report.as_text()


EVERY_LAYOUT = (
    ("bag-strip", "letter-3x10"), ("bag-compact", "a4-3x8"), ("bag-wide", "letter-2x7"),
    ("bag-panel", "letter-2x3"), ("header-card", "letter-card"), ("insert-card", "letter-card"),
    ("bag-mini", "roll-203-2x1in"), ("bag-large", "letter-1x2"),
)  # fmt: skip


@pytest.fixture(scope="module")
def lines(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The catalogs of other makers."""
    root = tmp_path_factory.mktemp("lines")
    return {line: write_line(line, root / line) for line in OTHERS}


@pytest.mark.usefixtures("unread")
@pytest.mark.daily("one-bag-panel", "long-bag-strip", "lead-free-header-card")
@pytest.mark.parametrize("layout", EVERY_LAYOUT, ids=lambda row: row[0])
@pytest.mark.parametrize("line", list(OTHERS))
def test_lines_of_other_makers_have_no_fault(
    line: str, layout: tuple[str, str], lines: dict[str, Path], tmp_path: Path, grave: Grave
) -> None:
    """Words that are long, accented or broken over lines are accounted for all the same.

    In color and in black by turns: every layout is printed for each maker in both, and checked,
    where every sheet is.
    """
    name, sheet = layout
    out = tmp_path / "line.pdf"
    use: Any = "cards" if name.endswith("card") else "bags"
    turn = list(OTHERS).index(line) + EVERY_LAYOUT.index(layout)
    ink: Any = ("colour", "black")[turn % 2]
    print_one_lot(
        PrintRequest(
            folder=lines[line], out=out, use=use, layout=name, sheet=sheet, ink=ink, day=DAY,
            skus=SINGLES[line],
        ),
        LOT,
    )  # fmt: skip
    report = check_pdf(out, lines[line], day=DAY)
    assert report.pieces
    assert not grave(report), report.as_text()


EVERY_PRODUCT = ("strip", "panel", "header")
"""On these all of the line is printed: a small label, a large one, a card.

On the others stands one product at least of each weight of a pattern, and of each colour.
"""


def one_of_each(products: Iterable[Product]) -> Iterator[str]:
    """Yield the products that are the first of a pattern's weight, or in a colour."""
    seen: set[object] = set()
    for product in products:
        news = {(product.pattern.name, product.weight), product.colour.name} - seen
        seen |= news
        if news:
            yield product.sku


@pytest.mark.usefixtures("unread")
@pytest.mark.siege
@pytest.mark.parametrize("kind", list(SHEETS))
def test_the_whole_line_has_no_fault(
    kind: str, shelf: dict[str, Path], tmp_path: Path, grave: Grave
) -> None:
    """A second program draws each jig small, and of each other sheet other pages, a seventh."""
    out = tmp_path / "line.pdf"
    products = read_catalog(shelf["demo"]).products
    skus = [each.sku for each in products] if kind in EVERY_PRODUCT else [*one_of_each(products)]
    wish = PrintRequest(folder=shelf["demo"], out=out, skus=tuple(skus), **SHEETS[kind])
    print_one_lot(wish, LOT)
    report = check_pdf(out, shelf["demo"])
    assert report.pieces == len(skus) > 30
    assert not grave(report), report.as_text()
    if kind != "strip":
        with pikepdf.open(out, allow_overwriting_input=True) as pdf:
            first = list(SHEETS).index(kind)
            for number in reversed([at for at in range(len(pdf.pages)) if at % 7 != first % 4]):
                del pdf.pages[number]
            assert 1 <= len(pdf.pages) <= 7
            pdf.save()
    assert not worker.drawing_differences(out)[0]


def test_a_card_with_sign_quantity_and_bars_has_no_fault(
    bases: dict[str, Any], grave: Grave
) -> None:
    witness = bases["witness"]
    report = check_pdf(witness.pdf, witness.folder, day=DAY)
    assert report.pieces == 2
    assert not grave(report), report.as_text()


def test_a_page_corrected_for_its_printer_has_no_fault(bases: dict[str, Any], grave: Grave) -> None:
    dots = bases["dots"]
    report = check_pdf(dots.pdf, dots.folder, day=DAY)
    assert report.pieces == 3
    assert not grave(report), report.as_text()
    assert not any("resolution" in each for each in report.not_checked)


@pytest.mark.siege
def test_a_makers_own_faces_are_known_by_the_files_in_the_catalog(
    workshop: Any, tmp_path: Path, grave: Grave
) -> None:
    """Two files that call themselves the same, both named in the catalog's own fonts folder."""
    from fontTools.ttLib import TTFont

    shipped = Path(__file__).parents[2] / "fonts"
    folder = workshop.copied(tmp_path / "own")
    (folder / "fonts").mkdir()
    for file, tall in (("one.ttf", 1.0), ("two.ttf", 1.02)):
        font = TTFont(shipped / "BarlowCondensed-Medium.ttf")
        for name in font.getGlyphOrder():
            if font["glyf"][name].numberOfContours > 0:
                font["glyf"][name].coordinates.scale((1.0, tall))
        font.save(folder / "fonts" / file)
    (folder / "fonts" / "faces.toml").write_text(
        '[sans-medium]\nfile = "one.ttf"\n[sans]\nfile = "two.ttf"\n'
    )
    run = workshop.printed(folder, tmp_path / "own.pdf", skus=("RM-14-*",))
    report = check_pdf(run.pdf, folder, day=DAY)
    assert report.pieces == 4
    assert not grave(report), report.as_text()
    strangers = check_pdf(run.pdf, workshop.copied(tmp_path / "without"), day=DAY)
    assert {each.rule for each in grave(strangers)} >= {"font-strange"}
