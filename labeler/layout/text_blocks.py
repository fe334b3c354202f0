"""Blocks of words: a text, and what the product must say where it is sold.

A text takes the largest size that fits, its lines broken well, or is an error with its name. A
disclosure block takes the statements of its kinds that no block before it has printed, at the
sizes asked for. What is left at the end of a piece is an error, so a layout can't forget a
warning.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from typing_extensions import override

from labeler.disclosures.needed import clear_space
from labeler.disclosures.rules import KINDS
from labeler.disclosures.statements import LeastSize, Statement, StatementForm
from labeler.findings import LabelerError, Place, stop
from labeler.geometry import Box
from labeler.layout.block import (
    Block,
    ClearSpace,
    Demands,
    Edges,
    Extent,
    LayoutContext,
    Size,
    Surface,
    overflow,
)
from labeler.layout.markup import KINDS_IN_MARKUP, Node
from labeler.marks import Mark, VectorPath
from labeler.type.finish import finished
from labeler.type.setting import (
    ALIGNED,
    BETWEEN,
    Align,
    Span,
    Text,
    TextSetting,
    glyphs_of,
    in_face,
    text_of,
)
from labeler.type.styles import Style
from labeler.units import NO_BREAK_SPACE, SLACK_PT

_NEARLY = 0.05
"""Points by which a text may miss the height aimed at: sizes are steps of as much."""


class TextBlock(Block):
    """Words in one style, with spans in others.

    ``aim`` is how high its capitals should stand to be read from the peg; ``under`` names a text
    drawn before it than which they never stand higher.
    """

    def __init__(self, node: Node, context: LayoutContext) -> None:
        self.node = node
        self.context = context
        attrs = node.attrs
        base = context.style(attrs.get("style", "value"), node, attrs.get("ink"))
        parts = _finished_parts([words for words, _ in node.words], context.finish)
        owners = (owner for _, owner in node.words)
        spans = [self._span(base, *each) for each in zip(parts, owners, strict=True)]
        self.empty = not any(span.text.strip() for span in spans)
        self.text = text_of(
            in_face(spans) or (Span(base, ""),), base, *self._sizes(base), attrs.get("lines", 1_000)
        )
        refuse_missing_letters(self.text, context.place(node))

    def _span(self, base: Style, words: str, owner: Node | None) -> Span:
        if owner is None:
            return Span(base, words)
        own = owner.attrs.get("style")
        ink = owner.attrs.get("ink", None if own else base.ink)
        style = self.context.style(own or base.name, owner, ink, self.node.name)
        return Span(style, words, owner.attrs.get("size", style.most / base.most))

    def _sizes(self, base: Style) -> tuple[float, float]:
        """Return the largest and the least size: the block's own, else the style's."""
        most, least = self.node.attrs.get("most"), self.node.attrs.get("least")
        if most is None:
            return max(base.most, least or 0.0), least or base.least
        if least is not None and least > most:
            raise self.context.error(
                "layout-value",
                self.node,
                "the least size is larger than the most",
                found=f"{least:g} pt and {most:g} pt",
            )
        return most, min(most, base.least if least is None else least)

    @override
    def natural(self, width: Extent, height: Extent, fullness: float) -> Size:
        if self.empty:
            return 0.0, 0.0
        size = self.text.size_at(fullness)
        if width is None:
            if height is not None and math.isfinite(height):
                size = self.text.largest_size(math.inf, height, size) or size
            wide = self.text.natural_width(size)
            one_line = (self.text.ascent + self.text.descent) * size
            return wide, one_line
        height = self.text.height(size, width)
        if math.isinf(height):  # a long word: at a lesser size it may fit
            smaller = self.text.largest_size(width, math.inf, size)
            height = height if smaller is None else self.text.height(smaller, width)
        return width, height

    @override
    def least_width(self) -> float:
        return 0.0 if self.empty else self.text.narrowest

    @override
    def drop(self, width: float, height: float) -> float:
        return self.drop_at(width, height, self.text.most)

    def drop_at(self, width: float, height: float, most: float) -> float:
        """Return what `drop` does of a text of at most ``most`` points."""
        setting = None if self.empty else self.text.largest(width, height, most)
        if setting is None:
            return 0.0
        spare = height - setting.height
        return spare - self.room_above(spare) + self.text.descent * setting.size

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        if self.empty:
            return
        width, height = box[2] - box[0], box[3] - box[1]
        most, ascent, descent = self._most(), self.text.ascent, self.text.descent
        settings = self.context.settings
        if settings is not None and self.node.key in settings.sizes:
            _, ascent, descent = settings.sizes[self.node.key]
        setting = self.text.largest(width, height, most)
        if setting is None:
            raise self.overflows(width, height)
        self.context.laid.sizes[self.node.key] = setting.size, ascent, descent
        self._note_height(setting.size)
        # Letters that rise less than those of other pieces stand on the same line as they.
        rises, hangs = ascent - self.text.ascent, descent - self.text.descent
        spare = height - setting.height - (rises + hangs) * setting.size
        top = box[1] + self.room_above(spare) + rises * setting.size
        usual = self.flush if settings is not None else "left"
        align = self.node.attrs.get("align", usual)
        surface.marks += glyphs_of(self.text, setting, box[0], top, width, align)
        surface.occupied.append((ink_box(box, top, setting, align), self))

    @override
    def demands(self) -> Demands:
        text = self.text
        if self.empty:
            return ()
        if text.max_lines == 1:
            return text.natural_width(1.0), text.least, -text.most, text.ascent, text.descent
        return "\0".join((*(span.text for span in text.spans), f"{text.most:g} {text.least:g}"))

    def _most(self) -> float:
        """Return the largest size it may take: its own, its sisters', that of the text above."""
        above = self.context.capitals.get(self.node.attrs.get("under", ""))
        most = self.text.most if above is None else min(self.text.most, above / self._capital)
        settings = self.context.settings
        known = settings.sizes.get(self.node.key) if settings is not None else None
        return most if known is None else min(most, known[0])

    @property
    def _capital(self) -> float:
        """How high a capital stands to the type size."""
        return self.text.base.face.cap_height / 1000

    def _note_height(self, size: float) -> None:
        """Keep how high the capitals stand, and where that is less than was aimed at."""
        high = size * self._capital
        self.context.capitals[self.node.name] = high
        aim = self.node.attrs.get("aim", 0.0)
        if high < aim - _NEARLY:
            self.context.laid.below_aim.append((self.node.called, high, aim))

    def overflows(self, width: float, height: float) -> LabelerError:
        """Return the error of a text that does not fit a box."""
        place = self.context.place(self.node)
        words = "".join(words for words, _ in self.node.words)
        quoted = words if len(words) <= 60 else words[:59] + "…"
        least = self.text.height(self.text.least, width)
        if math.isfinite(least):
            return overflow(place, f"the height of the text “{quoted}”", least, height)
        return overflow(place, f"the width of the text “{quoted}”", self.text.narrowest, width)


def _finished_parts(parts: Sequence[str], finish: bool) -> Iterator[str]:
    """Yield the parts of a text, finished as one; that leaves each as long as it was."""
    said = finished("".join(parts)) if finish else "".join(parts)
    at = 0
    for part in parts:
        yield said[at : at + len(part)]
        at += len(part)


def ink_box(box: Box, top: float, setting: TextSetting, align: Align) -> Box:
    """Return the box that a set text really takes inside the box that it was given."""
    left = box[0] + (box[2] - box[0] - setting.width) * ALIGNED[align]
    return left, top, left + setting.width, top + setting.height


def refuse_missing_letters(
    text: Text, place: Place, way_out: str = "name a face that has them in layouts/styles.toml."
) -> None:
    """Raise a LabelerError that names every letter a face has no glyph for."""
    if text.lacking:
        raise LabelerError(
            stop(
                "missing-letters",
                place,
                f"the face {face!r} has no letters for part of this text",
                found=" ".join(f"{letter} (U+{ord(letter):04X})" for letter in letters),
                hint=f"Write it in other letters, or {way_out}",
            )
            for face, letters in text.lacking
        )


SIGN_HEIGHT = 1.25
"""The warning triangle's height to the signal word's capitals; the law asks for no less than 1."""

_SIGN_INK = "#f9a800"
"""Signal yellow, RAL 1003 in sRGB. Source: ISO 3864-1 as restated in encyclopaedias."""


def warning_sign(left: float, baseline: float, high: float, black: bool) -> Iterator[Mark]:
    """Draw the warning triangle, which no face has: black edge and mark on yellow, or on white.

    Source: 27 CCR 25603(a)(1) as restated: a black exclamation point in a yellow equilateral
    triangle with a bold black outline; black and white where the label has no yellow.
    """
    wide = high * 1.1547
    edge = high * 0.11
    apex, foot = (left + wide / 2, baseline - high + edge), baseline - edge / 2
    yield VectorPath(
        (("M", *apex), ("L", left + wide - edge, foot), ("L", left + edge, foot), ("Z",)),
        fill="#ffffff" if black else _SIGN_INK,
        stroke="#000000",
        width=edge,
        round_ends=True,
    )
    middle, top = left + wide / 2, baseline - high * 0.66
    half, waist = high * 0.062, high * 0.035
    yield VectorPath(
        (
            ("M", middle - half, top), ("L", middle + half, top),
            ("L", middle + waist, baseline - high * 0.30),
            ("L", middle - waist, baseline - high * 0.30), ("Z",),
        ),
        fill="#000000",
    )  # fmt: skip
    dot_top, dot_foot = baseline - high * 0.23, baseline - high * 0.12
    yield VectorPath(
        (
            ("M", middle - half, dot_top), ("L", middle + half, dot_top),
            ("L", middle + half, dot_foot), ("L", middle - half, dot_foot), ("Z",),
        ),
        fill="#000000",
    )  # fmt: skip


_GAP = 0.35
"""Between statements on lines of their own, in type sizes."""


@dataclass(slots=True)
class StatementParagraph:
    """A statement, or several that are set alike and follow each other in one text."""

    text: Text
    sign: float
    """How high the warning triangle stands to the type size, 0 for none."""
    apart: bool = False
    """Whether it is a quantity, which other print keeps clear of."""

    def indent(self, size: float) -> float:
        """Return the room for the triangle, as wide as it is high, and a little air."""
        return self.sign * size * 1.45

    def rise(self, size: float) -> float:
        """Return how far the triangle stands out above the first line."""
        return max(0.0, self.sign - self.text.ascent) * size

    def height(self, width: float, size: float) -> float:
        """Return what the paragraph takes; infinite where a word is wider than ``width``."""
        return self.rise(size) + self.text.height(size, width - self.indent(size))

    @property
    def narrowest(self) -> float:
        """The least width in which it can be set."""
        return self.text.narrowest + self.indent(self.text.least)

    @property
    def clear(self) -> tuple[float, float]:
        """What stays clear of other print above and below, and beside, at its largest size."""
        return clear_around(self.text.spans, self.text.most) if self.apart else (0.0, 0.0)


@dataclass(slots=True)
class StatementWordings:
    """All statements of a block in one way of saying them: in full, or short."""

    paragraphs: list[StatementParagraph]
    gaps: list[float] = field(init=False)
    """What stays free after each paragraph but the last."""

    def __post_init__(self) -> None:
        usual = max((p.text.least for p in self.paragraphs), default=0.0) * _GAP
        clear = [p.clear[0] for p in self.paragraphs]
        self.gaps = [max(usual, *pair) for pair in pairwise(clear)]

    def height(self, width: float, fullness: float) -> float:
        """Return what it all takes; infinite where a word is wider than ``width``."""
        return sum(self.gaps) + sum(
            p.height(width, p.text.size_at(fullness)) for p in self.paragraphs
        )

    def margin(self, width: float | None, align: Align) -> tuple[float, float, float, float]:
        """Return what must stay free around it in a box of this width: top, right, bottom, left."""
        if not self.paragraphs:
            return 0.0, 0.0, 0.0, 0.0
        left = right = 0.0
        for each in self.paragraphs:
            beside = each.clear[1]
            room = 0.0
            if width is not None:
                room = max(0.0, width - each.text.natural_width(each.text.most))
            left = max(left, beside - room * ALIGNED[align])
            right = max(right, beside - room * (1 - ALIGNED[align]))
        return self.paragraphs[0].clear[0], right, self.paragraphs[-1].clear[0], left


def clear_around(spans: tuple[Span, ...], size: float) -> tuple[float, float]:
    """Return what stays clear of print above and below, and beside, a quantity set at ``size``.

    Source: 16 CFR 500.6(b).
    """
    high = max(span.style.face.ink_of(span.shown)[0] * span.scale for span in spans)
    wide = max(span.style.face.advance_of("N") * span.scale for span in spans)
    return clear_space(high * size / 1000, wide * size / 1000)


_VOLUNTEERED = ("material", "origin")
"""Kinds that are printed where there is room though nobody asks for them; others only by name."""

_SENTENCE_ENDS = (".", "!", "?", ".”", ".)")
"""After one of these no raised point stands: the sentence has ended."""

_SIGNAL = 18
"""Letters of the longest bold words that stay on one line."""

_SQUEEZES = 8
"""Steps between a wording's largest and least size."""

_FULL, _SHORTENED, _ASKED_FOR = range(3)
"""How statements are worded: in full, short, or short without those that nobody asks for."""

_Worded = tuple[Statement, StatementForm]
"""A statement, and the form in which it is printed."""


class Disclosure(Block):
    """Statements as paragraphs, or joined into one where their sizes allow it.

    They stand in full where the box has room, in their short forms where it has not; what nobody
    asks for goes first. A quantity is a paragraph of its own, with the clear space around it that
    16 CFR 500.6(b) asks for. A block that names no kinds leaves those to others that do.
    """

    def __init__(self, node: Node, context: LayoutContext) -> None:
        self.node, self.context = node, context
        self.plain = context.style(node.attrs.get("style", "disclosure"), node)
        self.signal = context.style(node.attrs.get("signal", "signal"), node)
        required: tuple[str, ...] = node.attrs.get("kinds", ())
        optional = required
        if "kinds" not in node.attrs:
            required = tuple(kind for kind in KINDS_IN_MARKUP if kind not in context.kinds_named)
            optional = tuple(kind for kind in _VOLUNTEERED if kind in required)
        must = _take(context.pending, required)
        may = _take(context.optional, optional)
        both = sorted(must + may, key=lambda one: KINDS.index(one.kind))
        joined = node.attrs.get("joined", "yes") == "yes"
        self.wordings = [self._wording([(one, one.full) for one in both], joined)]
        self.forms = [_FULL]
        if any(one.short for one in both):
            self.wordings.append(self._wording([(one, _short(one)) for one in both], joined))
            self.forms.append(_SHORTENED)
        if may:
            self.wordings.append(self._wording([(one, _short(one)) for one in must], joined))
            self.forms.append(_ASKED_FOR)
        self.may = may
        self.empty = not both
        self.holds_quantity = any(one.kind == "quantity" for one in both)

    def _wording(self, worded: list[_Worded], joined: bool) -> StatementWordings:
        return StatementWordings([self._paragraph(group) for group in _grouped(worded, joined)])

    def _paragraph(self, group: list[_Worded]) -> StatementParagraph:
        spans: list[Span] = []
        forms = [form for _, form in group]
        finish = self.context.finish
        for number, form in enumerate(forms):
            if number:
                ended = finish and forms[number - 1].text.endswith(_SENTENCE_ENDS)
                spans.append(Span(self.plain, " " if ended else BETWEEN))
            parts = _finished_parts([run.text for run in form.runs], finish)
            for run, words in zip(form.runs, parts, strict=True):
                spans.append(
                    Span(self.signal, _kept_together(words)) if run.bold
                    else Span(self.plain, words)
                )  # fmt: skip
        least = max([self.plain.least, *map(self._least, forms)])
        most = max(least, self.node.attrs.get("most", least))
        text = text_of(in_face(spans), self.plain, most, least, 1_000)
        refuse_missing_letters(text, self.context.place(self.node))
        high = self.signal.face.cap_height / 1000 * SIGN_HEIGHT
        sign = high if any(form.triangle for form in forms) else 0.0
        return StatementParagraph(text, sign, apart=group[0][0].kind == "quantity")

    def _least(self, form: StatementForm) -> float:
        """Return the least type size at which the letters are as high as they must be."""
        return max((self._size(size, form) for size in form.least), default=0.0)

    def _size(self, least: LeastSize, form: StatementForm) -> float:
        if least.measure == "font size":
            return least.points
        faces = [(self.signal if run.bold else self.plain).face for run in form.runs]
        by_capitals = least.measure == "cap height"
        per_em = (face.cap_height if by_capitals else face.o_height for face in faces)
        return least.points * 1000 / min(per_em)

    @override
    def natural(self, width: Extent, height: Extent, fullness: float) -> Size:
        wording, within = self._at(fullness)
        if not wording.paragraphs:
            return 0.0, 0.0
        if width is None:
            sizes = [p.text.size_at(within) for p in wording.paragraphs]
            width = max(
                p.text.natural_width(size) + p.indent(size)
                for p, size in zip(wording.paragraphs, sizes, strict=True)
            )
        height = wording.height(width, within)
        while math.isinf(height) and within > 0:  # a long word: at a lesser size it may fit
            within = max(0.0, within - 1 / _SQUEEZES)
            height = wording.height(width, within)
        return width, height

    @override
    def least_width(self) -> float:
        return max((paragraph.narrowest for paragraph in self.wordings[-1].paragraphs), default=0.0)

    @override
    def margin(self, width: float | None) -> Edges:
        around = [wording.margin(width, self._align) for wording in self.wordings]
        top, right, bottom, left = (max(edges) for edges in zip(*around, strict=True))
        return top, right, bottom, left

    @property
    def _align(self) -> Align:
        align: Align = self.node.attrs.get("align", "left")
        return align

    def _at(self, fullness: float) -> tuple[StatementWordings, float]:
        """Return the wording for a fullness over all of them, and the fullness inside that one."""
        count = len(self.wordings)
        number = min(count - 1, int((1 - fullness) * count))
        return self.wordings[number], min(1.0, max(0.0, fullness * count - (count - 1 - number)))

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        if self.empty:
            return
        width, height = box[2] - box[0], box[3] - box[1]
        settings = self.context.settings
        found = settings.forms.get(self.node.key) if settings else self.fitting(width, height)
        if found is None or not self.fits(*found, width, height):
            raise self.overflows(width, height)
        self.context.laid.forms[self.node.key] = found
        if found[0] == _ASKED_FOR:
            self.context.laid.left_out += [(one.short or one.full).text for one in self.may]
        wording, fullness = self.worded(found[0]), found[1] / _SQUEEZES
        y = box[1] + self.room_above(height - wording.height(width, fullness))
        gaps = [*wording.gaps, 0.0]  # one more than there are paragraphs, where all is left out
        for paragraph, gap in zip(wording.paragraphs, gaps, strict=False):
            size = paragraph.text.size_at(fullness)
            self._draw_one(paragraph, size, (box[0], y, box[2]), surface)
            y += paragraph.height(width, size) + gap

    def _draw_one(
        self,
        paragraph: StatementParagraph,
        size: float,
        line: tuple[float, float, float],
        surface: Surface,
    ) -> None:
        left, top, right = line
        text_left, text_top = left + paragraph.indent(size), top + paragraph.rise(size)
        setting = paragraph.text.at(size, right - text_left)
        assert setting is not None  # a height was found for it
        align: Align = "left" if paragraph.sign else self._align
        surface.marks += glyphs_of(
            paragraph.text, setting, text_left, text_top, right - text_left, align
        )
        box = ink_box((text_left, text_top, right, text_top), text_top, setting, align)
        if paragraph.sign:
            baseline = text_top + setting.first_baseline
            black = self.context.ink == "black"
            surface.marks += warning_sign(left, baseline, paragraph.sign * size, black)
            box = (left, top, *box[2:])
        surface.occupied.append((box, self))
        if paragraph.apart:
            surface.clear_spaces.append(
                ClearSpace(box, *clear_around(paragraph.text.spans, size), self)
            )

    @override
    def drop(self, width: float, height: float) -> float:
        found = self.fitting(width, height)
        if self.empty or found is None:
            return 0.0
        wording, fullness = self.worded(found[0]), found[1] / _SQUEEZES
        if not wording.paragraphs:  # nobody asks for any of it, and it is left out
            return 0.0
        spare = height - wording.height(width, fullness)
        last = wording.paragraphs[-1]
        return spare - self.room_above(spare) + last.text.descent * last.text.size_at(fullness)

    def worded(self, form: int) -> StatementWordings:
        """Return the wording of a form, or of the one before where that would say the same."""
        at = max(place for place, known in enumerate(self.forms) if known <= form)
        return self.wordings[at]

    def fits(self, form: int, step: int, width: float, height: float) -> bool:
        """Tell whether a form fits a box at some eighths of the way to its largest size."""
        return self.worded(form).height(width, step / _SQUEEZES) <= height + SLACK_PT

    def fitting(self, width: float, height: float) -> tuple[int, int] | None:
        """Return the fullest form that fits a box, and how far it can grow; None if none does."""
        return common_form([self], width, height)

    @override
    def demands(self) -> Demands:
        paragraphs = (p for wording in self.wordings for p in wording.paragraphs)
        return "\0".join(span.text for each in paragraphs for span in each.text.spans)

    def overflows(self, width: float, height: float) -> LabelerError:
        """Return the error of statements that do not fit a box."""
        least = self.wordings[-1].height(width, 0.0)
        return overflow(self.context.place(self.node), "what the label must say", least, height)


def common_form(
    blocks: Sequence[Disclosure], width: float, height: float, first: int = _FULL
) -> tuple[int, int] | None:
    """Return the fullest form, from ``first`` on, and the largest size that all blocks can take.

    The size is given in steps from the least, 0, to the largest; None if not even that fits.
    """
    for form in sorted({form for block in blocks for form in block.forms} | {first}):
        if form < first:
            continue
        for step in range(_SQUEEZES, -1, -1):
            if all(block.fits(form, step, width, height) for block in blocks):
                return form, step
    return None


def _take(statements: list[Statement], kinds: tuple[str, ...]) -> list[Statement]:
    """Take the statements of ``kinds`` off the list, in its order."""
    taken = [one for one in statements if one.kind.replace(" ", "-") in kinds]
    for one in taken:
        statements.remove(one)
    return taken


def _kept_together(text: str) -> str:
    """Return a signal word or two, such as "Contains lead.", as one that no line end parts."""
    return text.replace(" ", NO_BREAK_SPACE) if len(text) <= _SIGNAL else text


def _short(statement: Statement) -> StatementForm:
    return statement.short or statement.full


def _grouped(worded: Iterable[_Worded], joined: bool) -> list[list[_Worded]]:
    """Group what may stand in one paragraph."""
    groups: list[list[_Worded]] = []
    for one in worded:
        if joined and groups and _alike(groups[-1][0], one):
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups


def _alike(one: _Worded, other: _Worded) -> bool:
    """Tell whether two may follow each other: same least sizes, no sign, no quantity."""
    apart = any(each.kind == "quantity" or form.triangle for each, form in (one, other))
    return not apart and one[1].least == other[1].least
