"""Pieces set alike: who is set apart is who has no room, and what is told is so."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from labeler.catalog.model import Product
from labeler.findings import Finding
from labeler.layout.alike import below_aim, called, set_alike
from labeler.layout.compose import Composed, Composer, Job

Jig = Callable[..., Product]
Set = Callable[..., tuple[list[Composed], list[Finding]]]

FRONT = """<piece safe="0pt"><front><column gap="1pt">
<text name="pattern" style="name" most="16pt" least="6pt" lines="2" aim="12pt">
{{- product.pattern }}</text>
<swatch name="recipe" height="4pt"/></column></front></piece>"""


@pytest.fixture
def jig(product: Product) -> Jig:
    """Return a function that makes a jig of a pattern of its own, its shades called so."""

    def made(code: str, name: str, shade: str = "smoke") -> Product:
        pattern = product.pattern.model_copy(update={"code": code, "name": name})
        layers = tuple(
            layer.model_copy(update={"shade": f"{shade} {number}"})
            for number, layer in enumerate(product.colour.layers)
        )
        colour = product.colour.model_copy(update={"layers": layers})
        return product.model_copy(
            update={"sku": f"{code}-38", "pattern": pattern, "colour": colour}
        )

    return made


@pytest.fixture
def together(tmp_path: Path) -> Set:
    """Return a function that sets jigs alike in black, with what is told of them."""
    (tmp_path / "layouts").mkdir()
    (tmp_path / "layouts" / "mine.xml.jinja").write_text(FRONT, "utf-8")

    def made(*jigs: Product, size: tuple[float, float]) -> tuple[list[Composed], list[Finding]]:
        composer = Composer(tmp_path, ink="black")
        jobs = [Job(each, "mine", size) for each in jigs]
        pieces = set_alike(composer, jobs, [composer.compose_with_pictures(job) for job in jobs])
        told = [each for piece in pieces for each in piece.findings]
        told += [*composer.findings, *below_aim(zip(jobs, pieces, strict=True))]
        return pieces, told

    return made


def sizes(pieces: list[Composed]) -> list[float]:
    """Return how large the names are set."""
    return [
        size
        for piece in pieces
        for key, (size, *_) in piece.laid.sizes.items() if called(key) == "front pattern"
    ]  # fmt: skip


def told_of(told: list[Finding], rule: str) -> list[str]:
    return [each.place.piece for each in told if each.rule == rule]


def test_shades_that_have_no_room_anywhere_set_nobody_apart(jig: Jig, together: Set) -> None:
    """Before, the name beside them shrank to its least, and its pattern was called too long."""
    long = jig("CC", "Plover", "an uncommonly long shade of brown and violet")
    pieces, told = together(jig("AA", "Reedmace"), jig("BB", "Heron"), long, size=(60, 30))
    assert len(set(sizes(pieces))) == 1
    assert told_of(told, "shades-unnamed") == ["CC-38"]
    assert told_of(told, "set-apart") == []


def test_who_has_no_room_in_one_measure_for_all_is_set_apart_and_forces_nobody(
    jig: Jig, together: Set
) -> None:
    """A name on two lines takes the room of long shades; a third, on one line, does no harm."""
    two_lines, shades = jig("BB", "Heron And Egret Too"), jig("CC", "Plover", "shade of brown")
    pieces, told = together(two_lines, shades, jig("DD", "Tern"), size=(80, 34))
    assert told_of(told, "set-apart") == ["CC-38"]
    first, apart, third = sizes(pieces)
    assert first == third < apart
    (forced,) = [each for each in told if each.rule == "set-smaller-for-one"]
    assert forced.place.piece == "BB-38"
    assert forced.found == f"{first:.3g} pt"


def test_texts_too_small_for_the_peg_are_told_once_with_the_smallest(
    jig: Jig, together: Set
) -> None:
    """12 pt high capitals ask for more than 16 pt; those of the long name stand far lower."""
    jigs = jig("AA", "Reedmaceandmoreandmore"), jig("BB", "Heron")
    pieces, told = together(*jigs, size=(80, 60))
    (small,) = [each for each in told if each.rule == "text-below-aim"]
    least = min(high for piece in pieces for _, high, _ in piece.laid.below_aim)
    assert small.found == f"capitals {least:.1f} pt high on AA-38, BB-38"
    assert (small.place.piece, small.expected) == ("", "12 pt")
    _, told = together(jigs[1], size=(80, 60))
    (small,) = [each for each in told if each.rule == "text-below-aim"]
    assert (small.place.piece, " on " in small.found) == ("BB-38", False)
