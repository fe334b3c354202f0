"""The finished file as a whole: how it asks to be printed, what it says it is, what it costs."""

from __future__ import annotations

import gc
import shutil
import subprocess
import tracemalloc
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pikepdf
import pypdf
import pytest

from labeler.findings import LabelerError
from labeler.marks import Glyphs, Piece
from labeler.press.impose import Attachment, Imposition, PieceOrder, Ticket, impose
from labeler.press.pdf.run import write_pdf
from labeler.press.printers import Printer
from labeler.press.sheets import Sheet

Press = Callable[..., bytes]
PieceMaker = Callable[..., Piece]
Words = Callable[..., Glyphs]
Sheets = dict[str, Sheet]


@pytest.fixture
def two_sided(label: PieceMaker, words: Words) -> Piece:
    return label(size=(144, 252), front=(words("Front"),), back=(words("Back"),), bleed=9.0)


def opened(pdf: bytes) -> pikepdf.Pdf:
    return pikepdf.open(BytesIO(pdf))


def test_it_asks_to_be_printed_at_true_size(
    sheets: Sheets, label: PieceMaker, press: Press
) -> None:
    """Viewer preferences: ISO 32000-1:2008, table 150, read back by two readers."""
    pdf = press(impose([PieceOrder(label(), 1)], sheets["letter-3x10"]))
    with opened(pdf) as file:
        asked = {str(k): str(v) for k, v in file.Root.ViewerPreferences.items()}
        assert asked["/PrintScaling"] == "/None"
        assert asked["/Duplex"] == "/Simplex"
        assert asked["/DisplayDocTitle"] == "True"
        assert asked["/NumCopies"] == "1"
        assert [str(name) for name in file.Root.ViewerPreferences.Enforce] == ["/PrintScaling"]
    read = pypdf.PdfReader(BytesIO(pdf)).viewer_preferences
    assert read is not None
    assert str(read.print_scaling) == "/None"
    assert str(read.duplex) == "/Simplex"


@pytest.mark.parametrize(
    ("flip", "feed", "wanted"),
    [
        ("long-edge", "auto", "/DuplexFlipLongEdge"),
        ("short-edge", "auto", "/DuplexFlipShortEdge"),
        ("long-edge", "hand", "/Simplex"),
    ],
)
def test_it_asks_for_the_edge_to_turn_over(
    flip: str, feed: str, wanted: str, sheets: Sheets, two_sided: Piece, press: Press
) -> None:
    plan = impose([PieceOrder(two_sided, 1)], sheets["letter-card"], flip=flip)  # type: ignore[arg-type]
    with opened(press(plan, printer=Printer(feed=feed))) as file:  # type: ignore[arg-type]
        assert str(file.Root.ViewerPreferences.Duplex) == wanted


def labels(pdf: bytes) -> list[str]:
    return pypdf.PdfReader(BytesIO(pdf)).page_labels


def test_pages_are_called_by_sheet_and_side(
    sheets: Sheets, label: PieceMaker, two_sided: Piece, press: Press
) -> None:
    one = impose([PieceOrder(label(), 61)], sheets["letter-3x10"])
    assert labels(press(one)) == ["sheet 1", "sheet 2", "sheet 3"]
    both = impose([PieceOrder(two_sided, 9)], sheets["letter-card"])
    fronts_and_backs = ["sheet 1 front", "sheet 1 back", "sheet 2 front", "sheet 2 back"]
    assert labels(press(both)) == fronts_and_backs
    by_hand = press(both, printer=Printer(feed="hand"))
    assert labels(by_hand) == [
        "front of sheet 1", "front of sheet 2", "back of sheet 1", "back of sheet 2",
    ]  # fmt: skip
    read = [page.extract_text().split()[0] for page in pypdf.PdfReader(BytesIO(by_hand)).pages]
    assert read == ["Front", "Front", "Back", "Back"]


def test_it_says_what_it_is(sheets: Sheets, label: PieceMaker, press: Press) -> None:
    ticket = {
        "title": "Étiquettes ½ oz", "language": "fr-CA", "author": "M. Exemple", "subject": "Lot 7",
    }  # fmt: skip
    with opened(press(impose([PieceOrder(label(), 1)], sheets["letter-3x10"]), **ticket)) as file:
        assert str(file.docinfo.Title) == ticket["title"]
        assert str(file.docinfo.Author) == ticket["author"]
        assert str(file.docinfo.Subject) == ticket["subject"]
        assert str(file.Root.Lang) == "fr-CA"
        assert "/CreationDate" not in file.docinfo


def test_it_runs_nothing_and_opens_nothing(sheets: Sheets, label: PieceMaker, press: Press) -> None:
    pdf = press(impose([PieceOrder(label(), 3)], sheets["letter-3x10"]))
    with opened(pdf) as file:
        assert not {"/OpenAction", "/AA", "/AcroForm"} & set(file.Root.keys())
        assert all("/Annots" not in page for page in file.pages)
    assert b"/JavaScript" not in pdf
    assert b"/JS" not in pdf


def box(page: pikepdf.Page, name: str) -> list[float]:
    return [float(n) for n in page.obj[name]]


def test_a_die_cut_sheet_is_trimmed_already(
    sheets: Sheets, label: PieceMaker, press: Press
) -> None:
    with opened(press(impose([PieceOrder(label(), 1)], sheets["letter-3x10"]))) as file:
        (page,) = file.pages
        for name in ("/MediaBox", "/BleedBox", "/TrimBox"):
            assert box(page, name) == [0, 0, 612, 792]
        assert "/ArtBox" not in page.obj


def test_on_card_stock_trim_lies_in_bleed_and_bleed_in_the_sheet(
    sheets: Sheets, two_sided: Piece, press: Press
) -> None:
    """ISO 32000-1:2008, 14.11.2: media box, then bleed box, then trim box."""
    plan = impose([PieceOrder(two_sided, 8)], sheets["letter-card"])
    xs = [placed.x for page in plan for placed in page.placed]
    ys = [placed.y for page in plan for placed in page.placed]
    with opened(press(plan)) as file:
        for page in file.pages:
            media, bleed, trim = (box(page, n) for n in ("/MediaBox", "/BleedBox", "/TrimBox"))
            assert media == [0, 0, plan.grid.page_width, plan.grid.page_height]
            assert trim == pytest.approx(
                [min(xs), media[3] - max(ys) - 252, max(xs) + 144, media[3] - min(ys)]
            )
            assert bleed == pytest.approx([trim[0] - 9, trim[1] - 9, trim[2] + 9, trim[3] + 9])
            assert bleed[0] > 0
            assert bleed[3] < media[3]


def mixed(label: PieceMaker, words: Words, sheets: Sheets) -> Imposition:
    some = [
        PieceOrder(
            label(f"KT-{n}", front=(words(f"Pattern {n}"), words("oz", face="serif", y=40.0))), n
        )
        for n in (1, 2, 40)
    ]
    return impose(some, sheets["letter-3x10"], start=4)


def test_the_same_run_gives_the_same_bytes(
    sheets: Sheets, label: PieceMaker, words: Words, press: Press
) -> None:
    first = press(mixed(label, words, sheets))
    gc.collect()
    assert press(mixed(label, words, sheets)) == first


def test_another_run_has_another_identity(
    sheets: Sheets, label: PieceMaker, words: Words, press: Press
) -> None:
    """ISO 32000-1:2008, 14.4: the identifier follows from what is in the file."""
    identities = set()
    for text in ("Pattern 1", "Pattern 2"):
        plan = impose([PieceOrder(label(front=(words(text),)), 1)], sheets["letter-3x10"])
        with opened(press(plan)) as file:
            identities.add(bytes(file.trailer.ID[0]))
    assert len(identities) == 2


def test_a_date_is_only_there_when_it_is_given(
    sheets: Sheets, label: PieceMaker, press: Press, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SOURCE_DATE_EPOCH: reproducible-builds.org/specs/source-date-epoch."""
    plan = impose([PieceOrder(label(), 1)], sheets["letter-3x10"])
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "951782400")
    pdf = press(plan)
    assert press(plan) == pdf
    with opened(pdf) as file:
        assert str(file.docinfo.CreationDate) == "D:20000229000000Z"
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "yesterday")
    with pytest.raises(LabelerError) as caught:
        press(plan)
    assert caught.value.findings[0].place.key == "SOURCE_DATE_EPOCH"


def test_a_file_travels_inside(sheets: Sheets, label: PieceMaker, press: Press) -> None:
    files = (
        Attachment("run.json", b'{"sheet": "letter-3x10"}', says="The run"),
        Attachment("a note.txt", b"six more of the green", "text/plain"),
    )
    pdf = press(impose([PieceOrder(label(), 1)], sheets["letter-3x10"]), attached=files)
    with opened(pdf) as file:
        found = [(name, file.attachments[name].get_file()) for name in file.attachments]
        read = [(name, one.read_bytes(), one.mime_type) for name, one in found]
    assert sorted(read) == sorted((one.name, one.data, one.media_type) for one in files)


def test_a_long_run_is_one_sound_tree_of_pages(
    sheets: Sheets, label: PieceMaker, words: Words, press: Press
) -> None:
    """131 pages need three nodes; each page is found, in its order."""
    orders = [
        PieceOrder(label(str(n), size=(140, 60), front=(words(f"No {n}"),)), 1) for n in range(131)
    ]
    pdf = press(impose(orders, sheets["roll-203-2.25x1.25in"]))
    with opened(pdf) as file:
        assert len(file.pages) == 131
        assert not file.check_pdf_syntax()
    read = pypdf.PdfReader(BytesIO(pdf))
    assert [read.pages[n].extract_text() for n in (0, 63, 64, 130)] == [
        "No 0", "No 63", "No 64", "No 130",
    ]  # fmt: skip


def test_qpdf_finds_nothing_wrong(
    tmp_path: Path, sheets: Sheets, label: PieceMaker, words: Words, two_sided: Piece, press: Press
) -> None:
    program = shutil.which("qpdf")
    kinds = {
        "bags": press(mixed(label, words, sheets), attached=(Attachment("a", b"b"),)),
        "cards": press(impose([PieceOrder(two_sided, 5)], sheets["a4-card"])),
    }
    for name, pdf in kinds.items():
        with opened(pdf) as file:
            assert not file.check_pdf_syntax()
        if program:
            path = tmp_path / f"{name}.pdf"
            path.write_bytes(pdf)
            done = subprocess.run([program, "--check", path], capture_output=True, text=True)
            assert done.returncode == 0, done.stderr


def test_alike_sheets_share_one_content(sheets: Sheets, label: PieceMaker, press: Press) -> None:
    pdf = press(impose([PieceOrder(label(), 3000)], sheets["letter-3x10"]))
    with opened(pdf) as file:
        assert len(file.pages) == 100
        assert len({page.obj.Contents.objgen for page in file.pages}) == 1
    assert len(pdf) < 60_000


@pytest.mark.siege
def test_a_long_run_needs_no_more_memory_than_a_short_one(
    sheets: Sheets, label: PieceMaker, words: Words
) -> None:
    """9,000 alike within 1.2 times of 300, and the bytes go out as they are made."""

    class Sink(BytesIO):
        def write(self, data: object) -> int:
            return len(bytes(data))  # type: ignore[call-overload]

    piece = label(front=(words("Rattle"),))

    def peak(count: int) -> int:
        plan = impose([PieceOrder(piece, count)], sheets["letter-3x10"])
        gc.collect()
        tracemalloc.start()
        write_pdf(plan, Sink(), Ticket("Run"))
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    peak(30)
    short = peak(300)
    assert peak(9_000) < 1.2 * short


def test_progress_is_told_page_by_page(sheets: Sheets, label: PieceMaker) -> None:
    told: list[int] = []
    plan = impose([PieceOrder(label(), 70)], sheets["letter-3x10"])
    write_pdf(plan, BytesIO(), Ticket("Run"), told.append)
    assert told == [1, 2, 3]
    assert plan.page_count == 3
