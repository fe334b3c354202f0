"""Lines of strangers, each from its file to right labels with no edit but the five answers.

``python -m tests.app.take_in.test_strangers`` prints what each comes to.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from tests.app.take_in.conftest import ANSWERS, Cli
from tests.catalog.test_strangers import KNOWN, STRANGERS

NAMES = """
    Slough Hopper|muskrat|1/4 oz|| Slough Hopper|muskrat|3/8 oz||
    Slough Hopper|olive|1/4 oz|| Slough Hopper|olive|3/8 oz||
    Slough Hopper|black|1/4 oz|| Slough Hopper|black|3/8 oz||
    Bank Creeper|muskrat|1/4 oz|| Bank Creeper|muskrat|3/8 oz||
    Bank Creeper|craw|1/4 oz|| Bank Creeper|craw|3/8 oz||
    Night Heron|black|1/4 oz|| Night Heron|black|3/8 oz||
    Reed Runner|melon|1/4 oz|| Reed Runner|melon|3/8 oz||
    Reed Runner|dusk|1/4 oz|| Reed Runner|dusk|3/8 oz||
    Reed Runner|sand & white|1/4 oz|| Reed Runner|sand & white|3/8 oz||"""
"""A list of names says no weight: the maker does, with the heads."""


def wanted(name: str) -> list[list[str]]:
    """Return pattern, colour, weight, hook and price of what is sold, as the file has them."""
    text = KNOWN[name] or NAMES.replace("|| ", "||\n")
    rows = [line.strip().split("|") for line in text.split("\n") if line.strip()]
    return [[*row, ""][:5] for row in rows if "retired" not in row]


@pytest.mark.siege
@pytest.mark.parametrize("name", sorted(KNOWN))
def test_from_the_file_to_right_labels_by_five_answers(cli: Cli, tmp_path: Path, name: str) -> None:
    """What stands on a label is read by pdfminer, which had no part in making it."""
    from pdfminer.high_level import extract_text

    sheet, answers, line = tmp_path / name, tmp_path / "answers.txt", tmp_path / "line"
    sheet.write_bytes((STRANGERS / name).read_bytes())
    answers.write_text(ANSWERS, "utf-8")
    taken = cli("new", line, "--from", sheet, "--answers", answers, "--json")
    assert taken.status == 0, taken.err
    assert taken.json["prints"] is True
    assert sheet.read_bytes() == (STRANGERS / name).read_bytes()
    right = wanted(name)
    assert len(taken.json["products"]) == len(right)
    first = taken.json["products"][:3]
    picked = [word for one in first for word in ("--sku", f"{one['sku']}=1")]
    out = tmp_path / "bags.pdf"
    bags = ("--sheet", "letter-2x5", "--layout", "bag-panel", "--out", out)
    did = cli("--catalog", line, "bags", *picked, *bags, "--json")
    assert did.status == 0, did.out + did.err
    assert not [one for one in did.json["findings"] if one["grade"] == "stop"]
    text = " ".join(extract_text(out).replace("\u2044", "/").split())
    for one in first:
        pattern, colour, weight, _, price = next(
            row for row in right
            if one["words"].casefold().startswith(f"{row[0]}, {row[1]}, {row[2]}".casefold())
        )  # fmt: skip
        for said in (pattern, colour, weight.split()[0]):
            assert said.casefold() in text.casefold(), (said, text)
        shown = f"${float(price):.2f}" if price else ""
        assert one["price"] == shown
        assert shown in text
    for said in ("Contains lead", "Sample Slough Jigs", "14 Mill Lane"):
        assert said in text


def table() -> None:
    """Print what each stranger's file comes to, from the file to the folder, and what is wrong."""
    print(f"{'file':<18}{'products':>9}{'taken':>7}{'proposed':>10}{'asked':>7}{'left out':>10}"
          f"{'wrong':>7}")  # fmt: skip
    for name in sorted(KNOWN):
        with TemporaryDirectory() as home:
            Path(home, "answers.txt").write_text(ANSWERS, "utf-8")
            words = ["new", f"{home}/line", "--from", str(STRANGERS / name), "--json"]
            command = [sys.executable, "-m", "labeler", *words, "--answers", f"{home}/answers.txt"]
            done = subprocess.run(command, capture_output=True, text=True, check=True)
        taken: dict[str, Any] = json.loads(done.stdout)
        right = [f"{row[0]}, {row[1]}, {row[2]}".casefold() for row in wanted(name)]
        wrong = sum(
            not one["words"].casefold().startswith(tuple(right)) for one in taken["products"]
        )
        counts = [
            len(taken[heap]) for heap in ("products", "taken", "proposed", "asked", "left_out")
        ]
        print(f"{name:<18}{counts[0]:>9}{counts[1]:>7}{counts[2]:>10}{counts[3]:>7}{counts[4]:>10}"
              f"{wrong:>7}")  # fmt: skip


if __name__ == "__main__":
    table()
