"""Type styles by name: face, size range, leading, tracking, ink, figures."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from labeler import files
from labeler.findings import Finding, LabelerError, Place, did_you_mean, refusal, stop
from labeler.tomlfile import read_toml
from labeler.type.faces import TABULAR, Typeface, typeface
from labeler.units import Length


@dataclass(frozen=True, slots=True, eq=False)
class Style:
    """How a text is set. Sizes in points, tracking in thousandths of an em, leading in sizes.

    Styles are compared as objects: a style sheet is read once.
    """

    name: str
    face: Typeface
    most: float
    least: float
    leading: float = 1.15
    tracking: float = 0.0
    ink: str = "#000000"
    tabular: bool = False
    capitals: bool = False
    balance: bool = False
    fractions: Typeface | None = None
    """The face of a fraction's small figures: a bolder one, so that they keep the text's colour."""


Styles = Mapping[str, Style]

_KINDS: Mapping[str, type | tuple[type, ...]] = {
    "face": str, "most": str, "least": str, "leading": (int, float), "tracking": (int, float),
    "ink": str, "figures": str, "capitals": bool, "balance": bool,
    "fractions": str,
}  # fmt: skip


def read_styles(maker_folder: Path | None = None) -> Styles:
    """Return every style, the maker's own in place of the shipped one of that name.

    Raises:
        LabelerError: with every fault in the style sheets.
    """
    maker_folder = files.with_shelves(maker_folder, "layouts", "fonts")
    sheets = files.stamps("layouts", "styles.toml", maker_folder)
    return _styles_as_of(maker_folder, sheets, files.stamps("fonts", "*", maker_folder))


@lru_cache(maxsize=8)
def _styles_as_of(maker_folder: Path | None, _sheets: files.Stamps, _faces: files.Stamps) -> Styles:
    found: dict[str, Style] = {}
    faults: list[Finding] = []
    for folder in reversed(files.shelves("layouts", maker_folder)):
        file = folder / "styles.toml"
        if file.is_file():
            for name, table in read_toml(file, "styles-unreadable").data.items():
                place = Place(file=str(file), key=name)
                if wrong := _faults(place, table):
                    faults += wrong
                    continue
                try:
                    found[name] = _style(name, table, maker_folder)
                except LabelerError as error:
                    faults += error.findings
                except ValueError as error:
                    message = "a value can't be used"
                    faults.append(stop("style-value", place, message, expected=str(error)))
    if faults:
        raise LabelerError(faults)
    return MappingProxyType(found)


def style_sheet(maker_folder: Path | None = None) -> str:
    """Return one style sheet that says what all those on the shelves say together.

    Raises:
        LabelerError: if one of them is no TOML.
    """
    import tomlkit  # only where a print is put on record

    tables: dict[str, Any] = {}
    for folder in reversed(files.shelves("layouts", maker_folder)):
        if (folder / "styles.toml").is_file():
            tables |= read_toml(folder / "styles.toml", "styles-unreadable").data
    return tomlkit.dumps(tables, sort_keys=True)


def _faults(place: Place, table: Any) -> list[Finding]:
    if not isinstance(table, dict):
        return [stop("style-value", place, "a style is a table", found=repr(table))]
    faults = [
        stop("style-key", place, f"a style has no {key!r}", hint=did_you_mean(key, sorted(_KINDS)))
        for key in table
        if key not in _KINDS
    ]
    faults += [
        stop("style-value", place, f"{key!r} can't be used", found=repr(table[key]))
        for key, kind in _KINDS.items()
        if key in table and not isinstance(table[key], kind)
    ]
    faults += [
        stop("style-value", place, f"{key!r} is missing")
        for key in ("face", "most", "least")
        if key not in table
    ]
    return faults


def _style(name: str, table: dict[str, Any], maker_folder: Path | None) -> Style:
    most, least = Length.parse(table["most"]).pt, Length.parse(table["least"]).pt
    if not 0 < least <= most:
        raise ValueError("'least' above 0 and not above 'most'")
    ink = table.get("ink", "#000000")
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", ink):
        raise ValueError("an ink as #rrggbb")
    if table.get("figures", "as drawn") not in ("tabular", "as drawn"):
        raise ValueError("figures 'tabular' or 'as drawn'")
    tabular = table.get("figures") == "tabular"
    return Style(
        name=name,
        face=typeface(table["face"] + (TABULAR if tabular else ""), maker_folder),
        most=most,
        least=least,
        leading=_number(table, "leading", 1.15, (0.5, 5)),
        tracking=_number(table, "tracking", 0, (-200, 2000)),
        ink=ink.lower(),
        tabular=tabular,
        capitals=bool(table.get("capitals", False)),
        balance=bool(table.get("balance", False)),
        fractions=typeface(table["fractions"], maker_folder) if "fractions" in table else None,
    )


def _number(table: dict[str, Any], key: str, default: float, bounds: tuple[float, float]) -> float:
    value = table.get(key, default)
    if isinstance(value, bool) or not bounds[0] <= value <= bounds[1]:
        raise ValueError(f"{key!r} from {bounds[0]:g} to {bounds[1]:g}")
    return float(value)


@lru_cache(maxsize=512)
def in_ink(style: Style, ink: str) -> Style:
    """Return ``style`` in another ink; the same object each time."""
    return replace(style, ink=ink)


def style_named(styles: Styles, name: str, place: Place) -> Style:
    """Return the style called ``name``; raise a LabelerError with the nearest name if none is."""
    style = styles.get(name)
    if style is None:
        raise refusal(
            "unknown-style",
            place,
            f"there is no style called {name!r}",
            hint=did_you_mean(name, sorted(styles)),
        )
    return style
