"""The specimen: every layout in each ink, with a product of the maker's own, named and to scale."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from labeler.app.papers import paper_for
from labeler.app.print_request import Labels
from labeler.app.print_run import job_of
from labeler.book.edition import page_size
from labeler.book.typesetting import (
    GREY,
    HAIR,
    Canvas,
    ColumnBox,
    Paragraph,
    Typesetter,
    Unit,
    Words,
    flow,
    validate_page,
)
from labeler.catalog.model import Product
from labeler.catalog.read import choose, readable
from labeler.files import delivered, refuse_to_bury
from labeler.findings import Finding, LabelerError, Place, note, refusal
from labeler.geometry import Box
from labeler.layout.compose import Composer
from labeler.layout.index import LayoutSpec, Size, Use, read_index, suiting
from labeler.marks import BookPage, Element, Group, InkMode, Piece, PieceSide, VectorPath, rectangle
from labeler.press.impose import PieceOrder, Ticket, impose
from labeler.press.pdf.book import Binding, write_book
from labeler.press.pdf.run import write_pdf
from labeler.press.sheets import Sheet, all_sheets, whole_page
from labeler.units import NO_BREAK_SPACE, dimensions

_INKS: tuple[tuple[InkMode, str], ...] = (("colour", "in color"), ("black", "in black"))
_SIDE, _TOP, _FOOT, _APART = 36.0, 34.0, 40.0, 18.0
_CAPTION = 13.0
"""Points below a piece for the words that name it."""

_FOLD_DASH = (2.0, 2.0)


@dataclass(frozen=True, slots=True)
class SpecimenMade:
    """What was written: the file, its product, the layouts on it."""

    out: Path
    sku: str
    pages: int
    layouts: tuple[str, ...]
    findings: tuple[Finding, ...]


def make_specimen(folder: Path, words: str, out: Path) -> SpecimenMade:
    """Write every layout in each ink with one product, to look at.

    Nothing of it is a print: no cell is used, nothing is put on record, and every page says so.

    Args:
        folder: the catalog's.
        words: a SKU or the words of one product.
        out: the PDF; it appears whole or not at all.

    Raises:
        LabelerError: if the catalog can't be read, there is no such product or several are meant,
            or the file can't be written.
    """
    refuse_to_bury(out)
    catalog, findings = readable(folder)
    said = list(findings)
    chosen = choose(catalog, [words], said)
    if len(chosen) > 1:
        raise refusal(
            "sku-several", Place(key="specimen"), "a specimen shows one product",
            found=f"{words!r} means {len(chosen)}", expected=f"one, such as {chosen[0].sku}",
        )  # fmt: skip
    index = read_index(folder)
    shown = _Shown(folder, index, Labels(chosen[0], 1), said)
    packs = bool(chosen[0].parts)
    parts = [shown.part(one) for one in index.values() if one.packs == packs]
    pages = _SpecimenPages(Typesetter(folder), chosen[0])
    drawn = pages.lay([part for part in parts if part is not None])
    title = f"Specimen, {chosen[0].name}"
    with delivered(out) as file:
        ticket = Ticket(title, author=catalog.file.maker.name, maker_folder=folder)
        write_book(drawn, (), file, ticket, Binding())
    names = tuple(part.spec.name for part in parts if part is not None)
    return SpecimenMade(out, chosen[0].sku, len(drawn), names, tuple(said))


@dataclass(frozen=True, slots=True)
class ShownPiece:
    """A product's piece by one of the layouts that hold it, and the sheet whose cell it fills.

    ``sheet`` is empty for a card, whose cells follow it.
    """

    spec: LayoutSpec
    sheet: str
    piece: Piece

    def pdf(self, folder: Path) -> bytes:
        """Return the piece as a PDF of its size, a page for each side.

        Args:
            folder: the catalog's, whose own typefaces come first.
        """
        made = io.BytesIO()
        page = whole_page("piece", self.piece.width, self.piece.height)
        title = f"{self.piece.sku}, {self.spec.name}"
        write_pdf(
            impose([PieceOrder(self.piece, 1)], page), made, Ticket(title, maker_folder=folder)
        )
        return made.getvalue()


def pieces_of(
    folder: Path, labels: Labels, use: Use, ink: InkMode, sheet: str = ""
) -> tuple[tuple[ShownPiece, ...], tuple[Finding, ...]]:
    """Return the piece of a product by every layout that holds it, and which do not.

    Args:
        folder: the catalog's.
        labels: the product, and its lot if it has one.
        use: bag labels or card-backs.
        ink: in colour or in black.
        sheet: the sheet whose cells are to be filled, where a layout is made for them.

    Raises:
        LabelerError: if a layout, or a file of the maker's own, is at fault.
    """
    said: list[Finding] = []
    index = read_index(folder)
    shown = _Shown(folder, index, labels, said, ((ink, ""),), sheet)
    packs = bool(labels.product.parts)
    specs = [spec for spec in index.values() if (spec.use, spec.packs) == (use, packs)]
    parts = [part for part in map(shown.part, specs) if part is not None]
    return tuple(ShownPiece(one.spec, one.sheet, one.pieces[0][0]) for one in parts), tuple(said)


@dataclass(frozen=True, slots=True)
class _SpecimenPart:
    """One layout: the piece in each ink, and where it goes."""

    spec: LayoutSpec
    sheet: str
    pieces: tuple[tuple[Piece, str], ...]


@dataclass(frozen=True, slots=True)
class _Shown:
    """Lays the product out by one layout after the other; what does not fit is told."""

    folder: Path
    index: Mapping[str, LayoutSpec]
    labels: Labels
    said: list[Finding]
    inks: tuple[tuple[InkMode, str], ...] = _INKS
    first: str = ""
    day: dt.date = field(
        default_factory=lambda: dt.datetime.now().date(),  # noqa: DTZ005  (the maker's own day)
        init=False,
    )

    def part(self, spec: LayoutSpec) -> _SpecimenPart | None:
        """Return a layout at the first of its sizes that holds the product, the usual one first."""
        refused: LabelerError | None = None
        for sheet, size in self._sizes(spec):
            try:
                pieces = tuple((self._piece(spec, size, ink), words) for ink, words in self.inks)
            except LabelerError as error:
                refused = refused or error
                continue
            return _SpecimenPart(spec, sheet, pieces)
        why = refused.findings[0].message if refused else "no sheet here has cells of its size"
        self.said.append(
            note(
                "specimen-left-out",
                Place(piece=self.labels.product.sku),
                f"the layout {spec.name} is not shown",
                found=why,
            )
        )
        return None

    def _sizes(self, spec: LayoutSpec) -> Iterator[tuple[str, Size]]:
        """Yield where a layout is the usual one, on sheets of the maker's own paper first."""
        if spec.use == "cards":
            yield "", spec.size_for(self.labels.product.bag) or spec.least
            return
        wide = _paper(self.labels.product)[0]

        def other_paper(sheet: Sheet) -> int:
            if sheet.name == self.first:
                return -1
            return 1 if sheet.kind == "roll" else 2 * (abs(sheet.width - wide) > 1)

        for sheet in sorted(all_sheets(self.folder).values(), key=other_paper):
            if sheet.grid is not None:
                size = sheet.grid.cell_width, sheet.grid.cell_height
                asked = sheet.name == self.first
                if spec.suits(size) and (
                    asked or suiting(self.index, "bags", size, spec.packs) == spec
                ):
                    yield sheet.name, size

    def _piece(self, spec: LayoutSpec, size: Size, ink: InkMode) -> Piece:
        job = job_of(spec.use, self.labels, spec.name, size, self.day)
        return Composer(self.folder, ink=ink).compose(job)


def _paper(product: Product) -> Size:
    return page_size("a4" if paper_for(product.maker.country) == "a4" else "letter", booklet=False)


@dataclass(frozen=True, slots=True)
class _SpecimenPages:
    """The pages of a specimen."""

    setter: Typesetter
    product: Product

    def lay(self, parts: Sequence[_SpecimenPart]) -> list[partial[BookPage]]:
        """Return the pages, each ready to be drawn."""
        height, width = _paper(self.product)  # lying, so that both inks stand side by side
        column = ColumnBox(_SIDE, _TOP, width - _SIDE, height - _FOOT)
        units = [*self._head(), *(unit for part in parts for unit in self._part(part, column))]
        pages = flow(units, (column,), where="specimen")

        def draw(number: int) -> BookPage:
            canvas = Canvas(width, height)
            pages[number].draw(canvas)
            y = height - _FOOT + 14
            foot = f"{self.product.maker.name} · page {number + 1} of {len(pages)}"
            for text, align in (("Specimen, not for use", "left"), (foot, "right")):
                words = self._words("book-running", text, "foot")
                at = ColumnBox(_SIDE, y, width - _SIDE, y + 12)
                edge = (at.left, at.top, at.right, at.bottom)
                canvas.write(words, edge, (), align="left" if align == "left" else "right")
            validate_page(canvas, "specimen", number + 1)
            return canvas.page()

        return [partial(draw, number) for number in range(len(pages))]

    def _words(self, style: str, text: str, block: str, scale: float = 1.0) -> Words:
        place = Place(block=block)
        return self.setter.words(style, text, place=place, scale=scale, least=3.0)

    def _head(self) -> Iterator[Unit]:
        path, product = (Element("Sect", "head"),), self.product
        title = self._words("book-title", "Every layout, to scale", "title", 0.62)
        yield Paragraph(self._words("maker", product.maker.name, "maker"),
                        (*path, Element("P", "head.maker")), keep=True)  # fmt: skip
        yield Paragraph(title, (*path, Element("H1", "head.title")), gap=8, keep=True)
        which = self._words("colour", f"{product.name} · {product.sku}", "product")
        yield Paragraph(which, (*path, Element("P", "head.product")), gap=3, keep=True,
                        rule_below=7)  # fmt: skip

    def _part(self, part: _SpecimenPart, column: ColumnBox) -> Iterator[Unit]:
        spec, piece = part.spec, part.pieces[0][0]
        path = (Element("Sect", f"layout.{spec.name}"),)
        on = f" · {part.sheet}" if part.sheet else " · card stock"
        size = dimensions(piece.width, piece.height)
        about = ("book-cell", f"{NO_BREAK_SPACE * 3}{size}{on} · {spec.about}")
        words = self.setter.words("book-heading", spec.name, about, place=Place(block="layout"),
                                  scale=0.85, least=3.0)  # fmt: skip
        yield Paragraph(words, (*path, Element("H2", f"{spec.name}.name")), gap=20, keep=True)
        by_ink = [[self._shot(spec, piece, face, ink) for face in piece.faces]
                  for piece, ink in part.pieces]  # fmt: skip
        together = [shot for shots in by_ink for shot in shots]
        rows = [together] if _wide(together) <= column.width else by_ink
        yield from (_SpecimenRow(row, path, gap=9) for row in rows)

    def _shot(self, spec: LayoutSpec, piece: Piece, face: PieceSide, ink: str) -> _Shot:
        words = f"{face.name}, {ink}" if len(piece.faces) > 1 else ink
        says = f"{spec.name}, {words}: {piece.sku}"
        return _Shot(piece, face, self._words("note", words, "caption"), says)


@dataclass(frozen=True, slots=True)
class _Shot:
    """One side of a piece, and the words below it."""

    piece: Piece
    face: PieceSide
    words: Words
    says: str


def _wide(shots: Sequence[_Shot]) -> float:
    return sum(shot.piece.width for shot in shots) + _APART * (len(shots) - 1)


@dataclass(slots=True)
class _SpecimenRow(Unit):
    """Sides of pieces beside each other, at their true size."""

    shots: Sequence[_Shot]
    path: tuple[Element, ...]
    gap: float = field(default=8.0, kw_only=True)

    def height(self, width: float) -> float:
        """Return the height of the highest, with its words."""
        return max(shot.piece.height for shot in self.shots) + _CAPTION

    def draw(self, canvas: Canvas, box: Box) -> None:
        """Draw each with its edge, its holes and folds."""
        left, top = box[0], box[1]
        for shot in self.shots:
            piece, face = shot.piece, shot.face
            trim = (0.0, 0.0, piece.width, piece.height)
            lines = [VectorPath(hole.steps, stroke=GREY, width=HAIR) for hole in face.holes]
            lines += [
                VectorPath((("M", 0.0, fold), ("L", piece.width, fold)), stroke=GREY, width=HAIR,
                           dash=_FOLD_DASH)
                for fold in face.folds
            ]  # fmt: skip
            edge = rectangle(trim, stroke=GREY, width=HAIR)
            figure = Element("Figure", f"shot.{shot.says}", shot.says)
            marks = Group((1.0, 0.0, 0.0, 1.0, left, top), (*face.marks, *lines, edge), trim)
            canvas.put([marks], (*self.path, figure))
            place = (left, top, left + piece.width, top + piece.height)
            canvas.take(place, shot.says)
            below = (left, place[3] + 3.5, place[2], place[3] + _CAPTION)
            canvas.write(shot.words, below, (*self.path, Element("Caption", f"{figure.key}.words")))
            left += piece.width + _APART
