"""How long the checker takes for a full sheet, beside bare rendering and decoding of the same page.

    python tests/bench/bench_checker.py [rounds]

The sheet has thirty labels with thirty different codes. PDFium renders the page at 300 dpi and
zxing-cpp finds and reads every code on it: that is what a check would be that looks at the codes
and at nothing else. Ours reads the file with all its fonts, follows every operator, measures
every glyph, renders the page, reads the codes where they stand, computes what each product must
say where it is sold, and holds every label against it.
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

import pypdfium2 as pdfium
import zxingcpp

from labeler.bench.printing import Wish, print_pieces
from labeler.checker.file import Document
from labeler.checker.judge import Question, check_bytes
from labeler.checker.pages import Reader
from labeler.checker.places import NAME, read_run_sheet
from labeler.codes.lotcode import LotForm

DEMO = Path(__file__).parents[2] / "demo_catalog"
DAY = dt.date(2026, 11, 25)
ROUNDS = 9
DPI = 300
SHEETS_IN_A_RUN = 12


def sheet(folder: Path) -> Path:
    """Print one sheet of thirty labels, each of another product."""
    out = folder / "sheet.pdf"
    wanted = ("RM-*", "GB-*", "MW-38-50-*")
    lot = LotForm().write(DAY, 1)
    print_pieces(Wish(folder=DEMO, out=out, use="bags", wanted=wanted, lot=lot, day=DAY))
    return out


def run(folder: Path) -> Path:
    """Print many sheets that all differ: each begins at another cell."""
    out = folder / "run.pdf"
    print_pieces(Wish(folder=DEMO, out=out, use="bags", count=4, day=DAY))
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
    document = Document(data, "sheet.pdf")
    claims = read_run_sheet(document.attached(NAME) or b"", "sheet.pdf")
    reader = Reader(document, DEMO, claims.dpi, True)
    sides, _, _ = reader.read(document.pages()[0], claims.pages[1])
    reader.close()
    return sum(bool(code.text) for side in sides for code in side.codes)


def checked(data: bytes) -> int:
    """Check the file from its bytes to its report, the catalog read anew."""
    report = check_bytes(data, Question(Path("sheet.pdf"), DEMO, DAY), None, None, trusted=True)
    assert not report.stops, report.as_text()
    return report.pages


def seconds(job: Callable[[], Any], rounds: int) -> float:
    """Return the least processor time that a job takes over a few rounds, once warm."""
    job()
    best = float("inf")
    for _ in range(rounds):
        gc.collect()
        start = time.process_time()
        job()
        best = min(best, time.process_time() - start)
    return best


def main(rounds: int) -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        one = sheet(Path(folder)).read_bytes()
        many = run(Path(folder)).read_bytes()
    codes = decoded(one), measured(one)
    bare = seconds(lambda: decoded(one), rounds)
    rows = {
        "PDFium renders the page": seconds(lambda: rendered(one), rounds),
        f"PDFium renders, zxing-cpp reads ({codes[0]} codes)": bare,
        f"ours: the page measured ({codes[1]} codes)": seconds(lambda: measured(one), rounds),
        "ours: the whole check, catalog and laws too": seconds(lambda: checked(one), rounds),
    }
    print(f"one sheet of 30 labels at {DPI} dpi, best of {rounds}, processor seconds a page\n")
    for name, took in rows.items():
        print(f"  {name:<50}{took:8.3f}{1 / took:9.1f} pages/s{took / bare:7.2f} x")
    pages = checked(many)
    took = seconds(lambda: checked(many), max(1, rounds // 4))
    print(
        f"\na run of {pages} sheets, {took / pages:.3f} seconds a page, {pages / took:.1f} pages/s"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS)
