"""What does not fit on one label may fit on another: the layouts, sheets and sizes to hold it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from labeler.bench.wishes import Wish
from labeler.findings import Finding, Place, note
from labeler.layout.menu import Dish, read_menu
from labeler.press.sheet import Sheet
from labeler.press.sheets import all_sheets
from labeler.units import Length

Try = Callable[[Wish, Sheet], bool]
"""Lays all out for another wish on another sheet, and tells whether it fits."""

_NAMED = 3
"""How many ways out are named."""

_GROWN = Length.from_inches(0.5).pt
"""The step by which a card is made higher and wider."""

_GROWTHS = 4


def held_elsewhere(wish: Wish, sheet: Sheet, fits: Try, count: int) -> Finding:
    """Return which other layouts and sheets, or sizes of card, hold what does not fit.

    Args:
        wish: what was asked for.
        sheet: the sheet on which it does not fit.
        fits: tries another wish.
        count: how many products do not fit.
    """
    ways = _other_labels(wish, sheet) if wish.use == "bags" else _other_cards(wish, sheet)
    found: list[str] = []
    for other, on, words in ways:
        if len(found) < _NAMED and fits(other, on):
            found.append(words)
    them = "the product" if count == 1 else f"the {count} products"
    return note(
        "held-elsewhere",
        Place(file="layouts/layouts.toml"),
        f"{them} that this does not hold would fit elsewhere"
        if found
        else f"no other shipped layout on paper of this kind holds {them} either",
        hint=f"Try {'; or '.join(found)}."
        if found
        else "Shorten the names and the recipe’s words.",
    )


def _other_labels(wish: Wish, sheet: Sheet) -> Iterator[tuple[Wish, Sheet, str]]:
    """Yield other layouts on the same sheet, then sheets of the same paper, the smallest first."""
    sheets = all_sheets(wish.folder)
    for on in sorted(sheets.values(), key=_cell_area):
        if on.grid is None or not _alike(on, sheet):
            continue
        size = on.grid.cell_width, on.grid.cell_height
        for dish in read_menu(wish.folder).values():
            if dish.use == "bags" and dish.suits(size):
                other = replace(wish, sheet=on.name, layout=dish.name, size=None)
                yield other, on, f"--sheet {on.name} --layout {dish.name} ({_shown(size)})"


def _cell_area(sheet: Sheet) -> float:
    return sheet.grid.cell_width * sheet.grid.cell_height if sheet.grid else 0.0


def _alike(one: Sheet, other: Sheet) -> bool:
    """Tell whether two sheets go into the same printer: the same paper, or rolls of one head."""
    if one.kind != other.kind:
        return False
    same_paper = (one.width, one.height) == (other.width, other.height)
    return one.dpi == other.dpi if one.kind == "roll" else same_paper


def _other_cards(wish: Wish, sheet: Sheet) -> Iterator[tuple[Wish, Sheet, str]]:
    """Yield the cards at their usual size, then larger and larger ones, up to their largest."""
    cards = [dish for dish in read_menu(wish.folder).values() if dish.use == "cards"]
    for step in range(_GROWTHS):
        for dish in cards:
            size = _grown(dish, wish, step * _GROWN)
            other = replace(wish, layout=dish.name, size=size)
            yield other, sheet, f"--layout {dish.name} --size '{_shown(size)}'"


def _grown(dish: Dish, wish: Wish, more: float) -> tuple[float, float]:
    wide, high = wish.size or dish.size or dish.least
    return (
        min(dish.most[0], max(dish.least[0], wide + more / 2)),
        min(dish.most[1], max(dish.least[1], high + more)),
    )


def _shown(size: tuple[float, float]) -> str:
    return f"{Length(size[0])} x {Length(size[1])}"
