"""The wheel that makers install works away from the checkout, and holds what the licences ask.

An editable install reads layouts and fonts from the checkout, so that it can't show what the
wheel lacks.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from email.parser import Parser
from pathlib import Path

import pytest

import labeler
from labeler.cli.group import run

ROOT = Path(__file__).resolve().parents[2]

pytestmark = pytest.mark.siege


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from a copy of what git knows, so that nothing untracked slips in."""
    copy = tmp_path_factory.mktemp("checkout")
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True
    ).stdout.split(b"\0")
    for name in filter(None, map(os.fsdecode, listed)):
        if (ROOT / name).is_file():
            (copy / name).parent.mkdir(parents=True, exist_ok=True)
            (copy / name).write_bytes((ROOT / name).read_bytes())
    out = tmp_path_factory.mktemp("wheel")
    did = subprocess.run(
        [sys.executable, "-m", "pip", "wheel", str(copy), "--no-deps", "-q", "-w", str(out)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert did.returncode == 0, did.stderr
    (made,) = out.glob("labeler-*.whl")
    return made


@pytest.fixture(scope="module")
def names(wheel: Path) -> set[str]:
    """Everything that is in the wheel."""
    with zipfile.ZipFile(wheel) as archive:
        return set(archive.namelist())


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The command of a fresh environment that has the wheel, and borrows the libraries alone."""
    folder = tmp_path_factory.mktemp("fresh") / "venv"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(folder)], check=True)
    python = folder / "bin" / "python"
    purelib = subprocess.run(
        [str(python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"],
        capture_output=True, text=True, check=True,
    ).stdout.strip()  # fmt: skip
    subprocess.run(
        [sys.executable, "-m", "pip", "--python", str(python), "install", "-q", "--no-deps",
         "--no-compile", "--no-index", str(wheel)],
        check=True,
    )  # fmt: skip
    borrowed = [path for path in sys.path if path.endswith("site-packages")]
    (Path(purelib) / "zz-borrowed.pth").write_text("\n".join(borrowed) + "\n")
    return folder / "bin" / "labeler"


@pytest.fixture(scope="module")
def line(installed: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder to print from, which the installed command has made; what is printed goes beside."""
    folder = tmp_path_factory.mktemp("bench")
    did = call(installed, folder, "new", "my_line")
    assert did.returncode == 0, did.stderr
    return folder / "my_line"


def call(program: Path, folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run an installed program far from the checkout, with nothing of it on the path."""
    clean = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "LABELER"))}
    return subprocess.run(
        [str(program), *words], cwd=folder, env=clean, capture_output=True, text=True,
        check=False, timeout=600,
    )  # fmt: skip


ONE_AFTER_ANOTHER = """
import json, sys
import labeler
from labeler.cli.group import run

print(labeler.__file__)
for words in json.loads(sys.argv[1]):
    if status := run(words):
        sys.exit(f"{words}: {status}")
"""


def test_layouts_fonts_data_and_licences_are_in_the_wheel(names: set[str]) -> None:
    inside = {name.partition("/")[2] for name in names if name.startswith("labeler/")}
    for folder in ("layouts", "fonts"):
        for path in (ROOT / folder).rglob("*"):
            if path.is_file() and "__pycache__" not in path.parts:
                assert f"shipped/{path.relative_to(ROOT).as_posix()}" in inside
    for path in (ROOT / "labeler").rglob("*"):
        if path.is_file() and path.suffix in {".toml", ".json", ".sql", ".typed", ".jinja"}:
            assert path.relative_to(ROOT / "labeler").as_posix() in inside
    licences = {name.rpartition("/")[2] for name in names if "dist-info/licenses/" in name}
    assert {"LICENSE", *(path.name for path in (ROOT / "fonts").glob("*-OFL.txt"))} <= licences


def test_nothing_but_the_program_is_in_the_wheel(names: set[str]) -> None:
    assert {name.partition("/")[0].partition("-")[0] for name in names} == {"labeler"}
    assert not [name for name in names if "__pycache__" in name or "/tests/" in name]


def test_the_wheel_says_what_it_is(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        (told,) = (name for name in archive.namelist() if name.endswith("/METADATA"))
        fields = Parser().parsestr(archive.read(told).decode())
    assert (fields["Name"], fields["License-Expression"]) == ("labeler", "MIT")
    assert fields["Requires-Python"] == ">=3.11"
    assert fields["Summary"]


ONE_LOT = ("bags", "--sku", "FST-38-40-MAR", "--lot", "A1", "--out")


def test_a_maker_prints_and_checks_away_from_the_checkout_and_it_is_the_wheel_that_answers(
    installed: Path, line: Path, tmp_path: Path
) -> None:
    jobs = (
        ("check",),
        ("bags", "--out", "bags.pdf"),
        ("cards", "--out", "cards.pdf"),
        ("align", "--printer", "desk", "--out", "align.pdf"),
        ("catalog", "--for", "dealer", "--out", "book.pdf"),
        ("markets",),
        (*ONE_LOT, "lot.pdf"),
    )
    words = json.dumps([("--catalog", str(line), *job) for job in jobs])
    did = call(installed.with_name("python"), tmp_path, "-c", ONE_AFTER_ANOTHER, words)
    assert did.returncode == 0, (did.stdout, did.stderr)
    assert "Traceback" not in did.stderr
    assert did.stdout.startswith(str(installed.parent.parent))
    assert str(ROOT) not in did.stdout
    for name in ("bags.pdf", "cards.pdf", "align.pdf", "book.pdf"):
        assert (tmp_path / name).read_bytes().startswith(b"%PDF-")
    assert str(ROOT) not in (line / "catalog.toml").read_text("utf-8")
    # the same labels come out as in the checkout, where this test stands
    assert Path(labeler.__file__).is_relative_to(ROOT)
    assert run(["--catalog", str(line), *ONE_LOT, str(tmp_path / "checkout.pdf")]) == 0
    assert (tmp_path / "lot.pdf").read_bytes() == (tmp_path / "checkout.pdf").read_bytes()


def test_what_the_maker_types_wrongly_is_told_by_the_wheel_too(
    installed: Path, line: Path, tmp_path: Path
) -> None:
    words = ("--catalog", str(line), "bags", "--sheet", "letter-3x11", "--out", "x.pdf")
    did = call(installed, tmp_path, *words)
    assert (did.returncode, "letter-3x10" in did.stderr) == (2, True)
