"""Files of the maker's own beside the catalog: printers, sheets, layouts' list, styles, faces."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from labeler.type.styles import read_styles

Refused = Callable[..., str]
Spoil = Callable[[Mapping[str, bytes | str | None]], Path]
Cli = Callable[..., tuple[int, str, str]]

ROOT = Path(__file__).resolve().parents[2]
FILES = {
    "printers.toml": ("file-unreadable", ("--printer", "desk")),
    "layouts/sheets.toml": ("file-unreadable", ()),
    "layouts/layouts.toml": ("layouts-unreadable", ()),
    "layouts/styles.toml": ("styles-unreadable", ()),
    "fonts/faces.toml": ("faces-unreadable", ()),
}


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize(
    "content",
    [b"hello world", bytes(range(256)), "[desk]".encode("utf-16"), b"a = " + b"[" * 4_000,
     b"# \n" * 700_000],
    ids=["prose", "binary", "UTF-16", "brackets", "2 MB"],
)  # fmt: skip
def test_a_file_that_is_no_toml_is_named(
    refused: Refused, spoil: Spoil, tmp_path: Path, name: str, content: bytes
) -> None:
    rule, more = FILES[name]
    line = spoil({name: content})
    refused(
        "--catalog", line, "bags", *more, "--out", tmp_path / "x.pdf", rule=rule,
        says=str(line / name),
    )  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_a_mark_of_utf_8_and_windows_line_ends_do_no_harm(
    run_cli: Cli, spoil: Spoil, tmp_path: Path, name: str
) -> None:
    line = spoil({name: b"\xef\xbb\xbf# mine\r\n\r\n", "printers.toml": "[printer.desk]\r\n"})
    if name == "printers.toml":
        spoil({name: b"\xef\xbb\xbf# mine\r\n[printer.desk]\r\n"})
    out = tmp_path / "x.pdf"
    assert run_cli("--catalog", line, "bags", "--printer", "desk", "--out", out)[0] == 0


@pytest.mark.parametrize(
    ("says", "rule", "expected"),
    [
        ("dpi = 0", "value-not-understood", "from 72 to 4800"),
        ("dpi = nan", "value-not-understood", "from 72 to 4800"),
        ('dpi = "600"', "value-not-understood", '"600"'),
        ('shift = ["1 mm"]', "value-not-understood", "two lengths"),
        ('shift = ["nan mm", "1 mm"]', "value-not-understood", "nan mm"),
        ('shift = ["99 in", "1 mm"]', "value-not-understood", "at most 1 in"),
        (f'shift = ["{"9" * 900} in", "1 mm"]', "value-not-understood", "shift"),
        ("scale = [nan, 1.0]", "value-not-understood", "0.9 to 1.1"),
        ("scale = [inf, 1.0]", "value-not-understood", "0.9 to 1.1"),
        ("skew = [nan, nan]", "value-not-understood", "-0.05 to 0.05"),
        ('duplex = "long"', "value-not-understood", "Did you mean 'long-edge'?"),
        ("feed = 3", "value-not-understood", "one of auto, hand"),
        ('shfit = ["1 mm", "1 mm"]', "unknown-key", "Did you mean 'shift'?"),
    ],
)
def test_a_printer_s_profile_is_held_within_what_printers_do(
    refused: Refused, spoil: Spoil, tmp_path: Path, says: str, rule: str, expected: str
) -> None:
    line = spoil({"printers.toml": f"# mine\n[printer.desk]\n{says}\n"})
    refused(
        "--catalog", line, "bags", "--printer", "desk", "--out", tmp_path / "x.pdf", rule=rule,
        says=("printers.toml:3", expected),
    )  # fmt: skip


SHEET = """\
[paper.mine]
size = ["8 1/2 in", "11 in"]
source = "measured at the bench"
[sheet.mine]
kind = "die-cut"
paper = "mine"
columns = 3
rows = 10
cell = ["2 5/8 in", "1 in"]
margin = ["3/16 in", "1/2 in"]
pitch = ["2 3/4 in", "1 in"]
source = "measured at the bench"
"""


@pytest.mark.parametrize(
    ("old", "new", "rule", "says"),
    [
        ("columns = 3", "columns = 0", "value-not-understood", "from 1 to 100"),
        ("columns = 3", "columns = 4", "cells-off-paper", "past the paper's edge across"),
        ("rows = 10", "rows = 11", "cells-off-paper", "past the paper's edge down"),
        ('"2 5/8 in", "1 in"]', '"-1 in", "1 in"]', "value-not-understood", '"-1 in"'),
        ('"2 5/8 in", "1 in"]', '2.625, "1 in"]', "value-not-understood", "2.625"),
        ('"2 3/4 in", "1 in"', '"1 in", "1 in"', "cells-overlap", "overlap across"),
        ('paper = "mine"', 'paper = "mien"', "unknown-paper", "Did you mean 'mine'?"),
        ('kind = "die-cut"', 'kind = "die"', "value-not-understood", "Did you mean 'die-cut'?"),
        ("rows = 10", 'rows = 10\nradius = "nan in"', "value-not-understood", '"nan in"'),
        ("rows = 10", 'rows = 10\nradius = "9 in"', "radius-too-large", "half the cell"),
        ("rows = 10", "row = 10", "unknown-key", "Did you mean 'rows'?"),
        ('"1 in"]\nsource = "measured at the bench"', '"1 in"]', "missing-key", "source is"),
        ('"2 5/8 in", "1 in"]', '"1/8 in", "1/8 in"]', "no-layout-for-size", "bag-strip"),
    ],
)
def test_a_sheet_that_can_t_be_is_told_by_line(
    refused: Refused, spoil: Spoil, tmp_path: Path, old: str, new: str, rule: str, says: str
) -> None:
    assert old in SHEET
    line = spoil({"layouts/sheets.toml": SHEET.replace(old, new)})
    stops = 2 if rule == "unknown-key" else 1
    refused(
        "--catalog", line, "bags", "--sheet", "mine", "--out", tmp_path / "x.pdf", rule=rule,
        says=says, stops=stops,
    )  # fmt: skip


@pytest.mark.daily
def test_a_sheet_of_the_maker_s_own_prints(run_cli: Cli, spoil: Spoil, tmp_path: Path) -> None:
    line = spoil({"layouts/sheets.toml": SHEET})
    status, out, _ = run_cli(
        "--catalog", line, "bags", "--sheet", "Mine", "--out", tmp_path / "x.pdf"
    )
    assert (status, "sheet mine" in out) == (0, True)


NOTE = '[note]\nface = "sans"\nmost = "7pt"\nleast = "6pt"\n'


@pytest.mark.parametrize(
    ("old", "new", "rule", "says"),
    [
        ('face = "sans"', 'face = "sanz"', "unknown-face", "Did you mean 'sans'?"),
        ('face = "sans"', 'face = "../../etc/x"', "unknown-face", "Known: "),
        ('most = "7pt"', 'most = "7"', "style-value", "with its unit"),
        ('most = "7pt"', 'most = "5pt"', "style-value", "not above 'most'"),
        ('most = "7pt"', f'most = "{"9" * 400}pt"', "style-value", "with its unit"),
        ('most = "7pt"\nleast = "6pt"', 'most = "0pt"\nleast = "0pt"', "style-value", "above 0"),
        ('face = "sans"', 'face = "sans"\nleading = nan', "style-value", "'leading' from"),
        ('face = "sans"', 'face = "sans"\nleading = -5', "style-value", "'leading' from"),
        ('face = "sans"', 'face = "sans"\nleading = true', "style-value", "'leading' from"),
        ('face = "sans"', 'face = "sans"\ntracking = inf', "style-value", "'tracking' from"),
        ('face = "sans"', 'face = "sans"\ntracking = -9e9', "style-value", "'tracking' from"),
        ('face = "sans"', 'face = "sans"\nink = "red"', "style-value", "#rrggbb"),
        ('face = "sans"', 'face = "sans"\nink = 3', "style-value", "found 3"),
        ('face = "sans"', 'face = "sans"\nfigures = "old"', "style-value", "'tabular'"),
        ('face = "sans"', 'face = "sans"\nfase = "serif"', "style-key", "Did you mean 'face'?"),
        ('face = "sans"\n', "", "style-value", "'face' is missing"),
    ],
)
def test_a_style_is_held_within_what_type_can_be(
    refused: Refused, spoil: Spoil, tmp_path: Path, old: str, new: str, rule: str, says: str
) -> None:
    assert old in NOTE
    line = spoil({"layouts/styles.toml": NOTE.replace(old, new, 1)})
    refused("--catalog", line, "bags", "--out", tmp_path / "x.pdf", rule=rule, says=says)


@pytest.mark.daily
@pytest.mark.parametrize(
    ("says", "expected"),
    [
        ('use = "bag"', '"bags" or "cards"'),
        ("use = 3", '"bags" or "cards"'),
        ('use = "bags"\nleast = [1, 2]', "two lengths"),
        ('use = "cards"\nsize = ["0 in", "0 in"]', "above 0"),
        ('use = "cards"\nsize = ["900 in", "4 in"]', "up to 100 in"),
        ('use = "cards"\nfollows = []', '"header" or "insert"'),
        ('use = "cards"\nfolows = "header"', "Did you mean 'follows'?"),
    ],
)
def test_a_list_of_layouts_is_held_to_what_it_may_say(
    refused: Refused, spoil: Spoil, tmp_path: Path, says: str, expected: str
) -> None:
    line = spoil({"layouts/layouts.toml": f"[mine]\n{says}\n"})
    refused(
        "--catalog", line, "bags", "--out", tmp_path / "x.pdf", rule="layouts-value",
        says=("layouts.toml, mine", expected),
    )  # fmt: skip


FONT = (ROOT / "fonts" / "BarlowCondensed-Medium.ttf").read_bytes()


@pytest.mark.parametrize(
    ("faces", "font"),
    [
        ('[sans]\nfile = "none.ttf"', None),
        ('[sans]\nfile = "../catalog.toml"', None),
        ("[sans]\nfile = 3", None),
        ('[sans]\nfil = "x.ttf"', b"x"),
        ("sans = 3", None),
        ("[[sans]]", None),
        ('[sans]\nfile = "x.ttf"', b""),
        ('[sans]\nfile = "x.ttf"', b"hello, a text file"),
        ('[sans]\nfile = "x.ttf"', FONT[:30_000]),
        ('[sans]\nfile = "x.ttf"', FONT[:12] + b"\xb9" * 40 + FONT[52:]),
    ],
    ids=["missing", "outside", "number", "no file", "no table", "array", "empty", "text",
         "cut short", "names broken"],
)  # fmt: skip
def test_a_font_that_can_t_be_embedded_is_told_with_its_file(
    run_cli: Cli, spoil: Spoil, tmp_path: Path, faces: str, font: bytes | None
) -> None:
    files = {"fonts/faces.toml": faces} | ({"fonts/x.ttf": font} if font is not None else {})
    line = spoil(files)
    status, out, err = run_cli("--catalog", line, "bags", "--out", tmp_path / "x.pdf")
    assert (status, out) == (2, "")
    assert "[face-unusable]" in err
    assert str(line / "fonts") in err
    assert "Traceback" not in err
    assert not list(tmp_path.glob("*x.pdf*"))


def test_a_face_of_the_maker_s_own_is_measured_and_drawn_from_the_same_file(
    run_cli: Cli, spoil: Spoil, tmp_path: Path
) -> None:
    """Measured in our narrow face and drawn in a wide one, a text would run over its box."""
    wide = (ROOT / "fonts" / "NotoSerifCondensed-SemiBold.ttf").read_bytes()
    line = spoil({"fonts/faces.toml": '[sans-medium]\nfile = "x.ttf"', "fonts/x.ttf": wide})
    assert run_cli("--catalog", line, "bags", "--out", tmp_path / "x.pdf")[0] == 0
    assert read_styles(line)["disclosure"].face.path == line / "fonts" / "x.ttf"
    resources: Any = PdfReader(tmp_path / "x.pdf").pages[0]["/Resources"]
    drawn = [str(font.get_object()["/BaseFont"]) for font in resources["/Font"].values()]
    assert not [name for name in drawn if "Barlow" in name and "Medium" in name]
    assert [name for name in drawn if "NotoSerif-SemiBold" in name]


def test_two_fonts_that_call_themselves_the_same_can_both_be_embedded(
    run_cli: Cli, spoil: Spoil, tmp_path: Path
) -> None:
    faces = '[sans-medium]\nfile = "a.ttf"\n[sans-bold]\nfile = "b.ttf"\n'
    line = spoil({"fonts/faces.toml": faces, "fonts/a.ttf": FONT, "fonts/b.ttf": FONT + b"\0"})
    assert run_cli("--catalog", line, "bags", "--out", tmp_path / "x.pdf")[0] == 0
