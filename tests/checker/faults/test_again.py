"""Files of labels and cards held against their run made again: each fault is told and ringed.

The checker's own finds are not asked here: neither way may excuse the other, so that what making
the run again finds must be found by it alone. With
``--both-ways`` the table at the end tells which of the faults reading the page finds too.
"""

from __future__ import annotations

import contextlib
import json
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, String
from pypdf import PdfWriter

from labeler.app import again as remaking
from labeler.app.again import make_again
from labeler.app.preflight import Again, check_file
from labeler.checker import compare, worker
from labeler.checker.pdf.file import limit
from labeler.checker.report import Report
from labeler.findings import Finding, Grade, LabelerError
from labeler.geometry import overlaps
from labeler.layout.index import read_index
from labeler.press.sheets import all_sheets

SBR, TSP, DLF = "RM-14-30-SBR", "RM-14-30-TSP", "RM-14-30-DLF"
WHOLE = "page"
FILE = ""


@dataclass
class Page:
    """The whole file, with what faults need of it."""

    sheet: Any

    @property
    def pdf(self) -> pikepdf.Pdf:
        return self.sheet.pdf

    @property
    def first(self) -> Any:
        return self.pdf.pages[0]

    def contents(self, change: Callable[[bytes], bytes], page: int = 0) -> None:
        one = self.pdf.pages[page]
        one.Contents = self.pdf.make_stream(change(one.Contents.read_bytes()))

    def run_sheet(self, change: Callable[[dict[str, Any]], None]) -> None:
        record = self.sheet.claims
        change(record)
        data = json.dumps(record, ensure_ascii=False, separators=(",", ":")).encode()
        self.pdf.attachments["run-sheet.json"].get_file().obj.write(data)

    def link(self, rect: list[float], uri: str = "https://example.com/") -> Any:
        action = Dictionary(S=Name.URI, URI=String(uri))
        return self.pdf.make_indirect(
            Dictionary(Type=Name.Annot, Subtype=Name.Link, Rect=Array(rect), A=action,
                       Border=Array([0, 0, 2]))
        )  # fmt: skip

    def font(self, of: str) -> Any:
        run = self.sheet.run(SBR, of)
        return self.first.Resources.Font[run.font]


Fault = tuple[str, str, str, str, Callable[[Page], Any]]
"""What is done, the rule that tells of it, the good file, where it is ringed, and how."""


def root(page: Page, **entries: Any) -> None:
    for key, value in entries.items():
        page.pdf.Root[f"/{key}"] = value


def first(page: Page, **entries: Any) -> None:
    for key, value in entries.items():
        page.first[f"/{key}"] = value


def scripted(page: Page, where: str) -> None:
    script = Dictionary(S=Name.JavaScript, JS=String("app.alert(1)"))
    match where:
        case "names":
            tree = Dictionary(Names=Array([String("a"), page.pdf.make_indirect(script)]))
            page.pdf.Root.Names.JavaScript = tree
        case "open":
            page.pdf.Root.OpenAction = script
        case "print":
            page.pdf.Root.AA = Dictionary(WP=script)
        case "page":
            page.first.AA = Dictionary(O=script)


def layered(page: Page) -> None:
    group = page.pdf.make_indirect(Dictionary(Type=Name.OCG, Name=String("price")))
    usual = Dictionary(ON=Array([group]), Order=Array([group]))
    page.pdf.Root.OCProperties = Dictionary(OCGs=Array([group]), D=usual)
    page.first.Resources.Properties = Dictionary(L0=group)
    page.contents(lambda data: b"/OC /L0 BDC " + data + b" EMC")


def typed_in_helvetica(page: Page, text: str, how: str = "") -> None:
    page.sheet.helvetica(SBR)
    page.sheet.over(SBR, f"BT {how} /FH 6 Tf 1 0 0 -1 40 40 Tm ({text}) Tj ET")


def overprinted(page: Page, **entries: Any) -> None:
    page.sheet.state(SBR, "GX", **entries)
    page.sheet.under(SBR, "/GX gs")


def other_font_file(page: Page) -> None:
    """Put the outlines of another face of the page in place of one."""
    one, other = page.font("Reedmace"), page.font("Sunday Bream")
    one.FontDescriptor.FontFile2 = other.FontDescriptor.FontFile2


def other_unicode(page: Page) -> None:
    entry = page.font("Reedmace")
    data = entry.ToUnicode.read_bytes().replace(b"<0052>", b"<0058>")
    entry.ToUnicode = page.pdf.make_stream(data)


def bars_swapped(page: Page) -> None:
    """Exchange the places of two bars of a code."""
    words, at = page.sheet.words(0), page.sheet.code(SBR)
    end = page.sheet.code_end(SBR)
    x, y, wide, high = (float(each) for each in words[at + 3][0])
    words[at + 3] = pikepdf.ContentStreamInstruction(
        [x + wide, y, wide, high], pikepdf.Operator("re")
    )
    assert at + 3 < end


def everything_moved(page: Page) -> None:
    """Move the page and every place of its run sheet by three points."""
    page.contents(lambda data: b"1 0 0 1 3 0 cm " + data)

    def move(record: dict[str, Any]) -> None:
        for group in record["pages"]:
            for place in group["places"]:
                place[1] += 3

    page.run_sheet(move)


def moved_as_by_a_printer(page: Page) -> None:
    page.contents(lambda data: b"1 0 0 1 3 0 cm " + data)

    def move(record: dict[str, Any]) -> None:
        record["correction"] = {side: [1, 0, 0, 1, 3, 0] for side in ("front", "back")}

    page.run_sheet(move)


def annotated(page: Page, **entries: Any) -> None:
    note = Dictionary(
        Type=Name.Annot, Rect=Array([40, 720, 90, 740]), Contents=String("3.20"), **entries
    )
    page.first.Annots = Array([page.pdf.make_indirect(note)])


def attached(page: Page, name: str, data: bytes) -> None:
    page.pdf.attachments[name] = pikepdf.AttachedFileSpec(page.pdf, data, filename=name)


def hairline_gone(page: Page) -> None:
    words = page.sheet.words(0)
    _, begin, end = page.sheet.block(SBR)
    at = next(at for at in range(end, begin, -1) if str(words[at][1]) == "S")
    words[at] = pikepdf.ContentStreamInstruction([], pikepdf.Operator("n"))


def recoloured(page: Page) -> None:
    """Print one layer of the recipe in a shade that is hardly another."""
    words = page.sheet.words(0)
    _, begin, end = page.sheet.block(SBR)
    at = next(
        at for at in range(begin, end)
        if str(words[at][1]) == "rg" and len({float(each) for each in words[at][0]}) > 1
    )  # fmt: skip
    red, green, blue = (float(each) for each in words[at][0])
    words[at] = pikepdf.ContentStreamInstruction(
        [red, green, min(1, blue + 0.05)], pikepdf.Operator("rg")
    )


FAULTS: list[Fault] = [
    # what a buyer sees, one piece of it
    ("a figure of the weight", "again-looks", "strip", SBR,
     lambda p: p.sheet.write(SBR, p.sheet.run(SBR, "263290013"), "263290031")),
    ("two bars of a code", "again-looks", "strip", SBR, bars_swapped),
    ("the codes of two labels swapped", "again-looks", "strip", TSP,
     lambda p: p.sheet.swap_codes(SBR, TSP)),
    ("a word moved by a point", "again-looks", "strip", SBR,
     lambda p: p.sheet.move(SBR, "HOOK", 1, 0)),
    ("a word set two in a hundred larger", "again-looks", "strip", SBR,
     lambda p: p.sheet.scale(SBR, "Reedmace", 1.02)),
    ("a word left out", "again-looks", "strip", SBR, lambda p: p.sheet.drop(SBR, "Sharp hook.")),
    ("a hairline gone", "again-looks", "header", SBR, hairline_gone),
    ("a layer in another shade", "again-looks", "strip", SBR, recoloured),
    ("a stamp over the name", "again-looks", "strip", SBR,
     lambda p: p.sheet.over(SBR, "0.9 0.1 0.1 rg 30 10 20 5 re f")),
    ("a stamp under all else", "again-looks", "strip", SBR,
     lambda p: p.sheet.under(SBR, "0.95 1 0.95 rg 0 0 189 72 re f")),
    ("a white patch over the warning", "again-looks", "strip", SBR,
     lambda p: p.sheet.over(SBR, "1 g 20 45 60 12 re f")),
    ("words in a strange font", "again-looks", "strip", SBR,
     lambda p: typed_in_helvetica(p, "Pb-free!")),
    ("a claim in type one point high", "again-looks", "strip", SBR,
     lambda p: p.sheet.typed(SBR, 60, 60, "lead", "Contains lead.@1")),
    ("letters drawn as strokes", "again-looks", "strip", SBR,
     lambda p: p.sheet.over(SBR, "0 G 0.3 w 60 30 m 62 34 l 64 30 l S")),
    ("a word turned upside down", "again-looks", "strip", SBR,
     lambda p: p.sheet.matrix(SBR, p.sheet.run(SBR, "Sunday"),
                              lambda a, b, c, d, e, f: (-a, b, c, -d, e + 40, f))),
    ("a word mirrored", "again-looks", "strip", SBR,
     lambda p: p.sheet.matrix(SBR, p.sheet.run(SBR, "Sunday"),
                              lambda a, b, c, d, e, f: (-a, b, c, d, e + 50, f))),
    ("a word faded", "again-looks", "strip", SBR,
     lambda p: (p.sheet.state(SBR, "GF", ca=0.6),
                p.sheet.wrap(SBR, p.sheet.run(SBR, "Contains"), "q /GF gs", "Q"))),
    ("a word clipped", "again-looks", "strip", SBR,
     lambda p: p.sheet.clipped(SBR, "Reedmace", "0 0 50 72")),
    ("type only stroked", "again-looks", "strip", SBR,
     lambda p: p.sheet.wrap(SBR, p.sheet.run(SBR, "Reedmace"), "1 Tr", "0 Tr")),
    ("letters set apart", "again-looks", "strip", SBR,
     lambda p: p.sheet.wrap(SBR, p.sheet.run(SBR, "Reedmace"), "0.2 Tc", "0 Tc")),
    ("the outlines of another face", "again-looks", "strip", SBR, other_font_file),
    ("a code half a module larger", "again-looks", "strip", SBR,
     lambda p: p.sheet.code_matrix(
         SBR, lambda a, b, c, d, e, f: (a * 1.02, b, c, d * 1.02, e, f))),
    ("a code in grey", "again-looks", "strip", SBR,
     lambda p: p.sheet.put(SBR, p.sheet.code_end(SBR), "0.1 g")),
    ("an inline picture", "again-looks", "strip", SBR,
     lambda p: p.sheet.over(SBR, "10 0 0 10 90 30 cm BI /W 1 /H 1 /CS /G /BPC 8 ID \x50 EI")),
    ("a picture replaced", "again-looks", "photo", DLF, lambda p: picture(p).write(
        bytes(3 * int(picture(p).Width) * int(picture(p).Height)), filter=Name.FlateDecode)),
    ("a picture of another tint", "again-looks", "photo", DLF,
     lambda p: picture(p).__setitem__("/Decode", Array([1, 0, 1, 0, 1, 0]))),
    ("a picture with another mask", "again-looks", "photo", DLF,
     lambda p: picture(p).__setitem__("/SMask", half_a_mask(p))),
    ("a picture without its mask", "again-looks", "photo", DLF,
     lambda p: picture(p).__delitem__("/SMask")),
    # beside the pieces, and on other pages
    ("ink beside the labels", "again-looks", "strip", FILE,
     lambda p: p.contents(lambda data: data + b"\nq 1 0 0 1 0 0 cm 300 20 5 5 re f Q")),
    ("a stamp on the second of two like pages", "again-looks", "many", f"{SBR}@2",
     lambda p: p.contents(lambda data: data + b"\n0 g 60 700 20 5 re f", page=1)),
    ("everything moved, its run sheet too", "again-looks", "strip", SBR, everything_moved),
    ("everything moved, as if by a printer", "again-other-printer", "strip", WHOLE,
     moved_as_by_a_printer),
    # pages
    ("a page twice", "again-pages", "many", WHOLE,
     lambda p: p.pdf.pages.append(p.pdf.pages[1])),
    ("a page gone", "again-pages", "many", "1", lambda p: p.pdf.pages.remove(p=2)),
    ("pages in another order", "again-pages", "mixed", WHOLE,
     lambda p: p.pdf.pages.reverse()),
    ("an empty page more", "again-pages", "strip", WHOLE, lambda p: p.pdf.add_blank_page()),
    # boxes and turns
    ("a larger media box", "again-page-box", "strip", WHOLE,
     lambda p: first(p, MediaBox=Array([0, 0, 620, 800]))),
    ("a moved media box", "again-page-box", "strip", WHOLE,
     lambda p: first(p, MediaBox=Array([0, 3, 612, 795]))),
    ("a crop box", "again-page-box", "strip", WHOLE,
     lambda p: first(p, CropBox=Array([10, 10, 600, 780]))),
    ("another trim box", "again-page-box", "header", WHOLE,
     lambda p: first(p, TrimBox=Array([10, 10, 600, 780]))),
    ("another bleed box", "again-page-box", "header", WHOLE,
     lambda p: first(p, BleedBox=Array([10, 10, 600, 780]))),
    ("an art box", "again-page-box", "strip", WHOLE,
     lambda p: first(p, ArtBox=Array([10, 10, 600, 780]))),
    ("a quarter turn", "again-page-box", "strip", WHOLE, lambda p: first(p, Rotate=90)),
    ("half a turn", "again-page-box", "strip", WHOLE, lambda p: first(p, Rotate=180)),
    ("a unit of its own", "again-page-box", "strip", WHOLE, lambda p: first(p, UserUnit=1.01)),
    # what the printer and the viewer are asked for
    ("print scaling gone", "again-viewer", "strip", FILE,
     lambda p: p.pdf.Root.ViewerPreferences.__delitem__("/PrintScaling")),
    ("no preferences at all", "again-viewer", "strip", FILE,
     lambda p: p.pdf.Root.__delitem__("/ViewerPreferences")),
    ("two copies asked for", "again-viewer", "strip", FILE,
     lambda p: p.pdf.Root.ViewerPreferences.__setitem__("/NumCopies", 2)),
    ("both sides asked for", "again-viewer", "strip", FILE,
     lambda p: p.pdf.Root.ViewerPreferences.__setitem__("/Duplex", Name.DuplexFlipShortEdge)),
    ("a color intent", "again-viewer", "strip", FILE,
     lambda p: root(p, OutputIntents=Array([Dictionary(S=Name.GTS_PDFX)]))),
    ("a script when opened", "again-script", "strip", FILE, lambda p: scripted(p, "open")),
    ("a script by name", "again-script", "strip", FILE, lambda p: scripted(p, "names")),
    ("a script when printed", "again-script", "strip", FILE, lambda p: scripted(p, "print")),
    ("a script of the page", "again-script", "strip", WHOLE, lambda p: scripted(p, "page")),
    ("another picture for the printer", "again-alternate", "photo", WHOLE,
     lambda p: picture(p).__setitem__("/Alternates", Array([
         Dictionary(Image=p.pdf.make_stream(b"\0", Subtype=Name.Image, Width=1, Height=1,
                                            ColorSpace=Name.DeviceGray, BitsPerComponent=8),
                    DefaultForPrinting=True)]))),
    ("a layer around all", "again-layers", "strip", FILE, layered),
    ("overprint", "again-printer", "strip", WHOLE, lambda p: overprinted(p, OP=True, op=True)),
    ("a halftone", "again-printer", "strip", WHOLE,
     lambda p: overprinted(p, HT=Dictionary(HalftoneType=1, Frequency=20, Angle=45,
                                            SpotFunction=Name.Round))),
    ("a transfer curve", "again-printer", "strip", WHOLE,
     lambda p: overprinted(p, TR=Dictionary(FunctionType=2, Domain=Array([0, 1]), N=3))),
    ("a PostScript form", "again-printer", "strip", WHOLE,
     lambda p: p.first.Resources.__setitem__("/XObject", Dictionary(
         PX=p.pdf.make_stream(b"showpage", Subtype=Name.PS,
                              Level1=p.pdf.make_stream(b"showpage"))))),
    # what lies on the page
    ("a link with a border", "again-annotation", "strip", "box",
     lambda p: first(p, Annots=Array([p.link([40, 720, 90, 740])]))),
    ("a note that nobody sees", "again-annotation", "strip", "box",
     lambda p: annotated(p, Subtype=Name.Text, F=2)),
    ("free text", "again-annotation", "strip", "box",
     lambda p: annotated(p, Subtype=Name.FreeText, DA=String("/Helv 9 Tf"))),
    ("a form", "again-annotation", "strip", FILE,
     lambda p: root(p, AcroForm=Dictionary(Fields=Array([]), DA=String("/Helv 9 Tf")))),
    # what travels inside
    ("a run sheet of other lots", "again-attachment", "strip", FILE,
     lambda p: p.run_sheet(lambda record: record["pieces"][0].__setitem__("markets", ["US"]))),
    ("another file inside", "again-attachment", "strip", FILE,
     lambda p: attached(p, "dealers.csv", b"sku,price\n")),
    # what nobody sees
    ("a comment among the operators", "again-hidden", "strip", WHOLE,
     lambda p: p.contents(lambda data: data + b"\n% dealers pay 3.20\n")),
    ("words for who hears it read", "again-hidden", "strip", WHOLE,
     lambda p: p.contents(
         lambda data: b"/Span <</ActualText (Pb-free)>> BDC " + data + b" EMC")),
    ("type that is not painted", "again-drawing", "strip", WHOLE,
     lambda p: typed_in_helvetica(p, "Pb-free", "3 Tr")),
    ("white type on white", "again-drawing", "strip", WHOLE,
     lambda p: p.contents(
         lambda data: data + b"\nBT 1 g /F1.0 6 Tf 1 0 0 1 300 20 Tm <01> Tj ET")),
    ("a font that nothing uses", "again-drawing", "strip", WHOLE,
     lambda p: p.sheet.helvetica(SBR)),
    ("other letters behind the same shapes", "again-said", "strip", WHOLE, other_unicode),
    ("keywords", "again-said", "strip", FILE,
     lambda p: p.pdf.docinfo.__setitem__("/Keywords", "35 % off for shops")),
    ("another title", "again-said", "strip", FILE,
     lambda p: p.pdf.docinfo.__setitem__("/Title", "Other labels")),
    ("a packet of metadata", "again-said", "strip", FILE,
     lambda p: root(p, Metadata=p.pdf.make_stream(b"<x/>", Type=Name.Metadata))),
    ("the name of another program", "again-saved", "strip", FILE,
     lambda p: p.pdf.docinfo.__setitem__("/Producer", "35 % off for shops")),
    ("another language", "again-said", "strip", FILE, lambda p: root(p, Lang=String("fr"))),
    ("a thumbnail", "again-said", "strip", WHOLE,
     lambda p: first(p, Thumb=p.pdf.make_stream(b"\0", Width=1, Height=1,
                                                ColorSpace=Name.DeviceGray, BitsPerComponent=8))),
    ("an editor's own notes", "again-said", "strip", WHOLE,
     lambda p: first(p, PieceInfo=Dictionary(App=Dictionary(Private=String("x"))))),
    ("other page labels", "again-bookmark", "strip", FILE,
     lambda p: root(p, PageLabels=Dictionary(Nums=Array([0, Dictionary(P=String("x"))])))),
    ("bookmarks", "again-bookmark", "strip", FILE,
     lambda p: root(p, Outlines=Dictionary(Type=Name.Outlines, Count=0))),
]  # fmt: skip


def picture(page: Page) -> Any:
    found = [x for one in page.pdf.pages for x in pictures(one.Resources)]
    assert found, "no picture in this file"
    return found[0]


def half_a_mask(page: Page) -> Any:
    """Return a mask that hides the upper half of a picture and shows all of the lower one."""
    return page.pdf.make_stream(
        b"\0\xff", Type=Name.XObject, Subtype=Name.Image, Width=1, Height=2,
        ColorSpace=Name.DeviceGray, BitsPerComponent=8,
    )  # fmt: skip


def pictures(resources: Any) -> Iterator[Any]:
    for thing in (resources.get("/XObject") or {}).values():
        if thing.get("/Subtype") == Name.Image:
            yield thing
        elif thing.get("/Resources") is not None:
            yield from pictures(thing.Resources)


# -------------------------------------------------------------------------------- the hunt


@pytest.fixture(scope="session")
def good(
    bases: dict[str, Any], workshop: Any, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Any]:
    """Good files by name: two like sheets, two unlike ones and a card with a photo besides."""
    folder, out = bases["strip"].folder, tmp_path_factory.mktemp("again")
    more: dict[str, dict[str, Any]] = {
        "many": {"skus": (SBR,), "count": 60},
        "mixed": {"skus": (SBR, TSP), "count": 30},
        "photo": {"use": "cards", "layout": "header-card", "skus": (DLF,)},
    }
    for name, wish in more.items():
        bases[name] = workshop.printed(folder, out / f"{name}.pdf", **wish)
    return bases


@pytest.fixture(scope="module")
def runs_made() -> dict[object, tuple[Any, bytes]]:
    """Runs that were made again already, by what their sheets say."""
    return {}


@pytest.fixture
def nearby(
    monkeypatch: pytest.MonkeyPatch, runs_made: dict[object, tuple[Any, bytes]]
) -> Callable[[Path, Path], Again]:
    """Make a file's run again and compare them here, where no other process need be waited for.

    Most faults leave the sheet inside as it was: of files that say the same the run is made once.
    """
    make = remaking._Remaking.write

    def made_once(run: Any, target: Path) -> Any:
        says = run.sheet.model_dump_json(), run.overridden
        asked = run.folder, run.catalog.fingerprint, run.file.name, *says
        if asked not in runs_made:
            runs_made[asked] = make(run, target), target.read_bytes()
        made, data = runs_made[asked]
        target.write_bytes(data)
        return made

    monkeypatch.setattr(remaking._Remaking, "write", made_once)
    answers: dict[str, Callable[..., Any]] = {
        "origin": compare.origin_of, "compare": compare.differences_of,
        "twice": compare.drawing_differences_of,
    }  # fmt: skip
    monkeypatch.setattr(
        worker, "_asked", lambda kind, *asked: answers[kind](lambda _: None, *asked)
    )
    return lambda folder, file: make_again(folder, file, None)


@pytest.mark.parametrize("fault", FAULTS, ids=[f"{fault[0]}-{fault[1]}" for fault in FAULTS])
def test_each_fault_is_told_where_it_is(
    fault: Fault, good: dict[str, Any], tmp_path: Path, nearby: Callable[[Path, Path], Again],
    told: Callable[..., None], sheet_of: Callable[[pikepdf.Pdf], Any],
) -> None:  # fmt: skip
    name, rule, base, where, damage = fault
    file = tmp_path / "damaged.pdf"
    with pikepdf.open(good[base].pdf) as pdf:
        sheet = sheet_of(pdf)
        spots = sheet.claims["pages"][0]["places"]
        damage(Page(sheet))
        sheet.save(file)
    again = nearby(good[base].folder, file)
    there = [each for each in again.findings if each.rule == rule]
    assert there, f"{rule} not found; instead:\n{again}"
    told(name, rule, Report(file.name, again.findings), where, file, good[base].folder)
    _is_at(there, where, sheet, spots)


def _is_at(found: list[Finding], where: str, sheet: Any, spots: list[Any]) -> None:
    places = [each.place for each in found]
    if where == FILE:
        assert any(not each.piece for each in places), places
    elif where == "box":
        assert any(each.box and overlaps(each.box, (40, 52, 90, 72)) for each in places), places
    elif where in (WHOLE, "1"):
        assert any(each.page is not None for each in places), places
    else:
        sku, _, page = where.partition("@")
        mine = [each for each in places if each.piece == sku]
        assert mine, places
        assert not page or {each.page for each in mine} == {int(page)}
        cells = {str(spot[5]): spot for spot in spots}
        for each in mine:
            spot, box = cells[each.cell], each.box
            wide, high = sheet.claims["pieces"][spot[0]]["size"]
            around = spot[1] - 9, spot[2] - 9, spot[1] + wide + 9, spot[2] + high + 9
            assert sheet.claims["pieces"][spot[0]]["sku"] == sku
            assert box
            assert around[0] < box[0] < box[2] < around[2]
            assert around[1] < box[1] < box[3] < around[3]


@pytest.mark.parametrize("differences", [0, 250])
def test_no_other_catalog_and_no_number_of_differences_excuses_a_script(
    differences: int, good: dict[str, Any], tmp_path: Path,
    nearby: Callable[[Path, Path], Again], sheet_of: Callable[[pikepdf.Pdf], Any],
) -> None:  # fmt: skip
    with pikepdf.open(good["strip"].pdf) as pdf:
        page = Page(sheet_of(pdf))
        page.run_sheet(lambda record: record["run"].__setitem__("catalog", "f" * 64))
        scripted(page, "open")
        for at in range(differences):
            pdf.pages[0].obj[f"/Xtra{at}"] = at
        page.sheet.save(tmp_path / "forged.pdf")
    again = nearby(good["strip"].folder, tmp_path / "forged.pdf")
    assert "changed since" in again.said
    assert Grade.STOP in {each.grade for each in again.findings if each.rule == "again-script"}


def test_a_run_sheet_of_endless_sheets_is_not_made_again(
    good: dict[str, Any], tmp_path: Path, nearby: Callable[[Path, Path], Again],
    sheet_of: Callable[[pikepdf.Pdf], Any],
) -> None:  # fmt: skip
    def endless(record: dict[str, Any]) -> None:
        record["pages"][-1]["numbers"] = [[999_999, 999_999, 1]]

    with pikepdf.open(good["strip"].pdf) as pdf:
        page = Page(sheet_of(pdf))
        page.run_sheet(endless)
        page.sheet.save(tmp_path / "endless.pdf")
    again = nearby(good["strip"].folder, tmp_path / "endless.pdf")
    assert "more sheets than any run" in again.open_point


def test_these_are_many_kinds() -> None:
    assert len({fault[0] for fault in FAULTS}) == len(FAULTS) >= 70


# ------------------------------------------------------------------------- files without a fault


def saved_otherwise(file: Path, out: Path) -> Iterator[Path]:
    """Yield the same file saved by another program in three ways: packed, plain and linear."""
    ways: dict[str, dict[str, Any]] = {
        "packed": {"object_stream_mode": pikepdf.ObjectStreamMode.generate,
                   "recompress_flate": True},
        "plain": {"qdf": True, "stream_decode_level": pikepdf.StreamDecodeLevel.generalized},
        "linear": {"linearize": True},
        "normal": {"normalize_content": True},
    }  # fmt: skip
    for name, how in ways.items():
        with pikepdf.open(file) as pdf:
            pdf.save(out / f"{name}.pdf", **how)
        yield out / f"{name}.pdf"


@pytest.mark.parametrize("base", ["strip", "header", "dots", "witness", "many", "photo"])
@pytest.mark.daily("strip", "dots")
def test_a_file_that_another_program_saved_differs_in_nothing(
    base: str, good: dict[str, Any], tmp_path: Path, nearby: Callable[[Path, Path], Again]
) -> None:
    for file in saved_otherwise(good[base].pdf, tmp_path):
        again = nearby(good[base].folder, file)
        assert not again.findings, f"{file.name}: {again.findings[0]}"
        assert again.said.startswith("every object")


@pytest.mark.parametrize("base", ["strip", "header", "dots", "witness", "many", "photo"])
@pytest.mark.daily("strip", "dots")
def test_a_file_that_nobody_touched_is_what_the_run_gives_byte_for_byte(
    base: str, good: dict[str, Any], nearby: Callable[[Path, Path], Again]
) -> None:
    again = nearby(good[base].folder, good[base].pdf)
    assert not again.findings
    assert again.said == "byte for byte what the run made again from the catalog gives"


@pytest.mark.parametrize("base", ["strip", "photo"])
def test_a_file_that_was_merely_saved_again_is_noted_and_no_more(
    base: str, good: dict[str, Any], workshop: Any, tmp_path: Path,
    nearby: Callable[[Path, Path], Again],
) -> None:  # fmt: skip
    """By qpdf in its ways, by a program that rewrites all and names itself, and with a new date."""
    with pikepdf.open(good[base].pdf) as pdf:
        pdf.docinfo["/ModDate"] = "D:20261128120000Z"
        pdf.save(tmp_path / "dated.pdf")
    writer = PdfWriter(clone_from=good[base].pdf)
    writer.write(tmp_path / "rewritten.pdf")
    files = [*saved_otherwise(good[base].pdf, tmp_path), *tmp_path.glob("*t*e*.pdf")]
    assert len(files) >= 6
    for file in files:
        report = check_file(good[base].folder, file, lambda *of: nearby(*of[:2]), workshop.day)
        graver = [each for each in report.findings if each.grade is not Grade.NOTE]
        assert not graver, f"{file.name}: {graver[0]}"
        (edited,) = [each for each in report.findings if each.rule == "file-edited"]
        assert "nothing that it shows or does differs" in edited.message


@pytest.mark.parametrize("change", ["a script", "no run to compare with"])
def test_a_file_that_was_saved_again_with_anything_else_in_it_is_to_look_at(
    change: str, good: dict[str, Any], workshop: Any, tmp_path: Path,
    nearby: Callable[[Path, Path], Again],
) -> None:  # fmt: skip
    with pikepdf.open(good["strip"].pdf) as pdf:
        pdf.Root.Lang = String("fr")
        pdf.save(tmp_path / "edited.pdf")

    def again(*of: Any) -> Again:
        return nearby(*of[:2]) if change == "a script" else Again(open_point="not compared")

    report = check_file(good["strip"].folder, tmp_path / "edited.pdf", again, workshop.day)
    (edited,) = [each for each in report.findings if each.rule == "file-edited"]
    assert edited.grade is Grade.FIX


def with_a_leftover(file: Path, out: Path, generation: int) -> Path:
    """Write a file with an object that nothing leads to, of the first or a later generation."""
    with pikepdf.open(file) as pdf:
        pdf.Root["/Zzzz"] = pdf.make_indirect(Dictionary(Note=String("35 % off for shops")))
        pdf.save(out, object_stream_mode=pikepdf.ObjectStreamMode.disable)
    data = out.read_bytes()
    (link,) = re.findall(rb"/Zzzz (\d+) 0 R", data)
    data = data.replace(b"/Zzzz %b 0 R" % link, b" " * len(b"/Zzzz  0 R" + link))
    begin = data.index(b"\n%b 0 obj" % link) + 1
    row = b"%010d 00000 n" % begin
    assert data.count(row) == 1
    data = data.replace(row, b"%010d %05d n" % (begin, generation))
    head = b"%b %d obj" % (link, generation)
    out.write_bytes(data[:begin] + head + data[begin + len(head) :])
    return out


@pytest.mark.parametrize("generation", [0, 1, 7])
def test_what_nothing_leads_to_is_told_whatever_its_generation(
    generation: int, good: dict[str, Any], tmp_path: Path, nearby: Callable[[Path, Path], Again]
) -> None:
    file = with_a_leftover(good["strip"].pdf, tmp_path / "more.pdf", generation)
    again = nearby(good["strip"].folder, file)
    assert [(each.rule, each.found) for each in again.findings] == [("again-left-over", "1 object")]


@pytest.mark.parametrize("said", [b"%/Linearized 1\n", b"% <</Linearized 1/L 99>>\n"])
def test_no_comment_excuses_an_earlier_state_of_a_file(
    said: bytes, good: dict[str, Any], tmp_path: Path, nearby: Callable[[Path, Path], Again]
) -> None:
    with pikepdf.open(good["strip"].pdf) as pdf:
        pdf.save(tmp_path / "plain.pdf", object_stream_mode=pikepdf.ObjectStreamMode.disable)
    data = (tmp_path / "plain.pdf").read_bytes()
    head, rest = data.split(b"\n", 1)
    moved = re.sub(
        rb"(\d{10})( \d{5} n)", lambda m: b"%010d" % (int(m[1]) + len(said)) + m[2], rest
    )
    at = int(re.findall(rb"startxref\n(\d+)", moved)[0])
    moved = moved.replace(b"startxref\n%d" % at, b"startxref\n%d" % (at + len(said)))
    (tmp_path / "said.pdf").write_bytes(head + b"\n" + said + moved)
    assert not nearby(good["strip"].folder, tmp_path / "said.pdf").findings
    writer = PdfWriter(tmp_path / "said.pdf", incremental=True)
    writer.add_metadata({"/ModDate": "D:20261128"})
    writer.write(tmp_path / "later.pdf")
    again = nearby(good["strip"].folder, tmp_path / "later.pdf")
    left = [each.found for each in again.findings if each.rule == "again-left-over"]
    assert left, again
    assert "earlier state" in left[0]


def test_a_grain_below_the_tolerance_is_nothing_and_one_above_is(
    good: dict[str, Any], nearby: Callable[[Path, Path], Again], tmp_path: Path,
    sheet_of: Callable[[pikepdf.Pdf], Any],
) -> None:  # fmt: skip
    """Four of 255 levels are too few for any printer to show; the rule names the number."""
    for levels, rules in ((3, {"again-drawing"}), (6, {"again-looks"})):
        with pikepdf.open(good["strip"].pdf) as pdf:
            sheet = sheet_of(pdf)
            sheet.under(SBR, f"{1 - levels / 255:.5f} g 3 3 20 5 re f")
            file = sheet.save(tmp_path / f"{levels}.pdf")
        again = nearby(good["strip"].folder, file)
        assert {each.rule for each in again.findings} == rules


def test_what_no_reading_tells_and_what_was_compared_is_said_at_the_end(
    good: dict[str, Any], workshop: Any, tmp_path: Path
) -> None:
    text = check_file(good["strip"].folder, good["strip"].pdf, make_again, workshop.day).as_text(
        200
    )
    for said in ("Compared: byte for byte", "paper lies in the printer", "other than PDFium",
                 "what pictures and figures show"):  # fmt: skip
        assert said in text
    with pikepdf.open(good["strip"].pdf) as pdf:
        del pdf.attachments["run-sheet.json"]
        pdf.save(tmp_path / "bare.pdf")
    bare = check_file(good["strip"].folder, tmp_path / "bare.pdf", make_again, workshop.day)
    assert not bare.made_again
    assert bare.stops
    assert "not one page could be looked at" in bare.not_checked[0]


# ----------------------------------------------------------------------------
# What PDFium and poppler draw otherwise.


def only_on_paper(page: Page) -> str:
    """Lay on what its layer's usage shows in print alone."""
    usage = Dictionary(Print=Dictionary(PrintState=Name.ON), View=Dictionary(ViewState=Name.OFF))
    layer = page.pdf.make_indirect(Dictionary(Type=Name.OCG, Name=String("a"), Usage=usage))
    viewed = Dictionary(Event=Name.View, Category=Array([Name.View]), OCGs=Array([layer]))
    states = Dictionary(ON=Array([layer]), AS=Array([viewed]))
    root(page, OCProperties=Dictionary(OCGs=Array([layer]), D=states))
    page.first.Resources.Properties = Dictionary(M1=layer)
    return "/OC /M1 BDC 0 g 5 5 60 30 re f EMC"


def words_that_a_viewer_sets(page: Page) -> str:
    note = Dictionary(
        Type=Name.Annot, Subtype=Name.FreeText, Rect=Array([20, 720, 120, 750]), F=4,
        DA=String("/Helv 24 Tf 0 g"), Contents=String("12.00 USD"),
    )  # fmt: skip
    page.first.Annots = Array([page.pdf.make_indirect(note)])
    return ""


def a_picture_cut_short(page: Page) -> str:
    picture = page.pdf.make_stream(
        bytes(30), Type=Name.XObject, Subtype=Name.Image, Width=10, Height=10,
        ColorSpace=Name.DeviceGray, BitsPerComponent=8,
    )  # fmt: skip
    page.first.Resources.XObject = Dictionary(I9=picture)
    return "60 0 0 30 5 5 cm /I9 Do"


def fonts_of_nothing(page: Page) -> str:
    for font in page.first.Resources.Font.values():
        font.FontDescriptor.FontFile2.write(b"")
    return ""


TWICE = (only_on_paper, words_that_a_viewer_sets, a_picture_cut_short, fonts_of_nothing)


@pytest.mark.daily("only_on_paper")
@pytest.mark.skipif(not shutil.which("pdftoppm"), reason="poppler is not installed: nothing drawn")
@pytest.mark.parametrize("change", TWICE, ids=lambda change: str(change.__name__))
def test_what_two_programs_draw_otherwise_is_told_on_its_piece(
    change: Callable[[Page], str], good: dict[str, Any], tmp_path: Path,
    sheet_of: Callable[[pikepdf.Pdf], Any],
) -> None:  # fmt: skip
    with pikepdf.open(good["strip"].pdf) as pdf:
        sheet = sheet_of(pdf)
        if operators := change(Page(sheet)):
            sheet.over(SBR, operators)
        file = sheet.save(tmp_path / "twice.pdf")
    found, still_open = worker.drawing_differences(file)
    assert {each.rule for each in found} == {"drawn-otherwise"}
    assert SBR in {each.place.piece for each in found}
    assert "other than PDFium and poppler" in still_open


def test_without_a_second_program_or_time_for_it_the_report_says_so(
    good: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """And finds nothing, since a busy machine is no fault of a file."""
    monkeypatch.setattr(
        compare, "limit", lambda name: 0.0 if name == "second-seconds" else limit(name)
    )
    for tool, said in (("/bin/cat", "or not in time, of page 1"), (None, "none is installed")):
        monkeypatch.setattr(shutil, "which", lambda name, tool=tool: tool)
        found, still_open = compare.drawing_differences_of(lambda count: None, good["strip"].pdf)
        assert not found
        assert said in still_open


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda r: r["pieces"][0].__setitem__("layout", "../../catalog"), "'../../catalog'"),
        (lambda r: r["run"].__setitem__("sheet", "../sheets"), "sheet"),
        (lambda r: r["run"].__setitem__("use", "bombs"), "use"),
        (lambda r: r["run"].__setitem__("dpi", 10**9), "dpi"),
        (lambda r: r["run"].pop("ink"), "in which ink"),
    ],
)
@pytest.mark.daily
def test_a_run_sheet_steers_nothing_and_what_was_not_compared_is_said(
    change: Callable[[dict[str, Any]], Any], why: str, good: dict[str, Any], tmp_path: Path,
    nearby: Callable[[Path, Path], Again], sheet_of: Callable[[pikepdf.Pdf], Any],
) -> None:  # fmt: skip
    with pikepdf.open(good["strip"].pdf) as pdf:
        sheet = sheet_of(pdf)
        Page(sheet).run_sheet(change)
        file = sheet.save(tmp_path / "forged.pdf")
    again = nearby(good["strip"].folder, file)
    assert not again.said
    assert why in again.open_point, again.open_point


@pytest.mark.daily
def test_a_sheet_that_calls_itself_a_preview_is_no_print(
    good: dict[str, Any], tmp_path: Path, sheet_of: Callable[[pikepdf.Pdf], Any]
) -> None:
    with pikepdf.open(good["strip"].pdf) as pdf:
        sheet = sheet_of(pdf)
        Page(sheet).run_sheet(lambda record: record["run"].__setitem__("preview", True))
        file = sheet.save(tmp_path / "preview.pdf")
    report = worker.check_pdf(file, good["strip"].folder)
    assert [each.rule for each in report.findings if each.grade is Grade.STOP] == ["preview"]


@pytest.mark.siege
@pytest.mark.parametrize(
    ("sheet", "ink"),
    [(sheet, ("colour", "black")[at // 4 % 2]) for at, sheet in enumerate(sorted(all_sheets()))][
        ::4
    ],
)
def test_on_sheets_of_every_kind_in_every_layout_nothing_differs(
    sheet: str, ink: str, good: dict[str, Any], workshop: Any, tmp_path: Path,
    nearby: Callable[[Path, Path], Again],
) -> None:  # fmt: skip
    folder = good["strip"].folder
    printed = []
    for spec in read_index(folder).values():
        file = tmp_path / f"{spec.name}.pdf"
        how = {"use": spec.use, "sheet": sheet, "layout": spec.name, "ink": ink, "count": 2}
        with contextlib.suppress(LabelerError):  # a layout that this sheet's cells can't hold
            workshop.printed(folder, file, skus=(SBR,), start=1, **how)
            printed.append(file)
    if not printed:
        pytest.skip(f"no layout of ours holds {SBR} in the cells of {sheet}")
    for file in printed:
        assert nearby(folder, file).said.startswith("byte for byte what")
    *_, saved = saved_otherwise(printed[0], tmp_path)
    assert not nearby(folder, saved).findings
