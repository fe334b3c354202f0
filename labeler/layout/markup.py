"""Markup text becomes a tree of nodes whose attributes are read and checked.

The markup is XML without any of XML's doors: no document type, no entity, no processing
instruction. `BLOCKS` is the whole language.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from labeler.disclosures.rules import KINDS
from labeler.findings import Finding, LabelerError, Place, did_you_mean, listed, stop
from labeler.units import Length

Reader = Callable[[str], Any]
"""What makes a value of an attribute's text, or raises a ValueError that says what it wants."""

KINDS_IN_MARKUP = tuple(kind.replace(" ", "-") for kind in KINDS)
"""The kinds of statement as layouts write them."""

_LARGEST_TYPE = 10_000.0
"""Points; a letter as high as a house."""

_LONGEST = 14_400.0
"""Points: 200 in, the longest side of a page. Source: ISO 32000-1:2008, annex C.2."""

_SMALLEST_SCALE = 0.1
"""How small a span may be to its text, and a text to its span."""

_FINEST_DASH = 0.1
"""Points. 1/720 inch is about what the finest desk printers can draw; shorter dashes are grey."""


def _checked(read: Reader, holds: Callable[[Any], object], expected: str) -> Reader:
    """Return a reader that refuses what ``read`` makes of a text where it does not hold."""

    def checked(text: str) -> Any:
        value = read(text)
        if not holds(value):
            raise ValueError(expected)
        return value

    return checked


def _matched(pattern: str, convert: Reader, expected: str) -> Reader:
    """Return a reader that converts a text of this pattern, white space around it forgiven."""
    return lambda text: convert(_checked(str, re.compile(pattern).fullmatch, expected)(text))


def _points(text: str) -> float:
    return Length.parse(text).pt


_length = _checked(_points, lambda length: length <= _LONGEST, "a length up to 200 in")
_extent = _checked(_length, lambda length: length > 0, "a length above 0")
_dash = _checked(
    _length, lambda length: not 0 < length < _FINEST_DASH,
    f"a length of {_FINEST_DASH:g}pt or more, or 0 for no dashes",
)  # fmt: skip
_type_size = _checked(
    _points, lambda size: 0 < size <= _LARGEST_TYPE, "a size above 0, such as 9pt"
)
_number = _matched(r"\s*[0-9]{1,4}(\.[0-9]{1,6})?\s*", float, "a number such as 1 or 0.5")
_scale = _checked(
    _number, lambda scale: _SMALLEST_SCALE <= scale <= 1 / _SMALLEST_SCALE,
    "a share of the text's own size, such as 0.5",
)  # fmt: skip
_whole = _matched(r"\s*[1-9]\d{0,3}\s*", int, "a whole number above 0")
_ink = _matched("#[0-9a-fA-F]{6}", str.lower, "a colour as #rrggbb")


def _lengths(text: str) -> tuple[float, float, float, float]:
    """Read one to four lengths as top, right, bottom, left; the missing ones mirror."""
    parts = [_length(p) for p in text.split(",")]
    if not 1 <= len(parts) <= 4:
        raise ValueError("one to four lengths with commas between: top, right, bottom, left")
    while len(parts) < 4:
        parts.append(parts[max(0, len(parts) - 2)])
    return parts[0], parts[1], parts[2], parts[3]


def _shares(text: str) -> tuple[float, ...]:
    parts = [p.strip() for p in text.split(",")]
    if not all(re.fullmatch(r"[0-9]{1,2}(\.[0-9]{1,6})?\s*%", p) for p in parts):
        raise ValueError("shares of the height under 100 %, such as 50 %, with commas between")
    return tuple(float(p.rstrip("% ")) / 100 for p in parts)


def _kinds(text: str) -> tuple[str, ...]:
    kinds = tuple(name for name in re.split(r"[,\s]+", text.strip()) if name)
    if not set(kinds) <= set(KINDS_IN_MARKUP):
        raise ValueError(f"some of {', '.join(KINDS_IN_MARKUP)}")
    return kinds


def _one_of(*choices: str) -> Reader:
    return _checked(str, choices.__contains__, "one of " + ", ".join(choices))


_YES_NO = _one_of("yes", "no")
_ALIGN = _one_of("left", "centre", "right")
_VALIGN = _one_of("top", "middle", "bottom")
_EVERY: dict[str, Reader] = {
    "name": str, "width": _length, "height": _length, "share": _number,
}  # fmt: skip
_BOX: dict[str, Reader] = _EVERY | {
    "gap": _length, "pad": _lengths, "ground": _ink, "turn": _one_of("180"), "outline": _extent,
}  # fmt: skip
_COLUMN = _BOX | {"spread": _one_of("top", "middle", "bottom", "apart"), "align": _ALIGN}

BLOCKS: Mapping[str, Mapping[str, Reader]] = {
    "piece": {"name": str, "bleed": _length, "safe": _length},
    "front": _COLUMN | {"folds": _shares},
    "back": _COLUMN | {"folds": _shares},
    "column": _COLUMN,
    "row": _BOX
    | {
        "spread": _one_of("left", "middle", "right", "apart"),
        "valign": _one_of("top", "middle", "bottom", "baseline"),
    },
    "text": _EVERY
    | {
        "style": str, "most": _type_size, "least": _type_size, "lines": _whole, "align": _ALIGN,
        "valign": _VALIGN, "ink": _ink, "aim": _type_size, "under": str,
    },
    "span": {"style": str, "size": _scale, "ink": _ink},
    "picture": _EVERY | {"file": str, "align": _ALIGN, "valign": _VALIGN, "says": str},
    "figure": _EVERY
    | {"align": _ALIGN, "valign": _VALIGN, "photo": _YES_NO, "of": str, "label": str},
    "swatch": _EVERY | {"of": str, "layer": _whole, "align": _ALIGN},
    "code": _EVERY
    | {
        "kind": _one_of("qr", "retail"), "value": str, "least": _extent, "most": _extent,
        "level": _one_of("L", "M", "Q", "H"), "align": _ALIGN, "valign": _VALIGN,
        "digits": _YES_NO, "hang": _length,
    },
    "rule": _EVERY | {"weight": _extent, "ink": _ink, "dash": _dash},
    "disclosure": _EVERY
    | {
        "kinds": _kinds, "style": str, "signal": str, "align": _ALIGN, "valign": _VALIGN,
        "joined": _YES_NO, "most": _type_size,
    },
    "spacer": _EVERY,
    "hole": {
        "name": str, "shape": _one_of("round", "euro"), "across": _extent,
        "top": _length, "clear": _length,
    },
}  # fmt: skip
"""Every block and its attributes, each with what reads it."""


@lru_cache(maxsize=4_000)
def value_of(reader: Reader, text: str) -> Any:
    """Return the value that an attribute's reader makes of ``text``, or a `Refused`."""
    try:
        return reader(text)
    except ValueError as error:
        return Refused(str(error))


@dataclass(frozen=True, slots=True)
class Refused:
    """A value that can't be used, with what was expected."""

    expected: str


MOST_DEPTH = 40
"""How deep blocks may nest."""

_CONTAINERS = frozenset({"piece", "front", "back", "column", "row"})
_INNER = frozenset(BLOCKS) - {"piece", "front", "back", "span"}


_CALLED = 30
"""Letters of its words by which a text is called."""

_SPOKEN = {
    "colour": "color", "gtin": "article number", "link": "QR code", "pattern": "pattern's name",
    "recipe": "recipe bar", "sku": "SKU",
}  # fmt: skip
"""What makers call the blocks of layouts that ship, where that is not their name."""

_PLAINLY = {"swatch": "the recipe bar", "disclosure": "what must be said"}


@dataclass(slots=True)
class Node:
    """One block: its tag, where it stands, its attributes read, its children or its words.

    ``words`` holds (text, span node or None) in order; only text blocks have any. ``key`` is the
    way to it from the piece, by tags, names and lines: the same for the same block of every piece
    of a layout.
    """

    tag: str
    file: str
    line: int
    attrs: dict[str, Any] = field(default_factory=dict)
    children: list[Node] = field(default_factory=list)
    words: list[tuple[str, Node | None]] = field(default_factory=list)
    key: str = ""

    def __iter__(self) -> Iterator[Node]:
        """Yield the node and all nodes in it, in the order of the file."""
        yield self
        for child in self.children:
            yield from child

    @property
    def name(self) -> str:
        """What messages call the block: its own name, or its tag and line."""
        own = self.attrs.get("name")
        return str(own) if own else f"<{self.tag}> in line {self.line}"

    @property
    def called(self) -> str:
        """What the block is called where its line would tell nothing: by what stands in it."""
        names = (str(node.attrs["name"]) for node in self if node.attrs.get("name"))
        inner = [_SPOKEN.get(name, name) for name in names]
        words = "".join(text for text, _ in self.words)[:_CALLED]
        if not inner:
            return f"“{words}”" if words else _PLAINLY.get(self.tag, f"the {self.tag}")
        return f"the {listed(list(dict.fromkeys(inner)), 3)}"


def read_markup(markup: str, file: str, sku: str = "", files: Sequence[str] = ()) -> Node:
    """Return the tree of a filled-in layout, its root the piece.

    Args:
        markup: the layout, filled in.
        file: the layout's file, for messages.
        sku: the piece's.
        files: the files that tags name by number, where they stand in other ones.

    Raises:
        LabelerError: with every fault: not XML, unknown blocks and attributes with the
            nearest name, values that can't be read.
    """
    reader = _MarkupReader(file, sku, files)
    tree = reader.node(_parsed(markup, reader), depth=0)
    reader.check_root(tree)
    if reader.faults:
        raise LabelerError(reader.faults)
    _give_keys(tree)
    return tree


def _give_keys(node: Node) -> None:
    """Give every block in a node its key."""
    used: dict[str, int] = {}
    for child in node.children:
        name = child.attrs.get("name")
        own = f"{name}@{child.line}" if name else f"{child.tag}@{child.line}"
        used[own] = used.get(own, 0) + 1
        child.key = f"{node.key}/{own}" if used[own] == 1 else f"{node.key}/{own}+{used[own]}"
        if child.children:
            _give_keys(child)


def _parsed(markup: str, reader: _MarkupReader) -> Any:
    if "<!" in markup.replace("<!--", ""):
        reader.fault(None, "a layout has no document type, entities or CDATA")
        raise LabelerError(reader.faults)
    from lxml import etree  # a tenth of the start of a command that lays nothing out

    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, huge_tree=False, remove_comments=True,
        remove_pis=True, load_dtd=False,
    )  # fmt: skip
    try:
        return etree.fromstring(markup.encode("utf-8", "surrogatepass"), parser)
    except etree.XMLSyntaxError as error:
        before = "\n".join(markup.split("\n")[: error.lineno or 0])
        stamps = re.findall(r' line="(\d+:\d+)"', before)
        near = reader.stands(stamps[-1] if stamps else None, error.lineno)
        reader.fault(Node("", *near), f"this is not well-formed: {error.msg}")
        raise LabelerError(reader.faults) from error


@lru_cache(maxsize=1_024)
def _stamped(stamp: str) -> tuple[int, int] | None:
    """Return the number of the file and the line that a tag is stamped with."""
    found = re.fullmatch(r"(\d{1,6}):(\d{1,6})", stamp)
    return (int(found[1]), int(found[2])) if found else None


class _MarkupReader:
    """Makes nodes of elements and gathers what is wrong with them."""

    def __init__(self, file: str, sku: str, files: Sequence[str]) -> None:
        self.file, self.sku, self.files = file, sku, files
        self.faults: list[Finding] = []

    def fault(
        self, node: Node | None, message: str, *, rule: str = "layout-markup", **details: str
    ) -> None:
        """Add a fault of a node."""
        file, line = (node.file, node.line) if node else (self.file, None)
        self.faults.append(stop(rule, Place(file, line, piece=self.sku), message, **details))

    def stands(self, stamp: str | None, line: int | None) -> tuple[str, int]:
        """Return the file and line that a tag is stamped with, or the markup's own line."""
        found = _stamped(stamp or "")
        if found and found[0] < len(self.files):
            return self.files[found[0]], found[1]
        return self.file, line or 0

    def node(self, element: Any, depth: int) -> Node:
        """Return the node of an element, with everything in it."""
        tag = str(element.tag)
        node = Node(tag, *self.stands(element.get("line"), element.sourceline))
        if tag not in BLOCKS:
            self.fault(
                node, f"there is no block <{tag}>", rule="layout-unknown-block",
                hint=did_you_mean(tag, sorted(BLOCKS)),
            )  # fmt: skip
        elif depth > MOST_DEPTH:
            self.fault(node, f"blocks nest deeper than {MOST_DEPTH}")
        else:
            self.read_attributes(element, node)
            if tag == "text":
                node.words = list(_folded(self.words(element, node)))
            else:
                self.read_children(element, node, depth)
        return node

    def read_attributes(self, element: Any, node: Node) -> None:
        """Read every attribute that the block knows."""
        known = BLOCKS[node.tag]
        for name, text in element.attrib.items():
            if name == "line":
                continue
            if name not in known:
                self.fault(
                    node, f"<{node.tag}> has no attribute {name!r}",
                    rule="layout-unknown-attribute", hint=did_you_mean(name, sorted(known)),
                )  # fmt: skip
                continue
            value = value_of(known[name], text)
            if isinstance(value, Refused):
                self.fault(
                    node, f"<{node.tag}> can't use this {name}", rule="layout-value",
                    found=repr(text), expected=value.expected,
                )  # fmt: skip
            else:
                node.attrs[name] = value

    def read_children(self, element: Any, node: Node, depth: int) -> None:
        """Read the blocks in a block; refuse those that can't stand there, and loose words."""
        loose = (element.text or "") + "".join(child.tail or "" for child in element)
        if loose.strip():
            self.fault(
                node, f"words stand loose in <{node.tag}>", found=loose.strip()[:40],
                hint="Put them into a <text>.",
            )  # fmt: skip
        allowed = {"front", "back"} if node.tag == "piece" else _INNER
        for child in element:
            inner = self.node(child, depth + 1)
            stands = inner.tag in allowed and node.tag in _CONTAINERS
            if inner.tag in BLOCKS and not stands:
                self.fault(inner, f"<{inner.tag}> can't stand in <{node.tag}>")
            node.children.append(inner)

    def words(self, element: Any, node: Node) -> Iterator[tuple[str, Node | None]]:
        """Yield a text block's words, each with the span that it stands in."""
        yield element.text or "", None
        for child in element:
            span = Node(str(child.tag), *self.stands(child.get("line"), child.sourceline))
            if span.tag != "span":
                self.fault(span, f"<{span.tag}> can't stand in <text>", hint="Only <span> can.")
                continue
            if len(child):
                self.fault(
                    span, f"<{child[0].tag}> can't stand in <span>", hint="A span holds words only."
                )  # fmt: skip
                continue
            self.read_attributes(child, span)
            yield child.text or "", span
            yield child.tail or "", None

    def check_root(self, tree: Node) -> None:
        """Refuse a root that is no piece, and a piece without a front."""
        if tree.tag != "piece":
            self.fault(tree, "a layout is one <piece>", found=f"<{tree.tag}>")
            return
        sides = [child.tag for child in tree.children]
        if sides not in (["front"], ["front", "back"]):
            self.fault(
                tree, "a piece holds a <front>, then perhaps a <back>",
                found=" ".join(f"<{side}>" for side in sides) or "nothing",
            )  # fmt: skip


def _folded(raw: Iterator[tuple[str, Node | None]]) -> Iterator[tuple[str, Node | None]]:
    """Fold white space as XHTML does, across spans too; what else is a space stays."""
    kept: list[tuple[str, Node | None]] = []
    ends_in_space = True
    for text, owner in raw:
        folded = re.sub(r"[ \t\r\n]+", " ", text)
        if ends_in_space:
            folded = folded.lstrip(" ")
        if folded:
            ends_in_space = folded.endswith(" ")
            kept.append((folded, owner))
    if kept and ends_in_space:
        text, owner = kept.pop()
        kept.append((text.rstrip(" "), owner))
    return iter(kept)
