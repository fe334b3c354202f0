"""Pieces of our own making, sheets by name, and the press itself, for the tests of this room."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import Any

import pytest

from labeler.marks import Glyphs, Mark, Piece, PieceSide, VectorPath
from labeler.press.impose import Imposition, Ticket
from labeler.press.pdf.run import write_pdf
from labeler.press.sheets import Sheet, all_sheets
from labeler.type.faces import typeface


@pytest.fixture(scope="session")
def sheets() -> dict[str, Sheet]:
    """Every sheet that ships."""
    return all_sheets()


@pytest.fixture(scope="session")
def press() -> Callable[..., bytes]:
    """Return a function that prints a plan into bytes."""

    def printed(plan: Imposition, **ticket: Any) -> bytes:
        file = BytesIO()
        write_pdf(plan, file, Ticket(**({"title": "Test run"} | ticket)))
        return file.getvalue()

    return printed


@pytest.fixture(scope="session")
def words() -> Callable[..., Glyphs]:
    """Return a function that sets a text as one run."""

    def run(text: str, x: float = 6.0, y: float = 14.0, face: str = "sans", **rest: Any) -> Glyphs:
        size = rest.pop("size", 8.0)
        shaped = typeface(face).shape(text)
        width = shaped.width * size / 1000
        ink = rest.pop("ink", "#000000")
        return Glyphs(x, y, face, size, ink, shaped.text, width, shaped.shifts, **rest)

    return run


@pytest.fixture(scope="session")
def block() -> Callable[..., VectorPath]:
    """Return a function that makes a filled rectangle."""

    def filled(
        left: float, top: float, right: float, bottom: float, fill: str = "#000000"
    ) -> VectorPath:
        return VectorPath(
            (
                ("M", left, top),
                ("L", right, top),
                ("L", right, bottom),
                ("L", left, bottom),
                ("Z",),
            ),
            fill=fill,
        )

    return filled


@pytest.fixture(scope="session")
def label(block: Callable[..., VectorPath]) -> Callable[..., Piece]:
    """Return a function that makes a piece; by default its front is black from trim to trim."""

    def piece(
        sku: str = "RV-38-GREEN",
        size: tuple[float, float] = (189.0, 72.0),
        front: tuple[Mark, ...] | None = None,
        back: tuple[Mark, ...] | None = None,
        **rest: Any,
    ) -> Piece:
        width, height = size
        solid = (block(0, 0, width, height),)
        face = {key: rest.pop(key) for key in ("holes", "folds") if key in rest}
        faces = [PieceSide("front", solid if front is None else front, **face)]
        if back is not None:
            faces.append(PieceSide("back", back))
        return Piece(sku, "", "bag-label", width, height, tuple(faces), **rest)

    return piece


@pytest.fixture(scope="session")
def boxes() -> Callable[[bytes], list[list[tuple[float, float, float, float]]]]:
    """Return a function that reads back, page by page, the boxes of all paths.

    Read by pdfminer.six, which shares no code with the press: left, top, right, bottom in
    points from the page's top left corner.
    """
    from pdfminer.high_level import extract_pages
    from pdfminer.layout import LAParams, LTContainer, LTCurve

    def curves(item: Any) -> Any:
        if isinstance(item, LTCurve):
            yield item
        elif isinstance(item, LTContainer):
            for part in item:
                yield from curves(part)

    def read(pdf: bytes) -> list[list[tuple[float, float, float, float]]]:
        pages = extract_pages(BytesIO(pdf), laparams=LAParams(all_texts=True))
        return [
            [(c.x0, page.height - c.y1, c.x1, page.height - c.y0) for c in curves(page)]
            for page in pages
        ]

    return read


@pytest.fixture(scope="session")
def raster() -> Callable[..., Any]:
    """Return a function that renders a page with PDFium, as grey or RGB values by row."""
    import numpy as np
    import pypdfium2

    def rendered(pdf: bytes, page: int = 0, dpi: float = 300, mode: str = "L") -> Any:
        document = pypdfium2.PdfDocument(pdf)
        try:
            bitmap = document[page].render(scale=dpi / 72)
            return np.array(bitmap.to_pil().convert(mode))
        finally:
            document.close()

    return rendered
