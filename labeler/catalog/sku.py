"""How a SKU is put together: pattern, weight, hook, colour, such as ``RV-38-40-MLN``.

| what         | is written | because                                                       |
|--------------|------------|---------------------------------------------------------------|
| 3/8 oz       | 38         | the trade writes it so                                        |
| 1/16 oz      | 116        | and so                                                        |
| 1 oz         | 1OZ        | 1 alone would leave 12 oz and 1/2 oz alike                    |
| 1 1/2 oz     | 1OZ12      | 112 would be 1/12 oz                                          |
| 0.3 oz       | 0.3OZ      | a decimal keeps its point                                     |
| 10.6 g       | 10.6G      |                                                               |
| hook 4/0     | 40         |                                                               |
| hook 4       | 4          |                                                               |
| hook 10      | N10        | 10 would be 1/0, as 20 and 30 would be 2/0 and 3/0; so all    |
|              |            | plain sizes of two digits have an N for "number" before them  |

No two weights and no two hook sizes are written alike.
"""

from __future__ import annotations

from fractions import Fraction

from labeler.units import Weight

_RUN_TOGETHER = (2, 4, 8, 16, 32, 64, 48, 80, 100)
"""Denominators whose proper fractions stay apart when the stroke is left out; tested, all pairs."""


def weight_part(weight: Weight) -> str:
    """Return the part of a SKU that names the weight, never the same for two weights."""
    if weight.unit == "g":
        return f"{_decimal(weight.value)}G"
    whole, rest = divmod(weight.value, 1)
    if rest and rest.denominator not in _RUN_TOGETHER:
        return f"{_decimal(weight.value)}OZ"
    run = f"{rest.numerator}{rest.denominator}" if rest else ""
    return f"{whole}OZ{run}" if whole else run


def _decimal(value: Fraction) -> str:
    for places in range(_PLACES):
        if (value * 10**places).denominator == 1:
            whole, rest = divmod(int(value * 10**places), 10**places)
            return f"{whole}.{rest:0{places}d}" if places else str(whole)
    return f"{value.numerator}D{value.denominator}"


_PLACES = 7
"""A weight finer than a millionth is written as numerator, D for "divided by", denominator."""


def hook_part(size: str) -> str:
    """Return the part of a SKU that names the hook size, never the same for two sizes."""
    if size.endswith("/0"):
        return size.replace("/", "")
    return size if len(size) == 1 else f"N{size}"


def make_sku(pattern: str, weight: Weight, hook_size: str, colour: str) -> str:
    """Return the SKU of a pattern's code, a weight, a hook size and a colour's code."""
    return f"{pattern}-{weight_part(weight)}-{hook_part(hook_size)}-{colour}"
