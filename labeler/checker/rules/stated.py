"""What words on a piece state, in figures or in words: weights, prices, lots, counts."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from functools import cache, lru_cache, wraps
from pathlib import Path
from typing import Any, NamedTuple, ParamSpec, cast

from labeler.catalog.model import Product
from labeler.checker.page.sides import SeenSide
from labeler.codes import lot_code
from labeler.disclosures.rules import places_named
from labeler.disclosures.wording import grams_agree, ounces_agree
from labeler.findings import Place
from labeler.units import parse_number


@cache
def known() -> Mapping[str, Any]:
    """Return what ``words.toml`` knows of words that state something."""
    return tomllib.loads((Path(__file__).parents[1] / "words.toml").read_text("utf-8"))


class Stated(NamedTuple):
    """An amount that stands in a text: from its first letter to its end."""

    said: str
    first: int
    end: int
    value: Fraction
    unit: str
    """In small letters, as it stands there; empty where there is none."""
    aside: bool = False
    """Whether the words around it say that it is of something else than the piece."""


Amounts = ParamSpec("Amounts")


def _once(
    amounts: Callable[Amounts, Iterator[Stated]],
) -> Callable[Amounts, tuple[Stated, ...]]:
    """Find the amounts in a text once: pieces of one line say most things alike."""

    @lru_cache(maxsize=4_096)
    @wraps(amounts)
    def found(*asked: Amounts.args, **named: Amounts.kwargs) -> tuple[Stated, ...]:
        return tuple(amounts(*asked, **named))

    return cast("Callable[Amounts, tuple[Stated, ...]]", found)


def on(
    side: SeenSide, amounts: Callable[[str], Iterable[Stated]]
) -> Iterator[tuple[Stated, Place]]:
    """Yield what stands on a side of a piece, and where, as ``amounts`` finds it in a text."""
    for passage in side.passages:
        for hit in amounts(passage.parted):
            yield hit, side.place(passage.box_of(hit.first, hit.end))


def _either(words: Any) -> str:
    return "|".join(sorted(map(re.escape, words), key=len, reverse=True))


_IN_WORDS = _either({**known()["numbers"], **known()["shares"], "thirty-second": 0,
                     "thirty-seconds": 0})  # fmt: skip
_FIGURES = r"\d+[\s-]+\d+/\d+|\d+/\d+|\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d*[.,]\d+|\d+"
_NUMBER = (
    rf"(?:{_FIGURES}|(?:(?:{_IN_WORDS})(?:[\s-]+(?:and[\s-]+(?:an?[\s-]+)?)?(?:{_IN_WORDS}))*))"
)
"""A number in figures or in words: ``3/8``, ``1-3/8``, ``three eighths``, ``one and a half``."""


@lru_cache(maxsize=4_096)
def number_of(text: str) -> Fraction:
    """Return a number that stands in figures or in words; 0 for what is none."""
    plain = text.casefold().strip()
    if plain[:1].isalpha():
        return _in_words(plain)
    if re.fullmatch(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?", plain):
        plain = plain.replace(",", "")
    try:
        return parse_number(re.sub(r"(?<=\d)[\s-]+(?=\d+/)", " ", plain).replace(",", "."))
    except ValueError:
        return Fraction(0)


def _in_words(text: str) -> Fraction:
    numbers, shares = known()["numbers"], known()["shares"]
    whole, counted = Fraction(0), None
    for word in re.findall(r"[a-z]+", text.replace("thirty-second", "thirtysecond")):
        if word in numbers:
            counted = (counted or 0) + numbers[word]
        elif word in shares:
            whole += Fraction(1 if counted is None else counted, shares[word])
            counted = None
        elif word == "and":
            whole, counted = whole + (counted or 0), None
    return whole + (counted or 0)


def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(text, re.IGNORECASE)


# ----------------------------------------------------------------------------
# What an amount is said of. "10 lb test" is of a line and "orders over $50" of a parcel, so
# neither is wrong of the piece. A clause ends where a sentence does, or where the type changes.

_ENDS = re.compile(r"\n|[;|•·!?]|[.:](?=\s|$)")
_WORD = r"[^\s,()]+"


def _before(text: str, at: int, words: int) -> str:
    """Return so many words before a place, in the clause that it stands in."""
    clause = _ENDS.split(text[:at])[-1]
    hit = re.search(rf"(?:{_WORD}[\s,()]*){{0,{words}}}$", clause)
    return hit[0] if hit else ""


def _after(text: str, at: int, words: int) -> str:
    """Return so many words after a place, in the clause that it stands in."""
    clause = _ENDS.split(text[at:])[0]
    hit = re.match(rf"(?:[\s,()]*{_WORD}){{0,{words}}}", clause)
    return hit[0] if hit else ""


@cache
def _of_others(what: str) -> tuple[re.Pattern[str], re.Pattern[str], re.Pattern[str]]:
    """Return the words before and after an amount by which it is of something else.

    The third is of those that tie it to the piece whatever else is said.
    """
    known_words = known()["aside"][what]
    before, after, own = (
        _pattern(rf"(?<![\w-])(?:{'|'.join(known_words[key])})(?!\w)")
        for key in ("before", "after", "own")
    )
    return before, after, own


_NEAR, _NEXT = 3, 2
"""Words before an amount, and after it, that may say what it is of. The house's judgement."""


def _is_of_others(text: str, first: int, end: int, what: str) -> bool:
    before, after, own = _of_others(what)
    ahead = _before(text, first, _NEAR)
    if own.search(_before(text, first, 1)):
        return False
    return bool(before.search(ahead) or after.search(_after(text, end, _NEXT)))


# ---------------------------------------------------------------------------------------- weights

OUNCES = {unit: Fraction(value) for unit, value in known()["ounces"].items()}
GRAMS = {unit: Fraction(str(value)) for unit, value in known()["grams"].items()}
_WEIGHT = _pattern(
    rf"(?<![\w./,-])({_NUMBER})(?:\s|-){{0,2}}(?:of\s+)?(?:an?\s+)?"
    rf"({_either({**OUNCES, **GRAMS})})(\.?)(?![\w-])"
)


@_once
def weights(text: str) -> Iterator[Stated]:
    """Yield every weight that stands in a text."""
    for hit in _WEIGHT.finditer(text):
        value, unit = number_of(hit[1]), hit[2].casefold()
        listed = _in_a_list(text, *hit.span(), OUNCES if unit in OUNCES else GRAMS)
        aside = listed or _is_of_others(text, *hit.span(), "weight") or _heavy(text, hit, value)
        yield Stated(hit[0], *hit.span(), value, unit, aside)


def _heavy(text: str, hit: re.Match[str], value: Fraction) -> bool:
    """Tell whether an amount is of whole pounds or kilograms, as lines, rods and fish are."""
    unit = hit[2].casefold()
    whole = value.denominator == 1 and (OUNCES.get(unit) == 16 or GRAMS.get(unit) == 1000)
    return whole and not _of_others("weight")[2].search(_before(text, hit.start(), 2))


_LINK = r"(?:\bto\b|\bthrough\b|\bthru\b|\bor\b|\band\b|[&–—-]|,|,\s*(?:and|or))"


_LINKED, _LINKING = _pattern(rf"{_LINK}\s*$"), _pattern(rf"\s*{_LINK}")


def _in_a_list(text: str, first: int, end: int, units: Mapping[str, Fraction]) -> bool:
    """Tell whether an amount is one of several, as in ``1/8 to 3/8 oz`` or ``1/4 oz, 3/8 oz``.

    A whole number before a comma is some other figure.
    """
    before, after = text[max(0, first - 40) : first], text[end:]
    if not (_LINKED.search(before) or _LINKING.match(after)):
        return False
    ahead, behind = _of_a_list(_either(units))
    return bool(ahead.search(before) or behind.match(after))


@cache
def _of_a_list(names: str) -> tuple[re.Pattern[str], re.Pattern[str]]:
    """Return what stands before and after one of several amounts in units of these names."""
    unit = rf"\s*-?(?:{names})\.?"
    share = r"\d+/(?:2|4|8|16|32|64)"
    ahead = _pattern(
        rf"(?<![\w./])(?:(?:{_NUMBER}){unit}\s*{_LINK}|{share}\s*{_LINK}"
        rf"|(?:{_NUMBER})\s*(?:\bto\b|\bor\b|\band\b|[&–-]))\s*$"
    )
    return ahead, _pattern(rf"\s*{_LINK}\s*(?:{_NUMBER}){unit}(?!\w)")


def is_weight(amount: Stated, product: Product) -> bool:
    """Tell whether an amount is the product's weight, of the head or of the whole."""
    stated = [
        each for one in product.units for each in (one.weight, one.whole_weight) if each is not None
    ]
    if amount.unit in OUNCES:
        return any(ounces_agree(each, amount.value * OUNCES[amount.unit]) for each in stated)
    return any(grams_agree(each, amount.value * GRAMS[amount.unit]) for each in stated)


# ----------------------------------------------------------------------------------------- prices

_SIGNS = _either(known()["signs"])
_CODES = _either(sign for sign in known()["signs"] if not sign.isalpha() or len(sign) == 3)
_MONEY = _either({**known()["signs"], **known()["cents"]})
_PRICE = _pattern(
    rf"(?<!\w)({_CODES})\s?({_FIGURES})(?![\d%])"
    rf"|(?<![\w.,/$€£#-])({_NUMBER})([\s-]?)({_MONEY})(?!\w)"
)


@_once
def prices(text: str, currency: str) -> Iterator[Stated]:
    """Yield every amount of money that stands in a text; in another currency, without a value.

    A word that has other meanings too is of money only where the currency is its own, and a
    letter only where it stands close to two figures or more: ``95c``.
    """
    signs, cents, doubtful = known()["signs"], known()["cents"], known()["doubtful"]
    for hit in _PRICE.finditer(text):
        number, sign = (hit[2], hit[1]) if hit[1] else (hit[3], hit[5])
        small = sign.casefold()
        if small in doubtful:
            close = sign == small and not hit[4] and len(number) > 1
            if currency not in {**signs, **cents}[small] or (len(small) < _SHORT and not close):
                continue
        sign = sign if sign in signs else small if len(sign) > 1 else sign
        value = number_of(number)
        if sign in cents and not hit[1]:
            meant, value = cents[sign], value / 100
        else:
            meant = signs.get(sign) or signs.get(sign.upper(), ())
        aside = _is_of_others(text, *hit.span(), "price")
        yield Stated(hit[0], *hit.span(), value if currency in meant else Fraction(-1), sign, aside)


_SHORT = 3

_UNSIGNED = _pattern(
    r"(?<![\w.,/$€£#-])\d{1,4}[.,]\d\d(?![\w/%-]|[.,]\d|\s?(?:in(?:ch(?:es)?)?|cm|mm)\b|\s?[\"'])"
)
"""A number as prices are written, that is no length: a buyer takes it for one without a sign."""


def is_price(amount: Stated, price: Decimal | None) -> bool:
    """Tell whether an amount is the price."""
    return price is not None and amount.value == Fraction(price)


# ------------------------------------------------------------------------------------------- lots

_LOT = re.compile(
    r"(?<![\w-])(?:lot|batch|serial|s/n)\b(\s*(?:no\.?|code|number|[:#])+)?\s*"
    r"([0-9A-Z][0-9A-Z\- ]{0,30})",
    re.I,
)


def lots(text: str, due: str) -> Iterator[Stated]:
    """Yield every lot that stands in a text, as ``unit``; of ``due`` as much as belongs to it.

    ``A small batch 2 days in the making`` states none.
    """
    at = 0
    while hit := _LOT.search(text, at):
        code = _code(hit[2], due)
        at = hit.start(2) + len(code)
        if code and (hit[1] or code == due or not _is_of_others(text, hit.start(), at, "lot")):
            yield Stated(text[hit.start() : at], hit.start(), at, Fraction(0), code)
        at = max(at, hit.start(2) + 1)


def _code(text: str, due: str) -> str:
    """Return the code at the beginning of what follows the word lot; nothing if it is a word."""
    if lot_code.tidy(due) and lot_code.tidy(text).startswith(lot_code.tidy(due)):
        rest = lot_code.tidy(text)[len(lot_code.tidy(due)) :]
        if not rest or not rest[0].isdigit():
            return due
    first = text.split()[0]
    return first if any(letter.isdigit() for letter in first) else ""


# ------------------------------------------------------------------ article numbers and hook sizes

_DIGITS = re.compile(r"(?<![\w/.+-])(\(01\)\s?)?(\d(?:[ -]?\d){6,17})(?![\w/.-])")
_SET_AS = re.compile(r"\d+|\d[ -]\d{6}[ -]\d{6}|\d[ -]\d{5}[ -]\d{5}[ -]\d|\d{4}[ -]\d{4}")
"""Article numbers in one, or as their bars part them. Source: GS1 General Specifications, 5.2,
from memory."""


def article_numbers(text: str, lot: str) -> Iterator[Stated]:
    """Yield every article number in figures, its digits as ``unit``; a lot's figures are none."""
    own = re.sub(r"\D", "", lot)
    for hit in _DIGITS.finditer(text):
        digits = re.sub(r"\D", "", hit[2])
        whole = len(digits) in (12, 13, 14) and _SET_AS.fullmatch(hit[2])
        if digits != own and (hit[1] or whole):
            yield Stated(hit[2], *hit.span(2), Fraction(0), digits)


_SIZE = re.compile(r"(?<![\w/.,])\d{1,2}/0(?![\w/])")
"""The large sizes, which are written like nothing else. Common practice, no published source."""
_SIZES = re.compile(rf"/0\s*{_LINK}\s*$", re.I), re.compile(rf"\s*{_LINK}\s*#?\d{{1,2}}/0\b", re.I)


@_once
def hook_sizes(text: str) -> Iterator[Stated]:
    """Yield every large hook size that stands in a text."""
    for hit in _SIZE.finditer(text):
        ahead, behind = text[: hit.start()], text[hit.end() :]
        listed = _SIZES[0].search(ahead) or _SIZES[1].match(behind)
        aside = bool(listed) or _is_of_others(text, *hit.span(), "hook")
        yield Stated(hit[0], *hit.span(), Fraction(0), "", aside)


# ----------------------------------------------------------------------------------------- counts

_WHOLE = rf"\d{{1,3}}(?:,\d{{3}})+|\d{{1,4}}|(?:{_IN_WORDS})(?:[\s-]+(?:{_IN_WORDS}))*"
_EACH = r"(?:packs?|pk|pcs?|pieces?|count|ct|jigs?|lures?|units?|per\s+(?:bag|pack|card))"


@lru_cache(maxsize=64)
def _count(noun: str) -> re.Pattern[str]:
    own = re.escape(noun.casefold().removesuffix("s"))
    of = r"(?:(?:pack|packet|package|bag|box|card|set|case)\s+of|pack|qty\.?|quantity|contents?)"
    return _pattern(
        rf"(?<![\w.,/$€£#-])({_WHOLE})(?:\s|-|/)?(?:{own}s?|{_EACH})(?!\w)"
        rf"|(?<![\w-]){of}[:\s]\s*(?:of\s+)?({_WHOLE})(?![\w/%-]|[.,]\d)"
        rf"|\b((?:half\s+(?:a\s+)?|(?:{_IN_WORDS})\s+)?)dozen\b"
    )


@_once
def counts(text: str, noun: str) -> Iterator[Stated]:
    """Yield every count of pieces that stands in a text. ``noun`` is what the product is called."""
    at = 0
    while hit := _count(noun).search(text, at):
        if hit[3] is not None:
            times = number_of(hit[3].replace(" a ", " ")) if hit[3].strip() else Fraction(1)
            value, unit = 12 * times, "dozen"
        else:
            value, unit = number_of(hit[1] or hit[2]), ""
        aside = _is_no_count(text, hit, noun)
        at = hit.end(1) if aside and hit[1] else hit.end()
        yield Stated(hit[0], *hit.span(), value, unit, aside)


def _is_no_count(text: str, hit: re.Match[str], noun: str) -> bool:
    """Tell whether a number is said of something else than what the pack holds.

    What a pack holds is said by itself, or after a word as ``contains`` and ``qty``, and no
    sentence goes on from it: ``Two jigs in one`` counts nothing.
    """
    own, rest = _of_others("count")[2], text[hit.end() :]
    ahead = _before(text, hit.start(), 1).strip(" ,()")
    led = bool(own.search(ahead))
    if _is_of_others(text, *hit.span(), "count"):
        return True
    alone_on_its_line = text[: hit.end(1)].rpartition("\n")[2].strip() == hit[1]
    if hit[1] and "\n" in hit[0] and not (led or alone_on_its_line):
        return True
    goods = (
        "hand|assorted|mixed" if hit[2] else "per|each|in (?:each|this|the|every)|inside|net|total"
    )
    one = re.escape(noun.casefold().removesuffix("s"))
    if re.match(rf",?[ -]+(?!(?:{one}s?|lures?|pcs|pieces|{goods})\b)[a-z]", rest):
        return True
    return not (
        hit[2] or led or not ahead or ahead[-1].isdigit() or (hit[3] == "" and ahead == "a")
    )


# ------------------------------------------------------------------------- which kinds of words


class Kind(NamedTuple):
    """A kind of fact that words may state."""

    name: str
    says: str
    words: re.Pattern[str]


@cache
def kinds() -> tuple[Kind, ...]:
    """Return the kinds of facts that words may state, the gravest first."""
    return tuple(
        Kind(each["kind"], each["says"], _pattern(rf"(?<!\w)(?:{'|'.join(each['words'])})(?!\w)"))
        for each in known()["states"]
    )


def facts_in(text: str, product: Product, noun: str) -> tuple[list[str], bool]:
    """Return what kinds of facts a stretch of words states, and whether all agree.

    Whether they agree is told for amounts alone; whatever else is stated is taken to differ.
    """
    found: dict[str, bool] = {}
    bare = text = _unadorned(text)
    for what, amounts, agrees in (
        ("a weight", weights(text), lambda each: is_weight(each, product)),
        ("a price", prices(text, product.currency), lambda each: is_price(each, product.price)),
        ("a count", counts(text, noun), lambda each: each.value == product.pattern.pack),
    ):
        for each in amounts:
            found[what] = found.get(what, True) and agrees(each)
            bare = bare.replace(each.said, " ")
    for said in _UNSIGNED.findall(bare):
        found["a price"] = found.get("a price", True) and number_of(said) == product.price
    for kind in kinds():
        if kind.words.search(bare):
            found[kind.says] = False
    if _places().search(bare):
        found["where it comes from"] = False
    return list(found), all(found.values())


def _unadorned(text: str) -> str:
    """Return a text without accents and unseen signs, and letters that look alike as Latin ones."""
    plain = unicodedata.normalize("NFKD", text).translate(_ALIKE)
    return "".join(letter for letter in plain if unicodedata.category(letter) not in ("Mn", "Cf"))


_ALIKE = {ord(one): latin for latin, ones in known()["alike"].items() for one in ones}


@cache
def _places() -> re.Pattern[str]:
    return _pattern(rf"(?<!\w)(?:{_either(places_named())})(?!\w)")
