"""The files of rules, read and checked: every fault at once, each with its file and line."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from labeler.disclosures.rules import MarketFile, Rule
from labeler.disclosures.statements import FIELDS
from labeler.findings import Finding, LabelerError, Place, did_you_mean, stop
from labeler.tomlfile import RuleIds, TomlFile, read_toml, validate

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
    sources: dict[str, TomlFile] = {}
    for name, path in paths.items():
        if name in NOT_MARKETS:
            continue
        try:
            source = read_toml(path, "rules-unread")
            file, found = validate(MarketFile, source, rules=_RULES)
        except LabelerError as error:
            faults += error.findings
            continue
        faults += found
        if file is not None:
            files[file.market] = file
            sources[file.market] = source
    faults += [fault for market in files for fault in _among(market, files, sources[market])]
    if not faults and HOUSE not in files:
        faults.append(stop("rules-unread", Place(), "no file of rules holds everywhere"))
    if faults:
        raise LabelerError(faults)
    return RuleBook(files)


_RULES = RuleIds(missing="rule-value", unknown="rule-key", value="rule-value")


def _among(market: str, files: dict[str, MarketFile], source: TomlFile) -> Iterator[Finding]:
    """Yield what is wrong with a file that reads well by itself."""
    path = Path(source.name)
    known = Counter(rule.id for file in files.values() for rule in file.rule)
    stem = "house" if market == HOUSE else market.lower()
    if path.stem != stem:
        yield stop("rule-file", Place(str(path)), "the file's name", found=path.stem, expected=stem)
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
