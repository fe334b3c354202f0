"""Everything that can be got out of a book's file beside its pages is explained, or it is told.

A search engine, a program that reads aloud, or anybody with an editor reads bookmarks, what
pictures are called, the file's description, comments, objects that are left over. What stands
there is held against the same words of the edition as the pages are.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import chain
from xml.sax.saxutils import unescape

from pypdf.generic import StreamObject

from labeler.checker.claims import BOOK_SHEET_NAME
from labeler.checker.page.book_page import BookReader
from labeler.checker.pdf.file import CheckedPdf, PageEntry, decoded, look, sequence, text_of
from labeler.checker.pdf.objects import RawObjects, shape_of, text_in, words_in
from labeler.checker.pdf.tokens import name_in
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules.accounted import BookWords
from labeler.checker.rules.codes import link_of
from labeler.checker.rules.edition import EditionWords, said
from labeler.checker.rules.listing import field_of
from labeler.checker.rules.words import packed
from labeler.codes.links import as_small_host
from labeler.findings import Finding, Place

_DATE = re.compile(r"D:\d{4,14}(?:Z|[+-]\d\d'?\d\d'?)?'?")
_LOOK = re.compile(r"/\w+ \d+(?:\.\d+)? Tf(?: [\d.]+)+ (?:g|rg|k)")
_IN_SPITE_OF = re.compile(r"Made in spite of [a-z0-9-]+(?:, [a-z0-9-]+)*")
_RESOURCE = re.compile(r"[A-Z][A-Za-z]{0,5}\d+(?:\.\d+)?|[A-Z]{6}\+[\w.,-]+")
_PAGE = re.compile(rb"/Type\s*/Page\b")
_DRAWS = re.compile(rb"/Subtype\s*/Form\b")
_PROGRAM = frozenset({"Producer", "Creator", "CreatorTool"})
"""Keys under which programs name themselves; another that saved the file puts its own name."""


@dataclass
class BookFile:
    """The file of one book beside its pages.

    Attributes:
        document: the file.
        words: those of its pages, all of which were read.
        reader: has read them.
    """

    document: CheckedPdf
    words: BookWords
    reader: BookReader
    found: list[Finding] = field(default_factory=list)

    @property
    def edition(self) -> EditionWords:
        """What explains words."""
        return self.words.edition

    @cached_property
    def pages(self) -> dict[int, PageEntry]:
        """The pages by the numbers of their objects."""
        found = {}
        for page in self.document.pages():
            ref = page.entry.indirect_reference
            if ref is not None:
                found[int(ref.idnum)] = page
        return found

    @cached_property
    def starts(self) -> dict[str, int]:
        """On which leaf each chapter begins."""
        return {anchor: each.first for anchor, each in self.words.standings.items()}

    def judge(self) -> Iterator[Finding]:
        """Yield what is wrong with the file.

        Raises:
            TooMuchError: if there are more objects than in any book.
        """
        raw = RawObjects(self.document)
        yield from self._objects(raw)
        yield from self._beside_drawings()
        yield from self._left_over(raw)
        yield from self._described()
        yield from self._sheet()
        if not self.edition.claim.booklet:
            yield from self._bookmarks()
            yield from self._labels()

    # -------------------------------------------------------------------------- what explains

    @cached_property
    def explained(self) -> frozenset[str]:
        """All that a string of the file may say, in its simplest form."""
        edition, words = self.edition, said()
        maker, subjects = edition.maker, edition.subjects
        texts = [
            form for each in edition.chapters.values() for due in each.dues for form in due.forms
        ]
        texts += chain(edition.chapters, edition.sections.values(), words["bookmarks"].values())
        texts += [
            f"{edition.title}, {maker.name}",
            maker.name,
            edition.dates,
            *words["file"]["words"],
        ]
        texts += edition.pictured(subjects)
        for subject in subjects:
            product = subject.product
            texts += [product.sku, link_of(subject), *edition.code(subject)]
            texts.append(words["order"]["packs"].format(sku=product.sku, name=product.name))
            texts += [field_of(product.sku), f"sku-{product.sku}"]
            texts += edition.led_by(subject)
        for code, each in edition.by_pattern.items():
            name = edition.patterns[code].name
            texts += [f"{name} {code}", *(text for due in edition.sums(code) for text in due)]
            pages = {p for one in each for p in self.words.row_pages.get(one.product.sku, ())}
            texts += [f"{name} {page}" for page in pages]
        texts += [part for way in edition.ways for part in way]
        for fields in (words["order"]["fields"], words["order"]["whole"]):
            texts += chain(fields, fields.values())
        texts += edition.filled.values()
        return frozenset(packed(text) for text in texts)

    def _explains(self, text: str, key: str) -> bool:
        if not text.strip() or packed(text) in self.explained:
            return True
        if _DATE.fullmatch(text) or (key == "Keywords" and _IN_SPITE_OF.fullmatch(text)):
            return True
        if key in ("DA", "DS", "URI"):
            return bool(_LOOK.fullmatch(text)) or packed(as_small_host(text)) in self.explained
        return key == "CheckSum" or (key in _PROGRAM and self._harmless(text))

    def _harmless(self, text: str) -> bool:
        """Tell whether a program's name for itself states nothing about the goods."""
        told = self.words.judge.told(text, self.document.place)
        return all(each.rule == "words-unaccounted" for each in told)

    # ------------------------------------------------------------------------------ the objects

    @asks("file-part-unknown")
    def _objects(self, raw: RawObjects) -> Iterator[Finding]:
        """Yield the strings, names and comments of the objects that nothing explains."""
        strange: dict[str, int] = {}
        told: set[tuple[str, str]] = set()
        shapes = set[bytes]()
        for number, head in raw.heads():
            shape = shape_of(head)
            known = shape in shapes
            if shape:
                shapes.add(shape)
            for key, text, kind in () if known else self._odd_words(head):
                if kind == "name":
                    strange.setdefault(text, number)
                elif (text, key) not in told:
                    told.add((text, key))
                    where = "a comment" if kind == "comment" else f"/{key}"
                    place = self._place_of(number, head)
                    yield from self.words.judge.told(text, place, f" in {where}")
            if _DRAWS.search(head) and isinstance(stream := raw.object(number), StreamObject):
                yield from self._said_in(decoded(stream), self.document.place)
        for name, number in strange.items():
            yield finding(
                "file-part-unknown", self.document.place, found=f"/{name} in object {number}"
            )

    def _beside_drawings(self) -> Iterator[Finding]:
        """Yield what the pages' operators say beside what they draw."""
        for page in self.pages.values():
            parts = look(page.entry, "/Contents")
            listed = parts if isinstance(parts, list) else [parts]
            place = Place(file=self.document.name, page=page.number)
            for at in range(len(listed)):
                stream = look(listed, at)
                if isinstance(stream, StreamObject):
                    yield from self._said_in(decoded(stream), place)

    def _odd_words(self, head: bytes) -> Iterator[tuple[str, str, str]]:
        """Yield what nothing explains: the key before it, what it says, and its kind."""
        key = ""
        for word in words_in(head):
            sign = word[:1]
            if sign == b"/":
                before, key = key, name_in(word[1:])
                usual = key in self.names or bool(_RESOURCE.fullmatch(key))
                if not usual and before not in _OF_FONTS:
                    yield before, key, "name"
            elif sign == b"%":
                yield key, word[1:].decode("latin-1"), "comment"
            elif sign in b"(<" and not self._explains(text := text_in(word), key):
                yield key, text, "string"

    @cached_property
    def names(self) -> frozenset[str]:
        """The names of parts that a book of ours has."""
        return frozenset(said()["file"]["names"])

    def _place_of(self, number: int, head: bytes) -> Place:
        """Return the page that an object is of, if it tells."""
        refs = {int(hit[1]): hit for hit in re.finditer(rb"/(?:Pg|P)\s*(\d+)\s+\d+\s+R", head)}
        page = next((self.pages[each] for each in (number, *refs) if each in self.pages), None)
        return Place(file=self.document.name, page=page.number) if page else self.document.place

    def _said_in(self, data: bytes, place: Place) -> Iterator[Finding]:
        """Yield what drawing operators say beside what they draw: comments, lists of properties."""
        if b"%" not in data and b"BDC" not in data and b"DP" not in data:
            return
        bare = _STRINGS.sub(b"()", data)
        for hit in _COMMENT.finditer(bare):
            yield from self.words.judge.told(hit[1].decode("latin-1"), place, " in a comment")
        for hit in _PROPERTIES.finditer(data):
            for word in words_in(hit[1]):
                text = text_in(word) if word[:1] in b"(<" else ""
                shown = packed(text) in self.words.written.get(place.page or 0, "")
                if not shown and not self._explains(text, ""):
                    yield from self.words.judge.told(text, place, " behind a mark on the page")

    # ------------------------------------------------------------------------------ left over

    @asks("page-left-over", "object-left-over", "file-earlier-state")
    def _left_over(self, raw: RawObjects) -> Iterator[Finding]:
        """Yield what nobody sees any more and everybody can get out of the file."""
        place = self.document.place
        for number, head in raw.heads():
            if _PAGE.search(head) and number not in self.pages:
                yield finding("page-left-over", place, found=f"object {number}")
        if left := raw.left_over():
            some = ", ".join(map(str, left[:_SHOWN]))
            more = f" and {len(left) - _SHOWN} more" if len(left) > _SHOWN else ""
            yield finding("object-left-over", place, found=f"objects {some}{more}")
        if earlier := raw.earlier():
            yield finding("file-earlier-state", place, found=f"{earlier} objects")
        for text in raw.between():
            yield from self.words.judge.told(text.decode("latin-1"), place, " between the objects")

    # -------------------------------------------------------------- description, sheet, attachments

    def _described(self) -> Iterator[Finding]:
        """Yield the words of the description as XML that nothing explains."""
        stream = look(self.document.root, "/Metadata")
        text = (
            decoded(stream).decode("utf-8", "replace") if isinstance(stream, StreamObject) else ""
        )
        for key, value in chain(_ELEMENT.findall(text), _ATTRIBUTE.findall(text)):
            plain = unescape(value.strip())
            formal = key in _FORMAL or key.startswith("xmlns") or bool(_ISO.fullmatch(plain))
            if not formal and not self._explains(plain, key):
                yield from self.words.judge.told(plain, self.document.place, " in the description")

    def _sheet(self) -> Iterator[Finding]:
        """Yield what the sheet inside says beside what it is read for."""
        data = self.document.attached(BOOK_SHEET_NAME)
        record = json.loads(data) if data else {}
        facts = record.get("book", {}) if isinstance(record, dict) else {}
        known = {**dict.fromkeys(_SHEET), **{f"book.{key}": None for key in _FACTS}}
        held = {**record, **{f"book.{key}": value for key, value in facts.items()}}
        for key in (key for key in held if key not in known):
            text = f"{key}: {json.dumps(held[key], ensure_ascii=False)[:200]}"
            yield from self.words.judge.told(text, self.document.place, " in the sheet inside")

    # ------------------------------------------------------------------------------ bookmarks

    @asks("bookmark-wrong")
    def _bookmarks(self) -> Iterator[Finding]:
        """Yield the bookmarks and named places that lead elsewhere, and those that are gone."""
        place, words, edition = self.document.place, said()["bookmarks"], self.edition
        patterns = [f"pattern-{code}" for code in edition.by_pattern]
        rest = [(title, anchor) for anchor, title in edition.sections.items()]
        due = rest
        if not edition.claim.prices:
            due = [(words["cover"], "cover"), *rest, (words["patterns"], patterns[0])]
            due += [(edition.chapters[anchor].title, anchor) for anchor in patterns]
        there = list(self._outline())
        for title, anchor in due:
            pages = [page for text, page, _ in there if packed(text) == packed(title)]
            if self.starts.get(anchor) not in pages:
                yield finding(
                    "bookmark-wrong", place, found=f"“{title}”: {pages or 'none'}",
                    expected=f"page {self.starts.get(anchor, 'none')}",
                )  # fmt: skip
        titles = {packed(title) for title, _ in due}
        for text, page, acts in there:
            if acts:
                yield finding("bookmark-wrong", place, found=f"“{text}” does more: {acts}")
            elif packed(text) not in titles:
                found = f"“{text}” to page {page}"
                yield finding("bookmark-wrong", place, found=found, expected="no such bookmark")
        for name, page in self.reader.named_pages.items():
            if page != self.starts.get(name, page):
                yield finding(
                    "bookmark-wrong", place, found=f"the place “{name}” on page {page}",
                    expected=f"page {self.starts[name]}",
                )  # fmt: skip

    def _outline(self) -> Iterator[tuple[str, int, str]]:
        """Yield each bookmark's words, the page that it leads to, and what else it does."""
        stack, left = [look(look(self.document.root, "/Outlines"), "/First")], _MOST
        while stack and left:
            left -= 1
            item = stack.pop()
            if item is None:
                continue
            action = look(item, "/A")
            kind = text_of(look(action, "/S"))
            target = look(item, "/Dest") if action is None else look(action, "/D")
            yield (
                text_of(look(item, "/Title")), self.reader.page_of(target),
                kind if kind not in ("", "GoTo") else "",
            )  # fmt: skip
            stack += [look(item, "/Next"), look(item, "/First")]

    @asks("page-number-wrong")
    def _labels(self) -> Iterator[Finding]:
        """Yield that viewers are told other numbers of pages than the pages bear."""
        nums = sequence(look(look(self.document.root, "/PageLabels"), "/Nums"))
        for at in range(0, len(nums) - 1, 2):
            first, way = look(nums, at), look(nums, at + 1)
            start = look(way, "/St")
            if text_of(look(way, "/S")) and isinstance(first, int) and start != first + 1:
                place = Place(file=self.document.name, page=first + 1)
                yield finding(
                    "page-number-wrong", place, found=f"page {start} in the viewer's list",
                    expected=f"page {first + 1}",
                )  # fmt: skip


_OF_FONTS = frozenset({"BaseFont", "FontName"})
_SHOWN = 6
_MOST = 20_000
_STRINGS = re.compile(rb"\((?:[^\\()]|\\[\s\S])*+\)")
_COMMENT = re.compile(rb"%([^\r\n]*)")
_PROPERTIES = re.compile(
    rb"<<((?:[^<>(]|\((?:[^\\()]|\\[\s\S])*+\)|<[0-9A-Fa-f\s]*>)*+)>>\s*(?:BDC|DP)\b"
)
_ATTRIBUTE = re.compile(r"(xmlns:\w+|(?<=:)\w+|(?<=\s)\w+)=[\"']([^\"']*)[\"']")
_ELEMENT = re.compile(r"<(?:\w+:)?(\w+)[^<>]*>([^<>]+)(?=<)")
_FORMAL = frozenset(
    {"about", "lang", "begin", "id", "end", "parseType", "xmptk", "part", "conformance"}
)
_ISO = re.compile(r"\d{4}-\d\d-\d\d(?:T[\d:.]+(?:Z|[+-]\d\d:\d\d)?)?|(?:uuid|xmp\.\w+):[\w:-]+")
_SHEET = ("form", "book", "binding", "pages", "places")
_FACTS = (
    "edition", "day", "listed", "catalog", "markets", "skus", "tiers", "dealer", "paper", "bleed",
    "archive", "keystone", "prices", "ready",
)  # fmt: skip
"""What the sheet inside is read for."""
