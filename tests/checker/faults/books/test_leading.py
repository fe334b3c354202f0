"""Links, codes, the order form and what travels inside a book, damaged one at a time."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pikepdf
import pytest

from labeler.checker.report import Report
from tests.checker.faults.books.several import Fault, books_of, called

REED, MUD, HEAVY, OTTER = "RV-14-40-REE", "RV-14-40-MUD", "RV-38-40-REE", "TO-12-50-MUD"
Hunt = Callable[..., Report]


def led(address: str, to: str) -> Callable[[Any], None]:
    """Let every link to an address lead elsewhere."""

    def damage(book: Any) -> None:
        links = list(book.links(address))
        assert links
        for note in links:
            note.A.URI = pikepdf.String(to)

    return damage


def acting(book: Any) -> None:
    for note in book.links("/p/" + HEAVY):
        note.A = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS=pikepdf.String("app.alert(1)"))


def unlinked(book: Any) -> None:
    for page in book.pdf.pages:
        notes = page.get("/Annots", [])
        kept = [n for n in notes if OTTER not in str(n.get("/A", {}).get("/URI", ""))]
        page.Annots = pikepdf.Array(kept)


def contents_off(book: Any) -> None:
    run = next(run for run in book.shown(1) if run.text.strip() == "4")
    book.write(run, "6")


def contents_to_another(book: Any) -> None:
    """Let a line of the contents name and lead to the page of another pattern."""
    contents_off(book)
    for note in book.pdf.pages[1].Annots:
        if str(note.get("/Dest", "")) == "pattern-RV":
            note.Dest = pikepdf.String("pattern-TO")


def another_code(book: Any) -> None:
    """Draw one product's code where another's stands."""
    page, begin, end = book.code_of(HEAVY)
    other, first, last = book.code_of("RV-38-40-MUD")
    path = list(book.words(other)[first:last])
    book.words(page)[begin:end] = path


def stray_code(book: Any) -> None:
    """Draw a code of the first pattern on the second's page."""
    other, first, last = book.code_of(HEAVY)
    path = list(book.words(other)[first:last])
    page = book.place(OTTER)[0]
    book.over(page, "1.03 0 0 1.03 60 640 cm 0 0 1 1 re f")
    words = book.words(page)
    at = next(n for n in range(len(words) - 1, 0, -1) if str(words[n][1]) == "re")
    words[at : at + 1] = path


def crowded(book: Any) -> None:
    page, (left, top, _, _) = book.place(HEAVY, "code")
    book.over(page, f"0 g {left + 1.5} {top + 4} 0.5 24 re f")


def field_of(book: Any) -> None:
    for note in book.fields():
        if str(note.T) == f"qty {HEAVY}":
            note.T = pikepdf.String(f"qty {OTTER}")


def ordered_at(book: Any) -> None:
    book.rewrite(book.find(OTTER, "$6.", "order"), "$6.", "$5.")


def cell_moved(book: Any) -> None:
    """Change what two cells of the order form are: the packs of one color go to another's row."""
    page, _ = book.place(HEAVY, "order")
    for a, b in ((HEAVY, "RV-38-40-MUD"), ("RV-38-40-MUD", HEAVY)):
        run = book.find(a, a, "order")
        book.write(run, b)
    for place in book.claims["places"]:
        if place[1] == "order" and place[3][0] in (HEAVY, "RV-38-40-MUD"):
            place[3] = ["RV-38-40-MUD" if place[3][0] == HEAVY else HEAVY]
    for note in book.pdf.pages[page].Annots:
        names = {f"qty {HEAVY}": "qty RV-38-40-MUD", "qty RV-38-40-MUD": f"qty {HEAVY}"}
        if str(note.get("/T", "")) in names:
            note.T = pikepdf.String(names[str(note.T)])


def without_cell(book: Any) -> None:
    """Take a product's cell off the order form: its words, its field and the claim of it."""
    page, _ = book.place(REED, "order")
    for words in (REED, "$"):
        book.drop(book.find(REED, words, "order"))
    kept = [
        note for note in book.pdf.pages[page].Annots if str(note.get("/T", "")) != f"qty {REED}"
    ]
    book.pdf.pages[page].Annots = pikepdf.Array(kept)
    book.claims["places"].remove(
        next(each for each in book.claims["places"] if each[1] == "order" and each[3] == [REED])
    )


def sku_line(book: Any) -> Any:
    """Return the showing of the page's number in a product's line of the SKU index."""
    for page, kind, _, skus, (left, top, right, bottom) in book.claims["places"]:
        if kind == "index" and skus == [REED]:
            runs = [
                run for run in book.shown(page - 1)
                if left <= run.x <= right and top <= run.y <= bottom + 1
            ]  # fmt: skip
            if any(REED in run.text for run in runs):
                return next(run for run in runs if run.text.strip().isdigit())
    raise KeyError("no line of the index")


def unindexed(book: Any) -> None:
    """Take a product's line out of the SKU index, and the claim of it."""
    number = sku_line(book)
    word = next(run for run in book.shown(number.page) if run.text == REED)
    book.write(number, "")
    book.write(word, "")
    places = book.claims["places"]
    at = next(
        n for n, (page, kind, _, skus, box) in enumerate(places)
        if kind == "index" and skus == [REED] and page == number.page + 1
        and box[1] <= number.y <= box[3] + 1 and box[0] <= number.x <= box[2]
    )  # fmt: skip
    del places[at]


def on_the_right(book: Any) -> None:
    """Let a pattern begin on the page after its plate."""
    places = book.claims["places"]
    places.remove(next(each for each in places if each[:3] == [4, "pattern", "RV"]))


def stamped(book: Any) -> None:
    page = book.pdf.pages[book.place(HEAVY)[0]]
    stamp = pikepdf.Dictionary(
        Type=pikepdf.Name.Annot, Subtype=pikepdf.Name.FreeText, Rect=[60, 300, 200, 340],
        Contents=pikepdf.String("as agreed"), DA=pikepdf.String("0 g /Helv 9 Tf"),
    )  # fmt: skip
    page.Annots = pikepdf.Array([*page.get("/Annots", []), book.pdf.make_indirect(stamp)])


def typed_claim(book: Any) -> None:
    next(n for n in book.fields() if str(n.T) == "notes").V = pikepdf.String("all lead-free")


def another_dealer(book: Any) -> None:
    book.claims["book"]["dealer"] = "The Weir"


FAULTS: list[Fault] = [
    ("a link to elsewhere", "link-elsewhere", HEAVY,
     led("/p/" + HEAVY, "https://elsewhere.example.com/p/" + HEAVY)),
    ("a link to another product", "link-elsewhere", HEAVY,
     led("/p/" + HEAVY, "https://go.example.com/j/p/" + OTTER)),
    ("mail to somebody else", "link-elsewhere", "", led("mailto:", "mailto:x@example.com")),
    ("a link that runs a script", "link-acts", HEAVY, acting),
    ("a product without a link", "link-missing", OTTER, unlinked),
    ("a page number that is not true", "page-number-wrong", "", contents_off),
    ("a line of contents of another pattern's page", "page-number-wrong", "", contents_to_another),
    ("a page number that ends alike", "page-number-wrong", "",
     lambda book: book.write(
         next(run for run in book.shown(1) if run.text.strip() == "4"), "14")),
    ("the code of another product", "code-other-address", HEAVY, another_code),
    ("a code on another pattern's page", "code-other-address", "Tin Otter", stray_code),
    ("a hairline in a code's quiet zone", "code-crowded", HEAVY, crowded),
    ("a field that orders another product", "order-field-other", HEAVY, field_of),
    ("another price on the order form", "price-wrong", OTTER, ordered_at),
    ("another color on the order form", "order-cell-moved", REED,
     lambda book: book.write(book.find(REED, "Reed", "shades"), "Mud")),
    ("a cell of the order form in another row", "order-cell-moved", HEAVY, cell_moved),
    ("a cell of the order form left out", "order-cell-missing", REED, without_cell),
    ("another page in the SKU index", "page-number-wrong", REED,
     lambda book: book.write(sku_line(book), "2")),
    ("a SKU left out of the index", "index-missing", REED, unindexed),
    ("a note stuck on a page", "page-laid-over", "", stamped),
    ("a claim typed into a field", "house-claim-lead-free", REED, typed_claim),
    ("a dealer whom nobody knows", "book-dealer-unknown", "", another_dealer),
    ("another price on the cover", "price-stray", "",
     lambda book: book.typed(0, 60, 60, "$4.60")),
    ("another price, its currency behind it", "price-stray", "",
     lambda book: book.typed(0, 60, 60, "4.60 USD")),
    ("another tax in the terms", "price-stray", "",
     lambda book: book.rewrite(book.anywhere("is tax"), "$0.29", "$0.32")),
    ("another discount in the terms", "tier-wrong", "",
     lambda book: book.rewrite(book.anywhere("off the suggested"), "35", "38")),
    ("a file that travels along", "attachment-strange", "",
     lambda book: book.attach("prices.csv", b"sku,price\n")),
]  # fmt: skip


PLATE: Fault = ("a plate on a right page", "spread-broken", "Reed Vole", on_the_right)
BOOKS = [*books_of(FAULTS), [PLATE]]  # which moves pages, and so by itself


@pytest.mark.daily(called(BOOKS[0]))
@pytest.mark.parametrize("faults", BOOKS, ids=called)
def test_what_leads_elsewhere_or_was_put_in(
    faults: list[Fault], hunt_books: Callable[..., None]
) -> None:
    hunt_books(faults, "dealer")


# ---------------------------------------------------------------------------- books for buyers


def printed(text: str, before: str = "", after: str = "") -> Callable[[Any], None]:
    """Print words on a page on the first pattern."""

    def damage(book: Any) -> None:
        page = book.place(REED)[0]
        at = len(book.words(page))
        book.typed(page, 60, 740, text)
        if before:
            book.put(page, at, before)
            book.put(page, len(book.words(page)), after)

    return damage


def told_in(key: str, text: str) -> Callable[[Any], None]:
    def damage(book: Any) -> None:
        book.pdf.docinfo[key] = pikepdf.String(text)

    return damage


def left_over(book: Any) -> None:
    """Leave a string behind that nothing refers to but the table of objects."""
    book.pdf.Root["/PieceInfo"] = book.pdf.make_indirect(
        pikepdf.Dictionary(Old=pikepdf.Array([pikepdf.String("$3.20")]))
    )


def in_the_sheet(book: Any) -> None:
    book.claims["book"]["tier_prices"] = {REED: "3.20"}


BURIED: list[Fault] = [
    ("a dealer's price on a page for buyers", "retail-dealer-price", "Reed Vole",
     printed("$3.20")),
    ("a dealer's price for buyers without ink", "retail-dealer-price", "Reed Vole",
     printed("$3.20", "3 Tr", "0 Tr")),
    ("a dealer's price in the title", "retail-dealer-price", "",
     told_in("/Subject", "from $2.55")),
    ("a dealer's price left in an object", "retail-dealer-price", "", left_over),
    ("a dealer's price in the sheet inside", "retail-dealer-price", "", in_the_sheet),
    ("a dealer's name in a book for buyers", "retail-dealer-named", "",
     told_in("/Keywords", "The Landing")),
]  # fmt: skip


@pytest.mark.parametrize("faults", books_of(BURIED), ids=called)
def test_what_buyers_may_not_see(faults: list[Fault], hunt_books: Callable[..., None]) -> None:
    hunt_books(faults, "retail")


# ------------------------------------------------------------------------------ the sheet inside


UNREAD = [b"{", b"[]", b'{"form":9}', b'{"form":1,"book":{}}', b'{"form":1,"book":{"edition":"x"}}']


@pytest.mark.parametrize("text", UNREAD, ids=[text.decode() for text in UNREAD])
def test_a_sheet_that_can_not_be_read_is_told(text: bytes, hunt_book: Hunt) -> None:
    def damage(book: Any) -> None:
        book.attach("book-sheet.json", text)

    hunt_book(f"a sheet that says {text!r}", "book-sheet-unread", "retail", "", damage)


def moved_away(book: Any) -> None:
    """Claim a place that is larger than any page, so that its middle is on none."""
    book.claims["places"][0][4] = [0, 0, 1e5, 1e5]


@pytest.mark.daily
def test_a_sheet_whose_places_lie_on_no_page_is_told(hunt_book: Hunt) -> None:
    hunt_book("a place on no page", "book-sheet-unread", "retail", "", moved_away)


def test_a_page_more_and_a_page_less_are_told(hunt_book: Hunt) -> None:
    def shorter(book: Any) -> None:
        del book.pdf.pages[-1]

    def longer(book: Any) -> None:
        book.pdf.add_blank_page()

    hunt_book("a page lost", "page-missing", "retail", "", shorter)
    hunt_book("a page more", "page-unclaimed", "retail", "", longer)


def test_a_product_that_the_edition_left_out_of_its_sheet_is_told(hunt_book: Hunt) -> None:
    """The sheet says which products stand where; that all of the catalog's do, it can't hide."""

    def damage(book: Any) -> None:
        for place in book.claims["places"]:
            place[3] = [sku for sku in place[3] if sku != MUD]
        assert MUD not in json.dumps(book.claims)

    hunt_book("a product left out of the sheet", "piece-other-product", "retail", MUD, damage)
