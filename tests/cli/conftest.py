"""The command line called in this process, a small line to spoil, and what a refusal must be."""

from __future__ import annotations

import hashlib
import re
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import NamedTuple, Protocol

import pytest

from labeler.cli.group import run

ROOT = Path(__file__).resolve().parents[2]


class CliResult(NamedTuple):
    """What a command did: its exit status, what it said on both streams."""

    status: int
    out: str
    err: str


def contents(folder: Path) -> dict[str, str]:
    """Return every file and folder under ``folder`` with a fingerprint of what it holds."""
    found = {}
    for path in sorted(folder.rglob("*")):
        name = str(path.relative_to(folder))
        if path.is_symlink():
            found[name] = f"link to {path.readlink()}"
        elif path.is_file():
            found[name] = hashlib.sha256(path.read_bytes()).hexdigest()
        else:
            found[name] = "folder"
    return found


@pytest.fixture(scope="session")
def demo() -> Path:
    """The demo's folder, which tests only read."""
    return ROOT / "demo_catalog"


@pytest.fixture
def line(tmp_path: Path) -> Path:
    """A small line of four products, the starter's, to be spoiled."""
    return Path(shutil.copytree(ROOT / "layouts" / "starter", tmp_path / "line"))


class Commands(Protocol):
    def practise(self, *words: object) -> str: ...


@pytest.fixture(scope="session")
def ready(commands: Commands, tmp_path_factory: pytest.TempPathFactory) -> Commands:
    """The command line, in processes that have loaded by then what check and bags use."""
    line, out = ROOT / "layouts" / "starter", tmp_path_factory.mktemp("ready") / "x.pdf"
    for words in (("check",), ("bags", "--trial", "--out", out)):
        commands.practise("--catalog", line, *words)
    return commands


@pytest.fixture
def run_cli(capsys: pytest.CaptureFixture[str]) -> Callable[..., CliResult]:
    """Return a function that runs the command and gives what it did."""

    def call(*words: object) -> CliResult:
        capsys.readouterr()
        status = run([str(word) for word in words])
        return CliResult(status, *capsys.readouterr())

    return call


@pytest.fixture
def refused(run_cli: Callable[..., CliResult], tmp_path: Path) -> Callable[..., str]:
    """Return a function that runs a command which must be refused as wrong input.

    One clear message that names the rule, exit status 2, and everything on the disk as it was.
    """

    def call(*words: object, rule: str, says: str | tuple[str, ...] = (), stops: int = 1) -> str:
        before = contents(tmp_path)
        did = run_cli(*words)
        assert did.status == 2, did
        assert did.out == ""
        assert "Traceback" not in did.err
        assert len(re.findall(r"^stop  ", did.err, re.MULTILINE)) == stops, did.err
        assert f"[{rule}]" in did.err, did.err
        for part in (says,) if isinstance(says, str) else says:
            assert part in did.err, did.err
        assert len(did.err) < 3_000 * stops, "a message to be read, not to be scrolled"
        assert contents(tmp_path) == before
        return did.err

    return call


@pytest.fixture
def misused(run_cli: Callable[..., CliResult], tmp_path: Path) -> Callable[..., str]:
    """Return a function that runs a command typed wrongly, which must be told in one line."""

    def call(*words: object, says: str | tuple[str, ...] = ()) -> str:
        before = contents(tmp_path)
        did = run_cli(*words)
        assert did.status == 2, did
        assert did.out == ""
        assert did.err.count("Error: ") == 1, did.err
        for part in (says,) if isinstance(says, str) else says:
            assert part in did.err, did.err
        assert contents(tmp_path) == before
        return did.err

    return call


@pytest.fixture
def spoil(line: Path) -> Callable[[Mapping[str, bytes | str | None]], Path]:
    """Return a function that writes files into the line; None makes a folder of that name."""

    def write(files: Mapping[str, bytes | str | None]) -> Path:
        for name, content in files.items():
            path = line / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if content is None:
                path.unlink(missing_ok=True)
                path.mkdir(exist_ok=True)
            else:
                path.write_bytes(content.encode() if isinstance(content, str) else content)
        return line

    return write


@pytest.fixture
def retold(line: Path) -> Callable[[str, str], Path]:
    """Return a function that puts one text of the line's catalog in place of another."""

    def replace(old: str, new: str) -> Path:
        file = line / "catalog.toml"
        text = file.read_text("utf-8")
        assert text.count(old) >= 1, f"the starter has no {old!r} any more"
        file.write_text(text.replace(old, new, 1), "utf-8")
        return line

    return replace
