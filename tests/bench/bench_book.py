"""A dealer's book of 1,200 products, beside the same marks drawn by hand, and two typesetters.

Run ``python -m tests.bench.bench_book`` with the ``bench`` extra installed. The line has ten
patterns of six weights in twenty colours each, all different, and a photo a pattern: about 100
pages with some 200 figures, 1,200 QR codes and tables of 1,200 rows. Each case runs in a process
of its own, which first makes a book of one pattern, so that nobody's imports are counted.

``ours`` is the making: catalog read, pages laid out and looked over, file written. ``checked`` is
the whole command, which reads the finished file back as well, in the same process. ``by hand``
draws the very marks of those pages with bare reportlab; they are laid out before its clock starts,
and a figure that comes again is a form, as in ours. ``weasyprint`` and ``typst`` set a like book
(see ``book_typeset.py``). Work is the processors' time, children included, which other programs on
the machine disturb less; the peak is that of the largest process. Nothing here is a test: a timing
is a measurement, not a promise.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.bench.book_typeset import typst, weasyprint

ROOT = Path(__file__).resolve().parents[2]
DAY = dt.date(2026, 11, 25)

# ------------------------------------------------------------------------------------------ ours


def ours(folder: Path) -> Callable[[], bytes]:
    """Make the whole book, from the catalog's files to the PDF."""
    from labeler.app.book import BookRequest, edition_of
    from labeler.book.make import make_book
    from labeler.catalog.read import read_catalog
    from labeler.press.impose import Ticket
    from labeler.press.pdf.book import Binding, write_book

    def run() -> bytes:
        out = folder / "book.pdf"
        edition = edition_of(BookRequest(folder, out, day=DAY), read_catalog(folder))
        book = make_book(edition)
        with out.open("wb") as file:
            ticket = Ticket(title="Dealer catalog", maker_folder=folder)
            write_book(book.pages, book.headings, file, ticket, Binding(facts=edition.facts()))
        return out.read_bytes()

    return run


def checked(folder: Path) -> Callable[[], bytes]:
    """Make the whole book and check it, as the command does."""
    from labeler.app.book import BookRequest, make_catalog_book

    def run() -> bytes:
        out = folder / "book.pdf"
        make_catalog_book(BookRequest(folder, out, day=DAY))
        return out.read_bytes()

    return run


# --------------------------------------------------------------------------------------- by hand


def by_hand(folder: Path) -> Callable[[], bytes]:
    """Draw the same marks with bare reportlab; they are laid out before the clock starts."""
    from labeler.app.book import BookRequest, edition_of
    from labeler.book.make import make_book
    from labeler.catalog.read import read_catalog

    edition = edition_of(BookRequest(folder, folder / "x.pdf", day=DAY), read_catalog(folder))
    leaves = [draw() for draw in make_book(edition).pages]

    def run() -> bytes:
        from reportlab.pdfgen.canvas import Canvas

        out = io.BytesIO()
        canvas = Canvas(out, pageCompression=1)
        hand = Hand(canvas)
        for leaf in leaves:
            canvas.setPageSize((leaf.width, leaf.height))
            canvas.transform(1, 0, 0, -1, 0, leaf.height)
            for passage in leaf.passages:
                hand.draw(passage.marks)
            canvas.showPage()
        canvas.save()
        return out.getvalue()

    return run


class Hand:
    """Draws marks as one does with the library: strings, paths, forms."""

    def __init__(self, canvas: Any) -> None:
        self.canvas = canvas
        self.faces: set[str] = set()
        self.forms: set[str] = set()

    def draw(self, marks: Any) -> None:
        """Draw the marks in their order."""
        from labeler import marks as kinds

        for mark in marks:
            if isinstance(mark, kinds.Glyphs):
                self.glyphs(mark)
            elif isinstance(mark, kinds.VectorPath):
                self.path(mark)
            elif isinstance(mark, kinds.Group):
                self.group(mark)
            elif isinstance(mark, kinds.Code):
                self.code(mark)
            else:
                self.picture(mark)

    def glyphs(self, run: Any) -> None:
        """Draw a string."""
        from reportlab.lib.colors import HexColor
        from reportlab.pdfbase import pdfmetrics
        from reportlab.pdfbase.ttfonts import TTFont

        from labeler.type.faces import typeface

        if run.face not in self.faces:
            pdfmetrics.registerFont(TTFont(run.face, str(typeface(run.face).path)))
            self.faces.add(run.face)
        canvas = self.canvas
        canvas.saveState()
        canvas.setFillColor(HexColor(run.ink))
        canvas.setFont(run.face, run.size)
        canvas.transform(1, 0, 0, -1, run.x, run.y)
        canvas.drawString(0, 0, run.text)
        canvas.restoreState()

    def path(self, path: Any) -> None:
        """Draw a path."""
        from reportlab.lib.colors import HexColor

        canvas = self.canvas
        drawn = canvas.beginPath()
        ways = {"M": drawn.moveTo, "L": drawn.lineTo, "C": drawn.curveTo, "Z": drawn.close}
        for step in path.steps:
            ways[step[0]](*step[1:])
        if path.fill:
            canvas.setFillColor(HexColor(path.fill))
        if path.stroke:
            canvas.setStrokeColor(HexColor(path.stroke))
            canvas.setLineWidth(path.width)
            canvas.setLineCap(1 if path.round_ends else 0)
            canvas.setDash(list(path.dash))
        canvas.drawPath(drawn, stroke=bool(path.stroke), fill=bool(path.fill))

    def group(self, group: Any) -> None:
        """Draw a group, as a form if it has a key."""
        canvas = self.canvas
        if group.key and group.key not in self.forms:
            left, top, right, bottom = group.box
            canvas.beginForm(group.key, left, top, right, bottom)
            self.draw(group.marks)
            canvas.endForm()
            self.forms.add(group.key)
        canvas.saveState()
        canvas.transform(*group.matrix)
        if group.key:
            canvas.doForm(group.key)
        else:
            self.draw(group.marks)
        canvas.restoreState()

    def code(self, code: Any) -> None:
        """Draw a code as one path of rectangles."""
        canvas = self.canvas
        drawn = canvas.beginPath()
        for x, y, wide, tall in code.bars:
            drawn.rect(
                code.left + x * code.module, code.top + y * code.module,
                wide * code.module, tall * code.module,
            )  # fmt: skip
        canvas.setFillColorRGB(0, 0, 0)
        canvas.drawPath(drawn, stroke=0, fill=1)

    def picture(self, picture: Any) -> None:
        """Draw a picture."""
        from reportlab.lib.utils import ImageReader

        canvas = self.canvas
        canvas.saveState()
        canvas.transform(1, 0, 0, -1, picture.x, picture.y + picture.height)
        image = ImageReader(io.BytesIO(picture.image.data))
        canvas.drawImage(image, 0, 0, picture.width, picture.height)
        canvas.restoreState()


# ------------------------------------------------------------------------------------- measuring

WAYS = {
    "ours": ours,
    "checked": checked,
    "by hand": by_hand,
    "weasyprint": weasyprint,
    "typst": typst,
}
CASES = (
    (10, 20, ("ours", "checked", "by hand", "weasyprint", "typst")),
    (17, 20, ("ours", "checked")),
)
"""Patterns and colours a pattern, six weights each: 1,200 products, then 2,040."""


def one(way: str, patterns: int, colours: int) -> None:
    """Run one case here and print what it took."""
    with tempfile.TemporaryDirectory() as name:
        WAYS[way](_line(Path(name) / "one", 1, 2))()
        run = WAYS[way](_line(Path(name) / "line", patterns, colours))
        began, worked = time.perf_counter(), _work()
        drawn = run()
        seconds, work = time.perf_counter() - began, _work() - worked
    peak = _peak()
    import pypdfium2

    pages = len(pypdfium2.PdfDocument(drawn))
    print(json.dumps([seconds, work, peak, len(drawn), pages]))


def _line(folder: Path, patterns: int, colours: int) -> Path:
    """Write a line in a process of its own: its photos take more memory than the book."""
    asked = [
        sys.executable,
        "-m",
        "tests.bench.book_line",
        str(folder),
        str(patterns),
        str(colours),
    ]
    subprocess.run(asked, cwd=ROOT, check=True)
    return folder


def _children() -> list[Path]:
    """Return where Linux tells of the processes that this one has started."""
    lists = Path("/proc/self/task").glob("*/children")
    return [Path("/proc") / number for one in lists for number in one.read_text().split()]


def _work() -> float:
    """Return the processors' time of this process and of its children so far, in seconds."""
    ticks = sum(
        sum(map(int, (child / "stat").read_text().rpartition(")")[2].split()[11:13]))
        for child in _children()
    )
    return time.process_time() + ticks / os.sysconf("SC_CLK_TCK")


def _peak() -> float:
    """Return the peak of the largest process, in MB."""
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    said = [(child / "status").read_text().partition("VmHWM:")[2] for child in _children()]
    return max(own, *(int(text.split()[0]) for text in said if text), 0) / 1024


def main() -> None:
    """Print the table."""
    print(
        f"{'products':<10}{'way':<14}{'seconds':>9}{'of work':>9}{'pages':>7}"
        f"{'peak MB':>9}{'KB':>9}"
    )
    for patterns, colours, ways in CASES:
        for way in ways:
            asked = json.dumps([way, patterns, colours])
            done = subprocess.run(
                [sys.executable, "-m", "tests.bench.bench_book", asked],
                cwd=ROOT,
                capture_output=True,
                text=True,
                check=False,
            )
            if done.returncode:
                why = done.stderr.strip().splitlines()[-1:] or ["no word why"]
                print(f"{patterns * colours * 6:<10,}{way:<14} not run: {why[0][:70]}")
                continue
            seconds, work, memory, size, pages = json.loads(done.stdout.splitlines()[-1])
            print(
                f"{patterns * colours * 6:<10,}{way:<14}{seconds:>9.2f}{work:>9.2f}"
                f"{pages:>7}{memory:>9.0f}{size / 1024:>9.0f}"
            )


if __name__ == "__main__":
    if len(sys.argv) > 1:
        one(*json.loads(sys.argv[1]))
    else:
        main()
