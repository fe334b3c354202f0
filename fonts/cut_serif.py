"""Cut the condensed serif from its variable source, so that anybody can make these files again.

Run as ``python fonts/cut_serif.py FOLDER`` where FOLDER holds ``NotoSerif[wdth,wght].ttf`` and
``NotoSerif-Italic[wdth,wght].ttf`` as the Noto project publishes them (they are in the PyPI
package fontpkg-noto-serif 2.15, folder ``files``). Needs fontTools.

Without FOLDER the faces of web pages are packed for browsers, which needs brotli too: whole for the
desk, which is at hand, and with the letters of `labeler.type.packed` for pages that come from afar.
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont
from fontTools.varLib.instancer import instantiateVariableFont

from labeler.type.packed import FACES, LATIN, LATIN_SUFFIX

CUTS = (
    ("NotoSerif[wdth,wght].ttf", "NotoSerifCondensed-Regular.ttf", 75, 400),
    ("NotoSerif[wdth,wght].ttf", "NotoSerifCondensed-SemiBold.ttf", 75, 600),
    ("NotoSerif-Italic[wdth,wght].ttf", "NotoSerifCondensed-Italic.ttf", 75, 400),
)
LETTERS = (
    *range(0x20, 0x250),  # Latin, its supplements and extensions A and B
    *range(0x370, 0x530),  # Greek and Cyrillic
    *range(0x1E00, 0x1F00),  # Latin extended additional
    *range(0x2010, 0x2060),  # general punctuation
    *range(0x2070, 0x20D0),  # superiors, inferiors, currency
    *range(0x2100, 0x2190),  # letterlike signs and vulgar fractions
    0x2190, 0x2191, 0x2192, 0x2193, 0x2212, 0x2215, 0x221E, 0x2248, 0x2260, 0x2264, 0x2265,
)  # fmt: skip


def cut(source: Path, target: Path, width: int, weight: int) -> None:
    """Write one static font, Latin, Greek and Cyrillic only, unhinted."""
    font = instantiateVariableFont(
        TTFont(source, recalcTimestamp=False),
        {"wdth": width, "wght": weight},
        updateFontNames=True,
    )
    options = Options()
    options.hinting = False
    options.layout_features = ["kern", "mark", "mkmk", "ccmp"]
    options.name_IDs = ["*"]
    options.notdef_outline = True
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=LETTERS)
    subsetter.subset(font)
    font.save(target)


def pack(face: Path) -> None:
    """Write a face beside itself as WOFF2: glyph for glyph, and those of common letters alone."""
    font = TTFont(face, recalcTimestamp=False)
    font.flavor = "woff2"
    font.save(face.with_suffix(".woff2"))
    options = Options()
    options.hinting = False
    options.layout_features = ["kern", "mark", "mkmk", "ccmp", "tnum", "frac", "numr", "dnom"]
    subsetter = Subsetter(options)
    subsetter.populate(text="".join(LATIN))
    subsetter.subset(font)
    font.save(face.with_suffix(LATIN_SUFFIX))


if __name__ == "__main__":
    here = Path(__file__).resolve().parent
    for source, target, width, weight in CUTS if sys.argv[1:] else ():
        cut(Path(sys.argv[1]) / source, here / target, width, weight)
    for face in FACES:
        pack(here / f"{face.file}.ttf")
