"""The pages that scanned codes lead to: one for each product and each lot, plain HTML.

No script, no outside resource: a folder that any web host serves as it is.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path, PurePosixPath
from typing import Any
from urllib.parse import unquote, urlsplit

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from labeler.book.cover import reach
from labeler.book.edition import entries_of
from labeler.catalog.model import Catalog, Maker, Product
from labeler.codes.product_link import product_link
from labeler.disclosures.needed import needed
from labeler.disclosures.panel import of_label
from labeler.drawing.jig import draw_jig
from labeler.findings import LabelerError, Place, stop
from labeler.layout.disclosure_block import warning_sign
from labeler.press.svg import svg
from labeler.units import FRACTION_SLASH, Length

_TEMPLATES = Path(__file__).with_name("pages")
_LABEL = Length.from_inches(2)


@dataclass(frozen=True, slots=True)
class LotPage:
    """A lot that labels carry: its code, the product as it was, and why it was withdrawn."""

    code: str
    product: Product
    made: dt.date
    withdrawn: str = ""


@dataclass(frozen=True, slots=True)
class SitePage:
    """A page: where it lies under the site's folder, and what makes its HTML."""

    path: PurePosixPath
    html: Callable[[], str]


def site_pages(catalog: Catalog, lots: Sequence[LotPage], day: dt.date) -> Iterator[SitePage]:
    """Yield the pages of a catalog: the line, every product on sale, every lot.

    A product that is no longer sold keeps its page where a lot of it is on record.

    Raises:
        LabelerError: if the maker has no address that links begin with.
    """
    maker = catalog.file.maker
    if not maker.links:
        raise LabelerError(
            stop("no-links", Place(file="catalog.toml", key="maker.links"),
                 "nothing says what the links on labels begin with",
                 hint='Add it to [maker], such as links = "https://go.example.com".')
        )  # fmt: skip
    products = {product.sku: product for product in catalog.products}
    by_sku: dict[str, list[LotPage]] = {}
    for lot in lots:
        by_sku.setdefault(lot.product.sku, []).append(lot)
    gone = {sku: found[-1].product for sku, found in by_sku.items() if sku not in products}
    yield SitePage(PurePosixPath("index.html"), lambda: _line(catalog))
    for product in (*products.values(), *gone.values()):
        of_it = by_sku.get(product.sku, [])
        yield SitePage(page_path(maker, product), _later(product, day, of_it, None))
    for lot in lots:
        path = page_path(maker, lot.product, lot.code)
        yield SitePage(path, _later(lot.product, day, [], lot))


def page_path(maker: Maker, product: Product, lot: str = "") -> PurePosixPath:
    """Return where the page of a link lies, from the folder that the links begin with."""
    assert maker.links  # who has none has no pages
    address = product_link(maker.links, product.gtin, product.sku, lot)
    stem = urlsplit(product.maker.links or maker.links).path.rstrip("/")
    path = unquote(urlsplit(address).path.removeprefix(stem)).strip("/")
    return PurePosixPath(path) / "index.html"


def _later(
    product: Product, day: dt.date, lots: Sequence[LotPage], lot: LotPage | None
) -> Callable[[], str]:
    return lambda: _product(product, day, lots, lot)


@lru_cache(maxsize=1)
def _templates() -> Environment:
    return Environment(
        loader=FileSystemLoader(_TEMPLATES), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip


def _line(catalog: Catalog) -> str:
    maker = catalog.file.maker
    patterns = [
        (
            entry.pattern.name,
            entry.pattern.kind,
            [(f"{_weight(product)}, {product.colour.name}, hook {product.hook_size}",
              _from_root(page_path(maker, product))) for product in entry.products],
        )
        for entry in entries_of(catalog.products)
    ]  # fmt: skip
    facts = {"maker": maker, "home": "", "reach": reach(maker), "patterns": patterns}
    return _templates().get_template("line.html.jinja").render(facts)


def _from_root(path: PurePosixPath) -> str:
    return f"{path.parent}/"


def _product(product: Product, day: dt.date, lots: Sequence[LotPage], lot: LotPage | None) -> str:
    said = needed(product, product.markets, day, panel=of_label(_LABEL, _LABEL, product.bag))
    warnings = [one.full for one in said if one.kind == "warning"]
    statements = [one.full for one in said if one.kind != "warning"]
    maker = product.maker
    depth = len(page_path(maker, product, lot.code if lot else "").parent.parts)
    root = "../" * depth
    facts: dict[str, Any] = {
        "maker": maker,
        "home": f"{root}index.html",
        "reach": reach(maker),
        "name": product.pattern.name,
        "colour": product.colour.name,
        "weight": _weight(product),
        "grams": product.weight.g_text if product.weight.unit == "oz" else "",
        "figure": Markup(_figure(product)),
        "sign": Markup(_sign()),
        "layers": [_layer(product, place) for place in range(len(product.colour.layers))],
        "warnings": warnings,
        "statements": statements,
        "story": " ".join((product.pattern.story or "").split()),
        "care": product.pattern.care or "",
        "facts": _facts(product, lot),
        "withdrawn": lot.withdrawn.rstrip(".") if lot else "",
        "lots": [(one.code, root + _from_root(page_path(maker, product, one.code)))
                 for one in lots],
    }  # fmt: skip
    return _templates().get_template("product.html.jinja").render(facts)


def _weight(product: Product) -> str:
    weight = product.weight
    text = weight.oz_text if weight.unit == "oz" else weight.g_text
    return text.replace(FRACTION_SLASH, "/")


def _layer(product: Product, place: int) -> dict[str, Any]:
    layer = product.colour.layers[place]
    material = product.materials[layer.material].name
    seat = "" if layer.seat == "around" else f", {layer.seat}"
    return {
        "ink": layer.ink,
        "share": layer.strands,
        "says": f"{layer.shade}, {material[:1].lower()}{material[1:]}{seat}",
        "amount": layer.amount or str(layer.strands),
    }


def _facts(product: Product, lot: LotPage | None) -> list[tuple[str, str]]:
    facts = [("What it is", product.pattern.kind)]
    if lot:
        facts += [("Lot", lot.code), ("Tied", f"{lot.made.day} {lot.made:%B %Y}")]
    facts += [
        ("Hook", f"{product.hook.name}, {product.hook_size}, {product.hook.finish}"),
        ("Head", f"{product.head.name}, {product.alloy.name}"),
    ]
    if product.guard:
        facts.append(("Guard", product.guard.name))
    if product.pattern.length:
        facts.append(("Length", str(product.pattern.length)))
    facts += [("Pack", str(product.pattern.pack)), ("Item", product.sku)]
    if product.gtin:
        facts.append(("GTIN", product.gtin))
    return facts


def _figure(product: Product) -> str:
    group = draw_jig(product, detail="plain")
    return svg([group], group.box, says=f"{product.name}, {group.says}")


@lru_cache(maxsize=1)
def _sign() -> str:
    drawn = svg(warning_sign(0.0, 20.0, 20.0, False), (-1.0, -1.0, 24.2, 21.0), says="Warning sign")
    return drawn.replace("<svg ", '<svg class="sign" ', 1)
