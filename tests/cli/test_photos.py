"""A photo that can't be printed is told by its file, by check and by the press alike."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from PIL import Image

Refused = Callable[..., str]
Retold = Callable[[str, str], Path]
Spoil = Callable[[Mapping[str, bytes | str | None]], Path]
Cli = Callable[..., tuple[int, str, str]]


def picture(width: int, height: int, form: str = "JPEG", mode: str = "RGB") -> bytes:
    """Return a plain picture's file."""
    file = io.BytesIO()
    Image.new(mode, (width, height)).save(file, form)
    return file.getvalue()


BROKEN: dict[str, tuple[Callable[[], bytes], str, str]] = {
    "text": (lambda: b"just a text file, no photo", "picture-kind", "just a text file"),
    "empty": (lambda: b"", "picture-broken", "empty"),
    "PDF": (lambda: b"%PDF-1.7\n", "picture-broken", "PDF drawing"),
    "GIF": (lambda: picture(9, 9, "GIF"), "picture-kind", "a GIF"),
    "cut short": (lambda: picture(900, 600)[:3_000], "picture-broken", "damaged"),
    "head only": (lambda: picture(900, 600)[:20], "picture-", "first.jpg"),
    "enormous": (lambda: picture(14_000, 14_000, "PNG", "1"), "picture-enormous", "100,000,000"),
}


@pytest.fixture
def shown(retold: Retold, spoil: Spoil) -> Callable[[bytes], Path]:
    """Return a function that makes a file the photo of the starter's pattern."""

    def show(content: bytes) -> Path:
        retold('# photo = "first.jpg"', 'photo = "first.jpg"')
        return spoil({"photos/first.jpg": content})

    return show


@pytest.mark.daily("text")
@pytest.mark.parametrize("kind", BROKEN)
def test_a_broken_photo_is_not_printed(
    run_cli: Cli, shown: Callable[[bytes], Path], tmp_path: Path, kind: str
) -> None:
    content, rule, says = BROKEN[kind]
    line = shown(content())
    status, out, err = run_cli("--catalog", line, "cards", "--out", tmp_path / "x.pdf")
    assert (status, out) == (2, "")
    assert err.count("stop  ") == 1
    for part in (rule, says, "first.jpg"):
        assert part in err
    assert "Traceback" not in err
    assert not list(tmp_path.glob("*x.pdf*"))


@pytest.mark.parametrize("kind", BROKEN)
def test_check_finds_a_broken_photo_before_the_press_does(
    run_cli: Cli, shown: Callable[[bytes], Path], kind: str
) -> None:
    content, rule, _ = BROKEN[kind]
    status, out, _ = run_cli("--catalog", shown(content()), "check")
    assert status == 1
    assert "4 products; 1 to put right" in out
    assert rule in out


@pytest.mark.daily
def test_a_missing_photo_names_the_nearest(
    refused: Refused, retold: Retold, spoil: Spoil, tmp_path: Path
) -> None:
    retold('# photo = "first.jpg"', 'photo = "frist.jpg"')
    line = spoil({"photos/first.jpg": picture(900, 600)})
    refused(
        "--catalog", line, "cards", "--out", tmp_path / "x.pdf", rule="photo-missing",
        says="Did you mean 'first.jpg'?",
    )  # fmt: skip


def test_a_photo_too_coarse_is_printed_and_pointed_out(
    run_cli: Cli, shown: Callable[[bytes], Path], tmp_path: Path
) -> None:
    line = shown(picture(60, 40))
    status, _, err = run_cli("--catalog", line, "cards", "--out", tmp_path / "x.pdf")
    assert status == 0
    assert err.count("[picture-coarse]") == 1
    assert (tmp_path / "x.pdf").read_bytes().startswith(b"%PDF-")
