"""The one reader of TOML: values, the line of every key, and faults in a maker's words."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field

from labeler.findings import LabelerError
from labeler.tomlfile import KeyPath, RuleIds, TomlFile, locate_keys, read_toml, validate

TEXT = """\
[maker]
name = "Tarn"
"post code" = 5

[a.b.c]
x = { y = [1,
  2] }

[[rows]]
n = 1
[[rows]]
n = 2
[rows.inner]
deep.er = 3
"""


def written(folder: Path, text: str | bytes) -> TomlFile:
    path = folder / "some.toml"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_toml(path, "some-unreadable")


@pytest.mark.parametrize(
    ("path", "line", "key"),
    [
        (("maker",), 1, "maker"),
        (("maker", "post code"), 3, 'maker."post code"'),
        (("maker", "missing"), 1, "maker.missing"),
        (("a",), 5, "a"),
        (("a", "b"), 5, "a.b"),
        (("a", "b", "c", "x", "y", 1), 7, "a.b.c.x.y[1]"),
        (("rows", 0, "n"), 10, "rows[0].n"),
        (("rows", 1), 11, "rows[1]"),
        (("rows", 1, "inner", "deep", "er"), 14, "rows[1].inner.deep.er"),
        (("nothing",), 1, "nothing"),
    ],
)
def test_every_key_has_the_line_it_stands_on(
    tmp_path: Path, path: KeyPath, line: int, key: str
) -> None:
    place = written(tmp_path, TEXT).place(path)
    assert (place.line, place.key) == (line, key)


def test_a_key_that_stands_twice_is_seen_in_a_text_that_is_refused() -> None:
    _, again = locate_keys("[a]\nx = 1\n\nx = 2\n[b]\n[a]\n")
    assert again == [(("a", "x"), 4, 2), (("a",), 6, 1)]


@pytest.mark.parametrize(
    ("raw", "line", "says"),
    [
        (b"a = 1\nb = 3/8\n", 2, "quotes"),
        (b"a = 1\na = 2\n", 2, "line 1 already"),
        ("a = 1".encode("utf-16"), None, "UTF-16"),
        (b"a = " + b"[" * 5_000, 1, "nested deeper"),
        (b"# \n" * 600_000, None, "at most 1,000,000 bytes"),
    ],
)
def test_what_is_no_toml_is_one_finding_of_the_given_name(
    tmp_path: Path, raw: bytes, line: int | None, says: str
) -> None:
    with pytest.raises(LabelerError) as caught:
        written(tmp_path, raw)
    (finding,) = caught.value.findings
    assert (finding.rule, finding.place.line) == ("some-unreadable", line)
    assert finding.place.file == str(tmp_path / "some.toml")
    assert says in str(finding)


class Part(BaseModel):
    model_config = ConfigDict(extra="forbid")

    size: Annotated[int, Field(ge=1, le=9)]
    kind: Literal["round", "square"] = "round"


class Whole(BaseModel):
    model_config = ConfigDict(extra="forbid")

    part: dict[str, Part]


def test_sound_values_become_the_model(tmp_path: Path) -> None:
    whole, findings = validate(Whole, written(tmp_path, "[part.a]\nsize = 3\n"))
    assert findings == []
    assert whole is not None
    assert whole.part["a"].size == 3


def test_every_fault_in_the_values_has_its_line_and_what_was_expected(tmp_path: Path) -> None:
    text = '[part.a]\nsize = 10\nkind = "sqare"\n\n[part.b]\nsiez = 3\n\n[part]\nc = 4\n'
    rules = RuleIds("lacks", "unknown", "wrong")
    whole, findings = validate(Whole, written(tmp_path, text), rules=rules)
    assert whole is None
    found = {(f.rule, f.place.line, f.place.key, f.expected, f.hint) for f in findings}
    assert found == {
        ("wrong", 2, "part.a.size", "a whole number from 1 to 9", ""),
        ("wrong", 3, "part.a.kind", "one of round, square", "Did you mean 'square'?"),
        ("unknown", 6, "part.b.siez", "", "Did you mean 'size'?"),
        ("lacks", 5, "part.b.size", "a whole number from 1 to 9", ""),
        ("wrong", 9, "part.c", "a table of its own, written [part.c]", ""),
    }


def test_one_table_of_a_file_is_judged_by_itself(tmp_path: Path) -> None:
    file = written(tmp_path, "[part.a]\nsize = 3\n[part.b]\nsize = 0\n")
    assert validate(Part, file, ("part", "a"))[1] == []
    (finding,) = validate(Part, file, ("part", "b"))[1]
    assert (finding.place.line, finding.place.key) == (4, "part.b.size")


def test_reading_a_catalog_loads_no_library_that_it_does_not_use(tmp_path: Path) -> None:
    """A sound catalog without a workbook needs neither openpyxl nor a second parser of TOML."""
    starter = tmp_path / "line"
    shutil.copytree(Path(__file__).resolve().parents[1] / "layouts" / "starter", starter)
    (starter / "products.csv").unlink()  # whose price overrules a line of catalog.toml, by number
    script = (
        "import sys, pathlib\n"
        "from labeler.catalog.read import read_catalog\n"
        f"assert read_catalog(pathlib.Path({str(starter)!r})).products\n"
        "print(*{'openpyxl', 'numpy', 'tree_sitter', 'tomlkit', 'PIL'} & set(sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == []


def test_the_same_bytes_are_parsed_once_and_others_anew(tmp_path: Path) -> None:
    file = tmp_path / "maker.toml"
    file.write_text('name = "Ann"\n')
    first = read_toml(file)
    assert read_toml(file) is first
    file.write_text('\nname = "Bea"\n')
    second = read_toml(file)
    assert (second.data, second.line(("name",))) == ({"name": "Bea"}, 2)
    assert (first.data, first.line(("name",))) == ({"name": "Ann"}, 1)
