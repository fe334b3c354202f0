"""The modules of any checkout as they are read: their lines, their imports, their circles."""

from __future__ import annotations

import ast
import gc
import io
import tokenize
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache, cached_property
from itertools import chain
from pathlib import Path

from tests.house.watching import PACKAGE

_NO_CODE = {
    tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT,
    tokenize.ENCODING, tokenize.ENDMARKER,
}  # fmt: skip
_FUNCTION = ast.FunctionDef | ast.AsyncFunctionDef
_DOCUMENTED = ast.Module | ast.ClassDef | _FUNCTION

# --------------------------------------------------------------------------------- one module


def last_name(called: ast.expr) -> str:
    """Return the name of what is called, without what stands before its last dot."""
    if isinstance(called, ast.Attribute):
        return called.attr
    return called.id if isinstance(called, ast.Name) else ""


@cache
def parsed(source: str) -> ast.Module:
    """Return a module as Python reads it; whoever asks for the same one shares it.

    Python's collector would look through all these nodes again and again, for as long as the tests
    run, and none of them is ever garbage.
    """
    gc.disable()
    try:
        return ast.parse(source)
    finally:
        gc.freeze()
        gc.enable()


@cache
def nodes(source: str) -> tuple[ast.AST, ...]:
    """Return every node of a module."""
    return tuple(ast.walk(parsed(source)))


_BLOCKS = ("body", "handlers", "orelse", "finalbody", "cases")
"""What holds statements in a statement."""


def statements(node: ast.AST) -> Iterator[ast.AST]:
    """Yield every statement within a module or a statement; of the nodes one in a dozen is one."""
    for block in _BLOCKS:
        for inner in getattr(node, block, ()):
            yield inner
            yield from statements(inner)


@dataclass(frozen=True)
class Module:
    """One file of the package."""

    name: str
    text: str
    is_package: bool = False

    @cached_property
    def tree(self) -> ast.Module:
        """The file as Python reads it."""
        return parsed(self.text)

    @cached_property
    def code(self) -> frozenset[int]:
        """The numbers of its code lines."""
        held: set[int] = set()
        for token in tokenize.generate_tokens(io.StringIO(self.text).readline):
            if token.type not in _NO_CODE:
                held.update(range(token.start[0], token.end[0] + 1))
        lines = self.text.splitlines()
        documented = {
            number
            for node in ast.walk(self.tree)
            if isinstance(node, _DOCUMENTED) and node.body and _is_words(node.body[0])
            for number in _span(node.body[0])
        }
        return frozenset(n for n in held if lines[n - 1].strip()) - documented

    @cached_property
    def remarks(self) -> frozenset[int]:
        """The code lines that are strings which nobody reads while the program runs."""
        spans = (_span(node) for node in ast.walk(self.tree) if _is_words(node))
        return self.code & {number for span in spans for number in span}

    @cached_property
    def lines(self) -> int:
        """How many lines the file has."""
        return len(self.text.splitlines())

    @cached_property
    def import_lines(self) -> int:
        """How many lines its import statements take, wherever they stand."""
        return sum(
            len(_span(node))
            for node in ast.walk(self.tree)
            if isinstance(node, ast.Import | ast.ImportFrom)
        )

    @cached_property
    def bodies(self) -> list[int]:
        """The length of every function's body, in code lines."""
        return [
            len(self.code & set(range(node.body[0].lineno, (node.end_lineno or 0) + 1)))
            for node in ast.walk(self.tree)
            if isinstance(node, _FUNCTION)
        ]

    @cached_property
    def classes(self) -> set[str]:
        """The names of its classes, those within functions and classes too."""
        return {node.name for node in ast.walk(self.tree) if isinstance(node, ast.ClassDef)}

    @property
    def package(self) -> str:
        """The package that its relative imports start from."""
        return self.name if self.is_package else self.name.rpartition(".")[0]


def _is_words(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    )


def _span(node: ast.AST) -> range:
    assert isinstance(node, ast.stmt)
    return range(node.lineno, (node.end_lineno or node.lineno) + 1)


def read(tree: Path) -> dict[str, Module]:
    """Return every module of the package in a checkout, by its dotted name.

    Raises:
        FileNotFoundError: if the package does not stand there.
    """
    package = tree / PACKAGE
    if not (package / "__init__.py").is_file():
        raise FileNotFoundError(f"{tree} is no checkout: there is no {PACKAGE}/__init__.py in it")
    found = {}
    for path in sorted(package.rglob("*.py")):
        parts = path.relative_to(tree).with_suffix("").parts
        is_package = parts[-1] == "__init__"
        name = ".".join(parts[:-1] if is_package else parts)
        found[name] = Module(name, path.read_text("utf-8"), is_package)
    return found


# ------------------------------------------------------------------------------------ imports


@dataclass
class Imports:
    """Who imports whom: at the top of the module, within functions, for the type checker."""

    top: dict[str, set[str]] = field(default_factory=dict)
    deferred: dict[str, set[str]] = field(default_factory=dict)
    typing: dict[str, set[str]] = field(default_factory=dict)
    users: dict[str, set[str]] = field(default_factory=dict)
    """For every module those that use it, also by a name that its package hands on."""


@dataclass(frozen=True)
class _Named:
    """One thing that an import statement names."""

    module: str
    name: str
    kind: str


def imports_of(house: dict[str, Module]) -> Imports:
    """Return every import among the modules."""
    named = {name: list(_named(module, house)) for name, module in house.items()}
    handed_on = {name: _handed_on(module, house) for name, module in house.items()}
    found = Imports(*(dict[str, set[str]]((name, set()) for name in house) for _ in range(4)))
    kinds = {
        "top": found.top,
        "deferred": found.deferred,
        "named": found.deferred,
        "typing": found.typing,
    }
    for name, things in named.items():
        for thing in things:
            target = _target(thing, house)
            if target and target != name:
                kinds[thing.kind][name].add(target)
            used = _used(thing, house, handed_on)
            hands_on = thing.kind == "named" or thing.name in handed_on[name]
            if used and used != name and not hands_on:
                found.users[used].add(name)
    return found


def _named(module: Module, house: dict[str, Module]) -> Iterator[_Named]:
    by_name = _answers_names(module)
    calls = by_name or "import_module" in module.text
    for node, kind in _walk(module.tree, "top", calls):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield _Named(alias.name, "", kind)
        elif isinstance(node, ast.ImportFrom):
            start = _absolute(module, "." * node.level + (node.module or ""))
            for alias in node.names:
                yield _Named(start, alias.name, kind)
        elif isinstance(node, ast.Call) and last_name(node.func) == "import_module":
            if node.args and isinstance(node.args[0], ast.Constant):
                yield _Named(_absolute(module, str(node.args[0].value)), "", "deferred")
        elif by_name and (name := _meant(module, node, house)):
            yield _Named(name, "", "named")


def _answers_names(module: Module) -> bool:
    """Tell whether the module looks names up when they are asked for.

    Source: PEP 562, Module __getattr__ and __dir__.
    """
    return any(
        isinstance(node, _FUNCTION) and node.name == "__getattr__" for node in module.tree.body
    )


def _meant(module: Module, node: ast.AST, house: dict[str, Module]) -> str | None:
    """Return the module that a string names, in full or from its package."""
    if not (isinstance(node, ast.Constant) and isinstance(node.value, str)):
        return None
    names = (_absolute(module, node.value), f"{module.package}.{node.value}")
    return next((name for name in names if name in house), None)


def _walk(node: ast.AST, kind: str, calls: bool) -> Iterator[tuple[ast.AST, str]]:
    """Yield the statements within a node, each with when it runs; with ``calls`` all else too."""
    if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
        kinds: dict[ast.AST, str] = dict.fromkeys(node.body, "typing")
    else:
        kinds = {}
        if kind == "top" and isinstance(node, _FUNCTION | ast.Lambda):
            kind = "deferred"
    blocks = (getattr(node, block, ()) for block in _BLOCKS)
    for child in ast.iter_child_nodes(node) if calls else chain.from_iterable(blocks):
        within = kinds.get(child, kind)
        yield child, within
        yield from _walk(child, within, calls)


def _absolute(module: Module, name: str) -> str:
    dots = len(name) - len(name.lstrip("."))
    if not dots:
        return name
    parts = module.package.split(".")
    return ".".join([*parts[: len(parts) - dots + 1], *filter(None, [name[dots:]])])


def _target(thing: _Named, house: dict[str, Module]) -> str | None:
    """Return the module that is imported: the one named, or the one the name stands in."""
    full = f"{thing.module}.{thing.name}"
    return full if full in house else thing.module if thing.module in house else None


def _handed_on(module: Module, house: dict[str, Module]) -> dict[str, str]:
    """Return the names that a package's ``__init__`` takes from its modules, and from which."""
    if not module.is_package:
        return {}
    found: dict[str, str] = {}
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Dict) and _answers_names(module):
            for key, value in zip(node.keys, node.values, strict=True):
                if isinstance(key, ast.Constant) and (name := _meant(module, value, house)):
                    found[str(key.value)] = name
        elif isinstance(node, ast.ImportFrom):
            start = _absolute(module, "." * node.level + (node.module or ""))
            for alias in node.names:
                if start in house and start != module.name and f"{start}.{alias.name}" not in house:
                    found[alias.asname or alias.name] = start
    called = {node.id for node in ast.walk(module.tree) if isinstance(node, ast.Name)}
    return {name: start for name, start in found.items() if name not in called}


def _used(
    thing: _Named, house: dict[str, Module], handed_on: dict[str, dict[str, str]]
) -> str | None:
    """Return the module that a name comes from, through the packages that hand it on."""
    target, passed = _target(thing, house), set[str]()
    while target and target not in passed and thing.name in handed_on[target]:
        passed.add(target)
        target = handed_on[target][thing.name]
    return target


def circles(edges: dict[str, set[str]]) -> list[list[str]]:
    """Return the sets of modules that lead to each other, largest first.

    Source: R. Tarjan, Depth-first search and linear graph algorithms, SIAM J. Comput. 1 (1972),
    without recursion.
    """
    order: dict[str, int] = {}
    low: dict[str, int] = {}
    path: list[str] = []
    found = []
    for start in sorted(edges):
        if start in order:
            continue
        order[start] = low[start] = len(order)
        path.append(start)
        work = [(start, iter(sorted(edges[start])))]
        while work:
            name, others = work[-1]
            for other in others:
                if other not in order:
                    order[other] = low[other] = len(order)
                    path.append(other)
                    work.append((other, iter(sorted(edges[other]))))
                    break
                if other in path:
                    low[name] = min(low[name], order[other])
            else:
                work.pop()
                if work:
                    low[work[-1][0]] = min(low[work[-1][0]], low[name])
                if low[name] == order[name]:
                    at = path.index(name)
                    found.append(sorted(path[at:]))
                    del path[at:]
    return sorted((one for one in found if len(one) > 1), key=lambda one: (-len(one), one))
