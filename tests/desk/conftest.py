"""A desk on a line of one's own, asked in this process as a browser asks."""

from __future__ import annotations

import json
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from html import unescape
from pathlib import Path
from typing import ClassVar

import pytest
from anyio.from_thread import BlockingPortal, start_blocking_portal
from starlette import testclient
from starlette.types import ASGIApp

from labeler.desk.address import Address
from labeler.desk.application import application

ROOT = Path(__file__).resolve().parents[2]
ADDRESS = Address(41_234, "5eed5eed", "a-secret-that-nobody-knows")
ORIGIN = f"http://{ADDRESS.host}"
HOME = f"{ORIGIN}/{ADDRESS.room}"


def demo_in(folder: Path) -> Path:
    """Copy the demo's catalog, without what was made of it."""
    leave = shutil.ignore_patterns("prints", "ledger.sqlite*", "out", ".desk")
    return Path(shutil.copytree(ROOT / "demo_catalog", folder, ignore=leave))


def starter_in(folder: Path) -> Path:
    """Copy the starter's catalog, of four products."""
    return Path(shutil.copytree(ROOT / "layouts" / "starter", folder))


class Browser:
    """A browser that was let in, with the desk that it looks at."""

    portal: ClassVar[BlockingPortal | None] = None
    """The event loop of all: to begin one for a request takes longer than most answers."""

    own: ClassVar[dict[str, str]] = {"Origin": ORIGIN, "Sec-Fetch-Site": "same-origin"}
    """What a browser says of a form on a page of the desk's."""

    def __init__(self, folder: Path) -> None:
        self.app, self.desk = application(folder, ADDRESS)
        self.web = client(self.app, raise_server_exceptions=False)
        self.get(f"/?key={ADDRESS.secret}")

    def get(self, path: str, status: int = 200, **headers: str) -> str:
        """Return a page's text."""
        return self._text(self.web.get(self._url(path), headers=headers), status)

    def post(self, path: str, status: int = 303, /, files: object = None, **fields: object) -> str:
        """Send a form from a page of the desk's; return where it leads, or the page it shows."""
        answer = self.web.post(self._url(path), data=fields, files=files, headers=self.own)  # type: ignore[arg-type]
        text = self._text(answer, status)
        return str(answer.headers.get("location", "")).removeprefix(f"/{ADDRESS.room}") or text

    def _url(self, path: str) -> str:
        return path if path.startswith("http") else HOME + path

    def _text(self, answer: object, status: int) -> str:
        text = str(answer.text)  # type: ignore[attr-defined]
        assert answer.status_code == status, text  # type: ignore[attr-defined]
        return text


def client(app: ASGIApp, **how: bool) -> testclient.TestClient:
    """Return what asks an application as any browser does, one that was not let in."""
    made = testclient.TestClient(app, base_url=ORIGIN, follow_redirects=False, **how)  # type: ignore[arg-type]
    made.portal = Browser.portal
    return made


@pytest.fixture(scope="session", autouse=True)
def portal() -> Iterator[None]:
    """Keep one event loop while the desk's tests run."""
    with start_blocking_portal() as Browser.portal:
        yield
    Browser.portal = None


def words_of(page: str) -> str:
    """Return what is read on a page, on one line, without its markup."""
    body = page[page.find("<main") :]
    return unescape(" ".join(re.sub(r"<[^>]+>", " ", body).split()))


@contextmanager
def served(line: Path) -> Iterator[str]:
    """Begin a desk on a line as the command does; yield its address."""
    words = ["-m", "labeler", "--catalog", str(line), "desk", "--no-browser", "--json"]
    with subprocess.Popen([sys.executable, *words], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout
        said = ""
        while not said.endswith("\n}\n"):
            said += process.stdout.readline()
        try:
            yield json.loads(said)["address"]
        finally:
            process.send_signal(signal.SIGINT)


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demo's catalog, to be worked on; what was just written is not read for each page."""
    monkeypatch.setattr("labeler.files._COARSE", 0)
    return demo_in(tmp_path / "line")


@pytest.fixture
def browser(line: Path) -> Iterator[Browser]:
    """A browser that was let in to the desk on the demo."""
    made = Browser(line)
    yield made
    made.desk.close()


@pytest.fixture
def unhurried(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Nobody takes up the work: the test does it itself, and takes Ctrl-C as before when done."""
    before = signal.getsignal(signal.SIGINT)
    monkeypatch.setattr("labeler.desk.work.Works._see_to", lambda works, number: None)
    yield
    signal.signal(signal.SIGINT, before)
