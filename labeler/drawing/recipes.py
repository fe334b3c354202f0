"""A recipe proposed from a colour's name and from its photo: a guess that the maker looks at.

A name is read word by word: shades that the trade calls by a name of its own (``shades.toml``:
common practice, no published source), and the named colours of CSS. A photo tells the colours that
are on it beside its background. What comes of both is only ever proposed: the catalog marks it so,
and nothing of it is printed before the maker has said that it is right.
"""

from __future__ import annotations

import re
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms, ImageColor

from labeler.catalog.model import Layer
from labeler.drawing.photos import prepare
from labeler.drawing.subject import figures_of

STRANDS = 44
"""Strands of a proposed skirt: two tabs of 22. Common practice, no published source."""

MOST_LAYERS = 4
"""More shades than this a photo does not tell apart well. The house's judgement."""

_MOST_WORDS = 4
"""The longest name of a colour in CSS is written in four words: light golden rod yellow."""


class Shade(NamedTuple):
    """A colour as it is called and looks, and its share of the strands."""

    name: str
    ink: str
    share: float


def propose_recipe(name: str, photo: Path | None = None, *, material: str) -> tuple[Layer, ...]:
    """Return the layers that a colour's name and photo suggest; none if neither tells any.

    The name says which shades there are and in which order they are tied; the photo, how they look.
    Where the name says nothing, the photo's own colours are taken, the largest first.

    Args:
        name: what buyers call the colour, such as ``black & blue`` or ``fire tiger``.
        photo: a picture of the jig in it, if there is one.
        material: the name of the material that its strands are of.

    Raises:
        LabelerError: if the photo can't be read.
    """
    named, seen = shades_of_name(name), shades_of_photo(photo) if photo else []
    shades = [_as_seen(shade, seen) for shade in named] or seen
    whole = sum(shade.share for shade in shades)
    return tuple(
        Layer(
            material=material,
            shade=shade.name,
            ink=shade.ink,
            strands=max(2, round(STRANDS * shade.share / whole)),
        )
        for shade in shades
    )


# ------------------------------------------------------------------------------------- the name


def shades_of_name(name: str) -> list[Shade]:
    """Return the shades that stand in a colour's name, each once, in its order."""
    words = re.findall(r"[a-z]+", name.casefold().replace("’", "").replace("'", ""))
    found: dict[str, Shade] = {}
    at = 0
    while at < len(words):
        for end in range(min(len(words), at + _MOST_WORDS), at, -1):
            if shades := _called("".join(words[at:end])):
                for shade in shades:
                    found.setdefault(shade.name, shade)
                at = end
                break
        else:
            at += 1
    return list(found.values())


def ink_called(name: str) -> str:
    """Return the ink of a colour by its name in the trade or in CSS; empty if it is not just one.

    Args:
        name: such as ``blue``, ``green pumpkin`` or ``dark olive green``.
    """
    shades = _called("".join(re.findall(r"[a-z]+", name.casefold())))
    return shades[0].ink if len(shades) == 1 else ""


def _called(joined: str) -> list[Shade]:
    """Return the shades that words written together name; "craws" are craw."""
    for word in (joined, joined.removesuffix("s")):
        if word in _trade():
            return _trade()[word]
        if word in ImageColor.colormap:
            return [Shade(_apart(word), _css(word), 1.0)]
    return []


@cache
def _trade() -> dict[str, list[Shade]]:
    """Return the trade's shades by their names written together, the first with more strands."""
    table: dict[str, list[list[str]]] = figures_of("shades")["shades"]
    return {
        re.sub(r"[^a-z]", "", name): [
            Shade(shade, ink, 1.0 if at else max(1.0, len(rows) - 0.5))
            for at, (shade, ink) in enumerate(rows)
        ]
        for name, rows in table.items()
    }


def _css(word: str) -> str:
    """Return a named colour of CSS as ``#rrggbb``.

    Source: W3C, CSS Color Module Level 4, 6.1 Named Colors, as Pillow has them.
    """
    red, green, blue = ImageColor.getrgb(word)[:3]
    return f"#{red:02x}{green:02x}{blue:02x}"


_PARTS = re.compile(
    "light|dark|medium|pale|deep|hot|dim|golden|rod|sea|sky|slate|steel|royal|midnight|olive|"
    "forest|spring|lawn|lime|yellow|orange|red|pink|violet|orchid|purple|magenta|blue|green|cyan|"
    "turquoise|aqua|marine|salmon|coral|brown|gray|grey|white|smoke|drab"
)


def _apart(word: str) -> str:
    """Return a name of CSS in words: ``darkolivegreen`` is dark olive green."""
    return " ".join(re.sub(_PARTS, r" \g<0> ", word).split())


# ------------------------------------------------------------------------------------ the photo
#
# Distances are in CIELAB, where 2 to 3 is just seen and 100 is black to white (CIE 15:2004, 8.2.1).
# How far is far is the house's judgement: photos of jigs on a table were looked at.

_PRINTED = 240.0
"""Points: at this size strands lie beside each other, and are not yet mixed."""
_LOOKED_AT = 240
"""Pixels along the longer side; more tell nothing else."""
_FRAME = 0.05
"""Of the picture's sides: how wide the frame is that shows the background."""
_BACKGROUND = 16.0
"""What is nearer to a colour of the frame than this is background."""
_ALIKE = 18.0
"""What is nearer than this is one shade, in light and in shadow."""
_MEANT = 45.0
"""A shade of the name is taken as the photo shows it, if the photo has one this near."""
_LEAST_SHARE = 0.08
"""What takes up less of the jig is an eye, a hook or a shadow."""
_GREY = 15.0
"""What has less chroma is grey: a hook, a bare head, strands seen against the table."""
_VIVID, _LEAST_VIVID = 35.0, 0.03
"""From this chroma on a smaller part is seen too: tips, a belly."""


def shades_of_photo(photo: Path) -> list[Shade]:
    """Return the colours of what stands before a photo's background, the largest first.

    Raises:
        LabelerError: if the photo can't be read.
    """
    image, _ = prepare(photo, _PRINTED, _PRINTED)
    with Image.open(BytesIO(image.data)) as file:
        picture = file.convert("RGB")
    picture.thumbnail((_LOOKED_AT, _LOOKED_AT), Image.Resampling.NEAREST)  # averages mix strands
    pixels = np.asarray(picture).reshape(-1, 3)
    wide, high = picture.size
    across, down = np.arange(wide), np.arange(high)[:, None]
    edge = max(1, round(min(wide, high) * _FRAME))
    frame = (across < edge) | (across >= wide - edge) | (down < edge) | (down >= high - edge)
    ground = [ink for ink, share in _counted(pixels[frame.ravel()], 4) if share >= _LEAST_SHARE]
    lab = _lab(pixels)
    apart = np.min([np.linalg.norm(lab - each, axis=1) for each in _lab(np.array(ground))], axis=0)
    jig = pixels[apart > _BACKGROUND]
    if len(jig) < _LEAST_SHARE * _LEAST_SHARE * len(pixels):
        return []
    return _as_shades(_merged(_counted(jig, 12)))


Ink = tuple[int, int, int]


def _counted(pixels: NDArray[np.uint8], most: int) -> list[tuple[Ink, float]]:
    """Return the colours that pixels come to, at most so many, with their shares, largest first."""
    row = Image.fromarray(np.ascontiguousarray(pixels)[None, :, :], "RGB")
    quantized = row.quantize(most, method=Image.Quantize.MEDIANCUT, kmeans=2)
    palette = quantized.getpalette() or []
    counts = sorted(quantized.getcolors() or [], reverse=True)
    return [
        ((palette[3 * at], palette[3 * at + 1], palette[3 * at + 2]), count / len(pixels))
        for count, at in counts
        if isinstance(at, int)
    ]


def _merged(counted: list[tuple[Ink, float]]) -> list[tuple[Ink, float]]:
    """Return colours with those that are one shade taken together under the largest's ink.

    One shade in light and in shadow differs in lightness, which counts half.
    """
    kept: list[tuple[Ink, float]] = []
    for ink, share in counted:
        near = [at for at, (other, _) in enumerate(kept) if _distance(ink, other, 0.5) < _ALIKE]
        if near:
            kept[near[0]] = (kept[near[0]][0], kept[near[0]][1] + share)
        else:
            kept.append((ink, share))
    return sorted(kept, key=lambda one: -one[1])


def _as_shades(counted: list[tuple[Ink, float]]) -> list[Shade]:
    """Return what is no grey, if anything is, by the nearest names."""
    coloured = [one for one in counted if _chroma(one[0]) >= _GREY] or counted
    whole = sum(share for _, share in coloured)
    shown = [
        (ink, share)
        for ink, share in coloured
        if share >= whole * (_LEAST_VIVID if _chroma(ink) >= _VIVID else _LEAST_SHARE)
    ]
    return [
        Shade(_nearest_word(ink), "#{:02x}{:02x}{:02x}".format(*ink), share)
        for ink, share in shown[:MOST_LAYERS]
    ]


def _chroma(ink: Ink) -> float:
    return float(np.linalg.norm(_lab(np.array([ink]))[0, 1:]))


def _as_seen(shade: Shade, seen: list[Shade]) -> Shade:
    """Return a shade of the name as the photo shows it, if it does."""
    own = ImageColor.getrgb(shade.ink)[:3]
    near = [(_distance(own, ImageColor.getrgb(each.ink)[:3]), each.ink) for each in seen]
    distance, ink = min(near, default=(_MEANT, ""))
    return shade._replace(ink=ink) if distance < _MEANT else shade


def _nearest_word(ink: Ink) -> str:
    """Return the name that CSS has for the nearest colour; a grey's only for grey."""
    names, lab = _words_in_lab()
    apart = np.linalg.norm(lab - _lab(np.array([ink])), axis=1)
    greys = np.linalg.norm(lab[:, 1:], axis=1) < _GREY
    return names[int(np.where(greys & (_chroma(ink) >= _GREY), np.inf, apart).argmin())]


@cache
def _words_in_lab() -> tuple[list[str], NDArray[np.float64]]:
    words = {_apart(name): _css(name) for name in sorted(ImageColor.colormap)}
    for name, shades in _trade().items():
        words |= {name: shades[0].ink} if name in words else {}
    return list(words), _lab(np.array([ImageColor.getrgb(ink)[:3] for ink in words.values()]))


def _distance(one: tuple[int, ...], other: tuple[int, ...], lightness: float = 1.0) -> float:
    first, second = _lab(np.array([one, other]))
    return float(np.linalg.norm((first - second) * (lightness, 1.0, 1.0)))


@cache
def _to_lab() -> ImageCms.ImageCmsTransform:
    profiles = ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB")
    return ImageCms.buildTransform(*profiles, "RGB", "LAB")


def _lab(inks: NDArray[np.integer]) -> NDArray[np.float64]:
    """Return sRGB colours, one a row, in CIELAB."""
    row = Image.fromarray(np.ascontiguousarray(inks, np.uint8)[None, :, :], "RGB")
    lab = np.asarray(ImageCms.applyTransform(row, _to_lab()))[0]
    signed = lab[:, 1:].astype(np.int8).astype(np.float64)  # Pillow keeps a and b as signed bytes
    return np.column_stack([lab[:, 0] / 255 * 100, signed])
