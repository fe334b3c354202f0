"""Only the command line speaks or leaves, and no module gathers things while the program runs."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house.modules import last_name, nodes, parsed

PACKAGE = Path(__file__).resolve().parents[2] / "labeler"
SPEAKING = ("cli/", "__main__.py", "layout/compose.py")

GATHERED = {
    ("cli/__init__.py", "_stopping"): "whether an order to end was taken: only a signal sets it",
    ("files.py", "in_place"): "the files that got their names, told if the command is stopped",
    ("layout/facts.py", "_KEPT"): "the last few products' facts, emptied when they are many",
    ("checker/process.py", "_spare"): "the process that waits for the next file",
    ("layout/compose.py", "_mine"): "what a worker process composes with, set once when it starts",
    ("memory.py", "_inside"): "how many are in it; what it sets is Python's own",
    ("memory.py", "_usual"): "the setting before, for the last one out to put back",
}
"""Module variables that change, each with the reason why it may."""

_LOUD = {"print", "exit", "quit", "input", "breakpoint", "sys.exit", "os._exit", "os.abort"}
_LOUD_ENDS = (".stdout.write", ".stderr.write", "warnings.warn", "pprint")
_LAST = {name.rpartition(".")[2] for name in (*_LOUD, *_LOUD_ENDS)}
_GROWS = {
    "append", "add", "update", "setdefault", "extend", "insert", "appendleft", "pop", "clear",
    "remove", "discard", "popitem",
}  # fmt: skip
_MUTABLE = {
    "dict", "list", "set", "defaultdict", "OrderedDict", "deque", "Counter", "bytearray",
    "WeakKeyDictionary", "WeakValueDictionary",
}  # fmt: skip


def place(file: Path) -> str:
    """Return a module's path within the package."""
    return file.relative_to(PACKAGE).as_posix()


def modules() -> list[Path]:
    """Return every module of the package."""
    return sorted(PACKAGE.rglob("*.py"))


def loud(source: str) -> set[str]:
    """Return what a module calls to speak or to leave the program."""
    called = {
        ast.unparse(node.func)
        for node in nodes(source)
        if isinstance(node, ast.Call) and last_name(node.func) in _LAST
    }
    raised = {
        last_name(node.exc.func if isinstance(node.exc, ast.Call) else node.exc)
        for node in nodes(source)
        if isinstance(node, ast.Raise) and node.exc is not None
    }
    found = {name for name in called if name in _LOUD or name.endswith(_LOUD_ENDS)}
    return found | (raised & {"SystemExit", "KeyboardInterrupt"})


def test_only_the_command_line_speaks_or_leaves() -> None:
    found = {
        place(file): heard
        for file in modules()
        if not place(file).startswith(SPEAKING)
        if (heard := loud(file.read_text("utf-8")))
    }
    assert found == {}


@pytest.mark.parametrize(
    "source",
    [
        "print('x')",
        "def f():\n    print('x')",
        "import sys\nsys.exit(1)",
        "import sys\nsys.stdout.write('x')",
        "import sys\nsys.stderr.write('x')",
        "raise SystemExit(2)",
        "raise SystemExit",
        "exit()",
        "import warnings\nwarnings.warn('x')",
        "breakpoint()",
        "import os\nos._exit(1)",
    ],
)
def test_a_planted_word_is_heard(source: str) -> None:
    assert loud(source)


def test_what_only_looks_loud_is_let_through() -> None:
    assert not loud("self.print(page)\nfingerprint(x)\nraise LabelerError(finding)\nprint_pieces()")


def gathering(source: str) -> set[str]:
    """Return the module's variables that its functions make larger or smaller."""
    tree = parsed(source)
    held = {name for node in tree.body for name in _mutable_names(node)}
    if not held and "global " not in source:
        return set()
    within = {
        node
        for function in nodes(source)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        for node in ast.walk(function)
    }
    changed = {name for node in within for name in _changed(node)}
    declared = {name for node in within if isinstance(node, ast.Global) for name in node.names}
    return (held & changed) | declared


def _mutable_names(node: ast.stmt) -> Iterator[str]:
    if isinstance(node, ast.Assign):
        value, targets = node.value, node.targets
    elif isinstance(node, ast.AnnAssign) and node.value is not None:
        value, targets = node.value, [node.target]
    else:
        return
    calls = isinstance(value, ast.Call) and last_name(value.func) in _MUTABLE
    shown = ast.Dict | ast.List | ast.Set | ast.ListComp | ast.DictComp | ast.SetComp
    if calls or isinstance(value, shown):
        yield from (target.id for target in targets if isinstance(target, ast.Name))


def _changed(node: ast.AST) -> Iterator[str]:
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
        if node.func.attr in _GROWS and isinstance(node.func.value, ast.Name):
            yield node.func.value.id
    elif isinstance(node, ast.Assign | ast.AugAssign | ast.Delete):
        targets = [node.target] if isinstance(node, ast.AugAssign) else node.targets
        for target in targets:
            if isinstance(target, ast.Subscript) and isinstance(target.value, ast.Name):
                yield target.value.id


def test_no_module_gathers_things_while_the_program_runs() -> None:
    found = {
        (place(file), name) for file in modules() for name in gathering(file.read_text("utf-8"))
    }
    assert found == GATHERED.keys()


@pytest.mark.parametrize(
    "source",
    [
        "KNOWN = {}\ndef register(f):\n    KNOWN[f.__name__] = f\n    return f",
        "KNOWN: list[int] = []\ndef f(x):\n    KNOWN.append(x)",
        "KNOWN = set()\nclass A:\n    def f(self, x):\n        KNOWN.add(x)",
        "import collections as c\nKNOWN = c.defaultdict(list)\ndef f():\n    del KNOWN[1]",
        "KNOWN = []\ndef outer():\n    def mark(x):\n        KNOWN.extend(x)\n    return mark",
        "LAST = None\ndef f(x):\n    global LAST\n    LAST = x",
        "KNOWN = [n for n in range(3)]\nf = lambda x: KNOWN.append(x)",
    ],
)
def test_a_planted_registry_is_caught(source: str) -> None:
    assert gathering(source)


def test_tables_that_stay_as_they_are_and_lists_within_a_function_are_let_through() -> None:
    assert not gathering("TABLE = {'a': 1}\ndef f(k):\n    found = []\n    found.append(TABLE[k])")
