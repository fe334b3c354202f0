"""A line that lacks what labels can do without: every layout, through the checker, no finding."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pypdf
import pytest
from PIL import Image

from labeler.app.book import BookRequest, make_catalog_book, make_pages
from labeler.app.print_request import PrintRequest
from labeler.app.print_run import PrintResult
from labeler.findings import Grade, LabelerError
from tests.one_lot import print_one_lot

LOT = "263290013"
HEAD = """
[maker]
name = "Tarn & Tiller"
street = "3 Mill Race"
city = "Low Ferry"
state = "WI"
postcode = "54000"
links = "https://go.example.com"

[sale]
markets = ["US", "US-CA", "CA"]

[materials.tin]
name = "Bismuth-tin"
kind = "alloy"
composition = { bismuth = "58 %", tin = "42 %" }
density = "8.56 g/cm3"
origin = "US"
certificate = "foundry sheet 12"

[materials.silicone]
name = "Silicone"
kind = "silicone"
origin = "US"

[heads.vesper]
name = "Vesper head"
style = "swim"
alloy = "tin"
cavities = { "3/8 oz" = "1/2 oz" }

[hooks.stout]
name = "Stout hook"
origin = "JP"

[colours.melon]
code = "MLN"
name = "Melon"
layers = [
    { material = "silicone", shade = "melon", ink = "#5b5a2b", strands = 40 },
    { material = "silicone", shade = "rust", ink = "#8a3b1c", strands = 20 },
]

[colours.dusk]
code = "DSK"
name = "Dusk"
"""
FIELDS = {
    "hook": 'hook_sizes = ["4/0"]',
    "price": 'price = "4.75"',
    "photo": 'photo = "vesper.png"',
    "story": 'story = "It swims level and minds nothing."',
}
LACKING = {
    "WH": ("Whole", "melon", ()),
    "RC": ("Recipe", "dusk", ("photo",)),
    "PH": ("Recipe alone", "dusk", ()),
    "HK": ("Hook", "melon", ("hook",)),
    "PR": ("Price", "melon", ("price", "photo")),
    "NO": ("Nothing", "dusk", tuple(FIELDS)),
}
"""By a pattern's code: its name, its color, and which of `FIELDS` it lacks. None has a GTIN."""
CASES = [
    ("bags", "letter-3x10", "bag-strip"),
    ("bags", "a4-3x7", "bag-compact"),
    ("bags", "letter-2x7", "bag-wide"),
    ("bags", "letter-2x5", "bag-panel"),
    ("bags", "letter-2x3", "bag-panel"),
    ("cards", "letter-card", "header-card"),
    ("cards", "letter-card", "insert-card"),
]


def write_line(folder: Path, tied_with: str = 'tied_with = ["silicone"]') -> Path:
    """Write the folder of a line in which each pattern lacks something else."""
    text = HEAD
    for code, (name, colour, lacks) in LACKING.items():
        given = "\n".join(line for field, line in FIELDS.items() if field not in lacks)
        text += (
            f'\n[patterns.{code.lower()}]\ncode = "{code}"\nname = "{name} Vesper"\n'
            f'kind = "swim jig"\nhead = "vesper"\nhook = "stout"\nweights = ["3/8 oz"]\n'
            f'made_in = "US"\ncolours = ["{colour}"]\n{tied_with}\n{given}\n'
        )
    (folder / "photos").mkdir(parents=True)
    Image.new("RGB", (1200, 800), "#7a8a5c").save(folder / "photos" / "vesper.png")
    (folder / "catalog.toml").write_text(text, "utf-8")
    return folder


def write_layout(folder: Path, more: str) -> None:
    """Write a layout of the maker's own, called till."""
    (folder / "layouts").mkdir()
    (folder / "layouts" / "till.xml.jinja").write_text(
        '<piece name="till"><front pad="8pt">'
        '<text style="name" least="6pt">{{ product.pattern }}, {{ product.colour }}</text>'
        '<text style="weight" most="20pt" least="9pt">{{ product.weight_oz }}</text>'
        f"{more}<disclosure/></front></piece>",
        "utf-8",
    )
    (folder / "layouts" / "layouts.toml").write_text(
        '[till]\nabout = "For the till."\nuse = "bags"\nleast = ["3 in", "2 in"]\n'
        'most = ["5 in", "4 in"]\n',
        "utf-8",
    )


@pytest.fixture(scope="module")
def bare(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_line(tmp_path_factory.mktemp("bare") / "line")


def printed(folder: Path, out: Path, use: Any, **request: Any) -> PrintResult:
    return print_one_lot(PrintRequest(folder, out, use, **request), LOT)


def words(file: Path) -> str:
    with pypdf.PdfReader(file) as reader:
        return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


@pytest.mark.daily("bags-letter-3x10-bag-strip", "cards-letter-card-insert-card")
@pytest.mark.parametrize(("use", "sheet", "layout"), CASES)
def test_every_layout_prints_a_line_without_any_of_it_and_the_checker_finds_nothing(
    bare: Path, tmp_path: Path, use: str, sheet: str, layout: str
) -> None:
    out = tmp_path / "labels.pdf"
    done = printed(bare, out, use, sheet=sheet, layout=layout)
    assert done.products == len(LACKING)
    told = [one for one in (*done.findings, *done.report.findings) if one.grade is not Grade.NOTE]
    assert told == []
    assert "Nothing" in words(out)


def test_nothing_is_said_of_what_is_missing(bare: Path, tmp_path: Path) -> None:
    out = tmp_path / "labels.pdf"
    printed(bare, out, "cards", layout="insert-card", skus=("NO-38-DSK",))
    said = words(out)
    for word in ("HOOK", "Skirt", "$", "None", "0 strands"):
        assert word not in said
    assert "ITEM NO-38-DSK" in said


def test_what_a_skirt_is_tied_from_is_asked_where_neither_recipe_nor_pattern_tells(
    tmp_path: Path,
) -> None:
    folder = write_line(tmp_path / "line", tied_with="")
    done = printed(folder, tmp_path / "labels.pdf", "bags", layout="bag-strip")
    asked = [one for one in done.report.findings if one.grade is Grade.FIX]
    assert {one.rule for one in asked} == {"house-latex"}
    assert {one.place.piece for one in asked} == {"RC-38-40-DSK", "PH-38-40-DSK", "NO-38-DSK"}


@pytest.mark.daily
def test_a_layout_that_needs_a_gtin_names_the_label_and_what_it_lacks(tmp_path: Path) -> None:
    folder = write_line(tmp_path / "line")
    write_layout(folder, '<code name="bars" kind="retail"/>')
    out = tmp_path / "labels.pdf"
    with pytest.raises(LabelerError) as refused:
        printed(folder, out, "bags", layout="till", sheet="letter-2x3")
    (finding,) = refused.value.findings
    assert finding.rule == "gtin-missing"
    assert finding.message.startswith("6 labels of the layout till on letter-2x3 have retail bars")
    assert "WH-38-40-MLN" in finding.found
    assert "--give-gtins" in finding.hint
    assert not out.exists()


def test_book_and_pages_tell_what_is_known_of_such_a_line(bare: Path, tmp_path: Path) -> None:
    out = tmp_path / "book.pdf"
    made = make_catalog_book(BookRequest(bare, out, "retail"))
    assert [one for one in made.report.findings if one.grade is not Grade.NOTE] == []
    make_pages(bare, tmp_path / "site")
    page = (tmp_path / "site" / "p" / "NO-38-DSK" / "index.html").read_text("utf-8")
    for said in (words(out), page):
        assert "Nothing Vesper" in said
        assert "None" not in said
        assert "black nickel" not in said
    assert "<figure>" not in page
    assert "Recipe, in" not in page


@pytest.mark.daily
def test_what_the_catalog_does_not_state_may_not_stand_on_a_label(tmp_path: Path) -> None:
    folder = write_line(tmp_path / "line")
    write_layout(
        folder, '<text style="note" least="6pt">Hook 4/0, $4.75, GTIN 4006381333931</text>'
    )
    out = tmp_path / "labels.pdf"
    with pytest.raises(LabelerError) as refused:
        printed(folder, out, "bags", layout="till", sheet="letter-2x3", skus=("NO-38-DSK",))
    found = {one.rule: one.expected for one in refused.value.findings}
    assert found["hook-wrong"] == "no hook size: the catalog states none"
    assert {"price-wrong", "gtin-wrong"} <= found.keys()
    assert not out.exists()
