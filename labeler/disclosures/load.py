"""The files of rules, read when a market is asked for; or all at once, with every fault in them."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from labeler.disclosures.rules import MarketFile, Rule
from labeler.disclosures.statements import FIELDS
from labeler.findings import Finding, LabelerError, Place, did_you_mean, stop
from labeler.tomlfile import RuleIds, TomlFile, read_toml, validate

HOUSE = "*"
"""The market of the file that holds everywhere."""

NOT_MARKETS = ("form.toml", "places.toml")
"""Data that lies in the same folder and is read elsewhere."""


class RuleBook:
    """The rules of every market. A market's file is read when it is first asked for."""

    def __init__(self, paths: Mapping[str, Path]) -> None:
        self.files: Mapping[str, MarketFile] = _MarketFiles(paths)
        self._paths = paths
        self._reaching: dict[tuple[str, ...], tuple[tuple[Rule, tuple[str, ...]], ...]] = {}

    @cached_property
    def _heads(self) -> dict[str, dict[str, Any]]:
        """What stands above the rules of each file: which markets are wider than which."""
        return {market: _head(path) for market, path in self._paths.items()}

    def rules_reaching(self, markets: Sequence[str]) -> tuple[tuple[Rule, tuple[str, ...]], ...]:
        """Return every rule that may hold in any of ``markets``, with those it may hold in.

        The widest rules come first.

        Raises:
            LabelerError: with every fault of a file that is read.
        """
        key = tuple(markets)
        if key not in self._reaching:
            found: dict[str, tuple[Rule, list[str]]] = {}
            for market in key:
                for file in self.reaching(market):
                    for rule in file.rule:
                        found.setdefault(rule.id, (rule, []))[1].append(market)
            self._reaching[key] = tuple((rule, tuple(where)) for rule, where in found.values())
        return self._reaching[key]

    def reaching(self, market: str) -> tuple[MarketFile, ...]:
        """Return the files whose rules hold in ``market``, the widest first.

        ``US-CA`` has its own, those of the US and those of the house; ``DE`` has the EU's.
        """
        return tuple(self.files[code] for code in (HOUSE, *reversed(self._reaching_codes(market))))

    def _reaching_codes(self, market: str) -> list[str]:
        """Return the markets whose files hold in ``market``, its own first."""
        found: list[str] = []
        waiting = [market]
        while waiting:
            code = waiting.pop()
            if code in found:
                continue
            head = self._heads.get(code)
            if head is not None:
                found.append(code)
            wider = list(head.get("inherits", ())) if head else []
            wider += [code.partition("-")[0]] if "-" in code else []
            wider += [other for other, its in self._heads.items() if code in its.get("covers", ())]
            waiting += reversed(wider)
        return found

    def knows(self, market: str) -> bool:
        """Tell whether any rule but the house's reaches ``market``."""
        return bool(self._reaching_codes(market))

    def rules(self) -> Iterator[tuple[MarketFile, Rule]]:
        """Yield every rule with the file that it stands in, in the files' order."""
        for file in self.files.values():
            for rule in file.rule:
                yield file, rule

    def rule(self, rule_id: str) -> Rule:
        """Return the rule called ``rule_id``, which begins with its file's name.

        Raises:
            KeyError: if there is none.
        """
        for market in self._paths:
            if rule_id.startswith(f"{_stem(market)}-"):
                for rule in self.files[market].rule:
                    if rule.id == rule_id:
                        return rule
        raise KeyError(rule_id)


class _MarketFiles(Mapping[str, MarketFile]):
    """Files of rules by market, each read when it is first asked for."""

    def __init__(self, paths: Mapping[str, Path]) -> None:
        self._paths = paths
        self._read: dict[str, MarketFile] = {}

    def __getitem__(self, market: str) -> MarketFile:
        if market not in self._read:
            _, file, faults = _read(self._paths[market])
            if file is None:
                raise LabelerError(faults)
            self._read[market] = file
        return self._read[market]

    def __iter__(self) -> Iterator[str]:
        return iter(self._paths)

    def __len__(self) -> int:
        return len(self._paths)


def _stem(market: str) -> str:
    return "house" if market == HOUSE else market.lower()


def _paths(*folders: Path) -> dict[str, Path]:
    """Return the files of rules by market; a later folder's file takes an earlier's place."""
    names = {path.name: path for folder in folders for path in sorted(folder.glob("*.toml"))}
    return {
        HOUSE if path.stem == "house" else path.stem.upper(): path
        for name, path in names.items()
        if name not in NOT_MARKETS
    }


@cache
def shipped() -> RuleBook:
    """Return the rules that ship with the program."""
    return open_rules(Path(__file__).parent)


def open_rules(*folders: Path) -> RuleBook:
    """Return the rules in ``folders``, of which only what is asked for is read.

    That the files agree with each other is not looked at: `load` does that.
    """
    return RuleBook(_paths(*folders))


def load(*folders: Path) -> RuleBook:
    """Read every market's file in ``folders``; a later folder's file takes an earlier's place.

    Raises:
        LabelerError: with every fault in every file.
    """
    paths = _paths(*folders)
    faults: list[Finding] = []
    files: dict[str, MarketFile] = {}
    sources: dict[str, TomlFile] = {}
    for market, path in paths.items():
        try:
            source, file, found = _read(path)
        except LabelerError as error:
            faults += error.findings
            continue
        faults += found
        if file is not None and file.market != market:
            place = Place(str(path), line=source.line(("market",)), key="market")
            meant = _stem(file.market)
            faults.append(
                stop("rule-file", place, "the file's name", found=path.stem, expected=meant)
            )
        elif file is not None:
            files[market], sources[market] = file, source
    faults += [fault for market in files for fault in _among(market, files, sources[market])]
    if not faults and HOUSE not in files:
        faults.append(stop("rules-unread", Place(), "no file of rules holds everywhere"))
    if faults:
        raise LabelerError(faults)
    return RuleBook(paths)


def _head(path: Path) -> dict[str, Any]:
    """Return what stands in a file above its rules.

    Raises:
        LabelerError: if it can't be read or is no TOML.
    """
    try:
        return tomllib.loads(path.read_text(encoding="utf-8").partition("[[rule]]")[0])
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return read_toml(path, "rules-unread").data  # which says what is wrong, and where


_RULES = RuleIds(missing="rule-value", unknown="rule-key", value="rule-value")


def _read(path: Path) -> tuple[TomlFile, MarketFile | None, list[Finding]]:
    """Return a file and its rules, or what is wrong with them.

    Raises:
        LabelerError: if it can't be read or is no TOML.
    """
    source = read_toml(path, "rules-unread")
    file, faults = validate(MarketFile, source, rules=_RULES)
    return source, file, list(faults)


def _among(market: str, files: dict[str, MarketFile], source: TomlFile) -> Iterator[Finding]:
    """Yield what is wrong with a file that reads well by itself."""
    path = Path(source.name)
    known = Counter(rule.id for file in files.values() for rule in file.rule)
    stem = _stem(market)
    for number, rule in enumerate(files[market].rule):
        place = Place(str(path), line=source.line(("rule", number, "id")), key=rule.id)
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
