"""A layout file and the facts of a product become markup text, in Jinja2's sandbox.

A layout from a stranger can put words and numbers together, and nothing else: no calls into
Python, no file outside the layouts' folders, no endless loop, no text that grows without bound.
A field that does not exist is an error, never a blank.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from jinja2 import (
    BaseLoader,
    StrictUndefined,
    Template,
    TemplateError,
    TemplateNotFound,
    meta,
    nodes,
    pass_context,
)
from jinja2.exceptions import SecurityError, UndefinedError
from jinja2.runtime import Context, Macro
from jinja2.sandbox import ImmutableSandboxedEnvironment

from labeler import shelf
from labeler.findings import LabelerError, Place, did_you_mean, stop

SUFFIX = ".xml.jinja"
MOST_LETTERS = 200_000
"""A piece of print is a few thousand letters of markup; this is where a runaway is stopped."""
MOST_TURNS = 20_000
"""Turns of all loops of one rendering together."""

_TAGS = (
    "piece|front|back|row|column|text|span|picture|figure|swatch|code|rule|disclosure|spacer|hole"
)
_OPENING = re.compile(rf"<({_TAGS})(?=[\s/>])")
_KEPT_FILTERS = (
    "upper", "lower", "title", "capitalize", "trim", "replace", "length", "count", "first",
    "last", "join", "round", "int", "abs", "sort", "reverse", "list", "default", "d", "escape",
    "e", "batch", "sum", "min", "max", "map", "select", "reject", "selectattr", "rejectattr",
    "unique", "wordcount",
)  # fmt: skip


class _Turns:
    """Counts the turns of every loop of one rendering."""

    def __init__(self) -> None:
        self.left = MOST_TURNS

    def counted(self, items: Iterable[Any]) -> list[Any]:
        kept = []
        for item in items:
            self.left -= 1
            if self.left < 0:
                raise SecurityError(f"its loops take more than {MOST_TURNS} turns")
            kept.append(item)
        return kept


class _Sandbox(ImmutableSandboxedEnvironment):
    """Jinja2's sandbox, narrowed: only macros are called, only short texts are multiplied."""

    intercepted_binops = frozenset(["*", "**", "%"])

    def __init__(self, loader: BaseLoader) -> None:
        super().__init__(
            loader=loader, undefined=StrictUndefined, autoescape=True, keep_trailing_newline=True,
            cache_size=64, auto_reload=False,
        )  # fmt: skip
        self.turns = _Turns()
        self.globals.clear()
        self.filters = {name: self.filters[name] for name in _KEPT_FILTERS}
        self.filters["counted_"] = self._counted

    @staticmethod
    @pass_context
    def _counted(context: Context, items: Iterable[Any]) -> list[Any]:
        """Count a loop's turns. Asking for the context keeps Jinja2 from folding it away."""
        environment = context.environment
        assert isinstance(environment, _Sandbox)
        return environment.turns.counted(items)

    def is_safe_callable(self, obj: Any) -> bool:
        return isinstance(obj, Macro)

    def is_safe_attribute(self, obj: Any, attr: str, value: Any) -> bool:
        return not attr.startswith("_") and not callable(value)

    def call_binop(self, context: Any, operator: str, left: Any, right: Any) -> Any:
        if not all(isinstance(side, int | float) for side in (left, right)):
            raise SecurityError(f"{operator!r} works on numbers only")
        if operator == "**" and (abs(left) > 1e6 or abs(right) > 9):
            raise SecurityError("the power is too high")
        return super().call_binop(context, operator, left, right)

    def _parse(self, source: str, name: str | None, filename: str | None) -> nodes.Template:
        tree = super()._parse(source, name, filename)
        for loop in tree.find_all(nodes.For):
            loop.iter = nodes.Filter(loop.iter, "counted_", [], [], None, None, lineno=loop.lineno)
        return tree


class _Shelf(BaseLoader):
    """Looks layouts up by name on the shelves; writes into every tag the line it stands on."""

    def __init__(self, own: Path | None) -> None:
        self._own = own

    def get_source(self, environment: Any, template: str) -> tuple[str, str, Callable[[], bool]]:
        try:
            file = shelf.find("layouts", template, SUFFIX, self._own)
        except LabelerError as error:
            raise TemplateNotFound(template, error.findings[0].hint) from error
        return _with_lines(_read(file)), str(file), lambda: True


def _read(file: Path) -> str:
    try:
        return file.read_text("utf-8")
    except (UnicodeDecodeError, OSError) as error:
        raise LabelerError(
            stop("layout-unreadable", Place(file=str(file)), f"this can't be read as text: {error}")
        ) from error


def _with_lines(source: str) -> str:
    """Write into every tag the line of the file that it stands on, for messages."""
    return "\n".join(
        _OPENING.sub(lambda tag, n=number: f'<{tag[1]} line="{n}"', line)  # type: ignore[misc]
        for number, line in enumerate(source.split("\n"), start=1)
    )


class Layouts:
    """The layouts that can be reached from one catalog folder."""

    def __init__(self, own: Path | None = None) -> None:
        self.own = own
        self._sandbox = _Sandbox(_Shelf(own))
        self._templates: dict[str, Template] = {}
        self._files: dict[str, Path] = {}

    def names(self) -> list[str]:
        """Return the names of all layouts."""
        return shelf.names("layouts", SUFFIX, self.own)

    def file(self, name: str) -> Path:
        """Return the file of the layout called ``name``, or raise with the nearest name."""
        if name not in self._files:
            self._files[name] = shelf.find("layouts", name, SUFFIX, self.own)
        return self._files[name]

    def sources(self, name: str) -> dict[str, bytes]:
        """Return the file of layout ``name`` and of every layout that it takes in, by name.

        Where a layout takes in one whose name it makes up as it goes, all of them come along.

        Raises:
            LabelerError: if there is no such layout.
        """
        found: dict[str, bytes] = {}
        open_ones = [name]
        while open_ones:
            one = open_ones.pop()
            if one in found or (one != name and one not in self.names()):
                continue
            found[one] = self.file(one).read_bytes()
            tree = self._sandbox.parse(found[one].decode("utf-8"))
            for other in meta.find_referenced_templates(tree):
                open_ones += self.names() if other is None else [other]
        return found

    def render(self, name: str, facts: Mapping[str, Any], sku: str = "") -> str:
        """Return the markup of layout ``name`` filled in with ``facts``.

        Raises:
            LabelerError: with file, line and the nearest name, for any fault of the layout.
        """
        file = self.file(name)
        self._sandbox.turns.left = MOST_TURNS
        try:
            if name not in self._templates:
                self._templates[name] = self._sandbox.get_template(name)
            return _bounded(self._templates[name].generate(facts))
        except UndefinedError as error:
            raise LabelerError(_unknown_field(error, file, facts, sku)) from error
        except RecursionError as error:
            raise LabelerError(_fault(file, None, "it includes itself without end", sku)) from error
        except TemplateNotFound as error:
            raise LabelerError(
                _fault(file, None, f"it names a layout {error.name!r} that there is none of", sku)
            ) from error
        except TemplateError as error:
            line = getattr(error, "lineno", None) or _line_of(error, file)
            raise LabelerError(_fault(file, line, error.message or str(error), sku)) from error
        except (TypeError, ValueError, ArithmeticError, LookupError, AttributeError) as error:
            raise LabelerError(_fault(file, _line_of(error, file), str(error), sku)) from error


def _bounded(parts: Iterator[str]) -> str:
    kept: list[str] = []
    size = 0
    for part in parts:
        size += len(part)
        if size > MOST_LETTERS:
            raise SecurityError(f"it makes more than {MOST_LETTERS} letters of markup")
        kept.append(part)
    return "".join(kept)


def _line_of(error: BaseException, file: Path) -> int | None:
    """Return the layout's line that a traceback ends in; Jinja2 maps its frames to them."""
    line = None
    trace = error.__traceback__
    while trace is not None:
        if trace.tb_frame.f_code.co_filename == str(file):
            line = trace.tb_lineno
        trace = trace.tb_next
    return line


def _fault(file: Path, line: int | None, what: str, sku: str) -> Any:
    return stop(
        "layout-fault",
        Place(file=str(file), line=line, piece=sku),
        f"the layout can't be filled in: {what}",
    )


def _unknown_field(error: UndefinedError, file: Path, facts: Mapping[str, Any], sku: str) -> Any:
    words = re.findall(r"'([^']+)'", error.message or "")
    wanted = words[-1] if words else ""
    known = {name for value in facts.values() if isinstance(value, Mapping) for name in value}
    return stop(
        "layout-unknown-field",
        Place(file=str(file), line=_line_of(error, file), piece=sku),
        f"the layout asks for a field that there is none of: {error.message}",
        hint=did_you_mean(wanted, sorted(known | set(facts))),
    )
