"""How large each kind of code may be printed, and how much light it keeps on either side."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

SizeName = Literal["upc-a", "ean-13", "ean-8", "qr-till", "qr-phone"]


@dataclass(frozen=True, slots=True)
class Size:
    """The range of a code's module in millimetres, and its quiet zones in modules.

    ``height`` is that of the bars in millimetres at the nominal module; a QR code has none of
    its own.
    """

    least: float
    nominal: float
    most: float
    quiet: tuple[int, int]
    source: str
    height: float | None = None

    @property
    def tall(self) -> float:
        """The height of the bars in modules, the same at every magnification.

        Raises:
            ValueError: if the code has no bars.
        """
        if self.height is None:
            raise ValueError("only bars have a height of their own")
        return self.height / self.nominal


@cache
def size_of(name: SizeName) -> Size:
    """Return the size of a code, from ``sizes.toml`` beside this file."""
    table = tomllib.loads(files(__package__).joinpath("sizes.toml").read_text("utf-8"))
    row = table[name]
    return Size(**row | {"quiet": tuple(row["quiet"])})
