"""Each kind of mark on the finished page, as ink and in the file."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import Any

import pikepdf
import pytest
import segno
from PIL import Image as Pixels

from labeler.findings import LabelerError
from labeler.marks import Code, Group, Image, Picture, Piece, VectorPath
from labeler.press.impose import PieceOrder, impose
from labeler.press.sheets import Sheet

Press = Callable[..., bytes]
PieceMaker = Callable[..., Piece]
Block = Callable[..., VectorPath]
Raster = Callable[..., Any]
Sheets = dict[str, Sheet]
DPI = 300


def pixel(points: float) -> int:
    return round(points * DPI / 72)


def contents(pdf: bytes) -> bytes:
    with pikepdf.open(BytesIO(pdf)) as file:
        forms = [
            o.read_bytes()
            for o in file.objects
            if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Form"
        ]
        return bytes(file.pages[0].Contents.read_bytes() + b"\n".join(forms))


def pictures(pdf: bytes) -> list[dict[str, Any]]:
    with pikepdf.open(BytesIO(pdf)) as file:
        return [
            {
                "filter": str(o.Filter),
                "space": str(o.ColorSpace),
                "mask": "/SMask" in o,
                "data": o.read_raw_bytes(),
            }
            for o in file.objects
            if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Image"
        ]


def qr(left: float, top: float, module: float) -> tuple[Code, list[list[int]]]:
    """Return a QR mark and its matrix, made by segno: one bar for each run of dark modules."""
    symbol = segno.make("HTTPS://EXAMPLE.COM/01/09521234543213", error="m", micro=False)
    matrix = [list(row) for row in symbol.matrix]
    bars = []
    for y, row in enumerate(matrix):
        x = 0
        while x < len(row):
            start = x
            while x < len(row) and row[x]:
                x += 1
            if x > start:
                bars.append((float(start), float(y), float(x - start), 1.0))
            x += 1
    side = (len(matrix) + 8) * module
    quiet = 4 * module
    code = Code(
        "qr", "", left, top, side, side, left + quiet, top + quiet, module, tuple(bars)
    )  # fmt: skip
    return code, matrix


@pytest.mark.parametrize("dpi", [300, 331])
@pytest.mark.parametrize("count", [1, 2], ids=["in place", "as a form"])
def test_a_code_shows_no_seam_between_its_bars(
    dpi: int, count: int, sheets: Sheets, label: PieceMaker, press: Press, raster: Raster
) -> None:
    """Inside a finder's bar every pixel is black, also where modules end between pixels."""
    module = 1.37
    code, _ = qr(100, 2, module)
    pdf = press(impose([PieceOrder(label(front=(code,)), count)], sheets["letter-3x10"]))
    grey = raster(pdf, dpi=dpi)
    left, top = 13.5 + code.left, 36 + code.top
    inset = 2 * 72 / dpi
    box = [left + inset, top + inset, left + module - inset, top + 7 * module - inset]
    x0, y0, x1, y1 = (round(n * dpi / 72) for n in box)
    assert (x1 - x0, y1 - y0) > (0, 20)
    assert grey[y0:y1, x0:x1].max() == 0
    assert contents(pdf).count(b"\nf") == 1


def test_a_code_s_modules_are_the_encoder_s(
    sheets: Sheets, label: PieceMaker, press: Press, raster: Raster
) -> None:
    code, matrix = qr(100, 2, 1.44)
    pdf = press(impose([PieceOrder(label(front=(code,)), 1)], sheets["letter-3x10"]))
    grey = raster(pdf)
    for y, row in enumerate(matrix):
        for x, dark in enumerate(row):
            across = pixel(13.5 + code.left + (x + 0.5) * code.module)
            down = pixel(36 + code.top + (y + 0.5) * code.module)
            assert (grey[down, across] < 128) == bool(dark)


def test_a_bar_of_a_fraction_of_a_module_keeps_it(
    sheets: Sheets, label: PieceMaker, press: Press, boxes: Callable[..., Any]
) -> None:
    """Guard bars are longer by halves; only whole numbers may lose their point."""
    bars = ((0.0, 0.0, 2.5, 10.25),)
    code = Code("upc-a", "", 0, 0, 90, 60, 10, 5, 2.0, bars)
    (((left, top, right, bottom),),) = boxes(
        press(impose([PieceOrder(label(front=(code,)), 1)], sheets["letter-3x10"]))
    )
    assert (right - left, bottom - top) == pytest.approx((5, 20.5), abs=0.01)
    assert (left, top) == pytest.approx((23.5, 41), abs=0.01)


def test_black_is_black_and_grey_is_grey_alone(
    sheets: Sheets, label: PieceMaker, block: Block, press: Press
) -> None:
    """Three inks that make grey print brown fringes; one ink does not."""
    marks = (
        block(0, 0, 9, 9),
        block(10, 0, 19, 9, "#808080"),
        block(20, 0, 29, 9, "#f9a800"),
        VectorPath((("M", 0, 20), ("L", 40, 20)), stroke="#333333", width=0.5),
    )
    text = contents(
        press(impose([PieceOrder(label(front=marks), 1)], sheets["letter-3x10"]))
    ).decode()
    assert "\n0 g\n" in text
    assert "\n0.502 g\n" in text
    assert "\n0.9765 0.6588 0 rg\n" in text
    assert "0.2 G 0.500 w" in text


def test_paths_keep_holes_dashes_and_round_ends(
    sheets: Sheets, label: PieceMaker, press: Press, raster: Raster
) -> None:
    ring = VectorPath(
        (
            ("M", 10, 10), ("L", 50, 10), ("L", 50, 50), ("L", 10, 50), ("Z",),
            ("M", 20, 20), ("L", 40, 20), ("L", 40, 40), ("L", 20, 40), ("Z",),
        ),
        fill="#000000",
        even_odd=True,
    )  # fmt: skip
    dashed = VectorPath((("M", 60, 30), ("L", 120, 30)), stroke="#000000", width=4, dash=(10, 10))
    rounded = VectorPath(
        (("M", 140, 30), ("L", 150, 30)), stroke="#000000", width=10, round_ends=True
    )
    curve = VectorPath((("M", 160, 60), ("C", 160, 0, 180, 0, 180, 60), ("Z",)), fill="#000000")
    marks = (ring, dashed, rounded, curve)
    grey = raster(press(impose([PieceOrder(label(front=marks), 1)], sheets["letter-3x10"])))

    def dark(x: float, y: float) -> bool:
        return bool(grey[pixel(36 + y), pixel(13.5 + x)] < 128)

    assert dark(15, 30)
    assert not dark(30, 30)
    assert [dark(x, 30) for x in (65, 75, 85, 95)] == [True, False, True, False]
    assert dark(136.5, 30)
    assert not dark(136, 26)
    assert dark(170, 30)
    assert not dark(162, 20)


def test_a_stroke_keeps_its_look_among_others_and_a_dash_of_nothing_is_solid(
    sheets: Sheets, label: PieceMaker, press: Press, raster: Raster
) -> None:
    """A dash array of noughts is an error (ISO 32000-1:2008, 8.4.3.6), and viewers hang on it."""
    looks: tuple[dict[str, Any], ...] = (
        {"width": 6.0, "round_ends": True}, {"width": 2.0}, {"width": 2.0, "dash": (8.0, 8.0)},
        {"width": 2.0, "dash": (0.000001, 0.000001)}, {"width": 6.0, "round_ends": True},
    )  # fmt: skip
    lines = [
        VectorPath((("M", 20, 10.0 * n), ("L", 80, 10.0 * n)), stroke="#000000", **look)
        for n, look in enumerate(looks, 1)
    ]
    group = Group((1, 0, 0, 1, 90, 0), tuple(lines[:2]), (0, 0, 90, 70))
    marks = (lines[0], group, *lines[1:])
    pdf = press(impose([PieceOrder(label(front=marks), 1)], sheets["letter-3x10"]))
    grey = raster(pdf)

    def dark(x: float, y: float) -> bool:
        return bool(grey[pixel(36 + y), pixel(13.5 + x)] < 128)

    for left in (0, 90):
        assert [dark(left + 18, 10), dark(left + 18, 20)] == [True, False]
        assert [dark(left + 50, 12), dark(left + 50, 22)] == [True, False]
    assert [dark(x, 30) for x in (24, 32, 40)] == [True, False, True]
    assert all(dark(x / 4, 40) for x in range(84, 316))
    assert dark(18, 50)


def jpeg(mode: str = "RGB", size: tuple[int, int] = (40, 20)) -> bytes:
    file = BytesIO()
    Pixels.new(mode, size, 200 if mode == "L" else (200, 40, 40)).save(file, "JPEG", quality=95)
    return file.getvalue()


def png(picture: Pixels.Image) -> bytes:
    file = BytesIO()
    picture.save(file, "PNG")
    return file.getvalue()


def test_a_photo_goes_in_as_it_is_and_only_once(
    sheets: Sheets, label: PieceMaker, press: Press
) -> None:
    data = jpeg()
    photo = Image("photo", data, 40, 20)
    marks = tuple(Picture(10 + 50 * n, 10, 40, 20, photo, says="A green jig") for n in range(3))
    orders = [PieceOrder(label("A", front=marks), 1), PieceOrder(label("B", front=marks[:1]), 4)]
    pdf = press(impose(orders, sheets["letter-3x10"]))
    (found,) = pictures(pdf)
    assert found["filter"] == "/DCTDecode"
    assert found["space"] == "/DeviceRGB"
    assert found["data"] == data
    assert b"/Span<</Alt(A green jig)>>BDC" in contents(pdf)


def test_a_grey_photo_stays_grey(sheets: Sheets, label: PieceMaker, press: Press) -> None:
    photo = Picture(10, 10, 40, 20, Image("grey", jpeg("L"), 40, 20))
    (found,) = pictures(
        press(impose([PieceOrder(label(front=(photo,)), 1)], sheets["letter-3x10"]))
    )
    assert found["space"] == "/DeviceGray"


def corners() -> Pixels.Image:
    """Red, green above; blue, clear below."""
    picture = Pixels.new("RGBA", (2, 2))
    for spot, colour in (((0, 0), "red"), ((1, 0), "lime"), ((0, 1), "blue")):
        picture.putpixel(spot, {"red": (255, 0, 0, 255), "lime": (0, 255, 0, 255)}.get(
            colour, (0, 0, 255, 255)))  # fmt: skip
    return picture.resize((20, 20), Pixels.Resampling.NEAREST)


def palette() -> Pixels.Image:
    picture = corners().convert("RGB").quantize(8)
    picture.info["transparency"] = picture.getpixel((19, 19))
    return picture


def saved_with_hole(picture: Pixels.Image) -> bytes:
    file = BytesIO()
    picture.save(file, "PNG", transparency=picture.info["transparency"])
    return file.getvalue()


@pytest.mark.parametrize(
    "data", [png(corners()), saved_with_hole(palette())], ids=["alpha", "palette"]
)
def test_a_picture_lies_the_right_way_up_and_lets_the_ground_through(
    data: bytes, sheets: Sheets, label: PieceMaker, block: Block, press: Press, raster: Raster
) -> None:
    photo = Picture(10, 10, 40, 40, Image("corners", data, 20, 20))
    front = (block(0, 0, 189, 72, "#ffff00"), photo)
    pdf = press(impose([PieceOrder(label(front=front), 1)], sheets["letter-3x10"]))
    picture, mask = sorted(pictures(pdf), key=lambda one: one["mask"], reverse=True)
    assert (picture["space"], mask["space"]) == ("/DeviceRGB", "/DeviceGray")
    colours = raster(pdf, mode="RGB")
    spots = {(20, 20): (255, 0, 0), (40, 20): (0, 255, 0), (20, 40): (0, 0, 255)}
    spots[40, 40] = (255, 255, 0)
    for (x, y), wanted in spots.items():
        assert tuple(colours[pixel(36 + y), pixel(13.5 + x)]) == wanted


def test_what_is_no_picture_is_said(sheets: Sheets, label: PieceMaker, press: Press) -> None:
    photo = Picture(10, 10, 40, 20, Image("x", b"this is a letter to my aunt", 40, 20))
    with pytest.raises(LabelerError) as caught:
        press(impose([PieceOrder(label("KT-1", front=(photo,)), 1)], sheets["letter-3x10"]))
    (finding,) = caught.value.findings
    assert (finding.rule, finding.place.piece) == ("picture-unusable", "KT-1")


def test_a_keyed_group_is_drawn_once_and_placed_wherever_it_is_wanted(
    sheets: Sheets, label: PieceMaker, block: Block, press: Press, boxes: Callable[..., Any]
) -> None:
    def jig(matrix: tuple[float, float, float, float, float, float]) -> Group:
        return Group(matrix, (block(0, 0, 10, 5),), (0, 0, 10, 5), key="jig", says="A jig")

    kinds = [
        PieceOrder(label("A", front=(jig((1, 0, 0, 1, 20, 10)), jig((2, 0, 0, 2, 50, 10)))), 1),
        PieceOrder(label("B", front=(jig((0, 1, -1, 0, 20, 10)),)), 1),
    ]
    pdf = press(impose(kinds, sheets["letter-3x10"]))
    with pikepdf.open(BytesIO(pdf)) as file:
        forms = [o for o in file.objects if isinstance(o, pikepdf.Stream) and "/BBox" in o]
        assert len(forms) == 1
    (page,) = boxes(pdf)
    assert [tuple(round(n, 2) for n in box) for box in page] == [
        (33.5, 46, 43.5, 51),
        (63.5, 46, 83.5, 56),
        (211.5 + 15, 46, 211.5 + 20, 56),
    ]


def test_a_form_trusts_no_ink_of_its_surroundings(
    sheets: Sheets, label: PieceMaker, block: Block, press: Press, raster: Raster
) -> None:
    """A form is drawn with whatever ink was last used (ISO 32000-1:2008, 8.10.1)."""
    jig = Group((1, 0, 0, 1, 40, 40), (block(0, 0, 20, 20),), (0, 0, 20, 20), key="black")
    front = (block(0, 0, 30, 30, "#ff0000"), jig)
    pdf = press(impose([PieceOrder(label(front=front), 1)], sheets["letter-3x10"]))
    colours = raster(pdf, mode="RGB")
    assert tuple(colours[pixel(36 + 50), pixel(13.5 + 50)]) == (0, 0, 0)


def test_a_group_without_a_key_leaves_the_ink_as_it_was(
    sheets: Sheets, label: PieceMaker, block: Block, press: Press, raster: Raster
) -> None:
    red = Group((1, 0, 0, 1, 0, 0), (block(0, 0, 9, 9, "#ff0000"),), (0, 0, 9, 9))
    front = (block(20, 0, 29, 9), red, block(40, 0, 49, 9, "#ff0000"), block(60, 0, 69, 9))
    pdf = press(impose([PieceOrder(label(front=front), 1)], sheets["letter-3x10"]))
    colours = raster(pdf, mode="RGB")
    inks = [tuple(colours[pixel(40), pixel(13.5 + x)]) for x in (5, 25, 45, 65)]
    assert inks == [(255, 0, 0), (0, 0, 0), (255, 0, 0), (0, 0, 0)]


@pytest.mark.parametrize("count", [1, 2], ids=["in place", "as a form"])
def test_the_bleed_is_there_to_be_cut_off(
    count: int, sheets: Sheets, label: PieceMaker, block: Block, press: Press, raster: Raster
) -> None:
    """A form clips to its box; a box of the trim alone would leave a white hair at the knife."""
    bleed = 9.0
    front = (block(-bleed, -bleed, 144 + bleed, 252 + bleed, "#000000"),)
    piece = label(size=(144, 252), front=front, bleed=bleed)
    plan = impose([PieceOrder(piece, count)], sheets["letter-card"])
    placed = next(iter(plan)).placed[0]
    grey = raster(press(plan))
    for x, y in (
        (placed.x - bleed + 1, placed.y + 50),
        (placed.x + 144 + bleed - 1, placed.y + 50),
        (placed.x + 50, placed.y - bleed + 1),
        (placed.x + 50, placed.y + 252 + bleed - 1),
    ):
        assert grey[pixel(y), pixel(x)] == 0
    assert grey[pixel(placed.y + 50), pixel(placed.x - bleed - 1.5)] == 255


@pytest.mark.parametrize("count", [2, 3], ids=["in place", "as a form"])
def test_on_die_cut_labels_a_bleed_keeps_off_the_neighbours(
    count: int, sheets: Sheets, label: PieceMaker, block: Block, press: Press, raster: Raster
) -> None:
    """Labels with 1/8 in between them have 1/16 in each to bleed into, and none above."""
    front = (block(-9, -9, 198, 81),)
    black, white = label("A", front=front, bleed=9.0), label("B", front=())
    cells = [PieceOrder(black, 1), PieceOrder(white, 1), PieceOrder(black, count - 1)]
    grey = raster(press(impose(cells, sheets["letter-3x10"], start=4)))
    row = 36 + 72
    edge = 13.5 + 189
    assert grey[pixel(row + 36), pixel(edge + 4)] == 0
    assert grey[pixel(row + 36), pixel(edge + 5.5)] == 255
    assert grey[pixel(row - 1), pixel(100)] == 255
    assert grey[pixel(row + 73), pixel(100)] == (0 if count == 3 else 255)


def hole() -> VectorPath:
    steps = (("M", 90.0, 10.0), ("L", 98.0, 10.0), ("L", 98.0, 18.0), ("L", 90.0, 18.0), ("Z",))
    return VectorPath(steps, fill="#ff0000")  # type: ignore[arg-type]


@pytest.mark.parametrize("count", [1, 2], ids=["in place", "as a form"])
def test_a_hole_is_a_hairline_to_punch_along_and_never_ink(
    count: int, sheets: Sheets, label: PieceMaker, press: Press, raster: Raster
) -> None:
    piece = label(front=(), holes=(hole(),))
    pdf = press(impose([PieceOrder(piece, count)], sheets["letter-3x10"]))
    text = contents(pdf)
    assert b"/Artifact<</Type/Page>>BDC" in text
    assert b"0 G 0.250 w" in text
    grey = raster(pdf)
    assert grey[pixel(36 + 14), pixel(13.5 + 94)] == 255
    assert grey[pixel(36 + 14), pixel(13.5 + 90) - 2 : pixel(13.5 + 90) + 3].min() < 200


def test_a_sheet_that_is_punched_needs_no_die_line(
    sheets: Sheets, label: PieceMaker, press: Press
) -> None:
    from dataclasses import replace

    punched = replace(sheets["letter-tags-2x4"], punched=True)
    piece = label(front=(), holes=(hole(),))
    assert b"BDC" not in contents(press(impose([PieceOrder(piece, 2)], punched)))


def test_cells_are_outlined_for_a_test_print(
    sheets: Sheets, label: PieceMaker, press: Press, boxes: Callable[..., Any]
) -> None:
    plan = impose([PieceOrder(label(front=()), 1)], sheets["letter-3x10"])
    (page,) = boxes(press(plan, outline=True))
    assert len(page) == 30
    assert page[0] == pytest.approx((13.5, 36, 202.5, 108), abs=0.15)
    assert boxes(press(plan)) == [[]]
