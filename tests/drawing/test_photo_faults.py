"""A file that is no picture, or a picture that is broken or enormous, is one clear finding."""

from __future__ import annotations

import io
import os
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from labeler.drawing.photos import prepare
from labeler.findings import Finding, Grade, LabelerError

INCH = 72.0


def fault(path: Path) -> Finding:
    """Return the one finding that is said of a picture which can't be printed."""
    with pytest.raises(LabelerError) as caught:
        prepare(path, INCH, INCH)
    assert caught.value.exit_status == 2
    (finding,) = caught.value.findings
    assert finding.grade is Grade.STOP
    assert finding.place.file == str(path)
    assert "\n" not in finding.message
    return finding


def whole(kind: str, **options: int) -> bytes:
    """Return a picture's file, full of detail so that no byte of it is idle."""
    noise = np.random.default_rng(7).integers(0, 256, (64, 80, 3), np.uint8)
    file = io.BytesIO()
    Image.fromarray(noise).save(file, kind, **options)
    return file.getvalue()


def chunk(name: bytes, body: bytes) -> bytes:
    """Return a PNG chunk. Source: PNG (W3C, third edition), 5.3."""
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def png_that_claims(width: int, height: int) -> bytes:
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    idat = zlib.compress(bytes(1000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", idat) + chunk(b"IEND", b"")


def test_a_picture_that_is_not_there_is_missing(tmp_path: Path) -> None:
    assert fault(tmp_path / "gone.jpg").rule == "picture-missing"


def test_a_folder_is_no_picture(tmp_path: Path) -> None:
    assert fault(tmp_path).rule == "picture-missing"


def test_a_link_that_leads_to_itself_is_missing(tmp_path: Path) -> None:
    loop = tmp_path / "loop.jpg"
    loop.symlink_to(loop)
    assert fault(loop).rule == "picture-missing"


def test_a_name_that_no_file_can_have_is_missing() -> None:
    assert fault(Path("no\0name.jpg")).rule == "picture-missing"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_picture_that_may_not_be_read_is_told(tmp_path: Path) -> None:
    path = tmp_path / "locked.jpg"
    path.write_bytes(whole("JPEG"))
    path.chmod(0)
    assert "cannot be read" in fault(path).message


def test_an_empty_file_is_empty(tmp_path: Path) -> None:
    path = tmp_path / "empty.jpg"
    path.touch()
    assert "empty" in fault(path).message


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (
            b"Dear Sir, the jigs that you sent\nlast week",
            "text that begins with 'Dear Sir, the jigs",
        ),
        ("Écluse\r\nà l'été".encode(), "text that begins with 'Écluse à l'"),
        (b"\0\0\0\x18ftypheic\0\0\0\0", "a damaged HEIC photograph"),
        (b"\0\0\0\x18ftypavif\0\0\0\0", "an AVIF picture"),
        (b"GIF89a" + bytes(40), "a GIF picture"),
        (b"\x01\x02\x03\xfe\xff\x00\x99\x88", "bytes that begin with 01 02 03 fe"),
    ],
)
def test_what_is_no_picture_is_told_by_its_look(tmp_path: Path, content: bytes, found: str) -> None:
    path = tmp_path / "renamed.jpg"
    path.write_bytes(content)
    finding = fault(path)
    assert finding.rule == "picture-kind"
    assert found in finding.found.replace('"', "'")
    assert "JPEG, PNG, WebP, TIFF or HEIC picture, or a drawing in SVG or PDF" in finding.expected


def test_a_picture_under_the_wrong_ending_is_still_one(tmp_path: Path) -> None:
    path = tmp_path / "really-a.png"
    path.write_bytes(whole("JPEG"))
    assert prepare(path, 18, 18)[0].width == 75


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
@pytest.mark.parametrize("kept", [0.1, 0.5, 0.9])
def test_a_picture_that_breaks_off_is_broken(tmp_path: Path, kind: str, kept: float) -> None:
    path = tmp_path / "half"
    content = whole(kind)
    path.write_bytes(content[: int(len(content) * kept)])
    assert fault(path).rule in ("picture-broken", "picture-kind")


def test_a_broken_picture_says_how_large_it_meant_to_be(tmp_path: Path) -> None:
    path = tmp_path / "half.jpg"
    content = whole("JPEG")
    path.write_bytes(content[: len(content) // 2])
    assert "JPEG, 80 × 64 pixels" in fault(path).found


@pytest.mark.parametrize("side", [10_001, 30_000, 2_000_000])
def test_a_picture_that_would_fill_the_memory_is_never_opened(tmp_path: Path, side: int) -> None:
    path = tmp_path / "bomb.png"
    path.write_bytes(png_that_claims(side, 10_000))
    finding = fault(path)
    assert finding.rule == "picture-enormous"
    assert "100 megapixels" in finding.expected


def test_one_hundred_megapixels_are_not_too_many(tmp_path: Path) -> None:
    path = tmp_path / "large.png"
    path.write_bytes(png_that_claims(10_000, 10_000))
    assert fault(path).rule == "picture-broken"


def test_a_file_of_half_a_gigabyte_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "sparse.tif"
    with path.open("wb") as file:
        file.truncate(500_000_001)
    assert "MB" in fault(path).found


def test_a_jpeg_of_a_thousand_scans_is_refused(tmp_path: Path) -> None:
    # ITU-T T.81 (1992), G.1: a progressive picture is sent in as many scans as its encoder likes.
    content = whole("JPEG", progressive=True)
    last = content.rindex(b"\xff\xda")
    scan = content[last:-2]
    path = tmp_path / "scans.jpg"
    path.write_bytes(content[:-2] + scan * 1000 + b"\xff\xd9")
    finding = fault(path)
    assert finding.rule == "picture-enormous"
    assert "scans" in finding.found


def test_scans_of_a_film_behind_the_picture_do_not_count(tmp_path: Path) -> None:
    path = tmp_path / "motion.jpg"
    path.write_bytes(whole("JPEG") + b"\xff\xda\0\x02" * 1000)
    assert prepare(path, 18, 18)[0].width == 75


def test_a_picture_of_measurements_is_no_photograph(tmp_path: Path) -> None:
    path = tmp_path / "depth.tif"
    Image.new("F", (30, 30), 0.5).save(path)
    finding = fault(path)
    assert finding.rule == "picture-kind"
    assert "measurements" in finding.message


GOOD = {kind: whole(kind) for kind in ("JPEG", "PNG", "WEBP", "TIFF")}


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    kind=st.sampled_from(sorted(GOOD)),
    changes=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 255)), min_size=1, max_size=8),
    head_only=st.booleans(),
    kept=st.floats(0.02, 1),
)
def test_any_damage_gives_a_picture_or_a_finding(
    tmp_path: Path, kind: str, changes: list[tuple[float, int]], head_only: bool, kept: float
) -> None:
    content = bytearray(GOOD[kind])
    for share, value in changes:
        reach = 200 if head_only else len(content) - 1
        content[int(share * reach)] = value
    path = tmp_path / "any"
    path.unlink(missing_ok=True)
    path.write_bytes(content[: max(1, int(len(content) * kept))])
    said: tuple[Finding, ...] = ()
    try:
        image, _ = prepare(path, 18, 18)
    except LabelerError as error:
        said = error.findings
    assert len(said) == 1 or image.width * image.height > 0


LARGEST = """
import resource, sys
from pathlib import Path
from PIL import Image
from labeler.drawing.photos import prepare
path = Path(sys.argv[1])
prepare(path.with_name("small.jpg"), 216, 144)
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
prepare(path, 216, 144)
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
"""


@pytest.mark.siege
@pytest.mark.parametrize(("name", "most"), [("large.jpg", 100), ("large.png", 500)])
def test_the_largest_photo_allowed_fits_in_a_small_machine(
    tmp_path: Path, name: str, most: int
) -> None:
    Image.new("RGB", (300, 200), (90, 80, 40)).save(tmp_path / "small.jpg")
    Image.new("RGB", (12_000, 8_300), (90, 80, 40)).save(tmp_path / name)
    done = subprocess.run(
        [sys.executable, "-c", LARGEST, str(tmp_path / name)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert int(done.stdout) <= most, "megabytes"
