"""The sheet for the wall, read back from its PDF by others than those who wrote it."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pypdfium2
import pytest
from pdfminer.high_level import extract_pages, extract_text
from pdfminer.layout import LTChar, LTPage, LTTextContainer, LTTextLine
from PIL import Image, ImageChops

from labeler.disclosures.rules import NO_LEGAL_ADVICE
from labeler.disclosures.sale import SHORT, Status

DEMO = Path(__file__).resolve().parents[3] / "demo_catalog"
AUTUMN = "2026-11-25"
MANY = ("US", "US-ME", "US-NH", "US-CA", "CA", "GB", "DE", "DK", "EU", "JP", "US-WI", "US-WA")
PATTERNS = ("Reedmace", "GRAVEL BELL", "Petite Éphémère", "Thistledown", "Loonlight")

Sheet = Callable[..., tuple[Path, dict[str, Any]]]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Path]:
    """Return a function that names the file of a sheet: of the same words the same."""
    files: dict[object, Path] = {}

    def name(*words: object) -> Path:
        if words not in files:
            files[words] = tmp_path_factory.mktemp("sheet") / "wall.pdf"
        return files[words]

    return name


@pytest.fixture
def sheet(written: Callable[..., Path], run_cli: Any) -> Sheet:
    """Return a function that writes the sheet, the demo's once, and gives file and report."""

    def write(*words: str, folder: Path = DEMO) -> tuple[Path, dict[str, Any]]:
        out = written(folder, *words)
        return out, run_cli(folder, "markets", "--on", AUTUMN, "--sheet", str(out), *words)

    return write


def asking(*codes: str) -> list[str]:
    return [word for code in codes for word in ("--market", code)]


def flat(text: str) -> str:
    """Return the text as typed, without spaces: a fraction or a line's end may have none."""
    return "".join(text.split()).replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")


def sizes(file: Path) -> list[tuple[float, float]]:
    """Return the width and height of each page."""
    with pypdfium2.PdfDocument(file) as document:
        return [document.get_page_size(page) for page in range(len(document))]


def picture(file: Path, dpi: int) -> Image.Image:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        document = pypdfium2.PdfDocument(file)
        image: Image.Image = document[0].render(scale=dpi / 72).to_pil()
        document.close()
    return image.convert("RGB")


def test_the_demo_hangs_on_the_wall_on_one_page(sheet: Sheet) -> None:
    file, report = sheet()
    assert report["pages"] == 1
    assert len(sizes(file)) == 1


def test_all_that_the_screen_says_stands_on_the_sheet(sheet: Sheet) -> None:
    file, report = sheet()
    said = flat(extract_text(file))
    for words in ("Where it may be sold", "88 products, as of 25 November 2026", *PATTERNS):
        assert flat(words) in said
    for market in report["markets"]:
        assert market["code"] in said
        assert flat(market["name"]) in said
    for rule in report["rules"]:
        assert flat(rule["about"]) in said
        assert flat(rule["source"]) in said
        assert rule["read"] in said
    for line in report["not_checked"]:
        assert flat(line) in said
    assert flat(NO_LEGAL_ADVICE) in said


@pytest.mark.siege
def test_a_table_that_one_page_holds_is_never_torn_over_two(sheet: Sheet) -> None:
    file, report = sheet(*asking(*MANY, "US-MN"))
    texts = [flat(extract_text(file, page_numbers=[n])) for n in range(report["pages"])]
    with_rows = [text for text in texts if any(flat(name) in text for name in PATTERNS)]
    assert len(with_rows) == 2, "a table of seven markets and one of six"
    for text in with_rows:
        assert [text.count(flat(name)) for name in PATTERNS] == [1] * len(PATTERNS)


@pytest.mark.siege
@pytest.mark.parametrize(
    ("paper", "codes", "size"),
    [
        # ANSI/ASME Y14.1, size A; ISO 216.
        ("letter", MANY[:6], (612.0, 792.0)),
        ("letter", MANY[:7], (792.0, 612.0)),
        ("a4", MANY[:6], (595.276, 841.890)),
        ("a4", MANY, (841.890, 595.276)),
    ],
)
def test_the_paper_lies_where_many_markets_stand_side_by_side(
    sheet: Sheet, paper: str, codes: tuple[str, ...], size: tuple[float, float]
) -> None:
    file, _ = sheet("--paper", paper, *asking(*codes))
    for found in sizes(file):
        assert found == pytest.approx(size, abs=0.01)


@pytest.mark.siege
def test_nothing_but_black_is_printed(sheet: Sheet) -> None:
    file, _ = sheet(*asking(*MANY))
    red, green, blue = picture(file, 100).split()
    for other in (green, blue):
        assert ImageChops.difference(red, other).getextrema()[1] <= 1  # type: ignore[operator]


def darkness(image: Image.Image, scale: float, words: LTTextLine, page: LTPage) -> float:
    """Return how much of the sign left of ``words`` is ink, of the square around it."""
    right = words.x0 - 3.5
    middle = page.height - (words.y0 + words.y1) / 2
    box = (right - 11.5, middle - 6, right, middle + 6)
    left, top, edge, foot = (round(side * scale) for side in box)
    crop = image.convert("L").crop((left, top, edge, foot))
    ink = int((np.asarray(crop) < 128).sum())
    return ink / (crop.width * crop.height)


@pytest.mark.siege
def test_a_sign_is_the_darker_the_less_may_be_done(sheet: Sheet, edited: Any) -> None:
    """In pure black, and without its words, each verdict looks like no other."""
    folder = edited(("employees = 2", "employees = 10"))
    file, _ = sheet(*asking("GB", "US", "US-CA", "US-WI", "JP"), folder=folder)
    image, page = picture(file, 300), next(extract_pages(file))
    seen: dict[str, list[float]] = {}
    for line in _lines(page):
        text = line.get_text().strip()
        if text in SHORT.values() and line.x0 > 170:
            seen.setdefault(text, []).append(darkness(image, 300 / 72, line, page))
    order = [SHORT[s] for s in (
        Status.NOT_HELD, Status.FREE, Status.NOTED, Status.DISCLOSURE, Status.RESTRICTED,
        Status.BARRED,
    )]  # fmt: skip
    assert set(seen) == set(order)
    for lighter, darker in pairwise(order):
        assert max(seen[lighter]) + 0.02 < min(seen[darker]), (lighter, darker)


def _lines(page: LTPage) -> list[LTTextLine]:
    return [
        line
        for box in page
        if isinstance(box, LTTextContainer)
        for line in box
        if isinstance(line, LTTextLine)
    ]


def test_every_letter_stands_inside_the_margin_and_can_be_read(sheet: Sheet) -> None:
    file, _ = sheet(*asking(*MANY))
    for page in extract_pages(file):
        letters = [
            one for line in _lines(page) for one in line if isinstance(one, LTChar)
        ]  # fmt: skip
        assert min(one.x0 for one in letters) >= 36
        assert max(one.x1 for one in letters) <= page.width - 36
        assert min(one.size for one in letters if one.get_text().isalpha()) >= 5


@pytest.mark.siege
def test_long_tables_go_on_with_their_heads_and_the_last_page_ends_with_the_advice(
    sheet: Sheet, edited: Any
) -> None:
    extra = "".join(
        f"""
[patterns.more-{n}]
code = "X{n}"
name = "Another {n}"
kind = "swim jig"
head = "reed"
hook = "swim"
weights = ["1/4 oz"]
hook_sizes = ["3/0"]
colours = ["peat-cutter"]
made_in = "US"
"""
        for n in range(40)
    )
    folder = edited(("[tiers.dealer]", extra + "\n[tiers.dealer]"))
    file, report = sheet(*asking("US-NH", "US-ME"), folder=folder)
    texts = [flat(extract_text(file, page_numbers=[n])) for n in range(report["pages"])]
    assert report["pages"] > 2
    assert all("US-NH" in text for text in texts if "Another" in text)
    assert [n for n, text in enumerate(texts) if flat(NO_LEGAL_ADVICE) in text] == [len(texts) - 1]
    with pikepdf.open(file) as pdf:  # a head that stands again is read aloud once
        assert _passages(pdf.Root.StructTreeRoot.K, "/TH") == len(report["markets"]) + 48
    assert all(f"PAGE{n}OF{len(texts)}" in text for n, text in enumerate(texts, 1))


@pytest.mark.siege
def test_those_who_hear_the_sheet_hear_a_table(sheet: Sheet) -> None:
    """ISO 32000-1:2008, 14.8.4.3.4: TR, TH and TD in a Table."""
    file, report = sheet(*asking("US", "CA", "GB"))
    with pikepdf.open(file) as pdf:
        tags = _tags(pdf.Root.StructTreeRoot.K)
    assert tags.count("/Table") == 1
    assert tags.count("/TR") == 9
    assert tags.count("/TD") == 8 * 3
    assert tags.count("/TH") == 8 + 3
    assert tags.count("/LI") == len(report["rules"]) + len(report["not_checked"])


def _tags(node: Any) -> list[str]:
    if isinstance(node, pikepdf.Array):
        return [tag for kid in node for tag in _tags(kid)]
    if not isinstance(node, pikepdf.Dictionary):
        return []
    own = [str(node.S)] if "/S" in node else []
    return own + (_tags(node.K) if "/K" in node else [])


def _passages(node: Any, tag: str, inside: bool = False) -> int:
    """Return how many passages are read in elements of ``tag``."""
    if isinstance(node, pikepdf.Array):
        return sum(_passages(kid, tag, inside) for kid in node)
    if not isinstance(node, pikepdf.Dictionary):
        return int(inside)
    if "/MCID" in node:
        return int(inside)
    return _passages(node.K, tag, str(node.S) == tag) if "/S" in node else _passages(node.K, tag)


@pytest.mark.siege
def test_the_same_line_gives_the_same_bytes(sheet: Sheet, run_cli: Any, tmp_path: Path) -> None:
    other = tmp_path / "wall.pdf"
    run_cli(DEMO, "markets", "--on", AUTUMN, "--sheet", str(other))
    assert other.read_bytes() == sheet()[0].read_bytes()


def test_a_sheet_that_can_not_be_written_leaves_nothing(tmp_path: Path, run_cli: Any) -> None:
    report = run_cli(DEMO, "markets", "--sheet", str(tmp_path / "no" / "wall.pdf"), status=2)
    assert report["findings"][0]["rule"] == "no-such-folder"
    assert list(tmp_path.iterdir()) == []
