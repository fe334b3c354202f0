"""Every word on a piece is accounted for: by its product, its maker, or a layout of the house's.

What a piece may say is put together from the catalog: its own words, the statements that
its places of sale ask for, and every layout in the maker's folder or among those that ship,
filled in as data. One layout must account for a piece; what nothing accounts for is told.
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any, cast

from jinja2 import BaseLoader, StrictUndefined, Template, TemplateError, TemplateNotFound, nodes
from jinja2.exceptions import SecurityError
from jinja2.sandbox import ImmutableSandboxedEnvironment

from labeler import files
from labeler.catalog.gtin import as_14
from labeler.catalog.model import Product
from labeler.checker.claims import ProductLine
from labeler.checker.page.elements import Glyph
from labeler.checker.page.sides import SeenSide
from labeler.checker.page.text import TextPassage
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules import stated
from labeler.checker.rules.codes import link_of
from labeler.checker.subject import CheckedProduct
from labeler.disclosures import statements
from labeler.disclosures.rules import KINDS
from labeler.disclosures.statements import Statement
from labeler.findings import Finding, LabelerError
from labeler.geometry import Box, area, intersection, union
from labeler.units import NO_BREAK_SPACE

# ----------------------------------------------------------------------------
# Text without its spaces, so that it is the same however its lines are broken.

_ALIKE = str.maketrans({
    "‘": "'", "’": "'", "ʼ": "'", "‚": "'", "“": '"', "”": '"', "„": '"', "«": '"', "»": '"',
    "‐": "-", "‑": "-", "–": "-", "—": "-", "−": "-", "⁄": "/", "\u00ad": "",
})  # fmt: skip


@lru_cache(maxsize=1_024)
def _plain(letter: str) -> str:
    """Return a letter in its simplest form: small, without ligatures, accents apart."""
    return unicodedata.normalize("NFKD", letter).translate(_ALIKE).casefold()


@lru_cache(maxsize=8_192)
def packed(text: str) -> str:
    """Return a text in its simplest form, without spaces."""
    return "".join(map(_plain, "".join(text.split())))


@dataclass(slots=True)
class _Packed:
    """A stretch of text without its spaces, and where each letter stood."""

    text: str
    at: list[int]
    edges: list[bool]
    """Whether a word may begin or end before each letter, and after the last."""


def _pack(text: str) -> _Packed:
    letters: list[str] = []
    at: list[int] = []
    edges: list[bool] = []
    apart, before = True, ""
    for place, letter in enumerate(text):
        if letter.isspace():
            apart = True
            continue
        for plain in _plain(letter):
            edges.append(apart or not (plain.isalnum() and before.isalnum()))
            letters.append(plain)
            at.append(place)
            apart, before = False, plain
    return _Packed("".join(letters), at, [*edges, True])


# ----------------------------------------------------------------------------
# What a layout would print for a product.

_SUFFIX = ".xml.jinja"
_TEXT = re.compile(r"<text\b[^>]*(?<!/)>(.*?)</text\s*>", re.DOTALL)
_TAG = re.compile(r"<[^>]*>")
_MOST = 100_000
"""Letters of a layout, and of what it makes."""

_PRICE = "\ue000"
"""Stands for the price in a layout that is filled in, since it may be written in several ways."""

_MISTAKES = (TemplateError, TypeError, ValueError, ArithmeticError, LookupError, AttributeError,
             RecursionError, SyntaxError)  # fmt: skip
"""What a layout that can't be filled in raises; it accounts for nothing then."""


class _Loader(BaseLoader):
    def __init__(self, own: Path | None) -> None:
        self._own = own

    def get_source(self, environment: Any, template: str) -> tuple[str, str, None]:
        try:
            file = files.find("layouts", template, _SUFFIX, self._own)
            text = file.read_text("utf-8-sig")
        except (LabelerError, OSError, ValueError) as error:
            raise TemplateNotFound(template) from error
        if len(text) > _MOST:
            raise TemplateNotFound(template)
        return text, str(file), None


class _Sandbox(ImmutableSandboxedEnvironment):
    """Fills in layouts; one that calls without end, or loops within loops, is given up."""

    left = 0

    def call(self, context: Any, called: Any, *given: Any, **named: Any) -> Any:
        """Call something for a layout, as long as its calls are not used up."""
        self.left -= 1
        if self.left < 0:
            raise SecurityError("too many calls")
        return super().call(context, called, *given, **named)


_MOST_CALLS = 5_000
_MOST_TURNS = 1_000


def _counted(*bounds: int) -> range:
    turns = range(*bounds)
    if len(turns) > _MOST_TURNS:
        raise SecurityError("too many turns")
    return turns


def _depth(node: nodes.Node) -> int:
    """Return how deep loops stand within loops."""
    inner = max((_depth(each) for each in node.iter_child_nodes()), default=0)
    return inner + isinstance(node, nodes.For)


_DEEPEST = 3


@cache
def _templates(own: Path | None, stamps: files.Stamps) -> Mapping[str, Template]:
    """Return the layouts that can be read, those of the maker's own folder before ours."""
    sandbox = _Sandbox(loader=_Loader(own), undefined=StrictUndefined, autoescape=True)
    sandbox.globals["range"] = _counted
    found = {}
    for name in files.names("layouts", _SUFFIX, own):
        try:
            text, _, _ = _Loader(own).get_source(sandbox, name)
            if _depth(sandbox.parse(text)) <= _DEEPEST:
                found[name] = sandbox.get_template(name)
        except _MISTAKES:
            continue
    return found


def templates(own: Path | None) -> Mapping[str, Template]:
    """Return the layouts on the shelves, read again where one has changed."""
    return _templates(own, files.stamps("layouts", f"*{_SUFFIX}", own))


def _filled_in(template: Template, facts: Mapping[str, Any]) -> list[str]:
    """Return the texts that a layout prints; none where it can't be filled in."""
    made, size = [], 0
    cast("_Sandbox", template.environment).left = _MOST_CALLS
    try:
        for part in template.generate(facts):
            size += len(part)
            if size > _MOST:
                return []
            made.append(part)
    except _MISTAKES:
        return []
    return [html.unescape(_TAG.sub("", hit[1])) for hit in _TEXT.finditer("".join(made))]


def _open(**given: Any) -> dict[str, Any]:
    return {key: "" if value is None else value for key, value in given.items()}


def _facts(subject: CheckedProduct, black: bool) -> dict[str, Any]:
    """Return what a layout may ask, put together from the catalog."""
    product, claim = subject.product, subject.claim
    pattern, colour, hook = product.pattern, product.colour, product.hook
    number, unit = (
        product.weight.oz_text if product.weight.unit == "oz" else product.weight.g_text
    ).split(NO_BREAK_SPACE)
    asked = [one for one in subject.statements if one.duty != "optional"]
    return {
        "product": _open(
            sku=product.sku, name=product.name, pattern=pattern.name, kind=pattern.kind,
            colour=colour.name, weight_number=number, weight_unit=unit,
            weight_oz=product.weight.oz_text, weight_g=product.weight.g_text,
            hook_size=product.hook_size, hook=hook.name, hook_finish=hook.finish,
            head=product.head.name, alloy=product.alloy.name, has_lead=product.has_lead,
            guard=product.guard and product.guard.name, pack=pattern.pack,
            price=None if product.price is None else _PRICE, gtin=product.gtin,
            gtin14=product.gtin and as_14(product.gtin), story=pattern.story, care=pattern.care,
            note=product.note or colour.note, photo=product.photo,
            length=pattern.length and str(pattern.length), made_in=pattern.made_in,
            strands=colour.strands,
            layers=[
                _open(
                    shade=layer.shade, strands=layer.strands, seat=layer.seat,
                    amount=layer.amount, material=product.materials[layer.material].name,
                )
                for layer in colour.layers
            ],
        ),
        "maker": _maker(product),
        "lot": claim.lot,
        "link": link_of(subject),
        "piece": {"width": claim.width / 72, "height": claim.height / 72, "black": black},
        "says": {
            kind.replace(" ", "_"): " ".join(s.full.plain for s in asked if s.kind == kind)
            for kind in KINDS
        },
    }  # fmt: skip


def _maker(product: Product) -> dict[str, Any]:
    who = product.maker
    town = " ".join(filter(None, (who.state, who.postcode)))
    return _open(
        name=who.name, street=who.street, city=who.city, state=who.state, postcode=who.postcode,
        country=who.country, site=who.site, email=who.email, phone=who.phone,
        address=", ".join(filter(None, (who.street, who.city, town))),
    )  # fmt: skip


# ----------------------------------------------------------------------------
# What accounts for the words of a piece.


@dataclass
class Accounts:
    """The phrases that a piece may bear, without their spaces."""

    subject: CheckedProduct
    own: list[str] = field(init=False)
    """Those of its product, its maker, and what has to be said of it."""
    _laid_out: dict[str, list[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.own = _packed_all(_own_phrases(self.subject))

    def of(self, name: str, template: Template) -> list[str]:
        """Return what a layout prints of it, and the product's own."""
        if name not in self._laid_out:
            texts = [
                text
                for black in (False, True)
                for text in _filled_in(template, _facts(self.subject, black))
            ]
            prices = _price_texts(self.subject.product)
            self._laid_out[name] = _packed_all(
                text.replace(_PRICE, price) if _PRICE in text else text
                for text in texts
                for price in (prices if _PRICE in text else [""])
            )
        return [*self._laid_out[name], *self.own]


def _packed_all(texts: Any) -> list[str]:
    return [each for each in dict.fromkeys(packed(text) for text in texts) if each]


def _price_texts(product: Product) -> list[str]:
    amount, code = product.price, product.currency
    if amount is None:
        return []
    signs = [sign for sign, codes in stated.known()["signs"].items() if code in codes][:1]
    forms = [f"{amount:,.2f}", f"{amount.normalize():,f}"]
    return [
        text
        for form in forms
        for text in (*(f"{sign}{form}" for sign in signs), f"{code}{NO_BREAK_SPACE}{form}")
    ]


def _own_phrases(subject: CheckedProduct) -> Iterator[str]:
    product, who = subject.product, subject.product.maker
    pattern, colour = product.pattern, product.colour
    for said in subject.statements:
        yield from _wordings(said)
    yield from filter(None, (
        product.sku, product.name, pattern.name, colour.name, pattern.kind, pattern.story,
        pattern.care, product.note, colour.note, product.hook.name, product.hook.finish,
        product.head.name, product.alloy.name, product.guard and product.guard.name,
        product.weight.oz_text, product.weight.g_text, subject.claim.lot,
        statements.identity(product, subject.markets), statements.address(product, subject.markets),
        who.name, who.street, who.city, who.site, who.email, who.phone,
    ))  # fmt: skip
    for layer in colour.layers:
        yield from (layer.shade, product.materials[layer.material].name)
        yield from filter(None, (layer.amount,))
    if product.gtin:
        digits = product.gtin
        yield from (digits, as_14(digits))
        cuts = {13: (0, 1, 7, 13), 12: (0, 1, 6, 11, 12), 8: (0, 4, 8)}.get(len(digits), ())
        for first, end in pairwise(cuts):
            yield digits[first:end]


def _wordings(said: Statement) -> Iterator[str]:
    for form in (*said.satisfying, *said.expired):
        yield form.plain


# ----------------------------------------------------------------------------
# What is accounted for on a side, and what is not.


@dataclass(slots=True)
class _Stretch:
    """Words that nothing accounts for."""

    text: str
    box: Box
    after: str
    """The word before figures, which tells what they are."""


def _covered(whole: _Packed, phrases: Sequence[str]) -> bytearray:
    """Mark the letters that whole phrases account for."""
    marks = bytearray(len(whole.text))
    for phrase in phrases:
        at = whole.text.find(phrase)
        while at >= 0:
            end = at + len(phrase)
            if whole.edges[at] and whole.edges[end]:
                marks[at:end] = b"\x01" * len(phrase)
            at = whole.text.find(phrase, at + 1)
    return marks


def _left(passages: Sequence[TextPassage], phrases: Sequence[str]) -> list[_Stretch]:
    """Return the stretches of words that these phrases don't account for."""
    told: set[int] = set()
    packs = [(passage, _pack(passage.text)) for passage in passages]
    for passage, whole in packs:
        marks = _covered(whole, phrases)
        told.update(id(passage.glyphs[whole.at[at]]) for at in range(len(marks)) if marks[at])
    found: dict[frozenset[int], _Stretch] = {}
    for passage in passages:
        for line in passage.lines:
            _add(line.text, line.glyphs, told, phrases, found)
    return list(found.values())


def _add(
    text: str, glyphs: Sequence[Glyph | None], told: set[int], phrases: Sequence[str],
    found: dict[frozenset[int], _Stretch],
) -> None:  # fmt: skip
    words = [(hit.start(), hit.end()) for hit in re.finditer(r"\S+", text)]
    unknown = [_is_unknown(text, glyphs, told, first, end) for first, end in words]
    at = 0
    while at < len(words):
        if not unknown[at]:
            at += 1
            continue
        last = at
        while last + 1 < len(words) and unknown[last + 1]:
            last += 1
        first, end = words[at][0], words[last][1]
        said = text[first:end]
        if not _part_of_a_phrase(said, at == 0 and last == len(words) - 1, phrases):
            mine = [g for g in glyphs[first:end] if g is not None and g.area]
            figures = said[0].isdigit() and at
            before = text[slice(*words[at - 1])] if figures else ""
            if mine:
                found.setdefault(
                    frozenset(map(id, mine)), _Stretch(said, union([g.box for g in mine]), before)
                )
        at = last + 1


def _is_unknown(
    text: str, glyphs: Sequence[Glyph | None], told: set[int], first: int, end: int
) -> bool:
    """Tell whether a word holds a letter, figure or sign that nothing accounts for."""
    return any(
        (text[at].isalnum() or unicodedata.category(text[at]) in ("Sc", "So"))
        and (glyph := glyphs[at]) is not None
        and id(glyph) not in told
        for at in range(first, end)
    )


_FEW = 12


def _part_of_a_phrase(said: str, whole_line: bool, phrases: Sequence[str]) -> bool:
    """Tell whether words are the beginning of a phrase, its end, or a whole line of it.

    A phrase that runs around something else is not read as one; its lines still are its parts.
    Figures are taken for no part of a phrase, unless much of it stands beside them.
    """
    plain = packed(said)
    long = len(plain) >= _FEW
    if not long and any(letter.isdigit() for letter in plain):
        return False
    return any(
        phrase.startswith(plain)
        or phrase.endswith(plain)
        or (whole_line and long and plain in phrase)
        for phrase in phrases
    )


def unaccounted(side: SeenSide, subject: CheckedProduct) -> list[_Stretch]:
    """Return the words on a side that no layout and nothing in the catalog accounts for."""
    if not side.passages:
        return []
    if subject.accounts is None:
        subject.accounts = Accounts(subject)
    accounts: Any = subject.accounts
    shelf = templates(subject.own)
    names = sorted(shelf, key=lambda name: (name != subject.claim.layout, name))
    best: list[_Stretch] | None = None
    for name in names:
        left = _left(side.passages, accounts.of(name, shelf[name]))
        if best is None or sum(len(each.text) for each in left) < sum(len(b.text) for b in best):
            best = left
        if not left:
            break
    return _left(side.passages, accounts.own) if best is None else best


_TOLD_BY = frozenset({
    "weight-wrong", "weight-rounded-up", "gtin-wrong", "lot-wrong", "price-wrong", "hook-wrong",
    "quantity-wrong", "piece-other-product",
})  # fmt: skip
"""Rules that tell a wrong fact by its place; the same words are not told twice."""


@asks("words-unaccounted", "fact-unaccounted")
def words(
    side: SeenSide, subject: CheckedProduct, sold: ProductLine, told: Sequence[Finding]
) -> Iterator[Finding]:
    """Yield the words on a side that nothing accounts for, with what they state.

    Args:
        side: one side of a piece.
        subject: what the piece has to be.
        sold: the products of the line.
        told: what was found on the side already.
    """
    boxes = [each.place.box for each in told if each.rule in _TOLD_BY and each.place.box]
    noun = statements.units(subject.product, subject.markets).casefold()
    for stretch in unaccounted(side, subject):
        if any(_mostly(stretch.box, box) for box in boxes):
            continue
        place, said = side.place(stretch.box), f"“{stretch.text}”"
        whole = statements.folded(f"{stretch.after} {stretch.text}")
        facts, agree = stated.facts_in(whole, subject.product, noun)
        if other := _others_fact(stretch.text, sold):
            facts, agree = [f"another product's fact: {other}"], False
        if facts and not agree:
            yield finding(
                "fact-unaccounted", place, found=said,
                message=f"words that nothing accounts for state {' and '.join(facts[:3])}",
            )  # fmt: skip
        else:
            yield finding("words-unaccounted", place, found=said)


def _mostly(one: Box, other: Box) -> bool:
    common = intersection(one, other)
    return common is not None and area(common) > _MOST_OF_IT * area(one)


_MOST_OF_IT = 0.6


def _others_fact(text: str, sold: ProductLine) -> str:
    """Return another product's name, kind, hook, finish or SKU that stands in the words."""
    whole = _pack(text)
    for plain, name in _facts_of_line(sold).items():
        at = whole.text.find(plain)
        if at >= 0 and whole.edges[at] and whole.edges[at + len(plain)]:
            return name
    return ""


def _facts_of_line(sold: ProductLine) -> Mapping[str, str]:
    """Return what the line's products are called and made of, by its simplest form."""
    if "facts" not in sold.kept:
        found = {}
        for product in sold.products:
            for name in (
                product.sku, product.pattern.name, product.pattern.kind, product.colour.name,
                product.hook.name, product.hook.finish,
            ):  # fmt: skip
                found[packed(name)] = name
        sold.kept["facts"] = found
    return cast("Mapping[str, str]", sold.kept["facts"])
