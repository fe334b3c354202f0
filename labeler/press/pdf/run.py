"""A print run's PDF, of labels, cards or papers: each page is written at once and not kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import BinaryIO

from labeler.findings import LabelerError
from labeler.geometry import Box, Matrix, grown
from labeler.marks import KAPPA, Step, VectorPath
from labeler.memory import gc_paused
from labeler.press.impose import (
    MARK_WIDTH,
    Imposition,
    Page,
    Placed,
    Side,
    Ticket,
    cutting_marks,
)
from labeler.press.pdf.content import Content, clipped, moved
from labeler.press.pdf.document import PdfDocument, page_boxes, page_labels, preview_frame
from labeler.press.pdf.objects import Entries, Name, Ref, entries

_OUTLINE = "#808080"


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
    document = PdfDocument(target, ticket)
    press = _Press(plan, ticket, document)
    for count, page in enumerate(plan.pages(by_hand=ticket.printer.feed == "hand"), 1):
        press.print(page)
        if progress:
            progress(count)
    preferences = entries(ViewerPreferences=_viewer_preferences(plan, ticket))
    document.finish(preferences | page_labels(_labels(plan, ticket)), ticket.attached)


class _Press:
    """The pages of one PDF."""

    def __init__(self, plan: Imposition, ticket: Ticket, document: PdfDocument) -> None:
        self.plan = plan
        self.ticket = ticket
        self.document = document
        self.times = plan.times()
        self.forms: dict[tuple[int, Box], Ref] = {}
        self.boxes = _boxes(plan)
        self.last: dict[Side, tuple[tuple[Placed, ...], Entries]] = {}

    def print(self, page: Page) -> None:
        """Write one page. Identical sheets share their content."""
        last = self.last.get(page.side)
        if last is None or last[0] is not page.placed:
            about = self.document.page_entries(self.boxes, self._content(page))
            last = self.last[page.side] = page.placed, about
        self.document.add_page(last[1])

    def _content(self, page: Page) -> Content:
        grid = self.plan.grid
        a, b, c, d, e, f = self.ticket.printer.matrix(
            page.side, (grid.page_width, grid.page_height)
        )
        content = Content(self.document.shared)
        # The printer's correction, then y turned over, once for all.
        content.emit(moved((a, -b, c, -d, e, grid.page_height - f)))
        if self.ticket.preview:
            paper = 0.0, 0.0, grid.page_width, grid.page_height
            side = f", {page.side}" if self.plan.has_backs else ""
            sheets = f"sheet {page.sheet} of {self.plan.sheet_count}{side}"
            says = f"{self.plan.sheet.name}, {sheets}"
            content.draw_artifacts(preview_frame(paper, says, self.ticket.maker_folder))
        for placed in page.placed:
            try:
                self._place(content, placed)
            except LabelerError as error:
                raise _named(error, placed.piece.sku) from error
        content.draw_artifacts(self._lines(page))
        return content

    def _place(self, content: Content, placed: Placed) -> None:
        face = placed.face
        where = self._clip(placed) + moved(_corner(placed))
        to_punch = () if self.plan.sheet.punched else face.holes
        holes = [VectorPath(each.steps, stroke="#000000", width=MARK_WIDTH) for each in to_punch]
        if self.times[id(face)] == 1:
            content.place(where, face.marks, holes)
            return
        piece = placed.piece
        box = grown((0.0, 0.0, piece.width, piece.height), piece.bleed)
        form = self.forms.get((id(face), box))
        if form is None:
            form = self.document.shared.form(face.marks, box, holes)
            self.forms[id(face), box] = form
        content.place_object(where, form)

    def _clip(self, placed: Placed) -> str:
        """On die-cut sheets, keep a bleed off the neighbours: each cell has half the gutter."""
        piece, grid = placed.piece, self.plan.grid
        spare_x = (max(grid.pitch_x, grid.cell_width) - piece.width) / 2
        spare_y = (max(grid.pitch_y, grid.cell_height) - piece.height) / 2
        if piece.bleed <= min(spare_x, spare_y) or self.plan.sheet.kind == "card":
            return ""
        across, down = min(piece.bleed, spare_x), min(piece.bleed, spare_y)
        width, height = piece.width + 2 * across, piece.height + 2 * down
        return clipped(placed.x - across, placed.y - down, width, height)

    def _lines(self, page: Page) -> Iterator[VectorPath]:
        """Yield what is drawn beside the pieces: crop and fold marks, and the cells' outlines."""
        plan = self.plan
        if self.ticket.outline:
            grid = plan.grid
            for cell in range(1, grid.count + 1):
                left, top = grid.corner(cell)
                box = left, top, left + grid.cell_width, top + grid.cell_height
                yield _rounded_box(box, plan.sheet.radius)
        if plan.sheet.kind == "card":
            for placed in page.placed:
                yield from cutting_marks(plan.grid, plan.sheet.margin, placed)


def _viewer_preferences(plan: Imposition, ticket: Ticket) -> Entries:
    """Ask the viewer to print at true size, on the right sides, one of each.

    Source: ISO 32000-1:2008, table 150; Enforce is ISO 32000-2:2020, table 147.
    """
    duplex = "Simplex"
    if plan.has_backs and ticket.printer.feed == "auto":
        duplex = "DuplexFlipLongEdge" if plan.flip == "long-edge" else "DuplexFlipShortEdge"
    return entries(
        DisplayDocTitle=True, PrintScaling=Name("None"), Enforce=[Name("PrintScaling")],
        Duplex=Name(duplex), PickTrayByPDFSize=True, NumCopies=1,
    )  # fmt: skip


def _labels(plan: Imposition, ticket: Ticket) -> dict[int, Entries]:
    """Return the page labels: ``sheet 1``, or ``sheet 1 front`` and ``sheet 1 back``."""
    if not plan.has_backs:
        return {0: entries(S=Name("D"), P="sheet ")}
    if ticket.printer.feed == "hand":
        sides = ((0, "front"), (plan.sheet_count, "back"))
        return {first: entries(S=Name("D"), P=f"{side} of sheet ") for first, side in sides}
    return {
        2 * (sheet - 1) + page: {"P": f"sheet {sheet} {side}"}
        for sheet in range(1, plan.sheet_count + 1)
        for page, side in enumerate(("front", "back"))
    }


def _boxes(plan: Imposition) -> Entries:
    grid = plan.grid
    media = 0.0, 0.0, grid.page_width, grid.page_height
    trim = bleed = media
    if plan.sheet.kind == "card":
        right, top = grid.page_width - grid.right, grid.page_height - grid.top
        trim = grid.left, grid.bottom, right, top
        bleed = grown(trim, max(order.piece.bleed for order in plan.orders))
    return page_boxes(media, bleed, trim)


def _corner(placed: Placed) -> Matrix:
    """Return the matrix that takes a piece's own top left corner to where it lies."""
    if placed.turn:
        return -1, 0, 0, -1, placed.x + placed.piece.width, placed.y + placed.piece.height
    return 1, 0, 0, 1, placed.x, placed.y


def _rounded_box(box: Box, radius: float) -> VectorPath:
    """Return the outline of ``box`` with corners of ``radius``."""
    left, top, right, bottom = box
    r = max(0.0, min(radius, (right - left) / 2, (bottom - top) / 2))
    k = r * (1 - KAPPA)
    steps: list[Step] = [("M", left + r, top)]
    corners = (
        (right, top, 1, 0), (right, bottom, 0, 1), (left, bottom, -1, 0), (left, top, 0, -1)
    )  # fmt: skip
    for x, y, a, b in corners:  # the way to the corner; from it on, it is turned to the right
        steps.append(("L", x - a * r, y - b * r))
        if r:
            handles = x - a * k, y - b * k, x - b * k, y + a * k
            steps.append(("C", *handles, x - b * r, y + a * r))
    return VectorPath((*steps, ("Z",)), stroke=_OUTLINE, width=MARK_WIDTH)


def _named(error: LabelerError, sku: str) -> LabelerError:
    """Return the error with the piece named in each finding that names none."""
    findings = [
        finding
        if finding.place.piece or finding.place.file
        else replace(finding, place=replace(finding.place, piece=sku))
        for finding in error.findings
    ]
    return LabelerError(findings, error.exit_status)
