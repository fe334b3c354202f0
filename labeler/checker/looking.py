"""Looks at the pages of a run: what stands on each side, and what is wrong with it by itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager

from labeler.checker.abreast import abreast, hands
from labeler.checker.file import Document, UnreadableError, read_bytes
from labeler.checker.line import ProductLine
from labeler.checker.pages import Reader
from labeler.checker.pieces import PageSeen, look_at_side
from labeler.checker.places import NAME, RunClaim, read_run_sheet
from labeler.checker.question import CheckRequest, LotBook
from labeler.checker.rulebook import asks, finding
from labeler.checker.rules import placing
from labeler.checker.subjects import Subjects
from labeler.checker.sweeping import unswept
from labeler.findings import Place

Look = Callable[[int], PageSeen]
"""Returns what stands on a page, by its number."""


@asks("run-sheet-missing")
def run_sheet(document: Document) -> RunClaim:
    """Return what the run sheet inside a file says.

    Raises:
        UnreadableError: if there is none, or none that can be understood.
    """
    data = document.attached(NAME)
    if data is None:
        raise UnreadableError(finding("run-sheet-missing", document.place))
    return read_run_sheet(data, document.name)


class Looker:
    """Looks at one page after another.

    Args:
        document: the file.
        question: what is checked.
        subjects: what its pieces have to be.
        trusted: whether our press wrote the file and nobody changed it.
    """

    def __init__(
        self, document: Document, question: CheckRequest, subjects: Subjects, trusted: bool
    ) -> None:
        self._name = document.name
        self._subjects = subjects
        self._pages = {page.number: page for page in document.pages()}
        self._reader = Reader(document, question.folder, subjects.run.dpi, trusted)

    def close(self) -> None:
        """Let the file go."""
        self._reader.close()

    @unswept()
    def look(self, number: int) -> PageSeen:
        """Return what stands on a page.

        Raises:
            TooMuchError: if the page asks for more than any page of labels.
            StrangePageError: if the file is trusted and the page holds what our press never writes.
        """
        run, line = self._subjects.run, self._subjects.line
        sides, strays, odd = self._reader.read(self._pages[number], run.pages[number])
        odd += placing.strays(strays, Place(file=self._name, page=number))
        results = []
        for side in sides:
            subject = self._subjects.of(side.claim.piece)
            if subject is not None:
                results.append(look_at_side(side, subject, line, run.dpi))
        return PageSeen(results, odd, sorted(self._reader.unfamiliar_fonts))


@contextmanager
def looking(
    document: Document,
    question: CheckRequest,
    subjects: Subjects,
    numbers: Sequence[int],
    trusted: bool,
    known_lot: LotBook | None,
) -> Iterator[Look]:
    """Lend what looks at pages, to be asked in the order of ``numbers``.

    Many pages of a file that our press wrote are looked at by several processes.
    """
    count = hands(len(numbers)) if trusted else 1
    if count > 1:
        lots = _lots(subjects.run, known_lot)
        with abreast(question, lots, numbers, count) as side_by_side:
            yield side_by_side.look
    else:
        with closing(Looker(document, question, subjects, trusted)) as looker:
            yield looker.look


def _lots(run: RunClaim, known_lot: LotBook | None) -> dict[str, object] | None:
    """Return what the ledger knows of every lot in the run."""
    if known_lot is None:
        return None
    codes = {claim.piece.lot for page in run.pages.values() for claim in page}
    return {code: known_lot(code) for code in sorted(codes) if code}


def look_at_pages(
    question: CheckRequest, line: ProductLine, known_lot: LotBook | None, numbers: Sequence[int]
) -> Iterator[PageSeen]:
    """Yield what stands on some pages of a file that our press wrote and nobody changed.

    Raises:
        UnreadableError: if the file can't be read any more.
    """
    document = Document(read_bytes(question.path), question.name)
    subjects = Subjects(question, line, run_sheet(document), known_lot)
    with closing(Looker(document, question, subjects, trusted=True)) as looker:
        yield from map(looker.look, numbers)
