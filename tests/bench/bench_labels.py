"""Labels drawn by us, beside the same marks drawn by hand with the PDF library, and by Typst.

Run ``python -m tests.bench.bench_labels`` with the ``bench`` extra installed. It draws 300, 3,000
and 30,000 labels all alike and 3,000 all different (own SKU, own lot, own QR), 30 a page, five
lines of text and a QR code each, every case in a process of its own, and prints seconds, the
ratio and peak memory. Nothing here is a test: a timing is a measurement, not a promise.

By hand means bare reportlab: ``drawString`` for each of the five lines and one filled path for
the code, made by the plain ``qrcode`` call. Typst sets the same five lines with the same font and
places the code as one path; its codes come from our encoder, or from the plain ``qrcode`` call,
and their making is in its time. Each process draws one label before the clock starts, so that
nobody's imports are counted. Work is the processors' time, which other programs on the machine
disturb less; the first ratio is of work, the second of seconds, for which all cores count.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

HERE = Path(__file__).resolve().parent
OWN = HERE / "own"
ROOT = HERE.parents[1]
SIZE = (189.0, 72.0)
COLUMNS, ROWS = 3, 10
LEFT, TOP, PITCH = 13.5, 36.0, (198.0, 72.0)
SIZES = (11, 8, 8, 8, 8)
FACE = ROOT / "fonts" / "BarlowCondensed-Medium.ttf"


def lines_of(number: int) -> tuple[str, ...]:
    """Return the five lines of label ``number``."""
    return (
        "Reedmace",
        "Sunday Bream",
        "7.08 g hook 3/0",
        f"RM-14-30-{number:05d}",
        f"26329{number:05d}",
    )


def link_of(number: int) -> str:
    """Return the link of label ``number``, 47 letters: a QR code of 29 modules at level L."""
    return f"https://go.example.com/p/RM-{number:05d}/lot/26329{number:05d}"


# ------------------------------------------------------------------------------------------ ours


def ours(count: int, alike: bool) -> bytes:
    """Draw with the whole of our own way: template, layout, imposition, press."""
    import tomllib

    from labeler.catalog.model import CatalogFile, Product
    from labeler.layout.alike import set_alike
    from labeler.layout.compose import Composed, Composer, Job, compose_each
    from labeler.memory import gc_paused
    from labeler.press.impose import PieceOrder, Ticket, impose
    from labeler.press.pdf.run import write_pdf
    from labeler.press.sheets import find_sheet
    from labeler.units import Weight

    file = CatalogFile.model_validate(
        tomllib.loads((ROOT / "demo_catalog" / "catalog.toml").read_text("utf-8"))
    )
    pattern = file.patterns["reedmace"]
    head = file.heads[pattern.head]
    product = Product(
        sku="RM-14-30-00000",
        pattern=pattern,
        weight=Weight.parse("1/4 oz"),
        hook_size="3/0",
        colour=file.colours["sunday-bream"],
        head=head,
        hook=file.hooks[pattern.hook],
        materials={head.alloy: file.materials[head.alloy], "silicone": file.materials["silicone"]},
        maker=file.maker,
        markets=file.sale.markets,
    )

    def job(number: int) -> Job:
        return Job(
            product.model_copy(update={"sku": lines_of(number)[3]}),
            "five-lines",
            SIZE,
            lot=lines_of(number)[4],
            link=link_of(number),
        )

    with gc_paused():  # as `labeler.bench.laying` does
        jobs = [job(0)] if alike else [job(number) for number in range(count)]
        composer = Composer(OWN)
        alone = [each for each in compose_each(composer, jobs) if isinstance(each, Composed)]
        made = set_alike(composer, jobs, alone)
        orders = [PieceOrder(each.piece, count if alike else 1) for each in made]
    target = BytesIO()
    write_pdf(impose(orders, find_sheet("letter-3x10")), target, Ticket(title="Bench"))
    return target.getvalue()


# ---------------------------------------------------------------------------------------- by hand


def by_hand(count: int, alike: bool) -> bytes:
    """Draw every label in full with bare reportlab and the plain ``qrcode`` call."""
    import qrcode
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    def modules(number: int) -> list[list[bool | None]]:
        code = qrcode.QRCode(border=0, error_correction=qrcode.constants.ERROR_CORRECT_L)
        code.add_data(link_of(number))
        code.make(fit=True)
        grid: list[list[bool | None]] = code.modules
        return grid

    pdfmetrics.registerFont(TTFont("Face", str(FACE)))
    target = BytesIO()
    canvas = Canvas(target, pagesize=(612, 792), initialFontName="Face", pageCompression=1)
    first = modules(0) if alike else None
    for index in range(count):
        cell = index % (COLUMNS * ROWS)
        if index and cell == 0:
            canvas.showPage()
        number = 0 if alike else index
        x = LEFT + cell % COLUMNS * PITCH[0]
        y = 792 - TOP - cell // COLUMNS * PITCH[1]
        baseline = y - 14
        for line, size in zip(lines_of(number), SIZES, strict=True):
            canvas.setFont("Face", size)
            canvas.drawString(x + 6, baseline, line)
            baseline -= size + 2
        grid = first or modules(number)
        module = 1.4
        path = canvas.beginPath()
        for row, cells in enumerate(grid):
            column = 0
            while column < len(cells):
                if not cells[column]:
                    column += 1
                    continue
                end = column
                while end < len(cells) and cells[end]:
                    end += 1
                path.rect(
                    x + 130 + column * module,
                    y - 12 - (row + 1) * module,
                    (end - column) * module,
                    module,
                )
                column = end
        canvas.drawPath(path, stroke=0, fill=1)
    canvas.save()
    return target.getvalue()


# ------------------------------------------------------------------------------------------ Typst


def typst(count: int, alike: bool, plain_codes: bool) -> bytes:
    """Set like labels with Typst, the codes made here and handed over as path data."""
    import typst as engine

    encode: Callable[[int], list[list[int]]] = _plain_rectangles if plain_codes else _our_rectangles
    records = [
        {"lines": lines_of(n), "bars": encode(n)}
        for n in ([0] * count if alike else range(count))
    ]  # fmt: skip
    source = """
#set page(width: 612pt, height: 792pt, margin: 0pt)
#set text(font: "Barlow Condensed", weight: 500)
#let data = json("labels.json")
#let label(one) = box(width: 189pt, height: 72pt, {
  place(dx: 6pt, dy: 6pt, stack(spacing: 2pt,
    text(size: 11pt, one.lines.at(0)), ..one.lines.slice(1).map(l => text(size: 8pt, l))))
  place(dx: 130pt, dy: 12pt, curve(fill: black,
    ..one.bars.map(b => (curve.move((b.at(0) * 1.4pt, b.at(1) * 1.4pt)),
      curve.line((b.at(2) * 1.4pt, 0pt), relative: true),
      curve.line((0pt, 1.4pt), relative: true),
      curve.line((b.at(2) * -1.4pt, 0pt), relative: true),
      curve.close())).flatten()))
})
#for page in data.chunks(30) {
  place(dx: 13.5pt, dy: 36pt, grid(columns: 3 * (198pt,), rows: 72pt, ..page.map(label)))
  pagebreak(weak: true)
}
"""
    with tempfile.TemporaryDirectory() as room:
        folder = Path(room)
        (folder / "labels.json").write_text(json.dumps(records))
        (folder / "labels.typ").write_text(source)
        return bytes(engine.compile(str(folder / "labels.typ"), font_paths=[str(ROOT / "fonts")]))


def _our_rectangles(number: int) -> list[list[int]]:
    from labeler.codes.qr import qr_symbol

    return [[int(n) for n in bar[:3]] for bar in qr_symbol(link_of(number), "L").bars]


def _plain_rectangles(number: int) -> list[list[int]]:
    import qrcode

    code = qrcode.QRCode(border=0, error_correction=qrcode.constants.ERROR_CORRECT_L)
    code.add_data(link_of(number))
    code.make(fit=True)
    bars = []
    for row, cells in enumerate(code.modules):
        column = 0
        while column < len(cells):
            end = column
            while end < len(cells) and cells[end]:
                end += 1
            if end > column:
                bars.append([column, row, end - column])
            column = max(end, column + 1)
    return bars


# -------------------------------------------------------------------------------------- measuring

WAYS: dict[str, Callable[[int, bool], bytes]] = {
    "ours": ours,
    "by hand": by_hand,
    "typst, our codes": lambda count, alike: typst(count, alike, plain_codes=False),
    "typst, plain codes": lambda count, alike: typst(count, alike, plain_codes=True),
}

CASES: tuple[tuple[int, bool, tuple[str, ...]], ...] = (
    (300, True, ("ours", "by hand")),
    (3_000, True, ("ours", "by hand")),
    (30_000, True, ("ours", "by hand")),
    (3_000, False, ("ours", "by hand", "typst, our codes", "typst, plain codes")),
)


def measure(way: str, count: int, alike: bool) -> tuple[float, float, float, int]:
    """Return seconds, work, peak memory in MB and the file's size, from a process of its own."""
    asked = json.dumps([way, count, alike])
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.bench_labels", asked],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    seconds, work, memory, size = json.loads(done.stdout)
    return seconds, work, memory, size


def one(way: str, count: int, alike: bool) -> None:
    """Run one case here and print what it took."""
    WAYS[way](1, alike)
    began, worked = time.perf_counter(), _work()
    drawn = WAYS[way](count, alike)
    seconds, work = time.perf_counter() - began, _work() - worked
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps([seconds, work, peak, len(drawn)]))


def _work() -> float:
    """Return the processors' time so far, that of processes that have ended with it."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def main() -> None:
    """Print the table."""
    print(
        f"{'case':<24}{'way':<22}{'seconds':>9}{'of work':>9}{'by hand / it':>14}"
        f"{'in seconds':>12}{'peak MB':>9}{'KB':>9}"
    )
    for count, alike, ways in CASES:
        case = f"{count:,} {'alike' if alike else 'different'}"
        taken = {way: measure(way, count, alike) for way in ways}
        base = taken.get("by hand")
        for way, (seconds, work, memory, size) in taken.items():
            ratio = f"{base[1] / work:.1f}" if base else "-"
            faster = f"{base[0] / seconds:.1f}" if base else "-"
            print(
                f"{case:<24}{way:<22}{seconds:>9.2f}{work:>9.2f}{ratio:>14}"
                f"{faster:>12}{memory:>9.0f}{size / 1024:>9.0f}"
            )


if __name__ == "__main__":
    if len(sys.argv) > 1:
        one(*json.loads(sys.argv[1]))
    else:
        main()
