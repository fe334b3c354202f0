"""Which layouts there are, what each is for, and which one suits a label of a given size."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from labeler import files
from labeler.catalog.model import Bag
from labeler.findings import Finding, LabelerError, Place, did_you_mean, refusal, stop
from labeler.tomlfile import read_toml
from labeler.units import Length, dimensions

Use = Literal["bags", "cards"]
Size = tuple[float, float]

THING: Mapping[Use, str] = {"bags": "label", "cards": "card"}
"""What one piece is called."""

_INSET = Length.from_inches(0.25).pt
"""How much smaller than its bag an insert card is, each way. Common practice, no published
source."""

_LONGEST = Length.from_inches(100)
"""More than any printer of the trade takes."""

_KEYS = frozenset({"about", "use", "least", "most", "size", "follows", "packs"})


@dataclass(frozen=True, slots=True)
class LayoutSpec:
    """What a layout is made for. Sizes are width and height in points."""

    name: str
    about: str
    use: Use
    least: Size
    most: Size
    size: Size | None = None
    follows: str = ""
    packs: bool = False
    """Whether it is for assorted packs, and for nothing else."""

    def suits(self, size: Size) -> bool:
        """Tell whether the layout is made for a piece of ``size``."""
        return all(
            Length(low).fits_in(Length(side)) and Length(side).fits_in(Length(high))
            for side, low, high in zip(size, self.least, self.most, strict=True)
        )

    def size_for(self, bag: Bag | None) -> Size | None:
        """Return the card's size for goods in ``bag``, or its usual size."""
        if bag is None or bag.size is None or self.size is None:
            return self.size
        width, height = bag.size
        if self.follows == "header":
            return width.pt, self.size[1]
        if self.follows == "insert":
            return width.pt - _INSET, height.pt - _INSET
        return self.size


def read_index(maker_folder: Path | None = None) -> Mapping[str, LayoutSpec]:
    """Return every layout that a layouts.toml lists, the maker's own in place of ours.

    Raises:
        LabelerError: with every fault in the files.
    """
    index: dict[str, LayoutSpec] = {}
    faults: list[Finding] = []
    for folder in reversed(files.shelves("layouts", maker_folder)):
        file = folder / "layouts.toml"
        if file.is_file():
            for name, table in read_toml(file, f"{file.stem}-unreadable").data.items():
                place = Place(file=str(file), key=name)
                try:
                    index[name] = _spec(name, table)
                except ValueError as error:
                    faults.append(
                        stop("layouts-value", place, "this can't be read", expected=str(error))
                    )
    if faults:
        raise LabelerError(faults)
    return index


def _spec(name: str, table: Any) -> LayoutSpec:
    if not isinstance(table, dict):
        raise ValueError("a table")
    for key in table:
        if key not in _KEYS:
            raise ValueError(f"no key {key!r}. {did_you_mean(key, sorted(_KEYS))}")
    if table.get("use") not in ("bags", "cards"):
        raise ValueError('use = "bags" or "cards"')
    if table.get("follows", "") not in ("", "header", "insert"):
        raise ValueError('follows = "header" or "insert"')
    return LayoutSpec(
        name=name,
        about=str(table.get("about", "")),
        use=table["use"],
        least=_size(table.get("least", ["1/4 in", "1/4 in"])),
        most=_size(table.get("most", ["17 in", "17 in"])),
        size=_size(table["size"]) if "size" in table else None,
        follows=table.get("follows", ""),
        packs=table.get("packs") is True,
    )


def _size(pair: Any) -> Size:
    if not (isinstance(pair, list) and len(pair) == 2 and all(isinstance(p, str) for p in pair)):
        raise ValueError('two lengths, such as ["3 in", "4 in"]')
    size = Length.parse(pair[0]), Length.parse(pair[1])
    if not all(0 < side.pt <= _LONGEST.pt for side in size):
        raise ValueError(f"lengths above 0 and up to {_LONGEST}")
    return size[0].pt, size[1].pt


def suiting(
    index: Mapping[str, LayoutSpec], use: Use, size: Size, packs: bool = False
) -> LayoutSpec:
    """Return the layout for ``use`` that makes most of a piece of ``size``.

    Args:
        index: the layouts.
        use: what for.
        size: in points.
        packs: whether it is to be an assorted pack's.

    Raises:
        LabelerError: if none is made for that size, with the sizes that there are.
    """
    for_use = [spec for spec in index.values() if spec.use == use and spec.packs == packs]
    fit = [spec for spec in for_use if spec.suits(size)]
    if fit:
        return max(fit, key=lambda spec: spec.least[0] * spec.least[1])
    raise refusal(
        "no-layout-for-size",
        Place(),
        f"the {THING[use]}{' of an assorted pack' if packs else ''} is {dimensions(*size)}, "
        "and no layout here is made for that",
        expected="; ".join(
            f"{spec.name}: {dimensions(*spec.least)} to {dimensions(*spec.most)}"
            for spec in for_use
        ),
        hint="Choose another sheet, or name a layout of your own with --layout.",
    )
