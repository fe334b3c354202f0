"""A telephone's own photographs are read, upright and in their colours, and give nothing away."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from labeler.drawing.photos import prepare, proportion
from labeler.findings import LabelerError
from tests.drawing.heic import QUADRANTS, heic, with_place


def corners(data: bytes) -> list[tuple[int, ...]]:
    """Return the colour in the middle of each quarter, row by row."""
    pixels = np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)
    high, wide = pixels.shape[:2]
    spots = [(y, x) for y in (high // 4, 3 * high // 4) for x in (wide // 4, 3 * wide // 4)]
    return [tuple(pixels[spot]) for spot in spots]


@pytest.mark.parametrize("exif", [b"", with_place()], ids=["bare", "noted"])
@pytest.mark.parametrize("turns", range(4))
def test_it_stands_as_its_container_says_and_is_turned_once(
    tmp_path: Path, turns: int, exif: bytes
) -> None:
    path = tmp_path / "IMG_2231.HEIC"
    path.write_bytes(heic(turns, exif))
    size = (48, 64) if turns % 2 else (64, 48)
    image, findings = prepare(path, 18, 18)
    assert not findings
    assert proportion(path) == pytest.approx(size[0] / size[1])
    assert (image.width < image.height) == (size[0] < size[1])
    whole, _ = prepare(path, 72, 72)
    assert (whole.width, whole.height) == size
    red, green, blue, yellow = QUADRANTS
    wanted = (
        (red, green, blue, yellow), (green, yellow, red, blue), (yellow, blue, green, red),
        (blue, red, yellow, green),
    )[turns]  # fmt: skip
    assert np.abs(np.subtract(corners(whole.data), wanted)).max() < 12


def test_neither_camera_nor_place_is_in_what_is_printed(tmp_path: Path) -> None:
    path = tmp_path / "IMG_2231.HEIC"
    path.write_bytes(heic(exif=with_place()))
    assert b"Sample Camera" in path.read_bytes()
    data = prepare(path, 72, 72)[0].data
    for told in (b"Exif", b"Sample Camera", b"eXIf", b"http://ns.adobe.com/xap"):
        assert told not in data
    assert not dict(Image.open(io.BytesIO(data)).getexif())


@pytest.mark.parametrize("kept", [40, 0.4, 0.8])
def test_one_that_breaks_off_is_told(tmp_path: Path, kept: float) -> None:
    whole = heic(exif=with_place())
    path = tmp_path / "half.heic"
    path.write_bytes(whole[: int(kept if kept > 1 else kept * len(whole))])
    with pytest.raises(LabelerError) as refused:
        prepare(path, 72, 72)
    (finding,) = refused.value.findings
    assert finding.rule in ("picture-broken", "picture-kind")
    assert "HEI" in finding.found
