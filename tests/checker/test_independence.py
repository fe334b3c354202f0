"""The checker shares no code with what it checks, and so catches its mistakes."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from labeler.checker.judge import check_pdf

ROOMS = Path(__file__).parents[2] / "labeler"

MAY_IMPORT = {
    "checker": {
        "units",
        "findings",
        "files",
        "tomlfile",
        "geometry",
        "vector",
        "catalog",
        "codes",
        "disclosures",
        "type",
    },
    "disclosures": {"units", "findings", "files", "tomlfile", "catalog"},
}
"""The rooms above each in the floor plan."""


def imported(file: Path) -> set[str]:
    """Return the rooms that a module imports."""
    rooms = set()
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        names: list[str] = []
        if isinstance(node, ast.ImportFrom):
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        rooms |= {name.split(".")[1] for name in names if name.startswith("labeler.")}
    return rooms


@pytest.mark.parametrize("room", list(MAY_IMPORT))
def test_a_room_imports_only_from_rooms_above_it(room: str) -> None:
    files = list((ROOMS / room).rglob("*.py"))
    assert len(files) > 5
    for file in files:
        strange = imported(file) - MAY_IMPORT[room] - {room}
        assert not strange, f"{file.name} imports {strange}"


@pytest.mark.siege
def test_checking_loads_nothing_that_lays_out_or_prints() -> None:
    code = (
        "import sys, labeler.checker.judge, labeler.checker.proof, labeler.checker.worker\n"
        "print([m for m in sys.modules if m.startswith('labeler.')"
        " and m.split('.')[1] in ('drawing', 'layout', 'press', 'ledger', 'book', 'app', 'cli')])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "[]"


@pytest.fixture
def printed_with(workshop: Any, bases: dict[str, Any], tmp_path: Path) -> Callable[[str], Any]:
    """Print a good file anew, and check it; for use with a layout that was made to err."""

    def run(base: str) -> Any:
        folder = bases[base].folder
        wrong = workshop.printed(folder, tmp_path / "erred.pdf", **workshop.wishes[base])
        report = check_pdf(wrong.pdf, folder, day=workshop.day)
        return {each.rule for each in report.findings if each.grade.value != "note"}

    return run


@pytest.mark.daily("strip-a statement forgotten-statement-missing")
@pytest.mark.parametrize(
    ("base", "error", "rule"),
    [
        ("witness", "sizes 5 % under", "statement-small"),
        ("witness", "sizes 1.5 % under", "statement-small"),
        ("witness", "no sign", "sign-missing"),
        ("strip", "type 5 pt too low", "text-unsafe"),
        ("strip", "codes 25 % under", "code-module-small"),
        ("strip", "a statement forgotten", "statement-missing"),
    ],
)
def test_a_bug_in_the_layout_is_caught(
    base: str,
    error: str,
    rule: str,
    bases: dict[str, Any],
    printed_with: Callable[[str], Any],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert bases[base], "the good print must be made before the layout errs: others look at it too"
    plant(error, monkeypatch)
    assert rule in printed_with(base)


def plant(error: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Make the layout err, and the press with it."""
    from dataclasses import replace

    from labeler.layout import text_blocks as disclosure
    from labeler.press.pdf import content as pdf_content

    if error.startswith("sizes"):
        least = disclosure.Disclosure._least
        by = 0.95 if "5 %" in error and "1.5" not in error else 0.985
        monkeypatch.setattr(
            disclosure.Disclosure, "_least", lambda self, form: least(self, form) * by
        )
    elif error == "no sign":
        monkeypatch.setattr(disclosure, "warning_sign", lambda *given: iter(()))
    elif error.startswith("type"):
        draw = pdf_content.Content._glyphs
        monkeypatch.setattr(
            pdf_content.Content, "_glyphs", lambda self, run: draw(self, replace(run, y=run.y + 5))
        )
    elif error.startswith("codes"):
        code = pdf_content.Content._code
        monkeypatch.setattr(
            pdf_content.Content,
            "_code",
            lambda self, mark: code(self, replace(mark, module=mark.module * 0.75)),
        )
    else:
        taken = disclosure._take
        monkeypatch.setattr(disclosure, "_take", lambda said, kinds: taken(said, kinds)[:-1])
