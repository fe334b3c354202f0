"""Nine labels that are one form of the file: what is done to the one amid them is found there.

Sisters are held to be alike by the file itself, so each of these ways to make one unlike the others
must bring about that it is read; and a sheet that nobody damaged must be read in one piece alone.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, String

from labeler.checker import pieces
from labeler.checker.judge import check_bytes, check_own
from labeler.checker.page.sides import Repeats
from labeler.checker.pieces import look_at_side
from labeler.checker.report import ALWAYS_OPEN, Report
from labeler.checker.subject import CheckRequest
from labeler.findings import Grade

CELL = 5
SKU = "RM-14-30-TSP"
HARMLESS = {"file-edited"}


class Sheet:
    """A sheet of nine labels of one form, open to be damaged at the one amid them."""

    def __init__(self, pdf: pikepdf.Pdf) -> None:
        self.pdf = pdf
        self.page = pdf.pages[0]
        self.words = list(pikepdf.parse_content_stream(self.page))
        draws = [at for at, (_, operator) in enumerate(self.words) if str(operator) == "Do"]
        assert len(draws) == 9
        self.at = draws[CELL - 1]

    @property
    def form(self) -> Any:
        return self.page.Resources.XObject[str(self.words[self.at][0][0])]

    def put(self, before: str = "", after: str = "") -> None:
        """Put operators before and after that form is drawn, in its own coordinates."""
        for at, text in ((self.at + 1, after), (self.at, before)):
            stream = self.pdf.make_stream(text.encode())
            self.words[at:at] = list(pikepdf.parse_content_stream(stream))

    def draw_other(self, form: Any) -> None:
        """Draw another form there."""
        self.page.Resources.XObject["/Other"] = form
        self.words[self.at] = pikepdf.ContentStreamInstruction(
            [pikepdf.Name("/Other")], pikepdf.Operator("Do")
        )

    def changed(self, old: bytes, new: bytes) -> Any:
        """Return a copy of the form with other operators."""
        data = self.form.read_bytes()
        assert old in data
        copy = self.pdf.make_stream(data.replace(old, new))
        for key in ("/Type", "/Subtype", "/BBox", "/Resources"):
            copy[key] = self.form[key]
        return copy

    def state(self, **entries: Any) -> None:
        self.page.Resources["/ExtGState"] = pikepdf.Dictionary({
            "/Odd": pikepdf.Dictionary(**entries)
        })  # fmt: skip

    def save(self, path: Path) -> Path:
        self.page.Contents = self.pdf.make_stream(pikepdf.unparse_content_stream(self.words))
        self.pdf.save(path)
        return path


@pytest.fixture(scope="module")
def alike(workshop: Any, shelf: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A sheet with three rows of three labels of one product."""
    out = tmp_path_factory.mktemp("alike") / "alike.pdf"
    wish = {"use": "bags", "sheet": "letter-3x10", "skus": (SKU,), "count": 9}
    return workshop.printed(shelf["demo"], out, **wish)


def stamped(sheet: Sheet) -> None:
    sheet.put(after="1 g 0 20 120 52 re f")


def struck_out(sheet: Sheet) -> None:
    sheet.put(after="0 G 3 w 0 36 m 189 36 l S")


def stamped_in_a_form(sheet: Sheet) -> None:
    """The stamp is a form of its own, of the file's only other object."""
    stamp = sheet.pdf.make_stream(b"1 g 0 20 120 52 re f")
    stamp["/Type"], stamp["/Subtype"] = pikepdf.Name.XObject, pikepdf.Name.Form
    stamp["/BBox"] = pikepdf.Array([0, 0, 189, 72])
    sheet.page.Resources.XObject["/Stamp"] = stamp
    sheet.put(after="/Stamp Do")


def pictured(sheet: Sheet) -> None:
    """A white picture lies over its left half."""
    picture = sheet.pdf.make_stream(b"\xff")
    for key, value in {
        "/Type": pikepdf.Name.XObject, "/Subtype": pikepdf.Name.Image, "/Width": 1, "/Height": 1,
        "/BitsPerComponent": 8, "/ColorSpace": pikepdf.Name.DeviceGray,
    }.items():  # fmt: skip
        picture[key] = value
    sheet.page.Resources.XObject["/White"] = picture
    sheet.put(after="q 120 0 0 72 0 0 cm /White Do Q")


def lined(sheet: Sheet) -> None:
    """A line of the page's own, drawn before all forms, runs under it alone."""
    e, f = (float(number) for number in sheet.words[sheet.at - 1][0][4:])
    line = f"q 1 0 0 RG 6 w {e} {f + 58} m {e + 150} {f + 58} l S Q"
    stream = sheet.pdf.make_stream(line.encode())
    sheet.words[1:1] = list(pikepdf.parse_content_stream(stream))


def _see_through(sheet: Sheet) -> None:
    sheet.state(ca=0.3)
    sheet.put(before="/Odd gs")


DAMAGES: dict[str, tuple[str, Callable[[Sheet], None]]] = {
    "a white patch over it": ("statement-unseen", stamped),
    "a white patch that is a form": ("statement-unseen", stamped_in_a_form),
    "a white picture over it": ("statement-unseen", pictured),
    "a line under it": ("statement-on-uneven-ground", lined),
    "struck out": ("code-unreadable", struck_out),
    "drawn 8 % smaller": ("code-module-small", lambda s: s.put(before="0.92 0 0 0.92 0 0 cm")),
    "pressed flat": ("statement-small", lambda s: s.put(before="1 0 0 0.5 0 0 cm")),
    "mirrored": ("statement-missing", lambda s: s.put(before="-1 0 0 1 189 0 cm")),
    "12 pt off its place": ("text-cut", lambda s: s.put(before="1 0 0 1 -12 0 cm")),
    "3 pt off its place, past the safe zone": (
        "text-unsafe", lambda s: s.put(before="1 0 0 1 -3 0 cm"),
    ),
    "clipped to its left half": ("statement-unseen", lambda s: s.put(before="0 0 60 72 re W n")),
    "clipped to a triangle that reaches as far as it does": (
        "statement-unseen", lambda s: s.put(before="0 0 m 189 0 l 189 72 l h W n"),
    ),
    "clipped to nothing": ("piece-empty", lambda s: s.put(before="0 0 0 0 re W n")),
    "see-through": (
        "statement-faint", _see_through,
    ),
    "drawn without ink": ("piece-empty", lambda s: s.put(before="3 Tr")),
    "letters set wide": ("text-cut", lambda s: s.put(before="0.25 Tc")),
    "not there": ("piece-empty", lambda s: s.words.__delitem__(s.at)),
    "drawn twice, a little apart": (
        "statement-overprinted", lambda s: s.put(after=f"1 0 0 1 3 1 cm {s.words[s.at][0][0]} Do"),
    ),
    "another form, with words left out": (
        "statement-missing", lambda s: s.draw_other(s.changed(b"TJ", b"TX")),
    ),
    "another form, in grey": (
        "statement-unreadable", lambda s: s.draw_other(s.changed(b"0 g", b"0.8 g")),
    ),
}  # fmt: skip


@pytest.fixture
def checked(alike: Any, tmp_path: Path, workshop: Any) -> Callable[..., Report]:
    """Damage a sheet and check it in this process, whose parts a test may replace."""

    def check(damage: Callable[[Sheet], Any]) -> Report:
        with pikepdf.open(alike.pdf) as pdf:
            sheet = Sheet(pdf)
            damage(sheet)
            file = sheet.save(tmp_path / "damaged.pdf")
        asked = CheckRequest(file, alike.folder, workshop.day)
        return check_bytes(file.read_bytes(), asked, None, None, trusted=False)

    return check


@pytest.mark.daily("pressed flat")
@pytest.mark.parametrize("name", list(DAMAGES))
def test_what_is_done_to_one_sister_is_found_there_and_nowhere_else(
    name: str, checked: Callable[..., Report], monkeypatch: pytest.MonkeyPatch
) -> None:
    rule, damage = DAMAGES[name]
    report = checked(damage)
    grave = [f for f in report.findings if f.grade is not Grade.NOTE and f.rule not in HARMLESS]
    there = "\n".join(map(str, grave))
    assert (rule, str(CELL)) in {(f.rule, f.place.cell) for f in grave}, there
    assert {f.place.cell for f in grave} <= {str(CELL), ""}, there
    every_side: list[None] = []
    monkeypatch.setattr(Repeats, "arrange", lambda *given: every_side.append(None))
    assert told(checked(damage)) == told(report)
    assert every_side


def told(report: Report) -> set[tuple[Any, ...]]:
    """Return what a report says, places to a hundredth of a point."""
    return {
        (f.rule, f.found, f.message, f.place.cell, tuple(round(n, 2) for n in f.place.box or ()))
        for f in report.findings
    }


@pytest.mark.daily
def test_a_sheet_of_sisters_is_read_in_one_of_them(
    alike: Any, workshop: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[int] = []

    def counted(side: Any, *given: Any) -> Any:
        read.append(side.claim.cell)
        return look_at_side(side, *given)

    monkeypatch.setattr(pieces, "look_at_side", counted)
    report = check_own(CheckRequest(alike.pdf, alike.folder, workshop.day))
    assert (report.pieces, read) == (9, [1])


# ---------------------------------------------------------------------------- pages that look alike

RECT = (40, 720, 90, 740)


def lying(kind: str, **entries: Any) -> Callable[[pikepdf.Pdf], Any]:
    """Lay one more thing on the second page."""

    def change(pdf: pikepdf.Pdf) -> None:
        drawn = pdf.make_stream(b"1 g 0 0 50 20 re f", Type=Name.XObject, Subtype=Name.Form,
                                BBox=Array([0, 0, 50, 20]))  # fmt: skip
        note = Dictionary(Type=Name.Annot, Subtype=Name(kind), Rect=Array(RECT), F=4, **entries)
        note.AP = Dictionary(N=drawn)
        pdf.pages[1].Annots.append(pdf.make_indirect(note))
        pdf.Root.AcroForm = Dictionary(Fields=Array([pdf.pages[1].Annots[1]]))

    return change


def of_page(**entries: Any) -> Callable[[pikepdf.Pdf], Any]:
    """Change entries of the second page."""
    return lambda pdf: [pdf.pages[1].__setitem__(f"/{k}", value) for k, value in entries.items()]


def clicking(pdf: pikepdf.Pdf) -> None:
    """Let the link that lies on both pages start a program on the second."""
    pdf.pages[1].Annots[0] = pdf.make_indirect(
        Dictionary(Type=Name.Annot, Subtype=Name.Link, Rect=Array(RECT),
                   A=Dictionary(S=Name.Launch, F=String("more.pdf")))
    )  # fmt: skip


def painted_over(pdf: pikepdf.Pdf) -> None:
    """Give the second page operators of its own, in a stream that is packed in the same way."""
    drawn = pdf.pages[1].Contents.read_bytes()
    pdf.pages[1].Contents = pdf.make_stream(drawn + b" 1 g 0 0 612 792 re f")


SCRIPT = Dictionary(S=Name.JavaScript, JS=String("this.print()"))
SECOND: dict[str, tuple[str, Callable[[pikepdf.Pdf], Any]]] = {
    "a stamp": ("page-laid-over", lying("/Stamp")),
    "free text": ("page-laid-over", lying("/FreeText", Contents=String("3.20"))),
    "a field": ("page-laid-over", lying("/Widget", FT=Name.Tx, T=String("a"))),
    "a link that is drawn": ("page-laid-over", lying("/Link")),
    "a link that starts a program": ("file-script", clicking),
    "a script of the page": ("file-script", of_page(AA=Dictionary(O=SCRIPT))),
    "operators of its own": ("piece-empty", painted_over),
    "another unit": ("page-scaled", of_page(UserUnit=1.01)),
    "a box that cuts labels off": ("text-cut", of_page(CropBox=Array([0, 0, 612, 730]))),
    "a box that moves all": ("text-cut", of_page(MediaBox=Array([0, 9, 612, 801]))),
    "a quarter turn": ("text-cut", of_page(Rotate=90)),
}


@pytest.fixture(scope="module")
def two(workshop: Any, shelf: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Two pages that are drawn by the same operators; the same link lies on both."""
    out = tmp_path_factory.mktemp("two") / "two.pdf"
    run = workshop.printed(shelf["demo"], out, sheet="letter-2x3", skus=(SKU,), count=12)
    with pikepdf.open(out, allow_overwriting_input=True) as pdf:
        link = Dictionary(Type=Name.Annot, Subtype=Name.Link, Rect=Array(RECT),
                          A=Dictionary(S=Name.URI, URI=String("https://example.com/")))  # fmt: skip
        for page in pdf.pages:
            page.Annots = Array([pdf.make_indirect(link)])
        pdf.save(out)
    return run


@pytest.mark.daily
def test_what_is_not_checked_is_told_where_a_page_can_t_be_read_to_its_end(
    two: Any, workshop: Any, tmp_path: Path
) -> None:
    with pikepdf.open(two.pdf) as pdf:
        pdf.pages[1].Contents = pdf.make_stream(b"q " * 1_000_000)
        pdf.save(tmp_path / "endless.pdf")
    asked = CheckRequest(tmp_path / "endless.pdf", two.folder, workshop.day)
    report = check_bytes(asked.path.read_bytes(), asked, None, None, trusted=False)
    assert "file-hostile" in {each.rule for each in report.findings}
    assert report.not_checked == ("anything after page 1", *ALWAYS_OPEN)


@pytest.mark.daily("a stamp", "a link that starts a program", "another unit")
@pytest.mark.parametrize("name", list(SECOND))
def test_what_is_done_to_the_second_of_two_alike_pages_is_found_there(
    name: str, two: Any, workshop: Any, tmp_path: Path
) -> None:
    rule, change = SECOND[name]
    with pikepdf.open(two.pdf) as pdf:
        change(pdf)
        pdf.save(tmp_path / "second.pdf")
    asked = CheckRequest(tmp_path / "second.pdf", two.folder, workshop.day)
    report = check_bytes(asked.path.read_bytes(), asked, None, None, trusted=False)
    grave = [f for f in report.findings if f.grade is not Grade.NOTE and f.rule not in HARMLESS]
    assert rule in {each.rule for each in grave}, "\n".join(map(str, grave))
    assert {each.place.page for each in grave} == {2}
