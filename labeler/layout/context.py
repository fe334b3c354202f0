"""What a layout is filled in with, beyond its markup: product, lot, printer's dots, statements."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from labeler.catalog.model import Product
from labeler.disclosures.statements import Statement
from labeler.findings import Finding, LabelerError, Place, did_you_mean, stop
from labeler.layout.markup import Node
from labeler.marks import Image
from labeler.type.styles import Style, Styles, in_ink, style_named

# ----------------------------------------------------------------------------
# How light an ink is, and what stands for it where only black is printed.

_PAPER = 0.93
"""From this lightness on, an ink is meant as paper white on a dark ground."""
_MIDDLE = 0.5


def lightness(ink: str) -> float:
    """Return how light ``#rrggbb`` is, from nought to just under one, as the eye sees it."""
    red, green, blue = (int(ink[i : i + 2], 16) / 255 for i in (1, 3, 5))
    luminance = 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2
    return float(min(0.999, luminance ** (1 / 2.2)))


def in_black(ink: str) -> str:
    """Return the ink of text and lines: black, or the white of paper."""
    return "#ffffff" if lightness(ink) >= _PAPER else "#000000"


def ground_in_black(fill: str) -> str:
    """Return the fill of a ground: black where it is dark, the white of paper where it is light."""
    return "#ffffff" if lightness(fill) >= _MIDDLE else "#000000"


InkMode = Literal["colour", "black"]


@dataclass(frozen=True, slots=True)
class PrintedPicture:
    """A picture as it was printed, and the proportion that its block kept for it."""

    proportion: float
    image: Image


@dataclass(slots=True)
class Setup:
    """All that blocks may ask for while one piece is laid out.

    ``dpi`` is the printer's resolution, None where it is not known. ``unsaid`` holds the
    statements that no disclosure block has printed yet, ``unasked`` those that nobody asks for
    but that may be said; ``findings`` what is not a fault. ``pictures`` are those drawn so far,
    by their number on the piece; ``kept`` those of an earlier print, which take the files' place.
    ``others`` are the products that a figure may show ``of`` their SKU; ``named`` the kinds of
    statement that some disclosure block on the piece asks for by name.
    """

    subject: Product | None
    styles: Styles
    facts: Mapping[str, Any]
    file: str
    own: Path | None = None
    dpi: int | None = None
    ink: InkMode = "colour"
    unsaid: list[Statement] = field(default_factory=list)
    unasked: list[Statement] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    pictures: dict[int, PrintedPicture] = field(default_factory=dict)
    kept: Mapping[int, PrintedPicture] = field(default_factory=dict)
    others: Mapping[str, Product] = field(default_factory=dict)
    named: frozenset[str] = frozenset()
    numbered: int = 0

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

    def shown(self, node: Node) -> Product:
        """Return the product that a block shows: the one it names, or the piece's own.

        Raises:
            LabelerError: if it names none of this paper's, with the nearest SKU.
        """
        sku = node.attrs.get("of")
        if sku is None:
            return self.product
        if sku not in self.others:
            raise LabelerError(
                stop(
                    "layout-no-product",
                    self.at(node),
                    "this paper knows no product of this SKU",
                    found=repr(sku),
                    hint=did_you_mean(str(sku), list(self.others)),
                )
            )
        return self.others[sku]

    def next_picture(self) -> int:
        """Return the number of the next picture on the piece, from 0."""
        self.numbered += 1
        return self.numbered - 1

    def at(self, node: Node, block: str = "") -> Place:
        """Return the place in the layout that a finding names, under the block's own name."""
        sku = self.subject.sku if self.subject else ""
        return Place(file=node.file, line=node.line, piece=sku, block=block or node.name)

    def style(self, name: str, node: Node, ink: str | None = None, block: str = "") -> Style:
        """Return the style called ``name`` for a node, in ``ink`` or in its own.

        Raises:
            LabelerError: if there is none of that name, with the nearest.
        """
        style = self.styles.get(name) or style_named(self.styles, name, self.at(node, block))
        wanted = self.inked(ink or style.ink)
        return style if wanted == style.ink else in_ink(style, wanted)

    def inked(self, ink: str) -> str:
        """Return the ink to print text and lines with: in black mode, black or paper white."""
        return ink if self.ink == "colour" else in_black(ink)

    def grounded(self, fill: str) -> str:
        """Return the fill of a ground: in black mode, black or paper white."""
        return fill if self.ink == "colour" else ground_in_black(fill)
