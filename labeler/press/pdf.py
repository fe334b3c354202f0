"""A plan becomes a PDF: pages are written as they are placed, and none is kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import BinaryIO

from labeler.findings import LabelerError
from labeler.geometry import Box, Matrix
from labeler.marks import VectorPath
from labeler.memory import gc_paused
from labeler.press.impose import MARK_WIDTH, Imposition, Page, Placed, Side, Ticket, cutting_marks
from labeler.press.pdf_catalog import catalog_entries, info_entries
from labeler.press.pdf_content import Content, Inkwell
from labeler.press.pdf_file import PdfFile
from labeler.press.pdf_ink import moved
from labeler.press.pdf_picture import Pictures
from labeler.press.pdf_type import TypeCase
from labeler.press.sheets import rounded_box

_OUTLINE = "#808080"
_DIE_LINE = "#000000"


@gc_paused()
def write_pdf(
    plan: Imposition,
    target: BinaryIO,
    ticket: Ticket,
    progress: Callable[[int], None] | None = None,
) -> None:
    """Write the plan's pages to ``target``. The same plan and ticket give the same bytes.

    Die-cut sheets and rolls are trimmed already: their trim box is the sheet. On card stock it
    is the box around all pieces, and the bleed box that with its bleed, so that crop marks lie
    outside both.

    Args:
        plan: what lies where.
        target: a file open for writing; needs no seeking.
        ticket: title, language, printer and the like.
        progress: called after each page with the number of pages so far.

    Raises:
        LabelerError: if a face lacks letters, or a font or picture can't be embedded.
    """
    file = PdfFile(target)
    press = _Press(plan, ticket, file)
    for count, page in enumerate(plan.pages(by_hand=ticket.printer.feed == "hand"), 1):
        press.print(page)
        if progress:
            progress(count)
    file.finish(catalog_entries(file, plan, ticket), info_entries(ticket))


class _Press:
    """The pages of one PDF."""

    def __init__(self, plan: Imposition, ticket: Ticket, file: PdfFile) -> None:
        self.plan = plan
        self.ticket = ticket
        self.file = file
        self.well = Inkwell(file, TypeCase(file, ticket.own), Pictures(file))
        self.times = plan.times()
        self.forms: dict[tuple[int, Box], int] = {}
        self.boxes = _page_boxes(plan)
        self.last: dict[Side, tuple[tuple[Placed, ...], str]] = {}

    def print(self, page: Page) -> None:
        """Write one page. Identical sheets share their content."""
        last = self.last.get(page.side)
        if last is None or last[0] is not page.placed:
            content = self._content(page)
            number = self.file.add_stream(content.data())
            entries = f"{self.boxes}/Contents {number} 0 R/Resources{content.resources()}"
            last = self.last[page.side] = page.placed, entries
        self.file.add_page(last[1])

    def _content(self, page: Page) -> Content:
        content = Content(self.well)
        content.emit(moved(self._turn_over(page.side)))
        for placed in page.placed:
            try:
                self._place(content, placed)
            except LabelerError as error:
                raise _named(error, placed.piece.sku) from error
        content.draw_artifacts(self._lines(page))
        return content

    def _turn_over(self, side: Side) -> Matrix:
        """Return the page's matrix: the printer's correction, then y turned over, once for all."""
        grid = self.plan.grid
        a, b, c, d, e, f = self.ticket.printer.matrix(side, (grid.page_width, grid.page_height))
        return a, -b, c, -d, e, grid.page_height - f

    def _place(self, content: Content, placed: Placed) -> None:
        face = placed.face
        where = self._clip(placed) + moved(_corner(placed))
        holes = () if self.plan.sheet.punched else tuple(_die_line(hole) for hole in face.holes)
        if self.times[id(face)] == 1:
            content.place(where, face.marks, holes)
            return
        box = _with_bleed(placed)
        number = self.forms.get((id(face), box))
        if number is None:
            number = self.forms[id(face), box] = self.well.form(face.marks, box, holes)
        content.place_object(where, number)

    def _clip(self, placed: Placed) -> str:
        """On die-cut sheets, keep a bleed off the neighbours: each cell has half the gutter."""
        piece, grid = placed.piece, self.plan.grid
        spare_x = (max(grid.pitch_x, grid.cell_width) - piece.width) / 2
        spare_y = (max(grid.pitch_y, grid.cell_height) - piece.height) / 2
        if piece.bleed <= min(spare_x, spare_y) or self.plan.sheet.kind == "card":
            return ""
        across, down = min(piece.bleed, spare_x), min(piece.bleed, spare_y)
        return (
            f"{placed.x - across:.3f} {placed.y - down:.3f} "
            f"{piece.width + 2 * across:.3f} {piece.height + 2 * down:.3f} re W n "
        )

    def _lines(self, page: Page) -> Iterator[VectorPath]:
        """Yield what is drawn beside the pieces: crop and fold marks, and the cells' outlines."""
        plan = self.plan
        if self.ticket.outline:
            grid = plan.grid
            for cell in range(1, grid.count + 1):
                left, top = grid.corner(cell)
                box = left, top, left + grid.cell_width, top + grid.cell_height
                yield rounded_box(box, plan.sheet.radius, _OUTLINE, MARK_WIDTH)
        if plan.sheet.kind == "card":
            for placed in page.placed:
                yield from cutting_marks(plan.grid, plan.sheet.margin, placed)


def _page_boxes(plan: Imposition) -> str:
    """Return MediaBox, BleedBox and TrimBox, each inside the one before."""
    grid = plan.grid
    media = 0.0, 0.0, grid.page_width, grid.page_height
    trim = bleed = media
    if plan.sheet.kind == "card":
        trim = (
            grid.left, grid.bottom, grid.page_width - grid.right, grid.page_height - grid.top
        )  # fmt: skip
        most = max(order.piece.bleed for order in plan.orders)
        bleed = trim[0] - most, trim[1] - most, trim[2] + most, trim[3] + most
    boxes = (("MediaBox", media), ("BleedBox", bleed), ("TrimBox", trim))
    return "".join(f"/{name}[{' '.join(f'{x:.4f}' for x in box)}]" for name, box in boxes)


def _corner(placed: Placed) -> Matrix:
    """Return the matrix that takes a piece's own top left corner to where it lies."""
    if placed.turn:
        return -1, 0, 0, -1, placed.x + placed.piece.width, placed.y + placed.piece.height
    return 1, 0, 0, 1, placed.x, placed.y


def _with_bleed(placed: Placed) -> Box:
    piece = placed.piece
    return -piece.bleed, -piece.bleed, piece.width + piece.bleed, piece.height + piece.bleed


def _die_line(hole: VectorPath) -> VectorPath:
    """Return the hole as a hairline to punch along."""
    return VectorPath(hole.steps, stroke=_DIE_LINE, width=MARK_WIDTH)


def _named(error: LabelerError, sku: str) -> LabelerError:
    """Return the error with the piece named in each finding that names none."""
    findings = [
        finding
        if finding.place.piece or finding.place.file
        else replace(finding, place=replace(finding.place, piece=sku))
        for finding in error.findings
    ]
    return LabelerError(findings, error.exit_status)
