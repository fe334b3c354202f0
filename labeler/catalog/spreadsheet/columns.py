"""The columns of the products' spreadsheet: one row here for each.

To add a column, add a row, a reader if its cells are of a new kind, and in ``rows.py`` what it
changes in a product.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass

from labeler.catalog.spreadsheet import cells
from labeler.catalog.spreadsheet.cells import Reader, read_gtin


@dataclass(frozen=True, slots=True)
class ColumnSpec:
    """A column: what it is called, how its cells are read, and what it is for."""

    name: str
    read: Reader
    example: str
    about: str
    also: tuple[str, ...] = ()
    """Other headings that mean the same."""


PRODUCT_COLUMNS = (
    ColumnSpec(
        "sku", cells.read_sku, "RV-38-40-MLN",
        "Which product the row is about; left blank, it is put together from the four below.",
        ("skus", "itemnumber", "itemno", "stocknumber", "partnumber"),
    ),
    ColumnSpec(
        "pattern", cells.read_line, "river-vesper",
        "For an added product: a pattern of the catalog, by heading, code or name.",
        ("patterns", "jig"),
    ),
    ColumnSpec(
        "weight", cells.read_weight, "3/8 oz",
        "For an added product: the weight. A number without a unit is ounces.",
        ("weights", "headweight", "wt"),
    ),
    ColumnSpec(
        "hook", cells.read_hook, "4/0",
        "For an added product: the hook size.",
        ("hooks", "hooksize", "hooksizes"),
    ),
    ColumnSpec(
        "colour", cells.read_line, "melon",
        "For an added product: a colour of the catalog, by heading, code or name.",
        ("color", "colours", "colors", "colourway", "colorway"),
    ),
    ColumnSpec(
        "price", cells.read_price, "4.75",
        "Suggested retail price of one pack.",
        ("prices", "retail", "retailprice", "srp", "msrp"),
    ),
    ColumnSpec(
        "gtin", read_gtin, "9521234543213",
        "The product's GTIN, with its check digit. Once given it never changes.",
        ("upc", "ean", "barcode", "upccode", "eancode", "gtinupc"),
    ),
    ColumnSpec(
        "photo", cells.read_line, "vesper-melon.jpg",
        "A file in photos/.",
        ("picture", "image", "photos"),
    ),
    ColumnSpec(
        "note", cells.read_note, "limited to this spring",
        "A line of your own.",
        ("notes", "remark", "remarks", "comment", "comments"),
    ),
    ColumnSpec(
        "retired", cells.read_yes, "yes",
        "Whether the product is sold no more.",
        ("discontinued", "retire"),
    ),
    ColumnSpec(
        "pack", cells.read_pack, "2",
        "Jigs in one pack.",
        ("packs", "packsize", "perpack", "packof"),
    ),
    ColumnSpec(
        "markets", cells.read_markets, "US, US-CA",
        "Where this product is sold, if not everywhere the catalog says.",
        ("market",),
    ),
)  # fmt: skip

GTIN_COLUMNS = tuple(column for column in PRODUCT_COLUMNS if column.name in ("sku", "gtin"))


def heading(text: str) -> str:
    """Return a heading without what may differ: case, spaces, underscores, signs."""
    return re.sub(r"[\W_]+", "", text.casefold())


def named(columns: tuple[ColumnSpec, ...], text: str) -> ColumnSpec | None:
    """Return the column that a heading means; ``Hook #`` is the hook, ``Item #`` the SKU."""
    for plain in dict.fromkeys((heading(text), heading(text.replace("#", "number")))):
        for column in columns:
            if plain == column.name or plain in column.also:
                return column
    return None


def nearest_column(columns: tuple[ColumnSpec, ...], text: str) -> ColumnSpec | None:
    """Return the column that a misspelt heading is probably meant for, or None."""
    names = {name: column for column in columns for name in (column.name, *column.also)}
    close = difflib.get_close_matches(heading(text), list(names), n=1, cutoff=_NEAR)
    return names[close[0]] if close else None


_NEAR = 0.7
"""How alike a heading must be to pass for a slip: ``prise`` is, ``cost`` is not."""
