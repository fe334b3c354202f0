"""The house faces as pages of the web hold them: packed for browsers, within the page itself.

A page is one file: it looks the same from a host, from a folder and from a telephone's memory, and
asks nobody for anything. So it holds its faces, cut to the letters that such pages have; one with
other letters, a Greek name or a Polish one, holds the whole faces.
Source: WOFF File Format 2.0, W3C Recommendation, 8 August 2024; RFC 2397 for data URLs.
"""

from __future__ import annotations

import base64
from functools import lru_cache
from typing import NamedTuple

from labeler.files import shipped


class PackedFace(NamedTuple):
    """A face: the family that style sheets name, its file without the ending, weight and slope."""

    family: str
    file: str
    weight: int
    slope: str = "normal"


FACES = (
    PackedFace("Facts", "BarlowCondensed-Regular", 400),
    PackedFace("Facts", "BarlowCondensed-SemiBold", 600),
    PackedFace("Names", "NotoSerifCondensed-Regular", 400),
    PackedFace("Names", "NotoSerifCondensed-SemiBold", 600),
    PackedFace("Names", "NotoSerifCondensed-Italic", 400, "italic"),
)

LATIN = frozenset(map(chr, (*range(0x20, 0x7F), *range(0xA0, 0x100)))) | set(
    "ŒœŸ–—‘’“”•…⁄′″⅛⅜⅝⅞™€\N{MINUS SIGN}"
)
"""The letters of a cut face: those of ISO 8859-15 that western Europe writes with, and a printer's
points, primes and fractions."""

LATIN_SUFFIX = ".latin.woff2"


def face_rules(page: str) -> str:
    """Return the rules of a style sheet by which a page's text is set in the house faces.

    Args:
        page: all that stands on it; capitals too, into which a style may turn its letters.
    """
    letters = {letter for letter in set(page) | set(page.upper()) if letter.isprintable()}
    return _rules(LATIN_SUFFIX if letters <= LATIN else ".woff2")


@lru_cache(maxsize=2)
def _rules(suffix: str) -> str:
    rules = []
    for face in FACES:
        data = base64.b64encode((shipped("fonts") / f"{face.file}{suffix}").read_bytes())
        rules.append(
            f'@font-face {{ font-family: "{face.family}"; font-weight: {face.weight}; '
            f"font-style: {face.slope}; "
            f'src: url("data:font/woff2;base64,{data.decode("ascii")}") format("woff2"); }}'
        )
    return "\n".join(rules)
