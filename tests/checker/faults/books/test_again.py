"""Books held against the same book made again: what only a reader of the file sees is told too."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, String
from pypdf import PdfWriter

from labeler.app.again import make_again
from labeler.app.book import BookRequest, make_catalog_book
from labeler.app.preflight import Again
from labeler.checker import compare, worker
from labeler.checker.report import Report
from tests.checker.faults.books.several import Damage, Fault, books_of, called

HEAVY, OTTER = "RV-38-40-REE", "TO-12-50-MUD"


def field(book: Any, **entries: Any) -> None:
    """Change the order field of one product."""
    note = next(each for each in book.fields() if str(each.T) == f"qty {HEAVY}")
    for key, value in entries.items():
        note[f"/{key}"] = value


def field_gone(book: Any) -> None:
    for page in book.pdf.pages:
        for at, note in enumerate(page.get("/Annots", [])):
            if str(note.get("/T", "")) == f"qty {HEAVY}":
                del page.Annots[at]
                return
    raise AssertionError


def bookmark(book: Any, **entries: Any) -> None:
    for key, value in entries.items():
        book.pdf.Root.Outlines.First[f"/{key}"] = value


def link(book: Any, change: Callable[[Any], Any]) -> None:
    change(next(iter(book.links("https"))))


def element(book: Any, key: str, text: str) -> None:
    """Change what a program that reads aloud says of the first element of the structure."""
    node = book.pdf.Root.StructTreeRoot.K
    node = node[0] if isinstance(node, Array) else node
    node[key] = String(text)


def page_left_over(book: Any) -> None:
    """Leave a page in the file that no page tree names, as removing one from it does."""
    copy = Dictionary(Type=Name.Page, Contents=book.pdf.make_stream(b"BT (3.20) Tj ET"))
    holder = book.pdf.make_indirect(copy)
    book.pdf.Root.PieceInfo = Dictionary(Old=Dictionary(Private=holder))


def exchanged(book: Any) -> None:
    third = book.pdf.pages[2]
    del book.pdf.pages[2]
    book.pdf.pages.insert(1, third)


@pytest.fixture
def nearby(monkeypatch: pytest.MonkeyPatch, short_line: Path) -> Callable[[Path], Again]:
    """Make a book again and compare the two here, where no other process need be waited for."""
    answers: dict[str, Callable[..., Any]] = {
        "origin": compare.origin_of, "compare": compare.differences_of
    }  # fmt: skip
    monkeypatch.setattr(
        worker, "_asked", lambda kind, *asked: answers[kind](lambda _: None, *asked)
    )
    return lambda file: make_again(short_line, file, None)


FAULTS: list[tuple[str, str, str, Damage]] = [
    # What is done, the rule that tells it, the good book, and how.
    ("an order field filled in", "again-annotation", "dealer", lambda b: field(b, V=String("6"))),
    ("an order field that nobody sees", "again-annotation", "dealer", lambda b: field(b, F=2)),
    ("an order field that can't be filled", "again-annotation", "dealer", lambda b: field(b, Ff=1)),
    ("an order field gone", "again-annotation", "dealer", field_gone),
    ("an order field that counts by itself", "again-script", "dealer",
     lambda b: field(b, AA=Dictionary(C=Dictionary(S=Name.JavaScript, JS=String("1"))))),
    ("a link with a border", "again-annotation", "dealer",
     lambda b: link(b, lambda each: each.__setitem__("/Border", Array([0, 0, 2])))),
    ("a link elsewhere", "again-annotation", "retail",
     lambda b: link(b, lambda each: each.A.__setitem__("/URI", String("https://example.com/")))),
    ("a link that opens a file", "again-annotation", "retail",
     lambda b: link(b, lambda each: each.__setitem__(
         "/A", Dictionary(S=Name.Launch, F=String("x.exe"))))),
    ("a bookmark called otherwise", "again-bookmark", "retail",
     lambda b: bookmark(b, Title=String("35 % off"))),
    ("a bookmark that leads elsewhere", "again-bookmark", "retail",
     lambda b: bookmark(b, Dest=Array([b.pdf.pages[-1].obj, Name.Fit]))),
    ("a bookmark gone", "again-bookmark", "retail", lambda b: b.pdf.Root.__delitem__("/Outlines")),
    ("a bare price in a retail book", "again-looks", "retail",
     lambda b: b.typed(2, 60, 700, "3.20")),
    ("the street changed", "again-looks", "dealer", lambda b: b.moved(
        next(b.shown(0)), lambda a, b, c, d, e, f: (a, b, c, d, e + 1, f))),
    ("words for who hears it read", "again-said", "retail",
     lambda b: element(b, "/ActualText", "shops pay 3.20")),
    ("a picture's words", "again-said", "retail", lambda b: element(b, "/Alt", "shops pay 3.20")),
    ("a comment in a page", "again-hidden", "retail", lambda b: setattr(
        b.pdf.pages[1], "Contents", b.pdf.make_stream(
            b.pdf.pages[1].Contents.read_bytes() + b"\n% shops pay 3.20\n"))),
    ("keywords", "again-said", "retail",
     lambda b: b.pdf.docinfo.__setitem__("/Keywords", "35 % off for shops")),
    ("a dealer's list inside", "again-attachment", "retail",
     lambda b: b.attach("dealers.csv", b"sku,3.20\n")),
]  # fmt: skip


BOOKS = [
    (audience, faults)
    for audience in ("dealer", "retail")
    for faults in books_of([(name, rule, "", how) for name, rule, of, how in FAULTS
                            if of == audience])
]  # fmt: skip
"""Each with faults that are told by different rules; what is done to pages is by itself."""
BOOKS += [
    ("retail", [("two pages exchanged", "again-pages", "", exchanged)]),
    ("retail", [("a page that is in no tree", "again-said", "", page_left_over)]),
    ("dealer", [("a page gone", "again-pages", "", lambda b: b.pdf.pages.__delitem__(2))]),
]


@pytest.mark.siege
@pytest.mark.parametrize(("audience", "faults"), BOOKS, ids=[called(faults) for _, faults in BOOKS])
def test_each_fault_of_a_book_is_told(
    audience: str, faults: list[Fault], good_books: dict[str, Path], tmp_path: Path,
    nearby: Callable[[Path], Again], told: Callable[..., None],
    bound_of: Callable[[pikepdf.Pdf], Any],
) -> None:  # fmt: skip
    with pikepdf.open(good_books[audience]) as pdf:
        bound = bound_of(pdf)
        for *_, damage in faults:
            damage(bound)
        file = bound.save(tmp_path / "damaged.pdf")
    again = nearby(file)
    for name, rule, *_ in faults:
        assert rule in {each.rule for each in again.findings}, (name, again)
        told(f"book: {name}", rule, Report(file.name, again.findings), "")


@pytest.mark.siege
def test_an_earlier_state_of_a_book_is_told(
    good_books: dict[str, Path], tmp_path: Path, nearby: Callable[[Path], Again]
) -> None:
    more = PdfWriter(good_books["retail"], incremental=True)
    more.add_metadata({"/Subject": "as agreed"})
    more.write(tmp_path / "damaged.pdf")
    again = nearby(tmp_path / "damaged.pdf")
    assert "again-left-over" in {each.rule for each in again.findings}, again


@pytest.mark.usefixtures("unread")
@pytest.mark.siege
@pytest.mark.parametrize(
    "how",
    [{}, {"audience": "retail"}, {"booklet": True, "paper": "a4"}, {"only": ("RV-*",)},
     {"archive": True, "bleed": True}],
    ids=["dealer", "retail", "booklet", "part", "archive"],
)  # fmt: skip
def test_a_book_that_nobody_touched_and_one_saved_by_another_program_are_the_same(
    how: dict[str, Any], short_line: Path, tmp_path: Path, nearby: Callable[[Path], Again]
) -> None:
    file, saved = tmp_path / "book.pdf", tmp_path / "saved.pdf"
    make_catalog_book(BookRequest(short_line, file, **how))
    assert nearby(file) == Again("byte for byte what the book made again from the catalog gives")
    with pikepdf.open(file) as pdf:
        pdf.save(saved, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    assert not nearby(saved).findings


def test_an_older_book_that_does_not_say_its_paper_is_not_compared(
    good_books: dict[str, Path], tmp_path: Path, nearby: Callable[[Path], Again],
    bound_of: Callable[[pikepdf.Pdf], Any],
) -> None:  # fmt: skip
    with pikepdf.open(good_books["retail"]) as pdf:
        bound = bound_of(pdf)
        del bound.claims["book"]["paper"]
        file = bound.save(tmp_path / "older.pdf")
    assert "for which paper" in nearby(file).open_point
