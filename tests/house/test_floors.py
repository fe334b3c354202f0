"""Rooms import one way only, each foreign library comes in by its own door, and files stay small.

Every rule here is held against a planted trespass, since a rule that can't fail is decoration.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "labeler"
FLOORS = (
    "units", "findings", "shelf", "typefaces", "catalog", "codes", "disclosures", "layout",
    "press", "checker", "ledger", "book", "bench", "cli",
)  # fmt: skip
NEVER = {
    "checker": {"layout", "press"},
    "ledger": {"press", "checker"},
    "layout": {"press"},
    "disclosures": {"layout", "press"},
}
"""What a room must not know even where its floor would let it."""
DOORS = {
    "click": {"cli"},
    "qrcode": {"codes"},
    "openpyxl": {"catalog", "book"},
    "sqlalchemy": {"ledger"},
    "sqlite3": {"ledger"},
    "jinja2": {"layout", "book"},
    "lxml": {"layout"},
    "zxingcpp": {"checker"},
    "uharfbuzz": {"typefaces", "checker", "press"},
}
"""The rooms through which a library comes in."""
MOST_LINES = 450


def room_of(file: Path) -> str:
    """Return the room a module belongs to."""
    inside = file.relative_to(PACKAGE)
    return inside.parts[0].removesuffix(".py")


def imports(tree: ast.AST) -> Iterator[str]:
    """Yield every module imported anywhere in a file, inside functions too."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def trespasses(room: str, source: str) -> set[str]:
    """Return what a module of ``room`` imports and must not."""
    found: set[str] = set()
    for name in imports(ast.parse(source)):
        parts = name.split(".")
        if parts[0] == "labeler" and len(parts) > 1 and parts[1] in FLOORS:
            other = parts[1]
            if FLOORS.index(other) > FLOORS.index(room) or other in NEVER.get(room, set()):
                found.add(f"{room} -> {other}")
        elif parts[0] in DOORS and room not in DOORS[parts[0]]:
            found.add(f"{room} -> {parts[0]}")
    return found


def modules() -> list[Path]:
    """Return every module that belongs to a room."""
    return [f for f in PACKAGE.rglob("*.py") if room_of(f) in FLOORS]


@pytest.mark.parametrize("file", modules(), ids=lambda f: str(f.relative_to(PACKAGE)))
def test_a_room_imports_only_from_rooms_above_it(file: Path) -> None:
    assert not trespasses(room_of(file), file.read_text("utf-8"))


@pytest.mark.parametrize(
    ("room", "source"),
    [
        ("layout", "from labeler.press.sheet import Sheet"),
        ("checker", "def f():\n    from labeler.layout import marks"),
        ("checker", "import labeler.press.pdf"),
        ("units", "from labeler.catalog.model import Product"),
        ("bench", "import click"),
        ("cli", "import sqlalchemy"),
        ("codes", "from labeler import layout"),
    ],
)
def test_a_planted_trespass_is_caught(room: str, source: str) -> None:
    assert trespasses(room, source)


def test_nothing_is_imported_from_the_package_itself_but_its_version() -> None:
    for file in modules():
        tree = ast.parse(file.read_text("utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and node.module == "labeler":
                names = {alias.name for alias in node.names}
                assert names <= {*FLOORS, "__version__"}, file


def loud(source: str) -> bool:
    """Tell whether a module prints or leaves the program."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            if called in {"print", "exit", "quit", "sys.exit", "os._exit"}:
                return True
    return False


def test_only_the_command_line_prints_or_leaves() -> None:
    loud_ones = {
        str(f.relative_to(PACKAGE)) for f in modules()
        if room_of(f) != "cli" and loud(f.read_text("utf-8"))
    }  # fmt: skip
    assert loud_ones <= {"catalog/schema.py", "checker/apart.py"}  # run as programs of their own
    assert loud("def f():\n    print('x')")
    assert loud("import sys\nsys.exit(1)")


def test_files_stay_small_and_are_named_for_what_they_know() -> None:
    for file in modules():
        lines = file.read_text("utf-8").count("\n")
        assert lines <= MOST_LINES, f"{file}: {lines} lines"
        assert file.stem not in {"utils", "helpers", "common", "misc", "base", "core", "manager"}
