"""The book's like, set by two general typesetters: the same texts, figures, codes and links.

Figures and codes are SVG, made before their clock starts; ours draws its own within its time.
What ours has and these do not: call-outs with lines to the parts, the table of markets, a check
that nothing lies on anything else. Typst has no fields to fill in.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator, Sequence
from html import escape
from pathlib import Path
from typing import Any

from tests.bench.book_line import STORY

ROOT = Path(__file__).resolve().parents[2]
FACTS = (
    ("Weights", "1/4, 3/8, 1/2, 5/8, 3/4, 1 oz"), ("Hook", "Stout hook, 4/0"),
    ("Head", "Swim head, hard lead"), ("Guard", "Brush"), ("Colors", "20"), ("Pack", "1"),
)  # fmt: skip
PARTS = (
    ("Head", "Swim head, hard lead"), ("Guard", "Brush"), ("Hook", "Stout hook, size 4/0"),
    ("Collar", "thread"), ("Skirt, outside first", "one 22, two 14"), ("Trim", "past the bend"),
)  # fmt: skip
WARNED = (
    "Contains lead. Sharp hook. Keep from children and pets. Wash hands after handling. "
    "Made for fishing, not a toy."
)
HEADS = ("Color", "SKU", "GTIN", "Dealer price", "Keystone", "Margin", "Retail", "Quantity")
PRICES = ("–", "$2.97", "$5.94", "40 %", "$4.95", "Pack of 1")


def prepared(folder: Path) -> tuple[list[Any], dict[str, str], dict[str, str], dict[str, str]]:
    """Return the entries, each colourway's figure and each product's code as SVG, and its link."""
    from labeler.book.edition import entries_of
    from labeler.catalog.read import read_catalog
    from labeler.codes.links import link_of
    from labeler.codes.qr import qr_symbol
    from labeler.drawing.jig import draw_jig
    from labeler.marks import VectorPath, rectangle
    from labeler.press.svg import svg

    entries = list(entries_of(read_catalog(folder).products))
    figures, codes, links = {}, {}, {}
    for entry in entries:
        for product in entry.colourways:
            group = draw_jig(product)
            figures[product.colour.code] = svg([group], group.box)
        for product in entry.products:
            links[product.sku] = link_of(product)
            symbol = qr_symbol(links[product.sku])
            side = symbol.columns
            bars = [rectangle((x, y, x + wide, y + tall)) for x, y, wide, tall in symbol.bars]
            code = VectorPath(tuple(step for bar in bars for step in bar.steps), fill="#000000")
            codes[product.sku] = svg([code], (0, 0, side, side))
    return entries, figures, codes, links


# -------------------------------------------------------------------------------------- weasyprint

STYLE = """
@page { size: letter; margin: 0.75in;
  @top-left { content: "Dock & Daughter · Dealer catalog"; font-size: 6pt }
  @bottom-right { content: counter(page) } }
body { font: 8pt "Barlow Condensed" } h1 { break-before: page }
td { border-bottom: .2pt solid #666 } table { width: 100%; border-collapse: collapse }
.plate > div { display: inline-block; width: 31% } .plate img { width: 100% }
.codes > div { display: inline-block; width: 32% } .codes img { width: 34pt }
.bar i, td i { display: inline-block; height: 4pt }
.parts > div { display: inline-block; width: 32% }
a.page::after { content: target-counter(attr(href), page) } .large { width: 60% }
td a { color: black } input { width: 30pt; height: 9pt; border: .3pt solid black }
"""


def weasyprint(folder: Path) -> Callable[[], bytes]:
    """Set a like book as HTML with WeasyPrint, tagged and with fields, as ours is."""
    entries, figures, codes, links = prepared(folder)

    def data(text: str) -> str:
        return "data:image/svg+xml;base64," + base64.b64encode(text.encode()).decode()

    shown = {name: data(text) for name, text in figures.items()}
    drawn = {sku: data(text) for sku, text in codes.items()}

    def run() -> bytes:
        from weasyprint import HTML

        parts = [
            "<html lang=en><title>Dealer catalog</title><style>",
            STYLE,
            "</style><h1>Contents</h1>",
        ]
        parts += [
            f'<p>{escape(e.pattern.name)} <a class="page" href="#{e.pattern.code}"></a></p>'
            for e in entries
        ]
        for entry in entries:
            parts += _pattern(entry, folder, shown, links)
        parts += _index(entries)
        parts.append("<h1>Codes to scan</h1>")
        for entry in entries:
            parts.append(f'<h2>{escape(entry.pattern.name)}</h2><div class="codes">')
            parts += [
                f'<div><img alt="QR code of {p.sku}" src="{drawn[p.sku]}"><a href="{links[p.sku]}">'
                f"{p.sku}<br>{escape(p.colour.name)}<br>{p.weight}, hook {p.hook_size}</a></div>"
                for p in entry.products
            ]
            parts.append("</div>")
        parts += _form(entries)
        pdf: bytes = HTML(string="".join(parts)).write_pdf(pdf_forms=True, pdf_tags=True)
        return pdf

    return run


def _bar(product: Any, width: int) -> str:
    layers = product.colour.layers
    whole = sum(layer.strands for layer in layers)
    return "".join(
        f'<i style="width:{width * layer.strands / whole:.1f}pt;background:{layer.ink}"></i>'
        for layer in layers
    )


def _pattern(
    entry: Any, folder: Path, figures: dict[str, str], links: dict[str, str]
) -> Iterator[str]:
    photo = (folder / "photos" / entry.pattern.photo).as_uri()
    yield f'<h1 id="{entry.pattern.code}">{escape(entry.pattern.name)}</h1><p>{escape(STORY)}</p>'
    yield "<table>" + "".join(f"<tr><th>{name}<td>{says}</tr>" for name, says in FACTS) + "</table>"
    yield f'<img alt="photo" src="{photo}" width="300">'
    face = figures[entry.colourways[0].colour.code]
    yield f'<div><img class="large" alt="anatomy" src="{face}"></div><div class="parts">'
    yield "".join(f"<div><b>{name}</b><br>{says}</div>" for name, says in PARTS) + "</div>"
    yield '<div class="plate">'
    for one in entry.colourways:
        name = escape(one.colour.name)
        yield f'<div><img alt="{name}" src="{figures[one.colour.code]}">'
        yield f'<div class="bar">{_bar(one, 150)}</div>{name}</div>'
    yield "</div>"
    yield from _prices(entry, links)


def _prices(entry: Any, links: dict[str, str]) -> Iterator[str]:
    yield "<table><thead><tr>" + "".join(f"<th>{head}" for head in HEADS) + "</tr></thead>"
    cells = "".join(f"<td>{price}" for price in PRICES)
    for group in entry.groups:
        yield f'<tr><th colspan="8">{group.weight} hook {group.hook_size}</tr>'
        yield f'<tr><td colspan="8">{WARNED}</tr>'
        for one in group.products:
            yield f"<tr><td>{_bar(one, 20)} {escape(one.colour.name)}"
            yield f'<td><a href="{links[one.sku]}">{one.sku}</a>{cells}</tr>'
    yield "</table>"


def _index(entries: Sequence[Any]) -> Iterator[str]:
    yield "<h1>Color index</h1>"
    for entry in entries:
        for one in entry.colourways:
            yield f"<p>{escape(one.colour.name)}, {escape(entry.pattern.name)} "
            yield f'<a class="page" href="#{entry.pattern.code}"></a></p>'


def _form(entries: Sequence[Any]) -> Iterator[str]:
    yield "<h1>Order form</h1><form>"
    for entry in entries:
        for group in entry.groups:
            yield f"<h3>{escape(entry.pattern.name)} {group.weight}</h3><table>"
            for place, one in enumerate(group.products):
                yield "<tr>" if place % 2 == 0 else ""
                yield f"<td>{one.sku} {escape(one.colour.name)}<td>$2.97"
                yield f'<td><input name="qty {one.sku}">'
            yield "</table>"
    yield "</form>"


# ------------------------------------------------------------------------------------------- typst


def typst(folder: Path) -> Callable[[], bytes]:
    """Set a like book with Typst; figures and codes lie beside it as SVG files."""
    import typst as typesetter

    entries, figures, codes, links = prepared(folder)
    for name, text in figures.items():
        (folder / f"f{name}.svg").write_text(text, encoding="utf-8")
    for name, text in codes.items():
        (folder / f"q{name}.svg").write_text(text, encoding="utf-8")

    def run() -> bytes:
        parts = [
            '#set page(paper: "us-letter", margin: 0.75in, numbering: "1", header: [Dock & '
            'Daughter · Dealer catalog])\n#set text(font: "Barlow Condensed", size: 8pt)\n'
            '#set document(title: "Dealer catalog")\n#outline()\n'
        ]
        for entry in entries:
            parts += _typst_pattern(entry, links)
        parts.append("#pagebreak()\n= Color index\n")
        parts += [
            f"{one.colour.name} #h(1fr) "
            f"#context counter(page).at(<{entry.pattern.code}>).first()\n\n"
            for entry in entries
            for one in entry.colourways
        ]
        parts.append("#pagebreak()\n= Codes to scan\n")
        for entry in entries:
            shown = ", ".join(
                f'[#image("q{p.sku}.svg", width: 34pt) #link("{links[p.sku]}")[{p.sku}, '
                f"{p.colour.name}, {p.weight}]]"
                for p in entry.products
            )
            parts.append(f"== {entry.pattern.name}\n#grid(columns: 3, gutter: 6pt, {shown})\n")
        parts.append("#pagebreak()\n= Order form\n")
        for entry in entries:
            rows = ", ".join(f"[{p.sku} {p.colour.name}], [\\$2.97], []" for p in entry.products)
            parts.append(f"#table(columns: 6, {rows})\n")
        source = folder / "book.typ"
        source.write_text("".join(parts), encoding="utf-8")
        pdf: bytes = typesetter.compile(str(source), font_paths=[str(ROOT / "fonts")])
        return pdf

    return run


def _typst_pattern(entry: Any, links: dict[str, str]) -> Iterator[str]:
    yield f"#pagebreak(weak: true)\n= {entry.pattern.name} <{entry.pattern.code}>\n{STORY}\n\n"
    facts = ", ".join(f"[{name}], [{says}]" for name, says in FACTS)
    yield f'#table(columns: 2, {facts})\n#image("photos/{entry.pattern.photo}", width: 300pt)\n'
    yield f'#image("f{entry.colourways[0].colour.code}.svg", width: 60%)\n'
    yield f"#grid(columns: 3, {', '.join(f'[*{name}* {says}]' for name, says in PARTS)})\n"
    cells = ", ".join(
        f'[#image("f{p.colour.code}.svg") #rect(width: 100%, height: 4pt, fill: '
        f'rgb("{p.colour.layers[0].ink}")) {p.colour.name}]'
        for p in entry.colourways
    )
    yield f"#grid(columns: 3, gutter: 12pt, {cells})\n"
    rows = []
    prices = ", ".join(f"[{price}]" for price in PRICES).replace("$", "\\$")
    for group in entry.groups:
        rows.append(f"table.cell(colspan: 8)[*{group.weight}* hook {group.hook_size}]")
        rows.append(f"table.cell(colspan: 8)[{WARNED}]")
        rows += [
            f'[{p.colour.name}], [#link("{links[p.sku]}")[{p.sku}]], {prices}'
            for p in group.products
        ]
    head = f"table.header({', '.join(f'[{name}]' for name in HEADS)})"
    yield f"#table(columns: 8, {head}, {', '.join(rows)})\n"
