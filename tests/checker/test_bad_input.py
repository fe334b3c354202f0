"""Files that are no good get one clear finding, within bounded time and memory: never a hang."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import os
import re
import resource
import struct
import time
import zlib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from labeler.app.book import BookRequest, make_catalog_book
from labeler.checker import process, worker
from labeler.checker.judge import check_bytes, check_own, check_pdf
from labeler.checker.pdf import file as pdf_file
from labeler.checker.pdf.file import limit, untouched
from labeler.checker.report import Report
from labeler.checker.subject import CheckRequest
from labeler.cli.group import run
from labeler.findings import Grade

SLOWEST = 600.0
"""Seconds. Far above what any of these takes on a busy machine; a reader that hangs never ends."""

MOST_GROWTH = 600 * 1024
"""Kilobytes by which this process may grow while another reads a hostile file."""


def raw_pdf(objects: dict[int, bytes], root: int = 1) -> bytes:
    """Return a PDF of these objects, with a sound table of cross-references."""
    out = bytearray(b"%PDF-1.7\n")
    places = {}
    for number, body in objects.items():
        places[number] = len(out)
        out += b"%d 0 obj\n%b\nendobj\n" % (number, body)
    begin, size = len(out), max(objects) + 1
    out += b"xref\n0 %d\n0000000000 65535 f \n" % size
    for number in range(1, size):
        state = b"n" if number in places else b"f"
        out += b"%010d 00000 %b \n" % (places.get(number, 0), state)
    out += b"trailer\n<</Size %d/Root %d 0 R>>\nstartxref\n%d\n%%%%EOF\n" % (size, root, begin)
    return bytes(out)


def stream(data: bytes, entries: bytes = b"", packed: bool = False) -> bytes:
    body = data if packed else zlib.compress(data)
    head = b"<<%b/Filter/FlateDecode/Length %d>>" % (entries, len(body))
    return head + b"\nstream\n" + body + b"\nendstream"


SHEET = (
    b'{"form":1,"run":{"use":"bags","day":"2026-11-25","catalog":"","dpi":null},'
    b'"correction":{"front":[1,0,0,1,0,0],"back":[1,0,0,1,0,0]},"pieces":[{"sku":'
    b'"RM-14-30-SBR","lot":"","size":[189,72],"bleed":0,"safe":4.5,"markets":["US"],"holes":[]}'
    b'],"pages":[{"numbers":[[1,1,1]],"places":[[0,13.5,36,0,"front",1]]}]}'
)
PLACE = b'[0,13.5,36,0,"front",1]'
MANY_PLACES = SHEET.replace(b"[[1,1,1]]", b"[[1,100000,1]]").replace(
    PLACE, b",".join([PLACE] * 10_000)
)


def one_page(
    content: bytes,
    box: bytes = b"[0 0 612 792]",
    more: dict[int, bytes] | None = None,
    sheet: bytes = SHEET,
) -> bytes:
    """Return a PDF of one page, its run sheet attached so that the page is really read."""
    objects = {
        1: b"<</Type/Catalog/Pages 2 0 R/Names<</EmbeddedFiles 8 0 R>>>>",
        8: b"<</Names[(run-sheet.json) 6 0 R]>>",
        2: b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
        3: b"<</Type/Page/Parent 2 0 R/Contents 4 0 R/Resources 5 0 R/MediaBox%b>>" % box,
        4: content,
        5: b"<<>>",
        6: b"<</Type/Filespec/F(run-sheet.json)/UF(run-sheet.json)/EF<</F 7 0 R>>>>",
        7: stream(sheet, b"/Type/EmbeddedFile"),
    }
    return raw_pdf(objects | (more or {}))


@cache
def bomb(size: int) -> bytes:
    """Return deflated spaces that inflate to ``size`` bytes: one megabyte over and over.

    Source of the sum at the end: RFC 1950, 8.2 (Adler-32).
    """
    packer = zlib.compressobj()
    head = packer.flush(zlib.Z_FULL_FLUSH)
    megabyte = packer.compress(b" " * (1 << 20)) + packer.flush(zlib.Z_FULL_FLUSH)
    end = packer.flush()[:-4]
    low, high = (1 + 32 * size) % 65_521, (size + 16 * size * (size + 1)) % 65_521
    return head + megabyte * (size >> 20) + end + struct.pack(">HH", high, low)


def deep_tree(depth: int) -> bytes:
    objects = {1: b"<</Type/Catalog/Pages 2 0 R>>"}
    for number in range(2, depth + 2):
        objects[number] = b"<</Type/Pages/Count 1/Kids[%d 0 R]>>" % (number + 1)
    objects[depth + 2] = b"<</Type/Page/MediaBox[0 0 612 792]>>"
    return raw_pdf(objects)


def loop_tree() -> bytes:
    return raw_pdf({
        1: b"<</Type/Catalog/Pages 2 0 R>>",
        2: b"<</Type/Pages/Count 2/Kids[3 0 R 2 0 R]>>",
        3: b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 612 792]>>",
    })  # fmt: skip


def self_reference() -> bytes:
    return raw_pdf({1: b"2 0 R", 2: b"3 0 R", 3: b"1 0 R"})


def previous_loop() -> bytes:
    good = raw_pdf({1: b"<</Type/Catalog/Pages 2 0 R>>", 2: b"<</Type/Pages/Kids[]/Count 0>>"})
    begin = good.rindex(b"xref\n0")
    return good.replace(b"/Root 1 0 R", b"/Root 1 0 R/Prev %d" % begin)


def forms_in_forms(doubling: bool) -> bytes:
    """Return forms that each draw the next one twice, or a form that draws itself."""
    more = {}
    count = 40 if doubling else 1
    for number in range(count):
        following = 10 + (number + 1) % count
        resources = (
            b"/Type/XObject/Subtype/Form/BBox[0 0 612 792]/Resources<</XObject<</N %d 0 R>>>>"
        )
        more[10 + number] = stream(b"/N Do /N Do", resources % following)
    more[5] = b"<</XObject<</N 10 0 R>>>>"
    return one_page(stream(b"/N Do"), more=more)


def nested_groups() -> bytes:
    """Return transparency groups in each other, each as large as the page."""
    more = {5: b"<</XObject<</N 10 0 R>>>>"}
    for number in range(10, 400):
        entries = (
            b"/Type/XObject/Subtype/Form/BBox[0 0 612 792]/Group<</S/Transparency/I true>>"
            b"/Resources<</XObject<</N %d 0 R>>>>" % (number + 1)
        )
        more[number] = stream(b"/N Do", entries)
    more[400] = stream(b"0 0 9 9 re f", b"/Type/XObject/Subtype/Form/BBox[0 0 612 792]")
    return one_page(stream(b"/N Do"), more=more)


def huge_picture() -> bytes:
    entries = (
        b"/Type/XObject/Subtype/Image/Width 60000/Height 60000/BitsPerComponent 8"
        b"/ColorSpace/DeviceGray"
    )
    more = {5: b"<</XObject<</I 10 0 R>>>>", 10: stream(bomb(64 << 20), entries, packed=True)}
    return one_page(stream(b"q 100 0 0 100 20 700 cm /I Do Q"), more=more)


def many_pages(count: int) -> bytes:
    objects = {1: b"<</Type/Catalog/Pages 2 0 R>>"}
    kids = b" ".join(b"%d 0 R" % number for number in range(3, count + 3))
    objects[2] = b"<</Type/Pages/Count %d/Kids[%b]>>" % (count, kids)
    for number in range(3, count + 3):
        objects[number] = b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 612 792]>>"
    return raw_pdf(objects)


def xfa() -> bytes:
    return raw_pdf({
        1: b"<</Type/Catalog/Pages 2 0 R/AcroForm<</XFA 4 0 R/Fields[]>>>>",
        2: b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
        3: b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 612 792]>>",
        4: stream(b"<xdp/>"),
    })  # fmt: skip


def image_only() -> bytes:
    entries = (
        b"/Type/XObject/Subtype/Image/Width 8/Height 8/BitsPerComponent 8/ColorSpace/DeviceGray"
    )
    more = {5: b"<</XObject<</I 10 0 R>>>>", 10: stream(bytes(range(64)), entries)}
    return one_page(stream(b"q 180 0 0 60 15 690 cm /I Do Q"), more=more)


def picture(entries: bytes, data: bytes, packed: bool = True) -> bytes:
    """Return a page with one picture, whose data some filter has packed."""
    body = b"<</Type/XObject/Subtype/Image%b/Length %d>>\nstream\n%b\nendstream" % (
        entries, len(data), data
    )  # fmt: skip
    more = {5: b"<</XObject<</I 10 0 R>>>>", 10: body if packed else stream(data, entries)}
    return one_page(stream(b"q 100 0 0 100 20 600 cm /I Do Q"), more=more)


def font(program: bytes, entries: bytes = b"") -> bytes:
    """Return a page with a line in a TrueType font, whose program is given."""
    more = {
        5: b"<</Font<</F1 10 0 R>>>>",
        10: b"<</Type/Font/Subtype/TrueType/BaseFont/Odd/FirstChar 32/LastChar 33/Widths[500 500]"
            b"/FontDescriptor 11 0 R%b>>" % entries,
        11: b"<</Type/FontDescriptor/FontName/Odd/Flags 4/FontBBox[0 0 1 1]/ItalicAngle 0/Ascent 1"
            b"/Descent 0/CapHeight 1/StemV 1/FontFile2 12 0 R>>",
        12: stream(program),
        13: stream(bomb(512 << 20), packed=True),
    }  # fmt: skip
    return one_page(stream(FONTLESS), more=more)


def with_root(entries: bytes, more: dict[int, bytes]) -> bytes:
    """Return a file with more in its catalog."""
    root = b"<</Type/Catalog/Pages 2 0 R/Names<</EmbeddedFiles 8 0 R>>%b>>" % entries
    return one_page(stream(b""), more={1: root} | more)


def object_streams(inside: bytes) -> bytes:
    """Return a file whose page tree stands in an object stream that says it holds a million."""
    out = bytearray(b"%PDF-1.7\n1 0 obj\n<</Type/Catalog/Pages 2 0 R>>\nendobj\n")
    packed = len(out)
    entries = b"/Type/ObjStm/N 1000000/First 10"
    out += b"3 0 obj\n%b\nendobj\n" % stream(inside, entries, packed=True)
    begin = len(out)
    rows = b"".join(
        kind.to_bytes(1, "big") + place.to_bytes(4, "big") + b"\0"
        for kind, place in ((0, 0), (1, 9), (2, 3), (1, packed), (1, begin))
    )
    out += b"4 0 obj\n%b\nendobj\n" % stream(rows, b"/Type/XRef/Size 5/W[1 4 1]/Root 1 0 R")
    return bytes(out) + b"startxref\n%d\n%%%%EOF\n" % begin


def locked(owner: str, user: str) -> bytes:
    """Return a file that opens with a password, or with none and may not be changed."""
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        out = io.BytesIO()
        pdf.save(out, encryption=pikepdf.Encryption(owner=owner, user=user))
        return out.getvalue()


NESTED = b"[" * 50_000 + b"]" * 50_000
GREY = b"/BitsPerComponent 8/ColorSpace/DeviceGray"
FONTLESS = b"BT /F1 12 Tf 20 700 Td (Contains lead.) Tj ET"
GARBAGE = bytes(range(256)) * 40
PACKED = bomb(64 << 20)
for _ in range(9):
    PACKED = zlib.compress(PACKED)

FILES: dict[str, tuple[str, Callable[[], bytes]]] = {
    "nothing at all": ("file-not-pdf", lambda: b""),
    "a spreadsheet": ("file-not-pdf", lambda: b"PK\x03\x04" + b"\0" * 200),
    "a text": ("file-not-pdf", lambda: b"12 jigs, please\n"),
    "only the first line of a PDF": ("file-truncated", lambda: b"%PDF-1.7\n"),
    "half a PDF": ("file-truncated", lambda: many_pages(9)[:400]),
    "a PDF with a hole in its middle": (
        "file-damaged", lambda: b"%PDF-1.7\n" + GARBAGE + b"\nstartxref\n77\n%%EOF\n",
    ),
    "a locked PDF": ("file-encrypted", lambda: locked("o", "u")),
    "a PDF that only its owner may change": ("file-encrypted", lambda: locked("o", "")),
    "no pages": (
        "file-empty",
        lambda: raw_pdf({1: b"<</Type/Catalog/Pages 2 0 R>>", 2: b"<</Type/Pages/Kids[]>>"}),
    ),
    "no page tree": ("file-empty", lambda: raw_pdf({1: b"<</Type/Catalog>>"})),
    "a page as large as a house": (
        "page-too-large", lambda: one_page(stream(b""), b"[0 0 14400 14400]"),
    ),
    "a page as large as the sky": (
        "page-too-large", lambda: one_page(stream(b""), b"[0 0 999999999 999999999]"),
    ),
    "a page of words": ("piece-empty", lambda: one_page(stream(b""), b"[(a) /b null true]")),
    "a page of endless figures": (
        "file-damaged", lambda: one_page(stream(b""), b"[0 0 %b 9]" % (b"9" * 5000)),
    ),
    "bookmarks in a circle": ("piece-empty", lambda: with_root(b"/Outlines 10 0 R", {
        10: b"<</Type/Outlines/First 11 0 R/Last 11 0 R/Count 9>>",
        11: b"<</Title(a)/Parent 10 0 R/Next 11 0 R/First 11 0 R>>"})),
    "attachments in a circle": ("piece-empty", lambda: with_root(b"", {
        8: b"<</Names[(run-sheet.json) 6 0 R]/Kids[8 0 R 8 0 R]>>"})),
    "lists in lists without end": ("piece-empty", lambda: one_page(stream(NESTED))),
    "an object of lists in lists": (
        "piece-empty", lambda: with_root(b"/Extra 10 0 R", {10: NESTED}),
    ),
    "page labels of lists in lists": (
        "file-damaged", lambda: with_root(b"/PageLabels %b" % NESTED, {}),
    ),
    "an object stream that inflates to half a gigabyte": (
        "file-damaged", lambda: object_streams(bomb(512 << 20)),
    ),
    "an object stream that holds nothing": (
        "file-empty", lambda: object_streams(zlib.compress(b"")),
    ),
    "a list of ten thousand contents": (
        "piece-empty",
        lambda: one_page(b"[%b]" % (b"9 0 R " * 10_000), more={9: stream(b"0 0 1 1 re f ")}),
    ),
    "contents packed ten times": (
        "file-hostile",
        lambda: one_page(b"<</Filter[%b]/Length %d>>\nstream\n%b\nendstream" % (
            b"/FlateDecode" * 10, len(PACKED), PACKED)),
    ),
    "contents in a run of one letter": (
        "file-hostile",
        lambda: one_page(b"<</Filter/RunLengthDecode/Length 9000000>>\nstream\n%b\nendstream" % (
            b"\x81 " * 4_500_000)),
    ),
    "a picture of 10^9 dots, not there": (
        "file-hostile",
        lambda: picture(b"/Width 1000000000/Height 1" + GREY + b"/Filter/FlateDecode",
                               zlib.compress(b"")),
    ),
    "a picture of JBIG2 that is none": (
        "piece-empty",
        lambda: picture(b"/Width 99/Height 99/BitsPerComponent 1/ColorSpace/DeviceGray"
                               b"/Filter/JBIG2Decode", bytes(range(256)) * 9),
    ),
    "a picture of JPEG 2000 that is none": (
        "piece-empty",
        lambda: picture(b"/Width 99/Height 99/Filter/JPXDecode", b"\0\0\0\x0cjP  " + GARBAGE),
    ),
    "a JPEG cut short": (
        "file-hostile", lambda: picture(b"/Width 60000/Height 60000" + GREY + b"/Filter/DCTDecode",
                               b"\xff\xd8\xff\xe0" + GARBAGE),
    ),
    "a fax of endless rows": (
        "file-hostile", lambda: picture(b"/Width 60000/Height 60000/BitsPerComponent 1"
                               b"/ColorSpace/DeviceGray/Filter/CCITTFaxDecode"
                               b"/DecodeParms<</K -1/Columns 60000/Rows 60000>>", bytes(4000)),
    ),
    "a picture with a filter that nobody knows": (
        "piece-empty", lambda: picture(b"/Width 9/Height 9" + GREY + b"/Filter/Magic", bytes(81)),
    ),
    "a mask that masks itself": (
        "piece-empty",
        lambda: picture(b"/Width 9/Height 9/SMask 10 0 R" + GREY, bytes(81), packed=False),
    ),
    "a font of garbage": ("font-damaged", lambda: font(GARBAGE)),
    "a font without tables": ("font-damaged", lambda: font(b"\0\1\0\0\0\0\0\0\0\0\0\0")),
    "a font of tables that lie outside it": (
        "piece-empty", lambda: font(b"\0\1\0\0\0\3\0\0\0\0\0\0" + b"".join(
            tag + bytes(4) + b"\xff\xff\xff\0" * 2 for tag in (b"glyf", b"head", b"loca"))),
    ),
    "a font that inflates to half a gigabyte": (
        "file-hostile", lambda: font(b"").replace(b"/FontFile2 12 0 R", b"/FontFile2 13 0 R"),
    ),
    "letters that inflate to half a gigabyte": (
        "file-hostile", lambda: font(GARBAGE, b"/ToUnicode 13 0 R"),
    ),
    "widths of words": (
        "font-damaged", lambda: font(GARBAGE, b"/Widths[(a) /b [] <<>>]/FirstChar(a)"),
    ),
    "a stream of a length that is its own": (
        "file-hostile", lambda: one_page(b"<</Length 4 0 R>>\nstream\n0 0 1 1 re f\nendstream"),
    ),
    "a page of no size": ("piece-empty", lambda: one_page(stream(b""), b"[0 0 0 0]")),
    "type without a font": ("piece-empty", lambda: one_page(stream(FONTLESS))),
    "a page that is one picture": ("piece-empty", image_only),
    "garbage for operators": ("piece-empty", lambda: one_page(stream(GARBAGE))),
    "a form that another program fills": ("file-form", xfa),
    "a PDF from elsewhere": ("run-sheet-missing", lambda: many_pages(2)),
    "five thousand pages from elsewhere": ("run-sheet-missing", lambda: many_pages(5000)),
    "twenty thousand pages": ("file-too-large", lambda: many_pages(20000)),
    "a page tree a thousand deep": ("file-damaged", lambda: deep_tree(1000)),
    "a page tree that bites its tail": ("file-damaged", loop_tree),
    "references in a circle": ("file-damaged", self_reference),
    "cross-references in a circle": ("file-empty", previous_loop),
    "operators that inflate to a gigabyte": (
        "file-hostile", lambda: one_page(stream(bomb(1 << 30), packed=True)),
    ),
    "a run sheet that inflates to a gigabyte": (
        "file-hostile",
        lambda: one_page(stream(b""), more={7: stream(bomb(1 << 30), packed=True)}),
    ),
    "a run sheet that is none": (
        "run-sheet-unread", lambda: one_page(stream(b""), more={7: stream(b"[1, 2")}),
    ),
    "a run sheet of another form": (
        "run-sheet-unread", lambda: one_page(stream(b""), more={7: stream(b'{"form": 99}')}),
    ),
    "a run sheet nested a thousand deep": (
        "run-sheet-unread",
        lambda: one_page(stream(b""), more={7: stream(b"[" * 100_000 + b"]" * 100_000)}),
    ),
    "a run sheet of a thousand million places": (
        "file-hostile",
        lambda: one_page(stream(b""), sheet=MANY_PLACES),
    ),
    "forms that double forty times": ("file-hostile", lambda: forms_in_forms(doubling=True)),
    "a form that draws itself": ("file-hostile", lambda: forms_in_forms(doubling=False)),
    "four hundred groups in each other": ("file-hostile", nested_groups),
    "a picture of 3.6 thousand million dots": ("file-hostile", huge_picture),
    "a million saved states": ("file-hostile", lambda: one_page(stream(b"q " * 1_000_000))),
    "three million operators": (
        "file-hostile", lambda: one_page(stream(b"0 0 1 1 re f " * 510_000)),
    ),
}  # fmt: skip


@pytest.fixture
def checked(tmp_path: Path, bases: dict[str, Any]) -> Callable[[bytes], Report]:
    """Write bytes to a file and check it, against the clock and the memory of this process."""

    def check(data: bytes) -> Report:
        file = tmp_path / "strange.pdf"
        file.write_bytes(data)
        del data
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        begin = time.monotonic()
        report = check_pdf(file, bases["strip"].folder)
        assert time.monotonic() - begin < SLOWEST
        assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < MOST_GROWTH
        return report

    return check


@pytest.mark.daily(
    "nothing at all",
    "half a PDF",
    "a locked PDF",
    "garbage for operators",
    "references in a circle",
    "a run sheet of another form",
    "forms that double forty times",
    "four hundred groups in each other",
    "a PDF from elsewhere",
)
@pytest.mark.parametrize("name", list(FILES))
def test_a_bad_file_gets_a_finding_and_not_a_traceback(
    name: str, checked: Callable[[bytes], Report]
) -> None:
    rule, make = FILES[name]
    report = checked(make())
    assert rule in {each.rule for each in report.findings}, report.as_text()
    assert report.stops
    text = report.as_text()
    assert not _PROGRAMMERS.search(text), text


_PROGRAMMERS = re.compile(
    r"Traceback|\b\w+(Error|Exception|Object)\b|0x[0-9a-f]{4}|bytes remaining"
)
"""What a library says to programmers."""


@pytest.mark.parametrize("left", [0, 400, 4000])
def test_a_font_cut_short_is_told_and_breaks_no_rule(left: int, bases: Any, tmp_path: Path) -> None:
    """Its letters read as nothing, so that a line has none; that is no fault of a rule."""
    with pikepdf.open(bases["strip"].pdf) as pdf:
        for each in pdf.pages[0].Resources.Font.values():
            kept = each.get("/FontDescriptor") or each.DescendantFonts[0].FontDescriptor
            kept.FontFile2.write(kept.FontFile2.read_bytes()[:left])
        pdf.save(tmp_path / "cut.pdf")
    asked = CheckRequest(tmp_path / "cut.pdf", bases["strip"].folder, dt.date(2026, 11, 25))
    report = check_bytes(asked.path.read_bytes(), asked, None, None, trusted=False)
    told = {each.rule for each in report.findings if each.grade is Grade.STOP}
    assert ("statement-missing" if left else "font-damaged") in told, report.as_text()
    assert "checker-failed" not in told


def test_what_is_no_file_is_told_and_not_waited_for(
    tmp_path: Path, bases: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the checker as a sentence, by the command with the status of wrong input."""
    monkeypatch.chdir(tmp_path)
    os.mkfifo("pipe.pdf")
    Path("loop.pdf").symlink_to("pool.pdf")
    Path("pool.pdf").symlink_to("loop.pdf")
    for name in ("none.pdf", ".", "pipe.pdf", "loop.pdf", "/dev/zero", "a" * 300):
        report = check_pdf(Path(name), bases["strip"].folder)
        assert [each.rule for each in report.findings] == ["file-unread"]
        assert run(["--catalog", str(bases["strip"].folder), "check", name]) == 2


def test_a_catalog_with_an_error_stops_the_check(tmp_path: Path, bases: Any) -> None:
    (tmp_path / "catalog.toml").write_text("[maker]\nname = 3\n")
    report = check_pdf(bases["strip"].pdf, tmp_path)
    assert report.stops
    assert any("catalog.toml" in each.place.file for each in report.findings)


@pytest.mark.parametrize("cut", [0.2, 0.5, 0.8, 0.97])
def test_a_good_file_cut_short_is_told(cut: float, checked: Any, bases: Any) -> None:
    data = bases["strip"].pdf.read_bytes()
    report = checked(data[: int(len(data) * cut)])
    assert [each.rule for each in report.findings] == ["file-truncated"]


@pytest.mark.siege
def test_the_reader_that_uses_up_its_processor_time_is_ended(
    checked: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With no time at all to read in, the worker is ended by the system, and the report says so."""
    process.dismiss()
    monkeypatch.setattr(pdf_file, "limit", lambda name: 0.0 if "seconds" in name else limit(name))
    (one,) = checked(one_page(stream(b"0 0 1 1 re f " * 900_000))).findings
    assert (one.rule, one.found) == ("file-hostile", "it takes too long to read")
    monkeypatch.undo()
    assert "run-sheet-missing" in {each.rule for each in checked(many_pages(2)).findings}


@pytest.mark.siege
def test_the_reader_that_takes_too_much_memory_is_ended(
    checked: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    process.dismiss()
    monkeypatch.setattr(pdf_file, "limit", lambda name: 1e6 if "memory" in name else limit(name))
    assert {each.rule for each in checked(many_pages(2)).findings} <= {
        "file-hostile", "file-damaged",
    }  # fmt: skip


@pytest.mark.siege
def test_the_reader_that_dies_is_replaced(checked: Any) -> None:
    checked(many_pages(2))
    (kept,) = process._spare
    kept._process.kill()
    kept._process.wait()
    assert "run-sheet-missing" in {each.rule for each in checked(many_pages(2)).findings}


def test_what_comes_back_from_the_reader_can_do_nothing() -> None:
    """A pickle that names anything but an answer's own classes is refused."""
    import io
    import pickle

    class Evil:
        def __reduce__(self) -> tuple[Any, ...]:
            return print, ("done",)

    with pytest.raises(pickle.UnpicklingError, match="no part of an answer"):
        process._Unpickler(io.BytesIO(pickle.dumps(Evil()))).load()


def test_a_file_that_was_written_a_moment_ago_is_read_in_this_process(
    bases: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*given: Any) -> Report:
        raise AssertionError("another process was asked")

    monkeypatch.setattr("labeler.checker.worker.check", refused)
    asked = CheckRequest(bases["strip"].pdf, bases["strip"].folder, dt.date(2026, 11, 25))
    assert check_own(asked).pieces == 3


def signed(data: bytes) -> bytes:
    """Return a PDF with the sum that our press writes into its trailer, which anybody can."""
    begin = data.rindex(b"xref\n0")
    sum_ = hashlib.md5(data[:begin], usedforsecurity=False).hexdigest().encode()
    return data.replace(b"trailer\n<<", b"trailer\n<</ID[<%b><%b>]" % (sum_, sum_))


def test_a_bomb_that_bears_the_presss_own_sum_is_read_within_limits(
    checked: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    process.dismiss()
    monkeypatch.setattr(pdf_file, "limit", lambda name: 0.0 if "seconds" in name else limit(name))
    data = signed(one_page(stream(b"0 0 1 1 re f " * 900_000)))
    assert untouched(data)
    (one,) = checked(data).findings
    assert (one.rule, one.found) == ("checker-failed", "it takes too long to read")
    process.dismiss()


@pytest.fixture(scope="module")
def own(bases: Any, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A sheet of labels and a book of our own."""
    book = tmp_path_factory.mktemp("book") / "book.pdf"
    make_catalog_book(
        BookRequest(bases["strip"].folder, book, "dealer", only=("RM-14-30-SBR",), even_so=True)
    )
    return {"label": bases["strip"].pdf, "book": book}


def pictures_of(data: bytes) -> list[Any] | None:
    """Return what each page of a file shows; None where PDFium can't open it."""
    try:
        pages = pypdfium2.PdfDocument(data)
        return [page.render(scale=0.8).to_numpy().astype(int) for page in pages]
    except pypdfium2.PdfiumError:
        return None


def look_alike(data: bytes, other: bytes) -> bool:
    """Tell whether two files show the same, but for what no printer can show."""
    shown, wanted = pictures_of(data), pictures_of(other)
    if shown is None or wanted is None or len(shown) != len(wanted):
        return False
    pairs = zip(shown, wanted, strict=True)
    return all(a.shape == b.shape and abs(a - b).max() <= 4 for a, b in pairs)


@pytest.mark.siege
@settings(
    max_examples=12,
    derandomize=True,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)
@given(kind=st.sampled_from(["label", "label", "label", "book"]), data=st.data())
def test_a_file_of_ours_with_other_bytes_is_never_clean_where_it_shows_another_page(
    kind: str, data: st.DataObject, own: dict[str, Path], bases: Any, tmp_path: Path
) -> None:
    """Bytes of the file, or of what a page draws once it is unpacked, are others than they were."""
    good = own[kind].read_bytes()
    other = changed(good, data)
    if data.draw(st.booleans(), "unpacked"):
        with pikepdf.open(io.BytesIO(good)) as pdf:
            page = pdf.pages[data.draw(st.integers(0, len(pdf.pages) - 1), "page")]
            held = page.Contents
            part = held[0] if isinstance(held, pikepdf.Array) else held
            part.write(changed(part.read_bytes(), data))
            out = io.BytesIO()
            pdf.save(out, static_id=True)
        other = out.getvalue()
    file = tmp_path / "other.pdf"
    file.write_bytes(other)
    report = check_pdf(file, bases["strip"].folder, day=dt.date(2026, 11, 25))
    assert not _PROGRAMMERS.search(report.as_text()), report.as_text()
    assert report.findings
    assert "checker-failed" not in {each.rule for each in report.findings}, report.as_text()
    if report.stops or look_alike(other, good):
        return
    again = worker.differences(file, own[kind])
    grave = [each for each in (*report.findings, *again) if each.grade is not Grade.NOTE]
    assert {each.rule for each in grave} - {"file-edited"}, report.as_text()


@pytest.mark.siege
def test_a_second_program_draws_our_book_alike_with_its_fields_filled_in(
    own: dict[str, Path],
) -> None:
    assert not worker.drawing_differences(own["book"])[0]


def changed(raw: bytes, data: st.DataObject) -> bytes:
    """Return the bytes with a few of them changed."""
    found = bytearray(raw)
    for _ in range(data.draw(st.integers(1, 4), "how many")):
        found[data.draw(st.integers(0, len(raw) - 1), "at")] ^= data.draw(st.integers(1, 255), "by")
    return bytes(found)
