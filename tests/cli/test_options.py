"""What is typed: cells, counts, names, sizes and lots that are none get one clear answer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from labeler.cli import options

Misused = Callable[..., str]
Refused = Callable[..., str]
Cli = Callable[..., tuple[int, str, str]]


@pytest.mark.daily("--count 0-count-out-of-range-found 0")
@pytest.mark.parametrize(
    ("words", "rule", "says"),
    [
        (["--count", "0"], "count-out-of-range", "found 0"),
        (["--count", "-3"], "count-out-of-range", "found -3"),
        (["--count", str(10**12)], "count-out-of-range", "at most 200,000 in all"),
        (["--start", "31"], "start-off-sheet", "a cell from 1 to 30"),
        (["--start", "-1"], "start-off-sheet", "a cell from 1 to 30"),
        (["--start", "0"], "start-off-sheet", "a cell from 1 to 30"),
        (["--spoiled", "1-30"], "no-free-cell", "Put in a fresh sheet"),
        (["--spoiled", "2:1-30", "--count", "99"], "no-free-cell", "sheet 2"),
        (["--start", "30", "--spoiled", "30"], "no-free-cell", "from cell 30 to 30"),
        (["--spoiled", "31"], "spoiled-off-sheet", "found 31"),
        (["--spoiled", "0"], "spoiled-off-sheet", "found 0"),
        (["--spoiled", "0:5"], "spoiled-off-sheet", "found 0:5"),
        (["--spoiled", "1-10000"], "spoiled-off-sheet", "and 9,965 more"),
        (["--spoiled", "999999:1-10000"], "spoiled-off-sheet", "and 9,965 more"),
        (["--spoiled", "three"], "spoiled-cells", "'three'"),
        (["--spoiled", "9-3"], "spoiled-cells", "'9-3'"),
        (["--spoiled", "1-999999999999"], "spoiled-cells", "such as 7-9"),
        (["--spoiled", "\udce9"], "spoiled-cells", "\\udce9"),
        (["--sku", "FST-38-40-MRA"], "sku-unknown", "Did you mean 'FST-38-40-MAR'?"),
        (["--sku", "FST 38 40 MAR"], "sku-unknown", "Did you mean 'FST-38-40-MAR'?"),
        (["--sku", "XX-*"], "sku-unknown", "Known: FST-"),
        (["--sku", ""], "sku-unknown", "Known: FST-"),
        (["--sku", "["], "sku-unknown", "Known: FST-"),
        (["--sku", "*" * 4_000 + "x"], "sku-unknown", "Known: FST-"),
        (["--sku", "FST-*", "--sku", "a\nb"], "sku-unknown", r'"a\nb"'),
        (["--sku", "\udce9"], "sku-unknown", "\\udce9"),
        (["--sheet", "letter-3x1"], "unknown-sheet", "Did you mean 'letter-3x10'?"),
        (["--sheet", "../../etc/x"], "unknown-sheet", "Known: a4-"),
        (["--layout", "bag-stripe"], "unknown-layout", "Did you mean 'bag-strip'?"),
        (["--printer", "desk"], "unknown-printer", "labeler align --printer"),
        (["--lot", "two words"], "lot-code", "' '"),
        (["--lot", "a\nb"], "lot-code", r"'\n'"),
        (["--lot", "9" * 21], "lot-code", "longer than 20"),
        (["--lot", "9" * 5_000], "lot-code", "longer than 20"),
        (["--lot", "é"], "lot-code", "'é'"),
        (["--lot", "\udce9"], "lot-code", "\\udce9"),
        (["--lot", ".."], "lot-code", "dots"),
    ],
    ids=lambda part: " ".join(part)[:40] if isinstance(part, list) else None,
)  # fmt: skip
def test_what_can_t_be_printed_is_said_and_nothing_written(
    refused: Refused, line: Path, words: list[str], rule: str, says: str
) -> None:
    refused("--catalog", line, "bags", *words, "--out", line / "x.pdf", rule=rule, says=says)


@pytest.mark.daily
@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["bags", "--count", "twelve"], "'twelve'"),
        (["bags", "--count", "1.5"], "'1.5'"),
        (["bags", "--count", ""], "''"),
        (["bags", "--count", "\udce9"], "--count"),
        (["bags", "--start", "left"], "left"),
        (["bags", "--start", str(10**30)], "such as 7, or next"),
        (["bags", "--spare", "-1"], "--spare"),
        (["bags", "--ink", "gold"], "'colour', 'black'"),
        (["bags", "--size", "3 x 4 in"], "--size"),
        (["bags", "--sheets", "x"], "--sheet"),
        (["bags", "extra"], "extra"),
        (["bagz"], "Did you mean 'bags'?"),
        (["\udce9"], "Known: "),
        ([""], "Known: "),
        (["--cat"], "--cat"),
        (["cards", "--size", "wide"], '"3 x 4 in"'),
        (["cards", "--size", "3 x 4"], '"3 x 4 in"'),
        (["cards", "--size", "3 in"], '"3 x 4 in"'),
        (["cards", "--size", "3 x 4 x 5 in"], '"3 x 4 in"'),
        (["cards", "--size", ""], '"3 x 4 in"'),
        (["cards", "--size", "-3 x 4 in"], '"3 x 4 in"'),
        (["cards", "--size", "nan x nan in"], '"3 x 4 in"'),
        (["cards", "--size", "1/0 x 4 in"], '"3 x 4 in"'),
        (["cards", "--size", "9" * 900 + " x 4 in"], '"3 x 4 in"'),
        (["cards", "--size", "0 x 0 in"], "no area"),
        (["cards", "--size", "999999 x 999999 in"], "at most 100 in a side"),
        (["align", "--printer", "desk", "--left", "16", "--top", "16 mm"], "with its unit"),
        (["align", "--printer", "desk", "--left", "-16 mm"], "with its unit"),
        (["align", "--printer", "desk", "--left", "9" * 900 + " in"], "with its unit"),
        (["align", "--printer", "desk", "--dpi", "0"], "72<=x<=4800"),
        (["new", "a", "b"], "nothing here takes these words: b"),
        (["unprint", "b.pdf", "--why", "jam"], "'b.pdf' is no whole number"),
        (["check", "--on", "tomorrow"], "such as 2027-03-01"),
    ],
    ids=lambda part: " ".join(part)[:40] if isinstance(part, list) else None,
)  # fmt: skip
def test_what_is_typed_wrongly_is_told_in_one_line(
    misused: Misused, line: Path, words: list[str], says: str
) -> None:
    out = ["--out", line / "x.pdf"] if words[:1] in (["bags"], ["cards"]) else []
    misused("--catalog", line, *words, *out, says=says)


@pytest.mark.daily
@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["bags"], "--out"),
        (["cards"], "--out"),
        (["new"], "FOLDER"),
        (["align"], "--printer"),
        (["align", "--printer", "desk"], "--out"),
        (["catalog", "--out", "x.pdf"], "--for"),
        (["order"], "FILE"),
    ],
)
def test_what_is_missing_is_named(
    misused: Misused, line: Path, words: list[str], says: str
) -> None:
    misused("--catalog", line, *words, says=says)


@pytest.mark.parametrize(
    "words",
    [
        ["--sku", "fst-38-40-mar"],
        ["--sku", "FST-*-MAR", "--count", "2"],
        ["--sheet", "LETTER-3X10"],
        ["--start", "30"],
        ["--spoiled", " 3, 7 - 9 ;2:5 "],
        ["--count", "30", "--fill"],
        ["--lot", "A/b-9%!", "--sku", "fst-38-40-mar"],
        ["--ink", "black", "--outline"],
    ],
    ids=" ".join,
)
def test_what_people_type_is_understood(
    run_cli: Cli, line: Path, tmp_path: Path, words: list[str]
) -> None:
    status, out, _ = run_cli("--catalog", line, "bags", *words, "--out", tmp_path / "x.pdf")
    assert status == 0
    assert out.startswith(f"{tmp_path / 'x.pdf'}: ")
    assert (tmp_path / "x.pdf").read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("text", "width", "height"),
    [
        ("3x4in", 216, 288),
        ("3 x 4 in", 216, 288),
        ("3 in x 4 in", 216, 288),
        ("75 mm × 100 mm", 7.5 / 2.54 * 72, 10 / 2.54 * 72),
        ("8cm x 11cm", 8 / 2.54 * 72, 11 / 2.54 * 72),
    ],
)
def test_a_card_s_size_is_typed_in_many_ways(text: str, width: float, height: float) -> None:
    assert options.size(text) == pytest.approx((width, height))


def test_cards_are_printed_in_the_size_that_is_typed(
    run_cli: Cli, line: Path, tmp_path: Path
) -> None:
    words = ("cards", "--size", "75 mm × 100 mm", "--out", tmp_path / "x.pdf")
    assert run_cli("--catalog", line, *words)[0] == 0


@pytest.mark.parametrize(
    ("words", "rule", "whose"),
    [
        (["bags", "--layout", "insert-card"], "layout-overflow", " and 3 more"),
        (["cards", "--sheet", "letter-3x10"], "piece-too-large", " and 3 more"),
        (["cards", "--layout", "bag-strip"], "no-size", " and 3 more"),
        (["cards", "--size", "1/8 x 1/8 in"], "layout-overflow", " and 3 more"),
        (["cards", "--size", "20 x 20 in"], "piece-too-large", " and 3 more"),
    ],
)
def test_what_does_not_go_together_is_said_once_for_all_pieces(
    run_cli: Cli, line: Path, tmp_path: Path, words: list[str], rule: str, whose: str
) -> None:
    status, out, err = run_cli("--catalog", line, *words, "--out", tmp_path / "x.pdf")
    assert (status, out) == (2, "")
    assert f"[{rule}]" in err
    assert f"FST-38-40-MAR{whose}" in err
    assert err.count("stop  ") <= 2
    assert not (tmp_path / "x.pdf").exists()
