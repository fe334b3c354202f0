"""Ledgers to write in, on SQLite and on a PostgreSQL of the tests' own; products for lots."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import pytest

from labeler.catalog.model import Colour, Head, Hook, Layer, Maker, Material, Pattern, Product
from labeler.ledger.file import FILE_NAME, is_address
from labeler.ledger.open import open_ledger
from labeler.ledger.store import Ledger
from labeler.units import Weight

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def make_product(
    sku: str = "RV-38-40-MLN", price: str = "4.75", gtin: str | None = None
) -> Product:
    """Return a product of an invented maker."""
    weight = Weight(Fraction(3, 8), "oz")
    colour = Colour(
        code="MLN",
        name="Melon Rind",
        layers=(
            Layer(material="silicone", shade="melon", ink="#5b5a2b", strands=12),
            Layer(material="silicone", shade="pumpkin", ink="#7a4a1c", strands=22),
        ),
    )
    pattern = Pattern(
        code="RV",
        name="Reed Vole",
        kind="swim jig",
        head="swim",
        hook="heavy",
        weights=(weight,),
        colours=("melon",),
        price=price,
    )
    return Product(
        sku=sku,
        pattern=pattern,
        weight=weight,
        hook_size="4/0",
        colour=colour,
        head=Head(name="Swim head", style="swim", alloy="lead"),
        hook=Hook(name="Heavy 60"),
        materials={
            "lead": Material(name="Lead", kind="alloy", composition={"lead": "100 %"}),
            "silicone": Material(name="Silicone", kind="silicone", strands_per_tab=22),
        },
        maker=Maker(name="Alder Slough Tackle", city="Millrace", postcode="00000"),
        markets=("US",),
        price=price,
        gtin=gtin,
    )


@pytest.fixture(scope="session")
def product() -> Callable[..., Product]:
    """Makes products: ``product(sku, price, gtin)``."""
    return make_product


@pytest.fixture(scope="session")
def melon() -> Product:
    """The one product that most tests make lots of."""
    return make_product()


@pytest.fixture(scope="session")
def new_folder(memory: str | None) -> Iterator[Callable[[], Path]]:
    """Makes catalog folders."""
    with tempfile.TemporaryDirectory(prefix="ledger-", dir=memory) as home:
        yield lambda: Path(tempfile.mkdtemp(dir=home))


@pytest.fixture
def folder(new_folder: Callable[[], Path]) -> Path:
    """A catalog folder."""
    return new_folder()


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.siege)])
def where(request: pytest.FixtureRequest) -> str:
    """A place for a new ledger: a folder, then an empty schema on a server."""
    if request.param == "sqlite":
        return str(request.getfixturevalue("folder"))
    return str(request.getfixturevalue("server").schema())


@pytest.fixture(scope="session")
def begun(new_folder: Callable[[], Path]) -> bytes:
    """The file of a ledger that is begun, and nothing more."""
    folder = new_folder()
    open_ledger(folder).close()
    return (folder / FILE_NAME).read_bytes()


@pytest.fixture
def ledger(where: str, begun: bytes) -> Iterator[Ledger]:
    """A new ledger, on each kind of database; it is always noon."""
    if not is_address(where):
        (Path(where) / FILE_NAME).write_bytes(begun)
    with open_ledger(where, who="ann", clock=lambda: NOON, patience=5) as opened:
        yield opened
