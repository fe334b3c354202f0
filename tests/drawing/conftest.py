"""Jigs to draw, as a maker's catalog would give them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pytest

from labeler.catalog.model import Colour, Flake, Guard, Head, Hook, Maker, Material, Product

MATERIALS = {
    "silicone": Material(name="Silicone", kind="silicone"),
    "rubber": Material(name="Living rubber", kind="living rubber"),
    "bucktail": Material(name="Bucktail", kind="hair"),
    "marabou": Material(name="Marabou", kind="feather"),
    "tinsel": Material(name="Tinsel", kind="tinsel"),
    "lead": Material(name="Lead", kind="alloy", composition={"lead": "96 %", "antimony": "4 %"}),
    "bismuth-tin": Material(
        name="Bismuth-tin", kind="alloy", composition={"bismuth": "58 %", "tin": "42 %"}
    ),
}


def _jig(layers: Sequence[dict[str, Any]], **also: Any) -> Product:
    """A product by what can be seen of it; ``also`` overrides parts of the pattern's records."""
    weight, size = also.pop("weight", "3/8 oz"), also.pop("size", "4/0")
    kind, dressing = also.pop("kind", "swim jig"), also.pop("dressing", "skirt")
    length, guard = also.pop("length", None), also.pop("guard", {})
    head, hook, colour = also.pop("head", {}), also.pop("hook", {}), also.pop("colour", {})
    assert not also, also
    defaults = {"material": "silicone", "shade": "brown", "ink": "#5a3a20", "strands": 20}
    return Product.model_validate(
        {
            "sku": "RV-38-40",
            "pattern": {
                "code": "RV", "name": "Reedmace", "kind": kind, "head": "h", "hook": "k",
                "weights": [weight], "colours": ["c"], "skirt": dressing, "length": length,
            },
            "weight": weight,
            "hook_size": size,
            "colour": Colour.model_validate(
                {"code": "C", "name": "c", "layers": [defaults | dict(row) for row in layers]}
                | colour
            ),
            "head": Head.model_validate({"name": "h", "style": "swim", "alloy": "lead"} | head),
            "hook": Hook.model_validate({"name": "k"} | hook),
            "guard": None if guard is None else Guard.model_validate({"name": "g"} | guard),
            "materials": MATERIALS,
            "maker": Maker(name="Hobbin & Daughter", city="Alder Ferry", postcode="54899"),
            "markets": ["US"],
        }
    )  # fmt: skip


@pytest.fixture(scope="session")
def jig() -> Callable[..., Product]:
    return _jig


@pytest.fixture(scope="session")
def brown_over_blue() -> Product:
    return _jig(
        [
            {"shade": "brown", "ink": "#5a3a20", "strands": 26},
            {"shade": "blue", "ink": "#27508f", "strands": 18},
            {"shade": "orange", "ink": "#e2711d", "strands": 12, "seat": "belly"},
        ]
    )


@pytest.fixture(scope="session")
def specimens(brown_over_blue: Product) -> dict[str, Product]:
    """One jig of every sort that the trade ties."""
    gold = Flake(ink="#c9a227", density="dense")
    return {
        "swim": brown_over_blue,
        "football": _jig(
            [
                {"ink": "#56602c", "strands": 24, "flake": gold},
                {"ink": "#8a4b23", "tip": "#e58a1f", "strands": 20},
                {"ink": "#2b2a2e", "strands": 12, "seat": "back"},
            ],
            weight="3/4 oz", size="5/0", head={"style": "football"},
        ),
        "bucktail": _jig(
            [
                {"material": "bucktail", "ink": "#7a5a36", "strands": 50, "seat": "back"},
                {"material": "bucktail", "ink": "#e9e2cf", "strands": 50, "seat": "belly"},
                {"material": "tinsel", "ink": "#cfd6dc", "strands": 8},
            ],
            weight="1/4 oz", size="1/0", dressing="hair", guard=None,
            head={"style": "round", "eyes": True}, hook={"bend": "aberdeen", "eye": 90},
        ),
        "marabou": _jig(
            [
                {"material": "marabou", "ink": "#5f6b33", "strands": 5},
                {"material": "marabou", "ink": "#2e3a1e", "strands": 2, "seat": "back"},
            ],
            weight="1/16 oz", size="4", dressing="feather", guard=None, head={"style": "round"},
        ),
        "finesse": _jig(
            [
                {"material": "rubber", "ink": "#3b2436", "strands": 22},
                {"material": "rubber", "ink": "#6b4a2a", "strands": 20},
            ],
            size="2/0", guard=None, head={"style": "flat"},
        ),
        "bare": _jig(
            [{"ink": "#7d8791", "strands": 30}],
            head={"style": "round", "alloy": "bismuth-tin"}, guard={"style": "wire"},
        ),
        "white": _jig(
            [{"ink": "#f6f5f0", "strands": 30}, {"ink": "#eef0f2", "strands": 18}],
            head={"style": "bullet", "eyes": True}, guard={"style": "braid"},
            colour={"head_ink": "#f2f1ec", "head_paint": "white"},
        ),
        "black": _jig(
            [{"ink": "#17171a", "strands": 34}, {"ink": "#1f2f6e", "strands": 22}],
            head={"style": "banana"}, hook={"wire": "heavy", "bend": "o'shaughnessy"},
        ),
    }  # fmt: skip
