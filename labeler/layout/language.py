"""The words of the markup: every block, its attributes, and what reads each attribute's value."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from labeler.disclosures.rules import KINDS
from labeler.units import Length

_LARGEST_TYPE = 10_000.0
"""Points; a letter as high as a house."""

_LONGEST = 14_400.0
"""Points: 200 in, the longest side of a page. Source: ISO 32000-1:2008, annex C.2."""

_SMALLEST_SCALE = 0.1
"""How small a span may be to its text, and a text to its span."""

_FINEST_DASH = 0.1
"""Points. 1/720 inch is about what the finest desk printers can draw; shorter dashes are grey."""


def _length(text: str) -> float:
    length = Length.parse(text).pt
    if length > _LONGEST:
        raise ValueError("a length up to 200 in")
    return length


def _extent(text: str) -> float:
    if not (length := _length(text)):
        raise ValueError("a length above nought")
    return length


def _dash(text: str) -> float:
    length = _length(text)
    if 0 < length < _FINEST_DASH:
        raise ValueError(f"a length of {_FINEST_DASH:g}pt or more, or 0 for no dashes")
    return length


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
    if not re.fullmatch(r"[0-9]{1,4}(\.[0-9]{1,6})?", text.strip()):
        raise ValueError("a number such as 1 or 0.5")
    return float(text)


def _scale(text: str) -> float:
    scale = _number(text)
    if not _SMALLEST_SCALE <= scale <= 1 / _SMALLEST_SCALE:
        raise ValueError("a share of the text's own size, such as 0.5")
    return scale


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
    if not all(re.fullmatch(r"[0-9]{1,2}(\.[0-9]{1,6})?\s*%", p) for p in parts):
        raise ValueError("shares of the height under 100 %, such as 50 %, with commas between")
    return tuple(float(p.rstrip("% ")) / 100 for p in parts)


def _kinds(text: str) -> tuple[str, ...]:
    known = [kind.replace(" ", "-") for kind in KINDS]
    kinds = tuple(name for name in re.split(r"[,\s]+", text.strip()) if name)
    for kind in kinds:
        if kind not in known:
            raise ValueError(f"some of {', '.join(known)}")
    return kinds


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
    "name": _any, "width": _length, "height": _length, "share": _number,
}  # fmt: skip
_BOX: dict[str, Callable[[str], Any]] = _EVERY | {
    "gap": _length, "pad": _lengths, "ground": _ink, "turn": _one_of("180"), "outline": _extent,
}  # fmt: skip
_COLUMN = _BOX | {"spread": _one_of("top", "middle", "bottom", "apart"), "align": _ALIGN}

BLOCKS: Mapping[str, Mapping[str, Callable[[str], Any]]] = {
    "piece": {"name": _any, "bleed": _length, "safe": _length},
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
        "style": _any, "most": _type_size, "least": _type_size, "lines": _whole, "align": _ALIGN,
        "valign": _VALIGN, "ink": _ink,
    },
    "span": {"style": _any, "size": _scale, "ink": _ink},
    "picture": _EVERY | {"file": _any, "align": _ALIGN, "valign": _VALIGN, "says": _any},
    "figure": _EVERY | {"align": _ALIGN, "valign": _VALIGN, "photo": _YES_NO, "of": _any},
    "swatch": _EVERY | {"of": _any, "layer": _whole},
    "code": _EVERY
    | {
        "kind": _one_of("qr", "retail"), "value": _any, "least": _extent, "most": _extent,
        "level": _one_of("L", "M", "Q", "H"), "align": _ALIGN, "valign": _VALIGN,
        "digits": _YES_NO, "hang": _length,
    },
    "rule": _EVERY | {"weight": _extent, "ink": _ink, "dash": _dash},
    "disclosure": _EVERY
    | {
        "kinds": _kinds, "style": _any, "signal": _any, "align": _ALIGN, "valign": _VALIGN,
        "joined": _YES_NO, "most": _type_size,
    },
    "spacer": _EVERY,
    "hole": {
        "name": _any, "shape": _one_of("round", "euro"), "across": _extent,
        "top": _length, "clear": _length,
    },
}  # fmt: skip
"""Every block and its attributes, each with what reads it."""


@lru_cache(maxsize=4_000)
def value_of(reader: Callable[[str], Any], text: str) -> Any:
    """Return the value that an attribute's reader makes of ``text``, or a `Refused`."""
    try:
        return reader(text)
    except ValueError as error:
        return Refused(str(error))


@dataclass(frozen=True, slots=True)
class Refused:
    """A value that can't be used, with what was expected."""

    expected: str
