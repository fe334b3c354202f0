"""Ledgers to write in, on SQLite and on a PostgreSQL of the tests' own; products for lots."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path
from uuid import uuid4

import pytest
from sqlalchemy import create_engine, text

from labeler.catalog.model import (
    Colour,
    Head,
    Hook,
    Layer,
    Maker,
    Material,
    Pattern,
    Product,
)
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


MEMORY = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
"""What a killed process wrote is with the kernel already: only a power cut needs a real disk."""


@pytest.fixture(scope="session")
def new_folder() -> Iterator[Callable[[], Path]]:
    """Makes catalog folders."""
    with tempfile.TemporaryDirectory(prefix="ledger-", dir=MEMORY) as home:
        yield lambda: Path(tempfile.mkdtemp(dir=home))


@pytest.fixture
def folder(new_folder: Callable[[], Path]) -> Path:
    """A catalog folder."""
    return new_folder()


@pytest.fixture(params=["sqlite", "postgresql"])
def where(request: pytest.FixtureRequest) -> str:
    """A place for a new ledger: a folder, then an empty schema on a server."""
    if request.param == "sqlite":
        return str(request.getfixturevalue("folder"))
    server: Server = request.getfixturevalue("server")
    return server.schema()


@pytest.fixture
def ledger(where: str) -> Iterator[Ledger]:
    """A new ledger, on each kind of database; it is always noon."""
    with open_ledger(where, who="ann", clock=lambda: NOON, patience=5) as opened:
        yield opened


class Server:
    """A throwaway PostgreSQL cluster on the loopback interface."""

    def __init__(self, binaries: Path, home: Path) -> None:
        self.binaries, self.home = binaries, home
        self.port = _free_port()
        self._run("initdb", "-D", "data", "-U", "bench", "--auth=trust", "-E", "UTF8", "--no-sync")
        self.start()

    def start(self) -> None:
        """Start the server and wait until it answers."""
        options = f"-k {self.home} -p {self.port} -c listen_addresses=127.0.0.1 -c fsync=off"
        self._run("pg_ctl", "-D", "data", "-l", "log", "-w", "-o", options, "start")

    def stop(self, mode: str = "immediate") -> None:
        """Stop the server; ``immediate`` is as good as a crash."""
        self._run("pg_ctl", "-D", "data", "-w", "-m", mode, "stop")

    def database(self) -> str:
        """Return the address of a new, empty database."""
        name = f"ledger_{uuid4().hex[:12]}"
        engine = create_engine(self._address("postgres"), isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            connection.execute(text(f"CREATE DATABASE {name}"))
        engine.dispose()
        return self._address(name).replace("+psycopg", "")

    def schema(self) -> str:
        """Return the address of a new, empty schema; quicker to make than a database."""
        name = f"ledger_{uuid4().hex[:12]}"
        engine = create_engine(self._address("postgres"))
        with engine.begin() as connection:
            connection.execute(text(f"CREATE SCHEMA {name}"))
        engine.dispose()
        address = self._address("postgres").replace("+psycopg", "")
        return f"{address}?options=-csearch_path%3D{name}"

    def _address(self, name: str) -> str:
        return f"postgresql+psycopg://bench@127.0.0.1:{self.port}/{name}"

    def _run(self, program: str, *arguments: str) -> None:
        """Run one of PostgreSQL's programs, which refuse to be root."""
        user = "postgres" if os.geteuid() == 0 else None
        done = subprocess.run(
            [str(self.binaries / program), *arguments],
            cwd=self.home,
            user=user,
            group=user,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE if program == "initdb" else subprocess.DEVNULL,
            stderr=subprocess.STDOUT if program == "initdb" else subprocess.DEVNULL,
            timeout=60,
            check=False,
        )
        if done.returncode:
            log = self.home / "log"
            said = log.read_text()[-2000:] if log.exists() else str(done.stdout)
            raise RuntimeError(f"{program} failed: {said}")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _binaries() -> Path | None:
    if found := shutil.which("initdb"):
        return Path(found).resolve().parent
    installed = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    return installed[-1].parent if installed else None


@pytest.fixture(scope="session")
def server(request: pytest.FixtureRequest) -> Iterator[Server]:
    """A PostgreSQL server; without its programs the tests that need it are left out, loudly."""
    binaries = _binaries()
    if binaries is None:
        reporter = request.config.pluginmanager.getplugin("terminalreporter")
        if reporter is not None:
            loud = "NOT TESTED ON POSTGRESQL: apt-get install postgresql"
            reporter.write_line(f"\n*** {loud} ***", red=True, bold=True)
        pytest.skip("NOT TESTED ON POSTGRESQL: its programs are missing")
    home = Path(tempfile.mkdtemp(prefix="ledger-pg-", dir=MEMORY))
    if os.geteuid() == 0:
        owner = pwd.getpwnam("postgres")
        os.chown(home, owner.pw_uid, owner.pw_gid)
    running = Server(binaries, home)
    try:
        yield running
    finally:
        running.stop()
        shutil.rmtree(home)


@pytest.fixture
def database(server: Server) -> str:
    """The address of an empty database of its own."""
    return server.database()
