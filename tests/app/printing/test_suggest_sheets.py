"""What a label is too small for is refused, and the way out that is named really is one."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from labeler.app.print_request import PrintRequest
from labeler.app.print_run import print_pieces
from labeler.findings import LabelerError
from labeler.units import Length

DEMO = Path(__file__).resolve().parents[3] / "demo_catalog"


@pytest.fixture
def wordy(tmp_path: Path) -> Path:
    """A shop of fourteen, whose lead jigs carry a warning in California, and long names."""
    folder = tmp_path / "wordy"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("prints"))
    text = (folder / "catalog.toml").read_text("utf-8")
    for old, new in {
        "employees = 2\n": "employees = 14\n",
        'name = "Reedmace"': 'name = "The Long Reedmace of the Drowned Causeway below the Town"',
    }.items():
        assert old in text
        text = text.replace(old, new)
    (folder / "catalog.toml").write_text(text, "utf-8")
    return folder


@pytest.mark.siege
def test_sheets_and_layouts_that_hold_it_are_named(wordy: Path, tmp_path: Path) -> None:
    out = tmp_path / "strip.pdf"
    with pytest.raises(LabelerError) as refused:
        print_pieces(PrintRequest(wordy, out, "bags", skus=("RM-14-*",), sheet="letter-3x10"))
    *stops, way = refused.value.findings
    assert {found.rule for found in stops} == {"layout-overflow"}
    assert way.rule == "held-elsewhere"
    assert way.message.startswith("the 4 products")
    ways = re.findall(r"--sheet (\S+) --layout (\S+)", way.hint)
    assert 1 <= len(ways) <= 3
    for sheet, layout in ways:
        assert sheet.startswith("letter-"), "the paper that is in the printer"
        request = PrintRequest(wordy, out, "bags", skus=("RM-14-*",), sheet=sheet, layout=layout)
        assert print_pieces(request).pieces == 4


def test_a_card_that_is_too_small_names_the_size_that_holds_it(wordy: Path, tmp_path: Path) -> None:
    least = Length.from_inches(2.75).pt, Length.from_inches(3.875).pt
    request = PrintRequest(
        wordy, tmp_path / "card.pdf", "cards", skus=("RM-14-30-SBR",), size=least
    )
    with pytest.raises(LabelerError) as refused:
        print_pieces(request)
    way = refused.value.findings[-1]
    assert way.rule == "held-elsewhere"
    layout, size = re.findall(r"--layout (\S+) --size '([^']+)'", way.hint)[0]
    wide, high = (Length.parse(side).pt for side in size.split(" x "))
    card = PrintRequest(
        wordy, tmp_path / "card.pdf", "cards", skus=("RM-14-30-SBR",), layout=layout,
        size=(wide, high),
    )  # fmt: skip
    assert print_pieces(card).pieces == 1
