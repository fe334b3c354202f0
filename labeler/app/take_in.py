"""Takes a maker's own line in: her spreadsheet, photos and answers become a folder that prints.

The spreadsheet stays where it lies and is never written; `catalog.toml` says how it is read. What
only the maker knows is asked for and never filled in. A report of it all, cell by cell, stands in
the folder as a page. Taking it in again adds what is new and changes nothing that stands there.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from labeler import files
from labeler.app.answers import NOT_KNOWN, Answers, percent
from labeler.app.photos import photos_to_copy, pictures_in
from labeler.catalog import edit
from labeler.catalog.edit import toml_key, toml_text
from labeler.catalog.model import Catalog, Spreadsheet
from labeler.catalog.photo_names import words_of_photo
from labeler.catalog.read import examine, in_words, readable
from labeler.catalog.spreadsheet.grid import LARGEST_BYTES
from labeler.catalog.spreadsheet.own_cells import plain, without_accents
from labeler.catalog.spreadsheet.parts import PARTS, is_called, names_metal, parts_named
from labeler.catalog.structure import (
    CATALOG_NAME,
    OPEN,
    PHOTOS,
    open_paths,
    open_questions,
    question_of,
    questions,
    read_source,
    source_of,
)
from labeler.disclosures.rules import part_name
from labeler.files import looked_at, read_file
from labeler.findings import (
    Finding,
    Grade,
    LabelerError,
    Place,
    as_written,
    fix,
    listed,
    note,
    refusal,
    shown,
)
from labeler.tomlfile import TomlFile, key_text, validate

if TYPE_CHECKING:
    from labeler.app.open_lots import Assigned
    from labeler.catalog.spreadsheet.propose import Proposal
    from labeler.checker.subject import Progress

PAGE_NAME = "take-in.html"
"""The report, in the folder."""


@dataclass(frozen=True, slots=True)
class Own:
    """What of a maker's own is taken in; it is only read."""

    sheet: Path
    """Her spreadsheet: xlsx, xls, ods or csv."""
    photos: Path | None = None
    """A folder of photographs, searched with the folders in it."""
    batches: Path | None = None
    """A log of old batches; see `open_old`."""
    columns: Mapping[str, str] = field(default_factory=dict)
    """What she says that columns are, by their headings, of a line that is new."""
    sheet_name: str = ""
    """The sheet that she says has the products, of a line that is new."""
    unit: str = ""
    """What she says that weights without a unit are in, of a line that is new; see `propose`."""
    at_home: bool = False
    """Whether she chose the folder for her line, so that other things may lie in it."""
    instead: bool = False
    """Whether the spreadsheet is to be read from now on instead of the one before."""


@dataclass(frozen=True, slots=True)
class TakenProduct:
    """A product that was taken in."""

    sku: str
    words: str
    price: str
    photo: str
    new: bool
    """Whether it was not there when the line was last taken in."""


@dataclass(slots=True)
class TakenIn:
    """What came of taking a line in."""

    folder: Path
    first: bool
    """Whether the folder is new."""
    products: list[TakenProduct] = field(default_factory=list)
    rows: int = 0
    """Rows of the spreadsheet that came to products."""
    photos: int = 0
    """Photos copied into the folder."""
    changed: list[str] = field(default_factory=list)
    """Keys that were added to a catalog that was there."""
    gone: list[str] = field(default_factory=list)
    """SKUs that were there when the line was last taken in and are no more."""
    taken: list[Finding] = field(default_factory=list)
    proposed: list[Finding] = field(default_factory=list)
    asked: list[Finding] = field(default_factory=list)
    left_out: list[Finding] = field(default_factory=list)

    @property
    def page(self) -> Path:
        """Where the report stands."""
        return self.folder / PAGE_NAME

    @property
    def prints(self) -> bool:
        """Whether nothing that was asked stops a print."""
        return not any(finding.grade is Grade.STOP for finding in self.asked)

    def lists(self) -> dict[str, list[Finding]]:
        """Return the remarks by what became of what they are about."""
        return {
            "taken": self.taken, "proposed": self.proposed, "asked": self.asked,
            "left out": self.left_out,
        }  # fmt: skip


def unanswered(folder: Path, own: Own) -> tuple[str, ...]:
    """Return the questions that taking a line into ``folder`` has to ask: all, if it is new.

    Nobody is asked in vain: the maker's own is read first.

    Raises:
        LabelerError: as `take_in` does.
    """
    source, _ = _understood(folder, own)
    if source is None:
        return tuple(questions())
    still = {question_of(path) for path in open_paths(source.data)}
    return tuple(name for name in questions() if name in still)


def _understood(
    folder: Path, own: Own, weights: Sequence[str] = ()
) -> tuple[TomlFile | None, Proposal]:
    """Return the catalog that stands in ``folder``, if there is one, and how the sheet is read."""
    from labeler.catalog.spreadsheet.propose import propose

    before = _standing(folder, (own.sheet, own.photos, own.batches), own.at_home)
    how: dict[str, Any] = {}
    if before is not None:
        if not own.instead:
            _same_sheet(before, folder, own.sheet)
        how = _how_read(before)
    if own.photos is not None:
        pictures_in(own.photos)
    if own.batches is not None:
        read_file(own.batches, LARGEST_BYTES)
    said = ({}, "", "") if before else (own.columns, own.sheet_name, own.unit)
    proposal = propose(own.sheet, how, *said)
    if weights and not any("weight" in row.values for row in proposal.rows):
        proposal = propose(own.sheet, {"weights": list(weights)} | how, *said)
    return before, proposal


def take_in(folder: Path, own: Own, answers: Answers, progress: Progress | None = None) -> TakenIn:
    """Make ``folder`` from a maker's own spreadsheet, or add to it what is new.

    Args:
        folder: new, empty, or made by this before.
        own: what is taken in.
        answers: to the five questions; what is not answered is asked for before anything prints.
        progress: is told how many of the photos are done.

    Raises:
        LabelerError: if something of the maker's own can't be read or holds no products, or the
            folder is another's. Nothing is made or changed then.
    """
    taken, before, text, _ = _drafted(folder, own, answers)
    known = _known_skus(taken.page)
    made = list(photos_to_copy(own.photos, folder, taken.left_out, progress))
    there = folder.exists()  # with the spreadsheet in it, perhaps
    folder.absolute().parent.mkdir(parents=True, exist_ok=True)
    with files.new_folder(folder) as draft:
        if before is None:
            (draft / CATALOG_NAME).write_text(text, encoding="utf-8", newline="\n")
        for name, data in made:
            (draft / PHOTOS).mkdir(exist_ok=True)
            (draft / PHOTOS / name).write_bytes(data)
        if not there:
            _propose_recipes(taken, draft, known, draft)
            _report(taken, draft, known, draft)
    if before is not None and taken.changed:
        with files.locked(folder):
            edit.write_together(folder, {CATALOG_NAME: text.encode()}, {CATALOG_NAME: before.raw})
    for step in (_propose_recipes, _report) if there else ():
        with files.new_folder(folder) as draft:
            step(taken, folder, known, draft)
    taken.photos = len(made)
    return taken


def _drafted(
    folder: Path, own: Own, answers: Answers
) -> tuple[TakenIn, TomlFile | None, str, Proposal]:
    """Return what comes of a spreadsheet, the catalog that stands, the one to be, and the reading.

    Nothing is written.
    """
    weights = [str(one) for one in answers.heads.weights] if answers.heads else []
    before, proposal = _understood(folder, own, weights)
    taken = TakenIn(
        folder, before is None, rows=len(proposal.rows),
        taken=[*answers.said_back(), *proposal.taken], proposed=proposal.proposed,
        asked=proposal.asked, left_out=proposal.left_out,
    )  # fmt: skip
    lines = _fresh_lines(answers, proposal, _way(folder, own.sheet))
    fresh = "\n".join(lines).replace("\n\n\n", "\n\n")
    text = fresh if before is None else _added(before, fresh, answers, taken)
    if before is None:
        taken.proposed += _assumed(proposal, fresh)
        taken.proposed += _own_parts(answers, proposal).said
    if before is None or {"sale.markets", "maker.state"} & set(taken.changed):
        taken.asked += _own_state_left_out(tomllib.loads(text))
    return taken, before, text, proposal


def foretell(folder: Path, own: Own, answers: Answers) -> tuple[TakenIn, Proposal]:
    """Return what `take_in` would come to but for photos and recipes, and how the sheet is read.

    Nothing is written.

    Raises:
        LabelerError: as `take_in` does.
    """
    taken, _, text, proposal = _drafted(folder, own, answers)
    known = _known_skus(taken.page)
    _note_examined(taken, folder, *examine(folder, source=source_of(text.encode())), known)
    return taken, proposal


def open_old(folder: Path, batches: Path | None) -> Assigned:
    """Open lots of a log of old batches, and at first of what the spreadsheet counts on hand.

    Without a log, of what it counts alone. What of the log can't be read is left out, and said.

    Raises:
        LabelerError: if nothing of it can be opened; see `labeler.app.opening.open_before`.
    """
    from labeler.app.opening import Before, open_before
    from labeler.app.workstation import ledger_location

    first = not ledger_location(folder).begun
    opened = open_before(Before(folder, batches, on_hand=first, leave_out=True, ask_columns=True))
    told = set(readable(folder)[1])
    return replace(opened, findings=tuple(one for one in opened.findings if one not in told))


def _standing(
    folder: Path, own: Iterable[Path | None], at_home: bool = False
) -> TomlFile | None:  # fmt: skip
    """Return the catalog that an earlier take-in made in ``folder``; None where it is free.

    What is the maker's ``own`` of this line may lie there: her spreadsheet, her photos; and what
    a computer or the desk keeps there, hidden. Where she is ``at_home``, anything but a catalog.
    """
    mine = {path.resolve() for path in own if path}
    if not folder.exists():
        return None
    if folder.is_dir() and not os.path.lexists(folder / CATALOG_NAME):
        here = {path.resolve() for path in folder.iterdir() if not path.name.startswith(".")}
        if at_home or here <= mine:
            return None
    if folder.is_dir() and (folder / CATALOG_NAME).is_file():
        source = read_source(folder)
        if isinstance(source.data.get("spreadsheet"), dict):
            return source
    raise refusal(
        "folder-taken",
        Place(file=str(folder)),
        "there is something here already, and nothing of it will be touched",
        hint="Name a folder that does not exist yet, or one that was made from a spreadsheet.",
    )


def _how_read(before: TomlFile) -> dict[str, Any]:
    """Return what a catalog says of how its spreadsheet is read, less what is not answered.

    Raises:
        LabelerError: with every fault in it.
    """
    source, _, _ = open_questions(before)
    _, faults = validate(Spreadsheet, source, ("spreadsheet",))
    if faults:
        raise LabelerError(faults)
    return dict(source.data["spreadsheet"])


def _same_sheet(before: TomlFile, folder: Path, sheet: Path) -> None:
    """Refuse another spreadsheet than the one that the folder was made from."""
    stated = stated_file(before)
    if stated and (folder / stated).resolve() != sheet.resolve():
        raise refusal(
            "sheet-other",
            before.place(("spreadsheet", "file")),
            "this folder was made from another spreadsheet",
            found=as_written(str(sheet)),
            expected=as_written(stated),
            hint="Has it moved? Put its new place there. Another line has a folder of its own.",
        )


def stated_file(before: TomlFile) -> str:
    """Return the way to the spreadsheet as a catalog says it."""
    stated = before.data["spreadsheet"].get("file", "")
    return stated if isinstance(stated, str) else ""


_MOST_UP = 3


def _way(folder: Path, sheet: Path) -> str:
    """Return the way to the spreadsheet from the folder, where it is short; else its full path."""
    whole = sheet.resolve()
    try:
        way = Path(os.path.relpath(whole, folder.resolve()))
    except ValueError:  # another drive
        return whole.as_posix()
    ups = len(list(takewhile(lambda part: part == "..", way.parts)))
    return way.as_posix() if ups <= _MOST_UP else whole.as_posix()


_CURRENCIES = {"US": "USD", "CA": "CAD", "GB": "GBP", "AU": "AUD", "NZ": "NZD", "JP": "JPY",
               "CH": "CHF", "SE": "SEK", "NO": "NOK", "DK": "DKK"}  # fmt: skip
_EURO = re.compile("AT|BE|CY|DE|EE|ES|FI|FR|GR|HR|IE|IT|LT|LU|LV|MT|NL|PT|SI|SK")
"""ISO 4217 codes of the countries that makers are likely to be in."""


def _fresh_lines(answers: Answers, proposal: Proposal, way: str) -> Iterator[str]:
    """Yield a catalog that refers to the spreadsheet; ``way`` leads to it from the folder."""
    yield from (
        "# Your line. What you make stands in your own spreadsheet, where you go on.",
        "# Here stands who you are, what you buy, and how the spreadsheet is read.",
        f'# "{OPEN}" is a question that only you can answer; nothing is printed until you have.',
        "# `labeler help catalog` tells every key. `labeler check` says what is amiss.",
    )
    maker = answers.maker
    keys = ("name", "street", "city", "state", "postcode", "country")
    yield from _table(
        "maker", {key: (getattr(maker, key) or None) if maker else OPEN for key in keys}
    )
    home = maker.country if maker else ""
    currency = "EUR" if _EURO.fullmatch(home) else _CURRENCIES.get(home, "USD")
    yield from _table("sale", {"markets": answers.sold or OPEN, "currency": currency})
    own = _own_parts(answers, proposal)
    yield from _stuff(answers, own.names)
    bag = answers.bags
    width, height = map(str, bag.size) if bag and bag.size else (None, None)
    yield from _table(
        "bags.bag",
        {"name": own.names.get("bag", "Bag"),
         "clear": OPEN if bag is None or bag.clear is None else bag.clear,
         "width": width, "height": height},
        "" if bag and bag.size else '# width = "3 in"  # and height: measure one flat, and letters '
        "and cards fit it",
    )  # fmt: skip
    how = dict(proposal.spreadsheet) | {"file": way}
    packed = bool(proposal.rows) and all("pack" in row.values for row in proposal.rows)
    pattern = {
        "kind": "fishing jig", "head": "head", "hook": "hook", "bag": "bag",
        "pack": None if packed else (bag and bag.pack) or OPEN,
        "made_in": maker.country if maker else OPEN,
    }  # fmt: skip
    stated = how.pop("pattern", {})
    yield from (
        "",
        "# Your spreadsheet, and what its headings mean. A column that is none of these may be",
        '# "ignored": sku, pattern, weight, hook, colour, price, wholesale, gtin, on_hand, photo,',
        "# note, status, retired, pack, markets, head (its metal), hook_name, bag.",
    )
    yield from _table("spreadsheet", {"file": how.pop("file"), **how})
    yield from (
        "",
        "# What is so of every pattern in it. One that differs has a table of its own, such as",
        '# [patterns."Slough Hopper"] with the keys that differ.',
    )
    yield from _table("spreadsheet.pattern", pattern | stated)
    for table, entries in proposal.tables.items():
        for name, entry in entries.items():
            entry = entry | own.tables.get(table, {}).pop(name, {})
            yield from _table(f"{table}.{toml_key(name)}", entry)
    for table, entries in own.tables.items():
        for name, entry in entries.items():
            yield from _table(f"{table}.{toml_key(name)}", entry)
    yield ""


@dataclass(slots=True)
class _OwnParts:
    """Heads, hooks and bags that the spreadsheet names."""

    names: dict[str, str] = field(default_factory=dict)
    """What the usual hook or bag is called, where all rows say so."""
    tables: dict[str, dict[str, Any]] = field(default_factory=dict)
    """Tables of those that are not the usual one, and the patterns that have them."""
    said: list[Finding] = field(default_factory=list)


def _own_parts(answers: Answers, proposal: Proposal) -> _OwnParts:
    """Return the heads, hooks and bags that patterns have by the spreadsheet.

    A pattern whose rows name several is left alone: reading asks about it.
    """
    own = _OwnParts()
    spelled = {plain(row.values["pattern"]): row.values["pattern"]
               for row in reversed(proposal.rows)}  # fmt: skip
    usual_metal: dict[str, Any] = {}
    if alloy := answers.heads:
        usual_metal = {"name": alloy.name, "composition": dict(alloy.composition)}
    for name, table in PARTS.items():
        named = parts_named(proposal.rows, name)
        texts = {plain(text): text for each in reversed(named.values()) for text in each}
        if name != "head" and len(texts) == 1 and len(named) == len(spelled):
            own.names[name] = next(iter(texts.values()))
            continue
        usual = {"clear": answers.bags.clear if answers.bags else None}
        for pattern, (text, *others) in named.items():
            known = is_called(name, text, "", usual if name == "bag" else {}, usual_metal)
            if others or known or (name == "head" and not alloy and len(texts) == 1):
                continue
            key = re.sub(r"[\W_]+", "-", without_accents(text).casefold()).strip("-")[:40]
            tables = own.tables
            tables.setdefault(table, {})[key] = _own_part(name, key, text, answers)
            if name == "head":
                metal = text if names_metal(text) and "free" not in text.casefold() else OPEN
                mix, origin = OPEN if metal == OPEN else None, answers.origin
                stuff = {"name": metal, "kind": "alloy", "composition": mix}
                stuff |= _origin(origin.metal if origin else None, origin is None)
                tables.setdefault("materials", {})[key] = stuff
            entries = tables.setdefault("patterns", {})
            entries.setdefault(spelled[pattern], {})["hook" if name == "hook_name" else name] = key
        if table in own.tables:
            said = "your spreadsheet names these, and their patterns have them"
            if answers.origin and name != "bag":
                said += "; the country that you answered stands for each"
            place = Place(file=CATALOG_NAME, key=table)
            own.said.append(note("parts-named", place, said, found=listed([*texts.values()])))
    return own


def _own_part(name: str, key: str, text: str, answers: Answers) -> dict[str, Any]:
    """Return the table of a head, hook or bag that the spreadsheet names."""
    if name == "head":
        return {"name": f"Jig head, {text}", "style": "round", "alloy": key}
    if name == "bag":
        clear = True if plain(text) == "clear" else False if plain(text) == "opaque" else OPEN
        return {"name": text, "clear": clear}
    hooks = answers.origin.hooks if answers.origin else None
    return {"name": text} | _origin(hooks, hooks is None)


def _stuff(answers: Answers, names: Mapping[str, str]) -> Iterator[str]:
    """Yield the tables of what is bought; ``names`` are those that the spreadsheet has."""
    alloy, origin = answers.heads, answers.origin
    yield from (
        "",
        "# What goes in. Copy compositions from the supplier's sheet, don't guess: warnings and",
        "# what labels say are worked out from them.",
    )
    mix = {name: percent(part) for name, part in alloy.composition.items()} if alloy else {}
    hint = "" if mix or not alloy else '# composition = { ... = "97 %" }  # as your supplier has it'
    metal = {
        "name": alloy.name if alloy else OPEN, "kind": "alloy",
        "composition": (mix or None) if alloy else OPEN,
    } | _origin(origin.metal if origin else None, origin is None)  # fmt: skip
    yield from _table("materials.metal", metal, hint)
    skirt = {"name": "Skirt material", "kind": "silicone"}
    yield from _table(
        "materials.skirt", skirt | _origin(origin.skirts if origin else None, origin is None)
    )
    head = {"name": "Jig head", "style": "round", "alloy": "metal" if alloy else OPEN}
    yield from _table("heads.head", head)
    hooks = origin.hooks if origin else None
    hook = {"name": names.get("hook_name")} | _origin(hooks, hooks is None)
    told = "" if hook["name"] else '# name = "..."  # as on the box; labels give its size without'
    yield from _table("hooks.hook", hook, told)


def _origin(code: str | None, ask: bool) -> dict[str, Any]:
    """Return the key of an origin; one that is not known is left out."""
    if code is None:
        return {"origin": OPEN} if ask else {}
    return {} if code == NOT_KNOWN else {"origin": code}


def _table(name: str, values: Mapping[str, Any], remark: str = "") -> Iterator[str]:
    """Yield the lines of a table, without what is None, tables in it after it; then a remark."""
    inner = {key: value for key, value in values.items() if isinstance(value, Mapping)}
    if len(inner) < len(values):
        yield from ("", f"[{name}]")
    for key, value in values.items():
        if value is not None and key not in inner:
            yield f"{toml_key(key)} = {toml_text(value)}"
    for key, value in inner.items():
        if name.startswith("materials."):
            yield f"{key} = {toml_text(value)}"
    if remark:
        yield remark
    if not name.startswith("materials."):
        for key, value in inner.items():
            if value:
                yield from _table(f"{name}.{toml_key(key)}", value)


def _added(before: TomlFile, fresh: str, answers: Answers, taken: TakenIn) -> str:
    """Return the catalog that stands with what it lacks: answers, and codes of what is new.

    No key that says something is changed, and none that the maker took out is put back.
    """
    import tomlkit  # only where a catalog is written

    document, new = tomlkit.parse(before.text), tomlkit.parse(fresh).unwrap()
    still = open_paths(before.data)
    waiting = {question_of(path) for path in still}
    answered = {name for name in questions() if getattr(answers, name) is not None}
    wanted = [path for path in still if question_of(path) in answered]
    wanted += [path for name, path in _WITH_AN_ANSWER if name in waiting & answered]
    for kind in ("patterns", "colours"):
        codes = new["spreadsheet"].get("codes", {}).get(kind, {})
        wanted += [("spreadsheet", "codes", kind, name) for name in codes]
    for path in wanted:
        stands: Any = document
        value = _at(new, path)
        for key in path[:-1]:
            stands = stands.setdefault(key, tomlkit.table())
        if value is None and path in still:
            del stands[path[-1]]
        elif value is None or value == OPEN or (path not in still and path[-1] in stands):
            continue
        else:
            stands[path[-1]] = _inline(value)
        taken.changed.append(key_text(path))
    taken.left_out += _kept(before, new, answered - waiting)
    file = new["spreadsheet"]["file"]
    if (taken.folder / file).resolve() != (taken.folder / stated_file(before)).resolve():
        document["spreadsheet"]["file"] = file
        taken.changed.append("spreadsheet.file")
    return document.as_string()


def _inline(value: Any) -> Any:
    """Return a value as it is written in one line."""
    import tomlkit

    if not isinstance(value, dict):
        return value
    table = tomlkit.inline_table()
    table.update(value)
    return table


_WITH_AN_ANSWER = (
    ("heads", ("spreadsheet", "weights")),
    ("bags", ("bags", "bag", "width")), ("bags", ("bags", "bag", "height")),
)  # fmt: skip
"""What an answer may say beyond the keys that wait for it."""


def _kept(before: TomlFile, new: Any, answered: Iterable[str]) -> Iterator[Finding]:
    """Yield the answers that say other than what stands there already, and are not put there."""
    for name in answered:
        for keys in questions()[name].keys:
            for path in _paths(new, keys.split(".")):
                stands, said = _at(before.data, path), _at(new, path)
                if stands is not None and said not in (stands, OPEN):
                    yield note(
                        "answer-kept", before.place(path), "this stands already, and is kept",
                        found=as_written(stands), expected=f"{as_written(said)}, as answered now",
                        hint="Change it in catalog.toml if the new answer is right.",
                    )  # fmt: skip


def _paths(table: Any, keys: Sequence[str]) -> Iterator[tuple[str, ...]]:
    """Yield the keys of a table that ``keys`` stand for, * for any."""
    for key in table if keys[0] == "*" else keys[:1]:
        if isinstance(table, Mapping) and key in table:
            inner = table[key]
            if not keys[1:]:
                yield from () if isinstance(inner, Mapping) else ((key,),)
            elif isinstance(inner, Mapping):
                yield from ((key, *rest) for rest in _paths(inner, keys[1:]))


def _at(table: Any, path: Iterable[str | int]) -> Any:
    for key in path:
        table = table.get(key) if hasattr(table, "get") else None
    return table


def _assumed(proposal: Proposal, fresh: str) -> list[Finding]:
    """Return what a new catalog says that nobody said, each with its key."""
    said = tomllib.loads(fresh)
    assumed: list[tuple[str, ...]] = [
        ("spreadsheet", "pattern", "kind"),
        ("heads", "head", "style"),
        ("materials", "skirt", "kind"),
    ]
    if any("price" in row.values for row in proposal.rows):
        assumed.append(("sale", "currency"))
    return [
        note(
            "assumed", Place(file=CATALOG_NAME, key=key_text(path)), _ASSUMED[path[0]],
            found=as_written(_at(said, path)),
        )
        for path in assumed
    ]  # fmt: skip


_ASSUMED = {
    "spreadsheet": "what labels call every pattern; say it closer, such as swim jig or hair jig",
    "heads": "the shape by which heads are drawn; other shapes are heads of their own",
    "materials": "what proposed recipes are tied from; put the right one there before you take any",
    "sale": "what prices are taken to be in, by the maker's country",
}


def _propose_recipes(taken: TakenIn, folder: Path, known: set[str], into: Path) -> None:
    """Add to the catalog what recipe a new colour may have, by its name and photo.

    Args:
        taken: gets what is proposed.
        folder: the folder as it is now.
        known: SKUs that were there before; their colours are the maker's, also without a recipe.
        into: where the catalog is written that has the proposals.
    """
    from labeler.drawing.recipes import propose_recipe  # only where a line is taken in

    catalog, _ = examine(folder)
    if catalog is None:
        return
    bought = catalog.file.materials
    material = next((key for key, each in bought.items() if each.kind != "alloy"), None)
    source = read_source(folder)
    of_old = {product.colour.name for product in catalog.products if product.sku in known}
    in_question = {each.found for each in taken.asked if each.rule == "perhaps-renamed"}
    lines: list[str] = []
    for key, colour in catalog.file.colours.items():
        sold = [each for each in catalog.products if each.colour.name == colour.name]
        if (
            material is None
            or colour.layers
            or not sold
            or colour.name in of_old
            or key in source.data.get("colours", {})
            or as_written(colour.name) in in_question
        ):
            continue
        photo = next((folder / PHOTOS / each.photo for each in sold if each.photo), None)
        try:
            layers = propose_recipe(colour.name, photo, material=material)
        except LabelerError:  # the photo, of which the catalog's own check tells
            layers = propose_recipe(colour.name, material=material)
        if not layers:
            continue
        rows = [toml_text(layer.model_dump(include=_PROPOSED)) for layer in layers]
        lines += [*_table(f"colours.{toml_key(key)}", {"proposed": True}),
                  "layers = [", *(f"    {row}," for row in rows), "]"]  # fmt: skip
        taken.proposed.append(
            note(
                "recipe-proposed", Place(file=CATALOG_NAME, key=key_text(("colours", key))),
                f"a recipe from the color's name{' and photo' if photo else ''}: nothing of it is "
                "printed until you have looked",
                found=", ".join(f"{layer.strands} {layer.shade}" for layer in layers),
                hint="Where it is right, take `proposed = true` out.",
            )
        )  # fmt: skip
    if lines:
        told = (*_ABOUT_PROPOSALS, *lines, "")
        text = source.text.rstrip("\n") + "\n\n" + "\n".join(told)
        (into / CATALOG_NAME).write_text(text, encoding="utf-8", newline="\n")


_ABOUT_PROPOSALS = (
    "# Recipes that may be so, from names and photos. Nothing of one is printed",
    "# while it says `proposed = true`: put it right, then take that line out.",
)
_PROPOSED = {"material", "shade", "ink", "strands"}


def _own_state_left_out(stated: Mapping[str, Any]) -> Iterator[Finding]:
    """Ask about the maker's own state where it has rules and is none of the places of sale."""
    from labeler.disclosures.market_rules import shipped

    own = f"{_at(stated, ('maker', 'country'))}-{_at(stated, ('maker', 'state'))}"
    markets = _at(stated, ("sale", "markets"))
    if isinstance(markets, list) and own not in markets and own in shipped().files:
        yield fix(
            "own-state-left-out",
            Place(file=CATALOG_NAME, key="sale.markets"),
            f"{part_name(own)}, where you are, has rules of its own, and is none of the places of "
            "sale; none of its rules is asked until it is",
            found=", ".join(markets),
            hint=f'"{own}" beside them, if any are sold there: a show or your own door counts.',
        )


def settle(
    folder: Path,
    headings: Mapping[str, str],
    codes: Mapping[tuple[str, str], str],
    held: Iterable[str] = (),
    sheet: str = "",
    unit: str = "",
) -> None:
    """Write into the catalog what columns are, and by which codes names go; what stood is kept.

    Args:
        folder: the catalog's.
        headings: the maker's headings, each with the field that is under it.
        codes: the table (``patterns`` or ``colours``) and the new name, each with its code.
        held: the headings that the spreadsheet has. One that it has no more makes way for the one
            that has its field now.
        sheet: the sheet that has the products; none, if that stays.
        unit: of weights without one, oz or g, or "none" for as written; empty, if that stays.

    Raises:
        LabelerError: if the catalog can't be read, or would not be sound.
    """
    import tomlkit  # only where a catalog is written

    here = set(map(plain, held))
    said = {"sheet": sheet, "unit": "" if unit == "none" else unit}

    def change(document: Any) -> None:
        table = document["spreadsheet"]
        stated = table["headings"]
        for text, name in headings.items():
            key = next((key for key in stated if plain(key) == plain(text)), text)
            for gone in [key for key, use in stated.items()
                         if use == name != "ignored" and plain(key) not in here]:  # fmt: skip
                del stated[gone]
            stated[key] = name
        table.update({key: text for key, text in said.items() if text})
        if unit == "none":
            table.pop("unit", None)
        for (kind, name), code in codes.items():
            within = table
            for part in source.written(("spreadsheet", "codes", kind))[1:]:
                within = within.setdefault(part, tomlkit.table())
            within[name] = code

    with files.locked(folder):
        source = read_source(folder)
        raw = edit.changed(source, change)
        _, faults = validate(Spreadsheet, source_of(raw), ("spreadsheet",))
        if faults:
            raise LabelerError(faults)
        if raw != source.raw:
            edit.write_together(folder, {CATALOG_NAME: raw}, {CATALOG_NAME: source.raw})


def _report(taken: TakenIn, folder: Path, known: set[str], into: Path) -> None:
    """Read the folder as every later run will, and write the page on what came of it.

    Args:
        taken: gets the products and what else there is to say.
        folder: the folder as it is now.
        known: SKUs that were there when it was taken in before.
        into: where the page is written.
    """
    from labeler.book.site import take_in_page

    catalog, findings = examine(folder)
    _note_examined(taken, folder, catalog, findings, known)
    facts = {
        "maker": {"name": catalog.file.maker.name if catalog else "Your line"},
        "products": taken.products,
        "prints": taken.prints,
        "lists": [
            (name, _ABOUT[name],
             [{"where": str(each.place), "says": each.message, "found": each.found,
               "expected": each.expected, "hint": each.hint} for each in found])
            for name, found in sorted(taken.lists().items(), key=lambda one: one[0] != "asked")
        ],
    }  # fmt: skip
    page = take_in_page(facts)
    (into / PAGE_NAME).write_text(page, encoding="utf-8", newline="\n")


def _note_examined(
    taken: TakenIn, folder: Path, catalog: Catalog | None, findings: Iterable[Finding],
    known: set[str],
) -> None:  # fmt: skip
    """Say what is asked by the catalog that comes of it, and which products are in that."""
    told = {(finding.rule, finding.place.cell, finding.place.key) for each in taken.lists().values()
            for finding in each}  # fmt: skip
    taken.asked += [
        finding
        for finding in findings
        if finding.grade is Grade.STOP
        and (finding.rule, finding.place.cell, finding.place.key) not in told
    ]
    if catalog is not None:
        taken.products = list(_products(catalog, known, taken.first))
        taken.gone = sorted(known - {one.sku for one in taken.products})
        taken.left_out += list(_unused_photos(catalog, folder))


def _products(catalog: Catalog, known: set[str], first: bool) -> Iterator[TakenProduct]:
    from labeler.layout.facts import amount_text

    for product in catalog.products:
        amount = product.price
        price = "" if amount is None else amount_text(amount, product.currency)
        yield TakenProduct(product.sku, in_words(product), price, product.photo or "",
                           not first and product.sku not in known)  # fmt: skip


def _unused_photos(catalog: Catalog, folder: Path) -> Iterator[Finding]:
    used = {product.photo for product in catalog.products}
    looks = {(one.pattern.name, one.colour.name): one.photo for one in catalog.products}
    by_words = {
        frozenset(words_of_photo(" ".join(look))): photo for look, photo in looks.items() if photo
    }
    for path in sorted((folder / PHOTOS).rglob("*")):
        name = path.relative_to(folder / PHOTOS).as_posix()
        if path.is_file() and name not in used:
            if photo := by_words.get(frozenset(words_of_photo(path.stem))):
                yield note(
                    "photo-second", Place(file=f"{PHOTOS}/{shown(name)}"),
                    "another photo of the same is printed", found=shown(photo),
                    hint="To print this one, name it in a Photo column.",
                )  # fmt: skip
                continue
            yield note(
                "photo-unused", Place(file=f"{PHOTOS}/{shown(name)}"),
                "no product is pictured by this", hint="Call it by pattern and colour, such as "
                '"slough hopper muskrat.jpg", or name it in a Photo column.',
            )  # fmt: skip


_ABOUT = {
    "taken": "Read from your spreadsheet, with what was put right on the way.",
    "proposed": "Likely, and yours to look at.",
    "asked": "Only you know this.",
    "left out": "Not read, or not used, and why.",
}


_SKU_ON_PAGE = re.compile(r'<tr data-sku="([^"]+)"')
LARGEST_PAGE = 20_000_000


def _known_skus(page: Path) -> set[str]:
    """Return the SKUs on the page of an earlier take-in."""
    looked_at(page)
    if not page.is_file():
        return set()
    return set(_SKU_ON_PAGE.findall(read_file(page, LARGEST_PAGE).decode("utf-8", "replace")))
