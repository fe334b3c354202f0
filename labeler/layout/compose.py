"""A product and a layout become a piece: fill in, read, measure, arrange, and look it over."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from labeler.catalog.model import Product
from labeler.disclosures.statements import Statement
from labeler.findings import Finding, LabelerError, stop
from labeler.layout.blocks.code import CodeBlock
from labeler.layout.blocks.disclosure import Disclosure
from labeler.layout.blocks.pictures import Figure, PictureBlock
from labeler.layout.blocks.plain import Hole, Rule, Spacer
from labeler.layout.blocks.swatch import Swatch
from labeler.layout.blocks.text import TextBlock
from labeler.layout.boxes import Column, Row
from labeler.layout.container import Container
from labeler.layout.facts import facts_of, said_facts
from labeler.layout.ground import Block, Ground
from labeler.layout.look_over import look_over
from labeler.layout.marks import Box, Face, Piece
from labeler.layout.markup import Node, read_markup
from labeler.layout.setup import InkMode, Printed, Setup
from labeler.layout.style import Styles, read_styles
from labeler.layout.template import Layouts
from labeler.units import Length

_SAFE = Length.from_inches(1 / 16).pt
"""What a layout keeps free inside the trim unless it says otherwise: what a die may be off.
Common practice, no published source."""

_LEAVES: dict[str, Callable[[Node, Setup], Block]] = {
    "text": TextBlock,
    "picture": PictureBlock,
    "swatch": Swatch,
    "code": CodeBlock,
    "rule": Rule,
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
class Paper:
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
    pictures: Mapping[int, Printed]


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

    def composed(self, job: Job, kept: Mapping[int, Printed] | None = None) -> Composed:
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

    def compose_paper(self, paper: Paper) -> Piece:
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
        look_over(node, ground, setup, safe)
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
