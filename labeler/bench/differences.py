"""What differs between a product as it was and as it is: in the words of its label."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from labeler.catalog.model import Product
from labeler.layout.facts import facts_of
from labeler.units import FRACTION_SLASH, NO_BREAK_SPACE, THIN_SPACE

_SHOWN = 60
_TOLD_OTHERWISE = ("weight_number", "weight_unit", "gtin14", "name")
"""Facts that say what others say too."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that a label would say otherwise."""

    what: str
    was: str
    now: str

    def as_json(self) -> dict[str, str]:
        """Return plain values."""
        return {"what": self.what, "was": self.was, "now": self.now}


def differences(was: Product, now: Product) -> tuple[Difference, ...]:
    """Return what the label of ``now`` would say otherwise than that of ``was``, and the recipe."""
    return tuple(_differences(_facts(was), _facts(now)))


def in_a_line(each: Difference) -> str:
    """Return a difference as one says it."""
    return f"{each.what} {each.was or 'nothing'}, now {each.now or 'nothing'}"


def _differences(was: Mapping[str, str], now: Mapping[str, str]) -> Iterator[Difference]:
    for what in was:
        if was[what] != now[what]:
            yield Difference(what, _short(was[what]), _short(now[what]))


def _facts(product: Product) -> dict[str, str]:
    facts = facts_of(product, lot="", link="", width=0, height=0, black=False)
    told = {
        key.replace("_", " "): _plain(value)
        for key, value in facts["product"].items()
        if key not in _TOLD_OTHERWISE and key != "layers"
    }
    told |= {f"maker's {key}": _plain(value) for key, value in facts["maker"].items()}
    told["recipe"] = "; ".join(_layer(layer) for layer in product.colour.layers)
    told["markets"] = ", ".join(product.markets)
    told["links"] = product.maker.links or ""
    return told


def _layer(layer: Any) -> str:
    pulled = layer.amount or layer.strands
    return f"{pulled} {layer.shade} {layer.ink} {layer.seat}"


def _plain(value: Any) -> str:
    text = str(value)
    for odd, plain in ((FRACTION_SLASH, "/"), (NO_BREAK_SPACE, " "), (THIN_SPACE, " ")):
        text = text.replace(odd, plain)
    return " ".join(text.split())


def _short(text: str) -> str:
    return text if len(text) <= _SHOWN else f"{text[: _SHOWN - 1]}…"
