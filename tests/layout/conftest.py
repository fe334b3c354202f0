"""A product made by hand, and a way to lay out markup that stands in the test itself."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from labeler.catalog.model import CatalogFile, Product
from labeler.findings import Finding, LabelerError
from labeler.layout.compose import Composer, Job
from labeler.layout.marks import Glyphs, Group, Mark, Piece
from labeler.units import Weight

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog"

Lay = Callable[..., Piece]


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
        **job: object,
    ) -> Piece:
        markup = front if whole else f'<piece safe="0pt"><front>\n{front}\n</front></piece>'
        (folder / "mine.xml.jinja").write_text(markup, "utf-8")
        return Composer(tmp_path, dpi=dpi).compose(
            Job(product, "mine", size, **job)  # type: ignore[arg-type]
        )

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
