"""A catalog that is none, or that says what no jig can be: told by line, nothing printed."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable, Mapping
from pathlib import Path

import openpyxl
import pytest

Refused = Callable[..., str]
Retold = Callable[[str, str], Path]
Spoil = Callable[[Mapping[str, bytes | str | None]], Path]

WHOLE = (Path(__file__).resolve().parents[2] / "layouts/starter/catalog.toml").read_bytes()


@pytest.mark.parametrize("verb", ["bags", "cards", "check"])
@pytest.mark.parametrize(
    ("content", "rule", "says"),
    [
        (b"", "catalog-empty", "labeler new"),
        (b"\n\n# later\n", "catalog-empty", "comments"),
        (bytes(range(256)) * 20, "catalog-not-text", "no text file"),
        (b"\0" * 4_000, "catalog-not-text", "no text file"),
        (b"# fifty megabytes\n" * 2_777_778, "file-too-large", "at most 5,000,000"),
        ("[maker]\n".encode("utf-16"), "catalog-encoding", "UTF-8"),
        (WHOLE + "\n# Gr\u00f6\u00dfe\n".encode("cp1252"), "catalog-encoding", "'\u00f6'"),
        (b"hello world\n", "catalog-syntax", "catalog.toml:1"),
        (b"[maker]\nname = \"A\n", "catalog-syntax", "catalog.toml:2"),
        (b"a = " + b"[" * 5_000, "catalog-nesting", "64"),
        (b".".join([b"a"] * 3_000) + b" = 1", "catalog-nesting", "64"),
        (None, "catalog-missing", "labeler new"),
    ],
    ids=["empty", "remarks", "binary", "noughts", "50 MB", "UTF-16", "Windows letters", "prose",
         "open quote", "brackets", "dotted key", "folder"],
)  # fmt: skip
def test_a_file_that_is_no_catalog_is_wrong_input(
    refused: Refused, spoil: Spoil, tmp_path: Path, verb: str, content: bytes | None, rule: str,
    says: str,
) -> None:  # fmt: skip
    line = spoil({"catalog.toml": content})
    out = [] if verb == "check" else ["--out", tmp_path / "x.pdf"]
    refused("--catalog", line, verb, *out, rule=rule, says=says)


@pytest.mark.daily
def test_a_folder_without_a_catalog_says_how_to_get_one(refused: Refused, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "file").write_text("x")
    for place, says in (
        ("empty", "no catalog.toml"),
        ("none", "no such folder"),
        ("file", "a fil"),
    ):
        run_cli = refused("--catalog", tmp_path / place, "check", rule="catalog-missing", says=says)
        assert "labeler new" in run_cli


@pytest.mark.daily
def test_a_catalog_under_another_name_is_pointed_at(refused: Refused, tmp_path: Path) -> None:
    (tmp_path / "catalogue.toml").write_bytes(WHOLE)
    refused(
        "--catalog", tmp_path, "check", rule="catalog-missing", says="Did you mean 'catalogue.toml'"
    )


@pytest.mark.daily
@pytest.mark.parametrize(
    ("old", "new", "rule", "says"),
    [
        ('weights = ["3/8 oz"', 'weights = ["nan oz"', "wrong-value", '"nan oz"'),
        ('weights = ["3/8 oz"', "weights = [nan", "wrong-value", "found nan"),
        ('weights = ["3/8 oz"', "weights = [inf", "wrong-value", "found inf"),
        ('weights = ["3/8 oz"', 'weights = ["-3/8 oz"', "wrong-value", "weights[0]"),
        ('weights = ["3/8 oz"', "weights = [-0.375", "wrong-value", "-0.375"),
        ('weights = ["3/8 oz"', 'weights = ["0 oz"', "wrong-value", "above 0"),
        ('weights = ["3/8 oz"', 'weights = ["3/0 oz"', "wrong-value", "divided by 0"),
        ('weights = ["3/8 oz"', 'weights = ["3/8"', "wrong-value", "with its unit"),
        ('weights = ["3/8 oz"', f'weights = ["{"9" * 5_000} oz"', "wrong-value", "such as 3/8"),
        ("employees = 1 ", "employes = 1 ", "unknown-key", "Did you mean 'employees'?"),
        ("employees = 1 ", 'employees = "one" ', "wrong-value", "a whole number"),
        ('name = "Your Business Name"', "name = 5", "wrong-value", "text in quotes"),
        ('name = "Your Business Name"', 'name = ""', "wrong-value", "not a blank"),
        ('name = "Your Business Name"', 'name = "\\u0000"', "wrong-value", "control characters"),
        ('name = "Your Business Name"', f'name = "{"long " * 200}"', "wrong-value", "200"),
        ('code = "FST"', 'code = "F/ST"', "wrong-value", '"F/ST"'),
        ('code = "FST"', 'code = "F\\nST"', "wrong-value", '"F\\nST"'),
        ('code = "FST"', 'code = "../../FST"', "wrong-value", '"../../FST"'),
        ('code = "MAR"', 'code = "INK"', "duplicate-sku", "FST-38-40-INK"),
        ('markets = ["US", "US-WI"]', 'markets = "US"', "wrong-value", "square brackets"),
        ('markets = ["US", "US-WI"]', 'markets = ["us"]', "wrong-value", "in capitals"),
        ('price = "4.50"', "price = -1", "wrong-value", "an amount in quotes without a money sign"),
        ('price = "4.50"', 'price = "4,50"', "wrong-value", '"4,50"'),
        ('price = "4.50"', 'price = "1e99999999"', "wrong-value", "1e99999999"),
        ('head = "ball"', 'head = "bal"', "unknown-name", "Did you mean 'ball'?"),
        ('width = "3 in"', 'width = "3"', "wrong-value", "a length with its unit"),
        ('width = "3 in"', 'width = "0 in"', "wrong-value", "above 0"),
        ("strands = 22 }", "strands = -22 }", "wrong-value", "from 1 to"),
        ("strands = 22 }", "strands = 9999999999 }", "wrong-value", "from 1 to"),
        ('ink = "#5a572e"', 'ink = "green"', "wrong-value", "#rrggbb"),
        ('links = "https://go.yours.example.com"', 'links = "javascript:1"', "wrong-value", "http"),
        ('# photo = "first.jpg"', 'photo = "../catalog.toml"', "photo-outside", "photos/"),
        ('# photo = "first.jpg"', 'photo = "/etc/passwd"', "photo-outside", "photos/"),
        ('# photo = "first.jpg"', 'photo = "first.jpg"', "photo-missing", "no such file"),
    ],
)  # fmt: skip
def test_what_no_catalog_may_say_is_told_with_its_line(
    refused: Refused, retold: Retold, tmp_path: Path, old: str, new: str, rule: str, says: str
) -> None:
    line = retold(old, new)
    run_cli = refused(
        "--catalog", line, "bags", "--out", tmp_path / "x.pdf", rule=rule,
        says=("catalog.toml:", says),
    )  # fmt: skip
    assert "1 thing to put right; nothing was written." in run_cli


def test_a_table_under_another_name_is_told_where_it_begins(
    run_cli: Callable[..., tuple[int, str, str]], retold: Retold
) -> None:
    line = retold("[colours.marsh]", "[coulours.marsh]")
    begins = (line / "catalog.toml").read_text("utf-8").split("[coulours.marsh]")[0].count("\n") + 1
    _, out, _ = run_cli("--catalog", line, "check")
    assert f"catalog.toml:{begins}, coulours: there is no such key here" in out
    assert "Did you mean 'colours'?" in out


@pytest.mark.daily
def test_everything_that_is_wrong_is_told_at_once(
    refused: Refused, retold: Retold, tmp_path: Path
) -> None:
    retold('head = "ball"', 'head = "bal"')
    retold("employees = 1 ", "employes = 1 ")
    line = retold('width = "3 in"', 'width = "3"')
    run_cli = refused(
        "--catalog", line, "cards", "--out", tmp_path / "x.pdf", rule="unknown-name", stops=3
    )
    assert "3 things to put right" in run_cli


def test_letters_no_face_has_are_told_once_for_all_the_pieces(
    refused: Refused, retold: Retold, tmp_path: Path
) -> None:
    line = retold('name = "Your Business Name"', 'name = "鯰 jigs"')
    refused(
        "--catalog", line, "bags", "--out", tmp_path / "x.pdf",
        rule="missing-letters", says=("U+9BF0", "and 3 more"),
    )  # fmt: skip


@pytest.mark.daily
@pytest.mark.parametrize(
    ("name", "content", "rule", "says"),
    [
        ("products.csv", b"SKU,Price\nFST-38-40-MRA,4\n", "sku-unknown", "FST-38-40-MAR"),
        ("products.csv", b"SKU,Prise\nFST-38-40-MAR,4\n", "unknown-column", "price"),
        ("products.csv", b"\xff\xfe\x00\x01" * 90, "", "products.csv"),
        ("products.csv", b"PK\x03\x04 not a spreadsheet", "", "products.csv"),
        ("products.csv", b"SKU,Price\n" + b"FST-38-40-MAR,4\n" * 2, "duplicate-sku", ".csv:3"),
        ("products.csv", b'SKU,Price\n"FST-38\n40-MAR",4\n', "", "products.csv"),
        ("products.xlsx", b"no spreadsheet at all", "", "products.xlsx"),
        ("products.xlsx", b"", "", "products.xlsx"),
        ("gtins.csv", b"sku,gtin\nFST-38-40-MAR,9521234001011\n", "", "gtins.csv"),
        ("gtins.csv", b"sku,gtin\nFST-38-40-MAR\n", "", "gtins.csv"),
        ("gtins.csv", b"hello", "", "gtins.csv"),
        ("gtins.csv", bytes(range(256)), "", "gtins.csv"),
    ],
)  # fmt: skip
def test_a_spreadsheet_with_errors_stops_the_press(
    run_cli: Callable[..., tuple[int, str, str]], spoil: Spoil, tmp_path: Path, name: str,
    content: bytes, rule: str, says: str,
) -> None:  # fmt: skip
    line = spoil({name: content})
    if name == "products.xlsx":
        (line / "products.csv").unlink()
    status, out, err = run_cli("--catalog", line, "bags", "--out", tmp_path / "x.pdf")
    assert (status, out) == (2, "")
    assert f"[{rule}" in err
    assert says in err
    assert "Traceback" not in err
    assert not (tmp_path / "x.pdf").exists()


def test_a_weight_that_the_spreadsheet_made_a_date_is_told_with_its_cell(
    refused: Refused, spoil: Spoil, tmp_path: Path
) -> None:
    book = openpyxl.Workbook()
    assert book.active is not None
    book.active.append(["SKU", "Pattern", "Weight", "Hook", "Color", "Price"])
    book.active.append([None, "first", dt.date(2026, 3, 8), "4/0", "Marsh", 4.5])
    kept = io.BytesIO()
    book.save(kept)
    line = spoil({"products.xlsx": kept.getvalue()})
    (line / "products.csv").unlink()
    refused(
        "--catalog",
        line,
        "bags",
        "--out",
        tmp_path / "x.pdf",
        rule="cell-misread",
        says=("cell C2", "a date"),
    )


def test_a_wrong_catalog_found_by_check_is_a_finding_and_not_wrong_use(
    run_cli: Callable[..., tuple[int, str, str]], retold: Retold
) -> None:
    line = retold('head = "ball"', 'head = "bal"')
    status, out, err = run_cli("--catalog", line, "check")
    assert (status, err) == (1, "")
    assert out.startswith("0 products; 1 to put right")
    assert "catalog.toml:" in out
