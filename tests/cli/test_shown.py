"""``labeler sheets`` and ``labeler layouts``: told of as they are, and shown to scale."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from pypdf import PdfReader

from labeler import files
from labeler.app.layouts import shown_layouts
from labeler.catalog.model import Product
from labeler.catalog.read import read_catalog
from labeler.codes.links import link_of
from labeler.disclosures.needed import needed, panel_of
from labeler.findings import Finding, LabelerError
from labeler.layout.compose import Composer, Job
from labeler.layout.index import read_index
from labeler.marks import Code, Glyphs, Group, Mark, Picture
from labeler.press.sheets import find_sheet

Run = Callable[..., tuple[int, str, str]]
SKU = "RM-38-40-SBR"
TODAY = dt.date(2026, 11, 27)


@pytest.mark.daily
def test_the_lists_say_as_json_and_in_words_which_go_together(run_cli: Run) -> None:
    status, out, err = run_cli("sheets", "--json")
    lines = run_cli("sheets")[1].splitlines()
    assert len(lines) == len(json.loads(out)["sheets"]) + 2  # one a sheet, a head and a foot
    assert "memory" not in "".join(lines)
    assert (status, err) == (0, "")
    sheets = {each["name"]: each for each in json.loads(out)["sheets"]}
    assert sheets["letter-3x10"]["cell"] == [2.625, 1.0]
    assert sheets["letter-3x10"]["layouts"] == {"bags": ["bag-strip"]}
    assert sheets["letter-card"]["layouts"] == {
        "cards": ["pack-card", "header-card", "insert-card"]
    }
    assert sheets["letter-1x2"]["layouts"] == {"bags": ["bag-large"]}
    assert all(each["layouts"] for each in sheets.values()), "each is good for something"
    status, out, _ = run_cli("layouts", "--json")
    for each in json.loads(out)["layouts"]:
        on = [name for name, sheet in sheets.items()
              if each["name"] in sheet["layouts"].get(each["use"], ())]  # fmt: skip
        assert sorted(each["sheets"]) == sorted(on), each["name"]
    assert run_cli("layouts")[1] == run_cli("help", "layouts")[1], "one list, not two"
    assert {line.split()[0] for line in lines[1:-1]} == set(sheets)


def marks_of(marks: tuple[Mark, ...]) -> list[Mark]:
    inner = [marks_of(mark.marks) for mark in marks if isinstance(mark, Group)]
    return [*marks, *(one for each in inner for one in each)]


def test_what_a_layout_is_told_to_carry_stands_on_its_pieces(demo: Path) -> None:
    """The list is made from blocks and facts; here the finished marks are asked."""
    product = next(each for each in read_catalog(demo).products if each.sku == SKU)
    for shown in shown_layouts(demo):
        spec, lot = shown.spec, "263290013"
        size = spec.size or (spec.most[0], (spec.least[1] + spec.most[1]) / 2)
        job = Job(product, spec.name, size, lot=lot, link="https://example.com/01/09521234001058")
        piece = Composer(demo).compose(job)
        every = [mark for face in piece.faces for mark in marks_of(face.marks)]
        text = " ".join(mark.text for mark in every if isinstance(mark, Glyphs))
        kinds = {mark.kind for mark in every if isinstance(mark, Code)}
        drawn = any(isinstance(mark, Picture) or (isinstance(mark, Group) and mark.key)
                    for mark in every)  # fmt: skip
        carries = {*shown.carries, *shown.roomy}
        assert {
            "price": "4.95" in text, "lot": lot in text, "QR code": "qr" in kinds,
            "bars": "ean-13" in kinds, "figure or photo": drawn, "back": len(piece.faces) > 1,
            "hang hole": any(face.holes for face in piece.faces),
        } == {
            word: word in carries
            for word in ("price", "lot", "QR code", "bars", "figure or photo", "back", "hang hole")
        }, spec.name  # fmt: skip


def test_a_layout_of_the_maker_s_own_is_told_of_as_truly(line: Path, run_cli: Run) -> None:
    own = line / "layouts"
    own.mkdir(exist_ok=True)
    (own / "layouts.toml").write_text('[tag]\nuse = "bags"\nleast = ["2 in", "1 in"]\n', "utf-8")
    (own / "tag.xml.jinja").write_text(
        "<piece><front><text>{{ product.pattern }}</text>{% if piece.height > 2 %}"
        "<text>{{ product.care }}</text>{% endif %}<disclosure/></front></piece>", "utf-8",
    )  # fmt: skip
    tag = next(each for each in shown_layouts(line) if each.spec.name == "tag")
    assert (tag.carries, tag.roomy) == (("name", "what must be said"), ("care",))
    assert "letter-2x5" in tag.sheets
    for file in (own / "layouts.toml", own / "tag.xml.jinja"):
        file.unlink()


def test_the_specimen_shows_every_layout_and_ink_to_scale(
    run_cli: Run, demo: Path, tmp_path: Path
) -> None:
    out = tmp_path / "specimen.pdf"
    status, said, err = run_cli("--catalog", demo, "layouts", "--specimen", SKU, "--out", out)
    assert (status, err) == (0, "")
    assert "8 layouts with RM-38-40-SBR, to scale" in said
    pages = PdfReader(out).pages
    text = "\n".join(page.extract_text() for page in pages)
    assert all(name in text for name, spec in read_index(demo).items() if not spec.packs)
    assert text.count("in black") == text.count("in color") == 9
    assert text.casefold().count("specimen, not for use") == len(pages)
    # To scale: the edge drawn around the first label measures what a cell of its sheet does.
    cell = find_sheet("letter-3x10", demo).grid
    assert cell is not None
    sizes = [(box[2] - box[0], box[3] - box[1]) for box in edges(out)]
    hair = 0.8  # points, in which the line itself lies
    assert any(0 <= wide - cell.cell_width < hair and 0 <= tall - cell.cell_height < hair
               for wide, tall in sizes)  # fmt: skip
    again = tmp_path / "again.pdf"
    run_cli("--catalog", demo, "layouts", "--specimen", "reedmace sunday bream 3/8", "--out", again)
    assert again.read_bytes() == out.read_bytes()


def edges(file: Path) -> list[Any]:
    """Return the boxes of the stroked paths of the first page, as PDFium reads them."""
    page = pypdfium2.PdfDocument(file)[0]
    return [each.get_bounds() for each in page.get_objects(max_depth=4)
            if each.type == pypdfium2.raw.FPDF_PAGEOBJ_PATH]  # fmt: skip


def test_a_specimen_wants_one_product_and_a_file(
    misused: Callable[..., str], run_cli: Run, demo: Path, tmp_path: Path
) -> None:
    misused("layouts", "--specimen", SKU, says="a specimen needs both")
    out = tmp_path / "x.pdf"
    status, _, err = run_cli("--catalog", demo, "layouts", "--specimen", "RM-*", "--out", out)
    assert (status, "a specimen shows one product" in err, out.exists()) == (2, True, False)


# -------------------------------------------------------------------------------------------------
# Refusals speak of the label and the paper; of a file and its line only where it is the maker's.

FULL = "a name as long as the river is " * 9


def refusals(folder: Path, products: Sequence[Product]) -> Iterator[Finding]:
    """Yield what every layout that ships refuses, from roomy pieces down to none."""
    for spec in read_index(folder).values():
        for share in (1.0, 0.7, 0.4, 0.15, 0.02):
            size = spec.least[0] * share, spec.least[1] * share
            for product in products:
                says = needed(
                    product, product.markets, TODAY, panel=panel_of(spec.use, product, size)
                )
                job = Job(product, spec.name, size, says, "263290013", link_of(product, ""))
                try:
                    Composer(folder).compose(job)
                except LabelerError as error:
                    yield from error.findings


def test_no_refusal_of_a_shipped_layout_begins_with_our_files(demo: Path) -> None:
    plain = next(each for each in read_catalog(demo).products if each.sku == SKU)
    wordy = plain.model_copy(update={"colour": plain.colour.model_copy(update={"name": FULL})})
    stories = plain.model_copy(
        update={"pattern": plain.pattern.model_copy(update={"story": FULL, "name": FULL})}
    )
    found = list(refusals(demo, (plain, wordy, stories)))
    assert {each.rule for each in found} >= {"layout-overflow"}
    assert len({each.message for each in found}) > 20
    for each in found:
        said = str(each)
        assert "jinja" not in said
        assert str(files.shipped("layouts")) not in said
        assert not re.search(r"\bline \d|<\w+>", said), said
        assert re.search(r"^[^:]+: on an? [a-z ]+ of .+ x .+, ", said), said
        assert each.place.piece == SKU


def test_a_refusal_of_the_maker_s_own_layout_names_its_file_and_line(
    line: Path, run_cli: Run, tmp_path: Path
) -> None:
    own = line / "layouts"
    own.mkdir(exist_ok=True)
    (own / "tag.xml.jinja").write_text(
        '<piece><front>\n<text least="90pt" most="90pt">{{ product.name }}</text><disclosure/>'
        "</front></piece>", "utf-8",
    )  # fmt: skip
    out = tmp_path / "x.pdf"
    said = run_cli("--catalog", line, "bags", "--layout", "tag", "--out", out)[2]
    assert f"{own / 'tag.xml.jinja'}:2, " in said


TINY = """
[sheet.tiny]
paper = ["8 1/2 in", "11 in"]
columns = 4
rows = 20
cell = ["1 3/4 in", "1/2 in"]
margin = ["9/32 in", "1/2 in"]
pitch = ["2 1/16 in", "1/2 in"]
source = "invented"
"""


@pytest.mark.parametrize(
    ("words", "first", "hint"),
    [
        (["cards", "--sheet", "letter-3x10"],
         "the card is larger than a cell of the sheet letter-3x10; found 3 in x 4 in; expected at "
         "most 2 5/8 in x 1 in", "Sheets that fit: letter-card, a4-card."),
        (["bags", "--sheet", "tiny"],
         "the label is 1 3/4 in x 1/2 in, and no layout here is made for that",
         "Sheets that fit: letter-3x10, "),
        (["bags", "--layout", "bag-panel"],
         "the label is 2 5/8 in x 1 in, and the layout bag-panel is made for 3 1/4 in x 1 15/16 in "
         "to 6 in x 6 in", "--sheet letter-3x10 --layout bag-strip"),
        (["cards", "--size", "2 x 2 in"],
         "the card is 2 in x 2 in, and the layout header-card is made for",
         "--layout header-card --size"),
        (["cards", "--size", "20 x 20 in"], "the card is larger than the sheet letter-card",
         "No sheet here is larger."),
        (["cards", "--layout", "bag-wide"], "a card needs a size", "Give one with --size"),
        (["bags", "--sheet", "letter-3x1"], "there is no sheet called", "labeler sheets lists"),
        (["bags", "--layout", "bag-stripe"], "there is no layout called", "Did you mean"),
    ],
    ids=lambda part: " ".join(part) if isinstance(part, list) else None,
)  # fmt: skip
def test_a_refusal_says_the_label_and_the_paper_first_and_what_fits(
    run_cli: Run, line: Path, tmp_path: Path, words: list[str], first: str, hint: str
) -> None:
    sku = "FST-38-40-MAR"
    own = line / "layouts" / "sheets.toml"
    own.parent.mkdir(exist_ok=True)
    own.write_text(TINY, "utf-8")
    said = run_cli("--catalog", line, *words, "--sku", sku, "--out", tmp_path / "x.pdf")[2]
    stops = [line for line in said.splitlines() if line.startswith("stop  ")]
    assert re.match(rf"stop  (?:{sku}: )?{re.escape(first)}", stops[0]), said
    assert hint in said
    assert ".toml" not in said
