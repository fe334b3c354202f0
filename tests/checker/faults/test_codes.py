"""Codes that say something else, can't be read, are crowded, or are of the wrong size."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest

from labeler.codes.qr import qr_symbol
from labeler.codes.retail_bars import retail_symbol

Sheet = Any
Damage = Callable[[Sheet], None]
SKU, OTHER = "RM-14-30-TSP", "RM-14-30-SBR"


def sized(by: float, bars: bool = False, side: str = "front") -> Damage:
    """Draw a code smaller or larger, about its own middle."""

    def damage(sheet: Sheet) -> None:
        left, top, right, bottom = sheet.code_box(SKU, bars, side)
        x, y = (left + right) / 2, (top + bottom) / 2

        def change(a: float, b: float, c: float, d: float, e: float, f: float) -> Any:
            return a * by, b, c, d * by, x + (e - x) * by, y + (f - y) * by

        sheet.code_matrix(SKU, change, bars, side)

    return damage


def with_modules(mm: float, bars: bool = False, side: str = "front") -> Damage:
    """Draw a code with modules of so many millimetres, about its own middle."""

    def damage(sheet: Sheet) -> None:
        at = sheet.code(SKU, bars, side)
        is_now = float(sheet.words(sheet.page_number(SKU, side))[at][0][0]) * 25.4 / 72
        sized(mm / is_now, bars, side)(sheet)

    return damage


def moved(x: float, y: float, bars: bool = False, side: str = "front") -> Damage:
    return lambda sheet: sheet.code_matrix(
        SKU, lambda a, b, c, d, e, f: (a, b, c, d, e + x, f + y), bars, side
    )


def lower(by: float) -> Damage:
    """Cut the retail bars down to a share of their height."""

    def damage(sheet: Sheet) -> None:
        _, top, _, _ = sheet.code_box(SKU, True, "back")
        sheet.code_matrix(
            SKU, lambda a, b, c, d, e, f: (a, b, c, d * by, e, top + (f - top) * by), True, "back"
        )

    return damage


def patched(share: float, ink: str = "1 g", bars: bool = False, side: str = "front") -> Damage:
    """Lay a box over the middle of a code, of a share of its width and height."""

    def damage(sheet: Sheet) -> None:
        left, top, right, bottom = sheet.code_box(SKU, bars, side)
        wide, high = (right - left) * share, (bottom - top) * share
        x, y = (left + right - wide) / 2, (top + bottom - high) / 2
        sheet.over(SKU, f"{ink} {x} {y} {wide} {high} re f", side)

    return damage


def slashed(sheet: Sheet) -> None:
    """Lay a white strip across the whole height of the bars."""
    left, top, right, bottom = sheet.code_box(SKU, True, "back")
    middle = (left + right) / 2
    sheet.over(SKU, f"1 g {middle} {top - 1} 7 {bottom - top + 2} re f", "back")


def beside(operators: str, bars: bool = False, side: str = "front") -> Damage:
    """Draw something in the quiet zone: {x} and {y} are the code's left and middle."""

    def damage(sheet: Sheet) -> None:
        left, top, _, bottom = sheet.code_box(SKU, bars, side)
        sheet.over(SKU, operators.format(x=left, y=(top + bottom) / 2, top=top), side)

    return damage


def inked(operators: str, bars: bool = False, side: str = "front") -> Damage:
    """Draw a code in another ink."""

    def damage(sheet: Sheet) -> None:
        end = sheet.code_end(SKU, bars, side)
        sheet.put(SKU, end + 1, "0 g", side)
        sheet.put(SKU, sheet.code(SKU, bars, side), operators, side)

    return damage


def on_a_ground(ink: str) -> Damage:
    def damage(sheet: Sheet) -> None:
        left, top, right, bottom = sheet.code_box(SKU)
        box = f"{left - 5} {top - 5} {right - left + 10} {bottom - top + 10}"
        sheet.under(SKU, f"{ink} {box} re f")

    return damage


def gigantic(sheet: Sheet) -> None:
    """Fill the whole back of the card with its bars."""
    dropped(sheet, "back")
    left, top, right, bottom = sheet.code_box(SKU, True, "back")
    sized(2.0, True, "back")(sheet)
    moved(108 - (left + right) / 2, 200 - (top + bottom) / 2, True, "back")(sheet)


def inverted(sheet: Sheet) -> None:
    on_a_ground("0 g")(sheet)
    inked("1 g")(sheet)


def dropped(sheet: Sheet, side: str = "front") -> None:
    begin, end = sheet.code(SKU, False, side), sheet.code_end(SKU, False, side)
    words = sheet.words(sheet.page_number(SKU, side))
    for at in range(begin + 1, end):
        words[at] = pikepdf.ContentStreamInstruction([0, 0, 0, 0], pikepdf.Operator("re"))


def redrawn(symbol: Any, bars: bool = False, side: str = "front") -> Damage:
    """Draw another symbol in the place of a code."""

    def damage(sheet: Sheet) -> None:
        begin, end = sheet.code(SKU, bars, side), sheet.code_end(SKU, bars, side)
        page = sheet.page_number(SKU, side)
        path = "".join(f"{x} {y} {w} {h} re\n" for x, y, w, h in symbol.bars)
        stream = sheet.pdf.make_stream(path.encode())
        sheet.words(page)[begin + 1 : end] = list(pikepdf.parse_content_stream(stream))

    return damage


def says(text: str) -> Damage:
    return redrawn(qr_symbol(text))


def as_a_picture(text: str) -> Damage:
    """Put a picture of a code in the place of the drawn one."""

    def damage(sheet: Sheet) -> None:
        left, top, right, bottom = sheet.code_box(SKU)
        dropped(sheet)
        symbol = qr_symbol(text)
        dark = np.zeros((int(symbol.rows), symbol.columns), np.uint8) + 255
        for x, y, wide, high in symbol.bars:
            dark[int(y) : int(y + high), int(x) : int(x + wide)] = 0
        dark = dark[4:-4, 4:-4]
        image = sheet.pdf.make_stream(dark.tobytes())
        image.Type, image.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
        image.Width, image.Height, image.BitsPerComponent = dark.shape[1], dark.shape[0], 8
        image.ColorSpace = pikepdf.Name.DeviceGray
        resources = sheet.pdf.pages[sheet.page_number(SKU)].Resources
        objects = resources.get("/XObject", pikepdf.Dictionary())
        objects["/PicC"] = image
        resources["/XObject"] = objects
        # A picture's first row is its upper one, and the piece's y runs down.
        sheet.over(SKU, f"{right - left} 0 0 {top - bottom} {left} {bottom} cm /PicC Do")

    return damage


def in_separate_squares(sheet: Sheet) -> None:
    """Each bar of the code is filled by itself: the code reads, and its size is found."""
    begin, end = sheet.code(SKU), sheet.code_end(SKU)
    words = sheet.words(sheet.page_number(SKU))
    fill = pikepdf.ContentStreamInstruction([], pikepdf.Operator("f"))
    words[begin + 1 : end] = [each for bar in words[begin + 1 : end] for each in (bar, fill)]


LOT = "263290013"
THIS = "https://go.example.com/01/09521234001027/10/"

FAULTS: list[tuple[str, str, str, Damage]] = [
    ("the code of another product", "code-other-address", "strip",
     lambda sheet: sheet.swap_codes(SKU, OTHER)),
    ("the code of another lot", "code-other-address", "strip", says(THIS + "263290021")),
    ("the code without its lot", "code-other-address", "strip", says(THIS.removesuffix("/10/"))),
    ("the code of another site", "code-other-address", "strip",
     says("https://other.example.com/01/09521234001027/10/" + LOT)),
    ("a code that says a text", "code-other-address", "strip", says("Reedmace Teaspoon Silver")),
    ("a picture of another product's code", "code-other-address", "strip",
     as_a_picture("https://go.example.com/01/09521234001010/10/" + LOT)),
    ("a picture of its own code", "", "strip", as_a_picture(THIS + LOT)),
    ("a code of separate squares, which reads as well", "", "strip", in_separate_squares),
    ("its own code in capitals of scheme and host", "", "strip",
     says(THIS.replace("https://go.example.com", "HTTPS://GO.EXAMPLE.COM") + LOT)),
    ("light on dark", "code-inverted", "strip", inverted),
    ("a hairline in the quiet zone", "code-crowded", "strip",
     beside("0 G 0.25 w q 1 0 0 1 -1.6 0 cm {x} {top} m {x} {y} l S Q")),
    ("a letter in the quiet zone", "code-crowded", "strip",
     beside("BT 0 g /F5.0 5 Tf 1 0 0 -1 {x} {y} Tm -3.2 0 Td <02> Tj ET")),
    ("modules of three dots for four", "code-module-small", "strip", sized(0.75)),
    ("modules of 0.331 mm, which will do", "", "strip", with_modules(0.331)),
    ("modules of 0.327 mm", "code-module-small", "strip", with_modules(0.327)),
    ("modules as large as thumbs", "code-module-large", "witness-back", sized(5.2, side="back")),
    ("a code that is off the printer's dots", "code-off-dots", "dots", sized(1.06)),
    ("damaged past its error correction", "code-unreadable", "strip", patched(0.6)),
    ("damaged within its error correction", "code-damaged", "strip", patched(0.16)),
    ("a scratch of black", "code-damaged", "strip", patched(0.14, "0 g")),
    ("faded to a light grey", "code-faint", "strip", inked("0.75 g")),
    ("printed in red, which a scanner takes for white", "code-faint", "strip", inked("1 0 0 rg")),
    ("printed on a dark green", "code-faint", "strip", on_a_ground("0.25 0.7 0.3 rg")),
    ("dropped", "code-none", "strip", dropped),
    ("over the edge of the label", "code-cut", "strip", moved(12, 0)),
    ("its quiet zone over the edge", "code-cut", "strip", moved(5.4, 0)),
    ("bars of another product", "bars-other-number", "witness-back",
     lambda sheet: sheet.swap_codes(SKU, OTHER, True, "back")),
    ("bars with two figures swapped", "bars-other-number", "witness-back",
     redrawn(retail_symbol("9521234000129"), True, "back")),
    ("bars at 70 %", "bars-size", "witness-back", with_modules(0.7 * 0.33, True, "back")),
    ("bars at 79 %", "bars-size", "witness-back", with_modules(0.79 * 0.33, True, "back")),
    ("bars at 81 %, which is allowed", "", "witness-back",
     with_modules(0.81 * 0.33, True, "back")),
    ("bars at 220 %", "bars-size", "witness-back", gigantic),
    ("bars cut down to half", "bars-low", "witness-back", lower(0.5)),
    ("bars in red", "code-faint", "witness-back", inked("0.9 0.1 0.1 rg", True, "back")),
    ("a line beside the bars", "code-crowded", "witness-back",
     beside("0 G 0.5 w q 1 0 0 1 -4 0 cm {x} {top} m {x} {y} l S Q", True, "back")),
    ("a strip torn out of the bars", "code-unreadable", "witness-back", slashed),
    ("bars over the edge of the card", "code-cut", "witness-back", moved(-30, 0, True, "back")),
]  # fmt: skip


@pytest.mark.daily("dropped", "bars of another product")
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault[0])
def test_a_code_that_fails_at_the_till_or_the_telephone_is_found(
    fault: tuple[Any, ...], hunt: Any
) -> None:
    name, rule, base, damage = fault
    hunt(name, rule, base.removesuffix("-back"), SKU, damage)


def test_twenty_five_thousandths_of_an_inch_count_in_the_report(hunt: Any, tmp_path: Path) -> None:
    """0.264 mm is 80 % of 0.330 mm. Source: GS1 General Specifications, table 1."""
    damage = with_modules(0.7 * 0.33, True, "back")
    report = hunt("bars at 70 %, and the size told", "bars-size", "witness", SKU, damage)
    (said,) = [each for each in report.findings if each.rule == "bars-size"]
    assert "0.2" in said.found
    assert said.expected == "80% to 200%"
