"""The files of rules, read and checked: every fault at once, each with its file and line."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from labeler.disclosures.rules import (
    MarketFile,
    OriginTest,
    Rule,
    SubstanceTest,
    WeightTest,
    When,
    Wording,
)
from labeler.disclosures.statements import FIELDS
from labeler.findings import Finding, LabelerError, Place, did_you_mean, stop

HOUSE = "*"
"""The market of the file that holds everywhere."""

NOT_MARKETS = ("form.toml", "places.toml")
"""Data that lies in the same folder and is read elsewhere."""


@dataclass(frozen=True)
class RuleBook:
    """Every rule held, by market."""

    files: dict[str, MarketFile]
    _asked: dict[tuple[str, ...], tuple[tuple[Rule, tuple[str, ...]], ...]] = field(
        default_factory=dict, compare=False
    )

    def rules_reaching(self, markets: Sequence[str]) -> tuple[tuple[Rule, tuple[str, ...]], ...]:
        """Return every rule that may hold in any of ``markets``, with those it may hold in.

        The widest rules come first.
        """
        key = tuple(markets)
        if key not in self._asked:
            found: dict[str, tuple[Rule, list[str]]] = {}
            for market in key:
                for file in self.reaching(market):
                    for rule in file.rule:
                        found.setdefault(rule.id, (rule, []))[1].append(market)
            self._asked[key] = tuple((rule, tuple(where)) for rule, where in found.values())
        return self._asked[key]

    def reaching(self, market: str) -> tuple[MarketFile, ...]:
        """Return the files whose rules hold in ``market``, the widest first.

        ``US-CA`` has its own, those of the US and those of the house; ``DE`` has the EU's.
        """
        found: dict[str, MarketFile] = {}
        self._gather(market, found)
        return (self.files[HOUSE], *reversed(found.values()))

    def _gather(self, market: str, found: dict[str, MarketFile]) -> None:
        if market in found:
            return
        own = self.files.get(market)
        if own:
            found[market] = own
        wider = list(own.inherits) if own else []
        wider += [market.partition("-")[0]] if "-" in market else []
        wider += [code for code, file in self.files.items() if market in file.covers]
        for code in wider:
            self._gather(code, found)

    def knows(self, market: str) -> bool:
        """Tell whether any rule but the house's reaches ``market``."""
        return len(self.reaching(market)) > 1

    def rules(self) -> Iterator[tuple[MarketFile, Rule]]:
        """Yield every rule with the file that it stands in, in the files' order."""
        for file in self.files.values():
            for rule in file.rule:
                yield file, rule

    def rule(self, rule_id: str) -> Rule:
        """Return the rule called ``rule_id``.

        Raises:
            KeyError: if there is none.
        """
        return next(rule for _, rule in self.rules() if rule.id == rule_id)


@cache
def shipped() -> RuleBook:
    """Return the rules that ship with the program."""
    return load(Path(__file__).parent)


def load(*folders: Path) -> RuleBook:
    """Read every market's file in ``folders``; a later folder's file takes an earlier's place.

    Raises:
        LabelerError: with every fault in every file.
    """
    paths = {p.name: p for folder in folders for p in sorted(folder.glob("*.toml"))}
    faults: list[Finding] = []
    files: dict[str, MarketFile] = {}
    texts: dict[str, tuple[Path, str]] = {}
    for name, path in paths.items():
        if name in NOT_MARKETS:
            continue
        text, file, found = _read(path)
        faults += found
        if file is not None:
            files[file.market] = file
            texts[file.market] = (path, text)
    faults += [fault for market in files for fault in _among(market, files, texts)]
    if not faults and HOUSE not in files:
        faults.append(stop("rules-unread", Place(), "no file of rules holds everywhere"))
    if faults:
        raise LabelerError(faults)
    return RuleBook(files)


def _read(path: Path) -> tuple[str, MarketFile | None, list[Finding]]:
    try:
        text = path.read_text(encoding="utf-8")
        return text, MarketFile.model_validate(tomllib.loads(text)), []
    except (OSError, UnicodeDecodeError) as error:
        return "", None, [stop("rules-unread", Place(str(path)), f"cannot be read: {error}")]
    except tomllib.TOMLDecodeError as error:
        line = re.search(r"at line (\d+)", str(error))
        place = Place(str(path), line=int(line[1]) if line else None)
        return "", None, [stop("rules-unread", place, f"is not TOML: {error}")]
    except ValidationError as error:
        return "", None, [_fault(path, text, dict(item)) for item in error.errors()]


def _fault(path: Path, text: str, error: dict[str, Any]) -> Finding:
    where: Sequence[str | int] = error["loc"]
    key = ".".join(str(part) for part in where)
    place = Place(str(path), line=line_of(text, where), key=key)
    if error["type"] == "extra_forbidden":
        hint = did_you_mean(str(where[-1]), _KEYS)
        return stop("rule-key", place, "there is no such key", hint=hint)
    message = str(error["msg"]).removeprefix("Value error, ")
    found = error["input"] if isinstance(error["input"], str | int | float) else ""
    return stop("rule-value", place, message, found=str(found))


_KEYS = sorted(
    {
        field.alias or name
        for record in (MarketFile, Rule, When, Wording, SubstanceTest, WeightTest, OriginTest)
        for name, field in record.model_fields.items()
    }
)


def line_of(text: str, where: Sequence[str | int]) -> int | None:
    """Return the line of a key's place in a file of rules; the rule's own where it has none."""
    lines = text.splitlines()
    begin, end = 0, len(lines)
    if len(where) > 1 and where[0] == "rule" and isinstance(where[1], int):
        starts = [i for i, line in enumerate(lines) if line.strip() == "[[rule]]"]
        if where[1] >= len(starts):
            return None
        begin = starts[where[1]]
        end = [*starts, len(lines)][where[1] + 1]
    for key in (part for part in reversed(where) if isinstance(part, str) and part != "rule"):
        for number in range(begin, end):
            if re.match(rf"\s*(?:\[+[\w.]*)?\b{re.escape(key)}\b", lines[number]):
                return number + 1
    return begin + 1


def _among(
    market: str, files: dict[str, MarketFile], texts: dict[str, tuple[Path, str]]
) -> Iterator[Finding]:
    """Yield what is wrong with a file that reads well by itself."""
    path, text = texts[market]
    known = Counter(rule.id for file in files.values() for rule in file.rule)
    stem = "house" if market == HOUSE else market.lower()
    if path.stem != stem:
        yield stop("rule-file", Place(str(path)), "the file's name", found=path.stem, expected=stem)
    for number, rule in enumerate(files[market].rule):
        place = Place(str(path), line=line_of(text, ("rule", number, "id")), key=rule.id)
        if known[rule.id] > 1:
            yield stop("rule-id", place, "the id is taken more than once")
        if not rule.id.startswith(f"{stem}-"):
            yield stop("rule-id", place, "the id", found=rule.id, expected=f"{stem}-...")
        for other in rule.waives:
            if other not in known:
                hint = did_you_mean(other, list(known))
                yield stop("rule-waives", place, "waives an unknown rule", found=other, hint=hint)
        for wording in rule.wording:
            yield from _wording_faults(wording.text, place)


def _wording_faults(text: str, place: Place) -> Iterator[Finding]:
    if text.count("**") % 2:
        yield stop("rule-wording", place, "the stars around what is bold do not pair", found=text)
    for name in re.findall(r"\{(.*?)\}", text):
        if name not in FIELDS:
            hint = did_you_mean(name, list(FIELDS))
            yield stop(
                "rule-wording", place, "there is no such field", found=f"{{{name}}}", hint=hint
            )
