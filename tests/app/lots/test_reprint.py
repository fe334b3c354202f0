"""The label that hangs there: byte for byte, mark for mark, whatever has changed since."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from labeler.app.record import making_of
from labeler.app.reprint import find_original, lay_out_again
from labeler.app.workstation import ledger_location
from labeler.layout.canonical import drawn_print
from labeler.ledger.documents import Making
from labeler.marks import Piece

Labeler = Callable[..., Any]
Lot = Callable[..., str]
SHIPPED = Path(__file__).resolve().parents[3] / "layouts"
WITH_PHOTO = "RM-38-40-DLF"


@pytest.fixture
def piece(folder: Path) -> Callable[[str], tuple[Piece, Making]]:
    """Lays a printed piece out again: the piece, and how it was made."""

    def again(target: str) -> tuple[Piece, Making]:
        with ledger_location(folder).opened() as ledger:
            original = find_original(ledger, target, None, None)
        assert original.layout
        assert making_of(original.layout)
        laid, making, _ = lay_out_again(original, folder)
        return laid.composed.piece, making

    return again


def change(file: Path, old: str, new: str) -> None:
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new), "utf-8")


def change_everything(folder: Path) -> None:
    """Prices, story, hook and recipe; the layouts and styles; every photo is gone."""
    for old, new in (
        ('price = "4.95"', 'price = "6.15"'),
        ("Reedmace began", "Reedmace started"),
        ('name = "Flat-eye swim hook"', 'name = "Another hook"'),
        ("strands = 22", "strands = 23"),
    ):
        change(folder / "catalog.toml", old, new)
    (folder / "layouts").mkdir()
    shutil.copy(SHIPPED / "bag-panel.xml.jinja", folder / "layouts")
    change(folder / "layouts" / "bag-panel.xml.jinja", 'pad="9pt, ', 'pad="12pt, ')
    (folder / "layouts" / "styles.toml").write_text(
        '[name]\nface = "sans-bold"\nmost = "18pt"\nleast = "8pt"\n'
    )
    for photo in (folder / "photos").iterdir():
        photo.unlink()


@pytest.mark.daily("cards-RM-38-40-DLF")
@pytest.mark.parametrize("sku", ["RM-38-40-SBR", WITH_PHOTO])
@pytest.mark.parametrize("verb", ["bags", "cards"])
def test_a_reprint_is_the_first_file_byte_for_byte_after_everything_changed(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path, sku: str, verb: str
) -> None:
    code = lot(sku, "--count", 3)
    on = ("--sheet", "letter-2x5") if verb == "bags" else ("--layout", "insert-card")
    first, second, third = (tmp_path / f"{n}.pdf" for n in range(3))
    assert labeler(verb, "--lot", code, *on, "--out", first).status == 0
    change_everything(folder)
    said = labeler("reprint", sku, "--count", 3, "--out", second, "--json")
    assert said.status == 0, said.out
    assert (said.json["same"], said.json["of_run"]) == (True, 1)
    assert labeler("reprint", code, "--count", 3, "--out", third).status == 0
    assert first.read_bytes() == second.read_bytes() == third.read_bytes()


def test_the_piece_is_the_same_mark_for_mark(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path,
    piece: Callable[[str], tuple[Piece, Making]],
) -> None:  # fmt: skip
    code = lot(WITH_PHOTO)
    labeler("bags", "--lot", code, "--sheet", "letter-2x5", "--out", tmp_path / "1.pdf")
    before, making = piece(code)
    assert drawn_print(before) == making.marks
    change_everything(folder)
    after, _ = piece(code)
    assert after == before


FISH = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 30 10">
<ellipse cx="10" cy="5" rx="10" ry="4"/><path d="{tail}"/></svg>"""


def test_a_reprint_bears_the_logo_as_it_was_and_nothing_is_found_with_it(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    first, second, today = (tmp_path / f"{name}.pdf" for name in ("first", "second", "today"))
    logo = folder / "photos" / "fish.svg"
    logo.write_text(FISH.format(tail="M18 5L30 0V10Z"), "utf-8")
    change(folder / "catalog.toml", 'phone = "715-555-0114"',
           'phone = "715-555-0114"\nlogo = "fish.svg"')  # fmt: skip
    code = lot("RM-38-40-SBR", "--count", 2)
    assert labeler("cards", "--lot", code, "--sheet", "letter-card", "--out", first).status == 0
    logo.write_text(FISH.format(tail="M24 0H30V10H24Z"), "utf-8")
    said = labeler("reprint", code, "--count", 2, "--out", second, "--json")
    assert (said.json["same"], first.read_bytes()) == (True, second.read_bytes())
    assert labeler("reprint", code, "--count", 2, "--today", "--out", today).status == 0
    for file in (second, today):
        found = labeler("check", file, "--json").json["findings"]
        assert not [one for one in found if one["rule"] == "picture-unaccounted"]
    change(folder / "catalog.toml", 'logo = "fish.svg"\n', "")
    again = labeler("reprint", code, "--count", 2, "--out", second)
    assert "maker's logo: fish.svg then, nothing now" in again.out


def test_today_s_label_is_a_choice_and_what_differs_is_shown(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code = lot()
    out = tmp_path / "six.pdf"
    labeler("bags", "--lot", code, "--sheet", "letter-2x5", "--out", out)
    change(folder / "catalog.toml", 'price = "4.95"', 'price = "6.15"')
    then = labeler("reprint", code, "--count", 6, "--out", out)
    assert "price: $4.95 then, $6.15 now" in then.out
    assert "$4.95" in PdfReader(out).pages[0].extract_text()
    now = labeler("reprint", code, "--count", 6, "--today", "--out", out, "--json")
    assert now.json["same"] is False
    assert {"what": "price", "was": "$4.95", "now": "$6.15"} in now.json["changed"]
    assert "$6.15" in "".join(PdfReader(out).pages[0].extract_text().split())


@pytest.mark.siege
def test_today_s_label_may_have_another_name_and_passes_the_checker_again(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, out, then = lot(), tmp_path / "six.pdf", tmp_path / "then.pdf"
    labeler("bags", "--lot", code, "--sheet", "letter-2x5", "--out", then)
    change(folder / "catalog.toml", 'name = "Reedmace"', 'name = "Cattail"')
    now = labeler("reprint", code, "--count", 6, "--today", "--out", out)
    assert now.status == 0, now.err
    assert labeler("check", out).status == 0
    assert labeler("check", then).status == 0
    change(folder / "catalog.toml", 'name = "Cattail"', 'name = "Gone Again"')
    assert "piece-nameless" in labeler("check", out).out


@pytest.mark.siege
def test_a_sku_means_its_newest_lot_that_is_not_void(
    labeler: Labeler, lot: Lot, tmp_path: Path
) -> None:
    sku, out = "RM-38-40-SBR", tmp_path / "six.pdf"
    older = lot(sku, "--made", "2026-11-20")
    newer = lot(sku, "--made", "2026-11-24")
    void = lot(sku, "--made", "2026-11-25")
    labeler("lot", "void", void, "--why", "never tied")
    assert labeler("reprint", sku, "--count", 1, "--out", out, "--json").json["lot"] == newer
    assert labeler("reprint", older, "--count", 1, "--out", out, "--json").json["lot"] == older
    assert labeler("reprint", void, "--count", 1, "--out", out).status == 2


def test_a_label_without_a_lot_is_reprinted_from_its_run(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    lot("MW-38-50-OAK")  # begins the ledger
    first, second = tmp_path / "1.pdf", tmp_path / "2.pdf"
    labeler("bags", "--sku", "RM-12-40-SBR", "--out", first)
    change(folder / "catalog.toml", 'prices = { "1/2 oz" = "5.25" }', 'prices = { "1/2 oz" = "6" }')
    said = labeler("reprint", "rm-12-40-sbr", "--count", 1, "--out", second, "--json")
    assert said.json["same"] is True


def test_another_typeface_is_told_and_today_s_offered(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code, out = lot(), tmp_path / "six.pdf"
    labeler("bags", "--lot", code, "--out", tmp_path / "1.pdf")
    fonts = SHIPPED.parent / "fonts"
    (folder / "fonts").mkdir()
    shutil.copy(fonts / "BarlowCondensed-Medium.ttf", folder / "fonts" / "mine.ttf")
    faces = '[serif-semibold]\nfile = "mine.ttf"\n'
    (folder / "fonts" / "faces.toml").write_text(faces)
    said = labeler("reprint", code, "--count", 6, "--out", out)
    assert said.status == 2
    assert "'serif-semibold' is another file now" in said.err
    assert "--today" in said.err
    assert not out.exists()
    assert labeler("reprint", code, "--count", 6, "--today", "--out", out).status == 0


def test_the_ledger_alone_is_enough(
    labeler: Labeler, lot: Lot, folder: Path, tmp_path: Path
) -> None:
    code = lot()
    first, second = tmp_path / "1.pdf", tmp_path / "2.pdf"
    labeler("bags", "--lot", code, "--out", first)
    (folder / "catalog.toml").write_text("[maker\nname = ", "utf-8")
    assert labeler("reprint", code, "--count", 12, "--out", second).status == 0
    assert first.read_bytes() == second.read_bytes()


@pytest.mark.parametrize("word", ["RM-38-40-SBX", "nothing of the kind", "263290014"])
def test_a_name_the_ledger_does_not_know_is_refused(
    labeler: Labeler, lot: Lot, tmp_path: Path, word: str
) -> None:
    code = lot("RM-38-40-SBR", "--made", "2026-11-20")
    out = tmp_path / "six.pdf"
    said = labeler("reprint", word, "--count", 6, "--out", out)
    assert (said.status, out.exists()) == (2, False)
    if word == "RM-38-40-SBX":
        assert "RM-38-40-SBR" in said.err
    assert code
