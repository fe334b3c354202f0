"""A catalog's own files are changed where they were to be, and nowhere else."""

from __future__ import annotations

import csv
import difflib
import io
import tomllib
from pathlib import Path
from typing import Any

import pytest

from labeler.catalog import edit
from labeler.catalog.edit import as_it_was, versions, with_keys, with_rows, write_together
from labeler.catalog.structure import source_of
from labeler.findings import LabelerError

ROOT = Path(__file__).resolve().parents[2]
STARTER = (ROOT / "layouts" / "starter" / "catalog.toml").read_text("utf-8")
DEMO = (ROOT / "demo_catalog" / "catalog.toml").read_text("utf-8")
LAYERS = tomllib.loads(STARTER)["colours"]["marsh"]["layers"]
NEW = {"material": "silicone", "shade": "rust", "ink": "#7a3b1e", "strands": 6}
APART = """\
[colors.a] # the first
code = "A"
name = "A" # kept
# of the patterns
[patterns.x]
name = "X"
[colors.b]
name = "B"
[[colors.b.layers]]
material = "m"
strands = 1

# second
[[colors.b.layers]]
material = "n"
strands = 2
# the end"""


def lines_changed(old: str, new: str) -> tuple[list[str], list[str]]:
    """Return the lines that went and those that came; all others stand in their order."""
    both = list(difflib.ndiff(old.splitlines(), new.splitlines()))
    return [one[2:] for one in both if one[0] == "-"], [one[2:] for one in both if one[0] == "+"]


@pytest.mark.parametrize(
    ("text", "keys", "went", "came"),
    [
        (STARTER, {("colours", "marsh", "head_paint"): "rust"}, 1, 1),
        (STARTER, {("colours", "marsh", "layers", 0, "strands"): 18}, 1, 1),
        (STARTER, {("colours", "marsh", "layers"): [*LAYERS, NEW]}, 0, 1),
        (STARTER, {("colours", "marsh", "layers"): [LAYERS[0], NEW, LAYERS[1]]}, 0, 1),
        (STARTER, {("colours", "marsh", "layers"): LAYERS[1:]}, 1, 0),
        (STARTER, {("colours", "marsh", "layers"): LAYERS[::-1]}, 1, 1),
        (STARTER, {("colours", "marsh", "eye_ink"): "#ff0000"}, 0, 1),
        (STARTER, {("colours", "marsh", "head_paint"): None}, 1, 0),
        (STARTER, {("patterns", "first", "prices", "5/8 oz"): "5.25"}, 1, 1),
        (STARTER, {("patterns", "first", "weights"): ["3/8 oz", "1/2 oz", "5/8 oz"]}, 1, 1),
        (STARTER, {("patterns", "first", "tie", "waste"): "5 %"}, 0, 1),
        (STARTER, {("patterns", "first", "story"): "One.\nTwo."}, 3, 2),
        (STARTER, {("colours", "rust"): {"code": "RST", "name": "Rust", "layers": [NEW]}}, 0, 6),
        (STARTER, {("packs", "mix"): {"code": "MIX"}}, 0, 2),
        (DEMO, {("heads", "pea", "eyes"): True, ("bags", "wide"): {"name": "Wide"}}, 0, 3),
        (APART, {("colours", "a", "note"): "n", ("colours", "c"): {"code": "C"}}, 0, 3),
        (APART, {("colours", "b", "layers"): [{"material": "n", "strands": 2}]}, 4, 0),
        (APART, {("colours", "b", "layers", 1, "strands"): 3}, 1, 1),
        (STARTER, {("colours", "marsh", "name"): "Marsh"}, 0, 0),
        (STARTER, {("colours", "marsh", "note"): None}, 0, 0),
    ],
)
def test_only_the_lines_that_say_it_change(
    text: str, keys: dict[Any, Any], went: int, came: int
) -> None:
    made = with_keys(source_of(text.encode()), keys)
    gone, new = lines_changed(text, made.decode())
    filled = [line for line in gone if line.strip()], [line for line in new if line.strip()]
    assert tuple(map(len, filled)) == (went, came)
    assert not any(line.lstrip().startswith("#") for line in gone if "second" not in line)
    dos = with_keys(source_of(text.replace("\n", "\r\n").encode()), keys)
    assert dos == made.replace(b"\n", b"\r\n"), "the other system's ends of lines"


def test_a_byte_order_mark_stays() -> None:
    bom = b"\xef\xbb\xbf"
    keys: dict[Any, Any] = {("colours", "marsh", "head_paint"): "rust"}
    made = with_keys(source_of(STARTER.encode()), keys)
    assert with_keys(source_of(bom + STARTER.encode()), keys) == bom + made


def test_a_new_entry_stands_before_the_remarks_of_what_comes_next() -> None:
    made = with_keys(source_of(STARTER.encode()), {("colours", "rust"): {"code": "RST"}}).decode()
    assert made.index("[colours.rust]") < made.index("# The bag it is sold in, measured flat.")
    assert made.index("[colours.ink]") < made.index("[colours.rust]")


def test_what_would_say_something_else_is_refused() -> None:
    odd = 'colours.a.code = "A"\n[maker]\nname = "x"\n'
    with pytest.raises(LabelerError, match="file-unreadable"):
        with_keys(source_of(odd.encode()), {("maker", "name", "first"): "x"})


ROWS = b'sku;Note;Price\r\nA-1;"one; two";4,50\r\n ;three;5\r\nB-2;;\r\n'


def test_rows_keep_every_other_byte() -> None:
    made = with_rows("products.csv", ROWS, {"A-1": {"price": "5,25"}}, {})
    assert made == ROWS.replace(b"4,50", b"5,25")
    made = with_rows("products.csv", ROWS, {"C-3": {"price": "6"}}, {"C-3": 3})
    assert made == ROWS.replace(b"three;5", b"three;6"), "a row without a SKU, by its line"
    made = with_rows("products.csv", ROWS, {"B-2": {"retired": "yes"}, "D-4": {"note": 'x;"y'}}, {})
    rows = list(csv.DictReader(io.StringIO(made.decode(), newline=""), delimiter=";"))
    assert [row["Retired"] for row in rows] == [None, None, "yes", ""]
    assert rows[-1]["Note"] == 'x;"y'
    assert made.startswith(ROWS[:12] + b"ce;Retired\r\n")
    assert with_rows("products.csv", b"", {"A": {"retired": "yes"}, "B": {"retired": ""}}, {}) == (
        b"SKU,Retired\r\nA,yes\r\n"
    )


def test_what_stood_there_is_kept_and_no_more_than_there_is_room_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def write(**texts: bytes) -> None:
        files = {name.replace("_", "."): text for name, text in texts.items()}
        write_together(tmp_path, files, {name: edit.there(tmp_path / name) for name in files})

    write(catalog_toml=b"1")
    write(catalog_toml=b"2", products_csv=b"a")
    write(products_csv=b"b")
    write(catalog_toml=b"3")
    last, rows, both, first = (one.code for one in versions(tmp_path))
    assert as_it_was(tmp_path, last) == {"catalog.toml": b"2"}
    assert as_it_was(tmp_path, rows) == {"catalog.toml": b"2", "products.csv": b"a"}
    assert as_it_was(tmp_path, both) == {"catalog.toml": b"1", "products.csv": b""}
    assert as_it_was(tmp_path, first) == {"catalog.toml": b"", "products.csv": b""}
    write(products_csv=b"")
    assert not (tmp_path / "products.csv").exists()
    for odd in ("", "../catalog.toml", "x"):
        with pytest.raises(LabelerError, match="version-unknown"):
            as_it_was(tmp_path, odd)
    versions(tmp_path)[-1].files["catalog.toml"].write_bytes(b"forged")
    with pytest.raises(LabelerError, match="version-damaged"):
        as_it_was(tmp_path, first)
    monkeypatch.setattr(edit, "MOST_KEPT", 3)
    for at in range(5):
        write(catalog_toml=b"%d" % at)
    assert len(versions(tmp_path)) == 4
    (tmp_path / ".versions" / "2026-01-01T000000.000000Z-x.catalog.toml").write_text("odd")
    assert len(versions(tmp_path)) == 4
