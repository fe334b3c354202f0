"""All that blocks may ask for while a piece is laid out, beyond its markup."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from labeler.catalog.model import Product
from labeler.disclosures.statements import Statement
from labeler.findings import Finding, LabelerError, Place, did_you_mean, stop
from labeler.layout.markup import Node
from labeler.marks import Image, InkMode
from labeler.type.styles import Style, Styles, in_ink, style_named


@dataclass(frozen=True, slots=True)
class PrintedPicture:
    """A picture as it was printed, and the proportion that its block kept for it."""

    proportion: float
    image: Image


@dataclass(slots=True)
class LayoutContext:
    """What one piece is laid out with, and what its blocks leave behind.

    Attributes:
        subject: the product that the piece is about, if it is about one.
        styles: every type style by name.
        facts: what the template was filled in with.
        file: the layout's file, for messages.
        own: the catalog folder.
        dpi: the printer's resolution, None where it is not known.
        ink: whether colours may be used.
        pending: the statements that no disclosure block has printed yet.
        optional: those that nobody asks for but that may be said.
        findings: what is worth saying but is no fault.
        pictures: those drawn so far, by their number on the piece.
        recorded_pictures: those of an earlier print, which take the files' place.
        other_products: those that a figure may show ``of`` their SKU.
        kinds_named: the kinds of statement that some disclosure block asks for by name.
        pictures_begun: how many picture blocks there are so far.
    """

    subject: Product | None
    styles: Styles
    facts: Mapping[str, Any]
    file: str
    own: Path | None = None
    dpi: int | None = None
    ink: InkMode = "colour"
    pending: list[Statement] = field(default_factory=list)
    optional: list[Statement] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    pictures: dict[int, PrintedPicture] = field(default_factory=dict)
    recorded_pictures: Mapping[int, PrintedPicture] = field(default_factory=dict)
    other_products: Mapping[str, Product] = field(default_factory=dict)
    kinds_named: frozenset[str] = frozenset()
    pictures_begun: int = 0

    @property
    def product(self) -> Product:
        """The product that the piece is about.

        Raises:
            LabelerError: if it is about none, as a packing slip is.
        """
        if self.subject is None:
            raise LabelerError(
                stop(
                    "layout-no-product",
                    Place(file=self.file),
                    "this block shows the piece's product, and this paper is about none",
                    hint='Say which with of="{{ row.sku }}", or leave the block out.',
                )
            )
        return self.subject

    def product_of(self, node: Node) -> Product:
        """Return the product that a block shows: the one it names, or the piece's own.

        Raises:
            LabelerError: if it names none of this paper's, with the nearest SKU.
        """
        sku = node.attrs.get("of")
        if sku is None:
            return self.product
        if sku not in self.other_products:
            raise self.error(
                "layout-no-product",
                node,
                "this paper knows no product of this SKU",
                found=repr(sku),
                hint=did_you_mean(str(sku), list(self.other_products)),
            )
        return self.other_products[sku]

    def next_picture(self) -> int:
        """Return the number of the next picture on the piece, from 0."""
        self.pictures_begun += 1
        return self.pictures_begun - 1

    def place(self, node: Node, block: str = "") -> Place:
        """Return the place in the layout that a finding names, under the block's own name."""
        sku = self.subject.sku if self.subject else ""
        return Place(file=node.file, line=node.line, piece=sku, block=block or node.name)

    def error(self, rule: str, node: Node, message: str, **details: str) -> LabelerError:
        """Return the error that names a block as the one at fault."""
        return LabelerError(stop(rule, self.place(node), message, **details))

    def style(self, name: str, node: Node, ink: str | None = None, block: str = "") -> Style:
        """Return the style called ``name`` for a node, in ``ink`` or in its own.

        Raises:
            LabelerError: if there is none of that name, with the nearest.
        """
        style = self.styles.get(name) or style_named(self.styles, name, self.place(node, block))
        printed = self.line_ink(ink or style.ink)
        return style if printed == style.ink else in_ink(style, printed)

    def line_ink(self, ink: str) -> str:
        """Return the ink to print text and lines with: in black mode, black or paper white."""
        return ink if self.ink == "colour" else _black_or_white(ink, _PAPER)

    def fill_ink(self, fill: str) -> str:
        """Return the fill of a background: in black mode, black or paper white."""
        return fill if self.ink == "colour" else _black_or_white(fill, 0.5)


_PAPER = 0.93
"""From this lightness on, the ink of text is meant as paper white on a dark background."""


def _black_or_white(ink: str, white_from: float) -> str:
    return "#ffffff" if lightness(ink) >= white_from else "#000000"


def lightness(ink: str) -> float:
    """Return how light ``#rrggbb`` is, from 0 to just under 1, as the eye sees it."""
    red, green, blue = (int(ink[i : i + 2], 16) / 255 for i in (1, 3, 5))
    luminance = 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2
    return float(min(0.999, luminance ** (1 / 2.2)))
