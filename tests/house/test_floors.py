"""Rooms import one way only, and each foreign library comes in by its own door.

Imports inside functions count like those at the top. Every rule is held against planted
trespasses, since a rule that can't fail is decoration.
"""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterable, Iterator
from functools import cache
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from tests.house.modules import circles, imports_of, last_name, nodes, parsed, read, statements

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "labeler"

FLOORS = (
    "units", "findings", "files", "tomlfile", "geometry", "marks", "memory", "vector", "catalog",
    "codes", "disclosures", "type", "drawing", "layout", "press", "checker", "ledger", "book",
    "app", "desk", "cli",
)  # fmt: skip
"""The rooms from the ground up; each may look down, none up."""
NEVER = {
    "units": {"findings"},
    "findings": {"units"},
    "layout": {"press", "ledger"},
    "disclosures": {"layout", "press"},
    "checker": {"drawing", "layout", "press"},
    "ledger": {"layout", "press", "checker"},
    "book": {"checker", "ledger"},
}
"""What a room must not know even where its floor would let it: the checker must not share the
press's mistakes."""
DOORS = {
    "click": ("cli/",),
    "qrcode": ("codes/qr.py",),
    "reportlab": ("press/pdf/fonts.py", "checker/proof.py"),
    "starlette": ("desk/",),
    "anyio": ("desk/pages/work.py",),
    "uvicorn": ("desk/serve.py",),
    "jinja2": ("layout/template.py", "book/site.py", "checker/rules/words.py", "desk/page.py"),
    "markupsafe": ("layout/template.py", "book/site.py"),
    "lxml": ("layout/markup.py", "vector.py"),
    "python_calamine": ("catalog/spreadsheet/",),
    "openpyxl": ("catalog/spreadsheet/", "book/order_sheet.py", "book/order.py"),
    "PIL": (
        "drawing/photos.py",
        "drawing/cutout.py",
        "drawing/jig_photos.py",
        "drawing/recipes.py",
        "vector.py",
        "press/pdf/content.py",
        "press/pdf/document.py",
        "checker/compare.py",
        "checker/page/rendering.py",
    ),
    "pillow_heif": ("drawing/photos.py",),
    "pypdf": ("checker/", "book/order.py"),
    "pypdfium2": ("checker/page/rendering.py", "vector.py"),
    "resvg_py": ("vector.py",),
    "zxingcpp": ("checker/page/codes.py",),
    "uharfbuzz": ("type/faces.py", "checker/pdf/outlines.py"),
    "numpy": (
        "drawing/photos.py",
        "drawing/cutout.py",
        "drawing/jig_photos.py",
        "drawing/recipes.py",
        "checker/",
    ),
    "pydantic": (
        "tomlfile.py",
        "catalog/",
        "disclosures/",
        "press/",
        "checker/rulebook.py",
        "app/",
    ),
    "pydantic_core": ("tomlfile.py", "catalog/"),
    "tomlkit": (
        "catalog/edit.py",
        "catalog/prices.py",
        "press/printers.py",
        "type/styles.py",
        "app/take_in.py",
    ),
    "tree_sitter": ("tomlfile.py",),
    "tree_sitter_toml": ("tomlfile.py",),
    "sqlalchemy": ("ledger/",),
    "typing_extensions": ("layout/",),
    "sqlite3": ("ledger/",),
    "subprocess": (
        "checker/process.py",
        "checker/worker.py",
        "vector.py",
        "desk/work.py",
        "desk/spool.py",
    ),
    "pickle": ("checker/process.py", "checker/answering.py"),
    "socket": ("desk/serve.py",),
    "http": (),
    "urllib.request": (),
    "ftplib": (),
    "smtplib": (),
}
"""Through which files a library comes in; none means that nobody may have it."""


def place(file: Path) -> str:
    """Return a module's path as the tables above write it."""
    return file.relative_to(PACKAGE).as_posix()


def room_of(where: str) -> str:
    """Return the room that a module's path belongs to."""
    return where.partition("/")[0].removesuffix(".py")


@cache
def imports(source: str) -> tuple[str, ...]:
    """Return the full name of everything imported anywhere in a file; relative ones with dots."""
    whole = "import_module" in source
    return tuple(_imports(nodes(source) if whole else statements(parsed(source))))


def _imports(within: Iterable[ast.AST]) -> Iterator[str]:
    for node in within:
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            start = "." * node.level + (node.module or "")
            yield from (f"{start}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Call) and last_name(node.func) == "import_module":
            yield ast.unparse(node.args[0]).lstrip("f").strip("'\"")


def trespasses(where: str, source: str) -> set[str]:
    """Return what the module at ``where`` imports and must not."""
    found = set()
    for name in imports(source):
        parts = name.split(".")
        if name.startswith("."):
            found.add(f"{where} -> {name}, which is relative")
        elif parts[0] == "labeler":
            found |= _between_rooms(where, parts)
        elif (door := _door(name)) is not None:
            if not where.startswith(DOORS[door]) and not where.startswith(tuple(DOORS[door])):
                found.add(f"{where} -> {door}")
        elif parts[0] not in sys.stdlib_module_names:
            found.add(f"{where} -> {parts[0]}, which has no door")
    return found


def _door(name: str) -> str | None:
    return next((door for door in DOORS if name == door or name.startswith(f"{door}.")), None)


def _between_rooms(where: str, parts: list[str]) -> set[str]:
    room, other = room_of(where), parts[1] if len(parts) > 1 else ""
    if other == "__version__" and room in ("app", "cli"):
        return set()
    if other not in FLOORS:
        return {f"{where} -> labeler itself"}
    if FLOORS.index(other) > FLOORS.index(room) or other in NEVER.get(room, set()):
        return {f"{where} -> {other}"}
    return set()


def modules() -> list[Path]:
    """Return every module but the package's two doorsteps."""
    steps = {PACKAGE / "__init__.py", PACKAGE / "__main__.py"}
    return sorted(set(PACKAGE.rglob("*.py")) - steps)


def test_every_room_stands_in_the_floor_plan() -> None:
    """A room that nobody drew would be held to nothing."""
    assert {room_of(place(file)) for file in modules()} <= set(FLOORS)


@pytest.mark.parametrize("room", FLOORS)
def test_a_room_imports_only_what_it_may(room: str) -> None:
    found: set[str] = set()
    for file in modules():
        if room_of(place(file)) == room:
            found |= trespasses(place(file), file.read_text("utf-8"))
    assert found == set()


FACES = {"ledger": 14, "layout": 9, "app": 31, "catalog": 11, "checker": 9}
"""Rooms whose public face is wider than eight modules: the ledger answers many kinds of question,
every job of the app is public, the layout hands on what a print keeps of its marks, and the catalog
can be read, its prices written, and its photos told by their names. The checker's processes are
begun before what they read is known."""


def public_modules(room: str) -> tuple[str, ...]:
    """Return the modules of a room that others may import, as its ``__init__`` names them."""
    for node in ast.parse((PACKAGE / room / "__init__.py").read_text("utf-8")).body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            return tuple(ast.literal_eval(node.value))
    return ()


def hidden_from_others(where: str, source: str) -> set[str]:
    """Return the modules of other rooms that a module imports although they are not public."""
    found = set()
    for name in imports(source):
        parts = name.split(".")
        if parts[0] != "labeler" or len(parts) < 3 or parts[1] == room_of(where):
            continue
        if (PACKAGE / parts[1]).is_dir() and parts[2] not in public_modules(parts[1]):
            found.add(f"{where} -> {name}")
    return found


ROOMS = [path.name for path in sorted(PACKAGE.iterdir()) if (path / "__init__.py").is_file()]


@pytest.mark.parametrize("room", [room for room in ROOMS if room != "cli"])
def test_a_room_names_its_public_modules_and_they_are_few(room: str) -> None:
    public = public_modules(room)
    assert 3 <= len(public) <= FACES.get(room, 8)
    for name in public:
        assert (PACKAGE / room / f"{name}.py").is_file() or (PACKAGE / room / name).is_dir()


def test_other_rooms_import_only_what_a_room_makes_public() -> None:
    found: set[str] = set()
    for file in modules():
        found |= hidden_from_others(place(file), file.read_text("utf-8"))
    assert found == set()


def test_an_import_past_the_public_face_is_caught() -> None:
    assert hidden_from_others("book/make.py", "from labeler.layout.markup import Node")
    assert hidden_from_others("app/lots.py", "def f():\n    from labeler.ledger import schema")
    assert not hidden_from_others("app/lots.py", "from labeler.ledger.lots import Lot")
    assert not hidden_from_others("layout/boxes.py", "from labeler.layout.markup import Node")


def test_no_module_leads_back_to_itself() -> None:
    """Imports within functions and for the type checker count too."""
    house = read(ROOT)
    found = imports_of(house)
    every = {name: found.top[name] | found.deferred[name] | found.typing[name] for name in house}
    assert circles(every) == []


@pytest.mark.parametrize(
    ("where", "source"),
    [
        ("layout/boxes.py", "from labeler.press.sheet import Sheet"),
        ("layout/boxes.py", "from labeler import press"),
        ("layout/boxes.py", "def f():\n    import labeler.press.pdf"),
        ("checker/judge.py", "def f():\n    from labeler.layout import marks"),
        ("checker/judge.py", "import labeler.press.pdf as pdf"),
        ("checker/judge.py", "if TYPE_CHECKING:\n    from labeler.press.sheet import Sheet"),
        ("checker/judge.py", "import importlib\nimportlib.import_module('labeler.press.pdf')"),
        ("checker/judge.py", "from importlib import import_module\nimport_module('labeler.press')"),
        ("units.py", "from labeler.catalog.model import Product"),
        ("findings.py", "from labeler.units import Length"),
        ("disclosures/needed.py", "from labeler.layout.marks import Piece"),
        ("ledger/lots.py", "from labeler.press.pdf import write_pdf"),
        ("app/book.py", "from labeler.cli import words"),
        ("codes/qr.py", "from labeler import layout"),
        ("codes/qr.py", "from . import retail_bars"),
        ("codes/qr.py", "from ..layout import marks"),
        ("codes/qr.py", "import labeler"),
        ("press/pdf.py", "from labeler import __version__"),
        ("codes/links.py", "import qrcode"),
        ("codes/retail_bars.py", "from reportlab.graphics.barcode import eanbc"),
        ("app/print_run.py", "import click"),
        ("app/print_run.py", "import sqlite3"),
        ("app/lots.py", "from sqlalchemy import select"),
        ("cli/lot.py", "def f():\n    import sqlalchemy.orm"),
        ("drawing/photos.py", "import urllib.request"),
        ("layout/template.py", "from urllib.request import urlopen"),
        ("press/pdf.py", "from reportlab.lib import colors"),
        ("catalog/read.py", "import pandas"),
        ("press/pdf.py", "import requests"),
    ],
)
def test_a_planted_trespass_is_caught(where: str, source: str) -> None:
    assert trespasses(where, source)


@pytest.mark.parametrize(
    ("where", "source"),
    [
        ("layout/boxes.py", "from labeler.units import Length\nimport math, urllib.parse"),
        ("app/print_run.py", "from labeler.press.pdf import write_pdf"),
        ("cli/printing.py", "import click\nfrom labeler import __version__"),
        ("ledger/store.py", "import sqlite3\nfrom sqlalchemy import text"),
        ("codes/qr.py", "import qrcode.util"),
    ],
)
def test_what_is_allowed_is_let_through(where: str, source: str) -> None:
    assert trespasses(where, source) == set()


def test_every_door_is_used_so_that_the_table_stays_true() -> None:
    walked = {
        (door, where)
        for file in modules()
        for name in imports(file.read_text("utf-8"))
        if (door := _door(name)) is not None
        for where in DOORS[door]
        if place(file).startswith(where)
    }
    listed = {(door, where) for door, places in DOORS.items() for where in places}
    assert listed - walked == set()


def test_every_library_that_is_imported_is_asked_for_by_name() -> None:
    """What comes along with another library today may stay away tomorrow."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    asked = {re.split(r"[<>=\[; ]", line)[0] for line in project["dependencies"]}
    folded = {name.lower().replace("_", "-") for name in asked}
    sellers = packages_distributions()
    unasked = {
        top
        for file in modules()
        for name in imports(file.read_text("utf-8"))
        if (top := name.partition(".")[0]) not in sys.stdlib_module_names | {"labeler"}
        if not {one.lower().replace("_", "-") for one in sellers.get(top, [top])} & folded
    }
    assert unasked == set()
