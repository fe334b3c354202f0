"""The sheets and layouts that there are: their sizes, what a piece carries, which go together.

What a layout carries is found by filling it in: every fact is marked with a letter of its own that
no typeface has, and what comes out with that mark is printed. So a layout of the maker's own is
described as truly as one that ships.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from labeler import files
from labeler.layout.index import LayoutSpec, Size, Use, read_index, suiting
from labeler.press.impose import cut_grid
from labeler.press.sheets import Sheet, all_sheets
from labeler.units import POINTS_PER_INCH, dimensions

if TYPE_CHECKING:
    from labeler.catalog.model import Product
    from labeler.layout.compose import Composer


@dataclass(frozen=True, slots=True)
class ShownSheet:
    """A sheet, and the layouts made for its cells, by use; the first of each is the usual one."""

    sheet: Sheet
    layouts: Mapping[Use, tuple[str, ...]]

    @property
    def what(self) -> str:
        """What it is: labels of which size on which paper."""
        sheet = self.sheet
        paper, grid = dimensions(sheet.width, sheet.height), sheet.grid
        if grid is None:
            return f"card stock {paper}, cut into cells that follow the card"
        if sheet.kind == "roll":
            return f"roll, one label {paper}" + (f", {sheet.dpi} dpi" if sheet.dpi else "")
        cell = dimensions(grid.cell_width, grid.cell_height)
        return f"{grid.columns} x {grid.rows} labels {cell} on {paper}"

    def lines(self) -> Iterator[str]:
        """Yield what is to be read of it."""
        yield self.sheet.name
        yield f"    {self.what}. Source: {self.sheet.source}."
        fit = "; ".join(f"{use}: {', '.join(names)}" for use, names in self.layouts.items())
        yield f"    Layouts for {fit}." if fit else "    No layout is made for cells of this size."

    def as_json(self) -> dict[str, Any]:
        """Return plain values; lengths in inches."""
        sheet, grid = self.sheet, self.sheet.grid
        return {
            "name": sheet.name, "kind": sheet.kind, "paper": _inches((sheet.width, sheet.height)),
            "columns": grid.columns if grid else None, "rows": grid.rows if grid else None,
            "cell": _inches((grid.cell_width, grid.cell_height)) if grid else None,
            "dpi": sheet.dpi, "punched": sheet.punched, "source": sheet.source,
            "layouts": {use: list(names) for use, names in self.layouts.items()},
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class ShownLayout:
    """A layout, what a piece of it carries, and the sheets that it is made for.

    ``roomy`` is what only its larger pieces carry.
    """

    spec: LayoutSpec
    carries: tuple[str, ...]
    roomy: tuple[str, ...]
    sheets: tuple[str, ...]

    def lines(self) -> Iterator[str]:
        """Yield what is to be read of it."""
        spec = self.spec
        size = f"; {dimensions(*spec.size)} if nothing else is asked for" if spec.size else ""
        yield f"{spec.name}  ({spec.use})"
        if spec.about:
            yield f"    {spec.about}"
        yield f"    From {dimensions(*spec.least)} to {dimensions(*spec.most)}{size}."
        more = f"; the larger ones also {', '.join(self.roomy)}" if self.roomy else ""
        yield f"    Carries {', '.join(self.carries)}{more}."
        yield f"    Sheets: {', '.join(self.sheets) or 'none of those known here'}."

    def as_json(self) -> dict[str, Any]:
        """Return plain values; lengths in inches."""
        spec = self.spec
        return {
            "name": spec.name, "use": spec.use, "about": spec.about, "least": _inches(spec.least),
            "most": _inches(spec.most), "usual": _inches(spec.size) if spec.size else None,
            "carries": list(self.carries), "carries_if_large": list(self.roomy),
            "sheets": list(self.sheets),
        }  # fmt: skip


def _inches(size: Size) -> list[float]:
    return [round(side / POINTS_PER_INCH, 4) for side in size]


def shown_sheets(folder: Path) -> tuple[ShownSheet, ...]:
    """Return every sheet with the layouts made for it, the maker's own among them.

    Raises:
        LabelerError: if a file of the maker's own can't be read.
    """
    index = read_index(folder)
    ordered = sorted(all_sheets(folder).values(), key=lambda each: (each.kind, each.name))
    return tuple(ShownSheet(sheet, _made_for(sheet, index)) for sheet in ordered)


def _made_for(sheet: Sheet, index: Mapping[str, LayoutSpec]) -> dict[Use, tuple[str, ...]]:
    uses: tuple[Use, Use] = ("bags", "cards")
    fit: dict[Use, list[str]] = {
        use: [name for name, spec in index.items() if spec.use == use and goes_on(spec, sheet)]
        for use in uses
    }
    if fit["bags"] and sheet.grid is not None:
        usual = suiting(index, "bags", (sheet.grid.cell_width, sheet.grid.cell_height)).name
        fit["bags"].sort(key=lambda name: name != usual)
    return {use: tuple(names) for use, names in fit.items() if names}


def goes_on(spec: LayoutSpec, sheet: Sheet) -> bool:
    """Tell whether a layout is made for a sheet: labels for its cells, cards for card stock."""
    if spec.use == "bags":
        grid = sheet.grid
        return grid is not None and spec.suits((grid.cell_width, grid.cell_height))
    usual = spec.size or spec.least
    return sheet.kind == "card" and cut_grid(sheet, *usual, 0.0) is not None


def shown_layouts(folder: Path) -> tuple[ShownLayout, ...]:
    """Return every layout that a layouts.toml lists, the maker's own among them.

    Raises:
        LabelerError: if a layout, or a file of the maker's own, is at fault.
    """
    from labeler.layout.compose import Composer  # with what reads a layout

    composer, sheets = Composer(folder), all_sheets(folder).values()
    shown = []
    for spec in read_index(folder).values():
        least = tuple(_carried(composer, spec.name, spec.least))
        most = tuple(_carried(composer, spec.name, spec.most))
        roomy = tuple(word for word in most if word not in least)
        on = tuple(sheet.name for sheet in sheets if goes_on(spec, sheet))
        shown.append(ShownLayout(spec, least, roomy, on))
    return tuple(shown)


_FIELDS = {
    "product.pattern": "name", "product.colour": "color", "product.kind": "kind",
    "product.weight_number": "weight", "product.hook": "hook", "product.head": "head",
    "product.guard": "guard", "product.length": "length", "product.layers.shade": "recipe in words",
    "product.story": "story", "product.care": "care", "product.note": "note",
    "product.price": "price", "product.sku": "SKU", "lot": "lot", "maker.name": "maker",
    "maker.address": "address", "maker.phone": "telephone", "maker.email": "e-mail",
    "maker.site": "web address",
}  # fmt: skip
"""What a fact is called where a layout prints it in words."""

_BLOCKS = {
    "figure": "figure or photo", "picture": "picture", "swatch": "recipe bar", "qr": "QR code",
    "retail": "bars", "disclosure": "what must be said", "hole": "hang hole", "back": "back",
}  # fmt: skip
"""What a block is called, a code by its kind."""

_FIRST_MARK = 0xE000
"""Of the letters that Unicode gives no meaning (The Unicode Standard, 23.5)."""


def _carried(composer: Composer, layout: str, size: Size) -> Iterator[str]:
    """Yield what stands on a piece of this size, in the order of the tables above."""
    from labeler.layout.facts import facts_of, statement_facts

    width, height = size
    facts = facts_of(_any_product(), lot="1", link="1", width=width, height=height, black=False)
    marks: dict[str, str] = {}
    says = statement_facts(())
    words, blocks = composer.contents(layout, {**_marked(facts, "", marks), "says": says})
    for path, word in _FIELDS.items():
        if marks[path] in words:
            yield word
    yield from (word for block, word in _BLOCKS.items() if block in blocks)


def _marked(value: Any, path: str, marks: dict[str, str]) -> Any:
    """Return facts with every text marked, the empty ones too; a list's marks are its items'."""
    if isinstance(value, Mapping):
        under = f"{path}." if path else ""
        return {key: _marked(each, f"{under}{key}", marks) for key, each in value.items()}
    if isinstance(value, list):
        return [_marked(each, path, marks) for each in value]
    if not isinstance(value, str):
        return value
    return value + marks.setdefault(path, chr(_FIRST_MARK + len(marks)))


@lru_cache(maxsize=1)
def _any_product() -> Product:
    """Return the first product of the starter: any has every fact, and each is marked."""
    from labeler.catalog.read import read_catalog

    return read_catalog(files.shipped("layouts") / "starter").products[0]
