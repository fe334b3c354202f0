"""A pattern's pages: its name, its story and facts, its anatomy, its colours, and its prices."""

from __future__ import annotations

from dataclasses import dataclass, field

from labeler.book.context import BookContext
from labeler.book.edition import PatternEntry, weight_text
from labeler.book.figures import Anatomy, plate_units
from labeler.book.flow import FilledPage, Labelled, Paragraph, Stack, Unit, flow
from labeler.book.price_table import table_units
from labeler.book.typesetting import Canvas, StructurePath, Words
from labeler.catalog.model import Product
from labeler.disclosures.rules import country
from labeler.drawing.photos import prepare, proportion
from labeler.findings import Place
from labeler.geometry import Box
from labeler.marks import Element, Picture


def pattern_pages(book: BookContext, entry: PatternEntry, path: StructurePath) -> list[FilledPage]:
    """Return the pages of a pattern.

    Raises:
        LabelerError: with what does not fit.
    """
    frame = book.frame
    tall = frame.measure * (0.36 if book.edition.small else 0.40)
    anatomy = Anatomy(book, entry.face, path, tall, gap=20)
    plate = plate_units(book, entry, path)
    plate[0].gap = 26
    plate[0].keep = len(plate) == 1
    table = table_units(book, entry, path)
    table[0].gap = 24
    opening = [*_title(book, entry, path), PatternOpening(book, entry, path, gap=12)]
    units = [*opening, anatomy, *plate, *table]
    pages = flow(units, frame.columns(), where=entry.pattern.name)
    unit, box = pages[0].units[-1]
    column = frame.columns()[0]
    spare = column.bottom - box[3]
    if unit is anatomy and spare >= 12:
        # The anatomy grows into what its page leaves empty.
        anatomy.tall += min(spare - 6, column.width * 0.6 - tall)
        pages = flow(units, frame.columns(), where=entry.pattern.name)
    return pages


def _title(book: BookContext, entry: PatternEntry, path: StructurePath) -> list[Unit]:
    """Return the pattern's kind and its name, which keep what follows."""
    pattern, key = entry.pattern, path[-1].key
    place = Place(piece=pattern.name, block="name")
    kind = book.setter.words("book-running", pattern.kind, place=place, lines=2)
    name = book.setter.words(
        "book-pattern", pattern.name, place=place, lines=4,
        scale=0.72 if book.edition.small else 1.0 if len(pattern.name) < 36 else 0.74,
    )  # fmt: skip
    return [
        Paragraph(kind, (*path, Element("P", f"{key}.kind")), gap=0, keep=True),
        Paragraph(name, (*path, Element("H1", f"{key}.name")), gap=5, keep=True,
                  anchor=entry.anchor, rule_below=9),
    ]  # fmt: skip


def facts_of_entry(entry: PatternEntry) -> list[tuple[str, str]]:
    """Return fields and their values, in the order in which a buyer asks."""
    first, pattern = entry.products[0], entry.pattern
    alloy = first.alloy.name
    if not alloy[1:2].isupper():
        alloy = alloy[:1].lower() + alloy[1:]
    weights = dict.fromkeys(weight_text(group.weight) for group in entry.groups)
    hooks = dict.fromkeys(group.hook_size for group in entry.groups)
    packs = sorted({product.pattern.pack for product in entry.products})
    length = str(pattern.length).replace(" in", "\N{NO-BREAK SPACE}in") if pattern.length else ""
    facts = (
        ("Weights", ", ".join(weights)),
        ("Hook", f"{first.hook.name}, {', '.join(hooks)}"),
        ("Head", f"{first.head.name}, {alloy}"),
        ("Guard", first.guard.name if first.guard else ""),
        ("Length", length),
        ("Colors", str(len(entry.colourways))),
        ("Pack", ", ".join(map(str, packs))),
        ("Case", f"{pattern.case} packs" if pattern.case else ""),
        ("Tied in", country(pattern.made_in) if pattern.made_in else ""),
    )
    return [(name, value) for name, value in facts if value]


_BETWEEN = 24.0
_FACTS_SHARE, _FACTS_LEAST = 0.36, 118.0
_PHOTO_MOST = 150.0


@dataclass(slots=True)
class PatternOpening(Unit):
    """Story (and photo, if there is one) on the left; facts in a column on the right."""

    book: BookContext
    entry: PatternEntry
    path: StructurePath
    _facts: Stack = field(init=False)

    def __post_init__(self) -> None:
        place = Place(piece=self.entry.pattern.name, block="facts")
        words = self.book.setter.words
        key = f"{self.path[-1].key}.facts"
        listed = (*self.path, Element("L", key))
        self._facts = Stack([
            Labelled(words("field", name, place=place),
                     words("book-cell", value, place=place, scale=1.06),
                     (*listed, Element("LI", f"{key}.{number}")), 48.0, apart=4.0, pad=3.2, gap=0)
            for number, (name, value) in enumerate(facts_of_entry(self.entry))
        ])  # fmt: skip

    def _story(self) -> Words | None:
        pattern = self.entry.pattern
        if not pattern.story:
            return None
        place = Place(piece=pattern.name, block="story")
        return self.book.setter.words("book-story", " ".join(pattern.story.split()), place=place)

    def _facts_width(self, width: float) -> float:
        return max(_FACTS_LEAST, (width - _BETWEEN) * _FACTS_SHARE)

    def _photo_size(self, product: Product, width: float) -> tuple[float, float]:
        shape = proportion(self.book.folder / "photos" / str(product.photo))
        wide = min(width, _PHOTO_MOST * shape)
        return wide, wide / shape

    def height(self, width: float) -> float:
        """Return the height of the higher column."""
        right = self._facts_width(width)
        left = width - _BETWEEN - right
        story, photo = self._story(), self.entry.photo
        high = story.height(left) if story else 0.0
        if photo:
            high += self._photo_size(photo, left)[1] + (12 if story else 0)
        return max(high, self._facts.height(right))

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw both columns."""
        left, y, right, bottom = box
        facts_left = right - self._facts_width(right - left)
        edge = facts_left - _BETWEEN
        story = self._story()
        if story:
            high = story.height(edge - left)
            path = (*self.path, Element("P", f"{self.path[-1].key}.story"))
            canvas.write(story, (left, y, edge, y + high), path)
            y += high + 12
        if self.entry.photo is not None:
            self._draw_photo(canvas, self.entry.photo, (left, y, edge, bottom))
        self._facts.draw(canvas, (facts_left, box[1], right, bottom))

    def _draw_photo(self, canvas: Canvas, product: Product, box: Box) -> None:
        wide, tall = self._photo_size(product, box[2] - box[0])
        image, findings = prepare(self.book.folder / "photos" / str(product.photo), wide, tall)
        self.book.findings += findings
        says = f"Photograph: {product.name}"
        figure = Element("Figure", f"{self.path[-1].key}.photo", says=says)
        canvas.put([Picture(box[0], box[1], wide, tall, image)], (*self.path, figure))
        canvas.take((box[0], box[1], box[0] + wide, box[1] + tall), "photo")
