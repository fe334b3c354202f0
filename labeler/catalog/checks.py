"""What can be wrong with a catalog whose every key is of its kind.

`check_file` looks at the catalog file: names that name nothing, patterns that are not whole,
shares and prefixes that cannot be. `check_upkeep` looks at a catalog that can be printed
from, for loose ends and slips.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from fnmatch import fnmatchcase
from typing import Any

from labeler.catalog.casting import (
    better_cavity,
    mark_density,
    miscast,
    nearest_trade_weight,
    tolerance,
)
from labeler.catalog.expand import hook_sizes, materials_of, which
from labeler.catalog.gtin import company_prefix_kind
from labeler.catalog.model import Catalog, CatalogFile, Colour, MaterialKind, Product, dated_price
from labeler.catalog.structure import CATALOG_NAME, REFERENCES
from labeler.findings import (
    Finding,
    Place,
    a_few,
    as_written,
    did_you_mean,
    fix,
    listed,
    note,
    stop,
)
from labeler.tomlfile import KeyPath, TomlFile
from labeler.units import Weight


def check_file(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    """Yield what is wrong with the catalog file, taken by itself.

    Args:
        source: all that stands in it, in which names are looked up, so that a wrong name is
            found in the same reading as a wrong weight beside it.
        file: its sound entries.
    """
    yield from _references(source)
    yield from _patterns(source, file)
    yield from _compositions(source, file)
    yield from _company_prefix(source, file)
    yield from _cavity_metals(source, file)
    yield from _seasons(source, file)
    yield from _photo_boxes(source, file)


def _photo_boxes(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    for name, view in file.photos.items():
        box = view.box
        for near, far in (("left", "right"), ("top", "bottom")) if box else ():
            start, end = getattr(box, near), getattr(box, far)
            if start >= end:
                yield stop(
                    "photo-box",
                    source.place(("photos", name, "box", far)),
                    f"this part of the photo ends before it begins: {near} is not less than {far}",
                    found=f"{float(end * 100):g} %",
                    expected=f"more than {float(start * 100):g} %",
                )


def _seasons(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    for number, each in enumerate(file.prices):
        if each.last_day and each.last_day < each.first_day:
            yield stop(
                "prices-never",
                source.place(("prices", number, "last_day")),
                "these prices end before they begin",
                found=each.last_day.isoformat(),
                expected=f"{each.first_day.isoformat()} or later",
            )


def check_upkeep(source: TomlFile, catalog: Catalog) -> Iterator[Finding]:
    """Yield the FIX and NOTE findings of a catalog without fault."""
    if not catalog.products:
        yield fix(
            "nothing-to-sell",
            Place(file=CATALOG_NAME),
            "no pattern comes to a product that is sold",
            expected="[patterns.river-vesper] with weights and colours",
        )
    yield from _off_weights(source, catalog)
    yield from _unpriced(source, catalog)
    yield from _without_hook(source, catalog)
    yield from _without_recipe(source, catalog)
    yield from _priced_for_nothing(source, catalog)
    yield from _unknown_alloys(source, catalog.file)
    yield from _which_of_several(source, catalog.file)
    yield from _dealers_elsewhere(source, catalog.file)
    for table, used in _used(catalog).items():
        for name in getattr(catalog.file, table):
            if name not in used:
                place = source.place((table, name))
                yield note("unused", place, "nothing in the catalog uses this")


def _references(source: TomlFile) -> Iterator[Finding]:
    for where, table, kinds in REFERENCES:
        entries = source.data.get(table)
        entries = entries if isinstance(entries, dict) else {}
        heading = source.written((table,))[0]
        for path, name in _values_at(source.data, where.split("."), ()):
            if not isinstance(name, str):
                continue
            if name not in entries:
                yield stop(
                    "unknown-name",
                    source.place(path),
                    f"[{heading}] describes nothing of this name",
                    found=as_written(name),
                    hint=_meant(name, entries) or f"Describe it under [{heading}].",
                )
                continue
            by_kind = {n: one.get("kind") for n, one in entries.items() if isinstance(one, dict)}
            kind = by_kind.get(name)
            if kinds and isinstance(kind, str) and kind not in kinds:
                fitting = {n: entries[n] for n, kind in by_kind.items() if kind in kinds}
                yield stop(
                    "wrong-kind",
                    source.place(path),
                    f"this names a material of kind {as_written(kind)}",
                    found=as_written(name),
                    expected=" or ".join(kinds),
                    hint=_meant(name, fitting),
                )


def _values_at(node: Any, keys: list[str], path: KeyPath) -> Iterator[tuple[KeyPath, Any]]:
    """Yield every value that ``keys`` lead to, with the path that did."""
    if not keys:
        yield path, node
        return
    inside: Iterable[tuple[str | int, Any]] = ()
    if isinstance(node, dict):
        inside = [(k, value) for k, value in node.items() if keys[0] in ("*", k)]
    elif isinstance(node, list) and keys[0] == "*":
        inside = enumerate(node)
    for key, value in inside:
        yield from _values_at(value, keys[1:], (*path, key))


def _meant(name: str, entries: dict[str, Any]) -> str:
    """Return a hint at the entry that ``name`` may mean: by its full name, or the nearest key."""
    for key, entry in entries.items():
        full = entry.get("name") if isinstance(entry, dict) else None
        if isinstance(full, str) and full.casefold() == name.casefold():
            return f"Did you mean {key!r}? Things go by the name in their heading."
    return did_you_mean(name, [key for key in entries if key.isprintable()])


def _patterns(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    for name, head in file.heads.items():
        yield from _weight_keys(source, ("heads", name, "cavities"), head.cavities, None)
    for name, pattern in file.patterns.items():
        path: KeyPath = ("patterns", name)
        for key in ("hook_for", "prices", "whole"):
            table = getattr(pattern, key)
            yield from _weight_keys(source, (*path, key), table, pattern.weights)
        for key in ("weights", "hook_sizes", "colours"):
            yield from _listed_twice(source, (*path, key), getattr(pattern, key))


def _weight_keys(
    source: TomlFile, path: KeyPath, table: Mapping[str, object], weights: tuple[Weight, ...] | None
) -> Iterator[Finding]:
    """Yield a finding for every key that is no weight, none of ``weights``, or there twice.

    With None for ``weights`` any weight will do.
    """
    seen: dict[Weight, str] = {}
    for text in table:
        try:
            weight = Weight.parse(text)
        except ValueError as fault:
            yield stop(
                "wrong-value",
                source.place((*path, text)),
                "this key is no weight",
                found=as_written(text),
                expected=str(fault),
            )
            continue
        if weight in seen:
            yield stop(
                "duplicate-weight",
                source.place((*path, text)),
                f"the weight is here already, as {as_written(seen[weight])}",
                found=as_written(text),
            )
        elif weights is not None and weight not in weights:
            known = [str(one) for one in weights]
            yield stop(
                "weight-not-listed",
                source.place((*path, text)),
                "the pattern is not made in this weight",
                found=as_written(text),
                expected="one of " + ", ".join(known),
                hint=did_you_mean(text, known),
            )
        seen.setdefault(weight, text)


def _listed_twice(
    source: TomlFile, path: KeyPath, values: Iterable[Weight | str]
) -> Iterator[Finding]:
    seen: dict[Weight | str, int] = {}
    for position, value in enumerate(values):
        if value in seen:
            yield stop(
                "listed-twice",
                source.place((*path, position)),
                f"this is in the list already, at place {seen[value] + 1}",
                found=as_written(str(value)),
            )
        seen.setdefault(value, position)


def _compositions(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    for name, material in file.materials.items():
        if material.stated_share > 1:
            yield stop(
                "composition-over",
                source.place(("materials", name, "composition")),
                "the shares add up to more than the whole",
                found=f"{float(material.stated_share * 100):g} %",
                expected="at most 100 %",
            )


_LAST_OF_GS1_US = 139
"""Source: GS1 General Specifications, 1.4: 000 to 139 are GS1 US's, less what is kept back."""


def _company_prefix(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    prefix = file.maker.gs1_prefix
    if prefix is None:
        return
    kind = company_prefix_kind(prefix)
    if kind in ("restricted", "reserved"):
        yield stop(
            "prefix-not-licensed",
            source.place(("maker", "gs1_prefix")),
            "numbers that begin so are licensed to nobody",
            found=as_written(prefix),
            expected="the GS1 Company Prefix from your certificate",
            source="GS1 General Specifications, 1.4",
        )
    elif kind == "demo":
        yield note(
            "prefix-for-samples",
            source.place(("maker", "gs1_prefix")),
            "numbers that begin with 952 are for samples: no shop can sell by them",
            source="GS1 General Specifications, 1.4",
        )
    elif file.maker.country == "US" and int(prefix[:3]) > _LAST_OF_GS1_US:
        yield fix(
            "prefix-without-nought",
            source.place(("maker", "gs1_prefix")),
            "GS1 US gives out no prefix that begins so",
            found=as_written(prefix),
            expected="a prefix that begins with 0 or with 10 to 13",
            hint="A U.P.C. company prefix lacks the 0 that the GS1 Company Prefix begins with.",
            source="GS1 General Specifications, 1.4 (from memory)",
        )


def _cavity_metals(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    for name, head in file.heads.items():
        if head.marked_for not in file.materials and mark_density(head, file.materials) is None:
            metals = ["lead", "tin", "bismuth", "zinc", *file.materials]
            yield stop(
                "unknown-name",
                source.place(("heads", name, "marked_for")),
                "this is no metal whose density is known, nor a material of the catalog",
                found=as_written(head.marked_for),
                hint=did_you_mean(head.marked_for, metals),
            )


def _off_weights(source: TomlFile, catalog: Catalog) -> Iterator[Finding]:
    file = catalog.file
    made: dict[tuple[str, Weight], Product] = {}
    for product in catalog.products:
        made.setdefault((product.pattern.head, product.weight), product)
    for (head, weight), product in made.items():
        if (cast := miscast(file, head, weight)) is None:
            continue
        cavity = better_cavity(file, head, weight)
        marked, alloy = file.heads[head].cavity_mark(weight), file.heads[head].alloy
        advice = f"Cast {weight} in the cavity marked {cavity} instead. " if cavity else ""
        in_grams = f" ({float(weight.grams):.2f} g)" if weight.unit == "oz" else ""
        yield fix(
            "weight-off-cast",
            source.place(("heads", head)),
            f"the cavity marked {marked} does not cast {weight} in {file.materials[alloy].name}"
            f" ({product.sku} and others)",
            found=f"{float(cast.grams):.2f} g ({float(cast.ounces):.3f} oz), nearest weight of the"
            f" trade {nearest_trade_weight(cast)}",
            expected=f"{weight}{in_grams}, give or take {float(tolerance() * 100):g} %",
            hint=f"{advice}Weigh a few. A weighed density or cavities = {{ ... }} settles it.",
            source="NIST Handbook 133, table 2-5, as a house rule (from memory)",
        )


def _without_hook(source: TomlFile, catalog: Catalog) -> Iterator[Finding]:
    """Say once which patterns state no hook size, and of each that does which weights lack one."""
    silent: dict[str, str] = {}
    lacking = {product.pattern.code for product in catalog.products if not product.hook_size}
    for name, pattern in catalog.file.patterns.items():
        if pattern.code not in lacking:
            continue
        if not pattern.hook_for:
            silent[name] = pattern.name
            continue
        open_ = [str(each) for each in pattern.weights if not hook_sizes(pattern, each)]
        if open_:
            yield fix(
                "hook-missing",
                source.place(("patterns", name)),
                "some of its weights have a hook size, and these have none",
                found=listed(open_),
                expected='a row of hook_for for each weight, or hook_sizes = ["4/0"]',
            )
    if silent:
        own = catalog.file.spreadsheet
        shifts = own is None or own.codes.hooks
        yield note(
            "hook-missing",
            source.place(("patterns", next(iter(silent)))),
            "no hook size is given, so labels, SKUs and the dealer catalog tell none",
            found=a_few(list(silent.values()), 3),
            expected='hook_sizes = ["4/0"], where it is to be told',
            hint="A size that is given later becomes a part of the SKUs." if shifts else "",
        )


def _without_recipe(source: TomlFile, catalog: Catalog) -> Iterator[Finding]:
    """Say once which colours that are sold have no recipe, and which one that is only proposed."""
    colours = _colours_sold(catalog)
    if proposed := [name for name, each in colours.items() if each.proposed and each.layers]:
        yield note(
            "recipe-proposed",
            source.place(("colours", proposed[0], "proposed")),
            "these recipes are only proposed, so nothing is printed of them",
            found=a_few([colours[name].name for name in proposed], 6),
            hint="Where a recipe is right, or once you have put it right, take the line "
            "`proposed = true` out: then bar, drawing and batch card show it.",
        )
    if none := [name for name, each in colours.items() if not each.layers]:
        yield note(
            "recipe-missing",
            source.place(("colours", none[0])),
            "no recipe is given, so nothing is drawn: labels show the photo, if there is one",
            found=a_few([colours[name].name for name in none], 6),
            expected=f"[[colours.{none[0]}.layers]] with material, shade, ink and strands",
        )


def _unpriced(source: TomlFile, catalog: Catalog) -> Iterator[Finding]:
    """Say of each pattern which of its products lack a price, and once which patterns have none."""
    unpriced: dict[str, list[str]] = {}
    priced: set[str] = set()
    for product in catalog.products:
        if product.price is None:
            unpriced.setdefault(product.pattern.code, []).append(product.sku)
        else:
            priced.add(product.pattern.code)
    without = [
        name for name, pattern in catalog.file.patterns.items()
        if pattern.code in unpriced.keys() - priced
    ]  # fmt: skip
    if without:
        yield note(
            "price-missing",
            source.place(("patterns", without[0])),
            "no price is given, so labels and dealer catalog tell none",
            found=a_few([catalog.file.patterns[name].name for name in without], 3),
            expected='price = "4.75", or prices in the spreadsheet',
        )
    for name, pattern in catalog.file.patterns.items():
        if pattern.code in priced and (skus := unpriced.get(pattern.code)):
            yield fix(
                "price-missing",
                source.place(("patterns", name)),
                f"{len(skus)} of its products have no price",
                found=a_few(skus, 3),
                expected='price = "4.75", or a price in the spreadsheet',
            )


def _priced_for_nothing(source: TomlFile, catalog: Catalog) -> Iterator[Finding]:
    packs = [pack.code for pack in catalog.file.packs.values()]
    skus = [*(product.sku for product in catalog.products), *catalog.retired, *packs]
    for number, prices in enumerate(catalog.file.prices):
        for name in prices.skus:
            if not any(fnmatchcase(sku, name.upper()) for sku in skus):
                yield fix(
                    "price-for-nothing",
                    source.place(("prices", number, "skus", name)),
                    "no product goes by this, so its price is nobody's",
                    found=as_written(name),
                    expected='a SKU, or SKUs such as "RV-38-*"',
                    hint=did_you_mean(name, skus),
                )


def replaced_prices(source: TomlFile, catalog: Catalog, day: dt.date) -> Iterator[Finding]:
    """Yield where a price that a dated one replaced has changed since, unless that is over."""
    entries = catalog.file.prices
    for number, each in enumerate(entries):
        changed: dict[str, list[str]] = {}
        for product in catalog.products:
            sku = product.sku
            was, key = each.was.get(sku), each.key_of(sku)
            own = catalog.own_price(product)
            holding = dated_price(entries, sku, max(day, each.first_day))
            if was in (None, own) or not key or holding != (number, key):
                continue
            place = catalog.priced_in.get(sku, CATALOG_NAME)
            said = (
                f"{place} says {'nothing' if own is None else f'{own:.2f}'} in place of {was:.2f}"
            )
            changed.setdefault(said, []).append(f"{sku} at {each.skus[key]:.2f}")
        if changed:
            yield fix(
                "dated-price-holds",
                source.place(("prices", number)),
                "dated prices hold, but those that they replaced have changed since",
                found=a_few([f"{a_few(skus, 3)}, {said}" for said, skus in changed.items()], 3),
                hint="To have the others, take these SKUs out of the entry; to keep these, "
                "out of its was.",
            )


def _unknown_alloys(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    for name in dict.fromkeys(head.alloy for head in file.heads.values()):
        if not file.materials[name].composition:
            lead = file.materials[name].lead_share > 0
            yield fix(
                "composition-missing",
                source.place(("materials", name)),
                "nothing says what this alloy is made of, so it counts as nothing but lead"
                if lead
                else "nothing says what this alloy is made of, so nobody can tell whether lead is "
                "in it",
                expected='composition = { lead = "97 %", antimony = "3 %" }, or as your foundry'
                " states it",
            )


def _which_of_several(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    """Glue and paint go by name; with several to choose from a text must name one."""
    texts: list[tuple[KeyPath, MaterialKind, str | None]] = []
    for name, pattern in file.patterns.items():
        texts.append((("patterns", name, "tie", "glue"), "glue", pattern.tie.glue))
    for name, colour in file.colours.items():
        texts.append((("colours", name, "head_paint"), "paint", colour.head_paint))
    for path, kind, text in texts:
        several = sum(one.kind == kind for one in file.materials.values()) > 1
        if text and several and not which(file, kind, text):
            yield fix(
                "material-not-told",
                source.place(path),
                f"this names none of the {kind}s among the materials, so the label leaves it out",
                found=as_written(text),
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


def _colours_sold(catalog: Catalog) -> dict[str, Colour]:
    """Return the colours of the catalog file that products have, by their headings."""
    sold = {(product.colour.code, product.colour.name) for product in catalog.products}
    colours = catalog.file.colours.items()
    return {name: colour for name, colour in colours if (colour.code, colour.name) in sold}


def _used(catalog: Catalog) -> dict[str, set[str]]:
    """Return the names that something refers to, table by table."""
    file = catalog.file
    heads, patterns = file.heads.values(), file.patterns.values()
    materials = {name for head in heads for name in (head.alloy, head.marked_for)}
    for product in catalog.products:
        materials |= product.materials.keys()
    for pattern in patterns:
        for colour in pattern.colours:
            materials |= materials_of(file, pattern, file.colours[colour]).keys()
            materials |= {*pattern.tied_with}
    return {
        "materials": materials,
        "heads": {pattern.head for pattern in patterns},
        "hooks": {pattern.hook for pattern in patterns},
        "guards": {pattern.guard for pattern in patterns if pattern.guard},
        "bags": {pattern.bag for pattern in patterns if pattern.bag}
        | {pack.bag for pack in file.packs.values() if pack.bag},
        "colours": {colour for pattern in patterns for colour in pattern.colours}
        | _colours_sold(catalog).keys(),
        "tiers": {dealer.tier for dealer in file.dealers.values() if dealer.tier},
    }
