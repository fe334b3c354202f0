"""From a few distances measured on the alignment sheet to the correction that undoes them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from labeler.findings import Finding, LabelerError, Place, stop
from labeler.layout.marks import Matrix
from labeler.press.matrix import after, undone
from labeler.press.printer import Printer
from labeler.units import POINTS_PER_INCH, Length

_FARTHEST = POINTS_PER_INCH / 2
_SCALE_OFF = 0.03
"""Half an inch or three in a hundred is no printer's error: the page was scaled to fit, or the
ruler misread. Common practice, no published source."""

_DRIFT = POINTS_PER_INCH / 4


@dataclass(frozen=True, slots=True)
class Measured:
    """Distances on the printed alignment sheet, in points; None for what was not measured.

    Attributes:
        left: from the paper's left edge to cross A.
        top: from the paper's top edge to cross A.
        left_low: from the left edge to cross C, below A.
        top_far: from the top edge to cross B, right of A.
        across: from cross A to cross B.
        down: from cross A to cross C.
        back_left: on the back, from the left edge to cross A.
        back_top: on the back, from the top edge to cross A.
    """

    left: float
    top: float
    left_low: float | None = None
    top_far: float | None = None
    across: float | None = None
    down: float | None = None
    back_left: float | None = None
    back_top: float | None = None


@dataclass(frozen=True, slots=True)
class Crosses:
    """Where the crosses of the alignment sheet belong: ``inset`` from each edge of the paper."""

    width: float
    height: float
    inset: float

    @property
    def across(self) -> float:
        """From cross A to cross B."""
        return self.width - 2 * self.inset

    @property
    def down(self) -> float:
        """From cross A to cross C."""
        return self.height - 2 * self.inset


def correction(crosses: Crosses, measured: Measured, before: Printer) -> Printer:
    """Return the profile with which the crosses land where they belong.

    Args:
        crosses: where they belong.
        measured: where they are.
        before: the profile with which the sheet was printed; a fresh one corrects nothing.

    Raises:
        LabelerError: if a distance is no printer's error, naming each such distance.
    """
    findings = _implausible(crosses, measured)
    if findings:
        raise LabelerError(findings)
    printed = _as_printed(crosses, measured)
    now = after(before.matrix(), undone(printed))
    back = before.back
    if measured.back_left is not None or measured.back_top is not None:
        back = _back(crosses, measured, before, printed)
    across, tilt, lean, down, x, y = now
    return replace(before, shift=(x, y), scale=(across, down), skew=(lean, tilt), back=back)


def _as_printed(crosses: Crosses, measured: Measured) -> Matrix:
    """Return the matrix that takes the page as it was sent to the paper as it came out."""
    left_low = measured.left if measured.left_low is None else measured.left_low
    top_far = measured.top if measured.top_far is None else measured.top_far
    across = crosses.across if measured.across is None else measured.across
    down = crosses.down if measured.down is None else measured.down
    fall, lean = top_far - measured.top, left_low - measured.left
    a, b = math.sqrt(across**2 - fall**2) / crosses.across, fall / crosses.across
    c, d = lean / crosses.down, math.sqrt(down**2 - lean**2) / crosses.down
    e = measured.left - (a + c) * crosses.inset
    f = measured.top - (b + d) * crosses.inset
    return a, b, c, d, e, f


def _back(
    crosses: Crosses, measured: Measured, before: Printer, printed: Matrix
) -> tuple[float, float]:
    """Return how much farther a back must move, so that its own cross A lands right too."""
    left = measured.left if measured.back_left is None else measured.back_left
    top = measured.top if measured.back_top is None else measured.back_top
    a, b, c, d, e, f = printed
    back_printed = a, b, c, d, e + left - measured.left, f + top - measured.top
    front = after(before.matrix(), undone(printed))
    back = after(before.matrix("back"), undone(back_printed))
    return back[4] - front[4], back[5] - front[5]


def _implausible(crosses: Crosses, measured: Measured) -> list[Finding]:
    """Return the distances that no printer gets so wrong."""
    inset = crosses.inset
    edges = {
        "left": inset, "top": inset, "left_low": inset, "top_far": inset,
        "back_left": inset, "back_top": inset,
    }  # fmt: skip
    findings = []
    for key, wanted in edges.items():
        value = getattr(measured, key)
        if value is not None and not abs(value - wanted) <= min(_FARTHEST, inset):
            findings.append(_off(key, value, wanted))
    for key, wanted in (("across", crosses.across), ("down", crosses.down)):
        value = getattr(measured, key)
        if value is not None and not abs(value / wanted - 1) <= _SCALE_OFF:
            findings.append(_off(key, value, wanted))
    drifts = (("left_low", measured.left, crosses.down), ("top_far", measured.top, crosses.across))
    if findings:
        return findings
    return [
        _off(key, getattr(measured, key), near)
        for key, near, length in drifts
        if getattr(measured, key) is not None
        and abs(getattr(measured, key) - near) > min(_DRIFT, length / 20)
    ]


def _off(key: str, value: float, wanted: float) -> Finding:
    return stop(
        "distance-implausible",
        Place(key=key.replace("_", "-")),
        "no printer is out by so much",
        found=f"{Length(value).mm:.2f} mm",
        expected=f"about {Length(wanted).mm:.2f} mm",
        hint="Print the sheet at 100 % (actual size), not fitted to the page, and measure again.",
    )
