"""A maker's own line becomes a folder that prints, and stays hers when it is taken in again."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from labeler.app.take_in import PAGE_NAME
from labeler.catalog.read import examine, read_catalog
from labeler.catalog.structure import questions
from labeler.findings import Grade
from tests.app.take_in.conftest import ANSWERS, SHEET, Cli, Said
from tests.drawing.heic import heic, with_place
from tests.drawing.test_recipes import photo_of


def contents(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*")) if path.is_file()
    }  # fmt: skip


def take(cli: Cli, bench: Path, *words: object, answers: bool = True) -> Said:
    more = ("--answers", bench / "answers.txt") if answers else ()
    return cli("new", bench / "line", "--from", bench / "jigs.csv", *more, *words)


def test_a_folder_is_made_that_reads_without_fault(cli: Cli, bench: Path) -> None:
    did = take(cli, bench)
    assert (did.status, did.err) == (0, "")
    assert "4 products of 4 rows" in did.out
    catalog = read_catalog(bench / "line")
    assert [one.sku for one in catalog.products] == [
        "SH-38-40-MSK", "SH-12-50-MSK", "SH-38-40-OLV", "BC-14-20-BB",
    ]  # fmt: skip
    jig = catalog.products[0]
    assert (str(jig.price), jig.markets, jig.has_lead) == ("4.50", ("US", "US-WI", "US-MN"), True)
    assert (jig.hook.origin, jig.alloy.origin, jig.pattern.made_in) == ("JP", "US", "US")
    assert jig.bag is not None
    assert (jig.bag.clear, jig.pattern.pack) == (True, 1)
    assert jig.maker.street == "14 Mill Lane"
    stated = tomllib.loads((bench / "line" / "catalog.toml").read_text("utf-8"))
    assert stated["spreadsheet"]["file"] == "../jigs.csv"
    assert (bench / "jigs.csv").read_text("utf-8") == SHEET


def test_recipes_are_proposed_once_and_printed_only_when_looked_at(cli: Cli, bench: Path) -> None:
    photos = bench / "phone"
    photos.mkdir()
    photo_of(photos, ["#808000", "#d9731a"], "#d8d4ca").rename(photos / "img_2231.png")
    sheet = SHEET.replace("Muskrat", "Grannys apron")  # no shade's name: the photo alone tells
    (bench / "jigs.csv").write_text(sheet, "utf-8")
    did = take(cli, bench, "--photos", photos, "--json")
    told = {
        one["place"]["key"]: one for one in did.json["proposed"] if one["rule"] == "recipe-proposed"
    }
    assert set(told) == {'colours."Grannys apron"', "colours.Olive", 'colours."Black & Blue"'}
    assert "photo" in told['colours."Grannys apron"']["message"]
    assert told['colours."Black & Blue"']["found"] == "22 black, 22 blue"
    line = bench / "line"
    assert not any(product.colour.layers for product in read_catalog(line).products)
    stands = (line / "catalog.toml").read_text("utf-8")
    take(cli, bench)
    assert (line / "catalog.toml").read_text("utf-8") == stands
    # she looks at one, takes another out whole, and adds a colour
    text = stands.replace('"Black & Blue"]\nproposed = true', '"Black & Blue"]')
    at = text.index("\n[colours.Olive]")
    text = text[:at] + text[text.index("]\n", text.index("layers", at)) + 2 :]
    (line / "catalog.toml").write_text(text, "utf-8")
    (bench / "jigs.csv").write_text(sheet + ",3/8,Craw,4/0,4.50,,\n", "utf-8")
    did = take(cli, bench, "--json")
    assert [one["place"]["key"] for one in did.json["proposed"]] == ["colours.Craw"]
    colours = {product.colour.name: product.colour for product in read_catalog(line).products}
    assert [one.shade for one in colours["Black & Blue"].layers] == ["black", "blue"]
    assert colours["Olive"].layers == colours["Craw"].layers == ()


def test_what_nobody_said_is_not_in_the_catalog(cli: Cli, bench: Path) -> None:
    """No name of a hook: labels give its size alone. The skirt's kind is proposed, and told."""
    did = take(cli, bench, "--json")
    assumed = [one["place"]["key"] for one in did.json["proposed"] if one["rule"] == "assumed"]
    assert "materials.skirt.kind" in assumed
    catalog, findings = examine(bench / "line")
    assert catalog is not None
    assert {one.hook.name for one in catalog.products} == {""}
    assert not [one for one in findings if one.grade is Grade.STOP]
    lot = cli(
        "--catalog", bench / "line", "lot", "assign", "SH-38-40-MSK", "--count", "3", "--json"
    )
    code = lot.json["lots"][0]["lot"]
    card = cli("--catalog", bench / "line", "lot", "card", code, "--out", bench / "card.pdf")
    assert card.status == 0


@pytest.mark.parametrize(
    ("was", "now"),
    [("Muskrat", "Muskrat Brown"), ("Olive", "Green"), ("Bank Creeper", "Bank Crepeer")],
)
def test_a_name_that_changed_is_asked_about_and_keeps_its_skus(
    cli: Cli, bench: Path, was: str, now: str
) -> None:
    take(cli, bench)
    line = bench / "line"
    before = [one.sku for one in read_catalog(line).products]
    (bench / "jigs.csv").write_text(SHEET.replace(was, now), "utf-8")
    did = take(cli, bench, "--json")
    asked = [one for one in did.json["asked"] if one["rule"] == "perhaps-renamed"]
    assert [one["found"] for one in asked] == [f'"{now}"']
    assert [f.rule for f in examine(line)[1]].count("perhaps-renamed") == 1
    table = "patterns" if was.startswith("Bank") else "colours"
    text = (line / "catalog.toml").read_text("utf-8")
    said = asked[0]["expected"].partition(",")[0]
    heading = f"[spreadsheet.codes.{table}]\n"
    assert heading in text
    (line / "catalog.toml").write_text(text.replace(heading, f"{heading}{said}\n"), "utf-8")
    assert [one.sku for one in read_catalog(line).products] == before
    assert "perhaps-renamed" not in [f.rule for f in examine(line)[1]]


def test_what_is_not_answered_stops_the_print_and_nothing_else(cli: Cli, bench: Path) -> None:
    did = take(cli, bench, "--json", answers=False)
    assert did.status == 0
    assert did.json["prints"] is False
    asked = [one["message"] for one in did.json["asked"] if one["rule"] == "not-answered"]
    assert sorted(asked) == sorted(one.asks.rstrip(".") for one in questions().values())
    refused = cli("--catalog", bench / "line", "bags", "--out", bench / "bags.pdf")
    assert refused.status == 2
    assert refused.err.count("[not-answered]") == len(questions())
    assert not (bench / "bags.pdf").exists()
    again = take(cli, bench, "--json")
    assert again.json["prints"] is True
    assert {"sale.markets", "heads.head.alloy", "bags.bag.width"} <= set(again.json["changed"])
    whole = read_catalog(bench / "line")
    other = bench / "other"
    cli("new", other, "--from", bench / "jigs.csv", "--answers", bench / "answers.txt")
    assert whole.products == read_catalog(other).products


def test_the_makers_own_state_is_asked_about_once_where_it_has_rules(cli: Cli, bench: Path) -> None:
    at_home = ANSWERS.replace("WI 54899", "MN 55900").replace("Wisconsin, Minnesota", "Wis.")
    (bench / "answers.txt").write_text(at_home)

    def asked() -> list[str]:
        told = take(cli, bench, "--json").json["asked"]
        return [one["hint"] for one in told if one["rule"] == "own-state-left-out"]

    (hint,) = asked()
    assert hint.startswith('"US-MN" beside them')
    assert asked() == []


def test_not_known_is_an_answer(cli: Cli, bench: Path) -> None:
    (bench / "answers.txt").write_text(ANSWERS.replace("hooks Japan, the rest USA", "not known"))
    assert take(cli, bench, "--json").json["prints"] is True
    assert read_catalog(bench / "line").products[0].hook.origin is None


PARTS = """\
Jig,Size,Color,Head: lead/tin,Hook brand,Per bag,Retail
Slough Hopper,3/8,Muskrat,lead,Fen Point,bag of 3,$4.50
Bank Creeper,1/4,Olive,Tin,Reed Steel,1,3.95
Night Heron,3/8,Olive,Lead,Fen Point,1,4
"""
SETTLED = ("--maker", "A, 1 B St, Low Ferry, WI 54899", "--sold", "WI", "--heads", "lead",
           "--origin", "hooks Japan, the rest USA", "--bags", "clear, 1 a bag")  # fmt: skip


def test_several_metals_hooks_and_packs_of_a_sheet_are_each_taken(cli: Cli, bench: Path) -> None:
    (bench / "jigs.csv").write_text(PARTS)
    did = take(cli, bench, *SETTLED, "--json", answers=False)
    assert did.json["prints"] is True
    said = [one["found"] for one in did.json["proposed"] if one["rule"] == "parts-named"]
    assert said == ["lead, Tin", "Fen Point, Reed Steel"]
    made = {one.pattern.name: one for one in read_catalog(bench / "line").products}
    parts = {name: (one.alloy.name, one.hook.name, one.pattern.pack) for name, one in made.items()}
    assert parts == {
        "Slough Hopper": ("Lead", "Fen Point", 3),
        "Bank Creeper": ("Tin", "Reed Steel", 1),
        "Night Heron": ("Lead", "Fen Point", 1),
    }
    assert "Nothing is new" in take(cli, bench, *SETTLED, answers=False).out


@pytest.mark.parametrize(
    ("row", "found"),
    [
        ("Bank Creeper,3/8,Olive,lead,Reed Steel,1,4", '"lead", where Bank Creeper has "Tin"'),
        ("Night Heron,3/8,Olive,tungsten,,1,9", '"tungsten", where Night Heron has "Lead"'),
        ("Night Heron,1/2,Olive,lead/tin,,1,9", '"lead/tin", where Night Heron has "Lead"'),
        ("Night Heron,1/2,Olive,lead-free,,1,9", '"lead-free", where Night Heron has "Lead"'),
        ("Marsh Wren,1/2,Olive,bismuth,,1,9", '"bismuth", where Marsh Wren has "Lead"'),
        ("Night Heron,1/2,Olive,lead,Reed Steel,1,9",
         '"Reed Steel", where Night Heron has "Fen Point"'),
    ],
)  # fmt: skip
def test_a_row_of_another_metal_or_hook_than_its_pattern_stops_the_print(
    cli: Cli, bench: Path, row: str, found: str
) -> None:
    (bench / "jigs.csv").write_text(PARTS)
    take(cli, bench, *SETTLED, answers=False)
    (bench / "jigs.csv").write_text(PARTS + row + "\n")
    _, findings = examine(bench / "line")
    assert [one.found for one in findings if one.rule == "part-differs"] == [found]
    assert cli("--catalog", bench / "line", "bags", "--out", bench / "b.pdf").status == 2


@pytest.mark.parametrize(
    ("heading", "cells", "answer", "metals"),
    [
        ("Lead free", ("yes", "yes"), "lead", None),
        ("Lead free?", ("no", "no"), "lead", ["Lead", "Lead"]),
        ("Lead free", ("TRUE", "FALSE"), "lead", None),
        ("Material", ("Pb", "lead"), "lead", ["Lead", "Lead"]),
        ("Material", ("zinc", "lead"), "lead", ["zinc", "Lead"]),
        ("Alloy", ("bismuth-tin", "Bismuth/Tin"), "bismuth-tin", ["Bismuth-tin", "Bismuth-tin"]),
        ("Alloy", ("lead free", "lead-free"), "bismuth-tin", ["Bismuth-tin", "Bismuth-tin"]),
        ("Alloy", ("lead", "lead free"), "bismuth-tin", ["lead", "Bismuth-tin"]),
    ],
)
def test_what_a_sheet_says_of_lead_is_held_against_the_answer(
    cli: Cli, bench: Path, heading: str, cells: tuple[str, str], answer: str, metals: list[str]
) -> None:
    """None: only she knows what is in them, and nothing is printed until she says."""
    text = f"Jig,Size,Color,{heading}\nHeron,3/8,Olive,{cells[0]}\nCreeper,3/8,Olive,{cells[1]}\n"
    (bench / "jigs.csv").write_text(text)
    words = [answer if word == "lead" else word for word in SETTLED]
    did = take(cli, bench, *words, "--json", answers=False)
    assert did.json["prints"] is (metals is not None)
    if metals:
        assert [one.alloy.name for one in read_catalog(bench / "line").products] == metals


EDITS = (
    ('kind = "jig"', 'kind = "hair jig" # mine'),
    ('Notes = "remark"\n', ""),
    ('"Slough Hopper" = "SH"', '"Slough Hopper" = "SLOUGH"'),
    ('street = "14 Mill Lane"', 'street = "15 Mill Lane"'),
)
"""What a maker changes, takes out and writes beside."""


def test_taken_in_again_it_adds_what_is_new_and_changes_nothing(cli: Cli, bench: Path) -> None:
    take(cli, bench)
    file = bench / "line" / "catalog.toml"
    text = file.read_text("utf-8")
    for old, new in EDITS:
        assert old in text
        text = text.replace(old, new)
    file.write_text(text, "utf-8")
    assert take(cli, bench, "--json").json["changed"] == []
    assert "Nothing is new" in take(cli, bench).out
    assert file.read_text("utf-8") == text
    grown = SHEET + "Night Heron,3/8,Olive,4/0,5,,\n"
    (bench / "jigs.csv").write_text(grown, "utf-8")
    did = take(cli, bench, "--json")
    assert did.json["changed"] == ['spreadsheet.codes.patterns."Night Heron"']
    assert [one["sku"] for one in did.json["products"] if one["new"]] == ["NIGHTHERON-38-40-OLV"]
    after = file.read_text("utf-8")
    assert after.replace('"Night Heron" = "NIGHTHERON"\n', "") == text
    kept = [one for one in did.json["left_out"] if one["rule"] == "answer-kept"]
    assert [one["place"]["key"] for one in kept] == ["maker.street"]
    skus = [one.sku for one in read_catalog(bench / "line").products]
    assert "SLOUGH-38-40-MSK" in skus
    assert "Nothing is new" in take(cli, bench).out


def skus(bench: Path) -> list[str]:
    return [one.sku for one in read_catalog(bench / "line").products]


def test_a_row_that_was_read_keeps_its_sku_when_the_line_is_taken_in_again(
    cli: Cli, bench: Path
) -> None:
    """A lot may have been made of it since the row was there."""
    take(cli, bench)
    (bench / "jigs.csv").write_text(SHEET + "Night Heron,3/8,Heron Blue,4/0,5,,\n", "utf-8")
    before = skus(bench)
    take(cli, bench)
    assert skus(bench) == before


def test_a_hook_size_filled_in_later_changes_no_sku(cli: Cli, bench: Path) -> None:
    """Where some sizes were missing when the line was taken in."""
    (bench / "jigs.csv").write_text(SHEET.replace("4/0,$4.50", ",$4.50"), "utf-8")
    take(cli, bench)
    before = skus(bench)
    (bench / "jigs.csv").write_text(SHEET, "utf-8")
    assert skus(bench) == before
    assert read_catalog(bench / "line").products[0].hook_size == "4/0"


@pytest.mark.parametrize(
    ("words", "rule"),
    [
        (("--photos", "nowhere"), "photos-missing"),
        (("--sold", "Wisconson"), "answer-unread"),
        (("--answers", "jigs.csv"), "answer-unknown"),
    ],
)
def test_nothing_is_made_of_what_cannot_be_understood(
    cli: Cli, bench: Path, words: tuple[str, str], rule: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(bench)
    before = contents(bench)
    did = take(cli, bench, *words, answers=False)
    assert did.status == 2
    assert f"[{rule}]" in did.err
    assert contents(bench) == before


def test_a_slip_in_how_the_spreadsheet_is_read_is_told_by_its_line(cli: Cli, bench: Path) -> None:
    take(cli, bench)
    file = bench / "line" / "catalog.toml"
    file.write_text(file.read_text("utf-8").replace('"colour"', '"collor"'), "utf-8")
    before = contents(bench)
    did = take(cli, bench)
    assert did.status == 2
    assert "Did you mean 'colour'?" in did.err
    assert contents(bench) == before


@pytest.mark.parametrize("there", ["notes.txt", "catalog.toml"])
def test_a_folder_of_another_kind_is_left_alone(cli: Cli, bench: Path, there: str) -> None:
    (bench / "line").mkdir()
    (bench / "line" / there).write_text('[maker]\nname = "mine"\n')
    before = contents(bench)
    did = take(cli, bench)
    assert did.status == 2
    assert "[folder-taken]" in did.err
    assert contents(bench) == before


@pytest.mark.parametrize("name", ["jigs.csv", "products.csv"])
def test_the_spreadsheet_may_lie_in_the_folder_and_another_is_refused(
    cli: Cli, bench: Path, name: str
) -> None:
    line = bench / "line"
    line.mkdir()
    (bench / "jigs.csv").rename(line / name)
    words = ("--answers", bench / "answers.txt")
    assert cli("new", line, "--from", line / name, *words, "--json").json["prints"] is True
    assert f'file = "{name}"' in (line / "catalog.toml").read_text("utf-8")
    assert len(read_catalog(line).products) == 4
    (bench / "other.csv").write_text(SHEET)
    did = cli("new", line, "--from", bench / "other.csv")
    assert did.status == 2
    assert "[sheet-other]" in did.err


def test_options_for_the_spreadsheet_need_it(cli: Cli, bench: Path) -> None:
    did = cli("new", bench / "line", "--sold", "Wisconsin")
    assert did.status == 2
    assert "--sold goes with --from FILE" in did.err
    assert not (bench / "line").exists()


def test_at_a_terminal_the_five_are_asked_in_order(
    cli: Cli, bench: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed = iter(["Nobody", *(line.split(": ")[1] for line in ANSWERS.splitlines()[1:])])
    shown: list[str] = []
    monkeypatch.setattr("labeler.cli.words.at_a_terminal", lambda: True)

    def prompt(*words: Any, **more: Any) -> str:
        return next(typed)

    monkeypatch.setattr("click.prompt", prompt)
    did = take(cli, bench, answers=False)
    assert did.status == 0
    for question in questions().values():
        shown.append(question.asks)
        assert question.asks in did.err
    places = [did.err.index(asks) for asks in shown]
    assert places == sorted(places)
    assert "[answer-unread]" in did.err
    assert did.err.count("[answer-read]") == len(questions())
    assert read_catalog(bench / "line").products


@pytest.fixture
def pictures(bench: Path) -> Path:
    """Photos as they come from telephones: turned, noted with camera and place, one broken."""
    folder = bench / "pictures"
    folder.mkdir()
    (folder / "img_2231.HEIC").write_bytes(heic(1, with_place()))
    note = Image.Exif()
    note.load(with_place())
    photo = folder / "Slough-Hopper OLIVE 2.JPG"
    Image.new("RGB", (640, 480), (120, 90, 40)).save(photo, exif=note, comment=b"Sample Camera")
    Image.new("RGB", (60, 40)).save(folder / "dock.png", exif=note)
    (folder / "broken.jpg").write_bytes(b"no picture")
    return folder


def test_photos_are_copied_upright_and_found_and_a_bad_one_stops_nothing(
    cli: Cli, bench: Path, pictures: Path
) -> None:
    before = contents(pictures)
    did = take(cli, bench, "--photos", pictures, "--json")
    assert did.json["photos"] == 3
    assert did.json["prints"] is True
    told = {one["rule"]: one["place"]["file"] for one in did.json["left_out"]}
    assert "photo-missing" not in told
    assert told["photo-left-out"] == "broken.jpg"
    assert told["photo-unused"] == "photos/dock.png"
    found = {one["sku"]: one["photo"] for one in did.json["products"]}
    assert found["SH-38-40-MSK"].startswith("img_2231.")
    assert found["SH-38-40-OLV"].startswith("Slough-Hopper OLIVE 2.")
    assert found["BC-14-20-BB"] == ""
    with Image.open(bench / "line" / "photos" / found["SH-38-40-MSK"]) as upright:
        assert upright.size == (48, 64)
    assert contents(pictures) == before
    again = take(cli, bench, "--photos", pictures, "--json")
    assert again.json["photos"] == 0
    assert contents(pictures) == before


@pytest.mark.siege
def test_no_camera_and_no_place_is_passed_on(cli: Cli, bench: Path, pictures: Path) -> None:
    """Read by pikepdf, another library than writes the PDF, and byte by byte."""
    import pikepdf

    take(cli, bench, "--photos", pictures)
    did = cli("--catalog", bench / "line", "cards", "--out", bench / "cards.pdf")
    assert did.status == 0, did.err
    parts = dict(contents(bench / "line" / "photos"))
    with pikepdf.open(bench / "cards.pdf") as pdf:
        images = [
            one for one in pdf.objects
            if isinstance(one, pikepdf.Stream) and one.get("/Subtype") == "/Image"
        ]  # fmt: skip
        assert images
        for number, one in enumerate(pdf.objects):
            if isinstance(one, pikepdf.Stream):
                parts[f"object {number}"] = one.read_raw_bytes()
                if one not in images:
                    parts[f"read object {number}"] = one.read_bytes()
    for name, data in parts.items():
        for told in (b"Exif\0", b"eXIf", b"Sample Camera", b"http://ns.adobe.com/xap"):
            assert told not in data, name


def test_the_page_tells_it_all_and_runs_nothing(cli: Cli, bench: Path, pictures: Path) -> None:
    (bench / "jigs.csv").write_text(SHEET + "<script>x</script>,3/8,Olive,4/0,5,,\nTOTAL,,,,9,,\n")
    did = take(cli, bench, "--photos", pictures, "--json")
    page = (bench / "line" / PAGE_NAME).read_text("utf-8")
    assert "<script" not in page
    assert "http" not in page.replace("http-equiv", "")
    for one in did.json["products"]:
        assert f'data-sku="{one["sku"]}"' in page
    for heap in ("taken", "proposed", "asked", "left_out"):
        for one in did.json[heap]:
            assert one["message"].split('"')[0].split("'")[0].split("<")[0] in page
    assert "row-total" in {one["rule"] for one in did.json["left_out"]}


def test_a_catalog_of_a_stranger_is_read_with_every_finding_known(cli: Cli, bench: Path) -> None:
    take(cli, bench)
    catalog, findings = examine(bench / "line")
    assert catalog is not None
    assert {"stop"}.isdisjoint({finding.grade.value for finding in findings})


LOG = """\
Date,Code,Jig,Qty
3/14/2026,A7,Slough Hopper muskrat 3/8,24
,A8,Bank Creeper black blue,12
"""


@pytest.mark.siege
def test_a_log_becomes_lots_once_the_questions_are_answered(cli: Cli, bench: Path) -> None:
    (bench / "log.csv").write_text(LOG, "utf-8")
    words = ("--batches", bench / "log.csv")
    early = take(cli, bench, *words, answers=False)
    assert "log.csv is not read yet" in early.out
    assert not list((bench / "line").glob("ledger*"))
    did = take(cli, bench, *words, "--json")
    assert (did.status, len(did.json["lots"])) == (0, 2)
    assert cli("--catalog", bench / "line", "trace", "A7", "--json").status == 0
    again = take(cli, bench, *words)
    assert "0 lots opened" in again.out
    missing = take(cli, bench, "--batches", bench / "none.csv")
    assert missing.status == 2
    assert "none.csv" in missing.err
