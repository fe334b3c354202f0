"""A catalog file that is no catalog file: one clear finding, with its line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from labeler.catalog.read import examine, read_catalog
from labeler.catalog.structure import LARGEST_BYTES
from labeler.findings import Grade, LabelerError

Bench = Any


def test_a_folder_without_a_catalog_names_the_starter(tmp_path: Path) -> None:
    catalog, findings = examine(tmp_path)
    assert catalog is None
    assert [f.rule for f in findings] == ["catalog-missing"]
    assert "labeler new" in findings[0].hint


def test_a_misspelt_file_name_is_found(tmp_path: Path) -> None:
    (tmp_path / "Catalogue.toml").write_text("x = 1")
    assert "Catalogue.toml" in examine(tmp_path)[1][0].hint


def test_a_folder_that_is_not_there_or_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    assert "no such folder" in examine(tmp_path / "nowhere")[1][0].message
    assert "not a folder" in examine(tmp_path / "file")[1][0].message


@pytest.mark.parametrize(
    ("content", "rule", "line"),
    [
        (b"", "catalog-empty", None),
        (b"  \n\t\n", "catalog-empty", None),
        (b"# only a remark\n", "catalog-empty", None),
        (b"PK\x03\x04\x00\x00rest", "catalog-not-text", None),
        (b'a = "x"\nb = "\xe9"\n', "catalog-encoding", 2),
        ("a = 1".encode("utf-16"), "catalog-encoding", None),
        (b"a = " + b"[" * 100_000, "catalog-nesting", 1),
        (b"a = " + b"{a=" * 100_000, "catalog-nesting", 1),
        (b"\n" + b"a." * 2_000_000 + b"a = 1", "catalog-nesting", 2),
        (b"a = " + b"9" * 5_000, "catalog-syntax", None),
        (b"[a]\nweights = 3/8\n", "catalog-syntax", 2),
        (b"[a]\nname = River Vesper\n", "catalog-syntax", 2),
        (b'[a]\nname = "River\nkind = 1\n', "catalog-syntax", 2),
        (b"[a]\nname = 'River\nkind = 1\n", "catalog-syntax", 2),
        (b'[a]\n\nstory = """River\nkind = 1\n', "catalog-syntax", 3),
        (b'[a]\nx = ["a"\n\nb = 1', "catalog-syntax", 4),
        (b"[a\n", "catalog-syntax", 1),
        (b"just words\n", "catalog-syntax", 1),
        (b"a = \x01\n", "catalog-syntax", 1),
        (b'a = "C:\\photos"', "catalog-syntax", 1),
    ],
)
def test_what_is_no_sound_toml_is_one_finding_with_its_line(
    bench: Bench, content: bytes, rule: str, line: int | None
) -> None:
    bench.write("catalog.toml", content)
    findings = bench.findings()
    assert [(f.rule, f.grade, f.place.line) for f in findings] == [(rule, Grade.STOP, line)]


def test_fifty_megabytes_are_refused_unread(bench: Bench) -> None:
    bench.write("catalog.toml", b"a = 1\n" * 9_000_000)
    finding = bench.finding("file-too-large")
    assert "54,000,000" in finding.found
    assert f"{LARGEST_BYTES:,}" in finding.expected


def test_a_key_that_stands_twice_names_both_lines(bench: Bench) -> None:
    bench.write("catalog.toml", '[maker]\nname = "A"\ncity = "B"\nname = "C"\n')
    finding = bench.finding("catalog-duplicate-key")
    assert (finding.place.line, finding.place.key) == (4, "maker.name")
    assert "line 2" in finding.hint


def test_a_table_that_stands_twice_names_both_lines(bench: Bench) -> None:
    bench.write("catalog.toml", "[heads.a]\nx = 1\n\n[heads.b]\n[heads.a]\n")
    finding = bench.finding("catalog-duplicate-key")
    assert (finding.place.line, finding.place.key) == (5, "heads.a")
    assert "line 1" in finding.hint


def test_a_fraction_without_quotes_is_told_to_take_them(bench: Bench) -> None:
    bench.write("catalog.toml", "[a]\nweight = 3/8\n")
    assert '"3/8 oz"' in bench.finding("catalog-syntax").hint


def test_a_control_character_is_shown_and_not_obeyed(bench: Bench) -> None:
    bench.write("catalog.toml", b'a = "\x1b[31m"\n')
    finding = bench.finding("catalog-syntax")
    assert "\x1b" not in str(finding)
    assert "\\x1b" in finding.found


def test_a_byte_order_mark_and_windows_line_ends_are_forgiven(bench: Bench) -> None:
    text = "\ufeff" + bench.text.replace("\n", "\r\n")
    bench.write("catalog.toml", text)
    assert len(bench.read().products) == 4


def test_a_catalog_that_nobody_may_read_is_a_finding(bench: Bench) -> None:
    (bench.folder / "catalog.toml").unlink()
    (bench.folder / "catalog.toml").mkdir()
    assert bench.finding("catalog-missing")


def test_reading_raises_with_every_finding_that_stops_and_no_other(bench: Bench) -> None:
    bench.change('head = "vesper"', 'head = "vespr"')
    bench.change('alloy = "lead"', "")
    with pytest.raises(LabelerError) as caught:
        read_catalog(bench.folder)
    assert {f.rule for f in caught.value.findings} == {"unknown-name", "missing-key"}
    assert all(f.grade is Grade.STOP for f in caught.value.findings)
    assert caught.value.exit_status == 2


def test_the_same_folder_reads_the_same_and_a_changed_one_does_not(
    new_bench: Callable[[], Bench],
) -> None:
    one, two = new_bench(), new_bench()
    assert one.read().fingerprint == two.read().fingerprint
    assert one.read().products == two.read().products
    two.write("products.csv", "sku,note\nRV-38-40-MLN,x\n")
    with_sheet = two.read().fingerprint
    assert with_sheet != one.read().fingerprint
    two.write("products.csv", "sku,note\nRV-38-40-MLN,y\n")
    assert two.read().fingerprint != with_sheet
