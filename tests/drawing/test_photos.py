"""Photos come out upright, at the right size and with their transparency, whatever the camera."""

from __future__ import annotations

import hashlib
import io
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms

from labeler import marks
from labeler.drawing.photos import Crop, plan, prepare, proportion
from labeler.findings import Grade

INCH = 72.0
FORMATS = ("jpg", "png", "webp", "tif")


def saved(picture: Image.Image, path: Path, **options: Any) -> Path:
    """Write a picture as a camera or a program would, at its best quality."""
    best: dict[str, dict[str, Any]] = {
        ".jpg": {"quality": 98, "subsampling": 0},
        ".webp": {"lossless": True},
    }
    picture.save(path, **(best.get(path.suffix, {}) | options))
    return path


def pixels(image: marks.Image, mode: str = "RGB") -> np.ndarray:
    with Image.open(io.BytesIO(image.data)) as opened:
        assert opened.size == (image.width, image.height)
        return np.asarray(opened.convert(mode)).astype(int)


def gradient(width: int, height: int) -> Image.Image:
    down, across = np.mgrid[0:height, 0:width]
    layers = (across * 255 // width, down * 255 // height, (across * 7 + down * 3) % 256)
    return Image.fromarray(np.stack(layers, -1).astype(np.uint8))


# TIFF 6.0 (1992), section 8, Orientation: on which visual side the 0th row and the 0th column lie.
# CIPA DC-008-2012 (Exif 2.3), 4.6.4 A, Orientation, has the same table.
SIDES = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}
OPPOSITE = {"top": "bottom", "bottom": "top", "left": "right", "right": "left"}
CORNERS = {
    (0, 0): (200, 30, 30),
    (0, 1): (30, 160, 30),
    (1, 0): (30, 30, 200),
    (1, 1): (220, 220, 60),
}


@pytest.mark.parametrize("suffix", FORMATS)
@pytest.mark.parametrize("orientation", SIDES)
def test_a_camera_held_any_way_gives_an_upright_picture(
    tmp_path: Path, suffix: str, orientation: int
) -> None:
    stored = np.zeros((40, 60, 3), np.uint8)
    for (row, column), ink in CORNERS.items():
        stored[row * 20 : row * 20 + 20, column * 30 : column * 30 + 30] = ink
    exif = Image.Exif()
    exif[0x0112] = orientation
    path = saved(Image.fromarray(stored), tmp_path / f"held.{suffix}", exif=exif)

    before = proportion(path)
    image, _ = prepare(path, INCH, INCH)

    seen = pixels(image)
    assert seen.shape[:2] == ((40, 60) if orientation <= 4 else (60, 40))
    assert before == pytest.approx(image.width / image.height)
    for (row, column), ink in CORNERS.items():
        row_side, column_side = SIDES[orientation]
        sides = {
            row_side if row == 0 else OPPOSITE[row_side],
            column_side if column == 0 else OPPOSITE[column_side],
        }
        down = 5 if "top" in sides else seen.shape[0] - 6
        across = 5 if "left" in sides else seen.shape[1] - 6
        assert np.abs(seen[down, across] - ink).max() <= 3


def test_a_damaged_orientation_is_no_orientation(tmp_path: Path) -> None:
    path = saved(gradient(60, 40), tmp_path / "odd.jpg", exif=b"Exif\0\0II*\0\xff\xff\xff\xff")
    image, _ = prepare(path, INCH, INCH)
    assert (image.width, image.height) == (60, 40)


@pytest.mark.siege
@pytest.mark.parametrize("suffix", FORMATS)
def test_a_large_picture_is_brought_down_to_300_dpi(tmp_path: Path, suffix: str) -> None:
    path = saved(gradient(2400, 1600), tmp_path / f"large.{suffix}")
    image, findings = prepare(path, 2 * INCH, 2 * INCH)
    assert (image.width, image.height) == (600, 400)
    assert findings == ()
    assert len(image.data) < 400_000


def test_a_small_picture_is_never_enlarged(tmp_path: Path) -> None:
    path = saved(gradient(240, 160), tmp_path / "small.png")
    image, _ = prepare(path, INCH, INCH)
    assert (image.width, image.height) == (240, 160)


@pytest.mark.parametrize(("width", "dpi"), [(300, 150), (299, 149), (150, 75)])
def test_a_coarse_picture_is_told_with_its_dpi(tmp_path: Path, width: int, dpi: int) -> None:
    path = saved(gradient(width, width // 2), tmp_path / "coarse.png")
    _, findings = prepare(path, 2 * INCH, 2 * INCH)
    if dpi >= 150:
        assert findings == ()
        return
    (finding,) = findings
    assert finding.rule == "picture-coarse"
    assert finding.grade is Grade.FIX
    assert finding.place.file == str(path)
    assert finding.found == f"{dpi} dpi"
    assert "150" in finding.expected
    assert "300 × " in finding.hint


def test_the_picture_asked_for_by_the_finding_is_fine_enough(tmp_path: Path) -> None:
    _, (finding,) = prepare(saved(gradient(111, 77), tmp_path / "a.png"), 2 * INCH, INCH)
    words = finding.hint.split()
    wide, high = int(words[3]), int(words[5])
    assert prepare(saved(gradient(wide, high), tmp_path / "b.png"), 2 * INCH, INCH)[1] == ()


def test_cover_cuts_from_the_middle(tmp_path: Path) -> None:
    stripes = Image.new("RGB", (900, 300), (255, 255, 255))
    stripes.paste((200, 0, 0), (0, 0, 290, 300))
    stripes.paste((0, 0, 200), (610, 0, 900, 300))
    path = saved(stripes, tmp_path / "stripes.png")

    image, findings = prepare(path, INCH, INCH, "cover")

    assert (image.width, image.height) == (300, 300)
    assert findings == ()
    assert (pixels(image)[:, 2:-2] == 255).all()


def test_cover_cuts_a_turned_picture_along_the_side_that_is_seen(tmp_path: Path) -> None:
    stripes = Image.new("RGB", (900, 300), (255, 255, 255))
    stripes.paste((200, 0, 0), (0, 0, 290, 300))
    stripes.paste((0, 0, 200), (610, 0, 900, 300))
    exif = Image.Exif()
    exif[0x0112] = 6
    path = saved(stripes, tmp_path / "turned.png", exif=exif)
    image, _ = prepare(path, INCH, 2 * INCH, "cover")
    seen = pixels(image)
    assert seen.shape == (600, 300, 3)
    assert (seen[10, 150] == (200, 0, 0)).all()
    assert (seen[300, 150] == 255).all()
    assert (seen[590, 150] == (0, 0, 200)).all()


@pytest.mark.parametrize("suffix", ["png", "webp", "tif"])
def test_what_shows_through_still_does_and_has_no_dark_rim(tmp_path: Path, suffix: str) -> None:
    cut_out = Image.new("RGBA", (1200, 1200), (0, 0, 0, 0))
    cut_out.paste((230, 180, 40, 255), (300, 300, 900, 900))
    path = saved(cut_out, tmp_path / f"cut.{suffix}")

    image, _ = prepare(path, INCH, INCH)

    seen = pixels(image, "RGBA")
    assert image.data.startswith(b"\x89PNG")
    assert seen[5, 5, 3] == 0
    assert tuple(seen[150, 150]) == (230, 180, 40, 255)
    rim = seen[(seen[..., 3] > 8)]
    assert np.abs(rim[:, :3] - (230, 180, 40)).max() <= 14


def test_an_alpha_that_hides_nothing_is_left_out(tmp_path: Path) -> None:
    whole = gradient(400, 400)
    whole.putalpha(255)
    image, _ = prepare(saved(whole, tmp_path / "whole.png"), INCH, INCH)
    with Image.open(io.BytesIO(image.data)) as opened:
        assert opened.mode == "RGB"
        assert opened.format == "JPEG"


@pytest.mark.parametrize("transparency", [0, b"\0\xff"])
def test_a_palette_keeps_its_transparent_ink(tmp_path: Path, transparency: int | bytes) -> None:
    flat = Image.new("P", (400, 400), 1)
    flat.putpalette([0, 0, 0, 40, 90, 150])
    flat.paste(0, (0, 0, 400, 200))
    path = saved(flat, tmp_path / "palette.png", transparency=transparency)
    seen = pixels(prepare(path, INCH, INCH)[0], "RGBA")
    assert seen[20, 150, 3] == 0
    assert tuple(seen[280, 150]) == (40, 90, 150, 255)


def test_a_drawing_of_few_colours_loses_nothing(tmp_path: Path) -> None:
    drawing = Image.new("RGB", (300, 300), (250, 250, 245))
    drawing.paste((20, 60, 40), (50, 50, 250, 80))
    image, _ = prepare(saved(drawing, tmp_path / "drawing.png"), INCH, INCH)
    assert image.data.startswith(b"\x89PNG")
    assert (pixels(image) == np.asarray(drawing)).all()


def test_a_photograph_becomes_a_jpeg_that_keeps_all_its_colour(tmp_path: Path) -> None:
    image, _ = prepare(saved(gradient(600, 600), tmp_path / "photo.png"), 2 * INCH, 2 * INCH)
    with Image.open(io.BytesIO(image.data)) as opened:
        assert opened.format == "JPEG"
        # Horizontal and vertical sampling of each component: ITU-T T.81 (1992), B.2.2.
        assert [layer[1:3] for layer in opened.layer] == [(1, 1)] * 3  # type: ignore[attr-defined]
    assert np.abs(pixels(image)[..., :2] - np.asarray(gradient(600, 600))[..., :2]).mean() < 4


@pytest.mark.siege
def test_a_jpeg_read_at_a_fraction_looks_like_one_read_in_full(tmp_path: Path) -> None:
    soft = gradient(150, 100).resize((3000, 2000), Image.Resampling.BICUBIC)
    as_jpeg, _ = prepare(saved(soft, tmp_path / "soft.jpg"), INCH, INCH)
    as_png, _ = prepare(saved(soft, tmp_path / "soft.png"), INCH, INCH)
    assert np.abs(pixels(as_jpeg) - pixels(as_png)).mean() < 2


@pytest.mark.siege
def test_shrinking_in_bands_leaves_no_seam(tmp_path: Path) -> None:
    slope = gradient(2000, 3001)
    slope.paste(slope.getchannel(1), (0, 0))
    image, _ = prepare(saved(slope, tmp_path / "slope.png"), 60.0, 90.0)
    whole = slope.resize((image.width, image.height), Image.Resampling.LANCZOS)
    seam = np.abs(pixels(image) - np.asarray(whole))
    assert seam.max() <= 3


def test_the_same_picture_gives_the_same_bytes_under_any_name(tmp_path: Path) -> None:
    first = saved(gradient(900, 600), tmp_path / "first.jpg")
    second = Path(shutil.copy(first, tmp_path / "second.jpg"))
    one, _ = prepare(first, INCH, INCH)
    two, _ = prepare(second, INCH, INCH)
    assert one == two
    assert one.key == hashlib.sha256(one.data).hexdigest()


def test_a_picture_is_prepared_once_until_it_changes(tmp_path: Path) -> None:
    path = saved(gradient(300, 300), tmp_path / "kept.png")
    before, _ = prepare(path, INCH, INCH)
    assert prepare(path, INCH, INCH)[0] is before
    saved(Image.new("RGB", (310, 300), (9, 9, 9)), path)
    assert prepare(path, INCH, INCH)[0] != before


def test_nothing_of_the_camera_goes_into_print(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x010F] = "A camera that tells where you live"
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    path = saved(gradient(300, 300), tmp_path / "a.jpg", exif=exif, icc_profile=profile)
    image, _ = prepare(path, INCH, INCH)
    assert b"camera" not in image.data
    assert b"ICC_PROFILE" not in image.data


@pytest.mark.parametrize("size", [(0.0, 10.0), (10.0, -1.0), (float("nan"), 1.0)])
def test_a_box_without_size_is_refused(tmp_path: Path, size: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="box"):
        prepare(tmp_path / "any.png", *size)


sides = st.integers(1, 20_000)
inches = st.floats(0.1, 20)


@given(wide=sides, high=sides, box_wide=inches, box_high=inches)
def test_contain_fits_and_cover_fills(
    wide: int, high: int, box_wide: float, box_high: float
) -> None:
    box = (box_wide * INCH, box_high * INCH)
    for crop in ("contain", "cover"):
        mode: Crop = "contain" if crop == "contain" else "cover"
        made = plan((wide, high), box, mode)
        left, top, right, bottom = made.part
        used = ((right - left) * wide, (bottom - top) * high)
        printed = (used[0] / made.dpi, used[1] / made.dpi)
        assert left == pytest.approx(1 - right)
        assert top == pytest.approx(1 - bottom)
        assert made.size[0] <= wide
        assert made.size[1] <= high
        if crop == "cover":
            assert printed == pytest.approx((box_wide, box_high))
        else:
            assert used == pytest.approx((wide, high))
            assert max(printed[0] / box_wide, printed[1] / box_high) == pytest.approx(1)
        finest = [side / inch for side, inch in zip(made.size, printed, strict=True) if side > 1]
        assert all(dpi <= 300 + 0.6 / min(printed) for dpi in finest)
