"""A business name is a legal one: it may be long, and nobody may shorten it."""

from __future__ import annotations

import datetime as dt

import pytest

from labeler.catalog.model import Product
from labeler.disclosures.needed import card_panel, label_panel, needed
from labeler.layout.compose import Composer, Job
from labeler.layout.index import read_index
from labeler.marks import Glyphs, Piece, path_points
from labeler.units import Length

MENU = read_index()
LONG = "Gustavus and Marlena Featherstonehaugh's Hand Poured Jigs and Custom Tackle, LLC"
SIZES = {"insert-card": (2.75, 4.75), "header-card": (3.0, 4.0), "bag-panel": (4.0, 2.0)}


def of(product: Product, name: str, layout: str) -> Piece:
    """Lay out a product of a maker called ``name``."""
    named = product.model_copy(update={"maker": product.maker.model_copy(update={"name": name})})
    wide, high = (Length.from_inches(side) for side in SIZES[layout])
    panel = card_panel(wide, high) if MENU[layout].use == "cards" else label_panel(wide, high, None)
    said = needed(named, named.markets, dt.date(2026, 11, 25), panel=panel)
    return Composer().compose(Job(named, layout, (wide.pt, high.pt), said))


def lines_of(piece: Piece, name: str) -> list[Glyphs]:
    """Return the lines on the front in which a maker's name stands, in capitals."""
    return [
        mark
        for mark in piece.faces[0].marks
        if isinstance(mark, Glyphs) and mark.text.strip() and mark.text.strip() in name.upper()
    ]


@pytest.mark.parametrize("layout", list(SIZES))
def test_a_name_of_eighty_letters_stands_whole_on_two_lines_clear_of_the_hole(
    product: Product, layout: str
) -> None:
    piece = of(product, LONG, layout)
    printed = LONG.replace("'", "’")
    lines = lines_of(piece, printed)
    assert len(lines) == 2
    assert " ".join(line.text.strip() for line in lines) == printed.upper()
    for line in lines:
        assert line.size >= 5.5
        for hole in piece.faces[0].holes:
            xs, ys = zip(*path_points(hole), strict=True)
            under = line.y - line.size > max(ys)
            beside = line.x > max(xs) or line.x + line.width < min(xs)
            over = line.y + line.size / 4 < min(ys)
            assert under or beside or over, (line, hole)


@pytest.mark.parametrize("layout", list(SIZES))
def test_a_short_name_stays_on_one_line(product: Product, layout: str) -> None:
    assert len(lines_of(of(product, "Hobbin & Daughter", layout), "Hobbin & Daughter")) == 1
