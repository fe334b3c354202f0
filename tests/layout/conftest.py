"""A product made by hand, and a way to lay out markup that stands in the test itself."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from hypothesis import settings

from labeler.catalog.model import CatalogFile, Product
from labeler.disclosures.statements import folded
from labeler.findings import Finding, LabelerError
from labeler.geometry import Box, apply_to_box, bounding_box, union
from labeler.layout.block import Block, LayoutContext, Surface
from labeler.layout.boxes import RuleBlock, Spacer
from labeler.layout.compose import Composer, Job, validate_face
from labeler.layout.drawn_blocks import CodeBlock, Figure, PictureBlock
from labeler.layout.markup import Node
from labeler.layout.swatch import Swatch
from labeler.layout.text_blocks import Disclosure, TextBlock
from labeler.marks import Code, Glyphs, Group, InkMode, Mark, Piece, path_points
from labeler.marks import VectorPath as PathMark
from labeler.units import Weight

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog"

settings.register_profile("any machine", deadline=None)
settings.load_profile("any machine")

Lay = Callable[..., Piece]

FONTS = Path(__file__).resolve().parents[2] / "fonts"


class Drawn(NamedTuple):
    """What one block drew: the boxes of its ink as fontTools has them, and those it owned up to."""

    name: str
    ink: list[Box]
    taken: list[Box]


class Watch:
    """Every block that was drawn, and what stood on each face in the end."""

    def __init__(self) -> None:
        self.drawn: list[Drawn] = []
        self.faces: list[list[tuple[Box, str]]] = []

    def forget(self) -> None:
        """Begin a new piece."""
        self.drawn.clear()
        self.faces.clear()


@pytest.fixture(scope="session")
def product() -> Product:
    """A lead swim jig of the demo's, put together by hand."""
    file = CatalogFile.model_validate(tomllib.loads((DEMO / "catalog.toml").read_text("utf-8")))
    pattern = file.patterns["reedmace"]
    head = file.heads[pattern.head]
    return Product(
        sku="RM-38-40-SBR",
        pattern=pattern,
        weight=Weight.parse("3/8 oz"),
        hook_size="4/0",
        colour=file.colours["sunday-bream"],
        head=head,
        hook=file.hooks[pattern.hook],
        materials={head.alloy: file.materials[head.alloy], "silicone": file.materials["silicone"]},
        maker=file.maker,
        markets=file.sale.markets,
    )


@pytest.fixture
def lay(tmp_path: Path, product: Product) -> Lay:
    """Return a function that lays out a front's markup on a piece of a size in points."""
    folder = tmp_path / "layouts"
    folder.mkdir()

    def lay_out(
        front: str,
        size: tuple[float, float] = (200, 100),
        whole: bool = False,
        dpi: int | None = None,
        product: Product = product,
        ink: InkMode = "colour",
        findings: list[Finding] | None = None,
        **job: object,
    ) -> Piece:
        markup = front if whole else f'<piece safe="0pt"><front>\n{front}\n</front></piece>'
        (folder / "mine.xml.jinja").write_text(markup, "utf-8")
        composer = Composer(tmp_path, dpi=dpi, ink=ink)
        piece = composer.compose(Job(product, "mine", size, **job))  # type: ignore[arg-type]
        if findings is not None:
            findings += composer.findings
        return piece

    return lay_out


@pytest.fixture
def faults(lay: Lay) -> Callable[..., tuple[Finding, ...]]:
    """Return a function that gives what is wrong with a layout; it must be something."""

    def found(
        front: str, size: tuple[float, float] = (200, 100), **rest: object
    ) -> tuple[Finding, ...]:
        with pytest.raises(LabelerError) as caught:
            lay(front, size, **rest)
        return caught.value.findings

    return found


@pytest.fixture
def runs() -> Callable[[Piece], list[Glyphs]]:
    """Return a function that gives all glyph runs of a piece's front."""

    def inside(marks: tuple[Mark, ...]) -> list[Glyphs]:
        found: list[Glyphs] = []
        for mark in marks:
            if isinstance(mark, Glyphs):
                found.append(mark)
            elif isinstance(mark, Group):
                found += inside(mark.marks)
        return found

    return lambda piece: inside(piece.faces[0].marks)


@cache
def outlines(face: str) -> tuple[TTFont, Any, dict[int, str]]:
    """Return a shipped font as fontTools reads it; its figures for tables where they are asked."""
    name, _, figures = face.partition(", ")
    table = tomllib.loads((FONTS / "faces.toml").read_text("utf-8"))
    font = TTFont(FONTS / table[name]["file"])
    cmap = dict(font.getBestCmap())
    if figures:
        swapped = for_tables(font)
        cmap = {code: swapped.get(named, named) for code, named in cmap.items()}
    return font, font.getGlyphSet(), cmap


def for_tables(font: TTFont) -> dict[str, str]:
    """Return the glyphs that a font's feature tnum puts in the place of others."""
    gsub = font["GSUB"].table
    swapped: dict[str, str] = {}
    for record in gsub.FeatureList.FeatureRecord:
        if record.FeatureTag == "tnum":
            for number in record.Feature.LookupListIndex:
                for part in gsub.LookupList.Lookup[number].SubTable:
                    swapped |= getattr(part, "ExtSubTable", part).mapping
    return swapped


@cache
def glyph(face: str, letter: str) -> tuple[float, Box | None]:
    """Return a glyph's advance and the box of its ink, y up, in ems."""
    font, glyphs, cmap = outlines(face)
    em = font["head"].unitsPerEm
    pen = BoundsPen(glyphs)
    glyphs[cmap[ord(letter)]].draw(pen)
    box = None if pen.bounds is None else tuple(n / em for n in pen.bounds)
    return glyphs[cmap[ord(letter)]].width / em, box


def ink_of(mark: Mark) -> Iterator[Box]:
    """Yield the boxes of a mark's ink; of a run, letter by letter."""
    if isinstance(mark, Glyphs):
        x = mark.x
        for place, letter in enumerate(mark.text):
            advance, box = glyph(mark.face, letter)
            if box:
                left, low, right, high = (n * mark.size for n in box)
                yield x + left, mark.y - high, x + right, mark.y - low
            x += (advance + (mark.shifts[place] / 1000 if mark.shifts else 0)) * mark.size
    elif isinstance(mark, PathMark):
        yield bounding_box(path_points(mark))
    elif isinstance(mark, Group):
        yield apply_to_box(mark.matrix, mark.box)
    else:
        yield mark.x, mark.y, mark.x + mark.width, mark.y + mark.height


@pytest.fixture
def watch(monkeypatch: pytest.MonkeyPatch) -> Watch:
    """Look on while blocks are drawn and faces looked over."""
    seen = Watch()

    def watched(kind: type[Block]) -> None:
        draw = kind.draw

        def draw_watched(self: Block, box: Box, surface: Surface) -> None:
            marks, taken = len(surface.marks), len(surface.occupied)
            draw(self, box, surface)
            ink = [box for mark in surface.marks[marks:] for box in ink_of(mark)]
            seen.drawn.append(
                Drawn(self.node.name, ink, [box for box, _ in surface.occupied[taken:]])
            )

        monkeypatch.setattr(kind, "draw", draw_watched)

    for kind in (TextBlock, Disclosure, CodeBlock, Swatch, RuleBlock, Spacer, Figure, PictureBlock):
        watched(kind)

    def looked_over(face: Node, surface: Surface, context: LayoutContext, safe: float) -> None:
        seen.faces.append([(box, str(id(block))) for box, block in surface.occupied])
        validate_face(face, surface, context, safe)

    monkeypatch.setattr("labeler.layout.compose.validate_face", looked_over)
    return seen


@pytest.fixture
def keeps_its_promises(watch: Watch) -> Callable[[Piece], None]:
    """Return a function that holds a piece against what every piece promises."""

    def check(piece: Piece) -> None:
        for name, ink, taken in watch.drawn:
            around = [min(n) for n in list(zip(*taken, strict=True))[:2]] if taken else []
            around += [max(n) for n in list(zip(*taken, strict=True))[2:]] if taken else []
            for box in ink:
                assert taken, f"{name} has ink and does not say where"
                assert all(box[i] >= around[i] - NEAR for i in (0, 1)), (name, box, around)
                assert all(box[i] <= around[i] + NEAR for i in (2, 3)), (name, box, around)
        for face in watch.faces:
            for (box, block), (other_box, other) in combinations(face, 2):
                apart = (
                    box[2] <= other_box[0] + NEAR
                    or other_box[2] <= box[0] + NEAR
                    or box[3] <= other_box[1] + NEAR
                    or other_box[3] <= box[1] + NEAR
                )
                assert apart or block == other, (box, other_box)
            for box, _ in face:
                assert box[0] >= piece.safe - NEAR
                assert box[1] >= piece.safe - NEAR
                assert box[2] <= piece.width - piece.safe + NEAR
                assert box[3] <= piece.height - piece.safe + NEAR

    return check


NEAR = 0.05
"""Points: a fiftieth of a millimetre, for shifts kept to a hundredth of a thousandth of an em."""


@pytest.fixture
def keeps_clear() -> Callable[[Piece, str], None]:
    """Return a function that holds the room around a quantity against 16 CFR 500.6(b).

    Above and below, the height of its letters; left and right, twice the width of its capital N.
    A code's ink begins at its dark modules.
    """

    def check(piece: Piece, words: str) -> None:
        for face in piece.faces:
            mine = [m for m in face.marks if isinstance(m, Glyphs) and folded(m.text) == words]
            others = [box for m in face.marks if m not in mine for box in printed(m)]
            for run in mine:
                letters = list(ink_of(run))
                left, top, right, bottom = union(letters)
                high, wide = run.y - top, 2 * glyph(run.face, "N")[0] * run.size
                room = (left - wide, top - high, right + wide, bottom + high)
                for box in others:
                    apart = (
                        box[2] <= room[0] + HAIR
                        or box[0] >= room[2] - HAIR
                        or box[3] <= room[1] + HAIR
                        or box[1] >= room[3] - HAIR
                    )
                    assert apart, (room, box)

    return check


HAIR = 0.1
"""Points: a thirtieth of a millimetre, a tenth of what a desk printer's toner spreads."""


def printed(mark: Mark) -> Iterator[Box]:
    """Yield the boxes of what is dark."""
    if isinstance(mark, PathMark) and mark.stroke and not mark.fill:
        half, edges = mark.width / 2, list(path_points(mark))
        for (x, y), (to_x, to_y) in pairwise([*edges, edges[0]]):
            across, along = half * (y != to_y), half * (x != to_x)
            left, right = min(x, to_x) - across, max(x, to_x) + across
            yield left, min(y, to_y) - along, right, max(y, to_y) + along
    elif isinstance(mark, Code):
        for x, y, wide, high in mark.bars:
            left, top = mark.x + x * mark.module, mark.y + y * mark.module
            yield left, top, left + wide * mark.module, top + high * mark.module
    else:
        yield from ink_of(mark)


@pytest.fixture
def cap_height() -> Callable[[Glyphs], float]:
    """Return a function that gives the height of a run's capitals, as fontTools has it."""

    def high(run: Glyphs) -> float:
        box = glyph(run.face, "J")[1]
        assert box is not None
        return box[3] * run.size

    return high
