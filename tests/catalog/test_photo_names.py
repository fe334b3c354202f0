"""A photo is found by what the maker calls it, and never by a guess."""

from __future__ import annotations

import pytest

from labeler.catalog.photo_names import Photos

FILES = (
    "IMG_2231.jpg", "slough-hopper_muskrat.jpg", "SloughHopperBlackRed 2.png", "black (1).jpg",
    "reed.jpg", "sub/Reed Ghost Olive close-up.jpeg", "olive.jpg", "twice.jpg", "twice.png",
    "sloughhopperghost.webp", "slough hopper black blue.jpg",
)  # fmt: skip
HOPPER, REED = "Slough Hopper", "Reed Ghost"
LOOKS = [
    (HOPPER, "Muskrat"), (HOPPER, "Black Red"), (HOPPER, "Black"), (HOPPER, "Ghost"),
    (REED, "Olive"), (HOPPER, "Olive"),
]  # fmt: skip


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> Photos:
    folder = tmp_path_factory.mktemp("line")
    for name in FILES:
        path = folder / "photos" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
    return Photos(folder)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("IMG_2231.jpg", "IMG_2231.jpg"),
        ("img_2231.HEIC", "IMG_2231.jpg"),
        ("IMG_2231", "IMG_2231.jpg"),
        (r"C:\Users\me\Pictures\IMG_2231.JPG", "IMG_2231.jpg"),
        ("https://cdn.example.com/files/img_2231.jpg?v=17", "IMG_2231.jpg"),
        ("Reed Ghost Olive close-up", "sub/Reed Ghost Olive close-up.jpeg"),
        ("twice", "twice"),
        ("twice.png", "twice.png"),
        ("IMG_22", "IMG_22"),
    ],
)
def test_a_cell_finds_its_photo_in_any_case_and_without_its_ending(
    photos: Photos, text: str, found: str
) -> None:
    assert photos.meant(text) == found


def test_photos_named_after_pattern_and_colour_are_theirs_and_no_other(photos: Photos) -> None:
    assert photos.of_looks(LOOKS) == {
        (HOPPER, "Muskrat"): "slough-hopper_muskrat.jpg",
        (HOPPER, "Black Red"): "SloughHopperBlackRed 2.png",
        (HOPPER, "Black"): "black (1).jpg",
        (HOPPER, "Ghost"): "sloughhopperghost.webp",
        (REED, "Olive"): "sub/Reed Ghost Olive close-up.jpeg",
    }


def test_a_name_without_a_word_is_nobodys(photos: Photos) -> None:
    assert photos.of_looks([("Jig", "12")]) == {}
