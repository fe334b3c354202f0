"""The pages that scanned codes lead to: one for each product and each lot, plain HTML.

No script, no outside resource: a folder that any web host serves as it is.
"""

from __future__ import annotations

import base64
import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path, PurePosixPath
from typing import Any
from urllib.parse import unquote, urlsplit

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from labeler.book.edition import contact_ways, entries_of, long_date, weight_text
from labeler.catalog.model import Catalog, Maker, Product
from labeler.catalog.structure import PHOTOS
from labeler.codes.links import product_link
from labeler.disclosures.needed import label_panel, needed
from labeler.drawing.jig import draw_jig
from labeler.findings import Finding, LabelerError, Place, fix, listed, stop
from labeler.layout.text_blocks import warning_sign
from labeler.press.svg import svg
from labeler.type.finish import finished_html
from labeler.units import FRACTION_SLASH, Length

_TEMPLATES = Path(__file__).with_name("pages")
_LABEL = Length.from_inches(2)


@dataclass(frozen=True, slots=True)
class LotPage:
    """A lot that labels carry: its code, the product as it was, and whether it was withdrawn.

    Why it was withdrawn is the maker's own business, and on no page.
    """

    code: str
    product: Product
    made: dt.date
    withdrawn: bool = False


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
    logo = _logo(catalog)
    yield SitePage(PurePosixPath("index.html"), partial(_line_page, catalog, logo))
    for product in (*products.values(), *gone.values()):
        html = partial(_product_page, product, day, by_sku.get(product.sku, []), None, logo)
        yield SitePage(page_path(product), html)
    for lot in lots:
        html = partial(_product_page, lot.product, day, [], lot, logo)
        yield SitePage(page_path(lot.product, lot.code), html)


_LOGO_BOX = (72.0, 21.6)
"""Points, width and height: 300 pixels across, 600 of a drawing, where a page shows 192."""


def _logo(catalog: Catalog) -> str:
    """Return today's logo as the end of a data URL, since a page has no files beside it."""
    name = catalog.file.maker.logo
    if not name:
        return ""
    from labeler.drawing.photos import prepare  # Pillow only where there is a logo

    image, _ = prepare(Path(catalog.folder) / PHOTOS / name, *_LOGO_BOX)
    kind = "png" if image.data.startswith(b"\x89PNG") else "jpeg"
    return f"{kind};base64,{base64.b64encode(image.data).decode('ascii')}"


_ANY_SITE = "https://example.com"


def page_path(product: Product, lot: str = "") -> PurePosixPath:
    """Return where the page of a link lies, from the folder that the links begin with.

    Whatever they begin with, and began with when the lot was opened, what stands behind it is the
    same: an old label is served by the same folder, put where its links begin.
    """
    address = product_link(_ANY_SITE, product.gtin, product.sku, lot)
    return PurePosixPath(unquote(urlsplit(address).path).strip("/")) / "index.html"


def led_elsewhere(maker: Maker, lots: Iterable[LotPage]) -> Iterator[Finding]:
    """Yield that labels of older lots lead to where the links no longer begin."""
    older: dict[str, list[str]] = {}
    for lot in lots:
        began = (lot.product.maker.links or "").rstrip("/")
        if began and began != (maker.links or "").rstrip("/"):
            older.setdefault(began, []).append(lot.code)
    for began, codes in sorted(older.items()):
        yield fix(
            "links-moved",
            Place(file="catalog.toml", key="maker.links"),
            "labels of older lots lead to another address than today's",
            found=f"{began} on lots {listed(codes)}",
            expected=maker.links or "",
            hint=f"Put the same pages under {began} too"
            + (", or have it lead on to today's address." if maker.links else "."),
        )


@lru_cache(maxsize=1)
def _templates() -> Environment:
    return Environment(
        loader=FileSystemLoader(_TEMPLATES), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip


def take_in_page(facts: Mapping[str, Any]) -> str:
    """Return the page on what came of taking a maker's own spreadsheet in.

    Args:
        facts: what ``take-in.html.jinja`` shows.
    """
    page = _templates().get_template("take-in.html.jinja")
    return finished_html(page.render(facts, home="", reach=[], logo=""))


def _line_page(catalog: Catalog, logo: str) -> str:
    """Return the page of the whole line, from which each product's is reached."""
    maker = catalog.file.maker
    patterns = [
        (
            entry.pattern.name,
            entry.pattern.kind,
            [
                (
                    ", ".join((_weight(product), product.colour.name, *_hook(product))),
                    f"{page_path(product).parent}/",
                )
                for product in entry.products
            ],
        )
        for entry in entries_of(catalog.products)
    ]
    facts = {"maker": maker, "home": "", "reach": contact_ways(maker), "patterns": patterns,
             "logo": logo}  # fmt: skip
    return finished_html(_templates().get_template("line.html.jinja").render(facts))


def _product_page(
    product: Product, day: dt.date, lots: Sequence[LotPage], lot: LotPage | None, logo: str
) -> str:
    """Return the page of a product, or of one lot of it."""
    needs = needed(product, product.markets, day, panel=label_panel(_LABEL, _LABEL, product.bag))
    maker, pattern = product.maker, product.pattern
    depth = len(page_path(product, lot.code if lot else "").parent.parts)
    root = "../" * depth
    shown = product.units[0]
    group = draw_jig(shown, detail="plain")
    facts: dict[str, Any] = {
        "maker": maker,
        "logo": logo,
        "home": f"{root}index.html",
        "reach": contact_ways(maker),
        "name": pattern.name,
        "colour": product.colour.name,
        "weight": _weight(product),
        "grams": product.weight.g_text if product.weight.unit == "oz" and _one_weight(product)
        else "",
        "figure": Markup(svg([group], group.box, says=f"{shown.name}, {group.says}")),
        "sign": Markup(_sign()),
        "layers": [_layer(product, place) for place in range(len(product.colour.layers))],
        "warnings": [one.full for one in needs if one.kind == "warning"],
        "statements": [one.full for one in needs if one.kind != "warning"],
        "story": " ".join((pattern.story or "").split()),
        "care": pattern.care or "",
        "facts": _facts(product, lot),
        "withdrawn": lot is not None and lot.withdrawn,
        "lots": [(one.code, f"{root}{page_path(product, one.code).parent}/")
                 for one in lots],
    }  # fmt: skip
    return finished_html(_templates().get_template("product.html.jinja").render(facts))


def _hook(product: Product) -> tuple[str, ...]:
    return (f"hook {product.hook_size}",) if product.hook_size else ()


def _one_weight(product: Product) -> bool:
    return len({unit.weight for unit in product.units}) == 1


def _weight(product: Product) -> str:
    if not _one_weight(product):
        return "several weights"
    return weight_text(product.weight).replace(FRACTION_SLASH, "/")


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


def _made_of(product: Product) -> tuple[tuple[str, str], ...]:
    hook = product.hook
    return (
        ("Hook", ", ".join(filter(None, (hook.name, product.hook_size, hook.finish)))),
        ("Head", f"{product.head.name}, {product.alloy.name}"),
        ("Guard", product.guard.name if product.guard else ""),
    )


def _facts(product: Product, lot: LotPage | None) -> list[tuple[str, str]]:
    pattern = product.pattern
    facts = (
        ("What it is", pattern.kind),
        ("Lot", lot.code if lot else ""),
        ("Tied", long_date(lot.made) if lot else ""),
        *(
            (f"{part.count} of them", f"{part.product.name}, {_weight(part.product)}")
            for part in product.parts
        ),
        *(fact for unit in product.units for fact in _made_of(unit)),
        ("Length", str(pattern.length) if pattern.length else ""),
        ("Pack", str(pattern.pack)),
        ("Item", product.sku),
        ("GTIN", product.gtin or ""),
    )
    return list(dict.fromkeys((name, value) for name, value in facts if value))


@lru_cache(maxsize=1)
def _sign() -> str:
    drawn = svg(warning_sign(0.0, 20.0, 20.0, False), (-1.0, -1.0, 24.2, 21.0), says="Warning sign")
    return drawn.replace("<svg ", '<svg class="sign" ', 1)
