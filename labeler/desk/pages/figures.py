"""The jig itself: a product of the line, drawn or photographed, or a lot drawn as it was tied."""

from __future__ import annotations

from typing import Any

from starlette.responses import Response

from labeler.app.lots import story_of
from labeler.catalog.model import Catalog, Colour, Product
from labeler.catalog.read import choose, readable
from labeler.catalog.structure import PHOTOS
from labeler.desk.page import Ask, DeskPage, PageRoute, picture
from labeler.desk.pages.recipe import dressed
from labeler.drawing.jig import draw_jig
from labeler.press.svg import svg

_PHOTO_PT = (195.0, 90.0)
"""The box of a photo in points: 260 x 120 CSS pixels, as lists show a jig."""


def pictured(catalog: Catalog) -> set[str]:
    """Return the SKUs that `/figure` has a picture of: what a list leaves no empty place for."""
    proposed = {one.code for one in _proposals(catalog)}
    return {
        product.sku for product in catalog.products
        if (unit := product.units[0]).colour.layers or unit.photo or unit.colour.code in proposed
    }  # fmt: skip


def shown_jigs(catalog: Catalog) -> dict[str, Any]:
    """Return by what a page shows jigs: which have a picture, and the state that they are of."""
    return {"drawn": pictured(catalog), "version": catalog.fingerprint[:12]}


def _proposals(catalog: Catalog) -> list[Colour]:
    return [one for one in catalog.file.colours.values() if one.proposed and one.layers]


def _of_product(ask: Ask) -> Response:
    """Show a product by its recipe; without one by its photo, or as it is proposed to be tied."""
    catalog, _ = readable(ask.folder)
    (product, *_) = choose(catalog, [ask.part("sku")], words_too=False)
    unit = product.units[0]
    if unit.colour.layers:
        return _drawn(product)
    if unit.photo:
        from labeler.drawing.photos import prepare  # Pillow only where there is a photo

        image, _ = prepare(ask.folder / PHOTOS / unit.photo, *_PHOTO_PT)
        return picture(image.data)
    proposed = (one for one in _proposals(catalog) if one.code == unit.colour.code)
    return _drawn(dressed(catalog, unit, next(proposed, unit.colour)))


def _of_lot(ask: Ask) -> Response:
    return _drawn(story_of(ask.folder, ask.part("code")).product)


def _drawn(product: Product) -> Response:
    group = draw_jig(product.units[0], detail="plain" if product.parts else "fine")
    return picture(svg([group], group.box, says=f"{product.units[0].name}, {group.says}"))


PAGE = DeskPage(
    "", (PageRoute("/figure/lot/{code}", _of_lot), PageRoute("/figure/{sku}", _of_product))
)
