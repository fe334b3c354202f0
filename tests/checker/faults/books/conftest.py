"""Good books of a short line, and ways to damage them."""

from __future__ import annotations

import datetime as dt
import json
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from labeler.app.book import BookRequest, make_catalog_book
from labeler.checker.claims import ProductLine
from labeler.checker.judge import CheckRequest, check_bytes, check_pdf
from labeler.checker.report import Report
from labeler.findings import Grade
from tests.checker.faults.books.lines import LINE, changed
from tests.checker.faults.books.several import PAGES, Damage, Fault
from tests.unread import unread

DAY = dt.date(2026, 11, 25)
REED, MUD, HEAVY, OTTER = "RV-14-40-REE", "RV-14-40-MUD", "RV-38-40-REE", "TO-12-50-MUD"


@dataclass
class Shown:
    """One showing of text among a page's operators, and where it begins on the page."""

    page: int
    at: int
    tm: int
    text: str
    font: str
    size: float
    x: float
    y: float


@dataclass
class Bound:
    """A book, open to be damaged. Pages count from 0; places are from their top left corner."""

    pdf: pikepdf.Pdf
    claims: dict[str, Any] = field(init=False)
    pages: dict[int, list[Any]] = field(default_factory=dict)
    comments: list[tuple[int, str]] = field(default_factory=list)
    """What is said between a page's operators, once those are written."""
    _letters: dict[tuple[int, str], dict[int, str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.sheet = self.pdf.attachments["book-sheet.json"].get_file().read_bytes()
        self.claims = json.loads(self.sheet)

    def place(self, sku: str, kind: str = "entry") -> tuple[int, tuple[float, ...]]:
        """Return page and box of the first place of a kind that is about a product."""
        for page, each, pattern, skus, box in self.claims["places"]:
            if each == kind and (sku in skus or (not skus and sku.startswith(pattern))):
                return page - 1, tuple(box)
        raise KeyError(f"no {kind} of {sku}")

    def words(self, page: int) -> list[Any]:
        if page not in self.pages:
            self.pages[page] = list(pikepdf.parse_content_stream(self.pdf.pages[page]))
        return self.pages[page]

    def shown(self, page: int) -> Iterator[Shown]:
        """Yield every showing of text on a page."""
        font, size, tm, spot = "", 0.0, 0, (0.0, 0.0)
        for at, (operands, operator) in enumerate(self.words(page)):
            name = str(operator)
            if name == "Tf":
                font, size = str(operands[0]), float(operands[1])
            elif name == "Tm":
                tm, spot = at, (float(operands[4]), float(operands[5]))
            elif name in ("Tj", "TJ"):
                parts = operands[0] if name == "TJ" else [operands[0]]
                codes = b"".join(bytes(p) for p in parts if isinstance(p, pikepdf.String))
                letters = self.letters(page, font)
                text = "".join(letters.get(code, "") for code in codes)
                yield Shown(page, at, tm, text, font, size, *spot)

    def find(self, sku: str, words: str, kind: str = "entry") -> Shown:
        """Return the first showing of text in a product's place that holds ``words``."""
        page, (left, top, right, bottom) = self.place(sku, kind)
        for run in self.shown(page):
            inside = left - 1 <= run.x <= right and top <= run.y <= bottom + 1
            if words in run.text and inside:
                return run
        raise KeyError(f"no {words!r} at {sku}")

    def in_row(self, sku: str, words: str) -> Shown:
        """Return the showing of text on the line of a product's SKU that holds ``words``."""
        row = self.find(sku, sku)
        return next(
            run for run in self.shown(row.page) if abs(run.y - row.y) < 1 and words in run.text
        )

    def anywhere(self, words: str) -> Shown:
        """Return the first showing of text in the book that holds ``words``."""
        for page in range(len(self.pdf.pages)):
            for run in self.shown(page):
                if words in run.text:
                    return run
        raise KeyError(words)

    def letters(self, page: int, font: str) -> dict[int, str]:
        """Return what each code of a page's font reads as."""
        if (page, font) not in self._letters:
            entry = self.pdf.pages[page].Resources.Font[font]
            pairs = re.findall(rb"<(\w\w)> <(\w{4,})>", entry.ToUnicode.read_bytes())
            self._letters[page, font] = {
                int(code, 16): bytes.fromhex(u.decode()).decode("utf-16-be") for code, u in pairs
            }
        return self._letters[page, font]

    # ------------------------------------------------------------------------- what can be done

    def put(self, page: int, at: int, operators: str) -> None:
        """Put operators into a page before the operator ``at``."""
        stream = self.pdf.make_stream(operators.encode("latin-1"))
        self.words(page)[at:at] = list(pikepdf.parse_content_stream(stream))

    def over(self, page: int, operators: str) -> None:
        self.put(page, len(self.words(page)), f"q {operators} Q")

    def under(self, page: int, operators: str) -> None:
        self.put(page, 1, f"q {operators} Q")

    def wrap(self, run: Shown, before: str, after: str) -> None:
        """Put operators before and after a showing of text."""
        words = self.words(run.page)
        begin = next(at for at in range(run.at, 0, -1) if str(words[at][1]) == "BT")
        end = next(at for at in range(run.at, len(words)) if str(words[at][1]) == "ET")
        self.put(run.page, end + 1, after)
        self.put(run.page, begin, f"{before} {run.font} {run.size} Tf")

    def write(self, run: Shown, text: str) -> None:
        """Set other letters in place of a showing of text."""
        stream = self.pdf.make_stream(self.set(run.page, run.font, run.size, text).encode())
        shown = list(pikepdf.parse_content_stream(stream))
        if not text:
            shown = [
                pikepdf.ContentStreamInstruction([pikepdf.String(b"")], pikepdf.Operator("Tj"))
            ]
        self.words(run.page)[run.at : run.at + 1] = shown

    def set(self, page: int, font: str, size: float, text: str) -> str:
        """Return the operators that show a text in fonts of the page.

        One that has all of its letters, or else for each letter the first that has it.
        """
        known = {name: self.letters(page, name) for name in self.pdf.pages[page].Resources.Font}
        order = [font, *known] if font else [*known]
        whole = next((name for name in order if set(text) <= set(known[name].values())), "")
        shown = ""
        for letter in text:
            name = whole or next((n for n in order if letter in known[n].values()), "")
            assert name, f"no font of the page has {letter!r}"
            code = next(code for code, said in known[name].items() if said == letter)
            shown += f"{name} {size} Tf <{code:02x}> Tj "
        return f"{shown}{font or order[0]} {size} Tf"

    def rewrite(self, run: Shown, old: str, new: str) -> None:
        assert old in run.text
        self.write(run, run.text.replace(old, new))

    def drop(self, run: Shown) -> None:
        self.write(run, "")

    def typed(self, page: int, x: float, y: float, text: str, size: float = 7.0) -> None:
        """Print more text."""
        shown = self.set(page, "", size, text)
        self.over(page, f"BT 0 g 1 0 0 -1 {x} {y} Tm {shown} ET")

    def moved(self, run: Shown, change: Callable[..., Any]) -> None:
        """Change the matrix of a showing of text."""
        six = [float(number) for number in self.words(run.page)[run.tm][0]]
        self.words(run.page)[run.tm] = pikepdf.ContentStreamInstruction(
            list(change(*six)), pikepdf.Operator("Tm")
        )

    def warning(self, sku: str) -> list[Shown]:
        """Return the showings of text of a product's warning."""
        head = self.find(sku, "WARNING:")
        end = self.find(sku, "P65Warnings")
        return [run for run in self.shown(head.page) if head.at <= run.at <= end.at]

    def code_of(self, sku: str) -> tuple[int, int, int]:
        """Return the page of a product's code, and the operators of its path: first and end."""
        page, (left, top, _, _) = self.place(sku, "code")
        words = self.words(page)
        for at, (operands, operator) in enumerate(words):
            code = str(operator) == "cm" and str(words[at + 1][1]) == "re"
            if code and max(abs(float(operands[4]) - left), abs(float(operands[5]) - top)) < 1:
                end = next(n for n in range(at, len(words)) if str(words[n][1]) == "f")
                return page, at + 1, end
        raise KeyError(f"no code of {sku}")

    def links(self, address: str) -> Iterator[Any]:
        """Yield every link whose address holds ``address``."""
        for page in self.pdf.pages:
            for note in page.get("/Annots", []):
                if "/A" in note and address in str(note.A.get("/URI", "")):
                    yield note

    def fields(self) -> Iterator[Any]:
        for page in self.pdf.pages:
            for note in page.get("/Annots", []):
                if note.Subtype == "/Widget":
                    yield note

    def attach(self, name: str, data: bytes) -> None:
        self.pdf.attachments[name] = pikepdf.AttachedFileSpec(self.pdf, data, filename=name)

    def save(self, path: Path) -> Path:
        """Write the damaged file."""
        for number, words in self.pages.items():
            page = self.pdf.pages[number]
            page.Contents = self.pdf.make_stream(pikepdf.unparse_content_stream(words))
        for number, text in self.comments:
            page = self.pdf.pages[number]
            data = page.Contents.read_bytes() + f"\n% {text}\n".encode()
            page.Contents = self.pdf.make_stream(data)
        if self.claims != json.loads(self.sheet):
            self.attach("book-sheet.json", json.dumps(self.claims).encode())
        self.pdf.save(path)
        return path


Hunt = Callable[..., Report]


def made(folder: Path, out: Path, audience: Any, **asked: Any) -> Path:
    with unread():  # good ones are read by tests of their own, and the others by those for whom
        make_catalog_book(BookRequest(folder, out, audience, day=DAY, **asked))
    return out


@pytest.fixture
def bound_of() -> Callable[[pikepdf.Pdf], Bound]:
    """Open a book to be damaged."""
    return Bound


@pytest.fixture(scope="session")
def short_line(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shutil.copytree(LINE, tmp_path_factory.mktemp("book-line") / "line")


class Books(dict[str, Path]):
    """Good books by their readers, each made when it is first asked for."""

    def __init__(self, line: Path, root: Path) -> None:
        self.line, self.root = line, root

    def __missing__(self, audience: str) -> Path:
        out = self.root / f"{audience}.pdf"
        self[audience] = made(self.line, out, audience, keystone=audience == "dealer")
        return self[audience]


@pytest.fixture(scope="session")
def good_books(short_line: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A book for dealers, and one for buyers."""
    return Books(short_line, tmp_path_factory.mktemp("good-books"))


@pytest.fixture
def hunt_book(
    good_books: dict[str, Path],
    short_line: Path,
    tmp_path: Path,
    expect_fault: Callable[..., None],
) -> Hunt:
    """Damage a good book and check it; the rule must be broken at that product's entry."""

    def run(name: str, rule: str, book: str, sku: str, damage: Damage) -> Report:
        with pikepdf.open(good_books[book]) as pdf:
            bound = Bound(pdf)
            damage(bound)
            file = bound.save(tmp_path / "damaged.pdf")
        report = check_pdf(file, short_line, day=DAY)
        expect_fault(f"book: {name}", rule, report, sku, file, short_line)
        return report

    return run


def looked_at(file: Path, folder: Path, line: ProductLine | None = None) -> Report:
    """Return what reading a file finds, in this process, as little trusted as in another."""
    asked = CheckRequest(file, folder, DAY, line=line)
    return check_bytes(file.read_bytes(), asked, None, None, trusted=False)


@pytest.fixture
def hunt_books(
    good_books: dict[str, Path], short_line: Path, tmp_path: Path, told: Callable[..., None]
) -> Callable[[list[Fault], str], None]:
    """Damage a good book in several ways and check it; each must be told where it was done."""

    def run(faults: list[Fault], audience: str) -> None:
        with pikepdf.open(good_books[audience]) as pdf:
            bound = Bound(pdf)
            for *_, damage in faults:
                damage(bound)
            file = bound.save(tmp_path / "damaged.pdf")
        report = looked_at(file, short_line)
        grave = [each for each in report.findings if each.grade is not Grade.NOTE]
        for name, rule, where, _ in faults:
            there = [
                each for each in grave
                if each.rule == rule and where in (each.place.piece, str(each.place.page))
                and (where not in PAGES or not each.place.piece)
            ]  # fmt: skip
            assert there, f"{name}: {rule}; instead:\n" + "\n".join(map(str, grave))
            sku = "" if where in PAGES else where
            told(f"book: {name}", rule, report, sku, file, short_line)

    return run


@pytest.fixture
def reckoned(short_line: Path, tmp_path: Path, expect_fault: Callable[..., None]) -> Hunt:
    """Make a book from a doctored catalog and check it against the true one."""

    def run(misprints: list[tuple[str, str, str, tuple[str, str]]], book: str) -> Report:
        folder = changed(dict(words for *_, words in misprints), tmp_path / "doctored")
        file = made(folder, tmp_path / "b.pdf", book)
        report = check_pdf(file, short_line, day=DAY)
        for name, rule, sku, _ in misprints:
            expect_fault(f"book: {name}", rule, report, sku, file, short_line)
        return report

    return run
