"""A product and a layout become a piece: fill in, read, measure, arrange, and validate.

Many different pieces are laid out in as many processes as the machine has cores. What comes back
is what one process would have made, in the order of the jobs. A few pieces are laid out in this
process, since starting others would take longer; so are all of them where other threads run here,
which a forked process would have to do without.
"""

from __future__ import annotations

import os
import re
import signal
import sys
import threading
from collections import defaultdict
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from multiprocessing import connection, get_context, parent_process
from pathlib import Path
from typing import Any, Literal

from labeler import files
from labeler.catalog.model import Product
from labeler.disclosures.statements import Statement
from labeler.drawing.jig import EDITION
from labeler.findings import Finding, LabelerError, Place, stop
from labeler.geometry import Box, bounding_box, contains, grown, overlaps
from labeler.layout.block import (
    Block,
    FittedSizes,
    Laid,
    LayoutContext,
    PrintedPicture,
    Size,
    Surface,
)
from labeler.layout.boxes import Column, Container, Hole, Row, RuleBlock, Spacer
from labeler.layout.dots import COARSE, on_whole_dots
from labeler.layout.drawn_blocks import CodeBlock, Figure, PictureBlock, PrintedLabel
from labeler.layout.facts import facts_of, statement_facts
from labeler.layout.markup import Node, read_markup
from labeler.layout.swatch import swatch
from labeler.layout.template import Layouts
from labeler.layout.text_blocks import Disclosure, TextBlock
from labeler.marks import InkMode, Piece, PieceSide, path_points
from labeler.type.styles import Styles, read_styles
from labeler.units import SLACK_PT, Length, dimensions

_SAFE = Length.from_inches(1 / 16).pt
"""What a layout keeps free inside the trim unless it says otherwise: what a die may be off.
Common practice, no published source."""

_LEAVES: dict[str, Callable[[Node, LayoutContext], Block]] = {
    "text": TextBlock,
    "figure": Figure,
    "picture": PictureBlock,
    "swatch": swatch,
    "code": CodeBlock,
    "rule": RuleBlock,
    "disclosure": Disclosure,
    "spacer": Spacer,
}


@dataclass(frozen=True, slots=True)
class Job:
    """One piece to lay out. ``size`` is its width and height in points.

    ``old_code`` is what the lot was called before, for layouts that print it. ``settings`` are
    those of its run, if they were found.
    """

    product: Product
    layout: str
    size: Size
    statements: tuple[Statement, ...] = ()
    lot: str = ""
    link: str = ""
    old_code: str = ""
    settings: FittedSizes | None = None


@dataclass(frozen=True, slots=True)
class BenchPaper:
    """A page for the bench or the post: a batch card, a packing slip, a recall sheet.

    ``facts`` are what its layout may ask; ``subject`` the product it is about, if it is about
    one; ``others`` those that its figures may show by SKU; ``printed`` the labels that they may
    show instead, by lot. ``size`` in points.
    """

    layout: str
    size: Size
    facts: Mapping[str, Any]
    subject: Product | None = None
    lot: str = ""
    others: Mapping[str, Product] = field(default_factory=dict)
    printed: Mapping[str, Piece] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Composed:
    """A finished piece, the pictures on it by their number, and how it was laid out.

    ``findings`` is what is worth saying of it; ``settings`` those of its run, if they were given;
    ``built`` what it was drawn from, if that was kept.
    """

    piece: Piece
    pictures: Mapping[int, PrintedPicture]
    laid: Laid = field(default_factory=Laid)
    findings: tuple[Finding, ...] = ()
    settings: FittedSizes | None = None
    built: Built | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Built:
    """The blocks of a piece, side by side with their nodes, and what they are laid out with."""

    root: Node
    sides: tuple[tuple[Node, Block], ...]
    context: LayoutContext


class Composer:
    """Lays out pieces from one catalog folder's layouts and styles.

    ``dpi`` is the printer's resolution, None where it is not known; codes are then drawn at
    any size. ``finish`` tells whether texts are finished, which those of old prints were not;
    ``edition`` is the drawing's, 1 for a piece that was printed before there was a second.
    ``findings`` collects what is worth saying but is no fault.
    """

    def __init__(
        self, maker_folder: Path | None = None, *, dpi: int | None = None, ink: InkMode = "colour",
        finish: bool = True, edition: int = EDITION,
    ) -> None:  # fmt: skip
        self.maker_folder, self.dpi, self.ink, self.finish = maker_folder, dpi, ink, finish
        self.edition = edition
        self.layouts = Layouts(maker_folder)
        self.styles: Styles = read_styles(maker_folder)
        self.findings: list[Finding] = []

    def compose(self, job: Job) -> Piece:
        """Return the finished piece.

        Raises:
            LabelerError: if the layout is at fault, something does not fit, a letter is
                missing, a hole is covered, or a statement is left out.
        """
        return self.compose_with_pictures(job).piece

    def compose_with_pictures(
        self, job: Job, recorded: Mapping[int, PrintedPicture] | None = None
    ) -> Composed:
        """Return the finished piece with its pictures; ``recorded`` ones take their files' place.

        Raises:
            LabelerError: as `compose` does.
        """
        context = self._begun(job)
        context.recorded_pictures = recorded or {}
        return self._composed(self._built(context, job.layout, job.size), job)

    def drawn_again(self, before: Composed, job: Job) -> Composed:
        """Return a piece drawn again from what was built of it, by the settings of its job.

        Raises:
            LabelerError: as `compose` does.
        """
        assert before.built is not None
        context = before.built.context
        context.settings, context.laid, context.findings = job.settings, Laid(), []
        return self._composed(before.built, job)

    def _composed(self, built: Built, job: Job) -> Composed:
        context = built.context
        piece = self._drawn(built, job.layout, job.size, job.lot)
        told = tuple(context.findings)
        return Composed(piece, context.pictures, context.laid, told, job.settings, built)

    def measured(
        self, pieces: Sequence[tuple[Job, Laid]],
        join: Callable[[Sequence[Block], LayoutContext], Block],
    ) -> FittedSizes:  # fmt: skip
        """Return how pieces of one layout and size are set if they are laid out as one.

        Args:
            pieces: all with the same sides, and how each was laid out by itself.
            join: makes one block of the same block of all pieces.

        Raises:
            LabelerError: if there is no room for all of them; it names the pieces whose own
                blocks have none.
        """
        size = pieces[0][0].size
        shared = self._begun(pieces[0][0])
        shared.subject = None  # where a row or column is too full, no one piece is at fault
        sides: defaultdict[str, list[Block]] = defaultdict(list)
        bleed = 0.0
        for job, laid in pieces:
            built = self._built(self._begun(job), job.layout, job.size)
            built.context.laid = laid
            bleed = built.root.attrs.get("bleed", 0.0)
            for side, block in built.sides:
                sides[side.key].append(block)
        for blocks in sides.values():
            trim: Box = (0.0, 0.0, *size)
            join(blocks, shared).draw(trim, Surface(trim, bleed))
        return shared.laid.settings()

    def _begun(self, job: Job) -> LayoutContext:
        """Return what a job's piece is laid out with."""
        width, height = job.size
        facts = facts_of(
            job.product, lot=job.lot, link=job.link, width=width, height=height,
            black=self.ink != "colour",
        )  # fmt: skip
        own = {"says": statement_facts(job.statements), "old_code": job.old_code}
        context = self._context(job.product, job.layout, {**facts, **own})
        context.other_products = {part.product.sku: part.product for part in job.product.parts}
        for statement in job.statements:
            asked = context.pending if statement.duty != "optional" else context.optional
            asked.append(statement)
        context.settings = job.settings
        return context

    def compose_paper(self, paper: BenchPaper) -> Piece:
        """Return the finished page of a paper.

        Raises:
            LabelerError: as `compose` does.
        """
        width, height = paper.size
        black = self.ink != "colour"
        page = {"width": width / 72, "height": height / 72, "black": black}
        context = self._context(paper.subject, paper.layout, {**paper.facts, "piece": page})
        context.other_products, context.printed = paper.others, paper.printed
        built = self._built(context, paper.layout, paper.size)
        return self._drawn(built, paper.layout, paper.size, paper.lot)

    def contents(self, layout: str, facts: Mapping[str, Any]) -> tuple[str, frozenset[str]]:
        """Return the words that a layout makes of facts, and which blocks, a code by its kind.

        Raises:
            LabelerError: if the layout is at fault.
        """
        nodes = list(self._filled_in(layout, facts, ""))
        words = "".join(text for node in nodes for text, _ in node.words)
        kinds = (n.attrs.get("kind", "qr") if n.tag == "code" else n.tag for n in nodes)
        return words, frozenset(kinds)

    def _filled_in(self, layout: str, facts: Mapping[str, Any], sku: str) -> Node:
        markup = self.layouts.render(layout, facts, sku)
        return read_markup(markup, str(self.layouts.file(layout)), sku, self.layouts.files)

    def _context(
        self, product: Product | None, layout: str, facts: Mapping[str, Any]
    ) -> LayoutContext:
        file = str(self.layouts.file(layout))
        return LayoutContext(
            product, self.styles, facts, file, maker_folder=self.maker_folder, dpi=self.dpi,
            finish=self.finish, ink="colour" if self.ink == "colour" else "black",
            photos="colour" if self.edition == 1 else self.ink, edition=self.edition,
        )  # fmt: skip

    def _built(self, context: LayoutContext, layout: str, size: Size) -> Built:
        """Return the blocks of a piece."""
        sku = context.subject.sku if context.subject else ""
        root = self._filled_in(layout, context.facts, sku)
        kinds = (kind for node in root for kind in node.attrs.get("kinds", ()))
        context.kinds_named = frozenset(kinds)
        with _told_of_piece(root, layout, size):
            sides = tuple((side, build(side, context)) for side in root.children)
            for _, block in sides if context.settings is None else ():
                context.laid.demands |= {each.node.key: each.demands() for each in leaves_of(block)}
                context.laid.build += tuple(_build_of(block))
        return Built(root, sides, context)

    def _drawn(self, built: Built, layout: str, size: Size, lot: str) -> Piece:
        """Return the piece that its blocks draw."""
        context, root = built.context, built.root
        sku = context.subject.sku if context.subject else ""
        bleed, safe = root.attrs.get("bleed", 0.0), root.attrs.get("safe", _SAFE)
        with _told_of_piece(root, layout, size):
            faces = tuple(self._face(*side, context, size, bleed, safe) for side in built.sides)
            if context.pending:
                raise LabelerError(
                    stop(
                        "layout-leaves-out",
                        context.place(root),
                        f"the layout has no place for the statement “{statement.text}”",
                        hint="Add <disclosure/> to it: the block prints whatever has to be said.",
                    )
                    for statement in context.pending
                )
        self.findings += context.findings
        return Piece(sku, lot, layout, *size, faces, bleed=bleed, safe=safe)

    def _face(
        self, node: Node, block: Block, context: LayoutContext, size: Size, bleed: float,
        safe: float,
    ) -> PieceSide:  # fmt: skip
        trim: Box = (0.0, 0.0, *size)
        surface = Surface(trim, bleed)
        block.draw(trim, surface)
        validate_face(node, surface, context, safe)
        name: Literal["front", "back"] = "back" if node.tag == "back" else "front"
        folds = tuple(share * size[1] for share in node.attrs.get("folds", ()))
        marks = surface.marks
        if self.edition > 1 and self.ink != "colour" and self.dpi and self.dpi <= COARSE:
            marks = list(on_whole_dots(marks, self.dpi))
        return PieceSide(name, tuple(marks), tuple(surface.holes), folds)


@contextmanager
def _told_of_piece(root: Node, layout: str, size: Size) -> Iterator[None]:
    """Tell what is wrong with a piece as a maker sees it."""
    try:
        yield
    except LabelerError as error:
        told = [_of_piece(each, root, layout, size) for each in error.findings]
        raise LabelerError(told, error.exit_status) from error


def leaves_of(block: Block) -> Iterator[Block]:
    """Yield the blocks in a block that hold no others."""
    if isinstance(block, Container):
        for child in block.children:
            yield from leaves_of(child)
    else:
        yield block


_SHARING = "share", "width", "height", "gap", "pad", "turn", "spread", "align", "valign", "folds"


def _build_of(block: Block) -> Iterator[object]:
    """Yield what decides how a block and those in it share out room, but for what texts ask."""
    node = block.node
    if "+" not in node.key and not isinstance(block, TextBlock | Disclosure):  # no row of a list
        yield node.key, tuple(node.attrs.get(name) for name in _SHARING)
    if isinstance(block, Container):
        for child in block.children:
            yield from _build_of(child)


def _of_piece(fault: Finding, root: Node, layout: str, size: Size) -> Finding:
    """Return what is wrong with a piece of a layout that ships as a maker sees it: on the paper.

    Which line of which file of ours it was helps nobody who did not write it. A layout of the
    maker's own is named by its file and line.
    """
    if files.shipped("layouts") not in Path(fault.place.file).parents:
        return fault
    called = {node.name: node.called for node in root}
    names = "|".join(re.escape(name) for name in sorted(called, key=len, reverse=True))
    message = re.sub(
        rf"(?<!\w)(?:the )?({names})(?!\w)", lambda found: called[found[1]], fault.message
    )
    what = str(root.attrs.get("name", layout))
    article = "an" if what[0] in "aeiou" else "a"
    return replace(
        fault, place=Place(piece=fault.place.piece),
        message=f"on {article} {what} of {dimensions(*size)}, {message}",
    )  # fmt: skip


def build(node: Node, context: LayoutContext) -> Block:
    """Return the block that a node asks for, with everything in it."""
    if node.tag in ("front", "back", "column", "row"):
        holes = [Hole(child) for child in node.children if child.tag == "hole"]
        blocks = [build(child, context) for child in node.children if _has_place(child, context)]
        inner = [block for block in blocks if not _is_silent(block)]
        kind: type[Container] = Row if node.tag == "row" else Column
        return kind(node, inner, context, holes)
    if (label := _printed(node, context)) is not None:
        return PrintedLabel(node, context, label)
    if context.shows_photo(node):
        return PictureBlock(node, context)
    return Spacer(node, context) if _undrawn(node, context) else _LEAVES[node.tag](node, context)


def _printed(node: Node, context: LayoutContext) -> Piece | None:
    """Return the label that takes a figure's place, where the lot that it names has one."""
    return context.printed.get(node.attrs["label"]) if "label" in node.attrs else None


def _undrawn(node: Node, context: LayoutContext) -> bool:
    """Tell whether a figure or bar shows nothing, for want of a recipe."""
    shows = node.tag in ("figure", "swatch") and not context.shows_photo(node)
    if _printed(node, context) is not None:
        return False
    return shows and not context.product_of(node).colour.layers


def _has_place(node: Node, context: LayoutContext) -> bool:
    """Tell whether a node is a block; what shows nothing gives way, unless its width is fixed."""
    return node.tag != "hole" and ("width" in node.attrs or not _undrawn(node, context))


def _is_silent(block: Block) -> bool:
    """Tell whether a block has nothing in it and no place of its own: it takes no gap either."""
    if isinstance(block, Container):
        empty = not block.children and not block.holes
    else:
        empty = isinstance(block, TextBlock | Disclosure) and block.empty
    return empty and not _PLACED & block.node.attrs.keys()


_PLACED = {"width", "height", "share", "pad", "ground", "outline"}
"""What gives a block a place on the piece, or something to see, even when it is empty."""


def validate_face(face: Node, surface: Surface, context: LayoutContext, safe: float) -> None:
    """Refuse what stands where it must not.

    Args:
        face: the front or back.
        surface: what was drawn on it.
        context: for the places that findings name.
        safe: what stays free inside the trim, in points.

    Raises:
        LabelerError: with every block that stands over a hole, outside the safe zone, on
            another block or too near a quantity, and every hole that is cut off.
    """
    faults = [*_misplaced(face, surface, context, safe), *_crowded(surface, context)]
    if faults:
        raise LabelerError(faults)


def _misplaced(
    face: Node, surface: Surface, context: LayoutContext, safe: float
) -> Iterator[Finding]:
    for hole in surface.holes:
        if not contains(surface.trim, bounding_box(path_points(hole)), SLACK_PT):
            yield stop("layout-hole-outside", context.place(face), "a hole reaches over the edge")
    for box, block in surface.occupied:
        if any(overlaps(box, hole, SLACK_PT) for hole in surface.hole_zones):
            yield stop(
                "layout-hole-covered", context.place(block.node), "this stands over the hang hole",
                hint="Shorten the text, or choose a larger card or another layout.",
            )  # fmt: skip
    zone = grown(surface.trim, -safe)
    for box, block in surface.occupied:
        if not contains(zone, box, SLACK_PT):
            yield stop(
                "layout-unsafe", context.place(block.node), "this stands outside the safe zone",
                found=_edges(box, surface.trim),
                expected=f"at least {Length(safe).mm:.2f} mm from every edge",
            )  # fmt: skip


def _crowded(surface: Surface, context: LayoutContext) -> Iterator[Finding]:
    # Swept from top to bottom, so that only blocks side by side are held against each other.
    beside: list[tuple[Box, Block]] = []
    for box, block in sorted(surface.occupied, key=lambda one: one[0][1]):
        beside = [one for one in beside if one[0][3] > box[1] + SLACK_PT]
        for other_box, other in beside:
            if other is not block and overlaps(box, other_box, SLACK_PT):
                on = f"this stands on {other.node.name}"
                yield stop("layout-collision", context.place(block.node), on)
        beside.append((box, block))
    for space in surface.clear_spaces:  # 16 CFR 500.6(b)
        room = grown(space.room, -_HAIR)
        for box, other in surface.occupied:
            if other is not space.block and overlaps(other.printed(box), room, SLACK_PT):
                yield stop(
                    "layout-crowded", context.place(space.block.node),
                    f"{other.node.name} stands in the clear space around the quantity",
                    expected=f"{Length(space.above).mm:.1f} mm clear above and below, "
                    f"{Length(space.beside).mm:.1f} mm beside",
                )  # fmt: skip


_HAIR = 0.06
"""Points: two hundredths of a millimetre, by which blocks that just fit may stand over."""


def _edges(box: Box, trim: Box) -> str:
    near = min(box[0] - trim[0], box[1] - trim[1], trim[2] - box[2], trim[3] - box[3])
    if near < 0:
        return f"{-Length(near).mm:.2f} mm over an edge"
    return f"{Length(near).mm:.2f} mm from an edge"


_FEWEST = 600 if sys.platform == "linux" else 1_500
"""Pieces from which it pays. A piece from another process costs a tenth to a third more work than
one from this, the more the fewer there are; one that is not forked imports everything again."""

_AT_ONCE = 100
"""Pieces that a process lays out before it sends them: what they have in common is sent once, and
an interrupted run ends within moments."""

Outcome = tuple[Composed | LabelerError, list[Finding]]
"""A piece, or what stands in its way, and what else is worth saying of it."""


def compose_each(composer: Composer, jobs: Sequence[Job]) -> Generator[Composed | LabelerError]:
    """Yield each job's piece, or the error that it ends in, in the order of the jobs.

    What is worth saying of the pieces is added to the composer's findings in the same order.
    """
    done = 0
    if len(jobs) >= _FEWEST and _cores() > 1 and threading.active_count() == 1:
        try:
            for made, findings in _in_processes(composer, jobs):
                composer.findings += findings
                done += 1
                yield made
        except BrokenProcessPool:  # a process was ended from outside, perhaps for its memory
            pass
    for job in jobs[done:]:
        outcome = _outcome(composer, job)
        yield (outcome if len(jobs) < _FEWEST else _without_blocks(outcome))[0]


def _outcome(composer: Composer, job: Job) -> Outcome:
    before = len(composer.findings)
    try:
        made: Composed | LabelerError = composer.compose_with_pictures(job)
    except LabelerError as error:
        made = error
    return made, composer.findings[before:]


def _in_processes(composer: Composer, jobs: Sequence[Job]) -> Iterator[Outcome]:
    pool = ProcessPoolExecutor(
        min(_cores(), -(-len(jobs) // _AT_ONCE)),
        get_context("fork" if sys.platform == "linux" else "spawn"),
        _begin,
        (
            composer.maker_folder,
            composer.dpi,
            composer.ink,
            composer.finish,
            composer.edition,
            jobs,
        ),
    )
    try:
        ranges = [range(at, min(at + _AT_ONCE, len(jobs))) for at in range(0, len(jobs), _AT_ONCE)]
        futures: list[Future[list[Outcome]]] = [pool.submit(_compose, each) for each in ranges]
        for place, future in enumerate(futures):
            yield from future.result()
            futures[place] = Future()  # so that a piece is not kept twice
    finally:
        pool.shutdown(cancel_futures=True)


def _cores() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # only some systems tell what a process may use
        return os.cpu_count() or 1


_mine: tuple[Composer, Sequence[Job]]


def _begin(
    maker_folder: Path | None, dpi: int | None, ink: InkMode, finish: bool, edition: int,
    jobs: Sequence[Job],
) -> None:  # fmt: skip
    """Make ready to lay out; leave Ctrl-C to the process that asked, and end when it ends."""
    global _mine
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _mine = Composer(maker_folder, dpi=dpi, ink=ink, finish=finish, edition=edition), jobs


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(1)


def _compose(numbers: range) -> list[Outcome]:
    composer, jobs = _mine
    return [_without_blocks(_outcome(composer, jobs[number])) for number in numbers]


def _without_blocks(outcome: Outcome) -> Outcome:
    """Return an outcome without the blocks, which would cost more to send than to build again."""
    made, findings = outcome
    return (replace(made, built=None) if isinstance(made, Composed) else made), findings
