"""Makes the strangers' files beside it: lines as makers keep them, each another mess.

Run once, with LibreOffice at hand, and kept: ``python tests/catalog/strangers/make.py``. Each is
first written by openpyxl, as a maker's program writes what was typed (a fraction that became a date
is a date there), then saved by LibreOffice 7 as xls or ods, or written as text. Makers, shops,
products and people are invented, the UPCs but one begin with GS1's demonstration prefix 952.
"""

from __future__ import annotations

import datetime as dt
import subprocess
from pathlib import Path
from typing import Any

import openpyxl

HERE = Path(__file__).parent


def sheet(book: openpyxl.Workbook, title: str, rows: list[list[Any]]) -> None:
    page: Any = book.create_sheet(title)
    for row in rows:
        page.append(row)
    for row in page.iter_rows():
        for cell in row:
            if isinstance(cell.value, dt.date):
                cell.number_format = "d-mmm"


def save(name: str, sheets: dict[str, list[list[Any]]], to: str) -> None:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for title, rows in sheets.items():
        sheet(book, title, rows)
    path = HERE / f"{name}.xlsx"
    book.save(path)
    if to != "xlsx":
        convert = ["soffice", "--headless", "--convert-to", to, "--outdir", str(HERE), str(path)]
        subprocess.run(convert, check=True)
        path.unlink()


def day(month: int, number: int) -> dt.date:
    """What a spreadsheet made of month/number where months are typed first."""
    return dt.date(2026, month, number)


PRICE_LIST: list[list[Any]] = [
    ["Fen & Fallow Tackle: PRICE LIST"],
    ["good from January, ask about shows"],
    ["Color", "Hk", day(1, 4), day(3, 8), day(1, 2), "Notes"],
    ["SLOUGH HOPPER"],
    ["Muskrat", "2/0", 4.25, 4.5, "call"],
    ["Olive Drab", "2/0", 4.25, 4.5, 4.75, "best seller"],
    ["Peacock", "2/0", None, 4.5, "-"],
    ["BANK CREEPER"],
    ["Muskrat", "#4", 3.95, 3.95, None],
    ["Black/Blue", "#4", 3.95, 3.95, None, "discontinued"],
    ["Prices are for one jig."],
]
SHOPS: list[list[Any]] = [
    ["Shop", "Address", "Town", "State", "Zip", "Phone"],
    ["The Landing Bait", "4 Pier Rd", "Low Ferry", "WI", 54899, "715-555-0111"],
    ["Corner Tackle", "12 Main St", "Millrace", "MN", 55999, "218-555-0112"],
]
STOCK: list[list[Any]] = [
    ["Jig", "Size", "Color", "Hook", "Retail", "Cost", "UPC", "On hand", "Notes"],
    ["Night Heron", day(1, 4), "Black", "2/0", 5.25, 1.1, 12345678905, 14, None],
    [None, day(3, 8), "Black", "3/0", 5.25, 1.2, 9521234000013, "2 doz", None],
    [None, 0.5, "Black", "4/0", 5.5, 1.3, None, 6, None],
    [None, "1/2 oz", "Black", "4/0", 5.5, 1.3, None, None, "counted twice?"],
    [None, dt.date(2026, 8, 3), "White", "3/0", 5.25, 1.2, None, "1 dz", None],
    ["Reed Runner", day(5, 16), "Melon", "1/0", "call", 0.9, None, 0, "Discontinued 2024"],
    [None, day(5, 16), "Dusk", "1/0", 4, 0.9, 123456789, 5, None],
    [None, day(5, 12), "Sand", "1/0", 4, 0.9, None, 5, None],
    ["TOTAL", None, None, None, None, None, None, 66, None],
]
SHOP_EXPORT = """\
Product Name,Status,Option Color,Option Weight,Item Code,Price,Shipping Grams,Image File,Qty
Willow Drifter,active,Ash,1/8 oz,WD_18_ASH,3.50,25,drifter-ash.jpg,10
,,Ash,1/4 oz,WD_14_ASH,3.75,30,,4
,,Rust,1/8 oz,WD_18_RST,3.50,25,drifter-rust.jpg,0
,,Rust,1/4 oz,WD_14_RST,3.75,30,,12
Moor Midge,archived,Ink,1/16 oz,MM_116_INK,3.00,20,midge.jpg,3
Pike Lantern,active,Amber,1 oz,PL_1_AMB,6.50,60,lantern.jpg,8
,,"Amber, dark",1 1/2 oz,PL_112_AMD,6.95,80,lantern-dark.jpg,2
"""
FRENCH = """\
Atelier du Héron;;;;;;
Liste de prix au détail;;;;;;
Modèle;Poids;Couleur;Hameçon;Prix de détail;Prix de gros;Quantité
Sauterelle;10,6 g;Vert forêt;3/0;4,50 $;2,70 $;2 douz
;7 g;Vert forêt;2/0;4,50 $;2,70 $;14
;10,6 g;Écrevisse;3/0;4,50 $;2,70 $;
Libellule;3,5 g;Bleu nuit;1;3,95 $;2,37 $;6
;7,0 g;Bleu nuit;1/0;sur demande;;
Total;;;;;;44
"""
NAMES: list[list[Any]] = [
    ["Slough Hopper", "muskrat, olive, black"],
    ["Bank Creeper", "muskrat, craw"],
    ["Night Heron", "black"],
    ["Reed Runner", "melon, dusk, sand & white"],
]

TYPED = """\
Jig,Size,Color,Hook,Price,UPC,On hand
Mire Lark,3/8,Ink,4/0,$4.50,012345678905,24
,1/4,Ink,2/0,$4.25,,12
,0.5,Ink,5/0,$4.75,,
,5/16,Ash,3/0,$4.50,,6
,1 1/2,Ash,8/0,$6.50,,2
"""
"""What a maker typed; LibreOffice makes dates, amounts and numbers of it, as where months are said
first (language 1033, United States) and where days are (2057, United Kingdom)."""


def mangle(name: str, language: int, to: str) -> None:
    path = HERE / f"{name}.csv"
    path.write_text(TYPED, encoding="utf-8")
    options = f"--infilter=CSV:44,34,76,1,,{language},false,true"
    convert = ["soffice", "--headless", options, "--convert-to", to, "--outdir", str(HERE)]
    subprocess.run([*convert, str(path)], check=True)
    path.unlink()


if __name__ == "__main__":
    mangle("typed-us", 1033, "ods")
    mangle("typed-gb", 2057, "xlsx")
    save("price-list", {"Prices": PRICE_LIST, "Shops": SHOPS}, "xls")
    save("stock", {"Stock": STOCK}, "ods")
    save("names", {"Sheet1": NAMES}, "xlsx")
    (HERE / "shop-export.csv").write_text(SHOP_EXPORT, encoding="utf-8-sig")
    (HERE / "prix.csv").write_text(FRENCH, encoding="cp1252")
