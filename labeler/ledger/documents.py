"""A product as a lot or a run keeps it: every key of its document, and the older forms of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal

from labeler.catalog.model import (
    Bag,
    Colour,
    Flake,
    Guard,
    Head,
    Hook,
    Layer,
    Maker,
    Material,
    Part,
    Pattern,
    Product,
    Tie,
)
from labeler.disclosures.rules import Confidence
from labeler.disclosures.statements import LeastSize, Statement, StatementForm, TextRun
from labeler.findings import Place
from labeler.ledger.stored import (
    NUMBER,
    SOME_TEXT,
    SOME_WHOLE,
    TEXT,
    TEXTS,
    WHOLE,
    YES_NO,
    Document,
    RenamedField,
    Shape,
    StoredKind,
    as_object,
    in_words,
    lacking,
    listed,
    mapped,
)
from labeler.units import Length, Weight


def _decimal(value: Fraction) -> str:
    """Return a decimal that is ``value``; a fraction where none of 28 digits is."""
    text = f"{Decimal(value.numerator) / Decimal(value.denominator):f}"
    return text if Fraction(text) == value else str(value)


def _write_length(length: Length) -> str:
    short = str(length)
    return short if Length.parse(short) == length else f"{Decimal(repr(length.pt)):f} pt"


WEIGHT = in_words("a weight, such as 3/8 oz", str, Weight.parse)
LENGTH = in_words("a length, such as 3 1/2 in", _write_length, Length.parse)
MONEY = in_words("an amount, such as 4.75", str, Decimal)
SHARE = in_words(
    "a share, such as 58 %",
    lambda share: f"{_decimal(share * 100)} %",
    lambda text: Fraction(text.removesuffix(" %")) / 100,
)
DENSITY = in_words(
    "a density, such as 11.34 g/cm3",
    lambda density: f"{_decimal(density)} g/cm3",
    lambda text: Fraction(text.removesuffix(" g/cm3")),
)

_FLAKE = Shape(Flake.model_construct, ink=TEXT, density=TEXT)
_LAYER = Shape(
    Layer.model_construct,
    material=TEXT, shade=TEXT, ink=TEXT, tip=SOME_TEXT, flake=lacking(_FLAKE), strands=WHOLE,
    amount=SOME_TEXT, seat=TEXT,
)  # fmt: skip
_COLOUR = Shape(
    Colour.model_construct,
    code=TEXT, name=TEXT, layers=listed(_LAYER), head_ink=TEXT, head_paint=SOME_TEXT,
    proposed=YES_NO, thread_ink=TEXT, eye_ink=TEXT, note=SOME_TEXT,
)  # fmt: skip
_TIE = Shape(
    Tie.model_construct,
    thread=SOME_TEXT, wraps=SOME_WHOLE, trim=SOME_TEXT, glue=SOME_TEXT, cure=SOME_TEXT,
    notes=SOME_TEXT, waste=lacking(SHARE),
)  # fmt: skip
_PATTERN = Shape(
    Pattern.model_construct,
    code=TEXT, name=TEXT, kind=TEXT, head=TEXT, hook=TEXT, guard=SOME_TEXT,
    weights=listed(WEIGHT), hook_sizes=TEXTS, hook_for=mapped(TEXTS), colours=TEXTS, skirt=TEXT,
    tied_with=TEXTS, bag=SOME_TEXT, pack=WHOLE, case=SOME_WHOLE, price=lacking(MONEY),
    prices=mapped(MONEY), length=lacking(LENGTH), whole=mapped(WEIGHT), made_in=SOME_TEXT,
    made_by=TEXT, for_children=YES_NO, story=SOME_TEXT, care=SOME_TEXT, photo=SOME_TEXT, tie=_TIE,
)  # fmt: skip
_HEAD = Shape(
    Head.model_construct,
    name=TEXT, style=TEXT, alloy=TEXT, cavities=mapped(WEIGHT), marked_for=TEXT, eyes=YES_NO,
)  # fmt: skip
_HOOK = Shape(
    Hook.model_construct,
    name=TEXT, bend=TEXT, wire=TEXT, finish=SOME_TEXT, ink=TEXT, eye=WHOLE, origin=SOME_TEXT,
    material=SOME_TEXT,
)  # fmt: skip
_GUARD = Shape(
    Guard.model_construct, name=TEXT, style=TEXT, strands=WHOLE, ink=TEXT, material=SOME_TEXT
)  # fmt: skip
_BAG = Shape(
    Bag.model_construct, name=TEXT, width=lacking(LENGTH), height=lacking(LENGTH), clear=YES_NO
)
_MATERIAL = Shape(
    Material.model_construct,
    name=TEXT, kind=TEXT, composition=mapped(SHARE), density=lacking(DENSITY), origin=SOME_TEXT,
    strands_per_tab=SOME_WHOLE, tab_weight=lacking(WEIGHT), supplier=SOME_TEXT,
    certificate=SOME_TEXT,
)  # fmt: skip
_MAKER = Shape(
    Maker.model_construct,
    name=TEXT, street=SOME_TEXT, city=TEXT, state=SOME_TEXT, postcode=TEXT, country=TEXT,
    site=SOME_TEXT, links=SOME_TEXT, email=SOME_TEXT, phone=SOME_TEXT, gs1_prefix=SOME_TEXT,
    employees=WHOLE, listed=YES_NO, logo=SOME_TEXT,
)  # fmt: skip
_PRODUCT = Shape(
    Product.model_construct,
    sku=TEXT, pattern=_PATTERN, weight=WEIGHT, hook_size=SOME_TEXT, colour=_COLOUR, head=_HEAD,
    hook=_HOOK, guard=lacking(_GUARD), bag=lacking(_BAG), materials=mapped(_MATERIAL),
    maker=_MAKER, markets=TEXTS, currency=TEXT, price=lacking(MONEY), gtin=SOME_TEXT,
    photo=SOME_TEXT, note=SOME_TEXT,
)  # fmt: skip
_PART = Shape(Part.model_construct, product=_PRODUCT, count=WHOLE)
_PRODUCT.keys["second_language"] = RenamedField("second_language", SOME_TEXT)
_PRODUCT.keys["second_words"] = RenamedField("second_words", mapped(TEXT))
_PRODUCT.keys["parts"] = RenamedField("parts", listed(_PART))  # a pack's parts are products too


def _product_2(first: Any) -> Document:
    """Add what the first records did not have yet, as they were read then."""
    product = dict(as_object(first))
    pattern: Document = {"case": None, "for_children": False, "made_by": "the maker", "whole": {}}
    pattern |= as_object(product.get("pattern"))
    no_tie = dict.fromkeys(("thread", "wraps", "trim", "glue", "cure", "notes", "waste"))
    pattern["tie"] = no_tie | as_object(pattern.get("tie", {}))
    material = {"certificate": None, "supplier": None, "tab_weight": None}
    product["pattern"] = pattern
    product["maker"] = {"listed": False} | as_object(product.get("maker"))
    product["materials"] = {
        name: material | as_object(each)
        for name, each in as_object(product.get("materials")).items()
    }
    return product


def _product_3(second: Any) -> Document:
    """Tell that the recipe is the maker's; hook size and recipe may be missing from here on."""
    product = as_object(second)
    return product | {
        "colour": as_object(product.get("colour")) | {"proposed": False},
        "pattern": as_object(product.get("pattern")) | {"tied_with": []},
    }


def _product_4(third: Any) -> Document:
    """Tell that it is no assorted pack."""
    return as_object(third) | {"parts": []}


def _with_parts(product: Document, change: Callable[[Document], Document]) -> Document:
    """Return a product's document changed, and those of a pack's parts alike."""
    parts = [
        as_object(part)
        | {"product": _with_parts(as_object(as_object(part).get("product")), change)}
        for part in product.get("parts", [])
    ]
    return change(product) | {"parts": parts}


def _product_5(fourth: Any) -> Document:
    """Tell that its maker has no logo."""
    return _with_parts(
        as_object(fourth),
        lambda product: product | {"maker": as_object(product.get("maker")) | {"logo": None}},
    )


def _product_6(fifth: Any) -> Document:
    """Tell that its labels speak one language, and those of its parts too."""
    none: Document = {"second_language": None, "second_words": {}}
    return _with_parts(as_object(fifth), lambda product: product | none)


PRODUCT = StoredKind(
    "a product", _PRODUCT, (_product_2, _product_3, _product_4, _product_5, _product_6),
    ("0.1.0",) * 5,
)  # fmt: skip


LANGUAGE = 5
"""The number of the layout language that kept layouts are written in: its blocks and its fields.

Up to 4 (`LAST_OF_FIRST_EDITION`) figures and bars are of the drawing's first edition, a photo in
black is in color, and texts are not finished: no curly quotes, no tied quantities.
"""

LAST_OF_FIRST_EDITION = 4


@dataclass(frozen=True, slots=True)
class KeptPicture:
    """A picture as it was printed: a file kept beside the layout, and its proportions."""

    file: str
    proportion: float
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Making:
    """How a piece was made, beside its layout, styles and statements.

    Attributes:
        use: bags or cards.
        width: in points.
        height: in points.
        ink: in colour, in black, or in black with photographs in greys.
        dpi: the printer's dots an inch; None if they were not known.
        day: the day whose rules it was made by.
        link: what its code leads to.
        faces: SHA-256 of the file of every typeface on it, by name.
        pictures: those on it, by number.
        marks: SHA-256 of its marks.
        marks_form: the form of the text that it is the SHA-256 of.
        language: the number of the layout language that its layout is written in.
        program: the version that made it.
    """

    use: str
    width: float
    height: float
    ink: Literal["colour", "black", "grey"]
    dpi: int | None
    day: str
    link: str
    faces: dict[str, str]
    pictures: dict[str, KeptPicture] = field(default_factory=dict)
    marks: str = ""
    marks_form: int = 0
    language: int = LANGUAGE
    program: str = ""

    @property
    def first_edition(self) -> bool:
        """Whether it was made before figures, bars and texts had a second edition."""
        return self.language <= LAST_OF_FIRST_EDITION


@dataclass(frozen=True, slots=True)
class KeptSettings:
    """Where the blocks of a run's pieces stood and how they were set, each by its key.

    Attributes:
        boxes: left, top, right and bottom of every block, in points.
        sizes: of every text in points, and how far its letters rise and hang, in sizes.
        forms: of statements, their form and the eighths of the way to their largest size.
        versions: of QR codes, the least version.
    """

    boxes: dict[str, tuple[float, ...]]
    sizes: dict[str, tuple[float, ...]]
    forms: dict[str, tuple[int, ...]]
    versions: dict[str, int]


_TRUST = {
    "read": Confidence.READ,
    "secondary": Confidence.SECONDARY,
    "from memory": Confidence.MEMORY,
}
TRUST = in_words(
    "read, secondary or from memory",
    {trust: word for word, trust in _TRUST.items()}.__getitem__,
    _TRUST.__getitem__,
)


_RUN = Shape(TextRun, text=TEXT, bold=YES_NO)
_LEAST = Shape(LeastSize, measure=TEXT, points=NUMBER, firm=NUMBER)
_FORM = Shape(
    StatementForm,
    runs=listed(_RUN), least=listed(_LEAST), triangle=YES_NO, as_large_as_other=YES_NO,
    rule=TEXT, until=TEXT,
)  # fmt: skip
_STATEMENT = Shape(
    Statement,
    id=TEXT, kind=TEXT, full=_FORM, short=lacking(_FORM), accepted=listed(_FORM),
    expired=listed(_FORM), emphasis=TEXT, duty=TEXT, markets=TEXTS, rules=TEXTS,
    confidence=TRUST, placement=TEXTS,
)  # fmt: skip


def _statements_2(first: Any) -> Document:
    """Put the list, which had no room for a number, under a name."""
    return {"statements": first}


_KEPT_PICTURE = Shape(KeptPicture, file=TEXT, proportion=NUMBER, width=WHOLE, height=WHOLE)
_MAKING = Shape(
    Making,
    use=TEXT, width=NUMBER, height=NUMBER, ink=TEXT, dpi=SOME_WHOLE, day=TEXT, link=TEXT,
    faces=mapped(TEXT), pictures=mapped(_KEPT_PICTURE), marks=TEXT, marks_form=WHOLE,
    language=WHOLE, program=TEXT,
)  # fmt: skip


def _making_2(first: Any) -> Document:
    """Tell the marks by their first form, and the layout by its first language."""
    kept = {"pictures": {}, "marks": "", "program": ""} | as_object(first)
    return kept | {"marks_form": 0, "language": 1}


@dataclass(frozen=True, slots=True)
class _Statements:
    statements: tuple[Statement, ...]


SETTINGS = StoredKind(
    "how the pieces of a run were set",
    Shape(
        KeptSettings,
        boxes=mapped(listed(NUMBER)), sizes=mapped(listed(NUMBER)), forms=mapped(listed(WHOLE)),
        versions=mapped(WHOLE),
    ),
    (),
    ("0.1.0",),
)  # fmt: skip
MAKING = StoredKind("how a piece was made", _MAKING, (_making_2,), ("0.1.0",))
STATEMENTS = StoredKind(
    "what a piece had to say",
    Shape(_Statements, statements=listed(_STATEMENT)),
    (_statements_2,),
    ("0.1.0",),
)


def write_statements(said: Sequence[Statement]) -> bytes:
    """Return the file that keeps what a piece had to say."""
    return STATEMENTS.write_file(_Statements(tuple(said)))


def read_statements(data: bytes, place: Place) -> tuple[Statement, ...]:
    """Return what a piece had to say.

    Raises:
        LabelerError: as `StoredKind.read` does.
    """
    return STATEMENTS.read_file(data, place).statements
