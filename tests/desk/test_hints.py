"""What the desk says of a finding holds nothing that is typed at a prompt or into a file."""

from __future__ import annotations

import ast
import re
import tomllib
from functools import cache
from pathlib import Path

import labeler
from labeler.desk.page import expected, hint
from labeler.findings import Place, stop

HOUSE = Path(labeler.__file__).parent
WORDS = tomllib.loads((HOUSE / "desk" / "hints.toml").read_text("utf-8"))
TYPED = re.compile(
    r"--\w|`|= \{|\blabeler [a-z]+\b|\[\w+(?:\.\S+)?\]|\b[a-z]+_[a-z]+\b|in quotes|pip install"
)
"""Options, commands, tables and keys of catalog.toml."""


def literal(node: ast.AST) -> str:
    """Return what a text says where it is written down, with X for what is put in."""
    if isinstance(node, ast.Constant):
        return str(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(literal(one) or "X" for one in node.values)
    if isinstance(node, ast.BinOp):
        return literal(node.left) + literal(node.right)
    return ""


@cache
def hints() -> list[tuple[str, str, str]]:
    """Return where a hint is written, the rule of its finding as far as it stands there, and it."""
    found = []
    for path in sorted(HOUSE.rglob("*.py")):
        source = path.read_text("utf-8")
        if path.is_relative_to(HOUSE / "cli") or "hint=" not in source:
            continue
        for node in (one for one in ast.walk(ast.parse(source)) if isinstance(one, ast.Call)):
            for at in node.keywords:
                if at.arg == "hint" and (text := literal(at.value)):
                    args = (one.value for one in node.args if isinstance(one, ast.Constant))
                    rule = next((one for one in args if isinstance(one, str)), "")
                    found.append((f"{path.name}:{node.lineno}", rule, text))
    return found


def test_no_hint_of_the_desk_speaks_of_options_or_of_keys() -> None:
    assert len(hints()) > 200
    for where, rule, text in hints():
        said = hint(stop(rule or "x", Place(), "", hint=text))
        assert not TYPED.search(said), (where, said)
    for rule, text in (WORDS["hints"] | WORDS["expected"]).items():
        assert not TYPED.search(text), (rule, text)


UNSAID = ("unknown-lot", "unknown-sheet")
"""Where the nearest name stands in front, if there is one; the page lists them all."""


def test_what_only_speaks_of_options_is_said_otherwise_on_the_desk() -> None:
    for where, rule, text in hints():
        if rule and text:
            assert rule in UNSAID or hint(stop(rule, Place(), "", hint=text)), (where, rule, text)


def test_what_is_left_of_a_hint_is_whole_sentences() -> None:
    found = stop("x", Place(), "", hint="Did you mean 'a'? labeler sheets lists them all. Or wait.")
    assert hint(found) == "Did you mean 'a'? Or wait."


def test_every_sentence_that_is_said_otherwise_is_still_said() -> None:
    source = (HOUSE / "catalog" / "values.py").read_text("utf-8")
    for text, other in WORDS["expected"].items():
        assert text in source
        assert expected(stop("x", Place(), "", expected=text)) == other
