"""A dealer's book of 1,200 products, beside the same marks drawn by hand, and two typesetters.

Run ``python tests/bench/bench_book.py`` with the ``bench`` extra installed. The line has ten
patterns of six weights in twenty colours each, all different, and a photo a pattern: about 100
pages with some 200 figures, 1,200 QR codes and tables of 1,200 rows. Each case runs in a process
of its own, which first makes a book of one pattern, so that nobody's imports are counted.

``ours`` is everything: catalog read, pages laid out, file written. ``by hand`` draws the very
marks of those pages with bare reportlab; they are laid out before its clock starts, and a figure
that comes again is a form, as in ours. ``weasyprint`` and ``typst`` set a like book from texts,
figures as SVG and codes as SVG, all prepared before their clock starts: heading, story, photo,
plate and table of each pattern, and the codes. Work is the processors' time, which
other programs on the machine disturb less. Nothing here is a test: a timing is a measurement,
not a promise.
"""

from __future__ import annotations

import base64
import datetime as dt
import io
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
WEIGHTS = ("1/4 oz", "3/8 oz", "1/2 oz", "5/8 oz", "3/4 oz", "1 oz")
STORY = "It swims level through standing reeds and rolls a little when you pause. " * 5
DAY = dt.date(2026, 11, 25)

HEAD = """
[maker]
name = "Dock & Daughter"
city = "Nowhere"
postcode = "54000"
links = "https://go.example.com"
[sale]
markets = ["US"]
[materials.lead]
name = "Hard lead"
kind = "alloy"
composition = { lead = "97 %", antimony = "3 %" }
[materials.silicone]
name = "Silicone"
kind = "silicone"
[heads.swim]
name = "Swim head"
style = "swim"
alloy = "lead"
[hooks.stout]
name = "Stout hook"
[guards.brush]
name = "Brush"
[tiers.dealer]
name = "Dealer"
off = "40 %"
"""


def write_line(folder: Path, patterns: int, colours: int) -> Path:
    """Write a line of so many patterns, each in colours of its own, with a photo."""
    import numpy as np
    from PIL import Image

    parts = [HEAD]
    (folder / "photos").mkdir(parents=True)
    for number in range(patterns):
        names = [f"c{number}x{shade}" for shade in range(colours)]
        for shade, name in enumerate(names):
            ink = (number * 104729 + shade * 7919 + 0x304050) % 0x1000000
            parts.append(
                f'[colours.{name}]\ncode = "{number}X{shade}"\nname = "Color {number} {shade}"\n'
                f'layers = [{{ material = "silicone", shade = "one", ink = "#{ink:06x}", strands = '
                f'22 }}, {{ material = "silicone", shade = "two", ink = "#3a5a2c", strands = 14, '
                f'seat = "belly" }}]\n'
            )
        shown = ", ".join(f'"{name}"' for name in names)
        weights = ", ".join(f'"{weight}"' for weight in WEIGHTS)
        parts.append(
            f'[patterns.p{number}]\ncode = "P{number}"\nname = "Pattern {number}"\n'
            f'kind = "swim jig"\nhead = "swim"\nhook = "stout"\nguard = "brush"\n'
            f'hook_sizes = ["4/0"]\n'
            f'weights = [{weights}]\ncolours = [{shown}]\nprice = "4.95"\nphoto = "p{number}.jpg"\n'
            f'story = "{STORY}"\n'
        )
        across, down = np.meshgrid(np.arange(1200), np.arange(800))
        waves = np.stack([across * (number + 2) % 256, down % 256, (across + down) % 256], axis=-1)
        Image.fromarray(waves.astype("uint8")).save(folder / "photos" / f"p{number}.jpg")
    (folder / "catalog.toml").write_text("\n".join(parts), encoding="utf-8")
    return folder


# ------------------------------------------------------------------------------------------ ours


def ours(folder: Path) -> Callable[[], bytes]:
    """Make the whole book, from the catalog's files to the PDF."""
    from labeler.bench.books import BookWish, make_catalog_book

    def run() -> bytes:
        out = folder / "book.pdf"
        make_catalog_book(BookWish(folder, out, day=DAY))
        return out.read_bytes()

    return run


# --------------------------------------------------------------------------------------- by hand


def by_hand(folder: Path) -> Callable[[], bytes]:
    """Draw the same marks with bare reportlab; they are laid out before the clock starts."""
    from labeler.bench.books import BookWish, edition_of
    from labeler.book.make import make_book
    from labeler.catalog.read import read_catalog

    edition = edition_of(BookWish(folder, folder / "x.pdf", day=DAY), read_catalog(folder))
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
        from labeler.layout import marks as kinds

        for mark in marks:
            if isinstance(mark, kinds.Glyphs):
                self.glyphs(mark)
            elif isinstance(mark, kinds.Path):
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

        from labeler.typefaces import typeface

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


# ----------------------------------------------------------------------------------- typesetters


def prepared(folder: Path) -> tuple[list[Any], dict[str, str], dict[str, str]]:
    """Return the entries, each colourway's figure and each product's code as SVG."""
    from labeler.book.codes import link_of
    from labeler.book.entries import entries_of
    from labeler.catalog.read import read_catalog
    from labeler.codes.qr import qr
    from labeler.layout.figure import draw_jig
    from labeler.layout.marks import Code
    from labeler.press.svg import svg

    entries = list(entries_of(read_catalog(folder).products))
    figures, codes = {}, {}
    for entry in entries:
        for product in entry.colourways:
            group = draw_jig(product)
            figures[product.colour.code] = svg([group], group.box)
        for product in entry.products:
            symbol = qr(link_of(product))
            side = symbol.columns
            code = Code("qr", symbol.payload, 0, 0, side, side, 0, 0, 1, symbol.bars)
            codes[product.sku] = svg([code], (0, 0, side, side))
    return entries, figures, codes


def weasyprint(folder: Path) -> Callable[[], bytes]:
    """Set a like book as HTML with WeasyPrint."""
    entries, figures, codes = prepared(folder)

    def data(text: str) -> str:
        return "data:image/svg+xml;base64," + base64.b64encode(text.encode()).decode()

    def run() -> bytes:
        from weasyprint import HTML

        parts = [
            "<style>@page{size:letter;margin:0.75in}h1{break-before:page}td{border-bottom:.2pt "
            "solid #666}.plate img{width:30%}.codes img{width:34pt}</style>"
        ]
        for entry in entries:
            photo = (folder / "photos" / entry.pattern.photo).as_uri()
            parts.append(f"<h1>{escape(entry.pattern.name)}</h1><p>{escape(STORY)}</p>")
            parts.append(f'<img src="{photo}" width="300"><div class="plate">')
            parts += [
                f'<img src="{data(figures[p.colour.code])}">{escape(p.colour.name)}'
                for p in entry.colourways
            ]
            parts.append("</div><table><thead><tr><th>Color<th>SKU<th>Price</tr></thead>")
            parts += [
                f"<tr><td>{escape(p.colour.name)}<td>{p.sku}<td>$2.97<td>$5.94<td>40 %<td>$4.95"
                for p in entry.products
            ]
            parts.append('</table><div class="codes">')
            parts += [f'<img src="{data(codes[p.sku])}">{p.sku}' for p in entry.products]
            parts.append("</div>")
        pdf: bytes = HTML(string="".join(parts)).write_pdf()
        return pdf

    return run


def typst(folder: Path) -> Callable[[], bytes]:
    """Set a like book with Typst; figures and codes lie beside it as SVG files."""
    import typst as typesetter

    entries, figures, codes = prepared(folder)
    for name, text in figures.items():
        (folder / f"f{name}.svg").write_text(text, encoding="utf-8")
    for name, text in codes.items():
        (folder / f"q{name}.svg").write_text(text, encoding="utf-8")
    face = ROOT / "fonts"

    def run() -> bytes:
        parts = ['#set page(paper: "us-letter", margin: 0.75in)\n#set text(font: "Barlow Condensed"'
                 ", size: 8pt)\n"]  # fmt: skip
        for entry in entries:
            parts.append(f"#pagebreak(weak: true)\n= {entry.pattern.name}\n{STORY}\n\n")
            parts.append(f'#image("photos/{entry.pattern.photo}", width: 300pt)\n')
            cells = ", ".join(
                f'[#image("f{p.colour.code}.svg") {p.colour.name}]' for p in entry.colourways
            )
            parts.append(f"#grid(columns: 3, gutter: 12pt, {cells})\n")
            rows = ", ".join(
                f"[{p.colour.name}], [{p.sku}], [\\$2.97], [\\$5.94], [40 %], [\\$4.95]"
                for p in entry.products
            )
            head = "table.header([Color], [SKU], [Price], [Keystone], [Margin], [Retail])"
            parts.append(f"#table(columns: 6, {head}, {rows})\n")
            shown = ", ".join(
                f'[#image("q{p.sku}.svg", width: 34pt) {p.sku}]' for p in entry.products
            )
            parts.append(f"#grid(columns: 3, gutter: 6pt, {shown})\n")
        source = folder / "book.typ"
        source.write_text("".join(parts), encoding="utf-8")
        pdf: bytes = typesetter.compile(str(source), font_paths=[str(face)])
        return pdf

    return run


# ------------------------------------------------------------------------------------- measuring

WAYS = {"ours": ours, "by hand": by_hand, "weasyprint": weasyprint, "typst": typst}
CASES = (
    (10, 20, ("ours", "by hand", "weasyprint", "typst")),
    (17, 20, ("ours",)),
)
"""Patterns and colours a pattern, six weights each: 1,200 products, then 2,040."""


def one(way: str, patterns: int, colours: int) -> None:
    """Run one case here and print what it took."""
    with tempfile.TemporaryDirectory() as name:
        WAYS[way](write_line(Path(name) / "one", 1, 2))()
        run = WAYS[way](write_line(Path(name) / "line", patterns, colours))
        began, worked = time.perf_counter(), time.process_time()
        drawn = run()
        seconds, work = time.perf_counter() - began, time.process_time() - worked
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    import pypdfium2

    pages = len(pypdfium2.PdfDocument(drawn))
    print(json.dumps([seconds, work, peak, len(drawn), pages]))


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
                [sys.executable, __file__, asked], capture_output=True, text=True, check=False
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
