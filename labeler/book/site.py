"""The pages that scanned codes lead to: one for each product and each lot, plain HTML.

No script, and every page one file that holds its faces and pictures: a folder that any web host
serves as it is, and that looks the same before it is uploaded.
"""

from __future__ import annotations

import base64
import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache, partial
from pathlib import Path, PurePosixPath
from typing import Any
from urllib.parse import unquote, urlsplit

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from labeler.book.edition import (
    PatternEntry,
    contact_ways,
    entries_of,
    extent_of,
    long_date,
    photo_says,
    weight_text,
)
from labeler.catalog.model import Catalog, Layer, Maker, Product
from labeler.catalog.structure import PHOTOS
from labeler.codes.links import product_link
from labeler.disclosures import statements
from labeler.disclosures.needed import label_panel, needed
from labeler.disclosures.rules import Kind
from labeler.disclosures.statements import Statement
from labeler.drawing.jig import draw_jig
from labeler.findings import Finding, Place, fix, listed, refusal
from labeler.geometry import Box
from labeler.layout.swatch import swatch_bar
from labeler.layout.text_blocks import warning_sign
from labeler.press.svg import svg
from labeler.type.finish import finished_html, spelled
from labeler.type.packed import face_rules
from labeler.units import NO_BREAK_SPACE, Length

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


def site_pages(
    catalog: Catalog, lots: Sequence[LotPage], day: dt.date, findings: list[Finding] | None = None
) -> Iterator[SitePage]:
    """Yield the pages of a catalog: the line, every product on sale, every lot.

    A product that is no longer sold keeps its page where a lot of it is on record.

    Args:
        catalog: the line.
        lots: on record.
        day: as of which the rules are held.
        findings: gets what there is to say of photos, once their pages are made.

    Raises:
        LabelerError: if the maker has no address that links begin with.
    """
    maker = catalog.file.maker
    if not maker.links:
        raise refusal(
            "no-links", Place(file="catalog.toml", key="maker.links"),
            "nothing says what the links on labels begin with",
            hint='Add it to [maker], such as links = "https://go.example.com".',
        )  # fmt: skip
    products = {product.sku: product for product in catalog.products}
    by_sku: dict[str, list[LotPage]] = {}
    for lot in lots:
        by_sku.setdefault(lot.product.sku, []).append(lot)
    gone = {sku: found[-1].product for sku, found in by_sku.items() if sku not in products}
    site = _Site(catalog, day, findings if findings is not None else [])
    yield SitePage(PurePosixPath("index.html"), partial(_line_page, site))
    for product in (*products.values(), *gone.values()):
        html = partial(_product_page, site, product, by_sku.get(product.sku, []), None)
        yield SitePage(page_path(product), html)
    for lot in lots:
        html = partial(_product_page, site, lot.product, [], lot)
        yield SitePage(page_path(lot.product, lot.code), html)


_LOGO_BOX = (72.0, 21.6)
"""Points, width and height: 300 pixels across, 600 of a drawing, where a page shows 192."""

_PHOTO_BOX = (192.0, 192.0)
"""Points, width and height: 800 pixels at the most, where a page shows 700, a telephone 1,100."""


class _Site:
    """What the pages share: the line, the day, the logo, and photos made ready once."""

    def __init__(self, catalog: Catalog, day: dt.date, findings: list[Finding]) -> None:
        self.catalog, self.day, self.findings = catalog, day, findings
        self.folder = Path(catalog.folder)
        self.patterns = Counter(product.pattern.code for product in catalog.products)
        self._photos: dict[str, str] = {}

    @cached_property
    def logo(self) -> str:
        """Today's logo as a data URL, since a page has no files beside it; empty without one."""
        name = self.catalog.file.maker.logo
        if not name:
            return ""
        from labeler.drawing.photos import prepare  # Pillow only where there is a logo

        image, _ = prepare(self.folder / PHOTOS / name, *_LOGO_BOX)
        return _data_url("png" if image.data.startswith(b"\x89PNG") else "jpeg", image.data)

    def photo(self, name: str | None) -> str:
        """Return a jig's photo, as the print places it, as a data URL.

        Empty where there is none; one of an old lot may have been put away since.
        """
        if not name or not (self.folder / PHOTOS / name).is_file():
            return ""
        if name not in self._photos:
            from labeler.drawing.jig_photos import jig_photo, prepare_jig
            from labeler.drawing.photos import for_web

            image, said = prepare_jig(jig_photo(self.folder, name), *_PHOTO_BOX)
            self.findings += said
            self._photos[name] = _data_url("webp", for_web(image))
        return self._photos[name]


def _data_url(kind: str, data: bytes) -> str:
    return f"data:image/{kind};base64,{base64.b64encode(data).decode('ascii')}"


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


def _shown(template: str, facts: Mapping[str, Any]) -> str:
    """Return a page with its words finished, and in it the faces that they are set in."""
    page = finished_html(_templates().get_template(template).render(facts), fractions=True)
    return page.replace("/* faces */", face_rules(page), 1)


def take_in_page(facts: Mapping[str, Any]) -> str:
    """Return the page on what came of taking a maker's own spreadsheet in.

    Args:
        facts: what ``take-in.html.jinja`` shows.
    """
    return _shown("take-in.html.jinja", {**facts, "home": "", "reach": [], "logo": ""})


# ------------------------------------------------------------------------------------ the line


def _line_page(site: _Site) -> str:
    """Return the page of the whole line, from which each product's is reached."""
    maker = site.catalog.file.maker
    entries = entries_of(site.catalog.products)
    facts = {
        "maker": maker,
        "home": "",
        "reach": contact_ways(maker),
        "logo": site.logo,
        "extent": extent_of(site.catalog.products) if site.catalog.products else "",
        "patterns": [_entry(entry) for entry in entries],
    }
    return _shown("line.html.jinja", facts)


def _entry(entry: PatternEntry) -> dict[str, Any]:
    """Return a pattern with its figure, and its colours by their weights and hooks."""
    face = entry.face
    sizes = [(group.weight, group.hook_size) for group in entry.groups]
    colours = []
    for product, shown in zip(entry.colourways, entry.shown, strict=True):
        same = [one for one in entry.products if one.colour.code == product.colour.code]
        colours.append({
            "name": product.colour.name,
            "link": f"{page_path(shown).parent}/",
            "bar": _bar(product.colour.layers),
            "sizes": [
                [_size(one) for one in same if (one.weight, one.hook_size) == size]
                for size in sizes
            ],
        })  # fmt: skip
    return {
        "anchor": entry.anchor,
        "name": entry.pattern.name,
        "kind": statements.identity(face, face.markets),
        "plates": _plates(face),
        "caption": f"{face.colour.name}, {_weight(face)}.",
        "colours": colours,
    }


def _size(product: Product) -> dict[str, str]:
    return {
        "weight": _weight(product),
        "hook": f"hook {product.hook_size}" if product.hook_size else "",
        "link": f"{page_path(product).parent}/",
    }


_BAR = (0.0, 0.0, 60.0, 6.0)
_LONG_BAR = (0.0, 0.0, 190.0, 6.0)
_CHIP = (0.0, 0.0, 14.0, 7.0)
"""Points: a recipe's bar by a name, the one below a plate, and one layer of it."""


def _bar(layers: Sequence[Layer], box: Box = _BAR) -> Markup:
    """Return the print's swatch bar; nothing without a recipe."""
    return Markup(svg(swatch_bar(layers, box, "colour"), box)) if layers else Markup()


def _plates(product: Product) -> list[Markup]:
    """Return the figure of every jig in the bag that has a recipe, all at one scale."""
    drawn = [(unit, draw_jig(unit)) for unit in product.units if unit.colour.layers]
    wide = max((group.box[2] - group.box[0] for _, group in drawn), default=0.0)
    figures = []
    for unit, group in drawn:
        left, top, right, bottom = group.box
        left -= (wide - (right - left)) / 2
        box = (left, top, left + wide, bottom)
        figures.append(Markup(svg([group], box, says=f"{unit.name}, {group.says}")))
    return figures


# ------------------------------------------------------------------------------------ a product


def _product_page(
    site: _Site, product: Product, lots: Sequence[LotPage], lot: LotPage | None
) -> str:
    """Return the page of a product, or of one lot of it."""
    said = needed(
        product, product.markets, site.day, panel=label_panel(_LABEL, _LABEL, product.bag)
    )
    maker, pattern = product.maker, product.pattern
    depth = len(page_path(product, lot.code if lot else "").parent.parts)
    root = "../" * depth
    weight = _head_weight(product, said)
    placed = ("identity", "maker", "quantity", "care", *(["head weight"] if weight else []))
    facts: dict[str, Any] = {
        "maker": maker,
        "logo": site.logo,
        "home": f"{root}index.html",
        "reach": [*((text, "") for text in _texts(said, "maker")),
                  *contact_ways(maker)[bool(_texts(said, "maker")):]],
        "name": pattern.name,
        "colour": product.colour.name,
        "kind": _texts(said, "identity") or [statements.identity(product, product.markets)],
        "key": [weight or ("Weight", _weight(product), ""), *_key(product, lot)],
        "plain_weight": _weight(product),
        "plates": _plates(product),
        "bar": _bar(product.colour.layers, _LONG_BAR),
        "photo": site.photo(product.photo),
        "photo_says": photo_says(product),
        "sign": Markup(_sign()),
        "kinds": [_kind(unit, bool(product.parts)) for unit in product.units],
        "said": [one.full for one in sorted(said, key=_gravity) if one.kind not in placed],
        "story": " ".join((pattern.story or "").split()),
        "care": _texts(said, "care") or list(filter(None, [pattern.care])),
        "facts": _facts(product),
        "withdrawn": lot is not None and lot.withdrawn,
        "lots": [(one.code, f"{root}{page_path(product, one.code).parent}/") for one in lots],
        "others": f"{root}index.html#pattern-{pattern.code}"
        if site.patterns[pattern.code] > 1 else "",
        "in_others": spelled("in other colors and weights", maker.country),
    }  # fmt: skip
    return _shown("product.html.jinja", facts)


def _texts(said: Iterable[Statement], kind: Kind) -> list[str]:
    return [one.text for one in said if one.kind == kind]


def _gravity(said: Statement) -> tuple[bool, bool, bool]:
    """Order what must be said: warnings, that there is lead in it, cautions, and then the rest."""
    of_lead, caution = "lead" in said.id.split("-"), said.kind == "caution"
    return said.kind != "warning", not of_lead, caution == of_lead


def _head_weight(product: Product, said: Sequence[Statement]) -> tuple[str, str, str] | None:
    """Return what is said of the head's weight, parted about its figure, which stands large."""
    texts = _texts(said, "head weight")
    if len(texts) != 1:  # jigs of a pack have each its own
        return None
    before, stated, after = texts[0].partition(_weight(product))
    return (before.strip(), stated, after.strip()) if before and stated else None


def _key(product: Product, lot: LotPage | None) -> Iterator[tuple[str, str, str]]:
    """Yield what else is asked first: name, value, and what stands small beside it."""
    if product.hook_size:
        yield "Hook", product.hook_size, ""
    if lot:
        yield "Lot", lot.code, f"tied {long_date(lot.made)}"


def _weight(product: Product) -> str:
    one = len({unit.weight for unit in product.units}) == 1
    return weight_text(product.weight) if one else "several weights"


def _recipe(product: Product) -> list[dict[str, Any]]:
    rows = []
    for layer in product.colour.layers:
        material = product.materials[layer.material].name
        seat = "" if layer.seat == "around" else f", {layer.seat}"
        rows.append({
            "chip": _bar([layer], _CHIP),
            "shade": layer.shade,
            "of": f"{material[:1].lower()}{material[1:]}{seat}",
            "amount": layer.amount or str(layer.strands),
        })  # fmt: skip
    return rows


def _kind(unit: Product, packed: bool) -> dict[str, Any]:
    """Return a jig with its recipe; of one in an assorted pack its name and what it is made of."""
    made = (value for _, value in _made_of(unit, unit.hook_size))
    return {
        "name": unit.name if packed else "",
        "made": "; ".join(filter(None, made)) if packed else "",
        "layers": _recipe(unit),
    }


def _made_of(product: Product, size: str | None = None) -> tuple[tuple[str, str], ...]:
    hook = product.hook
    return (
        ("Hook", ", ".join(filter(None, (hook.name, size, hook.finish)))),
        ("Head", f"{product.head.name}, {statements.alloy(product, ())}"),
        ("Guard", product.guard.name if product.guard else ""),
    )


def _facts(product: Product) -> list[tuple[str, str]]:
    pattern = product.pattern
    jigs = f"{pattern.pack}{NO_BREAK_SPACE}{product.in_two(statements.counted(product))}"
    facts = (
        *(() if product.parts else _made_of(product)),
        ("Length", str(pattern.length) if pattern.length else ""),
        ("Pack", statements.contents(product, product.markets) or jigs),
        ("Item", product.sku),
        ("GTIN", product.gtin or ""),
    )
    return [(name, value) for name, value in facts if value]


@lru_cache(maxsize=1)
def _sign() -> str:
    drawn = svg(warning_sign(0.0, 20.0, 20.0, False), (-1.0, -1.0, 24.2, 21.0), says="Warning sign")
    return drawn.replace("<svg ", '<svg class="sign" ', 1)
