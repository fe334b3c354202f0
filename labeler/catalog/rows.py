"""What the rows of a spreadsheet make of the products: added, overridden, retired."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from labeler.catalog.expand import Draft, make_sku
from labeler.catalog.gtin import prefix_kind
from labeler.catalog.model import CatalogFile, Colour, Pattern
from labeler.catalog.spreadsheet.grid import SheetRow
from labeler.catalog.structure import PHOTOS
from labeler.findings import Finding, Place, as_written, did_you_mean, fix, stop
from labeler.units import Weight

MOST_PHOTOS = 20_000
"""Files looked at in photos/ for the nearest name; more is another folder."""


class Photos:
    """The files in a catalog's photos/, looked through once."""

    def __init__(self, folder: Path) -> None:
        self._root = folder / PHOTOS
        names: list[str] = []
        try:
            for path in self._root.rglob("*"):
                if path.is_file():
                    names.append(path.relative_to(self._root).as_posix())
                if len(names) >= MOST_PHOTOS:
                    break
        except OSError:
            pass  # what could be listed is enough to look names up; any other is missing
        self.names = sorted(names)
        self._known = frozenset(names)

    def fault(self, place: Place, name: str) -> Finding | None:
        """Return what is wrong with a photo's name, in the very letters of its file; or None."""
        plain = name.replace("\\", "/").removeprefix(f"{PHOTOS}/")
        path = PurePosixPath(plain)
        outside = path.is_absolute() or ".." in path.parts or ":" in plain.split("/")[0]
        if not outside and name not in self._known:
            return stop(
                "photo-missing",
                place,
                f"there is no such file in {PHOTOS}/",
                found=as_written(name),
                hint=f"Did you mean {plain!r}?"
                if plain in self._known
                else did_you_mean(name, [one for one in self.names if one.isprintable()]),
            )
        if not outside and self._stays_inside(name):
            return None
        return stop(
            "photo-outside",
            place,
            f"this leads out of {PHOTOS}/",
            found=as_written(name),
            expected=f"a file in {PHOTOS}/",
            hint="Copy the photo there and give its name alone.",
        )

    def _stays_inside(self, name: str) -> bool:
        """Tell whether a link, if the file is one, stays within the folder."""
        try:
            return (self._root / name).resolve().is_relative_to(self._root.resolve())
        except (OSError, RuntimeError):
            return False


MADE_OF = ("pattern", "weight", "hook", "colour")
"""The four that identify a product."""

OVERRIDES = ("price", "gtin", "photo", "note", "markets", "pack")
"""What a row may say of a product besides."""


@dataclass(slots=True)
class ProductDrafts:
    """The drafts of the catalog while rows are laid over them."""

    file: CatalogFile
    photos: Photos
    drafts: dict[str, Draft]
    retired: dict[str, Draft | None] = field(default_factory=dict)
    """What is sold no more, in the order of the rows; None where no pattern makes it."""
    findings: list[Finding] = field(default_factory=list)
    laid: dict[str, Place] = field(default_factory=dict)
    """The SKUs that have had their row."""
    given: list[tuple[str, str, Place]] = field(default_factory=list)
    """SKU, GTIN and its cell, for every GTIN that a row gives."""

    def lay(self, rows: Iterable[SheetRow]) -> None:
        """Lay the rows over the drafts, in their order."""
        for row in self._merged(rows):
            self._lay(row)

    def _merged(self, rows: Iterable[SheetRow]) -> list[SheetRow]:
        """Return one row a SKU. Two files may speak of the same, if they say the same."""
        by_sku: dict[str, SheetRow] = {}
        merged: list[SheetRow] = []
        for row in rows:
            sku: str = row.values.get("sku", "")
            first = by_sku.setdefault(sku, row) if sku else row
            if first is row:
                merged.append(row)
            elif first.place.file == row.place.file:
                self.findings.append(_twice(sku, first.place, row.cell("sku")))
            else:
                self._join(sku, first, row)
        return merged

    def _join(self, sku: str, first: SheetRow, second: SheetRow) -> None:
        """Add to a row what only the other file says; a finding for what both say differently."""
        for name, value in second.values.items():
            if name not in first.values:
                first.values[name], first.cells[name] = value, second.cells[name]
            elif first.values[name] != value:
                self.findings.append(
                    stop(
                        "files-disagree",
                        second.cell(name),
                        f"the two spreadsheets give {sku} another {name}",
                        found=_as_text(value),
                        expected=f"{_as_text(first.values[name])}, as in {first.cell(name)}",
                    )
                )
        first.spoiled = first.spoiled or second.spoiled

    def _lay(self, row: SheetRow) -> None:
        made_of = self._made_of(row)
        sku = row.values.get("sku") or self._sku_of(made_of)
        if sku is None:
            if not row.spoiled:
                self.findings.append(
                    stop(
                        "sku-missing",
                        row.place,
                        "the row does not say which product it is about",
                        found=", ".join(row.values),
                        expected="a SKU, or pattern, weight, hook and colour",
                    )
                )
            return
        if sku in self.laid:
            self.findings.append(_twice(sku, self.laid[sku], row.place))
            return
        self.laid[sku] = row.cell("sku")
        if "gtin" in row.values:
            self._give(sku, row.values["gtin"], row.cell("gtin"))
        draft = self.drafts.get(sku)
        if draft is not None:
            self._check_same(row, draft, made_of)
            self._override(row, draft)
        elif row.values.get("retired"):
            self._retire_unknown(row, sku)
        elif not row.spoiled:
            self._add(row, sku, made_of)

    def _made_of(self, row: SheetRow) -> dict[str, Any]:
        """Return the four that identify a product, names looked up; findings for wrong ones."""
        made_of: dict[str, Any] = {
            name: row.values[name] for name in ("weight", "hook") if name in row.values
        }
        if "pattern" in row.values:
            made_of["pattern"] = self._look_up(row, "pattern", self.file.patterns)
        if "colour" in row.values:
            pattern = self.file.patterns.get(made_of.get("pattern") or "")
            likely = pattern.colours if pattern else ()
            made_of["colour"] = self._look_up(row, "colour", self.file.colours, likely)
        return made_of

    def _look_up(
        self,
        row: SheetRow,
        what: str,
        entries: Mapping[str, Pattern] | Mapping[str, Colour],
        likely: Sequence[str] = (),
    ) -> str | None:
        """Return the name of the entry that a cell means, by heading, code or full name."""
        text: str = row.values[what]
        plain = text.casefold()
        meant: list[str] = [text] if text in entries else []
        for spellings in (
            {name: name for name in entries},
            {name: one.code for name, one in entries.items()},
            {name: one.name for name, one in entries.items()},
        ):
            meant = meant or [name for name, one in spellings.items() if one.casefold() == plain]
        if len(meant) > 1:
            meant = [name for name in meant if name in likely] or meant
        if len(meant) == 1:
            return meant[0]
        row.spoiled = True
        if meant:
            rule, message = "unclear-name", f"several {what}s go by this"
            hint = "Give the name in its heading."
        else:
            rule, message = "unknown-name", f"the catalog has no such {what}"
            codes = [one.code for one in entries.values()]
            names = [one.name for one in entries.values()]
            hint = did_you_mean(text, [*codes, *names, *entries])
        self.findings.append(
            stop(
                rule,
                row.cell(what),
                message,
                found=as_written(text),
                expected=", ".join(meant),
                hint=hint,
            )
        )
        return None

    def _sku_of(self, made_of: dict[str, Any]) -> str | None:
        if any(made_of.get(name) is None for name in MADE_OF):
            return None
        return make_sku(
            self.file.patterns[made_of["pattern"]].code,
            made_of["weight"],
            made_of["hook"],
            self.file.colours[made_of["colour"]].code,
        )

    def _add(self, row: SheetRow, sku: str, made_of: dict[str, Any]) -> None:
        if missing := [name for name in MADE_OF if name not in made_of]:
            if made_of:
                message = f"an added product needs its {', '.join(missing)}"
                hint = "A row for a SKU of the catalog needs none of them."
            else:
                message = "no pattern makes this SKU"
                hint = did_you_mean(sku, list(self.drafts))
            place = row.cell("sku")
            self.findings.append(stop("sku-unknown", place, message, found=sku, hint=hint))
            return
        draft = Draft(sku, **made_of)
        self.drafts[sku] = draft
        self._override(row, draft)

    def _retire_unknown(self, row: SheetRow, sku: str) -> None:
        """Keep a SKU retired after its pattern has gone; a slip of the pen looks the same."""
        self.retired[sku] = None
        if near := did_you_mean(sku, list(self.drafts)):
            self.findings.append(
                fix(
                    "retired-unknown",
                    row.cell("sku"),
                    "retires a SKU that no pattern makes; right if the pattern is gone",
                    found=sku,
                    hint=near,
                )
            )

    def _check_same(self, row: SheetRow, draft: Draft, made_of: dict[str, Any]) -> None:
        for name in MADE_OF:
            stated, known = made_of.get(name), getattr(draft, name)
            if stated is not None and not _same(stated, known):
                self.findings.append(
                    stop(
                        "row-contradicts",
                        row.cell(name),
                        f"{draft.sku} has another {name} in the catalog",
                        found=str(stated),
                        expected=str(known),
                        hint="Leave it blank, or give the row a SKU of its own.",
                    )
                )

    def _override(self, row: SheetRow, draft: Draft) -> None:
        if "photo" in row.values and (
            fault := self.photos.fault(row.cell("photo"), row.values["photo"])
        ):
            self.findings.append(fault)
        for name in OVERRIDES:
            if name in row.values:
                draft.overrides[name] = self._price(row) if name == "price" else row.values[name]
        if row.values.get("retired"):
            self.retired[draft.sku] = self.drafts.pop(draft.sku)

    def _give(self, sku: str, gtin: str, place: Place) -> None:
        self.given.append((sku, gtin, place))
        if prefix_kind(gtin) == "restricted":
            self.findings.append(
                fix(
                    "gtin-in-store",
                    place,
                    "numbers that begin so hold within one shop only; no other can sell by it",
                    found=gtin,
                    source="GS1 General Specifications, 1.4",
                )
            )

    def _price(self, row: SheetRow) -> Any:
        amount, currency = row.values["price"]
        if currency and currency != self.file.sale.currency:
            self.findings.append(
                stop(
                    "other-currency",
                    row.cell("price"),
                    "this price is in another money than the catalog's",
                    found=f"{amount} {currency}",
                    expected=f"an amount in {self.file.sale.currency}",
                )
            )
        return amount


def _same(stated: Any, known: Any) -> bool:
    """Tell whether a cell says what is known; 10.6 g is as good a way to say 3/8 oz."""
    if isinstance(stated, Weight) and isinstance(known, Weight) and stated.unit != known.unit:
        return abs(stated.grams - known.grams) * 100 <= known.grams
    return bool(stated == known)


def _twice(sku: str, first: Place, second: Place) -> Finding:
    return stop(
        "duplicate-sku",
        second,
        f"the SKU {sku} has a row already",
        found=f"{first} and here",
        hint="Keep one of the two.",
    )


def _as_text(value: Any) -> str:
    return " ".join(map(str, value)).strip() if isinstance(value, tuple) else str(value)
