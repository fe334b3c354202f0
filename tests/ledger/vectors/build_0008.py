"""Builds ``ledger-0008.sqlite`` by the commands of a week. Run once, never again.

Made by the program as it was when orders, assorted packs and the codes of old batches had just come
into the ledger. Later versions must open the file as it is; building it anew with a later version
would prove nothing.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from tests.ledger.vectors.build_0002 import LINE, Maker

HERE = Path(__file__).parent
HERON, VOLE, DUO = "SW-38-40-DHN", "CV-38-30-LMP", "DUO"
LOG = """Date,Jig,How many,Batch,Hook box,Left
2026-10-05,SW-38-40-DHN,24,A7,HK-2188,10
2026-10-12,CV-38-30-LMP,12,B2,HK-2188,4
"""


def line_at(folder: Path) -> Path:
    """Copy the line of the older vector, with what has come to it since: a pack."""
    shutil.copytree(LINE, folder)
    with (folder / "catalog.toml").open("a", encoding="utf-8") as file:
        file.write((HERE / "more-0008.toml").read_text("utf-8"))
    return folder


def work(at: Maker, room: Path) -> None:
    """Give the commands of a week."""
    log = room / "log.csv"
    log.write_text(LOG, "utf-8")
    at.told("lot", "opening", "--from", log)
    heron = at.lot(HERON, 24, "--made", "2026-11-23", "--material", "hook=HK-2291")
    vole = at.lot(VOLE, 24, "--made", "2026-11-23", "--material", "hook=HK-2292")
    duo = at.lot(DUO, 12, "--made", "2026-11-24", "--note", "for the fair")

    def order(*words: object) -> str:
        return str(at.told("order", *words)["order"]["order"])

    shop = order(
        f"{HERON}=12",
        f"{DUO}=4",
        "--dealer",
        "ferry",
        "--reference",
        "PO 118",
        "--ship-to",
        "1 Slip Road, Upper Fenwick, MN 56799",
    )
    buyer = order(f"{VOLE}=3", "--customer", "Ada Example", "--ship-to",
                  "12 Quay Lane, Alder Ferry, WI 54899")  # fmt: skip
    gone = order(f"{HERON}=2", "--customer", "Ben Example")
    at.told("order", "--cancel", gone, "--why", "found some at home")
    first = at.told("ship", "--order", shop, "A7=4", f"{duo}=4", "--on", "2026-11-25")
    at.told("ship", "--order", shop, f"{heron}=6", "--on", "2026-11-26", "--note", "by hand")
    at.told("ship", "--order", buyer, f"{vole}=2", "--on", "2026-11-26")
    wrong = at.told("ship", "--order", buyer, f"{vole}=1", "--on", "2026-11-27")
    at.told("ship", "--mistake", wrong["invoice"])
    at.told("ship", duo, "--fair", "Spring Fair", "--count", 2, "--on", "2026-11-27")
    at.told("order", f"{VOLE}=4", "--customer", "Ada Example", "--instead", buyer, "--ship-to",
            "12 Quay Lane, Alder Ferry, WI 54899")  # fmt: skip
    at.print("bags", "--lot", "A7", "--count", 2, "--sheet", "letter-2x5", "--layout", "bag-panel")
    at.print("bags", "--lot", duo, "--count", 2, "--sheet", "letter-2x5")
    at.told("orders", first["invoice"], "--invoice", at.prints / "invoice.pdf")
    at.told("lot", "hold", "B2", "--why", "rust in box HK-2188")


def build() -> None:
    with tempfile.TemporaryDirectory() as room:
        folder = line_at(Path(room) / "line")
        at = Maker(folder, Path(room))
        work(at, Path(room))
        copy = HERE / "ledger-0008.sqlite"
        copy.unlink(missing_ok=True)
        at.told("lot", "backup", copy)


if __name__ == "__main__":
    build()
