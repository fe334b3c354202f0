"""A photo's colours reach the page as they were meant, whatever space the camera kept them in.

The values expected are worked out here from published matrices, not by the library under test.
"""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageCms

from labeler.drawing.photos import prepare
from labeler.findings import Grade

INCH = 72.0
Vector = tuple[float, float, float]


def printed(path: Path) -> tuple[np.ndarray, list[str]]:
    """Return the printed picture's middle pixel and the rules of what is said about it."""
    image, findings = prepare(path, INCH, INCH)
    with Image.open(io.BytesIO(image.data)) as opened:
        middle = np.atleast_1d(np.asarray(opened)[image.height // 2, image.width // 2])
    assert all(finding.grade is Grade.NOTE for finding in findings)
    return middle.astype(int), [finding.rule for finding in findings]


# ------------------------------------------------------ what the colours should be, by arithmetic

# CSS Color Module Level 4 (W3C), 10.2, 10.5 and section 18, "Sample code for color conversions":
# linear a98-rgb and display-p3 to CIE XYZ (D65), that to linear sRGB, and Bradford's D50 to D65.
A98_TO_XYZ = np.array(
    [
        [573536 / 994567, 263643 / 1420810, 187206 / 994567],
        [591459 / 1989134, 6239551 / 9945670, 374412 / 4972835],
        [53769 / 1989134, 351524 / 4972835, 4929758 / 4972835],
    ]
)
P3_TO_XYZ = np.array(
    [
        [608311 / 1250200, 189793 / 714400, 198249 / 1000160],
        [35783 / 156275, 247089 / 357200, 198249 / 2500400],
        [0, 32229 / 714400, 5220557 / 5000800],
    ]
)
XYZ_TO_SRGB = np.array(
    [
        [12831 / 3959, -329 / 214, -1974 / 3959],
        [-851781 / 878810, 1648619 / 878810, 36519 / 878810],
        [705 / 12673, -2585 / 12673, 705 / 667],
    ]
)
D50_TO_D65 = np.array(
    [
        [0.9554734527042182, -0.023098536874261423, 0.0632593086610217],
        [-0.028369706963208136, 1.0099954580058226, 0.021041398966943008],
        [0.012314001688319899, -0.020507696433477912, 1.3303659366080753],
    ]
)
D50 = np.array([0.3457 / 0.3585, 1.0, (1 - 0.3457 - 0.3585) / 0.3585])


def srgb_curve(linear: np.ndarray) -> np.ndarray:
    """Return sRGB's 8-bit values. Source: IEC 61966-2-1, as CSS Color 4, section 18, gives it."""
    held = np.clip(linear, 0, 1)
    curve = np.where(held > 0.0031308, 1.055 * held ** (1 / 2.4) - 0.055, 12.92 * held)
    return np.asarray(curve * 255)


def srgb_line(encoded: np.ndarray) -> np.ndarray:
    """Return linear light of sRGB's curve, which Display P3 shares. Source: as above."""
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def from_a98(ink: tuple[int, ...]) -> np.ndarray:
    return srgb_curve(XYZ_TO_SRGB @ A98_TO_XYZ @ (np.array(ink) / 255) ** (563 / 256))


def from_p3(ink: tuple[int, ...]) -> np.ndarray:
    return srgb_curve(XYZ_TO_SRGB @ P3_TO_XYZ @ srgb_line(np.array(ink) / 255))


def from_lab(lab: Vector) -> np.ndarray:
    """Return sRGB of CIE Lab (D50). Source: CSS Color 4, section 18, Lab_to_XYZ."""
    light, a, b = lab
    middle = (light + 16) / 116
    f = np.array([middle + a / 500, middle, middle - b / 200])
    epsilon, kappa = 216 / 24389, 24389 / 27
    xyz = np.where(f**3 > epsilon, f**3, (116 * f - 16) / kappa) * D50
    return srgb_curve(XYZ_TO_SRGB @ D50_TO_D65 @ xyz)


# --------------------------------------------------------------------- profiles, made byte by byte


def fixed(*numbers: float) -> bytes:
    """Return s15Fixed16Numbers. Source: ICC.1:2010 (ISO 15076-1:2010), 4.6."""
    return b"".join(struct.pack(">i", round(number * 65536)) for number in numbers)


def profile(kind: bytes, space: bytes, pcs: bytes, tags: dict[bytes, bytes]) -> bytes:
    """Return an ICC profile of version 2. Source: ICC.1:2010, 7.2 (header) and 7.3 (tag table)."""
    tags = {b"desc": b"desc" + bytes(4) + struct.pack(">I", 2) + b"x\0" + bytes(78)} | tags
    start = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for name, content in tags.items():
        table += name + struct.pack(">II", start + len(body), len(content))
        body += content + bytes(-len(content) % 4)
    head = struct.pack(">I4sI", start + len(body), b"none", 0x02400000) + kind + space + pcs
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28)
    head += fixed(0.9642, 1, 0.8249)  # D50, 7.2.16
    return head.ljust(128, b"\0") + table + body


def matrix_profile(to_xyz: np.ndarray, curve: bytes) -> bytes:
    """Return a display's profile: its primaries brought to D50, and one curve for all."""
    at_d50 = np.linalg.inv(D50_TO_D65) @ to_xyz
    tags = {b"wtpt": b"XYZ " + bytes(4) + fixed(0.9642, 1, 0.8249)}
    for place, letter in enumerate(b"rgb"):
        tags[bytes([letter]) + b"XYZ"] = b"XYZ " + bytes(4) + fixed(*at_d50[:, place])
        tags[bytes([letter]) + b"TRC"] = curve
    return profile(b"mntr", b"RGB ", b"XYZ ", tags)


def gamma(exponent: float) -> bytes:
    """Return a curveType of one entry, a u8Fixed8Number. Source: ICC.1:2010, 10.5."""
    return b"curv" + bytes(4) + struct.pack(">IH", 1, round(exponent * 256))


def sampled(curve: Callable[[np.ndarray], np.ndarray]) -> bytes:
    """Return a curveType of 1024 samples. Source: ICC.1:2010, 10.5."""
    heights = np.round(curve(np.linspace(0, 1, 1024)) * 65535).astype(">u2")
    return b"curv" + bytes(4) + struct.pack(">I", 1024) + heights.tobytes()


INKS: dict[str, Vector] = {"C": (60, -20, -25), "M": (50, 45, 5), "Y": (85, 0, 60), "": (100, 0, 0)}


def press_profile() -> bytes:
    """Return a press of our own that prints single inks as `INKS` says, and all else black.

    Source: ICC.1:2010, 10.10 (lut8Type) and table 12 (Lab in 8 bits).
    """
    corners = b""
    for cyan, magenta, yellow, black in np.ndindex(2, 2, 2, 2):
        inks = "C" * cyan + "M" * magenta + "Y" * yellow + "K" * black
        light, a, b = INKS.get(inks, (0, 0, 0))
        corners += bytes([round(light * 255 / 100), round(a) + 128, round(b) + 128])
    plain = bytes(range(256))
    lut = b"mft1" + bytes(4) + bytes([4, 3, 2, 0]) + fixed(1, 0, 0, 0, 1, 0, 0, 0, 1)
    return profile(b"prtr", b"CMYK", b"Lab ", {b"A2B0": lut + plain * 4 + corners + plain * 3})


# ------------------------------------------------------------------------------------------ tests

PIECES = [(120, 60, 50), (90, 110, 60), (200, 190, 150), (40, 60, 130), (128, 128, 128)]


@pytest.mark.parametrize("ink", PIECES)
@pytest.mark.parametrize("suffix", ["jpg", "png", "tif", "webp"])
def test_adobe_rgb_becomes_srgb(tmp_path: Path, ink: tuple[int, ...], suffix: str) -> None:
    path = tmp_path / f"a98.{suffix}"
    icc = matrix_profile(A98_TO_XYZ, gamma(563 / 256))
    best: dict[str, Any] = {"quality": 100, "lossless": True} if suffix in ("jpg", "webp") else {}
    Image.new("RGB", (300, 300), ink).save(path, icc_profile=icc, **best)
    seen, said = printed(path)
    assert np.abs(seen - from_a98(ink)).max() <= 2
    assert said == []


def test_adobe_rgb_as_littlecms_has_it(tmp_path: Path) -> None:
    # LittleCMS 2.14's own transicc with Ghostscript 10's a98.icc and its built-in *sRGB,
    # relative colorimetric: 90 110 60 gives 79.3326 110.4813 53.7181.
    path = tmp_path / "a98.png"
    icc = matrix_profile(A98_TO_XYZ, gamma(563 / 256))
    Image.new("RGB", (300, 300), (90, 110, 60)).save(path, icc_profile=icc)
    assert np.abs(printed(path)[0] - (79.3326, 110.4813, 53.7181)).max() <= 1


@pytest.mark.parametrize("ink", PIECES)
def test_a_telephones_display_p3_becomes_srgb(tmp_path: Path, ink: tuple[int, ...]) -> None:
    path = tmp_path / "p3.png"
    icc = matrix_profile(P3_TO_XYZ, sampled(srgb_line))
    Image.new("RGB", (300, 300), ink).save(path, icc_profile=icc)
    seen, said = printed(path)
    assert np.abs(seen - from_p3(ink)).max() <= 2
    assert said == []


def test_a_profile_is_heeded_beside_transparency_and_in_a_palette(tmp_path: Path) -> None:
    icc = matrix_profile(A98_TO_XYZ, gamma(563 / 256))
    ink = (120, 60, 50)
    cut_out = Image.new("RGBA", (300, 300), (*ink, 255))
    cut_out.paste((0, 0, 0, 0), (0, 0, 300, 100))
    cut_out.save(tmp_path / "cut.png", icc_profile=icc)
    few = Image.new("P", (300, 300), 0)
    few.putpalette([*ink, 0, 0, 0])
    few.save(tmp_path / "few.png", icc_profile=icc)
    assert np.abs(printed(tmp_path / "cut.png")[0] - [*from_a98(ink), 255]).max() <= 2
    assert np.abs(printed(tmp_path / "few.png")[0] - from_a98(ink)).max() <= 2


@pytest.mark.parametrize("suffix", ["jpg", "tif"])
@pytest.mark.parametrize("ink", INKS)
def test_a_studios_cmyk_is_seen_as_its_press_prints_it(
    tmp_path: Path, ink: str, suffix: str
) -> None:
    path = tmp_path / f"press.{suffix}"
    full = tuple(255 * (letter == ink) for letter in "CMYK")
    best: dict[str, Any] = {"quality": 100} if suffix == "jpg" else {}
    Image.new("CMYK", (300, 300), full).save(path, icc_profile=press_profile(), **best)
    seen, said = printed(path)
    assert np.abs(seen - from_lab(INKS[ink])).max() <= 3
    assert said == []


@pytest.mark.parametrize(
    ("inks", "seen"),
    [((0, 0, 0, 0), (255, 255, 255)), ((0, 0, 0, 255), (0, 0, 0)), ((0, 255, 255, 0), (255, 0, 0))],
)
def test_cmyk_without_a_profile_is_guessed_and_says_so(
    tmp_path: Path, inks: tuple[int, ...], seen: tuple[int, ...]
) -> None:
    # Adobe Technical Note 5116 (1992): CMYK in JPEG is stored inverted beside Adobe's marker.
    path = tmp_path / "plain.jpg"
    Image.new("CMYK", (300, 300), inks).save(path, quality=100)
    middle, said = printed(path)
    assert np.abs(middle - seen).max() <= 2
    assert said == ["picture-colour"]


def test_lab_becomes_srgb(tmp_path: Path) -> None:
    # TIFF 6.0 (1992), section 23: L* in 255 steps, a* and b* as signed bytes.
    lab = ImageCms.profileToProfile(
        Image.new("RGB", (300, 300), (120, 90, 60)),
        ImageCms.createProfile("sRGB"),
        ImageCms.createProfile("LAB"),
        outputMode="LAB",
    )
    assert lab is not None
    lab.save(tmp_path / "lab.tif")
    light, a, b = (int(value) for value in np.asarray(lab)[0, 0])
    meant = from_lab((light * 100 / 255, float(np.int8(a)), float(np.int8(b))))
    assert np.abs(printed(tmp_path / "lab.tif")[0] - meant).max() <= 3


def test_grey_stays_grey_and_its_profile_is_heeded(tmp_path: Path) -> None:
    icc = profile(b"mntr", b"GRAY", b"XYZ ", {b"kTRC": gamma(1.0)})
    Image.new("L", (300, 300), 55).save(tmp_path / "linear.png", icc_profile=icc)
    Image.new("L", (300, 300), 55).save(tmp_path / "plain.png")
    linear, said = printed(tmp_path / "linear.png")
    assert linear.shape == (1,)
    assert linear[0] == pytest.approx(srgb_curve(np.array(55 / 255)), abs=2)
    assert said == []
    assert printed(tmp_path / "plain.png")[0].tolist() == [55]


@pytest.mark.parametrize("icc", [b"no profile at all", press_profile(), bytes(200)])
def test_a_profile_that_does_not_fit_is_passed_over_and_told(tmp_path: Path, icc: bytes) -> None:
    path = tmp_path / "odd.png"
    Image.new("RGB", (300, 300), (90, 110, 60)).save(path, icc_profile=icc)
    seen, said = printed(path)
    assert seen.tolist() == [90, 110, 60]
    assert said == ["picture-colour"]


def png_of_16_bits(
    kind: int, pixel: tuple[int, ...], path: Path, clear: bytes | None = None
) -> Path:
    """Write a PNG of 16 bits a channel. Source: PNG (W3C, third edition), 5.3, 11.2.1 and 7.1."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        )

    row = b"\0" + struct.pack(f">{len(pixel)}H", *pixel) * 300
    head = struct.pack(">IIBBBBB", 300, 300, 16, kind, 0, 0, 0)
    body = chunk(b"IHDR", head) + (chunk(b"tRNS", clear) if clear else b"")
    body += chunk(b"IDAT", zlib.compress(row * 300)) + chunk(b"IEND", b"")
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + body)
    return path


@pytest.mark.parametrize(
    ("kind", "pixel", "seen"),
    [
        (0, (0x8080,), [128]),
        (2, (0x1010, 0x8080, 0xF0F0), [16, 128, 240]),
        (4, (0x4040, 0x8080), [64, 64, 64, 128]),
        (6, (0x1010, 0x8080, 0xF0F0, 0x8080), [16, 128, 240, 128]),
    ],
)
def test_sixteen_bits_become_eight(
    tmp_path: Path, kind: int, pixel: tuple[int, ...], seen: list[int]
) -> None:
    middle, said = printed(png_of_16_bits(kind, pixel, tmp_path / "deep.png"))
    assert np.abs(middle - seen).max() <= 1
    assert said == []


@pytest.mark.parametrize(("clear", "seen"), [(b"\x80\x80", 0), (b"\x80\x81", 255)])
def test_one_deep_grey_may_be_clear(tmp_path: Path, clear: bytes, seen: int) -> None:
    # PNG (W3C, third edition), 11.3.1.1: only the very grey that is named shows what is below.
    path = png_of_16_bits(0, (0x8080,), tmp_path / "clear.png", clear)
    image, _ = prepare(path, INCH, INCH)
    with Image.open(io.BytesIO(image.data)) as opened:
        assert opened.convert("LA").getpixel((150, 150)) == (128 * (seen > 0), seen)


def test_a_deep_grey_tiff_keeps_its_greys(tmp_path: Path) -> None:
    slope = np.tile(np.linspace(0, 65535, 256).astype(np.uint16), (256, 1))
    Image.fromarray(slope).save(tmp_path / "deep.tif")
    image, _ = prepare(tmp_path / "deep.tif", INCH, INCH)
    with Image.open(io.BytesIO(image.data)) as opened:
        assert np.abs(np.asarray(opened)[100].astype(int) - np.arange(256)).max() <= 2


def test_a_scan_of_one_bit_is_read_as_black_and_white(tmp_path: Path) -> None:
    page = Image.new("1", (600, 600), 1)
    page.paste(0, (0, 0, 600, 300))
    page.save(tmp_path / "fax.tif", compression="group4")
    image, _ = prepare(tmp_path / "fax.tif", INCH, INCH)
    with Image.open(io.BytesIO(image.data)) as opened:
        grey = np.asarray(opened)
    assert grey[20, 150] == 0
    assert grey[280, 150] == 255
