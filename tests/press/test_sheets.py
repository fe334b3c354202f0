"""Sheets: the shipped ones add up, the maker's own are read with care."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labeler import files
from labeler.findings import Finding, Grade, LabelerError
from labeler.press.sheets import Sheet, SheetGrid, all_sheets, find_sheet, holding, read_sheets

MM = 72 / 25.4
DIE_CUT = [sheet for sheet in all_sheets().values() if sheet.kind == "die-cut"]


def die_cut(sheet: Sheet) -> SheetGrid:
    assert sheet.grid is not None
    return sheet.grid


@pytest.mark.parametrize("sheet", DIE_CUT, ids=lambda sheet: sheet.name)
def test_every_sheet_adds_up(sheet: Sheet) -> None:
    """First margin, pitches, last cell and last margin make the paper.

    The figures are from memory and no maker's drawing was at hand, so the sum is the check:
    a die is cut in the middle of its sheet, give or take 0.15 mm.
    """
    grid = die_cut(sheet)
    across = grid.left + (grid.columns - 1) * grid.pitch_x + grid.cell_width + grid.right
    down = grid.top + (grid.rows - 1) * grid.pitch_y + grid.cell_height + grid.bottom
    assert across == pytest.approx(sheet.width)
    assert down == pytest.approx(sheet.height)
    assert grid.right == pytest.approx(grid.left, abs=0.15 * MM)
    assert grid.bottom == pytest.approx(grid.top, abs=0.15 * MM)
    assert grid.gap_x >= -1e-6
    assert grid.gap_y >= -1e-6


@pytest.mark.parametrize("sheet", DIE_CUT, ids=lambda sheet: sheet.name)
def test_a_sheet_is_named_by_its_geometry(sheet: Sheet) -> None:
    grid = die_cut(sheet)
    assert f"-{grid.columns}x{grid.rows}" in sheet.name
    paper = sheet.name.split("-")[0]
    sizes = {"letter": (612.0, 792.0), "a4": (210 * MM, 297 * MM)}
    """Letter: ANSI/ASME Y14.1, size A. A4: ISO 216:2007."""
    assert (sheet.width, sheet.height) == pytest.approx(sizes[paper])


def test_both_papers_have_a_good_choice() -> None:
    for paper in ("letter", "a4"):
        assert sum(sheet.name.startswith(paper) for sheet in DIE_CUT) >= 7
    assert len(DIE_CUT) >= 14


def test_the_usual_bag_label_lies_where_it_should() -> None:
    """30 labels of 2 5/8 x 1 in, 3/16 in from the left, 1/2 in from the top (from memory)."""
    grid = die_cut(find_sheet("letter-3x10"))
    assert grid.count == 30
    assert grid.corner(1) == (13.5, 36.0)
    assert grid.corner(3) == (409.5, 36.0)
    assert grid.corner(30) == (409.5, 684.0)


@pytest.mark.parametrize("dpi", [203, 300])
def test_a_roll_s_page_is_the_label(sheets: dict[str, Sheet], dpi: int) -> None:
    rolls = [s for s in sheets.values() if s.kind == "roll" and s.dpi == dpi]
    assert len(rolls) >= 5
    for sheet in rolls:
        grid = die_cut(sheet)
        assert grid.count == 1
        assert grid.corner(1) == (0.0, 0.0)
        assert (grid.cell_width, grid.cell_height) == (sheet.width, sheet.height)
    label = sheets[f"roll-{dpi}-2.25x1.25in"]
    assert (label.width, label.height) == (162.0, 90.0)


def test_every_sheet_says_where_its_figures_come_from(sheets: dict[str, Sheet]) -> None:
    assert all(sheet.source.strip() for sheet in sheets.values())


def test_cells_at_the_paper_s_edge_come_with_a_note() -> None:
    notes = {sheet.name: sheet.notes for sheet in DIE_CUT}
    at_the_edge = {"letter-1x2", "a4-3x8-full", "a4-2x8-full"}
    assert {name for name, found in notes.items() if found} == at_the_edge
    (finding,) = notes["a4-3x8-full"]
    assert finding.grade is Grade.NOTE
    assert "0.0 mm of the paper's left, right, top and bottom" in finding.message


def test_the_snuggest_sheet_comes_first(sheets: dict[str, Sheet]) -> None:
    assert holding(sheets, 189, 72)[0] in {"letter-3x10", "roll-203-3x1in"}
    assert holding(sheets, 5000, 10) == []


def test_an_unknown_sheet_is_answered_with_the_nearest() -> None:
    with pytest.raises(LabelerError) as caught:
        find_sheet("letter-3x11")
    assert "'letter-3x10'" in caught.value.findings[0].hint
    assert find_sheet("Letter-3x10").name == "letter-3x10"


GOOD = """\
[paper.slip]
size = ["100 mm", "200 mm"]

[sheet.slip-2x4]
paper = "slip"
columns = 2
rows = 4
cell = ["45 mm", "45 mm"]
margin = ["4 mm", "5 mm"]
pitch = ["47 mm", "48 mm"]
radius = "2 mm"
holes = "punched"
source = "measured with a steel rule"
"""


def own(tmp_path: Path, text: str | bytes) -> Path:
    folder = tmp_path / "layouts"
    folder.mkdir()
    data = text.encode() if isinstance(text, str) else text
    (folder / "sheets.toml").write_bytes(data)
    return tmp_path


def test_a_maker_adds_a_sheet_of_their_own(tmp_path: Path) -> None:
    sheet = find_sheet("slip-2x4", own(tmp_path, GOOD))
    assert sheet.punched
    assert die_cut(sheet).count == 8
    assert sheet.radius == pytest.approx(2 * MM)
    assert "letter-3x10" in all_sheets(tmp_path)


def test_a_maker_s_sheet_takes_the_place_of_ours(tmp_path: Path) -> None:
    mine = GOOD.replace("slip-2x4", "letter-3x10")
    assert find_sheet("letter-3x10", own(tmp_path, mine)).width == pytest.approx(100 * MM)


BAD = [
    ('pitch = ["47 mm"', 'pitch = ["44 mm"', "cells-overlap", 10),
    ('margin = ["4 mm", "5 mm"]', 'margin = ["9 mm", "5 mm"]', "cells-off-paper", 9),
    ('margin = ["4 mm", "5 mm"]', 'margin = ["4 mm", "50 mm"]', "cells-off-paper", 9),
    ("columns = 2", "columns = 0", "value-not-understood", 6),
    ("columns = 2", "columns = 2.5", "value-not-understood", 6),
    ("columns = 2", "columns = true", "value-not-understood", 6),
    ("rows = 4\n", "", "missing-key", 4),
    ('source = "measured with a steel rule"\n', "", "missing-key", 4),
    ('"measured with a steel rule"', '""', "value-not-understood", 13),
    ('cell = ["45 mm", "45 mm"]', 'cell = ["45", "45 mm"]', "value-not-understood", 8),
    ('cell = ["45 mm", "45 mm"]', 'cell = ["45 mm"]', "value-not-understood", 8),
    ('cell = ["45 mm", "45 mm"]', 'cell = ["0 mm", "45 mm"]', "cell-empty", 8),
    ('cell = ["45 mm", "45 mm"]', 'cell = ["-45 mm", "45 mm"]', "value-not-understood", 8),
    ('cell = ["45 mm", "45 mm"]', 'cell = ["1/0 in", "45 mm"]', "value-not-understood", 8),
    ('radius = "2 mm"', 'radius = "30 mm"', "radius-too-large", 11),
    ('holes = "punched"', 'holes = "drilled"', "value-not-understood", 12),
    ('paper = "slip"', 'paper = "slop"', "unknown-paper", 5),
    ('paper = "slip"', 'paper = "slip"\ncolums = 3', "unknown-key", 6),
    ('paper = "slip"', 'paper = "slip"\nkind = "cards"', "value-not-understood", 6),
    ("[paper.slip]", "[papers.slip]", "unknown-key", 1),
    ("columns = 2", "columns = = 2", "file-unreadable", 6),
]


@pytest.mark.parametrize(("here", "instead", "rule", "line"), BAD)
def test_a_bad_sheet_is_told_by_its_line(
    tmp_path: Path, here: str, instead: str, rule: str, line: int
) -> None:
    assert here in GOOD
    with pytest.raises(LabelerError) as caught:
        all_sheets(own(tmp_path, GOOD.replace(here, instead)))
    found = [(finding.rule, finding.place.line) for finding in caught.value.findings]
    assert (rule, line) in found
    assert all(f.place.file.endswith("sheets.toml") for f in caught.value.findings)


def test_all_that_is_wrong_is_told_at_once(tmp_path: Path) -> None:
    text = GOOD.replace('"45 mm"]', '"45"]').replace("columns = 2", "columns = -2")
    with pytest.raises(LabelerError) as caught:
        all_sheets(own(tmp_path, text.replace('"punched"', "3")))
    assert [f.place.line for f in caught.value.findings] == [6, 8, 12]


def test_the_nearest_key_is_named(tmp_path: Path) -> None:
    with pytest.raises(LabelerError) as caught:
        all_sheets(own(tmp_path, GOOD.replace("columns = 2", "columns = 2\ncolour = 1")))
    (finding,) = caught.value.findings
    assert finding.found == "colour = 1"
    assert "'columns'" in finding.hint


@pytest.mark.parametrize(
    "data",
    [b"\xff\xfe\x00s", b"\x00" * 2_000_000, b"a = " + b"[" * 50_000, b"sheet = 3", b"[[sheet]]\n"],
    ids=["binary", "enormous", "nested", "no-table", "list"],
)
def test_a_file_that_is_no_list_of_sheets_is_told_plainly(tmp_path: Path, data: bytes) -> None:
    with pytest.raises(LabelerError) as caught:
        all_sheets(own(tmp_path, data))
    assert caught.value.exit_status == 2


SHIPPED = (files.shipped("layouts") / "sheets.toml").read_text("utf-8")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.integers(0, len(SHIPPED) - 1),
    st.integers(0, 40),
    st.text(max_size=12),
)
def test_any_damage_to_the_file_reads_or_is_found(
    tmp_path: Path, at: int, cut: int, put: str
) -> None:
    """A slip of the hand anywhere in the file ends in sheets or in findings, never otherwise."""
    path = tmp_path / "sheets.toml"
    text = SHIPPED[:at] + put + SHIPPED[at + cut :]
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    found: dict[str, Sheet] = {}
    findings: tuple[Finding, ...] = ()
    try:
        found = read_sheets(path)
    except LabelerError as error:
        findings = error.findings
    assert bool(findings) or all(s.source for s in found.values())
    assert all(finding.place.file == str(path) for finding in findings)
    for grid in filter(None, (sheet.grid for sheet in found.values())):
        assert min(grid.cell_width, grid.cell_height) > 0
        assert min(grid.right, grid.bottom) > -0.1


def test_the_file_is_toml_that_anybody_reads() -> None:
    assert set(tomllib.loads(SHIPPED)) == {"paper", "sheet"}
