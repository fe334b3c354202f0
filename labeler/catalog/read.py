"""From a catalog folder to a catalog, or to all that is wrong with it at once.

And from a catalog to the products that are wanted of it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import tomllib
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from fnmatch import fnmatchcase
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from labeler import files
from labeler.catalog.checks import check_file, check_upkeep, replaced_prices
from labeler.catalog.expand import (
    ProductDrafts,
    can_expand,
    expand,
    find_overruled,
    make_catalog,
    make_pack,
    unprinted_words,
)
from labeler.catalog.gtin_record import RECORD, check_unique, read_record
from labeler.catalog.model import Catalog, CatalogFile, Part, Product
from labeler.catalog.own_sheet import read_own_sheet, tell_once
from labeler.catalog.photo_names import Photos
from labeler.catalog.spreadsheet.cells import PRODUCT_COLUMNS
from labeler.catalog.spreadsheet.grid import (
    LARGEST_BYTES,
    CellGrid,
    SheetRow,
    read_csv,
    read_table,
    read_xlsx,
)
from labeler.catalog.structure import (
    CATALOG_NAME,
    OURS,
    open_questions,
    read_source,
    read_structure,
)
from labeler.files import kept, looked_at, read_file
from labeler.findings import (
    Finding,
    Grade,
    LabelerError,
    Place,
    a_few,
    as_written,
    did_you_mean,
    fix,
    note,
    refusal,
    shown,
    stop,
)
from labeler.tomlfile import KeyPath, TomlFile


def read_catalog(folder: Path, day: dt.date | None = None) -> Catalog:
    """Return the catalog in ``folder``, with the prices of ``day``, or today.

    Raises:
        LabelerError: with every finding that stops, if there is one.
    """
    catalog, findings = examine(folder, day)
    if catalog is None:
        raise LabelerError(finding for finding in findings if finding.grade is Grade.STOP)
    return catalog


def readable(folder: Path, day: dt.date | None = None) -> tuple[Catalog, tuple[Finding, ...]]:
    """Return the catalog and the findings of grade FIX, for a job that prints; notes are left out.

    Args:
        folder: the catalog's.
        day: whose prices hold; None for today.

    Raises:
        LabelerError: with every finding that stops, if there is one.
    """
    catalog, findings = examine(folder, day)
    if catalog is None:
        raise LabelerError(finding for finding in findings if finding.grade is Grade.STOP)
    findings += starter_placeholders(catalog)
    return catalog, tuple(finding for finding in findings if finding.grade is Grade.FIX)


def examine(
    folder: Path,
    day: dt.date | None = None,
    source: TomlFile | None = None,
    rows: bytes | None = None,
) -> tuple[Catalog | None, tuple[Finding, ...]]:
    """Return the catalog in ``folder``, or None if a finding stops it, and all findings.

    It never raises for what is in the maker's files.

    Args:
        folder: the catalog's.
        day: whose prices hold; None for today.
        source: what is read in the place of the folder's own catalog file.
        rows: with that, what is read in the place of products.csv; empty for none.
    """
    day = day or dt.date.today()  # noqa: DTZ011  (the maker's own day)
    if source is not None:
        return _read(folder, day, source, rows)
    said: list[Finding] = []
    if (folder / ".price-change.json").exists():
        from labeler.catalog.edit import complete  # only where one was broken off

        said = complete(folder)
        if any(each.grade is Grade.STOP for each in said):
            return None, tuple(said)
    read = kept(("catalog", folder, day), lambda: _read(folder, day))
    return (read[0], (*said, *read[1])) if said else read


def _read(
    folder: Path, day: dt.date, source: TomlFile | None = None, rows: bytes | None = None
) -> tuple[Catalog | None, tuple[Finding, ...]]:
    """Return what `examine` does, the findings in the order of the files' lines."""
    if source is None:
        try:
            source = read_source(folder)
        except LabelerError as error:
            return None, error.findings
    catalog, findings = _assemble(source, folder, day, rows)
    return catalog, tuple(sorted(findings, key=lambda one: (one.place.file, one.place.line or 0)))


def _assemble(
    written: TomlFile, folder: Path, day: dt.date, rows: bytes | None
) -> tuple[Catalog | None, list[Finding]]:
    """Return the catalog that the file, the spreadsheets and the record make together."""
    written, unanswered, asked = open_questions(written)
    own = read_own_sheet(written, folder)
    source = own.source
    file, findings = read_structure(source)
    findings = [each for each in findings if each.place.key not in unanswered] + asked
    findings += check_file(source, file)
    photos = Photos(folder)
    findings += _photo_faults(source, file, photos)
    findings += unprinted_words(source, file)
    findings = tell_once(written, findings) if own.rows else findings
    stated = written.data.get("spreadsheet")
    mine = stated.get("file") if isinstance(stated, dict) else None
    sheets = _read_spreadsheets(folder, mine, rows)
    findings += own.findings + sheets.findings
    if not can_expand(source, file):
        return None, findings
    products, clashes = expand(source, file, own.by_rows)
    drafts = ProductDrafts(file, photos, products)
    drafts.lay([*own.rows, *sheets.rows])
    if source.data.get("spreadsheet"):
        drafts.find_photos()
    gtins = _give_gtins(drafts, sheets.record)
    findings += clashes + drafts.findings
    if any(finding.grade is Grade.STOP for finding in findings):
        return None, findings
    catalog = make_catalog(
        file,
        drafts.drafts.values(),
        day,
        retired=tuple(drafts.retired),
        gone=make_catalog(file, filter(None, drafts.retired.values()), day).products,
        gtins=gtins,
        on_hand=drafts.on_hand,
        priced_in=drafts.priced_in,
        rows={sku: tuple(places) for sku, places in drafts.places.items()},
        folder=str(folder),
        fingerprint=fingerprint([(source.name, source.raw), *own.files, *sheets.files]),
    )
    upkeep = [*find_overruled(written, drafts), *check_upkeep(source, catalog)]
    upkeep += replaced_prices(source, catalog, day)
    packs, faults = _make_packs(source, catalog, day)
    if faults:
        return None, [*findings, *faults]
    catalog = catalog.model_copy(update={"products": (*catalog.products, *packs)})
    return catalog, [*findings, *(tell_once(written, upkeep) if own.rows else upkeep)]


def _photo_faults(source: TomlFile, file: CatalogFile, photos: Photos) -> Iterator[Finding]:
    """Yield what is wrong with the photos that the catalog file names itself."""
    named: list[tuple[KeyPath, str | None]] = [
        (("patterns", name, "photo"), pattern.photo) for name, pattern in file.patterns.items()
    ]
    named.append((("maker", "logo"), file.maker.logo))
    named += [(("photos", name), name) for name in file.photos]
    for path, name in named:
        if name is not None and (fault := photos.fault(Place(), name)):
            yield replace(fault, place=source.place(path))  # lines are looked for only then


def _make_packs(
    source: TomlFile, catalog: Catalog, day: dt.date
) -> tuple[list[Product], list[Finding]]:
    """Return the assorted packs, each with what lies in one bag; and what is wrong with them."""
    packs: list[Product] = []
    faults: list[Finding] = []
    for name, pack in catalog.file.packs.items():
        parts: dict[str, Part] = {}
        for words, count in pack.of.items():
            where = source.place(("packs", name, "of", words))
            try:
                of = choose(catalog, [words])
            except LabelerError as error:
                faults += [replace(each, place=where) for each in error.findings]
                continue
            if len(of) > 1 or of[0].sku in parts:
                faults.append(stop(
                    "pack-part", where, "this names several products, or one that is named already",
                    found=as_written(words), expected="one product, once, with its number",
                ))  # fmt: skip
            parts[of[0].sku] = Part.model_construct(product=of[0], count=count)
        if any(one.sku == pack.code for one in (*catalog.products, *packs)) or (
            pack.code in catalog.retired
        ):
            faults.append(stop(
                "duplicate-sku", source.place(("packs", name, "code")),
                f"the SKU {pack.code} is another product's", found=as_written(pack.code),
            ))  # fmt: skip
        elif len(parts) == len(pack.of):
            packs.append(made := make_pack(catalog, pack, tuple(parts.values()), day))
            if not made.markets:
                faults.append(stop(
                    "pack-part", source.place(("packs", name, "of")),
                    "there is no place where all of these are sold", expected="one at least",
                ))  # fmt: skip
    return packs, faults


def _give_gtins(drafts: ProductDrafts, record: dict[str, SheetRow]) -> dict[str, str]:
    """Give every draft its number; return all numbers, those of retired SKUs too."""
    recorded = [(sku, row.values["gtin"], row.cell("gtin")) for sku, row in record.items()]
    for name, pack in drafts.file.packs.items():
        if pack.gtin:
            drafts.given.append((pack.code, pack.gtin, Place(CATALOG_NAME, key=f"packs.{name}")))
    drafts.findings += check_unique([*recorded, *drafts.given])
    numbers = {sku: gtin for sku, gtin, _ in (*drafts.given, *recorded)}
    for sku, draft in drafts.drafts.items():
        if sku in numbers:
            draft.overrides["gtin"] = numbers[sku]
    return numbers


def fingerprint(contents: Iterable[tuple[str, bytes]]) -> str:
    """Return the SHA-256 of names and contents, in hexadecimal."""
    digest = hashlib.sha256()
    for name, raw in contents:
        digest.update(f"{name}\n{len(raw)}\n".encode())
        digest.update(raw)
    return digest.hexdigest()


@dataclass(slots=True)
class _Spreadsheets:
    """What the spreadsheets of a folder hold."""

    rows: list[SheetRow] = field(default_factory=list)
    record: dict[str, SheetRow] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    files: list[tuple[str, bytes]] = field(default_factory=list)
    """Name and bytes of every file read."""
    ours: bytes | None = None
    """What is read in the place of products.csv."""

    def read_bytes(self, path: Path) -> bytes | None:
        try:
            instead = self.ours if path.name.casefold() == OURS else None
            raw = read_file(path, LARGEST_BYTES) if instead is None else instead
        except LabelerError as error:
            self.findings += error.findings
            return None
        self.files.append((path.name, raw))
        return raw


def _read_spreadsheets(folder: Path, own: object, ours: bytes | None = None) -> _Spreadsheets:
    """Return what products.csv or products.xlsx hold, if neither is the maker's ``own`` file."""
    sheets = _Spreadsheets(ours=ours)
    mine = str(Path(own)) if isinstance(own, str) else None
    looked_at(folder, "products.*")
    looked_at(folder, RECORD)
    try:
        found = (
            path.name
            for path in folder.iterdir()
            if (path.is_file() or (path.is_symlink() and not path.exists()))  # which is then told
            and path.name != mine
        )
        names = sorted(name for name in found if name.isprintable())
    except OSError:
        names = []  # a folder whose catalog.toml can be read, but which may not be listed
    if ours is not None:
        names = [name for name in names if ours or name.casefold() != OURS]
        names += [OURS] if ours and not any(name.casefold() == OURS for name in names) else []
    for suffix in (".csv", ".xlsx"):
        same = [name for name in names if name.casefold() == "products" + suffix]
        if len(same) > 1:
            sheets.findings.append(
                stop(
                    "file-twice",
                    Place(file=same[1]),
                    f"lies beside {same[0]}: which holds?",
                    found=", ".join(same),
                    expected="one of them",
                )
            )
        elif same and (raw := sheets.read_bytes(folder / same[0])) is not None:
            _read_products(same[0], raw, sheets)
    others = [
        name
        for name in names
        if name.casefold().startswith("products.")
        and not name.casefold().endswith((".csv", ".xlsx"))
    ]
    if others:
        sheets.findings.append(
            note(
                "file-unread",
                Place(file=others[0]),
                "is not read",
                found=a_few(others),
                expected="products.csv or products.xlsx",
                hint="Save it as one of these from the spreadsheet.",
            )
        )
    if RECORD in names and (raw := sheets.read_bytes(folder / RECORD)) is not None:
        sheets.record, findings = read_record(raw)
        sheets.findings += findings
    return sheets


def _read_products(name: str, raw: bytes, sheets: _Spreadsheets) -> None:
    grids: list[CellGrid]
    try:
        if name.casefold().endswith(".csv"):
            grid, findings = read_csv(name, raw, PRODUCT_COLUMNS)
            grids = [grid]
        else:
            grids, findings = read_xlsx(name, raw, PRODUCT_COLUMNS)
    except LabelerError as error:
        sheets.findings += error.findings
        return
    sheets.findings += findings
    for grid in grids:
        table = read_table(grid, PRODUCT_COLUMNS)
        sheets.rows += table.rows
        sheets.findings += table.findings


def named_count(text: str) -> tuple[str, int | None]:
    """Return what ``NAME=N`` names and how many of it; None where nothing says how many.

    N may be in dozens: ``2 doz``, ``a dozen``. ``NAME x 6``, ``6 x NAME`` and ``6 pcs NAME`` say it
    too, but no bare number: that may be a hook's size.

    Raises:
        LabelerError: if what follows the last ``=`` is no number.
    """
    name, equals, count = text.rpartition("=")
    if not equals:
        said = split_count(text)
        return (said[0], pieces(said[1])) if said else (text, None)
    if name.strip() and re.fullmatch(r"\s*\d{1,9}\s*", count):
        return name.strip(), int(count)
    from labeler.catalog.spreadsheet.cells import CellError
    from labeler.catalog.spreadsheet.own_cells import exact_count  # only for words

    try:
        if name.strip():
            return name.strip(), exact_count(count.strip())
        raise CellError("this does not say how many", "")
    except CellError:
        raise refusal(
            "count-unread",
            Place(key="count"),
            "this does not say how many",
            found=as_written(text),
            expected=f"a number, such as {shown(name.strip()) or 'NAME'}=12, or dozens: =2 doz",
        ) from None


def split_count(text: str) -> tuple[str, str] | None:
    """Return the name and the count of a text that says how many with an x or a word of counting.

    None where it does not, or may be read in two ways.
    """
    found = set[tuple[str, str]]()
    for form in (_TIMES, _LAST, _FIRST):
        if match := form.fullmatch(text.strip()):
            word = match["word"].lower()
            count = match["count"] if word in "x×" else f"{match['count']} {match['word']}"
            if word != "st" and pieces(count) is not None:  # as in St. Croix
                found.add((match["name"].strip(" ,:-"), count))
    return found.pop() if len(found) == 1 else None


_NAME = r"(?P<name>(?>.*?\w).*?)[\s,:]+"
"""Of a text as long as a book it is no more than a few searches from end to end."""

_TIMES = re.compile(_NAME + r"(?P<word>[xX×])\s*(?P<count>\d{1,6})")
_LAST = re.compile(
    _NAME + r"(?P<count>\d{1,6}|an?(?= ))(?: |(?![xX×]))(?P<word>[^\W\d_]+|×)\.?",
    re.IGNORECASE,
)
"""The ``3x`` behind a name says how strong its hook is (common practice, no published source)."""
_FIRST = re.compile(
    r"(?P<count>\d{1,6}|an?(?= )) ?(?P<word>[^\W\d_]+|×)\.?\s+(?:of\s+)?(?P<name>.*\w.*)",
    re.IGNORECASE,
)


def pieces(count: str) -> int | None:
    """Return how many pieces a count such as ``6``, ``6 pcs`` or ``2 doz`` says; None if none."""
    found = re.fullmatch(r"(\d{1,6}|an?(?= ))\s*([^\W\d_]*)", count.strip(), re.IGNORECASE)
    if found and not found[2]:
        return int(found[1])
    from labeler.catalog.spreadsheet.own_cells import counts  # only for words

    times = counts(found[2]) if found else None
    if found is None or times is None:
        return None
    return times * (int(found[1]) if found[1].isdigit() else 1)


def choose(
    catalog: Catalog, wanted: Sequence[str], said: list[Finding] | None = None, *,
    words_too: bool = True,
) -> tuple[Product, ...]:  # fmt: skip
    """Return the products that are wanted, in the catalog's order, each once.

    Args:
        catalog: The line.
        wanted: SKUs, or shell patterns such as ``RV-*``, in any case; or words of one product's
            pattern, colour, weight and hook. Nothing wanted means all.
        said: gets a note of every product that was found by its words.
        words_too: whether words may stand for a SKU; what the ledger kept is one already.

    Raises:
        LabelerError: with a finding for every word that fits no product on sale, and for words
            that fit several products: which one is meant is never guessed.
    """
    if not wanted:
        return catalog.products
    skus = [product.sku for product in catalog.products]
    picked: set[str] = set()
    findings = []
    for word in dict.fromkeys(wanted):
        if fitting := _fitting(word, skus):
            picked.update(fitting)
        elif retired := _fitting(word, catalog.retired):
            findings.append(_retired(word, retired))
        elif len(named := by_words(word, catalog.products) if words_too else []) == 1:
            picked.add(named[0].sku)
            if said is not None:
                said.append(_by_name(word, named[0]))
        elif words_too and not named and (gone := by_words(word, catalog.gone)):
            findings.append(_retired(word, [product.sku for product in gone]))
        else:
            findings.append(_unknown(word, catalog.products, named))
    if findings:
        raise LabelerError(findings)
    return tuple(product for product in catalog.products if product.sku in picked)


def one_product(
    catalog: Catalog, word: str, said: list[Finding], place: Place | None = None
) -> Product:
    """Return the one product that ``word`` names, as `choose` does; a pattern of SKUs is no batch.

    Args:
        catalog: the line.
        word: a SKU, or words of one product.
        said: gets a note of the product that was found by its words.
        place: where the word stands, if it stands in a file.

    Raises:
        LabelerError: if it names none, or several.
    """
    try:
        found = choose(catalog, [word], said)
    except LabelerError as error:
        if place is None:
            raise
        raise LabelerError(replace(finding, place=place) for finding in error.findings) from error
    if len(found) > 1:
        raise refusal(
            "lot-of-several",
            place or Place(key="sku"),
            "a lot is of one product",
            found=f"{word}, which means {len(found)}",
            expected="one SKU",
        )
    return found[0]


def _retired(word: str, skus: Sequence[str]) -> Finding:
    one = len(skus) == 1
    return stop(
        "sku-retired",
        Place(file="" if one else "catalog", piece=skus[0] if one else ""),
        "is retired and no longer sold" if one else "are all retired",
        found=as_written(word) if one else a_few(skus),
        hint="Take the row's `retired` away to sell it again. A lot prints what it was: "
        f"labeler lot list --sku {skus[0] if one else 'SKU'} shows its lots.",
    )


def sku_by_name(
    words: str, products: Iterable[Product], said: list[Finding], strict: bool = False
) -> str:
    """Return the SKU of the one product so called; the words themselves, if there is none.

    Args:
        words: of its pattern, colour, weight and hook.
        products: among which; of one SKU there may be several, as it was and as it is.
        said: gets a note of the product that was found.
        strict: whether to refuse words that fit none.

    Raises:
        LabelerError: if several products are so called: none is guessed at.
    """
    known = list(products)
    each = {product.sku: product for product in known}
    if (sku := words.strip().upper()) in each:
        return sku
    named = list({product.sku: product for product in by_words(words, known)}.values())
    if len(named) == 1:
        said.append(_by_name(words, named[0]))
        return named[0].sku
    if named or strict:
        raise LabelerError(_unknown(words, list(each.values()), named))
    return words


def _by_name(words: str, product: Product) -> Finding:
    return note(
        "sku-by-name", Place(piece=product.sku), "is the one product so called",
        found=f"{as_written(words)}, which is {in_words(product)}",
    )  # fmt: skip


def in_words(product: Product) -> str:
    """Return a product's pattern, colour, weight and hook as one says them."""
    hook = f", hook {product.hook_size}" if product.hook_size else ""
    return f"{product.name}, {product.weight}{hook}"


def _unknown(word: str, products: Sequence[Product], named: Sequence[Product]) -> Finding:
    """Say that words fit several products, or none; then which they nearly fit."""
    place, found = Place(file="catalog"), as_written(word)
    if named:
        return stop(
            "sku-several", place, "these words fit several products", found=found,
            expected="one: add its weight or hook, or give its SKU", hint=_lines(named),
        )  # fmt: skip
    skus = [product.sku for product in products]
    if _mistyped(word, skus):
        hint = did_you_mean(word.strip().upper(), skus)
    elif close := nearest_products(word, products):
        hint = f"Nearest:\n    {_lines(close)}"
    else:
        hint = did_you_mean(word.strip().upper(), skus)
    return stop("sku-unknown", place, "no product has this SKU or name", found=found, hint=hint)


def nearest_products(word: str, products: Sequence[Product]) -> list[Product]:
    """Return the products nearest to a word that names none.

    Those of which it may be the SKU mistyped; else those that hold the most of its words, slips put
    right, and not one of these where none holds any.
    """
    by_sku = {product.sku: product for product in products}
    if slips := _mistyped(word, by_sku):
        return [by_sku[sku] for sku in slips]
    known = {product.sku: _words_of(product) for product in products}
    every = sorted(frozenset().union(*known.values()))
    asked = {
        close[0]
        if one.isalpha() and (close := get_close_matches(one, every, n=1, cutoff=_A_SLIP))
        else one
        for one in _words(word)
    }
    held = {sku: len(asked & theirs) for sku, theirs in known.items()}
    most = max(held.values(), default=0)
    return [product for product in products if most and held[product.sku] == most]


def _mistyped(word: str, skus: Iterable[str]) -> list[str]:
    """Return the SKUs of which a word may be one with a slip in it, the nearest first."""
    return get_close_matches("-".join(word.upper().split()), list(skus), cutoff=_A_SLIP)


_A_SLIP = 0.75
"""How alike two words are, by `difflib`, that one may be the other mistyped."""

_LINES_SHOWN = 20
"""What a small screen has room for: twenty-four lines are usual (ANSI X3.64 terminals)."""


def _lines(products: Sequence[Product]) -> str:
    """Return products by SKU and name, a line each, all that a screen has room for."""
    lines = [f"{product.sku}  {in_words(product)}" for product in products]
    if len(lines) > _LINES_SHOWN + 1:
        lines[_LINES_SHOWN:] = [f"and {len(lines) - _LINES_SHOWN} more; add a word"]
    return "\n    ".join(lines)


_SAYS_NOTHING = frozenset({"and", "hook", "in", "jig", "of", "size", "the"})


def by_words(text: str, products: Sequence[Product]) -> list[Product]:
    """Return the products whose pattern, colour, weight and hook hold all words of ``text``."""
    asked = _words(text)
    return [product for product in products if asked and asked <= _words_of(product)]


def _words_of(product: Product) -> frozenset[str]:
    weight = str(product.weight)
    number = weight.rpartition(" ")[0]
    named = (product.pattern.name, product.pattern.code, product.colour.name, product.colour.code,
             product.hook.name, product.hook_size or "", weight, number)  # fmt: skip
    return frozenset().union(*map(_words, named))


_WORD = re.compile(r"\d+(?:[ -]\d+/\d+|[./]\d+)?(?:\s*-?(?:oz|g)\b)?|[^\W\d_]+")


@lru_cache(maxsize=16_384)
def _words(text: str) -> frozenset[str]:
    """Return the words of a text as they are compared: a number with its unit is one word."""
    plain = unicodedata.normalize("NFKC", text).casefold()
    plain = re.sub(r"[’'`]", "", plain.replace("\N{FRACTION SLASH}", "/"))
    plain = re.sub(r"\bounces?\b|\boz\.", "oz", plain)
    plain = re.sub(r"\bgrams?\b", "g", plain)
    found = (re.sub(r"[\s-]", "", word) if word[0].isdigit() else word
             for word in _WORD.findall(plain))  # fmt: skip
    return frozenset(found) - _SAYS_NOTHING


def _fitting(word: str, skus: Sequence[str]) -> list[str]:
    plain = word.strip().upper()
    if plain in skus:
        return [plain]
    return [sku for sku in skus if fnmatchcase(sku, plain)] if re.search(r"[*?\[]", plain) else []


_STARTER_MAKER_KEYS = ("name", "street", "city", "site", "links", "email", "phone")
_STARTER_PATTERN_KEYS = ("name", "story")


def starter_placeholders(catalog: Catalog) -> tuple[Finding, ...]:
    """Return what a label would say in the starter's words.

    As long as the business has the starter's name it is a trial, and this is only good to know.
    """
    starter = _starter()
    kept = [
        f"maker.{key}"
        for key in _STARTER_MAKER_KEYS
        if getattr(catalog.file.maker, key) == starter["maker"][key]
    ]
    for theirs in starter["patterns"].values():
        for name, pattern in catalog.file.patterns.items():
            for key in _STARTER_PATTERN_KEYS:
                if (getattr(pattern, key) or "").strip() == theirs[key].strip():
                    kept.append(f"patterns.{name}.{key}")
    if not kept:
        return ()
    grade = note if "maker.name" in kept else fix
    return (
        grade(
            "starter-left-over",
            Place(file=CATALOG_NAME),
            "this is still the starter's and will be printed so",
            found=", ".join(kept),
            hint="Put your own there, or take the line out where it may be left out.",
        ),
    )


@cache
def _starter() -> Mapping[str, Any]:
    file = files.shipped("layouts") / "starter" / "catalog.toml"
    return tomllib.loads(file.read_text("utf-8"))
