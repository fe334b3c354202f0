"""The demo and the starter, read once, just as a maker's folder is."""

from __future__ import annotations

from pathlib import Path

import pytest

from labeler.catalog.model import Catalog
from labeler.catalog.read import read_catalog

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture(scope="session")
def demo_folder() -> Path:
    return ROOT / "demo_catalog"


@pytest.fixture(scope="session")
def starter_folder() -> Path:
    return ROOT / "layouts" / "starter"


@pytest.fixture(scope="session")
def demo(demo_folder: Path) -> Catalog:
    return read_catalog(demo_folder)


@pytest.fixture(scope="session")
def starter(starter_folder: Path) -> Catalog:
    return read_catalog(starter_folder)
