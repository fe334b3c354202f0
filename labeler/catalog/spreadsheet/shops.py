"""Shops on a sheet of their own, and what they pay: dealers and tiers of the catalog."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from labeler.catalog.spreadsheet.cells import Value, display, folded, is_blank
from labeler.catalog.spreadsheet.grid import CellGrid, SheetRow, cell_at, filled_cells
from labeler.catalog.spreadsheet.mapped import as_heading
from labeler.catalog.spreadsheet.own_cells import means, shop_field
from labeler.findings import Finding, as_written, listed, note

Tables = dict[str, dict[str, Any]]
Say = Callable[[str, Finding], None]
"""Puts a remark where what became of it is told: taken, proposed, asked or left_out."""

_SEARCHED = 30


def propose_tier(rows: Iterable[SheetRow], tables: Tables, say: Say) -> None:
    """Propose a tier where the wholesale price is the same part of every retail price."""
    both = [
        (row, row.values["price"][0], row.values["wholesale"][0])
        for row in rows
        if "price" in row.values and "wholesale" in row.values
    ]
    if not both:
        return
    row, retail, trade = both[0]
    off = round(100 * (1 - trade / retail)) if retail else 0
    nearly = all(abs(one * (100 - off) / 100 - two) <= _ROUNDED for _, one, two in both)
    if nearly and 0 < off < 100:
        tier = {"wholesale": {"name": "Wholesale", "off": f"{off} %"}}
        tables["tiers"] = tier | tables.get("tiers", {})
        message = f"the wholesale price is {off} % off everywhere, so it is proposed as a tier"
        say("proposed", note("tier-found", row.cell("wholesale"), message))
        return
    message = "wholesale prices that are no fixed part of the retail price are kept nowhere"
    say("left_out", note("tier-found", row.cell("wholesale"), message, found=str(trade)))


_ROUNDED = Decimal("0.05")
"""What a wholesale price may differ from its part of the retail price: rounded to a nickel."""


def read_shops(grid: CellGrid, tables: Tables, say: Say) -> None:
    """Take the shops from a sheet that lists them; say of any other that it is not read."""
    for at, (number, row) in enumerate(grid.rows[:_SEARCHED]):
        columns: dict[str, int] = {}
        for place, cell in enumerate(row):
            if isinstance(cell, str) and (name := shop_field(cell)):
                columns.setdefault(name, place)
        if "name" in columns and len(columns) > 2 and not tables.get("dealers"):
            dealers = _dealers(grid.rows[at + 1 :], columns)
            if dealers:
                tables["dealers"] = dealers
                message = "this sheet lists shops, and they are taken as dealers"
                names = listed([one["name"] for one in dealers.values()])
                say("taken", note("shops-found", grid.place(number), message, found=names))
                _discounts(grid, at, columns, tables, say)
                return
    first = grid.place(grid.rows[0][0])
    say("left_out", note("sheet-unread", first, "this sheet is not read"))


def _dealers(
    rows: Iterable[tuple[int, list[Value]]], columns: Mapping[str, int]
) -> dict[str, dict[str, str]]:
    dealers: dict[str, dict[str, str]] = {}
    for _, row in rows:
        texts = {
            name: folded(as_heading(row[place]))
            for name, place in columns.items()
            if name != "discount" and not is_blank(cell_at(row, place))
        }
        key = _shop_key(row, columns["name"])
        if key and len(texts) > 1 and not means("total", texts["name"]):
            dealers.setdefault(key, texts)
    return dealers


def _shop_key(row: Sequence[Value], place: int) -> str:
    cell = cell_at(row, place)
    name = "" if is_blank(cell) else folded(as_heading(cell))
    return re.sub(r"[\W_]+", "-", name.casefold()).strip("-")[:60]


def _discounts(
    grid: CellGrid, at: int, columns: Mapping[str, int], tables: Tables, say: Say
) -> None:
    """Propose a tier for each discount of the shops; ask about blank ones and unknown columns."""
    head, below = grid.rows[at], grid.rows[at + 1 :]
    dealers = tables["dealers"]
    seen: set[str] = set()
    for number, row in below if "discount" in columns else ():
        key, place = _shop_key(row, columns["name"]), columns["discount"]
        if key not in dealers or key in seen:
            continue
        seen.add(key)
        cell = cell_at(row, place)
        share, told = _discount(cell), grid.place(number, place)
        name = as_written(dealers[key]["name"])
        if share is None:
            say("asked", note(
                "discount-unread", told, f"{name} has no discount that can be read, so no tier",
                found="a blank" if is_blank(cell) else as_written(display(cell)),
                expected="a share such as 40 %",
                hint=f'tier = "NAME" under [dealers.{key}], a name of [tiers].',
            ))  # fmt: skip
            continue
        tier = f"off-{share}".replace(".", "-")
        tiers = tables.setdefault("tiers", {})
        tiers.setdefault(tier, {"name": f"{share} % off", "off": f"{share} %"})
        dealers[key]["tier"] = tier
        message = f"{name} is proposed to buy at {share} % off the retail price"
        say("proposed", note("discount-read", told, message, found=display(cell)))
    for place, heading in enumerate(head[1]):
        cells = filled_cells(below, place)
        if cells and place not in columns.values():
            text = grid.column_name(place) if is_blank(heading) else folded(as_heading(heading))
            samples = listed([display(cell) for cell in cells], 3)
            say("asked", note(
                "unknown-column", grid.place(head[0], place),
                "this column of the list of shops is not read",
                found=f"{as_written(text)} over {samples}",
            ))  # fmt: skip


def _discount(cell: Value) -> Decimal | None:
    """Return how many parts of a hundred a cell takes off; None if it does not plainly say so.

    A spreadsheet keeps 40 % as 0.4; what is below 1 is a share, and 1 may be either.
    """
    if isinstance(cell, bool):
        return None
    text = folded(cell if isinstance(cell, str) else display(cell))
    found = re.fullmatch(r"(\d{0,2}(?:[.,]\d{1,4})?)\s*(%?)(?:\s*off)?", text)
    if not found or not found[1]:
        return None
    share = Decimal(found[1].replace(",", "."))
    if not found[2] and share < 1:
        share *= 100
    elif not found[2] and share == 1:
        return None
    return Decimal(f"{share.normalize():f}") if 0 < share < 100 else None
