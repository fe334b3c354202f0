"""Color in a run that is printed in black, and shades of a bar that look alike."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from PIL import Image

from labeler.checker.judge import check_pdf
from labeler.findings import Grade

Sheet = Any
Damage = Callable[[Sheet], None]
SKU = "RM-14-30-TSP"
STRANDS = (14, 22, 6)
"""Of that product's layers: smoke, pearl, gill pink."""
BAR = (20.0, 42.0, 120.0, 48.0)
SMOKE, PEARL, PINK = "0.482 0.502 0.522 rg", "0.871 0.863 0.816 rg", "0.847 0.651 0.627 rg"

RULES = {"ink-colour", "shades-alike"}


def drawn(operators: str) -> Damage:
    return lambda sheet: sheet.over(SKU, operators)


def red_letters(sheet: Sheet) -> None:
    sheet.wrap(SKU, sheet.run(SKU, "Contains lead."), "0.6 0 0 rg", "0 g")


def bar(*fields: str, parted: str = "") -> Damage:
    """Draw the recipe's bar once more, each field by operators of its own, and its frame."""
    left, top, right, bottom = BAR
    edges = [left + (right - left) * sum(STRANDS[:n]) / sum(STRANDS) for n in range(4)]
    steps = []
    for at, field in enumerate(fields):
        x, end = edges[at], edges[at + 1]
        if field == "lines":
            lines = range(int(x) + 1, int(end))
            steps.append("0 G 0.35 w " + " ".join(f"{n} {top} m {n} {bottom} l" for n in lines))
            steps.append(f"S 0 G 0.3 w {end:.2f} {top} m {end:.2f} {bottom} l S")
        else:
            steps.append(f"{field} {x:.2f} {top} {end - x:.2f} {bottom - top} re f")
    if parted:
        steps += [f"{parted} {x:.2f} {top} m {x:.2f} {bottom} l S" for x in edges[1:3]]
    steps.append(f"0.3 G 0.3 w {left} {top} {right - left} {bottom - top} re S")
    return drawn(" ".join(steps))


FAULTS: list[tuple[str, str, str, Damage]] = [
    ("a red square", "ink-colour", "black", drawn("0.8 0.1 0.1 rg 100 20 8 8 re f")),
    ("a hairline in dark blue", "ink-colour", "black",
     drawn("0 0 0.5 RG 0.4 w 90 50 m 130 50 l S")),
    ("a picture with one orange dot", "ink-colour", "black",
     drawn("9 0 0 9 100 20 cm BI /W 1 /H 1 /CS /RGB /BPC 8 ID \xd2\x69\x1e EI")),
    ("words in dark red", "ink-colour", "black", red_letters),
    ("two fields of one color and no line", "shades-alike", "strip", bar(SMOKE, SMOKE, PINK)),
    ("two fields as bright as each other and no line", "shades-alike", "strip",
     bar(SMOKE, "0.63 0.44 0.60 rg", PEARL)),
    ("two fields of the same lines in black", "shades-alike", "black",
     bar("lines", "lines", "0 g")),
]  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault[0])
def test_what_is_in_the_wrong_ink_is_found(
    hunt: Callable[..., Any], fault: tuple[str, str, str, Damage]
) -> None:
    name, rule, base, damage = fault
    hunt(name, rule, base, SKU, damage)


@pytest.mark.parametrize(
    ("base", "damage"),
    [
        ("strip", bar(SMOKE, PEARL, PINK, parted="1 G 0.5 w")),
        ("strip", bar(SMOKE, "0.63 0.44 0.60 rg", PEARL, parted="1 G 0.5 w")),
        ("black", bar("0 g", "lines", "1 g")),
        ("black", drawn("0.5 g 250 62 3 3 re f")),
    ],
    ids=[
        "with a line between",
        "as bright as each other, with a line between",
        "black and lines",
        "a grey square, which black may be",
    ],
)
def test_shades_that_are_told_apart_and_greys_pass(
    base: str, damage: Damage, bases: dict[str, Any], tmp_path: Path, sheet_of: Any, workshop: Any
) -> None:
    good = bases[base]
    with pikepdf.open(good.pdf) as pdf:
        sheet = sheet_of(pdf)
        damage(sheet)
        file = sheet.save(tmp_path / "bar.pdf")
    report = check_pdf(file, good.folder, day=workshop.day)
    assert not RULES & {each.rule for each in report.findings}


@pytest.mark.parametrize(
    ("rule", "base", "damage"), [FAULTS[0][1:], FAULTS[4][1:]], ids=["color", "a bar"]
)
def test_what_the_first_edition_printed_so_is_noted(
    rule: str, base: str, damage: Damage, bases: dict[str, Any], tmp_path: Path, sheet_of: Any,
    workshop: Any,
) -> None:  # fmt: skip
    """A reprint is as the label hangs there: no other catalog and no option makes it otherwise."""
    good = bases[base]
    with pikepdf.open(good.pdf) as pdf:
        sheet = sheet_of(pdf)
        damage(sheet)
        del sheet.claims["run"]["drawn"]
        stream = pdf.attachments["run-sheet.json"].get_file().obj
        stream.write(json.dumps(sheet.claims).encode())
        file = sheet.save(tmp_path / "first.pdf")
    report = check_pdf(file, good.folder, day=workshop.day)
    told = {(each.grade, each.hint) for each in report.findings if each.rule == rule}
    assert told == {(Grade.NOTE, "")}


@pytest.mark.parametrize("ink", ["black", "grey"])
def test_a_photo_is_engraved_or_gray_in_a_run_in_black(
    ink: str, workshop: Any, tmp_path: Path
) -> None:
    folder = workshop.copied(tmp_path / "demo")
    (folder / "photos/reed.jpg").write_bytes(_photo())
    text = (folder / "catalog.toml").read_text("utf-8")
    text = text.replace("[patterns.reedmace]\n", '[patterns.reedmace]\nphoto = "reed.jpg"\n')
    (folder / "catalog.toml").write_text(text, "utf-8")
    wish = {"sheet": "letter-2x5", "ink": ink, "skus": (SKU,)}
    good = workshop.printed(folder, tmp_path / "one.pdf", **wish)
    with pikepdf.open(good.pdf) as pdf:
        streams = [each for each in pdf.objects if isinstance(each, pikepdf.Stream)]
        inks = {str(each.ColorSpace) for each in streams if each.get("/Subtype") == "/Image"}
    assert inks == ({"/DeviceGray"} if ink == "grey" else set())
    report = check_pdf(good.pdf, folder, day=workshop.day)
    assert not RULES & {each.rule for each in report.findings}


def _photo() -> bytes:
    ramp = Image.linear_gradient("L").resize((900, 600))
    picture = Image.merge("RGB", [ramp, ramp.rotate(90), ramp.rotate(180)])
    made = io.BytesIO()
    picture.save(made, "JPEG")
    return made.getvalue()
