"""Weed guards: a fan of fibres, a pair of wires or a braided cable from head to hook point."""

from __future__ import annotations

import math
from collections.abc import Iterator

from labeler.layout.figure import tones
from labeler.layout.figure.chance import Chance
from labeler.layout.figure.curves import Cubic, Point, across, at, ribbon, stroke
from labeler.layout.figure.hooks import Wire
from labeler.layout.figure.pens import Pen
from labeler.layout.figure.subject import Guard
from labeler.layout.marks import Path

MOST_FIBRES = 48
"""More fibres than these run into one another even on a card; the fan then shows so many."""

MOST_PLAIN_FIBRES = 9

_PALE = 0.65
"""Inks lighter than this need a darker line beneath them to show on paper."""


def draw_guard(guard: Guard, wire: Wire, foot: Point, pen: Pen, chance: Chance) -> Iterator[Path]:
    """Yield a guard that stands at ``foot`` on the head and ends just over the hook's point."""
    tip = wire.point[0] + wire.gape * 0.12, wire.point[1] - wire.gape * 0.2
    if guard.style == "fibre":
        return _fibres(guard, (foot, tip), pen, chance)
    if guard.style == "wire":
        return _wires(guard, (foot, tip), pen)
    return _braid(guard, (foot, tip), pen)


def fibres_drawn(guard: Guard, pen: Pen) -> int:
    """Return how many of a guard's fibres the drawing shows."""
    return min(guard.strands, MOST_FIBRES if pen.fine else MOST_PLAIN_FIBRES)


def _fibres(guard: Guard, way: tuple[Point, Point], pen: Pen, chance: Chance) -> Iterator[Path]:
    """Yield each fibre, those at the back first, fanned out from the plug that holds them."""
    count = fibres_drawn(guard, pen)
    ink = tones.BLACK if pen.black else guard.ink
    back = ink if pen.black else tones.tint(ink, 0.3)
    spread = math.radians(4 + 5 * min(1.0, count / 30))
    width = pen.hair * 1.16
    edge = None if pen.black or tones.lightness(ink) < _PALE else tones.edge(ink)
    for i in sorted(range(count), key=_behind):
        share = (i + 0.5) / count * 2 - 1
        steps = stroke([_fibre(way, share, spread, chance)])
        if edge:
            yield Path(steps, stroke=edge, width=width * 1.9, round_ends=True)
        own = ink if _behind(i) else back
        yield Path(steps, stroke=own, width=width, round_ends=True)


def _behind(number: int) -> int:
    """Return a fibre's place in depth: every third lies at the back."""
    return number % 3


def _fibre(way: tuple[Point, Point], share: float, spread: float, chance: Chance) -> Cubic:
    foot, tip = way
    reach = math.hypot(tip[0] - foot[0], tip[1] - foot[1]) * chance.within(0.97, 1.03)
    angle = math.atan2(tip[1] - foot[1], tip[0] - foot[0]) + share * spread
    angle += chance.about(0, spread * 0.12)
    side = across(foot, tip)
    start = foot[0] - side[0] * share * 2.0, foot[1] - side[1] * share * 2.0
    bow = reach * 0.045 + chance.about(0, reach * 0.012)
    end = start[0] + math.cos(angle) * reach, start[1] + math.sin(angle) * reach
    return (
        start,
        (start[0] + (end[0] - start[0]) / 3, start[1] + (end[1] - start[1]) / 3 - bow),
        (start[0] + (end[0] - start[0]) * 0.7, start[1] + (end[1] - start[1]) * 0.7 - bow),
        end,
    )


def _wires(guard: Guard, way: tuple[Point, Point], pen: Pen) -> Iterator[Path]:
    """Yield two springy wires in a narrow V, each bent down over the hook's point."""
    ink = tones.BLACK if pen.black else guard.ink
    for share in (-1.0, 1.0):
        long = _bowed(way, share * 3.2)
        yield Path(stroke([long]), stroke=ink, width=pen.contour * 1.35, round_ends=True)
        if not pen.black:
            light = tones.tint(ink, 0.5)
            yield Path(stroke([long]), stroke=light, width=pen.hair, round_ends=True)


def _bowed(way: tuple[Point, Point], off: float) -> Cubic:
    (x0, y0), (x1, y1) = way
    dx, dy = x1 - x0, y1 - y0
    return (
        (x0, y0),
        (x0 + dx * 0.34, y0 + dy * 0.55 + off * 0.5 - 2),
        (x0 + dx * 0.76, y0 + dy * 1.1 + off - 3),
        (x1 + 3, y1 + off + 2),
    )


def _braid(guard: Guard, way: tuple[Point, Point], pen: Pen) -> Iterator[Path]:
    """Yield one braided cable with a frayed end."""
    ink = tones.BLACK if pen.black else guard.ink
    light = tones.WHITE if pen.black else tones.tint(ink, 0.5)
    cable = _bowed(way, 0.0)
    half = pen.contour * 1.3
    yield Path(ribbon([cable], [(half,) * 4]), fill=ink)
    yield Path(stroke([cable]), stroke=light, width=half * 0.9, dash=(0.8, 1.7))
    end = at(cable, 1.0)
    for lean in (-0.5, -0.1, 0.3):
        stub = end, (end[0] + 1.5, end[1] + lean), (end[0] + 3, end[1] + lean * 3), (
            end[0] + 5, end[1] + lean * 6
        )  # fmt: skip
        yield Path(stroke([stub]), stroke=ink, width=pen.hair, round_ends=True)
