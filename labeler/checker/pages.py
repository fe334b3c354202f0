"""From one page of a file to the sides of pieces that stand on it, measured."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from labeler.checker import codes_seen, ink
from labeler.checker.content import ContentInterpreter, Library, words_of
from labeler.checker.file import Document, PageEntry, UnreadableError, content_of
from labeler.checker.geometry import IDENTITY, Matrix, times
from labeler.checker.limits import limit
from labeler.checker.objects import look, sequence, text_of
from labeler.checker.places import PlaceClaim
from labeler.checker.raster import OpenPdf
from labeler.checker.rulebook import asks, finding
from labeler.checker.seen import Drawn, Glyph
from labeler.checker.sides import SeenSide, part
from labeler.findings import Finding, Place

USUAL_DPI = 300.0
"""The resolution at which a page is looked at where the printer's is not known."""


class StrangePageError(Exception):
    """A page holds what our press never writes, and is to be read by a process of its own."""


class Reader:
    """Reads the pages of one file, one after another.

    Raises:
        UnreadableError: if PDFium can't open the file.
    """

    def __init__(self, document: Document, own: Path, dpi: float | None, trusted: bool) -> None:
        self.document = document
        self.dpi = dpi or USUAL_DPI
        self.trusted = trusted
        self._library = Library(own)
        try:
            self._open = OpenPdf(document.data)
        except ValueError as error:
            raise UnreadableError(
                finding("file-damaged", document.place, found=str(error)[:120])
            ) from error

    def close(self) -> None:
        """Let the file go."""
        self._open.close()

    @property
    def unfamiliar_fonts(self) -> set[str]:
        """The fonts whose letters could not be held against a face on the shelf."""
        fonts = self._library.fonts.values()
        return {each.font.name for each in fonts if not each.font.familiar}

    def read(
        self, page: PageEntry, claims: Sequence[PlaceClaim]
    ) -> tuple[list[SeenSide], list[Glyph], list[Finding]]:
        """Return the sides on a page, the type on none, and what is odd about the page.

        Raises:
            TooMuchError: if the page asks for more than any page of labels.
            StrangePageError: if the file is trusted and the page holds what our press never writes.
        """
        place = Place(file=self.document.name, page=page.number)
        if max(page.size) > limit("page-points"):
            found = f"{page.size[0] / 72:.0f} by {page.size[1] / 72:.0f} inches"
            return [], [], [finding("page-too-large", place, found=found)]
        drawn = self._follow(page)
        laid_over = list(_laid_over(page))
        if self.trusted and (laid_over or drawn.untold):
            raise StrangePageError
        try:
            raster = self._open.page(page.number, self.dpi)
        except ValueError as error:
            return [], [], [finding("file-damaged", place, found=str(error)[:120])]
        ink.look_at(drawn, raster, laid_over=bool(laid_over))
        codes = codes_seen.codes_on(drawn, raster)
        sides, strays = part(drawn, codes, claims, raster, self.document.name)
        return sides, strays, list(_odd(drawn, laid_over, place))

    def _follow(self, page: PageEntry) -> Drawn:
        drawn = Drawn(*page.size)
        whole = (0.0, 0.0, *page.size)
        follower = ContentInterpreter(self._library, drawn, _to_page(page), whole)
        follower.run(words_of(content_of(page)), page.resources)
        return drawn


def _to_page(page: PageEntry) -> Matrix:
    """Return the matrix from the page's own coordinates to how it is looked at, y down.

    Source: ISO 32000-1:2008, table 30, Rotate: clockwise, in quarters.
    """
    left, bottom, right, top = page.box
    wide, high = right - left, top - bottom
    flipped: Matrix = (1.0, 0.0, 0.0, -1.0, -left, top)
    quarters: dict[int, Matrix] = {
        90: (0.0, 1.0, -1.0, 0.0, high, 0.0),
        180: (-1.0, 0.0, 0.0, -1.0, wide, high),
        270: (0.0, -1.0, 1.0, 0.0, 0.0, wide),
    }
    return times(flipped, quarters.get(page.rotate, IDENTITY))


def _laid_over(page: PageEntry) -> Iterator[str]:
    """Yield the kinds of annotations on a page that may be printed."""
    listed = sequence(look(page.entry, "/Annots"))
    for at in range(min(len(listed), _MOST_ANNOTATIONS)):
        entry = look(listed, at)
        kind = text_of(look(entry, "/Subtype")) or "unnamed"
        if kind != "Link" or look(entry, "/AP") is not None:
            yield kind


_MOST_ANNOTATIONS = 1_000


@asks("page-laid-over", "page-untold", "page-too-large")
def _odd(drawn: Drawn, laid_over: Sequence[str], place: Place) -> Iterator[Finding]:
    if laid_over:
        yield finding("page-laid-over", place, found=", ".join(sorted(set(laid_over))))
    if drawn.untold:
        yield finding("page-untold", place, found=", ".join(sorted(drawn.untold)))
