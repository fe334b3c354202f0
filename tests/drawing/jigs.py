"""Photographs of jigs painted for tests: a drawn jig on a ground, lit, with its shadow."""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
import resvg_py
from numpy.typing import NDArray
from PIL import Image, ImageFilter

from labeler.catalog.model import Product
from labeler.drawing.jig import draw_jig
from labeler.press.svg import svg

Kind = Literal["paper", "beige", "blue", "green", "yellow", "gray", "planks", "slate"]

_GROUNDS = {
    "paper": (236, 234, 230),
    "beige": (205, 190, 170),
    "blue": (110, 140, 170),
    "green": (120, 150, 110),
    "yellow": (225, 195, 95),
    "gray": (135, 135, 135),
    "planks": (160, 112, 70),
    "slate": (40, 42, 46),
}


@dataclass(frozen=True)
class Shot:
    """A photo, and what is true of it."""

    photo: Image.Image
    box: tuple[float, float, float, float]
    """Of the jig, in shares."""
    cover: NDArray[np.float64]
    """How much of each pixel the jig covers."""
    ink: NDArray[np.uint8]
    """Its own colors, where it covers."""


@lru_cache(maxsize=16)
def _drawn(product_key: str, svg_text: str, wide: int) -> Image.Image:
    png = resvg_py.svg_to_bytes(svg_string=svg_text, width=wide, skip_system_fonts=True)
    return Image.open(io.BytesIO(bytes(png))).convert("RGBA")


def jig_on(
    product: Product,
    ground: Kind,
    size: tuple[int, int] = (600, 450),
    share: float = 0.5,
    turned: float = 0.0,
    mirrored: bool = False,
    shadow: float = 0.4,
) -> Shot:
    """Return a jig as a telephone would take it.

    Args:
        product: what is drawn.
        ground: what it lies on.
        size: of the photo, in pixels: a little more than it has while a jig is looked for in it.
        share: the jig's length, of the photo's width.
        turned: degrees clockwise from how it is drawn.
        mirrored: before that.
        shadow: how much of the light it takes away.
    """
    wide, high = size
    group = draw_jig(product)
    left, top, right, bottom = group.box
    text = svg([group], group.box).replace(
        "<svg ", f'<svg width="{right - left}" height="{bottom - top}" ', 1
    )
    jig = _drawn(product.sku, text, round(wide * share))
    jig = jig.transpose(Image.Transpose.FLIP_LEFT_RIGHT) if mirrored else jig
    jig = jig.rotate(-turned, expand=True, resample=Image.Resampling.BICUBIC)
    jig = jig.crop(jig.getbbox())
    at = (round(wide * 0.47 - jig.width / 2), round(high * 0.53 - jig.height / 2))
    alpha, ink = Image.new("L", size), Image.new("RGB", size)
    alpha.paste(jig.getchannel("A"), at)
    ink.paste(jig.convert("RGB"), at)
    cover = np.asarray(alpha) / 255
    cast = np.roll(np.asarray(alpha), (high // 60, wide // 90), (0, 1))
    soft = np.asarray(Image.fromarray(cast).filter(ImageFilter.GaussianBlur(wide / 90))) / 255
    lit = _ground(ground, wide, high) * (1 - shadow * soft)[..., None]
    mixed = lit * (1 - cover[..., None]) + np.asarray(ink) * cover[..., None]
    box = at[0] / wide, at[1] / high, (at[0] + jig.width) / wide, (at[1] + jig.height) / high
    photo = Image.fromarray(np.clip(mixed, 0, 255).astype(np.uint8))
    return Shot(photo.filter(ImageFilter.GaussianBlur(0.6)), box, cover, np.asarray(ink))


@lru_cache(maxsize=8)
def _ground(kind: Kind, wide: int, high: int) -> NDArray[np.float64]:
    """Return a ground in the light of one lamp, with a lens's vignette and a sensor's noise."""
    chance = np.random.default_rng(7)
    down, across = np.mgrid[0:high, 0:wide] / np.array([high, wide])[:, None, None]
    light = 1.05 - 0.12 * across - 0.4 * ((across - 0.4) ** 2 + (down - 0.5) ** 2)
    ground = np.array(_GROUNDS[kind]) * light[..., None]
    if kind == "planks":
        grain = np.sin(60 * down + 5 * np.sin(9 * down + 3 * across) + 3 * np.sin(3 * across))
        ground = ground + grain[..., None] * [26, 21, 15]
    noise = chance.normal(0, 2.5, (high, wide, 1)) + chance.normal(0, 1, (high, wide, 3))
    return np.asarray(ground + noise, np.float64)
