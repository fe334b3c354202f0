"""Markup text becomes a tree of nodes whose attributes are read and checked.

The markup is XML without any of XML's doors: no document type, no entity, no processing
instruction. `BLOCKS` is the whole language.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from lxml import etree

from labeler.findings import Finding, LabelerError, Place, did_you_mean, stop
from labeler.units import Length

_LARGEST_TYPE = 10_000.0
"""Points; a letter as high as a house."""

MOST_DEPTH = 40
"""How deep blocks may nest."""


def _length(text: str) -> float:
    return Length.parse(text).pt


def _type_size(text: str) -> float:
    size = Length.parse(text).pt
    if not 0 < size <= _LARGEST_TYPE:
        raise ValueError("a size above nought, such as 9pt")
    return size


def _lengths(text: str) -> tuple[float, float, float, float]:
    """Read one to four lengths as top, right, bottom, left; the missing ones mirror."""
    parts = [_length(p) for p in text.split(",")]
    if not 1 <= len(parts) <= 4:
        raise ValueError("one to four lengths with commas between: top, right, bottom, left")
    top = parts[0]
    right = parts[1] if len(parts) > 1 else top
    bottom = parts[2] if len(parts) > 2 else top
    return top, right, bottom, parts[3] if len(parts) > 3 else right


def _number(text: str) -> float:
    if not re.fullmatch(r"\d+(\.\d+)?", text.strip()):
        raise ValueError("a number such as 1 or 0.5")
    return float(text)


def _whole(text: str) -> int:
    if not re.fullmatch(r"[1-9]\d{0,3}", text.strip()):
        raise ValueError("a whole number above nought")
    return int(text)


def _ink(text: str) -> str:
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", text):
        raise ValueError("a colour as #rrggbb")
    return text.lower()


def _shares(text: str) -> tuple[float, ...]:
    parts = [p.strip() for p in text.split(",")]
    if not all(re.fullmatch(r"\d+(\.\d+)?\s*%", p) for p in parts):
        raise ValueError("shares such as 50 %, with commas between")
    return tuple(float(p.rstrip("% ")) / 100 for p in parts)


def _names(text: str) -> tuple[str, ...]:
    return tuple(name for name in re.split(r"[,\s]+", text.strip()) if name)


def _any(text: str) -> str:
    return text


def _one_of(*choices: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in choices:
            raise ValueError("one of " + ", ".join(choices))
        return text

    return read


_YES_NO = _one_of("yes", "no")
_ALIGN = _one_of("left", "centre", "right")
_VALIGN = _one_of("top", "middle", "bottom")
_EVERY: dict[str, Callable[[str], Any]] = {
    "line": _whole, "name": _any, "width": _length, "height": _length, "share": _number,
}  # fmt: skip
_BOX: dict[str, Callable[[str], Any]] = _EVERY | {
    "gap": _length, "pad": _lengths, "ground": _ink, "turn": _one_of("180"), "outline": _length,
}  # fmt: skip
_COLUMN = _BOX | {"spread": _one_of("top", "middle", "bottom", "apart"), "align": _ALIGN}

BLOCKS: Mapping[str, Mapping[str, Callable[[str], Any]]] = {
    "piece": {"line": _whole, "name": _any, "bleed": _length, "safe": _length},
    "front": _COLUMN | {"folds": _shares},
    "back": _COLUMN | {"folds": _shares},
    "column": _COLUMN,
    "row": _BOX | {"spread": _one_of("left", "middle", "right", "apart"), "valign": _VALIGN},
    "text": _EVERY
    | {
        "style": _any, "most": _type_size, "least": _type_size, "lines": _whole, "align": _ALIGN,
        "valign": _VALIGN, "ink": _ink,
    },
    "span": {"line": _whole, "style": _any, "size": _number, "ink": _ink},
    "picture": _EVERY | {"file": _any, "align": _ALIGN, "valign": _VALIGN, "says": _any},
    "figure": _EVERY | {"align": _ALIGN, "valign": _VALIGN, "photo": _YES_NO, "of": _any},
    "swatch": _EVERY | {"radius": _length, "of": _any},
    "code": _EVERY
    | {
        "kind": _one_of("qr", "retail"), "value": _any, "least": _length, "most": _length,
        "level": _one_of("L", "M", "Q", "H"), "align": _ALIGN, "valign": _VALIGN,
        "digits": _YES_NO, "hang": _length,
    },
    "rule": _EVERY | {"weight": _length, "ink": _ink, "dash": _length},
    "disclosure": _EVERY
    | {
        "kinds": _names, "style": _any, "signal": _any, "align": _ALIGN, "valign": _VALIGN,
        "joined": _YES_NO, "most": _type_size,
    },
    "spacer": _EVERY,
    "hole": {
        "line": _whole, "name": _any, "shape": _one_of("round", "euro"), "across": _length,
        "top": _length, "clear": _length,
    },
}  # fmt: skip
"""Every block and its attributes, each with what reads it."""

_HOLDS_BLOCKS = frozenset({"front", "back", "column", "row"})
_INNER = frozenset(BLOCKS) - {"piece", "front", "back", "span"}


@dataclass(slots=True)
class Node:
    """One block: its tag, its attributes read, its children or its words.

    ``words`` holds (text, span node or None) in order; only text blocks have any.
    """

    tag: str
    line: int
    attrs: dict[str, Any]
    children: list[Node] = field(default_factory=list)
    words: list[tuple[str, Node | None]] = field(default_factory=list)

    @property
    def name(self) -> str:
        """What messages call the block: its own name, or its tag and line."""
        own = self.attrs.get("name")
        return str(own) if own else f"<{self.tag}> in line {self.line}"


def read_markup(markup: str, file: str, sku: str = "") -> Node:
    """Return the tree of a filled-in layout, its root the piece.

    Raises:
        LabelerError: with every fault: not XML, unknown blocks and attributes with the
            nearest name, values that can't be read.
    """
    place = Place(file=file, piece=sku)
    if "<!" in markup.replace("<!--", ""):
        raise LabelerError(
            stop("layout-markup", place, "a layout has no document type, entities or CDATA")
        )
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, huge_tree=False, remove_comments=True,
        remove_pis=True, load_dtd=False,
    )  # fmt: skip
    try:
        root = etree.fromstring(markup.encode(), parser)
    except etree.XMLSyntaxError as error:
        near = _source_line(markup, error.lineno)
        raise LabelerError(
            stop("layout-markup", _at(place, near), f"this is not well-formed: {error.msg}")
        ) from error
    faults: list[Finding] = []
    tree = _node(root, place, faults, depth=0)
    _check_root(tree, place, faults)
    if faults:
        raise LabelerError(faults)
    return tree


def _source_line(markup: str, line: int | None) -> int | None:
    """Return the layout's own line for a line of the filled-in markup."""
    before = "\n".join(markup.split("\n")[: line or 0])
    marks = re.findall(r' line="(\d+)"', before)
    return int(marks[-1]) if marks else line


def _at(place: Place, line: int | None) -> Place:
    return Place(file=place.file, line=line, piece=place.piece)


def _check_root(tree: Node, place: Place, faults: list[Finding]) -> None:
    if tree.tag != "piece":
        faults.append(
            stop("layout-markup", _at(place, tree.line), "a layout is one <piece>",
                 found=f"<{tree.tag}>")
        )  # fmt: skip
    sides = [child.tag for child in tree.children]
    if sides not in (["front"], ["front", "back"]) and tree.tag == "piece":
        faults.append(
            stop("layout-markup", _at(place, tree.line), "a piece holds a <front>, then perhaps "
                 "a <back>", found=" ".join(f"<{s}>" for s in sides) or "nothing")
        )  # fmt: skip


def _node(element: Any, place: Place, faults: list[Finding], depth: int) -> Node:
    tag = str(element.tag)
    line = int(element.get("line") or element.sourceline or 0)
    here = _at(place, line)
    if tag not in BLOCKS:
        faults.append(
            stop("layout-unknown-block", here, f"there is no block <{tag}>",
                 hint=did_you_mean(tag, sorted(BLOCKS)))
        )  # fmt: skip
        return Node(tag, line, {})
    if depth > MOST_DEPTH:
        faults.append(stop("layout-markup", here, f"blocks nest deeper than {MOST_DEPTH}"))
        return Node(tag, line, {})
    node = Node(tag, line, _attributes(element, tag, here, faults))
    if tag == "text":
        _read_words(element, node, here, faults)
        return node
    loose = (element.text or "") + "".join(child.tail or "" for child in element)
    if loose.strip():
        faults.append(
            stop("layout-markup", here, f"words stand loose in <{tag}>", found=loose.strip()[:40],
                 hint="Put them into a <text>.")
        )  # fmt: skip
    for child in element:
        inner = _node(child, place, faults, depth + 1)
        allowed = {"front", "back"} if tag == "piece" else _INNER if tag in _HOLDS_BLOCKS else ()
        if inner.tag in BLOCKS and inner.tag not in allowed:
            faults.append(
                stop("layout-markup", _at(place, inner.line),
                     f"<{inner.tag}> can't stand in <{tag}>")
            )  # fmt: skip
        node.children.append(inner)
    return node


def _attributes(element: Any, tag: str, here: Place, faults: list[Finding]) -> dict[str, Any]:
    attrs: dict[str, Any] = {}
    known = BLOCKS[tag]
    for name, text in element.attrib.items():
        if name not in known:
            faults.append(
                stop("layout-unknown-attribute", here, f"<{tag}> has no attribute {name!r}",
                     hint=did_you_mean(name, sorted(set(known) - {"line"})))
            )  # fmt: skip
            continue
        value = _value(known[name], text)
        if isinstance(value, ValueError):
            faults.append(
                stop("layout-value", here, f"<{tag}> can't use this {name}", found=repr(text),
                     expected=str(value))
            )  # fmt: skip
        else:
            attrs[name] = value
    return attrs


@lru_cache(maxsize=4_000)
def _value(reader: Callable[[str], Any], text: str) -> Any:
    """Return the value, or the ValueError that says what was expected."""
    try:
        return reader(text)
    except ValueError as error:
        return error


def _read_words(element: Any, node: Node, here: Place, faults: list[Finding]) -> None:
    """Collect a text block's words; white space folds as in XHTML, across spans too."""
    raw: list[tuple[str, Node | None]] = [(element.text or "", None)]
    for child in element:
        if child.tag != "span":
            faults.append(
                stop("layout-markup", here, f"<{child.tag}> can't stand in <text>",
                     hint="Only <span> can.")
            )  # fmt: skip
            continue
        line = int(child.get("line") or here.line or 0)
        span = Node("span", line, _attributes(child, "span", here, faults))
        raw += [(child.text or "", span), (child.tail or "", None)]
    ends_in_space = True
    for text, owner in raw:
        folded = re.sub(r"[ \t\r\n]+", " ", text)
        if ends_in_space:
            folded = folded.lstrip(" ")
        if folded:
            ends_in_space = folded.endswith(" ")
            node.words.append((folded, owner))
    if node.words and node.words[-1][0].endswith(" "):
        text, owner = node.words[-1]
        node.words[-1] = (text.rstrip(" "), owner)
