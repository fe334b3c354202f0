"""Drawings in SVG and PDF become pixels, and those of strangers do no harm."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from labeler import vector
from labeler.drawing.photos import prepare, proportion
from labeler.findings import LabelerError

OPEN = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 90 90">'
RECT = '<rect x="20" y="50" width="60" height="20" fill="#0a5aa0"/>'
BOX = f"{OPEN}<script>let a</script>{RECT}</svg>"


def svg(folder: Path) -> Path:
    path = folder / "logo.svg"
    path.write_text(BOX, "utf-8")
    return path


def pdf(folder: Path) -> Path:
    """Draw the same on a page of letter paper, with reportlab."""
    path = folder / "logo.pdf"
    canvas = Canvas(str(path), pagesize=(612, 792))
    canvas.setFillColor("#0a5aa0")
    canvas.rect(400, 100, 60, 20, stroke=0, fill=1)
    canvas.save()
    return path


@pytest.mark.parametrize("make", [svg, pdf])
def test_a_drawing_is_cut_to_what_is_drawn_and_nothing_lies_around_it(
    tmp_path: Path, make: object
) -> None:
    path = make(tmp_path)  # type: ignore[operator]
    assert proportion(path) == pytest.approx(3, rel=0.01)
    image, said = prepare(path, 72, 72)
    assert said == ()
    assert image.width == 600  # of an inch: twice what a photograph gets
    picture = Image.open(io.BytesIO(image.data)).convert("RGBA")
    assert picture.getpixel((300, 100)) == (10, 90, 160, 255)


def test_in_black_a_picture_is_of_black_dots_on_nothing_about_as_many_as_it_is_dark(
    tmp_path: Path,
) -> None:
    path = tmp_path / "grey.png"
    Image.new("RGB", (300, 150), "#808080").save(path)
    image, _ = prepare(path, 72, 72, ink="black")
    dots = Image.open(io.BytesIO(image.data)).convert("RGBA")
    colours = dots.getcolors() or []
    assert {pixel for _, pixel in colours} == {(0, 0, 0, 0), (0, 0, 0, 255)}
    inked = next(count for count, pixel in colours if pixel[3])  # type: ignore[index]
    assert inked / (dots.width * dots.height) == pytest.approx(0.5, abs=0.05)


@pytest.mark.parametrize(
    ("inside", "rule"),
    [
        ("<text>Jigs</text>", "kind:letters as type"),
        ('<image href="/tmp/other.png" width="9" height="9"/>', "kind:a part that lies"),
        ('<image href="http://example.com/a.png" width="9" height="9"/>', "kind:a part that"),
        ('<use href="other.svg#fish"/>', "kind:a part that"),
        ('<style>@import "other.css";</style>', "kind:a part that"),
        ("<foreignObject/>", "kind:a web page"),
        ("<g>", "broken:"),
        ("", "broken:nothing"),
    ],
)
def test_what_would_look_otherwise_elsewhere_is_refused(
    inside: str, rule: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    written = io.BytesIO()
    ends = io.TextIOWrapper(io.BytesIO(f"{OPEN}{inside}</svg>".encode()))
    monkeypatch.setattr("sys.stdin", ends)
    monkeypatch.setattr("sys.stdout", io.TextIOWrapper(written))
    monkeypatch.setattr(vector, "_bounded", lambda: None)
    vector._answer("svg")
    assert written.getvalue().decode().startswith(rule)


@pytest.mark.parametrize(
    ("content", "rule"),
    [
        (b"%PDF-1.7\n", "picture-broken"),
        (BOX.replace("<rect", "<text>Jigs</text><rect").encode(), "picture-kind"),
        (b"<svg" + bytes(vector.MOST_BYTES), "picture-enormous"),
    ],
)
def test_a_drawing_that_is_refused_is_one_finding(
    tmp_path: Path, content: bytes, rule: str
) -> None:
    path = tmp_path / "logo"
    path.write_bytes(content)
    with pytest.raises(LabelerError) as caught:
        prepare(path, 72, 72)
    (finding,) = caught.value.findings
    assert (finding.rule, finding.place.file) == (rule, str(path))
    assert finding.hint
