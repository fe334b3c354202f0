"""What an attacker can send is refused at every place of the desk, also at those yet to come.

The places are the application's own; the attacks are those of `tests/desk/test_guard.py`, and what
a browser that was let in could be made to send: ways out of the folder in every part of an address
and in every field, forms without end, signs that no key types, markup in every field.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette import testclient

from labeler.app.open_lots import BatchRequest, open_lot
from labeler.desk.application import FIELDS
from labeler.desk.page import PageRoute
from tests.desk.conftest import ADDRESS, HOME, ORIGIN, Browser, client, starter_in
from tests.desk.every import PLACES, SENT, SHOWN, Walk, address, parts_of

SKU = "FST-38-40-MAR"
SECRET = "what only the maker's computer knows"
SCRIPT = "</title></textarea><script>alert(1)</script><img src=x onerror=alert(1)>\"'"
WAYS_OUT = ("../outside.txt", "..%2foutside.txt", "%2e%2e%2f%2e%2e%2foutside.txt", "/etc/passwd",
            "%2fetc%2fpasswd", "..%5coutside.txt", "....//outside.txt", "catalog.toml%00",
            "file:///etc/passwd")  # fmt: skip
HOSTILE = (*WAYS_OUT, SCRIPT)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A small line with a lot, to be copied; and the lot's code."""
    line = starter_in(tmp_path_factory.mktemp("attacked") / "line")
    return line, open_lot(BatchRequest(line, SKU, 24, materials=("hook=HK-2291",))).lots[0].code


@pytest.fixture
def line(small: tuple[Path, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it beside a file that nobody may have; long work is begun and not done."""
    monkeypatch.setattr("labeler.files._COARSE", 0)
    monkeypatch.setattr("labeler.desk.work.Works._see_to", lambda works, number: None)
    (tmp_path / "outside.txt").write_text(SECRET)
    return Path(shutil.copytree(small[0], tmp_path / "line"))


@pytest.fixture
def known(small: tuple[Path, str]) -> dict[str, str]:
    """What stands for the names in the places' paths."""
    return {"code": small[1], "sku": SKU, "/work number": "ab" * 8, "place": "0"}


def sent(web: testclient.TestClient, place: PageRoute, path: str, **headers: str) -> int:
    """Send what the place takes; return the status of the answer, after which nothing was shown."""
    method = "POST" if place.post else "GET"
    answer = web.request(method, HOME + path, headers={"Origin": ORIGIN} | headers)
    assert "<main" not in answer.text
    return answer.status_code


def files_in(room: Path) -> dict[str, bytes]:
    """Return every file in a folder, by its name from there."""
    return {str(one.relative_to(room)): one.read_bytes() for one in room.rglob("*")
            if one.is_file()}  # fmt: skip


def test_no_place_answers_whom_it_does_not_know(
    browser: Browser, line: Path, known: dict[str, str]
) -> None:
    stranger = client(browser.app)
    before = files_in(line)
    assert len(PLACES) == len({(place.path, place.post) for place in PLACES})
    for place in PLACES:
        path = address(place, known)
        assert sent(stranger, place, path) == 403, path
        assert sent(browser.web, place, path, Host="desk.example.com") == 421, path
        for origin in ("https://example.com", "null", f"http://127.0.0.1:{ADDRESS.port + 1}"):
            assert sent(browser.web, place, path, Origin=origin) == 403, (path, origin)
        for site in ("cross-site", "same-site"):
            assert sent(browser.web, place, path, **{"Sec-Fetch-Site": site}) == 403, (path, site)
        if place.post:
            assert browser.web.post(HOME + path).status_code == 403, path  # it says no origin
    assert files_in(line) == before


@pytest.mark.siege
def test_only_forms_write(browser: Browser, line: Path, known: dict[str, str]) -> None:
    before = files_in(line)
    for place in SENT:  # another place may answer there, as one that shows an order of any number
        found = browser.web.get(HOME + address(place, known)).status_code
        also = any(one.path == place.path or "{" in one.path for one in SHOWN)
        assert found in (404, 405) or (also and found < 500), place.path
    for place in SHOWN:
        browser.web.get(HOME + address(place, known))
        assert browser.web.head(HOME + address(place, known)).status_code < 500, place.path
    after = files_in(line)
    kept = [name for name in before if not name.startswith("ledger.sqlite-")]
    assert {name: after.get(name) for name in kept} == {name: before[name] for name in kept}
    made = {name for name in after.keys() - before.keys() if not name.startswith("ledger.sqlite-")}
    assert {Path(name).parts[0] for name in made} <= {".desk"}


@pytest.mark.siege
def test_a_form_without_end_and_signs_that_no_key_types_are_refused(
    browser: Browser, known: dict[str, str]
) -> None:
    headers = {"Origin": ORIGIN}
    many = "&".join(f"f{number}=1" for number in range(FIELDS + 1))
    limits = set[tuple[int, int]]()
    for place in SENT:
        url = HOME + address(place, known)
        new = (place.most, place.files) not in limits  # what is large is sent once to each limit
        limits.add((place.most, place.files))

        def endless(most: int = place.most) -> Iterator[bytes]:
            yield b"a="
            for _ in range(most // 65_536 + 2):
                yield b"x" * 65_536

        plain = {"Content-Type": "application/x-www-form-urlencoded"} | headers
        told = {"Content-Length": str(place.most + 1)}
        assert browser.web.post(url, content=b"a=1", headers=plain | told).status_code == 413, url
        if new and place.most < 10_000_000:  # of others the length that is told must do here
            assert browser.web.post(url, content=endless(), headers=plain).status_code == 413, url
        if new:
            status = browser.web.post(url, content=many, headers=plain).status_code
            assert status in (400, 413), url
        odd = browser.web.post(url, data={"q": "a\x00b", "once": "\x1b"}, headers=headers)
        assert odd.status_code == 400, url
        files = [("file", (f"{number}.txt", b"x")) for number in range(place.files + 1)]
        assert browser.web.post(url, files=files, headers=headers).status_code == 400, url
        broken = {"Content-Type": "multipart/form-data; boundary=x"} | headers
        for body in (b"--y\r\n", b"--x\r\nContent-Disposition: nothing\r\n\r\n\r\n--x--", b"\xff"):
            status = browser.web.post(url, content=body, headers=broken).status_code
            assert status < 500, (url, body)


@pytest.mark.siege
def test_no_way_out_of_the_folder_and_no_markup_in_any_part_or_field(
    browser: Browser, line: Path, known: dict[str, str]
) -> None:
    fields = sorted(Walk(browser, known).fields | {"file", "path", "name", "page", "once", "done"})
    outside = {name: text for name, text in files_in(line.parent).items() if "line/" not in name}
    for place in PLACES:
        first = "/" + place.path.split("/")[1]
        for part in parts_of(place):
            for value in HOSTILE:
                odd = known | {part: value, f"{first} {part}": value}
                _held(browser, place, address(place, odd), {}, line)
        for turn in range(3):  # each field has another value each time
            asked = {
                name: HOSTILE[(at + 3 * turn) % len(HOSTILE)] for at, name in enumerate(fields)
            }
            _held(browser, place, address(place, known), asked, line)
    left = {name: text for name, text in files_in(line.parent).items() if "line/" not in name}
    assert left == outside


def _held(
    browser: Browser, place: PageRoute, path: str, asked: dict[str, str], line: Path
) -> None:  # fmt: skip
    """Ask at a place, and see that nothing comes of it."""
    if place.post:
        answer = browser.web.post(HOME + path, data=asked, headers={"Origin": ORIGIN})
    else:
        answer = browser.web.get(HOME + path, params=asked)
    assert answer.status_code < 500, (path, answer.text)
    for told in ("<script>alert", "<img src=x", SECRET, "root:x:0", str(line.parent)):
        assert told not in answer.text, (path, told)
