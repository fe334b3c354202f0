"""What ships with the program, for the maker to read and to begin with.

References are made from the data that the program works by, so never out of date: the catalogue's
keys from the schema, sheets and layouts from their files, the maker's own among them, rules and
findings from their registries. Each loads only what it reads by. A starter folder is a catalogue
to fill in.
"""

from __future__ import annotations

import datetime as dt
import shutil
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from labeler import files
from labeler.findings import Place, refusal

TOPICS = {
    "catalog": "Every key of catalog.toml: what it is for, its kind, an example.",
    "sheets": "The sheets that labels and cards are printed on, by their geometry.",
    "layouts": "The layouts of labels and cards, and the sizes they are made for.",
    "rules": "Every rule that labels are held against, with its source.",
    "findings": "What the identifier at the end of a message means.",
}
"""Every topic of ``labeler help`` and what it holds."""


def reference(topic: str, folder: Path) -> Iterator[str]:
    """Yield the lines of a topic.

    Args:
        topic: one of TOPICS.
        folder: the catalog folder, whose own sheets and layouts are listed too.

    Raises:
        LabelerError: if a file of the maker's own can't be read.
    """
    if topic == "catalog":
        from labeler.catalog.structure import reference as keys

        return iter(keys())
    if topic in ("sheets", "layouts"):
        from labeler.app import layouts

        shown = layouts.shown_sheets if topic == "sheets" else layouts.shown_layouts
        return ("\n".join(each.lines()) for each in shown(folder))
    if topic == "rules":
        return _rules()
    return (f"{rule}\n    {meaning}" for rule, meaning in finding_meanings().items())


def _rules() -> Iterator[str]:
    for rule in every_rule():
        where = f"{rule.kind} ({rule.market})" if rule.market else rule.kind
        yield f"{rule.rule}  {where}, {rule.grade}\n    {rule.about}\n    {rule.source}"


def finding_meanings() -> dict[str, str]:
    """Return what each identifier of a finding means, in the order of the alphabet.

    The rules of the places of sale and of the finished page are not among them: they stand with
    their sources under the topic rules.
    """
    registry = Path(__file__).parents[1] / "findings.toml"
    return dict(sorted(tomllib.loads(registry.read_text("utf-8")).items()))


@dataclass(frozen=True, slots=True)
class ListedRule:
    """A rule that anything here is held against. Empty is what is not so or not known.

    Attributes:
        kind: what it is about: a market by its name, the house, the form of a declaration.
        market: the market's ISO 3166 code, or nothing for what holds everywhere.
        rule: its identifier.
        about: what it asks.
        grade: how grave it is.
        source: on whose word.
        confidence: how far that was read.
        seen: where it was looked up.
        read: when.
        doubt: what is not sure about it.
        begins: the first day on which it holds.
        ends: the first day on which it no longer does.
    """

    kind: str
    market: str
    rule: str
    about: str
    grade: str
    source: str
    confidence: str
    seen: str = ""
    read: str = ""
    doubt: str = ""
    begins: str = ""
    ends: str = ""

    def holds_on(self, day: dt.date) -> bool:
        """Tell whether the rule is in force on ``day``."""
        date = day.isoformat()
        return (not self.begins or self.begins <= date) and (not self.ends or date < self.ends)

    def as_json(self) -> dict[str, str]:
        """Return plain JSON values."""
        return asdict(self)


def every_rule(day: dt.date | None = None) -> tuple[ListedRule, ...]:
    """Return all rules, or those in force on a day: the markets', of form, of the finished page."""
    return tuple(rule for rule in _every_rule() if day is None or rule.holds_on(day))


def _every_rule() -> Iterator[ListedRule]:
    from labeler.checker import rulebook
    from labeler.disclosures import market_rules, rules

    for file, rule in market_rules.shipped().rules():
        market = "" if file.market == market_rules.HOUSE else file.market
        begins, ends = _iso(rule.starts), _iso(rule.ends)
        yield ListedRule(file.name, market, **rule.as_json(), begins=begins, ends=ends)
    for form in rules.rules().values():
        yield ListedRule("Form of declarations", "", **form.as_json())
    for page in rulebook.rules().values():
        yield ListedRule(
            "The finished page", "", page.id, page.about, page.grade.value, page.source,
            page.standing, page.seen or "", _iso(page.read),
        )  # fmt: skip


def _iso(day: dt.date | None) -> str:
    return day.isoformat() if day else ""


def start_catalog(folder: Path) -> tuple[Path, ...]:
    """Make ``folder`` with a small catalog that reads without fault; return its files.

    Raises:
        LabelerError: if something is there already, or the folder can't be made.
    """
    place = Place(file=str(folder))
    # what a computer or the desk keeps there, hidden, is in nobody's way
    if folder.exists() and (
        not folder.is_dir() or any(not path.name.startswith(".") for path in folder.iterdir())
    ):
        raise refusal(
            "folder-taken",
            place,
            "there is something here already, and nothing of it will be touched",
            hint="Name a folder that does not exist yet.",
        )
    try:
        folder.absolute().parent.mkdir(parents=True, exist_ok=True)
        folder.resolve().parent.stat()  # which a link to nowhere has not
        with files.new_folder(folder) as draft:  # so that it appears whole or not at all
            shutil.copytree(files.shipped("layouts") / "starter", draft, dirs_exist_ok=True)
    except OSError as error:
        raise refusal(
            "folder-unmade", place, f"this folder can't be made: {error.strerror or error}"
        ) from error
    return tuple(sorted(path for path in folder.rglob("*") if path.is_file()))
