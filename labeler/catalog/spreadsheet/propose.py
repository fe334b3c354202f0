"""How a spreadsheet that nobody has described is probably to be read."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any, NamedTuple

from labeler.catalog.model import Spreadsheet
from labeler.catalog.own_sheet import code_of, find_renamed, spellings, whole_rows
from labeler.catalog.spreadsheet.cells import (
    CellError,
    Value,
    display,
    folded,
    is_blank,
    serial_date,
)
from labeler.catalog.spreadsheet.grid import (
    LARGEST_BYTES,
    CellGrid,
    SheetRow,
    cell_at,
    filled_cells,
    read_sheets,
)
from labeler.catalog.spreadsheet.mapped import MappedSheet, as_heading, is_total
from labeler.catalog.spreadsheet.own_cells import (
    called,
    field_of,
    is_hook,
    is_mark,
    is_money,
    is_name,
    is_trade,
    other_use,
    parted,
    parts_of,
    plain,
    plain_number,
    read_weight,
    spot,
    unit_of,
    weight_and_hook,
    weight_within,
    weights_in,
    without_accents,
)
from labeler.catalog.spreadsheet.parts import metal_said, names_metal
from labeler.catalog.spreadsheet.shops import propose_tier, read_shops
from labeler.files import read_file
from labeler.findings import Finding, Grade, Place, as_written, listed, note, refusal, shown


@dataclass(frozen=True, slots=True)
class ColumnReading:
    """A column of the sheet that has something in it, for who puts right what it is read as."""

    key: str
    """What ``[spreadsheet.headings]`` calls it: by its heading, or its letter."""
    where: str
    """Its heading's cell."""
    samples: tuple[str, ...]
    """The first three different cells in it."""
    field: str
    """What it is read as; "ignored", or empty where nothing says what it is."""
    across: str = ""
    """Where it stands for one weight or colour: what its cells hold."""
    stands_for: str = ""
    """That weight or colour."""


class Renamed(NamedTuple):
    """A new name that may be another's which is in the sheet no more."""

    table: str
    """``patterns`` or ``colours``."""
    new: str
    old: str
    code: str
    """The old one's, by which its lots and labels go."""
    own: str
    """A code of its own, if it is something else."""


@dataclass(slots=True)
class Proposal:
    """How a maker's spreadsheet is to be read, and what was understood of it.

    Everything in ``spreadsheet`` and ``tables`` is plain data (text, whole numbers, lists, tables),
    ready to be written as TOML. Each remark is a finding: its place is the first cell that it is
    about, ``found`` says what stands there and in which other cells.
    """

    spreadsheet: dict[str, Any] = field(default_factory=dict)
    """The ``[spreadsheet]`` table: ``file`` (the whole path), ``sheet``, ``headings_row``,
    ``titles``, ``fill_down``, ``several``, ``weights``, ``unit``, and the tables ``headings`` (the
    maker's heading to a field, or "ignored"), ``across``, ``means``, ``pattern`` and ``codes``."""
    tables: dict[str, dict[str, Any]] = field(default_factory=dict)
    """Other tables of ``catalog.toml`` that the file holds: ``dealers``, ``tiers``, and of
    ``patterns`` the one ``hook_sizes`` that blank cells mean."""
    rows: list[SheetRow] = field(default_factory=list)
    """The products as every later run will read them: ``values`` has ``pattern``, ``colour``
    (as the maker writes them), ``weight``, and of ``hook``, ``price`` (amount and currency),
    ``gtin``, ``photo``, ``note``, ``retired``, ``pack``, ``on_hand``, ``wholesale`` those that are
    not blank."""
    columns: list[ColumnReading] = field(default_factory=list)
    """Every column that holds something."""
    renamed: list[Renamed] = field(default_factory=list)
    """Names that may be old ones'; each is among ``asked`` as well."""
    sheets: tuple[str, ...] = ()
    """The names of the file's sheets, where it has several."""
    sheet: str = ""
    """Which of them is read."""
    taken: list[Finding] = field(default_factory=list)
    """What was understood, with what was put right on the way."""
    proposed: list[Finding] = field(default_factory=list)
    """What is likely and must be looked at by the maker."""
    asked: list[Finding] = field(default_factory=list)
    """What only the maker knows; ``hint`` is the line of ``catalog.toml`` that settles it."""
    left_out: list[Finding] = field(default_factory=list)
    """Rows, columns and sheets that are not read, and why."""

    def say(self, heap: str, finding: Finding) -> None:
        """Put a remark where what became of it is told."""
        getattr(self, heap).append(finding)


def propose(
    path: Path,
    before: Mapping[str, Any] | None = None,
    columns: Mapping[str, str] | None = None,
    sheet: str = "",
    unit: str = "",
) -> Proposal:
    """Return how the spreadsheet at ``path`` is probably to be read.

    Args:
        path: an xlsx, xls, ods or csv, as the maker keeps it; it is only read.
        before: a ``[spreadsheet]`` table that holds already: what it says is kept as it stands.
        columns: what the maker says that columns are, by their headings; the others are guessed.
        sheet: the sheet that the maker says has the products.
        unit: what the maker says that weights without a unit are in: oz, g, or "none" for as
            written; empty, it is guessed. A heading that names a unit is taken at its word.

    Raises:
        LabelerError: if the file cannot be read, or no table of products is found in it.
    """
    raw = read_file(path, LARGEST_BYTES)
    grids, findings = read_sheets(path.name, raw)
    proposal = Proposal(taken=list(findings))
    guesses = [_Guess(grid, columns or {}, unit) for grid in grids]
    wanted = plain(sheet or str((before or {}).get("sheet", "")))
    named = [one for one in guesses if wanted and plain(one.grid.sheet) == wanted]
    best = max(named or guesses, key=lambda one: one.score, default=None)
    if best is None or not best.score:
        place = grids[0].place(grids[0].rows[0][0]) if grids else Place(file=path.name)
        raise refusal(
            "headings-missing",
            place,
            "no table of jigs is found here",
            expected="columns such as Name, Size, Color, Price, with or without headings",
        )
    best.settle(proposal)
    for other in guesses:
        if other is not best:
            read_shops(other.grid, proposal.tables, proposal.say)
    table = {"file": path.resolve().as_posix()} | best.table(len(grids) > 1)
    proposal.spreadsheet = _kept(table, before or {})
    _as_before(proposal, before or {})
    settled = {as_written(text) for text in (before or {}).get("headings", {})}
    for heap in (proposal.proposed, proposal.asked):
        heap[:] = [
            one for one in heap
            if not one.rule.startswith("column-") or one.found.split(" over ")[0] not in settled
        ]  # fmt: skip
    proposal.sheets = tuple(grid.sheet for grid in grids if len(grids) > 1)
    proposal.sheet = best.grid.sheet
    proposal.columns = list(best.columns(proposal.spreadsheet))
    _read(best.grid, proposal)
    return proposal


def _as_before(proposal: Proposal, before: Mapping[str, Any]) -> None:
    """Leave out a unit and headings that are new beside those of ``before``; reading asks.

    The maker may have taken that line out, and SKUs may be made of it: it is hers to write.
    """
    heads, stated = proposal.spreadsheet["headings"], before.get("headings", {})
    if stated and "unit" not in before:
        proposal.spreadsheet.pop("unit", None)
        proposal.proposed = [one for one in proposal.proposed if one.rule != "unit-proposed"]
    for text in [text for text in heads if stated and text not in stated]:
        del heads[text]
        said = f"{as_written(text)} over "
        for heap in (proposal.taken, proposal.proposed):
            heap[:] = [one for one in heap if not one.found.startswith(said)]


def _kept(table: dict[str, Any], before: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table with all that was said before, and of the new only what is new."""
    merged = table | dict(before)
    for key, new in table.items():
        old = before.get(key)
        if isinstance(new, dict) and isinstance(old, Mapping):
            merged[key] = _kept(new, old)
    return merged


_HEAPS = {
    "left_out": ("row-total", "row-headings", "row-no-product", "sheet-unread"),
    "asked": (
        "unknown-column", "status-unknown", "heading-gone", "heading-twice", "headings-missing",
    ),
}  # fmt: skip
"""Where what reading says belongs, beside its grade: a note is taken, all else is asked."""


def _read(grid: CellGrid, proposal: Proposal) -> None:
    """Read the sheet as every later run will, and sort what there is to say."""
    how = Spreadsheet.model_validate(proposal.spreadsheet)
    table = MappedSheet(grid, how).table
    proposal.rows, more = whole_rows(table.rows, how, {})
    for finding in [*table.findings, *more]:
        heap = next((heap for heap, rules in _HEAPS.items() if finding.rule in rules), "")
        if finding.rule == "row-twice" and finding.grade is Grade.NOTE:
            heap = "left_out"
        heap = heap or ("taken" if finding.grade is Grade.NOTE else "asked")
        getattr(proposal, heap).append(finding)
    codes = dict(proposal.spreadsheet.get("codes", {}))
    if not codes and not _hooks_tell(proposal.rows):
        codes["hooks"] = False
    for name, table_name in (("pattern", "patterns"), ("colour", "colours")):
        names = _names(table.rows, name)
        recorded = codes.get(table_name, {})
        asked = find_renamed(proposal.rows, name, recorded, {})
        proposal.asked += [finding for _, finding in asked.values()]
        proposal.renamed += [
            Renamed(table_name, new, old, recorded[old], code_of(new, recorded, {}))
            for new, (old, _) in asked.items()
        ]
        codes[table_name] = _codes([each for each in names if each not in asked], recorded)
        proposal.proposed += _alike(table.rows, name, names)
        proposal.proposed += _spelled(proposal.rows, name, table_name)
    proposal.spreadsheet["codes"] = codes
    _hooks(proposal)
    propose_tier(proposal.rows, proposal.tables, proposal.say)


def _hooks_tell(rows: Iterable[SheetRow]) -> bool:
    """Tell whether SKUs need hook sizes: all rows have one, or it alone tells two rows apart."""
    hooks: dict[tuple[str, ...], set[str]] = {}
    for row in rows:
        named = (plain(str(row.values.get(name, ""))) for name in ("pattern", "weight", "colour"))
        hooks.setdefault(tuple(named), set()).add(row.values.get("hook", ""))
    sizes = list(hooks.values())
    return all("" not in each for each in sizes) or any(len(each - {""}) > 1 for each in sizes)


def _names(rows: Iterable[SheetRow], name: str) -> list[str]:
    """Return the names of a field, each in the spelling that stands first."""
    found: dict[str, str] = {}
    for row in rows:
        if text := row.values.get(name):
            found.setdefault(plain(text), text)
    return list(found.values())


def _codes(names: list[str], recorded: Mapping[str, str]) -> dict[str, str]:
    """Return short codes for names: recorded ones, then initials, or consonants of one word.

    A name for which none is free keeps the code that is made of it alone. So does a new one beside
    recorded ones: it was read before, and lots may have its SKU.
    """
    codes, known = dict(recorded), {plain(name) for name in recorded}
    if recorded:
        new = [name for name in names if plain(name) not in known]
        return codes | {name: code_of(name, recorded, {}) for name in new}
    for name in names:
        whole, ascii_name = code_of(name, {}, {}), without_accents(name).upper()
        parts = re.findall("[A-Z0-9]+", ascii_name)
        if not plain(name).isascii() or not parts:
            continue
        short = "".join(part[0] for part in parts)[:4]
        if len(parts) == 1:
            short = parts[0][0] + re.sub("[AEIOU]", "", parts[0][1:])[:2]
        free = [code for code in (short, whole[:4], whole[:5], whole[:6])
                if len(code) > 1 and code not in codes.values()]  # fmt: skip
        if free:
            codes[name] = free[0]
    return codes


def _alike(rows: Sequence[SheetRow], name: str, names: list[str]) -> Iterator[Finding]:
    """Yield names that differ in a letter or so: one of them may be a slip."""
    for at, one in enumerate(names):
        near = get_close_matches(plain(one), [plain(other) for other in names[:at]], 1, _A_SLIP)
        if near and not re.search(r"\d", one):
            other = next(each for each in names if plain(each) == near[0])
            row = next(row for row in rows if row.values.get(name) == one)
            yield note(
                "names-alike", row.cell(name), f"two {called(name)}s are nearly called the same",
                found=f"{as_written(one)} and {as_written(other)}",
                hint=f"{as_written(one)} = {as_written(other)} under [spreadsheet.means], if they "
                "are one.",
            )  # fmt: skip


_A_SLIP = 0.88
"""How alike two names are, by `difflib`, that one may be the other mistyped."""


def _spelled(rows: Sequence[SheetRow], name: str, table: str) -> Iterator[Finding]:
    """Yield the names that are written in several ways, and which way labels have."""
    for first, *others in spellings(rows, name).values():
        at = {way: [row.cell(name) for row in rows if row.values.get(name) == way]
              for way in others}  # fmt: skip
        found = [
            f"{as_written(way)} in {listed(list(dict.fromkeys(map(spot, cells))))}"
            for way, cells in at.items()
        ]
        if found:
            key = f"[{table}.{as_written(first)}]"
            yield note(
                "names-spelled", at[others[0]][0],
                f"labels say {as_written(first)} for other ways to write this {called(name)}",
                found=listed(found),
                hint=f"name = {as_written(others[0])} under {key}, if labels are to say that.",
            )  # fmt: skip


def _hooks(proposal: Proposal) -> None:
    """Propose a pattern's one hook size for those of its rows that leave it blank."""
    names = {plain(name): name for name in reversed(_names(proposal.rows, "pattern"))}
    sizes: dict[str, set[str]] = {}
    blank: dict[str, list[SheetRow]] = {}
    for row in proposal.rows:
        name = names[plain(row.values["pattern"])]
        if "hook" in row.values:
            sizes.setdefault(name, set()).add(row.values["hook"])
        else:
            blank.setdefault(name, []).append(row)
    for name, rows in blank.items():
        if len(sizes.get(name, ())) == 1:
            (size,) = sizes[name]
            proposal.tables.setdefault("patterns", {})[name] = {"hook_sizes": [size]}
            message = f"{as_written(name)} has no hook but {size}, so rows that give none have that"
            cells = listed(list(dict.fromkeys(spot(row.place) for row in rows)))
            proposal.proposed.append(note("hook-proposed", rows[0].place, message, found=cells))


_SAMPLES = 3
_SIGNS = ("-", "–", "—", ":", "|", "/", ",")
_SEARCHED = 30
_HALF, _MOST = 0.5, 0.8
"""Shares of a column's cells. Common sense, no source."""


class _Guess:
    """What a sheet seems to hold: the row of its headings and the field of each column."""

    def __init__(self, grid: CellGrid, said: Mapping[str, str], unit: str = "") -> None:
        self.grid, self.unit = grid, unit
        self.said = {plain(text): name for text, name in said.items()}
        """What the maker says that columns are."""
        counted = [(_known(row), -at) for at, (_, row) in enumerate(grid.rows[:_SEARCHED])]
        known, at = max(counted, default=(0, 0))
        self.start = -at if known > 1 else -1
        """The place of the row of headings; -1 where there is none."""
        self.head = grid.rows[self.start][1] if self.start >= 0 else []
        self.below = [
            (number, row)
            for number, row in grid.rows[self.start + 1 :]
            if len(filled := [at for at, cell in enumerate(row) if not is_blank(cell)]) > 1
            and not is_total(row, filled)
        ] or grid.rows[self.start + 1 :]
        """The rows below them that are no titles."""
        self.score = (known if known > 1 else self._by_cells()) * min(len(self.below), 50)
        self.fields: dict[int, str] = {}
        self.keys: dict[int, str] = {}
        self.across: dict[str, Any] = {}
        self._more: dict[str, Any] = {}

    def _by_cells(self) -> int:
        """Tell how likely a sheet without headings is a list of names, perhaps with colours."""
        texts = [place for place in range(3) if self._share(place, is_name) > _MOST]
        rows = len(self.grid.rows)
        width = Counter(sum(not is_blank(cell) for cell in row) for _, row in self.grid.rows)
        wide = width.most_common(1)[0][0] > 1 if width else False
        return int(bool(texts and rows > 1 and (wide or self._titled())))

    def _titled(self) -> list[tuple[int, str]]:
        """Return the titles with a weight of a list that has one column and no headings."""
        column = {
            at for _, row in self.grid.rows for at, one in enumerate(row) if not is_blank(one)
        }
        if len(column) != 1:
            return []
        (at,) = column
        texts = [(number, str(row[at])) for number, row in self.grid.rows if not is_blank(row[at])]
        heads = [one for one in texts if (found := weight_within(one[1])[1]) and is_trade(found)]
        return heads if heads and heads[0] == texts[0] and len(heads) * 2 <= len(texts) else []

    def cells(self, place: int) -> list[Value]:
        """Return what stands in a column, less the blanks."""
        return filled_cells(self.below, place)

    def _share(self, place: int, test: Any) -> float:
        cells = self.cells(place)
        return sum(map(bool, map(test, cells))) / len(cells) if cells else 0

    def _place(self, place: int) -> Place:
        row = self.grid.rows[self.start][0] if self.start >= 0 else self.grid.rows[0][0]
        return self.grid.place(row, place)

    def _text(self, place: int) -> str:
        cell = cell_at(self.head, place)
        return "" if is_blank(cell) else folded(as_heading(cell))

    def settle(self, proposal: Proposal) -> None:
        """Find out what every column is, and say so."""
        self.proposal = proposal
        for place in range(self.grid.width):
            text = self._text(place)
            twice = plain(text) in map(plain, self.keys.values())
            self.keys[place] = self.grid.column_name(place) if twice or not text else text
            if twice and not self.cells(place):
                self.fields[place] = "ignored"
            elif name := self.said.get(plain(self.keys[place])):
                self._as_said(place, name)
        if titled := self.start < 0 and self._titled():
            place = next(at for at in self.keys if self.cells(at))
            self.fields[place], self._more["titles"] = "colour", "pattern"
            message = "rows with a weight are read as titles, and those below them as their colours"
            names = listed([display(text) for _, text in titled], 4)
            self.proposal.proposed.append(
                note("titles-read", self._place(place), message, found=names)
            )
        elif self.start < 0:
            self._bare()
        else:
            self._by_headings()
            self._titles()
        self._weights()
        self._fill_down()
        self._several()
        self._parted()

    def _as_said(self, place: int, name: str) -> None:
        self.fields[place] = name
        if name == "ignored":
            self._say("left_out", "column-left-out", place, "this column is not read, as you chose")
        else:
            message = f"this column is read as the {called(name)}, as you chose"
            self._say("taken", "column-read", place, message)

    def columns(self, how: Mapping[str, Any]) -> Iterator[ColumnReading]:
        """Yield every column that holds something, as ``how``, a ``[spreadsheet]``, reads it."""
        read = {plain(text): name for text, name in how["headings"].items()}
        kind = self.across.get("cells", "")
        for place, key in self.keys.items():
            name = read.get(plain(key), "")
            texts: dict[str, None] = {}
            for cell in self.cells(place):
                texts[self._sample(place, cell, name)] = None
                if len(texts) == _SAMPLES:
                    break
            across = kind if self.fields.get(place) == "" else ""
            stands_for = key if across else ""
            if across and self.across["field"] == "weight":
                stands_for = str(read_weight(self.head[place], None)[0])
            if texts:
                yield ColumnReading(
                    key, spot(self._place(place)), tuple(texts), name, across, stands_for
                )  # fmt: skip

    def _sample(self, place: int, cell: Value, name: str) -> str:
        """Return a cell as it stands there; a weight that became a date as what it is read as."""
        if isinstance(cell, str):
            return shown(cell)
        if isinstance(cell, dt.date):
            day = f"{cell.day} {cell:%b}"
            with suppress(CellError):
                day += f", read as {read_weight(cell, self._unit(place))[0]}" * (name == "weight")
            return day
        return display(cell)

    def _parted(self) -> None:
        """Find the sign between pattern and colour where one column holds both."""
        held = {name: place for place, name in self.fields.items()}
        if "pattern" not in held or "colour" in held or "titles" in self._more or self.across:
            return
        place = held["pattern"]
        for sign in _SIGNS:

            def two(cell: Value, sign: str = sign) -> bool:
                return isinstance(cell, str) and len(parted(weight_within(cell)[0], sign)) == 2

            if self._share(place, two) > _MOST:
                self._more["parted"] = sign
                message = f"this column holds pattern and colour, with {as_written(sign)} between"
                self._say("proposed", "parted-proposed", place, message)
                return

    def _by_headings(self) -> None:
        claims: dict[str, list[tuple[int, int]]] = {}
        unknown = []
        open_ = [place for place in self.keys if self._text(place) and place not in self.fields]
        filled = [place for place in self.keys if self.cells(place)]
        for place in filled:
            if place in self.fields:
                continue
            use, (name, rank) = other_use(self._text(place)), field_of(self._text(place))
            if use and name is None:
                self._other(place, use)
            elif name := self._by_content(place, name):
                claims.setdefault(name, []).append((rank, place))
            else:
                unknown.append(place)
        for name, of in claims.items():
            self._give(name, sorted(of))
        self._across_the_top(unknown)
        for place in unknown:
            if place not in self.fields:
                self._nearest(place)
        for place in open_:  # nothing stands there yet
            name, _ = field_of(self._text(place))
            held = (*self.fields.values(), self.across.get("field"))
            if name and place not in self.fields and place not in filled and name not in held:
                self.fields[place] = name

    def _say(self, heap: str, rule: str, place: int, message: str, hint: str = "") -> None:
        samples = listed([display(cell) for cell in self.cells(place)], 3)
        found = f"{as_written(self.keys[place])} over {samples}"
        finding = note(rule, self._place(place), message, found=found, hint=hint)
        getattr(self.proposal, heap).append(finding)

    def _by_content(self, place: int, name: str | None) -> str | None:
        """Return the field of a column, where its cells say other than its heading."""
        if name in (None, "weight", "hook") and self._share(place, weight_and_hook) > _HALF:
            return "weight"
        if name == "weight" and self._share(place, is_hook) > self._share(
            place, self._is_weight(place)
        ):
            return "hook"
        if name in (None, "head") and self._share(place, names_metal) > _HALF:
            return "head"
        if name in ("head", "bag", "hook_name", "hook"):
            return self._of_parts(place, name)
        if (
            name == "pattern"
            and len(set(map(str, self.cells(place)))) == len(self.cells(place)) > 1
        ):
            return "sku" if self._share(place, _is_code) > _MOST else name
        if (
            name == "retired"
            and self._share(place, lambda cell: isinstance(cell, str) and len(cell) > 3) > _HALF
        ):
            return "status"
        return name

    def _of_parts(self, place: int, name: str) -> str | None:
        """Return the field of a column headed as a head, hook or bag, which may say its size."""
        if self._share(place, is_hook if name.startswith("hook") else is_name) > _HALF:
            return "hook" if name.startswith("hook") else name if name == "bag" else None
        if name.startswith("hook"):
            return "hook_name" if self._share(place, is_name) > _HALF else "hook"
        if name == "head" and self._share(place, self._trade(place)) > _HALF:
            return "weight"
        said = {metal_said("", cell) for cell in self.cells(place)}
        return "head" if name == "head" and said <= {"lead", "lead-free"} else (
            "pack" if name == "bag" else None)  # fmt: skip

    def _is_weight(self, place: int) -> Any:
        unit = unit_of(self._text(place))

        def test(cell: Value) -> bool:
            try:
                read_weight(cell, unit)
            except CellError:
                return False
            return True

        return test

    def _other(self, place: int, use: str) -> None:
        self.fields[place] = "ignored"
        if "parcel" in use:
            message = f"this looks like {use}, not the jig, and is not read"
            self._say("asked", "column-asked", place, message, self._line(place, "weight"))
        else:
            message = f"this looks like {use}, which no label says"
            self._say("left_out", "column-left-out", place, message)

    def _line(self, place: int, name: str) -> str:
        """Return the line that would settle what a column is."""
        line = f"{as_written(self.keys[place])} = {as_written(name)}"
        return f"{line} under [spreadsheet.headings] says that it is the {called(name)}."

    def _give(self, name: str, of: list[tuple[int, int]]) -> None:
        """Give a field to the column that is most surely headed so; ask about the others."""
        places = [place for _, place in of]
        if name in self.fields.values():  # as the maker says
            self._ask(name, places)
            return
        if name == "weight":
            fit = {place: self._share(place, self._trade(place)) for place in places}
            places.sort(key=lambda place: -round(fit[place], 1))
            if fit[places[0]] < _HALF:
                self._ask(name, places)
                return
        self.fields[places[0]] = name
        self._say("taken", "column-read", places[0], f"this column is read as the {called(name)}")
        self._ask(name, places[1:])

    def _ask(self, name: str, places: list[int]) -> None:
        """Leave columns unread that are headed as a field, and ask about them."""
        message = f"another column is the {called(name)} already, and this one is not read"
        if name == "weight":
            message = "this may be what something else weighs, and is not read"
        for place in places:
            self.fields[place] = "ignored"
            self._say("asked", "column-asked", place, message, self._line(place, name))

    def _trade(self, place: int) -> Any:
        """Return a test of whether a cell is a weight that jigs are made in."""
        unit = self._unit(place)

        def test(cell: Value) -> bool:
            try:
                return all(map(is_trade, weights_in(cell, unit)))
            except CellError:
                return False

        return test

    def _unit(self, place: int) -> str | None:
        """Return the unit of a column's bare numbers: its heading's, or grams if they are many.

        Fractions are ounces (common practice, no published source): one whole number among them is
        a slip and no sign of grams.
        """
        if unit := unit_of(self._text(place)):
            return unit
        if self.unit:
            return None if self.unit == "none" else self.unit
        grams = others = 0
        for cell in self.cells(place):
            number = plain_number(cell)
            if number is not None and not serial_date(number):
                grams, others = grams + (number > 2), others + (number <= 2)
                continue
            with suppress(CellError):
                others += all(weight.unit == "oz" for weight in weights_in(cell, None))
        return "g" if grams > others else None

    def _across_the_top(self, unknown: list[int]) -> None:
        """Find weights or colours that stand across the top."""
        weights = [place for place in unknown if _heads(cell_at(self.head, place))]
        held = set(self.fields.values())
        name, places = "weight", weights
        if len(weights) < 2 or "weight" in held:
            name, places = "colour", [
                place for place in unknown
                if self._share(place, lambda cell: is_mark(cell) or is_money(cell)) > _MOST
            ]  # fmt: skip
            if len(places) < 2 or "colour" in held or "pattern" not in held:
                return
        cells = [cell for place in places for cell in self.cells(place)]
        money = sum(
            is_money(cell) and not isinstance(cell, int) and not str(cell).isdigit()
            for cell in cells
        )
        marks = sum(is_mark(cell) for cell in cells)
        kind = "price" if money > 0 else "mark" if marks * 2 > len(cells) else "on_hand"
        meant = [self.keys[place] for place in places]
        self.across = {"field": name, "cells": kind}
        if name == "colour":
            self.across["headings"] = {text: text for text in meant}
        else:  # every run finds them, new ones too
            meant = [str(read_weight(self.head[place], None)[0]) for place in places]
        self.fields |= dict.fromkeys(places, "")
        heap = "taken" if name == "weight" and kind == "price" else "proposed"
        message = f"these columns are read as a {name} each, with the {called(kind)} below"
        finding = note("across-read", self._place(places[0]), message, found=", ".join(meant))
        getattr(self.proposal, heap).append(finding)

    def _nearest(self, place: int) -> None:
        """Propose the field of a misspelt heading; any other column the reading asks about."""
        name, _ = field_of(self._text(place), near=True)
        if name and name not in self.fields.values() and self._text(place):
            self.fields[place] = name
            self._say(
                "proposed", "column-proposed", place, f"this column is read as the {called(name)}"
            )

    def _titles(self) -> None:
        """Find rows of one text that name the pattern of those below them."""
        held = {name: place for place, name in self.fields.items()}
        alone = [
            (number, row)
            for number, row in self.grid.rows[self.start + 1 :]
            if [isinstance(cell, str) for cell in row if not is_blank(cell)] == [True]
        ]
        inside = [one for one in alone if self.below and one[0] < self.below[-1][0]]
        if not inside:
            return
        heap = "taken"
        if "pattern" in held:
            if "colour" in held or self.across.get("field") == "colour" or len(inside) < 2:
                return
            self.fields[held["pattern"]] = "colour"
            heap = "proposed"
            self._say(
                heap,
                "column-proposed",
                held["pattern"],
                "under rows that name a pattern, this column is read as the colour",
            )
        self._more["titles"] = "pattern"
        number, row = inside[0]
        place = self.grid.place(
            number, next(at for at, cell in enumerate(row) if not is_blank(cell))
        )
        names = listed(
            [display(next(cell for cell in one if not is_blank(cell))) for _, one in inside], 4
        )
        finding = note(
            "titles-read", place, "rows of one text name the pattern of the rows below", found=names
        )
        getattr(self.proposal, heap).append(finding)

    def _weights(self) -> None:
        held = {name: place for place, name in self.fields.items()}
        place = held.get("weight")
        if place is None:
            return
        unit = self._unit(place)
        if unit and not unit_of(self._text(place)):
            self._more["unit"] = unit
            message = f"numbers without a unit are read as {'grams' if unit == 'g' else 'ounces'}"
            if self.unit:
                self._say("taken", "unit-read", place, f"{message}, as you chose")
            else:
                self._say("proposed", "unit-proposed", place, message)

    def _fill_down(self) -> None:
        """Find the columns where a blank means the same as above."""
        held = {name: place for place, name in self.fields.items()}
        own = [held[name] for name in ("pattern", "colour", "weight") if name in held]
        group, titled = held.get("pattern"), "titles" in self._more

        def blank(row: list[Value], place: int | None) -> bool:
            return place is not None and is_blank(cell_at(row, place))

        rows = [row for _, row in self.below if any(not blank(row, place) for place in own)]
        begin = [not (titled or blank(row, group)) for row in rows]
        inherit: list[tuple[int, str]] = []
        for name in ("pattern", "colour", "weight", "hook", "price", "wholesale", "pack"):
            place = held.get(name)
            if place is None or not rows or blank(rows[0], place):
                continue
            blanks = [blank(row, place) for row in rows]
            once = all(gap or first for gap, first in zip(blanks, begin, strict=True))
            goes_on = not any(gap and first for gap, first in zip(blanks, begin, strict=True))
            if any(blanks) and goes_on and (once or place in own):
                inherit.append((-sum(blanks), name))
        fields = [
            name for _, name in sorted(inherit, key=lambda one: (one[1] != "pattern", one[0]))
        ]
        if fields:
            self._more["fill_down"] = fields
            place = held[fields[0]]
            names = listed([called(name) for name in fields])
            self._say(
                "taken",
                "fill-down",
                place,
                f"where it is blank, the {names} is that of the row above",
            )

    def _several(self) -> None:
        """Find columns that list several colours or weights in a cell."""
        several = []
        for place, name in self.fields.items():
            if name not in ("colour", "weight"):
                continue
            many = [
                cell
                for cell in self.cells(place)
                if isinstance(cell, str) and len(parts_of(name, cell)) > 1
            ]
            if name == "weight":
                many = [
                    cell
                    for cell in many
                    if all(self._is_weight(place)(part) for part in parts_of(name, cell))
                ]
                many = [cell for cell in many if not self._is_weight(place)(cell)]
            plural = plain(self._text(place)).endswith(("s", "farben"))
            if many and (name == "weight" or plural or len(many) * 2 > len(self.cells(place))):
                several.append(name)
                heap = "taken" if plural or name == "weight" else "proposed"
                message = f"cells with commas are read as several {called(name)}s"
                self._say(heap, "several-read", place, message)
        if several:
            self._more["several"] = several

    def _bare(self) -> None:
        """Give fields to the columns of a list without headings, by what is in them."""
        names = iter(("pattern", "colour"))
        for place in range(self.grid.width):
            if place in self.fields:
                continue
            name = None
            if self._share(place, is_hook) > _MOST and any(
                "/0" in str(cell) for cell in self.cells(place)
            ):
                name = "hook"
            elif self._share(place, self._trade(place)) > _MOST:
                name = "weight"
            elif self._share(place, is_money) > _MOST:
                name = "price"
            elif self._share(place, is_name) > _MOST:
                name = next(names, None)
            if name and name not in self.fields.values():
                self.fields[place] = name
                self._say(
                    "proposed",
                    "column-proposed",
                    place,
                    f"this column without a heading is read as the {called(name)}",
                )

    def table(self, several: bool) -> dict[str, Any]:
        """Return the ``[spreadsheet]`` table."""
        table: dict[str, Any] = {}
        if several:
            table["sheet"] = self.grid.sheet
        table["headings_row"] = self.grid.rows[self.start][0] if self.start >= 0 else 0
        table |= self._more
        fields = sorted((place, name) for place, name in self.fields.items() if name)
        table["headings"] = {self.keys[place]: name for place, name in fields}
        if self.across:
            table["across"] = self.across
        return table | {"pattern": {"kind": "jig"}}


def _known(row: Sequence[Value]) -> int:
    """Tell how many columns of the catalog, or weights across, a row would head."""
    texts = [folded(as_heading(cell)) for cell in row if not is_blank(cell)]
    fields = {name for text in texts if (name := field_of(text)[0])}
    weights = [cell for cell in row if not is_blank(cell) and _heads(cell)]
    wide = len(weights) if len(weights) > 1 and fields and "weight" not in fields else 0
    return len(fields) + wide if len(texts) > 1 else 0


def _heads(cell: Value) -> bool:
    """Tell whether a heading is a weight that jigs are made in."""
    try:
        return is_trade(read_weight(cell, None)[0])
    except CellError:
        return False


def _is_code(cell: Value) -> bool:
    text = as_heading(cell)
    return bool(re.fullmatch(r"[\w./#-]{2,40}", text) and re.search(r"\d", text))
