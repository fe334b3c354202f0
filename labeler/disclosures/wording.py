"""What may not stand on a label: claims that the goods contradict, figures and units gone wrong.

Pure functions over a text and a product, so that a maker's own layout is held to the same rules
as ours. Which words, and what makes them false, stands in the markets' files; the rules on figures
(16 CFR 500.17, 500.19 and 500.22) in ``form.toml``.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache, lru_cache

from labeler.catalog.casting import trade_weights
from labeler.catalog.model import Product
from labeler.disclosures import market_rules
from labeler.disclosures import rules as form
from labeler.disclosures.market_rules import RuleBook, Ruling, Same, rulings
from labeler.disclosures.rules import Effect, Rule
from labeler.findings import Finding, Grade, Place, listed
from labeler.units import FRACTION_SLASH, Weight, truncate


def contradicted(
    text: str,
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    *,
    place: Place | None = None,
) -> tuple[Finding, ...]:
    """Return a finding for each claim in ``text`` that may not be made of ``product``.

    ``text`` is one block: words that qualify a claim must stand in it too.
    """
    return _findings(text, product, _claims("anywhere", product, markets, day), place or Place())


def puffed(
    quantity: str,
    product: Product,
    markets: Sequence[str],
    day: dt.date,
    *,
    place: Place | None = None,
) -> tuple[Finding, ...]:
    """Return a finding for each word in or beside the quantity that exaggerates it."""
    held = _claims("quantity", product, markets, day)
    return _findings(quantity, product, held, place or Place())


def _claims(near: str, product: Product, markets: Sequence[str], day: dt.date) -> list[Ruling]:
    """Return the rulings that bar words there, each rule once."""
    barred = _barring(Same(market_rules.shipped()), Same(product), tuple(markets), day)
    return [one for one in barred if one.rule.near == near]


@lru_cache(maxsize=64)
def _barring(
    book: Same[RuleBook], product: Same[Product], markets: tuple[str, ...], day: dt.date
) -> tuple[Ruling, ...]:
    """Return the rulings that bar words; of one product many texts are asked, one by one."""
    asked = rulings(product.thing, markets, day, book.thing, {Effect.CLAIM})
    return tuple({one.rule.id: one for one in asked if one.set_off or one.unknown}.values())


def _findings(
    text: str, product: Product, held: Sequence[Ruling], place: Place
) -> tuple[Finding, ...]:
    plain = folded(text)
    for name in (product.pattern.name, product.colour.name):
        plain = _without_place(folded(name), plain)
    found = (_contradiction(ruling, plain, product, place) for ruling in held)
    return tuple(one for one in found if one is not None)


def _without_place(name: str, plain: str) -> str:
    """Return a folded text without a name of the product's that begins as a place's: China Doll."""
    if " " not in name or not _pattern(("{state}", "{anywhere}")).match(name):
        return plain
    return re.sub(rf"(?<!\w){re.escape(name)}(?!\w)".replace(r"\ ", r"\s"), "~", plain)


def _contradiction(ruling: Ruling, plain: str, product: Product, place: Place) -> Finding | None:
    """Return the first of a rule's words in a folded text that the goods contradict."""
    for hit in _hits(ruling.rule, plain):
        if not ruling.rule.of_origin:
            return _finding(ruling, hit[0], place)
        origins = _origins(hit[0], plain, product)
        if _code(hit[0]) not in origins:
            given = ", ".join(sorted(form.country(each) for each in origins if each))
            finding = _finding(ruling, hit[0], place, softer=None in origins)
            return replace(finding, found=f"by the catalog {given or 'no origin'}")
    return None


def _origins(words: str, plain: str, product: Product) -> set[str | None]:
    """Return the origins that words on one may name, by their codes; None for one left open.

    Words on a hook speak of the hook, all others of the jig; where a text speaks of parts too, of
    what any of them came from.
    """
    hooks = {unit.hook.origin for unit in product.units}
    if _pattern(("{hook}",)).search(words):
        return hooks
    parts = {*hooks, *(part.origin for part in product.materials.values())}
    parts |= set() if product.dressing_told else {None}
    spoken_of = _pattern(("{part}",)).search(plain) and _code(words) in parts
    return {product.pattern.made_in, *(parts if spoken_of else ())}


def _code(words: str) -> str:
    """Return the code of the country that folded words end with."""
    name = _pattern(("{anywhere}",)).findall(words)[-1]
    return "US" if name in form.word_lists()["us"] else _codes()[name]


@cache
def _codes() -> dict[str, str]:
    return {_folded(name): code for name, code in form.places_named().items()}


def _hits(rule: Rule, plain: str) -> Iterator[re.Match[str]]:
    """Yield where words stand that ``rule`` bars, and nothing beside them makes good."""
    standing = _standing(rule.words, plain, rule.not_between)
    if not standing:
        return
    pattern = _pattern(standing, rule.not_between)
    denied, unless = _pattern(("{denied}",), end=True), _pattern(_standing(rule.unless, plain))
    if any(not denied.search(plain[: hit.start()]) for hit in unless.finditer(plain)):
        return
    before = _pattern((*rule.not_after, "{denied}"), end=True)
    after, beside = _pattern(rule.not_before), _pattern(rule.not_beside)
    at = 0
    while hit := pattern.search(plain, at):
        denied_here = before.search(plain[: hit.start()])
        at = hit.end() if denied_here else hit.start() + 1
        while hit and not denied_here:
            rest = plain[hit.end() :]
            if not after.match(rest.lstrip(" ,\n")) and not beside.match(rest.lstrip(" ")):
                yield hit
                break
            shorter = max(plain.rfind(" ", 0, hit.end()), plain.rfind("\n", 0, hit.end()))
            hit = pattern.match(plain, hit.start(), shorter) if shorter > hit.start() else None


def all_words(rules: Iterable[Rule]) -> tuple[str, ...]:
    """Return the words of all of ``rules``, each once."""
    return tuple(dict.fromkeys(words for rule in rules for words in rule.words))


def stands(words: tuple[str, ...], text: str) -> bool:
    """Tell whether any of the rules' ``words`` stand in a text."""
    return bool(_standing(words, folded(text)))


def begins(words: tuple[str, ...], text: str) -> bool:
    """Tell whether a text begins with a word that any of the rules' ``words`` begins with."""
    first = _WORD.match(folded(text))
    return first is not None and first[0] in _openings(words)


@cache
def _openings(words: tuple[str, ...]) -> frozenset[str]:
    return frozenset().union(*(_first_words(each.split()[0]) for each in words))


def whole(words: tuple[str, ...], text: str) -> bool:
    """Tell whether a text is one of the rules' ``words`` and nothing else."""
    parts = (part.strip(" ,") for part in folded(text).split(" . "))
    return any(
        _pattern((each,)).fullmatch(part) for part in parts for each in _possible(words, part)
    )


@lru_cache(maxsize=1024)
def folded(text: str) -> str:
    """Return ``text`` in plain small letters, one space or one line break between words.

    ``U.S.A.`` and ``US`` become usa (but for ``ASK US``), a hyphen, dash, bullet or bracket a
    space, an apostrophe straight, what ends a sentence a dot that stands alone. Where a hyphen
    stands at the end of a line the text is told twice: ``bio-`` and ``degradable`` are two words,
    and one.
    """
    text = _UNSEEN.sub("", text)
    whole = _BROKEN.sub("", text)
    return " . ".join(dict.fromkeys(_folded(each) for each in (text, whole)))


_UNSEEN = re.compile("[\u00ad\u200b-\u200d\u2060\ufe0f\ufeff]")
_BROKEN = re.compile(r"(?<=[^\W\d_])[-\u2010]\s+(?=[^\W\d_])")
_SPACED = re.compile(r"(?<!\S)[^\W\d_](?: [^\W\d_]){2,}(?!\S)")
_US = re.compile(r"(?<![\w.])(?:U\.? ?S\.? ?A\.?|U\. ?S\.|US|u\. ?s\.(?: ?a\.?)?)(?!\w)")
_STATE = re.compile(
    r"(?<=,)\s*(?:([A-Z]{2})(?=\s*(?:\d{5}|[,.;!)]|$))"
    r"|(?!AL|CO|DE|HI|ID|IN|LA|ME|OH|OK|OR)([A-Z]{2})(?=\s))"
    r"|(?<=[^\W\d_])[ \n]([A-Z]{2})(?= \d{5})"
    r"|(?<=[^\W\d_])[ \n](?!AL|CO|DE|HI|ID|IN|LA|MA|ME|MO|MS|OH|OK|OR|PA)([A-Z]{2})(?=[,.;!)\n]|$)"
)
"""A state's two letters; those that are a word too only where something ends after them."""
_SHORT = re.compile(r"(?i)\b(\w|st|mt|ft|ee|oz|lb|co|inc|dr|jr|sr|ave|rd)\.(?=\s|\w\b|$)")
"""Abbreviations, whose dot ends no sentence."""
_APART = re.compile("[^\\w\\s.,;!?%'#+\U0001f1e6-\U0001f1ff]|_")
_SENTENCE = re.compile(r"[.!?;]+(?=\s|$)")


def _folded(text: str) -> str:
    if text.isascii() and text.isalpha() and text.islower():
        return text  # one plain word, as nearly all are that rules name
    plain = unicodedata.normalize("NFKC", re.sub("[\u2018\u2019\u02bc`\u00b4]", "'", text))
    plain = _SPACED.sub(lambda letters: letters[0].replace(" ", ""), _closed_up(plain))
    plain = _US.sub(_country, plain)
    plain = _STATE.sub(lambda code: f" {form.state(code[0].split()[-1])}", plain)
    plain = _SENTENCE.sub(" . ", _SHORT.sub(r"\1", plain))
    plain = _APART.sub(" ", plain.replace("&", " and ").replace("%", " %"))
    return _closed_up(plain.casefold()).removesuffix(" .")


def _closed_up(text: str) -> str:
    lines = (" ".join(line.split()) for line in text.splitlines())
    return "\n".join(filter(None, lines))


def _country(us: re.Match[str]) -> str:
    """Return what a US is: the country, or in capitals the people of the shop, as in ASK US."""
    before = us.string[: us.start()]
    shop = us[0] == "US" and before[-2:-1].isupper() and _pattern(("{before-us}",), end=True)
    return "us" if shop and shop.search(before.casefold()) else "usa"


def _standing(words: tuple[str, ...], plain: str, without: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Return those of a rule's words that stand somewhere in a folded text.

    Each is looked for by its own pattern: that of them all takes long to build, and one of those
    that a text might hold would be built for almost every text.
    """
    return tuple(
        each for each in _possible(words, plain) if _pattern((each,), without).search(plain)
    )


def _possible(words: tuple[str, ...], plain: str) -> tuple[str, ...]:
    """Return those of a rule's words that a folded text may hold, by what it names."""
    there = frozenset(_WORD.findall(plain))
    named = _by_name(words)
    return tuple(
        words[at]
        for at in sorted({at for name in ("", *there) for at in named.get(name, ())})
        if all(not there.isdisjoint(names) for names in _needed(words[at]))
    )


_WORD = re.compile(r"\w+")


@cache
def _by_name(words: tuple[str, ...]) -> dict[str, list[int]]:
    """Return by a word that a text must hold which of a rule's words may stand in it."""
    found: dict[str, list[int]] = {}
    for at, each in enumerate(words):
        for name in min(_needed(each), key=len, default={""}):
            found.setdefault(name, []).append(at)
    return found


@cache
def _needed(words: str) -> tuple[frozenset[str], ...]:
    """Return sets of words: of each of them, one must stand in a text where ``words`` stand."""
    found = (_first_words(part) for part in words.split())
    return tuple(each for each in found if each)


@cache
def _first_words(part: str) -> frozenset[str]:
    """Return the words that a part of a rule's words can begin with; none if it can be any."""
    if part in ("*", "~", "#"):
        return frozenset()
    if not part.startswith("{"):
        return frozenset(_WORD.findall(_folded(part))[:1])
    firsts = [_first_words(each.split()[0]) for each in form.word_lists()[part.strip("{}")]]
    return frozenset().union(*firsts) if all(firsts) else frozenset()


@lru_cache(maxsize=4096)
def _pattern(
    words: tuple[str, ...], without: tuple[str, ...] = (), end: bool = False
) -> re.Pattern[str]:
    """Return the pattern of any of a rule's words, as whole words, or of what ends with them."""
    bodies = "|".join(_body(each, without) for each in words) or "(?!)"
    spaced = bodies.replace("\\ ", " ").replace(" ", "[ \n]").replace("\t", " ")
    return re.compile(rf"(?<!\w)(?:{spaced})" + (r",?\s*\Z" if end else r"(?!\w)"))


@cache
def _body(words: str, without: tuple[str, ...] = ()) -> str:
    parts = [_part(part, without) for part in words.split()]
    return "".join(parts).replace(" +", "\t").replace(" $", "(?=\n)").removesuffix(" ")


def _part(part: str, without: tuple[str, ...]) -> str:
    if part in ("*", "~"):
        listed = (*without, "{thing}") if part == "~" else without
        barred = "|".join([r"\. ", *(rf"{_body(each)}(?!\w)" for each in listed)])
        return rf"(?:(?!{barred})\S+ ){{0,4}}"
    if part == "#":
        return r"\d+\+? "
    if part in ("+", "$"):
        return part
    if part.startswith("{"):
        named = sorted(form.word_lists()[part.strip("{}")], key=len, reverse=True)
        return f"(?:{'|'.join(_body(each, without) for each in named)}) "
    return re.escape(_folded(part)) + " "


def _finding(ruling: Ruling, words: str, place: Place, softer: bool = False) -> Finding:
    rule = ruling.rule
    doubted = (ruling.unknown or softer) and rule.grade is Grade.STOP
    mend = ", or name in the same text what is imported" if rule.unless else ""
    return Finding(
        rule=rule.id,
        grade=Grade.FIX if doubted else rule.grade,
        place=place,
        message=f"{words!r} may not stand here: {rule.about}",
        found=ruling.answer.because,
        hint=rule.doubt
        or f"Take these words out of your own text (story, note, name or layout){mend}.",
        source=f"{rule.source} ({rule.confidence.value})",
    )


_FRACTION = re.compile(rf"(\d+)\s?[/{FRACTION_SLASH}]\s?(\d+)")
_DECIMAL = re.compile(r"(?<![\d.])\d*\.(\d+)")
_UNIT = re.compile(r"(?<=\d)\s?([^\W\d_]+)(\.?)")
_METRIC = frozenset({"g", "kg", "mg", "cm", "mm", "m"})


def grams_agree(weight: Weight, printed: Fraction) -> bool:
    """Tell whether ``printed`` grams may stand beside ``weight``: cut, to two or three digits.

    2 oz is 56 or 56.6 g, never 56.7. Source: 16 CFR 500.19(b).
    """
    stated = weight.unit == "g" and printed == weight.grams
    return stated or printed in _cut(weight.grams)


def ounces_agree(weight: Weight, printed: Fraction) -> bool:
    """Tell whether ``printed`` ounces may stand beside ``weight``: itself, or cut likewise."""
    stated = weight.unit == "oz" and printed == weight.ounces
    return stated or printed in _cut(weight.ounces)


@lru_cache(maxsize=256)
def _cut(exact: Fraction) -> frozenset[Fraction]:
    fewest, most = form.rules()["form-metric-figures"].numbers
    digits = range(fewest if exact < 100 else most, most + 1)
    return frozenset(Fraction(truncate(exact, count)) for count in digits)


def written_badly(text: str, place: Place | None = None) -> tuple[Finding, ...]:
    """Return what is wrong with the fractions, decimals and units in a declaration of weight."""
    spot = place or Place()
    return (*_fractions(text, spot), *_decimals(text, spot), *_units(text, spot))


def _fractions(text: str, place: Place) -> Iterator[Finding]:
    plain = set(form.rules()["form-fractions"].numbers)
    buyers = f"lowest terms, with one of {', '.join(map(str, sorted(plain)))} below the line"
    custom = {each.value.denominator for each in trade_weights()} - plain
    for found in _FRACTION.finditer(text):
        over, under = int(found[1]), int(found[2])
        if not under:
            continue
        if text[found.end() :].lstrip().casefold().startswith("g"):
            yield _fault("form-metric-figures", place, "grams never take a fraction", found[0],
                         "a figure of two or three digits, such as 10 or 10.6")  # fmt: skip
        if Fraction(over, under).denominator != under:
            yield _fault(
                "form-fractions", place, "a fraction not in lowest terms", found[0], buyers
            )
        elif under in custom:
            yield _fault("form-trade-fractions", place, "a fraction of the trade's own", found[0],
                         f"{buyers}; custom of the trade allows others")  # fmt: skip
        elif under not in plain:
            yield _fault(
                "form-fractions", place, "a fraction that nobody expects", found[0], buyers
            )


def _decimals(text: str, place: Place) -> Iterator[Finding]:
    most = form.number("form-decimals")
    for found in _DECIMAL.finditer(text):
        if len(found[1]) > most:
            yield _fault("form-decimals", place, "too many decimal places", found[0],
                         f"no more than {most:g} places after the point")  # fmt: skip


def _units(text: str, place: Place) -> Iterator[Finding]:
    known = form.rules()["form-units"].words
    for found in _UNIT.finditer(text):
        unit, dot = found[1], found[2]
        if unit.casefold() not in {word.casefold() for word in _METRIC | set(known)}:
            if _misspelt(unit):
                yield _fault("form-units", place, "an abbreviation nobody lists", unit,
                             f"one of {listed(known)}")  # fmt: skip
        elif unit.casefold() in _METRIC and (unit not in _METRIC or dot):
            yield _fault("form-units", place, "a metric symbol written wrongly", unit + dot,
                         f"{unit.casefold()}, without a full stop or a capital")  # fmt: skip


def _misspelt(unit: str) -> bool:
    """Tell whether a word after a number is meant as a metric unit: gm, gms, grm, cms."""
    return bool(re.fullmatch(r"g(?:r?ms?|rs?|s)|kgs|cms|mms", unit.casefold()))


def _fault(rule_id: str, place: Place, message: str, found: str, expected: str) -> Finding:
    rule = form.rules()[rule_id]
    return Finding(rule_id, rule.grade, place, message, found=found, expected=expected,
                   source=rule.source)  # fmt: skip
