"""The display panel: how large it is, how high letters on it must stand, and what stays clear.

The panel is the side of the package that faces the buyer: the card for carded goods, the bag's
face for a label on a bag. A label is never the panel where the bag behind it is larger.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from labeler.catalog.model import Bag
from labeler.disclosures import rules
from labeler.disclosures.rules import HeightRow, Measure
from labeler.units import Length

Side = Literal["card", "bag", "label", "unstated bag", "tube", "other"]

_METRIC = re.compile(r"(?<=\d)\s?(?:[kmc]?[gm])\b")

_SAME_AREA = 1e-6
"""Relative: two areas closer than this are the same, whatever units they were typed in."""


@dataclass(frozen=True, slots=True)
class Panel:
    """A display panel: what it is, and its area in square inches.

    ``height`` is how high it stands as it is displayed, where that is known.
    """

    side: Side
    area: float
    height: Length | None = None

    @property
    def free_of_bottom_rule(self) -> bool:
        """Whether it is so small that the quantity may stand anywhere on it."""
        return _not_above(self.area, rules.number("form-bottom-relief"))

    @property
    def row(self) -> HeightRow:
        """The row of the table of type heights that this panel falls in."""
        rows = rules.rules()["form-type-height"].row
        return next(row for row in rows if row.up_to is None or _not_above(self.area, row.up_to))

    @property
    def letter_height(self) -> float:
        """The least height of the quantity's letters, in points."""
        return self.row.points

    @property
    def firm_letter_height(self) -> float:
        """The part of that height, in points, that the text as read asks for."""
        return self.row.firm

    @property
    def moulded_letter_height(self) -> float:
        """The least height, in points, of letters blown or moulded into the surface."""
        return self.row.points + rules.size_pt("form-moulded")

    @property
    def figure_of_fraction_height(self) -> float:
        """The least height, in points, of each figure of a fraction."""
        return self.letter_height * rules.number("form-fraction-height")

    @property
    def bottom(self) -> Length | None:
        """How far up from the foot the quantity may reach; None where it may stand anywhere."""
        if self.free_of_bottom_rule or self.height is None:
            return None
        return Length(self.height.pt * rules.number("form-bottom"))


def of_card(width: Length, height: Length) -> Panel:
    """Return the panel of goods on a card: the card's whole face, not the blister or the bag.

    Source: 1 NYCRR 221.8, "display card".
    """
    return Panel("card", width.inches * height.inches, height)


def of_label(width: Length, height: Length, bag: Bag | None) -> Panel:
    """Return the panel of a label on a bag: the bag's face, or the label where that is larger.

    A bag of which nothing is known is taken to be no small one, so that letters are not set
    smaller than they should be.
    """
    label = Panel("label", width.inches * height.inches, height)
    if bag is None:
        unknown = Panel("unstated bag", rules.number("form-unstated-bag"))
        return unknown if label.area < unknown.area else label
    face = Panel("bag", bag.width.inches * bag.height.inches, bag.height)
    return face if label.area <= face.area else label


def of_tube(height: Length, round_about: Length) -> Panel:
    """Return the panel of a tube: two fifths of its height times its circumference.

    Source: 16 CFR 500.21(a)(2).
    """
    share = rules.number("form-panel-area")
    return Panel("tube", share * height.inches * round_about.inches, height)


def of_other(surface: float, obvious: float | None = None) -> Panel:
    """Return the panel of a package of another shape, areas in square inches.

    Two fifths of the whole surface, or all of an ``obvious`` panel.
    Source: 16 CFR 500.21(a)(3).
    """
    share = rules.number("form-panel-area")
    return Panel("other", share * surface if obvious is None else obvious)


def measured_by(text: str) -> Measure:
    """Return what of ``text`` is measured: its capitals, or its small o once it has a small letter.

    Figures count as capitals, and so do metric symbols, which are judged by the height of an L
    or a d. Source: 16 CFR 500.21(d) and (h).
    """
    plain = _METRIC.sub("", text)
    return "x-height" if any(letter.islower() for letter in plain) else "cap height"


def too_narrow(letter: str, height: float, width: float) -> bool:
    """Tell whether the ink of ``letter`` is too high for its width.

    Letters narrow by nature, and marks that are no letters, are left out.
    """
    rule = rules.rules()["form-narrowness"]
    if letter in rule.words or not letter.isalnum():
        return False
    return height > rules.number("form-narrowness") * width * (1 + _SAME_AREA)


def clear_space(letter_height: float, width_of_n: float) -> tuple[float, float]:
    """Return what stays clear of print around the quantity, in points: above and below, beside.

    Args:
        letter_height: the height of the declaration's letters, in points.
        width_of_n: the width of its capital N at that size, in points.
    """
    above = letter_height * rules.number("form-clear-above")
    return above, width_of_n * rules.number("form-clear-beside")


def _not_above(area: float, bound: float) -> bool:
    return area <= bound * (1 + _SAME_AREA)
