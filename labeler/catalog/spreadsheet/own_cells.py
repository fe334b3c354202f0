"""Cells as makers type them in a spreadsheet of their own, and what is said of them.

More forgiving than `cells`: what was plainly meant is taken, and said once for all cells alike.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from fractions import Fraction
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from labeler.catalog.spreadsheet import cells
from labeler.catalog.spreadsheet.cells import CellError, Value, folded
from labeler.findings import Finding, Grade, Place, listed
from labeler.units import GRAMS_PER_OUNCE, Weight


@lru_cache(maxsize=16_384)
def plain(text: str) -> str:
    """Return a text without what may differ between two ways to write it.

    Case, accents, spaces and signs go; ``U.P.C. #`` and ``upc`` are one, but a text of signs alone
    stays as it is.
    """
    text = without_accents(folded(text)).casefold()
    return re.sub(r"[\W_]+", "", text) or text


def without_accents(text: str) -> str:
    """Return a text with plain letters for those with accents."""
    if text.isascii():
        return text
    apart = unicodedata.normalize("NFKD", text)
    return "".join(letter for letter in apart if not unicodedata.combining(letter))


@cache
def words() -> Mapping[str, Mapping[str, frozenset[str]]]:
    """Return the tables of ``words.toml``, their words as `plain` has them."""
    return {
        table: {name: frozenset(map(plain, row)) for name, row in rows.items()}
        for table, rows in _as_written().items()
    }


@cache
def _as_written() -> Mapping[str, Mapping[str, list[str]]]:
    return tomllib.loads(Path(__file__).with_name("words.toml").read_text("utf-8"))


def means(kind: str, text: str) -> bool:
    """Tell whether a whole cell is one of the words of ``kind``, such as "nothing"."""
    return plain(text) in words()["cells"][kind]


def unit_of(text: str) -> str | None:
    """Return the unit that a heading or a cell names, oz or g."""
    parts = {plain(part) for part in re.findall(r"[^\W\d_]+", text)}
    return next((unit for unit, names in words()["units"].items() if parts & names), None)


@dataclass(frozen=True, slots=True)
class Said:
    """What may be said of many cells alike."""

    rule: str
    grade: Grade
    message: str
    expected: str = ""
    hint: str = ""


@dataclass(slots=True)
class Remarks:
    """What there is to say of cells: alike things are said once, with all their cells."""

    at: dict[Said, list[tuple[Place, str]]] = field(default_factory=dict)

    def add(self, said: Said, place: Place, found: str = "") -> None:
        """Remember what there is to say of the cell at ``place``."""
        self.at.setdefault(said, []).append((place, found))

    def findings(self) -> list[Finding]:
        """Return one finding for all that is alike."""
        found = []
        for said, at in self.at.items():
            by_text: dict[str, list[str]] = {}
            for place, text in at:
                by_text.setdefault(text, []).append(spot(place))
            what = at[0][1]
            if len(at) > 1:
                each = (
                    (f"{text} in " if text else "") + listed(list(dict.fromkeys(by_text[text])))
                    for text in by_text
                )
                what = listed(list(each))
            found.append(
                Finding(
                    said.rule, said.grade, at[0][0], said.message, what, said.expected, said.hint
                )
            )
        return found


def spot(place: Place) -> str:
    """Return a cell or line without its file."""
    return place.cell or f"line {place.line}"


WAS_DATE = Said(
    "weight-was-date", Grade.NOTE,
    "weights that the spreadsheet had made dates of are read as the fractions that they were",
)  # fmt: skip
ZEROS = Said(
    "gtin-zeros", Grade.NOTE,
    "UPCs that lost their zeros in front have them back, as their check digits prove",
)  # fmt: skip
LETTERS = Said(
    "sku-letters", Grade.NOTE,
    "SKUs with other signs than full stop and hyphen are written without them",
)  # fmt: skip

Read = tuple[Any, Said | None]
"""What a cell holds, and what there is to say of how it was understood."""


@lru_cache(maxsize=4096, typed=True)
def read_weight(value: Value, unit: str | None, of_weights: bool = True) -> Read:
    """Return a weight; a date is the fraction that a spreadsheet made it of.

    3/8 becomes 8 March, or 3 August: of the two numbers of a date only one fraction is a weight of
    the trade.

    Args:
        value: the cell.
        unit: of a number alone; None is ounces. A fraction without a unit is never grams.
        of_weights: whether the other cells of its column are weights.

    Raises:
        CellError: if it is none.
    """
    number = value if isinstance(value, int | float) and not isinstance(value, bool) else None
    serial = cells.serial_date(float(number)) if number and unit != "g" else None
    if parts := cells.date_parts(serial or value):
        fraction = cells.likely_fraction(parts)
        if not fraction or not of_weights:
            raise CellError(
                "this is a date, where a weight should stand", "a weight such as 3/8 oz"
            )
        if unit == "g":
            raise CellError(*_FRACTION_OF_GRAMS)
        return Weight.parse(f"{fraction} oz"), WAS_DATE
    if unit and (number or (isinstance(value, str) and not unit_of(value))):
        if unit == "g" and isinstance(value, str) and _FRACTION.search(value):
            raise CellError(*_FRACTION_OF_GRAMS)
        if unit == "oz" and _many_ounces(value):
            return cells.read_weight(value), None
        return cells.read_weight(f"{value} {unit}"), None
    return cells.read_weight(value), None


_MANY_OUNCES = 32
"""Above which a number in a column of ounces is rather a fraction's slip. Common sense."""


def _many_ounces(value: Value) -> bool:
    text = cells.plain_text(value).replace(",", ".")
    return bool(re.fullmatch(r"\d+(\.\d*)?", text)) and float(text) > _MANY_OUNCES


_FRACTION = re.compile(r"\d\s*[/\u2044]\s*\d|[\u00bc-\u00be\u2150-\u215e]")
_FRACTION_OF_GRAMS = (
    "a fraction without a unit is ounces by custom, and this column is read in grams",
    "the unit behind it, such as 3/8 oz or 10.6 g",
)


def _read_gtin(value: Value) -> Read:
    try:
        return cells.read_gtin(value), None
    except CellError:
        text = re.sub(r"[ -]", "", cells.plain_text(value)) if not isinstance(value, bool) else ""
        if whole := cells.with_zeros(text):
            return cells.read_gtin(whole), ZEROS
        raise


def _read_sku(value: Value) -> Read:
    text = cells.plain_text(value).upper()
    neat = re.sub(r"-{2,}", "-", re.sub(r"[\s_]+", "-", re.sub("[/#]", "", text))).strip("-.")
    return cells.read_sku(neat), None if neat == text else LETTERS


_COUNT = re.compile(r"(\d{1,6})(?:[.,]0+)?\s*[/-]?\s*(\D*)")
_ABOUT = re.compile(r"(?:~|≈|ca\.?|circa|about|approx\.?|around|env\.?)\s*(.+)|(.+?)\s*\+", re.I)
NOT_EXACT = Said(
    "count-read", Grade.NOTE, "counts that are not exact are read as the number that they give"
)
NO_STOCK = Said("count-read", Grade.NOTE, "a word for no stock is read as a count of 0")


def read_count(value: Value) -> Read:
    """Return a count: ``24``, ``24 pcs``, ``2 doz``, ``20+``, ``sold out``.

    Raises:
        CellError: if it is none.
    """
    text = cells.plain_text(value)
    if means("no_stock", text):
        return 0, NO_STOCK
    about = _ABOUT.fullmatch(text)
    found = _COUNT.fullmatch((about[1] or about[2]) if about else text)
    if found and (times := counts(found[2])):
        return int(found[1]) * times, NOT_EXACT if about else None
    raise CellError("this is no count", "a whole number, or dozens such as 2 doz")


def exact_count(value: Value) -> int:
    """Return a count that says just how many: ``24``, ``1,000``, ``2 doz``, ``a dozen``.

    Words that count one are no part of it: of what, a jig or a pack, where it stands must say.

    Raises:
        CellError: if it is none.
    """
    text = cells.plain_text(value)
    if re.fullmatch(r"\d{1,9}|\d{1,3}(,\d{3})+", text):
        return int(text.replace(",", ""))
    found = _DOZENS.fullmatch(text)
    if found and (times := counts(found[2]) or 0) > 1:
        return times * (int(found[1]) if found[1].isdigit() else 1)
    raise CellError("this is no count", "a whole number such as 60, or dozens such as 2 doz")


_DOZENS = re.compile(r"(\d{1,6}|an?(?= ))[ -]*(\D+)", re.IGNORECASE)


def counts(word: str) -> int | None:
    """Return how many a word of counting means: 12 of ``doz``, 1 of ``pcs``; None if it is none."""
    known = words()["counts"].items()
    return next((int(times) for times, names in known if plain(word) in names), None)


def _read_pack(value: Value) -> int:
    found = _PACK_OF.fullmatch(value) if isinstance(value, str) else None
    return int(read_count(found[1] if found else value)[0])


_PACK_OF = re.compile(
    r"\s*(?:packs?|pks?|bags?|sets?|paquets?|sachets?|packung|beutel)\s+(?:of |de |mit )?(.+)",
    re.IGNORECASE,
)
"""Words in front of a count of what one bag holds. Elsewhere a word may say anything of a number:
12 that are owed are not 12 on hand."""


_EACH = re.compile(r"\s*(?:/|per |la |le |pro )?\s*(?:ea|each|pack|pk|pièce|pce|stück)\.?$", re.I)


def _read_price(value: Value) -> Any:
    """Return a price and its currency; what it is the price of may stand behind it."""
    if isinstance(value, str):
        value = re.sub(r"^(?:US|CA|C|AU)\s?\$", "$", _EACH.sub("", folded(value)))
    return cells.read_price(value)


_READERS: Mapping[str, Callable[[Any], Any]] = {
    **{column.name: column.read for column in cells.PRODUCT_COLUMNS},
    "price": _read_price,
    "wholesale": _read_price,
    "pack": lambda value: cells.read_pack(str(_read_pack(value))),
    "status": cells.plain_text,
    "remark": cells.read_note,
    "retired": lambda value: (
        (isinstance(value, str) and means("retired", value)) or cells.read_yes(value)
    ),
    "head": cells.read_line,
    "hook_name": cells.read_line,
    "bag": cells.read_line,
}


def read_field(name: str, value: Value, unit: str | None, of_weights: bool) -> Read:
    """Return what a cell of the field ``name`` holds.

    Raises:
        CellError: if it does not hold what its column asks for.
    """
    if name == "weight":
        return read_weight(value, unit, of_weights)
    if name == "on_hand":
        return read_count(value)
    if name in ("gtin", "sku"):
        return _read_gtin(value) if name == "gtin" else _read_sku(value)
    return _READERS[name](value), None


def parts_of(name: str, text: str) -> list[str]:
    """Return what one cell lists: ``1/4, 3/8 & 1/2 oz`` are three weights.

    A colour may well be called "sand & white".
    """
    between = r"\s*[;,\n]\s*" if name == "colour" else r"\s*(?:[;,\n]|\s&\s|\sand\s|\s\+\s)\s*"
    parts = [part for part in re.split(between, text) if part]
    unit = unit_of(parts[-1]) if name == "weight" and parts else None
    return [f"{part} {unit}" if unit and not unit_of(part) else part for part in parts]


_AND_PART = r"\d{1,3} {0,9}[¼½¾⅛⅜⅝⅞]"
_A_WEIGHT = re.compile(
    rf"(?<![\w.,/])({_AND_PART}|[¼½¾⅛⅜⅝⅞]|\d(?:(?!{_AND_PART})[\d ./,-])*+)"
    r"(?:\s?(oz|ounces?|g|gr|grams?|grammes?)\b\.?[\s)]*+)?",
    re.IGNORECASE,
)
"""A number, and the unit of weight that it may have. Each is gone over once, however long."""


def weight_within(text: str) -> tuple[str, Weight | None]:
    """Return a name less the weight within it, and that; ``Slough Hopper 3/8 oz`` has one."""
    found = next((each for each in _A_WEIGHT.finditer(text) if each[2]), None)
    try:
        weight = cells.read_weight(f"{found[1].strip()} {found[2]}") if found else None
    except CellError:
        weight = None
    if not found or weight is None:
        return text, None
    before = re.sub(r"[\s,(-]++$", "", text[: found.start()])
    return folded(f"{before} {text[found.end() :]}").strip(" -,"), weight


_WITH_HOOK = re.compile(
    r"(.*?[\d¼½¾⅛⅜⅝⅞]\s*(?:[a-z]+\.?)?)\s*(?:[-–—/,;|+@x]|w/|with|on|avec|mit|con)?\s*(?:an?\s)?"
    r"((?:#|no\.?\s?)\s*\d{1,2}|(?<!\d)\d{1,2}/0)\s*(?:hooks?|hk)?",
    re.IGNORECASE,
)


def weight_and_hook(value: Value) -> tuple[str, str] | None:
    """Return the two of a cell that holds a weight and then a hook size; ``3/8-4/0`` does.

    A hook's size is known by its /0 or number sign: nothing else tells it from a part of the
    weight.
    """
    found = _WITH_HOOK.fullmatch(folded(value)) if isinstance(value, str) else None
    try:
        whole = (read_weight(found[1].strip(), None), cells.read_hook(found[2])) if found else None
    except CellError:
        return None
    return (found[1].strip(), whole[1]) if found and whole else None


def priced(text: str) -> tuple[str, str]:
    """Return a title less the price at its end, and that; ``Slough Hopper $4.50`` has one."""
    found = _A_PRICE.search(text)
    return (text[: found.start()].strip(" -,("), found[1]) if found else (text, "")


_A_PRICE = re.compile(r"[\s(,-]([$€£]\s?\d[\d.,]*|\d[\d.,]*\s?[$€£])\s*(?:ea\.?|each)?\s*\)?$")


def parted(text: str, sign: str) -> list[str]:
    """Return the parts of a name at ``sign``; a hyphen parts only where spaces are around it."""
    around = r"\s+" if sign in "-–—/" else r"\s*"
    return [part for part in re.split(f"{around}{re.escape(sign)}{around}", text) if part]


def note_retires(text: str) -> bool | None:
    """Tell whether a note says that a product is no longer made; None where that is in doubt."""
    lower = f" {folded(text).casefold().replace(_APOSTROPHE, _TYPED)} "
    idle, alone = words()["notes"]["idle"], words()["notes"]["alone"]
    clauses = [
        "".join(word for part in clause.split() if (word := plain(part)) not in idle)
        for clause in re.split(r"[.,;:!()\n]", lower)
    ]
    plainly = _any_of("retired").search(lower) or any(clause in alone for clause in clauses)
    if plainly:
        rest = _any_of("alone").sub("", lower)
        return None if any(doubt in rest for doubt in _as_written()["notes"]["doubt"]) else True
    perhaps = _any_of("alone").search(lower) or _any_of("perhaps").search(lower)
    return None if perhaps or means("retired", text) else False


@cache
def _any_of(kind: str) -> re.Pattern[str]:
    """Return what finds any of the words of notes of a kind."""
    either = "|".join(map(re.escape, _as_written()["notes"][kind]))
    return re.compile(rf"(?<!\w)(?:{either})(?!\w)")


def name_retires(text: str) -> bool:
    """Tell whether a name plainly says so too, as ``Hopper (discontinued)`` does."""
    _, *behind = re.split(r"[(\[*]|\s[-–—]+\s", text)
    return any(note_retires(part.rstrip(" )]*")) for part in behind if part.strip(" )]*"))


_APOSTROPHE, _TYPED = "\u2019", "'"


def called(name: str) -> str:
    """Return what a message calls a field."""
    return {
        "on_hand": "count on hand",
        "gtin": "UPC or EAN",
        "hook": "hook size",
        "sku": "SKU",
        "wholesale": "wholesale price",
        "head": "head's metal",
        "hook_name": "hook",
    }.get(name, name)


def unread(name: str, error: CellError, left_out: bool) -> Said:
    """Return what to say of a cell that can't be read."""
    then = (
        "; the row is left out until then"
        if left_out
        else f"; until then there is no {called(name)}"
    )
    return Said("cell-misread", Grade.FIX, error.message + then, error.expected, error.hint)


def field_of(heading: str, near: bool = False) -> tuple[str | None, int]:
    """Return the field that a heading means, and how far down its list of words it stands.

    What stands in brackets behind it, a unit or a money, need not be known.

    Args:
        heading: as the maker writes it.
        near: whether a slip of a letter or two is forgiven.
    """
    ranks = _ranks()
    bare = re.sub(r"[(\[].*?[)\]]|[$€£#]", " ", heading)
    rest = [word for word in bare.split() if plain(word) not in words()["qualifiers"]["any"]]
    texts = (heading.replace("#", "no"), bare, " ".join(rest))
    for text in map(plain, texts):
        if text in ranks:
            return ranks[text]
    close = get_close_matches(plain(bare), list(ranks), 1, _A_SLIP) if near else []
    return ranks[close[0]] if close and len(close[0]) > _TOO_SHORT else (None, 0)


_A_SLIP, _TOO_SHORT = 0.8, 3
"""How alike a heading must be, by `difflib`, to pass for one mistyped; and letters of a word that
may as well be another."""


@cache
def _ranks() -> Mapping[str, tuple[str, int]]:
    return {
        plain(word): (name, rank)
        for name, row in _as_written()["headings"].items()
        for rank, word in enumerate(row)
    }


def other_use(heading: str) -> str:
    """Return what a column is for that no label is made from, such as "what a parcel weighs"."""
    texts = {plain(heading), plain(re.sub(r"[(\[].*?[)\]]", " ", heading))}
    return next((use for use, names in words()["other"].items() if texts & names), "")


def shop_field(heading: str) -> str:
    """Return what a column of a list of shops holds; nothing if it is none of those known."""
    return next((name for name, names in words()["shops"].items() if plain(heading) in names), "")


_HEAVIEST_OUNCES, _NEAR_GRAMS = 4, Fraction(6, 100)
_SIXTEENTHS = tuple(Fraction(part, 16) * GRAMS_PER_OUNCE for part in range(1, 33))


def is_trade(weight: Weight) -> bool:
    """Tell whether jigs are sold in a weight; common practice, no published source."""
    trade = _as_written()["jigs"]
    if weight.unit == "oz":
        part = str(weight.value.denominator)
        return weight.value <= _HEAVIEST_OUNCES and part in trade["ounce_parts"]
    near = (abs(weight.value - grams) < _NEAR_GRAMS for grams in _SIXTEENTHS)
    return weight.value in map(Fraction, trade["grams"]) or any(near)


def weights_in(cell: Value, unit: str | None) -> list[Weight]:
    """Return the weights of a cell, which may list several or have a hook size beside one.

    Args:
        cell: of a column of weights.
        unit: of a number alone; None is ounces.

    Raises:
        CellError: if one can't be read.
    """
    cell = (weight_and_hook(cell) or (cell, ""))[0]
    parts = parts_of("weight", cell) if isinstance(cell, str) else [cell]
    return [read_weight(part, unit)[0] for part in parts]


def plain_number(cell: Value) -> float | None:
    """Return the number that a cell is, or says in plain figures; else None."""
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        return float(cell)
    text = folded(cell).replace(",", ".") if isinstance(cell, str) else ""
    return float(text) if re.fullmatch(r"\d{1,6}(\.\d{1,4})?", text) else None


def is_hook(cell: Value) -> bool:
    """Tell whether a cell may be a hook's size."""
    try:
        return bool(cells.read_hook(cell)) and not isinstance(cell, float)
    except CellError:
        return False


def is_name(cell: Value) -> bool:
    """Tell whether a cell may be a name."""
    return isinstance(cell, str) and bool(re.search(r"[^\W\d_]{3}", cell))


def is_money(cell: Value) -> bool:
    """Tell whether a cell may be a price, or says that there is none."""
    if isinstance(cell, str) and means("nothing", cell):
        return True
    try:
        return bool(read_field("price", cell, None, True)[0])
    except CellError:
        return False


def is_mark(cell: Value) -> bool:
    """Tell whether a cell ticks something off."""
    if isinstance(cell, str):
        return (len(folded(cell)) == 1 and not cell.strip().isdigit()) or means("sold", cell)
    return isinstance(cell, bool)
