"""Whether every required statement stands on the piece, in full, and is really seen."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from labeler.checker.page.elements import Glyph, PaintedPath, Rgb
from labeler.checker.page.rendering import INVISIBLE_MODES
from labeler.checker.page.sides import SEEN, SeenSide
from labeler.checker.rulebook import asks, finding, number, rule
from labeler.checker.rules import legibility, stated
from labeler.checker.rules.claims import judge_claims, judge_puffery, said_in
from labeler.checker.rules.legibility import CLOSE, Occurrence, find_all, named
from labeler.checker.subject import CheckedProduct, law_of, softened, told, when_missing
from labeler.disclosures import rules, statements
from labeler.disclosures.needed import clear_space, too_narrow
from labeler.disclosures.rules import Duty, Effect
from labeler.disclosures.statements import Statement, folded
from labeler.findings import Finding, Grade, Place
from labeler.geometry import Box, contains, intersection, overlaps, union
from labeler.units import Length

# ----------------------------------------------------------------------------
# How the quantity stands: at the foot of a card, along its base, in bold, clear of other print.

_INK = 48
"""Levels of grey by which a dot must differ from the ground to count as printed."""


@asks(
    "quantity-askew",
    "quantity-not-at-the-foot",
    "quantity-narrow",
    "quantity-light",
    "quantity-crowded",
)
def judge_quantity(found: Occurrence, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield what is wrong with how a quantity stands; nothing of other statements."""
    if found.statement.kind != "quantity":
        return
    yield from _askew(found)
    yield from _too_high(found, subject)
    yield from _narrow(found)
    yield from _light(found)
    yield from _crowded(found)
    yield from judge_puffery(_with_neighbours(found), subject, found.place())


def _askew(found: Occurrence) -> Iterator[Finding]:
    for line in found.lines:
        off = min(line.angle % 180, 180 - line.angle % 180)
        if off > number("quantity-askew"):
            yield finding(
                "quantity-askew", found.place(), found=f"{off} degrees off the base",
                grade=softened(Grade.STOP, found.statement),
            )  # fmt: skip


def _too_high(found: Occurrence, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield that the quantity stands too high on a card; where on a bag a label sticks is open."""
    bottom = subject.panel.bottom
    if subject.panel.side != "card" or bottom is None or found.side.claim.side != "front":
        return
    top = found.side.own(found.box)[1]
    up = found.side.claim.piece.height - top
    if up > bottom.pt * (1 + _HAIR):
        yield finding(
            "quantity-not-at-the-foot",
            found.place(),
            grade=softened(Grade.STOP, found.statement),
            found=f"it reaches {Length(up).mm:.1f} mm up",
            expected=f"no more than {Length(bottom.pt).mm:.1f} mm from the foot",
        )


_HAIR = 0.005


def _narrow(found: Occurrence) -> Iterator[Finding]:
    for letter, glyph in found.lettered:
        left, top, right, bottom = found.side.own(glyph.box)
        high, wide = bottom - top, max(1e-6, right - left)
        if too_narrow(letter, high, wide):
            yield finding(
                "quantity-narrow",
                found.place([glyph]),
                grade=softened(Grade.STOP, found.statement),
                found=f"{letter!r} is {high / wide:.1f} times as high as wide",
                expected=f"at most {rules.number('form-narrowness'):g} times",
            )
            return


def _light(found: Occurrence) -> Iterator[Finding]:
    least = rules.number("form-style")
    light = [g for g in found.inked if g.font.weight is not None and g.font.weight < least]
    if light:
        yield finding(
            "quantity-light",
            found.place(),
            found=f"{light[0].font.name}, weight {light[0].font.weight}",
            expected=f"a weight of {least:g} or more",
        )


def _crowded(found: Occurrence) -> Iterator[Finding]:
    """Yield the sides on which other print stands too near."""
    above, beside = _clear_space(found)
    left, top, right, bottom = found.box
    room = {
        "above": (left - beside, top - above, right + beside, top),
        "below": (left - beside, bottom, right + beside, bottom + above),
        "left": (left - beside, top, left, bottom),
        "right": (right, top, right + beside, bottom),
    }
    near = [where for where, box in room.items() if _printed(box, found)]
    if near:
        yield finding(
            "quantity-crowded",
            found.place(),
            f"something is printed too near the quantity: {' and '.join(near)}",
            grade=softened(Grade.STOP, found.statement),
            expected=f"{Length(above).mm:.1f} mm clear above and below, "
            f"{Length(beside).mm:.1f} mm beside",
        )


def _clear_space(found: Occurrence) -> tuple[float, float]:
    """Return what stays clear above and below, and beside, in points."""
    high = max(glyph.rise for glyph in found.inked)
    widest = 0.0
    for font, size in {(glyph.font, glyph.size) for glyph in found.inked}:
        known = font.width_of_n
        widest = max(widest, high * _N_BY_GUESS if known is None else known * size)
    return clear_space(high, widest)


_N_BY_GUESS = 0.8
"""The width of an N to its height, where the face is not known. Common practice, no published
source."""


def _printed(box: Box, found: Occurrence) -> bool:
    """Tell whether any dot in ``box``, a hair inside it, is printed, on the piece itself."""
    side = found.side
    hair = 2.0 / side.raster.scale  # a renderer smooths round letters into the dot beside them
    left, top, right, bottom = box
    trim = side.claim.box
    left, top = max(left + hair, trim[0]), max(top + hair, trim[1])
    right, bottom = min(right - hair, trim[2]), min(bottom - hair, trim[3])
    part = side.raster.grey((left, top, right, bottom))
    if not part.size:
        return False
    return bool(np.ptp(part) > _INK)


# ------------------------------------------------------------------------------- what it says


def _with_neighbours(found: Occurrence) -> str:
    """Return the words of a quantity, a few before and after it, and those of lines near it."""
    above, beside = _clear_space(found)
    left, top, right, bottom = found.box
    room = (left - 3 * beside, top - 2 * above, right + 3 * beside, bottom + 2 * above)
    mine = {id(line) for line in found.lines}
    texts = [
        line.text for line in found.side.lines if id(line) not in mine and overlaps(line.box, room)
    ]
    text, said = found.passage.text, found.passage.text[found.first : found.end]
    before, after = text[: found.first].split()[-_WORDS:], text[found.end :].split()[:_WORDS]
    return "\n".join([said, " ".join([*before, said, *after]), *texts])


_WORDS = 3


@asks("quantity-wrong")
def other_counts(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield every count of the product's own unit that is not the catalog's."""
    one = statements.units(subject.product, subject.markets).casefold()
    pack = subject.product.pattern.pack
    for hit, place in stated.on(side, lambda text: stated.counts(text, one)):
        if not (hit.value == pack or hit.aside or subject.says(hit.said)):
            said = f"“{' '.join(hit.said.split())}”"
            yield finding("quantity-wrong", place, found=said, expected=str(pack))


# ----------------------------------------------------------------------------
# The warning sign beside a warning, and how large the warning stands beside other information.

_BESIDE = 3.0
"""The sign stands within so many heights of the signal word."""


@asks("sign-missing", "sign-low", "sign-plain", "warning-outsized")
def judge_warning(found: Occurrence, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield what is wrong with a warning's sign and size; nothing of other statements."""
    if found.form.triangle:
        yield from _sign(found)
    if found.form.as_large_as_other:
        yield from _outsized(found, subject)


def _sign(found: Occurrence) -> Iterator[Finding]:
    side, text = found.side, found.passage.text[found.first : found.end]
    # the signal word: the capitals before the first colon
    word = found.passage.inked(found.first, found.first + max(1, text.find(":")))
    room = side.own(union([glyph.box for glyph in word]))
    high = max(glyph.rise for glyph in word)
    turned = not all(side.upright(line) for line in found.lines)
    signs = [
        s for s in side.shapes if _is_triangle(s) and _is_left_of(side.own(s.box), room, turned)
    ]
    standing = [sign for sign in signs if _has_mark(sign, side)]
    place = side.place(found.box)
    if not standing:
        yield finding(
            "sign-missing",
            place,
            grade=softened(Grade.STOP, found.statement),
            found="a triangle without an exclamation mark" if signs else "no triangle",
            source=told(found.statement),
        )
        return
    sign = max(standing, key=lambda each: each.box[3] - each.box[1])
    tall = sign.box[3] - sign.box[1]
    if tall < high * CLOSE:
        yield finding(
            "sign-low", side.place(sign.box),
            found=f"{tall:.2f} pt high", expected=f"at least {high:.2f} pt, as the signal word",
        )  # fmt: skip
    if not is_yellow(sign.fill) and any(is_yellow(ink) for ink in _other_inks(side, sign)):
        yield finding("sign-plain", side.place(sign.box), found=_called(sign.fill))


def _is_triangle(shape: PaintedPath) -> bool:
    """Tell whether a shape is a closed path of three corners, standing on a level side."""
    if shape.kinds not in ("mllh", "mll", "mlllh"):
        return False
    corners = list(zip(shape.numbers[::2], shape.numbers[1::2], strict=True))
    if len(corners) == 4 and corners[0] != corners[3]:
        return False
    ys = sorted(y for _, y in corners[:3])
    xs = sorted(x for x, _ in corners[:3])
    wide, tall = xs[2] - xs[0], ys[2] - ys[0]
    if wide <= 0 or tall <= 0 or not 0.6 < tall / wide < 1.2:
        return False
    level = min(ys[1] - ys[0], ys[2] - ys[1])
    return level < 0.05 * tall


def _is_left_of(sign: Box, word: Box, turned: bool) -> bool:
    """Tell whether a sign stands left of a word as the word is read, on its line."""
    tall = word[3] - word[1]
    level = sign[1] < word[3] and sign[3] > word[1]
    gap = sign[0] - word[2] if turned else word[0] - sign[2]
    return level and -0.2 * tall <= gap <= _BESIDE * tall


def _has_mark(sign: PaintedPath, side: SeenSide) -> bool:
    """Tell whether something dark stands inside the triangle: the exclamation mark."""
    return any(
        shape is not sign and shape.filled and shape.fill is not None and max(shape.fill) < _DARK
        and contains(sign.box, shape.box)
        for shape in side.shapes
    ) or any(
        glyph.reads == "!" and intersection(glyph.box, sign.box) for glyph in side.seen
    )  # fmt: skip


_DARK = 96
"""Of 255 levels of red, green and blue."""


def _other_inks(side: SeenSide, sign: PaintedPath) -> Iterator[Rgb]:
    for shape in side.shapes:
        if shape is not sign:
            yield from (ink for ink in (shape.fill, shape.stroke) if ink is not None)
    yield from (glyph.ink for glyph in side.seen if glyph.ink is not None)


def is_yellow(ink: Rgb | None) -> bool:
    """Tell whether a colour is a plain yellow: hue from 40 to 70 degrees, vivid and light.

    Which colours count as yellow the rule does not say: the house's judgement.
    """
    if ink is None:
        return False
    red, green, blue = ink
    most, least = max(ink), min(ink)
    if most < 180 or (most - least) < 0.5 * most or blue != least:
        return False
    hue = (
        60 * ((green - blue) / (most - least))
        if red == most
        else 60 * (2 - (red - blue) / (most - least))
    )
    return 36 <= hue <= 70


def _called(ink: Rgb | None) -> str:
    return "no fill" if ink is None else "#{:02x}{:02x}{:02x}".format(*ink)


# ---------------------------------------------------------------------------------- size

CONSUMER_KINDS = ("caution", "care", "material")
"""Kinds of statement that are consumer information: warnings, directions, what it is made of."""


def _outsized(found: Occurrence, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield that other consumer information on this side stands in larger type."""
    own = min(glyph.size for glyph in found.inked)
    largest, text = 0.0, ""
    for said in (each for each in subject.statements if each.kind in CONSUMER_KINDS):
        for other in find_all(said, said.satisfying, found.side, found.side.passages):
            size = max(glyph.size for glyph in other.inked)
            if size > largest:
                largest, text = size, other.form.plain
    if largest > own / CLOSE:
        yield finding(
            "warning-outsized",
            found.place(),
            grade=softened(Grade.STOP, found.statement),
            found=f"{own:.2f} pt beside {largest:.2f} pt for “{text[:40]}”",
        )


_GRAVITY = {Grade.STOP: 100, Grade.FIX: 10, Grade.NOTE: 1}


@dataclass(slots=True)
class Standing:
    """How one statement stands on the sides of a piece that were looked at so far.

    Only the best occurrence counts: what is said well once is said.
    """

    found: list[tuple[bool, list[Finding]]] = field(default_factory=list)
    """For each occurrence, whether it stands on the display panel, and what is wrong with it."""
    unseen: list[Finding] = field(default_factory=list)
    expired: list[Finding] = field(default_factory=list)


def look_for(said: Statement, side: SeenSide, subject: CheckedProduct, standing: Standing) -> None:
    """Look for a statement on one side, and note in ``standing`` how it stands there."""
    forms = said.satisfying
    for one in find_all(said, forms, side, side.passages):
        wrong = [
            *legibility.judge_legibility(one, subject),
            *judge_quantity(one, subject),
            *judge_warning(one, subject),
        ]
        standing.found.append((_bound(said) and _on_panel(one), wrong))
    if not standing.found:
        hidden = find_all(said, forms, side, side.written)
        standing.unseen += [_unseen(one) for one in hidden[:1]]
    for one in find_all(said, said.expired, side, side.passages):
        standing.expired.append(_expired(one, subject))


def _bound(said: Statement) -> bool:
    """Tell whether a statement must stand on the side that faces the buyer."""
    return said.kind in rule("statement-off-the-panel").words and said.duty == "law"


def _on_panel(found: Occurrence) -> bool:
    side = found.side
    return side.claim.side == "front" and all(side.upright(line) for line in found.lines)


@asks("statement-missing", "statement-expired", "statement-unseen", "statement-off-the-panel")
def judge_statements(
    said: Statement, standing: Standing, sides: Sequence[SideText], place: Place
) -> Iterator[Finding]:
    """Yield what is wrong with one statement on the whole piece."""
    if standing.found:
        yield from _best(said, standing, place)
    elif standing.unseen:
        yield standing.unseen[0]
    elif standing.expired:
        yield standing.expired[0]
    else:
        yield _missing(said, sides, place)


def _best(said: Statement, standing: Standing, place: Place) -> Iterator[Finding]:
    """Yield what is wrong with the statement where it stands best."""
    where = rule("statement-off-the-panel")
    bound = _bound(said)
    on_panel = [wrong for panel, wrong in standing.found if panel]
    candidates = on_panel if bound and on_panel else [wrong for _, wrong in standing.found]
    yield from min(candidates, key=lambda wrong: sum(_GRAVITY[each.grade] for each in wrong))
    if bound and not on_panel:
        yield finding(
            where.id,
            place,
            f"{named(said.full.plain)} stands only where the buyer does not look first",
            grade=softened(where.grade, said),
        )


# -------------------------------------------------------------------------------- missing


@dataclass(frozen=True, slots=True)
class SideText:
    """What is kept of a side's text until its piece is whole."""

    texts: tuple[str, ...]
    codes: tuple[str, ...]


_DUTY_WORDS: dict[Duty, str] = {
    "law": "asked for",
    "customary": "customary",
    "optional": "optional",
}


def _missing(said: Statement, sides: Sequence[SideText], place: Place) -> Finding:
    near = _nearest(said, [text for side in sides for text in side.texts])
    law = law_of(said)
    markets = ", ".join(said.markets)
    grade = when_missing(said)
    message = f"{named(said.full.plain)} is missing ({_DUTY_WORDS[said.duty]} in {markets})"
    return finding(
        "statement-missing",
        place,
        message,
        grade=grade,
        found=f"“{near}”" if near else "nothing like it",
        expected=" or ".join(f"“{form.plain}”" for form in said.satisfying[:2]),
        hint=" ".join(part for part in (law.about, law.doubt or "") if part),
        source=told(said),
    )


def _nearest(said: Statement, texts: Sequence[str]) -> str:
    """Return the stretch of text that comes nearest to a statement, if one is near at all."""
    best, score = "", _NEAR
    for form in said.satisfying[:2]:
        wanted = form.plain
        for text in texts:
            stretch, alike = _stretch(wanted, text)
            if alike > score:
                best, score = stretch, alike
    return best


_NEAR = 0.62


def _stretch(wanted: str, text: str) -> tuple[str, float]:
    """Return the words of ``text`` that come nearest to ``wanted``, and how near they are."""
    words, count = text.split(), len(wanted.split())
    if not words:
        return "", 0.0
    matcher = difflib.SequenceMatcher(autojunk=False)
    matcher.set_seq2(wanted)
    best = ("", 0.0)
    for at in range(max(1, len(words) - count + 1)):
        stretch = " ".join(words[at : at + count])
        matcher.set_seq1(stretch)
        if matcher.real_quick_ratio() > best[1] and matcher.quick_ratio() > best[1]:
            best = max(best, (stretch, matcher.ratio()), key=lambda pair: pair[1])
    return best


def _expired(found: Occurrence, subject: CheckedProduct) -> Finding:
    said = found.statement
    return finding(
        "statement-expired",
        found.place(),
        f"the wording {named(found.form.plain)} no longer serves since {found.form.until}",
        grade=softened(Grade.STOP, said),
        found=f"a run of {subject.day.isoformat()}",
        expected=f"“{(said.short or said.full).plain}”",
        source=told(said),
    )


# --------------------------------------------------------------------------------- unseen


def _unseen(found: Occurrence) -> Finding:
    said = found.statement
    within = found.passage.glyphs[found.first : found.end]
    no_size = [g for g in within if g is not None and not g.size and not g.text.isspace()]
    count = len(found.inked) + len(no_size)
    hidden = [each for each in found.inked if each.shown < SEEN or each.mirrored] + no_size
    letters = "".join(glyph.text for glyph in hidden)
    return finding(
        "statement-unseen",
        found.side.place(union([glyph.box for glyph in hidden if glyph.area] or [found.box])),
        f"{named(found.form.plain)} stands in the file, but is not seen in full: "
        f"{_why(hidden, found.side)}",
        grade=when_missing(said),
        found=f"{len(hidden)} of {count} letters unseen: {letters[:40]!r}",
        source=told(said),
    )


def _why(hidden: Sequence[Glyph], side: SeenSide) -> str:
    """Return why letters are not seen, as far as the operators tell."""
    reasons = [_reason(glyph, side) for glyph in hidden]
    return max(reasons, key=reasons.count) if reasons else "its lines are torn apart"


def _reason(glyph: Glyph, side: SeenSide) -> str:
    raster = side.raster
    page = (0.0, 0.0, raster.columns / raster.scale, raster.rows / raster.scale)
    if not glyph.size:
        return "its letters have no size"
    if glyph.mirrored:
        return "it is a mirror image"
    if glyph.mode in INVISIBLE_MODES:
        return "it is drawn without ink"
    if glyph.alpha < _CLEAR:
        return "its ink is transparent"
    if not intersection(glyph.box, page):
        return "it stands outside the page"
    if not contains(glyph.clip, glyph.box, 0.3):
        return "it is clipped away"
    if glyph.ink == glyph.ground:
        return "its ink is that of its ground"
    if legibility.is_under(glyph, side):
        return "something is laid over it"
    return "the rendered page does not show it"


_CLEAR = 0.05


# ----------------------------------------------------------------------------
# May it be sold there, and does the piece claim what the goods contradict?


def judge_side_claims(side: SeenSide, subject: CheckedProduct) -> Iterator[Finding]:
    """Yield the claims on this side that composition or origin contradict."""
    for text, line in said_in(side.passages):
        yield from judge_claims(text, subject, side.place(line.box))


def judge_sale(subject: CheckedProduct, place: Place) -> Iterator[Finding]:
    """Yield where the product may not be sold, and as notes where its use is restricted."""
    for verdict in subject.verdicts:
        for reason in verdict.reasons:
            if reason.effect in (Effect.BARRED, Effect.RESTRICTED):
                yield reason.finding(place)
        yield from (reason.finding(place) for reason in verdict.notes)


def judge_gaps(subject: CheckedProduct, place: Place) -> Iterator[Finding]:
    """Yield what its places of sale ask of the piece and the catalog, so the piece, lacks."""
    for gap in subject.gaps:
        if gap.grade is not Grade.NOTE:
            yield replace(gap, place=place)


@asks("code-only-carrier")
def only_in_code(missing: list[str], texts: list[SideText], place: Place) -> Iterator[Finding]:
    """Yield that a code is to carry what is missing on the piece itself.

    Args:
        missing: the statements that are missing, folded.
        texts: what the piece's sides say, and what their codes say.
        place: where the piece is.
    """
    if not missing:
        return
    said = [folded(text) for side in texts for text in side.codes]
    inside = [each for each in missing if any(each in text for text in said)]
    plain = " ".join(text for side in texts for text in side.texts).casefold()
    pointed = [words for words in rule("code-only-carrier").words if words in plain]
    if inside or (pointed and said):
        what = f"“{inside[0][:60]}” stands in a code" if inside else f"“{pointed[0]}”"
        yield finding("code-only-carrier", place, found=what, grade=Grade.FIX)
