"""From patterns to products: every weight on its hooks in every colour.

A product is first a draft, which says only what it is made of by name. Spreadsheet rows change
drafts; what is left in the end becomes products, which share every record that they have in common.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from labeler.catalog.gtin import prefix_kind
from labeler.catalog.model import (
    Catalog,
    CatalogFile,
    Colour,
    Material,
    MaterialKind,
    Pack,
    Part,
    Pattern,
    Product,
    by_weight,
    dated_price,
)
from labeler.catalog.photo_names import Photos
from labeler.catalog.spreadsheet.grid import SheetRow
from labeler.findings import (
    Finding,
    Grade,
    Place,
    as_written,
    did_you_mean,
    fix,
    listed,
    note,
    stop,
)
from labeler.tomlfile import TomlFile
from labeler.units import Weight, print_decimal


@dataclass(slots=True)
class Draft:
    """A product to be: names in the catalog, and what a spreadsheet row says otherwise."""

    sku: str
    pattern: str
    weight: Weight
    hook: str | None
    colour: str
    overrides: dict[str, Any] = field(default_factory=dict)
    """Of price, gtin, photo, note, markets and pack those that a row gives."""

    @property
    def look(self) -> tuple[str, str | None, str]:
        """What it shares with the same jig in other weights."""
        return self.pattern, self.hook, self.colour

    def __str__(self) -> str:
        hook = f", hook {self.hook}" if self.hook else ""
        return f"{self.pattern} in {self.weight}{hook}, {self.colour}"


LONGEST_SKU = 40


def can_expand(source: TomlFile, file: CatalogFile) -> bool:
    """Tell whether all patterns and colours are sound enough to say which products there are.

    Other faults may remain; then the spreadsheets are still worth holding against the products.
    """
    for table, sound in (("patterns", file.patterns), ("colours", file.colours)):
        stated = source.data.get(table, {})
        if not isinstance(stated, dict) or len(stated) != len(sound):
            return False
    try:
        for pattern in file.patterns.values():
            by_weight(pattern.hook_for)
    except ValueError:
        return False
    named = {colour for pattern in file.patterns.values() for colour in pattern.colours}
    return named <= file.colours.keys()


def expand(
    source: TomlFile, file: CatalogFile, by_rows: Collection[str] = ()
) -> tuple[dict[str, Draft], list[Finding]]:
    """Return a draft for every product of the patterns, by SKU, and what stands in the way.

    The patterns ``by_rows`` are made only as the rows of a spreadsheet say.
    """
    drafts: dict[str, Draft] = {}
    clashes: dict[tuple[str, ...], list[tuple[Draft, Draft]]] = {}
    findings = []
    for draft in _drafts(file, by_rows):
        first = drafts.setdefault(draft.sku, draft)
        if first is not draft:
            # one finding for all SKUs that two patterns, or two colours of a pattern, share
            between: tuple[str, ...] = (first.pattern, draft.pattern)
            if first.pattern == draft.pattern:
                between += (first.colour, draft.colour)
            clashes.setdefault(between, []).append((first, draft))
        elif len(draft.sku) > LONGEST_SKU:
            findings.append(
                stop(
                    "sku-too-long",
                    source.place(("patterns", draft.pattern)),
                    "the SKU is too long",
                    found=draft.sku,
                    expected=f"at most {LONGEST_SKU} letters; shorten code or weight",
                )
            )
    for pairs in clashes.values():
        first, second = pairs[0]
        more = f", and {len(pairs) - 1} more SKUs like it" if len(pairs) > 1 else ""
        findings.append(
            stop(
                "duplicate-sku",
                source.place(("patterns", second.pattern)),
                f"two products come to the SKU {first.sku}{more}",
                found=f"{second}; and {first} ({source.place(('patterns', first.pattern))})",
                hint="Give the patterns, or the colours, codes that differ.",
            )
        )
    return drafts, findings


def _drafts(file: CatalogFile, by_rows: Collection[str]) -> Iterator[Draft]:
    for name, pattern in file.patterns.items():
        if name in by_rows:
            continue
        for weight in pattern.weights:
            for hook in hook_sizes(pattern, weight) or (None,):
                for colour in pattern.colours:
                    sku = make_sku(pattern.code, weight, hook, file.colours[colour].code)
                    yield Draft(sku, name, weight, hook, colour)


def hook_sizes(pattern: Pattern, weight: Weight) -> tuple[str, ...]:
    """Return the hook sizes that a pattern is made on in a weight; none where none is stated."""
    return by_weight(pattern.hook_for).get(weight, pattern.hook_sizes)


def make_catalog(
    file: CatalogFile, drafts: Iterable[Draft], day: dt.date, **others: Any
) -> Catalog:
    """Return the catalog of these drafts, in the order of the file's patterns.

    All that is checked is checked: nothing is validated again.

    Args:
        file: The catalog file, without fault.
        drafts: What is sold.
        day: On which the prices hold.
        others: The catalog's other fields.
    """
    order = {name: place for place, name in enumerate(file.patterns)}
    prices = {name: by_weight(pattern.prices) for name, pattern in file.patterns.items()}
    colours = {name: colour.settled for name, colour in file.colours.items()}
    materials: dict[tuple[str, str], dict[str, Material]] = {}
    packed: dict[tuple[str, int], Pattern] = {}
    fields_set = set(Product.model_fields)  # one for all; a copy of a product copies it
    products = []
    undated: dict[str, Any] = {}
    for draft in sorted(drafts, key=lambda one: order[one.pattern]):
        pattern, colour = file.patterns[draft.pattern], colours[draft.colour]
        made_of = (draft.pattern, draft.colour)
        if made_of not in materials:
            materials[made_of] = materials_of(file, pattern, colour)
        says = draft.overrides
        price = says.get("price", prices[draft.pattern].get(draft.weight, pattern.price))
        if dated := dated_price(file.prices, draft.sku, day):
            undated[draft.sku] = price
            price = file.prices[dated[0]].skus[dated[1]]
        pack = says.get("pack", pattern.pack)
        if pack != pattern.pack:
            if (draft.pattern, pack) not in packed:
                packed[draft.pattern, pack] = pattern.model_copy(update={"pack": pack})
            pattern = packed[draft.pattern, pack]
        product = Product.model_construct(
            _fields_set=fields_set,
            sku=draft.sku,
            pattern=pattern,
            weight=draft.weight,
            hook_size=draft.hook,
            colour=colour,
            head=file.heads[pattern.head],
            hook=file.hooks[pattern.hook],
            guard=file.guards[pattern.guard] if pattern.guard else None,
            bag=file.bags[pattern.bag] if pattern.bag else None,
            materials=materials[made_of],
            maker=file.maker,
            markets=says.get("markets", file.sale.markets),
            currency=file.sale.currency,
            price=price,
            gtin=says.get("gtin"),
            photo=says.get("photo", pattern.photo),
            note=says.get("note"),
            second_language=file.labels.second_language,
            second_words=second_words(file, pattern, colour),
        )
        products.append(product)
    return Catalog.model_construct(file=file, products=tuple(products), undated=undated, **others)


def make_pack(catalog: Catalog, pack: Pack, parts: tuple[Part, ...], day: dt.date) -> Product:
    """Return an assorted pack as a product: of its own name, number and price.

    What all of its parts agree in it has too, and every material that is in any of them. Its
    weight and its hook are the first part's: what is said of these is asked of its `units`.
    """
    file, jigs = catalog.file, [part.product for part in parts]
    first = jigs[0]

    def shared(values: Iterable[Any]) -> Any:
        found = list(dict.fromkeys(values))
        return found[0] if len(found) == 1 else None

    bag = pack.bag or shared(jig.pattern.bag for jig in jigs)
    price = pack.price
    if dated := dated_price(file.prices, pack.code, day):
        price = file.prices[dated[0]].skus[dated[1]]
    pattern = Pattern.model_construct(
        code=pack.code, name=pack.name,
        kind=pack.kind or shared(jig.pattern.kind for jig in jigs) or "fishing jig",
        head=first.pattern.head, hook=first.pattern.hook, weights=(first.weight,), colours=(),
        bag=bag, pack=sum(part.count for part in parts), case=pack.case, price=pack.price,
        made_in=shared(jig.pattern.made_in for jig in jigs),
        made_by=shared(jig.pattern.made_by for jig in jigs) or "the maker",
        for_children=any(jig.pattern.for_children for jig in jigs),
        story=pack.story, care=pack.care or shared(jig.pattern.care for jig in jigs),
    )  # fmt: skip
    colour = first.colour.model_copy(
        update={"code": pack.code, "name": pack.assortment, "layers": (), "note": None}
    )
    return Product.model_construct(
        sku=pack.code, pattern=pattern, weight=first.weight,
        hook_size=shared(jig.hook_size for jig in jigs), colour=colour, head=first.head,
        hook=first.hook, guard=None, bag=file.bags[bag] if bag else None,
        materials={name: one for jig in jigs for name, one in jig.materials.items()},
        maker=file.maker, markets=tuple(m for m in first.markets
                                        if all(m in jig.markets for jig in jigs)),
        currency=file.sale.currency, price=price, gtin=catalog.gtins.get(pack.code),
        note=pack.note, parts=parts, second_language=file.labels.second_language,
        second_words=second_words(file, pattern, colour),
    )  # fmt: skip


@cache
def shipped_words() -> dict[str, dict[str, str]]:
    """Return the plain words of labels in each second language that some are known in."""
    path = Path(__file__).with_name("second-words.toml")
    return tomllib.loads(path.read_text(encoding="utf-8"))


def second_words(file: CatalogFile, pattern: Pattern, colour: Colour) -> dict[str, str]:
    """Return what labels of a product print in the second language; the maker's words go first."""
    labels = file.labels
    if labels.second_language is None:
        return {}
    plain = shipped_words()["fr"]
    known = shipped_words().get(labels.second_language, {}) | labels.words
    printed = (*plain, *_counted(pattern.kind), pattern.kind, pattern.name, colour.name)
    return {word: known[word] for word in dict.fromkeys(printed) if word in known}


def _counted(kind: str) -> Iterator[str]:
    """Yield the words by which goods of a kind may be counted."""
    for word in kind.casefold().replace("-", " ").split():
        single = word.removesuffix("s")
        yield from (single, f"{single}s", f"{single.removesuffix('y')}ies")


def unprinted_words(source: TomlFile, file: CatalogFile) -> Iterator[Finding]:
    """Yield the maker's words in a second language that no label has a place for."""
    patterns = file.patterns.values()
    printed = {*shipped_words()["fr"], *(colour.name for colour in file.colours.values())}
    for pattern in patterns:
        printed |= {pattern.name, pattern.kind, *_counted(pattern.kind)}
    for pack in file.packs.values():
        printed |= {word for word in (pack.name, pack.assortment, pack.kind) if word}
    for word in file.labels.words:
        if word not in printed:
            yield stop(
                "label-word", source.place(("labels", "words", word)),
                "no label prints this word", found=word,
                hint=did_you_mean(word, sorted(printed))
                or "Kinds, patterns and colours are meant, as "
                "the catalog has them, and words of labels such as Hook.",
            )  # fmt: skip
    if file.labels.words and file.labels.second_language is None:
        yield stop(
            "label-word", source.place(("labels", "words")), "these words are in no language",
            expected='second_language = "fr" under [labels]',
        )  # fmt: skip


def materials_of(file: CatalogFile, pattern: Pattern, colour: Colour) -> dict[str, Material]:
    """Return the materials of a pattern in a colour, by their names in the catalog.

    The alloy comes first, then hook, guard, layers in tying order, thread, glue, paint and eyes.
    Glue, paint and eyes are not named by their heading: see `which`.
    """
    head = file.heads[pattern.head]
    names = [
        head.alloy,
        file.hooks[pattern.hook].material,
        file.guards[pattern.guard].material if pattern.guard else None,
        *((layer.material for layer in colour.layers) if colour.layers else pattern.tied_with),
        pattern.tie.thread,
        *which(file, "glue", pattern.tie.glue),
        *which(file, "paint", colour.head_paint),
        *which(file, "eyes", "eyes" if head.eyes else None),
    ]
    return {name: file.materials[name] for name in names if name}


def which(file: CatalogFile, kind: MaterialKind, text: str | None) -> list[str]:
    """Return the materials of ``kind`` that ``text`` means: those it names, else the only one.

    Such as the glue whose name stands in "two drops of thin cyanoacrylate".
    """
    of_kind = {name: one for name, one in file.materials.items() if one.kind == kind}
    if not text or not of_kind:
        return []
    plain = text.casefold()
    named = [
        name
        for name, one in of_kind.items()
        if name.casefold() in plain or one.name.casefold() in plain
    ]
    return named or (list(of_kind) if len(of_kind) == 1 else [])


# How a SKU is put together: pattern, weight, hook, colour, such as ``RV-38-40-MLN``
#
# | what         | is written | because                                                       |
# |--------------|------------|---------------------------------------------------------------|
# | 3/8 oz       | 38         | the trade writes it so                                        |
# | 1/16 oz      | 116        | and so                                                        |
# | 1 oz         | 1OZ        | 1 alone would leave 12 oz and 1/2 oz alike                    |
# | 1 1/2 oz     | 1OZ12      | 112 would be 1/12 oz                                          |
# | 0.3 oz       | 0.3OZ      | a decimal keeps its point                                     |
# | 10.6 g       | 10.6G      |                                                               |
# | hook 4/0     | 40         |                                                               |
# | hook 4       | 4          |                                                               |
# | no hook size |            | nothing between the weight and the colour                     |
# | hook 10      | N10        | 10 would be 1/0, as 20 and 30 would be 2/0 and 3/0; so all    |
# |              |            | plain sizes of two digits have an N for "number" before them  |
#
# No two weights and no two hook sizes are written alike.


def make_sku(pattern: str, weight: Weight, hook_size: str | None, colour: str) -> str:
    """Return the SKU of a pattern's code, a weight, perhaps a hook size, and a colour's code."""
    hook = f"{hook_part(hook_size)}-" if hook_size else ""
    return f"{pattern}-{weight_part(weight)}-{hook}{colour}"


_RUN_TOGETHER = (2, 4, 8, 16, 32, 64, 48, 80, 100)
"""Denominators whose proper fractions stay apart when the stroke is left out; tested, all pairs."""

_PLACES = 6
"""A weight finer than a millionth is written as numerator, D for "divided by", denominator."""


def weight_part(weight: Weight) -> str:
    """Return the part of a SKU that names the weight, never the same for two weights."""
    if weight.unit == "g":
        return f"{_decimal(weight.value)}G"
    whole, part = divmod(weight.value, 1)
    if part and part.denominator not in _RUN_TOGETHER:
        return f"{_decimal(weight.value)}OZ"
    run = f"{part.numerator}{part.denominator}" if part else ""
    return f"{whole}OZ{run}" if whole else run


def _decimal(value: Fraction) -> str:
    return print_decimal(value, _PLACES) or f"{value.numerator}D{value.denominator}"


def hook_part(size: str) -> str:
    """Return the part of a SKU that names the hook size, never the same for two sizes."""
    if size.endswith("/0"):
        return size.replace("/", "")
    return size if len(size) == 1 else f"N{size}"


MADE_OF = ("pattern", "weight", "hook", "colour")
"""The four that identify a product."""

_NAMED = ("pattern", "weight", "colour")
"""Those without which there is none; of a hook the size need not be known."""

OVERRIDES = ("price", "gtin", "photo", "note", "markets", "pack")
"""What a row may say of a product besides."""

PATTERNS_TOO = ("price", "photo", "pack")
"""Which of those a pattern may say of all its products."""


@dataclass(slots=True)
class ProductDrafts:
    """The drafts of the catalog while rows are laid over them."""

    file: CatalogFile
    photos: Photos
    drafts: dict[str, Draft]
    retired: dict[str, Draft | None] = field(default_factory=dict)
    """What is sold no more, in the order of the rows; None where no pattern makes it."""
    findings: list[Finding] = field(default_factory=list)
    laid: dict[str, SheetRow] = field(default_factory=dict)
    """The row that each SKU has had."""
    given: list[tuple[str, str, Place]] = field(default_factory=list)
    """SKU, GTIN and its cell, for every GTIN that a row gives."""
    alike: dict[tuple[str, str | None, str], list[Draft]] = field(default_factory=dict)
    """Drafts by their pattern, hook and colour."""
    photoless: list[Finding] = field(default_factory=list)
    """What is wrong with photos that the maker's own spreadsheet names."""
    added: list[tuple[Draft, Place]] = field(default_factory=list)
    """The drafts that rows added, each with the cell of its SKU."""
    on_hand: dict[str, int] = field(default_factory=dict)
    """How many packs a row counts of a SKU."""
    over: list[tuple[str, Draft, Place]] = field(default_factory=list)
    """Field, draft and cell of what a row says that the draft's pattern may say too."""
    priced_in: dict[str, Place] = field(default_factory=dict)
    """The cell of every price that a row gives, by SKU."""
    places: dict[str, list[Place]] = field(default_factory=dict)
    """The rows that each SKU has."""

    def _stop(self, rule: str, place: Place, message: str, **rest: str) -> None:
        self.findings.append(stop(rule, place, message, **rest))

    def _fix(self, rule: str, place: Place, message: str, **rest: str) -> None:
        self.findings.append(fix(rule, place, message, **rest))

    def lay(self, rows: Iterable[SheetRow]) -> None:
        """Lay the rows over the drafts, in their order."""
        for draft in self.drafts.values():
            self.alike.setdefault(draft.look, []).append(draft)
        for row in self._merged(rows):
            self._lay(row)
        told = set()
        for draft, place in self.added:
            other = self._same_jig(draft) if draft.sku in self.drafts else None
            if other and other.sku not in told:
                told.add(draft.sku)
                self._fix(
                    "product-twice", place, f"this is the same jig as {other.sku}",
                    found=draft.sku,
                    hint=f"Give the row that SKU, or retire {other.sku} in a row of its own.",
                )  # fmt: skip

    def _same_jig(self, wanted: Draft) -> Draft | None:
        """Return another draft of the same jig in the same packs; 10.6 g is the 3/8 oz there is."""
        return next(
            (
                draft for draft in self.alike.get(wanted.look, ())
                if draft is not wanted and self.drafts.get(draft.sku) is draft
                and _same(wanted.weight, draft.weight)
                and wanted.overrides.get("pack") == draft.overrides.get("pack")
            ),
            None,
        )  # fmt: skip

    def _merged(self, rows: Iterable[SheetRow]) -> list[SheetRow]:
        """Return one row a SKU. Two files may speak of the same, if they say the same."""
        by_sku: dict[str, SheetRow] = {}
        merged: list[SheetRow] = []
        for row in rows:
            sku: str = row.values.get("sku", "")
            first = by_sku.setdefault(sku, row) if sku else row
            if first is row:
                merged.append(row)
            elif first.place.file == row.place.file:
                self.findings.append(_twice(sku, first.place, row.cell("sku")))
            else:
                self._join(sku, first, row)
        return merged

    def _join(self, sku: str, first: SheetRow, second: SheetRow) -> None:
        """Add to a row what only the other file says; a finding for what both say differently."""
        for name, value in second.values.items():
            if name not in first.values:
                first.values[name], first.cells[name] = value, second.cells[name]
            elif first.values[name] != value:
                self._stop(
                    "files-disagree",
                    second.cell(name),
                    f"the two spreadsheets give {sku} another {name}",
                    found=_as_text(value),
                    expected=f"{_as_text(first.values[name])}, as in {first.cell(name)}",
                )
        first.spoiled = first.spoiled or second.spoiled

    def _lay(self, row: SheetRow) -> None:
        made_of = self._made_of(row)
        sku = row.values.get("sku") or self._sku_of(made_of, row)
        if sku is None:
            if not row.spoiled:
                self._stop(
                    "sku-missing",
                    row.place,
                    "the row does not say which product it is about",
                    found=", ".join(row.values),
                    expected="a SKU, or pattern, weight, hook and colour",
                )
            return
        self.places.setdefault(sku, []).append(row.place)
        first = self.laid.get(sku)
        if first is not None:
            if row.own or not first.own:
                self.findings.append(_twice(sku, first.cell("sku"), row.place))
            else:
                self._lay_beside(sku, first, row, made_of)
            return
        self.laid[sku] = row
        if "on_hand" in row.values:
            self.on_hand[sku] = row.values["on_hand"]
        if "gtin" in row.values:
            self._give(sku, row.values["gtin"], row.cell("gtin"))
        draft = self.drafts.get(sku)
        if draft is not None:
            self._check_same(row, draft, made_of)
            self._override(row, draft)
            self.over += [
                (name, draft, row.cell(name)) for name in PATTERNS_TOO if name in row.values
            ]
        elif row.values.get("retired") and not (row.own and made_of.keys() >= set(MADE_OF)):
            self._retire_unknown(row, sku)
        elif not row.spoiled:
            self._add(row, sku, made_of)

    def _lay_beside(
        self, sku: str, first: SheetRow, row: SheetRow, made_of: dict[str, Any]
    ) -> None:
        """Add what a row of products.csv says of a jig that the maker's own spreadsheet has too."""
        more = {name: value for name, value in row.values.items() if name not in first.values}
        beside = SheetRow(row.place, more, {name: row.cells[name] for name in more})
        jig = {name: row.values[name] for name in MADE_OF if name in row.values}
        said = {name: value for name, value in row.values.items() if name not in jig}
        self._join(sku, first, SheetRow(row.place, said, dict(row.cells)))
        if "gtin" in more:
            self._give(sku, more["gtin"], row.cell("gtin"))
        if (draft := self.drafts.get(sku)) is not None:
            self._check_same(row, draft, made_of)
            self._override(beside, draft)

    def _made_of(self, row: SheetRow) -> dict[str, Any]:
        """Return the four that identify a product, names looked up; findings for wrong ones."""
        made_of: dict[str, Any] = {
            name: row.values[name] for name in ("weight", "hook") if name in row.values
        }
        if "pattern" in row.values:
            made_of["pattern"] = self._look_up(row, "pattern", self.file.patterns)
        if "colour" in row.values:
            pattern = self.file.patterns.get(made_of.get("pattern") or "")
            likely = pattern.colours if pattern else ()
            made_of["colour"] = self._look_up(row, "colour", self.file.colours, likely)
        if made_of.keys() == set(_NAMED) and not row.spoiled:
            # one size, or none at all, needs no saying
            pattern = self.file.patterns.get(made_of["pattern"] or "")
            sizes = hook_sizes(pattern, made_of["weight"]) if pattern else ()
            if pattern and (len(sizes) < 2 or row.own):
                made_of["hook"] = sizes[0] if len(sizes) == 1 else None
        return made_of

    def _look_up(
        self,
        row: SheetRow,
        what: str,
        entries: Mapping[str, Pattern] | Mapping[str, Colour],
        likely: Sequence[str] = (),
    ) -> str | None:
        """Return the name of the entry that a cell means, by heading, code or full name."""
        text: str = row.values[what]
        plain = text.casefold()
        meant: list[str] = [text] if text in entries else []
        for spellings in (
            {name: name for name in entries},
            {name: one.code for name, one in entries.items()},
            {name: one.name for name, one in entries.items()},
        ):
            meant = meant or [name for name, one in spellings.items() if one.casefold() == plain]
        if len(meant) > 1:
            meant = [name for name in meant if name in likely] or meant
        if len(meant) == 1:
            return meant[0]
        row.spoiled = True
        if meant:
            rule, message = "unclear-name", f"several {what}s go by this"
            hint = "Give the name in its heading."
        else:
            rule, message = "unknown-name", f"the catalog has no such {what}"
            codes = [one.code for one in entries.values()]
            names = [one.name for one in entries.values()]
            hint = did_you_mean(text, [*codes, *names, *entries])
        self._stop(
            rule,
            row.cell(what),
            message,
            found=as_written(text),
            expected=", ".join(meant),
            hint=hint,
        )
        return None

    def _sku_of(self, made_of: dict[str, Any], row: SheetRow) -> str | None:
        """Return the SKU that a row's names come to; in the maker's own sheet by them alone.

        There a jig that another row gives in grams keeps a SKU of its own, or it would depend on
        which of the two rows comes first.
        """
        if "hook" not in made_of or any(made_of.get(each) is None for each in _NAMED):
            return None
        if not row.own and (same := self._same_jig(Draft("", **made_of))):
            return same.sku
        pattern, colour = (
            self.file.patterns[made_of["pattern"]],
            self.file.colours[made_of["colour"]],
        )
        parts = pattern.code, made_of["weight"], made_of["hook"], colour.code
        sku = make_sku(*parts)
        how = self.file.spreadsheet
        if row.own and how and not how.codes.hooks and sku not in self.drafts:
            sku = make_sku(*parts[:2], None, colour.code)
        pack = row.values.get("pack", pattern.pack)
        if row.own and pack != pattern.pack:
            sku += f"-{pack}PK"
        if len(sku) > LONGEST_SKU:
            self._stop(
                "sku-too-long", row.place, "the SKU is too long", found=sku,
                expected=f"at most {LONGEST_SKU} letters",
                hint="Give the pattern or the colour a shorter code.",
            )  # fmt: skip
        return sku

    def _add(self, row: SheetRow, sku: str, made_of: dict[str, Any]) -> None:
        if missing := [name for name in MADE_OF if name not in made_of]:
            if made_of:
                message = f"an added product needs its {', '.join(missing)}"
                hint = "A row for a SKU of the catalog needs none of them."
            else:
                message = "no pattern makes this SKU"
                hint = did_you_mean(sku, list(self.drafts))
            place = row.cell("sku")
            self.findings.append(stop("sku-unknown", place, message, found=sku, hint=hint))
            return
        draft = Draft(sku, **made_of)
        unsized = Draft("", **(made_of | {"hook": None}))
        if draft.hook and (same := self._same_jig(unsized)) and same.sku not in self.laid:
            del self.drafts[same.sku]  # the row tells the size that the pattern leaves open
        self.drafts[sku] = draft
        self.added.append((draft, row.cell("sku")))
        self.alike.setdefault(draft.look, []).append(draft)
        self._override(row, draft)

    def _retire_unknown(self, row: SheetRow, sku: str) -> None:
        """Keep a SKU retired after its pattern has gone; a slip of the pen looks the same."""
        self.retired[sku] = None
        if near := did_you_mean(sku, list(self.drafts)):
            self._fix(
                "retired-unknown",
                row.cell("sku"),
                "retires a SKU that no pattern makes; right if the pattern is gone",
                found=sku,
                hint=near,
            )

    def _check_same(self, row: SheetRow, draft: Draft, made_of: dict[str, Any]) -> None:
        for name in MADE_OF:
            stated, known = made_of.get(name), getattr(draft, name)
            if known is None and stated is not None:
                draft.hook = stated
                self.alike.setdefault(draft.look, []).append(draft)
            elif stated is not None and not _same(stated, known):
                self._stop(
                    "row-contradicts",
                    row.cell(name),
                    f"{draft.sku} has another {name} in the catalog",
                    found=str(stated),
                    expected=str(known),
                    hint="Leave it blank, or give the row a SKU of its own.",
                )

    def find_photos(self) -> None:
        """Give each product without a photo the one that is named after its pattern and colour.

        The photos that the maker's own spreadsheet names and that are not there are told at once.
        """
        told = {fault.found: fault for fault in reversed(self.photoless)}
        if told:
            first = self.photoless[0]
            missing = listed([fault.found for fault in reversed(told.values())])
            self.findings.append(replace(first, grade=Grade.FIX, found=missing))
        patterns, colours = self.file.patterns, self.file.colours
        names = {
            draft.sku: (patterns[draft.pattern].name, colours[draft.colour].name)
            for draft in self.drafts.values()
        }
        found = self.photos.of_looks(names.values())
        for sku, draft in self.drafts.items():
            if names[sku] in found and not patterns[draft.pattern].photo:
                draft.overrides.setdefault("photo", found[names[sku]])

    def _override(self, row: SheetRow, draft: Draft) -> None:
        if "photo" in row.values:
            row.values["photo"] = self.photos.meant(row.values["photo"])
            if fault := self.photos.fault(row.cell("photo"), row.values["photo"]):
                if row.own:
                    self.photoless.append(fault)
                    del row.values["photo"]
                else:
                    self.findings.append(fault)
        for name in OVERRIDES:
            if name in row.values:
                draft.overrides[name] = self._price(row) if name == "price" else row.values[name]
        if "price" in row.values:
            self.priced_in[draft.sku] = row.cell("price")
        if row.values.get("retired"):
            self.retired[draft.sku] = self.drafts.pop(draft.sku)

    def _give(self, sku: str, gtin: str, place: Place) -> None:
        self.given.append((sku, gtin, place))
        if prefix_kind(gtin) == "restricted":
            self._fix(
                "gtin-in-store",
                place,
                "numbers that begin so hold within one shop only; no other can sell by it",
                found=gtin,
                source="GS1 General Specifications, 1.4",
            )

    def _price(self, row: SheetRow) -> Any:
        amount, currency = row.values["price"]
        if currency and currency != self.file.sale.currency:
            self._stop(
                "other-currency",
                row.cell("price"),
                "this price is in another money than the catalog's",
                found=f"{amount} {currency}",
                expected=f"an amount in {self.file.sale.currency}",
            )
        return amount


def find_overruled(source: TomlFile, drafts: ProductDrafts) -> Iterator[Finding]:
    """Say once for every pattern and field that the spreadsheet says otherwise, and which holds."""
    differing: dict[tuple[str, str], list[tuple[Draft, Place, Place, str]]] = {}
    for name, draft, cell in drafts.over:
        stated = source.data.get("patterns", {}).get(draft.pattern, {})
        keys: tuple[str, ...] = ("patterns", draft.pattern, name)
        was = stated.get(name)
        if name == "price":
            by = by_weight(drafts.file.patterns[draft.pattern].prices)
            if draft.weight in by:
                keys, was = ("patterns", draft.pattern, "prices"), by[draft.weight]
            elif was is not None:
                was = drafts.file.patterns[draft.pattern].price
        if was is not None and was != draft.overrides[name]:
            row = draft, cell, source.place(keys), str(was)
            differing.setdefault((name, draft.pattern), []).append(row)
    for (name, pattern), rows in differing.items():
        skus: dict[str, list[str]] = {}
        for draft, _, place, was in rows:
            said = f"{draft.overrides[name]}, not the {was} of {place}"
            skus.setdefault(said, []).append(draft.sku)
        yield note(
            "spreadsheet-holds",
            rows[0][1],
            f"the {name} of {pattern} in the spreadsheet holds, where {rows[0][2].file} has "
            "another",
            found="; ".join(f"{listed(each)}: {said}" for said, each in skus.items()),
            hint=f"To have that of {rows[0][2].file}, leave the cell blank.",
        )


def _same(stated: Any, known: Any) -> bool:
    """Tell whether a cell says what is known; 10.6 g is as good a way to say 3/8 oz."""
    if isinstance(stated, Weight) and isinstance(known, Weight) and stated.unit != known.unit:
        return abs(stated.grams - known.grams) * 100 <= known.grams
    return bool(stated == known)


def _twice(sku: str, first: Place, second: Place) -> Finding:
    return stop(
        "duplicate-sku",
        second,
        f"the SKU {sku} has a row already",
        found=f"{first} and here",
        hint="Keep one of the two.",
    )


def _as_text(value: Any) -> str:
    return " ".join(map(str, value)).strip() if isinstance(value, tuple) else str(value)
