"""The page Take-in: a spreadsheet and photos dropped in become a line, as by the command."""

from __future__ import annotations

import datetime as dt
import io
import re
import signal
import tomllib
import zipfile
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any, get_args

import html5lib
import openpyxl
import pytest
from PIL import Image

from labeler.app.answers import read_answers
from labeler.app.dropped import take_the_place
from labeler.app.line import earlier_versions, put_back
from labeler.app.lots import lots_of
from labeler.app.open_lots import BatchRequest, open_lot
from labeler.app.take_in import Own, take_in
from labeler.catalog.model import SheetField
from labeler.catalog.photo_names import safe_name
from labeler.catalog.read import read_catalog, readable
from labeler.cli.group import run
from labeler.desk.address import begin_folder
from labeler.desk.launcher import write_launcher
from labeler.desk.pages.take_in import FIELDS, MOST_AT_ONCE
from labeler.desk.worker import carry_out
from labeler.findings import LabelerError
from tests.desk.conftest import ORIGIN, Browser, words_of
from tests.desk.every import Walk
from tests.desk.test_markup import faults_of

SHEET = """\
Jig,Size,Color,Hk,Retail,Notes,Pic
Slough Hopper,3/8,Muskrat,4/0,$4.50,,IMG_2231
,1/2,Muskrat,5/0,4.75,,
,3/8,Olive,4/0,call,best seller,
Bank Creeper,1/4,Black & Blue,2/0,3.95,,
"""
ANSWERS = {
    "maker": "Sample Slough Jigs, 14 Mill Lane, Low Ferry, WI 54899",
    "sold": "Wisconsin, Minnesota", "heads": "lead, 1/4 and 3/8 oz",
    "origin": "hooks Japan, the rest USA", "bags": "clear, 1 a bag, 3 x 5 in",
}  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder; what was just written is not read for each page."""
    monkeypatch.setattr("labeler.files._COARSE", 0)
    (tmp_path / "my jigs").mkdir()
    return tmp_path / "my jigs"


@pytest.fixture
def desk(folder: Path) -> Iterator[Browser]:
    """A browser at the desk of an empty folder."""
    made = Browser(folder)
    yield made
    made.desk.close()


def picture(size: tuple[int, int] = (900, 700), kind: str = "JPEG") -> bytes:
    """Return a photograph that says which camera took it and where."""
    image = Image.new("RGB", size, "#556b2f")
    exif = Image.Exif()
    exif[0x010F] = "Telephone"
    exif.get_ifd(0x8825)[1] = "N"  # GPSLatitudeRef
    out = io.BytesIO()
    image.save(out, kind, exif=exif)
    return out.getvalue()


def drop(desk: Browser, *files: tuple[str, str, bytes], status: int = 303) -> str:
    """Drop files on the form: for which field, called what, with what in it."""
    return desk.post("/take-in/drop", status, [(field, (name, raw)) for field, name, raw in files])


def typed(page: str) -> dict[str, str]:
    """Return what the form that makes a line is filled in with."""
    form = page[page.index('class="taking"') :]
    found = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))
    for name, options in re.findall(r'<select[^>]* name="([^"]+)".*?>(.*?)</select>', form, re.S):
        chosen = re.search(r'<option value="([^"]*)" selected', options)
        chosen = chosen or re.search(r'<option value="([^"]*)"', options)
        if chosen:
            found[unescape(name)] = unescape(chosen[1])
    return found


def take_it_in(desk: Browser, **fields: str) -> None:
    """Press the button beside the new version that waits, and is shown."""
    (version,) = re.findall(r'name="version" value="(\w+)"', desk.get("/take-in"))
    desk.post("/take-in/again", version=version, **fields)


def taken(folder: Path) -> None:
    (folder / "jigs.csv").write_text(SHEET, "utf-8")
    take_in(folder, Own(folder / "jigs.csv", at_home=True), read_answers(ANSWERS))


def test_a_folder_without_a_line_begins_here_and_every_other_page_leads_here(
    desk: Browser, folder: Path
) -> None:
    assert desk.get("/", 303) == ""
    assert desk.web.get(desk._url("/")).headers["location"].endswith("/take-in")
    for path in ("/tonight", "/lots", "/figure/X"):
        page = desk.get(path, 404)
        assert "Take-in makes one from your own spreadsheet" in words_of(page), path
        assert '/take-in">Take-in</a> makes' in page
    assert "spreadsheet" in words_of(desk.get("/take-in"))
    assert [path.name for path in folder.iterdir()] == [".desk"] or not list(folder.iterdir())


def test_dropped_read_answered_and_made_it_is_what_the_command_makes(
    desk: Browser, folder: Path, tmp_path: Path
) -> None:
    place = drop(
        desk, ("sheet", "../../jigs of mine.csv", SHEET.encode()),
        ("photos", "bank_creeper black blue.JPG", picture()), ("photos", "IMG_0001.jpg", picture()),
    )  # fmt: skip
    assert (folder / "jigs of mine.csv").read_text("utf-8") == SHEET
    assert not (folder / "catalog.toml").exists()
    page = desk.get(place)
    assert "4 jigs in 7 columns of jigs of mine.csv" in words_of(page)
    for sample in ("Slough Hopper", "3/8", "Muskrat", "$4.50", "best seller"):
        assert f"<span>{sample}</span>" in page
    form = typed(page)
    numbers = re.findall(r'<label for="(p-\w+)" class="aside">([^<]+)', page)
    form |= {number: olive(page) for number, name in numbers if "IMG" in name}
    assert desk.post("/take-in/make", **form, **ANSWERS) == "/take-in?done=made"
    line = read_catalog(folder)
    photos = {product.sku: Path(product.photo or "").stem for product in line.products}
    assert photos["BC-14-20-BB"] == "bank_creeper black blue"  # which tells it already
    assert photos["SH-38-40-OLV"] == "Slough Hopper Olive"
    for path in (folder / "photos").iterdir():
        with Image.open(path) as kept:
            assert not kept.getexif()
    other = tmp_path / "by command"
    take_in(other, Own(folder / "jigs of mine.csv"), read_answers(ANSWERS))
    made, wanted = ((one / "catalog.toml").read_text("utf-8") for one in (folder, other))
    assert tomllib.loads(made)["spreadsheet"].pop("file") == "jigs of mine.csv"
    assert re.sub(r"(?m)^file = .*$", "", wanted.partition("# Recipes")[0]) == re.sub(
        r"(?m)^file = .*$", "", made.partition("# Recipes")[0]
    )
    after = words_of(desk.get("/take-in?done=made"))
    assert "4 products of 4 rows of jigs of mine.csv" in after
    assert "Nothing of your own spreadsheet was changed." in after
    assert "Print the first labels" in after
    assert run(["--catalog", str(folder), "check"]) == 0


def test_a_column_is_put_right_by_choosing_and_read_so(desk: Browser, folder: Path) -> None:
    sheet = SHEET.replace("Notes", "Buyers say").replace("Color", "Made like")
    page = desk.get(drop(desk, ("sheet", "jigs.csv", sheet.encode())))
    assert "No jig of jigs.csv is understood yet." in words_of(page)
    form = typed(page) | {"c-Made like": "colour", "c-Buyers say": "note"}
    again = desk.post("/take-in/read", 200, **form)
    assert "4 jigs" in words_of(again)
    assert not (folder / "catalog.toml").exists()
    chosen = typed(again)
    assert [chosen[f"c-{one}"] for one in ("Made like", "Buyers say", "Jig")] == [
        "colour", "note", "",
    ]  # fmt: skip
    twice = desk.post("/take-in/make", 422, **(chosen | {"c-Buyers say": "colour"}), **ANSWERS)
    assert "another column is this already" in words_of(twice)
    (field,) = re.findall(r'<a href="#(c-[^"]+)">another column', twice)
    assert f'id="{field}" name="c-Buyers say" aria-invalid="true"' in twice
    assert not (folder / "catalog.toml").exists()
    desk.post("/take-in/make", **chosen, **ANSWERS)
    line = read_catalog(folder)
    assert {one.colour.name for one in line.products} == {"Muskrat", "Olive", "Black & Blue"}
    assert "best seller" in {product.note for product in line.products}


def test_a_guess_about_a_photo_outlives_a_reading_in_which_nothing_was_chosen(
    desk: Browser, folder: Path
) -> None:
    sheet = SHEET.replace("Color", "Made like")
    photo = ("photos", "bank_creeper black blue xx.jpg", picture())
    page = desk.get(drop(desk, ("sheet", "jigs.csv", sheet.encode()), photo))
    form = typed(page) | {"c-Made like": "colour"}
    (name,) = [one for one in form if one.startswith("p-")]
    assert form[name] == ""  # no colour is known yet
    again = desk.post("/take-in/read", 200, **form)
    assert "A guess from its name." in again
    guess = typed(again)[name]
    assert re.search(rf'value="{guess}" selected>Bank Creeper, Black &amp; Blue', again)
    untold = re.search(rf'name="{name}">\s*<option value="(\w+)">not told yet', again)
    assert untold
    kept = desk.post("/take-in/read", 200, **(typed(again) | {name: untold[1]}))
    assert typed(kept)[name] == untold[1]  # chosen, so it stays
    gone = desk.post("/take-in/read", 200, **(typed(again) | {name: "0123456789ab"}))
    assert typed(gone)[name] == guess  # a look that other columns gave
    desk.post("/take-in/make", **typed(again), **ANSWERS)
    photos = {one.sku: Path(one.photo or "").stem for one in read_catalog(folder).products}
    assert photos["BC-14-20-BB"] == "Bank Creeper Black & Blue"


def test_the_unit_of_bare_numbers_is_chosen_before_the_line_is_made_and_after(
    desk: Browser, folder: Path
) -> None:
    sheet = SHEET
    for fraction, number in (("3/8", "3.5"), ("1/2", "2"), ("1/4", "3")):
        sheet = sheet.replace(fraction, number)

    def weights() -> set[str]:
        return {str(one.weight) for one in read_catalog(folder).products}

    page = desk.get(drop(desk, ("sheet", "jigs.csv", sheet.encode())))
    assert typed(page)["unit"] == ""  # a guess is not sent as her answer
    assert '<option value="">grams</option>' in page
    again = desk.post("/take-in/read", 200, **(typed(page) | {"unit": "oz"}))
    assert typed(again)["unit"] == "oz"
    assert "read as ounces, as you chose" in words_of(again)
    desk.post("/take-in/make", **typed(again), **ANSWERS)
    assert weights() == {"3 1/2 oz", "2 oz", "3 oz"}
    assert '<option value="">ounces</option>' in desk.get("/take-in")
    desk.post("/take-in/settle", unit="g")
    assert weights() == {"3.5 g", "2 g", "3 g"}
    desk.post("/take-in/settle", unit="none")
    assert "unit" not in tomllib.loads((folder / "catalog.toml").read_text("utf-8"))["spreadsheet"]
    assert '<option value="">as written</option>' in desk.get("/take-in")
    stands = (folder / "catalog.toml").read_bytes()
    desk.post("/take-in/settle", unit="stone")
    assert (folder / "catalog.toml").read_bytes() == stands
    desk.post("/take-in/settle", unit="g")
    assert weights() == {"3.5 g", "2 g", "3 g"}
    (folder / "jigs.csv").write_text(sheet.replace("Size", "Size (oz)"), "utf-8")
    assert 'name="unit"' not in desk.get("/take-in")


@pytest.mark.siege
def test_the_sheet_of_a_workbook_is_chosen(desk: Browser, folder: Path) -> None:
    book = openpyxl.Workbook()
    first: Any = book.active
    first.title = "Old"
    second: Any = book.create_sheet("Now")
    for sheet, names in ((first, "abc"), (second, "d")):
        sheet.append(["Jig", "Size", "Color", "Price"])
        for name in names:
            sheet.append([f"Mire {name * 3}", "3/8", "Ink", 4.5])
    raw = io.BytesIO()
    book.save(raw)
    page = desk.get(drop(desk, ("sheet", "jigs.xlsx", raw.getvalue())))
    assert "3 jigs" in words_of(page)
    again = desk.post("/take-in/read", 200, **(typed(page) | {"sheet": "Now"}))
    assert "1 jig in" in words_of(again)
    desk.post("/take-in/make", **(typed(page) | {"sheet": "Now"}), **ANSWERS)
    assert [one.pattern.name for one in read_catalog(folder).products] == ["Mire ddd"]
    book.remove(first)
    second.title = "Next"
    book.create_sheet("Shops").append(["Shop", "Town"])
    book.save(folder / "jigs.xlsx")
    assert "Choose on the page Take-in which sheet has your jigs." in words_of(desk.get("/take-in"))
    desk.post("/take-in/settle", sheet="../other")
    desk.post("/take-in/settle", sheet="Next")
    assert len(read_catalog(folder).products) == 1


@pytest.mark.siege
def test_what_is_left_open_stops_with_its_question_and_is_answered_later(
    desk: Browser, folder: Path
) -> None:
    form = typed(desk.get(drop(desk, ("sheet", "jigs.csv", SHEET.encode()))))
    wrong = desk.post("/take-in/make", 422, **form, **(ANSWERS | {"sold": "Wisconson"}))
    assert 'name="sold" type="text" value="Wisconson"' in wrong
    assert "where “Wisconson” stands. Did you mean ‘Wisconsin’? Such as:" in words_of(wrong)
    assert ANSWERS["maker"] in wrong
    assert not (folder / "catalog.toml").exists()
    desk.post("/take-in/make", **form, **(ANSWERS | {"sold": "", "origin": ""}))
    page = desk.get("/take-in")
    assert re.findall(r'<input id="(\w+)" name="\w+" type="text"', page) == ["sold", "origin"]
    assert "Labels wait for what is asked below." in words_of(page)
    assert "Print the first labels" not in page
    desk.post("/take-in/again", sold="Wisconsin", origin="not known")
    assert "Print the first labels" in desk.get("/take-in")
    assert read_catalog(folder).products[0].markets == ("US", "US-WI")


def test_a_new_version_is_shown_before_it_is_taken_in(desk: Browser, folder: Path) -> None:
    taken(folder)
    stands = (folder / "catalog.toml").read_bytes()
    more = SHEET.replace(",1/2,Muskrat,5/0,4.75,,\n", "") + "Night Heron,3/8,Ash,4/0,5,,\n"
    assert drop(desk, ("sheet", "jigs.csv", SHEET.encode())) == "/take-in?done=same"
    assert drop(desk, ("sheet", "jigs.csv", more.encode())) == "/take-in?done=staged"
    page = words_of(desk.get("/take-in"))
    assert "1 product is new:" in page
    assert "Night Heron" in page
    assert "No more in it, and sold no more: SH-12-50-MSK" in page
    assert (folder / "catalog.toml").read_bytes() == stands
    assert (folder / "jigs.csv").read_text("utf-8") == SHEET
    desk.post("/take-in/leave")
    assert "new version:" not in words_of(desk.get("/take-in"))
    drop(desk, ("sheet", "jigs.csv", more.encode()))
    take_it_in(desk)
    assert (folder / "jigs.csv").read_text("utf-8") == more
    (before,) = folder.glob("jigs before *.csv")
    assert before.read_text("utf-8") == SHEET
    assert "Night Heron" in {one.pattern.name for one in read_catalog(folder).products}
    assert "No product is new" not in words_of(desk.get("/take-in"))


def test_only_the_version_that_was_looked_at_is_taken_in(desk: Browser, folder: Path) -> None:
    (folder / "jigs.csv").write_text(SHEET, "utf-8")
    unsold = read_answers(ANSWERS | {"sold": ""})
    take_in(folder, Own(folder / "jigs.csv", at_home=True), unsold)
    more = SHEET + "Night Heron,3/8,Ash,4/0,5,,\n"
    drop(desk, ("sheet", "jigs.csv", more.encode()))
    page = desk.get("/take-in")
    (version,) = re.findall(r'name="version" value="(\w+)"', page)
    assert 'name="sold"' not in page  # its button would take in the new version as well
    desk.post("/take-in/again", sold="Wisconsin")  # from a page that was opened before
    assert (folder / "jigs.csv").read_text("utf-8") == SHEET
    assert len(read_catalog(folder).products) == 4
    drop(desk, ("sheet", "jigs.csv", more.replace("Ash", "Bone").encode()))
    page = desk.post("/take-in/again", 422, version=version)
    assert "the version that you looked at waits here no more" in words_of(page)
    assert "Bone" in page
    assert (folder / "jigs.csv").read_text("utf-8") == SHEET
    take_it_in(desk)
    assert "Bone" in {one.colour.name for one in read_catalog(folder).products}


def test_the_spreadsheet_is_in_its_place_whenever_it_is_broken_off(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    taken(folder)
    (folder / "new").mkdir()
    (folder / "new" / "jigs.csv").write_text(SHEET + "Night Heron,3/8,Ash,4/0,5,,\n", "utf-8")

    replace = Path.replace

    def killed(path: Path, to: Path) -> Path:
        if path.parent.name == "new":
            raise KeyboardInterrupt
        return replace(path, to)

    monkeypatch.setattr(Path, "replace", killed)
    with pytest.raises(KeyboardInterrupt):
        take_the_place(folder, folder / "new" / "jigs.csv", dt.date(2027, 3, 1))
    assert (folder / "jigs.csv").read_text("utf-8") == SHEET
    assert (folder / "jigs before 2027-03-01.csv").read_text("utf-8") == SHEET
    assert len(read_catalog(folder).products) == 4


def test_a_new_version_by_another_name_is_the_one_that_is_read(desk: Browser, folder: Path) -> None:
    taken(folder)
    more = SHEET + "Night Heron,3/8,Ash,4/0,5,,\n"
    drop(desk, ("sheet", "jigs next year.csv", more.encode()))
    take_it_in(desk)
    stated = tomllib.loads((folder / "catalog.toml").read_text("utf-8"))
    assert stated["spreadsheet"]["file"] == "jigs next year.csv"
    assert [one.about[0] for one in earlier_versions(folder)] == ["spreadsheet"]
    assert (folder / "jigs.csv").read_text("utf-8") == SHEET
    assert len(read_catalog(folder).products) == 5


@pytest.mark.siege
def test_a_new_version_stands_in_the_way_of_nothing_of_hers(desk: Browser, folder: Path) -> None:
    taken(folder)
    for name in ("orders.csv", "products.csv"):
        (folder / name).write_text("sku,note\nSH-38-40-OLV,hers\n", "utf-8")
        more = SHEET + f"Night Heron,3/8,{name},4/0,5,,\n"
        drop(desk, ("sheet", name, more.encode()))
        take_it_in(desk)
        assert (folder / name).read_text("utf-8") == "sku,note\nSH-38-40-OLV,hers\n"
        assert name in {one.colour.name for one in read_catalog(folder).products}
    names = sorted(path.name for path in folder.glob("*.csv"))
    assert names == ["jigs.csv", "my products.csv", "orders 2.csv", "orders.csv", "products.csv"]


def test_a_name_that_changed_is_told_by_choosing_and_keeps_its_skus(
    desk: Browser, folder: Path
) -> None:
    taken(folder)
    before = [one.sku for one in read_catalog(folder).products]
    (folder / "jigs.csv").write_text(SHEET.replace("Olive", "Green"), "utf-8")
    page = desk.get("/take-in")
    assert "“Green” is new, and “Olive” is in your spreadsheet no more" in page
    names = re.findall(r'<select id="(r-\w+)"', page)
    desk.post("/take-in/settle", **dict.fromkeys(names, "same"))
    assert [one.sku for one in read_catalog(folder).products] == before
    text = (folder / "catalog.toml").read_text("utf-8")
    assert 'Green = "OLV"' in text
    assert "# Your spreadsheet, and what its headings mean." in text
    put_back(folder, earlier_versions(folder)[0].code)
    assert 'Green = "OLV"' not in (folder / "catalog.toml").read_text("utf-8")


@pytest.mark.siege
def test_a_heading_that_changed_is_told_by_choosing(desk: Browser, folder: Path) -> None:
    taken(folder)
    (folder / "jigs.csv").write_text(SHEET.replace("Color", "Skirt of it"), "utf-8")
    page = words_of(desk.get("/take-in"))
    assert "the spreadsheet has no column of this heading any more" in page
    assert "Choose on the page Take-in which column it is now." in page
    desk.post("/take-in/settle", **{"c-Skirt of it": "colour", "c-Jig": ""})
    assert len(read_catalog(folder).products) == 4
    stated = tomllib.loads((folder / "catalog.toml").read_text("utf-8"))
    headings = stated["spreadsheet"]["headings"]
    assert (headings.get("Color"), headings["Skirt of it"]) == (None, "colour")


@pytest.mark.siege
def test_weights_that_the_spreadsheet_does_not_say_are_said_with_the_heads(
    desk: Browser, folder: Path
) -> None:
    sheet = SHEET.replace("3/8", "").replace("1/2", "").replace("1/4", "")
    page = desk.get(drop(desk, ("sheet", "jigs.csv", sheet.encode())))
    assert "No jig of jigs.csv is understood yet." in words_of(page)
    assert "say them with the answer about heads" in words_of(page)
    without = desk.post("/take-in/make", 422, **(typed(page) | ANSWERS | {"heads": "lead"}))
    assert "no row says yet which jig it is of" in words_of(without)
    form = typed(page) | ANSWERS
    assert "8 jigs" in words_of(desk.post("/take-in/read", 200, **form))
    desk.post("/take-in/make", **form)
    assert len(read_catalog(folder).products) == 8


@pytest.mark.siege
def test_a_long_spreadsheet_is_taken_in_as_long_work(
    desk: Browser, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labeler.desk.pages.take_in._LONG", 2)
    monkeypatch.setattr("labeler.desk.work.Works._see_to", lambda works, number: None)
    before = signal.getsignal(signal.SIGINT)
    place = drop(desk, ("sheet", "jigs.csv", SHEET.encode()), ("photos", "x.jpg", picture()))
    form = typed(desk.get(place))
    form |= {name: olive(desk.get(place)) for name in form if name.startswith("p-")}
    form |= ANSWERS | {"once": "ef" * 8}
    desk.post("/take-in/make", **form)
    (folder / "jigs.csv").write_text(SHEET.replace("Olive", "Olivine"), "utf-8")
    carry_out(folder, "ef" * 8)
    refused = desk.desk.works.find("ef" * 8)
    assert refused
    assert (refused.state, refused.findings[0].rule) == ("refused", "changed-since-look")
    assert not (folder / "catalog.toml").exists()
    (folder / "jigs.csv").write_text(SHEET, "utf-8")
    form |= {"once": "ab" * 8}
    assert desk.post("/take-in/make", **form) == f"/work/{form['once']}"
    carry_out(folder, "ab" * 8)
    work = desk.desk.works.find("ab" * 8)
    assert work
    assert (work.state, work.said) == ("done", ("4 products of 4 rows.",))
    assert len([one for one in read_catalog(folder).products if one.photo]) == 1
    drop(desk, ("sheet", "jigs.csv", (SHEET + "Night Heron,3/8,Ash,4/0,5,,\n").encode()))
    take_it_in(desk, once="cd" * 8)
    carry_out(folder, "cd" * 8)
    signal.signal(signal.SIGINT, before)
    assert len(read_catalog(folder).products) == 5
    assert list(folder.glob("jigs before *.csv"))


def olive(page: str) -> str:
    """Return by which number the page knows a look."""
    found = re.search(r'<option value="(\w+)"[^>]*>Slough Hopper, Olive', page)
    assert found
    return found[1]


def colored(shade: str) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (400, 300), shade).save(out, "PNG")
    return out.getvalue()


def field_of(page: str, photo: str) -> str:
    """Return the name of the field that says what a photo shows."""
    fields = re.findall(r'<label for="(p-\w+)" class="aside">([^<]+)</label>', page)
    return str(next(name for name, text in fields if text == photo))


def shade_of(folder: Path, sku: str) -> tuple[int, ...]:
    """Return the color of the photo that a product is printed with."""
    (name,) = {one.photo for one in read_catalog(folder).products if one.sku == sku}
    assert name
    pixel = Image.open(folder / "photos" / name).convert("RGB").getpixel((5, 5))
    assert isinstance(pixel, tuple)
    return pixel


@pytest.mark.parametrize("called", ["Slough Hopper Olive", "slough hopper olive", "olive"])
def test_what_was_told_by_looking_comes_before_a_name_and_the_other_is_told(
    desk: Browser, folder: Path, called: str
) -> None:
    drop(desk, ("sheet", "jigs.csv", SHEET.encode()), ("photos", f"{called}.png", colored("red")),
         ("photos", "IMG_1.png", colored("blue")))  # fmt: skip
    page = desk.get("/take-in")
    img = field_of(page, "IMG_1.png")
    desk.post("/take-in/make", **typed(page) | {img: olive(page)} | ANSWERS)
    assert shade_of(folder, "SH-38-40-OLV") == (0, 0, 255)
    words = words_of(desk.get("/take-in"))
    assert ("another photo of the same is printed" in words) is (called != "olive")
    if called != "olive":
        assert "another photo of it is printed. Choose it here" in words
    open_lot(BatchRequest(folder, "SH-38-40-OLV", 6))
    drop(desk, ("photos", "better.png", colored("lime")))
    page = desk.get("/take-in")
    better = field_of(page, "better.png")
    desk.post("/take-in/photos", **{better: olive(page)})
    assert shade_of(folder, "SH-38-40-OLV") == (0, 255, 0)
    assert (folder / "photos" / "Slough Hopper Olive.png").is_file()  # as the lot's labels have it


def test_a_photo_that_lots_or_the_catalog_name_stays_as_it_is_called(
    desk: Browser, folder: Path
) -> None:
    (folder / "photos").mkdir()
    for name in ("slough hopper olive", "IMG_1", "IMG_2"):
        (folder / "photos" / f"{name}.jpg").write_bytes(picture())
    taken(folder)
    (folder / "products.csv").write_text("sku,photo\nBC-14-20-BB,IMG_1.jpg\n", "utf-8")
    open_lot(BatchRequest(folder, "SH-38-40-OLV", 6))
    page = desk.get("/take-in")
    form = dict.fromkeys(re.findall(r'<select id="(p-\w+)"', page), olive(page))
    desk.post("/take-in/photos", **form)  # one tells it already
    assert sorted(path.stem for path in (folder / "photos").iterdir()) == [
        "IMG_1", "Slough Hopper Olive", "Slough Hopper Olive 2", "slough hopper olive",
    ]  # fmt: skip
    other = re.search(r'<option value="(\w+)"[^>]*>Slough Hopper, Muskrat', page)
    assert other
    desk.post("/take-in/photos", **dict.fromkeys(form, other[1]))
    assert (folder / "photos" / "slough hopper olive.jpg").is_file()
    assert run(["--catalog", str(folder), "check"]) == 0


COUNTED = SHEET.replace("Pic", "On hand").replace("IMG_2231", "20")


def test_what_is_on_hand_is_opened_once_by_a_double_click(desk: Browser, folder: Path) -> None:
    (folder / "jigs.csv").write_text(COUNTED)
    take_in(folder, Own(folder / "jigs.csv", at_home=True), read_answers(ANSWERS))
    assert 'name="counted" value="on"' in desk.get("/take-in")
    page = desk.post("/take-in/log", 200, counted="on")
    assert "1 lot opened of what was there" in words_of(page)
    assert desk.post("/take-in/log", counted="on") == "/take-in?done=opened"
    page = desk.get("/take-in?done=opened")
    assert "The lots of what you have on hand are open." in words_of(page)
    assert 'name="counted"' not in page


LOG = "Day,Batch,Jig,Color,Size,Qty,Hook bag\n9/14/26,A7,Slough Hopper,Muskrat,3/8,12,HK-1\n"


@pytest.mark.siege
def test_old_batches_and_what_is_counted_become_lots_once(desk: Browser, folder: Path) -> None:
    (folder / "jigs.csv").write_text(COUNTED)
    take_in(folder, Own(folder / "jigs.csv", at_home=True), read_answers(ANSWERS))
    assert "what jigs.csv counts on hand" in words_of(desk.get("/take-in"))
    log = [("log", ("../log.csv", LOG.encode()))]
    assert "2 lots opened of what was there" in words_of(desk.post("/take-in/log", 200, log))
    assert "0 lots opened of what was there" in words_of(desk.post("/take-in/log", 200, log))
    lines, _ = lots_of(folder)
    assert sorted((one.lot.count, one.lot.sku) for one in lines) == [
        (12, "SH-38-40-MSK"), (20, "SH-38-40-MSK"),
    ]  # fmt: skip
    refused = desk.post("/take-in/log", 422, [("log", ("log.csv", b"MZ\x90\x00" * 9))])
    assert 'id="log" name="log" type="file"' in refused
    assert "Nothing was written." in refused
    assert "nothing was chosen" in words_of(desk.post("/take-in/log", 422))


def test_what_the_spreadsheet_counts_is_offered_until_it_was_taken_in(
    desk: Browser, folder: Path
) -> None:
    (folder / "jigs.csv").write_text(COUNTED)
    take_in(folder, Own(folder / "jigs.csv", at_home=True), read_answers(ANSWERS))
    counted = {sku: count for sku, count in readable(folder)[0].on_hand.items() if count}
    (sku, *_) = counted
    open_lot(BatchRequest(folder, sku, 3))  # the first lot, opened on Tonight
    assert "Your spreadsheet counts" in words_of(desk.get("/lots"))
    page = desk.get("/lots/count")
    form = {f"n-{each}": str(count) for each, count in counted.items()}
    for name, count in form.items():
        assert re.search(rf'name="{name}" value="{count}"', page)
    assert "lots of this are on hand already" in words_of(
        desk.post("/lots/count/keep", 422, **form)
    )
    desk.post("/lots/count/keep", **form, sure="1")
    assert 'value="' + form[f"n-{sku}"] not in desk.get(f"/lots/count?q={sku}")
    assert "Your spreadsheet counts" not in words_of(desk.get("/lots"))
    desk.post("/lots/count/keep", **form, sure="1")
    lots = [one.lot.count for one in lots_of(folder)[0] if one.lot.sku == sku]
    assert sorted(lots) == sorted([3, counted[sku]])


@pytest.mark.siege
def test_who_keeps_no_spreadsheet_begins_with_a_small_line(desk: Browser, folder: Path) -> None:
    desk.get("/take-in")
    assert desk.post("/take-in/start") == "/take-in?done=started"
    assert read_catalog(folder).products
    page = words_of(desk.get("/take-in?done=started"))
    assert "taken in from no spreadsheet" in page
    refused = drop(desk, ("sheet", "jigs.csv", SHEET.encode()), status=422)
    assert "A line from a spreadsheet has a folder of its own" in words_of(refused)
    assert not (folder / "jigs.csv").exists()


@pytest.mark.siege
def test_every_state_of_the_page_is_sound_html(desk: Browser, folder: Path) -> None:
    """The pages of an empty folder, of what is asked and of a new version are on no other line."""
    pages = [desk.get("/take-in"), desk.get("/lots", 404)]
    pages.append(drop(desk, ("sheet", "letter.csv", b"Dear shop,\nsix\n"), status=422))
    many = [("photos", f"{at} olive.jpg", picture()) for at in (1, 2)]
    place = drop(desk, ("sheet", "jigs.csv", SHEET.encode()), *many)
    (folder / "other sheet.csv").write_text(SHEET, "utf-8")
    pages.append(desk.get(place))
    form = typed(pages[-1])
    pages.append(desk.post("/take-in/make", 422, **(form | {"c-Hk": "price", "c-Pic": "price"})))
    desk.post("/take-in/make", **form)
    pages.append(desk.get("/take-in?done=made"))
    desk.post("/take-in/again", **ANSWERS)
    (folder / "jigs.csv").write_text(
        SHEET.replace("Olive", "Green").replace("Retail", "Each of it") + "Heron,3/8,Ash,4/0,5,,\n"
    )
    pages.append(desk.get("/take-in"))
    pages.append(drop(desk, ("photos", "a.mov", b"moov"), status=200))
    drop(desk, ("sheet", "jigs.csv", SHEET.encode()))
    pages.append(desk.get("/take-in?done=staged"))
    for number, page in enumerate(pages):
        parser = html5lib.HTMLParser()
        parser.parse(page)
        assert parser.errors == [], number
        assert list(faults_of(html5lib.parse(page, namespaceHTMLElements=False))) == [], number


SCRIPT = "<script>alert(1)</script><img src=x onerror=alert(1)>'"


@pytest.mark.siege
def test_no_heading_cell_or_file_becomes_markup(desk: Browser, folder: Path) -> None:
    sheet = SHEET.replace("Notes", SCRIPT).replace("Muskrat", SCRIPT).replace("best", SCRIPT)
    place = drop(desk, ("sheet", f"{SCRIPT}.csv", sheet.encode()),
                 ("photos", f"{SCRIPT}.jpg", picture()))  # fmt: skip
    pages = [desk.get(place)]
    form = typed(pages[0])
    pages.append(desk.post("/take-in/read", 200, **form))
    pages.append(desk.post("/take-in/make", 422, **form, sold=SCRIPT))
    desk.post("/take-in/make", **form, **ANSWERS)
    (path,) = folder.glob("*.csv")
    path.write_text(sheet.replace("Olive", f"Green {SCRIPT}"), "utf-8")
    pages.append(desk.get("/take-in"))
    for page in pages:
        assert "<script>alert" not in page
        assert "<img src=x" not in page
        assert "&lt;script&gt;" in page


# -------------------------------------------------------------------------- what is not let in


def bomb() -> bytes:
    """Return a workbook of a few kilobytes whose one sheet swells to more cells than any list."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("[Content_Types].xml", "<Types/>")
        file.writestr("xl/workbook.xml", "<workbook/>")
        file.writestr("xl/worksheets/sheet1.xml", b"<worksheet>" + b"<c/>" * 600_000)
    return out.getvalue()


def with_macros() -> bytes:
    book = openpyxl.Workbook()
    sheet: Any = book.active
    sheet.append(["Jig", "Size", "Color"])
    sheet.append(["Mire Lark", "3/8", "Ink"])
    raw = io.BytesIO()
    book.save(raw)
    with zipfile.ZipFile(raw, "a") as file:
        file.writestr("xl/vbaProject.bin", b"\xd0\xcf\x11\xe0")
    return raw.getvalue()


HOSTILE = {
    "a bomb": ("jigs.xlsx", bomb, "unpacks to too much"),
    "macros": ("jigs.xlsm", with_macros, "holds macros"),
    "macros inside": ("jigs.xlsx", with_macros, "holds macros"),
    "a program": ("jigs.xlsx", lambda: b"MZ\x90\x00" + b"\x00" * 200, "something else inside"),
    "a program as text": ("jigs.csv", lambda: b"MZ\x90\x00" + b"\x00" * 200, "something else"),
    "a picture": ("jigs.png", picture, "this is no spreadsheet"),
    "no table": ("letter.csv", lambda: b"Dear shop,\nsix more please\n", "no table of jigs"),
    "nothing": ("jigs.csv", lambda: b"", "no table of jigs"),
}


@pytest.mark.parametrize(
    "case", [pytest.param(one, marks=[pytest.mark.siege] * (one == "a bomb"))
             for one in sorted(HOSTILE)],
)  # fmt: skip
def test_what_is_no_spreadsheet_is_refused_in_words(desk: Browser, folder: Path, case: str) -> None:
    name, make, words = HOSTILE[case]
    page = drop(desk, ("sheet", name, make()), status=422)
    assert words in words_of(page)
    assert 'name="sheet" type="file"' in page
    assert 'aria-invalid="true"' in page
    assert [path.name for path in folder.iterdir() if path.name != ".desk"] == []


@pytest.mark.siege
def test_photos_that_are_none_or_too_large_are_left_out_in_words(
    desk: Browser, folder: Path
) -> None:
    huge = io.BytesIO()
    Image.new("1", (10_000, 10_000)).save(huge, "PNG")
    page = drop(
        desk, ("photos", "good.jpg", picture()), ("photos", "huge.png", huge.getvalue()),
        ("photos", "run.jpg", b"MZ\x90\x00" + b"\x00" * 99), ("photos", "film.mov", b"moov" * 9),
        ("photos", "GOOD.png", picture(kind="PNG")), ("photos", "empty.jpg", b""), status=200,
    )  # fmt: skip
    words = words_of(page)
    assert "1 photo is kept. These are not:" in words
    for name, why in (
        ("huge.png", "10,000 × 10,000 pixels"), ("run.jpg", "no picture that can be printed"),
        ("film.mov", "this is no photo"), ("GOOD.png", "a photo of this name is here already"),
        ("empty.jpg", "file is empty"),
    ):  # fmt: skip
        assert re.search(rf"{name}: .*?{why}", words), (name, words)
    assert [path.stem for path in (folder / "photos").iterdir()] == ["good"]


def test_too_many_at_once_are_refused_in_words(desk: Browser, folder: Path) -> None:
    many = [("photos", f"{number}.jpg", b"x") for number in range(MOST_AT_ONCE + 1)]
    assert "these are too many at once" in words_of(drop(desk, *many, status=422))
    two = [("sheet", name, SHEET.encode()) for name in ("a.csv", "b.csv")]
    assert "more than one spreadsheet" in words_of(drop(desk, *two, status=422))
    assert "nothing was chosen" in words_of(drop(desk, ("sheet", "", b""), status=422))
    assert not [path for path in folder.iterdir() if path.name != ".desk"]


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("../../etc/passwd.csv", "passwd.csv"), ("C:\\Users\\me\\jigs.xlsx", "jigs.xlsx"),
        (".hidden.csv", "hidden.csv"), ("con.csv", "_con.csv"), ("..", "file"), ("", "file"),
        ("a<script>b.csv", "a script b.csv"), ("x" * 200 + ".csv", "x" * 76 + ".csv"),
        ("Köder №2.ods", "Köder 2.ods"),
    ],
)  # fmt: skip
def test_a_name_is_made_safe(given: str, kept: str) -> None:
    assert safe_name(given) == kept


@pytest.mark.parametrize("number", ["..%2F..%2Fcatalog.toml", "0" * 12, "catalog.toml"])
def test_no_photo_is_named_by_a_path(desk: Browser, number: str) -> None:
    assert desk.web.get(desk._url(f"/take-in/photo/{number}")).status_code in (400, 404)


@pytest.mark.siege
def test_no_field_leads_out_of_the_folder(desk: Browser, folder: Path) -> None:
    (folder.parent / "catalog.toml").write_text("secret")
    form = typed(desk.get(drop(desk, ("sheet", "jigs.csv", SHEET.encode()))))
    before = sorted(folder.parent.rglob("*"))
    for odd in ("../catalog.toml", "..%2f..%2fetc%2fpasswd", "/etc/passwd", "C:\\boot.ini"):
        for name in ("file", "sheet", "c-Jig", "p-0", "r-0", "../x", "once"):
            page = desk.post("/take-in/read", 200, **(form | {name: odd}))
            assert "secret" not in page
            assert "root:" not in page
        assert "<h1>Take-in</h1>" in desk.get(f"/take-in?file={odd}&done={odd}")
        assert "<h1>Take-in</h1>" in desk.post("/take-in/make", 422, **(form | {"file": odd}))
    assert sorted(folder.parent.rglob("*")) == before


def test_another_page_can_drop_nothing(desk: Browser, folder: Path) -> None:
    files = [("sheet", ("jigs.csv", SHEET.encode()))]
    for headers in (
        {"Origin": "http://desk.example.com"}, {},
        {"Origin": ORIGIN, "Host": "desk.example.com"},
        {"Origin": ORIGIN, "Sec-Fetch-Site": "cross-site"},
    ):  # fmt: skip
        answer = desk.web.post(desk._url("/take-in/drop"), files=files, headers=headers)
        assert answer.status_code in (403, 421), headers
    assert not (folder / "jigs.csv").exists()


def test_every_thing_that_a_column_can_be_is_offered() -> None:
    assert set(FIELDS) == set(get_args(SheetField))


# ------------------------------------------------------------------------------ where it begins


def test_a_folder_that_is_not_there_is_made_unless_its_name_is_a_slip(tmp_path: Path) -> None:
    begin_folder(tmp_path / "My jigs")
    assert list((tmp_path / "My jigs").iterdir()) == []
    (tmp_path / "My jigs" / "catalog.toml").write_text("")
    with pytest.raises(LabelerError) as error:
        begin_folder(tmp_path / "My jig")
    assert "Did you mean 'My jigs'?" in error.value.findings[0].hint
    assert not (tmp_path / "My jig").exists()
    for where in (Path.home(), Path(tmp_path.anchor)):
        with pytest.raises(LabelerError):
            begin_folder(where)


def test_the_icon_of_a_new_folder_opens_its_take_in(tmp_path: Path) -> None:
    assert run(["--catalog", str(tmp_path / "My jigs"), "desk", "--icon"]) == 0
    assert (tmp_path / "My jigs").is_dir()
    assert str(tmp_path / "My jigs") in write_launcher(tmp_path / "My jigs").read_text("utf-8")


@pytest.mark.siege
def test_every_page_opens_on_a_line_fresh_from_a_spreadsheet(
    desk: Browser, folder: Path, unhurried: None
) -> None:
    """Its catalog names far less than one that was written by hand."""
    taken(folder)
    sku = read_catalog(folder).products[0].sku
    assert "/line/parts" in Walk(desk, {"sku": sku}).pages
    named = re.findall(r'href="[^"]*(/line/entry\?[^"]+)"', desk.get("/line/parts"))
    assert len(named) > 5
    for entry in named:
        desk.get(entry.replace("&amp;", "&"))
