"""How long the checker takes for full sheets, beside bare rendering and decoding of the same page.

    python tests/bench/bench_checker.py [rounds] [sheets of the long run]

A sheet has thirty labels with thirty different codes. PDFium renders the page at 300 dpi and
zxing-cpp finds and reads every code on it: that is what a check would be that looks at the codes
and at nothing else. Ours reads the file with all its fonts, follows every operator, measures
every glyph, renders the page, reads the codes where they stand, computes what each product must
say where it is sold, and holds every label against it.

Times are of the processor, except for the long run, which several processes share: there the
clock on the wall counts, and says something only where the machine has nothing else to do.
"""

from __future__ import annotations

import datetime as dt
import gc
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest import mock

import pypdfium2 as pdfium
import zxingcpp

from labeler.app.print_request import PrintRequest
from labeler.app.print_run import print_pieces
from labeler.catalog.read import read_catalog
from labeler.checker import pieces, worker
from labeler.checker.claims import NAME, ProductLine, read_run_sheet
from labeler.checker.judge import check_bytes, check_pdf
from labeler.checker.page.sides import PageReader
from labeler.checker.pdf.file import CheckedPdf
from labeler.checker.subject import CheckRequest
from labeler.codes import lot_code
from tests.one_lot import print_one_lot

DEMO = Path(__file__).parents[2] / "demo_catalog"
DAY = dt.date(2026, 11, 25)
ROUNDS = 9
DPI = 300
SHEETS_IN_A_RUN = 12
SHEETS_IN_A_LONG_RUN = 100


def sheet(folder: Path) -> Path:
    """Print one sheet of thirty labels, each of another product."""
    out = folder / "sheet.pdf"
    wanted = tuple(product.sku for product in read_catalog(DEMO).products[:30])
    lot = lot_code.LotForm().write(DAY, 1)
    print_one_lot(PrintRequest(folder=DEMO, out=out, use="bags", skus=wanted, day=DAY), lot)
    return out


def run(folder: Path, sheets: int) -> Path:
    """Print at least so many sheets that all differ: each begins at another product."""
    out = folder / f"run-of-{sheets}.pdf"
    count = -(-sheets * 30 // len(read_catalog(DEMO).products))
    print_pieces(PrintRequest(folder=DEMO, out=out, use="bags", count=count, day=DAY))
    return out


def rendered(data: bytes) -> Any:
    """Render the first page in greys, and do nothing else."""
    with pdfium.PdfDocument(data) as document:
        return document[0].render(scale=DPI / 72, grayscale=True).to_numpy().squeeze()


def decoded(data: bytes) -> int:
    """Render the first page and read every code that is found on it."""
    return len(zxingcpp.read_barcodes(rendered(data)))


def measured(data: bytes) -> int:
    """Open the file and measure its first page: glyphs, shapes, codes and what is seen of them."""
    document = CheckedPdf(data, "sheet.pdf")
    claims = read_run_sheet(document.attached(NAME) or b"", "sheet.pdf")
    reader = PageReader(document, DEMO, claims.dpi, True)
    sides, *_ = reader.read(document.pages()[0], claims.pages[1])
    reader.close()
    return sum(bool(code.text) for side in sides for code in side.codes)


def checked(data: bytes, line: ProductLine | None = None) -> int:
    """Check the file from its bytes to its report; the catalog is read anew if none is given."""
    question = CheckRequest(Path("sheet.pdf"), DEMO, DAY, line=line)
    report = check_bytes(data, question, None, None, trusted=True)
    assert not report.stops, report.as_text()
    return report.pages


def seconds(jobs: dict[str, Callable[[], Any]], rounds: int) -> dict[str, float]:
    """Return the least processor time that each job takes over a few rounds, once warm.

    In a round every job has its turn, so that a busy machine slows all of them alike.
    """
    best = dict.fromkeys(jobs, float("inf"))
    for job in jobs.values():
        job()
    for _ in range(rounds):
        for name, job in jobs.items():
            gc.collect()
            start = time.process_time()
            job()
            best[name] = min(best[name], time.process_time() - start)
    return best


def long_run(path: Path) -> None:
    """Print how long a run of many sheets takes by the clock, in one process and in several."""
    took: dict[int, float] = {}
    counts = sorted({1, worker.workers_for(10**6, 10**6)})
    for count in counts:
        with mock.patch.object(pieces, "workers_for", return_value=count):
            start = time.perf_counter()
            report = check_pdf(path, DEMO, day=DAY)
            took[count] = time.perf_counter() - start
        assert not report.stops, report.as_text()
        print(
            f"  {report.pieces:,} labels on {report.pages} sheets, {count} process"
            f"{'es' if count > 1 else ''}: {took[count]:.1f} s by the clock, "
            f"{report.pages / took[count]:.1f} pages/s"
        )


def main(rounds: int, sheets: int) -> None:
    """Print the tables."""
    line = ProductLine.of(read_catalog(DEMO))
    with tempfile.TemporaryDirectory() as folder:
        one = sheet(Path(folder)).read_bytes()
        many = run(Path(folder), SHEETS_IN_A_RUN).read_bytes()
        codes = decoded(one), measured(one)
        pages = checked(many)
        bare = f"PDFium renders, zxing-cpp reads ({codes[0]} codes)"
        run_of_many = f"ours: a page of a run of {pages} sheets, all included"
        took = seconds(
            {
                "PDFium renders the page": lambda: rendered(one),
                bare: lambda: decoded(one),
                f"ours: the page measured ({codes[1]} codes)": lambda: measured(one),
                "ours: the whole check of one file, catalog read too": lambda: checked(one),
                "ours: the same before delivery, the catalog at hand": lambda: checked(one, line),
                run_of_many: lambda: checked(many),
            },
            rounds,
        )
        took[run_of_many] /= pages
        print(f"30 labels a sheet at {DPI} dpi, best of {rounds}, processor seconds a page\n")
        for name, time_ in took.items():
            ratio = time_ / took[bare]
            print(f"  {name:<54}{time_:8.3f}{1 / time_:9.1f} pages/s{ratio:7.2f} x")
        if sheets:
            print("\na long run, nothing read before")
            long_run(run(Path(folder), sheets))


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    main(*(given + [ROUNDS, SHEETS_IN_A_LONG_RUN][len(given) :]))
