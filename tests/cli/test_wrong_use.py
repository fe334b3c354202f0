"""Whatever is typed or lies in the folder: one clear message, the right status, nothing lost."""

from __future__ import annotations

import json
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from labeler.cli.group import VERBS, run

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog"
Said = Callable[..., tuple[int, str]]


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Said:
    """Return a function that runs the command and gives its status and all it said."""

    def call(*words: str, folder: Path = DEMO) -> tuple[int, str]:
        capsys.readouterr()
        status = run(["--catalog", str(folder), *words])
        told = capsys.readouterr()
        return status, told.out + told.err

    return call


@pytest.fixture
def line(tmp_path: Path) -> Path:
    """A copy of the demo to spoil."""
    return Path(shutil.copytree(DEMO, tmp_path / "line", ignore=shutil.ignore_patterns("prints")))


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["bags", "--sku", "RM-38-40-SBX"], "RM-38-40-SBR"),
        (["bags", "--sheet", "letter-3x11"], "letter-3x10"),
        (["bags", "--layout", "bag-stripe"], "bag-strip"),
        (["bags", "--printer", "attic"], "attic"),
        (["bags", "--start", "31"], "31"),
        (["bags", "--start", "0"], "0"),
        (["bags", "--start", "left"], "left"),
        (["bags", "--count", "0"], "0"),
        (["bags", "--count", "-3"], "-3"),
        (["bags", "--count", "1000000000000"], "1000000000000"),
        (["bags", "--spoiled", "1-30", "--start", "1", "--sku", "RM-38-*"], "spoiled"),
        (["bags", "--spoiled", "three"], "three"),
        (["cards", "--size", "wide"], "wide"),
        (["bags", "--ink", "gold"], "gold"),
        (["bagz"], "bags"),
    ],
)
def test_wrong_words_get_one_clear_answer_and_no_file(
    said: Said, tmp_path: Path, words: list[str], told: str
) -> None:
    out = tmp_path / "x.pdf"
    status, text = said(*words, "--out", str(out))
    if words[1:2] == ["--spoiled"] and "1-30" in words:
        assert status in (0, 2)  # a full sheet of spoiled cells: the next sheet is used, or told
        return
    assert status == 2
    assert told in text
    assert "Traceback" not in text
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02\xff\xfe", "catalog.toml"),
        (b"[maker\n", "catalog.toml:1"),
        (b"x" * 6_000_000, "catalog.toml"),
        (b'[maker]\nname = "A"\ncity = "B"\npostcode = "1"\nstreat = "C"\n', "street"),
        (b'[sale]\nmarkets = "US"\n', "markets"),
    ],
)
def test_a_spoiled_catalog_is_told_by_line(
    said: Said, tmp_path: Path, content: bytes, told: str
) -> None:
    (tmp_path / "catalog.toml").write_bytes(content)
    status, text = said("bags", "--out", str(tmp_path / "x.pdf"), folder=tmp_path)
    assert status == 2
    assert told in text
    assert "Traceback" not in text
    assert not (tmp_path / "x.pdf").exists()


@pytest.mark.parametrize("typed", ["nan oz", "-3/8 oz", "0 g", "3/8", "inf g"])
def test_a_weight_that_is_none_is_told(said: Said, line: Path, typed: str) -> None:
    file = line / "catalog.toml"
    file.write_text(file.read_text("utf-8").replace('"3/8 oz"', f'"{typed}"', 1), "utf-8")
    status, text = said("check", folder=line)
    assert status in (1, 2)
    assert typed in text


@pytest.mark.parametrize(
    "layout",
    [
        "<piece><front>{% for a in 'x' * 99999999 %}{% endfor %}</front></piece>",
        "<piece><front><text>{{ ''.__class__ }}</text></front></piece>",
        "{% include '../../catalog.toml' %}",
        '<!DOCTYPE p [<!ENTITY a "b">]><piece><front><text>&a;</text></front></piece>',
    ],
)
def test_a_hostile_layout_prints_nothing(said: Said, line: Path, layout: str) -> None:
    (line / "layouts").mkdir()
    (line / "layouts" / "mine.xml.jinja").write_text(layout)
    out = line / "x.pdf"
    status, text = said("bags", "--layout", "mine", "--out", str(out), folder=line)
    assert status == 2
    assert "mine.xml.jinja" in text
    assert not out.exists()


def test_a_photo_that_is_a_text_file_is_told(said: Said, line: Path) -> None:
    (line / "photos" / "reedmace-delft-craw.jpg").write_text("not a picture")
    words = ("cards", "--sku", "RM-38-40-DLF", "--out", str(line / "x.pdf"))
    status, text = said(*words, folder=line)
    assert status == 2
    assert "reedmace-delft-craw.jpg" in text
    assert not (line / "x.pdf").exists()


def test_what_was_there_before_is_not_lost(said: Said, tmp_path: Path) -> None:
    out = tmp_path / "x.pdf"
    out.write_text("yesterday's")
    assert said("bags", "--sku", "nothing", "--out", str(out))[0] == 2
    assert out.read_text() == "yesterday's"
    (tmp_path / "folder").mkdir()
    status, text = said("bags", "--sku", "RM-38-*", "--out", str(tmp_path / "folder"))
    assert (status, "folder" in text) == (2, True)
    assert said("bags", "--sku", "RM-38-*", "--out", str(tmp_path / "no" / "x.pdf"))[0] == 2
    assert said("bags", "--sku", "RM-38-*", "--out", "/dev/full")[0] == 2


def test_json_is_json_in_success_and_in_failure(said: Said, tmp_path: Path) -> None:
    out = str(tmp_path / "x.pdf")
    status, text = said("bags", "--sku", "RM-38-*", "--out", out, "--json")
    assert (status, json.loads(text)["done"]) == (0, True)
    status, text = said("bags", "--sku", "XX", "--out", out, "--json")
    assert (status, json.loads(text)["done"]) == (2, False)
    status, text = said("bags", "--start", "left", "--out", out, "--json")
    assert (status, json.loads(text)["done"]) == (2, False)
    assert json.loads(said("check", "--json")[1])


@pytest.mark.parametrize("verb", sorted(VERBS))
def test_every_verb_has_help_with_an_example(said: Said, verb: str) -> None:
    status, text = said(verb, "--help")
    assert status == 0
    assert "Example" in text
    assert f"labeler {verb}" in text or "labeler --catalog" in text


@pytest.mark.siege
def test_ctrl_c_at_any_moment_leaves_no_half_file(tmp_path: Path) -> None:
    """Twelve interruptions, from before the first import to after the last page."""
    words = [sys.executable, "-m", "labeler", "--catalog", str(DEMO), "cards", "--out"]
    for tenth in range(12):
        out = tmp_path / f"{tenth}.pdf"
        child = subprocess.Popen([*words, str(out)], stderr=subprocess.PIPE, text=True)
        time.sleep(0.25 + tenth * 0.12)
        child.send_signal(signal.SIGINT)
        _, told = child.communicate(timeout=60)
        assert child.returncode in (0, 2, -signal.SIGINT, 130, 1)
        assert out.exists() == (child.returncode == 0)
        if tenth > 2:
            assert "Traceback" not in told
    assert not list(tmp_path.glob(".*part"))


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys; from labeler.cli.group import run; run(['--help']);"
        "heavy = {'numpy', 'pydantic', 'reportlab', 'PIL', 'jinja2', 'lxml', 'sqlalchemy'};"
        "assert not heavy & set(sys.modules), heavy & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)
