"""What a maker would want to know of a catalog that can be printed from: loose ends, slips."""

from __future__ import annotations

from collections.abc import Iterator

from labeler.catalog.casting import better_cavity, miscast, nearest_trade_weight, tolerance
from labeler.catalog.expand import materials_of, which
from labeler.catalog.model import Catalog, CatalogFile, Product
from labeler.catalog.structure import CATALOG_NAME
from labeler.findings import Finding, Place, a_few, as_written, fix, note
from labeler.tomlfile import TomlFile
from labeler.units import Weight


def check_upkeep(source: TomlFile, catalog: Catalog) -> list[Finding]:
    """Return the FIX and NOTE findings of a catalog without fault."""
    file = catalog.file
    return [
        *_empty(catalog),
        *_off_weights(source, catalog),
        *_unpriced(source, catalog),
        *_unknown_metals(source, file),
        *_which_of_several(source, file),
        *_dealers_elsewhere(source, file),
        *_unused(source, catalog),
    ]


def _empty(catalog: Catalog) -> Iterator[Finding]:
    if not catalog.products:
        yield fix(
            "nothing-to-sell",
            Place(file=CATALOG_NAME),
            "no pattern comes to a product that is sold",
            expected="[patterns.river-vesper] with weights, hook_sizes and colours",
        )


def _off_weights(source: TomlFile, catalog: Catalog) -> Iterator[Finding]:
    file = catalog.file
    made: dict[tuple[str, Weight], Product] = {}
    for product in catalog.products:
        made.setdefault((product.pattern.head, product.weight), product)
    for (head, weight), product in made.items():
        if (off := miscast(file, head, weight)) is None:
            continue
        cavity = better_cavity(file, head, weight)
        alloy = file.materials[file.heads[head].alloy].name
        advice = f"Cast {weight} in the cavity marked {cavity} instead. " if cavity else ""
        yield fix(
            "weight-off-cast",
            source.place(("heads", head)),
            f"the cavity marked {off.marked} does not cast {weight} in {alloy}"
            f" ({product.sku} and others)",
            found=f"{off.both}, nearest weight of the trade {nearest_trade_weight(off.cast)}",
            expected=f"{off.stated_grams}, give or take {float(tolerance() * 100):g} %",
            hint=f"{advice}Weigh a few; a weighed density or cavities = {{ ... }} settles it.",
            source="NIST Handbook 133, table 2-5, as a house rule (from memory)",
        )


def _unpriced(source: TomlFile, catalog: Catalog) -> Iterator[Finding]:
    bare: dict[str, list[str]] = {}
    for product in catalog.products:
        if product.price is None:
            bare.setdefault(product.pattern.code, []).append(product.sku)
    for name, pattern in catalog.file.patterns.items():
        if skus := bare.get(pattern.code):
            yield fix(
                "price-missing",
                source.place(("patterns", name)),
                f"{len(skus)} of its products have no price",
                found=a_few(skus, 3),
                expected='price = "4.75", or a price in the spreadsheet',
            )


def _unknown_metals(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    for name in dict.fromkeys(head.alloy for head in file.heads.values()):
        if not file.materials[name].composition:
            yield fix(
                "composition-missing",
                source.place(("materials", name)),
                "nothing says what this alloy is made of, so nobody can tell whether lead is in it",
                expected='composition = { lead = "97 %", antimony = "3 %" }, or as your foundry'
                " states it",
            )


def _which_of_several(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    """Glue and paint are told by name; with several to choose from a text must name one."""
    for name, pattern in file.patterns.items():
        if (
            pattern.tie.glue
            and _several(file, "glue")
            and not which(file, "glue", pattern.tie.glue)
        ):
            yield _nameless(source, ("patterns", name, "tie", "glue"), "glues", pattern.tie.glue)
    for name, colour in file.colours.items():
        paint = colour.head_paint
        if paint and _several(file, "paint") and not which(file, "paint", paint):
            yield _nameless(source, ("colours", name, "head_paint"), "paints", paint)


def _several(file: CatalogFile, kind: str) -> bool:
    return sum(one.kind == kind for one in file.materials.values()) > 1


def _nameless(source: TomlFile, path: tuple[str, ...], things: str, said: str) -> Finding:
    return fix(
        "material-not-told",
        source.place(path),
        f"this names none of the {things} among the materials, so the label leaves it out",
        found=as_written(said),
        expected="a text that holds the material's name",
    )


def _dealers_elsewhere(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    for name, dealer in file.dealers.items():
        market = dealer.market
        if market and not {market, market.partition("-")[0]} & set(file.sale.markets):
            yield fix(
                "dealer-elsewhere",
                source.place(("dealers", name, "market")),
                "this dealer sells where nothing is sold",
                found=as_written(market),
                expected="one of sale.markets: " + ", ".join(file.sale.markets),
            )


def _unused(source: TomlFile, catalog: Catalog) -> Iterator[Finding]:
    file = catalog.file
    for table, used in _used(catalog).items():
        for name in getattr(file, table):
            if name not in used:
                yield note(
                    "unused", source.place((table, name)), "nothing in the catalog uses this"
                )


def _used(catalog: Catalog) -> dict[str, set[str]]:
    """Return the names that something refers to, table by table."""
    file = catalog.file
    patterns = file.patterns.values()
    used = {
        "materials": {
            name for head in file.heads.values() for name in (head.alloy, head.marked_for)
        },
        "heads": {pattern.head for pattern in patterns},
        "hooks": {pattern.hook for pattern in patterns},
        "guards": {pattern.guard for pattern in patterns if pattern.guard},
        "bags": {pattern.bag for pattern in patterns if pattern.bag},
        "colours": {colour for pattern in patterns for colour in pattern.colours},
        "tiers": {dealer.tier for dealer in file.dealers.values() if dealer.tier},
    }
    shown = {id(product.colour) for product in catalog.products}
    used["colours"] |= {name for name, colour in file.colours.items() if id(colour) in shown}
    for product in catalog.products:
        used["materials"] |= product.materials.keys()
    for pattern in patterns:
        for colour in pattern.colours:
            used["materials"] |= materials_of(file, pattern, file.colours[colour]).keys()
    return used
