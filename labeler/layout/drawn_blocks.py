"""What is drawn: the jig from its recipe, a picture file, and codes."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from typing_extensions import override

from labeler.codes import print_quality
from labeler.codes.print_quality import Digits, Symbol
from labeler.codes.qr import qr_symbol, version_of
from labeler.codes.retail_bars import retail_symbol
from labeler.drawing.engraving import Detail
from labeler.drawing.figure import shared_scale
from labeler.drawing.jig import draw_jig
from labeler.findings import LabelerError, did_you_mean
from labeler.geometry import Box, grown
from labeler.layout.block import (
    Block,
    Demands,
    Edges,
    Extent,
    LayoutContext,
    PrintedPicture,
    Size,
    Surface,
    overflow,
)
from labeler.layout.markup import Node
from labeler.marks import Code, Glyphs, Group, Picture, Piece, rectangle
from labeler.type.setting import ALIGNED
from labeler.type.styles import Style
from labeler.units import SLACK_PT, Length

_LEAST = Length.from_mm(8).pt
"""A jig drawn narrower than this is a blot: the least width of a figure or picture."""

_LEAST_LOGO = Length.from_mm(1.5).pt
"""A logo may be far higher than wide, and is known by its look."""

_SMALL = Length.from_mm(35).pt
"""Below this width the plain drawing serves better: fewer strands, no line too fine to print."""

_HEIGHT_AT_EASE = Length.from_mm(20).pt


def detail_at(width: float) -> Detail:
    """Return how finely a figure is drawn that is so many points wide."""
    return "plain" if width < _SMALL else "fine"


class Framed(Block):
    """Something with a proportion that it keeps: width to height."""

    node: Node
    context: LayoutContext
    proportion: float
    least_wide = _LEAST

    @override
    def demands(self) -> Demands:
        return self.proportion, -self.proportion

    @override
    def natural(self, width: Extent, height: Extent, fullness: float) -> Size:
        if width is None and (height is None or math.isinf(height)):
            width = _HEIGHT_AT_EASE * self.proportion
        if width is None:
            assert height is not None  # the case before took None
            width = height * self.proportion
            wide = min(width, self.least_wide + fullness * max(0.0, width - self.least_wide))
            return wide, height
        full = max(0.0, width) / self.proportion
        least = min(full, self.least_wide / self.proportion)
        return width, least + fullness * (full - least)

    @override
    def least_width(self) -> float:
        return self.least_wide

    def framed(self, box: Box) -> Box:
        """Return the largest box of the right proportion in ``box``.

        Raises:
            LabelerError: if that is too small for anything to be seen.
        """
        wide, tall = box[2] - box[0], box[3] - box[1]
        width = min(wide, tall * self.proportion)
        height = width / self.proportion
        if width < self.least_wide * 0.6:
            place = self.context.place(self.node)
            raise overflow(place, f"the width of {self.node.name}", self.least_wide, width)
        left = box[0] + (wide - width) * ALIGNED[self.node.attrs.get("align", "centre")]
        top = box[1] + self.room_above(tall - height, "middle")
        return left, top, left + width, top + height


class Figure(Framed):
    """The jig, drawn from its recipe; a photo takes its place where the maker gives one."""

    def __init__(self, node: Node, context: LayoutContext) -> None:
        self.node, self.context = node, context
        left, top, right, bottom = self._drawn("fine").box
        self.proportion = (right - left) / (bottom - top)

    def _drawn(self, detail: Detail) -> Group:
        context = self.context
        product = context.product_of(self.node)
        return draw_jig(product, ink=context.ink, detail=detail, edition=context.edition)

    def _beside_the_others(self, box: Box, frame: Box) -> Box:
        """Return the place of a jig of an assorted pack: all of them stand at one scale."""
        context = self.context
        parts = context.subject.parts if context.subject else ()
        if context.edition == 1 or len(parts) < 2 or "of" not in self.node.attrs:
            return frame
        room = box[2] - box[0], box[3] - box[1]
        drawn = [part.product for part in parts if part.product.colour.layers]
        scale = shared_scale((draw_jig(each, ink=context.ink) for each in drawn), room)
        own = self._drawn("fine").box
        share = scale * (own[2] - own[0]) / (frame[2] - frame[0])
        if share >= 1:
            return frame
        x, y = (frame[0] + frame[2]) / 2, (frame[1] + frame[3]) / 2
        half, high = (frame[2] - frame[0]) * share / 2, (frame[3] - frame[1]) * share / 2
        return x - half, y - high, x + half, y + high

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        frame = self._beside_the_others(box, self.framed(box))
        group = self._drawn(detail_at(frame[2] - frame[0]))
        own = group.box
        across, down = ((frame[at + 2] - frame[at]) / (own[at + 2] - own[at]) for at in (0, 1))
        scale = min(across, down)
        matrix = (scale, 0.0, 0.0, scale, frame[0] - own[0] * scale, frame[1] - own[1] * scale)
        surface.marks.append(replace(group, matrix=matrix))
        surface.occupied.append((frame, self))


_PAPER_EDGE = "#8a8a86"


class PrintedLabel(Framed):
    """The front of a label as it was printed, no larger than it was, with the edge of its paper."""

    least_wide = 0.0  # a tall card in a low row is narrow, and is still known by its look

    def __init__(self, node: Node, context: LayoutContext, piece: Piece) -> None:
        self.node, self.context, self.piece = node, context, piece
        self.proportion = piece.width / piece.height

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        frame, piece = self.framed(box), self.piece
        scale = min(1.0, (frame[2] - frame[0]) / piece.width)
        left = (
            frame[0]
            + (frame[2] - frame[0] - piece.width * scale)
            * ALIGNED[self.node.attrs.get("align", "centre")]
        )
        top = frame[1] + self.room_above(frame[3] - frame[1] - piece.height * scale, "middle")
        trim = (0.0, 0.0, piece.width, piece.height)
        edge = rectangle(trim, stroke=self.context.line_ink(_PAPER_EDGE), width=0.4 / scale)
        says = f"The label of lot {piece.lot}: {piece.sku}"
        matrix = (scale, 0.0, 0.0, scale, left, top)
        surface.marks.append(Group(matrix, (*piece.faces[0].marks, edge), trim, says=says))
        surface.occupied.append((frame, self))


class PictureBlock(Framed):
    """A picture file of the maker's, turned, converted and scaled to the size it prints at."""

    def __init__(self, node: Node, context: LayoutContext) -> None:
        self.node, self.context = node, context
        self.number = next(context.picture_numbers)
        self.recorded = context.recorded_pictures.get(self.number)
        logo = context.facts.get("maker", {}).get("logo")
        self.is_logo = bool(logo) and node.attrs.get("file") == logo
        if self.is_logo:
            self.least_wide = _LEAST_LOGO
        if self.recorded is None:
            # Pillow only where there is a photo
            from labeler.drawing.jig_photos import jig_photo, jig_proportion
            from labeler.drawing.photos import proportion

            self.path, self.of_jig = self._file(), None
            if "file" in node.attrs:
                self.proportion = proportion(self.path)
            else:
                self.of_jig = jig_photo(context.maker_folder or Path(), context.product.photo or "")
                self.proportion = jig_proportion(self.of_jig)
        else:
            self.proportion = self.recorded.proportion

    def _file(self) -> Path:
        """Return the file in the catalog's photos/; raise a LabelerError if it isn't there."""
        name = self.node.attrs.get("file") or self.context.product.photo or ""
        folder = (self.context.maker_folder or Path()) / "photos"
        file = folder / name
        if name and file.is_file() and file.resolve().is_relative_to(folder.resolve()):
            return file
        known = sorted(p.name for p in folder.glob("*") if p.is_file())
        missing, hint = f"there is no picture {name!r} in {folder}", did_you_mean(name, known)
        raise self.context.error("picture-missing", self.node, missing, hint=hint)

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        left, top, right, bottom = frame = self.framed(box)
        if self.recorded is None:
            from labeler.drawing.jig_photos import prepare_jig
            from labeler.drawing.photos import prepare

            context, wide, high = self.context, right - left, bottom - top
            if self.of_jig:
                image, findings = prepare_jig(
                    self.of_jig, wide, high, ink=context.photos, dpi=context.dpi
                )
            else:
                ink = context.ink if self.is_logo else context.photos
                image, findings = prepare(self.path, wide, high, ink=ink, dpi=context.dpi)
            self.context.findings += findings
        else:
            image = self.recorded.image
        self.context.pictures[self.number] = PrintedPicture(self.proportion, image)
        says = self.node.attrs.get("says") or self.context.product.name
        surface.marks.append(Picture(left, top, right - left, bottom - top, image, says))
        surface.occupied.append((frame, self))


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
        if retail and not value:
            raise self.context.error(
                "gtin-missing", self.node, "these retail bars need a GTIN, and the product has none"
            )
        try:
            if retail:
                return retail_symbol(value)
            return qr_symbol(value, self.node.attrs.get("level", "M"))
        except ValueError as error:
            raise self.context.error(
                "code-impossible",
                self.node,
                f"this code can't be made: {error}",
                found=repr(value) if value else "no address",
            ) from error

    def at_version(self, least: int) -> None:
        """Take a symbol of at least this version, to be as large as those of other pieces."""
        if self.symbol.kind == "qr" and version_of(self.symbol) < least:
            level = self.node.attrs.get("level", "M")
            self.symbol = qr_symbol(self.symbol.payload, level, least)

    @property
    def version(self) -> int:
        """The version of a QR code, 0 of other codes."""
        return version_of(self.symbol) if self.symbol.kind == "qr" else 0

    @override
    def demands(self) -> Demands:
        return float(self.symbol.columns), float(self.symbol.rows)

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
    def natural(self, width: Extent, height: Extent, fullness: float) -> Size:
        across, down = self.symbol.columns, self.symbol.rows
        least = self.least
        module = max(least, self.module_in(least + fullness * (self.most - least)))
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
        if self.context.settings is not None:
            self.at_version(self.context.settings.versions.get(self.node.key, 1))
        module, over = self._hung(wide, tall)
        if not module:
            raise self._overflow(wide, tall)
        self.context.laid.versions[self.node.key] = self.version
        width, height = module * self.symbol.columns, module * self.symbol.rows
        align = self.node.attrs.get("align", "centre")
        middle = (box[0] + box[2] - width) / 2
        left = {"left": box[0] - over, "centre": middle, "right": box[2] - width + over}[align]
        top = box[1] + self.room_above(box[3] - box[1] - height, "middle")
        place = left, top, width, height, left, top, module
        code = Code(self.symbol.kind, self.symbol.payload, *place, self.symbol.bars)
        surface.marks.append(code)
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
    x = left + group.x * module + lead + shaped.lead * size / 1000
    width = shaped.width * size / 1000
    return Glyphs(x, baseline, face.name, size, "#000000", shaped.text, width, shaped.shifts)
