"""The body of one fibre, in a wash with a fine edge or in pure line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from labeler.layout.figure import tones
from labeler.layout.figure.curves import Cubic, Widths, band, part, ribbon, stroke
from labeler.layout.figure.hand import Hand
from labeler.layout.figure.pens import Pen
from labeler.layout.figure.skirt import Strand
from labeler.layout.figure.treatments import Treatment
from labeler.layout.marks import Path

TIP = 0.3
"""The share of a two-tone fibre that has the second colour."""

FAR = 0.24
"""How much darker the far side of a dressing lies, in its own shadow."""


@dataclass(frozen=True, slots=True)
class Body:
    """A fibre's middle, and half its width along it."""

    curves: tuple[Cubic, ...]
    widths: tuple[Widths, ...]
    round_tip: bool = False


def end_of(body: Body) -> Body:
    """Return the free end of a fibre that is dyed in two colours."""
    count = len(body.curves)
    if count > 1:
        whole = max(1, round(count * TIP))
        return replace(body, curves=body.curves[-whole:], widths=body.widths[-whole:])
    wide = body.widths[-1]
    widths: Widths = (wide[2], wide[2], wide[2], wide[3])
    return replace(body, curves=(part(body.curves[0], 1 - TIP, 1.0),), widths=(widths,))


def wash_of(ink: str, strand: Strand) -> str:
    """Return a fibre's wash: the recipe's ink, darker on the far side."""
    return tones.shade(ink, FAR) if strand.depth == "far" else ink


def draw_body(
    body: Body, ink: str, strand: Strand, hand: Hand, edge: float = 1.0
) -> Iterator[Path]:
    """Yield a fibre's body, the one path of it with both fill and stroke, and its grain.

    ``edge`` is how strong the line around it is, as a share of a skirt strand's.
    """
    if hand.ways:
        yield from _engraved(body, hand.ways[ink], hand.pen)
        return
    wash = wash_of(ink, strand)
    yield Path(
        ribbon(body.curves, body.widths, body.round_tip),
        fill=wash, stroke=tones.edge(ink, edge), width=hand.pen.hair, round_ends=True,
    )  # fmt: skip


def _engraved(body: Body, way: Treatment, pen: Pen) -> Iterator[Path]:
    """Yield a fibre in black and white, by its ink's treatment."""
    fill, other = (tones.BLACK, tones.WHITE) if way.solid else (tones.WHITE, tones.BLACK)
    outer = parted(body, pen) if way.solid else body
    yield Path(
        ribbon(outer.curves, outer.widths, outer.round_tip),
        fill=fill, stroke=other, width=pen.hair, round_ends=True,
    )  # fmt: skip
    yield from _grain(body, way, other, pen)


def parted(body: Body, pen: Pen) -> Body:
    """Return a black body so much wider that the white line around it doesn't thin it."""
    by = pen.hair / 2
    wider = tuple((w[0] + by, w[1] + by, w[2] + by, w[3] + by) for w in body.widths)
    return replace(body, widths=wider)


def _grain(body: Body, way: Treatment, ink: str, pen: Pen) -> Iterator[Path]:
    """Yield what a treatment draws within the outline."""
    if way.strip:
        yield Path(band(body.curves, body.widths, way.strip), fill=ink)
    if way.width:
        full = 2 * max(body.widths[0])
        yield Path(
            stroke(body.curves), stroke=ink, width=max(pen.hair, full * way.width),
            dash=way.dash, round_ends=way.dots,
        )  # fmt: skip
