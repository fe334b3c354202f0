"""The cover, a plate of the line in numbered figures, and the back with the maker's address."""

from __future__ import annotations

from collections.abc import Sequence

from labeler.book.canvas import PALE, Canvas
from labeler.book.edition import Edition
from labeler.book.entries import Entry
from labeler.book.plate import even_rows
from labeler.book.setter import Setter, Words
from labeler.book.sitting import draw_figure
from labeler.catalog.model import Maker
from labeler.disclosures.places import country
from labeler.findings import Place
from labeler.layout.ground import rectangle
from labeler.layout.marks import Box
from labeler.press.leaf import Element
from labeler.units import NO_BREAK_SPACE

_MOST_FIGURES = 8


def title_of(edition: Edition) -> str:
    """Return what the book is called."""
    return "Dealer catalog" if edition.for_dealers else "Catalog"


def dates_of(edition: Edition) -> str:
    """Return from when to when the prices hold, in words."""
    terms = edition.catalog.file.terms
    start = terms.listed or edition.day
    said = f"Prices from {_long(start)}"
    return f"{said}, valid until {_long(terms.valid_until)}" if terms.valid_until else said


def _long(day: object) -> str:
    import datetime as dt

    assert isinstance(day, dt.date)  # only days come here
    return f"{day.day} {day:%B %Y}"


class Cover:
    """Draws the cover and the back."""

    def __init__(self, setter: Setter, edition: Edition, entries: Sequence[Entry]) -> None:
        self.setter, self.edition, self.entries = setter, edition, entries
        self.maker = edition.catalog.file.maker
        self.small = edition.width < 450

    def _words(self, style: str, text: str, scale: float = 1.0, lines: int = 4) -> Words:
        scale *= 0.68 if self.small else 1.0
        return self.setter.words(
            style, text, place=Place(block=f"cover, {style}"), scale=scale, lines=lines, least=5.0
        )

    def _ground(self, canvas: Canvas) -> None:
        """A quiet ground where a print shop trims it; a hairline frame where nobody does."""
        edge = self.edition.bleed
        if edge and self.edition.ink == "colour":
            box = (-edge, -edge, canvas.width + edge, canvas.height + edge)
            canvas.decorate(rectangle(box, fill=PALE))
        inset = 24.0 if self.small else 32.0
        frame = (inset, inset, canvas.width - inset, canvas.height - inset)
        canvas.decorate(rectangle(frame, stroke="#000000", width=0.35))

    def _line(self, canvas: Canvas, words: Words, y: float, tag: str, side: float) -> float:
        """Draw words across the middle and return where they end."""
        high = words.height(canvas.width - 2 * side)
        box = (side, y, canvas.width - side, y + high)
        marks, ink = words.glyphs(box, "centre")
        canvas.put(marks, (Element(tag, f"cover.{y:.1f}.{canvas.label}"),))
        canvas.take(ink, words.place.block)
        return y + high

    def front(self, canvas: Canvas) -> None:
        """Draw the front cover."""
        canvas.label = "Cover"
        canvas.anchors.append(("cover", 0.0))
        self._ground(canvas)
        side = 46.0 if self.small else 72.0
        y = canvas.height * 0.085
        y = self._line(
            canvas, self._words("book-running", title_of(self.edition), 1.5), y, "P", side
        )
        y = self._line(canvas, self._words("book-title", self.maker.name), y + 12, "H1", side)
        y = self._line(canvas, self._words("book-subtitle", self._kinds()), y + 10, "P", side)
        canvas.rule(canvas.width / 2 - 28, canvas.width / 2 + 28, y + 16)
        foot = self._front_foot(canvas, side)
        self._plate(canvas, (side, y + 34, canvas.width - side, foot - 18))

    def _kinds(self) -> str:
        products, patterns = len(self.edition.products), len(self.entries)
        items = f"{products:,} items" if products != 1 else "1 item"
        return f"{items} in {patterns:,} {'pattern' if patterns == 1 else 'patterns'}"

    def _front_foot(self, canvas: Canvas, side: float) -> float:
        """Draw what stands at the foot, and return where it begins."""
        lines = [self._words("book-cell", dates_of(self.edition), 1.15)]
        if self.edition.dealer:
            lines.insert(0, self._words("book-subtitle", f"For {self.edition.dealer.name}", 0.9))
        heights = [words.height(canvas.width - 2 * side) for words in lines]
        y = start = canvas.height * 0.93 - sum(heights) - 6 * (len(lines) - 1)
        for words in lines:
            y = self._line(canvas, words, y, "P", side) + 6
        return start

    def _plate(self, canvas: Canvas, box: Box) -> None:
        """Draw up to eight patterns, numbered as on a naturalist's plate, each with its link."""
        shown = self.entries[:_MOST_FIGURES]
        rows = even_rows(len(shown), 2)
        columns = max(rows)
        gap, down = 30.0 * (0.6 if self.small else 1.0), 14.0
        wide = (box[2] - box[0] - gap * (columns - 1)) / columns
        tall = min((box[3] - box[1] - down * (len(rows) - 1)) / len(rows), wide * 0.74)
        spare = (box[3] - box[1] - tall * len(rows) - down * (len(rows) - 1)) / 2
        first = 0
        for row, count in enumerate(rows):
            y = box[1] + spare + row * (tall + down)
            shift = (box[2] - box[0] - wide * count - gap * (count - 1)) / 2
            for place in range(count):
                left = box[0] + shift + place * (wide + gap)
                self._specimen(canvas, shown[first + place], (left, y, left + wide, y + tall))
            first += count

    def _specimen(self, canvas: Canvas, entry: Entry, box: Box) -> None:
        words = self.setter.words(
            "book-caption", ("book-cell", f"{entry.number}{NO_BREAK_SPACE * 2}"),
            entry.pattern.name,
            place=Place(piece=entry.pattern.name, block="cover"), lines=2,
            scale=0.8 if self.small else 1.0, least=4.0,
        )  # fmt: skip
        name_high = words.fit(box[2] - box[0]).height
        path = (Element("Div", f"cover.{entry.anchor}"),)
        figure = (box[0], box[1], box[2], box[3] - name_high - 5)
        draw_figure(canvas, self.edition, entry.face, figure, path)
        marks, ink = words.glyphs((box[0], box[3] - name_high, box[2], box[3] + 1), "centre")
        link = Element("Link", f"cover.{entry.anchor}.link")
        canvas.put(marks, (*path, Element("Caption", f"cover.{entry.anchor}.name"), link),
                   f"#{entry.anchor}", ink)  # fmt: skip
        canvas.take(ink, "pattern's name on the cover")

    def back(self, canvas: Canvas) -> None:
        """Draw the back: who made what is in the book, and how to reach them."""
        canvas.label = "Back"
        canvas.anchors.append(("back", 0.0))
        self._ground(canvas)
        side = 46.0 if self.small else 72.0
        figure = (side * 1.6, canvas.height * 0.26, canvas.width - side * 1.6, canvas.height * 0.47)
        last = self.entries[-1].face
        draw_figure(canvas, self.edition, last, figure, (Element("Div", "back.figure"),))
        y = canvas.height * 0.54
        y = self._line(canvas, self._words("book-title", self.maker.name, 0.6), y, "P", side) + 10
        for text, link in reach(self.maker):
            words = self._words("book-cell", text, 1.2)
            high = words.height(canvas.width - 2 * side)
            marks, ink = words.glyphs((side, y, canvas.width - side, y + high), "centre")
            path: tuple[Element, ...] = (Element("P", f"back.{text}"),)
            if link:
                path = (*path, Element("Link", f"back.{text}.link"))
            canvas.put(marks, path, link, ink if link else None)
            canvas.take(ink, "address")
            y += high + 5


def reach(maker: Maker) -> list[tuple[str, str]]:
    """Return the ways to reach the maker, each with its live link or none."""
    town = ", ".join(part for part in (maker.city, maker.state) if part)
    place = f"{town} {maker.postcode}, {country(maker.country)}"
    ways = [(", ".join(part for part in (maker.street, place) if part), "")]
    if maker.phone:
        ways.append((maker.phone, telephone(maker.phone)))
    if maker.email:
        ways.append((maker.email, f"mailto:{maker.email}"))
    if maker.site:
        site = maker.site if "://" in maker.site else f"https://{maker.site}"
        ways.append((maker.site, site))
    return ways


def telephone(number: str) -> str:
    """Return a telephone link: digits, and a plus where one leads (RFC 3966, 3)."""
    digits = "".join(letter for letter in number if letter.isdigit())
    return f"tel:+{digits}" if number.strip().startswith("+") else f"tel:{digits}"
