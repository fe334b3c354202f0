"""Whatever a book holds that its edition does not list is told, on its page or in its file.

Faults are planted in a good book and looked for by reading the file alone: nothing is made again,
nothing compared. One book holds as many as tell themselves apart by their rule and where they are.
"""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, String
from PIL import Image
from pypdf import PdfWriter
from pypdf.generic import TextStringObject

from labeler.app.book import BookRequest, make_catalog_book
from labeler.catalog.read import read_catalog
from labeler.checker.claims import ProductLine
from tests.checker.faults.books.conftest import looked_at
from tests.checker.faults.books.several import Damage, Fault, books_of, called

DAY = dt.date(2026, 11, 25)
REED, MUD, HEAVY, OTTER = "RV-14-40-REE", "RV-14-40-MUD", "RV-38-40-REE", "TO-12-50-MUD"
# ------------------------------------------------------------------------------- the order form


def field(sku: str, **entries: Any) -> Damage:
    """Change a product's field of the order form, or one above the rows."""

    def damage(book: Any) -> None:
        name = f"qty {sku}" if "-" in sku else sku
        one = next(each for each in book.fields() if str(each.T) == name)
        for key, value in entries.items():
            one[f"/{key}"] = value

    return damage


def field_gone(book: Any) -> None:
    for page in book.pdf.pages:
        notes = page.get("/Annots", [])
        page.Annots = Array([n for n in notes if str(n.get("/T", "")) != f"qty {OTTER}"])


def swapped(key: str) -> Damage:
    """Let two fields of the order form change their names, or what they are called."""

    def damage(book: Any) -> None:
        one, other = (
            next(each for each in book.fields() if str(each.T) == f"qty {sku}")
            for sku in (HEAVY, "RV-38-40-MUD")
        )
        one[key], other[key] = String(str(other[key])), String(str(one[key]))

    return damage


def field_more(name: str, of: str = HEAVY) -> Damage:
    """Copy a field, under another name, to another place of the same page."""

    def damage(book: Any) -> None:
        page = book.pdf.pages[book.place(of, "order")[0]]
        one = next(each for each in book.fields() if str(each.T) == f"qty {of}")
        copy = book.pdf.make_indirect(Dictionary(dict(one.items())))
        copy.T = String(name)
        if not name.startswith("qty"):
            copy.Rect = Array([300, 20, 340, 34])
        page.Annots = Array([*page.Annots, copy])
        book.pdf.Root.AcroForm.Fields.append(copy)

    return damage


FORM: list[Fault] = [
    ("an order field filled in", "order-field-altered", HEAVY, field(HEAVY, V=String("6"))),
    ("an order field that empties to six", "order-field-altered", REED,
     field(REED, DV=String("6"))),
    ("an order field hidden", "order-field-altered", MUD, field(MUD, F=2)),
    ("an order field not viewed", "order-field-altered", OTTER, field(OTTER, F=4 | 32)),
    ("an order field that is not printed", "order-field-altered", HEAVY, field(HEAVY, F=0)),
    ("an order field read-only", "order-field-altered", REED, field(REED, Ff=1)),
    ("an order field of one letter", "order-field-altered", MUD, field(MUD, MaxLen=1)),
    ("an order field with choices", "order-field-altered", OTTER,
     field(OTTER, Opt=Array([String("6"), String("12")]))),
    ("an order field gone", "order-field-missing", OTTER, field_gone),
    ("an order field that computes", "order-field-missing", HEAVY,
     field(HEAVY, AA=Dictionary(C=Dictionary(S=Name.JavaScript, JS=String("1"))))),
    ("an order field that is a button", "order-field-missing", REED, field(REED, FT=Name.Btn)),
    ("two order fields with each other's names", "order-field-other", HEAVY, swapped("/T")),
    ("two order fields read aloud as each other", "order-field-altered", HEAVY, swapped("/TU")),
    ("a second field in a row", "order-field-altered", HEAVY, field_more("qty x")),
    ("a field for a code of discount", "order-field-altered", "10", field_more("discount", REED)),
    ("another tier's name filled in", "order-field-altered", "10",
     field("tier", V=String("Distributor"))),
    ("the tier open to be typed over", "order-field-altered", "10", field("tier", Ff=0)),
    ("a dealer filled in whom nobody asked for", "order-field-altered", "10",
     field("dealer", V=String("The Landing"))),
    ("a question of the form read aloud otherwise", "order-field-altered", "10",
     field("notes", TU=String("Card number"))),
]  # fmt: skip


# ----------------------------------------------------------------------------- words on the page


def rewritten(old: str, new: str, after: str = "") -> Damage:
    """Change words where they first stand, after those that are named."""

    def damage(book: Any) -> None:
        runs = [run for page in range(len(book.pdf.pages)) for run in book.shown(page)]
        begin = next((at for at, run in enumerate(runs) if after in run.text), 0)
        book.rewrite(next(run for run in runs[begin:] if old in run.text), old, new)

    return damage


def dropped(words: str, after: str = "") -> Damage:
    return rewritten(words, "", after)


def typed(page: int, text: str, x: float = 60, y: float = 745) -> Damage:
    return lambda book: book.typed(page, x, y, text)


def in_row(sku: str, old: str, new: str, kind: str = "entry") -> Damage:
    return lambda book: book.rewrite(book.find(sku, old, kind), old, new)


def run_of(book: Any, page: int, words: str, y: float, near: float = 1.0) -> Any:
    """Return the run of these words alone that stands about so far down a page."""
    runs = (run for run in book.shown(page) if run.text.strip() == words)
    return next(run for run in runs if abs(run.y - y) < near)


def exchange(book: Any, one: Any, other: Any) -> None:
    """Let two runs of words change places."""
    book.moved(one, lambda a, b, c, d, e, f: (a, b, c, d, other.x, other.y))
    book.moved(other, lambda a, b, c, d, e, f: (a, b, c, d, one.x, one.y))


def names_changed(book: Any) -> None:
    """Let two colors' names change places below their figures."""
    runs = list(book.shown(4))
    named = (next(r for r in runs if r.text.strip() == name) for name in ("Reed Brown", "Mud"))
    exchange(book, *named)


def warned_elsewhere(book: Any) -> None:
    """Print the first words of a warning at a product that needs none."""
    page, (_, top, right, _) = book.place(OTTER)
    book.typed(page, right - 250, top + 12, "WARNING: cancer and birth defects", 7)


def unseen(page: int, text: str) -> Damage:
    """Print words without ink."""

    def damage(book: Any) -> None:
        at = len(book.words(page))
        book.typed(page, 60, 745, text)
        book.put(page, at, "3 Tr")

    return damage


def white(page: int, text: str) -> Damage:
    def damage(book: Any) -> None:
        shown = book.set(page, "", 7.0, text)
        book.over(page, f"BT 1 g 1 0 0 -1 60 745 Tm {shown} ET")

    return damage


WORDS: list[Fault] = [
    ("another count on the cover", "fact-unaccounted", "1", rewritten("5 items", "6 items")),
    ("another count of patterns on the cover", "fact-unaccounted", "1",
     rewritten("2 patterns", "3 patterns")),
    ("another street", "fact-unaccounted", "9", rewritten("1 Dock Road", "7 Dock Road")),
    ("another postcode on the back", "fact-unaccounted", "11",
     rewritten("54000", "54040", "send the form back")),
    ("another e-mail address", "fact-unaccounted", "9", rewritten("bench@", "sales@")),
    ("another telephone", "fact-unaccounted", "9", rewritten("0111", "0118")),
    ("another web address", "fact-unaccounted", "9",
     rewritten("dock.example", "deck.example")),
    ("another count to a case in the facts", "fact-unaccounted", "Reed Vole",
     rewritten("12 packs", "24 packs")),
    ("another count to a case in a row", "quantity-wrong", REED,
     lambda book: book.write(run_of(book, 4, "12", book.in_row(REED, REED).y), "24")),
    ("an origin that is not told", "fact-unaccounted", "Reed Vole", typed(3, "Tied in China")),
    ("another count of colors", "fact-unaccounted", "Reed Vole",
     lambda book: book.write(next(r for r in book.shown(3) if r.text.strip() == "2"), "9")),
    ("another hook beside the figure", "fact-unaccounted", "Reed Vole",
     rewritten("size 4/0", "size 5/0")),
    ("another word in a story", "words-unaccounted", "Reed Vole",
     rewritten("half light", "late light")),
    ("another kind", "fact-unaccounted", "Tin Otter",
     lambda book: book.rewrite(
         next(r for r in book.shown(5) if "FLIPPING" in r.text.upper()), "FLIPPING", "SWIM")),
    ("the least order gone", "words-missing", "9", dropped("at dealer prices")),
    ("the margin explained otherwise", "fact-unaccounted", "9", rewritten("twice", "thrice")),
    ("another step of prices", "fact-unaccounted", "9",
     rewritten("nearest $0.05", "nearest $0.50")),
    ("two tiers' terms swapped", "words-moved", "9",
     lambda book: changed_labels(book)),
    ("no legal advice gone", "words-missing", "8", dropped("legal advice")),
    ("another currency named", "fact-unaccounted", "9", rewritten("All in USD", "All in CAD")),
    ("another currency on the cover", "fact-unaccounted", "1", typed(0, "prices in CAD")),
    ("a wrong place in the contents", "page-number-wrong", "2",
     lambda book: book.write(next(r for r in book.shown(1) if r.text.strip() == "10"), "11")),
    ("a pattern beside another color", "index-wrong", "8", lambda book: index_of(book)),
    ("a wrong page in the index", "page-number-wrong", "8",
     lambda book: book.rewrite(next(r for r in book.shown(7) if r.text.strip() == "5"), "5", "3")),
    ("a wrong number at a page's foot", "page-number-wrong", "Reed Vole",
     lambda book: book.write(run_of(book, 3, "4", 750, 30), "5")),
    ("the running head of another pattern", "fact-unaccounted", "Reed Vole",
     lambda book: book.rewrite(next(r for r in book.shown(3) if "REED VOLE" in r.text), "REED VOLE",
                               "TIN OTTER")),
    ("a place where it is said that it may be sold", "market-wrong", "8",
     rewritten("notice", "may be sold", "Where it")),
    ("less lead in a material", "fact-unaccounted", "8",
     rewritten("97", "9", "What it is made of")),
    ("no word of lead in a material", "words-missing", "8", rewritten(" Contains lead.", "")),
    ("two colors' names swapped below their figures", "words-moved", "Reed Vole",
     names_changed),
    ("another color beside a code", "fact-unaccounted", HEAVY,
     in_row(HEAVY, "Reed Brown", "Mud", "code")),
    ("another hook beside a code", "fact-unaccounted", HEAVY, in_row(HEAVY, "4/0", "5/0", "code")),
    ("another hook on the order form", "fact-unaccounted", REED,
     rewritten("hook 4/0", "hook 5/0", "send the form")),
    ("another address to send the form to", "fact-unaccounted", "10",
     rewritten("back to bench", "back to sales")),
    ("another head of a column", "fact-unaccounted", "Reed Vole", lambda book: headed(book)),
    ("a warning at another product", "fact-unaccounted", OTTER, warned_elsewhere),
    ("words without ink", "fact-unaccounted", "Reed Vole", unseen(3, "half price")),
    ("words in white", "fact-unaccounted", "Reed Vole", white(3, "half price")),
    ("a lot", "fact-unaccounted", "Reed Vole", typed(3, "Lot 263290021")),
    ("an article number of nobody", "fact-unaccounted", "Reed Vole",
     typed(3, "GTIN 9521234009999")),
    ("where it is not from", "fact-unaccounted", "Reed Vole", typed(3, "Made in China")),
    ("a guarantee", "fact-unaccounted", "1", typed(0, "guaranteed for life")),
    ("mere words", "words-unaccounted", "1", typed(0, "see you on the river")),
    ("a bare number", "words-unaccounted", "Reed Vole", typed(3, "17")),
    ("a price without its sign", "fact-unaccounted", "Reed Vole", typed(3, "3.20")),
    ("a price in words", "fact-unaccounted", "1", typed(0, "three dollars")),
    ("another product on a pattern's page", "fact-unaccounted", "Reed Vole", typed(3, "Tin Otter")),
]  # fmt: skip


def changed_labels(book: Any) -> None:
    """Let the names of two tiers change places in the terms, each beside the other's discount."""
    runs = list(book.shown(8))
    begins = ("DEALER PRICES", "DISTRIBUTOR PRICES")
    exchange(book, *(next(r for r in runs if r.text.upper().startswith(each)) for each in begins))


def index_of(book: Any) -> None:
    """Move a pattern in the index beside another color."""
    runs = list(book.shown(7))
    pattern = next(run for run in runs if "Tin Otter" in run.text)
    number = next(run for run in runs if run.text.strip() == "7" and abs(run.y - pattern.y) < 1)
    color = next(run for run in runs if "Reed Brown" in run.text)
    for run in (pattern, number):
        book.moved(run, lambda a, b, c, d, e, f: (a, b, c, d, e, color.y + 12))


def headed(book: Any) -> None:
    page, (left, top, right, bottom) = book.place(REED, "heads")
    run = next(
        run for run in book.shown(page)
        if left <= run.x <= right and top <= run.y <= bottom and "MARGIN" in run.text.upper()
    )  # fmt: skip
    book.write(run, "RETAIL")


# ------------------------------------------------------------------------------ beside the pages


def bookmark(at: int = 1, **entries: Any) -> Damage:
    def damage(book: Any) -> None:
        item = book.pdf.Root.Outlines.First
        for _ in range(at):
            item = item.Next
        for key, value in entries.items():
            item[f"/{key}"] = value

    return damage


def titles_swapped(book: Any) -> None:
    first = book.pdf.Root.Outlines.First
    second = first.Next
    first.Title, second.Title = String(str(second.Title)), String(str(first.Title))


def place_moved(book: Any) -> None:
    names = book.pdf.Root.Names.Dests.Names
    at = next(n for n in range(0, len(names), 2) if str(names[n]) == "terms")
    names[at + 1][0] = book.pdf.pages[0].obj


def labelled(book: Any) -> None:
    for each in book.pdf.Root.PageLabels.Nums:
        if isinstance(each, Dictionary) and "/S" in each:
            each.St = 7


def told_in(key: str, text: str) -> Damage:
    return lambda book: book.pdf.docinfo.__setitem__(key, String(text))


def element(key: str, text: str) -> Damage:
    """Let some element of the structure say something."""

    def damage(book: Any) -> None:
        node = book.pdf.Root.StructTreeRoot.K
        node = node[0] if isinstance(node, Array) else node
        node[key] = String(text)

    return damage


def pictured(book: Any) -> None:
    """Let a figure be called what another product's is."""
    for each in book.pdf.objects:
        if isinstance(each, Dictionary) and str(each.get("/Alt", "")).startswith("Mud, flipping"):
            each.Alt = String("Mud, flipping jig: mud, 5/0 hook, lead-free")
            return
    raise AssertionError("no figure")


def described(text: str) -> Damage:
    def damage(book: Any) -> None:
        data = (
            '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/'
            '22-rdf-syntax-ns#"><rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements'
            f'/1.1/"><dc:format>{text}</dc:format></rdf:Description></rdf:RDF></x:xmpmeta>'
        )
        book.pdf.Root.Metadata = book.pdf.make_stream(
            data.encode(), Type=Name.Metadata, Subtype=Name.XML
        )

    return damage


def commented(page: int, text: str) -> Damage:
    return lambda book: book.comments.append((page, text))


def marked(page: int, text: str) -> Damage:
    def damage(book: Any) -> None:
        book.over(page, f"/Span <</ActualText ({text})>> BDC 0 0 m n EMC")

    return damage


def in_a_form(book: Any) -> None:
    """Leave a comment in what a field looks like."""
    one = next(book.fields())
    data = one.AP.N.read_bytes()
    one.AP.N.write(data + b"\n% half price in May\n")


def page_left_over(book: Any) -> None:
    copy = Dictionary(Type=Name.Page, Contents=book.pdf.make_stream(b"BT (3.20) Tj ET"))
    book.pdf.pages[2].obj["/B"] = book.pdf.make_indirect(copy)


def layered(book: Any) -> None:
    group = book.pdf.make_indirect(Dictionary(Type=Name.OCG, Name=String("for shops")))
    book.pdf.Root.OCProperties = Dictionary(OCGs=Array([group]), D=Dictionary(OFF=Array([group])))


def linked(text: str) -> Damage:
    def damage(book: Any) -> None:
        for note in book.links("/p/" + HEAVY):
            note.Contents = String(text)

    return damage


def in_the_sheet(book: Any) -> None:
    book.claims["book"]["note"] = "as agreed: 45 % off"


def stuck_on(book: Any) -> None:
    page = book.pdf.pages[2]
    note = Dictionary(Type=Name.Annot, Subtype=Name.Text, Rect=[60, 300, 80, 320],
                      Contents=String("the shop gets 45 % off"))  # fmt: skip
    page.Annots = Array([*page.get("/Annots", []), book.pdf.make_indirect(note)])


FILE: list[Fault] = [
    ("a bookmark that leads elsewhere", "bookmark-wrong", "",
     lambda b: bookmark(Dest=Array([b.pdf.pages[-1].obj, Name.Fit]))(b)),
    ("a bookmark called otherwise", "bookmark-wrong", "", bookmark(Title=String("News"))),
    ("a bookmark to the web", "bookmark-wrong", "", bookmark(
        A=Dictionary(S=Name.URI, URI=String("https://dock.example.com")))),
    ("bookmarks gone", "bookmark-wrong", "", lambda b: b.pdf.Root.__delitem__("/Outlines")),
    ("two bookmarks swapped", "bookmark-wrong", "", titles_swapped),
    ("a named place moved", "bookmark-wrong", "", place_moved),
    ("a bookmark with a discount", "fact-unaccounted", "", bookmark(Title=String("45 % off"))),
    ("other numbers in the viewer's list", "page-number-wrong", "2", labelled),
    ("keywords", "fact-unaccounted", "", told_in("/Keywords", "45 % off for friends")),
    ("a title", "words-unaccounted", "", told_in("/Title", "Spring news")),
    ("a program's name with a discount", "fact-unaccounted", "", told_in("/Producer", "45 % off")),
    ("words for who hears it read", "fact-unaccounted", "", element("/ActualText", "45 % off")),
    ("an abbreviation spelt out", "fact-unaccounted", "", element("/E", "made in Norway")),
    ("a figure called otherwise", "fact-unaccounted", "1", pictured),
    ("a description", "fact-unaccounted", "", described("45 % off for friends")),
    ("a comment in a page", "fact-unaccounted", "2", commented(1, "45 % off for friends")),
    ("a comment in a field's looks", "fact-unaccounted", "", in_a_form),
    ("a mark with words behind it", "fact-unaccounted", "3", marked(2, "45 % off")),
    ("a link called otherwise", "fact-unaccounted", "", linked("now half price")),
    ("a word more in the sheet inside", "fact-unaccounted", "", in_the_sheet),
    ("a note stuck on", "fact-unaccounted", "", stuck_on),
    ("a page that is in no tree", "page-left-over", "", page_left_over),
    ("a layer that is switched off", "file-part-unknown", "", layered),
    ("what another program keeps for itself", "file-part-unknown", "",
     lambda b: b.pdf.Root.__setitem__(
        "/PieceInfo", Dictionary(Shop=Dictionary(Private=1)))),
    ("a page's small picture", "file-part-unknown", "", lambda b: b.pdf.pages[0].obj.__setitem__(
        "/Thumb", b.pdf.make_stream(b"\0", Width=1, Height=1))),
]  # fmt: skip

RETAIL: list[Fault] = [
    ("a dealer's price, bare", "retail-dealer-price", "Reed Vole", typed(3, "3.20")),
    ("a dealer's price after words", "retail-dealer-price", "Reed Vole", typed(3, "else 3.20")),
    ("a discount for shops", "fact-unaccounted", "1", typed(0, "35 % off for shops")),
    ("what shops pay in a bookmark", "retail-dealer-price", "",
     bookmark(Title=String("shops: 3.20"))),
    ("what shops pay in a figure's words", "retail-dealer-price", "",
     element("/Alt", "shops pay 3.20")),
    ("what shops pay for who hears it", "retail-dealer-price", "", element("/ActualText", "3.20")),
    ("what shops pay in a comment", "retail-dealer-price", "2", commented(1, "shops pay 3.20")),
    ("a discount in the keywords", "fact-unaccounted", "",
     told_in("/Keywords", "35 % off for shops")),
    ("what shops pay in the description", "retail-dealer-price", "", described("shops pay 3.20")),
    ("what shops pay behind a mark", "retail-dealer-price", "3", marked(2, "3.20")),
    ("a tier's name", "words-unaccounted", "1", typed(0, "Distributor")),
    ("a dealer in a link's words", "retail-dealer-named", "", linked("The Landing")),
    ("a page that is in no tree, for buyers", "page-left-over", "", page_left_over),
]  # fmt: skip


@pytest.fixture(scope="module")
def listed(short_line: Path) -> ProductLine:
    return ProductLine.of(read_catalog(short_line))


@pytest.mark.siege
@pytest.mark.parametrize("faults", books_of([*FORM, *WORDS, *FILE]), ids=called)
def test_what_a_dealers_book_does_not_list(
    faults: list[Fault], hunt_books: Callable[..., None]
) -> None:
    hunt_books(faults, "dealer")


@pytest.mark.siege
@pytest.mark.parametrize("faults", books_of(RETAIL), ids=called)
def test_what_a_book_for_buyers_does_not_list(
    faults: list[Fault], hunt_books: Callable[..., None]
) -> None:
    hunt_books(faults, "retail")


@pytest.mark.siege
def test_what_an_earlier_state_of_the_file_leaves_in_it(
    good_books: dict[str, Path], short_line: Path, listed: ProductLine, tmp_path: Path
) -> None:
    file = tmp_path / "twice.pdf"
    more = PdfWriter(good_books["retail"], incremental=True)
    more.add_metadata({"/Subject": "as agreed"})
    more._add_object(TextStringObject("as agreed"))
    more.write(file)
    rules = {each.rule for each in looked_at(file, short_line, listed).findings}
    assert {"file-earlier-state", "object-left-over", "words-unaccounted"} <= rules
    data = good_books["retail"].read_bytes()
    file.write_bytes(data.replace(b"endobj", b"endobj\n% shops pay 3.20", 1))
    found = looked_at(file, short_line, listed).findings
    assert "retail-dealer-price" in {each.rule for each in found}


@pytest.mark.siege
def test_another_photo_than_the_catalog_names(short_line: Path, tmp_path: Path) -> None:
    folder = shutil.copytree(short_line, tmp_path / "line")
    (folder / "photos").mkdir()
    shades = np.linspace(0, 255, 60 * 40).reshape(40, 60) % 140 + 60
    ochre = Image.merge(
        "RGB", [Image.fromarray((shades * of).astype("uint8")) for of in (1, 0.7, 0.3)]
    )
    ochre.save(folder / "photos" / "vole.jpg")
    file = folder / "catalog.toml"
    text = file.read_text("utf-8").replace('price = "4.95"', 'price = "4.95"\nphoto = "vole.jpg"')
    file.write_text(text, "utf-8")
    line, book = ProductLine.of(read_catalog(folder)), tmp_path / "book.pdf"
    make_catalog_book(BookRequest(folder, book, "retail", day=DAY))
    assert "picture-other" not in {each.rule for each in looked_at(book, folder, line).findings}
    ochre.transpose(Image.Transpose.ROTATE_90).convert("HSV").point(
        lambda value: (value + 120) % 256
    ).convert("RGB").save(folder / "photos/vole.jpg")
    found = looked_at(book, folder, line).findings
    assert [each.place.piece for each in found if each.rule == "picture-other"] == ["Reed Vole"]
    file.write_text(text.replace('photo = "vole.jpg"', ""), "utf-8")
    plain = ProductLine.of(read_catalog(folder))
    assert "picture-other" in {each.rule for each in looked_at(book, folder, plain).findings}


@pytest.mark.siege
def test_a_product_that_the_edition_leaves_out(
    short_line: Path, tmp_path: Path, bound_of: Any
) -> None:
    """Of a book of one pattern the other is told wherever it is named, and its price too."""
    good, file = tmp_path / "book.pdf", tmp_path / "more.pdf"
    made = make_catalog_book(BookRequest(short_line, good, day=DAY, only=("reed vole mud 1/4",)))
    assert [each.place.piece for each in made.findings if each.rule == "sku-by-name"] == [MUD]
    line = ProductLine.of(read_catalog(short_line))
    for words, rule in ((OTTER, "fact-unaccounted"), ("Reed Brown", "fact-unaccounted"),
                        ("$9.50", "price-stray")):  # fmt: skip
        with pikepdf.open(good) as pdf:
            book = bound_of(pdf)
            book.typed(2, 60, 745, words)
            book.save(file)
        assert rule in {each.rule for each in looked_at(file, short_line, line).findings}, words
