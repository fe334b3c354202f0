"""What a maker's line consists of: frozen records, no behaviour beyond arithmetic.

First the parts of a jig, then the tables of the catalog file; `Product` at the end is what comes of
them: one pattern in one weight, hook size and colour. A product carries all that it refers to, so
that it can be kept as it was and printed again years later.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from fnmatch import fnmatchcase
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import Annotated, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field

from labeler.catalog.values import (
    COUNTED,
    CodePart,
    CompanyPrefix,
    Country,
    Currency,
    Day,
    Density,
    Email,
    ExactWeight,
    Gtin,
    HookSize,
    HookSizes,
    Ink,
    LedgerUrl,
    Line,
    Links,
    LotPrefix,
    Market,
    Money,
    Name,
    PaperLength,
    Share,
    Site,
    Sku,
    Story,
    TimeZone,
)
from labeler.findings import Place
from labeler.units import NO_BREAK_SPACE, Length, Weight

TWO_LANGUAGES = f"{NO_BREAK_SPACE}/ "
"""What stands between words and the same in a second language."""

LEAD = ("lead", "Pb")
"""The metal's name and its symbol. Source: IUPAC, Periodic Table of the Elements, element 82."""


@lru_cache(maxsize=4096)
def means(name: str, substances: tuple[str, ...]) -> bool:
    """Tell whether ``name`` names one of ``substances``, as whole words in any case.

    ``tin-lead`` and ``lead (pure)`` mean lead; ``lead-free tin`` and ``leader`` do not.
    """
    plain = _words(name)
    return any(
        re.search(rf"(?<!non )(?<!no )\b{re.escape(_words(substance))}\b(?! free)", plain)
        for substance in substances
    )


def _words(text: str) -> str:
    return " ".join(re.findall(r"\w+", text.casefold()))


Value = TypeVar("Value")


def by_weight(table: Mapping[str, Value]) -> dict[Weight, Value]:
    """Return a table whose keys are weights, ``{ "1/2 oz" = "5.25" }``, by those weights.

    Raises:
        ValueError: if a key is no weight; a catalog that has one is never printed from.
    """
    return {Weight.parse(text): value for text, value in table.items()}


class Record(BaseModel):
    """A frozen record; a key it does not know is an error.

    The text under a field says what the key is for: the JSON Schema takes it from here. Validators
    are built when first used, since most commands check no more than one or two records.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


MaterialKind = Literal[
    "alloy", "silicone", "living rubber", "hair", "feather", "tinsel", "guard fibre",
    "wire", "thread", "glue", "paint", "eyes", "steel",
]  # fmt: skip


class Material(Record):
    """Something that goes into a jig: what it is made of and where it comes from."""

    name: Line
    """What it is called, as bought."""
    kind: MaterialKind
    """What kind of thing it is; rules and batch cards go by it."""
    composition: dict[Line, Share] = Field(default_factory=dict)
    """Substance and its share by mass; shares add up to at most 100 %."""
    density: Density | None = None
    """Left out, an alloy's is computed from its composition."""
    origin: Country | None = None
    strands_per_tab: Annotated[int, Field(ge=1, le=500), COUNTED] | None = None
    """Strands in one tab as bought."""
    tab_weight: ExactWeight | None = None
    """What one tab weighs as bought."""
    supplier: Line | None = None
    """Who sells it to you."""
    certificate: Line | None = None
    """What the supplier's paper that vouches for the composition is called, and where it lies."""

    @cached_property
    def stated_share(self) -> Fraction:
        """How much of the material the composition states, by mass."""
        return sum(self.composition.values(), start=Fraction(0))

    @cached_property
    def lead_share(self) -> Fraction:
        """The share of lead by mass; 0 where none is stated.

        An alloy that states no composition but is called lead counts as nothing but lead.
        """
        if not self.composition and self.kind == "alloy" and means(self.name, LEAD):
            return Fraction(1)
        return self.share_of(LEAD)

    def share_of(self, substances: tuple[str, ...]) -> Fraction:
        """Return the share by mass that the composition states of ``substances`` together."""
        return sum(
            (share for name, share in self.composition.items() if means(name, substances)),
            start=Fraction(0),
        )


HeadStyle = Literal["round", "football", "swim", "bullet", "flat", "cone", "banana"]


class Head(Record):
    """A jig head: its shape, the alloy it is cast from and the mould's cavities."""

    name: Line
    """What the head is called."""
    style: HeadStyle
    """Its shape, by which it is drawn."""
    alloy: Line
    """The name of a material of kind alloy."""
    cavities: dict[str, ExactWeight] = Field(default_factory=dict)
    """Stated weight to the weight that the mould's cavity is marked with, where they differ."""
    marked_for: Line = "lead"
    """The metal for which the mould's cavities are marked."""
    eyes: bool = False
    """Whether eyes are painted or set on the head."""

    def cavity_mark(self, stated: Weight) -> Weight:
        """Return the weight that the cavity for a ``stated`` weight is marked with."""
        return by_weight(self.cavities).get(stated, stated)


HookBend = Literal["round", "flat", "sproat", "o'shaughnessy", "aberdeen"]


class Hook(Record):
    """A hook as it comes in the box."""

    name: Line = ""
    """What the hook is called; left out, labels give its size alone."""
    bend: HookBend = "round"
    """The shape of its bend."""
    wire: Literal["light", "medium", "heavy"] = "medium"
    """How thick its wire is."""
    finish: Line | None = None
    """Its finish, as a label names it."""
    ink: Ink = "#3a3a3c"
    """How the finish looks."""
    eye: Annotated[int, Field(ge=0, le=90), COUNTED] = 60
    """The angle of the eye to the shank, in degrees."""
    origin: Country | None = None
    material: Line | None = None
    """The name of a material of kind steel."""


class Guard(Record):
    """A weed guard."""

    name: Line
    """What the guard is called."""
    style: Literal["fibre", "wire", "braid"] = "fibre"
    """What it is made like."""
    strands: Annotated[int, Field(ge=1, le=200), COUNTED] = 30
    """Fibres in one guard."""
    ink: Ink = "#20242a"
    material: Line | None = None
    """The name of a material."""


class Flake(Record):
    """Glitter or print in a strand."""

    ink: Ink
    density: Literal["sparse", "medium", "dense"] = "medium"
    """How thick it lies."""


Seat = Literal["around", "back", "sides", "belly", "tail"]


class Layer(Record):
    """One layer of a skirt. Layers stand in tying order; the first tied shows outside."""

    material: Line
    """The name of a material."""
    shade: Line
    """The colour's name as bought."""
    ink: Ink
    tip: Ink | None = None
    """The second colour of a two-tone strand, at its free end."""
    flake: Flake | None = None
    """Glitter or print in its strands."""
    strands: Annotated[int, Field(ge=1, le=2000), COUNTED]
    """Strands in this layer; for hair and feather, the hairs or plumes to draw."""
    amount: Line | None = None
    """What to pull from the bench where strands are not counted, such as 'a matchstick of hair'."""
    seat: Seat = "around"
    """Where on the jig it sits."""


class Colour(Record):
    """A colourway: its recipe, and the head that goes with it."""

    code: CodePart
    name: Line
    """What buyers call it."""
    layers: tuple[Layer, ...] = ()
    """The skirt, layer by layer, in tying order; left out, labels show only a photo."""
    proposed: bool = False
    """Whether the layers are only a proposal, of which nothing is printed yet."""
    head_ink: Ink = "#3d3d3b"
    head_paint: Line | None = None
    """The paint's name; left out, the head is bare metal."""
    thread_ink: Ink = "#1b1b1d"
    eye_ink: Ink = "#e8d36a"
    note: Line | None = None
    """A line that a layout may print, such as 'limited to this spring'."""

    @property
    def strands(self) -> int:
        """Strands in one skirt."""
        return sum(layer.strands for layer in self.layers)

    @property
    def settled(self) -> Colour:
        """The colour without what is only proposed of it."""
        if not self.proposed:
            return self
        return self.model_copy(update={"layers": (), "proposed": False})


class Tie(Record):
    """How a pattern is tied, for the batch card."""

    thread: Line | None = None
    """The name of a material of kind thread."""
    wraps: Annotated[int, Field(ge=1, le=500), COUNTED] | None = None
    """Turns of thread."""
    trim: Line | None = None
    """Where the skirt is trimmed, such as '3/8 in past the bend', which the drawing keeps to."""
    glue: Line | None = None
    """Which glue and how much of it, by its name among the materials."""
    cure: Line | None = None
    """How long the glue takes."""
    notes: Line | None = None
    """Anything else to mind at the bench."""
    waste: Share | None = None
    """What to pull beyond the recipe for strands that are lost, such as '5 %'."""


class Bag(Record):
    """A bag that jigs are sold in."""

    name: Line
    """What the bag is called."""
    width: PaperLength | None = None
    """Measured flat, as is the height; without both, letters are set as for a large bag."""
    height: PaperLength | None = None
    clear: bool = True
    """Whether every unit is fully visible through it."""

    @property
    def size(self) -> tuple[Length, Length] | None:
        """Width and height, where both are known."""
        return (self.width, self.height) if self.width and self.height else None


class Maker(Record):
    """Who stands behind the label, and how to reach them."""

    name: Line
    """The exact business name."""
    street: Line | None = None
    """May be left out only where a directory or a public web site of addresses lists the maker."""
    city: Line
    """City or town."""
    state: Line | None = None
    """State or province, as post is addressed."""
    postcode: Line
    """ZIP or postal code."""
    country: Country = "US"
    site: Site | None = None
    """Web site, as buyers read it."""
    links: Links | None = None
    """The address that QR links begin with, such as https://go.example.com."""
    email: Email | None = None
    """Where buyers write to."""
    phone: Line | None = None
    """Where buyers call."""
    logo: Line | None = None
    """A file in photos/: PNG, JPEG, SVG or PDF, for cards, slips, invoices, book and web pages."""
    gs1_prefix: CompanyPrefix | None = None
    """The company prefix that GS1 has licensed to the maker, digits only."""
    employees: Annotated[int, Field(ge=1, le=100_000), COUNTED] = 1
    """How many people work here; some warning duties begin at ten."""
    listed: bool = False
    """Whether a current directory, printed or on the web, lists the maker's street."""


class Sale(Record):
    """Where and in what money the goods are sold."""

    markets: Annotated[tuple[Market, ...], Field(min_length=1)]
    """Every place of sale, by ISO 3166 code."""
    currency: Currency = "USD"
    """ISO 4217 code."""
    sales_tax: Share | None = None
    """What customers of your own are billed on the goods; left out, none."""
    sales_tax_says: Line = "Sales tax"
    """What their invoice calls it."""


class LabelWords(Record):
    """What labels say in a second language beside English."""

    second_language: Literal["es", "fr"] | None = None
    """Its ISO 639-1 code: fr for French, as Canada and Quebec ask, es for Spanish."""
    words: dict[Line, Line] = Field(default_factory=dict)
    """Your own words for your kinds, patterns and colours, and for words that labels print."""


class Pattern(Record):
    """One design of jig, and the weights, hooks and colours it is made in."""

    code: CodePart
    name: Line
    """What buyers call it."""
    kind: Line
    """What it is, as a buyer would say: swim jig, hair jig, flipping jig."""
    head: Line
    """The name of a head."""
    hook: Line
    """The name of a hook."""
    guard: Line | None = None
    """The name of a guard; left out, it has none."""
    weights: Annotated[tuple[ExactWeight, ...], Field(min_length=1)]
    """The weights it is made in."""
    hook_sizes: tuple[HookSize, ...] = ()
    """Every size is made in every weight, unless hook_for says otherwise; may be unknown."""
    hook_for: dict[str, HookSizes] = Field(default_factory=dict)
    """Weight to the hook size or sizes that it is made on."""
    colours: Annotated[tuple[Line, ...], Field(min_length=1)]
    """Names of colours, in the order in which they are shown."""
    skirt: Literal["skirt", "hair", "feather"] = "skirt"
    """How the dressing behaves: folded-back strands, swept hair, or soft plumes."""
    tied_with: tuple[Line, ...] = ()
    """Names of materials that it is tied from, for colours whose recipe is not told."""
    bag: Line | None = None
    """The name of the bag it is sold in."""
    pack: Annotated[int, Field(ge=1, le=1000), COUNTED] = 1
    """Units in one pack."""
    case: Annotated[int, Field(ge=1, le=10_000), COUNTED] | None = None
    """Packs in one case; left out, a dealer may order by the pack."""
    price: Money | None = None
    """Suggested retail price of one pack."""
    prices: dict[str, Money] = Field(default_factory=dict)
    """Weight to price, where it differs."""
    length: PaperLength | None = None
    """The finished jig along its longest axis."""
    whole: dict[str, ExactWeight] = Field(default_factory=dict)
    """Stated weight to what the finished jig weighs, with its hook and dressing."""
    made_in: Country | None = None
    made_by: Literal["the maker", "made for", "packed by", "distributed by"] = "the maker"
    """What the maker on the label has to do with goods that others made."""
    for_children: bool = False
    """Whether it is made mainly for children of twelve or younger."""
    story: Story | None = None
    """A few sentences for the back of the card."""
    care: Line | None = None
    """How to look after it, for the back of the card."""
    photo: Line | None = None
    """A file in photos/."""
    tie: Tie = Tie.model_construct()
    """How it is tied."""


class PhotoBox(Record):
    """A part of a photo, as it stands upright, in shares of its width and height."""

    left: Share
    """From the photo's left edge to the part."""
    top: Share
    """From the photo's top edge to the part."""
    right: Share
    """From the photo's left edge to the part's right."""
    bottom: Share
    """From the photo's top edge to the part's bottom."""


class PhotoView(Record):
    """How a photo of a jig is shown. What is left out is proposed from the photo itself."""

    show: Literal["jig", "whole"] = "jig"
    """Whether it is cut to the jig, or shown whole and as it is."""
    box: PhotoBox | None = None
    """Where in it the jig is."""
    head: Literal["left", "right", "up", "down"] | None = None
    """Where the jig's head points in it; it is turned so that the head is left."""
    ground: Literal["clear", "keep"] = "clear"
    """Whether what the jig lies on is taken away, where it is plain enough."""


class Pack(Record):
    """An assorted pack: several products in one bag, sold under a SKU of its own."""

    code: Sku
    """Its SKU."""
    name: Line
    """What buyers call it."""
    of: Annotated[dict[Line, Annotated[int, Field(ge=1, le=100), COUNTED]], Field(min_length=2)]
    """What is in one bag: SKU or words of one product, to how many of it."""
    assortment: Line = "Assorted"
    """What stands under the name, in the place of a colour."""
    kind: Line | None = None
    """What it is, as a buyer would say; left out, what all of them are, or a fishing jig."""
    bag: Line | None = None
    """The name of the bag it is sold in; left out, the one that all of them are sold in."""
    case: Annotated[int, Field(ge=1, le=10_000), COUNTED] | None = None
    """Packs in one case; left out, a dealer may order by the pack."""
    price: Money | None = None
    """Suggested retail price of one pack."""
    gtin: Gtin | None = None
    story: Story | None = None
    """A few sentences for the back of the card."""
    care: Line | None = None
    """How to look after what is in it."""
    note: Line | None = None
    """A line that a layout may print."""


class Tier(Record):
    """A price tier."""

    name: Line
    """What the tier is called."""
    off: Share
    """What comes off the suggested retail price."""
    at_least: Annotated[int, Field(ge=1), COUNTED] = 1
    """The least number of packs in an order."""
    round_to: Money = Decimal("0.01")


class Dealer(Record):
    """A shop that sells the line."""

    name: Line
    """The shop's name, as it stands on a packing slip."""
    tier: Line | None = None
    """The name of a price tier."""
    street: Line | None = None
    """Street and number."""
    city: Line | None = None
    """City or town."""
    state: Line | None = None
    """State or province."""
    postcode: Line | None = None
    """ZIP or postal code."""
    country: Country = "US"
    email: Email | None = None
    """Electronic mail; the order form names it where there is no telephone."""
    phone: Line | None = None
    """Telephone number."""
    sales_tax: Share | None = None
    """What this shop is billed on the goods; left out, none, as for most who sell them again."""
    sales_tax_says: Line = "Sales tax"
    """What its invoice calls that."""
    market: Market | None = None


class Terms(Record):
    """On what terms dealers buy: what the dealer catalog and its order form say."""

    listed: Day | None = None
    """The day from which the price list holds."""
    valid_until: Day | None = None
    """The last day on which it holds."""
    minimum: Money | None = None
    """The least order, in money."""
    lead_time: Line | None = None
    """How long an order takes, such as '3 weeks from the order'."""
    freight: Line | None = None
    """Who pays for carriage."""
    payment: Line | None = None
    """When and how an order is paid."""
    returns: Line | None = None
    """What may come back, and until when."""
    excise: Literal["included", "not included"] = "included"
    """Whether dealer prices hold the federal excise tax on sport fishing equipment."""
    notes: Line | None = None
    """Anything else that a shop should know."""
    invoice: Line | None = None
    """A line at the foot of every invoice, such as your tax number."""


class DatedPrices(Record):
    """Suggested retail prices that hold from a day on, or for a season."""

    first_day: Day
    """The first day on which they hold."""
    last_day: Day | None = None
    """The last day on which they hold; left out, they hold from then on."""
    skus: dict[Line, Money]
    """SKU, or SKUs such as RV-38-*, to the price of one pack; the longer name goes first."""
    was: dict[Line, Money] = Field(default_factory=dict)
    """SKU to the price that its dated one replaced; where that has changed since, you are told."""

    def hold_on(self, day: dt.date) -> bool:
        """Tell whether they hold on a day."""
        return self.first_day <= day and (self.last_day is None or day <= self.last_day)

    def key_of(self, sku: str) -> str:
        """Return the key that gives a SKU's price: itself, else the longest that fits; or none."""
        fitting = [name for name in self.skus if fnmatchcase(sku, name.upper())]
        return max(fitting, key=lambda name: (name.upper() == sku, len(name)), default="")


class LotBook(Record):
    """Where lots are kept, how their codes are written, and the bench's clock."""

    url: LedgerUrl | None = None
    """The database that two benches share; left out, the file ledger.sqlite in this folder."""
    prefix: LotPrefix = ""
    """What lot codes begin with; left out, they are digits only."""
    zone: TimeZone | None = None
    """The bench's time zone; left out, the computer's."""


SheetField = Literal[
    "sku", "pattern", "weight", "hook", "colour", "price", "wholesale", "gtin", "on_hand", "photo",
    "note", "remark", "status", "retired", "pack", "markets", "head", "hook_name", "bag", "ignored",
]  # fmt: skip
"""What a column of a maker's own spreadsheet may hold. A note may be printed; a remark is the
maker's own business, and only read for whether the product is still made. What names the head's
metal, the hook or the bag must be what the row's pattern has."""


class Across(Record):
    """Columns that stand for a weight or a colour each, such as prices under 1/4, 3/8 and 1/2."""

    field: Literal["weight", "colour"]
    """What the headings across the top are."""
    cells: Literal["price", "on_hand", "mark"] = "price"
    """What stands below them: prices, how many are on hand, or a mark where there is one."""
    headings: dict[Line, Line] = Field(default_factory=dict)
    """The maker's heading to the weight or colour that it means; other weights are found."""


class PatternDefaults(Record):
    """What is so of every pattern that the spreadsheet names, unless its own table says other."""

    kind: Line | None = None
    """What it is, as a buyer would say: swim jig, hair jig, flipping jig."""
    head: Line | None = None
    """The name of a head."""
    hook: Line | None = None
    """The name of a hook."""
    guard: Line | None = None
    """The name of a guard."""
    hook_sizes: tuple[HookSize, ...] = ()
    """The one size where the spreadsheet gives none."""
    skirt: Literal["skirt", "hair", "feather"] = "skirt"
    """How the dressing behaves: folded-back strands, swept hair, or soft plumes."""
    tied_with: tuple[Line, ...] = ()
    """The names of the materials it is tied from, where a colour gives no recipe."""
    bag: Line | None = None
    """The name of the bag it is sold in."""
    pack: Annotated[int, Field(ge=1, le=1000), COUNTED] = 1
    """Units in one pack."""
    made_in: Country | None = None
    made_by: Literal["the maker", "made for", "packed by", "distributed by"] = "the maker"
    """What the maker on the label has to do with goods that others made."""
    for_children: bool = False
    """Whether it is made mainly for children of twelve or younger."""
    care: Line | None = None
    """How to look after it, for the back of the card."""


class SheetCodes(Record):
    """The parts of SKUs that stand for names; a name without one has a code made from it."""

    patterns: dict[Line, CodePart] = Field(default_factory=dict)
    """A pattern's name to its code. Once lots have been made it stays."""
    colours: dict[Line, CodePart] = Field(default_factory=dict)
    """A colour's name to its code. Once lots have been made it stays."""
    hooks: bool = True
    """Whether SKUs tell the hook size; with false, a size that is filled in later changes none."""


class Spreadsheet(Record):
    """The maker's own spreadsheet, which stays the master of what it holds, and how it is read."""

    file: Line
    """Its path, from this folder: xlsx, xls, ods or csv. It is only read, never written."""
    sheet: Line | None = None
    """The sheet that holds the products; left out, the one that has the headings."""
    headings_row: Annotated[int, Field(ge=0, le=20_000), COUNTED] | None = None
    """The row of its headings, 0 where there is none; left out, or moved, they are looked for."""
    headings: dict[Line, SheetField]
    """The maker's heading to what is under it; a column without one is called "column A". A note
    may be printed; a remark is your own, and read for whether the jig is still made; on_hand counts
    packs."""
    titles: Literal["pattern", "colour", "weight"] | None = None
    """What a row with one single text says of the rows below it."""
    fill_down: tuple[SheetField, ...] = ()
    """Where a blank means the same as above, the outermost first: a new one ends the next."""
    several: tuple[Literal["weight", "colour", "hook"], ...] = ()
    """What has several in one cell, parted by commas."""
    parted: Line | None = None
    """The sign between pattern and colour where one cell holds both, such as "-"."""
    weights: tuple[ExactWeight, ...] = ()
    """The weights that a row without one is made in."""
    colour: Line | None = None
    """The colour of a row that names none."""
    unit: Literal["oz", "g"] | None = None
    """The unit of weights that are numbers alone."""
    means: dict[Line, str] = Field(default_factory=dict)
    """A cell's text to what is to be read instead; "" is nothing."""
    across: Across | None = None
    """Columns that stand for a weight or a colour each."""
    pattern: PatternDefaults = PatternDefaults.model_construct()
    """What is so of every pattern that the spreadsheet names."""
    codes: SheetCodes = SheetCodes.model_construct()
    """The parts of SKUs that stand for names."""


def dated_price(prices: Sequence[DatedPrices], sku: str, day: dt.date) -> tuple[int, str] | None:
    """Return which of ``prices`` gives a SKU's price on a day, and its key there; None if none.

    Where several hold, that which began last; of two that began together, the lower in the file.
    """
    holding = (
        (each.first_day, number, key)
        for number, each in enumerate(prices)
        if each.hold_on(day) and (key := each.key_of(sku))
    )
    found = max(holding, default=None)
    return None if found is None else found[1:]


class CatalogFile(Record):
    """The whole of ``catalog.toml``."""

    maker: Maker
    sale: Sale
    materials: dict[Name, Material] = Field(default_factory=dict)
    heads: dict[Name, Head] = Field(default_factory=dict)
    hooks: dict[Name, Hook] = Field(default_factory=dict)
    guards: dict[Name, Guard] = Field(default_factory=dict)
    colours: dict[Name, Colour] = Field(default_factory=dict)
    bags: dict[Name, Bag] = Field(default_factory=dict)
    patterns: dict[Name, Pattern] = Field(default_factory=dict)
    packs: dict[Name, Pack] = Field(default_factory=dict)
    tiers: dict[Name, Tier] = Field(default_factory=dict)
    dealers: dict[Name, Dealer] = Field(default_factory=dict)
    terms: Terms = Terms.model_construct()
    labels: LabelWords = LabelWords.model_construct()
    prices: tuple[DatedPrices, ...] = ()
    ledger: LotBook = LotBook.model_construct()
    photos: dict[Line, PhotoView] = Field(default_factory=dict)
    spreadsheet: Spreadsheet | None = None


class Product(Record):
    """One SKU, with everything it is made of: what a label is laid out from."""

    sku: Sku
    pattern: Pattern
    weight: ExactWeight
    hook_size: HookSize | None = None
    """None where the maker states none: then neither SKU nor label names one."""
    colour: Colour
    head: Head
    hook: Hook
    guard: Guard | None = None
    bag: Bag | None = None
    materials: dict[str, Material]
    """Every material that goes in, by its name in the catalog; the alloy by ``head.alloy``."""
    maker: Maker
    markets: tuple[Market, ...]
    """Where this product is sold."""
    currency: Currency = "USD"
    price: Money | None = None
    gtin: Gtin | None = None
    """8, 12, 13 or 14 digits with a valid check digit."""
    photo: str | None = None
    """A file in the catalog's photos/."""
    note: str | None = None
    parts: tuple[Part, ...] = ()
    """What an assorted pack is made up of; nothing where it is no such pack."""
    second_language: str | None = None
    """Its labels' beside English, by its ISO 639-1 code."""
    second_words: dict[str, str] = {}
    """What is printed of it, and the plain words of labels, as far as they are known in that."""

    def in_two(self, words: str) -> str:
        """Return words in both languages, ``Hook / Hameçon``; as they are if not known in two."""
        second = self.second_words.get(words, "")
        return f"{words}{TWO_LANGUAGES}{second}" if second and second != words else words

    @property
    def units(self) -> tuple[Product, ...]:
        """What lies in one bag, each kind once and as it lies there; else the product itself.

        Rules and the checker ask of each what they ask of a jig: its weight, its metal, its hook.
        Never kept: a changed copy of a product would keep it too.
        """
        if not self.parts:
            return (self,)
        ours = {
            "bag": self.bag, "maker": self.maker, "markets": self.markets,
            "second_language": self.second_language,
        }  # fmt: skip
        pack = {"pack": self.pattern.pack}
        return tuple(
            part.product.model_copy(
                update={**ours, "pattern": part.product.pattern.model_copy(update=pack)}
            )
            for part in self.parts
        )

    @property
    def name(self) -> str:
        """Pattern's and colour's name in one line."""
        return f"{self.pattern.name}, {self.colour.name}"

    @property
    def alloy(self) -> Material:
        """The metal of the head."""
        return self.materials[self.head.alloy]

    @property
    def dressing_told(self) -> bool:
        """Whether a recipe, or the pattern, says what it is tied from."""
        if self.parts:
            return all(part.product.dressing_told for part in self.parts)
        return bool(self.colour.layers or self.pattern.tied_with)

    @property
    def has_lead(self) -> bool:
        """Whether any material states lead in its composition."""
        return any(material.lead_share > 0 for material in self.materials.values())

    @cached_property
    def cavity(self) -> Weight:
        """The weight that the mould's cavity is marked with."""
        return self.head.cavity_mark(self.weight)

    @cached_property
    def whole_weight(self) -> Weight | None:
        """What the finished jig weighs, where the pattern states it."""
        return by_weight(self.pattern.whole).get(self.weight)


class Part(Record):
    """One kind of product in an assorted pack."""

    product: Product
    count: int
    """How many of it lie in one bag."""


class Catalog(Record):
    """A maker's line, read without fault."""

    file: CatalogFile
    products: tuple[Product, ...]
    retired: tuple[str, ...] = ()
    """SKUs that were sold once and are no more."""
    gone: tuple[Product, ...] = ()
    """Of these the products that a pattern still makes."""
    gtins: dict[str, str] = Field(default_factory=dict)
    """Every GTIN that was ever given, by its SKU; retired SKUs keep theirs for good."""
    on_hand: dict[str, int] = Field(default_factory=dict)
    """How many packs the maker's own spreadsheet counts of a SKU."""
    priced_in: dict[str, Place] = Field(default_factory=dict)
    """The cell of every price that a spreadsheet gives, by SKU."""
    rows: dict[str, tuple[Place, ...]] = Field(default_factory=dict)
    """The rows of spreadsheets that each SKU has; that of the maker's own goes first."""
    undated: dict[str, Decimal | None] = Field(default_factory=dict)
    """What products with a dated price would cost without one, by SKU."""
    folder: str = "."
    fingerprint: str = ""
    """SHA-256 of the files that it was read from."""

    def own_price(self, product: Product) -> Decimal | None:
        """Return what a product would cost without its dated price."""
        own = product.pattern.price if product.parts else product.price
        return self.undated.get(product.sku, own)
