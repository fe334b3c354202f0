"""Counts the house: its lines, files, functions and circles, and what a command runs through.

    python -m tests.house.count [--json] [--still] [TREE]

TREE is any checkout of the project; left out, the one that this file stands in. ``--still`` leaves
out the last part, for which commands are run on a copy of the demo catalog.

What is counted:

- A **code line** holds a token of Python that is neither a comment nor part of the docstring of a
  module, class or function. The strings that stand below constants are code by that measure; a
  second figure is without them.
- A function is a ``def``; its body is what comes after its docstring, in code lines.
- A module's size is told in lines as they stand in the file and in code lines.
- Module M **imports** N if an import statement of M names N, or a name that N's package only hands
  on. Circles are counted for imports at the top of modules, then with those within functions, then
  with those for the type checker alone. A string handed to ``import_module``, or standing in a
  module with its own ``__getattr__``, is an import within a function.
- A **circle** is a largest set of modules each of which leads to every other.
- A command **runs through** a function if the function is called in the command's process, in one
  of its threads or in any process that it starts. Lambdas, comprehensions and what a library
  generates are not counted apart.
"""

from __future__ import annotations

import argparse
import json
import shutil
import statistics
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

from tests.house.modules import Module, circles, imports_of, read
from tests.house.watching import PACKAGE, Seen, surroundings, watch

ROOT = Path(__file__).resolve().parents[2]
LONGEST, LEAST, SHORT_BODY = 900, 60, 3
SKU = "RM-38-40-SBR"


# ----------------------------------------------------------------------------- what runs


def runs(tree: Path) -> dict[str, Seen]:
    """Run a few commands on copies of the demo, one with a lot, and return what each did.

    Raises:
        RuntimeError: if a command does not do what it is asked.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copytree(tree / "demo_catalog", folder / "line")
        shutil.copytree(tree / "demo_catalog", folder / "kept")
        opened = subprocess.run(
            [sys.executable, "-m", PACKAGE, "--catalog", "kept", "lot", "assign", SKU,
             "--count", "12", "--json"],
            cwd=folder, env=surroundings(tree), check=True, capture_output=True,
        )  # fmt: skip
        lot = json.loads(opened.stdout)["lots"][0]["lot"]
        commands = {
            "bags of one label": ("--catalog", "line", "bags", "--sku", SKU, "--out", "one.pdf"),
            "check of that label": ("--catalog", "line", "check", "one.pdf"),
            "lot list": ("--catalog", "kept", "lot", "list"),
            "bags of a lot, one label": (
                "--catalog", "kept", "bags", "--lot", lot, "--count", "1", "--out", "lot.pdf",
            ),
        }  # fmt: skip
        seen = {}
        for command, words in commands.items():
            seen[command] = watch(tree, words, folder, calls=True)
            if seen[command].status:
                raise RuntimeError(f"{command}: {seen[command].words}")
        return seen


# -------------------------------------------------------------------------------- the table


def counted(house: dict[str, Module]) -> dict[str, Any]:
    """Return every figure that needs nothing run."""
    modules = list(house.values())
    bodies = [length for module in modules for length in module.bodies]
    sizes = sorted((len(module.code), module.lines, module.name) for module in modules)
    imports = imports_of(house)
    alone = [name for name in house if len(imports.users[name]) == 1]
    small = [name for name in alone if house[name].lines < LEAST]
    everything = {name: imports.top[name] | imports.deferred[name] for name in house}
    names = Counter(name for module in modules for name in module.classes)
    twice = {
        name: sorted(module.name for module in modules if name in module.classes)
        for name, times in names.items()
        if times > 1
    }
    typed = {name: everything[name] | imports.typing[name] for name in house}
    rings = {
        "circles, imports at the top": circles(imports.top),
        "circles, imports in functions too": circles(everything),
        "circles, imports for the type checker too": circles(typed),
    }
    return {
        "code lines": sum(len(module.code) for module in modules),
        "code lines without strings below constants": sum(
            len(module.code - module.remarks) for module in modules
        ),
        "lines in all": sum(module.lines for module in modules),
        "files": len(modules),
        "functions": len(bodies),
        f"functions of at most {SHORT_BODY} lines": sum(n <= SHORT_BODY for n in bodies),
        "import lines": sum(module.import_lines for module in modules),
        "median module, code lines": statistics.median(len(module.code) for module in modules),
        "median module, lines": statistics.median(module.lines for module in modules),
        "largest module, code lines": sizes[-1][0],
        "largest module, lines": max(module.lines for module in modules),
        f"modules over {LONGEST} lines": sum(module.lines > LONGEST for module in modules),
        "modules imported by a single other module": len(alone),
        "  code lines in them": sum(len(house[name].code) for name in alone),
        f"  of them under {LEAST} lines": len(small),
        **{kind: len(found) for kind, found in rings.items()},
        "class names in two or more modules": len(twice),
        "named": {
            "largest modules": [f"{name} {code}" for code, _, name in reversed(sizes[-5:])],
            **rings,
            f"under {LEAST} lines, imported by a single other module": sorted(small),
            "class names in two or more modules": dict(sorted(twice.items())),
        },
    }


def table(tree: Path, *, still: bool) -> dict[str, Any]:
    """Return every figure of a checkout."""
    figures = counted(read(tree))
    named = figures.pop("named")
    for command, seen in {} if still else runs(tree).items():
        for kind, count in (
            ("functions", len(seen.functions)),
            ("files", len(seen.files)),
            ("processes", seen.processes),
        ):
            figures[f"{command}: {kind}"] = count
    return figures | {"named": named}


def as_text(figures: dict[str, Any]) -> str:
    """Return the figures as a table, and the names below it."""
    rows = [f"{name:<48}{value:>10,}" for name, value in figures.items() if name != "named"]
    for name, held in figures["named"].items():
        rows += ["", f"{name}:"]
        if isinstance(held, dict):
            rows += [f"  {key}: {', '.join(value)}" for key, value in held.items()]
        else:
            rows += [f"  {one if isinstance(one, str) else ' '.join(one)}" for one in held]
    return "\n".join(rows)


def main(arguments: list[str]) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.house.count")
    parser.add_argument("tree", nargs="?", type=Path, default=ROOT, metavar="TREE")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--still", action="store_true", help="run no command")
    asked = parser.parse_args(arguments)
    figures = table(asked.tree.resolve(), still=asked.still)
    print(json.dumps(figures, indent=2) if asked.json else as_text(figures))


if __name__ == "__main__":
    main(sys.argv[1:])
