"""The jig itself, drawn from its recipe: of a product of the line, or as a lot has kept it."""

from __future__ import annotations

from starlette.responses import Response

from labeler.app.lots import story_of
from labeler.catalog.model import Product
from labeler.catalog.read import choose, readable
from labeler.desk.page import Ask, Page, Place
from labeler.drawing.jig import draw_jig
from labeler.press.svg import svg


def _of_product(ask: Ask) -> Response:
    (product, *_) = choose(readable(ask.folder)[0], [ask.part("sku")], words_too=False)
    return _drawn(product)


def _of_lot(ask: Ask) -> Response:
    return _drawn(story_of(ask.folder, ask.part("code")).product)


def _drawn(product: Product) -> Response:
    group = draw_jig(product.units[0], detail="plain" if product.parts else "fine")
    drawn = svg([group], group.box, says=f"{product.units[0].name}, {group.says}")
    keep = {"Cache-Control": "private, max-age=3600"}  # its address names the catalog's state
    return Response(drawn, media_type="image/svg+xml", headers=keep)


PAGE = Page("", (Place("/figure/lot/{code}", _of_lot), Place("/figure/{sku}", _of_product)))
