"""The ends of the wire: closed pipes, full and missing outputs, letters that are none."""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import pytest

from labeler.cli.group import run

Call = Callable[..., "subprocess.CompletedProcess[bytes]"]
Cli = Callable[..., tuple[int, str, str]]

LABELER = [sys.executable, "-m", "labeler"]


class Commands(Protocol):
    def run(self, *words: object, out: str = "", err: str = "") -> tuple[int, str, str]: ...


@pytest.fixture
def called(line: Path) -> Call:
    """Return a function that calls the program in a process of its own, on the starter's line."""

    def call(*words: str | bytes | Path, **how: object) -> subprocess.CompletedProcess[bytes]:
        plain = {name: each for name, each in os.environ.items() if name != "PYTHONUNBUFFERED"}
        how = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "env": plain} | how
        whole = [*LABELER, "--catalog", str(line), *words]
        return subprocess.run(whole, check=False, timeout=600, **how)  # type: ignore[call-overload,no-any-return]

    return call


@pytest.mark.parametrize(
    ("words", "status"),
    [
        (("check",), 0),
        (("check", "--json"), 0),
        (("--help",), 0),
        (("layouts", "--specimen", "FST-38-40-MAR", "--out", "{out}"), 0),
        (("bags", "--sku", "none", "--out", "{out}", "--json"), 2),
        (("bags", "--json"), 2),
    ],
    ids=lambda part: " ".join(part)[:24] if isinstance(part, tuple) else None,
)
def test_a_reader_that_leaves_early_is_no_fault(
    ready: Commands, line: Path, tmp_path: Path, words: tuple[str, ...], status: int
) -> None:
    """As in `labeler check | head -0`: no word of complaint, and the status of the work itself."""
    out = tmp_path / "x.pdf"
    typed = [word.replace("{out}", str(out)) for word in words]
    assert ready.run("--catalog", line, *typed, out="|") == (status, "", "")
    assert out.exists() == ("{out}" in words and status == 0)


@pytest.mark.siege
def test_a_reader_of_errors_that_leaves_early_changes_no_status(
    ready: Commands, line: Path
) -> None:
    assert ready.run("--catalog", line / "none", "check", err="|") == (2, "", "")


@pytest.mark.daily("--help")
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
@pytest.mark.parametrize(
    "words", [("check",), ("check", "--json"), ("--help",), ("markets",)], ids=" ".join
)
def test_a_full_disk_behind_the_output_is_told(
    ready: Commands, line: Path, words: tuple[str, ...]
) -> None:
    status, _, said = ready.run("--catalog", line, *words, out="/dev/full")
    assert status == 2
    assert "no room left on the disk" in said
    assert "Traceback" not in said
    assert said.count("stop  ") == 1


@pytest.mark.siege
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_refusal_that_can_t_be_told_keeps_its_status(
    ready: Commands, line: Path, tmp_path: Path
) -> None:
    words = ("bags", "--sku", "none", "--out", tmp_path / "x", "--json")
    status, _, said = ready.run("--catalog", line, *words, out="/dev/full")
    assert status == 2
    assert "Traceback" not in said


def test_a_whole_program_ends_well_too_when_nobody_reads_it(called: Call) -> None:
    """From Python's own start to its end, which writes what is left of the answer."""
    reader, writer = os.pipe()
    os.close(reader)
    did = called("check", stdout=writer)
    os.close(writer)
    assert (did.returncode, did.stderr) == (0, b"")
    with Path("/dev/full").open("wb") as full:
        did = called("check", stdout=full)
    assert did.returncode == 2
    assert did.stderr.count(b"stop  ") == 1
    assert b"Traceback" not in did.stderr


@pytest.mark.parametrize(
    ("closed", "status"),
    [
        ("1", 0),
        ("2", 0),
        ("12", 0),
        ("012", 0),
    ],
)
def test_outputs_that_were_closed_are_done_without(line: Path, closed: str, status: int) -> None:
    shut = " ".join(f"{number}>&-" for number in closed)
    did = subprocess.run(
        ["/bin/sh", "-c", f'exec "$@" {shut}', "sh", *LABELER, "--catalog", str(line), "check"],
        check=False, timeout=600, capture_output=True,
    )  # fmt: skip
    assert did.returncode == status
    assert b"Traceback" not in did.stdout + did.stderr


@pytest.mark.parametrize("words", [("check",), ("order",)], ids=" ".join)
def test_a_pipe_that_nobody_writes_into_is_not_waited_for(
    line: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert run(["--catalog", str(line), *words, str(tmp_path / "pipe")]) == 2
    assert "a pipe" in capsys.readouterr().err


BAD = b"half \xe9"
"""An accent as Windows writes it: no UTF-8."""


@pytest.mark.parametrize(
    "words",
    [
        (b"bags", b"--sku", BAD), (b"bags", b"--sheet", BAD), (b"bags", b"--layout", BAD),
        (b"bags", b"--printer", BAD), (b"bags", b"--lot", BAD), (b"bags", b"--spoiled", BAD),
        (b"bags", b"--count", BAD), (b"bags", b"--start", BAD), (b"bags", b"--ink", BAD),
        (b"bags", b"--" + BAD), (b"cards", b"--size", BAD), (BAD,),
        (b"align", b"--printer", BAD, b"--left", b"16mm", b"--top", b"16mm"),
        (b"order", BAD), (b"trace", BAD), (b"reprint", BAD, b"--count", b"1"),
        (b"catalog", b"--for", b"dealer", b"--dealer", BAD),
        (b"markets", b"--market", BAD), (b"check", b"--on", BAD), (b"lot", b"assign", BAD),
    ],
    ids=lambda words: b" ".join(words).decode("latin-1")[:30],
)  # fmt: skip
@pytest.mark.parametrize("as_json", [False, True], ids=["told", "as JSON"])
def test_bytes_that_are_no_letters_get_an_answer_and_no_fright(
    line: Path, tmp_path: Path, words: tuple[bytes, ...], as_json: bool
) -> None:
    """As Python hands such bytes on: half letters (PEP 383), which no encoding can write."""
    out = ["--out", str(tmp_path / "x.pdf")]
    typed = [word.decode("utf-8", "surrogateescape") for word in words]
    typed += out if typed[0] in ("bags", "cards", "catalog", "reprint") else []
    spoken, complained = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(spoken), contextlib.redirect_stderr(complained):
        status = run(["--catalog", str(line), *typed, *(["--json"] if as_json else [])])
    assert status == 2
    if as_json:
        assert json.loads(spoken.getvalue())["done"] is False
    else:
        assert spoken.getvalue() == ""
        assert complained.getvalue().strip()
    assert not (tmp_path / "x.pdf").exists()


@pytest.mark.siege
@pytest.mark.skipif(sys.platform == "win32", reason="names are text there")
def test_a_file_may_have_such_a_name_all_the_same(
    ready: Commands, called: Call, tmp_path: Path, line: Path
) -> None:
    out = os.fsencode(tmp_path) + b"/\xe9.pdf"
    assert called("bags", "--out", out).returncode == 0
    status, said, _ = ready.run("--catalog", line, "bags", "--out", os.fsdecode(out), "--json")
    assert status == 0
    assert json.loads(said)["done"] is True
    assert Path(os.fsdecode(out)).read_bytes().startswith(b"%PDF-")


_SEVERAL = """
import json, os, sys
from labeler.cli import main

for words in json.loads(sys.argv[1]):
    sys.argv = ["labeler", *words]
    try:
        main()
    except SystemExit as left:
        sys.stdout.flush()
        os.write(1, b"\\0%d\\0" % left.code)
"""
"""Carries out several commands in one Python, and says the exit status of each between zeros."""


@pytest.mark.parametrize(
    "setting",
    [
        {"PYTHONIOENCODING": "cp1252"},
        {"PYTHONIOENCODING": "ascii"},
        {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    ],
    ids=["Windows", "ASCII", "C"],
)
def test_a_terminal_of_few_letters_shows_what_it_can(line: Path, setting: dict[str, str]) -> None:
    file = line / "catalog.toml"
    text = file.read_text("utf-8").replace('name = "First Pattern"', 'name = "Köder ⅜ № 1 鯰"')
    file.write_text(text, "utf-8")
    several = [("markets",), ("check",), ("check", "--json"), ("lot", "--help")]
    words = json.dumps([("--catalog", str(line), *words) for words in several])
    did = subprocess.run(
        [sys.executable, "-c", _SEVERAL, words], capture_output=True, timeout=600,
        env=os.environ | setting, check=True,
    )  # fmt: skip
    assert b"Traceback" not in did.stderr
    said = did.stdout.decode(setting.get("PYTHONIOENCODING", "utf-8"), "replace").split("\0")
    assert said[1::2] == ["0"] * len(several)
    assert json.loads(said[4])["products"] == 4


@pytest.mark.parametrize(
    "content",
    [
        '"\\u001b[31mred" = 1\n',
        '[maker]\nname = "\\u001b]0;owned\\u0007"\n',
        '[heads."\\u001b[2J"]\nname = "x"\n',
        "a = \x1b[31m\n",
    ],
)
def test_a_stranger_s_catalog_can_t_steer_the_terminal(
    run_cli: Cli, line: Path, content: str
) -> None:
    file = line / "catalog.toml"
    file.write_text(content + file.read_text("utf-8"), "utf-8")
    for words in (("check",), ("bags", "--out", line / "x.pdf")):
        _, out, err = run_cli("--catalog", line, *words)
        shown = out + err
        assert shown
        assert not {letter for letter in shown if ord(letter) < 32 and letter != "\n"}


HALF = os.fsdecode(BAD)
ODD = {
    "bytes": HALF, "long": "x" * 5_000, "long name": "x" * 300 + ".pdf", "dots": "..",
    "blank": "", "space": " ", "escape": "\x1b[2J", "first day": "0001-01-01",
    "last day": "9999-12-31", "days": "0001-01-01..9999-12-31", "no day": "9999-13-99",
    "many": "9" * 400, "minus": "-1", "half": "1e999", "jigs": "\U0001f3a3",
}  # fmt: skip
"""What may be typed, or stand in a script, where something else is meant."""

_OUT = "{out}"
PLACES = [
    ("trace", "{}"), ("trace", "HK", "--csv", "{}"), ("lot", "list", "{}"),
    ("lot", "list", "--since", "{}"), ("lot", "list", "--until", "{}"),
    ("lot", "list", "--sku", "{}"),
    ("lot", "journal", "{}"), ("lot", "journal", "--since", "{}"), ("lot", "backup", "{}"),
    ("lot", "assign", "FST-38-40-MAR", "--count", "3", "--made", "{}"), ("lot", "weigh", "{}"),
    ("lot", "assign", "FST-38-40-MAR", "--count", "{}"), ("lot", "assign", "{}", "--count", "3"),
    ("lot", "assign", "FST-38-40-MAR", "--count", "3", "--note", "{}"),
    ("lot", "assign", "FST-38-40-MAR", "--count", "3", "--key", "{}"),
    ("lot", "assign", "FST-38-40-MAR", "--count", "3", "--material", "hook={}"),
    ("lot", "assign", "--from", "{}"), ("lot", "add", "263290013", "{}"), ("lot", "lost", "{}"),
    ("lot", "void", "263290013", "--why", "{}"), ("lot", "card", "263290013", "--out", "{}"),
    ("ship", "263290013=1", "--to", "{}"), ("ship", "{}=1", "--to", "x"),
    ("ship", "263290013=1", "--to", "x", "--on", "{}"), ("order", "{}"), ("check", "{}"),
    ("check", "--on", "{}"), ("markets", "--market", "{}"), ("markets", "--on", "{}"),
    ("bags", "--out", "{}"), ("bags", "--sku", "{}", "--out", _OUT), ("pages", "--out", "{}"),
    ("bags", "--lot", "{}", "--out", _OUT), ("bags", "--start", "{}", "--out", _OUT),
    ("reprint", "{}", "--count", "1", "--out", _OUT), ("help", "{}"), ("--catalog", "{}", "check"),
]  # fmt: skip


_OF_TIME = ("last day", "days")
"""Of those, what a time zone may bear on."""


@pytest.mark.siege
@pytest.mark.parametrize(
    ("odd", "zone"),
    [pytest.param(odd, "UTC", id=name) for name, odd in ODD.items()]
    + [
        pytest.param(ODD[name], zone, id=f"{name}-{of}")
        for name in _OF_TIME
        for of, zone in (("99", "UTC+99"), ("bytes", "\udce9"))
    ],
)
def test_odd_words_end_in_a_sentence(
    line: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str], odd: str, zone: str,
) -> None:  # fmt: skip
    """Bytes that are no letters, the first day and the last, names too long, any time zone."""
    (line / "catalog.toml").write_text(
        re.sub(r"(?m)^zone = .*$", "", (line / "catalog.toml").read_text("utf-8")), "utf-8"
    )
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    run(["--catalog", str(line), "lot", "assign", "FST-38-40-MAR", "--count", "12"])
    for place in PLACES:
        words = [word.replace("{}", odd).replace(_OUT, str(tmp_path / "o.pdf")) for word in place]
        capsys.readouterr()
        for stream in (sys.stdout, sys.stderr):  # as the program does when it begins
            assert isinstance(stream, io.TextIOWrapper)
            stream.reconfigure(errors="backslashreplace")
        status = run(["--catalog", str(line), *words])
        said = capsys.readouterr()
        assert status in (0, 1, 2), words
        assert "Traceback" not in said.err, words
        assert status == 0 or said.err or said.out, words
    monkeypatch.undo()
    time.tzset()
