"""The cover, a plate of the line in numbered figures, and the back with the maker's address."""

from __future__ import annotations

from itertools import islice

from labeler.book.context import BookContext
from labeler.book.edition import PatternEntry, contact_ways, dates_of, title_of
from labeler.book.figures import draw_figure, even_rows
from labeler.book.typesetting import PALE, Canvas, Words, across
from labeler.findings import Place
from labeler.geometry import Box
from labeler.marks import Element, rectangle
from labeler.units import NO_BREAK_SPACE

_MOST_FIGURES = 8


class Cover:
    """Draws the cover and the back."""

    def __init__(self, book: BookContext) -> None:
        self.book, self.edition = book, book.edition
        self.maker = book.edition.catalog.file.maker
        self.side = 46.0 if self.edition.small else 72.0

    def front(self, canvas: Canvas) -> None:
        """Draw the front cover."""
        canvas.label = "Cover"
        canvas.anchors.append(("cover", 0.0))
        self._draw_ground(canvas)
        y = canvas.height * 0.085
        y = self._line(canvas, self._words("book-running", title_of(self.edition), 1.5), y)
        y = self._line(canvas, self._words("book-title", self.maker.name), y + 12, "H1")
        y = self._line(canvas, self._words("book-subtitle", self._count()), y + 10)
        canvas.rule(canvas.width / 2 - 28, canvas.width / 2 + 28, y + 16)
        foot = self._front_foot(canvas)
        self._plate(canvas, (self.side, y + 34, canvas.width - self.side, foot - 18))

    def back(self, canvas: Canvas) -> None:
        """Draw the back: who made what is in the book, and how to reach them."""
        canvas.label = "Back"
        canvas.anchors.append(("back", 0.0))
        self._draw_ground(canvas)
        inset = self.side * 1.6
        figure = (inset, canvas.height * 0.26, canvas.width - inset, canvas.height * 0.47)
        last = self.book.entries[-1].face
        draw_figure(canvas, self.edition, last, figure, (Element("Div", "back.figure"),))
        y = canvas.height * 0.54
        y = self._line(canvas, self._words("book-title", self.maker.name, 0.6), y) + 10
        for text, link in contact_ways(self.maker):
            y = self._line(canvas, self._words("book-cell", text, 1.2), y, link=link) + 5

    def _words(self, style: str, text: str, scale: float = 1.0) -> Words:
        scale *= 0.68 if self.edition.small else 1.0
        return self.book.setter.words(
            style, text, place=Place(block=f"cover, {style}"), scale=scale, lines=4, least=5.0
        )

    def _draw_ground(self, canvas: Canvas) -> None:
        """A quiet ground where a print shop trims it; a hairline frame where nobody does."""
        edge = self.edition.bleed
        if edge and self.edition.ink == "colour":
            box = (-edge, -edge, canvas.width + edge, canvas.height + edge)
            canvas.decorate(rectangle(box, fill=PALE))
        inset = 24.0 if self.edition.small else 32.0
        frame = (inset, inset, canvas.width - inset, canvas.height - inset)
        canvas.decorate(rectangle(frame, stroke="#000000", width=0.35))

    def _line(
        self, canvas: Canvas, words: Words, y: float, tag: str = "P", link: str = ""
    ) -> float:
        """Draw words across the middle and return where they end."""
        foot = y + words.height(canvas.width - 2 * self.side)
        path = (Element(tag, f"cover.{y:.1f}.{canvas.label}"),)
        box = (self.side, y, canvas.width - self.side, foot)
        canvas.write(words, box, path, align="centre", link=link)
        return foot

    def _count(self) -> str:
        products, patterns = len(self.edition.products), len(self.book.entries)
        items = f"{products:,} items" if products != 1 else "1 item"
        return f"{items} in {patterns:,} {'pattern' if patterns == 1 else 'patterns'}"

    def _front_foot(self, canvas: Canvas) -> float:
        """Draw what stands at the foot, and return where it begins."""
        lines = [self._words("book-cell", dates_of(self.edition), 1.15)]
        if self.edition.dealer:
            lines.insert(0, self._words("book-subtitle", f"For {self.edition.dealer.name}", 0.9))
        heights = [words.height(canvas.width - 2 * self.side) for words in lines]
        y = start = canvas.height * 0.93 - sum(heights) - 6 * (len(lines) - 1)
        for words in lines:
            y = self._line(canvas, words, y) + 6
        return start

    def _plate(self, canvas: Canvas, box: Box) -> None:
        """Draw up to eight patterns, numbered as on a naturalist's plate, each with its link."""
        shown = iter(self.book.entries[:_MOST_FIGURES])
        rows = even_rows(min(len(self.book.entries), _MOST_FIGURES), 2)
        gap, down = 30.0 * (0.6 if self.edition.small else 1.0), 14.0
        left, _, right, _ = across(box, max(rows), gap)[0]
        wide = right - left
        tall = min((box[3] - box[1] - down * (len(rows) - 1)) / len(rows), wide * 0.74)
        y = box[1] + (box[3] - box[1] - tall * len(rows) - down * (len(rows) - 1)) / 2
        for count in rows:
            shift = (box[2] - box[0] - wide * count - gap * (count - 1)) / 2
            row = (box[0] + shift, y, box[2] - shift, y + tall)
            for entry, place in zip(islice(shown, count), across(row, count, gap), strict=True):
                self._specimen(canvas, entry, place)
            y += tall + down

    def _specimen(self, canvas: Canvas, entry: PatternEntry, box: Box) -> None:
        words = self.book.setter.words(
            "book-caption", ("book-cell", f"{entry.number}{NO_BREAK_SPACE * 2}"),
            entry.pattern.name,
            place=Place(piece=entry.pattern.name, block="pattern's name on the cover"), lines=2,
            scale=0.8 if self.edition.small else 1.0, least=4.0,
        )  # fmt: skip
        top_of_name = box[3] - words.fit(box[2] - box[0]).height
        path = (Element("Div", f"cover.{entry.anchor}"),)
        figure = (box[0], box[1], box[2], top_of_name - 5)
        draw_figure(canvas, self.edition, entry.face, figure, path)
        caption = (*path, Element("Caption", f"cover.{entry.anchor}.name"))
        name = (box[0], top_of_name, box[2], box[3] + 1)
        canvas.write(words, name, caption, align="centre", link=f"#{entry.anchor}")
