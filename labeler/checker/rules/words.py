"""Every word on a piece is accounted for: by its product, its maker, or a layout of the house's.

What a piece may say is put together from the catalog: its own words, the statements that
its places of sale ask for, and every layout in the maker's folder or among those that ship,
filled in as data. One layout must account for a piece; what nothing accounts for is told.
"""

from __future__ import annotations

import contextlib
import html
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from itertools import accumulate, compress
from pathlib import Path
from typing import Any, NamedTuple, cast

import numpy as np
from jinja2 import BaseLoader, StrictUndefined, Template, TemplateError, TemplateNotFound, nodes
from jinja2.exceptions import SecurityError
from jinja2.sandbox import ImmutableSandboxedEnvironment

from labeler import files
from labeler.catalog.gtin import as_14
from labeler.catalog.model import Product
from labeler.catalog.structure import PHOTOS
from labeler.checker.claims import ProductLine
from labeler.checker.page.elements import Glyph, PaintedPath
from labeler.checker.page.rendering import alike
from labeler.checker.page.sides import SeenSide
from labeler.checker.page.text import TextLine, TextPassage
from labeler.checker.rulebook import asks, finding, number
from labeler.checker.rules import stated
from labeler.checker.rules.codes import link_of
from labeler.checker.subject import CheckedProduct
from labeler.disclosures import statements
from labeler.disclosures.rules import KINDS
from labeler.findings import Finding, LabelerError
from labeler.geometry import (
    Box,
    area,
    grown,
    intersection,
    overlaps,
    union,
)
from labeler.units import FRACTION_SLASH, NO_BREAK_SPACE

# ----------------------------------------------------------------------------
# Text without its spaces, so that it is the same however its lines are broken.

_ALIKE = str.maketrans({
    "‘": "'", "’": "'", "ʼ": "'", "‚": "'", "“": '"', "”": '"', "„": '"', "«": '"', "»": '"',
    "‐": "-", "‑": "-", "–": "-", "—": "-", "−": "-", "⁄": "/", "\u00ad": "",
})  # fmt: skip


@lru_cache(maxsize=1_024)
def _plain(letter: str) -> str:
    """Return a letter in its simplest form: small, without ligatures, accents apart."""
    plain = unicodedata.normalize("NFKD", statements.folded_letters(letter))
    return plain.translate(_ALIKE).casefold()


@lru_cache(maxsize=8_192)
def packed(text: str) -> str:
    """Return a text in its simplest form, without spaces."""
    return "".join(map(_plain, "".join(text.split())))


class _Packed(NamedTuple):
    """A stretch of text without its spaces, and where each letter stood."""

    text: str
    at: list[int]
    edges: list[bool]
    """Whether a word may begin or end before each letter, and after the last."""


@lru_cache(maxsize=8_192)
def pack(text: str) -> _Packed:
    """Return a text in its simplest form, with where each of its letters stands in it."""
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
    def __init__(self, maker_folder: Path | None) -> None:
        self._maker_folder = maker_folder

    def get_source(self, environment: Any, template: str) -> tuple[str, str, None]:
        try:
            file = files.find("layouts", template, _SUFFIX, self._maker_folder)
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

_OTHER_PICTURE = re.compile(r"<picture(?![^>]*\bmaker\.logo\b)")
"""A block for a picture that is not the maker's logo."""


class CompiledLayouts:
    """The layouts on the shelves, each read and compiled when it is first asked for."""

    def __init__(self, maker_folder: Path | None) -> None:
        self.names = files.names("layouts", _SUFFIX, maker_folder)
        self._loader = _Loader(maker_folder)
        self._sandbox = _Sandbox(loader=self._loader, undefined=StrictUndefined, autoescape=True)
        self._sandbox.globals["range"] = _counted
        self._read: dict[str, tuple[Template, bool] | None] = {}

    def template(self, name: str) -> Template | None:
        """Return a layout; None if it can't be read, and so accounts for nothing."""
        found = self._compiled(name)
        return found and found[0]

    @property
    def pictured(self) -> bool:
        """Whether any that can be read has a picture of the maker's beside the logo."""
        return any(found[1] for found in map(self._compiled, self.names) if found)

    def _compiled(self, name: str) -> tuple[Template, bool] | None:
        if name not in self._read:
            self._read[name] = None
            with contextlib.suppress(*_MISTAKES):
                text, _, _ = self._loader.get_source(self._sandbox, name)
                tree = self._sandbox.parse(text, name)
                if _depth(tree) <= _DEEPEST:
                    pictured = _OTHER_PICTURE.search(text) is not None
                    self._read[name] = self._sandbox.from_string(tree), pictured
        return self._read[name]


@cache
def _layouts(maker_folder: Path | None, stamps: files.Stamps) -> CompiledLayouts:
    return CompiledLayouts(maker_folder)


def layouts(maker_folder: Path | None) -> CompiledLayouts:
    """Return the layouts on the shelves, those of the maker's own folder before ours."""
    maker_folder = files.with_shelves(maker_folder, "layouts")
    return _layouts(maker_folder, files.stamps("layouts", f"*{_SUFFIX}", maker_folder))


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


_AS_READ = str.maketrans({NO_BREAK_SPACE: " ", FRACTION_SLASH: "/"})
"""What stands on a page otherwise than in a layout."""

_IN_BRACES = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", re.DOTALL)


def fill_in(name: str, subject: CheckedProduct) -> Iterator[tuple[int | None, str]]:
    """Yield each text that a layout prints of a product, with the line that it stands on.

    No line is given for what stands in another file, or is put together by the layout.
    """
    template = _shelf_of(subject).template(name)
    if template is None:
        return
    source, _, _ = _Loader(subject.shelf.maker_folder).get_source(None, name)
    written = []
    for hit in _TEXT.finditer(source):
        parts = _IN_BRACES.split(html.unescape(_TAG.sub("", hit[1])))
        pattern = re.compile(".*".join(re.escape(packed(part)) for part in parts))
        line = source.count("\n", 0, hit.start(1)) + 1
        written.append((sum(map(len, map(packed, parts))), line, pattern))
    written.sort(key=lambda each: -each[0])
    for text in dict.fromkeys(
        text.translate(_AS_READ).replace(_PRICE, str(subject.product.price or ""))
        for text in _accounts_of(subject).printed(template)
    ):
        plain = packed(text)
        yield next((line for n, line, each in written if n and each.fullmatch(plain)), None), text


def _open(**given: Any) -> dict[str, Any]:
    return {key: "" if value is None else value for key, value in given.items()}


def _facts(subject: CheckedProduct, black: bool) -> dict[str, Any]:
    """Return what a layout may ask, put together from the catalog."""
    product, claim = subject.product, subject.claim
    pattern, colour, hook = product.pattern, product.colour, product.hook
    number, unit = (
        product.weight.oz_text if product.weight.unit == "oz" else product.weight.g_text
    ).split(NO_BREAK_SPACE)
    if len({unit.weight for unit in product.units}) > 1:
        number = unit = ""
    asked = [one for one in subject.statements if one.duty != "optional"]
    return {
        "product": _open(
            sku=product.sku, name=product.name, pattern=product.in_two(pattern.name),
            kind=product.in_two(pattern.kind), colour=product.in_two(colour.name),
            weight_number=number, weight_unit=unit,
            weight_oz=number and product.weight.oz_text, weight_g=number and product.weight.g_text,
            hook_size=product.hook_size, hook=hook.name, hook_finish=hook.finish,
            head=product.head.name, alloy=product.alloy.name, has_lead=product.has_lead,
            guard=product.guard and product.guard.name, pack=pattern.pack,
            price=None if product.price is None else _PRICE, gtin=product.gtin,
            gtin14=product.gtin and as_14(product.gtin), story=pattern.story, care=pattern.care,
            note=product.note or colour.note, photo=product.photo,
            length=pattern.length and str(pattern.length), made_in=pattern.made_in,
            strands=colour.strands, opaque=product.bag is not None and not product.bag.clear,
            parts=[
                _open(
                    count=part.count, name=statements.part_name(product, part),
                    sku=one.sku, pattern=one.in_two(one.pattern.name),
                    colour=one.in_two(one.colour.name),
                    weight_oz=one.weight.oz_text, weight_g=one.weight.g_text,
                    hook_size=one.hook_size, kind=one.in_two(one.pattern.kind),
                )
                for part in product.parts for one in (part.product,)
            ],
            layers=[
                _open(
                    shade=layer.shade, strands=layer.strands, seat=layer.seat,
                    amount=layer.amount, material=product.materials[layer.material].name,
                )
                for layer in colour.layers
            ],
        ),
        "maker": _maker(product),
        "word": {name: product.in_two(word) for name, word in statements.LABEL_WORDS.items()},
        "lot": claim.lot,
        "old_code": subject.old_code,
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
        country=who.country, site=who.site, email=who.email, phone=who.phone, logo=who.logo,
        address=", ".join(filter(None, (who.street, who.city, town))),
    )  # fmt: skip


# ----------------------------------------------------------------------------
# What accounts for the words of a piece.


class Accounts:
    """The phrases that a piece may bear, without their spaces."""

    def __init__(self, subject: CheckedProduct) -> None:
        self._subject = subject
        self._laid_out: dict[str, list[_Packed]] = {}

    @cached_property
    def own(self) -> list[_Packed]:
        """Those of its product, its maker, and what has to be said of it."""
        return _packed_all(_own_phrases(self._subject))

    def of(self, name: str, template: Template) -> list[_Packed]:
        """Return those that a layout prints of it."""
        if name not in self._laid_out:
            prices = _price_texts(self._subject.product)
            self._laid_out[name] = _packed_all(
                text.replace(_PRICE, price) if _PRICE in text else text
                for text in self.printed(template)
                for price in (prices if _PRICE in text else [""])
            )
        return self._laid_out[name]

    def printed(self, template: Template) -> list[str]:
        """Return the texts that a layout prints of it, in colour and in black."""
        return [text for facts in self._facts for text in _filled_in(template, facts)]

    @cached_property
    def _facts(self) -> list[dict[str, Any]]:
        return [_facts(self._subject, black) for black in (False, True)]


def _accounts_of(subject: CheckedProduct) -> Accounts:
    if subject.accounts is None:
        subject.accounts = Accounts(subject)
    return cast("Accounts", subject.accounts)


def _packed_all(texts: Iterable[str]) -> list[_Packed]:
    return list({each.text: each for each in map(pack, texts) if each.text}.values())


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
        yield from (form.plain for form in (*said.satisfying, *said.expired))
    yield from filter(None, (
        product.sku, product.name, pattern.name, colour.name, pattern.kind, pattern.story,
        pattern.care, product.note, colour.note, product.hook.name, product.hook.finish,
        product.head.name, product.alloy.name, product.guard and product.guard.name,
        product.weight.oz_text, product.weight.g_text, subject.claim.lot, subject.old_code,
        statements.identity(product, subject.markets), statements.address(product, subject.markets),
        who.name, who.street, who.city, who.site, who.email, who.phone,
    ))  # fmt: skip
    for word in (pattern.name, colour.name, pattern.kind):
        yield product.in_two(word)
    for part in product.parts:
        yield from (statements.part_name(product, part), part.product.name)
        yield from (part.product.pattern.name, part.product.colour.name, part.product.pattern.kind)
    for each in (product, *(part.product for part in product.parts)):
        for layer in each.colour.layers:
            yield from (layer.shade, each.materials[layer.material].name)
            yield from filter(None, (layer.amount,))
    if product.gtin:
        yield from (product.gtin, as_14(product.gtin))


# ----------------------------------------------------------------------------
# What is accounted for on a side, and what is not.


@dataclass(slots=True)
class _Stretch:
    """Words that nothing accounts for."""

    text: str
    box: Box
    after: str
    """The word before figures, which tells what they are."""


def _covered(whole: _Packed, phrases: Sequence[_Packed]) -> bytearray:
    """Mark the letters that whole phrases account for."""
    marks = bytearray(len(whole.text))
    for phrase, *_ in phrases:
        at = whole.text.find(phrase)
        while at >= 0:
            end = at + len(phrase)
            if whole.edges[at] and whole.edges[end]:
                marks[at:end] = b"\x01" * len(phrase)
            at = whole.text.find(phrase, at + 1)
    return marks


def _covered_by(passages: Sequence[TextPassage], phrases: Sequence[_Packed]) -> set[int]:
    """Return the identities of the glyphs that whole phrases account for."""
    found: set[int] = set()
    for passage in passages:
        whole = pack(passage.text)
        marks = _covered(whole, phrases)
        found.update(id(passage.glyphs[at]) for at in compress(whole.at, marks))
    return found


def _told(side: SeenSide, phrases: Sequence[_Packed]) -> set[int]:
    """Return the identities of the glyphs on a side that whole phrases account for.

    Where letters are hidden, what is left of their lines is accounted for only as it is read.
    """
    told = _covered_by(side.passages, phrases)
    if side.written is not side.passages:
        seen = {id(glyph) for glyph in side.seen}
        torn = {
            id(glyph)
            for passage in side.written
            for line in passage.lines
            if any(g is not None and g.area and id(g) not in seen for g in line.glyphs)
            for glyph in line.glyphs
        }
        told |= _covered_by(side.written, phrases) - torn
    return told


def _left(lines: Sequence[TextLine], phrases: Sequence[_Packed], told: set[int]) -> list[_Stretch]:
    """Return the stretches of words that nothing accounts for, ``phrases`` in parts neither."""
    found = stretches(lines, told)
    if found and phrases and find_in_runs(runs_of(lines, told), phrases, told):
        found = stretches(lines, told)
    return found


def stretches(lines: Sequence[TextLine], told: Set[int]) -> list[_Stretch]:
    """Return the runs of words, line by line, whose glyphs are not among those ``told``."""
    found: dict[frozenset[int], _Stretch] = {}
    for line in lines:
        for first, end in unknown_parts(line, told):
            mine = [g for g in line.glyphs[first:end] if g is not None and g.area]
            said, before = line.text[first:end], line.text[:first].split()
            after = before[-1] if before and said[0].isdigit() else ""
            if mine:
                box = union([glyph.box for glyph in mine])
                found.setdefault(frozenset(map(id, mine)), _Stretch(said, box, after))
    return list(found.values())


def unknown_parts(line: TextLine, told: Set[int]) -> Iterator[tuple[int, int]]:
    """Yield from which letter of a line to which words stand that nothing accounts for."""
    left = line.saying - told
    first, last = -1, -1
    for hit in re.finditer(r"\S+", line.text) if left else ():
        if any(id(glyph) in left for glyph in line.glyphs[hit.start() : hit.end()]):
            first, last = (hit.start() if first < 0 else first), hit.end()
        elif first >= 0:
            yield first, last
            first = -1
    if first >= 0:
        yield first, last


Run = tuple[Sequence[Glyph | None], _Packed]
"""A line's glyphs, or some of them, and their letters."""


def runs_of(lines: Iterable[TextLine], told: Set[int]) -> list[Run]:
    """Return the lines that are not all accounted for, each as a whole, and what of it is not."""
    runs: list[Run] = []
    for line in lines:
        spans = list(unknown_parts(line, told))
        for first, end in [(0, len(line.text)), *spans] if spans else ():
            runs.append((line.glyphs[first:end], pack(line.text[first:end])))
    return runs


def find_in_runs(runs: Sequence[Run], phrases: Iterable[_Packed], told: set[int]) -> bool:
    """Note what accounts for a phrase that runs make up between them; tell whether any does.

    A phrase that runs around something else is not read as one. It stands there if it can be put
    together from whole lines, or from what of a line nothing else accounts for, and none of it is
    missing.
    """
    before = len(told)
    begins = {
        whole.text[at:] for _, whole in runs for at in range(len(whole.text)) if whole.edges[at]
    }
    any_begin = tuple(begins)
    for phrase in phrases:
        if not phrase.text.startswith(any_begin):  # as most phrases
            continue
        ends = (at for at, edge in enumerate(phrase.edges) if edge and at)
        if any(phrase.text[:end] in begins for end in ends):
            told.update(map(id, _parts(phrase, runs)))
    return len(told) > before


def _parts(phrase: _Packed, runs: Sequence[Run]) -> list[Glyph | None]:
    """Return the glyphs that make up a phrase; nothing where any of it is missing."""
    at, glyphs = 0, list[Glyph | None]()
    while at < len(phrase.text):
        part = next(_next_part(phrase, at, runs), None)
        if part is None:
            return []
        at += len(part)
        glyphs += part
    return glyphs


def _next_part(phrase: _Packed, at: int, runs: Sequence[Run]) -> Iterator[list[Glyph | None]]:
    """Yield what goes on with a phrase from one of its letters.

    That is all of a run, the end of one where the phrase begins, or the beginning of one where it
    ends.
    """
    text, rest = phrase.text, phrase.text[at:]
    for glyphs, whole in runs:
        if whole.text and text.startswith(whole.text, at) and phrase.edges[at + len(whole.text)]:
            yield [glyphs[each] for each in whole.at]
    for glyphs, whole in runs:
        if at and whole.text.startswith(rest) and whole.edges[len(rest)]:
            yield [glyphs[each] for each in whole.at[: len(rest)]]
        for first in range(1, len(whole.text)) if not at else ():
            end = len(whole.text) - first
            if whole.edges[first] and text.startswith(whole.text[first:]) and phrase.edges[end]:
                yield [glyphs[each] for each in whole.at[first:]]
                break


def _figures_of_bars(side: SeenSide) -> Iterator[int]:
    """Yield the identities of the figures that stand at retail bars and are those of the bars."""
    for code in side.all_codes:
        near = grown(code.box, _FIGURES_NEAR * code.module)
        rows: dict[tuple[int, int], list[TextLine]] = {}
        for line in side.lines:
            if packed(line.text).isdecimal() and overlaps(line.box, near):
                rows.setdefault((line.angle, round(line.base)), []).append(line)
        for row in rows.values():
            row.sort(key=lambda line: line.start)
            said = "".join(packed(line.text) for line in row)
            if code.text.isdecimal() and said.zfill(14) == code.text.zfill(14):
                yield from (id(glyph) for line in row for glyph in line.glyphs)


_FIGURES_NEAR = 12
"""Modules: the first figure stands in the quiet zone of eleven. Source: GS1 General Specifications,
5.2.1, as restated at foreignpharmacystore.com/industry_news/1014.html."""


def _shelf_of(subject: CheckedProduct) -> CompiledLayouts:
    """Return the layouts that may account for a piece, looked up once a check."""
    if subject.shelf.found is None:
        subject.shelf.found = layouts(subject.shelf.maker_folder)
    return cast("CompiledLayouts", subject.shelf.found)


def find_unaccounted(
    side: SeenSide, subject: CheckedProduct, told: Sequence[Box] = ()
) -> list[_Stretch]:
    """Return the words on a side that no layout and nothing in the catalog accounts for.

    Args:
        side: one side of a piece.
        subject: what the piece has to be.
        told: places of words that are accounted for already.
    """
    if not side.passages:
        return []
    accounts, shelf = _accounts_of(subject), _shelf_of(subject)
    known = {
        *_figures_of_bars(side),
        *(id(g) for g in side.inked for box in told if _mostly(g.box, box)),
        *_told(side, accounts.own),
    }
    best: list[_Stretch] | None = None
    suits: list[_Packed] = []
    for name in sorted(shelf.names, key=lambda name: (name != subject.claim.layout, name)):
        template = shelf.template(name)
        if template is None:
            continue
        phrases = accounts.of(name, template)
        left = _left(side.lines, [*phrases, *accounts.own], known | _told(side, phrases))
        if best is None or sum(len(each.text) for each in left) < sum(len(b.text) for b in best):
            best, suits = left, phrases
        if not left:
            return []
    known |= _told(side, suits) | _sentences(side, subject)
    return _left(side.lines, [*suits, *accounts.own], known)


def _sentences(side: SeenSide, subject: CheckedProduct) -> set[int]:
    """Return the glyphs of whole sentences of a text of which others differ.

    So a wrong letter in a story is told where it stands, not as all of the story.
    """
    product, found = subject.product, set[int]()
    of = product.pattern
    for text in filter(None, (of.story, of.care, product.note, product.colour.note)):
        parts = [pack(part) for part in re.split(r"(?<=[.!?])\s+", text)]
        there = [part for part in parts if _covered_by(side.passages, [part])]
        if _ENOUGH * sum(len(each.text) for each in parts) <= sum(len(p.text) for p in there):
            found |= _covered_by(side.passages, there)
    return found


_ENOUGH = 1 / 3
"""Of a text's letters: with less it is not that text any more. The house's judgement."""


_TOLD_BY = frozenset({
    "weight-wrong", "weight-rounded-up", "gtin-wrong", "lot-wrong", "price-wrong", "hook-wrong",
    "quantity-wrong", "piece-other-product",
})  # fmt: skip
"""Rules that ring a wrong fact; the same words are not told twice, those beside them are."""


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
    for stretch in find_unaccounted(side, subject, boxes):
        place, said = side.place(stretch.box), f"“{stretch.text}”"
        whole = statements.folded(f"{stretch.after} {stretch.text}")
        facts, agree = stated.facts_in(whole, subject.product, noun)
        if other := others_fact(stretch.text, sold):
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


def others_fact(text: str, sold: ProductLine) -> str:
    """Return another product's name, kind, hook, finish or SKU that stands in the words."""
    whole = pack(text)
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
                product.hook.name, product.hook.finish or product.hook.name,
            ):  # fmt: skip
                if name:
                    found[packed(name)] = name
        sold.kept["facts"] = found
    return cast("Mapping[str, str]", sold.kept["facts"])


# ----------------------------------------------------------------------------
# What is no type, but may speak as type does: pictures, and letters drawn as shapes.


@asks("picture-unaccounted", "letters-drawn")
def wordless(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield the pictures and rows of letters in outlines that nothing accounts for."""
    held = [each.box for each in side.pictures]
    held += [shape.box for shape in side.shapes if shape.filled and shape.fill is None]
    if held and not subject.product.photo and not _shelf_of(subject).pictured:
        # A code is read and judged whatever it is drawn as.
        held = [box for box in held if not any(_mostly(box, c.box) for c in side.all_codes)]
        if logo := subject.product.maker.logo:
            due: list[Path | bytes] = [
                (subject.shelf.maker_folder or Path()) / PHOTOS / logo,
                *subject.pictures,
            ]
            held = [
                box for box in held
                if not any(alike(side.raster.grey(box), each) for each in due)
            ]  # fmt: skip
        if held:
            yield finding("picture-unaccounted", side.place(union(held)))
    row = _row_of_letters([box for shape in side.shapes for box in _letters_of(shape)])
    if row:
        yield finding("letters-drawn", side.place(union(row)), found=f"{len(row)} shapes in a row")


def _letters_of(shape: PaintedPath) -> Iterator[Box]:
    """Yield the boxes of what may be letters in a path: of each contour, if it has many."""
    if not shape.filled or set(shape.kinds) == {"r"} or shape.visible is None:
        return
    if shape.kinds.count("m") < _ROW:
        yield shape.box
        return
    if shape.kinds.count("m") > _LONGEST_WORD:
        return
    a, b, c, d, e, f = shape.matrix
    x, y = np.array(shape.numbers, np.float64).reshape(-1, 2).T
    spots = np.array([a * x + c * y + e, b * x + d * y + f])
    taken = [_POINTS[kind] for kind in shape.kinds]
    begin = [at for at, kind in zip(accumulate(taken, initial=0), shape.kinds, strict=False)
             if kind == "m"]  # fmt: skip
    low, high = (reduce.reduceat(spots, begin, axis=1).T for reduce in (np.minimum, np.maximum))
    inside = (low[:, None] >= low).all(axis=2) & (high[:, None] <= high).all(axis=2)
    inner = inside.sum(axis=1) > 1
    for (left, top), (right, bottom) in zip(
        low[~inner].tolist(), high[~inner].tolist(), strict=True
    ):
        yield left, top, right, bottom


_POINTS = {"m": 1, "l": 1, "c": 3, "r": 2, "h": 0}
"""How many points each step of a path takes."""

_LONGEST_WORD = 60
"""Parts of a path that has more are no letters of a word."""


def _row_of_letters(boxes: Sequence[Box]) -> list[Box]:
    """Return shapes that stand on one line as letters do, side by side and about as high."""
    low, high = number("letters-drawn"), 72.0
    feet = sorted((b for b in boxes if low <= b[3] - b[1] <= high), key=lambda box: box[3])
    for at, first in enumerate(feet):
        tall = first[3] - first[1]
        level = [first]
        for other in feet[at + 1 :]:
            if other[3] - first[3] > _LEVEL * tall:
                break
            if 0.6 < (other[3] - other[1]) / tall < 1.7 and other[2] - other[0] < 1.5 * tall:
                level.append(other)
        row: list[Box] = []
        for box in sorted(level) if len(level) >= _ROW else ():
            gap = box[0] - row[-1][2] if row else 0.0
            if not -_LEVEL * tall < gap < 0.6 * tall:
                row = []
            row.append(box)
            broad = sum(b[2] - b[0] for b in row) > 0.3 * tall * len(row)
            if len(row) >= _ROW and broad:
                return row
    return []


_ROW = 4
"""So many shapes in a row are a word. The house's judgement."""

_LEVEL = 0.03
"""Of their height: letters stand no further apart in height, round ones reach below the line."""
