"""A product and a layout become a piece: fill in, read, measure, arrange, and look it over."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from labeler.catalog.model import Product
from labeler.disclosures.statements import Statement
from labeler.findings import Finding, LabelerError, stop
from labeler.geometry import Box, bounding_box, contains, grown, overlaps
from labeler.layout.blocks.block import Block, Ground
from labeler.layout.blocks.code import CodeBlock
from labeler.layout.blocks.disclosure import Disclosure
from labeler.layout.blocks.pictures import Figure, PictureBlock, Swatch
from labeler.layout.blocks.plain import Hole, RuleBlock, Spacer
from labeler.layout.blocks.text import TextBlock
from labeler.layout.boxes import Column, Container, Row
from labeler.layout.context import InkMode, PrintedPicture, Setup
from labeler.layout.facts import facts_of, said_facts
from labeler.layout.markup import Node, read_markup
from labeler.layout.template import Layouts
from labeler.marks import Face, Piece, path_points
from labeler.type.styles import Styles, read_styles
from labeler.units import SLACK_PT, Length

# ----------------------------------------------------------------------------
# A finished face is looked over: nothing over a hole, outside the safe zone, or on another.


def validate_face(face: Node, ground: Ground, setup: Setup, safe: float) -> None:
    """Refuse what stands where it must not.

    Args:
        face: the front or back.
        ground: what was drawn.
        setup: for the places that findings name.
        safe: what stays free inside the trim, in points.

    Raises:
        LabelerError: with every block that stands over a hole, outside the safe zone, on
            another block or too near a quantity, and every hole that is cut off.
    """
    faults = [
        *_holes_cut_off(face, ground, setup),
        *_over_holes(ground, setup),
        *_outside(ground, setup, safe),
        *_collisions(ground, setup),
        *_crowding(ground, setup),
    ]
    if faults:
        raise LabelerError(faults)


def _holes_cut_off(face: Node, ground: Ground, setup: Setup) -> Iterator[Finding]:
    for hole in ground.holes:
        if not contains(ground.trim, bounding_box(path_points(hole)), SLACK_PT):
            yield stop("layout-hole-outside", setup.at(face), "a hole reaches over the edge")


def _over_holes(ground: Ground, setup: Setup) -> Iterator[Finding]:
    for box, block in ground.taken:
        if any(overlaps(box, hole, SLACK_PT) for hole in ground.clear):
            yield stop(
                "layout-hole-covered", setup.at(block.node), "this stands over the hang hole",
                hint="Shorten the text, or choose a larger card or another layout.",
            )  # fmt: skip


def _outside(ground: Ground, setup: Setup, safe: float) -> Iterator[Finding]:
    zone = grown(ground.trim, -safe)
    for box, block in ground.taken:
        if not contains(zone, box, SLACK_PT):
            yield stop(
                "layout-unsafe",
                setup.at(block.node),
                "this stands outside the safe zone",
                found=_edges(box, ground.trim),
                expected=f"at least {Length(safe).mm:.2f} mm from every edge",
            )


def _collisions(ground: Ground, setup: Setup) -> Iterator[Finding]:
    """Sweep from top to bottom, so that only blocks side by side are held against each other."""
    beside: list[tuple[Box, Block]] = []
    for box, block in sorted(ground.taken, key=lambda one: one[0][1]):
        beside = [one for one in beside if one[0][3] > box[1] + SLACK_PT]
        for other_box, other in beside:
            if other is not block and overlaps(box, other_box, SLACK_PT):
                yield stop(
                    "layout-collision", setup.at(block.node), f"this stands on {other.node.name}"
                )
        beside.append((box, block))


def _crowding(ground: Ground, setup: Setup) -> Iterator[Finding]:
    """Yield what is printed in the clear space around a quantity. Source: 16 CFR 500.6(b)."""
    for kept in ground.kept:
        for box, other in ground.taken:
            if other is not kept.block and overlaps(
                other.printed(box), grown(kept.room, -_HAIR), SLACK_PT
            ):
                yield stop(
                    "layout-crowded",
                    setup.at(kept.block.node),
                    f"{other.node.name} stands in the clear space around the quantity",
                    expected=f"{Length(kept.above).mm:.1f} mm clear above and below, "
                    f"{Length(kept.beside).mm:.1f} mm beside",
                )


_HAIR = 0.06
"""Points: two hundredths of a millimetre, by which blocks that just fit may stand over."""


def _edges(box: Box, trim: Box) -> str:
    near = min(box[0] - trim[0], box[1] - trim[1], trim[2] - box[2], trim[3] - box[3])
    if near < 0:
        return f"{-Length(near).mm:.2f} mm over an edge"
    return f"{Length(near).mm:.2f} mm from an edge"


_SAFE = Length.from_inches(1 / 16).pt
"""What a layout keeps free inside the trim unless it says otherwise: what a die may be off.
Common practice, no published source."""

_LEAVES: dict[str, Callable[[Node, Setup], Block]] = {
    "text": TextBlock,
    "picture": PictureBlock,
    "swatch": Swatch,
    "code": CodeBlock,
    "rule": RuleBlock,
    "disclosure": Disclosure,
    "spacer": Spacer,
}


@dataclass(frozen=True, slots=True)
class Job:
    """One piece to lay out. ``size`` is its width and height in points."""

    product: Product
    layout: str
    size: tuple[float, float]
    said: tuple[Statement, ...] = ()
    lot: str = ""
    link: str = ""


@dataclass(frozen=True, slots=True)
class BenchPaper:
    """A page for the bench or the post: a batch card, a packing slip, a recall sheet.

    ``facts`` are what its layout may ask; ``subject`` the product it is about, if it is about
    one; ``others`` those that its figures may show by SKU. ``size`` in points.
    """

    layout: str
    size: tuple[float, float]
    facts: Mapping[str, Any]
    subject: Product | None = None
    lot: str = ""
    others: Mapping[str, Product] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Composed:
    """A finished piece, and the pictures on it by their number."""

    piece: Piece
    pictures: Mapping[int, PrintedPicture]


class Composer:
    """Lays out pieces from one catalog folder's layouts and styles.

    ``dpi`` is the printer's resolution, None where it is not known; codes are then drawn at
    any size. ``findings`` collects what is worth saying but is no fault.
    """

    def __init__(
        self, own: Path | None = None, *, dpi: int | None = None, ink: InkMode = "colour"
    ) -> None:
        self.own, self.dpi, self.ink = own, dpi, ink
        self.layouts = Layouts(own)
        self.styles: Styles = read_styles(own)
        self.findings: list[Finding] = []

    def compose(self, job: Job) -> Piece:
        """Return the finished piece.

        Raises:
            LabelerError: if the layout is at fault, something does not fit, a letter is
                missing, a hole is covered, or a statement is left out.
        """
        return self.composed(job).piece

    def composed(self, job: Job, kept: Mapping[int, PrintedPicture] | None = None) -> Composed:
        """Return the finished piece with its pictures; ``kept`` ones take their files' place.

        Raises:
            LabelerError: as `compose` does.
        """
        width, height = job.size
        facts = facts_of(
            job.product,
            lot=job.lot,
            link=job.link,
            width=width,
            height=height,
            black=self.ink == "black",
        )
        facts = {**facts, "says": said_facts(job.said)}
        setup = self._setup(job.product, job.layout, facts)
        setup.unsaid += [said for said in job.said if said.duty != "optional"]
        setup.unasked += [said for said in job.said if said.duty == "optional"]
        setup.kept = kept or {}
        piece = self._lay_out(setup, job.layout, job.size, job.lot)
        return Composed(piece, setup.pictures)

    def compose_paper(self, paper: BenchPaper) -> Piece:
        """Return the finished page of a paper.

        Raises:
            LabelerError: as `compose` does.
        """
        width, height = paper.size
        black = self.ink == "black"
        page = {"width": width / 72, "height": height / 72, "black": black}
        setup = self._setup(paper.subject, paper.layout, {**paper.facts, "piece": page})
        setup.others = paper.others
        return self._lay_out(setup, paper.layout, paper.size, paper.lot)

    def _setup(self, product: Product | None, layout: str, facts: Mapping[str, Any]) -> Setup:
        file = str(self.layouts.file(layout))
        return Setup(
            product, self.styles, facts, file, own=self.own, dpi=self.dpi, ink=self.ink
        )  # fmt: skip

    def _lay_out(self, setup: Setup, layout: str, size: tuple[float, float], lot: str) -> Piece:
        sku = setup.subject.sku if setup.subject else ""
        markup = self.layouts.render(layout, setup.facts, sku)
        root = read_markup(markup, setup.file, sku, self.layouts.files)
        setup.named = frozenset(kind for node in root for kind in node.attrs.get("kinds", ()))
        bleed = root.attrs.get("bleed", 0.0)
        safe = root.attrs.get("safe", _SAFE)
        faces = tuple(self._face(side, setup, size, bleed, safe) for side in root.children)
        _refuse_unsaid(setup, root)
        self.findings += setup.findings
        return Piece(sku, lot, layout, *size, faces, bleed=bleed, safe=safe)

    def _face(
        self, node: Node, setup: Setup, size: tuple[float, float], bleed: float, safe: float
    ) -> Face:
        trim: Box = (0.0, 0.0, size[0], size[1])
        ground = Ground(trim, bleed)
        build(node, setup).draw(trim, ground)
        validate_face(node, ground, setup, safe)
        name: Literal["front", "back"] = "back" if node.tag == "back" else "front"
        folds = tuple(share * size[1] for share in node.attrs.get("folds", ()))
        return Face(name, tuple(ground.marks), tuple(ground.holes), folds)


def build(node: Node, setup: Setup) -> Block:
    """Return the block that a node asks for, with everything in it."""
    if node.tag in ("front", "back", "column", "row"):
        holes = [Hole(child, setup) for child in node.children if child.tag == "hole"]
        blocks = [build(child, setup) for child in node.children if child.tag != "hole"]
        inner = [block for block in blocks if not _says_nothing(block)]
        kind: type[Container] = Row if node.tag == "row" else Column
        return kind(node, inner, setup, holes)
    if node.tag == "figure":
        own = "of" not in node.attrs and node.attrs.get("photo", "yes") == "yes"
        shows_photo = own and setup.product.photo
        return PictureBlock(node, setup) if shows_photo else Figure(node, setup)
    return _LEAVES[node.tag](node, setup)


def _says_nothing(block: Block) -> bool:
    """Tell whether a block has no words and no place of its own: it takes no gap either."""
    words = isinstance(block, TextBlock | Disclosure) and block.empty
    return words and not {"width", "height", "share"} & block.node.attrs.keys()


def _refuse_unsaid(setup: Setup, root: Node) -> None:
    if not setup.unsaid:
        return
    raise LabelerError(
        [
            stop(
                "layout-leaves-out",
                setup.at(root),
                f"the layout has no place for the statement “{said.text}”",
                hint="Add <disclosure/> to it: the block prints whatever has to be said.",
            )
            for said in setup.unsaid
        ]
    )
