"""Print on the hole, over the edge, on the wrong cell or beside every cell."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pikepdf
import pytest

Sheet = Any
Damage = Callable[[Sheet], None]
SKU, OTHER = "RM-14-30-TSP", "RM-14-30-SBR"


def moved(words: str, x: float, y: float) -> Damage:
    return lambda sheet: sheet.move(SKU, words, x, y)


def drawn(operators: str, under: bool = False) -> Damage:
    return lambda sheet: (sheet.under if under else sheet.over)(SKU, operators)


def swapped(sheet: Sheet) -> None:
    """Two labels change cells."""
    places = []
    for sku in (SKU, OTHER):
        page, begin, _ = sheet.block(sku)
        places.append((sheet.words(page), begin - 1))
    (words, one), (_, other) = places
    words[one], words[other] = words[other], words[one]


def blank(sheet: Sheet) -> None:
    """Nothing at all is printed on a cell."""
    page, begin, end = sheet.block(SKU)
    del sheet.words(page)[begin:end]


def told(**facts: Any) -> Damage:
    """Change what the run sheet says of the piece."""

    def damage(sheet: Sheet) -> None:
        for piece in sheet.claims["pieces"]:
            if piece["sku"] == SKU:
                piece.update(facts)
        rewrite(sheet, sheet.claims)

    return damage


def rewrite(sheet: Sheet, claims: Any) -> None:
    data = json.dumps(claims).encode()
    del sheet.pdf.attachments["run-sheet.json"]
    sheet.pdf.attachments["run-sheet.json"] = pikepdf.AttachedFileSpec(sheet.pdf, data)


def a_page_more(sheet: Sheet) -> None:
    sheet.pdf.pages.append(sheet.pdf.pages[0])


def a_page_less(sheet: Sheet) -> None:
    del sheet.pdf.pages[0]


def a_comment(sheet: Sheet) -> None:
    note = pikepdf.Dictionary(
        Type=pikepdf.Name.Annot, Subtype=pikepdf.Name.FreeText, Rect=[20, 700, 200, 740],
        Contents=pikepdf.String("LEAD FREE"), F=4,
    )  # fmt: skip
    sheet.pdf.pages[0].Annots = pikepdf.Array([sheet.pdf.make_indirect(note)])


def a_pattern(sheet: Sheet) -> None:
    sheet.over(SKU, "/Pattern cs /P0 scn 2 2 3 3 re f")


def a_script(sheet: Sheet) -> None:
    sheet.pdf.Root.OpenAction = pikepdf.Dictionary(
        S=pikepdf.Name.JavaScript, JS=pikepdf.String("app.alert('boo')")
    )


def a_script_for_the_printer(sheet: Sheet) -> None:
    act = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS=pikepdf.String("app.alert('boo')"))
    sheet.pdf.Root.AA = pikepdf.Dictionary(WP=act)


def a_layer_for_the_screen(sheet: Sheet) -> None:
    use = pikepdf.Dictionary(Print=pikepdf.Dictionary(PrintState=pikepdf.Name.OFF))
    group = pikepdf.Dictionary(Type=pikepdf.Name.OCG, Name=pikepdf.String("x"), Usage=use)
    sheet.pdf.Root.OCProperties = pikepdf.Dictionary(OCGs=[sheet.pdf.make_indirect(group)])


def twice_the_size(sheet: Sheet) -> None:
    sheet.pdf.pages[0].UserUnit = 2


def wanted_even_so(sheet: Sheet) -> None:
    sheet.pdf.docinfo["/Keywords"] = "Made in spite of letters-small"


FAULTS: list[tuple[str, str, str, Damage]] = [
    ("type where the hole is punched", "hole-blocked", "witness",
     moved("HOBBIN & DAUGHTER", 0, -21)),
    ("type near the hole", "hole-near", "witness", moved("HOBBIN & DAUGHTER", 0, -3)),
    ("a line through the hole", "hole-blocked", "witness", drawn("0 G 1 w 80 27 m 140 27 l S")),
    ("a line that ends before the hole", "", "witness", drawn("0 G 1 w 60 27 m 96 27 l S")),
    ("a ground behind the whole card", "", "witness", drawn("1 1 0.9 rg 0 0 216 396 re f", True)),
    ("a blot in the hole", "hole-blocked", "witness", drawn("0 g 105 24 5 5 re f")),
    ("labels that changed cells", "code-other-address", "strip", swapped),
    ("labels that changed cells, by their names", "piece-other-product", "strip", swapped),
    ("a cell without its label", "piece-empty", "strip", blank),
    ("type beside every label", "stray-text", "strip",
     lambda sheet: sheet.typed(SKU, 30, -18, "lead", "Contains lead@8")),
    ("a SKU that the catalog does not have", "sku-unknown", "strip", told(sku="RM-14-30-TPS")),
    ("a SKU that is retired", "sku-retired", "strip", told(sku="RM-14-30-DKW")),
    ("made for fewer places than it is sold in", "markets-changed", "strip", told(markets=["US"])),
    ("a page too many", "page-unclaimed", "strip", a_page_more),
    ("a page too few", "page-missing", "witness", a_page_less),
    ("a comment over the page", "page-laid-over", "strip", a_comment),
    ("a pattern, which is not followed", "page-untold", "strip", a_pattern),
    ("a script that runs when the file opens", "file-script", "strip", a_script),
    ("a script that runs before the file is printed", "file-script", "strip",
     a_script_for_the_printer),
    ("a layer that is shown and not printed", "file-layers", "strip", a_layer_for_the_screen),
    ("a page whose unit is two points", "page-scaled", "strip", twice_the_size),
    ("another hook", "hook-wrong", "strip", lambda sheet: sheet.rewrite(SKU, "3/0", "4/0")),
    ("handed out though something stopped it", "file-in-spite-of", "strip", wanted_even_so),
    ("saved again by another program", "file-edited", "strip", lambda sheet: None),
]  # fmt: skip


@pytest.mark.daily("a cell without its label")
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault[0])
def test_what_is_out_of_place_is_found(fault: tuple[Any, ...], hunt: Any) -> None:
    name, rule, base, damage = fault
    sku = {"sku-unknown": "RM-14-30-TPS", "sku-retired": "RM-14-30-DKW"}.get(rule, SKU)
    hunt(name, rule, base, sku, damage)
