"""How a pattern begins: its name, its story, what there is to know of it at a glance."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from labeler.book.canvas import Canvas
from labeler.book.entries import Entry
from labeler.book.flow import Unit
from labeler.book.setter import Setter, Words
from labeler.book.units import Paragraph
from labeler.catalog.model import Product
from labeler.disclosures.places import country
from labeler.findings import Finding, Place
from labeler.layout.marks import Box, Picture
from labeler.layout.pictures import prepare, proportion
from labeler.press.leaf import Element

_FACTS_SHARE = 0.36
_BETWEEN = 24.0
_PHOTO_MOST = 150.0


def title_units(setter: Setter, entry: Entry, path: tuple[Element, ...], small: bool) -> list[Unit]:
    """Return the pattern's kind and its name, which keep what follows."""
    place = Place(piece=entry.pattern.name, block="name")
    key = path[-1].key
    kind = setter.words("book-running", entry.pattern.kind, place=place, lines=2)
    name = setter.words(
        "book-pattern", entry.pattern.name, place=place, lines=4,
        scale=0.72 if small else 1.0 if len(entry.pattern.name) < 36 else 0.74,
    )  # fmt: skip
    return [
        Paragraph(kind, (*path, Element("P", f"{key}.kind")), gap=0, keep=True),
        Paragraph(name, (*path, Element("H1", f"{key}.name")), gap=5, keep=True,
                  anchor=entry.anchor, rule_below=9),
    ]  # fmt: skip


def facts_of_entry(entry: Entry) -> list[tuple[str, str]]:
    """Return fields and their values, in the order in which a buyer asks."""
    first, pattern = entry.products[0], entry.pattern
    weights = list(dict.fromkeys(group.weight.oz_text if group.weight.unit == "oz"
                                 else group.weight.g_text for group in entry.groups))  # fmt: skip
    hooks = list(dict.fromkeys(group.hook_size for group in entry.groups))
    facts = [
        ("Weights", ", ".join(weights)),
        ("Hook", f"{first.hook.name}, {', '.join(hooks)}"),
        ("Head", f"{first.head.name}, {_low(first.alloy.name)}"),
    ]
    if first.guard:
        facts.append(("Guard", first.guard.name))
    if pattern.length:
        facts.append(("Length", str(pattern.length).replace(" in", "\N{NO-BREAK SPACE}in")))
    facts.append(("Colors", str(len(entry.colourways))))
    packs = sorted({product.pattern.pack for product in entry.products})
    facts.append(("Pack", ", ".join(map(str, packs))))
    if pattern.case:
        facts.append(("Case", f"{pattern.case} packs"))
    if pattern.made_in:
        facts.append(("Tied in", country(pattern.made_in)))
    return facts


def _low(text: str) -> str:
    return text[:1].lower() + text[1:] if not text[1:2].isupper() else text


@dataclass(slots=True)
class Opening:
    """Story (and photo, if there is one) on the left; facts in a column on the right."""

    setter: Setter
    entry: Entry
    path: tuple[Element, ...]
    folder: Path
    findings: list[Finding]
    gap: float = 12.0
    keep: bool = False
    head: Unit | None = None

    def _story(self) -> Words | None:
        story = self.entry.pattern.story
        if not story:
            return None
        place = Place(piece=self.entry.pattern.name, block="story")
        return self.setter.words("book-story", " ".join(story.split()), place=place)

    def _facts(self) -> list[tuple[Words, Words]]:
        place = Place(piece=self.entry.pattern.name, block="facts")
        return [
            (self.setter.words("field", name, place=place),
             self.setter.words("book-cell", value, place=place, scale=1.06))
            for name, value in facts_of_entry(self.entry)
        ]  # fmt: skip

    def _widths(self, width: float) -> tuple[float, float]:
        facts = max(118.0, (width - _BETWEEN) * _FACTS_SHARE)
        return width - _BETWEEN - facts, facts

    def _photo_size(self, width: float) -> tuple[float, float]:
        product = self.entry.photo
        if product is None or product.photo is None:
            return 0.0, 0.0
        shape = proportion(self.folder / "photos" / product.photo)
        wide = min(width, _PHOTO_MOST * shape)
        return wide, wide / shape

    def height(self, width: float) -> float:
        """Return the height of the higher column."""
        left, right = self._widths(width)
        story = self._story()
        high = story.height(left) if story else 0.0
        photo = self._photo_size(left)[1]
        high += photo + (12 if photo and story else 0)
        return max(high, sum(self._fact_height(pair, right) for pair in self._facts()))

    def _fact_height(self, pair: tuple[Words, Words], width: float) -> float:
        return max(pair[0].height(44), pair[1].height(width - 48)) + 6.4

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw both columns."""
        left, right = self._widths(box[2] - box[0])
        y = box[1]
        story = self._story()
        key = self.path[-1].key
        if story:
            high = story.height(left)
            marks, ink = story.glyphs((box[0], y, box[0] + left, y + high))
            canvas.put(marks, (*self.path, Element("P", f"{key}.story")))
            canvas.take(ink, "story")
            y += high + 12
        if self.entry.photo is not None:
            self._draw_photo(canvas, self.entry.photo, (box[0], y, box[0] + left, box[3]))
        self._draw_facts(canvas, (box[2] - right, box[1], box[2], box[3]))

    def _draw_photo(self, canvas: Canvas, product: Product, box: Box) -> None:
        wide, tall = self._photo_size(box[2] - box[0])
        image, said = prepare(self.folder / "photos" / str(product.photo), wide, tall)
        self.findings += said
        says = f"Photograph: {product.name}"
        figure = Element("Figure", f"{self.path[-1].key}.photo", says=says)
        canvas.put([Picture(box[0], box[1], wide, tall, image)], (*self.path, figure))
        canvas.take((box[0], box[1], box[0] + wide, box[1] + tall), "photo")

    def _draw_facts(self, canvas: Canvas, box: Box) -> None:
        y = box[1]
        key = f"{self.path[-1].key}.facts"
        path = (*self.path, Element("L", key))
        for place, (name, value) in enumerate(self._facts()):
            high = self._fact_height((name, value), box[2] - box[0])
            item = (*path, Element("LI", f"{key}.{place}"))
            setting = value.fit(box[2] - box[0] - 48)
            down = setting.first_baseline - name.fit(44).first_baseline
            marks, ink = name.glyphs((box[0], y + 3.2 + max(0, down), box[0] + 44, y + high + 4))
            canvas.put(marks, (*item, Element("Lbl", f"{key}.{place}.name")))
            canvas.take(ink, "fact's name")
            marks, ink = value.glyphs((box[0] + 48, y + 3.2, box[2], y + high))
            canvas.put(marks, (*item, Element("LBody", f"{key}.{place}.value")))
            canvas.take(ink, "fact")
            y += high
            canvas.rule(box[0], box[2], y, 0.2)
