"""A book is read back and checked before it gets its name, and says so if it is wanted even so."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pikepdf
import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from labeler.app.book import BookMade
from labeler.checker.judge import check_pdf
from labeler.cli.group import labeler, run
from labeler.findings import Grade, LabelerError

NAMES = [("Reed Vole", 2, 2), ("Otter", 1, 1)]


@pytest.fixture
def barred(tmp_path: Path, line: Callable[..., Path]) -> Path:
    """A line of lead that is sold where small lead jigs may not be (New Hampshire RSA 339:77)."""
    folder = line(tmp_path / "line", NAMES, ["Reed Brown", "Mud"])
    file = folder / "catalog.toml"
    text = file.read_text("utf-8")
    file.write_text(text.replace('"US-CA"]', '"US-CA", "US-NH"]'), "utf-8")
    return folder


@pytest.mark.daily
def test_a_good_book_is_handed_out_with_what_the_checker_says(
    tmp_path: Path, line: Callable[..., Path], make: Callable[..., BookMade]
) -> None:
    made = make(line(tmp_path / "line", NAMES, ["Reed Brown", "Mud"]), tmp_path / "book.pdf")
    assert made.report.file == "book.pdf"
    assert not made.report.stops
    assert made.report.pieces == made.products == 5
    assert "5 rows on" in made.report.summary


def test_a_percentage_in_a_colour_s_name_is_no_margin(
    tmp_path: Path, line: Callable[..., Path], make: Callable[..., BookMade]
) -> None:
    """One beside the names is, and so is another figure in the column of margins."""
    made = make(line(tmp_path / "line", NAMES, ["100% Pure Mud", "Mud"]), tmp_path / "book.pdf")
    assert made.report.pieces == made.products == 5
    assert "margin-wrong" not in {each.rule for each in made.report.findings}


def test_a_book_that_something_stops_leaves_nothing_behind(
    barred: Path, tmp_path: Path, make: Callable[..., BookMade]
) -> None:
    with pytest.raises(LabelerError) as told:
        make(barred, tmp_path / "book.pdf", order_sheet=tmp_path / "order.xlsx")
    rules = {each.rule for each in told.value.findings}
    assert {"us-nh-lead-jig-sale", "not-passed"} <= rules
    assert [path.name for path in tmp_path.iterdir()] == ["line"]


def test_a_book_and_its_order_sheet_do_not_take_one_name(
    tmp_path: Path, line: Callable[..., Path], make: Callable[..., BookMade]
) -> None:
    folder = line(tmp_path / "line", NAMES, ["Mud"])
    with pytest.raises(LabelerError) as told:
        make(folder, tmp_path / "b.pdf", order_sheet=tmp_path / "line" / ".." / "b.pdf")
    assert [each.rule for each in told.value.findings] == ["one-name-for-two"]
    assert not (tmp_path / "b.pdf").exists()


@pytest.mark.siege
def test_a_book_wanted_even_so_remembers_what_stopped_it(
    barred: Path, tmp_path: Path, make: Callable[..., BookMade]
) -> None:
    out = tmp_path / "book.pdf"
    made = make(barred, out, even_so=True, archive=True)
    assert made.report.stops
    with pikepdf.open(out) as pdf:
        assert str(pdf.docinfo.Keywords) == "Made in spite of us-nh-lead-jig-sale"
        heads = [one for one in pdf.objects if isinstance(one, pikepdf.Dictionary)
                 and one.get("/S") == "/TH"]  # fmt: skip
        assert heads, "the heads of tables are tagged, though it was written twice"
    said = check_pdf(out, barred)
    assert "file-in-spite-of" in {each.rule for each in said.findings}


def test_the_command_refuses_says_why_and_can_be_overruled(barred: Path, tmp_path: Path) -> None:
    words = ["--catalog", str(barred), "catalog", "--for", "retail"]
    words += ["--out", str(tmp_path / "book.pdf"), "--json"]
    refused = CliRunner().invoke(labeler, words)
    assert refused.exit_code == 1
    assert not (tmp_path / "book.pdf").exists()
    handed = CliRunner().invoke(labeler, [*words, "--even-so"])
    assert handed.exit_code == 0
    told = json.loads(handed.stdout)
    assert told["in_spite_of"] == ["us-nh-lead-jig-sale"]
    assert (tmp_path / "book.pdf").exists()


@pytest.mark.parametrize("how", [(), ("--booklet", "--bleed")])
def test_a_preview_shows_what_stops_a_book_and_is_never_taken_for_one(
    how: tuple[str, ...], barred: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "look.pdf"
    words = ["--catalog", str(barred), "catalog", "--for", "dealer", "--preview", *how]
    words += ["--out", str(out)]
    status, said = run(words), capsys.readouterr()
    assert (status, "[us-nh-lead-jig-sale]" in said.err) == (1, True)
    assert "A preview, to look at and not to hand on: every page says so." in said.out
    reader = PdfReader(out)
    said_so = [page.extract_text().count("Preview, not for use") for page in reader.pages]
    assert set(said_so) == {1}
    assert reader.metadata
    assert str(reader.metadata.title).startswith("Preview: ")
    assert not reader.get_fields(), "nobody orders by it"
    assert [each.rule for each in check_pdf(out, barred).findings] == ["preview"]
    with pikepdf.open(out) as pdf:
        sheet = pdf.attachments["book-sheet.json"].get_file().obj
        record = json.loads(sheet.read_bytes())
        del record["book"]["preview"]
        sheet.write(json.dumps(record).encode())
        pdf.save(tmp_path / "forged.pdf")
    found = check_pdf(tmp_path / "forged.pdf", barred).findings
    pages = [each.place.page for each in found if each.rule == "preview"]
    assert pages == list(range(1, len(reader.pages) + 1)), "by the words around the paper"


def test_a_preview_comes_with_no_order_form_to_send_out(
    barred: Path, tmp_path: Path, make: Callable[..., BookMade]
) -> None:
    with pytest.raises(LabelerError) as told:
        make(barred, tmp_path / "look.pdf", preview=True, order_sheet=tmp_path / "form.xlsx")
    assert [each.rule for each in told.value.findings] == ["preview-order-sheet"]
    assert [path.name for path in tmp_path.iterdir()] == ["line"]


def test_a_list_that_is_over_is_said_once(
    tmp_path: Path, line: Callable[..., Path], make: Callable[..., BookMade]
) -> None:
    folder = line(tmp_path / "line", NAMES, ["Reed Brown", "Mud"])
    text = (folder / "catalog.toml").read_text("utf-8")
    over = text.replace("[terms]\n", '[terms]\nvalid_until = "2026-01-31"\n')
    (folder / "catalog.toml").write_text(over, "utf-8")
    made = make(folder, tmp_path / "book.pdf")
    said = [each for each in made.findings if each.rule == "price-list-over"]
    assert len(said) == 1
    assert said[0].grade is Grade.FIX
