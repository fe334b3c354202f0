"""The jig in a photo told from what it lies on: its box, how it lies, and the ground taken away.

A ground is plain where one smooth surface in CIELAB (CIE 15:2004, 8.2.1) follows it: paper or a
table top in uneven light, not planks or a lawn. What differs from that surface is the jig, but for
what only darkens it softly, which is a shadow. Distances are in CIELAB, where 2 to 3 is just seen;
how far is far is the house's judgement, from jigs painted on many grounds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray
from PIL import Image as Pillow

Pixels = NDArray[np.float32]
"""Rows, columns and, of colours, three channels, which lie in memory one after the other: what is
asked here is asked of one channel at a time."""
Mask = NDArray[np.bool_]
Values = TypeVar("Values", Pixels, Mask)


class Turn(NamedTuple):
    """What is done to a picture so that the jig lies with its head to the left."""

    mirrored: bool = False
    """Left for right, before it is turned."""
    degrees: float = 0.0
    """Clockwise."""

    @property
    def in_quarters(self) -> Turn:
        """The nearest that leaves the picture's edges level."""
        return Turn(self.mirrored, 90.0 * round(self.degrees / 90))

    def turned(self, x: float, y: float) -> tuple[float, float]:
        """Return where a place comes to lie, both from the picture's middle, y downwards."""
        x = -x if self.mirrored else x
        cosine, sine = self._parts
        return cosine * x - sine * y, sine * x + cosine * y

    def back(self, x: float, y: float) -> tuple[float, float]:
        """Return where what comes to lie at a place was before."""
        cosine, sine = self._parts
        across = cosine * x + sine * y
        return (-across if self.mirrored else across), cosine * y - sine * x

    @property
    def _parts(self) -> tuple[float, float]:
        if self.degrees % 90 == 0:
            return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(self.degrees // 90) % 4]
        return math.cos(math.radians(self.degrees)), math.sin(math.radians(self.degrees))


LOOKED_AT = 540
"""Pixels along the longer side in which a jig is looked for; a hook's wire is still one wide."""

_BORDER = 0.04
"""Of the sides: how wide the border is that first shows the ground."""
_NEAR = 9.0
"""What is nearer than this to the surface belongs to the ground, where the ground is smooth."""
_PLAIN = 0.8
"""The least part of the border that lies near the surface, if the ground is to count as plain."""
_LIGHT = 45.0
"""The least lightness of a plain ground: on a darker one a black strand is like a shadow."""
_ROUGHEST = 4.5
"""The largest spread of a plain ground about its surface: more is a weave, grain or gravel."""
_FOUND = (0.008, 0.75)
"""The least and the largest part of the picture that a jig takes up."""
_DARKEST_SHADOW = 0.3
"""Of the light of the ground: what is darker than this is a thing."""
_SOFT = 5.0
"""The most by which lightness changes from one pixel to the next in a shadow."""
_TINGE = 5.0
"""How far a shadow's hue may be from the ground's: light from the room tints it."""


@dataclass(frozen=True, slots=True)
class Ground:
    """What the jig lies on: a surface of second order for each channel of CIELAB."""

    terms: Pixels
    """Six for each channel: 1, x, y, x², xy, y², with x and y from -1 to 1."""
    spread: float
    """How far the ground is from it: 1.5 times the median distance."""
    share: float
    """Of the border: what lies near it."""

    @property
    def plain(self) -> bool:
        """Whether it can be told from a jig well enough to be taken away."""
        return not self.fault

    @property
    def fault(self) -> str:
        """What it is that is not plain; "" if it is plain."""
        if self.spread > _ROUGHEST:
            return "a ground with a grain or pattern"
        if self.share < _PLAIN:
            return "a ground of more than one color"
        return "a dark ground" if self.terms[0, 0] < _LIGHT else ""

    @property
    def near(self) -> float:
        """How far from the surface a pixel may be and belong to it."""
        return max(_NEAR, 3 * self.spread)

    def at(self, x: Pixels, y: Pixels) -> Pixels:
        """Return its colours in CIELAB at places from -1 to 1."""
        return _by_channel(_powers(x, y) @ self.terms)


_AS_IT_LIES = Turn()


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What was made out in a photo that stands upright."""

    ground: Ground
    box: tuple[float, float, float, float] | None
    """The jig's left, top, right, bottom in shares of the picture; None if none was found."""
    turn: Turn = _AS_IT_LIES
    """What makes it lie as the drawings do."""
    jig: Mask | None = None
    """Where it is, `LOOKED_AT` pixels on the longer side."""
    empty: NDArray[np.uint8] | None = None
    """The same picture without it, in sRGB; None where it was cut out already."""

    def outline(self) -> list[tuple[float, float]]:
        """Return places of the jig in shares of the picture, among them all that are outermost."""
        assert self.jig is not None  # asked only of one that was found
        high, wide = self.jig.shape
        down, across = np.nonzero(self.jig & _largest_near(~self.jig, 1))
        return list(zip((across + 0.5) / wide, (down + 0.5) / high, strict=True))

    def level(self) -> NDArray[np.uint8]:
        """Return the ground without things and shadows, in sRGB, as large as ``empty``."""
        assert self.empty is not None  # asked only where the ground is taken away
        high, wide = self.empty.shape[:2]
        return np.round(srgb(self.ground.at(*places(wide, high)))).astype(np.uint8)

    def around(self) -> NDArray[np.uint8]:
        """Return 255 within the jig, less than 253 at its edge, and 0 where nothing of it is."""
        assert self.jig is not None
        inner = ~_largest_near(~self.jig, 1)
        reach = max(1, round(max(self.jig.shape) / 80))
        near = _blurred(_largest_near(self.jig, reach).astype(np.float32), 2 * reach)
        return np.where(inner, 255, np.clip(300 * near, 0, 250)).astype(np.uint8)


def lab(pixels: NDArray[np.uint8]) -> Pixels:
    """Return colours of sRGB in CIELAB, for the white D65. Source: IEC 61966-2-1:1999, 5.2."""
    xyz = _channels(_by_channel(_LINEAR[pixels] @ _TO_XYZ.T / _D65))
    root, dark = np.cbrt(xyz), xyz <= 216 / 24389
    root[dark] = (xyz[dark] * 24389 / 27 + 16) / 116
    light = 116 * root[1] - 16
    red, yellow = 500 * (root[0] - root[1]), 200 * (root[1] - root[2])
    return _colours(np.stack([light, red, yellow]))


def srgb(colours: Pixels) -> Pixels:
    """Return colours of CIELAB in sRGB, from 0 to 255, those outside it at its edge."""
    if len(colours) > _BAND:
        bands = [colours[at : at + _BAND] for at in range(0, len(colours), _BAND)]
        return _colours(np.concatenate([_channels(srgb(each)) for each in bands], 1))
    light, red, yellow = _channels(colours)
    high = (light + 16) / 116
    root = np.stack([high + red / 500, high, high - yellow / 200])
    xyz = np.where(root > 6 / 29, root**3, (116 * root - 16) * 27 / 24389)
    flat = np.clip([x * xyz[0] + y * xyz[1] + z * xyz[2] for x, y, z in _FROM_XYZ], 0, 1)
    coded = np.where(flat <= 0.0031308, flat * 12.92, 1.055 * flat ** (1 / 2.4) - 0.055)
    return _colours((coded * 255).astype(np.float32))


def _channels(colours: Pixels) -> Pixels:
    return np.moveaxis(colours, -1, 0)


def _colours(channels: Pixels) -> Pixels:
    return np.moveaxis(channels, 0, -1)


def _by_channel(colours: Pixels) -> Pixels:
    return _colours(np.ascontiguousarray(_channels(colours)))


def _length(colours: Pixels) -> Pixels:
    """Return how far colours are from where all their channels are 0."""
    first, *others = _channels(colours * colours)
    return np.asarray(np.sqrt(sum(others, first)), np.float32)


_BAND = 32
"""Rows: of so few all that is computed on the way stays near the processor."""
_CODES = np.arange(256) / 255
_LINEAR = np.where(_CODES <= 0.04045, _CODES / 12.92, ((_CODES + 0.055) / 1.055) ** 2.4).astype(
    np.float32
)
_TO_XYZ = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]], np.float32
)
_D65 = np.array([0.95047, 1.0, 1.08883], np.float32)
_FROM_XYZ = np.linalg.inv(_TO_XYZ) * np.array([0.95047, 1.0, 1.08883])


def find(picture: Pillow.Image) -> Found:
    """Return where the jig is in a photo that stands upright, and what it lies on.

    Args:
        picture: in sRGB, of any size; a see-through one is a jig cut out already.
    """
    small = picture.copy()
    small.thumbnail((LOOKED_AT, LOOKED_AT), Pillow.Resampling.BOX)
    if min(small.size) < _LEAST_SIDE:
        return Found(Ground(_WHITE, 0.0, 1.0), None)
    colours = lab(np.asarray(small.convert("RGB")))
    high, wide = colours.shape[:2]
    x, y = places(wide, high)
    clear = np.asarray(small.getchannel("A")) < 128 if "A" in small.getbands() else None
    border = _border(wide, high)
    if clear is not None and clear[border].mean() > 0.5:
        ground = Ground(_WHITE, 0.0, 1.0)
        return _made_out(_largest_thing(~clear), ground)
    ground = _surface(colours, x, y, border)
    things = _things(colours, ground, x, y)
    found = _made_out(_largest_thing(things), ground)
    return replace(found, empty=_without(colours, things)) if found.box else found


_LEAST_SIDE = 8
"""Pixels: in a narrower strip no surface of a ground can be told."""
_WHITE = np.zeros((6, 3), np.float32)
_WHITE[0, 0] = 100


def places(wide: int, high: int) -> tuple[Pixels, Pixels]:
    """Return x and y of each pixel's middle, from -1 to 1."""
    x = (2 * np.arange(wide, dtype=np.float32) + 1) / wide - 1
    y = (2 * np.arange(high, dtype=np.float32) + 1) / high - 1
    return tuple(np.meshgrid(x, y))  # type: ignore[return-value]


def _powers(x: Pixels, y: Pixels) -> Pixels:
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], -1)


def _border(wide: int, high: int) -> Mask:
    edge = max(2, round(_BORDER * min(wide, high)))
    border = np.ones((high, wide), bool)
    border[edge:-edge, edge:-edge] = False
    return border


def _surface(colours: Pixels, x: Pixels, y: Pixels, border: Mask) -> Ground:
    """Return the surface that most of the border lies on, then all that is near it.

    Least squares, with what is far left out and fitted again: a thumb or a rule that reaches over
    the edge does not bend it.
    """
    powers, rim = _powers(x, y), np.flatnonzero(border)
    rows = np.concatenate([powers, colours], -1).reshape(-1, 9)
    level = np.median(rows[rim, 6:], axis=0)
    apart = _length(colours - level)
    reach = max(2 * _NEAR, 2.5 * float(np.median(apart.ravel()[rim])))
    taken = border & (apart < reach)
    ground = Ground(np.zeros((6, 3), np.float32), 0.0, 0.0)
    for number in range(8):
        known, seen = np.split(rows.compress(taken.ravel(), 0), [6], 1)
        if number < 2:  # the border alone can't tell how a surface bows within it
            terms = np.zeros((6, 3), np.float32)
            terms[:3] = np.linalg.lstsq(known[:, :3], seen, rcond=None)[0]
        else:
            pull = 0.02 * len(known) * np.diag([0, 0, 0, 1, 1, 1]).astype(np.float32)
            terms = np.linalg.solve(known.T @ known + pull, known.T @ seen)
        apart = _length(colours - powers @ terms)
        of_rim = apart.ravel()[rim]
        spread = 1.5 * float(np.median(of_rim[of_rim < 3 * _NEAR]))
        ground = Ground(terms, spread, float((of_rim < max(_NEAR, 3 * spread)).mean()))
        before, taken = taken, apart < max(_NEAR, 3 * min(spread, _ROUGHEST))
        if number < 2:
            taken &= border
        elif (taken == before).all():
            break
        if taken.sum() < len(rim) / 4:
            break
    return ground


def _things(colours: Pixels, ground: Ground, x: Pixels, y: Pixels) -> Mask:
    """Return what is neither ground nor the shadow that falls on it."""
    under = ground.at(x, y)
    away = colours - under
    far = _length(away) > ground.near
    return np.asarray(far & ~_shaded(colours, under, ground.near), bool)


def _shaded(colours: Pixels, under: Pixels, near: float) -> Mask:
    """Return where the ground is but darker, and softly so."""
    dimmed: Pixels = np.clip(colours[..., 0] / np.maximum(under[..., 0], 1), 0, 1)
    tinge = _length(colours[..., 1:] - under[..., 1:] * dimmed[..., None])
    light = colours[..., 0]
    steep = np.maximum(np.abs(np.gradient(light, axis=0)), np.abs(np.gradient(light, axis=1)))
    steep = _largest_near(steep, 1)
    soft = (steep < max(_SOFT, near / 2)) & (dimmed**3 > _DARKEST_SHADOW)
    return np.asarray(soft & (tinge < max(_TINGE, near / 2)) & (light < under[..., 0]), bool)


def _largest_near(values: Values, reach: int) -> Values:
    """Return the largest value that lies within ``reach`` pixels of each, across or down."""
    for axis in (0, 1):
        largest = values.copy()
        for step in range(1, reach + 1):
            for here, there in (
                (slice(step, None), slice(-step)),
                (slice(-step), slice(step, None)),
            ):
                own, other = (((slice(None),) * axis + (each,)) for each in (here, there))
                np.maximum(largest[own], values[other], out=largest[own])
        values = largest
    return values


def _blurred(values: Pixels, reach: int) -> Pixels:
    """Return the mean of the square around each pixel, ``reach`` to each side, taken twice.

    Rows and columns are the last two axes.
    """
    for axis in (-2, -1, -2, -1):
        ends = [(0, 0)] * values.ndim
        ends[axis] = (reach, reach)
        run = np.moveaxis(np.pad(values, ends, mode="edge"), axis, 0)
        size = values.shape[axis]
        sums = run[2 * reach :].astype(np.float64)
        length = 1  # a long run is one of half its length, twice
        while length <= reach:
            run = np.add(run[:-length], run[length:], dtype=np.float64)
            length *= 2
            if 2 * reach & length:
                at = 2 * reach & (length - 1)
                sums += run[at : at + size]
        sums /= 2 * reach + 1
        values = np.moveaxis(sums.astype(np.float32), 0, axis)
    return values


def _blurred_in(values: Pixels, reach: int, few: int) -> Pixels:
    """Return what `_blurred` does, taken of squares of ``few`` pixels a side."""
    if few == 1:
        return _blurred(values, reach)
    high, wide = values.shape[-2:]
    even = np.pad(values, [(0, 0), (0, -high % few), (0, -wide % few)], mode="edge")
    for axis in (-2, -1):
        even = np.add.reduceat(even, range(0, even.shape[axis], few), axis)
    blurred = _blurred(even / np.float32(few * few), round(reach / few))
    return blurred.repeat(few, -2).repeat(few, -1)[..., :high, :wide]


def _largest_thing(mask: Mask) -> Mask:
    """Return the largest thing, with what lies so near that it belongs to it: a hook, an eye."""
    reach = max(1, round(max(mask.shape) / 90))
    parts = _parts(_largest_near(mask, reach))
    counts = np.bincount(parts[mask], minlength=2)
    return mask & (parts == counts.argmax()) if counts.any() else mask


def _parts(mask: Mask) -> NDArray[np.int64]:
    """Return for each pixel the number of the connected thing that it is in; 0 is none."""
    root: list[int] = [0]
    rows, above = np.zeros(mask.shape, np.int64), list[tuple[int, int, int]]()

    def top(number: int) -> int:
        while root[number] != number:
            root[number] = number = root[root[number]]
        return number

    for y, row in enumerate(mask):
        turns = np.flatnonzero(np.diff(row.astype(np.int8), prepend=0, append=0))
        here = []
        for left, right in turns.reshape(-1, 2).tolist():
            touching = [top(each) for a, b, each in above if a <= right and left <= b]
            number = min(touching, default=len(root))
            if not touching:
                root.append(number)
            for each in touching:
                root[each] = number
            rows[y, left:right] = number
            here.append((left, right, number))
        above = here
    return np.array([top(number) for number in range(len(root))])[rows]


# ------------------------------------------------------------------------------- how it lies

_LONG = 1.3
"""How much longer than high a jig must be, by its spread, for its axis to be told."""
_DROOP = 8.0
"""Degrees by which the axis of a level jig sinks to its tail: a skirt hangs below the shank."""
_LEVEL = 14.0
"""Degrees: one that lies no further from level is left as it lies."""
_FULLER = 1.8
"""How much fuller, wider and more frayed the end with the skirt must be for it to be plain."""


def _lies(jig: Mask) -> Turn:
    """Return what brings the head to the left and the shank level, as far as that is plain."""
    down, across = np.nonzero(jig)
    spots = np.stack([across - across.mean(), down - down.mean()])
    spread, axes = np.linalg.eigh(spots @ spots.T / len(across))
    if spread[1] < _LONG**2 * spread[0]:
        return _AS_IT_LIES
    axis = axes[:, 1]
    along, aside = axis @ spots, np.array([-axis[1], axis[0]]) @ spots
    low, high = np.quantile(along, (0.01, 0.99))
    edge = (jig & _largest_near(~jig, 1))[down, across]
    full = []
    for end in along < low + (high - low) / 3, along > high - (high - low) / 3:
        count = end.sum()
        full.append(edge[end].sum() / math.sqrt(count) * count * np.abs(aside[end]).max())
    if max(full) < _FULLER * min(full):
        return _AS_IT_LIES
    to_tail = axis if full[1] > full[0] else -axis
    return _leveled(math.degrees(math.atan2(to_tail[1], to_tail[0])))


def _leveled(tail: float) -> Turn:
    """Return the turn for a jig whose tail points so many degrees clockwise from the right.

    One whose head lies to the right is mirrored, so that the hook's point stays up.
    """
    mirrored = abs(tail) > 120
    degrees = (_DROOP - (180 - tail if mirrored else tail) + 180) % 360 - 180
    turn = Turn(mirrored, degrees)
    near = abs(degrees - turn.in_quarters.degrees) <= _LEVEL
    return turn.in_quarters if near else turn


def _made_out(jig: Mask, ground: Ground) -> Found:
    """Return what is known of a jig, if it is one."""
    if not _FOUND[0] < jig.mean() < _FOUND[1]:
        return Found(ground, None)
    high, wide = jig.shape
    down, across = np.flatnonzero(jig.any(1)).tolist(), np.flatnonzero(jig.any(0)).tolist()
    box = across[0] / wide, down[0] / high, (across[-1] + 1) / wide, (down[-1] + 1) / high
    return Found(ground, box, _lies(jig), jig)


# ------------------------------------------------------------------------- the ground taken away


def _without(colours: Pixels, things: Mask) -> NDArray[np.uint8]:
    """Return the ground with its shadows in sRGB, as it would lie there without the things."""
    known = ~_largest_near(things, 2)
    filled = np.stack([*_channels(colours), np.ones_like(known, np.float32)]) * known
    whole = np.zeros_like(filled[:3])
    done = np.zeros(known.shape, bool)
    for reach in (1, 3, 6, 12, 25, 50, 100, 200):
        if done.all():
            break
        few = 1 << max(0, reach.bit_length() - 3)  # what is far away is smooth: fewer pixels do
        part = _around(~done, 2 * reach + 2 * few, few)
        *sums, weight = _blurred_in(filled[:, *part], reach, few)
        fits = ~done[part] & (weight > 0.02)
        np.divide(sums, weight, out=whole[:, *part], where=fits)
        done[part] |= fits
    return np.round(srgb(_colours(whole))).astype(np.uint8)


def _around(mask: Mask, reach: int, few: int) -> tuple[slice, slice]:
    """Return the rows and columns that a mask and what is near it lie in, from a ``few``-th on."""
    down, across = np.flatnonzero(mask.any(1)), np.flatnonzero(mask.any(0))
    rows, columns = (
        slice(max(0, each[0] - reach) // few * few, -(-(each[-1] + 1 + reach) // few) * few)
        for each in (down, across)
    )
    return rows, columns


_FAINTEST = 5.0
"""What is nearer to the ground, in whatever light, than this and than its grain, is the ground."""
_SURE = 30.0
"""What is this far from the ground is no mixture with it."""
_SHADOW = 0.3
"""Of a shadow's depth: what is kept beside the jig, since the drawings beside it throw none."""
_NO_SHADOW = 0.03
"""What is darkened by less is an uneven lamp."""


def matted(
    pixels: NDArray[np.uint8], empty: NDArray[np.uint8], level: NDArray[np.uint8],
    around: Pixels, spread: float,
) -> NDArray[np.uint8]:  # fmt: skip
    """Return a picture in RGBA with its ground taken away.

    What has a hue that no light gives the ground, or is lighter or much darker than it, is the
    jig. Its colours at an edge are unmixed from the ground, so that no rim of it stays. What is
    only darker becomes black as thin as it was dark: a shadow falls on whatever is printed below.
    Within the jig less is taken for a shadow: a hook on blue is no more than dark and a little less
    blue, but made as thin as it is darker than the blue it would be pale on white.

    Args:
        pixels: rows, columns, RGB.
        empty: what lies there without the jig, shadows and all, of the same shape.
        level: the same without shadows.
        around: 1 within the jig, less than 0.99 at its edge, 0 where nothing of it is.
        spread: of the ground about its surface, in CIELAB.
    """
    seen, lit = lab(pixels), lab(level)
    share: Pixels = np.clip(seen[..., 0] / np.maximum(lit[..., 0], 1), 0, 1)
    tinge = _length(seen[..., 1:] - lit[..., 1:] * share[..., None])
    within = np.clip(2 * around - 0.9, 0, 1)
    tinge /= 1 - within * (1 - np.maximum(share, _DEEPEST))  # hues draw together in the dark
    lighter = np.maximum(seen[..., 0] - lit[..., 0], 0)
    deepest = _DEEPEST + (_DEEPEST_WITHIN - _DEEPEST) * within
    darker = np.maximum(deepest * lit[..., 0] - seen[..., 0], 0)
    away = np.sqrt(tinge**2 + lighter**2 + darker**2)
    faint = max(_FAINTEST, 2.5 * spread)
    most = _largest_near(away, 2)
    sure = np.clip(0.7 * most, faint + 5, _SURE)
    kept = np.clip(4 * around, 0, 1) * np.clip((most - 2 * faint) / faint, 0, 1)
    cover = np.clip((away - faint) / (sure - faint), 0, 1) * kept
    as_seen, as_empty = (_dimmed(each, level) for each in (pixels, empty))
    dim = as_empty + np.where(within > 0, as_seen - as_empty, 0) * (1 - cover)
    depth = dim * (_SHADOW + (1 - _SHADOW) * within) * np.clip(1.3 * around, 0, 1)
    whole = cover + (1 - cover) * depth
    matt = np.empty((*whole.shape, 4), np.uint8)
    matt[..., 3] = np.round(255 * whole)
    for channel in range(3):
        under = (1 - dim) * level[..., channel]
        own = under + (pixels[..., channel] - under) / np.maximum(cover, 0.05)
        ink = np.clip(own, 0, 255) * cover / np.maximum(whole, 1e-3)
        matt[..., channel] = np.round(np.where(whole < 1 / 255, 0, ink))
    return matt


_DEEPEST = 0.45
"""Of the ground's lightness: what is darker than a shadow gets."""
_DEEPEST_WITHIN = 0.75
"""The same within the jig: less by what is faint, where `find` has a thing begin."""
_LUMINANCE = np.array([0.299, 0.587, 0.114], np.float32)
"""Source: ITU-R BT.601-7, 2.5.1."""


def _dimmed(seen: NDArray[np.uint8], level: NDArray[np.uint8]) -> Pixels:
    """Return by what part of its light each pixel of the ground is darkened."""
    lit = seen @ _LUMINANCE / np.maximum(level @ _LUMINANCE, 1)
    dim: Pixels = np.clip(1 - lit - _NO_SHADOW, 0, 1)
    return dim
