"""What a block is, what blocks are laid out with and draw on, and how they share out room.

A margin is what other print must keep from a block. It may lie in the gap, in a neighbour's own
blank edge, in the pad of the container and in the room beyond; past the trim nothing is printed.
Points, y down, the face's top left corner as origin.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from typing import Any, Literal

from labeler.catalog.model import Product
from labeler.disclosures.statements import Statement
from labeler.drawing.jig import EDITION
from labeler.findings import Finding, LabelerError, Place, did_you_mean, refusal, stop
from labeler.geometry import Box, grown
from labeler.layout.markup import Node
from labeler.marks import Image, InkMode, Mark, Piece, VectorPath
from labeler.type.styles import Style, Styles, in_ink, style_named
from labeler.units import SLACK_PT, Length

Edges = tuple[float, float, float, float]
"""Lengths at the four sides of a box: top, right, bottom, left."""

Extent = float | None
"""A length that is given, or is not."""

Size = tuple[float, float]
"""Width and height."""

TypeSize = tuple[float, float, float]
"""A text's size in points, and how far it rises over its first and hangs below its last baseline,
in sizes."""

Demands = tuple[float, ...] | str
"""What a block asks for, to be held against the same block of another piece."""

NO_EDGES: Edges = (0.0, 0.0, 0.0, 0.0)

VALIGNED = {"top": 0.0, "middle": 0.5, "bottom": 1.0}
"""How much of the spare height stands above what is aligned so."""


@dataclass(frozen=True, slots=True)
class ClearSpace:
    """The box of a quantity's letters, what stays clear of print around it, and whose it is."""

    box: Box
    above: float
    beside: float
    block: Block

    @property
    def room(self) -> Box:
        """The box with its clear space."""
        return grown(self.box, self.beside, self.above)


@dataclass(slots=True)
class Surface:
    """The face being drawn on: the marks so far, and what must keep clear of what.

    ``occupied`` are the boxes of blocks with ink; ``holes`` the die lines; ``hole_zones`` the boxes
    around them that must stay free; ``clear_spaces`` those around quantities.
    """

    trim: Box
    bleed: float
    marks: list[Mark] = field(default_factory=list)
    occupied: list[tuple[Box, Block]] = field(default_factory=list)
    holes: list[VectorPath] = field(default_factory=list)
    hole_zones: list[Box] = field(default_factory=list)
    clear_spaces: list[ClearSpace] = field(default_factory=list)

    def reach(self, box: Box) -> Box:
        """Return ``box`` with every edge that lies on the trim carried on into the bleed."""
        left, top, right, bottom = (
            self.bleed * (abs(edge - trim) < SLACK_PT)
            for edge, trim in zip(box, self.trim, strict=True)
        )
        return box[0] - left, box[1] - top, box[2] + right, box[3] + bottom


class Block:
    """A block of a layout. A subclass draws, and says how large it would like to be."""

    node: Node
    holds_quantity: bool = False
    """Whether it says how many are in the pack, from which other print keeps its distance."""
    flush: Literal["left", "right"] = "left"
    """The end of its row at which it stands, for a box wider than it needs itself."""

    @property
    def own_width(self) -> Extent:
        """The width that the layout gives it, or None."""
        return self.node.attrs.get("width")

    @property
    def own_height(self) -> Extent:
        """The height that the layout gives it, or None."""
        return self.node.attrs.get("height")

    def natural(self, width: Extent, height: Extent, fullness: float) -> Size:
        """Return the size it would like, given one or both sides, infinite where it can't.

        ``fullness`` goes from 1, its largest, to 0, its least.
        """
        raise NotImplementedError

    def narrowest(self) -> float:
        """Return the least width in which it can be drawn at all, whatever its height."""
        return max(self.own_width or 0.0, self.least_width())

    def least_width(self) -> float:
        """Return the least width that its contents can be drawn in."""
        return 0.0

    def margin(self, width: float | None) -> Edges:
        """Return how far other print must keep from it, at its largest.

        ``width`` is the box's, where it is known. Margins of neighbours, their gap and what they
        keep blank themselves are one and the same room; beyond the trim none is needed.
        """
        return NO_EDGES

    def blank(self) -> Edges:
        """Return what it leaves unprinted at the sides of its own box, at the least."""
        return NO_EDGES

    def printed(self, box: Box) -> Box:
        """Return the part of a box that it occupies in which there may be ink."""
        return box

    def drop(self, width: float, height: float) -> float:
        """Return how far above its foot its last line of text stands in a box of this size."""
        return 0.0

    def draw(self, box: Box, surface: Surface) -> None:
        """Put its marks on ``surface``, inside ``box``, and where its ink is into ``occupied``."""
        raise NotImplementedError

    def demands(self) -> Demands:
        """Return what of it may ask for more than the same block of another piece does.

        Of numbers those of the run count that are largest; of a text, each that is another.
        """
        return ()

    def room_above(self, spare: float, usual: str = "top") -> float:
        """Return how much of a box's spare height stands above what is drawn in it."""
        return spare * VALIGNED[self.node.attrs.get("valign", usual)]


SHORTEN = "Shorten the text, or choose a larger label or another layout."


def overflow(place: Place, what: str, needs: float, has: float) -> LabelerError:
    """Return the error for a block that does not fit, with both sizes in millimetres."""
    asked, given = Length(needs).mm, Length(max(0.0, has)).mm
    places = 1 if asked - given >= 0.1 else 2
    found = f"it needs {asked:.{places}f} mm at its least"
    expected, what = f"at most {given:.{places}f} mm", f"{what} does not fit"
    finding = stop("layout-overflow", place, what, found=found, expected=expected, hint=SHORTEN)
    return LabelerError(finding)


def share_out(room: float, shares: Sequence[float], least: Sequence[float]) -> list[float]:
    """Share out ``room`` by ``shares``; who would get less than their least get that instead.

    >>> shared_out(100, [1, 3], [0, 0])
    [25.0, 75.0]
    >>> shared_out(100, [1, 3], [40, 0])
    [40, 60.0]
    """
    lengths = list(least)
    open_ones = [i for i, share in enumerate(shares) if share]
    while open_ones:
        parts = sum(shares[i] for i in open_ones)
        tight = [i for i in open_ones if room * shares[i] / parts < least[i]]
        if not tight:
            for i in open_ones:
                lengths[i] = room * shares[i] / parts
            break
        for i in tight:
            room -= least[i]
            open_ones.remove(i)
    return lengths


@dataclass(frozen=True, slots=True)
class FittedSizes:
    """Where the blocks of a piece stand and how they are set, each by its node's key.

    Attributes:
        boxes: of every block, in points, from the top left corner of its side.
        sizes: of every text in points, and how far its letters rise and hang, in sizes.
        forms: of statements, how they are worded, and the eighths of the way from their least to
            their largest size.
        versions: of QR codes, the least version.
    """

    boxes: Mapping[str, Box] = field(default_factory=dict)
    sizes: Mapping[str, TypeSize] = field(default_factory=dict)
    forms: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    versions: Mapping[str, int] = field(default_factory=dict)

    def box_of(self, block: Block) -> Box:
        """Return a block's box.

        Raises:
            LabelerError: if these settings were not found for a piece that has it.
        """
        try:
            return self.boxes[block.node.key]
        except KeyError:
            place = Place(file=block.node.file, line=block.node.line, block=block.node.name)
            raise refusal(
                "settings-lack", place, "the settings of the run know no place for this block"
            ) from None


@dataclass(slots=True)
class Laid:
    """What was found while a piece was laid out: the makings of its settings."""

    boxes: dict[str, Box] = field(default_factory=dict)
    sizes: dict[str, TypeSize] = field(default_factory=dict)
    forms: dict[str, tuple[int, int]] = field(default_factory=dict)
    versions: dict[str, int] = field(default_factory=dict)
    demands: dict[str, Demands] = field(default_factory=dict)
    build: tuple[object, ...] = ()
    """Of every block but texts, what it is and how it shares out room."""
    left_out: list[str] = field(default_factory=list)
    """Statements that nobody asks for and that found no room."""
    below_aim: list[tuple[str, float, float]] = field(default_factory=list)
    """Texts smaller than was aimed at: what each is called, how high its capitals stand and how
    high they should, in points."""

    def settings(self) -> FittedSizes:
        """Return the settings."""
        return FittedSizes(self.boxes, self.sizes, self.forms, self.versions)


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
        maker_folder: the catalog folder.
        dpi: the printer's resolution, None where it is not known.
        ink: whether colours may be used.
        finish: whether texts are finished as `labeler.type.finish` does; an old print's were not.
        photos: how photographs are printed: as they are, in greys, or in dots of pure black.
        edition: of the drawing: 1 for a piece that was printed before there was a second.
        pending: the statements that no disclosure block has printed yet.
        optional: those that nobody asks for but that may be said.
        findings: what is worth saying but is no fault.
        pictures: those drawn so far, by their number on the piece.
        recorded_pictures: those of an earlier print, which take the files' place.
        other_products: those that a figure may show ``of`` their SKU.
        printed: labels as they were printed, by lot, that a figure may show instead.
        kinds_named: the kinds of statement that some disclosure block asks for by name.
        picture_numbers: the numbers of the picture blocks to come, from 0.
        capitals: how high the capitals of the texts drawn so far stand, in points, by name.
        settings: where its blocks stand and how they are set, if that was found before.
        laid: what is found of it while it is laid out.
    """

    subject: Product | None
    styles: Styles
    facts: Mapping[str, Any]
    file: str
    maker_folder: Path | None = None
    dpi: int | None = None
    ink: Literal["colour", "black"] = "colour"
    finish: bool = True
    photos: InkMode = "colour"
    edition: int = EDITION
    pending: list[Statement] = field(default_factory=list)
    optional: list[Statement] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    pictures: dict[int, PrintedPicture] = field(default_factory=dict)
    recorded_pictures: Mapping[int, PrintedPicture] = field(default_factory=dict)
    other_products: Mapping[str, Product] = field(default_factory=dict)
    printed: Mapping[str, Piece] = field(default_factory=dict)
    kinds_named: frozenset[str] = frozenset()
    picture_numbers: Iterator[int] = field(default_factory=count)
    capitals: dict[str, float] = field(default_factory=dict)
    settings: FittedSizes | None = None
    laid: Laid = field(default_factory=Laid)

    def shows_photo(self, node: Node) -> bool:
        """Tell whether a photo takes the place of the figure that a node asks for.

        In black the engraving does; a jig that nobody can draw, for want of a recipe, is shown by
        its photo all the same, in dots.
        """
        if node.tag != "figure" or "of" in node.attrs or node.attrs.get("photo", "yes") == "no":
            return False
        engraved = self.photos == "black" and bool(self.product.colour.layers)
        return bool(self.product.photo) and not engraved

    @property
    def product(self) -> Product:
        """The product that the piece is about.

        Raises:
            LabelerError: if it is about none, as a packing slip is.
        """
        if self.subject is None:
            raise refusal(
                "layout-no-product",
                Place(file=self.file),
                "this block shows the piece's product, and this paper is about none",
                hint='Say which with of="{{ row.sku }}", or leave the block out.',
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

    def place(self, node: Node, block: str = "") -> Place:
        """Return the place in the layout that a finding names, under the block's own name."""
        sku = self.subject.sku if self.subject else ""
        return Place(file=node.file, line=node.line, piece=sku, block=block or node.name)

    def error(self, rule: str, node: Node, message: str, **details: str) -> LabelerError:
        """Return the error that names a block as the one at fault."""
        return refusal(rule, self.place(node), message, **details)

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
