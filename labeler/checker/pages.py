"""From one page of a file to the sides of pieces that stand on it, measured."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from labeler.checker import codes_seen, ink
from labeler.checker.content import ContentInterpreter, Library, words_of
from labeler.checker.file import Document, PageEntry, UnreadableError, content_of
from labeler.checker.geometry import IDENTITY, Matrix, times
from labeler.checker.limits import limit
from labeler.checker.objects import look, sequence, text_of
from labeler.checker.places import PlaceClaim
from labeler.checker.raster import OpenPdf
from labeler.checker.repeats import Arrangement, Known, Repeats
from labeler.checker.rulebook import asks, finding
from labeler.checker.seen import Drawn, Glyph
from labeler.checker.sides import SeenSide, part
from labeler.findings import Finding, Place

USUAL_DPI = 300.0
"""The resolution at which a page is looked at where the printer's is not known."""


class StrangePageError(Exception):
    """A page holds what our press never writes, and is to be read by a process of its own."""


class ReadPage(NamedTuple):
    """What stands on a page."""

    sides: list[SeenSide]
    """Those that were read, in the claims' order."""
    keys: list[Hashable]
    """For each claim, the same for sides that are alike; None for one like no other."""
    strays: list[Glyph]
    """The type that is on no side."""
    odd: list[Finding]


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
        self._repeats = Repeats()
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
        self,
        page: PageEntry,
        claims: Sequence[PlaceClaim],
        known: Known = lambda claim, key: False,
        alone: Collection[Hashable] = (),
    ) -> ReadPage:
        """Return what stands on a page. Of sides that are drawn alike one alone is read.

        Args:
            page: the page.
            claims: the sides that it claims to hold.
            known: tells whether a side was read before, by the key of its looks.
            alone: keys of sides that are to be read each by itself.

        Raises:
            TooMuchError: if the page asks for more than any page of labels.
            StrangePageError: if the file is trusted and the page holds what our press never writes.
        """
        place = Place(file=self.document.name, page=page.number)
        if max(page.size) > limit("page-points"):
            found = f"{page.size[0] / 72:.0f} by {page.size[1] / 72:.0f} inches"
            return ReadPage([], [], [], [finding("page-too-large", place, found=found)])
        follower = self._follow(page, lay_aside=True)
        drawn, laid_over = follower.drawn, list(_laid_over(page))
        in_part = bool(follower.placements) and not laid_over
        in_part = in_part and self._repeats.recognise(follower)
        if not in_part:
            follower.follow_all()
        if self.trusted and (laid_over or drawn.untold):
            raise StrangePageError
        try:
            raster = self._open.page(page.number, self.dpi)
        except ValueError as error:
            return ReadPage([], [], [], [finding("file-damaged", place, found=str(error)[:120])])
        few: Arrangement | None = None
        if in_part:
            few = self._repeats.arrange(
                follower, claims, raster.objects(), _to_page(page), known, alone
            )
        if few is None:
            follower.follow_all()
        if few is not None and few.box is not None:
            raster.narrow(few.box)
        drawn.in_order()
        ink.look_at(drawn, raster, laid_over=bool(laid_over))
        codes = codes_seen.codes_on(drawn, raster, [claim.box for claim in claims])
        wanted = None if few is None else few.read
        sides, strays = part(drawn, codes, claims, raster, self.document.name, wanted)
        keys: list[Hashable] = [None] * len(claims)
        if few is not None:
            keys = few.keys
            self._repeats.note_strays(follower, claims, strays)
        return ReadPage(sides, keys, strays, list(_odd(drawn, laid_over, place)))

    def _follow(self, page: PageEntry, lay_aside: bool = False) -> ContentInterpreter:
        whole = (0.0, 0.0, *page.size)
        follower = ContentInterpreter(
            self._library, Drawn(*page.size), _to_page(page), whole, lay_aside=lay_aside
        )
        follower.run(words_of(content_of(page)), page.resources)
        return follower


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
