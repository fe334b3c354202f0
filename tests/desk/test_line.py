"""The page Line: what it shows, and that it writes what was meant, where it was meant."""

from __future__ import annotations

import datetime as dt
import io
import re
import tomllib
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from labeler import files
from labeler.app.line import LineEdit, digest, save_line, stated
from labeler.app.open_lots import BatchRequest, open_lot
from labeler.app.workstation import LedgerLocation, clocks
from labeler.catalog.read import examine, read_catalog
from labeler.catalog.structure import read_source
from labeler.desk.pages.prices import FIELDS
from labeler.desk.pages.recipe import LAYER
from tests.desk.conftest import HOME, Browser, starter_in, words_of


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The starter's catalog, of one pattern in two colors and two weights."""
    monkeypatch.setattr("labeler.files._COARSE", 0)
    return starter_in(tmp_path / "line")


def form_of(page: str) -> dict[str, str]:
    """Return the fields of the form that saves an entry, as a browser sends them back."""
    found = re.search(r'<form method="post"[^>]*class="(recipe|entry)".*?</form>', page, re.DOTALL)
    assert found
    text, fields = found[0], dict[str, str]()
    for tag in re.findall(r"<input [^>]*>", text):
        of = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        if of.get("type") != "checkbox" or " checked" in tag:
            fields[of["name"]] = unescape(of.get("value", ""))
    for name, rest in re.findall(r'<select [^>]*name="([^"]+)"[^>]*>(.*?)</select>', text, re.S):
        every = list(re.finditer(r'<option(?: value="([^"]*)")?( selected)?>([^<]*)', rest))
        chosen = next((one for one in every if one[2]), every[0] if every else None)
        fields[name] = unescape((chosen[3] if chosen[1] is None else chosen[1]) if chosen else "")
    for name, value in re.findall(
        r'<textarea [^>]*name="([^"]+)"[^>]*>\n?(.*?)</textarea>', text, re.S
    ):
        fields[name] = unescape(value)
    return fields


def catalog_of(line: Path) -> dict[str, Any]:
    return tomllib.loads((line / "catalog.toml").read_text("utf-8"))


def test_versions_of_one_minute_are_told_apart_on_the_bench_s_clock() -> None:
    """Chicago is 6 hours behind UTC in November. Source: IANA time zone database."""
    bench = LedgerLocation(Path("ledger.sqlite"), zone="America/Chicago")
    moments = [dt.datetime(2026, 11, 27, 14, 3, second, tzinfo=dt.UTC) for second in (5, 40)]
    moments.append(dt.datetime(2026, 11, 27, 14, 4, tzinfo=dt.UTC))
    assert clocks(bench, moments) == [
        "2026-11-27 08:03:05", "2026-11-27 08:03:40", "2026-11-27 08:04",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "ink"),
    [
        ("blue", "#1f3f8f"), ("Green Pumpkin", "#5a572e"), ("dark blue", "#2a4283"),
        ("5B5A2B", "#5b5a2b"), ("#abc", "#aabbcc"), ("dark olive green", "#556b2f"),
    ],
)  # fmt: skip
def test_a_color_may_be_typed_by_its_name(
    browser: Browser, line: Path, typed: str, ink: str
) -> None:
    """Shades as labeler/drawing/shades.toml, the starter, and CSS Color 4, 6.1 have them."""
    form = form_of(browser.get("/line/color?of=marsh"))
    form |= {"layers.0.ink": typed, "eye_ink": typed}
    shown = browser.post("/line/color/show", 200, **form)
    assert f'name="layers.0.ink" value="{ink}"' in shown
    leads = browser.post("/line/color", 303, **form)
    assert "saved=" in leads
    colour = read_catalog(line).file.colours["marsh"]
    assert (colour.layers[0].ink, colour.eye_ink) == (ink, ink)


def test_what_is_no_color_is_told_without_the_letters_of_the_file(browser: Browser) -> None:
    form = form_of(browser.get("/line/color?of=marsh"))
    words = words_of(browser.post("/line/color", 422, **form | {"layers.0.ink": "bluish"}))
    assert "expected a color by its name, such as green pumpkin, or as #5b5a2b." in words


def test_the_line_is_shown_with_its_colors_weights_and_prices(browser: Browser) -> None:
    words = words_of(browser.get("/line"))
    assert "1 pattern, 4 products." in words
    assert "First Pattern flipping jig, 2 colors, 3/8, 1/2 oz, $4.50 to $5.00" in words
    assert "33 strands" in words
    assert "Nothing in the line answers" in words_of(browser.get("/line?q=nothing"))
    found = words_of(browser.get("/line?q=marsh+first"))
    assert "Marsh" in found
    assert "Ink" not in found


def test_a_color_saved_as_it_is_writes_nothing(browser: Browser, line: Path) -> None:
    before = (line / "catalog.toml").read_bytes()
    fields = form_of(browser.get("/line/color?of=marsh"))
    assert browser.post("/line/color", **fields).endswith("saved=same")
    assert (line / "catalog.toml").read_bytes() == before
    assert not (line / ".versions").exists()


def test_a_recipe_is_changed_and_undone_and_the_undoing_undone(
    browser: Browser, line: Path
) -> None:
    before = (line / "catalog.toml").read_text("utf-8")
    fields = form_of(browser.get("/line/color?of=marsh")) | {"layers.1.strands": "14"}
    to = browser.post("/line/color", **fields)
    after = (line / "catalog.toml").read_text("utf-8")
    assert after == before.replace('strands = 11, seat = "belly"', 'strands = 14, seat = "belly"')
    page = browser.get(to)
    assert "It is written." in words_of(page)
    (code,) = re.findall(r'name="code" value="([^"]+)"', page)
    back = browser.post("/line/versions", code=code, to="/line/color?marsh")
    assert (line / "catalog.toml").read_text("utf-8") == before
    assert "It is as it was." in words_of(browser.get(back))
    versions = browser.get("/line/versions")
    assert "color marsh" in words_of(versions)
    last = re.findall(r'name="code" value="([^"]+)"', versions)[0]
    browser.post("/line/versions", code=last)
    assert (line / "catalog.toml").read_text("utf-8") == after
    for odd in ("", "../../etc/passwd", code + "x"):
        browser.post("/line/versions", 422, code=odd)


def test_the_jig_is_drawn_as_the_form_has_it_and_nothing_is_written(
    browser: Browser, line: Path
) -> None:
    before = (line / "catalog.toml").read_bytes()
    fields = form_of(browser.get("/line/color?of=marsh"))
    first = browser.post("/line/color/draw", 200, **fields)
    assert first.startswith("<svg ")
    assert 'role="img"' in first
    more = browser.post("/line/color/draw", 200, **(fields | {"layers.1.strands": "30"}))
    assert more.count("<path") > first.count("<path")
    assert "strands" in browser.post(
        "/line/color/draw", 422, **(fields | {"layers.0.strands": "x"})
    )
    hare = fields | {"layers.0.shade": "hare's ear"}
    drawn, shown = (browser.post(f"/line/color/{path}", 200, **hare) for path in ("draw", "show"))
    (words,) = re.findall("<title>(.+?)</title>", drawn)
    assert "hare’s ear" in words
    assert f"<title>{words}</title>" in shown
    said = browser.post("/line/color/draw", 422, **(fields | {"layers.0.ink": "bluish"}))
    assert said == "ink: a color by its name, such as green pumpkin, or as #5b5a2b"
    page = browser.post("/line/color/show", 200, **(fields | {"do": "add"}))
    assert form_of(page)["layers"] == "3"
    page = browser.post("/line/color/show", 200, **(fields | {"do": "earlier 1"}))
    assert form_of(page)["layers.0.shade"] == "brown, orange tip"
    page = browser.post("/line/color/show", 200, **(fields | {"do": "out 0"}))
    assert form_of(page)["layers"] == "1"
    assert "not written yet" in words_of(page)
    assert (line / "catalog.toml").read_bytes() == before


def test_what_the_catalog_refuses_stands_beside_its_field(browser: Browser, line: Path) -> None:
    before = (line / "catalog.toml").read_bytes()
    wrong = {"layers.0.strands": "many", "layers.1.ink": "brownish", "name": "", "head_ink": "#12"}
    page = browser.post(
        "/line/color", 422, **(form_of(browser.get("/line/color?of=marsh")) | wrong)
    )
    for name in wrong:
        tag = re.search(rf'<input[^>]*name="{re.escape(name)}"[^>]*>', page)
        assert tag, name
        assert 'aria-invalid="true"' in tag[0], name
    assert 'value="many"' in page
    _, said = examine(line)
    assert (line / "catalog.toml").read_bytes() == before
    assert said == examine(line)[1]


def test_a_file_that_was_changed_elsewhere_is_shown_beside_what_was_typed(
    browser: Browser, line: Path
) -> None:
    fields = form_of(browser.get("/line/color?of=marsh")) | {"layers.0.strands": "30"}
    file = line / "catalog.toml"
    hers = file.read_text("utf-8").replace('name = "Marsh"', 'name = "Marsh Grass"')
    file.write_text(hers, "utf-8")
    page = browser.post("/line/color", 200, **fields)
    assert file.read_text("utf-8") == hers
    words = words_of(page)
    assert "was changed elsewhere" in words
    assert "Name Marsh Grass Marsh" in words
    assert "22 green pumpkin" in words
    assert "30 green pumpkin" in words
    browser.post("/line/color", **form_of(page))
    made = catalog_of(line)["colours"]["marsh"]
    assert (made["name"], made["layers"][0]["strands"]) == ("Marsh", 30)
    fields = form_of(browser.get("/line/color?of=marsh")) | {"note": "of old"}
    file.write_text(file.read_text("utf-8").replace('"Ball head"', '"Round head"'), "utf-8")
    browser.post("/line/color", **fields)
    assert catalog_of(line)["heads"]["ball"]["name"] == "Round head", "another table is no matter"
    assert catalog_of(line)["colours"]["marsh"]["note"] == "of old"


def test_a_proposed_recipe_is_taken_as_it_is(browser: Browser, line: Path) -> None:
    file = line / "catalog.toml"
    plain = file.read_text("utf-8")
    file.write_text(plain.replace('code = "INK"\n', 'code = "INK"\nproposed = true\n'), "utf-8")
    page = browser.get("/line")
    assert "Look at these" in words_of(page)
    assert browser.web.get(f"{HOME}/line/color/figure?of=ink").text.startswith("<svg ")
    was = digest(stated(read_source(line), ("colours", "ink")))
    assert f'value="{was}"' in page
    browser.post("/line/color/take", of="ink", was=was)
    assert file.read_text("utf-8") == plain
    assert "Look at these" not in words_of(browser.get("/line"))


def test_a_jig_without_a_recipe_is_shown_by_its_photo_or_as_it_is_proposed(
    browser: Browser, line: Path
) -> None:
    """No list leaves the place of its picture empty while there is one; without any it does."""
    file = line / "catalog.toml"
    plain = file.read_text("utf-8")
    lists = ("/tonight", "/print", "/line", "/line/pattern?of=first", "/lots?all=1", "/markets")
    proposed = plain.replace('code = "INK"\n', 'code = "INK"\nproposed = true\n')
    proposed = proposed.replace('"marsh", "ink"', '"ink"')
    for photo in ("", 'photo = "jig.jpg"'):
        if photo:
            (line / "photos").mkdir(exist_ok=True)
            Image.new("RGB", (600, 400), "#884422").save(line / "photos" / "jig.jpg")
        file.write_text(proposed.replace('# photo = "first.jpg"', photo), "utf-8")
        figure = browser.web.get(f"{HOME}/figure/FST-38-40-INK")
        kinds = ("image/jpeg", "image/png") if photo else ("image/svg+xml",)
        assert figure.headers["content-type"] in kinds
        assert photo or "#202126" in figure.text
        for path in lists:
            assert re.search(r"/figure/FST-\d\d-\d0-INK\?", browser.get(path)), (path, photo)
    bare = re.sub(
        r"layers = \[\n  \{[^]]*202126[^]]*\]\n", "", proposed.replace("proposed = true\n", "")
    )
    assert len(bare) < len(plain) - 100
    file.write_text(bare, "utf-8")
    for path in lists:
        assert "/figure/FST" not in browser.get(path), path


def test_a_new_color_is_of_its_pattern(browser: Browser, line: Path) -> None:
    fields = form_of(browser.get("/line/color?for=first"))
    fields |= {"name": "Rust/Gold", "code": "RGD", "layers.0.shade": "rust",
               "layers.0.material": "silicone"}  # fmt: skip
    browser.post("/line/color", **fields)
    made = catalog_of(line)
    assert made["patterns"]["first"]["colours"] == ["marsh", "ink", "rust-gold"]
    assert list(made["colours"]["rust-gold"]) == ["code", "name", "layers"]
    assert "FST-38-40-RGD" in [product.sku for product in read_catalog(line).products]
    fields = form_of(browser.get("/line/color?for=first")) | {"name": "Other", "code": "MAR"}
    fields |= {"layers.0.shade": "rust"}
    page = browser.post("/line/color", 422, **fields)
    assert "two products come to the SKU" in words_of(page)


def test_a_pattern_is_changed_where_it_says_so(browser: Browser, line: Path) -> None:
    before = (line / "catalog.toml").read_text("utf-8")
    fields = form_of(browser.get("/line/pattern?of=first"))
    assert browser.post("/line/entry", **fields).endswith("saved=same")
    fields |= {"kind": "swim jig", "w.1.price": "4.95", "w.2.weight": "5/8 oz", "w.2.hook": "6/0",
               "tie.wraps": "16", "guard": ""}  # fmt: skip
    browser.post("/line/entry", **fields)
    made = catalog_of(line)["patterns"]["first"]
    assert (made["kind"], made["tie"]["wraps"], "guard" in made) == ("swim jig", 16, False)
    assert made["weights"] == ["3/8 oz", "1/2 oz", "5/8 oz"]
    assert made["hook_for"] == {"1/2 oz": "5/0", "5/8 oz": "6/0"}
    assert made["prices"] == {"1/2 oz": "4.95"}
    after = (line / "catalog.toml").read_text("utf-8")
    remarks = [one for one in before.splitlines() if "#" in one]
    assert [one for one in after.splitlines() if "#" in one] == remarks
    fields = form_of(browser.get("/line/pattern?of=first"))
    wrong = {"w.0.weight": "heavy", "w.1.hook": "99/0", "w.1.price": "cheap", "pack": "none"}
    page = browser.post("/line/entry", 422, **(fields | wrong))
    for name in wrong:
        tag = re.search(rf'<input[^>]*name="{re.escape(name)}"[^>]*>', page)
        assert tag, name
        assert 'aria-invalid="true"' in tag[0], name
    assert (line / "catalog.toml").read_text("utf-8") == after


def test_a_product_is_taken_out_of_the_line_and_back_not_lost(browser: Browser, line: Path) -> None:
    (line / "products.csv").write_bytes(b"SKU,Note\nFST-12-50-INK,for spring\n")
    page = browser.get("/line/pattern?of=first")
    (had,) = re.findall(r'name="had" value="([^"]+)"', page)
    assert len(had.split()) == 4
    ticked = {f"in.{sku}": "1" for sku in had.split() if sku != "FST-12-50-INK"}
    browser.post("/line/products", of="first", had=had, **ticked)
    assert (
        line / "products.csv"
    ).read_bytes() == b"SKU,Note,Retired\nFST-12-50-INK,for spring,yes\n"
    assert "FST-12-50-INK" in read_catalog(line).retired
    page = browser.get("/line/pattern?of=first")
    assert len(re.findall(r'id="in\.[^"]+"[^>]* checked', page)) == 3
    (had,) = re.findall(r'name="had" value="([^"]+)"', page)
    browser.post("/line/products", of="first", had=had, **ticked, **{"in.FST-12-50-INK": "1"})
    assert read_catalog(line).retired == ()
    (line / "products.csv").unlink()
    fields = form_of(page) | {"w.1.weight": "", "w.1.hook": "", "w.1.price": ""}
    page = browser.post("/line/entry", 422, **fields)
    assert "products would be no more" in words_of(page)
    assert 'name="sure"' in page
    browser.post("/line/entry", **fields, sure="1")
    assert len(read_catalog(line).products) == 2


def test_what_a_spreadsheet_of_her_own_says_is_changed_there(browser: Browser, line: Path) -> None:
    text = (line / "catalog.toml").read_text("utf-8")
    start, end = text.index("[patterns.first]"), text.index("# What a shop pays")
    own = """[spreadsheet]
file = "mine.csv"
[spreadsheet.headings]
Jig = "pattern"
Weight = "weight"
Color = "colour"
Made = "retired"
[spreadsheet.pattern]
kind = "jig"
head = "ball"
hook = "jig"
bag = "small"

"""
    (line / "catalog.toml").write_text(text[:start] + own + text[end:], "utf-8")
    jig = "Black/Blue Hopper"
    hers = f"Jig,Weight,Color,Made\n{jig},3/8 oz,Marsh,\n{jig},1/2 oz,Ink,yes\n".encode()
    (line / "mine.csv").write_bytes(hers)
    (line / "products.csv").unlink(missing_ok=True)
    page = browser.get("/line")
    assert "stands in your own spreadsheet, mine.csv" in words_of(page)
    page = browser.get("/line/pattern?of=Black%2FBlue+Hopper")
    assert 'name="w.0.weight"' not in page
    skus = dict.fromkeys(re.findall(r'id="in\.([^"]+)"', page), "1")
    sold, gone = read_catalog(line).products[0].sku, read_catalog(line).retired[0]
    assert set(skus) == {sold, gone}
    fields = form_of(page)
    assert "name" not in fields
    assert fields["kind"] == "jig"
    browser.post("/line/entry", **(fields | {"kind": "swim jig"}))
    assert catalog_of(line)["patterns"] == {"Black/Blue Hopper": {"kind": "swim jig"}}
    asked = {"of": "Black/Blue Hopper", "had": sold}
    browser.post("/line/products", **asked)
    assert (line / "products.csv").read_bytes() == f"SKU,Retired\r\n{sold},yes\r\n".encode()
    page = browser.post(
        "/line/products", 422, of="Black/Blue Hopper", had="", **{f"in.{gone}": "1"}
    )
    assert "mine.csv:3: your own spreadsheet says" in words_of(page)
    assert (line / "mine.csv").read_bytes() == hers


def test_heads_hooks_and_all_else_have_forms_that_fit_them(browser: Browser, line: Path) -> None:
    page = browser.get("/line/parts")
    links = {unescape(one) for one in re.findall(r'href="/\w+(/line/entry[^"]+)"', page)}
    assert len(links) > 20
    before = (line / "catalog.toml").read_bytes()
    for link in sorted(links):
        fields = form_of(browser.get(link))
        if "of=" in link or fields["table"] in ("maker", "sale", "terms", "labels"):
            assert browser.post("/line/entry", **fields).endswith("saved=same"), link
    assert (line / "catalog.toml").read_bytes() == before
    fields = form_of(browser.get("/line/entry?table=materials&of=lead"))
    assert fields["composition"] == "lead = 97 %\nantimony = 3 %"
    browser.post("/line/entry", **(fields | {"composition": "lead = 96 %\nantimony = 4 %"}))
    assert catalog_of(line)["materials"]["lead"]["composition"]["antimony"] == "4 %"
    fields = form_of(browser.get("/line/entry?table=materials&of=lead"))
    wrong = {"composition": "lead", "origin": "Wisconsin"}
    page = browser.post("/line/entry", 422, **(fields | wrong))
    assert page.count('aria-invalid="true"') >= 1
    fields = form_of(browser.get("/line/entry?table=hooks")) | {"name": "Long shank", "eye": "90"}
    browser.post("/line/entry", **fields)
    assert catalog_of(line)["hooks"]["long-shank"]["eye"] == 90
    for odd in ("table=ledger", "table=heads&of=none", "table=maker&of=x", "table=..&of=x", ""):
        assert browser.web.get(f"{HOME}/line/entry?{odd}").status_code == 404


def test_prices_are_shown_before_they_are_written_and_undone(browser: Browser, line: Path) -> None:
    before = (line / "catalog.toml").read_bytes(), (line / "products.csv").read_bytes()
    assert "First Pattern 3/8 oz 4.50" in words_of(browser.get("/line/prices"))
    page = browser.get("/line/prices?change=%2B10+%25&ending=.99")
    assert "4.50 4.99" in words_of(page)
    assert before[0] == (line / "catalog.toml").read_bytes()
    (shown,) = re.findall(r'name="shown" value="([^"]+)"', page)
    asked = dict.fromkeys(FIELDS, "") | {"change": "+10 %", "ending": ".99"}
    page = browser.post("/line/prices", 422, **asked, shown="000000")
    assert "prices were changed since these were shown" in words_of(page)
    saved = browser.post("/line/prices", **asked, shown=shown)
    prices = {product.sku: str(product.price) for product in read_catalog(line).products}
    assert prices["FST-38-40-MAR"] == "4.99"
    (code,) = re.findall(r'name="code" value="([^"]+)"', browser.get(saved))
    page = browser.get("/line/prices?change=%2B10+%25&ending=.99")
    assert "It is meant once more" in words_of(page)
    (shown,) = re.findall(r'name="shown" value="([^"]+)"', page)
    page = browser.post("/line/prices", 422, **asked, shown=shown)
    assert "the very same change was written of late" in words_of(page)
    assert "--again" not in page
    browser.post("/line/versions", code=code, to="/line/prices")
    assert before == ((line / "catalog.toml").read_bytes(), (line / "products.csv").read_bytes())
    for wrong, field in (("change=5", "change"), ("change=%2B5+%25&step=x", "step"),
                         ("change=%2B1&skus=nothing", "skus"), ("change=%2B1&first=soon", "first"),
                         ("change=%2B1&last=2001-01-01", "last")):  # fmt: skip
        page = browser.get(f"/line/prices?{wrong}", 422)
        assert re.search(rf'id="{field}"[^>]*aria-invalid="true"', page.replace("\n", " ")), wrong


def test_a_photo_is_dropped_told_by_looking_and_taken_away(browser: Browser, line: Path) -> None:
    picture = io.BytesIO()
    tags = Image.Exif()
    tags[0x010F] = "A camera"
    Image.new("RGB", (600, 400), "#884422").save(picture, "JPEG", exif=tags)
    dropped = [("photos", ("../../IMG 7.jpg", picture.getvalue())), ("photos", ("a.txt", b"no"))]
    page = browser.post("/line/photos", 200, files=dropped)
    assert "this is no photo" in words_of(page)
    (photo,) = (line / "photos").iterdir()
    assert photo.stem == "IMG 7"
    assert b"A camera" not in photo.read_bytes()
    page = browser.get("/line/photos")
    assert "Which jig is this?" in words_of(page)
    (name,) = re.findall(r'<select id="(p-\w+)"', page)
    (value,) = re.findall(r'<option value="(\w+)">First Pattern, Marsh', page)
    before = (line / "products.csv").read_bytes()
    saved = browser.post("/line/photos/tell", **{name: value})
    shown = {one.sku: one.photo for one in read_catalog(line).products}
    assert shown["FST-38-40-MAR"] == shown["FST-12-50-MAR"] == photo.name
    assert shown["FST-38-40-INK"] is None
    page = browser.get(saved)
    assert "First Pattern, Marsh" in words_of(page)
    browser.post("/line/photos/untell", photo=name.removeprefix("p-"))
    assert not any(one.photo for one in read_catalog(line).products)
    last = re.findall(r'name="code" value="([^"]+)"', browser.get("/line/versions"))
    browser.post("/line/versions", code=last[-1])
    assert (line / "products.csv").read_bytes() == before
    (whole,) = re.findall(r'<option value="(\w+)">all of its colors', browser.get("/line/photos"))
    browser.post("/line/photos/tell", **{name: whole})
    assert all(one.photo == photo.name for one in read_catalog(line).products)
    browser.post("/line/photos/untell", photo=name.removeprefix("p-"))
    assert "photo" not in catalog_of(line)["patterns"]["first"]
    browser.post("/line/photos", 422, files=[("photos", ("", b""))])
    for odd in ({"p-../../x": value}, {name: "nothing"}, {"p-": ""}):
        assert browser.post("/line/photos/tell", **odd).endswith("saved=same")
    assert browser.post("/line/photos/untell", photo="../x").endswith("saved=same")


SCRIPT = "</title></textarea><script>alert(1)</script><img src=x onerror=alert(1)>\"\\'"


def test_no_name_becomes_markup_or_a_path(browser: Browser, line: Path) -> None:
    file = line / "catalog.toml"
    text = file.read_text("utf-8")
    for name in ("Marsh", "First Pattern", "Ball head", "Silicone skirt tab"):
        text = text.replace(f'name = "{name}"', f"name = '''{SCRIPT[:-1]} {name}'''")
    text = text.replace("[colours.marsh]", '[colours."../<b>"]').replace('"marsh"', '"../<b>"')
    file.write_text(text, "utf-8")
    fields = form_of(browser.get("/line/color?of=..%2F%3Cb%3E"))
    browser.post("/line/color", **(fields | {"note": SCRIPT, "layers.0.shade": SCRIPT[:60]}))
    for path in ("/line", "/line/pattern?of=first", "/line/parts",
                 "/line/entry?table=heads&of=ball",
                 "/line/color?of=..%2F%3Cb%3E", "/line/versions", "/line?q=%3Cscript%3E",
                 "/line/prices", "/line/prices?change=%2B1", "/line/photos",
                 "/line/color/figure?of=..%2F%3Cb%3E"):  # fmt: skip
        answer = browser.web.get(HOME + path)
        assert answer.status_code == 200, path
        assert "<script>alert" not in answer.text
        assert "<img src=x" not in answer.text
        assert "<b>" not in answer.text
    for odd in ("..%2f..%2fetc%2fpasswd", "nothing", "%00"):
        assert browser.web.get(f"{HOME}/line/color?of={odd}").status_code == 404


def test_a_killed_save_is_whole_or_not_begun(line: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before, take = (line / "catalog.toml").read_bytes(), files._take_the_name
    change = LineEdit(line, {("colours", "marsh", "layers", 0, "strands"): 30})

    class KilledError(BaseException):
        pass

    for steps in range(3):
        left = [steps]

        def killed(*args: Any, left: list[int] = left) -> None:
            if not left[0]:
                raise KilledError
            left[0] -= 1
            take(*args)

        with monkeypatch.context() as patch:
            patch.setattr(files, "_take_the_name", killed)
            with pytest.raises(KilledError):
                save_line(change)
        catalog, _ = examine(line)
        assert catalog
        strands = catalog.file.colours["marsh"].layers[0].strands
        assert strands == (22 if steps < 2 else 30), steps
    assert not (line / ".price-change.json").exists()
    assert sum(path.read_bytes() == before for path in (line / ".versions").iterdir()) >= 1


def test_every_field_of_a_layer_is_asked_for() -> None:
    from labeler.catalog.model import Flake, Layer

    flake = {f"flake.{name}" for name in Flake.model_fields}
    assert set(LAYER) == set(Layer.model_fields) - {"flake"} | flake


def test_a_photo_is_put_away_and_back_but_not_from_under_a_lot_s_labels(
    browser: Browser, line: Path
) -> None:
    picture = io.BytesIO()
    Image.new("RGB", (400, 300), "#556b2f").save(picture, "PNG")
    (line / "photos").mkdir(exist_ok=True)
    for name in ("stray", "First Pattern Marsh"):
        (line / "photos" / f"{name}.png").write_bytes(picture.getvalue())
    page = browser.get("/line/photos")
    numbers = {name: number for number, name in re.findall(
        r'name="away" value="(\w+)"[^>]*>Put the file away<span class="unseen">: ([^<]+)', page,
    )}  # fmt: skip
    assert sorted(numbers) == ["First Pattern Marsh.png", "stray.png"]
    leads = browser.post("/line/photos/away", away=numbers["stray.png"])
    page = words_of(browser.get(leads))
    assert "stray.png is put away. Undo" in page
    assert "1 photo is put away" in page
    assert not (line / "photos" / "stray.png").exists()
    leads = browser.post("/line/photos/back", back="stray.png")
    assert "The photo is back." in words_of(browser.get(leads))
    assert (line / "photos" / "stray.png").read_bytes() == picture.getvalue()
    rows = line / "products.csv"
    rows.write_text("sku,photo\nFST-38-40-MAR,First Pattern Marsh.png\n", "utf-8")
    for count in (6, 7):  # a row names it; then only a lot
        refused = browser.post("/line/photos/away", 422, away=numbers["First Pattern Marsh.png"])
        assert "so its file stays" in words_of(refused)
        open_lot(BatchRequest(line, "FST-38-40-MAR", count))
        rows.unlink(missing_ok=True)
    for odd in ("../catalog.toml", "none"):
        browser.post("/line/photos/away", 422, away=odd)
        browser.post("/line/photos/back", 422, back=odd)
    assert (line / "catalog.toml").is_file()
    assert (line / "photos" / "First Pattern Marsh.png").is_file()


def test_how_a_photo_is_shown_is_kept_and_taken_back(browser: Browser, line: Path) -> None:
    (line / "photos").mkdir(exist_ok=True)
    Image.new("RGB", (600, 400), "#884422").save(line / "photos" / "one.jpg")
    name = re.findall(r'<select id="p-(\w+)"', browser.get("/line/photos"))[0]
    whole = re.findall(r'<option value="(\w+)">all of its colors', browser.get("/line/photos"))[0]
    browser.post("/line/photos/tell", **{f"p-{name}": whole})
    assert "How it is shown" in words_of(browser.get("/line/photos"))
    part = {"left": "10", "top": "20 %", "right": "90", "bottom": "75.5"}
    saved = browser.post("/line/photos/stage", photo=name, shows="part", head="right", **part)
    assert saved.split("saved=")[1] != "same"
    assert catalog_of(line)["photos"]["one.jpg"] == {
        "box": {"left": "10 %", "top": "20 %", "right": "90 %", "bottom": "75.5 %"},
        "head": "right",
    }
    page = browser.get("/line/photos")
    assert 'name="bottom" inputmode="decimal" size="4" value="75.5"' in page
    assert browser.post("/line/photos/stage", photo=name, shows="part", head="right", **part) == (
        re.sub("saved=.*", "saved=same", saved)
    )
    wrong = browser.post(
        "/line/photos/stage", 422, photo=name, shows="part", **part | {"left": "95"}
    )
    assert "ends before it begins" in words_of(wrong)
    browser.post("/line/photos/stage", photo=name, shows="whole", ground="keep")
    assert catalog_of(line)["photos"]["one.jpg"] == {"show": "whole", "ground": "keep"}
    browser.post("/line/photos/stage", photo=name, shows="")
    assert not catalog_of(line).get("photos", {}).get("one.jpg")
    browser.post("/line/photos/stage", 404, photo="nothing")
