"""Words that stand in the file and are not seen, or are too small, faint or near the edge."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from labeler.findings import Grade

Sheet = Any
Damage = Callable[[Sheet], None]
SKU = "RM-14-30-TSP"
LEAD = "Contains lead."


def inked(operators: str, back: str = "0 g", words: str = LEAD) -> Damage:
    """Set words in another ink, and put the black back after them."""

    def damage(sheet: Sheet) -> None:
        sheet.wrap(SKU, sheet.run(SKU, words), operators, back)

    return damage


def see_through(alpha: float) -> Damage:
    def damage(sheet: Sheet) -> None:
        sheet.state(SKU, "Faint", ca=alpha)
        sheet.state(SKU, "Full", ca=1)
        sheet.wrap(SKU, sheet.run(SKU, LEAD), "/Faint gs", "/Full gs")

    return damage


def boxed(
    over: bool, ink: str, share: tuple[float, float] = (-1.0, 0.3), words: str = LEAD
) -> Damage:
    """Lay a box over or under words; ``share`` is from where to where, in type sizes."""

    def damage(sheet: Sheet) -> None:
        x, y, size, wide = sheet.spot(SKU, words)
        top, foot = y + share[0] * size, y + share[1] * size
        box = f"{ink} {x - 2:.2f} {top:.2f} {wide + 12:.2f} {foot - top:.2f} re f"
        (sheet.over if over else sheet.under)(SKU, box)

    return damage


def shifted(x: float, y: float, words: str) -> Damage:
    return lambda sheet: sheet.move(SKU, words, x, y)


def all_shifted(x: float, y: float) -> Damage:
    """Move all the type of a piece, as a layout that is off would."""

    def damage(sheet: Sheet) -> None:
        for run in list(sheet.runs(SKU)):
            sheet.matrix(SKU, run, lambda a, b, c, d, e, f: (a, b, c, d, e + x, f + y))

    return damage


def scaled(words: str, by: float) -> Damage:
    return lambda sheet: sheet.scale(SKU, words, by)


def squeezed(words: str, by: float) -> Damage:
    """Set words narrower, as high as they were."""

    def damage(sheet: Sheet) -> None:
        run = sheet.run(SKU, words)
        sheet.matrix(SKU, run, lambda a, b, c, d, e, f: (a * by, b * by, c, d, e, f))

    return damage


def clipped(share: float) -> Damage:
    """Let only the left share of the words be seen."""

    def damage(sheet: Sheet) -> None:
        x, y, size, wide = sheet.spot(SKU, LEAD)
        box = f"{x - 1:.2f} {y - size:.2f} {max(0.01, wide * share):.2f} {size * 1.4:.2f}"
        sheet.clipped(SKU, LEAD, box)

    return damage


def pale_on_pale(sheet: Sheet) -> None:
    inked("0.93 0.9 0.7 rg")(sheet)
    boxed(False, "1 0.98 0.85 rg")(sheet)


def over_the_edge(sheet: Sheet) -> None:
    sheet.move(SKU, LEAD, -2 - sheet.spot(SKU, LEAD)[0], 0)


def framed(grey: float) -> Damage:
    """Draw a line around words, which does not touch them."""

    def damage(sheet: Sheet) -> None:
        x, y, size, wide = sheet.spot(SKU, LEAD)
        box = f"{x - 1:.2f} {y - 0.85 * size:.2f} {wide + 1:.2f} {size * 1.15:.2f} re"
        sheet.over(SKU, f"0.2 w {1 - grey} G {box} S")

    return damage


def framed_and_boxed(sheet: Sheet) -> None:
    boxed(False, "0.75 g", (-0.4, 0.3))(sheet)
    framed(1.0)(sheet)


def overprinted(sheet: Sheet) -> None:
    x, y, size, _ = sheet.spot(SKU, LEAD)
    sheet.typed(SKU, x + 1.2, y + 2.2, "Sharp hook.", f"Sharp hook@{size}")


def light_face(words: str, face_of: str) -> Damage:
    """Set words in the font in which other words stand."""

    def damage(sheet: Sheet) -> None:
        x, y, size, _ = sheet.spot(SKU, words)
        sheet.drop(SKU, words)
        sheet.typed(SKU, x, y, words, f"{face_of}@{size}")

    return damage


# L = ((c + 0.055) / 1.055) ** 2.4 gives 4.48:1 for #777777 and 4.54:1 for #767676 on white.
# Source: WCAG 2.2, definition of relative luminance; the two greys stand in its own techniques.
GREY_4_48, GREY_4_54 = 0x77 / 255, 0x76 / 255

FAULTS: list[tuple[str, str, str, Damage]] = [
    ("faded to 4.48:1", "statement-faint", "strip", inked(f"{GREY_4_48:.5f} g")),
    ("squeezed to a quarter", "statement-squeezed", "witness", squeezed("12 JIGS", 0.25)),
    ("squeezed to a hair", "statement-unreadable", "strip", squeezed(LEAD, 0.15)),
    ("set in letters of 1 pt", "statement-unreadable", "strip", scaled(LEAD, 1 / 6)),
    ("faded to 1.9:1", "statement-unreadable", "strip", inked("0.74 g")),
    ("pale yellow on pale yellow", "statement-unreadable", "strip", pale_on_pale),
    ("set at nine tenths of its width, which will do", "", "strip", squeezed(LEAD, 0.9)),
    ("faded to 4.54:1, which will do", "", "strip", inked(f"{GREY_4_54:.5f} g")),
    ("pale yellow", "statement-unreadable", "strip", inked("1 0.9 0.3 rg")),
    ("red, 4.0:1", "statement-faint", "strip", inked("1 0 0 rg")),
    ("pale process inks", "statement-faint", "strip", inked("0 0 0 0.4 k")),
    ("a third of the ink", "statement-faint", "strip", see_through(0.33)),
    ("transparent ink", "statement-unseen", "strip", see_through(0.0)),
    ("white on white", "statement-unseen", "strip", inked("1 g")),
    ("rendering mode 3: no ink", "statement-unseen", "strip", inked("3 Tr", "0 Tr")),
    ("rendering mode 7: only a clip", "statement-unseen", "strip", inked("q 7 Tr", "Q /F3.0 6 Tf")),
    ("a white box over it", "statement-unseen", "strip", boxed(True, "1 g")),
    ("a black box over it", "statement-unseen", "strip", boxed(True, "0 g")),
    ("a white box over its lower half", "statement-unseen", "strip",
     boxed(True, "1 g", (-0.35, 0.1))),
    ("a white bar through its middle", "statement-unseen", "strip",
     boxed(True, "1 g", (-0.5, -0.2))),
    ("a pale box under it, which does no harm", "", "strip",
     boxed(False, "1 0.95 0.75 rg", (-0.85, 0.3))),
    ("a frame of a hair around it, which does no harm", "", "strip", framed(1.0)),
    ("a frame around a statement that a grey box lies under", "statement-on-uneven-ground", "strip",
     framed_and_boxed),
    ("a dark box under it", "statement-faint", "strip", boxed(False, "0.35 g")),
    ("a grey box under half its height", "statement-on-uneven-ground", "strip",
     boxed(False, "0.75 g", (-0.4, 0.3))),
    ("struck out", "statement-on-uneven-ground", "strip", boxed(True, "0 g", (-0.32, -0.22))),
    ("other type over it", "statement-overprinted", "strip", overprinted),
    ("clipped away", "statement-unseen", "strip", clipped(0)),
    ("clipped to its first half", "statement-unseen", "strip", clipped(0.5)),
    ("half over the die line", "statement-cut", "strip", all_shifted(0, 6.3)),
    ("type half over the die line", "text-cut", "strip", shifted(0, 5.2, "after handling.")),
    ("its first letters over the left edge", "statement-cut", "strip", all_shifted(-9, 0)),
    ("one millimetre from the edge", "text-unsafe", "strip", shifted(0, 3, "after handling.")),
    ("a card's type two millimetres from the cut", "text-unsafe-card", "witness",
     shifted(-18, 0, "harm. For more")),
    ("letters of 4.9 pt", "statement-small", "strip", scaled(LEAD, 4.9 / 6)),
    ("the warning at 5.9 pt", "statement-small", "witness", scaled("This product can", 5.9 / 6)),
    ("the quantity 3 % under", "statement-small", "witness", scaled("12 JIGS", 0.97)),
    ("the quantity 1 % under", "statement-small", "witness", scaled("12 JIGS", 0.99)),
    ("a word not in bold", "statement-not-bold", "strip", light_face(LEAD, "Swim jig")),
    ("a signal word not in bold", "statement-not-bold", "witness",
     light_face("WARNING:", "HOBBIN")),
    ("letters that nobody sees beside the rest", "text-hidden", "strip",
     lambda sheet: sheet.over(SKU, "BT 3 Tr /F3.0 6 Tf 1 0 0 -1 20 40 Tm <0102030405> Tj ET")),
]  # fmt: skip


@pytest.mark.daily("half over the die line")
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault[0])
def test_what_can_not_be_read_is_found(fault: tuple[Any, ...], hunt: Any) -> None:
    name, rule, base, damage = fault
    hunt(name, rule, base, SKU, damage)


def test_what_nobody_can_read_stops_as_what_is_missing(hunt: Any) -> None:
    """A frame around it is none of that: a grey box under it stays a matter of judgement."""
    for name, rule, damage, grade in (
        ("too faint for anybody", "statement-unreadable", pale_on_pale, Grade.STOP),
        ("too narrow for anybody", "statement-unreadable", squeezed(LEAD, 0.15), Grade.STOP),
        ("cut off", "statement-cut", over_the_edge, Grade.STOP),
        ("type over it", "statement-overprinted", overprinted, Grade.STOP),
        ("faint for some", "statement-faint", inked(f"{GREY_4_48:.5f} g"), Grade.FIX),
        ("framed", "statement-on-uneven-ground", framed_and_boxed, Grade.FIX),
    ):
        report = hunt(name, rule, "strip", SKU, damage)
        lead = [f for f in report.findings if f.rule == rule and LEAD[:-1] in f.message]
        assert {each.grade for each in lead} == {grade}, name


@pytest.mark.daily("damage-laid over it")
@pytest.mark.parametrize(
    ("damage", "why"),
    [
        (inked("3 Tr", "0 Tr"), "without ink"),
        (see_through(0.0), "transparent"),
        (inked("1 g"), "its ink is that of its ground"),
        (boxed(True, "1 g"), "laid over it"),
        (clipped(0), "clipped away"),
    ],
)
def test_the_report_says_why_a_statement_is_not_seen(damage: Damage, why: str, hunt: Any) -> None:
    report = hunt(f"and why: {why}", "statement-unseen", "strip", SKU, damage)
    unseen = [each for each in report.findings if each.rule == "statement-unseen"]
    (said,) = [each for each in unseen if LEAD[:-1] in each.message]
    assert why in said.message
