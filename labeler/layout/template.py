"""A layout file and the facts of a product become markup text, in Jinja2's sandbox.

A layout from a stranger can put words and numbers together, and nothing else: no calls into
Python, no file outside the layouts' folders, no endless loop, no text that grows without bound.
A field that does not exist is an error, never a blank.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from jinja2 import (
    BaseLoader,
    BytecodeCache,
    StrictUndefined,
    Template,
    TemplateError,
    TemplateNotFound,
    TemplateSyntaxError,
    Undefined,
    meta,
    nodes,
    pass_context,
    pass_eval_context,
)
from jinja2.bccache import Bucket
from jinja2.exceptions import SecurityError, UndefinedError
from jinja2.filters import FILTERS as DEFAULT_FILTERS
from jinja2.nodes import EvalContext
from jinja2.runtime import Context, Macro, markup_join
from jinja2.sandbox import ImmutableSandboxedEnvironment
from jinja2.visitor import NodeTransformer
from markupsafe import Markup

from labeler import files
from labeler.findings import Finding, LabelerError, Place, did_you_mean, refusal, stop
from labeler.layout.markup import BLOCKS

MOST_TURNS = 20_000
"""Turns of all loops, macros and includes of one rendering together."""
MOST_LETTERS = 200_000
"""A piece of print is a few thousand letters of markup; this is where a runaway is stopped."""
MOST_WORK = 10 * MOST_LETTERS
"""Letters that one rendering may put together on the way."""

_LARGEST_NUMBER = 10**15
_MOST_PLACES = 15
_LONGEST_ROW = 1_000

_KEPT_FILTERS = (
    "upper", "lower", "title", "capitalize", "trim", "replace", "length", "count", "first",
    "last", "join", "round", "int", "abs", "sort", "reverse", "list", "default", "d", "escape",
    "e", "batch", "sum", "min", "max", "map", "select", "reject", "selectattr", "rejectattr",
    "unique", "wordcount",
)  # fmt: skip


class Budget:
    """What is left to one rendering."""

    def __init__(self) -> None:
        self.refill()

    def refill(self) -> None:
        """Begin a rendering."""
        self.turns, self.letters = MOST_TURNS, MOST_WORK

    def turn(self) -> None:
        """Count a turn of a loop, a call of a macro or an include."""
        self.turns -= 1
        if self.turns < 0:
            raise SecurityError(f"its loops, macros and includes take more than {MOST_TURNS} turns")

    def spend(self, value: Any) -> None:
        """Count the letters of a text, or of everything in a list."""
        waiting = [value]
        while waiting:
            one = waiting.pop()
            if isinstance(one, dict):
                waiting += one.values()
            elif isinstance(one, list | tuple):
                waiting += one
            self.letters -= 1 + (len(one) if isinstance(one, str) else 0)
            if self.letters < 0:
                raise SecurityError(f"it puts together more than {MOST_WORK:,} letters of text")


class _Compiled(BytecodeCache):
    """Keeps what was compiled from a layout's text, for every sandbox of this process."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], Any] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Give what was compiled from the same text under the same name, if anything was."""
        bucket.code = self._kept.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what was compiled, and let the oldest go."""
        self._kept[bucket.key, bucket.checksum] = bucket.code
        if len(self._kept) > _MOST_COMPILED:
            del self._kept[next(iter(self._kept))]


_MOST_COMPILED = 64
_COMPILED = _Compiled()


class Sandbox(ImmutableSandboxedEnvironment):
    """Jinja2's sandbox, narrowed; one rendering at a time.

    A layout calls nothing but its own macros, and what it may spend is bounded: turns of loops,
    macros and includes together, and letters of text that it makes on the way, printed or not.
    """

    intercepted_binops = frozenset(["+", "*", "**", "%"])

    def __init__(self, loader: BaseLoader) -> None:
        self.budget = Budget()
        super().__init__(
            loader=loader, undefined=StrictUndefined, autoescape=True, keep_trailing_newline=True,
            cache_size=64, auto_reload=False, finalize=self._printable, bytecode_cache=_COMPILED,
        )  # fmt: skip
        self.globals.clear()
        self.filters = {
            name: _weighed(_BOUNDED.get(name, DEFAULT_FILTERS[name]), self.budget)
            for name in _KEPT_FILTERS
        }
        self.filters |= {"counted_": _counted, "weighed_": _listed, "joined_": _joined}

    def _printable(self, value: Any) -> Any:
        if not (value is None or isinstance(value, str | int | float | Undefined)):
            raise SecurityError(
                "only words and numbers are printed; a list: go through it with a loop"
            )
        self.budget.spend(value)
        return value

    def concat(self, parts: Iterable[str]) -> str:
        """Put the parts of a macro's or a block's text together."""
        kept = list(parts)
        size = sum(map(len, kept))
        _refuse_long(size)
        self.budget.letters -= size
        return "".join(kept)

    def is_safe_callable(self, obj: Any) -> bool:
        """Let macros be called, each call a turn."""
        self.budget.turn()
        return isinstance(obj, Macro)

    def is_safe_attribute(self, obj: Any, attr: str, value: Any) -> bool:
        """Hide what begins with an underscore and all that can be called."""
        return not attr.startswith("_") and not callable(value)

    def get_template(self, name: Any, *rest: Any, **more: Any) -> Template:
        """Return a layout; each include is a turn."""
        self.budget.turn()
        return super().get_template(name, *rest, **more)

    def select_template(self, names: Any, *rest: Any, **more: Any) -> Template:
        """Return the first of some layouts; each include is a turn."""
        self.budget.turn()
        return super().select_template(names, *rest, **more)

    def call_binop(self, context: Any, operator: str, left: Any, right: Any) -> Any:
        """Compute with numbers, and join texts, within bounds."""
        if operator == "+" and isinstance(left, str) and isinstance(right, str):
            return _joined(context, [left, right])
        if not all(isinstance(side, int | float) for side in (left, right)):
            raise SecurityError(f"{operator!r} works on numbers only")
        if operator == "**" and (abs(left) > 1e6 or abs(right) > 9):
            raise SecurityError("the power is too high")
        result = super().call_binop(context, operator, left, right)
        if isinstance(result, int) and abs(result) > _LARGEST_NUMBER:
            raise SecurityError("the number is too large")
        return result

    def _parse(self, source: str, name: str | None, filename: str | None) -> nodes.Template:
        return _Bounds().visit(super()._parse(source, name, filename))  # type: ignore[no-any-return]


class _Bounds(NodeTransformer):
    """Puts a count into every loop, list and joining of texts that a layout writes.

    The counts ask for the context, which keeps Jinja2 from working them out beforehand.
    """

    def visit(self, node: nodes.Node, *given: Any, **named: Any) -> Any:
        """Return the node with its count, everything in it first."""
        self.generic_visit(node)
        if isinstance(node, nodes.For):
            node.iter = _through("counted_", node.iter)
        elif isinstance(node, nodes.Concat):
            return _through("joined_", nodes.List(node.nodes, lineno=node.lineno))
        elif isinstance(node, nodes.List | nodes.Dict) or (
            isinstance(node, nodes.Tuple) and node.ctx == "load"
        ):
            return _through("weighed_", node)
        return node


def _through(name: str, node: Any) -> nodes.Filter:
    return nodes.Filter(node, name, [], [], None, None, lineno=node.lineno)


def _budget(context: Context) -> Budget:
    environment = context.environment
    assert isinstance(environment, Sandbox)
    return environment.budget


@pass_context
def _counted(context: Context, items: Iterable[Any]) -> list[Any]:
    budget = _budget(context)
    kept = []
    for item in items:
        budget.turn()
        kept.append(item)
    return kept


@pass_context
def _listed(context: Context, items: Any) -> Any:
    _budget(context).spend(items)
    return items


@pass_context
def _joined(context: Context, parts: list[Any]) -> str:
    if any(isinstance(part, list | tuple | dict) for part in parts):
        raise SecurityError("a list can't be put into a text; join it")
    _refuse_long(sum(len(part) for part in parts if isinstance(part, str)))
    _budget(context).spend(parts)
    text = markup_join(parts)
    return Markup(text) if isinstance(text, Markup) else text


def _weighed(of: Callable[..., Any], budget: Budget) -> Callable[..., Any]:
    """Return a filter that counts the letters that go in and those that come out."""

    @functools.wraps(of)  # which keeps what Jinja2 is to pass it
    def weighed(*given: Any, **named: Any) -> Any:
        budget.spend(given)
        budget.spend(named)
        result = of(*given, **named)
        budget.spend(result)
        return result

    return weighed


@pass_eval_context
def _replaced(where: EvalContext, text: Any, old: Any, new: Any, count: int | None = None) -> str:
    text = text if isinstance(text, str) else str(text)
    times = text.count(str(old))
    _refuse_long(len(text) + times * len(str(new)))
    replaced: str = DEFAULT_FILTERS["replace"](where, text, old, new, count)
    return replaced


@pass_eval_context
def _put_together(
    where: EvalContext, items: Iterable[Any], between: str = "", attribute: str | None = None
) -> str:
    parts = list(items)
    _refuse_long(len(str(between)) * len(parts))
    joined: str = DEFAULT_FILTERS["join"](where, parts, between, attribute)
    return joined


def _rounded(value: float, precision: int = 0, method: str = "common") -> float:
    if not -_MOST_PLACES <= precision <= _MOST_PLACES:
        raise SecurityError(f"a number is rounded to at most {_MOST_PLACES} places")
    rounded: float = DEFAULT_FILTERS["round"](value, precision, method)
    return rounded


def _batched(items: Iterable[Any], length: int, fill: Any = None) -> Iterator[list[Any]]:
    if not 0 < length <= _LONGEST_ROW:
        raise SecurityError(f"a row of a batch holds 1 to {_LONGEST_ROW} items")
    rows: Iterator[list[Any]] = DEFAULT_FILTERS["batch"](items, length, fill)
    return rows


def _refuse_long(letters: int) -> None:
    if letters > MOST_LETTERS:
        raise SecurityError(f"it makes more than {MOST_LETTERS} letters of text")


_BOUNDED: dict[str, Callable[..., Any]] = {
    "replace": _replaced, "join": _put_together, "round": _rounded, "batch": _batched,
}  # fmt: skip


SUFFIX = ".xml.jinja"

_OPENING = re.compile(rf"<({'|'.join(BLOCKS)})(?=[\s/>]|$)")


class _LayoutLoader(BaseLoader):
    """Looks layouts up by name on the shelves; writes into every tag where it stands.

    ``sources`` are the files read so far; a tag names its own by the place in this list.
    """

    def __init__(self, maker_folder: Path | None) -> None:
        self._maker_folder = maker_folder
        self._files: dict[str, Path] = {}
        self.sources: list[str] = []

    def file(self, name: str) -> Path:
        """Return the file of a layout, or raise with the nearest name."""
        if name not in self._files:
            self._files[name] = files.find("layouts", name, SUFFIX, self._maker_folder)
        return self._files[name]

    def get_source(self, environment: Any, template: str) -> tuple[str, str, Callable[[], bool]]:
        try:
            file = self.file(template)
        except LabelerError as error:
            raise TemplateNotFound(template, error.findings[0].hint) from error
        self.sources.append(str(file))
        return _stamped(_read(file), len(self.sources) - 1), str(file), lambda: True


def _read(file: Path) -> str:
    try:
        if file.stat().st_size > MOST_LETTERS:
            why = f"it has more than {MOST_LETTERS:,} bytes"
        else:
            return file.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        why = "it is not UTF-8 text"
    except OSError as error:
        why = (error.strerror or str(error)).lower()
    raise refusal(
        "layout-unreadable", Place(file=str(file)), f"this can't be read as a layout: {why}"
    )


@functools.lru_cache(_MOST_COMPILED)
def _taken_in(text: str) -> Sequence[str | None]:
    """Return the layouts that one takes in; None for one whose name it makes up as it goes."""
    return list(meta.find_referenced_templates(Sandbox(BaseLoader()).parse(text)))


def _stamped(source: str, number: int) -> str:
    """Write into every tag the file's number and the line that it stands in, for messages."""
    return "\n".join(
        _OPENING.sub(lambda tag, n=at: f'<{tag[1]} line="{number}:{n}"', line)  # type: ignore[misc]
        for at, line in enumerate(source.split("\n"), start=1)
    )


class Layouts:
    """The layouts that can be reached from one catalog folder."""

    def __init__(self, maker_folder: Path | None = None) -> None:
        self.maker_folder = maker_folder
        self._loader = _LayoutLoader(maker_folder)
        self._sandbox = Sandbox(self._loader)
        self._templates: dict[str, Template] = {}

    @property
    def files(self) -> Sequence[str]:
        """The layouts' files read so far, which rendered tags name by number."""
        return self._loader.sources

    def names(self) -> list[str]:
        """Return the names of all layouts."""
        return files.names("layouts", SUFFIX, self.maker_folder)

    def file(self, name: str) -> Path:
        """Return the file of the layout called ``name``, or raise with the nearest name."""
        return self._loader.file(name)

    def sources(self, name: str) -> dict[str, bytes]:
        """Return the file of layout ``name`` and of every layout that it takes in, by name.

        Where a layout takes in one whose name it makes up as it goes, all of them come along.

        Raises:
            LabelerError: if there is no such layout, or one of them can't be read.
        """
        found: dict[str, bytes] = {}
        open_ones = [name]
        while open_ones:
            one = open_ones.pop()
            if one in found or (one != name and one not in self.names()):
                continue
            file = self.file(one)
            try:
                others = _taken_in(_read(file))
            except TemplateError as error:
                raise LabelerError(_fault(error, file, "")) from error
            found[one] = file.read_bytes()
            for other in others:
                open_ones += self.names() if other is None else [other]
        return found

    def render(self, name: str, facts: Mapping[str, Any], sku: str = "") -> str:
        """Return the markup of layout ``name`` filled in with ``facts``.

        Every tag's ``line`` names its file by the place in `files`, and the line in it.

        Raises:
            LabelerError: with file, line and the nearest name, for any fault of the layout.
        """
        file = self.file(name)
        self._sandbox.budget.refill()
        try:
            if name not in self._templates:
                self._templates[name] = self._sandbox.get_template(name)
            return _bounded(self._templates[name].generate(facts))
        except UndefinedError as error:
            raise LabelerError(_unknown_field(error, file, facts, sku)) from error
        except (TemplateError, RecursionError, SyntaxError, *_MISTAKES) as error:
            raise LabelerError(_fault(error, file, sku)) from error


_MISTAKES = (TypeError, ValueError, ArithmeticError, LookupError, AttributeError)
"""What words and numbers can raise when they are put together wrongly."""


def _bounded(parts: Iterator[str]) -> str:
    kept: list[str] = []
    size = 0
    for part in parts:
        size += len(part)
        if size > MOST_LETTERS:
            raise SecurityError(f"it makes more than {MOST_LETTERS} letters of markup")
        kept.append(part)
    return "".join(kept)


def _spot(error: BaseException, file: Path) -> tuple[str, int | None]:
    """Return the layout's file and line that an error comes from.

    A fault of grammar knows them; else it is where the traceback ends, whose frames Jinja2 maps
    to the layouts' lines.
    """
    if isinstance(error, TemplateSyntaxError):
        return error.filename or str(file), error.lineno
    spot: tuple[str, int | None] = str(file), None
    trace = error.__traceback__
    while trace is not None:
        if trace.tb_frame.f_code.co_filename.endswith(SUFFIX):
            spot = trace.tb_frame.f_code.co_filename, trace.tb_lineno
        trace = trace.tb_next
    return spot


def _fault(error: BaseException, file: Path, sku: str) -> Finding:
    where, line = _spot(error, file)
    hint = ""
    if isinstance(error, TemplateNotFound):
        what, hint = f"it names a layout {error.name!r} that there is none of", error.message or ""
    elif isinstance(error, RecursionError | SyntaxError):
        what = "it nests too deep, or takes itself in without end"
    else:
        what = str(getattr(error, "message", None) or error)
    return stop(
        "layout-fault",
        Place(file=where, line=line, piece=sku),
        f"the layout can't be filled in: {what}",
        hint=hint,
    )


def _unknown_field(
    error: UndefinedError, file: Path, facts: Mapping[str, Any], sku: str
) -> Finding:
    words = re.findall(r"'([^']+)'", error.message or "")
    wanted = words[-1] if words else ""
    known = {name for value in facts.values() if isinstance(value, Mapping) for name in value}
    where, line = _spot(error, file)
    return stop(
        "layout-unknown-field",
        Place(file=where, line=line, piece=sku),
        f"the layout asks for a field that there is none of: {error.message}",
        hint=did_you_mean(wanted, sorted(known | set(facts))),
    )
