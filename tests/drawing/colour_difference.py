"""How far two colors are apart to the eye: CIEDE2000, from sRGB.

Sources: G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 Color-Difference Formula: Implementation
Notes, Supplementary Test Data, and Mathematical Observations", Color Research and Application
30(1), 2005, equations 2 to 22 and table 1; IEC 61966-2-1 for sRGB.
"""

from __future__ import annotations

from math import atan2, cos, degrees, exp, hypot, radians, sin, sqrt

import numpy as np
import numpy.typing as npt

Lab = tuple[float, float, float]

SHARMA: tuple[tuple[Lab, Lab, float], ...] = (
    ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
    ((50, 3.1571, -77.2803), (50, 0, -82.7485), 2.8615),
    ((50, 2.8361, -74.0200), (50, 0, -82.7485), 3.4412),
    ((50, -1.3802, -84.2814), (50, 0, -82.7485), 1.0000),
    ((50, -1.1848, -84.8006), (50, 0, -82.7485), 1.0000),
    ((50, -0.9009, -85.5211), (50, 0, -82.7485), 1.0000),
    ((50, 0, 0), (50, -1, 2), 2.3669),
    ((50, -1, 2), (50, 0, 0), 2.3669),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0009), 7.1792),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0010), 7.1792),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0011), 7.2195),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0012), 7.2195),
    ((50, -0.0010, 2.4900), (50, 0.0009, -2.4900), 4.8045),
    ((50, -0.0010, 2.4900), (50, 0.0010, -2.4900), 4.8045),
    ((50, -0.0010, 2.4900), (50, 0.0011, -2.4900), 4.7461),
    ((50, 2.5, 0), (50, 0, -2.5), 4.3065),
    ((50, 2.5, 0), (73, 25, -18), 27.1492),
    ((50, 2.5, 0), (61, -5, 29), 22.8977),
    ((50, 2.5, 0), (56, -27, -3), 31.9030),
    ((50, 2.5, 0), (58, 24, 15), 19.4535),
    ((50, 2.5, 0), (50, 3.1736, 0.5854), 1.0000),
    ((50, 2.5, 0), (50, 3.2972, 0), 1.0000),
    ((50, 2.5, 0), (50, 1.8634, 0.5757), 1.0000),
    ((50, 2.5, 0), (50, 3.2592, 0.3350), 1.0000),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((63.0109, -31.0961, -5.8663), (62.8187, -29.7946, -4.0864), 1.2630),
    ((61.2901, 3.7196, -5.3901), (61.4292, 2.2480, -4.9620), 1.8731),
    ((35.0831, -44.1164, 3.7933), (35.0232, -40.0716, 1.5901), 1.8645),
    ((22.7233, 20.0904, -46.6940), (23.0331, 14.9730, -42.5619), 2.0373),
    ((36.4612, 47.8580, 18.3852), (36.2715, 50.5065, 21.2231), 1.4146),
    ((90.8027, -2.0831, 1.4410), (91.1528, -1.6435, 0.0447), 1.4441),
    ((90.9257, -0.5406, -0.9208), (88.6381, -0.8985, -0.7239), 1.5381),
    ((6.7747, -0.2908, -2.4247), (5.8714, -0.0985, -2.2286), 0.6377),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
)
"""Their table 1: two colors in CIELAB, and how far they are apart."""


def ciede2000(one: Lab, other: Lab) -> float:
    """Return the difference of two colors in CIELAB, with the parametric factors all 1."""
    (l1, a1, b1), (l2, a2, b2) = one, other
    mean = ((hypot(a1, b1) + hypot(a2, b2)) / 2) ** 7
    g = 0.5 * (1 - sqrt(mean / (mean + 25**7)))
    a1, a2 = (1 + g) * a1, (1 + g) * a2
    c1, c2 = hypot(a1, b1), hypot(a2, b2)
    h1, h2 = (degrees(atan2(b, a)) % 360 if a or b else 0.0 for a, b in ((a1, b1), (a2, b2)))
    turn = 0.0
    if c1 * c2:
        turn = (h2 - h1 + 180) % 360 - 180 if abs(h2 - h1) != 180 else h2 - h1
    dl, dc, dh = l2 - l1, c2 - c1, 2 * sqrt(c1 * c2) * sin(radians(turn / 2))
    light, chroma = (l1 + l2) / 2, (c1 + c2) / 2
    hue = h1 + h2
    if c1 * c2:
        if abs(h1 - h2) <= 180:
            hue = (h1 + h2) / 2
        else:
            hue = (h1 + h2 + (360 if h1 + h2 < 360 else -360)) / 2
    t = (
        1 - 0.17 * cos(radians(hue - 30)) + 0.24 * cos(radians(2 * hue))
        + 0.32 * cos(radians(3 * hue + 6)) - 0.2 * cos(radians(4 * hue - 63))
    )  # fmt: skip
    sl = 1 + 0.015 * (light - 50) ** 2 / sqrt(20 + (light - 50) ** 2)
    sc, sh = 1 + 0.045 * chroma, 1 + 0.015 * chroma * t
    rc = 2 * sqrt(chroma**7 / (chroma**7 + 25**7))
    rt = -sin(radians(60 * exp(-(((hue - 275) / 25) ** 2)))) * rc
    return sqrt((dl / sl) ** 2 + (dc / sc) ** 2 + (dh / sh) ** 2 + rt * dc / sc * dh / sh)


_TO_XYZ = np.array([
    [0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505],
])  # fmt: skip
_WHITE = np.array([0.9505, 1.0, 1.089])


def lab_of_mean(pixels: npt.ArrayLike) -> Lab:
    """Return in CIELAB the color that rows of red, green and blue have together from afar."""
    parts = np.asarray(pixels, np.float64).reshape(-1, 3) / 255
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    xyz = _TO_XYZ @ linear.mean(axis=0) / _WHITE
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz * (29 / 6) ** 2 / 3 + 4 / 29)
    return float(116 * f[1] - 16), float(500 * (f[0] - f[1])), float(200 * (f[1] - f[2]))


def lab_of_ink(ink: str) -> Lab:
    """Return ``#rrggbb`` in CIELAB."""
    return lab_of_mean([int(ink[at : at + 2], 16) for at in (1, 3, 5)])
