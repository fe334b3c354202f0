"""What the rows of a spreadsheet make of the products: added, overridden, retired."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from labeler.catalog.expand import Draft, make_sku
from labeler.catalog.gtin import prefix_kind
from labeler.catalog.model import CatalogFile
from labeler.catalog.spreadsheet.grid import SheetRow
from labeler.findings import Finding, Place, as_written, did_you_mean, fix, stop
from labeler.units import Weight

# ----------------------------------------------------------------------------
# Whether a photo that is named lies in the catalog's ``photos/``, and nowhere else.

PHOTOS = "photos"

MOST_PHOTOS = 20_000
"""Files looked at in photos/ for the nearest name; more is another folder."""


class Photos:
    """The files in a catalog's photos/, looked through once."""

    def __init__(self, folder: Path) -> None:
        self.root = folder / PHOTOS
        self.names = _listed(self.root)
        self._known = frozenset(self.names)

    def fault(self, place: Place, name: str) -> Finding | None:
        """Return what is wrong with a photo's name, in the very letters of its file; or None."""
        plain = name.replace("\\", "/").removeprefix(f"{PHOTOS}/")
        steps = PurePosixPath(plain)
        if steps.is_absolute() or ".." in steps.parts or ":" in plain.split("/")[0]:
            return self._outside(place, name)
        if name not in self._known:
            return stop(
                "photo-missing",
                place,
                f"there is no such file in {PHOTOS}/",
                found=as_written(name),
                hint=f"Did you mean {plain!r}?"
                if plain in self._known
                else did_you_mean(name, [one for one in self.names if one.isprintable()]),
            )
        return None if self._inside(name) else self._outside(place, name)

    def _outside(self, place: Place, name: str) -> Finding:
        return stop(
            "photo-outside",
            place,
            f"this leads out of {PHOTOS}/",
            found=as_written(name),
            expected=f"a file in {PHOTOS}/",
            hint="Copy the photo there and give its name alone.",
        )

    def _inside(self, name: str) -> bool:
        """Tell whether a link, if the file is one, stays within the folder."""
        try:
            return (self.root / name).resolve().is_relative_to(self.root.resolve())
        except (OSError, RuntimeError):
            return False


def _listed(root: Path) -> list[str]:
    names: list[str] = []
    try:
        for path in root.rglob("*"):
            if path.is_file():
                names.append(path.relative_to(root).as_posix())
            if len(names) >= MOST_PHOTOS:
                break
    except OSError:
        pass
    return sorted(names)


MADE_OF = ("pattern", "weight", "hook", "colour")
"""The four that a product is told by."""

SAYS = ("price", "gtin", "photo", "note", "markets", "pack")
"""What a row says of a product that is told."""


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
        for row in _merged(rows, self.findings):
            self._lay(row)

    def _lay(self, row: SheetRow) -> None:
        made = self._made_of(row)
        sku = row.values.get("sku") or self._sku_of(made)
        if sku is None:
            if not row.spoiled:
                self.findings.append(_no_sku(row))
            return
        if sku in self.laid:
            self.findings.append(_twice(sku, self.laid[sku], row.place))
            return
        self.laid[sku] = row.cell("sku")
        if "gtin" in row.values:
            self._give(sku, row.values["gtin"], row.cell("gtin"))
        draft = self.drafts.get(sku)
        if draft is None and row.values.get("retired"):
            self._retire_unknown(row, sku)
        elif draft is None:
            self._add(row, sku, made)
        else:
            self._check_same(row, draft, made)
            self._say(row, draft)

    def _made_of(self, row: SheetRow) -> dict[str, Any]:
        """Return the four that a product is told by, names looked up; findings for wrong ones."""
        made: dict[str, Any] = {
            name: row.values[name] for name in ("weight", "hook") if name in row.values
        }
        if "pattern" in row.values:
            made["pattern"] = self._look_up(row, "pattern", self.file.patterns, None)
        if "colour" in row.values:
            usual = self.file.patterns.get(made.get("pattern") or "")
            made["colour"] = self._look_up(
                row, "colour", self.file.colours, usual.colours if usual else None
            )
        return made

    def _look_up(
        self, row: SheetRow, what: str, entries: Mapping[str, Any], usual: Iterable[str] | None
    ) -> str | None:
        """Return the name of the entry that a cell means, by heading, code or full name."""
        said = row.values[what]
        meant = _meant(said, entries)
        if len(meant) > 1 and usual is not None:
            meant = [name for name in meant if name in set(usual)] or meant
        if len(meant) == 1:
            return meant[0]
        row.spoiled = True
        self.findings.append(
            stop(
                "unknown-name" if not meant else "unclear-name",
                row.cell(what),
                f"the catalog has no such {what}" if not meant else f"several {what}s go by this",
                found=as_written(said),
                expected=", ".join(meant),
                hint="Give the name in its heading." if meant else _nearest(said, entries),
            )
        )
        return None

    def _sku_of(self, made: dict[str, Any]) -> str | None:
        if any(made.get(name) is None for name in MADE_OF):
            return None
        code = self.file.patterns[made["pattern"]].code
        return make_sku(code, made["weight"], made["hook"], self.file.colours[made["colour"]].code)

    def _add(self, row: SheetRow, sku: str, made: dict[str, Any]) -> None:
        if row.spoiled:
            return
        if missing := [name for name in MADE_OF if name not in made]:
            told = bool(made)
            self.findings.append(
                stop(
                    "sku-unknown",
                    row.cell("sku"),
                    f"an added product needs its {', '.join(missing)}"
                    if told
                    else "no pattern makes this SKU",
                    found=sku,
                    hint=did_you_mean(sku, list(self.drafts))
                    if not told
                    else "A row for a SKU of the catalog needs none of them.",
                )
            )
            return
        draft = Draft(sku, made["pattern"], made["weight"], made["hook"], made["colour"], row.place)
        self.drafts[sku] = draft
        self._say(row, draft)

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

    def _check_same(self, row: SheetRow, draft: Draft, made: dict[str, Any]) -> None:
        for name in MADE_OF:
            stated = made.get(name)
            if stated is not None and not _same(stated, getattr(draft, name)):
                self.findings.append(
                    stop(
                        "row-contradicts",
                        row.cell(name),
                        f"{draft.sku} has another {name} in the catalog",
                        found=str(stated),
                        expected=str(getattr(draft, name)),
                        hint="Leave it blank, or give the row a SKU of its own.",
                    )
                )

    def _say(self, row: SheetRow, draft: Draft) -> None:
        if "photo" in row.values and (
            fault := self.photos.fault(row.cell("photo"), row.values["photo"])
        ):
            self.findings.append(fault)
        for name in SAYS:
            if name in row.values:
                draft.says[name] = self._price(row) if name == "price" else row.values[name]
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


def _no_sku(row: SheetRow) -> Finding:
    return stop(
        "sku-missing",
        row.place,
        "the row does not say which product it is about",
        found=", ".join(row.values) or "",
        expected="a SKU, or pattern, weight, hook and colour",
    )


def _meant(said: str, entries: Mapping[str, Any]) -> list[str]:
    """Return the names of the entries that ``said`` may mean, case forgiven."""
    if said in entries:
        return [said]
    plain = said.casefold()
    for spellings in (lambda name, _: name, lambda _, one: one.code, lambda _, one: one.name):
        if meant := [n for n, one in entries.items() if spellings(n, one).casefold() == plain]:
            return meant
    return []


def _nearest(said: str, entries: Mapping[str, Any]) -> str:
    codes = [one.code for one in entries.values()]
    full = [one.name for one in entries.values()]
    return did_you_mean(said, [*codes, *full, *entries])


def _merged(rows: Iterable[SheetRow], findings: list[Finding]) -> list[SheetRow]:
    """Return one row a SKU. Two files may speak of the same, if they say the same."""
    by_sku: dict[str, SheetRow] = {}
    merged: list[SheetRow] = []
    for row in rows:
        sku: str = row.values.get("sku", "")
        first = by_sku.setdefault(sku, row) if sku else row
        if first is row:
            merged.append(row)
        elif first.place.file == row.place.file:
            findings.append(_twice(sku, first.place, row.cell("sku")))
        else:
            _join(sku, first, row, findings)
    return merged


def _twice(sku: str, first: Place, second: Place) -> Finding:
    return stop(
        "duplicate-sku",
        second,
        f"the SKU {sku} has a row already",
        found=f"{first} and here",
        hint="Keep one of the two.",
    )


def _join(sku: str, first: SheetRow, second: SheetRow, findings: list[Finding]) -> None:
    """Add to a row what only the other file says; a finding for what both say differently."""
    for name, value in second.values.items():
        if name not in first.values:
            first.values[name], first.cells[name] = value, second.cells[name]
        elif first.values[name] != value:
            findings.append(
                stop(
                    "files-disagree",
                    second.cell(name),
                    f"the two spreadsheets give {sku} another {name}",
                    found=_spoken(value),
                    expected=f"{_spoken(first.values[name])}, as in {first.cell(name)}",
                )
            )
    first.spoiled = first.spoiled or second.spoiled


def _spoken(value: Any) -> str:
    if isinstance(value, tuple):
        return " ".join(str(part) for part in value).strip()
    return str(value)
