"""The first edition of the drawing: the figures of what was printed before there was a second.

A label that is printed again shows the figure that hangs on the peg. Here stands all in which the
first edition differs; what both share stands in ``figure.py``, ``skirt.py`` and ``engraving.py``.
Where today's drawing is changed there, what it was moves here: each stroke and each number drawn by
chance stays as the first labels have it, and the labels under ``tests/ledger/vectors`` tell.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import ClassVar

from labeler.drawing import engraving
from labeler.drawing.curves import Cubic, part, ribbon, stroke
from labeler.drawing.engraving import DARK, Pen, Treatment, Treatments, lightness, shade, tint
from labeler.drawing.figure import JigDrawing, JigPlaces, places_of
from labeler.drawing.skirt import Body, Fan, Flow, Strand, StrandDrawing
from labeler.drawing.subject import Dressing, JigLook, LayerLook
from labeler.marks import Step, VectorPath


@dataclass(frozen=True, slots=True)
class FirstTreatment(Treatment):
    """One way of drawing a strand: black parted by white, or white outlined in black."""

    dash: tuple[float, ...] = ()
    """Marks in the other ink along the strand's middle, in points."""
    width: float = 0.0
    """Their width as a share of the strand's; 0 leaves them out."""
    dots: bool = False

    @property
    def light(self) -> float:
        """How high on the ladder it stands, 0 solid black to 1 bare outline."""
        return _LADDER.index(self) / (len(_LADDER) - 1)


_LADDER = (
    FirstTreatment(solid=True),
    FirstTreatment(solid=True, strips=((0.1, 0.52),)),
    FirstTreatment(solid=False, strips=((-1.0, 0.15),)),
    FirstTreatment(solid=False, width=0.9, dash=(0.5, 1.0)),
    FirstTreatment(solid=False, strips=((-0.72, -0.28),)),
    FirstTreatment(solid=False, width=0.16, dash=(4.5, 2.4)),
    FirstTreatment(solid=False, width=0.3, dash=(0.01, 3.2), dots=True),
    FirstTreatment(solid=False),
)
"""From the darkest to the lightest."""


class FirstFan(Fan):
    """Lays strands around one collar: rounder, and parted wide for the hook's point."""

    FLOWS: ClassVar[Mapping[Dressing, Flow]] = {
        "skirt": Flow(
            flare=0.38, leave=74, arrive=(3, 24), fall=0.085, ragged=0.1, seat=1.0, parting=52,
            sway=0.045,
        ),
        "hair": Flow(
            flare=0.17, leave=34, arrive=(-5, 5), fall=0.035, ragged=0.3, seat=1.85, parting=84,
            sway=0.012,
        ),
        "feather": Flow(
            flare=0.09, leave=32, arrive=(0, 9), fall=0.07, ragged=0.12, seat=1.3, parting=80,
            sway=0.05,
        ),
    }  # fmt: skip
    LOW_ABOVE = 0.0
    LEAST_FLARE, LEAST_LEAVE = 0.78, 0.8


class FirstStrandDrawing(StrandDrawing):
    """Draws strands within lines of one width, in shadows of one depth."""

    FAR, GLEAM = 0.24, 0.3
    EDGE, HAIR_EDGE = 1.0, 0.6
    TINSEL_EDGE, TINSEL_FLASH, TINSEL_WIDTH = 0.55, 0.75, 1.1
    THREAD, THREADS = 0.9, (2, 4)

    def shadow(self, ink: str, share: float) -> str:
        """Return an ink as it looks in shadow."""
        return shade(ink, share)

    def edge(self, ink: str, strength: float) -> str:
        """Return the ink of the line around a fibre, lighter than it where it is dark."""
        light = lightness(ink)
        if light < DARK:
            return tint(ink, 0.2 * strength)
        return shade(ink, (0.42 + 0.16 * light) * strength)

    def line(self, body: Body) -> float:
        """Return how wide the line around a fibre is, in points."""
        return self.pen.hair

    def grain(self, body: Body, way: Treatment) -> Iterator[VectorPath]:
        """Yield what a treatment draws within the outline."""
        yield from super().grain(body, way)
        if isinstance(way, FirstTreatment) and way.width:
            full = 2 * max(body.widths[0])
            yield VectorPath(
                stroke(body.curves), stroke=way.inks[1],
                width=max(self.pen.hair, full * way.width), dash=way.dash, round_ends=way.dots,
            )  # fmt: skip

    def down(self, strand: Strand, layer: LayerLook) -> Iterator[VectorPath]:
        """Yield the soft body beneath the locks; in black there is none."""
        if not self.treatments:
            quill = strand.curve
            long = math.dist(quill[0], quill[3])
            leaf = ribbon([part(quill, 0.0, 0.88)], [(1.0, long * 0.07, long * 0.055, 0.0)])
            yield VectorPath(leaf, fill=shade(self.wash(layer.ink, strand), 0.16))

    def washed_plume(
        self, steps: tuple[Step, ...], locks: list[Cubic], ink: str, strand: Strand
    ) -> Iterator[VectorPath]:
        """Yield locks in their wash, with threads over them in a fine drawing."""
        wash, hair = self.wash(ink, strand), self.pen.hair
        if lightness(ink) < DARK:
            edge, thread = tint(wash, 0.15), tint(wash, 0.26)
        else:
            edge, thread = shade(wash, 0.33), tint(wash, 0.24)
        yield VectorPath(steps, fill=wash, stroke=edge, width=hair, round_ends=True)
        if self.pen.fine:
            threads = tuple(step for lock in locks[::5] for step in stroke([lock]))
            yield VectorPath(threads, stroke=thread, width=hair, round_ends=True)


class FirstDrawing(JigDrawing):
    """One jig under one pen, as the first edition drew it."""

    FAN, STRANDS = FirstFan, FirstStrandDrawing

    def places(self, subject: JigLook) -> JigPlaces:
        """Return where its parts go."""
        return places_of(subject, first=True)

    def treatments(self, subject: JigLook, pen: Pen) -> Treatments:
        """Return how each of its inks is shown in black, in a plain drawing too."""
        return engraving.treatments(subject.inks, _LADDER)
