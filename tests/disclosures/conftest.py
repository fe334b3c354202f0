"""One invented jig to hold the rules against, and what may be changed about it.

The cautions of the trade hold for it as for any: lead is poisonous, hooks are sharp.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from labeler.catalog.model import (
    Bag,
    Colour,
    Head,
    Hook,
    Layer,
    Maker,
    Material,
    Part,
    Pattern,
    Product,
)

Jig = Callable[..., Product]

ALLOYS: dict[str, dict[str, str]] = {
    "hard lead": {"lead": "97 %", "antimony": "3 %"},
    "bismuth-tin": {"bismuth": "58 %", "tin": "42 %"},
    "told in part": {"bismuth": "58 %"},
    "untold": {},
}


def make(
    *,
    maker: dict[str, Any] | None = None,
    pattern: dict[str, Any] | None = None,
    alloy: str = "hard lead",
    lead: str | None = None,
    weight: str = "3/8 oz",
    hook_origin: str | None = "JP",
    silicone_origin: str | None = "US",
    alloy_origin: str | None = "US",
    certificate: str | None = None,
    painted: bool = True,
    rubber: bool = False,
    bead: dict[str, str] | None = None,
    steel_origin: str | None = None,
    bag: tuple[str, str, bool] | None = ("3 in", "5 in", True),
    with_: dict[str, Any] | None = None,
    second: tuple[str, dict[str, str]] | None = None,
) -> Product:
    """Return the jig, changed. ``lead`` is the head's share of it, the rest tin.

    ``second`` is the language that its labels speak beside English, and its words in that.

    ``with_`` makes it a pack of two of it and one of another, which is changed so.
    """
    mix: dict[str, Any] = dict(ALLOYS[alloy])
    if lead is not None:
        share = float(lead.removesuffix("%"))
        mix = {"lead": lead, "tin": f"{100 - share:.6f} %"}
    name = "Tin and a trace" if lead is not None else alloy.capitalize()
    materials = {
        "head metal": Material.model_validate(
            {
                "name": name,
                "kind": "alloy",
                "composition": mix,
                "density": "9 g/cm3",
                "origin": alloy_origin,
                "certificate": certificate,
            }
        ),
        "silicone": Material(name="Silicone tab", kind="silicone", origin=silicone_origin),
    }
    if rubber:
        materials["rubber"] = Material(name="Living rubber", kind="living rubber", origin="MY")
    if bead is not None:
        materials["bead"] = Material.model_validate(
            {"name": "Brass bead", "kind": "wire", "composition": bead, "origin": "US"}
        )
    if steel_origin is not None:
        materials["steel"] = Material(name="Hook steel", kind="steel", origin=steel_origin)
    who: dict[str, Any] = {
        "name": "Hobbin & Daughter",
        "street": "14 Cooper's Row",
        "city": "Alder Ferry",
        "state": "WI",
        "postcode": "54899",
    }
    design: dict[str, Any] = {
        "code": "RV",
        "name": "Reed Vole",
        "kind": "swim jig",
        "head": "bullet",
        "hook": "strong",
        "weights": (weight,),
        "colours": ("melon",),
        "length": "3 1/2 in",
        "made_in": "US",
    }
    jig = Product(
        sku="RV-38-MLN",
        pattern=Pattern.model_validate(design | (pattern or {})),
        weight=Pattern.model_validate(design).weights[0],
        hook_size="4/0",
        colour=Colour(
            code="MLN",
            name="Melon",
            layers=(Layer(material="silicone", shade="melon", ink="#6b7a2f", strands=40),),
            head_paint="green pumpkin" if painted else None,
        ),
        head=Head(name="Bullet", style="bullet", alloy="head metal"),
        hook=Hook(name="Strong 60", origin=hook_origin),
        bag=Bag.model_validate({"name": "b", "width": bag[0], "height": bag[1], "clear": bag[2]})
        if bag
        else None,
        materials=materials,
        maker=Maker.model_validate(who | (maker or {})),
        markets=("US",),
        second_language=second[0] if second else None,
        second_words=second[1] if second else {},
    )
    if with_ is None:
        return jig
    dusk = jig.colour.model_copy(update={"code": "DSK", "name": "Dusk"})
    other = make(**with_).model_copy(update={"sku": "RV-38-DSK", "colour": dusk})
    return jig.model_copy(
        update={
            "sku": "TRIO",
            "pattern": jig.pattern.model_copy(update={"name": "River Trio", "pack": 3}),
            "colour": jig.colour.model_copy(update={"name": "Two colors", "layers": ()}),
            "materials": jig.materials | other.materials,
            "parts": (Part(product=jig, count=2), Part(product=other, count=1)),
        }
    )


@pytest.fixture
def jig() -> Jig:
    """Return the maker of jigs."""
    return make


@pytest.fixture
def today() -> dt.date:
    """Return the day on which the rules were read."""
    return dt.date(2026, 11, 25)
