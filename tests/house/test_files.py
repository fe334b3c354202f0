"""Files are small, named for what they know, and the data says where its figures come from."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from labeler.cli.group import VERBS
from labeler.layout.index import read_index
from labeler.press.sheets import all_sheets

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "labeler"
MOST_LINES = 900
DOCSTRING = re.compile(r'(#.*\n)*"""\S')
VAGUE = re.compile(
    r"(?i)^_?(utils?|helpers?|common|misc|tools|base|core|managers?|stuff|general|shared|lib)\d*$"
)


def sources() -> list[Path]:
    """Return every Python file of the program and of its tests."""
    return sorted([*PACKAGE.rglob("*.py"), *(ROOT / "tests").rglob("*.py")])


def too_long(text: str, most: int = MOST_LINES) -> bool:
    """Tell whether a file asks for more than can be held in mind."""
    return text.count("\n") > most


def vague(path: Path) -> bool:
    """Tell whether a file or folder is named for nothing in particular."""
    return bool(VAGUE.match(path.stem))


def test_no_file_is_longer_than_can_be_held_in_mind() -> None:
    lengths = {f.relative_to(ROOT).as_posix(): f.read_text("utf-8") for f in sources()}
    assert [name for name, text in lengths.items() if too_long(text)] == []
    assert too_long("x\n" * (MOST_LINES + 1))
    assert not too_long("x\n" * MOST_LINES)


def test_every_file_is_named_for_what_it_knows() -> None:
    named = [*sources(), *(path for path in PACKAGE.rglob("*") if path.is_dir())]
    assert [str(path) for path in named if vague(path)] == []


@pytest.mark.parametrize("name", ["utils.py", "helpers.py", "_common.py", "misc", "Util2.py"])
def test_a_planted_name_for_nothing_is_caught(name: str) -> None:
    assert vague(Path(name))


def test_every_module_says_what_it_is_for() -> None:
    silent = [str(file) for file in sources() if not DOCSTRING.match(file.read_text("utf-8"))]
    assert silent == []


def test_the_tests_mirror_the_rooms() -> None:
    rooms = {path.name for path in PACKAGE.iterdir() if path.is_dir()} - {"__pycache__", "shipped"}
    held = {path.name for path in (ROOT / "tests").iterdir() if path.is_dir()}
    assert rooms <= held


# --------------------------------------------------------------------------------- data


def data() -> list[Path]:
    """Return every data file of the program's own rooms."""
    return sorted(PACKAGE.rglob("*.toml"))


def figures(value: Any) -> bool:
    """Tell whether a number stands anywhere in a value, also as text such as "9.78 g/cm3"."""
    if isinstance(value, dict):
        return any(figures(inner) for inner in value.values())
    if isinstance(value, list):
        return any(figures(inner) for inner in value)
    if isinstance(value, str):
        return bool(re.match(r"[<>= ]*\d", value))
    return isinstance(value, int | float) and not isinstance(value, bool)


def sourced(text: str) -> bool:
    """Tell whether a data file says where its figures come from, or that the house chose them."""
    return bool(re.search(r"(?i)\bsources?\b|\bhouse limits?\b|\bhandbook 133\b", text))


@pytest.mark.parametrize("file", data(), ids=lambda f: f.relative_to(PACKAGE).as_posix())
def test_a_file_with_figures_says_where_they_come_from(file: Path) -> None:
    text = file.read_text("utf-8")
    assert sourced(text) or not figures(tomllib.loads(text))


def test_figures_out_of_nowhere_are_caught() -> None:
    for planted in ("width = 3\n", 'width = "3 in"\n', "[a]\nb = [1.5]\n", 'limit = "<= 1 oz"\n'):
        assert figures(tomllib.loads(planted))
        assert not sourced(planted)


SOURCED = {
    "labeler/catalog/densities.toml": "metal",
    "labeler/checker/rules.toml": "rule",
    "labeler/checker/rules-book.toml": "rule",
    "layouts/sheets.toml": "sheet",
    **{
        path.relative_to(ROOT).as_posix(): "rule"
        for path in sorted((PACKAGE / "disclosures").glob("*.toml"))
        if "[[rule]]" in path.read_text("utf-8")
    },
}
"""Files whose every entry has a source of its own, and what an entry is called."""


def unsourced(data: Any, entry: str) -> Iterator[str]:
    """Yield the entries that do not say where they come from."""
    held = data.get(entry, {})
    named = held.items() if isinstance(held, dict) else enumerate(held)
    for name, table in named:
        source = table.get("source", "")
        if not (isinstance(source, str) and len(source.strip()) >= len("the law")):
            yield str(table.get("id", name))


@pytest.mark.parametrize("name", SOURCED)
def test_every_entry_has_a_source_of_its_own(name: str) -> None:
    table = tomllib.loads((ROOT / name).read_text("utf-8"))
    assert table.get(SOURCED[name])
    assert list(unsourced(table, SOURCED[name])) == []


def test_an_entry_without_a_source_is_caught() -> None:
    planted = tomllib.loads('[sheet.a]\nrows = 3\n[sheet.b]\nsource = " "\n[sheet.c]\nsource = 1\n')
    assert list(unsourced(planted, "sheet")) == ["a", "b", "c"]
    assert list(unsourced(tomllib.loads('[[rule]]\nid = "x-y"\n'), "rule")) == ["x-y"]


# ------------------------------------------------------------------------- sheets by geometry

GEOMETRY = re.compile(
    r"^(letter|legal|a4|a5)-(card|([a-z]+-)?[1-9]\d?x[1-9]\d?(-[a-z]+)?)$"
    r"|^roll-\d{3}-\d{1,2}(\.\d{1,2})?x\d{1,2}(\.\d{1,2})?(in|mm)$"
)
"""Paper, perhaps what it is for, columns x rows, perhaps how it differs; a roll's dots and size."""
STOCK_NUMBER = re.compile(r"(?<![\d/:.-])[A-Z]{0,3}-?\d{4,6}(?:[A-Z]{1,2})?\b(?!\s*mm)")
"""What a maker of sheets calls them: a run of four digits or more, perhaps with letters about."""


def stock_numbers(text: str) -> set[str]:
    """Return what looks like a stock number; years of standards stand behind a colon."""
    return set(STOCK_NUMBER.findall(text))


def test_sheets_are_named_by_their_geometry() -> None:
    assert [name for name in all_sheets() if not GEOMETRY.match(name)] == []
    for planted in ("5160", "letter-5160", "l7160", "address-labels", "a4-3x7x2", "letter-3x101"):
        assert not GEOMETRY.match(planted), planted


def test_no_sheet_bears_a_maker_s_stock_number() -> None:
    assert stock_numbers((ROOT / "layouts" / "sheets.toml").read_text("utf-8")) == set()
    for planted in ("as 5160", "like L7160", "# 22805", "the AB-1234 sheet", "5160X"):
        assert stock_numbers(planted), planted
    assert not stock_numbers('source = "ISO 216:2007, A4"\ncell = ["2 5/8 in", "66.675 mm"]')


# --------------------------------------------------------------------- what ships is told


def test_every_face_lies_beside_its_licence() -> None:
    faces = tomllib.loads((ROOT / "fonts" / "faces.toml").read_text("utf-8"))
    for name, face in faces.items():
        assert (ROOT / "fonts" / face["file"]).is_file(), name
        licence = (ROOT / "fonts" / face["licence"]).read_text("utf-8")
        assert "SIL Open Font License" in licence, name
        assert "Copyright" in licence, name
    named = {face["file"] for face in faces.values()}
    assert {path.name for path in (ROOT / "fonts").glob("*.ttf")} == named
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    kept = {path.name for line in project["license-files"] for path in ROOT.glob(line)}
    assert {face["licence"] for face in faces.values()} | {"LICENSE"} <= kept


def test_every_layout_that_is_listed_has_its_file_and_says_what_it_is_for() -> None:
    files = {path.name.removesuffix(".xml.jinja") for path in (ROOT / "layouts").glob("*.jinja")}
    menu = read_index()
    assert set(menu) <= files
    for spec in menu.values():
        assert spec.about.endswith(".")


@pytest.mark.parametrize("verb", sorted(VERBS))
def test_the_readme_names_every_verb(verb: str) -> None:
    assert re.search(rf"\b{verb}\b", (ROOT / "README.md").read_text("utf-8"))


def test_what_the_readme_says_to_click_stands_on_a_page_of_the_desk() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    walk = text[text.index("## By clicks") : text.index("## Your own line")]
    said = re.findall(r"\*\*([^*]+)\*\*", walk)
    pages = "".join(page.read_text("utf-8") for page in (ROOT / "labeler/desk").rglob("*.jinja"))
    pages += (ROOT / "labeler/desk/jobs.py").read_text("utf-8")  # what papers are called
    assert len(said) >= 8
    assert [words for words in said if words not in pages] == []


def test_sheets_and_layouts_are_told_to_whom_asks_for_one_that_there_is_none_of(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Names can't all stand in the help; a wrong one gets the nearest, or the first dozen."""
    from labeler.cli.group import run

    demo = str(ROOT / "demo_catalog")
    for option, some in (("--sheet", "a4-2x2"), ("--layout", "bag-compact")):
        assert run(["--catalog", demo, "bags", option, "?", "--out", "x.pdf"]) == 2
        assert some in capsys.readouterr().err
