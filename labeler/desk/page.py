"""What a page of the desk is made of: its place, what is asked of it, what it shows."""

from __future__ import annotations

import datetime as dt
import re
import secrets
import threading
import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from html import unescape
from pathlib import Path
from types import MappingProxyType
from typing import Any
from urllib.parse import quote, urlencode

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from labeler.catalog.read import examine
from labeler.desk.drafts import Drafts
from labeler.desk.outcome import is_count
from labeler.desk.work import Works
from labeler.files import Readings
from labeler.findings import Finding, Grade, LabelerError, masked, plural
from labeler.ledger.store import Ledger
from labeler.type.finish import finished_html

FORM_BYTES = 256 * 1024
"""What a plain form may hold: a page of text in each of a hundred fields."""


@dataclass(frozen=True)
class Desk:
    """What the pages share. They keep nothing else: what is known stands in the maker's files.

    Attributes:
        folder: the catalog's.
        pages: in the order in which every page's head names them.
        closing: set once the desk is told to end.
        readings: the catalog as it was last read.
    """

    folder: Path
    pages: tuple[DeskPage, ...] = ()
    closing: threading.Event = field(default_factory=threading.Event)
    readings: Readings = field(default_factory=Readings)

    @cached_property
    def works(self) -> Works:
        """The long work of this desk."""
        return Works(self.folder)

    @cached_property
    def drafts(self) -> Drafts:
        """What is typed on this desk and not sent yet."""
        return Drafts(self.folder)

    @property
    def name(self) -> str:
        """Whose desk it is."""
        catalog, _ = examine(self.folder)
        return catalog.file.maker.name if catalog else self.folder.resolve().name

    @staticmethod
    def settled() -> tuple[Finding, ...]:
        """Return, once, what became of runs whose command was killed."""
        found, Ledger.settled[:] = tuple(Ledger.settled), ()
        return found

    def close(self) -> None:
        """Stop what is at work, and wait until it has tidied up."""
        self.closing.set()
        if "works" in vars(self):
            self.works.close()


@dataclass(frozen=True, slots=True)
class Upload:
    """A file that was dropped on a form; its name is only ever shown."""

    name: str
    data: bytes


@dataclass(frozen=True)
class Ask:
    """One request, as a page sees it.

    Attributes:
        desk: the catalog's folder, and the desk's long work.
        request: as the server took it.
        fields: what was filled in, each name with all that bears it.
        uploads: files, likewise.
    """

    desk: Desk
    request: Request
    fields: Mapping[str, Sequence[str]] = field(default_factory=dict)
    uploads: Mapping[str, Sequence[Upload]] = field(default_factory=dict)

    @property
    def folder(self) -> Path:
        """The catalog's folder."""
        return self.desk.folder

    def text(self, name: str) -> str:
        """Return a field of the form, without the space around it; empty if it was not there."""
        return next(iter(self.fields.get(name, ())), "").strip()

    def texts(self, name: str) -> list[str]:
        """Return all fields of the form that bear a name and are filled in."""
        return [each.strip() for each in self.fields.get(name, ()) if each.strip()]

    def part(self, name: str) -> str:
        """Return a part of the path, such as ``code`` of ``/lots/{code}``."""
        return str(self.request.path_params[name])

    def query(self, name: str) -> str:
        """Return what stands behind ``?`` under a name, without the space around it."""
        return self.request.query_params.get(name, "").strip()

    def queries(self, name: str) -> list[str]:
        """Return all that stands behind ``?`` under a name."""
        return [each.strip() for each in self.request.query_params.getlist(name) if each.strip()]

    def leaf(self, every: Sequence[object], most: int = 60) -> dict[str, Any]:
        """Return the page of a list that is asked for, and which it is, as `leaves` shows it."""
        pages = max(1, -(-len(every) // most))
        at = int(self.query("page")) if is_count(self.query("page")) else 1
        before = (min(max(at, 1), pages) - 1) * most
        return {"lines": every[before : before + most], "at": before // most + 1, "pages": pages,
                "first": before + 1}  # fmt: skip

    @property
    def drafts(self) -> list[str]:
        """The addresses of forms that something was typed into and that were not sent."""
        return [self.at(form) for form in self.desk.drafts.forms()]

    def under(self, page: DeskPage) -> bool:
        """Tell whether this is that page, or one within it."""
        path = self.request.url.path.removeprefix(self.request.scope["root_path"])
        return f"{path}/".startswith(f"{page.path}/")

    def shown(self, template: str, faults: Faults | None = None, **facts: Any) -> Response:
        """Return a page, with what is wrong with a form on it."""
        page = {"ask": self, "desk": self.desk, "faults": faults or Faults(),
                "once": secrets.token_hex(8), "settled": self.desk.settled()} | facts  # fmt: skip
        text = templates().get_template(template).render(page)
        if faults and faults.astray(text):
            text = templates().get_template(template).render(page)
        text = finished_html(text)
        return HTMLResponse(text, 422 if faults else 200)

    def set_to_work(self, kind: str, title: str, back: str, **asked: Any) -> Response:
        """Begin long work, once for every form that was shown, and lead to what it comes to.

        Args:
            kind: what is done, as `labeler.desk.jobs` names it.
            title: as a maker says it.
            back: the path of the page that asks.
            asked: plain values.
        """
        work = self.desk.works.begin(kind, title, asked, back, self.text("once"))
        return self.went_to(f"/work/{work.id}")

    def went_to(self, path: str, **query: str | Sequence[str]) -> Response:
        """Return that the browser goes on to another page, so that nothing is sent twice."""
        return RedirectResponse(self.at(path, **query), 303)

    def at(self, path: str, *parts: str, **query: str | Sequence[str]) -> str:
        """Return the address of a page or a file of the desk's; ``parts`` go on in its path."""
        whole = "/".join([path, *(quote(part, safe="") for part in parts)])
        asked = urlencode({name: value for name, value in query.items() if value}, True)
        return f"{self.request.scope['root_path']}{whole}{'?' if asked else ''}{asked}"


Handler = Callable[[Ask], Response]


@dataclass(frozen=True, slots=True)
class PageRoute:
    """One address of a page, and what answers there.

    Attributes:
        path: within the desk, with ``{names}`` in it.
        answer: called in a thread of its own; a `LabelerError` that it lets pass becomes a page.
        post: whether it takes a form; otherwise it shows something.
        most: bytes of the form.
        files: how many files it may hold.
        settles: paths of other forms that are done with once this one leads on.
    """

    path: str
    answer: Handler
    post: bool = False
    most: int = FORM_BYTES
    files: int = 0
    settles: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DeskPage:
    """A page of the desk: its word, under which every other leads to it, and its places.

    One without a word is reached from a page that needs it.
    """

    word: str
    places: tuple[PageRoute, ...]

    @property
    def path(self) -> str:
        """Where it begins."""
        return self.places[0].path


class Faults:
    """What is wrong with a form: by field, and what belongs to none."""

    def __init__(
        self, findings: Iterable[Finding] = (), fields: Mapping[str, str] = MappingProxyType({})
    ) -> None:
        """Sort findings to fields.

        Args:
            findings: what a job said.
            fields: names the field of a finding's rule, or of the key of its place.
        """
        self.by_field: dict[str, list[Finding]] = {}
        self.other: list[Finding] = []
        for finding in dict.fromkeys(findings):
            name = fields.get(finding.rule) or fields.get(finding.place.key)
            (self.by_field.setdefault(name, []) if name else self.other).append(finding)

    def __bool__(self) -> bool:
        return bool(self.by_field or self.other)

    def astray(self, page: str) -> bool:
        """Sort what is wrong with fields that are not on a page to what belongs to none."""
        here = {unescape(each) for each in re.findall(r'\bid="([^"]*)"', page)}
        gone = [name for name in self.by_field if anchor(name) not in here]
        for name in gone:
            self.other += self.by_field.pop(name)
        return bool(gone)

    def of(self, name: str) -> list[Finding]:
        """Return what is wrong with a field."""
        return self.by_field.get(name, [])


def picture(data: bytes | str, keep: str = "private, max-age=3600") -> Response:
    """Return a picture as an answer.

    Args:
        data: of a PNG or JPEG, or SVG as text.
        keep: how long a browser keeps it; an hour, where the address names what is drawn.
    """
    kind = "png" if data[:4] == b"\x89PNG" else "jpeg"
    kind = "svg+xml" if isinstance(data, str) else kind
    return Response(data, media_type=f"image/{kind}", headers={"Cache-Control": keep})


# ------------------------------------------------------------------------------------ words


@lru_cache(maxsize=1)
def templates() -> Environment:
    """Return the pages' templates: what a file or a stranger says is text, never markup."""
    here = Path(__file__).parent
    made = Environment(
        loader=FileSystemLoader([here / "pages", here / "frame"]), autoescape=True,
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    made.filters |= {"plural": plural, "number": "{:,}".format, "said": said, "gravest": gravest,
                     "hint": hint, "expected": expected, "anchor": anchor,
                     "is_day": is_day}  # fmt: skip
    return made


def is_day(text: str) -> bool:
    """Tell whether a field for a day can show this; any other it would show as blank."""
    try:
        return dt.date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def anchor(name: str) -> str:
    """Return a field's name as its id, in which no space may be (HTML Standard, 3.2.6)."""
    return re.sub(r"\s", "_", name)


def gravest(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings, those that stop first, each once."""
    order = list(Grade)
    return sorted(dict.fromkeys(findings), key=lambda one: order.index(one.grade))


def hint(finding: Finding) -> str:
    """Return what to do about a finding, here on the desk: nothing that is typed at a prompt."""
    own = _words()["hints"].get(finding.rule)
    if own is not None or not _TYPED.search(finding.hint):
        return (own or finding.hint) if finding.hint else ""
    sentences = re.split(r"(?<=[.!?])\s+(?=[A-Z-]|labeler )", finding.hint)
    return " ".join(each for each in sentences if not _TYPED.search(each))


_TYPED = re.compile(
    r"--\w|`|= \{|\blabeler [a-z]|\[\w+(?:[.]\S+)?\]|\b[a-z]+_[a-z]+\b|in quotes|\bpip install"
    r"|\b\w+ = (?:\"|true|\d)"
)
"""What is said of options, of commands and of the letters of catalog.toml."""


def expected(finding: Finding) -> str:
    """Return what was expected, as a field of a form asks for it: the file's letters left out."""
    return _words()["expected"].get(finding.expected, finding.expected)


@lru_cache(maxsize=1)
def _words() -> Mapping[str, Mapping[str, str]]:
    return tomllib.loads((Path(__file__).parent / "hints.toml").read_text("utf-8"))


_FAR = re.compile(r"(?<![\w/:.])(?:[A-Za-z]:)?(?:[/\\][^\s/\\'\",;:]+)+[/\\](?=[^\s/\\'\",;])")


def said(text: object, folder: Path) -> str:
    """Return a job's sentence without the paths of folders: of a file only its name is told."""
    words = masked(str(text))
    for root in dict.fromkeys((folder, folder.absolute(), folder.resolve())):
        if len(root.parts) > 1:
            words = words.replace(f"{root}/", "").replace(f"{root}\\", "")
    return _FAR.sub("", words)


_ABSENT = ("unknown-lot", "sku-unknown", "work-unknown", "work-file-gone", "page-unknown",
           "piece-unknown", "entry-unknown")  # fmt: skip


def stopped(ask: Ask, error: LabelerError) -> Response:
    """Return the page that says why something can't be shown or done."""
    if any(finding.rule == "catalog-missing" for finding in error.findings):
        page = ask.shown("begin.html.jinja")
        page.status_code = 404
        return page
    page = ask.shown("stopped.html.jinja", findings=error.findings)
    absent = all(finding.rule in _ABSENT for finding in error.findings)
    page.status_code = 404 if absent else 422
    return page
