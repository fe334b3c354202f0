"""Where a file is to be written: it appears whole under its name, or nothing changes."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol

import pytest

Refused = Callable[..., str]
Cli = Callable[..., tuple[int, str, str]]


class Commands(Protocol):
    def at_once(self, *several: Sequence[object]) -> list[tuple[int, str]]: ...
    def run(self, *words: object, largest: int = 0) -> tuple[int, str, str]: ...


VERBS = {
    "bags": ("bags", "--sku", "FST-38-40-MAR", "--out"),
    "cards": ("cards", "--sku", "FST-38-40-MAR", "--out"),
    "align": ("align", "--printer", "desk", "--out"),
    "align, measured": ("align", "--printer", "desk", "--left", "16mm", "--top", "16mm", "--out"),
    "catalog": ("catalog", "--for", "dealer", "--out"),
    "markets": ("markets", "--sheet"),
}
"""Every verb that writes a PDF to a name of the maker's choice, up to the name."""


@pytest.mark.parametrize("verb", VERBS)
@pytest.mark.parametrize(
    ("name", "rule"),
    [
        ("folder", "folder-in-the-way"),
        ("none/x.pdf", "no-such-folder"),
        ("file/x.pdf", "no-such-folder"),
        ("gone.pdf", "no-such-folder"),
        ("n" * 300 + ".pdf", "not-writable"),
        ("line/catalog.toml", "another-file-there"),
        ("line/products.csv", "another-file-there"),
        ("photo.jpg", "another-file-there"),
    ],
    ids=lambda part: part[:20],
)
def test_a_name_that_can_t_be_written_is_refused_and_all_stays_as_it_was(
    refused: Refused, line: Path, tmp_path: Path, verb: str, name: str, rule: str
) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").write_text("mine")
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8\xff\xe0 a photo")
    (tmp_path / "gone.pdf").symlink_to(tmp_path / "none" / "there.pdf")
    refused("--catalog", line, *VERBS[verb], tmp_path / name, rule=rule)


@pytest.mark.parametrize(
    "verb",
    ["bags", "align, measured", "cards", "align", "catalog", "markets"],
)
def test_a_full_disk_is_told_and_yesterday_s_file_kept(
    ready: Commands, line: Path, tmp_path: Path, verb: str
) -> None:
    out = tmp_path / "x.pdf"
    out.write_bytes(b"%PDF-1.7 yesterday's")
    status, _, said = ready.run("--catalog", line, *VERBS[verb], out, largest=2_000)
    assert status == 2, said
    assert "[disk-full]" in said
    assert "Traceback" not in said
    assert out.read_bytes() == b"%PDF-1.7 yesterday's"
    assert not list(tmp_path.glob(".*"))


@pytest.mark.siege
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
@pytest.mark.parametrize("verb", ["bags", "cards", "align"])
def test_a_device_that_is_full_is_told(refused: Refused, line: Path, verb: str) -> None:
    refused("--catalog", line, *VERBS[verb], "/dev/full", rule="disk-full", says="no room left")


@pytest.mark.parametrize("place", ["/proc/x.pdf", "/sys/x.pdf"])
def test_a_place_that_takes_no_files_is_told_even_to_root(
    run_cli: Cli, line: Path, place: str
) -> None:
    if not Path(place).parent.is_dir():
        pytest.skip(f"this system has no {place}")
    status, out, err = run_cli("--catalog", line, *VERBS["bags"], place)
    assert (status, out) == (2, "")
    assert "[not-writable]" in err or "[no-such-folder]" in err
    assert err.count("stop  ") == 1


def test_a_proof_takes_the_place_of_nothing_but_a_proof(
    refused: Refused, run_cli: Cli, line: Path, tmp_path: Path
) -> None:
    labels = tmp_path / "x.pdf"
    assert run_cli("--catalog", line, *VERBS["bags"], labels)[0] == 0
    check = ("--catalog", line, "check", labels, "--proof")
    refused(*check, labels, rule="proof-over-file", says="a name of its own")
    refused(*check, line / "catalog.toml", rule="another-file-there")
    refused(*check, tmp_path / "none" / "p.pdf", rule="no-such-folder")
    status, _, _ = run_cli(*check, tmp_path / "proof.pdf")
    assert status in (0, 1)
    assert (tmp_path / "proof.pdf").read_bytes().startswith(b"%PDF-")


def test_a_proof_does_not_take_the_place_of_a_device(
    run_cli: Cli, line: Path, tmp_path: Path
) -> None:
    """A pipe stands for the device, which a test that fails would do away with."""
    labels, pipe = tmp_path / "x.pdf", tmp_path / "pipe"
    assert run_cli("--catalog", line, *VERBS["bags"], labels)[0] == 0
    os.mkfifo(pipe)
    words = ("--catalog", line, "check", labels, "--proof", pipe)
    status, _, err = run_cli(*words)
    assert (status, "[not-writable]" in err) == (2, True)
    assert pipe.is_fifo()


@pytest.mark.daily
def test_today_s_file_takes_the_place_of_yesterday_s(
    run_cli: Cli, line: Path, tmp_path: Path
) -> None:
    out = tmp_path / "x.pdf"
    out.write_bytes(b"%PDF-1.7 yesterday's")
    assert run_cli("--catalog", line, *VERBS["bags"], out)[0] == 0
    assert out.stat().st_size > 10_000
    first = out.read_bytes()
    assert run_cli("--catalog", line, *VERBS["bags"], out)[0] == 0
    assert out.read_bytes() == first


def test_an_empty_file_of_that_name_is_no_obstacle(
    run_cli: Cli, line: Path, tmp_path: Path
) -> None:
    (tmp_path / "x.pdf").touch()
    assert run_cli("--catalog", line, *VERBS["bags"], tmp_path / "x.pdf")[0] == 0


@pytest.mark.parametrize(
    "name",
    ["my labels.pdf", "Größe – 3⁄8 oz.pdf", "-x.pdf", "x", "n" * 251 + ".pdf", "é" * 125 + ".pdf",
     "a'b\"c$d`e.pdf", "x.pdf.part", ".hidden.pdf"],
    ids=lambda name: name[:12],
)  # fmt: skip
def test_spaces_accents_and_long_names_are_names(
    run_cli: Cli, line: Path, tmp_path: Path, name: str
) -> None:
    folder = tmp_path / "Meine Köder, 2027"
    folder.mkdir()
    moved = line.rename(folder / "línea nueva")
    status, out, _ = run_cli("--catalog", moved, *VERBS["bags"], folder / name)
    assert status == 0
    assert out.startswith(f"{folder / name}: 1 label of 1 product")
    assert (folder / name).read_bytes().startswith(b"%PDF-")


def test_a_name_alone_is_written_where_the_maker_stands(
    run_cli: Cli, line: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run_cli("--catalog", "line", *VERBS["bags"], "x.pdf")[0] == 0
    assert (tmp_path / "x.pdf").is_file()


def test_the_folder_is_the_current_one_or_the_one_that_labeler_catalog_names(
    run_cli: Cli, line: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LABELER_CATALOG", str(line))
    monkeypatch.chdir(tmp_path)
    assert run_cli("check")[0] == 0
    assert run_cli("--catalog", tmp_path, "check")[0] == 2, "what is typed goes first"
    monkeypatch.setenv("LABELER_CATALOG", str(tmp_path / "none"))
    status, _, err = run_cli("check")
    assert (status, "no such folder" in err) == (2, True)
    monkeypatch.setenv("LABELER_CATALOG", "")
    monkeypatch.chdir(line)
    assert run_cli("check")[0] == 0


@pytest.mark.siege
def test_two_at_once_to_one_file_leave_one_whole_file(
    ready: Commands, line: Path, tmp_path: Path
) -> None:
    out = tmp_path / "x.pdf"
    both = [("--catalog", line, *VERBS[verb], out) for verb in ("bags", "cards")]
    for status, said in ready.at_once(*both):
        assert status == 0, said
    whole = out.read_bytes()
    assert whole.startswith(b"%PDF-")
    assert whole.rstrip().endswith(b"%%EOF")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["line", "x.pdf"]
