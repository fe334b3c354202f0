"""Every word of a book's pages is explained by its edition, or it is told; and none is missing.

A leaf is held against the words of its own chapter, and what stands in a row, beside a code or on
the order form against the words of its own products alone: a price or a warning explains nothing
where another product stands. All that is written counts, whether an eye sees it or not.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from labeler.catalog.model import Product
from labeler.checker.claims import ProductLine
from labeler.checker.page.book_page import SeenPage, SeenPlace
from labeler.checker.page.elements import Glyph
from labeler.checker.page.text import TextLine, TextPassage, lines_in
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules import stated, words
from labeler.checker.rules.edition import Chapter, Due, EditionWords, Grid, as_plated
from labeler.checker.rules.edition import said as book_words
from labeler.checker.rules.retail import DealersMatters
from labeler.checker.rules.words import packed
from labeler.disclosures.statements import folded
from labeler.findings import Finding, Grade, Place
from labeler.geometry import Box, contains_point, grown, union

_TOLD_BY = frozenset({
    "weight-wrong", "weight-rounded-up", "gtin-wrong", "price-wrong", "price-unnamed", "hook-wrong",
    "price-stray", "price-date-wrong", "price-currency", "margin-wrong", "quantity-wrong",
    "tier-wrong", "retail-dealer-price", "page-number-wrong", "market-wrong", "words-moved",
})  # fmt: skip
"""Rules that tell a wrong word by its place; the same word is not told twice."""

_BY_WORDS = frozenset({
    "weight-wrong", "weight-rounded-up", "hook-wrong", "price-stray", "retail-dealer-price",
    "retail-dealer-named",
})  # fmt: skip
"""Rules that know no names: what stands somewhere as the edition has it there breaks none."""
_PARTS = ("heads", "entry", "code", "order", "sizes", "shades", "index", "list", "priced")


@dataclass(frozen=True, slots=True)
class WordsFound:
    """Where some words stand: the box around them, and the baseline of the first."""

    box: Box
    base: float
    size: float
    glyphs: tuple[Glyph, ...]


class Written:
    """All that is written in a place, seen or not: what of it is explained, and what is not.

    What lies in ``within`` is asked of the places there, not here.
    """

    def __init__(self, passages: Sequence[TextPassage], within: Sequence[Box] = ()) -> None:
        self._within = within
        self._packs = [(each, words.pack(each.text)) for each in passages]
        self._told: set[int] = set()
        self._runs: tuple[int, list[words.Run]] = (-1, [])
        self._parts: tuple[int, list[tuple[str, list[Glyph | None]]]] = (-1, [])

    @cached_property
    def text(self) -> str:
        """All of it, passage after passage, without spaces."""
        return "\n".join(whole.text for _, whole in self._packs)

    def find(self, phrase: str) -> list[WordsFound]:
        """Return where a phrase stands as whole words, and take it for explained."""
        found = {}
        for passage, whole in self._packs:
            at = whole.text.find(phrase)
            while at >= 0 and phrase:
                end = at + len(phrase)
                if whole.edges[at] and whole.edges[end]:
                    glyphs = [passage.glyphs[place] for place in whole.at[at:end]]
                    mine = [each for each in glyphs if each is not None]
                    self._told.update(map(id, mine))
                    inked = [each for each in mine if each.area]
                    if inked:
                        key = id(inked[0]), id(inked[-1])
                        box = union([each.box for each in inked])
                        lead = max(inked[:_FRACTION], key=lambda glyph: glyph.size)
                        found[key] = WordsFound(box, lead.y, lead.size, tuple(mine))
                at = whole.text.find(phrase, at + 1)
        return list(found.values())

    def explains(self, glyph: Glyph) -> bool:
        """Tell whether a glyph was explained."""
        return id(glyph) in self._told

    def explain(self, glyphs: Iterable[Glyph | None]) -> None:
        """Take glyphs for explained."""
        self._told.update(id(each) for each in glyphs if each is not None)

    def left(self, phrases: Sequence[str] = ()) -> list[tuple[str, Box]]:
        """Return the stretches of words that nothing explains.

        One of ``phrases`` whose lines run beside other cells is not read as one, and so is put
        together from what is left.
        """
        found = words.stretches(self.lines, self._told)
        if found and self.in_parts(phrases):
            found = words.stretches(self.lines, self._told)
        return [(each.text, each.box) for each in found if not _lies(each.box, self._within)]

    def in_parts(self, phrases: Sequence[str]) -> bool:
        """Take phrases for explained that lines make up between them; tell whether any does.

        Signs between words are left out where they stand alone: they are never looked for.
        """
        if not phrases:
            return False
        if self._runs[0] != len(self._told):  # which only grows
            self._runs = len(self._told), words.runs_of(self.lines, self._told)
        found = words.find_in_runs(self._runs[1], map(words.pack, phrases), self._told)
        if self._parts[0] != len(self._told):
            parts = [
                (_letters(line.text[first:end]), line.glyphs[first:end])
                for line in self.lines for first, end in words.unknown_parts(line, self._told)
            ]  # fmt: skip
            self._parts = len(self._told), [part for part in parts if part[0]]
        parts = self._parts[1]
        for phrase in phrases if parts else ():
            rest, used = _letters(phrase), list[int]()
            while rest:
                fit = [n for n, (t, _) in enumerate(parts) if n not in used and rest.startswith(t)]
                if not fit:
                    break
                used.append(max(fit, key=lambda number: len(parts[number][0])))
                rest = rest[len(parts[used[-1]][0]) :]
            if used and not rest:
                found = True
                for number in used:
                    self.explain(parts[number][1])
        return found

    @cached_property
    def lines(self) -> list[TextLine]:
        """Its lines, each once, but for those that all lie within another place."""
        return [
            line for line in lines_in(passage for passage, _ in self._packs)
            if not any(_lies(line.box, [b]) and b[0] <= line.start <= line.end <= b[2]
                       for b in self._within)
        ]  # fmt: skip


def _ringed(one: Finding) -> list[Box]:
    """Return what a finding tells of by its place; nothing, where that is what is missing."""
    box = one.place.box if one.rule in _TOLD_BY and one.found != "none" else None
    return [box] if box else []


def _of_these(texts: Sequence[str], place: SeenPlace) -> Written:
    """Return what is written in a place, with these texts explained and nothing else."""
    written = Written(place.written)
    for text in texts:
        written.find(packed(text))
    return written


def _letters(text: str) -> str:
    return "".join(filter(str.isalnum, packed(text)))


_FRACTION = 4
"""Letters within which one stands on the baseline: the figures of a built fraction are smaller."""


# ----------------------------------------------------------------------------
# What is said about words that nothing explains.

_AGAIN = "Make the book again from its catalog; what it is to say belongs there."


@dataclass(frozen=True)
class Judge:
    """Tells how grave it is that something stands in a book that its edition does not explain."""

    sold: ProductLine
    product: Product
    noun: str
    matters: DealersMatters | None

    @asks("words-unaccounted", "fact-unaccounted", "retail-dealer-price", "retail-dealer-named")
    def told(
        self, text: str, place: Place, where: str = "", label: str = "", due: str = ""
    ) -> Iterator[Finding]:
        """Yield what is to be said of words: a *stop* where they state a fact, else a *fix*.

        Args:
            text: the words.
            place: where they stand.
            where: the same in words, for what stands on no page.
            label: what they stand beside, which tells what they are about.
            due: what the edition says there in other figures, if it does.
        """
        said = f"“{text[:120]}”{where}"
        if self.matters is not None:
            if prices := self.matters.bare_prices_in(text):
                yield finding("retail-dealer-price", place, found=f"{prices[0]} in {said}")
                return
            if name := self.matters.named_in(text):
                yield finding("retail-dealer-named", place, found=f"{name} in {said}")
        plain = folded(f"{label} {text}")
        facts, _ = stated.facts_in(plain, self.product, self.noun)
        retired = next((word for word in plain.split() if word in self.sold.retired), "")
        if other := words.others_fact(text, self.sold) or retired:
            facts = [f"a product: {other}", *facts]
        facts = facts or (["a currency"] if self._in_other_money(text) else [])
        if due and not facts:
            facts = ["other figures than the edition's"]
        expected = due and f"“{due[:160]}”"
        if facts:
            yield finding(
                "fact-unaccounted", place, found=said, expected=expected, hint=_AGAIN,
                message=f"words that the edition does not list state {' and '.join(facts[:3])}",
            )  # fmt: skip
        else:
            yield finding(
                "words-unaccounted", place, found=said, expected=expected, hint=_AGAIN,
                message="the edition does not list these words",
            )  # fmt: skip

    def _in_other_money(self, text: str) -> bool:
        signs = stated.known()["signs"]
        codes = (word.strip(".,;:").casefold() for word in text.split() if word.isupper())
        return any(self.product.currency not in signs.get(code, (self.product.currency,))
                   for code in codes)  # fmt: skip


# ----------------------------------------------------------------------------
# The leaves.


@dataclass
class ChapterSeen:
    """What of a chapter was found, and on which leaves."""

    place: Place
    first: int
    found: set[Due] = field(default_factory=set)
    moved: dict[Due, tuple[str, Place]] = field(default_factory=dict)
    """What stands beside another label than its own."""


@dataclass(frozen=True, slots=True)
class Numbered:
    """A number of a page that stands in contents or index, and the words before it."""

    anchor: str
    said: str
    place: Place


@dataclass
class BookWords:
    """All words of one book, leaf after leaf."""

    edition: EditionWords
    judge: Judge
    standings: dict[str, ChapterSeen] = field(default_factory=dict)
    numbers: list[Numbered] = field(default_factory=list)
    """What contents and index say; on which page a chapter begins is known in the end."""
    row_pages: dict[str, set[int]] = field(default_factory=dict)
    """On which leaves each SKU's row stands."""
    lines: list[tuple[tuple[str, ...], Place, str]] = field(default_factory=list)
    """The lines of indexes that lead to prices: SKUs, where it stands, and all that it says."""
    indexed: dict[str, tuple[Place, set[str]]] = field(default_factory=dict)
    """Which patterns stand beside a color in the index, and where its first line is."""
    shades: list[tuple[str, Numbered]] = field(default_factory=list)
    """The lines of the color index, each with its color's name."""
    written: dict[int, str] = field(default_factory=dict)
    """All that is written on each page of the file, in its simplest form."""
    here: dict[int, Written] = field(default_factory=dict)
    """What of each place on the latest page is explained, by the place's identity."""

    def on(
        self, leaf: SeenPlace, inner: Sequence[SeenPlace], number: int, last: int,
        told: Sequence[Finding],
    ) -> Iterator[Finding]:  # fmt: skip
        """Yield what is wrong with the words of one leaf.

        Args:
            leaf: the leaf.
            inner: the places on it: heads, entries, codes, rows of the order form.
            number: the leaf's, from 1.
            last: how many there are.
            told: what was found on its page already.
        """
        page = leaf.about.page
        boxes = [box for each in told if each.place.page == page for box in _ringed(each)]
        own: list[Finding] = []
        for place in (each for each in inner if each.about.kind != "section"):
            written, phrases = Written(place.written), self._of(place)
            self.here[id(place)] = written
            for phrase in phrases:
                written.find(packed(phrase))
            own += self._left(written, place, boxes, phrases=phrases)
        within = [place.about.box for place in inner if place.about.kind != "section"]
        written = Written(leaf.written, within)
        self.here[id(leaf)] = written
        self.written[page] = self.written.get(page, "") + written.text
        chapters = [
            (anchor, each) for anchor in self._chapters_of(leaf, inner, number, last)
            if (each := self.edition.chapters.get(anchor)) is not None
        ]  # fmt: skip
        sections = {each.about.pattern: each.about.box for each in inner}
        for anchor, chapter in chapters:
            standing = self.standings.setdefault(anchor, ChapterSeen(leaf.place(), number))
            if number < standing.first:  # a booklet's leaves come as they lie on its sheets
                standing.place, standing.first = leaf.place(), number
            _look_for(chapter, written, standing, leaf)
            own += self._more(anchor, leaf, written, sections.get(anchor, leaf.about.box))
        for anchor, chapter in chapters:
            _look_in_parts(chapter, written, self.standings[anchor])
        if leaf.about.kind == "pattern":
            own += _plate(self.edition, leaf, within)
        opened = number == 1 and not self.edition.claim.prices
        if not opened and (number != last or not self.edition.backed):
            own += _folio(leaf, written, number)
        boxes += [box for each in own for box in _ringed(each)]
        yield from own
        dues = tuple(due for _, each in chapters for due in each.dues)
        both = Chapter("", dues) if chapters else None
        yield from self._left(written, leaf, boxes, chapter=both)

    def weighed(self, one: Finding, page: SeenPage) -> Iterator[Finding]:
        """Yield a finding of the latest page, unless what it rings is due there and is a name.

        A color may be called $2.95, a pattern as a dealer is, a hook Hook 12. What a story or the
        terms say of dealers, word for word as the catalog has it, is the maker's to judge: a note.
        What is computed excuses nothing: it may be computed wrongly here as well.
        """
        box = one.place.box if one.rule in _BY_WORDS else None
        leaf = page.within(box, "page", "pattern") if box else None
        glyphs = [g for g in leaf.glyphs if g.area and _lies(g.box, [box])] if leaf and box else []
        here = [(g, page.within(g.box, *_PARTS) or leaf) for g in glyphs]
        written = [(g, self.here.get(id(place))) for g, place in here]
        if not glyphs or not all(known and known.explains(g) for g, known in written):
            yield one
            return
        named, own = (
            [bool(place and _of_these(texts, place).explains(g)) for g, place in here]
            for texts in (self.edition.names, self.edition.own_words)
        )
        if one.rule.startswith("retail") and not all(named):
            yield replace(one, grade=Grade.NOTE)
        elif not any(named) and not any(own):
            yield one

    def _of(self, place: SeenPlace) -> list[str]:
        """Return what a place on a leaf may say."""
        edition, skus = self.edition, place.about.skus
        here = [edition.by_sku[sku] for sku in skus if sku in edition.by_sku]
        if place.about.kind == "heads":
            texts = edition.heads
        elif place.about.kind == "entry":
            texts = edition.entry(here)
        elif place.about.kind in ("list", "priced"):
            texts = edition.listed(here) if here else []
        elif place.about.kind == "index":
            says = "".join(packed(each.text) for each in place.lines)
            self.lines.append((place.about.skus, place.place(), says))
            numbers = "".join(filter(str.isdigit, place.lines[-1].text[-4:])) if place.lines else ""
            texts = edition.indexed(here[0], [int(numbers or 0)]) if here else []
        elif place.about.kind == "shades":
            texts = [edition.shaded(subject) for subject in here]
        elif place.about.kind == "sizes":
            texts = [edition.graded(subject) for subject in here]
        else:
            write = edition.code if place.about.kind == "code" else edition.ordered
            texts = [text for subject in here for text in write(subject)]
        return list(texts)

    def _left(
        self, written: Written, place: SeenPlace, boxes: Sequence[Box],
        phrases: Sequence[str] = (), chapter: Chapter | None = None,
    ) -> Iterator[Finding]:  # fmt: skip
        """Yield what is to be said of words that nothing explains; ``boxes`` were told already."""
        for text, box in written.left(phrases):
            if not _lies(box, [grown(each, 1.0) for each in boxes]):
                label, due = _meant(text, box, written, chapter) if chapter else ("", "")
                yield from self.judge.told(text, place.place(box), "", label, due)

    def _chapters_of(
        self, leaf: SeenPlace, inner: Sequence[SeenPlace], number: int, last: int
    ) -> Iterator[str]:
        """Yield the chapters that share a leaf, as the book's sheet says."""
        if self.edition.claim.prices:
            pass
        elif number == 1:
            yield "cover"
        elif number == last and self.edition.backed:
            yield "back"
        elif leaf.about.kind == "pattern":
            yield f"pattern-{leaf.about.pattern}"
        yield from (each.about.pattern for each in inner if each.about.kind == "section")

    def _more(self, anchor: str, leaf: SeenPlace, written: Written, part: Box) -> Iterator[Finding]:
        if anchor == "contents":
            self.numbers += _contents(self.edition, leaf, written)
        elif anchor == "colors":
            self._index(leaf, written, part)
        elif anchor == "markets":
            yield from self._table(leaf, written, part)
        elif anchor == "codes":
            for pattern in self.edition.patterns.values():
                written.find(packed(pattern.name + book_words()["rows"]["continued"]))
        elif anchor == "order":
            written.find(packed(book_words()["rows"]["continued"]))

    @asks("market-wrong")
    def _table(self, leaf: SeenPlace, written: Written, part: Box) -> Iterator[Finding]:
        """Yield the cells that do not say what the rules of their place come to."""
        grid, standing = self.edition.grid, self.standings["markets"]
        upright = (each for each in _upright(leaf) if part[1] <= each.base <= part[3])
        ordered = sorted(upright, key=lambda each: each.base)
        head_says = packed(book_words()["markets"]["pattern"])
        top = []
        for head in (each for each in ordered if packed(each.text) == head_says):
            level = [each for each in ordered if abs(each.base - head.base) < _LEVEL * head.size]
            if columns := sorted((g.x, code) for each in level for g, code in _heads(each, grid)):
                top.append((head, columns))  # else it is a pattern that is called so
        for at, (head, columns) in enumerate(top):
            foot = top[at + 1][0].base if at + 1 < len(top) else part[3]
            below = [each for each in ordered if head.base + 1 < each.base < foot - 1]
            rows = _rows(grid, below, head.start, columns)
            glyphs = [glyph for each in below for glyph in each.glyphs if glyph is not None]
            for (name, cells), first, last in rows:
                band = [g for g in glyphs if first - _NEAR <= g.y < last - _NEAR]
                standing.found.add(Due((name,)))
                written.explain(g for g in band if head.start - 1 <= g.x < columns[0][0] - 1)
                for place, (x, code) in enumerate(columns):
                    end = columns[place + 1][0] if place + 1 < len(columns) else leaf.about.box[2]
                    mine = [g for g in band if x - 1 <= g.x < end - 1]
                    mine.sort(key=lambda glyph: (round(glyph.y), glyph.x))
                    text = packed("".join(glyph.reads for glyph in mine))
                    written.explain(mine)
                    at_code = grid.heads.index(code)  # patterns may be called alike
                    alike = {packed(row[at_code]) for each, row in grid.rows if each == name}
                    if text not in alike:
                        due = cells[at_code]
                        yield finding(
                            "market-wrong", leaf.place(_around(mine)),
                            found=f"“{''.join(g.reads for g in mine)}” for {name} in {code}",
                            expected=due,
                        )  # fmt: skip

    def _index(self, leaf: SeenPlace, written: Written, part: Box) -> None:
        """Note which patterns stand beside each color of the index; colors may be called alike."""
        left, top, right, foot = part
        spots = [
            (spot, packed(name)) for name in self.edition.colours
            for spot in written.find(packed(name))
            if spot.box[0] < left + _INDEX * (right - left)
            and top < spot.base < foot
        ]  # fmt: skip
        parts = [(set(map(id, spot.glyphs)), spot, name) for spot, name in spots]
        whole = {
            spot.base: (spot, name) for glyphs, spot, name in parts
            if not any(glyphs < other for other, _, _ in parts)
        }  # fmt: skip
        entries = [
            each for each in _numbered_lines(self.edition, leaf, written) if top < each[1] < foot
        ]
        bases = sorted(whole)
        for base, end in zip(bases, [*bases[1:], foot], strict=False):
            spot, name = whole[base]
            _, found = self.indexed.setdefault(name, (leaf.place(spot.box), set()))
            mine = [entry for entry, y in entries if base - _NEAR <= y < end - _NEAR]
            found.update(each.anchor for each in mine)
            self.shades += [(name, each) for each in mine]

    @asks("index-wrong")
    def _misindexed(self) -> Iterator[Finding]:
        """Yield that a pattern stands beside a color that it does not come in, or fails to."""
        due: dict[str, set[str]] = {}
        for name, codes in self.edition.colours.items():
            due.setdefault(packed(name), set()).update(f"pattern-{code}" for code in codes)
        for name, (place, found) in self.indexed.items():
            if self._titles(found) != self._titles(due[name]):
                named = [self.edition.chapters[each].title for each in sorted(found ^ due[name])]
                yield finding("index-wrong", place, found=", ".join(named))

    @asks("page-number-wrong", "index-missing")
    def _mislead(self) -> Iterator[Finding]:
        """Yield the lines of the indexes that do not name the page of a price that they lead to.

        Colors and patterns may be called alike: any of theirs will do.
        """
        by_sku, reached = self.edition.by_sku, set[str]()
        for name, each in self.shades:
            title = self.edition.chapters[each.anchor].title
            due = {
                str(page) for sku, subject in by_sku.items()
                if packed(subject.product.colour.name) == name
                and subject.product.pattern.name == title
                for page in self.row_pages.get(sku, ())
            }  # fmt: skip
            if each.said not in due:
                yield finding(
                    "page-number-wrong", each.place, found=f"page {each.said or 'none'}",
                    expected=f"page {' or '.join(sorted(due)) or 'none'}",
                )  # fmt: skip
        for skus, place, text in self.lines:
            subjects = [by_sku[sku] for sku in skus if sku in by_sku]
            pages = [self.row_pages.get(each.product.sku, ()) for each in subjects]
            forms = [
                [packed(form) for form in self.edition.indexed(*each)]
                for each in zip(subjects, pages, strict=True)
            ]
            if forms and text in forms[0]:
                whole = text.startswith(packed(subjects[0].product.sku))
                reached |= {subjects[0].product.sku} if whole else set()
            else:
                right = " or ".join(sorted({str(page) for each in pages for page in each}))
                yield finding(
                    "page-number-wrong", place, found=f"“{text[:60]}”",
                    expected=f"page {right or 'none'}",
                )  # fmt: skip
        for sku in () if self.edition.slim or self.edition.claim.prices else by_sku:
            if sku not in reached:
                seen = self.standings.get("skus")
                where = seen.place if seen else Place()
                yield finding("index-missing", replace(where, piece=sku), expected=sku)

    @asks("spread-broken")
    def spreads(self) -> Iterator[Finding]:
        """Yield the patterns whose plate is on a right page."""
        for code in self.edition.by_pattern:
            seen = self.standings.get(f"pattern-{code}")
            if seen is not None and seen.first % 2:
                yield finding(
                    "spread-broken", seen.place, found=f"page {seen.first}",
                    expected="an even page",
                )  # fmt: skip

    def _titles(self, anchors: Iterable[str]) -> set[str]:
        return {self.edition.chapters[each].title for each in anchors}

    # ------------------------------------------------------------------------ the whole book

    @asks("page-number-wrong", "words-missing", "words-moved")
    def missing(self, place: Place) -> Iterator[Finding]:
        """Yield the wrong numbers of contents and index, and the words that no leaf has said."""
        yield from self._misindexed()
        yield from self._mislead()
        starts = {anchor: str(each.first) for anchor, each in self.standings.items()}
        titles = {anchor: each.title for anchor, each in self.edition.chapters.items()}
        for each in self.numbers:
            title = titles.get(each.anchor)  # patterns may be called alike
            if each.said not in {starts.get(a) for a, said in titles.items() if said == title}:
                yield finding(
                    "page-number-wrong", each.place, found=f"page {each.said or 'none'}",
                    expected=f"page {starts.get(each.anchor, 'none')}",
                )  # fmt: skip
        for anchor, chapter in self.edition.chapters.items():
            standing = self.standings.get(anchor)
            if standing is None:
                yield finding("words-missing", place, expected=f"“{chapter.dues[0].sample[:160]}”")
                continue
            for due in chapter.dues:
                if due not in standing.found:
                    yield _not_there(due, standing)


def _not_there(due: Due, standing: ChapterSeen) -> Finding:
    said = due.sample[:160]
    if due in standing.moved:
        label, place = standing.moved[due]
        return finding(
            "words-moved",
            place,
            found=f"“{said}” beside “{label}”",
            expected=f"beside “{due.label}”",
        )
    said = f"{due.label}: {said}" if due.label else said
    return finding("words-missing", standing.place, expected=f"“{said}”")


_INDEX = 0.46
"""The share of a leaf's width that lies left of the index's patterns, right of its colors."""
_NEAR = 4.0


def _look_for(chapter: Chapter, written: Written, standing: ChapterSeen, leaf: SeenPlace) -> None:
    """Look on a leaf for what its chapter has to say."""
    for text in chapter.more:
        written.find(packed(text))
    labels = {due.label: written.find(packed(due.label)) for due in chapter.dues if due.label}
    for due in chapter.dues:
        spots = [s for form in due.forms_in(written.text) for s in written.find(packed(form))]
        if spots and (not due.label or any(map(_beside(labels[due.label]), spots))):
            standing.found.add(due)
        elif spots:
            beside = (name for name, at in labels.items() if any(map(_beside(at), spots)))
            if label := next(beside, ""):
                standing.moved.setdefault(due, (label, leaf.place(spots[0].box)))


def _meant(text: str, box: Box, written: Written, chapter: Chapter) -> tuple[str, str]:
    """Return beside which label words stand, and what the chapter says there in other figures."""
    labels = {due.label: due for due in chapter.dues if due.label}
    left = [
        (spot.box[2], label) for label in labels for spot in written.find(packed(label))
        if spot.box[2] < box[0] and box[1] < spot.base < box[3] + 1
    ]  # fmt: skip
    label, figureless = max(left, default=(0.0, ""))[1], _figureless(text)
    if figureless == packed(text):
        return label, ""
    if label:
        return label, labels[label].sample
    forms = (form for due in chapter.dues for form in due.forms_in("1"))
    long = len(figureless) >= _ALIKE
    return "", next((form for form in forms if long and figureless in _figureless(form)), "")


_ALIKE = 5
"""Letters beside figures by which words are known again."""


def _figureless(text: str) -> str:
    return "".join(letter for letter in packed(text) if not letter.isdigit())


@asks("words-moved")
def _plate(edition: EditionWords, leaf: SeenPlace, within: Sequence[Box]) -> Iterator[Finding]:
    """Yield that the names below a pattern's figures stand in another order than the figures."""
    subjects = edition.by_pattern.get(leaf.about.pattern, ())
    colours = {colour.code: colour.name for colour in as_plated(subjects)}
    names = [packed(name) for name in colours.values()]
    shown = [
        each for each in _upright(leaf)
        if names.count(packed(each.text)) == 1
        and not any(contains_point(box, each.start + 1, each.base - 1) for box in within)
    ]  # fmt: skip
    large = 0.95 * max((each.size for each in shown), default=0.0)  # labels are set smaller
    levels = _by_baseline(each for each in shown if each.size >= large)
    shown = [line for level in levels for line in level]
    said = [packed(each.text) for each in shown]
    due = sorted(said, key=names.index)
    for line, name in zip(shown, due, strict=True):
        if packed(line.text) != name and len(set(said)) == len(said):
            expected = next(each for each in colours.values() if packed(each) == name)
            yield finding(
                "words-moved",
                leaf.place(line.box),
                found=f"“{line.text}”",
                expected=f"“{expected}”",
            )
            return


def _look_in_parts(chapter: Chapter, written: Written, standing: ChapterSeen) -> None:
    """Look for what runs on in another column, or around something else, and is not read as one."""
    more = book_words()["rows"]["continued"]
    for due in chapter.dues if written.left() else ():
        if due not in standing.found and written.in_parts(due.forms_in(written.text)):
            standing.found.add(due)
    if written.left():
        written.in_parts(
            [
                text + end
                for due in chapter.dues for text in due.forms_in(written.text) for end in ("", more)
            ]
        )  # fmt: skip


def _lies(box: Box, within: Sequence[Box]) -> bool:
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    return any(contains_point(each, x, y) for each in within)


def _beside(labels: Sequence[WordsFound]) -> Callable[[WordsFound], bool]:
    def is_beside(spot: WordsFound) -> bool:
        return any(
            abs(each.base - spot.base) < _LEVEL * spot.size and each.box[0] < spot.box[0]
            for each in labels
        )

    return is_beside


_LEVEL = 0.35
"""Words and their label stand on one baseline, give or take this share of the type size."""


@asks("page-number-wrong")
def _folio(leaf: SeenPlace, written: Written, number: int) -> Iterator[Finding]:
    """Yield that a leaf does not bear its number at its foot."""
    foot = leaf.about.box[3] - _FOOT
    folios = [
        each for each in written.lines if each.base > foot and each.text.strip() == str(number)
    ]
    for line in folios[:1]:
        written.explain(line.glyphs)
    if not folios:
        yield finding("page-number-wrong", leaf.place(), found="none", expected=f"page {number}")


_FOOT = 60.0


# ----------------------------------------------------------------------------
# Lines of contents and index, which end in the number of a page.


@dataclass(slots=True)
class _Level:
    """What stands on one baseline, from left to right, without its spaces."""

    base: float
    text: str
    glyphs: list[Glyph | None]
    edges: list[bool]


def _levels(leaf: SeenPlace, left: float = 0.0) -> list[_Level]:
    """Return what stands on each baseline of a leaf, right of ``left``, from the top."""
    found: list[_Level] = []
    for lines in _by_baseline(each for each in _upright(leaf) if each.start > left):
        level = _Level(lines[0].base, "", [], [])
        for line in lines:
            whole = words.pack(line.text)
            level.text += whole.text
            level.glyphs += [line.glyphs[place] for place in whole.at]
            level.edges += whole.edges[:-1]
        found.append(level)
    return found


def _upright(leaf: SeenPlace) -> list[TextLine]:
    """Return the lines of a leaf that run from left to right, seen or not."""
    return [line for line in lines_in(leaf.written) if line.angle == 0]


def _by_baseline(lines: Iterable[TextLine]) -> list[list[TextLine]]:
    """Return the lines on each baseline, from left to right; capitals may sit a hair lower."""
    levels: list[list[TextLine]] = []
    for line in sorted(lines, key=lambda each: each.base):
        if levels and line.base - levels[-1][0].base < _LEVEL * levels[-1][0].size:
            levels[-1].append(line)
        else:
            levels.append([line])
    return [sorted(level, key=lambda each: each.start) for level in levels]


def _ends_in(
    named: Iterable[tuple[str, str]], levels: Sequence[_Level]
) -> Iterator[tuple[str, str, float, list[Glyph | None]]]:
    """Yield each line that is a name and a number: whose, the number, where, and its glyphs.

    Args:
        named: chapters with what they are called there, in its simplest form.
        levels: what stands on each baseline; a name may go on from one to the next.
    """
    text = "".join(each.text for each in levels)
    ends, owners, total = [], [], 0
    for each in levels:
        total += len(each.text)
        ends += [total] * len(each.text)
        owners += [each] * len(each.text)
    edges = [edge for each in levels for edge in each.edges] + [True]
    glyphs = [glyph for each in levels for glyph in each.glyphs]
    taken = bytearray(len(text))
    for anchor, name in sorted(named, key=lambda each: -len(each[1])):
        at = text.find(name)
        while at >= 0 and name:
            end = at + len(name)
            number = text[end : ends[end - 1]]
            whole = edges[at] and not any(taken[at:end])
            if whole and number.isdecimal() and edges[end]:
                taken[at : end + len(number)] = b"\x01" * (end + len(number) - at)
                mine = glyphs[end : end + len(number)]
                yield anchor, number, owners[at].base, mine
            at = text.find(name, at + 1)


def _contents(edition: EditionWords, leaf: SeenPlace, written: Written) -> Iterator[Numbered]:
    named = [
        (f"pattern-{code}", packed(f"{pattern.name} {code} {pattern.kind}"))
        for code, pattern in edition.patterns.items()
    ]
    named += [(anchor, packed(title)) for anchor, title in edition.sections.items()]
    for anchor, number, _, glyphs in _ends_in(named, _levels(leaf)):
        written.explain(glyphs)
        yield Numbered(anchor, number, leaf.place(_around(glyphs)))


def _around(glyphs: Sequence[Glyph | None]) -> Box | None:
    boxes = [each.box for each in glyphs if each is not None and each.area]
    return union(boxes) if boxes else None


def _numbered_lines(
    edition: EditionWords, leaf: SeenPlace, written: Written
) -> Iterator[tuple[Numbered, float]]:
    """Yield the lines of the index with where they stand: patterns at the right."""
    named = [
        (f"pattern-{code}", packed(pattern.name)) for code, pattern in edition.patterns.items()
    ]
    left, _, right, _ = leaf.about.box
    levels = _levels(leaf, left + _INDEX * (right - left))
    for anchor, number, base, glyphs in _ends_in(named, levels):
        written.explain(glyphs)
        yield Numbered(anchor, number, leaf.place(_around(glyphs))), base


# ----------------------------------------------------------------------------
# The table of places of sale, cell by cell.


def _heads(line: TextLine, grid: Grid) -> Iterator[tuple[Glyph, str]]:
    for hit in re.finditer(r"\S+", line.text):
        glyph = line.glyphs[hit.start()]
        code = hit[0].upper()
        if code in grid.heads and glyph is not None:
            yield glyph, code


def _rows(
    grid: Grid, lines: Sequence[TextLine], left: float, columns: Sequence[tuple[float, str]]
) -> list[tuple[tuple[str, tuple[str, ...]], float, float]]:
    """Return each row of the grid that begins here, with its baseline and the next one's."""
    starts = [each for each in lines if abs(each.start - left) < 1.0]
    found: list[tuple[tuple[str, tuple[str, ...]], float]] = []
    at = 0
    while at < len(starts):
        text, end, best = "", at, None
        while end < len(starts) and end - at < _MOST_LINES:
            text += _left_of(starts[end], columns)
            end += 1
            row = next((each for each in grid.rows if packed(each[0]) == text), None)
            best = (row, end) if row else best
        if best:
            found.append((best[0], starts[at].base))
            at = best[1]
        else:
            if found:
                break
            at += 1
    bottom = starts[at].base if at < len(starts) else (lines[-1].base + 30 if lines else 0.0)
    ends = [base for _, base in found[1:]] + [bottom]
    return [(row, base, end) for (row, base), end in zip(found, ends, strict=False)]


def _left_of(line: TextLine, columns: Sequence[tuple[float, str]]) -> str:
    edge = columns[0][0] - 1 if columns else float("inf")
    return packed("".join(
        letter for letter, glyph in zip(line.text, line.glyphs, strict=True)
        if glyph is None or glyph.x < edge
    ))  # fmt: skip


_MOST_LINES = 6
