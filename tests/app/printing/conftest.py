"""The demo printed once, and independent readers of what came out."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from PIL import Image

from labeler.app.print_request import PrintRequest
from labeler.app.print_run import PrintResult
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import read_catalog
from labeler.files import Readings
from tests.one_lot import print_one_lot

ROOT = Path(__file__).resolve().parents[3]
DEMO = ROOT / "demo_catalog"
LOT = "263290013"


@dataclass(frozen=True)
class Run:
    """A printed file and the products on it, in the order of their cells."""

    file: Path
    printed: PrintResult
    products: tuple[Product, ...]


@pytest.fixture(scope="module", autouse=True)
def _read_once() -> Iterator[None]:
    """Read a maker's files again only where they have changed, as the desk does."""
    with Readings().using():
        yield


@pytest.fixture(scope="session")
def catalog() -> Catalog:
    """The demo catalog."""
    return read_catalog(DEMO)


@pytest.fixture(scope="session")
def run(tmp_path_factory: pytest.TempPathFactory, catalog: Catalog) -> Callable[..., Run]:
    """Return a function that prints the demo; the same wish is printed once."""
    kept: dict[str, Run] = {}
    folder = tmp_path_factory.mktemp("printed")

    def print_once(use: str, **request: Any) -> Run:
        key = f"{use}{sorted(request.items())}"
        if key not in kept:
            out = folder / f"{len(kept)}.pdf"
            printed = print_one_lot(PrintRequest(DEMO, out, use, **request), LOT)  # type: ignore[arg-type]
            wanted = request.get("skus", ())
            products = tuple(
                p
                for p in catalog.products
                if not wanted or any(p.sku.startswith(w.rstrip("*")) for w in wanted)
            )
            kept[key] = Run(out, printed, products)
        return kept[key]

    return print_once


@pytest.fixture(scope="session")
def pages() -> Callable[[Path, int], list[Image.Image]]:
    """Return a function that renders every page of a file with PDFium, in grey."""
    kept: dict[tuple[Path, int], list[Image.Image]] = {}

    def render(file: Path, dpi: int) -> list[Image.Image]:
        if (file, dpi) not in kept:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                document = pypdfium2.PdfDocument(file)
                kept[file, dpi] = [
                    page.render(scale=dpi / 72, grayscale=True).to_pil() for page in document
                ]
                document.close()
        return kept[file, dpi]

    return render
