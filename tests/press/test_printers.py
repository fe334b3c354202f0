"""Printer profiles in the catalog folder."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.findings import LabelerError
from labeler.geometry import IDENTITY, apply, inverse, multiply
from labeler.press.printers import FILE, Printer, find_printer, read_printers, save_printer

MM = 72 / 25.4

WRITTEN = """\
# Two printers at the bench.
[printer.desk]
dpi = 600  # says the box
shift = ["0.4 mm", "-1/64 in"]
scale = [1.002, 0.999]
skew = [0.0005, -0.0004]
back = ["0 mm", "0.2 mm"]
duplex = "short-edge"
feed = "hand"
lying = "right"

[printer.thermal]
dpi = 203
"""


def bench(tmp_path: Path, text: str) -> Path:
    (tmp_path / FILE).write_text(text, "utf-8")
    return tmp_path


def test_a_profile_is_read_as_it_is_written(tmp_path: Path) -> None:
    found = read_printers(bench(tmp_path, WRITTEN))
    assert list(found) == ["desk", "thermal"]
    desk = found["desk"]
    assert desk.shift == pytest.approx((0.4 * MM, -72 / 64))
    assert (desk.scale, desk.skew) == ((1.002, 0.999), (0.0005, -0.0004))
    assert desk.back == pytest.approx((0, 0.2 * MM))
    assert (desk.dpi, desk.duplex, desk.feed, desk.lying) == (600, "short-edge", "hand", "right")
    assert found["thermal"].matrix() == IDENTITY


def test_without_a_file_there_are_no_printers(tmp_path: Path) -> None:
    assert read_printers(tmp_path) == {}
    with pytest.raises(LabelerError) as caught:
        find_printer("desk", tmp_path)
    assert "labeler align" in caught.value.findings[0].hint


def test_an_unknown_printer_is_answered_with_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(LabelerError) as caught:
        find_printer("dsek", bench(tmp_path, WRITTEN))
    assert caught.value.findings[0].hint == "Did you mean 'desk'?"


def test_a_corrected_printer_leaves_comments_and_others_alone(tmp_path: Path) -> None:
    catalog = bench(tmp_path, WRITTEN)
    save_printer(Printer("desk", dpi=600, shift=(MM, 0.0)), catalog)
    text = (catalog / FILE).read_text("utf-8")
    assert text.startswith("# Two printers at the bench.\n")
    assert "dpi = 600  # says the box" in text
    assert 'shift = ["1.000 mm", "0.000 mm"]' in text
    assert read_printers(catalog)["thermal"].dpi == 203


def test_a_first_printer_makes_the_file(tmp_path: Path) -> None:
    save_printer(Printer("der große", scale=(0.998, 1.0)), tmp_path)
    save_printer(Printer("thermal", dpi=203), tmp_path)
    assert set(read_printers(tmp_path)) == {"der große", "thermal"}
    assert (tmp_path / FILE).read_text("utf-8").startswith("# Printer profiles")


def test_a_resolution_that_is_no_longer_known_is_taken_out(tmp_path: Path) -> None:
    catalog = bench(tmp_path, WRITTEN)
    save_printer(Printer("thermal"), catalog)
    assert read_printers(catalog)["thermal"].dpi is None


lengths = st.floats(-70, 70).map(lambda pt: round(pt / MM, 3) * MM)
profiles = st.builds(
    Printer,
    name=st.text(min_size=1, max_size=12),
    dpi=st.none() | st.integers(72, 4800),
    shift=st.tuples(lengths, lengths),
    scale=st.tuples(st.floats(0.95, 1.05), st.floats(0.95, 1.05)),
    skew=st.tuples(st.floats(-0.04, 0.04), st.floats(-0.04, 0.04)),
    back=st.tuples(lengths, lengths),
    duplex=st.sampled_from(["long-edge", "short-edge"]),
    feed=st.sampled_from(["auto", "hand"]),
    lying=st.sampled_from(["left", "right"]),
)


@given(profiles)
def test_a_profile_written_down_reads_back(printer: Printer) -> None:
    """To a thousandth of a millimetre and a millionth part."""
    with tempfile.TemporaryDirectory() as folder:
        save_printer(printer, Path(folder))
        (back,) = read_printers(Path(folder)).values()
    assert back.matrix() == pytest.approx(printer.matrix(), abs=0.002)
    assert back.back == pytest.approx(printer.back, abs=0.002)
    assert (back.name, back.dpi, back.duplex) == (printer.name, printer.dpi, printer.duplex)
    assert (back.feed, back.lying) == (printer.feed, printer.lying)


BAD = [
    ("dpi = 600", "dpi = 6", 3),
    ("dpi = 600", 'dpi = "600"', 3),
    ('"0.4 mm"', '"0.4"', 4),
    ('"0.4 mm"', '"30 mm"', 4),
    ('shift = ["0.4 mm", "-1/64 in"]', 'shift = "0.4 mm"', 4),
    ("scale = [1.002", "scale = [1.5", 5),
    ("scale = [1.002", "scale = [nan", 5),
    ("skew = [0.0005", "skew = [0.5", 6),
    ('"short-edge"', '"short"', 8),
    ('"hand"', '"foot"', 9),
    ('"right"', "3", 10),
    ('lying = "right"', 'laying = "right"', 10),
    ("[printer.thermal]", "[printers.thermal]", 12),
    ("dpi = 203", "dpi = = 203", 13),
]


@pytest.mark.parametrize(("here", "instead", "line"), BAD)
def test_a_bad_profile_is_told_by_its_line_and_never_overwritten(
    tmp_path: Path, here: str, instead: str, line: int
) -> None:
    assert here in WRITTEN
    catalog = bench(tmp_path, WRITTEN.replace(here, instead))
    before = (catalog / FILE).read_bytes()
    for doing in (lambda: read_printers(catalog), lambda: save_printer(Printer("new"), catalog)):
        with pytest.raises(LabelerError) as caught:
            doing()
        assert [finding.place.line for finding in caught.value.findings] == [line]
    assert (catalog / FILE).read_bytes() == before


def test_a_printer_that_is_no_table_is_told(tmp_path: Path) -> None:
    with pytest.raises(LabelerError) as caught:
        read_printers(bench(tmp_path, "printer.desk = 3\n"))
    assert "a table of its own, written [printer.desk]" in caught.value.findings[0].expected


numbers = st.floats(-0.05, 0.05)
matrices = st.tuples(
    st.floats(0.9, 1.1), numbers, numbers, st.floats(0.9, 1.1), lengths, lengths
)  # fmt: skip


@given(matrices, matrices, st.floats(0, 800), st.floats(0, 800))
def test_matrices_follow_one_another_and_come_undone(
    second: tuple[float, ...], first: tuple[float, ...], x: float, y: float
) -> None:
    one, two = first, second
    moved = apply(multiply(one, two), x, y)  # type: ignore[arg-type]
    assert moved == pytest.approx(apply(two, *apply(one, x, y)), abs=1e-6)  # type: ignore[arg-type]
    back = apply(inverse(one), *apply(one, x, y))  # type: ignore[arg-type]
    assert back == pytest.approx((x, y), abs=1e-6)
