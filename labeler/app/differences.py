"""What differs between a product as it was and as it is: in the words of its label."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from labeler.catalog.model import Product
from labeler.layout.facts import facts_of
from labeler.units import FRACTION_SLASH, NO_BREAK_SPACE, THIN_SPACE

_LONGEST = 60
"""Letters of a value that are shown."""

_SAID_BY_OTHERS = ("weight_number", "weight_unit", "gtin14", "name", "layers")
"""Facts that say what others say too."""

_PLAIN = str.maketrans({FRACTION_SLASH: "/", NO_BREAK_SPACE: " ", THIN_SPACE: " "})


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that a label would say otherwise."""

    what: str
    was: str
    now: str

    def as_json(self) -> dict[str, str]:
        """Return plain values."""
        return asdict(self)

    def __str__(self) -> str:
        """Return it as one says it."""
        return f"{self.what} {self.was or 'nothing'}, now {self.now or 'nothing'}"


def differences(was: Product, now: Product) -> tuple[Difference, ...]:
    """Return what the label of ``now`` would say otherwise than that of ``was``, and the recipe."""
    before, after = _facts(was), _facts(now)
    return tuple(
        Difference(what, _short(before[what]), _short(after[what]))
        for what in before
        if before[what] != after[what]
    )


def _facts(product: Product) -> dict[str, str]:
    facts = facts_of(product, lot="", link="", width=0, height=0, black=False)
    said = {
        key.replace("_", " "): _plain(value)
        for key, value in facts["product"].items()
        if key not in _SAID_BY_OTHERS
    }
    said |= {f"maker's {key}": _plain(value) for key, value in facts["maker"].items()}
    said["recipe"] = "; ".join(
        f"{layer.amount or layer.strands} {layer.shade} {layer.ink} {layer.seat}"
        for layer in product.colour.layers
    )
    said["markets"] = ", ".join(product.markets)
    said["links"] = product.maker.links or ""
    return said


def _plain(value: Any) -> str:
    return " ".join(str(value).translate(_PLAIN).split())


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"
