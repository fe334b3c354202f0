"""Recipes proposed from a colour's name and from a photo."""

from __future__ import annotations

import colorsys
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageColor, ImageDraw
from reportlab.lib import colors

from labeler.drawing.recipes import (
    STRANDS,
    Shade,
    propose_recipe,
    shades_of_name,
    shades_of_photo,
)
from labeler.drawing.subject import figures_of
from labeler.findings import LabelerError

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog" / "photos" / "reedmace-delft-craw.jpg"


@pytest.mark.parametrize(
    ("name", "shades"),
    [
        ("Black & Blue", ["black", "blue"]),
        ("black/blue/black", ["black", "blue"]),
        ("PB&J", ["brown", "purple"]),
        ("PBJ", ["brown", "purple"]),
        ("Fire Tiger", ["chartreuse", "orange", "green"]),
        ("firetiger", ["chartreuse", "orange", "green"]),
        ("Green Pumpkin Craws", ["green pumpkin", "brown", "orange"]),
        ("Brown over Blue, orange belly", ["brown", "blue", "orange"]),
        ("Dark Olive-Green", ["dark olive green"]),
        ("Teaspoon Silver", ["silver"]),
        ("Duckweed", []),
        ("", []),
    ],
)
def test_a_name_is_read_by_the_trade_s_words_and_those_of_css(name: str, shades: list[str]) -> None:
    assert [shade.name for shade in shades_of_name(name)] == shades


def test_named_colours_are_those_of_css() -> None:
    """W3C, CSS Color Module Level 4, 6.1; held against reportlab's table, made by others."""
    known = {
        name.lower(): colour
        for name, colour in vars(colors).items()
        if isinstance(colour, colors.Color) and name.isalpha()
    }
    trade = {re.sub(r"[^a-z]", "", name) for name in figures_of("shades")["shades"]}
    found = 0
    for name in ("darkolivegreen", "peru", "steelblue", "indigo", "tan", "goldenrod", "crimson",
                 "teal", "khaki", "saddlebrown", "olive", "lightgoldenrodyellow"):  # fmt: skip
        assert name not in trade
        (shade,) = shades_of_name(name)
        assert shade.ink == f"#{known[name].hexval()[2:]}"
        found += 1
    assert found == 12


def test_strands_of_a_proposal_come_to_two_tabs() -> None:
    for name in ("black", "black blue", "fire tiger", "bluegill"):
        layers = propose_recipe(name, material="silicone")
        assert abs(sum(layer.strands for layer in layers) - STRANDS) <= 1
        assert {layer.material for layer in layers} == {"silicone"}


def test_every_shade_of_the_trade_makes_layers() -> None:
    for name in figures_of("shades")["shades"]:
        layers = propose_recipe(name, material="silicone")
        assert layers, name
        assert all(re.fullmatch("#[0-9a-f]{6}", layer.ink) for layer in layers)


@given(st.text(max_size=40))
def test_any_name_gives_layers_or_none(name: str) -> None:
    layers = propose_recipe(name, material="silicone")
    assert len({layer.shade for layer in layers}) == len(layers)
    assert all(re.fullmatch("#[0-9a-f]{6}", layer.ink) for layer in layers)


def hue_of(shade: Shade) -> float:
    return colorsys.rgb_to_hsv(*(part / 255 for part in ImageColor.getrgb(shade.ink)[:3]))[0]


def photo_of(folder: Path, inks: list[str], ground: str, light: int = 30) -> Path:
    """Return a photo of a skirt of strands on a table that is lit from one side."""
    wide, high = 900, 600
    picture = Image.new("RGB", (wide, high), ground)
    draw = ImageDraw.Draw(picture)
    draw.ellipse((150, 240, 290, 360), fill="#8d8f91")  # a bare head
    for number in range(90):
        ink = inks[number // 3 % len(inks)]
        y = 170 + number * 3
        draw.line((270, 300 + (number - 45) // 3, 760, y), fill=ink, width=4)
    lit = np.asarray(picture, np.int16) + np.linspace(-light, light, wide)[None, :, None]
    noise = np.random.default_rng(7).normal(0, 3, lit.shape)
    file = folder / "photo.png"
    Image.fromarray(np.clip(lit + noise, 0, 255).astype(np.uint8)).save(file)
    return file


@pytest.mark.daily("#3a2f28")
@pytest.mark.parametrize("ground", ["#d8d4ca", "#3a2f28", "#ffffff"])
def test_a_photo_tells_the_colours_that_stand_before_its_background(
    tmp_path: Path, ground: str
) -> None:
    photo = photo_of(tmp_path, ["#2446c8", "#d9731a"], ground)
    shades = shades_of_photo(photo)
    assert len(shades) == 2
    hues = {"blue": 0.63, "orange": 0.08}  # of the inks above, by colorsys
    for shade, hue in zip(sorted(shades, key=hue_of), sorted(hues.values()), strict=True):
        assert abs(hue_of(shade) - hue) < 0.05
    assert 0.5 < shades[0].share / (shades[1].share or 1) < 2


def test_a_photo_of_a_jig_in_brown_blue_and_orange_tells_them() -> None:
    layers = propose_recipe("Duckweed", DEMO, material="silicone")
    assert [layer.shade for layer in layers] == ["brown", "steel blue", "chocolate"]


def test_a_name_says_which_shades_and_the_photo_how_they_look(tmp_path: Path) -> None:
    photo = photo_of(tmp_path, ["#1c2f8a", "#c96a12"], "#d8d4ca", light=0)
    named = propose_recipe("orange blue", material="silicone")
    seen = propose_recipe("orange blue", photo, material="silicone")
    assert [layer.shade for layer in seen] == ["orange", "blue"]
    assert all(one.ink != other.ink for one, other in zip(named, seen, strict=True))


def test_an_empty_table_tells_nothing(tmp_path: Path) -> None:
    Image.new("RGB", (300, 200), "#aaaaaa").save(tmp_path / "table.png")
    assert shades_of_photo(tmp_path / "table.png") == []


def test_a_photo_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    (tmp_path / "no.jpg").write_bytes(b"no picture")
    with pytest.raises(LabelerError, match="picture"):
        propose_recipe("black", tmp_path / "no.jpg", material="silicone")
