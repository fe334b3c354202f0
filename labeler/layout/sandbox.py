"""Jinja2's sandbox, narrowed: a layout from a stranger puts words and numbers together.

It calls nothing but its own macros, and what it may spend is bounded: turns of loops, macros and
includes together, and letters of text that it makes on the way, shown or not.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from jinja2 import (
    BaseLoader,
    StrictUndefined,
    Template,
    Undefined,
    nodes,
    pass_context,
    pass_eval_context,
)
from jinja2.exceptions import SecurityError
from jinja2.filters import FILTERS as DEFAULT_FILTERS
from jinja2.nodes import EvalContext
from jinja2.runtime import Context, Macro, markup_join
from jinja2.sandbox import ImmutableSandboxedEnvironment
from jinja2.visitor import NodeTransformer
from markupsafe import Markup

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


class Sandbox(ImmutableSandboxedEnvironment):
    """The environment in which layouts are rendered, one rendering at a time."""

    intercepted_binops = frozenset(["+", "*", "**", "%"])

    def __init__(self, loader: BaseLoader) -> None:
        self.budget = Budget()
        super().__init__(
            loader=loader, undefined=StrictUndefined, autoescape=True, keep_trailing_newline=True,
            cache_size=64, auto_reload=False, finalize=self._shown,
        )  # fmt: skip
        self.globals.clear()
        self.filters = {
            name: _weighed(_BOUNDED.get(name, DEFAULT_FILTERS[name]), self.budget)
            for name in _KEPT_FILTERS
        }
        self.filters |= {"counted_": _counted, "weighed_": _listed, "joined_": _joined}

    def _shown(self, value: Any) -> Any:
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
        """Reckon with numbers, and join texts, within bounds."""
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
        elif isinstance(node, nodes.List | nodes.Dict) or _is_read(node):
            return _through("weighed_", node)
        return node


def _is_read(node: nodes.Node) -> bool:
    return isinstance(node, nodes.Tuple) and node.ctx == "load"


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
