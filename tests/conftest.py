"""What every room's tests may ask for."""

from __future__ import annotations

import gc
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from hypothesis import settings

TESTS = Path(__file__).parent
WHOLE = ("app/lots/", "app/printing/", "book/", "checker/faults/", "cli/")
"""Where the tests print runs, read books or run commands."""

APART = ("tests/cli", "tests/desk", "tests/ledger")
"""Where no file needs what another has made."""

# Python would compile all tests anew for every run, which takes longer than to collect them.
sys.dont_write_bytecode = False

Made = list[pytest.Item | pytest.Collector] | None

# What is drawn from: no time is asserted, since a busy machine proves nothing against the program,
# and the same is drawn each time, so that what lands is what was tried. Draw others now and then:
# pytest --hypothesis-profile=others
settings.register_profile("others", max_examples=50, deadline=None)
settings.register_profile("whole", max_examples=20, deadline=None, derandomize=True)
settings.register_profile("quick", max_examples=10, deadline=None, derandomize=True)


def pytest_configure(config: pytest.Config) -> None:
    """Draw few examples where the sieges are left out, and always the same."""
    if not config.getoption("--hypothesis-profile"):
        settings.load_profile("quick" if "not siege" in config.option.markexpr else "whole")


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Spare the garbage collector the thousands of tests, which all stay to the end."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the switches: golden pages drawn anew, planted faults looked for in both ways."""
    parser.addoption(
        "--golden-update", action="store_true", help="draw the golden pages anew, then look at them"
    )
    parser.addoption(
        "--both-ways", action="store_true",
        help="ask of every planted fault whether reading finds it, and whether making again does",
    )  # fmt: skip


@cache
def _place(path: Path) -> str:
    return path.relative_to(TESTS).as_posix()


@pytest.hookimpl(wrapper=True)
def pytest_pycollect_makeitem(
    collector: pytest.Collector,
) -> Generator[None, Made, Made]:
    """Leave to the sieges what works on whole runs and books, or on a server.

    What is marked ``daily`` stays in the quick run, of many cases those that it names. Here all
    of them are at hand, however few were asked for: so a name that is none is told at once.
    """
    made = yield
    items = [each for each in made or () if isinstance(each, pytest.Function)]
    for item in items:
        daily = item.get_closest_marker("daily")
        if daily is None:
            long = _place(collector.path).startswith(WHOLE) or "server" in item.fixturenames
        else:
            long = bool(daily.args) and _case(item) not in daily.args
        if long:
            item.add_marker(pytest.mark.siege)
    daily = items[0].get_closest_marker("daily") if items else None
    if daily and not set(daily.args) <= (cases := {_case(each) for each in items}):
        wrong = sorted(set(daily.args) - cases)
        name = items[0].originalname
        raise pytest.Collector.CollectError(f"{name}, daily: no case of {sorted(cases)} is {wrong}")
    return made


def _case(item: pytest.Function) -> str:
    return item.callspec.id if hasattr(item, "callspec") else ""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the folders of most sieges, so that no process ends long after the others."""
    sieges = Counter(item.path.parent for item in items if item.get_closest_marker("siege"))
    items.sort(key=lambda item: -sieges[item.path.parent])


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> object | None:
    """Keep the tests of a folder in one process, which makes its books and runs once.

    The folders are taken as the tests are sorted, not by how many tests each has. Where each file
    makes what it needs by itself, the files are shared out.
    """
    if config.getvalue("dist") != "load":
        return None
    from xdist.scheduler import LoadScopeScheduling  # type: ignore[import-untyped]

    class ByFolder(LoadScopeScheduling):  # type: ignore[misc]
        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.partition("::")[0]
            folder = file.rpartition("/")[0]
            return file if folder.endswith(APART) else folder

    config.option.loadscopereorder = False
    return ByFolder(config, log)


@pytest.fixture(scope="session")
def memory() -> str | None:
    """A folder in memory, where there is one: only a power cut needs a real disk.

    What a killed process wrote is with the kernel already.
    """
    return "/dev/shm" if os.access("/dev/shm", os.W_OK) else None


class Commands:
    """Begins commands in processes of their own, which a test may stop or kill at any moment."""

    def __init__(self, server: subprocess.Popen[str], out: Path) -> None:
        self.server, self.out = server, out

    def practise(self, *words: object) -> str:
        """Carry a command out once, so that those after it need load nothing; return its words."""
        self._give(words, self.out, practice=True)
        return self.out.read_text("utf-8")

    def end(self, *words: object, after: float, number: int) -> tuple[int, str]:
        """Begin a command and send it a signal some seconds after.

        What the command before it said is done away with first: one that is killed before it opens
        its own streams must not be taken to have said it.

        Returns:
            Its exit status, below 0 if the signal ended it, and what it had said by then.
        """
        self.out.unlink(missing_ok=True)
        process = self._give(words, self.out)
        time.sleep(after)
        with suppress(ProcessLookupError):
            os.kill(process, number)
        status = self._ask(wait=process)
        return status, self.out.read_text("utf-8") if self.out.exists() else ""

    def at_once(self, *several: Sequence[object]) -> list[tuple[int, str]]:
        """Carry out several commands at one instant; return each one's status and what it said."""
        begun = []
        for number, words in enumerate(several):
            out = self.out.with_name(str(number))
            begun.append((self._give(words, out), out))
        return [(self._ask(wait=process), out.read_text("utf-8")) for process, out in begun]

    def time(self, *words: object) -> float:
        """Let a command come to its end; return how many seconds it took."""
        begin = time.monotonic()
        status, told = self.end(*words, after=0.0, number=0)
        assert status == 0, told
        return time.monotonic() - begin

    def run(
        self, *words: object, out: str = "", err: str = "", largest: int = 0
    ) -> tuple[int, str, str]:
        """Let a command come to its end; return its exit status and what it said on each stream.

        Args:
            words: what is typed.
            out: where its answer goes, if that is not to be returned: a device, or ``|``, a pipe
                that nobody reads any more.
            err: where its complaints go.
            largest: bytes that no file may grow beyond, as on a full disk; 0 for any size.
        """
        kept = (self.out, self.out.with_name("complaints"))
        into = [given or str(file) for given, file in zip((out, err), kept, strict=True)]
        status = self._ask(wait=self._give(words, into[0], err=into[1], largest=largest))
        said, complained = (
            "" if given else file.read_text("utf-8")
            for given, file in zip((out, err), kept, strict=True)
        )
        return status, said, complained

    def loaded(self, *words: object) -> set[str]:
        """Let a command come to its end; return the modules that it had by then."""
        listing = self.out.with_name("loaded")
        status = self._ask(wait=self._give(words, self.out, loaded=str(listing)))
        assert status == 0, self.out.read_text("utf-8")
        return set(listing.read_text("utf-8").splitlines())

    def _give(self, words: Sequence[object], out: Path | str, **how: object) -> int:
        """Have a command carried out in this process's folder and with its environment."""
        typed = [str(word) for word in words]
        where = {"folder": str(Path.cwd()), "environment": dict(os.environ)}
        return self._ask(words=typed, out=str(out), **where, **how)

    def _ask(self, **asked: object) -> int:
        assert self.server.stdin
        assert self.server.stdout
        print(json.dumps(asked), file=self.server.stdin, flush=True)
        return int(self.server.stdout.readline())


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """The system's browser, for windows of each test's own; without it the tests say so."""
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("NOT TESTED IN A BROWSER: apt-get install chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        # Pages are drawn by the processor in any case; as a graphics card would, it takes longer.
        args = ["--no-sandbox", "--disable-gpu"]
        started = playwright.chromium.launch(executable_path=program, args=args)
        yield started
        started.close()


@contextmanager
def serving(home: Path) -> Iterator[Commands]:
    """Give a server of commands that has loaded none yet; what they say is kept in a folder."""
    words = [sys.executable, str(Path(__file__).with_name("fork_server.py"))]
    with subprocess.Popen(
        words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as server:
        yield Commands(server, home / "said")
        server.kill()


@pytest.fixture(scope="session")
def commands(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Commands]:
    """The command line, ready to be interrupted."""
    with serving(tmp_path_factory.mktemp("said")) as commands:
        yield commands


@pytest.fixture(scope="module")
def fresh_commands(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Callable[[], Commands]]:
    """Begins the command line in a server that has loaded nothing but the command line itself."""
    with ExitStack() as servers:
        yield lambda: servers.enter_context(serving(tmp_path_factory.mktemp("fresh")))


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
        self._say(f"CREATE DATABASE {name}")
        return self._address(name)

    def schema(self) -> str:
        """Return the address of a new, empty schema; quicker to make than a database."""
        name = f"ledger_{uuid4().hex[:12]}"
        self._say(f"CREATE SCHEMA {name}")
        return f"{self._address('postgres')}?options=-csearch_path%3D{name}"

    def _say(self, statement: str) -> None:
        import psycopg

        with psycopg.connect(self._address("postgres"), autocommit=True) as connection:
            connection.execute(statement.encode())

    def _address(self, name: str) -> str:
        return f"postgresql://bench@127.0.0.1:{self.port}/{name}"

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
            timeout=600,
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
def server(request: pytest.FixtureRequest, memory: str | None) -> Iterator[Server]:
    """A PostgreSQL server; without its programs the tests that need it are left out, loudly."""
    binaries = _binaries()
    if binaries is None:
        reporter = request.config.pluginmanager.getplugin("terminalreporter")
        if reporter is not None:
            loud = "NOT TESTED ON POSTGRESQL: apt-get install postgresql"
            reporter.write_line(f"\n*** {loud} ***", red=True, bold=True)
        pytest.skip("NOT TESTED ON POSTGRESQL: its programs are missing")
    home = Path(tempfile.mkdtemp(prefix="ledger-pg-", dir=memory))
    if os.geteuid() == 0:
        import pwd  # not every system has it

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
