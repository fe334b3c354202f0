"""A code block: a QR link or a retail bar code, on a whole number of the printer's dots."""

from __future__ import annotations

import math
from contextlib import suppress
from functools import lru_cache

from typing_extensions import override

from labeler.codes import print_quality
from labeler.codes.qr import qr_symbol
from labeler.codes.retail_bars import retail_symbol
from labeler.codes.symbol import Digits, Symbol
from labeler.findings import LabelerError
from labeler.geometry import Box, grown
from labeler.layout.block import Block, Edges, Surface, overflow
from labeler.layout.context import LayoutContext
from labeler.layout.markup import Node
from labeler.marks import Code, Glyphs
from labeler.type.styles import Style
from labeler.units import SLACK_PT, Length

_MOST_QR = Length.from_mm(0.6).pt
"""How wide a layout lets a QR code's module grow unless it says otherwise: enough for any
telephone. House choice, no published source."""


class CodeBlock(Block):
    """A symbol as large as its box and its module's bounds allow, quiet zone included."""

    def __init__(self, node: Node, context: LayoutContext) -> None:
        self.node, self.context = node, context
        self.kind = node.attrs.get("kind", "qr")
        self.symbol = self._symbol()
        self.least, self.most = self._bounds()
        self.quiet = self.symbol.bars[0][0]  # the first rectangle stands at the left edge
        beside = node.attrs.get("align", "centre") != "centre"
        self.hang: float = node.attrs.get("hang", 0.0) if beside else 0.0
        self.digits = node.attrs.get("digits", "yes") == "yes"

    def _symbol(self) -> Symbol:
        retail = self.kind == "retail"
        usual = self.context.product.gtin or "" if retail else str(self.context.facts["link"])
        value = self.node.attrs.get("value") or usual
        try:
            if retail:
                return retail_symbol(value)
            return qr_symbol(value, self.node.attrs.get("level", "M"))
        except ValueError as error:
            raise self.context.error(
                "code-impossible",
                self.node,
                f"this code can't be made: {error}",
                found=repr(value) if value else "no number" if retail else "no address",
            ) from error

    def _bounds(self) -> tuple[float, float]:
        """Return the least and the largest module.

        A layout may ask for less than telephones like, but not for less than a till needs; and
        where no whole number of dots lies between its bounds, the next larger one does.
        """
        qr_code = self.symbol.kind == "qr"
        size = print_quality.size_of("qr-phone" if qr_code else self.symbol.kind)
        standard = Length.from_mm(size.least).pt
        least = self.node.attrs.get("least", standard)
        least = least if qr_code else max(least, standard)
        most = self.node.attrs.get("most", _MOST_QR if qr_code else Length.from_mm(size.most).pt)
        with suppress(ValueError):
            least = print_quality.module_for(self.context.dpi, Length(least).mm, size.most).pt
        return least, max(least, most)

    def module_in(self, room: float) -> float:
        """Return the widest module of at most ``room`` points, 0 if even the least is wider.

        On a printer whose resolution is known it is a whole number of dots.
        """
        return _module_in(self.context.dpi, self.least, self.most, room)

    @override
    def natural(
        self, width: float | None, height: float | None, squeeze: float
    ) -> tuple[float, float]:
        across, down = self.symbol.columns, self.symbol.rows
        least = self.least
        module = max(least, self.module_in(least + squeeze * (self.most - least)))
        if height is not None and math.isfinite(height):
            module = min(module, max(least, self.module_in(height / down)))
        if width is not None:
            module = min(module, max(least, self._hung(width, math.inf)[0]))
            return width, module * down
        return module * across - self._over(module), module * down

    @override
    def least_width(self) -> float:
        return self.symbol.columns * self.least - self._over(self.least)

    @override
    def blank(self) -> Edges:
        """Return the quiet zone at its least, but not on the side on which it may hang over."""
        quiet = self.quiet * self.least
        over = quiet if self.symbol.kind == "qr" else 0.0
        sides = {"left": (quiet, 0.0), "centre": (quiet, quiet), "right": (0.0, quiet)}
        right, left = sides[self.node.attrs.get("align", "centre")] if self.hang else (quiet, quiet)
        return over, right, over, left

    @override
    def printed(self, box: Box) -> Box:
        module = (box[2] - box[0]) / self.symbol.columns
        quiet = self.quiet * module
        return grown(box, -quiet, -quiet if self.symbol.kind == "qr" else 0.0)

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        wide, tall = box[2] - box[0] + SLACK_PT, box[3] - box[1] + SLACK_PT
        module, over = self._hung(wide, tall)
        if not module:
            raise self._overflow(wide, tall)
        width, height = module * self.symbol.columns, module * self.symbol.rows
        align = self.node.attrs.get("align", "centre")
        left = {
            "left": box[0] - over,
            "centre": (box[0] + box[2] - width) / 2,
            "right": box[2] - width + over,
        }[align]
        top = box[1] + self.room_above(box[3] - box[1] - height, "middle")
        surface.marks.append(
            Code(
                self.symbol.kind, self.symbol.payload, left, top, width, height, left, top,
                module, self.symbol.bars,
            )
        )  # fmt: skip
        if self.digits:
            style = self.context.style("digits", self.node)
            for group in self.symbol.digits:
                surface.marks.append(_digits(group, style, left, top, module))
        surface.occupied.append(((left, top, left + width, top + height), self))

    def _overflow(self, wide: float, tall: float) -> LabelerError:
        needs = self.least_width()
        what, has = "width", wide
        if needs <= wide:
            what, needs, has = "height", self.symbol.rows * self.least, tall
        named = f"the {what} of the code, with the clear space around it,"
        return overflow(self.context.place(self.node), named, needs, has)

    def _hung(self, wide: float, tall: float) -> tuple[float, float]:
        """Return the module, and how far the quiet zone hangs over into the margin beside it.

        Light modules in a light margin: the dark ones can then stand flush with the text.
        """
        columns, rows = self.symbol.columns, self.symbol.rows
        module = self.module_in(min((wide + self.hang) / columns, tall / rows))
        if self.quiet * module < self.hang:
            module = self.module_in(min(wide / (columns - self.quiet), tall / rows))
        return module, self._over(module)

    def _over(self, module: float) -> float:
        return min(self.hang, self.quiet * module)


@lru_cache(maxsize=1_024)
def _module_in(dpi: int | None, least: float, most: float, room: float) -> float:
    """Return the widest module in points; a run of like labels asks for the same few rooms."""
    bounds = Length(least).mm, Length(most).mm
    try:
        return print_quality.largest_module(dpi, *bounds, 1, Length(room).mm).pt
    except ValueError:
        return 0.0


def _digits(group: Digits, style: Style, left: float, top: float, module: float) -> Glyphs:
    """Set digits each in the middle of its equal share, as tall as their box allows."""
    face = style.face
    share = group.width * module / len(group.text)
    highest, lowest = face.ink_of("0123456789")
    size = min(group.height * module / (highest - lowest), share / face.figure_width) * 1000
    baseline = top + group.y * module + highest * size / 1000
    lead = (share - face.figure_width * size / 1000) / 2
    shaped = face.shape(group.text, (share * 1000 / size) - face.figure_width, tabular=True)
    return Glyphs(
        left + group.x * module + lead + shaped.lead * size / 1000,
        baseline,
        face.name,
        size,
        "#000000",
        shaped.text,
        shaped.width * size / 1000,
        shaped.shifts,
    )
