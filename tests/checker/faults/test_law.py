"""Warnings, quantities and claims that break a rule, and goods that are not for sale."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pikepdf
import pytest

Sheet = Any
Damage = Callable[[Sheet], None]
SKU = "RM-14-30-TSP"
LEAD = "Contains lead."


def nothing(sheet: Sheet) -> None:
    """Leave the file as it is, but for being saved again."""


# ---------------------------------------------------------------------------- the warning sign


def triangle(sheet: Sheet) -> tuple[list[Any], int]:
    """Return the page's operators, and the one that paints the warning triangle."""
    page, begin, end = sheet.block(SKU)
    words = sheet.words(page)
    return words, next(at for at in range(begin, end) if str(words[at][1]) == "B")


def sign_changed(
    change: Callable[[list[tuple[float, float]]], list[tuple[float, float]]],
) -> Damage:
    """Move the corners of the triangle."""

    def damage(sheet: Sheet) -> None:
        words, paint = triangle(sheet)
        spots = [at for at in range(paint - 6, paint) if str(words[at][1]) in ("m", "l")]
        corners = [(float(words[at][0][0]), float(words[at][0][1])) for at in spots]
        for at, corner in zip(spots, change(corners), strict=True):
            words[at] = pikepdf.ContentStreamInstruction(list(corner), words[at][1])

    return damage


def sign_dropped(sheet: Sheet) -> None:
    words, paint = triangle(sheet)
    words[paint] = pikepdf.ContentStreamInstruction([], pikepdf.Operator("n"))


def mark_dropped(sheet: Sheet) -> None:
    """The triangle stays, and the exclamation mark in it goes."""
    words, paint = triangle(sheet)
    fills = [at for at in range(paint + 1, paint + 30) if str(words[at][1]) == "f"][:2]
    for at in fills:
        words[at] = pikepdf.ContentStreamInstruction([], pikepdf.Operator("n"))


def sign_white(sheet: Sheet) -> None:
    """The sign is white, and something else on the card is yellow."""
    words, paint = triangle(sheet)
    at = next(n for n in range(paint, 0, -1) if str(words[n][1]) == "rg")
    words[at] = pikepdf.ContentStreamInstruction([1, 1, 1], pikepdf.Operator("rg"))
    sheet.over(SKU, "1 0.85 0.1 rg 150 60 20 8 re f")


def shrunk(corners: list[tuple[float, float]]) -> list[tuple[float, float]]:
    foot = max(y for _, y in corners)
    middle = sum(x for x, _ in corners) / 3
    return [(middle + (x - middle) * 0.6, foot + (y - foot) * 0.6) for x, y in corners]


# ------------------------------------------------------------------------------ the quantity


def turned(sheet: Sheet) -> None:
    run = sheet.run(SKU, "12 JIGS")
    sheet.matrix(SKU, run, lambda a, b, c, d, e, f: (0, 1, 1, 0, 100, 330))


def squeezed(sheet: Sheet) -> None:
    sheet.wrap(SKU, sheet.run(SKU, "12 JIGS"), "38 Tz", "100 Tz")


def in_another_face(side: str) -> Damage:
    """Set the quantity in a regular weight, on its own place or on the back."""

    def damage(sheet: Sheet) -> None:
        x, y, size, _ = sheet.spot(SKU, "12 JIGS")
        sheet.drop(SKU, "12 JIGS")
        sheet.helvetica(SKU, side)
        at = (x, y) if side == "front" else (30, 200)
        show = f"BT 0 g /FH {size} Tf 1 0 0 -1 {at[0]} {at[1]} Tm (12 JIGS) Tj ET"
        sheet.over(SKU, show, side)

    return damage


def line_above(sheet: Sheet) -> None:
    """Draw a line half a letter above the quantity."""
    _, y, size, _ = sheet.spot(SKU, "12 JIGS")
    sheet.over(SKU, f"0 G 0.5 w 16 {y - 1.05 * size} m 100 {y - 1.05 * size} l S")


# -------------------------------------------------------------------------------- what is said


def said(
    text: str, x: float = 90, y: float = 66, size: float = 6, also: Damage = nothing
) -> Damage:
    """Print more words on the piece."""

    def damage(sheet: Sheet) -> None:
        also(sheet)
        sheet.helvetica(SKU)
        lines = text.split("\n")
        for number, line in enumerate(lines):
            at = y + 1.2 * size * number
            sheet.over(SKU, f"BT 0 g /FH {size} Tf 1 0 0 -1 {x} {at} Tm ({line}) Tj ET")

    return damage


def apart(first: str, then: str, by: float) -> Damage:
    """Print words, and more of them so far below that no line reads on."""
    return said(then, 82, 16 + by, 5, also=said(first, 82, 16, 5))


def words_beside(sheet: Sheet) -> None:
    """Print words two letters to the right of the quantity."""
    x, y, _, wide = sheet.spot(SKU, "12 JIGS")
    said("as shown", x + wide + 5, y)(sheet)


def dropped(words: str) -> Damage:
    return lambda sheet: sheet.drop(SKU, words)


FAULTS: list[tuple[str, str, str, Damage]] = [
    ("the warning sign is dropped", "sign-missing", "witness", sign_dropped),
    ("the sign has no exclamation mark", "sign-missing", "witness", mark_dropped),
    ("the sign stands right of the warning", "sign-missing", "witness",
     sign_changed(lambda corners: [(x + 186, y) for x, y in corners])),
    ("the sign is a flat wedge", "sign-missing", "witness",
     sign_changed(lambda corners: [(x, y + (0 if n else 4)) for n, (x, y) in enumerate(corners)])),
    ("the sign is lower than the signal word", "sign-low", "witness", sign_changed(shrunk)),
    ("a white sign where yellow is printed", "sign-plain", "witness", sign_white),
    ("a line close above the quantity", "quantity-crowded", "witness",
     line_above),
    ("words close beside the quantity", "quantity-crowded", "witness", words_beside),
    ("the quantity in the middle of the card", "quantity-not-at-the-foot", "witness",
     lambda sheet: sheet.move(SKU, "12 JIGS", 0, -110)),
    ("the quantity stands on end", "quantity-askew", "witness", turned),
    ("the quantity squeezed", "quantity-narrow", "witness", squeezed),
    ("the quantity in light type", "quantity-light", "witness", in_another_face("front")),
    ("the quantity on the back alone", "statement-off-the-panel", "witness",
     in_another_face("back")),
    ("lead-free, of a lead head", "house-claim-lead-free", "strip", said("Lead-free")),
    ("lead free, on two lines", "house-claim-lead-free", "strip", said("Lead\nfree", 120, 20)),
    ("non-toxic, of a lead head", "house-claim-non-toxic", "strip", said("Non-toxic")),
    ("Pb-free, of a lead head", "house-claim-lead-free", "strip", said("Pb-free!")),
    ("no lead, of a lead head", "house-claim-lead-free", "strip", said("Contains NO lead")),
    ("biodegradable, broken at its hyphen", "house-claim-green", "strip",
     said("bio-\ndegradable", 120, 20)),
    ("safe for ducks, of a lead head", "house-claim-non-toxic", "strip", said("Safe for ducks")),
    ("FDA approved", "house-claim-approved", "strip", said("F.D.A. approved")),
    ("ages 3 and up", "us-claim-children", "strip", said("Ages 3+")),
    ("made in China, of a jig tied in the US", "house-claim-origin", "strip",
     said("Made in China")),
    ("handmade in the U.S.A.", "us-claim-made-in-usa", "strip", said("Handmade in the U.S.A.")),
    ("made in Wisconsin", "us-claim-made-in-usa", "strip", said("MADE IN ALDER FERRY, WI")),
    ("made in USA, with a hook from abroad", "us-claim-made-in-usa", "strip", said("Made in USA")),
    ("made in the USA, torn apart", "us-claim-made-in-usa", "strip",
     apart("MADE IN", "THE USA", 20)),
    ("made in China, torn apart", "house-claim-origin", "strip", apart("Made in", "China", 24)),
    ("lead free, torn apart", "house-claim-lead-free", "strip", apart("LEAD", "FREE", 16)),
    ("for kids", "us-claim-children", "strip", said("For kids")),
    ("net weight, of a head", "house-claim-net-weight", "strip", said("Net Wt")),
    ("giant, beside the weight", "us-claim-quantity-puffed", "strip", said("Giant 1/4 oz", 90, 9)),
    ("jumbo, beside the count", "us-claim-quantity-puffed", "witness", said("Jumbo", 66, 372)),
    ("the caution only behind the code", "code-only-carrier", "strip",
     said("Scan for warnings", also=dropped("Sharp hook."))),
]  # fmt: skip


@pytest.mark.daily("for kids")
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault[0])
def test_what_breaks_the_law_on_the_page_is_found(fault: tuple[Any, ...], hunt: Any) -> None:
    name, rule, base, damage = fault
    hunt(name, rule, base, SKU, damage)


BARRED = [
    ("lead of an ounce or less in New Hampshire", "us-nh-lead-jig-sale", "US-NH"),
    ("a lead jig in Maine", "us-me-lead-jig-sale", "US-ME"),
    ("lead in Denmark", "dk-lead-tackle", "DK"),
]
"""On sale: NH RSA 339:77 and following; 12 MRS 12663-B; Danish order 856 of 2009. The ids are of
the markets' own files, where their sources stand."""


@pytest.mark.daily("a lead jig in Maine")
@pytest.mark.parametrize("fault", BARRED, ids=lambda fault: fault[0])
def test_goods_that_may_not_be_sold_there_are_found(fault: tuple[str, str, str], hunt: Any) -> None:
    name, rule, market = fault
    report = hunt(name, rule, "strip", "RM-14-30-SBR", nothing, markets=(market,))
    assert report.markets == (market,)


# ---------------------------------------------------------------------------- old wordings


@pytest.fixture
def old_warning(
    workshop: Any, bases: dict[str, Any], tmp_path: Any, monkeypatch: pytest.MonkeyPatch
) -> Any:
    """Print the card with the short warning of 2018, as a layout of those days would."""
    from dataclasses import replace

    from labeler.app import print_run
    from labeler.disclosures.needed import needed as true

    def of_2018(*given: Any, **how: Any) -> Any:
        said = true(*given, **how)
        old = [replace(one, full=form, short=None) for one in said
               for form in one.accepted if form.until]  # fmt: skip
        assert old, "no wording has an end any more"
        return tuple(one for one in said if one.kind != "warning") + tuple(old)

    monkeypatch.setattr(print_run, "needed", of_2018)
    folder = bases["witness"].folder
    return workshop.printed(folder, tmp_path / "old.pdf", **workshop.wishes["witness"])


@pytest.mark.parametrize(
    ("day", "rule"),
    [(dt.date(2027, 12, 31), "warning-outsized"), (dt.date(2028, 1, 1), "statement-expired")],
)
def test_the_short_warning_of_2018_serves_until_its_last_day(
    day: dt.date, rule: str, old_warning: Any, expect_fault: Any
) -> None:
    """It may be used on goods labelled before 2028, in type no smaller than other information.

    Source: 27 CCR 25603 as amended with effect of 2025-01-01, three years of grace; OEHHA,
    questions and answers on warnings (2017), Q26.
    """
    from labeler.checker.judge import check_pdf

    report = check_pdf(old_warning.pdf, old_warning.folder, day=day)
    expect_fault(f"the short warning of 2018 on {day}", rule, report, SKU)


@pytest.mark.parametrize(
    ("what", "changes", "found", "lacks"),
    [
        (
            "no street in the address",
            {'street = "14 Cooper\'s Row"\n': ""},
            "Alder Ferry, WI 54899, USA",
            "street, city, state",
        ),
        ("a ZIP code of four digits", {'"54899"': '"5489"'}, "5489", "five digits"),
        ("no state by its two letters", {'state = "WI"': 'state = "Wi5"'}, "Wi5", "two letters"),
    ],
)
def test_a_label_without_the_whole_place_of_business_is_found(
    what: str,
    changes: dict[str, str],
    found: str,
    lacks: str,
    workshop: Any,
    tmp_path: Any,
    expect_fault: Any,
) -> None:
    """Street, city, state and ZIP code stand on the piece; the judge tells it from the PDF alone.

    Source: 16 CFR 500.5(a) and (c); Ohio Administrative Code 901:6-3-05.
    """
    from labeler.checker.judge import check_pdf

    folder = workshop.copied(tmp_path / "line", **changes)
    run = workshop.printed(folder, tmp_path / "run.pdf", skus=(SKU,), even_so=True)
    report = check_pdf(run.pdf, folder, day=workshop.day)
    expect_fault(what, "us-responsible", report, SKU)
    (said,) = [each for each in report.findings if each.rule == "us-responsible"]
    assert lacks in said.expected
    assert said.found == found
    cited, _, how_far = said.source.rpartition(" (")
    assert cited.startswith("Ohio Administrative Code 901:6-3-05; 16 CFR 500.5(a) and (c)")
    assert how_far == "read)"


def test_a_directory_that_lists_the_maker_stands_for_the_street(
    workshop: Any, tmp_path: Any, grave: Any
) -> None:
    """Source: 16 CFR 500.5(c): the street may be left out by those whom a directory lists."""
    from labeler.checker.judge import check_pdf

    folder = workshop.copied(
        tmp_path / "line", **{'street = "14 Cooper\'s Row"\n': "listed = true\n"}
    )
    run = workshop.printed(folder, tmp_path / "run.pdf", skus=(SKU,))
    report = check_pdf(run.pdf, folder, day=workshop.day)
    assert not grave(report), report.as_text()
